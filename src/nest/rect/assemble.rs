//! Turns packed bins into layouts: kerf and trim put back, splices cut from what is left, offcuts named.

use crate::model::Edges;
use crate::nest::rect::problem::{Problem, Side};
use crate::nest::rect::tree::{Gap, Placed, Sheet};
use crate::nest::{Instance, Layout, Placement, Rest};
use crate::quantity::{Length, Ratio};

/// A packed bin, however it was packed.
#[derive(Clone, Debug)]
pub(super) struct Packed {
    pub(super) bin: usize,
    pub(super) repeat: u64,
    pub(super) placed: Vec<Placed>,
    /// Rectangles of waste that are parted from the pieces and from each other by cuts.
    pub(super) gaps: Vec<Gap>,
}

impl Packed {
    /// Returns a sheet, packed.
    pub(super) fn from_sheet(problem: &Problem, sheet: &Sheet, repeat: u64) -> Packed {
        let mut placed = sheet.placed();
        placed.sort();
        let mut gaps = sheet.gaps().to_vec();
        if problem.is_roll {
            // What lies past the last piece stays on the roll in one.
            let extent = sheet.extent();
            for gap in &mut gaps {
                gap.length = gap.length.min(extent - gap.x);
            }
            let (length, width) = (problem.bins[sheet.bin].length - extent, sheet.width);
            gaps.push(Gap { x: extent, y: 0, length, width });
            gaps.retain(|gap| gap.length > 0);
        }
        Packed { bin: sheet.bin, repeat, placed, gaps }
    }
}

/// Returns the layouts of packed bins, with splices for the run, and what of the run is not met.
pub(super) fn layouts(
    instance: &Instance,
    problem: &Problem,
    mut packed: Vec<Packed>,
) -> (Vec<Layout>, Length) {
    merge(&mut packed);
    let mut layouts: Vec<Layout> = Vec::new();
    let mut run = instance.run;
    for bin in packed {
        let plain = layout(instance, problem, &bin);
        if run > Length::ZERO && instance.kind.is_roll() {
            spliced(instance, problem, plain, &mut run, &mut layouts);
        } else {
            layouts.push(plain);
        }
    }
    if run > Length::ZERO && instance.kind.is_roll() {
        open_for_run(instance, problem, &mut run, &mut layouts);
    }
    for layout in &mut layouts {
        layout.taken = taken(instance, layout);
        trim_offcuts(instance, layout);
    }
    let mut merged: Vec<Layout> = Vec::new();
    for layout in layouts {
        layout.join(&mut merged);
    }
    merged.sort_by(|left, right| {
        let key = |layout: &Layout| (std::cmp::Reverse(layout.repeat), layout.stock);
        key(left).cmp(&key(right)).then_with(|| left.placements.cmp(&right.placements))
    });
    (merged, run)
}

/// Returns what of the run packed bins do not meet, and what all cost.
pub(super) fn charge(
    instance: &Instance,
    problem: &Problem,
    packed: Vec<Packed>,
) -> (Length, Ratio) {
    let (layouts, run_left) = layouts(instance, problem, packed);
    (run_left, total_cost(instance, &layouts))
}

/// Returns the cost of layouts, each as often as it is repeated.
pub(super) fn total_cost(instance: &Instance, layouts: &[Layout]) -> Ratio {
    layouts
        .iter()
        .map(|layout| instance.cost(layout) * Ratio::whole(i128::from(layout.repeat)))
        .sum()
}

fn merge(packed: &mut Vec<Packed>) {
    packed.sort_by(|left, right| (left.bin, &left.placed).cmp(&(right.bin, &right.placed)));
    packed.dedup_by(|later, earlier| {
        let is_same = later.bin == earlier.bin && later.placed == earlier.placed;
        if is_same {
            earlier.repeat += later.repeat;
        }
        is_same
    });
}

