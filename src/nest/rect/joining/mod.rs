//! Layouts without waste: rectangles joined edge to edge, bottom up, until one is left.
//!
//! In: sizes of pieces and a rectangle of just their area. Out: the rectangle as a tree of joins, each of two rectangles
//! that share a whole side, so a guillotine layout; or nothing. Deliberately absent: turning, and joins that waste.
//!
//! Joining rectangles bottom up is from Wang, "Two algorithms for constrained two-dimensional cutting stock problems"
//! (1983). Here a state is what rectangles there are, and a beam of states is followed from join to join: those are kept
//! whose sides coincide most, for these can be joined again, and none of which a side can no longer be completed.
//! Where the beam ends, some rectangles are parted again and joined otherwise, as in ruin and recreate. Of many pieces,
//! whole slabs are cut off first, out of large pieces: the small ones that are left coincide most. Cost: a level of a
//! beam costs as many steps as its states have pairs of equal sides.

mod beam;
mod slab;

use crate::nest::random::Random;
use crate::nest::rect::improve::Budget;
use crate::nest::rect::tree::Axis;

/// Most pieces left to the beam once slabs are cut off, and least.
const CORE: (usize, usize) = (30, 50);

/// Rectangles that joins are begun from anew, least and most.
const PARTED: (usize, usize) = (25, 45);

/// Rounds without fewer rectangles before all begins anew.
const ROUNDS: u32 = 150;

/// Extents of a rectangle.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Size {
    pub(super) length: u32,
    pub(super) width: u32,
}

/// A rectangle without waste.
#[derive(Clone, Copy, Debug)]
pub(super) struct Block {
    pub(super) size: Size,
    pub(super) content: Content,
}

/// What a rectangle is made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Content {
    /// The piece of that position.
    Piece(usize),
    /// Two blocks, one after the other along an axis.
    Joined(Axis, usize, usize),
}

impl Size {
    pub(super) fn area(self) -> u64 {
        u64::from(self.length) * u64::from(self.width)
    }

    /// Returns the extent along an axis.
    pub(super) fn along(self, axis: Axis) -> u32 {
        match axis {
            Axis::Length => self.length,
            Axis::Width => self.width,
        }
    }

    /// Returns the extent across an axis.
    pub(super) fn across(self, axis: Axis) -> u32 {
        match axis {
            Axis::Length => self.width,
            Axis::Width => self.length,
        }
    }

    /// Returns the same with another extent along an axis.
    fn with(self, axis: Axis, extent: u32) -> Size {
        match axis {
            Axis::Length => Size { length: extent, width: self.width },
            Axis::Width => Size { length: self.length, width: extent },
        }
    }

    fn holds(self, other: Size) -> bool {
        other.length <= self.length && other.width <= self.width
    }
}

/// Joins pieces to a whole of their area. Returns blocks of which the last is the whole, if that was found.
///
/// The pieces are in a canonical order, so that the answer does not depend on another.
pub(super) fn join(
    pieces: &[Size],
    whole: Size,
    budget: &mut Budget<'_>,
    random: &mut Random,
) -> Option<Vec<Block>> {
    if pieces.iter().any(|piece| !whole.holds(*piece)) {
        return None;
    }
    while budget.left > 0 && !budget.is_stopped {
        let content = (0..).map(Content::Piece);
        let mut blocks: Vec<Block> =
            pieces.iter().zip(content).map(|(size, content)| Block { size: *size, content }).collect();
        let mut rest: Vec<usize> = (0..pieces.len()).collect();
        let mut core = whole;
        let mut slabs = Vec::new();
        let least = CORE.0 + random.index(CORE.1 - CORE.0 + 1);
        while rest.len() > least && budget.left > 0 {
            let Some((axis, slab)) = slab::cut_off(&mut blocks, &mut rest, core, budget, random)
            else {
                break;
            };
            core = core.with(axis, core.along(axis) - blocks[slab].size.along(axis));
            slabs.push((axis, slab));
        }
        let Some(mut joined) = rejoined(&mut blocks, rest, core, budget, random) else { continue };
        for (axis, slab) in slabs.into_iter().rev() {
            joined = joined_with(&mut blocks, axis, joined, slab);
        }
        return Some(blocks);
    }
    None
}

/// Joins blocks to a whole: parts some again where no more can be joined, and tries otherwise.
fn rejoined(
    blocks: &mut Vec<Block>,
    start: Vec<usize>,
    whole: Size,
    budget: &mut Budget<'_>,
    random: &mut Random,
) -> Option<usize> {
    let mut roots = beam::join(blocks, start, whole, budget, random);
    let mut least = roots.len();
    let mut stale = 0;
    while roots.len() > 1 {
        if stale == ROUNDS || budget.left == 0 {
            return None;
        }
        budget.is_stopped = budget.is_stopped || budget.watch.is_stopped();
        if budget.is_stopped {
            return None;
        }
        let known = blocks.len();
        let parted = parted(blocks, &roots, random);
        let tried = beam::join(blocks, parted, whole, budget, random);
        // One more is taken now and then, two more seldom.
        let chance = 10_u64.saturating_pow(tried.len().saturating_sub(roots.len()) as u32);
        if random.below(chance) == 0 {
            roots = tried;
        } else {
            blocks.truncate(known);
        }
        stale = if roots.len() < least { 0 } else { stale + 1 };
        least = least.min(roots.len());
    }
    roots.pop()
}

/// Parts blocks at random until there are enough.
fn parted(blocks: &[Block], roots: &[usize], random: &mut Random) -> Vec<usize> {
    let count = PARTED.0 + random.index(PARTED.1 - PARTED.0 + 1);
    let mut parted = roots.to_vec();
    let mut joined: Vec<usize> = (0..parted.len()).collect();
    while parted.len() < count.max(roots.len() + 2) && !joined.is_empty() {
        let place = random.index(joined.len());
        let root = joined[place];
        if let Content::Joined(_, left, right) = blocks[parted[root]].content {
            parted[root] = left;
            joined.push(parted.len());
            parted.push(right);
        } else {
            joined.swap_remove(place);
        }
    }
    parted
}

/// Adds the block of two that follow each other along an axis.
fn joined_with(blocks: &mut Vec<Block>, axis: Axis, left: usize, right: usize) -> usize {
    let (first, second) = (blocks[left].size, blocks[right].size);
    debug_assert_eq!(first.across(axis), second.across(axis), "joined at a whole side");
    let size = first.with(axis, first.along(axis) + second.along(axis));
    blocks.push(Block { size, content: Content::Joined(axis, left, right) });
    blocks.len() - 1
}
