//! Slabs from side to side, cut off a rectangle without waste: columns of up to four large pieces beside each other.

use crate::nest::random::Random;
use crate::nest::rect::improve::Budget;
use crate::nest::rect::joining::{Block, Size, joined_with};
use crate::nest::rect::tree::Axis;

/// Most pieces that slabs are looked for among.
pub(super) const MOST: usize = 64 * WORDS;
const WORDS: usize = 4;

/// Most columns of each number of pieces.
const COLUMNS: usize = 3_000;

/// Pieces by their positions, one bit each.
type Set = [u64; WORDS];

/// A rectangle of few pieces.
#[derive(Clone, Copy)]
struct Column {
    size: Size,
    pieces: Set,
    /// Low where the pieces are large, for their area and at random.
    cost: u64,
    /// The columns that it is joined of.
    parts: Option<(Axis, usize, usize)>,
}

/// The cheapest columns found beside each other that reach so far.
#[derive(Clone, Copy)]
struct Row {
    cost: u64,
    pieces: Set,
    /// The last column, and the link of those before it.
    link: Option<usize>,
}

/// Cuts a slab off a whole, out of blocks of `rest`, and takes these out of it. Returns along which axis it is cut off, and
/// its block.
pub(super) fn cut_off(
    blocks: &mut Vec<Block>,
    rest: &mut Vec<usize>,
    whole: Size,
    budget: &mut Budget<'_>,
    random: &mut Random,
) -> Option<(Axis, usize)> {
    let sizes: Vec<Size> = rest.iter().map(|block| blocks[*block].size).collect();
    let columns = columns(&sizes, whole, budget, random);
    let mut best: Option<(u64, Axis, Vec<usize>)> = None;
    for axis in [Axis::Length, Axis::Width] {
        let mut order: Vec<usize> = (0..columns.len()).collect();
        let depth = |column: usize| columns[column].size.along(axis);
        order.sort_by_key(|column| (depth(*column), columns[*column].cost, *column));
        for alike in order.chunk_by(|left, right| depth(*left) == depth(*right)) {
            let depth = depth(alike[0]);
            if depth >= whole.along(axis) {
                continue;
            }
            budget.spend((alike.len() * usize::from(whole.across(axis)) / 2) as u64);
            let Some((cost, row)) = row(&columns, alike, axis, whole) else { continue };
            // For its area, and sometimes another than the best.
            let area = u64::from(depth) * u64::from(whole.across(axis));
            let cost = cost * 1024 / area * (768 + random.below(512)) / 1024;
            let used =
                row.iter().fold([0; WORDS], |set, column| joined(set, columns[*column].pieces));
            let left = whole.along(axis) - depth;
            let fits = sizes
                .iter()
                .enumerate()
                .all(|(index, size)| has(&used, index) || size.along(axis) <= left);
            if fits && best.as_ref().is_none_or(|(least, ..)| cost < *least) {
                best = Some((cost, axis, row));
            }
        }
    }
    let (_, axis, row) = best?;
    let other = match axis {
        Axis::Length => Axis::Width,
        Axis::Width => Axis::Length,
    };
    let mut used = [0; WORDS];
    let mut slab = None;
    for column in row {
        used = joined(used, columns[column].pieces);
        let block = block(blocks, rest, &columns, column);
        slab = Some(match slab {
            None => block,
            Some(slab) => joined_with(blocks, other, slab, block),
        });
    }
    let mut index = 0..;
    rest.retain(|_| !has(&used, index.next().expect("endless")));
    Some((axis, slab?))
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
        columns.push(Column { size: *size, pieces, cost, parts: None });
    }
    let singles = columns.len();
    let mut begins = vec![0, singles];
    for count in 2..=4 {
        let mut found = Vec::new();
        let firsts = begins[count - 2]..begins[count - 1];
        join_all(&columns, firsts, 0..singles, whole, &mut found);
        if count == 4 {
            join_all(&columns, begins[1]..begins[2], begins[1]..begins[2], whole, &mut found);
        }
        budget.spend(4 * found.len() as u64);
        let key = |column: &Column| {
            (
                column.cost * 1024 / column.size.area(),
                column.parts.map(|(_, left, right)| (left, right)),
            )
        };
        if found.len() > COLUMNS {
            found.select_nth_unstable_by_key(COLUMNS, key);
            found.truncate(COLUMNS);
        }
        found.sort_unstable_by_key(key);
        columns.append(&mut found);
        begins.push(columns.len());
    }
    columns
}

fn join_all(
    columns: &[Column],
    firsts: std::ops::Range<usize>,
    seconds: std::ops::Range<usize>,
    whole: Size,
    found: &mut Vec<Column>,
) {
    let is_same = firsts == seconds;
    for axis in [Axis::Length, Axis::Width] {
        let mut order: Vec<usize> = seconds.clone().collect();
        order.sort_by_key(|column| (columns[*column].size.across(axis), *column));
        for first in firsts.clone() {
            let left = &columns[first];
            let side = left.size.across(axis);
            let begin = order.partition_point(|column| columns[*column].size.across(axis) < side);
            for second in &order[begin..] {
                let right = &columns[*second];
                if right.size.across(axis) != side {
                    break;
                }
                let extent = left.size.along(axis) + right.size.along(axis);
                let is_twice = is_same && *second <= first;
                if is_twice || extent > whole.along(axis) || !is_apart(&left.pieces, &right.pieces)
                {
                    continue;
                }
                found.push(Column {
                    size: left.size.with(axis, extent),
                    pieces: joined(left.pieces, right.pieces),
                    cost: left.cost + right.cost,
                    parts: Some((axis, first, *second)),
                });
            }
        }
    }
}

/// Returns the cheapest row found of columns that reach from side to side, with its cost.
fn row(columns: &[Column], alike: &[usize], axis: Axis, whole: Size) -> Option<(u64, Vec<usize>)> {
    let full = usize::from(whole.across(axis));
    let mut links: Vec<(usize, Option<usize>)> = Vec::new();
    let mut rows: Vec<Option<Row>> = vec![None; full + 1];
    rows[0] = Some(Row { cost: 0, pieces: [0; WORDS], link: None });
    for index in alike {
        let column = &columns[*index];
        let extent = usize::from(column.size.across(axis));
        for reach in (extent..=full).rev() {
            let Some(before) = &rows[reach - extent] else { continue };
            let cost = before.cost + column.cost;
            if rows[reach].as_ref().is_some_and(|row| row.cost <= cost)
                || !is_apart(&before.pieces, &column.pieces)
            {
                continue;
            }
            let link = links.len();
            links.push((*index, before.link));
            rows[reach] =
                Some(Row { cost, pieces: joined(before.pieces, column.pieces), link: Some(link) });
        }
    }
    let row = rows[full].as_ref()?;
    let mut found = Vec::new();
    let mut at = row.link;
    while let Some(link) = at {
        let (column, before) = links[link];
        found.push(column);
        at = before;
    }
    Some((row.cost, found))
}

/// Adds the blocks of a column.
fn block(blocks: &mut Vec<Block>, rest: &[usize], columns: &[Column], column: usize) -> usize {
    let Some((axis, left, right)) = columns[column].parts else {
        return rest[column];
    };
    let left = block(blocks, rest, columns, left);
    let right = block(blocks, rest, columns, right);
    joined_with(blocks, axis, left, right)
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
