//! Books that cannot be planned, or only with a finding, with whole messages.

use crate::look::{findings, read_findings};
use crate::purchasing::book;

const ITEMS: (&str, &str) = ("items", "item,form,price,weight\nX,count,1,1\n");
const BILL: (&str, &str) = ("bill", "parent,component\nP,X\n");
const SCHEDULE: (&str, &str) = ("schedule", "plan,week,units\nP,2027-W10,1\n");

#[test]
fn a_book_of_no_day_cannot_be_planned() {
    let settings = ("settings", "key,value\n");
    let book = book(&[ITEMS, BILL, SCHEDULE, settings]);
    assert_eq!(findings(&book), ["error: the book does not say which day it speaks of, `as_of`"]);
}

#[test]
fn a_book_without_a_schedule_cannot_be_planned() {
    assert_eq!(findings(&book(&[ITEMS, BILL])), ["error: no table `schedule`"]);
}

#[test]
fn builds_of_the_past_are_left_out_and_told() {
    let schedule = "plan,week,units\nP,2027-W07,2\nP,2027-W08,3\nP,2027-W10,1\n";
    let book = book(&[ITEMS, BILL, ("schedule", schedule)]);
    assert_eq!(
        findings(&book),
        [
            "warning: schedule.csv:2: 5 units of weeks before that of 2027-03-01 are taken to be built, beginning with this row"
        ]
    );
}

#[test]
fn a_build_that_cannot_be_exploded_is_an_error() {
    let bill = ("bill", "parent,component,quantity\nP,X,1 - bays\n");
    let plans = ("plans", "plan,bays\nP,3\n");
    let book = book(&[ITEMS, bill, plans, SCHEDULE]);
    assert_eq!(
        findings(&book),
        ["error: bill.csv:2: column `quantity`: quantity of `X` comes to -2, below zero"]
    );
}

/// Reads a book with one more table, and holds the one finding against a whole message.
#[track_caller]
fn check(name: &str, text: &str, expected: &str) {
    let found = read_findings(&[ITEMS, BILL, SCHEDULE, (name, text)]);
    assert_eq!(found, [expected], "{text}");
}

#[test]
fn schedules_that_say_nothing_sensible_are_told() {
    check(
        "schedule",
        "plan,week,units\nQ,2027-W10,1\n",
        "error: schedule.csv:2: column `plan`: no plan named `Q`\n  hint: did you mean `P`?",
    );
    for units in ["1.5", "-1"] {
        let expected = format!(
            "error: schedule.csv:2: column `units`: `{units}` is out of range (a whole number, not \
             below zero)"
        );
        check("schedule", &format!("plan,week,units\nP,2027-W10,{units}\n"), &expected);
    }
    check(
        "schedule",
        "plan,week,units\nP,2027-W11,1\nP,2027-W10,1\n",
        "note: schedule.csv:3: column `week`: 2027-03-08 stands after a later day, at schedule.csv:2",
    );
    check(
        "schedule",
        "plan,week,units\nP,2027-W10,1\nP,2027-W10,1\n",
        "warning: schedule.csv:3: column `plan`: units of `P` for the same day stand at \
         schedule.csv:2; both are counted",
    );
    check(
        "schedule",
        "plan,week,date,units\nP,2027-W10,2027-03-08,1\n",
        "error: schedule.csv:2: column `week`: `week` and `date` are given, but only one of them is \
         meant to be",
    );
}

#[test]
fn stock_that_cannot_be_there_is_told() {
    check(
        "stock",
        "item,quantity\nX,-2\n",
        "error: stock.csv:2: column `quantity`: `-2` is out of range (not below zero)",
    );
    check(
        "stock",
        "item,quantity,kind,due\nX,2,on order,2027-02-01\n",
        "warning: stock.csv:2: column `due`: the order was due on 2027-02-01, before 2027-03-01, the \
         day the book speaks of",
    );
    check(
        "stock",
        "item,quantity,kind\nX,2,on order\n",
        "error: stock.csv:2: column `due`: empty, but needed\n  hint: what is on order needs the day \
         it is due",
    );
}

#[test]
fn stock_of_a_size_the_item_does_not_have_is_told() {
    let tables = [
        ("items", "item,form,price,weight,price_unit\nX,linear,1,1,each\n"),
        ("sizes", "item,length\nX,96\n"),
        BILL,
        SCHEDULE,
        ("stock", "item,length,quantity,kind,due\nX,120,1,,\nX,90,1,on order,2027-03-08\n"),
    ];
    assert_eq!(
        read_findings(&tables),
        [
            "error: stock.csv:2: column `length`: item `X` has no size `120`",
            "error: stock.csv:3: column `length`: item `X` has no size `90`",
        ]
    );
}
