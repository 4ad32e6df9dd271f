//! Fewer different layouts at the same cost: each is a set-up of the saw.
//!
//! Layouts that hold the same pieces are cut as the most frequent of them. Then two or three layouts of one stock become
//! one wherever their pieces part evenly over all their stocks and what comes to each fits one of them. The stocks taken
//! stay what they are, so the cost does too.
//!
//! Not here: other stocks, more stocks, pieces that nobody wants.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

use crate::nest;
use crate::nest::{Instance, Layout, Nest, Options, Piece, Rest, Stock};
use crate::quantity::Length;
use crate::watch::Watch;

/// Most searches for a layout that stands for several.
const MOST_SEARCHES: usize = 400;
/// Most layouts that are looked at three by three.
const MOST_TRIPLED: usize = 30;
/// Effort of one search: it fills one stock.
const EFFORT: u32 = 2;

/// How many of each piece.
type Contents = BTreeMap<usize, u64>;

/// Makes the layouts of a nest fewer, down to `limit` where that can be.
pub(super) fn fewer(
    instance: &Instance,
    nest: &mut Nest,
    limit: u64,
    options: Options,
    watch: &dyn Watch,
) {
    let limit = usize::try_from(limit).unwrap_or(usize::MAX);
    if nest.layouts.len() <= limit {
        return;
    }
    join_alike(instance, &mut nest.layouts);
    // What a roll charged by length costs depends on where its layouts end.
    if !instance.charges_length {
        let options = Options { effort: EFFORT, ..options };
        let mut tried = BTreeSet::new();
        while nest.layouts.len() > limit && merge(instance, nest, &mut tried, options, watch) {}
    }
    sort(&mut nest.layouts);
}

/// Returns what tells contents of layouts apart: stock, pieces, lengths of splices, and what is charged.
fn key(instance: &Instance, layout: &Layout) -> (usize, Contents, Vec<Length>, Option<Length>) {
    let mut splices: Vec<Length> = layout.splices.iter().map(|splice| splice.length).collect();
    splices.sort_unstable();
    let taken = instance.charges_length.then_some(layout.taken);
    (layout.stock, contents(layout), splices, taken)
}

fn contents(layout: &Layout) -> Contents {
    let mut contents = Contents::new();
    for placement in &layout.placements {
        *contents.entry(placement.piece).or_default() += 1;
    }
    contents
}

/// Cuts layouts of the same pieces as the most frequent of them, which stands first.
fn join_alike(instance: &Instance, layouts: &mut Vec<Layout>) {
    let mut kept: Vec<Layout> = Vec::with_capacity(layouts.len());
    for layout in layouts.drain(..) {
        let own = key(instance, &layout);
        match kept.iter_mut().find(|known| key(instance, known) == own) {
            Some(known) => known.repeat += layout.repeat,
            None => kept.push(layout),
        }
    }
    *layouts = kept;
}

/// Puts one layout in the place of two or three; false if there are none that allow it.
fn merge(
    instance: &Instance,
    nest: &mut Nest,
    tried: &mut BTreeSet<(usize, Contents)>,
    options: Options,
    watch: &dyn Watch,
) -> bool {
    for group in groups(&nest.layouts) {
        if watch.is_stopped() || tried.len() >= MOST_SEARCHES {
            return false;
        }
        let layouts: Vec<&Layout> = group.iter().map(|index| &nest.layouts[*index]).collect();
        let Some(each) = parted(&layouts) else { continue };
        let stock = layouts[0].stock;
        let repeat = layouts.iter().map(|layout| layout.repeat).sum();
        let known = nest.layouts.iter().find(|layout| {
            layout.stock == stock && layout.splices.is_empty() && contents(layout) == each
        });
        let found = match known {
            Some(known) => Some(known.clone()),
            None if !tried.insert((stock, each.clone())) => None,
            None => on_one(instance, stock, &each, options, watch),
        };
        let Some(found) = found else { continue };
        let mut index = 0;
        nest.layouts.retain(|_| {
            index += 1;
            !group.contains(&(index - 1))
        });
        nest.layouts.push(Layout { repeat, ..found });
        join_alike(instance, &mut nest.layouts);
        return true;
    }
    false
}

/// Returns pairs of layouts of one stock without splices, then triples.
fn groups(layouts: &[Layout]) -> Vec<Vec<usize>> {
    let fits = |left: usize, right: usize| {
        layouts[left].stock == layouts[right].stock
            && layouts[left].splices.is_empty()
            && layouts[right].splices.is_empty()
    };
    let count = layouts.len();
    let mut groups = Vec::new();
    for left in 0..count {
        let pairs = (left + 1..count).filter(|right| fits(left, *right));
        groups.extend(pairs.map(|right| vec![left, right]));
    }
    if count <= MOST_TRIPLED {
        let pairs = groups.clone();
        for pair in pairs {
            let thirds = (pair[1] + 1..count).filter(|third| fits(pair[1], *third));
            groups.extend(thirds.map(|third| vec![pair[0], pair[1], third]));
        }
    }
    groups
}

/// Returns what each stock gets if the pieces of some layouts part evenly over all their stocks.
fn parted(layouts: &[&Layout]) -> Option<Contents> {
    let stocks: u64 = layouts.iter().map(|layout| layout.repeat).sum();
    let mut all = Contents::new();
    for layout in layouts {
        for (piece, count) in contents(layout) {
            *all.entry(piece).or_default() += count * layout.repeat;
        }
    }
    for count in all.values_mut() {
        if *count % stocks != 0 {
            return None;
        }
        *count /= stocks;
    }
    Some(all)
}

