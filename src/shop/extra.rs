//! One more piece of a plan that is nested, and perhaps cut in part already: where it goes, and what it costs.
//!
//! In: a nest, the pieces, and the layouts that are cut. Out: a [`Recut`]: the layouts that change and those that are new;
//! every other one stays as it is. A piece goes into an offcut that is on hand, else into an offcut that a layout not yet
//! cut leaves, else into a gap of such a layout, the smallest place first, and only then onto new stock.
//!
//! Always: what comes out passes the check of nests.

use std::cmp::Reverse;

use crate::diag::Diagnostic;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::model::{Book, ItemId, RowRef, SizeId};
use crate::nest;
use crate::nest::{
    Bound, BoundRule, Ending, Instance, Kind, Layout, Nest, Options, Piece, Placement, Rest, Stock,
    Unplaced,
};
use crate::quantity::{Length, Ratio};
use crate::rollup::{ItemCost, Nested, unplaced_reason};
use crate::shop::hand;
use crate::watch::Watch;

/// Where extra pieces went.
#[derive(Clone, Debug)]
pub struct Recut {
    /// The book, with a size for each offcut on hand that is cut.
    pub book: Book,
    /// The item, with the layouts that change and those that are new, and nothing else.
    pub item: ItemCost,
    /// Where each layout comes from, in the order of the layouts.
    pub origins: Vec<Origin>,
    /// What each layout costs beyond what was paid before, in the order of the layouts.
    pub costs: Vec<Ratio>,
    /// Positions of the extra pieces in the instance's pieces.
    pub extras: Vec<usize>,
}

/// What the stock of a layout is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Origin {
    /// An offcut on hand, by its row of table `stock`.
    OnHand(RowRef),
    /// A stock that is cut otherwise than planned, by the position of its layout: the piece fills a kept offcut.
    Offcut(usize),
    /// The same, but the piece fills a gap.
    Gap(usize),
    /// New stock.
    New,
}

/// A stock that a piece may be added to.
#[derive(Clone, Debug)]
struct Room {
    /// What it is, before anything is added.
    from: From,
    /// How many there are that are alike.
    left: u64,
    layout: Layout,
    /// Whether a piece has been added, and how the first one was.
    origin: Option<Origin>,
}

/// Where a room comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum From {
    Hand(RowRef),
    Plan(usize),
}

/// How a piece can be added to a room: what it takes, the smallest first.
#[derive(Clone, Debug)]
struct Fit {
    rank: (u8, i128, bool, usize),
    room: usize,
    layout: Layout,
    origin: Origin,
}

/// Adds pieces to an item's nest. `cut` holds the positions of layouts that are cut already.
///
/// # Errors
/// A layout that fails its check, which is a defect of this program.
pub fn extra(
    book: &Book,
    cost: &ItemCost,
    nested: &Nested,
    pieces: &[Piece],
    cut: &[usize],
    (options, watch): (Options, &dyn Watch),
) -> Result<Recut, Vec<Diagnostic>> {
    let mut book = book.clone();
    let mut instance = nested.instance.clone();
    let mut sizes = nested.sizes.clone();
    instance.run = Length::ZERO;
    let first = instance.pieces.len();
    instance.pieces.extend(pieces.iter().cloned());
    let mut rooms = on_hand(&mut book, cost.item, &mut instance, &mut sizes);
    let planned = nested.nest.layouts.iter().enumerate().filter(|(index, _)| !cut.contains(index));
    rooms.extend(planned.map(|(index, layout)| Room {
        from: From::Plan(index),
        left: layout.repeat,
        layout: Layout { repeat: 1, ..layout.clone() },
        origin: None,
    }));
    let mut left: Vec<Piece> = Vec::new();
    for (position, piece) in pieces.iter().enumerate() {
        let mut placed = 0;
        while placed < piece.count
            && let Some(fit) = best(&instance, &rooms, first + position)
        {
            take(&mut rooms, fit);
            placed += 1;
        }
        left.push(Piece { count: piece.count - placed, ..piece.clone() });
    }
    let mut changed: Vec<(Layout, Origin, Ratio)> = Vec::new();
    for room in rooms {
        let Some(origin) = room.origin else { continue };
        let before = match room.from {
            From::Plan(index) => instance.cost(&nested.nest.layouts[index]),
            From::Hand(_) => Ratio::ZERO,
        };
        let added = instance.cost(&room.layout) - &before;
        changed.push((room.layout, origin, added));
    }
    let unplaced = on_new(&instance, &left, first, nested, (options, watch), &mut changed);
    let (layouts, origins, costs) = joined(changed);
    let nest = Nest {
        cost: layouts.iter().map(|layout| times(&instance.cost(layout), layout.repeat)).sum(),
        layouts,
        unplaced,
        bound: Bound { cost: Ratio::ZERO, stocks: 0, rule: BoundRule::Any, method: "none" },
        ending: Ending::Effort,
    };
    wanted(&mut instance, &nest);
    if let Err(faults) = nest::check::check(&instance, &nest) {
        let problem = Problem::NestWrong { item: book.item(cost.item).name.clone(), faults };
        return Err(vec![Diagnostic::placeless(problem)]);
    }
    let extras = (first..instance.pieces.len()).collect();
    let nested = Some(Box::new(Nested { instance, sizes, nest }));
    Ok(Recut { book, item: ItemCost { nested, ..cost.clone() }, origins, costs, extras })
}

