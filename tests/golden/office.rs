//! A spreadsheet that sums for itself comes to our totals, to the last digit.
//!
//! LibreOffice opens the workbooks that `rollup` writes, with every result of a formula struck out, computes all of them
//! again and saves. Where it is not installed, this says so and passes.

use std::fs;
use std::io::{Cursor, Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use calamine::{Data, Reader, Xlsx};
use rust_decimal::Decimal;

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
        println!("skipped: LibreOffice (`soffice`) is not installed");
        return;
    }
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("office");
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(folder.join("profile/user")).unwrap();
    save(&folder.join("profile/user/registrymodifications.xcu"), ALWAYS.as_bytes());
    let groups = made(&folder, "groups.xlsx", &["--lot", "10"]);
    let items = made(&folder, "items.xlsx", &["--lot", "1", "--by", "assembly,item"]);
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

    let computed = computed(&folder, &["groups.xlsx", "items.xlsx", "altered.xlsx"]);
    assert_eq!(computed[0], known[0]);
    assert_eq!(computed[1], known[1]);
    let mut expected = known[1].clone();
    expected[0].amount += Decimal::new(1, 4);
    assert_eq!(computed[2], expected);
}

/// Returns the workbook that `rollup` of the sample writes.
fn made(folder: &Path, name: &str, arguments: &[&str]) -> Vec<u8> {
    let file = folder.join(name);
    let all = [&["rollup", "samples/fenmark", "--effort", "1"], arguments].concat();
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
