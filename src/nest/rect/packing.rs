//! A packing under construction: sheets, the pieces still out, and putting pieces into the best gap.
//!
//! Idea: best-fit insertion into the waste of guillotine trees, as in Burke, Kendall and Whitwell's and Charalambous and
//! Fleszar's constructive heuristics ("A constructive bin-oriented heuristic for the two-dimensional bin packing problem
//! with guillotine cuts", 2011). One insertion costs as many steps as there are gaps.
#![expect(
    clippy::float_arithmetic,
    clippy::cast_precision_loss,
    reason = "search weights: they choose among valid packings and never reach a cost or a bound"
)]

use std::rc::Rc;

use crate::nest::random::Random;
use crate::nest::rect::problem::{Fit, Problem};
use crate::nest::rect::tree::{Axis, Gap, Sheet};
use crate::quantity::Ratio;

/// What the search knows of the problem: weights, in floats.
pub(super) struct Weights {
    /// Cost of a whole bin, in units of the dearest.
    pub(super) costs: Vec<f64>,
    /// Area of a bin.
    pub(super) areas: Vec<f64>,
    /// Area of an item.
    pub(super) items: Vec<f64>,
    /// Position of each item in each order that is not blurred: those put in first are the lowest.
    ranks: [Vec<u32>; 5],
}

/// How gaps are chosen and cut.
#[derive(Clone, Copy, Debug)]
pub(super) struct Rules {
    pub(super) order: Order,
    pub(super) fit: Rule,
    pub(super) split: Split,
    pub(super) opening: Opening,
    /// Chance of passing over a gap, in 1/256.
    pub(super) blink: u64,
}

/// In which order pieces are put in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Order {
    Area,
    Longest,
    Length,
    Width,
    Perimeter,
    /// By area, each blurred at random.
    Blurred,
}

/// Which gap is best.
#[derive(Clone, Copy, Debug)]
pub(super) enum Rule {
    /// The smallest.
    Area,
    /// The one whose nearer side is tightest.
    Short,
    /// The one whose farther side is tightest.
    Long,
}

/// Which way a gap is cut first.
#[derive(Clone, Copy, Debug)]
pub(super) enum Split {
    /// So that the larger rest is as large as can be.
    Large,
    /// So that the rests are as alike as can be.
    Even,
    /// Across the length.
    Length,
    /// Along it.
    Width,
}

/// Which bin is opened.
#[derive(Clone, Copy, Debug)]
pub(super) enum Opening {
    /// The one that costs least for its area.
    Density,
    /// The cheapest.
    Cheapest,
    /// The largest.
    Largest,
    /// Any.
    Random,
}

/// Sheets and the pieces still out.
#[derive(Clone)]
pub(super) struct Packing {
    pub(super) sheets: Vec<Rc<Sheet>>,
    /// Items still out.
    pub(super) pool: Vec<usize>,
    /// Bins left, where limited.
    pub(super) left: Vec<Option<u64>>,
    /// Cost of the sheets, in search units.
    pub(super) cost: f64,
}

impl Weights {
    pub(super) fn new(problem: &Problem) -> Weights {
        let costs = problem.bins.iter().map(|bin| in_dearest(problem, &bin.cost)).collect();
        let areas =
            problem.bins.iter().map(|bin| bin.length as f64 * bin.width as f64).collect::<Vec<_>>();
        let first = |index: usize| {
            *problem.items[index]
                .fits
                .iter()
                .find_map(|fits| fits.first())
                .expect("an item of a problem fits somewhere")
        };
        let sides: Vec<(f64, f64)> = (0..problem.items.len())
            .map(|index| (first(index).length as f64, first(index).width as f64))
            .collect();
        let items: Vec<f64> = sides.iter().map(|(length, width)| length * width).collect();
        let ranks = RANKED.map(|order| ranks(&sides, order));
        Weights { costs, areas, items, ranks }
    }

