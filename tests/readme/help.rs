//! Runs every example that the help of a subcommand ends with, on copies of the sample books.

use std::fs;
use std::path::{Path, PathBuf};

use super::{cutbill, words};

#[test]
fn every_example_of_the_help_works_on_the_samples() {
    let folder = samples("examples");
    for subcommand in subcommands(&folder) {
        let help = printed(&folder, &[&subcommand, "--help"]);
        let examples: Vec<&str> = examples(&help).collect();
        assert!((2..=4).contains(&examples.len()), "{subcommand} has {} examples", examples.len());
        for example in examples {
            let words = words(example);
            assert_eq!(words[0], subcommand, "`cutbill {example}`");
            let words: Vec<&str> = words.iter().map(String::as_str).collect();
            let before = names(&folder);
            let printed = printed(&folder, &words);
            // What it makes is a file, a folder or a text, and never nothing.
            assert!(!printed.is_empty() || names(&folder) != before, "`cutbill {example}`");
        }
    }
}

#[test]
fn the_manual_has_a_page_for_each_subcommand_with_its_examples() {
    let folder = samples("manual");
    let listed = printed(&folder, &["man", "pages"]);
    let mut pages = vec!["cutbill.1".to_owned()];
    pages.extend(subcommands(&folder).iter().map(|name| format!("cutbill-{name}.1")));
    let expected: Vec<String> = pages.iter().map(|page| format!("pages/{page}\n")).collect();
    let expected = expected.concat();
    assert_eq!(listed, expected);
    pages.sort();
    assert_eq!(names(&folder.join("pages")), pages);
    for subcommand in subcommands(&folder) {
        let page = folder.join(format!("pages/cutbill-{subcommand}.1"));
        #[expect(clippy::disallowed_methods, reason = "a test reads what it has made")]
        let text = fs::read_to_string(page).unwrap();
        let examples = text.split("Examples:\n").nth(1).unwrap_or_default();
        assert!(examples.contains(&format!("cutbill {subcommand} ")), "{text}");
    }
}

#[test]
fn a_script_for_each_shell_completes_every_subcommand() {
    let folder = samples("completions");
    for shell in ["bash", "elvish", "fish", "powershell", "zsh"] {
        let script = printed(&folder, &["completions", shell]);
        for subcommand in subcommands(&folder) {
            assert!(script.contains(&subcommand), "{shell} lacks {subcommand}");
        }
        assert!(script.contains("one-layout-a-page"), "{shell} lacks an argument");
    }
}

/// Returns the examples that a help ends with, without the name of the program.
fn examples(help: &str) -> impl Iterator<Item = &str> {
    let examples = help.split_once("\nExamples:\n").map_or("", |(_, examples)| examples);
    examples.lines().filter_map(|line| line.strip_prefix("  cutbill "))
}

/// Returns the names of all subcommands, as the help lists them.
fn subcommands(folder: &Path) -> Vec<String> {
    let help = printed(folder, &["--help"]);
    let list = help.split("Commands:\n").nth(1).unwrap().split("\n\n").next().unwrap();
    list.lines()
        .filter_map(|line| {
            line.strip_prefix("  ")?.split(' ').next().filter(|name| !name.is_empty())
        })
        .map(str::to_owned)
        .collect()
}

/// Returns what a command prints; it must end well.
fn printed(folder: &Path, arguments: &[&str]) -> String {
    let output = cutbill(folder, arguments);
    let findings = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "`cutbill {}`: {findings}", arguments.join(" "));
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// Returns a new folder that holds the sample books in a folder `samples`.
fn samples(test: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("help").join(test);
    let _ = fs::remove_dir_all(&folder);
    let from = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
    for entry in fs::read_dir(&from).unwrap() {
        let entry = entry.unwrap().path();
        let books = if entry.is_dir() {
            fs::read_dir(&entry).unwrap().map(|entry| entry.unwrap().path()).collect()
        } else {
            vec![entry]
        };
        for file in books.into_iter().filter(|file| file.is_file()) {
            let to = folder.join("samples").join(file.strip_prefix(&from).unwrap());
            fs::create_dir_all(to.parent().unwrap()).unwrap();
            fs::copy(&file, to).unwrap();
        }
    }
    folder
}

/// Returns the names of what lies in a folder, sorted.
fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}
