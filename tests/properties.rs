//! Laws of the whole line, over made-up books, and the slow reference it is held against.

#![expect(clippy::unwrap_used, reason = "what cannot be had ends the test")]

#[path = "properties/bridge.rs"]
mod bridge;
#[path = "properties/purchasing.rs"]
mod purchasing;
mod support;

use std::collections::{BTreeMap, BTreeSet};

use cutbill::explode;
use cutbill::model::Form as LibraryForm;
use cutbill::nest;
use cutbill::nest::check;
use cutbill::price::{self, Amounts, Target, What};
use cutbill::quantity::Ratio;
use cutbill::rollup;
use cutbill::rollup::{About, Key, group, keys, ledger, why};
use cutbill::watch::Silent;

use proptest::prop_assert_eq;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};

use support::compare::{compare, options, run};
use support::formulas;
use support::generate::plant;
use support::line::{Line, read, roll_up};
use support::plant::{Component, Form, Plant, Usage};
use support::random::Random;
use support::tables::{Bill, Rows, csv, files};
use support::term::Term;

/// Seeds of the made-up books.
const BOOKS: u64 = 220;

/// Returns which options are asked for, and how many units are built.
fn question(plant: &Plant, seed: u64) -> (Vec<usize>, u32) {
    let mut random = Random::new(seed ^ 0xffff_0000);
    let position = |name| plant.choices.iter().position(|choice| choice.name == name).unwrap();
    let mut asked = Vec::new();
    if random.chance(40) {
        asked.push(position("solar"));
    }
    if random.chance(40) {
        // In place of the standard gas.
        asked.push(position("electric"));
    }
    (asked, u32::try_from(random.range(1, 3)).unwrap())
}

fn run_as_asked(plant: &Plant, bill: Bill, seed: u64) -> Line {
    let (asked, lot) = question(plant, seed);
    run(plant, bill, &asked, lot, 1)
}

/// Amounts by plan and item or burden: quantity, cost, weight, purchased weight.
type Totals = BTreeMap<(String, String), [i128; 4]>;

fn totals(line: &Line) -> Totals {
    let mut totals = Totals::new();
    for build in &line.rollup.builds {
        let plan = &line.book.plans[line.needs.builds[build.build].plan.index()].name;
        for item in &build.items {
            let name = line.book.item(item.item).name.clone();
            let amounts = [item.quantity, item.cost, item.weight, item.purchased_weight];
            totals.insert((plan.clone(), name), amounts);
        }
        for burden in &build.burdens {
            let name = line.book.burdens[burden.burden.index()].name.clone();
            totals.insert((plan.clone(), name), [0, burden.cost, 0, 0]);
        }
    }
    totals
}

#[test]
fn the_slow_reference_agrees_on_every_figure() {
    let mut differences = Vec::new();
    for seed in 0..BOOKS {
        let plant = plant(seed);
        let (asked, lot) = question(&plant, seed);
        let line = run(&plant, Bill::Parents, &asked, lot, 1);
        if let Err(difference) = compare(&plant, &line, &asked) {
            differences.push(format!("book {seed}, lot {lot}, {difference}"));
        }
    }
    assert!(differences.is_empty(), "{}", differences.join("\n"));
}

#[test]
fn the_reference_sees_a_price_that_is_a_cent_off() {
    let is_seen = |seed: u64| {
        let plant = plant(seed);
        let mut dearer = plant.clone();
        for item in &mut dearer.items {
            for price in
                item.price.iter_mut().chain(&mut item.dated.iter_mut().map(|row| &mut row.price))
            {
                price.amount += support::number::decimal(1, 2);
            }
            for size in &mut item.sizes {
                if let Some(price) = &mut size.price {
                    price.amount += support::number::decimal(1, 2);
                }
            }
        }
        let (asked, lot) = question(&plant, seed);
        compare(&plant, &run(&dearer, Bill::Parents, &asked, lot, 1), &asked).is_err()
    };
    let seen = (0..10).filter(|seed| is_seen(*seed)).count();
    assert!(seen >= 8, "only {seen} of 10 books differ");
}

