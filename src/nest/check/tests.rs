use super::*;
use crate::nest::{Bound, BoundRule, Piece, Placement, Rest, Stock, Unplaced};

fn nm(value: i64) -> Length {
    Length::from_nanometers(value)
}

fn piece(length: i64, width: i64, count: u64, edges: Edges) -> Piece {
    Piece { length: nm(length), width: nm(width), count, may_turn: false, edges }
}

fn at(piece: usize, x: i64, y: i64) -> Placement {
    Placement { piece, x: nm(x), y: nm(y), is_turned: false }
}

fn rest(x: i64, y: i64, length: i64, width: i64) -> Rest {
    Rest { x: nm(x), y: nm(y), length: nm(length), width: nm(width) }
}

fn instance(kind: Kind, length: i64, width: i64, pieces: Vec<Piece>) -> Instance {
    let stock =
        Stock { length: nm(length), width: nm(width), cost: Ratio::whole(7), available: None };
    Instance { kerf: nm(2), ..Instance::new(kind, vec![stock], pieces) }
}

fn layout(placements: Vec<Placement>, taken: i64) -> Layout {
    Layout {
        stock: 0,
        repeat: 1,
        placements,
        splices: Vec::new(),
        offcuts: Vec::new(),
        taken: nm(taken),
    }
}

fn nest(layouts: Vec<Layout>) -> Nest {
    let count: u64 = layouts.iter().map(|layout| layout.repeat).sum();
    let cost = Ratio::whole(7 * i128::from(count));
    let bound = Bound { cost: cost.clone(), stocks: count, rule: BoundRule::Any, method: "area" };
    Nest { layouts, unplaced: Vec::new(), cost, bound, ending: Ending::Proven }
}

/// Two pieces 40 x 20 side by side on a sheet 100 x 50.
fn sheet() -> (Instance, Nest) {
    let instance = instance(Kind::Guillotine, 100, 50, vec![piece(40, 20, 2, Edges::None)]);
    (instance, nest(vec![layout(vec![at(0, 0, 0), at(0, 42, 0)], 84)]))
}

#[track_caller]
fn check_faults(case: &(Instance, Nest), faults: &[&str]) {
    let found = check(&case.0, &case.1).err().unwrap_or_default();
    assert_eq!(found, faults);
}

#[track_caller]
fn check_changed(change: impl FnOnce(&mut Instance, &mut Nest), fault: &str) {
    let mut case = sheet();
    change(&mut case.0, &mut case.1);
    check_faults(&case, &[fault]);
}

#[test]
fn good_sheet_passes() {
    check_faults(&sheet(), &[]);
}

#[test]
fn kerf_is_kept() {
    check_changed(
        |_, nest| {
            nest.layouts[0].placements[1].x = nm(41);
            nest.layouts[0].taken = nm(83);
        },
        "layout 0: piece 0 at (0, 0) and piece 0 at (41, 0) are not a kerf apart",
    );
}

#[test]
fn pieces_stay_inside() {
    check_changed(
        |_, nest| {
            nest.layouts[0].placements[1].x = nm(61);
            nest.layouts[0].taken = nm(100);
        },
        "layout 0: piece 0 at (61, 0) is not inside the stock less trim",
    );
}

#[test]
fn trim_is_kept() {
    check_changed(
        |instance, nest| {
            instance.trim = nm(3);
            nest.layouts[0].placements = vec![at(0, 3, 3), at(0, 45, 2)];
            nest.layouts[0].taken = nm(87);
        },
        "layout 0: piece 0 at (45, 2) is not inside the stock less trim",
    );
}

#[test]
fn grain_is_kept() {
    check_changed(
        |_, nest| {
            nest.layouts[0].placements[1].is_turned = true;
            nest.layouts[0].taken = nm(64);
        },
        "layout 0: piece 0 at (42, 0) is turned",
    );
}

#[test]
fn unknown_stock_and_piece_are_found() {
    check_changed(|_, nest| nest.layouts[0].stock = 1, "layout 0: no stock 1");
    check_changed(|_, nest| nest.layouts[0].placements[0].piece = 5, "layout 0: no piece 5");
    check_changed(|_, nest| nest.layouts[0].repeat = 0, "layout 0: repeated zero times");
    check_changed(|_, nest| nest.layouts[0].placements.clear(), "layout 0: holds no piece");
}

