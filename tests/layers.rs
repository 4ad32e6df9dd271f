//! Holds the import rule: a core module sees modules to its left only, and the core never sees an edge.
//!
//! Every path in `src` that begins at the crate's root, by `crate::` or by enough `super::`, is an arrow from the module
//! of its file to the module it names. Comments and texts are left out, so that docs may link in any direction.

#![expect(clippy::unwrap_used, reason = "what cannot be had ends the test")]

use std::path::Path;
use std::{fmt, fs};

/// The core, left to right. Modules of one row do not see each other.
const CORE: [&[&str]; 12] = [
    &["diag"],
    &["watch"],
    &["quantity"],
    &["formula"],
    &["model"],
    &["explode"],
    &["nest"],
    &["rollup"],
    &["orders", "price", "loads"],
    &["shop"],
    &["compare"],
    &["swap"],
];

/// The edges, each with the last module of the core that it sees.
const EDGES: [(&str, &str); 2] = [("read", "model"), ("render", "swap")];

/// The binary and the crate's front: they see everything.
const FREE: [&str; 3] = ["lib", "main", "cli"];

/// A file of more lines says at its top why, in a `//!` line that begins with `Long because`.
const LONG_FILE: usize = 800;

#[test]
fn modules_see_only_modules_to_their_left() {
    let files = sources();
    assert!(files.len() > 10, "only {} files found in src", files.len());
    let faults: Vec<String> =
        files.iter().flat_map(|(name, text)| check(name, text)).map(|f| f.to_string()).collect();
    assert!(faults.is_empty(), "the import rule is broken:\n{}", faults.join("\n"));
}

#[test]
fn long_files_say_why() {
    let silent: Vec<String> = sources()
        .into_iter()
        .filter(|(_, text)| is_long_without_reason(text))
        .map(|(name, _)| name)
        .collect();
    assert!(
        silent.is_empty(),
        "over {LONG_FILE} lines without a line `//! Long because ..` at the top: {}",
        silent.join(", ")
    );
}

#[test]
fn main_stays_under_sixty_lines() {
    let files = sources();
    let (_, main) = files.iter().find(|(name, _)| name == "main.rs").unwrap();
    assert!(main.lines().count() < 60);
}

// What is wrong, and where.

#[derive(Debug)]
struct Fault {
    file: String,
    line: usize,
    what: String,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "src/{}:{}: {}", self.file, self.line, self.what)
    }
}

