//! The binary as a user meets it: exit code, standard output and standard error.

#![expect(clippy::unwrap_used, reason = "what cannot be had ends the test")]

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::{env, fs};

/// Returns the binary with these arguments, in a folder of its own that holds `files`.
fn cutbill(test: &str, files: &[(&str, &str)], arguments: &[&str]) -> (Command, PathBuf) {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(test);
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).unwrap();
    for (name, text) in files {
        let file = folder.join(name);
        fs::create_dir_all(file.parent().unwrap()).unwrap();
        #[expect(clippy::disallowed_methods, reason = "a test makes its own files")]
        fs::write(file, text).unwrap();
    }
    let mut command = Command::new(env!("CARGO_BIN_EXE_cutbill"));
    command.args(arguments).current_dir(&folder).env_remove("COLUMNS").stdin(Stdio::null());
    (command, folder)
}

/// Runs it and states the exit code, standard output and standard error in one text.
#[track_caller]
fn check(test: &str, files: &[(&str, &str)], arguments: &[&str], expected: &str) {
    let (mut command, _) = cutbill(test, files, arguments);
    let output = command.output().unwrap();
    let shown = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
    let actual = format!(
        "exit {}\n-- out\n{}-- err\n{}",
        output.status.code().unwrap(),
        shown(&output.stdout),
        shown(&output.stderr)
    );
    assert_eq!(actual, expected);
}

#[test]
fn the_version_is_that_of_the_package() {
    let version = env!("CARGO_PKG_VERSION");
    check("version", &[], &["--version"], &format!("exit 0\n-- out\ncutbill {version}\n-- err\n"));
}

#[test]
fn a_book_that_is_not_there_is_not_done() {
    let expected =
        "exit 2\n-- out\n-- err\nerror: fenmark: cannot be read: no such file or folder\n";
    check("no_book", &[], &["check", "fenmark"], expected);
}

#[test]
fn a_folder_without_tables_says_what_it_looked_for() {
    let expected = "exit 2\n-- out\n-- err\n\
        error: fenmark: cannot be read: it holds no table, that is no file that ends in .csv, .tsv or .txt\n  \
        hint: to read the workbook, name it: `fenmark/book.xlsx`\n";
    check("no_tables", &[("fenmark/book.xlsx", "")], &["rollup", "fenmark"], expected);
}

#[test]
fn a_wrong_argument_is_not_done() {
    let expected = "exit 2\n-- out\n-- err\n\
        error: invalid value 'never' for '--on <DATE>': a date is written as `2027-03-15`\n\n\
        For more information, try '--help'.\n";
    check("wrong_argument", &[], &["rollup", "book", "--on", "never"], expected);
}

#[test]
fn an_answer_does_not_replace_a_file_of_its_book() {
    let arguments = ["check", "book", "-o", "book/../book/bill.csv"];
    let (mut command, folder) = cutbill("own_file", &[("book/bill.csv", "parent\n")], &arguments);
    let output = command.output().unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert_eq!(
        String::from_utf8(output.stderr).unwrap(),
        "error: `book/../book/bill.csv` is a file of the book; the answer goes elsewhere\n"
    );
    #[expect(clippy::disallowed_methods, reason = "a test reads its own files")]
    let kept = fs::read_to_string(folder.join("book/bill.csv")).unwrap();
    assert_eq!(kept, "parent\n");
}

#[test]
fn a_reader_that_goes_away_is_no_error() {
    let (mut command, _) = cutbill("closed_pipe", &[], &["rollup", "--help"]);
    let mut child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    drop(child.stdout.take());
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(0));
    assert_eq!(String::from_utf8(output.stderr).unwrap(), "");
}
