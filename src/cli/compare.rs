//! Finds the two sides of a comparison and holds one against the other.

use std::path::Path;

use cutbill::compare::{self, Scope, Side};
use cutbill::diag::{Checked, Diagnostic, Place, squashed};
use cutbill::explode::{self, Needs, Options};
use cutbill::model::{Book, PlanId};
use cutbill::render::{json, report};
use cutbill::rollup::Rollup;
use cutbill::watch::Watch;

use crate::cli::arguments::{Compare, Format};
use crate::cli::{Answer, exploded, names, plain_error, read, rolled_up, tables, together};

/// A book with the builds asked about, rolled up.
struct Rolled {
    book: Book,
    needs: Needs,
    rollup: Rollup,
}

/// Tells what changed between two sides, or how actuals stand against the standard.
pub(super) fn compare(arguments: &Compare, watch: &dyn Watch) -> Result<Answer, Vec<Diagnostic>> {
    if arguments.actuals {
        return actuals(arguments, watch);
    }
    check_question(arguments)?;
    let mut findings = Vec::new();
    let (was, is) = sides(arguments, watch, &mut findings)?;
    let (pairs, alone) = pairs(arguments, &was, &is)?;
    let are_books = arguments.new_book.is_some();
    let scope = if are_books { Scope::Written } else { Scope::Taken };
    let compared = compare::compare(&pairs, scope)
        .map_err(|errors| together(std::mem::take(&mut findings), errors))?;
    let compared = report::Compared { pairs: &pairs, comparison: &compared, alone: &alone };
    let bytes = match arguments.output.format() {
        Format::Json => json::compare(&compared, &findings).into_bytes(),
        _ => tables(&report::compare(&compared), &arguments.output)?,
    };
    Ok(Checked { value: bytes, warnings: findings })
}

/// Refuses a question whose two sides are one.
fn check_question(arguments: &Compare) -> Result<(), Vec<Diagnostic>> {
    let Compare { scope, .. } = arguments;
    let has_sides = arguments.new_book.is_some()
        || arguments.against.is_some()
        || arguments.from_date.is_some()
        || arguments.to_date.is_some();
    if !has_sides && scope.options.is_empty() && scope.without.is_empty() {
        let mut error = plain_error("there is nothing to compare with".to_owned());
        error.hint = Some(
            "name a second book, `--from-date` and `--to-date`, `--plan` and `--against`, \
             `--option` or `--without`, or ask for `--actuals`"
                .to_owned(),
        );
        return Err(vec![error]);
    }
    if arguments.against.is_some() && scope.plans.len() != 1 {
        let text = "`--against` needs exactly one `--plan` to be held against it".to_owned();
        return Err(vec![plain_error(text)]);
    }
    Ok(())
}

/// Rolls both sides up. With two books, days or plans, both have the options asked for; else the old side has the
/// standard ones.
fn sides(
    arguments: &Compare,
    watch: &dyn Watch,
    findings: &mut Vec<Diagnostic>,
) -> Result<(Rolled, Rolled), Vec<Diagnostic>> {
    let Compare { scope, output, .. } = arguments;
    let old_book = read(&scope.book, output, watch)?;
    let new_book = match &arguments.new_book {
        Some(path) => read(path, output, watch)?,
        None => Checked { value: old_book.value.clone(), warnings: Vec::new() },
    };
    findings.extend(together(old_book.warnings, new_book.warnings));
    let (old_book, new_book) = (old_book.value, new_book.value);
    let old_plans: Vec<String> = match &arguments.against {
        Some(against) => vec![against.clone()],
        None => scope.plans.clone(),
    };
    // Of two books, an unknown name says in which.
    let new_path = arguments.new_book.as_deref();
    let named = |path: &Path, errors: Vec<Diagnostic>| -> Vec<Diagnostic> {
        let place =
            new_path.map(|_| Place { file: path.display().to_string(), ..Place::default() });
        errors.into_iter().map(|error| Diagnostic { place: place.clone(), ..error }).collect()
    };
    let mut was = names::explode_options_of(&old_book, scope, &old_plans)
        .map_err(|errors| named(&scope.book, errors))?;
    let mut is = names::explode_options_of(&new_book, scope, &scope.plans)
        .map_err(|errors| named(new_path.unwrap_or(&scope.book), errors))?;
    was.on = arguments.from_date.or(was.on);
    is.on = arguments.to_date.or(is.on);
    let is_about_options = arguments.new_book.is_none()
        && arguments.against.is_none()
        && arguments.from_date.is_none()
        && arguments.to_date.is_none();
    if is_about_options {
        (was.chosen, was.without) = (Vec::new(), Vec::new());
    }
    let mut roll = |book: Book, options: &Options| -> Result<Rolled, Vec<Diagnostic>> {
        let needs = explode::explode(&book, options)?;
        for finding in needs.warnings {
            if !findings.contains(&finding) {
                findings.push(finding);
            }
        }
        let needs = needs.value;
        let rollup = rolled_up(&book, &needs, &arguments.cutting, watch, findings)?;
        Ok(Rolled { book, needs, rollup })
    };
    let was = roll(old_book, &was)?;
    let is = roll(new_book, &is)?;
    Ok((was, is))
}

