use std::io::{Cursor, Read};

use calamine::{Data, Reader, Xlsx};

use super::*;
use crate::quantity::Length;
use crate::render::report::{Cell, Column, DrawnKind, DrawnPart, Showing};

fn cell(text: &str) -> Cell {
    Cell { shown: format!("shown {text}"), plain: text.to_owned() }
}

/// Makes a table: titles that end in `#` are of figures, in `+` of summed ones.
fn table(title: &str, titles: &[&str], rows: &[&[&str]], totals: &[&[&str]]) -> Table {
    let column = |title: &&str| Column {
        title: title.trim_end_matches(['#', '+']).to_owned(),
        is_number: title.ends_with(['#', '+']),
        showing: Showing::IfItFits,
        is_summed: title.ends_with('+'),
    };
    let cells = |rows: &[&[&str]]| -> Vec<Vec<Cell>> {
        rows.iter().map(|row| row.iter().map(|text| cell(text)).collect()).collect()
    };
    Table {
        title: title.to_owned(),
        columns: titles.iter().map(column).collect(),
        rows: cells(rows),
        totals: cells(totals),
        below: Vec::new(),
    }
}

fn report(tables: Vec<Table>) -> Report {
    Report { heading: vec!["book revision 7".to_owned()], tables, notes: Vec::new() }
}

struct Opened(Xlsx<Cursor<Vec<u8>>>);

impl Opened {
    fn of(report: &Report) -> Opened {
        Opened(calamine::open_workbook_from_rs(Cursor::new(xlsx(report).unwrap())).unwrap())
    }

    /// Returns a cell as a text: `"text"`, a number by its shortest form, nothing if empty; a formula stands before its
    /// result.
    fn at(&mut self, sheet: &str, row: u32, column: u32) -> String {
        let value = match self.0.worksheet_range(sheet).unwrap().get_value((row, column)) {
            None | Some(Data::Empty) => String::new(),
            Some(Data::String(text)) => format!("\"{text}\""),
            Some(Data::Float(number)) => number.to_string(),
            Some(other) => panic!("{other:?}"),
        };
        match self.0.worksheet_formula(sheet).unwrap().get_value((row, column)) {
            Some(formula) if !formula.is_empty() => format!("{formula} = {value}"),
            _ => value,
        }
    }

    fn sheet(&mut self, sheet: &str) -> Vec<Vec<String>> {
        let (height, width) = self.0.worksheet_range(sheet).unwrap().end().unwrap();
        let row = |row| (0..=width).map(|column| self.at(sheet, row, column)).collect();
        (0..=height).map(row).collect()
    }
}

/// Compares a sheet from its header on.
#[track_caller]
fn check(table: Table, expected: &[&[&str]]) {
    let name = table.title.clone();
    let sheet = Opened::of(&report(vec![table])).sheet(&name);
    assert_eq!(sheet[0][0], format!("\"{name}\""));
    assert_eq!(sheet[1][0], "\"book revision 7\"");
    assert!(sheet[2].iter().all(String::is_empty));
    assert_eq!(sheet[3..], *expected);
}

/// Returns a part of the archive.
fn part(bytes: &[u8], name: &str) -> String {
    let mut archive = zip::ZipArchive::new(Cursor::new(bytes)).unwrap();
    let mut text = String::new();
    archive.by_name(name).unwrap().read_to_string(&mut text).unwrap();
    text
}

#[test]
fn figures_are_numbers_and_totals_are_live() {
    check(
        table(
            "Cost",
            &["item", "cost+", "share#", "unit+"],
            &[
                &["A", "0.10", "33.3", "1.5"],
                &["B", "0.20", "66.7", "-1"],
                &["C", "no price", "", ""],
            ],
            &[&["rounding", "", "", "0.1"], &["total", "0.30", "100.0", "0.6"]],
        ),
        &[
            &["\"item\"", "\"cost\"", "\"share\"", "\"unit\""],
            &["\"A\"", "0.1", "33.3", "1.5"],
            &["\"B\"", "0.2", "66.7", "-1"],
            &["\"C\"", "\"no price\"", "", ""],
            &["\"rounding\"", "", "", "0.1"],
            &["\"total\"", "ROUND(SUM(B5:B8),2) = 0.3", "100", "ROUND(SUM(D5:D8),1) = 0.6"],
        ],
    );
}

