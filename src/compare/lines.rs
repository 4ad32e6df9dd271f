use std::collections::BTreeSet;

use crate::compare::pair::{Pair, pair_up};
use crate::compare::{Scope, Side};
use crate::diag::squashed;
use crate::formula::Expression;
use crate::model::BillLine;
use crate::model::Book;
use crate::model::Component;
use crate::model::Effective;
use crate::model::Grain;
use crate::model::LineId;
use crate::model::Parent;
use crate::model::Rows;
use crate::quantity::Length;
use crate::quantity::Ratio;
use crate::quantity::text::exact;

/// A bill line that came, went or changed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LineChange {
    /// The line on the old side, on the new, or on both.
    pub line: Pair<LineId>,
    /// What changed, by column; empty for a line that came or went.
    pub fields: Vec<FieldChange>,
}

/// A cell of a bill line that changed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FieldChange {
    /// The column: its name in the book's contract, or the user's own header.
    pub column: String,
    /// What it said; empty for nothing.
    pub old: String,
    /// What it says; empty for nothing.
    pub new: String,
}

/// A cell: what it says, and what it means where that can be told.
struct Field {
    column: String,
    text: String,
    meaning: String,
}

/// Returns the bill lines that came, went or changed between pairs of sides, all of the same two books, in
/// the order of the bills.
///
/// Lines are matched within parents of the same name: first those that say the same, then by component and use, then by
/// component, each time the first with the first.
pub(super) fn line_changes(pairs: &[(Side<'_>, Side<'_>)], scope: Scope) -> Vec<LineChange> {
    let Some((old, new)) = pairs.first().map(|(old, new)| (old.book, new.book)) else {
        return Vec::new();
    };
    let lines = |side: fn(&(Side<'_>, Side<'_>)) -> BTreeSet<LineId>| -> Vec<LineId> {
        let all: BTreeSet<LineId> = pairs.iter().flat_map(side).collect();
        all.into_iter().collect()
    };
    let (was, is) = match scope {
        Scope::Taken => (lines(|(old, _)| old.lines()), lines(|(_, new)| new.lines())),
        Scope::Written => (lines(|(old, _)| written(*old)), lines(|(_, new)| written(*new))),
    };
    // Of one pair, the lines of one plan are held against those of the other, whatever their names.
    let names_plans = pairs.len() > 1;
    let keys = |book: &Book, lines: &[LineId]| -> Vec<[String; 3]> {
        lines.iter().map(|line| keys(book, *line, names_plans)).collect()
    };
    let changed = pair_up(&keys(old, &was), &keys(new, &is)).into_iter().filter_map(|pair| {
        Some(match pair {
            Pair::Old(line) => LineChange { line: Pair::Old(was[line]), fields: Vec::new() },
            Pair::New(line) => LineChange { line: Pair::New(is[line]), fields: Vec::new() },
            Pair::Both(one, other) => {
                let fields =
                    changes(&fields(old, old.line(was[one])), &fields(new, new.line(is[other])));
                let line = Pair::Both(was[one], is[other]);
                (!fields.is_empty()).then_some(LineChange { line, fields })?
            }
        })
    });
    let mut changes: Vec<LineChange> = changed.collect();
    changes.sort_by_key(|change| change.line.on_new().or(change.line.on_old()));
    changes
}

/// Returns every line that a plan could take, whatever its options and the day.
fn written(side: Side<'_>) -> BTreeSet<LineId> {
    let plan = side.build().plan;
    let options = (0..).map(crate::model::OptionId).zip(&side.book.options);
    let mut open = vec![Parent::Plan(plan)];
    open.extend(
        options.filter(|(_, option)| option.is_for(plan)).map(|(id, _)| Parent::Option(id)),
    );
    let mut seen: BTreeSet<Parent> = open.iter().copied().collect();
    let mut lines = BTreeSet::new();
    while let Some(parent) = open.pop() {
        for line in side.book.lines_of(parent) {
            lines.insert(*line);
            if let Component::Assembly(assembly) = side.book.line(*line).component {
                let child = Parent::Assembly(assembly);
                if seen.insert(child) {
                    open.push(child);
                }
            }
        }
    }
    lines
}

