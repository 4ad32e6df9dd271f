//! Tables that lay several answers side by side.

use std::collections::BTreeMap;

use crate::diag::{Diagnostic, Severity};
use crate::model::Form;
use crate::model::Week;
use crate::orders::Orders;
use crate::price::Target;
use crate::quantity::{Ratio, minor_digits};
use crate::render::report::whole::Whole;
use crate::render::report::{
    Cell, Field, Table, build_name, build_options, figures, load_parts, table, words,
};
use crate::render::shown;
use crate::rollup::BuildCost;

/// Returns the plans side by side: what one unit costs, sells for, weighs and may carry, and what the lot takes.
pub(super) fn summary(whole: &Whole<'_>) -> Table {
    let Whole { book, needs, rollup, .. } = *whole;
    let currency = &book.settings.currency;
    let weight = &book.settings.weight_unit;
    let digits = minor_digits(currency);
    let name = |cost: &BuildCost| build_name(book, &needs.builds[cost.build]);
    let sheet = |cost: &BuildCost| whole.price.plans.iter().find(|plan| plan.build == cost.build);
    let money =
        |amount: Option<i128>| amount.map_or_else(Cell::default, |a| Cell::amount(a, digits));
    let quoted = |cost: &BuildCost, is_given: bool| {
        let quotes = sheet(cost).map_or(&[][..], |plan| &plan.quotes);
        quotes.iter().find(|quote| matches!(quote.target, Target::At(_)) == is_given)
    };
    let count = |cost: &BuildCost, form: Form| -> Cell {
        let items = cost.items.iter().filter(|item| book.item(item.item).form == form);
        let bought = items.flat_map(|item| &item.purchases).filter(|bought| bought.size.is_some());
        Cell::figure(shown::rounded(&bought.map(|bought| bought.count.clone()).sum(), 2))
    };
    let loads =
        |cost: &BuildCost| whole.loads.builds.iter().find(|build| build.build == cost.build);
    let in_unit = |pounds: &Ratio| {
        let parts = load_parts(book, std::slice::from_ref(pounds));
        parts.into_iter().next().unwrap_or_default()
    };
    let lot = if rollup.lot > 1 { " of the lot" } else { "" };
    let fields: Vec<Field<'_, BuildCost>> = vec![
        words("plan", name),
        figures(&format!("cost {currency}"), |cost: &BuildCost| {
            money(sheet(cost).map(|plan| plan.factory.unit))
        }),
        figures(&format!("price for its margin {currency}"), |cost: &BuildCost| {
            money(quoted(cost, false).map(|quote| quote.price))
        }),
        figures(&format!("list price {currency}"), |cost: &BuildCost| {
            money(quoted(cost, true).map(|quote| quote.price))
        }),
        figures("margin at it %", |cost: &BuildCost| {
            let margin = quoted(cost, true).and_then(|quote| quote.margin.as_ref());
            margin.map_or_else(Cell::default, |margin| Cell::figure(shown::percent(margin)))
        }),
        figures(&format!("unloaded weight {}", weight.name), |cost: &BuildCost| {
            loads(cost).map_or_else(Cell::default, |build| in_unit(&build.weight))
        }),
        figures(&format!("cargo capacity {}", weight.name), |cost: &BuildCost| {
            let capacity = loads(cost).and_then(|build| build.capacity.as_ref());
            capacity.map_or_else(Cell::default, in_unit)
        }),
        figures(&format!("sheets{lot}"), |cost: &BuildCost| count(cost, Form::Sheet)),
        figures(&format!("rolls{lot}"), |cost: &BuildCost| count(cost, Form::Roll)),
        figures(&format!("sticks{lot}"), |cost: &BuildCost| count(cost, Form::Linear)),
        figures("findings that name it", |cost: &BuildCost| {
            let name = format!("`{}`", name(cost));
            let naming = whole.findings.iter().filter(|f| f.problem.to_string().contains(&name));
            Cell::figure(naming.count().to_string())
        }),
    ];
    let title = match rollup.lot {
        1 => "Plans side by side, one unit each".to_owned(),
        lot => format!("Plans side by side, one unit of a lot of {lot}"),
    };
    let mut made = table(title, &fields, &rollup.builds);
    for build in &needs.builds {
        made.below.push(format!("{}: {}", build_name(book, build), build_options(book, build)));
    }
    made.below.push(counted(whole.findings));
    made
}

