//! Laws over the sample: however amounts are grouped, they sum to the same totals, and what is printed adds up.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use polars::prelude::{ParquetReader, SerReader};
use rust_decimal::Decimal;

use crate::run::{Ran, answer, run};

/// The columns that are summed.
const SUMMED: [&str; 3] = ["cost USD", "weight lb", "purchased lb"];

/// Every key the sample book can be summed by; `line` is the finest.
const KEYS: [&str; 14] = [
    "plan",
    "section",
    "assembly",
    "station",
    "line",
    "kind",
    "item",
    "description",
    "form",
    "group",
    "vendor",
    "supply",
    "unit",
    "series",
];

const PAIRS: [&str; 4] = ["plan,item", "station,group", "assembly,line", "series,vendor"];

/// Returns the rows of CSV, by header.
fn rows(text: &str) -> Vec<BTreeMap<String, String>> {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    reader.deserialize().map(Result::unwrap).collect()
}

fn decimal(text: &str) -> Decimal {
    text.replace(',', "").parse().unwrap()
}

fn sums(text: &str) -> [Decimal; 3] {
    let rows = rows(text);
    SUMMED.map(|column| rows.iter().map(|row| decimal(&row[column])).sum())
}

#[test]
fn every_grouping_has_the_same_totals() {
    // The plans' own table has two of them.
    let plans = rows(&answer("fenmark", &["rollup", "--format", "csv"]));
    let total = |column: &str| plans.iter().map(|row| decimal(&row[column])).sum::<Decimal>();
    let (cost, weight) = (total("cost USD"), total("weight lb"));
    assert!(cost > Decimal::from(50_000) && weight > Decimal::from(10_000), "{cost} {weight}");
    let by = |keys: &str| sums(&answer("fenmark", &["rollup", "--by", keys, "--format", "csv"]));
    let [_, _, purchased] = by("plan");
    for keys in KEYS.iter().chain(&PAIRS) {
        assert_eq!(by(keys), [cost, weight, purchased], "{keys}");
    }
}

#[test]
fn no_key_is_left_out_above() {
    let Ran { err, .. } = run(&["rollup", "samples/fenmark", "--by", "qqqqqqqq"]);
    assert!(err.contains(&format!("there are {}\n", KEYS.join(", "))), "{err}");
}

#[test]
fn material_labor_and_burdens_make_the_cost_of_each_plan() {
    for row in rows(&answer("fenmark", &["rollup", "--format", "csv"])) {
        let of = |column: &str| decimal(&row[column]);
        assert_eq!(
            of("material USD") + of("labor USD") + of("burdens USD"),
            of("cost USD"),
            "{row:?}"
        );
    }
}

#[test]
fn printed_columns_add_up_to_the_printed_total() {
    let text = answer("fenmark", &["rollup", "--by", "kind,group"]);
    let lines: Vec<&str> = text.lines().collect();
    let total = lines.iter().position(|line| line.starts_with("total")).unwrap();
    let start = lines.iter().position(|line| line.starts_with('─')).unwrap();
    let figures = |line: &str| {
        let words: Vec<&str> = line.split_whitespace().collect();
        // From the right: purchased, weight, share, cost.
        [4, 2, 1].map(|back| decimal(words[words.len() - back]))
    };
    let mut sums = [Decimal::ZERO; 3];
    for line in lines[start + 1..total].iter().filter(|line| !line.starts_with('─')) {
        for (sum, figure) in sums.iter_mut().zip(figures(line)) {
            *sum += figure;
        }
    }
    assert_eq!(sums, figures(lines[total]));
}

#[test]
fn the_parquet_file_holds_the_same_total() {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR"));
    let file = folder.join("sample.parquet");
    let name = file.to_str().unwrap();
    answer("fenmark", &["rollup", "--plan", "Carex 24", "-o", name]);
    let frame = ParquetReader::new(fs::File::open(&file).unwrap()).finish().unwrap();
    let column = frame.column("cost").unwrap().decimal().unwrap();
    let units: i128 = column.physical().iter().map(Option::unwrap).sum();
    let sum = Decimal::from_i128_with_scale(units, u32::try_from(column.scale()).unwrap());
    let csv =
        answer("fenmark", &["rollup", "--plan", "Carex 24", "--by", "plan", "--format", "csv"]);
    assert_eq!([sum], sums(&csv)[..1]);
    assert!(frame.height() > 400, "{}", frame.height());
}
