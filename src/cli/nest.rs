//! The subcommand `nest`.

use std::num::NonZeroU32;

use cutbill::diag::{Checked, Diagnostic, Problem};
use cutbill::explode::{Needs, Take};
use cutbill::model::{Book, BookHeight, Component, Edges, Form, Grain, ItemId};
use cutbill::nest::Piece;
use cutbill::quantity::Length;
use cutbill::quantity::text::{DecimalSign, measure};
use cutbill::quantity::unit::UnitFactor;
use cutbill::render::html::{self, LayoutPages};
use cutbill::render::json;
use cutbill::render::report::{self, Layouts, NestView};
use cutbill::rollup::{BuildCost, Nested, Rollup};
use cutbill::shop::{self, Day};
use cutbill::watch::Watch;

use crate::cli::arguments::{Format, Nest, NestPart, Purpose};
use crate::cli::{
    Answer, add_new, cutting_options, names, plain_error, read, rolled_up, tables, together,
};

/// Columns of a drawing that goes to a file or a pipe.
const DRAWING_WIDTH: usize = 80;

/// What is nested.
struct Found {
    book: Book,
    needs: Needs,
    rollup: Rollup,
    /// The day of the shop it is of.
    day: Option<Box<Day>>,
}

/// Lays the pieces of the plans, or of the stations of a day, on stock.
pub(super) fn nest(arguments: &Nest, watch: &dyn Watch) -> Result<Answer, Vec<Diagnostic>> {
    let output = &arguments.output;
    refuse(arguments)?;
    let Checked { value: mut book, warnings: mut findings } =
        read(&arguments.scope.book, output, watch)?;
    if let Some(most) = arguments.at_once {
        book.settings.book_height = Some(BookHeight::Count(most.get()));
        for item in &mut book.items {
            item.book_height = None;
        }
    }
    let found = match arguments.purpose {
        Purpose::Lot => by_plan(arguments, book, watch, &mut findings)?,
        Purpose::Shop => by_station(arguments, &book, watch, &mut findings)?,
    };
    if arguments.verify {
        match shop::verified(&found.book, &found.rollup) {
            Ok(told) => findings.push(told),
            Err(errors) => return Err(together(findings, errors)),
        }
    }
    let view = view(arguments, found.day.as_deref());
    let value = if arguments.extra.is_empty() {
        written(arguments, &found, &view, &findings)?
    } else {
        with_extra(arguments, &found, &view, watch, &mut findings)?
    };
    Ok(Checked { value, warnings: findings })
}

/// Tells arguments that do not go together.
fn refuse(arguments: &Nest) -> Result<(), Vec<Diagnostic>> {
    let format = arguments.output.format();
    let is_shop = arguments.purpose == Purpose::Shop;
    let (scope, cutting) = (&arguments.scope, &arguments.cutting);
    let refused = [
        (arguments.draw && format != Format::Table, "`--draw` goes with tables only"),
        (!is_shop && arguments.station.is_some(), "`--station` goes with `--for shop` only"),
        (!is_shop && arguments.layouts.is_some(), "`--layouts` goes with `--for shop` only"),
        (!is_shop && arguments.new_stock, "`--new-stock` goes with `--for shop` only"),
        (
            !is_shop && arguments.show == Some(NestPart::Pieces),
            "`--show pieces` goes with `--for shop` only",
        ),
        (
            is_shop && cutting.lot.is_some(),
            "`--lot` does not go with `--for shop`: the schedule says how many units there are",
        ),
        (
            is_shop && !(scope.options.is_empty() && scope.without.is_empty()),
            "`--option` and `--without` do not go with `--for shop`: the schedule names the options",
        ),
        (
            is_shop && scope.unit.is_some(),
            "`--unit` does not go with `--for shop`: the schedule numbers the units",
        ),
        (
            !arguments.extra.is_empty() && matches!(format, Format::Html | Format::Svg),
            "`--extra` has no drawn form; ask for a table with `--draw`",
        ),
    ];
    let errors: Vec<Diagnostic> = refused
        .into_iter()
        .filter(|(is_refused, _)| *is_refused)
        .map(|(_, text)| plain_error(text.to_owned()))
        .collect();
    if errors.is_empty() { Ok(()) } else { Err(errors) }
}

fn by_plan(
    arguments: &Nest,
    book: Book,
    watch: &dyn Watch,
    findings: &mut Vec<Diagnostic>,
) -> Result<Found, Vec<Diagnostic>> {
    let options = names::explode_options(&book, &arguments.scope)?;
    let needs = match cutbill::explode::explode(&book, &options) {
        Ok(needs) => needs,
        Err(errors) => return Err(together(std::mem::take(findings), errors)),
    };
    findings.extend(needs.warnings);
    let needs = needs.value;
    let rollup = rolled_up(&book, &needs, &arguments.cutting, watch, findings)?;
    Ok(Found { book, needs, rollup, day: None })
}

