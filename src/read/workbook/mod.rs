//! Reads a workbook of any format, cell by cell.
//!
//! In: bytes. Out: a [`Table`] per worksheet that holds something, hidden ones included. Numbers become their shortest
//! decimal text, formulas their last value, merged cells the value of the first. Blank cells cost nothing wherever they
//! lie: no rectangle is ever filled. Not here: charts, macros, styles other than number formats.

#![expect(
    clippy::unnecessary_box_returns,
    reason = "a Problem is large, so all results here hold it boxed, and so do the functions that make one"
)]

mod compound;
mod number;
mod ods;
mod package;
mod xls;
mod xlsb;
mod xlsx;

use crate::diag::Checked;
use crate::diag::Diagnostic;
use crate::diag::Place;
use crate::diag::Problem;
use crate::read::Limits;
use crate::read::table::Builder;
use crate::read::table::Cell;
use crate::read::table::Table;
use crate::read::workbook::compound::Compound;
use crate::read::workbook::number::Dates;
use crate::read::workbook::number::Meaning;
use crate::read::workbook::package::Package;

/// What the readers of the formats fill.
struct Workbook<'a> {
    file: &'a str,
    limits: Limits,
    tables: Vec<Table>,
    findings: Vec<Diagnostic>,
    has_error: bool,
}

/// A worksheet being read.
struct Sheet {
    builder: Builder,
    dates: Dates,
    /// The row of the last cell, counted from 1; 0 before the first.
    row: u32,
    scratch: String,
}

/// Reads a workbook; its content decides what format it is in, whatever its name says.
///
/// # Errors
/// A file that is no workbook, is protected by a password, is damaged or passes a limit.
pub(super) fn tables(
    file: &str,
    bytes: &[u8],
    limits: &Limits,
) -> Result<Checked<Vec<Table>>, Vec<Diagnostic>> {
    let (tables, findings) = (Vec::new(), Vec::new());
    let mut workbook = Workbook { file, limits: *limits, tables, findings, has_error: false };
    if let Err(problem) = read(&mut workbook, bytes) {
        let place = Place { file: file.to_owned(), ..Place::default() };
        workbook.fail(place, *problem);
    }
    if workbook.has_error {
        Err(workbook.findings)
    } else {
        Ok(Checked { value: workbook.tables, warnings: workbook.findings })
    }
}

fn read(workbook: &mut Workbook<'_>, bytes: &[u8]) -> Result<(), Box<Problem>> {
    if bytes.starts_with(compound::MAGIC) {
        let compound = Compound::open(bytes)?;
        return match compound.stream("EncryptedPackage") {
            Some(_) => Err(unreadable("it is protected by a password")),
            None => xls::read(workbook, &compound),
        };
    }
    if !bytes.starts_with(b"PK") {
        return Err(unreadable(foreign(bytes)));
    }
    let mut package = Package::open(bytes, workbook.limits.unpacked_bytes)?;
    if package.has("xl/workbook.bin") {
        xlsb::read(workbook, &mut package)
    } else if package.has("content.xml") {
        ods::read(workbook, &mut package)
    } else if package.has("xl/workbook.xml") || package.has("_rels/.rels") {
        package.check_size()?;
        xlsx::read(workbook, bytes)
    } else {
        Err(unreadable("it is a zip archive, but holds no workbook"))
    }
}

/// Says what a file is that is no workbook though its name says so.
fn foreign(bytes: &[u8]) -> &'static str {
    let text = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes).trim_ascii_start();
    let begins = |with: &str| {
        text.get(..with.len()).is_some_and(|begin| begin.eq_ignore_ascii_case(with.as_bytes()))
    };
    if bytes.is_empty() {
        "it is empty"
    } else if begins("<html") || begins("<!doctype html") || begins("<table") {
        "it is a web page under the name of a workbook; open it in a spreadsheet and save it as xlsx"
    } else if begins("<?xml") {
        "it is an XML file under the name of a workbook; open it in a spreadsheet and save it as xlsx"
    } else if std::str::from_utf8(bytes).is_ok_and(|text| !text.contains('\0')) {
        "it is text; a CSV file needs a name that ends in .csv"
    } else {
        "it is no workbook of a known format, or damaged"
    }
}

impl Workbook<'_> {
    /// Reads a worksheet; what goes wrong on the way is reported with the row it was last on.
    fn sheet(
        &mut self,
        name: &str,
        dates: Dates,
        fill: impl FnOnce(&mut Sheet) -> Result<(), Box<Problem>>,
    ) {
        let builder = Builder::within(name, self.file, Some(name), &self.limits);
        let mut sheet = Sheet { builder, dates, row: 0, scratch: String::new() };
        if let Err(problem) = fill(&mut sheet) {
            let place = Place {
                file: self.file.to_owned(),
                sheet: Some(name.to_owned()),
                row: (sheet.row > 0).then_some(sheet.row),
                column: None,
            };
            return self.fail(place, *problem);
        }
        if let Some(Checked { value, warnings }) = sheet.builder.finish() {
            self.tables.push(value);
            self.findings.extend(warnings);
        }
    }

    fn fail(&mut self, place: Place, problem: Problem) {
        self.has_error = true;
        self.findings.push(Diagnostic::error(place, problem));
    }
}

impl Sheet {
    /// Takes a cell; row and column count from 0.
    fn cell(&mut self, row: u32, column: u32, cell: Cell<'_>) -> Result<(), Box<Problem>> {
        self.row = row.saturating_add(1);
        self.builder.push(self.row, column as usize, cell)
    }

    /// Takes a number by what its format makes of it; row and column count from 0.
    fn number(
        &mut self,
        row: u32,
        column: u32,
        value: f64,
        meaning: Meaning,
    ) -> Result<(), Box<Problem>> {
        self.row = row.saturating_add(1);
        let cell = number::cell(&mut self.scratch, value, meaning, self.dates);
        self.builder.push(self.row, column as usize, cell)
    }
}

fn unreadable(reason: impl Into<String>) -> Box<Problem> {
    Box::new(Problem::WorkbookUnreadable { reason: reason.into() })
}

/// Returns the text of a spreadsheet error by the code both binary formats use. [MS-XLS] 2.5.10 `BErr`.
fn error_text(code: u8) -> &'static str {
    match code {
        0x00 => "#NULL!",
        0x07 => "#DIV/0!",
        0x0F => "#VALUE!",
        0x17 => "#REF!",
        0x1D => "#NAME?",
        0x24 => "#NUM!",
        0x2A => "#N/A",
        0x2B => "#GETTING_DATA",
        _ => "#ERROR!",
    }
}

#[cfg(test)]
mod tests;