/// Returns a gap for each kind of extra piece that found no stock.
#[must_use]
pub fn unplaced(recut: &Recut) -> Vec<Diagnostic> {
    let Some(nested) = &recut.item.nested else { return Vec::new() };
    let item = recut.book.item(recut.item.item);
    let gaps = nested.nest.unplaced.iter().map(|unplaced| {
        let pieces = usize::try_from(unplaced.count).unwrap_or(usize::MAX);
        let reason = unplaced_reason(unplaced.reason).to_owned();
        let problem = Problem::Unplaced { item: item.name.clone(), pieces, reason };
        Diagnostic::new(Severity::Gap, recut.book.place(item.row, None), problem)
    });
    gaps.collect()
}

/// Returns the offcuts of an item that are on hand, each as a stock that costs nothing and is cut nowhere yet.
fn on_hand(
    book: &mut Book,
    item: ItemId,
    instance: &mut Instance,
    sizes: &mut Vec<SizeId>,
) -> Vec<Room> {
    let mut rooms = Vec::new();
    for size in hand::offcuts(book, item) {
        let (row, left, stock) = (size.row, size.available.map(u64::from), instance.stocks.len());
        let (Some(length), Some(left)) = (size.length, left) else { continue };
        let width = size.width.unwrap_or_default();
        book.sizes.push(size);
        sizes.push(SizeId(u32::try_from(book.sizes.len() - 1).expect("sizes fit a u32")));
        instance.stocks.push(Stock { length, width, cost: Ratio::ZERO, available: Some(left) });
        let whole = Rest { x: Length::ZERO, y: Length::ZERO, length, width };
        let layout = Layout {
            stock,
            repeat: 1,
            placements: Vec::new(),
            splices: Vec::new(),
            offcuts: vec![whole],
            taken: Length::ZERO,
        };
        rooms.push(Room { from: From::Hand(row), left, layout, origin: None });
    }
    rooms
}

/// Returns the best way to add a piece to one of the rooms, if it fits any.
fn best(instance: &Instance, rooms: &[Room], piece: usize) -> Option<Fit> {
    let fits =
        rooms.iter().enumerate().filter(|(_, room)| room.left > 0).flat_map(|(index, room)| {
            let offcuts = (0..room.layout.offcuts.len())
                .filter_map(move |offcut| into_offcut(instance, room, index, offcut, piece));
            offcuts.collect::<Vec<_>>()
        });
    let of_offcuts = fits.min_by_key(|fit| fit.rank);
    of_offcuts.or_else(|| {
        let gaps = rooms.iter().enumerate().filter(|(_, room)| room.left > 0);
        gaps.filter_map(|(index, room)| into_gap(instance, room, index, piece))
            .min_by_key(|fit| fit.rank)
    })
}

/// Puts a piece at the corner of a kept offcut, if that is large enough.
fn into_offcut(
    instance: &Instance,
    room: &Room,
    index: usize,
    offcut: usize,
    piece: usize,
) -> Option<Fit> {
    let rest = room.layout.offcuts[offcut];
    let is_hand = matches!(room.from, From::Hand(_));
    let corner = |at: Length, trim: Length| if at == Length::ZERO { trim } else { at };
    let side_trim = match instance.kind {
        Kind::Guillotine | Kind::Free => instance.trim,
        Kind::Linear | Kind::Roll | Kind::FreeRoll => Length::ZERO,
    };
    let (x, y) = (corner(rest.x, instance.trim), corner(rest.y, side_trim));
    let turns = [false, true].into_iter().filter(|turned| !turned || may_turn(instance, piece));
    let layouts = turns.filter_map(|is_turned| {
        let placement = Placement { piece, x, y, is_turned };
        let taken = instance.placed(&placement);
        let fits = taken.x + taken.length <= rest.x + rest.length
            && taken.y + taken.width <= rest.y + rest.width;
        if !fits {
            return None;
        }
        let mut layout = room.layout.clone();
        layout.offcuts.remove(offcut);
        let rests = rests(instance, rest, taken);
        let kept = rests.iter().map(|rest| area(*rest)).max().unwrap_or(0);
        layout.offcuts.extend(rests);
        layout.offcuts.sort_by_key(|rest| (rest.x, rest.y));
        Some((kept, with(instance, layout, placement)?))
    });
    // Turned only where a larger rest is left.
    let (_, layout) = layouts.reduce(|best, next| if next.0 > best.0 { next } else { best })?;
    let origin = match room.from {
        From::Hand(row) => Origin::OnHand(row),
        From::Plan(layout) => Origin::Offcut(layout),
    };
    let rank = (u8::from(!is_hand), area(rest), room.origin.is_none(), index);
    Some(Fit { rank, room: index, layout, origin })
}

