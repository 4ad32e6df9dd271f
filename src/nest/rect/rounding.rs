//! From fractions of patterns to whole sheets: dives.
//!
//! The whole parts of the program's solution are cut, the largest fractions rounded up, and the program is solved afresh for
//! what is left (residual problems; Belov and Scheithauer, "A branch-and-cut-and-price algorithm for one-dimensional and
//! two-dimensional stock cutting", 2006). The last pieces are packed one by one. Cost: a few rounds of pricing for each
//! step of the dive.
#![expect(
    clippy::float_arithmetic,
    clippy::cast_precision_loss,
    reason = "search weights: they choose among valid packings and never reach a cost or a bound"
)]

use crate::nest::budget::Budget;
use crate::nest::random::Random;
use crate::nest::rect::build::{self, Group, Grouped, charged_length};
use crate::nest::rect::columns::Master;
use crate::nest::rect::tree::Sheet;
use crate::watch::Watch;

/// A fraction from here on is rounded up with the largest.
const NEAR: f64 = 0.75;
/// Rounds of pricing for each step down.
const ROUNDS: usize = 6;
/// Pieces that are packed one by one once no more are left.
const FEW: u64 = 40;

/// Steps that packing these may take.
const LAST: u64 = 200_000;

/// Most dives. The first takes the largest fractions; the others choose among near ones by chance.
const DIVES: usize = 12;
/// How far chance may move a fraction.
const CHANCE: f64 = 0.4;

/// Returns the best nest that dives end with; one is made always, more while there is work left and `goal` is not reached.
pub(super) fn rounded(
    master: &mut Master<'_>,
    goal: f64,
    work: &mut u64,
    watch: &dyn Watch,
    random: &mut Random,
) -> Grouped {
    let mut budget = Budget::new(*work);
    let relaxed = master.parts();
    let mut best = dive(master, relaxed.clone(), 0.0, goal, &mut budget, watch, random);
    for _ in 1..DIVES {
        let is_enough = best.cost <= goal + 1e-9 && best.out.iter().all(|out| *out == 0);
        if is_enough || budget.is_spent() || watch.is_stopped() {
            break;
        }
        let found = dive(master, relaxed.clone(), CHANCE, goal, &mut budget, watch, random);
        if found.value(master.weights) < best.value(master.weights) {
            best = found;
        }
    }
    *work = budget.left();
    best
}

/// Goes down from the parts of a solution to a nest.
fn dive(
    master: &mut Master<'_>,
    mut parts: Vec<(usize, f64)>,
    chance: f64,
    goal: f64,
    budget: &mut Budget,
    watch: &dyn Watch,
    random: &mut Random,
) -> Grouped {
    let mut rest = Rest::new(master);
    loop {
        for (pattern, value) in &mut parts {
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "above zero and not above a demand"
            )]
            let times = (*value + 1e-6).floor() as u64;
            let sheet = &master.patterns[*pattern];
            rest.take(master, sheet, times);
            *value -= times as f64;
            *value += chance * random.below(1024) as f64 / 1024.0;
        }
        parts.sort_by(|left, right| right.1.total_cmp(&left.1).then(left.0.cmp(&right.0)));
        let is_over = budget.is_spent() || watch.is_stopped();
        if is_over || parts.is_empty() || rest.count() <= FEW {
            return rest.completed(master, goal, random);
        }
        let prices = master.prices();
        let least = parts[0].1.min(NEAR);
        for (pattern, _) in parts.iter().take_while(|(_, value)| *value >= least) {
            let sheet = master.patterns[*pattern].clone();
            let (sheet, surplus) = master.clipped(sheet, &rest.out);
            if sheet.is_empty() {
                continue;
            }
            let sheet = if surplus {
                master.filled(sheet, &rest.out, &prices, budget, random)
            } else {
                sheet
            };
            rest.take(master, &sheet, 1);
        }
        master.restart(rest.out.clone(), &rest.left);
        master.relax(ROUNDS, budget, watch, random);
        parts = master.parts();
    }
}

/// A nest in the making: what is cut and what is still out.
struct Rest {
    groups: Vec<Group>,
    out: Vec<u64>,
    left: Vec<Option<u64>>,
    cost: f64,
}

impl Rest {
    fn new(master: &Master<'_>) -> Rest {
        let problem = master.problem;
        Rest {
            groups: Vec::new(),
            out: problem.items.iter().map(|item| item.count).collect(),
            left: problem.bins.iter().map(|bin| bin.available).collect(),
            cost: 0.0,
        }
    }

    /// Returns how many pieces are out.
    fn count(&self) -> u64 {
        self.out.iter().fold(0, |sum, out| sum.saturating_add(*out))
    }

    /// Cuts a sheet so many times, or fewer where that is more than is needed or there.
    fn take(&mut self, master: &Master<'_>, sheet: &Sheet, times: u64) {
        let used = master.used(sheet);
        let needed = self.out.iter().zip(&used).filter(|(_, used)| **used > 0);
        let mut repeat = needed.map(|(out, used)| out / used).min().unwrap_or(0).min(times);
        if let Some(left) = &mut self.left[sheet.bin] {
            repeat = repeat.min(*left);
            *left -= repeat;
        }
        if repeat == 0 {
            return;
        }
        for (out, used) in self.out.iter_mut().zip(&used) {
            *out -= used * repeat;
        }
        let length = charged_length(master.problem, sheet);
        self.cost += master.weights.cost(master.problem, sheet.bin, length) * repeat as f64;
        self.groups.push(Group { sheet: sheet.clone(), repeat });
    }

    /// Returns the nest with the rest packed.
    fn completed(&self, master: &Master<'_>, goal: f64, random: &mut Random) -> Grouped {
        let (problem, weights) = (master.problem, master.weights);
        let (out, left) = (self.out.clone(), self.left.clone());
        let goal = goal - self.cost;
        let mut found = build::rest(problem, weights, out, left, goal, &mut { LAST }, random);
        found.groups.extend(self.groups.iter().cloned());
        found.cost += self.cost;
        found
    }
}
