//! A workbook (xlsx) that a spreadsheet opens, sums and prints: a sheet per table of a report.
//!
//! In: a [`Report`]. Out: the bytes of a workbook, the same for the same report. First comes a sheet `About` with the
//! heading and a list of the sheets, then one sheet per table, one of layouts drawn where there are any, last `Notes`, if there is anything to note: cautions, what
//! stands below the tables, and what a spreadsheet cannot hold as it stands.
//!
//! A figure is a number only where the spreadsheet keeps all its digits; otherwise it is text. A total is a formula only
//! where it surely comes to our total, to the last digit. No text becomes a formula. The rows of a sheet are a table of the
//! spreadsheet with a name of its own, wherever the titles of its columns allow it.
//!
//! Not here: charts, colors that mean something, or any figure that is not in the report.

mod drawings;
mod figure;
mod names;
mod sheet;
mod text;

use rust_xlsxwriter::{
    DocProperties, ExcelDateTime, Format, FormatAlign, Url, Workbook, Worksheet, XlsxError,
};

use crate::diag::Diagnostic;
use crate::diag::Problem;
use crate::render::report::{Drawing, Report, Table};
use sheet::Remarks;

/// A sheet has at most so many rows; the ones above the table count.
const MOST_ROWS: usize = 1 << 20;
/// A sheet has at most so many columns.
const MOST_COLUMNS: usize = 1 << 14;

/// Letters across a column of words.
const WORDS: u16 = 80;

const ABOUT: &str = "About";
const NOTES: &str = "Notes";
const DRAWINGS: &str = "Drawings";

/// Returns a report as a workbook.
///
/// # Errors
/// A table that is larger than a sheet.
///
/// # Example
/// ```
/// # use cutbill::model::summary;
/// # use cutbill::read::{Memory, read};
/// use cutbill::render::{xlsx, report};
///
/// # let files = Memory::from_iter([
/// #     ("plans.csv", "plan\nSedge\n"),
/// #     ("bill.csv", "parent,component,quantity\nSedge,BOLT,4\n"),
/// #     ("items.csv", "item,form,price,weight\nBOLT,count,0.25,0.1 lb\n"),
/// # ]);
/// # let book = read(&files).unwrap().value;
/// let report = report::check(&book, &summary(&book));
/// let workbook = xlsx::xlsx(&report).unwrap();
/// assert_eq!(workbook[..2], *b"PK");
/// assert_eq!(workbook, xlsx::xlsx(&report).unwrap());
/// ```
pub fn xlsx(report: &Report) -> Result<Vec<u8>, Diagnostic> {
    xlsx_drawn(report, &[])
}

/// Returns a report as a workbook, with layouts drawn on a sheet of their own.
///
/// # Errors
/// A table that is larger than a sheet.
pub fn xlsx_drawn(report: &Report, drawings: &[Drawing]) -> Result<Vec<u8>, Diagnostic> {
    for table in &report.tables {
        let rows = table.rows.len() + table.totals.len() + sheet::HEADER as usize + 1;
        let columns = table.columns.len();
        let sizes = [(rows, MOST_ROWS, "rows"), (columns, MOST_COLUMNS, "columns")];
        if let Some((count, most, what)) = sizes.into_iter().find(|(count, most, _)| count > most) {
            let text = format!(
                "table `{}` comes to {count} {what}, and a sheet of a workbook holds {most}",
                table.title
            );
            return Err(failure(text, Some("CSV has no such limit".to_owned())));
        }
    }
    build(report, drawings)
        .map_err(|error| failure(format!("the workbook cannot be made: {error}"), None))
}

fn failure(text: String, hint: Option<String>) -> Diagnostic {
    Diagnostic { hint, ..Diagnostic::placeless(Problem::Plain { text }) }
}

fn build(report: &Report, drawings: &[Drawing]) -> Result<Vec<u8>, XlsxError> {
    let mut workbook = Workbook::new();
    // The library would take the clock's time; the day that counts is in the heading.
    let made = ExcelDateTime::from_ymd(2000, 1, 1)?;
    workbook.set_properties(&DocProperties::new().set_creation_datetime(&made));
    let tables: Vec<&Table> =
        report.tables.iter().filter(|table| !table.columns.is_empty()).collect();
    let names =
        names::names(tables.iter().map(|table| table.title.as_str()), &[ABOUT, NOTES, DRAWINGS]);
    let source = report.heading.join("; ");
    let front = workbook.add_worksheet();
    front.set_name(ABOUT)?;
    let mut notes = Notes::of(report);
    for (number, (table, name)) in (1..).zip(tables.iter().zip(&names)) {
        let sheet = workbook.add_worksheet();
        sheet.set_name(name)?;
        let remarks = sheet::write(sheet, table, &source, &names::range(name, number))?;
        notes.remark(name, remarks);
    }
    if !drawings.is_empty() {
        drawings::write(workbook.add_worksheet(), drawings)?;
        if drawings.len() > drawings::MOST {
            let line =
                format!("the first {} of {} layouts are drawn", drawings::MOST, drawings.len());
            notes.section("In sheet `Drawings`", std::iter::once(line));
        }
    }
    let has_notes = !notes.0.is_empty();
    if has_notes {
        notes.write(workbook.add_worksheet())?;
    }
    let has = Further { drawings: !drawings.is_empty(), notes: has_notes };
    about(workbook.worksheet_from_name(ABOUT)?, report, &tables, &names, has)?;
    workbook.save_to_buffer()
}

