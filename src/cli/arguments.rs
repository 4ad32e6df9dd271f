//! The arguments of each subcommand, as clap parses them.
//!
//! Names of plans, options and columns stay texts here; whether the book knows them is found out once it is read.

use std::num::NonZeroU32;
use std::path::{Path, PathBuf};

use clap::{Args, Parser, Subcommand, ValueEnum};
use clap_complete::Shell;
use cutbill::diag::{Diagnostic, Problem};
use cutbill::read::Limits;
use jiff::civil::Date;

use crate::cli::examples;

/// From bills of materials per floor plan: what each build takes, costs and weighs, and what must be bought and cut.
#[derive(Debug, Parser)]
#[command(version, max_term_width = 100, disable_help_subcommand = true)]
#[command(
    after_help = "Exit codes: 0 done, 1 done but something is missing (a price, a size), 2 not done."
)]
pub(crate) struct Arguments {
    #[command(subcommand)]
    pub(super) command: Command,
}

/// One verb each; the functions of the same names in `mod.rs` carry them out.
#[derive(Debug, Subcommand)]
pub(super) enum Command {
    /// Reads a book and tells everything that is wrong or worth knowing in it
    #[command(after_help = examples::CHECK)]
    Check(Check),
    /// Tells what the plans take: every piece and item, with the path of bill lines that asks for it
    #[command(after_help = examples::EXPLODE)]
    Explode(Explode),
    /// Lays the pieces on sheets, rolls and sticks, and tells how far that is from the best possible
    #[command(after_help = examples::NEST)]
    Nest(Nest),
    /// Tells what the plans cost and weigh, summed as asked
    #[command(after_help = examples::ROLLUP)]
    Rollup(Rollup),
    /// Tells what to order for the schedule: which sizes, how many, from whom, by when; and what runs short
    #[command(after_help = examples::ORDERS)]
    Orders(Orders),
    /// Lays out what each plan costs and what price makes its margin, and how both move
    #[command(after_help = examples::PRICE)]
    Price(Price),
    /// Tells what the plans weigh and how they hang on hitch and axles, against the maker's ratings
    #[command(after_help = examples::LOADS)]
    Loads(Loads),
    /// Writes a starter book whose assemblies price a plan from its dimensions and options
    #[command(after_help = examples::INIT)]
    Init(Init),
    /// Tells what other material does to weight, cost, stock and labor, and which swaps save weight at least cost
    #[command(after_help = examples::SWAP)]
    Swap(Swap),
    /// Tells what changed from one book, day, plan or set of options to another, and what that does to cost and weight
    #[command(after_help = examples::COMPARE)]
    Compare(Compare),
    /// Lays out every answer about a book in one document or workbook, to be looked at, printed and passed on
    #[command(after_help = examples::REPORT)]
    Report(Report),
    /// Prints a script that lets a shell complete the words of a command when the tab key is pressed
    #[command(after_help = examples::COMPLETIONS)]
    Completions(Completions),
    /// Writes the manual, a page for each subcommand, for `man` to show
    #[command(after_help = examples::MAN)]
    Man(Man),
}

impl Command {
    /// Tells whether it lays pieces on stock, which may take long and may end early with what is found.
    pub(super) fn cuts(&self) -> bool {
        match self {
            Command::Check(_)
            | Command::Explode(_)
            | Command::Loads(_)
            | Command::Init(_)
            | Command::Completions(_)
            | Command::Man(_) => false,
            Command::Nest(_)
            | Command::Rollup(_)
            | Command::Orders(_)
            | Command::Price(_)
            | Command::Swap(_)
            | Command::Compare(_)
            | Command::Report(_) => true,
        }
    }

    /// Tells whether its answer is rows alone, which have no room for a word beside them.
    pub(super) fn writes_rows(&self, format: Format) -> bool {
        matches!(format, Format::Csv | Format::Parquet)
            || matches!(self, Command::Rollup(rollup) if rollup.dataset.is_some())
    }

