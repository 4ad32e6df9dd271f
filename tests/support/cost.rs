//! The reference's costs: one rounded amount per plan and item, then burdens; what is cut is priced from the layouts the
//! library reports, after their pieces are counted here.

use std::collections::BTreeMap;

use num_bigint::BigInt;
use num_traits::Zero;

use super::number::{Number, decimal, fraction, rounded, whole};
use super::plant::{AS_OF, Basis, Burden, Form, Item, Limit, Per, Plant, Price, constant};
use super::reference::{FOOT, Need, Unit, What, measured, pound_rate, size_measure};

/// Returns the price of an item in a size: a row of `prices` that holds, else the size's own, else the
/// item's, else the row of `prices` that held last.
fn price<'a>(plant: &Plant, item: &'a Item, size: Option<usize>) -> Option<&'a Price> {
    let holds = |from: Option<&str>, to: Option<&str>| {
        !plant.settings.has_day
            || (from.is_none_or(|from| from <= AS_OF) && to.is_none_or(|to| AS_OF <= to))
    };
    let dated = item
        .dated
        .iter()
        .find(|row| holds(row.from, row.to) && (row.size.is_none() || row.size == size));
    // Where nothing holds and there is no other price, the last one that held is taken.
    let last = || {
        let is_past = |to: &str| plant.settings.has_day && to < AS_OF;
        let rows = item.dated.iter().filter(|row| row.size.is_none() || row.size == size);
        let past = rows.filter(|row| row.to.is_some_and(is_past));
        past.reduce(|last, row| if row.to > last.to { row } else { last })
    };
    dated
        .map(|row| &row.price)
        .or_else(|| item.sizes[size?].price.as_ref())
        .or(item.price.as_ref())
        .or_else(|| Some(&last()?.price))
}

fn money(item: &Item, price: &Price, measure: &Number, things: &Number) -> Number {
    match &price.per {
        Per::Things(count) => &price.amount * things / count,
        Per::Measure(per) => &price.amount * measure / per,
        Per::Pounds(per) => &price.amount * pound_rate(item) * measure / per,
    }
}

/// How the library cut an item: sizes by position in the item's sizes.
#[derive(Clone, Debug, Default)]
pub(crate) struct Cutting {
    pub layouts: Vec<CutLayout>,
    /// Counts that no layout holds.
    pub unplaced: Vec<(Option<What>, u64)>,
}

#[derive(Clone, Debug)]
pub(crate) struct CutLayout {
    pub size: usize,
    pub repeat: u64,
    pub pieces: Vec<What>,
    /// Nanometers of the run.
    pub run: Number,
    /// Sides of what is kept.
    pub offcuts: Vec<(Number, Number)>,
    /// Nanometers taken from the stock.
    pub taken: Number,
}

/// A plan's amounts of one item, for a lot.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Amounts {
    pub quantity: BigInt,
    pub cost: BigInt,
    pub weight: BigInt,
    pub purchased_weight: BigInt,
    pub credit: BigInt,
    pub yield_variance: BigInt,
    pub is_unpriced: bool,
    pub used: Number,
    pub bought: Number,
}

