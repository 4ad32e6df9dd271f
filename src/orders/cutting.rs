//! Items that are cut from stock sizes: nested pool by pool over what is there and what can be bought.
//!
//! Offcuts are used before whole sizes that are there, these before open orders that would have to come earlier, and all
//! of them before anything is bought: their costs in the nest are zero, a millionth and two millionths of their price. A
//! pool is cut in its first week; what its layouts leave, and what lots and multiples bring beyond the need, is there for
//! the next.

use std::collections::BTreeMap;

use crate::diag::Diagnostic;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::explode::What;
use crate::model::Form;
use crate::model::Item;
use crate::model::ItemId;
use crate::model::LotRule;
use crate::model::PlanId;
use crate::model::SizeId;
use crate::model::StockKind;
use crate::model::Stocked;
use crate::model::Supply;
use crate::nest;
use crate::nest::{Instance, Nest, Piece, Stock};
use crate::orders::Setting;
use crate::orders::amounts::{rule, safety};
use crate::orders::buying::{Buyer, Wish, unit_measure};
use crate::orders::gross::{Series, whole_steps};
use crate::orders::planned::{Balance, Gain, OpenOrder, Planned, PoolCut, Taken, is_promised};
use crate::orders::record::{Move, Rule, moves};
use crate::quantity::Length;
use crate::quantity::Ratio;
use crate::rollup::to_cut;

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
    let pools = pools(setting, item, &measures);
    planned.gain = gain(setting, id, series, &pools);
    let mut shelf = Shelf::new(setting, id, &mut planned);
    let mut buyer = Buyer::new(book, id, setting.weeks, setting.as_of);
    let safety = safety(setting, item, &measures);
    let lots = Lots::new(item, &measures, weeks);
    let mut from = 0;
    while from < weeks {
        let count = pools.iter().find(|(first, _)| *first == from).map_or(1, |(_, count)| *count);
        shelf.receive(from, &planned.open);
        let mut pool = Pool { setting, id, item, from, count, series, planned: &mut planned };
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
    advise(setting, &mut planned);
    planned
}

