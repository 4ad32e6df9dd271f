//! The table `items`.

use crate::diag::Problem;
use crate::diag::did_you_mean;
use crate::diag::with_article;
use crate::model::BookHeight;
use crate::model::Form;
use crate::model::Grain;
use crate::model::Item;
use crate::model::ItemId;
use crate::model::Size;
use crate::model::Supply;
use crate::model::Unit;
use crate::quantity::Dimension;
use crate::quantity::Length;
use crate::quantity::Measure;
use crate::quantity::Ratio;
use crate::quantity::unit;
use crate::read::book::Build;
use crate::read::book::attributes;
use crate::read::book::id;
use crate::read::book::plans::place;
use crate::read::book::prices::price;
use crate::read::book::settings::book_height;
use crate::read::book::taken;
use crate::read::book::terms::order_terms;
use crate::read::book::vendors::vendor;
use crate::read::book::weights::weight;
use crate::read::cells::Row;
use crate::read::columns::At;
use crate::read::lumber::nominal;
use crate::read::numbers::number;
use crate::read::rates::Shape;

const FORMS: [Form; 6] =
    [Form::Sheet, Form::Roll, Form::Linear, Form::Count, Form::Bulk, Form::Labor];
const SUPPLIES: [Supply; 4] = [Supply::Build, Supply::Bin, Supply::Consigned, Supply::Furnished];
/// Choices of the column `grain`, in the order of the schema.
pub(super) const GRAINS: [Grain; 3] = [Grain::None, Grain::Length, Grain::Width];

/// Reads all of an item but its price and weight: those wait for the sizes.
pub(super) fn items(build: &mut Build) {
    let Some(grid) = build.grids.find("items") else { return };
    let at = grid.at("item");
    for row in build.reader.rows(grid) {
        let form = form(row);
        let unit = form.and_then(|form| item_unit(row, form));
        let is_clear = unit.is_some();
        let item = item(row, form.unwrap_or(Form::Count), unit.unwrap_or_else(Unit::each));
        let Some(name) = row.needed_text(at) else { continue };
        let earlier = build.names.plans.find(&name).map(|plan| build.book.plans[plan.index()].row);
        let earlier = earlier.map(|first| ("plans", first)).or_else(|| {
            let assembly = build.names.assemblies.find(&name)?;
            Some(("assemblies", build.book.assemblies[assembly.index()].row))
        });
        if let Some((table, first)) = earlier {
            let first = place(build, first.row, table);
            taken(row, at, "name", &name, first);
        }
        if let Some(first) = build.names.items.add(&name, ItemId(id(build.book.items.len()))) {
            let first = place(build, build.book.items[first.index()].row.row, "items");
            taken(row, at, "item", &name, first);
            continue;
        }
        if !is_clear {
            build.unclear.insert(ItemId(id(build.book.items.len())));
        }
        let vendor = vendor(build, row);
        build.book.items.push(Item { name: name.into_owned(), vendor, ..item });
    }
}

fn form(row: Row) -> Option<Form> {
    let at = row.at("form");
    if row.is_empty(at) && row.grid.has(at) {
        row.error(at, Problem::CellMissing);
    }
    row.choice(at).map(|choice| FORMS[choice])
}

