//! Collects findings and tells them in file order.

use std::cell::RefCell;
use std::collections::BTreeMap;

use crate::diag::Diagnostic;
use crate::diag::Place;
use crate::diag::Problem;
use crate::diag::Severity;

/// Where a finding stands among others: table, row, column.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Order {
    /// Position of the table in the schema.
    pub(super) table: usize,
    /// Number of the row; zero for the table as a whole.
    pub(super) row: u32,
    /// Position of the column in its table, from one; zero for the row as a whole.
    pub(super) column: usize,
}

/// Findings made so far.
#[derive(Debug)]
pub(super) struct Findings {
    list: RefCell<Vec<(Order, Diagnostic)>>,
    /// How many there are of each severity.
    counts: RefCell<BTreeMap<Severity, u64>>,
    /// How many of each severity are kept.
    most: u64,
}

impl Findings {
    /// Returns none, of which no more than `most` of each severity will be kept.
    pub(super) fn within(most: u64) -> Findings {
        Findings { list: RefCell::default(), counts: RefCell::default(), most }
    }

    /// Adds a finding; one beyond the limit is only counted.
    pub(super) fn push(&self, order: Order, finding: Diagnostic) {
        let mut counts = self.counts.borrow_mut();
        let count = counts.entry(finding.severity).or_default();
        *count += 1;
        if *count <= self.most {
            self.list.borrow_mut().push((order, finding));
        }
    }

    /// Adds those of another list, which keeps as many of each severity.
    pub(super) fn absorb(&self, other: Findings) {
        let mut unkept = other.counts.into_inner();
        for (order, finding) in other.list.into_inner() {
            if let Some(count) = unkept.get_mut(&finding.severity) {
                *count -= 1;
            }
            self.push(order, finding);
        }
        let mut counts = self.counts.borrow_mut();
        for (severity, count) in unkept {
            *counts.entry(severity).or_default() += count;
        }
    }

    /// Returns a list without findings that keeps as many.
    pub(super) fn fork(&self) -> Findings {
        Findings::within(self.most)
    }

    /// Adds a finding about a table as a whole.
    pub(super) fn about_table(
        &self,
        table: usize,
        severity: Severity,
        place: Option<Place>,
        problem: Problem,
        hint: Option<String>,
    ) {
        let order = Order { table, row: 0, column: 0 };
        self.push(order, Diagnostic { severity, place, problem, hint });
    }

    /// Tells whether there is an error in a table, by its position in the schema.
    pub(super) fn has_error_in(&self, table: usize) -> bool {
        let list = self.list.borrow();
        list.iter().any(|(order, it)| order.table == table && it.severity == Severity::Error)
    }

    /// Returns them in file order, and behind them how many more there are; those of one place stay in the order they were
    /// found.
    pub(super) fn into_sorted(self) -> Vec<Diagnostic> {
        let mut list = self.list.into_inner();
        list.sort_by_key(|(order, _)| *order);
        let more = self.counts.into_inner().into_iter().filter(|(_, count)| *count > self.most);
        let more = more.map(|(severity, count)| Diagnostic {
            severity,
            place: None,
            problem: Problem::MoreFindings { count: count - self.most },
            hint: None,
        });
        list.into_iter().map(|(_, finding)| finding).chain(more).collect()
    }
}
