use crate::diag::Checked;
use crate::diag::Diagnostic;
use crate::diag::Problem;
use crate::explode::{Measured, Needs, Scratch, Sums};
use crate::model::Book;
use crate::model::Form;
use crate::model::ItemId;
use crate::quantity::Ratio;
use crate::rollup::burden::{self, Costed};
use crate::rollup::cost::most;
use crate::rollup::rates::Rates;
use crate::rollup::{BurdenCost, QUANTITY_DIGITS, WEIGHT_DIGITS};

/// Costs builds in which nothing is cut, in whole numbers: what one of the units that an item is summed in costs and weighs is
/// worked out once, and each amount takes a multiplication and a rounded division.
///
/// The amounts are those of [`super::cost`]; where a number leaves its range the build is left to it.
pub(super) struct Quick<'a> {
    book: &'a Book,
    needs: &'a Needs,
    sums: &'a Sums<'a>,
    lot: u32,
    items: Vec<Terms<'a>>,
}

/// What one unit of an item makes.
struct Terms<'a> {
    measured: &'a Measured,
    /// Of a good unit, the quantity.
    quantity: Scale,
    /// Of a good unit, what rides.
    weight: Scale,
    /// Of a required unit, how many are bought; nothing for what need not be whole.
    count: Option<Scale>,
    /// Of one that is bought or of a required unit, its cost and weight.
    cost: Scale,
    purchased: Scale,
    findings: &'a [Diagnostic],
}

/// A fraction to multiply by.
#[derive(Clone, Copy)]
struct Scale {
    numerator: i128,
    denominator: i128,
}

/// What an item comes to in one build.
pub(super) struct Amounts<'a> {
    quick: &'a Quick<'a>,
    position: usize,
    good: i128,
    /// Quantity, cost, weight and purchased weight, as in [`super::ItemCost`].
    pub figures: [i128; 4],
}

impl Costed for Amounts<'_> {
    fn item(&self) -> ItemId {
        self.quick.items[self.position].measured.item
    }

    fn cost(&self) -> i128 {
        self.figures[1]
    }

    fn weight(&self) -> i128 {
        self.figures[2]
    }

    fn used(&self) -> Ratio {
        let Terms { measured, .. } = &self.quick.items[self.position];
        let good = Ratio::new(self.good, i128::from(measured.good_units));
        let unit = &self.quick.book.item(measured.item).unit.factor;
        good.expect("units are above zero") * unit * Ratio::from(i64::from(self.quick.lot))
    }
}

/// A build's amounts.
pub(super) struct Costs<'a> {
    pub items: Vec<Amounts<'a>>,
    pub burdens: Vec<BurdenCost>,
}

impl<'a> Quick<'a> {
    /// Works out what a unit of each item makes; nothing where a number leaves its range.
    pub(super) fn new(
        (book, needs): (&'a Book, &'a Needs),
        sums: &'a Sums<'a>,
        rates: &'a Rates<'a>,
        lot: u32,
    ) -> Option<Quick<'a>> {
        let terms = sums.measured().iter().map(|one| terms(book, rates, lot, one));
        let items = terms.collect::<Option<_>>()?;
        Some(Quick { book, needs, sums, lot, items })
    }

    /// Returns a build's amounts; nothing where something is cut, or where a number leaves its range.
    pub(super) fn cost(
        &'a self,
        build: usize,
        scratch: &mut Scratch,
    ) -> Option<Result<Checked<Costs<'a>>, Diagnostic>> {
        let mut items = Vec::new();
        let mut warnings: Vec<Diagnostic> = Vec::new();
        let mut fits = true;
        self.sums.each_measured(
            &self.needs.builds[build],
            scratch,
            &mut |position, good, required| {
                let terms = &self.items[position];
                match self.amounts(terms, good, required) {
                    Some(figures) => items.push(Amounts { quick: self, position, good, figures }),
                    None => fits = false,
                }
                warnings.extend_from_slice(terms.findings);
            },
        )?;
        if !fits {
            return None;
        }
        for item in &items {
            if item.figures.iter().any(|amount| amount.abs() >= most()) {
                let row = self.book.item(item.item());
                let what = format!("an amount of `{}`", row.name);
                let place = self.book.place(row.row, None);
                return Some(Err(Diagnostic::error(place, Problem::Overflow { what })));
            }
        }
        let burdens = burden::burdens(self.book, self.needs, build, &items, self.lot);
        Some(burdens.map(|burdens| Checked { value: Costs { items, burdens }, warnings }))
    }

    fn amounts(&self, terms: &Terms<'_>, good: i128, required: i128) -> Option<[i128; 4]> {
        let rounding = self.book.settings.rounding;
        let round = |scale: Scale, value: i128| {
            let product = value.checked_mul(scale.numerator)?;
            Some(rounding.quotient(product, scale.denominator))
        };
        let bought = match terms.count {
            // Rounded up; nothing is below zero.
            Some(scale) => {
                let product = required.checked_mul(scale.numerator)?;
                product.checked_add(scale.denominator - 1)?.div_euclid(scale.denominator)
            }
            None => required,
        };
        Some([
            round(terms.quantity, good)?,
            round(terms.cost, bought)?,
            round(terms.weight, good)?,
            round(terms.purchased, bought)?,
        ])
    }
}

fn terms<'a>(
    book: &Book,
    rates: &'a Rates<'a>,
    lot: u32,
    measured: &'a Measured,
) -> Option<Terms<'a>> {
    let item = book.item(measured.item);
    if item.is_nested() || item.yield_share.is_some() {
        return None;
    }
    let rate = rates.of(measured.item);
    let lot = Ratio::from(i64::from(lot));
    let unit = |units: i64| {
        let one = Ratio::new(1, i128::from(units)).expect("units are above zero");
        &lot * &(one * &item.unit.factor)
    };
    let (good, required) = (unit(measured.good_units), unit(measured.required_units));
    let is_counted = item.form == Form::Count;
    let bought = if is_counted { Ratio::ONE } else { required.clone() };
    let in_unit = |weight: Ratio| weight.checked_div(&book.settings.weight_unit.factor);
    let weight = item.weight.clone().unwrap_or(Ratio::ZERO);
    let money = rate.money.clone().unwrap_or(Ratio::ZERO);
    let scale = |value: &Ratio, digits: u32| Scale::new(&(value * &Ratio::whole(10).power(digits)));
    Some(Terms {
        measured,
        quantity: scale(&good.checked_div(&item.unit.factor)?, QUANTITY_DIGITS)?,
        weight: scale(&in_unit(&weight * &(&good * &item.rides))?, WEIGHT_DIGITS)?,
        count: if is_counted { Some(Scale::new(&required)?) } else { None },
        cost: scale(&(&money * &bought), book.settings.cost_digits)?,
        purchased: scale(&in_unit(&weight * &bought)?, WEIGHT_DIGITS)?,
        findings: &rate.findings,
    })
}

impl Scale {
    fn new(value: &Ratio) -> Option<Scale> {
        let (numerator, denominator) = value.to_parts()?;
        Some(Scale { numerator, denominator })
    }
}
