//! Whom to buy from, when, how many, at what price. Figures are worked out by hand beside each case.

use cutbill::model::Book;

use crate::look::{findings, lines};
use crate::purchasing::{AS_OF, book, plan};

/// A book of one item, of which every unit takes one.
fn one_item(columns: &str, cells: &str, tables: &[(&str, &str)], units: &[(u32, u32)]) -> Book {
    let rows = units.iter().map(|(week, units)| format!("P,2027-W{week:02},{units}\n"));
    let schedule = format!("plan,week,units\n{}", rows.collect::<String>());
    let items = format!("item,form,{columns}\nX,count,{cells}\n");
    let mut all = vec![
        ("items", items.as_str()),
        ("bill", "parent,component\nP,X\n"),
        ("schedule", schedule.as_str()),
    ];
    all.extend(tables);
    book(&all)
}

#[track_caller]
fn check(book: &Book, expected: &[&str]) {
    assert_eq!(lines(book, &plan(book)), expected);
}

const BREAKS: &str = "item,vendor,from_quantity,price\nX,V,1,10\nX,V,100,9\n";

#[test]
fn an_order_is_raised_to_a_break_that_makes_it_cheaper() {
    // 95 at 10 are 950, 100 at 9 are 900.
    let book = one_item("price", "", &[("prices", BREAKS)], &[(9, 95)]);
    check(&book, &["100 X of V: 2027-03-01 to 2027-03-01, 900 USD, raised from 95 saving 50"]);
    // 90 at 10 are 900 as well: nothing is saved.
    let book = one_item("price", "", &[("prices", BREAKS)], &[(9, 90)]);
    check(&book, &["90 X of V: 2027-03-01 to 2027-03-01, 900 USD"]);
    // The break holds for every unit of a larger order.
    let book = one_item("price", "", &[("prices", BREAKS)], &[(9, 120)]);
    check(&book, &["120 X of V: 2027-03-01 to 2027-03-01, 1080 USD"]);
}

#[test]
fn what_later_weeks_need_counts_for_a_break_and_holding_against_it() {
    let run = |holding: &str| {
        let book = one_item("holding_cost", holding, &[("prices", BREAKS)], &[(9, 60), (10, 60)]);
        lines(&book, &plan(&book))
    };
    // 60 at 10, and 40 of the next week at 10, are 1000; 100 at 9 are 900.
    let raised = "100 X of V: 2027-03-01 to 2027-03-01, 900 USD, raised from 60 saving 100";
    let rest = "20 X of V: 2027-03-08 to 2027-03-08, 200 USD";
    assert_eq!(run(""), [raised, rest]);
    // 40 held for one week of 52.
    let raised = "100 X of V: 2027-03-01 to 2027-03-01, 900 USD, raised from 60 saving 60";
    assert_eq!(run("52"), [raised, rest]);
    let single = [
        "60 X of V: 2027-03-01 to 2027-03-01, 600 USD",
        "60 X of V: 2027-03-08 to 2027-03-08, 600 USD",
    ];
    assert_eq!(run("130"), single);
}

#[test]
fn holding_is_turned_into_the_currency_of_the_order() {
    let prices = "item,vendor,from_quantity,price,currency\nX,V,1,10,EUR\nX,V,100,9,EUR\n";
    let tables = [
        ("prices", prices),
        ("rates", "currency,date,rate\nEUR,2027-01-01,2\n"),
        ("vendors", "vendor,currency\nV,EUR\n"),
    ];
    // 40 held for a week at a dollar, which is half a euro: 100 less 20 are saved.
    let book = one_item("holding_cost", "52", &tables, &[(9, 60), (10, 60)]);
    check(
        &book,
        &[
            "100 X of V: 2027-03-01 to 2027-03-01, 900 EUR, raised from 60 saving 80",
            "20 X of V: 2027-03-08 to 2027-03-08, 200 EUR",
        ],
    );
}

#[test]
fn minimum_and_multiple_hold_together() {
    for (units, ordered) in [(25, 36), (36, 36), (61, 72)] {
        let book = one_item("price,order_multiple,order_minimum", "1,12,30", &[], &[(9, units)]);
        let expected = format!("{ordered} X: 2027-03-01 to 2027-03-01, {ordered} USD");
        check(&book, &[&expected]);
    }
}

