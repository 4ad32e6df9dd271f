//! Column generation for lots: patterns in fractions, rounded to whole sheets.
//!
//! Idea: a linear program takes the least cost of patterns, in fractions, that place every piece; at its prices the best
//! patterns are added until none is worth more than it costs (Gilmore and Gomory, "Multistage cutting stock problems of
//! two and more dimensions", 1965). The whole parts are cut as they are, some of the fractions once more; what is left is
//! packed piece by piece. The program's cost bounds nests in three stages only, so no bound is made of it; but its prices
//! make a good one where the worth of a bin is known for all guillotine cuts.
#![expect(
    clippy::float_arithmetic,
    clippy::cast_precision_loss,
    reason = "search weights: they choose among valid packings and never reach a cost or a bound"
)]

use crate::nest::bound::guillotine::{Cuts, Part, Worths};
use crate::nest::budget::Budget;
use crate::nest::random::Random;
use crate::nest::rect::build::{Grouped, charged_length};
use crate::nest::rect::packing::{Opening, Order, Packing, Rule, Rules, Split, Weights};
use crate::nest::rect::problem::Problem;
use crate::nest::rect::rounding;
use crate::nest::rect::strips::{MOST_PIECES, Stages, Strips};
use crate::nest::rect::tree::{Axis, Sheet};
use crate::nest::simplex::{Column, Simplex};
use crate::watch::Watch;

/// Price of a piece that no pattern places, in the dearest bins.
const DREAD: f64 = 10.0;
/// Whole prices count so many of the dearest bin.
const WHOLE: f64 = 1e9;
/// A pattern must be worth so much more than it costs.
const GAIN: f64 = 1e-6;
/// A pricing over cuts in any number of stages may take such a part of the work.
const PRICINGS: u64 = 16;

/// Returns the best nest found by column generation, starting from the sheets of another, and the last price of each
/// item, in billionths of the dearest bin.
pub(super) fn columns(
    problem: &Problem,
    weights: &Weights,
    known: &Grouped,
    goal: f64,
    work: &mut u64,
    watch: &dyn Watch,
    random: &mut Random,
) -> (Grouped, Vec<i64>) {
    let mut budget = Budget::new(*work);
    let mut master = Master::new(problem, weights, *work);
    let workable = known.groups.iter().filter(|group| group.sheet.piece_count() <= MOST_PIECES);
    for group in workable {
        master.add(group.sheet.clone());
    }
    master.relax(usize::MAX, &mut budget, watch, random);
    let prices = in_whole(&master.prices());
    let mut left = *work / 2;
    let found = rounding::rounded(&mut master, goal, &mut left, watch, random);
    *work = left;
    (found, prices)
}

/// The program over the patterns known so far.
pub(super) struct Master<'a> {
    pub(super) problem: &'a Problem,
    pub(super) weights: &'a Weights,
    strips: Vec<Strips>,
    cuts: Vec<Cuts>,
    simplex: Simplex,
    /// How many of each item the patterns are for.
    demand: Vec<u64>,
    pub(super) patterns: Vec<Sheet>,
    /// What is known of each pattern: its bin and counts.
    keys: Vec<(usize, Vec<(usize, u64)>)>,
    /// The pattern of each column that has one, in the order of columns.
    columns: Vec<usize>,
    /// Position of the first of these.
    first: usize,
    /// Row of each bin that is limited.
    bin_rows: Vec<Option<usize>>,
}

