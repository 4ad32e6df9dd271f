use crate::compare::Side;
use crate::compare::basis::Basis;
use crate::diag::Checked;
use crate::diag::Diagnostic;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::explode::Needs;
use crate::model::ActualRow;
use crate::model::Book;
use crate::model::Form;
use crate::model::ItemId;
use crate::model::PlanId;
use crate::quantity::Ratio;
use crate::quantity::settle;
use crate::rollup::Rollup;

/// What one row of actuals says beside the standard.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Variance {
    /// Position in [`Book::actuals`].
    pub row: usize,
    /// Standard cost of one base unit of the item's measure, as it is bought.
    pub standard_price: Ratio,
    /// What the units built should have taken, in base units, with the standard's waste; nothing if the row has no units,
    /// or no plan they could be of.
    pub standard_quantity: Option<Ratio>,
    /// Paid more or less than the standard price for the actual quantity: of labor, the rate variance.
    pub price: Option<Deviation>,
    /// Used more or less than the standard quantity, at the standard price: of labor, the efficiency variance.
    pub quantity: Option<Deviation>,
    /// Both together, where one is known.
    pub total: Option<Deviation>,
}

/// Money by which an actual differs from its standard.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Deviation(i128);

/// Which way an actual differs from its standard.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Verdict {
    /// Less money than the standard.
    Favorable,
    /// More money than the standard.
    Unfavorable,
    /// Neither.
    Even,
}

impl Deviation {
    /// Returns how much it is, times ten to the power of the cost digits, whichever way.
    #[must_use]
    pub fn amount(self) -> i128 {
        self.0.abs()
    }

    /// Returns which way it is.
    #[must_use]
    pub fn verdict(self) -> Verdict {
        match self.0.signum() {
            -1 => Verdict::Favorable,
            1 => Verdict::Unfavorable,
            _ => Verdict::Even,
        }
    }
}

impl std::iter::Sum for Deviation {
    fn sum<I: Iterator<Item = Deviation>>(deviations: I) -> Deviation {
        Deviation(deviations.map(|deviation| deviation.0).sum())
    }
}

impl Verdict {
    /// Returns the word a report has for it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Verdict::Favorable => "favorable",
            Verdict::Unfavorable => "unfavorable",
            Verdict::Even => "even",
        }
    }
}

/// Holds the table of actuals against the standard: a variance for each of its rows that is of a plan of the roll-up, or
/// of no plan.
///
/// Price variance is the actual amount less the actual quantity at the standard price; quantity variance is the actual
/// quantity less the standard one, at the standard price (source: standard cost variance analysis as taught, such as
/// `OpenStax`, Principles of Accounting, Volume 2, chapter 8). Both measure what is bought: the standard quantity is that of
/// the plan's lot with its waste, so that a nest that is followed has no variance.
///
/// A row of a plan is held against that plan's standard; a row of none against all plans of the roll-up that take the
/// item, one lot of each. What no plan takes is held against the item's own price; a row of a plan that does not take the
/// item has a standard quantity of zero.
///
/// Findings are gaps: items without a standard price.
#[must_use]
pub fn variances(book: &Book, needs: &Needs, rollup: &Rollup) -> Checked<Vec<Variance>> {
    let mut found = Vec::new();
    let mut findings = Vec::new();
    let context = Context { book, needs, rollup };
    for (position, row) in book.actuals.iter().enumerate() {
        let is_asked = row.plan.is_none_or(|plan| context.build_of(plan).is_some());
        if !is_asked {
            continue;
        }
        match context.variance(position, row) {
            Some(variance) => found.push(variance),
            None => {
                let place = book.place(row.row, Some("item"));
                let problem = Problem::StandardMissing { item: book.item(row.item).name.clone() };
                findings.push(Diagnostic::new(Severity::Gap, place, problem));
            }
        }
    }
    Checked { value: found, warnings: findings }
}

struct Context<'a> {
    book: &'a Book,
    needs: &'a Needs,
    rollup: &'a Rollup,
}

/// What a standard takes of an item, for one lot of each of its plans.
#[derive(Default)]
struct Standard {
    money: Ratio,
    measure: Ratio,
    plans: usize,
}

