//! One HTML file that holds a whole report: tables, charts, drawings to scale, a page for every topic.
//!
//! In: finished results. Out: a document that needs nothing else: its style, drawings and one small script stand in it,
//! and its policy forbids a reader to load or run anything more. It reads without the script, which only sorts, filters,
//! searches and switches units. [`layouts`] writes the cut layouts alone.
//!
//! Always: every text passes a template that escapes it, and what no document may hold (control characters, signs that
//! turn the direction of what follows) is replaced, so no name in a book can run, hide or break anything.
//!
//! Not here: deciding what a report holds, see [`report::pages`].

mod charts;
mod clean;
mod layouts;
mod pages;
mod sheet;
mod side;
mod svg;
mod view;

use askama::Template;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use sha2::{Digest, Sha256};

use crate::explode::Needs;
use crate::model::Book;
use crate::render::report;
use crate::render::report::{Report, Whole};
use crate::rollup::Rollup;
use layouts::Card;
use svg::Drawing;
use view::TableView;

pub use sheet::layouts_svg;

const STYLE: &str = include_str!("templates/style.css");
const SCRIPT: &str = include_str!("templates/script.js");

/// How layouts are printed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum LayoutPages {
    /// As many as a page holds.
    #[default]
    Several,
    /// Each on a page of its own.
    One,
}

/// Returns the whole report as a document.
#[must_use]
pub fn html(whole: &Whole<'_>, layout_pages: LayoutPages) -> String {
    let sections = pages::sections(whole);
    document("Build report", whole.book, whole.needs, sections, layout_pages)
}

/// Returns the cut layouts of a roll-up as a document for the shop.
///
/// # Example
/// ```
/// # use cutbill::explode::{self, explode};
/// # use cutbill::read::{Memory, read};
/// # use cutbill::watch::Silent;
/// use cutbill::render::html::{LayoutPages, layouts};
/// use cutbill::render::report::{Layouts, nests};
/// # use cutbill::rollup;
///
/// # let files = Memory::from_iter([
/// #     ("plans.csv", "plan\nSedge\n"),
/// #     ("bill.csv", "parent,component,quantity,length\nSedge,RAIL,2,40 in\n"),
/// #     ("items.csv", "item,form,kerf,weight\nRAIL,linear,1/8,2 lb/ft\n"),
/// #     ("sizes.csv", "item,length,price\nRAIL,96 in,5\n"),
/// # ]);
/// # let book = read(&files).unwrap().value;
/// # let needs = explode(&book, &explode::Options::default()).unwrap().value;
/// # let rolled = rollup::rollup(&book, &needs, rollup::Options::default(), &Silent).unwrap().value;
/// let told = nests(&book, &needs, &rolled, Layouts::Listed);
/// let document = layouts(&book, &needs, &rolled, &told, LayoutPages::Several);
/// assert!(document.starts_with("<!doctype html>"));
/// ```
#[must_use]
pub fn layouts(
    book: &Book,
    needs: &Needs,
    rollup: &Rollup,
    nests: &Report,
    layout_pages: LayoutPages,
) -> String {
    let mut blocks = pages::layouts(book, needs, rollup, nests.tables.first(), "layouts");
    blocks.push(Block::Heading("Notes".to_owned()));
    blocks.push(Block::List(nests.notes.clone()));
    let title = report::Topic::Layouts.title();
    let section = Section { id: "layouts", title, blocks };
    document("Cut layouts", book, needs, vec![section], layout_pages)
}

/// A document, ready to be written.
#[derive(Template)]
#[template(path = "report.html")]
struct Document {
    kind: &'static str,
    title: String,
    heading: Vec<String>,
    length_unit: String,
    other_length: &'static str,
    weight_unit: String,
    other_weight: &'static str,
    sections: Vec<Section>,
    is_paged: bool,
    policy: String,
    style: &'static str,
    script: &'static str,
}

/// A page of a document.
struct Section {
    id: &'static str,
    title: &'static str,
    blocks: Vec<Block>,
}

/// A part of a page.
enum Block {
    Heading(String),
    Text(String),
    List(Vec<String>),
    Table(TableView),
    Drawing(Drawing),
    /// A chart that is SVG already, its texts escaped.
    Chart {
        title: String,
        svg: String,
    },
    Card(Box<Card>),
}

/// Most plans that a title names.
const MOST_NAMED: usize = 3;

fn document(
    kind: &'static str,
    book: &Book,
    needs: &Needs,
    sections: Vec<Section>,
    layout_pages: LayoutPages,
) -> String {
    let names: Vec<String> =
        needs.builds.iter().map(|build| report::build_name(book, build)).collect();
    let title = match names.get(MOST_NAMED..) {
        Some(rest) if !rest.is_empty() => {
            format!("{} and {} more", names[..MOST_NAMED].join(", "), rest.len())
        }
        _ => names.join(", "),
    };
    let settings = &book.settings;
    let is_metric = ["mm", "cm", "m"].contains(&settings.length_unit.name.as_str());
    let document = Document {
        kind,
        title,
        heading: report::heading(book, needs.on),
        length_unit: settings.length_unit.name.clone(),
        other_length: if is_metric { "in" } else { "mm" },
        weight_unit: settings.weight_unit.name.clone(),
        other_weight: if settings.weight_unit.name == "kg" { "lb" } else { "kg" },
        sections,
        is_paged: layout_pages == LayoutPages::One,
        policy: policy(),
        style: STYLE,
        script: SCRIPT,
    };
    clean::clean(&document.render().expect("writing to memory cannot fail"))
}

/// Returns the policy that lets a reader apply the styles and run the one script, and nothing else.
fn policy() -> String {
    let hash = STANDARD.encode(Sha256::digest(SCRIPT));
    format!(
        "default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{hash}'; base-uri 'none'; form-action 'none'"
    )
}

#[cfg(test)]
mod tests;
