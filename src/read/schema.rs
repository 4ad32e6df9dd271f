//! The tables of a book and their columns: what each is called and what its cells are.
//!
//! One list for everything that must know it: header matching, reading and the digest. `docs/book.md` says the same in
//! words.

use crate::diag::squashed;
use crate::model::Form;
use crate::model::LotRule;
use crate::model::StockKind;
use crate::model::Supply;
use crate::model::Usage;
use crate::quantity::Dimension;

/// What the names in a column stand for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Role {
    /// A plan.
    Plan,
    /// An assembly.
    Assembly,
    /// An item.
    Item,
    /// An item or an assembly.
    Component,
    /// An option.
    Option,
    /// A vendor.
    Vendor,
    /// A plan, an assembly or an option; or a name of the table's own.
    Other,
}

/// What the cells of a column are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    /// Words.
    Text,
    /// A name, matched without regard to case.
    Name(Role),
    /// Yes or no.
    Flag,
    /// An exact number.
    Number,
    /// A whole number, not below zero.
    Whole,
    /// A share, written in percent.
    Percent,
    /// An amount of money.
    Money,
    /// A measure; a bare number is a length or weight in the unit of `settings`, or a plain number otherwise.
    Measure(Dimension),
    /// A measure of any dimension.
    AnyMeasure,
    /// One of these words.
    Choice(&'static [&'static str]),
    /// A day.
    Date,
    /// A day, or the number of a unit (`#412`).
    DateOrUnit,
    /// Working days, or weeks (`3 weeks`).
    LeadTime,
    /// A change of a price: a share, an amount with its sign, or a new price.
    Change,
    /// A formula that comes to this dimension.
    Formula(Dimension),
    /// A formula that comes to a number or to a measure of the item's dimension.
    Quantity,
    /// A condition.
    Condition,
    /// Named values, parted by `;`.
    Values,
    /// Names, parted by `;` or `,`.
    List,
    /// A unit of measure or of price.
    Unit,
}

/// A column of a table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Column {
    /// Canonical name.
    pub(super) name: &'static str,
    /// What its cells are.
    pub(super) kind: Kind,
    /// Whether the table cannot be read without it.
    pub(super) is_required: bool,
}

/// A table of a book.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct TableSchema {
    /// Canonical name.
    pub(super) name: &'static str,
    /// Its columns.
    pub(super) columns: &'static [Column],
    /// Whether a book needs it.
    pub(super) is_required: bool,
}

impl TableSchema {
    /// Returns the column of this name, without regard to case, spaces, `_` and `-`.
    pub(super) fn position(&self, header: &str) -> Option<usize> {
        let key = squashed(header);
        self.columns.iter().position(|column| squashed(column.name) == key)
    }
}

/// Returns the table of this name, without regard to case, spaces, `_` and `-`.
pub(super) fn find(name: &str) -> Option<&'static TableSchema> {
    let key = squashed(name);
    TABLES.iter().find(|table| squashed(table.name) == key)
}

/// Choices of `grain`.
pub(super) const GRAINS: &[&str] = &["none", "length", "width"];
/// Choices of `use`.
pub(super) const USES: &[&str] = &[
    Usage::Count.name(),
    Usage::Piece.name(),
    Usage::Cover.name(),
    Usage::Run.name(),
    Usage::Fill.name(),
    Usage::Opening.name(),
];
/// Choices of `form`.
pub(super) const FORMS: &[&str] = &[
    Form::Sheet.name(),
    Form::Roll.name(),
    Form::Linear.name(),
    Form::Count.name(),
    Form::Bulk.name(),
    Form::Labor.name(),
];
/// Choices of `supply`.
pub(super) const SUPPLIES: &[&str] =
    &[Supply::Build.name(), Supply::Bin.name(), Supply::Consigned.name(), Supply::Furnished.name()];
/// Choices of `lot_rule`.
pub(super) const LOT_RULES: &[&str] = &[
    LotRule::LotForLot.name(),
    LotRule::FixedQuantity.name(),
    LotRule::PeriodQuantity.name(),
    LotRule::EconomicQuantity.name(),
];
/// Choices of `kind` of `stock`.
pub(super) const STOCK_KINDS: &[&str] =
    &[StockKind::OnHand.name(), StockKind::OnOrder.name(), StockKind::Allocated.name()];
/// Choices of `rows`.
pub(super) const ROWS: &[&str] = &["length", "width"];

const fn column(name: &'static str, kind: Kind) -> Column {
    Column { name, kind, is_required: false }
}

const fn required(name: &'static str, kind: Kind) -> Column {
    Column { name, kind, is_required: true }
}

