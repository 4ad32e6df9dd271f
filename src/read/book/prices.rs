//! The tables `sizes` and `prices`, and prices in any table.

use std::collections::BTreeSet;

use rust_decimal::Decimal;

use crate::diag::Place;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::model::Form;
use crate::model::Item;
use crate::model::ItemId;
use crate::model::Price;
use crate::model::PriceBasis;
use crate::model::PriceRow;
use crate::model::PriceTerms;
use crate::model::Size;
use crate::model::Threshold;
use crate::quantity::Dimension;
use crate::quantity::Length;
use crate::quantity::Ratio;
use crate::quantity::unit::UnitFactor;
use crate::read::book::Build;
use crate::read::book::items::shape;
use crate::read::book::items::unknown_unit;
use crate::read::book::named;
use crate::read::book::terms::bounds;
use crate::read::book::terms::price_terms;
use crate::read::book::vendors::vendor;
use crate::read::cells::Row;
use crate::read::columns::At;
use crate::read::numbers::foreign_sign;
use crate::read::rates::Basis;
use crate::read::rates::Per;
use crate::read::rates::Shape;
use crate::read::rates::per;

/// Most sizes of one item; each is looked at for each of its prices.
const MOST_SIZES: usize = 1000;

/// Reads the stock sizes.
pub(super) fn sizes(build: &mut Build) {
    let Some(grid) = build.grids.find("sizes") else { return };
    let mut seen: Vec<Vec<Size>> = vec![Vec::new(); build.book.items.len()];
    let mut is_full: BTreeSet<ItemId> = BTreeSet::new();
    for row in build.reader.rows(grid) {
        let found = item(build, row, Severity::Error).filter(|item| !build.unclear.contains(item));
        let Some(id) = found else {
            for (at, _) in grid.present() {
                if at != grid.at("item") {
                    row.check(at);
                }
            }
            continue;
        };
        let item = &build.book.items[id.index()];
        if !item.is_nested() {
            let form = item.form.name();
            let reason = format!("item `{}` is of form {form}, which has no sizes", item.name);
            row.tell(Severity::Warning, None, Problem::RowIgnored { reason });
            continue;
        }
        let Some((length, width)) = dimensions(row, item) else { continue };
        let price = price(row, &shape(item, width), 1);
        let available = row.whole(grid.at("available"));
        let size = Size {
            item: id,
            length,
            width,
            price,
            vendor: vendor(build, row),
            available,
            is_offcut: false,
            row: grid.row_ref(row.index),
        };
        let same = seen[id.index()].iter().find(|other| {
            other.length == length
                && other.width == width
                && other.vendor.eq_ignore_ascii_case(&size.vendor)
        });
        if let Some(first) = same {
            let problem = Problem::DefinedTwice {
                what: format!("size of item `{}`", item.name),
                name: shown_size(row),
                first: Place { row: Some(first.row.row), ..grid.table.whole() },
            };
            row.tell(Severity::Error, None, problem);
            continue;
        }
        if seen[id.index()].len() >= MOST_SIZES {
            if is_full.insert(id) {
                let problem = Problem::LimitExceeded {
                    what: format!("the number of sizes of item `{}`", item.name),
                    limit: MOST_SIZES.to_string(),
                    name: None,
                };
                row.tell(Severity::Error, None, problem);
            }
            continue;
        }
        seen[id.index()].push(size.clone());
        build.book.sizes.push(size);
    }
}

/// Returns the size as the user wrote it.
pub(super) fn shown_size(row: Row) -> String {
    let sides = ["length", "width"].map(|name| row.shown(row.at(name)));
    let sides: Vec<String> = sides.into_iter().filter(|side| !side.is_empty()).collect();
    sides.join(" x ")
}

/// Returns the item of a row, or tells that there is none.
pub(super) fn item(build: &Build, row: Row, severity: Severity) -> Option<ItemId> {
    let at = row.at("item");
    row.needed_text(at)?;
    named(&build.names.items, "item", row, at, severity)
}

fn dimensions(row: Row, item: &Item) -> Option<(Option<Length>, Option<Length>)> {
    let (length_at, width_at) = (row.at("length"), row.at("width"));
    let is_complete = |at: At, dimension: &str| {
        let is_there = !row.is_empty(at);
        if !is_there {
            let problem = Problem::DimensionMissing {
                what: format!("a size of item `{}`, form {},", item.name, item.form.name()),
                dimension: dimension.to_owned(),
            };
            row.error(at, problem);
        }
        is_there
    };
    let length = row.positive_length(length_at);
    if item.form == Form::Linear {
        if !row.is_empty(width_at) {
            let problem = Problem::DimensionUnused {
                dimension: "width".to_owned(),
                reason: "a linear item is cut by its length alone".to_owned(),
            };
            row.tell(Severity::Warning, Some(width_at), problem);
        }
        return (length.is_some() || row.is_empty(length_at)).then_some((length, None));
    }
    let width = row.positive_length(width_at);
    let (has_length, has_width) =
        (is_complete(length_at, "length"), is_complete(width_at, "width"));
    (has_length && has_width && length.is_some() && width.is_some()).then_some((length, width))
}

