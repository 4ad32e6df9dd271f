//! Adds to a made-up plant what purchasing asks for: a schedule, stock, terms of ordering, take rates, assemblies kept.

use std::collections::BTreeMap;

use super::plant::{Form, Plant};
use super::random::Random;
use super::tables::{Bill, Rows};

/// Weeks of the schedule; the first is that of the plant's day.
const WEEKS: i64 = 5;
/// Number of the first week in 2027.
const FIRST_WEEK: i64 = 22;

/// Returns the tables of a plant with those of purchasing. The first row of the schedule has 6 units.
pub(crate) fn with_orders(plant: &Plant, seed: u64) -> BTreeMap<&'static str, Rows> {
    let mut random = Random::new(seed ^ 0x00c0_ffee);
    let mut tables = plant.tables(Bill::Parents);
    tables.insert("schedule", schedule(plant, &mut random));
    tables.insert("stock", stock(plant, &tables, &mut random));
    add(&mut tables, "items", &["lead_days", "safety_stock", "lot_rule", "lot_size"], |row| {
        let lead = *random.pick(&["", "3", "2 weeks"]);
        let safety = *random.pick(&["", "", "4 days"]);
        let [rule, size] = *random.pick(&[["", ""], ["", ""], ["fixed", "7"], ["period", "2"]]);
        if row[1] == "labor" { [""; 4] } else { [lead, safety, rule, size] }.map(str::to_owned)
    });
    add(&mut tables, "options", &["take_rate"], |_| {
        let rate = random.range(0, 100);
        [if random.chance(60) { rate.to_string() } else { String::new() }]
    });
    add(&mut tables, "assemblies", &["stocked", "lead_days", "offset_days"], |_| {
        let is_stocked = if random.chance(30) { "yes" } else { "" };
        [is_stocked.to_owned(), random.range(0, 6).to_string(), random.range(0, 3).to_string()]
    });
    tables
}

/// Adds columns to a table that is there.
fn add<const COUNT: usize>(
    tables: &mut BTreeMap<&'static str, Rows>,
    name: &str,
    headers: &[&str; COUNT],
    mut cells: impl FnMut(&[String]) -> [String; COUNT],
) {
    let Some(rows) = tables.get_mut(name) else { return };
    for (index, row) in rows.iter_mut().enumerate() {
        let more = if index == 0 { headers.map(str::to_owned) } else { cells(row) };
        row.extend(more);
    }
}

fn row<const COUNT: usize>(cells: [&str; COUNT]) -> Vec<String> {
    cells.map(str::to_owned).to_vec()
}

fn schedule(plant: &Plant, random: &mut Random) -> Rows {
    let mut rows = vec![row(["plan", "week", "units", "options"])];
    for week in 0..WEEKS {
        for plan in &plant.plans {
            let is_first = rows.len() == 1;
            let units = if is_first { 6 } else { random.range(0, 4) };
            if units > 0 {
                let week = format!("2027-W{:02}", FIRST_WEEK + week);
                let options = if random.chance(30) { "none" } else { "" };
                rows.push(row([&plan.name, &week, &units.to_string(), options]));
            }
        }
    }
    rows
}

fn stock(plant: &Plant, tables: &BTreeMap<&'static str, Rows>, random: &mut Random) -> Rows {
    let mut rows = vec![row(["item", "length", "width", "quantity", "kind", "due"])];
    let mut push = |name: &str, sides: [&str; 2], random: &mut Random| {
        let count = random.range(1, 12).to_string();
        let due = format!("2027-W{:02}", FIRST_WEEK + random.range(0, WEEKS + 2));
        let [kind, due] = if random.chance(50) { ["on hand", ""] } else { ["on order", &due] };
        rows.push(row([name, sides[0], sides[1], &count, kind, due]));
    };
    for size in &tables["sizes"][1..] {
        // A size without a length is made to the length ordered.
        if random.chance(50) && !size[1].is_empty() {
            push(&size[0], [&size[1], &size[2]], random);
        }
    }
    for item in &plant.items {
        if matches!(item.form, Form::Count | Form::Bulk) && random.chance(60) {
            push(&item.name, ["", ""], random);
        }
    }
    rows
}
