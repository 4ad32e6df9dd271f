use crate::diag::Diagnostic;
use crate::diag::Distinct;
use crate::diag::Severity;
use crate::explode;
use crate::explode::{Load, Needs, choose};
use crate::loads::BuildLoads;
use crate::loads::ratings;
use crate::loads::support::{Moments, Support};
use crate::model::Book;
use crate::model::OptionId;
use crate::quantity::Ratio;

/// What an option adds to a build, in pounds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OptionLoad {
    /// The option.
    pub option: OptionId,
    /// Whether the build has it: then it is weighed against the build without it.
    pub is_taken: bool,
    /// Options that come with it and that the build lacks.
    pub brings: Vec<OptionId>,
    /// Weight of the build with it less that without, what it brings included and what it replaces taken off.
    pub weight: Ratio,
    /// Of it, the option's own: without that of the options it brings.
    pub own_weight: Ratio,
    /// What it adds to the hitch load, unloaded, where that is known.
    pub hitch: Option<Ratio>,
    /// What it adds to the load on the axles, unloaded, where that is known.
    pub axle: Option<Ratio>,
    /// Share of units that get it, from 0 to 1.
    pub take_rate: Option<Ratio>,
}

/// What options weigh.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OptionLoads {
    /// Options that can be taken beside those of the build or left out of it, in the book's order.
    pub lines: Vec<OptionLoad>,
    /// Unloaded weight of the average unit at the take rates, options taken one by one: what options weigh only together is
    /// left out.
    pub at_take_rates: Ratio,
    /// Options of the lines without a take rate: not in that average.
    pub without_rate: Vec<OptionId>,
    /// Options of the heaviest build found: from the heaviest option down, each that can be taken beside the earlier ones
    /// and adds weight.
    pub fullest: Vec<OptionId>,
    /// Its unloaded weight.
    pub fullest_weight: Ratio,
    /// How it hangs, unloaded.
    pub fullest_support: Option<Support>,
}

/// Weighs the options of a build.
pub(super) fn options(
    book: &Book,
    needs: &Needs,
    base: &BuildLoads,
    asked: &explode::Options,
    findings: &mut Distinct,
) -> OptionLoads {
    let build = &needs.builds[base.build];
    let context = Context { book, base, asked: one_plan(asked, needs, base) };
    let mut lines = Vec::new();
    for (index, option) in (0_u32..).zip(&book.options) {
        let id = OptionId(index);
        let is_of_plan = option.is_for(build.plan);
        let is_taken = build.options.contains(&id);
        // What a choice would be without its option is another one of it, and weighed as that.
        if !is_of_plan || (is_taken && option.choice.is_some()) {
            continue;
        }
        lines.extend(context.one(id, is_taken, &build.options, findings));
    }
    own_weights(&mut lines);
    let mut at_take_rates = base.weight.clone();
    let mut without_rate = Vec::new();
    for line in &lines {
        match &line.take_rate {
            Some(rate) if line.is_taken => {
                at_take_rates = at_take_rates - &line.own_weight * &(&Ratio::ONE - rate);
            }
            Some(rate) => at_take_rates += &(&line.own_weight * rate),
            None => without_rate.push(line.option),
        }
    }
    let (fullest, load) = context.fullest(&lines, &build.options, findings);
    let load = load.unwrap_or_else(|| needs.instances[build.root.index()].load.clone());
    let fullest_support = Moments::of(&load, &base.geometry).support(&base.geometry);
    let fullest_weight = load.weight;
    ratings::check_fullest(book, build.plan, base, &fullest_weight, findings);
    OptionLoads { lines, at_take_rates, without_rate, fullest, fullest_weight, fullest_support }
}

fn one_plan(asked: &explode::Options, needs: &Needs, base: &BuildLoads) -> explode::Options {
    let plans = vec![needs.builds[base.build].plan];
    explode::Options { plans, on: asked.on.or(needs.on), ..asked.clone() }
}

