use std::collections::BTreeSet;

use crate::diag::Diagnostic;
use crate::diag::Problem;
use crate::model::Book;
use crate::model::BookOption;
use crate::model::OptionId;
use crate::model::PlanId;

/// Returns the options a plan has: those chosen with all they include, then the standard ones that neither a choice
/// nor `without` sets aside.
pub(crate) fn choose(
    book: &Book,
    plan: PlanId,
    chosen: &[OptionId],
    without: &[OptionId],
) -> Result<Vec<OptionId>, Vec<Diagnostic>> {
    let mut taken = BTreeSet::new();
    book.take_options(plan, chosen.iter().copied(), &mut taken);
    let asked: Vec<&BookOption> = taken.iter().map(|id| &book.options[id.index()]).collect();
    let standard = (0_u32..).map(OptionId).zip(&book.options).filter(|(id, option)| {
        let is_yielding =
            option.choice.is_some() && asked.iter().any(|other| other.choice == option.choice);
        let is_excluded = asked.iter().any(|other| other.excludes(option));
        option.is_standard && !without.contains(id) && !is_yielding && !is_excluded
    });
    let standard: Vec<OptionId> = standard.map(|(id, _)| id).collect();
    book.take_options(plan, standard, &mut taken);
    let errors = conflicts(book, plan, &taken);
    if errors.is_empty() { Ok(taken.into_iter().collect()) } else { Err(errors) }
}

fn conflicts(book: &Book, plan: PlanId, taken: &BTreeSet<OptionId>) -> Vec<Diagnostic> {
    let mut errors = Vec::new();
    let options: Vec<&BookOption> = taken.iter().map(|id| &book.options[id.index()]).collect();
    for option in &options {
        for other in options.iter().filter(|other| option.excludes(other)) {
            let problem =
                Problem::OptionConflict { option: option.name.clone(), other: other.name.clone() };
            errors.push(Diagnostic::error(book.place(option.row, None), problem));
        }
    }
    let mut seen: Vec<&String> = Vec::new();
    for option in book.options.iter().filter(|option| option.is_for(plan)) {
        let Some(choice) = &option.choice else { continue };
        if seen.contains(&choice) {
            continue;
        }
        seen.push(choice);
        let chosen: Vec<String> = options
            .iter()
            .filter(|other| other.choice.as_ref() == Some(choice))
            .map(|other| other.name.clone())
            .collect();
        if chosen.len() != 1 {
            let problem = Problem::ChoiceUnmet { choice: choice.clone(), chosen };
            errors.push(Diagnostic::error(book.place(option.row, Some("choice")), problem));
        }
    }
    errors
}