/// Says how many findings there are of each severity.
fn counted(findings: &[Diagnostic]) -> String {
    let of = |severity: Severity| findings.iter().filter(|f| f.severity == severity).count();
    format!(
        "findings in all: {} ({} missing, {} warnings, {} notes)",
        findings.len(),
        of(Severity::Gap) + of(Severity::Error),
        of(Severity::Warning),
        of(Severity::Note)
    )
}

/// Returns all findings with their places, the gravest first.
pub(super) fn findings(findings: &[Diagnostic]) -> Table {
    let mut lines: Vec<&Diagnostic> = findings.iter().collect();
    lines.sort_by_key(|finding| std::cmp::Reverse(finding.severity));
    let fields = [
        words("severity", |finding: &&Diagnostic| {
            let word = match finding.severity {
                Severity::Error => "error",
                Severity::Gap => "missing",
                Severity::Warning => "warning",
                Severity::Note => "note",
            };
            word.to_owned()
        }),
        words("place", |finding: &&Diagnostic| {
            finding.place.as_ref().map(ToString::to_string).unwrap_or_default()
        }),
        words("what", |finding: &&Diagnostic| finding.problem.to_string()),
        words("what to do", |finding: &&Diagnostic| finding.hint.clone().unwrap_or_default()),
    ];
    let mut made = table("Findings, the gravest first", &fields, &lines);
    if lines.is_empty() {
        made.below.push("nothing was found".to_owned());
    }
    made
}

/// A vendor in one currency with what is ordered of it each week, in minor units.
type Spent<'a> = ((&'a str, &'a str), BTreeMap<Week, i128>);

/// Returns the money of the orders by vendor and the week of ordering.
pub(super) fn spending(orders: &Orders<'_>) -> Table {
    let mut vendors: BTreeMap<(&str, &str), BTreeMap<Week, i128>> = BTreeMap::new();
    let mut weeks: Vec<Week> = orders.orders.iter().map(|order| order.week).collect();
    weeks.sort_unstable();
    weeks.dedup();
    let years: Vec<i16> = weeks.iter().map(|week| week.monday().year()).collect();
    let is_one_year = years.iter().min() == years.iter().max();
    for order in &orders.orders {
        let spent = vendors.entry((&order.vendor, &order.currency)).or_default();
        *spent.entry(order.week).or_default() += order.total();
    }
    let lines: Vec<Spent<'_>> = vendors.into_iter().collect();
    let mut fields: Vec<Field<'_, Spent<'_>>> = vec![
        words("vendor", |((vendor, _), _): &Spent<'_>| (*vendor).to_owned()),
        words("currency", |((_, currency), _): &Spent<'_>| (*currency).to_owned()),
    ];
    for week in &weeks {
        let day = week.monday();
        let title = if is_one_year {
            format!("{:02}-{:02}", day.month(), day.day())
        } else {
            day.to_string()
        };
        fields.push(figures(&title, move |((_, currency), spent): &Spent<'_>| {
            let amount = spent.get(week).filter(|amount| **amount != 0);
            amount.map_or_else(Cell::default, |a| Cell::amount(*a, minor_digits(currency)))
        }));
    }
    fields.push(figures("all weeks", |((_, currency), spent): &Spent<'_>| {
        Cell::amount(spent.values().sum(), minor_digits(currency))
    }));
    let mut made = table(SPENDING, &fields, &lines);
    if let Some(year) = years.first().filter(|_| is_one_year) {
        made.below.push(format!("weeks of {year}"));
    }
    made.below.push(
        "weeks are named by their Monday; amounts of one vendor are in its currency".to_owned(),
    );
    made
}

/// Title of the table of orders by vendor and week.
pub(in crate::render) const SPENDING: &str = "Money ordered, by vendor and week of ordering";
