//! The best pattern of one bin at given prices, cut in three stages.
//!
//! Idea: a sheet is cut into strips, a strip into columns, a column into pieces one above the other (Gilmore and Gomory,
//! "Multistage cutting stock problems of two and more dimensions", 1965). Each stage is a knapsack over the sums its
//! sizes can make: what a column of a length is worth for every width, then what a strip of a width is worth, then the
//! sheet. Demands are not looked at. Strips may run along the length or across it. One pricing costs as many steps as
//! sums times sizes times sizes; where each column holds one piece, two stages, sums times pieces, since a strip is
//! worth what the next narrower one is and what the pieces of its own width add.
#![expect(
    clippy::float_arithmetic,
    reason = "search weights: they choose among valid packings and never reach a cost or a bound"
)]

use std::collections::BTreeMap;

use crate::nest::rect::problem::{Fit, Problem, Side};
use crate::nest::rect::tree::{Axis, Sheet};

/// Fewest and most sums kept on an axis; of more, some are left out, evenly.
const SUMS: (usize, usize) = (800, 1600);
/// Steps that the sums of an axis may cost where they are not the fewest: sums times sizes times sizes.
const STEPS: usize = 160_000;
/// Most pieces of a pattern: taking one out costs as many steps as there are.
pub(super) const MOST_PIECES: usize = 1_000;
/// Most patterns of one pricing.
const PATTERNS: usize = 8;
/// Worth less than this more is no gain.
const LEAST: f64 = 1e-12;

/// Finds patterns of one bin with strips in one direction.
pub(super) struct Strips {
    pub(super) bin: usize,
    length: i64,
    /// The direction in which strips follow each other.
    axis: Axis,
    /// Ways to lay pieces, shortest along the strip first.
    parts: Vec<Part>,
    /// Positions of these, narrowest across the strip first.
    by_across: Vec<u32>,
    /// Pieces that need a factory edge.
    edge_parts: Vec<Part>,
    along: Sums,
    across: Sums,
}

/// A way a piece lies in a strip.
#[derive(Clone, Copy)]
struct Part {
    item: usize,
    fit: Fit,
    along: i64,
    across: i64,
    /// Positions of its sizes, among those of the axes.
    along_size: usize,
    across_size: usize,
}

/// How many stages of cuts a pattern may take.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Stages {
    /// Strips, and single pieces in them.
    Two,
    /// Strips, columns in them, and pieces one above the other.
    Three,
}

/// The sums that sizes can make within an extent, with what is left of each when a size is taken off.
struct Sums {
    sizes: Vec<i64>,
    all: Vec<i64>,
    /// For each size and sum, the position of the largest sum not above the difference; nothing if it is below zero.
    less: Vec<Vec<Option<u32>>>,
}

/// A pattern: its strips.
pub(super) struct Pattern {
    strips: Vec<Strip>,
}

#[derive(Clone)]
struct Strip {
    across: i64,
    is_edge: bool,
    /// Extent along the strip, with what lies in it, one above the other.
    columns: Vec<(i64, Vec<Part>)>,
}

/// What strips hold.
enum Shelves {
    /// Single pieces.
    Pieces(Rows),
    /// Columns of pieces.
    Columns(Rows),
}

/// What pieces laid in a row are worth by the sum they keep to, for each size that none is larger than on the other axis;
/// and the part put in last, none where the sum before is as good.
struct Rows {
    worth: Vec<Vec<f64>>,
    last: Vec<Vec<Option<u32>>>,
}

/// A part as it is laid in rows.
struct Laid {
    part: u32,
    price: f64,
    /// Position of its size among those that rows are made for.
    group: usize,
    /// Position of its size among those that sums are made of.
    size: usize,
}

