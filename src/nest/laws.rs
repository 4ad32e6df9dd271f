//! Laws that hold for nests of sticks, sheets and rolls alike.

use proptest::prelude::*;

use crate::model::Edges;
use crate::nest::check::check;
use crate::nest::{
    Ending, Instance, Kind, Layout, Nest, Options, Piece, Stock, UnplacedReason, nest,
};
use crate::quantity::{Length, Ratio};
use crate::watch::Silent;

fn millimeters(count: i64) -> Length {
    Length::MILLIMETER * count
}

fn quick(instance: &Instance) -> Nest {
    nest(instance, Options { effort: 1, seed: 3 }, &Silent)
}

prop_compose! {
    fn any_piece(kind: Kind)(
        length in 20_i64..700,
        width in 20_i64..500,
        count in 1_u64..9,
        may_turn in any::<bool>(),
    ) -> Piece {
        let width = if kind == Kind::Linear { 0 } else { width };
        Piece {
            length: millimeters(length),
            width: millimeters(width),
            count,
            may_turn: may_turn && kind != Kind::Linear,
            edges: Edges::None,
        }
    }
}

prop_compose! {
    fn any_stock(kind: Kind)(
        length in 700_i64..1500,
        width in 500_i64..900,
        cost in 1_i64..30,
        available in prop_oneof![2 => Just(None), 1 => (0_u64..6).prop_map(Some)],
    ) -> Stock {
        let width = if kind == Kind::Linear { 0 } else { width };
        Stock { length: millimeters(length), width: millimeters(width), cost: Ratio::from(cost), available }
    }
}

fn any_kind() -> impl Strategy<Value = Kind> {
    prop_oneof![
        Just(Kind::Linear),
        Just(Kind::Guillotine),
        Just(Kind::Free),
        Just(Kind::Roll),
        Just(Kind::FreeRoll)
    ]
}

fn of_kind(kind: Kind) -> impl Strategy<Value = Instance> {
    let stocks = proptest::collection::vec(any_stock(kind), 1..4);
    let pieces = proptest::collection::vec(any_piece(kind), 1..8);
    let stages = prop_oneof![3 => Just(None), 1 => (2_u32..5).prop_map(Some)];
    (stocks, pieces, 0_i64..6, 0_i64..12, stages).prop_map(
        move |(stocks, pieces, kerf, trim, max_stages)| {
            let mut distinct: Vec<Piece> = Vec::new();
            for piece in pieces {
                let is_alike =
                    |other: &Piece| (other.length, other.width) == (piece.length, piece.width);
                if !distinct.iter().any(is_alike) {
                    distinct.push(piece);
                }
            }
            let is_sheet = matches!(kind, Kind::Guillotine | Kind::Roll);
            Instance {
                kerf: millimeters(kerf),
                trim: millimeters(trim),
                offcut_min: Some(millimeters(60)),
                max_stages: max_stages.filter(|_| is_sheet),
                ..Instance::new(kind, stocks, distinct)
            }
        },
    )
}

fn any_instance() -> impl Strategy<Value = Instance> {
    any_kind().prop_flat_map(of_kind)
}

/// The layouts in an order that the numbers of pieces do not matter for.
fn sorted(mut layouts: Vec<Layout>) -> Vec<Layout> {
    for layout in &mut layouts {
        layout.placements.sort();
    }
    layouts.sort_by(|left, right| {
        (left.stock, &left.placements, left.repeat).cmp(&(
            right.stock,
            &right.placements,
            right.repeat,
        ))
    });
    layouts
}

