//! Ruin and recreate: takes pieces out of some sheets and puts them back otherwise, always towards a cheaper set of sheets.
//!
//! Idea: Gardeyn and Wauters, "A goal-driven ruin and recreate heuristic for the 2D variable-sized bin packing problem
//! with guillotine constraints" (2022). The goal is a cost below the best known; pieces that find no place under it stay
//! out, and their area is what the search lowers. Once none is out, the goal moves. Worse packings are taken by late
//! acceptance (Burke and Bykov, "The late acceptance hill-climbing heuristic", 2017); what does not get there in a while
//! starts again. Cost: one round costs as many steps as pieces put back times gaps.
#![expect(
    clippy::float_arithmetic,
    clippy::cast_precision_loss,
    reason = "search weights: they choose among valid packings and never reach a cost or a bound"
)]

use std::rc::Rc;
use std::sync::atomic::AtomicUsize;
use std::sync::atomic::Ordering;

use rayon::iter::{IndexedParallelIterator, IntoParallelIterator, ParallelIterator};

use crate::nest::random::Random;
use crate::nest::rect::packing::{Opening, Order, Packing, Rule, Rules, Split, Weights};
use crate::nest::rect::problem::Problem;
use crate::nest::rect::tree::Sheet;
use crate::watch::Watch;

/// Steps of the shortest chain of rounds for each piece, before the search starts again from the best packing.
const CHAIN: u64 = 300_000;

/// Rounds after which a packing is forgotten, at least.
const HISTORY: u64 = 80;
/// Of a longer chain they are more: that of the shortest full chain is forgotten after so many.
const LONG_HISTORY: u64 = 1000;

/// Chains looked for at once. More would be begun in vain where an early one finds something.
const CHAINS: u64 = 4;

/// Work left and who may stop it.
pub(super) struct Budget<'a> {
    pub(super) left: u64,
    pub(super) watch: &'a dyn Watch,
    pub(super) is_stopped: bool,
}

impl Budget<'_> {
    pub(super) fn spend(&mut self, work: u64) {
        self.left = self.left.saturating_sub(work);
    }
}

/// Costs between which a better packing is looked for.
#[derive(Clone, Copy, Debug)]
pub(super) struct Goals {
    /// No packing is cheaper.
    pub(super) least: f64,
    /// Cost of what the packing takes: less than that of its sheets where a roll is charged as far as pieces reach.
    pub(super) known: f64,
}

/// Lowers the cost of a packing, or the area out of it, until the cost is the least or the budget is spent.
///
/// Some chains are run at once where cores are idle, but the first in order that finds something counts, and work is
/// counted as if one had followed the other: the answer is the same on any number of cores.
pub(super) fn improve(
    problem: &Problem,
    weights: &Weights,
    start: Packing,
    goals: Goals,
    budget: &mut Budget<'_>,
    random: &mut Random,
) -> Packing {
    let mut best = start;
    let shortest = CHAIN * (44 + (best.pool.len() + best.piece_count()) as u64);
    let mut tried = 0_u64;
    while budget.left > 0 && !budget.is_stopped {
        let limit = if best.pool.is_empty() {
            let cost = best.cost.min(goals.known);
            if cost <= goals.least + 1e-9 || best.sheets.is_empty() {
                break;
            }
            next_goal(problem, cost)
        } else {
            f64::MAX
        };
        let mut chains = Vec::new();
        let mut left = budget.left;
        for place in 1..=CHAINS {
            let work = left.min(shortest.saturating_mul(luby(tried + place)));
            if work == 0 {
                break;
            }
            left -= work;
            // The first goes on with the numbers of its caller.
            let random = if place == 1 { random.clone() } else { Random::new(random.next()) };
            let history = work / (shortest / LONG_HISTORY).max(1);
            let history = usize::try_from(history.max(HISTORY)).unwrap_or(usize::MAX);
            chains.push(Chain { start: Start::new(&best), limit, work, history, random });
        }
        tried += chains.len() as u64;
        // The lowest place that has found something.
        let first = AtomicUsize::new(usize::MAX);
        let watch = budget.watch;
        let ends: Vec<End> = chains
            .into_par_iter()
            .enumerate()
            .map(|(place, chain)| {
                let is_over = || first.load(Ordering::Relaxed) < place || watch.is_stopped();
                let end = chain.reach(problem, weights, is_over);
                if end.found.is_some() {
                    first.fetch_min(place, Ordering::Relaxed);
                }
                end
            })
            .collect();
        budget.is_stopped |= watch.is_stopped();
        let mut is_begun = false;
        for end in ends {
            budget.left = budget.left.saturating_sub(end.spent);
            is_begun |= end.is_begun;
            *random = end.random;
            if let Some(found) = end.found {
                best = found.packing();
                tried = 0;
                break;
            }
        }
        if !is_begun {
            // No sheets are as cheap as that.
            break;
        }
    }
    best
}