/// Fills rows with parts, which come by group.
fn rows(parts: impl Iterator<Item = Laid>, groups: usize, sums: &Sums) -> Rows {
    let count = sums.all.len();
    let mut rows = Rows { worth: Vec::with_capacity(groups), last: Vec::with_capacity(groups) };
    let mut worth = vec![0.0_f64; count];
    let mut last = vec![None; count];
    let mut parts = parts.peekable();
    for group in 0..groups {
        while let Some(laid) = parts.next_if(|laid| laid.group == group) {
            if laid.price <= LEAST {
                continue;
            }
            let less = &sums.less[laid.size];
            for at in 1..count {
                if worth[at - 1] > worth[at] {
                    (worth[at], last[at]) = (worth[at - 1], None);
                }
                let Some(less) = less[at] else { continue };
                let value = worth[less as usize] + laid.price;
                if value > worth[at] + LEAST {
                    (worth[at], last[at]) = (value, Some(laid.part));
                }
            }
        }
        rows.worth.push(worth.clone());
        rows.last.push(last.clone());
    }
    rows
}

impl Sums {
    fn new(extent: i64, counted: &[(i64, u64)]) -> Sums {
        let mut by_size: BTreeMap<i64, u64> = BTreeMap::new();
        for (size, count) in counted {
            let known = by_size.entry(*size).or_default();
            *known = known.saturating_add(*count);
        }
        let sizes: Vec<i64> = by_size.keys().copied().collect();
        let limit = (STEPS / (sizes.len() * sizes.len()).max(1)).clamp(SUMS.0, SUMS.1);
        let mut sums = vec![0];
        for (size, count) in by_size.iter().rev() {
            let most = u64::try_from(extent / size).unwrap_or(0).min(*count);
            let before = sums.clone();
            for times in 1..=i64::try_from(most).unwrap_or(0) {
                let more = before.iter().map(|sum| sum + size * times);
                sums.extend(more.filter(|sum| *sum <= extent));
                if sums.len() > 8 * limit {
                    thin(&mut sums, limit);
                }
            }
            sums.sort_unstable();
            sums.dedup();
        }
        thin(&mut sums, limit);
        sums.extend(sizes.iter().copied().filter(|size| *size <= extent));
        sums.push(extent);
        sums.sort_unstable();
        sums.dedup();
        let position = |at: i64| {
            let above = sums.partition_point(|sum| *sum <= at);
            above.checked_sub(1).and_then(|position| u32::try_from(position).ok())
        };
        let less = sizes
            .iter()
            .map(|size| sums.iter().map(|sum| position(sum - size)).collect())
            .collect();
        Sums { sizes, all: sums, less }
    }

    fn size(&self, size: i64) -> usize {
        self.sizes.binary_search(&size).expect("the size of a part is listed")
    }

    /// Returns the position of a size among the sums.
    fn position(&self, size: i64) -> usize {
        self.all.binary_search(&size).expect("every size is a sum")
    }
}

fn thin(sums: &mut Vec<i64>, limit: usize) {
    sums.sort_unstable();
    sums.dedup();
    if sums.len() > limit {
        let count = sums.len();
        *sums = (0..limit).map(|index| sums[index * count / limit]).collect();
    }
}

impl Strips {
    /// Returns the finder for a bin; `axis` is the direction in which strips follow each other.
    pub(super) fn new(problem: &Problem, bin: usize, axis: Axis) -> Strips {
        let (length, width) = (problem.bins[bin].length, problem.bins[bin].width);
        let (mut parts, mut edge_parts) = (Vec::new(), Vec::new());
        let (mut along, mut across) = (Vec::new(), Vec::new());
        for (index, item) in problem.items.iter().enumerate() {
            for fit in &item.fits[bin] {
                let sides = match axis {
                    Axis::Width => (fit.length, fit.width),
                    Axis::Length => (fit.width, fit.length),
                };
                let part = Part {
                    item: index,
                    fit: *fit,
                    along: sides.0,
                    across: sides.1,
                    along_size: 0,
                    across_size: 0,
                };
                match (fit.side, axis) {
                    (Side::Any | Side::Whole, _) => parts.push(part),
                    (Side::Edge, Axis::Width) => edge_parts.push(part),
                    (Side::Edge, Axis::Length) => continue,
                }
                along.push((sides.0, item.count));
                across.push((sides.1, item.count));
            }
        }
        let (along_extent, across_extent) = match axis {
            Axis::Width => (length, width),
            Axis::Length => (width, length),
        };
        let along = Sums::new(along_extent, &along);
        let across = Sums::new(across_extent, &across);
        for part in parts.iter_mut().chain(&mut edge_parts) {
            part.along_size = along.size(part.along);
            part.across_size = across.size(part.across);
        }
        parts.sort_by_key(|part| part.along);
        let mut by_across: Vec<u32> = (0_u32..).zip(&parts).map(|(index, _)| index).collect();
        by_across.sort_by_key(|part| parts[*part as usize].across);
        Strips { bin, length, axis, parts, by_across, edge_parts, along, across }
    }