/// Whether nothing is cheaper and nothing is left out.
fn is_best(nest: &Nest) -> bool {
    nest.ending == Ending::Proven && nest.unplaced.is_empty()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn another_order_of_pieces_gives_the_same_layouts(instance in any_instance()) {
        let mut other = instance.clone();
        other.pieces.reverse();
        let (one, mut turned) = (quick(&instance), quick(&other));
        for layout in &mut turned.layouts {
            for placement in &mut layout.placements {
                placement.piece = instance.pieces.len() - 1 - placement.piece;
            }
        }
        prop_assert_eq!(one.cost, turned.cost);
        prop_assert_eq!(one.bound, turned.bound);
        prop_assert_eq!(sorted(one.layouts), sorted(turned.layouts));
    }

    #[test]
    fn one_more_stock_size_never_costs_more(instance in any_instance(), more in any_kind().prop_flat_map(any_stock)) {
        let mut wider = instance.clone();
        let width = if instance.kind == Kind::Linear { Length::ZERO } else { millimeters(600) };
        wider.stocks.push(Stock { width, ..more });
        let (few, many) = (quick(&instance), quick(&wider));
        if is_best(&few) && is_best(&many) {
            prop_assert!(many.cost <= few.cost);
        }
    }

    #[test]
    fn leave_to_turn_never_costs_more(instance in any_instance()) {
        let mut free = instance.clone();
        free.pieces.iter_mut().for_each(|piece| piece.may_turn = instance.kind != Kind::Linear);
        let (fixed, free) = (quick(&instance), quick(&free));
        if is_best(&fixed) && is_best(&free) {
            prop_assert!(free.cost <= fixed.cost);
        }
    }

    #[test]
    fn a_limit_lifted_never_costs_more(instance in any_instance()) {
        let mut free = instance.clone();
        free.stocks.iter_mut().for_each(|stock| stock.available = None);
        free.max_stages = None;
        let (limited, free) = (quick(&instance), quick(&free));
        if is_best(&limited) && is_best(&free) {
            prop_assert!(free.cost <= limited.cost);
        }
    }

    #[test]
    fn lengths_times_a_factor_give_layouts_times_it(instance in any_instance(), factor in 2_i64..50) {
        let mut large = instance.clone();
        for stock in &mut large.stocks {
            (stock.length, stock.width) = (stock.length * factor, stock.width * factor);
        }
        for piece in &mut large.pieces {
            (piece.length, piece.width) = (piece.length * factor, piece.width * factor);
        }
        large.kerf = large.kerf * factor;
        large.trim = large.trim * factor;
        large.offcut_min = large.offcut_min.map(|least| least * factor);
        let (small, large) = (quick(&instance), quick(&large));
        let mut scaled = small.clone();
        for layout in &mut scaled.layouts {
            for placement in &mut layout.placements {
                (placement.x, placement.y) = (placement.x * factor, placement.y * factor);
            }
            for rest in layout.offcuts.iter_mut().chain(&mut layout.splices) {
                (rest.x, rest.y) = (rest.x * factor, rest.y * factor);
                (rest.length, rest.width) = (rest.length * factor, rest.width * factor);
            }
            layout.taken = layout.taken * factor;
        }
        prop_assert_eq!(scaled, large);
    }

    /// A kerf is one more length of each piece, and of the stick after its last piece.
    #[test]
    fn kerf_on_sticks_is_a_longer_piece_on_a_longer_stick(instance in of_kind(Kind::Linear)) {
        let mut plain = instance.clone();
        plain.kerf = Length::ZERO;
        plain.trim = Length::ZERO;
        plain.stocks.iter_mut().for_each(|stock| {
            stock.length = stock.length - instance.trim * 2 + instance.kerf;
        });
        plain.pieces.iter_mut().for_each(|piece| piece.length = piece.length + instance.kerf);
        let (with, without) = (quick(&instance), quick(&plain));
        prop_assert_eq!(&with.cost, &without.cost);
        prop_assert_eq!(&with.bound.cost, &without.bound.cost);
        let counts = |nest: &Nest| nest.layouts.iter().map(|layout| layout.repeat).sum::<u64>();
        prop_assert_eq!(counts(&with), counts(&without));
    }
}

/// A billion pieces are cut by the pattern, not one by one.
#[test]
fn a_billion_pieces_are_nested() {
    for kind in [Kind::Linear, Kind::Guillotine, Kind::Free, Kind::Roll, Kind::FreeRoll] {
        let width = |width: i64| {
            if kind == Kind::Linear { Length::ZERO } else { millimeters(width) }
        };
        let piece = |length: i64, across: i64| Piece {
            length: millimeters(length),
            width: width(across),
            count: 1_000_000_000,
            may_turn: false,
            edges: Edges::None,
        };
        let stock = Stock {
            length: millimeters(2440),
            width: width(1220),
            cost: Ratio::ONE,
            available: None,
        };
        let mut instance =
            Instance::new(kind, vec![stock], vec![piece(700, 400), piece(510, 333), piece(95, 80)]);
        instance.kerf = millimeters(3);
        let nest = quick(&instance);
        assert_eq!(check(&instance, &nest), Ok(()));
        assert_eq!(nest.unplaced, []);
    }
}

/// A trim that takes the whole stock leaves every piece out, with the reason.
#[test]
fn a_trim_larger_than_the_stock_leaves_all_out() {
    for kind in [Kind::Linear, Kind::Guillotine, Kind::Free, Kind::Roll, Kind::FreeRoll] {
        let width = if kind == Kind::Linear { Length::ZERO } else { millimeters(100) };
        let piece =
            Piece { length: millimeters(50), width, count: 3, may_turn: false, edges: Edges::None };
        let length = millimeters(100);
        let stock = Stock { length, width, cost: Ratio::ONE, available: None };
        let mut instance = Instance::new(kind, vec![stock], vec![piece]);
        instance.trim = millimeters(60);
        let nest = quick(&instance);
        let unplaced: Vec<(u64, UnplacedReason)> =
            nest.unplaced.iter().map(|unplaced| (unplaced.count, unplaced.reason)).collect();
        assert_eq!(unplaced, [(3, UnplacedReason::TooLarge)]);
        assert_eq!(check(&instance, &nest), Ok(()));
    }
}

/// A kerf wider than the piece wastes stock, but the piece is cut.
#[test]
fn a_kerf_wider_than_the_piece_is_kept() {
    for kind in [Kind::Linear, Kind::Guillotine, Kind::Free, Kind::Roll, Kind::FreeRoll] {
        let width = if kind == Kind::Linear { Length::ZERO } else { millimeters(5) };
        let piece =
            Piece { length: millimeters(5), width, count: 7, may_turn: false, edges: Edges::None };
        let stock = Stock { length: millimeters(100), width, cost: Ratio::ONE, available: None };
        let mut instance = Instance::new(kind, vec![stock], vec![piece]);
        instance.kerf = millimeters(20);
        let nest = quick(&instance);
        assert_eq!(check(&instance, &nest), Ok(()));
        assert_eq!((nest.cost.clone(), nest.ending), (Ratio::whole(2), Ending::Proven));
    }
}
