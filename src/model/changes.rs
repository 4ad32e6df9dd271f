//! Tables of changes: swaps, rates, cases, and what was really bought.

use jiff::civil::Date;

use crate::formula::Expression;
use crate::model::{AssemblyId, Component, ItemId, OptionId, Parent, PlanId, RowRef};
use crate::quantity::Ratio;

/// A proposed or approved change of material; rows of one swap act together (table `swaps`).
#[derive(Clone, Debug)]
pub struct SwapRow {
    /// The swap it belongs to.
    pub swap: String,
    /// What is taken away; nothing where only something is added or set.
    pub from: Option<Component>,
    /// What takes its place; nothing where it is only removed or something set.
    pub to: Option<Component>,
    /// How many of `to` for one of `from`; 1 unless told otherwise.
    pub ratio: Ratio,
    /// The parent whose lines change; every parent if not said.
    pub parent: Option<Parent>,
    /// How much of `to` is added where nothing is taken away.
    pub quantity: Option<Expression>,
    /// Only builds of this plan.
    pub plan: Option<PlanId>,
    /// Only within this assembly.
    pub assembly: Option<AssemblyId>,
    /// Only with this option.
    pub option: Option<OptionId>,
    /// Named dimensions that are set, names in lower case.
    pub set: Vec<(String, Expression)>,
    /// First day it holds.
    pub from_date: Option<Date>,
    /// First unit it holds.
    pub from_unit: Option<u32>,
    /// Whether it is decided.
    pub is_approved: bool,
    /// Whether what is left of `from` is used up first.
    pub uses_up: bool,
    /// Where it stands.
    pub row: RowRef,
}

/// What one unit of a foreign currency is worth from a day on (table `rates`).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RateRow {
    /// ISO 4217 code.
    pub currency: String,
    /// First day it holds.
    pub date: Date,
    /// Units of the book's currency for one of this; above zero.
    pub rate: Ratio,
    /// Where it stands.
    pub row: RowRef,
}

/// Which items a price case is about.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Match {
    /// Items whose name fits; `*` stands for any text, `?` for one letter; without regard to case.
    Item(String),
    /// Items of this group (`group = lumber`), with the same signs.
    Group(String),
    /// Items of this vendor (`vendor = Marsh Lumber`), with the same signs.
    Vendor(String),
}

/// How a price changes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PriceChange {
    /// By this share: 0.12 for `+12 %`.
    Share(Ratio),
    /// By this much for one of the price's own unit.
    Amount(Ratio),
    /// To this much for one of the price's own unit.
    To(Ratio),
}

/// One row of a price case; rows of one case act together (table `cases`).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CaseRow {
    /// The case it belongs to.
    pub case: String,
    /// Which items.
    pub items: Match,
    /// How their prices change.
    pub change: PriceChange,
    /// Where it stands; nothing if it came from the command line.
    pub row: Option<RowRef>,
}

/// What was really bought and used (table `actuals`).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ActualRow {
    /// The item.
    pub item: ItemId,
    /// The plan it was used for, if that is known.
    pub plan: Option<PlanId>,
    /// When.
    pub date: Option<Date>,
    /// How much, in base units of the item's unit; not below zero.
    pub quantity: Ratio,
    /// What it cost in the book's currency, if that is known.
    pub amount: Option<Ratio>,
    /// Units built with it, if the row says.
    pub units: Option<u32>,
    /// Where it stands.
    pub row: RowRef,
}
