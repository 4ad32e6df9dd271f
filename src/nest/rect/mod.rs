//! Sheets and rolls: two dimensions.
//!
//! In: an instance of sheets or rolls. Out: its nest. Steps: rectangles without kerf and trim ([`problem`]), a first
//! packing ([`build`]), joins where there may be no waste ([`joining`]), ruin and recreate ([`improve`]), smaller bins
//! where they do ([`shrink`]), for free cutting a search without the guillotine rule ([`free`]), the last of whole rolls
//! shortened ([`last`]), layouts ([`assemble`]).
//!
//! The nest depends on the instance, not on the order of its pieces and stocks, and on nothing else.
#![expect(
    clippy::float_arithmetic,
    clippy::cast_precision_loss,
    reason = "search weights: they choose among valid packings and never reach a cost or a bound"
)]

mod assemble;
mod build;
mod columns;
mod free;
mod improve;
mod joining;
mod last;
mod packing;
mod parts;
pub(in crate::nest) mod problem;
#[cfg(test)]
mod published;
mod rounding;
mod shrink;
mod strips;
#[cfg(test)]
mod tests;
mod tidy;
mod tree;

use std::rc::Rc;

use crate::nest::bound;
use crate::nest::random::Random;
use crate::nest::rect::assemble::Packed;
use crate::nest::rect::build::{Effort, Group, Grouped};
use crate::nest::rect::improve::{Budget, Goals};
use crate::nest::rect::packing::{Packing, Weights, in_dearest};
use crate::nest::rect::problem::Problem;
use crate::nest::{Bound, Ending, Instance, Kind, Nest, Options, Unplaced, UnplacedReason};
use crate::quantity::Length;
use crate::watch::Watch;

/// Most pieces that are packed one by one; of larger instances, the sheets with most waste are taken up to this.
const WINDOW: u64 = 200;

/// Most pieces of rolls charged by length that are searched at once for free cutting.
const MOST_ON_ROLL: u64 = 1_000;

/// Steps of free cutting for one unit of effort, and for each piece.
const FREE_STEPS: (u64, u64) = (1_000_000, 20_000);

/// Steps of work for one unit of effort; a step takes some nanoseconds.
const STEPS: u64 = 250_000;

/// Steps of joining without waste for one unit of effort, and for each piece.
const JOINING_STEPS: (u64, u64) = (1_000_000, 10_000);

/// Steps for each piece that packings are made tidier in, at most.
const TIDYING: u64 = 5_000;

/// Most rounds of patterns; beyond, ruin and recreate does better.
const ROUNDS: u32 = 25;

pub(super) fn nest(instance: &Instance, options: Options, watch: &dyn Watch) -> Nest {
    let mut problem = Problem::new(instance);
    let mut is_stopped = false;
    let mut bound = bound::sheets(&problem, instance.run);
    let (packed, out) = if problem.items.is_empty() {
        (Vec::new(), Vec::new())
    } else {
        // A run is no goal of the search, so the bound with it is none either.
        let goal = if instance.run == Length::ZERO {
            in_dearest(&problem, &bound.cost)
        } else {
            in_dearest(&problem, &bound::sheets(&problem, Length::ZERO).cost)
        };
        let found = pack(instance, &problem, goal, options, watch);
        is_stopped = found.is_stopped;
        if let Some(tighter) = found.bound {
            let stocks = bound.stocks.max(tighter.stocks);
            bound = if tighter.cost > bound.cost { tighter } else { bound };
            bound.stocks = stocks;
        }
        (found.packed, found.out)
    };
    let mut unplaced: Vec<Unplaced> = Vec::new();
    for piece in &problem.too_large {
        let count = instance.pieces[*piece].count;
        unplaced.push(Unplaced { piece: Some(*piece), count, reason: reason(instance, *piece) });
    }
    for (item, out) in problem.items.iter_mut().zip(&out).filter(|(_, out)| **out > 0) {
        let reason = UnplacedReason::NoStock;
        unplaced.push(Unplaced { piece: Some(item.piece), count: *out, reason });
        item.count -= out;
    }
    let (layouts, run_left) = assemble::layouts(instance, &problem, packed);
    unplaced.sort_by_key(|unplaced| unplaced.piece);
    if run_left > Length::ZERO {
        unplaced.push(Unplaced { piece: None, count: 1, reason: run_reason(instance) });
    }
    let cost = assemble::total_cost(instance, &layouts);
    let lacks_stock = unplaced.iter().any(|unplaced| unplaced.reason == UnplacedReason::NoStock);
    if lacks_stock || run_left > Length::ZERO {
        // What is not placed is not counted.
        bound = bound::sheets(&problem, instance.run - run_left);
    }
    let ending = Ending::of(&cost, &bound.cost, &unplaced, is_stopped);
    Nest { layouts, unplaced, cost, bound, ending }
}

