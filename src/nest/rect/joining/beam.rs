//! A beam of states, from join to join.

use crate::nest::random::Random;
use crate::nest::rect::improve::Budget;
use crate::nest::rect::joining::{Block, Size, joined_with, sums};
use crate::nest::rect::tree::Axis;

/// States kept at a level: so many for the square of their blocks, within limits.
const WIDTH: usize = 20_000;
const NARROWEST: usize = 8;
const WIDEST: usize = 60;

/// Joins looked at for each state kept: some lead to like states, to too many of one, or nowhere.
const SPARE: usize = 3;

/// Most states kept that come from one.
const CHILDREN: u8 = 2;

/// Most blocks of a state whose sides are looked at whether they can be completed, and whether they find a partner.
const COMPLETED: usize = sums::COUNT;
const PARTNERED: usize = 10;

/// What counts as one in a value.
const ONE: i32 = 1024;

/// Multiplier of hashes: any odd number with bits all over.
const SPREAD: u64 = 0x9e37_79b9_7f4a_7c15;

/// A state reached by a join.
#[derive(Clone, Copy)]
struct Step {
    /// How far the sides are from coinciding: the lower, the better.
    value: i32,
    /// Value with noise.
    blurred: i32,
    /// The blocks of the state as a sum, whatever their order.
    hash: u64,
    /// State that it comes from.
    parent: u32,
    /// What is joined.
    left: Size,
    right: Size,
    axis: Axis,
}

impl Step {
    fn joined(&self) -> Size {
        self.left.with(self.axis, self.left.along(self.axis) + self.right.along(self.axis))
    }

    /// Orders steps from the best on, no two alike.
    fn key(&self) -> (i32, u64, u32, Size, Size) {
        (self.blurred, self.hash, self.parent, self.left, self.right)
    }
}

/// States of one level, whose blocks lie one after the other.
struct Level {
    /// Blocks of each.
    count: usize,
    /// In canonical order: the shortest first, of these the narrowest.
    by_length: Vec<Size>,
    /// The narrowest first, of these the shortest.
    by_width: Vec<Size>,
}

/// Joins blocks, in place of those of `start`, until no more can be joined in any state. Returns the blocks of one with fewest.
pub(super) fn join(
    blocks: &mut Vec<Block>,
    mut start: Vec<usize>,
    whole: Size,
    budget: &mut Budget<'_>,
    random: &mut Random,
) -> Vec<usize> {
    start.sort_by_key(|block| blocks[*block].size);
    let mut joins = Joins::new(start.len(), whole, random.next());
    let mut level = Level::new(start.iter().map(|block| blocks[*block].size).collect());
    let hash = level.by_length.iter().fold(0_u64, |sum, size| sum.wrapping_add(mixed(*size)));
    let none = Size { length: 0, width: 0 };
    let first =
        Step { value: 0, blurred: 0, hash, parent: 0, left: none, right: none, axis: Axis::Length };
    let mut steps = vec![vec![first]];
    while level.count > 1 {
        let last = steps.last().expect("it begins with one");
        let width = (WIDTH / (level.count * level.count)).clamp(NARROWEST, WIDEST);
        joins.begin(SPARE * width);
        for (parent, step) in (0_u32..).zip(last) {
            joins.find(&level, step, parent);
        }
        budget.spend((joins.looked + last.len() * level.count) as u64);
        let (next, kept) = best(&level, last.len(), joins.finish(), width, whole, budget);
        if kept.is_empty() {
            break;
        }
        level = next;
        steps.push(kept);
    }
    let mut at = random.index(steps.last().expect("it begins with one").len());
    let mut path = Vec::with_capacity(steps.len());
    for level in steps[1..].iter().rev() {
        path.push(level[at]);
        at = level[at].parent as usize;
    }
    let mut roots = start;
    for step in path.into_iter().rev() {
        let mut taken = |size: Size| {
            let at = roots.partition_point(|root| blocks[*root].size < size);
            roots.remove(at)
        };
        let (left, right) = (taken(step.left), taken(step.right));
        let joined = joined_with(blocks, step.axis, left, right);
        let size = blocks[joined].size;
        let at = roots.partition_point(|root| blocks[*root].size < size);
        roots.insert(at, joined);
    }
    roots
}

impl Level {
    /// Returns one state, of blocks in canonical order.
    fn new(by_length: Vec<Size>) -> Level {
        let mut by_width = by_length.clone();
        by_width.sort_unstable_by_key(|size| (size.width, size.length));
        Level { count: by_length.len(), by_length, by_width }
    }

    /// Returns the blocks of a state, those with like sides across an axis beside each other.
    fn alike(&self, index: usize, axis: Axis) -> &[Size] {
        let sizes = match axis {
            Axis::Length => &self.by_width,
            Axis::Width => &self.by_length,
        };
        &sizes[index * self.count..(index + 1) * self.count]
    }
}

