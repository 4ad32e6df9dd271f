//! Builds for a made-up book, and what is in stock.

use std::fmt::Write;

/// Adds a build of so many units of every plan in each week, and some stock of every item.
pub(crate) fn add(files: &mut Vec<(&'static str, String)>, weeks: u32, units: u32) {
    let (plans, items) = (first_column(files, "plans.csv"), first_column(files, "items.csv"));
    let mut schedule = String::from("plan,week,units\n");
    let mut monday = jiff::civil::Date::constant(2027, 3, 1);
    for _ in 0..weeks {
        for plan in &plans {
            row(&mut schedule, format_args!("{plan},{monday},{units}"));
        }
        let week = jiff::Span::new().days(7);
        monday = monday.checked_add(week).expect("the weeks lie within the calendar");
    }
    let mut stock = String::from("item,quantity,kind,due\n");
    for item in &items {
        row(&mut stock, format_args!("{item},50,on hand,\n{item},25,on order,2027-04-05"));
    }
    files.push(("schedule.csv", schedule));
    files.push(("stock.csv", stock));
}

fn first_column(files: &[(&'static str, String)], name: &str) -> Vec<String> {
    let (_, text) = files.iter().find(|(known, _)| *known == name).expect("every book has it");
    text.lines().skip(1).filter_map(|line| Some(line.split(',').next()?.to_owned())).collect()
}

fn row(text: &mut String, row: std::fmt::Arguments<'_>) {
    writeln!(text, "{row}").expect("a string takes any text");
}
