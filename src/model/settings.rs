use jiff::civil::Date;

use crate::model::Unit;
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
    /// How the last roll is charged.
    pub roll_charge: RollCharge,
    /// The day the price of an order is looked up for.
    pub price_day: PriceDay,
    /// Chance with which the units that take an option are covered by orders, above 0 and below 1.
    pub service_level: Option<Ratio>,
    /// Weeks orders are planned for; up to the last build scheduled if not said. 1 to 520.
    pub horizon_weeks: Option<u32>,
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
            roll_charge: RollCharge::Roll,
            price_day: PriceDay::Order,
            service_level: None,
            horizon_weeks: None,
            other: Vec::new(),
        }
    }
}
