//! What is cut over the weeks: what is there first, what is left over again, what is bought at last.

use cutbill::model::Book;
use cutbill::orders::{Move, Options, Pool};
use cutbill::quantity::Ratio;

use crate::look::{findings, lines};
use crate::purchasing::{balance, book, plan, plan_with, planned, quick, wholes};
use crate::random::Random;

/// A book of a stick or sheet `S` with these sizes, of which units take what the bill says.
fn cut(items: &str, sizes: &str, bill: &str, more: &[(&str, &str)], units: &[(u32, u32)]) -> Book {
    let rows = units.iter().map(|(week, units)| format!("P,2027-W{week:02},{units}\n"));
    let schedule = format!("plan,week,units\n{}", rows.collect::<String>());
    let mut tables =
        vec![("items", items), ("sizes", sizes), ("bill", bill), ("schedule", &schedule)];
    tables.extend(more);
    book(&tables)
}

const STICK: &str = "item,form,price_unit\nS,linear,each\n";
const KEPT_STICK: &str = "item,form,price_unit,offcut_min\nS,linear,each,12\n";
const STICK_SIZES: &str = "item,length,price,price_unit\nS,96,4,each\nS,192,9,each\n";

#[track_caller]
fn check(book: &Book, expected: &[&str]) {
    assert_eq!(lines(book, &plan(book)), expected);
}

#[test]
fn what_is_there_is_cut_before_a_cheaper_size_is_bought() {
    let bill = "parent,component,quantity,length\nP,S,2,48\n";
    let stock = ("stock", "item,length,quantity\nS,192,1\n");
    let book = cut(STICK, STICK_SIZES, bill, &[stock], &[(9, 3)]);
    // Six pieces: four of the long stick that is there, two of a short one.
    check(&book, &["1 S 96: 2027-03-01 to 2027-03-01, 4 USD"]);
    let orders = plan(&book);
    let balances = &planned(&book, &orders, "S").balances;
    assert_eq!(balances[1].on_hand, Ratio::from(1));
    assert_eq!(balances[1].balance, wholes(&[0]));
}

#[test]
fn what_is_there_is_cut_first_where_nothing_costs_anything() {
    let sizes = "item,length,price,price_unit\nS,96,0,each\nS,192,0,each\n";
    let bill = "parent,component,quantity,length\nP,S,2,48\n";
    let stock = ("stock", "item,length,quantity\nS,192,1\n");
    let book = cut(STICK, sizes, bill, &[stock], &[(9, 2)]);
    check(&book, &[]);
}

#[test]
fn offcuts_are_there_for_the_next_week() {
    let sizes = "item,length,price,price_unit\nS,96,4,each\n";
    let bill = "parent,component,length\nP,S,48\n";
    let units = [(9, 1), (10, 1), (11, 1)];
    let bought = |first: &str| {
        let book = cut(first, sizes, bill, &[], &units);
        lines(&book, &plan(&book)).len()
    };
    assert_eq!((bought(KEPT_STICK), bought(STICK)), (2, 3));
}

#[test]
fn offcuts_in_stock_are_cut_first() {
    let sizes = "item,length,price,price_unit\nS,96,4,each\n";
    let bill = "parent,component,length\nP,S,30\n";
    let stock = ("stock", "item,length,quantity\nS,31,2\n");
    let book = cut(KEPT_STICK, sizes, bill, &[stock], &[(9, 1), (10, 1), (11, 1)]);
    check(&book, &["1 S 96: 2027-03-15 to 2027-03-15, 4 USD"]);
}

#[test]
fn an_open_order_is_called_in_before_anything_is_bought() {
    let bill = "parent,component,length\nP,S,96\n";
    let stock = ("stock", "item,length,quantity,kind,due\nS,96,3,on order,2027-03-22\n");
    let book = cut(STICK, STICK_SIZES, bill, &[stock], &[(10, 2), (12, 2)]);
    check(&book, &["1 S 96: 2027-03-22 to 2027-03-22, 4 USD"]);
    let orders = plan(&book);
    assert_eq!(planned(&book, &orders, "S").open[0].change, Move::In(1));
    let short = &orders.shortages[0];
    assert_eq!((short.week, short.units.clone()), (1, Ratio::from(2)));
}

