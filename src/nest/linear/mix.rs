//! Mixes of stock lengths: raises the bound where the linear program mixes lengths in fractions.
//!
//! A cost is only possible with certain whole numbers of sticks of each length. For each cost from the bound on, every
//! mix of that cost is refuted or tried: a cover (see [`Cover`]) refutes it if its sticks are not worth the total; else
//! the linear program is solved with exactly these sticks, which gives the cover that refutes it and often its
//! neighbors, or patterns for a plan. When all mixes of a cost are refuted, no plan costs that much. This is branching
//! on the stock used (Belov and Scheithauer, A cutting plane algorithm for the one-dimensional cutting stock problem with
//! multiple stock lengths, 2002) done by listing. It ends when there are too many mixes.

use crate::nest::linear::Budget;
use crate::nest::linear::bound::Cover;
use crate::nest::linear::problem::Problem;

/// Steps of listing mixes.
const STEP_LIMIT: usize = 200_000;

/// Returns all numbers of sticks of each bar that cost at least `from` and less than `below` and that no cover refutes,
/// with their costs, the cheapest first; or nothing if there are too many.
pub(super) fn in_range(
    problem: &Problem,
    covers: &[Cover],
    from: i128,
    below: i128,
    budget: &mut Budget,
) -> Option<Vec<(i128, Vec<i64>)>> {
    let counts = vec![0; problem.bars.len()];
    let mut listing =
        Listing { problem, covers, from, below, counts, mixes: Vec::new(), steps_left: STEP_LIMIT };
    let needs: Vec<i128> = covers.iter().map(|cover| cover.total).collect();
    let is_done = listing.add(0, 0, &needs);
    budget.spend((STEP_LIMIT - listing.steps_left) as u64 * 8);
    let mut mixes = listing.mixes;
    if !is_done {
        return None;
    }
    mixes.sort();
    Some(mixes)
}

/// Tells whether the cover shows that the mix cannot place everything.
pub(super) fn is_refuted(mix: &[i64], cover: &Cover) -> bool {
    let worth = mix.iter().zip(&cover.worth);
    let worth: i128 = worth.map(|(count, worth)| i128::from(*count) * i128::from(*worth)).sum();
    worth < cover.total
}

/// Returns the problem with exactly the sticks of a mix.
pub(super) fn limited(problem: &Problem, mix: &[i64]) -> Problem {
    let mut limited = problem.clone();
    for (bar, count) in limited.bars.iter_mut().zip(mix) {
        bar.available = Some(*count);
    }
    limited
}

struct Listing<'a> {
    problem: &'a Problem,
    covers: &'a [Cover],
    from: i128,
    below: i128,
    counts: Vec<i64>,
    mixes: Vec<(i128, Vec<i64>)>,
    steps_left: usize,
}

impl Listing<'_> {
    /// Adds the mixes of the bars from `bar` on to those of the bars before, which cost `cost` and leave `needs`; tells
    /// whether it was done in the steps allowed.
    fn add(&mut self, bar: usize, cost: i128, needs: &[i128]) -> bool {
        if self.steps_left == 0 {
            return false;
        }
        self.steps_left -= 1;
        let bars = &self.problem.bars;
        if bar == bars.len() {
            if self.from <= cost && needs.iter().all(|need| *need <= 0) {
                self.mixes.push((cost, self.counts.clone()));
            }
            return true;
        }
        let budget = self.below - 1 - cost;
        let is_hopeless = self
            .covers
            .iter()
            .zip(needs)
            .any(|(cover, need)| !could_cover(self.problem, cover, bar, budget, *need));
        if is_hopeless {
            return true;
        }
        let price = i128::from(bars[bar].cost);
        let most = if price > 0 {
            i64::try_from(budget / price).unwrap_or(i64::MAX)
        } else {
            // Free sticks: all of them, or as many as the pieces can fill.
            let most =
                self.problem.demand.iter().fold(0_i64, |sum, count| sum.saturating_add(*count));
            most.saturating_add(self.problem.run / self.problem.splice_min + 1)
        };
        let most = most.min(bars[bar].available.unwrap_or(i64::MAX));
        let least = if price == 0 {
            most
        } else if bar + 1 == bars.len() {
            // The last bar must bring the cost into the range.
            let missing = (self.from - cost).max(0);
            i64::try_from((missing + price - 1) / price).unwrap_or(i64::MAX)
        } else {
            0
        };
        for count in (least..=most).rev() {
            self.counts[bar] = count;
            let left = self.covers.iter().zip(needs);
            let left: Vec<i128> = left
                .map(|(cover, need)| need - i128::from(count) * i128::from(cover.worth[bar]))
                .collect();
            if !self.add(bar + 1, cost + i128::from(count) * price, &left) {
                return false;
            }
        }
        true
    }
}

/// Tells whether sticks of the bars from `first` on, in fractions, could cover the need at the cost.
fn could_cover(problem: &Problem, cover: &Cover, first: usize, cost: i128, need: i128) -> bool {
    (first..problem.bars.len()).any(|bar| {
        let price = i128::from(problem.bars[bar].cost);
        let worth = i128::from(cover.worth[bar]);
        // All at the best rate; a free stick covers anything.
        need <= 0
            || (price == 0 && worth > 0)
            || need.saturating_mul(price) <= worth.saturating_mul(cost)
    })
}
