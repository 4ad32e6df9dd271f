use crate::diag::Diagnostic;
use crate::diag::Problem;
use crate::diag::did_you_mean;
use crate::diag::nearest;
use crate::formula::Expression;
use crate::model::AssemblyId;
use crate::model::Book;
use crate::model::Component;
use crate::model::ItemId;
use crate::model::RowRef;
use crate::model::SourceId;
use crate::model::SwapRow;
use crate::quantity::Ratio;
use crate::quantity::text::{DecimalSign, number};
use crate::swap::Proposal;

const FORMS: &str = "write `OLD=NEW`, `OLD=NEW*1.5`, `OLD=` to remove it, or `spacing=24 in` to set a dimension; `@ASSEMBLY` \
    at the end is within that assembly only, and `;` parts what acts together";

/// Reads a swap of the command line: `OLD=NEW`, `OLD=NEW*1.5` for one and a half new ones for each old one, `OLD=` to remove
/// it, `spacing=24 in` to set a dimension; each with `@ASSEMBLY` to do so within that assembly only. Parts between `;` act
/// together: `SKIN=PANEL; BACKER=; HOURS=HOURS*0.6`.
///
/// Names may hold these signs themselves: where a text can be read with names the book knows, it is.
///
/// # Errors
/// A name that the book does not know, with the one that was probably meant; a text of another form.
pub fn typed(book: &Book, text: &str) -> Result<Proposal, Diagnostic> {
    let rows = match row(book, text) {
        Ok(row) => vec![row],
        Err(_) if text.contains(';') => {
            let parts = text.split(';').filter(|part| !part.trim().is_empty());
            parts.map(|part| row(book, part)).collect::<Result<Vec<_>, _>>()?
        }
        Err(error) => return Err(error),
    };
    let name = text.trim().to_owned();
    let rows = rows.into_iter().map(|row| SwapRow { swap: name.clone(), ..row }).collect();
    Ok(Proposal { name, rows, is_approved: false, is_typed: true })
}

fn row(book: &Book, text: &str) -> Result<SwapRow, Diagnostic> {
    let mut first_error = None;
    for (at, _) in text.match_indices('=') {
        match reading(book, &text[..at], &text[at + 1..]) {
            Ok(row) => return Ok(row),
            Err(error) => first_error = first_error.or(Some(error)),
        }
    }
    Err(first_error.unwrap_or_else(|| {
        let problem = Problem::SwapUnknown { text: text.trim().to_owned() };
        typed_error(problem, Some(FORMS.to_owned()))
    }))
}

fn reading(book: &Book, from: &str, rest: &str) -> Result<SwapRow, Diagnostic> {
    let nothing = SwapRow {
        swap: String::new(),
        from: None,
        to: None,
        ratio: Ratio::ONE,
        parent: None,
        quantity: None,
        plan: None,
        assembly: None,
        option: None,
        set: Vec::new(),
        from_date: None,
        from_unit: None,
        is_approved: false,
        uses_up: false,
        row: RowRef { source: SourceId(u32::MAX), row: 0 },
    };
    let from = match component(book, from) {
        Ok(from) => from,
        Err(error) => {
            let name = from.trim().to_lowercase();
            if !is_dimension(book, &name) {
                return Err(error);
            }
            let (value, assembly) = match rest.rsplit_once('@') {
                Some((value, name)) => (value, Some(self::assembly(book, name)?)),
                None => (rest, None),
            };
            let set = vec![(name, value_of(value)?)];
            return Ok(SwapRow { assembly, set, ..nothing });
        }
    };
    let (to, assembly) = match rest.rsplit_once('@') {
        Some((to, name)) if component(book, rest).is_err() => (to, Some(assembly(book, name)?)),
        _ => (rest, None),
    };
    let (to, ratio) = match to.rsplit_once('*') {
        Some((name, ratio)) if component(book, to).is_err() => {
            let read = number(ratio.trim(), DecimalSign::Point).ok();
            let ratio = read.filter(|ratio| *ratio > Ratio::ZERO).ok_or_else(|| {
                let problem = Problem::OutOfRange {
                    text: ratio.trim().to_owned(),
                    range: "a number above zero".to_owned(),
                };
                typed_error(problem, None)
            })?;
            (name, ratio)
        }
        _ => (to, Ratio::ONE),
    };
    let to = if to.trim().is_empty() { None } else { Some(component(book, to)?) };
    Ok(SwapRow { from: Some(from), to, ratio, assembly, ..nothing })
}

/// Tells whether formulas may know a name as a dimension: of a plan, or passed by a line.
fn is_dimension(book: &Book, name: &str) -> bool {
    let of_plans = book.plans.iter().flat_map(|plan| plan.values.iter().map(|(known, _)| known));
    let passed =
        book.lines.iter().flat_map(|line| line.further.with.iter().map(|(known, _)| known));
    ["length", "width", "height"].contains(&name)
        || of_plans.chain(passed).any(|known| known == name)
}

fn value_of(text: &str) -> Result<Expression, Diagnostic> {
    let text = text.trim();
    Expression::parse(text, None).map_err(|fault| {
        let problem =
            Problem::Formula { text: text.to_owned(), marker: fault.marker, fault: fault.fault };
        typed_error(problem, fault.hint)
    })
}

fn component(book: &Book, name: &str) -> Result<Component, Diagnostic> {
    let name = name.trim();
    let item =
        || Some(Component::Item(ItemId(position(book.items.iter().map(|it| &it.name), name)?)));
    let assembly = || Some(Component::Assembly(AssemblyId(position(names(book), name)?)));
    item().or_else(assembly).ok_or_else(|| {
        let known = book.items.iter().map(|item| item.name.as_str());
        let hint = nearest(name, known.chain(names(book).map(String::as_str))).map(did_you_mean);
        let what = "item or assembly".to_owned();
        typed_error(Problem::NameUnknown { what, name: name.to_owned() }, hint)
    })
}

fn assembly(book: &Book, name: &str) -> Result<AssemblyId, Diagnostic> {
    let name = name.trim();
    position(names(book), name).map(AssemblyId).ok_or_else(|| {
        let hint = nearest(name, names(book).map(String::as_str)).map(did_you_mean);
        let what = "assembly".to_owned();
        typed_error(Problem::NameUnknown { what, name: name.to_owned() }, hint)
    })
}

fn names(book: &Book) -> impl Iterator<Item = &String> {
    book.assemblies.iter().map(|assembly| &assembly.name)
}

fn position<'a>(mut names: impl Iterator<Item = &'a String>, name: &str) -> Option<u32> {
    let position = names.position(|known| known.eq_ignore_ascii_case(name))?;
    u32::try_from(position).ok()
}

/// Returns an error that has no place, since it was typed.
pub(super) fn typed_error(problem: Problem, hint: Option<String>) -> Diagnostic {
    Diagnostic { hint, ..Diagnostic::placeless(problem) }
}
