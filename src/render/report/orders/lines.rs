use crate::model::Book;
use crate::model::Form;
use crate::model::Week;
use crate::orders::{OrderLine, Orders, VendorOrder};
use crate::quantity::Length;
use crate::quantity::Ratio;
use crate::quantity::minor_digits;
use crate::render::report::orders::{size, unit, units};
use crate::render::report::{Cell, Field, Showing, Table, figures, table, words};
use crate::render::shown;

/// One line with the order it is part of.
struct Row<'a> {
    order: &'a VendorOrder,
    line: &'a OrderLine,
    amount: i128,
    is_first: bool,
}

/// Returns every line of every order.
pub(super) fn all(book: &Book, orders: &Orders<'_>) -> Table {
    let rows = rows(orders, &|_| true);
    let mut made = table("Order lines", &fields(book, orders, Style::Full), &rows);
    close(book, &rows, &mut made);
    made
}

/// Returns every line of the orders to one vendor.
pub(super) fn to_vendor(book: &Book, orders: &Orders<'_>, vendor: &str) -> Table {
    let rows = rows(orders, &|order| order.vendor == vendor);
    let mut made = table("Order lines", &fields(book, orders, Style::Full), &rows);
    close(book, &rows, &mut made);
    made
}

/// Returns the lines to be ordered in the first week that has any.
pub(super) fn first_week(book: &Book, orders: &Orders<'_>) -> Table {
    let Some(week) = orders.orders.first().map(|order| order.week) else { return Table::default() };
    let rows = rows(orders, &|order| order.week == week);
    let title = format!("To order in the week of {}", week.monday());
    let mut made = table(title, &fields(book, orders, Style::Short), &rows);
    close(book, &rows, &mut made);
    let raised = rows.iter().filter_map(|row| {
        let raised = row.line.raised.as_ref()?;
        Some(format!(
            "{}: {} instead of {} {}, for the price from there on: saves {} {}",
            book.item(row.line.item).name,
            units(&row.line.units).shown,
            units(&raised.from).shown,
            unit(book, row.line.item, row.line.size),
            shown::parted(&shown::fixed(&raised.saved, minor_digits(&row.order.currency))),
            row.order.currency,
        ))
    });
    made.below = raised.collect();
    made
}

fn rows<'a>(orders: &'a Orders<'_>, is_wanted: &dyn Fn(&VendorOrder) -> bool) -> Vec<Row<'a>> {
    let wanted = orders.orders.iter().filter(|order| is_wanted(order));
    wanted
        .flat_map(|order| {
            order.lines.iter().zip(&order.amounts).enumerate().map(
                move |(index, (line, amount))| Row {
                    order,
                    line: orders.line(*line),
                    amount: *amount,
                    is_first: index == 0,
                },
            )
        })
        .collect()
}

/// How much a table of lines says.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Style {
    Short,
    Full,
}