fn layout(instance: &Instance, problem: &Problem, packed: &Packed) -> Layout {
    let bin = &problem.bins[packed.bin];
    let length = |units: i64| Length::from_nanometers(units * problem.unit);
    let trim = instance.trim;
    let side_trim = if problem.is_roll { Length::ZERO } else { trim };
    let mut placements = Vec::new();
    for placed in &packed.placed {
        let item = &problem.items[placed.item];
        let fits = &item.fits[packed.bin];
        let side = fits.iter().find(|fit| fit.is_turned == placed.is_turned).map(|fit| fit.side);
        let piece = &instance.pieces[item.piece];
        let y = match side {
            Some(Side::Edge) if placed.y == 0 => Length::ZERO,
            Some(Side::Edge) => instance.stocks[bin.stock].width - piece.width,
            Some(Side::Whole) => Length::ZERO,
            _ => side_trim + length(placed.y),
        };
        placements.push(Placement {
            piece: item.piece,
            x: trim + length(placed.x),
            y,
            is_turned: placed.is_turned && piece.edges == Edges::None,
        });
    }
    placements.sort_by_key(|placement| (placement.x, placement.y, placement.piece));
    let rest = |gap: &Gap| Rest {
        x: trim + length(gap.x),
        y: side_trim + length(gap.y),
        length: length(gap.length) - instance.kerf,
        width: length(gap.width) - instance.kerf,
    };
    let offcuts = packed.gaps.iter().map(rest).collect();
    Layout {
        stock: bin.stock,
        repeat: packed.repeat,
        placements,
        splices: Vec::new(),
        offcuts,
        taken: Length::ZERO,
    }
}

/// Takes splices from the tails of a layout's rolls.
fn spliced(
    instance: &Instance,
    problem: &Problem,
    plain: Layout,
    run: &mut Length,
    layouts: &mut Vec<Layout>,
) {
    let (start, tail) = tail(instance, problem, &plain);
    let mut left = plain.repeat;
    while left > 0 {
        let wanted = splice_length(instance, tail, *run);
        let Some(splice) = wanted.filter(|_| *run > Length::ZERO) else { break };
        let often = i128::from(run.nanometers()) / i128::from(splice.nanometers());
        let repeat =
            if splice == tail { u64::try_from(often).unwrap_or(left).clamp(1, left) } else { 1 };
        // The last of several equal splices may have to leave enough for one more.
        let repeat = if repeat > 1 { repeat - 1 } else { repeat };
        layouts.push(with_splice(instance, &plain, start, splice, repeat));
        *run = less(*run, splice, repeat);
        left -= repeat;
    }
    if left > 0 {
        layouts.push(Layout { repeat: left, ..plain });
    }
}

fn open_for_run(
    instance: &Instance,
    problem: &Problem,
    run: &mut Length,
    layouts: &mut Vec<Layout>,
) {
    let mut left: Vec<Option<u64>> = problem.bins.iter().map(|bin| bin.available).collect();
    for layout in layouts.iter() {
        let bin = problem.bins.iter().position(|bin| bin.stock == layout.stock);
        if let Some(left) = bin.and_then(|bin| left[bin].as_mut()) {
            *left = left.saturating_sub(layout.repeat);
        }
    }
    while *run > Length::ZERO {
        // The last roll is the cheapest that holds the rest; before it, the cheapest by length.
        let mut best: Option<(bool, Ratio, usize, Length)> = None;
        for (index, bin) in problem.bins.iter().enumerate() {
            let empty = empty_layout(bin.stock);
            let (_, most) = tail(instance, problem, &empty);
            let Some(splice) = splice_length(instance, most, *run) else { continue };
            if left[index] == Some(0) {
                continue;
            }
            let opened = with_splice(instance, &empty, instance.trim, splice, 1);
            let charge = instance.cost(&Layout { taken: taken(instance, &opened), ..opened });
            let is_last = splice >= *run;
            let useful = splice.to_ratio();
            let rate = charge.checked_div(&useful).expect("a splice has a length");
            let key = if is_last { charge } else { rate };
            let is_better =
                best.as_ref().is_none_or(|(last, least, ..)| (is_last, &key) < (*last, least));
            // A roll that ends the run is preferred only where nothing cheaper by length goes before it.
            if is_better || (is_last && best.as_ref().is_some_and(|(last, ..)| !last)) {
                best = Some((is_last, key, index, splice));
            }
        }
        let Some((_, _, index, splice)) = best else { return };
        let bin = &problem.bins[index];
        let empty = empty_layout(bin.stock);
        let often = i128::from(run.nanometers()) / i128::from(splice.nanometers());
        let mut repeat = u64::try_from(often - 1).unwrap_or(1).max(1);
        if let Some(left) = &mut left[index] {
            repeat = repeat.min(*left);
            *left -= repeat;
        }
        layouts.push(with_splice(instance, &empty, instance.trim, splice, repeat));
        *run = less(*run, splice, repeat);
    }
}