    /// Returns the cost of a sheet, in search units.
    pub(super) fn cost(&self, problem: &Problem, bin: usize, length: i64) -> f64 {
        if problem.charges_length {
            self.costs[bin] * length as f64 / problem.bins[bin].length as f64
        } else {
            self.costs[bin]
        }
    }
}

/// Returns a cost in units of the dearest bin, to nine digits; zero where all bins are free.
pub(super) fn in_dearest(problem: &Problem, cost: &Ratio) -> f64 {
    let dearest = problem.bins.iter().map(|bin| &bin.cost).max();
    let Some(share) = dearest.and_then(|most| cost.checked_div(most)) else { return 0.0 };
    let billionths = (share * Ratio::whole(1_000_000_000)).floor().to_integer();
    billionths.map_or(f64::MAX, |whole| whole as f64 / 1e9)
}

impl Packing {
    /// Returns a packing with every given item out.
    pub(super) fn new(problem: &Problem, pool: Vec<usize>) -> Packing {
        let left = problem.bins.iter().map(|bin| bin.available).collect();
        Packing { sheets: Vec::new(), pool, left, cost: 0.0 }
    }

    /// Returns how many pieces lie in sheets.
    pub(super) fn piece_count(&self) -> usize {
        self.sheets.iter().map(|sheet| sheet.piece_count()).sum()
    }

    /// Area still out.
    pub(super) fn area_out(&self, weights: &Weights) -> f64 {
        self.pool.iter().map(|item| weights.items[*item]).sum()
    }

    /// How much the gaps are gathered in few large ones, which are easier to fill.
    pub(super) fn gathered(&self) -> f64 {
        self.sheets.iter().map(|sheet| sheet.gathered()).sum()
    }

    /// Empties a sheet and gives it back.
    pub(super) fn close(&mut self, problem: &Problem, weights: &Weights, index: usize) {
        let sheet = self.sheets.swap_remove(index);
        self.pool.extend(sheet.items());
        self.give_back(problem, weights, &sheet);
    }

    fn give_back(&mut self, problem: &Problem, weights: &Weights, sheet: &Sheet) {
        self.cost -= weights.cost(problem, sheet.bin, sheet.length);
        if let Some(left) = &mut self.left[sheet.bin] {
            *left += 1;
        }
    }

    /// Drops sheets that hold nothing.
    pub(super) fn drop_empty(&mut self, problem: &Problem, weights: &Weights) {
        for index in (0..self.sheets.len()).rev() {
            if self.sheets[index].is_empty() {
                self.close(problem, weights, index);
            }
        }
    }

    /// Puts in what fits, opening bins while the cost stays within `limit`. Returns the work done.
    pub(super) fn fill(
        &mut self,
        problem: &Problem,
        weights: &Weights,
        rules: Rules,
        limit: f64,
        random: &mut Random,
    ) -> u64 {
        self.fill_changed(problem, weights, rules, limit, &[], random)
    }

    /// Does the same, but tries items that are `known` to fit no shared sheet only in sheets that are not shared with
    /// another packing.
    pub(super) fn fill_changed(
        &mut self,
        problem: &Problem,
        weights: &Weights,
        rules: Rules,
        limit: f64,
        known: &[bool],
        random: &mut Random,
    ) -> u64 {
        let mut pool = std::mem::take(&mut self.pool);
        sort(&mut pool, weights, rules.order, random);
        let mut work = 0;
        // What did not fit just before does not fit now either: nothing opens in between.
        let mut failed = None;
        for item in pool {
            if failed == Some(item) {
                self.pool.push(item);
                continue;
            }
            failed = None;
            work += 10;
            let Some((index, gap, fit, axis)) = self.best_gap(
                problem,
                rules,
                item,
                known.get(item) == Some(&true),
                random,
                &mut work,
            ) else {
                if !self.open(problem, weights, rules, item, limit, random) {
                    self.pool.push(item);
                    failed = (rules.blink == 0).then_some(item);
                }
                continue;
            };
            work += 4 + self.sheets[index].gaps().len() as u64 / 2;
            if problem.max_stages.is_some() {
                work += self.sheets[index].size() / 4;
            }
            if Rc::strong_count(&self.sheets[index]) > 1 {
                work += self.sheets[index].size() / 4;
            }
            Rc::make_mut(&mut self.sheets[index]).insert(gap, item, &fit, axis);
        }
        work
    }

