//! The digest of a book: SHA-256 over what its tables say.
//!
//! Equal for the same book as CSV and as workbook, whatever the encoding, separators, headers, order of files and of
//! columns. Cells are taken by their meaning as far as the kind of their column tells it: `5 %` and a percent cell of
//! 0.05 are the same, as are `1,250.0` and a number cell of 1250. The order of rows counts. The table `columns` only
//! says how headers are to be understood, so it is left out.

use std::fmt::Write;

use sha2::Digest;
use sha2::Sha256;

use crate::diag::squashed;
use crate::model::flag;
use crate::quantity::Ratio;
use crate::quantity::text::exact;
use crate::read::Cell;
use crate::read::Percent;
use crate::read::cells::text_of;
use crate::read::columns::Grid;
use crate::read::columns::Grids;
use crate::read::numbers::date;
use crate::read::numbers::number;
use crate::read::numbers::with_points;
use crate::read::schema::Kind;

/// Returns the digest in hexadecimal.
pub(super) fn digest(grids: &Grids) -> String {
    let mut hash = Sha256::new();
    for grid in grids.list.iter().filter(|grid| grid.schema.name != "columns") {
        let columns = columns(grid);
        let mut text = String::new();
        part(&mut text, grid.schema.name);
        for row in 0..grid.table.row_count() {
            text.push('\n');
            for (index, name, kind) in &columns {
                let cell = grid.table.cell(row, *index);
                if cell != Cell::Empty {
                    part(&mut text, name);
                    part(&mut text, &meaning(cell, *kind, grid.table.has_decimal_comma));
                }
            }
            hash.update(text.as_bytes());
            text.clear();
        }
        hash.update(b"\n\n");
    }
    let mut digest = String::new();
    for byte in hash.finalize() {
        write!(digest, "{byte:02x}").expect("a string takes every text");
    }
    digest
}

/// Returns the columns in an order of their own: those of the schema, then the others by name.
fn columns(grid: &Grid) -> Vec<(usize, String, Kind)> {
    let known = grid.present().map(|(at, index)| {
        let column = grid.column(at);
        (index, column.name.to_owned(), column.kind)
    });
    let mut extras: Vec<(usize, String, Kind)> = grid
        .extras
        .iter()
        .map(|(index, name)| (*index, squashed(name), Kind::AnyMeasure))
        .collect();
    extras.sort_by(|a, b| a.1.cmp(&b.1));
    known.chain(extras).collect()
}

/// The length before each text keeps neighbors apart.
fn part(text: &mut String, content: &str) {
    write!(text, "{}:{content}", content.len()).expect("a string takes every text");
}

fn meaning(cell: Cell, kind: Kind, has_decimal_comma: bool) -> String {
    let shown = text_of(cell);
    let has_comma = has_decimal_comma && matches!(cell, Cell::Text(_));
    match kind {
        Kind::Text | Kind::Name(_) | Kind::Values | Kind::Condition | Kind::List | Kind::Unit => {
            with_points(&shown, has_comma).into_owned()
        }
        Kind::Flag => flag(&shown).map_or_else(|| shown.into_owned(), |flag| flag.to_string()),
        Kind::Choice(choices) => {
            let key = squashed(&shown);
            let choice = choices.iter().find(|choice| squashed(choice) == key);
            choice.map_or(key, |choice| (*choice).to_owned())
        }
        Kind::Change => match cell {
            Cell::Number { percent: Percent::Yes, text }
                if let Some(share) = number(text, false) =>
            {
                format!("{} %", exact(&(share * Ratio::whole(100))))
            }
            _ => with_points(&shown, has_comma).into_owned(),
        },
        Kind::Date | Kind::DateOrUnit => {
            date(&shown).map_or_else(|| shown.clone().into_owned(), |date| date.to_string())
        }
        Kind::Percent => {
            let digits = shown.strip_suffix('%').unwrap_or(&shown);
            let value = number(digits, has_comma).map(|value| match cell {
                Cell::Number { percent: Percent::Yes, .. } => value * Ratio::whole(100),
                _ => value,
            });
            value.map_or_else(|| shown.clone().into_owned(), |value| value.to_string())
        }
        Kind::Number
        | Kind::Whole
        | Kind::LeadTime
        | Kind::Money
        | Kind::Measure(_)
        | Kind::AnyMeasure
        | Kind::Formula(_)
        | Kind::Quantity => match number(&shown, has_comma) {
            Some(value) => value.to_string(),
            None => with_points(&shown, has_comma).into_owned(),
        },
    }
}
