//! Holds a roll-up against the reference, figure by figure.

use std::collections::BTreeMap;
use std::fmt;

use cutbill::explode::{self, What as LibraryWhat};
use cutbill::model::{Edges as LibraryEdges, OptionId};
use cutbill::nest::Piece;
use cutbill::quantity::{Length, Ratio};
use cutbill::rollup::{BuildCost, ItemCost, Nested};
use num_bigint::BigInt;

use super::cost::{self, Amounts, BurdenAmount, CutLayout, Cutting};
use super::line::{Line, read, roll_up};
use super::number::{Number, parse, whole};
use super::plant::{Form, Plant, UNIT};
use super::reference::{self, Edges, Unit, What};
use super::tables::{Bill, files};

/// A figure on which both sides do not agree.
#[derive(Debug)]
pub(crate) struct Difference(String);

impl fmt::Display for Difference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

fn same<T: PartialEq + fmt::Debug>(
    what: &str,
    library: &T,
    reference: &T,
) -> Result<(), Difference> {
    if library == reference {
        return Ok(());
    }
    Err(Difference(format!("{what}:\n  library   {library:?}\n  reference {reference:?}")))
}

/// Runs the line over a plant.
pub(crate) fn run(plant: &Plant, bill: Bill, asked: &[usize], lot: u32, effort: u32) -> Line {
    let book = read(&files(&plant.tables(bill), ','));
    let options = options(plant, &book, asked);
    roll_up(book, &options, lot, effort)
}

/// Returns the library's options for the choices asked for.
pub(crate) fn options(
    plant: &Plant,
    book: &cutbill::model::Book,
    asked: &[usize],
) -> explode::Options {
    let chosen = asked.iter().map(|choice| {
        let name = &plant.choices[*choice].name;
        let index = book.options.iter().position(|option| option.name == *name).unwrap();
        OptionId(u32::try_from(index).unwrap())
    });
    explode::Options { chosen: chosen.collect(), unit: Some(UNIT), ..explode::Options::default() }
}

/// Compares every plan of a roll-up with the reference.
pub(crate) fn compare(plant: &Plant, line: &Line, asked: &[usize]) -> Result<(), Difference> {
    for build in &line.rollup.builds {
        let name = &line.book.plans[line.needs.builds[build.build].plan.index()].name;
        let plan = plant.plans.iter().position(|plan| plan.name == *name).unwrap();
        compare_build(plant, line, plan, build, asked)
            .map_err(|difference| Difference(format!("plan {name}, {difference}")))?;
    }
    Ok(())
}

fn compare_build(
    plant: &Plant,
    line: &Line,
    plan: usize,
    build: &BuildCost,
    asked: &[usize],
) -> Result<(), Difference> {
    let lot = i64::from(line.rollup.lot);
    let taken = reference::options(plant, plan, asked);
    let unit = reference::explode(plant, plan, &taken);
    compare_options(plant, line, build, &taken)?;
    let position = |name: &str| plant.items.iter().position(|item| item.name == *name).unwrap();
    let mut amounts = BTreeMap::new();
    let mut names: Vec<&str> = Vec::new();
    for item in &build.items {
        let name = &line.book.item(item.item).name;
        names.push(name);
        let index = position(name);
        let expected = compare_item(plant, line, build, index, item, &unit)
            .map_err(|difference| Difference(format!("item {name}, {difference}")))?;
        amounts.insert(index, expected);
    }
    let mut wanted: Vec<&str> =
        unit.needs.keys().map(|index| plant.items[*index].name.as_str()).collect();
    names.sort_unstable();
    wanted.sort_unstable();
    same("items", &names, &wanted)?;
    compare_load(line, build, &unit)?;
    let burdens = cost::burdens(plant, plan, &unit, &amounts, lot);
    let own: Vec<BurdenAmount> = build
        .burdens
        .iter()
        .map(|burden| {
            let name = line.book.burdens[burden.burden.index()].name.clone();
            (name, ratio(&burden.base), BigInt::from(burden.cost))
        })
        .collect();
    same("burdens", &own, &burdens)?;
    let of_burdens: BigInt = burdens.iter().map(|(_, _, cost)| cost).sum();
    let total: BigInt = amounts.values().map(|own| &own.cost).sum::<BigInt>() + of_burdens;
    same("cost", &BigInt::from(build.cost()), &total)?;
    let weight: BigInt = amounts.values().map(|own| &own.weight).sum();
    same("weight", &BigInt::from(build.weight()), &weight)
}

fn compare_options(
    plant: &Plant,
    line: &Line,
    build: &BuildCost,
    taken: &[usize],
) -> Result<(), Difference> {
    let mut own: Vec<&str> = line.needs.builds[build.build]
        .options
        .iter()
        .map(|option| line.book.options[option.index()].name.as_str())
        .collect();
    let mut wanted: Vec<&str> =
        taken.iter().map(|choice| plant.choices[*choice].name.as_str()).collect();
    own.sort_unstable();
    wanted.sort_unstable();
    same("options", &own, &wanted)
}

