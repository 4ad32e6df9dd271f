use std::collections::BTreeSet;

use crate::model::Book;
use crate::model::LineId;
use crate::quantity::Ratio;
use crate::swap::{Bench, Proposal, Saving, State, Trial, of_lot};

/// The set of swaps that saves a weight at least cost, in one build.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Best {
    /// Position in the builds of the needs.
    pub build: usize,
    /// Weight the lot shall lose, in whole units of the ledger's last place.
    pub target: i128,
    /// Why each proposal is in the set or not.
    pub reasons: Vec<Reason>,
    /// What the singles of the set sum to.
    pub singles: Saving,
    /// The set tried together.
    pub together: Trial,
    /// Whether no other set does it for less, by the sum of singles: every set was looked at or ruled out.
    pub is_proven: bool,
    /// How often the set was found anew for a higher target, since together it saved less than its singles.
    pub retries: u32,
}

/// Why a swap is in the best set or not.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Reason {
    /// It is in the set for its weight.
    SavesWeight,
    /// It is in the set since it costs less, with or without weight.
    SavesMoney,
    /// The target is met for less without it.
    NotNeeded,
    /// It changes the same as the swap at this position, which is in the set.
    Excluded(usize),
    /// It saves neither weight nor money.
    SavesNothing,
    /// Its trial is not known.
    Unknown(State),
}

impl Reason {
    /// Tells whether the swap is in the set.
    #[must_use]
    pub fn is_chosen(self) -> bool {
        matches!(self, Reason::SavesWeight | Reason::SavesMoney)
    }
}

impl Best {
    /// Tells whether the set, tried together, saves what it shall.
    #[must_use]
    pub fn is_met(&self) -> bool {
        self.together.saving().weight >= self.target
    }
}

/// How often a set that falls short is found anew for a target raised by what is missing.
const MOST_RETRIES: u32 = 4;
/// Sets that are looked at before the best so far is taken.
const MOST_NODES: u64 = 500_000;

/// Finds the best set for a build; `save` is the weight one unit shall lose, in pounds.
pub(super) fn best(
    bench: &mut Bench<'_>,
    proposals: &[Proposal],
    singles: &[Vec<Trial>],
    build: usize,
    save: &Ratio,
) -> Best {
    let target = of_lot(bench.base, save).unwrap_or(i128::MAX / 4);
    let trials: Vec<&Trial> = singles.iter().map(|trials| &trials[build]).collect();
    let conflicts = conflicts(bench, proposals, build);
    let candidates: Vec<Candidate> = trials
        .iter()
        .enumerate()
        .filter(|(_, trial)| trial.is_known())
        .map(|(swap, trial)| Candidate { swap, saving: trial.saving() })
        .collect();
    let mut raised = target;
    let mut retries = 0;
    loop {
        let (chosen, is_proven) = choose(&candidates, &conflicts, raised);
        let of_set = |swap: &usize| trials[*swap].saving();
        let singles: Saving = chosen.iter().map(of_set).sum();
        let set: Vec<&Proposal> = chosen.iter().map(|swap| &proposals[*swap]).collect();
        let together = bench.trials(&set, &[build]).remove(0);
        let missing = target - together.saving().weight;
        let can_more = singles.weight >= raised && together.is_known();
        if missing > 0 && can_more && retries < MOST_RETRIES {
            raised += missing;
            retries += 1;
            continue;
        }
        let reasons = trials
            .iter()
            .enumerate()
            .map(|(swap, trial)| reason(swap, trial, &chosen, &conflicts))
            .collect();
        return Best { build, target, reasons, singles, together, is_proven, retries };
    }
}

fn reason(swap: usize, trial: &Trial, chosen: &[usize], conflicts: &Conflicts) -> Reason {
    let saving = trial.saving();
    if !trial.is_known() {
        return Reason::Unknown(trial.state);
    }
    if chosen.contains(&swap) {
        return if saving.cost < 0 { Reason::SavesMoney } else { Reason::SavesWeight };
    }
    if let Some(other) = chosen.iter().find(|other| conflicts.contains(&pair(swap, **other))) {
        return Reason::Excluded(*other);
    }
    if saving.weight <= 0 && saving.cost >= 0 { Reason::SavesNothing } else { Reason::NotNeeded }
}