#[test]
fn no_formula_stands_where_it_would_not_come_to_the_total() {
    let table = table(
        "Cost",
        &["large+", "wrong+", "fine+", "more places+"],
        &[&["1234567890123456.5", "1", "2", "0.25"], &["-1234567890123456.5", "1", "3", "0.25"]],
        &[&["0.0", "3", "5", "0.5"]],
    );
    let expected: [&[&str]; 4] = [
        &["\"large\"", "\"wrong\"", "\"fine\"", "\"more places\""],
        &["\"1234567890123456.5\"", "1", "2", "0.25"],
        &["\"-1234567890123456.5\"", "1", "3", "0.25"],
        &["0", "3", "ROUND(SUM(C5:C6),0) = 5", "0.5"],
    ];
    check(table.clone(), &expected);
    let notes = Opened::of(&report(vec![table])).sheet("Notes").concat();
    let why = "the total is a figure, not a formula, since a spreadsheet would not add it up to the last digit";
    assert_eq!(
        notes,
        [
            "\"In sheet `Cost`\"".to_owned(),
            "\"column `large`: 2 figures are text, having more than the 15 digits a spreadsheet keeps\"".to_owned(),
            format!("\"column `large`: {why}\""),
            format!("\"column `wrong`: {why}\""),
            format!("\"column `more places`: {why}\""),
        ]
    );
}

/// Texts that a spreadsheet, XML or the library might take for something else.
const HOSTILE: [&str; 16] = [
    "=1+1",
    "+A1",
    "-B2",
    "@SUM(A1)",
    "{=1}",
    "<r><t>x</t></r>",
    "<r>_x0041_ & \u{1}</r>",
    "a & b < c > d \"e\" 'f'",
    "\u{0}\u{1}\u{1b}[31m",
    "_x0041_",
    "line one\nline two\ttab",
    " spaces ",
    "00123",
    "-12.5",
    "膠合板 \u{FFFF} 𝔸",
    "http://example.com/",
];

#[test]
fn text_stays_text_to_the_last_sign() {
    for (number, text) in HOSTILE.iter().enumerate() {
        let mut table = table(text, &[text, "cost+"], &[&[text, text]], &[&[text, "5"]]);
        table.below.push((*text).to_owned());
        let mut report = report(vec![table]);
        report.heading.push((*text).to_owned());
        report.notes.push((*text).to_owned());
        let mut opened = Opened::of(&report);
        let name = opened.0.sheet_names()[1].clone();
        let expected = format!("\"{text}\"");
        let figure = if *text == "-12.5" { "-12.5" } else { &expected };
        assert_eq!(opened.at(&name, 3, 0), expected, "{number}");
        assert_eq!(opened.at(&name, 4, 0), expected, "{number}");
        assert_eq!(opened.at(&name, 4, 1), figure, "{number}");
        assert_eq!(opened.at(&name, 5, 0), expected, "{number}");
        assert_eq!(opened.at(&name, 5, 1), "5", "{number}");
        assert_eq!(opened.at("About", 1, 0), expected, "{number}");
        let notes = opened.sheet("Notes").concat();
        assert_eq!(
            notes.iter().filter(|line| **line == expected).count(),
            3,
            "{number}: {notes:?}"
        );
        for sheet in opened.0.sheet_names() {
            let formulas = opened.0.worksheet_formula(&sheet).unwrap();
            assert_eq!(formulas.used_cells().count(), 0, "{number}: {sheet}");
        }
    }
}

#[test]
fn a_text_that_might_become_a_formula_is_guarded_against_edits() {
    let guarded = |text: &str| {
        let bytes = xlsx(&report(vec![table("T", &["item"], &[&[text]], &[])])).unwrap();
        part(&bytes, "xl/styles.xml").contains("quotePrefix=\"1\"")
    };
    assert!(guarded("=1+1") && guarded("+1") && guarded("-a"));
    assert!(!guarded("-") && !guarded("-1") && !guarded("a"));
}

#[test]
fn a_text_longer_than_a_cell_is_cut_and_that_is_said() {
    for (sign, kept) in [("x", 32_766), ("é", 32_766), ("𝔸", 16_383)] {
        let long = sign.repeat(40_000);
        let report = report(vec![table("T", &["item"], &[&[&long], &["short"]], &[])]);
        let mut opened = Opened::of(&report);
        assert_eq!(opened.at("T", 4, 0), format!("\"{}…\"", sign.repeat(kept)));
        assert_eq!(
            opened.at("Notes", 1, 0),
            "\"column `item`: 1 text is cut, being longer than a cell holds\""
        );
        let whole = "y".repeat(32_767);
        let mut opened = Opened::of(&self::report(vec![table("T", &["item"], &[&[&whole]], &[])]));
        assert_eq!(opened.at("T", 4, 0), format!("\"{whole}\""));
        assert_eq!(opened.0.sheet_names(), ["About", "T"]);
    }
}

