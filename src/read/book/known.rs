//! Names in formulas that can never be known, and constant formulas that come to nothing.

use std::collections::BTreeSet;

use crate::diag::did_you_mean;
use crate::diag::nearest;
use crate::diag::squashed;
use crate::formula::Expression;
use crate::model::BillLine;
use crate::model::Plan;
use crate::quantity::text::Fault;
use crate::read::book::Build;
use crate::read::book::bill::Columns;
use crate::read::book::bill::Draft;
use crate::read::book::plans::RESERVED;
use crate::read::cells::Row;
use crate::read::columns::At;

/// The names that the formulas of some lines use and pass.
#[derive(Debug, Default)]
pub(super) struct Used {
    names: BTreeSet<String>,
    passed: BTreeSet<String>,
    /// Those of conditions, which are used as well.
    pub(super) in_conditions: BTreeSet<String>,
}

impl Used {
    /// Adds those of a line.
    pub(super) fn add(&mut self, line: &BillLine) {
        if line.is_plain() {
            return;
        }
        let add = |names: &mut BTreeSet<String>, name: &str| {
            if !names.contains(name) {
                names.insert(name.to_owned());
            }
        };
        for (name, _) in &line.further.with {
            add(&mut self.passed, name);
        }
        for name in line.when.iter().flat_map(Expression::names) {
            add(&mut self.in_conditions, name);
        }
        for expression in line.formulas() {
            for name in expression.names() {
                add(&mut self.names, name);
            }
        }
    }
}

/// Returns the names that formulas of the bill may use: options, dimensions of plans, values passed by some `with`, and
/// those that formulas give a meaning of their own.
///
/// Dimensions are headers, so that formulas may spell them with or without `_`; the plans take the spelling used.
pub(super) fn names(build: &mut Build, of_lines: &[Used]) -> BTreeSet<String> {
    let mut known: BTreeSet<String> = RESERVED.iter().map(|name| (*name).to_owned()).collect();
    known.extend(of_lines.iter().flat_map(|of_lines| of_lines.passed.iter().cloned()));
    known.extend(build.names.options.keys().map(str::to_owned));
    let used = of_lines.iter().flat_map(|of_lines| of_lines.names.iter().map(String::as_str));
    respell(&mut build.book.plans, &known, &used.collect());
    for plan in &build.book.plans {
        known.extend(plan.values.iter().map(|(name, _)| name.clone()));
    }
    known
}

/// Checks every name in every formula of a line.
pub(super) fn check_line(draft: &Draft, columns: &Columns, known: &BTreeSet<&str>) {
    if draft.line.is_plain() {
        return;
    }
    for (at, expression) in expressions(columns, draft.line) {
        check(draft.row, at, expression, known);
    }
}

/// Returns the formulas of a line with their columns.
fn expressions<'a>(
    columns: &'a Columns,
    line: &'a BillLine,
) -> impl Iterator<Item = (At, &'a Expression)> {
    let sides = [
        (columns.length, &line.length),
        (columns.width, &line.width),
        (columns.height, &line.height),
        (columns.cutout, &line.further.cutout),
        (columns.when, &line.when),
        (columns.x, &line.further.x),
        (columns.y, &line.further.y),
        (columns.z, &line.further.z),
        (columns.travel, &line.further.travel),
        (columns.span, &line.further.span),
    ];
    let sides =
        sides.into_iter().filter_map(|(at, side)| side.as_ref().map(|expression| (at, expression)));
    let with = line.further.with.iter().map(|(_, expression)| (columns.with, expression));
    std::iter::once((columns.quantity, &line.quantity)).chain(sides).chain(with)
}

fn respell(plans: &mut [Plan], known: &BTreeSet<String>, used: &BTreeSet<&str>) {
    let own: BTreeSet<String> =
        plans.iter().flat_map(|plan| plan.values.iter().map(|(name, _)| name.clone())).collect();
    for spelling in used.iter().filter(|name| !known.contains(**name) && !own.contains(**name)) {
        let Some(name) = own.iter().find(|name| squashed(name) == squashed(spelling)) else {
            continue;
        };
        for plan in &mut *plans {
            let value = plan.values.iter().position(|(other, _)| other == name);
            let Some(position) = value else { continue };
            let respelled = ((*spelling).to_owned(), plan.values[position].1.clone());
            if used.contains(name.as_str()) {
                plan.values.push(respelled);
            } else {
                plan.values[position] = respelled;
            }
        }
    }
}

/// Returns the names that formulas outside the bill may use, once the bill is read.
pub(super) fn of_book<'a>(build: &'a Build) -> BTreeSet<&'a str> {
    let mut known: BTreeSet<&str> = RESERVED.iter().copied().collect();
    known.extend(build.names.options.keys());
    for line in &build.book.lines {
        known.extend(line.further.with.iter().map(|(name, _)| name.as_str()));
    }
    for plan in &build.book.plans {
        known.extend(plan.values.iter().map(|(name, _)| name.as_str()));
    }
    known
}

/// Adds an error for each name in a formula that is not known, and for a formula without names that comes to nothing.
pub(super) fn check(row: Row, at: At, expression: &Expression, known: &BTreeSet<&str>) {
    if expression.as_constant().is_some() {
        return;
    }
    for name in expression.names() {
        if !known.contains(name.as_str()) {
            let fault = Fault {
                marker: position(expression.text(), name),
                fault: format!("no option, plan dimension or passed value named `{name}`"),
                hint: nearest(name, known.iter().copied()).map(did_you_mean),
            };
            row.fault(at, expression.text(), fault);
        }
    }
    if expression.names().is_empty()
        && let Err(fault) = expression.evaluate(&|_| None)
    {
        row.fault(at, expression.text(), fault);
    }
}

/// Returns where a name stands as a whole word.
fn position(text: &str, name: &str) -> usize {
    let text = text.to_ascii_lowercase();
    let is_part = |letter: char| letter.is_alphanumeric() || letter == '_';
    let whole = text.match_indices(name).find(|(start, _)| {
        !text[..*start].ends_with(is_part) && !text[start + name.len()..].starts_with(is_part)
    });
    whole.map_or(0, |(start, _)| start)
}
