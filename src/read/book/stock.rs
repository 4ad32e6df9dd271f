//! The table `stock`, and quantities of items wherever a table counts them.

use std::collections::BTreeSet;

use crate::diag::Problem;
use crate::diag::Severity;
use crate::model::AssemblyId;
use crate::model::Component;
use crate::model::Form;
use crate::model::Item;
use crate::model::ItemId;
use crate::model::Size;
use crate::model::SizeId;
use crate::model::StockKind;
use crate::model::StockRow;
use crate::model::Stocked;
use crate::quantity::Dimension;
use crate::quantity::Length;
use crate::quantity::Measure;
use crate::quantity::Ratio;
use crate::quantity::unit::UnitFactor;
use crate::read::book::Build;
use crate::read::book::bill::component;
use crate::read::book::id;
use crate::read::book::prices::money;
use crate::read::book::prices::shown_size;
use crate::read::book::vendors::vendor;
use crate::read::cells::Row;
use crate::read::columns::At;
use crate::read::names::folded;

/// Choices of the column `kind`, in the order of the schema.
const KINDS: [StockKind; 3] = [StockKind::OnHand, StockKind::OnOrder, StockKind::Allocated];

/// The sizes of each item, by its position.
pub(super) type Sizes<'a> = Vec<Vec<(SizeId, &'a Size)>>;

/// Returns the sizes of each item.
pub(super) fn sizes<'a>(build: &'a Build) -> Sizes<'a> {
    let mut sizes: Sizes = vec![Vec::new(); build.book.items.len()];
    for (position, size) in build.book.sizes.iter().enumerate() {
        sizes[size.item.index()].push((SizeId(id(position)), size));
    }
    sizes
}

/// Reads what is on hand, on order and allocated. An item the book does not know is told and left out; so is, silently, a
/// row of none.
pub(super) fn stock(build: &mut Build) {
    let Some(grid) = build.grids.find("stock") else { return };
    let mut found = Vec::new();
    let sizes = sizes(build);
    for row in build.reader.rows(grid) {
        let kind = row.choice(grid.at("kind")).map_or(StockKind::OnHand, |choice| KINDS[choice]);
        let due = row.date(grid.at("due"));
        check_due(build, row, kind);
        let vendor = vendor(build, row);
        let known = build.names.vendors.find(&vendor).map(|vendor| &build.book.vendors[vendor]);
        let currency = known.and_then(|vendor| vendor.currency.as_ref());
        let price = money(row, grid.at("price"), currency.unwrap_or(&row.reader.currency));
        let component = component(build, row, grid.at("item"), Severity::Warning);
        let counted = match component {
            Some(Component::Assembly(assembly)) => counted_assembly(build, row, assembly),
            Some(Component::Item(item)) if !build.unclear.contains(&item) => {
                let sizes = &sizes[item.index()];
                counted_item(row, item, &build.book.items[item.index()], sizes, kind, &vendor)
            }
            Some(Component::Item(_)) | None => {
                for name in ["length", "width", "quantity"] {
                    row.check(grid.at(name));
                }
                None
            }
        };
        let is_lost = kind == StockKind::OnOrder && due.is_none();
        let Some((what, quantity)) = counted.filter(|_| !is_lost) else { continue };
        if quantity.is_zero() {
            continue;
        }
        let order = row.text(grid.at("order")).into_owned();
        let row = grid.row_ref(row.index);
        found.push(StockRow { what, quantity, kind, due, order, vendor, price, row });
    }
    build.book.stock = found;
}

fn check_due(build: &Build, row: Row, kind: StockKind) {
    let at = row.at("due");
    if kind != StockKind::OnOrder {
        return;
    }
    if row.is_empty(at) {
        let hint = "what is on order needs the day it is due".to_owned();
        row.error_with_hint(at, Problem::CellMissing, Some(hint));
        return;
    }
    if let (Some(due), Some(as_of)) = (row.date(at), build.book.as_of())
        && due < as_of
    {
        let problem = Problem::OrderOverdue { due: due.to_string(), as_of: as_of.to_string() };
        row.tell(Severity::Warning, Some(at), problem);
    }
}

