//! Items that are counted or measured out: netted week by week, ordered in whole purchase units.

use crate::explode::What;
use crate::model::Book;
use crate::model::Form;
use crate::model::Item;
use crate::model::ItemId;
use crate::model::LotRule;
use crate::model::SafetyStock;
use crate::model::StockKind;
use crate::model::StockRow;
use crate::model::Stocked;
use crate::model::Supply;
use crate::orders::Setting;
use crate::orders::buying::{Buyer, Wish};
use crate::orders::demand::Weeks;
use crate::orders::gross::{Series, whole_steps};
use crate::orders::planned::{Balance, OpenOrder, Planned, is_promised};
use crate::orders::record::{Open, Rule, Situation, economic_quantity, record};
use crate::quantity::Ratio;

/// Plans an item that is not cut.
pub(super) fn plan(setting: &Setting<'_>, id: ItemId, series: &[Series]) -> Planned {
    let book = setting.book;
    let item = book.item(id);
    let factor = item.purchase_factor().clone();
    let in_units = |amount: &Ratio| amount.checked_div(&factor).unwrap_or_default();
    let weeks = setting.weeks.count;
    let total = |of: &dyn Fn(&Series, usize) -> Ratio| -> Vec<Ratio> {
        let of_week = |week: usize| {
            let parts = series.iter().map(|series| series.what.each(book, id) * of(series, week));
            parts.sum::<Ratio>()
        };
        (0..weeks).map(of_week).collect()
    };
    let exact = total(&|series, week| series.total(week));
    let forecast = total(&|series, week| series.forecast(week));
    let gross = if item.form == Form::Count { whole_steps(&exact) } else { exact };
    let mut planned = Planned::new(id);
    let (on_hand, open) = stock(setting, id, &mut planned);
    let mut balance = Balance {
        size: None,
        on_hand: in_units(&on_hand),
        gross: gross.iter().map(in_units).collect(),
        due: vec![Ratio::ZERO; weeks],
        planned: vec![Ratio::ZERO; weeks],
        balance: Vec::new(),
    };
    for open in &open {
        if let Some(due) = balance.due.get_mut(open.due) {
            *due += &in_units(&open.quantity);
        }
    }
    if item.supply != Supply::Build {
        balance.follow();
        planned.balances.push(balance);
        return planned;
    }
    let safety = safety(setting, item, &gross);
    let rule = rule(item, &factor, &gross, weeks);
    let mut buyer = Buyer::new(book, id, setting.weeks, setting.as_of);
    let situation = Situation { on_hand, gross: &gross, open: &open, safety: &safety, rule };
    let record = record(&situation, &mut |wanted| {
        let of_forecast = in_units(&forecast[wanted.period]);
        let units = in_units(&wanted.quantity);
        let bought = buyer.buy(&Wish {
            size: None,
            week: wanted.period,
            of_forecast: of_forecast.min(units.clone()),
            needed: in_units(wanted.needed()),
            units,
            later: &|| wanted.later().iter().map(in_units).collect(),
        });
        bought * &factor
    });
    balance.planned = record.planned.iter().map(in_units).collect();
    balance.balance = record.balance.iter().map(in_units).collect();
    for (index, change) in record.moves.into_iter().enumerate() {
        planned.open[index].change = change;
    }
    planned.lines = buyer.lines;
    planned.balances.push(balance);
    planned
}

/// Returns what is on hand and not promised, and the open orders, in base units.
fn stock(setting: &Setting<'_>, id: ItemId, planned: &mut Planned) -> (Ratio, Vec<Open>) {
    let mut on_hand = Ratio::ZERO;
    let mut rows: Vec<(usize, usize)> = Vec::new();
    for (index, row) in setting.stock_of(id) {
        if row.what != Stocked::Item(id) {
            continue;
        }
        match row.kind {
            StockKind::OnHand => on_hand += &row.quantity,
            StockKind::Allocated if is_promised(setting.book, setting.weeks, row) => {
                on_hand = &on_hand - &row.quantity;
            }
            StockKind::Allocated => {}
            StockKind::OnOrder => {
                rows.push((row.due.map_or(0, |due| setting.weeks.due(due)), index));
            }
        }
    }
    rows.sort_unstable();
    planned.open = rows.iter().map(|(due, row)| OpenOrder::new(*row, *due)).collect();
    let quantity = |row: usize| setting.book.stock[row].quantity.clone();
    let open = rows.iter().map(|(due, row)| Open { due: *due, quantity: quantity(*row) }).collect();
    (on_hand.max(Ratio::ZERO), open)
}