impl Context<'_> {
    fn build_of(&self, plan: PlanId) -> Option<usize> {
        let of_build = |cost: &crate::rollup::BuildCost| self.needs.builds[cost.build].plan;
        self.rollup.builds.iter().position(|cost| of_build(cost) == plan)
    }

    fn variance(&self, position: usize, row: &ActualRow) -> Option<Variance> {
        let pooled = self.standard(0..self.rollup.builds.len(), row.item);
        let of_plan = row.plan.map(|plan| self.standard(self.build_of(plan), row.item));
        let own = of_plan.as_ref().unwrap_or(&pooled);
        let price = own.price().or_else(|| pooled.price()).or_else(|| self.own_price(row.item))?;
        let lots = Ratio::new(i128::from(row.units.unwrap_or(0)), i128::from(self.rollup.lot))
            .expect("a lot has units");
        // Units of no plan are those of the only one that takes the item.
        let is_of_plan = row.plan.is_some() || own.plans == 1;
        let standard_quantity = row.units.filter(|_| is_of_plan).map(|_| &own.measure * &lots);
        Some(self.parted(position, row, price, standard_quantity))
    }

    /// Parts the difference; its two terms are rounded so that they add up to it.
    fn parted(
        &self,
        position: usize,
        row: &ActualRow,
        standard_price: Ratio,
        standard_quantity: Option<Ratio>,
    ) -> Variance {
        let scale = Ratio::whole(10).power(self.rollup.cost_digits);
        let price = row
            .amount
            .as_ref()
            .map(|amount| (amount - &(&row.quantity * &standard_price)) * scale.clone());
        let quantity = standard_quantity
            .as_ref()
            .map(|standard| (&row.quantity - standard) * &standard_price * &scale);
        let exact: Vec<Ratio> = price.iter().chain(&quantity).cloned().collect();
        let total = exact.iter().cloned().sum::<Ratio>();
        let total = total.scaled(0, self.book.settings.rounding).to_integer().unwrap_or_default();
        let mut settled = settle(total, &exact).into_iter().map(Deviation);
        let price = price.and_then(|_| settled.next());
        let quantity = quantity.and_then(|_| settled.next());
        let total = (!exact.is_empty()).then_some(Deviation(total));
        Variance { row: position, standard_price, standard_quantity, price, quantity, total }
    }

    fn standard(&self, builds: impl IntoIterator<Item = usize>, item: ItemId) -> Standard {
        let mut standard = Standard::default();
        for build in builds {
            let side = Side { book: self.book, needs: self.needs, rollup: self.rollup, build };
            let Some(cost) = side.cost().items.iter().find(|cost| cost.item == item) else {
                continue;
            };
            let basis = Basis::of(side, side).expect("a side has one currency");
            let view = basis.view(side);
            let taking = view.taking(cost);
            // What has no price has no standard; a standard of nothing would make all that was paid unfavorable.
            if let Some(price) = taking.price.as_ref().filter(|_| !cost.is_unpriced) {
                standard.money += &(price * &taking.paid);
                standard.measure += &taking.paid;
                standard.plans += 1;
            }
        }
        let scale = Ratio::decimal(1, self.rollup.cost_digits);
        Standard { money: &standard.money * &scale, ..standard }
    }

    /// Returns the price of an item that is on no bill, if it is not cut from sizes.
    fn own_price(&self, id: ItemId) -> Option<Ratio> {
        let item = self.book.item(id);
        let is_whole = !item.is_nested();
        let priced = self.book.price(id, None, self.needs.on).filter(|_| is_whole)?;
        item.money(&priced.price, &Ratio::ONE, &Ratio::ONE)
    }
}

impl Standard {
    fn price(&self) -> Option<Ratio> {
        self.money.checked_div(&self.measure)
    }
}

/// Tells whether a row of actuals is of work, whose variances are of rate and efficiency.
#[must_use]
pub fn is_labor(book: &Book, variance: &Variance) -> bool {
    book.item(book.actuals[variance.row].item).form == Form::Labor
}
