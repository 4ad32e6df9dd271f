//! From fractions to whole sticks: dives.
//!
//! A dive cuts the whole part of the linear program's solution, rounds up the pattern nearest to the next whole number,
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
use crate::nest::linear::columns::{self, Limits};
use crate::nest::linear::greedy;
use crate::nest::linear::knapsack::Prices;
use crate::nest::linear::mix;
use crate::nest::linear::problem::{Pattern, Plan, Problem};
use crate::watch::Watch;

/// Fractions closer to the next whole number than this are whole.
const NEAR: f64 = 1e-5;

/// Mixes of one cost that are tried at most.
const MIX_LIMIT: usize = 300;

/// How far chance may move a fraction.
const SPREAD: f64 = 0.4;

/// The best plan found, what no plan is below, and how that is proven.
pub(super) struct Searched {
    pub(super) plan: Plan,
    /// In units.
    pub(super) bound: i128,
    /// Prices the bound came from; each holds for any plan.
    pub(super) covers: Vec<Cover>,
    pub(super) method: &'static str,
    /// Prices of the linear program with their cover, if it was solved.
    pub(super) prices: Option<(Prices, Cover)>,
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
    best.settle();
    let mut search = Search {
        problem,
        best,
        pool: IndexSet::new(),
        bound: 0,
        covers: Vec::new(),
        method: "length",
        prices: None,
        chance: Chance(seed),
        budget,
        watch,
    };
    search.collect();
    let length = Cover::of_length(problem);
    search.lift(length.fractional(problem), length);
    if !search.is_over() {
        search.start(rounds);
    }
    if !search.is_over() {
        let mut pool = std::mem::take(&mut search.pool);
        let relaxed = columns::relax(problem, &mut pool, Limits::NONE, search.budget, search.watch);
        search.pool = pool;
        search.prices = relaxed.prices.map(|prices| (prices, relaxed.cover.clone()));
        let before = search.bound;
        search.lift(relaxed.bound, relaxed.cover);
        if search.bound > before {
            search.method = "column generation";
        }
        // Even without budget the solution at hand is rounded once.
        search.dive(problem, &relaxed.parts, 0.0);
        // A few dives may leave a gap that only another mix of stock closes; the others come last.
        let half = search.budget.left() / 2;
        let mut done = 1;
        while done < rounds && search.budget.left() > half && !search.is_over() {
            search.watch.progress("dives", done as usize, rounds as usize * 4);
            search.dive(problem, &relaxed.parts, SPREAD);
            done += 1;
        }
        search.try_mixes();
        while done < rounds * 4 && !search.is_over() {
            search.watch.progress("dives", done as usize, rounds as usize * 4);
            search.dive(problem, &relaxed.parts, SPREAD);
            done += 1;
        }
    }
    let Search { best, bound, covers, method, prices, .. } = search;
    Searched { plan: best, bound, covers, method, prices }
}

struct Search<'a> {
    problem: &'a Problem,
    best: Plan,
    pool: IndexSet<Pattern>,
    bound: i128,
    covers: Vec<Cover>,
    method: &'static str,
    prices: Option<(Prices, Cover)>,
    chance: Chance,
    budget: &'a mut Budget,
    watch: &'a dyn Watch,
}

