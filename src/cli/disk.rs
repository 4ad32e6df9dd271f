//! The book on disk: a folder of text files, or a workbook.

use std::fs;
use std::io;
use std::io::Read;
use std::path::{Path, PathBuf};

use cutbill::diag::{Checked, Diagnostic, List, Place, Problem, Severity};
use cutbill::read::Files;

/// Endings of the files of a folder that are tables, in lower case.
const TABLE_ENDINGS: [&str; 3] = ["csv", "tsv", "txt"];

/// Endings of workbooks, in lower case.
const WORKBOOK_ENDINGS: [&str; 5] = ["xlsx", "xlsm", "xlsb", "xls", "ods"];

/// The files of a book; they are read when asked for.
#[derive(Debug)]
pub(super) struct Disk {
    folder: PathBuf,
    names: Vec<String>,
}

impl Disk {
    /// Finds the files of the book at `path`. In a folder these are the text files right in it, sorted by name; all
    /// else there is named in a note.
    pub(super) fn open(path: &Path) -> Result<Checked<Disk>, Vec<Diagnostic>> {
        let metadata =
            fs::metadata(path).map_err(|error| unreadable(path, &in_words(&error), None))?;
        if metadata.is_dir() { Disk::of_folder(path) } else { Disk::of_workbook(path) }
    }

    fn of_folder(folder: &Path) -> Result<Checked<Disk>, Vec<Diagnostic>> {
        let listed = list(folder).map_err(|error| unreadable(folder, &in_words(&error), None))?;
        let (names, others): (Vec<String>, Vec<String>) =
            listed.into_iter().partition(|name| is_table(name));
        if names.is_empty() {
            let reason = "it holds no table, that is no file that ends in .csv, .tsv or .txt";
            let workbook = others.iter().find(|name| has_ending(name, &WORKBOOK_ENDINGS));
            let hint = workbook.map(|name| {
                format!("to read the workbook, name it: `{}`", folder.join(name).display())
            });
            return Err(unreadable(folder, reason, hint));
        }
        let mut warnings = Vec::new();
        if !others.is_empty() {
            let problem = Problem::Plain { text: format!("not read: {}", List(&others)) };
            warnings.push(Diagnostic::new(Severity::Note, place(folder), problem));
        }
        Ok(Checked { value: Disk { folder: folder.to_owned(), names }, warnings })
    }

    fn of_workbook(file: &Path) -> Result<Checked<Disk>, Vec<Diagnostic>> {
        let Some(name) = file.file_name().and_then(|name| name.to_str()) else {
            return Err(unreadable(file, "its name is not Unicode", None));
        };
        let folder = file.parent().filter(|folder| !folder.as_os_str().is_empty());
        let folder = folder.unwrap_or(Path::new("."));
        if has_ending(name, &TABLE_ENDINGS) {
            let reason = "it is one table; a book is a folder of them, or a workbook";
            let hint =
                format!("to read all tables beside it, name the folder: `{}`", folder.display());
            return Err(unreadable(file, reason, Some(hint)));
        }
        let disk = Disk { folder: folder.to_owned(), names: vec![name.to_owned()] };
        Ok(Checked { value: disk, warnings: Vec::new() })
    }

    /// Tells whether a file is one of the book, by whatever path it is named.
    pub(super) fn holds(&self, file: &Path) -> bool {
        let Ok(file) = fs::canonicalize(file) else { return false };
        self.names
            .iter()
            .any(|name| fs::canonicalize(self.folder.join(name)).ok().as_ref() == Some(&file))
    }
}

impl Files for Disk {
    fn names(&self) -> Vec<String> {
        self.names.clone()
    }

    fn bytes(&self, name: &str) -> Result<Vec<u8>, String> {
        self.bytes_within(name, u64::MAX)
    }

    fn bytes_within(&self, name: &str, limit: u64) -> Result<Vec<u8>, String> {
        let mut bytes = Vec::new();
        #[expect(clippy::disallowed_methods, reason = "the binary reads what the library asks for")]
        let file = fs::File::open(self.folder.join(name));
        // A pipe or a device has no size, and a file may grow while it is read.
        file.and_then(|file| file.take(limit.saturating_add(1)).read_to_end(&mut bytes))
            .map_err(|error| in_words(&error))?;
        Ok(bytes)
    }
}

fn unreadable(path: &Path, reason: &str, hint: Option<String>) -> Vec<Diagnostic> {
    let problem = Problem::FileUnreadable { reason: reason.to_owned() };
    vec![Diagnostic { hint, ..Diagnostic::error(place(path), problem) }]
}

fn place(path: &Path) -> Place {
    Place { file: path.display().to_string(), ..Place::default() }
}

