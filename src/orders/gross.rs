//! Gross requirements per week: batches go down the levels, stocked assemblies are netted on the way.
//!
//! Assemblies that are stocked are taken in the order of their low-level codes (the deepest level at which they stand
//! anywhere), so each is netted once, after all its parents, and only what has to be built asks for components.

use std::collections::BTreeMap;

use indexmap::IndexMap;
use indexmap::map::Entry;
use jiff::civil::Date;
use rayon::iter::{IntoParallelRefIterator, ParallelIterator};

use crate::diag::Diagnostic;
use crate::diag::Distinct;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::explode::InstanceId;
use crate::explode::What;
use crate::formula::Value;
use crate::model::AssemblyId;
use crate::model::Book;
use crate::model::ItemId;
use crate::model::Parent;
use crate::model::PlanId;
use crate::model::StockKind;
use crate::model::Stocked;
use crate::orders::demand::{Cover, Demand, Origin, Recipe, Weeks};
use crate::orders::phase::{Phased, phased};
use crate::orders::planned::{OpenOrder, is_promised};
use crate::orders::record::{Move, Open, Record, Rule, Situation, record};
use crate::quantity::Ratio;
use crate::quantity::binomial_quantile;

/// Parts in which needs are spread over the weeks.
const PARTS: usize = 4;

/// What is required of one piece, size or amount of an item, week by week, without rounding.
#[derive(Clone, Debug)]
pub(super) struct Series {
    /// The item.
    pub(super) item: ItemId,
    /// What of it.
    pub(super) what: What,
    /// The plan that asks, for items that are cut; nothing for others and for assemblies built ahead.
    pub(super) plan: Option<PlanId>,
    /// For the schedule.
    pub(super) firm: Vec<Ratio>,
    /// Against doubt about options; empty for none.
    pub(super) margin: Vec<Ratio>,
    /// For the forecast; empty for none.
    pub(super) forecast: Vec<Ratio>,
}

impl Series {
    /// Returns everything required in a week.
    pub(super) fn total(&self, week: usize) -> Ratio {
        let part = |part: &[Ratio]| part.get(week).cloned().unwrap_or_default();
        part(&self.firm) + part(&self.margin) + part(&self.forecast)
    }

    /// Adds what another of the same need requires.
    fn add(&mut self, other: Series) {
        let pairs = [
            (&mut self.firm, other.firm),
            (&mut self.margin, other.margin),
            (&mut self.forecast, other.forecast),
        ];
        for (own, other) in pairs {
            if own.is_empty() {
                *own = other;
                continue;
            }
            for (own, other) in own.iter_mut().zip(other) {
                *own += &other;
            }
        }
    }

    /// Returns what the forecast requires in a week.
    pub(super) fn forecast(&self, week: usize) -> Ratio {
        self.forecast.get(week).cloned().unwrap_or_default()
    }
}

/// An assembly built ahead, with the values it is built for.
#[derive(Clone, Debug)]
pub struct Ahead {
    /// The assembly.
    pub assembly: AssemblyId,
    /// The values it was evaluated for, by name.
    pub values: Vec<(String, Value)>,
    /// On hand at the beginning.
    pub on_hand: Ratio,
    /// Needed per week, whole.
    pub gross: Vec<Ratio>,
    /// To be finished per week.
    pub planned: Vec<Ratio>,
    /// There at the end of each week.
    pub balance: Vec<Ratio>,
    /// Those ordered already, in the order of the book's stock.
    pub open: Vec<OpenOrder>,
    /// The schedule rows and forecasts behind it.
    pub(super) pointers: Vec<Pointer>,
}

/// One demand for an assembly that is built ahead.
#[derive(Clone, Debug)]
pub(super) struct Pointer {
    pub(super) week: usize,
    /// The recipe that asked for it at the top.
    pub(super) recipe: usize,
    pub(super) evaluation: usize,
    pub(super) instance: InstanceId,
    pub(super) units: Ratio,
    kind: Kind,
}

/// Why something is required.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Kind {
    Firm,
    Margin,
    Forecast,
}

