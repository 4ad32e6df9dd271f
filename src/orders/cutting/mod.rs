//! Items that are cut from stock sizes: nested pool by pool over what is there and what can be bought.
//!
//! Offcuts are used before whole sizes that are there, these before open orders that would have to come earlier, and all
//! of them before anything is bought: their costs in the nest are zero, a millionth and two millionths of their price. A
//! pool is cut in its first week; what its layouts leave, and what lots and multiples bring beyond the need, is there for
//! the next.

mod gain;
mod shelf;

use std::collections::BTreeMap;

use crate::diag::Diagnostic;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::explode::What;
use crate::model::Form;
use crate::model::Item;
use crate::model::ItemId;
use crate::model::LotRule;
use crate::model::SizeId;
use crate::model::Stocked;
use crate::model::Supply;
use crate::nest;
use crate::nest::{Instance, Nest, Piece, Stock, UnplacedReason};
use crate::orders::Setting;
use crate::orders::amounts::{rule, safety};
use crate::orders::buying::{Buyer, Wish, unit_measure};
use crate::orders::gross::{Series, whole_steps};
use crate::orders::planned::{Planned, PoolCut, Taken};
use crate::orders::record::{Move, Open, Rule, moves};
use crate::quantity::Length;
use crate::quantity::Ratio;
use crate::rollup::to_cut;

use gain::{alone, apart, buyable, gain};
use shelf::{Shelf, whole};

/// One part of a price that what is there costs in a nest.
const THERE: i128 = 1_000_000;

/// Plans an item that is cut.
pub(super) fn plan(setting: &Setting<'_>, id: ItemId, series: &[Series]) -> Planned {
    let book = setting.book;
    let item = book.item(id);
    let weeks = setting.weeks.count;
    let mut planned = Planned::new(id);
    let wanted = Wanted::new(series, weeks);
    let measures = wanted.measures(setting, id);
    let pools = pools(setting, id, &measures);
    let compared = gain(setting, id, series, &pools);
    let apart = compared.apart;
    planned.gain = compared.gain;
    let mut shelf = Shelf::new(setting, id, &mut planned);
    let mut buyer = Buyer::new(book, id, setting.weeks, setting.as_of);
    let safety = safety(setting, item, &measures);
    let lots = Lots::new(item, &measures, weeks);
    let mut from = 0;
    while from < weeks {
        let count = pools.iter().find(|(first, _)| *first == from).map_or(1, |(_, count)| *count);
        shelf.receive(from, &planned.open);
        let is_apart = apart.contains(&from);
        let mut pool =
            Pool { setting, id, item, from, count, series, is_apart, planned: &mut planned };
        pool.whole_sizes(&wanted, &mut shelf, &mut buyer, &lots);
        pool.cut(&wanted, &mut shelf, &mut buyer, &lots);
        pool.keep_safe(&safety, &mut shelf, &mut buyer, &lots);
        shelf.close(from);
        for week in from + 1..(from + count).min(weeks) {
            shelf.receive(week, &planned.open);
            shelf.close(week);
        }
        from += count;
    }
    planned.lines = buyer.lines;
    if item.supply != Supply::Build {
        planned.lines.clear();
    }
    planned.balances = shelf.into_balances(item);
    advise(setting, &safety, &mut planned);
    planned
}

/// Returns the pools that hold any need: first week and number of weeks. A period rule of the item comes before the pool
/// asked for, if it is longer.
fn pools(setting: &Setting<'_>, id: ItemId, measures: &[Ratio]) -> Vec<(usize, usize)> {
    let item = setting.book.item(id);
    let weeks = measures.len();
    let mut pools = Vec::new();
    let periods = match item.order.lot_rule {
        LotRule::PeriodQuantity => {
            // Costs of ordering and holding are of whole sizes; the first stands for all.
            let one = unit_measure(setting.book, id, setting.book.sizes_of(id).first().copied());
            match rule(item, &Ratio::ONE, &in_sizes(measures, &one), weeks) {
                Rule::Periods(count) => count,
                Rule::LotForLot | Rule::Lots(_) => 1,
            }
        }
        _ => 1,
    };
    let mut week = 0;
    while week < weeks {
        let end = setting.pool.end(setting.weeks, week);
        // A pool begins where something is needed.
        if measures[week].is_zero() {
            week += 1;
            continue;
        }
        let count = (end - week).max(periods).min(weeks - week);
        pools.push((week, count));
        week += count;
    }
    pools
}

