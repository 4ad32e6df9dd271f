//! The command line: one function per subcommand, and how their answers reach the user.
//!
//! Belongs to the binary; the library knows nothing of arguments, files or the terminal. A subcommand returns an
//! [`Answer`] or the errors that kept it from one. Data goes to standard output or to the file asked for, findings go
//! to standard error, and nothing is written to a file unless the answer is whole.

mod arguments;
mod check;
mod compare;
mod defect;
mod disk;
mod examples;
mod init;
mod interrupt;
mod loads;
mod manual;
mod measures;
mod names;
mod nest;
mod orders;
mod output;
mod price;
mod progress;
mod report;
#[cfg(test)]
mod scratch;
mod swap;
mod told;

use std::io::{self, IsTerminal, Write};
use std::mem::ManuallyDrop;
use std::num::NonZeroU32;
use std::path::Path;
use std::process::ExitCode;

use cutbill::diag::{Checked, Diagnostic, Place, Problem, Severity};
use cutbill::explode::{self, Needs};
use cutbill::model::Book;
use cutbill::nest::Options as Search;
use cutbill::read;
use cutbill::render::report::{self as pages, Report};
use cutbill::render::{csv, json, parquet, text, xlsx};
use cutbill::rollup::{self, Key};
use cutbill::watch::Watch;

pub(crate) use arguments::Arguments;
use arguments::{Check, Command, Cutting, Explode, Format, Output, Rollup, Scope};
pub(crate) use defect::guarded;
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
    if arguments.command.cuts() {
        interrupt::listen();
    }
    let progress = Progress::start();
    let to_terminal = Output::default();
    let (answer, output) = match &arguments.command {
        Command::Check(arguments) => (check(arguments, &progress), &arguments.output),
        Command::Explode(arguments) => (explode(arguments, &progress), &arguments.output),
        Command::Nest(arguments) => (nest::nest(arguments, &progress), &arguments.output),
        Command::Rollup(arguments) => (rollup(arguments, &progress), &arguments.output),
        Command::Orders(arguments) => (orders::orders(arguments, &progress), &arguments.output),
        Command::Price(arguments) => (price::price(arguments, &progress), &arguments.output),
        Command::Loads(arguments) => (loads::loads(arguments, &progress), &arguments.output),
        Command::Init(arguments) => (init::init(arguments), &to_terminal),
        Command::Swap(arguments) => (swap::swap(arguments, &progress), &arguments.output),
        Command::Compare(arguments) => (compare::compare(arguments, &progress), &arguments.output),
        Command::Report(arguments) => (report::report(arguments, &progress), &arguments.output),
        Command::Completions(arguments) => (Ok(manual::completions(arguments)), &to_terminal),
        Command::Man(arguments) => (manual::man(arguments), &to_terminal),
    };
    progress.finish();
    let answer = answer.map(|mut answer| {
        if arguments.command.tells_weights() && arguments.command.writes_rows(output.format()) {
            // Rows have no room for them; tables, workbooks and JSON hold them.
            let note = |text: &str| Diagnostic {
                severity: Severity::Note,
                ..plain_error(text.to_owned())
            };
            answer.warnings.extend(pages::WEIGHT_CAUTIONS.map(note));
        }
        if interrupt::is_asked() {
            let text = "interrupted: the cutting is the best found so far, not the best that the effort allows";
            let severity = Severity::Gap;
            answer.warnings.push(Diagnostic { severity, ..plain_error(text.to_owned()) });
        }
        answer
    });
    let findings = answer.map_or_else(|errors| errors, |answer| deliver(answer, output));
    // Findings that cannot be printed, since standard error is closed, still count in the exit code.
    let tells_all = output.all_findings || matches!(arguments.command, Command::Check(_));
    let _ = print_findings(&findings, tells_all);
    Outcome::of(&findings)
}

/// What a subcommand found out: bytes for the user, with the findings made on the way.
type Answer = Checked<Vec<u8>>;

/// Checks a book and sums up what it holds.
fn check(arguments: &Check, watch: &dyn Watch) -> Result<Answer, Vec<Diagnostic>> {
    let output = &arguments.output;
    let disk = open(&arguments.book, output)?;
    watch.progress("checking", 0, 1);
    let book = match check::check(&disk.value, &output.limits()?) {
        Ok(book) => book,
        Err(errors) => return Err(together(disk.warnings, errors)),
    };
    let findings = together(disk.warnings, book.warnings);
    let summary = cutbill::model::summary(&book.value);
    let bytes = match output.format() {
        Format::Json => json::check(&book.value, &summary, &findings).into_bytes(),
        _ => tables(&pages::check(&book.value, &summary), output)?,
    };
    Ok(Checked { value: bytes, warnings: findings })
}

