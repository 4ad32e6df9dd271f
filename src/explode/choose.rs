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
    let fits = |option: &BookOption| option.plan.is_none_or(|only| only == plan);
    let mut taken = vec![false; book.options.len()];
    let mut queue: Vec<usize> = chosen.iter().map(|option| option.index()).collect();
    take_with_included(book, &mut taken, &mut queue, &fits);
    let asked = taken.clone();
    for (index, option) in book.options.iter().enumerate() {
        let is_left_out = without.iter().any(|left_out| left_out.index() == index);
        let is_yielding = option.choice.is_some()
            && book
                .options
                .iter()
                .zip(&asked)
                .any(|(other, asked)| *asked && other.choice == option.choice);
        let is_excluded = book
            .options
            .iter()
            .zip(&asked)
            .any(|(other, asked)| *asked && names(&other.excludes, option));
        if option.is_standard && fits(option) && !is_left_out && !is_yielding && !is_excluded {
            queue.push(index);
        }
    }
    take_with_included(book, &mut taken, &mut queue, &fits);
    let errors = conflicts(book, &taken, &fits);
    if !errors.is_empty() {
        return Err(errors);
    }
    let ids = (0_u32..).zip(&taken).filter(|(_, taken)| **taken).map(|(index, _)| OptionId(index));
    Ok(ids.collect())
}

fn take_with_included(
    book: &Book,
    taken: &mut [bool],
    queue: &mut Vec<usize>,
    fits: &dyn Fn(&BookOption) -> bool,
) {
    while let Some(index) = queue.pop() {
        let option = &book.options[index];
        if taken[index] || !fits(option) {
            continue;
        }
        taken[index] = true;
        queue.extend(
            (0..book.options.len()).filter(|other| names(&option.includes, &book.options[*other])),
        );
    }
}

fn conflicts(book: &Book, taken: &[bool], fits: &dyn Fn(&BookOption) -> bool) -> Vec<Diagnostic> {
    let mut errors = Vec::new();
    let options = || book.options.iter().zip(taken);
    for (option, _) in options().filter(|(_, taken)| **taken) {
        for (other, _) in
            options().filter(|(other, taken)| **taken && names(&option.excludes, other))
        {
            let problem =
                Problem::OptionConflict { option: option.name.clone(), other: other.name.clone() };
            errors.push(Diagnostic::error(book.place(option.row, None), problem));
        }
    }
    let mut seen: Vec<&String> = Vec::new();
    for option in book.options.iter().filter(|option| fits(option)) {
        let Some(choice) = &option.choice else { continue };
        if seen.contains(&choice) {
            continue;
        }
        seen.push(choice);
        let chosen: Vec<String> = options()
            .filter(|(other, taken)| **taken && other.choice.as_ref() == Some(choice))
            .map(|(other, _)| other.name.clone())
            .collect();
        if chosen.len() != 1 {
            let problem = Problem::ChoiceUnmet { choice: choice.clone(), chosen };
            errors.push(Diagnostic::error(book.place(option.row, Some("choice")), problem));
        }
    }
    errors
}

fn names(list: &[String], option: &BookOption) -> bool {
    list.iter().any(|name| name.eq_ignore_ascii_case(&option.name))
}
