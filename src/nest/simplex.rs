//! A linear program that grows by columns: the revised simplex method with an explicit inverse.
//!
//! The libraries at hand either hide the duals or start over when a column is added; pricing needs both. The program is
//! small (a row per distinct piece), so a dense inverse is kept, updated at each pivot in the square of the rows, and
//! made afresh now and then against drift (Chvatal, Linear Programming, 1983, chapters 7 and 8). Nothing is claimed from
//! these floats: they steer the search, and bounds are proven in whole numbers elsewhere.
#![expect(
    clippy::float_arithmetic,
    reason = "linear programming; its results are proven elsewhere"
)]

use crate::nest::budget::Budget;

/// Reduced costs nearer to zero than this are taken as zero; costs are at most one.
const TOLERANCE: f64 = 1e-9;
/// Smallest pivot.
const PIVOT: f64 = 1e-7;

/// A column: its cost and its entries by row.
#[derive(Clone, Debug)]
pub(in crate::nest) struct Column {
    pub(in crate::nest) cost: f64,
    pub(in crate::nest) entries: Vec<(usize, f64)>,
}

/// Minimizes cost subject to equal rows, with values not below zero.
pub(in crate::nest) struct Simplex {
    columns: Vec<Column>,
    right: Vec<f64>,
    basis: Vec<usize>,
    is_basic: Vec<bool>,
    inverse: Vec<f64>,
    values: Vec<f64>,
    duals: Vec<f64>,
    pivots: usize,
}

impl Simplex {
    /// Starts from one column per row, with an entry above zero in that row alone.
    pub(in crate::nest) fn new(right: Vec<f64>, start: Vec<Column>) -> Simplex {
        let rows = right.len();
        let mut simplex = Simplex {
            columns: start,
            right,
            basis: (0..rows).collect(),
            is_basic: vec![true; rows],
            inverse: vec![0.0; rows * rows],
            values: vec![0.0; rows],
            duals: vec![0.0; rows],
            pivots: 0,
        };
        for row in 0..rows {
            simplex.inverse[row * rows + row] = 1.0 / simplex.columns[row].entries[0].1;
        }
        simplex.refresh();
        simplex
    }

    /// Adds a column and returns its position.
    pub(in crate::nest) fn add(&mut self, column: Column) -> usize {
        self.columns.push(column);
        self.is_basic.push(false);
        self.columns.len() - 1
    }

    /// Returns the price of each row.
    pub(in crate::nest) fn duals(&self) -> &[f64] {
        &self.duals
    }

    /// Returns the basic columns with their values.
    pub(in crate::nest) fn solution(&self) -> impl Iterator<Item = (usize, f64)> {
        self.basis.iter().copied().zip(self.values.iter().copied())
    }

    /// Returns the cost.
    pub(in crate::nest) fn cost(&self) -> f64 {
        self.solution().map(|(column, value)| self.columns[column].cost * value).sum()
    }

    /// Pivots until no column lowers the cost, or the budget is spent.
    pub(in crate::nest) fn optimize(&mut self, budget: &mut Budget) {
        let rows = self.right.len();
        let limit = 20 * rows + 200;
        for _ in 0..limit {
            if budget.is_spent() {
                return;
            }
            let Some((entering, reduced)) = self.entering() else { return };
            let direction = self.direction(entering);
            let Some(row) = self.leaving(&direction) else { return };
            self.pivot(row, entering, reduced, &direction);
            budget.spend((rows * rows / 8 + self.columns.len()) as u64);
            if self.pivots.is_multiple_of(rows.max(100)) {
                budget.spend((rows * rows * rows / 8) as u64);
                self.invert();
            }
        }
    }

    fn entering(&self) -> Option<(usize, f64)> {
        let mut best = None;
        let mut least = -TOLERANCE;
        for (index, column) in self.columns.iter().enumerate() {
            if self.is_basic[index] {
                continue;
            }
            let mut reduced = column.cost;
            for (row, entry) in &column.entries {
                reduced -= self.duals[*row] * entry;
            }
            if reduced < least {
                least = reduced;
                best = Some((index, reduced));
            }
        }
        best
    }