/// Returns what a plan takes of an item comes to.
pub(crate) fn cost(
    plant: &Plant,
    index: usize,
    unit: &Unit,
    cutting: Option<&Cutting>,
    lot: i64,
) -> Amounts {
    let item = &plant.items[index];
    let settings = &plant.settings;
    let needs = unit.needs.get(&index).cloned().unwrap_or_default();
    let lot = whole(lot);
    let (mut bought, mut exact, mut credit) = (whole(0), whole(0), whole(0));
    let mut is_unpriced = false;
    let mut buy = |size: Option<usize>, measure: Number, things: Number| {
        match price(plant, item, size) {
            Some(price) => exact += money(item, price, &measure, &things),
            None => is_unpriced = true,
        }
        bought += measure;
    };
    let is_made_to_length = item.form == Form::Linear && item.sizes[0].length.is_none();
    if item.form.is_cut() && !is_made_to_length {
        let cutting = cutting.cloned().unwrap_or_default();
        check_demand(&needs, &cutting, &lot);
        for (what, (_, required)) in &needs {
            if let What::Whole(size) = what {
                let count = (&lot * required).ceil();
                buy(Some(*size), size_measure(item, *size) * &count, count);
            }
        }
        for layout in &cutting.layouts {
            let repeat = Number::from_integer(BigInt::from(layout.repeat));
            let size = size_measure(item, layout.size);
            let by_length = settings.charges_roll_length && item.form == Form::Roll;
            let charged = if by_length {
                let length = constant(item.sizes[layout.size].length.as_ref().unwrap());
                &repeat * &layout.taken / length
            } else {
                repeat.clone()
            };
            buy(Some(layout.size), &size * &charged, charged);
            if let Some(price) = price(plant, item, Some(layout.size)).filter(|_| !by_length) {
                let kept: Number =
                    layout
                        .offcuts
                        .iter()
                        .map(|(length, width)| {
                            if item.form == Form::Linear { length.clone() } else { length * width }
                        })
                        .sum();
                credit += money(item, price, &size, &whole(1)) * kept / size
                    * repeat
                    * fraction(settings.offcut_percent, 100);
            }
        }
    } else {
        let mut total = whole(0);
        for (what, (_, required)) in &needs {
            let required = &lot * required;
            total += match what {
                What::Piece { length, .. } => {
                    required.ceil() * Number::from_integer(length.clone())
                }
                _ => required,
            };
        }
        if item.form == Form::Count {
            total = total.ceil();
        }
        let size = is_made_to_length.then_some(0);
        buy(size, total.clone(), total);
    }
    let used: Number =
        needs.iter().map(|(what, (good, _))| &lot * good * measured(item, what)).sum();
    let by_nest = exact - &credit;
    let by_yield = item.yield_percent.filter(|_| item.form.is_cut()).and_then(|percent| {
        let required: Number =
            needs.iter().map(|(what, (_, required))| &lot * required * measured(item, what)).sum();
        let size = size_measure(item, 0);
        let rate = money(item, price(plant, item, Some(0))?, &size, &whole(1)) / size;
        Some(required * rate / fraction(percent, 100))
    });
    let by_yield = by_yield.unwrap_or_else(|| by_nest.clone());
    let weight_unit = weight_unit(plant);
    let pounds = unit.pounds.get(&index).cloned().unwrap_or_default() * &lot;
    let round = |value: &Number, places| rounded(value, places, settings.half_up);
    Amounts {
        quantity: round(&(&used / &item.unit.1), 4),
        cost: round(&by_yield, settings.cost_digits),
        weight: round(&(pounds / &weight_unit), 4),
        purchased_weight: round(&(pound_rate(item) * &bought / &weight_unit), 4),
        credit: round(&credit, settings.cost_digits),
        yield_variance: round(&(by_nest - by_yield), settings.cost_digits),
        is_unpriced,
        used,
        bought,
    }
}

/// Pounds in the book's unit of weight.
pub(crate) fn weight_unit(plant: &Plant) -> Number {
    if plant.settings.weighs_in_kilograms {
        // A pound is 0.45359237 kg (UN/ECE Recommendation 20, LBR).
        whole(1) / decimal(45_359_237, 8)
    } else {
        whole(1)
    }
}

/// Counts the pieces of the layouts against what the lot requires.
fn check_demand(needs: &BTreeMap<What, Need>, cutting: &Cutting, lot: &Number) {
    let mut cut: BTreeMap<What, BigInt> = BTreeMap::new();
    let mut run = whole(0);
    for layout in &cutting.layouts {
        for piece in &layout.pieces {
            *cut.entry(piece.clone()).or_default() += layout.repeat;
        }
        run += &layout.run * Number::from_integer(BigInt::from(layout.repeat));
    }
    let mut run_is_short = false;
    for (what, count) in &cutting.unplaced {
        match what {
            Some(what) => *cut.entry(what.clone()).or_default() += *count,
            None => run_is_short = true,
        }
    }
    let mut wanted: BTreeMap<What, BigInt> = BTreeMap::new();
    let mut wanted_run = whole(0);
    for (what, (_, required)) in needs {
        let required = lot * required;
        match what {
            What::Piece { .. } => {
                wanted.insert(what.clone(), required.ceil().to_integer());
            }
            What::Run => wanted_run = required,
            What::Whole(_) | What::Amount => {}
        }
    }
    assert_eq!(cut, wanted, "pieces cut and pieces wanted");
    assert!(run_is_short || run >= wanted_run, "a run of {run} where {wanted_run} is wanted");
}

/// A burden's base and cost.
pub(crate) type BurdenAmount = (String, Number, BigInt);