#[test]
fn what_a_multiple_brings_too_much_is_there_for_the_next_week() {
    let units = [(9, 10), (10, 10), (11, 10)];
    let book = one_item("price,order_multiple", "1,24", &[], &units);
    check(
        &book,
        &["24 X: 2027-03-01 to 2027-03-01, 24 USD", "24 X: 2027-03-15 to 2027-03-15, 24 USD"],
    );
}

#[test]
fn who_has_a_price_from_ten_on_sells_no_fewer() {
    let prices = "item,vendor,from_quantity,price\nX,V,10,3\n";
    let book = one_item("price", "", &[("prices", prices)], &[(9, 4)]);
    check(&book, &["10 X of V: 2027-03-01 to 2027-03-01, 30 USD"]);
}

#[test]
fn shares_are_kept_over_the_weeks() {
    let tables = [
        ("vendors", "vendor,share\nA,70 %\nB,30 %\n"),
        ("prices", "item,vendor,price\nX,A,10\nX,B,9\n"),
    ];
    let units: Vec<(u32, u32)> = (9..19).map(|week| (week, 10)).collect();
    let book = one_item("price", "", &tables, &units);
    let orders = plan(&book);
    let of = |vendor: &str| {
        let lines = orders.planned[0].lines.iter();
        lines.filter(|line| line.vendor == vendor).count()
    };
    assert_eq!((of("A"), of("B")), (7, 3));
}

#[test]
fn the_cheapest_vendor_is_found_across_currencies() {
    let run = |rate: &str| {
        let rates = format!("currency,date,rate\nEUR,2027-01-01,{rate}\n");
        let tables = [
            ("vendors", "vendor,currency\nHome,\nAway,EUR\n"),
            ("prices", "item,vendor,price,currency\nX,Home,10,\nX,Away,9,EUR\n"),
            ("rates", &rates),
        ];
        let book = one_item("price", "", &tables, &[(9, 2)]);
        lines(&book, &plan(&book))
    };
    assert_eq!(run("1.10"), ["2 X of Away: 2027-03-01 to 2027-03-01, 18 EUR"]);
    assert_eq!(run("1.20"), ["2 X of Home: 2027-03-01 to 2027-03-01, 20 USD"]);
}

#[test]
fn who_can_deliver_in_time_comes_before_who_is_cheaper() {
    let prices = "item,vendor,price,lead_days\nX,Cheap,1,4 weeks\nX,Dear,2,1 week\n";
    let book = one_item("price", "", &[("prices", prices)], &[(11, 5), (14, 5)]);
    check(
        &book,
        &[
            "5 X of Dear: 2027-03-08 to 2027-03-15, 10 USD",
            "5 X of Cheap: 2027-03-08 to 2027-04-05, 5 USD",
        ],
    );
    // Nobody can: whoever is there first.
    let book = one_item("price", "", &[("prices", prices)], &[(9, 5)]);
    check(&book, &["5 X of Dear: 2027-03-01 to 2027-03-01, late 2027-03-08, 10 USD"]);
}

#[test]
fn the_same_size_of_two_vendors_is_bought_of_who_is_in_time() {
    let book = book(&[
        ("items", "item,form,price_unit\nS,linear,each\n"),
        ("sizes", "item,length,price,price_unit,vendor\nS,96,4,each,Cheap\nS,96,5,each,Near\n"),
        ("vendors", "vendor,lead_days\nCheap,4 weeks\nNear,1\n"),
        ("bill", "parent,component,length\nP,S,96\n"),
        ("schedule", "plan,week,units\nP,2027-W10,2\nP,2027-W20,2\n"),
    ]);
    check(
        &book,
        &[
            "2 S 96 of Near: 2027-03-05 to 2027-03-08, 10 USD",
            "2 S 96 of Cheap: 2027-04-19 to 2027-05-17, 8 USD",
        ],
    );
}

#[test]
fn working_days_leave_out_days_off_and_weeks_do_not() {
    let calendar = ("calendar", "date,working\n2027-03-12,no\n");
    // Five working days before Monday the 15th, with Friday the 12th off: 11, 10, 9, 8, 5.
    let book = one_item("price,lead_days", "1,5", &[calendar], &[(11, 1)]);
    check(&book, &["1 X: 2027-03-05 to 2027-03-15, 1 USD"]);
    let book = one_item("price,lead_days", "1,1 week", &[calendar], &[(11, 1)]);
    check(&book, &["1 X: 2027-03-08 to 2027-03-15, 1 USD"]);
    // The day a week before is off: the last working day before it.
    let calendar = ("calendar", "date,working\n2027-03-08,no\n");
    let book = one_item("price,lead_days", "1,1 week", &[calendar], &[(11, 1)]);
    check(&book, &["1 X: 2027-03-05 to 2027-03-15, 1 USD"]);
}

