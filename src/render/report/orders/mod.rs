//! What to order: shortages first, then this week's orders, then all else a buyer looks at.

mod lines;
mod lists;
mod why;

use crate::model::Book;
use crate::model::ItemId;
use crate::model::SizeId;
use crate::orders::Orders;
use crate::quantity::Ratio;
use crate::quantity::text::exact;
use crate::render::report::{CAUTION_NEST, Cell, Report, heading};
use crate::render::shown;

pub use why::orders_why;

/// Weeks whose orders a summary tells vendor by vendor.
const WEEKS_TOLD: i64 = 3;

/// Which part of the orders is wanted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum OrdersView {
    /// What a buyer looks at first: shortages, orders of the first week, orders by vendor and week, advice.
    #[default]
    Summary,
    /// Every order line.
    Lines,
    /// The balance of every item, week by week.
    Calendar,
    /// Everything.
    All,
}

/// Returns what to order.
#[must_use]
pub fn orders(book: &Book, orders: &Orders<'_>, view: OrdersView) -> Report {
    let tables = match view {
        OrdersView::Summary => {
            let mut tables = vec![lists::shortages(book, orders), lines::first_week(book, orders)];
            tables.push(lines::vendors(book, orders, Some(WEEKS_TOLD)));
            tables.push(lists::advice(book, orders));
            tables.extend(lists::further(book, orders));
            tables
        }
        OrdersView::Lines => vec![lines::all(book, orders)],
        OrdersView::Calendar => vec![lists::calendar(book, orders)],
        OrdersView::All => {
            let mut tables = vec![lines::all(book, orders), lines::vendors(book, orders, None)];
            tables.extend([lists::shortages(book, orders), lists::advice(book, orders)]);
            tables.extend(lists::further(book, orders));
            tables.push(lists::calendar(book, orders));
            tables
        }
    };
    let tables =
        tables.into_iter().filter(|table| !table.rows.is_empty() || !table.below.is_empty());
    Report {
        heading: heading(book, Some(orders.as_of)),
        tables: tables.collect(),
        notes: notes(book, orders),
    }
}

/// Returns every line of the orders to one vendor.
#[must_use]
pub fn orders_to(book: &Book, orders: &Orders<'_>, vendor: &str) -> Report {
    Report {
        heading: heading(book, Some(orders.as_of)),
        tables: vec![lines::to_vendor(book, orders, vendor)],
        notes: notes(book, orders),
    }
}

fn notes(book: &Book, orders: &Orders<'_>) -> Vec<String> {
    let last = orders.weeks.week(orders.weeks.count - 1).monday();
    let mut notes = vec![format!(
        "{} units of the schedule, weeks of {} to {last}, cut together by {}. Needs are exact and rounded up across the weeks; \
         what is needed before {} counts in the first week.",
        orders.units,
        orders.weeks.first.monday(),
        orders.pool.name(),
        orders.as_of
    )];
    notes.push(match &orders.service_level {
        Some(level) => format!(
            "Orders without options are planned for the expected share of each option, and beyond it for as many units as \
             cover {} % of cases (binomial).",
            shown::rounded(&(level * &Ratio::whole(100)), 2)
        ),
        None => "Orders without options are planned for the expected share of each option, no more; a service level adds a \
                 margin."
            .to_owned(),
    });
    if orders.weeks.count > orders.firm_weeks {
        notes.push(format!(
            "Weeks from {} on are forecast from past builds, not scheduled; what is for them is told apart.",
            orders.weeks.week(orders.firm_weeks).monday()
        ));
    }
    notes.push(format!(
        "Each line is rounded to the minor unit of its currency and totals sum the lines. Lead times and days are working \
         days of the calendar. Prices are those of the {} day.",
        match book.settings.price_day {
            crate::model::PriceDay::Order => "order",
            crate::model::PriceDay::Due => "due",
        }
    ));
    notes.push("Orders are proposals from the stock and schedule the book holds; nothing is counted that it does not list.".to_owned());
    notes.push(CAUTION_NEST.to_owned());
    notes
}

/// Returns the name of a purchase unit: `sheet`, `roll`, `stick`, a pack or the item's unit.
pub(in crate::render) fn unit(book: &Book, item: ItemId, size: Option<SizeId>) -> String {
    let row = book.item(item);
    match (size, row.form) {
        (Some(_), crate::model::Form::Sheet) => "sheet".to_owned(),
        (Some(_), crate::model::Form::Roll) => "roll".to_owned(),
        (Some(_), _) => "stick".to_owned(),
        (None, _) => row.purchase_unit().to_owned(),
    }
}

/// Returns a size in words; nothing for an item that has none.
fn size(book: &Book, size: Option<SizeId>) -> String {
    size.map_or_else(String::new, |size| {
        let size = &book.sizes[size.index()];
        shown::size(book, size.length, size.width)
    })
}

/// Returns purchase units: whole ones as they are, others to two places.
fn units(units: &Ratio) -> Cell {
    let plain = if units.is_whole() { exact(units) } else { shown::rounded(units, 2) };
    Cell::figure(plain)
}
