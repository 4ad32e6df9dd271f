//! A table as it stands in a file: cells with their places, without meaning yet.

use std::collections::BTreeMap;

use jiff::civil::Date;

use crate::diag::Checked;
use crate::diag::Diagnostic;
use crate::diag::Place;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::read::Limits;
use crate::read::limits::passed;

/// What is said where the headers seem to stand further down.
pub(super) const FIRST_ROW: &str =
    "the first row that holds anything is taken for the headers; nothing stands above them";

/// Rows of more cells are searched by halving.
const FEW_CELLS: usize = 12;

/// Whether a number cell is formatted as a percent.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Percent {
    /// It is: 0.05 shows as 5 %.
    Yes,
    /// It is not.
    No,
    /// The file does not say.
    Unknown,
}

/// One cell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cell<'a> {
    /// Nothing but spaces.
    Empty,
    /// Text, trimmed. Every cell of a CSV file is text.
    Text(&'a str),
    /// A number of a workbook, by its shortest decimal text with a point.
    Number {
        /// The digits.
        text: &'a str,
        /// Whether it is formatted as a percent.
        percent: Percent,
    },
    /// A date of a workbook.
    Date {
        /// The day.
        date: Date,
    },
    /// A truth of a workbook.
    Truth(bool),
    /// A spreadsheet error, such as `#REF!`.
    Error(&'a str),
}

/// A table of a file, headers apart.
///
/// All texts lie in one buffer and cells know only where theirs ends; empty cells and blank rows take no room. So a
/// table of a million rows is held once, and two cells far apart cost no more than two cells.
#[derive(Clone, Debug, Default)]
pub struct Table {
    /// The table's name as the file or sheet gives it.
    pub name: String,
    /// The file, as the user named it.
    pub file: String,
    /// The sheet, if the file is a workbook.
    pub sheet: Option<String>,
    /// Headers as the user wrote them, trimmed; may be empty.
    pub headers: Vec<String>,
    /// Whether numbers use a decimal comma (a CSV file parted by `;` or tabs whose numbers say so).
    pub has_decimal_comma: bool,
    rows: Vec<Row>,
    columns: Vec<u16>,
    kinds: Vec<Kind>,
    ends: Vec<u32>,
    text: String,
}

/// Builds a [`Table`] from cells given row by row.
///
/// The first row with a cell that is not empty holds the headers.
#[derive(Debug)]
pub struct Builder {
    table: Table,
    header_row: Option<u32>,
    /// Columns without a header that hold something, with the first row where they do.
    strays: BTreeMap<usize, u32>,
    limits: Limits,
}

#[derive(Clone, Copy, Debug)]
struct Row {
    number: u32,
    /// Where its cells end in `columns`, `kinds` and `ends`; they begin where those of the row above end.
    end: u32,
}

#[derive(Clone, Copy, Debug)]
enum Kind {
    Text,
    Number(Percent),
    Date,
    Truth(bool),
    Error,
}

impl Table {
    /// Returns a table of texts as a CSV file gives it, its rows counted from 2 on as they would be below one line of
    /// headers.
    ///
    /// # Panics
    /// If there is nothing in `headers`, or one of the usual [`Limits`] is passed.
    #[must_use]
    pub fn from_rows(
        name: &str,
        file: &str,
        sheet: Option<&str>,
        headers: &[&str],
        rows: &[&[&str]],
    ) -> Table {
        let mut builder = Builder::new(name, file, sheet);
        for (number, row) in (1..).zip(std::iter::once(&headers).chain(rows)) {
            for (column, text) in row.iter().enumerate() {
                builder
                    .push(number, column, Cell::Text(text))
                    .expect("small tables keep all limits");
            }
        }
        builder.finish().expect("there is a header").value
    }

    /// Returns how many rows hold something, headers apart.
    pub fn row_count(&self) -> usize {
        self.rows.len()
    }

    /// Returns how many cells of a row hold something.
    pub fn cell_count(&self, row: usize) -> usize {
        let (start, end) = self.bounds(row);
        end - start
    }

    /// Returns the number of a row, counted from 1 as a spreadsheet shows it; in a CSV file the line it begins on.
    pub fn row_number(&self, row: usize) -> u32 {
        self.rows[row].number
    }

    /// Returns a cell; a column without one is empty.
    pub fn cell(&self, row: usize, column: usize) -> Cell<'_> {
        let (start, end) = self.bounds(row);
        let Ok(column) = u16::try_from(column) else { return Cell::Empty };
        let columns = &self.columns[start..end];
        // Most rows have few cells; looking through them takes less than halving.
        let found = if columns.len() <= FEW_CELLS {
            columns.iter().position(|known| *known == column)
        } else {
            columns.binary_search(&column).ok()
        };
        found.map_or(Cell::Empty, |offset| self.stored(start + offset))
    }

    /// Returns the cells of a row that are not empty, each with the index of its column, from left to right.
    pub fn cells(&self, row: usize) -> impl Iterator<Item = (usize, Cell<'_>)> {
        let (start, end) = self.bounds(row);
        (start..end).map(|index| (usize::from(self.columns[index]), self.stored(index)))
    }

    /// Returns the place of a row, or of a cell if a column is given.
    ///
    /// A column without a header goes by its letters, as in a spreadsheet.
    pub fn place(&self, row: usize, column: Option<usize>) -> Place {
        let column = column.map(|column| self.column_name(column));
        Place { row: Some(self.row_number(row)), column, ..self.whole() }
    }

    /// Returns the place of the table as a whole.
    pub fn whole(&self) -> Place {
        Place { file: self.file.clone(), sheet: self.sheet.clone(), row: None, column: None }
    }

    fn column_name(&self, column: usize) -> String {
        match self.headers.get(column) {
            Some(header) if !header.is_empty() => header.clone(),
            _ => letters(column),
        }
    }

    fn bounds(&self, row: usize) -> (usize, usize) {
        let start = row.checked_sub(1).map_or(0, |above| self.rows[above].end);
        (start as usize, self.rows[row].end as usize)
    }

    fn stored(&self, index: usize) -> Cell<'_> {
        let start = index.checked_sub(1).map_or(0, |before| self.ends[before]);
        let text = &self.text[start as usize..self.ends[index] as usize];
        match self.kinds[index] {
            Kind::Text => Cell::Text(text),
            Kind::Number(percent) => Cell::Number { text, percent },
            Kind::Date => Cell::Date { date: text.parse().expect("it was printed from a date") },
            Kind::Truth(truth) => Cell::Truth(truth),
            Kind::Error => Cell::Error(text),
        }
    }
}

