//! JSON: one document per command, `schema` first; money, weights and ratios are decimal texts.
//!
//! Fields may be added; a change of meaning raises the number behind the slash. The format has structs of its own, so
//! that it changes on purpose only; `docs/json.md` says what each field means.

mod compare;
mod cuts;
mod loads;
mod needs;
mod orders;
mod price;
mod rollup;
mod shop;
mod swap;
mod why;

use serde::Serialize;

use crate::diag::Diagnostic;
use crate::explode::{Build, Needs};
use crate::model::Book;
use crate::model::Summary;
use crate::quantity::Length;
use crate::quantity::Ratio;
use crate::quantity::text::exact;
use crate::render::Report;
use crate::render::report::WEIGHT_CAUTIONS;

pub use compare::{compare, variances};
pub use loads::loads;
pub use needs::needs;
pub use orders::orders;
pub use price::price;
pub use rollup::{Layouts, rollup};
pub use shop::shop;
pub use swap::swap;
pub use why::why;

#[derive(Serialize)]
struct Document<T: Serialize> {
    schema: String,
    book: BookLine,
    #[serde(flatten)]
    answer: T,
    #[serde(skip_serializing_if = "<[_]>::is_empty")]
    cautions: &'static [&'static str],
    findings: Vec<Finding>,
}

#[derive(Serialize)]
struct BookLine {
    revision: String,
    on: Option<String>,
    currency: String,
    weight_unit: String,
    digest: String,
}

impl BookLine {
    fn of(book: &Book, on: Option<jiff::civil::Date>) -> BookLine {
        BookLine {
            revision: book.settings.revision.clone(),
            on: on.map(|on| on.to_string()),
            currency: book.settings.currency.clone(),
            weight_unit: book.settings.weight_unit.name.clone(),
            digest: book.digest.clone(),
        }
    }
}

#[derive(Serialize)]
struct Finding {
    severity: String,
    place: Option<String>,
    text: String,
    hint: Option<String>,
}

/// Answers that tell weights or loads.
const WEIGHING: [&str; 6] = ["explode", "rollup", "why", "loads", "swap", "compare"];

fn document<T: Serialize>(
    verb: &str,
    book: &Book,
    on: Option<jiff::civil::Date>,
    findings: &[Diagnostic],
    answer: T,
) -> String {
    let document = Document {
        schema: format!("cutbill.{verb}/1"),
        book: BookLine::of(book, on),
        answer,
        cautions: if WEIGHING.contains(&verb) { &WEIGHT_CAUTIONS } else { &[] },
        findings: findings
            .iter()
            .map(|finding| Finding {
                severity: finding.severity.to_string(),
                place: finding.place.as_ref().map(ToString::to_string),
                text: finding.problem.to_string(),
                hint: finding.hint.clone(),
            })
            .collect(),
    };
    let mut text =
        serde_json::to_string_pretty(&document).expect("texts, counts and lists become JSON");
    text.push('\n');
    text
}

#[derive(Serialize)]
struct CheckAnswer {
    plans: usize,
    assemblies: usize,
    options: usize,
    items: usize,
    lines: usize,
    unused_items: Vec<String>,
    items_never_priced: Vec<String>,
}

/// Returns what `check` answers.
///
/// # Example
/// ```
/// # use cutbill::model::summary;
/// # use cutbill::read::{Memory, read};
/// use cutbill::render::json;
///
/// # let files = Memory::from_iter([
/// #     ("plans.csv", "plan\nSedge\n"),
/// #     ("bill.csv", "parent,component,quantity\nSedge,BOLT,4\n"),
/// #     ("items.csv", "item,form,price,weight\nBOLT,count,0.25,0.1 lb\n"),
/// # ]);
/// # let book = read(&files).unwrap().value;
/// let answer = json::check(&book, &summary(&book), &[]);
/// let answer: serde_json::Value = serde_json::from_str(&answer).unwrap();
/// assert_eq!(answer["schema"], "cutbill.check/1");
/// assert_eq!(answer["lines"], 1);
/// ```
#[must_use]
pub fn check(book: &Book, summary: &Summary, findings: &[Diagnostic]) -> String {
    let answer = CheckAnswer {
        plans: summary.plans,
        assemblies: summary.assemblies,
        options: summary.options,
        items: summary.items,
        lines: summary.lines,
        unused_items: summary.unused_items.clone(),
        items_never_priced: summary.unpriced_items.clone(),
    };
    document("check", book, book.as_of(), findings, answer)
}

#[derive(Serialize)]
struct TablesAnswer {
    tables: Vec<TableLine>,
}

#[derive(Serialize)]
struct TableLine {
    title: String,
    rows: Vec<serde_json::Map<String, serde_json::Value>>,
}

/// Returns the tables of a report, each row an object by column titles: the indented bill, or where an item is used.
#[must_use]
pub fn tables(
    verb: &str,
    book: &Book,
    needs: &Needs,
    report: &Report,
    findings: &[Diagnostic],
) -> String {
    self::report(verb, book, needs.on, report, findings)
}

/// Returns the tables of a report, each row an object by column titles.
#[must_use]
pub fn report(
    verb: &str,
    book: &Book,
    on: Option<jiff::civil::Date>,
    report: &Report,
    findings: &[Diagnostic],
) -> String {
    let tables = report.tables.iter().map(|table| TableLine {
        title: table.title.clone(),
        rows: table
            .rows
            .iter()
            .map(|row| {
                let cells = table.columns.iter().zip(row);
                cells
                    .map(|(column, cell)| (column.title.clone(), cell.plain.clone().into()))
                    .collect()
            })
            .collect(),
    });
    document(verb, book, on, findings, TablesAnswer { tables: tables.collect() })
}

/// A length: exact in its unit, as a decimal where it is one, else as a fraction.
#[derive(Serialize)]
struct Side {
    value: String,
    unit: String,
}

fn side(book: &Book, length: Length) -> Side {
    let unit = &book.settings.length_unit;
    let count = length.to_ratio().checked_div(&unit.factor).unwrap_or(Ratio::ZERO);
    Side { value: exact(&count), unit: unit.name.clone() }
}

fn option_names(book: &Book, build: &Build) -> Vec<String> {
    build.options.iter().map(|option| book.options[option.index()].name.clone()).collect()
}