fn item(row: Row, form: Form, unit: Unit) -> Item {
    let at = |name| row.at(name);
    let pack = pack(row, form, &unit);
    let nominal = Some(row.text(at("nominal"))).filter(|text| !text.is_empty()).and_then(|text| {
        let nominal = nominal(&text);
        if nominal.is_none() {
            let expected = "nominal size of PS 20, from 1x2 to 4x12".to_owned();
            row.error(at("nominal"), Problem::NotAMeasure { text: text.into_owned(), expected });
        }
        nominal
    });
    let yield_share = row.part(at("yield_percent"));
    if yield_share.as_ref().is_some_and(Ratio::is_zero) {
        row.out_of_range(at("yield_percent"), "above 0 to 100 %");
    }
    let coverage = row.any_measure(at("coverage"), None);
    if let Some(coverage) = &coverage {
        let fits = [Dimension::AREA, Dimension::LENGTH, Dimension::NUMBER];
        if !fits.contains(&coverage.dimension) {
            let problem = Problem::NotAMeasure {
                text: row.shown(at("coverage")),
                expected: "area, length or count".to_owned(),
            };
            row.error(at("coverage"), problem);
        } else if coverage.value.is_negative() || coverage.value.is_zero() {
            row.out_of_range(at("coverage"), "above zero");
        }
    }
    let length = |name| row.length(at(name));
    Item {
        name: String::new(),
        description: row.text(at("description")).into_owned(),
        form,
        supply: row.choice(at("supply")).map_or(Supply::Build, |choice| SUPPLIES[choice]),
        price: None,
        weight: None,
        rides: row.part(at("rides_percent")).unwrap_or(Ratio::ONE),
        thickness: row.positive_length(at("thickness")),
        span_limit: row.positive_length(at("span_limit")),
        nominal,
        pack,
        grain: row.choice(at("grain")).map_or(Grain::None, |choice| GRAINS[choice]),
        repeat: length("repeat").unwrap_or_default(),
        stagger: length("stagger").unwrap_or_default(),
        kerf: length("kerf").unwrap_or_default(),
        trim: length("trim").unwrap_or_default(),
        book_height: item_book_height(row, form),
        net_width: row.positive_length(at("net_width")),
        has_factory_edges: false,
        overlap: length("overlap").unwrap_or_default(),
        coverage,
        offcut_min: length("offcut_min"),
        yield_share,
        shrinkage: row.loss(at("shrinkage_percent")).unwrap_or_default(),
        group: row.text(at("group")).into_owned(),
        vendor: String::new(),
        order: order_terms(row, form, &unit),
        tolerance: row.loss(at("tolerance_percent")),
        attributes: attributes(row),
        unit,
        row: row.grid.row_ref(row.index),
    }
}

fn item_book_height(row: Row, form: Form) -> Option<BookHeight> {
    let at = row.at("book_height");
    if row.is_empty(at) {
        return None;
    }
    if !matches!(form, Form::Sheet | Form::Linear) {
        row.out_of_range(at, "empty, since only sheets and sticks are sawn together");
        return None;
    }
    let height = book_height(row, at)?;
    if matches!(height, BookHeight::Height(_)) && row.is_empty(row.at("thickness")) {
        row.out_of_range(at, "a number, since the item has no `thickness`");
        return None;
    }
    Some(height)
}

fn item_unit(row: Row, form: Form) -> Option<Unit> {
    let at = row.at("unit");
    let (default, dimension) = match form {
        Form::Sheet | Form::Roll => ("ft2", Some(Dimension::AREA)),
        Form::Linear => ("ft", Some(Dimension::LENGTH)),
        Form::Count => ("each", Some(Dimension::NUMBER)),
        Form::Labor => ("hour", Some(Dimension::TIME)),
        Form::Bulk => ("", None),
    };
    let text = row.text(at);
    if text.is_empty() && dimension.is_none() {
        let hint = "an item measured out needs its unit, as in `gal`, `lb` or `ft`".to_owned();
        row.error_with_hint(at, Problem::CellMissing, Some(hint));
        return None;
    }
    let name = if text.is_empty() { default } else { &text };
    match unit::find(name) {
        Some(unit) if dimension.is_none_or(|dimension| dimension == unit.dimension) => {
            Some(Unit { name: name.to_owned(), dimension: unit.dimension, factor: unit.factor })
        }
        Some(_) => {
            let expected = dimension.map_or("unit", |_| match form {
                Form::Sheet | Form::Roll => "a unit of area",
                Form::Linear => "a unit of length",
                Form::Labor => "a unit of time",
                _ => "a count",
            });
            let problem = Problem::UnitUnfit {
                text: name.to_owned(),
                unit: name.to_owned(),
                expected: format!("for form {} {expected}", form.name()),
            };
            row.error(at, problem);
            None
        }
        None => {
            unknown_unit(row, at, name);
            None
        }
    }
}

/// Adds the error that a unit is unknown.
pub(super) fn unknown_unit(row: Row, at: At, name: &str) {
    let hint = unit::suggest(name).map(did_you_mean);
    let problem = Problem::NameUnknown { what: "unit".to_owned(), name: name.to_owned() };
    row.error_with_hint(at, problem, hint);
}