/// Returns measures in sizes of which one measures `one`.
fn in_sizes(measures: &[Ratio], one: &Ratio) -> Vec<Ratio> {
    measures.iter().map(|need| need.checked_div(one).unwrap_or_default()).collect()
}

/// What is wanted per week: pieces and whole sizes rounded up across the weeks, runs as they are.
struct Wanted {
    counts: BTreeMap<What, Vec<Ratio>>,
}

impl Wanted {
    fn new(series: &[Series], weeks: usize) -> Wanted {
        let mut exact: BTreeMap<What, Vec<Ratio>> = BTreeMap::new();
        for series in series {
            let sums = exact.entry(series.what).or_insert_with(|| vec![Ratio::ZERO; weeks]);
            for (week, sum) in sums.iter_mut().enumerate() {
                *sum += &series.total(week);
            }
        }
        let rounded = |(what, amounts): (What, Vec<Ratio>)| {
            let amounts = if what == What::Run { amounts } else { whole_steps(&amounts) };
            (what, amounts)
        };
        Wanted { counts: exact.into_iter().map(rounded).collect() }
    }

    /// Returns the measure wanted per week.
    fn measures(&self, setting: &Setting<'_>, id: ItemId) -> Vec<Ratio> {
        let mut measures = vec![Ratio::ZERO; setting.weeks.count];
        for (what, counts) in &self.counts {
            let each = what.measure(setting.book, id);
            for (measure, count) in measures.iter_mut().zip(counts) {
                *measure += &(&each * count);
            }
        }
        measures
    }

    /// Returns the pieces and the run of some weeks.
    fn to_cut(&self, from: usize, count: usize) -> (Vec<Piece>, Length) {
        let mut pieces = Vec::new();
        let mut run = Ratio::ZERO;
        for (what, counts) in &self.counts {
            let sum: Ratio = counts.iter().skip(from).take(count).cloned().sum();
            if sum.is_zero() {
                continue;
            }
            match *what {
                What::Piece { length, width, may_turn, edges } => {
                    let count = sum.to_integer().and_then(|count| u64::try_from(count).ok());
                    if let Some(count) = count {
                        pieces.push(Piece { length, width, count, may_turn, edges });
                    }
                }
                What::Run => run += &sum,
                What::Whole(_) | What::Amount => {}
            }
        }
        (pieces, Length::from_ratio(&run.ceil()).unwrap_or(Length::ZERO))
    }
}

/// Lots of sizes: each size is bought in whole lots where the rule asks for that.
struct Lots<'a> {
    item: &'a Item,
    measures: &'a [Ratio],
    weeks: usize,
}

impl<'a> Lots<'a> {
    fn new(item: &'a Item, measures: &'a [Ratio], weeks: usize) -> Lots<'a> {
        Lots { item, measures, weeks }
    }

    /// Returns a number of sizes raised to whole lots; one of them measures `measure`.
    fn raised(&self, count: &Ratio, measure: &Ratio) -> Ratio {
        match rule(self.item, &Ratio::ONE, &in_sizes(self.measures, measure), self.weeks) {
            Rule::Lots(lot) => {
                let lots = count.checked_div(&lot).unwrap_or_default().ceil();
                (lots * lot).ceil()
            }
            Rule::LotForLot | Rule::Periods(_) => count.clone(),
        }
    }
}

