use serde::Serialize;

use crate::diag::Diagnostic;
use crate::model::Book;
use crate::model::ItemId;
use crate::model::SizeId;
use crate::orders::{Move, OrderLine, Orders, VendorOrder};
use crate::quantity::Ratio;
use crate::quantity::minor_digits;
use crate::quantity::text::exact;
use crate::render::json::{Side, document, side};
use crate::render::shown;

#[derive(Serialize)]
struct Answer {
    as_of: String,
    weeks: Vec<String>,
    firm_weeks: usize,
    pool: &'static str,
    units: u64,
    service_level: Option<String>,
    orders: Vec<OrderEntry>,
    shortages: Vec<ShortageEntry>,
    advice: Vec<AdviceEntry>,
    stock: Vec<StockEntry>,
    build_ahead: Vec<AheadEntry>,
    pooling: Vec<GainEntry>,
    options: Vec<DoubtEntry>,
    forecast: Vec<ForecastEntry>,
    cash: Vec<CashEntry>,
}

#[derive(Serialize)]
struct Thing {
    item: String,
    length: Option<Side>,
    width: Option<Side>,
    unit: String,
}

#[derive(Serialize)]
struct OrderEntry {
    vendor: String,
    week: String,
    currency: String,
    total: String,
    exact: String,
    below_minimum: Option<String>,
    below_freight: Option<String>,
    lines: Vec<LineEntry>,
}

#[derive(Serialize)]
struct LineEntry {
    #[serde(flatten)]
    thing: Thing,
    vendor_item: String,
    count: String,
    needed: String,
    of_forecast: String,
    price: Option<String>,
    price_row: Option<String>,
    amount: Option<String>,
    order_day: String,
    due: String,
    arrival: String,
    is_late: bool,
    raised_from: Option<String>,
    raised_saves: Option<String>,
}

#[derive(Serialize)]
struct ShortageEntry {
    #[serde(flatten)]
    thing: Thing,
    day: String,
    count: String,
    pull_in: Vec<String>,
    arrival: Option<String>,
    builds: Vec<String>,
    alternates: Vec<AlternateEntry>,
}

#[derive(Serialize)]
struct AlternateEntry {
    item: String,
    free: String,
}

#[derive(Serialize)]
struct AdviceEntry {
    item: String,
    order: String,
    place: String,
    due: Option<String>,
    advice: &'static str,
    week: Option<String>,
}

#[derive(Serialize)]
struct StockEntry {
    #[serde(flatten)]
    thing: Thing,
    supply: &'static str,
    on_hand: String,
    needed: Vec<String>,
    on_order: Vec<String>,
    planned: Vec<String>,
    balance: Vec<String>,
}

#[derive(Serialize)]
struct AheadEntry {
    assembly: String,
    values: Vec<String>,
    on_hand: String,
    needed: Vec<String>,
    planned: Vec<String>,
    balance: Vec<String>,
}

#[derive(Serialize)]
struct GainEntry {
    item: String,
    alone: u64,
    together: u64,
    cost_alone: String,
    cost_together: String,
}

#[derive(Serialize)]
struct DoubtEntry {
    plan: String,
    option: String,
    take_rate: String,
    units: u32,
    expected: String,
    planned: String,
}

#[derive(Serialize)]
struct ForecastEntry {
    plan: String,
    units_per_week: String,
    alpha: String,
    mean_error: String,
    bias: String,
    history_weeks: usize,
}

#[derive(Serialize)]
struct CashEntry {
    week: String,
    amount: String,
    discount: String,
}

/// Returns what to order, whole.
#[must_use]
pub fn orders(book: &Book, orders: &Orders<'_>, findings: &[Diagnostic]) -> String {
    let week = |week: usize| orders.weeks.week(week).monday().to_string();
    let mut stock = Vec::new();
    let mut advice = Vec::new();
    for planned in &orders.planned {
        for balance in &planned.balances {
            stock.push(StockEntry {
                thing: thing(book, planned.item, balance.size),
                supply: book.item(planned.item).supply.name(),
                on_hand: exact(&balance.on_hand),
                needed: texts(&balance.gross),
                on_order: texts(&balance.due),
                planned: texts(&balance.planned),
                balance: texts(&balance.balance),
            });
        }
        for open in &planned.open {
            let (advised, to) = match open.change {
                Move::Keep => continue,
                Move::In(to) => ("pull_in", Some(week(to))),
                Move::Out(to) => ("push_out", Some(week(to))),
                Move::Cancel => ("cancel", None),
            };
            let row = &book.stock[open.row];
            advice.push(AdviceEntry {
                item: book.item(planned.item).name.clone(),
                order: row.order.clone(),
                place: book.place(row.row, None).to_string(),
                due: row.due.map(|due| due.to_string()),
                advice: advised,
                week: to,
            });
        }
    }
    let answer = Answer {
        as_of: orders.as_of.to_string(),
        weeks: (0..orders.weeks.count).map(week).collect(),
        firm_weeks: orders.firm_weeks,
        pool: orders.pool.name(),
        units: orders.units,
        service_level: orders.service_level.as_ref().map(exact),
        orders: orders.orders.iter().map(|order| order_entry(book, orders, order)).collect(),
        shortages: orders.shortages.iter().map(|short| shortage(book, short)).collect(),
        advice,
        stock,
        build_ahead: build_ahead(book, orders),
        pooling: pooling(book, orders),
        options: options(book, orders),
        forecast: forecast(book, orders),
        cash: cash(book, orders),
    };
    document("orders", book, Some(orders.as_of), findings, answer)
}