/// Returns a layout that holds all of some pieces on one stock, if one is found.
fn on_one(
    instance: &Instance,
    stock: usize,
    contents: &Contents,
    options: Options,
    watch: &dyn Watch,
) -> Option<Layout> {
    let kinds: Vec<usize> = contents.keys().copied().collect();
    let pieces = contents
        .iter()
        .map(|(piece, count)| Piece { count: *count, ..instance.pieces[*piece].clone() })
        .collect();
    let one = Stock { available: Some(1), ..instance.stocks[stock].clone() };
    let alone = Instance { stocks: vec![one], pieces, run: Length::ZERO, ..instance.clone() };
    let mut found = nest::nest(&alone, options, watch);
    if !found.unplaced.is_empty() || found.layouts.len() != 1 {
        return None;
    }
    let mut layout = found.layouts.remove(0);
    layout.stock = stock;
    for placement in &mut layout.placements {
        placement.piece = kinds[placement.piece];
    }
    // Kept in the order that a nest states them in.
    layout.placements.sort_by_key(|placement| (placement.x, placement.y));
    layout.offcuts.sort_by_key(|rest: &Rest| (rest.x, rest.y));
    Some(layout)
}

/// Puts layouts in the order of a nest.
fn sort(layouts: &mut [Layout]) {
    layouts.sort_by(|left, right| {
        let key = |layout: &Layout| (Reverse(layout.repeat), layout.stock);
        key(left).cmp(&key(right)).then_with(|| left.placements.cmp(&right.placements))
    });
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::Edges;
    use crate::nest::{Kind, Placement, check};
    use crate::quantity::Ratio;
    use crate::watch::Silent;

    fn inches(count: i64) -> Length {
        Length::from_inches(count, 1).unwrap()
    }

    fn stick(length: i64, count: u64) -> Piece {
        let length = inches(length);
        Piece { length, width: Length::ZERO, count, may_turn: false, edges: Edges::None }
    }

    fn layout(repeat: u64, pieces: &[(usize, i64)]) -> Layout {
        let mut x = 0;
        let mut placements = Vec::new();
        for (piece, length) in pieces {
            let at = inches(x);
            placements.push(Placement { piece: *piece, x: at, y: Length::ZERO, is_turned: false });
            x += length;
        }
        let (splices, offcuts) = (Vec::new(), Vec::new());
        Layout { stock: 0, repeat, placements, splices, offcuts, taken: inches(x) }
    }

    #[track_caller]
    fn check(pieces: Vec<Piece>, layouts: Vec<Layout>, limit: u64, expected: &[(u64, &[usize])]) {
        let stock =
            Stock { length: inches(100), width: Length::ZERO, cost: Ratio::ONE, available: None };
        let instance = Instance::new(Kind::Linear, vec![stock], pieces);
        let mut nest = nest::nest(&instance, Options::default(), &Silent);
        let count: u64 = layouts.iter().map(|layout| layout.repeat).sum();
        nest.cost = Ratio::from(i64::try_from(count).unwrap());
        nest.layouts = layouts;
        nest.ending = nest::Ending::Effort;
        sort(&mut nest.layouts);
        check::check(&instance, &nest).unwrap();
        fewer(&instance, &mut nest, limit, Options::default(), &Silent);
        check::check(&instance, &nest).unwrap();
        let found: Vec<(u64, Vec<usize>)> = nest
            .layouts
            .iter()
            .map(|layout| {
                let mut pieces: Vec<usize> =
                    layout.placements.iter().map(|placement| placement.piece).collect();
                pieces.sort_unstable();
                (layout.repeat, pieces)
            })
            .collect();
        let expected: Vec<(u64, Vec<usize>)> =
            expected.iter().map(|(repeat, pieces)| (*repeat, pieces.to_vec())).collect();
        assert_eq!(found, expected);
    }

    #[test]
    fn layouts_of_the_same_pieces_are_cut_alike() {
        let layouts = vec![layout(2, &[(0, 50), (1, 30)]), layout(1, &[(1, 30), (0, 50)])];
        check(vec![stick(50, 3), stick(30, 3)], layouts, 1, &[(3, &[0, 1])]);
    }

    #[test]
    fn pieces_that_part_evenly_become_one_layout() {
        let layouts = vec![layout(1, &[(0, 50), (0, 50)]), layout(1, &[(1, 30), (1, 30)])];
        check(vec![stick(50, 2), stick(30, 2)], layouts, 1, &[(2, &[0, 1])]);
    }

    #[test]
    fn what_cannot_be_merged_stays() {
        let layouts = || vec![layout(1, &[(0, 50), (0, 50)]), layout(1, &[(0, 50), (1, 30)])];
        let expected: [(u64, &[usize]); 2] = [(1, &[0, 0]), (1, &[0, 1])];
        check(vec![stick(50, 3), stick(30, 1)], layouts(), 1, &expected);
    }

    #[test]
    fn no_more_is_merged_than_is_asked_for() {
        let layouts = vec![layout(1, &[(0, 50), (0, 50)]), layout(1, &[(1, 30), (1, 30)])];
        let expected: [(u64, &[usize]); 2] = [(1, &[0, 0]), (1, &[1, 1])];
        check(vec![stick(50, 2), stick(30, 2)], layouts, 2, &expected);
    }
}
