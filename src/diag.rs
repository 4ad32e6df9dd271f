//! Everything that can be wrong or worth telling, where it is, and how it is worded.
//!
//! A [`Problem`] is data; its one `Display` holds all wording, so that it can be reviewed in one sitting. The library
//! prints nothing: findings travel in [`Checked`] beside a value, or as the error of a stage, in file order.
//!
//! Long because all wording stands in one place.

mod hint;
mod quoted;

use std::fmt;
use std::fmt::Write as _;
use std::hash::{Hash, Hasher};

use indexmap::IndexSet;

use quoted::{Quoted, Short, around};

pub use hint::{did_you_mean, is_slip, nearest, squashed};

/// A place in the input.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Place {
    /// The file as the user named it, relative to the book.
    pub file: String,
    /// The sheet, if the file is a workbook.
    pub sheet: Option<String>,
    /// The row, counted from 1 as a spreadsheet shows it.
    pub row: Option<u32>,
    /// The header of the column, as the user wrote it.
    pub column: Option<String>,
}

/// How much a finding matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// Something worth knowing, such as a column that is not read.
    Note,
    /// Something that may be a mistake; the work goes on.
    Warning,
    /// An answer is missing or incomplete (no price, no size); the work goes on and the exit code says so.
    Gap,
    /// The input cannot be used.
    Error,
}

/// One finding: what, where, and what to do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Diagnostic {
    /// How much it matters.
    pub severity: Severity,
    /// Where it is, if it is anywhere.
    pub place: Option<Place>,
    /// What is wrong.
    pub problem: Problem,
    /// What can be done, if that can be said.
    pub hint: Option<String>,
}

/// A value with the findings made on the way to it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Checked<T> {
    /// The value.
    pub value: T,
    /// The findings, none of them an error, in file order.
    pub warnings: Vec<Diagnostic>,
}

/// Findings that are told once each, however often they are met; in the order they were met first.
#[derive(Clone, Debug, Default)]
pub struct Distinct(IndexSet<ByPlace>);

/// A finding that is looked for by its place, since few have the same.
#[derive(Clone, Debug, PartialEq, Eq)]
struct ByPlace(Diagnostic);

impl Hash for ByPlace {
    fn hash<H: Hasher>(&self, state: &mut H) {
        self.0.place.hash(state);
    }
}

impl Distinct {
    /// Adds a finding unless it is there.
    pub fn insert(&mut self, finding: Diagnostic) {
        self.0.insert(ByPlace(finding));
    }

    /// Returns the findings as they stand.
    pub fn iter(&self) -> impl Iterator<Item = &Diagnostic> {
        self.0.iter().map(|finding| &finding.0)
    }

    /// Tells whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Returns the findings.
    #[must_use]
    pub fn into_vec(self) -> Vec<Diagnostic> {
        self.0.into_iter().map(|finding| finding.0).collect()
    }
}

impl Extend<Diagnostic> for Distinct {
    fn extend<I: IntoIterator<Item = Diagnostic>>(&mut self, findings: I) {
        self.0.extend(findings.into_iter().map(ByPlace));
    }
}

impl Diagnostic {
    /// Returns a finding of this severity.
    #[must_use]
    pub fn new(severity: Severity, place: Place, problem: Problem) -> Diagnostic {
        Diagnostic { severity, place: Some(place), problem, hint: None }
    }

    /// Returns an error that has no place in the input.
    #[must_use]
    pub fn placeless(problem: Problem) -> Diagnostic {
        Diagnostic { severity: Severity::Error, place: None, problem, hint: None }
    }

    /// Returns an error at a place.
    #[must_use]
    pub fn error(place: Place, problem: Problem) -> Diagnostic {
        Diagnostic::new(Severity::Error, place, problem)
    }

    /// Returns the row it is about, whichever column.
    pub(crate) fn row(&self) -> Option<Place> {
        self.place.as_ref().map(|place| Place { column: None, ..place.clone() })
    }

    /// Returns the finding with a hint.
    #[must_use]
    pub fn with_hint(self, hint: impl Into<String>) -> Diagnostic {
        Diagnostic { hint: Some(hint.into()), ..self }
    }
}

