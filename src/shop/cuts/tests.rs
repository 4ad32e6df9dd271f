use super::*;
use crate::model::Edges;
use crate::nest::{Options, Piece, Stock, nest};
use crate::quantity::Ratio;
use crate::watch::Silent;

use proptest::prelude::{ProptestConfig, Strategy, any, prop_assert, prop_assert_eq, proptest};

const SAW: Saw =
    Saw { kerf: Length::from_nanometers(1), trim: Length::from_nanometers(0), first: None };

fn block(at: [i64; 4]) -> Block {
    Block { low: [at[0], at[1]], high: [at[2], at[3]] }
}

#[track_caller]
fn check(blocks: &[[i64; 4]], expected: &[&str]) {
    let blocks: Vec<Block> = blocks.iter().copied().map(block).collect();
    let found = order(block([0, 0, 100, 50]), &blocks, &SAW, &Side::Piece).unwrap();
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
    let found = order(block([0, 0, 100, 50]), &blocks, &saw, &Side::Piece).unwrap();
    let at: Vec<i64> = found.cuts.iter().map(|cut| cut.at.nanometers()).collect();
    assert_eq!(at, [2, 98, 2, 48, 40]);
    // A block at the edge keeps it.
    let blocks = [[2, 0, 98, 50]].map(block);
    let found = order(block([0, 0, 100, 50]), &blocks, &saw, &Side::Piece).unwrap();
    assert_eq!(found.cuts.len(), 2);
}

#[test]
fn a_pinwheel_has_no_order_of_cuts() {
    let pinwheel =
        [[0, 0, 60, 20], [61, 0, 100, 30], [40, 31, 100, 50], [0, 21, 39, 50]].map(block);
    assert_eq!(order(block([0, 0, 100, 50]), &pinwheel, &SAW, &Side::Piece), None);
}

#[test]
fn each_cut_says_what_it_goes_through_and_what_comes_free() {
    let blocks = [[0, 0, 60, 20], [0, 21, 60, 41], [61, 0, 100, 50]].map(block);
    let found = order(block([0, 0, 100, 50]), &blocks, &SAW, &Side::Piece).unwrap();
    let texts: Vec<String> = found
        .cuts
        .iter()
        .map(|cut| {
            let [before, behind] = cut.sides.map(|(side, _)| side);
            format!("{} of {}: {before:?} | {behind:?}", cut.stage, cut.part)
        })
        .collect();
    let expected =
        ["1 of 0: Part(1) | Piece(2)", "2 of 1: Piece(0) | Rest", "2 of 1: Piece(1) | Waste"];
    assert_eq!(texts, expected);
    let edges: Vec<i64> = found.cuts.iter().map(|cut| cut.from_edge.nanometers()).collect();
    assert_eq!(edges, [60, 20, 20]);
}

#[test]
fn what_is_cut_of_a_roll_comes_off_it_before_it_is_ripped() {
    let saw = Saw { first: Some(Way::Across), ..SAW };
    let blocks = [[0, 0, 30, 24], [0, 25, 30, 50]].map(block);
    let found = order(block([0, 0, 100, 50]), &blocks, &saw, &Side::Piece).unwrap();
    let ways: Vec<(Way, usize)> = found.cuts.iter().map(|cut| (cut.way, cut.part)).collect();
    assert_eq!(ways, [(Way::Across, 0), (Way::Along, 1)]);
    assert_eq!(found.cuts[0].sides.map(|(side, _)| side), [Side::Part(1), Side::Waste]);
}

#[test]
fn an_order_that_leaves_its_part_or_meets_a_piece_is_none() {
    let stock = block([0, 0, 100, 50]);
    let blocks = [[0, 0, 60, 50], [61, 0, 100, 50]].map(block);
    let line = |at, span| Line { stage: 1, way: Way::Across, at, is_leading: false, span };
    let follow = |line: Line| follow(stock, &blocks, &[line], 1, &Side::Piece);
    assert!(follow(line(60, [0, 50])).is_some());
    assert_eq!(follow(line(60, [0, 40])), None);
    assert_eq!(follow(line(61, [0, 50])), None);
    assert_eq!(follow(line(59, [0, 50])), None);
    assert_eq!(super::follow(stock, &blocks, &[], 1, &Side::Piece), None);
}

