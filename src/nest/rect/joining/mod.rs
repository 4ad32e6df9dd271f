//! Layouts without waste: rectangles joined edge to edge, bottom up, until one is left.
//!
//! In: the pieces of one roll charged by length, where they may fill it from side to side. Out: a nest as long as their
//! area demands, so the best possible; or nothing. It is a tree of joins, each of two rectangles that share a whole side,
//! so a guillotine layout. Deliberately absent: turning, stages, factory edges, and joins that waste.
//!
//! Joining rectangles bottom up is from Wang, "Two algorithms for constrained two-dimensional cutting stock problems"
//! (1983). Here a state is what rectangles there are, and a beam of states is followed from join to join: those are kept
//! whose sides coincide most, for these can be joined again, and none of which a side can no longer be completed.
//! Where the beam ends, some rectangles are parted again and joined otherwise, as in ruin and recreate. Of many pieces,
//! whole slabs are cut off first, out of large pieces: the small ones that are left coincide most. Cost: a level of a
//! beam costs as many steps as its states have pairs of equal sides.

mod beam;
mod slab;
mod sums;

use std::sync::atomic::AtomicU64;
use std::sync::atomic::Ordering;

use rayon::iter::{IntoParallelIterator, ParallelIterator};

use crate::nest::random::Random;
use crate::nest::rect::build::{Group, Grouped};
use crate::nest::rect::expanded;
use crate::nest::rect::improve::{Budget, luby};
use crate::nest::rect::packing::Weights;
use crate::nest::rect::problem::Problem;
use crate::nest::rect::tree::{Axis, Sheet};

/// Most pieces left to the beam once slabs are cut off, and least.
const CORE: (usize, usize) = (30, 50);

/// Most pieces that no slabs are cut off of.
const UNCUT: usize = 60;

/// Rectangles that joins are begun from anew, least and most.
const PARTED: (usize, usize) = (25, 45);

/// Rounds without fewer rectangles before all begins anew, at least.
const ROUNDS: u64 = 30;

/// Pairs of pieces with an equal side for each piece, at least.
const PAIRS: usize = 2;

/// Extents of a rectangle.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Size {
    length: u16,
    width: u16,
}

/// A rectangle without waste.
#[derive(Clone, Copy, Debug)]
struct Block {
    size: Size,
    content: Content,
}

/// What a rectangle is made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Content {
    /// The piece of that position.
    Piece(usize),
    /// Two blocks, one after the other along an axis.
    Joined(Axis, usize, usize),
}

impl Size {
    fn area(self) -> u64 {
        u64::from(self.length) * u64::from(self.width)
    }

    /// Returns the extent along an axis.
    fn along(self, axis: Axis) -> u16 {
        match axis {
            Axis::Length => self.length,
            Axis::Width => self.width,
        }
    }

    /// Returns the extent across an axis.
    fn across(self, axis: Axis) -> u16 {
        match axis {
            Axis::Length => self.width,
            Axis::Width => self.length,
        }
    }

    /// Returns the same with another extent along an axis.
    fn with(self, axis: Axis, extent: u16) -> Size {
        match axis {
            Axis::Length => Size { length: extent, width: self.width },
            Axis::Width => Size { length: self.length, width: extent },
        }
    }

    fn holds(self, other: Size) -> bool {
        other.length <= self.length && other.width <= self.width
    }
}

/// Tells whether pieces might fill a roll without waste, with sides that coincide enough for looking.
pub(super) fn is_promising(problem: &Problem, weights: &Weights, goal: f64) -> bool {
    let is_plain = !problem.has_edges && problem.max_stages.is_none() && problem.charges_length;
    let is_fixed = || problem.items.iter().all(|item| item.fits[0].len() == 1);
    if problem.bins.len() != 1 || !is_plain || !is_fixed() {
        return false;
    }
    let items: Vec<usize> = expanded(problem.items.iter().map(|item| item.count));
    let Some((sizes, whole)) = sizes(problem, &items) else { return false };
    // Where a bound is longer than the area, there is waste.
    if weights.cost(problem, 0, whole.length.into()) > goal + 1e-6 {
        return false;
    }
    let pairs = |axis: Axis| {
        let mut sides: Vec<u16> = sizes.iter().map(|size| size.along(axis)).collect();
        sides.sort_unstable();
        let groups = sides.chunk_by(|left, right| left == right);
        groups.map(|group| group.len() * (group.len() - 1) / 2).sum::<usize>()
    };
    pairs(Axis::Length) + pairs(Axis::Width) >= PAIRS * sizes.len()
}