/// Tells what the plans take, or where an item is used.
fn explode(arguments: &Explode, watch: &dyn Watch) -> Result<Answer, Vec<Diagnostic>> {
    let output = &arguments.output;
    let (book, needs, findings) = exploded(&arguments.scope, output, watch)?;
    let is_json = output.format() == Format::Json;
    if arguments.flat && is_json {
        let text = json::needs(&book, &needs, &findings);
        return Ok(Checked { value: text.into_bytes(), warnings: findings });
    }
    let (verb, report) = match &arguments.where_used {
        Some(name) => ("where_used", pages::where_used(&book, &needs, names::item(&book, name)?)),
        None if arguments.flat => ("needs", pages::needs(&book, &needs)),
        None => ("explode", pages::indented(&book, &needs)),
    };
    let bytes = if is_json {
        json::tables(verb, &book, &needs, &report, &findings).into_bytes()
    } else {
        tables(&report, output)?
    };
    Ok(Checked { value: bytes, warnings: findings })
}

/// Sums cost and weight, or tells why a sum is what it is.
fn rollup(arguments: &Rollup, watch: &dyn Watch) -> Result<Answer, Vec<Diagnostic>> {
    let output = &arguments.output;
    let (book, needs, mut findings) = exploded(&arguments.scope, output, watch)?;
    let by = names::keys(&book, &arguments.by)?;
    let needs_builds = matches!(output.format(), Format::Parquet | Format::Json)
        || arguments.dataset.is_some()
        || arguments.why.is_some();
    if !needs_builds {
        let options = cutting_options(&arguments.cutting);
        if let Some(summed) = rollup::summed(&book, &needs, options, &by, watch)? {
            add_new(&mut findings, summed.warnings);
            let rollup::Summed { terms, grouping } = summed.value;
            let bytes = tables(&pages::grouping(&book, &needs, &terms, &grouping), output)?;
            return Ok(Checked { value: bytes, warnings: findings });
        }
    }
    let rolled = rolled_up(&book, &needs, &arguments.cutting, watch, &mut findings)?;
    if let Some(why) = &arguments.why {
        let found = names::why(&book, &needs, &rolled, &by, why)?;
        let bytes = match output.format() {
            Format::Json => json::why(&book, &needs, &rolled, &found, &findings).into_bytes(),
            _ => tables(&pages::why(&book, &needs, &rolled, &found), output)?,
        };
        return Ok(Checked { value: bytes, warnings: findings });
    }
    if let Some(folder) = &arguments.dataset {
        let keys = if by.is_empty() { rollup::keys(&book) } else { by };
        let files = parquet::dataset(&book, &needs, &rolled, &keys).map_err(engine_error)?;
        return Ok(Checked { value: new_folder(folder, &files)?, warnings: findings });
    }
    let is_whole = by.is_empty();
    let by = if is_whole { vec![Key::Plan, Key::Kind, Key::Group] } else { by };
    let bytes = match output.format() {
        Format::Parquet => {
            let keys = if is_whole { rollup::keys(&book) } else { by };
            parquet::build_by_build(&book, &needs, &rolled, &keys).map_err(engine_error)?
        }
        format => {
            let ledger = rollup::ledger(&book, &needs, &rolled, &by).map_err(engine_error)?;
            let grouping = rollup::group(&ledger, &by).map_err(engine_error)?;
            match format {
                Format::Json => {
                    let left = json::Layouts::Left;
                    json::rollup(&book, &needs, &rolled, Some(&grouping), left, &findings)
                        .into_bytes()
                }
                _ if is_whole => tables(&pages::rollup(&book, &needs, &rolled, &grouping), output)?,
                _ => tables(&pages::grouping(&book, &needs, &rolled, &grouping), output)?,
            }
        }
    };
    Ok(Checked { value: bytes, warnings: findings })
}

/// Reads a book.
fn read(book: &Path, output: &Output, watch: &dyn Watch) -> Result<Checked<Book>, Vec<Diagnostic>> {
    let disk = open(book, output)?;
    watch.progress("reading", 0, 1);
    match read::read_within(&disk.value, &output.limits()?) {
        Ok(mut book) => {
            book.warnings = together(disk.warnings, book.warnings);
            Ok(book)
        }
        Err(errors) => Err(together(disk.warnings, errors)),
    }
}

