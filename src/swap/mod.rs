//! Swaps material: what each proposed change makes of cost, weight, stock and labor, alone and together.
//!
//! In: a book with what its plans take and cost, and [`Proposal`]s, from its table `swaps` or typed. Out: a [`Swaps`]: a
//! [`Trial`] for each swap and plan, one for all of them together if asked, and the [`Best`] set for a weight target.
//!
//! Always: a trial is a roll-up of the changed bill. What changes is nested anew in the new item's own sizes, kerf and
//! grain; nothing is prorated. Amounts are whole units of the last place, so differences are exact.
//!
//! Not here: what changes in the bill ([`Book::changed`]), and how a trailer hangs on hitch and axles ([`loads`]).

mod best;
mod figures;
mod limits;
mod proposal;
mod typed;

use std::cmp::Ordering;
use std::collections::BTreeSet;

pub use best::{Best, Reason};
pub use figures::{Figures, Saving};
pub use proposal::{Proposal, of_table};
pub use typed::typed;

use crate::diag::Checked;
use crate::diag::Diagnostic;
use crate::diag::Distinct;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::explode;
use crate::explode::{Configured, Needs};
use crate::loads;
use crate::loads::Loads;
use crate::model::Book;
use crate::model::Form;
use crate::model::ItemId;
use crate::model::SwapRow;
use crate::quantity::Ratio;
use crate::rollup;
use crate::rollup::{BuildCost, ItemCost, Known, Rollup, WEIGHT_DIGITS};
use crate::swap::limits::Broken;
use crate::watch::Watch;

/// What is asked about swaps.
#[derive(Clone, Debug, Default)]
pub struct Options {
    /// What was exploded.
    pub explode: explode::Options,
    /// How it was rolled up.
    pub cutting: rollup::Options,
    /// Whether all swaps are tried together too.
    pub is_together: bool,
    /// Weight that one unit of every plan shall lose, in pounds; above zero.
    pub save: Option<Ratio>,
}

/// A book with the builds asked about.
#[derive(Clone, Copy, Debug)]
pub struct Base<'a> {
    /// The book, without any swap.
    pub book: &'a Book,
    /// What its plans take.
    pub needs: &'a Needs,
    /// What they cost and weigh.
    pub rollup: &'a Rollup,
    /// What is told of them anyway: not told again of a swap.
    pub findings: &'a [Diagnostic],
}

/// What swaps come to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Swaps {
    /// The swaps that can be tried.
    pub proposals: Vec<Proposal>,
    /// For each of them, a trial per build of the needs.
    pub singles: Vec<Vec<Trial>>,
    /// All of them together: a trial per build, if asked.
    pub together: Option<Vec<Trial>>,
    /// The best set for the weight target: one per build, if asked.
    pub best: Option<Vec<Best>>,
}

/// What one swap or several together make of a build, for the lot.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trial {
    /// Position in the builds of the needs.
    pub build: usize,
    /// Without them.
    pub before: Figures,
    /// With them; as before where nothing changes or could be tried.
    pub after: Figures,
    /// What came of it.
    pub state: State,
}

/// What came of a trial; the later of those that change something, the less is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum State {
    /// Something changes, and all of it is known.
    Changed,
    /// It is for the build, but what the build takes stays the same.
    Same,
    /// It is for other plans or options.
    Elsewhere,
    /// Something that changes has no price, so the difference of cost is wrong.
    Unpriced,
    /// Something that changes has no weight, so the difference of weight is wrong.
    Unweighed,
    /// A line gets an item that lacks a rating it requires, or spans more than its maker states.
    Unfit,
    /// Pieces fit no size of the new material, or nothing is known to cut them from.
    Uncut,
    /// The changed bill cannot be exploded; a finding tells why.
    Failed,
}

