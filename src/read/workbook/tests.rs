use std::io::Read;
use std::io::Write;

use zip::ZipWriter;
use zip::write::SimpleFileOptions;

use super::*;
use crate::read::Limits;
use crate::read::table::tests::shown;

/// The sheet `Items & sizes` of the fixtures, whatever their format.
const ITEMS: &str = r#"item|price|scrap_percent|from_date|standard|note|2027
4: PLY-18|=0.1|=0.05 %|<2027-03-15>|is true|3/4\" \"T&G\" <x>|=-1234.5
6: GLUE|=1234567.89|=0.125 %|<2027-03-15>|is false|two\nlines|=12.34
7: 007|=0.0000001|=5|2027-03-15||Größe 18 ½ “x” 膠合板|=100
8: ERR|! #REF!|! #N/A|0:45||! #DIV/0!|=3.3
9: LOW|=0.07|=0.5 %|<1900-02-28>|x|merged|"#;

const SETTINGS: &str = "key|value\n2: lot|=20";

#[track_caller]
fn check(bytes: &[u8], expected: &[&str]) {
    let (tables, findings) = match tables("book", bytes, &Limits::default()) {
        Ok(Checked { value, warnings }) => (value, warnings),
        Err(errors) => (Vec::new(), errors),
    };
    let tables = tables.iter().map(|table| format!("[{}] {}", table.name, shown(table)));
    let lines: Vec<String> = tables.chain(findings.iter().map(ToString::to_string)).collect();
    assert_eq!(lines.join("\n"), expected.join("\n"));
}

#[track_caller]
fn check_fixture(bytes: &[u8], items: &str, last_cell: (&str, u32)) {
    let (letters, row) = last_cell;
    check(
        bytes,
        &[
            &format!("[Items & sizes] {items}"),
            &format!("[plans] plan|length\n2: P-1|\n{row}: |=336"),
            &format!("[hidden one] {SETTINGS}"),
            &format!(
                "warning: book[plans]:{row}: column `{letters}` is not read: it has no header"
            ),
        ],
    );
}

macro_rules! fixture {
    ($name:literal) => {
        include_bytes!(concat!("../../../tests/fixtures/workbooks/", $name)).as_slice()
    };
}

#[test]
fn all_formats_give_the_same_tables() {
    let far = ("XFD", 1_048_576);
    check_fixture(fixture!("book.xlsx"), ITEMS, far);
    check_fixture(fixture!("book.xlsm"), ITEMS, far);
    check_fixture(fixture!("book.xlsb"), ITEMS, far);
    check_fixture(fixture!("book.xls"), ITEMS, ("IV", 65_536));
    check_fixture(fixture!("office.xlsx"), ITEMS, far);
    // That program writes a truth as a number there, and its own dates before March 1900 are a day earlier.
    let items = ITEMS.replace("is true", "=1").replace("is false", "=0");
    check_fixture(fixture!("office.ods"), &items.replace("1900-02-28", "1900-02-27"), far);
    check(
        fixture!("office.xls"),
        &[
            &format!("[Items & sizes] {ITEMS}"),
            "[plans] plan|length\n2: P-1|",
            &format!("[hidden one] {SETTINGS}"),
        ],
    );
}

#[test]
fn numbers_without_format_stay_numbers_in_ods() {
    let items = "item|price|scrap_percent|from_date|standard|note|2027
4: PLY-18|=0.1|=0.05|=46461|is true|3/4\\\" \\\"T&G\\\" <x>|=-1234.5
6: GLUE|=1234567.89|=0.125|=46461.75|is false|two\\nlines|=12.34
7: 007|=0.0000001|=5|2027-03-15||Größe 18 ½ “x” 膠合板|=100
8: ERR|||=0.03125|||=3.3
9: LOW|=0.07|=0.5|=59|x|merged|";
    check_fixture(fixture!("plain.ods"), items, ("XFD", 1_048_576));
}

/// Packs parts into a zip archive.
fn packed<N: AsRef<str>, B: AsRef<[u8]>>(parts: &[(N, B)]) -> Vec<u8> {
    let mut archive = ZipWriter::new(std::io::Cursor::new(Vec::new()));
    for (name, content) in parts {
        let options =
            SimpleFileOptions::default().compression_method(zip::CompressionMethod::Stored);
        archive.start_file(name.as_ref(), options).unwrap();
        archive.write_all(content.as_ref()).unwrap();
    }
    archive.finish().unwrap().into_inner()
}

