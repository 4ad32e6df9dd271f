use std::cmp::Reverse;
use std::sync::Arc;

use jiff::civil::Date;

use crate::diag::Diagnostic;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::model::{Book, Form, Item, ItemId, PriceTerms, RowRef, SizeId};
use crate::quantity::text::exact;
use crate::quantity::{Length, Ratio};

/// What a price is for one of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum PriceBasis {
    /// One thing: a whole stock size, or one of a count item.
    Each,
    /// One base unit of the item's own measure: a nanometer, square nanometer, minute or base unit of a bulk unit.
    Measure,
    /// One pound of purchased weight.
    Weight,
}

/// A price, normalised: money for one of its basis.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Price {
    /// Currency units for one of the basis; zero is a price.
    pub amount: Ratio,
    /// What it is for one of.
    pub basis: PriceBasis,
    /// The amount as a plain decimal and the unit as the user wrote it, for showing why: `19.40/each`.
    pub text: Arc<str>,
}

/// The smallest order a price holds for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Threshold {
    /// So many purchase units: whole sizes, packs, or the item's own unit. Not below zero.
    Units(Ratio),
    /// So much, in base units of the item's own measure. Not below zero.
    Measure(Ratio),
}

impl Threshold {
    /// Returns the least number of purchase units, when one of them measures `measure`.
    #[must_use]
    pub fn units(&self, measure: &Ratio) -> Ratio {
        match self {
            Threshold::Units(units) => units.clone(),
            Threshold::Measure(least) => least.checked_div(measure).unwrap_or_default(),
        }
    }

    /// Tells whether it asks for more than one purchase unit, so that the price is a break.
    #[must_use]
    pub fn is_break(&self) -> bool {
        match self {
            Threshold::Units(units) => *units > Ratio::ONE,
            Threshold::Measure(least) => !least.is_zero(),
        }
    }
}

/// A dated price, a break, a vendor's terms (table `prices`).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PriceRow {
    /// The item.
    pub item: ItemId,
    /// The size it is for, every size where not said.
    pub length: Option<Length>,
    /// The size it is for, every size where not said.
    pub width: Option<Length>,
    /// Vendor; empty if not said.
    pub vendor: String,
    /// Smallest order it holds for.
    pub from_quantity: Option<Threshold>,
    /// First day it holds.
    pub from: Option<Date>,
    /// Last day it holds.
    pub to: Option<Date>,
    /// The price; none where only other terms are given.
    pub price: Option<Price>,
    /// Currency if not the book's.
    pub currency: Option<String>,
    /// What else it says.
    pub terms: PriceTerms,
    /// Where it stands.
    pub row: RowRef,
}

/// What a burden is laid on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum BurdenBasis {
    /// Money of labor items.
    LaborMoney,
    /// Time of labor items; the amount is per minute.
    LaborTime,
    /// Money of material.
    Material,
    /// Weight that rides; the amount is per pound.
    Weight,
    /// Floor area of the plan (length times width); the amount is per square nanometer.
    Area,
    /// One unit.
    Unit,
    /// One lot: what setting up costs.
    Lot,
    /// The running total up to and with an earlier burden.
    Subtotal(String),
}

/// Overhead, freight-in, duty, warranty, surcharge (table `burdens`).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Burden {
    /// Name, as the user wrote it.
    pub name: String,
    /// What it is laid on.
    pub basis: BurdenBasis,
    /// The item group, station, plan or item it is limited to; empty for all.
    pub applies_to: String,
    /// Share of the basis (money bases), 0.05 for 5 %.
    pub share: Option<Ratio>,
    /// Money per one of the basis (time, weight, area, unit, lot), or a fixed sum for a money basis.
    pub amount: Option<Ratio>,
    /// First day it holds.
    pub from: Option<Date>,
    /// Where it stands.
    pub row: RowRef,
}

/// A price as found, with the row that gave it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Priced {
    /// The price, in the book's currency.
    pub price: Price,
    /// The row of `prices`, `sizes` or `items` it stands in.
    pub row: RowRef,
    /// The vendor it is of; empty if not said.
    pub vendor: String,
    /// The rate it was converted at, if it stands in a foreign currency.
    pub rated: Option<Rated>,
    /// The last day it held, if that is past.
    pub expired: Option<Date>,
}

