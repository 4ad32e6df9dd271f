//! In which order the cuts of a layout are made, and what comes free at each.
//!
//! A layout that can be cut from edge to edge is parted into strips, the strips into pieces, and so on; each part is cut
//! one way only, the way that leaves fewer cuts in all. First come all cuts of a part, then the cuts of its strips from
//! one end to the other. A layout that cannot be cut so has no order of cuts, only of pieces.
//!
//! What each cut goes through and what falls off is found by making the cuts one after the other ([`follow`]), not by
//! asking how their order came about: an order that cannot be followed is none.

#[cfg(test)]
mod tests;

use crate::nest::{Instance, Kind, Layout, Rest};
use crate::quantity::Length;

/// A rectangle by its low and high corners, in nanometers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Block {
    pub(super) low: [i64; 2],
    pub(super) high: [i64; 2],
}

/// Which way a cut runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// Across the stock: at a distance along its length.
    Across,
    /// Along the stock: at a distance along its width.
    Along,
}

impl Way {
    /// Returns the axis that the place of the cut is counted on: 0 along the length, 1 along the width.
    #[must_use]
    pub const fn axis(self) -> usize {
        match self {
            Way::Across => 0,
            Way::Along => 1,
        }
    }

    /// Returns the axis that the cut runs along.
    #[must_use]
    pub const fn other(self) -> usize {
        1 - self.axis()
    }

    /// Returns what the shop calls it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Way::Across => "crosscut",
            Way::Along => "rip",
        }
    }

    /// Returns the edge that the place of the cut is measured from, as the layout is drawn.
    #[must_use]
    pub const fn edge(self) -> &'static str {
        match self {
            Way::Across => "left end",
            Way::Along => "top edge",
        }
    }
}

/// What a cut leaves on one side of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// What the next cut goes through: it is still the part that is being cut.
    Rest,
    /// A part that is cut later, by its number.
    Part(usize),
    /// A piece, by its position in [`Layout::placements`].
    Piece(usize),
    /// A splice of the run, by its position in [`Layout::splices`].
    Splice(usize),
    /// A rest that is kept, by its position in [`Layout::offcuts`].
    Offcut(usize),
    /// What nothing lies in.
    Waste,
    /// Nothing: the saw takes all of it.
    Dust,
}

/// One cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cut {
    /// 0 for cuts that trim the stock; 1 for cuts of the stock, 2 for those of the parts they leave, and so on.
    pub stage: usize,
    /// Which way it runs.
    pub way: Way,
    /// The part it goes through; 0 is the stock.
    pub part: usize,
    /// Where the good edge is, from the stock's origin.
    pub at: Length,
    /// Where the good edge is, from the edge of what is left of the part.
    pub from_edge: Length,
    /// The kerf lies before the edge where this begins good material, and behind it where it ends.
    pub is_leading: bool,
    /// Where the cut begins and ends, on the other axis: from edge to edge of the part.
    pub span: [Length; 2],
    /// What it leaves before it and behind it, with the rectangle of each.
    pub sides: [(Side, Rest); 2],
}

/// Cuts in order, and the blocks in the order they come free: pieces, then splices, then offcuts are counted through.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Sequence {
    /// The cuts.
    pub cuts: Vec<Cut>,
    /// Positions of blocks.
    pub freed: Vec<usize>,
}

/// Above this many blocks a part is cut the first way that parts it: trying both would take too long.
const MOST_TRIED: usize = 80;

/// What the saw takes, and which way it goes first.
#[derive(Clone, Copy, Debug)]
pub(super) struct Saw {
    /// Width of a cut.
    pub(super) kerf: Length,
    /// Taken off each of the four edges at first, where no block lies there.
    pub(super) trim: Length,
    /// Which way the first cuts go, if that is given.
    pub(super) first: Option<Way>,
}

/// Returns the order of cuts that frees every piece of a layout, if there is one; offcuts come free whole where that can
/// be. Nothing for pieces that interlock.
#[must_use]
pub fn sequence(instance: &Instance, layout: &Layout) -> Option<Sequence> {
    let is_stick = instance.kind == Kind::Linear;
    let block = |rest: &Rest| {
        let end = |start: Length, extent: Length| start.nanometers() + extent.nanometers();
        Block {
            low: [rest.x.nanometers(), if is_stick { 0 } else { rest.y.nanometers() }],
            high: [end(rest.x, rest.length), if is_stick { 1 } else { end(rest.y, rest.width) }],
        }
    };
    let stock = &instance.stocks[layout.stock];
    let whole = Block {
        low: [0, 0],
        high: [stock.length.nanometers(), if is_stick { 1 } else { stock.width.nanometers() }],
    };
    let first = match instance.kind {
        Kind::Roll | Kind::Linear => Some(Way::Across),
        Kind::Guillotine | Kind::Free | Kind::FreeRoll => None,
    };
    // The ends of sticks and rolls are trimmed by the cuts that free the first and last piece.
    let trim = match first {
        Some(_) => Length::ZERO,
        None => instance.trim,
    };
    let saw = Saw { kerf: instance.kerf, trim, first };
    let placed: Vec<Rest> =
        layout.placements.iter().map(|placement| instance.placed(placement)).collect();
    let mut blocks: Vec<Block> = placed.iter().chain(&layout.splices).map(block).collect();
    let wanted = blocks.len();
    blocks.extend(layout.offcuts.iter().map(block));
    let name = |block: usize| match block.checked_sub(placed.len()) {
        None => Side::Piece(block),
        Some(splice) => match splice.checked_sub(layout.splices.len()) {
            None => Side::Splice(splice),
            Some(offcut) => Side::Offcut(offcut),
        },
    };
    order(whole, &blocks, &saw, &name).or_else(|| order(whole, &blocks[..wanted], &saw, &name))
}

