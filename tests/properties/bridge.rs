//! Bridges between made-up books and what they become.

use std::collections::BTreeSet;

use cutbill::compare::{Amounts, Bridge, Class, Effect, Pair, Row, Side, Subject, bridge};
use cutbill::explode;
use cutbill::model::{Book, Form};
use cutbill::nest;
use cutbill::quantity::Ratio;
use cutbill::read::{self, Memory};
use cutbill::rollup::{self, ItemCost, WEIGHT_DIGITS};
use cutbill::watch::Silent;

use crate::support::compare::options;
use crate::support::generate::plant;
use crate::support::line::Line;
use crate::support::number::decimal;
use crate::support::plant::{Plant, Price};
use crate::support::random::Random;
use crate::support::tables::{Bill, files};
use crate::support::term::count;
use crate::{BOOKS, question};

/// Runs the line over a plant that may have become unsound: then there is nothing to compare.
fn run(plant: &Plant, seed: u64, lot: u32, day: Option<jiff::civil::Date>) -> Option<Line> {
    let (asked, _) = question(plant, seed);
    let book = read::read(&Memory(files(&plant.tables(Bill::Parents), ',').into_iter().collect()));
    let book = book.ok()?.value;
    let mut options = options(plant, &book, &asked);
    options.on = day;
    let needs = explode::explode(&book, &options).ok()?.value;
    let nest = nest::Options { effort: 1, ..nest::Options::default() };
    let options = rollup::Options { lot: Some(lot), nest };
    let rollup = rollup::rollup(&book, &needs, options, &Silent).ok()?.value;
    Some(Line { book, needs, rollup })
}

fn prices(plant: &mut Plant) -> Vec<&mut Price> {
    let items = plant.items.iter_mut().flat_map(|item| {
        let sizes = item.sizes.iter_mut().filter_map(|size| size.price.as_mut());
        item.price.iter_mut().chain(item.dated.iter_mut().map(|row| &mut row.price)).chain(sizes)
    });
    items.collect()
}

/// Changes a plant here and there, as a model year does.
fn changed(plant: &Plant, random: &mut Random) -> Plant {
    let mut changed = plant.clone();
    let some_prices = random.chance(70);
    for price in prices(&mut changed) {
        if some_prices && random.chance(30) {
            price.amount += decimal(random.range(1, 500), 2);
        }
    }
    for line in &mut changed.lines {
        if random.chance(8) && line.quantity.is_some() {
            line.quantity = Some(count(random.range(1, 6)));
        }
        if random.chance(10) {
            line.scrap_percent = Some(random.range(0, 4));
        }
    }
    for _ in 0..random.below(3) {
        let dropped = random.below(changed.lines.len());
        changed.lines.remove(dropped);
    }
    if random.chance(30) {
        // Another item of the same form in the place of one.
        let (one, other) = (random.below(changed.items.len()), random.below(changed.items.len()));
        if changed.items[one].form == changed.items[other].form {
            let swapped = crate::Component::Item(one);
            for line in changed.lines.iter_mut().filter(|line| line.component == swapped) {
                line.component = crate::Component::Item(other);
            }
        }
    }
    for item in &mut changed.items {
        if random.chance(10) {
            item.rides_percent = Some(random.range(50, 100));
        }
    }
    for burden in &mut changed.burdens {
        if random.chance(30) {
            burden.rate += random.range(1, 300);
        }
    }
    if random.chance(15) {
        changed.settings.cost_digits = u32::try_from(random.range(0, 8)).unwrap();
        changed.settings.weighs_in_kilograms ^= true;
    }
    if random.chance(15) {
        changed.settings.offcut_percent = random.range(0, 100);
    }
    changed
}

fn side(line: &Line, build: usize) -> Side<'_> {
    Side { book: &line.book, needs: &line.needs, rollup: &line.rollup, build }
}

fn bridges(old: &Line, new: &Line) -> Vec<Bridge> {
    let both = 0..old.rollup.builds.len().min(new.rollup.builds.len());
    both.map(|build| bridge(side(old, build), side(new, build)).unwrap()).collect()
}