impl Place {
    /// Returns the same row with a column.
    #[must_use]
    pub fn at(&self, column: &str) -> Place {
        Place { column: Some(column.to_owned()), ..self.clone() }
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", Short(&self.file))?;
        if let Some(sheet) = &self.sheet {
            write!(f, "[{}]", Short(sheet))?;
        }
        if let Some(row) = self.row {
            write!(f, ":{row}")?;
        }
        if let Some(column) = &self.column {
            write!(f, ": column `{}`", Short(column))?;
        }
        Ok(())
    }
}

impl fmt::Display for Severity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Severity::Note => "note",
            Severity::Warning => "warning",
            Severity::Gap => "gap",
            Severity::Error => "error",
        })
    }
}

impl fmt::Display for Diagnostic {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: ", self.severity)?;
        if let Some(place) = &self.place {
            write!(f, "{place}: ")?;
        }
        write!(f, "{}", self.problem)?;
        if let Some(hint) = &self.hint {
            write!(Quoted::new(f), "\n  hint: {hint}")?;
        }
        Ok(())
    }
}

/// What can be wrong. Variants stand in the order of the pipeline; fields are texts and numbers, no model types.
#[derive(Clone, Debug, PartialEq, Eq)]
#[expect(missing_docs, reason = "the wording in `Display` says what each variant and field means")]
pub enum Problem {
    // Files and tables.
    FileUnreadable { reason: String },
    WorkbookUnreadable { reason: String },
    EncodingGuessed { encoding: String },
    TableMissing { table: String },
    TableEmpty { table: String, what: String },
    TableUnknown { table: String },
    TableTwice { table: String, first: String },
    ColumnMissing { table: String, column: String },
    ColumnTwice { column: String, first: String },
    ColumnIgnored { column: String, reason: String },
    ColumnUnknown { table: String },
    RowIgnored { reason: String },
    RowTooLong { cells: usize, headers: usize },
    LimitExceeded { what: String, limit: String, name: Option<String> },
    MoreFindings { count: u64 },

    // Cells.
    CellMissing,
    CellError { text: String },
    NotANumber { text: String },
    NotAMeasure { text: String, expected: String },
    NotADate { text: String },
    DateForMeasure { text: String, fraction: String },
    NotAChoice { text: String, choices: Vec<String> },
    PercentUnclear { text: String },
    OutOfRange { text: String, range: String },
    UnitUnfit { text: String, unit: String, expected: String },

    // Formulas. `marker` is the byte offset of the fault within `text`.
    Formula { text: String, marker: usize, fault: String },

    // The book as a whole.
    DefinedTwice { what: String, name: String, first: Place },
    NameUnknown { what: String, name: String },
    NameReserved { name: String },
    SizeUnknown { item: String, size: String },
    Cycle { path: Vec<String> },
    LevelSkipped { from: u32, to: u32 },
    NoParentAbove,
    PlanAsComponent { plan: String },
    UseUnfit { usage: String, form: String },
    DimensionMissing { what: String, dimension: String },
    DimensionUnused { dimension: String, reason: String },
    MoistureAssumed { item: String },
    SettingUnknown { key: String },
    OptionConflict { option: String, other: String },
    OptionOfItself { option: String },
    IncludesExcluded { option: String, other: String },
    TakeRatesHigh { choice: String, sum: String },
    ChoiceUnmet { choice: String, chosen: Vec<String> },
    PriceMissing { item: String },
    PriceExpired { item: String, price: String, last: String },
    PriceUnrated { item: String, currency: String, on: Option<String> },
    WeightMissing { item: String },
    SizeMissing { item: String },
    ItemUnused { item: String },
    AssemblyUnused { assembly: String },
    LinesMissing { what: String, name: String },
    ScrapHigh { percent: String },

    // Purchasing.
    NotOne { columns: Vec<String>, given: usize },
    OptionOfOtherPlan { option: String, plan: String },
    UnitsRepeated { plan: String, first: Place },
    UnitsUnsorted { day: String, earlier: Place },
    UnitNumbersShared { first: u64, last: u64, other: Place },
    DayAhead { day: String, as_of: String },
    OrderOverdue { due: String, as_of: String },
    NotStocked { assembly: String },
    CurrencyUnsaid { vendor: String, currency: String, own: String },
    RateMissing { currency: String, prices: usize },

