//! What the shop floor is told: cuts in order, which unit a piece is for, what is left, where an extra piece goes.

use indexmap::IndexMap;

use crate::explode::Needs;
use crate::model::Book;
use crate::nest::{Kind, Layout, Rest};
use crate::quantity::{Length, Ratio};
use crate::render::report::draw::kinds;
use crate::render::report::nest::{Line, counted, nest_title, piece_text, rest_text};
use crate::render::report::{
    Cell, NestPart, NestView, Report, Showing, Table, figures, heading, nest_view, table, words,
};
use crate::render::shown;
use crate::rollup::{Nested, Rollup};
use crate::shop;
use crate::shop::{Books, Cut, Day, Kept, Origin, Recut, Side, sequence};

/// How a list of cuts is to be read.
pub(super) const CUTS_NOTE: &str = "A rip runs along the length of the stock, a crosscut across it, each from edge to edge of \
     the part it goes through. `at` is where the good edge lies in the drawing, `set` how far it is from the edge of what is \
     left of the part. The saw takes its kerf behind that edge, or before it where it says so.";

/// Returns what the builds of nests are: plans, or stations of a day.
pub(super) fn head(day: Option<&Day>) -> &'static str {
    if day.is_some() { "station" } else { "plan" }
}

/// Returns how a layout is sawn: `3: 2 of 5, 1 of 2`.
pub(super) fn books_text(books: Books) -> String {
    let mut parts = vec![format!("{} of {}", books.count, books.full)];
    if books.rest > 0 {
        parts.push(format!("1 of {}", books.rest));
    }
    format!("{}: {}", books.set_ups(), parts.join(", "))
}

/// A cut of a layout.
struct CutLine<'a> {
    /// Position of the layout in its nest.
    layout: usize,
    /// Position of the cut among those of the layout, from 1.
    number: usize,
    cut: Cut,
    line: &'a Line<'a>,
}

/// Returns the cuts of every layout of a nest in their order.
pub(super) fn cuts(book: &Book, line: &Line<'_>) -> Table {
    let unit = &book.settings.length_unit;
    let instance = &line.nested.instance;
    let is_stick = instance.kind == Kind::Linear;
    let mut rows = Vec::new();
    let mut below = Vec::new();
    for (layout, of) in line.nested.nest.layouts.iter().enumerate() {
        match sequence(instance, of) {
            None => below.push(format!(
                "layout {}: the pieces interlock, no cuts from edge to edge part them",
                layout + 1
            )),
            Some(sequence) if sequence.cuts.is_empty() => {
                below.push(format!("layout {} takes no cut", layout + 1));
            }
            Some(sequence) => rows.extend((1..).zip(sequence.cuts).map(|(number, cut)| CutLine {
                layout,
                number,
                cut,
                line,
            })),
        }
    }
    let of = |row: &CutLine<'_>| &line.nested.nest.layouts[row.layout];
    let item = &book.item(line.item.item).name;
    let flat = if is_stick { Showing::Never } else { Showing::Always };
    let fields =
        [
            words("plan", |row: &CutLine<'_>| row.line.plan.clone()).showing(Showing::Never),
            words("item", |_: &CutLine<'_>| item.clone()).showing(Showing::Never),
            figures("layout", |row: &CutLine<'_>| Cell::text((row.layout + 1).to_string())),
            figures("times", |row: &CutLine<'_>| Cell::text(of(row).repeat.to_string()))
                .showing(Showing::IfItFits),
            figures("cut", |row: &CutLine<'_>| Cell::text(row.number.to_string())),
            words("stage", |row: &CutLine<'_>| match row.cut.stage {
                0 => "trim".to_owned(),
                stage => stage.to_string(),
            })
            .showing(flat),
            words("way", |row: &CutLine<'_>| row.cut.way.name().to_owned()).showing(flat),
            words("through", |row: &CutLine<'_>| match row.cut.part {
                0 => stock_word(instance.kind).to_owned(),
                part => format!("part {part}"),
            })
            .showing(flat),
            words("from", |row: &CutLine<'_>| row.cut.way.edge().to_owned()),
            figures(&format!("at, {}", unit.name), |row: &CutLine<'_>| {
                Cell::text(shown::length(row.cut.at, unit))
            }),
            figures(&format!("set, {}", unit.name), |row: &CutLine<'_>| {
                Cell::text(shown::length(row.cut.from_edge, unit))
            }),
            words("kerf", |row: &CutLine<'_>| {
                if row.cut.is_leading { "before".to_owned() } else { "behind".to_owned() }
            })
            .showing(Showing::IfItFits),
            words(&format!("comes free, {}", unit.name), |row: &CutLine<'_>| {
                freed(book, line.nested, of(row), &row.cut)
            }),
        ];
    let title = format!("{}: cuts in order", nest_title(book, line));
    Table { below, ..table(title, &fields, &rows) }
}

fn stock_word(kind: Kind) -> &'static str {
    match kind {
        Kind::Linear => "stick",
        Kind::Roll | Kind::FreeRoll => "roll",
        Kind::Guillotine | Kind::Free => "sheet",
    }
}

