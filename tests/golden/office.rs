//! A spreadsheet that sums for itself comes to our totals, to the last digit.
//!
//! LibreOffice opens the workbooks that `rollup`, `price`, `compare` and `orders` write, with every result of a formula struck out, computes all of them
//! again and saves. Where it is not installed, this says so and passes.

use std::fs;
use std::io::{self, Cursor, Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use calamine::{Data, Reader, Xlsx};
use rust_decimal::Decimal;

use cutbill::render::report::{Cell, Column, Report, Showing, Table};
use cutbill::render::{shown, xlsx};

use crate::run::{Ran, run};

/// What makes LibreOffice compute every formula on opening, whatever results the file holds.
const ALWAYS: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry">
<item oor:path="/org.openoffice.Office.Calc/Formula/Load">
<prop oor:name="OOXMLRecalcMode" oor:op="fuse"><value>0</value></prop>
</item>
</oor:items>
"#;

/// A total: where it stands, its formula, and what it comes to.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Total {
    sheet: usize,
    row: u32,
    column: u32,
    formula: String,
    amount: Decimal,
}

#[test]
fn libreoffice_comes_to_the_same_totals_to_the_last_digit() {
    let version = Command::new("soffice").arg("--version").stdin(Stdio::null()).output();
    if version.is_err() {
        // Written past the test runner, which keeps back what a passing test prints.
        writeln!(io::stderr(), "skipped: LibreOffice (`soffice`) is not installed").unwrap();
        return;
    }
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("office");
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(folder.join("profile/user")).unwrap();
    save(&folder.join("profile/user/registrymodifications.xcu"), ALWAYS.as_bytes());
    let groups = made(&folder, "groups.xlsx", &["rollup", "--lot", "10"]);
    let items = made(&folder, "items.xlsx", &["rollup", "--lot", "1", "--by", "assembly,item"]);
    // Cost, weight and purchased weight; of a lot also what each unit costs and weighs.
    let known = [totals(&groups), totals(&items)];
    assert_eq!(known.clone().map(|totals| totals.len()), [5, 3]);
    save(&folder.join("groups.xlsx"), &rewritten(&groups, |_, xml| without_results(xml)));
    save(&folder.join("items.xlsx"), &rewritten(&items, |_, xml| without_results(xml)));
    // One figure is off by a unit of its last place, and the results are left. This shows that sums are computed again,
    // and that the smallest difference is seen.
    let off = &known[1][0];
    let altered = rewritten(&items, |sheet, xml| {
        if sheet == off.sheet { with_first_raised(xml, &off.formula) } else { xml.to_owned() }
    });
    save(&folder.join("altered.xlsx"), &altered);

    // What the accountant and the buyer are handed.
    let sheets: [(&str, &[&str]); 4] = [
        ("price.xlsx", &["price", "--plan", "Carex 24"]),
        ("bridge.xlsx", &["compare", "--plan", "Carex 24", "--option", "winter_pack"]),
        ("orders.xlsx", &["orders"]),
        ("report.xlsx", &["report", "--plan", "Sedge 18"]),
    ];
    let handed: Vec<Vec<Total>> = sheets
        .iter()
        .map(|(name, arguments)| {
            let bytes = made(&folder, name, arguments);
            save(&folder.join(name), &rewritten(&bytes, |_, xml| without_results(xml)));
            totals(&bytes)
        })
        .collect();
    for (totals, (name, _)) in handed.iter().zip(&sheets) {
        assert!(totals.len() > 1, "{name}: {totals:?}");
    }

    let hard = xlsx::xlsx(&hard()).unwrap();
    save(&folder.join("hard.xlsx"), &rewritten(&hard, |_, xml| without_results(xml)));

    let names = [
        "groups.xlsx",
        "items.xlsx",
        "altered.xlsx",
        "hard.xlsx",
        sheets[0].0,
        sheets[1].0,
        sheets[2].0,
        sheets[3].0,
    ];
    let computed = computed(&folder, &names);
    assert_eq!(computed[0], known[0]);
    assert_eq!(computed[1], known[1]);
    let mut expected = known[1].clone();
    expected[0].amount += Decimal::new(1, 4);
    assert_eq!(computed[2], expected);
    assert_eq!(totals(&hard).len(), PLACES.len());
    assert_eq!(computed[3], totals(&hard));
    assert_eq!(computed[4..], handed);
    let saved = load(&folder.join("saved/hard.xlsx"));
    let mut book: Xlsx<_> = calamine::open_workbook_from_rs(Cursor::new(saved)).unwrap();
    let cells = book.worksheet_range("Text").unwrap();
    let texts: Vec<String> = cells.rows().skip(4).map(|row| row[0].to_string()).collect();
    assert_eq!(texts, TEXTS);
}

