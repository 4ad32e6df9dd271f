//! A made-up plant: its plans, bills, items and prices as plain structures.

use super::number::Number;
use super::term::{Term, Value};

/// The day every book with dates speaks of.
pub(crate) const AS_OF: &str = "2027-06-01";
/// The unit that is asked for.
pub(crate) const UNIT: u32 = 412;

#[derive(Clone, Debug)]
pub(crate) struct Plant {
    pub settings: Settings,
    pub plans: Vec<Plan>,
    pub assemblies: Vec<Assembly>,
    pub choices: Vec<Choice>,
    pub items: Vec<Item>,
    pub lines: Vec<Line>,
    pub burdens: Vec<Burden>,
}

#[derive(Clone, Debug)]
#[expect(clippy::struct_excessive_bools, reason = "each is a row of its own in the settings")]
pub(crate) struct Settings {
    pub cost_digits: u32,
    pub half_up: bool,
    pub offcut_percent: i64,
    pub ignores_scrap: bool,
    pub is_free_cut: bool,
    pub most_stages: Option<i64>,
    pub charges_roll_length: bool,
    pub has_day: bool,
    pub weighs_in_kilograms: bool,
    pub is_metric: bool,
}

#[derive(Clone, Debug)]
pub(crate) struct Plan {
    pub name: String,
    pub series: String,
    /// Named dimensions with their cell and value.
    pub values: Vec<(String, Term)>,
}

#[derive(Clone, Debug)]
pub(crate) struct Assembly {
    pub name: String,
    pub station: String,
    pub crew: String,
}

/// An option.
#[derive(Clone, Debug)]
pub(crate) struct Choice {
    pub name: String,
    pub plan: Option<usize>,
    pub is_standard: bool,
    /// The name of the group of which exactly one is taken.
    pub one_of: Option<String>,
    pub includes: Vec<usize>,
    pub excludes: Vec<usize>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Form {
    Sheet,
    Roll,
    Linear,
    Count,
    Bulk,
    Labor,
}

impl Form {
    pub(crate) fn is_cut(self) -> bool {
        matches!(self, Form::Sheet | Form::Roll | Form::Linear)
    }

