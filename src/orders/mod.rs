//! From the schedule to the orders: what to buy, of which size, from whom, by when, for how much, and what runs short.
//!
//! In: a book with its schedule, stock, vendors and calendar. Out: [`Orders`]: order lines gathered per vendor and week,
//! the balance of every item week by week, assemblies to build ahead, shortages, advice on open orders, cash by week.
//! [`Orders::why`] traces a line back to builds and bill lines.
//!
//! Time is counted in weeks from Monday, from the week of `as_of` on. What is needed earlier counts in the first week. The
//! units of a build are due on its day, or on the first working day of its week; each component so many working days
//! earlier as the levels above it say. Requirements stay exact; pieces and things are rounded up across the weeks, so that
//! every sum up to a week is the exact sum rounded up.
//!
//! Not here: forecasts that change firm builds, capacity, anything about a stock the book does not list.

mod amounts;
mod buying;
mod cash;
mod changes;
mod cutting;
mod demand;
mod forecast;
mod gather;
mod gross;
mod likely;
mod peg;
mod phase;
mod planned;
mod record;
mod short;

use jiff::civil::Date;
use rayon::iter::{IndexedParallelIterator, IntoParallelRefIterator, ParallelIterator};

use crate::diag::Checked;
use crate::diag::Diagnostic;
use crate::diag::Distinct;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::model::Book;
use crate::model::ItemId;
use crate::model::OptionId;
use crate::model::PlanId;
use crate::model::RowRef;
use crate::model::StockRow;
use crate::model::Stocked;
use crate::model::SwapRow;
use crate::model::Week;
use crate::nest;
use crate::quantity::Ratio;
use crate::watch::Watch;

pub(crate) use changes::Changes;
pub(crate) use demand::Steps;
pub(crate) use likely::Configuration;
pub(crate) use phase::each_line;

pub use buying::{OrderLine, Raised, money};
pub use cash::CashWeek;
pub use demand::{Origin, Weeks};
pub use forecast::Forecast;
pub use gather::{LineRef, VendorOrder};
pub use gross::Ahead;
pub use peg::{Peg, PegSource};
pub use planned::{Balance, Gain, OpenOrder, Planned, PoolCut, Taken};
pub use record::Move;
pub use short::{Alternate, Shortage};

use demand::{Demand, Due};
use gross::Gross;
use short::Waits;

/// Weeks that are planned, at most: ten years.
const MOST_WEEKS: usize = 520;

/// Which weeks are cut together.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Pool {
    /// Each week by itself.
    #[default]
    Week,
    /// The weeks whose Monday lies in one calendar month.
    Month,
    /// All weeks.
    Horizon,
}

impl Pool {
    /// Returns the word for it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Pool::Week => "week",
            Pool::Month => "month",
            Pool::Horizon => "horizon",
        }
    }

    /// Returns the position after the last week of the pool that begins with `week`.
    fn end(self, weeks: Weeks, week: usize) -> usize {
        match self {
            Pool::Week => week + 1,
            Pool::Horizon => weeks.count,
            Pool::Month => {
                let month = |week: usize| {
                    let monday = weeks.week(week).monday();
                    (monday.year(), monday.month())
                };
                (week + 1..weeks.count)
                    .find(|next| month(*next) != month(week))
                    .unwrap_or(weeks.count)
            }
        }
    }
}

/// What to plan for, and how.
#[derive(Clone, Debug, Default)]
pub struct Options {
    /// The day the stock is of; the book's `as_of` if not said.
    pub as_of: Option<Date>,
    /// Which weeks are cut together.
    pub pool: Pool,
    /// Weeks to plan, with that of `as_of`; the book's `horizon_weeks`, or up to the last build scheduled, if not said. Weeks
    /// past the schedule are forecast.
    pub weeks: Option<u32>,
    /// Chance with which the units that take an option shall be covered, above 0 and below 1; the book's if not said.
    /// Without either, what is expected is planned for.
    pub service_level: Option<Ratio>,
    /// Leaves out comparing pooled cutting with cutting each plan alone.
    pub skips_comparison: bool,
    /// How hard nests are searched for.
    pub nest: nest::Options,
}