#[test]
fn an_open_order_after_the_last_week_is_not_there_by_then() {
    let bill = "parent,component,length\nP,S,96\n";
    let stock = ("stock", "item,length,quantity,kind,due\nS,96,3,on order,2027-06-07\n");
    let book = cut(STICK, STICK_SIZES, bill, &[stock], &[(10, 2)]);
    let orders = plan(&book);
    assert_eq!(planned(&book, &orders, "S").open[0].change, Move::In(1));
    assert_eq!(orders.shortages.len(), 1);
    // One that nothing needs by then is left as it is: nobody knows what follows.
    let stock = "item,length,quantity,kind,due\nS,96,2,on hand,\nS,96,3,on order,2027-06-07\n";
    let book = cut(STICK, STICK_SIZES, bill, &[("stock", stock)], &[(10, 2)]);
    let orders = plan(&book);
    assert_eq!(planned(&book, &orders, "S").open[0].change, Move::Keep);
}

#[test]
fn open_orders_that_no_week_needs_are_to_be_moved_or_canceled() {
    let bill = "parent,component,length\nP,S,96\n";
    let stock = (
        "stock",
        "item,length,quantity,kind,due\nS,96,2,on hand,\nS,96,2,on order,2027-03-01\n\
         S,96,5,on order,2027-03-08\n",
    );
    let book = cut(STICK, STICK_SIZES, bill, &[stock], &[(9, 1), (11, 3)]);
    let orders = plan(&book);
    let changes: Vec<Move> =
        planned(&book, &orders, "S").open.iter().map(|open| open.change).collect();
    // Two are there, one is needed at once, three in the third week.
    assert_eq!(changes, [Move::Out(2), Move::Cancel]);
    check(&book, &[]);
}

#[test]
fn weeks_of_a_month_or_of_all_are_cut_together() {
    let sizes = "item,length,price,price_unit\nS,96,4,each\n";
    let bill = "parent,component,quantity,length\nP,S,1,48\n";
    // The first and second week lie in March, the last two in April. A pool begins where something is needed.
    let units = [(12, 1), (13, 1), (14, 1), (15, 1)];
    let book = cut(STICK, sizes, bill, &[], &units);
    let bought = |pool: Pool| {
        let orders = plan_with(&book, &Options { pool, ..quick() });
        let lines = planned(&book, &orders, "S").lines.iter();
        lines.map(|line| (line.due.to_string(), line.units.to_string())).collect::<Vec<_>>()
    };
    let text = |pairs: &[(&str, &str)]| {
        pairs
            .iter()
            .map(|(day, count)| ((*day).to_owned(), (*count).to_owned()))
            .collect::<Vec<_>>()
    };
    assert_eq!(bought(Pool::Week).len(), 4);
    assert_eq!(bought(Pool::Month), text(&[("2027-03-22", "1"), ("2027-04-05", "1")]));
    assert_eq!(bought(Pool::Horizon), text(&[("2027-03-22", "2")]));
}

#[test]
fn a_size_of_which_there_are_few_is_bought_no_more_than_these() {
    let sizes = "item,length,price,price_unit,available\nS,96,4,each,3\nS,120,6,each,\n";
    let bill = "parent,component,length\nP,S,96\n";
    let book = cut(STICK, sizes, bill, &[], &[(9, 2), (10, 2), (11, 2)]);
    check(
        &book,
        &[
            "2 S 96: 2027-03-01 to 2027-03-01, 8 USD",
            "1 S 96: 2027-03-08 to 2027-03-08, 4 USD",
            "1 S 120: 2027-03-08 to 2027-03-08, 6 USD",
            "2 S 120: 2027-03-15 to 2027-03-15, 12 USD",
        ],
    );
}

#[test]
fn what_can_no_longer_be_had_is_a_gap() {
    let sizes = "item,length,price,price_unit,available\nS,96,4,each,3\n";
    for bill in ["parent,component,length\nP,S,96\n", "parent,component\nP,S\n"] {
        let book = cut(STICK, sizes, bill, &[], &[(9, 2), (10, 4)]);
        check(
            &book,
            &["2 S 96: 2027-03-01 to 2027-03-01, 8 USD", "1 S 96: 2027-03-08 to 2027-03-08, 4 USD"],
        );
        let expected = "gap: items.csv:2: 3 pieces of `S` cannot be cut: all that is there or can \
                        be bought is used";
        assert_eq!(findings(&book), [expected]);
    }
}

