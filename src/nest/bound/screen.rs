//! Picks the pairs of scales worth an exact look, in floats.
#![expect(
    clippy::float_arithmetic,
    clippy::cast_precision_loss,
    reason = "chooses which values to look at more closely; no bound is taken from it"
)]

use crate::nest::bound::{Area, Scaled};
use crate::nest::rect::problem::Problem;
use crate::quantity::Ratio;

/// How many pairs are kept.
const KEPT: usize = 8;

/// The scaled sizes, in floats.
pub(super) struct Screen<'a> {
    problem: &'a Problem,
    counts: Vec<f64>,
    along: Vec<Row>,
    across: Vec<Row>,
    /// Costs of the bins, in the dearest.
    costs: Vec<f64>,
    run: f64,
}

/// A scale's values of each item's first and last size, and of the bins.
struct Row {
    first: Vec<f64>,
    last: Vec<f64>,
    bins: Vec<f64>,
}

impl Screen<'_> {
    pub(super) fn new<'a>(
        problem: &'a Problem,
        area: &Area,
        along: &[Scaled],
        across: &[Scaled],
    ) -> Screen<'a> {
        let row = |scaled: &Scaled| Row {
            first: scaled.items.iter().map(|sizes| sizes[0] as f64).collect(),
            last: scaled.items.iter().map(|sizes| sizes[sizes.len() - 1] as f64).collect(),
            bins: scaled.bins.iter().map(|most| *most as f64).collect(),
        };
        Screen {
            problem,
            counts: area.counts.iter().map(|count| *count as f64).collect(),
            along: along.iter().map(row).collect(),
            across: across.iter().map(row).collect(),
            costs: costs(problem),
            run: area.run as f64,
        }
    }

    /// Returns the pairs of scales whose values need the dearest and the most bins, as positions.
    pub(super) fn best_pairs(&self) -> Vec<(usize, usize)> {
        let mut by_cost: Vec<(f64, (usize, usize))> = Vec::new();
        let mut by_count: Vec<(f64, (usize, usize))> = Vec::new();
        for (first, along) in self.along.iter().enumerate() {
            for (second, across) in self.across.iter().enumerate() {
                let total = self.total(along, across);
                let most: Vec<f64> =
                    along.bins.iter().zip(&across.bins).map(|(left, right)| left * right).collect();
                let largest = most.iter().copied().fold(0.0, f64::max);
                if largest > 0.0 {
                    keep(&mut by_count, total / largest, (first, second));
                }
                if most.len() > 1 {
                    keep(&mut by_cost, self.cover(total, &most), (first, second));
                }
            }
        }
        by_cost.into_iter().chain(by_count).map(|(_, pair)| pair).collect()
    }

    /// Sums four lanes apart, which lets the compiler use wide registers.
    fn total(&self, along: &Row, across: &Row) -> f64 {
        let mut lanes = [0.0; 4];
        for (index, count) in self.counts.iter().enumerate() {
            let first = along.first[index] * across.first[index];
            let last = along.last[index] * across.last[index];
            lanes[index % 4] += count * first.min(last);
        }
        let narrowest = across.bins.iter().copied().fold(f64::MAX, f64::min);
        lanes.iter().sum::<f64>() + self.run * narrowest
    }

    /// Returns the cost of parts of bins that hold `total`.
    fn cover(&self, total: f64, most: &[f64]) -> f64 {
        let rate = |bin: &usize| self.costs[*bin] / most[*bin];
        let mut order: Vec<usize> = (0..most.len()).filter(|bin| most[*bin] > 0.0).collect();
        order.sort_by(|left, right| rate(left).total_cmp(&rate(right)));
        let mut left = total;
        let mut cost = 0.0;
        for bin in order {
            let available = self.problem.bins[bin].available;
            let all = available.map_or(f64::MAX, |available| available as f64 * most[bin]);
            let taken = left.min(all);
            cost += self.costs[bin] * taken / most[bin];
            left -= taken;
        }
        cost
    }
}

fn keep(kept: &mut Vec<(f64, (usize, usize))>, weight: f64, pair: (usize, usize)) {
    if kept.len() == KEPT && weight <= kept[KEPT - 1].0 {
        return;
    }
    let place = kept.partition_point(|(other, _)| *other >= weight);
    kept.insert(place, (weight, pair));
    kept.truncate(KEPT);
}

pub(super) fn costs(problem: &Problem) -> Vec<f64> {
    let dearest = problem.bins.iter().map(|bin| &bin.cost).max();
    let share = |cost: &Ratio| {
        let share = dearest.and_then(|dearest| cost.checked_div(dearest)).unwrap_or_default();
        (share * Ratio::whole(1_000_000)).floor().to_integer().unwrap_or(0) as f64
    };
    problem.bins.iter().map(|bin| share(&bin.cost)).collect()
}
