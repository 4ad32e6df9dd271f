//! From the schedule to batches: so many units of one recipe, due on one day.
//!
//! All configurations of all plans for one state of the bill are evaluated together, so what they share is evaluated once,
//! however many orders, weeks and units there are: work does not depend on the number of units.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::collections::BTreeSet;

use indexmap::IndexSet;
use jiff::civil::Date;
use rayon::iter::{IntoParallelRefIterator, ParallelIterator};

use crate::diag::Diagnostic;
use crate::diag::Distinct;
use crate::diag::Problem;
use crate::explode;
use crate::explode::Configured;
use crate::explode::InstanceId;
use crate::explode::Needs;
use crate::model::Book;
use crate::model::Calendar;
use crate::model::Effective;
use crate::model::OptionId;
use crate::model::PlanId;
use crate::model::SwapRow;
use crate::model::Week;
use crate::orders::changes::Changes;
use crate::orders::likely::{self, Configuration, Mix};
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

/// Configurations of plans, evaluated together for one state of the bill.
#[derive(Clone, Debug)]
pub(super) struct Evaluation {
    /// Position of its book in [`Demand::books`].
    pub(super) book: usize,
    /// Everything evaluated.
    pub(super) needs: Needs,
}

/// What one unit of a batch is: a plan in one configuration, or in a mix of them whose weights add up to one.
#[derive(Clone, Debug)]
pub(super) struct Recipe {
    /// The plan.
    pub(super) plan: PlanId,
    /// Evaluated tops with their weights, by position in [`Demand::evaluations`].
    pub(super) parts: BTreeMap<usize, Vec<(InstanceId, Ratio)>>,
}

/// Units of one recipe, due on one day.
#[derive(Clone, Debug)]
pub(super) struct Batch {
    /// Position in [`Demand::recipes`].
    pub(super) recipe: usize,
    /// Where it comes from.
    pub(super) origin: Origin,
    /// The day the units are due.
    pub(super) day: Date,
    /// How many.
    pub(super) units: Ratio,
}

/// An option some units get, with those reckoned to cover the doubt.
#[derive(Clone, Debug)]
pub(super) struct Cover {
    /// The plan.
    pub(super) plan: PlanId,
    /// The option and its share.
    pub(super) doubt: likely::Doubt,
    /// One unit more with the option and one less without it: a recipe whose weights add up to zero.
    pub(super) recipe: usize,
    /// Units due per day, in order of days, whose options are not known.
    pub(super) units: BTreeMap<Date, u32>,
}

/// The schedule, evaluated.
pub(super) struct Demand<'a> {
    /// The book, then the book with the changes that hold for some builds.
    pub(super) books: Vec<Cow<'a, Book>>,
    /// Evaluated configurations, one for each state of the bill.
    pub(super) evaluations: Vec<Evaluation>,
    /// What units are made of.
    pub(super) recipes: Vec<Recipe>,
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

/// A state of the bill: what makes one evaluation differ from another.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct State {
    /// Number of dated changes of the bill that have happened.
    day: usize,
    /// The first unit of the stretch within which no change happens.
    unit: Option<u32>,
    /// Changes of material that hold.
    changes: Vec<usize>,
}

/// The plan, the options ordered, and the state of the bill for each configuration.
type RecipeKey = (PlanId, Option<Vec<OptionId>>, Vec<State>);

/// What is to be evaluated.
struct Tasks<'a> {
    book: &'a Book,
    changes: &'a Changes,
    steps: Steps,
    /// For each state its number, a day it holds on, and the configurations wanted.
    states: BTreeMap<State, (usize, Date, IndexSet<Configured>)>,
    recipes: Vec<Draft>,
    /// Positions of recipes.
    known: BTreeMap<RecipeKey, usize>,
}

/// A recipe whose configurations are not evaluated yet: state, position among its configurations, weight.
struct Draft {
    plan: PlanId,
    parts: Vec<(usize, usize, Ratio)>,
}

/// Numbered units between two changes: the number that stands for all of them, and the first.
type Stretch = (Option<u32>, Option<u32>);

