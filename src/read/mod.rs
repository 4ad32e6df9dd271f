//! Reads a book: bytes of CSV files or of a workbook in, a valid [`Book`] out.
//!
//! [`tables`](fn@tables) turns bytes into [`Table`]s of cells with places; what the cells mean is decided after that, by
//! the schema. All mistakes are collected and come back in file order.

pub mod table;

mod book;
mod cells;
mod columns;
mod csv;
mod digest;
mod findings;
mod lead;
mod limits;
mod lumber;
mod names;
mod numbers;
mod rates;
mod reader;
mod schema;

mod workbook;

use std::collections::{BTreeMap, BTreeSet};

use crate::diag::Checked;
use crate::diag::Diagnostic;
use crate::diag::Place;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::model::Book;

pub use limits::Limits;
pub use table::{Builder, Cell, Percent, Table};

/// Answers with the bytes of files, so that the library itself does no I/O.
pub trait Files {
    /// Returns the names of the files of the book, in a fixed order; for a workbook its one name.
    fn names(&self) -> Vec<String>;

    /// Returns the content of a file.
    ///
    /// # Errors
    /// The reason in words, such as `permission denied`.
    fn bytes(&self, name: &str) -> Result<Vec<u8>, String>;

    /// Returns the content of a file, or no more than one byte beyond `limit` of one that is larger.
    ///
    /// # Errors
    /// As [`Files::bytes`].
    fn bytes_within(&self, name: &str, limit: u64) -> Result<Vec<u8>, String> {
        let mut bytes = self.bytes(name)?;
        bytes.truncate(usize::try_from(limit).unwrap_or(usize::MAX).saturating_add(1));
        Ok(bytes)
    }
}

/// Files held in memory, by name.
#[derive(Clone, Debug, Default)]
pub struct Memory(pub BTreeMap<String, Vec<u8>>);

/// What a file is, by its name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    Csv,
    Workbook,
    /// Nothing to be read, and nobody would think so: a README, a lock file, expected output.
    Aside,
    Other,
}

/// Reads a book within the usual [`Limits`].
///
/// # Errors
/// Every finding, in file order, if one of them is an error.
///
/// # Example
/// ```
/// use cutbill::read::{Memory, read};
///
/// let mut files = Memory::from_iter([
///     ("plans.csv", "plan\nSedge\n"),
///     ("bill.csv", "parent,component,quantity\nSedge,BOLT,4\n"),
///     ("items.csv", "item,form,price,weight\nBOLT,count,0.25,0.1 lb\n"),
/// ]);
/// assert_eq!(read(&files).unwrap().value.lines.len(), 1);
///
/// // A mistake has its place, and often a way out.
/// files.0.insert("bill.csv".to_owned(), b"parent,component\nSedge,BOLD\n".to_vec());
/// let mistakes = read(&files).unwrap_err();
/// assert_eq!(
///     mistakes.last().unwrap().to_string(),
///     "error: bill.csv:2: column `component`: no item or assembly named `BOLD`\n  hint: did you mean `BOLT`?"
/// );
/// ```
pub fn read(files: &dyn Files) -> Result<Checked<Book>, Vec<Diagnostic>> {
    read_within(files, &Limits::default())
}

/// Reads a book within some limits.
///
/// # Errors
/// As [`read`]; a limit that is passed is an error as well.
pub fn read_within(files: &dyn Files, limits: &Limits) -> Result<Checked<Book>, Vec<Diagnostic>> {
    let draft = draft(files, limits);
    match draft.value {
        Some(value) if !has_errors(&draft.warnings) => {
            Ok(Checked { value, warnings: draft.warnings })
        }
        _ => Err(draft.warnings),
    }
}

/// Reads what can be read of a book, for finding further mistakes in it: where a finding is an error, the book lacks
/// the rows that could not be read. There is no book if its tables cannot be read at all.
pub fn draft(files: &dyn Files, limits: &Limits) -> Checked<Option<Book>> {
    match tables_within(files, limits) {
        Ok(Checked { value: tables, mut warnings }) => {
            let book = book::book(&tables, limits);
            // Of a row whose cells are in doubt nothing more is said.
            let errors = warnings.iter().filter(|finding| finding.severity == Severity::Error);
            let rows: BTreeSet<Option<Place>> = errors.map(Diagnostic::row).collect();
            let is_clear = |finding: &Diagnostic| !rows.contains(&finding.row());
            warnings.extend(book.warnings.into_iter().filter(is_clear));
            Checked { value: Some(book.value), warnings }
        }
        Err(warnings) => Checked { value: None, warnings },
    }
}

