//! Bins filled by keeping what is free as rectangles.
//!
//! Idea: maximal rectangles with best fit (Jylänki, "A thousand ways to pack the bin", 2010): the free area of a sheet is
//! kept as all the largest rectangles in it, which may overlap; a piece goes to the corner of the one it fits best. One
//! insertion costs as many steps as there are rectangles, squared where many overlap.
#![expect(
    clippy::float_arithmetic,
    clippy::cast_precision_loss,
    reason = "search weights: they choose among valid packings and never reach a cost or a bound"
)]

use crate::nest::random::Random;
use crate::nest::rect::expanded;
use crate::nest::rect::free::search::Filled;
use crate::nest::rect::free::skyline::Part;
use crate::nest::rect::packing::{Order, Weights, sort};
use crate::nest::rect::problem::{Bin, Fit, Problem, Side};
use crate::nest::rect::tree::{Gap, Placed};
use crate::watch::Watch;

#[derive(Clone)]
struct Open {
    bin: usize,
    placed: Vec<Placed>,
    free: Vec<Gap>,
}

/// Area out and cost; the bins; the items out.
type Attempt = ((f64, f64), Vec<Open>, Vec<usize>);

/// Returns the best of several packings of whole bins.
pub(super) fn pack(
    problem: &Problem,
    weights: &Weights,
    effort: u32,
    watch: &dyn Watch,
    random: &mut Random,
) -> Option<Filled> {
    let mut best: Option<Attempt> = None;
    for attempt in 0..10 + 12 * effort {
        if watch.is_stopped() {
            break;
        }
        let order = match attempt {
            0 | 1 => Order::Area,
            2 | 3 => Order::Longest,
            4 | 5 => Order::Length,
            6 | 7 => Order::Width,
            8 | 9 => Order::Perimeter,
            _ => Order::Blurred,
        };
        let by_area = attempt % 2 == 1;
        let mut pool = expanded(problem.items.iter().map(|item| item.count));
        sort(&mut pool, weights, order, random);
        // The first attempts keep to the low corner; the others take any of the four.
        let any_corner = if attempt < 10 { None } else { Some(&mut *random) };
        let (sheets, out) = attempt_order(problem, weights, &pool, by_area, any_corner);
        let area_out = out.iter().map(|item| weights.items[*item]).sum();
        let value = (area_out, sheets.iter().map(|sheet| weights.costs[sheet.bin]).sum());
        if best.as_ref().is_none_or(|(least, ..)| value < *least) {
            best = Some((value, sheets, out));
        }
    }
    let (value, sheets, out) = best?;
    let parts = sheets.into_iter().map(|sheet| {
        let mut placed = sheet.placed;
        placed.sort();
        (Part { bin: sheet.bin, length: problem.bins[sheet.bin].length }, placed)
    });
    Some(Filled { parts: parts.collect(), out, value })
}

/// Returns what pieces leave of a bin, as rectangles that do not overlap, the largest first. What lies past the last piece
/// on a roll stays on it in one.
pub(super) fn gaps(problem: &Problem, bin: usize, placed: &[Placed]) -> Vec<Gap> {
    let Bin { length, width, .. } = problem.bins[bin];
    let end = placed.iter().map(|placed| placed.x + placed.length).max().unwrap_or(0);
    let tail = Gap { x: end, y: 0, length: length - end, width };
    let has_tail = problem.is_roll && tail.length > 0;
    let used = if problem.is_roll { end } else { length };
    let free = vec![Gap { x: 0, y: 0, length: used, width }];
    let mut open = Open { bin, placed: Vec::new(), free };
    for placed in placed {
        open.put(*placed);
    }
    let mut gaps = parted(open.free);
    gaps.extend(has_tail.then_some(tail));
    gaps
}