/// A piece that fits no stock there is may still fit one of which there are none.
fn reason(instance: &Instance, piece: usize) -> UnplacedReason {
    let mut plenty = instance.clone();
    plenty.pieces = vec![instance.pieces[piece].clone()];
    for stock in &mut plenty.stocks {
        stock.available = None;
    }
    if Problem::new(&plenty).items.is_empty() {
        UnplacedReason::TooLarge
    } else {
        UnplacedReason::NoStock
    }
}

fn run_reason(instance: &Instance) -> UnplacedReason {
    let least = instance.splice_min.max(Length::from_nanometers(1));
    let fits = instance.stocks.iter().any(|stock| stock.length - instance.trim * 2 >= least);
    if fits { UnplacedReason::NoStock } else { UnplacedReason::TooLarge }
}

/// What a search has found.
struct Found {
    packed: Vec<Packed>,
    /// How many of each item are still out.
    out: Vec<u64>,
    /// A bound found on the way.
    bound: Option<Bound>,
    is_stopped: bool,
}

fn pack(
    instance: &Instance,
    problem: &Problem,
    goal: f64,
    options: Options,
    watch: &dyn Watch,
) -> Found {
    let weights = Weights::new(problem);
    let mut random = Random::new(options.seed);
    let kind = instance.kind;
    let found = if problem.items.len() > parts::MOST {
        parts::search(problem, &weights, kind, options, watch, &mut random)
    } else {
        search(problem, &weights, kind, goal, options, watch, &mut random)
    };
    let Searched { mut best, bound, mut is_stopped } = found;
    // Above what is known of guillotine cuts no search goes on, but free cutting may go below.
    let goal = bound.as_ref().map_or(goal, |bound| goal.max(in_dearest(problem, &bound.cost)));
    let count = piece_count(problem);
    shrink::shrink(problem, &weights, &mut best, &mut random);
    tidy::unify(problem, &weights, &mut best.groups);
    let mut packed: Vec<Packed> = best
        .groups
        .iter()
        .map(|group| Packed::from_sheet(problem, &group.sheet, group.repeat))
        .collect();
    let mut out = best.out.clone();
    if instance.kind.is_free() && best.cost > goal + 1e-6 {
        // A roll charged by length is often one layout, of which no part can be searched alone.
        let most = if problem.charges_length { MOST_ON_ROLL } else { WINDOW };
        let left = FREE_STEPS.0 + FREE_STEPS.1 * count.min(most);
        let left = u64::from(options.effort) * left;
        let mut budget = Budget { left, watch, is_stopped };
        let effort = options.effort;
        let found = if count <= most {
            free::pack(problem, &weights, &best, goal, effort, &mut budget, &mut random)
        } else {
            free::pack_worst(problem, &weights, &best, goal, effort, &mut budget, &mut random)
        };
        // A run may take what the one leaves better than what the other does.
        let charge = |packed: &[Packed]| assemble::charge(instance, problem, packed.to_vec());
        if let Some(found) =
            found.filter(|found| found.1 != out || charge(&found.0) < charge(&packed))
        {
            (packed, out) = found;
        }
        is_stopped = budget.is_stopped;
    }
    if out.iter().any(|out| *out > 0) {
        place_rest(problem, &weights, &mut packed, &mut out, goal, &mut random);
    }
    if problem.is_roll && !problem.charges_length {
        last::shorten(instance, problem, &mut packed, options, watch);
    }
    Found { packed, out, bound, is_stopped }
}

