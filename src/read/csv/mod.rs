//! Reads a CSV file, whatever program wrote it.
//!
//! In: bytes. Out: a [`Table`] whose cells are all texts. Encoding, separator and decimal sign are found out; whatever is
//! guessed is said. The first row that is not blank holds the headers; rows go by the line they begin on.

mod dialect;
mod encoding;

use std::io::Read;

use csv::StringRecord;
use rayon::iter::IntoParallelIterator;
use rayon::iter::ParallelIterator;

use crate::diag::Checked;
use crate::diag::Diagnostic;
use crate::diag::Place;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::read::Limits;
use crate::read::csv::dialect::Decimals;
use crate::read::table::Builder;
use crate::read::table::Cell;
use crate::read::table::FIRST_ROW;
use crate::read::table::Table;

/// Stands behind the text as a record of its own. If the last record of the text swallows it, a quote was left open.
const SENTINEL: &[u8] = b"\n\x01\n";

/// What spreadsheets write in place of a value that they cannot work out.
const ERRORS: [&str; 10] = [
    "#NULL!",
    "#DIV/0!",
    "#VALUE!",
    "#REF!",
    "#NAME?",
    "#NUM!",
    "#N/A",
    "#GETTING_DATA",
    "#SPILL!",
    "#CALC!",
];

/// Shorter texts, in bytes, are read on one core.
const FEWEST_BYTES: usize = 500_000;

/// How many rows that are too long are reported before the rest of a file is left alone.
const MAX_LONG_ROWS: usize = 100;

/// Reads a file into a table named `name`; a file without any cell gives none.
///
/// A row with more cells than headers is an error among the findings, and a row of the table without the cells beyond, so
/// that mistakes elsewhere are found in the same run.
///
/// # Errors
/// Bytes that are no text, a quote left open, a limit that is passed; more rows that are too long than others, so that
/// the headers are in doubt.
pub(super) fn table(
    name: &str,
    file: &str,
    bytes: &[u8],
    limits: &Limits,
) -> Result<Checked<Option<Table>>, Vec<Diagnostic>> {
    let whole = Place { file: file.to_owned(), ..Place::default() };
    let decoded = encoding::decode(bytes).map_err(|reason| {
        let problem = Problem::FileUnreadable { reason: reason.to_owned() };
        vec![Diagnostic::error(whole.clone(), problem)]
    })?;
    let mut warnings = Vec::new();
    if let Some(line) = decoded.guessed_at {
        let problem = Problem::EncodingGuessed { encoding: "Windows-1252".to_owned() };
        let place = Place { row: Some(line), ..whole.clone() };
        warnings.push(Diagnostic::new(Severity::Warning, place, problem));
    }
    let mut text = &*decoded.text;
    let mut first_line = 1;
    let separator = match dialect::stated_separator(text) {
        Some((separator, length)) => {
            text = &text[length..];
            first_line = 2;
            separator
        }
        None => dialect::separator(text),
    };
    let read = match rows(name, &whole, text, (first_line, separator), limits) {
        Ok(read) => read,
        Err(errors) => return Err(warnings.into_iter().chain(errors).collect()),
    };
    let Rows { builder, decimals, long, .. } = read;
    if 2 * long.len() > builder.row_count() {
        return Err(warnings.into_iter().chain(long).collect());
    }
    warnings.extend(long);
    let Some(checked) = builder.finish() else {
        return Ok(Checked { value: None, warnings });
    };
    let mut table = checked.value;
    if separator != b',' {
        let (has_comma, said) = decimals.verdict(separator);
        table.has_decimal_comma = has_comma;
        warnings.extend(said.map(|text| {
            Diagnostic::new(Severity::Warning, whole.clone(), Problem::Plain { text })
        }));
    }
    warnings.extend(checked.warnings);
    Ok(Checked { value: Some(table), warnings })
}

/// A part of a text that begins with a record, and the line it begins on.
#[derive(Clone, Copy)]
struct Stretch<'a> {
    text: &'a str,
    first_line: u64,
}

/// What was read of a stretch.
struct Rows {
    builder: Builder,
    decimals: Decimals,
    /// Cells of the headers, once these were read.
    width: Option<usize>,
    /// Errors about rows with more cells than that.
    long: Vec<Diagnostic>,
}

impl Rows {
    /// Returns what is known before a row is read.
    fn new(builder: Builder, width: Option<usize>) -> Rows {
        Rows { builder, decimals: Decimals::default(), width, long: Vec::new() }
    }
}

fn rows(
    name: &str,
    whole: &Place,
    text: &str,
    (first_line, separator): (u64, u8),
    limits: &Limits,
) -> Result<Rows, Vec<Diagnostic>> {
    let builder = || Builder::within(name, &whole.file, None, limits);
    let stretch = Stretch { text, first_line };
    match on_all_cores(whole, stretch, separator, &builder) {
        Some(rows) => Ok(rows),
        None => read(whole, stretch, separator, Rows::new(builder(), None)),
    }
}

