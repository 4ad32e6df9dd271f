//! Moves the pieces of a sheet to a cheaper bin, or a smaller one of the same cost, where they fit it.
#![expect(
    clippy::float_arithmetic,
    clippy::cast_precision_loss,
    reason = "search weights: they choose among valid packings and never reach a cost or a bound"
)]

use crate::nest::random::Random;
use crate::nest::rect::build::{Grouped, fill_one, left};
use crate::nest::rect::packing::{Opening, Order, Rule, Rules, Split, Weights};
use crate::nest::rect::problem::Problem;

/// Shrinks the sheets of a packing.
pub(super) fn shrink(
    problem: &Problem,
    weights: &Weights,
    grouped: &mut Grouped,
    random: &mut Random,
) {
    if problem.bins.len() < 2 || problem.charges_length {
        return;
    }
    let mut left = left(problem, grouped.taken());
    for group in &mut grouped.groups {
        let pool: Vec<usize> = group.sheet.items().collect();
        let key = |bin: usize| (weights.costs[bin], weights.areas[bin]);
        let mut better: Vec<usize> = (0..problem.bins.len())
            .filter(|bin| key(*bin) < key(group.sheet.bin))
            .filter(|bin| left[*bin].is_none_or(|left| left >= group.repeat))
            .filter(|bin| pool.iter().all(|item| !problem.items[*item].fits[*bin].is_empty()))
            .collect();
        better.sort_by(|left, right| {
            let (left, right) = (key(*left), key(*right));
            left.0.total_cmp(&right.0).then(left.1.total_cmp(&right.1))
        });
        let found = better.iter().find_map(|bin| {
            rules().find_map(|rules| {
                let sheet = fill_one(problem, weights, *bin, &pool, rules, random).0?;
                (sheet.piece_count() == pool.len()).then_some(sheet)
            })
        });
        let Some(sheet) = found else { continue };
        if let Some(left) = &mut left[group.sheet.bin] {
            *left += group.repeat;
        }
        if let Some(left) = &mut left[sheet.bin] {
            *left -= group.repeat;
        }
        let saved = weights.costs[group.sheet.bin] - weights.costs[sheet.bin];
        grouped.cost -= saved * group.repeat as f64;
        group.sheet = sheet;
    }
}

fn rules() -> impl Iterator<Item = Rules> {
    let orders = [Order::Area, Order::Longest, Order::Length, Order::Width, Order::Perimeter];
    orders.into_iter().flat_map(|order| {
        [Split::Large, Split::Even, Split::Length, Split::Width].map(|split| Rules {
            order,
            fit: Rule::Short,
            split,
            opening: Opening::Cheapest,
            blink: 0,
        })
    })
}
