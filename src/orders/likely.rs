//! What units get which options: known configurations, or take rates as a mix of configurations with exact weights.
//!
//! The expected demand of a unit is a sum over configurations whose weights add up to one. Options whose lines never meet
//! add up, so each group of options that meet somewhere in the bill is spread over its own outcomes, against the standard
//! configuration: `E[D] = D(base) + sum over groups, sum over outcomes, P(outcome) (D(outcome) - D(base))`. That is exact
//! as long as groups are complete, which [`groups`] sees to, and needs no more than the sum of the groups' outcomes.
//!
//! Options of different choices are taken to be chosen independently, which take rates cannot say.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use crate::diag::Diagnostic;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::model::Book;
use crate::model::Component;
use crate::model::LineId;
use crate::model::OptionId;
use crate::model::Parent;
use crate::model::PlanId;
use crate::model::Usage;
use crate::quantity::Ratio;

/// Outcomes of one group of options that are looked at, at most; beyond it options are taken one by one.
const MOST_OUTCOMES: usize = 1024;

/// Options beside the standard ones, as [`explode`](crate::explode) takes them.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Configuration {
    /// Taken.
    pub(super) chosen: Vec<OptionId>,
    /// Standard ones left out.
    pub(super) without: Vec<OptionId>,
}

/// The mix of configurations a plan is built in, where orders do not say.
#[derive(Clone, Debug, Default)]
pub(super) struct Mix {
    /// Configurations with their weights, which add up to one; a weight may be below zero.
    pub(super) configurations: Vec<(Configuration, Ratio)>,
    /// Options that some units get and some do not.
    pub(super) doubts: Vec<Doubt>,
}

/// An option whose take rate leaves doubt.
#[derive(Clone, Debug)]
pub(super) struct Doubt {
    /// The option.
    pub(super) option: OptionId,
    /// Share of units that get it, above 0 and below 1.
    pub(super) rate: Ratio,
    /// A configuration with it.
    pub(super) with: Configuration,
    /// The same without it, or with the likeliest other option of its choice.
    pub(super) without: Configuration,
}

/// What is decided at once: one option, or which option of a choice.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Decision {
    Single(OptionId),
    Choice(Vec<OptionId>),
}

impl Decision {
    fn options(&self) -> &[OptionId] {
        match self {
            Decision::Single(option) => std::slice::from_ref(option),
            Decision::Choice(options) => options,
        }
    }
}

/// An outcome of some decisions: which options are there, which are not.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
struct Outcome(BTreeMap<OptionId, bool>);

impl Outcome {
    /// Returns it with another laid over it.
    fn with(&self, other: &Outcome) -> Outcome {
        let mut all = self.clone();
        all.0.extend(other.0.iter().map(|(option, is_there)| (*option, *is_there)));
        all
    }
}

/// Returns the mix of a plan, with findings about take rates that cannot hold. Where an order says which options it has,
/// take rates hold only for the choices it leaves open.
pub(super) fn mix(book: &Book, plan: PlanId, order: Option<&[OptionId]>) -> (Mix, Vec<Diagnostic>) {
    let mut findings = Vec::new();
    let mut decisions = decisions(book, plan);
    let mut base = Outcome::default();
    if let Some(order) = order {
        let taken = with_included(book, plan, order);
        decisions.retain(|decision| match decision {
            Decision::Single(_) => false,
            Decision::Choice(options) => !options.iter().any(|option| taken.contains(option)),
        });
        base.0.extend(taken.into_iter().map(|option| (option, true)));
    }
    let known = base.clone();
    for decision in &decisions {
        settle_openly(book, decision, &mut base);
    }
    let base_configuration = configuration(book, &base, order);
    let mut mix = Mix::default();
    let mut base_weight = Ratio::ONE;
    let mut weights: BTreeMap<Configuration, Ratio> = BTreeMap::new();
    for group in groups(book, plan, &decisions) {
        let most: usize = group.iter().map(|decision| decision.options().len() + 1).product();
        let parts: Vec<Vec<Decision>> = if most > MOST_OUTCOMES {
            let first = group[0].options()[0];
            let option = &book.options[first.index()];
            let problem =
                Problem::OptionsTooMany { option: option.name.clone(), count: group.len() };
            findings.push(Diagnostic::new(
                Severity::Warning,
                book.place(option.row, None),
                problem,
            ));
            group.into_iter().map(|decision| vec![decision]).collect()
        } else {
            vec![group]
        };
        for part in parts {
            let mut found = Vec::new();
            for (outcome, chance) in outcomes(book, &part, &known, &mut found) {
                let configuration = configuration(book, &base.with(&outcome), order);
                if configuration != base_configuration && !chance.is_zero() {
                    base_weight = base_weight - &chance;
                    *weights.entry(configuration).or_default() += &chance;
                }
            }
            // That one order's options bend the rates of what it leaves open is no fault of theirs.
            if order.is_none() {
                findings.extend(found);
            }
        }
    }
    if !base_weight.is_zero() {
        mix.configurations.push((base_configuration, base_weight));
    }
    mix.configurations.extend(weights.into_iter().filter(|(_, weight)| !weight.is_zero()));
    mix.doubts = decisions.iter().flat_map(|decision| doubts(book, decision, &base)).collect();
    (mix, findings)
}