/// The sequence 1 1 2 1 1 2 4 1 1 2 ..: of search that may be lucky early or late, restarts of such lengths lose least (Luby,
/// Sinclair and Zuckerman, "Optimal speedup of Las Vegas algorithms", 1993). Counts from 1.
pub(super) fn luby(position: u64) -> u64 {
    let mut size = 1;
    while size < position {
        size = 2 * size + 1;
    }
    let mut position = position;
    while size > 1 && position != size {
        size /= 2;
        if position > size {
            position -= size;
        }
    }
    size.div_ceil(2)
}

/// The dearest cost that is better. Costs are counted in the dearest bin, so a step of a millionth tells any two apart.
fn next_goal(problem: &Problem, cost: f64) -> f64 {
    if problem.charges_length { cost * (1.0 - 1.0 / 512.0) } else { cost - 1e-6 }
}

/// A packing that may go to another thread.
struct Start {
    sheets: Vec<Sheet>,
    pool: Vec<usize>,
    left: Vec<Option<u64>>,
    cost: f64,
}

impl Start {
    fn new(packing: &Packing) -> Start {
        Start {
            sheets: packing.sheets.iter().map(|sheet| (**sheet).clone()).collect(),
            pool: packing.pool.clone(),
            left: packing.left.clone(),
            cost: packing.cost,
        }
    }

    fn packing(self) -> Packing {
        let Start { sheets, pool, left, cost } = self;
        Packing { sheets: sheets.into_iter().map(Rc::new).collect(), pool, left, cost }
    }
}

/// Rounds of ruin and recreate from one packing towards one goal.
struct Chain {
    start: Start,
    /// Cost to stay within.
    limit: f64,
    /// Steps allowed.
    work: u64,
    /// Rounds after which a packing is forgotten.
    history: usize,
    random: Random,
}

/// How a chain ended.
struct End {
    found: Option<Start>,
    spent: u64,
    /// Whether some sheets are as cheap as asked.
    is_begun: bool,
    random: Random,
}

