//! First packings: whole ones by best-fit insertion, and patterns repeated while demand lasts.
//!
//! Sources: best fit as in [`packing`](crate::nest::rect::packing). Patterns as in sequential value correction (Mukhacheva
//! and Mukhacheva 2000; Cui, Zhao and Yang 2017): one good sheet at a time, pieces that ended up in wasteful sheets count
//! more in the next round. A pattern is repeated as often as the demand allows, so work does not grow with counts.
#![expect(
    clippy::float_arithmetic,
    clippy::cast_precision_loss,
    reason = "search weights: they choose among valid packings and never reach a cost or a bound"
)]

use crate::nest::random::Random;
use crate::nest::rect::packing::{Opening, Order, Packing, Rule, Rules, Split, Weights};
use crate::nest::rect::problem::Problem;
use crate::nest::rect::tree::Sheet;
use crate::nest::rect::{expanded, grouped};
use crate::watch::Watch;

/// A sheet, and how often it is cut the same.
#[derive(Clone, Debug)]
pub(super) struct Group {
    pub(super) sheet: Sheet,
    pub(super) repeat: u64,
}

/// Groups of sheets and how many of each item are still out.
#[derive(Clone, Debug)]
pub(super) struct Grouped {
    pub(super) groups: Vec<Group>,
    pub(super) out: Vec<u64>,
    pub(super) cost: f64,
}

impl Grouped {
    /// Returns the bins taken, and how many of each.
    pub(super) fn taken(&self) -> impl Iterator<Item = (usize, u64)> {
        self.groups.iter().map(|group| (group.sheet.bin, group.repeat))
    }

    /// What the search lowers: area out, then cost, then area of the sheets.
    pub(super) fn value(&self, weights: &Weights) -> (f64, f64, f64) {
        let out =
            self.out.iter().zip(&weights.items).map(|(count, area)| *count as f64 * area).sum();
        let area = self
            .groups
            .iter()
            .map(|group| group.repeat as f64 * weights.areas[group.sheet.bin])
            .sum();
        (out, self.cost, area)
    }
}

const ORDERS: [Order; 5] =
    [Order::Area, Order::Longest, Order::Length, Order::Width, Order::Perimeter];

const SPLITS: [Split; 4] = [Split::Large, Split::Even, Split::Length, Split::Width];

/// Returns the best of many best-fit packings of a pool: one always, more until one costs `goal` or the work is done.
pub(super) fn whole(
    problem: &Problem,
    weights: &Weights,
    start: &Packing,
    goal: f64,
    work: &mut u64,
    random: &mut Random,
) -> Packing {
    let openings: &[Opening] = if problem.bins.len() > 1 {
        &[Opening::Density, Opening::Cheapest, Opening::Largest]
    } else {
        &[Opening::Cheapest]
    };
    let mut best: Option<((f64, f64, f64), Packing)> = None;
    for rules in whole_rules(openings) {
        let mut packing = start.clone();
        let spent = packing.fill(problem, weights, rules, f64::MAX, random);
        *work = work.saturating_sub(spent);
        let cost = taken_cost(problem, weights, &packing);
        let value = (packing.area_out(weights), cost, -packing.gathered());
        if best.as_ref().is_none_or(|(least, _)| value < *least) {
            let is_enough = packing.pool.is_empty() && cost <= goal + 1e-9;
            best = Some((value, packing));
            if is_enough {
                break;
            }
        }
        if *work == 0 {
            break;
        }
    }
    best.expect("there is an opening").1
}

/// Most pieces of a rest that are packed one by one.
const REST: u64 = 300;

/// Returns how many of each bin are left, where limited, after some of them are taken.
pub(super) fn left(
    problem: &Problem,
    taken: impl Iterator<Item = (usize, u64)>,
) -> Vec<Option<u64>> {
    let mut left: Vec<Option<u64>> = problem.bins.iter().map(|bin| bin.available).collect();
    for (bin, repeat) in taken {
        if let Some(left) = &mut left[bin] {
            *left -= repeat;
        }
    }
    left
}