/// Returns what is kept at the end of each week, in base units.
pub(super) fn safety(setting: &Setting<'_>, item: &Item, gross: &[Ratio]) -> Vec<Ratio> {
    let weeks = gross.len();
    match &item.order.safety_stock {
        None => vec![Ratio::ZERO; weeks],
        Some(SafetyStock::Amount(amount)) => vec![amount.clone(); weeks],
        Some(SafetyStock::Days(days)) => {
            // A week's need is taken to be spread evenly over its working days.
            let of_week = |week: usize| {
                let monday = setting.weeks.week(week).monday();
                let next = setting.weeks.week(week).plus(1).monday();
                setting.book.calendar.working_days(monday, next)
            };
            let cover = |week: usize| {
                let mut left = *days;
                let mut kept = Ratio::ZERO;
                for (later, gross) in gross.iter().enumerate().skip(week + 1) {
                    let working = of_week(later);
                    if left == 0 {
                        break;
                    }
                    if working > 0 {
                        let part = Ratio::new(i128::from(left.min(working)), i128::from(working));
                        kept += &(part.expect("a working week has days") * gross);
                        left = left.saturating_sub(working);
                    }
                }
                kept
            };
            (0..weeks).map(cover).collect()
        }
    }
}

/// Returns the lot rule of an item whose purchase unit holds `factor` base units.
pub(super) fn rule(item: &Item, factor: &Ratio, gross: &[Ratio], weeks: usize) -> Rule {
    let terms = &item.order;
    let count = Ratio::from(i64::try_from(weeks).unwrap_or(i64::MAX));
    let needed: Ratio = gross.iter().cloned().sum();
    let weekly =
        needed.checked_div(factor).and_then(|units| units.checked_div(&count)).unwrap_or_default();
    let economic = || {
        let (order, holding) = (terms.order_cost.as_ref()?, terms.holding_cost.as_ref()?);
        let yearly = &weekly * &Ratio::whole(52);
        let exact = economic_quantity(&yearly, order, holding)?;
        let half = Ratio::new(1, 2).expect("two is not zero");
        Some((exact + half).floor().max(Ratio::ONE))
    };
    let lots = |units: Ratio| Rule::Lots(units * factor);
    match terms.lot_rule {
        LotRule::LotForLot => Rule::LotForLot,
        LotRule::FixedQuantity => terms.lot_size.clone().map_or(Rule::LotForLot, lots),
        LotRule::EconomicQuantity => economic().map_or(Rule::LotForLot, lots),
        LotRule::PeriodQuantity => {
            let periods = terms.lot_size.clone().or_else(|| {
                let half = Ratio::new(1, 2).expect("two is not zero");
                Some((economic()?.checked_div(&weekly)? + half).floor())
            });
            let periods = periods.and_then(|periods| periods.ceil().to_integer()).unwrap_or(1);
            Rule::Periods(usize::try_from(periods.max(1)).unwrap_or(weeks))
        }
    }
}

impl What {
    /// Returns the base units of the item's unit in one of it.
    fn each(self, book: &Book, item: ItemId) -> Ratio {
        match self {
            What::Amount => Ratio::ONE,
            other => other.measure(book, item),
        }
    }
}

/// Returns what is on hand and not promised of an item that nothing asks for, in purchase units.
pub(super) fn on_hand(book: &Book, weeks: Weeks, id: ItemId) -> Ratio {
    let of_row = |row: &StockRow| {
        let units = match row.what {
            Stocked::Item(item) if item == id => {
                row.quantity.checked_div(book.item(id).purchase_factor())?
            }
            Stocked::Size(item, _) if item == id => row.quantity.clone(),
            _ => return None,
        };
        match row.kind {
            StockKind::OnHand => Some(units),
            StockKind::Allocated if is_promised(book, weeks, row) => Some(-units),
            StockKind::Allocated | StockKind::OnOrder => None,
        }
    };
    book.stock.iter().filter_map(of_row).sum::<Ratio>().max(Ratio::ZERO)
}
