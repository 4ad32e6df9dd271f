//! Standard against actual, and the same figures as a bridge.

use cutbill::compare::{Deviation, Effect, Side, bridge, variances};
use cutbill::rollup::Rollup;

use crate::{Line, digits, run};

/// States the variances of every row of actuals.
fn told(line: &Line) -> Vec<String> {
    let checked = variances(&line.book, &line.needs, &line.rollup);
    assert_eq!(checked.warnings, []);
    let shown = |rollup: &Rollup, deviation: Option<Deviation>| match deviation {
        Some(deviation) => {
            assert_eq!(rollup.cost_digits, 4);
            let (whole, part) = (deviation.amount() / 10_000, deviation.amount() % 10_000);
            let amount = format!("{whole}.{part:04}");
            let amount = amount.trim_end_matches('0').trim_end_matches('.');
            format!("{amount} {}", deviation.verdict().name())
        }
        None => "-".to_owned(),
    };
    let rows = checked.value.iter().map(|variance| {
        let parts = [variance.price, variance.quantity, variance.total];
        parts.map(|part| shown(&line.rollup, part)).join(", ")
    });
    rows.collect()
}

#[track_caller]
fn check(items: &str, bill: &str, actuals: &str, expected: &[&str]) {
    let items = format!("item,form,unit,price\n{items}");
    let bill = format!("parent,component,quantity\n{bill}");
    let actuals = format!("item,plan,quantity,amount,units\n{actuals}");
    let tables = [("items", &*items), ("bill", &*bill), ("actuals", &*actuals)];
    assert_eq!(told(&run(&tables, 1)), expected);
    // What is measured out has the same standard in any lot.
    assert_eq!(told(&run(&tables, 7)), expected);
}

// Source: OpenStax, Principles of Accounting, Volume 2: Managerial Accounting, section 8.2 (direct materials variances).
#[test]
fn material_variances_are_those_of_the_textbook() {
    let (items, bill) = ("CANDY,bulk,lb,7\n", "P,CANDY,0.25\n");
    // 20 lb at 6.00 and at 9.00, standard 7.00; how many boxes they are for is not said.
    let bought = "CANDY,P,20,120,\nCANDY,P,20,180,\n";
    let expected = ["20 favorable, -, 20 favorable", "40 unfavorable, -, 40 unfavorable"];
    check(items, bill, bought, &expected);
    // Per box 0.20 lb and 0.50 lb, standard 0.25 lb; the last at 9.00: 0.50 x 9.00 - 0.25 x 7.00.
    let used = "CANDY,P,0.20,,1\nCANDY,P,0.50,,1\nCANDY,P,0.50,4.50,1\n";
    let expected = [
        "-, 0.35 favorable, 0.35 favorable",
        "-, 1.75 unfavorable, 1.75 unfavorable",
        "1 unfavorable, 1.75 unfavorable, 2.75 unfavorable",
    ];
    check(items, bill, used, &expected);
}

// Source: OpenStax, Principles of Accounting, Volume 2: Managerial Accounting, section 8.2, exercise on bottles; the total
// is computed.
#[test]
fn bottles_are_cheaper_by_price_and_dearer_by_quantity() {
    check(
        "PLASTIC,bulk,oz,0.85\n",
        "P,PLASTIC,8\n",
        "PLASTIC,P,89000,74760,11000\n",
        &["890 favorable, 850 unfavorable, 40 favorable"],
    );
}

// Source: OpenStax, Principles of Accounting, Volume 2: Managerial Accounting, section 8.5, exercise; totals are computed.
#[test]
fn labor_has_a_rate_and_an_efficiency_variance() {
    check(
        "RESIN,bulk,lb,15\nMOLDING,labor,hour,20\n",
        "P,RESIN,4\nP,MOLDING,2\n",
        "RESIN,P,50000,800000,10000\nMOLDING,P,25000,450000,10000\n",
        &[
            "50000 unfavorable, 150000 unfavorable, 200000 unfavorable",
            "50000 favorable, 100000 unfavorable, 50000 unfavorable",
        ],
    );
}

// Source: a published question and answer on direct material variances: 450 units at 6.50 against 430 at 6.90.
#[test]
fn variances_and_a_bridge_part_the_same_difference_alike() {
    check(
        "PART,count,each,6.90\n",
        "P,PART,430\n",
        "PART,P,450,2925,1\n",
        &["180 favorable, 138 unfavorable, 42 favorable"],
    );
    let book = |price: &str, quantity: &str| {
        let items = format!("item,form,unit,price\nPART,count,each,{price}\n");
        let bill = format!("parent,component,quantity\nP,PART,{quantity}\n");
        run(&[("items", &items), ("bill", &bill)], 1)
    };
    let (old, new) = (book("6.90", "430"), book("6.50", "450"));
    let bridge = bridge(side(&old), side(&new)).unwrap();
    assert_eq!(bridge.effect(Effect::Price).cost, -digits("180"));
    assert_eq!(bridge.effect(Effect::Quantity).cost, digits("138"));
    assert_eq!(bridge.end().cost - bridge.start().cost, -digits("42"));
}

fn side(line: &Line) -> Side<'_> {
    Side { book: &line.book, needs: &line.needs, rollup: &line.rollup, build: 0 }
}

// Computed: a standard with a nest's waste is met by cutting as the nest says.
#[test]
fn waste_of_the_standard_is_no_variance() {
    let tables = [
        ("items", "item,form,unit,price,price_unit\nRAIL,linear,ft,2,ft\n"),
        ("sizes", "item,length\nRAIL,10 ft\n"),
        ("bill", "parent,component,quantity,length,use\nP,RAIL,1,6 ft,piece\n"),
        (
            "actuals",
            "item,plan,quantity,amount,units\nRAIL,P,50 ft,100,5\nRAIL,P,60 ft,132,5\nRAIL,,60 ft,132,5\n",
        ),
    ];
    let expected = [
        "0 even, 0 even, 0 even",
        "12 unfavorable, 20 unfavorable, 32 unfavorable",
        "12 unfavorable, 20 unfavorable, 32 unfavorable",
    ];
    assert_eq!(told(&run(&tables, 1)), expected);
}

#[test]
fn what_has_no_standard_is_a_gap_and_what_no_plan_takes_has_a_price_only() {
    let tables = [
        ("items", "item,form,unit,price\nBOLT,count,each,2\nNUT,count,each,1\nRIVET,count,each,\n"),
        ("bill", "parent,component,quantity\nP,BOLT,4\n"),
        (
            "actuals",
            "item,plan,quantity,amount,units\nNUT,,10,12,\nNUT,P,10,12,1\nRIVET,,10,12,\nBOLT,,10,,1\n",
        ),
    ];
    let line = run(&tables, 1);
    let checked = variances(&line.book, &line.needs, &line.rollup);
    let findings: Vec<String> = checked.warnings.iter().map(ToString::to_string).collect();
    let expected = "gap: actuals.csv:4: column `item`: item `RIVET` has no standard price to hold its actuals against";
    assert_eq!(findings, [expected]);
    let amounts: Vec<_> = checked
        .value
        .iter()
        .map(|variance| {
            let amount = |deviation: Option<Deviation>| deviation.map(Deviation::amount);
            (variance.row, amount(variance.price), amount(variance.quantity))
        })
        .collect();
    let money = |text: &str| Some(digits(text));
    let expected = [
        (0, money("2"), None),
        // The plan should have taken none.
        (1, money("2"), money("10")),
        (3, None, money("12")),
    ];
    assert_eq!(amounts, expected);
}
