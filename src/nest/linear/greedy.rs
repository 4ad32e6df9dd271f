//! First plans: one pattern after the other, each repeated as often as the demand allows.
//!
//! Three ways to fill a stick: longest piece first (first fit decreasing, in patterns); the longest piece, then what fills
//! the rest best (Gupta and Ho, A new heuristic algorithm for the one-dimensional bin-packing problem, 1999); and by
//! values that rise for pieces which were cut with much waste (sequential value correction; Mukhacheva and others, 2000,
//! Belov and Scheithauer, 2007). Among the stocks the one with the least cost per length used is taken.
#![expect(clippy::float_arithmetic, reason = "the values of pieces only steer the search")]
#![expect(clippy::cast_precision_loss, reason = "the values of pieces only steer the search")]
#![expect(clippy::cast_possible_truncation, reason = "values are scaled to stay below 2^50")]

use crate::nest::linear::Budget;
use crate::nest::linear::knapsack::{self, Care, Prices};
use crate::nest::linear::problem::{Bar, Pattern, Plan, Problem};

/// Work for filling one stick.
const FILL_WORK: u64 = 200_000;

/// Fills sticks with the longest pieces first.
pub(super) fn longest_first(start: Plan) -> Plan {
    build(start, |rest, bar| {
        let mut left = rest.bars[bar].capacity;
        let mut counts = Vec::new();
        for (item, size) in rest.sizes.iter().enumerate() {
            let count = rest.demand[item].min(left / size);
            if count > 0 {
                counts.push((item, count));
                left -= count * size;
            }
        }
        counts
    })
}

/// Takes the longest piece, then what fills the rest of the stick best.
pub(super) fn closest(start: Plan, budget: &mut Budget) -> Plan {
    build(start, |rest, bar| {
        let capacity = rest.bars[bar].capacity;
        let longest = (0..rest.sizes.len())
            .find(|item| rest.demand[*item] > 0 && rest.sizes[*item] <= capacity);
        let Some(longest) = longest else { return Vec::new() };
        let mut inner = rest.clone();
        inner.demand[longest] -= 1;
        let bar = Bar {
            capacity: capacity - rest.sizes[longest],
            span: rest.bars[bar].span - rest.sizes[longest],
            ..rest.bars[bar].clone()
        };
        // The pieces count for more than the run, which takes any rest that is long enough.
        let prices = Prices { items: rest.sizes.iter().map(|size| size * 4).collect(), run: 3 };
        let mut counts = filled(&inner, &bar, &prices, budget);
        match counts.iter_mut().find(|(item, _)| *item == longest) {
            Some((_, count)) => *count += 1,
            None => counts.push((longest, 1)),
        }
        counts.sort_unstable();
        counts
    })
}

/// Fills by values and corrects them, `rounds` times over; returns all plans.
pub(super) fn corrected(problem: &Problem, rounds: u32, budget: &mut Budget) -> Vec<Plan> {
    let widest = problem.bars.iter().map(|bar| bar.capacity).max().unwrap_or(1).max(1) as f64;
    let scale = (1_i64 << 40) as f64 / widest;
    let base: Vec<f64> = problem
        .sizes
        .iter()
        .map(|size| *size as f64 * (1.0 + 0.1 * *size as f64 / widest))
        .collect();
    let mut values = base.clone();
    let mut plans = Vec::new();
    for _ in 0..rounds {
        if budget.is_spent() {
            break;
        }
        let prices = Prices {
            items: values.iter().map(|value| (value * scale) as i64).collect(),
            run: (scale * 0.9) as i64,
        };
        let plan =
            build(Plan::empty(problem), |rest, bar| filled(rest, &rest.bars[bar], &prices, budget));
        for (pattern, times) in &plan.cuts {
            let used = problem.used(pattern) + pattern.splice;
            let waste = problem.bars[pattern.bar].capacity as f64 / used.max(1) as f64;
            let waste = waste.min(2.0);
            for (item, count) in &pattern.counts {
                let share = (count * times) as f64 / problem.demand[*item] as f64 * 0.5;
                values[*item] += share * (base[*item] * waste - values[*item]);
            }
        }
        plans.push(plan);
    }
    plans
}

/// Goes on from a plan until nothing is left or nothing fits, filling with `fill`.
fn build(start: Plan, mut fill: impl FnMut(&Problem, usize) -> Vec<(usize, i64)>) -> Plan {
    let mut plan = start;
    while !plan.rest.is_done() {
        let mut best: Option<(Pattern, i128, i128)> = None;
        for bar in 0..plan.rest.bars.len() {
            if plan.rest.bars[bar].available == Some(0) {
                continue;
            }
            let mut pattern = Pattern { bar, counts: fill(&plan.rest, bar), splice: 0 };
            let used = plan.rest.used(&pattern);
            pattern.splice = plan.rest.splice(&plan.rest.bars[bar], used);
            let value = i128::from(used + pattern.splice);
            let cost = i128::from(plan.rest.bars[bar].cost);
            let is_better = value > 0
                && best.as_ref().is_none_or(|(_, best_cost, best_value)| {
                    (cost * best_value, -value) < (best_cost * value, -best_value)
                });
            if is_better {
                best = Some((pattern, cost, value));
            }
        }
        let Some((pattern, _, _)) = best else { break };
        let times = plan.rest.most(&pattern).max(1);
        plan.cut(&pattern, times);
    }
    plan
}

fn filled(problem: &Problem, bar: &Bar, prices: &Prices, budget: &mut Budget) -> Vec<(usize, i64)> {
    let best = knapsack::best(problem, bar, prices, 0, Care::Good { work: FILL_WORK });
    budget.spend(best.work);
    best.found.map_or_else(Vec::new, |found| found.counts)
}