    /// Tells whether its answer holds weights or loads.
    pub(super) fn tells_weights(&self) -> bool {
        match self {
            Command::Explode(explode) => !explode.flat && explode.where_used.is_none(),
            Command::Compare(compare) => !compare.actuals,
            Command::Rollup(_) | Command::Loads(_) | Command::Swap(_) => true,
            Command::Check(_)
            | Command::Nest(_)
            | Command::Orders(_)
            | Command::Price(_)
            | Command::Init(_)
            | Command::Report(_)
            | Command::Completions(_)
            | Command::Man(_) => false,
        }
    }
}

#[derive(Debug, Args)]
pub(super) struct Check {
    /// The book: a folder of CSV files, or a workbook
    pub(super) book: PathBuf,
    #[command(flatten)]
    pub(super) output: Output,
}

#[derive(Debug, Args)]
pub(super) struct Explode {
    #[command(flatten)]
    pub(super) scope: Scope,
    /// Tells instead which plans, assemblies and lines use an item
    #[arg(long, value_name = "ITEM")]
    pub(super) where_used: Option<String>,
    /// Tells instead what one unit needs of each item and piece size, summed over the whole bill
    #[arg(long, conflicts_with = "where_used")]
    pub(super) flat: bool,
    #[command(flatten)]
    pub(super) output: Output,
}

#[derive(Debug, Args)]
#[expect(clippy::struct_excessive_bools, reason = "each is a switch of the command line")]
pub(super) struct Nest {
    #[command(flatten)]
    pub(super) scope: Scope,
    #[command(flatten)]
    pub(super) cutting: Cutting,
    /// What is cut together: a lot of each plan, or what each station has on the day of --on by table `schedule`
    #[arg(long = "for", value_name = "PURPOSE", default_value = "lot")]
    pub(super) purpose: Purpose,
    /// Only this station; goes with `--for shop` [default: each station by itself]
    #[arg(long, value_name = "NAME")]
    pub(super) station: Option<String>,
    /// Merges layouts where that costs nothing, down to so many of each item; goes with `--for shop`
    #[arg(long, value_name = "N")]
    pub(super) layouts: Option<NonZeroU32>,
    /// Cuts new stock only, not the offcuts on hand; goes with `--for shop`
    #[arg(long)]
    pub(super) new_stock: bool,
    /// Draws each layout, with where its pieces lie
    #[arg(long)]
    pub(super) draw: bool,
    /// Lists the cuts of each layout in order; in CSV nothing else
    #[arg(long)]
    pub(super) cuts: bool,
    /// Tells only this part
    #[arg(long, value_name = "PART", conflicts_with = "cuts")]
    pub(super) show: Option<NestPart>,
    /// Adds a piece to what is nested: `ITEM LENGTH x WIDTH`, or `ITEM for ASSEMBLY`; `x3` behind it means three. It goes into
    /// offcuts and gaps, then onto new stock; no other layout changes. May be repeated for one item
    #[arg(long, value_name = "PIECE")]
    pub(super) extra: Vec<String>,
    /// Layouts of the item of --extra that are cut already, by their numbers
    #[arg(long, value_name = "N,N", value_delimiter = ',', requires = "extra")]
    pub(super) cut: Vec<NonZeroU32>,
    /// Sheets sawn together at most, whatever the book says
    #[arg(long, value_name = "N")]
    pub(super) at_once: Option<NonZeroU32>,
    /// Checks every nest once more by a second program, and tells how much was checked
    #[arg(long)]
    pub(super) verify: bool,
    /// Prints each layout of a document on a page of its own
    #[arg(long)]
    pub(super) one_layout_a_page: bool,
    #[command(flatten)]
    pub(super) output: Output,
}

#[derive(Debug, Args)]
pub(super) struct Rollup {
    #[command(flatten)]
    pub(super) scope: Scope,
    #[command(flatten)]
    pub(super) cutting: Cutting,
    /// Columns to sum by: plan, section, assembly, station, item, group, vendor, ... or any column of your own
    #[arg(long, value_name = "KEY", value_delimiter = ',')]
    pub(super) by: Vec<String>,
    /// Tells how the row with these values of `--by` comes about, parted by commas [default of --by: item]
    #[arg(long, value_name = "VALUES")]
    pub(super) why: Option<String>,
    /// Writes the ledger as Parquet into this new folder, a folder for each plan, for other engines [default of --by: all
    /// columns]
    #[arg(long, value_name = "FOLDER", conflicts_with_all = ["why", "file", "format"])]
    pub(super) dataset: Option<PathBuf>,
    #[command(flatten)]
    pub(super) output: Output,
}