/// Returns the order of cuts that frees every block of a stock, if there is one.
fn order(
    stock: Block,
    blocks: &[Block],
    saw: &Saw,
    name: &dyn Fn(usize) -> Side,
) -> Option<Sequence> {
    let all: Vec<usize> = (0..blocks.len()).collect();
    let bench = Bench { blocks, kerf: saw.kerf.nanometers() };
    let mut lines = Vec::new();
    let inner = trimmed(stock, blocks, saw.trim.nanometers(), &mut lines);
    let asked = saw.first.and_then(|way| bench.by_strips(inner, &all, way, Entry::Asked));
    let found = asked.or_else(|| bench.part(inner, &all))?;
    lines.extend(found.lines.into_iter().map(|line| Line { stage: line.stage + 1, ..line }));
    let cuts = follow(stock, blocks, &lines, saw.kerf.nanometers(), name)?;
    Some(Sequence { cuts, freed: found.freed })
}

/// Where a cut is to go, before it is known what it goes through.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Line {
    stage: usize,
    way: Way,
    at: i64,
    is_leading: bool,
    span: [i64; 2],
}

/// Lines in order, and the blocks in the order they come free.
#[derive(Default)]
struct Found {
    lines: Vec<Line>,
    freed: Vec<usize>,
}

/// Makes the cuts one after the other and tells what each goes through and leaves; nothing if one does not go from edge to
/// edge through a part, or goes through a block, or a block does not come free.
fn follow(
    stock: Block,
    blocks: &[Block],
    lines: &[Line],
    kerf: i64,
    name: &dyn Fn(usize) -> Side,
) -> Option<Vec<Cut>> {
    let mut parts: Vec<(usize, Block)> = vec![(0, stock)];
    let mut free_number = 1;
    let mut cuts = Vec::with_capacity(lines.len());
    for (position, line) in lines.iter().enumerate() {
        let (axis, other) = (line.way.axis(), line.way.other());
        let goes_through = |part: &Block, line: &Line| {
            let (axis, other) = (line.way.axis(), line.way.other());
            part.low[axis] < line.at
                && line.at < part.high[axis]
                && [part.low[other], part.high[other]] == line.span
        };
        let index = parts.iter().position(|(_, part)| goes_through(part, line))?;
        let (number, part) = parts.swap_remove(index);
        let (mut before, mut behind) = (part, part);
        let begin = if line.is_leading { line.at - kerf } else { line.at };
        before.high[axis] = begin.max(part.low[axis]);
        behind.low[axis] = (begin + kerf).min(part.high[axis]);
        let mut side = |side: Block| {
            if side.low[axis] == side.high[axis] {
                return Some(Side::Dust);
            }
            if let Some(block) = blocks.iter().position(|block| *block == side) {
                return Some(name(block));
            }
            let mut meeting = blocks.iter().filter(|block| block.meets(&side)).peekable();
            if meeting.peek().is_none() {
                return Some(Side::Waste);
            }
            if !meeting.all(|block| block.is_inside(&side)) {
                return None;
            }
            let follows = lines.get(position + 1).filter(|next| next.stage == line.stage);
            let is_rest = line.stage == 0 || follows.is_some_and(|next| goes_through(&side, next));
            if is_rest {
                parts.push((number, side));
                return Some(Side::Rest);
            }
            parts.push((free_number, side));
            free_number += 1;
            Some(Side::Part(free_number - 1))
        };
        let sides = [(side(before)?, before.rest()), (side(behind)?, behind.rest())];
        let is_lost = |block: &&Block| {
            block.meets(&part) && !block.is_inside(&before) && !block.is_inside(&behind)
        };
        if blocks.iter().any(|block| is_lost(&block)) {
            return None;
        }
        cuts.push(Cut {
            stage: line.stage,
            way: line.way,
            part: number,
            at: Length::from_nanometers(line.at),
            from_edge: Length::from_nanometers(line.at - part.low[axis]),
            is_leading: line.is_leading,
            span: [part.low[other], part.high[other]].map(Length::from_nanometers),
            sides,
        });
    }
    // What is left to be cut holds one block each that fills it: a stock that is taken whole.
    let is_done = |(_, part): &(usize, Block)| blocks.contains(part);
    parts.iter().all(is_done).then_some(cuts)
}

impl Block {
    fn meets(&self, other: &Block) -> bool {
        (0..2).all(|axis| self.low[axis] < other.high[axis] && other.low[axis] < self.high[axis])
    }