/// Reads the stretches of a long text at once; nothing if it is short, or cannot be read, which is told by reading it from its
/// beginning.
///
/// A stretch ends with a line. If no quote is open there, as the sentinel tells, the next one begins with a record.
fn on_all_cores(
    whole: &Place,
    stretch: Stretch<'_>,
    separator: u8,
    builder: &dyn Fn() -> Builder,
) -> Option<Rows> {
    let Stretch { text, first_line } = stretch;
    // A small book is read without starting a thread.
    let most = text.len() / FEWEST_BYTES;
    let count = if most < 2 { 1 } else { most.min(rayon::current_num_threads()) };
    if count < 2 {
        return None;
    }
    let mut reader = dialect::reader(separator).from_reader(text.as_bytes());
    let mut record = StringRecord::new();
    while dialect::is_blank(&record) {
        if !reader.read_record(&mut record).ok()? {
            return None;
        }
    }
    let end = usize::try_from(reader.position().byte()).ok().filter(|end| *end < text.len())?;
    let (first, rest) = text.split_at_checked(end)?;
    let empty = Rows::new(builder(), None);
    let headers = read(whole, Stretch { text: first, first_line }, separator, empty).ok()?;
    let mut line = first_line + lines(first);
    let mut left = rest;
    let mut stretches = Vec::with_capacity(count);
    for remaining in (1..=count).rev() {
        let middle = left.len() / remaining;
        let length = if remaining == 1 {
            left.len()
        } else {
            middle + left.as_bytes()[middle..].iter().position(|byte| *byte == b'\n')? + 1
        };
        let (text, after) = left.split_at_checked(length)?;
        stretches.push(Stretch { text, first_line: line });
        line += lines(text);
        left = after;
    }
    let read: Vec<Option<Rows>> = stretches
        .into_par_iter()
        .map(|stretch| {
            let empty = Rows::new(headers.builder.beside(), headers.width);
            read(whole, stretch, separator, empty).ok()
        })
        .collect();
    let mut all = headers;
    for rows in read {
        let rows = rows?;
        all.builder.append(rows.builder)?;
        all.decimals.append(rows.decimals);
        all.long.extend(rows.long);
    }
    if all.long.len() >= MAX_LONG_ROWS {
        return None;
    }
    Some(all)
}

/// Returns how many lines end in a text.
fn lines(text: &str) -> u64 {
    text.bytes().filter(|byte| *byte == b'\n').count() as u64
}

fn read(
    whole: &Place,
    Stretch { text, first_line }: Stretch<'_>,
    separator: u8,
    Rows { mut builder, mut decimals, width: mut header_width, mut long }: Rows,
) -> Result<Rows, Vec<Diagnostic>> {
    let error =
        |row, problem| Diagnostic::error(Place { row: Some(row), ..whole.clone() }, problem);
    let mut record = StringRecord::new();
    let mut reader = dialect::reader(separator).from_reader(text.as_bytes().chain(SENTINEL));
    loop {
        let row = line_of_next(text, reader.position(), first_line);
        let has_record = reader.read_record(&mut record);
        if !matches!(has_record, Ok(true)) {
            break;
        }
        // The record that ends the text goes no further than the line end before the sentinel.
        let is_behind_text = reader.position().byte() > text.len() as u64 + 1;
        if is_behind_text {
            if record.get(0) != Some("\x01") {
                let reason = "a quote is opened and never closed".to_owned();
                let hint =
                    "a cell that begins with a quote ends with one; inside, each quote is doubled";
                long.push(error(row, Problem::FileUnreadable { reason }).with_hint(hint));
                return Err(long);
            }
            break;
        }
        let headers = match header_width {
            Some(width) => width,
            None if dialect::is_blank(&record) => continue,
            None => *header_width.insert(record.len()),
        };
        if let Some(cells) = cells_beyond(&record, headers) {
            let hint = if headers == 1 {
                FIRST_ROW.to_owned()
            } else {
                format!("a cell that holds the separator {} is put in quotes", shown(separator))
            };
            long.push(error(row, Problem::RowTooLong { cells, headers }).with_hint(hint));
            if long.len() >= MAX_LONG_ROWS {
                return Err(long);
            }
        }
        for (column, cell) in record.iter().take(headers).enumerate() {
            if let Err(problem) = builder.push(row, column, cell_of(cell)) {
                long.push(error(row, *problem));
                return Err(long);
            }
            if separator != b',' {
                decimals.look(row, cell);
            }
        }
    }
    Ok(Rows { builder, decimals, width: header_width, long })
}

/// Returns the line the next record begins on; blank lines before it are passed over as the reader does.
fn line_of_next(text: &str, position: &csv::Position, first_line: u64) -> u32 {
    let start = usize::try_from(position.byte()).unwrap_or(usize::MAX);
    let rest = text.as_bytes().get(start..).unwrap_or(&[]);
    let ends = rest.iter().take_while(|byte| matches!(byte, b'\n' | b'\r'));
    let blank = ends.filter(|&&byte| byte == b'\n').count() as u64;
    u32::try_from(position.line() - 1 + first_line + blank).unwrap_or(u32::MAX)
}

/// Returns how many cells a row has if any of those without a header holds something.
fn cells_beyond(record: &StringRecord, headers: usize) -> Option<usize> {
    if record.len() <= headers {
        return None;
    }
    let last = (headers..record.len()).rev().find(|&index| !record[index].trim().is_empty())?;
    Some(last + 1)
}

/// Returns a cell; what a spreadsheet could not work out is an error here as in a workbook.
fn cell_of(text: &str) -> Cell<'_> {
    // Spaces stay on: the table takes them off.
    if !text.as_bytes().contains(&b'#') {
        return Cell::Text(text);
    }
    let text = text.trim();
    if ERRORS.contains(&text) { Cell::Error(text) } else { Cell::Text(text) }
}

fn shown(separator: u8) -> String {
    match separator {
        b'\t' => "(a tab)".to_owned(),
        other => format!("`{}`", char::from(other)),
    }
}

#[cfg(test)]
mod tests;
