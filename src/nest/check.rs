//! Checks a [`Nest`] against its [`Instance`], from the definitions alone.
//!
//! In: an instance and any nest. Out: nothing, or every fault in words. It shares no code with the packers, so that a
//! fault of theirs cannot hide here.
//!
//! Readings of the definitions that are easy to miss:
//! - trim is taken off the area pieces may lie in, and holds its own saw cut; a piece that needs a factory edge gives up
//!   the trim of the long edges only;
//! - a stage is a set of parallel cuts that part pieces from pieces; trimming a single piece to size is not counted
//!   (the "non-exact" staged patterns of Gilmore and Gomory 1965);
//! - kept offcuts must come off by edge-to-edge cuts too where sheets are cut so, in any number of stages.
//!
//! Not here: whether the bound is valid. Only that the cost is not below it.

#[cfg(test)]
mod tests;

use crate::model::Edges;
use crate::nest::{Ending, Instance, Kind, Layout, Nest, UnplacedReason};
use crate::quantity::{Length, Ratio};

/// Checks that `nest` is a nest of `instance`.
///
/// # Errors
///
/// Every fault found, one sentence each, in the order of the nest.
pub fn check(instance: &Instance, nest: &Nest) -> Result<(), Vec<String>> {
    let mut faults = Vec::new();
    for (index, layout) in nest.layouts.iter().enumerate() {
        let mut layout_faults = Vec::new();
        check_layout(instance, layout, &mut layout_faults);
        faults.extend(layout_faults.into_iter().map(|fault| format!("layout {index}: {fault}")));
    }
    if faults.is_empty() {
        check_order(nest, &mut faults);
        check_demand(instance, nest, &mut faults);
        check_run(instance, nest, &mut faults);
        check_availability(instance, nest, &mut faults);
        check_cost(instance, nest, &mut faults);
    }
    if faults.is_empty() { Ok(()) } else { Err(faults) }
}

/// A rectangle by its low and high corners: `[x, y]`.
#[derive(Clone, Debug)]
struct Part {
    name: String,
    low: [Length; 2],
    high: [Length; 2],
}

impl Part {
    fn is_apart(&self, other: &Part, kerf: Length) -> bool {
        (0..2).any(|axis| {
            self.high[axis] + kerf <= other.low[axis] || other.high[axis] + kerf <= self.low[axis]
        })
    }

    fn is_inside(&self, low: [Length; 2], high: [Length; 2]) -> bool {
        (0..2).all(|axis| {
            low[axis] <= self.low[axis]
                && self.low[axis] < self.high[axis]
                && self.high[axis] <= high[axis]
        })
    }
}

fn check_layout(instance: &Instance, layout: &Layout, faults: &mut Vec<String>) {
    if layout.stock >= instance.stocks.len() {
        faults.push(format!("no stock {}", layout.stock));
        return;
    }
    if layout.repeat == 0 {
        faults.push("repeated zero times".to_owned());
    }
    if layout.placements.is_empty() && layout.splices.is_empty() {
        faults.push("holds no piece".to_owned());
        return;
    }
    if let Some(placement) = layout.placements.iter().find(|p| p.piece >= instance.pieces.len()) {
        faults.push(format!("no piece {}", placement.piece));
        return;
    }
    let pieces = piece_parts(instance, layout, faults);
    let splices = splice_parts(instance, layout, faults);
    let offcuts = offcut_parts(instance, layout, faults);
    let mut parts: Vec<Part> = pieces.into_iter().chain(splices).collect();
    check_taken(instance, layout, &parts, faults);
    let wanted_count = parts.len();
    parts.extend(offcuts);
    check_distances(instance, &parts, faults);
    if faults.is_empty() && matches!(instance.kind, Kind::Guillotine | Kind::Roll) {
        check_cuts(instance, &parts, wanted_count, faults);
    }
}

