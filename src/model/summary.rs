//! What a book holds, in numbers: the answer of `check`.

use crate::model::Book;
use crate::model::Component;
use crate::model::ItemId;

/// What a book holds.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Summary {
    /// How many plans.
    pub plans: usize,
    /// How many assemblies.
    pub assemblies: usize,
    /// How many items.
    pub items: usize,
    /// How many options.
    pub options: usize,
    /// How many bill lines.
    pub lines: usize,
    /// Names of the items that are on no bill and in no swap, in input order.
    pub unused_items: Vec<String>,
    /// Names of the items that have no price anywhere, on a bill or not, in input order.
    pub unpriced_items: Vec<String>,
}

/// Returns what a book holds.
#[must_use]
pub fn summary(book: &Book) -> Summary {
    let mut is_used = vec![false; book.items.len()];
    for line in &book.lines {
        if let Component::Item(item) = line.component {
            is_used[item.index()] = true;
        }
    }
    for component in book.swaps.iter().flat_map(|swap| [swap.from, swap.to]) {
        if let Some(Component::Item(item)) = component {
            is_used[item.index()] = true;
        }
    }
    let ids = || (0..).map(ItemId).zip(&book.items);
    let is_priced = |id: ItemId| {
        let in_sizes =
            book.sizes_of(id).iter().any(|size| book.sizes[size.index()].price.is_some());
        let in_prices =
            book.prices_of(id).iter().any(|price| book.prices[price.index()].price.is_some());
        book.item(id).price.is_some() || in_sizes || in_prices
    };
    let unused = ids().filter(|(id, _)| !is_used[id.index()]);
    let unpriced = ids().filter(|(id, _)| !is_priced(*id));
    Summary {
        plans: book.plans.len(),
        assemblies: book.assemblies.len(),
        items: book.items.len(),
        options: book.options.len(),
        lines: book.lines.len(),
        unused_items: unused.map(|(_, item)| item.name.clone()).collect(),
        unpriced_items: unpriced.map(|(_, item)| item.name.clone()).collect(),
    }
}
