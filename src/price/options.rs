use std::collections::BTreeSet;

use crate::diag::Checked;
use crate::diag::Diagnostic;
use crate::diag::Distinct;
use crate::diag::Severity;
use crate::explode;
use crate::explode::Needs;
use crate::model::Book;
use crate::model::OptionId;
use crate::price::quote::{Quote, Target, quote};
use crate::price::sheet::learned;
use crate::price::{Options, PriceSheet, Rule};
use crate::quantity::Ratio;
use crate::rollup;
use crate::rollup::{BuildCost, Known, Rollup};
use crate::watch::Watch;

/// What an option adds to a plan.
#[derive(Clone, Debug)]
pub struct OptionPrice {
    /// Position in the builds of the needs.
    pub build: usize,
    /// The option.
    pub option: OptionId,
    /// Whether the build has it already: then it is priced against the build without it.
    pub is_taken: bool,
    /// Options that come with it.
    pub brings: Vec<OptionId>,
    /// Options that it takes the place of.
    pub replaces: Vec<OptionId>,
    /// Cost of the lot with it less that without it, times ten to the power of the cost digits.
    pub lot_cost: i128,
    /// Cost of one unit, in the currency's smallest unit.
    pub cost: i128,
    /// Weight of one unit in the book's weight unit, times ten to the power of [`WEIGHT_DIGITS`](crate::rollup::WEIGHT_DIGITS), rounded.
    pub weight: i128,
    /// Its price at the plan's margin or markup, where that is known.
    pub quote: Option<Quote>,
}

/// Prices options: each plan is exploded and nested with and without each, and the difference is taken.
///
/// Without names, every option is asked about that a plan can have. One that cannot be taken beside the plan's own, or
/// that nothing is left of the choice without, is left out: the findings say why.
///
/// # Errors
/// Those of [`rollup`](rollup::rollup()).
pub fn option_prices(
    book: &Book,
    needs: &Needs,
    rollup: &Rollup,
    sheet: &PriceSheet,
    asked: &Asked<'_>,
    watch: &dyn Watch,
) -> Result<Checked<Vec<OptionPrice>>, Vec<Diagnostic>> {
    let context = Context { book, needs, rollup, asked, watch };
    let mut prices = Vec::new();
    let mut warnings = Distinct::default();
    let all: Vec<OptionId> = (0_u32..).map(OptionId).take(book.options.len()).collect();
    let wanted = if asked.named.is_empty() { &all[..] } else { asked.named };
    let total = rollup.builds.len() * wanted.len();
    for (position, cost) in rollup.builds.iter().enumerate() {
        let plan = needs.builds[cost.build].plan;
        for (index, option) in wanted.iter().enumerate() {
            watch.progress("pricing options", position * wanted.len() + index, total);
            if book.options[option.index()].plan.is_some_and(|only| only != plan) {
                continue;
            }
            let found = context.one(cost, *option, &mut warnings)?;
            if let Some(found) = found {
                let quoted = sheet.plans.get(position).and_then(|plan| plan.quotes.first());
                prices.push(OptionPrice { quote: priced(book, found.cost, quoted), ..found });
            }
        }
    }
    Ok(Checked { value: prices, warnings: warnings.into_vec() })
}

/// What is asked about options.
#[derive(Clone, Copy, Debug)]
pub struct Asked<'a> {
    /// The options; empty for all.
    pub named: &'a [OptionId],
    /// What the needs were exploded with.
    pub explode: &'a explode::Options,
    /// What the roll-up was made with.
    pub cutting: rollup::Options,
    /// How to price.
    pub options: &'a Options,
}

/// Returns the price of an option by the rule of its plan's price.
fn priced(book: &Book, cost: i128, of_plan: Option<&Quote>) -> Option<Quote> {
    let target = match of_plan? {
        Quote { target: Target::Markup(share), .. } => Target::Markup(share.clone()),
        Quote { target: Target::Margin(share), .. } => Target::Margin(share.clone()),
        Quote { target: Target::At(_), margin, .. } => Target::Margin(margin.clone()?),
    };
    Some(quote(Rule::of(book), cost, target, book.settings.option_price_ending.as_ref()))
}

/// What every option is asked of.
struct Context<'a> {
    book: &'a Book,
    needs: &'a Needs,
    rollup: &'a Rollup,
    asked: &'a Asked<'a>,
    watch: &'a dyn Watch,
}

impl Context<'_> {
    /// Returns what one option adds to one build, without a price; nothing where that cannot be asked.
    fn one(
        &self,
        cost: &BuildCost,
        option: OptionId,
        findings: &mut Distinct,
    ) -> Result<Option<OptionPrice>, Vec<Diagnostic>> {
        let Context { book, needs, rollup, asked, watch } = *self;
        let build = &needs.builds[cost.build];
        let is_taken = build.options.contains(&option);
        let mut other = asked.explode.clone();
        other.plans = vec![build.plan];
        if is_taken {
            // What a choice would be without its option is another one of it, and priced as that.
            if book.options[option.index()].choice.is_some() {
                return Ok(None);
            }
            other.chosen.retain(|chosen| *chosen != option);
            other.without.push(option);
        } else {
            other.without.retain(|left_out| *left_out != option);
            other.chosen.push(option);
        }
        let exploded = match explode::explode(book, &other) {
            Ok(exploded) => exploded,
            Err(errors) => {
                let severity = Severity::Warning;
                findings.extend(errors.into_iter().map(|error| Diagnostic { severity, ..error }));
                return Ok(None);
            }
        };
        findings.extend(exploded.warnings);
        let exploded = exploded.value;
        let changed = BTreeSet::new();
        let known = Known { book, needs, rollup, changed: &changed };
        let rolled = rollup::rollup_again(book, &exploded, known, asked.cutting, watch)?;
        findings.extend(rolled.warnings);
        let other_cost = rolled.value.builds.first().expect("one plan is exploded");
        let other_options = &exploded.builds[0].options;
        if other_options.contains(&option) == is_taken {
            return Ok(None);
        }
        let total = |needs: &Needs, cost: &BuildCost| -> Result<i128, Vec<Diagnostic>> {
            let after =
                learned(book, needs, rollup, cost, asked.options).map_err(|error| vec![error])?;
            Ok(after.map_or_else(|| cost.cost(), |(_, after)| after.cost()))
        };
        let (own, other) = (total(needs, cost)?, total(&exploded, other_cost)?);
        let sign = if is_taken { -1 } else { 1 };
        let lot_cost = sign * (other - own);
        let per_unit =
            |amount: i128| Ratio::new(amount, i128::from(rollup.lot)).expect("a lot has units");
        let unit_cost =
            per_unit(lot_cost) * Ratio::ten_to(-i32::try_from(rollup.cost_digits).unwrap_or(0));
        let weight = per_unit(sign * (other_cost.weight() - cost.weight()));
        let without = |list: &[OptionId], others: &[OptionId]| -> Vec<OptionId> {
            let left = list.iter().filter(|known| **known != option && !others.contains(known));
            left.copied().collect()
        };
        let (with, base) = if is_taken {
            (&build.options, other_options)
        } else {
            (other_options, &build.options)
        };
        Ok(Some(OptionPrice {
            build: cost.build,
            option,
            is_taken,
            brings: without(with, base),
            replaces: without(base, with),
            lot_cost,
            cost: Rule::of(book).minor(&unit_cost),
            weight: weight
                .scaled(0, book.settings.rounding)
                .to_integer()
                .expect("a unit's share of an i128 is one"),
            quote: None,
        }))
    }
}