/// Returns what a line is matched by: all it says, its component and use, its component; each within its parent.
fn keys(book: &Book, line: LineId, names_plans: bool) -> [String; 3] {
    let row = book.line(line);
    let name = squashed(book.parent_name(row.parent));
    let parent = match row.parent {
        Parent::Plan(_) if names_plans => format!("plan {name}"),
        Parent::Plan(_) => "plan".to_owned(),
        Parent::Assembly(_) => format!("assembly {name}"),
        Parent::Option(_) => format!("option {name}"),
    };
    let component = squashed(book.component_name(row.component));
    let mut all = format!("{parent}\n{component}");
    for field in fields(book, row) {
        all.push('\n');
        all.push_str(&field.column);
        all.push('\t');
        all.push_str(&field.meaning);
    }
    let usage = row.usage.name();
    [all, format!("{parent}\n{component}\n{usage}"), format!("{parent}\n{component}")]
}

/// Returns the cells that differ; a column that only one side has stands against nothing.
fn changes(old: &[Field], new: &[Field]) -> Vec<FieldChange> {
    let find = |fields: &'_ [Field], column: &str| -> Option<usize> {
        fields.iter().position(|field| field.column == column)
    };
    let of_old = old.iter().filter_map(|was| {
        let is = find(new, &was.column).map(|position| &new[position]);
        let is_same = is.is_some_and(|is| is.meaning == was.meaning);
        (!is_same).then(|| FieldChange {
            column: was.column.clone(),
            old: was.text.clone(),
            new: is.map_or_else(String::new, |is| is.text.clone()),
        })
    });
    let of_new = new.iter().filter(|is| find(old, &is.column).is_none()).map(|is| FieldChange {
        column: is.column.clone(),
        old: String::new(),
        new: is.text.clone(),
    });
    of_old.chain(of_new).collect()
}

/// Returns the cells of a line that say something, in the order of the columns; parent and component are left out.
fn fields(book: &Book, line: &BillLine) -> Vec<Field> {
    let mut fields = Vec::new();
    let mut add = |column: &str, text: String, meaning: String| {
        if !text.is_empty() {
            fields.push(Field { column: column.to_owned(), text, meaning });
        }
    };
    let mut expression = |column: &str, expression: Option<&Expression>| {
        if let Some(expression) = expression {
            let text = expression.text().trim();
            let text = if text.is_empty() { "1" } else { text };
            // `28'` and `336 in` say the same.
            let meaning = expression
                .as_constant()
                .map_or_else(|| text.to_owned(), |constant| format!("{constant:?}"));
            add(column, text.to_owned(), meaning);
        }
    };
    expression("quantity", Some(&line.quantity));
    for (column, value) in [
        ("length", &line.length),
        ("width", &line.width),
        ("height", &line.height),
        ("cutout", &line.further.cutout),
        ("when", &line.when),
        ("x", &line.further.x),
        ("y", &line.further.y),
        ("z", &line.further.z),
        ("travel", &line.further.travel),
        ("span", &line.further.span),
    ] {
        expression(column, value.as_ref());
    }
    for (name, value) in &line.further.with {
        expression(&format!("with {name}"), Some(value));
    }
    let mut plain = |column: &str, text: String| add(column, text.clone(), text);
    plain("use", line.usage.name().to_owned());
    plain("rows", rows_name(line.rows).to_owned());
    if line.further.gap != Length::ZERO {
        let unit = &book.settings.length_unit;
        let count = line.further.gap.to_ratio().checked_div(&unit.factor).unwrap_or(Ratio::ZERO);
        plain("gap", format!("{} {}", exact(&count), unit.name));
    }
    plain("grain", line.grain.map_or("", grain_name).to_owned());
    if !line.further.scrap.is_zero() {
        plain("scrap_percent", exact(&(&line.further.scrap * &Ratio::whole(100))));
    }
    plain("offset_days", line.further.offset_days.as_ref().map_or_else(String::new, exact));
    plain("effective_from", line.further.from.map_or_else(String::new, effective_text));
    plain("effective_to", line.further.to.map_or_else(String::new, effective_text));
    plain("note", line.further.note.trim().to_owned());
    for attribute in &line.further.attributes {
        plain(&attribute.name, attribute.value.trim().to_owned());
    }
    fields
}

const fn rows_name(rows: Rows) -> &'static str {
    match rows {
        Rows::Cheaper => "",
        Rows::Length => "length",
        Rows::Width => "width",
    }
}

const fn grain_name(grain: Grain) -> &'static str {
    match grain {
        Grain::None => "none",
        Grain::Length => "length",
        Grain::Width => "width",
    }
}

fn effective_text(effective: Effective) -> String {
    match effective {
        Effective::Date(date) => date.to_string(),
        Effective::Unit(unit) => format!("#{unit}"),
    }
}
