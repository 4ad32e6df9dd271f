//! Laws of purchasing over made-up books.

use std::collections::{BTreeMap, BTreeSet};

use cutbill::model::{Book, Form, Stocked, Supply};
use cutbill::nest;
use cutbill::orders::{LineRef, Move, Options, OrderLine, Orders, Pool, orders};
use cutbill::quantity::Ratio;
use cutbill::watch::Silent;

use crate::support::generate::plant;
use crate::support::generate_orders::with_orders;
use crate::support::line::read;
use crate::support::plant::Plant;
use crate::support::tables::{Rows, files};

/// Seeds of the made-up books.
const BOOKS: u64 = 80;

/// Returns the book of a seed, if its options can all be had as its take rates say, and the tables behind it.
fn made_up(seed: u64) -> (Plant, BTreeMap<&'static str, Rows>, Book) {
    let mut plant = plant(seed);
    plant.settings.has_day = true;
    let tables = with_orders(&plant, seed);
    let book = read(&files(&tables, ','));
    (plant, tables, book)
}

fn options(seed: u64) -> Options {
    let pool =
        [Pool::Week, Pool::Week, Pool::Month, Pool::Horizon][usize::try_from(seed % 4).unwrap()];
    let nest = nest::Options { effort: 1, ..nest::Options::default() };
    Options { pool, nest, skips_comparison: seed.is_multiple_of(3), ..Options::default() }
}

fn planned(book: &Book, seed: u64) -> Orders<'_> {
    match orders(book, &options(seed), &Silent) {
        Ok(checked) => checked.value,
        Err(findings) => {
            let texts: Vec<String> = findings.iter().map(ToString::to_string).collect();
            panic!("book {seed} is not planned:\n{}", texts.join("\n"))
        }
    }
}

#[test]
fn balances_carry_over_and_never_fall_below_zero() {
    let (mut held, mut pulled_in) = (0, 0);
    for seed in 0..BOOKS {
        let (_, _, book) = made_up(seed);
        let orders = planned(&book, seed);
        for planned in &orders.planned {
            let item = book.item(planned.item);
            for balance in &planned.balances {
                let mut there = balance.on_hand.clone();
                for week in 0..orders.weeks.count {
                    for open in &planned.open {
                        let row = &book.stock[open.row];
                        let units = match row.what {
                            Stocked::Size(_, size) if Some(size) != balance.size => continue,
                            Stocked::Size(..) => row.quantity.clone(),
                            _ => row.quantity.checked_div(item.purchase_factor()).unwrap(),
                        };
                        let comes = match open.change {
                            Move::In(earlier) => earlier,
                            _ => open.due,
                        };
                        if comes == week {
                            pulled_in += usize::from(comes != open.due);
                            there += &units;
                        }
                    }
                    there = there + &balance.planned[week] - &balance.gross[week];
                    let name = format!("book {seed}, `{}`, week {week}", item.name);
                    assert_eq!(balance.balance[week], there, "{name}");
                    assert!(item.supply != Supply::Build || !there.is_negative(), "{name}");
                    held += 1;
                }
            }
        }
    }
    assert!(held > 3000 && pulled_in > 30, "{held} balances, {pulled_in} orders called in");
}

/// What is ordered, built ahead, paid and left, without the rows of the schedule behind it.
fn outcome(orders: &Orders<'_>) -> String {
    let ahead: Vec<_> = orders
        .ahead
        .iter()
        .map(|ahead| (&ahead.assembly, &ahead.gross, &ahead.planned, &ahead.balance))
        .collect();
    let short: Vec<_> = orders
        .shortages
        .iter()
        .map(|short| (short.item, short.size, short.day, &short.units, short.arrival))
        .collect();
    format!("{:?}\n{:?}\n{:?}\n{ahead:?}\n{short:?}", orders.planned, orders.orders, orders.cash)
}

#[test]
fn six_units_are_two_and_four_of_the_same_week() {
    for seed in 0..BOOKS {
        let (_, mut tables, book) = made_up(seed);
        let whole = outcome(&planned(&book, seed));
        let rows = tables.get_mut("schedule").unwrap();
        let mut rest = rows[1].clone();
        assert_eq!(rows[1][2], "6");
        rows[1][2] = "2".to_owned();
        rest[2] = "4".to_owned();
        rows.push(rest);
        let parted = read(&files(&tables, ','));
        assert!(outcome(&planned(&parted, seed)) == whole, "book {seed}");
    }
}

#[test]
fn orders_hold_every_line_once_and_foot() {
    let mut held = 0;
    for seed in 0..BOOKS {
        let (_, _, book) = made_up(seed);
        let orders = planned(&book, seed);
        let mut seen: BTreeSet<LineRef> = BTreeSet::new();
        for order in &orders.orders {
            assert_eq!(order.lines.len(), order.amounts.len());
            assert_eq!(order.total(), order.amounts.iter().sum::<i128>());
            let exact: Ratio =
                order.lines.iter().map(|line| orders.line(*line).money.clone()).sum();
            assert_eq!(order.exact, exact, "book {seed}");
            for line in &order.lines {
                assert!(seen.insert(*line), "book {seed}: a line stands twice");
                let line: &OrderLine = orders.line(*line);
                assert_eq!(line.vendor, order.vendor);
                assert!(line.units.is_whole() && line.units >= line.needed.ceil(), "book {seed}");
                assert!(line.order_day >= orders.as_of, "book {seed}");
            }
        }
        let all: usize = orders.planned.iter().map(|planned| planned.lines.len()).sum();
        assert_eq!(seen.len(), all, "book {seed}");
        held += all;
        let total: i128 = orders.orders.iter().map(cutbill::orders::VendorOrder::total).sum();
        let paid: i128 = orders.cash.iter().map(|cash| cash.amount + cash.discount).sum();
        assert_eq!(paid, total, "book {seed}: all is in the book's currency");
    }
    assert!(held > 500, "only {held} lines");
}

#[test]
fn the_lines_behind_a_liquid_add_up_to_what_is_required() {
    let mut held = 0;
    for seed in 0..BOOKS {
        let (_, _, book) = made_up(seed);
        let orders = planned(&book, seed);
        for planned in &orders.planned {
            let item = book.item(planned.item);
            if item.form != Form::Bulk {
                continue;
            }
            for week in 0..orders.weeks.count {
                let pegs = orders.why(planned.item, week, week + 1);
                let sum: Ratio = pegs.iter().map(|peg| peg.measure.clone()).sum();
                let gross = &planned.balances[0].gross[week] * item.purchase_factor();
                assert_eq!(sum, gross, "book {seed}, `{}`, week {week}", item.name);
                held += usize::from(!sum.is_zero());
            }
        }
    }
    assert!(held > 200, "only {held} requirements");
}

#[test]
fn two_runs_are_the_same_whatever_the_thread_count() {
    let alone = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    let crowd = rayon::ThreadPoolBuilder::new().num_threads(5).build().unwrap();
    for seed in 0..12 {
        let (_, _, book) = made_up(seed);
        let shown = || outcome(&planned(&book, seed));
        let first = alone.install(shown);
        assert!(first == alone.install(shown), "book {seed}: a second run differs");
        assert!(first == crowd.install(shown), "book {seed}: five threads differ");
    }
}