/// Lays what is out into stock that is left: where some piece is always out, a search that places more area may leave out a
/// small piece that there is stock for.
fn place_rest(
    problem: &Problem,
    weights: &Weights,
    packed: &mut Vec<Packed>,
    out: &mut Vec<u64>,
    goal: f64,
    random: &mut Random,
) {
    let left = build::left(problem, packed.iter().map(|packed| (packed.bin, packed.repeat)));
    let mut work = STEPS;
    let rest = build::rest(problem, weights, out.clone(), left, goal, &mut work, random);
    let groups = rest.groups.iter();
    packed.extend(groups.map(|group| Packed::from_sheet(problem, &group.sheet, group.repeat)));
    *out = rest.out;
}

/// What guillotine cuts come to.
struct Searched {
    best: Grouped,
    /// A bound found on the way.
    bound: Option<Bound>,
    is_stopped: bool,
}

/// Looks for the best nest by guillotine cuts.
fn search(
    problem: &Problem,
    weights: &Weights,
    kind: Kind,
    goal: f64,
    options: Options,
    watch: &dyn Watch,
    random: &mut Random,
) -> Searched {
    let count = piece_count(problem);
    let steps = u64::from(options.effort) * STEPS;
    let is_lot = count >= 3 * problem.items.len() as u64 && !problem.charges_length;
    // A linear program of so many rows is not worth beginning.
    let is_solvable = (problem.items.len() as u64).saturating_pow(3) / 8 <= 4 * steps;
    let mut work = steps / 8;
    let mut best: Option<Grouped> = None;
    if count <= WINDOW {
        let pool: Vec<usize> = expanded(problem.items.iter().map(|item| item.count));
        let start = Packing::new(problem, pool);
        let packing = build::whole(problem, weights, &start, goal, &mut work, random);
        best = Some(grouped(problem, weights, &packing));
    }
    let is_reached = |best: &Grouped, goal: f64| {
        best.cost <= goal + 1e-9 && best.out.iter().all(|out| *out == 0)
    };
    let is_open = best.as_ref().is_some_and(|best| !is_reached(best, goal));
    if is_open && joining::is_promising(problem, weights, goal) {
        let left = u64::from(options.effort) * (JOINING_STEPS.0 + JOINING_STEPS.1 * count);
        let mut budget = Budget { left, watch, is_stopped: false };
        // With numbers of its own, so that the search is the same where nothing is found.
        let mut random = Random::new(options.seed);
        best = joining::search(problem, weights, &mut budget, &mut random).or(best);
    }
    if !best.as_ref().is_some_and(|best| is_reached(best, goal)) {
        // Of lots, column generation finds the better patterns.
        let (rounds, share) =
            if is_lot { (1, 16) } else { ((1 + options.effort / 5).min(ROUNDS), 4) };
        let mut effort = Effort { rounds, work: steps / share };
        let repeated = build::patterns(problem, weights, goal, &mut effort, watch, random);
        if best.as_ref().is_none_or(|best| repeated.value(weights) < best.value(weights)) {
            best = Some(repeated);
        }
    }
    let mut bound: Option<Bound> = None;
    let mut best = best.expect("patterns were made where no whole packing was");
    if is_lot && is_solvable && !is_reached(&best, goal) {
        let mut work = 4 * steps;
        let (found, prices) =
            columns::columns(problem, weights, &best, goal, &mut work, watch, random);
        if found.value(weights) < best.value(weights) {
            best = found;
        }
        bound = bound::guillotine(problem, &prices, steps * 4);
    }
    // Above what is known of guillotine cuts no search goes on.
    let goal = bound.as_ref().map_or(goal, |bound| goal.max(in_dearest(problem, &bound.cost)));
    let share = if is_lot { (150_000, 3_000, 2) } else { (220_000, 5_000, 3) };
    let left = u64::from(options.effort) * (share.0 + share.1 * count.min(WINDOW));
    let mut budget = Budget { left: left.min(share.2 * steps), watch, is_stopped: false };
    best = improved(problem, weights, best, goal, &mut budget, random);
    // Free cutting searches the same up to here, so that it never ends with less; but it may go below this bound.
    Searched { best, bound: bound.filter(|_| !kind.is_free()), is_stopped: budget.is_stopped }
}