impl Tasks<'_> {
    /// Returns the position of the recipe that units of a mix are made by; `key` tells mixes of one plan apart.
    fn recipe(
        &mut self,
        due: &Due,
        mix: &[(Configuration, Ratio)],
        key: Option<Vec<OptionId>>,
        (part, first): Stretch,
    ) -> usize {
        let state = |configuration: &Configuration| State {
            day: self.steps.day(due.day),
            unit: part,
            changes: self.changes.holding(self.book, due.plan, due.day, first, configuration),
        };
        let states = mix.iter().map(|(configuration, _)| state(configuration)).collect();
        let key: RecipeKey = (due.plan, key, states);
        if let Some(known) = self.known.get(&key) {
            return *known;
        }
        let mut parts = Vec::with_capacity(mix.len());
        for ((configuration, weight), state) in mix.iter().zip(&key.2) {
            let configured = Configured {
                plan: due.plan,
                chosen: configuration.chosen.clone(),
                without: configuration.without.clone(),
            };
            let (number, at) = self.want(state.clone(), due.day, configured);
            parts.push((number, at, weight.clone()));
        }
        self.recipes.push(Draft { plan: due.plan, parts });
        self.known.insert(key, self.recipes.len() - 1);
        self.recipes.len() - 1
    }

    /// Returns the position of what a state has of a configuration.
    fn want(&mut self, state: State, day: Date, configured: Configured) -> (usize, usize) {
        let next = self.states.len();
        let (number, _, wanted) =
            self.states.entry(state).or_insert_with(|| (next, day, IndexSet::new()));
        (*number, wanted.insert_full(configured).0)
    }
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
    let mut tasks = Tasks {
        book,
        changes,
        steps: Steps::new(book, changes),
        states: BTreeMap::new(),
        recipes: Vec::new(),
        known: BTreeMap::new(),
    };
    let plans: BTreeSet<PlanId> = dues.iter().map(|due| due.plan).collect();
    let mut meetings = likely::Meetings::default();
    let (depth, finding) = likely::depth(book, &plans, &mut meetings);
    warnings.extend(finding);
    let mut mixes: BTreeMap<(PlanId, Option<Vec<OptionId>>), Mix> = BTreeMap::new();
    let mut batches = Vec::new();
    let mut in_doubt: BTreeMap<PlanId, BTreeMap<Date, u32>> = BTreeMap::new();
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
        let mix = mixes.entry((due.plan, chosen.clone())).or_insert_with_key(|(plan, chosen)| {
            let (mix, findings) =
                likely::mix(book, *plan, chosen.as_deref(), (depth, &mut meetings));
            warnings.extend(findings);
            mix
        });
        for (part, units, unit) in tasks.steps.stretches(first_unit, &due.units) {
            let stretch = (part, unit);
            let recipe = tasks.recipe(due, &mix.configurations, chosen.clone(), stretch);
            batches.push(Batch { recipe, origin: due.origin, day: due.day, units });
        }
    }
    // A cover is a recipe of its own, by a key that no order can have.
    tasks.known.clear();
    let mut covers = Vec::new();
    if covers_doubt {
        for (plan, units) in in_doubt {
            let Some(first) = units.keys().next() else { continue };
            let due = Due { origin: Origin::Forecast(plan), plan, day: *first, units: Ratio::ONE };
            for doubt in mixes.get(&(plan, None)).map_or(&[][..], |mix| &mix.doubts) {
                let mix = [(doubt.with.clone(), Ratio::ONE), (doubt.without.clone(), -Ratio::ONE)];
                let key = Some(vec![doubt.option]);
                let recipe = tasks.recipe(&due, &mix, key, (None, None));
                covers.push(Cover { plan, doubt: doubt.clone(), recipe, units: units.clone() });
            }
        }
    }
    let (books, evaluations, first_parts) = evaluate(book, &tasks, warnings)?;
    let mut counts = vec![0; first_parts.len()];
    for (number, _, wanted) in tasks.states.values() {
        counts[*number] = wanted.len();
    }
    let recipes = tasks.recipes.into_iter().map(|draft| {
        let mut parts: BTreeMap<usize, Vec<(InstanceId, Ratio)>> = BTreeMap::new();
        for (number, at, weight) in draft.parts {
            let size = part_size(counts[number]);
            let evaluation = first_parts[number] + at / size;
            let root = evaluations[evaluation].needs.builds[at % size].root;
            parts.entry(evaluation).or_default().push((root, weight));
        }
        Recipe { plan: draft.plan, parts }
    });
    let recipes = recipes.collect();
    Ok(Demand { books, evaluations, recipes, batches, covers })
}

/// An evaluation with what was found on the way.
type Exploded = Result<(Evaluation, Vec<Diagnostic>), Vec<Diagnostic>>;

/// The book with its changed forms, evaluations, and which of them is the first of each state.
type Evaluated<'a> = (Vec<Cow<'a, Book>>, Vec<Evaluation>, Vec<usize>);