/// What stays the same while items are planned.
struct Setting<'a> {
    book: &'a Book,
    weeks: Weeks,
    as_of: Date,
    pool: Pool,
    compares: bool,
    nest: nest::Options,
    watch: &'a dyn Watch,
    /// For each item, the positions of its rows of stock.
    stock: Vec<Vec<usize>>,
}

impl Setting<'_> {
    fn stock_of(&self, item: ItemId) -> impl Iterator<Item = (usize, &StockRow)> {
        self.stock[item.index()].iter().map(|index| (*index, &self.book.stock[*index]))
    }
}

/// An option whose take rate leaves doubt, with the units planned for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Doubtful {
    /// The plan.
    pub plan: PlanId,
    /// The option.
    pub option: OptionId,
    /// Share of units that get it.
    pub rate: Ratio,
    /// Units of the schedule whose options are not known.
    pub units: u32,
    /// Units expected to get it.
    pub expected: Ratio,
    /// Units planned for.
    pub covered: Ratio,
}

/// Everything to order, and what stands behind it.
pub struct Orders<'a> {
    /// The day the stock is of.
    pub as_of: Date,
    /// The weeks that are planned.
    pub weeks: Weeks,
    /// Which weeks are cut together.
    pub pool: Pool,
    /// Weeks from the first on up to the last build scheduled; what lies beyond is forecast.
    pub firm_weeks: usize,
    /// Units of the schedule that are planned for.
    pub units: u64,
    /// The service level asked for.
    pub service_level: Option<Ratio>,
    /// Options in doubt.
    pub doubtful: Vec<Doubtful>,
    /// How the schedule goes on, where it does.
    pub forecasts: Vec<Forecast>,
    /// Assemblies built ahead.
    pub ahead: Vec<Ahead>,
    /// Items, in the book's order.
    pub planned: Vec<Planned>,
    /// Orders, by week, then by vendor.
    pub orders: Vec<VendorOrder>,
    /// What runs short, the first to run short first.
    pub shortages: Vec<Shortage>,
    /// Money to be paid, by week.
    pub cash: Vec<CashWeek>,
    demand: Demand<'a>,
}