#[test]
fn formulas_come_to_what_the_reference_says() {
    let config = Config { cases: 2000, failure_persistence: None, ..Config::default() };
    let random = TestRng::deterministic_rng(RngAlgorithm::ChaCha);
    let agrees = |term: Term| {
        prop_assert_eq!(formulas::by_library(&term), Ok(formulas::by_reference(&term)), "{}", term);
        Ok(())
    };
    TestRunner::new_with_rng(config, random).run(&formulas::any(), agrees).unwrap();
}

#[test]
fn made_up_books_hold_every_use_of_every_form() {
    let mut held = BTreeMap::new();
    for seed in 0..BOOKS {
        let plant = plant(seed);
        for line in &plant.lines {
            if let Component::Item(item) = line.component {
                let form = plant.items[item].form;
                *held.entry(format!("{:?} {form:?}", line.usage)).or_insert(0) += 1;
            }
        }
    }
    let wanted = [
        (Usage::Piece, &[Form::Sheet, Form::Roll, Form::Linear][..]),
        (Usage::Cover, &[Form::Sheet, Form::Roll, Form::Linear, Form::Count, Form::Bulk]),
        (Usage::Run, &[Form::Roll, Form::Linear, Form::Count, Form::Bulk]),
        (Usage::Fill, &[Form::Roll, Form::Count, Form::Bulk]),
        (
            Usage::Count,
            &[Form::Sheet, Form::Roll, Form::Linear, Form::Count, Form::Bulk, Form::Labor],
        ),
        (Usage::Opening, &[Form::Count]),
    ];
    for (usage, forms) in wanted {
        for form in forms {
            let count = held.get(&format!("{usage:?} {form:?}")).copied().unwrap_or(0);
            assert!(count >= 5, "{usage:?} of {form:?} is there {count} times");
        }
    }
}

#[test]
fn the_order_of_rows_changes_no_total() {
    for seed in 0..40 {
        let plant = plant(seed);
        let (asked, lot) = question(&plant, seed);
        let straight = run(&plant, Bill::Parents, &asked, lot, 1);
        let mut random = Random::new(seed);
        let mut tables = plant.tables(Bill::Parents);
        for (name, rows) in &mut tables {
            // Burdens are laid on in the order of their rows.
            if *name != "burdens" {
                random.shuffle(&mut rows[1..]);
            }
        }
        let book = read(&files(&tables, ','));
        let shuffled = roll_up(book.clone(), &options(&plant, &book, &asked), lot, 1);
        assert_eq!(totals(&shuffled), totals(&straight), "book {seed}");
    }
}

#[test]
fn an_indented_bill_gives_the_same_totals() {
    for seed in 0..40 {
        let plant = plant(seed);
        let indented = run_as_asked(&plant, Bill::Indented, seed);
        let parents = run_as_asked(&plant, Bill::Parents, seed);
        assert_eq!(totals(&indented), totals(&parents), "book {seed}");
    }
}

/// What is measured doubles with the lot to the last digit; what is counted, and rounded up once for the lot, comes to
/// at most twice as much and to at least twice as much less one; a nest for twice the lot need not cost more than twice.
#[test]
fn a_lot_twice_as_large_takes_twice_as_much_or_less() {
    for seed in 0..40 {
        let plant = plant(seed);
        let (asked, lot) = question(&plant, seed);
        let once = run(&plant, Bill::Parents, &asked, lot, 1);
        let twice = run(&plant, Bill::Parents, &asked, 2 * lot, 1);
        let two = Ratio::whole(2);
        for (once_build, twice_build) in once.rollup.builds.iter().zip(&twice.rollup.builds) {
            assert_eq!(once_build.items.len(), twice_build.items.len(), "book {seed}");
            let flat =
                |line: &Line, build: usize| line.needs.flat(&line.book, &line.needs.builds[build]);
            assert_eq!(
                flat(&once, once_build.build),
                flat(&twice, twice_build.build),
                "book {seed}"
            );
            for (one, both) in once_build.items.iter().zip(&twice_build.items) {
                let name = &once.book.item(one.item).name;
                assert_eq!(&one.used * &two, both.used, "book {seed}, {name}");
                let money = |cost: &cutbill::rollup::ItemCost| -> Ratio {
                    cost.purchases.iter().map(|purchase| purchase.money.clone()).sum()
                };
                let (one_money, both_money) = (money(one) * &two, money(both));
                match once.book.item(one.item).form {
                    LibraryForm::Bulk | LibraryForm::Labor => {
                        assert_eq!(one_money, both_money, "book {seed}, {name}");
                        assert_eq!(&one.bought * &two, both.bought, "book {seed}, {name}");
                    }
                    LibraryForm::Count => {
                        assert!(both_money <= one_money, "book {seed}, {name}");
                        let most = &one.bought * &two;
                        assert!(both.bought <= most, "book {seed}, {name}");
                        assert!(&most - &Ratio::ONE <= both.bought, "book {seed}, {name}");
                    }
                    LibraryForm::Sheet | LibraryForm::Roll | LibraryForm::Linear => {
                        let (Some(one), Some(both)) = (&one.nested, &both.nested) else { continue };
                        if one.instance.stocks.iter().any(|stock| stock.available.is_some()) {
                            // A cheap size may run out.
                            continue;
                        }
                        let is_whole = one.nest.unplaced.is_empty();
                        let bound = &both.nest.bound.cost;
                        assert!(
                            !is_whole || *bound <= &one.nest.cost * &two,
                            "book {seed}, {name}"
                        );
                        assert!(is_whole == both.nest.unplaced.is_empty(), "book {seed}, {name}");
                    }
                }
            }
        }
    }
}

