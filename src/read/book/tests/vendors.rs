use std::collections::BTreeMap;

use jiff::civil::Date;

use super::*;
use crate::model::LeadTime;
use crate::model::Vendor;

const VENDORS: &str = "\
vendor,currency,lead_days,terms_days,discount_percent,discount_days,order_minimum,freight_minimum,share
Marsh Lumber,,3 weeks,30,1 %,10,$500,2500,70
Mereside,cad,35,,,,,,
";

#[test]
fn vendors_are_read() {
    let book = valid(&[("vendors", VENDORS)]);
    let marsh = Vendor {
        name: "Marsh Lumber".to_owned(),
        currency: None,
        lead_time: Some(LeadTime::Weeks(3)),
        terms_days: 30,
        discount: Ratio::decimal(1, 2),
        discount_days: 10,
        order_minimum: Some(Ratio::whole(500)),
        freight_minimum: Some(Ratio::whole(2500)),
        share: Some(Ratio::decimal(7, 1)),
        row: book.vendors[0].row,
    };
    assert_eq!(book.vendor("marsh lumber"), Some(&marsh));
    assert_eq!(book.vendors[1].currency.as_deref(), Some("CAD"));
    assert_eq!(book.vendors[1].lead_time, Some(LeadTime::Days(35)));
}

#[test]
fn vendors_stand_once_with_terms_that_can_be_met() {
    check(
        &[(
            "vendors",
            "\
vendor,currency,lead_days,terms_days,discount_percent,discount_days,order_minimum,share
A,USD,-1,30,2,,,110
a,dollar,soon,1.5,101,,-1,
B,CAD,,10,2,20,€5,
,,,,,,,
",
        )],
        "\
error: vendors.csv:2: column `lead_days`: `-1` is out of range (not below zero)
warning: vendors.csv:2: column `discount_percent`: a discount needs `discount_days`
error: vendors.csv:2: column `share`: `110` is out of range (0 to 100 %)
error: vendors.csv:3: column `vendor`: vendor `a`, first defined at vendors.csv:2, is defined again
error: vendors.csv:3: column `currency`: `dollar` is not a currency code of three letters (ISO 4217)
error: vendors.csv:3: column `lead_days`: `soon` is not a lead time
  hint: write working days, as in `10`, or weeks, as in `3 weeks`
error: vendors.csv:3: column `terms_days`: `1.5` is out of range (a whole number, not below zero)
error: vendors.csv:3: column `discount_percent`: `101` is out of range (0 to 100 %)
error: vendors.csv:3: column `order_minimum`: `-1` is out of range (not below zero)
warning: vendors.csv:4: column `discount_days`: `20` is out of range (no more than `terms_days`)
error: vendors.csv:4: column `order_minimum`: `€5`: unit `€` does not fit, CAD is expected
  hint: write the currency in column `currency`
",
    );
}

#[test]
fn a_vendor_that_the_table_lacks_is_told_once() {
    let tables = [
        (
            "items",
            "item,form,price,weight,vendor\nSCREW,count,5,0.01,MARSH LUMBER\nPLY-18,sheet,9,1,\nSTUD,linear,5,1,Marsh Lumbr\n",
        ),
        ("sizes", "item,length,width,vendor\nPLY-18,8 ft,4 ft,Tussock\nSTUD,8 ft,,marsh lumbr\n"),
        ("prices", "item,vendor,price\nSCREW,tussock,5\nSCREW,marsh lumber,5\n"),
        ("stock", "item,quantity,vendor\nSCREW,5,Fen\n"),
    ];
    check(&tables, "");
    let with_vendors = [&tables[..], &[("vendors", VENDORS)]].concat();
    check(
        &with_vendors,
        "\
warning: items.csv:4: column `vendor`: no vendor named `Marsh Lumbr`
  hint: did you mean `Marsh Lumber`?
warning: sizes.csv:2: column `vendor`: no vendor named `Tussock`
warning: stock.csv:2: column `vendor`: no vendor named `Fen`
",
    );
    // A known vendor is spelled as its own table has it, so that sums by vendor do not fall apart.
    assert_eq!(valid(&with_vendors).items[0].vendor, "Marsh Lumber");
}

#[test]
fn the_calendar_answers_once_for_a_day() {
    let calendar = "date,working\n2027-03-26,no\n2027-03-27,yes\n2027-03-26,0\n";
    let day = |day| Date::constant(2027, 3, day);
    assert_eq!(
        valid(&[("calendar", calendar)]).calendar.exceptions,
        BTreeMap::from([(day(26), false), (day(27), true)])
    );
    check(
        &[("calendar", "date,working\n2027-03-26,no\n2027-03-26,yes\n2027-03-27,\n,no\n2027-03-28,perhaps\n")],
        "\
error: calendar.csv:3: column `date`: day `2027-03-26`, first defined at calendar.csv:2, is defined again
error: calendar.csv:4: column `working`: empty, but needed
error: calendar.csv:5: column `date`: empty, but needed
error: calendar.csv:6: column `working`: `perhaps` is none of `yes` and `no`
",
    );
}

#[test]
fn rates_stand_once_for_a_day() {
    let rates = "currency,date,rate\ncad,2027-01-04,0.7218\nCAD,2027-02-01,0.7264\n";
    let book = valid(&[("rates", rates)]);
    let on = |day| book.rate("CAD", Some(Date::constant(2027, 1, day)));
    assert_eq!((on(3), on(4)), (None, Some(Ratio::decimal(7218, 4))));
    assert_eq!(book.rate("CAD", None), Some(Ratio::decimal(7264, 4)));
    check(
        &[(
            "rates",
            "currency,date,rate\nCAD,2027-01-04,0\nCAD,2027-01-05,1\nCAD,2027-01-05,1\nUSD,2027-01-05,1\n,,\n\
             EURO,2027-01-05,x\n",
        )],
        "\
error: rates.csv:2: column `rate`: `0` is out of range (above zero)
error: rates.csv:4: column `currency`: rate `CAD of 2027-01-05`, first defined at rates.csv:3, is defined again
warning: rates.csv:5: row is not read: `USD` is the currency of the book, worth 1
error: rates.csv:7: column `currency`: `EURO` is not a currency code of three letters (ISO 4217)
error: rates.csv:7: column `rate`: `x` is not a number
",
    );
}

#[test]
fn a_price_of_a_foreign_vendor_says_its_currency() {
    let prices = "\
item,vendor,price,price_unit,currency
SCREW,Mereside,5,C,
GLUE,Mereside,5,gal,
SCREW,Mereside,5,C,USD
SCREW,Marsh Lumber,5,C,
";
    check(
        &[("vendors", VENDORS), ("prices", prices)],
        "\
warning: prices.csv:2: column `currency`: price of `Mereside`, who sells in CAD, is taken to be in USD
  hint: write CAD or USD in column `currency`
",
    );
}

#[test]
fn prices_in_a_currency_without_a_rate_are_a_gap() {
    let prices = "\
item,price,price_unit,currency
SCREW,5,C,USD
SCREW,6,C,CAD
GLUE,30,gal,CAD
GLUE,25,gal,EUR
";
    check(
        &[("prices", prices), ("rates", "currency,date,rate\nEUR,2027-01-04,1.1\n")],
        "gap: prices.csv:3: column `currency`: table `rates` has no rate of `CAD`; 2 prices in it cannot be compared\n",
    );
}
