//! The same book in every form gives the same answers, byte for byte.
//!
//! Places name the file they are in, so those of a workbook are first written as those of the folder: for
//! `fenmark.xlsx[bill]:12` it is `bill.csv:12`. JSON holds the findings too, and a folder has one of its own: the file
//! there that is no table.

use std::fs;
use std::path::Path;

use crate::run::{Ran, run};

/// Each form with the name its places begin with.
const FORMS: [(&str, &str); 5] = [
    ("samples/fenmark.xlsx", "fenmark.xlsx"),
    ("tests/fixtures/workbooks/fenmark.xlsm", "fenmark.xlsm"),
    ("tests/fixtures/workbooks/fenmark.xlsb", "fenmark.xlsb"),
    ("tests/fixtures/workbooks/fenmark.xls", "fenmark.xls"),
    ("tests/fixtures/workbooks/fenmark.ods", "fenmark.ods"),
];

const ASKED: [&[&str]; 14] = [
    &[
        "compare",
        "--plan",
        "Sedge 18",
        "--lot",
        "1",
        "--effort",
        "1",
        "--from-date",
        "2027-03-01",
        "--to-date",
        "2027-06-01",
        "--format",
        "json",
    ],
    &["check"],
    &["check", "--format", "csv"],
    &["check", "--format", "json"],
    &["explode", "--plan", "Sedge 18", "--flat"],
    &["explode", "--plan", "Sedge 18", "--format", "csv"],
    &["explode", "--format", "json"],
    &["nest", "--plan", "Sedge 18", "--lot", "1", "--effort", "1"],
    &["nest", "--plan", "Sedge 18", "--lot", "1", "--effort", "1", "--format", "json"],
    &["rollup", "--plan", "Sedge 18", "--lot", "1", "--effort", "1"],
    &[
        "rollup",
        "--plan",
        "Sedge 18",
        "--lot",
        "1",
        "--effort",
        "1",
        "--by",
        "series,station",
        "--format",
        "csv",
    ],
    &["rollup", "--plan", "Sedge 18", "--lot", "1", "--effort", "1", "--format", "json"],
    &["price", "--plan", "Sedge 18", "--lot", "1", "--effort", "1", "--format", "json"],
    &["price", "--plan", "Sedge 18", "--lot", "1", "--effort", "1", "--cases", "--sensitivity"],
];

/// Returns what a book answers, its places written as those of a folder.
fn answer(book: &str, places: &str, arguments: &[&str]) -> String {
    let (verb, rest) = arguments.split_first().unwrap();
    let all = [&[*verb, book], rest].concat();
    let Ran { code, out, err } = run(&all);
    assert_eq!(code, 0, "{}\n{err}", all.join(" "));
    let mut text = String::new();
    let mut rest = out.as_str();
    while let Some((before, after)) = rest.split_once(&format!("{places}[")) {
        let (table, after) = after.split_once(']').unwrap();
        text.push_str(before);
        text.push_str(table);
        text.push_str(".csv");
        rest = after;
    }
    text.push_str(rest);
    without_folder_note(&text)
}

/// Takes out of JSON the one finding that only a folder has.
fn without_folder_note(text: &str) -> String {
    let Ok(mut json) = serde_json::from_str::<serde_json::Value>(text) else {
        return text.to_owned();
    };
    if let Some(findings) = json.get_mut("findings").and_then(|findings| findings.as_array_mut()) {
        findings.retain(|finding| finding["place"] != "samples/fenmark");
    }
    serde_json::to_string_pretty(&json).unwrap()
}

#[test]
fn every_form_of_the_book_gives_the_same_answers() {
    for arguments in ASKED {
        let expected = answer("samples/fenmark", "fenmark", arguments);
        assert!(expected.len() > 100, "{}", arguments.join(" "));
        for (book, places) in FORMS {
            assert!(
                answer(book, places, arguments) == expected,
                "`{}` differs for {book}",
                arguments.join(" ")
            );
        }
    }
}

#[test]
#[expect(clippy::disallowed_methods, reason = "a test reads the tree it tests")]
fn the_workbook_has_number_cells_date_cells_and_percent_cells() {
    let bytes = fs::File::open(Path::new(env!("CARGO_MANIFEST_DIR")).join(FORMS[0].0)).unwrap();
    let mut archive = zip::ZipArchive::new(bytes).unwrap();
    let mut styles = String::new();
    std::io::Read::read_to_string(&mut archive.by_name("xl/styles.xml").unwrap(), &mut styles)
        .unwrap();
    for code in ["yyyy-mm-dd", "0.###%"] {
        assert!(styles.contains(&format!("formatCode=\"{code}\"")), "{styles}");
    }
}
