//! Lays out what a plan costs and what it is sold for: cost sheets, prices, and how both move.
//!
//! In: a book, its needs and their roll-up. Out: a [`PriceSheet`]: per plan the lines of its cost in the currency's smallest
//! unit, with the rounding that ties them to the ledger, and its prices. [`lots`] asks the same for several lots,
//! [`option_prices`] for each option, [`cases`] for other prices of material; [`sensitivity`] ranks the prices, [`range`]
//! draws them.
//!
//! Always: the lines of a sheet and its rounding add up to the ledger's amount, for the lot and for one unit; an increment
//! is the difference of two whole roll-ups; no price is drawn, and no power taken, in floating point.
//!
//! Not here: orders, currencies of sale, taxes.

mod assumed;
mod cases;
mod learning;
mod lots;
mod options;
mod quote;
mod range;
mod sensitivity;
mod sheet;

use crate::diag::Checked;
use crate::diag::Diagnostic;
use crate::diag::Distinct;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::explode::Needs;
use crate::model::Book;
use crate::model::Plan;
use crate::quantity::Ratio;
use crate::quantity::Rounding;
use crate::quantity::minor_digits;
use crate::rollup::Rollup;

pub use assumed::Assumption;
pub use cases::{Case, CaseCost, cases, parse_case};
pub use learning::Curve;
pub use lots::lots;
pub use options::{Asked, OptionPrice, option_prices};
pub use quote::{Quote, Target};
pub use range::{PERCENTILES, Range, range};
pub use sensitivity::{Swing, sensitivity};
pub use sheet::{Amounts, Learned, Line, PlanSheet, Section, SectionKind, What};

/// How to price.
#[derive(Clone, Debug, Default)]
pub struct Options {
    /// What every plan's price is reckoned from; the plan's own `target_margin` and `list_price` if not said.
    pub target: Option<Target>,
    /// The number of the lot's first unit, for the learning curve; 1 if not said.
    pub first_unit: Option<u32>,
}

/// Cost and price of every plan, for a lot.
#[derive(Clone, Debug)]
pub struct PriceSheet {
    /// Units in the lot.
    pub lot: u32,
    /// Decimal places of the currency's smallest unit; amounts are whole numbers of it.
    pub digits: u32,
    /// One per build of the needs, in that order.
    pub plans: Vec<PlanSheet>,
    /// What was assumed.
    pub assumptions: Vec<Assumption>,
}

/// How amounts become whole units of the currency.
#[derive(Clone, Copy, Debug)]
struct Rule {
    digits: u32,
    rounding: Rounding,
}

impl Rule {
    fn of(book: &Book) -> Rule {
        let settings = &book.settings;
        Rule { digits: minor_digits(&settings.currency), rounding: settings.rounding }
    }

    /// Returns money in the currency's smallest unit; the largest amount there is for what lies beyond.
    fn minor(self, money: &Ratio) -> i128 {
        money.scaled(self.digits, self.rounding).to_integer().unwrap_or(i128::MAX)
    }
}