const LENGTH: Kind = Kind::Measure(Dimension::LENGTH);
const WEIGHT: Kind = Kind::Measure(Dimension::WEIGHT);
const VOLUME: Kind = Kind::Measure(Dimension::VOLUME);
const LENGTH_FORMULA: Kind = Kind::Formula(Dimension::LENGTH);
const PLAN: Kind = Kind::Name(Role::Plan);
const ASSEMBLY: Kind = Kind::Name(Role::Assembly);
const ITEM: Kind = Kind::Name(Role::Item);
const OPTION: Kind = Kind::Name(Role::Option);
const VENDOR: Kind = Kind::Name(Role::Vendor);
const OTHER: Kind = Kind::Name(Role::Other);

const fn table(name: &'static str, columns: &'static [Column]) -> TableSchema {
    TableSchema { name, columns, is_required: false }
}

const fn needed(name: &'static str, columns: &'static [Column]) -> TableSchema {
    TableSchema { name, columns, is_required: true }
}

/// Every table of a book, in the order it is read and findings are told.
pub(super) const TABLES: &[TableSchema] = &[
    table("settings", &[required("key", Kind::Text), required("value", Kind::AnyMeasure)]),
    table(
        "columns",
        &[
            column("table", Kind::Text),
            required("header", Kind::Text),
            required("column", Kind::Text),
        ],
    ),
    needed("plans", PLANS),
    table("assemblies", ASSEMBLIES),
    table("options", OPTIONS),
    needed("items", ITEMS),
    table("sizes", SIZES),
    table("prices", PRICES),
    table("burdens", BURDENS),
    needed("bill", BILL),
    table("vendors", VENDORS),
    table("schedule", SCHEDULE),
    table("stock", STOCK),
    table("swaps", SWAPS),
    table("calendar", &[required("date", Kind::Date), required("working", Kind::Flag)]),
    table(
        "rates",
        &[
            required("currency", Kind::Text),
            required("date", Kind::Date),
            required("rate", Kind::Number),
        ],
    ),
    table(
        "cases",
        &[required("case", OTHER), required("match", Kind::Text), required("change", Kind::Change)],
    ),
    table(
        "history",
        &[required("plan", PLAN), required("week", Kind::Date), required("units", Kind::Whole)],
    ),
    table(
        "actuals",
        &[
            required("item", ITEM),
            column("plan", PLAN),
            column("date", Kind::Date),
            required("quantity", Kind::AnyMeasure),
            column("amount", Kind::Money),
            column("units", Kind::Whole),
        ],
    ),
];

const PLANS: &[Column] = &[
    required("plan", PLAN),
    column("description", Kind::Text),
    column("length", LENGTH),
    column("width", LENGTH),
    column("wall_height", LENGTH),
    column("tongue", LENGTH),
    column("gvwr", WEIGHT),
    column("gawr", WEIGHT),
    column("axle_rating", WEIGHT),
    column("coupling_rating", WEIGHT),
    column("hitch_rating", WEIGHT),
    column("tire_rating", WEIGHT),
    column("axle_position", LENGTH),
    column("axle_spacing", LENGTH),
    column("track_width", LENGTH),
    column("fresh_water", VOLUME),
    column("fresh_water_x", LENGTH),
    column("fresh_water_y", LENGTH),
    column("gray_water", VOLUME),
    column("gray_water_x", LENGTH),
    column("gray_water_y", LENGTH),
    column("black_water", VOLUME),
    column("black_water_x", LENGTH),
    column("black_water_y", LENGTH),
    column("cargo_x", LENGTH),
    column("target_margin", Kind::Percent),
    column("list_price", Kind::Money),
];

const ASSEMBLIES: &[Column] = &[
    required("assembly", ASSEMBLY),
    column("description", Kind::Text),
    column("station", Kind::Text),
    column("stocked", Kind::Flag),
    column("lead_days", Kind::Number),
    column("offset_days", Kind::Number),
    column("safety_stock", Kind::Number),
    column("buy_price", Kind::Money),
];

const OPTIONS: &[Column] = &[
    required("option", OPTION),
    column("plan", PLAN),
    column("description", Kind::Text),
    column("standard", Kind::Flag),
    column("take_rate", Kind::Percent),
    column("choice", Kind::Text),
    column("includes", Kind::List),
    column("excludes", Kind::List),
];

const ITEMS: &[Column] = &[
    required("item", ITEM),
    column("description", Kind::Text),
    required("form", Kind::Choice(FORMS)),
    column("unit", Kind::Unit),
    column("supply", Kind::Choice(SUPPLIES)),
    column("price", Kind::Money),
    column("price_unit", Kind::Unit),
    column("weight", Kind::AnyMeasure),
    column("weight_unit", Kind::Unit),
    column("rides_percent", Kind::Percent),
    column("density", Kind::AnyMeasure),
    column("specific_gravity", Kind::Number),
    column("dry_gravity", Kind::Number),
    column("moisture_percent", Kind::Percent),
    column("thickness", LENGTH),
    column("section", Kind::Measure(Dimension::AREA)),
    column("span_limit", LENGTH),
    column("nominal", Kind::Text),
    column("pack", Kind::Text),
    column("grain", Kind::Choice(GRAINS)),
    column("repeat", LENGTH),
    column("stagger", LENGTH),
    column("kerf", LENGTH),
    column("trim", LENGTH),
    column("book_height", Kind::AnyMeasure),
    column("net_width", LENGTH),
    column("overlap", LENGTH),
    column("coverage", Kind::AnyMeasure),
    column("offcut_min", LENGTH),
    column("yield_percent", Kind::Percent),
    column("shrinkage_percent", Kind::Percent),
    column("tolerance_percent", Kind::Percent),
    column("lot_rule", Kind::Choice(LOT_RULES)),
    column("lot_size", Kind::Number),
    column("order_cost", Kind::Money),
    column("holding_cost", Kind::Money),
    column("safety_stock", Kind::AnyMeasure),
    column("group", Kind::Text),
    column("vendor", VENDOR),
    column("lead_days", Kind::LeadTime),
    column("order_multiple", Kind::Number),
    column("order_minimum", Kind::Number),
];