/// A price with the amount as it is written, and what it was divided by.
struct Quoted {
    price: Price,
    amount: Ratio,
    divisor: Ratio,
}

/// Returns an amount of money that is not below zero, in this currency.
pub(super) fn money(row: Row, at: At, currency: &str) -> Option<Ratio> {
    let amount = row.amount(at)?;
    if let Some(sign) = foreign_sign(&row.shown(at), currency) {
        let (text, unit) = (row.shown(at), sign.to_string());
        let problem = Problem::UnitUnfit { text, unit, expected: currency.to_owned() };
        let hint = match (row.grid.schema.name, row.grid.column(at).name) {
            ("vendors", _) => "write the currency in column `currency`",
            (_, "price" | "low" | "high") => {
                "prices in other currencies stand in table `prices`, with their `currency`"
            }
            _ => "amounts here are in the currency of the book",
        };
        row.error_with_hint(at, problem, Some(hint.to_owned()));
        return None;
    }
    Some(amount)
}

/// Returns the price in a row of `items` or `sizes`; `size_count` is how many sizes it stands for.
pub(super) fn price(row: Row, shape: &Shape, size_count: usize) -> Option<Price> {
    quoted(row, &row.reader.currency, shape, size_count).map(|quoted| quoted.price)
}

fn quoted(row: Row, currency: &str, shape: &Shape, size_count: usize) -> Option<Quoted> {
    let (at, unit_at) = (row.at("price"), row.at("price_unit"));
    let amount = money(row, at, currency)?;
    let name = row.text(unit_at);
    let per = if name.is_empty() {
        match shape.form {
            Form::Bulk | Form::Labor if shape.dimension() == Dimension::NUMBER => {
                Per::Things(shape.unit.factor.clone())
            }
            Form::Bulk | Form::Labor => Per::Measure(UnitFactor {
                dimension: shape.unit.dimension,
                factor: shape.unit.factor.clone(),
            }),
            Form::Sheet | Form::Roll | Form::Linear if size_count > 1 => {
                let hint = "the item has several sizes; write what the price is for, as in `MSF`, `MBF` or `ft`";
                row.error_with_hint(unit_at, Problem::CellMissing, Some(hint.to_owned()));
                return None;
            }
            _ => Per::Things(Ratio::ONE),
        }
    } else {
        let Some(per) = per(&name, shape.pack) else {
            unknown_unit(row, unit_at, &name);
            return None;
        };
        per
    };
    let basis = match shape.basis(&per, &row.shown(at), &name) {
        Ok(basis) => basis,
        Err(problem) => {
            row.error(unit_at, problem);
            return None;
        }
    };
    let (basis, divisor) = match basis {
        Basis::Each(divisor) => (PriceBasis::Each, divisor),
        Basis::Measure(divisor) => (PriceBasis::Measure, divisor),
        Basis::Weight(divisor) => (PriceBasis::Weight, divisor),
    };
    let text = plain(&amount).unwrap_or_else(|| row.shown(at));
    let text = if name.is_empty() { text } else { format!("{text}/{name}") };
    let price = Price { amount: divided(&amount, &divisor), basis, text: text.into() };
    Some(Quoted { price, amount, divisor })
}

fn divided(amount: &Ratio, divisor: &Ratio) -> Ratio {
    amount.checked_div(divisor).expect("units are above zero")
}

/// Returns an amount of money as a plain decimal of two places, or none or more where it takes that: `812`, `19.40`,
/// `0.755`. So it reads the same whether its cell was text or a number.
fn plain(amount: &Ratio) -> Option<String> {
    let scaled = |places: u32| (amount * &Ratio::whole(10).power(places)).to_integer();
    let places = std::iter::once(0).chain(2..=18).find(|places| scaled(*places).is_some())?;
    let digits = i64::try_from(scaled(places)?).ok()?;
    Some(Decimal::new(digits, places).to_string())
}