#[test]
fn what_is_left_on_a_roll_is_there_for_the_next_weeks() {
    let items = "item,form,price_unit\nR,roll,each\n";
    let sizes = "item,length,width,price,price_unit\nR,100 ft,48,80,each\n";
    let bill = "parent,component,quantity,length,use\nP,R,1,30 ft,run\n";
    let units = [(9, 1), (10, 1), (11, 1), (12, 1)];
    let book = cut(items, sizes, bill, &[], &units);
    // 90 ft of the first roll; the 10 ft that are left are spliced.
    let orders = plan(&book);
    let lines = &planned(&book, &orders, "R").lines;
    let weeks: Vec<usize> = lines.iter().map(|line| line.week).collect();
    assert_eq!(weeks, [0, 3]);
}

#[test]
fn what_a_lot_brings_too_much_is_there_for_the_next_weeks() {
    let items = "item,form,price_unit,lot_rule,lot_size\nS,linear,each,fixed,10\n";
    let sizes = "item,length,price,price_unit\nS,96,4,each\n";
    let bill = "parent,component,length\nP,S,96\n";
    let book = cut(items, sizes, bill, &[], &[(9, 3), (10, 3), (11, 3), (12, 3)]);
    check(
        &book,
        &["10 S 96: 2027-03-01 to 2027-03-01, 40 USD", "10 S 96: 2027-03-22 to 2027-03-22, 40 USD"],
    );
    let orders = plan(&book);
    assert_eq!(balance(&book, &orders, "S").balance, wholes(&[7, 4, 1, 8]));
    let needed: Vec<Ratio> =
        planned(&book, &orders, "S").lines.iter().map(|line| line.needed.clone()).collect();
    assert_eq!(needed, wholes(&[3, 2]));
}

#[test]
fn an_order_that_grows_within_a_week_brings_what_was_asked_for_both_times() {
    // Whole sticks first, then those to be cut; 5 and 8 at once would be one lot of 20.
    let items = "item,form,price_unit,lot_rule,lot_size\nS,linear,each,fixed,4\n";
    let sizes = "item,length,price,price_unit\nS,96,4,each\n";
    let bill = "parent,component,quantity,length\nP,S,5,\nP,S,8,96\n";
    let book = cut(items, sizes, bill, &[], &[(9, 1)]);
    check(&book, &["16 S 96: 2027-03-01 to 2027-03-01, 64 USD"]);
    let orders = plan(&book);
    assert_eq!(balance(&book, &orders, "S").balance, wholes(&[3]));
}

#[test]
fn a_period_lot_of_sizes_is_reckoned_in_sizes() {
    // 10 sticks a week: sqrt(2 x 520 x 20 / 26) is 28.3, which is 3 weeks.
    let items =
        "item,form,price_unit,lot_rule,order_cost,holding_cost\nS,linear,each,period,20,26\n";
    let sizes = "item,length,price,price_unit\nS,96,4,each\n";
    let bill = "parent,component,length\nP,S,96\n";
    let units: Vec<(u32, u32)> = (9..15).map(|week| (week, 10)).collect();
    let book = cut(items, sizes, bill, &[], &units);
    check(
        &book,
        &[
            "30 S 96: 2027-03-01 to 2027-03-01, 120 USD",
            "30 S 96: 2027-03-22 to 2027-03-22, 120 USD",
        ],
    );
}

#[test]
fn what_is_kept_of_sizes_is_not_sent_away() {
    let items = "item,form,price_unit,safety_stock\nS,linear,each,16 ft\n";
    let sizes = "item,length,price,price_unit\nS,96,4,each\n";
    let bill = "parent,component,length\nP,S,96\n";
    let stock = ("stock", "item,quantity,kind,due\nS,1,on hand,\nS,2,on order,2027-03-08\n");
    let book = cut(items, sizes, bill, &[stock], &[(9, 1), (10, 0), (11, 1)]);
    let orders = plan(&book);
    // Two sticks are kept: those on order are called in, and one more is bought for each that is cut.
    assert_eq!(planned(&book, &orders, "S").open[0].change, Move::In(0));
    assert_eq!(balance(&book, &orders, "S").balance, wholes(&[2, 2, 2]));
    check(&book, &["1 S 96: 2027-03-15 to 2027-03-15, 4 USD"]);
    // No build waits for what is kept against doubt.
    assert_eq!(orders.shortages, []);
}

