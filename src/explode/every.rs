use crate::diag::Diagnostic;
use crate::diag::Distinct;
use crate::explode::choose::choose;
use crate::explode::{Options, explode};
use crate::model::Book;
use crate::model::OptionId;
use crate::model::PlanId;

/// Explodes every plan in as many configurations as it takes for each option to be there once, and returns all findings
/// of all of them, each once: mistakes show only where the lines that hold them are taken.
#[must_use]
pub fn explode_every(book: &Book) -> Vec<Diagnostic> {
    let mut findings = Distinct::default();
    for chosen in configurations(book) {
        let found = match explode(book, &Options { chosen, ..Options::default() }) {
            Ok(needs) => needs.warnings,
            Err(errors) => errors,
        };
        findings.extend(found);
    }
    findings.into_vec()
}

/// Returns sets of options that may be chosen together: first none beside the standard ones, then sets that are filled
/// up greedily until each option is in one.
fn configurations(book: &Book) -> Vec<Vec<OptionId>> {
    let plans: Vec<PlanId> = (0_u32..).map(PlanId).take(book.plans.len()).collect();
    let options = || (0_u32..).map(OptionId).take(book.options.len());
    let mut is_covered: Vec<bool> = book.options.iter().map(|option| option.is_standard).collect();
    let mut sets = vec![Vec::new()];
    for first in options() {
        if is_covered[first.index()] {
            continue;
        }
        is_covered[first.index()] = true;
        let mut set = vec![first];
        for other in options().filter(|other| other.index() > first.index()) {
            if is_covered[other.index()] {
                continue;
            }
            set.push(other);
            let is_sound = plans.iter().all(|plan| {
                choose(book, *plan, &set, &[]).is_ok_and(|taken| {
                    let fits = |option: &&OptionId| book.options[option.index()].is_for(*plan);
                    set.iter().filter(fits).all(|option| taken.contains(option))
                })
            });
            if is_sound {
                is_covered[other.index()] = true;
            } else {
                set.pop();
            }
        }
        sets.push(set);
    }
    sets
}
