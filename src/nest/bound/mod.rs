//! Costs no nest of sheets or rolls can go below.
//!
//! Idea: give each piece a value so that no stock can hold pieces worth more than a known amount; then the stocks needed
//! for all the values bound the cost. Values are products of a dual feasible function per axis (Fekete and Schepers, "A
//! general framework for bounds for higher-dimensional orthogonal packing problems", 2004; Carlier, Clautiaux and Moukrim,
//! "New reduction procedures and lower bounds for the two-dimensional bin packing problem with fixed orientation", 2007);
//! a piece that may be turned gets the lesser of its two values (Boschetti and Mingozzi, "The two-dimensional finite bin
//! packing problem", 2003). Several stocks: the cheapest whole numbers of each that cover all the values (the integer
//! form of Farley, "A note on bounding a class of linear programming problems", 1990).
//!
//! Everything is exact: integers in the units of the [`Problem`], costs as ratios. Floats only choose which values to
//! look at more closely. All bounds hold for any cutting.

pub(in crate::nest) mod guillotine;
mod rolls;
mod scale;
mod screen;
#[cfg(test)]
mod tests;

use crate::nest::bound::scale::{Scale, scales};
use crate::nest::bound::screen::Screen;
use crate::nest::rect::problem::{Fit, Problem, Side};
use crate::nest::{Bound, BoundRule};
use crate::quantity::{Length, Ratio};

/// Most whole-number mixes of stocks looked at for one set of values.
const MIXES: u64 = 4_000;

/// Returns a bound for the pieces of a problem and a run of full-width splices.
pub(in crate::nest) fn sheets(problem: &Problem, run: Length) -> Bound {
    let own = fixed_rules(problem, run);
    // Fewer pieces may turn, so every bound for turning holds as well; which is better depends on the sizes.
    match turned(problem).map(|relaxed| fixed_rules(&relaxed, run)) {
        Some(relaxed) => {
            let stocks = own.stocks.max(relaxed.stocks);
            let better = if relaxed.cost > own.cost { relaxed } else { own };
            Bound { stocks, ..better }
        }
        None => own,
    }
}

/// Returns a bound for guillotine cuts from what each item may be worth, or nothing if it takes more than `work` steps.
///
/// The best worth of a bin is found exactly; the values then bound the cost as all others do. Good values are the prices of
/// a linear program over patterns, whatever patterns it knows (Farley 1990). Not for rolls charged by length, nor for
/// strips that lie in the trim alone and take nothing of a bin.
pub(in crate::nest) fn guillotine(problem: &Problem, worth: &[i64], work: u64) -> Option<Bound> {
    let mut fits = problem.items.iter().flat_map(|item| item.fits.iter().flatten());
    if fits.any(|fit| fit.least_width() == 0) {
        return None;
    }
    let mut work = work;
    let most: Option<Vec<i128>> = (0..problem.bins.len())
        .map(|bin| guillotine::most(problem, bin, worth, &mut work).map(i128::from))
        .collect();
    let total = problem.items.iter().zip(worth);
    let total = total.map(|(item, worth)| i128::from(item.count) * i128::from(*worth)).sum();
    let values = Values { total, most: most?, method: "column generation" };
    Some(Bound {
        cost: on_lattice(problem, cover(problem, &values)),
        stocks: least_count(problem, &values),
        rule: BoundRule::Guillotine,
        method: values.method,
    })
}

/// Values for all pieces, and how much of it each bin can hold.
struct Values {
    total: i128,
    /// Most that a bin holds, by bin.
    most: Vec<i128>,
    method: &'static str,
}

fn fixed_rules(problem: &Problem, run: Length) -> Bound {
    let mut bound = Bound { cost: Ratio::ZERO, stocks: 0, rule: BoundRule::Any, method: "area" };
    if problem.bins.is_empty() || (problem.items.is_empty() && run == Length::ZERO) {
        return bound;
    }
    let area = Area::new(problem, run);
    let candidates: Vec<Values> =
        area.best_values(problem).into_iter().chain(edge_values(problem)).collect();
    for values in &candidates {
        bound.stocks = bound.stocks.max(least_count(problem, values));
    }
    let candidates = if problem.charges_length { by_length(&area, problem) } else { candidates };
    for values in candidates {
        let cost = if problem.charges_length {
            fractional_cover(problem, &values)
        } else {
            cover(problem, &values)
        };
        if cost > bound.cost {
            bound.cost = cost;
            bound.method = values.method;
        }
    }
    if problem.charges_length
        && let Some(cost) = rolls::by_roll(&area, problem)
        && cost > bound.cost
    {
        (bound.cost, bound.method) = (cost, "dual feasible functions by roll");
    }
    if !problem.charges_length {
        let cheapest = problem.bins.iter().map(|bin| &bin.cost).min();
        let least = cheapest.map(|cost| cost * &Ratio::whole(i128::from(bound.stocks)));
        if let Some(least) = least.filter(|least| *least > bound.cost) {
            bound.cost = least;
            bound.method = "dual feasible functions";
        }
        bound.cost = on_lattice(problem, bound.cost);
    } else if let [bin] = &problem.bins[..]
        && run == Length::ZERO
        && let Some(step) = bin.cost.checked_div(&Ratio::from(bin.stock_length))
        && let Some(steps) = bound.cost.checked_div(&step)
    {
        // Pieces, kerf and trim are whole numbers of units, so each roll is charged for whole units.
        bound.cost = &steps.ceil() * &step;
    }
    bound
}