/// Returns the files of `src` with their names relative to it, sorted.
fn sources() -> Vec<(String, String)> {
    fn walk(folder: &Path, prefix: &str, files: &mut Vec<(String, String)>) {
        for entry in fs::read_dir(folder).unwrap() {
            let entry = entry.unwrap();
            let name = format!("{prefix}{}", entry.file_name().to_str().unwrap());
            if entry.file_type().unwrap().is_dir() {
                walk(&entry.path(), &format!("{name}/"), files);
            } else if Path::new(&name).extension().is_some_and(|extension| extension == "rs") {
                #[expect(clippy::disallowed_methods, reason = "a test may read the source tree")]
                files.push((name, fs::read_to_string(entry.path()).unwrap()));
            }
        }
    }
    let mut files = Vec::new();
    walk(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src"), "", &mut files);
    files.sort();
    files
}

fn is_long_without_reason(text: &str) -> bool {
    text.lines().count() > LONG_FILE
        && !text
            .lines()
            .take_while(|line| line.starts_with("//!"))
            .any(|line| line.starts_with("//! Long because "))
}

/// Returns every break of the import rule in one file.
fn check(file: &str, text: &str) -> Vec<Fault> {
    let path = module_path(file);
    let from = path.first().map_or("lib", |name| name.as_str());
    if FREE.contains(&from) {
        return Vec::new();
    }
    let fault = |line, what| Fault { file: file.to_owned(), line, what };
    if !is_known(from) {
        return vec![fault(1, format!("module `{from}` has no place in the import order"))];
    }
    arrows(text, &path)
        .into_iter()
        .filter_map(|(line, to)| match to {
            Target::Module(to) if !is_known(&to) => {
                Some(fault(line, format!("`{from}` names `crate::{to}`, which is no module")))
            }
            Target::Module(to) if !may_see(from, &to) => {
                Some(fault(line, format!("`{from}` may not see `{to}`")))
            }
            Target::Module(_) => None,
            Target::Root => Some(fault(
                line,
                format!("`{from}` takes the root itself; write one `use crate::name::..` a line"),
            )),
        })
        .collect()
}

/// Returns the path of the module a file holds: `nest/linear.rs` is `nest`, `linear`.
fn module_path(file: &str) -> Vec<String> {
    let stem = file.strip_suffix(".rs").unwrap();
    let mut path: Vec<String> = stem.split('/').map(str::to_owned).collect();
    if path.last().is_some_and(|name| name == "mod") {
        path.pop();
    }
    path
}

fn rank(module: &str) -> Option<usize> {
    CORE.iter().position(|row| row.contains(&module))
}

fn is_known(module: &str) -> bool {
    rank(module).is_some() || EDGES.iter().any(|(edge, _)| *edge == module)
}

fn may_see(from: &str, to: &str) -> bool {
    if from == to {
        return true;
    }
    let Some(to) = rank(to) else { return false };
    match EDGES.iter().find(|(edge, _)| *edge == from) {
        Some((_, last)) => Some(to) <= rank(last),
        None => rank(from).is_some_and(|from| to < from),
    }
}

// Finding the arrows.

#[derive(Debug, PartialEq)]
enum Target {
    /// A name right under the root.
    Module(String),
    /// The root itself, a list or everything of it.
    Root,
}

/// Returns the line and the target of every path that begins at the root; `path` is the module the text stands in.
fn arrows(text: &str, path: &[String]) -> Vec<(usize, Target)> {
    let tokens = tokens(text);
    let is = |at: usize, word: &str| tokens.get(at).is_some_and(|(_, token)| token == word);
    let mut path = path.to_vec();
    // For each open brace, whether it opened an inline module.
    let mut braces: Vec<bool> = Vec::new();
    let mut found = Vec::new();
    let mut at = 0;
    while let Some((line, token)) = tokens.get(at) {
        match token.as_str() {
            "{" => {
                let opens_module = at >= 2 && is(at - 2, "mod");
                if opens_module {
                    path.push(tokens[at - 1].1.clone());
                }
                braces.push(opens_module);
            }
            "}" if braces.pop() == Some(true) => {
                path.pop();
            }
            "crate" => {
                let is_visibility = at > 0 && is(at - 1, "(") && is(at + 1, ")");
                if !is_visibility {
                    found.push((*line, target(&tokens, at + 1)));
                }
            }
            "super" => {
                let mut climbs = 1;
                while is(at + 1, "::") && is(at + 2, "super") {
                    climbs += 1;
                    at += 2;
                }
                if climbs >= path.len() && is(at + 1, "::") {
                    found.push((*line, target(&tokens, at + 1)));
                }
            }
            _ => {}
        }
        at += 1;
    }
    found
}

/// Returns what follows the root, `at` being the place of the `::`.
fn target(tokens: &[(usize, String)], at: usize) -> Target {
    let follows = tokens.get(at).is_some_and(|(_, token)| token == "::");
    match tokens.get(at + 1) {
        Some((_, name)) if follows && name.starts_with(|c: char| c.is_alphabetic() || c == '_') => {
            Target::Module(name.clone())
        }
        _ => Target::Root,
    }
}

/// Returns the names and signs of a source text with their lines, without comments and literals.
fn tokens(text: &str) -> Vec<(usize, String)> {
    let chars: Vec<char> = text.chars().collect();
    let is_word = |c: char| c.is_alphanumeric() || c == '_';
    let starts = |at: usize, sign: &str| {
        sign.chars().enumerate().all(|(offset, c)| chars.get(at + offset) == Some(&c))
    };
    let mut tokens = Vec::new();
    let mut line = 1;
    let mut at = 0;
    while at < chars.len() {
        let start = at;
        if starts(at, "//") {
            at += chars[at..].iter().take_while(|c| **c != '\n').count();
        } else if starts(at, "/*") {
            at = after_block_comment(&chars, at);
        } else if chars[at] == '"' {
            at = after_text(&chars, at);
        } else if chars[at] == '\'' {
            at = after_quote(&chars, at);
        } else if is_word(chars[at]) {
            at += chars[at..].iter().take_while(|c| is_word(**c)).count();
            let word: String = chars[start..at].iter().collect();
            let hashes = chars[at..].iter().take_while(|c| **c == '#').count();
            let is_raw = matches!(word.as_str(), "r" | "br" | "cr");
            if is_raw && chars.get(at + hashes) == Some(&'"') {
                at = after_raw_text(&chars, at + hashes + 1, hashes);
            } else if word == "r" && hashes == 1 {
                at += 1; // The name that follows is a token of its own.
            } else {
                tokens.push((line, word));
            }
        } else if starts(at, "::") {
            tokens.push((line, "::".to_owned()));
            at += 2;
        } else {
            if !chars[at].is_whitespace() {
                tokens.push((line, chars[at].to_string()));
            }
            at += 1;
        }
        line += chars[start..at.min(chars.len())].iter().filter(|c| **c == '\n').count();
    }
    tokens
}

fn after_block_comment(chars: &[char], start: usize) -> usize {
    let mut depth = 0;
    let mut at = start;
    while at < chars.len() {
        match (chars[at], chars.get(at + 1)) {
            ('/', Some('*')) => {
                depth += 1;
                at += 2;
            }
            ('*', Some('/')) => {
                depth -= 1;
                at += 2;
                if depth == 0 {
                    break;
                }
            }
            _ => at += 1,
        }
    }
    at
}

fn after_text(chars: &[char], start: usize) -> usize {
    let mut at = start + 1;
    while at < chars.len() && chars[at] != '"' {
        at += if chars[at] == '\\' { 2 } else { 1 };
    }
    at + 1
}

fn after_raw_text(chars: &[char], start: usize, hashes: usize) -> usize {
    let mut at = start;
    while at < chars.len() {
        if chars[at] == '"' && chars[at + 1..].iter().take_while(|c| **c == '#').count() >= hashes {
            return at + 1 + hashes;
        }
        at += 1;
    }
    at
}

/// Skips a character literal, or only the quote of a lifetime.
fn after_quote(chars: &[char], start: usize) -> usize {
    match (chars.get(start + 1), chars.get(start + 2)) {
        (Some('\\'), _) => {
            let rest = &chars[(start + 3).min(chars.len())..];
            start + 4 + rest.iter().take_while(|c| **c != '\'').count()
        }
        (Some(_), Some('\'')) => start + 3,
        _ => start + 1,
    }
}

// The scanner itself.

#[track_caller]
fn finds(file: &str, text: &str, expected: &[&str]) {
    let faults: Vec<String> = check(file, text).iter().map(Fault::to_string).collect();
    assert_eq!(faults, expected);
}

#[test]
fn looking_left_is_fine() {
    finds("model/item.rs", "use crate::quantity::Length;\nuse crate::diag::Place;", &[]);
    finds("swap.rs", "use crate::compare::Comparison;\nuse crate::orders::Orders;", &[]);
    finds("read/csv.rs", "use crate::model::Book;\nuse crate::read::Table;", &[]);
    finds("render/text.rs", "use crate::swap::Swap;\nuse crate::diag::Place;", &[]);
}

#[test]
fn looking_right_is_found_with_both_names() {
    finds(
        "quantity/ratio.rs",
        "use std::fmt;\nuse crate::model::Book;",
        &["src/quantity/ratio.rs:2: `quantity` may not see `model`"],
    );
    finds("explode.rs", "use crate::nest;", &["src/explode.rs:1: `explode` may not see `nest`"]);
    finds("compare.rs", "use crate::swap::S;", &["src/compare.rs:1: `compare` may not see `swap`"]);
}

#[test]
fn siblings_do_not_see_each_other() {
    finds("orders.rs", "use crate::price::P;", &["src/orders.rs:1: `orders` may not see `price`"]);
    finds("loads.rs", "use crate::orders::O;", &["src/loads.rs:1: `loads` may not see `orders`"]);
}

#[test]
fn the_core_does_not_see_an_edge_nor_an_edge_the_other() {
    finds("rollup.rs", "use crate::read::F;", &["src/rollup.rs:1: `rollup` may not see `read`"]);
    finds("swap.rs", "use crate::render::R;", &["src/swap.rs:1: `swap` may not see `render`"]);
    finds(
        "render/mod.rs",
        "use crate::read::F;",
        &["src/render/mod.rs:1: `render` may not see `read`"],
    );
    finds(
        "read/mod.rs",
        "use crate::explode::N;",
        &["src/read/mod.rs:1: `read` may not see `explode`"],
    );
}

#[test]
fn inline_paths_count() {
    finds(
        "diag.rs",
        "fn f() -> crate::quantity::Length {\n    crate :: model\n        ::g()\n}",
        &[
            "src/diag.rs:1: `diag` may not see `quantity`",
            "src/diag.rs:2: `diag` may not see `model`",
        ],
    );
    finds(
        "diag.rs",
        "macro_rules! m { () => { $crate::model::X } }",
        &["src/diag.rs:1: `diag` may not see `model`"],
    );
    finds("diag.rs", "use {crate::r#model::X};", &["src/diag.rs:1: `diag` may not see `model`"]);
}

#[test]
fn super_counts_when_it_reaches_the_root() {
    let fault = |file: &str| format!("src/{file}:1: `model` may not see `nest`");
    finds("model/mod.rs", "use super::nest::Nest;", &[&fault("model/mod.rs")]);
    finds("model/item.rs", "use super::super::nest::Nest;", &[&fault("model/item.rs")]);
    finds("model/item.rs", "use super::nest::Nest;", &[]);
    finds("model/item.rs", "mod tests { use super::super::nest::Nest; }", &[]);
    finds(
        "model/item.rs",
        "mod tests { use super::super::super::nest::N; }",
        &[&fault("model/item.rs")],
    );
    finds(
        "model/item.rs",
        "mod tests { use super::*; } use super::super::nest::N;",
        &[&fault("model/item.rs")],
    );
    finds(
        "model/item.rs",
        "fn f() { if x {} } use super::super::nest::N;",
        &[&fault("model/item.rs")],
    );
}

#[test]
fn the_root_itself_is_not_taken() {
    let fault =
        "src/nest.rs:1: `nest` takes the root itself; write one `use crate::name::..` a line";
    finds("nest.rs", "use crate::{diag, model};", &[fault]);
    finds("nest.rs", "use crate::*;", &[fault]);
    finds("nest.rs", "use super::{diag, model};", &[fault]);
    finds("nest.rs", "use crate as everything;", &[fault]);
    finds("nest.rs", "extern crate self as everything;", &[fault]);
    finds("nest.rs", "pub(crate) fn f() {} pub(super) fn g() {}", &[]);
}

#[test]
fn names_that_are_no_module_are_found() {
    finds(
        "nest/mod.rs",
        "use crate::Book;",
        &["src/nest/mod.rs:1: `nest` names `crate::Book`, which is no module"],
    );
    finds("utils.rs", "", &["src/utils.rs:1: module `utils` has no place in the import order"]);
    finds(
        "utils/mod.rs",
        "",
        &["src/utils/mod.rs:1: module `utils` has no place in the import order"],
    );
}

#[test]
fn comments_and_texts_are_no_arrows() {
    let text = r###"
        //! See [`nest`](crate::nest).
        /* crate::nest /* crate::nest */ crate::nest */
        const A: &str = "crate::nest \" crate::nest";
        const B: &[u8] = br##"crate::nest "# crate::nest"##;
        const C: [char; 3] = ['"', '\'', '\u{22}'];
        fn f<'a>(x: &'a str) -> &'a str { x }
        use crate::nest::N;
    "###;
    finds("diag.rs", text, &["src/diag.rs:8: `diag` may not see `nest`"]);
}

#[test]
fn a_long_file_needs_its_reason() {
    let long = "fn f() {}\n".repeat(LONG_FILE);
    assert!(!is_long_without_reason(&long));
    assert!(is_long_without_reason(&format!("//! Nests.\n{long}")));
    assert!(is_long_without_reason(&format!("{long}//! Long because it must be.\n")));
    assert!(!is_long_without_reason(&format!(
        "//! Nests.\n//!\n//! Long because it is one table.\n{long}"
    )));
}
