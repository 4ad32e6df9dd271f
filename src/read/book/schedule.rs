//! The tables `schedule` and `history`.

use std::collections::BTreeMap;

use jiff::civil::Date;

use crate::diag::Place;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::model::HistoryRow;
use crate::model::OptionId;
use crate::model::PlanId;
use crate::model::RowRef;
use crate::model::ScheduleRow;
use crate::model::Week;
use crate::read::book::Build;
use crate::read::book::named;
use crate::read::cells::Row;
use crate::read::names::folded;

/// Reads the units to be built. A plan, an option or a week that cannot be read is an error: orders for fewer units than
/// the plant builds would not be noticed.
pub(super) fn schedule(build: &mut Build) {
    let Some(grid) = build.grids.find("schedule") else { return };
    let [week, date] = ["week", "date"].map(|name| grid.at(name));
    if !grid.has(week) && !grid.has(date) {
        let (table, column) = ("schedule".to_owned(), "week".to_owned());
        let problem = Problem::ColumnMissing { table, column };
        let place = Some(grid.table.whole());
        let hint = Some("a column `date` may stand in its place".to_owned());
        build.reader.findings.about_table(grid.rank, Severity::Error, place, problem, hint);
        return;
    }
    let mut found: Vec<(Row, ScheduleRow)> = Vec::new();
    for row in build.reader.rows(grid) {
        let plan = plan(build, row, Severity::Error);
        let day = day(row);
        let units = row.needed_whole(grid.at("units"));
        let first_unit = row.whole(grid.at("first_unit"));
        let chosen = options(build, row, plan);
        let order = row.text(grid.at("order")).into_owned();
        let (Some(plan), Some(day), Some(units)) = (plan, day, units) else { continue };
        if units == 0 {
            let reason = "it has no units".to_owned();
            row.tell(Severity::Warning, None, Problem::RowIgnored { reason });
            continue;
        }
        if first_unit.is_some_and(|first| first.checked_add(units).is_none()) {
            row.out_of_range(grid.at("first_unit"), "numbers below 4294967296");
            continue;
        }
        let row_ref = grid.row_ref(row.index);
        let read = ScheduleRow { plan, day, units, order, chosen, first_unit, row: row_ref };
        found.push((row, read));
    }
    repeated(build, &found);
    unsorted(&found);
    shared_numbers(&found);
    build.book.schedule = found.into_iter().map(|(_, read)| read).collect();
}

fn plan(build: &Build, row: Row, severity: Severity) -> Option<PlanId> {
    let at = row.at("plan");
    row.needed_text(at)?;
    named(&build.names.plans, "plan", row, at, severity)
}

/// Returns the day of `date`, or the Monday of `week`.
fn day(row: Row) -> Option<Date> {
    let (week_at, date_at) = (row.at("week"), row.at("date"));
    let (week, date) = (row.date(week_at), row.date(date_at));
    let given = [week_at, date_at].iter().filter(|at| !row.is_empty(**at)).count();
    if given != 1 {
        let columns = vec!["week".to_owned(), "date".to_owned()];
        row.error(week_at, Problem::NotOne { columns, given });
        return None;
    }
    date.or(week.map(|day| Week::of(day).monday()))
}

/// Returns the options a row names; nothing if it does not say. `none` says that there are none.
fn options(build: &Build, row: Row, plan: Option<PlanId>) -> Option<Vec<OptionId>> {
    let at = row.at("options");
    let list = row.list(at);
    if list.is_empty() {
        return None;
    }
    if let [word] = list.as_slice()
        && word.eq_ignore_ascii_case("none")
        && build.names.options.find(word).is_none()
    {
        return Some(Vec::new());
    }
    let mut chosen = Vec::new();
    for name in list {
        let Some(option) = build.names.options.find(&name) else {
            let hint = build.names.options.hint(&name);
            let problem = Problem::NameUnknown { what: "option".to_owned(), name };
            row.error_with_hint(at, problem, hint);
            continue;
        };
        let only = build.book.options[option.index()].plan;
        if let (Some(only), Some(plan)) = (only, plan)
            && only != plan
        {
            let option = build.book.options[option.index()].name.clone();
            let plan = build.book.plans[only.index()].name.clone();
            row.error(at, Problem::OptionOfOtherPlan { option, plan });
        } else if !chosen.contains(&option) {
            chosen.push(option);
        }
    }
    conflicts(build, row, &chosen);
    Some(chosen)
}

