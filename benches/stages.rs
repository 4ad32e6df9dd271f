//! Measures the stages on fixed books: time of each, peak memory, and what nests use against their bounds.
//!
//!     cargo bench --bench stages -- [sample|large|lines|orders|quarter|growth] [LOT, LINES or EFFORT]

#![expect(clippy::disallowed_methods, reason = "a measurement reads files and the clock")]
#![expect(clippy::print_stdout, reason = "the measurements are printed")]

#[path = "../examples/generate/book.rs"]
mod book;
#[path = "../examples/generate/quarter.rs"]
mod quarter;
#[path = "../examples/generate/schedule.rs"]
mod schedule;

use std::path::Path;
use std::time::{Duration, Instant};
use std::{env, fmt, fs};

use cutbill::explode::{self, Needs, Take};
use cutbill::model::Book;
use cutbill::nest::{Ending, Kind};
use cutbill::orders;
use cutbill::quantity::{Ratio, Rounding};
use cutbill::read::{self, Memory};
use cutbill::rollup::{self, Key, Rollup};
use cutbill::watch::Silent;

use book::{Forms, Shape};
use quarter::Quarter;

/// The generated book.
const LARGE: Shape = Shape {
    lines: 100_000,
    plans: 300,
    items: 4_000,
    seed: 1,
    forms: Forms::Measured,
    is_shared: false,
};

/// The same with many items, for planning a year of builds.
const WIDE: Shape = Shape { items: 20_000, ..LARGE };

const NAMES: [&str; 6] = ["sample", "large", "lines", "orders", "quarter", "growth"];

/// Effort of the nests of a quarter.
const POOL_EFFORT: u32 = 300;

fn main() {
    // Cargo itself passes `--bench`.
    let words: Vec<String> = env::args().skip(1).filter(|word| !word.starts_with("--")).collect();
    let asks = |name: &str| {
        let named = words.iter().any(|word| word == name);
        let is_name = |word: &String| NAMES.contains(&word.as_str());
        // These take a minute each, so they are asked for by name.
        named || (!matches!(name, "lines" | "quarter" | "growth") && !words.iter().any(is_name))
    };
    let lot: Option<u32> = words.iter().find_map(|word| word.parse().ok());
    // The large book comes first, since peak memory never falls.
    if asks("large") {
        measure("generated, 100,000 lines", &generated(&LARGE), lot);
    }
    if asks("lines") {
        let lines = words.iter().find_map(|word| word.parse().ok()).unwrap_or(1_000_000);
        measure(
            &format!("generated, {lines} lines"),
            &generated(&Shape { lines, ..WIDE }),
            Some(1),
        );
    }
    if asks("orders") {
        for units in [1, 1_000] {
            plan(&format!("orders of a year, builds of {units} units"), &scheduled(&WIDE, units));
        }
    }
    if asks("quarter") {
        pool("a quarter", &quarter::USUAL, lot.unwrap_or(POOL_EFFORT));
    }
    if asks("growth") {
        for distinct in [60, 200, 600, 2_000, 6_000] {
            let pieces = 100 * distinct;
            let shape = Quarter { distinct, pieces, items: 2, ..quarter::USUAL };
            pool(
                &format!("{distinct} sizes of one stick and one sheet"),
                &shape,
                lot.unwrap_or(10),
            );
        }
    }
    if asks("sample") {
        plan("orders of the sample", &folder("samples/fenmark"));
        measure("sample", &folder("samples/fenmark"), lot);
    }
}

