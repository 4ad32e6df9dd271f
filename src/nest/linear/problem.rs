//! The instance on its own lattice: whole numbers small enough to count with.
//!
//! A piece takes its length and one cut, a stick offers its length between the trims and one cut, since the last piece
//! needs none behind it: so `n` pieces fit if their sizes fit the capacity. All are divided by their common measure. A
//! splice may be as long as what is left, so with a run the sticks lie on the lattice as well.

use crate::nest::{Instance, UnplacedReason};
use crate::quantity::Ratio;

/// Largest cost of one stick on the lattice of costs; beyond it costs are rounded down for the search and the bound.
const COST_LIMIT: i128 = 1 << 32;

/// A stock length.
#[derive(Clone, Debug)]
pub(super) struct Bar {
    /// Room for sizes, in lattice units.
    pub(super) capacity: i64,
    /// Length of the stick in nanometers.
    pub(super) length: i64,
    /// Longest splice of an empty stick, in lattice units; zero without a run.
    pub(super) span: i64,
    /// Cost in units of [`Scaled::unit`]; the length if all stock is free.
    pub(super) cost: i64,
    /// How many there are, if that can matter.
    pub(super) available: Option<i64>,
    /// Position in [`Instance::stocks`].
    pub(super) source: usize,
}

/// What is to be cut, in lattice units. Sizes fall; demands may be zero.
#[derive(Clone, Debug)]
pub(super) struct Problem {
    pub(super) sizes: Vec<i64>,
    pub(super) demand: Vec<i64>,
    pub(super) bars: Vec<Bar>,
    /// Length of the run.
    pub(super) run: i64,
    /// Shortest splice, above zero.
    pub(super) splice_min: i64,
}

/// What one stick is cut into.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) struct Pattern {
    /// Position in [`Problem::bars`].
    pub(super) bar: usize,
    /// Positions in [`Problem::sizes`], rising, and how many of each, above zero.
    pub(super) counts: Vec<(usize, i64)>,
    /// Length it gives to the run, zero for none; the splice itself may have to be longer.
    pub(super) splice: i64,
}

/// Patterns with how often each is cut, and what they leave.
#[derive(Clone, Debug)]
pub(super) struct Plan {
    pub(super) cuts: Vec<(Pattern, i64)>,
    /// What is still to be placed.
    pub(super) rest: Problem,
}

/// A problem with the way back to the instance.
pub(super) struct Scaled {
    pub(super) problem: Problem,
    /// For each size its pieces: positions in [`Instance::pieces`].
    pub(super) sources: Vec<Vec<usize>>,
    /// Pieces no search can place.
    pub(super) hopeless: Vec<(Option<usize>, u64, UnplacedReason)>,
    /// What one unit of [`Bar::cost`] stands for; zero if all stock is free.
    pub(super) unit: Ratio,
}

impl Problem {
    /// Tells whether nothing is left to place.
    pub(super) fn is_done(&self) -> bool {
        self.run <= 0 && self.demand.iter().all(|count| *count == 0)
    }

    /// Returns the length still to be placed.
    pub(super) fn load(&self) -> i128 {
        let pieces = self.sizes.iter().zip(&self.demand);
        pieces.map(|(size, count)| i128::from(*size) * i128::from(*count)).sum::<i128>()
            + i128::from(self.run.max(0))
    }

    /// Returns how much of a run a stick gives when pieces take `used` of it.
    pub(super) fn splice(&self, bar: &Bar, used: i64) -> i64 {
        if self.run <= 0 {
            return 0;
        }
        let left = bar.span - used;
        // What is longer than needed gives no more than is needed.
        if left >= self.splice_min { left.min(self.run) } else { 0 }
    }

    /// Returns how often the pattern may be cut before it makes more than is needed or runs out of stock.
    pub(super) fn most(&self, pattern: &Pattern) -> i64 {
        let mut most = self.bars[pattern.bar].available.unwrap_or(i64::MAX);
        for (item, count) in &pattern.counts {
            most = most.min(self.demand[*item] / count);
        }
        if pattern.counts.is_empty() {
            if pattern.splice <= 0 {
                return 0;
            }
            // The last splice may be longer than what is left to splice.
            most = most.min(self.run / pattern.splice + i64::from(self.run % pattern.splice > 0));
        }
        most
    }

    /// Takes off what `times` sticks of the pattern place.
    pub(super) fn take(&mut self, pattern: &Pattern, times: i64) {
        for (item, count) in &pattern.counts {
            self.demand[*item] -= count * times;
        }
        self.run = self.run.saturating_sub(pattern.splice.saturating_mul(times)).max(0);
        if let Some(available) = &mut self.bars[pattern.bar].available {
            *available -= times;
        }
    }