    fn best_gap(
        &self,
        problem: &Problem,
        rules: Rules,
        item: usize,
        skips_shared: bool,
        random: &mut Random,
        work: &mut u64,
    ) -> Option<(usize, usize, Fit, Axis)> {
        let mut best: Option<(usize, usize, Fit, Axis)> = None;
        let mut best_score = (f64::MAX, f64::MAX);
        for (index, sheet) in self.sheets.iter().enumerate() {
            if skips_shared && Rc::strong_count(sheet) > 1 {
                continue;
            }
            let fits = &problem.items[item].fits[sheet.bin];
            *work += 1;
            if !fits.iter().any(|fit| sheet.may_admit(fit)) {
                continue;
            }
            *work += sheet.gaps().len() as u64;
            for (position, gap) in sheet.gaps().iter().enumerate() {
                for fit in fits {
                    if !sheet.admits(gap, fit) {
                        continue;
                    }
                    let score = score(rules.fit, gap, fit);
                    if score >= best_score || (rules.blink > 0 && random.below(256) < rules.blink) {
                        continue;
                    }
                    if let Some(axis) = choose_axis(problem, rules, sheet, position, fit) {
                        best = Some((index, position, *fit, axis));
                        best_score = score;
                    }
                }
            }
        }
        best
    }

    /// Opens a bin for an item and puts it in.
    fn open(
        &mut self,
        problem: &Problem,
        weights: &Weights,
        rules: Rules,
        item: usize,
        limit: f64,
        random: &mut Random,
    ) -> bool {
        let mut best: Option<(f64, usize, i64, Fit)> = None;
        for (bin, stock) in problem.bins.iter().enumerate() {
            if self.left[bin] == Some(0) {
                continue;
            }
            let mut length = stock.length;
            if problem.charges_length && limit < f64::MAX && weights.costs[bin] > 0.0 {
                let share = ((limit - self.cost) / weights.costs[bin]).clamp(0.0, 1.0);
                #[expect(
                    clippy::cast_possible_truncation,
                    reason = "a share of a length below 2^53"
                )]
                let affordable = (share * stock.length as f64) as i64;
                length = length.min(affordable);
            }
            if self.cost + weights.cost(problem, bin, length) > limit {
                continue;
            }
            for fit in &problem.items[item].fits[bin] {
                if fit.length > length {
                    continue;
                }
                let turned = if fit.is_turned { 1e-3 } else { 0.0 };
                let score = turned
                    + match rules.opening {
                        Opening::Density => {
                            weights.costs[bin] / weights.areas[bin] * weights.areas[0]
                        }
                        Opening::Cheapest => weights.costs[bin],
                        Opening::Largest => -weights.areas[bin] / weights.areas[0],
                        Opening::Random => random.below(1024) as f64,
                    };
                if best.is_none_or(|(least, ..)| score < least) {
                    best = Some((score, bin, length, *fit));
                }
            }
        }
        let Some((_, bin, length, fit)) = best else { return false };
        let mut sheet = Sheet::new(problem, bin, length);
        let Some(axis) = choose_axis(problem, rules, &sheet, 0, &fit) else {
            return false;
        };
        sheet.insert(0, item, &fit, axis);
        self.cost += weights.cost(problem, bin, length);
        if let Some(left) = &mut self.left[bin] {
            *left -= 1;
        }
        self.sheets.push(Rc::new(sheet));
        true
    }
}

/// Orders that depend on the sizes alone.
const RANKED: [Order; 5] =
    [Order::Area, Order::Longest, Order::Length, Order::Width, Order::Perimeter];