/// Which sheets there are beside those of tables.
#[derive(Clone, Copy)]
struct Further {
    drawings: bool,
    notes: bool,
}

/// Writes the front: the heading, and which sheet holds what.
fn about(
    sheet: &mut Worksheet,
    report: &Report,
    tables: &[&Table],
    names: &[String],
    has: Further,
) -> Result<(), XlsxError> {
    let mut row = 0;
    for line in &report.heading {
        text::put(sheet, (row, 0), line, &Format::new().set_bold())?;
        row += 1;
    }
    row += 1;
    for (column, title) in (0..).zip(["sheet", "holds", "rows"]) {
        sheet.write_string_with_format(row, column, title, &sheet::header(column == 2))?;
    }
    for (table, name) in tables.iter().zip(names) {
        row += 1;
        link(sheet, row, name)?;
        wrapped(sheet, (row, 1), &table.title, &Format::new())?;
        let count = u32::try_from(table.rows.len()).expect("the rows are counted before");
        sheet.write_number(row, 2, count)?;
    }
    if has.drawings {
        row += 1;
        link(sheet, row, DRAWINGS)?;
        sheet.write_string(row, 1, "layouts of sheets, to scale; offcuts are hatched")?;
    }
    if has.notes {
        row += 1;
        link(sheet, row, NOTES)?;
        sheet.write_string(row, 1, "cautions, and what stands below the tables")?;
    }
    for (column, width) in [(0, 34), (1, WORDS), (2, 8)] {
        sheet.set_column_width(column, width)?;
    }
    sheet::print_set_up(sheet);
    Ok(())
}

/// Writes a line of words into a column that is [`WORDS`] wide.
fn wrapped(
    sheet: &mut Worksheet,
    at: (u32, u16),
    line: &str,
    format: &Format,
) -> Result<(), XlsxError> {
    let format = format.clone().set_text_wrap().set_align(FormatAlign::Top);
    text::put(sheet, at, line, &format)?;
    text::heighten(sheet, at.0, text::lines(line, WORDS.into()))
}

fn link(sheet: &mut Worksheet, row: u32, name: &str) -> Result<(), XlsxError> {
    sheet.write_url(row, 0, Url::new(format!("internal:'{name}'!A1")).set_text(name))?;
    Ok(())
}

/// The last sheet: lines, those of a heading kept apart.
struct Notes(Vec<(bool, String)>);

impl Notes {
    fn of(report: &Report) -> Notes {
        let mut notes = Notes(Vec::new());
        notes.section("Notes", report.notes.iter().cloned());
        for table in &report.tables {
            notes.section(&table.title, table.below.iter().cloned());
        }
        notes
    }

    fn section(&mut self, title: &str, lines: impl Iterator<Item = String>) {
        let mut lines = lines.peekable();
        if lines.peek().is_some() {
            self.0.push((true, title.to_owned()));
            self.0.extend(lines.map(|line| (false, line)));
        }
    }

    /// Tells what a sheet holds in another form than the report.
    fn remark(&mut self, sheet: &str, remarks: Remarks) {
        let counted = |count: usize, one: &str, many: &str| match count {
            1 => format!("1 {one} is"),
            count => format!("{count} {many} are"),
        };
        let as_text = remarks.as_text.into_iter().map(|(column, count)| {
            let figures = counted(count, "figure", "figures");
            format!("column `{column}`: {figures} text, having more than the 15 digits a spreadsheet keeps")
        });
        let cut = remarks.cut.into_iter().map(|(column, count)| {
            let texts = counted(count, "text", "texts");
            format!("column `{column}`: {texts} cut, being longer than a cell holds")
        });
        let fixed = remarks.fixed.into_iter().map(|column| {
            format!(
                "column `{column}`: the total is a figure, not a formula, since a spreadsheet would not add it up to the last digit"
            )
        });
        let lines: Vec<String> = as_text.chain(cut).chain(fixed).collect();
        self.section(&format!("In sheet `{sheet}`"), lines.into_iter());
    }

    fn write(&self, sheet: &mut Worksheet) -> Result<(), XlsxError> {
        sheet.set_name(NOTES)?;
        sheet.set_column_width(0, WORDS)?;
        let mut row = 0;
        for (is_title, line) in &self.0 {
            row += u32::from(*is_title && row > 0);
            let format = if *is_title { Format::new().set_bold() } else { Format::new() };
            wrapped(sheet, (row, 0), line, &format)?;
            row += 1;
        }
        sheet::print_set_up(sheet);
        Ok(())
    }
}

#[cfg(test)]
mod tests;