    fn direction(&self, column: usize) -> Vec<f64> {
        let rows = self.right.len();
        let entries = &self.columns[column].entries;
        (0..rows)
            .map(|row| {
                let line = &self.inverse[row * rows..(row + 1) * rows];
                entries.iter().map(|(index, entry)| line[*index] * entry).sum()
            })
            .collect()
    }

    /// Returns the row whose value reaches zero first; of several the one with the largest pivot.
    fn leaving(&self, direction: &[f64]) -> Option<usize> {
        let ratio = |row: usize| self.values[row].max(0.0) / direction[row];
        let least = (0..direction.len())
            .filter(|row| direction[*row] > PIVOT)
            .map(ratio)
            .fold(f64::INFINITY, f64::min);
        let slack = least.abs() * 1e-9 + 1e-10;
        let mut best: Option<usize> = None;
        for row in 0..direction.len() {
            if direction[row] > PIVOT
                && ratio(row) <= least + slack
                && best.is_none_or(|best| direction[row] > direction[best])
            {
                best = Some(row);
            }
        }
        best
    }

    fn pivot(&mut self, row: usize, entering: usize, reduced: f64, direction: &[f64]) {
        let rows = self.right.len();
        let pivot = direction[row];
        let mut line: Vec<f64> = self.inverse[row * rows..(row + 1) * rows].to_vec();
        for entry in &mut line {
            *entry /= pivot;
        }
        for (other, target) in self.inverse.chunks_exact_mut(rows).enumerate() {
            let factor = direction[other];
            if other != row && factor != 0.0 {
                for (entry, source) in target.iter_mut().zip(&line) {
                    *entry -= factor * source;
                }
            }
        }
        let step = self.values[row].max(0.0) / pivot;
        for (other, value) in self.values.iter_mut().enumerate() {
            *value -= step * direction[other];
        }
        self.values[row] = step;
        for (dual, source) in self.duals.iter_mut().zip(&line) {
            *dual += reduced * source;
        }
        self.inverse[row * rows..(row + 1) * rows].copy_from_slice(&line);
        self.is_basic[self.basis[row]] = false;
        self.is_basic[entering] = true;
        self.basis[row] = entering;
        self.pivots += 1;
    }

    /// Computes values and duals from the inverse.
    fn refresh(&mut self) {
        let rows = self.right.len();
        self.duals = vec![0.0; rows];
        for row in 0..rows {
            let line = &self.inverse[row * rows..(row + 1) * rows];
            self.values[row] = line.iter().zip(&self.right).map(|(a, b)| a * b).sum();
            let cost = self.columns[self.basis[row]].cost;
            if cost != 0.0 {
                for (dual, entry) in self.duals.iter_mut().zip(line) {
                    *dual += cost * entry;
                }
            }
        }
    }

    /// Makes the inverse afresh by elimination; keeps the old one if the basis has become singular.
    fn invert(&mut self) {
        let rows = self.right.len();
        let width = 2 * rows;
        let mut work = vec![0.0; rows * width];
        for (position, column) in self.basis.iter().enumerate() {
            for (row, entry) in &self.columns[*column].entries {
                work[row * width + position] = *entry;
            }
        }
        for row in 0..rows {
            work[row * width + rows + row] = 1.0;
        }
        for pivot in 0..rows {
            let mut best = pivot;
            for row in pivot + 1..rows {
                if work[row * width + pivot].abs() > work[best * width + pivot].abs() {
                    best = row;
                }
            }
            let value = work[best * width + pivot];
            if value.abs() < 1e-11 {
                return;
            }
            if best != pivot {
                for index in 0..width {
                    work.swap(best * width + index, pivot * width + index);
                }
            }
            let mut line = work[pivot * width..(pivot + 1) * width].to_vec();
            for entry in &mut line {
                *entry /= value;
            }
            for (row, target) in work.chunks_exact_mut(width).enumerate() {
                let factor = target[pivot];
                if row != pivot && factor != 0.0 {
                    for (entry, source) in target[pivot..].iter_mut().zip(&line[pivot..]) {
                        *entry -= factor * source;
                    }
                }
            }
            work[pivot * width..(pivot + 1) * width].copy_from_slice(&line);
        }
        for row in 0..rows {
            let from = row * width + rows;
            self.inverse[row * rows..(row + 1) * rows].copy_from_slice(&work[from..from + rows]);
        }
        self.refresh();
    }
}
