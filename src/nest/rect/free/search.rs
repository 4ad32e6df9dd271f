//! Looks for the order in which a skyline leaves nothing out of cheaper bins.
//!
//! Idea: the bins are given, a little cheaper than the best known, and the area that does not come in is what the search lowers
//! by swapping and moving pieces in the order (Wei, Oon, Zhu and Lim, "A skyline heuristic for the 2D rectangular packing and
//! strip packing problems", 2011); worse orders are taken by late acceptance (Burke and Bykov 2017), and a chain that does
//! not get there starts again (Luby, Sinclair and Zuckerman 1993). A filling is given up once it wastes too much.
#![expect(
    clippy::float_arithmetic,
    clippy::cast_precision_loss,
    reason = "search weights: they choose among valid packings and never reach a cost or a bound"
)]

use crate::nest::random::Random;
use crate::nest::rect::expanded;
use crate::nest::rect::free::skyline::{Choosing, Entry, Filling, Part, Scratch};
use crate::nest::rect::improve::{Budget, luby};
use crate::nest::rect::packing::{Order, Weights, sort};
use crate::nest::rect::problem::Problem;
use crate::nest::rect::tree::Placed;

/// Orders tried in the shortest chain, for each piece.
const CHAIN: u64 = 60;

/// Orders after which one is forgotten.
const HISTORY: usize = 60;

/// Bins with what lies in them, and what is out.
#[derive(Clone, Debug)]
pub(super) struct Filled {
    /// The bins, as far as they are taken, with the pieces.
    pub(super) parts: Vec<(Part, Vec<Placed>)>,
    /// Items still out.
    pub(super) out: Vec<usize>,
    /// Area out, then cost.
    pub(super) value: (f64, f64),
}

/// What a search works on.
pub(super) struct Search<'a> {
    pub(super) problem: &'a Problem,
    pub(super) weights: &'a Weights,
    /// No bins are cheaper.
    pub(super) least: f64,
    choosing: Choosing,
    scratch: Scratch,
}

