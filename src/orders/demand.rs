//! From the schedule to batches: so many units of one evaluated configuration, due on one day.
//!
//! Equal configurations are evaluated once, however many orders, weeks and units there are of them, so work does not
//! depend on the number of units.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::collections::BTreeSet;

use indexmap::IndexSet;
use jiff::civil::Date;
use rayon::iter::{IntoParallelRefIterator, ParallelIterator};

use crate::diag::Diagnostic;
use crate::diag::Distinct;
use crate::explode;
use crate::explode::InstanceId;
use crate::explode::Needs;
use crate::model::Book;
use crate::model::Calendar;
use crate::model::Effective;
use crate::model::OptionId;
use crate::model::PlanId;
use crate::model::Week;
use crate::orders::changes::Changes;
use crate::orders::likely::{self, Configuration, Mix};
use crate::orders::phase::{Phased, phased};
use crate::quantity::Ratio;

/// The weeks that are looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Weeks {
    /// The week of `as_of`.
    pub first: Week,
    /// How many; one at least.
    pub count: usize,
}

impl Weeks {
    /// Returns the position of the week a day lies in; days outside count in the first or the last.
    #[must_use]
    pub fn position(&self, day: Date) -> usize {
        let weeks = Week::of(day).since(self.first).max(0);
        usize::try_from(weeks).map_or(self.count - 1, |weeks| weeks.min(self.count - 1))
    }

    /// Returns the position of the week an open order is due in: the first if that is over, the number of weeks if it is
    /// after the last.
    #[must_use]
    pub fn due(&self, day: Date) -> usize {
        let weeks = Week::of(day).since(self.first).max(0);
        usize::try_from(weeks).map_or(self.count, |weeks| weeks.min(self.count))
    }

    /// Returns the day by which what a week needs must be there: its first working day, never before `as_of`.
    #[must_use]
    pub fn ready(&self, calendar: &Calendar, position: usize, as_of: Date) -> Date {
        let day = self.week(position).monday().max(as_of);
        calendar.after(day, 0).unwrap_or(day)
    }

    /// Returns a week by its position.
    #[must_use]
    pub fn week(&self, position: usize) -> Week {
        self.first.plus(i64::try_from(position).unwrap_or(i64::MAX))
    }
}

/// Where a batch comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Origin {
    /// A row of the schedule, by its position.
    Scheduled(usize),
    /// A plan's forecast past the schedule.
    Forecast(PlanId),
}

/// A configuration, evaluated.
#[derive(Clone, Debug)]
pub(super) struct Explosion {
    /// Position of its book in [`Demand::books`].
    pub(super) book: usize,
    /// The plan.
    pub(super) plan: PlanId,
    /// Everything evaluated for it.
    pub(super) needs: Needs,
    /// Its top.
    pub(super) root: InstanceId,
    /// What one unit takes.
    pub(super) phased: Phased,
}

/// Units of one configuration, due on one day.
#[derive(Clone, Debug)]
pub(super) struct Batch {
    /// Position in [`Demand::explosions`].
    pub(super) explosion: usize,
    /// Where it comes from.
    pub(super) origin: Origin,
    /// The day the units are due.
    pub(super) day: Date,
    /// How many; a part of the mix may be below zero.
    pub(super) units: Ratio,
}

/// An option some units get, with those reckoned to cover the doubt.
#[derive(Clone, Debug)]
pub(super) struct Cover {
    /// The plan.
    pub(super) plan: PlanId,
    /// The option and its share.
    pub(super) doubt: likely::Doubt,
    /// Evaluated with and without it.
    pub(super) explosions: [usize; 2],
    /// Units due per day, in order of days, whose options are not known.
    pub(super) units: BTreeMap<Date, u32>,
}

/// The schedule, evaluated.
pub(super) struct Demand<'a> {
    /// The book, then the book with the changes that hold for some builds.
    pub(super) books: Vec<Cow<'a, Book>>,
    /// Evaluated configurations.
    pub(super) explosions: Vec<Explosion>,
    /// Batches, in the order of the schedule, then forecasts.
    pub(super) batches: Vec<Batch>,
    /// Options in doubt.
    pub(super) covers: Vec<Cover>,
}

