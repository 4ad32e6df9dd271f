//! Orders of a vendor and week, and when they are to be paid.

use cutbill::model::Book;
use cutbill::orders::Orders;
use cutbill::quantity::Ratio;

use crate::look::findings;
use crate::purchasing::{AS_OF, book, plan};

const BILL: &str = "parent,component\nP,X\nP,Y\n";

fn two_items(prices: &str, more: &[(&str, &str)], units: &str) -> Book {
    let schedule = format!("plan,week,units\n{units}");
    let mut tables = vec![
        ("items", "item,form\nX,count\nY,count\n"),
        ("prices", prices),
        ("bill", BILL),
        ("schedule", &schedule),
    ];
    tables.extend(more);
    book(&tables)
}

/// Returns orders as `week vendor: amounts = total`.
fn orders_of(orders: &Orders<'_>) -> Vec<String> {
    let text = |order: &cutbill::orders::VendorOrder| {
        let monday = order.week.monday();
        format!(
            "{monday} {}: {:?} = {} {}",
            order.vendor,
            order.amounts,
            order.total(),
            order.currency
        )
    };
    orders.orders.iter().map(text).collect()
}

/// Returns cash as `week amount discount`.
fn cash_of(orders: &Orders<'_>) -> Vec<String> {
    let text = |cash: &cutbill::orders::CashWeek| {
        format!("{} {} {}", cash.week.monday(), cash.amount, cash.discount)
    };
    orders.cash.iter().map(text).collect()
}

#[test]
fn lines_are_gathered_by_vendor_and_week_of_ordering() {
    let prices = "item,vendor,price,lead_days\nX,V,1.005,1 week\nY,V,2.015,\n";
    let book = two_items(prices, &[], "P,2027-W09,3\nP,2027-W10,5\n");
    let orders = plan(&book);
    // X for the second week is ordered in the first, where X for the first week comes late. Halves go to even cents.
    assert_eq!(
        orders_of(&orders),
        ["2027-03-01 V: [302, 502, 604] = 1408 USD", "2027-03-08 V: [1008] = 1008 USD",]
    );
    for order in &orders.orders {
        let exact: Ratio = order.lines.iter().map(|line| orders.line(*line).money.clone()).sum();
        assert_eq!(order.exact, exact);
    }
}

#[test]
fn money_is_due_by_the_vendors_terms() {
    let vendors = "vendor,terms_days,discount_percent,discount_days\nNet,30,,\nSoon,30,2,10\n";
    let prices = "item,vendor,price\nX,Net,10\nY,Soon,12.34\n";
    let book = two_items(prices, &[("vendors", vendors)], "P,2027-W09,5\n");
    let orders = plan(&book);
    // There on March 1: 50.00 on the 31st; 61.70 less 1.23 (2 % are 1.234) on the 11th.
    assert_eq!(cash_of(&orders), ["2027-03-08 6047 123", "2027-03-29 5000 0"]);
}

#[test]
fn what_comes_late_is_paid_late() {
    let prices = "item,vendor,price,lead_days\nX,V,10,2 weeks\nY,V,0,\n";
    let book = two_items(prices, &[], "P,2027-W09,5\n");
    assert_eq!(cash_of(&plan(&book)), ["2027-03-15 5000 0"]);
}

#[test]
fn foreign_money_is_paid_at_the_rate_of_the_day_of_ordering() {
    let tables = [
        ("vendors", "vendor,currency\nAway,JPY\n"),
        ("rates", "currency,date,rate\nJPY,2027-01-01,0.0070\nJPY,2027-03-05,0.0080\n"),
    ];
    let prices = "item,vendor,price,currency\nX,Away,1000.5,JPY\nY,Home,1,\n";
    let book = two_items(prices, &tables, "P,2027-W09,3\nP,2027-W10,3\n");
    let orders = plan(&book);
    // 3001.5 yen are 3002 (to even); 21.014 dollars, then 24.016.
    assert_eq!(
        orders_of(&orders),
        [
            "2027-03-01 Away: [3002] = 3002 JPY",
            "2027-03-01 Home: [300] = 300 USD",
            "2027-03-08 Away: [3002] = 3002 JPY",
            "2027-03-08 Home: [300] = 300 USD",
        ]
    );
    assert_eq!(cash_of(&orders), ["2027-03-01 2401 0", "2027-03-08 2702 0"]);
}

