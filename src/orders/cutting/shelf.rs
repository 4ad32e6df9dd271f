//! What is there of an item that is cut, while weeks go by.

use std::collections::BTreeMap;

use crate::model::Book;
use crate::model::Item;
use crate::model::ItemId;
use crate::model::SizeId;
use crate::model::StockKind;
use crate::model::Stocked;
use crate::model::Supply;
use crate::orders::Setting;
use crate::orders::planned::{Balance, OpenOrder, Planned, is_promised};
use crate::quantity::Length;
use crate::quantity::Ratio;

/// What is there while weeks go by.
pub(super) struct Shelf {
    weeks: usize,
    pub(super) sizes: BTreeMap<SizeId, Row>,
    /// Offcuts: length, width, count; by length, then by width.
    pub(super) offcuts: Vec<(Length, Length, u64)>,
    /// Open orders that have not come: position in the planned ones, size, count.
    pub(super) open: Vec<(usize, SizeId, u64)>,
    /// Ordered so far.
    ordered: BTreeMap<SizeId, u64>,
}

/// One size over the weeks.
pub(super) struct Row {
    pub(super) there: u64,
    on_hand: Ratio,
    pub(super) gross: Vec<Ratio>,
    due: Vec<Ratio>,
    planned: Vec<Ratio>,
    balance: Vec<Ratio>,
}

impl Shelf {
    pub(super) fn new(setting: &Setting<'_>, id: ItemId, planned: &mut Planned) -> Shelf {
        let weeks = setting.weeks.count;
        let mut shelf = Shelf {
            weeks,
            sizes: BTreeMap::new(),
            offcuts: Vec::new(),
            open: Vec::new(),
            ordered: BTreeMap::new(),
        };
        let mut promised: BTreeMap<SizeId, u64> = BTreeMap::new();
        let mut rows: Vec<(usize, usize, SizeId, u64)> = Vec::new();
        for (index, row) in setting.stock_of(id) {
            let count =
                row.quantity.floor().to_integer().and_then(|count| u64::try_from(count).ok());
            let count = count.unwrap_or(0);
            match (row.what, row.kind) {
                (Stocked::Size(_, size), StockKind::OnHand) => shelf.row(size).there += count,
                (Stocked::Size(_, size), StockKind::Allocated)
                    if is_promised(setting.book, setting.weeks, row) =>
                {
                    *promised.entry(size).or_default() += count;
                }
                (Stocked::Size(_, size), StockKind::OnOrder) => {
                    let due = row.due.map_or(0, |due| setting.weeks.due(due));
                    rows.push((due, index, size, count));
                }
                (Stocked::Offcut(_, length, width), StockKind::OnHand) => {
                    shelf.offcuts.push((length, width, count));
                }
                _ => {}
            }
        }
        for (size, count) in promised {
            let row = shelf.row(size);
            row.there = row.there.saturating_sub(count);
        }
        for row in shelf.sizes.values_mut() {
            row.on_hand = whole(row.there);
        }
        rows.sort_unstable();
        for (due, index, size, count) in rows {
            shelf.open.push((planned.open.len(), size, count));
            if let Some(due) = shelf.row(size).due.get_mut(due) {
                *due += &whole(count);
            }
            planned.open.push(OpenOrder::new(index, due));
        }
        shelf.keep(Vec::new());
        shelf
    }

    pub(super) fn row(&mut self, size: SizeId) -> &mut Row {
        let weeks = self.weeks;
        self.sizes.entry(size).or_insert_with(|| Row {
            there: 0,
            on_hand: Ratio::ZERO,
            gross: vec![Ratio::ZERO; weeks],
            due: vec![Ratio::ZERO; weeks],
            planned: vec![Ratio::ZERO; weeks],
            balance: vec![Ratio::ZERO; weeks],
        })
    }

    /// Takes in what is due in a week.
    pub(super) fn receive(&mut self, week: usize, open: &[OpenOrder]) {
        let (come, left): (Vec<_>, Vec<_>) =
            self.open.drain(..).partition(|(position, _, _)| open[*position].due == week);
        self.open = left;
        for (_, size, count) in come {
            self.row(size).there += count;
        }
    }

    /// Takes in an open order ahead of its day.
    pub(super) fn pull_in(&mut self, position: usize) {
        if let Some(at) = self.open.iter().position(|(open, _, _)| *open == position) {
            let (_, size, count) = self.open.remove(at);
            self.row(size).there += count;
        }
    }

    /// Takes in what is bought in a week.
    pub(super) fn add(&mut self, week: usize, size: SizeId, bought: &Ratio) {
        let count = bought.to_integer().and_then(|count| u64::try_from(count).ok()).unwrap_or(0);
        *self.ordered.entry(size).or_default() += count;
        let row = self.row(size);
        row.planned[week] += bought;
        row.there += count;
    }

    /// Returns how many of a size can still be ordered, if they are limited.
    pub(super) fn left_to_order(&self, book: &Book, size: SizeId) -> Option<u64> {
        let available = u64::from(book.sizes[size.index()].available?);
        Some(available.saturating_sub(self.ordered.get(&size).copied().unwrap_or(0)))
    }

    /// Keeps further offcuts, and drops what is used up.
    pub(super) fn keep(&mut self, offcuts: Vec<(Length, Length, u64)>) {
        self.offcuts.extend(offcuts);
        self.offcuts.sort_unstable();
        self.offcuts.dedup_by(|next, kept| {
            let is_same = (next.0, next.1) == (kept.0, kept.1);
            if is_same {
                kept.2 += next.2;
            }
            is_same
        });
        self.offcuts.retain(|offcut| offcut.2 > 0);
    }

    /// Notes what is there at the end of a week.
    pub(super) fn close(&mut self, week: usize) {
        for row in self.sizes.values_mut() {
            row.balance[week] = whole(row.there);
        }
    }

    pub(super) fn into_balances(self, item: &Item) -> Vec<Balance> {
        let balance = |(size, row): (SizeId, Row)| {
            let mut balance = Balance {
                size: Some(size),
                on_hand: row.on_hand,
                gross: row.gross,
                due: row.due,
                planned: row.planned,
                balance: row.balance,
            };
            if item.supply != Supply::Build {
                balance.planned.fill(Ratio::ZERO);
                balance.follow();
            }
            balance
        };
        self.sizes.into_iter().map(balance).collect()
    }
}

pub(super) fn whole(count: u64) -> Ratio {
    Ratio::whole(i128::from(count))
}