/// Takes off each option's weight that of the options it brings.
fn own_weights(lines: &mut [OptionLoad]) {
    let mut order: Vec<usize> = (0..lines.len()).collect();
    order.sort_by_key(|index| lines[*index].brings.len());
    for index in order {
        let brought: Ratio = lines[index]
            .brings
            .iter()
            .filter_map(|option| lines.iter().find(|line| line.option == *option))
            .map(|line| line.own_weight.clone())
            .sum();
        lines[index].own_weight = &lines[index].weight - &brought;
    }
}

struct Context<'a> {
    book: &'a Book,
    base: &'a BuildLoads,
    /// The plan with what it was asked for in.
    asked: explode::Options,
}

impl Context<'_> {
    /// Weighs one option; nothing where it cannot be taken or left out: the findings say why.
    fn one(
        &self,
        option: OptionId,
        is_taken: bool,
        taken: &[OptionId],
        findings: &mut Distinct,
    ) -> Option<OptionLoad> {
        let mut other = self.asked.clone();
        if is_taken {
            other.chosen.retain(|chosen| *chosen != option);
            other.without.push(option);
        } else {
            other.without.retain(|left_out| *left_out != option);
            other.chosen.push(option);
        }
        let (options, load) = self.exploded(&other, findings)?;
        if options.contains(&option) == is_taken {
            return None;
        }
        let sign = Ratio::whole(if is_taken { -1 } else { 1 });
        let weight = &sign * &(&load.weight - &self.base.weight);
        let geometry = &self.base.geometry;
        let old = self.base.conditions.first().and_then(|dry| dry.support.as_ref());
        let new = Moments::of(&load, geometry).support(geometry);
        let both = old.zip(new.as_ref());
        let brings = options.iter().filter(|other| {
            let came = !taken.contains(other) && **other != option;
            !is_taken && came
        });
        Some(OptionLoad {
            option,
            is_taken,
            brings: brings.copied().collect(),
            own_weight: weight.clone(),
            weight,
            hitch: both.map(|(old, new)| &sign * &(&new.hitch - &old.hitch)),
            axle: both.map(|(old, new)| &sign * &(&new.axle - &old.axle)),
            take_rate: self.book.options[option.index()].take_rate.clone(),
        })
    }

    /// Takes options from the heaviest down as long as they go together.
    fn fullest(
        &self,
        lines: &[OptionLoad],
        taken: &[OptionId],
        findings: &mut Distinct,
    ) -> (Vec<OptionId>, Option<Load>) {
        let mut heavy: Vec<&OptionLoad> =
            lines.iter().filter(|line| !line.is_taken && line.weight > Ratio::ZERO).collect();
        heavy.sort_by(|a, b| b.weight.cmp(&a.weight));
        let mut best: (Vec<OptionId>, Option<Load>) = (taken.to_vec(), None);
        let mut weight = self.base.weight.clone();
        let mut asked = self.asked.clone();
        for line in heavy {
            if best.0.contains(&line.option) {
                continue;
            }
            let mut wider = asked.clone();
            wider.chosen.push(line.option);
            wider.without.retain(|left_out| *left_out != line.option);
            let plan = wider.plans[0];
            let Ok(options) = choose(self.book, plan, &wider.chosen, &wider.without) else {
                continue;
            };
            if !wider.chosen.iter().all(|chosen| options.contains(chosen)) {
                continue;
            }
            let Some((options, load)) = self.exploded(&wider, findings) else { continue };
            if load.weight > weight {
                weight = load.weight.clone();
                best = (options, Some(load));
                asked = wider;
            }
        }
        best
    }

    fn exploded(
        &self,
        options: &explode::Options,
        findings: &mut Distinct,
    ) -> Option<(Vec<OptionId>, Load)> {
        match explode::explode(self.book, options) {
            Ok(exploded) => {
                // Notes are about lines taken away, which is what leaving an option out means.
                let is_worth = |finding: &Diagnostic| finding.severity > Severity::Note;
                findings.extend(exploded.warnings.into_iter().filter(is_worth));
                let needs = exploded.value;
                let build = needs.builds.first()?;
                let load = needs.instances[build.root.index()].load.clone();
                Some((build.options.clone(), load))
            }
            Err(errors) => {
                let severity = Severity::Warning;
                findings.extend(errors.into_iter().map(|error| Diagnostic { severity, ..error }));
                None
            }
        }
    }
}
