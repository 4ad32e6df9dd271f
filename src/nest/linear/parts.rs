//! Many sizes at once: parted into groups that are searched one by one.
//!
//! A linear program over thousands of sizes costs more than it tells: patterns of a few hundred sizes already fill sticks
//! nearly whole. So the sizes, by length, are dealt out to groups like cards; each group is searched by itself, and the sticks
//! that waste most are then searched together, as the residual problem they leave (after Belov and Scheithauer 2006). Work
//! grows with the sizes. The prices of a group make a bound for all (see [`Cover`]), proven like any other.
#![expect(
    clippy::float_arithmetic,
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    reason = "prices are scaled to whole numbers, of which the bound is made"
)]

use rayon::iter::{IntoParallelRefIterator, ParallelIterator};

use crate::nest::linear::Budget;
use crate::nest::linear::bound::Cover;
use crate::nest::linear::dive::{self, Searched};
use crate::nest::linear::greedy;
use crate::nest::linear::knapsack::{self, Care, Prices};
use crate::nest::linear::problem::{Pattern, Plan, Problem};
use crate::watch::Watch;

/// Sizes of a group, about.
const GROUP: usize = 300;
/// Most sizes that are searched as one.
const MOST: usize = 500;
/// A group may take such a part of the work, however many there are.
const SHARE: u64 = 4;
/// Sticks that are searched once more, at most.
const WORST: i64 = 300;
/// Sticks that waste less than such a part are left as they are.
const WASTE: i64 = 200;
/// Sets of prices that a bound is looked for with, at most.
const PRICES: usize = 6;
/// Steps of proving what a stick is worth.
const PROOF: u64 = 50_000_000;

/// Searches for the cheapest plan until it is proven or the budget is spent, in groups where there are many sizes.
pub(super) fn search(
    problem: &Problem,
    rounds: u32,
    seed: u64,
    budget: &mut Budget,
    watch: &dyn Watch,
) -> Searched {
    let count = problem.sizes.len();
    if count <= MOST {
        return dive::search(problem, rounds, seed, budget, watch);
    }
    let groups = count.div_ceil(GROUP);
    let dealt: Vec<Vec<usize>> =
        (0..groups).map(|group| (group..count).step_by(groups).collect()).collect();
    let parts = parts(problem, &dealt);
    let share = budget.left() / SHARE;
    let found: Vec<Searched> = parts
        .par_iter()
        .map(|part| dive::search(part, rounds, seed, &mut Budget::new(share), watch))
        .collect();
    let mut plan = Plan::empty(problem);
    for (found, items) in found.iter().zip(&dealt) {
        for (pattern, times) in &found.plan.cuts {
            let pattern = renamed(pattern, items);
            plan.rest.take(&pattern, *times);
            plan.cuts.push((pattern, *times));
        }
    }
    if !plan.rest.is_done() {
        // Stock that one group had no use for may serve another.
        plan = greedy::longest_first(plan);
    }
    let again = rejoined(problem, &plan, rounds, seed, &mut Budget::new(share), watch);
    if again.score() < plan.score() {
        plan = again;
    }
    let mut covers = vec![Cover::of_length(problem)];
    let (mut bound, mut method) = (covers[0].fractional(problem), "length");
    for cover in self::covers(problem, &parts, &found, budget) {
        let tighter = cover.fractional(problem);
        if tighter > bound {
            (bound, method) = (tighter, "column generation");
        }
        covers.push(cover);
    }
    if plan.rest.is_done() {
        for cover in &covers {
            bound = cover.whole(problem, bound, plan.cost());
        }
    }
    Searched { plan, bound, covers, method, prices: None }
}

/// Returns the problem of each group; limited stock and the run are shared out by the length that is needed.
fn parts(problem: &Problem, dealt: &[Vec<usize>]) -> Vec<Problem> {
    let load = |items: &[usize]| -> i128 {
        let pieces = items.iter();
        pieces
            .map(|item| i128::from(problem.sizes[*item]) * i128::from(problem.demand[*item]))
            .sum()
    };
    let all: i128 = dealt.iter().map(|items| load(items)).sum::<i128>().max(1);
    // What the groups up to one get of an amount, rounded down, so that the shares add up.
    let up_to = |amount: i64, load: i128| {
        i64::try_from(i128::from(amount) * load / all).expect("a share is not above the whole")
    };
    let groups = i64::try_from(dealt.len()).expect("groups are fewer than sizes");
    // A run that is short for its splices is left to one group.
    let is_shared = problem.run / groups / 4 >= problem.splice_min;
    let mut before = 0;
    dealt
        .iter()
        .enumerate()
        .map(|(group, items)| {
            let after = before + load(items);
            let share = |amount: i64| up_to(amount, after) - up_to(amount, before);
            let mut part = part(problem, items);
            for bar in &mut part.bars {
                bar.available = bar.available.map(share);
            }
            part.run = match (is_shared, group) {
                (true, _) => share(problem.run),
                (false, 0) => problem.run,
                (false, _) => 0,
            };
            before = after;
            part
        })
        .collect()
}

/// Returns the problem of some sizes alone.
fn part(problem: &Problem, items: &[usize]) -> Problem {
    Problem {
        sizes: items.iter().map(|item| problem.sizes[*item]).collect(),
        demand: items.iter().map(|item| problem.demand[*item]).collect(),
        bars: problem.bars.clone(),
        ..*problem
    }
}