/// Returns the pools that hold any need: first week and number of weeks. A period rule of the item comes before the pool
/// asked for, if it is longer.
fn pools(setting: &Setting<'_>, item: &Item, measures: &[Ratio]) -> Vec<(usize, usize)> {
    let weeks = measures.len();
    let mut pools = Vec::new();
    let periods = match item.order.lot_rule {
        LotRule::PeriodQuantity => match rule(item, &Ratio::ONE, measures, weeks) {
            Rule::Periods(count) => count,
            _ => 1,
        },
        _ => 1,
    };
    let mut week = 0;
    while week < weeks {
        let end = setting.pool.end(setting.weeks, week);
        if measures[week].is_zero() && periods > 1 {
            week += 1;
            continue;
        }
        let count = (end - week).max(periods).min(weeks - week);
        pools.push((week, count));
        week += count;
    }
    pools
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

/// What is there while weeks go by.
struct Shelf {
    weeks: usize,
    sizes: BTreeMap<SizeId, Row>,
    offcuts: Vec<(Length, Length, u64)>,
    /// Open orders that have not come: position in the planned ones, size, count.
    open: Vec<(usize, SizeId, u64)>,
}

/// One size over the weeks.
struct Row {
    there: u64,
    on_hand: Ratio,
    gross: Vec<Ratio>,
    due: Vec<Ratio>,
    planned: Vec<Ratio>,
    balance: Vec<Ratio>,
}

impl Shelf {
    fn new(setting: &Setting<'_>, id: ItemId, planned: &mut Planned) -> Shelf {
        let weeks = setting.weeks.count;
        let mut shelf =
            Shelf { weeks, sizes: BTreeMap::new(), offcuts: Vec::new(), open: Vec::new() };
        let mut promised: BTreeMap<SizeId, u64> = BTreeMap::new();
        let mut rows: Vec<(usize, usize, SizeId, u64)> = Vec::new();
        for (index, row) in setting.stock_of(id) {
            let count =
                row.quantity.floor().to_integer().and_then(|count| u64::try_from(count).ok());
            let count = count.unwrap_or(0);
            match (row.what, row.kind) {
                (Stocked::Size(_, size), StockKind::OnHand) => shelf.row(size).there += count,
                (Stocked::Size(_, size), StockKind::Allocated)
                    if is_promised(setting.book, row) =>
                {
                    *promised.entry(size).or_default() += count;
                }
                (Stocked::Size(_, size), StockKind::OnOrder) => {
                    let due = row.due.map_or(0, |due| setting.weeks.position(due));
                    rows.push((due, index, size, count));
                }
                (Stocked::Offcut(_, length, width), StockKind::OnHand) => {
                    shelf.offcuts.push((length, width, count));
                }
                _ => {}
            }
        }
        for (size, count) in promised {
            let row = shelf.row(size);
            row.there = row.there.saturating_sub(count);
        }
        for row in shelf.sizes.values_mut() {
            row.on_hand = whole(row.there);
        }
        rows.sort_unstable();
        for (due, index, size, count) in rows {
            shelf.open.push((planned.open.len(), size, count));
            shelf.row(size).due[due] += &whole(count);
            planned.open.push(OpenOrder::new(index, due));
        }
        shelf
    }

    fn row(&mut self, size: SizeId) -> &mut Row {
        let weeks = self.weeks;
        self.sizes.entry(size).or_insert_with(|| Row {
            there: 0,
            on_hand: Ratio::ZERO,
            gross: vec![Ratio::ZERO; weeks],
            due: vec![Ratio::ZERO; weeks],
            planned: vec![Ratio::ZERO; weeks],
            balance: vec![Ratio::ZERO; weeks],
        })
    }

    /// Takes in what is due in a week.
    fn receive(&mut self, week: usize, open: &[OpenOrder]) {
        let (come, left): (Vec<_>, Vec<_>) =
            self.open.drain(..).partition(|(position, _, _)| open[*position].due == week);
        self.open = left;
        for (_, size, count) in come {
            self.row(size).there += count;
        }
    }

    /// Takes in an open order ahead of its day.
    fn pull_in(&mut self, position: usize) {
        if let Some(at) = self.open.iter().position(|(open, _, _)| *open == position) {
            let (_, size, count) = self.open.remove(at);
            self.row(size).there += count;
        }
    }

    fn close(&mut self, week: usize) {
        for row in self.sizes.values_mut() {
            row.balance[week] = whole(row.there);
        }
    }

    fn into_balances(self, item: &Item) -> Vec<Balance> {
        let balance = |(size, row): (SizeId, Row)| {
            let mut balance = Balance {
                size: Some(size),
                on_hand: row.on_hand,
                gross: row.gross,
                due: row.due,
                planned: row.planned,
                balance: row.balance,
            };
            if item.supply != Supply::Build {
                balance.planned.fill(Ratio::ZERO);
                balance.follow();
            }
            balance
        };
        self.sizes.into_iter().map(balance).collect()
    }
}

fn whole(count: u64) -> Ratio {
    Ratio::whole(i128::from(count))
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
        let in_sizes: Vec<Ratio> = self
            .measures
            .iter()
            .map(|need| need.checked_div(measure).unwrap_or_default())
            .collect();
        match rule(self.item, &Ratio::ONE, &in_sizes, self.weeks) {
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
            self.take(size, needed, shelf);
        }
    }

    /// Sees to it that so many of a size are there.
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
        // What later weeks take of this size is not known before they are nested; their measure says about how much.
        let later = || -> Vec<Ratio> {
            let weeks = lots.measures.iter().skip(self.from + self.count);
            weeks.map(|need| need.checked_div(&measure).unwrap_or_default()).collect()
        };
        let bought = buyer.buy(&Wish {
            size: Some(size),
            week: self.from,
            units,
            of_forecast,
            later: &later,
        });
        let row = shelf.row(size);
        row.planned[self.from] += &bought;
        row.there += bought.to_integer().and_then(|count| u64::try_from(count).ok()).unwrap_or(0);
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
        let stocks = self.stocks(shelf);
        if stocks.is_empty() {
            let place = self.setting.book.place(self.item.row, None);
            let problem = Problem::SizeMissing { item: self.item.name.clone() };
            self.planned.findings.push(Diagnostic::new(Severity::Gap, place, problem));
            return;
        }
        let (taken, stocks): (Vec<Taken>, Vec<Stock>) = stocks.into_iter().unzip();
        let instance = self.instance(stocks, pieces, run);
        let nest = nest::nest(&instance, self.setting.nest, self.setting.watch);
        if let Err(faults) = nest::check::check(&instance, &nest) {
            let place = self.setting.book.place(self.item.row, None);
            let problem = Problem::NestWrong { item: self.item.name.clone(), faults };
            self.planned.findings.push(Diagnostic::error(place, problem));
            return;
        }
        let lost: u64 = nest.unplaced.iter().map(|unplaced| unplaced.count).sum();
        if lost > 0 {
            let place = self.setting.book.place(self.item.row, None);
            let reason = "they fit no size that is there or can be bought".to_owned();
            let pieces = usize::try_from(lost).unwrap_or(usize::MAX);
            let problem = Problem::Unplaced { item: self.item.name.clone(), pieces, reason };
            self.planned.findings.push(Diagnostic::new(Severity::Gap, place, problem));
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
        shelf.offcuts.extend(new_offcuts);
        shelf.offcuts.sort_unstable();
        shelf.offcuts.dedup_by(|next, kept| {
            let is_same = (next.0, next.1) == (kept.0, kept.1);
            if is_same {
                kept.2 += next.2;
            }
            is_same
        });
        shelf.offcuts.retain(|offcut| offcut.2 > 0);
        self.planned.cuts.push(PoolCut {
            week: self.from,
            weeks: self.count,
            instance,
            stocks: taken,
            nest,
        });
    }

    fn instance(&self, stocks: Vec<Stock>, pieces: Vec<Piece>, run: Length) -> Instance {
        instance(self.setting, self.item, stocks, pieces, run)
    }

    /// Returns what can be cut: offcuts, whole sizes that are there, open orders, and sizes to be bought.
    fn stocks(&self, shelf: &Shelf) -> Vec<(Taken, Stock)> {
        let buyable = buyable(self.setting, self.id, self.from);
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
        let there: Ratio = shelf
            .sizes
            .iter()
            .map(|(size, row)| whole(row.there) * unit_measure(book, self.id, Some(*size)))
            .sum();
        if there >= *kept {
            return;
        }
        let rate = |size: SizeId, stock: &Stock| {
            stock.cost.checked_div(&unit_measure(book, self.id, Some(size))).unwrap_or_default()
        };
        let cheapest = buyable(self.setting, self.id, self.from)
            .into_iter()
            .min_by(|(a, a_stock), (b, b_stock)| rate(*a, a_stock).cmp(&rate(*b, b_stock)));
        let Some((size, _)) = cheapest else { return };
        let missing = (kept - &there).checked_div(&unit_measure(book, self.id, Some(size)));
        let missing = missing.and_then(|missing| missing.ceil().to_integer());
        let missing = missing.and_then(|missing| u64::try_from(missing).ok()).unwrap_or(0);
        self.provide(size, shelf.row(size).there + missing, shelf, buyer, lots);
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

/// Returns the sizes that can be bought, as stocks of a nest: those with a price, or by their measure if none has.
fn buyable(setting: &Setting<'_>, id: ItemId, week: usize) -> Vec<(SizeId, Stock)> {
    let book = setting.book;
    let item = book.item(id);
    let on = setting.weeks.week(week).monday().max(setting.as_of);
    let cost_of = |size: SizeId| {
        let measure = What::Whole(size).measure(book, id);
        let priced = book.price(id, Some(size), Some(on))?;
        item.money(&priced.price, &measure, &Ratio::ONE)
    };
    let sizes = book.sizes_of(id);
    let is_any_priced = sizes.iter().any(|size| cost_of(*size).is_some());
    let mut stocks = Vec::new();
    for id_of_size in sizes {
        let size = &book.sizes[id_of_size.index()];
        let Some(length) = size.length else { continue };
        let cost = match cost_of(*id_of_size) {
            Some(cost) => cost,
            None if is_any_priced => continue,
            None => What::Whole(*id_of_size).measure(book, id),
        };
        let available = size.available.map(u64::from);
        let width = width_of(item, size.width);
        let known = stocks.iter().position(|(_, stock): &(SizeId, Stock)| {
            stock.length == length && stock.width == width
        });
        // Of one size from several vendors the cheapest is nested; who sells it is decided when it is bought.
        match known {
            Some(at) if stocks[at].1.cost <= cost => {}
            Some(at) => stocks[at] = (*id_of_size, Stock { length, width, cost, available }),
            None => stocks.push((*id_of_size, Stock { length, width, cost, available })),
        }
    }
    stocks
}

/// Compares cutting the plans of each pool together with cutting each alone, from new stock.
fn gain(
    setting: &Setting<'_>,
    id: ItemId,
    series: &[Series],
    pools: &[(usize, usize)],
) -> Option<Gain> {
    if !setting.compares {
        return None;
    }
    let item = setting.book.item(id);
    let weeks = setting.weeks.count;
    let plans: Vec<Option<PlanId>> = series
        .iter()
        .map(|series| series.plan)
        .collect::<std::collections::BTreeSet<_>>()
        .into_iter()
        .collect();
    if plans.len() < 2 {
        return None;
    }
    let mut known: Vec<(Instance, Nest)> = Vec::new();
    let mut sizes_and_cost = |wanted: &Wanted, week: usize, count: usize| -> (u64, Ratio) {
        let (pieces, run) = wanted.to_cut(week, count);
        let stocks: Vec<Stock> =
            buyable(setting, id, week).into_iter().map(|(_, stock)| stock).collect();
        if (pieces.is_empty() && run == Length::ZERO) || stocks.is_empty() {
            return (0, Ratio::ZERO);
        }
        let instance = instance(setting, item, stocks, pieces, run);
        let at = known.iter().position(|(done, _)| *done == instance).unwrap_or_else(|| {
            let nest = nest::nest(&instance, setting.nest, setting.watch);
            known.push((instance, nest));
            known.len() - 1
        });
        let (instance, nest) = &known[at];
        (nest.stock_counts(instance).iter().sum(), nest.cost.clone())
    };
    let together = Wanted::new(series, weeks);
    let alone: Vec<Wanted> = plans
        .iter()
        .map(|plan| {
            let own: Vec<Series> =
                series.iter().filter(|series| series.plan == *plan).cloned().collect();
            Wanted::new(&own, weeks)
        })
        .collect();
    let mut gain = Gain {
        alone: 0,
        together: 0,
        cost: [Ratio::ZERO, Ratio::ZERO],
        plans: plans.iter().flatten().copied().collect(),
    };
    for (week, count) in pools {
        let (sizes, cost) = sizes_and_cost(&together, *week, *count);
        gain.together += sizes;
        gain.cost[1] += &cost;
        for wanted in &alone {
            let (sizes, cost) = sizes_and_cost(wanted, *week, *count);
            gain.alone += sizes;
            gain.cost[0] += &cost;
        }
    }
    Some(gain)
}

/// Tells which open orders are not needed when they are due.
fn advise(setting: &Setting<'_>, planned: &mut Planned) {
    for balance in &planned.balances {
        let of_size = |open: &&mut OpenOrder| match setting.book.stock[open.row].what {
            Stocked::Size(_, size) => Some(size) == balance.size,
            _ => false,
        };
        let mut open: Vec<&mut OpenOrder> = planned.open.iter_mut().filter(of_size).collect();
        let listed: Vec<crate::orders::record::Open> = open
            .iter()
            .map(|open| crate::orders::record::Open {
                due: open.due,
                quantity: setting.book.stock[open.row].quantity.clone(),
            })
            .collect();
        let dues: Vec<usize> = open
            .iter()
            .map(|open| match open.change {
                Move::In(week) => week,
                _ => open.due,
            })
            .collect();
        for (open, change) in open.iter_mut().zip(moves(&listed, &dues, balance.balance.clone())) {
            open.change = change;
        }
    }
}