/// Returns how many pieces there are.
fn piece_count(problem: &Problem) -> u64 {
    problem.items.iter().fold(0, |sum, item| sum.saturating_add(item.count))
}

fn expanded(counts: impl Iterator<Item = u64>) -> Vec<usize> {
    let mut pool = Vec::new();
    for (item, count) in counts.enumerate() {
        pool.extend((0..count).map(|_| item));
    }
    pool
}

fn grouped(problem: &Problem, weights: &Weights, packing: &Packing) -> Grouped {
    let mut out = vec![0; problem.items.len()];
    for item in &packing.pool {
        out[*item] += 1;
    }
    let sheets = packing.sheets.iter();
    let groups = sheets.map(|sheet| Group { sheet: (**sheet).clone(), repeat: 1 }).collect();
    let cost = build::taken_cost(problem, weights, packing);
    Grouped { groups, out, cost }
}

/// Improves the sheets with most waste, as many as the window holds, and keeps the others.
fn improved(
    problem: &Problem,
    weights: &Weights,
    mut start: Grouped,
    bound: f64,
    budget: &mut Budget<'_>,
    random: &mut Random,
) -> Grouped {
    let waste = |group: &Group| {
        let sheet = &group.sheet;
        sheet.waste() / weights.areas[sheet.bin]
    };
    start.groups.sort_by(|left, right| waste(right).total_cmp(&waste(left)));
    let mut packing = Packing::new(problem, Vec::new());
    let mut room = WINDOW;
    for (item, out) in start.out.iter_mut().enumerate() {
        let taken = (*out).min(room);
        packing.pool.extend((0..taken).map(|_| item));
        *out -= taken;
        room -= taken;
    }
    for group in &mut start.groups {
        let size = (group.sheet.placed().len() as u64).max(1);
        let taken = (room / size).min(group.repeat);
        room -= taken * size;
        group.repeat -= taken;
        for _ in 0..taken {
            packing.cost += weights.cost(problem, group.sheet.bin, group.sheet.length);
            packing.sheets.push(Rc::new(group.sheet.clone()));
        }
    }
    start.groups.retain(|group| group.repeat > 0);
    let mut kept_cost = 0.0;
    for group in &start.groups {
        if let Some(left) = &mut packing.left[group.sheet.bin] {
            *left -= group.repeat;
        }
        kept_cost +=
            weights.cost(problem, group.sheet.bin, group.sheet.length) * group.repeat as f64;
    }
    for sheet in &packing.sheets {
        if let Some(left) = &mut packing.left[sheet.bin] {
            *left -= 1;
        }
    }
    let goals =
        Goals { least: bound - kept_cost, known: build::taken_cost(problem, weights, &packing) };
    let given = budget.left;
    let mut improved = improve::improve(problem, weights, packing, goals, budget, random);
    if !problem.charges_length && !budget.is_stopped {
        let work = (TIDYING * improved.piece_count() as u64).min(given / 8);
        improved = tidy::tidy(problem, weights, improved, work, budget.watch, random);
    }
    let improved = grouped(problem, weights, &improved);
    start.groups.extend(improved.groups);
    for (out, more) in start.out.iter_mut().zip(improved.out) {
        *out += more;
    }
    start.cost = kept_cost + improved.cost;
    start
}