#[test]
fn a_currency_without_a_rate_on_the_day_is_a_gap() {
    let tables = [
        ("vendors", "vendor,currency\nAway,EUR\n"),
        ("rates", "currency,date,rate\nEUR,2027-06-01,1.10\n"),
    ];
    let prices = "item,vendor,price,currency\nX,Away,10,EUR\nY,Home,1,\n";
    let book = two_items(prices, &tables, "P,2027-W09,3\n");
    assert_eq!(
        findings(&book),
        [
            "gap: prices.csv:2: column `currency`: no rate of EUR holds on 2027-03-01, so what it pays for is left out of the cash"
        ]
    );
    assert_eq!(cash_of(&plan(&book)), ["2027-03-01 300 0"]);
}

#[test]
fn an_order_below_the_vendors_least_is_told_with_what_is_missing() {
    let vendors = "vendor,order_minimum,freight_minimum\nV,50,100\n";
    let prices = "item,vendor,price\nX,V,10\nY,V,2.50\n";
    let book = two_items(prices, &[("vendors", vendors)], "P,2027-W09,3\nP,2027-W10,4\n");
    let orders = plan(&book);
    let missing: Vec<_> = orders
        .orders
        .iter()
        .map(|order| (order.below_minimum.clone(), order.below_freight.clone()))
        .collect();
    let some = |digits: i128| Some(Ratio::decimal(digits, 2));
    assert_eq!(missing, [(some(1250), some(6250)), (None, some(5000))]);
    assert_eq!(
        findings(&book),
        [
            "note: vendors.csv:2: column `freight_minimum`: 2 orders to `V` stay below what it pays the freight for, the \
             first in the week of 2027-03-01\n  hint: order more weeks at once, with `--pool` or a `period` rule",
            "warning: vendors.csv:2: column `order_minimum`: the order to `V` in the week of 2027-03-01 comes to 37.50 USD, 12.50 below the least order"
        ]
    );
}

#[test]
fn a_least_order_in_dollars_says_nothing_about_one_in_euros() {
    let tables = [
        ("vendors", "vendor,currency,order_minimum\nV,USD,50\n"),
        ("rates", "currency,date,rate\nEUR,2027-01-01,2\n"),
    ];
    let prices = "item,vendor,price,currency\nX,V,10,EUR\nY,V,1,USD\n";
    let book = two_items(prices, &tables, "P,2027-W09,3\n");
    let orders = plan(&book);
    let missing: Vec<_> = orders
        .orders
        .iter()
        .map(|order| (order.currency.as_str(), order.below_minimum.clone()))
        .collect();
    assert_eq!(missing, [("EUR", None), ("USD", Some(Ratio::from(47)))]);
}

#[test]
fn money_is_rounded_as_the_book_says() {
    let settings = format!("{AS_OF}rounding,half_up\n");
    let prices = "item,vendor,price\nX,V,0.105\nY,V,0.115\n";
    let book = two_items(prices, &[("settings", &settings)], "P,2027-W09,1\n");
    assert_eq!(orders_of(&plan(&book)), ["2027-03-01 V: [11, 12] = 23 USD"]);
}

#[test]
fn what_has_no_price_is_ordered_and_is_a_gap() {
    let prices = "item,vendor,price\nX,V,1\n";
    let book = two_items(prices, &[], "P,2027-W09,2\n");
    assert_eq!(findings(&book), ["gap: items.csv:3: column `price`: item `Y` has no price"]);
    assert_eq!(
        orders_of(&plan(&book)),
        ["2027-03-01 : [0] = 0 USD", "2027-03-01 V: [200] = 200 USD"]
    );
}