type Pairs<'a> = Vec<(Side<'a>, Side<'a>)>;

/// Matches the plans of both sides; returns with them those that only one side has.
fn pairs<'a>(
    arguments: &Compare,
    was: &'a Rolled,
    is: &'a Rolled,
) -> Result<(Pairs<'a>, Vec<report::Alone<'a>>), Vec<Diagnostic>> {
    let sides = |rolled: &'a Rolled| -> Vec<Side<'a>> {
        let Rolled { book, needs, rollup } = rolled;
        (0..rollup.builds.len()).map(|build| Side { book, needs, rollup, build }).collect()
    };
    let (was, is) = (sides(was), sides(is));
    if arguments.against.is_some() {
        return Ok((was.into_iter().zip(is).collect(), Vec::new()));
    }
    let name = |side: &Side<'_>| squashed(plan_name(side.book, side.build().plan));
    let mut pairs = Vec::new();
    let mut alone = Vec::new();
    for old in &was {
        match is.iter().find(|new| name(new) == name(old)) {
            Some(new) => pairs.push((*old, *new)),
            None => alone.push(report::Alone::Old(*old)),
        }
    }
    let is_new = |new: &&Side<'_>| was.iter().all(|old| name(old) != name(new));
    alone.extend(is.iter().filter(is_new).copied().map(report::Alone::New));
    if pairs.is_empty() {
        let mut error = plain_error("the two books have no plan of the same name".to_owned());
        error.hint = Some("name one of each by `--plan` and `--against`".to_owned());
        return Err(vec![error]);
    }
    Ok((pairs, alone))
}

fn plan_name(book: &Book, plan: PlanId) -> &str {
    &book.plans[plan.index()].name
}

/// Holds the table of actuals against the standard.
fn actuals(arguments: &Compare, watch: &dyn Watch) -> Result<Answer, Vec<Diagnostic>> {
    let (book, needs, mut findings) = exploded(&arguments.scope, &arguments.output, watch)?;
    if book.actuals.is_empty() {
        let mut error = plain_error("the book has no table `actuals`".to_owned());
        error.hint =
            Some("it tells item, quantity and amount of what was bought and used".to_owned());
        return Err(vec![error]);
    }
    let rollup = rolled_up(&book, &needs, &arguments.cutting, watch, &mut findings)?;
    let variances = compare::variances(&book, &needs, &rollup);
    findings.extend(variances.warnings);
    let variances = variances.value;
    let bytes = match arguments.output.format() {
        Format::Json => json::variances(&book, &needs, &rollup, &variances, &findings).into_bytes(),
        _ => tables(&report::variances(&book, &needs, &rollup, &variances), &arguments.output)?,
    };
    Ok(Checked { value: bytes, warnings: findings })
}
