use crate::diag::Count;
use crate::model::Book;
use crate::model::StockRow;
use crate::model::Stocked;
use crate::model::Supply;
use crate::orders::{
    Ahead, Balance, CashWeek, Doubtful, Forecast, Gain, Move, OpenOrder, Orders, Planned, Shortage,
    money,
};
use crate::quantity::Ratio;
use crate::quantity::minor_digits;
use crate::render::report::orders::{size, unit, units};
use crate::render::report::{Cell, Field, Showing, Table, figures, table, words};
use crate::render::shown;

/// Most build orders a shortage spells out.
const MOST_BUILDS: usize = 4;

/// Returns what runs short, the first first.
pub(super) fn shortages(book: &Book, orders: &Orders<'_>) -> Table {
    let fields = [
        words("first short", |short: &Shortage| short.day.to_string()),
        words("item", |short: &Shortage| book.item(short.item).name.clone()),
        words("size", |short: &Shortage| size(book, short.size)),
        figures("short", |short: &Shortage| units(&short.units)),
        words("unit", |short: &Shortage| unit(book, short.item, short.size)),
        words("why", |short: &Shortage| why_short(book, short)),
        words("builds that wait", |short: &Shortage| builds(book, &short.builds)),
        words("instead", |short: &Shortage| {
            let one = |alternate: &crate::orders::Alternate| {
                format!(
                    "{} has {} free",
                    book.item(alternate.item).name,
                    units(&alternate.free).shown
                )
            };
            short.alternates.iter().map(one).collect::<Vec<_>>().join(", ")
        }),
    ];
    table("What runs short", &fields, &orders.shortages)
}

fn why_short(book: &Book, short: &Shortage) -> String {
    let mut reasons: Vec<String> = short
        .pull_in
        .iter()
        .map(|row| {
            let row = &book.stock[*row];
            let due = row.due.map_or_else(String::new, |due| due.to_string());
            let order = if row.order.is_empty() { "an open order" } else { &row.order };
            format!("{order} is due {due}: pull in")
        })
        .collect();
    if let Some(day) = short.arrival {
        reasons.push(format!("ordered now, the rest is there {day}"));
    }
    if reasons.is_empty() {
        reasons.push("not furnished yet".to_owned());
    }
    reasons.join("; ")
}

fn builds(book: &Book, rows: &[usize]) -> String {
    let name = |row: &usize| {
        let row = &book.schedule[*row];
        match row.order.as_str() {
            "" => format!("{} {}", book.plans[row.plan.index()].name, row.day),
            order => order.to_owned(),
        }
    };
    let mut text = rows.iter().take(MOST_BUILDS).map(name).collect::<Vec<_>>().join(", ");
    if rows.len() > MOST_BUILDS {
        text.push_str(&format!(" and {} more", rows.len() - MOST_BUILDS));
    }
    text
}

/// An open order that should not stay as it is.
struct Advised<'a> {
    row: &'a StockRow,
    name: String,
    count: Ratio,
    change: Move,
}

