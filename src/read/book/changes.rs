//! The tables `swaps`, `cases` and `actuals`.

use std::collections::BTreeSet;

use crate::diag::Problem;
use crate::diag::Severity;
use crate::diag::did_you_mean;
use crate::diag::nearest;
use crate::model::ActualRow;
use crate::model::CaseRow;
use crate::model::Component;
use crate::model::Effective;
use crate::model::Item;
use crate::model::Match;
use crate::model::Parent;
use crate::model::PriceChange;
use crate::model::SwapRow;
use crate::quantity::Dimension;
use crate::quantity::Ratio;
use crate::read::Cell;
use crate::read::Percent;
use crate::read::book::Build;
use crate::read::book::bill::component;
use crate::read::book::bill::named_values;
use crate::read::book::known;
use crate::read::book::named;
use crate::read::book::prices::item;
use crate::read::book::prices::money;
use crate::read::book::stock;
use crate::read::cells::Row;
use crate::read::columns::At;
use crate::read::numbers::foreign_sign;

/// Reads the changes of material.
pub(super) fn swaps(build: &mut Build) {
    let Some(grid) = build.grids.find("swaps") else { return };
    let at = |name| grid.at(name);
    let mut found = Vec::new();
    for row in build.reader.rows(grid) {
        let swap = row.needed_text(at("swap"));
        let [from, to] = ["from", "to"].map(|name| end(build, row, at(name)));
        // Unlike a line, a swap has no columns for the sides.
        let set = named_values(row, at("set"), &["openings"]);
        if ["from", "to", "set"].iter().all(|name| row.is_empty(at(name))) {
            let columns = ["from", "to", "set"].map(str::to_owned).to_vec();
            row.error(at("from"), Problem::NotOne { columns, given: 0 });
        }
        let names = &build.names;
        let read = SwapRow {
            swap: swap.unwrap_or_default().into_owned(),
            from,
            to,
            ratio: ratio(row),
            parent: parent(build, row),
            quantity: row.formula(at("quantity"), Dimension::NUMBER),
            plan: named(&names.plans, "plan", row, at("plan"), Severity::Error),
            assembly: named(&names.assemblies, "assembly", row, at("assembly"), Severity::Error),
            option: named(&names.options, "option", row, at("option"), Severity::Error),
            set,
            from_date: row.date(at("from_date")),
            from_unit: from_unit(row),
            is_approved: row.flag(at("approved")).unwrap_or(false),
            uses_up: row.flag(at("use_up")).unwrap_or(false),
            row: grid.row_ref(row.index),
        };
        found.push((row, read));
    }
    let mut names = known::of_book(build);
    names.extend(found.iter().flat_map(|(_, swap)| swap.set.iter().map(|(name, _)| name.as_str())));
    for (row, swap) in &found {
        let values = swap.set.iter().map(|(_, value)| (at("set"), value));
        for (at, expression) in swap.quantity.iter().map(|it| (at("quantity"), it)).chain(values) {
            known::check(*row, at, expression, &names);
        }
    }
    build.book.swaps = found.into_iter().map(|(_, swap)| swap).collect();
}

fn end(build: &Build, row: Row, at: At) -> Option<Component> {
    if row.is_empty(at) {
        return None;
    }
    component(build, row, at, Severity::Error)
}

fn ratio(row: Row) -> Ratio {
    let at = row.at("ratio");
    let Some(ratio) = row.measure(at, Dimension::NUMBER) else { return Ratio::ONE };
    if ratio.value.is_zero() || ratio.value.is_negative() {
        row.out_of_range(at, "above zero");
    }
    ratio.value
}

/// Returns the plan, assembly or option whose lines change.
fn parent(build: &Build, row: Row) -> Option<Parent> {
    let at = row.at("parent");
    let name = row.text(at);
    if name.is_empty() {
        return None;
    }
    let names = &build.names;
    let plan = || names.plans.find(&name).map(Parent::Plan);
    let assembly = || names.assemblies.find(&name).map(Parent::Assembly);
    let option = || names.options.find(&name).map(Parent::Option);
    let found = plan().or_else(assembly).or_else(option);
    if found.is_none() {
        let assembly = || names.assemblies.hint(&name);
        let option = || names.options.hint(&name);
        let hint = names.plans.hint(&name).or_else(assembly).or_else(option);
        let what = "plan, assembly or option".to_owned();
        let problem = Problem::NameUnknown { what, name: name.clone().into_owned() };
        row.error_with_hint(at, problem, hint);
    }
    found
}

