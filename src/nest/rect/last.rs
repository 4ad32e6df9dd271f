//! The last of rolls that are bought whole: what lies on it is laid anew within the least length, so that most of the roll
//! stays in one.
//!
//! Rolls that hold the same are left alone, since they are cut the same.

use crate::nest::bound;
use crate::nest::rect::assemble::{self, Packed};
use crate::nest::rect::pack;
use crate::nest::rect::packing::in_dearest;
use crate::nest::rect::problem::Problem;
use crate::nest::{Instance, Options};
use crate::quantity::Length;
use crate::watch::Watch;

/// Share of the effort that it is given.
const SHARE: u32 = 4;

/// Shortens the roll that least is taken of, where that is one of its own.
pub(super) fn shorten(
    instance: &Instance,
    problem: &Problem,
    packed: &mut Vec<Packed>,
    options: Options,
    watch: &dyn Watch,
) {
    let least = (0..packed.len()).min_by_key(|index| (extent(&packed[*index]), *index));
    let Some(last) = least.filter(|last| packed[*last].repeat == 1) else { return };
    let (alone, items) = alone(problem, &packed[last]);
    let by_length = Instance { charges_length: true, ..instance.clone() };
    let options = Options { effort: (options.effort / SHARE).max(1), ..options };
    let goal = in_dearest(&alone, &bound::sheets(&alone, Length::ZERO).cost);
    let mut found = pack(&by_length, &alone, goal, options, watch);
    let Some(mut shorter) = found.packed.pop() else { return };
    if found.out.iter().any(|out| *out > 0) || extent(&shorter) >= extent(&packed[last]) {
        return;
    }
    shorter.bin = packed[last].bin;
    for placed in &mut shorter.placed {
        placed.item = items[placed.item];
    }
    let mut tried = packed.clone();
    tried[last] = shorter;
    // A run is cut from what rolls leave.
    let charge = |packed: &Vec<Packed>| assemble::charge(instance, problem, packed.clone());
    if charge(&tried) <= charge(packed) {
        *packed = tried;
    }
}

/// Returns how far pieces reach along a bin.
fn extent(packed: &Packed) -> i64 {
    packed.placed.iter().map(|placed| placed.x + placed.length).max().unwrap_or(0)
}

/// Returns the problem of laying what lies in a bin into one such bin, charged by length; and which item each of its items
/// was.
fn alone(problem: &Problem, packed: &Packed) -> (Problem, Vec<usize>) {
    let mut counts = vec![0; problem.items.len()];
    for placed in &packed.placed {
        counts[placed.item] += 1;
    }
    let items: Vec<usize> = (0..counts.len()).filter(|item| counts[*item] > 0).collect();
    let item = |index: &usize| {
        let mut item = problem.items[*index].clone();
        item.count = counts[*index];
        item.fits = vec![item.fits[packed.bin].clone()];
        item
    };
    let mut bin = problem.bins[packed.bin].clone();
    bin.available = Some(1);
    let alone = Problem {
        bins: vec![bin],
        items: items.iter().map(item).collect(),
        too_large: Vec::new(),
        charges_length: true,
        ..problem.clone()
    };
    (alone, items)
}
