//! What runs short: needs that neither stock nor an order can meet in time, the builds they stop, and what could help.

use std::collections::BTreeMap;

use jiff::civil::Date;

use crate::model::Book;
use crate::model::Component;
use crate::model::ItemId;
use crate::model::SizeId;
use crate::model::Stocked;
use crate::model::Supply;
use crate::orders::Orders;
use crate::orders::amounts;
use crate::orders::changes;
use crate::orders::planned::{OpenOrder, Planned};
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
    let ready = |week: usize| orders.weeks.ready(&book.calendar, week, orders.as_of);
    for (planned, row) in orders.planned.iter().map(|planned| (planned, book.item(planned.item))) {
        let item = planned.item;
        let mut found: Vec<Shortage> = Vec::new();
        let mut add = |size: Option<SizeId>, week: usize, units: &Ratio, cause: Cause| {
            let known =
                found.iter_mut().find(|known| known.size == size && known.cause.joins(cause));
            let Some(known) = known else {
                let (builds, alternates) = (Vec::new(), alternates(book, orders, item));
                let day = ready(week);
                found.push(Shortage {
                    item,
                    size,
                    week,
                    day,
                    units: units.clone(),
                    cause,
                    builds,
                    alternates,
                });
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
        for (open, size, missing) in pulled_in(book, planned) {
            if let (Move::In(week), Some(due)) = (open.change, book.stock[open.row].due) {
                add(size, week, &missing, Cause::PullIn(open.row, due));
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

/// Returns the open orders that builds wait for, with their size and the purchase units missing without them. What one is
/// called in for beyond that is kept against doubt, and stops no build.
fn pulled_in<'a>(book: &Book, planned: &'a Planned) -> Vec<(&'a OpenOrder, Option<SizeId>, Ratio)> {
    let factor = book.item(planned.item).purchase_factor();
    let mut left_over: BTreeMap<Option<SizeId>, Ratio> = BTreeMap::new();
    let mut found = Vec::new();
    // What is left over is of the order that comes last.
    for open in planned.open.iter().rev() {
        let Move::In(week) = open.change else { continue };
        let stock = &book.stock[open.row];
        let (size, units) = match stock.what {
            Stocked::Size(_, size) => (Some(size), stock.quantity.clone()),
            _ => (None, stock.quantity.checked_div(factor).unwrap_or_default()),
        };
        let balances = planned.balances.iter().filter(|balance| balance.size == size);
        let until_due = balances.flat_map(|balance| balance.balance.iter().take(open.due));
        let there = until_due.skip(week).min().cloned().unwrap_or_default();
        let counted = left_over.entry(size).or_default();
        let spare = (there - &*counted).max(Ratio::ZERO).min(units.clone());
        *counted += &spare;
        if spare < units {
            found.push((open, size, units - spare));
        }
    }
    found.reverse();
    found
}

fn alternates(book: &Book, orders: &Orders<'_>, item: ItemId) -> Vec<Alternate> {
    let mut alternates: Vec<Alternate> = Vec::new();
    for row in changes::alternates(book) {
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
            None => amounts::on_hand(book, orders.weeks, to),
        };
        alternates.push(Alternate { item: to, free });
    }
    alternates
}
