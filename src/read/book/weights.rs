//! What an item weighs: a weight as it is given, or density times dimensions.

use crate::diag::Problem;
use crate::diag::Severity;
use crate::model::Form;
use crate::model::Item;
use crate::model::Size;
use crate::model::Unit;
use crate::quantity::Dimension;
use crate::quantity::Length;
use crate::quantity::Ratio;
use crate::quantity::unit;
use crate::read::Cell;
use crate::read::book::items::unknown_unit;
use crate::read::cells::Row;
use crate::read::columns::At;
use crate::read::numbers::number;
use crate::read::rates::Basis;
use crate::read::rates::Per;
use crate::read::rates::Shape;
use crate::read::rates::per;

/// Specific gravity of wood, by its volume at the moisture it has and by its dry volume.
const GRAVITIES: [&str; 2] = ["specific_gravity", "dry_gravity"];
const MOISTURE: &str = "moisture_percent";

/// Returns the weight per base unit of what the form measures, in pounds.
pub(super) fn weight(row: Row, item: &Item, shape: &Shape, sizes: &[&Size]) -> Option<Ratio> {
    let at = row.at("weight");
    if row.is_empty(at) {
        let weight = density(row).and_then(|density| weight_of_density(row, item, &density));
        return match weight {
            // A thing measured by weight weighs what it measures.
            None if item.form == Form::Bulk && item.unit.dimension == Dimension::WEIGHT => {
                Some(Ratio::ONE)
            }
            weight => weight,
        };
    }
    for column in ["density"].into_iter().chain(GRAVITIES).chain([MOISTURE]) {
        unused(row, column, "the weight is given");
    }
    if item.form == Form::Labor {
        let problem = Problem::DimensionUnused {
            dimension: "weight".to_owned(),
            reason: "labor weighs nothing".to_owned(),
        };
        row.tell(Severity::Warning, Some(at), problem);
        return None;
    }
    let (amount, pounds, unit) = weight_parts(row, item.pack.as_ref())?;
    if amount.is_negative() {
        row.out_of_range(at, "not below zero");
        return None;
    }
    let basis = match &unit {
        WeightUnit::PerUnit => match shape.dimension() {
            Dimension::NUMBER => Basis::Each(Ratio::ONE),
            _ => Basis::Measure(item.unit.factor.clone()),
        },
        WeightUnit::Per(per, name) => match shape.basis(per, &row.shown(at), name) {
            Ok(basis) => basis,
            Err(_) if is_volume(per) => Basis::Measure(volume_basis(row, item, per, name)?),
            Err(problem) => {
                row.error(at, problem);
                return None;
            }
        },
    };
    let divisor = match basis {
        Basis::Measure(divisor) => divisor,
        Basis::Each(count) if item.form == Form::Count => count,
        Basis::Each(count) => count * whole_size(row, at, item, sizes)?,
        Basis::Weight(_) => {
            let problem = Problem::UnitUnfit {
                text: row.shown(at),
                unit: row.shown(row.at("weight_unit")),
                expected: "a weight per each, length, area or volume".to_owned(),
            };
            row.error(at, problem);
            return None;
        }
    };
    let weight = (amount * pounds).checked_div(&divisor).expect("units are above zero");
    absurd(row, at, item, &weight, matches!(unit, WeightUnit::PerUnit));
    Some(weight)
}

/// Tells a weight that no material of a floor, wall or roof has: that of a steel plate of an inch and a half is 61 lb/ft2.
///
/// Where nothing says what it is the weight of, it may be meant for a whole sheet or stick: more is told then than a steel
/// plate of 3/16 in (7.7 lb/ft2, at 490 lb/ft3) or a channel of 8 in (11.5 lb/ft, from memory) weighs.
fn absurd(row: Row, at: At, item: &Item, weight: &Ratio, is_bare: bool) {
    let (power, most, unit) = match (item.form, is_bare) {
        (Form::Sheet | Form::Roll, true) => (2, 8, "lb/ft2"),
        (Form::Sheet | Form::Roll, false) => (2, 60, "lb/ft2"),
        (Form::Linear, true) => (1, 12, "lb/ft"),
        _ => return,
    };
    if weight * &Length::FOOT.to_ratio().power(power) > Ratio::whole(most) {
        let (doubt, other) = if is_bare {
            (" where nothing says what it is for", format!(", `{unit}` if it is not"))
        } else {
            ("", String::new())
        };
        let range = format!("below {most} {unit}{doubt}");
        let problem = Problem::OutOfRange { text: row.shown(at), range };
        let hint = format!(
            "write `lb/each` as `weight_unit` if this is the weight of a whole size{other}"
        );
        row.tell_with_hint(Severity::Warning, Some(at), problem, Some(hint));
    }
}

