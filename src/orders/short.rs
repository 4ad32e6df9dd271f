//! What runs short: needs that neither stock nor an order can meet in time, the builds they stop, and what could help.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use jiff::civil::Date;

use crate::explode::InstanceId;
use crate::model::Book;
use crate::model::Component;
use crate::model::ItemId;
use crate::model::SizeId;
use crate::model::Stocked;
use crate::model::Supply;
use crate::orders::Orders;
use crate::orders::amounts;
use crate::orders::changes;
use crate::orders::demand::Origin;
use crate::orders::gross::Pointer;
use crate::orders::phase::Phased;
use crate::orders::planned::{Balance, Planned};
use crate::orders::record::Move;
use crate::quantity::Ratio;

/// An item that is not there when builds need it: what is there, with orders on the days they will really arrive, falls
/// below zero. What only eats into the safety stock is none.
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
    /// Most purchase units that are missing in any week.
    pub units: Ratio,
    /// Open orders that have to come earlier, by their positions in the book's stock.
    pub pull_in: Vec<usize>,
    /// The day what has to be ordered anew is all there, if that is too late.
    pub arrival: Option<Date>,
    /// Rows of the schedule that wait for it.
    pub builds: Vec<usize>,
    /// Approved alternates with what is free of them.
    pub alternates: Vec<Alternate>,
}

/// An item that may be taken instead.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Alternate {
    /// The item.
    pub item: ItemId,
    /// Purchase units of it that no week needs.
    pub free: Ratio,
}

pub(super) fn shortages(book: &Book, orders: &Orders<'_>, waits: &Waits<'_>) -> Vec<Shortage> {
    let mut shortages = Vec::new();
    let ready = |week: usize| orders.weeks.ready(&book.calendar, week, orders.as_of);
    for planned in &orders.planned {
        for balance in &planned.balances {
            let really = really_there(book, orders, planned, balance);
            let Some(week) = really.iter().position(Ratio::is_negative) else { continue };
            let supply = book.item(planned.item).supply;
            if !matches!(supply, Supply::Build | Supply::Furnished) {
                continue;
            }
            let lowest = really.iter().min().cloned().unwrap_or_default();
            let end = (week + 1..really.len()).find(|week| !really[*week].is_negative());
            let arrivals =
                planned.lines.iter().filter(|line| line.size == balance.size && line.is_late());
            let pulled = planned.open.iter().filter(|open| {
                matches!(open.change, Move::In(_)) && size_of(book, open.row) == balance.size
            });
            shortages.push(Shortage {
                item: planned.item,
                size: balance.size,
                week,
                day: ready(week),
                units: lowest.abs(),
                pull_in: pulled.map(|open| open.row).collect(),
                arrival: arrivals.map(|line| line.arrival).max(),
                builds: waits.builds(planned.item, week, end.unwrap_or(really.len())),
                alternates: alternates(book, orders, planned.item),
            });
        }
    }
    shortages.sort_by_key(|shortage| (shortage.day, shortage.item, shortage.size));
    shortages
}

/// Which builds need which items, and when.
pub(super) struct Waits<'a> {
    orders: &'a Orders<'a>,
    /// For each item the recipes that take it, with working days before a unit is due.
    recipes: Vec<Vec<(usize, u32)>>,
    /// For each item the assemblies built ahead that take it, with working days before they are due.
    assemblies: Vec<Vec<(usize, u32)>>,
    /// For each recipe the rows of the schedule and the days they are due.
    builds: Vec<Vec<(usize, Date)>>,
}

