use std::sync::Arc;

use jiff::civil::Date;

use crate::model::{Book, Form, Item, ItemId, PriceTerms, RowRef, SizeId};
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
    /// Money per one of the basis (time, weight, area, unit), or a fixed sum for a money basis.
    pub amount: Option<Ratio>,
    /// First day it holds.
    pub from: Option<Date>,
    /// Where it stands.
    pub row: RowRef,
}

/// A price as found, with the row that gave it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Priced {
    /// The price.
    pub price: Price,
    /// The row of `prices`, `sizes` or `items` it stands in.
    pub row: RowRef,
    /// The vendor it is of; empty if not said.
    pub vendor: String,
}

impl Book {
    /// Returns the price of an item, in a size where it has sizes, on a day: a matching row of `prices` before the
    /// row of `sizes` before the row of `items`.
    ///
    /// Of several rows of `prices`, one of the item's own vendor comes first, then one for this very size, then the
    /// latest `from`, then the lowest amount, then the first. Breaks (`from_quantity` above one) belong to orders and
    /// are left out. Rows in a foreign currency are left out: they need a rate.
    #[must_use]
    pub fn price(&self, item: ItemId, size: Option<SizeId>, on: Option<Date>) -> Option<Priced> {
        let size_row = size.map(|size| &self.sizes[size.index()]);
        let own_vendor = &self.item(item).vendor;
        let dated = self
            .prices_of(item)
            .iter()
            .map(|id| &self.prices[id.index()])
            .filter(|row| {
                row.currency.as_ref().is_none_or(|currency| *currency == self.settings.currency)
            })
            .filter(|row| !row.from_quantity.as_ref().is_some_and(Threshold::is_break))
            .filter(|row| match on {
                Some(day) => {
                    row.from.is_none_or(|from| from <= day) && row.to.is_none_or(|to| day <= to)
                }
                None => true,
            })
            .filter(|row| match size_row {
                Some(size) => {
                    (row.length.is_none() || row.length == size.length)
                        && (row.width.is_none() || row.width == size.width)
                }
                None => row.length.is_none() && row.width.is_none(),
            })
            .filter_map(|row| row.price.as_ref().map(|price| (row, price)))
            .min_by_key(|(row, price)| {
                (
                    row.vendor != *own_vendor,
                    row.length.is_none() && row.width.is_none(),
                    std::cmp::Reverse(row.from),
                    price.amount.clone(),
                )
            });
        if let Some((row, price)) = dated {
            return Some(Priced { price: price.clone(), row: row.row, vendor: row.vendor.clone() });
        }
        if let Some(size) = size_row
            && let Some(price) = &size.price
        {
            return Some(Priced {
                price: price.clone(),
                row: size.row,
                vendor: size.vendor.clone(),
            });
        }
        let item = self.item(item);
        let price = item.price.clone()?;
        Some(Priced { price, row: item.row, vendor: item.vendor.clone() })
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
