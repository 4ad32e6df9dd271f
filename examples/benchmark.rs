//! Measures nesting on published instances and prints one line of CSV per instance.
//!
//!     cargo run --release --example benchmark -- --variant fixed-guillotine FILE..
//!
//! Reads files (or folders of files) of instances in the plain formats of the field: `instance NAME CAPACITY M` with
//! lines `LENGTH DEMAND` (one stock length), `instance NAME K M` with lines `stock LENGTH AVAILABLE COST` and
//! `item LENGTH DEMAND` (several), `instance NAME WIDTH HEIGHT M` with lines `W H DEMAND` (sheets; a height of zero is a
//! roll), and `instance NAME K M` with lines `bin W H AVAILABLE COST` and `item W H DEMAND` (several sheet sizes). One
//! unit of a file is one millimeter. No data comes with the program.

use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::{Duration, Instant};

use clap::{Parser, ValueEnum};
use cutbill::model::Edges;
use cutbill::nest::check::check;
use cutbill::nest::{self, Ending, Instance, Kind, Nest, Options, Piece, Stock};
use cutbill::quantity::{Length, Ratio};
use cutbill::watch::Watch;

#[derive(Parser)]
struct Arguments {
    /// Files or folders of instances.
    #[arg(required = true)]
    paths: Vec<PathBuf>,
    /// How sheets are cut and whether pieces may be turned.
    #[arg(long, value_enum, default_value = "fixed-guillotine")]
    variant: Variant,
    /// Stops a nest after so many seconds.
    #[arg(long)]
    seconds: Option<u64>,
    /// Work allowed for each instance.
    #[arg(long, default_value_t = 10)]
    effort: u32,
    /// Seed of the random choices.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Takes every n-th instance only.
    #[arg(long, default_value_t = 1)]
    every: usize,
    /// Takes instances whose name begins so.
    #[arg(long, default_value = "")]
    name: String,
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Variant {
    FixedGuillotine,
    RotatedGuillotine,
    FixedFree,
    RotatedFree,
}

impl Variant {
    fn may_turn(self) -> bool {
        matches!(self, Variant::RotatedGuillotine | Variant::RotatedFree)
    }

    fn kind(self) -> Kind {
        match self {
            Variant::FixedGuillotine | Variant::RotatedGuillotine => Kind::Guillotine,
            Variant::FixedFree | Variant::RotatedFree => Kind::Free,
        }
    }

    fn name(self, kind: Kind) -> &'static str {
        match (kind, self) {
            (Kind::Linear, _) => "linear",
            (Kind::Roll, _) if self.may_turn() => "roll rotated",
            (Kind::Roll, _) => "roll fixed",
            (_, Variant::FixedGuillotine) => "guillotine fixed",
            (_, Variant::RotatedGuillotine) => "guillotine rotated",
            (_, Variant::FixedFree) => "free fixed",
            (_, Variant::RotatedFree) => "free rotated",
        }
    }
}

/// Stops at a time.
struct Deadline(Option<Instant>);

impl Watch for Deadline {
    fn progress(&self, _stage: &str, _done: usize, _total: usize) {}

    fn is_stopped(&self) -> bool {
        self.0.is_some_and(|end| now() >= end)
    }
}

#[expect(clippy::disallowed_methods, reason = "a benchmark measures time")]
fn now() -> Instant {
    Instant::now()
}

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    match run(&arguments) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            report(&error);
            ExitCode::from(2)
        }
    }
}

#[expect(clippy::print_stderr, reason = "errors of a program go to stderr")]
fn report(error: &str) {
    eprintln!("error: {error}");
}

#[expect(clippy::print_stdout, reason = "the measurements are the output")]
fn run(arguments: &Arguments) -> Result<(), String> {
    println!("instance,variant,value,bound,proven,seconds");
    for file in files(&arguments.paths)? {
        for (name, instance) in
            parse(&file, arguments.variant)?.into_iter().step_by(arguments.every)
        {
            if !name.starts_with(&arguments.name) {
                continue;
            }
            let start = now();
            let watch = Deadline(arguments.seconds.map(|limit| start + Duration::from_secs(limit)));
            let options = Options { effort: arguments.effort, seed: arguments.seed };
            let nest = nest::nest(&instance, options, &watch);
            let seconds = start.elapsed().as_secs_f64();
            verify(&name, &instance, &nest)?;
            println!(
                "{name},{},{},{},{},{seconds:.3}",
                arguments.variant.name(instance.kind),
                nest.cost,
                nest.bound.cost,
                if nest.ending == Ending::Proven { "yes" } else { "no" },
            );
        }
    }
    Ok(())
}

/// Refuses a nest that breaks a rule; reports one that leaves pieces out.
fn verify(name: &str, instance: &Instance, nest: &Nest) -> Result<(), String> {
    check(instance, nest).map_err(|faults| format!("{name}: {}", faults.join("; ")))?;
    if !nest.unplaced.is_empty() {
        report(&format!("{name}: some pieces are not placed"));
    }
    Ok(())
}