/// Returns the burdens of a plan in order, from the amounts of its items.
pub(crate) fn burdens(
    plant: &Plant,
    plan: usize,
    unit: &Unit,
    items: &BTreeMap<usize, Amounts>,
    lot: i64,
) -> Vec<BurdenAmount> {
    let digits = plant.settings.cost_digits;
    let money = |cost: &BigInt| Number::new(cost.clone(), BigInt::from(10).pow(digits));
    let mut running: BigInt = items.values().map(|amounts| amounts.cost.clone()).sum();
    let mut totals: Vec<(&str, BigInt)> = Vec::new();
    let mut found = Vec::new();
    for burden in &plant.burdens {
        if !is_latest(plant, burden) || matches!(burden.limit, Limit::Plan(only) if only != plan) {
            // It is not laid on, but the running total at its place has its name.
            totals.push((&burden.name, running.clone()));
            continue;
        }
        let share = |index: usize| match &burden.limit {
            Limit::Group(group) if plant.items[index].group != *group => whole(0),
            Limit::Item(only) if index != *only => whole(0),
            Limit::Station(station) => station_share(unit, index, station, &burden.basis),
            Limit::Nothing | Limit::Plan(_) | Limit::Group(_) | Limit::Item(_) => whole(1),
        };
        let sum = |of: &dyn Fn(&Item, &Amounts) -> Number| -> Number {
            items
                .iter()
                .map(|(index, amounts)| of(&plant.items[*index], amounts) * share(*index))
                .sum()
        };
        let if_labor = |item: &Item, is_labor: bool, value: Number| {
            if (item.form == Form::Labor) == is_labor { value } else { whole(0) }
        };
        let plan_value = |name: &str| {
            let values = &plant.plans[plan].values;
            constant(&values.iter().find(|(own, _)| own == name).unwrap().1)
        };
        let base = match &burden.basis {
            Basis::LaborMoney => sum(&|item, own| if_labor(item, true, money(&own.cost))),
            Basis::Material => sum(&|item, own| if_labor(item, false, money(&own.cost))),
            // Minutes; the amount is per hour.
            Basis::LaborHours => sum(&|item, own| if_labor(item, true, own.used.clone())),
            // The base is in pounds; the amount is for one of the book's unit.
            Basis::Weight => sum(&|_, own| {
                Number::new(own.weight.clone(), BigInt::from(10_000)) * weight_unit(plant)
            }),
            Basis::Area => whole(lot) * plan_value("length") * plan_value("width"),
            Basis::Unit => whole(lot),
            Basis::Subtotal(name) => {
                totals.iter().rev().find(|(own, _)| own == name).map_or(whole(0), |(_, t)| money(t))
            }
        };
        let rate = decimal(burden.rate, 2);
        let exact = match &burden.basis {
            Basis::LaborMoney | Basis::Material | Basis::Subtotal(_) => &base * rate / whole(100),
            Basis::LaborHours => &base / whole(60) * rate,
            Basis::Weight => &base / weight_unit(plant) * rate,
            Basis::Unit => &base * rate,
            Basis::Area => &base / (whole(FOOT) * whole(FOOT)) * rate,
        };
        let cost = rounded(&exact, digits, plant.settings.half_up);
        running += &cost;
        totals.push((&burden.name, running.clone()));
        found.push((burden.name.clone(), base, cost));
    }
    found
}

/// Of rows with one name, the latest that has begun holds.
fn is_latest(plant: &Plant, burden: &Burden) -> bool {
    let has_begun =
        |from: Option<&str>| !plant.settings.has_day || from.is_none_or(|from| from <= AS_OF);
    has_begun(burden.from)
        && plant.burdens.iter().all(|other| {
            other.name != burden.name || !has_begun(other.from) || other.from <= burden.from
        })
}

/// Returns the share of an item that is used at a station: of its weight for burdens by weight, else of its measure.
fn station_share(unit: &Unit, index: usize, station: &str, basis: &Basis) -> Number {
    let part = usize::from(*basis == Basis::Weight);
    let of_item = || unit.stations.iter().filter(|((own, _), _)| *own == index);
    let all: Number = of_item().map(|(_, parts)| &parts[part]).sum();
    let here: Number =
        of_item().filter(|((_, own), _)| own == station).map(|(_, parts)| &parts[part]).sum();
    if all.is_zero() { all } else { here / all }
}