/// Returns what a cut frees: pieces by their numbers, offcuts, parts to be cut further, waste.
fn freed(book: &Book, nested: &Nested, layout: &Layout, cut: &Cut) -> String {
    let unit = &book.settings.length_unit;
    let is_stick = nested.instance.kind == Kind::Linear;
    let size = |rest: Rest| {
        rest_text(Rest { width: if is_stick { Length::ZERO } else { rest.width }, ..rest }, unit)
    };
    let numbers = kinds(layout);
    let texts = cut.sides.iter().enumerate().filter_map(|(position, (side, rest))| {
        let is_roll = nested.instance.kind.is_roll() && cut.part == 0 && position == 1;
        Some(match side {
            Side::Rest | Side::Dust => return None,
            Side::Piece(piece) => {
                let kind = layout.placements[*piece].piece;
                let number = numbers.iter().position(|known| *known == kind).unwrap_or(0) + 1;
                format!("piece {number}, {}", piece_text(&nested.instance.pieces[kind], unit))
            }
            Side::Splice(_) => format!("run of {}", size(*rest)),
            Side::Waste if is_roll => "the roll".to_owned(),
            Side::Offcut(_) => format!("offcut {}", size(*rest)),
            Side::Part(number) => format!("part {number}, {}", size(*rest)),
            Side::Waste => format!("waste {}", size(*rest)),
        })
    });
    texts.collect::<Vec<_>>().join("; ")
}

/// What pieces of one row have in common: layout, stock, size, and what they are for.
type PieceKey = (usize, u64, usize, Option<(usize, String)>);

/// Pieces of one size on one stock that are for one assembly of one unit.
struct PieceLine {
    layout: usize,
    copy: u64,
    piece: usize,
    purpose: Option<(usize, String)>,
    places: Vec<String>,
}

/// Returns which unit and assembly each placed piece of a nest of a day is for.
pub(super) fn pieces(day: &Day, line: &Line<'_>) -> Table {
    let book = &day.book;
    let unit = &book.settings.length_unit;
    let is_stick = line.nested.instance.kind == Kind::Linear;
    let layouts = &line.nested.nest.layouts;
    let mut rows: IndexMap<PieceKey, Vec<String>> = IndexMap::new();
    for placed in day.placed(line.build, line.item.item) {
        let at = &layouts[placed.layout].placements[placed.placement];
        let mut place = shown::length(at.x, unit);
        if !is_stick {
            place = format!("({place}, {})", shown::length(at.y, unit));
        }
        if at.is_turned {
            place.push_str(" turned");
        }
        let key = (placed.layout, placed.copy, at.piece, placed.purpose);
        rows.entry(key).or_default().push(place);
    }
    let rows: Vec<PieceLine> = rows
        .into_iter()
        .map(|((layout, copy, piece, purpose), places)| PieceLine {
            layout,
            copy,
            piece,
            purpose,
            places,
        })
        .collect();
    let numbers: Vec<Vec<usize>> = layouts.iter().map(kinds).collect();
    let item = &book.item(line.item.item).name;
    let of_unit = |row: &PieceLine| row.purpose.as_ref().map(|(unit, _)| &day.units[*unit]);
    let fields = [
        words("station", |_: &PieceLine| line.plan.clone()).showing(Showing::Never),
        words("item", |_: &PieceLine| item.clone()).showing(Showing::Never),
        figures("layout", |row: &PieceLine| Cell::text((row.layout + 1).to_string())),
        figures(stock_word(line.nested.instance.kind), |row: &PieceLine| {
            let plain = (row.copy + 1).to_string();
            Cell { shown: format!("{plain} of {}", layouts[row.layout].repeat), plain }
        }),
        figures("piece", |row: &PieceLine| {
            let number = numbers[row.layout].iter().position(|kind| *kind == row.piece);
            Cell::text((number.unwrap_or(0) + 1).to_string())
        }),
        figures("count", |row: &PieceLine| Cell::text(row.places.len().to_string())),
        words(&format!("size, {}", unit.name), |row: &PieceLine| {
            piece_text(&line.nested.instance.pieces[row.piece], unit)
        }),
        words("unit", |row: &PieceLine| {
            of_unit(row).map_or_else(|| "spare".to_owned(), |unit| unit.name.clone())
        }),
        words("for", |row: &PieceLine| {
            row.purpose.as_ref().map_or_else(String::new, |(_, assembly)| assembly.clone())
        }),
        words("plan", |row: &PieceLine| {
            of_unit(row).map_or_else(String::new, |unit| book.plans[unit.plan.index()].name.clone())
        })
        .showing(Showing::IfItFits),
        words("order", |row: &PieceLine| {
            of_unit(row).map_or_else(String::new, |unit| unit.order.clone())
        })
        .showing(Showing::IfItFits),
        words(&format!("at, {}", unit.name), |row: &PieceLine| row.places.join(" ")),
    ];
    table(format!("{}: pieces by unit", nest_title(book, line)), &fields, &rows)
}