fn files(paths: &[PathBuf]) -> Result<Vec<PathBuf>, String> {
    let mut files = Vec::new();
    for path in paths {
        if path.is_dir() {
            let entries = std::fs::read_dir(path)
                .map_err(|error| format!("{}: {error}", path.display()))?
                .flatten()
                .map(|entry| entry.path());
            files.extend(entries.filter(|file| file.extension().is_some_and(|end| end == "txt")));
        } else {
            files.push(path.clone());
        }
    }
    files.sort();
    Ok(files)
}

#[expect(clippy::disallowed_methods, reason = "the program reads its input")]
fn parse(path: &Path, variant: Variant) -> Result<Vec<(String, Instance)>, String> {
    let text =
        std::fs::read_to_string(path).map_err(|error| format!("{}: {error}", path.display()))?;
    let mut instances: Vec<(String, Instance)> = Vec::new();
    let plain = |line: &'_ str| line.split('#').next().unwrap_or("").trim().to_owned();
    let mut lines =
        text.lines().map(plain).enumerate().filter(|(_, line)| !line.is_empty()).peekable();
    while let Some((index, line)) = lines.next() {
        let fault = || format!("{}:{}: `{line}` is not understood", path.display(), index + 1);
        let words: Vec<&str> = line.split_whitespace().collect();
        if words[0] == "instance" {
            let name = (*words.get(1).ok_or_else(fault)?).to_owned();
            let numbers = numbers(&words[2..]).ok_or_else(fault)?;
            let next = lines.peek().and_then(|(_, line)| line.split_whitespace().next());
            let instance = begun(&numbers, next.unwrap_or(""), variant).ok_or_else(fault)?;
            instances.push((name, instance));
        } else {
            let (_, instance) = instances.last_mut().ok_or_else(fault)?;
            add(instance, &words, variant).ok_or_else(fault)?;
        }
    }
    for (name, instance) in &mut instances {
        merge(instance);
        if instance.stocks.is_empty() {
            return Err(format!("{}: `{name}` has no stock", path.display()));
        }
    }
    Ok(instances)
}

fn numbers(words: &[&str]) -> Option<Vec<i64>> {
    words.iter().map(|word| word.parse().ok()).collect()
}

fn millimeters(count: i64) -> Length {
    Length::MILLIMETER * count
}

/// Begins an instance by the numbers of its first line and the first word of its second.
fn begun(numbers: &[i64], next: &str, variant: Variant) -> Option<Instance> {
    let (kind, stocks) = match (numbers, next) {
        ([_, _], "stock") => (Kind::Linear, Vec::new()),
        ([_, _], "bin") => (variant.kind(), Vec::new()),
        ([length, _], _) => (Kind::Linear, vec![stock(*length, 0, -1, 1)]),
        // A roll as long as all its pieces; one that is charged by length costs its length.
        ([width, 0, _], _) => (Kind::Roll, vec![stock(0, *width, -1, 0)]),
        ([length, width, _], _) => (variant.kind(), vec![stock(*length, *width, -1, 1)]),
        _ => return None,
    };
    Some(Instance { charges_length: kind == Kind::Roll, ..Instance::new(kind, stocks, Vec::new()) })
}

fn add(instance: &mut Instance, words: &[&str], variant: Variant) -> Option<()> {
    let is_named = words[0].parse::<i64>().is_err();
    let numbers = numbers(&words[usize::from(is_named)..])?;
    let is_stock = matches!(words[0], "stock" | "bin");
    match (is_stock, numbers.as_slice()) {
        (true, [length, available, cost]) => {
            instance.stocks.push(stock(*length, 0, *available, *cost));
        }
        (true, [length, width, available, cost]) => {
            instance.stocks.push(stock(*length, *width, *available, *cost));
        }
        (false, [length, count]) => {
            instance.pieces.push(piece(*length, 0, u64::try_from(*count).ok()?, false));
        }
        (false, [length, width, count]) if instance.kind == Kind::Roll => {
            // The strip's width runs across the roll; its height along it.
            let count = u64::try_from(*count).ok()?;
            instance.pieces.push(piece(*width, *length, count, variant.may_turn()));
            let longest = (*length).max(*width) * i64::try_from(count).ok()?;
            let roll = &mut instance.stocks[0];
            roll.length = roll.length + millimeters(longest);
            roll.cost = Ratio::from(roll.length.nanometers() / 1_000_000);
        }
        (false, [length, width, count]) => {
            let count = u64::try_from(*count).ok()?;
            instance.pieces.push(piece(*length, *width, count, variant.may_turn()));
        }
        _ => return None,
    }
    Some(())
}

fn stock(length: i64, width: i64, available: i64, cost: i64) -> Stock {
    Stock {
        length: millimeters(length),
        width: millimeters(width),
        cost: Ratio::from(cost),
        available: u64::try_from(available).ok(),
    }
}

fn piece(length: i64, width: i64, count: u64, may_turn: bool) -> Piece {
    Piece {
        length: millimeters(length),
        width: millimeters(width),
        count,
        may_turn,
        edges: Edges::None,
    }
}

/// Joins pieces of the same size.
fn merge(instance: &mut Instance) {
    let mut merged: Vec<Piece> = Vec::new();
    for piece in &instance.pieces {
        match merged
            .iter_mut()
            .find(|known| (known.length, known.width) == (piece.length, piece.width))
        {
            Some(known) => known.count += piece.count,
            None => merged.push(piece.clone()),
        }
    }
    instance.pieces = merged;
}
