use super::*;
use crate::model::AssemblyTerms;
use crate::model::LeadTime;
use crate::model::LotRule;
use crate::model::OrderTerms;
use crate::model::PriceTerms;
use crate::model::SafetyStock;
use crate::quantity::Dimension;

const HEAD: &str = "item,form,unit,pack,price,weight,lot_rule,lot_size,order_cost,holding_cost,safety_stock,lead_days,\
order_multiple,order_minimum,tolerance_percent\n";

/// Reads items under all columns of order terms.
fn items(rows: &str) -> String {
    format!(
        "{HEAD}SCREW,count,,,1,1,,,,,,,,,\nPLY-18,sheet,,,1,1,,,,,,,,,\nSTUD,linear,,,1,1,,,,,,,,,\n{rows}"
    )
}

#[test]
fn order_terms_of_items_are_read() {
    let book = valid(&[(
        "items",
        &items(
            "BOLT,count,,100/box,1,1,Economic,,$65,4.10,8,2 wk,4,6,2 %\n\
             GLUE,bulk,gal,5 gal/pail,1,1,fixed,2.5,,,10,3.2,0.5,1.5,\n\
             WIRE,bulk,ft,,1,1,period,2,,,100 yd,,,,\n\
             NUT,count,dozen,,1,1,Lot for lot,,,,3,,,,\n\
             VENT,count,,,1,1,period,,5,1,2 weeks,,,,\n",
        ),
    )]);
    let number = |digits, places| Some(Ratio::decimal(digits, places));
    let bolt = OrderTerms {
        lot_rule: LotRule::EconomicQuantity,
        lot_size: None,
        order_cost: number(65, 0),
        holding_cost: number(41, 1),
        safety_stock: Some(SafetyStock::Amount(Ratio::whole(8))),
        lead_time: Some(LeadTime::Weeks(2)),
        multiple: number(4, 0),
        minimum: number(6, 0),
    };
    assert_eq!((&book.items[3].order, &book.items[3].tolerance), (&bolt, &number(2, 2)));
    // A gallon is 231 cubic inches (NIST Handbook 44, appendix C).
    let gallon = Ratio::whole(231) * Length::INCH.to_ratio().power(3);
    let glue = OrderTerms {
        lot_rule: LotRule::FixedQuantity,
        lot_size: number(25, 1),
        safety_stock: Some(SafetyStock::Amount(gallon * Ratio::whole(10))),
        lead_time: Some(LeadTime::Days(4)),
        multiple: number(5, 1),
        minimum: number(15, 1),
        ..OrderTerms::default()
    };
    assert_eq!(book.items[4].order, glue);
    let yards = Ratio::whole(300) * Length::FOOT.to_ratio();
    assert_eq!(book.items[5].order.lot_rule, LotRule::PeriodQuantity);
    assert_eq!(book.items[5].order.safety_stock, Some(SafetyStock::Amount(yards)));
    let three_dozen = SafetyStock::Amount(Ratio::whole(36));
    assert_eq!(book.items[6].unit.dimension, Dimension::NUMBER);
    assert_eq!(book.items[6].order.safety_stock, Some(three_dozen));
    assert_eq!(book.items[7].order.safety_stock, Some(SafetyStock::Days(10)));
}

#[test]
fn a_lot_rule_needs_what_it_reckons_with() {
    check(
        &[(
            "items",
            &items(
                "A,count,,,1,1,fixed,,,,,,,,\n\
                 B,count,,,1,1,economic,,5,0,,,,,\n\
                 C,count,,,1,1,economic,,,,,,,,\n\
                 D,count,,,1,1,period,,,,,,,,\n\
                 E,count,,,1,1,period,,5,,,,,,\n\
                 F,count,,,1,1,lots,0,-5,,,,,,\n\
                 G,count,,,1,1,fixed,1.5,,,,,,,\n",
            ),
        )],
        "\
error: items.csv:5: column `lot_size`: lot rule `fixed` needs `lot_size`
error: items.csv:6: column `holding_cost`: `0` is out of range (above zero)
error: items.csv:7: column `order_cost`: lot rule `economic` needs `order_cost`
error: items.csv:7: column `holding_cost`: lot rule `economic` needs `holding_cost`
error: items.csv:8: column `lot_size`: lot rule `period` needs `lot_size`
error: items.csv:9: column `holding_cost`: lot rule `period` needs `holding_cost`
error: items.csv:10: column `lot_rule`: `lots` is none of `lot_for_lot`, `fixed`, `period` and `economic`
error: items.csv:10: column `lot_size`: `0` is out of range (above zero)
error: items.csv:10: column `order_cost`: `-5` is out of range (not below zero)
error: items.csv:11: column `lot_size`: `1.5` is out of range (a whole number)
",
    );
}

