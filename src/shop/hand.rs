//! Offcuts that are on hand, as sizes that cost nothing, handed out station by station: each takes as few as spare it new
//! stock.

use std::collections::BTreeSet;

use crate::diag::{Checked, Diagnostic};
use crate::explode::Needs;
use crate::model::{
    Book, Component, Form, ItemId, Price, PriceBasis, Size, SizeId, StockKind, Stocked,
};
use crate::quantity::Ratio;
use crate::rollup::{self, BuildCost, ItemCost, Rollup};
use crate::shop::Day;
use crate::watch::Watch;

/// Where as few offcuts as possible are to be used, they cost a hundredth of new stock of the same measure: enough to tell
/// nests apart, and no new stock is worth so many offcuts.
const SHARE_DIGITS: u32 = 2;

/// Offcuts of a book, by the sizes that were added for them and their rows of table `stock`.
#[derive(Debug, Default)]
pub(super) struct Hand(Vec<(SizeId, usize)>);

/// Returns the offcuts of an item that are on hand, by their rows of table `stock`, each as a size with how many there are.
pub(super) fn offcuts(book: &Book, item: ItemId) -> Vec<(usize, Size)> {
    let is_stick = book.item(item).form == Form::Linear;
    let rows = book.stock.iter().enumerate().filter(|(_, row)| row.kind == StockKind::OnHand);
    let sizes = rows.filter_map(|(position, row)| {
        let Stocked::Offcut(of, length, width) = row.what else { return None };
        let count = row.quantity.floor().to_integer().and_then(|count| u32::try_from(count).ok());
        let count = count.filter(|count| of == item && *count > 0)?;
        let size = Size {
            item,
            length: Some(length),
            width: (!is_stick).then_some(width),
            price: Some(each(Ratio::ZERO)),
            vendor: String::new(),
            available: Some(count),
            is_offcut: true,
            row: row.row,
        };
        Some((position, size))
    });
    sizes.collect()
}

/// Tells whether offcuts of any of the items are on hand.
pub(super) fn has_offcuts(book: &Book, items: &BTreeSet<ItemId>) -> bool {
    items.iter().any(|item| !offcuts(book, *item).is_empty())
}

/// Takes the offcuts that the other stations of a day cut out of table `stock`.
pub(super) fn leave(book: &mut Book, day: &Day, station: &str) {
    for cost in &day.rollup.builds {
        let plan = &day.book.plans[day.needs.builds[cost.build].plan.index()];
        if plan.name.eq_ignore_ascii_case(station) {
            continue;
        }
        for nested in cost.items.iter().filter_map(|item| item.nested.as_ref()) {
            for layout in &nested.nest.layouts {
                let size = &day.book.sizes[nested.sizes[layout.stock].index()];
                let row = book.stock.iter_mut().find(|row| row.row == size.row);
                if let Some(row) = row.filter(|_| size.is_offcut) {
                    row.quantity = &row.quantity - &Ratio::whole(i128::from(layout.repeat));
                }
            }
        }
    }
}

impl Hand {
    /// Adds a size to a book for each offcut of the items, but for items that are bought in no size. The book is to be indexed
    /// afterwards.
    pub(super) fn of(book: &mut Book, items: &BTreeSet<ItemId>) -> Hand {
        let mut added = Vec::new();
        for item in items {
            if book.sizes_of(*item).is_empty() {
                continue;
            }
            for (row, size) in offcuts(book, *item) {
                let id = u32::try_from(book.sizes.len()).expect("sizes are counted in a u32");
                book.sizes.push(size);
                added.push((SizeId(id), row));
            }
        }
        Hand(added)
    }

    /// Nests what builds take, one after the other where they may want the same offcuts, and takes the offcuts that are used
    /// out of table `stock`. `after` may still change the nests of a build.
    ///
    /// # Errors
    /// As [`rollup::rollup`].
    pub(super) fn roll(
        &self,
        book: &mut Book,
        needs: &Needs,
        options: rollup::Options,
        watch: &dyn Watch,
        after: &mut dyn FnMut(&mut BuildCost),
    ) -> Result<Checked<Rollup>, Vec<Diagnostic>> {
        let all: Vec<usize> = (0..needs.builds.len()).collect();
        let groups: Vec<&[usize]> =
            if self.0.is_empty() { vec![&all] } else { all.chunks(1).collect() };
        let mut left = book.clone();
        let mut whole: Option<Checked<Rollup>> = None;
        for group in groups {
            let builds = group.iter().map(|build| needs.builds[*build].clone()).collect();
            let of_group = Needs { builds, ..needs.clone() };
            let mut rolled = rollup::rollup(&left, &of_group, options, watch)?;
            for cost in &mut rolled.value.builds {
                cost.build = group[cost.build];
                self.spare(&left, needs, cost, options, watch)?;
                after(cost);
                self.take(&mut left, cost);
            }
            match &mut whole {
                None => whole = Some(rolled),
                Some(whole) => {
                    whole.value.builds.append(&mut rolled.value.builds);
                    whole.warnings.append(&mut rolled.warnings);
                }
            }
        }
        book.stock = left.stock;
        Ok(whole.expect("there is a group"))
    }

