//! Column generation (Gilmore and Gomory, A linear programming approach to the cutting-stock problem, 1961 and 1963).
//!
//! The program takes the least cost of patterns, in fractions, that place every piece and the run. It starts with few
//! patterns; at its prices the knapsack finds the patterns worth more than they cost, until there are none. Each round
//! also gives a bound (see [`Cover`]), so the work can end at any time, and does once rounding up hides what is left.
#![expect(
    clippy::float_arithmetic,
    reason = "linear programming; the bound is made of whole numbers"
)]
#![expect(clippy::cast_precision_loss, reason = "numbers of the linear program are approximate")]
#![expect(clippy::cast_possible_truncation, reason = "prices are scaled to stay below 2^60")]

use indexmap::IndexSet;

use crate::nest::linear::Budget;
use crate::nest::linear::bound::Cover;
use crate::nest::linear::knapsack::{self, Care, Prices};
use crate::nest::linear::problem::{Pattern, Problem};
use crate::nest::simplex::{Column, Simplex};
use crate::watch::Watch;

/// The optimum of the program, or as near as the work allowed.
pub(super) struct Relaxed {
    /// Patterns with how often each is cut.
    pub(super) parts: Vec<(Pattern, f64)>,
    /// Cost in units that no plan is below, exact.
    pub(super) bound: i128,
    /// What the prices that gave the bound show.
    pub(super) cover: Cover,
    /// These prices, where they are not the lengths.
    pub(super) prices: Option<Prices>,
}

/// Work for a pattern of one bar before the best is asked for.
const GOOD_WORK: u64 = 10_000;

/// When to end before the optimum.
#[derive(Clone, Copy)]
pub(super) struct Limits {
    /// Rounds of pricing.
    pub(super) rounds: usize,
    /// A bound that is enough, in units.
    pub(super) goal: i128,
}

impl Limits {
    /// Goes on to the optimum.
    pub(super) const NONE: Limits = Limits { rounds: usize::MAX, goal: i128::MAX };
}

/// Solves the program with the patterns of the pool that do not exceed the demand, and adds those it finds.
pub(super) fn relax(
    problem: &Problem,
    pool: &mut IndexSet<Pattern>,
    limits: Limits,
    budget: &mut Budget,
    watch: &dyn Watch,
) -> Relaxed {
    let mut master = Master::new(problem);
    for (index, pattern) in pool.iter().enumerate() {
        if problem.most(pattern) > 0 {
            master.add(pattern, index);
        }
    }
    let mut cover = Cover::of_length(problem);
    let mut bound = cover.fractional(problem);
    let mut prices = None;
    for _ in 0..limits.rounds {
        master.simplex.optimize(budget);
        let cost = master.simplex.cost() * master.dearest;
        let closed = (cost - 1e-6 * (1.0 + cost.abs() * 1e-4)).ceil();
        if budget.is_spent() || watch.is_stopped() {
            break;
        }
        if bound >= limits.goal || bound as f64 >= closed {
            break;
        }
        let mut priced = master.price(Care::Good { work: GOOD_WORK }, budget);
        if priced.patterns.is_empty() {
            priced = master.price(Care::Best, budget);
        }
        let found = Cover::of_prices(problem, &priced.prices, priced.worth);
        let found_bound = found.fractional(problem);
        if found_bound > bound {
            bound = found_bound;
            cover = found;
            prices = Some(priced.prices);
        }
        let mut is_new = false;
        for pattern in priced.patterns {
            let (index, is_first) = pool.insert_full(pattern);
            if is_first || !master.knows(index) {
                is_new = true;
                master.add(&pool[index], index);
            }
        }
        if !is_new {
            break;
        }
    }
    let parts = master
        .simplex
        .solution()
        .filter(|(_, value)| *value > 1e-7)
        .filter_map(|(column, value)| Some((pool[master.sources[column]?].clone(), value)))
        .collect();
    Relaxed { parts, bound, cover, prices }
}

/// The program over the patterns known so far.
struct Master<'a> {
    problem: &'a Problem,
    simplex: Simplex,
    /// For each column its pattern's position in the pool, if it stands for one.
    sources: Vec<Option<usize>>,
    /// Row of each size that is needed.
    item_rows: Vec<Option<usize>>,
    run_row: Option<usize>,
    /// Row of each bar that is limited.
    bar_rows: Vec<Option<usize>>,
    /// Largest cost of a stick; costs are divided by it.
    dearest: f64,
}

struct Priced {
    prices: Prices,
    worth: Vec<i64>,
    patterns: Vec<Pattern>,
}