/// Returns where the tail of a roll starts and how long it is.
fn tail(instance: &Instance, problem: &Problem, layout: &Layout) -> (Length, Length) {
    let stock = &instance.stocks[layout.stock];
    let end = layout
        .placements
        .iter()
        .map(|placement| {
            let piece = &instance.pieces[placement.piece];
            placement.x + if placement.is_turned { piece.width } else { piece.length }
        })
        .max();
    debug_assert!(problem.is_roll);
    let start = end.map_or(instance.trim, |end| end + instance.kerf);
    (start, stock.length - instance.trim - start)
}

/// Returns the splice to take from a tail: all of it, or what the run still needs, leaving no rest that is too short.
fn splice_length(instance: &Instance, tail: Length, run: Length) -> Option<Length> {
    let least = instance.splice_min.max(Length::from_nanometers(1));
    if tail < least {
        return None;
    }
    if run <= tail {
        return Some(run.max(least));
    }
    if run - tail < least && run - least >= least && run - least <= tail {
        return Some(run - least);
    }
    Some(tail)
}

fn with_splice(
    instance: &Instance,
    plain: &Layout,
    start: Length,
    splice: Length,
    repeat: u64,
) -> Layout {
    let stock = &instance.stocks[plain.stock];
    let mut layout = Layout { repeat, ..plain.clone() };
    layout.splices = vec![Rest { x: start, y: Length::ZERO, length: splice, width: stock.width }];
    layout.offcuts.retain(|offcut| offcut.x < start);
    let after = start + splice + instance.kerf;
    layout.offcuts.push(Rest {
        x: after,
        y: Length::ZERO,
        length: stock.length - instance.trim - after,
        width: stock.width,
    });
    layout
}

fn empty_layout(stock: usize) -> Layout {
    Layout {
        stock,
        repeat: 1,
        placements: Vec::new(),
        splices: Vec::new(),
        offcuts: Vec::new(),
        taken: Length::ZERO,
    }
}

fn less(run: Length, splice: Length, repeat: u64) -> Length {
    let taken = i128::from(splice.nanometers()) * i128::from(repeat);
    let rest = (i128::from(run.nanometers()) - taken).max(0);
    Length::from_nanometers(i64::try_from(rest).expect("not above the run"))
}

fn taken(instance: &Instance, layout: &Layout) -> Length {
    let pieces = layout.placements.iter().map(|placement| {
        let piece = &instance.pieces[placement.piece];
        placement.x + if placement.is_turned { piece.width } else { piece.length }
    });
    let splices = layout.splices.iter().map(|splice| splice.x + splice.length);
    let end = pieces.chain(splices).max().unwrap_or_default();
    (end + instance.kerf).min(instance.stocks[layout.stock].length)
}

fn trim_offcuts(instance: &Instance, layout: &mut Layout) {
    let least = instance.offcut_min.map(|least| least.max(Length::from_nanometers(1)));
    layout.offcuts.retain(|offcut| {
        least.is_some_and(|least| offcut.length >= least && offcut.width >= least)
    });
    layout.offcuts.sort();
}