/// Returns what should become of open orders.
pub(super) fn advice(book: &Book, orders: &Orders<'_>) -> Table {
    let mut list: Vec<Advised<'_>> = Vec::new();
    let mut add = |open: &OpenOrder, name: &str, factor: Option<&Ratio>| {
        let row = &book.stock[open.row];
        let count = match (row.what, factor) {
            (Stocked::Item(_), Some(factor)) => {
                row.quantity.checked_div(factor).unwrap_or_default()
            }
            _ => row.quantity.clone(),
        };
        if open.change != Move::Keep {
            list.push(Advised { row, name: name.to_owned(), count, change: open.change });
        }
    };
    for planned in &orders.planned {
        let item = book.item(planned.item);
        planned.open.iter().for_each(|open| add(open, &item.name, Some(item.purchase_factor())));
    }
    for ahead in &orders.ahead {
        let name = &book.assemblies[ahead.assembly.index()].name;
        ahead.open.iter().for_each(|open| add(open, name, None));
    }
    let week = |week: usize| orders.weeks.week(week).monday();
    let fields = [
        words("order", |line: &Advised<'_>| line.row.order.clone()),
        words("vendor", |line: &Advised<'_>| line.row.vendor.clone()),
        words("item", |line: &Advised<'_>| line.name.clone()),
        figures("count", |line: &Advised<'_>| units(&line.count)),
        words("due", |line: &Advised<'_>| {
            line.row.due.map_or_else(String::new, |due| due.to_string())
        }),
        words("advice", |line: &Advised<'_>| match line.change {
            Move::Keep => String::new(),
            Move::In(to) => format!("pull in to the week of {}", week(to)),
            Move::Out(to) => format!("not needed before the week of {}: push out", week(to)),
            Move::Cancel => "not needed in these weeks: cancel, or keep for later".to_owned(),
        }),
    ];
    table("Advice on open orders", &fields, &list)
}

/// Returns the shorter lists: assemblies to build ahead, floor stock, pooling, doubt, forecast, cash.
pub(super) fn further(book: &Book, orders: &Orders<'_>) -> Vec<Table> {
    vec![
        ahead(book, orders),
        supplied(book, orders, Supply::Bin, "Floor stock: use, not ordered by the week"),
        supplied(book, orders, Supply::Consigned, "Consigned: to pull, owed on use"),
        supplied(book, orders, Supply::Furnished, "Furnished by the customer"),
        gains(book, orders),
        doubtful(book, orders),
        forecasts(book, orders),
        cash(book, orders),
    ]
}

fn week_titles(orders: &Orders<'_>) -> Vec<String> {
    let title = |week: usize| {
        let text = orders.weeks.week(week).monday().to_string();
        text[5..].to_owned()
    };
    (0..orders.weeks.count).map(title).collect()
}

fn ahead(book: &Book, orders: &Orders<'_>) -> Table {
    let list: Vec<&Ahead> = orders
        .ahead
        .iter()
        .filter(|ahead| ahead.planned.iter().any(|planned| !planned.is_zero()))
        .collect();
    let mut fields: Vec<Field<'_, &Ahead>> = vec![
        words("assembly", |ahead: &&Ahead| book.assemblies[ahead.assembly.index()].name.clone()),
        words("of", |ahead: &&Ahead| {
            let value = |(name, value): &(String, crate::formula::Value)| match value {
                crate::formula::Value::Measure(measure) => {
                    Some(format!("{name} {}", crate::quantity::text::shown(measure)))
                }
                crate::formula::Value::Truth(true) => Some(name.clone()),
                crate::formula::Value::Truth(false) => None,
            };
            ahead.values.iter().filter_map(value).collect::<Vec<_>>().join(", ")
        }),
        figures("on hand", |ahead: &&Ahead| units(&ahead.on_hand)),
    ];
    for (week, title) in week_titles(orders).into_iter().enumerate() {
        fields.push(figures(&title, move |ahead: &&Ahead| or_blank(&ahead.planned[week])));
    }
    table("To build ahead, finished in the week of", &fields, &list)
}

fn or_blank(amount: &Ratio) -> Cell {
    if amount.is_zero() { Cell::default() } else { units(amount) }
}

/// One row of stock over the weeks.
struct Line<'a> {
    planned: &'a Planned,
    balance: &'a Balance,
}

fn supplied(book: &Book, orders: &Orders<'_>, supply: Supply, title: &str) -> Table {
    let mut list: Vec<Line<'_>> = Vec::new();
    for planned in orders.planned.iter().filter(|planned| book.item(planned.item).supply == supply)
    {
        list.extend(planned.balances.iter().map(|balance| Line { planned, balance }));
    }
    let mut fields = stock_fields(book);
    if supply == Supply::Consigned {
        let currency = &book.settings.currency;
        fields.push(figures(&format!("owed {currency}"), |line: &Line<'_>| {
            let owed = owed(book, orders, line);
            owed.map_or_else(Cell::default, |owed| {
                Cell::figure(shown::fixed(&owed, minor_digits(currency)))
            })
        }));
    }
    fields.push(figures("in all", |line: &Line<'_>| {
        units(&line.balance.gross.iter().cloned().sum::<Ratio>())
    }));
    for (week, title) in week_titles(orders).into_iter().enumerate() {
        fields.push(
            figures(&title, move |line: &Line<'_>| or_blank(&line.balance.gross[week]))
                .showing(Showing::IfItFits),
        );
    }
    table(title, &fields, &list)
}