fn ods(tables: &str) -> Vec<u8> {
    let content = format!(
        "<?xml version=\"1.0\"?><office:document-content><office:body><office:spreadsheet>{tables}</office:spreadsheet>\
         </office:body></office:document-content>"
    );
    packed(&[("content.xml", &content)])
}

#[test]
fn ods_cells_may_be_repeated_styled_and_remarked() {
    let cell = |text: &str| {
        format!(
            "<table:table-cell office:value-type=\"string\"><text:p>{text}</text:p></table:table-cell>"
        )
    };
    let rows = format!(
        "<table:table-header-rows><table:table-row>{}{}{}</table:table-row></table:table-header-rows>\
         <table:table-row table:number-rows-repeated=\"1000000000\"><table:table-cell/></table:table-row>",
        cell("a"),
        cell("b"),
        cell("c"),
    );
    let repeated = "<table:table-row table:number-rows-repeated=\"2\"><table:table-cell office:value-type=\"currency\" \
                    office:value=\"2.50\" table:number-columns-repeated=\"2\"><text:p>$2.50</text:p></table:table-cell>\
                    <table:covered-table-cell table:number-columns-repeated=\"2\"/></table:table-row>";
    let styled = "<table:table-row><table:table-cell office:value-type=\"string\"><office:annotation><text:p>no</text:p>\
                  </office:annotation><text:p>9<text:span>&#160;1/2<text:s text:c=\"2\"/>in</text:span></text:p>\
                  <text:p>A&amp;B<text:line-break/>C</text:p></table:table-cell>\
                  <table:covered-table-cell><text:p>hidden</text:p></table:covered-table-cell>\
                  <table:table-cell office:value-type=\"time\" office:time-value=\"PT36H00M00S\"/></table:table-row>";
    check(
        &ods(&format!(
            "<table:table table:name=\"x &amp; y\"><table:table-column/>{rows}{repeated}{styled}</table:table>"
        )),
        &[
            "[x & y] a|b|c\n1000000002: =2.5|=2.5|\n1000000003: =2.5|=2.5|\n1000000004: 9\\u{a0}1/2  in\\nA&B\\nC||36:00",
        ],
    );
    let endless = "<table:table-row table:number-rows-repeated=\"10001\"><table:table-cell office:value-type=\"string\">\
                   <text:p>x</text:p></table:table-cell></table:table-row>";
    check(
        &ods(&format!("<table:table table:name=\"x\">{rows}{endless}</table:table>")),
        &[
            "error: book[x]:1: the number of times that row 1000000002 is repeated is beyond the limit of 10000 (`repeated_rows`)",
        ],
    );
    let wide = "<table:table-row><table:table-cell office:value-type=\"string\" table:number-columns-repeated=\"4000000000\">\
                <text:p>x</text:p></table:table-cell></table:table-row>";
    check(
        &ods(&format!("<table:table table:name=\"x\">{wide}</table:table>")),
        &["error: book[x]:1: the number of columns is beyond the limit of 16384 (`columns`)"],
    );
    check(
        &ods("<table:table table:name=\"x\"><table:table-row>"),
        &[
            "error: book[x]: not a readable workbook: its content is damaged: ill-formed document: expected `</table:table-row>`, but `</office:spreadsheet>` was found",
        ],
    );
}

#[test]
fn xlsx_written_by_another_library_is_read() {
    use rust_xlsxwriter::Format;
    let mut book = rust_xlsxwriter::Workbook::new();
    let sheet = book.add_worksheet().set_name("Bill").unwrap();
    for (column, header) in
        ["parent", "quantity", "scrap_percent", "effective_from", "when"].into_iter().enumerate()
    {
        sheet.write_string(1, u16::try_from(column).unwrap(), header).unwrap();
    }
    let percent = Format::new().set_num_format("0.0%");
    let date = Format::new().set_num_format_index(14);
    sheet.write_string(2, 0, "DOOR").unwrap();
    sheet.write_number(2, 1, 4.35).unwrap();
    sheet.write_number_with_format(2, 2, 0.025, &percent).unwrap();
    sheet.write_number_with_format(2, 3, 46_461, &date).unwrap();
    sheet.write_boolean(2, 4, true).unwrap();
    sheet.write_formula(4, 1, rust_xlsxwriter::Formula::new("=1/0").set_result("#DIV/0!")).unwrap();
    sheet
        .write_formula(
            5,
            1,
            rust_xlsxwriter::Formula::new("=0.1*3").set_result("0.30000000000000004"),
        )
        .unwrap();
    sheet.merge_range(6, 0, 6, 1, "merged", &Format::new()).unwrap();
    sheet.write_string(1_048_575, 16_383, "far").unwrap();
    let mut chart = rust_xlsxwriter::Chart::new_column();
    chart.add_series().set_values(("Bill", 2, 1, 4, 1));
    book.add_chartsheet().insert_chart(0, 0, &chart).unwrap();
    let bytes = book.save_to_buffer().unwrap();
    check(
        &bytes,
        &[
            "[Bill] parent|quantity|scrap_percent|effective_from|when\n\
             3: DOOR|=4.35|=0.025 %|<2027-03-15>|is true\n5: |! #DIV/0!|||\n6: |=0.3|||\n7: merged||||",
            "warning: book[Bill]:1048576: column `XFD` is not read: it has no header",
        ],
    );
}