/// What the values by area are made of.
struct Area {
    /// Usable extents of the bins, by axis.
    extents: [Vec<i64>; 2],
    /// Distinct sizes of each item.
    sizes: Vec<Vec<(i64, i64)>>,
    counts: Vec<i128>,
    /// Length of the run with its cuts, at least.
    run: i64,
    /// What a bound by area alone is called.
    method: &'static str,
}

impl Area {
    fn new(problem: &Problem, run: Length) -> Area {
        let size = |fit: &Fit| (fit.length, fit.least_width());
        let sizes: Vec<Vec<(i64, i64)>> = problem
            .items
            .iter()
            .map(|item| {
                let mut sizes: Vec<(i64, i64)> = item.fits.iter().flatten().map(size).collect();
                sizes.sort_unstable();
                sizes.dedup();
                sizes
            })
            .collect();
        let run_length = run.nanometers() / problem.unit;
        let longest = problem.bins.iter().map(|bin| bin.length - problem.kerf).max().unwrap_or(1);
        let splices = (run_length + longest - 1) / longest;
        let lengths: Vec<i64> = problem.bins.iter().map(|bin| bin.length).collect();
        let widths: Vec<i64> = problem.bins.iter().map(|bin| bin.width).collect();
        let counted = |side: fn(&(i64, i64)) -> i64| {
            let items = problem.items.iter().zip(&sizes);
            items
                .map(|(item, sizes)| (sizes.iter().map(side).collect(), item.count))
                .collect::<Vec<(Vec<i64>, u64)>>()
        };
        // Pushed to one corner, pieces reach only sums of their sizes. A run has any size, an edge is not left.
        let lengths = if run == Length::ZERO {
            scale::reachable(&lengths, &counted(|size| size.0))
        } else {
            lengths
        };
        let widths = if run == Length::ZERO && !problem.has_edges {
            scale::reachable(&widths, &counted(|size| size.1))
        } else {
            widths
        };
        let is_whole = problem
            .bins
            .iter()
            .zip(lengths.iter().zip(&widths))
            .all(|(bin, (length, width))| bin.length == *length && bin.width == *width);
        Area {
            method: if is_whole { "area" } else { "usable area" },
            extents: [lengths, widths],
            counts: problem.items.iter().map(|item| i128::from(item.count)).collect(),
            sizes,
            run: run_length + splices * problem.kerf,
        }
    }

    /// Returns the values of the most promising pairs of scales, the areas themselves first.
    fn best_values(&self, problem: &Problem) -> Vec<Values> {
        let scaled = |axis: usize| {
            let mut scaled: Vec<Scaled> = Vec::new();
            for scale in self.scales(axis) {
                let next = self.scaled(axis, &scale);
                let is_like = |other: &Scaled| other.items == next.items && other.bins == next.bins;
                if !scaled.iter().any(is_like) {
                    scaled.push(next);
                }
            }
            scaled
        };
        let (mut along, across) = (scaled(0), scaled(1));
        if self.run > 0 {
            // A splice of the run may have any length, so only length itself counts it.
            along.truncate(1);
        }
        let screen = Screen::new(problem, self, &along, &across);
        let mut pairs = screen.best_pairs();
        pairs.insert(0, (0, 0));
        let values = |(first, second): (usize, usize)| {
            let (along, across) = (&along[first], &across[second]);
            let most = along.bins.iter().zip(&across.bins).map(|(along, across)| along * across);
            let is_area = (first, second) == (0, 0);
            let method = if is_area { self.method } else { "dual feasible functions" };
            Values { total: self.total(along, across), most: most.collect(), method }
        };
        pairs.into_iter().map(values).collect()
    }

    fn scales(&self, axis: usize) -> Vec<Scale> {
        let mut sizes: Vec<(i64, u64)> = Vec::new();
        for (item, item_sizes) in self.sizes.iter().enumerate() {
            let mut along: Vec<i64> =
                item_sizes.iter().map(|size| if axis == 0 { size.0 } else { size.1 }).collect();
            along.sort_unstable();
            along.dedup();
            let count = u64::try_from(self.counts[item]).expect("a count is a u64");
            sizes.extend(along.into_iter().map(|side| (side, count)));
        }
        let longest = self.extents[axis].iter().copied().max().unwrap_or(0);
        scales(longest, &sizes)
    }