/// Numbers that decide how a stock is parted.
struct Choices<'a>(std::slice::Iter<'a, u16>);

impl Choices<'_> {
    fn below(&mut self, bound: i64) -> i64 {
        self.0.next().map_or(0, |choice| i64::from(*choice) % bound)
    }
}

/// Parts a rectangle by saw cuts at random until the numbers run out, and returns what is to come out whole: some of the
/// parts; others are waste.
fn parted(part: Block, kerf: i64, choices: &mut Choices<'_>, blocks: &mut Vec<Block>) {
    let axis = usize::try_from(choices.below(2)).unwrap();
    let long = part.high[axis] - part.low[axis];
    if long < 2 + kerf || choices.below(5) == 0 {
        if blocks.is_empty() || choices.below(4) > 0 {
            blocks.push(part);
        }
        return;
    }
    let at = part.low[axis] + 1 + choices.below(long - kerf - 1);
    let (mut low, mut high) = (part, part);
    low.high[axis] = at;
    high.low[axis] = at + kerf;
    parted(low, kerf, choices, blocks);
    parted(high, kerf, choices, blocks);
}

/// Makes cuts as a person at the saw does, knowing nothing but where each goes: every cut must go from edge to edge through
/// one part that lies there, and takes its kerf from it. Returns the parts, and the area that became dust.
fn sawn(stock: Block, cuts: &[Cut], kerf: i64) -> Result<(Vec<Block>, i64), String> {
    let mut parts = vec![stock];
    let mut dust = 0;
    for (number, cut) in cuts.iter().enumerate() {
        let axis = match cut.way {
            Way::Across => 0,
            Way::Along => 1,
        };
        let [from, to] = cut.span.map(Length::nanometers);
        let at = cut.at.nanometers();
        let blade = if cut.is_leading { [at - kerf, at] } else { [at, at + kerf] };
        let lies_under = |part: &Block| {
            part.low[axis] < at
                && at < part.high[axis]
                && part.low[1 - axis] < to
                && from < part.high[1 - axis]
        };
        let under: Vec<usize> = (0..parts.len()).filter(|part| lies_under(&parts[*part])).collect();
        let [index] = under[..] else { return Err(format!("cut {number} meets {under:?}")) };
        let part = parts.remove(index);
        if [part.low[1 - axis], part.high[1 - axis]] != [from, to] {
            return Err(format!("cut {number} does not go from edge to edge"));
        }
        let [begin, end] = blade.map(|at| at.clamp(part.low[axis], part.high[axis]));
        dust += (end - begin) * (to - from);
        let (mut before, mut behind) = (part, part);
        before.high[axis] = begin;
        behind.low[axis] = end;
        parts.extend([before, behind].into_iter().filter(|part| part.low[axis] < part.high[axis]));
    }
    Ok((parts, dust))
}

fn extent(block: &Block) -> i64 {
    (block.high[0] - block.low[0]) * (block.high[1] - block.low[1])
}

/// Checks the laws of an order of cuts.
fn lawful(stock: Block, blocks: &[Block], found: &Sequence, kerf: i64) -> Result<(), String> {
    let (parts, dust) = sawn(stock, &found.cuts, kerf)?;
    for block in blocks {
        if parts.iter().filter(|part| *part == block).count() != 1 {
            return Err(format!("{block:?} does not come out whole"));
        }
    }
    if parts.iter().map(extent).sum::<i64>() + dust != extent(&stock) {
        return Err("parts and kerf are not the stock".to_owned());
    }
    let mut freed = found.freed.clone();
    freed.sort_unstable();
    if !freed.iter().copied().eq(0..blocks.len()) {
        return Err(format!("{freed:?} come free"));
    }
    // What is told of each cut is what the saw finds.
    let told = found.cuts.iter().flat_map(|cut| cut.sides);
    let pieces = told.filter(|(side, _)| matches!(side, Side::Piece(_))).count();
    let is_whole = found.cuts.is_empty();
    if pieces != blocks.len() && !is_whole {
        return Err(format!("{pieces} of {} pieces are told", blocks.len()));
    }
    Ok(())
}