#[test]
fn a_week_whose_monday_is_off_is_still_that_week() {
    let calendar = ("calendar", "date,working\n2027-03-08,no\n");
    let book = one_item("price", "1", &[calendar], &[(10, 3)]);
    check(&book, &["3 X: 2027-03-09 to 2027-03-09, 3 USD"]);
}

#[test]
fn what_is_needed_sooner_than_it_can_come_is_late() {
    let book = one_item("price,lead_days", "1,2 weeks", &[], &[(10, 3)]);
    check(&book, &["3 X: 2027-03-01 to 2027-03-08, late 2027-03-15, 3 USD"]);
}

#[test]
fn on_a_sunday_what_the_week_needs_is_due_on_monday() {
    let settings = ("settings", "key,value\nas_of,2027-03-07\n");
    let book = one_item("price", "1", &[settings], &[(9, 3)]);
    check(&book, &["3 X: 2027-03-08 to 2027-03-08, 3 USD"]);
}

#[test]
fn the_price_is_that_of_the_day_the_book_says() {
    let prices = "item,vendor,from_date,to_date,price\nX,V,,2027-03-07,10\nX,V,2027-03-08,,12\n";
    let run = |day: &str| {
        let settings = format!("{AS_OF}price_date,{day}\n");
        let tables = [("prices", prices), ("settings", settings.as_str())];
        let book = one_item("lead_days", "1 week", &tables, &[(10, 1)]);
        lines(&book, &plan(&book))
    };
    assert_eq!(run("order"), ["1 X of V: 2027-03-01 to 2027-03-08, 10 USD"]);
    assert_eq!(run("due"), ["1 X of V: 2027-03-01 to 2027-03-08, 12 USD"]);
}

#[test]
fn a_price_that_is_over_is_told() {
    let prices = "item,vendor,to_date,price\nX,V,2027-03-12,10\n";
    let book = one_item("price", "", &[("prices", prices)], &[(10, 1), (12, 1)]);
    let expected = [
        "1 X of V: 2027-03-08 to 2027-03-08, 10 USD",
        "1 X of V: 2027-03-22 to 2027-03-22, 10 USD",
    ];
    check(&book, &expected);
    let expected = "warning: prices.csv:2: column `to_date`: the last price of item `X`, 10, held \
                    until 2027-03-12; it is used";
    assert_eq!(findings(&book), [expected]);
}

#[test]
fn a_price_for_this_size_comes_before_one_for_all() {
    let book = book(&[
        ("items", "item,form\nS,linear\n"),
        ("sizes", "item,length\nS,96\nS,120\n"),
        ("prices", "item,length,vendor,price,price_unit\nS,,V,9,each\nS,96,V,4,each\n"),
        ("bill", "parent,component,length\nP,S,96\n"),
        ("schedule", "plan,week,units\nP,2027-W09,2\n"),
    ]);
    check(&book, &["2 S 96 of V: 2027-03-01 to 2027-03-01, 8 USD"]);
}

#[test]
fn packs_are_ordered_whole_and_liquids_by_their_unit() {
    let book = book(&[
        (
            "items",
            "item,form,unit,pack,price,price_unit\nnail,count,,100/box,5,box\nglue,bulk,gal,,20,gal\n\
             paint,bulk,gal,5 gal/pail,80,pail\n",
        ),
        ("bill", "parent,component,quantity\nP,nail,30\nP,glue,0.3\nP,paint,0.75\n"),
        ("schedule", "plan,week,units\nP,2027-W09,5\nP,2027-W10,5\n"),
    ]);
    // Nails: 150 and 150. Glue: 1.5 and 1.5. Paint: 3.75 and 3.75.
    check(
        &book,
        &[
            "2 nail: 2027-03-01 to 2027-03-01, 10 USD",
            "1 nail: 2027-03-08 to 2027-03-08, 5 USD",
            "2 glue: 2027-03-01 to 2027-03-01, 40 USD",
            "1 glue: 2027-03-08 to 2027-03-08, 20 USD",
            "1 paint: 2027-03-01 to 2027-03-01, 80 USD",
            "1 paint: 2027-03-08 to 2027-03-08, 80 USD",
        ],
    );
}