/// Returns what layouts leave, as rows of table `stock`.
pub(super) fn offcuts(book: &Book, rollup: &Rollup) -> Table {
    let unit = &book.settings.length_unit;
    let nothing = |_: &Kept| String::new();
    let length = |length: Length| {
        if length == Length::ZERO { String::new() } else { shown::length(length, unit) }
    };
    let fields = [
        words("item", |kept: &Kept| book.item(kept.item).name.clone()),
        words("length", |kept: &Kept| length(kept.length)),
        words("width", |kept: &Kept| length(kept.width)),
        figures("quantity", |kept: &Kept| Cell::text(kept.count.to_string())),
        words("kind", |_: &Kept| "on hand".to_owned()),
        words("due", nothing).showing(Showing::Never),
        words("order", nothing).showing(Showing::Never),
        words("vendor", nothing).showing(Showing::Never),
        words("price", nothing).showing(Showing::Never),
    ];
    table("Offcuts, as rows of table `stock`", &fields, &shop::offcuts(rollup))
}

/// A layout that an extra piece changes or brings.
struct ExtraLine<'a> {
    number: usize,
    layout: &'a Layout,
    origin: Origin,
    cost: &'a Ratio,
}

/// Returns where extra pieces went and what that costs, and then the layouts that change or are new.
#[must_use]
pub fn extra(needs: &Needs, recut: &Recut, rollup: &Rollup, view: &NestView<'_>) -> Report {
    let book = &recut.book;
    let Some(nested) = &recut.item.nested else {
        return Report { heading: heading(book, needs.on), ..Report::default() };
    };
    let unit = &book.settings.length_unit;
    let lines: Vec<ExtraLine<'_>> = nested
        .nest
        .layouts
        .iter()
        .zip(&recut.origins)
        .zip(&recut.costs)
        .zip(1..)
        .map(|(((layout, origin), cost), number)| ExtraLine {
            number,
            layout,
            origin: *origin,
            cost,
        })
        .collect();
    let is_extra = |piece: usize| recut.extras.contains(&piece);
    let fields = [
        words(&format!("extra, {}", unit.name), |line: &ExtraLine<'_>| {
            let extras = line.layout.placements.iter().filter(|at| is_extra(at.piece));
            counted(extras.map(|at| piece_text(&nested.instance.pieces[at.piece], unit)))
        }),
        figures("times", |line: &ExtraLine<'_>| Cell::text(line.layout.repeat.to_string())),
        words("goes into", |line: &ExtraLine<'_>| {
            let size = &book.sizes[nested.sizes[line.layout.stock].index()];
            let stock = shown::size(book, size.length, size.width);
            match line.origin {
                Origin::OnHand(row) => {
                    format!("offcut {stock} on hand, {}", book.place(row, None))
                }
                Origin::Offcut(layout) => format!("the offcut of layout {}", layout + 1),
                Origin::Gap(layout) => format!("a gap of layout {}", layout + 1),
                Origin::New => format!("new stock, {stock}"),
            }
        }),
        words(&format!("at, {}", unit.name), |line: &ExtraLine<'_>| {
            let extras = line.layout.placements.iter().filter(|at| is_extra(at.piece));
            let places = extras.map(|at| {
                let turned = if at.is_turned { " turned" } else { "" };
                let (x, y) = (shown::length(at.x, unit), shown::length(at.y, unit));
                if nested.instance.kind == Kind::Linear { x } else { format!("({x}, {y}){turned}") }
            });
            places.collect::<Vec<_>>().join(" ")
        }),
        figures("as layout", |line: &ExtraLine<'_>| Cell::text(line.number.to_string())),
        figures(&format!("cost {}", book.settings.currency), |line: &ExtraLine<'_>| {
            if recut.item.is_unpriced {
                return Cell::text("no price");
            }
            Cell::figure(shown::fixed(line.cost, rollup.cost_digits))
        })
        .summed(),
    ];
    let name = &book.item(recut.item.item).name;
    let mut first = table(format!("{name}: extra pieces"), &fields, &lines);
    if !recut.item.is_unpriced {
        let sum: Ratio = recut.costs.iter().cloned().sum();
        let mut total = vec![Cell::default(); first.columns.len()];
        total[0] = Cell::text("together");
        if let Some(last) = total.last_mut() {
            *last = Cell::figure(shown::fixed(&sum, rollup.cost_digits));
        }
        first.totals = vec![total];
    }
    let mut tables = vec![first];
    let mut notes = vec!["Layouts that are not named stay as they are.".to_owned()];
    let mut add = |part: NestPart| {
        let told = nest_view(book, needs, rollup, &NestView { part, day: None, ..*view });
        tables.extend(told.tables);
        notes.extend(told.notes);
    };
    if !lines.is_empty() {
        add(NestPart::Layouts);
        if view.has_cuts {
            add(NestPart::Cuts);
        }
    }
    Report { heading: heading(book, needs.on), tables, notes }
}
