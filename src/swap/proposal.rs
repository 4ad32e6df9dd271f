use crate::diag::Diagnostic;
use crate::diag::Distinct;
use crate::diag::Place;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::model::Book;
use crate::model::Component;
use crate::model::Form;
use crate::model::LineId;
use crate::model::Parent;
use crate::model::RowRef;
use crate::model::SwapRow;
use crate::model::Usage;
use crate::quantity::Ratio;
use crate::swap::typed::typed_error;

/// A swap: rows that act together.
#[derive(Clone, Debug)]
pub struct Proposal {
    /// Its name, or what was typed.
    pub name: String,
    /// Its rows, in their order.
    pub rows: Vec<SwapRow>,
    /// Whether all its rows are decided.
    pub is_approved: bool,
    /// Whether it was typed and stands in no table.
    pub is_typed: bool,
}

/// Proposals are equal if they come from the same rows of one book, or were typed alike.
impl PartialEq for Proposal {
    fn eq(&self, other: &Proposal) -> bool {
        let rows = |proposal: &Proposal| -> Vec<RowRef> {
            proposal.rows.iter().map(|row| row.row).collect()
        };
        self.name == other.name && rows(self) == rows(other)
    }
}

impl Eq for Proposal {}

impl Proposal {
    /// Returns where its first row stands, unless it was typed.
    pub(super) fn place(&self, book: &Book, column: Option<&str>) -> Option<Place> {
        let row = self.rows.first().filter(|_| !self.is_typed)?;
        Some(book.place(row.row, column))
    }
}

/// Returns the swaps of the book's table, in the order of their first rows.
#[must_use]
pub fn of_table(book: &Book) -> Vec<Proposal> {
    let mut found: Vec<Proposal> = Vec::new();
    for row in &book.swaps {
        match found.iter_mut().find(|known| known.name.eq_ignore_ascii_case(&row.swap)) {
            Some(known) => {
                known.rows.push(row.clone());
                known.is_approved &= row.is_approved;
            }
            None => found.push(Proposal {
                name: row.swap.clone(),
                rows: vec![row.clone()],
                is_approved: row.is_approved,
                is_typed: false,
            }),
        }
    }
    found
}

/// Parts proposals that can be meant from the faults of the others: findings of those of the table, errors of those typed.
pub(super) fn sound(
    book: &Book,
    proposals: Vec<Proposal>,
    findings: &mut Distinct,
) -> (Vec<Proposal>, Vec<Diagnostic>) {
    let mut errors = Vec::new();
    let mut sound = Vec::new();
    for proposal in proposals {
        let faults: Vec<(&SwapRow, Fault)> = proposal
            .rows
            .iter()
            .flat_map(|row| faults(book, row).into_iter().map(move |fault| (row, fault)))
            .collect();
        if faults.is_empty() {
            sound.push(proposal);
            continue;
        }
        for (row, Fault { column, problem, hint }) in faults {
            let hint = hint.map(str::to_owned);
            if proposal.is_typed {
                errors.push(typed_error(problem, hint));
            } else {
                let place = book.place(row.row, Some(column));
                findings
                    .insert(Diagnostic { hint, ..Diagnostic::new(Severity::Gap, place, problem) });
            }
        }
    }
    (sound, errors)
}

/// What is wrong with a row, and in which column.
struct Fault {
    column: &'static str,
    problem: Problem,
    hint: Option<&'static str>,
}

/// Returns why a row cannot be meant.
fn faults(book: &Book, row: &SwapRow) -> Vec<Fault> {
    let mut found = Vec::new();
    let name = |component: Component| book.component_name(component).to_owned();
    match (row.from, row.to) {
        (Some(from), Some(to)) if from == to => {
            if row.ratio == Ratio::ONE {
                let problem = Problem::SwapToItself { component: name(from) };
                found.push(Fault { column: "to", problem, hint: None });
            }
        }
        (Some(from), Some(to)) => {
            let unfit = book.acted_on(row).into_iter().find(|line| !fits(book, *line, from, to));
            found.extend(unfit.map(|line| Fault {
                column: "to",
                problem: Problem::SwapUnfit {
                    from: with_form(book, from),
                    to: with_form(book, to),
                    line: book.place(book.line(line).row, None).to_string(),
                },
                hint: None,
            }));
        }
        (None, Some(to)) => {
            for (column, is_missing) in
                [("parent", row.parent.is_none()), ("quantity", row.quantity.is_none())]
            {
                if is_missing {
                    let column_name = column.to_owned();
                    let problem =
                        Problem::AdditionUnclear { component: name(to), column: column_name };
                    found.push(Fault { column, problem, hint: None });
                }
            }
        }
        (_, None) => {}
    }
    let is_of_plan = !matches!(row.parent, Some(Parent::Assembly(_))) && row.assembly.is_none();
    let formulas = row.set.iter().filter(|(_, value)| value.as_constant().is_none());
    found.extend(formulas.filter(|_| is_of_plan).map(|(_, value)| Fault {
        column: "set",
        problem: Problem::SetUnclear { text: value.text().to_owned() },
        hint: Some("name the assembly that it is passed to as `parent`"),
    }));
    found
}

/// Tells whether one component can take the place of another in a line: work only that of work, goods that are laid out by
/// area or length that of any such, all others that of their own kind.
fn fits(book: &Book, line: LineId, from: Component, to: Component) -> bool {
    let (Component::Item(from), Component::Item(to)) = (from, to) else {
        let is_labor = |component: Component| match component {
            Component::Item(item) => book.item(item).form == Form::Labor,
            Component::Assembly(_) => false,
        };
        return !is_labor(from) && !is_labor(to);
    };
    let (from, to) = (book.item(from), book.item(to));
    let kind = |form: Form| match form {
        Form::Sheet | Form::Roll => 0,
        Form::Linear => 1,
        Form::Count | Form::Bulk => 2,
        Form::Labor => 3,
    };
    if (from.form == Form::Labor) != (to.form == Form::Labor) {
        return false;
    }
    match book.line(line).usage {
        Usage::Cover | Usage::Run | Usage::Fill => true,
        Usage::Count | Usage::Piece | Usage::Opening => {
            let is_measured = !from.is_nested();
            kind(from.form) == kind(to.form)
                && (!is_measured || from.unit.dimension == to.unit.dimension)
        }
    }
}

fn with_form(book: &Book, component: Component) -> String {
    match component {
        Component::Item(item) => {
            let item = book.item(item);
            match item.form {
                Form::Bulk | Form::Labor => {
                    format!("{} `{}` by the {}", item.form.name(), item.name, item.unit.name)
                }
                form => format!("{} `{}`", form.name(), item.name),
            }
        }
        Component::Assembly(_) => format!("assembly `{}`", book.component_name(component)),
    }
}