/// Returns some options with all that they bring along.
fn with_included(book: &Book, plan: PlanId, chosen: &[OptionId]) -> BTreeSet<OptionId> {
    let mut taken = BTreeSet::new();
    let mut open = chosen.to_vec();
    while let Some(option) = open.pop() {
        if taken.insert(option) {
            let includes = &book.options[option.index()].includes;
            let brought = (0_u32..).zip(&book.options).filter(|(_, other)| {
                named(includes, &other.name) && other.plan.is_none_or(|only| only == plan)
            });
            open.extend(brought.map(|(index, _)| OptionId(index)));
        }
    }
    taken
}

/// Settles a choice that has no standard option for its likeliest one, so that what other options are held against is a
/// configuration that can be built.
fn settle_openly(book: &Book, decision: &Decision, base: &mut Outcome) {
    let Decision::Choice(options) = decision else { return };
    if options.iter().any(|option| book.options[option.index()].is_standard) {
        return;
    }
    let rates = rates(book, decision);
    let likeliest = (0..options.len()).rev().max_by_key(|index| rates[*index].clone());
    for (index, option) in options.iter().enumerate() {
        base.0.insert(*option, Some(index) == likeliest);
    }
}

fn rate(book: &Book, option: OptionId) -> Option<&Ratio> {
    book.options[option.index()].take_rate.as_ref()
}

/// Returns what take rates decide for a plan, in the book's order.
fn decisions(book: &Book, plan: PlanId) -> Vec<Decision> {
    let mut decisions: Vec<Decision> = Vec::new();
    let mut seen: BTreeSet<String> = BTreeSet::new();
    for (index, option) in (0_u32..).zip(&book.options) {
        if option.plan.is_some_and(|only| only != plan) {
            continue;
        }
        let Some(choice) = &option.choice else {
            if option.take_rate.is_some() {
                decisions.push(Decision::Single(OptionId(index)));
            }
            continue;
        };
        if !seen.insert(choice.to_lowercase()) {
            continue;
        }
        let rivals = (0_u32..).zip(&book.options).filter(|(_, other)| {
            let is_same =
                other.choice.as_ref().is_some_and(|name| name.eq_ignore_ascii_case(choice));
            is_same && other.plan.is_none_or(|only| only == plan)
        });
        let rivals: Vec<OptionId> = rivals.map(|(index, _)| OptionId(index)).collect();
        if rivals.iter().any(|option| rate(book, *option).is_some()) {
            decisions.push(Decision::Choice(rivals));
        }
    }
    // One that brings another with it is decided first.
    let brings = |a: &Decision, b: &Decision| {
        a.options().iter().any(|option| {
            let includes = &book.options[option.index()].includes;
            b.options().iter().any(|other| named(includes, &book.options[other.index()].name))
        })
    };
    let mut ordered: Vec<Decision> = Vec::with_capacity(decisions.len());
    while !decisions.is_empty() {
        let free = decisions.iter().position(|decision| {
            !decisions.iter().any(|other| other != decision && brings(other, decision))
        });
        ordered.push(decisions.remove(free.unwrap_or(0)));
    }
    ordered
}

fn named(list: &[String], name: &str) -> bool {
    list.iter().any(|listed| listed.eq_ignore_ascii_case(name))
}