/// Sticks are given a width of one nanometer, so that one set of rules serves both.
fn width_of(instance: &Instance, width: Length) -> Length {
    if instance.kind == Kind::Linear { Length::from_nanometers(1) } else { width }
}

fn piece_parts(instance: &Instance, layout: &Layout, faults: &mut Vec<String>) -> Vec<Part> {
    let stock = &instance.stocks[layout.stock];
    let stock_width = width_of(instance, stock.width);
    let side_trim = match instance.kind {
        Kind::Guillotine | Kind::Free => instance.trim,
        Kind::Linear | Kind::Roll | Kind::FreeRoll => Length::ZERO,
    };
    if !layout.placements.is_sorted_by_key(|placement| (placement.x, placement.y)) {
        faults.push("placements are not in order of x, then y".to_owned());
    }
    let mut parts = Vec::new();
    for placement in &layout.placements {
        let piece = &instance.pieces[placement.piece];
        let name = format!("piece {} at {}", placement.piece, place(placement.x, placement.y));
        if placement.is_turned && (!piece.may_turn || piece.edges != Edges::None) {
            faults.push(format!("{name} is turned"));
        }
        let piece_width = width_of(instance, piece.width);
        let (length, width) = if placement.is_turned {
            (piece_width, piece.length)
        } else {
            (piece.length, piece_width)
        };
        let low = [placement.x, placement.y];
        let high = [placement.x + length, placement.y + width];
        let part = Part { name, low, high };
        let is_at_bottom = part.low[1] == Length::ZERO;
        let is_at_top = part.high[1] == stock_width;
        let trim = match piece.edges {
            _ if instance.kind == Kind::Linear => Length::ZERO,
            Edges::None => side_trim,
            Edges::One => {
                if !is_at_bottom && !is_at_top {
                    faults.push(format!("{} has no factory edge", part.name));
                }
                Length::ZERO
            }
            Edges::Both => {
                if !is_at_bottom || !is_at_top {
                    faults.push(format!("{} has not both factory edges", part.name));
                }
                Length::ZERO
            }
        };
        // The far edge of a piece with one factory edge may not lie in the other trim.
        let (low_trim, high_trim) = match piece.edges {
            Edges::One if is_at_bottom && !is_at_top => (trim, side_trim),
            Edges::One if is_at_top && !is_at_bottom => (side_trim, trim),
            _ => (trim, trim),
        };
        let least = [instance.trim, low_trim];
        let most = [stock.length - instance.trim, stock_width - high_trim];
        if !part.is_inside(least, most) {
            faults.push(format!("{} is not inside the stock less trim", part.name));
        }
        parts.push(part);
    }
    parts
}

fn splice_parts(instance: &Instance, layout: &Layout, faults: &mut Vec<String>) -> Vec<Part> {
    let stock = &instance.stocks[layout.stock];
    let stock_width = width_of(instance, stock.width);
    if !layout.splices.is_empty()
        && !matches!(instance.kind, Kind::Linear | Kind::Roll | Kind::FreeRoll)
    {
        faults.push("a sheet holds a splice".to_owned());
    }
    if !layout.splices.is_sorted_by_key(|splice| splice.x) {
        faults.push("splices are not in order of x".to_owned());
    }
    let mut parts = Vec::new();
    for splice in &layout.splices {
        let width = width_of(instance, splice.width);
        let part = Part {
            name: format!("splice at {}", place(splice.x, splice.y)),
            low: [splice.x, splice.y],
            high: [splice.x + splice.length, splice.y + width],
        };
        if splice.length < instance.splice_min {
            faults.push(format!("{} is shorter than the shortest splice", part.name));
        }
        if splice.y != Length::ZERO || width != stock_width {
            faults.push(format!("{} is not as wide as the stock", part.name));
        }
        let most = [stock.length - instance.trim, stock_width];
        if !part.is_inside([instance.trim, Length::ZERO], most) {
            faults.push(format!("{} is not inside the stock less trim", part.name));
        }
        parts.push(part);
    }
    parts
}