impl Builder {
    /// Returns a builder of a table without rows, within the usual limits.
    #[must_use]
    pub fn new(name: &str, file: &str, sheet: Option<&str>) -> Builder {
        Builder::within(name, file, sheet, &Limits::default())
    }

    /// Returns a builder of a table without rows, within some limits.
    #[must_use]
    pub fn within(name: &str, file: &str, sheet: Option<&str>, limits: &Limits) -> Builder {
        let table = Table {
            name: name.trim().to_owned(),
            file: file.to_owned(),
            sheet: sheet.map(str::to_owned),
            ..Table::default()
        };
        Builder { table, header_row: None, strays: BTreeMap::new(), limits: *limits }
    }

    /// Takes the next cell, trimmed. Rows count from 1, columns from 0; cells come row by row, from left to right.
    ///
    /// # Errors
    /// A limit that is passed, or a cell that stands before one already given.
    #[inline]
    pub fn push(&mut self, row: u32, column: usize, cell: Cell<'_>) -> Result<(), Box<Problem>> {
        let cell = trimmed(cell);
        if cell == Cell::Empty {
            return Ok(());
        }
        if self.header_row.is_none_or(|header_row| header_row == row) {
            self.header_row = Some(row);
            if !self.table.rows.is_empty() {
                return Err(disorder(row).into());
            }
            return self.push_header(column, cell);
        }
        if self.table.headers.get(column).is_none_or(String::is_empty) {
            let first = self.strays.entry(column).or_insert(row);
            *first = row.min(*first);
            return Ok(());
        }
        self.push_cell(row, column, cell)
    }

    /// Returns a builder of rows further down, with the same headers.
    pub(super) fn beside(&self) -> Builder {
        let Table { name, file, sheet, headers, .. } = self.table.clone();
        Builder {
            table: Table { name, file, sheet, headers, ..Table::default() },
            header_row: self.header_row,
            strays: BTreeMap::new(),
            limits: self.limits,
        }
    }

