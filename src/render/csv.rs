//! CSV: the first table of a report, with those like it; plain figures, quoted where needed.

use crate::render::report::Report;

/// Returns the first table of a report, and the rows of further tables with the same columns, as CSV (RFC 4180, line
/// feeds). Totals are left out: they are not rows.
///
/// A cell that a spreadsheet would take for a formula is led by an apostrophe: text of the book never becomes one.
#[must_use]
pub fn csv(report: &Report) -> String {
    let Some(table) = report.tables.first() else { return String::new() };
    let mut writer = ::csv::WriterBuilder::new().from_writer(Vec::new());
    let written = "writing to memory cannot fail";
    writer.write_record(table.columns.iter().map(|column| column.title.as_str())).expect(written);
    let alike = report.tables.iter().filter(|other| other.columns == table.columns);
    for row in alike.flat_map(|table| &table.rows) {
        let cells = row.iter().zip(&table.columns).map(|(cell, column)| {
            let is_formula =
                !column.is_number && cell.plain.starts_with(['=', '+', '-', '@', '\t', '\r']);
            if is_formula && cell.plain != "-" {
                format!("'{}", cell.plain)
            } else {
                cell.plain.clone()
            }
        });
        writer.write_record(cells).expect(written);
    }
    String::from_utf8(writer.into_inner().expect(written)).expect("all cells are UTF-8")
}
