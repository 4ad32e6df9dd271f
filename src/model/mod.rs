//! What a book is, once every mistake has been found: plans, assemblies, bill lines, items and their terms.
//!
//! A [`Book`] is valid by construction: every name is resolved to an id, no assembly contains itself, every unit fits
//! its form, every formula parses. What stages ask of it are plain fields and a few questions ([`Book::place`],
//! [`Book::sizes_of`], [`Book::price`]).
//!
//! Not here: reading files, evaluating formulas, prices of nests.

mod bill;
mod calendar;
mod changed;
mod changes;
mod cycle;
mod fit;
mod item;
mod plan;
mod price;
mod purchasing;
mod settings;
mod summary;

use jiff::civil::Date;

pub use bill::{BillLine, Component, Details, Effective, Further, Parent, Rows, Usage};
pub use calendar::{Calendar, Week};
pub use changes::{ActualRow, CaseRow, Match, PriceChange, RateRow, SwapRow};
pub use cycle::cycles;
pub use fit::{WantedPiece, misfit};
pub use item::{Edges, Form, Grain, Item, Nominal, Size, Supply, Unit};
pub use plan::{Assembly, BookOption, Plan};
pub use price::{Burden, BurdenBasis, Price, PriceBasis, PriceRow, Priced, Rated, Threshold};
pub use purchasing::{
    AssemblyTerms, HistoryRow, LeadTime, LotRule, OrderTerms, PriceTerms, SafetyStock, ScheduleRow,
    StockKind, StockRow, Stocked, Vendor,
};
pub use settings::{
    BookHeight, Cutting, Learning, LearningForm, PriceDay, PriceEnding, RollCharge, Settings,
};
pub use summary::{Summary, summary};

use crate::diag::Place;
use crate::quantity::Length;
use crate::quantity::Ratio;

macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident),* $(,)?) => { $(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(pub u32);
        impl $name {
            /// Returns the position in the book's list.
            #[must_use]
            pub fn index(self) -> usize {
                self.0 as usize
            }
        }
    )* };
}

ids! {
    /// A plan, by its position in [`Book::plans`].
    PlanId,
    /// An assembly, by its position in [`Book::assemblies`].
    AssemblyId,
    /// An option, by its position in [`Book::options`].
    OptionId,
    /// An item, by its position in [`Book::items`].
    ItemId,
    /// A bill line, by its position in [`Book::lines`].
    LineId,
    /// A stock size, by its position in [`Book::sizes`].
    SizeId,
    /// A dated price, by its position in [`Book::prices`].
    PriceId,
    /// A burden, by its position in [`Book::burdens`].
    BurdenId,
    /// A file or sheet a table came from, by its position in [`Book::sources`].
    SourceId,
}

/// A row of the input, for findings and for answering why.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct RowRef {
    /// The file or sheet.
    pub source: SourceId,
    /// The row, counted from 1 as a spreadsheet shows it.
    pub row: u32,
}

/// A file or sheet one table came from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Source {
    /// The table's canonical name, `bill` for example.
    pub table: String,
    /// The file as the user named it, relative to the book.
    pub file: String,
    /// The sheet, if the file is a workbook.
    pub sheet: Option<String>,
    /// Canonical column names with the headers the user gave them.
    pub headers: Vec<(String, String)>,
}

/// A column that no table defines: kept, to group by.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Attribute {
    /// The header as the user wrote it.
    pub name: String,
    /// The text of the cell; never empty.
    pub value: String,
}

/// Returns what the column of this name holds, without regard to case and surrounding spaces, if anything.
#[must_use]
pub fn attribute<'a>(attributes: &'a [Attribute], name: &str) -> Option<&'a str> {
    let is_named = |known: &&Attribute| known.name.trim().eq_ignore_ascii_case(name.trim());
    attributes.iter().find(is_named).map(|known| known.value.as_str())
}