/// One pool of weeks of one item.
struct Pool<'a, 'b> {
    setting: &'a Setting<'a>,
    id: ItemId,
    item: &'a Item,
    from: usize,
    count: usize,
    series: &'a [Series],
    /// Whether cutting each plan alone was found to be cheaper.
    is_apart: bool,
    planned: &'b mut Planned,
}

impl Pool<'_, '_> {
    /// Takes whole sizes that bill lines ask for.
    fn whole_sizes(
        &mut self,
        wanted: &Wanted,
        shelf: &mut Shelf,
        buyer: &mut Buyer<'_>,
        lots: &Lots<'_>,
    ) {
        for (what, counts) in &wanted.counts {
            let What::Whole(size) = *what else { continue };
            let sum: Ratio = counts.iter().skip(self.from).take(self.count).cloned().sum();
            let needed = sum.to_integer().and_then(|count| u64::try_from(count).ok()).unwrap_or(0);
            if needed == 0 {
                continue;
            }
            self.provide(size, needed, shelf, buyer, lots);
            let there = shelf.row(size).there;
            if there < needed {
                self.tell_unplaced(needed - there, UnplacedReason::NoStock);
            }
            self.take(size, needed.min(there), shelf);
        }
    }

    /// Sees to it that so many of a size are there, as far as they can be had.
    fn provide(
        &mut self,
        size: SizeId,
        needed: u64,
        shelf: &mut Shelf,
        buyer: &mut Buyer<'_>,
        lots: &Lots<'_>,
    ) {
        while shelf.row(size).there < needed {
            let next = shelf
                .open
                .iter()
                .find(|(_, open, _)| *open == size)
                .map(|(position, _, _)| *position);
            let Some(position) = next else { break };
            self.planned.open[position].change = Move::In(self.from);
            shelf.pull_in(position);
        }
        let missing = needed.saturating_sub(shelf.row(size).there);
        let left = shelf.left_to_order(self.setting.book, size);
        let missing = left.map_or(missing, |left| missing.min(left));
        if missing > 0 {
            self.buy(size, missing, shelf, buyer, lots);
        }
    }

    fn take(&self, size: SizeId, count: u64, shelf: &mut Shelf) {
        let row = shelf.row(size);
        row.there = row.there.saturating_sub(count);
        row.gross[self.from] += &whole(count);
    }

    fn buy(
        &mut self,
        size: SizeId,
        count: u64,
        shelf: &mut Shelf,
        buyer: &mut Buyer<'_>,
        lots: &Lots<'_>,
    ) {
        let measure = buyer.unit_measure(Some(size));
        let needed = whole(count);
        let units = lots.raised(&needed, &measure);
        let (all, forecast) = self.split();
        let of_forecast = (&needed * &forecast).checked_div(&all).unwrap_or_default();
        // What later weeks take of this size is not known before they are nested; if they need it as this pool does, it is
        // as much more as they measure more.
        let later = || -> Vec<Ratio> {
            let in_pool: Ratio =
                lots.measures.iter().skip(self.from).take(self.count).cloned().sum();
            let each = needed.checked_div(&in_pool).unwrap_or_default();
            lots.measures
                .iter()
                .skip(self.from + 1)
                .enumerate()
                .map(|(next, need)| if next + 1 < self.count { Ratio::ZERO } else { need * &each })
                .collect()
        };
        let bought = buyer.buy(&Wish {
            size: Some(size),
            week: self.from,
            needed: needed.clone(),
            units,
            of_forecast,
            later: &later,
        });
        shelf.add(self.from, size, &bought);
    }

    /// Returns the measure of everything this pool needs, and of what the forecast does.
    fn split(&self) -> (Ratio, Ratio) {
        let mut all = Ratio::ZERO;
        let mut forecast = Ratio::ZERO;
        for series in self.series {
            let each = series.what.measure(self.setting.book, self.id);
            for week in self.from..(self.from + self.count).min(self.setting.weeks.count) {
                all += &(&each * &series.total(week));
                forecast += &(&each * &series.forecast(week));
            }
        }
        (all, forecast)
    }

