//! What a report holds: a heading, tables and notes, without any format.

mod check;
mod compare;
mod draw;
mod drawn;
mod explode;
mod loads;
mod nest;
mod orders;
mod price;
mod rollup;
mod shop;
mod swap;
mod variances;
mod waterfall;
mod whole;
mod why;

pub use check::check;
pub use compare::{Alone, Compared, compare};
pub use drawn::{Drawing, DrawnKind, DrawnPart, drawings};
pub use explode::{indented, needs, where_used};
pub(in crate::render) use loads::parts as load_parts;
pub use loads::{LoadsDetail, loads};
pub(in crate::render) use nest::times;
pub use nest::{Layouts, NestPart, NestView, nest_view, nests};
pub(in crate::render) use orders::unit as purchase_unit;
pub use orders::{OrdersView, orders, orders_to, orders_why};
pub use price::{Priced, price};
pub use rollup::{grouping, rollup};
pub use shop::extra;
pub(in crate::render) use swap::reason as swap_reason;
pub use swap::swap;
pub use variances::variances;
pub use whole::{Page, Topic, Whole, pages, source, whole};
pub(in crate::render) use whole::{SHORTAGES, SPENDING};
pub use why::why;

pub(super) use compare::{line_names, line_standing, rise};

use crate::explode::Build;
use crate::model::Book;
use crate::render::shown;

/// A page: what a command answers.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Report {
    /// What it is and of which book.
    pub heading: Vec<String>,
    /// The answers; the first is what CSV output holds.
    pub tables: Vec<Table>,
    /// Assumptions and cautions.
    pub notes: Vec<String>,
}

/// A table.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Table {
    /// What it shows.
    pub title: String,
    /// Its columns.
    pub columns: Vec<Column>,
    /// Its rows, one cell per column.
    pub rows: Vec<Vec<Cell>>,
    /// Closing rows, parted from the rest: residue and total.
    pub totals: Vec<Vec<Cell>>,
    /// Lines of text below the table, such as a drawing.
    pub below: Vec<String>,
}

/// A column of a table.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Column {
    /// Its heading.
    pub title: String,
    /// Whether it holds figures, set to the right.
    pub is_number: bool,
    /// When people see it; programs always do.
    pub showing: Showing,
    /// Whether the last closing row holds the sum of all rows and closing rows above it. Cells that are no decimals, such
    /// as `no price`, count nothing.
    pub is_summed: bool,
}

/// When a column is shown in a table for people.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Showing {
    /// However narrow the table gets.
    #[default]
    Always,
    /// Unless the table would be too wide.
    IfItFits,
    /// Not at all: the title or the order of the rows says the same.
    Never,
}

/// One cell: what people read and what programs read.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Cell {
    /// For people.
    pub shown: String,
    /// For programs: no thousands separators.
    pub plain: String,
}

/// Declares one column of a table: title, whether it holds figures, and the cell of a line.
struct Field<'a, L> {
    title: String,
    is_number: bool,
    showing: Showing,
    is_summed: bool,
    cell: Box<dyn Fn(&L) -> Cell + 'a>,
}

impl<L> Field<'_, L> {
    fn showing(self, showing: Showing) -> Self {
        Field { showing, ..self }
    }

    /// Says that the last closing row sums this column.
    fn summed(self) -> Self {
        Field { is_summed: true, ..self }
    }
}

impl Cell {
    fn text(text: impl Into<String>) -> Cell {
        let text = text.into();
        Cell { shown: text.clone(), plain: text }
    }

    /// A decimal in whole units of its last place.
    fn amount(amount: i128, places: u32) -> Cell {
        let plain = shown::plain(amount, places);
        Cell { shown: shown::parted(&plain), plain }
    }

    fn figure(plain: String) -> Cell {
        Cell { shown: shown::parted(&plain), plain }
    }
}

fn words<'a, L>(title: &str, cell: impl Fn(&L) -> String + 'a) -> Field<'a, L> {
    Field {
        title: title.to_owned(),
        is_number: false,
        showing: Showing::Always,
        is_summed: false,
        cell: Box::new(move |line| Cell::text(cell(line))),
    }
}

fn figures<'a, L>(title: &str, cell: impl Fn(&L) -> Cell + 'a) -> Field<'a, L> {
    Field {
        title: title.to_owned(),
        is_number: true,
        showing: Showing::Always,
        is_summed: false,
        cell: Box::new(cell),
    }
}

fn table<L>(title: impl Into<String>, fields: &[Field<'_, L>], lines: &[L]) -> Table {
    Table {
        title: title.into(),
        columns: fields
            .iter()
            .map(|field| Column {
                title: field.title.clone(),
                is_number: field.is_number,
                showing: field.showing,
                is_summed: field.is_summed,
            })
            .collect(),
        rows: lines
            .iter()
            .map(|line| fields.iter().map(|field| (field.cell)(line)).collect())
            .collect(),
        ..Table::default()
    }
}

/// Returns the lines that name the book: revision, day and digest.
pub(in crate::render) fn heading(book: &Book, on: Option<jiff::civil::Date>) -> Vec<String> {
    let settings = &book.settings;
    let mut line = String::from("book");
    if !settings.revision.is_empty() {
        line.push_str(" revision ");
        line.push_str(&settings.revision);
    }
    if let Some(on) = on {
        line.push_str(&format!(", on {on}"));
    }
    line.push_str(&format!(", digest {}", book.digest.get(..16).unwrap_or(&book.digest)));
    vec![line]
}

/// Says how many units amounts are of.
fn of_units(units: u32) -> String {
    if units == 1 { "one unit".to_owned() } else { format!("a lot of {units} units") }
}

pub(in crate::render) fn build_name(book: &Book, build: &Build) -> String {
    let plan = &book.plans[build.plan.index()];
    plan.name.clone()
}

fn build_options(book: &Book, build: &Build) -> String {
    let names: Vec<&str> =
        build.options.iter().map(|option| book.options[option.index()].name.as_str()).collect();
    if names.is_empty() { "no options".to_owned() } else { names.join(", ") }
}

const CAUTION_WEIGHT: &str = "Weights are estimates until the unit is on a scale; a cargo or gross-weight label needs weighing and sign-off.";
const CAUTION_RULES: &str = "Ratings are the maker's. Electrical, gas, egress and road rules are outside: follow federal, \
     state and local codes and licensed practice.";
/// What is said once wherever weights or loads are told.
pub const WEIGHT_CAUTIONS: [&str; 2] = [CAUTION_WEIGHT, CAUTION_RULES];
const CAUTION_NEST: &str = "Counts of sheets, rolls and sticks depend on the kerf, trim, grain and smallest offcut the book gives.";