/// What is required in all.
pub(super) struct Gross {
    /// By item, then by what, then by plan.
    pub(super) series: Vec<Series>,
    /// Assemblies built ahead.
    pub(super) ahead: Vec<Ahead>,
    /// What one unit of each recipe takes, per evaluation.
    pub(super) of_recipes: Vec<Vec<(usize, Phased)>>,
    /// What one of each assembly built ahead takes, by evaluation and instance.
    pub(super) of_assemblies: BTreeMap<(usize, InstanceId), Phased>,
}

/// A recipe, and why it is built.
type Sort = (usize, Kind);

type AheadKey = (u32, AssemblyId, String);

struct Context<'a> {
    book: &'a Book,
    demand: &'a Demand<'a>,
    weeks: Weeks,
    levels: &'a [u32],
    series: IndexMap<(ItemId, What, Option<PlanId>), Series>,
    waiting: BTreeMap<AheadKey, Vec<Pointer>>,
    /// Week of a number of working days before a day.
    known_weeks: BTreeMap<(Date, u32), usize>,
}

/// What something is spread for.
#[derive(Clone, Copy)]
struct Top {
    recipe: usize,
    evaluation: usize,
    plan: Option<PlanId>,
}

/// Returns what is required of every item, and which assemblies are to be built ahead.
pub(super) fn gross(
    book: &Book,
    demand: &Demand<'_>,
    weeks: Weeks,
    level: Option<&Ratio>,
    warnings: &mut Distinct,
) -> Gross {
    let levels = levels(book, demand);
    let blank = || Context {
        book,
        demand,
        weeks,
        levels: &levels,
        series: IndexMap::new(),
        waiting: BTreeMap::new(),
        known_weeks: BTreeMap::new(),
    };
    let phased: Vec<Vec<(usize, Phased)>> =
        demand.recipes.par_iter().map(|recipe| demand.phased(recipe)).collect();
    let mut units: BTreeMap<Sort, BTreeMap<Date, Ratio>> = BTreeMap::new();
    for batch in &demand.batches {
        let kind = match batch.origin {
            Origin::Scheduled(_) => Kind::Firm,
            Origin::Forecast(_) => Kind::Forecast,
        };
        let days = units.entry((batch.recipe, kind)).or_default();
        *days.entry(batch.day).or_default() += &batch.units;
    }
    // A fixed number of parts, so that their sums do not depend on the machine.
    let units: Vec<_> = units.into_iter().collect();
    let parts: Vec<_> = units.chunks(units.len().div_ceil(PARTS).max(1)).collect();
    let spread = |part: &&[(Sort, BTreeMap<Date, Ratio>)]| {
        let mut context = blank();
        for ((recipe, kind), days) in *part {
            for (evaluation, phased) in &phased[*recipe] {
                let (recipe, evaluation) = (*recipe, *evaluation);
                let top = Top { recipe, evaluation, plan: Some(demand.recipes[recipe].plan) };
                context.spread(phased, top, days, *kind);
            }
        }
        context
    };
    let spread: Vec<Context<'_>> = parts.par_iter().map(spread).collect();
    let mut context = blank();
    for part in spread {
        context.take_in(part);
    }
    if let Some(level) = level {
        for cover in &demand.covers {
            context.cover(cover, &phased[cover.recipe], level);
        }
    }
    let (ahead, of_assemblies) = context.build_ahead(warnings);
    let mut series: Vec<Series> = context.series.into_values().collect();
    series.sort_by_key(|series| (series.item, series.what, series.plan));
    Gross { series, ahead, of_recipes: phased, of_assemblies }
}

