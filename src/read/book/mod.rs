//! Builds the book: grids of known columns in, a valid [`Book`] out, or every mistake there is.
//!
//! Each file reads a table or a few; vendors come first, since many tables name them, the others in the order of the
//! schema. What needs several of them (names, cycles, prices that are missing) is checked once all are read. No mistake stops the reading of the rest.

mod bill;
mod burdens;
mod changes;
mod forms;
mod gaps;
mod indent;
mod items;
mod known;
mod plans;
mod prices;
mod schedule;
mod settings;
mod stock;
mod terms;
#[cfg(test)]
mod tests;
mod tree;
mod vendors;
mod weights;

use std::cell::RefCell;
use std::collections::BTreeSet;
use std::panic::resume_unwind;
use std::thread;

use crate::diag::Checked;
use crate::diag::Diagnostic;
use crate::diag::Place;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::model::AssemblyId;
use crate::model::Attribute;
use crate::model::Book;
use crate::model::ItemId;
use crate::model::OptionId;
use crate::model::PlanId;
use crate::read::Limits;
use crate::read::Table;
use crate::read::cells::Row;
use crate::read::cells::text_of;
use crate::read::columns::At;
use crate::read::columns::Grids;
use crate::read::columns::grids;
use crate::read::digest::digest;
use crate::read::findings::Findings;
use crate::read::names::Names;
use crate::read::reader::Reader;

/// Builds a book from its tables, with every finding in file order. Where one of them is an error, the book lacks the
/// rows that could not be read.
pub(super) fn book(tables: &[Table], limits: &Limits) -> Checked<Book> {
    let findings = Findings::within(limits.findings);
    let grids = grids(tables, &findings);
    let mut reader = Reader::new(findings);
    let mut book = Book::default();
    if let Some(grid) = grids.find("settings") {
        book.settings = settings::settings(&mut reader, grid);
        reader.currency.clone_from(&book.settings.currency);
    }
    // The digest asks only for the tables, so it is taken meanwhile; where no thread can be had, after the rest.
    let (mut book, unclear) = thread::scope(|scope| {
        let taken = thread::Builder::new().spawn_scoped(scope, || digest(&grids));
        let names = Directory::new();
        let mut build = Build {
            reader: &reader,
            grids: &grids,
            book,
            names,
            unclear: BTreeSet::new(),
            strangers: RefCell::default(),
        };
        vendors::vendors(&mut build);
        plans::plans(&mut build);
        plans::assemblies(&mut build);
        plans::options(&mut build);
        items::items(&mut build);
        prices::sizes(&mut build);
        items::rates(&mut build);
        prices::prices(&mut build);
        burdens::burdens(&mut build);
        bill::bill(&mut build);
        schedule::schedule(&mut build);
        stock::stock(&mut build);
        changes::swaps(&mut build);
        vendors::calendar(&mut build);
        vendors::rates(&mut build);
        changes::cases(&mut build);
        schedule::history(&mut build);
        changes::actuals(&mut build);
        let Build { mut book, unclear, .. } = build;
        book.digest = match taken {
            Ok(taken) => taken.join().unwrap_or_else(|panic| resume_unwind(panic)),
            Err(_) => digest(&grids),
        };
        (book, unclear)
    });
    book.sources = grids.sources;
    let book = book.index();
    gaps::gaps(&book, &reader, &grids.list, &unclear);
    let mut findings = reader.findings.into_sorted();
    tell_once(&mut findings);
    Checked { value: book, warnings: findings }
}

/// Drops the gaps of rows that have errors: a price that cannot be read is not missing as well.
fn tell_once(findings: &mut Vec<Diagnostic>) {
    let is_error = |finding: &&Diagnostic| finding.severity == Severity::Error;
    let faulty: BTreeSet<Option<Place>> =
        findings.iter().filter(is_error).map(Diagnostic::row).collect();
    findings
        .retain(|finding| finding.severity != Severity::Gap || !faulty.contains(&finding.row()));
}

/// A book being built.
struct Build<'a> {
    reader: &'a Reader,
    grids: &'a Grids<'a>,
    book: Book,
    names: Directory,
    /// Items whose form or unit cannot be read: what follows from these is not checked.
    unclear: BTreeSet<ItemId>,
    /// Vendors told already that table `vendors` lacks, without regard to case.
    strangers: RefCell<BTreeSet<String>>,
}

/// The names of a book.
struct Directory {
    plans: Names<PlanId>,
    assemblies: Names<AssemblyId>,
    options: Names<OptionId>,
    items: Names<ItemId>,
    vendors: Names<usize>,
}

impl Directory {
    fn new() -> Directory {
        Directory {
            plans: Names::new(),
            assemblies: Names::new(),
            options: Names::new(),
            items: Names::new(),
            vendors: Names::new(),
        }
    }
}

/// Returns a position as an id holds it.
fn id(position: usize) -> u32 {
    u32::try_from(position).expect("tables hold fewer rows than a u32 counts")
}

/// Returns the columns that no table defines, where they hold something.
fn attributes(row: Row) -> Vec<Attribute> {
    let mut attributes = Vec::new();
    if row.grid.extras.is_empty() {
        return attributes;
    }
    // Both are sorted by column; tables may have many columns that most rows leave empty.
    let mut extras = row.grid.extras.iter().peekable();
    for (index, cell) in row.grid.table.cells(row.index) {
        while extras.next_if(|(extra, _)| *extra < index).is_some() {}
        let Some((_, name)) = extras.next_if(|(extra, _)| *extra == index) else { continue };
        attributes.push(Attribute { name: name.clone(), value: text_of(cell).into_owned() });
    }
    attributes
}

/// Returns what a cell names, or tells that there is none of the name; nothing if the cell is empty.
fn named<T: Copy>(names: &Names<T>, what: &str, row: Row, at: At, severity: Severity) -> Option<T> {
    let name = row.text(at);
    if name.is_empty() {
        return None;
    }
    let found = names.find(&name);
    if found.is_none() {
        let problem =
            Problem::NameUnknown { what: what.to_owned(), name: name.clone().into_owned() };
        row.tell_with_hint(severity, Some(at), problem, names.hint(&name));
    }
    found
}

/// Adds the error that a name is taken, with the row that has it.
fn taken(row: Row, at: At, what: &str, name: &str, first: Place) {
    let problem = Problem::DefinedTwice { what: what.to_owned(), name: name.to_owned(), first };
    row.error(at, problem);
}