impl Chain {
    /// Looks for a packing within the limit with nothing out; without a limit, for one with less out.
    fn reach(self, problem: &Problem, weights: &Weights, is_over: impl Fn() -> bool) -> End {
        let Chain { start, limit, work, history, mut random } = self;
        let start = start.packing();
        let mut state = start.clone();
        let end = |found: Option<Packing>, spent: u64, is_begun: bool, random: Random| End {
            found: found.map(|packing| Start::new(&packing)),
            spent: spent.min(work),
            is_begun,
            random,
        };
        while state.cost > limit {
            // Any but the fullest sheets, so that each start is another one.
            let mut order: Vec<usize> = (0..state.sheets.len()).collect();
            let fill = |index: &usize| filled(weights, &state, *index);
            order.sort_by(|left, right| fill(left).total_cmp(&fill(right)));
            let Some(chosen) = order.get(random.index(order.len().div_ceil(3).max(1))) else {
                return end(None, 0, false, random);
            };
            state.close(problem, weights, *chosen);
        }
        let start_out = start.area_out(weights);
        let mean_area = weights.areas.iter().sum::<f64>() / weights.areas.len() as f64;
        let value = |packing: &Packing| {
            packing.area_out(weights) / mean_area - packing.gathered() / mean_area / 64.0
        };
        let first_rules = rules(problem, &mut random);
        let mut spent = state.fill(problem, weights, first_rules, limit, &mut random);
        let mut state_value = value(&state);
        let mut values = vec![state_value; history];
        let mut least: Option<Packing> = None;
        let mut least_out = start_out;
        for round in 0_usize.. {
            if state.pool.is_empty() {
                return end(Some(state), spent, true, random);
            }
            if !start.pool.is_empty() && state.area_out(weights) < least_out {
                least_out = state.area_out(weights);
                least = Some(state.clone());
            }
            if spent >= work || (round % 64 == 0 && is_over()) {
                return end(least, spent, true, random);
            }
            let mut tried = state.clone();
            let mut known = vec![false; problem.items.len()];
            for item in &state.pool {
                known[*item] = true;
            }
            spent += 60 + ruin(problem, weights, &mut tried, &mut random);
            let rules = rules(problem, &mut random);
            spent += tried.fill_changed(problem, weights, rules, limit, &known, &mut random);
            let tried_value = value(&tried);
            let slot = round % history;
            if tried_value <= values[slot] || tried_value <= state_value {
                state = tried;
                state_value = tried_value;
            }
            if state_value < values[slot] {
                values[slot] = state_value;
            }
        }
        end(None, spent, true, random)
    }
}

fn filled(weights: &Weights, packing: &Packing, index: usize) -> f64 {
    let sheet = &packing.sheets[index];
    1.0 - sheet.waste() / weights.areas[sheet.bin]
}

pub(super) fn rules(problem: &Problem, random: &mut Random) -> Rules {
    let order = match random.below(8) {
        0..=2 => Order::Area,
        3 => Order::Longest,
        4 => Order::Perimeter,
        _ => Order::Blurred,
    };
    let fit = match random.below(4) {
        0 | 1 => Rule::Short,
        2 => Rule::Area,
        _ => Rule::Long,
    };
    let split = match random.below(8) {
        0 => Split::Even,
        1 => Split::Length,
        2 => Split::Width,
        _ => Split::Large,
    };
    let opening = if problem.bins.len() > 1 { Opening::Random } else { Opening::Cheapest };
    Rules { order, fit, split, opening, blink: 6 }
}

/// Takes out subtrees of one to three sheets until some pieces are out, now and then a whole sheet.
/// Returns the work done.
pub(super) fn ruin(
    problem: &Problem,
    weights: &Weights,
    packing: &mut Packing,
    random: &mut Random,
) -> u64 {
    let mut work = packing.sheets.len() as u64 / 2;
    if packing.sheets.is_empty() {
        return work;
    }
    if problem.bins.len() > 1 && random.below(8) == 0 {
        let index = random.index(packing.sheets.len());
        packing.close(problem, weights, index);
    }
    let mut wanted = 1 + random.index(4);
    while random.below(4) != 0 && wanted < 24 {
        wanted += 2;
    }
    let sheet_count = 1 + random.index(3);
    let mut removed_count = 0;
    for _ in 0..sheet_count {
        if packing.sheets.is_empty() {
            break;
        }
        let index = random.index(packing.sheets.len());
        let sheet = Rc::make_mut(&mut packing.sheets[index]);
        work += sheet.size() / 4;
        while removed_count < wanted && !sheet.is_empty() {
            let target = random.index(sheet.piece_count());
            let levels = match random.below(8) {
                0..=3 => 0,
                4 | 5 => 1,
                6 => 2,
                _ => 3,
            };
            work += sheet.size();
            let removed = sheet.remove(target, levels, problem.has_edges);
            removed_count += removed.len();
            packing.pool.extend(removed);
            if random.below(3) == 0 {
                break;
            }
        }
    }
    packing.drop_empty(problem, weights);
    work
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn restarts_are_mostly_short_and_seldom_long() {
        let lengths: Vec<u64> = (1..=15).map(luby).collect();
        assert_eq!(lengths, [1, 1, 2, 1, 1, 2, 4, 1, 1, 2, 1, 1, 2, 4, 8]);
    }
}