    /// Nests the pieces of the pool and buys what the nest takes beyond what is there.
    fn cut(&mut self, wanted: &Wanted, shelf: &mut Shelf, buyer: &mut Buyer<'_>, lots: &Lots<'_>) {
        let (pieces, run) = wanted.to_cut(self.from, self.count);
        if pieces.is_empty() && run == Length::ZERO {
            return;
        }
        let stocks = self.stocks(shelf, buyer);
        if stocks.is_empty() {
            let place = self.setting.book.place(self.item.row, None);
            let problem = Problem::SizeMissing { item: self.item.name.clone() };
            self.planned.findings.push(Diagnostic::new(Severity::Gap, place, problem));
            return;
        }
        let (taken, stocks): (Vec<Taken>, Vec<Stock>) = stocks.into_iter().unzip();
        let instance = self.instance(stocks, pieces, run);
        let mut nest = nest::nest(&instance, self.setting.nest, self.setting.watch);
        if self.is_apart
            && let Some(other) = apart(self.setting, &instance, &self.by_plan())
            && other.cost < nest.cost
        {
            nest = Nest { bound: nest.bound, ..other };
        }
        if let Err(faults) = nest::check::check(&instance, &nest) {
            let place = self.setting.book.place(self.item.row, None);
            let problem = Problem::NestWrong { item: self.item.name.clone(), faults };
            self.planned.findings.push(Diagnostic::error(place, problem));
            return;
        }
        for reason in [UnplacedReason::TooLarge, UnplacedReason::NoStock] {
            let of_reason = nest.unplaced.iter().filter(|unplaced| unplaced.reason == reason);
            let lost: u64 = of_reason.map(|unplaced| unplaced.count).sum();
            if lost > 0 {
                self.tell_unplaced(lost, reason);
            }
        }
        let mut new_offcuts: Vec<(Length, Length, u64)> = Vec::new();
        for (stock, source) in taken.iter().enumerate() {
            let layouts = || nest.layouts.iter().filter(|layout| layout.stock == stock);
            let count: u64 = layouts().map(|layout| layout.repeat).sum();
            if count == 0 {
                continue;
            }
            match *source {
                Taken::Offcut => {
                    let size = &instance.stocks[stock];
                    let known = shelf
                        .offcuts
                        .iter_mut()
                        .find(|offcut| (offcut.0, offcut.1) == (size.length, size.width));
                    if let Some(offcut) = known {
                        offcut.2 = offcut.2.saturating_sub(count);
                    }
                }
                Taken::Shelf(size) => self.take(size, count, shelf),
                Taken::Open(size, position) => {
                    self.planned.open[position].change = Move::In(self.from);
                    shelf.pull_in(position);
                    self.take(size, count, shelf);
                }
                Taken::Bought(size) => {
                    self.buy(size, count, shelf, buyer, lots);
                    self.take(size, count, shelf);
                }
            }
            for layout in layouts() {
                let rests =
                    layout.offcuts.iter().map(|rest| (rest.length, rest.width, layout.repeat));
                new_offcuts.extend(rests);
            }
        }
        shelf.keep(new_offcuts);
        self.planned.cuts.push(PoolCut {
            week: self.from,
            weeks: self.count,
            instance,
            stocks: taken,
            nest,
        });
    }

    fn tell_unplaced(&mut self, count: u64, reason: UnplacedReason) {
        let place = self.setting.book.place(self.item.row, None);
        let reason = match reason {
            UnplacedReason::TooLarge => "they fit no size that is there or can be bought",
            UnplacedReason::NoStock => "all that is there or can be bought is used",
        };
        let pieces = usize::try_from(count).unwrap_or(usize::MAX);
        let (item, reason) = (self.item.name.clone(), reason.to_owned());
        let problem = Problem::Unplaced { item, pieces, reason };
        self.planned.findings.push(Diagnostic::new(Severity::Gap, place, problem));
    }