/// Units to be built, from the schedule or a forecast.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Due {
    /// Where it comes from.
    pub(super) origin: Origin,
    /// The plan.
    pub(super) plan: PlanId,
    /// The day they are due.
    pub(super) day: Date,
    /// How many.
    pub(super) units: Ratio,
}

/// What makes one evaluation differ from another.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
struct Sort {
    plan: PlanId,
    chosen: Vec<OptionId>,
    without: Vec<OptionId>,
    /// Number of dated changes of the bill that have happened.
    day: usize,
    /// The first unit of the stretch within which no change happens.
    unit: Option<u32>,
    /// Changes of material that hold.
    changes: Vec<usize>,
}

/// Evaluates everything that is due.
///
/// # Errors
/// What [`explode::explode`] finds wrong.
pub(super) fn demand<'a>(
    book: &'a Book,
    dues: &[Due],
    covers_doubt: bool,
    changes: &Changes,
    warnings: &mut Distinct,
) -> Result<Demand<'a>, Vec<Diagnostic>> {
    let steps = Steps::new(book, changes);
    let mut sorts: IndexSet<Sort> = IndexSet::new();
    let mut days: Vec<Date> = Vec::new();
    let mut mixes: BTreeMap<(PlanId, Option<Vec<OptionId>>), Mix> = BTreeMap::new();
    let mut batches = Vec::new();
    let mut in_doubt: BTreeMap<PlanId, BTreeMap<Date, u32>> = BTreeMap::new();
    let mut sort_of =
        |configuration: &Configuration, due: &Due, unit: Option<u32>, of_unit: Option<u32>| {
            let sort = Sort {
                plan: due.plan,
                chosen: configuration.chosen.clone(),
                without: configuration.without.clone(),
                day: steps.day(due.day),
                unit,
                changes: changes.holding(book, due.plan, due.day, of_unit, configuration),
            };
            let (index, is_new) = sorts.insert_full(sort);
            if is_new {
                days.push(due.day);
            }
            index
        };
    for due in dues {
        let (chosen, first_unit) = match due.origin {
            Origin::Scheduled(row) => {
                let row = &book.schedule[row];
                (row.chosen.clone(), row.first_unit)
            }
            Origin::Forecast(_) => (None, None),
        };
        if let (None, Some(units), Origin::Scheduled(_)) =
            (&chosen, due.units.to_integer(), due.origin)
        {
            let units = u32::try_from(units).unwrap_or(0);
            *in_doubt.entry(due.plan).or_default().entry(due.day).or_default() += units;
        }
        let mix = mixes.entry((due.plan, chosen)).or_insert_with_key(|(plan, chosen)| {
            let (mix, findings) = likely::mix(book, *plan, chosen.as_deref());
            warnings.extend(findings);
            mix
        });
        for (part, units, unit) in steps.stretches(first_unit, &due.units) {
            for (configuration, weight) in &mix.configurations {
                let explosion = sort_of(configuration, due, part, unit);
                batches.push(Batch {
                    explosion,
                    origin: due.origin,
                    day: due.day,
                    units: &units * weight,
                });
            }
        }
    }
    let mut covers = Vec::new();
    if covers_doubt {
        for (plan, units) in in_doubt {
            let Some(first) = units.keys().next() else { continue };
            let due = Due { origin: Origin::Forecast(plan), plan, day: *first, units: Ratio::ONE };
            for doubt in mixes.get(&(plan, None)).map_or(&[][..], |mix| &mix.doubts) {
                let explosions = [&doubt.with, &doubt.without]
                    .map(|configuration| sort_of(configuration, &due, None, None));
                covers.push(Cover { plan, doubt: doubt.clone(), explosions, units: units.clone() });
            }
        }
    }
    let (books, explosions) = evaluate(book, &sorts, &days, warnings)?;
    Ok(Demand { books, explosions, batches, covers })
}

/// A configuration with what was found on the way.
type Exploded = Result<(Explosion, Vec<Diagnostic>), Vec<Diagnostic>>;

