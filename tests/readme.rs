//! Runs what `README.md` and `docs/shop.md` show: every line `$ cutbill ..` of a `console` block, perhaps with `| head -n N`, and compares its
//! standard output with the lines below it. `UPDATE=1 cargo test --test readme` writes what the commands print into the file.

#![expect(clippy::unwrap_used, reason = "what cannot be had ends the test")]

use std::process::{Command, Stdio};
use std::{env, fs};

const FILES: [&str; 2] = ["README.md", "docs/shop.md"];

#[test]
fn the_readme_and_the_page_of_the_shop_show_what_the_commands_print() {
    for name in FILES {
        let file = format!("{}/{name}", env!("CARGO_MANIFEST_DIR"));
        #[expect(clippy::disallowed_methods, reason = "a test reads the tree it tests")]
        let shown = fs::read_to_string(&file).unwrap();
        let (printed, count) = rewrite(&shown, &run);
        assert!(count > 0, "{name} shows no command");
        #[expect(
            clippy::disallowed_methods,
            reason = "the variable asks for the file to be rewritten"
        )]
        if env::var("UPDATE").is_ok() {
            fs::write(&file, printed).unwrap();
        } else {
            assert_eq!(shown, printed);
        }
    }
}

#[test]
fn the_commands_that_the_readme_opens_with_are_those_that_ci_runs() {
    #[expect(clippy::disallowed_methods, reason = "a test reads the tree it tests")]
    let read = |name| fs::read_to_string(format!("{}/{name}", env!("CARGO_MANIFEST_DIR"))).unwrap();
    let readme = read("README.md");
    let commands: Vec<&str> =
        readme.lines().filter_map(|line| line.strip_prefix("    cargo ")).collect();
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
    let output = Command::new(env!("CARGO_BIN_EXE_cutbill"))
        .args(arguments)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .env_remove("COLUMNS")
        .stdin(Stdio::null())
        .output()
        .unwrap();
    assert!(
        output.status.success(),
        "`cutbill {}`: {}",
        arguments.join(" "),
        String::from_utf8_lossy(&output.stderr)
    );
    String::from_utf8(output.stdout).unwrap()
}
