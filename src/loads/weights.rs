use std::collections::BTreeMap;

use crate::diag::Diagnostic;
use crate::diag::Problem;
use crate::loads::placed::{Placed, PlacedLine};
use crate::loads::plan::Geometry;
use crate::model::Book;
use crate::model::Form;
use crate::model::ItemId;
use crate::model::Parent;
use crate::quantity::Length;
use crate::quantity::Ratio;
use crate::quantity::share;
use crate::rollup::WEIGHT_DIGITS;

/// Decimal places that a root is rounded to.
const ROOT_PLACES: i32 = 8;
/// Longest trailer whose weight is told foot by foot.
const MOST_FEET: i128 = 200;

/// Side of the trailer, seen from behind the hitch.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Side {
    /// Left of the center line.
    Left,
    /// On the center line.
    Center,
    /// Right of the center line.
    Right,
    /// The bill does not say.
    Unplaced,
}

impl Side {
    /// Returns what people call it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Side::Left => "left",
            Side::Center => "center line",
            Side::Right => "right",
            Side::Unplaced => "no position",
        }
    }
}

/// What weight is summed by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum By {
    /// Assembly, plan or option whose bill line it is.
    Assembly,
    /// Station that builds that assembly; empty if not said.
    Station,
    /// Item.
    Item,
    /// Side of the trailer.
    Side,
}

/// The weight of an item in one assembly on one side, in the book's weight unit times ten to the power of
/// [`WEIGHT_DIGITS`]. An item's weight is rounded once, and shared among its cells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct WeightCell {
    /// The item.
    pub item: ItemId,
    /// What the bill line belongs to.
    pub parent: Parent,
    /// Where it lies.
    pub side: Side,
    /// The weight.
    pub weight: i128,
}

impl By {
    /// Returns weights summed, heaviest first, ties by name.
    #[must_use]
    pub fn sums(self, book: &Book, cells: &[WeightCell]) -> Vec<(String, i128)> {
        let mut sums: BTreeMap<&str, i128> = BTreeMap::new();
        for cell in cells {
            let name = match self {
                By::Assembly => book.parent_name(cell.parent),
                By::Station => match cell.parent {
                    Parent::Assembly(assembly) => &book.assemblies[assembly.index()].station,
                    Parent::Plan(_) | Parent::Option(_) => "",
                },
                By::Item => &book.item(cell.item).name,
                By::Side => cell.side.name(),
            };
            *sums.entry(name).or_default() += cell.weight;
        }
        let mut sums: Vec<(String, i128)> =
            sums.into_iter().map(|(name, weight)| (name.to_owned(), weight)).collect();
        sums.sort_by_key(|(_, weight)| std::cmp::Reverse(*weight));
        sums
    }
}

/// How far a weight may differ by the tolerances of its items, in pounds.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Spread {
    /// If every item with a tolerance were at the same end of it.
    pub worst: Ratio,
    /// The root of the sum of squares, rounded to 8 places: an estimate that holds where items differ independently.
    pub likely: Ratio,
    /// Weight of the items that have a tolerance.
    pub told: Ratio,
    /// How many items have one.
    pub items_told: usize,
    /// How many items weigh something.
    pub items: usize,
}

/// Weight that lies along each foot of the trailer, in pounds, from the foot that begins at `first` feet behind the coupler
/// ball.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Profile {
    /// Feet behind the coupler ball; below zero ahead of it.
    pub first: i64,
    /// Weight per foot; may be empty.
    pub feet: Vec<Ratio>,
}

/// Rounds each item's weight once and shares it among assemblies and sides.
pub(super) fn cells(book: &Book, placed: &Placed) -> Result<Vec<WeightCell>, Diagnostic> {
    let mut sums: BTreeMap<ItemId, BTreeMap<(Parent, Side), Ratio>> = BTreeMap::new();
    for line in &placed.lines {
        let side = match line.at[1] {
            None => Side::Unplaced,
            Some(y) if y < Length::ZERO => Side::Left,
            Some(Length::ZERO) => Side::Center,
            Some(_) => Side::Right,
        };
        let of_item = sums.entry(line.item).or_default();
        *of_item.entry((line.parent, side)).or_default() += &line.weight;
    }
    let settings = &book.settings;
    let mut cells = Vec::new();
    for (item, parts) in sums {
        let weights: Vec<Ratio> = parts.values().cloned().collect();
        let whole: Ratio = weights.iter().cloned().sum();
        let in_unit = whole.checked_div(&settings.weight_unit.factor).unwrap_or(Ratio::ZERO);
        let total =
            in_unit.scaled(WEIGHT_DIGITS, settings.rounding).to_integer().ok_or_else(|| {
                let item = book.item(item);
                let what = format!("the weight of `{}`", item.name);
                Diagnostic::error(book.place(item.row, None), Problem::Overflow { what })
            })?;
        let shares = share(total, &weights);
        let parts = parts.into_keys().zip(shares);
        cells.extend(parts.map(|((parent, side), weight)| WeightCell {
            item,
            parent,
            side,
            weight,
        }));
    }
    Ok(cells)
}