    /// Tells whether a pricing of so many stages sees all pieces: those that need a factory edge have strips of their own.
    pub(super) fn sees_all(&self, stages: Stages) -> bool {
        stages == Stages::Three || self.edge_parts.is_empty()
    }

    /// Returns how many steps one pricing takes.
    pub(super) fn work(&self, stages: Stages) -> u64 {
        let (along, across) = (self.along.all.len(), self.across.all.len());
        let sheet = across * self.across.sizes.len();
        let steps = match stages {
            Stages::Two => self.parts.len() * along + sheet,
            Stages::Three => {
                let edges = if self.edge_parts.is_empty() { 1 } else { 2 };
                let strips = along * self.across.sizes.len() * self.along.sizes.len() * edges / 2;
                self.parts.len() * across + strips + sheet * edges
            }
        };
        steps as u64 / 2
    }

    /// Returns patterns that are worth more than `least`: the best, and the best with each of the strips that go with it; but
    /// for those that hold too many pieces to be worked on.
    pub(super) fn best(&self, prices: &[f64], stages: Stages, least: f64) -> Vec<Pattern> {
        let shelves = match stages {
            Stages::Two => Shelves::Pieces(self.rows(prices)),
            Stages::Three => Shelves::Columns(self.columns(prices)),
        };
        let mut kinds = self.strip_worths(&shelves, prices);
        kinds.retain(|(.., worth)| *worth > LEAST);
        // Two strips have a factory edge at most: the lowest and the highest.
        let rows = if self.edge_parts.is_empty() { 1 } else { 3 };
        let count = self.across.all.len();
        let mut best = vec![vec![0.0_f64; count]; rows];
        let mut last: Vec<Vec<Option<usize>>> = vec![vec![None; count]; rows];
        for row in 0..rows {
            for at in 1..count {
                best[row][at] = best[row][at - 1];
                for (kind, (size, is_edge, worth)) in kinds.iter().enumerate() {
                    let Some(less) = self.across.less[*size][at] else { continue };
                    let Some(from) = row.checked_sub(usize::from(*is_edge)) else { continue };
                    let value = best[from][less as usize] + worth;
                    if value > best[row][at] + LEAST {
                        best[row][at] = value;
                        last[row][at] = Some(kind);
                    }
                }
            }
        }
        let (row, at) = (rows - 1, count - 1);
        let mut firsts: Vec<(f64, usize)> = (0..kinds.len())
            .filter_map(|kind| {
                let (size, is_edge, worth) = kinds[kind];
                let less = self.across.less[size][at]? as usize;
                let from = row.checked_sub(usize::from(is_edge))?;
                Some((best[from][less] + worth, kind))
            })
            .filter(|(worth, _)| *worth > least)
            .collect();
        firsts.sort_by(|left, right| right.0.total_cmp(&left.0).then(left.1.cmp(&right.1)));
        let mut known: Vec<Vec<usize>> = Vec::new();
        for (_, first) in firsts {
            let mut next = Some(first);
            let (mut row, mut at) = (row, at);
            let mut taken = Vec::new();
            while at > 0 {
                if let Some(kind) = next.take().or(last[row][at]) {
                    let (size, is_edge, _) = kinds[kind];
                    taken.push(kind);
                    at = self.across.less[size][at].expect("it was taken off before") as usize;
                    row -= usize::from(is_edge);
                } else {
                    at -= 1;
                }
            }
            taken.sort_unstable();
            if !known.contains(&taken) {
                known.push(taken);
            }
            if known.len() == PATTERNS {
                break;
            }
        }
        let mut strips: Vec<Option<Strip>> = kinds.iter().map(|_| None).collect();
        let mut pattern = |taken: Vec<usize>| {
            let mut pieces = 0;
            let mut pattern = Pattern { strips: Vec::new() };
            for kind in taken {
                let (size, is_edge, _) = kinds[kind];
                let strip = &mut strips[kind];
                let strip =
                    strip.get_or_insert_with(|| self.strip(&shelves, prices, size, is_edge));
                pieces += strip.columns.iter().map(|(_, parts)| parts.len()).sum::<usize>();
                if pieces > MOST_PIECES {
                    return None;
                }
                pattern.strips.push(strip.clone());
            }
            Some(pattern)
        };
        known.into_iter().filter_map(&mut pattern).collect()
    }