/// A rate that a price was converted at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Rated {
    /// ISO 4217 code.
    pub currency: String,
    /// Units of the book's currency for one of this.
    pub rate: Ratio,
    /// First day it holds.
    pub date: Date,
}

impl Book {
    /// Returns the price of an item, in a size where it has sizes, on a day: a matching row of `prices` before the
    /// row of `sizes` before the row of `items`; where there is none of these, the row of `prices` that expired last.
    ///
    /// Of several rows of `prices`, one of the item's own vendor comes first, then one for this very size, then the
    /// latest `from`, then the lowest amount, then the first. Breaks (`from_quantity` above one) belong to orders and
    /// are left out. Rows in a foreign currency are converted at the rate of the day, and left out where there is none.
    #[must_use]
    pub fn price(&self, item: ItemId, size: Option<SizeId>, on: Option<Date>) -> Option<Priced> {
        if let Some(offcut) = size.map(|size| &self.sizes[size.index()]).filter(|it| it.is_offcut) {
            return offcut.price.as_ref().map(|price| Priced::own(price, offcut.row, ""));
        }
        let dated = self
            .priced_rows(item, size, on)
            .filter(|(row, _)| row.holds(on))
            .min_by_key(|(row, priced)| self.rank(row, size, &priced.price));
        if let Some((_, priced)) = dated {
            return Some(priced);
        }
        if let Some(size) = size.map(|size| &self.sizes[size.index()])
            && let Some(price) = &size.price
        {
            return Some(Priced::own(price, size.row, &size.vendor));
        }
        let own = self.item(item);
        if let Some(price) = &own.price {
            return Some(Priced::own(price, own.row, &own.vendor));
        }
        let is_past = |row: &PriceRow| on.is_some_and(|day| row.to.is_some_and(|to| to < day));
        let (row, priced) = self
            .priced_rows(item, size, on)
            .filter(|(row, _)| is_past(row))
            .min_by_key(|(row, priced)| (Reverse(row.to), self.rank(row, size, &priced.price)))?;
        Some(Priced { expired: row.to, ..priced })
    }

    /// Returns the finding that a price is past.
    #[must_use]
    pub fn expired(&self, item: ItemId, priced: &Priced) -> Option<Diagnostic> {
        let problem = Problem::PriceExpired {
            item: self.item(item).name.clone(),
            price: priced.price.text.to_string(),
            last: priced.expired?.to_string(),
        };
        let place = self.place(priced.row, Some("to_date"));
        Some(Diagnostic::new(Severity::Warning, place, problem))
    }

    /// Returns the finding that an item's price would come from a row of `prices` whose currency has no rate on the day.
    #[must_use]
    pub fn unrated(
        &self,
        item: ItemId,
        size: Option<SizeId>,
        on: Option<Date>,
    ) -> Option<Diagnostic> {
        let row = self.unrated_row(item, size, on)?;
        let problem = Problem::PriceUnrated {
            item: self.item(item).name.clone(),
            currency: row.currency.clone().unwrap_or_default(),
            on: on.map(|on| on.to_string()),
        };
        Some(Diagnostic::new(Severity::Gap, self.place(row.row, Some("currency")), problem))
    }

    /// Returns the row of `prices` that would come before all others if only its currency had a rate on the day.
    pub(crate) fn unrated_row(
        &self,
        item: ItemId,
        size: Option<SizeId>,
        on: Option<Date>,
    ) -> Option<&PriceRow> {
        let place = |row: &PriceRow| {
            (row.vendor != self.item(item).vendor, row.is_general(), Reverse(row.from))
        };
        let is_unrated = |row: &&PriceRow| {
            row.price.is_some()
                && row.currency.as_ref().is_some_and(|code| self.rate(code, on).is_none())
        };
        let first = self
            .rows_of_size(item, size)
            .filter(|row| row.holds(on))
            .filter(is_unrated)
            .min_by_key(|row| place(row))?;
        let found = self.price(item, size, on).filter(|found| found.expired.is_none());
        let found = found.and_then(|found| {
            let rows = self.prices_of(item).iter().map(|id| &self.prices[id.index()]);
            rows.into_iter().find(|row| row.row == found.row)
        });
        found.is_none_or(|found| place(first) < place(found)).then_some(first)
    }