/// Lays out the cost sheets of a roll-up and prices them.
///
/// # Errors
/// A target or a plan's margin that no price has; a burden that leaves the range of the ledger's decimals.
///
/// # Example
/// ```
/// # use cutbill::explode::{self, explode};
/// # use cutbill::read::{Memory, read};
/// # use cutbill::rollup::{self, rollup};
/// # use cutbill::watch::Silent;
/// use cutbill::price::{Options, price};
///
/// # let files = Memory::from_iter([
/// #     ("plans.csv", "plan,target_margin\nSedge,20 %\n"),
/// #     ("bill.csv", "parent,component,quantity\nSedge,BOLT,4\n"),
/// #     ("items.csv", "item,form,price,weight\nBOLT,count,0.25,0.1 lb\n"),
/// # ]);
/// # let book = read(&files).unwrap().value;
/// # let needs = explode(&book, &explode::Options::default()).unwrap().value;
/// # let rollup = rollup(&book, &needs, rollup::Options::default(), &Silent).unwrap().value;
/// // Sedge costs 1.00 USD, and 20 % of its price shall be profit.
/// let sheet = price(&book, &needs, &rollup, &Options::default()).unwrap().value;
/// assert_eq!(sheet.plans[0].factory.unit, 1_00);
/// assert_eq!(sheet.plans[0].quotes[0].price, 1_25);
/// ```
pub fn price(
    book: &Book,
    needs: &Needs,
    rollup: &Rollup,
    options: &Options,
) -> Result<Checked<PriceSheet>, Vec<Diagnostic>> {
    let rule = Rule::of(book);
    let mut errors = Vec::new();
    let mut plans = Vec::with_capacity(rollup.builds.len());
    for cost in &rollup.builds {
        let mut sheet = match sheet::sheet(book, needs, rollup, cost, options) {
            Ok(sheet) => sheet,
            Err(error) => {
                errors.push(error);
                continue;
            }
        };
        match targets(book, &book.plans[needs.builds[cost.build].plan.index()], options) {
            Ok(targets) => {
                let ending = book.settings.price_ending.as_ref();
                let quotes = targets
                    .into_iter()
                    .map(|target| quote::quote(rule, sheet.factory.unit, target, ending));
                sheet.quotes = quotes.collect();
            }
            Err(error) => errors.push(error),
        }
        plans.push(sheet);
    }
    if !errors.is_empty() {
        return Err(errors);
    }
    let mut warnings = Distinct::default();
    warnings.extend(burdens_on_nothing(book, rollup));
    let assumptions = assumed::assumptions(book, rollup, &mut warnings);
    let value = PriceSheet { lot: rollup.lot, digits: rule.digits, plans, assumptions };
    Ok(Checked { value, warnings: warnings.into_vec() })
}

/// Returns what a plan's price is reckoned from: what was asked for, else its margin; then its list price.
fn targets(book: &Book, plan: &Plan, options: &Options) -> Result<Vec<Target>, Diagnostic> {
    let value = |name: &str| {
        let found = plan.values.iter().find(|(known, _)| known == name);
        found.map(|(_, measure)| measure.value.clone())
    };
    let own = value("target_margin").map(Target::Margin);
    let mut targets: Vec<Target> = options.target.clone().or(own).into_iter().collect();
    if let Some(Target::Margin(share)) = targets.first()
        && *share >= Ratio::ONE
    {
        let margin = crate::quantity::text::exact(&(share * &Ratio::whole(100)));
        let problem = Problem::MarginOutOfRange { plan: plan.name.clone(), margin };
        let place = match options.target {
            Some(_) => None,
            None => Some(book.place(plan.row, Some("target_margin"))),
        };
        return Err(Diagnostic { severity: Severity::Error, place, problem, hint: None });
    }
    let is_given = matches!(targets.first(), Some(Target::At(_)));
    let list = value("list_price").filter(|price| !is_given && *price > Ratio::ZERO);
    targets.extend(list.map(Target::At));
    Ok(targets)
}

/// Finds burdens that are laid on nothing in every plan.
fn burdens_on_nothing(book: &Book, rollup: &Rollup) -> Vec<Diagnostic> {
    let mut found = Vec::new();
    for (position, burden) in book.burdens.iter().enumerate() {
        let laid = rollup.builds.iter().flat_map(|cost| &cost.burdens);
        let mut bases =
            laid.filter(|cost| cost.burden.index() == position).map(|cost| &cost.base).peekable();
        if bases.peek().is_some() && bases.all(Ratio::is_zero) {
            let problem = Problem::BurdenOnNothing {
                burden: burden.name.clone(),
                applies_to: burden.applies_to.clone(),
            };
            let place = book.place(burden.row, Some("applies_to"));
            found.push(Diagnostic::new(Severity::Warning, place, problem));
        }
    }
    found
}