fn counted_assembly(build: &Build, row: Row, id: AssemblyId) -> Option<(Stocked, Ratio)> {
    let (length, width) = sides(row)?;
    let quantity = whole_count(row, Dimension::NUMBER, None)?;
    let assembly = &build.book.assemblies[id.index()];
    if !assembly.terms.is_stocked {
        let problem = Problem::NotStocked { assembly: assembly.name.clone() };
        row.tell(Severity::Warning, Some(row.at("item")), problem);
    }
    Some((Stocked::Assembly(id, length, width), quantity))
}

/// Returns the length and width of a row, where it has them; nothing if one cannot be read.
fn sides(row: Row) -> Option<(Option<Length>, Option<Length>)> {
    let [length_at, width_at] = ["length", "width"].map(|name| row.at(name));
    let (length, width) = (row.positive_length(length_at), row.positive_length(width_at));
    let is_read = |at: At, side: Option<Length>| side.is_some() || row.is_empty(at);
    (is_read(length_at, length) && is_read(width_at, width)).then_some((length, width))
}

fn counted_item(
    row: Row,
    id: ItemId,
    item: &Item,
    sizes: &[(SizeId, &Size)],
    kind: StockKind,
    vendor: &str,
) -> Option<(Stocked, Ratio)> {
    if item.form == Form::Labor {
        let reason = format!("item `{}` is of form labor, which is not kept", item.name);
        row.tell(Severity::Warning, None, Problem::RowIgnored { reason });
        return None;
    }
    let (length, width) = sides(row)?;
    let width = width.filter(|_| item.form != Form::Linear);
    if !item.is_nested() {
        for (name, side) in [("length", length), ("width", width)] {
            if side.is_some() {
                let reason = format!("form {} is not kept in sizes", item.form.name());
                let problem = Problem::DimensionUnused { dimension: name.to_owned(), reason };
                row.tell(Severity::Warning, Some(row.at(name)), problem);
            }
        }
        return Some((Stocked::Item(id), amount(row, item)?));
    }
    if sizes.is_empty() && length.is_none() && width.is_none() {
        return Some((Stocked::Item(id), amount(row, item)?));
    }
    let fits = |size: &Size| {
        (length.is_none() || size.length == length) && (width.is_none() || size.width == width)
    };
    let fitting: Vec<&(SizeId, &Size)> = sizes.iter().filter(|(_, size)| fits(size)).collect();
    let Some((_, first)) = fitting.first() else {
        return unmatched(row, id, item, sizes, kind, (length, width));
    };
    let distinct: BTreeSet<_> = fitting.iter().map(|(_, size)| (size.length, size.width)).collect();
    if distinct.len() > 1 {
        several(row, item, distinct.len(), length.is_some());
        return None;
    }
    if first.length.is_none() {
        return Some((Stocked::Item(id), amount(row, item)?));
    }
    let own = fitting.iter().find(|(_, size)| folded(&size.vendor) == folded(vendor));
    let (size_id, size) = own.or(fitting.first())?;
    let quantity = whole_count(row, item.unit.dimension, measure(item, size).as_ref())?;
    Some((Stocked::Size(id, *size_id), quantity))
}

/// Tells that a row does not say which of several sizes it counts.
fn several(row: Row, item: &Item, count: usize, has_length: bool) {
    let dimension = if has_length { "width" } else { "length" };
    let what = format!("item `{}` has {count} sizes and", item.name);
    let problem = Problem::DimensionMissing { what, dimension: dimension.to_owned() };
    row.error(row.at(dimension), problem);
}

