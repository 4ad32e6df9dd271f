//! What runs short: needs that neither stock nor an order can meet in time, the builds they stop, and what could help.

use jiff::civil::Date;

use crate::model::Book;
use crate::model::Component;
use crate::model::ItemId;
use crate::model::SizeId;
use crate::model::Supply;
use crate::orders::Orders;
use crate::orders::changes::is_alternate;
use crate::orders::record::Move;
use crate::quantity::Ratio;

/// An item that is not there when a build needs it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Shortage {
    /// The item.
    pub item: ItemId,
    /// The size, where the item has sizes.
    pub size: Option<SizeId>,
    /// Position of the first week that is short.
    pub week: usize,
    /// The first day that is short.
    pub day: Date,
    /// Purchase units missing.
    pub units: Ratio,
    /// Why.
    pub cause: Cause,
    /// Rows of the schedule that wait for it.
    pub builds: Vec<usize>,
    /// Approved alternates with what is free of them.
    pub alternates: Vec<Alternate>,
}

/// Why something is short.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cause {
    /// Ordered today it comes on this day, after it is needed.
    Late(Date),
    /// It is on order (position in the book's stock) for this day, and has to come earlier.
    PullIn(usize, Date),
    /// Whoever furnishes it has not sent enough.
    NotFurnished,
}

/// An item that may be taken instead.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Alternate {
    /// The item.
    pub item: ItemId,
    /// Purchase units of it that no week needs.
    pub free: Ratio,
}

pub(super) fn shortages(book: &Book, orders: &Orders<'_>) -> Vec<Shortage> {
    let mut shortages = Vec::new();
    let monday = |week: usize| {
        let monday = orders.weeks.week(week).monday();
        book.calendar.after(monday, 0).unwrap_or(monday).max(orders.as_of)
    };
    for planned in &orders.planned {
        let item = planned.item;
        let mut add =
            |size: Option<SizeId>, week: usize, until: Date, units: Ratio, cause: Cause| {
                let to = orders.weeks.position(until).max(week + 1);
                shortages.push(Shortage {
                    item,
                    size,
                    week,
                    day: monday(week),
                    units,
                    cause,
                    builds: orders.builds_needing(item, week, to),
                    alternates: alternates(book, orders, item),
                });
            };
        for line in planned.lines.iter().filter(|line| line.is_late()) {
            add(line.size, line.week, line.arrival, line.needed.clone(), Cause::Late(line.arrival));
        }
        for open in &planned.open {
            let row = &book.stock[open.row];
            if let (Move::In(week), Some(due)) = (open.change, row.due) {
                let size = match row.what {
                    crate::model::Stocked::Size(_, size) => Some(size),
                    _ => None,
                };
                let factor = match size {
                    Some(_) => Ratio::ONE,
                    None => book.item(item).purchase_factor().clone(),
                };
                let units = row.quantity.checked_div(&factor).unwrap_or_default();
                add(size, week, due, units, Cause::PullIn(open.row, due));
            }
        }
        if book.item(item).supply == Supply::Furnished {
            for balance in &planned.balances {
                let short = balance.balance.iter().position(Ratio::is_negative);
                if let Some(week) = short {
                    let lowest = balance.balance.iter().min().cloned().unwrap_or_default();
                    let end = monday(orders.weeks.count - 1);
                    add(balance.size, week, end, lowest.abs(), Cause::NotFurnished);
                }
            }
        }
    }
    shortages.sort_by_key(|shortage| (shortage.day, shortage.item, shortage.size));
    shortages
}

fn alternates(book: &Book, orders: &Orders<'_>, item: ItemId) -> Vec<Alternate> {
    let mut alternates: Vec<Alternate> = Vec::new();
    for row in book.swaps.iter().filter(|row| is_alternate(row)) {
        let (Some(Component::Item(from)), Some(Component::Item(to))) = (row.from, row.to) else {
            continue;
        };
        if from != item || alternates.iter().any(|known| known.item == to) {
            continue;
        }
        let free = match orders.planned.iter().find(|planned| planned.item == to) {
            Some(planned) => planned
                .balances
                .iter()
                .filter_map(|balance| balance.balance.iter().min().cloned())
                .sum::<Ratio>()
                .max(Ratio::ZERO),
            None => crate::orders::amounts::on_hand(book, to),
        };
        alternates.push(Alternate { item: to, free });
    }
    alternates
}