    // Explosion.
    QuantityNegative { component: String, quantity: String },
    QuantityAbsurd { component: String, quantity: String },
    SpanExceeded { item: String, span: String, limit: String },
    ExclusionUnmatched { component: String },
    ExclusionTooLarge { component: String, missing: String },
    OpeningsTooLarge { openings: String, area: String },
    CutoutTooLarge { cutout: String, area: String },
    ExclusionApplied { component: String, excluded: Place },
    Overflow { what: String },

    // Nesting.
    PieceTooLarge { item: String, piece: String, largest: String },
    Unplaced { item: String, pieces: usize, reason: String },
    NestWrong { item: String, faults: Vec<String> },

    // The shop.
    DayMissing,
    ScheduleMissing,
    NothingToCut { day: String, station: Option<String>, others: Vec<String> },
    OptionsAssumed { plan: String, units: u32 },
    BuiltAhead { assemblies: Vec<String> },
    LayoutsAbove { station: String, item: String, layouts: usize, limit: u64 },
    NestsVerified { nests: usize, layouts: usize, pieces: u64 },

    // Purchasing.
    AsOfMissing,
    BuildsPast { units: u64, as_of: String },
    BuildsBeyond { units: u64, weeks: usize },
    HistoryMissing { weeks: usize },
    TakeRateUnmet { options: Vec<String> },
    OptionsTooMany { option: String, count: usize, together: usize },
    StockUnclear { assembly: String, variants: usize },
    FreightMissed { vendor: String, orders: usize, first: String },
    OrderBelowMinimum { vendor: String, week: String, money: String, missing: String },
    RateUnknown { currency: String, day: String },

    // Pricing.
    BurdenOnNothing { burden: String, applies_to: String },
    MarginOutOfRange { plan: String, margin: String },
    CaseUnmatched { case: String, items: String },
    CrewUnclear { item: String, text: String },

    // Loads.
    AxleMissing { plan: String },
    AxleNotBehind { plan: String, axle: String },
    AxlePastRear { plan: String, axle: String, rear: String },
    OffTheFloor { plan: String, what: String, at: String, front: String, rear: String },
    PositionsMissing { plan: String },
    GrossBelowWeight { plan: String, gross: String, weight: String },
    RatingsApart { plan: String, axle: String, hitch: String, sum: String, gross: String },
    RatingExceeded { plan: String, condition: String, load: String, rating: String, limit: String },

    // Comparison.
    CurrenciesDiffer { old: String, new: String },
    StandardMissing { item: String },

    // Swaps.
    SwapUnknown { text: String },
    SwapToItself { component: String },
    SwapUnfit { from: String, to: String, line: String },
    AdditionUnclear { component: String, column: String },
    SetUnclear { text: String },
    WithSwaps { swaps: Vec<String>, fault: String },
    SwapIdle { swap: String, is_for_any: bool },
    RatingMissing { swap: String, item: String, ratings: Vec<String> },
    SpanUnstated { swap: String, item: String, span: String },

    // The command line.
    OptionUnknown { option: String },
    PlanUnknown { plan: String },
    Plain { text: String },
}

/// A count with its noun in the right number: `1 piece`, `2 pieces`.
pub struct Count<'a>(pub usize, pub &'a str);

impl fmt::Display for Count<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Count(count, noun) = self;
        let stem = noun.strip_suffix('y').filter(|stem| !stem.ends_with(['a', 'e', 'o', 'u']));
        match (count, stem) {
            (1, _) => write!(f, "1 {noun}"),
            (_, Some(stem)) => write!(f, "{count} {stem}ies"),
            _ => write!(f, "{count} {noun}s"),
        }
    }
}

/// A list in words, each entry in backticks: `a`, `b` and `c`.
pub struct List<'a>(pub &'a [String]);