/// Effects of every row add up to its difference, rows to the totals, and the totals are those of the roll-ups.
fn assert_adds_up(old: &Line, new: &Line, about: &str) -> BTreeSet<Effect> {
    let mut met = BTreeSet::new();
    for (build, bridge) in bridges(old, new).into_iter().enumerate() {
        let mut sum = bridge.start();
        for effect in Effect::ALL {
            let amounts = bridge.effect(effect);
            if amounts != Amounts::default() {
                met.insert(effect);
            }
            sum = sum + amounts;
        }
        assert_eq!(sum, bridge.end(), "{about}");
        for row in &bridge.rows {
            let effects: Amounts = Effect::ALL.into_iter().map(|effect| row.effect(effect)).sum();
            assert_eq!(row.old + effects, row.new, "{about}: {row:?}");
            let classes: Amounts = [&Class::OF_COST[..], &[Class::UnitWeight]]
                .concat()
                .into_iter()
                .map(|class| row.class(class))
                .sum();
            assert_eq!(classes, effects, "{about}: {row:?}");
        }
        let basis = &bridge.basis;
        for (line, ends) in [(old, bridge.start()), (new, bridge.end())] {
            let cost = &line.rollup.builds[build];
            let rows = i128::try_from(bridge.rows.len()).unwrap();
            let units = Ratio::new(i128::from(basis.units), i128::from(line.rollup.lot)).unwrap();
            let exact = Ratio::decimal(cost.cost(), line.rollup.cost_digits)
                * Ratio::whole(10).power(basis.cost_digits)
                * &units;
            // One rounding per row where the lots differ, none else.
            let most = if basis.lots[0] == basis.lots[1] { 0 } else { rows };
            assert!((exact - Ratio::whole(ends.cost)).abs() <= Ratio::whole(most), "{about}");
            let factor =
                line.book.settings.weight_unit.factor.checked_div(&basis.weight_unit.factor);
            let exact = Ratio::decimal(cost.weight(), WEIGHT_DIGITS) * factor.unwrap() * units;
            let off = (exact - Ratio::decimal(ends.weight, WEIGHT_DIGITS)).abs();
            let is_alike = most == 0 && line.book.settings.weight_unit == basis.weight_unit;
            let most = if is_alike { 0 } else { rows };
            assert!(off <= Ratio::decimal(most, WEIGHT_DIGITS), "{about}");
        }
    }
    met
}

#[test]
fn bridge_terms_sum_to_the_difference_whatever_changes() {
    let mut met = BTreeSet::new();
    let mut held = 0;
    for seed in 0..BOOKS {
        let mut random = Random::new(seed ^ 0x000b_41d6_e000);
        let old_plant = plant(seed);
        let new_plant = changed(&old_plant, &mut random);
        let (_, lot) = question(&old_plant, seed);
        let new_lot = if random.chance(30) { lot + 1 } else { lot };
        let day = random.chance(30).then(|| jiff::civil::Date::constant(2027, 9, 1));
        let old = run(&old_plant, seed, lot, None).unwrap();
        let Some(new) = run(&new_plant, seed, new_lot, day) else { continue };
        held += 1;
        met.extend(assert_adds_up(&old, &new, &format!("book {seed}")));
        assert_adds_up(&new, &old, &format!("book {seed}, back"));
        // Two plans of one book.
        let last = old.rollup.builds.len() - 1;
        let across = bridge(side(&old, 0), side(&old, last)).unwrap();
        let sum: Amounts = Effect::ALL.into_iter().map(|effect| across.effect(effect)).sum();
        assert_eq!(across.start() + sum, across.end(), "book {seed}, plan against plan");
    }
    assert!(held > 100, "only {held} books are sound once they are changed");
    assert_eq!(met.len(), Effect::ALL.len(), "only {met:?} are met");
}

#[test]
fn a_book_does_not_differ_from_itself() {
    for seed in 0..60 {
        let line = run(&plant(seed), seed, 2, None).unwrap();
        for bridge in bridges(&line, &line) {
            for row in &bridge.rows {
                let is_still =
                    Effect::ALL.into_iter().all(|effect| row.effect(effect) == Amounts::default());
                assert!(is_still, "book {seed}: {row:?}");
            }
        }
    }
}

/// Returns the costs of an item that both sides take.
fn both<'a>(old: &'a Line, new: &'a Line, build: usize, row: &Row) -> Option<[&'a ItemCost; 2]> {
    let Subject::Item(Pair::Both(was, is)) = row.subject else { return None };
    let find = |line: &'a Line, item| {
        line.rollup.builds[build].items.iter().find(|cost| cost.item == item).unwrap()
    };
    Some([find(old, was), find(new, is)])
}

