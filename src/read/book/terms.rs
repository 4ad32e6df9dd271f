//! How items and assemblies are ordered and kept: the later columns of `items`, `assemblies` and `prices`.

use crate::diag::Problem;
use crate::diag::Severity;
use crate::model::AssemblyTerms;
use crate::model::Form;
use crate::model::LeadTime;
use crate::model::LotRule;
use crate::model::OrderTerms;
use crate::model::PriceTerms;
use crate::model::SafetyStock;
use crate::model::Unit;
use crate::quantity::Ratio;
use crate::quantity::unit::UnitFactor;
use crate::read::Cell;
use crate::read::book::prices::money;
use crate::read::cells::Row;
use crate::read::columns::At;
use crate::read::lead::is_below_zero;
use crate::read::lead::lead_time;
use crate::read::numbers::number;

/// Choices of the column `lot_rule`, in the order of the schema.
const LOT_RULES: [LotRule; 4] = [
    LotRule::LotForLot,
    LotRule::FixedQuantity,
    LotRule::PeriodQuantity,
    LotRule::EconomicQuantity,
];
/// Working days of a week, for what is kept for weeks.
const DAYS_OF_WEEK: u32 = 5;

/// Reads how an item is ordered.
pub(super) fn order_terms(row: Row, form: Form, unit: &Unit) -> OrderTerms {
    let at = |name| row.at(name);
    let lot_rule = row.choice(at("lot_rule")).map_or(LotRule::LotForLot, |at| LOT_RULES[at]);
    let currency = &row.reader.currency;
    let lot_size = match lot_rule {
        LotRule::PeriodQuantity => positive(row, at("lot_size")),
        _ => lot(row, at("lot_size"), form),
    };
    let terms = OrderTerms {
        lot_rule,
        lot_size,
        order_cost: money(row, at("order_cost"), currency),
        holding_cost: money(row, at("holding_cost"), currency),
        safety_stock: safety_stock(row, unit),
        lead_time: row.lead_time(at("lead_days")),
        multiple: lot(row, at("order_multiple"), form),
        minimum: row.amount(at("order_minimum")),
    };
    lot_rule_needs(row, &terms);
    terms
}

/// Tells what a lot rule lacks.
fn lot_rule_needs(row: Row, terms: &OrderTerms) {
    let needs = |column: &str| {
        let at = row.at(column);
        if row.is_empty(at) {
            let what = format!("lot rule `{}`", terms.lot_rule.name());
            let dimension = format!("`{column}`");
            row.error(at, Problem::DimensionMissing { what, dimension });
        }
    };
    let costs = [("order_cost", &terms.order_cost), ("holding_cost", &terms.holding_cost)];
    let uses_costs = match terms.lot_rule {
        LotRule::LotForLot => false,
        LotRule::FixedQuantity => {
            needs("lot_size");
            false
        }
        LotRule::PeriodQuantity => row.is_empty(row.at("lot_size")),
        LotRule::EconomicQuantity => true,
    };
    if !uses_costs {
        return;
    }
    let has_no_cost = costs.iter().all(|(column, _)| row.is_empty(row.at(column)));
    if terms.lot_rule == LotRule::PeriodQuantity && has_no_cost {
        needs("lot_size");
        return;
    }
    for (column, cost) in costs {
        needs(column);
        if cost.as_ref().is_some_and(Ratio::is_zero) {
            row.out_of_range(row.at(column), "above zero");
        }
    }
}