/// Puts a piece where nothing lies, kept offcuts included, if there is such a place.
fn into_gap(instance: &Instance, room: &Room, index: usize, piece: usize) -> Option<Fit> {
    let From::Plan(number) = room.from else { return None };
    let layout = &room.layout;
    let stock = &instance.stocks[layout.stock];
    let placed = layout.placements.iter().map(|placement| instance.placed(placement));
    let taken: Vec<Rest> = placed
        .chain(layout.splices.iter().copied())
        .chain(layout.offcuts.iter().copied())
        .collect();
    let (trim, kerf) = (instance.trim, instance.kerf);
    let mut xs: Vec<Length> = taken.iter().map(|rest| rest.x + rest.length + kerf).collect();
    let mut ys: Vec<Length> = taken.iter().map(|rest| rest.y + rest.width + kerf).collect();
    xs.extend([Length::ZERO, trim]);
    ys.extend([Length::ZERO, trim]);
    if instance.kind == Kind::Linear {
        ys = vec![Length::ZERO];
    }
    for list in [&mut xs, &mut ys] {
        list.sort_unstable();
        list.dedup();
    }
    let apart = |low: Length, high: Length, from: Length, to: Length| {
        high + kerf <= from || to + kerf <= low
    };
    for is_turned in [false, true].into_iter().filter(|turned| !turned || may_turn(instance, piece))
    {
        for x in &xs {
            for y in &ys {
                let placement = Placement { piece, x: *x, y: *y, is_turned };
                let own = instance.placed(&placement);
                let (right, top) = (own.x + own.length, own.y + own.width);
                let is_free = right <= stock.length
                    && top <= stock.width
                    && taken.iter().all(|rest| {
                        apart(own.x, right, rest.x, rest.x + rest.length)
                            || (instance.kind != Kind::Linear
                                && apart(own.y, top, rest.y, rest.y + rest.width))
                    });
                if !is_free {
                    continue;
                }
                if let Some(layout) = with(instance, layout.clone(), placement) {
                    let rank = (2, 0, room.origin.is_none(), index);
                    return Some(Fit { rank, room: index, layout, origin: Origin::Gap(number) });
                }
            }
        }
    }
    None
}

fn may_turn(instance: &Instance, piece: usize) -> bool {
    instance.kind != Kind::Linear && instance.pieces[piece].may_turn
}

/// Returns a layout with one more piece, if it can still be cut.
fn with(instance: &Instance, mut layout: Layout, placement: Placement) -> Option<Layout> {
    layout.placements.push(placement);
    layout.placements.sort_by_key(|placement| (placement.x, placement.y));
    let ends = layout.placements.iter().map(|placement| instance.placed(placement));
    let end = ends.chain(layout.splices.iter().copied()).map(|rest| rest.x + rest.length).max();
    layout.taken =
        (end.unwrap_or_default() + instance.kerf).min(instance.stocks[layout.stock].length);
    let nest = Nest {
        cost: instance.cost(&layout),
        layouts: vec![layout],
        unplaced: Vec::new(),
        bound: Bound { cost: Ratio::ZERO, stocks: 0, rule: BoundRule::Any, method: "none" },
        ending: Ending::Effort,
    };
    let mut alone = instance.clone();
    wanted(&mut alone, &nest);
    nest::check::check(&alone, &nest).ok()?;
    nest.layouts.into_iter().next()
}

/// Makes the pieces that are wanted those that a nest holds or leaves unplaced.
fn wanted(instance: &mut Instance, nest: &Nest) {
    for piece in &mut instance.pieces {
        piece.count = 0;
    }
    for layout in &nest.layouts {
        for placement in &layout.placements {
            instance.pieces[placement.piece].count += layout.repeat;
        }
    }
    for unplaced in &nest.unplaced {
        if let Some(piece) = unplaced.piece {
            instance.pieces[piece].count += unplaced.count;
        }
    }
}

