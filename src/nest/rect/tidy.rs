//! What a shop likes better at the same cost: rests worth keeping, the largest in one piece, and a part on few sheets.
//!
//! Rounds of ruin and recreate, as in [`improve`], keep what costs no more and is tidier. First come the offcuts, each
//! counted by the square of its area, so that one large one is worth more than two small ones; then the number of sheets
//! that pieces of the same size are spread over, and the number of different layouts. Sheets that hold the same are cut the
//! same.
#![expect(
    clippy::float_arithmetic,
    clippy::cast_precision_loss,
    reason = "search weights: they choose among valid packings and never reach a cost or a bound"
)]

use crate::nest::random::Random;
use crate::nest::rect::build::Group;
use crate::nest::rect::improve::{ruin, rules};
use crate::nest::rect::packing::{Packing, Weights};
use crate::nest::rect::problem::Problem;
use crate::nest::rect::tree::Sheet;
use crate::watch::Watch;

/// What a sheet less for a size is worth, in sheets of offcut.
const SPREAD: f64 = 1.0 / 256.0;

/// What a layout less is worth.
const LAYOUT: f64 = 1.0 / 512.0;

/// Cuts sheets that hold the same pieces the same, as the one with the best offcuts.
pub(super) fn unify(problem: &Problem, weights: &Weights, groups: &mut Vec<Group>) {
    let mut known: Vec<(usize, Vec<usize>, Group)> = Vec::new();
    for group in groups.drain(..) {
        let mut items: Vec<usize> = group.sheet.items().collect();
        items.sort_unstable();
        let key = |other: &(usize, Vec<usize>, Group)| {
            other.0 == group.sheet.bin
                && other.1 == items
                && other.2.sheet.length == group.sheet.length
        };
        let Some((.., same)) = known.iter_mut().find(|other| key(other)) else {
            known.push((group.sheet.bin, items, group));
            continue;
        };
        same.repeat += group.repeat;
        if kept(problem, weights, &group.sheet) > kept(problem, weights, &same.sheet) {
            same.sheet = group.sheet;
        }
    }
    groups.extend(known.into_iter().map(|(.., group)| group));
}

/// Returns a packing of the same pieces that costs no more and is as tidy or tidier, after so many steps of work.
pub(super) fn tidy(
    problem: &Problem,
    weights: &Weights,
    start: Packing,
    work: u64,
    watch: &dyn Watch,
    random: &mut Random,
) -> Packing {
    let limit = start.cost + 1e-9;
    let mut best_value = value(problem, weights, &start);
    let mut best = start;
    let mut spent = 0;
    for round in 0_u64.. {
        if spent >= work || (round % 64 == 0 && watch.is_stopped()) {
            break;
        }
        let mut tried = best.clone();
        let pool = tried.pool.len();
        spent += 60 + ruin(problem, weights, &mut tried, random);
        let rules = rules(problem, random);
        spent += tried.fill(problem, weights, rules, limit, random);
        if tried.pool.len() > pool || tried.cost > limit {
            continue;
        }
        let tried_value = value(problem, weights, &tried);
        if tried_value >= best_value {
            (best, best_value) = (tried, tried_value);
        }
    }
    best
}

fn value(problem: &Problem, weights: &Weights, packing: &Packing) -> f64 {
    let mut value = 0.0;
    let mut seen = vec![usize::MAX; problem.items.len()];
    let mut contents = Vec::with_capacity(packing.sheets.len());
    for (index, sheet) in packing.sheets.iter().enumerate() {
        value += kept(problem, weights, sheet);
        let mut content = 0_u64;
        for item in sheet.items() {
            content = content.wrapping_add(Random::new(item as u64).next());
            if seen[item] != index {
                seen[item] = index;
                value -= SPREAD;
            }
        }
        contents.push((sheet.bin, content));
    }
    contents.sort_unstable();
    contents.dedup();
    value - LAYOUT * contents.len() as f64
}

/// Returns what the rests of a sheet are worth that are large enough to keep: their squared areas, in sheets.
fn kept(problem: &Problem, weights: &Weights, sheet: &Sheet) -> f64 {
    let Some(least) = problem.offcut_min else { return 0.0 };
    let rests = sheet.gaps().iter().filter(|gap| gap.length.min(gap.width) >= least);
    let squares: f64 = rests.map(|gap| (gap.length as f64 * gap.width as f64).powi(2)).sum();
    squares / (weights.areas[sheet.bin] * weights.areas[0])
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;
    use crate::model::Edges;
    use crate::nest::rect::packing::{Opening, Order, Rule, Rules, Split};
    use crate::nest::{Instance, Kind, Piece, Stock};
    use crate::quantity::{Length, Ratio};
    use crate::watch::Silent;

    /// Two sheets that hold two pieces of either size become one sheet of each size.
    #[test]
    fn like_pieces_come_together() {
        let inches = |inches: i64| Length::from_inches(inches, 1).unwrap();
        let piece = |length: i64, width: i64| Piece {
            length: inches(length),
            width: inches(width),
            count: 4,
            may_turn: false,
            edges: Edges::None,
        };
        let (length, width) = (inches(96), inches(48));
        let stock = Stock { length, width, cost: Ratio::ONE, available: None };
        let pieces = vec![piece(48, 24), piece(40, 24)];
        let problem = Problem::new(&Instance::new(Kind::Guillotine, vec![stock], pieces));
        let weights = Weights::new(&problem);
        let mut random = Random::new(1);
        let (order, fit, split) = (Order::Area, Rule::Short, Split::Large);
        let rules = Rules { order, fit, split, opening: Opening::Cheapest, blink: 0 };
        let mut mixed = Packing::new(&problem, Vec::new());
        for _ in 0..2 {
            let mut half = Packing::new(&problem, vec![0, 0, 1, 1]);
            half.fill(&problem, &weights, rules, f64::MAX, &mut random);
            assert_eq!((half.pool.len(), half.sheets.len()), (0, 1));
            mixed.cost += half.cost;
            mixed.sheets.append(&mut half.sheets);
        }
        let tidied = tidy(&problem, &weights, mixed, 200_000, &Silent, &mut random);
        let kinds = |sheet: &crate::nest::rect::tree::Sheet| sheet.items().collect::<BTreeSet<_>>();
        let spread: Vec<usize> = tidied.sheets.iter().map(|sheet| kinds(sheet).len()).collect();
        assert_eq!(spread, [1, 1]);
        assert!(tidied.pool.is_empty());
    }
}
