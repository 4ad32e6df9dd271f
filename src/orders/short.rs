//! What runs short: needs that neither stock nor an order can meet in time, the builds they stop, and what could help.

use jiff::civil::Date;

use crate::model::Book;
use crate::model::Component;
use crate::model::ItemId;
use crate::model::SizeId;
use crate::model::Stocked;
use crate::model::Supply;
use crate::orders::Orders;
use crate::orders::changes::is_alternate;
use crate::orders::record::Move;
use crate::quantity::Ratio;

/// An item that is not there when builds need it, for one reason.
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

impl Cause {
    /// Tells whether two shortages of one item are one to the reader.
    fn joins(self, other: Cause) -> bool {
        match (self, other) {
            (Cause::Late(_), Cause::Late(_)) => true,
            (one, other) => one == other,
        }
    }
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
    for (planned, row) in orders.planned.iter().map(|planned| (planned, book.item(planned.item))) {
        let item = planned.item;
        let mut found: Vec<Shortage> = Vec::new();
        let mut add = |size: Option<SizeId>, week: usize, units: &Ratio, cause: Cause| {
            let known = found.iter_mut().find(|known| known.size == size && known.cause.joins(cause));
            let Some(known) = known else {
                let (builds, alternates) = (Vec::new(), alternates(book, orders, item));
                let day = monday(week);
                found.push(Shortage { item, size, week, day, units: units.clone(), cause, builds, alternates });
                return;
            };
            known.units += units;
            if let (Cause::Late(until), Cause::Late(day)) = (known.cause, cause) {
                known.cause = Cause::Late(until.max(day));
            }
        };
        for line in planned.lines.iter().filter(|line| line.is_late()) {
            add(line.size, line.week, &line.needed, Cause::Late(line.arrival));
        }
        for open in &planned.open {
            let stock = &book.stock[open.row];
            if let (Move::In(week), Some(due)) = (open.change, stock.due) {
                let (size, factor) = match stock.what {
                    Stocked::Size(_, size) => (Some(size), Ratio::ONE),
                    _ => (None, row.purchase_factor().clone()),
                };
                let units = stock.quantity.checked_div(&factor).unwrap_or_default();
                add(size, week, &units, Cause::PullIn(open.row, due));
            }
        }
        if row.supply == Supply::Furnished {
            for balance in &planned.balances {
                if let Some(week) = balance.balance.iter().position(Ratio::is_negative) {
                    let lowest = balance.balance.iter().min().cloned().unwrap_or_default();
                    add(balance.size, week, &lowest.abs(), Cause::NotFurnished);
                }
            }
        }
        for short in &mut found {
            let until = match short.cause {
                Cause::Late(day) | Cause::PullIn(_, day) => orders.weeks.position(day),
                Cause::NotFurnished => orders.weeks.count,
            };
            short.builds = orders.builds_needing(item, short.week, until.max(short.week + 1));
        }
        shortages.extend(found);
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