#[test]
fn the_front_lists_the_sheets_and_the_notes_come_last() {
    let long = "Sedge 18: PLY-19-32-TG (floor plywood), kerf 1/8 in";
    let mut why = table("why A", &[], &[], &[]);
    why.below.push("  one path".to_owned());
    let mut report = report(vec![
        table("Plans", &["plan"], &[&["A"], &["B"]], &[]),
        table("plans", &["plan", "cost+"], &[], &[&["total", "0"]]),
        table(long, &["piece"], &[&["C"]], &[]),
        why,
    ]);
    report.notes.push("a caution".to_owned());
    let mut opened = Opened::of(&report);
    assert_eq!(
        opened.0.sheet_names(),
        ["About", "Plans", "plans 2", "Sedge 18 PLY-19-32-TG", "Notes"]
    );
    let quoted = |text: &str| format!("\"{text}\"");
    assert_eq!(
        opened.sheet("About"),
        [
            [quoted("book revision 7"), String::new(), String::new()],
            [String::new(), String::new(), String::new()],
            [quoted("sheet"), quoted("holds"), quoted("rows")],
            [quoted("Plans"), quoted("Plans"), "2".to_owned()],
            [quoted("plans 2"), quoted("plans"), "0".to_owned()],
            [quoted("Sedge 18 PLY-19-32-TG"), quoted(long), "1".to_owned()],
            [quoted("Notes"), quoted("cautions, and what stands below the tables"), String::new()],
        ]
    );
    // Without rows there is nothing to sum.
    assert_eq!(opened.at("plans 2", 4, 1), "0");
    let notes = ["Notes", "a caution", "", "why A", "  one path"];
    let notes = notes.map(|text| if text.is_empty() { String::new() } else { quoted(text) });
    assert_eq!(opened.sheet("Notes").concat(), notes);
    let links: Vec<String> = opened
        .0
        .hyperlinks_by_sheet_name("About")
        .unwrap()
        .into_iter()
        .filter_map(|link| link.location)
        .collect();
    assert_eq!(links, ["'Plans'!A1", "'plans 2'!A1", "'Sedge 18 PLY-19-32-TG'!A1", "'Notes'!A1"]);
}

#[test]
fn a_report_without_tables_and_notes_is_a_front() {
    assert_eq!(Opened::of(&Report::default()).0.sheet_names(), ["About"]);
}

#[test]
fn a_sheet_is_set_up_to_be_read_filtered_and_printed() {
    let long = "w".repeat(59);
    let rows: [&[&str]; 2] = [&["A", "1.5", &long], &["B", "1234.25", &long]];
    let totals: [&[&str]; 1] = [&["total", "1235.75", ""]];
    let wide = table("Wide", &["item", "cost USD+", "words"], &rows, &totals);
    let narrow = table("Narrow", &["item", "count#"], &[&["A", "1"]], &[]);
    let mut both = wide.clone();
    both.columns.push(both.columns[2].clone());
    both.rows.iter_mut().for_each(|row| row.push(cell(&long)));
    let bytes = xlsx(&report(vec![both, narrow])).unwrap();
    let wide = part(&bytes, "xl/worksheets/sheet2.xml");
    for piece in [
        "<pane ySplit=\"4\" topLeftCell=\"A5\" activePane=\"bottomLeft\" state=\"frozen\"/>",
        "<autoFilter ref=\"A4:D6\"/>",
        "<pageSetup paperSize=\"1\" fitToHeight=\"0\" orientation=\"landscape\"",
        "<pageSetUpPr fitToPage=\"1\"/>",
        "<oddFooter>&amp;L&amp;A&amp;RPage &amp;P of &amp;N</oddFooter>",
        "<ignoredError sqref=\"A5:D6\" numberStoredAsText=\"1\"/>",
    ] {
        assert!(wide.contains(piece), "{piece} in {wide}");
    }
    let narrow = part(&bytes, "xl/worksheets/sheet3.xml");
    assert!(
        narrow.contains("<pageSetup paperSize=\"1\" fitToHeight=\"0\" orientation=\"portrait\""),
        "{narrow}"
    );
    let book = part(&bytes, "xl/workbook.xml");
    assert!(book.contains("Wide!$4:$4") && book.contains("Narrow!$4:$4"), "{book}");
    // Each figure shows its own places, and all stand on their points, to the right.
    let styles = part(&bytes, "xl/styles.xml");
    for pattern in ["#,##0.0_0_)", "#,##0.00_)", "#,##0_)"] {
        assert!(styles.contains(&format!("formatCode=\"{pattern}\"")), "{pattern} in {styles}");
    }
    assert!(styles.contains("horizontal=\"right\""), "{styles}");
}