fn compare_load(line: &Line, build: &BuildCost, unit: &Unit) -> Result<(), Difference> {
    let load = &line.needs.instances[line.needs.builds[build.build].root.index()].load;
    same("pounds", &ratio(&load.weight), &unit.pounds.values().sum())?;
    same("moments", &load.moments.each_ref().map(ratio), &unit.moments)?;
    same("pounds without a place", &load.unplaced.each_ref().map(ratio), &unit.unplaced)
}

fn compare_item(
    plant: &Plant,
    line: &Line,
    build: &BuildCost,
    index: usize,
    item: &ItemCost,
    unit: &Unit,
) -> Result<Amounts, Difference> {
    let flat = line.needs.flat(&line.book, &line.needs.builds[build.build]);
    let needs: BTreeMap<What, reference::Need> = flat
        .needs
        .iter()
        .filter(|need| need.item == item.item)
        .map(|need| {
            (what(plant, line, index, &need.what), (ratio(&need.good), ratio(&need.required)))
        })
        .collect();
    same("needs", &needs, &unit.needs.get(&index).cloned().unwrap_or_default())?;
    let pounds = flat.weights.iter().find(|(own, _)| *own == item.item);
    let pounds = pounds.map_or(whole(0), |(_, pounds)| ratio(pounds));
    same("pounds", &pounds, &unit.pounds.get(&index).cloned().unwrap_or_default())?;
    let cutting = item.nested.as_ref().map(|nested| cutting(plant, line, index, nested));
    let lot = i64::from(line.rollup.lot);
    let expected = cost::cost(plant, index, unit, cutting.as_ref(), lot);
    let own = Amounts {
        quantity: BigInt::from(item.quantity),
        cost: BigInt::from(item.cost),
        weight: BigInt::from(item.weight),
        purchased_weight: BigInt::from(item.purchased_weight),
        credit: BigInt::from(item.credit),
        yield_variance: BigInt::from(item.yield_variance),
        is_unpriced: item.is_unpriced,
        used: ratio(&item.used),
        bought: ratio(&item.bought),
    };
    same("amounts", &own, &expected)?;
    Ok(expected)
}

pub(crate) fn ratio(value: &Ratio) -> Number {
    parse(&value.to_string())
}

fn nanometers(length: Length) -> Number {
    whole(length.nanometers())
}

fn what(plant: &Plant, line: &Line, index: usize, what: &LibraryWhat) -> What {
    match *what {
        LibraryWhat::Piece { length, width, may_turn, edges } => {
            piece(&Piece { length, width, may_turn, edges, count: 1 })
        }
        LibraryWhat::Run => What::Run,
        LibraryWhat::Amount => What::Amount,
        LibraryWhat::Whole(size) => What::Whole(size_of(plant, line, index, size)),
    }
}

fn piece(piece: &Piece) -> What {
    What::Piece {
        length: BigInt::from(piece.length.nanometers()),
        width: BigInt::from(piece.width.nanometers()),
        may_turn: piece.may_turn,
        edges: match piece.edges {
            LibraryEdges::None => Edges::None,
            LibraryEdges::One => Edges::One,
            LibraryEdges::Both => Edges::Both,
        },
    }
}

/// Returns the position of a size among the item's own, by its sides.
fn size_of(plant: &Plant, line: &Line, index: usize, size: cutbill::model::SizeId) -> usize {
    let own = &line.book.sizes[size.index()];
    let sides = [own.length.map(nanometers), own.width.map(nanometers)];
    let sizes = &plant.items[index].sizes;
    let is_own = |size: &super::plant::Size| {
        [&size.length, &size.width].map(|side| side.as_ref().map(super::plant::constant)) == sides
    };
    sizes.iter().position(is_own).unwrap()
}

/// Restates a nest in the reference's terms.
fn cutting(plant: &Plant, line: &Line, index: usize, nested: &Nested) -> Cutting {
    let is_linear = plant.items[index].form == Form::Linear;
    let layouts = nested.nest.layouts.iter().map(|layout| {
        let piece_at =
            |placement: &cutbill::nest::Placement| piece(&nested.instance.pieces[placement.piece]);
        CutLayout {
            size: size_of(plant, line, index, nested.sizes[layout.stock]),
            repeat: layout.repeat,
            pieces: layout.placements.iter().map(piece_at).collect(),
            run: layout.splices.iter().map(|splice| nanometers(splice.length)).sum(),
            offcuts: layout
                .offcuts
                .iter()
                .map(|rest| {
                    let width = if is_linear { whole(0) } else { nanometers(rest.width) };
                    (nanometers(rest.length), width)
                })
                .collect(),
            taken: nanometers(layout.taken),
        }
    });
    let unplaced = nested.nest.unplaced.iter().map(|unplaced| {
        let what = unplaced.piece.map(|index| piece(&nested.instance.pieces[index]));
        (what, unplaced.count)
    });
    Cutting { layouts: layouts.collect(), unplaced: unplaced.collect() }
}