#[test]
fn order_is_kept() {
    check_changed(
        |_, nest| nest.layouts[0].placements.reverse(),
        "layout 0: placements are not in order of x, then y",
    );
    let (mut instance, _) = sheet();
    instance.pieces[0].count = 3;
    let one = layout(vec![at(0, 0, 0)], 42);
    let two = layout(vec![at(0, 0, 10)], 42);
    let mut often = layout(vec![at(0, 0, 20)], 42);
    check_faults(
        &(instance.clone(), nest(vec![one.clone(), two.clone(), one.clone()])),
        &["layouts are not in order of repeat, stock and placements", "layout 2 is listed twice"],
    );
    often.repeat = 2;
    check_faults(
        &(instance, nest(vec![one, often])),
        &["layouts are not in order of repeat, stock and placements"],
    );
}

#[test]
fn taken_is_the_end_of_the_last_cut() {
    check_changed(|_, nest| nest.layouts[0].taken = nm(82), "layout 0: 84 nm are taken, not 82");
}

#[test]
fn demand_is_met_exactly() {
    check_changed(|instance, _| instance.pieces[0].count = 3, "piece 0 is wanted 3 times, not 2");
    check_changed(|instance, _| instance.pieces[0].count = 1, "piece 0 is wanted 1 times, not 2");
}

fn left_out(piece: Option<usize>, reason: UnplacedReason) -> Unplaced {
    Unplaced { piece, count: 1, reason }
}

#[test]
fn reasons_are_true() {
    check_changed(
        |instance, nest| {
            instance.pieces[0].count = 3;
            nest.unplaced = vec![left_out(Some(0), UnplacedReason::TooLarge)];
        },
        "piece 0 is called too large but fits stock 0",
    );
    check_changed(
        |instance, nest| {
            instance.pieces[0].count = 3;
            instance.stocks[0].available = Some(2);
            nest.unplaced = vec![left_out(Some(0), UnplacedReason::NoStock)];
            nest.ending = Ending::Effort;
        },
        "piece 0 is said to lack stock, but stock 0 is left",
    );
    check_changed(
        |instance, nest| {
            instance.pieces.push(piece(101, 10, 1, Edges::None));
            nest.unplaced = vec![left_out(Some(1), UnplacedReason::NoStock)];
            nest.ending = Ending::Effort;
        },
        "piece 1 lacks no stock: it fits none",
    );
    check_changed(
        |_, nest| {
            nest.unplaced = vec![left_out(Some(9), UnplacedReason::TooLarge)];
        },
        "no piece 9 to leave unplaced",
    );
    check_changed(
        |instance, nest| {
            instance.pieces[0].count = 3;
            instance.stocks[0].available = Some(1);
            nest.unplaced = vec![left_out(Some(0), UnplacedReason::NoStock)];
        },
        "called proven with pieces that lack stock",
    );
}

#[test]
fn available_stock_is_not_exceeded() {
    check_changed(
        |instance, _| instance.stocks[0].available = Some(0),
        "stock 0 is taken 1 times, above 0",
    );
}

#[test]
fn cost_and_bound_agree() {
    check_changed(
        |_, nest| {
            nest.cost = Ratio::whole(8);
            nest.bound.cost = Ratio::whole(8);
        },
        "the stock taken costs 7, not 8",
    );
    check_changed(
        |_, nest| {
            nest.bound.cost = Ratio::whole(8);
            nest.ending = Ending::Effort;
        },
        "the bound 8 is above the cost 7",
    );
    check_changed(|_, nest| nest.bound.stocks = 2, "the bound of 2 stocks is above the 1 taken");
    check_changed(|_, nest| nest.bound.cost = Ratio::whole(6), "called proven below its cost");
}

/// Five pieces around a hole, the least layout no guillotine cuts.
fn pinwheel(kind: Kind) -> (Instance, Nest) {
    let pieces = vec![piece(60, 28, 2, Edges::None), piece(28, 60, 2, Edges::None)];
    let placements = vec![at(0, 0, 0), at(1, 0, 30), at(0, 30, 62), at(1, 62, 0)];
    (instance(kind, 90, 90, pieces), nest(vec![layout(placements, 90)]))
}

