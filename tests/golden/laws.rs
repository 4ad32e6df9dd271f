//! Laws over the sample: however amounts are grouped, they sum to the same totals, and what is printed adds up.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use polars::prelude::{DataFrame, ParquetReader, SerReader};
use rust_decimal::Decimal;

use cutbill::explode::{self, Needs};
use cutbill::model::Book;
use cutbill::nest;
use cutbill::price;
use cutbill::read::{self, Memory};
use cutbill::render::{csv as render, report, text};
use cutbill::rollup::{self, Key, Rollup};
use cutbill::watch::Silent;

use crate::run::{Ran, answer, run};

/// The columns that are summed.
const SUMMED: [&str; 3] = ["cost USD", "weight lb", "purchased lb"];

/// Every key the sample book can be summed by; `line` is the finest.
const KEYS: [&str; 16] = [
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
    "requires",
    "rated",
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

/// The sample, exploded and rolled up once for all its laws.
struct Sample {
    book: Book,
    needs: Needs,
    rolled: Rollup,
}

impl Sample {
    #[expect(clippy::disallowed_methods, reason = "a test reads the tree it tests")]
    fn new() -> Sample {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples/fenmark");
        let mut files = Memory::default();
        for entry in fs::read_dir(folder).unwrap() {
            let file = entry.unwrap().path();
            if file.extension().is_some_and(|extension| extension == "csv") {
                let name = file.file_name().unwrap().to_str().unwrap().to_owned();
                files.0.insert(name, fs::read(&file).unwrap());
            }
        }
        let book = read::read(&files).unwrap().value;
        let needs = explode::explode(&book, &explode::Options::default()).unwrap().value;
        let nest = nest::Options { effort: 1, ..nest::Options::default() };
        let options = rollup::Options { lot: Some(1), nest };
        let rolled = rollup::rollup(&book, &needs, options, &Silent).unwrap().value;
        Sample { book, needs, rolled }
    }

    /// Returns the report of the amounts summed by keys.
    fn by(&self, names: &str) -> report::Report {
        let known = rollup::keys(&self.book);
        let key = |name| known.iter().find(|key| key.name() == name).unwrap().clone();
        let keys: Vec<Key> = names.split(',').map(key).collect();
        let ledger = rollup::ledger(&self.book, &self.needs, &self.rolled, &keys).unwrap();
        let grouping = rollup::group(&ledger, &keys).unwrap();
        report::grouping(&self.book, &self.needs, &self.rolled, &grouping)
    }
}

#[test]
fn every_grouping_has_the_same_totals() {
    let sample = Sample::new();
    let by = |keys: &str| sums(&render::csv(&sample.by(keys)));
    // What the plans cost and weigh is summed before there is a ledger.
    let plans = &sample.rolled.builds;
    let cost: i128 = plans.iter().map(rollup::BuildCost::cost).sum();
    let weight: i128 = plans.iter().map(rollup::BuildCost::weight).sum();
    let [cost, weight] = [cost, weight].map(|sum| Decimal::from_i128_with_scale(sum, 4));
    assert!(cost > Decimal::from(50_000) && weight > Decimal::from(10_000), "{cost} {weight}");
    let [_, _, purchased] = by("plan");
    for keys in KEYS.iter().chain(&PAIRS) {
        assert_eq!(by(keys), [cost, weight, purchased], "{keys}");
        let text = text::text(&sample.by(keys), None);
        let total = text.lines().find(|line| line.starts_with("total ")).unwrap();
        let figures: Vec<&str> = total.split_whitespace().skip(1).collect();
        // Cost, share, weight, purchased weight.
        assert_eq!([0, 2, 3].map(|at| decimal(figures[at])), [cost, weight, purchased], "{keys}");
    }
}

#[test]
fn no_key_is_left_out_above() {
    let Ran { err, .. } = run(&["rollup", "samples/fenmark", "--by", "qqqqqqqq"]);
    assert!(err.contains(&format!("there are {}\n", KEYS.join(", "))), "{err}");
}

#[test]
fn material_labor_and_burdens_make_the_cost_of_each_plan() {
    let plans = ["rollup", "--plan", "Sedge 18", "--plan", "Carex 24", "--format", "csv"];
    let rows = rows(&answer("fenmark", &plans));
    assert_eq!(rows.len(), 2);
    for row in rows {
        let of = |column: &str| decimal(&row[column]);
        let sum = of("material USD") + of("labor USD") + of("burdens USD");
        assert_eq!(sum, of("cost USD"), "{row:?}");
    }
}

/// Returns the figures of a row from a column on, those that are there.
fn figures(row: &[report::Cell], from: usize) -> Vec<Decimal> {
    row[from..].iter().map(|cell| decimal(&cell.plain)).collect()
}

#[test]
fn what_is_printed_of_costs_and_prices_foots_and_crossfoots() {
    let sample = Sample::new();
    let options = price::Options::default();
    let priced = price::price(&sample.book, &sample.needs, &sample.rolled, &options);
    let sheet = priced.unwrap().value;
    let found = report::Priced {
        sheet: &sheet,
        lots: None,
        options: None,
        cases: None,
        swings: None,
        ranges: None,
        ledger: None,
    };
    let report = report::price(&sample.book, &sample.needs, &found);
    let sheets: Vec<&report::Table> =
        report.tables.iter().filter(|table| table.title.contains(": cost sheet")).collect();
    assert_eq!(sheets.len(), 3);
    for table in sheets {
        for column in ["unit USD", "subtotal USD"] {
            let at = table.columns.iter().position(|known| known.title == column).unwrap();
            let rows = table.rows.iter().chain(&table.totals[..1]);
            let cells = rows.map(|row| &row[at].plain).filter(|plain| !plain.is_empty());
            let sum: Decimal = cells.map(|plain| decimal(plain)).sum();
            assert_eq!(sum, decimal(&table.totals[1][at].plain), "{}, {column}", table.title);
        }
    }
    let title = "Cost of one unit of each plan";
    let summary = report.tables.iter().find(|table| table.title == title).unwrap();
    let mut sums = vec![Decimal::ZERO; summary.columns.len() - 1];
    for row in summary.rows.iter().chain(&summary.totals) {
        let figures = figures(row, 1);
        let (cost, parts) = figures.split_last().unwrap();
        assert_eq!(parts.iter().sum::<Decimal>(), *cost, "{row:?}");
    }
    for row in &summary.rows {
        sums.iter_mut().zip(figures(row, 1)).for_each(|(sum, figure)| *sum += figure);
    }
    assert_eq!(sums, figures(&summary.totals[0], 1));
}

/// Reads a file of Parquet.
#[expect(clippy::disallowed_methods, reason = "a test reads its own files")]
fn parquet(file: &Path) -> DataFrame {
    ParquetReader::new(fs::File::open(file).unwrap()).finish().unwrap()
}

/// Sums a decimal column.
fn total(frame: &DataFrame, column: &str) -> Decimal {
    let column = frame.column(column).unwrap().decimal().unwrap();
    let units: i128 = column.physical().iter().map(Option::unwrap).sum();
    Decimal::from_i128_with_scale(units, u32::try_from(column.scale()).unwrap())
}

#[test]
fn the_parquet_file_holds_the_same_total() {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR"));
    let file = folder.join("sample.parquet");
    let name = file.to_str().unwrap();
    answer("fenmark", &["rollup", "--plan", "Sedge 18", "-o", name]);
    let frame = parquet(&file);
    let csv =
        answer("fenmark", &["rollup", "--plan", "Sedge 18", "--by", "plan", "--format", "csv"]);
    assert_eq!([total(&frame, "cost")], sums(&csv)[..1]);
    assert!(frame.height() > 300, "{}", frame.height());
}

#[test]
fn the_dataset_has_a_folder_for_each_plan_with_the_same_totals() {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("dataset");
    let _ = fs::remove_dir_all(&folder);
    let told = answer("fenmark", &["rollup", "--dataset", folder.to_str().unwrap()]);
    let by_plan = rows(&answer("fenmark", &["rollup", "--by", "plan", "--format", "csv"]));
    assert_eq!(fs::read_dir(&folder).unwrap().count(), by_plan.len());
    let mut files = String::new();
    for row in &by_plan {
        let file = folder.join(format!("plan={}", row["plan"])).join("part-0.parquet");
        files.push_str(&format!("{}\n", file.display()));
        let frame = parquet(&file);
        let totals = ["cost", "weight", "purchased_weight"].map(|name| total(&frame, name));
        assert_eq!(totals, SUMMED.map(|name| decimal(&row[name])));
        // The plan stands in the name of the folder alone.
        let names: Vec<&str> = frame.get_column_names().iter().map(|name| name.as_str()).collect();
        let amounts = ["quantity", "cost", "weight", "purchased_weight"];
        let origin = ["revision", "day", "digest", "currency", "weight_unit", "options", "lot"]
            .map(|name| format!("book_{name}"));
        let origin = origin.iter().map(String::as_str);
        let expected: Vec<&str> = KEYS[1..].iter().copied().chain(amounts).chain(origin).collect();
        assert_eq!(names, expected);
        for name in amounts {
            let column = frame.column(name).unwrap().decimal().unwrap();
            assert_eq!((column.precision(), column.scale()), (38, 4));
        }
        let text = |name: &str| frame.column(name).unwrap().str().unwrap().get(0).unwrap();
        assert_eq!(
            ["book_revision", "book_day", "book_currency", "book_weight_unit"].map(text),
            ["2027-C", "2027-03-01", "USD", "lb"]
        );
        assert_eq!(frame.column("book_lot").unwrap().i64().unwrap().get(0), Some(1));
    }
    assert_eq!(told, files);
}

#[test]
fn a_dataset_has_the_columns_asked_for_and_never_goes_where_something_is() {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("small_dataset");
    let _ = fs::remove_dir_all(&folder);
    let name = folder.to_str().unwrap();
    let arguments = ["rollup", "samples/starter", "--lot", "1", "--effort", "1"];
    let question = [&arguments[..], &["--by", "plan,item", "--dataset", name]].concat();
    assert_eq!(run(&question).code, 0);
    let frame = parquet(&folder.join("plan=Model 16/part-0.parquet"));
    assert_eq!(frame.get_column_names()[..2], ["item", "quantity"]);
    let Ran { code, out, err } = run(&question);
    let told = format!("error: {name} cannot be written: the folder is not empty");
    assert_eq!((code, out.as_str(), err.lines().last()), (2, "", Some(told.as_str())));
}
