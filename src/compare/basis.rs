use crate::compare::Side;
use crate::diag::Diagnostic;
use crate::diag::Problem;
use crate::explode::What;
use crate::model::Unit;
use crate::quantity::Ratio;
use crate::quantity::Rounding;
use crate::rollup::ItemCost;
use crate::rollup::WEIGHT_DIGITS;

/// What amounts of both sides are brought to, so that they can be taken from each other.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Basis {
    /// Units that amounts are for: the lot of both sides, or one where their lots differ.
    pub units: u32,
    /// Lot of the old side and of the new one.
    pub lots: [u32; 2],
    /// Decimal places of costs: the finer of both sides.
    pub cost_digits: u32,
    /// Currency of both sides.
    pub currency: String,
    /// Unit of weights: the new side's.
    pub weight_unit: Unit,
    /// How amounts are rounded that are brought to another lot or unit: as the new side does.
    rounding: Rounding,
}

impl Basis {
    /// Returns what both sides are brought to.
    ///
    /// # Errors
    /// Different currencies.
    pub(super) fn of(old: Side<'_>, new: Side<'_>) -> Result<Basis, Diagnostic> {
        let [was, is] = [&old.book.settings, &new.book.settings];
        if was.currency != is.currency {
            let problem =
                Problem::CurrenciesDiffer { old: was.currency.clone(), new: is.currency.clone() };
            return Err(Diagnostic::placeless(problem));
        }
        let lots = [old.rollup.lot, new.rollup.lot];
        let digits = [old.rollup.cost_digits, new.rollup.cost_digits];
        Ok(Basis {
            units: if lots[0] == lots[1] { lots[0] } else { 1 },
            lots,
            cost_digits: digits[0].max(digits[1]),
            currency: is.currency.clone(),
            weight_unit: is.weight_unit.clone(),
            rounding: is.rounding,
        })
    }

    /// Returns the view of one side in this basis.
    pub(super) fn view<'a>(&'a self, side: Side<'a>) -> View<'a> {
        let share = Ratio::new(i128::from(self.units), i128::from(side.rollup.lot));
        View { basis: self, side, share: share.expect("a lot has units") }
    }

    /// Rounds exact whole units of a last place.
    fn rounded(&self, amount: &Ratio) -> i128 {
        let whole = amount.scaled(0, self.rounding).to_integer();
        whole.expect("amounts of a roll-up have at most 28 digits, and 8 more at most are added")
    }
}

/// One side in the basis of both.
pub(super) struct View<'a> {
    pub(super) side: Side<'a>,
    basis: &'a Basis,
    /// What amounts of the side's lot are multiplied by.
    share: Ratio,
}

/// What one side takes of an item: exact, money in whole units of the basis' last place.
pub(super) struct Taking<'a> {
    pub(super) cost: &'a ItemCost,
    /// Measure that ends up in the units.
    pub(super) used: Ratio,
    /// Measure that is paid: what is bought less what is credited, or what a fixed yield asks for.
    pub(super) paid: Ratio,
    /// Cost.
    pub(super) money: Ratio,
    /// Measure that is bought, as the purchases count it, if the cost follows from them.
    pub(super) bought: Option<Ratio>,
    /// Cost of one base unit of measure; nothing if nothing is paid.
    pub(super) price: Option<Ratio>,
}

impl<'a> View<'a> {
    /// Returns an amount of a measure, for the units of the basis.
    pub(super) fn measure(&self, measure: &Ratio) -> Ratio {
        measure * &self.share
    }

    /// Returns exact money of the lot in whole units of the basis' last place, for its units.
    pub(super) fn money(&self, money: &Ratio) -> Ratio {
        money * &Ratio::whole(10).power(self.basis.cost_digits) * &self.share
    }

    /// Returns a cost of the roll-up in whole units of the basis' last place, exact.
    pub(super) fn exact_cost(&self, cost: i128) -> Ratio {
        self.money(&Ratio::decimal(cost, self.side.rollup.cost_digits))
    }

    /// Returns a cost of the roll-up in whole units of the basis' last place.
    pub(super) fn cost(&self, cost: i128) -> i128 {
        self.basis.rounded(&self.exact_cost(cost))
    }

    /// Returns a weight of the roll-up in the basis' weight unit times ten to the power of [`WEIGHT_DIGITS`].
    pub(super) fn weight(&self, weight: i128) -> i128 {
        let own = &self.side.book.settings.weight_unit.factor;
        let common = &self.basis.weight_unit.factor;
        let factor = own.checked_div(common).expect("units are above zero");
        self.basis.rounded(&(Ratio::whole(weight) * factor * &self.share))
    }

    /// Returns a weight in pounds per measure in the unit of [`View::weight`].
    pub(super) fn pounds(&self, pounds: &Ratio) -> Ratio {
        let common = &self.basis.weight_unit.factor;
        let in_unit = pounds.checked_div(common).expect("units are above zero");
        in_unit * Ratio::whole(10).power(WEIGHT_DIGITS)
    }

    /// Returns what is taken of an item.
    pub(super) fn taking(&self, cost: &'a ItemCost) -> Taking<'a> {
        let used = self.measure(&cost.used);
        if let Some((required, rate)) = self.by_fixed_yield(cost) {
            let paid = self.measure(&required);
            let price = self.rate(&rate);
            let money = &paid * &price;
            return Taking { cost, used, paid, money, bought: None, price: Some(price) };
        }
        let all: Ratio = cost.purchases.iter().map(|purchase| purchase.money.clone()).sum();
        let all = self.money(&all);
        // Of a credit only what is rounded is known.
        let money = if cost.credit == 0 { all.clone() } else { self.exact_cost(cost.cost) };
        let bought = self.measure(&cost.bought);
        let price = all.checked_div(&bought);
        let kept = money.checked_div(&all).unwrap_or(Ratio::ONE);
        Taking { cost, used, paid: &bought * &kept, money, bought: Some(bought), price }
    }

    /// Returns money per measure in whole units of the basis' last place.
    fn rate(&self, rate: &Ratio) -> Ratio {
        rate * &Ratio::whole(10).power(self.basis.cost_digits)
    }

    /// Returns the measure of a lot that an item with a fixed yield is costed at, and the money for one base unit of it.
    fn by_fixed_yield(&self, cost: &ItemCost) -> Option<(Ratio, Ratio)> {
        let Side { book, needs, .. } = self.side;
        let item = book.item(cost.item);
        let share = item.yield_share.as_ref()?;
        let rates = book.sizes_of(cost.item).iter().filter_map(|size| {
            let measure = What::Whole(*size).measure(book, cost.item);
            let priced = book.price(cost.item, Some(*size), needs.on)?;
            item.money(&priced.price, &measure, &Ratio::ONE)?.checked_div(&measure)
        });
        let rate = rates.min()?;
        let flat = needs.flat(book, self.side.build());
        let of_item = flat.needs.iter().filter(|need| need.item == cost.item);
        let required: Ratio =
            of_item.map(|need| need.what.measure(book, cost.item) * &need.required).sum();
        let of_lot = required * Ratio::from(i64::from(self.side.rollup.lot));
        Some((of_lot.checked_div(share)?, rate))
    }
}
