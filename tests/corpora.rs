//! Runs what is fuzzed over the corpora of `fuzz/corpus`: seeds, and inputs that once failed.
//!
//! Fuzzing itself needs `cargo fuzz`; `docs/fuzz.md` tells how.

#[expect(unreachable_pub, reason = "the targets are a crate of their own in `fuzz`")]
#[path = "../fuzz/src/lib.rs"]
mod targets;

use std::fs;
use std::path::Path;

/// Runs a target over each file of its corpus, by name.
#[track_caller]
#[expect(clippy::print_stdout, reason = "the name of the file that fails is seen")]
#[expect(clippy::disallowed_methods, reason = "a test reads its corpus")]
fn replay(target: &str, run: fn(&[u8])) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("fuzz/corpus").join(target);
    let files = fs::read_dir(&folder).expect("a target has a corpus");
    let mut paths: Vec<_> = files.map(|file| file.expect("a folder is listed").path()).collect();
    paths.sort();
    assert!(!paths.is_empty(), "{} is empty", folder.display());
    for path in paths {
        // Seen only where the run fails.
        println!("{}", path.display());
        run(&fs::read(&path).expect("a file of the corpus is read"));
    }
}

#[test]
fn measures_of_the_corpus_run() {
    replay("measure", targets::measure::run);
}

#[test]
fn formulas_of_the_corpus_run() {
    replay("formula", targets::formula::run);
}

#[test]
fn csv_files_of_the_corpus_run() {
    replay("csv", targets::csv::run);
}

#[test]
fn workbooks_of_the_corpus_run() {
    replay("workbook", targets::workbook::run);
}

#[test]
fn books_of_the_corpus_run() {
    replay("book", targets::book::run);
}

#[test]
fn nests_of_the_corpus_run() {
    replay("nest", targets::nest::run);
}
