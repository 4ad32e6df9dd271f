use proptest::prelude::*;

use super::scale::{Scale, reachable, scales};
use super::*;
use crate::model::Edges;
use crate::nest::{Instance, Kind, Piece, Stock};

fn nm(value: i64) -> Length {
    Length::from_nanometers(value)
}

fn instance(stocks: &[(i64, i64, i128)], pieces: &[(i64, i64, u64)], may_turn: bool) -> Instance {
    let stock = |&(length, width, cost): &(i64, i64, i128)| Stock {
        length: nm(length),
        width: nm(width),
        cost: Ratio::whole(cost),
        available: None,
    };
    let piece = |&(length, width, count): &(i64, i64, u64)| Piece {
        length: nm(length),
        width: nm(width),
        count,
        may_turn,
        edges: Edges::None,
    };
    Instance::new(
        Kind::Guillotine,
        stocks.iter().map(stock).collect(),
        pieces.iter().map(piece).collect(),
    )
}

#[track_caller]
fn check(instance: &Instance, cost: i128, stocks: u64, method: &str) {
    let bound = sheets(&Problem::new(instance), instance.run);
    assert_eq!((bound.cost, bound.stocks, bound.method), (Ratio::whole(cost), stocks, method));
}

#[test]
fn large_pieces_never_share_a_sheet() {
    // Each takes 26 percent of the area, but no two lie side by side or above each other.
    let pieces = [(51, 51, 9)];
    check(&instance(&[(100, 100, 3)], &pieces, false), 27, 9, "usable area");
    check(&instance(&[(100, 100, 3)], &pieces, true), 27, 9, "usable area");
    // A small one makes 100 reachable again.
    let pieces = [(51, 51, 9), (49, 1, 1), (1, 49, 1)];
    check(&instance(&[(100, 100, 3)], &pieces, false), 27, 9, "dual feasible functions");
}

#[test]
fn long_pieces_are_counted_by_their_width() {
    // Two of width 34 a sheet, as three would need 102; turned they would be too long.
    check(&instance(&[(100, 100, 1)], &[(60, 34, 10)], false), 5, 5, "usable area");
    // None beside another; of widths 50, 34 and 16 one each to a sheet: 300 of 100.
    let pieces = [(60, 50, 3), (60, 34, 3), (60, 16, 3)];
    check(&instance(&[(100, 100, 1)], &pieces, false), 3, 3, "usable area");
    let pieces = [(60, 50, 3), (60, 34, 3), (60, 16, 3), (40, 1, 1)];
    check(&instance(&[(100, 100, 1)], &pieces, false), 3, 3, "dual feasible functions");
}

#[test]
fn turning_weakens_the_bound() {
    // Lying straight one a sheet, turned two side by side.
    let pieces = [(100, 40, 4)];
    let straight = sheets(&Problem::new(&instance(&[(100, 79, 1)], &pieces, false)), nm(0));
    assert_eq!(straight.stocks, 4);
    let pieces = [(70, 40, 4)];
    let straight = sheets(&Problem::new(&instance(&[(80, 79, 1)], &pieces, false)), nm(0));
    let turned = sheets(&Problem::new(&instance(&[(80, 79, 1)], &pieces, true)), nm(0));
    assert_eq!((straight.stocks, turned.stocks), (4, 2));
}

#[test]
fn reach_counts_what_no_sum_of_pieces_uses() {
    // Lengths of 30 reach 90 of 100, widths of 45 reach 90: so six pieces fill a sheet.
    check(&instance(&[(100, 100, 1)], &[(30, 45, 7)], false), 2, 2, "usable area");
}

#[test]
fn mix_of_sizes_is_covered_by_whole_stocks() {
    // Area 250 of sheets of 100 for 10 and of 60 for 7: 100 + 100 + 60 for 27; parts alone would give 25.
    let stocks = [(10, 10, 10), (10, 6, 7)];
    check(&instance(&stocks, &[(1, 1, 250)], false), 27, 3, "area");
}

#[test]
fn stock_that_is_limited_is_counted_so_often() {
    let mut limited = instance(&[(10, 10, 0), (10, 10, 5)], &[(10, 5, 10)], false);
    limited.stocks[0].available = Some(2);
    check(&limited, 15, 5, "area");
}