/// Reads dated prices, breaks and vendors' terms.
pub(super) fn prices(build: &mut Build) {
    let Some(grid) = build.grids.find("prices") else { return };
    let mut unsaid: BTreeSet<String> = BTreeSet::new();
    let mut sizes_of: Vec<Vec<usize>> = vec![Vec::new(); build.book.items.len()];
    for (position, size) in build.book.sizes.iter().enumerate() {
        sizes_of[size.item.index()].push(position);
    }
    for row in build.reader.rows(grid) {
        let (from, to) = (row.date(grid.at("from_date")), row.date(grid.at("to_date")));
        if from.zip(to).is_some_and(|(from, to)| to < from) {
            row.out_of_range(grid.at("to_date"), "not before `from_date`");
        }
        let currency = currency(row);
        let (length, width) =
            (row.positive_length(grid.at("length")), row.positive_length(grid.at("width")));
        let found = item(build, row, Severity::Warning);
        let Some(id) = found.filter(|item| !build.unclear.contains(item)) else {
            for name in ["price", "lead_days", "order_multiple", "order_minimum", "low", "high"] {
                row.check(grid.at(name));
            }
            continue;
        };
        let item = &build.book.items[id.index()];
        let sizes = sizes_of[id.index()].iter().map(|position| &build.book.sizes[*position]);
        let fits = |size: &&Size| {
            (length.is_none() || size.length == length) && (width.is_none() || size.width == width)
        };
        let fitting: Vec<&Size> = sizes.filter(fits).collect();
        if fitting.is_empty() && (length.is_some() || width.is_some()) {
            let problem = Problem::SizeUnknown { item: item.name.clone(), size: shown_size(row) };
            row.tell(Severity::Warning, Some(grid.at("length")), problem);
        }
        let one_width = fitting.first().and_then(|size| size.width);
        let one_width = one_width.filter(|_| fitting.iter().all(|size| size.width == one_width));
        let own = currency.as_ref().unwrap_or(&row.reader.currency);
        let quoted = quoted(row, own, &shape(item, width.or(one_width)), fitting.len());
        let terms = terms(row, own, item, quoted.as_ref());
        let from_quantity = from_quantity(row, item);
        let vendor = vendor(build, row);
        if currency.is_none() && quoted.is_some() && unsaid.insert(vendor.clone()) {
            unsaid_currency(build, row, &vendor);
        }
        build.book.prices.push(PriceRow {
            item: id,
            length,
            width,
            vendor,
            from_quantity,
            from,
            to,
            price: quoted.map(|quoted| quoted.price),
            currency,
            terms,
            row: grid.row_ref(row.index),
        });
    }
}

/// Tells that a price does not say its currency, if the vendor sells in a foreign one.
fn unsaid_currency(build: &Build, row: Row, vendor: &str) {
    let own = &row.reader.currency;
    let found = build.names.vendors.find(vendor).map(|vendor| &build.book.vendors[vendor]);
    let Some(currency) = found.and_then(|vendor| vendor.currency.as_ref()) else { return };
    if currency != own {
        let problem = Problem::CurrencyUnsaid {
            vendor: vendor.to_owned(),
            currency: currency.clone(),
            own: own.clone(),
        };
        let hint = format!("write {currency} or {own} in column `currency`");
        row.tell_with_hint(Severity::Warning, Some(row.at("currency")), problem, Some(hint));
    }
}

/// Returns the terms of a row, the lowest and highest price brought to the basis of the price.
fn terms(row: Row, currency: &str, item: &Item, quoted: Option<&Quoted>) -> PriceTerms {
    let (low, high) = bounds(row, currency, quoted.map(|quoted| &quoted.amount));
    let of_basis = |amount: Option<Ratio>| Some(divided(&amount?, &quoted?.divisor));
    PriceTerms { low: of_basis(low), high: of_basis(high), ..price_terms(row, item.form) }
}

/// Returns the code in column `currency`; nothing if it is empty.
pub(super) fn currency(row: Row) -> Option<String> {
    currency_code(row, row.at("currency"))
}

/// Returns the code of a currency; nothing if the cell is empty.
pub(super) fn currency_code(row: Row, at: At) -> Option<String> {
    let code = row.text(at).to_uppercase();
    if code.is_empty() {
        return None;
    }
    if code.len() != 3 || !code.bytes().all(|byte| byte.is_ascii_uppercase()) {
        let expected = "currency code of three letters (ISO 4217)".to_owned();
        row.error(at, Problem::NotAMeasure { text: row.shown(at), expected });
    }
    Some(code)
}

fn from_quantity(row: Row, item: &Item) -> Option<Threshold> {
    let at = row.at("from_quantity");
    let measure = row.any_measure(at, None)?;
    if measure.value.is_negative() {
        row.out_of_range(at, "not below zero");
        return None;
    }
    if measure.dimension == Dimension::NUMBER {
        return Some(Threshold::Units(measure.value));
    }
    let measure = row.fitting(at, measure, item.unit.dimension)?;
    Some(Threshold::Measure(measure.value))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn prices_are_shown_alike_whatever_cell_they_stand_in() {
        let shown = |digits, places| plain(&Ratio::decimal(digits, places)).unwrap();
        assert_eq!(shown(812, 0), "812");
        assert_eq!(shown(81_200, 2), "812");
        assert_eq!(shown(194, 1), "19.40");
        assert_eq!(shown(755, 3), "0.755");
        assert_eq!(shown(0, 0), "0");
    }
}