    /// Returns the length the pieces of a pattern take.
    pub(super) fn used(&self, pattern: &Pattern) -> i64 {
        pattern.counts.iter().map(|(item, count)| self.sizes[*item] * count).sum()
    }
}

impl Plan {
    /// Returns a plan that has cut nothing.
    pub(super) fn empty(problem: &Problem) -> Plan {
        Plan { cuts: Vec::new(), rest: problem.clone() }
    }

    /// Cuts a pattern so often.
    pub(super) fn cut(&mut self, pattern: &Pattern, times: i64) {
        if times <= 0 {
            return;
        }
        self.rest.take(pattern, times);
        match self.cuts.iter_mut().find(|(known, _)| known == pattern) {
            Some((_, count)) => *count += times,
            None => self.cuts.push((pattern.clone(), times)),
        }
    }

    /// Moves each pattern to the cheapest, then shortest, stick that holds it.
    pub(super) fn settle(&mut self) {
        for (pattern, times) in &mut self.cuts {
            let used = self.rest.used(pattern);
            let bars = &self.rest.bars;
            let holds = |index: &usize| {
                let bar = &bars[*index];
                used <= bar.capacity
                    && (pattern.splice == 0
                        || used + pattern.splice.max(self.rest.splice_min) <= bar.span)
                    && (*index == pattern.bar || bar.available.is_none_or(|left| left >= *times))
            };
            let key = |index: &usize| (bars[*index].cost, bars[*index].length);
            let best = (0..bars.len()).filter(holds).min_by_key(key).unwrap_or(pattern.bar);
            if key(&best) < key(&pattern.bar) {
                for (bar, change) in [(pattern.bar, *times), (best, -*times)] {
                    if let Some(available) = &mut self.rest.bars[bar].available {
                        *available += change;
                    }
                }
                pattern.bar = best;
            }
        }
    }

    /// Returns the cost in units.
    pub(super) fn cost(&self) -> i128 {
        let bars = &self.rest.bars;
        self.cuts.iter().map(|(p, n)| i128::from(bars[p.bar].cost) * i128::from(*n)).sum()
    }

    /// Returns what plans are compared by, the least being the best: length not placed, cost, stock length, layouts.
    pub(super) fn score(&self) -> (i128, i128, i128, usize) {
        let bars = &self.rest.bars;
        let length =
            self.cuts.iter().map(|(p, n)| i128::from(bars[p.bar].length) * i128::from(*n)).sum();
        (self.rest.load(), self.cost(), length, self.cuts.len())
    }
}

