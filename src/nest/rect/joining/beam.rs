//! A beam of states, from join to join.

use crate::nest::random::Random;
use crate::nest::rect::improve::Budget;
use crate::nest::rect::joining::{Block, MOST_EXTENT, Size, joined_with};
use crate::nest::rect::tree::Axis;

/// States kept at a level: so many for the square of their blocks, within limits.
const WIDTH: usize = 20_000;
const NARROWEST: usize = 8;
const WIDEST: usize = 60;

/// Most states kept that come from one.
const CHILDREN: u8 = 2;

/// Most blocks of a state whose sides are looked at whether they can be completed, and whether they find a partner.
const COMPLETED: usize = 30;
const PARTNERED: usize = 10;

/// What counts as one in a value.
const ONE: i64 = 1024;

/// A state reached by a join.
#[derive(Clone, Copy)]
struct Step {
    /// How far the sides are from coinciding: the lower, the better.
    value: i64,
    /// Value with noise.
    blurred: i64,
    /// The blocks of the state as a sum, whatever their order.
    hash: u64,
    /// State that it comes from.
    parent: u32,
    /// Positions in that.
    left: u16,
    right: u16,
    axis: Axis,
}

/// What sides are worth.
struct Worth {
    /// Of so many blocks with the same side: each more adds less.
    together: Vec<i64>,
    /// Of each extent along the length and the width: the longer, the harder to complete, but whole ones are done.
    lengths: Vec<i64>,
    widths: Vec<i64>,
}

/// States of one level, whose blocks lie one after the other in canonical order.
struct Level {
    sizes: Vec<Size>,
    /// Blocks of each.
    count: usize,
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
    let sizes: Vec<Size> = start.iter().map(|block| blocks[*block].size).collect();
    let hash = sizes.iter().fold(0_u64, |sum, size| sum.wrapping_add(mixed(*size)));
    let first =
        Step { value: 0, blurred: 0, hash, parent: 0, left: 0, right: 0, axis: Axis::Length };
    let mut steps = vec![vec![first]];
    let mut level = Level { count: sizes.len(), sizes };
    let mut found = Vec::new();
    while level.count > 1 {
        let last = steps.last().expect("it begins with one");
        found.clear();
        for (parent, step) in (0_u32..).zip(last) {
            let state = level.state(parent as usize);
            joins.find(state, step, parent, &mut found);
        }
        let width = (WIDTH / (level.count * level.count)).clamp(NARROWEST, WIDEST);
        budget.spend((found.len() + last.len() * level.count) as u64);
        let (next, kept) = best(&level, last.len(), &mut found, width, whole, budget);
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
        let (left, right) = (usize::from(step.left), usize::from(step.right));
        let joined = joined_with(blocks, step.axis, roots[left], roots[right]);
        roots.remove(left.max(right));
        roots.remove(left.min(right));
        let size = blocks[joined].size;
        let at = roots.partition_point(|root| blocks[*root].size < size);
        roots.insert(at, joined);
    }
    roots
}

impl Level {
    fn state(&self, index: usize) -> &[Size] {
        &self.sizes[index * self.count..(index + 1) * self.count]
    }
}

impl Worth {
    fn new(count: usize, whole: Size) -> Worth {
        let mut together = vec![0, ONE];
        let mut sum = ONE;
        for (_, count) in (2..=count + 1).zip(2_i64..) {
            sum += ONE * 5 / 2 / (5 * count + 1);
            together.push(sum);
        }
        let hard = |full: u32| {
            let full = i64::from(full);
            let hard = |extent: i64| {
                if extent == full { 0 } else { ONE / 2 * extent * extent / (full * full) }
            };
            (0..=full).map(hard).collect()
        };
        Worth { together, lengths: hard(whole.length), widths: hard(whole.width) }
    }

    /// Returns the worth of extents along an axis.
    fn along(&self, axis: Axis) -> &[i64] {
        match axis {
            Axis::Length => &self.lengths,
            Axis::Width => &self.widths,
        }
    }
}

/// Finds the joins of a state.
struct Joins {
    whole: Size,
    worth: Worth,
    /// What noise is made from.
    salt: u64,
    /// How many blocks of the state have each extent.
    lengths: Vec<u16>,
    widths: Vec<u16>,
    /// Positions of its blocks.
    order: Vec<u16>,
}

