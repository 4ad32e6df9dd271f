//! Runs what `README.md` and pages of docs show: every line `$ cutbill ..` of a `console` block, perhaps with `| head -n N`,
//! and compares its standard output with the lines below it. `UPDATE=1 cargo test --test readme` writes what the commands print
//! into the files. Beside it: the examples of the help, and the links among the pages.

#![expect(clippy::unwrap_used, reason = "what cannot be had ends the test")]

#[path = "readme/help.rs"]
mod help;
#[path = "readme/links.rs"]
mod links;

use std::path::Path;
use std::process::{Command, Output, Stdio};
use std::{env, fs};

/// The pages that must show a command.
const SHOWING: [&str; 5] = [
    "README.md",
    "docs/shop.md",
    "docs/tutorial-accountant.md",
    "docs/tutorial-buyer.md",
    "docs/tutorial-engineer.md",
];

#[test]
fn the_pages_show_what_the_commands_print() {
    let mut faults = Vec::new();
    for page in pages() {
        let shown = read(&page);
        let (printed, count) = rewrite(&shown, &run);
        assert!(count > 0 || !SHOWING.contains(&page.as_str()), "{page} shows no command");
        #[expect(
            clippy::disallowed_methods,
            reason = "the variable asks for files to be rewritten"
        )]
        if env::var("UPDATE").is_ok() {
            fs::write(tree().join(page), printed).unwrap();
        } else if shown != printed {
            faults.push(format!("{page} shows what is not printed; that is:\n{printed}"));
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn the_cautions_told_are_those_printed() {
    let page = read("docs/cautions.md");
    let told: Vec<&str> = page
        .lines()
        .filter_map(|line| line.strip_prefix("| ")?.split(" | ").next())
        .filter(|cell| cell.ends_with('.'))
        .collect();
    let printed =
        run(&["rollup", "samples/fenmark", "--lot", "1", "--effort", "1", "--by", "plan"]);
    assert_eq!(told.len(), 3);
    for caution in told {
        assert!(printed.lines().any(|line| line == caution), "not printed: {caution}");
    }
}

#[test]
fn the_commands_that_the_readme_opens_with_are_those_that_ci_runs() {
    let readme = read("README.md");
    let commands: Vec<&str> =
        readme.lines().filter_map(|line| line.strip_prefix("    cargo ")).take(2).collect();
    assert_eq!(commands, ["run -- rollup samples/fenmark", "test"]);
    let ci = read(".ci/run");
    for command in ["cargo run --locked -- rollup samples/fenmark", "cargo test --locked"] {
        assert!(ci.contains(command), ".ci/run lacks `{command}`");
    }
}

#[test]
fn what_stands_below_a_command_is_replaced_by_what_it_prints() {
    let shown = "Text\n```console\n$ cutbill one two\nold\n\nolder\n$ cutbill three\n```\n```sh\n$ cutbill x\n```\n";
    let echo = |arguments: &[&str]| format!("<{}>\n", arguments.join("|"));
    let expected = "Text\n```console\n$ cutbill one two\n<one|two>\n$ cutbill three\n<three>\n```\n```sh\n$ cutbill x\n```\n";
    assert_eq!(rewrite(shown, &echo), (expected.to_owned(), 2));
    let shown = "```console\n$ cutbill \"a b\" c | head -n 1\n```\n";
    let expected = "```console\n$ cutbill \"a b\" c | head -n 1\n<a b|c>\n```\n";
    let echo = |arguments: &[&str]| format!("<{}>\nmore\n", arguments.join("|"));
    assert_eq!(rewrite(shown, &echo), (expected.to_owned(), 1));
}

/// Returns the text with what its commands print, and how many commands there are.
fn rewrite(text: &str, run: &dyn Fn(&[&str]) -> String) -> (String, usize) {
    let mut result = String::new();
    let mut count = 0;
    let mut is_console = false;
    for line in text.lines() {
        let command = line.strip_prefix("$ cutbill ").filter(|_| is_console);
        let is_fence = line.starts_with("```");
        if is_fence {
            is_console = line == "```console";
        }
        // Lines of a console block that are no command are what an earlier run printed.
        if is_fence || command.is_some() || !is_console {
            result.push_str(line);
            result.push('\n');
        }
        if let Some(command) = command {
            count += 1;
            let (command, most) = command
                .split_once(" | head -n ")
                .map_or((command, usize::MAX), |(command, most)| (command, most.parse().unwrap()));
            let words = words(command);
            let printed = run(&words.iter().map(String::as_str).collect::<Vec<_>>());
            result.extend(printed.split_inclusive('\n').take(most));
        }
    }
    (result, count)
}

/// Parts a command into its arguments, as a shell does: at spaces outside of double quotes.
fn words(command: &str) -> Vec<String> {
    let mut words = vec![String::new()];
    let mut is_quoted = false;
    for sign in command.chars() {
        match sign {
            '"' => is_quoted = !is_quoted,
            ' ' if !is_quoted => words.push(String::new()),
            _ => words.last_mut().unwrap().push(sign),
        }
    }
    words
}

fn run(arguments: &[&str]) -> String {
    let output = cutbill(tree(), arguments);
    assert!(
        output.status.success(),
        "`cutbill {}`: {}",
        arguments.join(" "),
        String::from_utf8_lossy(&output.stderr)
    );
    String::from_utf8(output.stdout).unwrap()
}

/// Runs the program in a folder.
fn cutbill(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_cutbill"))
        .args(arguments)
        .current_dir(folder)
        .env_remove("COLUMNS")
        .stdin(Stdio::null())
        .output()
        .unwrap()
}

/// Returns the folder of the project.
fn tree() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// Returns the text of a file of the project.
fn read(name: &str) -> String {
    #[expect(clippy::disallowed_methods, reason = "a test reads the tree it tests")]
    fs::read_to_string(tree().join(name)).unwrap()
}

/// Returns the pages of the project: those at its top, in docs and beside samples; sorted.
fn pages() -> Vec<String> {
    let samples = fs::read_dir(tree().join("samples")).unwrap();
    let mut folders: Vec<String> = samples
        .map(|entry| format!("samples/{}", entry.unwrap().file_name().to_str().unwrap()))
        .filter(|name| tree().join(name).is_dir())
        .collect();
    folders.extend([String::new(), "docs".to_owned()]);
    let mut pages: Vec<String> = folders
        .iter()
        .flat_map(|folder| {
            fs::read_dir(tree().join(folder)).unwrap().map(move |entry| {
                let name = entry.unwrap().file_name();
                Path::new(folder).join(name).to_str().unwrap().to_owned()
            })
        })
        .filter(|name| Path::new(name).extension().is_some_and(|ending| ending == "md"))
        .collect();
    pages.sort();
    pages
}