/// Carries the tolerances of items to the total.
pub(super) fn spread(book: &Book, lines: &[PlacedLine]) -> Spread {
    let mut spread = Spread::default();
    let mut squares = Ratio::ZERO;
    for (item, weight) in by_item(lines, &|_| true) {
        spread.items += 1;
        let Some(tolerance) = &book.item(item).tolerance else { continue };
        let differs = &weight * tolerance;
        spread.items_told += 1;
        spread.told += &weight;
        spread.worst += &differs;
        squares += &(&differs * &differs);
    }
    spread.likely = squares.rounded_root(ROOT_PLACES).unwrap_or(Ratio::ZERO);
    spread
}

/// Returns the propane that the bill takes.
pub(super) fn propane(book: &Book, lines: &[PlacedLine]) -> Ratio {
    let is_propane = |item: ItemId| {
        let item = book.item(item);
        let says = |text: &str| {
            let text = text.to_ascii_lowercase();
            text.contains("propane")
                || text.split(|c: char| !c.is_alphanumeric()).any(|w| w == "lpg")
        };
        let texts = [&item.name, &item.description, &item.group];
        // Pipe and tube of the propane system are counted by length and are no fluid.
        let is_fluid = item.form == Form::Bulk && item.unit.dimension.length != 1;
        is_fluid && texts.into_iter().any(|text| says(text))
    };
    by_item(lines, &|line| is_propane(line.item)).into_values().sum()
}

/// Returns the weight of items without a position along the trailer, heaviest first.
pub(super) fn unplaced(placed: &Placed) -> Vec<(ItemId, Ratio)> {
    if !placed.has_places {
        return Vec::new();
    }
    let weights = by_item(&placed.lines, &|line| line.at[0].is_none());
    let mut weights: Vec<(ItemId, Ratio)> = weights.into_iter().collect();
    weights.sort_by(|a, b| b.1.cmp(&a.1));
    weights
}

fn by_item(
    lines: &[PlacedLine],
    is_wanted: &dyn Fn(&PlacedLine) -> bool,
) -> BTreeMap<ItemId, Ratio> {
    let mut sums: BTreeMap<ItemId, Ratio> = BTreeMap::new();
    for line in lines.iter().filter(|line| is_wanted(line)) {
        *sums.entry(line.item).or_default() += &line.weight;
    }
    sums
}

/// Returns how much of the placed weight lies along each foot.
///
/// What lies in the very middle of the floor is mostly as long as the floor is (walls, roof, chassis), so it is spread over
/// all of it; the center of gravity stays where it is.
pub(super) fn profile(placed: &Placed, geometry: &Geometry) -> Option<Profile> {
    let floor = geometry.front.as_ref().zip(geometry.rear.as_ref());
    let floor = floor.filter(|(front, rear)| front < rear);
    let middle = floor.map(|(front, rear)| (front + rear) * Ratio::decimal(5, 1));
    let mut along = Ratio::ZERO;
    let mut feet: BTreeMap<i128, Ratio> = BTreeMap::new();
    for line in &placed.lines {
        let Some(x) = line.at[0] else { continue };
        if middle.as_ref() == Some(&x.to_ratio()) {
            along += &line.weight;
            continue;
        }
        let foot = i128::from(x.nanometers().div_euclid(Length::FOOT.nanometers()));
        *feet.entry(foot).or_default() += &line.weight;
    }
    if let Some((front, rear)) = floor.filter(|_| !along.is_zero()) {
        spread_along(&mut feet, &along, front, rear)?;
    }
    let (first, last) = match (feet.keys().next(), feet.keys().next_back()) {
        (Some(first), Some(last)) => (*first, *last),
        _ => return placed.has_places.then(|| Profile { first: 0, feet: Vec::new() }),
    };
    if last - first >= MOST_FEET {
        return None;
    }
    let feet = (first..=last).map(|foot| feet.remove(&foot).unwrap_or_default()).collect();
    Some(Profile { first: i64::try_from(first).ok()?, feet })
}

/// Spreads a weight evenly from front to rear; nothing where that is too long.
fn spread_along(
    feet: &mut BTreeMap<i128, Ratio>,
    weight: &Ratio,
    front: &Ratio,
    rear: &Ratio,
) -> Option<()> {
    let foot = Length::FOOT.to_ratio();
    let at = |end: &Ratio| end.checked_div(&foot);
    let (front, rear) = (at(front)?, at(rear)?);
    let (first, last) = (front.floor().to_integer()?, rear.ceil().to_integer()?);
    if last - first > MOST_FEET {
        return None;
    }
    let per_foot = weight.checked_div(&(&rear - &front))?;
    for number in first..last {
        let begin = Ratio::whole(number).max(front.clone());
        let end = Ratio::whole(number + 1).min(rear.clone());
        *feet.entry(number).or_default() += &(&per_foot * &(end - begin));
    }
    Some(())
}
