//! What units get which options: known configurations, or take rates as a mix of configurations with exact weights.
//!
//! The expected demand of a unit is a sum over configurations whose weights add up to one; a weight may be below zero.
//! Demand is a sum of parts, each of which depends on one set of decisions that meet in the bill ([`meetings`]). So it is
//! the sum over sets of the families those span of its interactions (the Moebius inversion of D over subsets of decisions),
//! and only configurations that depart from the standard one within such a set have a weight:
//! `w(o on B) = P(o) * sum over A, B within A, A within a family, of the product over A without B of -(1 - P(base))`.
//! That is exact, and needs far fewer configurations than all outcomes of all decisions.
//!
//! Options of different choices are taken to be chosen independently, which take rates cannot say; options that bring or
//! exclude each other are decided together.

mod bonds;
mod meetings;

use std::collections::BTreeMap;
use std::collections::BTreeSet;
use std::rc::Rc;

use crate::diag::Diagnostic;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::model::Book;
use crate::model::OptionId;
use crate::model::PlanId;
use crate::orders::likely::bonds::Bonds;
use crate::orders::likely::meetings::Below;
use crate::quantity::Ratio;

/// Sets of decisions that are looked at for all plans together, at most. Each is evaluated by itself, so that a plant with
/// hundreds of plans whose options all meet would wait for minutes.
const MOST_SETS: usize = 5000;

/// How many decisions of a set that meets are looked at together.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Depth {
    /// Each by itself: what options do only together is left out.
    Single,
    /// Two at a time.
    Pairs,
    /// All of them: exact.
    All,
}

/// Returns how deep the options of some plans can be looked at together, with a finding if that is not all the way.
pub(super) fn depth(
    book: &Book,
    plans: &BTreeSet<PlanId>,
    meetings: &mut Meetings,
) -> (Depth, Option<Diagnostic>) {
    let mut counts = [0_usize; 2];
    let mut most: (usize, Option<OptionId>) = (0, None);
    for plan in plans {
        let bonds = meetings.bonds(book, *plan);
        let decisions = decisions((book, &bonds), *plan);
        let (known, base) = (Outcome::default(), standard(book, &decisions));
        let bundles = bundles((book, &bonds), &decisions, &known, &base, &mut Vec::new());
        let families = meetings.families(book, *plan, &bundles);
        if let Some(family) = families.iter().max_by_key(|family| family.len())
            && family.len() > most.0
        {
            let first = family.first().map(|index| bundles[*index].options[0]);
            most = (family.len(), first);
        }
        let all: usize = families.iter().map(|family| 1_usize << family.len().min(40)).sum();
        let pairs: BTreeSet<Vec<usize>> =
            families.iter().flat_map(|family| subsets(family, 2)).collect();
        counts[0] = counts[0].saturating_add(all);
        counts[1] = counts[1].saturating_add(pairs.len());
    }
    let depth = match counts {
        [all, _] if all <= MOST_SETS => return (Depth::All, None),
        [_, pairs] if pairs <= MOST_SETS => Depth::Pairs,
        _ => Depth::Single,
    };
    let finding = most.1.map(|option| {
        let row = &book.options[option.index()];
        let problem = Problem::OptionsTooMany {
            option: row.name.clone(),
            count: most.0,
            together: if depth == Depth::Pairs { 2 } else { 1 },
        };
        Diagnostic::new(Severity::Warning, book.place(row.row, None), problem)
    });
    (depth, finding)
}