#[test]
fn pinwheel_needs_free_cutting() {
    check_faults(&pinwheel(Kind::Free), &[]);
    check_faults(&pinwheel(Kind::FreeRoll), &[]);
    let fault = "layout 0: no cut from edge to edge parts piece 0 at (0, 0), piece 1 at (62, 0), piece 0 at (30, 62)";
    for kind in [Kind::Guillotine, Kind::Roll] {
        let found = check(&pinwheel(kind).0, &pinwheel(kind).1).err().unwrap_or_default();
        assert_eq!(found.len(), 1);
        assert!(found[0].starts_with(&fault[..51]), "{found:?}");
    }
}

#[test]
fn stages_are_counted() {
    // A column of one piece beside a column of two, above which lies nothing: cuts across, then along, then across.
    let pieces = vec![piece(20, 50, 1, Edges::None), piece(10, 10, 3, Edges::None)];
    let placements = vec![at(0, 0, 0), at(1, 22, 0), at(1, 28, 12), at(1, 34, 0)];
    let mut case = (instance(Kind::Guillotine, 60, 50, pieces), nest(vec![layout(placements, 46)]));
    case.0.max_stages = Some(3);
    check_faults(&case, &[]);
    case.0.max_stages = Some(2);
    check_faults(&case, &["layout 0: 3 stages of cuts, above 2"]);
    // A roll's first cuts go across.
    let pieces = vec![piece(30, 10, 2, Edges::None), piece(14, 10, 2, Edges::None)];
    let placements = vec![at(0, 0, 0), at(1, 0, 12), at(1, 16, 12), at(0, 0, 24)];
    let mut placements = placements;
    placements.sort_by_key(|placement| (placement.x, placement.y));
    let mut case = (instance(Kind::Roll, 60, 50, pieces), nest(vec![layout(placements, 32)]));
    case.0.max_stages = Some(2);
    check_faults(&case, &["layout 0: 3 stages of cuts, above 2"]);
    case.0.kind = Kind::Guillotine;
    check_faults(&case, &[]);
}

#[test]
fn factory_edges_are_kept() {
    let pieces = vec![piece(40, 10, 1, Edges::One)];
    let mut case = (instance(Kind::Guillotine, 100, 50, pieces), nest(vec![]));
    case.0.trim = nm(2);
    case.1 = nest(vec![layout(vec![at(0, 2, 40)], 44)]);
    check_faults(&case, &[]);
    case.1.layouts[0].placements[0].y = nm(39);
    check_faults(&case, &["layout 0: piece 0 at (2, 39) has no factory edge"]);
    case.1.layouts[0].placements[0] = at(0, 1, 0);
    case.1.layouts[0].taken = nm(43);
    check_faults(&case, &["layout 0: piece 0 at (1, 0) is not inside the stock less trim"]);
    case.0.pieces[0] = piece(40, 49, 1, Edges::One);
    case.1.layouts[0] = layout(vec![at(0, 2, 0)], 44);
    check_faults(&case, &["layout 0: piece 0 at (2, 0) is not inside the stock less trim"]);
    case.0.pieces[0] = piece(40, 50, 1, Edges::Both);
    check_faults(&case, &[]);
    case.0.pieces[0] = piece(40, 48, 1, Edges::Both);
    check_faults(&case, &["layout 0: piece 0 at (2, 0) has not both factory edges"]);
    case.0.pieces[0] = piece(40, 50, 1, Edges::Both);
    case.0.pieces[0].may_turn = true;
    case.1.layouts[0].placements[0].is_turned = true;
    let found = check(&case.0, &case.1).err().unwrap_or_default();
    assert_eq!(found[0], "layout 0: piece 0 at (2, 0) is turned");
}

#[test]
fn offcuts_are_whole_and_large_enough() {
    let offcut = |change: fn(&mut Nest), minimum: Option<i64>, fault: &str| {
        let mut case = sheet();
        case.0.offcut_min = minimum.map(nm);
        change(&mut case.1);
        let faults = if fault.is_empty() { vec![] } else { vec![fault] };
        check_faults(&case, &faults);
    };
    offcut(|nest| nest.layouts[0].offcuts = vec![rest(84, 0, 16, 50)], Some(16), "");
    let small = "layout 0: offcut at (84, 0) is smaller than the smallest offcut";
    offcut(|nest| nest.layouts[0].offcuts = vec![rest(84, 0, 16, 50)], Some(17), small);
    offcut(|nest| nest.layouts[0].offcuts = vec![rest(84, 0, 16, 50)], None, small);
    let outside = "layout 0: offcut at (84, 0) is not inside the stock";
    offcut(|nest| nest.layouts[0].offcuts = vec![rest(84, 0, 17, 50)], Some(16), outside);
    let near = "layout 0: piece 0 at (42, 0) and offcut at (83, 0) are not a kerf apart";
    offcut(|nest| nest.layouts[0].offcuts = vec![rest(83, 0, 17, 50)], Some(16), near);
}

