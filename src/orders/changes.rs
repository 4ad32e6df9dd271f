//! Running changes: approved swaps that hold for builds from a day or a unit on.

use jiff::civil::Date;

use crate::explode::What;
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
pub(super) struct Changes {
    list: Vec<Change>,
}

#[derive(Clone, Debug)]
struct Change {
    /// Positions in the book's swaps.
    rows: Vec<usize>,
    /// First day it holds, where it is known.
    from_date: Option<Date>,
    /// First unit it holds.
    from_unit: Option<u32>,
}

impl Changes {
    /// Returns the changes that are approved and begin at a day or unit; those that use up old stock begin on the day
    /// that `used_up` says, if any.
    pub(super) fn new(book: &Book, used_up: &dyn Fn(&SwapRow) -> Option<Date>) -> Changes {
        let mut list: Vec<Change> = Vec::new();
        let mut names: Vec<&str> = Vec::new();
        for (index, row) in book.swaps.iter().enumerate() {
            if !is_running(row) {
                continue;
            }
            let from_date = match (row.uses_up, row.from_date) {
                (true, from) => match used_up(row) {
                    Some(day) => Some(from.map_or(day, |from| from.max(day))),
                    None => continue,
                },
                (false, from) => from,
            };
            if let Some(known) = names.iter().position(|name| *name == row.swap) {
                list[known].rows.push(index);
                continue;
            }
            names.push(&row.swap);
            list.push(Change { rows: vec![index], from_date, from_unit: row.from_unit });
        }
        Changes { list }
    }

    /// Returns the positions of the swap rows that hold for a build.
    pub(super) fn holding(
        &self,
        book: &Book,
        plan: PlanId,
        day: Date,
        unit: Option<u32>,
        configuration: &Configuration,
    ) -> Vec<usize> {
        let begun = |change: &&Change| {
            change.from_date.is_none_or(|from| from <= day)
                && change.from_unit.is_none_or(|from| unit.is_some_and(|unit| from <= unit))
        };
        let rows = self.list.iter().filter(begun).flat_map(|change| &change.rows);
        let fits = |row: &&usize| {
            let row = &book.swaps[**row];
            row.plan.is_none_or(|only| only == plan)
                && row.option.is_none_or(|option| {
                    let is_standard = book.options[option.index()].is_standard;
                    configuration.chosen.contains(&option)
                        || (is_standard && !configuration.without.contains(&option))
                })
        };
        rows.filter(fits).copied().collect()
    }
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

/// Tells whether a swap is a running change: approved, with a day or unit from which it holds.
pub(super) fn is_running(row: &SwapRow) -> bool {
    row.is_approved && (row.from_date.is_some() || row.from_unit.is_some() || row.uses_up)
}

/// Tells whether a swap names an alternate: approved, without a day or unit.
pub(super) fn is_alternate(row: &SwapRow) -> bool {
    row.is_approved && !is_running(row)
}