/// What extents along one axis are worth in a state.
struct Worth {
    /// The whole extent.
    full: u16,
    /// Of each extent: the longer, the harder to complete, but whole ones are done.
    hard: Vec<i32>,
    /// Of so many blocks with the same extent: each more adds less.
    together: Vec<i32>,
    /// How many blocks of the state have each extent.
    counts: Vec<u16>,
    /// By how much the value changes when a block of each extent is taken or added.
    taken: Vec<i32>,
    added: Vec<i32>,
}

impl Worth {
    fn new(count: usize, full: u16) -> Worth {
        let mut together = vec![0, ONE];
        let mut sum = ONE;
        for (_, count) in (2..=count + 1).zip(2_i32..) {
            sum += ONE * 5 / 2 / (5 * count + 1);
            together.push(sum);
        }
        let hard: Vec<i32> = (0..full)
            .map(i32::from)
            .map(|extent| ONE / 2 * extent * extent / (i32::from(full) * i32::from(full)))
            .chain([0])
            .collect();
        let none = vec![0; hard.len()];
        let counts = vec![0; hard.len()];
        let mut worth = Worth { full, hard, together, counts, taken: none.clone(), added: none };
        for extent in 0..=full {
            worth.set(extent, 0);
        }
        worth
    }

    /// Sets how many blocks have an extent.
    fn set(&mut self, extent: u16, count: u16) {
        let at = usize::from(extent);
        self.counts[at] = count;
        if extent < self.full {
            let of = |count: u16| self.together[usize::from(count)];
            self.added[at] = of(count + 1) - of(count) + self.hard[at];
            if count > 0 {
                self.taken[at] = of(count - 1) - of(count) - self.hard[at];
            }
        }
    }

    /// Returns the change of value when two blocks of an extent are taken.
    fn both_taken(&self, extent: u16) -> i32 {
        let count = usize::from(self.counts[usize::from(extent)]);
        if extent == self.full {
            return 0;
        }
        let hard = self.hard[usize::from(extent)];
        self.together[count - 2] - self.together[count] - 2 * hard
    }

    /// Counts the blocks of a state, which lie in order of these extents.
    fn count(&mut self, state: &[Size], axis: Axis) {
        for alike in state.chunk_by(|left, right| left.along(axis) == right.along(axis)) {
            let count = u16::try_from(alike.len()).expect("few pieces");
            self.set(alike[0].along(axis), count);
        }
    }

    /// Forgets the blocks of a state.
    fn clear(&mut self, state: &[Size], axis: Axis) {
        for size in state {
            if self.counts[usize::from(size.along(axis))] > 0 {
                self.set(size.along(axis), 0);
            }
        }
    }
}

/// Finds the joins of states.
struct Joins {
    lengths: Worth,
    widths: Worth,
    /// What noise is made from.
    salt: u64,
    /// The best ones, not quite as few as wanted.
    found: Vec<Step>,
    wanted: usize,
    /// None worse are wanted.
    limit: i32,
    /// How many were looked at.
    looked: usize,
}

impl Joins {
    fn new(count: usize, whole: Size, salt: u64) -> Joins {
        Joins {
            lengths: Worth::new(count, whole.length),
            widths: Worth::new(count, whole.width),
            salt,
            found: Vec::new(),
            wanted: 0,
            limit: i32::MAX,
            looked: 0,
        }
    }

    /// Forgets what was found; so many of the next are wanted.
    fn begin(&mut self, wanted: usize) {
        self.found.clear();
        self.wanted = wanted;
        self.limit = i32::MAX;
        self.looked = 0;
    }

    /// Returns as many joins as wanted, the best first.
    fn finish(&mut self) -> &[Step] {
        self.thin();
        self.found.sort_unstable_by_key(Step::key);
        &self.found
    }

    fn thin(&mut self) {
        if self.found.len() > self.wanted {
            let (_, first_left, _) = self.found.select_nth_unstable_by_key(self.wanted, Step::key);
            self.limit = first_left.blurred;
            self.found.truncate(self.wanted);
        }
    }

    /// Adds the joins of a state to those found, but of like blocks once.
    fn find(&mut self, level: &Level, step: &Step, parent: u32) {
        let (by_length, by_width) =
            (level.alike(parent as usize, Axis::Width), level.alike(parent as usize, Axis::Length));
        self.lengths.count(by_length, Axis::Length);
        self.widths.count(by_width, Axis::Width);
        for (axis, state) in [(Axis::Length, by_width), (Axis::Width, by_length)] {
            for group in state.chunk_by(|left, right| left.across(axis) == right.across(axis)) {
                if group.len() > 1 {
                    self.find_alike(group, axis, step, parent);
                }
            }
        }
        self.lengths.clear(by_length, Axis::Length);
        self.widths.clear(by_width, Axis::Width);
    }

