//! Bins cut any way without overlap.
//!
//! In: a problem and the bins of its guillotine packing. Out: a packing that is better, if one is found: by maximal
//! rectangles ([`rectangles`]) for a start, then by an order of pieces on a skyline ([`search`]). Of many pieces the bins with
//! most waste are packed anew.
#![expect(
    clippy::float_arithmetic,
    clippy::cast_precision_loss,
    reason = "search weights: they choose among valid packings and never reach a cost or a bound"
)]

mod rectangles;
mod search;
mod skyline;

use crate::nest::random::Random;
use crate::nest::rect::WINDOW;
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

/// Does the same with the bins that waste most, as many as the window holds, and keeps the others.
pub(super) fn pack_worst(
    problem: &Problem,
    weights: &Weights,
    start: &Grouped,
    least: f64,
    effort: u32,
    budget: &mut Budget<'_>,
    random: &mut Random,
) -> Option<(Vec<Packed>, Vec<u64>)> {
    let waste = |group: &Group| group.sheet.waste() / weights.areas[group.sheet.bin];
    let mut groups = start.groups.clone();
    groups.sort_by(|left, right| waste(right).total_cmp(&waste(left)));
    let mut sub = problem.clone();
    let mut room = WINDOW;
    let mut worst = Grouped { groups: Vec::new(), out: Vec::new(), cost: 0.0 };
    for (item, out) in sub.items.iter_mut().zip(&start.out) {
        item.count = (*out).min(room);
        room -= item.count;
        worst.out.push(item.count);
    }
    for group in &mut groups {
        let size = (group.sheet.piece_count() as u64).max(1);
        let taken = (room / size).min(group.repeat);
        room -= taken * size;
        group.repeat -= taken;
        for item in group.sheet.items() {
            sub.items[item].count += taken;
        }
        if let Some(left) = &mut sub.bins[group.sheet.bin].available {
            *left -= group.repeat;
        }
        let cost = |repeat: u64| {
            weights.cost(problem, group.sheet.bin, charged_length(problem, &group.sheet))
                * repeat as f64
        };
        worst.cost += cost(taken);
        if taken > 0 {
            worst.groups.push(Group { sheet: group.sheet.clone(), repeat: taken });
        }
    }
    let kept_cost = start.cost - worst.cost;
    let found = pack(&sub, weights, &worst, least - kept_cost, effort, budget, random);
    let (mut packed, mut out) = found?;
    let kept = groups.iter().filter(|group| group.repeat > 0);
    packed.extend(kept.map(|group| Packed::from_sheet(problem, &group.sheet, group.repeat)));
    for (out, (all, taken)) in out.iter_mut().zip(start.out.iter().zip(&worst.out)) {
        *out += all - taken;
    }
    Some((packed, out))
}
