//! Small books of purchasing: tables as text in, orders out, and short ways to look at them.

use std::collections::BTreeMap;

use cutbill::model::{Book, ItemId};
use cutbill::nest;
use cutbill::orders::{self, Ahead, Balance, Options, Orders, Planned};
use cutbill::quantity::Ratio;
use cutbill::watch::Silent;

use super::line;

/// A Monday: the first of the week 2027-W09.
pub(crate) const AS_OF: &str = "key,value\nas_of,2027-03-01\n";

/// Files by name; a book that does not say has one plan `P` and is of [`AS_OF`].
pub(crate) fn files(tables: &[(&str, &str)]) -> BTreeMap<String, Vec<u8>> {
    let defaults = [("plans", "plan,length,width\nP,24 ft,8 ft\n"), ("settings", AS_OF)];
    defaults
        .iter()
        .chain(tables)
        .map(|(name, text)| (format!("{name}.csv"), text.as_bytes().to_vec()))
        .collect()
}

/// Reads a book that is known to be sound.
#[track_caller]
pub(crate) fn book(tables: &[(&str, &str)]) -> Book {
    line::read(&files(tables))
}

/// Options that nest with little effort.
pub(crate) fn quick() -> Options {
    Options { nest: nest::Options { effort: 1, ..nest::Options::default() }, ..Options::default() }
}

/// Plans the purchases of a book that can be planned.
#[track_caller]
pub(crate) fn plan(book: &Book) -> Orders<'_> {
    plan_with(book, &quick())
}

#[track_caller]
pub(crate) fn plan_with<'a>(book: &'a Book, options: &Options) -> Orders<'a> {
    match orders::orders(book, options, &Silent) {
        Ok(checked) => checked.value,
        Err(findings) => panic!("nothing is planned: {findings:?}"),
    }
}

#[track_caller]
pub(crate) fn item(book: &Book, name: &str) -> ItemId {
    let found = (0_u32..).zip(&book.items).find(|(_, item)| item.name == name);
    ItemId(found.unwrap_or_else(|| panic!("the book has no item `{name}`")).0)
}

#[track_caller]
pub(crate) fn planned<'a>(book: &Book, orders: &'a Orders<'_>, name: &str) -> &'a Planned {
    let id = item(book, name);
    let found = orders.planned.iter().find(|planned| planned.item == id);
    found.unwrap_or_else(|| panic!("nothing is planned of `{name}`"))
}

/// Returns the stock of an item without sizes, or of one with one size.
#[track_caller]
pub(crate) fn balance<'a>(book: &Book, orders: &'a Orders<'_>, name: &str) -> &'a Balance {
    let balances = &planned(book, orders, name).balances;
    assert_eq!(balances.len(), 1, "`{name}` has one balance");
    &balances[0]
}

#[track_caller]
pub(crate) fn ahead<'a>(book: &Book, orders: &'a Orders<'_>, name: &str) -> &'a Ahead {
    let is_named = |ahead: &&Ahead| book.assemblies[ahead.assembly.index()].name == name;
    let found = orders.ahead.iter().find(is_named);
    found.unwrap_or_else(|| panic!("`{name}` is not built ahead"))
}

/// Returns whole numbers.
pub(crate) fn wholes(counts: &[i64]) -> Vec<Ratio> {
    counts.iter().map(|count| Ratio::from(*count)).collect()
}
