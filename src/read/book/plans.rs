//! The tables `plans`, `assemblies` and `options`.

use crate::diag::Place;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::model::Assembly;
use crate::model::AssemblyId;
use crate::model::Attribute;
use crate::model::BookOption;
use crate::model::OptionId;
use crate::model::Plan;
use crate::model::PlanId;
use crate::quantity::Dimension;
use crate::quantity::Measure;
use crate::quantity::Ratio;
use crate::quantity::text;
use crate::quantity::text::DecimalSign;
use crate::quantity::text::exact;
use crate::read::Cell;
use crate::read::book::Build;
use crate::read::book::attributes;
use crate::read::book::id;
use crate::read::book::named;
use crate::read::book::prices::money;
use crate::read::book::taken;
use crate::read::book::terms::assembly_terms;
use crate::read::cells::Row;
use crate::read::cells::text_of;
use crate::read::columns::At;
use crate::read::columns::Grid;
use crate::read::names::folded;
use crate::read::numbers::fraction_in;
use crate::read::schema::Kind;

/// Names that formulas give a meaning of their own.
pub(super) const RESERVED: &[&str] = &["length", "width", "height", "cutout", "openings"];
const WORDS: &[&str] = &["and", "or", "not", "true", "false"];

pub(super) fn plans(build: &mut Build) {
    let Some(grid) = build.grids.find("plans") else { return };
    let at = grid.at("plan");
    if grid.table.row_count() == 0 {
        let problem = Problem::TableEmpty { table: "plans".to_owned(), what: "plan".to_owned() };
        let place = Some(grid.table.whole());
        build.reader.findings.about_table(grid.rank, Severity::Error, place, problem, None);
    }
    let dimensions = dimensions(build, grid);
    for row in build.reader.rows(grid) {
        let values = values(row, &dimensions);
        let others = grid.extras.iter().filter(|(index, _)| !dimensions.contains(index));
        let attributes = others.filter_map(|(index, name)| {
            let cell = grid.table.cell(row.index, *index);
            let value = text_of(cell).into_owned();
            (cell != Cell::Empty).then(|| Attribute { name: name.clone(), value })
        });
        let attributes = attributes.collect();
        let description = row.text(grid.at("description")).into_owned();
        let Some(name) = row.needed_text(at) else { continue };
        if let Some(first) = build.names.plans.add(&name, PlanId(id(build.book.plans.len()))) {
            let first = place(build, build.book.plans[first.index()].row.row, "plans");
            taken(row, at, "plan", &name, first);
            continue;
        }
        let row = grid.row_ref(row.index);
        build.book.plans.push(Plan {
            name: name.into_owned(),
            description,
            values,
            attributes,
            row,
        });
    }
}

/// Returns the place of a row of a table, by its number.
pub(super) fn place(build: &Build, row: u32, table: &str) -> Place {
    let grid = build.grids.find(table).expect("the row was read from this table");
    Place { row: Some(row), ..grid.table.whole() }
}

/// Returns the extra columns of `plans` that are named dimensions: all their cells read as measures.
fn dimensions(build: &Build, grid: &Grid) -> Vec<usize> {
    let mut dimensions = Vec::new();
    for (index, name) in &grid.extras {
        let cells = || {
            (0..grid.table.row_count())
                .map(|row| (row, grid.table.cell(row, *index)))
                .filter(|(_, cell)| *cell != Cell::Empty)
        };
        let is_measure = |cell: &Cell| measure(cell, grid.sign()).is_some();
        let measures = cells().filter(|(_, cell)| is_measure(cell)).count();
        if measures == 0 {
            continue;
        }
        let Some((row, text)) = cells().find(|(_, cell)| !is_measure(cell)) else {
            dimensions.push(*index);
            continue;
        };
        if measures > 1 {
            let row = Row { reader: build.reader, grid, index: row };
            let problem = Problem::ColumnIgnored {
                column: name.clone(),
                reason: format!(
                    "`{}` is not a measure, so it is no dimension but an attribute",
                    text_of(text)
                ),
            };
            row.tell(Severity::Note, None, problem);
        }
    }
    dimensions
}