/// Returns what is kept of an item: an amount, or what some days need (`5 days`).
fn safety_stock(row: Row, unit: &Unit) -> Option<SafetyStock> {
    let at = row.at("safety_stock");
    let has_decimal_comma = row.grid.table.has_decimal_comma;
    if let Cell::Text(text) = row.cell(at)
        && number(text, has_decimal_comma).is_none()
        && is_below_zero(text, has_decimal_comma)
    {
        row.out_of_range(at, "not below zero");
        return None;
    }
    if let Cell::Text(text) = row.cell(at)
        && number(text, has_decimal_comma).is_none()
        && let Some(time) = lead_time(text, has_decimal_comma)
    {
        let days = match time {
            LeadTime::Days(days) => Some(days),
            LeadTime::Weeks(weeks) => weeks.checked_mul(DAYS_OF_WEEK),
        };
        if days.is_none() {
            row.out_of_range(at, "a number of days");
        }
        return days.map(SafetyStock::Days);
    }
    let bare = UnitFactor { dimension: unit.dimension, factor: unit.factor.clone() };
    let measure = row.any_measure(at, Some(&bare))?;
    let measure = row.fitting(at, measure, unit.dimension)?;
    if measure.value.is_negative() {
        row.out_of_range(at, "not below zero");
        return None;
    }
    Some(SafetyStock::Amount(measure.value))
}

/// Reads what a row of `prices` says beside the price, for an item of this form.
pub(super) fn price_terms(row: Row, form: Form) -> PriceTerms {
    PriceTerms {
        vendor_item: row.text(row.at("vendor_item")).into_owned(),
        lead_time: row.lead_time(row.at("lead_days")),
        multiple: lot(row, row.at("order_multiple"), form),
        minimum: row.amount(row.at("order_minimum")),
        low: None,
        high: None,
    }
}

/// Reads the lowest and highest price thought likely, as they are written. A price that lies outside is told.
pub(super) fn bounds(
    row: Row,
    currency: &str,
    price: Option<&Ratio>,
) -> (Option<Ratio>, Option<Ratio>) {
    let [low_at, high_at] = ["low", "high"].map(|name| row.at(name));
    let (low, high) = (money(row, low_at, currency), money(row, high_at, currency));
    let tell = |at: At, range: &str| {
        let problem = Problem::OutOfRange { text: row.shown(at), range: range.to_owned() };
        row.tell(Severity::Warning, Some(at), problem);
    };
    if row.is_empty(row.at("price")) {
        for (name, at) in [("low", low_at), ("high", high_at)] {
            if !row.is_empty(at) {
                let (dimension, reason) = (name.to_owned(), "the row has no price".to_owned());
                let problem = Problem::DimensionUnused { dimension, reason };
                row.tell(Severity::Warning, Some(at), problem);
            }
        }
    }
    match price {
        Some(price) if low.as_ref().is_some_and(|low| low > price) => {
            tell(low_at, "not above the price");
        }
        Some(price) if high.as_ref().is_some_and(|high| high < price) => {
            tell(high_at, "not below the price");
        }
        _ => {}
    }
    (low, high)
}

/// Reads how an assembly is kept and made.
pub(super) fn assembly_terms(row: Row) -> AssemblyTerms {
    let at = |name| row.at(name);
    AssemblyTerms {
        is_stocked: row.flag(at("stocked")).unwrap_or(false),
        lead_days: row.amount(at("lead_days")).unwrap_or_default(),
        offset_days: row.number(at("offset_days")).unwrap_or_default(),
        safety_stock: row.amount(at("safety_stock")).unwrap_or_default(),
        buy_price: money(row, at("buy_price"), &row.reader.currency),
    }
}

/// Returns a number of purchase units above zero: whole ones of what comes in whole things.
fn lot(row: Row, at: At, form: Form) -> Option<Ratio> {
    let lot = positive(row, at)?;
    let is_whole = !matches!(form, Form::Bulk | Form::Labor);
    if is_whole && !lot.is_whole() {
        row.out_of_range(at, "a whole number");
        return None;
    }
    Some(lot)
}

fn positive(row: Row, at: At) -> Option<Ratio> {
    let value = row.number(at)?;
    if value.is_negative() || value.is_zero() {
        row.out_of_range(at, "above zero");
        return None;
    }
    Some(value)
}