/// Plans the purchases of a book.
///
/// # Errors
/// No `as_of`, no schedule, and what [`explode`](crate::explode::explode) finds wrong.
///
/// # Example
/// ```
/// # use cutbill::read::{Memory, read};
/// use cutbill::orders::{Options, orders};
/// use cutbill::watch::Silent;
///
/// # let files = Memory::from_iter([
/// #     ("settings.csv", "key,value\nas_of,2027-03-01\n"),
/// #     ("plans.csv", "plan\nSedge\n"),
/// #     ("bill.csv", "parent,component,quantity\nSedge,BOLT,4\n"),
/// #     ("items.csv", "item,form,price,weight,vendor\nBOLT,count,0.25,0.1 lb,Tarn Metals\n"),
/// #     ("schedule.csv", "plan,week,units\nSedge,2027-03-15,10\n"),
/// #     ("stock.csv", "item,quantity\nBOLT,16\n"),
/// # ]);
/// # let book = read(&files).unwrap().value;
/// // Ten units take 40 bolts of 0.25 USD; 16 are there.
/// let orders = orders(&book, &Options::default(), &Silent).unwrap().value;
/// assert_eq!(orders.orders[0].vendor, "Tarn Metals");
/// assert_eq!(orders.orders[0].total(), 6_00);
/// ```
pub fn orders<'a>(
    book: &'a Book,
    options: &Options,
    watch: &dyn Watch,
) -> Result<Checked<Orders<'a>>, Vec<Diagnostic>> {
    let Some(as_of) = options.as_of.or(book.as_of()) else {
        return Err(vec![Diagnostic::placeless(Problem::AsOfMissing)]);
    };
    if book.schedule.is_empty() {
        return Err(vec![Diagnostic::placeless(Problem::TableMissing {
            table: "schedule".to_owned(),
        })]);
    }
    let mut warnings = Distinct::default();
    let (weeks, firm_weeks) = horizon(book, as_of, options.weeks.or(book.settings.horizon_weeks));
    let (mut dues, units) = scheduled(book, as_of, weeks, &mut warnings);
    let forecasts = forecast::forecasts(book, weeks, firm_weeks, &mut warnings);
    dues.extend(forecasts.iter().flat_map(|forecast| forecast.dues(book, weeks, firm_weeks)));
    watch.progress("exploding", 0, 1);
    let level = options.service_level.as_ref().or(book.settings.service_level.as_ref());
    let changes = running_changes(book, &dues, weeks, &mut warnings)?;
    let demand = demand::demand(book, &dues, level.is_some(), &changes, &mut warnings)?;
    let Gross { series, ahead, of_recipes, of_assemblies } =
        gross::gross(book, &demand, weeks, level, &mut warnings);
    let mut stock = vec![Vec::new(); book.items.len()];
    for (index, row) in book.stock.iter().enumerate() {
        if let Stocked::Size(item, _) | Stocked::Offcut(item, _, _) | Stocked::Item(item) = row.what
        {
            stock[item.index()].push(index);
        }
    }
    let setting = Setting {
        book,
        weeks,
        as_of,
        pool: options.pool,
        compares: !options.skips_comparison,
        nest: options.nest,
        watch,
        stock,
    };
    let by_item: Vec<&[gross::Series]> = series.chunk_by(|a, b| a.item == b.item).collect();
    let total = by_item.len();
    let planned: Vec<Planned> = by_item
        .par_iter()
        .enumerate()
        .map(|(done, series)| {
            watch.progress("planning", done + 1, total);
            plan_item(&setting, series)
        })
        .collect();
    let doubtful = doubtful(&demand, level);
    let mut orders = Orders {
        as_of,
        weeks,
        pool: options.pool,
        firm_weeks,
        units,
        service_level: level.cloned(),
        doubtful,
        forecasts,
        ahead,
        planned,
        orders: Vec::new(),
        shortages: Vec::new(),
        cash: Vec::new(),
        demand,
    };
    for planned in &orders.planned {
        warnings.extend(planned.findings.iter().cloned());
    }
    orders.orders = gather::gather(book, &orders, &mut warnings);
    let waits = Waits::new(&orders, &of_recipes, &of_assemblies);
    orders.shortages = short::shortages(book, &orders, &waits);
    orders.cash = cash::cash(book, &orders, &mut warnings);
    let (errors, warnings): (Vec<Diagnostic>, Vec<Diagnostic>) =
        warnings.into_vec().into_iter().partition(|finding| finding.severity == Severity::Error);
    if errors.is_empty() { Ok(Checked { value: orders, warnings }) } else { Err(errors) }
}

fn plan_item(setting: &Setting<'_>, series: &[gross::Series]) -> Planned {
    let id = series[0].item;
    let item = setting.book.item(id);
    let sizes = setting.book.sizes_of(id);
    let is_made_to_length =
        sizes.iter().any(|size| setting.book.sizes[size.index()].length.is_none());
    if item.is_nested() && !sizes.is_empty() && !is_made_to_length {
        cutting::plan(setting, id, series)
    } else {
        amounts::plan(setting, id, series)
    }
}