    /// Adds rows that stand further down; nothing is added if a limit is passed.
    pub(super) fn append(&mut self, below: Builder) -> Option<()> {
        let (table, other) = (&mut self.table, below.table);
        let is_within = |own: usize, more: usize, limit: u64| (own + more) as u64 <= limit;
        let fits = is_within(table.rows.len(), other.rows.len(), self.limits.rows)
            && is_within(table.columns.len(), other.columns.len(), self.limits.cells)
            && is_within(table.text.len(), other.text.len(), self.limits.text_bytes);
        if !fits {
            return None;
        }
        let before = u32::try_from(table.text.len()).expect("no limit of texts is higher");
        let first = u32::try_from(table.columns.len()).expect("no limit of cells is higher");
        if table.rows.is_empty() {
            self.table = other;
        } else {
            let rows = other.rows.into_iter().map(|row| Row { end: row.end + first, ..row });
            table.rows.extend(rows);
            table.columns.extend(other.columns);
            table.kinds.extend(other.kinds);
            table.ends.extend(other.ends.into_iter().map(|end| end + before));
            table.text.push_str(&other.text);
        }
        for (column, row) in below.strays {
            let first = self.strays.entry(column).or_insert(row);
            *first = row.min(*first);
        }
        Some(())
    }

    /// Returns how many rows hold something, headers apart.
    pub(super) fn row_count(&self) -> usize {
        self.table.rows.len()
    }

    /// Returns the headers as far as they are known.
    pub fn headers(&self) -> &[String] {
        &self.table.headers
    }

    /// Returns the table, or nothing if no cell held anything.
    #[must_use]
    pub fn finish(self) -> Option<Checked<Table>> {
        self.header_row?;
        let whole = self.table.whole();
        let warnings = self.strays.iter().map(|(&column, &row)| {
            let problem = Problem::ColumnIgnored {
                column: letters(column),
                reason: "it has no header".to_owned(),
            };
            Diagnostic::new(Severity::Warning, Place { row: Some(row), ..whole.clone() }, problem)
        });
        Some(Checked { warnings: warnings.collect(), value: self.table })
    }

    fn push_header(&mut self, column: usize, cell: Cell<'_>) -> Result<(), Box<Problem>> {
        if column as u64 >= self.limits.columns {
            return Err(passed("the number of columns", "columns", self.limits.columns).into());
        }
        let headers = &mut self.table.headers;
        if headers.len() <= column {
            headers.resize(column + 1, String::new());
        }
        let words: Vec<String> = match cell {
            Cell::Text(text) | Cell::Number { text, .. } => {
                text.split_whitespace().map(str::to_owned).collect()
            }
            Cell::Date { date } => vec![date.to_string()],
            Cell::Truth(truth) => vec![truth.to_string()],
            Cell::Error(_) | Cell::Empty => vec![],
        };
        headers[column] = words.join(" ");
        if headers[column].len() as u64 > self.limits.cell_bytes {
            return Err(cell_too_long(&self.limits).into());
        }
        Ok(())
    }

    #[inline]
    fn push_cell(&mut self, row: u32, column: usize, cell: Cell<'_>) -> Result<(), Box<Problem>> {
        let table = &mut self.table;
        let column = u16::try_from(column).expect("no limit of columns is higher");
        let above = table.rows.last().map_or(self.header_row.unwrap_or(0), |last| last.number);
        if row == above {
            if table.columns.last().is_some_and(|&last| last >= column) {
                return Err(disorder(row).into());
            }
        } else if row < above {
            return Err(disorder(row).into());
        } else if table.rows.len() as u64 >= self.limits.rows {
            return Err(passed("the number of rows", "rows", self.limits.rows).into());
        } else {
            let start = table.rows.last().map_or(0, |last| last.end);
            table.rows.push(Row { number: row, end: start });
        }
        if table.columns.len() as u64 >= self.limits.cells {
            return Err(passed("the number of cells", "cells", self.limits.cells).into());
        }
        let limits = &self.limits;
        let kind = match cell {
            Cell::Text(text) => stored_text(&mut table.text, text, Kind::Text, limits)?,
            Cell::Number { text, percent } => {
                stored_text(&mut table.text, text, Kind::Number(percent), limits)?
            }
            Cell::Error(text) => stored_text(&mut table.text, text, Kind::Error, limits)?,
            Cell::Date { date } => {
                stored_text(&mut table.text, &date.to_string(), Kind::Date, limits)?
            }
            Cell::Truth(truth) => Kind::Truth(truth),
            Cell::Empty => return Ok(()),
        };
        let end = u32::try_from(table.text.len()).expect("no limit of texts is higher");
        table.rows.last_mut().expect("a row was opened above").end += 1;
        table.columns.push(column);
        table.kinds.push(kind);
        table.ends.push(end);
        Ok(())
    }
}

