//! The subcommand `loads`.

use cutbill::diag::{Checked, Diagnostic, Problem};
use cutbill::loads::{self, By, Cargo, Options, WeighOptions};
use cutbill::model::Book;
use cutbill::quantity::{Dimension, Ratio};
use cutbill::render::json;
use cutbill::render::report::{self, LoadsDetail};
use cutbill::watch::Watch;

use crate::cli::arguments::{Format, Loads, SumBy};
use crate::cli::measures::measured;
use crate::cli::{Answer, add_new, exploded, names, tables};

/// Tells what the plans weigh and how they hang on hitch and axles.
pub(super) fn loads(arguments: &Loads, watch: &dyn Watch) -> Result<Answer, Vec<Diagnostic>> {
    let output = &arguments.output;
    let (book, needs, mut findings) = exploded(&arguments.scope, output, watch)?;
    let options = Options {
        options: if arguments.weighs_options { WeighOptions::Weighed } else { WeighOptions::Left },
        explode: names::explode_options(&book, &arguments.scope)?,
        cargo: cargo(&book, &arguments.cargo)?,
    };
    let found = loads::loads(&book, &needs, &options)?;
    add_new(&mut findings, found.warnings);
    let by: Vec<By> = arguments.by.iter().map(|by| sum_by(*by)).collect();
    let detail = match output.format() {
        Format::Table => LoadsDetail::Short,
        _ => LoadsDetail::Full,
    };
    let bytes = match output.format() {
        Format::Json => json::loads(&book, &needs, &found.value, &findings).into_bytes(),
        _ => tables(&report::loads(&book, &needs, &found.value, &by, detail), output)?,
    };
    Ok(Checked { value: bytes, warnings: findings })
}

/// Reads cargo as `120 lb@20 ft` or `120 lb@20 ft,-30 in`; a bare number has the book's unit.
fn cargo(book: &Book, texts: &[String]) -> Result<Vec<Cargo>, Vec<Diagnostic>> {
    let read = |text: &String| {
        let (weight, place) = text.split_once('@')?;
        let (back, right) =
            place.split_once(',').map_or((place, "0"), |(back, right)| (back, right));
        let length =
            |text: &str| measured(text, Dimension::LENGTH, &book.settings.length_unit.factor);
        let weight = measured(weight, Dimension::WEIGHT, &book.settings.weight_unit.factor)
            .filter(|weight| *weight > Ratio::ZERO)?;
        let (x, y) = (Some(length(back)?), length(right)?);
        Some(Cargo { name: text.clone(), weight, x, y, is_assumed: false })
    };
    let mut errors = Vec::new();
    let mut found = Vec::new();
    for text in texts {
        match read(text) {
            Some(cargo) => found.push(cargo),
            None => errors.push(Diagnostic::placeless(Problem::OutOfRange {
                text: text.clone(),
                range: "a weight above zero at a place, such as `120 lb@20 ft,-30 in`".to_owned(),
            })),
        }
    }
    if errors.is_empty() { Ok(found) } else { Err(errors) }
}

fn sum_by(by: SumBy) -> By {
    match by {
        SumBy::Assembly => By::Assembly,
        SumBy::Station => By::Station,
        SumBy::Item => By::Item,
        SumBy::Side => By::Side,
    }
}