/// A roll 100 x 50 with one piece 40 x 50 and a run of 90 in splices of at least 20.
fn roll() -> (Instance, Nest) {
    let mut instance = instance(Kind::Roll, 100, 50, vec![piece(40, 50, 1, Edges::None)]);
    instance.run = nm(90);
    instance.splice_min = nm(20);
    let mut first = layout(vec![at(0, 0, 0)], 100);
    first.splices = vec![rest(42, 0, 58, 50)];
    let mut second = layout(vec![], 34);
    second.splices = vec![rest(0, 0, 32, 50)];
    (instance, nest(vec![second, first]))
}

#[test]
fn runs_are_met_in_good_splices() {
    check_faults(&roll(), &[]);
    let changed = |change: fn(&mut Instance, &mut Nest), fault: &str| {
        let mut case = roll();
        change(&mut case.0, &mut case.1);
        check_faults(&case, &[fault]);
    };
    changed(|instance, _| instance.run = nm(91), "the run is neither met nor unplaced");
    changed(
        |instance, _| instance.splice_min = nm(33),
        "layout 0: splice at (0, 0) is shorter than the shortest splice",
    );
    changed(
        |_, nest| nest.layouts[0].splices[0].width = nm(49),
        "layout 0: splice at (0, 0) is not as wide as the stock",
    );
    changed(
        |_, nest| nest.layouts[1].splices[0].length = nm(59),
        "layout 1: splice at (42, 0) is not inside the stock less trim",
    );
    changed(
        |_, nest| {
            nest.layouts[0].splices = vec![rest(32, 0, 20, 50), rest(0, 0, 20, 50)];
            nest.layouts[0].taken = nm(54);
        },
        "layout 0: splices are not in order of x",
    );
    changed(
        |_, nest| nest.layouts[1].splices[0] = rest(41, 0, 59, 50),
        "layout 1: piece 0 at (0, 0) and splice at (41, 0) are not a kerf apart",
    );
    changed(
        |_, nest| {
            nest.unplaced = vec![left_out(None, UnplacedReason::NoStock)];
            nest.ending = Ending::Effort;
        },
        "the run is met and unplaced",
    );
    changed(
        |instance, nest| {
            instance.run = nm(91);
            nest.unplaced = vec![left_out(None, UnplacedReason::TooLarge)];
        },
        "the run is called too large but fits stock 0",
    );
    let mut case = sheet();
    case.0.pieces[0].count = 1;
    case.1.layouts[0] = layout(vec![at(0, 0, 0)], 64);
    case.1.layouts[0].splices = vec![rest(42, 0, 20, 50)];
    check_faults(&case, &["layout 0: a sheet holds a splice"]);
}

#[test]
fn length_taken_is_charged_on_rolls_alone() {
    let mut case = roll();
    case.0.charges_length = true;
    let cost = Ratio::new(7 * 134, 100).unwrap();
    case.1.cost = cost.clone();
    case.1.bound.cost = cost;
    check_faults(&case, &[]);
    case.0.kind = Kind::FreeRoll;
    check_faults(&case, &[]);
    case.0.charges_length = false;
    check_faults(&case, &["the stock taken costs 14, not 469/50"]);
}

#[test]
fn sticks_are_checked_by_length() {
    let mut case =
        (instance(Kind::Linear, 100, 0, vec![piece(49, 0, 2, Edges::None)]), nest(vec![]));
    case.1 = nest(vec![layout(vec![at(0, 0, 0), at(0, 51, 0)], 100)]);
    check_faults(&case, &[]);
    case.0.kerf = nm(3);
    check_faults(
        &case,
        &["layout 0: piece 0 at (0, 0) and piece 0 at (51, 0) are not a kerf apart"],
    );
    case.0.kerf = nm(2);
    case.0.trim = nm(1);
    check_faults(
        &case,
        &[
            "layout 0: piece 0 at (0, 0) is not inside the stock less trim",
            "layout 0: piece 0 at (51, 0) is not inside the stock less trim",
        ],
    );
}