impl<'a> Master<'a> {
    /// Starts without patterns. Pricings that take too much of the work are left out.
    fn new(problem: &'a Problem, weights: &'a Weights, work: u64) -> Master<'a> {
        let bins = 0..problem.bins.len();
        let strips = bins
            .clone()
            .flat_map(|bin| [Axis::Width, Axis::Length].map(|axis| Strips::new(problem, bin, axis)))
            .collect();
        // A piece that needs a factory edge may not lie just anywhere.
        let cuts = bins
            .filter(|_| !problem.has_edges && !problem.charges_length)
            .filter_map(|bin| Cuts::new(problem, bin, work / PRICINGS))
            .collect();
        let mut master = Master {
            problem,
            weights,
            strips,
            cuts,
            simplex: Simplex::new(Vec::new(), Vec::new()),
            demand: Vec::new(),
            patterns: Vec::new(),
            keys: Vec::new(),
            columns: Vec::new(),
            first: 0,
            bin_rows: Vec::new(),
        };
        let demand = problem.items.iter().map(|item| item.count).collect();
        master.restart(demand, &problem.bins.iter().map(|bin| bin.available).collect::<Vec<_>>());
        master
    }

    /// Begins the program anew for other demands, with the patterns known that make no more than those.
    pub(super) fn restart(&mut self, demand: Vec<u64>, left: &[Option<u64>]) {
        let mut right: Vec<f64> = demand.iter().map(|count| *count as f64).collect();
        let items = right.len();
        // Nothing is placed at first, at a price above that of any bin.
        let mut start: Vec<Column> =
            (0..items).map(|row| Column { cost: DREAD, entries: vec![(row, 1.0)] }).collect();
        self.bin_rows = vec![None; left.len()];
        for (bin, left) in left.iter().enumerate() {
            if let Some(left) = left {
                self.bin_rows[bin] = Some(right.len());
                start.push(Column { cost: 0.0, entries: vec![(right.len(), 1.0)] });
                right.push(*left as f64);
            }
        }
        let rows = right.len();
        self.simplex = Simplex::new(right, start);
        for row in 0..items {
            // Making more than is needed costs nothing.
            self.simplex.add(Column { cost: 0.0, entries: vec![(row, -1.0)] });
        }
        self.first = rows + items;
        self.demand = demand;
        self.columns.clear();
        for pattern in 0..self.patterns.len() {
            let mut counts = self.keys[pattern].1.iter();
            if counts.all(|(item, count)| *count <= self.demand[*item]) {
                self.enter(pattern);
            }
        }
    }

    /// Lowers the cost of the program by new patterns, in at most so many rounds.
    pub(super) fn relax(
        &mut self,
        rounds: usize,
        budget: &mut Budget,
        watch: &dyn Watch,
        random: &mut Random,
    ) {
        self.simplex.optimize(budget);
        for _ in 0..rounds {
            if budget.is_spent() || watch.is_stopped() {
                return;
            }
            // Where few stages find nothing more, more are looked at.
            let grows = self.grow(Stages::Two, budget, random)
                || self.grow(Stages::Three, budget, random)
                || self.grow_by_cuts(budget, random);
            if !grows {
                return;
            }
            self.simplex.optimize(budget);
        }
    }

    /// Returns the patterns of the solution, each with how often it is cut.
    pub(super) fn parts(&self) -> Vec<(usize, f64)> {
        self.simplex
            .solution()
            .filter(|(_, value)| *value > 1e-7)
            .filter_map(|(column, value)| {
                Some((self.columns[column.checked_sub(self.first)?], value))
            })
            .collect()
    }

    /// Adds a pattern, unless it is known.
    fn add(&mut self, sheet: Sheet) -> bool {
        let used = self.used(&sheet);
        let counts: Vec<(usize, u64)> =
            used.into_iter().enumerate().filter(|(_, count)| *count > 0).collect();
        let most = self.problem.max_stages;
        if most.is_some_and(|most| sheet.stages() > most) {
            return false;
        }
        let key = (sheet.bin, counts);
        if key.1.is_empty() || self.keys.contains(&key) {
            return false;
        }
        self.patterns.push(sheet);
        self.keys.push(key);
        self.enter(self.patterns.len() - 1);
        true
    }

    /// Adds the column of a pattern.
    fn enter(&mut self, pattern: usize) {
        let (bin, counts) = &self.keys[pattern];
        let mut entries: Vec<(usize, f64)> =
            counts.iter().map(|(item, count)| (*item, *count as f64)).collect();
        entries.extend(self.bin_rows[*bin].map(|row| (row, 1.0)));
        let length = charged_length(self.problem, &self.patterns[pattern]);
        let cost = self.weights.cost(self.problem, *bin, length);
        self.simplex.add(Column { cost, entries });
        self.columns.push(pattern);
    }

    pub(super) fn used(&self, sheet: &Sheet) -> Vec<u64> {
        let mut used = vec![0; self.problem.items.len()];
        for item in sheet.items() {
            used[item] += 1;
        }
        used
    }

    /// Adds the best patterns at the program's prices; tells whether there were any.
    fn grow(&mut self, stages: Stages, budget: &mut Budget, random: &mut Random) -> bool {
        let prices = self.prices();
        let found: Vec<Sheet> = self
            .strips
            .iter()
            .filter(|strips| strips.sees_all(stages))
            .flat_map(|strips| {
                budget.spend(strips.work(stages));
                let found = strips.best(&prices, stages, self.price_of(strips.bin) + GAIN);
                found.into_iter().map(|pattern| strips.sheet(self.problem, pattern))
            })
            .collect();
        self.add_all(found, &prices, budget, random)
    }

    /// Does the same with patterns in any number of stages.
    fn grow_by_cuts(&mut self, budget: &mut Budget, random: &mut Random) -> bool {
        let prices = self.prices();
        let whole = in_whole(&prices);
        let mut found = Vec::new();
        for cuts in &self.cuts {
            if budget.left() < cuts.steps() {
                continue;
            }
            budget.spend(cuts.steps());
            let worths = cuts.worths(self.problem, &whole);
            if worths.most() as f64 > (self.price_of(cuts.bin) + GAIN) * WHOLE {
                found.extend(sheet_of(self.problem, &worths, &whole, cuts.bin));
            }
        }
        self.add_all(found, &prices, budget, random)
    }

    /// Adds patterns without the pieces beyond what is needed, and with others in their place.
    fn add_all(
        &mut self,
        sheets: Vec<Sheet>,
        prices: &[f64],
        budget: &mut Budget,
        random: &mut Random,
    ) -> bool {
        let mut is_new = false;
        for sheet in sheets {
            let (clipped, surplus) = self.clipped(sheet, &self.demand);
            let sheet = if surplus {
                self.filled(clipped, &self.demand, prices, budget, random)
            } else {
                clipped
            };
            is_new |= self.add(sheet);
        }
        is_new
    }

    /// What each item that is needed is worth to the program.
    pub(super) fn prices(&self) -> Vec<f64> {
        let duals = self.simplex.duals().iter().zip(&self.demand);
        duals.map(|(dual, demand)| if *demand > 0 { dual.max(0.0) } else { 0.0 }).collect()
    }

    /// What a pattern of a bin must be worth: its cost, and what a limited bin is worth to others.
    fn price_of(&self, bin: usize) -> f64 {
        let rent = self.bin_rows[bin].map_or(0.0, |row| -self.simplex.duals()[row]);
        self.weights.costs[bin] + rent
    }

    /// Takes out pieces beyond what is needed; tells whether there were any.
    pub(super) fn clipped(&self, mut sheet: Sheet, needed: &[u64]) -> (Sheet, bool) {
        let used = self.used(&sheet);
        let mut is_clipped = false;
        for (item, (used, needed)) in used.iter().zip(needed).enumerate() {
            for _ in *needed..*used {
                let place = sheet.items().position(|other| other == item);
                let place = place.expect("more lie in the sheet than are needed");
                sheet.remove(place, 0, self.problem.has_edges);
                is_clipped = true;
            }
        }
        (sheet, is_clipped)
    }

    /// Fills the gaps of a sheet with pieces of those that have a price, as far as they are needed.
    pub(super) fn filled(
        &self,
        sheet: Sheet,
        needed: &[u64],
        prices: &[f64],
        budget: &mut Budget,
        random: &mut Random,
    ) -> Sheet {
        let used = self.used(&sheet);
        let mut pool = Vec::new();
        for (index, needed) in needed.iter().enumerate() {
            if prices[index] > 0.0 {
                let area = self.weights.items[index];
                let most = (sheet.waste() / area).floor();
                let most = (0..needed.saturating_sub(used[index]))
                    .take_while(|count| (*count as f64) < most);
                pool.extend(most.map(|_| index));
            }
        }
        let mut packing = Packing::new(self.problem, pool);
        packing.left = vec![Some(0); self.problem.bins.len()];
        packing.sheets.push(std::rc::Rc::new(sheet));
        let rules = Rules {
            order: Order::Area,
            fit: Rule::Short,
            split: Split::Large,
            opening: Opening::Cheapest,
            blink: 0,
        };
        let spent = packing.fill(self.problem, self.weights, rules, f64::MAX, random);
        budget.spend(spent);
        (*packing.sheets[0]).clone()
    }
}