impl Search<'_> {
    fn is_proven(&self) -> bool {
        self.best.rest.is_done() && self.best.cost() <= self.bound
    }

    fn is_over(&self) -> bool {
        self.is_proven() || self.budget.is_spent() || self.watch.is_stopped()
    }

    /// Takes the plan if it is better.
    fn offer(&mut self, mut plan: Plan) {
        plan.settle();
        if plan.score() < self.best.score() {
            self.best = plan;
            self.collect();
        }
    }

    fn collect(&mut self) {
        self.pool.extend(self.best.cuts.iter().map(|(pattern, _)| pattern.clone()));
    }

    /// Raises the bound to what a cover shows, and to the next cost that whole sticks can have.
    fn lift(&mut self, bound: i128, cover: Cover) {
        self.bound = self.bound.max(bound);
        if self.best.rest.is_done() {
            self.bound = cover.whole(self.problem, self.bound, self.best.cost());
        }
        self.covers.push(cover);
    }

    /// Makes the first plans.
    fn start(&mut self, rounds: u32) {
        let mut part = self.budget.part(8);
        let closest = greedy::closest(Plan::empty(self.problem), &mut part);
        let corrected = greedy::corrected(self.problem, rounds.min(4), &mut part);
        self.budget.merge(&part);
        for plan in corrected.into_iter().chain([closest]) {
            self.pool.extend(plan.cuts.iter().map(|(pattern, _)| pattern.clone()));
            self.offer(plan);
        }
    }

    /// Goes down from a solution of the program to a plan.
    fn dive(&mut self, problem: &Problem, first: &[(Pattern, f64)], spread: f64) {
        let mut plan = Plan::empty(problem);
        let mut parts = first.to_vec();
        if spread > 0.0 {
            // A larger rest leaves the program more ways to end in whole numbers.
            for (_, amount) in &mut parts {
                *amount = (*amount - (3.0 * self.chance.next()).floor()).max(0.0);
            }
        }
        loop {
            cut_whole(&mut plan, &mut parts);
            round_up(&mut plan, &mut parts, spread, &mut self.chance);
            self.finish(&plan);
            if plan.rest.is_done() || self.is_over() {
                return;
            }
            let limits = Limits { rounds: 10 + problem.sizes.len() / 2, ..Limits::NONE };
            let relaxed =
                columns::relax(&plan.rest, &mut self.pool, limits, self.budget, self.watch);
            let cost = plan.cost() + relaxed.bound;
            if relaxed.parts.is_empty() || (self.best.rest.is_done() && cost >= self.best.cost()) {
                return;
            }
            parts = relaxed.parts;
        }
    }

    /// Finishes a plan by the greedy ways and offers the results.
    fn finish(&mut self, plan: &Plan) {
        self.offer(greedy::longest_first(plan.clone()));
        if !plan.rest.is_done() {
            let mut part = self.budget.part(16);
            let closest = greedy::closest(plan.clone(), &mut part);
            self.budget.merge(&part);
            self.offer(closest);
        }
    }

    /// Refutes or tries the mixes of stock, the cheapest first, from the bound to the cost of the best plan.
    fn try_mixes(&mut self) {
        if self.problem.bars.len() < 2 || !self.best.rest.is_done() {
            return;
        }
        let mut is_open = false;
        let mut from = self.bound;
        while !self.is_over() && from < self.best.cost() {
            let mut below = self.best.cost();
            let mixes = loop {
                let mixes = mix::in_range(self.problem, &self.covers, from, below, self.budget);
                let is_last = below <= from + 1 || self.is_over();
                match mixes {
                    Some(mixes) if mixes.len() <= MIX_LIMIT || is_last => break mixes,
                    None if is_last => return,
                    _ => below = from + (below - from) / 2,
                }
            };
            // Of too many a sample is tried: it may hold a plan, but the bound rises no further.
            let step = mixes.len().div_ceil(MIX_LIMIT).max(1);
            for (cost, mix) in mixes.iter().step_by(step) {
                if self.is_over() || *cost >= self.best.cost() {
                    break;
                }
                if !is_open {
                    self.raise(*cost);
                }
                is_open |= step > 1 || !self.try_mix(mix, *cost);
            }
            if !is_open && !self.is_over() {
                self.raise(below.min(self.best.cost()));
            }
            from = below;
        }
    }

    fn raise(&mut self, bound: i128) {
        if bound > self.bound {
            self.bound = bound;
            self.method = "column generation by mix of stock";
        }
    }

    /// Tries a mix of stock; tells whether no plan uses exactly this.
    fn try_mix(&mut self, mix: &[i64], cost: i128) -> bool {
        if self.covers.iter().any(|cover| mix::is_refuted(mix, cover)) {
            return true;
        }
        let limited = mix::limited(self.problem, mix);
        let limits = Limits { goal: cost + 1, ..Limits::NONE };
        let relaxed = columns::relax(&limited, &mut self.pool, limits, self.budget, self.watch);
        if relaxed.bound > cost {
            self.covers.push(relaxed.cover);
            return true;
        }
        for spread in [0.0, SPREAD, SPREAD] {
            if self.is_over() {
                break;
            }
            self.dive(&limited, &relaxed.parts, spread);
        }
        false
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

/// Rounds up the largest fraction, or one near to it.
fn round_up(plan: &mut Plan, parts: &mut [(Pattern, f64)], spread: f64, chance: &mut Chance) {
    for (_, amount) in parts.iter_mut() {
        *amount += spread * chance.next();
    }
    parts.sort_by(|(a, x), (b, y)| y.total_cmp(x).then_with(|| a.cmp(b)));
    if let Some((pattern, _)) = parts.iter().find(|(pattern, _)| plan.rest.most(pattern) > 0) {
        plan.cut(pattern, 1);
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
