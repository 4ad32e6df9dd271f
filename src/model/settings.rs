use jiff::civil::Date;

use crate::model::Unit;
use crate::quantity::Length;
use crate::quantity::Ratio;
use crate::quantity::Rounding;

/// How sheets are cut.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Cutting {
    /// Straight cuts from edge to edge, as a panel saw makes them.
    #[default]
    Guillotine,
    /// Any layout without overlap, as a router cuts it.
    Free,
}

/// How many sheets or sticks are sawn together at most.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BookHeight {
    /// So many; 1 or more.
    Count(u32),
    /// As many as are not higher together; above zero.
    Height(Length),
}

impl BookHeight {
    /// Returns how many of a thickness are sawn together at most, one at least; nothing for a height of what has no
    /// thickness.
    #[must_use]
    pub fn most(self, thickness: Option<Length>) -> Option<u64> {
        match self {
            BookHeight::Count(count) => Some(u64::from(count).max(1)),
            BookHeight::Height(height) => {
                let most = height.nanometers() / thickness?.nanometers().max(1);
                Some(u64::try_from(most).unwrap_or(1).max(1))
            }
        }
    }
}

/// How the last, partly used roll is charged.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum RollCharge {
    /// Every roll that is opened is charged whole.
    #[default]
    Roll,
    /// The length taken is charged; the rest of the last roll is stock.
    Length,
}

/// The day the price of an order is looked up for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum PriceDay {
    /// The day of the order.
    #[default]
    Order,
    /// The day it is due, for a build.
    Due,
}

/// What a learning curve speaks of.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum LearningForm {
    /// The time of the unit itself falls to the share with each doubling (Crawford).
    #[default]
    Unit,
    /// The average time of all units so far falls to the share with each doubling (Wright 1936).
    Average,
}

/// How labor falls from the first unit on, until the standard is reached.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Learning {
    /// What is left with each doubling, from 0.5 to 1: 0.85 for 85 %.
    pub share: Ratio,
    /// What that is a share of.
    pub form: LearningForm,
    /// The unit that takes the standard hours, as do all after it; 1 to 10,000.
    pub units: u32,
}

/// What list prices are rounded up to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PriceEnding {
    /// What two neighboring list prices lie apart, above zero: 5 for `to 5`, 100 for `ending 95`.
    pub step: Ratio,
    /// The rest of each list price by the step: 0 for `to 5`, 95 for `ending 95`.
    pub rest: Ratio,
    /// As the user wrote it.
    pub text: String,
}

impl PriceEnding {
    /// Returns the lowest list price that is not below a price.
    #[must_use]
    pub fn up(&self, price: &Ratio) -> Ratio {
        let steps = (price - &self.rest).checked_div(&self.step).expect("steps are above zero");
        steps.ceil() * &self.step + &self.rest
    }
}

/// Choices for the whole book (table `settings`).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Settings {
    /// Revision of the book, printed on every output.
    pub revision: String,
    /// The day the book speaks of; the clock is never read.
    pub as_of: Option<Date>,
    /// Currency as an ISO 4217 code.
    pub currency: String,
    /// Unit of a bare length; inches unless told otherwise.
    pub length_unit: Unit,
    /// Unit of a bare weight, and of weights in outputs; pounds unless told otherwise.
    pub weight_unit: Unit,
    /// How amounts are rounded.
    pub rounding: Rounding,
    /// Decimal places of a rounded cost in the ledger, 0 to 8; 4 unless told otherwise.
    pub cost_digits: u32,
    /// Units nested together for a standard cost, 1 or more; 1 unless told otherwise.
    pub lot: u32,
    /// Share of an offcut's cost that is credited at lot end, in hundredths of a percent: 0 to 10000.
    pub offcut_value: u32,
    /// Whether `scrap_percent` of nested lines is dropped.
    pub ignore_scrap: bool,
    /// How sheets are cut.
    pub cutting: Cutting,
    /// Most stages of guillotine cuts, if limited.
    pub max_stages: Option<u32>,
    /// How many sheets are sawn together at most, where an item does not say; any number if not said.
    pub book_height: Option<BookHeight>,
    /// How the last roll is charged.
    pub roll_charge: RollCharge,
    /// The day the price of an order is looked up for.
    pub price_day: PriceDay,
    /// Chance with which the units that take an option are covered by orders, above 0 and below 1.
    pub service_level: Option<Ratio>,
    /// Weeks orders are planned for; up to the last build scheduled if not said. 1 to 520.
    pub horizon_weeks: Option<u32>,
    /// How labor falls over the first units, if it does.
    pub learning: Option<Learning>,
    /// What list prices are rounded up to; the currency's smallest unit if not said.
    pub price_ending: Option<PriceEnding>,
    /// What prices of options are rounded up to; the currency's smallest unit if not said.
    pub option_price_ending: Option<PriceEnding>,
    /// The keys that the book gives, by their canonical names, in the order of reading.
    pub given: Vec<&'static str>,
    /// Keys that only later questions use, with their texts.
    pub other: Vec<(String, String)>,
}

impl Default for Settings {
    fn default() -> Settings {
        Settings {
            revision: String::new(),
            as_of: None,
            currency: "USD".to_owned(),
            length_unit: Unit::inch(),
            weight_unit: Unit::pound(),
            rounding: Rounding::HalfEven,
            cost_digits: 4,
            lot: 1,
            offcut_value: 0,
            ignore_scrap: false,
            cutting: Cutting::Guillotine,
            max_stages: None,
            book_height: None,
            roll_charge: RollCharge::Roll,
            price_day: PriceDay::Order,
            service_level: None,
            horizon_weeks: None,
            learning: None,
            price_ending: None,
            option_price_ending: None,
            given: Vec::new(),
            other: Vec::new(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_height_holds_as_many_as_fit_and_one_at_least() {
        let inches = |numerator, denominator| Length::from_inches(numerator, denominator).unwrap();
        let three = BookHeight::Height(inches(3, 1));
        assert_eq!(three.most(Some(inches(3, 4))), Some(4));
        assert_eq!(three.most(Some(inches(5, 8))), Some(4));
        assert_eq!(three.most(Some(inches(4, 1))), Some(1));
        assert_eq!(three.most(None), None);
        assert_eq!(BookHeight::Count(5).most(None), Some(5));
    }
}
