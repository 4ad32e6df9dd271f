//! Swaps of small books, with every figure reckoned by hand.

#![expect(clippy::unwrap_used, reason = "what cannot be had ends the test")]

#[path = "swap/bill.rs"]
mod bill;
#[path = "swap/laws.rs"]
mod laws;
#[path = "support/line.rs"]
mod line;

use std::collections::BTreeMap;

use cutbill::model::Book;

/// Reads tables given by name.
#[track_caller]
fn book(tables: &[(&str, &str)]) -> Book {
    let files: BTreeMap<String, Vec<u8>> = tables
        .iter()
        .map(|(name, text)| (format!("{name}.csv"), text.as_bytes().to_vec()))
        .collect();
    line::read(&files)
}