    /// Returns what strips of each size are worth, without and with a factory edge.
    fn strip_worths(&self, shelves: &Shelves, prices: &[f64]) -> Vec<(usize, bool, f64)> {
        let sizes = 0..self.across.sizes.len();
        let columns = match shelves {
            Shelves::Pieces(rows) => {
                let most = |size: usize| *rows.worth[size].last().expect("zero is a sum");
                return sizes.map(|size| (size, false, most(size))).collect();
            }
            Shelves::Columns(columns) => columns,
        };
        let kinds: &[bool] = if self.edge_parts.is_empty() { &[false] } else { &[false, true] };
        let mut worths = Vec::new();
        for is_edge in kinds {
            for size in sizes.clone() {
                let columns = self.column_worths(columns, prices, size, *is_edge);
                let worth = *self.fill(&columns).0.last().expect("zero is a sum");
                worths.push((size, *is_edge, worth));
            }
        }
        worths
    }

    /// Returns what columns of each length are worth for every sum across, pieces one above the other.
    fn columns(&self, prices: &[f64]) -> Rows {
        let parts = (0_u32..).zip(&self.parts).map(|(index, part)| Laid {
            part: index,
            price: prices[part.item],
            group: part.along_size,
            size: part.across_size,
        });
        rows(parts, self.along.sizes.len(), &self.across)
    }

    /// Returns what strips of each width are worth for every sum along, pieces one beside the other.
    fn rows(&self, prices: &[f64]) -> Rows {
        let parts = self.by_across.iter().map(|index| {
            let part = &self.parts[*index as usize];
            Laid {
                part: *index,
                price: prices[part.item],
                group: part.across_size,
                size: part.along_size,
            }
        });
        rows(parts, self.across.sizes.len(), &self.along)
    }

    /// Returns what a column of each length is worth in a strip, and the piece with an edge that it is worth it for.
    fn column_worths(
        &self,
        columns: &Rows,
        prices: &[f64],
        size: usize,
        is_edge: bool,
    ) -> Vec<(f64, Option<usize>)> {
        let extent = self.across.sizes[size];
        let at = self.across.position(extent);
        let mut worths: Vec<(f64, Option<usize>)> =
            columns.worth.iter().map(|worth| (worth[at], None)).collect();
        if is_edge {
            for (length, worth) in self.along.sizes.iter().zip(&mut worths) {
                for (index, part) in self.edge_parts.iter().enumerate() {
                    let fits = part.along <= *length && part.across <= extent;
                    if fits && prices[part.item] > worth.0 {
                        *worth = (prices[part.item], Some(index));
                    }
                }
            }
        }
        worths
    }

    /// Fills a strip with columns: what it is worth by sum along it, and the column put in last.
    fn fill(&self, worths: &[(f64, Option<usize>)]) -> (Vec<f64>, Vec<Option<usize>>) {
        // A column that is worth no more than a shorter one is not needed.
        let mut most = LEAST;
        let mut needed: Vec<(usize, f64, &[Option<u32>])> = Vec::new();
        for (size, (worth, _)) in worths.iter().enumerate() {
            if *worth > most {
                most = worth + LEAST;
                needed.push((size, *worth, &self.along.less[size]));
            }
        }
        let count = self.along.all.len();
        let mut best = vec![0.0_f64; count];
        let mut last = vec![None; count];
        for at in 1..count {
            let (mut most, mut put) = (best[at - 1], None);
            for (size, worth, less) in &needed {
                let Some(less) = less[at] else { break };
                let value = best[less as usize] + worth;
                if value > most + LEAST {
                    (most, put) = (value, Some(*size));
                }
            }
            (best[at], last[at]) = (most, put);
        }
        (best, last)
    }

