//! Runs the binary from the root of the tree, and compares with files there.

use std::path::Path;
use std::process::{Command, Stdio};
use std::{env, fs};

/// What a run left.
pub(crate) struct Ran {
    pub(crate) code: i32,
    pub(crate) out: String,
    pub(crate) err: String,
}

/// Runs the binary.
pub(crate) fn run(arguments: &[&str]) -> Ran {
    let output = Command::new(env!("CARGO_BIN_EXE_cutbill"))
        .args(arguments)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .env_remove("COLUMNS")
        .stdin(Stdio::null())
        .output()
        .unwrap();
    Ran {
        code: output.status.code().unwrap(),
        out: String::from_utf8(output.stdout).unwrap(),
        err: String::from_utf8(output.stderr).unwrap(),
    }
}

/// Asks a sample book, which must answer; whatever nests does so for one unit and takes the first good answer.
pub(crate) fn answer(book: &str, arguments: &[&str]) -> String {
    let (verb, rest) = arguments.split_first().unwrap();
    let book = format!("samples/{book}");
    let mut all = vec![*verb, &book];
    all.extend(rest);
    if matches!(*verb, "nest" | "rollup" | "price" | "compare" | "swap") {
        all.extend(["--lot", "1", "--effort", "1"]);
    }
    if *verb == "orders" {
        all.extend(["--effort", "1"]);
    }
    let Ran { code, out, err } = run(&all);
    assert_eq!(code, 0, "{}\n{err}", all.join(" "));
    out
}

/// Compares a text with a file of the tree, or rewrites the file if `UPDATE` is set.
#[track_caller]
#[expect(
    clippy::disallowed_methods,
    reason = "a test reads the tree it tests, and rewrites it when asked"
)]
pub(crate) fn expect(file: &str, text: &str) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(file);
    if env::var("UPDATE").is_ok() {
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, text).unwrap();
        return;
    }
    let expected = fs::read_to_string(&path).unwrap_or_default();
    let line = expected.lines().zip(text.lines()).position(|(one, other)| one != other);
    let line = line.unwrap_or_else(|| expected.lines().count().min(text.lines().count()));
    assert!(
        expected == text,
        "{file} differs from line {} on\nexpected: {}\nprinted:  {}",
        line + 1,
        expected.lines().nth(line).unwrap_or("(nothing)"),
        text.lines().nth(line).unwrap_or("(nothing)")
    );
}