/// Returns the letters a spreadsheet gives a column, counted from 0.
pub fn letters(column: usize) -> String {
    let mut letters = Vec::new();
    let mut rest = column + 1;
    while rest > 0 {
        let digit = u8::try_from((rest - 1) % 26).expect("less than 26");
        letters.push(char::from(b'A' + digit));
        rest = (rest - 1) / 26;
    }
    letters.iter().rev().collect()
}

fn stored_text(
    buffer: &mut String,
    text: &str,
    kind: Kind,
    limits: &Limits,
) -> Result<Kind, Box<Problem>> {
    if text.len() as u64 > limits.cell_bytes {
        return Err(cell_too_long(limits).into());
    }
    if (buffer.len() + text.len()) as u64 > limits.text_bytes {
        return Err(
            passed("the size of all texts in bytes", "text_bytes", limits.text_bytes).into()
        );
    }
    buffer.push_str(text);
    Ok(kind)
}

/// Tells of nearly all texts without spaces around them, at a glance, that they have none.
#[inline]
pub(super) fn is_trimmed(text: &str) -> bool {
    let bytes = text.as_bytes();
    [bytes.first(), bytes.last()].into_iter().all(|end| end.is_some_and(u8::is_ascii_graphic))
}

/// Trims spaces and control signs, also the ones without width that pasted texts bring along.
#[inline]
fn trimmed(cell: Cell<'_>) -> Cell<'_> {
    let Cell::Text(text) = cell else {
        return cell;
    };
    let text = if is_trimmed(text) {
        text
    } else {
        text.trim_matches(|letter: char| {
            letter.is_whitespace()
                || letter.is_control()
                || matches!(letter, '\u{200b}' | '\u{feff}')
        })
    };
    if text.is_empty() { Cell::Empty } else { Cell::Text(text) }
}

fn cell_too_long(limits: &Limits) -> Problem {
    passed("the length of a cell in bytes", "cell_bytes", limits.cell_bytes)
}

fn disorder(row: u32) -> Problem {
    Problem::WorkbookUnreadable { reason: format!("the cells of row {row} are out of order") }
}

#[cfg(test)]
pub(in crate::read) mod tests {
    use super::*;

    /// Shows a table for tests: headers, then rows with their numbers. `1,5` marks a decimal comma; numbers begin with `=`
    /// and end with how percent they are, dates stand in brackets, errors and truths behind a mark of their own.
    pub(in crate::read) fn shown(table: &Table) -> String {
        let sign = if table.has_decimal_comma { "1,5: " } else { "" };
        let mut lines = vec![format!("{sign}{}", table.headers.join("|"))];
        for row in 0..table.row_count() {
            let cells = (0..table.headers.len()).map(|column| match table.cell(row, column) {
                Cell::Empty => String::new(),
                Cell::Text(text) => text.escape_debug().to_string(),
                Cell::Number { text, percent: Percent::No } => format!("={text}"),
                Cell::Number { text, percent: Percent::Yes } => format!("={text} %"),
                Cell::Number { text, percent: Percent::Unknown } => format!("={text} ?"),
                Cell::Date { date } => format!("<{date}>"),
                Cell::Truth(truth) => format!("is {truth}"),
                Cell::Error(text) => format!("! {text}"),
            });
            let cells: Vec<String> = cells.collect();
            lines.push(format!("{}: {}", table.row_number(row), cells.join("|")));
        }
        lines.join("\n")
    }

    #[test]
    fn cells_keep_their_kind_and_place() {
        let date = jiff::civil::date(2027, 3, 15);
        let half = Cell::Number { text: "0.5", percent: Percent::Yes };
        let mut builder = Builder::new("bill", "book.xlsx", Some("Bill"));
        for (row, column, cell) in [
            (3, 0, Cell::Text(" parent\n name ")),
            (3, 2, Cell::Number { text: "2027", percent: Percent::No }),
            (3, 3, Cell::Text("when")),
            (7, 0, Cell::Text("\u{a0}DOOR\u{200b}")),
            (7, 1, Cell::Text("\u{a0}")),
            (7, 2, half),
            (9, 0, Cell::Error("#REF!")),
            (9, 3, Cell::Date { date }),
            (10, 2, Cell::Truth(true)),
        ] {
            builder.push(row, column, cell).unwrap();
        }
        let table = builder.finish().unwrap().value;
        assert_eq!(table.headers, ["parent name", "", "2027", "when"]);
        assert_eq!(table.row_count(), 3);
        assert_eq!([0, 1, 2].map(|row| table.row_number(row)), [7, 9, 10]);
        assert_eq!(table.cell(0, 0), Cell::Text("DOOR"));
        assert_eq!(table.cell(0, 1), Cell::Empty);
        assert_eq!(table.cell(0, 2), half);
        assert_eq!(table.cell(0, 99_999), Cell::Empty);
        assert_eq!(
            table.cells(1).collect::<Vec<_>>(),
            [(0, Cell::Error("#REF!")), (3, Cell::Date { date })]
        );
        assert_eq!(table.cell(2, 2), Cell::Truth(true));
        assert_eq!(table.place(1, Some(3)).to_string(), "book.xlsx[Bill]:9: column `when`");
        assert_eq!(table.place(1, Some(1)).to_string(), "book.xlsx[Bill]:9: column `B`");
        assert_eq!(table.place(2, None).to_string(), "book.xlsx[Bill]:10");
        assert_eq!(table.whole().to_string(), "book.xlsx[Bill]");
    }

    #[test]
    fn tables_of_texts_count_rows_from_two() {
        let table =
            Table::from_rows("items", "items.csv", None, &["item", "form"], &[&["A"], &["", "B"]]);
        assert_eq!((table.row_number(0), table.row_number(1)), (2, 3));
        assert_eq!((table.cell(0, 1), table.cell(1, 1)), (Cell::Empty, Cell::Text("B")));
    }

    #[test]
    fn columns_without_a_header_are_named_once() {
        let mut builder = Builder::new("bill", "bill.csv", None);
        for (row, column) in [(1, 0), (1, 2), (2, 1), (4, 27), (5, 27), (5, 1)] {
            builder.push(row, column, Cell::Text("x")).unwrap();
        }
        let checked = builder.finish().unwrap();
        assert_eq!(
            checked.warnings.iter().map(ToString::to_string).collect::<Vec<_>>(),
            [
                "warning: bill.csv:2: column `B` is not read: it has no header",
                "warning: bill.csv:4: column `AB` is not read: it has no header",
            ]
        );
        assert_eq!(checked.value.row_count(), 0);
    }

    #[test]
    fn cells_out_of_order_and_beyond_limits_are_refused() {
        let mut builder = Builder::new("bill", "bill.xlsx", None);
        let cell = Cell::Text("x");
        let refused = |problem: Result<(), Box<Problem>>| problem.unwrap_err().to_string();
        builder.push(1, 0, cell).unwrap();
        assert_eq!(
            refused(builder.push(1, 16_384, cell)),
            "the number of columns is beyond the limit of 16384 (`columns`)"
        );
        builder.push(1, 1, cell).unwrap();
        builder.push(5, 1, cell).unwrap();
        let reason =
            |row| format!("not a readable workbook: the cells of row {row} are out of order");
        assert_eq!(refused(builder.push(5, 0, cell)), reason(5));
        assert_eq!(refused(builder.push(5, 1, cell)), reason(5));
        assert_eq!(refused(builder.push(4, 0, cell)), reason(4));
        assert_eq!(refused(builder.push(1, 2, cell)), reason(1));
        assert_eq!(
            refused(builder.push(6, 0, Cell::Text(&"x".repeat(131_069)))),
            "the length of a cell in bytes is beyond the limit of 131068 (`cell_bytes`)"
        );
    }

    #[test]
    fn letters_are_those_of_a_spreadsheet() {
        for (column, expected) in
            [(0, "A"), (25, "Z"), (26, "AA"), (701, "ZZ"), (702, "AAA"), (16_383, "XFD")]
        {
            assert_eq!(letters(column), expected);
        }
    }
}