#[test]
fn no_cut_goes_where_the_gap_is_narrower_than_the_kerf() {
    // The two lie 1 apart along the length, but 10 along the width.
    let saw = Saw { kerf: Length::from_nanometers(3), ..SAW };
    let blocks = [[0, 0, 40, 20], [41, 30, 100, 50]].map(block);
    let found = order(block([0, 0, 100, 50]), &blocks, &saw, &Side::Piece).unwrap();
    let ways: Vec<(Way, i64)> =
        found.cuts.iter().map(|cut| (cut.way, cut.at.nanometers())).collect();
    let expected = [(Way::Along, 20), (Way::Along, 30), (Way::Across, 40), (Way::Across, 41)];
    assert_eq!(ways, expected);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn whatever_a_saw_has_parted_is_parted_again(
        choices in proptest::collection::vec(any::<u16>(), 1..60),
        kerf in 0..4_i64,
    ) {
        let stock = block([0, 0, 200, 100]);
        let mut blocks = Vec::new();
        parted(stock, kerf, &mut Choices(choices.iter()), &mut blocks);
        let saw = Saw { kerf: Length::from_nanometers(kerf), ..SAW };
        let found = order(stock, &blocks, &saw, &Side::Piece).expect("a saw has parted it");
        prop_assert_eq!(lawful(stock, &blocks, &found, kerf), Ok(()));
    }

    #[test]
    fn the_cuts_of_every_nest_part_its_pieces(instance in sheets()) {
        let found = nest(&instance, Options { effort: 1, seed: 1 }, &Silent);
        prop_assert!(!found.layouts.is_empty());
        for layout in &found.layouts {
            let sequence = sequence(&instance, layout).expect("sheets and rolls are cut from edge to edge");
            let stock = &instance.stocks[layout.stock];
            let stock = block([0, 0, stock.length.nanometers(), stock.width.nanometers()]);
            let rest = |rest: &Rest| block([
                rest.x.nanometers(),
                rest.y.nanometers(),
                (rest.x + rest.length).nanometers(),
                (rest.y + rest.width).nanometers(),
            ]);
            let kerf = instance.kerf.nanometers();
            let (parts, _) = sawn(stock, &sequence.cuts, kerf).unwrap();
            for placement in &layout.placements {
                let own = rest(&instance.placed(placement));
                prop_assert!(parts.contains(&own), "{own:?} does not come out whole");
            }
            let told = sequence.cuts.iter().flat_map(|cut| cut.sides);
            for (side, told) in told {
                let (is_there, own) = match side {
                    Side::Piece(piece) => (true, rest(&instance.placed(&layout.placements[piece]))),
                    Side::Offcut(offcut) => (true, rest(&layout.offcuts[offcut])),
                    Side::Waste => (true, rest(&told)),
                    _ => (false, rest(&told)),
                };
                prop_assert_eq!(own, rest(&told));
                prop_assert!(!is_there || parts.contains(&own));
            }
        }
    }
}

/// Sheets and rolls with a few sizes of pieces, small enough to be nested often.
fn sheets() -> impl Strategy<Value = Instance> {
    let piece = (2..60_i64, 2..40_i64, 1..4_u64, any::<bool>());
    let pieces = proptest::collection::vec(piece, 1..6);
    (pieces, 0..3_i64, 0..3_i64, any::<bool>()).prop_map(|(sides, kerf, trim, is_roll)| {
        let length = Length::from_nanometers;
        let mut pieces: Vec<Piece> = Vec::new();
        for (long, wide, count, may_turn) in sides {
            let (long, wide) = (length(long), length(wide));
            let piece = Piece { length: long, width: wide, count, may_turn, edges: Edges::None };
            let is_same = |known: &Piece| {
                (known.length, known.width, known.may_turn) == (long, wide, may_turn)
            };
            if !pieces.iter().any(is_same) {
                pieces.push(piece);
            }
        }
        let stock = Stock {
            length: length(if is_roll { 400 } else { 100 }),
            width: length(50),
            cost: Ratio::ONE,
            available: None,
        };
        let kind = if is_roll { Kind::Roll } else { Kind::Guillotine };
        let new = Instance::new(kind, vec![stock], pieces);
        Instance { kerf: length(kerf), trim: length(trim), offcut_min: Some(length(8)), ..new }
    })
}
