//! What happens if the program itself fails: one plain line, whatever else is asked for, and no answer.

use std::any::Any;
use std::io::{self, Write};
use std::panic::{self, AssertUnwindSafe, PanicHookInfo};
use std::sync::OnceLock;

use crate::cli::Outcome;

/// Most letters of what is told about it.
const MOST_LETTERS: usize = 200;

/// Runs `work`; a panic within is told in one line on standard error, without a backtrace, and is not done.
pub(crate) fn guarded(work: impl FnOnce() -> Outcome) -> Outcome {
    // Kept until it is clear that nobody further down deals with it; of several threads, the first tells the cause.
    static TOLD: OnceLock<String> = OnceLock::new();
    panic::set_hook(Box::new(|info| {
        TOLD.get_or_init(|| line(&place(info), info.payload()));
    }));
    outcome(work, || {
        // Where standard error is closed, the exit code tells.
        let _ = writeln!(io::stderr(), "{}", TOLD.get().map_or("", String::as_str));
    })
}

/// Returns how `work` ended; a panic is told and is not done.
fn outcome(work: impl FnOnce() -> Outcome, tell: impl FnOnce()) -> Outcome {
    // Nothing that a panic may have left half done is looked at: the process ends.
    panic::catch_unwind(AssertUnwindSafe(work)).unwrap_or_else(|_| {
        tell();
        Outcome::NotDone
    })
}

/// Returns the last parts of the path of the source and the line, without where it was built.
fn place(info: &PanicHookInfo<'_>) -> String {
    info.location().map_or_else(String::new, |location| {
        let parts: Vec<&str> = location.file().split(['/', '\\']).collect();
        let from = parts.len().saturating_sub(4);
        format!("{}:{}", parts[from..].join("/"), location.line())
    })
}

fn line(place: &str, payload: &(dyn Any + Send)) -> String {
    let told = payload.downcast_ref::<String>().map(String::as_str);
    let told = told.or_else(|| payload.downcast_ref::<&str>().copied()).unwrap_or("");
    let told: String = told.split_whitespace().collect::<Vec<_>>().join(" ");
    let told: String =
        told.chars().filter(|letter| !letter.is_control()).take(MOST_LETTERS).collect();
    format!(
        "error: a defect of this program, not of the book: {told} ({place}); nothing is written, please report it"
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_defect_is_one_line_and_not_done() {
        let text = "no such\n  item".to_owned();
        assert_eq!(
            line("src/nest/mod.rs:12", &text),
            "error: a defect of this program, not of the book: no such item (src/nest/mod.rs:12); nothing is written, \
             please report it"
        );
        let mut is_told = false;
        assert_eq!(outcome(|| panic!("as a test must"), || is_told = true), Outcome::NotDone);
        assert!(is_told);
        assert_eq!(outcome(|| Outcome::Incomplete, || panic!("not told")), Outcome::Incomplete);
    }
}