#[derive(Debug, Args)]
pub(super) struct Orders {
    /// The book: a folder of CSV files, or a workbook
    pub(super) book: PathBuf,
    /// The day the stock is of [default: `as_of` of the book]
    #[arg(long, value_name = "DATE", value_parser = date)]
    pub(super) on: Option<Date>,
    /// Weeks to plan, with that of the day; past the schedule they are forecast [default: up to the last build scheduled]
    #[arg(long, value_name = "N")]
    pub(super) weeks: Option<NonZeroU32>,
    /// Which weeks are cut together
    #[arg(long, value_name = "POOL", default_value = "week")]
    pub(super) pool: Pool,
    /// Percent of cases in which the units that take an option shall be covered [default: what is expected]
    #[arg(long, value_name = "PERCENT", value_parser = clap::value_parser!(u8).range(1..100))]
    pub(super) service: Option<u8>,
    /// Effort of the search for fewer sheets, in counted steps [default: fits the task]
    #[arg(long, value_name = "N")]
    pub(super) effort: Option<u32>,
    /// Which part is shown [default: summary in tables, all in a workbook, lines in CSV]
    #[arg(long, value_name = "PART")]
    pub(super) show: Option<OrdersPart>,
    /// Only orders to this vendor; may be repeated
    #[arg(long = "vendor", value_name = "NAME", conflicts_with = "why")]
    pub(super) vendors: Vec<String>,
    /// Writes the order lines of each vendor to a CSV file of its own in this new folder
    #[arg(long, value_name = "FOLDER", conflicts_with_all = ["why", "file", "show"])]
    pub(super) per_vendor: Option<PathBuf>,
    /// Tells which builds and bill lines the orders of an item are for
    #[arg(long, value_name = "ITEM")]
    pub(super) why: Option<String>,
    #[command(flatten)]
    pub(super) output: Output,
}

#[derive(Debug, Args)]
pub(super) struct Price {
    #[command(flatten)]
    pub(super) scope: Scope,
    #[command(flatten)]
    pub(super) cutting: Cutting,
    /// Price at which this percent of it is profit [default: `target_margin` of the plan]
    #[arg(long, value_name = "PERCENT", group = "target")]
    pub(super) margin: Option<String>,
    /// Price that lies this percent above the cost
    #[arg(long, value_name = "PERCENT", group = "target")]
    pub(super) markup: Option<String>,
    /// Margin and markup that this price leaves
    #[arg(long, value_name = "PRICE", group = "target")]
    pub(super) at: Option<String>,
    /// Tells instead what one unit costs in lots of these sizes
    #[arg(long, value_name = "N,N", value_delimiter = ',')]
    pub(super) lots: Vec<NonZeroU32>,
    /// Tells instead what options add and sell for: those named, or all
    #[arg(
        long = "options",
        value_name = "NAME,NAME",
        num_args = 0..=1,
        require_equals = true,
        default_missing_value = "",
        value_delimiter = ','
    )]
    pub(super) option_prices: Option<Vec<String>>,
    /// Tells instead what this change of prices comes to: `PLY-*=+12%`, `group = lumber=+12 %`; may be repeated
    #[arg(long = "price", value_name = "WHICH=CHANGE")]
    pub(super) changes: Vec<String>,
    /// Tells instead what each case of table `cases` comes to
    #[arg(long)]
    pub(super) cases: bool,
    /// Ranks the prices that move the cost most, and draws the prices that have a low and a high
    #[arg(long)]
    pub(super) sensitivity: bool,
    /// How often prices are drawn
    #[arg(long, value_name = "N", default_value = "10000")]
    #[arg(value_parser = clap::value_parser!(u32).range(1..=1_000_000))]
    pub(super) draws: u32,
    /// Seed of the draws
    #[arg(long, value_name = "N", default_value = "1")]
    pub(super) seed: u64,
    #[command(flatten)]
    pub(super) output: Output,
}