#[test]
fn files_that_are_no_workbooks_are_named() {
    #[track_caller]
    fn check_reason(bytes: &[u8], reason: &str) {
        check(bytes, &[&format!("error: book: not a readable workbook: {reason}")]);
    }
    check_reason(b"", "it is empty");
    check_reason(b"item,price\nA,1\n", "it is text; a CSV file needs a name that ends in .csv");
    check_reason(b"\xFF\0\x01", "it is no workbook of a known format, or damaged");
    check_reason(
        b" <HTML><table>",
        "it is a web page under the name of a workbook; open it in a spreadsheet and save it as xlsx",
    );
    check_reason(
        b"\xEF\xBB\xBF<?xml version=\"1.0\"?><Workbook>",
        "it is an XML file under the name of a workbook; open it in a spreadsheet and save it as xlsx",
    );
    check_reason(
        &packed(&[("word/document.xml", "")]),
        "it is a zip archive, but holds no workbook",
    );
    check_reason(
        &packed(&[("content.xml", ""), ("META-INF/manifest.xml", "<manifest:encryption-data/>")]),
        "it is protected by a password",
    );
    let old = fixture!("book.xls");
    check_reason(&old[..512], "its container is damaged: it is cut short");
}

#[test]
fn damage_gives_findings_and_no_panic() {
    let archives = [fixture!("book.xlsx"), fixture!("book.xlsb"), fixture!("office.ods")];
    for bytes in archives {
        for end in (0..bytes.len()).step_by(97) {
            assert!(
                tables("book", &bytes[..end], &Limits::default())
                    .is_err_and(|errors| !errors.is_empty())
            );
        }
    }
    let mut readable_count = 0;
    for bytes in [fixture!("book.xls"), fixture!("office.xls")] {
        for damaged in damages(bytes, 11) {
            readable_count += usize::from(tables("book", &damaged, &Limits::default()).is_ok());
        }
    }
    // In an archive the check sum would give most of the damage away, so parts are damaged before they are packed.
    for bytes in archives {
        let parts = unpacked(bytes);
        for (index, (_, content)) in parts.iter().enumerate() {
            for damaged in damages(content, 101) {
                let mut parts = parts.clone();
                parts[index].1 = damaged;
                readable_count +=
                    usize::from(tables("book", &packed(&parts), &Limits::default()).is_ok());
            }
        }
    }
    assert!(readable_count > 100, "much damage lies where nobody reads: {readable_count}");
}

/// Returns copies of bytes with one of them changed, here and there.
fn damages(bytes: &[u8], step: usize) -> impl Iterator<Item = Vec<u8>> {
    (0..bytes.len()).step_by(step).zip([0x01, 0x55, 0x80, 0xFF].into_iter().cycle()).map(
        |(at, change)| {
            let mut damaged = bytes.to_vec();
            damaged[at] ^= change;
            damaged
        },
    )
}

fn unpacked(bytes: &[u8]) -> Vec<(String, Vec<u8>)> {
    let mut archive = zip::ZipArchive::new(std::io::Cursor::new(bytes)).unwrap();
    let mut parts = Vec::new();
    for index in 0..archive.len() {
        let mut file = archive.by_index(index).unwrap();
        let mut content = Vec::new();
        file.read_to_end(&mut content).unwrap();
        parts.push((file.name().unwrap().into_owned(), content));
    }
    parts
}
