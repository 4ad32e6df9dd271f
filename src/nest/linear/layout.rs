//! From a plan on the lattice back to sticks with places.

use std::collections::VecDeque;

use crate::nest::linear::problem::{Pattern, Plan, Scaled};
use crate::nest::{Instance, Layout, Placement, Rest};
use crate::quantity::Length;

/// Pieces of one length still to be handed out: positions in [`Instance::pieces`] and how many.
type Queue = VecDeque<(usize, u64)>;

/// What one stick holds: its stock, its pieces with their counts in falling length, its splice in nanometers.
#[derive(Clone, PartialEq, Eq)]
struct Stick {
    stock: usize,
    pieces: Vec<(usize, u64)>,
    splice: i64,
}

/// Returns the layouts of a plan, and the pieces and the run it leaves.
pub(super) fn layouts(
    instance: &Instance,
    scaled: &Scaled,
    plan: &Plan,
) -> (Vec<Layout>, Vec<(Option<usize>, u64)>) {
    let mut queues: Vec<Queue> = scaled
        .sources
        .iter()
        .map(|pieces| pieces.iter().map(|piece| (*piece, instance.pieces[*piece].count)).collect())
        .collect();
    let mut sticks: Vec<(Stick, u64)> = Vec::new();
    for (pattern, times) in &plan.cuts {
        let mut left = u64::try_from(*times).expect("a plan cuts a pattern at least once");
        while left > 0 {
            let (stick, repeat) = hand_out(instance, scaled, pattern, left, &mut queues);
            left -= repeat;
            match sticks.iter_mut().find(|(known, _)| *known == stick) {
                Some((_, count)) => *count += repeat,
                None => sticks.push((stick, repeat)),
            }
        }
    }
    let missing = if scaled.problem.run > 0 { shorten(instance, &mut sticks) } else { 0 };
    let mut layouts: Vec<Layout> = sticks
        .iter()
        .filter(|(stick, _)| !stick.pieces.is_empty() || stick.splice > 0)
        .map(|(stick, repeat)| layout(instance, stick, *repeat))
        .collect();
    layouts.sort_by(|a, b| {
        (std::cmp::Reverse(a.repeat), a.stock, &a.placements, &a.splices).cmp(&(
            std::cmp::Reverse(b.repeat),
            b.stock,
            &b.placements,
            &b.splices,
        ))
    });
    let mut unplaced: Vec<(Option<usize>, u64)> = queues
        .into_iter()
        .flatten()
        .filter(|(_, count)| *count > 0)
        .map(|(piece, count)| (Some(piece), count))
        .collect();
    if missing > 0 {
        unplaced.push((None, 1));
    }
    (layouts, unplaced)
}

/// Takes pieces for at most `times` sticks of a pattern that are all alike; returns the stick and how many there are.
fn hand_out(
    instance: &Instance,
    scaled: &Scaled,
    pattern: &Pattern,
    times: u64,
    queues: &mut [Queue],
) -> (Stick, u64) {
    let mut repeat = times;
    for (item, count) in &pattern.counts {
        let front = queues[*item].front().map_or(0, |(_, left)| *left);
        repeat = repeat.min(front / count.unsigned_abs());
    }
    // With more than one stick all pieces of a length come from the front of its queue, so the sticks are alike.
    let repeat = repeat.max(1);
    let mut pieces: Vec<(usize, u64)> = Vec::new();
    for (item, count) in &pattern.counts {
        let mut need = count.unsigned_abs() * repeat;
        while need > 0 {
            let front = queues[*item].front_mut();
            let (piece, left) = front.expect("a plan cuts no more than the demand");
            let taken = need.min(*left);
            pieces.push((*piece, taken / repeat));
            need -= taken;
            *left -= taken;
            if *left == 0 {
                queues[*item].pop_front();
            }
        }
    }
    let stock = scaled.problem.bars[pattern.bar].source;
    let used: i64 = pieces
        .iter()
        .map(|(piece, count)| {
            (instance.pieces[*piece].length.nanometers() + instance.kerf.nanometers())
                * i64::try_from(*count).expect("what fits a stick is a small number")
        })
        .sum();
    let span = instance.stocks[stock].length.nanometers() - 2 * instance.trim.nanometers();
    let needed = instance.run.max(instance.splice_min).nanometers();
    let splice = if pattern.splice > 0 { (span - used).min(needed) } else { 0 };
    (Stick { stock, pieces, splice }, repeat)
}

/// Shortens or drops splices beyond the run; returns the length that is missing, if any.
fn shorten(instance: &Instance, sticks: &mut Vec<(Stick, u64)>) -> i128 {
    let run = i128::from(instance.run.nanometers());
    let shortest = instance.splice_min.nanometers().max(1);
    let total: i128 =
        sticks.iter().map(|(stick, repeat)| i128::from(stick.splice) * i128::from(*repeat)).sum();
    let mut over = total - run;
    if over < 0 {
        return -over;
    }
    // Sticks that hold a splice alone come first: dropping it saves the stick.
    sticks.sort_by_key(|(stick, _)| !stick.pieces.is_empty());
    let mut changed = Vec::new();
    for (stick, repeat) in sticks.iter_mut().filter(|(stick, _)| stick.splice > 0) {
        let dropped = (over / i128::from(stick.splice)).min(i128::from(*repeat));
        let dropped = u64::try_from(dropped).expect("it is not more than the repeats");
        if dropped > 0 {
            over -= i128::from(stick.splice) * i128::from(dropped);
            *repeat -= dropped;
            changed.push((Stick { splice: 0, ..stick.clone() }, dropped));
        }
    }
    for (stick, repeat) in sticks.iter_mut().filter(|(stick, _)| stick.splice > shortest) {
        while over > 0 && *repeat > 0 {
            let cut = i64::try_from(over.min(i128::from(stick.splice - shortest)))
                .expect("it is not more than a splice");
            over -= i128::from(cut);
            *repeat -= 1;
            changed.push((Stick { splice: stick.splice - cut, ..stick.clone() }, 1));
        }
    }
    for (stick, repeat) in changed {
        match sticks.iter_mut().find(|(known, _)| *known == stick) {
            Some((_, count)) => *count += repeat,
            None => sticks.push((stick, repeat)),
        }
    }
    sticks.retain(|(_, repeat)| *repeat > 0);
    0
}

/// Lays the pieces of a stick one behind the other, then its splice; what is left is an offcut if it is long enough.
fn layout(instance: &Instance, stick: &Stick, repeat: u64) -> Layout {
    let total = instance.stocks[stick.stock].length;
    let mut x = instance.trim;
    let mut placements = Vec::new();
    for (piece, count) in &stick.pieces {
        for _ in 0..*count {
            placements.push(Placement { piece: *piece, x, y: Length::ZERO, is_turned: false });
            x = x + instance.pieces[*piece].length + instance.kerf;
        }
    }
    let mut splices = Vec::new();
    if stick.splice > 0 {
        let length = Length::from_nanometers(stick.splice);
        splices.push(Rest { x, y: Length::ZERO, length, width: Length::ZERO });
        x = x + length + instance.kerf;
    }
    let end = total - instance.trim;
    let mut offcuts = Vec::new();
    if let Some(shortest) = instance.offcut_min
        && end - x >= shortest
        && end > x
    {
        offcuts.push(Rest { x, y: Length::ZERO, length: end - x, width: Length::ZERO });
    }
    Layout { stock: stick.stock, repeat, placements, splices, offcuts, taken: x.min(total) }
}