#[test]
fn cost_is_rounded_up_to_what_stocks_can_cost() {
    let mut one = instance(&[(10, 10, 0)], &[(10, 4, 3)], false);
    one.stocks[0].cost = Ratio::new(3187, 100).unwrap();
    let bound = sheets(&Problem::new(&one), nm(0));
    assert_eq!(bound.cost, Ratio::new(6374, 100).unwrap());
}

#[test]
fn strips_count_the_edges_they_need() {
    let mut floor = instance(&[(96, 48, 1)], &[(96, 3, 20), (96, 48, 120)], false);
    floor.pieces[0].edges = Edges::One;
    floor.pieces[1].edges = Edges::Both;
    check(&floor, 130, 130, "factory edges");
}

#[test]
fn run_counts_whole_width() {
    let mut roll = instance(&[(1000, 100, 7)], &[(400, 60, 3)], false);
    roll.kind = Kind::Roll;
    roll.run = nm(2000);
    // No two pieces lie abreast: 1200 and 2000 of 1000.
    check(&roll, 28, 4, "dual feasible functions");
    roll.pieces[0].width = nm(50);
    // Abreast they take at least 600.
    check(&roll, 21, 3, "area");
}

#[test]
fn roll_charged_by_length_is_bounded_by_length() {
    let mut roll = instance(&[(1000, 100, 10)], &[(400, 60, 3)], false);
    roll.kind = Kind::Roll;
    roll.charges_length = true;
    // No two lie side by side: 1200 of 1000 for 10.
    check(&roll, 12, 2, "usable area");
}

proptest! {
    /// The definition: no set of sizes within the extent counts more than the extent, for every subset there is.
    #[test]
    fn scales_are_dual_feasible(
        extent in 10_i64..60,
        sizes in proptest::collection::vec(1_i64..60, 1..9),
        part in 1_i64..60,
    ) {
        let sizes: Vec<i64> = sizes.into_iter().filter(|size| *size <= extent).collect();
        let part = part.min(extent);
        let counted: Vec<(i64, u64)> = sizes.iter().map(|size| (*size, 1)).collect();
        for scale in scales(extent, &counted) {
            for subset in 0_u32..1 << sizes.len() {
                let chosen = || {
                    sizes.iter().enumerate().filter(|(index, _)| subset >> index & 1 == 1)
                };
                let sum: i64 = chosen().map(|(_, size)| size).sum();
                let value: i128 = chosen().map(|(_, size)| scale.value(*size, extent)).sum();
                if sum <= part {
                    prop_assert!(value <= scale.most(part, extent), "{:?} {:?}", scale, sizes);
                }
            }
        }
    }

    #[test]
    fn reach_is_the_largest_sum(
        extent in 1_i64..80,
        pieces in proptest::collection::vec((1_i64..50, 1_u64..3), 0..6),
    ) {
        let listed: Vec<(Vec<i64>, u64)> =
            pieces.iter().map(|(size, count)| (vec![*size], *count)).collect();
        let mut sums = vec![0];
        for (size, count) in pieces {
            for _ in 0..count {
                let longer: Vec<i64> = sums.iter().map(|sum| sum + size).collect();
                sums.extend(longer);
            }
        }
        let largest = sums.into_iter().filter(|sum| *sum <= extent).max();
        prop_assert_eq!(Some(reachable(&[extent], &listed)[0]), largest);
    }
}

#[test]
fn whole_scale_is_always_there() {
    assert!(matches!(scales(10, &[])[0], Scale::Whole));
}

/// One piece fits the wide roll alone and costs 800 there, a second lies beside it for nothing, a third fills the narrow roll.
/// By the same values for both rolls the narrow one would do for the first as well.
#[test]
fn each_roll_counts_widths_its_own_way() {
    let stocks = [(1000, 100, 1000), (1000, 150, 1600)];
    let mut rolls = instance(&stocks, &[(500, 110, 1), (500, 40, 1), (1, 100, 1)], false);
    rolls.kind = Kind::Roll;
    rolls.charges_length = true;
    let bound = sheets(&Problem::new(&rolls), Length::ZERO);
    let method = "dual feasible functions by roll";
    assert_eq!((bound.cost, bound.method), (Ratio::whole(801), method));
    // A run of full width adds its length of the cheaper roll.
    rolls.run = nm(100);
    assert_eq!(sheets(&Problem::new(&rolls), rolls.run).cost, Ratio::whole(901));
}
