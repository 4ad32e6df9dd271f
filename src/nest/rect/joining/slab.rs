//! Slabs from side to side, cut off a rectangle without waste: columns of up to four large pieces beside each other.

use std::ops::Range;

use crate::nest::random::Random;
use crate::nest::rect::improve::Budget;
use crate::nest::rect::joining::{Block, Size, joined_with};
use crate::nest::rect::tree::Axis;

/// Most pieces that slabs are looked for among.
pub(super) const MOST: usize = 64 * WORDS;
const WORDS: usize = 4;

/// Most columns of each number of pieces.
const COLUMNS: usize = 3_000;

/// Columns are made anew once no more than so many eighths of them can be had.
const REUSED: usize = 4;

/// Pieces by their positions, one bit each.
type Set = [u64; WORDS];

/// A rectangle of few pieces.
#[derive(Clone, Copy)]
struct Column {
    size: Size,
    /// The columns that it is joined of.
    parts: Option<(Axis, u16, u16)>,
    pieces: Set,
    /// Low where the pieces are large, for their area and at random.
    cost: u64,
    /// Cost for the area.
    worth: u64,
}

/// Cuts slabs off a whole, one after the other.
pub(super) struct Cutter {
    /// The blocks that columns are made of.
    blocks: Vec<usize>,
    columns: Vec<Column>,
    /// How many of them there were to choose from, when they were made.
    made: usize,
    /// Pieces in slabs.
    used: Set,
    /// Columns to choose from, the shallowest first, of these the cheapest: of depths along the length, along the width.
    orders: [(Axis, Vec<u16>); 2],
}

impl Cutter {
    pub(super) fn new() -> Cutter {
        let orders = [(Axis::Length, Vec::new()), (Axis::Width, Vec::new())];
        Cutter { blocks: Vec::new(), columns: Vec::new(), made: 0, used: [0; WORDS], orders }
    }

    /// Cuts a slab off a whole, out of blocks of `rest`, and takes these out of it. Returns along which axis it is cut off,
    /// and its block.
    pub(super) fn cut_off(
        &mut self,
        blocks: &mut Vec<Block>,
        rest: &mut Vec<usize>,
        whole: Size,
        budget: &mut Budget<'_>,
        random: &mut Random,
    ) -> Option<(Axis, usize)> {
        let mut found = None;
        // The best of few columns is seldom good.
        if self.orders[0].1.len() > self.made * REUSED / 8 {
            found = self.cheapest(blocks, whole, budget, random);
        }
        if found.is_none() {
            self.make(blocks, rest, whole, budget, random);
            found = self.cheapest(blocks, whole, budget, random);
        }
        let (axis, row) = found?;
        let other = match axis {
            Axis::Length => Axis::Width,
            Axis::Width => Axis::Length,
        };
        self.used = self.with_row(&row);
        let mut slab = None;
        for column in row {
            let block = self.block(blocks, column);
            slab = Some(match slab {
                None => block,
                Some(slab) => joined_with(blocks, other, slab, block),
            });
        }
        let of_blocks = self.blocks.iter().enumerate();
        *rest =
            of_blocks.filter(|(at, _)| !has(&self.used, *at)).map(|(_, block)| *block).collect();
        let left = whole.with(axis, whole.along(axis) - blocks[slab?].size.along(axis));
        for (_, order) in &mut self.orders {
            order.retain(|column| {
                let column = &self.columns[usize::from(*column)];
                left.holds(column.size) && is_apart(&column.pieces, &self.used)
            });
        }
        Some((axis, slab?))
    }