/// Tells of options that cannot be taken together, with those they bring along.
fn conflicts(build: &Build, row: Row, chosen: &[OptionId]) {
    let options = &build.book.options;
    let mut taken: Vec<OptionId> = chosen.to_vec();
    let mut next = 0;
    while let Some(option) = taken.get(next) {
        let included = options[option.index()].includes.iter();
        let included = included.filter_map(|name| build.names.options.find(name));
        let fresh: Vec<OptionId> = included.filter(|option| !taken.contains(option)).collect();
        taken.extend(fresh);
        next += 1;
    }
    let at = row.at("options");
    let is_same = |a: &str, b: &str| folded(a) == folded(b);
    for (position, option) in taken.iter().enumerate() {
        let option = &options[option.index()];
        for other in taken[position + 1..].iter().map(|other| &options[other.index()]) {
            let pair = match (option.excludes(other), other.excludes(option)) {
                (true, _) => Some((option, other)),
                (false, true) => Some((other, option)),
                (false, false) => None,
            };
            if let Some((option, other)) = pair {
                let (option, other) = (option.name.clone(), other.name.clone());
                row.error(at, Problem::OptionConflict { option, other });
            } else if let (Some(choice), Some(same)) = (&option.choice, &other.choice)
                && is_same(choice, same)
            {
                let chosen = vec![option.name.clone(), other.name.clone()];
                row.error(at, Problem::ChoiceUnmet { choice: choice.clone(), chosen });
            }
        }
    }
}

/// Tells of rows that say the same again: perhaps pasted twice.
fn repeated(build: &Build, found: &[(Row, ScheduleRow)]) {
    let mut seen = BTreeMap::new();
    for (row, read) in found {
        let key = (read.plan, read.day, folded(&read.order), &read.chosen);
        let first = *seen.entry(key).or_insert(read.row);
        tell_repeated(build, *row, read.plan, first);
    }
}

fn tell_repeated(build: &Build, row: Row, plan: PlanId, first: RowRef) {
    if first == row.grid.row_ref(row.index) {
        return;
    }
    let problem = Problem::UnitsRepeated {
        plan: build.book.plans[plan.index()].name.clone(),
        first: place(row, first),
    };
    row.tell(Severity::Warning, Some(row.at("plan")), problem);
}

/// Returns the place of another row of the same table.
fn place(row: Row, other: RowRef) -> Place {
    Place { row: Some(other.row), ..row.grid.table.whole() }
}

/// Notes the first row that stands after a later day.
fn unsorted(found: &[(Row, ScheduleRow)]) {
    for pair in found.windows(2) {
        let [(_, earlier), (row, read)] = pair else { continue };
        if read.day < earlier.day {
            let at = row.at(if row.is_empty(row.at("date")) { "week" } else { "date" });
            let problem = Problem::UnitsUnsorted {
                day: read.day.to_string(),
                earlier: place(*row, earlier.row),
            };
            row.tell(Severity::Note, Some(at), problem);
            return;
        }
    }
}

/// Tells of numbers that two units have.
fn shared_numbers(found: &[(Row, ScheduleRow)]) {
    let mut ranges: Vec<(u64, u64, usize)> = Vec::new();
    for (position, (_, read)) in found.iter().enumerate() {
        if let Some(first) = read.first_unit {
            ranges.push((u64::from(first), u64::from(first) + u64::from(read.units), position));
        }
    }
    ranges.sort_unstable();
    let mut widest: Option<(u64, usize)> = None;
    for (first, end, position) in ranges {
        if let Some((taken, other)) = widest
            && first < taken
        {
            let (later, earlier) = (position.max(other), position.min(other));
            let (row, _) = found[later];
            let problem = Problem::UnitNumbersShared {
                first,
                last: end.min(taken) - 1,
                other: place(row, found[earlier].1.row),
            };
            row.tell(Severity::Warning, Some(row.at("first_unit")), problem);
        }
        if widest.is_none_or(|(taken, _)| taken < end) {
            widest = Some((end, position));
        }
    }
}

/// Reads the units built in past weeks. A plan the book no longer has is told and left out.
pub(super) fn history(build: &mut Build) {
    let Some(grid) = build.grids.find("history") else { return };
    let mut seen = BTreeMap::new();
    let mut found = Vec::new();
    for row in build.reader.rows(grid) {
        let plan = plan(build, row, Severity::Warning);
        let week = row.needed_date(grid.at("week")).map(|day| Week::of(day).monday());
        let units = row.needed_whole(grid.at("units"));
        let (Some(plan), Some(week), Some(units)) = (plan, week, units) else { continue };
        if let Some(as_of) = build.book.as_of().filter(|as_of| *as_of < week) {
            let problem = Problem::DayAhead { day: week.to_string(), as_of: as_of.to_string() };
            row.tell(Severity::Warning, Some(grid.at("week")), problem);
        }
        let row_ref = grid.row_ref(row.index);
        tell_repeated(build, row, plan, *seen.entry((plan, week)).or_insert(row_ref));
        found.push(HistoryRow { plan, week, units, row: row_ref });
    }
    build.book.history = found;
}
