//! The command line: one function per subcommand, and how their answers reach the user.
//!
//! Belongs to the binary; the library knows nothing of arguments, files or the terminal. A subcommand returns an
//! [`Answer`] or the errors that kept it from one. Data goes to standard output or to the file asked for, findings go
//! to standard error, and nothing is written to a file unless the answer is whole.

mod arguments;
mod disk;
mod output;
mod progress;
#[cfg(test)]
mod scratch;

use std::io::{self, IsTerminal, Write};
use std::path::Path;
use std::process::ExitCode;

use cutbill::diag::{Checked, Diagnostic, Place, Problem, Severity};
use cutbill::watch::Watch;

pub(crate) use arguments::Arguments;
use arguments::{Check, Command, Explode, Format, Nest, Output, Rollup};
use disk::Disk;
use progress::Progress;

/// How a subcommand ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Outcome {
    /// Done, perhaps with warnings.
    Done,
    /// Done, but a part of the answer is missing: a price, a size, an unplaced piece.
    Incomplete,
    /// Not done.
    NotDone,
}

impl Outcome {
    /// Returns the exit code that tells it: 0, 1 or 2.
    pub(crate) fn exit_code(self) -> ExitCode {
        ExitCode::from(match self {
            Outcome::Done => 0,
            Outcome::Incomplete => 1,
            Outcome::NotDone => 2,
        })
    }

    /// Returns how a subcommand with these findings ended.
    fn of(findings: &[Diagnostic]) -> Outcome {
        match findings.iter().map(|finding| finding.severity).max() {
            Some(Severity::Error) => Outcome::NotDone,
            Some(Severity::Gap) => Outcome::Incomplete,
            Some(Severity::Note | Severity::Warning) | None => Outcome::Done,
        }
    }
}

/// Carries out a subcommand and tells how it ended.
pub(crate) fn run(arguments: &Arguments) -> Outcome {
    let progress = Progress::start();
    let (answer, output) = match &arguments.command {
        Command::Check(arguments) => (check(arguments, &progress), &arguments.output),
        Command::Explode(arguments) => (explode(arguments, &progress), &arguments.output),
        Command::Nest(arguments) => (nest(arguments, &progress), &arguments.output),
        Command::Rollup(arguments) => (rollup(arguments, &progress), &arguments.output),
    };
    progress.finish();
    let findings = answer.map_or_else(|errors| errors, |answer| deliver(answer, output));
    // Findings that cannot be printed, since standard error is closed, still count in the exit code.
    let _ = print_findings(&findings);
    Outcome::of(&findings)
}

/// What a subcommand found out: bytes for the user, with the findings made on the way.
type Answer = Checked<Vec<u8>>;

/// Checks a book and sums up what it holds.
fn check(arguments: &Check, _watch: &dyn Watch) -> Result<Answer, Vec<Diagnostic>> {
    let _disk = open(&arguments.book, &arguments.output)?;
    Err(unwired("check"))
}

/// Tells what the plans take, or where an item is used.
fn explode(arguments: &Explode, _watch: &dyn Watch) -> Result<Answer, Vec<Diagnostic>> {
    let _disk = open(&arguments.scope.book, &arguments.output)?;
    Err(unwired("explode"))
}

/// Lays the pieces of the plans on stock.
fn nest(arguments: &Nest, _watch: &dyn Watch) -> Result<Answer, Vec<Diagnostic>> {
    let _disk = open(&arguments.scope.book, &arguments.output)?;
    Err(unwired("nest"))
}

/// Sums cost and weight.
fn rollup(arguments: &Rollup, _watch: &dyn Watch) -> Result<Answer, Vec<Diagnostic>> {
    let _disk = open(&arguments.scope.book, &arguments.output)?;
    Err(unwired("rollup"))
}

fn unwired(verb: &str) -> Vec<Diagnostic> {
    vec![plain_error(format!("`{verb}` is not part of this version"))]
}