/// Returns every outcome of some decisions with its chance, beside what is known. Where options bring or exclude others, what is left open is
/// decided so that each still has its take rate; where that cannot be, a finding says so.
fn outcomes(
    book: &Book,
    decisions: &[Decision],
    known: &Outcome,
    findings: &mut Vec<Diagnostic>,
) -> Vec<(Outcome, Ratio)> {
    let mut outcomes = vec![(known.clone(), Ratio::ONE)];
    for decision in decisions {
        let options = decision.options();
        let rates = rates(book, decision);
        // Chance that an option is settled to be there by earlier decisions, per option, and that nothing is settled.
        let settled: Vec<Settled> =
            outcomes.iter().map(|(outcome, _)| settled(book, outcome, options, decision)).collect();
        let mut next = Vec::new();
        let mut is_met = true;
        let parts: Vec<Ratio> = rates
            .iter()
            .enumerate()
            .map(|(index, rate)| {
                let mut fixed = Ratio::ZERO;
                let mut open = Ratio::ZERO;
                for ((_, chance), settled) in outcomes.iter().zip(&settled) {
                    match settled {
                        Settled::There(there) if *there == index => fixed += chance,
                        Settled::Open(open_ones) if open_ones[index] => open += chance,
                        _ => {}
                    }
                }
                let part = (rate - &fixed).checked_div(&open).unwrap_or(Ratio::ZERO);
                is_met &=
                    !part.is_negative() && part <= Ratio::ONE && &fixed + &(&part * &open) == *rate;
                part.max(Ratio::ZERO).min(Ratio::ONE)
            })
            .collect();
        if !is_met {
            let option = &book.options[options[0].index()];
            let problem = Problem::TakeRateUnmet {
                options: options.iter().map(|id| book.options[id.index()].name.clone()).collect(),
            };
            let place = book.place(option.row, Some("take_rate"));
            findings.push(Diagnostic::new(Severity::Warning, place, problem));
        }
        for ((outcome, chance), settled) in outcomes.iter().zip(settled) {
            let with = |there: Option<usize>| {
                let mut outcome = outcome.clone();
                for (index, option) in options.iter().enumerate() {
                    outcome.0.insert(*option, there == Some(index));
                }
                outcome
            };
            match settled {
                Settled::There(index) => next.push((with(Some(index)), chance.clone())),
                Settled::Away => next.push((with(None), chance.clone())),
                Settled::Open(open) => {
                    let open: Vec<usize> =
                        (0..options.len()).filter(|index| open[*index]).collect();
                    let sum: Ratio = open.iter().map(|index| parts[*index].clone()).sum();
                    // Of a choice one option is always taken.
                    let scale = match decision {
                        Decision::Choice(_) if !sum.is_zero() => sum.clone(),
                        Decision::Choice(_) | Decision::Single(_) => Ratio::ONE,
                    };
                    for index in &open {
                        let part = parts[*index].checked_div(&scale).unwrap_or(Ratio::ZERO);
                        if !part.is_zero() {
                            next.push((with(Some(*index)), chance * &part));
                        }
                    }
                    let rest = match decision {
                        Decision::Single(_) => &Ratio::ONE - &sum,
                        Decision::Choice(_) => Ratio::ZERO,
                    };
                    if !rest.is_zero() {
                        next.push((with(None), chance * &rest));
                    }
                }
            }
        }
        outcomes = next;
    }
    outcomes
}

/// What earlier decisions leave of one.
enum Settled {
    /// The option of this position is there.
    There(usize),
    /// None is there.
    Away,
    /// These may be there.
    Open(Vec<bool>),
}

fn settled(book: &Book, outcome: &Outcome, options: &[OptionId], decision: &Decision) -> Settled {
    let there = || {
        outcome
            .0
            .iter()
            .filter(|(_, there)| **there)
            .map(|(option, _)| &book.options[option.index()])
    };
    let is_brought = |option: &OptionId| {
        there().any(|other| named(&other.includes, &book.options[option.index()].name))
    };
    if let Some(index) = options.iter().position(is_brought) {
        return Settled::There(index);
    }
    let is_open = |option: &OptionId| {
        let own = &book.options[option.index()];
        !there().any(|other| named(&other.excludes, &own.name) || named(&own.excludes, &other.name))
    };
    let open: Vec<bool> = options.iter().map(is_open).collect();
    let is_any = open.iter().any(|open| *open);
    match decision {
        Decision::Single(_) if !is_any => Settled::Away,
        _ => Settled::Open(open),
    }
}