impl Context<'_> {
    /// Adds what another has summed.
    fn take_in(&mut self, other: Context<'_>) {
        for (key, series) in other.series {
            match self.series.entry(key) {
                Entry::Vacant(place) => drop(place.insert(series)),
                Entry::Occupied(mut known) => known.get_mut().add(series),
            }
        }
        for (key, pointers) in other.waiting {
            self.waiting.entry(key).or_default().extend(pointers);
        }
    }

    fn week(&mut self, day: Date, days: u32) -> usize {
        let (calendar, weeks) = (&self.book.calendar, self.weeks);
        *self
            .known_weeks
            .entry((day, days))
            .or_insert_with(|| weeks.position(calendar.before(day, days).unwrap_or(day)))
    }

    /// Adds what units of something take that are due on some days.
    fn spread(&mut self, phased: &Phased, top: Top, units: &BTreeMap<Date, Ratio>, kind: Kind) {
        let mut by_week: BTreeMap<u32, BTreeMap<usize, Ratio>> = BTreeMap::new();
        let needed = phased.needs.iter().map(|(_, _, days, _)| *days);
        for days in needed.chain(phased.stocked.iter().map(|(_, days, _)| *days)) {
            if by_week.contains_key(&days) {
                continue;
            }
            let mut weeks: BTreeMap<usize, Ratio> = BTreeMap::new();
            for (day, units) in units {
                *weeks.entry(self.week(*day, days)).or_default() += units;
            }
            by_week.insert(days, weeks);
        }
        for (item, what, days, required) in &phased.needs {
            let part = self.part((*item, *what), top.plan, kind);
            for (week, units) in &by_week[days] {
                part[*week] += &(units * required);
            }
        }
        for (instance, days, count) in &phased.stocked {
            for (week, units) in &by_week[days] {
                let Top { recipe, evaluation, .. } = top;
                let (week, units, instance) = (*week, units * count, *instance);
                self.wait(Pointer { week, recipe, evaluation, instance, units, kind });
            }
        }
    }

    /// Returns the amounts per week of one kind of one need.
    fn part(
        &mut self,
        (item, what): (ItemId, What),
        plan: Option<PlanId>,
        kind: Kind,
    ) -> &mut Vec<Ratio> {
        let count = self.weeks.count;
        let plan = plan.filter(|_| self.book.item(item).is_nested());
        let series = self.series.entry((item, what, plan)).or_insert_with(|| Series {
            item,
            what,
            plan,
            firm: vec![Ratio::ZERO; count],
            margin: Vec::new(),
            forecast: Vec::new(),
        });
        let part = match kind {
            Kind::Firm => &mut series.firm,
            Kind::Margin => &mut series.margin,
            Kind::Forecast => &mut series.forecast,
        };
        if part.is_empty() {
            part.resize(count, Ratio::ZERO);
        }
        part
    }

    fn wait(&mut self, pointer: Pointer) {
        let instance =
            &self.demand.evaluations[pointer.evaluation].needs.instances[pointer.instance.index()];
        let Parent::Assembly(assembly) = instance.parent else { return };
        let key = (self.levels[assembly.index()], assembly, format!("{:?}", instance.values));
        self.waiting.entry(key).or_default().push(pointer);
    }

    /// Adds what covers the doubt about one option of one plan: of what a unit with it takes more than one without.
    /// Assemblies kept in stock have a safety stock of their own against such doubt.
    fn cover(&mut self, cover: &Cover, delta: &[(usize, Phased)], level: &Ratio) {
        for (day, step) in steps(cover, level) {
            for (item, what, days, required) in delta.iter().flat_map(|(_, phased)| &phased.needs) {
                if *required > Ratio::ZERO {
                    let week = self.week(day, *days);
                    let part = self.part((*item, *what), Some(cover.plan), Kind::Margin);
                    part[week] += &(&step * required);
                }
            }
        }
    }

    /// Nets the assemblies that are built ahead, level by level.
    fn build_ahead(
        &mut self,
        warnings: &mut Distinct,
    ) -> (Vec<Ahead>, BTreeMap<(usize, InstanceId), Phased>) {
        let mut all = Vec::new();
        let mut known: BTreeMap<(usize, InstanceId), Phased> = BTreeMap::new();
        while let Some(key) = self.waiting.keys().next().cloned() {
            let variants = self.waiting.keys().filter(|other| other.1 == key.1).count()
                + all.iter().filter(|done: &&Ahead| done.assembly == key.1).count();
            let pointers = self.waiting.remove(&key).unwrap_or_default();
            let ahead = self.net(key.1, pointers, variants, warnings);
            for (week, planned) in ahead.planned.iter().enumerate() {
                if planned.is_zero() {
                    continue;
                }
                let Some(day) = self.book.calendar.after(self.weeks.week(week).monday(), 0) else {
                    continue;
                };
                for (pointer, units) in ahead.made_for(week, planned) {
                    let (evaluation, instance) = (pointer.evaluation, pointer.instance);
                    let part = known.entry((evaluation, instance)).or_insert_with(|| {
                        let evaluation = &self.demand.evaluations[evaluation];
                        let book = &self.demand.books[evaluation.book];
                        phased(book, &evaluation.needs, &[(instance, Ratio::ONE)])
                    });
                    let part = part.clone();
                    let top = Top { recipe: pointer.recipe, evaluation, plan: None };
                    self.spread(&part, top, &BTreeMap::from([(day, units)]), pointer.kind);
                }
            }
            all.push(ahead);
        }
        (all, known)
    }

    fn net(
        &self,
        assembly: AssemblyId,
        pointers: Vec<Pointer>,
        variants: usize,
        warnings: &mut Distinct,
    ) -> Ahead {
        let first = &pointers[0];
        let needs = &self.demand.evaluations[first.evaluation].needs;
        let values = needs.instances[first.instance.index()].values.clone();
        let mut exact = vec![Ratio::ZERO; self.weeks.count];
        for pointer in &pointers {
            exact[pointer.week] += &pointer.units;
        }
        let gross = whole_steps(&exact);
        let (on_hand, rows) = self.stock(assembly, &values, variants, warnings);
        let open: Vec<Open> = rows.iter().map(|(_, open)| open.clone()).collect();
        let safety = vec![
            self.book.assemblies[assembly.index()].terms.safety_stock.clone();
            self.weeks.count
        ];
        let situation = Situation {
            on_hand: on_hand.clone(),
            gross: &gross,
            open: &open,
            safety: &safety,
            rule: Rule::LotForLot,
        };
        let Record { planned, balance, moves, .. } =
            record(&situation, &mut |wanted| wanted.quantity.ceil());
        let moved =
            |((row, open), change): ((usize, Open), Move)| OpenOrder { row, due: open.due, change };
        let open = rows.into_iter().zip(moves).map(moved).collect();
        Ahead { assembly, values, on_hand, gross, planned, balance, open, pointers }
    }

    /// Returns how many of an assembly are there, and those on order with their positions in the book's stock.
    fn stock(
        &self,
        assembly: AssemblyId,
        values: &[(String, Value)],
        variants: usize,
        warnings: &mut Distinct,
    ) -> (Ratio, Vec<(usize, Open)>) {
        let mut on_hand = Ratio::ZERO;
        let mut open = Vec::new();
        let side = |name: &str| {
            let value = values.iter().find(|(known, _)| known == name);
            match value {
                Some((_, Value::Measure(measure))) => measure.to_length(),
                _ => None,
            }
        };
        for (index, row) in self.book.stock.iter().enumerate() {
            let Stocked::Assembly(id, length, width) = row.what else { continue };
            if id != assembly {
                continue;
            }
            if length.is_none() && width.is_none() && variants > 1 {
                let problem = Problem::StockUnclear {
                    assembly: self.book.assemblies[assembly.index()].name.clone(),
                    variants,
                };
                let place = self.book.place(row.row, Some("item"));
                let hint =
                    "give the `length`, and the `width` if it matters, of the one that is there";
                warnings.insert(Diagnostic::new(Severity::Warning, place, problem).with_hint(hint));
                continue;
            }
            let fits = length.is_none_or(|length| side("length") == Some(length))
                && width.is_none_or(|width| side("width") == Some(width));
            if !fits {
                continue;
            }
            match row.kind {
                StockKind::OnHand => on_hand += &row.quantity,
                StockKind::Allocated if is_promised(self.book, self.weeks, row) => {
                    on_hand = &on_hand - &row.quantity;
                }
                StockKind::Allocated => {}
                StockKind::OnOrder => {
                    let due = row.due.map_or(0, |due| self.weeks.due(due));
                    open.push((index, Open { due, quantity: row.quantity.clone() }));
                }
            }
        }
        (on_hand.max(Ratio::ZERO), open)
    }
}

