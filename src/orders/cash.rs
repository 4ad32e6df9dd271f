//! When money has to be paid: on arrival plus the vendor's terms, or earlier where a discount is to be had.

use std::collections::BTreeMap;

use jiff::ToSpan;

use crate::diag::Diagnostic;
use crate::diag::Distinct;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::model::Book;
use crate::model::Week;
use crate::orders::Orders;
use crate::quantity::Ratio;
use crate::quantity::minor_digits;

/// Money to be paid in one week, in the book's currency.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CashWeek {
    /// The week.
    pub week: Week,
    /// Money to be paid, in minor units, discounts taken off.
    pub amount: i128,
    /// Discounts taken, in minor units.
    pub discount: i128,
}

/// Returns what is to be paid in each week that anything is. A discount is taken where a vendor gives one.
pub(super) fn cash(book: &Book, orders: &Orders<'_>, warnings: &mut Distinct) -> Vec<CashWeek> {
    let own = &book.settings.currency;
    let places = minor_digits(own);
    let mut weeks: BTreeMap<Week, (i128, i128)> = BTreeMap::new();
    for order in &orders.orders {
        // A discount is taken where there is one.
        let (days, share) = match book.vendor(&order.vendor) {
            None => (0, None),
            Some(vendor) if vendor.discount.is_zero() => (vendor.terms_days, None),
            Some(vendor) => (vendor.discount_days, Some(&vendor.discount)),
        };
        for (line, amount) in order.lines.iter().zip(&order.amounts) {
            let row = orders.line(*line);
            let Some(rate) = book.rate(&order.currency, Some(row.order_day)) else {
                let place = row.price_row.map(|row| book.place(row, Some("currency")));
                let problem = Problem::RateUnknown {
                    currency: order.currency.clone(),
                    day: row.order_day.to_string(),
                };
                warnings.insert(Diagnostic { severity: Severity::Gap, place, problem, hint: None });
                continue;
            };
            let minor = |money: &Ratio| {
                money.scaled(places, book.settings.rounding).to_integer().unwrap_or(i128::MAX)
            };
            let full = if order.currency == *own {
                *amount
            } else {
                minor(&(Ratio::decimal(*amount, minor_digits(&order.currency)) * &rate))
            };
            let discount = match share {
                Some(share) => minor(&(Ratio::decimal(full, places) * share)),
                None => 0,
            };
            let day = row.arrival.saturating_add(i64::from(days).days());
            let entry = weeks.entry(Week::of(day)).or_default();
            entry.0 += full - discount;
            entry.1 += discount;
        }
    }
    weeks
        .into_iter()
        .filter(|(_, amounts)| *amounts != (0, 0))
        .map(|(week, (amount, discount))| CashWeek { week, amount, discount })
        .collect()
}