#[test]
fn order_terms_are_in_range_and_of_the_items_dimension() {
    check(
        &[(
            "items",
            &items(
                "A,count,,,1,1,,,€5,,-1,-2,0,-1,100\n\
                 B,bulk,gal,,1,1,,,,,5 ft,soon,-0.5,,\n\
                 C,sheet,,,1,1,,,,,-5 days,,1.5,,\n",
            ),
        )],
        "\
error: items.csv:5: column `order_cost`: `€5`: unit `€` does not fit, USD is expected
  hint: amounts here are in the currency of the book
error: items.csv:5: column `safety_stock`: `-1` is out of range (not below zero)
error: items.csv:5: column `lead_days`: `-2` is out of range (not below zero)
error: items.csv:5: column `order_multiple`: `0` is out of range (above zero)
error: items.csv:5: column `order_minimum`: `-1` is out of range (not below zero)
error: items.csv:5: column `tolerance_percent`: `100` is out of range (0 to below 100 %)
error: items.csv:6: column `safety_stock`: `5 ft` is not a volume
error: items.csv:6: column `lead_days`: `soon` is not a lead time
  hint: write working days, as in `10`, or weeks, as in `3 weeks`
error: items.csv:6: column `order_multiple`: `-0.5` is out of range (above zero)
error: items.csv:7: column `safety_stock`: `-5 days` is out of range (not below zero)
error: items.csv:7: column `order_multiple`: `1.5` is out of range (a whole number)
",
    );
}

#[test]
fn terms_of_assemblies_are_read() {
    let assemblies = "\
assembly,stocked,lead_days,offset_days,safety_stock,buy_price
FLOOR,yes,1.5,2,4,$ 250
WALL,,,,,
";
    let bill = "parent,component\nP,FLOOR\nP,WALL\nFLOOR,SCREW\nWALL,SCREW\n";
    let book = valid(&[("assemblies", assemblies), ("bill", bill)]);
    let floor = AssemblyTerms {
        is_stocked: true,
        lead_days: Ratio::decimal(15, 1),
        offset_days: Ratio::whole(2),
        safety_stock: Ratio::whole(4),
        buy_price: Some(Ratio::whole(250)),
    };
    assert_eq!(book.assemblies[0].terms, floor);
    assert_eq!(book.assemblies[1].terms, AssemblyTerms::default());
    check(
        &[(
            "assemblies",
            "assembly,stocked,lead_days,offset_days,safety_stock,buy_price\nFLOOR,maybe,-1,x,-1,£5\n",
        )],
        "\
error: assemblies.csv:2: column `stocked`: `maybe` is none of `yes` and `no`
error: assemblies.csv:2: column `lead_days`: `-1` is out of range (not below zero)
error: assemblies.csv:2: column `offset_days`: `x` is not a number
error: assemblies.csv:2: column `safety_stock`: `-1` is out of range (not below zero)
error: assemblies.csv:2: column `buy_price`: `£5`: unit `£` does not fit, USD is expected
  hint: amounts here are in the currency of the book
",
    );
}

#[test]
fn price_bounds_are_for_what_the_price_is_for() {
    let prices = "\
item,vendor_item,price,price_unit,low,high,lead_days,order_multiple,order_minimum
SCREW,M-1,5,C,4,6,3 weeks,10,20
SCREW,,,,4,6,,,
";
    let book = valid(&[("prices", prices)]);
    let terms = PriceTerms {
        vendor_item: "M-1".to_owned(),
        lead_time: Some(LeadTime::Weeks(3)),
        multiple: Some(Ratio::whole(10)),
        minimum: Some(Ratio::whole(20)),
        low: Some(Ratio::decimal(4, 2)),
        high: Some(Ratio::decimal(6, 2)),
    };
    assert_eq!(book.prices[0].terms, terms);
    assert_eq!(
        book.prices[0].price.as_ref().map(|price| &price.amount),
        Some(&Ratio::decimal(5, 2))
    );
    assert_eq!(book.prices[1].terms, PriceTerms::default());
    check(
        &[(
            "prices",
            "item,price,price_unit,low,high,order_multiple\nSCREW,5,C,6,7,\nSCREW,5,C,,4,\nSCREW,5,C,x,-1,2.5\nSCREW,,,4,,\n",
        )],
        "\
warning: prices.csv:2: column `low`: `6` is out of range (not above the price)
warning: prices.csv:3: column `high`: `4` is out of range (not below the price)
error: prices.csv:4: column `low`: `x` is not a number
error: prices.csv:4: column `high`: `-1` is out of range (not below zero)
error: prices.csv:4: column `order_multiple`: `2.5` is out of range (a whole number)
warning: prices.csv:5: column `low`: low is not used: the row has no price
",
    );
}
