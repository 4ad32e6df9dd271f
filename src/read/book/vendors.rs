//! The tables `vendors`, `calendar` and `rates`, and vendors in any table.

use std::collections::BTreeMap;

use jiff::civil::Date;

use crate::diag::Place;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::model::RateRow;
use crate::model::RowRef;
use crate::model::Vendor;
use crate::quantity::Ratio;
use crate::read::book::Build;
use crate::read::book::plans::place;
use crate::read::book::prices::currency;
use crate::read::book::prices::money;
use crate::read::book::taken;
use crate::read::cells::Row;
use crate::read::names::folded;

/// Reads the vendors.
pub(super) fn vendors(build: &mut Build) {
    let Some(grid) = build.grids.find("vendors") else { return };
    let at = |name| grid.at(name);
    for row in build.reader.rows(grid) {
        let currency = currency(row);
        let own = currency.as_ref().unwrap_or(&row.reader.currency);
        let vendor = Vendor {
            name: String::new(),
            lead_time: row.lead_time(at("lead_days")),
            terms_days: row.whole(at("terms_days")).unwrap_or_default(),
            discount: row.part(at("discount_percent")).unwrap_or_default(),
            discount_days: row.whole(at("discount_days")).unwrap_or_default(),
            order_minimum: money(row, at("order_minimum"), own),
            freight_minimum: money(row, at("freight_minimum"), own),
            share: row.part(at("share")),
            row: grid.row_ref(row.index),
            currency,
        };
        discount(row, &vendor);
        let Some(name) = row.needed_text(at("vendor")) else { continue };
        if let Some(first) = build.names.vendors.add(&name, build.book.vendors.len()) {
            let first = place(build, build.book.vendors[first].row.row, "vendors");
            taken(row, at("vendor"), "vendor", &name, first);
            continue;
        }
        build.book.vendors.push(Vendor { name: name.into_owned(), ..vendor });
    }
}

/// Tells of a discount that cannot be had.
fn discount(row: Row, vendor: &Vendor) {
    let (percent, days) = (row.at("discount_percent"), row.at("discount_days"));
    if !vendor.discount.is_zero() && row.is_empty(days) {
        let what = "a discount".to_owned();
        let problem = Problem::DimensionMissing { what, dimension: "`discount_days`".to_owned() };
        row.tell(Severity::Warning, Some(percent), problem);
    }
    let terms = row.at("terms_days");
    if vendor.discount_days > vendor.terms_days && !row.is_empty(terms) {
        let text = row.shown(days);
        let problem = Problem::OutOfRange { text, range: "no more than `terms_days`".to_owned() };
        row.tell(Severity::Warning, Some(days), problem);
    }
}

/// Returns the vendor that a row names, as table `vendors` spells it; empty if it names none. A name that the table lacks
/// is told once.
pub(super) fn vendor(build: &Build, row: Row) -> String {
    let at = row.at("vendor");
    let name = row.text(at);
    if name.is_empty() || build.grids.find("vendors").is_none() {
        return name.into_owned();
    }
    if let Some(vendor) = build.names.vendors.find(&name) {
        return build.book.vendors[vendor].name.clone();
    }
    if build.strangers.borrow_mut().insert(folded(&name)) {
        let hint = build.names.vendors.hint(&name);
        let what = "vendor".to_owned();
        let problem = Problem::NameUnknown { what, name: name.clone().into_owned() };
        row.tell_with_hint(Severity::Warning, Some(at), problem, hint);
    }
    name.into_owned()
}

/// Reads the days off and the days worked.
pub(super) fn calendar(build: &mut Build) {
    let Some(grid) = build.grids.find("calendar") else { return };
    let (date_at, working_at) = (grid.at("date"), grid.at("working"));
    let mut days: BTreeMap<Date, (bool, RowRef)> = BTreeMap::new();
    for row in build.reader.rows(grid) {
        let day = row.needed_date(date_at);
        if row.needed_text(working_at).is_none() {
            continue;
        }
        let (Some(day), Some(is_working)) = (day, row.flag(working_at)) else { continue };
        let known = *days.entry(day).or_insert((is_working, grid.row_ref(row.index)));
        if known.0 != is_working {
            let first = Place { row: Some(known.1.row), ..grid.table.whole() };
            taken(row, date_at, "day", &day.to_string(), first);
        }
    }
    build.book.calendar.exceptions =
        days.into_iter().map(|(day, (is_working, _))| (day, is_working)).collect();
}

/// Reads the rates of foreign currencies.
pub(super) fn rates(build: &mut Build) {
    let Some(grid) = build.grids.find("rates") else { return };
    let mut seen: BTreeMap<(String, Date), RowRef> = BTreeMap::new();
    for row in build.reader.rows(grid) {
        let currency_at = grid.at("currency");
        row.needed_text(currency_at);
        let currency = currency(row);
        let date = row.needed_date(grid.at("date"));
        let rate = rate(row);
        let (Some(currency), Some(date), Some(rate)) = (currency, date, rate) else { continue };
        if currency == build.book.settings.currency {
            let reason = format!("`{currency}` is the currency of the book, worth 1");
            row.tell(Severity::Warning, None, Problem::RowIgnored { reason });
            continue;
        }
        let row_ref = grid.row_ref(row.index);
        if let Some(first) = seen.get(&(currency.clone(), date)) {
            let first = Place { row: Some(first.row), ..grid.table.whole() };
            taken(row, currency_at, "rate", &format!("{currency} of {date}"), first);
            continue;
        }
        seen.insert((currency.clone(), date), row_ref);
        build.book.rates.push(RateRow { currency, date, rate, row: row_ref });
    }
}

fn rate(row: Row) -> Option<Ratio> {
    let at = row.at("rate");
    row.needed_text(at)?;
    let rate = row.number(at)?;
    if rate.is_negative() || rate.is_zero() {
        row.out_of_range(at, "above zero");
        return None;
    }
    Some(rate)
}