    /// Returns the cheapest row found, and the axis that it is cut off along.
    fn cheapest(
        &self,
        blocks: &[Block],
        whole: Size,
        budget: &mut Budget<'_>,
        random: &mut Random,
    ) -> Option<(Axis, Vec<u16>)> {
        let mut best: Option<(u64, Axis, Vec<u16>)> = None;
        for (axis, order) in &self.orders {
            let axis = *axis;
            let depth = |column: &u16| self.columns[usize::from(*column)].size.along(axis);
            for alike in order.chunk_by(|left, right| depth(left) == depth(right)) {
                let depth = depth(&alike[0]);
                if depth >= whole.along(axis) {
                    break;
                }
                budget.spend((alike.len() * usize::from(whole.across(axis)) / 8) as u64);
                let Some((cost, row)) = row(&self.columns, alike, axis, whole) else { continue };
                // For its area, and sometimes another than the best.
                let area = u64::from(depth) * u64::from(whole.across(axis));
                let cost = cost * 1024 / area * (768 + random.below(512)) / 1024;
                let used = self.with_row(&row);
                let left = whole.along(axis) - depth;
                let fits = self.blocks.iter().enumerate().all(|(index, block)| {
                    has(&used, index) || blocks[*block].size.along(axis) <= left
                });
                if fits && best.as_ref().is_none_or(|(least, ..)| cost < *least) {
                    best = Some((cost, axis, row));
                }
            }
        }
        best.map(|(_, axis, row)| (axis, row))
    }

    /// Makes columns of what is left.
    fn make(
        &mut self,
        blocks: &[Block],
        rest: &[usize],
        whole: Size,
        budget: &mut Budget<'_>,
        random: &mut Random,
    ) {
        self.blocks = rest.to_vec();
        self.used = [0; WORDS];
        let sizes: Vec<Size> = rest.iter().map(|block| blocks[*block].size).collect();
        self.columns = columns(&sizes, whole, budget, random);
        self.made = self.columns.len();
        for (axis, order) in &mut self.orders {
            order.clear();
            order.extend((0..).zip(&self.columns).map(|(index, _): (u16, _)| index));
            order.sort_unstable_by_key(|index| {
                let column = &self.columns[usize::from(*index)];
                (column.size.along(*axis), column.cost, *index)
            });
        }
    }

    /// Returns the pieces in slabs, were a row one more.
    fn with_row(&self, row: &[u16]) -> Set {
        row.iter()
            .fold(self.used, |set, column| joined(set, self.columns[usize::from(*column)].pieces))
    }

    /// Adds the blocks of a column.
    fn block(&self, blocks: &mut Vec<Block>, column: u16) -> usize {
        let Some((axis, left, right)) = self.columns[usize::from(column)].parts else {
            return self.blocks[usize::from(column)];
        };
        let left = self.block(blocks, left);
        let right = self.block(blocks, right);
        joined_with(blocks, axis, left, right)
    }
}

/// Returns rectangles of up to four pieces, those of large pieces first.
fn columns(
    sizes: &[Size],
    whole: Size,
    budget: &mut Budget<'_>,
    random: &mut Random,
) -> Vec<Column> {
    let mean = sizes.iter().map(|size| size.area()).sum::<u64>() / sizes.len() as u64;
    let mut columns: Vec<Column> = Vec::new();
    for (index, size) in sizes.iter().enumerate() {
        let mut pieces = [0; WORDS];
        pieces[index / 64] |= 1 << (index % 64);
        // A piece of the mean area costs some 1024 times 1024.
        let ratio = (mean * 1024 * 1024 / size.area()).isqrt();
        let cost = ratio * (512 + random.below(1024));
        let worth = cost * 1024 / size.area();
        columns.push(Column { size: *size, parts: None, pieces, cost, worth });
    }
    let singles = columns.len();
    let mut begins = vec![0, singles];
    for count in 2..=4 {
        let mut found = Cheapest { columns: Vec::new(), limit: u64::MAX, looked: 0 };
        let firsts = begins[count - 2]..begins[count - 1];
        found.join_all(&columns, firsts, 0..singles, whole);
        if count == 4 {
            found.join_all(&columns, begins[1]..begins[2], begins[1]..begins[2], whole);
        }
        budget.spend(found.looked);
        found.thin();
        columns.append(&mut found.columns);
        begins.push(columns.len());
    }
    columns
}

