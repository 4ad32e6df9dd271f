//! Several tables in one input as a book, taken through every stage: no panic, sums that hold, two runs alike.
//!
//! A line `== NAME` begins the table NAME, so that a corpus can be read and written by hand.

use std::collections::BTreeMap;

use cutbill::diag::Diagnostic;
use cutbill::explode;
use cutbill::loads;
use cutbill::model::Book;
use cutbill::nest;
use cutbill::orders;
use cutbill::price;
use cutbill::read::{self, Memory};
use cutbill::render::json::{self, Layouts};
use cutbill::rollup::{self, Key};
use cutbill::watch::Silent;

/// Effort of nests: the least.
const EFFORT: u32 = 1;

/// Reads the bytes as tables and rolls up every plan, prices it, weighs it and orders for it.
pub fn run(bytes: &[u8]) {
    let files = Memory(tables(bytes));
    let book = match read::read(&files) {
        Ok(checked) => checked.value,
        Err(findings) => return are_said(&findings),
    };
    if let Err(findings) = answers(&book) {
        are_said(&findings);
    }
}

/// Every error has words.
fn are_said(findings: &[Diagnostic]) {
    assert!(!findings.is_empty(), "no answer, but no finding says why");
    for finding in findings {
        assert!(!finding.to_string().is_empty());
    }
}

fn tables(bytes: &[u8]) -> BTreeMap<String, Vec<u8>> {
    let mut tables = BTreeMap::new();
    let mut name = None;
    for line in bytes.split_inclusive(|byte| *byte == b'\n') {
        if let Some(begun) = line.strip_prefix(b"== ") {
            name = Some(format!("{}.csv", String::from_utf8_lossy(begun.trim_ascii())));
        } else if let Some(name) = &name {
            tables.entry(name.clone()).or_insert_with(Vec::new).extend_from_slice(line);
        }
    }
    tables
}

fn answers(book: &Book) -> Result<(), Vec<Diagnostic>> {
    let needs = explode::explode(book, &explode::Options::default())?.value;
    let nest = nest::Options { effort: EFFORT, ..nest::Options::default() };
    let options = rollup::Options { lot: None, nest };
    let rolled = rollup::rollup(book, &needs, options, &Silent)?;
    let keys = [Key::Plan, Key::Group, Key::Item];
    let ledger = rollup::ledger(book, &needs, &rolled.value, &keys).expect("the engine sums");
    let grouping = rollup::group(&ledger, &keys).expect("the engine groups");
    let findings = &rolled.warnings;
    let show =
        || json::rollup(book, &needs, &rolled.value, Some(&grouping), Layouts::Left, findings);
    let text = show();
    assert_eq!(text, show(), "two outputs differ");
    price::price(book, &needs, &rolled.value, &price::Options::default())?;
    loads::loads(book, &needs, &loads::Options::default())?;
    if !book.schedule.is_empty() {
        // Two years are as good as ten, and the time of a run is limited.
        let weeks = book.settings.horizon_weeks.map(|weeks| weeks.min(104));
        let options = orders::Options { nest, weeks, ..orders::Options::default() };
        orders::orders(book, &options, &Silent)?;
    }
    Ok(())
}