/// Decimal places of sums that are nearly as hard as a formula may be.
const PLACES: [u32; 9] = [0, 1, 2, 3, 4, 5, 6, 7, 8];

/// Texts that a spreadsheet or the library might take for something else.
const TEXTS: [&str; 10] = [
    "=1+1",
    "+A1",
    "-B2",
    "@SUM(A1)",
    "{=1}",
    "<r><t>x</t></r>",
    "_x0041_",
    "00123",
    " a & <b> ",
    "3/8",
];

/// Returns a report of 500 rows whose figures, in units of their last place, are as large as the rule of sums allows, and
/// of both signs.
fn hard() -> Report {
    let cell = |plain: String| Cell { shown: plain.clone(), plain };
    let column = |title: String, is_number| Column {
        title,
        is_number,
        showing: Showing::Always,
        is_summed: is_number,
    };
    let largest = (1 << 51) / 504 / 500;
    // A linear congruential generator, with the constants of Donald Knuth's MMIX.
    let mut state = 1_u64;
    let mut units = || {
        state =
            state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let size = i128::from(state >> 16) % largest;
        if state >> 63 == 0 { size } else { -size }
    };
    let amounts: Vec<[i128; PLACES.len()]> = (0..500).map(|_| PLACES.map(|_| units())).collect();
    let row = |amounts: &[i128]| -> Vec<Cell> {
        amounts
            .iter()
            .zip(PLACES)
            .map(|(amount, places)| cell(shown::plain(*amount, places)))
            .collect()
    };
    let sums: Vec<i128> =
        (0..PLACES.len()).map(|at| amounts.iter().map(|row| row[at]).sum()).collect();
    let figures = Table {
        title: "Figures".to_owned(),
        columns: PLACES.iter().map(|places| column(format!("{places} places"), true)).collect(),
        rows: amounts.iter().map(|amounts| row(amounts)).collect(),
        totals: vec![row(&sums)],
        below: Vec::new(),
    };
    let texts = Table {
        title: "Text".to_owned(),
        columns: vec![column("text".to_owned(), false)],
        rows: TEXTS.iter().map(|text| vec![cell((*text).to_owned())]).collect(),
        ..Table::default()
    };
    Report { tables: vec![figures, texts], ..Report::default() }
}

/// Returns the workbook that `rollup` of the sample writes.
fn made(folder: &Path, name: &str, arguments: &[&str]) -> Vec<u8> {
    let file = folder.join(name);
    let (verb, rest) = arguments.split_first().unwrap();
    let all = [&[*verb, "samples/fenmark", "--effort", "1"], rest].concat();
    let Ran { code, err, .. } = run(&[&all[..], &["-o", file.to_str().unwrap()]].concat());
    assert_eq!(code, 0, "{err}");
    load(&file)
}