fn fields<'a>(book: &'a Book, orders: &'a Orders<'_>, style: Style) -> Vec<Field<'a, Row<'a>>> {
    let is_forecast = orders.weeks.count > orders.firm_weeks;
    let full = |showing: Showing| if style == Style::Full { Showing::Always } else { showing };
    let mut fields = vec![
        words("vendor", move |row: &Row<'_>| {
            match (row.is_first || style == Style::Full, row.order.vendor.as_str()) {
                (true, "") => "no vendor".to_owned(),
                (true, vendor) => vendor.to_owned(),
                (false, _) => String::new(),
            }
        }),
        words("order by", |row: &Row<'_>| row.line.order_day.to_string()),
        words("item", |row: &Row<'_>| book.item(row.line.item).name.clone()),
        words("description", |row: &Row<'_>| book.item(row.line.item).description.clone())
            .showing(full(Showing::Never)),
        words("vendor's item", |row: &Row<'_>| row.line.vendor_item.clone())
            .showing(full(Showing::IfItFits)),
        words("size", |row: &Row<'_>| size(book, row.line.size)),
        figures("count", |row: &Row<'_>| units(&row.line.units)),
        words("unit", |row: &Row<'_>| unit(book, row.line.item, row.line.size)),
        words("that is", |row: &Row<'_>| also(book, row.line)).showing(full(Showing::IfItFits)),
        words("price", |row: &Row<'_>| {
            row.line
                .price
                .as_ref()
                .map_or_else(|| "no price".to_owned(), |price| price.text.to_string())
        })
        .showing(full(Showing::IfItFits)),
        figures("amount", |row: &Row<'_>| match row.line.price {
            Some(_) => Cell::amount(row.amount, minor_digits(&row.order.currency)),
            None => Cell::text(""),
        }),
        words("currency", |row: &Row<'_>| row.order.currency.clone()),
        words("due", |row: &Row<'_>| row.line.due.to_string()),
        words("there by", |row: &Row<'_>| {
            if row.line.is_late() { format!("{} LATE", row.line.arrival) } else { String::new() }
        }),
        figures("needed", |row: &Row<'_>| units(&row.line.needed)).showing(full(Showing::Never)),
    ];
    if is_forecast {
        fields.push(figures("of forecast", |row: &Row<'_>| units(&row.line.of_forecast)));
    }
    fields
}

/// Adds the total of each currency; with one currency only, it is the sum of its column.
fn close(book: &Book, rows: &[Row<'_>], table: &mut Table) {
    let currencies = currencies(book, rows.iter().map(|row| row.order.currency.as_str()));
    let at = |title: &str| table.columns.iter().position(|column| column.title == title);
    let (Some(amount_at), Some(currency_at)) = (at("amount"), at("currency")) else { return };
    let total = |currency: &&str| {
        let amounts =
            rows.iter().filter(|row| row.order.currency == *currency).map(|row| row.amount);
        let mut cells = vec![Cell::default(); table.columns.len()];
        cells[0] = Cell::text("total");
        cells[amount_at] = Cell::amount(amounts.sum(), minor_digits(currency));
        cells[currency_at] = Cell::text(*currency);
        cells
    };
    table.totals = currencies.iter().map(total).collect();
    table.columns[amount_at].is_summed = currencies.len() == 1;
}

/// Returns each currency once, the book's own first.
fn currencies<'a>(book: &Book, all: impl Iterator<Item = &'a str>) -> Vec<&'a str> {
    let mut currencies: Vec<&str> = all.collect();
    currencies.sort_by_key(|currency| (*currency != book.settings.currency, *currency));
    currencies.dedup();
    currencies
}

/// Returns what an amount comes to in the units of the trade: MBF of lumber, square feet of sheets, packs of sizes.
fn also(book: &Book, line: &OrderLine) -> String {
    let item = book.item(line.item);
    let Some(id) = line.size else {
        if item.pack.is_none() {
            return String::new();
        }
        let measure = &line.units * item.purchase_factor();
        let amount = measure.checked_div(&item.unit.factor).unwrap_or_default();
        return format!("{} {}", shown::parted(&shown::rounded(&amount, 2)), item.unit.name);
    };
    let size = &book.sizes[id.index()];
    let length = size.length.map_or(Ratio::ZERO, Length::to_ratio);
    let mut parts = Vec::new();
    if let Some(pack) = &item.pack
        && let Some(packs) = line.units.checked_div(&pack.factor)
        && packs.is_whole()
    {
        parts.push(format!("{} {}", shown::rounded(&packs, 0), pack.name));
    }
    if let Some(nominal) = &item.nominal {
        let feet = &line.units * &length * nominal.board_feet_rate();
        parts.push(format!("{} MBF", shown::rounded(&(feet * Ratio::decimal(1, 3)), 3)));
    } else {
        let width = size.width.filter(|_| item.form != Form::Linear).unwrap_or(Length::ZERO);
        let one = size.length.map_or(0, |length| item.form.measure(length, width));
        let measure = &line.units * &Ratio::whole(one);
        let amount = measure.checked_div(&item.unit.factor).unwrap_or_default();
        parts.push(format!("{} {}", shown::parted(&shown::rounded(&amount, 1)), item.unit.name));
    }
    parts.join(", ")
}

/// A row of the list of orders: one order, or all orders of a later week in one currency.
struct Sum<'a> {
    week: Week,
    vendor: String,
    lines: usize,
    currency: &'a str,
    total: i128,
    exact: Ratio,
    order: Option<&'a VendorOrder>,
}

/// Returns the orders by week and vendor, with their totals and what a vendor's minimums say; after so many weeks, week by
/// week only.
pub(super) fn vendors(book: &Book, orders: &Orders<'_>, weeks_told: Option<i64>) -> Table {
    let told = |order: &VendorOrder| {
        weeks_told.is_none_or(|weeks| order.week.since(orders.weeks.first) < weeks)
    };
    let mut list: Vec<Sum<'_>> = Vec::new();
    for order in &orders.orders {
        if told(order) {
            list.push(Sum {
                week: order.week,
                vendor: if order.vendor.is_empty() {
                    "no vendor".to_owned()
                } else {
                    order.vendor.clone()
                },
                lines: order.lines.len(),
                currency: &order.currency,
                total: order.total(),
                exact: order.exact.clone(),
                order: Some(order),
            });
            continue;
        }
        let same = |sum: &&mut Sum<'_>| sum.week == order.week && sum.currency == order.currency;
        match list.iter_mut().find(same) {
            Some(sum) => {
                sum.lines += order.lines.len();
                sum.total += order.total();
                sum.exact += &order.exact;
            }
            None => list.push(Sum {
                week: order.week,
                vendor: "all vendors".to_owned(),
                lines: order.lines.len(),
                currency: &order.currency,
                total: order.total(),
                exact: order.exact.clone(),
                order: None,
            }),
        }
    }
    let missing = |missing: Option<&Ratio>, sum: &Sum<'_>| {
        let places = minor_digits(sum.currency);
        let amount =
            missing.and_then(|money| money.scaled(places, book.settings.rounding).to_integer());
        amount.map_or_else(Cell::default, |amount| Cell::amount(amount, places))
    };
    let residue = |total: i128, exact: &Ratio, currency: &str| {
        let printed = Ratio::decimal(total, minor_digits(currency));
        Cell::figure(shown::fixed(&(printed - exact), book.settings.cost_digits))
    };
    let fields = [
        words("order in week of", |sum: &Sum<'_>| sum.week.monday().to_string()),
        words("vendor", |sum: &Sum<'_>| sum.vendor.clone()),
        figures("lines", |sum: &Sum<'_>| Cell::figure(sum.lines.to_string())).summed(),
        figures("total", |sum: &Sum<'_>| Cell::amount(sum.total, minor_digits(sum.currency))),
        words("currency", |sum: &Sum<'_>| sum.currency.to_owned()),
        figures("rounding", |sum: &Sum<'_>| residue(sum.total, &sum.exact, sum.currency))
            .showing(Showing::IfItFits),
        figures("below least order", |sum: &Sum<'_>| {
            missing(sum.order.and_then(|order| order.below_minimum.as_ref()), sum)
        }),
        figures("below free freight", |sum: &Sum<'_>| {
            missing(sum.order.and_then(|order| order.below_freight.as_ref()), sum)
        }),
    ];
    let mut made = table("Orders by week and vendor", &fields, &list);
    let currencies = currencies(book, list.iter().map(|sum| sum.currency));
    for currency in &currencies {
        let of_currency = || list.iter().filter(|sum| sum.currency == *currency);
        let total: i128 = of_currency().map(|sum| sum.total).sum();
        let exact: Ratio = of_currency().map(|sum| sum.exact.clone()).sum();
        let lines: usize = of_currency().map(|sum| sum.lines).sum();
        let mut cells = vec![Cell::default(); made.columns.len()];
        cells[0] = Cell::text("total");
        cells[2] = Cell::figure(lines.to_string());
        cells[3] = Cell::amount(total, minor_digits(currency));
        cells[4] = Cell::text(*currency);
        cells[5] = residue(total, &exact, currency);
        made.totals.push(cells);
    }
    let is_one = currencies.len() == 1;
    for column in [2, 3] {
        made.columns[column].is_summed = is_one;
    }
    made
}
