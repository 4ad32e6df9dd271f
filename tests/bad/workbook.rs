//! Makes the workbooks of wrong books.

use rust_xlsxwriter::{ExcelDateTime, Format, Formula, Workbook, Worksheet};

use crate::case::Case;

/// Tells whether a file of a case is a workbook.
pub(crate) fn is_workbook(name: &str) -> bool {
    name.rsplit_once('.').is_some_and(|(_, ending)| ending == "xlsx")
}

/// Returns a workbook with the tables of the base, each a sheet, and those of the case in their place.
///
/// A sheet is headed `[name]`, or `[name hidden]`. A line is a row; `|` parts cells. A cell is text, or `=2.5` for a number, `=5 %`
/// for a percent cell, `=2027-03-15` for a date cell, `=yes` for a truth, `=#REF!` for an error. `merge A2:B3 text` merges.
/// `no name` leaves a sheet of the base out.
pub(crate) fn bytes(base: &Case, text: &str) -> Vec<u8> {
    let mut sheets: Vec<(String, Vec<Vec<String>>, Vec<String>)> = Vec::new();
    for file in &base.files {
        let rows = file.text.iter().flat_map(|text| text.lines());
        let rows = rows.map(|line| line.split(',').map(str::to_owned).collect()).collect();
        sheets.push((file.name.trim_end_matches(".csv").to_owned(), rows, Vec::new()));
    }
    let mut own: Vec<(String, Vec<Vec<String>>, Vec<String>)> = Vec::new();
    for line in text.lines() {
        if let Some(name) = line.strip_prefix('[').and_then(|line| line.strip_suffix(']')) {
            let plain = name.trim_end_matches(" hidden");
            sheets.retain(|(known, _, _)| !known.eq_ignore_ascii_case(plain));
            own.push((name.to_owned(), Vec::new(), Vec::new()));
        } else if let Some(name) = line.strip_prefix("no ") {
            sheets.retain(|(known, _, _)| known != name);
        } else if let Some(merged) = line.strip_prefix("merge ") {
            own.last_mut().unwrap().2.push(merged.to_owned());
        } else {
            let cells = line.split('|').map(|cell| cell.trim().to_owned());
            own.last_mut().unwrap().1.push(cells.collect());
        }
    }
    let mut workbook = Workbook::new();
    for (name, rows, merged) in sheets.iter().chain(&own) {
        let sheet = workbook.add_worksheet();
        sheet.set_name(name.trim_end_matches(" hidden")).unwrap();
        sheet.set_hidden(name.ends_with(" hidden"));
        for (row, cells) in (0..).zip(rows) {
            for (column, cell) in (0..).zip(cells) {
                write(sheet, row, column, cell);
            }
        }
        for merged in merged {
            merge(sheet, merged);
        }
    }
    workbook.save_to_buffer().unwrap()
}

fn write(sheet: &mut Worksheet, row: u32, column: u16, cell: &str) {
    let Some(value) = cell.strip_prefix('=') else {
        if !cell.is_empty() {
            sheet.write_string(row, column, cell).unwrap();
        }
        return;
    };
    if value.starts_with('#') {
        let formula = Formula::new("=A1").set_result(value);
        sheet.write_formula(row, column, formula).unwrap();
    } else if let Some(percent) = value.strip_suffix('%') {
        let percent: f64 = percent.trim().parse().unwrap();
        let format = Format::new().set_num_format("0.0%");
        #[expect(clippy::float_arithmetic, reason = "a workbook holds floats")]
        sheet.write_number_with_format(row, column, percent / 100.0, &format).unwrap();
    } else if let Ok(number) = value.parse::<f64>() {
        sheet.write_number(row, column, number).unwrap();
    } else if let Ok(date) = ExcelDateTime::parse_from_str(value) {
        let format = Format::new().set_num_format("yyyy-mm-dd");
        sheet.write_datetime_with_format(row, column, date, &format).unwrap();
    } else {
        sheet.write_boolean(row, column, value == "yes").unwrap();
    }
}

fn merge(sheet: &mut Worksheet, merged: &str) {
    let (range, text) = merged.split_once(' ').unwrap();
    let (from, to) = range.split_once(':').unwrap();
    let place = |cell: &str| {
        let column = u16::from(cell.as_bytes()[0] - b'A');
        let row: u32 = cell[1..].parse().unwrap();
        (row - 1, column)
    };
    let ((row, column), (last_row, last_column)) = (place(from), place(to));
    sheet.merge_range(row, column, last_row, last_column, text, &Format::new()).unwrap();
}
