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

use crate::nest::budget::Budget;
use crate::nest::random::Random;
use crate::nest::rect::build::{self, Group, Grouped, charged_length};
use crate::nest::rect::packing::{Opening, Order, Packing, Rule, Rules, Split, Weights};
use crate::nest::rect::problem::Problem;
use crate::nest::rect::strips::Strips;
use crate::nest::rect::tree::{Axis, Sheet};
use crate::nest::simplex::{Column, Simplex};

/// Price of a piece that no pattern places, in the dearest bins.
const DREAD: f64 = 10.0;
/// A pattern must be worth so much more than it costs.
const GAIN: f64 = 1e-6;
/// Most ways of rounding up that are tried.
const ROUNDINGS: usize = 8;

/// Returns the best nest found by column generation, starting from the sheets of another, and the last price of each
/// item, in billionths of the dearest bin.
pub(super) fn columns(
    problem: &Problem,
    weights: &Weights,
    known: &Grouped,
    goal: f64,
    work: &mut u64,
    random: &mut Random,
) -> (Option<Grouped>, Vec<i64>) {
    let mut budget = Budget::new(*work);
    let mut master = Master::new(problem, weights);
    for group in &known.groups {
        master.add(group.sheet.clone());
    }
    let strips: Vec<Strips> = (0..problem.bins.len())
        .flat_map(|bin| [Axis::Width, Axis::Length].map(|axis| Strips::new(problem, bin, axis)))
        .collect();
    loop {
        master.simplex.optimize(&mut budget);
        if budget.is_spent() || !master.grow(&strips, &mut budget, random) {
            break;
        }
    }
    let mut left = *work / 2;
    let found = master.rounded(goal, &mut left, random);
    *work = left;
    (found, master.whole_prices())
}

/// The program over the patterns known so far.
struct Master<'a> {
    problem: &'a Problem,
    weights: &'a Weights,
    simplex: Simplex,
    patterns: Vec<Sheet>,
    /// What is known of each pattern: its bin and counts.
    keys: Vec<(usize, Vec<(usize, u64)>)>,
    /// Position of the first pattern's column.
    first: usize,
    /// Row of each bin that is limited.
    bin_rows: Vec<Option<usize>>,
}

