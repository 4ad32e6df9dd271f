//! Writes a made-up book of a given size as CSV files, to try how long large books take.
//!
//!     cargo run --release --example generate -- --lines 100000 --plans 300 --items 4000 --seed 1 FOLDER
//!     cargo run --release --example generate -- --lines 1000000 --items 20000 --weeks 52 FOLDER
//!     cargo run --release --example generate -- --lines 1000000 --plain FOLDER
//!     cargo run --release --example generate -- --lines 1000000 --plain --shared FOLDER
//!     cargo run --release --example generate -- --quarter FOLDER

#![expect(clippy::disallowed_methods, reason = "writing files is what it is for")]

mod book;
mod quarter;
mod schedule;

use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::{fs, io};

use clap::Parser;

use book::{Forms, Shape};
use quarter::Quarter;

#[derive(Parser)]
#[expect(clippy::struct_excessive_bools, reason = "each is a switch of the command line")]
struct Arguments {
    /// Folder the files go to; made if it is not there.
    folder: PathBuf,
    /// Bill lines.
    #[arg(long, default_value_t = 100_000)]
    lines: usize,
    /// Plans.
    #[arg(long, default_value_t = 300, value_parser = at_least_one)]
    plans: usize,
    /// Items.
    #[arg(long, default_value_t = 4_000, value_parser = at_least_one)]
    items: usize,
    /// Seed of all choices.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Has sticks and sheets among the items, which are nested; only count, bulk and labor without it.
    #[arg(long)]
    nested: bool,
    /// Has whole numbers of counted items only, no formulas and no options: what any engine can explode.
    #[arg(long, conflicts_with = "nested")]
    plain: bool,
    /// Lets plans and assemblies take any assembly of the level below them, so that a plan reaches a tenth of the book.
    #[arg(long)]
    shared: bool,
    /// Has a unit of every plan built in each of so many weeks, and some stock of every item.
    #[arg(long, value_name = "N")]
    weeks: Option<u32>,
    /// Writes a quarter of builds instead: 10 plans, 12 weeks, 3,000 piece sizes, 200,000 pieces, all to be cut.
    #[arg(long, conflicts_with_all = ["lines", "plans", "items", "nested", "plain", "shared", "weeks"])]
    quarter: bool,
}

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    let shape = Shape {
        lines: arguments.lines,
        plans: arguments.plans,
        items: arguments.items,
        seed: arguments.seed,
        forms: match (arguments.nested, arguments.plain) {
            (true, _) => Forms::Nested,
            (_, true) => Forms::Plain,
            _ => Forms::Measured,
        },
        is_shared: arguments.shared,
    };
    let files = if arguments.quarter {
        quarter::quarter(&Quarter { seed: arguments.seed, ..quarter::USUAL })
    } else {
        let mut files = book::book(&shape);
        if let Some(weeks) = arguments.weeks {
            schedule::add(&mut files, weeks, 1);
        }
        files
    };
    match write(&arguments.folder, files) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            #[expect(clippy::print_stderr, reason = "the user is told")]
            {
                eprintln!("error: {}: {error}", arguments.folder.display());
            }
            ExitCode::from(2)
        }
    }
}

fn write(folder: &Path, files: Vec<(&str, String)>) -> io::Result<()> {
    fs::create_dir_all(folder)?;
    for (name, text) in files {
        fs::write(folder.join(name), text)?;
    }
    Ok(())
}

fn at_least_one(text: &str) -> Result<usize, String> {
    match text.parse() {
        Ok(0) => Err("must be above zero".to_owned()),
        Ok(count) => Ok(count),
        Err(error) => Err(format!("{error}")),
    }
}