/// The book with its changed forms, and evaluated configurations.
type Evaluated<'a> = (Vec<Cow<'a, Book>>, Vec<Explosion>);

/// Explodes each configuration once.
fn evaluate<'a>(
    book: &'a Book,
    sorts: &IndexSet<Sort>,
    days: &[Date],
    warnings: &mut Distinct,
) -> Result<Evaluated<'a>, Vec<Diagnostic>> {
    let mut books = vec![Cow::Borrowed(book)];
    let mut variants: BTreeMap<Vec<usize>, usize> = BTreeMap::from([(Vec::new(), 0)]);
    for sort in sorts {
        if !variants.contains_key(&sort.changes) {
            variants.insert(sort.changes.clone(), books.len());
            let rows: Vec<&crate::model::SwapRow> =
                sort.changes.iter().map(|row| &book.swaps[*row]).collect();
            books.push(Cow::Owned(book.changed(&rows)));
        }
    }
    let tasks: Vec<(&Sort, &Date)> = sorts.iter().zip(days).collect();
    let explosions = tasks.par_iter().map(|(sort, day)| {
        let at = variants[&sort.changes];
        let book = &books[at];
        let options = explode::Options {
            plans: vec![sort.plan],
            chosen: sort.chosen.clone(),
            without: sort.without.clone(),
            on: Some(**day),
            unit: sort.unit,
        };
        let needs = explode::explode(book, &options)?;
        let root = needs.value.builds[0].root;
        let phased = phased(book, &needs.value, root);
        let explosion = Explosion { book: at, plan: sort.plan, needs: needs.value, root, phased };
        Ok((explosion, needs.warnings))
    });
    let explosions: Vec<Exploded> = explosions.collect();
    let mut errors = Distinct::default();
    let mut good = Vec::with_capacity(explosions.len());
    for explosion in explosions {
        match explosion {
            Ok((explosion, found)) => {
                warnings.extend(found);
                good.push(explosion);
            }
            Err(found) => errors.extend(found),
        }
    }
    if !errors.is_empty() {
        return Err(errors.into_vec());
    }
    Ok((books, good))
}

/// The days at which lines of the bill begin or end, and the units at which they or changes do.
struct Steps {
    days: Vec<Date>,
    units: Vec<u32>,
}

impl Steps {
    fn new(book: &Book, changes: &Changes) -> Steps {
        let mut days = BTreeSet::new();
        let mut units: BTreeSet<u32> = changes.first_units().collect();
        for line in &book.lines {
            match line.from {
                Some(Effective::Date(date)) => drop(days.insert(date)),
                Some(Effective::Unit(unit)) => drop(units.insert(unit)),
                None => {}
            }
            // The last day or unit still holds: the step is after it.
            match line.to {
                Some(Effective::Date(date)) => drop(date.tomorrow().map(|next| days.insert(next))),
                Some(Effective::Unit(unit)) => drop(units.insert(unit.saturating_add(1))),
                None => {}
            }
        }
        Steps { days: days.into_iter().collect(), units: units.into_iter().collect() }
    }

    fn day(&self, day: Date) -> usize {
        self.days.partition_point(|step| *step <= day)
    }

    /// Parts numbered units where the bill changes: the number that stands for each part, its units, and its first unit.
    fn stretches(
        &self,
        first: Option<u32>,
        units: &Ratio,
    ) -> Vec<(Option<u32>, Ratio, Option<u32>)> {
        let Some(first) = first else { return vec![(None, units.clone(), None)] };
        let count = units.to_integer().and_then(|units| u32::try_from(units).ok()).unwrap_or(0);
        let end = first.saturating_add(count);
        let mut parts = Vec::new();
        let mut from = first;
        while from < end {
            let steps = self.units.partition_point(|step| *step <= from);
            let to = self.units.get(steps).copied().unwrap_or(end).min(end);
            // The step before stands for all units up to the next one.
            let sort = steps.checked_sub(1).map_or(0, |index| self.units[index]);
            parts.push((Some(sort), Ratio::from(i64::from(to - from)), Some(from)));
            from = to;
        }
        parts
    }
}