    /// Returns the rows of `prices` without a break that are for an item in a size.
    fn rows_of_size(&self, item: ItemId, size: Option<SizeId>) -> impl Iterator<Item = &PriceRow> {
        let size = size.map(|size| &self.sizes[size.index()]);
        self.prices_of(item)
            .iter()
            .map(|id| &self.prices[id.index()])
            .filter(|row| !row.from_quantity.as_ref().is_some_and(Threshold::is_break))
            .filter(move |row| match size {
                Some(size) => {
                    (row.length.is_none() || row.length == size.length)
                        && (row.width.is_none() || row.width == size.width)
                }
                None => row.is_general(),
            })
    }

    /// Returns those of them that have a price, with what it is in the book's currency.
    fn priced_rows(
        &self,
        item: ItemId,
        size: Option<SizeId>,
        on: Option<Date>,
    ) -> impl Iterator<Item = (&PriceRow, Priced)> {
        self.rows_of_size(item, size).filter_map(move |row| {
            let own = Priced::own(row.price.as_ref()?, row.row, &row.vendor);
            let foreign = row.currency.as_ref().filter(|code| **code != self.settings.currency);
            let Some(currency) = foreign else { return Some((row, own)) };
            let found = self.rate_row(currency, on)?;
            let price = Price {
                amount: &own.price.amount * &found.rate,
                text: format!("{} {currency} at {}", own.price.text, exact(&found.rate)).into(),
                ..own.price
            };
            let rated =
                Rated { currency: currency.clone(), rate: found.rate.clone(), date: found.date };
            Some((row, Priced { price, rated: Some(rated), ..own }))
        })
    }

    /// Orders the rows of `prices` of one item: the first is taken. One by weight is the last of its like while the item
    /// has no weight.
    fn rank(
        &self,
        row: &PriceRow,
        size: Option<SizeId>,
        price: &Price,
    ) -> (bool, bool, Reverse<Option<Date>>, bool, Ratio) {
        let item = self.item(row.item);
        let is_of_other_vendor = row.vendor != item.vendor;
        // Amounts per sheet and per square foot compare only as money for one and the same thing.
        let whole = size.map(|size| &self.sizes[size.index()]).and_then(|size| {
            Some(Ratio::whole(item.form.measure(size.length?, size.width.unwrap_or_default())))
        });
        let money = item.money(price, &whole.unwrap_or(Ratio::ONE), &Ratio::ONE);
        (
            is_of_other_vendor,
            row.is_general(),
            Reverse(row.from),
            money.is_none(),
            money.unwrap_or_default(),
        )
    }
}

impl PriceRow {
    /// Tells whether it holds on a day; without one it does.
    fn holds(&self, on: Option<Date>) -> bool {
        on.is_none_or(|day| {
            self.from.is_none_or(|from| from <= day) && self.to.is_none_or(|to| day <= to)
        })
    }

    /// Tells whether it is for every size.
    fn is_general(&self) -> bool {
        self.length.is_none() && self.width.is_none()
    }
}

impl Priced {
    fn own(price: &Price, row: RowRef, vendor: &str) -> Priced {
        Priced { price: price.clone(), row, vendor: vendor.to_owned(), rated: None, expired: None }
    }
}

impl Item {
    /// Returns the exact money for `measure` of the item, in base units of its form, bought as `pieces` whole things.
    ///
    /// Nothing if the price is by weight and the item has none.
    #[must_use]
    pub fn money(&self, price: &Price, measure: &Ratio, pieces: &Ratio) -> Option<Ratio> {
        Some(match price.basis {
            PriceBasis::Each => &price.amount * pieces,
            PriceBasis::Measure => &price.amount * measure,
            PriceBasis::Weight => &price.amount * &(self.weight.as_ref()? * measure),
        })
    }

    /// Tells whether the item is cut from stock sizes.
    #[must_use]
    pub fn is_nested(&self) -> bool {
        matches!(self.form, Form::Sheet | Form::Roll | Form::Linear)
    }
}