impl fmt::Display for List<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, entry) in self.0.iter().enumerate() {
            if index > 0 {
                f.write_str(if index + 1 == self.0.len() { " and " } else { ", " })?;
            }
            write!(f, "`{entry}`")?;
        }
        Ok(())
    }
}

/// Returns a word with its article: `a length`, `an area`.
#[must_use]
pub fn with_article(word: &str) -> String {
    format!("{} {word}", article(word))
}

/// Returns the article before a word, which may stand in backticks.
fn article(word: &str) -> &'static str {
    let is_open = word.trim_start_matches('`').starts_with(['a', 'e', 'i', 'o', 'u']);
    if is_open { "an" } else { "a" }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.word(&mut Quoted::new(f))
    }
}

impl Problem {
    #[expect(
        clippy::too_many_lines,
        reason = "all wording stands in one place, to be reviewed in one sitting"
    )]
    fn word(&self, f: &mut Quoted<'_, '_>) -> fmt::Result {
        match self {
            Problem::FileUnreadable { reason } => write!(f, "cannot be read: {reason}"),
            Problem::WorkbookUnreadable { reason } => {
                write!(f, "not a readable workbook: {reason}")
            }
            Problem::EncodingGuessed { encoding } => write!(f, "not UTF-8; read as {encoding}"),
            Problem::TableMissing { table } => write!(f, "no table `{table}`"),
            Problem::TableEmpty { table, what } => {
                write!(f, "table `{table}` holds no {what}")
            }
            Problem::TableUnknown { table } => {
                write!(f, "`{table}` is no table of a book; it is not read")
            }
            Problem::TableTwice { table, first } => {
                write!(f, "table `{table}` is given again, first in {first}")
            }
            Problem::ColumnMissing { table, column } => {
                write!(f, "table `{table}` has no column `{column}`")
            }
            Problem::ColumnUnknown { table } => {
                write!(f, "table `{table}` has no such column; it is kept as an attribute")
            }
            Problem::ColumnTwice { first, column } if squashed(first) == squashed(column) => {
                write!(f, "a column `{first}` stands there already")
            }
            Problem::ColumnTwice { column, first } => {
                write!(f, "stands for `{column}`, as does column `{first}`")
            }
            Problem::ColumnIgnored { column, reason } => {
                write!(f, "column `{column}` is not read: {reason}")
            }
            Problem::RowIgnored { reason } => write!(f, "row is not read: {reason}"),
            Problem::RowTooLong { cells, headers } => {
                write!(f, "{} under {}", Count(*cells, "cell"), Count(*headers, "header"))
            }
            Problem::LimitExceeded { what, limit, name: None } => {
                write!(f, "{what} is beyond the limit of {limit}")
            }
            Problem::LimitExceeded { what, limit, name: Some(name) } => {
                write!(f, "{what} is beyond the limit of {limit} (`{name}`)")
            }
            Problem::MoreFindings { count } => {
                write!(f, "{count} more of these are counted, but not told")
            }
            Problem::CellMissing => f.write_str("empty, but needed"),
            Problem::CellError { text } => write!(f, "the spreadsheet holds the error `{text}`"),
            Problem::NotANumber { text } => write!(f, "`{text}` is not a number"),
            Problem::NotAMeasure { text, expected } => {
                write!(f, "`{text}` is not {} {expected}", article(expected))
            }
            Problem::NotADate { text } => write!(f, "`{text}` is not a date"),
            Problem::DateForMeasure { text, fraction } => {
                write!(
                    f,
                    "the date `{text}` stands where a measure is expected, perhaps for `{fraction}`"
                )
            }
            Problem::NotAChoice { text, choices } => {
                write!(f, "`{text}` is none of {}", List(choices))
            }
            Problem::PercentUnclear { text } => {
                write!(f, "`{text}` may be {text} % or a hundred times that; the file does not say")
            }
            Problem::OutOfRange { text, range } => write!(f, "`{text}` is out of range ({range})"),
            Problem::UnitUnfit { text, unit, expected } if text == unit => {
                write!(f, "unit `{unit}` does not fit, {expected} is expected")
            }
            Problem::UnitUnfit { text, unit, expected } => {
                write!(f, "`{text}`: unit `{unit}` does not fit, {expected} is expected")
            }
            Problem::Formula { text, marker, fault } => {
                let (shown, column) = around(text, *marker);
                write!(f, "{fault}\n    {shown}\n    {:column$}^", "")
            }
            Problem::DefinedTwice { what, name, first } => {
                write!(f, "{what} `{name}`, first defined at {first}, is defined again")
            }
            Problem::NameUnknown { what, name } => write!(f, "no {what} named `{name}`"),
            Problem::NameReserved { name } => {
                write!(
                    f,
                    "`{name}` has a meaning of its own in formulas, so nothing else is named so"
                )
            }
            Problem::SizeUnknown { item, size } => write!(f, "item `{item}` has no size `{size}`"),
            Problem::Cycle { path } => {
                write!(
                    f,
                    "`{}` contains itself: `{}`",
                    path.first().map_or("", |name| name),
                    path.join(" -> ")
                )
            }
            Problem::LevelSkipped { from, to } => {
                write!(f, "level goes from {from} to {to}; a level is missing")
            }
            Problem::NoParentAbove => f.write_str("a line of a lower level stands before any plan"),
            Problem::PlanAsComponent { plan } => write!(f, "plan `{plan}` cannot be a component"),
            Problem::UseUnfit { usage, form } => write!(f, "use `{usage}` does not fit {form}"),
            Problem::DimensionMissing { what, dimension } if dimension.starts_with('`') => {
                write!(f, "{what} needs {dimension}")
            }
            Problem::DimensionMissing { what, dimension } => {
                write!(f, "{what} needs {} {dimension}", article(dimension))
            }
            Problem::MoistureAssumed { item } => {
                write!(f, "the moisture of `{item}` is not said; 12 % is taken")
            }
            Problem::DimensionUnused { dimension, reason } => {
                write!(f, "{dimension} is not used: {reason}")
            }
            Problem::SettingUnknown { key } => write!(f, "no setting named `{key}`"),
            Problem::OptionConflict { option, other } => {
                write!(f, "option `{option}` excludes `{other}`, but both are chosen")
            }
            Problem::OptionOfItself { option } => {
                write!(f, "option `{option}` can neither include nor exclude itself")
            }
            Problem::IncludesExcluded { option, other } => {
                write!(f, "option `{option}` both includes and excludes `{other}`")
            }
            Problem::TakeRatesHigh { choice, sum } => {
                write!(f, "the take rates of choice `{choice}` come to {sum} %, more than 100 %")
            }
            Problem::ChoiceUnmet { choice, chosen } if chosen.is_empty() => {
                write!(f, "choice `{choice}` needs exactly one option, but none is chosen")
            }
            Problem::ChoiceUnmet { choice, chosen } => {
                write!(
                    f,
                    "choice `{choice}` needs exactly one option, but {} are chosen",
                    List(chosen)
                )
            }
            Problem::PriceMissing { item } => write!(f, "item `{item}` has no price"),
            Problem::PriceExpired { item, price, last } => {
                write!(f, "the last price of item `{item}`, {price}, held until {last}; it is used")
            }
            Problem::PriceUnrated { item, currency, on } => {
                write!(f, "the price of item `{item}` is in {currency}, which has no rate")?;
                on.as_ref().map_or(Ok(()), |on| write!(f, " on {on}"))
            }
            Problem::WeightMissing { item } => write!(f, "item `{item}` has no weight"),
            Problem::SizeMissing { item } => write!(f, "item `{item}` has no size to be cut from"),
            Problem::ItemUnused { item } => write!(f, "item `{item}` is on no bill"),
            Problem::AssemblyUnused { assembly } => {
                write!(f, "assembly `{assembly}` is on no bill")
            }
            Problem::LinesMissing { what, name } => write!(f, "{what} `{name}` has no bill lines"),
            Problem::ScrapHigh { percent } => {
                write!(
                    f,
                    "scrap of {percent} % on a nested line; nesting already counts the cutting waste"
                )
            }
            Problem::NotOne { columns, given: 0 } => {
                write!(f, "{} are empty, but one of them is needed", List(columns))
            }
            Problem::NotOne { columns, .. } => {
                write!(f, "{} are given, but only one of them is meant to be", List(columns))
            }
            Problem::OptionOfOtherPlan { option, plan } => {
                write!(f, "option `{option}` is for plan `{plan}` only")
            }
            Problem::UnitsRepeated { plan, first } => {
                write!(f, "units of `{plan}` for the same day stand at {first}; both are counted")
            }
            Problem::UnitsUnsorted { day, earlier } => {
                write!(f, "{day} stands after a later day, at {earlier}")
            }
            Problem::UnitNumbersShared { first, last, other } if first == last => {
                write!(f, "number {first} is also that of a unit at {other}")
            }
            Problem::UnitNumbersShared { first, last, other } => {
                write!(f, "numbers {first} to {last} are also those of units at {other}")
            }
            Problem::DayAhead { day, as_of } => {
                write!(f, "{day} is after {as_of}, the day the book speaks of")
            }
            Problem::OrderOverdue { due, as_of } => {
                write!(f, "the order was due on {due}, before {as_of}, the day the book speaks of")
            }
            Problem::NotStocked { assembly } => {
                write!(f, "assembly `{assembly}` is not `stocked` in table `assemblies`")
            }
            Problem::CurrencyUnsaid { vendor, currency, own } => {
                write!(f, "price of `{vendor}`, who sells in {currency}, is taken to be in {own}")
            }
            Problem::RateMissing { currency, prices } => {
                write!(
                    f,
                    "table `rates` has no rate of `{currency}`; {} in it cannot be compared",
                    Count(*prices, "price")
                )
            }
            Problem::QuantityNegative { component, quantity } => {
                write!(f, "quantity of `{component}` comes to {quantity}, below zero")
            }
            Problem::SpanExceeded { item, span, limit } => {
                write!(f, "`{item}` spans {span} here, beyond its limit of {limit}")
            }
            Problem::QuantityAbsurd { component, quantity } => {
                write!(f, "quantity of `{component}` comes to {quantity}, which cannot be meant")
            }
            Problem::ExclusionUnmatched { component } => {
                write!(
                    f,
                    "a negative line matches no line of `{component}` of the same parent and size"
                )
            }
            Problem::ExclusionTooLarge { component, missing } => {
                write!(f, "takes away {missing} more of `{component}` than there is")
            }
            Problem::OpeningsTooLarge { openings, area } => {
                write!(f, "the openings of {openings} are larger than the area of {area} to fill")
            }
            Problem::CutoutTooLarge { cutout, area } => {
                write!(f, "a cutout of {cutout} is larger than the {area} it is cut from")
            }
            Problem::ExclusionApplied { component, excluded } => {
                write!(f, "takes `{component}` of {excluded} away where it applies")
            }
            Problem::Overflow { what } => write!(f, "{what} is too large to be counted"),
            Problem::PieceTooLarge { item, piece, largest } => {
                write!(
                    f,
                    "piece of {piece} is larger than every size of `{item}`, the largest being {largest}"
                )
            }
            Problem::NestWrong { item, faults } => {
                write!(
                    f,
                    "the nest of `{item}` fails its check, a defect of this program: {}",
                    faults.join("; ")
                )
            }
            Problem::DayMissing => f.write_str("the shop needs a day to cut for"),
            Problem::ScheduleMissing => {
                f.write_str("the book has no schedule, so no station has units to cut for")
            }
            Problem::NothingToCut { day, station, others } => {
                match station {
                    Some(station) => write!(f, "station `{station}` has nothing to cut on {day}")?,
                    None => write!(f, "no station has anything to cut on {day}")?,
                }
                match others.as_slice() {
                    [] => Ok(()),
                    [_] => write!(f, ", but {} has", List(others)),
                    _ => write!(f, ", but {} have", List(others)),
                }
            }
            Problem::OptionsAssumed { plan, units } => {
                let units = usize::try_from(*units).unwrap_or(usize::MAX);
                write!(
                    f,
                    "the options of {} of `{plan}` are not said: they are cut with the standard ones",
                    Count(units, "unit")
                )
            }
            Problem::BuiltAhead { assemblies } => {
                write!(f, "built ahead, so not cut for a unit: {}", List(assemblies))
            }
            Problem::LayoutsAbove { station, item, layouts, limit } => write!(
                f,
                "{station}: `{item}` is cut in {}, above {limit}: no more can be merged at equal cost",
                Count(*layouts, "layout")
            ),
            Problem::NestsVerified { nests, layouts, pieces } => {
                let pieces = usize::try_from(*pieces).unwrap_or(usize::MAX);
                write!(
                    f,
                    "verified: {} with {} and {} keep every rule",
                    Count(*nests, "nest"),
                    Count(*layouts, "layout"),
                    Count(pieces, "piece")
                )
            }
            Problem::Unplaced { item, pieces, reason } => {
                write!(f, "{} of `{item}` cannot be cut: {reason}", Count(*pieces, "piece"))
            }
            Problem::AsOfMissing => {
                f.write_str("the book does not say which day it speaks of, `as_of`")
            }
            Problem::BuildsPast { units, as_of } => {
                let count = Count(usize::try_from(*units).unwrap_or(usize::MAX), "unit");
                write!(
                    f,
                    "{count} of weeks before that of {as_of} are taken to be built, beginning with this row"
                )
            }
            Problem::BuildsBeyond { units, weeks } => {
                let count = Count(usize::try_from(*units).unwrap_or(usize::MAX), "unit");
                write!(
                    f,
                    "{count} lie beyond the {} that are planned, beginning with this row",
                    Count(*weeks, "week")
                )
            }
            Problem::HistoryMissing { weeks } => write!(
                f,
                "{} past the schedule cannot be forecast: table `history` holds no earlier builds",
                Count(*weeks, "week")
            ),
            Problem::TakeRateUnmet { options } => write!(
                f,
                "the take {} of {} cannot hold beside what other options bring or exclude",
                if options.len() == 1 { "rate" } else { "rates" },
                List(options)
            ),
            Problem::OptionsTooMany { option, count, together } => {
                write!(f, "`{option}` and {} meet in the bill", Count(count - 1, "other option"))?;
                if *together == 1 {
                    f.write_str(
                        ", more than can be looked at: what options do only together is left out",
                    )
                } else {
                    f.write_str(", more than can be looked at: they are looked at two by two")
                }
            }
            Problem::StockUnclear { assembly, variants } => write!(
                f,
                "`{assembly}` is built in {} and the row does not say which one is there, so it is not counted",
                Count(*variants, "form")
            ),
            Problem::OrderBelowMinimum { vendor, week, money, missing } => write!(
                f,
                "the order to `{vendor}` in the week of {week} comes to {money}, {missing} below the least order"
            ),
            Problem::FreightMissed { vendor, orders, first } => {
                let verb = if *orders == 1 { "stays" } else { "stay" };
                write!(
                    f,
                    "{} to `{vendor}` {verb} below what it pays the freight for, the first in the week of {first}",
                    Count(*orders, "order")
                )
            }
            Problem::RateUnknown { currency, day } => {
                write!(
                    f,
                    "no rate of {currency} holds on {day}, so what it pays for is left out of the cash"
                )
            }
            Problem::BurdenOnNothing { burden, applies_to } if applies_to.is_empty() => {
                write!(f, "burden `{burden}` comes to nothing: no plan has what it is laid on")
            }
            Problem::BurdenOnNothing { burden, applies_to } => {
                write!(
                    f,
                    "burden `{burden}` comes to nothing: no plan has `{applies_to}` to lay it on"
                )
            }
            Problem::MarginOutOfRange { plan, margin } => {
                write!(
                    f,
                    "a margin of {margin} % on plan `{plan}` has no price; it lies below 100 %"
                )
            }
            Problem::CaseUnmatched { case, items } => {
                write!(f, "price case `{case}`: no item has {items}")
            }
            Problem::CrewUnclear { item, text } => {
                write!(f, "crew of `{item}`: `{text}` is not a number above zero; one is taken")
            }
            Problem::AxleMissing { plan } => write!(
                f,
                "plan `{plan}` has no axle position, so its hitch and axle loads are not told"
            ),
            Problem::AxleNotBehind { plan, axle } => write!(
                f,
                "the axle of plan `{plan}` at {axle} is not behind the coupler, so its hitch and axle loads are not told"
            ),
            Problem::AxlePastRear { plan, axle, rear } => {
                write!(f, "the axle of plan `{plan}` at {axle} lies past the rear end at {rear}")
            }
            Problem::OffTheFloor { plan, what, at, front, rear } => {
                write!(
                    f,
                    "{what} of plan `{plan}` at {at} is off its floor, which goes from {front} to {rear}"
                )
            }
            Problem::PositionsMissing { plan } => write!(
                f,
                "nothing in plan `{plan}` has an `x`, so its hitch and axle loads are not told"
            ),
            Problem::GrossBelowWeight { plan, gross, weight } => write!(
                f,
                "the gvwr of plan `{plan}`, {gross}, is below its unloaded weight of {weight}"
            ),
            Problem::RatingsApart { plan, axle, hitch, sum, gross } => write!(
                f,
                "gawr and hitch load of plan `{plan}`, {axle} and {hitch}, come to {sum} where it weighs {gross}"
            ),
            Problem::RatingExceeded { plan, condition, load, rating, limit } => {
                write!(f, "plan `{plan}`, {condition}: a {load} is above its {rating} of {limit}")
            }
            Problem::CurrenciesDiffer { old, new } => {
                write!(f, "amounts in {old} and in {new} cannot be compared")
            }
            Problem::StandardMissing { item } => {
                write!(f, "item `{item}` has no standard price to hold its actuals against")
            }
            Problem::SwapUnknown { text } => write!(f, "`{text}` is no swap"),
            Problem::SwapToItself { component } => {
                write!(f, "`{component}` is swapped for itself, one for one")
            }
            Problem::SwapUnfit { from, to, line } => {
                write!(f, "{to} cannot take the place of {from} at {line}")
            }
            Problem::AdditionUnclear { component, column } => {
                write!(f, "`{component}` is added without a {column}")
            }
            Problem::SetUnclear { text } => {
                write!(f, "a dimension of a plan is set to `{text}`, which is no measure")
            }
            Problem::WithSwaps { swaps, fault } => {
                let noun = if swaps.len() == 1 { "swap" } else { "swaps" };
                write!(f, "with {noun} {}: {fault}", List(swaps))
            }
            Problem::SwapIdle { swap, is_for_any: true } => {
                write!(f, "swap `{swap}` changes nothing that the plans take")
            }
            Problem::SwapIdle { swap, is_for_any: false } => {
                write!(f, "swap `{swap}` is for none of the plans and options asked for")
            }
            Problem::RatingMissing { swap, item, ratings } => {
                let noun = if ratings.len() == 1 { "rating" } else { "ratings" };
                write!(f, "swap `{swap}`: item `{item}` lacks the {noun} {}", List(ratings))
            }
            Problem::SpanUnstated { swap, item, span } => {
                write!(
                    f,
                    "swap `{swap}`: no span limit of item `{item}` is known, and it spans {span} here"
                )
            }
            Problem::OptionUnknown { option } => write!(f, "no option named `{option}`"),
            Problem::PlanUnknown { plan } => write!(f, "no plan named `{plan}`"),
            Problem::Plain { text } => f.write_str(text),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_finding_is_told_once_and_where_it_was_met_first() {
        let finding = |row: u32, text: &str| {
            let place = Place { file: "bill.csv".to_owned(), row: Some(row), ..Place::default() };
            Diagnostic::error(place, Problem::Plain { text: text.to_owned() })
        };
        let mut findings = Distinct::default();
        assert!(findings.is_empty());
        findings.extend([finding(9, "a"), finding(2, "b"), finding(9, "a")]);
        findings.insert(finding(2, "b"));
        // Another problem at a known place is another finding.
        findings.insert(finding(2, "c"));
        assert_eq!(findings.into_vec(), [finding(9, "a"), finding(2, "b"), finding(2, "c")]);
    }
}