impl State {
    /// Returns the words a report has for it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            State::Changed => "",
            State::Same => "no change",
            State::Elsewhere => "not for this plan",
            State::Unpriced => "no price",
            State::Unweighed => "no weight",
            State::Unfit => "breaks a limit",
            State::Uncut => "does not fit",
            State::Failed => "not possible",
        }
    }
}

impl Trial {
    /// Returns what it costs more and saves.
    #[must_use]
    pub fn saving(&self) -> Saving {
        Saving {
            cost: self.after.cost - self.before.cost,
            weight: self.before.weight - self.after.weight,
        }
    }

    /// Tells whether its difference can be counted on: something changes and all of it is known.
    #[must_use]
    pub fn is_known(&self) -> bool {
        self.state == State::Changed
    }
}

impl Swaps {
    /// Returns the sum of the singles of a build: what all swaps would come to if none touched another.
    #[must_use]
    pub fn sum_of_singles(&self, build: usize) -> Saving {
        self.singles.iter().filter_map(|trials| trials.get(build)).map(Trial::saving).sum()
    }

    /// Returns the singles as positions of swap and build, the best first; those that are not known come last, those of
    /// other plans and options not at all.
    #[must_use]
    pub fn ranked(&self) -> Vec<(usize, usize)> {
        let all = self.singles.iter().enumerate().flat_map(|(swap, trials)| {
            let is_here = |(_, trial): &(usize, &Trial)| trial.state != State::Elsewhere;
            trials.iter().enumerate().filter(is_here).map(move |(build, _)| (swap, build))
        });
        let mut ranked: Vec<(usize, usize)> = all.collect();
        let trial = |(swap, build): (usize, usize)| &self.singles[swap][build];
        ranked.sort_by(|one, other| {
            let (one, other) = (trial(*one), trial(*other));
            let by_state = other.is_known().cmp(&one.is_known());
            by_state.then_with(|| {
                if one.is_known() { one.saving().order(other.saving()) } else { Ordering::Equal }
            })
        });
        ranked
    }

    /// Returns the swaps that change something, with what they come to over all plans and the state of the plan where least
    /// is known, the best first; those that are not known for a plan that they change come last.
    #[must_use]
    pub fn ranked_over_plans(&self) -> Vec<(usize, Saving, State)> {
        let changing = (0..self.singles.len()).filter_map(|swap| {
            let (saving, state) = self.over_plans(swap)?;
            Some((swap, saving, state))
        });
        let mut ranked: Vec<(usize, Saving, State)> = changing.collect();
        ranked.sort_by(|(_, one, one_state), (_, other, other_state)| {
            let is_known = |state: &State| *state == State::Changed;
            let by_state = is_known(other_state).cmp(&is_known(one_state));
            by_state
                .then_with(|| if is_known(one_state) { one.order(*other) } else { Ordering::Equal })
        });
        ranked
    }

    /// Returns what a swap comes to over all builds and the state of the build where least is known; nothing if it changes
    /// none.
    #[must_use]
    pub fn over_plans(&self, swap: usize) -> Option<(Saving, State)> {
        let trials = self.singles.get(swap)?;
        let is_idle = |trial: &&Trial| matches!(trial.state, State::Same | State::Elsewhere);
        let changing: Vec<&Trial> = trials.iter().filter(|trial| !is_idle(trial)).collect();
        let worst = changing.iter().map(|trial| trial.state).max()?;
        Some((changing.into_iter().map(Trial::saving).sum(), worst))
    }
}