/// Looks for a nest without waste, of a problem that is promising.
pub(super) fn search(
    problem: &Problem,
    weights: &Weights,
    budget: &mut Budget<'_>,
    random: &mut Random,
) -> Option<Grouped> {
    let items = expanded(problem.items.iter().map(|item| item.count));
    let (sizes, whole) = sizes(problem, &items)?;
    let blocks = join(&sizes, whole, budget, random)?;
    let sheet = sheet(problem, &items, whole, &blocks);
    let cost = weights.cost(problem, 0, sheet.length);
    let out = vec![0; problem.items.len()];
    Some(Grouped { groups: vec![Group { sheet, repeat: 1 }], out, cost })
}

/// Returns the sizes of items and the length of the roll that they would fill, if that is whole and all is small enough.
fn sizes(problem: &Problem, items: &[usize]) -> Option<(Vec<Size>, Size)> {
    let bin = &problem.bins[0];
    let small = |extent: i64| u16::try_from(extent).ok().filter(|extent| *extent <= sums::MOST);
    let mut sizes = Vec::with_capacity(items.len());
    for item in items {
        let fit = problem.items[*item].fits[0].first()?;
        sizes.push(Size { length: small(fit.length)?, width: small(fit.width)? });
    }
    let width = small(bin.width)?;
    let area = sizes.iter().map(|size| size.area()).sum::<u64>();
    let length = small(i64::try_from(area / u64::from(width)).ok()?)?;
    let whole = Size { length, width };
    let is_whole = whole.area() == area && i64::from(length) <= bin.length;
    let fits = is_whole && sizes.iter().all(|size| whole.holds(*size));
    (fits && sizes.len() <= slab::MOST).then_some((sizes, whole))
}

/// Returns the sheet that the last block is.
fn sheet(problem: &Problem, items: &[usize], whole: Size, blocks: &[Block]) -> Sheet {
    let mut sheet = Sheet::new(problem, 0, whole.length.into());
    let mut open = vec![(0, blocks.len() - 1)];
    let mut places = Vec::new();
    while let Some((gap, block)) = open.pop() {
        match blocks[block].content {
            Content::Piece(piece) => {
                let here = sheet.gaps()[gap];
                places.push((here.x, here.y, items[piece]));
            }
            Content::Joined(axis, left, right) => {
                open.extend([(gap, left), (sheet.gaps().len(), right)]);
                sheet.cut(gap, axis, blocks[left].size.along(axis).into());
            }
        }
    }
    for (x, y, item) in places {
        let gap = sheet.gap_at(x, y);
        sheet.insert(gap, item, &problem.items[item].fits[0][0], Axis::Width);
    }
    sheet.tidy(false);
    sheet
}