const SIZES: &[Column] = &[
    required("item", ITEM),
    column("length", LENGTH),
    column("width", LENGTH),
    column("price", Kind::Money),
    column("price_unit", Kind::Unit),
    column("vendor", VENDOR),
    column("available", Kind::Whole),
];

const PRICES: &[Column] = &[
    required("item", ITEM),
    column("length", LENGTH),
    column("width", LENGTH),
    column("vendor", VENDOR),
    column("vendor_item", Kind::Text),
    column("from_quantity", Kind::AnyMeasure),
    column("from_date", Kind::Date),
    column("to_date", Kind::Date),
    column("price", Kind::Money),
    column("price_unit", Kind::Unit),
    column("currency", Kind::Text),
    column("lead_days", Kind::LeadTime),
    column("order_multiple", Kind::Number),
    column("order_minimum", Kind::Number),
    column("low", Kind::Money),
    column("high", Kind::Money),
];

const BURDENS: &[Column] = &[
    required("burden", OTHER),
    column("order", Kind::Number),
    required("basis", Kind::Text),
    column("applies_to", Kind::Text),
    column("percent", Kind::Percent),
    column("amount", Kind::Money),
    column("from_date", Kind::Date),
];

const BILL: &[Column] = &[
    column("parent", OTHER),
    column("level", Kind::Text),
    required("component", Kind::Name(Role::Component)),
    column("quantity", Kind::Quantity),
    column("length", LENGTH_FORMULA),
    column("width", LENGTH_FORMULA),
    column("height", LENGTH_FORMULA),
    column("use", Kind::Choice(USES)),
    column("rows", Kind::Choice(ROWS)),
    column("gap", LENGTH),
    column("grain", Kind::Choice(GRAINS)),
    column("cutout", Kind::Formula(Dimension::AREA)),
    column("with", Kind::Values),
    column("when", Kind::Condition),
    column("scrap_percent", Kind::Percent),
    column("offset_days", Kind::Number),
    column("x", LENGTH_FORMULA),
    column("y", LENGTH_FORMULA),
    column("z", LENGTH_FORMULA),
    column("travel", LENGTH_FORMULA),
    column("span", LENGTH_FORMULA),
    column("effective_from", Kind::DateOrUnit),
    column("effective_to", Kind::DateOrUnit),
    column("note", Kind::Text),
];

const VENDORS: &[Column] = &[
    required("vendor", OTHER),
    column("currency", Kind::Text),
    column("lead_days", Kind::LeadTime),
    column("terms_days", Kind::Whole),
    column("discount_percent", Kind::Percent),
    column("discount_days", Kind::Whole),
    column("order_minimum", Kind::Money),
    column("freight_minimum", Kind::Money),
    column("share", Kind::Percent),
];

const SCHEDULE: &[Column] = &[
    required("plan", PLAN),
    column("week", Kind::Date),
    column("date", Kind::Date),
    required("units", Kind::Whole),
    column("order", Kind::Text),
    column("options", Kind::List),
    column("first_unit", Kind::Whole),
];

const STOCK: &[Column] = &[
    required("item", Kind::Name(Role::Component)),
    column("length", LENGTH),
    column("width", LENGTH),
    required("quantity", Kind::AnyMeasure),
    column("kind", Kind::Choice(STOCK_KINDS)),
    column("due", Kind::Date),
    column("order", Kind::Text),
    column("vendor", VENDOR),
    column("price", Kind::Money),
];

const SWAPS: &[Column] = &[
    required("swap", OTHER),
    column("from", Kind::Name(Role::Component)),
    column("to", Kind::Name(Role::Component)),
    column("ratio", Kind::Measure(Dimension::NUMBER)),
    column("parent", OTHER),
    column("quantity", Kind::Quantity),
    column("plan", PLAN),
    column("assembly", ASSEMBLY),
    column("option", OPTION),
    column("set", Kind::Values),
    column("from_date", Kind::Date),
    column("from_unit", Kind::Text),
    column("approved", Kind::Flag),
    column("use_up", Kind::Flag),
];