/// Returns what a row counts that no size matches: offcuts on hand, or lengths ordered of what is made to them.
fn unmatched(
    row: Row,
    id: ItemId,
    item: &Item,
    sizes: &[(SizeId, &Size)],
    kind: StockKind,
    (length, width): (Option<Length>, Option<Length>),
) -> Option<(Stocked, Ratio)> {
    let is_complete = length.is_some() && (width.is_some() || item.form == Form::Linear);
    let holds = |length: Option<Length>, width: Option<Length>| {
        sizes.iter().any(|(_, size)| {
            let lies = |side: Option<Length>, whole: Option<Length>| {
                side.is_none() || whole.is_none() || side <= whole
            };
            lies(length, size.length) && lies(width, size.width)
        })
    };
    let is_made_to_length = sizes.iter().any(|(_, size)| size.length.is_none());
    if let Some(long) = length.filter(|_| is_complete && holds(length, width)) {
        if kind == StockKind::OnHand {
            let one = item.form.measure(long, width.unwrap_or_default());
            let one = Ratio::whole(one);
            let quantity = whole_count(row, item.unit.dimension, Some(&one))?;
            return Some((Stocked::Offcut(id, long, width.unwrap_or_default()), quantity));
        }
        if is_made_to_length {
            let one = long.to_ratio();
            let quantity = whole_count(row, item.unit.dimension, Some(&one))?;
            return Some((Stocked::Item(id), quantity * one));
        }
    }
    let is_turned = width.is_some() && kind == StockKind::OnHand && holds(width, length)
        || sizes
            .iter()
            .any(|(_, size)| size.width.is_some() && (size.length, size.width) == (width, length));
    let hint = is_turned.then(|| "length and width may stand in each other's place".to_owned());
    let problem = Problem::SizeUnknown { item: item.name.clone(), size: shown_size(row) };
    row.error_with_hint(row.at("length"), problem, hint);
    None
}

/// Returns the base units in one of a size; nothing if it is made to the length ordered.
fn measure(item: &Item, size: &Size) -> Option<Ratio> {
    let length = size.length?;
    Some(Ratio::whole(item.form.measure(length, size.width.unwrap_or_default())))
}

/// Returns a whole number of things, each of which has `one` base units; nothing if the cell is empty or does not fit.
fn whole_count(row: Row, dimension: Dimension, one: Option<&Ratio>) -> Option<Ratio> {
    let at = row.at("quantity");
    row.needed_text(at)?;
    let measure = row.any_measure(at, None)?;
    let count = match one {
        Some(one) if measure.dimension != Dimension::NUMBER => {
            let measure = row.fitting(at, measure, dimension)?;
            measure.value.checked_div(one)?
        }
        _ => row.fitting(at, measure, Dimension::NUMBER)?.value,
    };
    if count.is_negative() {
        row.out_of_range(at, "not below zero");
        return None;
    }
    if !count.is_whole() {
        let problem =
            Problem::OutOfRange { text: row.shown(at), range: "a whole number".to_owned() };
        let hint = one.map(|_| "what is left of one stands in a row of its own, with its size");
        row.error_with_hint(at, problem, hint.map(str::to_owned));
        return None;
    }
    Some(count)
}

/// Returns an amount of an item in base units of its unit, which a bare number takes.
fn amount(row: Row, item: &Item) -> Option<Ratio> {
    let at = row.at("quantity");
    row.needed_text(at)?;
    let unit = UnitFactor { dimension: item.unit.dimension, factor: item.unit.factor.clone() };
    let measure = row.any_measure(at, Some(&unit))?;
    not_negative(row, row.fitting(at, measure, unit.dimension)?)
}

fn not_negative(row: Row, measure: Measure) -> Option<Ratio> {
    if measure.value.is_negative() {
        row.out_of_range(row.at("quantity"), "not below zero");
        return None;
    }
    Some(measure.value)
}

/// Returns a quantity in base units of the item's unit: a measure, or a number that counts whole sizes where the item has
/// one, and its unit where it has none.
pub(super) fn used(row: Row, item: &Item, sizes: &[(SizeId, &Size)]) -> Option<Ratio> {
    if !item.is_nested() || sizes.is_empty() {
        return amount(row, item);
    }
    let at = row.at("quantity");
    row.needed_text(at)?;
    let quantity = row.any_measure(at, None)?;
    if quantity.dimension != Dimension::NUMBER || quantity.value.is_zero() {
        return not_negative(row, row.fitting(at, quantity, item.unit.dimension)?);
    }
    let (_, first) = sizes.first()?;
    let is_one =
        sizes.iter().all(|(_, size)| (size.length, size.width) == (first.length, first.width));
    let Some(one) = measure(item, first).filter(|_| is_one) else {
        let expected = item.unit.dimension.to_string();
        let problem = Problem::NotAMeasure { text: row.shown(at), expected };
        let hint = format!(
            "a number counts whole sizes, but the item has several; write its {}, as in `{} {}`",
            item.unit.dimension,
            row.shown(at),
            item.unit.name
        );
        row.error_with_hint(at, problem, Some(hint));
        return None;
    };
    Some(not_negative(row, quantity)? * one)
}