fn by_station(
    arguments: &Nest,
    book: &Book,
    watch: &dyn Watch,
    findings: &mut Vec<Diagnostic>,
) -> Result<Found, Vec<Diagnostic>> {
    let asked = shop::Asked {
        on: arguments.scope.on,
        station: arguments.station.clone(),
        plans: names::explode_options(book, &arguments.scope)?.plans,
        layouts: arguments.layouts.map(|layouts| u64::from(layouts.get())),
        new_stock_only: arguments.new_stock,
        nest: cutting_options(&arguments.cutting).nest,
    };
    let day = match shop::day(book, &asked, watch) {
        Ok(day) => day,
        Err(errors) => return Err(together(std::mem::take(findings), errors)),
    };
    add_new(findings, day.warnings);
    let day = day.value;
    Ok(Found {
        book: day.book.clone(),
        needs: day.needs.clone(),
        rollup: day.rollup.clone(),
        day: Some(Box::new(day)),
    })
}

fn view<'a>(arguments: &Nest, day: Option<&'a Day>) -> NestView<'a> {
    let output = &arguments.output;
    let part = match arguments.show {
        // CSV holds one table, so the cuts that are asked for are it.
        None if arguments.cuts && output.format() == Format::Csv => report::NestPart::Cuts,
        None | Some(NestPart::All) => report::NestPart::All,
        Some(NestPart::Nests) => report::NestPart::Nests,
        Some(NestPart::Layouts) => report::NestPart::Layouts,
        Some(NestPart::Pieces) => report::NestPart::Pieces,
        Some(NestPart::Cuts) => report::NestPart::Cuts,
        Some(NestPart::Offcuts) => report::NestPart::Offcuts,
    };
    let layouts = if arguments.draw {
        Layouts::Drawn(output.table_width().unwrap_or(DRAWING_WIDTH))
    } else {
        Layouts::Listed
    };
    NestView { part, layouts, has_cuts: arguments.cuts, day }
}

fn written(
    arguments: &Nest,
    found: &Found,
    view: &NestView<'_>,
    findings: &[Diagnostic],
) -> Result<Vec<u8>, Vec<Diagnostic>> {
    let Found { book, needs, rollup, day } = found;
    Ok(match (arguments.output.format(), day) {
        (Format::Json, Some(day)) => json::shop(day, findings).into_bytes(),
        (Format::Json, None) => {
            json::rollup(book, needs, rollup, None, json::Layouts::Told, findings).into_bytes()
        }
        (Format::Html, _) => {
            let nests = report::nest_view(book, needs, rollup, view);
            let layout_pages =
                if arguments.one_layout_a_page { LayoutPages::One } else { LayoutPages::Several };
            html::layouts(book, needs, rollup, &nests, layout_pages).into_bytes()
        }
        (Format::Svg, _) => html::layouts_svg(book, needs, rollup).into_bytes(),
        _ => tables(&report::nest_view(book, needs, rollup, view), &arguments.output)?,
    })
}

/// Adds the extra pieces to the nest of their item and tells where they went.
fn with_extra(
    arguments: &Nest,
    found: &Found,
    view: &NestView<'_>,
    watch: &dyn Watch,
    findings: &mut Vec<Diagnostic>,
) -> Result<Vec<u8>, Vec<Diagnostic>> {
    let Found { book, needs, rollup, .. } = found;
    let mut item = None;
    let mut pieces: Vec<Piece> = Vec::new();
    let mut at = None;
    for text in &arguments.extra {
        let (of, rest) = item_of(book, text)?;
        if item.is_some_and(|item| item != of) {
            let text = "`--extra` takes pieces of one item at a time".to_owned();
            return Err(vec![plain_error(text)]);
        }
        item = Some(of);
        let build = build_of(found, of)?;
        at = Some(build);
        pieces.push(extra_piece(found, build, of, text, rest)?);
    }
    let (Some(build), Some(item)) = (at, item) else { return Ok(Vec::new()) };
    let cost = &rollup.builds[build];
    let of_item = cost.items.iter().find(|cost| cost.item == item);
    let of_item = of_item.expect("the build has the item");
    let nested = of_item.nested.as_deref().expect("the item is nested there");
    let cut = cut_already(&arguments.cut, nested)?;
    let search = (cutting_options(&arguments.cutting).nest, watch);
    let recut = match shop::extra(book, of_item, nested, &pieces, &cut, search) {
        Ok(recut) => recut,
        Err(errors) => return Err(together(std::mem::take(findings), errors)),
    };
    findings.extend(shop::unplaced(&recut));
    let builds =
        vec![BuildCost { build: cost.build, items: vec![recut.item.clone()], burdens: Vec::new() }];
    let only = Rollup { builds, ..rollup.clone() };
    let told = report::extra(needs, &recut, &only, view);
    Ok(match arguments.output.format() {
        Format::Json => {
            json::report("nest_extra", &recut.book, needs.on, &told, findings).into_bytes()
        }
        _ => tables(&told, &arguments.output)?,
    })
}

