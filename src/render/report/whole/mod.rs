//! The whole report: what every kind of reader asks of one book, page by page.
//!
//! In: a [`Whole`], the finished results. Out: [`Page`]s of tables, which a document draws figures between and a workbook
//! writes sheet by sheet. The tables are those of the commands; only those that lay several answers side by side are
//! declared here.
//!
//! Always: every page has its topic, and every table stands on one page only.

mod tables;

pub(in crate::render) use tables::SPENDING;

use crate::diag::Diagnostic;
use crate::explode::Needs;
use crate::loads::{By, Loads};
use crate::model::Book;
use crate::orders::Orders;
use crate::price::PriceSheet;
use crate::render::report;
use crate::render::report::{
    CAUTION_RULES, CAUTION_WEIGHT, Compared, Layouts, LoadsDetail, OrdersView, Priced, Report,
    Table, heading,
};
use crate::rollup::{Grouping, Rollup};
use crate::swap::{Base, Swaps};

/// All results of one book.
pub struct Whole<'a> {
    /// The book.
    pub book: &'a Book,
    /// What its plans take.
    pub needs: &'a Needs,
    /// What they cost and weigh.
    pub rollup: &'a Rollup,
    /// Their cost and weight by plan, kind and group.
    pub by_group: &'a Grouping,
    /// Their cost and weight by plan and assembly.
    pub by_assembly: &'a Grouping,
    /// What they are sold for.
    pub price: &'a PriceSheet,
    /// How they hang on hitch and axles.
    pub loads: &'a Loads,
    /// What to order, if there is a schedule.
    pub orders: Option<&'a Orders<'a>>,
    /// What other material does, if any is proposed.
    pub swaps: Option<&'a Swaps>,
    /// What differs from another book, if there is one.
    pub compared: Option<&'a Compared<'a>>,
    /// Everything that was found on the way.
    pub findings: &'a [Diagnostic],
}

/// What a page is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Topic {
    /// Plans side by side.
    Summary,
    /// What they cost and are sold for.
    Cost,
    /// Weight and what carries it.
    Loads,
    /// How stock is cut.
    Layouts,
    /// What to buy.
    Orders,
    /// Other material.
    Swaps,
    /// What was found wrong or worth knowing.
    Findings,
    /// How the figures come about, and what they are not.
    Method,
}

impl Topic {
    /// Returns the title of the page.
    #[must_use]
    pub const fn title(self) -> &'static str {
        match self {
            Topic::Summary => "Summary",
            Topic::Cost => "Cost and price",
            Topic::Loads => "Weight and loads",
            Topic::Layouts => "Cut layouts",
            Topic::Orders => "Orders",
            Topic::Swaps => "Swaps",
            Topic::Findings => "Findings",
            Topic::Method => "Method and cautions",
        }
    }
}

/// A page of the report.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Page {
    /// What it is about.
    pub topic: Topic,
    /// Its tables.
    pub tables: Vec<Table>,
    /// What is to be known to read them.
    pub notes: Vec<String>,
}

/// Returns the lines that name the book.
#[must_use]
pub fn source(whole: &Whole<'_>) -> Vec<String> {
    heading(whole.book, whole.needs.on)
}

/// Returns the pages; those that nothing is known for are left out.
#[must_use]
pub fn pages(whole: &Whole<'_>) -> Vec<Page> {
    let Whole { book, needs, rollup, .. } = *whole;
    let nests = report::nests(book, needs, rollup, Layouts::Listed);
    let mut pages = vec![
        Page { topic: Topic::Summary, tables: vec![tables::summary(whole)], notes: Vec::new() },
        cost(whole),
        page(
            Topic::Loads,
            report::loads(book, needs, whole.loads, &[By::Side, By::Station], LoadsDetail::Full),
        ),
        page(Topic::Layouts, nests),
    ];
    if let Some(orders) = whole.orders {
        let mut found = report::orders(book, orders, OrdersView::All);
        let by_week = tables::spending(orders);
        // Shortages are what a buyer must see first; every order line comes after the sums.
        let shortages = found.tables.iter().position(|table| table.title == SHORTAGES);
        let first = shortages.map(|at| found.tables.remove(at));
        found.tables = first.into_iter().chain([by_week]).chain(found.tables).collect();
        pages.push(page(Topic::Orders, found));
    }
    if let Some(swaps) = whole.swaps {
        let base = Base { book, needs, rollup, findings: whole.findings };
        pages.push(page(Topic::Swaps, report::swap(base, swaps)));
    }
    let findings = vec![tables::findings(whole.findings)];
    pages.push(Page { topic: Topic::Findings, tables: findings, notes: Vec::new() });
    pages.retain(|page| !page.tables.is_empty());
    let notes = method(&mut pages);
    pages.push(Page { topic: Topic::Method, tables: Vec::new(), notes });
    pages
}

/// Title of the table of what runs short.
pub(in crate::render) const SHORTAGES: &str = "What runs short";

/// Returns the whole as one report, for forms that hold tables only.
#[must_use]
pub fn whole(whole: &Whole<'_>) -> Report {
    let mut report = Report { heading: source(whole), ..Report::default() };
    for page in pages(whole) {
        report.tables.extend(page.tables);
        report.notes.extend(page.notes);
    }
    report
}

fn page(topic: Topic, report: Report) -> Page {
    Page { topic, tables: report.tables, notes: report.notes }
}

/// Returns prices first, then what the cost is made of, and last what differs from another book.
fn cost(whole: &Whole<'_>) -> Page {
    let Whole { book, needs, rollup, .. } = *whole;
    let priced = Priced {
        sheet: whole.price,
        lots: None,
        options: None,
        cases: None,
        swings: None,
        ranges: None,
        ledger: None,
    };
    let price = report::price(book, needs, &priced);
    let sums = report::rollup(book, needs, rollup, whole.by_group);
    let assemblies = report::grouping(book, needs, rollup, whole.by_assembly);
    let (sheets, prices): (Vec<Table>, Vec<Table>) =
        price.tables.into_iter().partition(|table| table.title.contains(": cost sheet"));
    let (stock, sums_of): (Vec<Table>, Vec<Table>) =
        sums.tables.into_iter().partition(|table| table.title.contains(": from stock sizes"));
    let mut tables = prices;
    tables.extend(sums_of);
    tables.extend(assemblies.tables);
    tables.extend(sheets);
    tables.extend(stock);
    let mut notes = sums.notes;
    notes.extend(price.notes);
    if let Some(compared) = whole.compared {
        let found = report::compare(compared);
        tables.extend(found.tables);
        notes.extend(found.notes);
    }
    Page { topic: Topic::Cost, tables, notes }
}

/// Takes the notes off the pages, each once, and adds those that hold for all of them.
fn method(pages: &mut [Page]) -> Vec<String> {
    let mut notes: Vec<String> = Vec::new();
    let general = [
        "Every figure follows from the book named at the top of this report; the same book gives the same report, to the last \
         character. The day is that of the book or the one asked for; no clock is read."
            .to_owned(),
        "Lengths are exact to one nanometer, money and weight are decimals; a plan's requirement of an item is rounded once, \
         and every column adds up to the total below it."
            .to_owned(),
        CAUTION_WEIGHT.to_owned(),
        CAUTION_RULES.to_owned(),
    ];
    for note in general.into_iter().chain(pages.iter_mut().flat_map(|page| page.notes.drain(..))) {
        if !notes.contains(&note) {
            notes.push(note);
        }
    }
    notes
}
