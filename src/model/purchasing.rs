//! What purchasing needs to know: terms of items and vendors, the schedule, the stock.

use jiff::civil::Date;

use crate::model::{AssemblyId, ItemId, OptionId, PlanId, RowRef, SizeId};
use crate::quantity::{Length, Ratio};

/// How long something takes to arrive.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum LeadTime {
    /// Working days.
    Days(u32),
    /// Weeks of seven days.
    Weeks(u32),
}

/// How much is ordered at once.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum LotRule {
    /// Just what a period needs.
    #[default]
    LotForLot,
    /// Whole lots of a fixed quantity (`lot_size`).
    FixedQuantity,
    /// What some periods (`lot_size` weeks, or what the economic quantity comes to) need, from the first need on.
    PeriodQuantity,
    /// Whole lots of the economic order quantity (Harris 1913).
    EconomicQuantity,
}

impl LotRule {
    /// Returns the word the book has for it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            LotRule::LotForLot => "lot_for_lot",
            LotRule::FixedQuantity => "fixed",
            LotRule::PeriodQuantity => "period",
            LotRule::EconomicQuantity => "economic",
        }
    }
}

/// What is kept against doubt.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum SafetyStock {
    /// An amount in base units of the item's unit, or a number of assemblies.
    Amount(Ratio),
    /// What the following working days need.
    Days(u32),
}

/// How an item is ordered (columns of `items`).
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct OrderTerms {
    /// How much is ordered at once.
    pub lot_rule: LotRule,
    /// The lot in purchase units (see [`Item::purchase_factor`](crate::model::Item::purchase_factor); whole sizes for
    /// items that have them), or weeks for a period; above zero.
    pub lot_size: Option<Ratio>,
    /// Money for placing one order, in the book's currency; not below zero.
    pub order_cost: Option<Ratio>,
    /// Money for holding one purchase unit for a year, in the book's currency; not below zero.
    pub holding_cost: Option<Ratio>,
    /// What is kept against doubt.
    pub safety_stock: Option<SafetyStock>,
    /// How long it takes to arrive.
    pub lead_time: Option<LeadTime>,
    /// Purchase units are ordered in multiples of this; above zero.
    pub multiple: Option<Ratio>,
    /// Least purchase units in one order; not below zero.
    pub minimum: Option<Ratio>,
}

/// What a row of `prices` says beside the price.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct PriceTerms {
    /// The vendor's own name for the item; empty if not said.
    pub vendor_item: String,
    /// How long it takes to arrive.
    pub lead_time: Option<LeadTime>,
    /// Purchase units are ordered in multiples of this; above zero.
    pub multiple: Option<Ratio>,
    /// Least purchase units in one order; not below zero.
    pub minimum: Option<Ratio>,
    /// The lowest price thought likely, for one of the price's basis, as the price's amount.
    pub low: Option<Ratio>,
    /// The highest price thought likely, for one of the price's basis, as the price's amount.
    pub high: Option<Ratio>,
}

/// How an assembly is kept and made (table `assemblies`).
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct AssemblyTerms {
    /// Whether it is built ahead and kept.
    pub is_stocked: bool,
    /// Working days it takes to make: its components are needed that long before it is.
    pub lead_days: Ratio,
    /// Working days it is needed before its parent, where its bill line does not say.
    pub offset_days: Ratio,
    /// How many are kept against doubt; not below zero.
    pub safety_stock: Ratio,
    /// What one would cost bought complete, in the book's currency.
    pub buy_price: Option<Ratio>,
}

/// Someone who sells (table `vendors`).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Vendor {
    /// Name, as the user wrote it.
    pub name: String,
    /// Currency of its orders, an ISO 4217 code; the book's if not said.
    pub currency: Option<String>,
    /// How long its goods take to arrive, where neither price nor item says.
    pub lead_time: Option<LeadTime>,
    /// Days from arrival to payment; 0 if not said.
    pub terms_days: u32,
    /// Share taken off when paid within `discount_days`, from 0 to 1.
    pub discount: Ratio,
    /// Days from arrival within which the discount holds.
    pub discount_days: u32,
    /// Least money of one order, in its currency.
    pub order_minimum: Option<Ratio>,
    /// Money of one order from which freight is paid by the vendor, in its currency.
    pub freight_minimum: Option<Ratio>,
    /// Share of what it sells beside other vendors, from 0 to 1.
    pub share: Option<Ratio>,
    /// Where it is defined.
    pub row: RowRef,
}

/// Units of a plan to be built (table `schedule`).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ScheduleRow {
    /// The plan.
    pub plan: PlanId,
    /// The day the units are due to be done; of a week, its Monday.
    pub day: Date,
    /// How many.
    pub units: u32,
    /// The build order; empty if not said.
    pub order: String,
    /// The options chosen, where any are: take rates then hold only for choices the order leaves open. Nothing where the
    /// order does not say.
    pub chosen: Option<Vec<OptionId>>,
    /// Number of the first unit.
    pub first_unit: Option<u32>,
    /// Where it stands.
    pub row: RowRef,
}

/// Units of a plan built in a past week (table `history`).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct HistoryRow {
    /// The plan.
    pub plan: PlanId,
    /// The Monday of the week.
    pub week: Date,
    /// How many.
    pub units: u32,
    /// Where it stands.
    pub row: RowRef,
}

/// What a row of `stock` counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Stocked {
    /// Whole stock sizes of an item.
    Size(ItemId, SizeId),
    /// Offcuts of an item: length, and width (zero for sticks).
    Offcut(ItemId, Length, Length),
    /// An item that has no sizes, or is made to the length ordered.
    Item(ItemId),
    /// A finished assembly, of this length and width where they are given.
    Assembly(AssemblyId, Option<Length>, Option<Length>),
}

/// What a row of `stock` says.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum StockKind {
    /// There.
    #[default]
    OnHand,
    /// Ordered and not there yet.
    OnOrder,
    /// There, but promised.
    Allocated,
}

impl StockKind {
    /// Returns the word the book has for it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            StockKind::OnHand => "on hand",
            StockKind::OnOrder => "on order",
            StockKind::Allocated => "allocated",
        }
    }
}

/// On hand, on order, allocated (table `stock`).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StockRow {
    /// What is counted.
    pub what: Stocked,
    /// How many sizes, offcuts or assemblies, or the amount in base units of the item's unit; above zero.
    pub quantity: Ratio,
    /// Whether it is there, ordered or promised.
    pub kind: StockKind,
    /// The day an order is due; always there for what is on order.
    pub due: Option<Date>,
    /// The purchase or build order; empty if not said.
    pub order: String,
    /// The vendor; empty if not said.
    pub vendor: String,
    /// What one costs as the order says, in the unit of the item's price; kept as it is written.
    pub price: Option<Ratio>,
    /// Where it stands.
    pub row: RowRef,
}