impl Ahead {
    /// Returns the demands that what is finished in a week is made for: those of the week, else of the next one that has
    /// any, else of the last.
    pub(super) fn made_for(&self, week: usize, planned: &Ratio) -> Vec<(&Pointer, Ratio)> {
        let later = self.pointers.iter().map(|pointer| pointer.week).filter(|at| *at >= week).min();
        let at = later
            .or_else(|| self.pointers.iter().map(|pointer| pointer.week).max())
            .unwrap_or(week);
        let of_week = || self.pointers.iter().filter(|pointer| pointer.week == at);
        let sum: Ratio = of_week().map(|pointer| pointer.units.clone()).sum();
        if sum.is_zero() {
            return of_week()
                .next()
                .map(|pointer| (pointer, planned.clone()))
                .into_iter()
                .collect();
        }
        let part =
            |pointer: &Pointer| (planned * &pointer.units).checked_div(&sum).unwrap_or_default();
        of_week().map(|pointer| (pointer, part(pointer))).collect()
    }
}

impl Demand<'_> {
    /// Returns what one unit of a recipe takes, per evaluation.
    fn phased(&self, recipe: &Recipe) -> Vec<(usize, Phased)> {
        let part = |(at, tops): (&usize, &Vec<(InstanceId, Ratio)>)| {
            let evaluation = &self.evaluations[*at];
            (*at, phased(&self.books[evaluation.book], &evaluation.needs, tops))
        };
        recipe.parts.iter().map(part).collect()
    }
}

