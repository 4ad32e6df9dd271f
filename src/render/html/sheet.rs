//! All cut layouts as one SVG drawing, one below the other, for the floor.

use askama::Template;

use crate::explode::Needs;
use crate::model::Book;
use crate::render::html::clean::clean;
use crate::render::html::layouts;
use crate::render::html::layouts::Card;
use crate::render::html::svg;
use crate::render::report;
use crate::rollup::Rollup;

const STYLE: &str = include_str!("templates/drawing.css");

/// Height of the title above a layout, and room below it, in tenths of a pixel.
const TITLE: i64 = 520;
const GAP: i64 = 300;
/// Room for the lines that name the book.
const HEAD: i64 = 700;

/// A drawing of drawings.
#[derive(Template)]
#[template(path = "sheet.html")]
struct Sheet {
    heading: String,
    width: svg::Tenths,
    height: svg::Tenths,
    placed: Vec<Placed>,
    style: &'static str,
}

struct Placed {
    card: Card,
    /// Where its title and its drawing begin.
    title_at: svg::Tenths,
    facts_at: svg::Tenths,
    at: svg::Tenths,
}

/// Returns the layouts of a roll-up as an SVG drawing.
#[must_use]
pub fn layouts_svg(book: &Book, needs: &Needs, rollup: &Rollup) -> String {
    let mut down = HEAD;
    let mut across = 0;
    let mut placed = Vec::new();
    for card in layouts::cards(book, needs, rollup, layouts::Alike::Each) {
        let [width, height] = card.drawing.extent;
        across = width.0.max(across);
        placed.push(Placed {
            title_at: svg::Tenths(down + 200),
            facts_at: svg::Tenths(down + 400),
            at: svg::Tenths(down + TITLE),
            card,
        });
        down += TITLE + height.0 + GAP;
    }
    let sheet = Sheet {
        heading: report::heading(book, needs.on).join("; "),
        width: svg::Tenths(across.max(8_200)),
        height: svg::Tenths(down),
        placed,
        style: STYLE,
    };
    clean(&sheet.render().expect("writing to memory cannot fail"))
}
