//! Measures nesting on published instances and prints one line of CSV per instance.
//!
//!     cargo run --release --example benchmark -- --variant fixed-guillotine FILE..
//!
//! Reads files (or folders of files) of instances in the plain formats of the field: `instance NAME CAPACITY M` with
//! lines `LENGTH DEMAND` (one stock length), `instance NAME K M` with lines `stock LENGTH AVAILABLE COST` and
//! `item LENGTH DEMAND` (several), `instance NAME WIDTH HEIGHT M` with lines `W H DEMAND` (sheets; a height of zero is a
//! roll), and `instance NAME K M` with lines `bin W H AVAILABLE COST` and `item W H DEMAND` (several sheet sizes). One
//! unit of a file is one millimeter. No data comes with the program.
//!
//! One instance at a time is nested, by one core unless `RAYON_NUM_THREADS` says otherwise, so processor time is what
//! `--seconds` limits where the system tells it. A long run goes on where it was cut off: `--resume RECORD.csv` keeps a
//! record of the best values and their seconds, nests the instances that it lacks or that had less time and were not
//! proven, and prints its sums.

#![expect(clippy::float_arithmetic, reason = "a benchmark reckons with seconds")]

use std::fmt;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

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
    /// Stops a nest after so many seconds of processor time.
    #[arg(long)]
    seconds: Option<f64>,
    /// Goes on with this record, instead of printing measurements.
    #[arg(long, value_name = "RECORD.csv")]
    resume: Option<PathBuf>,
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

    fn roll(self) -> Kind {
        if self.kind() == Kind::Free { Kind::FreeRoll } else { Kind::Roll }
    }

    fn name(self, kind: Kind) -> &'static str {
        match (kind, self) {
            (Kind::Linear, _) => "linear",
            (Kind::Roll, _) if self.may_turn() => "roll rotated",
            (Kind::Roll, _) => "roll fixed",
            (Kind::FreeRoll, _) if self.may_turn() => "free roll rotated",
            (Kind::FreeRoll, _) => "free roll fixed",
            (_, Variant::FixedGuillotine) => "guillotine fixed",
            (_, Variant::RotatedGuillotine) => "guillotine rotated",
            (_, Variant::FixedFree) => "free fixed",
            (_, Variant::RotatedFree) => "free rotated",
        }
    }
}

/// Stops at a time of the processor.
struct Deadline(Option<f64>);

impl Watch for Deadline {
    fn progress(&self, _stage: &str, _done: usize, _total: usize) {}

    fn is_stopped(&self) -> bool {
        self.0.is_some_and(|end| processor_seconds() >= end)
    }
}

/// Returns the processor time of this program so far; where the system does not tell it, the time since the epoch.
#[expect(clippy::disallowed_methods, reason = "a benchmark measures time")]
fn processor_seconds() -> f64 {
    // Fields 14 and 15, counted in hundredths of a second; the name of the program, which may hold spaces, is field 2.
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let fields = stat.rsplit(')').next().unwrap_or("").split_whitespace();
    let ticks: Vec<f64> = fields.skip(11).take(2).filter_map(|field| field.parse().ok()).collect();
    match ticks.as_slice() {
        [user, system] => (user + system) / 100.0,
        _ => std::time::SystemTime::now()
            .duration_since(std::time::UNIX_EPOCH)
            .map_or(0.0, |since| since.as_secs_f64()),
    }
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
    let mut record = match &arguments.resume {
        Some(path) => Some(Record::open(path)?),
        None => {
            println!("{HEADER}");
            None
        }
    };
    for file in files(&arguments.paths)? {
        for (name, instance) in
            parse(&file, arguments.variant)?.into_iter().step_by(arguments.every)
        {
            let variant = arguments.variant.name(instance.kind);
            let is_done = record.as_ref().is_some_and(|record| {
                record.lines.iter().any(|line| {
                    line.is_of(&name, variant)
                        && (line.is_proven || line.limit >= arguments.seconds)
                })
            });
            if is_done || !name.starts_with(&arguments.name) {
                continue;
            }
            let start = processor_seconds();
            let watch = Deadline(arguments.seconds.map(|limit| start + limit));
            let options = Options { effort: arguments.effort, seed: arguments.seed };
            let nest = nest::nest(&instance, options, &watch);
            let seconds = processor_seconds() - start;
            verify(&name, &instance, &nest)?;
            let line = Line {
                name,
                variant: variant.to_owned(),
                value: nest.cost,
                bound: nest.bound.cost,
                is_proven: nest.ending == Ending::Proven,
                seconds,
                limit: arguments.seconds,
            };
            match &mut record {
                Some(record) => record.add(line)?,
                None => println!("{line}"),
            }
        }
    }
    if let Some(record) = record {
        print!("{}", record.sums());
    }
    Ok(())
}

