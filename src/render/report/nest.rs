use indexmap::IndexMap;

use crate::explode::Needs;
use crate::model::Book;
use crate::model::ItemId;
use crate::model::Size;
use crate::model::Unit;
use crate::nest::{BoundRule, Ending, Layout, Piece, Rest};
use crate::quantity::Length;
use crate::quantity::Ratio;
use crate::render::report::draw;
use crate::render::report::shop;
use crate::render::report::{
    CAUTION_NEST, Cell, Report, Showing, Table, build_name, figures, heading, table, words,
};
use crate::render::shown;
use crate::rollup::{ItemCost, Nested, Rollup};
use crate::shop as floor;
use crate::shop::Day;

/// One nest of one plan.
pub(super) struct Line<'a> {
    /// Position in the builds of the roll-up.
    pub(super) build: usize,
    pub(super) plan: String,
    pub(super) item: &'a ItemCost,
    pub(super) nested: &'a Nested,
}

/// One layout of one nest.
struct Cutting<'a> {
    item: ItemId,
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

/// Which part of the nests is told.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum NestPart {
    /// The nests, how each stock is cut, and for a day of the shop also which unit each piece is for and what is left.
    #[default]
    All,
    /// The nests with their bounds.
    Nests,
    /// How each stock is cut.
    Layouts,
    /// Which unit each piece is for, of a day of the shop.
    Pieces,
    /// The cuts of each layout in order.
    Cuts,
    /// What is left, as rows of table `stock`.
    Offcuts,
}

/// What is told of nests.
#[derive(Clone, Copy, Debug)]
pub struct NestView<'a> {
    /// Which part.
    pub part: NestPart,
    /// How layouts are told.
    pub layouts: Layouts,
    /// Whether all parts include the cuts.
    pub has_cuts: bool,
    /// The day of the shop that the nests are of, if they are of one.
    pub day: Option<&'a Day>,
}

/// Returns the nests of every plan with their bounds, and then how each stock is cut.
#[must_use]
pub fn nests(book: &Book, needs: &Needs, rollup: &Rollup, told: Layouts) -> Report {
    let view = NestView { part: NestPart::All, layouts: told, has_cuts: false, day: None };
    nest_view(book, needs, rollup, &view)
}

/// Returns what a view shows of the nests of every plan, or of every station of a day.
#[must_use]
pub fn nest_view(book: &Book, needs: &Needs, rollup: &Rollup, view: &NestView<'_>) -> Report {
    let lines = lines(book, needs, rollup);
    let listed = |line: &Line<'_>| match view.layouts {
        Layouts::Listed => layouts(book, line),
        Layouts::Drawn(width) => drawings(book, line, width),
    };
    let pieces = |line: &Line<'_>| view.day.map(|day| shop::pieces(day, line));
    let tables = match view.part {
        NestPart::All => {
            let mut tables = vec![summary(book, rollup, &lines, view.day)];
            for line in &lines {
                tables.push(listed(line));
                tables.extend(view.has_cuts.then(|| shop::cuts(book, line)));
                tables.extend(pieces(line));
            }
            tables.extend(view.day.map(|_| shop::offcuts(book, rollup)));
            tables
        }
        NestPart::Nests => vec![summary(book, rollup, &lines, view.day)],
        NestPart::Layouts => lines.iter().map(listed).collect(),
        NestPart::Pieces => lines.iter().filter_map(pieces).collect(),
        NestPart::Cuts => lines.iter().map(|line| shop::cuts(book, line)).collect(),
        NestPart::Offcuts => vec![shop::offcuts(book, rollup)],
    };
    let has_cuts = view.part == NestPart::Cuts || (view.part == NestPart::All && view.has_cuts);
    let mut notes = Vec::new();
    if matches!(view.part, NestPart::All | NestPart::Nests) {
        notes.extend(NOTES.map(str::to_owned));
    }
    if has_cuts {
        notes.push(shop::CUTS_NOTE.to_owned());
    }
    Report { heading: heading(book, needs.on), tables, notes }
}