fn measure(name: &str, files: &Memory, lot: Option<u32>) {
    let bytes: usize = files.0.values().map(Vec::len).sum();
    println!("{name}: {bytes} bytes");
    let mut together = Spent::default();
    let mut tell = |stage: &str, spent: Spent, what: &str| {
        together.wall += spent.wall;
        together.processor += spent.processor;
        println!("  {stage:16} {spent}  peak {:>9}  {what}", memory());
    };
    let (book, time) = timed(|| read::read(files).expect("the book is sound").value);
    tell("read", time, &format!("{} lines, {} plans", book.lines.len(), book.plans.len()));
    let (needs, time) = timed(|| {
        explode::explode(&book, &explode::Options::default()).expect("the bills are sound").value
    });
    tell("explode", time, &explosion(&needs));
    let options = rollup::Options { lot, ..rollup::Options::default() };
    let (rollup, time) = timed(|| {
        rollup::rollup(&book, &needs, options, &Silent).expect("amounts are in range").value
    });
    let amounts: usize = rollup.builds.iter().map(|build| build.items.len()).sum();
    tell("roll up", time, &format!("lot of {}, {amounts} amounts", rollup.lot));
    let (totals, time) = timed(|| totals(&book, &needs, &rollup));
    tell("totals per plan", time, &format!("{} plans, {} in all", totals.0, totals.1));
    println!("  {:16} {together}", "together");
    let ((), time) = timed(|| {
        let keys = [Key::Plan];
        let summed = rollup::summed(&book, &needs, options, &keys, &Silent);
        let summed = summed.expect("amounts are in range").expect("plans part no lines");
        let grouping = summed.value.grouping;
        let cost: i128 = grouping.groups.iter().map(|group| group.cost).sum();
        let of_builds: i128 = rollup.builds.iter().map(rollup::BuildCost::cost).sum();
        assert_eq!(cost, of_builds, "totals foot");
    });
    println!("  {:16} {time}", "summed alone");
    let nests = nests(&rollup);
    if !nests.is_empty() {
        println!("  nests                        {nests}");
    }
}

/// Measures planning the orders of a book.
fn plan(name: &str, files: &Memory) {
    let bytes: usize = files.0.values().map(Vec::len).sum();
    println!("{name}: {bytes} bytes");
    let (book, time) = timed(|| read::read(files).expect("the book is sound").value);
    let what = format!(
        "{} lines, {} plans, {} items, {} builds",
        book.lines.len(),
        book.plans.len(),
        book.items.len(),
        book.schedule.len()
    );
    println!("  {:16} {time}  peak {:>9}  {what}", "read", memory());
    let options = orders::Options {
        nest: cutbill::nest::Options { effort: 2, ..cutbill::nest::Options::default() },
        ..orders::Options::default()
    };
    let (planned, time) =
        timed(|| orders::orders(&book, &options, &Silent).expect("the schedule is sound").value);
    let lines: usize = planned.orders.iter().map(|order| order.lines.len()).sum();
    let what = format!(
        "{} units, {} weeks, {} items, {lines} order lines",
        planned.units,
        planned.weeks.count,
        planned.planned.len()
    );
    println!("  {:16} {time}  peak {:>9}  {what}", "orders", memory());
}

/// Measures planning the orders of a quarter whose weeks are all cut together, and how far each form is from its bounds.
fn pool(name: &str, shape: &Quarter, effort: u32) {
    let files: Memory = quarter::quarter(shape).into_iter().collect();
    let book = read::read(&files).expect("the book is sound").value;
    let options = orders::Options {
        pool: orders::Pool::Horizon,
        skips_comparison: true,
        nest: cutbill::nest::Options { effort, ..cutbill::nest::Options::default() },
        ..orders::Options::default()
    };
    let (planned, time) =
        timed(|| orders::orders(&book, &options, &Silent).expect("the schedule is sound").value);
    println!("{name}, effort {effort}: {time}  peak {:>9}", memory());
    let cuts: Vec<_> = planned.planned.iter().flat_map(|planned| &planned.cuts).collect();
    for kind in [Kind::Linear, Kind::Guillotine] {
        let cuts: Vec<_> = cuts.iter().filter(|cut| cut.instance.kind == kind).collect();
        let sizes: usize = cuts.iter().map(|cut| cut.instance.pieces.len()).sum();
        let pieces = cuts.iter().flat_map(|cut| &cut.instance.pieces);
        let pieces: u64 = pieces.map(|piece| piece.count).sum();
        let cost: Ratio = cuts.iter().map(|cut| cut.nest.cost.clone()).sum();
        let bound: Ratio = cuts.iter().map(|cut| cut.nest.bound.cost.clone()).sum();
        let widest = cuts.iter().map(|cut| cut.nest.gap()).max().unwrap_or(Ratio::ZERO);
        let percent = |share: &Ratio| shown(&(share * &Ratio::whole(100)), 3);
        let gap = (&cost - &bound).checked_div(&bound).unwrap_or(Ratio::ZERO);
        println!(
            "  {kind:?}: {} nests, {sizes} sizes, {pieces} pieces, cost {}, gap {} %, widest {} %",
            cuts.len(),
            shown(&cost, 2),
            percent(&gap),
            percent(&widest),
        );
    }
}

