//! The subcommand `orders`.

use std::num::NonZeroU32;
use std::path::Path;

use cutbill::diag::{Checked, Diagnostic};
use cutbill::model::Book;
use cutbill::nest;
use cutbill::orders::{self, Options};
use cutbill::quantity::Ratio;
use cutbill::render::report::{self, OrdersView};
use cutbill::render::{csv, json};
use cutbill::watch::Watch;

use crate::cli::arguments::{Format, Orders, OrdersPart, Pool};
use crate::cli::{Answer, names, new_folder, read, tables, together};

/// Effort of nests where the user names none: one per week and item has to do.
const EFFORT: u32 = 2;

/// Tells what to order.
pub(super) fn orders(arguments: &Orders, watch: &dyn Watch) -> Result<Answer, Vec<Diagnostic>> {
    let output = &arguments.output;
    let Checked { value: book, warnings } = read(&arguments.book, output, watch)?;
    let planned = match orders::orders(&book, &options(arguments), watch) {
        Ok(planned) => planned,
        Err(errors) => return Err(together(warnings, errors)),
    };
    let (mut planned, findings) = (planned.value, together(warnings, planned.warnings));
    if let Some(name) = &arguments.why {
        let item = names::item(&book, name)?;
        let report = report::orders_why(&book, &planned, item);
        let bytes = match output.format() {
            Format::Json => {
                json::report("orders_why", &book, Some(planned.as_of), &report, &findings)
                    .into_bytes()
            }
            _ => tables(&report, output)?,
        };
        return Ok(Checked { value: bytes, warnings: findings });
    }
    if !arguments.vendors.is_empty() {
        let of_book = book.vendors.iter().map(|vendor| vendor.name.as_str());
        let ordered = planned.orders.iter().map(|order| order.vendor.as_str());
        let known: Vec<&str> = of_book.chain(ordered).collect();
        let errors = names::unknown_names("vendor", &known, &arguments.vendors);
        if !errors.is_empty() {
            return Err(errors);
        }
        let is_asked = |vendor: &str| {
            arguments.vendors.iter().any(|name| name.trim().eq_ignore_ascii_case(vendor))
        };
        planned.orders.retain(|order| is_asked(&order.vendor));
    }
    if let Some(folder) = &arguments.per_vendor {
        let value = per_vendor(&book, &planned, folder)?;
        return Ok(Checked { value, warnings: findings });
    }
    let by_format = || match output.format() {
        Format::Xlsx => OrdersPart::All,
        Format::Table if arguments.vendors.is_empty() => OrdersPart::Summary,
        _ => OrdersPart::Lines,
    };
    let view = match arguments.show.unwrap_or_else(by_format) {
        OrdersPart::Summary => OrdersView::Summary,
        OrdersPart::Lines => OrdersView::Lines,
        OrdersPart::Calendar => OrdersView::Calendar,
        OrdersPart::All => OrdersView::All,
    };
    let bytes = match output.format() {
        Format::Json => json::orders(&book, &planned, &findings).into_bytes(),
        _ => tables(&report::orders(&book, &planned, view), output)?,
    };
    Ok(Checked { value: bytes, warnings: findings })
}

fn options(arguments: &Orders) -> Options {
    Options {
        as_of: arguments.on,
        pool: match arguments.pool {
            Pool::Week => orders::Pool::Week,
            Pool::Month => orders::Pool::Month,
            Pool::Horizon => orders::Pool::Horizon,
        },
        weeks: arguments.weeks.map(NonZeroU32::get),
        service_level: arguments.service.map(|percent| Ratio::decimal(i128::from(percent), 2)),
        skips_comparison: false,
        nest: nest::Options {
            effort: arguments.effort.unwrap_or(EFFORT),
            ..nest::Options::default()
        },
    }
}

/// Writes a CSV file per vendor into a new folder and returns what to tell about it.
fn per_vendor(
    book: &Book,
    planned: &orders::Orders<'_>,
    folder: &Path,
) -> Result<Vec<u8>, Vec<Diagnostic>> {
    let mut vendors: Vec<&str> = planned.orders.iter().map(|order| order.vendor.as_str()).collect();
    vendors.sort_unstable();
    vendors.dedup();
    let files: Vec<(String, Vec<u8>)> = vendors
        .iter()
        .map(|vendor| {
            let report = report::orders_to(book, planned, vendor);
            (format!("{}.csv", file_name(vendor)), csv::csv(&report).into_bytes())
        })
        .collect();
    new_folder(folder, &files)
}

/// Returns a vendor's name with all but letters, digits, `-`, `_` and spaces replaced, so that it can name a file.
fn file_name(vendor: &str) -> String {
    let kept = |letter: char| {
        if letter.is_alphanumeric() || " -_".contains(letter) { letter } else { '_' }
    };
    let name: String = vendor.trim().chars().map(kept).collect();
    if name.is_empty() { "no vendor".to_owned() } else { name }
}