    /// Returns the pieces of each plan.
    fn by_plan(&self) -> Vec<Vec<Piece>> {
        let weeks = self.setting.weeks.count;
        let alone = alone(self.series, weeks);
        alone.iter().map(|(_, wanted)| wanted.to_cut(self.from, self.count).0).collect()
    }

    fn instance(&self, stocks: Vec<Stock>, pieces: Vec<Piece>, run: Length) -> Instance {
        instance(self.setting, self.item, stocks, pieces, run)
    }

    /// Returns what can be cut: offcuts, whole sizes that are there, open orders, and sizes to be bought.
    fn stocks(&self, shelf: &Shelf, buyer: &Buyer<'_>) -> Vec<(Taken, Stock)> {
        let buyable = buyable(self.setting, buyer, self.id, self.from, Some(shelf)).stocks;
        let there = |size: SizeId, part: i128| {
            let size = &self.setting.book.sizes[size.index()];
            let cost = buyable.iter().find(|(_, stock)| {
                Some(stock.length) == size.length && stock.width == width_of(self.item, size.width)
            });
            let cost = cost.map_or_else(|| Ratio::ONE, |(_, stock)| stock.cost.clone());
            let share = Ratio::new(part, THERE).expect("a million is not zero");
            (size.length.map(|length| (length, width_of(self.item, size.width))), cost * share)
        };
        let mut stocks = Vec::new();
        for (length, width, count) in &shelf.offcuts {
            let width = if self.item.form == Form::Linear { Length::ZERO } else { *width };
            let stock =
                Stock { length: *length, width, cost: Ratio::ZERO, available: Some(*count) };
            stocks.push((Taken::Offcut, stock));
        }
        for (size, row) in &shelf.sizes {
            if let (true, (Some((length, width)), cost)) = (row.there > 0, there(*size, 1)) {
                let stock = Stock { length, width, cost, available: Some(row.there) };
                stocks.push((Taken::Shelf(*size), stock));
            }
        }
        if self.item.supply == Supply::Build {
            for (position, size, count) in &shelf.open {
                if let (Some((length, width)), cost) = there(*size, 2) {
                    let stock = Stock { length, width, cost, available: Some(*count) };
                    stocks.push((Taken::Open(*size, *position), stock));
                }
            }
        }
        stocks.extend(buyable.into_iter().map(|(size, stock)| (Taken::Bought(size), stock)));
        stocks
    }

    /// Buys whole sizes until the safety stock is there.
    fn keep_safe(
        &mut self,
        safety: &[Ratio],
        shelf: &mut Shelf,
        buyer: &mut Buyer<'_>,
        lots: &Lots<'_>,
    ) {
        let kept = &safety[(self.from + self.count - 1).min(safety.len() - 1)];
        if kept.is_zero() || self.item.supply != Supply::Build {
            return;
        }
        let book = self.setting.book;
        let measure_of = |size: SizeId| unit_measure(book, self.id, Some(size));
        let there = |shelf: &Shelf| -> Ratio {
            shelf.sizes.iter().map(|(size, row)| whole(row.there) * measure_of(*size)).sum()
        };
        // What is ordered already comes before anything new; what comes within the pool is in time.
        let within = self.from + self.count;
        let is_within =
            |(position, ..): &&(usize, SizeId, u64)| self.planned.open[*position].due < within;
        let coming: Ratio = shelf
            .open
            .iter()
            .filter(is_within)
            .map(|(_, size, count)| whole(*count) * measure_of(*size))
            .sum();
        while &there(shelf) + &coming < *kept {
            let later = shelf
                .open
                .iter()
                .map(|(position, ..)| *position)
                .find(|position| within <= self.planned.open[*position].due);
            let Some(position) = later else { break };
            self.planned.open[position].change = Move::In(self.from);
            shelf.pull_in(position);
        }
        let missing = kept - &there(shelf) - coming;
        if missing <= Ratio::ZERO {
            return;
        }
        let rate = |size: SizeId, stock: &Stock| {
            stock.cost.checked_div(&measure_of(size)).unwrap_or_default()
        };
        let cheapest = buyable(self.setting, buyer, self.id, self.from, Some(shelf))
            .stocks
            .into_iter()
            .min_by(|(a, a_stock), (b, b_stock)| rate(*a, a_stock).cmp(&rate(*b, b_stock)));
        let Some((size, stock)) = cheapest else { return };
        let missing = missing.checked_div(&measure_of(size));
        let missing = missing.and_then(|missing| missing.ceil().to_integer());
        let missing = missing.and_then(|missing| u64::try_from(missing).ok()).unwrap_or(0);
        let missing = stock.available.map_or(missing, |left| missing.min(left));
        if missing > 0 {
            self.buy(size, missing, shelf, buyer, lots);
        }
    }
}