/// Returns what is left of an offcut beside a piece at its corner: two rests, parted so that the larger is as large as can
/// be, without those too small to keep.
fn rests(instance: &Instance, rest: Rest, taken: Rest) -> Vec<Rest> {
    let kerf = instance.kerf;
    let (x, y) = (taken.x + taken.length + kerf, taken.y + taken.width + kerf);
    let (right, top) = (rest.x + rest.length, rest.y + rest.width);
    let beside = |width: Length| Rest { x, y: rest.y, length: right - x, width };
    let above = |length: Length| Rest { x: rest.x, y, length, width: top - y };
    let least = instance.offcut_min;
    let is_kept = |rest: &Rest| {
        let is_long =
            |side: Length| least.is_some_and(|least| side >= least) && side > Length::ZERO;
        is_long(rest.length) && (instance.kind == Kind::Linear || is_long(rest.width))
    };
    if instance.kind == Kind::Linear {
        return Some(beside(rest.width)).filter(is_kept).into_iter().collect();
    }
    let ways = [
        [beside(rest.width), above(taken.x + taken.length - rest.x)],
        [beside(taken.y + taken.width - rest.y), above(rest.length)],
    ];
    let kept = ways.map(|way| way.into_iter().filter(is_kept).collect::<Vec<_>>());
    let largest = |way: &Vec<Rest>| way.iter().map(|rest| area(*rest)).max().unwrap_or(0);
    let [first, second] = kept;
    if largest(&second) > largest(&first) { second } else { first }
}

fn area(rest: Rest) -> i128 {
    // A stick has no width; its length says as much.
    rest.length.area(rest.width.max(Length::from_nanometers(1)))
}

/// Takes a room as it fits: one of those that are alike is parted from the others.
fn take(rooms: &mut Vec<Room>, fit: Fit) {
    let room = &mut rooms[fit.room];
    if room.origin.is_some() {
        room.layout = fit.layout;
        return;
    }
    room.left -= 1;
    let from = room.from;
    rooms.push(Room { from, left: 1, layout: fit.layout, origin: Some(fit.origin) });
}

fn times(cost: &Ratio, repeat: u64) -> Ratio {
    cost * &Ratio::whole(i128::from(repeat))
}

/// Nests what is left on new stock, and returns what fits none.
fn on_new(
    instance: &Instance,
    left: &[Piece],
    first: usize,
    nested: &Nested,
    (options, watch): (Options, &dyn Watch),
    changed: &mut Vec<(Layout, Origin, Ratio)>,
) -> Vec<Unplaced> {
    let positions: Vec<usize> = (0..left.len()).filter(|index| left[*index].count > 0).collect();
    if positions.is_empty() {
        return Vec::new();
    }
    let counts = nested.nest.stock_counts(&nested.instance);
    let stocks = nested.instance.stocks.iter().zip(counts).map(|(stock, count)| Stock {
        available: stock.available.map(|available| available.saturating_sub(count)),
        ..stock.clone()
    });
    let alone = Instance {
        stocks: stocks.collect(),
        pieces: positions.iter().map(|index| left[*index].clone()).collect(),
        ..instance.clone()
    };
    let found = nest::nest(&alone, options, watch);
    for mut layout in found.layouts {
        for placement in &mut layout.placements {
            placement.piece = first + positions[placement.piece];
        }
        let cost = times(&instance.cost(&layout), layout.repeat);
        changed.push((layout, Origin::New, cost));
    }
    let unplaced = found.unplaced.into_iter().map(|unplaced| Unplaced {
        piece: unplaced.piece.map(|piece| first + positions[piece]),
        ..unplaced
    });
    unplaced.collect()
}

/// Joins layouts that are cut alike, and puts them in the order of a nest.
fn joined(changed: Vec<(Layout, Origin, Ratio)>) -> (Vec<Layout>, Vec<Origin>, Vec<Ratio>) {
    let mut kept: Vec<(Layout, Origin, Ratio)> = Vec::new();
    for (layout, origin, cost) in changed {
        let is_same = |known: &&mut (Layout, Origin, Ratio)| {
            known.0.stock == layout.stock
                && known.0.placements == layout.placements
                && known.0.splices == layout.splices
        };
        match kept.iter_mut().find(is_same) {
            Some(known) => {
                known.0.repeat += layout.repeat;
                known.2 += &cost;
            }
            None => kept.push((layout, origin, cost)),
        }
    }
    kept.sort_by(|(left, ..), (right, ..)| {
        let key = |layout: &Layout| (Reverse(layout.repeat), layout.stock);
        key(left).cmp(&key(right)).then_with(|| left.placements.cmp(&right.placements))
    });
    let mut parts = (Vec::new(), Vec::new(), Vec::new());
    for (layout, origin, cost) in kept {
        parts.0.push(layout);
        parts.1.push(origin);
        parts.2.push(cost);
    }
    parts
}
