//! Rolls of membrane and carpet through the whole line: widths and prices, seams, the way of the nap, and how they are cut.

use cutbill::nest::Kind;
use cutbill::quantity::Ratio;

use super::{item, run, stocks};
use crate::line::Line;

const HEADER: &str = "parent,component,quantity,length,width,use,grain\n";

/// Runs a bill for an item `R` of form roll without kerf, 10 ft by 100 ft at 650 a roll unless `sizes` says otherwise.
#[track_caller]
fn roll(sizes: Option<&str>, settings: &str, lines: &str) -> Line {
    let bill = format!("{HEADER}{lines}");
    let settings = format!("key,value\n{settings}");
    let tables = [
        ("items", "item,form,unit,price_unit,kerf,grain\nR,roll,ft2,each,0,none\n"),
        ("sizes", sizes.unwrap_or("item,length,width,price\nR,100 ft,10 ft,650\n")),
        ("bill", bill.as_str()),
        ("settings", settings.as_str()),
    ];
    run(&tables, 1)
}

/// The length taken of the only item, in feet.
fn taken(line: &Line) -> Ratio {
    let nested = item(line, "R").nested.as_ref().unwrap();
    let lengths = nested
        .nest
        .layouts
        .iter()
        .map(|layout| layout.taken.to_ratio() * Ratio::whole(i128::from(layout.repeat)));
    lengths.sum::<Ratio>().checked_div(&cutbill::quantity::Length::FOOT.to_ratio()).unwrap()
}

// Computed: three pieces of 27 ft fill 81 of 100 ft, so seven without a seam take three rolls; spliced, 189 ft take two.
#[test]
fn a_piece_has_no_seam_and_a_run_has() {
    assert_eq!(stocks(&roll(None, "", "P,R,7,27 ft,10 ft,piece,\n"), "R"), Ratio::whole(3));
    assert_eq!(stocks(&roll(None, "", "P,R,7,27 ft,,run,\n"), "R"), Ratio::whole(2));
}

// Computed: 8 ft wide pieces leave 2 ft of the wide roll; the narrow one holds them at 500 a roll, not 650.
#[test]
fn of_several_widths_the_cheaper_is_taken() {
    let sizes = "item,length,width,price\nR,100 ft,10 ft,650\nR,100 ft,8 ft,500\n";
    let lines = "P,R,4,25 ft,8 ft,piece,\n";
    let line = roll(Some(sizes), "", lines);
    assert_eq!(
        (stocks(&line, "R"), item(&line, "R").nested.as_ref().unwrap().nest.cost.clone()),
        (Ratio::ONE, Ratio::whole(500))
    );
    let sizes = "item,length,width,price\nR,100 ft,10 ft,650\nR,100 ft,8 ft,700\n";
    let line = roll(Some(sizes), "", lines);
    assert_eq!(item(&line, "R").nested.as_ref().unwrap().nest.cost, Ratio::whole(650));
}

// Computed: 9 ft by 4 ft lie two abreast in three rows of 9 ft; turned they lie one after another, 4 ft each.
#[test]
fn what_has_a_nap_is_not_turned() {
    let straight = roll(None, "roll_charge,length\n", "P,R,6,9 ft,4 ft,piece,length\n");
    assert_eq!(taken(&straight), Ratio::whole(27));
    let turned = roll(None, "roll_charge,length\n", "P,R,6,9 ft,4 ft,piece,none\n");
    assert_eq!(taken(&turned), Ratio::whole(24));
}

// Computed: four pieces of 6 ft by 3 ft around a center fill 9 ft by 9 ft; cut across first, they take 12 ft.
#[test]
fn free_cutting_serves_rolls_too() {
    let sizes = "item,length,width,price\nR,90 ft,9 ft,900\n";
    let lines = "P,R,2,6 ft,3 ft,piece,length\nP,R,2,3 ft,6 ft,piece,length\n";
    let nested = |settings: &str| {
        let line = roll(Some(sizes), settings, lines);
        let nested = item(&line, "R").nested.clone().unwrap();
        (nested.instance.kind, nested.nest.cost)
    };
    assert_eq!(nested("roll_charge,length\n"), (Kind::Roll, Ratio::whole(120)));
    let free = "roll_charge,length\ncutting,free\n";
    assert_eq!(nested(free), (Kind::FreeRoll, Ratio::whole(90)));
}