fn instance(
    setting: &Setting<'_>,
    item: &Item,
    stocks: Vec<Stock>,
    pieces: Vec<Piece>,
    run: Length,
) -> Instance {
    let mut instance = to_cut(setting.book, item, stocks, pieces, run);
    // Whole rolls are ordered; what is left on one is there for the next weeks.
    instance.charges_length = false;
    if item.form == Form::Roll && instance.offcut_min.is_none() {
        instance.offcut_min = Some(Length::FOOT);
    }
    instance
}

fn width_of(item: &Item, width: Option<Length>) -> Length {
    if item.form == Form::Linear { Length::ZERO } else { width.unwrap_or(Length::ZERO) }
}

/// Tells which open orders are not needed when they are due. Of what is kept against doubt, which is of all sizes together,
/// none is sent away.
fn advise(setting: &Setting<'_>, safety: &[Ratio], planned: &mut Planned) {
    let measure_of = |size: Option<SizeId>| unit_measure(setting.book, planned.item, size);
    let mut spare: Vec<Ratio> = safety.iter().map(|kept| -kept.clone()).collect();
    for balance in &planned.balances {
        let measure = measure_of(balance.size);
        for (spare, there) in spare.iter_mut().zip(&balance.balance) {
            *spare += &(there * &measure);
        }
    }
    for balance in &planned.balances {
        let measure = measure_of(balance.size);
        let of_size: Vec<usize> = (0..planned.open.len())
            .filter(|index| match setting.book.stock[planned.open[*index].row].what {
                Stocked::Size(_, size) => Some(size) == balance.size,
                _ => false,
            })
            .collect();
        let listed: Vec<Open> = of_size
            .iter()
            .map(|index| &planned.open[*index])
            .map(|open| Open {
                due: open.due,
                quantity: setting.book.stock[open.row].quantity.clone(),
            })
            .collect();
        let dues: Vec<usize> = of_size
            .iter()
            .map(|index| match planned.open[*index].change {
                Move::In(week) => week,
                _ => planned.open[*index].due,
            })
            .collect();
        let free = balance.balance.iter().zip(&spare).map(|(there, spare)| {
            let spare = spare.checked_div(&measure).unwrap_or_default();
            there.clone().min(spare)
        });
        let moves = moves(&listed, &dues, free.collect());
        for ((index, change), open) in of_size.into_iter().zip(moves).zip(&listed) {
            let away = match change {
                Move::Keep | Move::In(_) => open.due..open.due,
                Move::Out(week) => open.due..week,
                Move::Cancel => open.due..spare.len(),
            };
            for week in away {
                spare[week] = &spare[week] - &(&open.quantity * &measure);
            }
            planned.open[index].change = change;
        }
    }
}