/// The cheapest columns found.
struct Cheapest {
    columns: Vec<Column>,
    /// None worth more is wanted.
    limit: u64,
    /// How many were looked at.
    looked: u64,
}

impl Cheapest {
    fn join_all(
        &mut self,
        columns: &[Column],
        firsts: Range<usize>,
        seconds: Range<usize>,
        whole: Size,
    ) {
        let is_same = firsts == seconds;
        for axis in [Axis::Length, Axis::Width] {
            let mut order: Vec<usize> = seconds.clone().collect();
            order.sort_by_key(|column| (columns[*column].size.across(axis), *column));
            for first in firsts.clone() {
                let left = &columns[first];
                let side = left.size.across(axis);
                let begin =
                    order.partition_point(|column| columns[*column].size.across(axis) < side);
                for second in &order[begin..] {
                    let right = &columns[*second];
                    if right.size.across(axis) != side {
                        break;
                    }
                    self.looked += 1;
                    let extent = left.size.along(axis) + right.size.along(axis);
                    let is_twice = is_same && *second <= first;
                    if is_twice || extent > whole.along(axis) {
                        continue;
                    }
                    let size = left.size.with(axis, extent);
                    let cost = left.cost + right.cost;
                    // Below the limit without a division, which is slow.
                    if cost * 1024 >= self.limit.saturating_add(1).saturating_mul(size.area())
                        || !is_apart(&left.pieces, &right.pieces)
                    {
                        continue;
                    }
                    let small = |index: usize| u16::try_from(index).expect("few columns");
                    self.columns.push(Column {
                        size,
                        parts: Some((axis, small(first), small(*second))),
                        pieces: joined(left.pieces, right.pieces),
                        cost,
                        worth: cost * 1024 / size.area(),
                    });
                }
                if self.columns.len() > 4 * COLUMNS {
                    self.thin();
                }
            }
        }
    }

    fn thin(&mut self) {
        if self.columns.len() > COLUMNS {
            let key = |column: &Column| {
                (column.worth, column.parts.map(|(_, left, right)| (left, right)))
            };
            let (_, first_left, _) = self.columns.select_nth_unstable_by_key(COLUMNS, key);
            self.limit = first_left.worth;
            self.columns.truncate(COLUMNS);
        }
    }
}

/// Returns the cheapest row found of columns that reach from side to side, with its cost.
fn row(columns: &[Column], alike: &[u16], axis: Axis, whole: Size) -> Option<(u64, Vec<u16>)> {
    let full = usize::from(whole.across(axis));
    let mut links: Vec<(u16, Option<usize>)> = Vec::new();
    // Of the cheapest columns found beside each other that reach so far: the cost, the pieces, and the last link.
    let mut costs = vec![u64::MAX; full + 1];
    let mut rows: Vec<(Set, Option<usize>)> = vec![([0; WORDS], None); full + 1];
    costs[0] = 0;
    for index in alike {
        let column = &columns[usize::from(*index)];
        let extent = usize::from(column.size.across(axis));
        for reach in (extent..=full).rev() {
            let before = reach - extent;
            let cost = costs[before].saturating_add(column.cost);
            if costs[reach] <= cost || !is_apart(&rows[before].0, &column.pieces) {
                continue;
            }
            links.push((*index, rows[before].1));
            costs[reach] = cost;
            rows[reach] = (joined(rows[before].0, column.pieces), Some(links.len() - 1));
        }
    }
    let mut found = Vec::new();
    let mut at = rows[full].1;
    while let Some(link) = at {
        let (column, before) = links[link];
        found.push(column);
        at = before;
    }
    (costs[full] < u64::MAX).then_some((costs[full], found))
}

fn joined(mut left: Set, right: Set) -> Set {
    for (word, other) in left.iter_mut().zip(right) {
        *word |= other;
    }
    left
}

fn is_apart(left: &Set, right: &Set) -> bool {
    left.iter().zip(right).all(|(left, right)| left & right == 0)
}

fn has(set: &Set, index: usize) -> bool {
    (set[index / 64] >> (index % 64)) & 1 == 1
}