/// Tries every proposal alone, all together if asked, and finds the best set for a weight target if there is one.
///
/// Proposals of the table that cannot be meant are findings (gaps) and are left out; so are trials whose bill cannot be
/// exploded.
///
/// # Errors
/// Typed proposals that cannot be meant.
///
/// # Example
/// ```
/// # use cutbill::explode::{self, explode};
/// # use cutbill::read::{Memory, read};
/// # use cutbill::rollup::{self, rollup};
/// # use cutbill::watch::Silent;
/// use cutbill::swap::{Base, Options, swap, typed};
///
/// # let files = Memory::from_iter([
/// #     ("plans.csv", "plan\nSedge\n"),
/// #     ("bill.csv", "parent,component,quantity\nSedge,STEEL,2\n"),
/// #     ("items.csv", "item,form,price,weight\nSTEEL,count,4,10 lb\nALLOY,count,9,6 lb\n"),
/// # ]);
/// # let book = read(&files).unwrap().value;
/// # let needs = explode(&book, &explode::Options::default()).unwrap().value;
/// # let rollup = rollup(&book, &needs, rollup::Options::default(), &Silent).unwrap().value;
/// # let base = Base { book: &book, needs: &needs, rollup: &rollup, findings: &[] };
/// // Two of steel, 4 USD and 10 lb each, become two of alloy, 9 USD and 6 lb each.
/// let proposal = typed(&book, "STEEL=ALLOY").unwrap();
/// let swaps = swap(base, vec![proposal], &Options::default(), &Silent).unwrap().value;
/// let saving = swaps.singles[0][0].saving();
/// assert_eq!((saving.cost, saving.weight), (10_0000, 8_0000));
/// ```
pub fn swap(
    base: Base<'_>,
    proposals: Vec<Proposal>,
    options: &Options,
    watch: &dyn Watch,
) -> Result<Checked<Swaps>, Vec<Diagnostic>> {
    let mut findings = Distinct::default();
    let (proposals, errors) = proposal::sound(base.book, proposals, &mut findings);
    if !errors.is_empty() {
        return Err(errors);
    }
    let weighed = loads::loads(base.book, base.needs, &loads::Options::default())?;
    let broken = base.needs.builds.iter().map(|build| limits::broken(base.book, base.needs, build));
    let broken = broken.collect();
    let mut bench =
        Bench { base, loads: weighed, broken, options, findings, told: Vec::new(), watch };
    let all: Vec<usize> = (0..base.rollup.builds.len()).collect();
    let mut singles = Vec::with_capacity(proposals.len());
    for (done, proposal) in proposals.iter().enumerate() {
        watch.progress("trying swaps", done, proposals.len());
        let trials = bench.trials(&[proposal], &all);
        bench.tell_idle(proposal, &trials);
        singles.push(trials);
    }
    let every: Vec<&Proposal> = proposals.iter().collect();
    let together = options.is_together.then(|| bench.trials(&every, &all));
    let best = options.save.as_ref().map(|save| {
        let target = |build: &usize| best::best(&mut bench, &proposals, &singles, *build, save);
        all.iter().map(target).collect()
    });
    let value = Swaps { proposals, singles, together, best };
    Ok(Checked { value, warnings: bench.findings.into_vec() })
}

/// What trials need.
struct Bench<'a> {
    base: Base<'a>,
    /// How the builds hang on hitch and axles without swaps.
    loads: Checked<Loads>,
    /// The limits that each build of the needs breaks without swaps.
    broken: Vec<BTreeSet<Broken>>,
    options: &'a Options,
    findings: Distinct,
    /// Findings of swaps tried alone, without their names.
    told: Vec<Diagnostic>,
    watch: &'a dyn Watch,
}

