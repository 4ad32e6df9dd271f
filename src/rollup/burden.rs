use crate::diag::Diagnostic;
use crate::diag::Problem;
use crate::explode::Needs;
use crate::model::Book;
use crate::model::Burden;
use crate::model::BurdenBasis;
use crate::model::BurdenId;
use crate::model::Form;
use crate::model::Item;
use crate::model::ItemId;
use crate::model::PlanId;
use crate::quantity::Ratio;
use crate::rollup::WEIGHT_DIGITS;
use crate::rollup::cost::{ItemCost, amount};
use crate::rollup::ledger::{Row, rows};

/// What one burden comes to for a lot.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BurdenCost {
    /// The burden.
    pub burden: BurdenId,
    /// What it was laid on: money, minutes, pounds, square nanometers, units or one lot, for the lot.
    pub base: Ratio,
    /// Cost times ten to the power of the cost digits.
    pub cost: i128,
}

/// What burdens are laid on: an item's amounts, for a lot.
pub(super) trait Costed {
    /// Returns the item.
    fn item(&self) -> ItemId;
    /// Returns the cost, times ten to the power of the cost digits.
    fn cost(&self) -> i128;
    /// Returns the weight that rides, times ten to the power of [`WEIGHT_DIGITS`].
    fn weight(&self) -> i128;
    /// Returns the measure that ends up in the units, in base units of the form.
    fn used(&self) -> Ratio;
}

impl Costed for ItemCost {
    fn item(&self) -> ItemId {
        self.item
    }

    fn cost(&self) -> i128 {
        self.cost
    }

    fn weight(&self) -> i128 {
        self.weight
    }

    fn used(&self) -> Ratio {
        self.used.clone()
    }
}

/// What a burden is limited to.
enum Limit<'a> {
    Nothing,
    Items(&'a str),
    Station(&'a str),
}

/// What the share of a station is taken of.
#[derive(Clone, Copy)]
enum Part {
    Measure,
    Weight,
}

/// Returns the burdens of a build in the order they are laid on, each rounded once.
pub(super) fn burdens<T: Costed>(
    book: &Book,
    needs: &Needs,
    build: usize,
    items: &[T],
    lot: u32,
) -> Result<Vec<BurdenCost>, Diagnostic> {
    let plan = needs.builds[build].plan;
    let lot = Ratio::from(i64::from(lot));
    let money = |amount: i128| Ratio::decimal(amount, book.settings.cost_digits);
    let mut running: i128 = items.iter().map(Costed::cost).sum();
    let mut subtotals = Subtotals::default();
    let mut costs = Vec::new();
    let mut uses: Option<Vec<Row>> = None;
    for (id, burden) in (0_u32..).map(BurdenId).zip(&book.burdens) {
        let Some(limit) = laid_on(book, needs, plan, burden) else {
            subtotals.passed.push((&burden.name, running));
            continue;
        };
        let part = match burden.basis {
            BurdenBasis::Weight => Part::Weight,
            _ => Part::Measure,
        };
        // Sums of whole amounts stay whole, but for shares of stations.
        let mut sum =
            |is_chosen: &dyn Fn(&Item) -> bool, whole: &dyn Fn(&[&T]) -> Ratio| -> Ratio {
                let is_named = |item: &Item| match &limit {
                    Limit::Items(name) => is_named(item, name),
                    Limit::Nothing | Limit::Station(_) => true,
                };
                let items = items.iter().filter(|costed| {
                    let item = book.item(costed.item());
                    is_chosen(item) && is_named(item)
                });
                let Limit::Station(name) = &limit else { return whole(&items.collect::<Vec<_>>()) };
                let uses = uses.get_or_insert_with(|| rows(book, needs, build));
                items
                    .map(|item| whole(&[item]) * station_share(book, uses, item.item(), name, part))
                    .sum()
            };
        let cost = |items: &[&T]| money(items.iter().map(|item| item.cost()).sum());
        let is_labor = |item: &Item| item.form == Form::Labor;
        let base = match &burden.basis {
            BurdenBasis::LaborMoney => sum(&is_labor, &cost),
            BurdenBasis::LaborTime => {
                sum(&is_labor, &|items| items.iter().map(|item| item.used()).sum())
            }
            BurdenBasis::Material => sum(&|item| !is_labor(item), &cost),
            BurdenBasis::Weight => sum(&|_| true, &|items| {
                let weight = items.iter().map(|item| item.weight()).sum();
                Ratio::decimal(weight, WEIGHT_DIGITS) * &book.settings.weight_unit.factor
            }),
            BurdenBasis::Area => floor_area(book, plan) * &lot,
            BurdenBasis::Unit => lot.clone(),
            BurdenBasis::Lot => Ratio::ONE,
            BurdenBasis::Subtotal(name) => {
                subtotals.of(name).map_or(Ratio::ZERO, |total| money(*total))
            }
        };
        let is_money = matches!(
            burden.basis,
            BurdenBasis::LaborMoney | BurdenBasis::Material | BurdenBasis::Subtotal(_)
        );
        let by_share = burden.share.as_ref().map_or(Ratio::ZERO, |share| share * &base);
        let by_amount = burden.amount.as_ref().map_or(Ratio::ZERO, |amount| {
            // A fixed sum beside a percent of money is for one unit.
            if is_money { amount * &lot } else { amount * &base }
        });
        let cost =
            amount(book, &(by_share + by_amount), book.settings.cost_digits).ok_or_else(|| {
                let what = format!("the burden `{}`", burden.name);
                Diagnostic::error(book.place(burden.row, None), Problem::Overflow { what })
            })?;
        running += cost;
        subtotals.laid.push((&burden.name, running));
        costs.push(BurdenCost { burden: id, base, cost });
    }
    Ok(costs)
}

/// Returns the exact money that the burdens add for one more unit of money that an item costs.
///
/// The item's measure and weight stay as they are: only burdens on money follow.
#[must_use]
pub fn burdens_on(book: &Book, needs: &Needs, build: usize, cost: &ItemCost) -> Ratio {
    let item = book.item(cost.item);
    let is_labor = item.form == Form::Labor;
    let mut running = Ratio::ONE;
    let mut subtotals = Subtotals::default();
    for burden in &book.burdens {
        let Some(limit) = laid_on(book, needs, needs.builds[build].plan, burden) else {
            subtotals.passed.push((&burden.name, running.clone()));
            continue;
        };
        let follows = match &burden.basis {
            BurdenBasis::LaborMoney => is_labor,
            BurdenBasis::Material => !is_labor,
            _ => false,
        };
        let base = match (&burden.basis, &limit) {
            (BurdenBasis::Subtotal(name), _) => subtotals.of(name).cloned(),
            (_, Limit::Nothing) if follows => Some(Ratio::ONE),
            (_, Limit::Items(name)) if follows && is_named(item, name) => Some(Ratio::ONE),
            (_, Limit::Station(name)) if follows => {
                Some(station_share(book, &rows(book, needs, build), cost.item, name, Part::Measure))
            }
            _ => None,
        };
        if let (Some(base), Some(share)) = (base, &burden.share) {
            running += &(share * &base);
        }
        subtotals.laid.push((&burden.name, running.clone()));
    }
    running - Ratio::ONE
}

/// Running totals by the names of burdens.
struct Subtotals<'a, T> {
    /// Up to and with a burden that was laid on.
    laid: Vec<(&'a str, T)>,
    /// At the place of a burden that does not hold on the day, or is for another plan.
    passed: Vec<(&'a str, T)>,
}

impl<T> Default for Subtotals<'_, T> {
    fn default() -> Self {
        Subtotals { laid: Vec::new(), passed: Vec::new() }
    }
}

impl<T> Subtotals<'_, T> {
    /// Returns the running total at a burden: the last that was laid on of this name, else where the first was passed.
    fn of(&self, name: &str) -> Option<&T> {
        let is_named = |(known, _): &&(&str, T)| known.eq_ignore_ascii_case(name);
        let found = self.laid.iter().rfind(is_named).or_else(|| self.passed.iter().find(is_named));
        found.map(|(_, total)| total)
    }
}

