//! Makes the demand of a quarter: plans built week after week from sticks and sheets, each plan with pieces of its own.
//! The same [`Quarter`] gives the same bytes on every machine.

use std::fmt::Write;

use crate::book::Random;

/// How large a quarter is made.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Quarter {
    /// Plans, above zero.
    pub plans: usize,
    /// Weeks of builds.
    pub weeks: usize,
    /// Piece sizes, over all items.
    pub distinct: usize,
    /// Pieces, about.
    pub pieces: usize,
    /// Items that are cut, half of them sticks, at least 2.
    pub items: usize,
    /// Seed of all choices.
    pub seed: u64,
}

/// The quarter that the records are of.
pub(crate) const USUAL: Quarter =
    Quarter { plans: 10, weeks: 12, distinct: 3_000, pieces: 200_000, items: 26, seed: 1 };

/// Sizes of sticks: what a length of so many feet costs, in cents for a foot.
const STICKS: [(usize, usize); 3] = [(8, 39), (12, 38), (16, 41)];

/// Returns the files of a book: names and texts.
pub(crate) fn quarter(quarter: &Quarter) -> Vec<(&'static str, String)> {
    let mut random = Random(quarter.seed);
    // A plan is built so many times a week.
    let weekly: Vec<usize> = (0..quarter.plans).map(|_| 2 + random.below(6)).collect();
    let units: usize = weekly.iter().sum::<usize>() * quarter.weeks;
    let per_plan = (quarter.distinct / quarter.plans).max(1);
    // Lines of plans that are built often count more often.
    let mean = (quarter.pieces / (units * per_plan).max(1)).max(1);
    vec![
        ("bill.csv", bill(quarter, mean, &mut random)),
        ("items.csv", items(quarter, &mut random)),
        ("plans.csv", plans(quarter)),
        ("schedule.csv", schedule(quarter, &weekly)),
        ("settings.csv", SETTINGS.to_owned()),
        ("sizes.csv", sizes(quarter, &mut random)),
    ]
}

const SETTINGS: &str = "\
key,value
revision,generated
as_of,2027-03-01
currency,USD
length_unit,in
weight_unit,lb
";

fn is_stick(item: usize) -> bool {
    item.is_multiple_of(2)
}

fn items(quarter: &Quarter, random: &mut Random) -> String {
    let mut text = "item,description,form,unit,grain,kerf,weight,weight_unit\n".to_owned();
    for item in 0..quarter.items {
        let grams = 400 + random.below(1500);
        let (form, unit, grain, weight) = match item {
            item if is_stick(item) => ("linear", "ft", "", "lb/ft"),
            // Every third kind of sheet may be turned.
            item if item % 3 == 0 => ("sheet", "ft2", "", "lb/ft2"),
            _ => ("sheet", "ft2", "length", "lb/ft2"),
        };
        row(
            &mut text,
            format_args!(
                "CUT-{item:02},made-up {form} {item},{form},{unit},{grain},1/8 in,0.{grams:04},{weight}"
            ),
        );
    }
    text
}

fn sizes(quarter: &Quarter, random: &mut Random) -> String {
    let mut text = "item,length,width,price,price_unit\n".to_owned();
    for item in 0..quarter.items {
        if is_stick(item) {
            for (feet, cents) in STICKS {
                let price = feet * (cents + random.below(4));
                row(
                    &mut text,
                    format_args!(
                        "CUT-{item:02},{feet} ft,,{}.{:02},each",
                        price / 100,
                        price % 100
                    ),
                );
            }
        } else {
            for feet in [8, 10] {
                let price = feet * (380 + random.below(60));
                row(
                    &mut text,
                    format_args!(
                        "CUT-{item:02},{feet} ft,4 ft,{}.{:02},each",
                        price / 100,
                        price % 100
                    ),
                );
            }
        }
    }
    text
}

fn plans(quarter: &Quarter) -> String {
    let mut text = "plan,description\n".to_owned();
    for plan in 0..quarter.plans {
        row(&mut text, format_args!("PLAN-{plan:02},made-up plan {plan}"));
    }
    text
}

/// Sizes are eighths of an inch, most of them whole or half inches, as drawings have them; where an item has more sizes than
/// that gives, they are any 64ths.
fn bill(quarter: &Quarter, mean: usize, random: &mut Random) -> String {
    let mut text = "parent,component,quantity,length,width,use\n".to_owned();
    let mut known = std::collections::BTreeSet::new();
    let (parts, steps) =
        if quarter.distinct / quarter.items > 500 { (64, [1; 5]) } else { (8, [8, 8, 4, 4, 1]) };
    while known.len() < quarter.distinct {
        let item = known.len() % quarter.items;
        let plan = known.len() * quarter.plans / quarter.distinct;
        let mut side = |least: usize, most: usize| {
            let size = parts * least + random.below(parts * (most - least));
            let step = steps[random.below(5)];
            size / step * step
        };
        let (length, width) = match (is_stick(item), known.len() % 7) {
            (true, _) => (side(8, 170), 0),
            (false, 0) => (side(40, 92), side(20, 46)),
            (false, _) => (side(5, 48), side(3, 30)),
        };
        if !known.insert((item, length, width)) {
            continue;
        }
        let quantity = 1 + random.below(2 * mean);
        let width = if is_stick(item) { String::new() } else { inches(width, parts) };
        row(
            &mut text,
            format_args!(
                "PLAN-{plan:02},CUT-{item:02},{quantity},{},{width},piece",
                inches(length, parts)
            ),
        );
    }
    text
}

fn inches(size: usize, parts: usize) -> String {
    match size % parts {
        0 => format!("{}", size / parts),
        part => format!("{} {part}/{parts}", size / parts),
    }
}

fn schedule(quarter: &Quarter, weekly: &[usize]) -> String {
    let mut text = "plan,week,units\n".to_owned();
    let first = jiff::civil::Date::constant(2027, 3, 1);
    for week in 0..quarter.weeks {
        let days = i64::try_from(7 * week).expect("weeks are few");
        let monday = first
            .checked_add(jiff::Span::new().days(days))
            .expect("a quarter lies within the calendar");
        for (plan, units) in weekly.iter().enumerate() {
            row(&mut text, format_args!("PLAN-{plan:02},{monday},{units}"));
        }
    }
    text
}

fn row(text: &mut String, row: std::fmt::Arguments<'_>) {
    writeln!(text, "{row}").expect("a string takes any text");
}