impl Bench<'_> {
    /// Tries proposals together on some builds. Builds for which the same rows hold share one changed book.
    fn trials(&mut self, proposals: &[&Proposal], builds: &[usize]) -> Vec<Trial> {
        let mut trials: Vec<Trial> = builds.iter().map(|build| self.untried(*build)).collect();
        let rows_of: Vec<Vec<&SwapRow>> =
            builds.iter().map(|build| self.rows_for(proposals, *build)).collect();
        let mut is_done = vec![false; builds.len()];
        for first in 0..builds.len() {
            if is_done[first] || rows_of[first].is_empty() {
                continue;
            }
            let is_alike = |position: &usize| {
                rows_of[*position].len() == rows_of[first].len()
                    && rows_of[*position]
                        .iter()
                        .zip(&rows_of[first])
                        .all(|(a, b)| std::ptr::eq(*a, *b))
            };
            let alike: Vec<usize> = (first..builds.len()).filter(is_alike).collect();
            let of_alike: Vec<usize> = alike.iter().map(|position| builds[*position]).collect();
            for (position, tried) in alike.iter().zip(self.tried(&rows_of[first], &of_alike)) {
                trials[*position] = tried;
                is_done[*position] = true;
            }
        }
        trials
    }

    fn untried(&self, build: usize) -> Trial {
        let Base { book, rollup, .. } = self.base;
        let cost = &rollup.builds[build];
        let before = Figures::of(book, cost, &self.loads.value.builds[cost.build]);
        Trial { build, after: before.clone(), before, state: State::Elsewhere }
    }

    /// Returns the rows of proposals that are for a build.
    fn rows_for<'p>(&self, proposals: &[&'p Proposal], build: usize) -> Vec<&'p SwapRow> {
        let Base { needs, rollup, .. } = self.base;
        let build = &needs.builds[rollup.builds[build].build];
        let rows = proposals.iter().flat_map(|proposal| &proposal.rows);
        rows.filter(|row| row.is_for(build.plan, &build.options)).collect()
    }

    /// Carries rows out in builds they are for.
    fn tried(&mut self, rows: &[&SwapRow], builds: &[usize]) -> Vec<Trial> {
        let Base { book, needs, rollup, .. } = self.base;
        let asked = &self.options.explode;
        let changed = book.changed(rows);
        let configured: Vec<Configured> = builds
            .iter()
            .map(|build| Configured {
                plan: needs.builds[rollup.builds[*build].build].plan,
                chosen: asked.chosen.clone(),
                without: asked.without.clone(),
            })
            .collect();
        let rolled = explode::explode_configured(&changed, &configured, needs.on, asked.unit)
            .and_then(|exploded| {
                let none = BTreeSet::new();
                let known = Known { book, needs, rollup, changed: &none };
                let options = rollup::Options { lot: Some(rollup.lot), ..self.options.cutting };
                let again =
                    rollup::rollup_again(&changed, &exploded.value, known, options, self.watch)?;
                let loads = loads::loads(&changed, &exploded.value, &loads::Options::default())?;
                Ok((exploded, again, loads))
            });
        let mut untried: Vec<Trial> = builds.iter().map(|build| self.untried(*build)).collect();
        let (exploded, again, weighed) = match rolled {
            Ok(rolled) => rolled,
            Err(errors) => {
                let gap = |error| Diagnostic { severity: Severity::Gap, ..error };
                self.tell(rows, errors.into_iter().map(gap).collect());
                for trial in &mut untried {
                    trial.state = State::Failed;
                }
                return untried;
            }
        };
        let mut found = exploded.warnings;
        found.extend(again.warnings);
        found.extend(weighed.warnings.into_iter().filter(|finding| {
            // What is said of the same rating or axle anyway differs in its figures only.
            !self.loads.warnings.iter().any(|known| known.place == finding.place)
        }));
        self.tell(rows, found);
        let mut unfit = Vec::with_capacity(builds.len());
        for (build, trial) in exploded.value.builds.iter().zip(&untried) {
            let known = &self.broken[rollup.builds[trial.build].build];
            let mut broken = limits::broken(&changed, &exploded.value, build);
            broken.retain(|one| !known.contains(one));
            self.findings.extend(limits::findings(&changed, &broken, rows));
            unfit.push(broken.iter().any(Broken::is_unfit));
        }
        for ((trial, after), is_unfit) in untried.iter_mut().zip(&again.value.builds).zip(unfit) {
            let before = &rollup.builds[trial.build];
            trial.after = Figures::of(&changed, after, &weighed.value.builds[after.build]);
            trial.state = match state(&changed, before, after) {
                State::Changed | State::Same if is_unfit => State::Unfit,
                state => state,
            };
        }
        untried
    }

    /// Tells what is found with rows and not without them, by the names of their swaps. What one swap alone was told for is
    /// not told again of several.
    fn tell(&mut self, rows: &[&SwapRow], found: Vec<Diagnostic>) {
        let mut swaps: Vec<String> = Vec::new();
        for row in rows {
            if !swaps.contains(&row.swap) {
                swaps.push(row.swap.clone());
            }
        }
        for finding in found {
            let is_known = |known: &Diagnostic| {
                known.problem == finding.problem && known.place == finding.place
            };
            let is_anyway = self.base.findings.iter().any(|known| known.problem == finding.problem);
            let is_told = swaps.len() > 1 && self.told.iter().any(is_known);
            if finding.severity == Severity::Note || is_anyway || is_told {
                continue;
            }
            if swaps.len() == 1 {
                self.told.push(finding.clone());
            }
            let fault = finding.problem.to_string();
            let problem = Problem::WithSwaps { swaps: swaps.clone(), fault };
            self.findings.insert(Diagnostic { problem, ..finding });
        }
    }

    fn tell_idle(&mut self, proposal: &Proposal, trials: &[Trial]) {
        let is_of = |state: State| trials.iter().any(|trial| trial.state == state);
        let is_idle =
            trials.iter().all(|trial| matches!(trial.state, State::Same | State::Elsewhere));
        if !is_idle {
            return;
        }
        let problem =
            Problem::SwapIdle { swap: proposal.name.clone(), is_for_any: is_of(State::Same) };
        let severity = if is_of(State::Same) { Severity::Warning } else { Severity::Note };
        let place = proposal.place(self.base.book, None);
        self.findings.insert(Diagnostic { severity, place, problem, hint: None });
    }
}

