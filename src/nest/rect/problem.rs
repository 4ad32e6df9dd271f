//! The instance in the form the packers and bounds work on: plain rectangles without kerf, trim or edges.
//!
//! Every piece grows by one kerf on its high sides and so does the area it lies in, so pieces that touch here are a
//! kerf apart in the shop. Trim is taken off the area. A piece with one factory edge reaches into the trim, so it takes
//! that much less of the area; one with both takes the whole width. Lengths are counted in the largest unit that keeps
//! all of them whole. Items and bins are sorted, so the order of the instance changes nothing.

use crate::model::Edges;
use crate::nest::{Instance, Piece, Stock};
use crate::quantity::{Length, Ratio};

/// An instance as rectangles.
#[derive(Clone, Debug)]
pub(in crate::nest) struct Problem {
    /// Stock sizes, by their place in a canonical order.
    pub(in crate::nest) bins: Vec<Bin>,
    /// Pieces that fit somewhere, in a canonical order, largest first.
    pub(in crate::nest) items: Vec<Item>,
    /// Pieces of the instance that fit no stock.
    pub(in crate::nest) too_large: Vec<usize>,
    /// Nanometers in a unit.
    pub(in crate::nest) unit: i64,
    /// Kerf, in units.
    pub(in crate::nest) kerf: i64,
    /// Shortest side of a rest that is kept, with its cut; nothing is kept without it.
    pub(in crate::nest) offcut_min: Option<i64>,
    /// Whether a piece needs a factory edge: then what lies above what matters.
    pub(in crate::nest) has_edges: bool,
    /// Most stages of cuts.
    pub(in crate::nest) max_stages: Option<u32>,
    /// Whether a bin's first cuts go across it.
    pub(in crate::nest) is_roll: bool,
    /// Whether a bin is charged by the length taken.
    pub(in crate::nest) charges_length: bool,
}

/// A stock size.
#[derive(Clone, Debug)]
pub(in crate::nest) struct Bin {
    /// Position in the instance.
    pub(in crate::nest) stock: usize,
    /// Extent for items, along the length.
    pub(in crate::nest) length: i64,
    /// The same along the width; one unit where trim leaves nothing.
    pub(in crate::nest) width: i64,
    /// Whole length of the stock, in units.
    pub(in crate::nest) stock_length: i64,
    /// Cost of a whole one.
    pub(in crate::nest) cost: Ratio,
    /// How many there are.
    pub(in crate::nest) available: Option<u64>,
}

/// A piece, with how many.
#[derive(Clone, Debug)]
pub(in crate::nest) struct Item {
    /// Position in the instance.
    pub(in crate::nest) piece: usize,
    /// How many.
    pub(in crate::nest) count: u64,
    /// Ways it lies in each bin; empty where it does not fit.
    pub(in crate::nest) fits: Vec<Vec<Fit>>,
}

/// A way a piece lies in a bin.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::nest) struct Fit {
    pub(in crate::nest) length: i64,
    pub(in crate::nest) width: i64,
    pub(in crate::nest) is_turned: bool,
    pub(in crate::nest) side: Side,
}

/// Where across the bin a piece may lie.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::nest) enum Side {
    /// Anywhere.
    Any,
    /// At the bottom or the top.
    Edge,
    /// From bottom to top.
    Whole,
}

impl Fit {
    /// Returns the width it takes of a bin at least: a strip that may lie in the trim alone takes none.
    pub(in crate::nest) fn least_width(&self) -> i64 {
        if self.side == Side::Edge && self.width == 1 { 0 } else { self.width }
    }
}

