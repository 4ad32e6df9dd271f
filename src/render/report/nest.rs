use crate::explode::Needs;
use crate::model::Book;
use crate::model::Unit;
use crate::nest::{BoundRule, Ending, Kind, Layout, Rest};
use crate::quantity::Length;
use crate::quantity::Ratio;
use crate::render::report::{
    CAUTION_NEST, Cell, Report, Table, build_name, figures, heading, table, words,
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

/// Returns the nests of every plan with their bounds, and then how each stock is cut.
#[must_use]
pub fn nests(book: &Book, needs: &Needs, rollup: &Rollup) -> Report {
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
    tables.extend(lines.iter().map(|line| layouts(book, line)));
    let notes = vec![
        "A bound is a cost that no way of cutting can go below; a gap of 0.0 is proven to be the best.".to_owned(),
        CAUTION_NEST.to_owned(),
    ];
    Report { heading: heading(book, needs.on), tables, notes }
}

fn summary(book: &Book, rollup: &Rollup, lines: &[Line<'_>]) -> Table {
    let currency = &book.settings.currency;
    let fields = [
        words("plan", |line: &Line<'_>| line.plan.clone()),
        words("item", |line: &Line<'_>| book.item(line.item.item).name.clone()),
        figures("pieces", |line: &Line<'_>| {
            Cell::figure(
                line.nested
                    .instance
                    .pieces
                    .iter()
                    .map(|piece| piece.count)
                    .sum::<u64>()
                    .to_string(),
            )
        }),
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
            Cell::figure(shown::rounded(&line.nested.nest.cost, rollup.cost_digits))
        }),
        figures(&format!("bound {currency}"), |line: &Line<'_>| {
            Cell::figure(shown::rounded(&line.nested.nest.bound.cost, rollup.cost_digits))
        }),
        figures("gap %", |line: &Line<'_>| Cell::text(shown::percent(&line.nested.nest.gap()))),
        figures("yield %", |line: &Line<'_>| {
            Cell::text(
                line.item.yield_share().map_or_else(String::new, |share| shown::percent(&share)),
            )
        }),
        words("ended", |line: &Line<'_>| ending(line.nested.nest.ending).to_owned()),
        words("bound by", |line: &Line<'_>| {
            let bound = &line.nested.nest.bound;
            format!("{} ({})", bound.method, rule(bound.rule))
        }),
    ];
    let title = if rollup.lot == 1 {
        "Nests, one unit each".to_owned()
    } else {
        format!("Nests, lots of {}", rollup.lot)
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

fn rule(rule: BoundRule) -> &'static str {
    match rule {
        BoundRule::Any => "any cutting",
        BoundRule::Guillotine => "guillotine",
        BoundRule::Staged => "staged",
    }
}

fn layouts(book: &Book, line: &Line<'_>) -> Table {
    let item = book.item(line.item.item);
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
        words("pieces, each with where it lies", |cutting: &Cutting<'_>| pieces(cutting, unit)),
        words("offcuts kept", |cutting: &Cutting<'_>| {
            let kept: Vec<String> =
                cutting.layout.offcuts.iter().map(|rest| rest_text(*rest, unit)).collect();
            kept.join(", ")
        }),
    ];
    let kerf = shown::length(item.kerf, unit);
    let title =
        format!("{}: {} ({}), kerf {kerf} {}", line.plan, item.name, item.description, unit.name);
    table(title, &fields, &cuttings)
}

/// Returns the pieces of a layout in cutting order, each with the corner it lies at.
fn pieces(cutting: &Cutting<'_>, unit: &Unit) -> String {
    let is_linear = cutting.nested.instance.kind == Kind::Linear;
    let mut texts: Vec<(String, usize)> = Vec::new();
    for placement in &cutting.layout.placements {
        let piece = &cutting.nested.instance.pieces[placement.piece];
        let side = |length: Length| shown::length(length, unit);
        let text = if is_linear {
            side(piece.length)
        } else {
            let turned = if placement.is_turned { " turned" } else { "" };
            format!(
                "{} x {}{turned} @ {}, {}",
                side(piece.length),
                side(piece.width),
                side(placement.x),
                side(placement.y)
            )
        };
        match texts.last_mut() {
            Some((last, count)) if *last == text => *count += 1,
            _ => texts.push((text, 1)),
        }
    }
    let mut texts: Vec<String> = texts
        .into_iter()
        .map(|(text, count)| if count > 1 { format!("{count} of {text}") } else { text })
        .collect();
    texts.extend(
        cutting.layout.splices.iter().map(|rest| format!("run {}", rest_text(*rest, unit))),
    );
    texts.join(if is_linear { " + " } else { "; " })
}

fn rest_text(rest: Rest, unit: &Unit) -> String {
    if rest.width > Length::ZERO {
        format!("{} x {}", shown::length(rest.length, unit), shown::length(rest.width, unit))
    } else {
        shown::length(rest.length, unit)
    }
}

/// Returns a layout as one line: `layout 3 (2 times): 48 x 96 in with ..`.
pub(super) fn layout_line(book: &Book, nested: &Nested, number: usize) -> String {
    let unit = &book.settings.length_unit;
    let layout = &nested.nest.layouts[number];
    let size = &book.sizes[nested.sizes[layout.stock].index()];
    let cutting = Cutting { number, nested, layout };
    let cost: &Ratio = &nested.instance.stocks[layout.stock].cost;
    format!(
        "layout {} ({} times {}, {} each): {}",
        number + 1,
        layout.repeat,
        shown::size(book, size.length, size.width),
        shown::rounded(cost, 4),
        pieces(&cutting, unit)
    )
}