fn has_errors(findings: &[Diagnostic]) -> bool {
    findings.iter().any(|finding| finding.severity == Severity::Error)
}

/// Reads all tables of a book: a folder of CSV files, or one workbook.
///
/// Tables come in the order of the files or sheets. Two may have the same name.
///
/// # Errors
/// Every error found, among the findings of lesser weight, in file order.
pub fn tables(files: &dyn Files) -> Result<Checked<Vec<Table>>, Vec<Diagnostic>> {
    let tables = tables_within(files, &Limits::default())?;
    if has_errors(&tables.warnings) { Err(tables.warnings) } else { Ok(tables) }
}

/// Reads all tables; where only rows are faulty, with errors among the findings.
fn tables_within(
    files: &dyn Files,
    limits: &Limits,
) -> Result<Checked<Vec<Table>>, Vec<Diagnostic>> {
    let names = files.names();
    let of_kind = |kind| names.iter().filter(move |name| kind_of(name) == kind);
    let book_kind = match (of_kind(Kind::Csv).count(), of_kind(Kind::Workbook).count()) {
        (0, 0) => {
            return Err(vec![whole_book(
                "no CSV file and no workbook (xlsx, xlsm, xlsb, xls, ods) here",
            )]);
        }
        (0, 1) => Kind::Workbook,
        (0, count) => {
            return Err(vec![whole_book(&format!(
                "{count} workbooks here, but a book is one workbook or a folder of CSV files"
            ))]);
        }
        _ => Kind::Csv,
    };
    let mut tables = Vec::new();
    let mut findings = Vec::new();
    let mut is_whole = true;
    for name in &names {
        let kind = kind_of(name);
        if kind == book_kind {
            match read_file(files, name, kind, limits) {
                Ok(Checked { value, warnings }) => {
                    tables.extend(value);
                    findings.extend(warnings);
                }
                Err(errors) => {
                    findings.extend(errors);
                    is_whole = false;
                }
            }
        } else if let Some(finding) = left_out(name, kind) {
            findings.push(finding);
        }
    }
    if is_whole { Ok(Checked { value: tables, warnings: findings }) } else { Err(findings) }
}

fn read_file(
    files: &dyn Files,
    name: &str,
    kind: Kind,
    limits: &Limits,
) -> Result<Checked<Vec<Table>>, Vec<Diagnostic>> {
    let bytes = files.bytes_within(name, limits.file_bytes).map_err(|reason| {
        vec![Diagnostic::error(whole_file(name), Problem::FileUnreadable { reason })]
    })?;
    if bytes.len() as u64 > limits.file_bytes {
        let problem = limits::passed("the size in bytes", "file_bytes", limits.file_bytes);
        return Err(vec![Diagnostic::error(whole_file(name), problem)]);
    }
    if kind == Kind::Workbook {
        return workbook::tables(name, &bytes, limits);
    }
    let Checked { value, mut warnings } = csv::table(stem(name), name, &bytes, limits)?;
    if value.is_none() {
        let problem = Problem::Plain { text: "holds no cells".to_owned() };
        warnings.push(Diagnostic::new(Severity::Note, whole_file(name), problem));
    }
    Ok(Checked { value: value.into_iter().collect(), warnings })
}

fn left_out(name: &str, kind: Kind) -> Option<Diagnostic> {
    let (severity, text) = match kind {
        Kind::Workbook => (Severity::Warning, "a workbook beside CSV files; it is not read"),
        Kind::Other => (Severity::Note, "no CSV file; it is not read"),
        Kind::Csv | Kind::Aside => return None,
    };
    let problem = Problem::Plain { text: text.to_owned() };
    Some(Diagnostic::new(severity, whole_file(name), problem))
}

fn kind_of(name: &str) -> Kind {
    let lower = name.to_ascii_lowercase();
    let mut parts = lower.rsplit(['/', '\\']);
    let last = parts.next().unwrap_or("");
    let is_output = parts.any(|folder| folder == "expected");
    // A spreadsheet program that has `book.xlsx` open keeps `~$book.xlsx` or `.~lock.book.xlsx#` beside it.
    let is_hidden = lower
        .split(['/', '\\'])
        .any(|part| part.starts_with(['.', '~']) && !matches!(part, "." | ".."));
    let is_prose = ["readme", "license", "changelog"].contains(&stem(last));
    if is_output || is_hidden || is_prose {
        return Kind::Aside;
    }
    match last.rsplit_once('.').map_or("", |(_, extension)| extension) {
        "csv" | "tsv" | "txt" => Kind::Csv,
        "xlsx" | "xlsm" | "xlsb" | "xls" | "ods" => Kind::Workbook,
        _ => Kind::Other,
    }
}