/// Where only prices change, only prices and what follows from them have an effect: nests may take other sizes, and
/// burdens of money are laid on more.
#[test]
fn dearer_prices_have_no_effect_on_quantities() {
    let mut priced = 0;
    for seed in 0..80 {
        let old_plant = plant(seed);
        let mut new_plant = old_plant.clone();
        for price in prices(&mut new_plant) {
            price.amount += decimal(37, 2);
        }
        let old = run(&old_plant, seed, 1, None).unwrap();
        let new = run(&new_plant, seed, 1, None).unwrap();
        for (build, bridge) in bridges(&old, &new).into_iter().enumerate() {
            for effect in [Effect::Quantity, Effect::Substitution, Effect::Added, Effect::Removed] {
                assert_eq!(bridge.effect(effect), Amounts::default(), "book {seed}: {effect:?}");
            }
            assert_eq!(bridge.effect(Effect::LaborHours).cost, 0, "book {seed}");
            for row in &bridge.rows {
                let Some([was, is]) = both(&old, &new, build, row) else { continue };
                let item = old.book.item(was.item);
                if item.is_nested() || was.is_unpriced {
                    continue;
                }
                // (new price - old price) x what is bought, which is the same.
                let money = |cost: &ItemCost| cost.purchases[0].money.clone();
                let exact =
                    (money(is) - money(was)) * Ratio::whole(10).power(bridge.basis.cost_digits);
                let effect =
                    if item.form == Form::Labor { Effect::LaborRate } else { Effect::Price };
                let off = (exact - Ratio::whole(row.effect(effect).cost)).abs();
                assert!(off <= Ratio::ONE, "book {seed}, {}", item.name);
                assert_eq!(row.effect(effect).cost, row.difference().cost, "book {seed}");
                priced += 1;
            }
        }
    }
    assert!(priced > 300, "only {priced} prices are held against their purchases");
}

/// The effects of items that are measured out, by the formulas of variance analysis: (new - old quantity) x old price,
/// and (new - old price) x new quantity.
#[test]
fn effects_are_those_of_variance_analysis() {
    let mut held = 0;
    for seed in 0..BOOKS {
        let mut random = Random::new(seed ^ 0x0fac_7500);
        let old_plant = plant(seed);
        let new_plant = changed(&old_plant, &mut random);
        let old = run(&old_plant, seed, 1, None).unwrap();
        let Some(new) = run(&new_plant, seed, 1, None) else { continue };
        for (build, bridge) in bridges(&old, &new).into_iter().enumerate() {
            for row in &bridge.rows {
                let Some([was, is]) = both(&old, &new, build, row) else { continue };
                let item = old.book.item(was.item);
                let is_plain = matches!(item.form, Form::Bulk | Form::Count);
                if !is_plain || was.bought.is_zero() || is.bought.is_zero() || was.is_unpriced {
                    continue;
                }
                let price = |book: &Book, cost: &ItemCost| -> Ratio {
                    let exact: Ratio =
                        cost.purchases.iter().map(|bought| bought.money.clone()).sum();
                    assert!(!book.items.is_empty());
                    exact.checked_div(&cost.bought).unwrap()
                        * Ratio::whole(10).power(bridge.basis.cost_digits)
                };
                let (old_price, new_price) = (price(&old.book, was), price(&new.book, is));
                let by_price = (&new_price - &old_price) * &is.bought;
                let more = (&is.bought - &was.bought) * &old_price;
                // Another rounding of the books lies between exact and rounded amounts.
                let digits = old.rollup.cost_digits.min(new.rollup.cost_digits);
                let most = Ratio::whole(10).power(bridge.basis.cost_digits - digits) + Ratio::ONE;
                let near =
                    |exact: Ratio, amount: i128| (exact - Ratio::whole(amount)).abs() <= most;
                let taken = row.effect(Effect::Quantity).cost + row.effect(Effect::Yield).cost;
                assert!(
                    near(by_price, row.effect(Effect::Price).cost),
                    "book {seed}, {}",
                    item.name
                );
                assert!(near(more, taken), "book {seed}, {}", item.name);
                assert_eq!(row.effect(Effect::SizeMix).cost, 0, "book {seed}, {}", item.name);
                held += usize::from(row.difference().cost != 0);
            }
        }
    }
    assert!(held > 200, "only {held} items changed");
}