const HEADER: &str = "instance,variant,value,bound,proven,seconds,limit";

/// What was measured of one instance.
struct Line {
    name: String,
    variant: String,
    value: Ratio,
    bound: Ratio,
    is_proven: bool,
    /// Processor time that the value took.
    seconds: f64,
    /// Processor time allowed.
    limit: Option<f64>,
}

impl Line {
    fn is_of(&self, name: &str, variant: &str) -> bool {
        self.name == name && self.variant == variant
    }

    fn parse(text: &str) -> Option<Line> {
        let words: Vec<&str> = text.split(',').collect();
        let [name, variant, value, bound, proven, seconds, limit] = words.as_slice() else {
            return None;
        };
        Some(Line {
            name: (*name).to_owned(),
            variant: (*variant).to_owned(),
            value: ratio(value)?,
            bound: ratio(bound)?,
            is_proven: *proven == "yes",
            seconds: seconds.parse().ok()?,
            limit: limit.parse().ok(),
        })
    }
}

/// Reads a number or a fraction.
fn ratio(text: &str) -> Option<Ratio> {
    let (numerator, denominator) = text.split_once('/').unwrap_or((text, "1"));
    Ratio::new(numerator.parse().ok()?, denominator.parse().ok()?)
}

impl fmt::Display for Line {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Line { name, variant, value, bound, is_proven, seconds, limit } = self;
        let proven = if *is_proven { "yes" } else { "no" };
        write!(f, "{name},{variant},{value},{bound},{proven},{seconds:.2},")?;
        limit.map_or(Ok(()), |limit| write!(f, "{limit}"))
    }
}

/// Measurements in a file.
struct Record {
    path: PathBuf,
    lines: Vec<Line>,
}

impl Record {
    #[expect(clippy::disallowed_methods, reason = "the program reads its record")]
    fn open(path: &Path) -> Result<Record, String> {
        let mut lines = Vec::new();
        if path.exists() {
            let text = std::fs::read_to_string(path)
                .map_err(|error| format!("{}: {error}", path.display()))?;
            for (index, line) in text.lines().enumerate().skip(1) {
                let fault =
                    || format!("{}:{}: `{line}` is no measurement", path.display(), index + 1);
                lines.push(Line::parse(line).ok_or_else(fault)?);
            }
        }
        Ok(Record { path: path.to_owned(), lines })
    }

    /// Adds a line, or betters one, and writes the whole file anew, so that a cut-off run leaves whole lines.
    #[expect(clippy::disallowed_methods, reason = "the program keeps its record")]
    fn add(&mut self, line: Line) -> Result<(), String> {
        match self.lines.iter_mut().find(|known| known.is_of(&line.name, &line.variant)) {
            Some(known) if known.value < line.value => known.limit = line.limit,
            Some(known) => *known = line,
            None => self.lines.push(line),
        }
        let mut text = format!("{HEADER}\n");
        for line in &self.lines {
            text.push_str(&format!("{line}\n"));
        }
        let next = self.path.with_extension("part");
        std::fs::write(&next, text)
            .and_then(|()| std::fs::rename(&next, &self.path))
            .map_err(|error| format!("{}: {error}", self.path.display()))
    }

    /// Returns sums by variant.
    fn sums(&self) -> String {
        let mut variants: Vec<&str> = self.lines.iter().map(|line| line.variant.as_str()).collect();
        variants.sort_unstable();
        variants.dedup();
        let mut text = String::from("variant,instances,value,bound,proven,seconds\n");
        for variant in variants {
            let lines: Vec<&Line> =
                self.lines.iter().filter(|line| line.variant == variant).collect();
            let value: Ratio = lines.iter().map(|line| line.value.clone()).sum();
            let bound: Ratio = lines.iter().map(|line| line.bound.clone()).sum();
            let proven = lines.iter().filter(|line| line.is_proven).count();
            let seconds: f64 = lines.iter().map(|line| line.seconds).sum();
            let count = lines.len();
            text.push_str(&format!("{variant},{count},{value},{bound},{proven},{seconds:.0}\n"));
        }
        text
    }
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
        ([width, 0, _], _) => (variant.roll(), vec![stock(0, *width, -1, 0)]),
        ([length, width, _], _) => (variant.kind(), vec![stock(*length, *width, -1, 1)]),
        _ => return None,
    };
    Some(Instance { charges_length: kind.is_roll(), ..Instance::new(kind, stocks, Vec::new()) })
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
        (false, [length, width, count]) if instance.kind.is_roll() => {
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