    fn scaled(&self, axis: usize, scale: &Scale) -> Scaled {
        let longest = self.extents[axis].iter().copied().max().unwrap_or(0);
        let value = |size: i64| scale.value(size, longest);
        let side = |size: &(i64, i64)| value(if axis == 0 { size.0 } else { size.1 });
        let items = self.sizes.iter().map(|sizes| sizes.iter().map(side).collect()).collect();
        let bins = self.extents[axis].iter().map(|extent| scale.most(*extent, longest)).collect();
        Scaled { items, bins }
    }

    fn total(&self, first: &Scaled, second: &Scaled) -> i128 {
        let mut total = 0;
        for ((along, across), count) in first.items.iter().zip(&second.items).zip(&self.counts) {
            let value = along.iter().zip(across).map(|(along, across)| along * across).min();
            total += value.unwrap_or(0) * count;
        }
        let narrowest = second.bins.iter().copied().min().unwrap_or(0);
        total + i128::from(self.run) * narrowest
    }
}

/// What a scale makes of each item, by size, and of the bins.
struct Scaled {
    items: Vec<Vec<i128>>,
    bins: Vec<i128>,
}

/// Values for rolls charged by length: length in proportion, width by any scale.
///
/// A roll charged to `taken` holds pieces to at most `taken`; a whole one, whose trim is kerf, to its extent.
fn by_length(area: &Area, problem: &Problem) -> Vec<Values> {
    let along = area.scaled(0, &Scale::Whole);
    let mut found = Vec::new();
    for scale in area.scales(1) {
        let is_area = matches!(scale, Scale::Whole);
        let across = area.scaled(1, &scale);
        let total = area.total(&along, &across);
        let most =
            problem.bins.iter().enumerate().map(|(index, bin)| {
                i128::from(bin.length.max(bin.stock_length)) * across.bins[index]
            });
        let method = if is_area { area.method } else { "dual feasible functions" };
        found.push(Values { total, most: most.collect(), method });
    }
    found
}

/// Values by factory edges: a sheet has two, of its length each; a piece takes one or both.
fn edge_values(problem: &Problem) -> Vec<Values> {
    if !problem.has_edges {
        return Vec::new();
    }
    let edges = |fit: &Fit| match fit.side {
        Side::Any => 0,
        Side::Edge => 1,
        Side::Whole => 2,
    };
    let longest = problem.bins.iter().map(|bin| bin.length).max().unwrap_or(0);
    let mut sizes = Vec::new();
    for item in &problem.items {
        if let Some(fit) = item.fits.iter().flatten().find(|fit| edges(fit) > 0) {
            sizes.push((fit.length, item.count.saturating_mul(2)));
        }
    }
    let values = |scale: Scale| {
        let value = |fit: &Fit| edges(fit) * scale.value(fit.length, longest);
        let item = |item: &crate::nest::rect::problem::Item| {
            let least = item.fits.iter().flatten().map(value).min().unwrap_or(0);
            least * i128::from(item.count)
        };
        let most = problem.bins.iter().map(|bin| 2 * scale.most(bin.length, longest));
        Values {
            total: problem.items.iter().map(item).sum(),
            most: most.collect(),
            method: "factory edges",
        }
    };
    scales(longest, &sizes).into_iter().map(values).collect()
}

/// Returns the problem with every piece free to turn that needs no edge, if that changes it.
fn turned(problem: &Problem) -> Option<Problem> {
    let mut relaxed = problem.clone();
    let mut is_changed = false;
    for item in &mut relaxed.items {
        for (bin, fits) in problem.bins.iter().zip(&mut item.fits) {
            let [fit] = fits[..] else { continue };
            let is_free = fit.side == Side::Any && !fit.is_turned && fit.length != fit.width;
            if is_free && fit.width <= bin.length && fit.length <= bin.width {
                let (length, width) = (fit.width, fit.length);
                fits.push(Fit { length, width, is_turned: true, side: Side::Any });
                is_changed = true;
            }
        }
    }
    is_changed.then_some(relaxed)
}

/// Returns how many stocks the values need at least, the most spacious first.
fn least_count(problem: &Problem, values: &Values) -> u64 {
    let mut order: Vec<usize> = (0..problem.bins.len()).collect();
    order.sort_by_key(|bin| std::cmp::Reverse(values.most[*bin]));
    let mut left = values.total;
    let mut count = 0;
    for bin in order {
        let most = values.most[bin];
        if left <= 0 || most <= 0 {
            break;
        }
        let needed = u64::try_from((left + most - 1) / most).unwrap_or(u64::MAX);
        let taken = problem.bins[bin].available.map_or(needed, |available| needed.min(available));
        left -= most * i128::from(taken);
        count += taken;
    }
    count
}

