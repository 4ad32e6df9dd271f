//! Writes a book of CSV files as one workbook, a sheet per table.
//!
//!     cargo run --example workbook -- samples/fenmark samples/fenmark.xlsx
//!
//! Cells become what a spreadsheet would make of them: numbers are number cells, days date cells, and what stands in a
//! percent column a percent cell, so that `24 %` and `24` there are 0.24 shown as 24 %. All else stays text: measures,
//! formulas, names. The same files give the same bytes.

use std::error::Error;
use std::ffi::OsStr;
use std::path::PathBuf;

use clap::Parser;
use jiff::civil::Date;
use rust_decimal::Decimal;
use rust_xlsxwriter::{
    DocProperties, ExcelDateTime, Format, FormatAlign, Workbook, Worksheet, XlsxError,
};

#[derive(Parser)]
struct Arguments {
    /// A folder of CSV files, parted by commas.
    book: PathBuf,
    /// The workbook to write.
    workbook: PathBuf,
}

/// The columns that hold percents, apart from those whose names say so.
const PERCENT_COLUMNS: [&str; 4] = ["percent", "take_rate", "target_margin", "share"];

/// The formats of cells.
struct Formats {
    header: Format,
    date: Format,
    percent: Format,
}

fn main() -> Result<(), Box<dyn Error>> {
    let Arguments { book, workbook } = Arguments::parse();
    let mut files: Vec<PathBuf> =
        std::fs::read_dir(book)?.map(|entry| Ok(entry?.path())).collect::<std::io::Result<_>>()?;
    files.retain(|file| file.extension() == Some(OsStr::new("csv")));
    files.sort();
    let formats = Formats {
        header: Format::new().set_bold().set_align(FormatAlign::Left),
        date: Format::new().set_num_format("yyyy-mm-dd"),
        percent: Format::new().set_num_format("0.###%"),
    };
    let mut made = Workbook::new();
    let day = ExcelDateTime::from_ymd(2027, 3, 1)?;
    made.set_properties(&DocProperties::new().set_creation_datetime(&day));
    for file in files {
        let name =
            file.file_stem().and_then(OsStr::to_str).ok_or("a file's name is not Unicode")?;
        let sheet = made.add_worksheet().set_name(name)?;
        let mut reader = csv::ReaderBuilder::new().has_headers(false).from_path(&file)?;
        let mut headers = csv::StringRecord::new();
        for (row, record) in (0..).zip(reader.records()) {
            let record = record?;
            for (column, text) in (0..).zip(&record) {
                let header = headers.get(usize::from(column)).unwrap_or_default();
                write(sheet, row, column, header, text, &formats)?;
            }
            if row == 0 {
                headers = record;
            }
        }
        sheet.set_freeze_panes(1, 0)?;
    }
    made.save(&workbook)?;
    Ok(())
}

/// Writes a cell by what its text is; the first row has no headers above it and stays text.
fn write(
    sheet: &mut Worksheet,
    row: u32,
    column: u16,
    header: &str,
    text: &str,
    formats: &Formats,
) -> Result<(), XlsxError> {
    let is_percent = PERCENT_COLUMNS.contains(&header) || header.ends_with("_percent");
    let digits = if is_percent { text.trim_end_matches([' ', '%']) } else { text };
    // A number in plain digits, of so few that a number cell holds it whole; `007` is a name.
    let number = digits
        .parse::<Decimal>()
        .ok()
        .filter(|number| digits.len() <= 15 && number.to_string() == digits && row > 0);
    if row == 0 {
        sheet.write_string_with_format(row, column, text, &formats.header)?;
    } else if let Ok(day) = text.parse::<Date>() {
        let day = ExcelDateTime::parse_from_str(&day.to_string())?;
        sheet.write_datetime_with_format(row, column, &day, &formats.date)?;
    } else if let Some(number) = number {
        let number = if is_percent { number / Decimal::ONE_HUNDRED } else { number };
        let cell: f64 = number.to_string().parse().expect("a decimal is a float");
        if is_percent {
            sheet.write_number_with_format(row, column, cell, &formats.percent)?;
        } else {
            sheet.write_number(row, column, cell)?;
        }
    } else if !text.is_empty() {
        sheet.write_string(row, column, text)?;
    }
    Ok(())
}