    fn is_inside(&self, other: &Block) -> bool {
        (0..2).all(|axis| other.low[axis] <= self.low[axis] && self.high[axis] <= other.high[axis])
    }

    fn rest(&self) -> Rest {
        let length = Length::from_nanometers;
        Rest {
            x: length(self.low[0]),
            y: length(self.low[1]),
            length: length(self.high[0] - self.low[0]),
            width: length(self.high[1] - self.low[1]),
        }
    }
}

/// Takes the trim off the edges that no block lies at, and returns what is left.
fn trimmed(stock: Block, blocks: &[Block], trim: i64, lines: &mut Vec<Line>) -> Block {
    let mut inner = stock;
    if trim == 0 {
        return inner;
    }
    for way in [Way::Across, Way::Along] {
        let (axis, other) = (way.axis(), way.other());
        let span = [inner.low[other], inner.high[other]];
        let (low, high) = (stock.low[axis] + trim, stock.high[axis] - trim);
        let mut cut =
            |at: i64, is_leading| lines.push(Line { stage: 0, way, at, is_leading, span });
        if blocks.iter().all(|block| block.low[axis] >= low) {
            inner.low[axis] = low;
            cut(low, true);
        }
        if blocks.iter().all(|block| block.high[axis] <= high) {
            inner.high[axis] = high;
            cut(high, false);
        }
    }
    inner
}

/// Why a part is cut one way.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Entry {
    /// It is tried: it must part blocks, or free a single one.
    Tried,
    /// The stock asks for it: what is cut of a roll comes off it first, though that parts no blocks.
    Asked,
}

/// A run of blocks along an axis: where it begins and ends, and which they are.
type Strip = (i64, i64, Vec<usize>);

/// What is cut.
struct Bench<'a> {
    blocks: &'a [Block],
    kerf: i64,
}

impl Bench<'_> {
    /// Returns the blocks in strips across an axis, each a cut or more clear of the next: where the gap is narrower, a cut
    /// would take from a block.
    fn strips(&self, which: &[usize], axis: usize) -> Vec<Strip> {
        let ends = |block: usize| (self.blocks[block].low[axis], self.blocks[block].high[axis]);
        let mut sorted = which.to_vec();
        sorted.sort_by_key(|block| (ends(*block), *block));
        let mut strips: Vec<Strip> = Vec::new();
        for block in sorted {
            let (low, high) = ends(block);
            match strips.last_mut() {
                Some((_, end, members)) if low < *end + self.kerf => {
                    *end = high.max(*end);
                    members.push(block);
                }
                _ => strips.push((low, high, vec![block])),
            }
        }
        strips
    }

    /// Parts a stock the way that takes fewer cuts.
    fn part(&self, stock: Block, which: &[usize]) -> Option<Found> {
        if let [block] = which
            && self.blocks[*block] == stock
        {
            return Some(Found { lines: Vec::new(), freed: vec![*block] });
        }
        let mut best: Option<Found> = None;
        for way in [Way::Across, Way::Along] {
            let found = self.by_strips(stock, which, way, Entry::Tried);
            let is_better = |found: &Found| {
                best.as_ref().is_none_or(|best| found.lines.len() < best.lines.len())
            };
            if let Some(found) = found.filter(is_better) {
                best = Some(found);
            }
            if which.len() > MOST_TRIED && best.is_some() {
                break;
            }
        }
        best
    }

    /// Parts a stock one way, and then what comes of it; nothing if that way neither parts nor trims, or a strip cannot be
    /// parted further.
    fn by_strips(&self, stock: Block, which: &[usize], way: Way, entry: Entry) -> Option<Found> {
        let (axis, other) = (way.axis(), way.other());
        let strips = self.strips(which, axis);
        let is_trimmed = |strip: &Strip| strip.0 > stock.low[axis] || strip.1 < stock.high[axis];
        let may_trim = which.len() == 1 || entry == Entry::Asked;
        if strips.len() == 1 && !(may_trim && strips.iter().any(is_trimmed)) {
            return None;
        }
        let span = [stock.low[other], stock.high[other]];
        let cut = |at: i64, is_leading: bool| Line { stage: 0, way, at, is_leading, span };
        let mut found = Found::default();
        let mut end = stock.low[axis];
        for (position, (low, high, _)) in strips.iter().enumerate() {
            // One cut parts two strips; waste between them, or before the first, takes another.
            let parted = if position == 0 { 0 } else { self.kerf };
            if *low - end > parted {
                found.lines.push(cut(*low, true));
            }
            if *high < stock.high[axis] {
                found.lines.push(cut(*high, false));
            }
            end = *high;
        }
        for (low, high, members) in &strips {
            let mut inner = stock;
            (inner.low[axis], inner.high[axis]) = (*low, *high);
            let sub = self.part(inner, members)?;
            let deeper = |line: Line| Line { stage: line.stage + 1, ..line };
            found.lines.extend(sub.lines.into_iter().map(deeper));
            found.freed.extend(sub.freed);
        }
        Some(found)
    }
}