#[test]
fn every_nest_passes_the_check_and_none_beats_its_bound() {
    let mut nests = 0;
    for seed in 0..60 {
        let plant = plant(seed);
        let line = run_as_asked(&plant, Bill::Parents, seed);
        for item in line.rollup.builds.iter().flat_map(|build| &build.items) {
            let Some(nested) = &item.nested else { continue };
            let name = &line.book.item(item.item).name;
            assert_eq!(check::check(&nested.instance, &nested.nest), Ok(()), "book {seed}, {name}");
            let (cost, bound) = (&nested.nest.cost, &nested.nest.bound);
            assert!(bound.cost <= *cost, "book {seed}, {name}: {cost} is below {}", bound.cost);
            let stocks: u64 = nested.nest.layouts.iter().map(|layout| layout.repeat).sum();
            assert!(bound.stocks <= stocks, "book {seed}, {name}");
            nests += 1;
        }
    }
    assert!(nests > 150, "only {nests} nests");
}

#[test]
fn every_grouping_has_the_same_grand_totals() {
    for seed in 0..25 {
        let plant = plant(seed);
        let line = run_as_asked(&plant, Bill::Parents, seed);
        let Line { book, needs, rollup } = &line;
        let all = keys(book);
        let mut random = Random::new(seed);
        let mut sets: Vec<Vec<Key>> = vec![Vec::new(), all.clone()];
        sets.extend(all.iter().map(|key| vec![key.clone()]));
        for _ in 0..30 {
            let mut set = all.clone();
            random.shuffle(&mut set);
            set.truncate(2 + random.below(3));
            sets.push(set);
        }
        let items = || rollup.builds.iter().flat_map(|build| &build.items);
        let grand = [
            rollup.builds.iter().map(cutbill::rollup::BuildCost::cost).sum::<i128>(),
            rollup.builds.iter().map(cutbill::rollup::BuildCost::weight).sum(),
            items().map(|item| item.purchased_weight).sum(),
        ];
        let finest = ledger(book, needs, rollup, &all).unwrap();
        for set in sets {
            // A pivot of the finest ledger, and a ledger of no finer grain than asked for.
            for ledger in [&finest, &ledger(book, needs, rollup, &set).unwrap()] {
                let groups = group(ledger, &set).unwrap().groups;
                let sum = |amount: fn(&cutbill::rollup::Group) -> i128| {
                    groups.iter().map(amount).sum::<i128>()
                };
                let sums = [
                    sum(|group| group.cost),
                    sum(|group| group.weight),
                    sum(|group| group.purchased_weight),
                ];
                assert_eq!(sums, grand, "book {seed} by {set:?}");
                let values: BTreeSet<&Vec<String>> =
                    groups.iter().map(|group| &group.values).collect();
                assert_eq!(values.len(), groups.len(), "book {seed} by {set:?}: a group twice");
            }
        }
        let by_item = group(&finest, &[Key::Plan, Key::Kind, Key::Item]).unwrap();
        let own: Totals = by_item
            .groups
            .iter()
            .map(|group| {
                let name = (group.values[0].clone(), group.values[2].clone());
                (name, [group.quantity, group.cost, group.weight, group.purchased_weight])
            })
            .collect();
        assert_eq!(own, totals(&line), "book {seed}: bill lines add up to the plan's items");
    }
}

