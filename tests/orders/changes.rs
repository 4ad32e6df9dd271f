//! Running changes, and how the schedule is taken to go on.

use cutbill::model::Book;
use cutbill::orders::Options;
use cutbill::quantity::Ratio;

use crate::look::{findings_with, lines};
use crate::purchasing::{balance, book, plan, plan_with, quick, wholes};

fn changed(swaps: &str, schedule: &str, more: &[(&str, &str)]) -> Book {
    let mut tables = vec![
        ("items", "item,form,price\nOLD,count,1\nNEW,count,1\nCLIP,count,1\n"),
        ("assemblies", "assembly\nA\n"),
        ("bill", "parent,component,quantity\nP,A,1\nA,OLD,2\nP,CLIP,1\n"),
        ("swaps", swaps),
        ("schedule", schedule),
    ];
    tables.extend(more);
    book(&tables)
}

const THREE_WEEKS: &str =
    "plan,week,units,first_unit\nP,2027-W09,4,401\nP,2027-W10,4,405\nP,2027-W11,4,409\n";

#[track_caller]
fn check(book: &Book, old: &[i64], new: &[i64]) {
    let orders = plan(book);
    assert_eq!(balance(book, &orders, "OLD").gross, wholes(old));
    assert_eq!(balance(book, &orders, "NEW").gross, wholes(new));
}

#[test]
fn a_change_holds_from_its_day_on() {
    let swaps = "swap,from,to,ratio,from_date,approved\nc,OLD,NEW,1.5,2027-03-08,yes\n";
    check(&changed(swaps, THREE_WEEKS, &[]), &[8, 0, 0], &[0, 12, 12]);
}

#[test]
fn a_change_that_is_not_decided_does_not_hold() {
    let swaps = "swap,from,to,from_date,approved\nc,OLD,NEW,2027-03-08,no\n";
    let book = changed(swaps, THREE_WEEKS, &[]);
    assert_eq!(balance(&book, &plan(&book), "OLD").gross, wholes(&[8, 8, 8]));
}

#[test]
fn a_change_from_a_unit_parts_the_units_of_an_order() {
    let swaps = "swap,from,to,from_unit,approved\nc,OLD,NEW,#407,yes\n";
    // 405 and 406 are built as before.
    check(&changed(swaps, THREE_WEEKS, &[]), &[8, 4, 0], &[0, 4, 8]);
}

#[test]
fn rows_of_a_swap_act_together() {
    let swaps = "swap,from,to,parent,quantity,from_date,from_unit,approved\n\
                 c,OLD,NEW,,,2027-03-08,,yes\nC,,CLIP,P,3,,,yes\n";
    let book = changed(swaps, THREE_WEEKS, &[]);
    check(&book, &[8, 0, 0], &[0, 8, 8]);
    assert_eq!(balance(&book, &plan(&book), "CLIP").gross, wholes(&[4, 16, 16]));
}

#[test]
fn old_stock_is_used_up_first() {
    let swaps = "swap,from,to,from_date,approved,use_up\nc,OLD,NEW,,yes,yes\n";
    let run = |quantity: i64, old: &[i64], new: &[i64]| {
        let stock =
            format!("item,quantity,kind,due\nOLD,{quantity},,\nOLD,4,on order,2027-03-15\n");
        check(&changed(swaps, THREE_WEEKS, &[("stock", &stock)]), old, new);
    };
    // 12 and 4 on order last for two weeks of 8.
    run(12, &[8, 8, 0], &[0, 0, 8]);
    run(11, &[8, 0, 0], &[0, 8, 8]);
}

#[test]
fn stock_that_lasts_is_never_used_up() {
    let swaps = "swap,from,to,approved,use_up\nc,OLD,NEW,yes,yes\n";
    let book = changed(swaps, THREE_WEEKS, &[("stock", "item,quantity\nOLD,24\n")]);
    let orders = plan(&book);
    assert_eq!(balance(&book, &orders, "OLD").gross, wholes(&[8, 8, 8]));
    assert_eq!(lines(&book, &orders).iter().filter(|line| line.contains("NEW")).count(), 0);
}

#[test]
fn a_day_and_old_stock_are_both_waited_for() {
    let swaps = "swap,from,to,from_date,approved,use_up\nc,OLD,NEW,2027-03-15,yes,yes\n";
    let stock = ("stock", "item,quantity\nOLD,1\n");
    check(&changed(swaps, THREE_WEEKS, &[stock]), &[8, 8, 0], &[0, 0, 8]);
}

