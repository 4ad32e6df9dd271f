//! Workbooks of XML parts: xlsx and xlsm.

use std::io::Cursor;
use std::panic;
use std::panic::AssertUnwindSafe;

use calamine::DataRef;
use calamine::Reader;
use calamine::SheetType;
use calamine::Xlsx;
use calamine::XlsxError;

use crate::diag::Problem;
use crate::read::table::Cell;
use crate::read::workbook::Sheet;
use crate::read::workbook::Workbook;
use crate::read::workbook::number::Dates;
use crate::read::workbook::number::Meaning;
use crate::read::workbook::number::meaning_of_code;
use crate::read::workbook::unreadable;

/// Reads all worksheets.
pub(super) fn read(workbook: &mut Workbook<'_>, bytes: &[u8]) -> Result<(), Box<Problem>> {
    // The library below panics at some damage, such as cells far beyond every worksheet. What it leaves half done is
    // dropped with the sheet, and a workbook with an error is not used.
    let read = panic::catch_unwind(AssertUnwindSafe(|| read_sheets(workbook, bytes)));
    read.unwrap_or_else(|_| Err(unreadable("its content is damaged")))
}

fn read_sheets(workbook: &mut Workbook<'_>, bytes: &[u8]) -> Result<(), Box<Problem>> {
    let mut source = Xlsx::new(Cursor::new(bytes)).map_err(|error| problem(&error))?;
    let dates = if source.has_1904_epoch() { Dates::From1904 } else { Dates::From1900 };
    let sheets = source.sheets_metadata().to_vec();
    for entry in sheets.iter().filter(|entry| entry.typ == SheetType::WorkSheet) {
        workbook.sheet(&entry.name, dates, |sheet| fill(sheet, &mut source, &entry.name));
    }
    Ok(())
}

fn fill(
    sheet: &mut Sheet,
    source: &mut Xlsx<Cursor<&[u8]>>,
    name: &str,
) -> Result<(), Box<Problem>> {
    let mut reader = source.worksheet_cells_reader(name).map_err(|error| problem(&error))?;
    let meanings: Vec<Meaning> = reader
        .styles()
        .iter()
        .map(|style| {
            style
                .number_format
                .as_ref()
                .map_or(Meaning::Plain, |format| meaning_of_code(&format.format_code))
        })
        .collect();
    while let Some((cell, style)) =
        reader.next_cell_with_style_id().map_err(|error| problem(&error))?
    {
        let (row, column) = cell.get_position();
        let meaning = || match meanings.get(style) {
            Some(&meaning) => meaning,
            None if style == 0 => Meaning::Plain,
            None => Meaning::Unknown,
        };
        match cell.get_value() {
            DataRef::Empty => Ok(()),
            DataRef::Float(value) => sheet.number(row, column, *value, meaning()),
            // Formats of other languages have a number but no code, so the reader knows better.
            DataRef::DateTime(moment) => {
                let meaning = if moment.is_duration() { Meaning::Duration } else { Meaning::Date };
                sheet.number(row, column, moment.as_f64(), meaning)
            }
            DataRef::Int(value) => {
                let (text, percent) = (value.to_string(), meaning().percent());
                sheet.cell(row, column, Cell::Number { text: &text, percent })
            }
            DataRef::SharedString(text) => sheet.cell(row, column, Cell::Text(text)),
            DataRef::Bool(truth) => sheet.cell(row, column, Cell::Truth(*truth)),
            DataRef::DateTimeIso(text) => {
                let day = text.get(..10).and_then(|day| day.parse().ok());
                let cell = day.map_or(Cell::Text(text), |date| Cell::Date { date });
                sheet.cell(row, column, cell)
            }
            DataRef::String(text) | DataRef::DurationIso(text) => {
                sheet.cell(row, column, Cell::Text(text))
            }
            DataRef::Error(error) => sheet.cell(row, column, Cell::Error(&error.to_string())),
        }?;
    }
    Ok(())
}

fn problem(error: &XlsxError) -> Box<Problem> {
    match error {
        XlsxError::Password => unreadable("it is protected by a password"),
        other => unreadable(other.to_string()),
    }
}