    pub(crate) fn word(self) -> &'static str {
        match self {
            Form::Sheet => "sheet",
            Form::Roll => "roll",
            Form::Linear => "linear",
            Form::Count => "count",
            Form::Bulk => "bulk",
            Form::Labor => "labor",
        }
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Grain {
    None,
    Length,
    Width,
}

impl Grain {
    pub(crate) fn word(self) -> &'static str {
        match self {
            Grain::None => "none",
            Grain::Length => "length",
            Grain::Width => "width",
        }
    }
}

/// What an amount of money is for.
#[derive(Clone, Debug)]
pub(crate) enum Per {
    /// So many things.
    Things(Number),
    /// So many base units of what the form measures.
    Measure(Number),
    /// So many pounds.
    Pounds(Number),
}

#[derive(Clone, Debug)]
pub(crate) struct Price {
    pub amount: Number,
    pub unit: String,
    pub per: Per,
}

#[derive(Clone, Debug)]
pub(crate) enum Weight {
    None,
    /// Pounds for so many base units of what the form measures, and the unit as it is written.
    Per {
        pounds: Number,
        measure: Number,
        unit: String,
    },
    /// Pounds of the one size there is.
    WholeSize(Number),
    /// Pounds per cubic foot.
    Density(Number),
}

#[derive(Clone, Debug)]
pub(crate) struct Item {
    pub name: String,
    pub form: Form,
    /// Name and base units.
    pub unit: (String, Number),
    pub price: Option<Price>,
    pub weight: Weight,
    pub rides_percent: Option<i64>,
    pub thickness: Option<Term>,
    /// Nominal size with the dressed section it has by PS 20, in 64ths of an inch.
    pub nominal: Option<(String, i64, i64)>,
    pub pack: Option<String>,
    pub grain: Option<Grain>,
    pub kerf: Option<Term>,
    pub trim: Option<Term>,
    pub offcut_min: Option<Term>,
    pub net_width: Option<Term>,
    pub overlap: Option<Term>,
    pub stagger: Option<Term>,
    pub coverage: Option<Term>,
    pub yield_percent: Option<i64>,
    pub shrinkage_percent: Option<i64>,
    pub group: String,
    pub vendor: String,
    pub color: String,
    pub sizes: Vec<Size>,
    pub dated: Vec<DatedPrice>,
}

#[derive(Clone, Debug)]
pub(crate) struct Size {
    pub length: Option<Term>,
    pub width: Option<Term>,
    pub price: Option<Price>,
    /// How many there are.
    pub available: Option<i64>,
}

/// A row of `prices`.
#[derive(Clone, Debug)]
pub(crate) struct DatedPrice {
    /// The size it is for, by position; every size if not said.
    pub size: Option<usize>,
    pub from: Option<&'static str>,
    pub to: Option<&'static str>,
    pub price: Price,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Parent {
    Plan(usize),
    Assembly(usize),
    Choice(usize),
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Component {
    Assembly(usize),
    Item(usize),
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Usage {
    Count,
    Piece,
    Cover,
    Run,
    Fill,
    Opening,
}

impl Usage {
    pub(crate) fn word(self) -> &'static str {
        match self {
            Usage::Count => "",
            Usage::Piece => "piece",
            Usage::Cover => "cover",
            Usage::Run => "run",
            Usage::Fill => "fill",
            Usage::Opening => "opening",
        }
    }
}

#[derive(Clone, Debug)]
pub(crate) struct Line {
    pub parent: Parent,
    pub component: Component,
    pub usage: Usage,
    pub quantity: Option<Term>,
    pub length: Option<Term>,
    pub width: Option<Term>,
    pub height: Option<Term>,
    pub cutout: Option<Term>,
    /// Whether rows of a cover run along the length of the area.
    pub runs_along_length: Option<bool>,
    pub gap: Option<Term>,
    pub grain: Option<Grain>,
    pub with: Vec<(String, Term)>,
    pub when: Option<Term>,
    pub scrap_percent: Option<i64>,
    pub offset: [Option<Term>; 3],
    pub from: Option<&'static str>,
    pub to: Option<&'static str>,
    /// Instead of days.
    pub first_unit: Option<u32>,
    pub last_unit: Option<u32>,
    pub zone: String,
}

impl Line {
    pub(crate) fn new(parent: Parent, component: Component, usage: Usage) -> Line {
        Line {
            parent,
            component,
            usage,
            quantity: None,
            length: None,
            width: None,
            height: None,
            cutout: None,
            runs_along_length: None,
            gap: None,
            grain: None,
            with: Vec::new(),
            when: None,
            scrap_percent: None,
            offset: [None, None, None],
            from: None,
            to: None,
            first_unit: None,
            last_unit: None,
            zone: String::new(),
        }
    }
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Basis {
    LaborMoney,
    LaborHours,
    Material,
    Weight,
    Area,
    Unit,
    /// The running total up to and with an earlier burden.
    Subtotal(String),
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Limit {
    Nothing,
    Plan(usize),
    Group(String),
    Station(String),
    Item(usize),
}

#[derive(Clone, Debug)]
pub(crate) struct Burden {
    pub name: String,
    pub basis: Basis,
    pub limit: Limit,
    /// Percent for bases of money, else money per hour, pound, square foot or unit; in hundredths.
    pub rate: i64,
    pub from: Option<&'static str>,
}

/// Returns the constant a cell holds, in base units.
pub(crate) fn constant(term: &Term) -> Number {
    match term {
        Term::Literal(_, Value::Measure(value, _)) => value.clone(),
        other => panic!("{other} is no constant"),
    }
}
