use std::collections::BTreeSet;

use crate::compare::Side;
use crate::compare::pair::{Pair, pair_up};
use crate::diag::squashed;
use crate::model::ItemId;
use crate::model::Priced;
use crate::model::SizeId;
use crate::quantity::Length;

/// A price that came, went or changed, of an item that both sides take.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PriceChange {
    /// The item on both sides.
    pub items: (ItemId, ItemId),
    /// Length and width of the size it is for; nothing for an item without sizes.
    pub size: Option<(Option<Length>, Option<Length>)>,
    /// What it was, with its row.
    pub old: Option<Priced>,
    /// What it is, with its row.
    pub new: Option<Priced>,
}

/// Returns the prices that differ, of items that both sides take; sizes that only one side knows are left out.
pub(super) fn price_changes(
    old: Side<'_>,
    new: Side<'_>,
    items: &BTreeSet<(ItemId, ItemId)>,
) -> Vec<PriceChange> {
    let mut changes = Vec::new();
    for (was, is) in items.iter().copied() {
        let [old_sizes, new_sizes] =
            [(old, was), (new, is)].map(|(side, item)| side.book.sizes_of(item));
        if old_sizes.is_empty() && new_sizes.is_empty() {
            changes.extend(change(old, new, (was, is), None));
        }
        let keys = |side: Side<'_>, sizes: &[SizeId]| -> Vec<_> {
            let key = |size: &SizeId| {
                let size = &side.book.sizes[size.index()];
                [(size.length, size.width, squashed(&size.vendor))]
            };
            sizes.iter().map(key).collect()
        };
        for pair in pair_up(&keys(old, old_sizes), &keys(new, new_sizes)) {
            if let Pair::Both(one, other) = pair {
                let sizes = (old_sizes[one], new_sizes[other]);
                changes.extend(change(old, new, (was, is), Some(sizes)));
            }
        }
    }
    changes
}

fn change(
    old: Side<'_>,
    new: Side<'_>,
    items: (ItemId, ItemId),
    sizes: Option<(SizeId, SizeId)>,
) -> Option<PriceChange> {
    let was = old.book.price(items.0, sizes.map(|sizes| sizes.0), old.needs.on);
    let is = new.book.price(items.1, sizes.map(|sizes| sizes.1), new.needs.on);
    let amount = |priced: &Option<Priced>| {
        priced.as_ref().map(|priced| (priced.price.amount.clone(), priced.price.basis))
    };
    if amount(&was) == amount(&is) {
        return None;
    }
    let size = sizes.map(|(_, size)| {
        let size = &new.book.sizes[size.index()];
        (size.length, size.width)
    });
    Some(PriceChange { items, size, old: was, new: is })
}
