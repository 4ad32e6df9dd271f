//! Wrong books, each with everything that is said about it.
//!
//! The cases stand in `books/*.txt`, a file for each table or subject; `books/README.md` tells how one is written. All are
//! read and asked through the library, without the binary. `UPDATE=1 cargo test --test bad` writes what is said into the
//! files; look at the difference before it is kept.

#![expect(clippy::unwrap_used, reason = "what cannot be had ends the test")]

mod ask;
mod case;
mod workbook;

use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::{env, fs};

use cutbill::diag::Diagnostic;

use case::{Case, Suite};

/// Variants that no book can cause, with the test that reaches each.
const ELSEWHERE: &[(&str, &str)] = &[
    ("BuiltAhead", "of a day in the shop: tests/cli/shop.rs"),
    ("DayMissing", "of a day in the shop: tests/cli/shop.rs"),
    ("LayoutsAbove", "of a day in the shop: tests/cli/shop.rs"),
    ("LimitExceeded", "tests/hostile: more than a case holds"),
    ("MoreFindings", "tests/hostile: more than a case holds"),
    (
        "NestWrong",
        "a defect of the program, so no book may cause it; `nest::check` has its own tests",
    ),
    ("NestsVerified", "an argument: tests/cli/shop.rs"),
    ("NothingToCut", "of a day in the shop: tests/cli/shop.rs"),
    ("OptionUnknown", "an argument: tests/cli.rs"),
    ("OptionsAssumed", "of a day in the shop: tests/cli/shop.rs"),
    (
        "PercentUnclear",
        "tests/hostile: a workbook that lacks its number formats, which must be made by hand",
    ),
    ("PlanUnknown", "an argument: tests/cli.rs"),
    ("ScheduleMissing", "of a day in the shop: tests/cli/shop.rs"),
];

fn folder() -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/bad/books")
}

/// Returns all suites by the names of their files, with the texts as they stand.
fn suites() -> BTreeMap<String, Suite> {
    let entries = fs::read_dir(folder()).unwrap();
    let files = entries.map(|entry| entry.unwrap().path());
    let files = files.filter(|file| file.extension().is_some_and(|ending| ending == "txt"));
    files
        .map(|file| {
            let name = file.file_name().unwrap().to_str().unwrap().to_owned();
            #[expect(clippy::disallowed_methods, reason = "a test reads its own files")]
            let text = fs::read_to_string(&file).unwrap();
            let suite = Suite::parse(&text).unwrap_or_else(|fault| panic!("{name}: {fault}"));
            (name, suite)
        })
        .collect()
}

/// Returns what is said about a case.
fn findings(base: &Case, case: &Case) -> Vec<Diagnostic> {
    let asked = catch_unwind(AssertUnwindSafe(|| ask::ask(base, case)));
    asked.unwrap_or_else(|_| panic!("`{}` ends in a panic", case.name))
}

fn shown(findings: &[Diagnostic]) -> String {
    findings.iter().map(|finding| format!("{finding}\n")).collect::<Vec<String>>().concat()
}

#[test]
#[expect(clippy::disallowed_methods, reason = "`UPDATE` is for the one who runs the test")]
fn every_wrong_book_is_told_so() {
    let mut suites = suites();
    let base = suites["base.txt"].cases[0].clone();
    let is_updated = env::var("UPDATE").is_ok();
    let mut differences = String::new();
    for (name, suite) in &mut suites {
        for case in &mut suite.cases {
            let said = shown(&findings(&base, case));
            if said != case.expected {
                differences.push_str(&format!(
                    "{name}: {}\n--- expected\n{}--- said\n{said}\n",
                    case.name, case.expected
                ));
                case.expected = said;
            }
        }
        if is_updated {
            fs::write(folder().join(name), suite.to_string()).unwrap();
        }
    }
    assert!(is_updated || differences.is_empty(), "\n{differences}");
}

#[test]
fn every_problem_there_is_comes_up() {
    let suites = suites();
    let base = &suites["base.txt"].cases[0];
    let mut reached: BTreeMap<String, usize> = BTreeMap::new();
    for case in suites.values().flat_map(|suite| &suite.cases) {
        for finding in findings(base, case) {
            let shown = format!("{:?}", finding.problem);
            let end = shown.find(|letter: char| !letter.is_alphanumeric()).unwrap_or(shown.len());
            *reached.entry(shown[..end].to_owned()).or_default() += 1;
        }
    }
    let elsewhere = |variant: &str| ELSEWHERE.iter().any(|(name, _)| *name == variant);
    let variants = variants();
    let missed: Vec<&String> = variants
        .iter()
        .filter(|variant| !reached.contains_key(*variant) && !elsewhere(variant))
        .collect();
    assert!(missed.is_empty(), "no case comes to {missed:?}");
    let idle: Vec<&str> = ELSEWHERE
        .iter()
        .map(|(name, _)| *name)
        .filter(|name| reached.contains_key(*name) || !variants.iter().any(|it| it == name))
        .collect();
    assert!(idle.is_empty(), "{idle:?} need not be listed");
}

/// Returns the variants of `Problem`, read from where they are declared.
fn variants() -> Vec<String> {
    let source = include_str!("../../src/diag.rs");
    let (_, rest) = source.split_once("pub enum Problem {").unwrap();
    let (body, _) = rest.split_once("\n}\n").unwrap();
    let lines = body.lines().filter_map(|line| line.strip_prefix("    "));
    let variants = lines.filter(|line| line.starts_with(|first: char| first.is_ascii_uppercase()));
    variants.map(|line| line.split([' ', ',']).next().unwrap().to_owned()).collect()
}

#[test]
fn no_two_cases_have_one_name() {
    let suites = suites();
    let mut seen: BTreeMap<&str, &str> = BTreeMap::new();
    for (file, suite) in &suites {
        for case in &suite.cases {
            let first = seen.insert(&case.name, file);
            assert_eq!(first, None, "`{}` stands in {file} again", case.name);
        }
    }
}

#[test]
fn messages_begin_in_lower_case_and_have_no_full_stop() {
    let suites = suites();
    for case in suites.values().flat_map(|suite| &suite.cases) {
        for finding in findings(&suites["base.txt"].cases[0], case) {
            let texts = [Some(finding.problem.to_string()), finding.hint.clone()];
            for text in texts.iter().flatten() {
                let first = text.chars().next().unwrap();
                // Functions of formulas have names in capitals.
                let is_function = text.chars().nth(1).is_some_and(char::is_uppercase);
                assert!(!first.is_uppercase() || is_function, "`{}`: {text}", case.name);
                assert!(!text.ends_with('.'), "`{}`: {text}", case.name);
                assert_eq!(text.matches('`').count() % 2, 0, "`{}`: {text}", case.name);
            }
        }
    }
}