enum WeightUnit {
    /// Per one of the item's unit.
    PerUnit,
    Per(Per, String),
}

/// Returns the number in the weight cell, pounds in its weight unit, and what it is for one of.
fn weight_parts(row: Row, pack: Option<&Unit>) -> Option<(Ratio, Ratio, WeightUnit)> {
    let (at, unit_at) = (row.at("weight"), row.at("weight_unit"));
    let cell = row.cell(at);
    let (digits, own_unit) = match cell {
        Cell::Text(text) => {
            let start = text.find(|letter: char| letter.is_alphabetic()).unwrap_or(text.len());
            text.split_at(start)
        }
        _ => ("", ""),
    };
    let amount = if own_unit.is_empty() {
        row.number(at)?
    } else {
        let Some(amount) = number(digits, row.grid.table.has_decimal_comma) else {
            let problem =
                Problem::NotAMeasure { text: row.shown(at), expected: "weight".to_owned() };
            row.error(at, problem);
            return None;
        };
        amount
    };
    let column_unit = row.text(unit_at);
    let (unit, unit_at) =
        if own_unit.is_empty() { (column_unit.as_ref(), unit_at) } else { (own_unit, at) };
    if unit.is_empty() {
        return Some((amount, row.reader.weight.factor.clone(), WeightUnit::PerUnit));
    }
    let (weight, rest) = unit.split_once('/').unwrap_or((unit, ""));
    let pounds = match unit::find(weight.trim()) {
        Some(unit) if unit.dimension == Dimension::WEIGHT => unit.factor,
        Some(_) => {
            let problem = Problem::UnitUnfit {
                text: row.shown(unit_at),
                unit: weight.trim().to_owned(),
                expected: "a weight".to_owned(),
            };
            row.error(unit_at, problem);
            return None;
        }
        None => {
            unknown_unit(row, unit_at, weight.trim());
            return None;
        }
    };
    if rest.is_empty() {
        return Some((amount, pounds, WeightUnit::PerUnit));
    }
    let Some(per) = per(rest, pack) else {
        unknown_unit(row, unit_at, rest.trim());
        return None;
    };
    Some((amount, pounds, WeightUnit::Per(per, rest.trim().to_owned())))
}

fn is_volume(per: &Per) -> bool {
    matches!(per, Per::Measure(unit) if unit.dimension == Dimension::VOLUME)
}

/// Returns the length or area of an item that has the volume.
fn volume_basis(row: Row, item: &Item, per: &Per, name: &str) -> Option<Ratio> {
    let Per::Measure(unit) = per else { return None };
    let section = section(row, item, &format!("a weight by the {name}"))?;
    unit.factor.checked_div(&section)
}

/// Returns the volume of one base unit of a sheet, roll or stick: its thickness, or its section, else the dressed one.
fn section(row: Row, item: &Item, what: &str) -> Option<Ratio> {
    let missing = |dimension: &str| {
        let problem =
            Problem::DimensionMissing { what: what.to_owned(), dimension: dimension.to_owned() };
        let given = ["weight", "density"].into_iter().chain(GRAVITIES);
        let at = given.map(|column| row.at(column)).find(|at| !row.is_empty(*at));
        let at = at.unwrap_or_else(|| row.at("density"));
        row.error(at, problem);
        None
    };
    match item.form {
        Form::Sheet | Form::Roll => match item.thickness {
            Some(thickness) => Some(thickness.to_ratio()),
            None => missing("thickness"),
        },
        Form::Linear if !row.is_empty(row.at("section")) => {
            let at = row.at("section");
            let section = row.measure(at, Dimension::AREA)?.value;
            if section <= Ratio::ZERO {
                row.out_of_range(at, "above zero");
                return None;
            }
            Some(section)
        }
        Form::Linear => match &item.nominal {
            Some(nominal) => {
                Some(Ratio::whole(nominal.dressed_thickness.area(nominal.dressed_width)))
            }
            None => missing("section or nominal size"),
        },
        Form::Bulk if item.unit.dimension == Dimension::VOLUME => Some(Ratio::ONE),
        _ => missing("volume"),
    }
}