/// What is said below nests.
const NOTES: [&str; 2] = [
    "A bound is a cost that no way of cutting can go below; a gap of 0.0 is proven to be the best.",
    CAUTION_NEST,
];

/// Returns the nests of a roll-up, plan by plan.
pub(super) fn lines<'a>(book: &Book, needs: &Needs, rollup: &'a Rollup) -> Vec<Line<'a>> {
    let mut lines = Vec::new();
    for (build, cost) in rollup.builds.iter().enumerate() {
        for item in &cost.items {
            if let Some(nested) = &item.nested {
                let plan = build_name(book, &needs.builds[cost.build]);
                lines.push(Line { build, plan, item, nested });
            }
        }
    }
    lines
}

fn summary(book: &Book, rollup: &Rollup, lines: &[Line<'_>], day: Option<&Day>) -> Table {
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
        words(shop::head(day), |line: &Line<'_>| line.plan.clone()).showing(plans),
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
                format!("{count} of {}", stock_text(book, size))
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
        figures("set-ups", |line: &Line<'_>| {
            Cell::text(floor::set_ups(book, line.item.item, line.nested).to_string())
        })
        .showing(Showing::IfItFits),
    ];
    let of =
        lines.first().filter(|_| is_one).map_or(String::new(), |line| format!("{}: ", line.plan));
    let title = match rollup.lot {
        _ if day.is_some() => format!("{of}nests of the day"),
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

pub(super) fn nest_title(book: &Book, line: &Line<'_>) -> String {
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
        .map(|(number, layout)| Cutting {
            item: line.item.item,
            number,
            nested: line.nested,
            layout,
        })
        .collect();
    let is_in_books = cuttings
        .iter()
        .any(|cutting| floor::books(book, cutting.item, cutting.layout).set_ups() > 1);
    let fields = [
        figures("layout", |cutting: &Cutting<'_>| Cell::text(cutting.number.to_string())),
        figures("times", |cutting: &Cutting<'_>| Cell::text(cutting.layout.repeat.to_string())),
        figures("set-ups", |cutting: &Cutting<'_>| {
            let books = floor::books(book, cutting.item, cutting.layout);
            let plain = books.set_ups().to_string();
            let shown = if books.set_ups() > 1 { shop::books_text(books) } else { plain.clone() };
            Cell { shown, plain }
        })
        .showing(if is_in_books { Showing::Always } else { Showing::Never }),
        words("stock", |cutting: &Cutting<'_>| {
            stock_text(book, &book.sizes[cutting.nested.sizes[cutting.layout.stock].index()])
        }),
        words(&format!("pieces, {}", unit.name), |cutting: &Cutting<'_>| {
            pieces(cutting.nested, cutting.layout, unit)
        }),
        words(&format!("offcuts kept, {}", unit.name), |cutting: &Cutting<'_>| {
            counted(cutting.layout.offcuts.iter().map(|rest| rest_text(*rest, unit)))
        }),
    ];
    table(nest_title(book, line), &fields, &cuttings)
}

/// Returns the size of a stock, and whether it is an offcut on hand.
pub(super) fn stock_text(book: &Book, size: &Size) -> String {
    let text = shown::size(book, size.length, size.width);
    if size.is_offcut { format!("{text} (offcut)") } else { text }
}

/// Returns the pieces of a layout, those of one size counted, and its splices.
fn pieces(nested: &Nested, layout: &Layout, unit: &Unit) -> String {
    let pieces = layout
        .placements
        .iter()
        .map(|placement| piece_text(&nested.instance.pieces[placement.piece], unit));
    let splices = layout.splices.iter().map(|rest| format!("run of {}", rest_text(*rest, unit)));
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
pub(super) fn counted(texts: impl Iterator<Item = String>) -> String {
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
        pieces(nested, layout, unit)
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
