//! Checks a book: reads all that can be read of it, then explodes that, so that one run tells every mistake.

use std::borrow::Cow;
use std::collections::BTreeSet;

use cutbill::diag::{Checked, Diagnostic, Place, Problem, Severity};
use cutbill::explode;
use cutbill::model::{Book, Component};
use cutbill::read::{self, Files, Limits};

/// Tables whose mistakes take no meaning from the rest: what is exploded without their faulty rows is still right.
const APART: [&str; 5] = ["bill", "items", "sizes", "prices", "burdens"];

/// Returns the book with the findings of reading and exploding it.
///
/// # Errors
/// Every finding, if one of them is an error.
pub(super) fn check(files: &dyn Files, limits: &Limits) -> Result<Checked<Book>, Vec<Diagnostic>> {
    let Checked { value, warnings: mut findings } = read::draft(files, limits);
    let Some(book) = value else { return Err(findings) };
    let faulty: BTreeSet<Place> = findings
        .iter()
        .filter(|finding| finding.severity == Severity::Error)
        .filter_map(|finding| finding.place.as_ref().map(row_of))
        .collect();
    if is_explodable(&book, &findings) {
        let further = explode::explode_every(&acyclic(&book, &findings));
        findings.extend(
            further
                .into_iter()
                .filter(|finding| faulty.is_empty() || is_news(&book, &faulty, finding)),
        );
    }
    let has_errors = findings.iter().any(|finding| finding.severity == Severity::Error);
    if has_errors { Err(findings) } else { Ok(Checked { value: book, warnings: findings }) }
}

/// Returns the book without the lines that close cycles; every one of them has been found.
fn acyclic<'a>(book: &'a Book, findings: &[Diagnostic]) -> Cow<'a, Book> {
    let closing: BTreeSet<Place> = findings
        .iter()
        .filter(|finding| matches!(finding.problem, Problem::Cycle { .. }))
        .filter_map(|finding| finding.place.as_ref().map(row_of))
        .collect();
    if closing.is_empty() {
        return Cow::Borrowed(book);
    }
    let mut opened = book.clone();
    opened.lines.retain(|line| !closing.contains(&book.place(line.row, None)));
    Cow::Owned(opened.index())
}

/// Tells whether what was read of a book can be exploded: only tables apart have mistakes.
fn is_explodable(book: &Book, findings: &[Diagnostic]) -> bool {
    let is_apart = |place: &Place| {
        let source = book
            .sources
            .iter()
            .find(|source| source.file == place.file && source.sheet == place.sheet);
        source.is_some_and(|source| APART.contains(&source.table.as_str()))
    };
    findings
        .iter()
        .filter(|finding| finding.severity == Severity::Error)
        .all(|finding| finding.place.as_ref().is_some_and(is_apart))
}

/// Tells whether a finding is no mere consequence of the rows that could not be read.
fn is_news(book: &Book, faulty: &BTreeSet<Place>, finding: &Diagnostic) -> bool {
    let Some(place) = finding.place.as_ref().map(row_of) else { return true };
    let follows =
        matches!(finding.problem, Problem::ExclusionUnmatched { .. } | Problem::SizeMissing { .. });
    if follows || faulty.contains(&place) {
        return false;
    }
    let line = book.lines.iter().find(|line| book.place(line.row, None) == place);
    line.is_none_or(|line| match line.component {
        Component::Item(item) => !faulty.contains(&book.place(book.item(item).row, None)),
        Component::Assembly(_) => true,
    })
}

fn row_of(place: &Place) -> Place {
    Place { column: None, ..place.clone() }
}
