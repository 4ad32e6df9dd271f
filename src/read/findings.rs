//! Collects findings and tells them in file order.

use std::cell::RefCell;

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
#[derive(Debug, Default)]
pub(super) struct Findings {
    list: RefCell<Vec<(Order, Diagnostic)>>,
}

impl Findings {
    /// Adds a finding.
    pub(super) fn push(&self, order: Order, finding: Diagnostic) {
        self.list.borrow_mut().push((order, finding));
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

    /// Returns them in file order; those of one place stay in the order they were found.
    pub(super) fn into_sorted(self) -> Vec<Diagnostic> {
        let mut list = self.list.into_inner();
        list.sort_by_key(|(order, _)| *order);
        list.into_iter().map(|(_, finding)| finding).collect()
    }
}