/// Returns the units by which the margin of an option grows, with the days: what is covered once stays covered.
pub(super) fn steps(cover: &Cover, level: &Ratio) -> Vec<(Date, Ratio)> {
    let mut units = 0_u32;
    let mut covered = Ratio::ZERO;
    let mut steps = Vec::new();
    for (day, count) in &cover.units {
        units = units.saturating_add(*count);
        let margin = margin(units, &cover.doubt.rate, level);
        if margin > covered {
            steps.push((*day, &margin - &covered));
            covered = margin;
        }
    }
    steps
}

/// Returns the least units above the expected ones that cover takers with the chance asked for.
fn margin(units: u32, rate: &Ratio, level: &Ratio) -> Ratio {
    let expected = Ratio::from(i64::from(units)) * rate;
    let covered = Ratio::from(i64::from(binomial_quantile(units, rate, level)));
    (covered - expected).max(Ratio::ZERO)
}

/// Rounds amounts up to whole ones so that every sum up to a week is the exact sum, rounded up.
pub(super) fn whole_steps(exact: &[Ratio]) -> Vec<Ratio> {
    let mut sum = Ratio::ZERO;
    let mut taken = Ratio::ZERO;
    exact
        .iter()
        .map(|amount| {
            sum += amount;
            let step = (sum.ceil() - &taken).max(Ratio::ZERO);
            taken += &step;
            step
        })
        .collect()
}

/// Returns the low-level code of every assembly: the deepest level at which it stands in any evaluated plan.
fn levels(book: &Book, demand: &Demand<'_>) -> Vec<u32> {
    let mut levels = vec![0_u32; book.assemblies.len()];
    // Only assemblies that are kept in stock are netted in the order of their levels.
    let mut is_moving = book.assemblies.iter().any(|assembly| assembly.terms.is_stocked);
    while is_moving {
        is_moving = false;
        for evaluation in &demand.evaluations {
            for instance in evaluation.needs.instances.iter().rev() {
                let own = match instance.parent {
                    Parent::Assembly(assembly) => levels[assembly.index()],
                    Parent::Plan(_) | Parent::Option(_) => 0,
                };
                for taken in &instance.lines {
                    let crate::explode::Take::Assembly(child) = taken.take else { continue };
                    let Parent::Assembly(child) = evaluation.needs.instances[child.index()].parent
                    else {
                        continue;
                    };
                    if levels[child.index()] <= own {
                        levels[child.index()] = own + 1;
                        is_moving = true;
                    }
                }
            }
        }
    }
    levels
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_sum_up_to_a_week_is_the_exact_one_rounded_up() {
        let thirds = [1, 1, 1, -2, 5, 0].map(|third| Ratio::new(third, 3).unwrap());
        let steps: Vec<Option<i128>> = whole_steps(&thirds).iter().map(Ratio::to_integer).collect();
        // 1/3, 2/3, 1, 1/3, 2 and 2 in all: what is taken is never given back.
        assert_eq!(steps, [1, 0, 0, 0, 1, 0].map(Some));
    }
}
