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

use crate::nest::rect::improve::improve_sheet;
use crate::nest::rect::packing::{Opening, Order, Packing, Rule, Rules, Split, Weights};
use crate::nest::rect::problem::Problem;
use crate::nest::rect::random::Random;
use crate::nest::rect::tree::Sheet;

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

/// Returns the best of many best-fit packings; meant for some hundreds of pieces.
pub(super) fn whole(
    problem: &Problem,
    weights: &Weights,
    pool: &[usize],
    random: &mut Random,
) -> (Packing, u64) {
    let openings: &[Opening] = if problem.bins.len() > 1 {
        &[Opening::Density, Opening::Cheapest, Opening::Largest]
    } else {
        &[Opening::Cheapest]
    };
    let mut best: Option<((f64, f64, f64), Packing)> = None;
    let mut work = 0;
    for opening in openings {
        for order in ORDERS {
            for fit in [Rule::Short, Rule::Area] {
                for split in [Split::Large, Split::Even, Split::Length, Split::Width] {
                    let rules = Rules { order, fit, split, opening: *opening, blink: 0 };
                    let mut packing = Packing::new(problem, pool.to_vec());
                    work += packing.fill(problem, weights, rules, f64::MAX, random);
                    let cost = taken_cost(problem, weights, &packing);
                    let value = (packing.area_out(weights), cost, -packing.gathered(weights));
                    if best.as_ref().is_none_or(|(least, _)| value < *least) {
                        best = Some((value, packing));
                    }
                }
            }
        }
    }
    (best.expect("there is an opening").1, work)
}

/// Cost of what is taken: rolls charged by length are charged as far as pieces reach.
fn taken_cost(problem: &Problem, weights: &Weights, packing: &Packing) -> f64 {
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
    effort: Effort,
    random: &mut Random,
) -> Grouped {
    let mut effort = effort;
    let mut prices = weights.items.clone();
    let mut best: Option<Grouped> = None;
    for _ in 0..effort.rounds.max(1) {
        let grouped = pattern_round(problem, weights, &prices, &mut effort, random);
        correct(problem, weights, &grouped, &mut prices);
        if best.as_ref().is_none_or(|least| grouped.value(weights) < least.value(weights)) {
            best = Some(grouped);
        }
        if effort.work == 0 {
            break;
        }
    }
    best.expect("there is a round")
}

/// How hard patterns are looked for.
#[derive(Clone, Copy, Debug)]
pub(super) struct Effort {
    /// Packings made.
    pub(super) rounds: u32,
    /// Rounds of ruin and recreate on each pattern.
    pub(super) polish: u32,
    /// Pieces handled, above which patterns are the first that will do.
    pub(super) work: u64,
}

fn pattern_round(
    problem: &Problem,
    weights: &Weights,
    prices: &[f64],
    effort: &mut Effort,
    random: &mut Random,
) -> Grouped {
    let mut out: Vec<u64> = problem.items.iter().map(|item| item.count).collect();
    let mut left: Vec<Option<u64>> = problem.bins.iter().map(|bin| bin.available).collect();
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
        let worth: f64 = sheet.placed().iter().map(|placed| prices[placed.item]).sum();
        worth / (weights.cost(problem, bin, charged_length(problem, sheet)) + 1e-6)
    };
    let mut attempt = |rules: Rules, random: &mut Random| {
        let Some(sheet) = fill_one(problem, weights, bin, &pool, rules, random) else { return };
        let value = value(&sheet);
        if best.as_ref().is_none_or(|(most, _)| value > *most) {
            best = Some((value, sheet));
        }
    };
    let orders = if effort.work > 0 { &ORDERS[..] } else { &ORDERS[..2] };
    let blurred_count = if effort.work > 0 { 20 } else { 0 };
    let size = pool.len() as u64 + 20;
    effort.work = effort.work.saturating_sub(size * (orders.len() as u64 * 4 + blurred_count));
    for order in orders.iter().copied() {
        for split in [Split::Large, Split::Even, Split::Length, Split::Width] {
            let rules =
                Rules { order, fit: Rule::Short, split, opening: Opening::Cheapest, blink: 0 };
            attempt(rules, random);
        }
    }
    for round in 0..usize::try_from(blurred_count).expect("a small count") {
        let split = [Split::Large, Split::Large, Split::Length, Split::Width][round % 4];
        let fit = [Rule::Short, Rule::Area][round % 2];
        let rules =
            Rules { order: Order::Blurred, fit, split, opening: Opening::Cheapest, blink: 0 };
        attempt(rules, random);
    }
    let (least, sheet) = best?;
    let polish = if effort.work > 0 { effort.polish } else { 0 };
    if polish == 0 {
        return Some((least, sheet));
    }
    effort.work = effort.work.saturating_sub(size * u64::from(polish));
    let polished = improve_sheet(problem, weights, sheet.clone(), &pool, prices, polish, random);
    let better = value(&polished);
    Some(if better > least { (better, polished) } else { (least, sheet) })
}

/// Fills one sheet of a bin; nothing if no piece of the pool fits it.
pub(super) fn fill_one(
    problem: &Problem,
    weights: &Weights,
    bin: usize,
    pool: &[usize],
    rules: Rules,
    random: &mut Random,
) -> Option<Sheet> {
    let mut packing = Packing::new(problem, pool.to_vec());
    packing.left = vec![Some(0); problem.bins.len()];
    packing.left[bin] = Some(1);
    packing.fill(problem, weights, rules, f64::MAX, random);
    packing.sheets.pop().map(|sheet| (*sheet).clone())
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