/// Returns the positions of layouts that are cut already.
fn cut_already(cut: &[NonZeroU32], nested: &Nested) -> Result<Vec<usize>, Vec<Diagnostic>> {
    let count = nested.nest.layouts.len();
    let position = |number: &NonZeroU32| {
        let position = number.get() as usize - 1;
        if position < count {
            return Ok(position);
        }
        let text = format!("`--cut`: there is no layout {number}; the item has {count}");
        Err(vec![plain_error(text)])
    };
    cut.iter().map(position).collect()
}

/// Returns the one build that nests an item.
fn build_of(found: &Found, item: ItemId) -> Result<usize, Vec<Diagnostic>> {
    let Found { book, needs, rollup, day } = found;
    let has = |cost: &BuildCost| {
        cost.items.iter().any(|known| known.item == item && known.nested.is_some())
    };
    let builds: Vec<usize> =
        (0..rollup.builds.len()).filter(|index| has(&rollup.builds[*index])).collect();
    let name = &book.item(item).name;
    match builds.as_slice() {
        [build] => Ok(*build),
        [] => Err(vec![plain_error(format!("`--extra`: no piece of `{name}` is nested here"))]),
        _ => {
            let plans = builds.iter().map(|index| {
                let plan = needs.builds[rollup.builds[*index].build].plan;
                book.plans[plan.index()].name.as_str()
            });
            let argument = if day.is_some() { "--station" } else { "--plan" };
            let plans = plans.collect::<Vec<_>>().join(", ");
            let text = format!("`--extra`: `{name}` is nested for {plans}");
            Err(vec![plain_error(text).with_hint(format!("name one with `{argument}`"))])
        }
    }
}

/// Returns the item that a text begins with, the longest name first, and what follows.
fn item_of<'a>(book: &Book, text: &'a str) -> Result<(ItemId, &'a str), Vec<Diagnostic>> {
    let text = text.trim();
    let fits = |name: &str| {
        let (start, rest) = text.split_at_checked(name.len())?;
        let is_whole = rest.is_empty() || rest.starts_with(char::is_whitespace);
        (start.eq_ignore_ascii_case(name) && is_whole).then_some(rest.trim())
    };
    let found = (0_u32..)
        .zip(&book.items)
        .filter_map(|(index, item)| Some((ItemId(index), item.name.len(), fits(&item.name)?)));
    match found.max_by_key(|(_, length, _)| *length) {
        Some((item, _, rest)) => Ok((item, rest)),
        None => {
            let word = text.split_whitespace().next().unwrap_or_default();
            Err(names::item(book, word).err().unwrap_or_default())
        }
    }
}

/// Reads `LENGTH x WIDTH x3`, `LENGTH x3` for sticks, or `for ASSEMBLY x3`.
fn extra_piece(
    found: &Found,
    build: usize,
    item: ItemId,
    text: &str,
    rest: &str,
) -> Result<Piece, Vec<Diagnostic>> {
    let book = &found.book;
    let is_stick = book.item(item).form == Form::Linear;
    let unfit = |what: &str| {
        let form = if is_stick { "ITEM LENGTH x3" } else { "ITEM LENGTH x WIDTH x3" };
        let hint = format!("write `{form}` or `ITEM for ASSEMBLY x3`; without `x3` it is one");
        vec![plain_error(format!("`--extra {text}`: {what}")).with_hint(hint)]
    };
    let mut parts: Vec<&str> = split_sides(rest);
    let is_named = parts.first().is_some_and(|first| first.starts_with("for "));
    let sides = match (is_named, is_stick) {
        (true, _) | (false, true) => 1,
        (false, false) => 2,
    };
    let count =
        match parts.len().checked_sub(sides) {
            Some(0) => 1,
            Some(1) => {
                let count = parts.pop().unwrap_or_default().trim();
                count.parse::<u64>().ok().filter(|count| (1..=1000).contains(count)).ok_or_else(
                    || unfit(&format!("`{count}` is no number of pieces from 1 to 1000")),
                )?
            }
            _ => return Err(unfit("its size is not understood")),
        };
    if is_named {
        let name = parts[0].trim_start_matches("for ").trim();
        return Ok(Piece { count, ..piece_for(found, build, item, name)? });
    }
    let unit = &book.settings.length_unit;
    let bare = UnitFactor { dimension: unit.dimension, factor: unit.factor.clone() };
    let mut lengths = Vec::new();
    for part in parts {
        let length = measure(part.trim(), Some(&bare), DecimalSign::Point)
            .ok()
            .and_then(|measure| measure.to_length())
            .filter(|length| *length > Length::ZERO);
        lengths.push(length.ok_or_else(|| unfit(&format!("`{}` is no length", part.trim())))?);
    }
    let (length, width) = (lengths[0], lengths.get(1).copied().unwrap_or_default());
    let instance = &nested_of(found, build, item).instance;
    // A spoiled piece is cut as the one it replaces.
    let alike = |piece: &&Piece| {
        (piece.length, piece.width) == (length, width)
            || (piece.may_turn && (piece.length, piece.width) == (width, length))
    };
    if let Some(known) = instance.pieces.iter().find(alike) {
        return Ok(Piece { count, ..known.clone() });
    }
    let grain = book.item(item).grain;
    let (length, width) =
        if grain == Grain::Width && !is_stick { (width, length) } else { (length, width) };
    let may_turn = !is_stick && grain == Grain::None;
    Ok(Piece { length, width, count, may_turn, edges: Edges::None })
}