fn attempt_order(
    problem: &Problem,
    weights: &Weights,
    pool: &[usize],
    by_area: bool,
    mut any_corner: Option<&mut Random>,
) -> (Vec<Open>, Vec<usize>) {
    let mut left: Vec<Option<u64>> = problem.bins.iter().map(|bin| bin.available).collect();
    let mut sheets: Vec<Open> = Vec::new();
    let mut out = Vec::new();
    for item in pool {
        let fits = &problem.items[*item].fits;
        let mut best: Option<((f64, f64), usize, Placed)> = None;
        for (index, sheet) in sheets.iter().enumerate() {
            for fit in &fits[sheet.bin] {
                for gap in &sheet.free {
                    let chosen = any_corner.as_mut().map_or(0, |random| random.below(4));
                    let Some((x, y)) = corner(problem, sheet.bin, gap, fit, chosen) else {
                        continue;
                    };
                    let beside = (gap.length - fit.length) as f64;
                    let above = (gap.width - fit.width) as f64;
                    let score = if by_area {
                        (gap.length as f64 * gap.width as f64, beside.min(above))
                    } else {
                        (beside.min(above), beside.max(above))
                    };
                    if best.as_ref().is_none_or(|(least, ..)| score < *least) {
                        best = Some((score, index, placed(*item, fit, x, y)));
                    }
                }
            }
        }
        if let Some((_, index, placed)) = best {
            sheets[index].put(placed);
            continue;
        }
        let density = |bin: &usize| weights.costs[*bin] / weights.areas[*bin];
        let bin = (0..problem.bins.len())
            .filter(|bin| left[*bin] != Some(0) && !fits[*bin].is_empty())
            .min_by(|left, right| density(left).total_cmp(&density(right)));
        let Some(bin) = bin else {
            out.push(*item);
            continue;
        };
        if let Some(left) = &mut left[bin] {
            *left -= 1;
        }
        let (length, width) = (problem.bins[bin].length, problem.bins[bin].width);
        let free = vec![Gap { x: 0, y: 0, length, width }];
        let mut sheet = Open { bin, placed: Vec::new(), free };
        sheet.put(placed(*item, &fits[bin][0], 0, 0));
        sheets.push(sheet);
    }
    (sheets, out)
}

fn placed(item: usize, fit: &Fit, x: i64, y: i64) -> Placed {
    Placed { x, y, length: fit.length, width: fit.width, item, is_turned: fit.is_turned }
}

/// Returns where a piece lies in a free rectangle, if it may: at its low corner, or another by two bits of `chosen`.
fn corner(problem: &Problem, bin: usize, gap: &Gap, fit: &Fit, chosen: u64) -> Option<(i64, i64)> {
    if fit.length > gap.length || fit.width > gap.width {
        return None;
    }
    let x = if chosen & 1 == 0 { gap.x } else { gap.x + gap.length - fit.length };
    let high = gap.y + gap.width - fit.width;
    let is_high = if fit.side == Side::Edge {
        if gap.y != 0 && gap.y + gap.width != problem.bins[bin].width {
            return None;
        }
        gap.y != 0
    } else {
        chosen & 2 != 0
    };
    Some((x, if is_high { high } else { gap.y }))
}

impl Open {
    fn put(&mut self, placed: Placed) {
        let mut free = Vec::new();
        for gap in &self.free {
            cut_around(gap, &placed, &mut free);
        }
        self.free = largest(free);
        self.placed.push(placed);
    }
}

/// Adds the largest rectangles of a free one that a piece leaves.
fn cut_around(gap: &Gap, placed: &Placed, free: &mut Vec<Gap>) {
    let (right, top) = (gap.x + gap.length, gap.y + gap.width);
    let (placed_right, placed_top) = (placed.x + placed.length, placed.y + placed.width);
    if placed.x >= right || placed_right <= gap.x || placed.y >= top || placed_top <= gap.y {
        free.push(*gap);
        return;
    }
    if placed.x > gap.x {
        free.push(Gap { length: placed.x - gap.x, ..*gap });
    }
    if placed_right < right {
        free.push(Gap { x: placed_right, length: right - placed_right, ..*gap });
    }
    if placed.y > gap.y {
        free.push(Gap { width: placed.y - gap.y, ..*gap });
    }
    if placed_top < top {
        free.push(Gap { y: placed_top, width: top - placed_top, ..*gap });
    }
}

/// Drops rectangles that lie in others.
fn largest(mut free: Vec<Gap>) -> Vec<Gap> {
    free.sort_by_key(|gap| (gap.x, gap.y, gap.length, gap.width));
    free.dedup();
    let holds = |outer: &Gap, inner: &Gap| {
        outer.x <= inner.x
            && outer.y <= inner.y
            && inner.x + inner.length <= outer.x + outer.length
            && inner.y + inner.width <= outer.y + outer.width
    };
    let is_kept = |gap: &&Gap| !free.iter().any(|other| other != *gap && holds(other, gap));
    free.iter().filter(is_kept).copied().collect()
}

/// Returns free rectangles that do not overlap, the largest first.
fn parted(mut free: Vec<Gap>) -> Vec<Gap> {
    let mut parted = Vec::new();
    let area = |gap: &Gap| i128::from(gap.length) * i128::from(gap.width);
    while let Some(gap) = free.iter().copied().max_by_key(|gap| (area(gap), -gap.x, -gap.y)) {
        parted.push(gap);
        let cut = Placed {
            x: gap.x,
            y: gap.y,
            length: gap.length,
            width: gap.width,
            item: 0,
            is_turned: false,
        };
        let mut rest = Vec::new();
        for other in &free {
            cut_around(other, &cut, &mut rest);
        }
        free = largest(rest);
    }
    parted
}