fn measure(cell: &Cell, sign: DecimalSign) -> Option<Measure> {
    match cell {
        Cell::Number { text, .. } => text::measure(text, None, DecimalSign::Point).ok(),
        Cell::Text(text) if fraction_in(text).is_none() => text::measure(text, None, sign).ok(),
        _ => None,
    }
}

/// Returns a header as formulas may write it: lower case, words joined by `_`.
fn formula_name(header: &str) -> String {
    let words =
        header.split(|letter: char| !letter.is_alphanumeric()).filter(|word| !word.is_empty());
    words.map(str::to_lowercase).collect::<Vec<_>>().join("_")
}

fn values(row: Row, dimensions: &[usize]) -> Vec<(String, Measure)> {
    let grid = row.grid;
    let mut values: Vec<(usize, String, Measure)> = Vec::new();
    for (at, index) in grid.present() {
        let column = grid.column(at);
        let value = match column.kind {
            Kind::Measure(dimension) => row.measure(at, dimension),
            Kind::Percent => row.share(at).map(Measure::number),
            Kind::Money => money(row, at, &row.reader.currency)
                .map(|value| Measure { value, dimension: Dimension::MONEY }),
            _ => None,
        };
        if let Some(value) = value {
            if value.value.is_negative() && column.name != "axle_position" {
                row.out_of_range(at, "not below zero");
            }
            values.push((index, column.name.to_owned(), value));
        }
    }
    for (index, name) in grid.extras.iter().filter(|(index, _)| dimensions.contains(index)) {
        let cell = grid.table.cell(row.index, *index);
        if let Some(value) = measure(&cell, grid.sign()) {
            values.push((*index, formula_name(name), value));
        }
    }
    values.sort_by_key(|(index, _, _)| *index);
    values.into_iter().map(|(_, name, value)| (name, value)).collect()
}

pub(super) fn assemblies(build: &mut Build) {
    let Some(grid) = build.grids.find("assemblies") else { return };
    let at = grid.at("assembly");
    for row in build.reader.rows(grid) {
        let terms = assembly_terms(row);
        let Some(name) = row.needed_text(at) else { continue };
        if let Some(plan) = build.names.plans.find(&name) {
            let first = place(build, build.book.plans[plan.index()].row.row, "plans");
            taken(row, at, "name", &name, first);
            continue;
        }
        let next = AssemblyId(id(build.book.assemblies.len()));
        if let Some(first) = build.names.assemblies.add(&name, next) {
            let first = place(build, build.book.assemblies[first.index()].row.row, "assemblies");
            taken(row, at, "assembly", &name, first);
            continue;
        }
        build.book.assemblies.push(Assembly {
            name: name.into_owned(),
            description: row.text(grid.at("description")).into_owned(),
            station: row.text(grid.at("station")).into_owned(),
            terms,
            attributes: attributes(row),
            row: grid.row_ref(row.index),
        });
    }
}

pub(super) fn options(build: &mut Build) {
    let Some(grid) = build.grids.find("options") else { return };
    let mut lists: Vec<(usize, OptionId)> = Vec::new();
    for row in build.reader.rows(grid) {
        if let Some(option) = option(build, row) {
            let next = OptionId(id(build.book.options.len()));
            lists.push((row.index, next));
            build.book.options.push(option);
        }
    }
    for (index, option) in &lists {
        let row = Row { reader: build.reader, grid, index: *index };
        let resolve = |at: At| -> Vec<String> {
            let mut found = Vec::new();
            for name in row.list(at) {
                match build.names.options.find(&name) {
                    Some(other) if other == *option => {
                        let option = build.book.options[other.index()].name.clone();
                        row.error(at, Problem::OptionOfItself { option });
                    }
                    Some(other) => found.push(build.book.options[other.index()].name.clone()),
                    None => {
                        let hint = build.names.options.hint(&name);
                        let problem = Problem::NameUnknown { what: "option".to_owned(), name };
                        row.error_with_hint(at, problem, hint);
                    }
                }
            }
            found
        };
        let (includes, excludes) = (resolve(grid.at("includes")), resolve(grid.at("excludes")));
        if let Some(both) = includes.iter().find(|name| excludes.contains(name)) {
            let problem = Problem::IncludesExcluded {
                option: build.book.options[option.index()].name.clone(),
                other: both.clone(),
            };
            row.error(grid.at("excludes"), problem);
        }
        let entry = &mut build.book.options[option.index()];
        (entry.includes, entry.excludes) = (includes, excludes);
    }
    choices(build, grid, &lists);
}

