//! What a valid book lacks for a whole answer: prices, weights and sizes of items that bills take.

use std::collections::BTreeSet;

use indexmap::IndexMap;

use crate::diag::Diagnostic;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::model::Book;
use crate::model::Component;
use crate::model::Form;
use crate::model::Item;
use crate::model::ItemId;
use crate::model::PriceBasis;
use crate::model::RowRef;
use crate::model::SizeId;
use crate::read::book::id;
use crate::read::cells::text_of;
use crate::read::columns::Grid;
use crate::read::findings::Order;
use crate::read::names::folded;
use crate::read::reader::Reader;

/// Tells what is missing; of items in `unclear`, and of sizes that could not be read, something else was told.
pub(super) fn gaps(book: &Book, reader: &Reader, grids: &[Grid], unclear: &BTreeSet<ItemId>) {
    let mut is_used = vec![false; book.items.len()];
    for line in &book.lines {
        if let Component::Item(item) = line.component {
            is_used[item.index()] = true;
        }
    }
    let push = |row: RowRef, column: &str, finding: Diagnostic| {
        let grid = &grids[row.source.index()];
        let at = grid.at(column);
        let column = grid.present().find(|(known, _)| *known == at);
        let column = column.map_or(usize::MAX, |(_, index)| index + 1);
        let order = Order { table: grid.rank, row: row.row, column };
        reader.findings.push(order, finding);
    };
    let tell = |row: RowRef, column: &str, problem: Problem| {
        let place = book.place(row, Some(column));
        push(row, column, Diagnostic::new(Severity::Gap, place, problem));
    };
    let mut told = BTreeSet::new();
    let sizes = grids.iter().find(|grid| grid.schema.name == "sizes");
    let names = sizes.into_iter().flat_map(|grid| {
        let at = grid.at("item");
        (0..grid.table.row_count()).map(move |row| folded(&text_of(grid.cell(row, at))))
    });
    let sized: BTreeSet<String> = names.collect();
    for (currency, (row, prices)) in unrated(book) {
        tell(row, "currency", Problem::RateMissing { currency: currency.to_owned(), prices });
    }
    for (position, item) in book.items.iter().enumerate().filter(|(position, _)| is_used[*position])
    {
        let name = || item.name.clone();
        let item_id = ItemId(id(position));
        if unclear.contains(&item_id) {
            continue;
        }
        if item.weight.is_none() && item.form != Form::Labor {
            tell(item.row, "weight", Problem::WeightMissing { item: name() });
        }
        let sizes = book.sizes_of(item_id);
        if item.is_nested() && sizes.is_empty() && !sized.contains(&folded(&item.name)) {
            tell(item.row, "item", Problem::SizeMissing { item: name() });
        }
        let no_size = [None];
        let own_sizes: Vec<Option<SizeId>> = sizes.iter().copied().map(Some).collect();
        let asked = if sizes.is_empty() { &no_size[..] } else { &own_sizes };
        for size in asked {
            if let Some(priced) = book.price(item_id, *size, book.as_of())
                && let Some(finding) = book.expired(item_id, &priced)
                && told.insert(priced.row)
            {
                push(priced.row, "to_date", finding);
            }
            // A currency without any rate was told as a whole.
            if let Some(row) = book.unrated_row(item_id, *size, book.as_of())
                && row.currency.as_ref().is_some_and(|code| book.rate(code, None).is_some())
                && let Some(finding) = book.unrated(item_id, *size, book.as_of())
                && told.insert(row.row)
            {
                push(row.row, "currency", finding);
            }
        }
        if !item.is_nested() || sizes.is_empty() {
            if !is_priced(book, item_id, item, None) {
                tell(item.row, "price", Problem::PriceMissing { item: name() });
            }
            continue;
        }
        let unpriced: Vec<_> =
            sizes.iter().filter(|size| !is_priced(book, item_id, item, Some(**size))).collect();
        if unpriced.len() == sizes.len() {
            tell(item.row, "price", Problem::PriceMissing { item: name() });
        } else {
            for size in unpriced {
                let row = book.sizes[size.index()].row;
                tell(row, "price", Problem::PriceMissing { item: name() });
            }
        }
    }
}

/// Returns the foreign currencies of prices that table `rates` does not have, with the first row and how many there are.
fn unrated(book: &Book) -> IndexMap<&str, (RowRef, usize)> {
    let mut unrated = IndexMap::new();
    for price in book.prices.iter().filter(|price| price.price.is_some()) {
        let Some(currency) = price.currency.as_deref() else { continue };
        if book.rate(currency, None).is_none() {
            let (_, count) = unrated.entry(currency).or_insert((price.row, 0));
            *count += 1;
        }
    }
    unrated
}

fn is_priced(book: &Book, id: ItemId, item: &Item, size: Option<SizeId>) -> bool {
    let priced = book.price(id, size, book.as_of());
    priced.is_some_and(|priced| priced.price.basis != PriceBasis::Weight || item.weight.is_some())
}