/// Returns what came of a build whose bill changed.
fn state(book: &Book, before: &BuildCost, after: &BuildCost) -> State {
    let items: BTreeSet<ItemId> =
        before.items.iter().chain(&after.items).map(|cost| cost.item).collect();
    let find =
        |cost: &BuildCost, item: ItemId| cost.items.iter().find(|cost| cost.item == item).cloned();
    let mut state = State::Same;
    for item in items {
        let (was, is) = (find(before, item), find(after, item));
        if let (Some(was), Some(is)) = (&was, &is)
            && is_same(was, is)
        {
            continue;
        }
        let both: Vec<ItemCost> = was.into_iter().chain(is).collect();
        let is_uncut = |cost: &ItemCost| {
            let has_no_size = book.item(item).is_nested() && book.sizes_of(item).is_empty();
            has_no_size
                || cost.nested.as_ref().is_some_and(|nested| !nested.nest.unplaced.is_empty())
        };
        let found = if both.iter().any(is_uncut) {
            State::Uncut
        } else if both.iter().any(|cost| cost.is_unpriced) {
            State::Unpriced
        } else if book.item(item).form != Form::Labor && book.item(item).weight.is_none() {
            State::Unweighed
        } else {
            State::Changed
        };
        state = match (state, found) {
            (State::Same | State::Changed, found) => found,
            (State::Unpriced | State::Unweighed, State::Uncut) => State::Uncut,
            (state, _) => state,
        };
    }
    state
}

/// Tells whether an item is taken, bought and weighed in the same way.
fn is_same(was: &ItemCost, is: &ItemCost) -> bool {
    was.used == is.used
        && was.purchases == is.purchases
        && was.cost == is.cost
        && was.weight == is.weight
        && was.nested == is.nested
}

/// Returns a weight for one unit in pounds as the weight of a lot, in whole units of the ledger's last place, rounded up.
fn of_lot(base: Base<'_>, pounds: &Ratio) -> Option<i128> {
    let lot = Ratio::from(i64::from(base.rollup.lot));
    let unit = &base.book.settings.weight_unit.factor;
    let weight = (pounds * &lot).checked_div(unit)? * Ratio::whole(10).power(WEIGHT_DIGITS);
    weight.ceil().to_integer()
}