impl Joins {
    fn new(count: usize, whole: Size, salt: u64) -> Joins {
        let zeros = |extent: u32| vec![0; extent as usize + 1];
        Joins {
            whole,
            worth: Worth::new(count, whole),
            salt,
            lengths: zeros(whole.length),
            widths: zeros(whole.width),
            order: Vec::new(),
        }
    }

    /// Adds the joins of a state to those found, but of like blocks once.
    fn find(&mut self, state: &[Size], step: &Step, parent: u32, found: &mut Vec<Step>) {
        for size in state {
            self.lengths[size.length as usize] += 1;
            self.widths[size.width as usize] += 1;
        }
        let mut order = std::mem::take(&mut self.order);
        for axis in [Axis::Length, Axis::Width] {
            order.clear();
            order.extend((0..).zip(state).map(|(index, _): (u16, _)| index));
            let size = |index: &u16| state[usize::from(*index)];
            if axis == Axis::Length {
                order.sort_unstable_by_key(|index| (size(index).width, *index));
            }
            for group in
                order.chunk_by(|left, right| size(left).across(axis) == size(right).across(axis))
            {
                self.find_alike(state, group, axis, step, parent, found);
            }
        }
        self.order = order;
        for size in state {
            self.lengths[size.length as usize] = 0;
            self.widths[size.width as usize] = 0;
        }
    }

    /// Adds the joins along an axis of blocks with the same side across it.
    fn find_alike(
        &self,
        state: &[Size],
        group: &[u16],
        axis: Axis,
        step: &Step,
        parent: u32,
        found: &mut Vec<Step>,
    ) {
        let size = |place: usize| state[usize::from(group[place])];
        for left in 0..group.len() {
            let first = size(left);
            if left > 0 && size(left - 1) == first {
                continue;
            }
            for right in left + 1..group.len() {
                let second = size(right);
                let is_seen = right > left + 1 && size(right - 1) == second;
                let extent = first.along(axis) + second.along(axis);
                if is_seen || extent > self.whole.along(axis) {
                    continue;
                }
                let value = step.value + self.change(first, second, axis);
                let hash = step.hash.wrapping_sub(mixed(first)).wrapping_sub(mixed(second));
                let hash = hash.wrapping_add(mixed(first.with(axis, extent)));
                let noise = (Random::new(hash ^ self.salt).next() >> 54).cast_signed();
                let (left, right) = (group[left], group[right]);
                let blurred = value + noise;
                found.push(Step { value, blurred, hash, parent, left, right, axis });
            }
        }
    }

    /// Returns by how much a join changes the value of a state.
    fn change(&self, left: Size, right: Size, axis: Axis) -> i64 {
        let (whole, worth) = (self.whole, &self.worth);
        let (along, across, other) = match axis {
            Axis::Length => (&self.lengths, &self.widths, Axis::Width),
            Axis::Width => (&self.widths, &self.lengths, Axis::Length),
        };
        let (full_along, full_across) = (whole.along(axis), whole.along(other));
        let shared = left.across(axis);
        let (first, second) = (left.along(axis), right.along(axis));
        let joined = first + second;
        let together = |full: u32, extent: u32, count: u16| {
            if extent == full { 0 } else { worth.together[usize::from(count)] }
        };
        let step = |counts: &[u16], full: u32, extent: u32, taken: u16| {
            let count = counts[extent as usize];
            together(full, extent, count - taken) - together(full, extent, count)
        };
        let mut change = step(across, full_across, shared, 1);
        if first == second {
            change += step(along, full_along, first, 2);
        } else {
            change += step(along, full_along, first, 1) + step(along, full_along, second, 1);
        }
        let count = along[joined as usize];
        change += together(full_along, joined, count + 1) - together(full_along, joined, count);
        let hard = worth.along(axis);
        change += hard[joined as usize] - hard[first as usize] - hard[second as usize];
        change - worth.along(other)[shared as usize]
    }
}