/// Lets LibreOffice open workbooks and save them elsewhere; returns the totals of what it saved.
fn computed(folder: &Path, names: &[&str]) -> Vec<Vec<Total>> {
    let saved = folder.join("saved");
    let profile = folder.join("profile");
    let output = Command::new("soffice")
        .arg(format!("-env:UserInstallation=file://{}", profile.to_str().unwrap()))
        .args(["--headless", "--convert-to", "xlsx", "--outdir"])
        .arg(&saved)
        .args(names.iter().map(|name| folder.join(name)).collect::<Vec<PathBuf>>())
        .stdin(Stdio::null())
        .output()
        .unwrap();
    assert!(output.status.success(), "{output:?}");
    names.iter().map(|name| totals(&load(&saved.join(name)))).collect()
}

/// Returns all formulas of a workbook with their results.
fn totals(bytes: &[u8]) -> Vec<Total> {
    let mut book: Xlsx<_> = calamine::open_workbook_from_rs(Cursor::new(bytes)).unwrap();
    let mut totals = Vec::new();
    for (sheet, name) in book.sheet_names().iter().enumerate() {
        let formulas = book.worksheet_formula(name).unwrap();
        let cells = book.worksheet_range(name).unwrap();
        let Some((top, left)) = formulas.start() else { continue };
        for (row, column, formula) in formulas.used_cells() {
            let (row, column) =
                (top + u32::try_from(row).unwrap(), left + u32::try_from(column).unwrap());
            let Some(Data::Float(amount)) = cells.get_value((row, column)) else {
                panic!("{name}: {formula} has no number");
            };
            // The shortest text of a number is what a spreadsheet shows of it.
            let amount = amount.to_string().parse().unwrap();
            totals.push(Total { sheet, row, column, formula: formula.clone(), amount });
        }
    }
    totals
}

/// Rewrites each sheet of a workbook, given with its position.
fn rewritten(bytes: &[u8], rewrite: impl Fn(usize, &str) -> String) -> Vec<u8> {
    let mut from = zip::ZipArchive::new(Cursor::new(bytes)).unwrap();
    let mut to = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for index in 0..from.len() {
        let mut part = from.by_index(index).unwrap();
        let name = part.name().unwrap().into_owned();
        let mut text = String::new();
        part.read_to_string(&mut text).unwrap();
        let number = name.strip_prefix("xl/worksheets/sheet").and_then(|n| n.strip_suffix(".xml"));
        if let Some(number) = number {
            text = rewrite(number.parse::<usize>().unwrap() - 1, &text);
        }
        to.start_file(name, zip::write::SimpleFileOptions::default()).unwrap();
        to.write_all(text.as_bytes()).unwrap();
    }
    to.finish().unwrap().into_inner()
}

/// Makes the result of every formula 0.
fn without_results(xml: &str) -> String {
    let mut parts = xml.split("</f><v>");
    let mut out = parts.next().unwrap().to_owned();
    for part in parts {
        let (_, rest) = part.split_once("</v>").unwrap();
        out.push_str("</f><v>0</v>");
        out.push_str(rest);
    }
    out
}

/// Adds 0.0001 to the first figure that a formula sums.
fn with_first_raised(xml: &str, formula: &str) -> String {
    let first = formula.strip_prefix("ROUND(SUM(").unwrap().split_once(':').unwrap().0;
    let (before, cell) = xml.split_once(&format!("<c r=\"{first}\"")).unwrap();
    let (style, rest) = cell.split_once("<v>").unwrap();
    let (figure, after) = rest.split_once("</v>").unwrap();
    let raised = figure.parse::<Decimal>().unwrap() + Decimal::new(1, 4);
    format!("{before}<c r=\"{first}\"{style}<v>{raised}</v>{after}")
}

#[expect(clippy::disallowed_methods, reason = "a test reads its own files")]
fn load(file: &Path) -> Vec<u8> {
    fs::read(file).unwrap()
}

#[expect(clippy::disallowed_methods, reason = "a test makes its own files")]
fn save(file: &Path, bytes: &[u8]) {
    fs::write(file, bytes).unwrap();
}