#[test]
fn a_change_for_an_option_holds_where_a_build_has_it() {
    let options = "option,standard,choice,includes\npack,,,winter\nwinter,,,\nsand,yes,counter,\n\
                   slate,,counter,\n";
    let schedule = "plan,week,units,options\nP,2027-W09,4,none\nP,2027-W10,4,pack\n\
                    P,2027-W11,4,slate\n";
    let of = |option: &str| {
        let swaps =
            format!("swap,from,to,option,from_date,approved\nc,OLD,NEW,{option},2027-01-01,yes\n");
        changed(&swaps, schedule, &[("options", options)])
    };
    // An option that another brings along is there; a standard one that yields is not.
    check(&of("winter"), &[8, 0, 8], &[0, 8, 0]);
    check(&of("sand"), &[0, 0, 8], &[8, 8, 0]);
}

#[test]
fn bill_lines_hold_by_day_and_by_unit() {
    let bill = (
        "bill",
        "parent,component,quantity,effective_from,effective_to\nP,A,1,,\nA,OLD,2,,2027-03-12\n\
         A,NEW,2,2027-03-13,\nP,CLIP,1,#406,#410\n",
    );
    let swaps = "swap,from,to,approved\nc,OLD,NEW,no\n";
    let book = changed(swaps, THREE_WEEKS, &[bill]);
    check(&book, &[8, 8, 0], &[0, 0, 8]);
    assert_eq!(balance(&book, &plan(&book), "CLIP").gross, wholes(&[0, 3, 2]));
}

const HISTORY: (&str, &str) =
    ("history", "plan,week,units\nP,2027-W05,6\nP,2027-W06,6\nP,2027-W07,6\nP,2027-W08,6\n");

#[test]
fn past_the_schedule_the_builds_of_past_weeks_go_on() {
    let swaps = "swap,from,to,approved\nc,OLD,NEW,no\n";
    let book = changed(swaps, THREE_WEEKS, &[HISTORY]);
    let orders = plan_with(&book, &Options { weeks: Some(5), ..quick() });
    assert_eq!((orders.firm_weeks, orders.units), (3, 12));
    assert_eq!(orders.forecasts[0].level, Ratio::from(6));
    assert_eq!(balance(&book, &orders, "OLD").gross, wholes(&[8, 8, 8, 12, 12]));
    let of_forecast: Vec<Ratio> =
        orders.planned[0].lines.iter().map(|line| line.of_forecast.clone()).collect();
    assert_eq!(of_forecast, wholes(&[0, 0, 0, 12, 12]));
}

#[test]
fn past_the_schedule_without_history_nothing_is_planned_and_told() {
    let swaps = "swap,from,to,approved\nc,OLD,NEW,no\n";
    let book = changed(swaps, THREE_WEEKS, &[]);
    let options = Options { weeks: Some(5), ..quick() };
    let orders = plan_with(&book, &options);
    assert_eq!(balance(&book, &orders, "OLD").gross, wholes(&[8, 8, 8, 0, 0]));
    assert_eq!(
        findings_with(&book, &options),
        [
            "warning: 2 weeks past the schedule cannot be forecast: table `history` holds no earlier builds"
        ]
    );
}

#[test]
fn fewer_weeks_than_the_schedule_leave_the_rest_for_later() {
    let swaps = "swap,from,to,approved\nc,OLD,NEW,no\n";
    let book = changed(swaps, THREE_WEEKS, &[]);
    let options = Options { weeks: Some(2), ..quick() };
    let orders = plan_with(&book, &options);
    assert_eq!(balance(&book, &orders, "OLD").gross, wholes(&[8, 8]));
    assert_eq!(
        findings_with(&book, &options),
        [
            "note: schedule.csv:4: 4 units lie beyond the 2 weeks that are planned, beginning with this row"
        ]
    );
}

#[test]
fn a_year_mistyped_in_the_schedule_asks_for_ten_years_at_most() {
    let swaps = "swap,from,to,approved\nc,OLD,NEW,no\n";
    let schedule = "plan,week,units\nP,2027-W09,4\nP,2927-W10,4\n";
    let book = changed(swaps, schedule, &[]);
    let orders = plan(&book);
    assert_eq!((orders.weeks.count, orders.units), (520, 4));
    assert_eq!(
        findings_with(&book, &quick()),
        [
            "note: schedule.csv:3: 4 units lie beyond the 520 weeks that are planned, beginning with this row"
        ]
    );
}