/// Tells whether an amount in cents is one in units of ten to the power of `-digits`, divided by `parts` and rounded.
fn is_rounded(cents: i128, amount: i128, digits: u32, parts: i128) -> bool {
    let difference = Ratio::decimal(cents, 2)
        - Ratio::decimal(amount, digits).checked_div(&Ratio::whole(parts)).unwrap();
    difference.abs() <= Ratio::decimal(5, 3)
}

#[test]
fn a_cost_sheet_foots_crossfoots_and_ties_to_the_ledger() {
    let options = price::Options {
        target: Some(Target::Margin(Ratio::new(1, 4).unwrap())),
        ..price::Options::default()
    };
    let mut line_count = 0;
    for seed in 0..60 {
        let plant = plant(seed);
        let line = run_as_asked(&plant, Bill::Parents, seed);
        let sheet = price::price(&line.book, &line.needs, &line.rollup, &options).unwrap().value;
        assert_eq!(sheet.plans.len(), line.rollup.builds.len());
        let digits = line.rollup.cost_digits;
        let lot = i128::from(line.rollup.lot);
        let mut all = 0;
        for (plan, cost) in sheet.plans.iter().zip(&line.rollup.builds) {
            let at = format!("book {seed}, build {}", plan.build);
            assert_eq!(plan.ledger, cost.cost(), "{at}");
            assert!(is_rounded(plan.factory.lot, plan.ledger, digits, 1), "{at}");
            assert!(is_rounded(plan.factory.unit, plan.ledger, digits, lot), "{at}");
            let lines: Vec<&price::Line> =
                plan.sections.iter().flat_map(|section| &section.lines).collect();
            line_count += lines.len();
            let sum = |of: &dyn Fn(Amounts) -> i128| -> i128 {
                lines.iter().map(|line| of(line.amounts)).sum()
            };
            let totals = |of: &dyn Fn(Amounts) -> i128| -> i128 {
                price::SectionKind::ALL.iter().map(|kind| of(plan.total(*kind))).sum()
            };
            let by: [fn(Amounts) -> i128; 2] = [|amounts| amounts.lot, |amounts| amounts.unit];
            for of in by {
                assert_eq!(sum(&of) + of(plan.rounding), of(plan.factory), "{at}");
                assert_eq!(totals(&of) + of(plan.rounding), of(plan.factory), "{at}");
                // Each line and the total are half a cent off at most.
                let most = (i128::try_from(lines.len()).unwrap() + 1) / 2;
                assert!(of(plan.rounding).abs() <= most, "{at}");
            }
            // Each burden has a line of its own, with its own amount.
            for burden in &cost.burdens {
                let own = lines.iter().find(|line| line.what == What::Burden(burden.burden));
                assert!(is_rounded(own.unwrap().amounts.lot, burden.cost, digits, 1), "{at}");
            }
            let quote = &plan.quotes[0];
            assert_eq!(quote.profit, quote.price - plan.factory.unit, "{at}");
            all += plan.ledger;
        }
        let ledger: i128 = line.rollup.builds.iter().map(rollup::BuildCost::cost).sum();
        assert_eq!(all, ledger, "book {seed}");
    }
    assert!(line_count > 600, "{line_count} lines");
}