/// Bins that hold any of the values, cheapest for what they hold first.
fn by_rate(problem: &Problem, values: &Values) -> Vec<usize> {
    let mut order: Vec<usize> =
        (0..problem.bins.len()).filter(|bin| values.most[*bin] > 0).collect();
    order.sort_by(|left, right| {
        let rate = |bin: &usize| &problem.bins[*bin].cost * &ratio(1, values.most[*bin]);
        rate(left).cmp(&rate(right)).then(left.cmp(right))
    });
    order
}

fn ratio(numerator: i128, denominator: i128) -> Ratio {
    Ratio::new(numerator, denominator).expect("what a bin holds is above zero")
}

/// Returns the least cost of parts of bins that hold the values.
fn fractional_cover(problem: &Problem, values: &Values) -> Ratio {
    let order = by_rate(problem, values);
    fractional_from(problem, values, &order, values.total)
}

fn fractional_from(problem: &Problem, values: &Values, order: &[usize], total: i128) -> Ratio {
    let mut left = total;
    let mut cost = Ratio::ZERO;
    for index in order {
        if left <= 0 {
            break;
        }
        let (bin, most) = (&problem.bins[*index], values.most[*index]);
        let all = bin.available.map(|available| most.saturating_mul(i128::from(available)));
        let taken = all.map_or(left, |all| left.min(all));
        cost += &(&bin.cost * &ratio(taken, most));
        left -= taken;
    }
    cost
}

/// Returns the least cost of whole bins that hold the values; of parts where there are too many mixes.
fn cover(problem: &Problem, values: &Values) -> Ratio {
    let order = by_rate(problem, values);
    let mut mixes = 1_u64;
    for index in order.iter().skip(1) {
        let most = values.most[*index];
        let needed = u64::try_from(values.total / most + 2).unwrap_or(u64::MAX);
        let available = problem.bins[*index].available.map_or(u64::MAX, |available| available + 1);
        mixes = mixes.saturating_mul(needed.min(available));
    }
    if mixes > MIXES {
        return fractional_from(problem, values, &order, values.total);
    }
    let mut best = None;
    whole_cover(problem, values, &order, values.total, &Ratio::ZERO, &mut best);
    best.unwrap_or_else(|| fractional_from(problem, values, &order, values.total))
}

/// Tries every number of the last bin, then of the one before it; the first is settled by division.
fn whole_cover(
    problem: &Problem,
    values: &Values,
    order: &[usize],
    left: i128,
    cost: &Ratio,
    best: &mut Option<Ratio>,
) {
    if best.as_ref().is_some_and(|best| cost >= best) {
        return;
    }
    let Some((index, others)) = order.split_last() else {
        if left <= 0 {
            *best = Some(cost.clone());
        }
        return;
    };
    let (bin, most) = (&problem.bins[*index], values.most[*index]);
    let needed = if left <= 0 { 0 } else { (left + most - 1) / most };
    let allowed = bin.available.map_or(needed, |available| needed.min(i128::from(available)));
    let first = if others.is_empty() { allowed } else { 0 };
    for count in first..=allowed {
        let cost = cost + &(&bin.cost * &Ratio::whole(count));
        whole_cover(problem, values, others, left - most * count, &cost, best);
    }
}

/// Rounds a cost up to a multiple of the largest amount that divides every stock's cost.
fn on_lattice(problem: &Problem, cost: Ratio) -> Ratio {
    let mut step: Option<(i128, i128)> = None;
    for bin in problem.bins.iter().filter(|bin| !bin.cost.is_zero()) {
        let Some((numerator, denominator)) = bin.cost.to_parts() else { return cost };
        let Some((step_numerator, step_denominator)) = step else {
            step = Some((numerator, denominator));
            continue;
        };
        let left = step_numerator.checked_mul(denominator);
        let right = numerator.checked_mul(step_denominator);
        let below = step_denominator.checked_mul(denominator);
        let (Some(left), Some(right), Some(below)) = (left, right, below) else { return cost };
        step = Some((common_divisor(left, right), below));
    }
    let Some(step) = step.and_then(|(numerator, denominator)| Ratio::new(numerator, denominator))
    else {
        return cost;
    };
    let steps = cost.checked_div(&step).expect("a step divides a cost above zero").ceil();
    &steps * &step
}

fn common_divisor(mut left: i128, mut right: i128) -> i128 {
    while right != 0 {
        (left, right) = (right, left % right);
    }
    left
}