/// Returns what is owed for the use of a consigned item.
fn owed(book: &Book, orders: &Orders<'_>, line: &Line<'_>) -> Option<Ratio> {
    let item = line.planned.item;
    let priced = book.price(item, line.balance.size, Some(orders.as_of))?;
    let used: Ratio = line.balance.gross.iter().cloned().sum();
    money(book, item, line.balance.size, &used, &priced.price)
}

fn stock_fields(book: &Book) -> Vec<Field<'_, Line<'_>>> {
    vec![
        words("item", |line: &Line<'_>| book.item(line.planned.item).name.clone()),
        words("size", |line: &Line<'_>| size(book, line.balance.size)),
        words("unit", |line: &Line<'_>| unit(book, line.planned.item, line.balance.size)),
        figures("on hand", |line: &Line<'_>| units(&line.balance.on_hand)),
    ]
}

/// Returns stock over the weeks: what is needed, on order, planned to arrive, and there at the end.
pub(super) fn calendar(book: &Book, orders: &Orders<'_>) -> Table {
    let mut list: Vec<(Line<'_>, &str, &[Ratio])> = Vec::new();
    for planned in &orders.planned {
        for balance in &planned.balances {
            let rows: [(&str, &[Ratio]); 4] = [
                ("needed", &balance.gross),
                ("on order", &balance.due),
                ("to arrive", &balance.planned),
                ("there at the end", &balance.balance),
            ];
            for (name, amounts) in rows {
                let is_blank = amounts.iter().all(Ratio::is_zero);
                if !is_blank || name == "there at the end" {
                    list.push((Line { planned, balance }, name, amounts));
                }
            }
        }
    }
    let mut fields: Vec<Field<'_, (Line<'_>, &str, &[Ratio])>> = vec![
        words("item", |(line, _, _): &(Line<'_>, &str, &[Ratio])| {
            book.item(line.planned.item).name.clone()
        }),
        words("size", |(line, _, _): &(Line<'_>, &str, &[Ratio])| size(book, line.balance.size)),
        words("unit", |(line, _, _): &(Line<'_>, &str, &[Ratio])| {
            unit(book, line.planned.item, line.balance.size)
        }),
        figures("on hand", |(line, _, _): &(Line<'_>, &str, &[Ratio])| {
            units(&line.balance.on_hand)
        }),
        words("week of", |(_, name, _): &(Line<'_>, &str, &[Ratio])| (*name).to_owned()),
    ];
    for (week, title) in week_titles(orders).into_iter().enumerate() {
        fields.push(figures(&title, move |(_, _, amounts): &(Line<'_>, &str, &[Ratio])| {
            units(&amounts[week])
        }));
    }
    table("Stock by week, in purchase units", &fields, &list)
}

fn gains(book: &Book, orders: &Orders<'_>) -> Table {
    let list: Vec<(&Planned, &Gain)> = orders
        .planned
        .iter()
        .filter_map(|planned| Some((planned, planned.gain.as_ref()?)))
        .filter(|(_, gain)| gain.cost[0] != gain.cost[1] || gain.alone != gain.together)
        .collect();
    let currency = &book.settings.currency;
    let places = minor_digits(currency);
    let saved = |gain: &Gain| &gain.cost[0] - &gain.cost[1];
    let fields = [
        words("item", |(planned, _): &(&Planned, &Gain)| book.item(planned.item).name.clone()),
        figures("each plan alone", |(_, gain): &(&Planned, &Gain)| {
            Cell::figure(gain.alone.to_string())
        }),
        figures("together", |(_, gain): &(&Planned, &Gain)| {
            Cell::figure(gain.together.to_string())
        }),
        figures("saved", |(_, gain): &(&Planned, &Gain)| {
            Cell::figure((i128::from(gain.alone) - i128::from(gain.together)).to_string())
        }),
        figures(&format!("saved {currency}"), |(_, gain): &(&Planned, &Gain)| {
            Cell::figure(shown::fixed(&saved(gain), places))
        }),
    ];
    let mut made = table(
        "Sheets, rolls and sticks saved by cutting plans together, from new stock",
        &fields,
        &list,
    );
    let sum =
        |count: &dyn Fn(&Gain) -> i128| -> i128 { list.iter().map(|(_, gain)| count(gain)).sum() };
    let cost: Ratio = list.iter().map(|(_, gain)| saved(gain)).sum();
    let figure = |count: i128| Cell::figure(count.to_string());
    if !list.is_empty() {
        made.totals.push(vec![
            Cell::text("total"),
            figure(sum(&|gain| i128::from(gain.alone))),
            figure(sum(&|gain| i128::from(gain.together))),
            figure(sum(&|gain| i128::from(gain.alone) - i128::from(gain.together))),
            Cell::figure(shown::fixed(&cost, places)),
        ]);
    }
    made
}

fn doubtful(book: &Book, orders: &Orders<'_>) -> Table {
    let fields = [
        words("plan", |doubt: &Doubtful| book.plans[doubt.plan.index()].name.clone()),
        words("option", |doubt: &Doubtful| book.options[doubt.option.index()].name.clone()),
        figures("take rate %", |doubt: &Doubtful| Cell::text(shown::percent(&doubt.rate))),
        figures("units", |doubt: &Doubtful| Cell::figure(doubt.units.to_string())),
        figures("expected", |doubt: &Doubtful| units(&doubt.expected)),
        figures("planned for", |doubt: &Doubtful| units(&doubt.covered)),
    ];
    table("Options in doubt", &fields, &orders.doubtful)
}

fn forecasts(book: &Book, orders: &Orders<'_>) -> Table {
    let fields = [
        words("plan", |forecast: &Forecast| book.plans[forecast.plan.index()].name.clone()),
        figures("units a week", |forecast: &Forecast| {
            Cell::figure(shown::rounded(&forecast.level, 3))
        }),
        figures("mean error", |forecast: &Forecast| {
            Cell::figure(shown::rounded(&forecast.mean_error, 3))
        }),
        figures("bias", |forecast: &Forecast| Cell::figure(shown::rounded(&forecast.bias, 3))),
        figures("alpha", |forecast: &Forecast| Cell::figure(shown::rounded(&forecast.alpha, 2))),
        figures("weeks of history", |forecast: &Forecast| {
            Cell::figure(forecast.history.to_string())
        }),
    ];
    let mut made = table("Forecast past the schedule", &fields, &orders.forecasts);
    if !orders.forecasts.is_empty() {
        let weeks = orders.weeks.count - orders.firm_weeks;
        made.below.push(format!(
            "{} past the schedule, by simple exponential smoothing of the builds of past weeks; errors are those of \
             forecasting each past week from the ones before it.",
            Count(weeks, "week")
        ));
    }
    made
}

fn cash(book: &Book, orders: &Orders<'_>) -> Table {
    let currency = &book.settings.currency;
    let places = minor_digits(currency);
    let fields = [
        words("week of", |cash: &CashWeek| cash.week.monday().to_string()),
        figures(&format!("to pay {currency}"), |cash: &CashWeek| Cell::amount(cash.amount, places))
            .summed(),
        figures(&format!("discounts {currency}"), |cash: &CashWeek| {
            Cell::amount(cash.discount, places)
        })
        .summed(),
    ];
    let mut made = table("Cash by week, for these orders", &fields, &orders.cash);
    let sum = |of: &dyn Fn(&CashWeek) -> i128| orders.cash.iter().map(of).sum();
    if !orders.cash.is_empty() {
        made.totals.push(vec![
            Cell::text("total"),
            Cell::amount(sum(&|cash| cash.amount), places),
            Cell::amount(sum(&|cash| cash.discount), places),
        ]);
    }
    made
}