    fn strip(&self, shelves: &Shelves, prices: &[f64], size: usize, is_edge: bool) -> Strip {
        let across = self.across.sizes[size];
        let columns = match shelves {
            Shelves::Pieces(rows) => {
                let parts = self
                    .row(rows, size, self.along.all.len() - 1, &self.along, |part| part.along_size);
                let columns = parts.into_iter().map(|part| (part.along, vec![part])).collect();
                return Strip { across, is_edge, columns };
            }
            Shelves::Columns(columns) => columns,
        };
        let worths = self.column_worths(columns, prices, size, is_edge);
        let (_, last) = self.fill(&worths);
        let mut strip = Strip { across, is_edge, columns: Vec::new() };
        let mut at = last.len() - 1;
        while at > 0 {
            let Some(column) = last[at] else {
                at -= 1;
                continue;
            };
            let parts = match worths[column].1 {
                Some(edge) => vec![self.edge_parts[edge]],
                None => {
                    let top = self.across.position(across);
                    self.row(columns, column, top, &self.across, |part| part.across_size)
                }
            };
            strip.columns.push((self.along.sizes[column], parts));
            at = self.along.less[column][at].expect("it was taken off before") as usize;
        }
        strip
    }

    /// Returns the parts of a group within a sum.
    fn row(
        &self,
        rows: &Rows,
        group: usize,
        mut at: usize,
        sums: &Sums,
        size: fn(&Part) -> usize,
    ) -> Vec<Part> {
        let mut parts = Vec::new();
        while at > 0 {
            let Some(last) = rows.last[group][at] else {
                at -= 1;
                continue;
            };
            let part = self.parts[last as usize];
            parts.push(part);
            at = sums.less[size(&part)][at].expect("it was taken off before") as usize;
        }
        parts
    }

    /// Returns a pattern as a sheet.
    pub(super) fn sheet(&self, problem: &Problem, mut pattern: Pattern) -> Sheet {
        let mut sheet = Sheet::new(problem, self.bin, self.length);
        let other = match self.axis {
            Axis::Length => Axis::Width,
            Axis::Width => Axis::Length,
        };
        // One strip with a factory edge comes first, the other last.
        pattern.strips.sort_by_key(|strip| !strip.is_edge);
        if pattern.strips.iter().filter(|strip| strip.is_edge).count() == 2 {
            let second = pattern.strips.remove(1);
            pattern.strips.push(second);
        }
        let mut places = Vec::new();
        let mut rest = Some(0);
        for (index, strip) in pattern.strips.iter().enumerate() {
            let is_top = strip.is_edge && index > 0;
            let gap = if is_top {
                take_high(&mut sheet, rest, self.axis, strip.across)
            } else {
                take(&mut sheet, &mut rest, self.axis, strip.across)
            };
            let mut left = Some(gap);
            for (along, parts) in &strip.columns {
                let mut column = Some(take(&mut sheet, &mut left, other, *along));
                for part in parts {
                    let gap = if part.fit.side == Side::Edge {
                        column.expect("an edge piece is alone in its column")
                    } else {
                        take(&mut sheet, &mut column, self.axis, part.across)
                    };
                    places.push((sheet.gaps()[gap].x, sheet.gaps()[gap].y, *part));
                }
            }
        }
        for (x, y, part) in places {
            let gap = sheet.gap_at(x, y);
            sheet.insert(gap, part.item, &part.fit, Axis::Width);
        }
        sheet.tidy(problem.has_edges);
        sheet
    }
}

/// Cuts off the low part of a gap and leaves the rest, if any.
fn take(sheet: &mut Sheet, rest: &mut Option<usize>, axis: Axis, extent: i64) -> usize {
    let gap = rest.expect("a pattern takes no more than there is");
    let before = sheet.gaps().len();
    sheet.cut(gap, axis, extent);
    *rest = (sheet.gaps().len() > before).then_some(before);
    gap
}

fn take_high(sheet: &mut Sheet, rest: Option<usize>, axis: Axis, extent: i64) -> usize {
    let gap = rest.expect("a pattern takes no more than there is");
    let whole = sheet.gaps()[gap];
    let whole = match axis {
        Axis::Length => whole.length,
        Axis::Width => whole.width,
    };
    if extent == whole {
        return gap;
    }
    sheet.cut(gap, axis, whole - extent);
    sheet.gaps().len() - 1
}
