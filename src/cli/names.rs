//! Finds what the arguments name in a book, and says what was meant where a name is unknown.

use cutbill::diag::{Diagnostic, Problem, did_you_mean, nearest};
use cutbill::explode::{Needs, Options};
use cutbill::model::{Book, ItemId, OptionId, PlanId};
use cutbill::rollup::{self, Key, Rollup, Why};

use crate::cli::arguments::Scope;

/// Returns what to explode.
pub(super) fn explode_options(book: &Book, scope: &Scope) -> Result<Options, Vec<Diagnostic>> {
    explode_options_of(book, scope, &scope.plans)
}

/// Returns what to explode, but of these plans; all of them if there are none.
pub(super) fn explode_options_of(
    book: &Book,
    scope: &Scope,
    asked: &[String],
) -> Result<Options, Vec<Diagnostic>> {
    let mut errors = Vec::new();
    let plan_names: Vec<&str> = book.plans.iter().map(|plan| plan.name.as_str()).collect();
    let mut plans = Vec::new();
    for name in asked {
        match find(&plan_names, name) {
            Some(plan) if plans.contains(&PlanId(plan)) => {}
            Some(plan) => plans.push(PlanId(plan)),
            None => {
                errors.push(unknown(
                    Problem::PlanUnknown { plan: name.clone() },
                    &plan_names,
                    name,
                ));
            }
        }
    }
    let mut options = |names: &[String]| match self::options(book, names) {
        Ok(found) => found,
        Err(unknown) => {
            errors.extend(unknown);
            Vec::new()
        }
    };
    let (chosen, without) = (options(&scope.options), options(&scope.without));
    if !errors.is_empty() {
        return Err(errors);
    }
    let unit = scope.unit.map(std::num::NonZeroU32::get);
    Ok(Options { plans, chosen, without, on: scope.on, unit })
}

/// Returns options by their names.
pub(super) fn options(book: &Book, names: &[String]) -> Result<Vec<OptionId>, Vec<Diagnostic>> {
    let known: Vec<&str> = book.options.iter().map(|option| option.name.as_str()).collect();
    let mut found = Vec::new();
    let mut errors = Vec::new();
    for name in names {
        match find(&known, name) {
            Some(option) => found.push(OptionId(option)),
            None => {
                let problem = Problem::OptionUnknown { option: name.clone() };
                errors.push(unknown(problem, &known, name));
            }
        }
    }
    if errors.is_empty() { Ok(found) } else { Err(errors) }
}

/// Returns an item.
pub(super) fn item(book: &Book, name: &str) -> Result<ItemId, Vec<Diagnostic>> {
    let names: Vec<&str> = book.items.iter().map(|item| item.name.as_str()).collect();
    let problem = Problem::NameUnknown { what: "item".to_owned(), name: name.to_owned() };
    find(&names, name).map(ItemId).ok_or_else(|| vec![unknown(problem, &names, name)])
}

/// Returns the keys to sum by.
pub(super) fn keys(book: &Book, by: &[String]) -> Result<Vec<Key>, Vec<Diagnostic>> {
    let known = rollup::keys(book);
    let names: Vec<&str> = known.iter().map(Key::name).collect();
    let mut keys: Vec<Key> = Vec::new();
    let mut errors = Vec::new();
    for name in by {
        match find(&names, name).and_then(|index| known.get(index as usize)) {
            Some(key) if keys.contains(key) => {}
            Some(key) => keys.push(key.clone()),
            None => {
                let problem = Problem::NameUnknown {
                    what: "column to sum by".to_owned(),
                    name: name.clone(),
                };
                let mut found = unknown(problem, &names, name);
                found.hint.get_or_insert_with(|| format!("there are {}", names.join(", ")));
                errors.push(found);
            }
        }
    }
    if errors.is_empty() { Ok(keys) } else { Err(errors) }
}

/// Returns what stands behind the row whose keys have these values, `-` standing for none.
pub(super) fn why(
    book: &Book,
    needs: &Needs,
    rolled: &Rollup,
    by: &[Key],
    values: &str,
) -> Result<Vec<Why>, Vec<Diagnostic>> {
    let keys = if by.is_empty() { vec![Key::Item] } else { by.to_vec() };
    // The last key takes what is left, so that a value with a comma in it can be asked for alone.
    let values: Vec<String> = values
        .splitn(keys.len(), ',')
        .map(|value| if value.trim() == "-" { String::new() } else { value.trim().to_owned() })
        .collect();
    let names: Vec<&str> = keys.iter().map(Key::name).collect();
    if values.len() < keys.len() {
        let text = format!("`--why` needs a value for each of {}", names.join(", "));
        return Err(vec![error(Problem::Plain { text }, None)]);
    }
    let found = rollup::why(book, needs, rolled, &keys, &values);
    if found.is_empty() {
        let row: Vec<String> =
            names.iter().zip(&values).map(|(name, value)| format!("{name} `{value}`")).collect();
        let text = format!("no row with {}", row.join(", "));
        return Err(vec![error(Problem::Plain { text }, None)]);
    }
    Ok(found)
}

/// Tells the names that none of the known ones is, in the order they are asked for.
pub(super) fn unknown_names(what: &str, known: &[&str], asked: &[String]) -> Vec<Diagnostic> {
    let is_unknown = |name: &&String| find(known, name).is_none();
    let tell = |name: &String| {
        let name = name.trim();
        let problem = Problem::NameUnknown { what: what.to_owned(), name: name.to_owned() };
        unknown(problem, known, name)
    };
    asked.iter().filter(is_unknown).map(tell).collect()
}

fn find(names: &[&str], name: &str) -> Option<u32> {
    let position = names.iter().position(|known| known.eq_ignore_ascii_case(name.trim()))?;
    u32::try_from(position).ok()
}

fn unknown(problem: Problem, names: &[&str], name: &str) -> Diagnostic {
    error(problem, nearest(name, names.iter().copied()).map(did_you_mean))
}

fn error(problem: Problem, hint: Option<String>) -> Diagnostic {
    Diagnostic { hint, ..Diagnostic::placeless(problem) }
}