#[derive(Debug, Args)]
pub(super) struct Loads {
    #[command(flatten)]
    pub(super) scope: Scope,
    /// What unloaded weight is summed by; may be repeated
    #[arg(long, value_name = "KEY", value_delimiter = ',', default_value = "side,station")]
    pub(super) by: Vec<SumBy>,
    /// Cargo at a place, in every plan: its weight, how far back from the coupler ball and, if it is not on the center line, how
    /// far to the right: `120 lb@20 ft` or `120 lb@20 ft,-30 in`; may be repeated
    #[arg(long, value_name = "WEIGHT@BACK[,RIGHT]", allow_hyphen_values = true)]
    pub(super) cargo: Vec<String>,
    /// Weighs options too: each one, all at their take rates, and the fullest build
    #[arg(long = "options")]
    pub(super) weighs_options: bool,
    #[command(flatten)]
    pub(super) output: Output,
}

/// What weight is summed by.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum SumBy {
    /// Assembly, plan or option of the bill line
    Assembly,
    /// Station that builds the assembly
    Station,
    /// Item
    Item,
    /// Side of the trailer
    Side,
}

/// What is cut together.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Purpose {
    /// A lot of each plan, as its cost is reckoned
    Lot,
    /// What each station has on one day, for the units of the schedule
    Shop,
}

/// Part of the nests.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum NestPart {
    /// Everything
    All,
    /// The nests with their bounds
    Nests,
    /// How each stock is cut
    Layouts,
    /// Which unit each piece is for; goes with `--for shop`
    Pieces,
    /// The cuts of each layout in order
    Cuts,
    /// What is left, as rows of table `stock`
    Offcuts,
}

/// Which weeks are cut together.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Pool {
    /// Each week by itself
    Week,
    /// Weeks whose Monday lies in one month
    Month,
    /// All weeks
    Horizon,
}

/// Part of the orders.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum OrdersPart {
    /// Shortages, the orders of the first week, orders by week and vendor, advice
    Summary,
    /// Every order line
    Lines,
    /// Stock of every item, week by week
    Calendar,
    /// Everything
    All,
}

#[derive(Debug, Args)]
pub(super) struct Compare {
    #[command(flatten)]
    pub(super) scope: Scope,
    /// The new book, BOOK being the old one [default: BOOK itself]
    #[arg(value_name = "NEW_BOOK")]
    pub(super) new_book: Option<PathBuf>,
    /// The plan of the old side; `--plan` is that of the new [default: plans of the same name]
    #[arg(long, value_name = "NAME")]
    pub(super) against: Option<String>,
    /// The day of the old side [default: as of --on]
    #[arg(long, value_name = "DATE", value_parser = date)]
    pub(super) from_date: Option<Date>,
    /// The day of the new side [default: as of --on]
    #[arg(long, value_name = "DATE", value_parser = date)]
    pub(super) to_date: Option<Date>,
    /// Holds the table of actuals against the standard instead: price and quantity, rate and efficiency
    #[arg(long, conflicts_with_all = ["new_book", "against", "from_date", "to_date"])]
    pub(super) actuals: bool,
    #[command(flatten)]
    pub(super) cutting: Cutting,
    #[command(flatten)]
    pub(super) output: Output,
}

#[derive(Debug, Args)]
pub(super) struct Swap {
    #[command(flatten)]
    pub(super) scope: Scope,
    #[command(flatten)]
    pub(super) cutting: Cutting,
    /// A swap: `OLD=NEW`, `OLD=NEW*1.5`, `OLD=` to remove it, or `spacing=24 in` to set a dimension, each with `@ASSEMBLY`;
    /// `;` parts what acts together; may be repeated [default: table `swaps`]
    #[arg(long = "swap", value_name = "OLD=NEW")]
    pub(super) swaps: Vec<String>,
    /// Only these swaps of table `swaps`, beside those of --swap
    #[arg(long, value_name = "NAME,NAME", value_delimiter = ',')]
    pub(super) only: Vec<String>,
    /// Tries all swaps together too, and tells how far that is from the sum of each alone
    #[arg(long)]
    pub(super) together: bool,
    /// Finds the swaps that save one unit this weight at least cost: `150 lb`
    #[arg(long, value_name = "WEIGHT")]
    pub(super) save: Option<String>,
    #[command(flatten)]
    pub(super) output: Output,
}