/// Returns the name of a file without folder and extension.
fn stem(name: &str) -> &str {
    let last = name.rsplit(['/', '\\']).next().unwrap_or(name);
    last.rsplit_once('.').map_or(last, |(stem, _)| stem)
}

fn whole_file(name: &str) -> Place {
    Place { file: name.to_owned(), ..Place::default() }
}

fn whole_book(text: &str) -> Diagnostic {
    let problem = Problem::Plain { text: text.to_owned() };
    Diagnostic::placeless(problem)
}

impl Files for Memory {
    fn names(&self) -> Vec<String> {
        self.0.keys().cloned().collect()
    }

    fn bytes(&self, name: &str) -> Result<Vec<u8>, String> {
        self.0.get(name).cloned().ok_or_else(|| "no such file".to_owned())
    }
}

impl<N: Into<String>, B: Into<Vec<u8>>> FromIterator<(N, B)> for Memory {
    fn from_iter<I: IntoIterator<Item = (N, B)>>(files: I) -> Memory {
        Memory(files.into_iter().map(|(name, bytes)| (name.into(), bytes.into())).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(files: &[(&str, &str)], expected_tables: &[&str], expected_findings: &[&str]) {
        let files: Memory = files.iter().map(|&(name, text)| (name, text)).collect();
        let (tables, findings) = match tables(&files) {
            Ok(Checked { value, warnings }) => (value, warnings),
            Err(errors) => (Vec::new(), errors),
        };
        let names = tables.iter().map(|table| format!("{} of {}", table.name, table.whole()));
        assert_eq!(names.collect::<Vec<_>>(), expected_tables);
        let findings = findings.iter().map(ToString::to_string);
        assert_eq!(findings.collect::<Vec<_>>(), expected_findings);
    }

    #[test]
    fn a_folder_gives_a_table_per_csv_file() {
        check(
            &[
                (".git/config.txt", "x"),
                ("README.txt", "All about it."),
                ("bill.CSV", "parent,component\nA,B\n"),
                ("book.xlsx", ""),
                ("expected/rollup.csv", "x"),
                ("items.tsv", "item\tform\n"),
                ("plans.txt", ""),
                ("sketch.pdf", "%PDF"),
                ("sub/bill.csv", "parent\n"),
                ("~$book.xlsx", ""),
            ],
            &["bill of bill.CSV", "items of items.tsv", "bill of sub/bill.csv"],
            &[
                "warning: book.xlsx: a workbook beside CSV files; it is not read",
                "note: plans.txt: holds no cells",
                "note: sketch.pdf: no CSV file; it is not read",
            ],
        );
    }

    #[test]
    fn errors_of_all_files_come_in_file_order() {
        check(
            &[("a.csv", "a\n1,2\n"), ("b.csv", "b"), ("c.csv", "PK\x03\x04")],
            &[],
            &[
                "error: a.csv:2: 2 cells under 1 header\n  \
                 hint: the first row that holds anything is taken for the headers; nothing stands above them",
                "error: c.csv: cannot be read: it is a workbook or another zip archive, not a CSV file",
            ],
        );
    }

    #[test]
    fn a_book_is_one_workbook_or_a_folder() {
        check(&[], &[], &["error: no CSV file and no workbook (xlsx, xlsm, xlsb, xls, ods) here"]);
        check(
            &[("a.xlsx", ""), ("b.ods", "")],
            &[],
            &["error: 2 workbooks here, but a book is one workbook or a folder of CSV files"],
        );
        check(
            &[("a.xlsx", "item,price\n"), ("notes.md", "")],
            &[],
            &[
                "error: a.xlsx: not a readable workbook: it is text; a CSV file needs a name that ends in .csv",
                "note: notes.md: no CSV file; it is not read",
            ],
        );
    }

    #[test]
    fn files_that_cannot_be_read_say_why() {
        struct Locked;
        impl Files for Locked {
            fn names(&self) -> Vec<String> {
                vec!["bill.csv".to_owned()]
            }
            fn bytes(&self, _name: &str) -> Result<Vec<u8>, String> {
                Err("permission denied".to_owned())
            }
        }
        let errors = tables(&Locked).unwrap_err();
        assert_eq!(errors[0].to_string(), "error: bill.csv: cannot be read: permission denied");
        assert_eq!(Memory::default().bytes("a.csv").unwrap_err(), "no such file");
    }
}