/// Returns prices in billionths.
#[expect(clippy::cast_possible_truncation, reason = "prices are between zero and ten")]
fn in_whole(prices: &[f64]) -> Vec<i64> {
    prices.iter().map(|price| (price.clamp(0.0, DREAD) * WHOLE) as i64).collect()
}

/// Returns the sheet that is worth most, unless it holds too many pieces to be worked on.
fn sheet_of(problem: &Problem, worths: &Worths<'_>, worth: &[i64], bin: usize) -> Option<Sheet> {
    let mut sheet = Sheet::new(problem, bin, problem.bins[bin].length);
    let mut open = vec![0];
    let mut places = Vec::new();
    while let Some(gap) = open.pop() {
        let here = sheet.gaps()[gap];
        let cut = match worths.part(problem, worth, (here.length, here.width)) {
            Part::Waste => continue,
            Part::Piece { item, fit } => {
                places.push((here.x, here.y, item, fit));
                if places.len() > MOST_PIECES {
                    return None;
                }
                continue;
            }
            Part::Along(length) => (Axis::Length, length),
            Part::Across(width) => (Axis::Width, width),
        };
        open.extend([gap, sheet.gaps().len()]);
        sheet.cut(gap, cut.0, cut.1);
    }
    for (x, y, item, fit) in places {
        let gap = sheet.gap_at(x, y);
        sheet.insert(gap, item, &fit, Axis::Width);
    }
    sheet.tidy(problem.has_edges);
    Some(sheet)
}