#[derive(Debug, Args)]
pub(super) struct Report {
    #[command(flatten)]
    pub(super) scope: Scope,
    /// An earlier book; the report tells what differs from it
    #[arg(long, value_name = "OLD_BOOK")]
    pub(super) against: Option<PathBuf>,
    #[command(flatten)]
    pub(super) cutting: Cutting,
    /// Prints each cut layout on a page of its own
    #[arg(long)]
    pub(super) one_layout_a_page: bool,
    #[command(flatten)]
    pub(super) output: Output,
}

#[derive(Debug, Args)]
pub(super) struct Init {
    /// The folder to write; it must not be there, or be empty
    pub(super) folder: PathBuf,
}

#[derive(Debug, Args)]
pub(super) struct Completions {
    /// The shell that is to complete
    pub(super) shell: Shell,
}

#[derive(Debug, Args)]
pub(super) struct Man {
    /// The folder to write; it must not be there, or be empty
    pub(super) folder: PathBuf,
}

/// Which builds are asked about.
#[derive(Debug, Args)]
pub(super) struct Scope {
    /// The book: a folder of CSV files, or a workbook
    pub(super) book: PathBuf,
    /// Only this plan; may be repeated [default: all plans]
    #[arg(long = "plan", value_name = "NAME")]
    pub(super) plans: Vec<String>,
    /// With this option; may be repeated [default: the standard options]
    #[arg(long = "option", value_name = "NAME")]
    pub(super) options: Vec<String>,
    /// Without this standard option; may be repeated
    #[arg(long, value_name = "NAME")]
    pub(super) without: Vec<String>,
    /// The day that prices and effective lines are taken at [default: `as_of` of the book]
    #[arg(long, value_name = "DATE", value_parser = date)]
    pub(super) on: Option<Date>,
    /// Number of the first unit, for lines that begin or end with a unit
    #[arg(long, value_name = "N")]
    pub(super) unit: Option<NonZeroU32>,
}

/// How pieces are laid on stock.
#[derive(Debug, Args)]
pub(super) struct Cutting {
    /// Units cut together [default: `lot` of the book]
    #[arg(long, value_name = "N")]
    pub(super) lot: Option<NonZeroU32>,
    /// Effort of the search for fewer sheets, in counted steps [default: fits the task]
    #[arg(long, value_name = "N")]
    pub(super) effort: Option<u32>,
}

/// In which form and where the answer goes.
#[derive(Debug, Default, Args)]
pub(super) struct Output {
    /// Form of the answer [default: by the ending of FILE, else table]
    #[arg(long, value_name = "FORMAT")]
    format: Option<Format>,
    /// Writes to a file, whole or not at all, instead of to standard output
    #[arg(short = 'o', long = "output", value_name = "FILE")]
    pub(super) file: Option<PathBuf>,
    /// Width of tables in columns [default: that of the terminal]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(20..))]
    pub(super) width: Option<u16>,
    /// Read more than the usual limit: `rows=20000000`, see docs/limits.md
    #[arg(long = "limit", value_name = "NAME=N")]
    pub(super) limits: Vec<String>,
    /// Prints every finding; else 20 of one kind and how many more [default: `check` prints all]
    #[arg(long)]
    pub(super) all_findings: bool,
}

/// Form of an answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Format {
    /// Aligned columns, to be read
    Table,
    /// Comma-separated values
    Csv,
    /// One JSON document
    Json,
    /// Apache Parquet, with exact decimals
    Parquet,
    /// A workbook with a sheet per table and live sums
    Xlsx,
    /// One document with tables and drawings: `report` and `nest`
    Html,
    /// One drawing of all cut layouts: `nest`
    Svg,
}