/// Reads `5000/box` or `500 ft/reel`; a bare number counts whole stock sizes where the item has sizes, else its unit.
fn pack(row: Row, form: Form, unit: &Unit) -> Option<Unit> {
    let at = row.at("pack");
    let text = row.text(at);
    if text.is_empty() {
        return None;
    }
    let unfit = || {
        let hint = "write how much it holds and its name, as in `5000/box` or `500 ft/reel`";
        let problem =
            Problem::NotAMeasure { text: text.clone().into_owned(), expected: "pack".to_owned() };
        row.error_with_hint(at, problem, Some(hint.to_owned()));
        None
    };
    let Some((amount, name)) = text.rsplit_once('/') else { return unfit() };
    let (amount, name) = (amount.trim(), name.trim());
    let start = amount.find(|letter: char| letter.is_alphabetic()).unwrap_or(amount.len());
    let (count, of) = amount.split_at(start);
    let Some(count) = number(count, row.grid.table.has_decimal_comma) else { return unfit() };
    if count.is_zero() || count.is_negative() || name.is_empty() {
        return unfit();
    }
    let is_nested = matches!(form, Form::Sheet | Form::Roll | Form::Linear);
    let measure = if of.trim().is_empty() {
        let dimension = if is_nested { Dimension::NUMBER } else { unit.dimension };
        let factor = if is_nested { Ratio::ONE } else { unit.factor.clone() };
        Measure { value: count * factor, dimension }
    } else {
        let Some(of) = unit::find(of.trim()) else {
            unknown_unit(row, at, of.trim());
            return None;
        };
        Measure { value: count * of.factor, dimension: of.dimension }
    };
    let is_pieces = is_nested && measure.dimension == Dimension::NUMBER;
    if measure.dimension != unit.dimension && !is_pieces {
        let problem = Problem::UnitUnfit {
            text: text.clone().into_owned(),
            unit: of.trim().to_owned(),
            expected: with_article(&unit.dimension.to_string()),
        };
        row.error(at, problem);
        return None;
    }
    Some(Unit { name: name.to_owned(), dimension: measure.dimension, factor: measure.value })
}

/// Reads prices and weights of items, now that their sizes are known.
pub(super) fn rates(build: &mut Build) {
    let Some(grid) = build.grids.find("items") else { return };
    let mut sizes: Vec<Vec<&Size>> = vec![Vec::new(); build.book.items.len()];
    for size in &build.book.sizes {
        sizes[size.item.index()].push(size);
    }
    let mut found = Vec::new();
    for row in build.reader.rows(grid) {
        let name = row.text(grid.at("item"));
        let Some(item) = build.names.items.find(&name) else { continue };
        let is_repeated = build.book.items[item.index()].row != grid.row_ref(row.index);
        if is_repeated || build.unclear.contains(&item) {
            continue;
        }
        let sizes = &sizes[item.index()];
        let item_row = &build.book.items[item.index()];
        let shape = shape(item_row, one(sizes.iter().map(|size| size.width)));
        let price = price(row, &shape, sizes.len());
        let weight = weight(row, item_row, &shape, sizes);
        let net_at = row.at("net_width");
        let is_wider = |size: &&Size| {
            size.width.zip(item_row.net_width).is_some_and(|(width, net)| width < net)
        };
        if !sizes.is_empty() && sizes.iter().copied().all(|size| is_wider(&size)) {
            row.out_of_range(net_at, "no more than the width of a size");
        }
        let has_factory_edges = item_row.form == Form::Sheet
            && !sizes.is_empty()
            && item_row.net_width.is_some_and(|net| {
                sizes.iter().all(|size| size.width.is_some_and(|width| net < width))
            });
        found.push((item, price, weight, has_factory_edges));
    }
    for (item, price, weight, has_factory_edges) in found {
        let item = &mut build.book.items[item.index()];
        (item.price, item.weight, item.has_factory_edges) = (price, weight, has_factory_edges);
    }
}

/// Returns what of an item decides how a rate is understood.
pub(super) fn shape(item: &Item, width: Option<Length>) -> Shape<'_> {
    Shape {
        form: item.form,
        unit: &item.unit,
        nominal: item.nominal.as_ref(),
        pack: item.pack.as_ref(),
        width,
    }
}

/// Returns what all have in common, if they have it.
fn one<T: PartialEq>(mut values: impl Iterator<Item = Option<T>>) -> Option<T> {
    let first = values.next()??;
    values.all(|value| value.as_ref() == Some(&first)).then_some(first)
}