/// Joins pieces to a whole of their area. Returns blocks of which the last is the whole, if that was found.
///
/// The pieces are in a canonical order, so that the answer does not depend on another. Attempts are made at once where
/// cores are idle, but the first in order that finds something counts, and work is counted as if one had followed the
/// other: the answer is the same on any number of cores.
fn join(
    pieces: &[Size],
    whole: Size,
    budget: &mut Budget<'_>,
    random: &mut Random,
) -> Option<Vec<Block>> {
    let (left, watch, seed) = (budget.left, budget.watch, random.next());
    let next = AtomicU64::new(0);
    // By attempts that are over.
    let spent = AtomicU64::new(0);
    // The lowest place that has found something.
    let first = AtomicU64::new(u64::MAX);
    let attempts = || {
        let mut ends = Vec::new();
        loop {
            let place = next.fetch_add(1, Ordering::Relaxed);
            let is_over = || first.load(Ordering::Relaxed) < place || watch.is_stopped();
            // What is over came before, so that an attempt never begun would not have been begun in order either.
            if spent.load(Ordering::Relaxed) >= left || is_over() {
                return ends;
            }
            let rounds = ROUNDS * luby(place + 1);
            let mut budget = Budget { left, watch, is_stopped: false };
            let mut random = Random::new(seed ^ Random::new(place).next());
            let found = attempt(pieces, whole, rounds, &mut budget, &mut random, &is_over);
            if found.is_some() {
                first.fetch_min(place, Ordering::Relaxed);
            }
            let work = left - budget.left;
            spent.fetch_add(work, Ordering::Relaxed);
            ends.push((place, work, found));
        }
    };
    let threads = 0..rayon::current_num_threads();
    let mut ends: Vec<_> = threads.into_par_iter().flat_map_iter(|_| attempts()).collect();
    ends.sort_unstable_by_key(|(place, ..)| *place);
    budget.is_stopped |= watch.is_stopped();
    for (_, work, found) in ends {
        if budget.left == 0 {
            break;
        }
        budget.spend(work);
        if found.is_some() {
            return found;
        }
    }
    None
}

/// Cuts slabs off the whole, of many pieces, and joins what is left.
fn attempt(
    pieces: &[Size],
    whole: Size,
    rounds: u64,
    budget: &mut Budget<'_>,
    random: &mut Random,
    is_over: &dyn Fn() -> bool,
) -> Option<Vec<Block>> {
    let content = (0..).map(Content::Piece);
    let blocks = pieces.iter().zip(content);
    let mut blocks: Vec<Block> =
        blocks.map(|(size, content)| Block { size: *size, content }).collect();
    let mut rest: Vec<usize> = (0..pieces.len()).collect();
    let mut core = whole;
    let mut slabs = Vec::new();
    let mut cutter = slab::Cutter::new();
    let least =
        if pieces.len() <= UNCUT { UNCUT } else { CORE.0 + random.index(CORE.1 - CORE.0 + 1) };
    while rest.len() > least && !is_over() {
        let Some((axis, slab)) = cutter.cut_off(&mut blocks, &mut rest, core, budget, random)
        else {
            break;
        };
        core = core.with(axis, core.along(axis) - blocks[slab].size.along(axis));
        slabs.push((axis, slab));
    }
    let mut joined = rejoined(&mut blocks, rest, core, rounds, budget, random, is_over)?;
    for (axis, slab) in slabs.into_iter().rev() {
        joined = joined_with(&mut blocks, axis, joined, slab);
    }
    Some(blocks)
}