/// Options beside the standard ones, as [`explode`](crate::explode) takes them.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Configuration {
    /// Taken.
    pub(crate) chosen: Vec<OptionId>,
    /// Standard ones left out.
    pub(crate) without: Vec<OptionId>,
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
pub(super) fn mix(
    book: &Book,
    plan: PlanId,
    order: Option<&[OptionId]>,
    (depth, meetings): (Depth, &mut Meetings),
) -> (Mix, Vec<Diagnostic>) {
    let mut findings = Vec::new();
    let bonds = meetings.bonds(book, plan);
    let mut decisions = decisions((book, &bonds), plan);
    let mut base = Outcome::default();
    if let Some(order) = order {
        let mut taken = BTreeSet::new();
        book.take_options(plan, order.iter().copied(), &mut taken);
        decisions.retain(|decision| match decision {
            Decision::Single(_) => false,
            Decision::Choice(options) => !options.iter().any(|option| taken.contains(option)),
        });
        base.0.extend(taken.into_iter().map(|option| (option, true)));
    }
    let known = base.clone();
    base = base.with(&standard(book, &decisions));
    let mut mix = Mix::default();
    let bundles = bundles((book, &bonds), &decisions, &known, &base, &mut findings);
    // That one order's options bend the rates of what it leaves open is no fault of theirs.
    if order.is_some() {
        findings.clear();
    }
    let mut sets = BTreeSet::from([Vec::new()]);
    sets.extend((0..bundles.len()).map(|index| vec![index]));
    let most = match depth {
        Depth::Single => 1,
        Depth::Pairs => 2,
        Depth::All => usize::MAX,
    };
    if most > 1 {
        let families = meetings.families(book, plan, &bundles);
        sets.extend(families.iter().flat_map(|family| subsets(family, most)));
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
    (book, bonds): (&Book, &Bonds),
    decisions: &[Decision],
    known: &Outcome,
    base: &Outcome,
    findings: &mut Vec<Diagnostic>,
) -> Vec<Bundle> {
    let linked = |a: &Decision, b: &Decision| {
        a.options().iter().any(|option| {
            let others = b.options().iter();
            others
                .into_iter()
                .any(|other| bonds.brings(*option, *other) || bonds.clash(*option, *other))
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
            let found = outcomes((book, bonds), &group, known, findings);
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

/// What binds options and which meet, kept for plans with the same decisions.
#[derive(Default)]
pub(super) struct Meetings {
    below: BTreeMap<BTreeMap<OptionId, usize>, Below>,
    /// By which options are for a plan.
    bonds: BTreeMap<Vec<OptionId>, Rc<Bonds>>,
}

impl Meetings {
    fn bonds(&mut self, book: &Book, plan: PlanId) -> Rc<Bonds> {
        let of_plan = (0_u32..).map(OptionId).zip(&book.options);
        let of_plan: Vec<OptionId> =
            of_plan.filter(|(_, option)| option.is_for(plan)).map(|(id, _)| id).collect();
        let bonds = self.bonds.entry(of_plan);
        let bonds = bonds.or_insert_with_key(|of_plan| Rc::new(Bonds::new(book, of_plan)));
        Rc::clone(bonds)
    }

    /// Returns the largest sets of bundles whose options meet in the bill of a plan.
    fn families(&mut self, book: &Book, plan: PlanId, bundles: &[Bundle]) -> Vec<Vec<usize>> {
        let numbered = bundles.iter().enumerate();
        let decision_of: BTreeMap<OptionId, usize> = numbered
            .flat_map(|(index, bundle)| bundle.options.iter().map(move |option| (*option, index)))
            .collect();
        let below = self.below.entry(decision_of.clone()).or_default();
        meetings::meetings(book, plan, &decision_of, below)
    }
}

/// Returns every subset of a list with at most so many entries, each in its order.
fn subsets(list: &[usize], most: usize) -> Vec<Vec<usize>> {
    let mut all = vec![Vec::new()];
    for entry in list {
        let smaller = all.iter().filter(|set: &&Vec<usize>| set.len() < most);
        let with: Vec<Vec<usize>> =
            smaller.map(|set| [set.as_slice(), &[*entry]].concat()).collect();
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
        for departing in subsets(set, set.len()) {
            let mut share = Ratio::ONE;
            for index in set.iter().filter(|index| !departing.contains(index)) {
                share = share * -departs[*index].clone();
            }
            *shares.entry(departing).or_default() += &share;
        }
    }
    shares
}

/// Returns what is settled where nobody asks: of a choice that has no standard option the likeliest one, so that what
/// other options are held against is a configuration that can be built.
fn standard(book: &Book, decisions: &[Decision]) -> Outcome {
    let mut outcome = Outcome::default();
    for decision in decisions {
        let Decision::Choice(options) = decision else { continue };
        if options.iter().any(|option| book.options[option.index()].is_standard) {
            continue;
        }
        let rates = rates(book, decision);
        let likeliest = (0..options.len()).rev().max_by_key(|index| rates[*index].clone());
        for (index, option) in options.iter().enumerate() {
            outcome.0.insert(*option, Some(index) == likeliest);
        }
    }
    outcome
}

fn rate(book: &Book, option: OptionId) -> Option<&Ratio> {
    book.options[option.index()].take_rate.as_ref()
}

/// Returns what take rates decide for a plan, in the book's order.
fn decisions((book, bonds): (&Book, &Bonds), plan: PlanId) -> Vec<Decision> {
    let mut decisions: Vec<Decision> = Vec::new();
    let mut seen: BTreeSet<String> = BTreeSet::new();
    for (index, option) in (0_u32..).zip(&book.options) {
        if !option.is_for(plan) {
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
            is_same && other.is_for(plan)
        });
        let rivals: Vec<OptionId> = rivals.map(|(index, _)| OptionId(index)).collect();
        if rivals.iter().any(|option| rate(book, *option).is_some()) {
            decisions.push(Decision::Choice(rivals));
        }
    }
    // One that brings another with it is decided first.
    let brings = |a: &Decision, b: &Decision| {
        let others = b.options();
        a.options().iter().any(|option| others.iter().any(|other| bonds.brings(*option, *other)))
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

/// Returns every outcome of some decisions with its chance, beside what is known. Where options bring or exclude others,
/// what is left open is decided so that each still has its take rate; where that cannot be, a finding says so.
fn outcomes(
    (book, bonds): (&Book, &Bonds),
    decisions: &[Decision],
    known: &Outcome,
    findings: &mut Vec<Diagnostic>,
) -> Vec<(Outcome, Ratio)> {
    let mut outcomes = vec![(known.clone(), Ratio::ONE)];
    for decision in decisions {
        let options = decision.options();
        let rates = rates(book, decision);
        // Chance that an option is settled to be there by earlier decisions, per option, and that nothing is settled.
        let settled: Vec<Settled> = outcomes
            .iter()
            .map(|(outcome, _)| settled(bonds, outcome, options, decision))
            .collect();
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

fn settled(bonds: &Bonds, outcome: &Outcome, options: &[OptionId], decision: &Decision) -> Settled {
    let there = || outcome.0.iter().filter(|(_, there)| **there).map(|(option, _)| *option);
    let is_brought = |option: &OptionId| there().any(|other| bonds.brings(other, *option));
    if let Some(index) = options.iter().position(is_brought) {
        return Settled::There(index);
    }
    let is_open = |option: &OptionId| !there().any(|other| bonds.clash(*option, other));
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