impl<'a> Master<'a> {
    /// Starts with nothing placed, at a price above that of any stick.
    fn new(problem: &'a Problem) -> Master<'a> {
        let dearest = problem.bars.iter().map(|bar| bar.cost).max().unwrap_or(1).max(1) as f64;
        let is_limited = problem.bars.iter().any(|bar| bar.available.is_some());
        // Where stock may run out, a piece may be worth more than its own stick: it may force others onto dear ones.
        let dread = if is_limited { 1000.0 } else { 10.0 };
        let mut right = Vec::new();
        let mut start = Vec::new();
        let mut row = |amount: f64, column: Column| {
            right.push(amount);
            start.push(column);
            Some(right.len() - 1)
        };
        let mut item_rows = vec![None; problem.sizes.len()];
        for (item, need) in problem.demand.iter().enumerate().filter(|(_, need)| **need > 0) {
            let index = item_rows.iter().flatten().count();
            let column = Column { cost: dread, entries: vec![(index, 1.0)] };
            item_rows[item] = row(*need as f64, column);
        }
        let mut index = item_rows.iter().flatten().count();
        let mut run_row = None;
        if problem.run > 0 {
            let span = problem.bars.iter().map(|bar| bar.span).max().unwrap_or(1).max(1) as f64;
            let column = Column { cost: dread, entries: vec![(index, span)] };
            run_row = row(problem.run as f64, column);
            index += 1;
        }
        let mut bar_rows = vec![None; problem.bars.len()];
        for (bar, stock) in problem.bars.iter().enumerate() {
            if let Some(available) = stock.available {
                let column = Column { cost: 0.0, entries: vec![(index, 1.0)] };
                bar_rows[bar] = row(available as f64, column);
                index += 1;
            }
        }
        let rows = right.len();
        let mut simplex = Simplex::new(right, start);
        // Making more than is needed costs nothing.
        for row in item_rows.iter().flatten().chain(&run_row) {
            simplex.add(Column { cost: 0.0, entries: vec![(*row, -1.0)] });
        }
        let surplus = item_rows.iter().flatten().count() + usize::from(run_row.is_some());
        let sources = vec![None; rows + surplus];
        Master { problem, simplex, sources, item_rows, run_row, bar_rows, dearest }
    }

    fn knows(&self, index: usize) -> bool {
        self.sources.contains(&Some(index))
    }

    fn add(&mut self, pattern: &Pattern, index: usize) {
        let mut entries = Vec::with_capacity(pattern.counts.len() + 2);
        for (item, count) in &pattern.counts {
            if let Some(row) = self.item_rows[*item] {
                entries.push((row, *count as f64));
            }
        }
        if let Some(row) = self.run_row
            && pattern.splice > 0
        {
            entries.push((row, pattern.splice as f64));
        }
        if let Some(row) = self.bar_rows[pattern.bar] {
            entries.push((row, 1.0));
        }
        let cost = self.problem.bars[pattern.bar].cost as f64 / self.dearest;
        self.simplex.add(Column { cost, entries });
        self.sources.push(Some(index));
    }

    /// Finds the best pattern of each bar at prices rounded down to whole numbers.
    fn price(&self, care: Care, budget: &mut Budget) -> Priced {
        let duals = self.simplex.duals();
        let price = |row: Option<usize>| row.map_or(0.0, |row| duals[row].max(0.0));
        let widest = self.problem.bars.iter().map(|bar| bar.capacity).max().unwrap_or(1);
        let mut most = 1.0 + price(self.run_row) * widest as f64;
        for (item, size) in self.problem.sizes.iter().enumerate() {
            most += price(self.item_rows[item]) * (widest / size) as f64;
        }
        for row in self.bar_rows.iter().flatten() {
            most += -duals[*row];
        }
        // The scale keeps every value below 2^60, so that sums cannot overflow.
        let mut scale = 1_i64;
        while scale < 1 << 44 && scale as f64 * self.dearest * most < (1_i64 << 58) as f64 {
            scale *= 2;
        }
        let factor = scale as f64 * self.dearest;
        // Lower prices are valid too; they are only met where even the smallest scale is too large.
        let shrink = ((1_i64 << 59) as f64 / (factor * most)).min(1.0);
        let factor = factor * shrink;
        let prices = Prices {
            items: self.item_rows.iter().map(|row| (price(*row) * factor) as i64).collect(),
            run: (price(self.run_row) * factor) as i64,
        };
        let mut worth = Vec::new();
        let mut patterns = Vec::new();
        for (bar, stock) in self.problem.bars.iter().enumerate() {
            let rent = self.bar_rows[bar].map_or(0.0, |row| (-duals[row]).max(0.0));
            let floor = stock.cost.saturating_mul(scale).saturating_add((rent * factor) as i64);
            let best = knapsack::best(self.problem, stock, &prices, floor, care);
            budget.spend(best.work);
            worth.push(best.ceiling);
            if let Some(found) = best.found
                && (found.value - floor) as f64 > 2e-9 * factor
            {
                let pattern = Pattern { bar, counts: found.counts, splice: found.splice };
                patterns.push(self.filled_up(pattern));
            }
        }
        Priced { prices, worth, patterns }
    }

    /// Adds pieces without a price where there is room: they may earn one later.
    fn filled_up(&self, mut pattern: Pattern) -> Pattern {
        let mut left = self.problem.bars[pattern.bar].capacity - self.problem.used(&pattern);
        if pattern.splice > 0 {
            return pattern;
        }
        for (item, size) in self.problem.sizes.iter().enumerate() {
            let known = pattern.counts.iter().position(|(other, _)| *other == item);
            let has = known.map_or(0, |index| pattern.counts[index].1);
            let count = (left / size).min(self.problem.demand[item] - has);
            if count > 0 {
                left -= count * size;
                match known {
                    Some(index) => pattern.counts[index].1 += count,
                    None => pattern.counts.push((item, count)),
                }
            }
        }
        pattern.counts.sort_unstable();
        pattern
    }
}
