//! In which order the cuts of a layout are made.
//!
//! A layout that can be cut from edge to edge is parted into strips, the strips into pieces, and so on; each part is cut
//! one way only, the way that leaves fewer cuts in all. First come all cuts of a part, then the cuts of its strips from
//! one end to the other. A layout that cannot be cut so has no order of cuts, only of pieces.

use crate::quantity::Length;

/// A rectangle that is to come out whole: left, top, right, bottom, in nanometers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Block {
    pub(super) low: [i64; 2],
    pub(super) high: [i64; 2],
}

/// Which way a cut runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Way {
    /// Across the stock: at a distance along its length.
    Across,
    /// Along the stock: at a distance along its width.
    Along,
}

impl Way {
    /// Returns the axis that the place of the cut is counted on.
    const fn axis(self) -> usize {
        match self {
            Way::Across => 0,
            Way::Along => 1,
        }
    }

    /// Returns the axis that the cut runs along.
    pub(super) const fn other(self) -> usize {
        1 - self.axis()
    }

    /// Returns what the shop calls it.
    pub(super) const fn name(self) -> &'static str {
        match self {
            Way::Across => "crosscut",
            Way::Along => "rip",
        }
    }
}

/// One cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Cut {
    pub(super) way: Way,
    /// Where the good edge is, from the stock's origin.
    pub(super) at: Length,
    /// The kerf lies before the edge where this begins good material, and behind it where it ends.
    pub(super) is_leading: bool,
    /// Where the cut begins and ends, on the other axis.
    pub(super) span: [Length; 2],
}

/// Cuts in order, and the blocks in the order they come free.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Sequence {
    pub(super) cuts: Vec<Cut>,
    pub(super) freed: Vec<usize>,
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

/// Returns the order of cuts that frees every block of a stock, if there is one.
pub(super) fn sequence(stock: Block, blocks: &[Block], saw: &Saw) -> Option<Sequence> {
    let all: Vec<usize> = (0..blocks.len()).collect();
    let bench = Bench { blocks, kerf: saw.kerf.nanometers() };
    let mut found = Sequence::default();
    let inner = trimmed(stock, blocks, saw.trim.nanometers(), &mut found.cuts);
    let asked = saw.first.and_then(|way| bench.by_strips(inner, &all, way));
    let rest = asked.or_else(|| bench.part(inner, &all))?;
    found.cuts.extend(rest.cuts);
    found.freed = rest.freed;
    Some(found)
}

