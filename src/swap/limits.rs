use std::collections::BTreeSet;

use crate::diag::Diagnostic;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::explode::{Build, InstanceId, Needs, Take, Taken};
use crate::model::Attribute;
use crate::model::Book;
use crate::model::Component;
use crate::model::ItemId;
use crate::model::RowRef;
use crate::model::SwapRow;
use crate::model::attribute;
use crate::quantity::Length;

/// The column of bill lines that names what their material must be rated for.
const REQUIRES: &str = "requires";
/// The column of items that names what they are rated for.
const RATED: &str = "rated";

/// A limit of a line that its item breaks. Copies of a line stand in one row.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Broken {
    row: RowRef,
    item: ItemId,
    limit: Limit,
}

#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Limit {
    /// It spans more than its maker states.
    Span(Length),
    /// It spans something, and its maker states no limit.
    Unstated(Length),
    /// It lacks a word that the line requires.
    Rating(String),
}

impl Broken {
    /// Tells whether the item is known to be unfit; where no limit is stated, nothing is known.
    pub(super) fn is_unfit(&self) -> bool {
        !matches!(self.limit, Limit::Unstated(_))
    }
}

/// Returns the limits that a build breaks.
pub(super) fn broken(book: &Book, needs: &Needs, build: &Build) -> BTreeSet<Broken> {
    let mut found = BTreeSet::new();
    for taken in reached(needs, build.root) {
        let line = book.line(taken.line);
        let Component::Item(id) = line.component else { continue };
        let item = book.item(id);
        let mut add = |limit| found.insert(Broken { row: line.row, item: id, limit });
        match (taken.placed().span, item.span_limit) {
            (Some(span), Some(limit)) if span > limit => {
                add(Limit::Span(span));
            }
            (Some(span), None) => {
                add(Limit::Unstated(span));
            }
            _ => {}
        }
        let required = words(&line.further.attributes, REQUIRES);
        if !required.is_empty() {
            let rated = words(&item.attributes, RATED);
            for word in required.into_iter().filter(|word| !rated.contains(word)) {
                add(Limit::Rating(word));
            }
        }
    }
    found
}

/// Returns findings of the limits that rows of swaps break; spans beyond a limit are told where they are exploded.
pub(super) fn findings(
    book: &Book,
    broken: &BTreeSet<Broken>,
    rows: &[&SwapRow],
) -> Vec<Diagnostic> {
    let mut found: Vec<Diagnostic> = Vec::new();
    for one in broken {
        let brings = |row: &&&SwapRow| row.to == Some(Component::Item(one.item));
        let swap = rows.iter().find(brings).map_or_else(String::new, |row| row.swap.clone());
        let item = book.item(one.item).name.clone();
        let (column, problem) = match &one.limit {
            Limit::Span(_) => continue,
            Limit::Unstated(_) if swap.is_empty() => continue,
            Limit::Unstated(span) => {
                let span = book.settings.length_unit.told(*span);
                ("span", Problem::SpanUnstated { swap, item, span })
            }
            Limit::Rating(_) => {
                let of_line = |other: &&Broken| (other.row, other.item) == (one.row, one.item);
                let words = broken.iter().filter(of_line).filter_map(|other| match &other.limit {
                    Limit::Rating(word) => Some(word.clone()),
                    Limit::Span(_) | Limit::Unstated(_) => None,
                });
                (REQUIRES, Problem::RatingMissing { swap, item, ratings: words.collect() })
            }
        };
        let place = book.place(one.row, Some(column));
        let finding = Diagnostic::new(Severity::Warning, place, problem);
        if !found.contains(&finding) {
            found.push(finding);
        }
    }
    found
}

/// Returns what is taken anywhere below an evaluated assembly, each evaluation of one once.
fn reached(needs: &Needs, top: InstanceId) -> impl Iterator<Item = &Taken> {
    let mut known = BTreeSet::from([top]);
    let mut open = vec![top];
    while let Some(instance) = open.pop() {
        for taken in &needs.instances[instance.index()].lines {
            if let Take::Assembly(child) = taken.take
                && known.insert(child)
            {
                open.push(child);
            }
        }
    }
    known.into_iter().flat_map(|instance| &needs.instances[instance.index()].lines)
}

/// Returns the words of a column, in lower case.
fn words(attributes: &[Attribute], name: &str) -> Vec<String> {
    let text = attribute(attributes, name).unwrap_or_default();
    let parts = text.split(|letter: char| letter.is_whitespace() || matches!(letter, ',' | ';'));
    parts.filter(|word| !word.is_empty()).map(str::to_lowercase).collect()
}
