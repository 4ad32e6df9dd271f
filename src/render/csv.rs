//! CSV: the first table of a report, with those like it; plain figures, quoted where needed.

use crate::render::report::Report;
use crate::render::shown;

/// Returns the first table of a report, and the rows of further tables with the same columns, as CSV (RFC 4180, line
/// feeds). Totals are left out: they are not rows.
///
/// A text that a spreadsheet would take for a formula is led by an apostrophe, so that text of the book never becomes
/// one: see [`shown::is_like_formula`]. A plain number stays as it is.
///
/// # Example
/// ```
/// # use cutbill::model::summary;
/// # use cutbill::read::{Memory, read};
/// use cutbill::render::{csv, report};
///
/// # let files = Memory::from_iter([
/// #     ("plans.csv", "plan\nSedge\n"),
/// #     ("bill.csv", "parent,component,quantity\nSedge,BOLT,4\n"),
/// #     ("items.csv", "item,form,price,weight\nBOLT,count,0.25,0.1 lb\n"),
/// # ]);
/// # let book = read(&files).unwrap().value;
/// let report = report::check(&book, &summary(&book));
/// assert!(csv::csv(&report).starts_with("what,count,names\nplans,1,\n"));
/// ```
#[must_use]
pub fn csv(report: &Report) -> String {
    let Some(table) = report.tables.first() else { return String::new() };
    let mut writer = ::csv::WriterBuilder::new().from_writer(Vec::new());
    let written = "writing to memory cannot fail";
    writer.write_record(table.columns.iter().map(|column| safe(&column.title))).expect(written);
    let alike = report.tables.iter().filter(|other| other.columns == table.columns);
    for row in alike.flat_map(|table| &table.rows) {
        writer.write_record(row.iter().map(|cell| safe(&cell.plain))).expect(written);
    }
    String::from_utf8(writer.into_inner().expect(written)).expect("all cells are UTF-8")
}

fn safe(text: &str) -> String {
    if shown::is_like_formula(text) { format!("'{text}") } else { text.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::render::report::{Cell, Column, Showing, Table};

    #[track_caller]
    fn check(titles: [&str; 2], rows: &[[&str; 2]], expected: &str) {
        let column = |title: &str, is_number| Column {
            title: title.to_owned(),
            is_number,
            showing: Showing::Always,
            is_summed: false,
        };
        let cell = |text: &str| Cell { shown: String::new(), plain: text.to_owned() };
        let table = Table {
            columns: vec![column(titles[0], false), column(titles[1], true)],
            rows: rows.iter().map(|row| row.map(cell).to_vec()).collect(),
            totals: vec![["total", "9"].map(cell).to_vec()],
            ..Table::default()
        };
        assert_eq!(csv(&Report { tables: vec![table], ..Report::default() }), expected);
    }

    #[test]
    fn text_never_becomes_a_formula_and_numbers_stay() {
        check(
            ["=item", "cost"],
            &[
                ["=1+1", "-12.5"],
                ["+A1", "0"],
                ["-B2*3", "-0.0001"],
                ["@SUM(A1)", "no price"],
                ["\tx", ""],
                ["-12.5", "1"],
                ["-", "2"],
                ["a=b", "3"],
            ],
            "'=item,cost\n'=1+1,-12.5\n'+A1,0\n'-B2*3,-0.0001\n'@SUM(A1),no price\n'\tx,\n-12.5,1\n-,2\na=b,3\n",
        );
    }

    #[test]
    fn cells_are_quoted_where_needed() {
        check(
            ["item, or \"part\"", "cost"],
            &[["two\nlines", "1"], ["=\"x\",y", "2"]],
            "\"item, or \"\"part\"\"\",cost\n\"two\nlines\",1\n\"'=\"\"x\"\",y\",2\n",
        );
    }
}
