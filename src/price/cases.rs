use std::collections::BTreeSet;

use crate::diag::Diagnostic;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::explode::Needs;
use crate::model::Book;
use crate::model::CaseRow;
use crate::model::Item;
use crate::model::ItemId;
use crate::model::Match;
use crate::model::Price;
use crate::model::PriceBasis;
use crate::model::PriceChange;
use crate::price::sheet::learned;
use crate::price::{Options, Rule};
use crate::quantity::Ratio;
use crate::quantity::text::{DecimalSign, number};
use crate::rollup;
use crate::rollup::{BuildCost, Known, Rollup};
use crate::watch::Watch;

/// What other prices come to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Case {
    /// Its name.
    pub name: String,
    /// Items whose prices change.
    pub items: Vec<ItemId>,
    /// One per build of the needs, in that order.
    pub builds: Vec<CaseCost>,
}

/// What other prices come to for one build.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CaseCost {
    /// Position in the builds of the needs.
    pub build: usize,
    /// Cost of the lot with them less that without, times ten to the power of the cost digits.
    pub lot_change: i128,
    /// Factory cost of one unit before, in the currency's smallest unit.
    pub before: i128,
    /// Factory cost of one unit after, in the same.
    pub after: i128,
}

/// Reads a case of the command line, `PLY-*=+12%` or `group = lumber=+12 %`: what changes stands before the last `=`.
#[must_use]
pub fn parse_case(name: &str, text: &str) -> Option<CaseRow> {
    let (items, change) = text.rsplit_once('=')?;
    // `PLY-18==4.20` sets a price as `to 4.20` does.
    let (items, change) = match items.strip_suffix('=') {
        Some(items) => (items, format!("={change}")),
        None => (items, change.to_owned()),
    };
    Some(CaseRow {
        case: name.to_owned(),
        items: Match::parse(items)?,
        change: PriceChange::parse(&change)?,
        row: None,
    })
}

/// Prices every case: rows of one name act together, in their order. What a case changes is nested anew, the rest is not.
///
/// # Errors
/// A row of the command line that no item fits; a price that falls below zero; those of [`rollup`](rollup::rollup()).
pub fn cases(
    book: &Book,
    needs: &Needs,
    rollup: &Rollup,
    rows: &[CaseRow],
    how: (rollup::Options, &Options),
    watch: &dyn Watch,
) -> Result<Vec<Case>, Vec<Diagnostic>> {
    let (cutting, options) = how;
    let mut names: Vec<&str> = Vec::new();
    for row in rows {
        if !names.iter().any(|name| name.eq_ignore_ascii_case(&row.case)) {
            names.push(&row.case);
        }
    }
    let mut found = Vec::new();
    let mut errors = Vec::new();
    for (done, name) in names.iter().enumerate() {
        watch.progress("pricing cases", done, names.len());
        let mut other = book.clone();
        let mut changed = BTreeSet::new();
        for row in rows.iter().filter(|row| row.case.eq_ignore_ascii_case(name)) {
            match change(book, &mut other, row) {
                // What stands in the table was told when it was read.
                Ok(items) if items.is_empty() && row.row.is_none() => errors.push(unmatched(row)),
                Ok(items) => changed.extend(items),
                Err(error) => errors.push(error),
            }
        }
        if !errors.is_empty() {
            continue;
        }
        let known = Known { book, needs, rollup, changed: &changed };
        let rolled = rollup::rollup_again(&other, needs, known, cutting, watch)?.value;
        let mut builds = Vec::new();
        for (before, after) in rollup.builds.iter().zip(&rolled.builds) {
            let cost = |book: &Book, cost: &BuildCost| -> Result<i128, Vec<Diagnostic>> {
                let after = learned(book, needs, rollup, cost, options);
                let after = after.map_err(|error| vec![error])?;
                Ok(after.map_or_else(|| cost.cost(), |(_, after)| after.cost()))
            };
            let (before_cost, after_cost) = (cost(book, before)?, cost(&other, after)?);
            let unit = |amount: i128| {
                let money = Ratio::decimal(amount, rollup.cost_digits);
                let lot = Ratio::from(i64::from(rollup.lot));
                Rule::of(book).minor(&money.checked_div(&lot).expect("a lot has units"))
            };
            builds.push(CaseCost {
                build: before.build,
                lot_change: after_cost - before_cost,
                before: unit(before_cost),
                after: unit(after_cost),
            });
        }
        let items = changed.into_iter().collect();
        found.push(Case { name: (*name).to_owned(), items, builds });
    }
    if errors.is_empty() { Ok(found) } else { Err(errors) }
}

/// Returns the finding that no item fits a row of the command line.
fn unmatched(row: &CaseRow) -> Diagnostic {
    let items = match &row.items {
        Match::Item(name) => format!("the name `{name}`"),
        Match::Group(group) => format!("the group `{group}`"),
        Match::Vendor(vendor) => format!("the vendor `{vendor}`"),
    };
    let problem = Problem::CaseUnmatched { case: row.case.clone(), items };
    Diagnostic::placeless(problem)
}

/// Changes the prices of the items a row is about, wherever they stand; returns those items.
fn change(book: &Book, other: &mut Book, row: &CaseRow) -> Result<Vec<ItemId>, Diagnostic> {
    let fits: Vec<bool> = book.items.iter().map(|item| row.items.fits(item)).collect();
    let mut is_below_zero = false;
    let mut apply = |id: usize, original: Option<&Price>, price: &mut Option<Price>| {
        if let (true, Some(original), Some(price)) = (fits[id], original, price) {
            price.amount = changed(&book.items[id], original, &price.amount, &row.change);
            is_below_zero |= price.amount.is_negative();
        }
    };
    for (own, size) in book.sizes.iter().zip(&mut other.sizes) {
        apply(own.item.index(), own.price.as_ref(), &mut size.price);
    }
    for (own, price) in book.prices.iter().zip(&mut other.prices) {
        apply(own.item.index(), own.price.as_ref(), &mut price.price);
    }
    for (id, (own, item)) in book.items.iter().zip(&mut other.items).enumerate() {
        apply(id, own.price.as_ref(), &mut item.price);
    }
    if is_below_zero {
        let text = format!("price case `{}` takes a price below zero", row.case);
        let place = row.row.map(|row| book.place(row, Some("change")));
        let problem = Problem::Plain { text };
        return Err(Diagnostic { severity: Severity::Error, place, problem, hint: None });
    }
    let ids = (0_u32..).map(ItemId).zip(fits);
    Ok(ids.filter(|(_, fits)| *fits).map(|(id, _)| id).collect())
}

/// Returns what an amount for one of a price's basis becomes; the price is the one that the user wrote.
fn changed(item: &Item, original: &Price, amount: &Ratio, change: &PriceChange) -> Ratio {
    // What the user wrote is for one of the price's own unit; the amount is for one of its basis.
    let written = original.text.split('/').next().unwrap_or_default();
    let written = number(written, DecimalSign::Point).ok();
    let basis_share = written
        .and_then(|written| original.amount.checked_div(&written))
        .filter(|share| !share.is_zero())
        .unwrap_or_else(|| match original.basis {
            PriceBasis::Each | PriceBasis::Weight => Ratio::ONE,
            PriceBasis::Measure => {
                Ratio::ONE.checked_div(&item.unit.factor).expect("units are above zero")
            }
        });
    match change {
        PriceChange::Share(share) => amount * &(&Ratio::ONE + share),
        PriceChange::Amount(more) => amount + &(more * &basis_share),
        PriceChange::To(price) => price * &basis_share,
    }
}