/// Returns the yes or no a text stands for.
#[must_use]
pub fn flag(text: &str) -> Option<bool> {
    match text.to_lowercase().as_str() {
        "yes" | "y" | "true" | "x" | "1" => Some(true),
        "no" | "n" | "false" | "" | "0" => Some(false),
        _ => None,
    }
}

/// All input tables, valid and resolved.
#[derive(Clone, Debug, Default)]
pub struct Book {
    /// Choices for the whole book.
    pub settings: Settings,
    /// Floor plans, in input order.
    pub plans: Vec<Plan>,
    /// Assemblies, in the order of first mention.
    pub assemblies: Vec<Assembly>,
    /// Options, in input order.
    pub options: Vec<BookOption>,
    /// Items, in input order.
    pub items: Vec<Item>,
    /// Bill lines, in input order.
    pub lines: Vec<BillLine>,
    /// Stock sizes, in input order.
    pub sizes: Vec<Size>,
    /// Dated prices, breaks and vendors' terms, in input order.
    pub prices: Vec<PriceRow>,
    /// Burdens, in the order they are laid on.
    pub burdens: Vec<Burden>,
    /// Vendors, in input order.
    pub vendors: Vec<Vendor>,
    /// Units to be built, in input order.
    pub schedule: Vec<ScheduleRow>,
    /// On hand, on order and allocated, in input order.
    pub stock: Vec<StockRow>,
    /// Proposed and approved changes, in input order.
    pub swaps: Vec<SwapRow>,
    /// Days off and days worked.
    pub calendar: Calendar,
    /// Rates of foreign currencies, in input order.
    pub rates: Vec<RateRow>,
    /// Price cases, in input order.
    pub cases: Vec<CaseRow>,
    /// Units built in past weeks, in input order.
    pub history: Vec<HistoryRow>,
    /// What was really bought and used, in input order.
    pub actuals: Vec<ActualRow>,
    /// Files and sheets.
    pub sources: Vec<Source>,
    /// SHA-256 of the content of all tables, in hexadecimal: equal for the same book as CSV and as workbook.
    pub digest: String,
    /// For each item, its sizes in input order; filled by [`Book::index`].
    sizes_by_item: Vec<Vec<SizeId>>,
    /// For each item, its rows of `prices` in input order; filled by [`Book::index`].
    prices_by_item: Vec<Vec<PriceId>>,
    /// For plans, assemblies and options, their lines in input order; filled by [`Book::index`].
    lines_by_parent: LinesByParent,
}

#[derive(Clone, Debug, Default)]
struct LinesByParent {
    plans: Vec<Vec<LineId>>,
    assemblies: Vec<Vec<LineId>>,
    options: Vec<Vec<LineId>>,
}

impl Book {
    /// Returns the book with its look-ups built; every constructor ends with it.
    #[must_use]
    pub fn index(mut self) -> Book {
        self.sizes_by_item = vec![Vec::new(); self.items.len()];
        for (position, size) in self.sizes.iter().enumerate() {
            self.sizes_by_item[size.item.index()].push(SizeId(id(position)));
        }
        self.prices_by_item = vec![Vec::new(); self.items.len()];
        for (position, price) in self.prices.iter().enumerate() {
            self.prices_by_item[price.item.index()].push(PriceId(id(position)));
        }
        let mut by_parent = LinesByParent {
            plans: vec![Vec::new(); self.plans.len()],
            assemblies: vec![Vec::new(); self.assemblies.len()],
            options: vec![Vec::new(); self.options.len()],
        };
        for (position, line) in self.lines.iter().enumerate() {
            let lines = match line.parent {
                Parent::Plan(plan) => &mut by_parent.plans[plan.index()],
                Parent::Assembly(assembly) => &mut by_parent.assemblies[assembly.index()],
                Parent::Option(option) => &mut by_parent.options[option.index()],
            };
            lines.push(LineId(id(position)));
        }
        self.lines_by_parent = by_parent;
        self
    }

    /// Returns the lines of a parent, in input order.
    #[must_use]
    pub fn lines_of(&self, parent: Parent) -> &[LineId] {
        match parent {
            Parent::Plan(plan) => &self.lines_by_parent.plans[plan.index()],
            Parent::Assembly(assembly) => &self.lines_by_parent.assemblies[assembly.index()],
            Parent::Option(option) => &self.lines_by_parent.options[option.index()],
        }
    }