/// Returns the number of a unit, written `#412` or `412`.
fn from_unit(row: Row) -> Option<u32> {
    let at = row.at("from_unit");
    match row.cell(at) {
        Cell::Text(text) if text.starts_with('#') => match row.effective(at) {
            Some(Effective::Unit(unit)) => Some(unit),
            _ => None,
        },
        Cell::Empty => None,
        _ => row.whole(at),
    }
}

/// Reads the price cases.
pub(super) fn cases(build: &mut Build) {
    let Some(grid) = build.grids.find("cases") else { return };
    for row in build.reader.rows(grid) {
        let case = row.needed_text(grid.at("case"));
        let items = items(row);
        let change = change(row);
        if let Some(items) = &items
            && !build.book.items.iter().any(|item| items.fits(item))
        {
            unmatched(&build.book.items, row, items);
        }
        let (Some(case), Some(items), Some(change)) = (case, items, change) else { continue };
        let row = Some(grid.row_ref(row.index));
        build.book.cases.push(CaseRow { case: case.into_owned(), items, change, row });
    }
}

fn items(row: Row) -> Option<Match> {
    let at = row.at("match");
    let text = row.needed_text(at)?;
    let items = Match::parse(&text);
    if items.is_none() {
        let hint =
            "write the name of an item, `group = ..` or `vendor = ..`; `*` stands for any text";
        let problem =
            Problem::NotAMeasure { text: text.into_owned(), expected: "match".to_owned() };
        row.error_with_hint(at, problem, Some(hint.to_owned()));
    }
    items
}

fn unmatched(items: &[Item], row: Row, wanted: &Match) {
    let (what, name) = match wanted {
        Match::Item(name) => ("item", name),
        Match::Group(name) => ("item group", name),
        Match::Vendor(name) => ("vendor of an item", name),
    };
    let names: BTreeSet<&str> = items
        .iter()
        .map(|item| match wanted {
            Match::Item(_) => item.name.as_str(),
            Match::Group(_) => item.group.as_str(),
            Match::Vendor(_) => item.vendor.as_str(),
        })
        .filter(|name| !name.is_empty())
        .collect();
    let hint = nearest(name, names.into_iter()).map(did_you_mean);
    let problem = Problem::NameUnknown { what: what.to_owned(), name: name.clone() };
    row.tell_with_hint(Severity::Warning, Some(row.at("match")), problem, hint);
}

/// Returns a change of a price. A percent cell is a share; a number cell below zero is an amount, as its sign is there.
fn change(row: Row) -> Option<PriceChange> {
    let at = row.at("change");
    let text = row.needed_text(at)?;
    let change = match row.cell(at) {
        Cell::Number { percent: Percent::Yes, .. } => {
            row.share(at).filter(|share| *share >= Ratio::whole(-1)).map(PriceChange::Share)
        }
        Cell::Number { percent: Percent::No, .. } => {
            row.number(at).filter(Ratio::is_negative).map(PriceChange::Amount)
        }
        Cell::Text(text) => PriceChange::parse_with(text, row.grid.sign()),
        _ => None,
    };
    let Some(change) = change else {
        let text = row.shown(at);
        let hint =
            "write a share as `+12 %`, an amount as `+0.50` or `-0.50`, a price as `to 4.20`";
        let expected = "change of a price".to_owned();
        let problem = Problem::NotAMeasure { text, expected };
        row.error_with_hint(at, problem, Some(hint.to_owned()));
        return None;
    };
    if let Some(sign) = foreign_sign(&text, &row.reader.currency) {
        let (unit, expected) = (sign.to_string(), row.reader.currency.clone());
        row.error(at, Problem::UnitUnfit { text: text.into_owned(), unit, expected });
        return None;
    }
    Some(change)
}

/// Reads what was really bought and used. What the book does not know is told and left out.
pub(super) fn actuals(build: &mut Build) {
    let Some(grid) = build.grids.find("actuals") else { return };
    let sizes = stock::sizes(build);
    let mut found = Vec::new();
    for row in build.reader.rows(grid) {
        let plan_at = grid.at("plan");
        let plan = named(&build.names.plans, "plan", row, plan_at, Severity::Warning);
        let date = row.date(grid.at("date"));
        let amount = money(row, grid.at("amount"), &row.reader.currency);
        let units = row.whole(grid.at("units"));
        let known = item(build, row, Severity::Warning);
        let Some(item) = known.filter(|item| !build.unclear.contains(item)) else {
            row.check(grid.at("quantity"));
            continue;
        };
        let quantity = stock::used(row, &build.book.items[item.index()], &sizes[item.index()]);
        let Some(quantity) = quantity else { continue };
        if plan.is_none() && !row.is_empty(plan_at) {
            continue;
        }
        let row = grid.row_ref(row.index);
        found.push(ActualRow { item, plan, date, quantity, amount, units, row });
    }
    build.book.actuals = found;
}