/// Returns the take rates of a decision's options; of a choice, those without one share what the others leave, the
/// standard one before all.
fn rates(book: &Book, decision: &Decision) -> Vec<Ratio> {
    let options = decision.options();
    let mut rates: Vec<Ratio> =
        options.iter().map(|option| rate(book, *option).cloned().unwrap_or(Ratio::ZERO)).collect();
    if let Decision::Choice(_) = decision {
        let sum: Ratio = rates.iter().cloned().sum();
        let rest = &Ratio::ONE - &sum;
        if !rest.is_negative() && !rest.is_zero() {
            let standard =
                options.iter().position(|option| book.options[option.index()].is_standard);
            let silent = options.iter().position(|option| rate(book, *option).is_none());
            if let Some(index) = standard.or(silent) {
                rates[index] += &rest;
            }
        }
    }
    rates
}

/// Returns the configuration of an outcome. An order's own options come first, as it names them.
fn configuration(book: &Book, outcome: &Outcome, order: Option<&[OptionId]>) -> Configuration {
    let order = order.unwrap_or_default();
    let mut configuration = Configuration { chosen: order.to_vec(), without: Vec::new() };
    for (id, is_there) in outcome.0.iter().filter(|(id, _)| !order.contains(id)) {
        let option = &book.options[id.index()];
        match (is_there, option.is_standard) {
            (true, false) => configuration.chosen.push(*id),
            // A standard option of a choice yields by itself.
            (false, true) if option.choice.is_none() => configuration.without.push(*id),
            _ => {}
        }
    }
    configuration
}

fn doubts(book: &Book, decision: &Decision, base: &Outcome) -> Vec<Doubt> {
    let rates = rates(book, decision);
    let options = decision.options();
    let is_doubtful = |index: &usize| !rates[*index].is_zero() && rates[*index] < Ratio::ONE;
    let doubt = |index: usize| {
        let other = (0..options.len())
            .filter(|other| *other != index)
            .max_by(|a, b| rates[*a].cmp(&rates[*b]).then(b.cmp(a)));
        let outcome = |there: Option<usize>| {
            let pairs = options.iter().enumerate().map(|(at, option)| (*option, there == Some(at)));
            configuration(book, &base.with(&Outcome(pairs.collect())), None)
        };
        Doubt {
            option: options[index],
            rate: rates[index].clone(),
            with: outcome(Some(index)),
            without: outcome(other),
        }
    };
    (0..options.len()).filter(is_doubtful).map(doubt).collect()
}

/// Parts decisions into groups whose options meet: on one path of the bill, at one place that matches lines of each
/// other, or by bringing and excluding each other.
fn groups(book: &Book, plan: PlanId, decisions: &[Decision]) -> Vec<Vec<Decision>> {
    if decisions.len() < 2 {
        return decisions.iter().map(|decision| vec![decision.clone()]).collect();
    }
    let mut meetings = Meetings {
        book,
        plan,
        group_of: (0..book.options.len()).collect(),
        below: BTreeMap::new(),
    };
    for decision in decisions {
        meetings.join(&decision.options().iter().copied().collect());
        for option in decision.options() {
            let row = &book.options[option.index()];
            let linked = (0_u32..)
                .zip(&book.options)
                .filter(|(_, other)| {
                    named(&row.includes, &other.name) || named(&row.excludes, &other.name)
                })
                .map(|(index, _)| OptionId(index));
            meetings.join(&linked.chain([*option]).collect());
        }
    }
    let mut lines = book.lines_of(Parent::Plan(plan)).to_vec();
    for index in 0..book.options.len() {
        let option = OptionId(u32::try_from(index).expect("options are counted in a u32"));
        lines.extend(book.lines_of(Parent::Option(option)));
    }
    meetings.lines(&lines);
    let mut groups: BTreeMap<usize, Vec<Decision>> = BTreeMap::new();
    for decision in decisions {
        let group = meetings.find(decision.options()[0].index());
        groups.entry(group).or_default().push(decision.clone());
    }
    groups.into_values().collect()
}

struct Meetings<'a> {
    book: &'a Book,
    plan: PlanId,
    group_of: Vec<usize>,
    /// Options named at or below an assembly, by its position.
    below: BTreeMap<u32, BTreeSet<OptionId>>,
}