/// Returns the density in pounds per cubic nanometer: as it is given, or that of wood by its specific gravity.
fn density(row: Row) -> Option<Ratio> {
    let at = row.at("density");
    if row.is_empty(at) {
        return wood_density(row);
    }
    for column in GRAVITIES.into_iter().chain([MOISTURE]) {
        unused(row, column, "the density is given");
    }
    let measure = row.any_measure(at, None)?;
    let expected = Dimension::WEIGHT.over(Dimension::VOLUME).expect("small exponents");
    if measure.dimension != expected {
        let hint = "write the unit, as in `35 lb/ft3` or `2.7 g/cm3`".to_owned();
        let problem = Problem::NotAMeasure { text: row.shown(at), expected: "density".to_owned() };
        row.error_with_hint(at, problem, Some(hint));
        return None;
    }
    if measure.value.is_negative() {
        row.out_of_range(at, "not below zero");
        return None;
    }
    Some(measure.value)
}

/// Returns the density of wood at its moisture. With water at 1000 kg/m3, `G` the specific gravity and `m` the moisture as
/// a share of the dry weight:
///
/// - `G` by the volume at that moisture: `water G (1 + m)` (USDA Wood Handbook, FPL-GTR-190, chapter 4),
/// - `G` by the dry volume: `water G / (1 + 0.9 G m) (1 + m)`, which takes the swelling into account (National Design
///   Specification for Wood Construction; there `0.009 G m` with `m` in percent).
fn wood_density(row: Row) -> Option<Ratio> {
    let [moist, dry] = GRAVITIES.map(|column| gravity(row, column));
    if moist.is_some() && dry.is_some() {
        let columns = GRAVITIES.map(str::to_owned).to_vec();
        row.error(row.at(GRAVITIES[1]), Problem::NotOne { columns, given: 2 });
        return None;
    }
    if moist.is_none() && dry.is_none() {
        unused(row, MOISTURE, "there is no specific gravity");
        return None;
    }
    let moisture = moisture(row)?;
    let solid = match (moist, dry) {
        (_, Some(dry)) => {
            let swelling = Ratio::ONE + &(&dry * &moisture) * &Ratio::decimal(9, 1);
            dry.checked_div(&swelling)?
        }
        (moist, None) => moist?,
    };
    Some(solid * (Ratio::ONE + moisture) * water())
}

fn gravity(row: Row, column: &str) -> Option<Ratio> {
    let at = row.at(column);
    let gravity = row.number(at)?;
    // Balsa has 0.1, lignum vitae 1.3.
    if gravity <= Ratio::ZERO || gravity > Ratio::whole(2) {
        row.out_of_range(at, "above 0 to 2");
        return None;
    }
    Some(gravity)
}

/// Returns the moisture as a share of the dry weight; where it is not said, the 12 % that tables of wood are made for.
fn moisture(row: Row) -> Option<Ratio> {
    let at = row.at(MOISTURE);
    if row.is_empty(at) {
        let item = row.text(row.at("item")).into_owned();
        row.tell(Severity::Warning, Some(at), Problem::MoistureAssumed { item });
        return Some(Ratio::decimal(12, 2));
    }
    let moisture = row.share(at)?;
    if moisture.is_negative() || moisture > Ratio::whole(3) {
        row.out_of_range(at, "0 to 300 %");
        return None;
    }
    Some(moisture)
}

/// Pounds of water in a cubic nanometer, at 1000 kg/m3: a gram is a cubic centimeter of it.
fn water() -> Ratio {
    let gram = Ratio::ONE.checked_div(&Ratio::decimal(45_359_237, 5)).expect("a pound is not zero");
    let centimeter = Length::MILLIMETER.to_ratio() * Ratio::whole(10);
    gram.checked_div(&centimeter.power(3)).expect("a cubic centimeter is not zero")
}

fn unused(row: Row, column: &str, reason: &str) {
    let at = row.at(column);
    if !row.is_empty(at) {
        let problem = Problem::DimensionUnused {
            dimension: column.replace('_', " "),
            reason: reason.to_owned(),
        };
        row.tell(Severity::Note, Some(at), problem);
    }
}

fn weight_of_density(row: Row, item: &Item, density: &Ratio) -> Option<Ratio> {
    Some(density * &section(row, item, "a density")?)
}

/// Returns the base units in the one size an item has.
fn whole_size(row: Row, at: At, item: &Item, sizes: &[&Size]) -> Option<Ratio> {
    let measure = match sizes {
        [size] => match (item.form, size.length, size.width) {
            (Form::Linear, Some(length), _) => Some(length.to_ratio()),
            (_, Some(length), Some(width)) => Some(Ratio::whole(length.area(width))),
            _ => None,
        },
        _ => None,
    };
    if measure.is_none() {
        let problem = Problem::UnitUnfit {
            text: row.shown(at),
            unit: "each".to_owned(),
            expected: format!(
                "a weight by the {} where an item has {} sizes",
                item.unit.name,
                if sizes.is_empty() { "no" } else { "several" }
            ),
        };
        row.error(at, problem);
    }
    measure
}