/// Sums the ledger per plan; returns how many there are and the grand total.
fn totals(book: &Book, needs: &Needs, rollup: &Rollup) -> (usize, String) {
    let keys = [Key::Plan];
    let ledger = rollup::ledger(book, needs, rollup, &keys).expect("a valid ledger is built");
    let grouping = rollup::group(&ledger, &keys).expect("a valid ledger is summed");
    let cost: i128 = grouping.groups.iter().map(|group| group.cost).sum();
    let of_builds: i128 = rollup.builds.iter().map(rollup::BuildCost::cost).sum();
    assert_eq!(cost, of_builds, "totals foot");
    (grouping.groups.len(), shown(&Ratio::decimal(cost, rollup.cost_digits), 2))
}

/// Says what the nests buy beside the least they could.
fn nests(rollup: &Rollup) -> String {
    let items = rollup.builds.iter().flat_map(|build| &build.items);
    let nests: Vec<_> = items.filter_map(|item| Some(&item.nested.as_ref()?.nest)).collect();
    let cost: Ratio = nests.iter().map(|nest| nest.cost.clone()).sum();
    let bound: Ratio = nests.iter().map(|nest| nest.bound.cost.clone()).sum();
    let proven = nests.iter().filter(|nest| nest.ending == Ending::Proven).count();
    let Some(ratio) = cost.checked_div(&bound) else { return String::new() };
    let above = shown(&((ratio - Ratio::ONE) * Ratio::whole(100)), 3);
    format!("{} nests, {proven} proven, cost {above} % above the bounds", nests.len())
}

fn explosion(needs: &Needs) -> String {
    // Children stand before their parents, so one pass counts the rows of the indented bills.
    let mut rows: Vec<u128> = Vec::with_capacity(needs.instances.len());
    for instance in &needs.instances {
        let below = instance.lines.iter().map(|line| match line.take {
            Take::Assembly(child) => 1 + rows[child.index()],
            _ => 1,
        });
        rows.push(below.sum());
    }
    let lines: usize = needs.instances.iter().map(|instance| instance.lines.len()).sum();
    let exploded: u128 = needs.builds.iter().map(|build| rows[build.root.index()]).sum();
    format!(
        "{} evaluated parents with {lines} lines, for {exploded} exploded rows",
        needs.instances.len()
    )
}

fn generated(shape: &Shape) -> Memory {
    book::book(shape).into_iter().collect()
}

/// A made-up book with a build of every plan in each week of a year.
fn scheduled(shape: &Shape, units: u32) -> Memory {
    let mut files = book::book(shape);
    schedule::add(&mut files, 52, units);
    files.into_iter().collect()
}

fn folder(path: &str) -> Memory {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join(path);
    let entries = fs::read_dir(folder).expect("the sample is there");
    let files = entries.filter_map(|entry| {
        let path = entry.expect("the sample can be listed").path();
        let name = path.file_name()?.to_str()?.to_owned();
        let is_table = path.extension().is_some_and(|extension| extension == "csv");
        is_table.then(|| (name, fs::read(&path).expect("the sample can be read")))
    });
    files.collect()
}

/// Time a stage took.
#[derive(Clone, Copy, Default)]
struct Spent {
    wall: Duration,
    /// Over all cores, in hundredths of a second; it says more than the wall on a busy machine.
    processor: u64,
}

impl fmt::Display for Spent {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:>6} ms, processor {:>6} ms", self.wall.as_millis(), self.processor * 10)
    }
}

fn timed<T>(work: impl FnOnce() -> T) -> (T, Spent) {
    let (start, before) = (Instant::now(), processor());
    let result = work();
    (result, Spent { wall: start.elapsed(), processor: processor() - before })
}

/// Returns the processor time so far in hundredths of a second, where the system tells it.
fn processor() -> u64 {
    let stat = fs::read_to_string("/proc/self/stat").unwrap_or_default();
    // The name of the program stands in parentheses; user and system time are the 12th and 13th field after it.
    let fields = stat.rsplit(')').next().unwrap_or_default().split_whitespace();
    fields.skip(11).take(2).filter_map(|field| field.parse::<u64>().ok()).sum()
}

/// Returns the most memory held so far, where the system tells it.
fn memory() -> String {
    let status = fs::read_to_string("/proc/self/status").unwrap_or_default();
    let peak = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    let megabytes = peak.and_then(|peak| peak.trim().strip_suffix(" kB")?.parse::<u64>().ok());
    megabytes.map_or_else(String::new, |peak| format!("{} MB", peak / 1024))
}

fn shown(value: &Ratio, digits: u32) -> String {
    value.round(digits, Rounding::HalfEven).map_or_else(String::new, |value| value.to_string())
}