#[test]
fn an_option_adds_the_difference_of_two_whole_roll_ups() {
    let mut count = 0;
    for seed in 0..40 {
        let plant = plant(seed);
        let (asked, lot) = question(&plant, seed);
        let book = read(&files(&plant.tables(Bill::Parents), ','));
        let explode_options = options(&plant, &book, &asked);
        let line = roll_up(book, &explode_options, lot, 1);
        let options = price::Options::default();
        let sheet = price::price(&line.book, &line.needs, &line.rollup, &options).unwrap().value;
        let nest = nest::Options { effort: 1, ..nest::Options::default() };
        let asked = price::Asked {
            named: &[],
            explode: &explode_options,
            cutting: rollup::Options { lot: Some(lot), nest },
            options: &options,
        };
        let found =
            price::option_prices(&line.book, &line.needs, &line.rollup, &sheet, &asked, &Silent);
        for option in found.unwrap().value {
            let mut other = explode_options.clone();
            if option.is_taken {
                other.chosen.retain(|chosen| *chosen != option.option);
                other.without.push(option.option);
            } else {
                other.chosen.push(option.option);
            }
            other.plans = vec![line.needs.builds[option.build].plan];
            let whole = roll_up(line.book.clone(), &other, lot, 1);
            let difference =
                whole.rollup.builds[0].cost() - line.rollup.builds[option.build].cost();
            let sign = if option.is_taken { -1 } else { 1 };
            assert_eq!(option.lot_cost, sign * difference, "book {seed}");
            count += 1;
        }
    }
    assert!(count > 60, "{count} options");
}

#[test]
fn what_stands_behind_a_row_adds_up_to_the_row() {
    for seed in 0..15 {
        let plant = plant(seed);
        let line = run_as_asked(&plant, Bill::Parents, seed);
        let Line { book, needs, rollup } = &line;
        for set in [
            vec![Key::Plan, Key::Kind, Key::Item],
            vec![Key::Section, Key::Assembly],
            vec![Key::Line, Key::Station],
            vec![Key::Attribute("zone".to_owned()), Key::Attribute("color".to_owned())],
        ] {
            let ledger = ledger(book, needs, rollup, &set).unwrap();
            for row in group(&ledger, &set).unwrap().groups {
                let amounts = [row.quantity, row.cost, row.weight, row.purchased_weight];
                let mut sums = [0; 4];
                for why in why(book, needs, rollup, &set, &row.values) {
                    for (sum, amount) in sums.iter_mut().zip(why.amounts) {
                        *sum += amount;
                    }
                    if let About::Item { lines, .. } = &why.what {
                        let mut of_lines = [0; 4];
                        for line in lines {
                            assert!(!line.paths.is_empty(), "book {seed}: a line without a path");
                            for (sum, amount) in of_lines.iter_mut().zip(line.amounts) {
                                *sum += amount;
                            }
                        }
                        assert_eq!(of_lines, why.amounts, "book {seed} {:?}", row.values);
                    }
                }
                assert_eq!(sums, amounts, "book {seed} by {set:?}: {:?}", row.values);
            }
        }
    }
}

#[test]
fn two_runs_are_the_same_whatever_the_thread_count() {
    let alone = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    let crowd = rayon::ThreadPoolBuilder::new().num_threads(5).build().unwrap();
    for seed in 0..12 {
        let plant = plant(seed);
        let shown = || {
            let line = run_as_asked(&plant, Bill::Parents, seed);
            let fine = ledger(&line.book, &line.needs, &line.rollup, &keys(&line.book)).unwrap();
            format!("{:?}\n{:?}\n{:?}", line.needs, line.rollup, fine.frame)
        };
        let first = alone.install(shown);
        assert!(first == alone.install(shown), "book {seed}: a second run differs");
        assert!(first == crowd.install(shown), "book {seed}: five threads differ");
    }
}

