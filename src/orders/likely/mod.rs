//! What units get which options: known configurations, or take rates as a mix of configurations with exact weights.
//!
//! The expected demand of a unit is a sum over configurations whose weights add up to one; a weight may be below zero.
//! Demand is a sum of parts, each of which depends on one set of decisions that meet in the bill ([`meetings()`]). So it is
//! the sum over sets of the families those span of its interactions (the Moebius inversion of D over subsets of decisions),
//! and only configurations that depart from the standard one within such a set have a weight:
//! `w(o on B) = P(o) * sum over A, B within A, A within a family, of the product over A without B of -(1 - P(base))`.
//! That is exact, and needs far fewer configurations than all outcomes of all decisions.
//!
//! Options of different choices are taken to be chosen independently, which take rates cannot say; options that bring or
//! exclude each other are decided together.

mod meetings;

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use crate::diag::Diagnostic;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::model::Book;
use crate::model::OptionId;
use crate::model::PlanId;
use crate::quantity::Ratio;

/// Sets of decisions that are looked at for one plan, at most; beyond it options are taken one by one.
const MOST_SETS: usize = 4096;

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
    let mut mix = Mix::default();
    let bundles = bundles(book, &decisions, &known, &base, &mut findings);
    // That one order's options bend the rates of what it leaves open is no fault of theirs.
    if order.is_some() {
        findings.clear();
    }
    let decision_of: BTreeMap<OptionId, usize> = bundles
        .iter()
        .enumerate()
        .flat_map(|(index, bundle)| bundle.options.iter().map(move |option| (*option, index)))
        .collect();
    let mut sets = BTreeSet::from([Vec::new()]);
    sets.extend((0..bundles.len()).map(|index| vec![index]));
    let families = meetings::meetings(book, plan, &decision_of);
    let count: usize = families.iter().map(|family| 1_usize << family.len().min(40)).sum();
    if count > MOST_SETS {
        let most = families.iter().max_by_key(|family| family.len()).expect("some were counted");
        let first = most.iter().next().expect("what meets is not empty");
        let option = &book.options[bundles[*first].options[0].index()];
        let problem = Problem::OptionsTooMany { option: option.name.clone(), count: most.len() };
        let place = book.place(option.row, None);
        findings.push(Diagnostic::new(Severity::Warning, place, problem));
    } else {
        for family in families {
            let family: Vec<usize> = family.into_iter().collect();
            sets.extend(subsets(&family));
        }
    }
    let mut weights: BTreeMap<Configuration, Ratio> = BTreeMap::new();
    for (departing, share) in shares(&sets, &bundles) {
        let mut outcomes = vec![(base.clone(), share)];
        for index in &departing {
            let step = |(outcome, weight): &(Outcome, Ratio)| -> Vec<(Outcome, Ratio)> {
                let others = bundles[*index].others.iter();
                others.map(|(other, chance)| (outcome.with(other), weight * chance)).collect()
            };
            outcomes = outcomes.iter().flat_map(step).collect();
        }
        for (outcome, weight) in outcomes {
            *weights.entry(configuration(book, &outcome, order)).or_default() += &weight;
        }
    }
    mix.configurations.extend(weights.into_iter().filter(|(_, weight)| !weight.is_zero()));
    mix.doubts = decisions.iter().flat_map(|decision| doubts(book, decision, &base)).collect();
    (mix, findings)
}

/// Decisions that bring or exclude each other's options, with their outcomes.
struct Bundle {
    options: Vec<OptionId>,
    /// Every outcome but that of the standard configuration, with its chance.
    others: Vec<(Outcome, Ratio)>,
}

/// Puts decisions together that bring or exclude each other's options.
fn bundles(
    book: &Book,
    decisions: &[Decision],
    known: &Outcome,
    base: &Outcome,
    findings: &mut Vec<Diagnostic>,
) -> Vec<Bundle> {
    let linked = |a: &Decision, b: &Decision| {
        a.options().iter().any(|option| {
            let row = &book.options[option.index()];
            b.options().iter().any(|other| {
                let name = &book.options[other.index()].name;
                named(&row.includes, name) || named(&row.excludes, name)
            })
        })
    };
    let mut groups: Vec<Vec<Decision>> = Vec::new();
    for decision in decisions {
        let (mut joined, apart): (Vec<_>, Vec<_>) = groups.into_iter().partition(|group| {
            group.iter().any(|other| linked(decision, other) || linked(other, decision))
        });
        joined.push(vec![decision.clone()]);
        groups = apart;
        groups.push(joined.concat());
    }
    groups
        .iter()
        .map(|group| {
            // Those that bring others come first, as in the list of decisions.
            let mut group = group.clone();
            group.sort_by_key(|decision| decisions.iter().position(|other| other == decision));
            let standard = configuration(book, base, None);
            let found = outcomes(book, &group, known, findings);
            let others = found.into_iter().filter(|(outcome, chance)| {
                !chance.is_zero() && configuration(book, &base.with(outcome), None) != standard
            });
            Bundle {
                options: group.iter().flat_map(|decision| decision.options().to_vec()).collect(),
                others: others.collect(),
            }
        })
        .collect()
}

/// Returns every subset of a list, each in its order.
fn subsets(list: &[usize]) -> Vec<Vec<usize>> {
    let mut all = vec![Vec::new()];
    for entry in list {
        let with: Vec<Vec<usize>> =
            all.iter().map(|set: &Vec<usize>| [set.as_slice(), &[*entry]].concat()).collect();
        all.extend(with);
    }
    all
}

/// Returns for each set of bundles that depart from the standard what its outcomes' chances are multiplied by.
fn shares(sets: &BTreeSet<Vec<usize>>, bundles: &[Bundle]) -> BTreeMap<Vec<usize>, Ratio> {
    let departs: Vec<Ratio> = bundles
        .iter()
        .map(|bundle| bundle.others.iter().map(|(_, chance)| chance.clone()).sum())
        .collect();
    let mut shares: BTreeMap<Vec<usize>, Ratio> = BTreeMap::new();
    for set in sets {
        for departing in subsets(set) {
            let mut share = Ratio::ONE;
            for index in set.iter().filter(|index| !departing.contains(index)) {
                share = share * -departs[*index].clone();
            }
            *shares.entry(departing).or_default() += &share;
        }
    }
    shares
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
