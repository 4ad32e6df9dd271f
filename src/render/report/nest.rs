use indexmap::IndexMap;

use crate::explode::Needs;
use crate::model::Book;
use crate::model::Unit;
use crate::nest::{BoundRule, Ending, Layout, Piece, Rest};
use crate::quantity::Length;
use crate::quantity::Ratio;
use crate::render::report::draw;
use crate::render::report::{
    CAUTION_NEST, Cell, Report, Showing, Table, build_name, figures, heading, table, words,
};
use crate::render::shown;
use crate::rollup::{ItemCost, Nested, Rollup};

/// One nest of one plan.
struct Line<'a> {
    plan: String,
    item: &'a ItemCost,
    nested: &'a Nested,
}

/// One layout of one nest.
struct Cutting<'a> {
    number: usize,
    nested: &'a Nested,
    layout: &'a Layout,
}

/// How layouts are told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Layouts {
    /// As a list: how many pieces of which size.
    Listed,
    /// As a drawing of at most so many columns, with where each piece lies.
    Drawn(usize),
}

/// Returns the nests of every plan with their bounds, and then how each stock is cut.
#[must_use]
pub fn nests(book: &Book, needs: &Needs, rollup: &Rollup, told: Layouts) -> Report {
    let mut lines = Vec::new();
    for cost in &rollup.builds {
        for item in &cost.items {
            if let Some(nested) = &item.nested {
                lines.push(Line {
                    plan: build_name(book, &needs.builds[cost.build]),
                    item,
                    nested,
                });
            }
        }
    }
    let mut tables = vec![summary(book, rollup, &lines)];
    tables.extend(lines.iter().map(|line| match told {
        Layouts::Listed => layouts(book, line),
        Layouts::Drawn(width) => drawings(book, line, width),
    }));
    let notes = vec![
        "A bound is a cost that no way of cutting can go below; a gap of 0.0 is proven to be the best.".to_owned(),
        CAUTION_NEST.to_owned(),
    ];
    Report { heading: heading(book, needs.on), tables, notes }
}

fn summary(book: &Book, rollup: &Rollup, lines: &[Line<'_>]) -> Table {
    let currency = &book.settings.currency;
    // One plan stands in the title.
    let is_one = lines.iter().all(|line| line.plan == lines[0].plan);
    let plans = if is_one { Showing::Never } else { Showing::Always };
    let has_run = if lines.iter().any(|line| line.nested.instance.run > Length::ZERO) {
        Showing::IfItFits
    } else {
        Showing::Never
    };
    let fields = [
        words("plan", |line: &Line<'_>| line.plan.clone()).showing(plans),
        words("item", |line: &Line<'_>| book.item(line.item.item).name.clone()),
        figures("pieces", |line: &Line<'_>| {
            let count: u64 = line.nested.instance.pieces.iter().map(|piece| piece.count).sum();
            Cell::figure(count.to_string())
        }),
        figures("run ft", |line: &Line<'_>| {
            let feet = line.nested.instance.run.to_ratio().checked_div(&Length::FOOT.to_ratio());
            let feet = feet.filter(|feet| *feet != Ratio::ZERO);
            Cell::figure(feet.map_or_else(String::new, |feet| shown::rounded(&feet, 2)))
        })
        .showing(has_run),
        words("stock", |line: &Line<'_>| {
            let counts = line.nested.nest.stock_counts(&line.nested.instance);
            let taken = counts.iter().zip(&line.nested.sizes).filter(|(count, _)| **count > 0);
            let texts = taken.map(|(count, size)| {
                let size = &book.sizes[size.index()];
                format!("{count} of {}", shown::size(book, size.length, size.width))
            });
            texts.collect::<Vec<_>>().join(", ")
        }),
        figures(&format!("cost {currency}"), |line: &Line<'_>| {
            Cell::figure(shown::fixed(&line.nested.nest.cost, rollup.cost_digits))
        }),
        figures(&format!("bound {currency}"), |line: &Line<'_>| {
            Cell::figure(shown::fixed(&line.nested.nest.bound.cost, rollup.cost_digits))
        }),
        figures("gap %", |line: &Line<'_>| Cell::text(shown::percent(&line.nested.nest.gap()))),
        figures("yield %", |line: &Line<'_>| {
            Cell::text(
                line.item.yield_share().map_or_else(String::new, |share| shown::percent(&share)),
            )
        })
        .showing(Showing::IfItFits),
        words("ended", |line: &Line<'_>| ending(line.nested.nest.ending).to_owned()),
        words("bound by", |line: &Line<'_>| {
            let bound = &line.nested.nest.bound;
            match rule(bound.rule) {
                Some(rule) => format!("{} ({rule})", bound.method),
                None => bound.method.to_owned(),
            }
        })
        .showing(Showing::IfItFits),
    ];
    let of =
        lines.first().filter(|_| is_one).map_or(String::new(), |line| format!("{}: ", line.plan));
    let title = match rollup.lot {
        1 => format!("{of}nests, one unit each"),
        lot => format!("{of}nests, lots of {lot}"),
    };
    table(title, &fields, lines)
}

