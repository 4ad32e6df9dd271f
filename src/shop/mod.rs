//! What the shop floor needs beside nests: what a station cuts on a day and for which unit, in which order a layout is cut,
//! how many set-ups that takes, where an extra piece goes.
//!
//! In: a book with its schedule, or a nest. Out: the nests of a day ([`day`]), the cuts of a layout in order
//! ([`sequence`]), a plan with a piece more ([`extra`]).
//!
//! Not here: what is bought. Orders nest whole weeks and plans together; the shop cuts what a day's units need.

mod cuts;
mod day;
mod extra;
mod hand;
mod merge;

pub use cuts::{Cut, Sequence, Side, Way, sequence};
pub use day::{Asked, Day, NO_STATION, Placed, Unit, day};
pub use extra::{Origin, Recut, extra, unplaced};

use crate::diag::Diagnostic;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::model::{Book, Form, ItemId};
use crate::nest;
use crate::nest::{Layout, Rest};
use crate::quantity::Length;
use crate::rollup::{Nested, Rollup};

/// How the stocks that are cut as one layout are sawn: in books of so many at once.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Books {
    /// Stocks in a full book.
    pub full: u64,
    /// Full books.
    pub count: u64,
    /// Stocks in one more book; zero if there is none.
    pub rest: u64,
}

impl Books {
    /// Returns how many set-ups of the saw that is: one for each book.
    #[must_use]
    pub fn set_ups(self) -> u64 {
        self.count + u64::from(self.rest > 0)
    }
}

/// Returns how a layout of an item is sawn: in books of as many as the item or the book allows, all at once without a
/// limit.
#[must_use]
pub fn books(book: &Book, item: ItemId, layout: &Layout) -> Books {
    let item = book.item(item);
    let of_book = book.settings.book_height.filter(|_| item.form == Form::Sheet);
    let most = item.book_height.or(of_book).and_then(|height| height.most(item.thickness));
    let full = most.unwrap_or(layout.repeat).min(layout.repeat).max(1);
    Books { full, count: layout.repeat / full, rest: layout.repeat % full }
}

/// Returns how many set-ups a nest of an item takes.
#[must_use]
pub fn set_ups(book: &Book, item: ItemId, nested: &Nested) -> u64 {
    nested.nest.layouts.iter().map(|layout| books(book, item, layout).set_ups()).sum()
}

/// An offcut that layouts leave, with how many of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Kept {
    /// The item.
    pub item: ItemId,
    /// Along the stock's length.
    pub length: Length,
    /// Along the stock's width; zero for sticks.
    pub width: Length,
    /// How many.
    pub count: u64,
}

/// Returns the offcuts that the nests of a roll-up leave, those of one item and size together; by item, the largest first.
#[must_use]
pub fn offcuts(rollup: &Rollup) -> Vec<Kept> {
    let mut kept: Vec<Kept> = Vec::new();
    for item in rollup.builds.iter().flat_map(|cost| &cost.items) {
        for layout in item.nested.iter().flat_map(|nested| &nested.nest.layouts) {
            for Rest { length, width, .. } in &layout.offcuts {
                let own = (item.item, *length, *width);
                let is_same = |known: &&mut Kept| (known.item, known.length, known.width) == own;
                match kept.iter_mut().find(is_same) {
                    Some(known) => known.count += layout.repeat,
                    None => {
                        let (item, length, width) = own;
                        kept.push(Kept { item, length, width, count: layout.repeat });
                    }
                }
            }
        }
    }
    kept.sort_by_key(|kept| (kept.item, std::cmp::Reverse((kept.length, kept.width))));
    kept
}

/// Checks every nest of a roll-up by a second program that shares nothing with the search, and tells how much was checked.
///
/// # Errors
/// Every nest that breaks a rule.
pub fn verified(book: &Book, rollup: &Rollup) -> Result<Diagnostic, Vec<Diagnostic>> {
    let (mut nests, mut layouts, mut pieces) = (0, 0, 0);
    let mut errors = Vec::new();
    for item in rollup.builds.iter().flat_map(|cost| &cost.items) {
        let Some(nested) = &item.nested else { continue };
        nests += 1;
        layouts += nested.nest.layouts.len();
        for layout in &nested.nest.layouts {
            let placed = u64::try_from(layout.placements.len()).unwrap_or(u64::MAX);
            pieces += placed.saturating_mul(layout.repeat);
        }
        if let Err(faults) = nest::check::check(&nested.instance, &nested.nest) {
            let row = book.item(item.item);
            let problem = Problem::NestWrong { item: row.name.clone(), faults };
            errors.push(Diagnostic::error(book.place(row.row, None), problem));
        }
    }
    if !errors.is_empty() {
        return Err(errors);
    }
    let problem = Problem::NestsVerified { nests, layouts, pieces };
    Ok(Diagnostic { severity: Severity::Note, ..Diagnostic::placeless(problem) })
}