/// Takes the trim off the edges that no block lies at, and returns what is left.
fn trimmed(stock: Block, blocks: &[Block], trim: i64, cuts: &mut Vec<Cut>) -> Block {
    let mut inner = stock;
    if trim == 0 {
        return inner;
    }
    for way in [Way::Across, Way::Along] {
        let (axis, other) = (way.axis(), way.other());
        let span = [inner.low[other], inner.high[other]].map(Length::from_nanometers);
        let (low, high) = (stock.low[axis] + trim, stock.high[axis] - trim);
        let mut cut = |at: i64, is_leading| {
            cuts.push(Cut { way, at: Length::from_nanometers(at), is_leading, span });
        };
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

/// A run of blocks along an axis: where it begins and ends, and which they are.
type Strip = (i64, i64, Vec<usize>);

/// What is cut.
struct Bench<'a> {
    blocks: &'a [Block],
    kerf: i64,
}

impl Bench<'_> {
    /// Returns the blocks in strips across an axis, each clear of the next.
    fn strips(&self, which: &[usize], axis: usize) -> Vec<Strip> {
        let ends = |block: usize| (self.blocks[block].low[axis], self.blocks[block].high[axis]);
        let mut sorted = which.to_vec();
        sorted.sort_by_key(|block| (ends(*block), *block));
        let mut strips: Vec<Strip> = Vec::new();
        for block in sorted {
            let (low, high) = ends(block);
            match strips.last_mut() {
                Some((_, end, members)) if low < *end => {
                    *end = high.max(*end);
                    members.push(block);
                }
                _ => strips.push((low, high, vec![block])),
            }
        }
        strips
    }

    /// Parts a stock the way that takes fewer cuts.
    fn part(&self, stock: Block, which: &[usize]) -> Option<Sequence> {
        if let [block] = which
            && self.blocks[*block] == stock
        {
            return Some(Sequence { cuts: Vec::new(), freed: vec![*block] });
        }
        let mut best: Option<Sequence> = None;
        for way in [Way::Across, Way::Along] {
            let found = self.by_strips(stock, which, way);
            let is_better = |found: &Sequence| {
                best.as_ref().is_none_or(|best| found.cuts.len() < best.cuts.len())
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
    fn by_strips(&self, stock: Block, which: &[usize], way: Way) -> Option<Sequence> {
        let (axis, other) = (way.axis(), way.other());
        let strips = self.strips(which, axis);
        let is_trimmed = |strip: &Strip| strip.0 > stock.low[axis] || strip.1 < stock.high[axis];
        if strips.len() == 1 && (which.len() > 1 || !strips.iter().any(is_trimmed)) {
            return None;
        }
        let span = [stock.low[other], stock.high[other]].map(Length::from_nanometers);
        let cut = |at: i64, is_leading: bool| Cut {
            way,
            at: Length::from_nanometers(at),
            is_leading,
            span,
        };
        let mut found = Sequence::default();
        let mut end = stock.low[axis];
        for (position, (low, high, _)) in strips.iter().enumerate() {
            // One cut parts two strips; waste between them, or before the first, takes another.
            let parted = if position == 0 { 0 } else { self.kerf };
            if *low - end > parted {
                found.cuts.push(cut(*low, true));
            }
            if *high < stock.high[axis] {
                found.cuts.push(cut(*high, false));
            }
            end = *high;
        }
        for (low, high, members) in &strips {
            let mut inner = stock;
            (inner.low[axis], inner.high[axis]) = (*low, *high);
            let sub = self.part(inner, members)?;
            found.cuts.extend(sub.cuts);
            found.freed.extend(sub.freed);
        }
        Some(found)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SAW: Saw =
        Saw { kerf: Length::from_nanometers(1), trim: Length::from_nanometers(0), first: None };

    fn block(at: [i64; 4]) -> Block {
        Block { low: [at[0], at[1]], high: [at[2], at[3]] }
    }

    #[track_caller]
    fn check(blocks: &[[i64; 4]], expected: &[&str]) {
        let blocks: Vec<Block> = blocks.iter().copied().map(block).collect();
        let found = sequence(block([0, 0, 100, 50]), &blocks, &SAW).unwrap();
        let texts: Vec<String> = found
            .cuts
            .iter()
            .map(|cut| {
                let [from, to] = cut.span.map(Length::nanometers);
                format!("{} at {} from {from} to {to}", cut.way.name(), cut.at.nanometers())
            })
            .collect();
        assert_eq!(texts, expected);
    }

    #[test]
    fn a_whole_sheet_takes_no_cut() {
        check(&[[0, 0, 100, 50]], &[]);
    }

    #[test]
    fn strips_are_cut_before_what_is_in_them() {
        check(
            &[[0, 0, 60, 20], [0, 21, 60, 41], [61, 0, 100, 50]],
            &["crosscut at 60 from 0 to 50", "rip at 20 from 0 to 60", "rip at 41 from 0 to 60"],
        );
    }

    #[test]
    fn a_trimmed_edge_takes_a_cut_before_the_piece() {
        check(&[[2, 0, 100, 50]], &["crosscut at 2 from 0 to 50"]);
    }

    #[test]
    fn edges_are_trimmed_once_before_all_else() {
        let saw = Saw { trim: Length::from_nanometers(2), ..SAW };
        let blocks = [[2, 2, 40, 48], [41, 2, 98, 48]].map(block);
        let found = sequence(block([0, 0, 100, 50]), &blocks, &saw).unwrap();
        let at: Vec<i64> = found.cuts.iter().map(|cut| cut.at.nanometers()).collect();
        assert_eq!(at, [2, 98, 2, 48, 40]);
        // A block at the edge keeps it.
        let blocks = [[2, 0, 98, 50]].map(block);
        let found = sequence(block([0, 0, 100, 50]), &blocks, &saw).unwrap();
        assert_eq!(found.cuts.len(), 2);
    }

    #[test]
    fn a_pinwheel_has_no_order_of_cuts() {
        let pinwheel =
            [[0, 0, 60, 20], [61, 0, 100, 30], [40, 31, 100, 50], [0, 21, 39, 50]].map(block);
        assert_eq!(sequence(block([0, 0, 100, 50]), &pinwheel, &SAW), None);
    }
}