/// Returns the pattern of a group as one of the whole.
fn renamed(pattern: &Pattern, items: &[usize]) -> Pattern {
    let counts = pattern.counts.iter().map(|(item, count)| (items[*item], *count)).collect();
    Pattern { counts, ..*pattern }
}

/// Returns the plan with the sticks that waste most searched together.
fn rejoined(
    problem: &Problem,
    plan: &Plan,
    rounds: u32,
    seed: u64,
    budget: &mut Budget,
    watch: &dyn Watch,
) -> Plan {
    let waste = |pattern: &Pattern| {
        problem.bars[pattern.bar].capacity - problem.used(pattern) - pattern.splice
    };
    let mut order: Vec<usize> = (0..plan.cuts.len()).collect();
    order.sort_by_key(|cut| (std::cmp::Reverse(waste(&plan.cuts[*cut].0)), *cut));
    let mut loosened = vec![0; plan.cuts.len()];
    let mut is_loose = vec![false; problem.sizes.len()];
    let (mut sizes, mut sticks) = (0, 0);
    for cut in order {
        let (pattern, times) = &plan.cuts[cut];
        let is_full = waste(pattern) <= problem.bars[pattern.bar].capacity / WASTE;
        if is_full || sizes >= GROUP || sticks >= WORST {
            break;
        }
        loosened[cut] = (*times).min(WORST - sticks);
        sticks += loosened[cut];
        for (item, _) in &pattern.counts {
            sizes += usize::from(!std::mem::replace(&mut is_loose[*item], true));
        }
    }
    let mut kept = Plan::empty(problem);
    for ((pattern, times), loosened) in plan.cuts.iter().zip(loosened) {
        if *times > loosened {
            kept.rest.take(pattern, times - loosened);
            kept.cuts.push((pattern.clone(), times - loosened));
        }
    }
    let items: Vec<usize> =
        (0..problem.sizes.len()).filter(|item| kept.rest.demand[*item] > 0).collect();
    if kept.rest.is_done() {
        return kept;
    }
    let found = dive::search(&part(&kept.rest, &items), rounds, seed, budget, watch);
    for (pattern, times) in &found.plan.cuts {
        kept.cut(&renamed(pattern, &items), *times);
    }
    kept
}

/// Returns covers by the prices that each group gives to all sizes, and by their mean.
///
/// A size is worth no less than the dearest of the group's that is no longer: a stick that holds the one holds the other. So
/// prices of a group are prices of all, and so is any mean of such prices.
fn covers(
    problem: &Problem,
    parts: &[Problem],
    found: &[Searched],
    budget: &mut Budget,
) -> Vec<Cover> {
    let dearest = problem.bars.iter().map(|bar| bar.cost).max().unwrap_or(0);
    if dearest <= 0 {
        return Vec::new();
    }
    let scale = (1_u64 << 44) as f64 / dearest as f64;
    let priced = parts.iter().zip(found).filter_map(|(part, found)| {
        let (prices, cover) = found.prices.as_ref()?;
        let rate = |bar: usize| part.bars[bar].cost as f64 / (cover.worth[bar] as f64).max(1.0);
        let rate = (0..part.bars.len()).map(rate).fold(f64::MAX, f64::min) * scale;
        let mut items = vec![0.0_f64; problem.sizes.len()];
        let mut known = part.sizes.iter().zip(&prices.items).rev().peekable();
        let mut most = 0.0_f64;
        for (item, size) in problem.sizes.iter().enumerate().rev() {
            while let Some((_, price)) = known.next_if(|(shorter, _)| *shorter <= size) {
                most = most.max(*price as f64 * rate);
            }
            items[item] = most;
        }
        Some((items, prices.run as f64 * rate))
    });
    let mut all: Vec<(Vec<f64>, f64)> = priced.collect();
    let count = all.len() as f64;
    let sum = |sum: Vec<f64>, items: &Vec<f64>| -> Vec<f64> {
        sum.iter().zip(items).map(|(sum, price)| sum + price / count).collect()
    };
    let mean = all.iter().map(|(items, _)| items).fold(vec![0.0; problem.sizes.len()], sum);
    let run = all.iter().map(|(_, run)| run / count).sum();
    all.truncate(PRICES - 1);
    all.push((mean, run));
    let covers = all.par_iter().map(|(items, run)| {
        let items = items.iter().map(|price| *price as i64).collect();
        let prices = Prices { items, run: *run as i64 };
        let best = problem
            .bars
            .iter()
            .map(|bar| knapsack::best(problem, bar, &prices, 0, Care::Good { work: PROOF }));
        let best: Vec<_> = best.map(|best| (best.ceiling, best.work)).collect();
        let worth = best.iter().map(|(ceiling, _)| *ceiling).collect();
        let work = best.iter().map(|(_, work)| *work).sum();
        (Cover::of_prices(problem, &prices, worth), work)
    });
    let covers: Vec<(Cover, u64)> = covers.collect();
    budget.spend(covers.iter().map(|(_, work)| *work).sum());
    covers.into_iter().map(|(cover, _)| cover).collect()
}