/// Opens a book, once it is clear that the answer can go where it shall.
fn open(book: &Path, output: &Output) -> Result<Checked<Disk>, Vec<Diagnostic>> {
    let disk = Disk::open(book)?;
    match &output.file {
        Some(file) if disk.value.holds(file) => {
            let text =
                format!("`{}` is a file of the book; the answer goes elsewhere", file.display());
            Err(vec![plain_error(text)])
        }
        None if output.format() == Format::Parquet && io::stdout().is_terminal() => {
            Err(vec![plain_error(
                "Parquet is not for a terminal; name a file with `-o`".to_owned(),
            )])
        }
        _ => Ok(disk),
    }
}

/// Writes an answer where it shall go; returns its findings, and an error among them if it did not get there.
fn deliver(answer: Answer, output: &Output) -> Vec<Diagnostic> {
    let Checked { value, warnings: mut findings } = answer;
    let (written, file) = match &output.file {
        Some(file) => (output::save(file, &value), file.display().to_string()),
        None => (output::print(&value), "standard output".to_owned()),
    };
    if let Err(error) = written {
        let text = format!("cannot be written: {}", disk::in_words(&error));
        findings
            .push(Diagnostic::error(Place { file, ..Place::default() }, Problem::Plain { text }));
    }
    findings
}

fn plain_error(text: String) -> Diagnostic {
    Diagnostic {
        severity: Severity::Error,
        place: None,
        problem: Problem::Plain { text },
        hint: None,
    }
}

fn print_findings(findings: &[Diagnostic]) -> io::Result<()> {
    let mut sink = io::BufWriter::new(io::stderr().lock());
    for finding in findings {
        writeln!(sink, "{finding}")?;
    }
    sink.flush()
}

#[cfg(test)]
mod tests {
    use clap::Parser;

    use super::*;
    use crate::cli::scratch::Scratch;

    fn finding(severity: Severity) -> Diagnostic {
        Diagnostic { severity, ..plain_error("something".to_owned()) }
    }

    fn output(words: &[&str]) -> Output {
        let words = ["cutbill", "check", "book"].iter().chain(words);
        match Arguments::parse_from(words).command {
            Command::Check(check) => check.output,
            other => panic!("not a check: {other:?}"),
        }
    }

    #[test]
    fn the_worst_finding_says_how_it_ended() {
        let outcome = |severities: &[Severity]| {
            Outcome::of(&severities.iter().copied().map(finding).collect::<Vec<_>>())
        };
        assert_eq!(outcome(&[]), Outcome::Done);
        assert_eq!(outcome(&[Severity::Note, Severity::Warning]), Outcome::Done);
        assert_eq!(outcome(&[Severity::Gap, Severity::Warning]), Outcome::Incomplete);
        assert_eq!(outcome(&[Severity::Error, Severity::Gap]), Outcome::NotDone);
    }

    #[test]
    fn an_answer_never_replaces_a_file_of_its_book() {
        let scratch = Scratch::new();
        scratch.write("bill.csv", "parent");
        let file = scratch.path().join("bill.csv").display().to_string();
        let errors = open(scratch.path(), &output(&["-o", &file])).unwrap_err();
        let expected = format!("error: `{file}` is a file of the book; the answer goes elsewhere");
        assert_eq!(errors.iter().map(ToString::to_string).collect::<Vec<_>>(), [expected]);
    }

    #[test]
    fn an_answer_that_cannot_be_written_is_an_error_after_its_findings() {
        let scratch = Scratch::new();
        let file = scratch.path().join("none/cost.csv").display().to_string();
        let answer = Checked { value: b"cost".to_vec(), warnings: vec![finding(Severity::Gap)] };
        let findings = deliver(answer, &output(&["-o", &file]));
        let expected = [
            "gap: something".to_owned(),
            format!("error: {file}: cannot be written: no such file or folder"),
        ];
        assert_eq!(findings.iter().map(ToString::to_string).collect::<Vec<_>>(), expected);
        assert_eq!(Outcome::of(&findings), Outcome::NotDone);
        assert_eq!(scratch.names(), Vec::<String>::new());
    }
}
