//! From fractions to whole sticks: dives.
//!
//! A dive cuts the whole part of the linear program's solution, rounds up the patterns nearest to the next whole number,
//! and solves the program afresh for what is left, until nothing is (residual problems; Belov and Scheithauer, A
//! branch-and-cut-and-price algorithm for one-dimensional and two-dimensional stock cutting, 2006; diving heuristics,
//! Sadykov and others, 2019). On the way down the rest is also finished by the greedy ways. The first dive always takes
//! the largest fraction; the next ones choose among near ones by chance, and profit from all patterns found so far.
#![expect(
    clippy::float_arithmetic,
    reason = "fractions of the linear program only steer the search"
)]
#![expect(
    clippy::cast_precision_loss,
    reason = "fractions of the linear program only steer the search"
)]
#![expect(clippy::cast_possible_truncation, reason = "a part of a plan is far below 2^53")]

use indexmap::IndexSet;

use crate::nest::linear::Budget;
use crate::nest::linear::bound::Cover;
use crate::nest::linear::columns;
use crate::nest::linear::greedy;
use crate::nest::linear::problem::{Pattern, Plan, Problem};
use crate::watch::Watch;

/// Fractions closer to the next whole number than this are whole.
const NEAR: f64 = 1e-5;

/// The best plan found, what no plan is below, and how that is proven.
pub(super) struct Searched {
    pub(super) plan: Plan,
    /// In units.
    pub(super) bound: i128,
    pub(super) covers: Vec<Cover>,
    pub(super) method: &'static str,
}

/// Searches for the cheapest plan until it is proven or the budget is spent.
pub(super) fn search(
    problem: &Problem,
    rounds: u32,
    seed: u64,
    budget: &mut Budget,
    watch: &dyn Watch,
) -> Searched {
    let mut best = greedy::longest_first(Plan::empty(problem));
    let mut pool: IndexSet<Pattern> = IndexSet::new();
    let collect = |plan: &Plan, pool: &mut IndexSet<Pattern>| {
        pool.extend(plan.cuts.iter().map(|(pattern, _)| pattern.clone()));
    };
    collect(&best, &mut pool);
    let length = Cover::of_length(problem);
    let mut bound = length.fractional(problem);
    bound = length.whole(problem, bound, best.cost());
    let mut covers = vec![length];
    let mut method = "length";
    let is_proven = |best: &Plan, bound: i128| best.rest.is_done() && best.cost() <= bound;

    let mut plans = Vec::new();
    if !is_proven(&best, bound) {
        plans.push(greedy::closest(Plan::empty(problem), &mut budget.part(8)));
        plans.extend(greedy::corrected(problem, rounds.min(4), &mut budget.part(8)));
    }
    for plan in plans {
        collect(&plan, &mut pool);
        offer(&mut best, plan);
    }
    if is_proven(&best, bound) {
        return Searched { plan: best, bound, covers, method };
    }

    let relaxed = columns::relax(problem, &mut pool, usize::MAX, budget, watch);
    let mut lifted = bound.max(relaxed.bound);
    if best.rest.is_done() {
        lifted = relaxed.cover.whole(problem, lifted, best.cost());
    }
    if lifted > bound {
        bound = lifted;
        method = "column generation";
    }
    covers.push(relaxed.cover.clone());

    let mut chance = Chance(seed);
    let mut dives = 0;
    while !is_proven(&best, bound) && !watch.is_stopped() {
        // Even without budget the solution at hand is rounded once.
        if dives > 0 && budget.is_spent() {
            break;
        }
        watch.progress("dives", dives, rounds as usize * 4);
        if dives >= rounds as usize * 4 {
            break;
        }
        let spread = if dives == 0 { 0.0 } else { 0.4 };
        let mut dive = Dive { best: &mut best, pool: &mut pool, bound, budget, watch };
        dive.run(problem, &relaxed.parts, spread, &mut chance);
        dives += 1;
    }
    Searched { plan: best, bound, covers, method }
}

/// Takes the plan if it is better.
fn offer(best: &mut Plan, plan: Plan) {
    if plan.score() < best.score() {
        *best = plan;
    }
}

struct Dive<'a> {
    best: &'a mut Plan,
    pool: &'a mut IndexSet<Pattern>,
    bound: i128,
    budget: &'a mut Budget,
    watch: &'a dyn Watch,
}

impl Dive<'_> {
    fn run(
        &mut self,
        problem: &Problem,
        first: &[(Pattern, f64)],
        spread: f64,
        chance: &mut Chance,
    ) {
        let mut plan = Plan::empty(problem);
        let mut parts = first.to_vec();
        loop {
            cut_whole(&mut plan, &mut parts);
            round_up(&mut plan, &mut parts, spread, chance);
            self.finish(&plan);
            let is_over = plan.rest.is_done()
                || (self.best.rest.is_done() && self.best.cost() <= self.bound)
                || self.budget.is_spent()
                || self.watch.is_stopped();
            if is_over {
                return;
            }
            let rest = plan.rest.clone();
            let rounds = 10 + rest.sizes.len() / 2;
            let relaxed = columns::relax(&rest, self.pool, rounds, self.budget, self.watch);
            let cost = plan.cost() + relaxed.bound;
            if relaxed.parts.is_empty() || (self.best.rest.is_done() && cost >= self.best.cost()) {
                return;
            }
            parts = relaxed.parts;
        }
    }

    /// Finishes a plan by the greedy ways and offers the results.
    fn finish(&mut self, plan: &Plan) {
        offer(self.best, greedy::longest_first(plan.clone()));
        if !plan.rest.is_done() {
            let mut part = self.budget.part(16);
            offer(self.best, greedy::closest(plan.clone(), &mut part));
            self.budget.merge(&part);
        }
    }
}

/// Cuts the whole part of each pattern and leaves the fractions, the largest first.
fn cut_whole(plan: &mut Plan, parts: &mut Vec<(Pattern, f64)>) {
    for (pattern, amount) in parts.iter_mut() {
        let whole = (*amount + NEAR).floor();
        let times = (whole as i64).min(plan.rest.most(pattern));
        plan.cut(pattern, times);
        *amount = (*amount - whole).max(0.0);
    }
    parts.retain(|(_, amount)| *amount > NEAR);
    parts.sort_by(|(a, x), (b, y)| y.total_cmp(x).then_with(|| a.cmp(b)));
}

/// Rounds up a few of the fractions: those that are nearly one, and at least one.
fn round_up(plan: &mut Plan, parts: &mut [(Pattern, f64)], spread: f64, chance: &mut Chance) {
    for (_, amount) in parts.iter_mut() {
        *amount += spread * chance.next();
    }
    parts.sort_by(|(a, x), (b, y)| y.total_cmp(x).then_with(|| a.cmp(b)));
    let most = parts.len().div_ceil(10);
    let mut rounded = 0;
    for (pattern, amount) in parts.iter() {
        if rounded >= most || (rounded > 0 && *amount < 0.6) {
            break;
        }
        if plan.rest.most(pattern) > 0 {
            plan.cut(pattern, 1);
            rounded += 1;
        }
    }
}

/// Random numbers from a seed (Steele, Lea and Flood, Fast splittable pseudorandom number generators, 2014).
struct Chance(u64);

impl Chance {
    /// Returns a number from 0 to 1.
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        mixed ^= mixed >> 31;
        (mixed >> 11) as f64 / (1_u64 << 53) as f64
    }
}
