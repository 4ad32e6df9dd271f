//! A bound for rolls of several widths, charged by length: each roll counts widths its own way.
//!
//! Idea: on every roll, a piece costs at least its length times the share of the width that a dual feasible function of that
//! roll gives it, at the roll's price of length; wherever it ends up, it costs at least the least of these over the rolls it
//! fits. So the prices of all pieces bound the cost, whichever function each roll has. The functions are chosen one
//! roll after the other, as long as the sum grows.
#![expect(
    clippy::float_arithmetic,
    clippy::cast_precision_loss,
    reason = "chooses the functions; the bound itself is exact"
)]

use crate::nest::bound::scale::{Scale, scales};
use crate::nest::bound::screen::costs;
use crate::nest::bound::{Area, ratio};
use crate::nest::rect::problem::{Fit, Problem};
use crate::quantity::Ratio;

/// Most times that the function of every roll is chosen anew.
const ROUNDS: usize = 4;

/// What the pieces take of one roll by one function.
struct Shares {
    /// For each item its length times its share, of `whole`; nothing where it does not fit the roll.
    taken: Vec<Option<i128>>,
    whole: i128,
}

/// Returns the bound; nothing for one roll, which the values of all rolls together serve as well.
pub(super) fn by_roll(area: &Area, problem: &Problem) -> Option<Ratio> {
    if problem.bins.len() < 2 {
        return None;
    }
    let rolls: Vec<Vec<Shares>> = (0..problem.bins.len())
        .map(|bin| shares(area, problem, bin))
        .filter(|shares| !shares.is_empty())
        .collect();
    if rolls.len() < problem.bins.len() {
        return None;
    }
    let chosen = choose(problem, &rolls);
    let rate = |bin: usize| {
        let shares = &rolls[bin][chosen[bin]];
        &problem.bins[bin].cost * &ratio(1, shares.whole)
    };
    let rates: Vec<Ratio> = (0..rolls.len()).map(rate).collect();
    let mut bound = Ratio::ZERO;
    for (index, item) in problem.items.iter().enumerate() {
        let on_rolls = (0..rolls.len()).filter_map(|bin| {
            let taken = rolls[bin][chosen[bin]].taken[index]?;
            Some(&rates[bin] * &Ratio::whole(taken))
        });
        let least = on_rolls.min().expect("an item of a problem fits somewhere");
        bound += &(&least * &Ratio::whole(i128::from(item.count)));
    }
    if area.run > 0 {
        let of_run = problem.bins.iter().map(|bin| {
            &bin.cost * &ratio(i128::from(area.run), i128::from(bin.length.max(bin.stock_length)))
        });
        bound += &of_run.min().expect("there are rolls");
    }
    Some(bound)
}

/// Returns what the pieces take of a roll by each function.
fn shares(area: &Area, problem: &Problem, bin: usize) -> Vec<Shares> {
    let width = area.extents[1][bin];
    let length = i128::from(problem.bins[bin].length.max(problem.bins[bin].stock_length));
    let fits = || problem.items.iter().map(|item| &item.fits[bin]);
    let mut sizes: Vec<(i64, u64)> = Vec::new();
    for (item, fits) in problem.items.iter().zip(fits()) {
        let mut widths: Vec<i64> = fits.iter().map(Fit::least_width).collect();
        widths.sort_unstable();
        widths.dedup();
        sizes.extend(widths.into_iter().map(|width| (width, item.count)));
    }
    let of_scale = |scale: Scale| {
        let most = scale.most(width, width);
        let taken = fits().map(|fits| {
            let share =
                |length: i64, width_of: i64| i128::from(length) * scale.value(width_of, width);
            fits.iter().map(|fit| share(fit.length, fit.least_width())).min()
        });
        Shares { taken: taken.collect(), whole: length * most }
    };
    scales(width, &sizes).into_iter().map(of_scale).filter(|shares| shares.whole > 0).collect()
}

/// Returns the position of the function that each roll has.
fn choose(problem: &Problem, rolls: &[Vec<Shares>]) -> Vec<usize> {
    let costs = costs(problem);
    let priced = |bin: usize, shares: &Shares| -> Vec<f64> {
        let rate = costs[bin] / shares.whole as f64;
        let price = |taken: &Option<i128>| taken.map_or(f64::INFINITY, |taken| taken as f64 * rate);
        shares.taken.iter().map(price).collect()
    };
    let prices: Vec<Vec<Vec<f64>>> = rolls
        .iter()
        .enumerate()
        .map(|(bin, all)| all.iter().map(|shares| priced(bin, shares)).collect())
        .collect();
    let counts: Vec<f64> = problem.items.iter().map(|item| item.count as f64).collect();
    let mut chosen = vec![0; rolls.len()];
    let mut most = 0.0;
    for _ in 0..ROUNDS {
        let before = most;
        for bin in 0..rolls.len() {
            // What the pieces cost at least on the other rolls.
            let mut others = vec![f64::INFINITY; counts.len()];
            for other in (0..rolls.len()).filter(|other| *other != bin) {
                for (least, price) in others.iter_mut().zip(&prices[other][chosen[other]]) {
                    *least = least.min(*price);
                }
            }
            for (position, prices) in prices[bin].iter().enumerate() {
                let least = others.iter().zip(prices).map(|(other, price)| other.min(*price));
                let sum: f64 = least.zip(&counts).map(|(least, count)| least * count).sum();
                if sum > most * (1.0 + 1e-12) {
                    (most, chosen[bin]) = (sum, position);
                }
            }
        }
        if most <= before {
            break;
        }
    }
    chosen
}