fn option(build: &mut Build, row: Row) -> Option<BookOption> {
    let grid = row.grid;
    let (at, plan_at) = (grid.at("option"), grid.at("plan"));
    let plan = named(&build.names.plans, "plan", row, plan_at, Severity::Error);
    let is_standard = row.flag(grid.at("standard")).unwrap_or(false);
    let take_rate = row.part(grid.at("take_rate"));
    let choice = Some(row.text(grid.at("choice")).into_owned()).filter(|choice| !choice.is_empty());
    let description = row.text(grid.at("description")).into_owned();
    let name = row.needed_text(at)?;
    let is_word = name.starts_with(|letter: char| letter.is_ascii_alphabetic())
        && name.chars().all(|letter| letter.is_ascii_alphanumeric() || letter == '_');
    let key = folded(&name);
    if WORDS.contains(&key.as_str()) || RESERVED.contains(&key.as_str()) {
        row.error(at, Problem::NameReserved { name: name.clone().into_owned() });
    } else if !is_word {
        let plain: String = name
            .chars()
            .map(|letter| if letter.is_ascii_alphanumeric() { letter } else { '_' })
            .collect();
        let is_better = plain.starts_with(|letter: char| letter.is_ascii_alphabetic());
        let problem = Problem::NotAMeasure {
            text: name.clone().into_owned(),
            expected: "word of letters, digits and `_` that begins with a letter".to_owned(),
        };
        row.error_with_hint(at, problem, is_better.then(|| format!("write `{plain}`")));
    }
    let earlier = build.names.plans.find(&name).map(|plan| build.book.plans[plan.index()].row);
    let earlier = earlier.map(|first| ("plans", first)).or_else(|| {
        let assembly = build.names.assemblies.find(&name)?;
        Some(("assemblies", build.book.assemblies[assembly.index()].row))
    });
    if let Some((table, first)) = earlier {
        let first = place(build, first.row, table);
        taken(row, at, "name", &name, first);
        return None;
    }
    if let Some(first) = build.names.options.add(&name, OptionId(id(build.book.options.len()))) {
        let first = place(build, build.book.options[first.index()].row.row, "options");
        taken(row, at, "option", &name, first);
        return None;
    }
    Some(BookOption {
        name: name.into_owned(),
        plan,
        description,
        is_standard,
        take_rate,
        choice,
        includes: Vec::new(),
        excludes: Vec::new(),
        row: grid.row_ref(row.index),
    })
}

/// Checks that no choice has two standard options for one plan, and that no more units are promised than there are.
fn choices(build: &Build, grid: &Grid, rows: &[(usize, OptionId)]) {
    let options = &build.book.options;
    for (position, (index, option)) in rows.iter().enumerate() {
        let option = &options[option.index()];
        let Some(choice) = &option.choice else { continue };
        let row = Row { reader: build.reader, grid, index: *index };
        let rivals: Vec<&BookOption> = rows[..position]
            .iter()
            .map(|(_, other)| &options[other.index()])
            .filter(|other| {
                let is_same =
                    other.choice.as_ref().is_some_and(|name| folded(name) == folded(choice));
                is_same
                    && (other.plan.is_none() || option.plan.is_none() || other.plan == option.plan)
            })
            .collect();
        if option.is_standard {
            let standard = rivals.iter().filter(|other| other.is_standard);
            let mut chosen: Vec<String> = standard.map(|other| other.name.clone()).collect();
            if !chosen.is_empty() {
                chosen.push(option.name.clone());
                row.error(
                    grid.at("standard"),
                    Problem::ChoiceUnmet { choice: choice.clone(), chosen },
                );
            }
        }
        let rates =
            rivals.iter().copied().chain([option]).filter_map(|other| other.take_rate.clone());
        let sum: Ratio = rates.sum();
        if option.take_rate.is_some() && sum > Ratio::ONE {
            let sum = exact(&(sum * Ratio::whole(100)));
            let problem = Problem::TakeRatesHigh { choice: choice.clone(), sum };
            row.tell(Severity::Warning, Some(grid.at("take_rate")), problem);
        }
    }
}