#[test]
fn the_same_report_gives_the_same_bytes_and_no_time_of_the_clock() {
    let report = report(vec![table("T", &["item", "cost+"], &[&["A", "1"]], &[&["total", "1"]])]);
    let bytes = xlsx(&report).unwrap();
    assert_eq!(bytes, xlsx(&report).unwrap());
    let core = part(&bytes, "docProps/core.xml");
    let day = "<dcterms:created xsi:type=\"dcterms:W3CDTF\">2000-01-01T00:00:00Z</dcterms:created>\
               <dcterms:modified xsi:type=\"dcterms:W3CDTF\">2000-01-01T00:00:00Z</dcterms:modified>";
    assert!(core.contains(day), "{core}");
    let mut archive = zip::ZipArchive::new(Cursor::new(&bytes)).unwrap();
    for index in 0..archive.len() {
        let made = archive.by_index(index).unwrap().last_modified().unwrap();
        assert_eq!((made.year(), made.month(), made.day()), (1980, 1, 1));
    }
}

#[test]
fn a_table_larger_than_a_sheet_is_refused() {
    let mut tall = table("Tall", &["item"], &[], &[]);
    tall.rows = vec![vec![cell("A")]; (1 << 20) - 3];
    let error = xlsx(&report(vec![tall])).unwrap_err();
    assert_eq!(
        error.to_string(),
        "error: table `Tall` comes to 1048577 rows, and a sheet of a workbook holds 1048576\n  \
         hint: CSV has no such limit"
    );
}

#[test]
fn layouts_are_drawn_as_shapes_under_titles_that_are_text() {
    let inches = |inches: i64| Length::from_inches(inches, 1).unwrap();
    let part = |x: i64, length: i64, kind: DrawnKind| DrawnPart {
        at: [inches(x), Length::ZERO],
        size: [inches(length), inches(48)],
        label: format!("{length} x 48"),
        kind,
    };
    let drawing = |title: &str| Drawing {
        title: title.to_owned(),
        sheet: [inches(96), inches(48)],
        parts: vec![part(0, 60, DrawnKind::Piece), part(60, 36, DrawnKind::Offcut)],
    };
    let drawings = vec![drawing("=A1 & <b>"), drawing("Sedge 18: PLY")];
    let bytes = xlsx_drawn(&report(Vec::new()), &drawings).unwrap();
    let shapes = self::part(&bytes, "xl/drawings/drawing1.xml");
    assert_eq!(shapes.matches("<xdr:sp ").count(), 2 * 3);
    for alt_text in ["sheet", "piece 60 x 48", "offcut 36 x 48"] {
        assert_eq!(shapes.matches(&format!("descr=\"{alt_text}\"")).count(), 2, "{alt_text}");
    }
    assert_eq!(shapes.matches("<a:t>60 x 48</a:t>").count(), 2);
    let mut opened: Xlsx<_> = Xlsx::new(Cursor::new(bytes)).unwrap();
    let sheet = opened.worksheet_range("Drawings").unwrap();
    assert_eq!(sheet.get_value((0, 0)), Some(&Data::String("=A1 & <b>".to_owned())));
    // Beyond what a spreadsheet draws well, the notes say so.
    let many = vec![drawing("layout"); drawings::MOST + 1];
    let mut opened: Xlsx<_> =
        Xlsx::new(Cursor::new(xlsx_drawn(&report(Vec::new()), &many).unwrap())).unwrap();
    let notes = opened.worksheet_range("Notes").unwrap();
    let said = Data::String("the first 150 of 151 layouts are drawn".to_owned());
    assert!(notes.used_cells().any(|(_, _, cell)| *cell == said));
}