impl<'a> Search<'a> {
    pub(super) fn new(problem: &'a Problem, weights: &'a Weights, least: f64) -> Search<'a> {
        Search { problem, weights, least, choosing: Choosing::Even, scratch: Scratch::default() }
    }

    /// Lowers the area out of bins, then their cost, starting from bins that are known to do but for `area_out`.
    pub(super) fn run(
        &mut self,
        mut parts: Vec<Part>,
        area_out: f64,
        budget: &mut Budget<'_>,
        random: &mut Random,
    ) -> Option<Filled> {
        if parts.is_empty() {
            return None;
        }
        let mut best: Option<Filled> = None;
        let mut value = (area_out, self.cost(&parts));
        let mut orders = self.first_orders(random);
        let count = orders[0].len() as u64;
        let mut share = 4;
        let mut tried = 0;
        let mut misses = 0;
        while budget.left > 0 && !budget.is_stopped {
            if value.0 == 0.0 && value.1 <= self.least + 1e-9 {
                break;
            }
            let goal = if value.0 > 0.0 {
                Some(parts.clone())
            } else {
                self.cheaper(&parts, share, random)
                    .filter(|goal| self.waste(goal) > -0.5 && self.cost(goal) < value.1)
            };
            let Some(goal) = goal else {
                misses += 1;
                if share < i64::MAX / 2 {
                    share *= 2;
                }
                if misses > 64 {
                    break;
                }
                continue;
            };
            tried += 1;
            self.choosing = if tried % 3 == 0 { Choosing::First } else { Choosing::Even };
            let rounds = CHAIN * count * luby(tried);
            let reached = self.reach(&goal, value.0, &mut orders, rounds, budget, random);
            if let Some(filled) = reached.filter(|filled| filled.value < value) {
                parts = filled.parts.iter().map(|(part, _)| *part).collect();
                value = filled.value;
                best = Some(filled);
                tried = 0;
                misses = 0;
                share = 4;
            } else if share < i64::MAX / 2 {
                share *= 2;
            }
        }
        best
    }

    /// Returns orders by the usual keys.
    fn first_orders(&self, random: &mut Random) -> Vec<Vec<Entry>> {
        let pool = expanded(self.problem.items.iter().map(|item| item.count));
        let keys = [Order::Area, Order::Width, Order::Longest, Order::Length, Order::Perimeter];
        let order = |key| {
            let mut pool = pool.clone();
            sort(&mut pool, self.weights, key, random);
            pool.into_iter().map(|item| Entry { item, is_flipped: false }).collect()
        };
        keys.map(order).to_vec()
    }

    /// Returns bins that cost less: of rolls charged by length a little less, else one bin fewer or a cheaper one.
    fn cheaper(&self, parts: &[Part], share: i64, random: &mut Random) -> Option<Vec<Part>> {
        let mut parts = parts.to_vec();
        if self.problem.charges_length {
            self.shorten(&mut parts, share, random);
        } else {
            let part = parts.swap_remove(random.index(parts.len()));
            let costs = &self.weights.costs;
            let mut better = self.left(&parts);
            better.retain(|bin| costs[*bin] < costs[part.bin] - 1e-9);
            // One in so many ways of lowering the cost is to do without the bin.
            if let Some(bin) = better.get(random.index(better.len() + 1)) {
                parts.push(Part { bin: *bin, length: self.problem.bins[*bin].length });
            }
        }
        (!parts.is_empty()).then_some(parts)
    }

    /// Takes a share of what is wasted off a roll; now and then the roll is exchanged for one of another size that costs as
    /// much, or first passes its length to another roll.
    fn shorten(&self, parts: &mut Vec<Part>, share: i64, random: &mut Random) {
        let index = random.index(parts.len());
        let mut part = parts.swap_remove(index);
        let others = if random.below(3) == 0 { self.left(parts) } else { Vec::new() };
        // What comes of an exchange is rounded down, which may be less already.
        let least_step = i64::from(others.is_empty());
        if !others.is_empty() {
            let bin = others[random.index(others.len())];
            let rate = |bin: usize| self.weights.costs[bin] / self.problem.bins[bin].length as f64;
            let length = part.length as f64 * (rate(part.bin) / rate(bin).max(f64::MIN_POSITIVE));
            let most = self.problem.bins[bin].length;
            #[expect(clippy::cast_possible_truncation, reason = "a length below 2^53")]
            let length = length.min(most as f64) as i64;
            part = Part { bin, length };
        }
        let all: Vec<Part> = parts.iter().copied().chain([part]).collect();
        let width = self.problem.bins[part.bin].width as f64;
        #[expect(clippy::cast_possible_truncation, reason = "a length below 2^53")]
        let waste = (self.waste(&all) / width) as i64;
        if !parts.is_empty() && random.below(2) == 0 {
            let other = random.index(parts.len());
            let room = self.problem.bins[parts[other].bin].length - parts[other].length;
            let shift = room.min(part.length);
            parts[other].length += shift;
            part.length -= shift;
        }
        part.length -= (waste / share).max(least_step);
        if part.length > 0 {
            parts.push(part);
        }
    }

    /// Returns the bins of which there are more than `parts` take.
    fn left(&self, parts: &[Part]) -> Vec<usize> {
        let used = |bin: usize| parts.iter().filter(|part| part.bin == bin).count() as u64;
        let bins = self.problem.bins.iter().enumerate();
        let left = bins.filter(|(bin, stock)| stock.available.is_none_or(|most| used(*bin) < most));
        left.map(|(bin, _)| bin).collect()
    }

    fn waste(&self, parts: &[Part]) -> f64 {
        let area = |part: &Part| part.length as f64 * self.problem.bins[part.bin].width as f64;
        let counts = self.problem.items.iter().zip(&self.weights.items);
        let items: f64 = counts.map(|(item, area)| item.count as f64 * area).sum();
        parts.iter().map(area).sum::<f64>() - items
    }

    /// Returns what bins cost; of a roll charged by length its low trim is taken too, but no more than there is.
    pub(super) fn cost(&self, parts: &[Part]) -> f64 {
        let charge = |part: &Part| {
            if !self.problem.charges_length {
                return self.weights.costs[part.bin];
            }
            let bin = &self.problem.bins[part.bin];
            let trim = (bin.stock_length + self.problem.kerf - bin.length) / 2;
            let taken = (trim + part.length).min(bin.stock_length);
            self.weights.costs[part.bin] * taken as f64 / bin.stock_length as f64
        };
        parts.iter().map(charge).sum()
    }

    /// Looks for an order with less area out than `known` in given bins; without area known to be out, with none.
    fn reach(
        &mut self,
        parts: &[Part],
        known: f64,
        orders: &mut [Vec<Entry>],
        rounds: u64,
        budget: &mut Budget<'_>,
        random: &mut Random,
    ) -> Option<Filled> {
        let mut best: Option<(f64, usize)> = None;
        for (index, order) in orders.iter().enumerate() {
            if let Some(filled) = self.filled(parts, order, f64::MAX, budget) {
                if filled.value.0 == 0.0 || filled.value.0 < known {
                    return Some(filled);
                }
                // The first order is the last one that did well.
                let out = filled.value.0
                    * if index == 0 { 1.0 } else { 1.0 + random.below(64) as f64 / 256.0 };
                if best.is_none_or(|(least, _)| out < least) {
                    best = Some((out, index));
                }
            }
        }
        let (_, index) = best?;
        let mut order = orders[index].clone();
        let mut out = self.filled(parts, &order, f64::MAX, budget)?.value.0;
        let mut history = [out; HISTORY];
        for round in 0..rounds {
            if round % 64 == 0 && budget.watch.is_stopped() {
                budget.is_stopped = true;
            }
            if budget.left == 0 || budget.is_stopped {
                return None;
            }
            let mut tried = order.clone();
            change(&mut tried, random);
            let slot = usize::try_from(round % HISTORY as u64).expect("below a small number");
            let most = history[slot].max(out);
            if let Some(filled) = self.filled(parts, &tried, most, budget) {
                if filled.value.0 == 0.0 || filled.value.0 < known {
                    orders[0] = tried;
                    return Some(filled);
                }
                if filled.value.0 <= most {
                    order = tried;
                    out = filled.value.0;
                }
            }
            history[slot] = history[slot].min(out);
        }
        None
    }

    /// Fills bins in an order of pieces; nothing where more than `most` is sure to stay out.
    fn filled(
        &mut self,
        parts: &[Part],
        order: &[Entry],
        most: f64,
        budget: &mut Budget<'_>,
    ) -> Option<Filled> {
        let allowed = most + self.waste(parts) + 0.5;
        let mut filling = Filling::new(self.problem, order, self.choosing, &mut self.scratch);
        let mut filled = Vec::with_capacity(parts.len());
        for part in parts {
            let placed = filling.fill(*part, allowed);
            let Some(mut placed) = placed else {
                budget.spend(filling.work + order.len() as u64);
                return None;
            };
            let end = placed.iter().map(|placed| placed.x + placed.length).max();
            let Some(end) = end else { continue };
            placed.sort();
            let length = if self.problem.charges_length { end } else { part.length };
            filled.push((Part { length, ..*part }, placed));
        }
        budget.spend(filling.work + order.len() as u64);
        let out: Vec<usize> = filling.left().map(|entry| entry.item).collect();
        let area = out.iter().map(|item| self.weights.items[*item]).sum();
        let taken: Vec<Part> = filled.iter().map(|(part, _)| *part).collect();
        let value = (area, self.cost(&taken));
        Some(Filled { parts: filled, out, value })
    }
}

/// Swaps two pieces, moves one, or turns one.
fn change(order: &mut [Entry], random: &mut Random) {
    let first = random.index(order.len());
    let second = random.index(order.len());
    match random.below(8) {
        0..=3 => order.swap(first, second),
        4..=6 => {
            let (low, high) = (first.min(second), first.max(second));
            if first < second {
                order[low..=high].rotate_left(1);
            } else {
                order[low..=high].rotate_right(1);
            }
        }
        _ => order[first].is_flipped = !order[first].is_flipped,
    }
}