/// Returns what a burden is limited to; nothing if it is not laid on this plan on this day.
fn laid_on<'a>(book: &Book, needs: &Needs, plan: PlanId, burden: &'a Burden) -> Option<Limit<'a>> {
    is_latest(book, needs, burden).then(|| limit(book, plan, burden))?
}

/// Tells whether a burden limited to a name is for an item: by its own name or its group's.
fn is_named(item: &Item, name: &str) -> bool {
    item.name.eq_ignore_ascii_case(name) || item.group.eq_ignore_ascii_case(name)
}

/// Tells whether a row is the one of its name that holds on the day.
fn is_latest(book: &Book, needs: &Needs, burden: &Burden) -> bool {
    let holds = |row: &Burden| row.from.is_none_or(|from| needs.on.is_none_or(|on| from <= on));
    let is_same = |row: &&Burden| {
        row.name.eq_ignore_ascii_case(&burden.name)
            && row.applies_to.eq_ignore_ascii_case(&burden.applies_to)
    };
    holds(burden)
        && book
            .burdens
            .iter()
            .filter(is_same)
            .filter(|row| holds(row))
            .all(|row| row.from <= burden.from)
}

/// Returns what a burden is limited to, or nothing if it is for another plan.
fn limit<'a>(book: &Book, plan: PlanId, burden: &'a Burden) -> Option<Limit<'a>> {
    let name = burden.applies_to.as_str();
    if name.is_empty() {
        return Some(Limit::Nothing);
    }
    if let Some(only) = book.plans.iter().position(|plan| plan.name.eq_ignore_ascii_case(name)) {
        return (only == plan.index()).then_some(Limit::Nothing);
    }
    let is_station =
        book.assemblies.iter().any(|assembly| assembly.station.eq_ignore_ascii_case(name));
    Some(if is_station { Limit::Station(name) } else { Limit::Items(name) })
}

/// Returns the share of an item's measure that is used in assemblies of a station, or of its weight.
fn station_share(book: &Book, uses: &[Row], item: ItemId, station: &str, part: Part) -> Ratio {
    let rows = || uses.iter().filter(|row| row.item == item);
    let part_of = |row: &Row| match part {
        Part::Measure => row.basis.clone(),
        Part::Weight => row.weight.clone(),
    };
    let all: Ratio = rows().map(part_of).sum();
    let here: Ratio =
        rows().filter(|row| row.station(book).eq_ignore_ascii_case(station)).map(part_of).sum();
    here.checked_div(&all).unwrap_or(Ratio::ZERO)
}

fn floor_area(book: &Book, plan: PlanId) -> Ratio {
    let value = |name: &str| {
        let values = &book.plans[plan.index()].values;
        values
            .iter()
            .find(|(known, _)| known == name)
            .map_or(Ratio::ZERO, |(_, measure)| measure.value.clone())
    };
    value("length") * value("width")
}
