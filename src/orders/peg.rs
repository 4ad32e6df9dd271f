//! Why a line is ordered: the builds and bill lines that ask for it.

use std::collections::BTreeMap;

use crate::model::Book;
use crate::model::Component;
use crate::model::ItemId;
use crate::model::LineId;
use crate::orders::Orders;
use crate::orders::demand::Origin;
use crate::orders::phase::{each_line, each_need};
use crate::quantity::Ratio;

/// One source of a requirement.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Peg {
    /// What asks.
    pub source: PegSource,
    /// The bill line through which it does.
    pub line: LineId,
    /// Position of the week it is needed in.
    pub week: usize,
    /// How much, in base units of the item's form, without rounding.
    pub measure: Ratio,
}

/// What asks for something.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum PegSource {
    /// A build of the schedule, or of the forecast.
    Build(Origin),
    /// An assembly built ahead, by its position in [`Orders::ahead`].
    Ahead(usize),
}

impl Orders<'_> {
    /// Returns what asks for an item in some weeks: by week, then by source, then by bill line. Margins against doubt are
    /// not traced.
    #[must_use]
    pub fn why(&self, item: ItemId, from: usize, to: usize) -> Vec<Peg> {
        let mut sums: BTreeMap<(usize, PegSource, LineId), Ratio> = BTreeMap::new();
        let calendar_book: &Book = &self.demand.books[0];
        for batch in &self.demand.batches {
            let explosion = &self.demand.explosions[batch.explosion];
            let book: &Book = &self.demand.books[explosion.book];
            each_line(book, &explosion.needs, explosion.root, &mut |source, days, times| {
                let line = explosion.needs.taken(source).line;
                if book.line(line).component != Component::Item(item) {
                    return;
                }
                let day = calendar_book.calendar.before(batch.day, days).unwrap_or(batch.day);
                let week = self.weeks.position(day);
                if week < from || to <= week {
                    return;
                }
                let times = times * &batch.units;
                each_need(book, item, &explosion.needs, source, &times, &mut |what, required| {
                    let key = (week, PegSource::Build(batch.origin), line);
                    *sums.entry(key).or_default() += &(what.measure(book, item) * required);
                });
            });
        }
        for (index, ahead) in self.ahead.iter().enumerate() {
            for (made, planned) in
                ahead.planned.iter().enumerate().filter(|(_, planned)| !planned.is_zero())
            {
                let monday = self.weeks.week(made).monday();
                let Some(due) = calendar_book.calendar.after(monday, 0) else { continue };
                for (pointer, units) in ahead.made_for(made, planned) {
                    let explosion = &self.demand.explosions[pointer.explosion];
                    let book: &Book = &self.demand.books[explosion.book];
                    each_line(
                        book,
                        &explosion.needs,
                        pointer.instance,
                        &mut |source, days, times| {
                            let line = explosion.needs.taken(source).line;
                            let day = calendar_book.calendar.before(due, days).unwrap_or(due);
                            let week = self.weeks.position(day);
                            if book.line(line).component != Component::Item(item)
                                || week < from
                                || to <= week
                            {
                                return;
                            }
                            let times = times * &units;
                            each_need(
                                book,
                                item,
                                &explosion.needs,
                                source,
                                &times,
                                &mut |what, required| {
                                    let key = (week, PegSource::Ahead(index), line);
                                    *sums.entry(key).or_default() +=
                                        &(what.measure(book, item) * required);
                                },
                            );
                        },
                    );
                }
            }
        }
        sums.into_iter()
            .filter(|(_, measure)| !measure.is_zero())
            .map(|((week, source, line), measure)| Peg { source, line, week, measure })
            .collect()
    }

    /// Returns the scheduled builds that need an item in some weeks, in the order of the schedule; through assemblies
    /// built ahead as well.
    pub(super) fn builds_needing(&self, item: ItemId, from: usize, to: usize) -> Vec<usize> {
        let mut rows = std::collections::BTreeSet::new();
        let mut explosions = std::collections::BTreeSet::new();
        for peg in self.why(item, from, to) {
            match peg.source {
                PegSource::Build(Origin::Scheduled(row)) => drop(rows.insert(row)),
                PegSource::Build(Origin::Forecast(_)) => {}
                PegSource::Ahead(index) => {
                    let pointers = self.ahead[index].pointers.iter();
                    let near =
                        pointers.filter(|pointer| from <= pointer.week && pointer.week <= to);
                    explosions.extend(near.map(|pointer| pointer.explosion));
                }
            }
        }
        for batch in &self.demand.batches {
            let week = self.weeks.position(batch.day);
            if let (true, Origin::Scheduled(row), true) =
                (explosions.contains(&batch.explosion), batch.origin, week <= to + 1)
            {
                rows.insert(row);
            }
        }
        rows.into_iter().collect()
    }
}