/// Returns the best of the states found, with how they were reached.
fn best(
    level: &Level,
    parents: usize,
    found: &mut Vec<Step>,
    width: usize,
    whole: Size,
    budget: &mut Budget<'_>,
) -> (Level, Vec<Step>) {
    let key = |step: &Step| (step.blurred, step.hash, step.parent, step.left, step.right);
    if found.len() > 3 * width {
        found.select_nth_unstable_by_key(3 * width, key);
        found.truncate(3 * width);
    }
    found.sort_unstable_by_key(key);
    let count = level.count - 1;
    let mut next = Level { sizes: Vec::with_capacity(width * count), count };
    let mut kept: Vec<Step> = Vec::with_capacity(width);
    let mut children = vec![0; parents];
    let mut last = None;
    for step in found.iter() {
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
        let begin = next.sizes.len();
        push_joined(&mut next.sizes, level.state(parent), step);
        let state = &next.sizes[begin..];
        budget.spend(count as u64);
        let mut is_alive = true;
        if count <= COMPLETED {
            budget.spend(10 * count as u64);
            is_alive = is_completed(state, whole, Axis::Length)
                && is_completed(state, whole, Axis::Width)
                && (count > PARTNERED || finds_partners(state, whole));
        }
        if is_alive {
            kept.push(*step);
        } else {
            next.sizes.truncate(begin);
        }
    }
    (next, kept)
}

/// Adds the blocks of a state after a join.
fn push_joined(sizes: &mut Vec<Size>, state: &[Size], step: &Step) {
    let (left, right) = (usize::from(step.left), usize::from(step.right));
    let extent = state[left].along(step.axis) + state[right].along(step.axis);
    let joined = state[left].with(step.axis, extent);
    let begin = sizes.len();
    for (index, size) in state.iter().enumerate() {
        if index != left && index != right {
            sizes.push(*size);
        }
    }
    let at = begin + sizes[begin..].partition_point(|size| *size < joined);
    sizes.insert(at, joined);
}

/// Sums up to 64 times so many, one bit each.
const WORDS: usize = MOST_EXTENT as usize / 64 + 1;

#[derive(Clone, Copy)]
struct Sums([u64; WORDS]);

impl Sums {
    const ZERO: Sums = {
        let mut words = [0; WORDS];
        words[0] = 1;
        Sums(words)
    };

    /// Adds the sums with one number more, in as many words as count.
    fn add(&mut self, number: u32, counted: usize) {
        let (words, bits) = ((number / 64) as usize, number % 64);
        for index in (words..counted).rev() {
            let mut moved = self.0[index - words] << bits;
            if bits > 0 && index > words {
                moved |= self.0[index - words - 1] >> (64 - bits);
            }
            self.0[index] |= moved;
        }
    }

    fn has(&self, number: u32) -> bool {
        (self.0[(number / 64) as usize] >> (number % 64)) & 1 == 1
    }
}

/// Tells whether each extent along an axis is part of a sum that is the whole: a line through a block meets others that
/// fill it.
fn is_completed(state: &[Size], whole: Size, axis: Axis) -> bool {
    let full = whole.along(axis);
    let mut extents: Vec<u32> =
        state.iter().map(|size| size.along(axis)).filter(|extent| *extent < full).collect();
    extents.sort_unstable();
    let words = full as usize / 64 + 1;
    let mut after = [Sums::ZERO; COMPLETED + 1];
    for index in (0..extents.len()).rev() {
        after[index] = after[index + 1];
        after[index].add(extents[index], words);
    }
    let mut before = Sums::ZERO;
    for (index, extent) in extents.iter().enumerate() {
        let is_seen = index > 0 && extents[index - 1] == *extent;
        let needed = full - extent;
        let rest = &after[index + 1];
        if !is_seen && !(0..=needed).any(|part| before.has(part) && rest.has(needed - part)) {
            return false;
        }
        before.add(*extent, words);
    }
    true
}

/// Tells whether each block may find a partner at a whole side: others that fit beside it, one next to the other as long
/// as the side.
fn finds_partners(state: &[Size], whole: Size) -> bool {
    state.iter().enumerate().all(|(index, block)| {
        [Axis::Length, Axis::Width].into_iter().any(|axis| {
            let side = block.across(axis);
            let room = whole.along(axis) - block.along(axis);
            if room == 0 {
                return true;
            }
            let words = side as usize / 64 + 1;
            let mut sums = Sums::ZERO;
            for (other, size) in state.iter().enumerate() {
                if other != index && size.along(axis) <= room && size.across(axis) <= side {
                    sums.add(size.across(axis), words);
                }
            }
            sums.has(side)
        })
    })
}

/// Returns a number for a size; sums of them stand for states.
fn mixed(size: Size) -> u64 {
    Random::new((u64::from(size.length) << 32) | u64::from(size.width)).next()
}
