//! Lower bounds in whole numbers, whatever the floats of the search did.
//!
//! Given any prices of pieces and run, no stick is worth more than its most valuable pattern. So the sticks of any nest
//! satisfy: sum of (sticks x their best value) >= sum of (demand x price). The least cost of sticks that satisfy it is a
//! bound: with sticks taken in fractions it is Farley's (A note on bounding a class of linear programming problems,
//! including cutting stock problems, Operations Research 38, 1990), extended to limited stock; with whole sticks it is a
//! knapsack covering problem, which also knows which total costs can occur at all.

use crate::nest::linear::knapsack::Prices;
use crate::nest::linear::problem::Problem;
use crate::quantity::Ratio;

/// Largest cost, in units, the table of whole sticks is made for.
const TABLE_LIMIT: i128 = 1 << 20;

/// Prices of what is needed, summed, and what a stick of each bar is worth at most at these prices.
#[derive(Clone, Debug)]
pub(super) struct Cover {
    pub(super) total: i128,
    /// By position in [`Problem::bars`].
    pub(super) worth: Vec<i64>,
}

impl Cover {
    /// Prices everything by its length: the bound is that of the material.
    pub(super) fn of_length(problem: &Problem) -> Cover {
        Cover {
            total: problem.load(),
            worth: problem.bars.iter().map(|bar| bar.capacity).collect(),
        }
    }

    /// Takes prices and the proven values of the best patterns.
    pub(super) fn of_prices(problem: &Problem, prices: &Prices, worth: Vec<i64>) -> Cover {
        let pieces = prices.items.iter().zip(&problem.demand);
        let pieces: i128 = pieces.map(|(price, need)| i128::from(*price) * i128::from(*need)).sum();
        Cover { total: pieces + i128::from(prices.run) * i128::from(problem.run.max(0)), worth }
    }

    /// Returns the least cost, in units, of sticks taken in fractions; rounded up.
    ///
    /// Scaled by a factor, the prices stay a bound if the sticks that are limited pay for what they are worth above
    /// their cost. The bound is concave in the factor with a bend where a stick is worth its cost, so one of these
    /// factors is best.
    pub(super) fn fractional(&self, problem: &Problem) -> i128 {
        let factor = |bar: usize| {
            Ratio::new(i128::from(problem.bars[bar].cost), i128::from(self.worth[bar]))
        };
        let mut factors: Vec<Ratio> = (0..problem.bars.len()).filter_map(factor).collect();
        let unlimited = (0..problem.bars.len())
            .filter(|bar| problem.bars[*bar].available.is_none())
            .filter_map(factor)
            .min();
        factors.sort();
        factors.dedup();
        let mut best = Ratio::ZERO;
        for factor in factors {
            if unlimited.as_ref().is_some_and(|most| factor > *most) {
                break;
            }
            let mut value = &factor * &Ratio::whole(self.total);
            for (bar, worth) in problem.bars.iter().zip(&self.worth) {
                if let Some(available) = bar.available {
                    let over = &factor * &Ratio::from(*worth) - Ratio::from(bar.cost);
                    if over > Ratio::ZERO {
                        value = value - over * Ratio::from(available);
                    }
                }
            }
            best = best.max(value);
        }
        best.ceil().to_integer().unwrap_or(0)
    }

    /// Returns the least cost from `from` to `most`, in units, at which whole sticks can cover the total; `most` if there
    /// is none.
    pub(super) fn whole(&self, problem: &Problem, from: i128, most: i128) -> i128 {
        if from >= most || most > TABLE_LIMIT {
            return from;
        }
        let size = usize::try_from(most).expect("the limit fits");
        // The most that sticks of exactly this cost are worth; below zero where no sticks cost this.
        let mut table = vec![-1_i128; size];
        table[0] = 0;
        for (bar, worth) in problem.bars.iter().zip(&self.worth) {
            let cost = usize::try_from(bar.cost).unwrap_or(usize::MAX).min(size);
            let worth = i128::from(*worth);
            if cost == 0 {
                // Free sticks: all there are, or as many as it takes.
                let free = bar.available.map_or(self.total, |count| worth * i128::from(count));
                for entry in table.iter_mut().filter(|entry| **entry >= 0) {
                    *entry += free;
                }
                continue;
            }
            let Some(available) = bar.available else {
                for index in cost..size {
                    if table[index - cost] >= 0 {
                        table[index] = table[index].max(table[index - cost] + worth);
                    }
                }
                continue;
            };
            let mut left = available;
            let mut bundle = 1_i64;
            while left > 0 {
                let copies = bundle.min(left);
                let step = usize::try_from(copies).unwrap_or(size).saturating_mul(cost);
                if step >= size {
                    break;
                }
                for index in (step..size).rev() {
                    if table[index - step] >= 0 {
                        let value = table[index - step] + worth * i128::from(copies);
                        table[index] = table[index].max(value);
                    }
                }
                left -= copies;
                bundle *= 2;
            }
        }
        let first = usize::try_from(from.max(0)).expect("it is below the limit");
        (first..size)
            .find(|cost| table[*cost] >= self.total)
            .map_or(most, |cost| i128::try_from(cost).expect("it is below the limit"))
    }

    /// Returns the least number of sticks that can cover the total.
    pub(super) fn stocks(&self, problem: &Problem) -> u64 {
        let mut order: Vec<usize> = (0..self.worth.len()).collect();
        order.sort_by_key(|bar| std::cmp::Reverse(self.worth[*bar]));
        let mut left = self.total;
        let mut count = 0;
        for bar in order {
            let worth = i128::from(self.worth[bar]);
            if left <= 0 || worth <= 0 {
                break;
            }
            let sticks = (left + worth - 1) / worth;
            let sticks =
                problem.bars[bar].available.map_or(sticks, |most| sticks.min(i128::from(most)));
            count += sticks;
            left -= sticks * worth;
        }
        u64::try_from(count).unwrap_or(u64::MAX)
    }
}
