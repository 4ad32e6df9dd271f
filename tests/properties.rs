//! Laws of the whole line, over made-up books, and the slow reference it is held against.

#![expect(clippy::unwrap_used, reason = "what cannot be had ends the test")]

mod support;

use support::compare::{compare, run};
use support::generate::plant;
use support::plant::{Bill, Plant};
use support::random::Random;

/// Seeds of the made-up books.
const BOOKS: u64 = 200;

/// Which options are asked for, and how many units are built.
fn question(plant: &Plant, seed: u64) -> (Vec<usize>, u32) {
    let mut random = Random::new(seed ^ 0xffff_0000);
    let mut asked = Vec::new();
    if random.chance(40) {
        asked.push(0);
    }
    if random.chance(40) {
        // Electric heat, in place of the standard gas.
        asked.push(4);
    }
    let lot = u32::try_from(random.range(1, 3)).unwrap();
    asked.retain(|choice| *choice < plant.choices.len());
    (asked, lot)
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