fn pooling(book: &Book, orders: &Orders<'_>) -> Vec<GainEntry> {
    orders
        .planned
        .iter()
        .filter_map(|planned| {
            let gain = planned.gain.as_ref()?;
            Some(GainEntry {
                item: book.item(planned.item).name.clone(),
                alone: gain.alone,
                together: gain.together,
                cost_alone: exact(&gain.cost[0]),
                cost_together: exact(&gain.cost[1]),
            })
        })
        .collect()
}

fn options(book: &Book, orders: &Orders<'_>) -> Vec<DoubtEntry> {
    orders
        .doubtful
        .iter()
        .map(|doubt| DoubtEntry {
            plan: book.plans[doubt.plan.index()].name.clone(),
            option: book.options[doubt.option.index()].name.clone(),
            take_rate: exact(&doubt.rate),
            units: doubt.units,
            expected: exact(&doubt.expected),
            planned: exact(&doubt.covered),
        })
        .collect()
}

fn forecast(book: &Book, orders: &Orders<'_>) -> Vec<ForecastEntry> {
    orders
        .forecasts
        .iter()
        .map(|forecast| ForecastEntry {
            plan: book.plans[forecast.plan.index()].name.clone(),
            units_per_week: exact(&forecast.level),
            alpha: exact(&forecast.alpha),
            mean_error: exact(&forecast.mean_error),
            bias: exact(&forecast.bias),
            history_weeks: forecast.history,
        })
        .collect()
}

fn build_ahead(book: &Book, orders: &Orders<'_>) -> Vec<AheadEntry> {
    orders
        .ahead
        .iter()
        .map(|ahead| AheadEntry {
            assembly: book.assemblies[ahead.assembly.index()].name.clone(),
            values: ahead
                .values
                .iter()
                .map(|(name, value)| format!("{name} = {}", shown::value(value)))
                .collect(),
            on_hand: exact(&ahead.on_hand),
            needed: texts(&ahead.gross),
            planned: texts(&ahead.planned),
            balance: texts(&ahead.balance),
        })
        .collect()
}

fn cash(book: &Book, orders: &Orders<'_>) -> Vec<CashEntry> {
    let own_places = minor_digits(&book.settings.currency);
    orders
        .cash
        .iter()
        .map(|cash| CashEntry {
            week: cash.week.monday().to_string(),
            amount: shown::plain(cash.amount, own_places),
            discount: shown::plain(cash.discount, own_places),
        })
        .collect()
}

fn texts(amounts: &[Ratio]) -> Vec<String> {
    amounts.iter().map(exact).collect()
}

fn thing(book: &Book, item: ItemId, size: Option<SizeId>) -> Thing {
    let row = size.map(|size| &book.sizes[size.index()]);
    Thing {
        item: book.item(item).name.clone(),
        length: row.and_then(|size| size.length).map(|length| side(book, length)),
        width: row.and_then(|size| size.width).map(|width| side(book, width)),
        unit: crate::render::report::purchase_unit(book, item, size),
    }
}

fn order_entry(book: &Book, orders: &Orders<'_>, order: &VendorOrder) -> OrderEntry {
    let places = minor_digits(&order.currency);
    let line = |line: &OrderLine, amount: i128| LineEntry {
        thing: thing(book, line.item, line.size),
        vendor_item: line.vendor_item.clone(),
        count: exact(&line.units),
        needed: exact(&line.needed),
        of_forecast: exact(&line.of_forecast),
        price: line.price.as_ref().map(|price| price.text.to_string()),
        price_row: line.price_row.map(|row| book.place(row, None).to_string()),
        amount: line.price.as_ref().map(|_| shown::plain(amount, places)),
        order_day: line.order_day.to_string(),
        due: line.due.to_string(),
        arrival: line.arrival.to_string(),
        is_late: line.is_late(),
        raised_from: line.raised.as_ref().map(|raised| exact(&raised.from)),
        raised_saves: line.raised.as_ref().map(|raised| exact(&raised.saved)),
    };
    OrderEntry {
        vendor: order.vendor.clone(),
        week: order.week.monday().to_string(),
        currency: order.currency.clone(),
        total: shown::plain(order.total(), places),
        exact: exact(&order.exact),
        below_minimum: order.below_minimum.as_ref().map(exact),
        below_freight: order.below_freight.as_ref().map(exact),
        lines: order
            .lines
            .iter()
            .zip(&order.amounts)
            .map(|(at, amount)| line(orders.line(*at), *amount))
            .collect(),
    }
}

fn shortage(book: &Book, short: &crate::orders::Shortage) -> ShortageEntry {
    ShortageEntry {
        thing: thing(book, short.item, short.size),
        day: short.day.to_string(),
        count: exact(&short.units),
        pull_in: short.pull_in.iter().map(|row| book.stock[*row].order.clone()).collect(),
        arrival: short.arrival.map(|day| day.to_string()),
        builds: short.builds.iter().map(|row| book.schedule[*row].order.clone()).collect(),
        alternates: short
            .alternates
            .iter()
            .map(|alternate| AlternateEntry {
                item: book.item(alternate.item).name.clone(),
                free: exact(&alternate.free),
            })
            .collect(),
    }
}
