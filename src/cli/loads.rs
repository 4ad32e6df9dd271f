//! The subcommand `loads`.

use cutbill::diag::{Checked, Diagnostic};
use cutbill::loads::{self, By, Options, WeighOptions};
use cutbill::render::json;
use cutbill::render::report::{self, LoadsDetail};
use cutbill::watch::Watch;

use crate::cli::arguments::{Format, Loads, SumBy};
use crate::cli::{Answer, add_new, exploded, names, tables};

/// Tells what the plans weigh and how they hang on hitch and axles.
pub(super) fn loads(arguments: &Loads, watch: &dyn Watch) -> Result<Answer, Vec<Diagnostic>> {
    let output = &arguments.output;
    let (book, needs, mut findings) = exploded(&arguments.scope, output, watch)?;
    let options = Options {
        options: if arguments.weighs_options { WeighOptions::Weighed } else { WeighOptions::Left },
        explode: names::explode_options(&book, &arguments.scope)?,
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

fn sum_by(by: SumBy) -> By {
    match by {
        SumBy::Assembly => By::Assembly,
        SumBy::Station => By::Station,
        SumBy::Item => By::Item,
        SumBy::Side => By::Side,
    }
}
