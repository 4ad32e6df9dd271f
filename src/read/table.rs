//! A table as it stands in a file: cells with their places, without meaning yet.

use jiff::civil::Date;

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
/// All texts lie in one buffer and cells know only where theirs ends, so that a table of a million rows is held once.
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
    /// Whether numbers use a decimal comma (a CSV file parted by `;` whose numbers say so).
    pub has_decimal_comma: bool,
}