/// Returns the word for how a search ended.
#[must_use]
pub(super) fn ending(ending: Ending) -> &'static str {
    match ending {
        Ending::Proven => "proven",
        Ending::Effort => "effort",
        Ending::Stopped => "stopped",
    }
}

/// Returns the cutting a bound is limited to; one that holds for any cutting has no word.
fn rule(rule: BoundRule) -> Option<&'static str> {
    match rule {
        BoundRule::Any => None,
        BoundRule::Guillotine => Some("guillotine cuts"),
        BoundRule::Staged => Some("staged cuts"),
    }
}

fn drawings(book: &Book, line: &Line<'_>, width: usize) -> Table {
    let drawn = line.nested.nest.layouts.iter().enumerate();
    let below = drawn.flat_map(|(number, layout)| {
        let size = &book.sizes[line.nested.sizes[layout.stock].index()];
        draw::layout(book, line.nested, layout, size, number + 1, width)
    });
    Table { title: nest_title(book, line), below: below.collect(), ..Table::default() }
}

fn nest_title(book: &Book, line: &Line<'_>) -> String {
    let item = book.item(line.item.item);
    let kerf = shown::size(book, Some(item.kerf), None);
    let words = if item.description.is_empty() {
        item.name.clone()
    } else {
        format!("{} ({})", item.name, item.description)
    };
    format!("{}: {words}, kerf {kerf}", line.plan)
}

fn layouts(book: &Book, line: &Line<'_>) -> Table {
    let unit = &book.settings.length_unit;
    let cuttings: Vec<Cutting<'_>> = (1..)
        .zip(&line.nested.nest.layouts)
        .map(|(number, layout)| Cutting { number, nested: line.nested, layout })
        .collect();
    let fields = [
        figures("layout", |cutting: &Cutting<'_>| Cell::text(cutting.number.to_string())),
        figures("times", |cutting: &Cutting<'_>| Cell::text(cutting.layout.repeat.to_string())),
        words("stock", |cutting: &Cutting<'_>| {
            let size = &book.sizes[cutting.nested.sizes[cutting.layout.stock].index()];
            shown::size(book, size.length, size.width)
        }),
        words(&format!("pieces, {}", unit.name), |cutting: &Cutting<'_>| pieces(cutting, unit)),
        words(&format!("offcuts kept, {}", unit.name), |cutting: &Cutting<'_>| {
            counted(cutting.layout.offcuts.iter().map(|rest| rest_text(*rest, unit)))
        }),
    ];
    table(nest_title(book, line), &fields, &cuttings)
}

/// Returns the pieces of a layout, those of one size counted, and its splices.
fn pieces(cutting: &Cutting<'_>, unit: &Unit) -> String {
    let pieces = cutting.layout.placements.iter().map(|placement| {
        let piece = &cutting.nested.instance.pieces[placement.piece];
        piece_text(piece, unit)
    });
    let splices =
        cutting.layout.splices.iter().map(|rest| format!("run of {}", rest_text(*rest, unit)));
    counted(pieces.chain(splices))
}

/// Returns the size of a piece: `48 x 24`, or a length.
pub(super) fn piece_text(piece: &Piece, unit: &Unit) -> String {
    if piece.width > Length::ZERO {
        shown::sides(piece.length, piece.width, unit)
    } else {
        shown::length(piece.length, unit)
    }
}

/// Lists texts in the order they first come, each with how often it does if more than once: `3 of 48, 24`.
fn counted(texts: impl Iterator<Item = String>) -> String {
    let mut counts: IndexMap<String, usize> = IndexMap::new();
    for text in texts {
        *counts.entry(text).or_default() += 1;
    }
    let parts = counts
        .into_iter()
        .map(|(text, count)| if count > 1 { format!("{count} of {text}") } else { text });
    parts.collect::<Vec<_>>().join(", ")
}

pub(super) fn rest_text(rest: Rest, unit: &Unit) -> String {
    if rest.width > Length::ZERO {
        shown::sides(rest.length, rest.width, unit)
    } else {
        shown::length(rest.length, unit)
    }
}

/// Returns a layout as one line: `layout 2, 3 times 96 x 48 in at 16.192: 2 of 48 x 47-7/8`.
pub(super) fn layout_line(book: &Book, nested: &Nested, number: usize) -> String {
    let unit = &book.settings.length_unit;
    let layout = &nested.nest.layouts[number];
    let size = &book.sizes[nested.sizes[layout.stock].index()];
    let cutting = Cutting { number, nested, layout };
    let cost: &Ratio = &nested.instance.stocks[layout.stock].cost;
    format!(
        "layout {}, {} {}{}: {}",
        number + 1,
        times(layout.repeat),
        shown::size(book, size.length, size.width),
        if nested.instance.charges_length {
            format!(", {} taken", shown::size(book, Some(layout.taken), None))
        } else {
            format!(" at {}", shown::rounded(cost, 4))
        },
        pieces(&cutting, unit)
    )
}

/// Returns how often something is done, in words.
pub(in crate::render) fn times(count: u64) -> String {
    match count {
        1 => "once".to_owned(),
        2 => "twice".to_owned(),
        _ => format!("{count} times"),
    }
}