fn offcut_parts(instance: &Instance, layout: &Layout, faults: &mut Vec<String>) -> Vec<Part> {
    let stock = &instance.stocks[layout.stock];
    let stock_width = width_of(instance, stock.width);
    let mut parts = Vec::new();
    for offcut in &layout.offcuts {
        let width = width_of(instance, offcut.width);
        let part = Part {
            name: format!("offcut at {}", place(offcut.x, offcut.y)),
            low: [offcut.x, offcut.y],
            high: [offcut.x + offcut.length, offcut.y + width],
        };
        let is_kept = instance.offcut_min.is_some_and(|least| {
            offcut.length >= least && (instance.kind == Kind::Linear || offcut.width >= least)
        });
        if !is_kept {
            faults.push(format!("{} is smaller than the smallest offcut", part.name));
        }
        if !part.is_inside([Length::ZERO; 2], [stock.length, stock_width]) {
            faults.push(format!("{} is not inside the stock", part.name));
        }
        parts.push(part);
    }
    parts
}

fn check_taken(instance: &Instance, layout: &Layout, parts: &[Part], faults: &mut Vec<String>) {
    let end = parts.iter().map(|part| part.high[0]).max().unwrap_or_default();
    let taken = (end + instance.kerf).min(instance.stocks[layout.stock].length);
    if layout.taken != taken {
        faults.push(format!(
            "{} nm are taken, not {}",
            taken.nanometers(),
            layout.taken.nanometers()
        ));
    }
}

fn check_distances(instance: &Instance, parts: &[Part], faults: &mut Vec<String>) {
    let mut order: Vec<&Part> = parts.iter().collect();
    order.sort_by_key(|part| part.low);
    for (index, part) in order.iter().enumerate() {
        let near = order[index + 1..]
            .iter()
            .take_while(|other| other.low[0] < part.high[0] + instance.kerf);
        for other in near.filter(|other| !part.is_apart(other, instance.kerf)) {
            faults.push(format!("{} and {} are not a kerf apart", part.name, other.name));
        }
    }
}

/// Checks edge-to-edge cuts. The first `wanted_count` parts are pieces and splices, the others offcuts.
///
/// Parting a set as far as one direction allows, then each group in the other, finds a way whenever there is one: a cut
/// that is possible stays possible after any other cut.
fn check_cuts(instance: &Instance, parts: &[Part], wanted_count: usize, faults: &mut Vec<String>) {
    let all: Vec<&Part> = parts.iter().collect();
    if let Some(group) = inseparable(all, instance.kerf) {
        let names: Vec<&str> = group.iter().take(3).map(|part| part.name.as_str()).collect();
        faults.push(format!("no cut from edge to edge parts {}", names.join(", ")));
        return;
    }
    let Some(most) = instance.max_stages else { return };
    let wanted: Vec<&Part> = parts[..wanted_count].iter().collect();
    let across_first = stage_count(&wanted, 0, instance.kerf);
    let stages = match instance.kind {
        Kind::Roll => across_first,
        _ => across_first.min(stage_count(&wanted, 1, instance.kerf)),
    };
    if stages > most {
        faults.push(format!("{stages} stages of cuts, above {most}"));
    }
}

fn inseparable(group: Vec<&Part>, kerf: Length) -> Option<Vec<&Part>> {
    if group.len() < 2 {
        return None;
    }
    for axis in 0..2 {
        let groups = parted(&group, axis, kerf);
        if groups.len() > 1 {
            return groups.into_iter().find_map(|group| inseparable(group, kerf));
        }
    }
    Some(group)
}

fn stage_count(group: &[&Part], axis: usize, kerf: Length) -> u32 {
    if group.len() < 2 {
        return 0;
    }
    let groups = parted(group, axis, kerf);
    1 + groups.iter().map(|group| stage_count(group, 1 - axis, kerf)).max().unwrap_or(0)
}

