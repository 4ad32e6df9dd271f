//! Files made to exhaust the machine: each ends soon in a clear error, or is read for what it really holds.
//!
//! Limits are lowered where a file at the usual ones would take long to make; docs/limits.md states the usual ones.

#![expect(clippy::unwrap_used, reason = "what cannot be had ends the test")]

use std::io::{Cursor, Write};

use cutbill::diag::Diagnostic;
use cutbill::explode;
use cutbill::nest;
use cutbill::orders;
use cutbill::read::{self, Limits, Memory};
use cutbill::rollup;
use cutbill::watch::Silent;
use zip::ZipWriter;
use zip::write::SimpleFileOptions;

const PLANS: &str = "plan,length\nA,20 ft\n";
const ITEMS: &str = "item,form,price,weight\nhinge,count,1,1\n";
const BILL: &str = "parent,component\nA,hinge\n";

fn shown(findings: &[Diagnostic]) -> String {
    findings.iter().map(|finding| format!("{finding}\n")).collect::<Vec<String>>().concat()
}

/// Reads a book of small tables, those given in place of the usual ones, and states what is found.
fn folder(tables: &[(&str, &[u8])], limits: &Limits) -> String {
    let usual = [("plans.csv", PLANS), ("items.csv", ITEMS), ("bill.csv", BILL)];
    let usual = usual.into_iter().map(|(name, text)| (name, text.as_bytes()));
    let files: Memory = usual.chain(tables.iter().copied()).collect();
    match read::read_within(&files, limits) {
        Ok(checked) => shown(&checked.warnings),
        Err(errors) => shown(&errors),
    }
}

fn workbook(name: &str, bytes: Vec<u8>, limits: &Limits) -> String {
    let files: Memory = [(name, bytes)].into_iter().collect();
    match read::read_within(&files, limits) {
        Ok(checked) => shown(&checked.warnings),
        Err(errors) => shown(&errors),
    }
}

/// Packs parts into a zip archive, deflated.
fn packed(parts: &[(&str, &[u8])]) -> Vec<u8> {
    let mut archive = ZipWriter::new(Cursor::new(Vec::new()));
    let options = SimpleFileOptions::default().compression_method(zip::CompressionMethod::Deflated);
    for (name, content) in parts {
        archive.start_file(*name, options).unwrap();
        archive.write_all(content).unwrap();
    }
    archive.finish().unwrap().into_inner()
}

const TYPES: &str = r#"<?xml version="1.0"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"/>"#;
const RELATIONS: &str = r#"<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument" Target="xl/workbook.xml"/></Relationships>"#;
const BOOK_RELATIONS: &str = r#"<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/sheet1.xml"/><Relationship Id="rId2" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/sharedStrings" Target="sharedStrings.xml"/></Relationships>"#;
const BOOK: &str = r#"<?xml version="1.0"?><workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"><sheets><sheet name="items" sheetId="1" r:id="rId1"/></sheets></workbook>"#;

/// Returns an xlsx workbook whose one sheet, `items`, has this content, beside these shared texts.
fn xlsx(sheet: &str, texts: &[u8]) -> Vec<u8> {
    packed(&[
        ("[Content_Types].xml", TYPES.as_bytes()),
        ("_rels/.rels", RELATIONS.as_bytes()),
        ("xl/workbook.xml", BOOK.as_bytes()),
        ("xl/_rels/workbook.xml.rels", BOOK_RELATIONS.as_bytes()),
        ("xl/worksheets/sheet1.xml", sheet.as_bytes()),
        ("xl/sharedStrings.xml", texts),
    ])
}

fn sheet(rows: &str) -> String {
    format!(
        r#"<?xml version="1.0"?><worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><dimension ref="A1:XFD1048576"/><sheetData>{rows}</sheetData></worksheet>"#
    )
}