impl Meetings<'_> {
    fn find(&self, mut index: usize) -> usize {
        while self.group_of[index] != index {
            index = self.group_of[index];
        }
        index
    }

    fn join(&mut self, options: &BTreeSet<OptionId>) {
        let mut options = options.iter();
        let Some(first) = options.next() else { return };
        let first = self.find(first.index());
        for option in options {
            let other = self.find(option.index());
            self.group_of[other] = first;
        }
    }

    /// Joins what meets within the lines of one parent, and returns every option named there or below.
    fn lines(&mut self, lines: &[LineId]) -> BTreeSet<OptionId> {
        let mut all = BTreeSet::new();
        let mut of_openings = BTreeSet::new();
        let mut of_fills = BTreeSet::new();
        let mut taking: BTreeMap<Component, BTreeSet<OptionId>> = BTreeMap::new();
        let mut taken_away: BTreeSet<Component> = BTreeSet::new();
        for id in lines {
            let line = self.book.line(*id);
            let own = self.named_by(*id);
            let below = match line.component {
                Component::Assembly(assembly) => self.assembly(assembly.0),
                Component::Item(_) => BTreeSet::new(),
            };
            let together: BTreeSet<OptionId> = own.union(&below).copied().collect();
            if !own.is_empty() {
                self.join(&together);
            }
            if line.usage == Usage::Opening {
                of_openings.extend(own.iter().copied());
            }
            if line.usage == Usage::Fill || mentions(self.book, *id, "openings") {
                of_fills.extend(together.iter().copied());
            }
            taking.entry(line.component).or_default().extend(together.iter().copied());
            if line.quantity.as_constant().is_none_or(|quantity| quantity.value.is_negative()) {
                taken_away.insert(line.component);
            }
            all.extend(together);
        }
        if !of_openings.is_empty() {
            of_openings.extend(of_fills);
            self.join(&of_openings);
        }
        for component in taken_away {
            if let Some(options) = taking.remove(&component) {
                self.join(&options);
            }
        }
        all
    }

    fn assembly(&mut self, assembly: u32) -> BTreeSet<OptionId> {
        if let Some(known) = self.below.get(&assembly) {
            return known.clone();
        }
        let lines =
            self.book.lines_of(Parent::Assembly(crate::model::AssemblyId(assembly))).to_vec();
        let options = self.lines(&lines);
        self.below.insert(assembly, options.clone());
        options
    }

    /// Returns the options a line names itself, or stands under.
    fn named_by(&self, id: LineId) -> BTreeSet<OptionId> {
        let line = self.book.line(id);
        let mut options = BTreeSet::new();
        if let Parent::Option(option) = line.parent {
            options.insert(option);
        }
        for name in formulas(self.book, id) {
            let found = self.book.options.iter().position(|option| {
                option.name.eq_ignore_ascii_case(name)
                    && option.plan.is_none_or(|only| only == self.plan)
            });
            if let Some(index) = found {
                options
                    .insert(OptionId(u32::try_from(index).expect("options are counted in a u32")));
            }
        }
        options
    }
}

/// Returns every name a line's formulas use.
fn formulas(book: &Book, id: LineId) -> impl Iterator<Item = &str> {
    let line = book.line(id);
    let sides = [
        &line.length,
        &line.width,
        &line.height,
        &line.cutout,
        &line.when,
        &line.x,
        &line.y,
        &line.z,
    ];
    let passed = line.with.iter().map(|(_, expression)| expression);
    let all = std::iter::once(&line.quantity).chain(sides.into_iter().flatten()).chain(passed);
    all.flat_map(|expression| expression.names().iter().map(String::as_str))
}

fn mentions(book: &Book, id: LineId, name: &str) -> bool {
    formulas(book, id).any(|used| used.eq_ignore_ascii_case(name))
}

/// Returns the least number of takers that `units` units do not exceed with a chance of at least `level`, when each takes
/// with a chance of `rate`: the quantile of the binomial distribution, exact.
pub(super) fn takers(units: u32, rate: &Ratio, level: &Ratio) -> u32 {
    let misses = &Ratio::ONE - rate;
    let mut chance = misses.power(units);
    let mut sum = chance.clone();
    let Some(odds) = rate.checked_div(&misses) else { return units };
    let mut count = 0;
    while sum < *level && count < units {
        let step = Ratio::new(i128::from(units - count), i128::from(count + 1));
        chance = chance * &odds * step.expect("a count plus one is above zero");
        sum += &chance;
        count += 1;
    }
    count
}