/// Parts `48 x 24 x3` at each `x` that stands for itself: behind a space, before a space or a digit.
fn split_sides(text: &str) -> Vec<&str> {
    let mut parts = Vec::new();
    let mut start = 0;
    let bytes = text.as_bytes();
    for at in 1..bytes.len() {
        let stands_alone = bytes[at].eq_ignore_ascii_case(&b'x')
            && bytes[at - 1].is_ascii_whitespace()
            && bytes
                .get(at + 1)
                .is_some_and(|next| next.is_ascii_whitespace() || next.is_ascii_digit());
        if stands_alone {
            parts.push(text[start..at].trim());
            start = at + 1;
        }
    }
    parts.push(text[start..].trim());
    parts
}

fn nested_of(found: &Found, build: usize, item: ItemId) -> &Nested {
    let cost = found.rollup.builds[build].items.iter().find(|cost| cost.item == item);
    cost.and_then(|cost| cost.nested.as_deref()).expect("the build nests the item")
}

/// Returns the one piece of an item that an assembly takes.
fn piece_for(
    found: &Found,
    build: usize,
    item: ItemId,
    name: &str,
) -> Result<Piece, Vec<Diagnostic>> {
    let Found { book, needs, rollup, .. } = found;
    let mut pieces: Vec<Piece> = Vec::new();
    let mut known: Vec<&str> = Vec::new();
    for used in needs.uses(&needs.builds[rollup.builds[build].build]) {
        let taken = needs.taken(used.source);
        let line = book.line(taken.line);
        let (Component::Item(of), Take::Pieces(cuts)) = (line.component, &taken.take) else {
            continue;
        };
        if of != item {
            continue;
        }
        let parent = book.parent_name(line.parent);
        known.push(parent);
        if !parent.eq_ignore_ascii_case(name) {
            continue;
        }
        for cut in cuts {
            let (length, width, may_turn) = (cut.length, cut.width, cut.may_turn);
            let piece = Piece { length, width, count: 1, may_turn, edges: cut.edges };
            if !pieces.contains(&piece) {
                pieces.push(piece);
            }
        }
    }
    let of = &book.item(item).name;
    match pieces.len() {
        1 => Ok(pieces.remove(0)),
        0 => {
            known.sort_unstable();
            known.dedup();
            let text = format!("`--extra`: `{name}` takes no piece of `{of}` here");
            let error = Diagnostic::placeless(Problem::Plain { text });
            Err(vec![error.with_hint(format!("pieces of it are in {}", known.join(", ")))])
        }
        count => {
            let text = format!("`--extra`: `{name}` takes {count} different pieces of `{of}`");
            let error = Diagnostic::placeless(Problem::Plain { text });
            Err(vec![error.with_hint("give the size of the one that is meant")])
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sides_are_parted_at_an_x_that_stands_alone() {
        assert_eq!(split_sides("48 x 24"), ["48", "24"]);
        assert_eq!(split_sides("4' x 23-7/8 in x3"), ["4'", "23-7/8 in", "3"]);
        assert_eq!(split_sides("92-5/8 X 2"), ["92-5/8", "2"]);
        assert_eq!(split_sides("for box_extra x2"), ["for box_extra", "2"]);
        assert_eq!(split_sides(""), [""]);
    }
}
