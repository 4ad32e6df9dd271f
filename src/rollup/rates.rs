use std::sync::{Arc, OnceLock};

use jiff::civil::Date;

use crate::diag::Diagnostic;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::model::Book;
use crate::model::ItemId;
use crate::model::Priced;
use crate::model::SizeId;
use crate::quantity::Ratio;

/// Prices of items that are measured out or counted, each looked up once for all plans.
#[derive(Debug)]
pub(super) struct Rates<'a> {
    book: &'a Book,
    on: Option<Date>,
    by_item: Vec<OnceLock<Rate>>,
}

/// What one item costs.
#[derive(Debug)]
pub(super) struct Rate {
    pub priced: Option<Arc<Priced>>,
    /// Money for one base unit of the item's unit, if it has a price.
    pub money: Option<Ratio>,
    /// What is to be told of the price.
    pub findings: Vec<Diagnostic>,
}

impl<'a> Rates<'a> {
    pub(super) fn new(book: &'a Book, on: Option<Date>) -> Rates<'a> {
        let by_item = book.items.iter().map(|_| OnceLock::new()).collect();
        Rates { book, on, by_item }
    }

    pub(super) fn of(&self, id: ItemId) -> &Rate {
        self.by_item[id.index()].get_or_init(|| self.rate(id))
    }

    fn rate(&self, id: ItemId) -> Rate {
        let item = self.book.item(id);
        let priced = self.book.price(id, None, self.on);
        let money =
            priced.as_ref().and_then(|priced| item.money(&priced.price, &Ratio::ONE, &Ratio::ONE));
        let mut findings = Vec::new();
        if money.is_none() {
            findings.push(missing(self.book, id));
        }
        findings.extend(told(self.book, id, None, priced.as_ref(), self.on));
        Rate { priced: priced.map(Arc::new), money, findings }
    }
}

/// Returns the finding that an item has no price.
pub(super) fn missing(book: &Book, id: ItemId) -> Diagnostic {
    let item = book.item(id);
    let problem = Problem::PriceMissing { item: item.name.clone() };
    Diagnostic::new(Severity::Gap, book.place(item.row, Some("price")), problem)
}

/// Returns what is to be told of a price: that it is past, or that a row of `prices` would give it if its currency had a
/// rate.
pub(super) fn told(
    book: &Book,
    id: ItemId,
    size: Option<SizeId>,
    priced: Option<&Priced>,
    on: Option<Date>,
) -> impl Iterator<Item = Diagnostic> {
    let expired = priced.and_then(|priced| book.expired(id, priced));
    let unrated = book.unrated(id, size.or_else(|| book.sizes_of(id).first().copied()), on);
    expired.into_iter().chain(unrated)
}