/// Packs what is `out` into the bins `left`.
pub(super) fn rest(
    problem: &Problem,
    weights: &Weights,
    out: Vec<u64>,
    left: Vec<Option<u64>>,
    goal: f64,
    work: &mut u64,
    random: &mut Random,
) -> Grouped {
    let count: u64 = out.iter().fold(0, |sum, count| sum.saturating_add(*count));
    if count <= REST {
        let mut start = Packing::new(problem, expanded(out.into_iter()));
        start.left = left;
        return grouped(problem, weights, &whole(problem, weights, &start, goal, work, random));
    }
    let mut effort = Effort { rounds: 1, work: *work };
    let packed = pattern_round(problem, weights, &weights.items, out, left, &mut effort, random);
    *work = effort.work;
    packed
}

fn whole_rules(openings: &[Opening]) -> impl Iterator<Item = Rules> {
    openings.iter().flat_map(|opening| {
        ORDERS.into_iter().flat_map(move |order| {
            [Rule::Short, Rule::Area].into_iter().flat_map(move |fit| {
                SPLITS.map(|split| Rules { order, fit, split, opening: *opening, blink: 0 })
            })
        })
    })
}

/// Cost of what is taken: rolls charged by length are charged as far as pieces reach.
pub(super) fn taken_cost(problem: &Problem, weights: &Weights, packing: &Packing) -> f64 {
    let sheets = packing.sheets.iter();
    sheets.map(|sheet| weights.cost(problem, sheet.bin, charged_length(problem, sheet))).sum()
}

/// Returns the length a sheet is charged for.
pub(super) fn charged_length(problem: &Problem, sheet: &Sheet) -> i64 {
    if problem.charges_length { sheet.extent() } else { sheet.length }
}

/// Returns the best of several packings by repeated patterns: one always, more while `effort` allows.
pub(super) fn patterns(
    problem: &Problem,
    weights: &Weights,
    goal: f64,
    effort: &mut Effort,
    watch: &dyn Watch,
    random: &mut Random,
) -> Grouped {
    let mut prices = weights.items.clone();
    let mut best: Option<Grouped> = None;
    for _ in 0..effort.rounds.max(1) {
        let out = problem.items.iter().map(|item| item.count).collect();
        let left = problem.bins.iter().map(|bin| bin.available).collect();
        let grouped = pattern_round(problem, weights, &prices, out, left, effort, random);
        correct(problem, weights, &grouped, &mut prices);
        if best.as_ref().is_none_or(|least| grouped.value(weights) < least.value(weights)) {
            let is_enough = grouped.cost <= goal + 1e-9 && grouped.out.iter().all(|out| *out == 0);
            best = Some(grouped);
            if is_enough {
                break;
            }
        }
        if effort.work == 0 || watch.is_stopped() {
            break;
        }
    }
    best.expect("there is a round")
}

/// How hard patterns are looked for.
#[derive(Debug)]
pub(super) struct Effort {
    /// Packings made.
    pub(super) rounds: u32,
    /// Steps, after which patterns are the first that will do.
    pub(super) work: u64,
}

fn pattern_round(
    problem: &Problem,
    weights: &Weights,
    prices: &[f64],
    mut out: Vec<u64>,
    mut left: Vec<Option<u64>>,
    effort: &mut Effort,
    random: &mut Random,
) -> Grouped {
    let mut groups = Vec::new();
    let mut cost = 0.0;
    loop {
        let mut best: Option<(f64, Sheet)> = None;
        for (bin, left) in left.iter().enumerate() {
            if *left == Some(0) {
                continue;
            }
            let found = best_sheet(problem, weights, bin, &out, prices, effort, random);
            if let Some((value, sheet)) = found
                && best.as_ref().is_none_or(|(most, _)| value > *most)
            {
                best = Some((value, sheet));
            }
        }
        let Some((_, sheet)) = best else { break };
        let mut used = vec![0_u64; out.len()];
        for placed in sheet.placed() {
            used[placed.item] += 1;
        }
        let fitting = out.iter().zip(&used).filter(|(_, used)| **used > 0);
        let mut repeat = fitting.map(|(out, used)| out / used).min().unwrap_or(1);
        if let Some(left) = &mut left[sheet.bin] {
            repeat = repeat.min(*left);
            *left -= repeat;
        }
        for (out, used) in out.iter_mut().zip(&used) {
            *out -= used * repeat;
        }
        cost += weights.cost(problem, sheet.bin, charged_length(problem, &sheet)) * repeat as f64;
        groups.push(Group { sheet, repeat });
    }
    Grouped { groups, out, cost }
}