impl Output {
    /// Returns the limits that a book is read within.
    pub(super) fn limits(&self) -> Result<Limits, Vec<Diagnostic>> {
        let mut limits = Limits::default();
        let mut errors = Vec::new();
        for text in &self.limits {
            let parts = text.split_once('=');
            let parts = parts.and_then(|(name, value)| Some((name, value.trim().parse().ok()?)));
            let set = match parts {
                Some((name, value)) => limits.set(name, value),
                None => {
                    let text = format!("`--limit`: `{text}` is no limit");
                    let hint = "write its name and a whole number, as in `rows=20000000`";
                    Err(Diagnostic::placeless(Problem::Plain { text }).with_hint(hint))
                }
            };
            errors.extend(set.err());
        }
        if errors.is_empty() { Ok(limits) } else { Err(errors) }
    }

    /// Returns the width tables are wrapped to: the one asked for, else that of the terminal; none for a file or pipe.
    pub(super) fn table_width(&self) -> Option<usize> {
        let of_terminal = || {
            let is_shown =
                self.file.is_none() && std::io::IsTerminal::is_terminal(&std::io::stdout());
            let (terminal_size::Width(width), _) =
                terminal_size::terminal_size().filter(|_| is_shown)?;
            Some(usize::from(width))
        };
        self.width.map(usize::from).or_else(of_terminal)
    }

    /// Returns the format that is asked for, or else the one that the file's ending says.
    pub(super) fn format(&self) -> Format {
        let by_ending = || {
            let ending = self.file.as_deref().and_then(Path::extension)?.to_str()?;
            Format::from_str(ending, true).ok()
        };
        self.format.or_else(by_ending).unwrap_or(Format::Table)
    }
}

fn date(text: &str) -> Result<Date, String> {
    let is_whole = text.len() == "2027-03-15".len();
    text.parse()
        .ok()
        .filter(|_| is_whole)
        .ok_or_else(|| "a date is written as `2027-03-15`".to_owned())
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    use super::*;

    fn rollup(arguments: &str) -> Rollup {
        let words = ["cutbill", "rollup", "book"].into_iter().chain(arguments.split_whitespace());
        match Arguments::try_parse_from(words).unwrap().command {
            Command::Rollup(rollup) => rollup,
            other => panic!("not a rollup: {other:?}"),
        }
    }

    fn fault(arguments: &str) -> String {
        let words = ["cutbill"].into_iter().chain(arguments.split_whitespace());
        let text = Arguments::try_parse_from(words).unwrap_err().to_string();
        text.lines().next().unwrap().to_owned()
    }

    #[test]
    fn the_arguments_fit_together() {
        Arguments::command().debug_assert();
    }

    #[test]
    fn repeated_names_are_all_kept_in_order() {
        let rollup = rollup("--plan B --plan A --option solar --without awning --by plan,item");
        assert_eq!(rollup.scope.plans, ["B", "A"]);
        assert_eq!(rollup.scope.options, ["solar"]);
        assert_eq!(rollup.scope.without, ["awning"]);
        assert_eq!(rollup.by, ["plan", "item"]);
    }

    #[test]
    fn the_ending_of_the_file_says_the_format_unless_it_is_given() {
        assert_eq!(rollup("").output.format(), Format::Table);
        assert_eq!(rollup("-o cost.CSV").output.format(), Format::Csv);
        assert_eq!(rollup("-o cost.parquet").output.format(), Format::Parquet);
        assert_eq!(rollup("-o cost.xlsx").output.format(), Format::Xlsx);
        assert_eq!(rollup("-o cost.csv --format json").output.format(), Format::Json);
        assert_eq!(rollup("-o cost.out").output.format(), Format::Table);
    }

    #[test]
    fn a_day_is_a_day_and_nothing_else() {
        assert_eq!(rollup("--on 2027-03-15").scope.on, Some(Date::constant(2027, 3, 15)));
        let expected = |text: &str| {
            format!(
                "error: invalid value '{text}' for '--on <DATE>': a date is written as `2027-03-15`"
            )
        };
        for text in ["2027-02-29", "3/15/2027", "2027-03-15T08:00", "20270315"] {
            assert_eq!(fault(&format!("rollup book --on {text}")), expected(text));
        }
    }

    #[test]
    fn nothing_can_be_asked_zero_times() {
        for argument in ["--lot", "--unit"] {
            let expected = format!(
                "error: invalid value '0' for '{argument} <N>': number would be zero for non-zero type"
            );
            assert_eq!(fault(&format!("rollup book {argument} 0")), expected);
        }
    }
}