/// Joins blocks to a whole: parts some again where no more can be joined, and tries otherwise.
fn rejoined(
    blocks: &mut Vec<Block>,
    start: Vec<usize>,
    whole: Size,
    rounds: u64,
    budget: &mut Budget<'_>,
    random: &mut Random,
    is_over: &dyn Fn() -> bool,
) -> Option<usize> {
    let mut roots = beam::join(blocks, start, whole, budget, random);
    let mut least = roots.len();
    let mut stale = 0;
    while roots.len() > 1 {
        if stale == rounds || budget.left == 0 || is_over() {
            return None;
        }
        let known = blocks.len();
        let parted = parted(blocks, &roots, random);
        let tried = beam::join(blocks, parted, whole, budget, random);
        // One more is taken now and then, two more seldom.
        let chance = match tried.len().saturating_sub(roots.len()) {
            0 => 1,
            1 => 10,
            _ => 100,
        };
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::Edges;
    use crate::nest::check::check;
    use crate::nest::{Ending, Instance, Kind, Nest, Options, Piece, Stock, nest};
    use crate::quantity::{Length, Ratio};
    use crate::watch::{Silent, Watch};

    /// Returns a roll charged by length and pieces that fill so much of it, cut out of it at random.
    fn cut_at_random(length: i64, width: i64, count: usize, seed: u64) -> Instance {
        let mut random = Random::new(seed);
        let mut sizes = vec![(length, width)];
        while sizes.len() < count {
            // The largest of three, so that the sizes do not differ too much.
            let place = (0..3).map(|_| random.index(sizes.len()));
            let place = place.max_by_key(|place| sizes[*place].0 * sizes[*place].1).unwrap();
            let (length, width) = sizes[place];
            let longer = length.max(width);
            if longer < 4 {
                continue;
            }
            let part = 2 + random.below((longer - 3).cast_unsigned()).cast_signed();
            let (low, high) = if length >= width {
                ((part, width), (length - part, width))
            } else {
                ((length, part), (length, width - part))
            };
            sizes[place] = low;
            sizes.push(high);
        }
        sizes.sort_unstable();
        let millimeters = |count: i64| Length::MILLIMETER * count;
        let pieces = sizes.chunk_by(|left, right| left == right).map(|alike| Piece {
            length: millimeters(alike[0].0),
            width: millimeters(alike[0].1),
            count: alike.len() as u64,
            may_turn: false,
            edges: Edges::None,
        });
        let roll = Stock {
            length: millimeters(10 * length),
            width: millimeters(width),
            cost: Ratio::whole(10 * i128::from(length)),
            available: None,
        };
        let mut instance = Instance::new(Kind::Roll, vec![roll], pieces.collect());
        instance.charges_length = true;
        instance
    }

    #[track_caller]
    fn checked(instance: &Instance, watch: &dyn Watch) -> Nest {
        let nest = nest(instance, Options { effort: 40, seed: 1 }, watch);
        assert_eq!(check(instance, &nest), Ok(()), "{instance:#?}\n{nest:#?}");
        nest
    }

    /// With stages limited, if to more than are needed, ruin and recreate works alone, and wastes.
    #[test]
    fn rolls_are_filled_without_waste() {
        for (seed, count) in [(3, 49), (8, 49), (3, 80), (6, 80)] {
            let mut instance = cut_at_random(60, 60, count, seed);
            let nest = checked(&instance, &Silent);
            assert_eq!((&nest.cost, nest.ending), (&Ratio::whole(60), Ending::Proven), "{seed}");
            instance.max_stages = Some(100);
            assert!(checked(&instance, &Silent).cost > nest.cost, "{seed}");
        }
    }

    #[test]
    fn the_last_of_rolls_bought_whole_is_filled_without_waste() {
        for kind in [Kind::Roll, Kind::FreeRoll] {
            let mut instance = cut_at_random(60, 60, 49, 3);
            (instance.kind, instance.charges_length) = (kind, false);
            let nest = checked(&instance, &Silent);
            let [roll] = &nest.layouts[..] else { panic!("one roll is enough: {nest:#?}") };
            assert_eq!((roll.repeat, roll.taken), (1, Length::MILLIMETER * 60));
            assert_eq!(nest.cost, Ratio::whole(600));
        }
    }

    #[test]
    fn answer_is_the_same_on_any_number_of_cores() {
        // One is filled, the other is not.
        for seed in [3, 9] {
            let instance = cut_at_random(60, 60, 80, seed);
            let on = |threads: usize| {
                let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
                pool.install(|| checked(&instance, &Silent))
            };
            assert_eq!(on(1), on(3), "{seed}");
        }
    }

    /// Is stopped from the first question on.
    struct Stopped;

    impl Watch for Stopped {
        fn progress(&self, _stage: &str, _done: usize, _total: usize) {}

        fn is_stopped(&self) -> bool {
            true
        }
    }

    #[test]
    fn search_ends_when_it_is_stopped() {
        let nest = checked(&cut_at_random(60, 60, 49, 1), &Stopped);
        assert_eq!(nest.ending, Ending::Stopped);
    }

    #[test]
    fn rolls_that_must_waste_are_not_promising() {
        let is_promising = |instance: &Instance| {
            let problem = Problem::new(instance);
            super::is_promising(&problem, &Weights::new(&problem), 0.1)
        };
        let mut instance = cut_at_random(60, 60, 49, 1);
        assert!(is_promising(&instance));
        instance.pieces[0].may_turn = true;
        assert!(!is_promising(&instance));
        instance.pieces[0].may_turn = false;
        instance.pieces[0].count += 1;
        assert!(!is_promising(&instance));
    }
}