    /// Adds the joins along an axis of blocks with the same side across it, the shortest of them first.
    fn find_alike(&mut self, group: &[Size], axis: Axis, step: &Step, parent: u32) {
        if self.found.len() >= 4 * self.wanted {
            self.thin();
        }
        let (along, across) = match axis {
            Axis::Length => (&self.lengths, &self.widths),
            Axis::Width => (&self.widths, &self.lengths),
        };
        let shared = usize::from(group[0].across(axis));
        let base = step.value + across.taken[shared];
        for (index, left) in group.iter().enumerate() {
            if index > 0 && group[index - 1] == *left {
                continue;
            }
            let first = left.along(axis);
            let of_first = base + along.taken[usize::from(first)];
            let hash = step.hash.wrapping_sub(mixed(*left));
            let mut last = None;
            for right in &group[index + 1..] {
                let second = right.along(axis);
                if first + second > along.full {
                    break;
                }
                if last == Some(second) {
                    continue;
                }
                last = Some(second);
                self.looked += 1;
                let both = if first == second {
                    base + along.both_taken(first)
                } else {
                    of_first + along.taken[usize::from(second)]
                };
                let value = both + along.added[usize::from(first + second)];
                if value > self.limit {
                    continue;
                }
                let hash = hash.wrapping_sub(mixed(*right));
                let hash = hash.wrapping_add(mixed(left.with(axis, first + second)));
                let noise = ((hash ^ self.salt).wrapping_mul(SPREAD) >> 54) as i32;
                let blurred = value + noise;
                if blurred <= self.limit {
                    let (left, right) = (*left, *right);
                    self.found.push(Step { value, blurred, hash, parent, left, right, axis });
                }
            }
        }
    }
}

/// Returns the best of the states found, with how they were reached.
fn best(
    level: &Level,
    parents: usize,
    found: &[Step],
    width: usize,
    whole: Size,
    budget: &mut Budget<'_>,
) -> (Level, Vec<Step>) {
    let count = level.count - 1;
    let sizes = || Vec::with_capacity((width + 1) * count);
    let mut next = Level { count, by_length: sizes(), by_width: sizes() };
    let mut kept: Vec<Step> = Vec::with_capacity(width);
    let mut children = vec![0; parents];
    let mut last = None;
    for step in found {
        if kept.len() == width {
            break;
        }
        // Equal states have equal values, so they follow each other.
        let parent = step.parent as usize;
        if last == Some(step.hash) || children[parent] == CHILDREN {
            continue;
        }
        last = Some(step.hash);
        children[parent] += 1;
        let joined = step.joined();
        let by_length = |size: Size| size;
        push_joined(&mut next.by_length, level.alike(parent, Axis::Width), step, joined, by_length);
        let by_width = |size: Size| Size { length: size.width, width: size.length };
        push_joined(&mut next.by_width, level.alike(parent, Axis::Length), step, joined, by_width);
        budget.spend(2 * count as u64);
        let state = kept.len();
        let mut is_alive = true;
        if count <= COMPLETED {
            budget.spend(5 * count as u64);
            let lengths = next.alike(state, Axis::Width).iter().map(|size| size.length);
            let widths = next.alike(state, Axis::Length).iter().map(|size| size.width);
            is_alive = sums::are_completed(lengths, whole.length)
                && sums::are_completed(widths, whole.width)
                && (count > PARTNERED || finds_partners(next.alike(state, Axis::Width), whole));
        }
        if is_alive {
            kept.push(*step);
        } else {
            next.by_length.truncate(state * count);
            next.by_width.truncate(state * count);
        }
    }
    (next, kept)
}

/// Adds the blocks of a state after a join, which lie in the order of a key.
fn push_joined(
    sizes: &mut Vec<Size>,
    state: &[Size],
    step: &Step,
    joined: Size,
    key: impl Fn(Size) -> Size,
) {
    let (mut left, mut right) = (Some(step.left), Some(step.right));
    let mut is_placed = false;
    for size in state {
        if left == Some(*size) {
            left = None;
        } else if right == Some(*size) {
            right = None;
        } else {
            if !is_placed && key(joined) <= key(*size) {
                sizes.push(joined);
                is_placed = true;
            }
            sizes.push(*size);
        }
    }
    if !is_placed {
        sizes.push(joined);
    }
}

/// Tells whether each block may find a partner at a whole side: others that fit beside it, one next to the other as long
/// as the side.
fn finds_partners(state: &[Size], whole: Size) -> bool {
    state.iter().enumerate().all(|(index, block)| {
        [Axis::Length, Axis::Width].into_iter().any(|axis| {
            let side = block.across(axis);
            let room = whole.along(axis) - block.along(axis);
            let others = state.iter().enumerate().filter(|(other, size)| {
                *other != index && size.along(axis) <= room && size.across(axis) <= side
            });
            room == 0 || sums::can_be(others.map(|(_, size)| size.across(axis)), side)
        })
    })
}

/// Returns a number for a size; sums of them stand for states.
fn mixed(size: Size) -> u64 {
    let number = (u64::from(size.length) << 32 | u64::from(size.width)).wrapping_mul(SPREAD);
    (number ^ (number >> 29)).wrapping_mul(0xbf58_476d_1ce4_e5b9)
}
