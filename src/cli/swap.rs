//! The subcommand `swap`.

use cutbill::diag::{Diagnostic, Problem};
use cutbill::model::Book;
use cutbill::quantity::{Dimension, Ratio};
use cutbill::render::{json, report};
use cutbill::swap::{self, Base, Options, Proposal};
use cutbill::watch::Watch;

use crate::cli::arguments::{Format, Swap};
use crate::cli::measures::measured;
use crate::cli::{
    Answer, add_new, cutting_options, exploded, names, plain_error, rolled_up, tables,
};

/// Tries swaps, each alone and all together, and finds the best set of them.
pub(super) fn swap(arguments: &Swap, watch: &dyn Watch) -> Result<Answer, Vec<Diagnostic>> {
    let (book, needs, mut findings) = exploded(&arguments.scope, &arguments.output, watch)?;
    let proposals = proposals(&book, arguments)?;
    let save = arguments.save.as_deref().map(|text| weight(&book, text)).transpose()?;
    let options = Options {
        explode: names::explode_options(&book, &arguments.scope)?,
        cutting: cutting_options(&arguments.cutting),
        is_together: arguments.together,
        save,
    };
    let rollup = rolled_up(&book, &needs, &arguments.cutting, watch, &mut findings)?;
    let base = Base { book: &book, needs: &needs, rollup: &rollup, findings: &findings };
    let swaps = swap::swap(base, proposals, &options, watch)?;
    let mut all = findings.clone();
    add_new(&mut all, swaps.warnings);
    let bytes = match arguments.output.format() {
        Format::Json => json::swap(base, &swaps.value, &all).into_bytes(),
        _ => tables(&report::swap(base, &swaps.value), &arguments.output)?,
    };
    Ok(Answer { value: bytes, warnings: all })
}

/// Returns the swaps that are typed and those of the table that are named; those of the whole table if there are none.
fn proposals(book: &Book, arguments: &Swap) -> Result<Vec<Proposal>, Vec<Diagnostic>> {
    let of_table = swap::of_table(book);
    let known: Vec<&str> = of_table.iter().map(|proposal| proposal.name.as_str()).collect();
    let mut errors = names::unknown_names("swap", &known, &arguments.only);
    let mut found: Vec<Proposal> = Vec::new();
    for name in &arguments.only {
        let is_named = |proposal: &&Proposal| proposal.name.eq_ignore_ascii_case(name.trim());
        if let Some(known) = of_table.iter().find(is_named)
            && !found.contains(known)
        {
            found.push(known.clone());
        }
    }
    for text in &arguments.swaps {
        match swap::typed(book, text) {
            Ok(typed) => found.push(typed),
            Err(error) => errors.push(error),
        }
    }
    if !errors.is_empty() {
        return Err(errors);
    }
    if !arguments.only.is_empty() || !arguments.swaps.is_empty() {
        return Ok(found);
    }
    if of_table.is_empty() {
        let mut error = plain_error("the book has no table `swaps`".to_owned());
        error.hint = Some("type one: `--swap OLD=NEW`".to_owned());
        return Err(vec![error]);
    }
    Ok(of_table)
}

/// Reads the weight that one unit shall lose, in pounds; without a unit it is in that of the book.
fn weight(book: &Book, text: &str) -> Result<Ratio, Vec<Diagnostic>> {
    let weight = measured(text, Dimension::WEIGHT, &book.settings.weight_unit.factor);
    weight.filter(|weight| *weight > Ratio::ZERO).ok_or_else(|| {
        let problem = Problem::OutOfRange {
            text: text.to_owned(),
            range: "a weight above zero, such as `150 lb`".to_owned(),
        };
        vec![Diagnostic::placeless(problem)]
    })
}
