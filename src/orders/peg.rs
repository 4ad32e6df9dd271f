//! Why a line is ordered: the builds and bill lines that ask for it.

use std::collections::BTreeMap;

use jiff::civil::Date;

use crate::explode::InstanceId;
use crate::explode::Needs;
use crate::model::Book;
use crate::model::Component;
use crate::model::ItemId;
use crate::model::LineId;
use crate::orders::Orders;
use crate::orders::demand::{Origin, Recipe};
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
        let mut add = |source: PegSource, asked: &[Asked], day: Date, units: &Ratio| {
            for Asked { line, days, measure } in asked {
                let due = self.demand.books[0].calendar.before(day, *days).unwrap_or(day);
                let week = self.weeks.position(due);
                if from <= week && week < to {
                    *sums.entry((week, source, *line)).or_default() += &(measure * units);
                }
            }
        };
        let asked = |at: usize, tops: &[(InstanceId, Ratio)]| {
            let evaluation = &self.demand.evaluations[at];
            asked(&self.demand.books[evaluation.book], &evaluation.needs, tops, item)
        };
        let of_recipe = |recipe: &Recipe| -> Vec<Asked> {
            recipe.parts.iter().flat_map(|(at, tops)| asked(*at, tops)).collect()
        };
        let of_recipes: Vec<Vec<Asked>> = self.demand.recipes.iter().map(of_recipe).collect();
        for batch in &self.demand.batches {
            let source = PegSource::Build(batch.origin);
            add(source, &of_recipes[batch.recipe], batch.day, &batch.units);
        }
        let mut known: BTreeMap<(usize, InstanceId), Vec<Asked>> = BTreeMap::new();
        for (index, ahead) in self.ahead.iter().enumerate() {
            for (made, planned) in
                ahead.planned.iter().enumerate().filter(|(_, planned)| !planned.is_zero())
            {
                let monday = self.weeks.week(made).monday();
                let Some(due) = self.demand.books[0].calendar.after(monday, 0) else { continue };
                for (pointer, units) in ahead.made_for(made, planned) {
                    let top = (pointer.evaluation, pointer.instance);
                    let asked =
                        known.entry(top).or_insert_with(|| asked(top.0, &[(top.1, Ratio::ONE)]));
                    add(PegSource::Ahead(index), asked, due, &units);
                }
            }
        }
        sums.into_iter()
            .filter(|(_, measure)| !measure.is_zero())
            .map(|((week, source, line), measure)| Peg { source, line, week, measure })
            .collect()
    }
}

/// What one of an evaluated parent asks of an item through one bill line.
struct Asked {
    line: LineId,
    /// Working days before the parent is due.
    days: u32,
    /// How much, in base units of the item's form.
    measure: Ratio,
}

fn asked(book: &Book, needs: &Needs, tops: &[(InstanceId, Ratio)], item: ItemId) -> Vec<Asked> {
    let mut sums: BTreeMap<(LineId, u32), Ratio> = BTreeMap::new();
    each_line(book, needs, tops, &mut |source, days, times| {
        let line = needs.taken(source).line;
        if book.line(line).component == Component::Item(item) {
            each_need(book, item, needs, source, times, &mut |what, required| {
                *sums.entry((line, days)).or_default() += &(what.measure(book, item) * required);
            });
        }
    });
    let asked = |((line, days), measure)| Asked { line, days, measure };
    sums.into_iter().map(asked).collect()
}
