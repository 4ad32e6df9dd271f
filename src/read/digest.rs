//! The digest of a book: SHA-256 over what its tables say.
//!
//! Equal for the same book as CSV and as workbook, whatever the encoding, separators, headers, order of files and of
//! columns. Cells are taken by their meaning as far as the kind of their column tells it: `5 %` and a percent cell of
//! 0.05 are the same, as are `1,250.0` and a number cell of 1250. The order of rows counts. The table `columns` only
//! says how headers are to be understood, so it is left out.

use std::borrow::Cow;
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
use crate::read::numbers::short_whole;
use crate::read::numbers::with_points;
use crate::read::schema::Kind;

/// Bytes that are put together before they are hashed.
const CHUNK: usize = 16 * 1024;

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
                    text.push_str(name);
                    part(&mut text, &meaning(cell, *kind, grid.table.has_decimal_comma));
                }
            }
            if text.len() >= CHUNK {
                hash.update(text.as_bytes());
                text.clear();
            }
        }
        hash.update(text.as_bytes());
        hash.update(b"\n\n");
    }
    let mut digest = String::new();
    for byte in hash.finalize() {
        write!(digest, "{byte:02x}").expect("a string takes every text");
    }
    digest
}

/// Returns the columns in an order of their own: those of the schema, then the others by name; with their names as parts.
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
    let as_part = |(index, name, kind): (usize, String, Kind)| {
        let mut text = String::new();
        part(&mut text, &name);
        (index, text, kind)
    };
    known.chain(extras).map(as_part).collect()
}

/// The length before each text keeps neighbors apart.
fn part(text: &mut String, content: &str) {
    let mut digits = [0_u8; 20];
    let mut first = digits.len();
    let mut left = content.len();
    loop {
        first -= 1;
        digits[first] = b'0' + u8::try_from(left % 10).expect("a digit");
        left /= 10;
        if left == 0 {
            break;
        }
    }
    text.extend(digits[first..].iter().map(|digit| char::from(*digit)));
    text.push(':');
    text.push_str(content);
}

fn meaning(cell: Cell<'_>, kind: Kind, has_decimal_comma: bool) -> Cow<'_, str> {
    let shown = text_of(cell);
    let has_comma = has_decimal_comma && matches!(cell, Cell::Text(_));
    match kind {
        Kind::Text | Kind::Name(_) | Kind::Values | Kind::Condition | Kind::List | Kind::Unit => {
            pointed(shown, has_comma)
        }
        Kind::Flag => flag(&shown).map_or(shown, |flag| flag.to_string().into()),
        Kind::Choice(choices) => {
            let key = squashed(&shown);
            let choice = choices.iter().find(|choice| squashed(choice) == key);
            choice.map_or(Cow::Owned(key), |choice| (*choice).into())
        }
        Kind::Change => match cell {
            Cell::Number { percent: Percent::Yes, text }
                if let Some(share) = number(text, false) =>
            {
                format!("{} %", exact(&(share * Ratio::whole(100)))).into()
            }
            _ => pointed(shown, has_comma),
        },
        Kind::Date | Kind::DateOrUnit => date(&shown).map_or(shown, |date| date.to_string().into()),
        Kind::Percent => {
            let digits = shown.strip_suffix('%').unwrap_or(&shown);
            let value = number(digits, has_comma).map(|value| match cell {
                Cell::Number { percent: Percent::Yes, .. } => value * Ratio::whole(100),
                _ => value,
            });
            value.map_or(shown, |value| value.to_string().into())
        }
        Kind::Number
        | Kind::Whole
        | Kind::LeadTime
        | Kind::Money
        | Kind::Measure(_)
        | Kind::AnyMeasure
        | Kind::Formula(_)
        | Kind::Quantity => {
            // Nearly all are whole numbers that stand as they are printed.
            if is_plain(&shown) {
                return shown;
            }
            match number(&shown, has_comma) {
                Some(value) => value.to_string().into(),
                None => pointed(shown, has_comma),
            }
        }
    }
}

fn pointed(text: Cow<'_, str>, has_comma: bool) -> Cow<'_, str> {
    if has_comma { with_points(&text, true).into_owned().into() } else { text }
}

/// Tells whether a text is a whole number of up to 18 digits as it would be printed.
fn is_plain(text: &str) -> bool {
    short_whole(text).is_some() && (text.len() == 1 || !text.starts_with('0'))
}