    /// Nests items anew with as few offcuts as they need, and keeps those nests that cost no more: what one station spares
    /// is there for the next.
    fn spare(
        &self,
        book: &Book,
        needs: &Needs,
        cost: &mut BuildCost,
        options: rollup::Options,
        watch: &dyn Watch,
    ) -> Result<(), Vec<Diagnostic>> {
        let users = cost.items.iter().filter(|item| self.used(item).next().is_some());
        let users: BTreeSet<ItemId> = users.map(|item| item.item).collect();
        if users.is_empty() {
            return Ok(());
        }
        let build = needs.builds[cost.build].clone();
        let mut only = Needs { builds: vec![build.clone()], ..needs.clone() };
        only.instances[build.root.index()].lines.retain(|taken| {
            matches!(book.line(taken.line).component, Component::Item(item) if users.contains(&item))
        });
        let mut sparing = book.clone();
        for item in &cost.items {
            let Some(rate) = Hand::rate(book, item) else { continue };
            for (size, _) in
                self.0.iter().filter(|(size, _)| book.sizes[size.index()].item == item.item)
            {
                let size = &mut sparing.sizes[size.index()];
                let measure = measure(book, size);
                size.price = Some(each(&rate * &measure * Ratio::decimal(1, SHARE_DIGITS)));
            }
        }
        let wanted = rollup::rollup(&sparing, &only, options, watch)?.value;
        let mut limited = book.clone();
        for (size, _) in &self.0 {
            limited.sizes[size.index()].available = Some(0);
        }
        for (size, used) in
            wanted.builds.iter().flat_map(|build| &build.items).flat_map(|item| self.used(item))
        {
            let available = &mut limited.sizes[size.index()].available;
            *available = available.map(|known| known.saturating_add(used));
        }
        let rolled = rollup::rollup(&limited, &only, options, watch)?.value;
        let worth = |item: &ItemCost| {
            item.nested.as_ref().map(|nested| {
                let out: u64 = nested.nest.unplaced.iter().map(|unplaced| unplaced.count).sum();
                (out, nested.nest.cost.clone())
            })
        };
        for mut other in rolled.builds.into_iter().flat_map(|build| build.items) {
            let known = cost.items.iter_mut().find(|known| known.item == other.item);
            let Some(known) = known.filter(|known| worth(&other) <= worth(known)) else { continue };
            if let (Some(other), Some(known)) = (&mut other.nested, &known.nested)
                && other.nest.cost == known.nest.cost
            {
                // What is proven with more offcuts holds with fewer.
                other.nest.bound = known.nest.bound.clone();
                other.nest.ending = known.nest.ending;
            }
            *known = other;
        }
        Ok(())
    }

    /// Returns the least that new stock of an item costs for its measure.
    fn rate(book: &Book, item: &ItemCost) -> Option<Ratio> {
        let nested = item.nested.as_ref()?;
        let sizes = nested.sizes.iter().zip(&nested.instance.stocks);
        let bought = sizes.filter(|(size, _)| !book.sizes[size.index()].is_offcut);
        let rates = bought.filter_map(|(size, stock)| {
            stock.cost.checked_div(&measure(book, &book.sizes[size.index()]))
        });
        rates.min()
    }

    /// Returns the offcuts that the layouts of an item use, and how many.
    fn used<'a>(&'a self, item: &'a ItemCost) -> impl Iterator<Item = (SizeId, u32)> + 'a {
        let layouts = item.nested.iter().flat_map(|nested| {
            nested.nest.layouts.iter().map(|layout| (nested.sizes[layout.stock], layout.repeat))
        });
        let is_offcut = |size: SizeId| self.0.iter().any(|(offcut, _)| *offcut == size);
        layouts
            .filter(move |(size, _)| is_offcut(*size))
            .map(|(size, repeat)| (size, u32::try_from(repeat).unwrap_or(u32::MAX)))
    }

    /// Takes away what the nests of a build use.
    fn take(&self, book: &mut Book, cost: &BuildCost) {
        for (size, used) in cost.items.iter().flat_map(|item| self.used(item)) {
            let available = &mut book.sizes[size.index()].available;
            *available = available.map(|left| left.saturating_sub(used));
            let row = self.0.iter().find(|(offcut, _)| *offcut == size).map(|(_, row)| *row);
            let quantity = &mut book.stock[row.expect("it is one of the offcuts")].quantity;
            *quantity = &*quantity - &Ratio::from(i64::from(used));
        }
    }
}

fn each(amount: Ratio) -> Price {
    Price { amount, basis: PriceBasis::Each, text: "0/each".into() }
}

/// Returns the area of a sheet or roll, or the length of a stick.
fn measure(book: &Book, size: &Size) -> Ratio {
    let form = book.item(size.item).form;
    Ratio::whole(form.measure(size.length.unwrap_or_default(), size.width.unwrap_or_default()))
}