#[test]
fn separators_encodings_and_line_ends_change_neither_digest_nor_totals() {
    let bytes = |text: &str| text.as_bytes().to_vec();
    let wide = |text: &str| -> Vec<u8> {
        std::iter::once(0xfeff).chain(text.encode_utf16()).flat_map(u16::to_le_bytes).collect()
    };
    // Latin letters beyond ASCII have the numbers of Windows-1252 as code points.
    let narrow = |text: &str| -> Vec<u8> {
        text.chars().map(|letter| u8::try_from(u32::from(letter)).unwrap()).collect()
    };
    for seed in 0..12 {
        let mut plant = plant(seed);
        plant.plans[0].series = "côté nord".to_owned();
        let tables = plant.tables(Bill::Parents);
        let (asked, lot) = question(&plant, seed);
        let answer = |files: &BTreeMap<String, Vec<u8>>| {
            let book = read(files);
            let digest = book.digest.clone();
            let options: explode::Options = options(&plant, &book, &asked);
            (digest, totals(&roll_up(book, &options, lot, 1)))
        };
        let written = |separator: char, form: &dyn Fn(&str) -> Vec<u8>| {
            let file =
                |(name, rows): (&&str, &Rows)| (format!("{name}.csv"), form(&csv(rows, separator)));
            tables.iter().map(file).collect::<BTreeMap<String, Vec<u8>>>()
        };
        let plain = answer(&written(',', &bytes));
        assert!(!plain.0.is_empty(), "a book has a digest");
        let ways: [(&str, BTreeMap<String, Vec<u8>>); 6] = [
            ("tabs", written('\t', &bytes)),
            ("semicolons", written(';', &bytes)),
            ("a mark ahead", written(',', &|text| [&[0xef, 0xbb, 0xbf], text.as_bytes()].concat())),
            ("line ends of two signs", written(',', &|text| bytes(&text.replace('\n', "\r\n")))),
            ("UTF-16", written(',', &wide)),
            ("Windows-1252", written(';', &narrow)),
        ];
        for (way, files) in ways {
            assert_eq!(answer(&files), plain, "book {seed} with {way}");
        }
        let commas = written(';', &|text| bytes(&with_decimal_commas(text)));
        assert_eq!(answer(&commas), plain, "book {seed} with decimal commas");
    }
}

/// Writes every decimal point as a comma.
fn with_decimal_commas(text: &str) -> String {
    let letters: Vec<char> = text.chars().collect();
    let is_digit = |index: usize| letters.get(index).is_some_and(char::is_ascii_digit);
    let with_comma = |(index, letter): (usize, &char)| {
        let parts_digits = index > 0 && is_digit(index - 1) && is_digit(index + 1);
        if *letter == '.' && parts_digits { ',' } else { *letter }
    };
    letters.iter().enumerate().map(with_comma).collect()
}

/// Quantities multiply: with ten of every line of the plans' own that is counted, whole things are ten times as many.
#[test]
fn ten_of_each_section_need_ten_times_as_much() {
    let mut held = 0;
    for seed in 0..60 {
        let mut plant = plant(seed);
        plant.choices.clear();
        plant.lines.retain(|line| {
            !matches!(line.parent, support::plant::Parent::Choice(_)) && line.when.is_none()
        });
        let is_section = |line: &support::plant::Line| {
            matches!(line.parent, support::plant::Parent::Plan(_))
                && matches!(line.component, Component::Assembly(_))
        };
        plant.lines.retain(|line| {
            is_section(line) || matches!(line.parent, support::plant::Parent::Assembly(_))
        });
        if mentions_options(&plant) {
            continue;
        }
        let mut tenfold = plant.clone();
        for line in tenfold.lines.iter_mut().filter(|line| is_section(line)) {
            let own = line.quantity.take().unwrap_or(support::term::count(1));
            let ten = support::term::count(10);
            line.quantity = Some(support::term::binary(support::term::Operator::Product, own, ten));
        }
        let needs = |plant: &Plant| {
            let book = read(&files(&plant.tables(Bill::Parents), ','));
            let needs = explode::explode(&book, &explode::Options::default()).unwrap().value;
            let flat: Vec<_> =
                needs.builds.iter().map(|build| needs.flat(&book, build).needs).collect();
            flat
        };
        let (once, ten) = (needs(&plant), needs(&tenfold));
        held += once.iter().filter(|needs| needs.len() > 2).count();
        for (once, ten) in once.iter().zip(&ten) {
            assert_eq!(once.len(), ten.len(), "book {seed}");
            for (one, many) in once.iter().zip(ten) {
                assert_eq!((one.item, one.what), (many.item, many.what), "book {seed}");
                assert_eq!(&one.good * &Ratio::whole(10), many.good, "book {seed}");
                assert_eq!(&one.required * &Ratio::whole(10), many.required, "book {seed}");
            }
        }
    }
    assert!(held > 5, "only {held} plans do without options");
}

fn mentions_options(plant: &Plant) -> bool {
    let names = ["solar", "winter", "bunk", "gas", "electric"];
    let rows = &plant.tables(Bill::Parents)["bill"];
    rows.iter().flatten().any(|cell| names.iter().any(|name| cell.contains(name)))
}
