//! Running changes: approved swaps that hold for builds from a day or a unit on.

use jiff::civil::Date;

use crate::explode::What;
use crate::explode::choose;
use crate::model::Book;
use crate::model::Component;
use crate::model::PlanId;
use crate::model::StockKind;
use crate::model::Stocked;
use crate::model::SwapRow;
use crate::orders::demand::Weeks;
use crate::orders::gross::Series;
use crate::orders::likely::Configuration;
use crate::quantity::Ratio;

/// The approved changes of a book, each with its rows.
#[derive(Clone, Debug, Default)]
pub(crate) struct Changes {
    list: Vec<Change>,
}

/// The approved rows of one swap.
#[derive(Clone, Debug)]
struct Change {
    /// Positions in the book's swaps.
    rows: Vec<usize>,
    /// First day it holds: the latest that its rows say.
    from_date: Option<Date>,
    /// First unit it holds: the latest that its rows say.
    from_unit: Option<u32>,
}

impl Changes {
    /// Returns the changes that are approved and begin at a day or unit; those that use up old stock begin on the day
    /// that `used_up` says, if any.
    pub(crate) fn new(book: &Book, used_up: &dyn Fn(&SwapRow) -> Option<Date>) -> Changes {
        let begun = |change: &mut Change| {
            for row in change.rows.iter().map(|row| &book.swaps[*row]) {
                let used_up = if row.uses_up { Some(used_up(row)?) } else { None };
                change.from_date = change.from_date.max(row.from_date).max(used_up);
                change.from_unit = change.from_unit.max(row.from_unit);
            }
            Some(())
        };
        let mut list = by_swap(book);
        list.retain(|change| change.rows.iter().any(|row| begins(&book.swaps[*row])));
        list.retain_mut(|change| begun(change).is_some());
        Changes { list }
    }

    /// Returns the units at which changes begin.
    pub(super) fn first_units(&self) -> impl Iterator<Item = u32> {
        self.list.iter().filter_map(|change| change.from_unit)
    }

    /// Returns the positions of the swap rows that hold for a build.
    pub(crate) fn holding(
        &self,
        book: &Book,
        plan: PlanId,
        day: Date,
        unit: Option<u32>,
        configuration: &Configuration,
    ) -> Vec<usize> {
        if self.list.is_empty() {
            return Vec::new();
        }
        let begun = |change: &&Change| {
            change.from_date.is_none_or(|from| from <= day)
                && change.from_unit.is_none_or(|from| unit.is_some_and(|unit| from <= unit))
        };
        let rows = self.list.iter().filter(begun).flat_map(|change| &change.rows);
        // Options that do not go together are told where the build is exploded.
        let options =
            choose(book, plan, &configuration.chosen, &configuration.without).unwrap_or_default();
        let fits = |row: &&usize| book.swaps[**row].is_for(plan, &options);
        rows.filter(fits).copied().collect()
    }
}

/// Returns the approved rows by the swap they belong to.
fn by_swap(book: &Book) -> Vec<Change> {
    let mut list: Vec<(String, Change)> = Vec::new();
    for (index, row) in book.swaps.iter().enumerate().filter(|(_, row)| row.is_approved) {
        let name = row.swap.to_lowercase();
        match list.iter_mut().find(|(known, _)| *known == name) {
            Some((_, change)) => change.rows.push(index),
            None => {
                let rows = vec![index];
                list.push((name, Change { rows, from_date: None, from_unit: None }));
            }
        }
    }
    list.into_iter().map(|(_, change)| change).collect()
}

/// Returns the Monday of the first week in which what is there and on order of a swap's old material no longer suffices;
/// nothing if it lasts, or nothing is taken away.
pub(super) fn used_up(book: &Book, row: &SwapRow, series: &[Series], weeks: Weeks) -> Option<Date> {
    let Some(Component::Item(item)) = row.from else { return None };
    let mut left = Ratio::ZERO;
    for stock in &book.stock {
        let measure = match stock.what {
            Stocked::Size(of, size) if of == item => What::Whole(size).measure(book, item),
            Stocked::Item(of) if of == item => Ratio::ONE,
            _ => continue,
        };
        if stock.kind != StockKind::Allocated {
            left += &(&stock.quantity * &measure);
        }
    }
    let first = (0..weeks.count).find(|week| {
        for series in series.iter().filter(|series| series.item == item) {
            left = &left - &(series.what.measure(book, item) * series.total(*week));
        }
        left.is_negative()
    })?;
    Some(weeks.week(first).monday())
}

/// Tells whether a row says when its swap begins.
fn begins(row: &SwapRow) -> bool {
    row.from_date.is_some() || row.from_unit.is_some() || row.uses_up
}

/// Returns the swap rows that name an alternate: approved, of swaps that say nowhere when they begin.
pub(super) fn alternates(book: &Book) -> Vec<&SwapRow> {
    let mut list = by_swap(book);
    list.retain(|change| !change.rows.iter().any(|row| begins(&book.swaps[*row])));
    list.iter().flat_map(|change| &change.rows).map(|row| &book.swaps[*row]).collect()
}
