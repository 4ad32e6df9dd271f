//! Runs a target of `fuzz/` over its corpus and over mutations of it, on any toolchain.
//!
//!     cargo run --example fuzz -- TARGET [SECONDS] [SEED] [FOLDER]
//!
//! Without coverage to guide it, this sees less than `cargo fuzz` does, but it needs nothing else, and the same seed makes the
//! same inputs. Inputs that panic, or that take longer than 20 seconds, are written to FOLDER (`fuzz/artifacts`), and the
//! exit code is 1. The last line tells how many inputs were run.

#![expect(
    clippy::disallowed_methods,
    reason = "a driver reads files and the clock; what it drives does not"
)]
#![expect(clippy::print_stdout, reason = "it prints what it found")]

#[expect(unreachable_pub, reason = "the targets are a crate of their own in `fuzz`")]
#[path = "../fuzz/src/lib.rs"]
mod targets;

use std::env;
use std::fs;
use std::panic;
use std::path::{Path, PathBuf};
use std::process::{self, ExitCode};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::{Duration, Instant};

/// An input may take so long.
const LONGEST: Duration = Duration::from_secs(20);
/// No input grows beyond so many bytes.
const MOST_BYTES: usize = 1 << 16;
/// What tends to hurt: limits of numbers, signs, units, words of the tables.
const WORDS: [&str; 40] = [
    "0",
    "-1",
    "1e30",
    "1/0",
    "99999999999999999999",
    "0.000000001",
    "1e400",
    "''",
    "\"",
    "\r\n",
    ",",
    ";",
    "=",
    "(",
    ")",
    "^",
    "%",
    " in",
    " ft",
    " lb",
    " ft2",
    " gal",
    "/",
    "-",
    "½",
    "\u{feff}",
    "\u{a0}",
    "length",
    "openings",
    "each",
    "roll",
    "sheet",
    "linear",
    "cover",
    "fill",
    "run",
    "Plan A",
    "2027-02-30",
    "#1",
    "== ",
];

fn main() -> ExitCode {
    let mut arguments = env::args().skip(1);
    let target = arguments.next().unwrap_or_default();
    let run = match target.as_str() {
        "measure" => targets::measure::run,
        "formula" => targets::formula::run,
        "csv" => targets::csv::run,
        "workbook" => targets::workbook::run,
        "book" => targets::book::run,
        "nest" => targets::nest::run,
        _ => {
            println!("targets are measure, formula, csv, workbook, book and nest");
            return ExitCode::from(2);
        }
    };
    let seconds = arguments.next().and_then(|text| text.parse().ok()).unwrap_or(60);
    let seed = arguments.next().and_then(|text| text.parse().ok()).unwrap_or(1);
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("fuzz");
    let found = arguments.next().map_or_else(|| root.join("artifacts"), PathBuf::from);
    let seeds = corpus(&root.join("corpus").join(&target));
    let current: Running = Arc::default();
    watch(Arc::clone(&current), found.join(format!("{target}-slow-{seed}")));
    let end = Instant::now() + Duration::from_secs(seconds);
    let (mut count, mut faults) = (0_u64, 0_u64);
    let mut random = Random(seed);
    while Instant::now() < end {
        let input = match usize::try_from(count).ok().and_then(|index| seeds.get(index)) {
            Some(seed) => seed.clone(),
            None => mutation(&seeds, &mut random),
        };
        *current.lock().expect("no thread panics with it") = Some((Instant::now(), input.clone()));
        count += 1;
        if panic::catch_unwind(|| run(&input)).is_err() {
            faults += 1;
            write(&found.join(format!("{target}-{seed}-{count}")), &input);
        }
    }
    println!("{target}: {count} inputs, {faults} faults");
    ExitCode::from(u8::from(faults > 0))
}

/// The input that is being run, and since when.
type Running = Arc<Mutex<Option<(Instant, Vec<u8>)>>>;

/// Ends the program where an input takes too long: a thread cannot be stopped from outside.
fn watch(current: Running, path: PathBuf) {
    thread::spawn(move || {
        loop {
            thread::sleep(Duration::from_secs(1));
            let running = current.lock().expect("no thread panics with it").clone();
            if let Some((since, input)) = running
                && since.elapsed() > LONGEST
            {
                println!("an input takes longer than {} seconds", LONGEST.as_secs());
                write(&path, &input);
                process::exit(1);
            }
        }
    });
}

fn write(path: &Path, input: &[u8]) {
    let folder = path.parent().expect("it lies in a folder");
    fs::create_dir_all(folder).expect("the folder can be made");
    fs::write(path, input).expect("the file can be written");
    println!("written: {}", path.display());
}

fn corpus(folder: &Path) -> Vec<Vec<u8>> {
    let files = fs::read_dir(folder).expect("a target has a corpus");
    let mut paths: Vec<PathBuf> =
        files.map(|file| file.expect("a folder is listed").path()).collect();
    paths.sort();
    paths.iter().map(|path| fs::read(path).expect("a file of the corpus is read")).collect()
}

/// Xorshift by Marsaglia (2003), with steps 13, 7 and 17.
struct Random(u64);

impl Random {
    fn below(&mut self, limit: usize) -> usize {
        self.0 |= u64::from(self.0 == 0);
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        usize::try_from(self.0 >> 11).expect("53 bits fit") % limit.max(1)
    }
}

/// Returns a seed with a few changes: bytes, words, lines, cells and pieces of other seeds.
fn mutation(seeds: &[Vec<u8>], random: &mut Random) -> Vec<u8> {
    let mut input = seeds[random.below(seeds.len())].clone();
    for _ in 0..=random.below(6) {
        let at = random.below(input.len() + 1);
        let end = (at + random.below(12)).min(input.len());
        match random.below(8) {
            0 if at < input.len() => input[at] ^= 1 << random.below(8),
            1 if at < input.len() => input[at] = u8::try_from(random.below(256)).unwrap_or(0),
            2 => drop(input.drain(at..end)),
            3 => drop(input.splice(at..end, WORDS[random.below(WORDS.len())].bytes())),
            4 => {
                let part = input[at..end].to_vec();
                input.splice(at..at, part);
            }
            5 => {
                let other = &seeds[random.below(seeds.len())];
                let from = random.below(other.len() + 1);
                let to = (from + random.below(64)).min(other.len());
                input.splice(at..end, other[from..to].iter().copied());
            }
            6 => swap(&mut input, b'\n', random),
            _ => swap(&mut input, b',', random),
        }
    }
    input.truncate(MOST_BYTES);
    input
}

/// Lets one line or cell take the place of another.
fn swap(input: &mut Vec<u8>, separator: u8, random: &mut Random) {
    let parts: Vec<Vec<u8>> = input.split(|byte| *byte == separator).map(<[u8]>::to_vec).collect();
    let (from, to) = (random.below(parts.len()), random.below(parts.len()));
    let mut swapped = parts.clone();
    swapped[to].clone_from(&parts[from]);
    *input = swapped.join(&separator);
}