#[test]
fn sizes_priced_in_another_currency_are_compared_by_their_rate() {
    let tables = [
        ("prices", "item,length,vendor,price,price_unit,currency\nS,96,A,3,each,EUR\n"),
        ("rates", "currency,date,rate\nEUR,2027-01-01,1.10\n"),
        ("vendors", "vendor,currency\nA,EUR\n"),
    ];
    let sizes = "item,length,price,price_unit\nS,96,,\nS,120,4,each\n";
    let bill = "parent,component,length\nP,S,90\n";
    let book = cut(STICK, sizes, bill, &tables, &[(9, 2)]);
    check(&book, &["2 S 96 of A: 2027-03-01 to 2027-03-01, 6 EUR"]);
}

#[test]
fn a_piece_too_large_for_every_size_is_a_gap() {
    let sizes = "item,length,price,price_unit\nS,96,4,each\n";
    let bill = "parent,component,quantity,length\nP,S,2,97\n";
    let book = cut(STICK, sizes, bill, &[], &[(9, 1)]);
    let expected = "gap: items.csv:2: 2 pieces of `S` cannot be cut: they fit no size that is there \
                    or can be bought";
    assert_eq!(findings(&book), [expected]);
}

/// Cutting the plans of a pool together never costs more than cutting each alone, nor takes what is bought more than it
/// says.
#[test]
fn pooling_never_loses() {
    let mut saved = 0;
    for seed in 0..40 {
        let mut random = Random::new(seed);
        let mut bill = "parent,component,quantity,length,width\n".to_owned();
        let plans = ["P", "Q", "R"];
        for plan in plans {
            for _ in 0..random.range(1, 3) {
                let count = random.range(1, 4);
                let (length, width) = (random.range(12, 90), random.range(10, 47));
                bill += &format!("{plan},S,{count},{length},{width}\n");
            }
        }
        let mut schedule = "plan,week,units\n".to_owned();
        for week in 9..12 {
            for plan in plans {
                schedule += &format!("{plan},2027-W{week:02},{}\n", random.range(1, 5));
            }
        }
        let book = book(&[
            ("plans", "plan\nP\nQ\nR\n"),
            ("items", "item,form,price_unit\nS,sheet,each\n"),
            ("sizes", "item,length,width,price,price_unit\nS,96,48,30,each\nS,120,48,39,each\n"),
            ("bill", &bill),
            ("schedule", &schedule),
        ]);
        let orders = plan(&book);
        let planned = planned(&book, &orders, "S");
        let gain = planned.gain.as_ref().unwrap();
        assert!(gain.cost[1] <= gain.cost[0], "book {seed}: {gain:?}");
        let money: Ratio = planned.lines.iter().map(|line| line.money.clone()).sum();
        assert_eq!(money, gain.cost[1], "book {seed}: nothing is there, so the nests are the same");
        saved += usize::from(gain.cost[1] < gain.cost[0]);
    }
    assert!(saved > 20, "pooling saves in {saved} of 40 books");
}

#[test]
fn without_prices_a_gain_is_counted_and_not_in_money() {
    let book = book(&[
        ("plans", "plan\nP\nQ\n"),
        ("items", "item,form\nS,linear\n"),
        ("sizes", "item,length\nS,96\n"),
        ("bill", "parent,component,length\nP,S,48\nQ,S,48\n"),
        ("schedule", "plan,week,units\nP,2027-W09,1\nQ,2027-W09,1\n"),
    ]);
    let orders = plan(&book);
    let gain = planned(&book, &orders, "S").gain.clone().unwrap();
    assert_eq!((gain.alone, gain.together), (2, 1));
    assert_eq!(gain.cost, [Ratio::ZERO, Ratio::ZERO]);
}