/// Returns the weeks to plan, and how many of them the schedule covers.
fn horizon(book: &Book, as_of: Date, asked: Option<u32>) -> (Weeks, usize) {
    let first = Week::of(as_of);
    let last = book.schedule.iter().map(|row| Week::of(row.day)).max().unwrap_or(first);
    let firm = usize::try_from(last.since(first).max(0) + 1).unwrap_or(1);
    let count = asked.map_or(firm, |weeks| usize::try_from(weeks.max(1)).unwrap_or(1));
    // A year mistyped in the schedule must not ask for the work of centuries.
    let count = count.min(MOST_WEEKS);
    (Weeks { first, count }, firm.min(count))
}

/// Returns what the schedule asks for within the weeks, and its units.
fn scheduled(book: &Book, as_of: Date, weeks: Weeks, warnings: &mut Distinct) -> (Vec<Due>, u64) {
    let mut dues = Vec::new();
    let mut units = 0_u64;
    let mut past: (u64, Option<RowRef>) = (0, None);
    let mut beyond: (u64, Option<RowRef>) = (0, None);
    for (index, row) in book.schedule.iter().enumerate() {
        let position = Week::of(row.day).since(weeks.first);
        let is_beyond = usize::try_from(position).is_ok_and(|position| position >= weeks.count);
        if position < 0 || is_beyond {
            let left = if position < 0 { &mut past } else { &mut beyond };
            left.0 += u64::from(row.units);
            left.1.get_or_insert(row.row);
            continue;
        }
        if row.units == 0 {
            continue;
        }
        units += u64::from(row.units);
        dues.push(Due {
            origin: Origin::Scheduled(index),
            plan: row.plan,
            day: working_day(book, row.day).max(as_of),
            units: Ratio::from(i64::from(row.units)),
        });
    }
    if let (units, Some(row)) = past {
        let problem = Problem::BuildsPast { units, as_of: as_of.to_string() };
        warnings.insert(Diagnostic::new(Severity::Warning, book.place(row, None), problem));
    }
    if let (units, Some(row)) = beyond {
        let problem = Problem::BuildsBeyond { units, weeks: weeks.count };
        warnings.insert(Diagnostic::new(Severity::Note, book.place(row, None), problem));
    }
    (dues, units)
}

/// Returns a day, or if it is off the next working day of its week, or the last one before it where the week has none.
pub(crate) fn working_day(book: &Book, day: Date) -> Date {
    let next = book.calendar.after(day, 0).filter(|next| Week::of(*next) == Week::of(day));
    next.or_else(|| book.calendar.before(day, 0)).unwrap_or(day)
}

/// Returns the running changes; for those that use up old stock, the day it is used up is worked out first.
fn running_changes(
    book: &Book,
    dues: &[Due],
    weeks: Weeks,
    warnings: &mut Distinct,
) -> Result<Changes, Vec<Diagnostic>> {
    let uses_up = |row: &&SwapRow| row.is_approved && row.uses_up && row.from.is_some();
    if !book.swaps.iter().any(|row| uses_up(&row)) {
        return Ok(Changes::new(book, &|_| None));
    }
    let without = Changes::new(book, &|_| None);
    let demand = demand::demand(book, dues, false, &without, warnings)?;
    let Gross { series, .. } = gross::gross(book, &demand, weeks, None, &mut Distinct::default());
    Ok(Changes::new(book, &|row| changes::used_up(book, row, &series, weeks)))
}

fn doubtful(demand: &Demand<'_>, level: Option<&Ratio>) -> Vec<Doubtful> {
    let Some(level) = level else { return Vec::new() };
    let of = |cover: &demand::Cover| {
        let units: u32 = cover.units.values().sum();
        let expected = Ratio::from(i64::from(units)) * &cover.doubt.rate;
        let margin: Ratio = gross::steps(cover, level).into_iter().map(|(_, step)| step).sum();
        Doubtful {
            plan: cover.plan,
            option: cover.doubt.option,
            rate: cover.doubt.rate.clone(),
            units,
            covered: &expected + &margin,
            expected,
        }
    };
    demand.covers.iter().map(of).collect()
}
