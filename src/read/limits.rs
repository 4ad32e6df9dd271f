//! How much is read: bounds that no plant's book comes near, so that a broken or hostile file ends in an error and not in
//! a machine without memory.

use crate::diag::Diagnostic;
use crate::diag::Problem;

/// The most that is read. Each bound can be raised; `docs/limits.md` tells what each of them costs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limits {
    /// Bytes of one file as it lies on disk.
    pub file_bytes: u64,
    /// Bytes that all parts of a workbook unpack to.
    pub unpacked_bytes: u64,
    /// Rows of a table, blank ones apart.
    pub rows: u64,
    /// Columns of a table; as many as a worksheet has, and never more than 65,535.
    pub columns: u64,
    /// Cells of a table that hold something.
    pub cells: u64,
    /// Bytes of one cell.
    pub cell_bytes: u64,
    /// Bytes of all texts of a table, never more than 4,294,967,295.
    pub text_bytes: u64,
    /// Times that a row which holds something is repeated by a count.
    pub repeated_rows: u64,
    /// Findings of each severity that are kept; the rest is counted.
    pub findings: u64,
}

/// Columns are kept as numbers of 16 bits.
const MOST_COLUMNS: u64 = u16::MAX as u64;
/// Ends of texts are kept as numbers of 32 bits, as are rows and cells.
const MOST_COUNTED: u64 = u32::MAX as u64;

impl Default for Limits {
    fn default() -> Limits {
        Limits {
            file_bytes: 1 << 30,
            unpacked_bytes: 1 << 30,
            rows: 5_000_000,
            columns: 16_384,
            cells: 100_000_000,
            // 32,767 characters, the most a worksheet cell holds, of four bytes each.
            cell_bytes: 131_068,
            text_bytes: 1 << 30,
            repeated_rows: 10_000,
            findings: 10_000,
        }
    }
}

impl Limits {
    /// Returns the names of all limits, in the order of the fields.
    #[must_use]
    pub fn names() -> [&'static str; 9] {
        let mut limits = Limits::default();
        limits.fields().map(|(name, _, _)| name)
    }

    /// Sets a limit by the name of its field. Tells whether there is such a limit, and whether it may be so high.
    ///
    /// # Errors
    /// A name that is no limit, or zero, or more than can be counted.
    pub fn set(&mut self, name: &str, value: u64) -> Result<(), Diagnostic> {
        let Some((_, field, most)) =
            self.fields().into_iter().find(|(known, _, _)| *known == name.trim())
        else {
            let problem = Problem::NameUnknown { what: "limit".to_owned(), name: name.to_owned() };
            let hint = format!("there are {}", Limits::names().join(", "));
            return Err(Diagnostic::placeless(problem).with_hint(hint));
        };
        if value == 0 || value > most {
            let (text, range) = (value.to_string(), format!("from 1 to {most}"));
            return Err(Diagnostic::placeless(Problem::OutOfRange { text, range }));
        }
        *field = value;
        Ok(())
    }

    /// Returns each limit with its name and how high it may be.
    fn fields(&mut self) -> [(&'static str, &mut u64, u64); 9] {
        [
            ("file_bytes", &mut self.file_bytes, u64::MAX),
            ("unpacked_bytes", &mut self.unpacked_bytes, u64::MAX),
            ("rows", &mut self.rows, MOST_COUNTED),
            ("columns", &mut self.columns, MOST_COLUMNS),
            ("cells", &mut self.cells, MOST_COUNTED),
            ("cell_bytes", &mut self.cell_bytes, MOST_COUNTED),
            ("text_bytes", &mut self.text_bytes, MOST_COUNTED),
            ("repeated_rows", &mut self.repeated_rows, MOST_COUNTED),
            ("findings", &mut self.findings, u64::MAX),
        ]
    }
}

/// Returns the problem that something passes the limit of this name.
pub(super) fn passed(what: &str, name: &str, limit: u64) -> Problem {
    Problem::LimitExceeded {
        what: what.to_owned(),
        limit: limit.to_string(),
        name: Some(name.to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn limits_are_set_by_name() {
        let mut limits = Limits::default();
        limits.set("rows", 7).unwrap();
        limits.set(" text_bytes ", 9).unwrap();
        assert_eq!(limits, Limits { rows: 7, text_bytes: 9, ..Limits::default() });
        assert_eq!(Limits::names()[..3], ["file_bytes", "unpacked_bytes", "rows"]);
        let refused =
            |name: &str, value| Limits::default().set(name, value).unwrap_err().to_string();
        assert_eq!(refused("columns", 70_000), "error: `70000` is out of range (from 1 to 65535)");
        assert_eq!(refused("cells", 0), "error: `0` is out of range (from 1 to 4294967295)");
        assert_eq!(
            refused("colums", 5),
            "error: no limit named `colums`\n  hint: there are file_bytes, unpacked_bytes, rows, columns, cells, \
             cell_bytes, text_bytes, repeated_rows, findings"
        );
    }
}