/// Returns the position of each item, by its sides, in an order.
fn ranks(sides: &[(f64, f64)], order: Order) -> Vec<u32> {
    let key = |item: usize| {
        let (length, width) = sides[item];
        match order {
            Order::Area | Order::Blurred => (length * width, length),
            Order::Longest => (length.max(width), length.min(width)),
            Order::Length => (length, width),
            Order::Width => (width, length),
            Order::Perimeter => (length + width, length),
        }
    };
    let mut sorted: Vec<usize> = (0..sides.len()).collect();
    sorted.sort_by(|left, right| {
        let (left_key, right_key) = (key(*left), key(*right));
        right_key.0.total_cmp(&left_key.0).then(right_key.1.total_cmp(&left_key.1))
    });
    let mut ranks = vec![0; sides.len()];
    for (rank, item) in (0_u32..).zip(sorted) {
        ranks[item] = rank;
    }
    ranks
}

/// Sorts items so that those put in first come first; equal items stay together.
pub(super) fn sort(pool: &mut [usize], weights: &Weights, order: Order, random: &mut Random) {
    if let Some(ranks) = RANKED.iter().position(|ranked| *ranked == order) {
        let ranks = &weights.ranks[ranks];
        if pool.len() < weights.items.len() {
            pool.sort_unstable_by_key(|item| ranks[*item]);
        } else {
            let mut kinds = vec![0; ranks.len()];
            for (item, rank) in ranks.iter().enumerate() {
                kinds[*rank as usize] = item;
            }
            group(pool, &kinds);
        }
        return;
    }
    // Each item has a blur of its own, the same for all its pieces.
    let salt = random.next();
    let key = |item: &usize| {
        let blur = 0.6 + Random::new(salt ^ *item as u64).below(1024) as f64 / 1280.0;
        // Areas are above zero, so their bits are ordered as they are.
        (std::cmp::Reverse((weights.items[*item] * blur).to_bits()), *item)
    };
    if pool.len() < weights.items.len() {
        pool.sort_by_cached_key(key);
    } else {
        let mut kinds: Vec<usize> = (0..weights.items.len()).collect();
        kinds.sort_by_cached_key(key);
        group(pool, &kinds);
    }
}

/// Puts many pieces in the order of their kinds, which is found by sorting one of each.
fn group(pool: &mut [usize], kinds: &[usize]) {
    let mut counts = vec![0_usize; kinds.len()];
    for item in pool.iter() {
        counts[*item] += 1;
    }
    let mut at = 0;
    for item in kinds {
        pool[at..at + counts[*item]].fill(*item);
        at += counts[*item];
    }
}

fn score(rule: Rule, gap: &Gap, fit: &Fit) -> (f64, f64) {
    let beside = (gap.length - fit.length) as f64;
    let above = (gap.width - fit.width) as f64;
    match rule {
        Rule::Area => (gap.length as f64 * gap.width as f64, beside.min(above)),
        Rule::Short => (beside.min(above), beside.max(above)),
        Rule::Long => (beside.max(above), beside.min(above)),
    }
}

/// Returns the direction of the first cut, or nothing if there would be too many stages.
fn choose_axis(
    problem: &Problem,
    rules: Rules,
    sheet: &Sheet,
    position: usize,
    fit: &Fit,
) -> Option<Axis> {
    let gap = &sheet.gaps()[position];
    let beside = (gap.length - fit.length) as f64 * gap.width as f64;
    let above = (gap.width - fit.width) as f64 * gap.length as f64;
    let axis = match rules.split {
        Split::Large if beside >= above => Axis::Length,
        Split::Even if beside < above => Axis::Length,
        Split::Length => Axis::Length,
        Split::Large | Split::Even | Split::Width => Axis::Width,
    };
    let fits = |most| sheet.stages_with(position) <= most;
    problem.max_stages.is_none_or(fits).then_some(axis)
}