/// Says what went wrong with a file as the rest of the messages do: lower case, without the system's numbers.
pub(super) fn in_words(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::NotFound => "no such file or folder".to_owned(),
        io::ErrorKind::PermissionDenied => "permission denied".to_owned(),
        io::ErrorKind::IsADirectory => "it is a folder".to_owned(),
        io::ErrorKind::NotADirectory => "a part of its path is not a folder".to_owned(),
        io::ErrorKind::StorageFull => "no space left".to_owned(),
        io::ErrorKind::QuotaExceeded => "no more space is allowed".to_owned(),
        io::ErrorKind::FileTooLarge => "the file may not be so large".to_owned(),
        io::ErrorKind::DirectoryNotEmpty => "the folder is not empty".to_owned(),
        io::ErrorKind::InvalidFilename => "its name cannot be the name of a file".to_owned(),
        io::ErrorKind::ReadOnlyFilesystem => "the disk cannot be written to".to_owned(),
        _ => error.to_string(),
    }
}

/// Returns the names in a folder, sorted; a folder's name ends in `/`, and bytes that are not Unicode are replaced, which
/// no file of a book has.
fn list(folder: &Path) -> io::Result<Vec<String>> {
    let mut names = Vec::new();
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        names.push(if path.is_dir() { format!("{name}/") } else { name.into_owned() });
    }
    names.sort();
    Ok(names)
}

fn is_table(name: &str) -> bool {
    let is_hidden = name.starts_with(['.', '~']);
    !is_hidden && !name.contains(char::REPLACEMENT_CHARACTER) && has_ending(name, &TABLE_ENDINGS)
}

fn has_ending(name: &str, endings: &[&str]) -> bool {
    name.rsplit_once('.')
        .is_some_and(|(_, ending)| endings.contains(&ending.to_ascii_lowercase().as_str()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::scratch::Scratch;

    /// Opens a folder with these files and shows what is read and what is said.
    #[track_caller]
    fn check(files: &[&str], expected: &str) {
        let scratch = Scratch::new();
        for file in files {
            scratch.write(file, "");
        }
        let (names, findings) = match Disk::open(scratch.path()) {
            Ok(Checked { value, warnings }) => (value.names().join(" "), warnings),
            Err(findings) => (String::new(), findings),
        };
        let shown = findings.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n");
        let shown = shown.replace(&scratch.path().display().to_string(), "BOOK");
        assert_eq!(format!("[{names}] {shown}").trim(), expected);
    }

    #[test]
    fn tables_of_a_folder_come_sorted() {
        check(&["items.csv", "Bill.TSV", "a.txt"], "[Bill.TSV a.txt items.csv]");
    }

    #[test]
    fn all_else_in_a_folder_is_named() {
        check(
            &[
                "bill.csv",
                ".~lock.bill.csv#",
                ".hidden.csv",
                "~$bill.csv",
                "old/bill.csv",
                "readme.md",
                "csv",
            ],
            "[bill.csv] note: BOOK: not read: `.hidden.csv`, `.~lock.bill.csv#`, `csv`, `old/`, `readme.md` and `~$bill.csv`",
        );
    }

    #[test]
    fn a_folder_without_tables_is_an_error() {
        let error = "error: BOOK: cannot be read: it holds no table, that is no file that ends in .csv, .tsv or .txt";
        check(&[], &format!("[] {error}"));
        check(
            &["book.xlsx"],
            &format!("[] {error}\n  hint: to read the workbook, name it: `BOOK/book.xlsx`"),
        );
    }

    #[test]
    fn a_workbook_is_its_one_file() {
        let scratch = Scratch::new();
        scratch.write("book.xlsx", "bytes");
        scratch.write("bill.csv", "");
        let disk = Disk::open(&scratch.path().join("book.xlsx")).unwrap();
        assert_eq!(disk.warnings, []);
        assert_eq!(disk.value.names(), ["book.xlsx"]);
        assert_eq!(disk.value.bytes("book.xlsx"), Ok(b"bytes".to_vec()));
        assert_eq!(disk.value.bytes("bill.xlsx"), Err("no such file or folder".to_owned()));
    }

    #[test]
    fn one_table_is_no_book() {
        let scratch = Scratch::new();
        scratch.write("bill.csv", "");
        let errors = Disk::open(&scratch.path().join("bill.csv")).unwrap_err();
        let shown = errors.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n");
        assert_eq!(
            shown.replace(&scratch.path().display().to_string(), "BOOK"),
            "error: BOOK/bill.csv: cannot be read: it is one table; a book is a folder of them, or a workbook\n  \
             hint: to read all tables beside it, name the folder: `BOOK`"
        );
    }

    #[test]
    fn a_file_of_the_book_is_known_by_any_path() {
        let scratch = Scratch::new();
        scratch.write("bill.csv", "");
        scratch.write("old/bill.csv", "");
        let disk = Disk::open(scratch.path()).unwrap().value;
        assert!(disk.holds(&scratch.path().join("old/../bill.csv")));
        assert!(!disk.holds(&scratch.path().join("old/bill.csv")));
        assert!(!disk.holds(&scratch.path().join("cost.csv")));
    }
}