/// Returns the sheet of a bin that is worth most for its cost, of several fillings.
fn best_sheet(
    problem: &Problem,
    weights: &Weights,
    bin: usize,
    out: &[u64],
    prices: &[f64],
    effort: &mut Effort,
    random: &mut Random,
) -> Option<(f64, Sheet)> {
    let mut pool = Vec::new();
    for (item, count) in out.iter().enumerate() {
        let Some(fit) = problem.items[item].fits[bin].first() else { continue };
        let bin = &problem.bins[bin];
        let most = i128::from(bin.length) * i128::from(bin.width)
            / (i128::from(fit.length) * i128::from(fit.width));
        let copies = i128::from(*count).min(most);
        pool.extend((0..copies).map(|_| item));
    }
    let mut best: Option<(f64, Sheet)> = None;
    let value = |sheet: &Sheet| {
        let worth: f64 = sheet.items().map(|item| prices[item]).sum();
        worth / (weights.cost(problem, bin, charged_length(problem, sheet)) + 1e-6)
    };
    let is_short = effort.work == 0;
    let mut attempt = |rules: Rules, random: &mut Random| {
        let (sheet, spent) = fill_one(problem, weights, bin, &pool, rules, random);
        effort.work = effort.work.saturating_sub(spent);
        let Some(sheet) = sheet else { return };
        let value = value(&sheet);
        if best.as_ref().is_none_or(|(most, _)| value > *most) {
            best = Some((value, sheet));
        }
    };
    let (orders, splits) =
        if is_short { (&ORDERS[..2], &SPLITS[..1]) } else { (&ORDERS[..], &SPLITS[..]) };
    let opening = Opening::Cheapest;
    for order in orders.iter().copied() {
        for split in splits.iter().copied() {
            let rules = Rules { order, fit: Rule::Short, split, opening, blink: 0 };
            attempt(rules, random);
        }
    }
    for round in 0..if is_short { 0 } else { 20_usize } {
        let split = [Split::Large, Split::Large, Split::Length, Split::Width][round % 4];
        let fit = [Rule::Short, Rule::Area][round % 2];
        attempt(Rules { order: Order::Blurred, fit, split, opening, blink: 0 }, random);
    }
    best
}

/// Fills one sheet of a bin, none if no piece of the pool fits it; tells the work done.
pub(super) fn fill_one(
    problem: &Problem,
    weights: &Weights,
    bin: usize,
    pool: &[usize],
    rules: Rules,
    random: &mut Random,
) -> (Option<Sheet>, u64) {
    let mut packing = Packing::new(problem, pool.to_vec());
    packing.left = vec![Some(0); problem.bins.len()];
    packing.left[bin] = Some(1);
    let spent = packing.fill(problem, weights, rules, f64::MAX, random);
    (packing.sheets.pop().map(|sheet| (*sheet).clone()), spent + pool.len() as u64)
}

/// Raises the prices of pieces that lie in wasteful sheets.
fn correct(problem: &Problem, weights: &Weights, grouped: &Grouped, prices: &mut [f64]) {
    let mut sums = vec![(0.0, 0.0); prices.len()];
    for group in &grouped.groups {
        let placed = group.sheet.placed();
        let used: f64 = placed.iter().map(|placed| weights.items[placed.item]).sum();
        let length = charged_length(problem, &group.sheet);
        let ratio = length as f64 * group.sheet.width as f64 / used;
        for placed in placed {
            let (sum, count) = &mut sums[placed.item];
            *sum += group.repeat as f64 * weights.items[placed.item] * ratio;
            *count += group.repeat as f64;
        }
    }
    for (price, (sum, count)) in prices.iter_mut().zip(sums) {
        if count > 0.0 {
            *price = f64::midpoint(*price, sum / count);
        }
    }
}