/// Explodes the configurations of each state of the bill, once each.
fn evaluate<'a>(
    book: &'a Book,
    tasks: &Tasks<'_>,
    warnings: &mut Distinct,
) -> Result<Evaluated<'a>, Vec<Diagnostic>> {
    let mut books = vec![Cow::Borrowed(book)];
    let mut variants: BTreeMap<&[usize], usize> = BTreeMap::from([(&[][..], 0)]);
    for state in tasks.states.keys() {
        if !variants.contains_key(state.changes.as_slice()) {
            variants.insert(&state.changes, books.len());
            let rows: Vec<&SwapRow> = state.changes.iter().map(|row| &book.swaps[*row]).collect();
            books.push(Cow::Owned(book.changed(&rows)));
        }
    }
    let mut states: Vec<_> = tasks.states.iter().collect();
    states.sort_by_key(|(_, (number, _, _))| *number);
    let mut parts: Vec<(&State, Date, Vec<Configured>)> = Vec::new();
    let mut first_parts = Vec::with_capacity(states.len());
    for (state, (_, day, wanted)) in states {
        first_parts.push(parts.len());
        let wanted: Vec<Configured> = wanted.iter().cloned().collect();
        let chunks = wanted.chunks(part_size(wanted.len()));
        parts.extend(chunks.map(|chunk| (state, *day, chunk.to_vec())));
    }
    let explode = |(state, day, wanted): &(&State, Date, Vec<Configured>)| {
        let at = variants[state.changes.as_slice()];
        let needs = explode::explode_configured(&books[at], wanted, Some(*day), state.unit)
            .map_err(|errors| with_swaps(book, &state.changes, errors))?;
        Ok((Evaluation { book: at, needs: needs.value }, needs.warnings))
    };
    let exploded: Vec<Exploded> = parts.par_iter().map(explode).collect();
    let mut errors = Distinct::default();
    let mut evaluations = Vec::with_capacity(exploded.len());
    for exploded in exploded {
        match exploded {
            Ok((evaluation, found)) => {
                warnings.extend(found);
                evaluations.push(evaluation);
            }
            Err(found) => errors.extend(found),
        }
    }
    if !errors.is_empty() {
        return Err(errors.into_vec());
    }
    Ok((books, evaluations, first_parts))
}

/// Names the swaps that made a cycle of the bill: its line alone would not tell.
fn with_swaps(book: &Book, changes: &[usize], errors: Vec<Diagnostic>) -> Vec<Diagnostic> {
    let mut swaps: Vec<String> = Vec::new();
    for row in changes.iter().map(|row| &book.swaps[*row]) {
        if !swaps.contains(&row.swap) {
            swaps.push(row.swap.clone());
        }
    }
    let named = |error: Diagnostic| match error.problem {
        Problem::Cycle { .. } if !swaps.is_empty() => {
            let fault = error.problem.to_string();
            Diagnostic { problem: Problem::WithSwaps { swaps: swaps.clone(), fault }, ..error }
        }
        _ => error,
    };
    errors.into_iter().map(named).collect()
}

/// Returns how many configurations of one state are evaluated together: all of them, or a quarter where there are many, so
/// that several cores share the work.
fn part_size(configurations: usize) -> usize {
    configurations.div_ceil(4).max(64)
}

/// The days at which lines of the bill begin or end, and the units at which they or changes do.
pub(crate) struct Steps {
    days: Vec<Date>,
    units: Vec<u32>,
}

impl Steps {
    pub(crate) fn new(book: &Book, changes: &Changes) -> Steps {
        let mut days = BTreeSet::new();
        let mut units: BTreeSet<u32> = changes.first_units().collect();
        for line in &book.lines {
            match line.further.from {
                Some(Effective::Date(date)) => drop(days.insert(date)),
                Some(Effective::Unit(unit)) => drop(units.insert(unit)),
                None => {}
            }
            // The last day or unit still holds: the step is after it.
            match line.further.to {
                Some(Effective::Date(date)) => drop(date.tomorrow().map(|next| days.insert(next))),
                Some(Effective::Unit(unit)) => drop(units.insert(unit.saturating_add(1))),
                None => {}
            }
        }
        Steps { days: days.into_iter().collect(), units: units.into_iter().collect() }
    }

    /// Returns how many steps have happened on a day.
    pub(crate) fn day(&self, day: Date) -> usize {
        self.days.partition_point(|step| *step <= day)
    }

    /// Parts numbered units where the bill changes: the number that stands for each part, its units, and its first unit.
    pub(crate) fn stretches(
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
