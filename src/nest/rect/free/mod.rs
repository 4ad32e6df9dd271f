//! Bins cut any way without overlap.
//!
//! In: a problem and the bins of its guillotine packing. Out: a packing that is better, if one is found: by maximal
//! rectangles ([`rectangles`]) for a start, then by an order of pieces on a skyline ([`search`]).

mod rectangles;
mod search;
mod skyline;

use crate::nest::random::Random;
use crate::nest::rect::assemble::Packed;
use crate::nest::rect::build::{Group, Grouped, charged_length};
use crate::nest::rect::free::search::Search;
use crate::nest::rect::free::skyline::Part;
use crate::nest::rect::improve::Budget;
use crate::nest::rect::packing::Weights;
use crate::nest::rect::problem::Problem;

/// Returns a packing with less area out than `start` or of less cost, and how many of each item are out of it. Costs are in
/// search units; none below `least` is looked for.
pub(super) fn pack(
    problem: &Problem,
    weights: &Weights,
    start: &Grouped,
    least: f64,
    effort: u32,
    budget: &mut Budget<'_>,
    random: &mut Random,
) -> Option<(Vec<Packed>, Vec<u64>)> {
    let mut search = Search::new(problem, weights, least);
    let mut parts = Vec::new();
    for Group { sheet, repeat } in &start.groups {
        let part = Part { bin: sheet.bin, length: charged_length(problem, sheet) };
        parts.extend((0..*repeat).map(|_| part));
    }
    let mut area_out = start.value(weights).0;
    let mut best = None;
    if !problem.charges_length
        && let Some(found) = rectangles::pack(problem, weights, effort, budget.watch, random)
        && found.value < (area_out, search.cost(&parts))
    {
        parts = found.parts.iter().map(|(part, _)| *part).collect();
        area_out = found.value.0;
        best = Some(found);
    }
    let found = search.run(parts, area_out, budget, random).or(best)?;
    let mut out = vec![0; problem.items.len()];
    for item in found.out {
        out[item] += 1;
    }
    let packed = found.parts.into_iter().map(|(part, placed)| {
        let gaps = rectangles::gaps(problem, part.bin, &placed);
        Packed { bin: part.bin, repeat: 1, placed, gaps }
    });
    Some((packed.collect(), out))
}