/// A book with what its plans take, and the findings about both. The process ends with the command, and large books take
/// long to free, so they are not.
type Exploded = (ManuallyDrop<Book>, ManuallyDrop<Needs>, Vec<Diagnostic>);

/// Reads a book and explodes the plans asked for.
fn exploded(
    scope: &Scope,
    output: &Output,
    watch: &dyn Watch,
) -> Result<Exploded, Vec<Diagnostic>> {
    let book = read(&scope.book, output, watch)?;
    let options = names::explode_options(&book.value, scope)?;
    match explode::explode(&book.value, &options) {
        Ok(needs) => {
            let findings = together(book.warnings, needs.warnings);
            Ok((ManuallyDrop::new(book.value), ManuallyDrop::new(needs.value), findings))
        }
        Err(errors) => Err(together(book.warnings, errors)),
    }
}

fn rolled_up(
    book: &Book,
    needs: &Needs,
    cutting: &Cutting,
    watch: &dyn Watch,
    findings: &mut Vec<Diagnostic>,
) -> Result<rollup::Rollup, Vec<Diagnostic>> {
    let rolled = rollup::rollup(book, needs, cutting_options(cutting), watch)?;
    add_new(findings, rolled.warnings);
    Ok(rolled.value)
}

/// Adds findings whose problem is not told yet.
fn add_new(findings: &mut Vec<Diagnostic>, further: Vec<Diagnostic>) {
    for finding in further {
        if !findings.iter().any(|known| known.problem == finding.problem) {
            findings.push(finding);
        }
    }
}

fn cutting_options(cutting: &Cutting) -> rollup::Options {
    let search = Search::default();
    let nest = Search { effort: cutting.effort.unwrap_or(search.effort), ..search };
    rollup::Options { lot: cutting.lot.map(NonZeroU32::get), nest }
}

/// Writes the tables of a report in a format that has tables.
fn tables(report: &Report, output: &Output) -> Result<Vec<u8>, Vec<Diagnostic>> {
    match output.format() {
        Format::Csv => Ok(csv::csv(report).into_bytes()),
        Format::Table => Ok(text::text(report, output.table_width()).into_bytes()),
        Format::Xlsx => xlsx::xlsx(report).map_err(|error| vec![error]),
        Format::Json => Err(vec![plain_error(
            "this answer has no JSON form; ask for a table or CSV".to_owned(),
        )]),
        Format::Parquet => {
            Err(vec![plain_error("only the ledger of `rollup` has a Parquet form".to_owned())])
        }
        Format::Html => {
            Err(vec![plain_error("only `report` and `nest` have an HTML form".to_owned())])
        }
        Format::Svg => Err(vec![plain_error("only `nest` has an SVG form".to_owned())]),
    }
}

fn together(mut first: Vec<Diagnostic>, then: Vec<Diagnostic>) -> Vec<Diagnostic> {
    first.extend(then);
    first
}

fn engine_error(error: impl std::fmt::Display) -> Vec<Diagnostic> {
    vec![plain_error(format!("the ledger cannot be summed: {error}"))]
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
        None if io::stdout().is_terminal() => match output.format() {
            Format::Parquet => Err(not_for_terminal("Parquet")),
            Format::Xlsx => Err(not_for_terminal("a workbook")),
            Format::Html => Err(not_for_terminal("a document")),
            Format::Svg => Err(not_for_terminal("a drawing")),
            Format::Table | Format::Csv | Format::Json => Ok(disk),
        },
        _ => Ok(disk),
    }
}

fn not_for_terminal(what: &str) -> Vec<Diagnostic> {
    vec![plain_error(format!("{what} is not for a terminal; name a file with `-o`"))]
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

/// Writes files into a new folder, all of them or none, and returns a list of them.
fn new_folder(folder: &Path, files: &[(String, Vec<u8>)]) -> Result<Vec<u8>, Vec<Diagnostic>> {
    output::save_folder(folder, files).map_err(|error| {
        let reason = disk::in_words(&error);
        vec![plain_error(format!("{} cannot be written: {reason}", folder.display()))]
    })?;
    let lines = files.iter().map(|(name, _)| format!("{}\n", folder.join(name).display()));
    Ok(lines.collect::<String>().into_bytes())
}

fn plain_error(text: String) -> Diagnostic {
    Diagnostic::placeless(Problem::Plain { text })
}

fn print_findings(findings: &[Diagnostic], tells_all: bool) -> io::Result<()> {
    let mut sink = io::BufWriter::new(io::stderr().lock());
    for line in told::lines(findings, tells_all) {
        writeln!(sink, "{line}")?;
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