/// Returns a row of texts that stand in the cells themselves.
fn row(number: u32, cells: &[&str]) -> String {
    let cells = ('A'..='Z').zip(cells);
    let cells: Vec<String> = cells
        .map(|(column, text)| {
            format!(r#"<c r="{column}{number}" t="inlineStr"><is><t>{text}</t></is></c>"#)
        })
        .collect();
    format!(r#"<row r="{number}">{}</row>"#, cells.concat())
}

const TEXTS: &[u8] =
    br#"<?xml version="1.0"?><sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"/>"#;

fn content(tables: &str) -> String {
    format!(
        r#"<?xml version="1.0"?><office:document-content><office:body><office:spreadsheet>{tables}</office:spreadsheet></office:body></office:document-content>"#
    )
}

fn ods(tables: &str) -> Vec<u8> {
    packed(&[("content.xml", content(tables).as_bytes())])
}

/// What is said of a workbook that holds the table `items` alone.
const ITEMS_ALONE: &str = "error: no table `plans`\nerror: book.xlsx[items]:2: column `price`: `call` is not a number\n\
    error: no table `bill`\n";

#[test]
fn archives_that_unpack_to_too_much_are_refused() {
    let limits = Limits { unpacked_bytes: 1 << 20, ..Limits::default() };
    let bomb = vec![b' '; 4 << 20];
    let passed = "the size of its parts in bytes, unpacked, is beyond the limit of 1048576 (`unpacked_bytes`)\n";
    let book = xlsx(&sheet(""), &bomb);
    assert!(book.len() < 20_000);
    assert_eq!(workbook("book.xlsx", book.clone(), &limits), format!("error: book.xlsx: {passed}"));
    // Sizes that are lies: each part states to hold ten bytes, in the archive and in its directory.
    let told = workbook("book.xlsx", with_sizes(book, 4 << 20, 10), &limits);
    assert!(told.starts_with("error: book.xlsx"), "{told}");
    let bomb = packed(&[("content.xml", &bomb)]);
    let told = workbook("book.ods", with_sizes(bomb, 4 << 20, 10), &limits);
    assert!(told.starts_with("error: book.ods"), "{told}");
    // One that states four gigabytes is refused at the usual limits before anything is unpacked.
    let true_size = u32::try_from(content("").len()).unwrap();
    let liar = with_sizes(ods(""), true_size, 0xFFFF_FFF0);
    let told = workbook("book.ods", liar, &Limits::default());
    let passed = "the size of its parts in bytes, unpacked, is beyond the limit of 1073741824 (`unpacked_bytes`)\n";
    assert_eq!(told, format!("error: book.ods: {passed}"));
}

/// Returns an archive with another size of a part written wherever its true one stands.
fn with_sizes(mut archive: Vec<u8>, size: u32, lie: u32) -> Vec<u8> {
    let mut count = 0;
    for at in 0..archive.len() - 4 {
        if archive[at..at + 4] == size.to_le_bytes() {
            archive[at..at + 4].copy_from_slice(&lie.to_le_bytes());
            count += 1;
        }
    }
    assert!(count > 0, "no part has {size} bytes");
    archive
}

#[test]
fn rows_and_cells_without_end_are_refused() {
    let usual = Limits::default();
    let passed =
        |what: &str, limit: &str| format!("the number of {what} is beyond the limit of {limit}\n");
    let million = "x,".repeat(1_000_000);
    assert_eq!(
        folder(&[("items.csv", million.as_bytes())], &usual),
        format!("error: items.csv:1: {}", passed("columns", "16384 (`columns`)"))
    );
    assert_eq!(
        folder(&[("items.csv", format!("item,form\n{million}").as_bytes())], &usual),
        "error: items.csv:2: 1000000 cells under 2 headers\n  hint: a cell that holds the separator `,` is put in quotes\n"
    );
    let long = format!("item,form\n{},count\n", "x".repeat(131_069));
    assert_eq!(
        folder(&[("items.csv", long.as_bytes())], &usual),
        "error: items.csv:2: the length of a cell in bytes is beyond the limit of 131068 (`cell_bytes`)\n"
    );
    let few = Limits { rows: 3, ..usual };
    let rows = format!("item,form\n{}", "hinge,count\n".repeat(9));
    assert_eq!(
        folder(&[("items.csv", rows.as_bytes())], &few),
        format!("error: items.csv:5: {}", passed("rows", "3 (`rows`)"))
    );
    let few = Limits { cells: 5, ..usual };
    assert_eq!(
        folder(&[("items.csv", rows.as_bytes())], &few),
        format!("error: items.csv:4: {}", passed("cells", "5 (`cells`)"))
    );
    let little = Limits { text_bytes: 25, ..usual };
    assert_eq!(
        folder(&[("items.csv", rows.as_bytes())], &little),
        "error: items.csv:4: the size of all texts in bytes is beyond the limit of 25 (`text_bytes`)\n"
    );
    let little = Limits { file_bytes: 60, ..usual };
    assert_eq!(
        folder(&[("items.csv", rows.as_bytes())], &little),
        "error: items.csv: the size in bytes is beyond the limit of 60 (`file_bytes`)\n"
    );
}

#[test]
fn repeated_rows_and_columns_are_refused_where_they_hold_something() {
    let cell =
        r#"<table:table-cell office:value-type="string"><text:p>x</text:p></table:table-cell>"#;
    let table =
        |rows: &str| ods(&format!(r#"<table:table table:name="items">{rows}</table:table>"#));
    let usual = Limits::default();
    let rows = table(&format!(
        r#"<table:table-row table:number-rows-repeated="1000000000">{cell}</table:table-row>"#
    ));
    assert_eq!(
        workbook("book.ods", rows, &usual),
        "error: book.ods[items]: the number of times that row 1 is repeated is beyond the limit of 10000 (`repeated_rows`)\n"
    );
    let wide = cell.replace("string\"", "string\" table:number-columns-repeated=\"1000000000\"");
    let columns = table(&format!("<table:table-row>{wide}</table:table-row>"));
    assert_eq!(
        workbook("book.ods", columns, &usual),
        "error: book.ods[items]:1: the number of columns is beyond the limit of 16384 (`columns`)\n"
    );
    let many = table(&format!("<table:table-row>{}</table:table-row>", cell.repeat(20_000)));
    assert_eq!(
        workbook("book.ods", many, &usual),
        "error: book.ods[items]: the number of columns is beyond the limit of 16384 (`columns`)\n"
    );
    let deep = ods(&"<x>".repeat(100_000));
    assert_eq!(
        workbook("book.ods", deep, &usual),
        "error: book.ods: not a readable workbook: its content is nested too deep\n"
    );
}

#[test]
fn a_worksheet_that_states_to_be_as_large_as_can_be_is_read_for_what_it_holds() {
    let rows =
        [row(1, &["item", "form", "price", "weight"]), row(2, &["hinge", "count", "call", "1"])];
    let book = xlsx(&sheet(&rows.concat()), TEXTS);
    assert_eq!(workbook("book.xlsx", book, &Limits::default()), ITEMS_ALONE);
    // A cell in the last corner that there is.
    let corner = r#"<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>"#;
    let book = xlsx(&sheet(&(rows.concat() + corner)), TEXTS);
    let stray = "warning: book.xlsx[items]:1048576: column `XFD` is not read: it has no header\n";
    assert_eq!(workbook("book.xlsx", book, &Limits::default()), format!("{stray}{ITEMS_ALONE}"));
    // Cells outside of every worksheet.
    for place in ["XFE1", "A1048577", "A99999999999", "AAAAAAAAAAAA1", "1A", "A0", "-1", ""] {
        let beyond = format!(r#"<row><c r="{place}"><v>1</v></c></row>"#);
        let book = xlsx(&sheet(&(rows.concat() + &beyond)), TEXTS);
        let told = workbook("book.xlsx", book, &Limits::default());
        assert!(told.starts_with("error: ") && told.len() < 400, "{place}: {told}");
    }
}

#[test]
fn a_percent_without_its_format_may_be_either() {
    let head = row(1, &["item", "form", "price", "weight", "yield_percent"]);
    let cells = r#"<row r="2"><c r="A2" t="inlineStr"><is><t>hinge</t></is></c><c r="B2" t="inlineStr"><is><t>count</t></is></c><c r="C2"><v>1</v></c><c r="D2"><v>1</v></c><c r="E2" s="7"><v>0.9</v></c></row>"#;
    let told = workbook("book.xlsx", xlsx(&sheet(&(head + cells)), TEXTS), &Limits::default());
    let unclear = "error: book.xlsx[items]:2: column `yield_percent`: `0.9` may be 0.9 % or a hundred times that; the file \
        does not say\n  hint: set `percent_cells` in table `settings` to `fraction` or `number`\n";
    assert!(told.contains(unclear), "{told}");
}

#[test]
fn entities_within_entities_are_not_spelled_out() {
    let mut entities = String::from(r#"<!ENTITY e0 "aaaaaaaaaa">"#);
    for level in 1..40 {
        let below = format!("&e{};", level - 1).repeat(10);
        entities.push_str(&format!(r#"<!ENTITY e{level} "{below}">"#));
    }
    let laughs = format!(
        r#"<?xml version="1.0"?><!DOCTYPE sst [{entities}]><sst><si><t>&e39;</t></si></sst>"#
    );
    let rows = r#"<row r="1"><c r="A1" t="s"><v>0</v></c></row>"#;
    let told = workbook("book.xlsx", xlsx(&sheet(rows), laughs.as_bytes()), &Limits::default());
    assert!(told.len() < 1000 && told.starts_with("error: "), "{told}");
    let content = format!(
        r#"<?xml version="1.0"?><!DOCTYPE x [{entities}]><office:document-content><office:body><office:spreadsheet><table:table table:name="items"><table:table-row><table:table-cell office:value-type="string"><text:p>&e39;</text:p></table:table-cell></table:table-row></table:table></office:spreadsheet></office:body></office:document-content>"#
    );
    let told =
        workbook("book.ods", packed(&[("content.xml", content.as_bytes())]), &Limits::default());
    assert!(told.len() < 1000 && told.starts_with("error: "), "{told}");
}

#[test]
fn formulas_nested_without_end_are_refused() {
    #[track_caller]
    fn check(quantity: &str, expected: &str) {
        let bill = format!("parent,component,quantity\nA,hinge,\"{quantity}\"\n");
        let told = folder(&[("bill.csv", bill.as_bytes())], &Limits::default());
        assert!(told.len() < 600, "{} bytes are told", told.len());
        let first = told.lines().next().unwrap_or("");
        assert_eq!(first, format!("error: bill.csv:2: column `quantity`: {expected}"));
    }
    check(
        &format!("{}1{}", "(".repeat(4000), ")".repeat(4000)),
        "a formula nests at most 100 deep",
    );
    check(&format!("{}1", "-".repeat(9000)), "a formula nests at most 100 deep");
    check(&format!("{}1", "NOT ".repeat(2400)), "a formula nests at most 100 deep");
    check(&format!("{}1", "SQRT(".repeat(1900)), "a formula nests at most 100 deep");
    check(&"1 + ".repeat(3000), "a formula has at most 10000 characters");
    let towers = "9^".repeat(60) + "9";
    let bill = format!("parent,component,quantity\nA,hinge,{towers}\n");
    let told = folder(&[("bill.csv", bill.as_bytes())], &Limits::default());
    assert!(told.starts_with("error: bill.csv:2: column `quantity`: "), "{told}");
}

/// Explodes and rolls up a bill, and states the errors.
fn asked(bill: &str) -> String {
    let files: Memory =
        [("plans.csv", PLANS), ("items.csv", ITEMS), ("bill.csv", bill)].into_iter().collect();
    let book = match read::read(&files) {
        Ok(checked) => checked.value,
        Err(errors) => return shown(&errors),
    };
    let needs = match explode::explode(&book, &explode::Options::default()) {
        Ok(checked) => checked.value,
        Err(errors) => return shown(&errors),
    };
    let options = rollup::Options {
        lot: None,
        nest: nest::Options { effort: 1, ..nest::Options::default() },
    };
    match rollup::rollup(&book, &needs, options, &Silent) {
        Ok(checked) => shown(&checked.warnings),
        Err(errors) => shown(&errors),
    }
}

/// Returns a bill of so many levels, each taking the next by these cells.
fn levels(count: usize, cells: &[&str]) -> String {
    let mut bill = String::from("parent,component,quantity,with\n");
    for level in 0..count {
        let parent = if level == 0 { "A".to_owned() } else { format!("s{level}") };
        for cells in cells {
            let child =
                if level + 1 == count { "hinge".to_owned() } else { format!("s{}", level + 1) };
            let cells = if level + 1 == count { cells.split_once(',').unwrap().0 } else { cells };
            bill.push_str(&format!("{parent},{child},{cells}\n"));
        }
    }
    bill
}

#[test]
fn bills_deeper_than_any_are_refused() {
    assert_eq!(asked(&levels(99, &["1,"])), "");
    let told = asked(&levels(10_000, &["1,"]));
    let expected = "nesting of assemblies is beyond the limit of 100 levels\n";
    assert!(told.starts_with("error: bill.csv:") && told.ends_with(expected), "{told}");
    // A cycle as long is told by its beginning.
    let circle = levels(10_000, &["1,"]).replace(",hinge,", ",s1,");
    let told = asked(&circle);
    assert!(
        told.contains("`s1` contains itself: `s1 -> s2 -> s3 -> ") && told.len() < 400,
        "{told}"
    );
}

#[test]
fn the_deepest_bill_there_may_be_is_ordered_for() {
    let schedule = "plan,week,units\nA,2027-W20,1\n";
    let settings = "key,value\nas_of,2027-03-01\n";
    let bill = levels(99, &["1,n = n2 + 1"]).replacen("n = n2 + 1", "n = 1", 1).replace("n2", "n");
    let files: Memory = [
        ("plans.csv", PLANS),
        ("items.csv", ITEMS),
        ("bill.csv", &bill),
        ("schedule.csv", schedule),
        ("settings.csv", settings),
    ]
    .into_iter()
    .collect();
    let book = read::read(&files).unwrap().value;
    let options = orders::Options {
        as_of: None,
        pool: orders::Pool::Week,
        weeks: None,
        service_level: None,
        skips_comparison: false,
        nest: nest::Options { effort: 1, ..nest::Options::default() },
    };
    let planned = orders::orders(&book, &options, &Silent).unwrap();
    assert_eq!(shown(&planned.warnings), "");
    assert_eq!(planned.value.orders.len(), 1);
}

#[test]
fn what_doubles_from_level_to_level_is_counted_or_refused() {
    // 2^90 paths, of which none is walked twice.
    let told = asked(&levels(90, &["1,", "1,"]));
    assert_eq!(told, "error: items.csv:2: an amount of `hinge` is too large to be counted\n");
    let told = asked(&levels(30, &["1,", "1,"]));
    assert_eq!(told, "");
    // 2^60 sets of values.
    let doubling =
        levels(60, &["1,n = 2 * n", "1,n = 2 * n + 1"]).replacen("n = 2 * n\n", "n = 0\n", 1);
    let doubling =
        doubling.replacen("n = 2 * n + 1\n", "n = 1\n", 1).replace(",hinge,1", ",hinge,n");
    let told = asked(&doubling);
    let expected = "the number of sets of values that assemblies are evaluated for is beyond the limit of 202400\n";
    assert!(told.starts_with("error: bill.csv:") && told.ends_with(expected), "{told}");
}

#[test]
fn mistakes_without_end_are_counted_and_not_all_kept() {
    let rows: Vec<String> = (0..50).map(|row| format!("i{row},count,x,1\n")).collect();
    let rows = rows.concat();
    let items = format!("item,form,price,weight\nhinge,count,1,1\n{rows}");
    let limits = Limits { findings: 3, ..Limits::default() };
    assert_eq!(
        folder(&[("items.csv", items.as_bytes())], &limits),
        "note: items.csv:3: item `i0` is on no bill\n\
         error: items.csv:3: column `price`: `x` is not a number\n\
         note: items.csv:4: item `i1` is on no bill\n\
         error: items.csv:4: column `price`: `x` is not a number\n\
         note: items.csv:5: item `i2` is on no bill\n\
         error: items.csv:5: column `price`: `x` is not a number\n\
         note: 47 more of these are counted, but not told\n\
         error: 47 more of these are counted, but not told\n"
    );
}

#[test]
fn many_columns_names_and_rows_take_no_more_than_their_number() {
    // 16,000 columns of the plant's own, none of which is a slip.
    let headers: Vec<String> = (0..16_000).map(|column| format!(",own {column}")).collect();
    let headers = headers.concat();
    let items = format!("item,form,price,weight{headers}\nhinge,count,1,1\n");
    assert_eq!(folder(&[("items.csv", items.as_bytes())], &Limits::default()), "");
    // 20,000 burdens and mapped headers, 2,000 sizes of one item and prices.
    let many = |head: &str, count: usize, row: &dyn Fn(usize) -> String| {
        let rows: String = (1..=count).map(row).collect();
        format!("{head}\n{rows}")
    };
    let burdens = many("burden,basis,percent", 20_000, &|row| format!("b{row},material,1\n"));
    let sizes = many("item,length", 2000, &|row| format!("stud,{row} in\n"));
    let prices = many("item,length,price,price_unit", 2000, &|row| format!("stud,{row} in,1,ft\n"));
    let columns = many("table,header,column", 20_000, &|row| format!("items,own {row},-\n"));
    let items = "item,form,price,weight,price_unit\nhinge,count,1,1,\nstud,linear,1,1,ft\n";
    let bill = "parent,component,length\nA,hinge,\nA,stud,4 ft\n";
    let tables = [
        ("burdens.csv", &burdens),
        ("sizes.csv", &sizes),
        ("prices.csv", &prices),
        ("columns.csv", &columns),
        ("items.csv", &items.to_owned()),
        ("bill.csv", &bill.to_owned()),
    ];
    let tables = tables.map(|(name, text)| (name, text.as_bytes()));
    let told = folder(&tables, &Limits::default());
    let first = "warning: columns.csv:2: column `header`: no header named `own 1`\n";
    assert!(told.starts_with(first), "{}", &told[..told.len().min(300)]);
    let errors: Vec<&str> = told.lines().filter(|line| line.starts_with("error")).collect();
    let expected =
        "error: sizes.csv:1002: the number of sizes of item `stud` is beyond the limit of 1000";
    assert_eq!(errors, [expected]);
    // Two misspelled names of a hundred thousand letters are not compared letter by letter.
    let name = "x".repeat(100_000);
    let items = format!("item,form,price,weight\n{name}y,count,1,1\n");
    let bill = format!("parent,component\nA,{name}z\n");
    let tables = [("items.csv", items.as_bytes()), ("bill.csv", bill.as_bytes())];
    let told = folder(&tables, &Limits::default());
    assert!(told.len() < 300, "{told}");
}