/// Parts a group by all the cuts square to `axis` that meet no part.
fn parted<'a>(group: &[&'a Part], axis: usize, kerf: Length) -> Vec<Vec<&'a Part>> {
    let mut order = group.to_vec();
    order.sort_by_key(|part| part.low[axis]);
    let mut groups: Vec<Vec<&Part>> = Vec::new();
    let mut end = None;
    for part in order {
        match groups.last_mut() {
            Some(group) if end.is_some_and(|end: Length| part.low[axis] < end + kerf) => {
                group.push(part);
            }
            _ => groups.push(vec![part]),
        }
        end = end.max(Some(part.high[axis]));
    }
    groups
}

fn check_order(nest: &Nest, faults: &mut Vec<String>) {
    let key = |layout: &Layout| (std::cmp::Reverse(layout.repeat), layout.stock);
    let is_in_order = |left: &Layout, right: &Layout| {
        key(left).cmp(&key(right)).then_with(|| left.placements.cmp(&right.placements)).is_le()
    };
    if !nest.layouts.is_sorted_by(is_in_order) {
        faults.push("layouts are not in order of repeat, stock and placements".to_owned());
    }
    for (index, layout) in nest.layouts.iter().enumerate() {
        let is_same = |other: &&Layout| {
            other.stock == layout.stock
                && other.placements == layout.placements
                && other.splices == layout.splices
        };
        if nest.layouts[..index].iter().rev().find(is_same).is_some() {
            faults.push(format!("layout {index} is listed twice"));
        }
    }
}

fn check_demand(instance: &Instance, nest: &Nest, faults: &mut Vec<String>) {
    let mut counts = vec![0_u64; instance.pieces.len()];
    for layout in &nest.layouts {
        for placement in &layout.placements {
            counts[placement.piece] += layout.repeat;
        }
    }
    for unplaced in &nest.unplaced {
        let Some(index) = unplaced.piece else { continue };
        let Some(count) = counts.get_mut(index) else {
            faults.push(format!("no piece {index} to leave unplaced"));
            continue;
        };
        *count += unplaced.count;
        let fitting = fitting_stocks(instance, index);
        check_reason(instance, nest, &fitting, unplaced.reason, &format!("piece {index}"), faults);
    }
    for (index, (piece, count)) in instance.pieces.iter().zip(counts).enumerate() {
        if piece.count != count {
            faults.push(format!("piece {index} is wanted {} times, not {count}", piece.count));
        }
    }
}

fn fitting_stocks(instance: &Instance, piece_index: usize) -> Vec<usize> {
    let piece = &instance.pieces[piece_index];
    let twice = instance.trim * 2;
    let fits = |stock_index: usize| {
        let stock = &instance.stocks[stock_index];
        let length = stock.length - twice;
        let width = match (instance.kind, piece.edges) {
            (Kind::Linear, _) => return piece.length <= length,
            (_, Edges::Both) => return piece.length <= length && piece.width == stock.width,
            (Kind::Roll | Kind::FreeRoll, _) => stock.width,
            // One edge is given up to the piece; as wide as the stock, it has both.
            (_, Edges::One) if piece.width == stock.width => stock.width,
            (_, Edges::One) => stock.width - instance.trim,
            (_, Edges::None) => stock.width - twice,
        };
        let is_turnable = piece.may_turn && piece.edges == Edges::None;
        (piece.length <= length && piece.width <= width)
            || (is_turnable && piece.width <= length && piece.length <= width)
    };
    (0..instance.stocks.len()).filter(|index| fits(*index)).collect()
}

