//! Order lines gathered per vendor and week of ordering, with money in minor units and what a vendor's minimums say.

use std::collections::BTreeMap;

use crate::diag::Diagnostic;
use crate::diag::Distinct;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::model::Book;
use crate::model::Week;
use crate::orders::Orders;
use crate::orders::buying::OrderLine;
use crate::quantity::Ratio;
use crate::quantity::minor_digits;
use crate::quantity::text::rounded;

/// Where an order line stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct LineRef {
    /// Position of its item in [`Orders::planned`].
    pub item: usize,
    /// Position in the item's lines.
    pub line: usize,
}

/// One order: what one vendor is asked for in one week.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct VendorOrder {
    /// The vendor; empty if nobody is named.
    pub vendor: String,
    /// The week of ordering.
    pub week: Week,
    /// Currency of its money.
    pub currency: String,
    /// Its lines, by day of ordering, then by item.
    pub lines: Vec<LineRef>,
    /// Money of each line in minor units of the currency, rounded.
    pub amounts: Vec<i128>,
    /// Exact money of all lines, in the currency.
    pub exact: Ratio,
    /// What is missing to the vendor's least order, in the currency.
    pub below_minimum: Option<Ratio>,
    /// What is missing to free freight, in the currency.
    pub below_freight: Option<Ratio>,
}

impl VendorOrder {
    /// Returns the sum of the printed lines, in minor units.
    #[must_use]
    pub fn total(&self) -> i128 {
        self.amounts.iter().sum()
    }
}

impl Orders<'_> {
    /// Returns an order line.
    #[must_use]
    pub fn line(&self, line: LineRef) -> &OrderLine {
        &self.planned[line.item].lines[line.line]
    }
}

pub(super) fn gather(
    book: &Book,
    orders: &Orders<'_>,
    warnings: &mut Distinct,
) -> Vec<VendorOrder> {
    let mut folded: BTreeMap<&str, String> = BTreeMap::new();
    for row in orders.planned.iter().flat_map(|planned| &planned.lines) {
        if !folded.contains_key(row.vendor.as_str()) {
            folded.insert(&row.vendor, row.vendor.to_lowercase());
        }
    }
    let mut groups: BTreeMap<(Week, &str, &str), Vec<LineRef>> = BTreeMap::new();
    for (item, planned) in orders.planned.iter().enumerate() {
        for (line, row) in planned.lines.iter().enumerate() {
            let vendor = folded[row.vendor.as_str()].as_str();
            let key = (Week::of(row.order_day), vendor, row.currency.as_str());
            groups.entry(key).or_default().push(LineRef { item, line });
            if let (Some(last), Some(price)) = (row.price_ended, &row.price) {
                let place = row.price_row.map(|row| book.place(row, Some("to_date")));
                let problem = Problem::PriceExpired {
                    item: book.item(row.item).name.clone(),
                    price: price.text.to_string(),
                    last: last.to_string(),
                };
                warnings.insert(Diagnostic {
                    severity: Severity::Warning,
                    place,
                    problem,
                    hint: None,
                });
            }
            if row.price.is_none() {
                let item = book.item(row.item);
                let place = book.place(item.row, Some("price"));
                let problem = Problem::PriceMissing { item: item.name.clone() };
                warnings.insert(Diagnostic::new(Severity::Gap, place, problem));
            }
        }
    }
    let order = |((week, _, currency), mut lines): ((Week, &str, &str), Vec<LineRef>)| {
        lines.sort_by_key(|line| (orders.line(*line).order_day, orders.line(*line).item, *line));
        let places = minor_digits(currency);
        let amount = |line: &LineRef| {
            let money = &orders.line(*line).money;
            money.scaled(places, book.settings.rounding).to_integer().unwrap_or(i128::MAX)
        };
        let amounts: Vec<i128> = lines.iter().map(amount).collect();
        let vendor = orders.line(lines[0]).vendor.clone();
        let exact: Ratio = lines.iter().map(|line| orders.line(*line).money.clone()).sum();
        // Least amounts are in the vendor's currency, and say nothing about an order in another.
        let own = &book.settings.currency;
        let terms = book
            .vendor(&vendor)
            .filter(|vendor| *vendor.currency.as_ref().unwrap_or(own) == *currency);
        let below = |least: Option<&Ratio>| {
            let least = least.filter(|least| exact < **least)?;
            Some(least - &exact)
        };
        VendorOrder {
            below_minimum: below(terms.and_then(|vendor| vendor.order_minimum.as_ref())),
            below_freight: below(terms.and_then(|vendor| vendor.freight_minimum.as_ref())),
            vendor,
            week,
            currency: currency.to_owned(),
            lines,
            amounts,
            exact,
        }
    };
    let gathered: Vec<VendorOrder> = groups.into_iter().map(order).collect();
    let mut missed: BTreeMap<&str, (usize, &VendorOrder)> = BTreeMap::new();
    for order in gathered.iter().filter(|order| order.below_freight.is_some()) {
        missed.entry(&order.vendor).or_insert((0, order)).0 += 1;
    }
    for (name, (orders, first)) in missed {
        let Some(vendor) = book.vendor(name) else { continue };
        let first = first.week.monday().to_string();
        let problem = Problem::FreightMissed { vendor: vendor.name.clone(), orders, first };
        let place = book.place(vendor.row, Some("freight_minimum"));
        let hint = "order more weeks at once, with `--pool` or a `period` rule";
        warnings.insert(Diagnostic::new(Severity::Note, place, problem).with_hint(hint));
    }
    for order in &gathered {
        let Some(vendor) = book.vendor(&order.vendor) else { continue };
        if let Some(missing) = &order.below_minimum {
            let places = minor_digits(&order.currency);
            let shown = |money: &Ratio| rounded(money, places, book.settings.rounding);
            let problem = Problem::OrderBelowMinimum {
                vendor: vendor.name.clone(),
                week: order.week.monday().to_string(),
                money: format!("{} {}", shown(&order.exact), order.currency),
                missing: shown(missing),
            };
            let place = book.place(vendor.row, Some("order_minimum"));
            warnings.insert(Diagnostic::new(Severity::Warning, place, problem));
        }
    }
    gathered
}