/// Pairs of swaps that cannot both be in a set, the smaller position first.
type Conflicts = BTreeSet<(usize, usize)>;

fn pair(one: usize, other: usize) -> (usize, usize) {
    (one.min(other), one.max(other))
}

/// Returns the swaps that change the same line, or set the same dimension of the same assembly or plan.
fn conflicts(bench: &Bench<'_>, proposals: &[Proposal], build: usize) -> Conflicts {
    let acts: Vec<(BTreeSet<LineId>, Vec<String>)> = proposals
        .iter()
        .map(|proposal| touched(bench.base.book, &bench.rows_for(&[proposal], build)))
        .collect();
    let mut found = Conflicts::new();
    for (position, (lines, set)) in acts.iter().enumerate() {
        for (other, (other_lines, other_set)) in acts.iter().enumerate().skip(position + 1) {
            if !lines.is_disjoint(other_lines) || set.iter().any(|name| other_set.contains(name)) {
                found.insert((position, other));
            }
        }
    }
    found
}

fn touched(book: &Book, rows: &[&crate::model::SwapRow]) -> (BTreeSet<LineId>, Vec<String>) {
    let lines = rows.iter().flat_map(|row| book.acted_on(row)).collect();
    let names = rows.iter().flat_map(|row| {
        row.set.iter().map(|(name, _)| format!("{name} {:?} {:?}", row.parent, row.assembly))
    });
    (lines, names.collect())
}

/// A swap that may be in the set.
#[derive(Clone, Copy, Debug)]
struct Candidate {
    swap: usize,
    saving: Saving,
}

/// Returns the positions of the swaps that save the target at least cost, and whether that is proven; if none do, those that
/// save the most. Of sets that cost the same, the one that saves more; then the first found.
///
/// Branch and bound over the sums of the singles: an integer program of one constraint and pairs that exclude each other,
/// small enough for a search of our own that is exact and needs no floats. A branch is left if even parts of swaps, those
/// whose weight costs least first, would not make its set cheaper than the best.
fn choose(candidates: &[Candidate], conflicts: &Conflicts, target: i128) -> (Vec<usize>, bool) {
    let mut order: Vec<Candidate> = candidates
        .iter()
        .copied()
        .filter(|candidate| candidate.saving.weight > 0 || candidate.saving.cost < 0)
        .collect();
    // Those that save weight by what it costs, those that only save money last.
    order.sort_by(|one, other| one.saving.order(other.saving));
    let mut search = Search {
        order: &order,
        conflicts,
        target,
        chosen: Vec::new(),
        best: (Vec::new(), value(Saving::default(), target)),
        nodes: 0,
    };
    search.branch(0, Saving::default());
    let mut chosen = search.best.0;
    chosen.sort_unstable();
    (chosen, search.nodes <= MOST_NODES)
}

/// What a set is worth, less being better: the weight that is missing, the cost, the weight saved from the most.
type Worth = (i128, i128, i128);

fn value(saving: Saving, target: i128) -> Worth {
    ((target - saving.weight).max(0), saving.cost, -saving.weight)
}

struct Search<'a> {
    order: &'a [Candidate],
    conflicts: &'a Conflicts,
    target: i128,
    chosen: Vec<usize>,
    best: (Vec<usize>, Worth),
    nodes: u64,
}