fn check_reason(
    instance: &Instance,
    nest: &Nest,
    fitting: &[usize],
    reason: UnplacedReason,
    name: &str,
    faults: &mut Vec<String>,
) {
    let counts = nest.stock_counts(instance);
    match reason {
        UnplacedReason::TooLarge => {
            if let Some(stock) = fitting.first() {
                faults.push(format!("{name} is called too large but fits stock {stock}"));
            }
        }
        UnplacedReason::NoStock => {
            if fitting.is_empty() {
                faults.push(format!("{name} lacks no stock: it fits none"));
            }
            for stock in fitting {
                if instance.stocks[*stock].available.is_none_or(|most| counts[*stock] < most) {
                    faults.push(format!("{name} is said to lack stock, but stock {stock} is left"));
                }
            }
        }
    }
}

fn check_run(instance: &Instance, nest: &Nest, faults: &mut Vec<String>) {
    let splices: Ratio = nest
        .layouts
        .iter()
        .flat_map(|layout| layout.splices.iter().map(move |splice| (layout.repeat, splice.length)))
        .map(|(repeat, length)| length.to_ratio() * Ratio::whole(i128::from(repeat)))
        .sum();
    let is_met = splices >= instance.run.to_ratio();
    let mut listed = nest.unplaced.iter().filter(|unplaced| unplaced.piece.is_none());
    match listed.next() {
        None if !is_met => faults.push("the run is neither met nor unplaced".to_owned()),
        Some(_) if is_met => faults.push("the run is met and unplaced".to_owned()),
        Some(unplaced) => {
            if unplaced.count != 1 {
                faults.push("the run is one, not more".to_owned());
            }
            let fits = |index: &usize| {
                instance.stocks[*index].length - instance.trim * 2 >= instance.splice_min
            };
            let fitting: Vec<usize> = (0..instance.stocks.len()).filter(fits).collect();
            check_reason(instance, nest, &fitting, unplaced.reason, "the run", faults);
        }
        None => {}
    }
    if listed.next().is_some() {
        faults.push("the run is unplaced twice".to_owned());
    }
}

fn check_availability(instance: &Instance, nest: &Nest, faults: &mut Vec<String>) {
    let counts = nest.stock_counts(instance);
    for (index, (stock, count)) in instance.stocks.iter().zip(counts).enumerate() {
        if let Some(most) = stock.available.filter(|most| count > *most) {
            faults.push(format!("stock {index} is taken {count} times, above {most}"));
        }
    }
}

fn check_cost(instance: &Instance, nest: &Nest, faults: &mut Vec<String>) {
    let charge = |layout: &Layout| {
        let stock = &instance.stocks[layout.stock];
        let share =
            if instance.charges_length && matches!(instance.kind, Kind::Roll | Kind::FreeRoll) {
                layout.taken.to_ratio().checked_div(&stock.length.to_ratio()).unwrap_or_default()
            } else {
                Ratio::ONE
            };
        &stock.cost * &share * &Ratio::whole(i128::from(layout.repeat))
    };
    let cost: Ratio = nest.layouts.iter().map(charge).sum();
    if cost != nest.cost {
        faults.push(format!("the stock taken costs {cost}, not {}", nest.cost));
    }
    if nest.unplaced.iter().any(|unplaced| unplaced.reason == UnplacedReason::NoStock) {
        if nest.ending == Ending::Proven {
            faults.push("called proven with pieces that lack stock".to_owned());
        }
        return;
    }
    let count: u64 = nest.layouts.iter().map(|layout| layout.repeat).sum();
    if nest.bound.cost > nest.cost {
        faults.push(format!("the bound {} is above the cost {}", nest.bound.cost, nest.cost));
    }
    if nest.bound.stocks > count {
        faults
            .push(format!("the bound of {} stocks is above the {count} taken", nest.bound.stocks));
    }
    if nest.ending == Ending::Proven && nest.bound.cost != nest.cost {
        faults.push("called proven below its cost".to_owned());
    }
}

fn place(x: Length, y: Length) -> String {
    format!("({}, {})", x.nanometers(), y.nanometers())
}