impl Problem {
    /// Returns the problem of an instance of sheets or rolls.
    pub(in crate::nest) fn new(instance: &Instance) -> Problem {
        let unit = common_unit(instance);
        let scaled = |length: Length| length.nanometers() / unit;
        let kerf = scaled(instance.kerf);
        let trim = scaled(instance.trim);
        let is_roll = instance.kind.is_roll();
        let side_trim = if is_roll { 0 } else { trim };
        // Room across a bin; none or less where trim takes all of it.
        let room = |stock: usize| scaled(instance.stocks[stock].width) - 2 * side_trim + kerf;
        let bin = |(index, stock): (usize, &Stock)| Bin {
            stock: index,
            length: scaled(stock.length) - 2 * trim + kerf,
            width: room(index).max(1),
            stock_length: scaled(stock.length),
            cost: stock.cost.clone(),
            available: stock.available,
        };
        let fit = |piece: &Piece, bin: &Bin| {
            let across =
                Across { stock: scaled(instance.stocks[bin.stock].width), room: room(bin.stock) };
            let size = (scaled(piece.length), scaled(piece.width));
            fits(piece, size, bin, across, kerf, side_trim)
        };
        let mut bins: Vec<Bin> = instance.stocks.iter().enumerate().map(bin).collect();
        bins.retain(|bin| {
            // Where trim takes the whole width, pieces with a factory edge may still lie in it.
            let holds_any = || instance.pieces.iter().any(|piece| !fit(piece, bin).is_empty());
            bin.length > kerf && bin.available != Some(0) && (room(bin.stock) > kerf || holds_any())
        });
        bins.sort_by(|left, right| {
            let key = |bin: &Bin| (bin.length, bin.width, bin.available);
            left.cost.cmp(&right.cost).then_with(|| key(left).cmp(&key(right)))
        });
        let mut items = Vec::new();
        let mut too_large = Vec::new();
        for (index, piece) in instance.pieces.iter().enumerate() {
            let fits: Vec<Vec<Fit>> = bins.iter().map(|bin| fit(piece, bin)).collect();
            if fits.iter().all(Vec::is_empty) {
                too_large.push(index);
            } else {
                items.push(Item { piece: index, count: piece.count, fits });
            }
        }
        items.sort_by_key(|item| {
            let piece = &instance.pieces[item.piece];
            let area = piece.length.area(piece.width);
            (std::cmp::Reverse((area, piece.length, piece.width)), piece.may_turn, piece.edges)
        });
        let has_edges = items
            .iter()
            .flat_map(|item| item.fits.iter().flatten())
            .any(|fit| fit.side != Side::Any);
        Problem {
            bins,
            items,
            too_large,
            unit,
            kerf,
            offcut_min: instance.offcut_min.map(|least| {
                // A rest is kept from its whole units on.
                let rest = least.nanometers() % unit;
                scaled(least) + i64::from(rest > 0) + kerf
            }),
            has_edges,
            max_stages: instance.max_stages,
            is_roll,
            charges_length: is_roll && instance.charges_length,
        }
    }
}

/// Extents across a bin.
#[derive(Clone, Copy)]
struct Across {
    /// Width of the stock.
    stock: i64,
    /// What trim leaves of it, and one kerf; not above zero where it leaves nothing.
    room: i64,
}

fn fits(
    piece: &Piece,
    (length, width): (i64, i64),
    bin: &Bin,
    across: Across,
    kerf: i64,
    side_trim: i64,
) -> Vec<Fit> {
    let mut fits = Vec::new();
    let mut add = |length: i64, width: i64, is_turned: bool, side: Side| {
        if length <= bin.length && (side == Side::Whole || width <= across.room) {
            // A strip narrower than the trim takes nothing of the area; one unit keeps it a rectangle.
            fits.push(Fit { length, width: width.max(1), is_turned, side });
        }
    };
    match piece.edges {
        Edges::None => {
            add(length + kerf, width + kerf, false, Side::Any);
            if piece.may_turn && length != width {
                add(width + kerf, length + kerf, true, Side::Any);
            }
        }
        Edges::One | Edges::Both if width == across.stock => {
            add(length + kerf, bin.width, false, Side::Whole);
        }
        Edges::One => add(length + kerf, width + kerf - side_trim, false, Side::Edge),
        Edges::Both => {}
    }
    fits
}

fn common_unit(instance: &Instance) -> i64 {
    let stocks = instance.stocks.iter().flat_map(|stock| [stock.length, stock.width]);
    let pieces = instance.pieces.iter().flat_map(|piece| [piece.length, piece.width]);
    let others = [instance.kerf, instance.trim, instance.run];
    let divisor = stocks
        .chain(pieces)
        .chain(others)
        .map(|length| length.nanometers().unsigned_abs())
        .fold(0, greatest_common_divisor);
    i64::try_from(divisor).unwrap_or(1).max(1)
}

fn greatest_common_divisor(mut left: u64, mut right: u64) -> u64 {
    while right != 0 {
        (left, right) = (right, left % right);
    }
    left
}
