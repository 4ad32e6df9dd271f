//! Offcuts that are on hand, as sizes that cost nothing, handed out station by station: each takes as few as spare it new
//! stock.

use std::collections::BTreeSet;

use crate::diag::{Checked, Diagnostic};
use crate::explode::Needs;
use crate::model::{
    Book, Component, Form, ItemId, Price, PriceBasis, RowRef, Size, SizeId, StockKind, StockRow,
    Stocked,
};
use crate::quantity::Ratio;
use crate::rollup::{self, BuildCost, ItemCost, Rollup};
use crate::shop::Day;
use crate::watch::Watch;

/// Where as few offcuts as possible are to be used, they cost a hundredth of new stock of the same measure: enough to tell
/// nests apart, and no new stock is worth so many offcuts.
const SHARE_DIGITS: u32 = 2;

/// Returns the offcuts of an item that are on hand, each as a size with how many there are, at its row of table `stock`.
pub(super) fn offcuts(book: &Book, item: ItemId) -> Vec<Size> {
    let is_stick = book.item(item).form == Form::Linear;
    let rows = book.stock.iter().filter(|row| row.kind == StockKind::OnHand);
    let sizes = rows.filter_map(|row| {
        let Stocked::Offcut(of, length, width) = row.what else { return None };
        let count = row.quantity.floor().to_integer().and_then(|count| u32::try_from(count).ok());
        let count = count.filter(|count| of == item && *count > 0)?;
        Some(Size {
            item,
            length: Some(length),
            width: (!is_stick).then_some(width),
            price: Some(each(Ratio::ZERO)),
            vendor: String::new(),
            available: Some(count),
            is_offcut: true,
            row: row.row,
        })
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
        for (size, used) in cost.items.iter().flat_map(|item| used(&day.book, item)) {
            withdraw(&mut book.stock, day.book.sizes[size.index()].row, used);
        }
    }
}

/// Adds a size to a book for each offcut of the items, but for items that are bought in no size. The book is to be indexed
/// afterwards.
pub(super) fn add(book: &mut Book, items: &BTreeSet<ItemId>) {
    for item in items {
        if !book.sizes_of(*item).is_empty() {
            let offcuts = offcuts(book, *item);
            book.sizes.extend(offcuts);
        }
    }
}

/// Nests what builds take, one after the other where they may want the same offcuts, and takes the offcuts that are used
/// out of table `stock`. `after` may still change the nests of a build.
///
/// # Errors
/// As [`rollup::rollup`].
pub(super) fn roll(
    book: &mut Book,
    needs: &Needs,
    options: rollup::Options,
    watch: &dyn Watch,
    after: &mut dyn FnMut(&mut BuildCost),
) -> Result<Checked<Rollup>, Vec<Diagnostic>> {
    let all: Vec<usize> = (0..needs.builds.len()).collect();
    let has_offcuts = book.sizes.iter().any(|size| size.is_offcut);
    let groups: Vec<&[usize]> = if has_offcuts { all.chunks(1).collect() } else { vec![&all] };
    let mut left = book.clone();
    let mut whole: Option<Checked<Rollup>> = None;
    for group in groups {
        let builds = group.iter().map(|build| needs.builds[*build].clone()).collect();
        let of_group = Needs { builds, ..needs.clone() };
        let mut rolled = rollup::rollup(&left, &of_group, options, watch)?;
        for cost in &mut rolled.value.builds {
            cost.build = group[cost.build];
            spare(&left, needs, cost, options, watch)?;
            after(cost);
            take(&mut left, cost);
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
    book: &Book,
    needs: &Needs,
    cost: &mut BuildCost,
    options: rollup::Options,
    watch: &dyn Watch,
) -> Result<(), Vec<Diagnostic>> {
    let users = cost.items.iter().filter(|item| used(book, item).next().is_some());
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
        let Some(rate) = rate(book, item) else { continue };
        let sizes = sparing.sizes.iter_mut().filter(|size| size.item == item.item);
        for size in sizes.filter(|size| size.is_offcut) {
            let measure = measure(book, size);
            size.price = Some(each(&rate * &measure * Ratio::decimal(1, SHARE_DIGITS)));
        }
    }
    let wanted = rollup::rollup(&sparing, &only, options, watch)?.value;
    let mut limited = book.clone();
    for size in limited.sizes.iter_mut().filter(|size| size.is_offcut) {
        size.available = Some(0);
    }
    let items = wanted.builds.iter().flat_map(|build| &build.items);
    for (size, used) in items.flat_map(|item| used(book, item)) {
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
fn used<'a>(book: &'a Book, item: &'a ItemCost) -> impl Iterator<Item = (SizeId, u32)> + 'a {
    let layouts = item.nested.iter().flat_map(|nested| {
        nested.nest.layouts.iter().map(|layout| (nested.sizes[layout.stock], layout.repeat))
    });
    layouts
        .filter(|(size, _)| book.sizes[size.index()].is_offcut)
        .map(|(size, repeat)| (size, u32::try_from(repeat).unwrap_or(u32::MAX)))
}

/// Takes away what the nests of a build use.
fn take(book: &mut Book, cost: &BuildCost) {
    for item in &cost.items {
        for (size, used) in used(book, item).collect::<Vec<_>>() {
            let size = &mut book.sizes[size.index()];
            size.available = size.available.map(|left| left.saturating_sub(used));
            withdraw(&mut book.stock, size.row, used);
        }
    }
}

/// Takes so many out of a row of table `stock`.
fn withdraw(stock: &mut [StockRow], row: RowRef, used: u32) {
    for row in stock.iter_mut().filter(|known| known.row == row) {
        row.quantity = &row.quantity - &Ratio::from(i64::from(used));
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