    /// Returns the sizes an item is bought in, in input order.
    #[must_use]
    pub fn sizes_of(&self, item: ItemId) -> &[SizeId] {
        &self.sizes_by_item[item.index()]
    }

    /// Returns the rows of `prices` for an item, in input order.
    #[must_use]
    pub fn prices_of(&self, item: ItemId) -> &[PriceId] {
        &self.prices_by_item[item.index()]
    }

    /// Returns the width that a run of a roll is reckoned with: the narrowest it is bought in.
    #[must_use]
    pub fn run_width(&self, item: ItemId) -> Option<Length> {
        let sizes = self.sizes_of(item).iter().map(|size| &self.sizes[size.index()]);
        sizes.filter(|size| !size.is_offcut).filter_map(|size| size.width).min()
    }

    /// Returns the vendor of this name, without regard to case, if table `vendors` has it.
    #[must_use]
    pub fn vendor(&self, name: &str) -> Option<&Vendor> {
        self.vendors.iter().find(|vendor| vendor.name.eq_ignore_ascii_case(name))
    }

    /// Returns what one unit of a foreign currency is worth on a day: the latest rate up to then, or the latest of all
    /// without a day. The book's own currency is worth one.
    #[must_use]
    pub fn rate(&self, currency: &str, on: Option<Date>) -> Option<Ratio> {
        if currency == self.settings.currency {
            return Some(Ratio::ONE);
        }
        self.rate_row(currency, on).map(|row| row.rate.clone())
    }

    /// Returns the row of `rates` that [`Book::rate`] takes for a foreign currency.
    #[must_use]
    pub fn rate_row(&self, currency: &str, on: Option<Date>) -> Option<&RateRow> {
        self.rates
            .iter()
            .filter(|row| row.currency == currency && on.is_none_or(|day| row.date <= day))
            .max_by_key(|row| row.date)
    }

    /// Returns an item.
    #[must_use]
    pub fn item(&self, item: ItemId) -> &Item {
        &self.items[item.index()]
    }

    /// Returns a bill line.
    #[must_use]
    pub fn line(&self, line: LineId) -> &BillLine {
        &self.lines[line.index()]
    }

    /// Returns the name of a parent as the user wrote it.
    #[must_use]
    pub fn parent_name(&self, parent: Parent) -> &str {
        match parent {
            Parent::Plan(plan) => &self.plans[plan.index()].name,
            Parent::Assembly(assembly) => &self.assemblies[assembly.index()].name,
            Parent::Option(option) => &self.options[option.index()].name,
        }
    }

    /// Returns the name of a component as the user wrote it.
    #[must_use]
    pub fn component_name(&self, component: Component) -> &str {
        match component {
            Component::Assembly(assembly) => &self.assemblies[assembly.index()].name,
            Component::Item(item) => &self.items[item.index()].name,
        }
    }

    /// Returns the place of a row, and of a column in it if one is named by its canonical name.
    #[must_use]
    pub fn place(&self, row: RowRef, column: Option<&str>) -> Place {
        let Some(source) = self.sources.get(row.source.index()) else {
            return Place { row: Some(row.row), ..Place::default() };
        };
        let header = column.map(|column| {
            source
                .headers
                .iter()
                .find(|(canonical, _)| canonical == column)
                .map_or_else(|| column.to_owned(), |(_, header)| header.clone())
        });
        Place {
            file: source.file.clone(),
            sheet: source.sheet.clone(),
            row: Some(row.row),
            column: header,
        }
    }

    /// Returns the date prices and effective lines are taken at when the command line names none: `as_of`.
    #[must_use]
    pub fn as_of(&self) -> Option<Date> {
        self.settings.as_of
    }
}

fn id(position: usize) -> u32 {
    u32::try_from(position).expect("read refuses tables of more rows than a u32 counts")
}
