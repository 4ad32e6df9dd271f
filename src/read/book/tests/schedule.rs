use jiff::civil::Date;

use super::*;
use crate::model::OptionId;

const OPTIONS: &str = "\
option,plan,choice,includes,excludes
solar,,,,
winter,,,heater,
heater,,,,
awning,,,,heater
oak,,counter,,
slate,,counter,,
deck,Q,,,
";
const PLANS: &str = "plan,length\nP,20 ft\nQ,24 ft\n";
const BILL: &str = "parent,component,quantity\nP,SCREW,1\nQ,SCREW,1\n";

#[track_caller]
fn check_schedule(schedule: &str, expected: &str) {
    let tables = [
        ("plans", PLANS),
        ("bill", BILL),
        ("options", OPTIONS),
        ("settings", "key,value\nas_of,2027-03-01\n"),
        ("schedule", schedule),
    ];
    check(&tables, expected);
}

#[test]
fn a_schedule_is_read_by_week_or_by_day() {
    let schedule = "\
plan,week,date,units,order,options,first_unit
p,2027-W11,,3,B-1,solar; OAK,401
P,2027-03-17,,2,,none,
P,,2027-03-17,1,,,
";
    let book =
        valid(&[("options", OPTIONS), ("plans", PLANS), ("bill", BILL), ("schedule", schedule)]);
    let shown = book.schedule.iter().map(|row| (row.day.to_string(), row.units, row.first_unit));
    // 2027-W11 begins on March 15, as March 17 is a Wednesday (ISO 8601).
    assert_eq!(
        shown.collect::<Vec<_>>(),
        [
            ("2027-03-15".to_owned(), 3, Some(401)),
            ("2027-03-15".to_owned(), 2, None),
            ("2027-03-17".to_owned(), 1, None),
        ]
    );
    let chosen = book.schedule.iter().map(|row| row.chosen.clone());
    let solar_and_oak = Some(vec![OptionId(0), OptionId(4)]);
    assert_eq!(chosen.collect::<Vec<_>>(), [solar_and_oak, Some(Vec::new()), None]);
    assert_eq!(book.schedule[0].order, "B-1");
    assert_eq!(book.place(book.schedule[1].row, None).to_string(), "schedule.csv:3");
}

#[test]
fn a_schedule_that_cannot_be_built_is_an_error() {
    check_schedule(
        "\
plan,week,date,units,options
R,2027-W11,,1,
P,,,1,
P,2027-W11,2027-03-15,1,
P,2027-W60,,,
,2027-W11,,-1,
P,2027-W11,,1.5,
P,2027-W11,,0,
P,2027-W11,,1,solr
P,2027-W11,,1,deck; solar
P,2027-W11,,1,winter; awning
P,2027-W11,,1,oak; slate
",
        "\
error: schedule.csv:2: column `plan`: no plan named `R`
  hint: did you mean `P`?
error: schedule.csv:3: column `week`: `week` and `date` are empty, but one of them is needed
error: schedule.csv:4: column `week`: `week` and `date` are given, but only one of them is meant to be
error: schedule.csv:5: column `week`: `2027-W60` is not a date
error: schedule.csv:5: column `units`: empty, but needed
error: schedule.csv:6: column `plan`: empty, but needed
error: schedule.csv:6: column `units`: `-1` is out of range (a whole number, not below zero)
error: schedule.csv:7: column `units`: `1.5` is out of range (a whole number, not below zero)
warning: schedule.csv:8: row is not read: it has no units
error: schedule.csv:9: column `options`: no option named `solr`
  hint: did you mean `solar`?
error: schedule.csv:10: column `options`: option `deck` is for plan `Q` only
error: schedule.csv:11: column `options`: option `awning` excludes `heater`, but both are chosen
error: schedule.csv:12: column `options`: choice `counter` needs exactly one option, but `oak` and `slate` are chosen
",
    );
    check_schedule(
        "plan,units\nP,1\nQ,1\n",
        "\
error: schedule.csv: table `schedule` has no column `week`
  hint: a column `date` may stand in its place
",
    );
}

#[test]
fn units_that_stand_twice_are_told() {
    check_schedule(
        "\
plan,week,units,order,options,first_unit
P,2027-W11,3,,,11
P,2027-W11,3,,solar,14
p,2027-W11,2,,,15
P,2027-W12,2,B-1,,8
P,2027-W12,2,B-2,,30
P,2027-W12,2,b-1,,31
Q,2027-W12,2,B-1,,
",
        "\
warning: schedule.csv:4: column `plan`: units of `P` for the same day stand at schedule.csv:2; both are counted
warning: schedule.csv:4: column `first_unit`: numbers 15 to 16 are also those of units at schedule.csv:3
warning: schedule.csv:7: column `plan`: units of `P` for the same day stand at schedule.csv:5; both are counted
warning: schedule.csv:7: column `first_unit`: number 31 is also that of a unit at schedule.csv:6
",
    );
}

#[test]
fn weeks_out_of_order_are_noted_once() {
    let schedule = "plan,week,units\nP,2027-W12,1\nP,2027-W11,1\nQ,2027-W12,1\nQ,2027-W10,1\n";
    let tables = [("plans", PLANS), ("bill", BILL), ("schedule", schedule)];
    let notes = book(&tables).unwrap().warnings;
    let notes = notes.iter().map(ToString::to_string).filter(|note| note.contains("schedule"));
    let notes: Vec<String> = notes.collect();
    assert_eq!(
        notes,
        [
            "note: schedule.csv:3: column `week`: 2027-03-15 stands after a later day, at schedule.csv:2"
        ]
    );
}

#[test]
fn history_keeps_what_the_book_knows() {
    let history = "\
plan,week,units
P,2027-W08,3
R,2027-W08,3
P,2027-02-24,1
P,2027-W10,0
P,,x
";
    let tables = [
        ("plans", PLANS),
        ("bill", BILL),
        ("settings", "key,value\nas_of,2027-03-01\n"),
        ("history", history),
    ];
    check(
        &tables,
        "\
warning: history.csv:3: column `plan`: no plan named `R`
  hint: did you mean `P`?
warning: history.csv:4: column `plan`: units of `P` for the same day stand at history.csv:2; both are counted
warning: history.csv:5: column `week`: 2027-03-08 is after 2027-03-01, the day the book speaks of
error: history.csv:6: column `week`: empty, but needed
error: history.csv:6: column `units`: `x` is not a number
",
    );
    let good = history.replace("P,,x\n", "");
    let book = valid(&[&tables[..3], &[("history", good.as_str())]].concat());
    let monday = Date::constant(2027, 2, 22);
    let shown: Vec<(Date, u32)> = book.history.iter().map(|row| (row.week, row.units)).collect();
    assert_eq!(shown, [(monday, 3), (monday, 1), (Date::constant(2027, 3, 8), 0)]);
}