impl<'a> Master<'a> {
    /// Starts with nothing placed, at a price above that of any bin.
    fn new(problem: &'a Problem, weights: &'a Weights) -> Master<'a> {
        let mut right: Vec<f64> = problem.items.iter().map(|item| item.count as f64).collect();
        let items = right.len();
        let mut start: Vec<Column> =
            (0..items).map(|row| Column { cost: DREAD, entries: vec![(row, 1.0)] }).collect();
        let mut bin_rows = vec![None; problem.bins.len()];
        for (bin, stock) in problem.bins.iter().enumerate() {
            if let Some(available) = stock.available {
                bin_rows[bin] = Some(right.len());
                start.push(Column { cost: 0.0, entries: vec![(right.len(), 1.0)] });
                right.push(available as f64);
            }
        }
        let rows = right.len();
        let mut simplex = Simplex::new(right, start);
        for row in 0..items {
            // Making more than is needed costs nothing.
            simplex.add(Column { cost: 0.0, entries: vec![(row, -1.0)] });
        }
        let first = rows + items;
        Master {
            problem,
            weights,
            simplex,
            patterns: Vec::new(),
            keys: Vec::new(),
            first,
            bin_rows,
        }
    }

    fn whole_prices(&self) -> Vec<i64> {
        let duals = &self.simplex.duals()[..self.problem.items.len()];
        #[expect(clippy::cast_possible_truncation, reason = "prices are between zero and ten")]
        duals.iter().map(|dual| (dual.clamp(0.0, DREAD) * 1e9) as i64).collect()
    }

    /// Adds a pattern, unless it is known.
    fn add(&mut self, sheet: Sheet) -> bool {
        let used = self.used(&sheet);
        let counts: Vec<(usize, u64)> =
            used.into_iter().enumerate().filter(|(_, count)| *count > 0).collect();
        let most = self.problem.max_stages;
        if most.is_some_and(|most| sheet.stages(self.problem.is_roll) > most) {
            return false;
        }
        let key = (sheet.bin, counts);
        if key.1.is_empty() || self.keys.contains(&key) {
            return false;
        }
        let mut entries: Vec<(usize, f64)> =
            key.1.iter().map(|(item, count)| (*item, *count as f64)).collect();
        entries.extend(self.bin_rows[sheet.bin].map(|row| (row, 1.0)));
        let cost = self.weights.cost(self.problem, sheet.bin, charged_length(self.problem, &sheet));
        self.simplex.add(Column { cost, entries });
        self.patterns.push(sheet);
        self.keys.push(key);
        true
    }

    fn used(&self, sheet: &Sheet) -> Vec<u64> {
        let mut used = vec![0; self.problem.items.len()];
        for item in sheet.items() {
            used[item] += 1;
        }
        used
    }

    /// Adds the best patterns at the program's prices; tells whether there were any.
    fn grow(&mut self, strips: &[Strips], budget: &mut Budget, random: &mut Random) -> bool {
        let duals = self.simplex.duals();
        let prices: Vec<f64> =
            duals[..self.problem.items.len()].iter().map(|dual| dual.max(0.0)).collect();
        let rents: Vec<f64> =
            self.bin_rows.iter().map(|row| row.map_or(0.0, |row| -duals[row])).collect();
        let demand: Vec<u64> = self.problem.items.iter().map(|item| item.count).collect();
        let mut is_new = false;
        for strips in strips {
            budget.spend(strips.work());
            let (worth, pattern) = strips.best(&prices);
            if worth <= self.weights.costs[strips.bin] + rents[strips.bin] + GAIN {
                continue;
            }
            let sheet = strips.sheet(self.problem, pattern);
            let (clipped, surplus) = self.clipped(sheet, &demand);
            let sheet =
                if surplus { self.filled(clipped, &prices, budget, random) } else { clipped };
            is_new |= self.add(sheet);
        }
        is_new
    }

    /// Takes out pieces beyond what is needed; tells whether there were any.
    fn clipped(&self, mut sheet: Sheet, needed: &[u64]) -> (Sheet, bool) {
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
    fn filled(
        &self,
        sheet: Sheet,
        prices: &[f64],
        budget: &mut Budget,
        random: &mut Random,
    ) -> Sheet {
        let used = self.used(&sheet);
        let mut pool = Vec::new();
        for (index, item) in self.problem.items.iter().enumerate() {
            if prices[index] > 0.0 {
                let area = self.weights.items[index];
                let most = (sheet.waste() / area).floor();
                let most = (0..item.count - used[index]).take_while(|count| (*count as f64) < most);
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

    /// Rounds the program's solution: down, then some of the fractions up, and packs the rest.
    fn rounded(&self, goal: f64, work: &mut u64, random: &mut Random) -> Option<Grouped> {
        let mut parts: Vec<(usize, f64)> = self
            .simplex
            .solution()
            .filter(|(_, value)| *value > 1e-7)
            .filter_map(|(column, value)| Some((column.checked_sub(self.first)?, value)))
            .collect();
        let fraction = |value: f64| value - (value + 1e-6).floor();
        parts.sort_by(|left, right| {
            fraction(right.1).total_cmp(&fraction(left.1)).then(left.0.cmp(&right.0))
        });
        let mut floor = Rest::new(self.problem);
        for (pattern, value) in &parts {
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "above zero and not above a demand"
            )]
            let times = (value + 1e-6).floor() as u64;
            let sheet = &self.patterns[*pattern];
            floor.take(self, sheet, times);
        }
        let mut best: Option<Grouped> = None;
        for up in 0..=parts.len().min(ROUNDINGS) {
            if up > 0 {
                let (sheet, _) = self.clipped(self.patterns[parts[up - 1].0].clone(), &floor.out);
                if sheet.is_empty() {
                    continue;
                }
                floor.take(self, &sheet, 1);
            }
            let mut share = *work / 4;
            let given = share;
            let found = floor.completed(self, goal, &mut share, random);
            *work = work.saturating_sub(given - share + 1000);
            let is_better = |best: &Grouped| found.value(self.weights) < best.value(self.weights);
            if best.as_ref().is_none_or(is_better) {
                let is_enough = found.cost <= goal + 1e-9 && found.out.iter().all(|out| *out == 0);
                best = Some(found);
                if is_enough {
                    break;
                }
            }
            if *work == 0 {
                break;
            }
        }
        best
    }
}

/// A nest in the making: what is cut and what is still out.
struct Rest {
    groups: Vec<Group>,
    out: Vec<u64>,
    left: Vec<Option<u64>>,
    cost: f64,
}

impl Rest {
    fn new(problem: &Problem) -> Rest {
        Rest {
            groups: Vec::new(),
            out: problem.items.iter().map(|item| item.count).collect(),
            left: problem.bins.iter().map(|bin| bin.available).collect(),
            cost: 0.0,
        }
    }

    /// Cuts a sheet so many times, or fewer where that is more than is needed or there.
    fn take(&mut self, master: &Master<'_>, sheet: &Sheet, times: u64) {
        let used = master.used(sheet);
        let needed = self.out.iter().zip(&used).filter(|(_, used)| **used > 0);
        let mut repeat = needed.map(|(out, used)| out / used).min().unwrap_or(0).min(times);
        if let Some(left) = &mut self.left[sheet.bin] {
            repeat = repeat.min(*left);
            *left -= repeat;
        }
        if repeat == 0 {
            return;
        }
        for (out, used) in self.out.iter_mut().zip(&used) {
            *out -= used * repeat;
        }
        let length = charged_length(master.problem, sheet);
        self.cost += master.weights.cost(master.problem, sheet.bin, length) * repeat as f64;
        self.groups.push(Group { sheet: sheet.clone(), repeat });
    }

    /// Returns the nest with the rest packed.
    fn completed(
        &self,
        master: &Master<'_>,
        goal: f64,
        work: &mut u64,
        random: &mut Random,
    ) -> Grouped {
        let (problem, weights) = (master.problem, master.weights);
        let (out, left) = (self.out.clone(), self.left.clone());
        let goal = goal - self.cost;
        let mut found = build::rest(problem, weights, out, left, goal, work, random);
        found.groups.extend(self.groups.iter().cloned());
        found.cost += self.cost;
        found
    }
}