impl<'a> Waits<'a> {
    pub(super) fn new(
        orders: &'a Orders<'a>,
        of_recipes: &[Vec<(usize, Phased)>],
        of_assemblies: &BTreeMap<(usize, InstanceId), Phased>,
    ) -> Waits<'a> {
        let items = orders.demand.books[0].items.len();
        let mut waits = Waits {
            orders,
            recipes: vec![Vec::new(); items],
            assemblies: vec![Vec::new(); items],
            builds: vec![Vec::new(); of_recipes.len()],
        };
        for (recipe, parts) in of_recipes.iter().enumerate() {
            for (item, _, days, _) in parts.iter().flat_map(|(_, phased)| &phased.needs) {
                add(&mut waits.recipes[item.index()], (recipe, *days));
            }
        }
        for (index, ahead) in orders.ahead.iter().enumerate() {
            let made =
                |pointer: &Pointer| of_assemblies.get(&(pointer.evaluation, pointer.instance));
            for phased in ahead.pointers.iter().filter_map(made) {
                for (item, _, days, _) in &phased.needs {
                    add(&mut waits.assemblies[item.index()], (index, *days));
                }
            }
        }
        for batch in &orders.demand.batches {
            if let Origin::Scheduled(row) = batch.origin {
                waits.builds[batch.recipe].push((row, batch.day));
            }
        }
        waits
    }

    /// Returns the rows of the schedule that need an item in some weeks, in order; through assemblies built ahead as well.
    fn builds(&self, item: ItemId, from: usize, to: usize) -> Vec<usize> {
        let orders = self.orders;
        let calendar = &orders.demand.books[0].calendar;
        let is_within = |day: Date, days: u32| {
            let week = orders.weeks.position(calendar.before(day, days).unwrap_or(day));
            from <= week && week < to
        };
        let mut rows = BTreeSet::new();
        for (recipe, days) in &self.recipes[item.index()] {
            let builds = self.builds[*recipe].iter().filter(|(_, day)| is_within(*day, *days));
            rows.extend(builds.map(|(row, _)| *row));
        }
        for (index, days) in &self.assemblies[item.index()] {
            let ahead = &orders.ahead[*index];
            let made = |week: &usize| {
                let monday = orders.weeks.week(*week).monday();
                !ahead.planned[*week].is_zero() && is_within(monday, *days)
            };
            // What is made in a week is for the builds of that week and, where it makes good what was taken, the next.
            for week in (0..orders.weeks.count).filter(made) {
                let near = |pointer: &&Pointer| week <= pointer.week && pointer.week <= week + 1;
                for pointer in ahead.pointers.iter().filter(near) {
                    let of_week = |(_, day): &&(usize, Date)| {
                        let due = orders.weeks.position(*day);
                        pointer.week <= due && due <= pointer.week + 2
                    };
                    rows.extend(
                        self.builds[pointer.recipe].iter().filter(of_week).map(|(row, _)| *row),
                    );
                }
            }
        }
        rows.into_iter().collect()
    }
}

/// Adds an entry, unless it is the last one already: needs of one item stand together.
fn add(list: &mut Vec<(usize, u32)>, entry: (usize, u32)) {
    if list.last() != Some(&entry) {
        list.push(entry);
    }
}

/// Returns what is really there at the end of each week: open orders come when they are due and planned ones when they
/// arrive, so that it may fall below zero.
fn really_there(
    book: &Book,
    orders: &Orders<'_>,
    planned: &Planned,
    balance: &Balance,
) -> Vec<Ratio> {
    let mut change: Vec<Ratio> =
        balance.due.iter().zip(&balance.gross).map(|(due, gross)| due - gross).collect();
    if book.item(planned.item).supply == Supply::Build {
        for line in planned.lines.iter().filter(|line| line.size == balance.size) {
            if let Some(change) = change.get_mut(orders.weeks.due(line.arrival).max(line.week)) {
                *change += &line.units;
            }
        }
    }
    let mut there = balance.on_hand.clone();
    let step = |change: Ratio| {
        there = &there + &change;
        there.clone()
    };
    change.into_iter().map(step).collect()
}

fn size_of(book: &Book, row: usize) -> Option<SizeId> {
    match book.stock[row].what {
        Stocked::Size(_, size) => Some(size),
        Stocked::Offcut(..) | Stocked::Item(_) | Stocked::Assembly(..) => None,
    }
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
