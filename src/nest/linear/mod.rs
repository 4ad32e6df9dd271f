//! Nests sticks: which stock lengths to take and how to cut them.
//!
//! In: an instance in one dimension. Out: a nest with the least cost found and a bound that holds whatever the search
//! did. First greedy plans; where they do not meet the bound, column generation for a sharper bound and for patterns,
//! and dives to whole sticks. Every bound is made of whole numbers; floats only say where to look.
//!
//! Where stock runs out, as much length as possible is placed, and the bound is that of the pieces placed.
//!
//! Not here: staged or exact branching. A nest that is not proven says so.

mod bound;
mod columns;
mod dive;
mod greedy;
mod knapsack;
mod layout;
mod mix;
mod parts;
mod problem;

use crate::nest::budget::Budget;
use crate::nest::{Bound, BoundRule, Ending, Instance, Nest, Options, Unplaced, UnplacedReason};
use crate::quantity::Ratio;
use crate::watch::Watch;

use bound::Cover;
use dive::Searched;
use problem::{Plan, Problem, Scaled};

/// Steps of work for one unit of effort; a step takes a few nanoseconds.
const STEPS: u64 = 20_000_000;

pub(super) fn nest(instance: &Instance, options: Options, watch: &dyn Watch) -> Nest {
    let scaled = Scaled::new(instance);
    let effort = options.effort.max(1);
    let mut budget = Budget::new(STEPS.saturating_mul(u64::from(effort)));
    let searched = parts::search(&scaled.problem, effort, options.seed, &mut budget, watch);
    let Searched { plan, bound, covers, method, .. } = searched;

    let mut unplaced: Vec<Unplaced> = scaled
        .hopeless
        .iter()
        .map(|(piece, count, reason)| Unplaced { piece: *piece, count: *count, reason: *reason })
        .collect();
    let is_whole = plan.rest.is_done();
    let (bound, stocks, method) = if is_whole {
        (bound, stocks(&scaled.problem, &covers), method)
    } else {
        let placed = placed(&scaled.problem, &plan);
        let cover = Cover::of_length(&placed);
        let bound = cover.whole(&placed, cover.fractional(&placed), plan.cost());
        (bound, cover.stocks(&placed), "length")
    };
    let (layouts, left) = layout::layouts(instance, &scaled, &plan);
    unplaced.extend(left.into_iter().map(|(piece, count)| Unplaced {
        piece,
        count,
        reason: UnplacedReason::NoStock,
    }));
    unplaced.sort_by_key(|unplaced| (unplaced.piece.is_none(), unplaced.piece));

    let cost: Ratio = layouts
        .iter()
        .map(|layout| {
            &instance.stocks[layout.stock].cost * &Ratio::whole(i128::from(layout.repeat))
        })
        .sum();
    let bound =
        Bound { cost: &scaled.unit * &Ratio::whole(bound), stocks, rule: BoundRule::Any, method };
    let ending = Ending::of(&cost, &bound.cost, &unplaced, watch.is_stopped());
    Nest { layouts, unplaced, cost, bound, ending }
}

/// Returns the least number of sticks by any of the covers.
fn stocks(problem: &Problem, covers: &[Cover]) -> u64 {
    covers.iter().map(|cover| cover.stocks(problem)).max().unwrap_or(0)
}

/// Returns the problem reduced to what a plan places.
fn placed(problem: &Problem, plan: &Plan) -> Problem {
    let mut placed = problem.clone();
    for (need, left) in placed.demand.iter_mut().zip(&plan.rest.demand) {
        *need -= left;
    }
    placed.run -= plan.rest.run;
    placed
}

#[cfg(test)]
mod tests;
