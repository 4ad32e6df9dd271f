//! Prices and weights are given for one of something; this says of what, and brings them to base units.

use crate::diag::Problem;
use crate::model::Form;
use crate::model::Nominal;
use crate::model::Unit;
use crate::quantity::Dimension;
use crate::quantity::Length;
use crate::quantity::Ratio;
use crate::quantity::unit;
use crate::quantity::unit::UnitFactor;

/// What a price or weight is given for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Per {
    /// So many whole things.
    Things(Ratio),
    /// So many board feet.
    BoardFeet(Ratio),
    /// A measure, in base units.
    Measure(UnitFactor),
}

/// What a price or weight is for one of, once it is brought to base units; the number is what to divide by.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Basis {
    /// One whole thing or stock size.
    Each(Ratio),
    /// One base unit of what the form measures.
    Measure(Ratio),
    /// One pound.
    Weight(Ratio),
}

/// What of an item decides how a rate is understood.
#[derive(Clone, Copy, Debug)]
pub(super) struct Shape<'a> {
    /// Its form.
    pub(super) form: Form,
    /// Its unit of quantities.
    pub(super) unit: &'a Unit,
    /// Its nominal size.
    pub(super) nominal: Option<&'a Nominal>,
    /// Its pack.
    pub(super) pack: Option<&'a Unit>,
    /// Its one width, or that of the size in question.
    pub(super) width: Option<Length>,
}

/// Returns what a price unit stands for: a pack's name, a count, board feet, or a measure.
pub(super) fn per(name: &str, pack: Option<&Unit>) -> Option<Per> {
    let name = name.trim();
    let name = name.strip_prefix("per ").or_else(|| name.strip_prefix('/')).unwrap_or(name).trim();
    if let Some(pack) = pack.filter(|pack| pack.name.eq_ignore_ascii_case(name)) {
        let (dimension, factor) = (pack.dimension, pack.factor.clone());
        return Some(of_measure(UnitFactor { dimension, factor }));
    }
    match name.to_lowercase().as_str() {
        // Lumber is tallied by its nominal size, so a board foot here is no volume.
        "bf" | "bdft" | "bd ft" | "board foot" | "board feet" => Some(Per::BoardFeet(Ratio::ONE)),
        "mbf" => Some(Per::BoardFeet(Ratio::whole(1000))),
        _ => unit::find(name).map(of_measure),
    }
}

fn of_measure(unit: UnitFactor) -> Per {
    match unit.dimension {
        Dimension::NUMBER => Per::Things(unit.factor),
        _ => Per::Measure(unit),
    }
}

impl Shape<'_> {
    /// Returns the basis of a rate for one of `per`, or what is missing or does not fit.
    pub(super) fn basis(&self, per: &Per, text: &str, unit: &str) -> Result<Basis, Problem> {
        let measured = self.dimension();
        let unfit = || Problem::UnitUnfit {
            text: text.to_owned(),
            unit: unit.to_owned(),
            expected: self.expected().to_owned(),
        };
        match per {
            Per::Things(count) if self.form != Form::Labor && self.form != Form::Bulk => {
                Ok(Basis::Each(count.clone()))
            }
            Per::Things(count) if measured == Dimension::NUMBER => {
                Ok(Basis::Measure(count.clone()))
            }
            Per::BoardFeet(count) if self.form == Form::Linear => {
                let Some(nominal) = self.nominal else {
                    let what = format!("a rate by {unit}");
                    return Err(Problem::DimensionMissing {
                        what,
                        dimension: "nominal size".to_owned(),
                    });
                };
                let length = count.checked_div(&nominal.board_feet_rate());
                Ok(Basis::Measure(length.expect("a nominal size is above zero")))
            }
            Per::Measure(UnitFactor { dimension, factor }) => {
                if *dimension == measured {
                    Ok(Basis::Measure(factor.clone()))
                } else if *dimension == Dimension::WEIGHT && self.form != Form::Labor {
                    Ok(Basis::Weight(factor.clone()))
                } else if *dimension == Dimension::LENGTH && self.form == Form::Roll {
                    let Some(width) = self.width else {
                        let what = "a rate by the length of a roll".to_owned();
                        return Err(Problem::DimensionMissing {
                            what,
                            dimension: "width".to_owned(),
                        });
                    };
                    Ok(Basis::Measure(factor * &width.to_ratio()))
                } else {
                    Err(unfit())
                }
            }
            Per::Things(_) | Per::BoardFeet(_) => Err(unfit()),
        }
    }

    /// Returns what the form measures.
    pub(super) fn dimension(&self) -> Dimension {
        match self.form {
            Form::Sheet | Form::Roll => Dimension::AREA,
            Form::Linear => Dimension::LENGTH,
            Form::Count => Dimension::NUMBER,
            Form::Labor => Dimension::TIME,
            Form::Bulk => self.unit.dimension,
        }
    }

    fn expected(&self) -> &'static str {
        match self.form {
            Form::Sheet => "each, an area or a weight",
            Form::Roll => "each, an area, a length or a weight",
            Form::Linear => "each, a length, board feet or a weight",
            Form::Count => "each, a count or a weight",
            Form::Bulk => "the dimension of the item's unit or a weight",
            Form::Labor => "a time",
        }
    }
}