impl Search<'_> {
    fn branch(&mut self, next: usize, sum: Saving) {
        self.nodes += 1;
        let worth = value(sum, self.target);
        if worth < self.best.1 {
            self.best = (self.chosen.clone(), worth);
        }
        let Some(candidate) = self.order.get(next) else { return };
        if self.nodes > MOST_NODES || !self.may_be_better(next, sum) {
            return;
        }
        let is_free = |other: &usize| !self.conflicts.contains(&pair(candidate.swap, *other));
        if self.chosen.iter().all(is_free) {
            self.chosen.push(candidate.swap);
            self.branch(next + 1, [sum, candidate.saving].into_iter().sum());
            self.chosen.pop();
        }
        self.branch(next + 1, sum);
    }

    /// Tells whether some of the swaps from `next` on could make the set better than the best, were they not whole and did
    /// none exclude another.
    fn may_be_better(&self, next: usize, sum: Saving) -> bool {
        let rest = &self.order[next..];
        let most: i128 = rest.iter().map(|it| it.saving.weight.max(0)).sum();
        let missing = (self.target - sum.weight - most).max(0);
        if missing != self.best.1.0 {
            return missing < self.best.1.0;
        }
        let mut needed = (self.target - sum.weight).max(0);
        let mut cost = Ratio::whole(sum.cost);
        let is_free = |it: &&Candidate| it.saving.cost <= 0;
        for free in rest.iter().filter(is_free) {
            cost += &Ratio::whole(free.saving.cost);
            needed -= free.saving.weight.max(0);
        }
        for dear in rest.iter().filter(|it| !is_free(it)) {
            if needed <= 0 {
                break;
            }
            let part = needed.min(dear.saving.weight);
            let share = Ratio::new(part, dear.saving.weight).expect("it saves weight");
            cost += &(share * Ratio::whole(dear.saving.cost));
            needed -= part;
        }
        // Of sets of equal cost, one that saves more weight is better.
        cost <= Ratio::whole(self.best.1.1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::nest::Random;

    fn candidates(savings: &[(i128, i128)]) -> Vec<Candidate> {
        let candidate = |(swap, (cost, weight)): (usize, &(i128, i128))| Candidate {
            swap,
            saving: Saving { cost: *cost, weight: *weight },
        };
        savings.iter().enumerate().map(candidate).collect()
    }

    /// Looks at every set there is.
    fn slowly(candidates: &[Candidate], conflicts: &Conflicts, target: i128) -> Worth {
        let sets = (0_u32..1 << candidates.len()).filter_map(|set| {
            let chosen: Vec<&Candidate> =
                candidates.iter().filter(|it| set >> it.swap & 1 == 1).collect();
            let is_free = chosen
                .iter()
                .all(|one| chosen.iter().all(|other| !conflicts.contains(&(one.swap, other.swap))));
            is_free.then(|| value(chosen.iter().map(|it| it.saving).sum(), target))
        });
        sets.min().unwrap()
    }

    #[test]
    fn the_set_of_least_cost_is_not_that_of_the_best_pounds() {
        // Rates 1, 1.1 and 1.2; the cheapest pounds first would take both small ones and the large one.
        let swaps = candidates(&[(10, 10), (11, 10), (24, 20)]);
        assert_eq!(choose(&swaps, &Conflicts::new(), 20).0, [0, 1]);
        assert_eq!(choose(&swaps, &Conflicts::new(), 25).0, [0, 2]);
        assert_eq!(choose(&swaps, &Conflicts::from([(0, 1)]), 20).0, [2]);
        // Nothing saves that much: all that can be saved.
        assert_eq!(choose(&swaps, &Conflicts::new(), 99).0, [0, 1, 2]);
        assert_eq!(choose(&[], &Conflicts::new(), 99).0, Vec::<usize>::new());
    }

    #[test]
    fn money_saved_is_taken_even_where_it_weighs() {
        let swaps = candidates(&[(-5, -1), (-5, -30), (20, 40), (0, 0), (3, -4)]);
        assert_eq!(choose(&swaps, &Conflicts::new(), 10).0, [0, 2]);
    }

    #[test]
    fn the_search_finds_what_looking_at_every_set_finds() {
        let mut random = Random::new(7);
        for round in 0..400 {
            let count = 1 + random.index(10);
            let mut number = |least: i128, count: u64| least + i128::from(random.below(count));
            let savings: Vec<(i128, i128)> =
                (0..count).map(|_| (number(-20, 80), number(-10, 60))).collect();
            let target = number(1, 200);
            let mut conflicts = Conflicts::new();
            for _ in 0..number(0, 4) {
                let (one, other) = (random.index(10), random.index(10));
                if one != other {
                    conflicts.insert(pair(one, other));
                }
            }
            let swaps = candidates(&savings);
            let (chosen, is_proven) = choose(&swaps, &conflicts, target);
            assert!(is_proven);
            let worth = value(chosen.iter().map(|swap| swaps[*swap].saving).sum(), target);
            assert_eq!(worth, slowly(&swaps, &conflicts, target), "round {round}: {savings:?}");
            let is_free =
                |(one, other): &(usize, usize)| !(chosen.contains(one) && chosen.contains(other));
            assert!(conflicts.iter().all(is_free), "round {round}");
        }
    }
}
