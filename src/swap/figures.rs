use std::cmp::Ordering;

use crate::loads::{BuildLoads, ConditionKind};
use crate::model::Book;
use crate::model::Form;
use crate::quantity::Ratio;
use crate::rollup::{BuildCost, ItemCost, WEIGHT_DIGITS};

/// What a build takes, for a lot, and how one unit of it hangs on hitch and axles.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Figures {
    /// Cost times ten to the power of the cost digits.
    pub cost: i128,
    /// Weight that rides, times ten to the power of [`WEIGHT_DIGITS`].
    pub weight: i128,
    /// Sheets bought.
    pub sheets: i128,
    /// Rolls bought.
    pub rolls: i128,
    /// Sticks bought; what is made to length is not counted.
    pub sticks: i128,
    /// Area of sheets and rolls that is bought and does not end up in the units, offcuts included, in square nanometers.
    pub waste_area: Ratio,
    /// Length of sticks likewise, in nanometers.
    pub waste_length: Ratio,
    /// Labor in minutes.
    pub labor_time: Ratio,
    /// Labor in money, times ten to the power of the cost digits.
    pub labor_cost: i128,
    /// Hitch load of one unit, unloaded, in pounds; nothing where it is not known.
    pub hitch: Option<Ratio>,
    /// Load on the axle group of one unit, unloaded, in pounds; nothing where it is not known.
    pub axle: Option<Ratio>,
    /// Cargo that the gross rating leaves one unit, in pounds; below zero where it weighs too much.
    pub capacity: Option<Ratio>,
}

impl Figures {
    pub(super) fn of(book: &Book, cost: &BuildCost, loads: &BuildLoads) -> Figures {
        let unloaded = loads.condition(ConditionKind::Dry).and_then(|dry| dry.support.as_ref());
        let mut figures = Figures {
            cost: cost.cost(),
            weight: cost.weight(),
            hitch: unloaded.map(|support| support.hitch.clone()),
            axle: unloaded.map(|support| support.axle.clone()),
            capacity: loads.capacity.clone(),
            ..Figures::default()
        };
        for item in &cost.items {
            let waste = || &item.bought - &item.used;
            match book.item(item.item).form {
                Form::Sheet => {
                    figures.sheets += sizes(item);
                    figures.waste_area += &waste();
                }
                Form::Roll => {
                    figures.rolls += sizes(item);
                    figures.waste_area += &waste();
                }
                Form::Linear => {
                    figures.sticks += sizes(item);
                    figures.waste_length += &waste();
                }
                Form::Labor => {
                    figures.labor_time += &item.used;
                    figures.labor_cost += item.cost;
                }
                Form::Count | Form::Bulk => {}
            }
        }
        figures
    }
}

/// Returns how many stock sizes are bought.
fn sizes(item: &ItemCost) -> i128 {
    let of_sizes = item.purchases.iter().filter(|purchase| purchase.size.is_some());
    let count: Ratio = of_sizes.map(|purchase| purchase.count.clone()).sum();
    count.to_integer().unwrap_or(0)
}

/// What a swap costs more, and what weight it saves.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Saving {
    /// Cost after less cost before, times ten to the power of the cost digits; below zero where money is saved.
    pub cost: i128,
    /// Weight before less weight after, times ten to the power of [`WEIGHT_DIGITS`]; below zero where weight is added.
    pub weight: i128,
}

impl Saving {
    /// Returns what one unit of weight saved costs, in money: below zero where money is saved too; nothing if no weight is
    /// saved.
    #[must_use]
    pub fn rate(self, cost_digits: u32) -> Option<Ratio> {
        if self.weight <= 0 {
            return None;
        }
        Ratio::decimal(self.cost, cost_digits)
            .checked_div(&Ratio::decimal(self.weight, WEIGHT_DIGITS))
    }

    /// Orders savings from the best: those that save weight and cost nothing more, the most money first and then the most
    /// weight; those whose pound saved costs least; those that save no weight, the most money first.
    #[must_use]
    pub fn order(self, other: Saving) -> Ordering {
        let class = |saving: Saving| match saving {
            Saving { weight, .. } if weight <= 0 => 2,
            Saving { cost, .. } if cost > 0 => 1,
            _ => 0,
        };
        let by_rate = || match (self.rate(0), other.rate(0)) {
            (Some(one), Some(other)) => one.cmp(&other),
            _ => Ordering::Equal,
        };
        let by_class = class(self).cmp(&class(other));
        let within = if class(self) == 1 { by_rate() } else { Ordering::Equal };
        by_class.then(within).then(self.cost.cmp(&other.cost)).then(other.weight.cmp(&self.weight))
    }
}

impl std::ops::Sub for Saving {
    type Output = Saving;
    fn sub(self, other: Saving) -> Saving {
        Saving { cost: self.cost - other.cost, weight: self.weight - other.weight }
    }
}

impl std::iter::Sum for Saving {
    fn sum<I: Iterator<Item = Saving>>(savings: I) -> Saving {
        savings.fold(Saving::default(), |sum, saving| Saving {
            cost: sum.cost + saving.cost,
            weight: sum.weight + saving.weight,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn savings_are_ordered_from_the_best() {
        // Money and weight saved; then by money per weight; then what saves no weight.
        let best_first =
            [(-50, 10), (-50, 5), (0, 3), (10, 10), (30, 20), (5, 2), (-900, 0), (0, -1), (4, -2)];
        let saving = |(cost, weight)| Saving { cost, weight };
        for (position, one) in best_first.into_iter().enumerate() {
            for (other_position, other) in best_first.into_iter().enumerate() {
                let expected = position.cmp(&other_position);
                assert_eq!(saving(one).order(saving(other)), expected, "{one:?} {other:?}");
            }
        }
    }

    #[test]
    fn a_rate_is_money_for_one_unit_of_weight() {
        let rate = |cost, weight| Saving { cost, weight }.rate(2);
        // 3.00 for 1.5 lb.
        assert_eq!(rate(300, 15_000), Some(Ratio::whole(2)));
        assert_eq!(rate(-300, 15_000), Some(Ratio::whole(-2)));
        assert_eq!(rate(300, 0), None);
        assert_eq!(rate(300, -15_000), None);
    }
}