impl Scaled {
    /// Puts an instance on its lattice.
    pub(super) fn new(instance: &Instance) -> Scaled {
        let kerf = instance.kerf.nanometers();
        let trims = instance.trim.nanometers() * 2;
        let spans: Vec<i64> =
            instance.stocks.iter().map(|stock| stock.length.nanometers() - trims).collect();
        let is_there = |stock: usize| instance.stocks[stock].available != Some(0);
        let longest = spans.iter().copied().max().unwrap_or(0);
        let longest_there =
            (0..spans.len()).filter(|stock| is_there(*stock)).map(|stock| spans[stock]).max();

        let mut hopeless = Vec::new();
        let mut lengths: Vec<(i64, Vec<usize>, i64)> = Vec::new();
        let mut order: Vec<usize> = (0..instance.pieces.len()).collect();
        order.sort_by_key(|piece| std::cmp::Reverse(instance.pieces[*piece].length));
        for piece in order {
            let length = instance.pieces[piece].length.nanometers();
            let count = instance.pieces[piece].count;
            if length > longest {
                hopeless.push((Some(piece), count, UnplacedReason::TooLarge));
            } else if longest_there.is_none_or(|longest| length > longest) {
                hopeless.push((Some(piece), count, UnplacedReason::NoStock));
            } else {
                let count = i64::try_from(count).unwrap_or(i64::MAX);
                match lengths.last_mut() {
                    Some((last, pieces, total)) if *last == length => {
                        pieces.push(piece);
                        *total = total.saturating_add(count);
                    }
                    _ => lengths.push((length, vec![piece], count)),
                }
            }
        }
        let mut run = instance.run.nanometers().max(0);
        let splice_min = instance.splice_min.nanometers().max(1);
        if run > 0 && splice_min > longest {
            hopeless.push((None, 1, UnplacedReason::TooLarge));
            run = 0;
        } else if run > 0 && longest_there.is_none_or(|longest| splice_min > longest) {
            hopeless.push((None, 1, UnplacedReason::NoStock));
            run = 0;
        }

        let mut measure = 0;
        for (length, _, _) in &lengths {
            measure = common_divisor(measure, length + kerf);
        }
        if run > 0 {
            for span in spans.iter().filter(|span| **span > 0) {
                measure = common_divisor(measure, *span);
            }
        }
        let measure = measure.max(1);
        let up = |length: i64| length / measure + i64::from(length % measure > 0);

        let (costs, unit) = scale_costs(instance, &spans, measure);
        let sizes: Vec<i64> = lengths.iter().map(|(l, _, _)| (l + kerf) / measure).collect();
        let demand: Vec<i64> = lengths.iter().map(|(_, _, count)| *count).collect();
        let run = up(run);
        let splice_min = up(splice_min);
        let smallest = sizes.last().copied().unwrap_or(i64::MAX);
        // Every stick holds a piece or a splice, so more sticks than these cannot matter.
        let need =
            demand.iter().fold(run / splice_min + 1, |sum, count| sum.saturating_add(*count));
        let mut bars: Vec<Bar> = (0..spans.len())
            .filter(|stock| spans[*stock] > 0 && is_there(*stock))
            .map(|stock| Bar {
                capacity: (spans[stock] + kerf) / measure,
                length: instance.stocks[stock].length.nanometers(),
                span: if run > 0 { spans[stock] / measure } else { 0 },
                cost: costs[stock],
                available: instance.stocks[stock]
                    .available
                    .and_then(|available| i64::try_from(available).ok())
                    .filter(|available| *available < need),
                source: stock,
            })
            .filter(|bar| bar.capacity >= smallest || (run > 0 && bar.span >= splice_min))
            .collect();
        bars.sort_by_key(|bar| (std::cmp::Reverse(bar.length), bar.cost, bar.source));
        Scaled {
            problem: Problem { sizes, demand, bars, run, splice_min },
            sources: lengths.into_iter().map(|(_, pieces, _)| pieces).collect(),
            hopeless,
            unit,
        }
    }
}

/// Returns costs as whole multiples of a unit, and the unit.
///
/// Where the exact multiples are too large, the cost is rounded down: a bound from lower costs is still a bound.
fn scale_costs(instance: &Instance, spans: &[i64], measure: i64) -> (Vec<i64>, Ratio) {
    let costs: Vec<&Ratio> = instance.stocks.iter().map(|stock| &stock.cost).collect();
    let most = costs.iter().copied().max().cloned().unwrap_or(Ratio::ZERO);
    if most.is_zero() || most.is_negative() {
        let lengths = spans.iter().map(|span| (span / measure).max(0)).collect();
        return (lengths, Ratio::ZERO);
    }
    let unit = common_unit(&costs)
        .filter(|unit| {
            most.checked_div(unit)
                .and_then(|multiple| multiple.to_integer())
                .is_some_and(|multiple| multiple <= COST_LIMIT)
        })
        .unwrap_or_else(|| {
            most.checked_div(&Ratio::whole(COST_LIMIT)).expect("the limit is not zero")
        });
    let multiples = costs
        .iter()
        .map(|cost| {
            let multiple = cost.checked_div(&unit).expect("the unit is above zero").floor();
            let multiple = multiple.to_integer().and_then(|whole| i64::try_from(whole).ok());
            multiple.expect("no cost is more than the limit of units").max(0)
        })
        .collect();
    (multiples, unit)
}

/// Returns the largest amount that all costs are whole multiples of.
fn common_unit(costs: &[&Ratio]) -> Option<Ratio> {
    let mut top: i128 = 0;
    let mut bottom: i128 = 1;
    for cost in costs {
        let (_, denominator) = cost.to_parts()?;
        bottom = (bottom / wide_divisor(bottom, denominator)).checked_mul(denominator)?;
    }
    for cost in costs {
        let (numerator, denominator) = cost.to_parts()?;
        top = wide_divisor(top, numerator.checked_mul(bottom / denominator)?);
    }
    Ratio::new(top, bottom)
}

fn common_divisor(a: i64, b: i64) -> i64 {
    if b == 0 { a } else { common_divisor(b, a % b) }
}

fn wide_divisor(a: i128, b: i128) -> i128 {
    if b == 0 { a } else { wide_divisor(b, a % b) }
}
