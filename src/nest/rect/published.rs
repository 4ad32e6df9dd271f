//! Published instances of ten classes (Berkey and Wang 1987; Martello and Vigo 1998), fixed orientation, guillotine cuts.
//!
//! The data are not part of the project: without them beside the tree the tests say so.

use crate::model::Edges;
use crate::nest::check::check;
use crate::nest::{Ending, Instance, Kind, Nest, Options, Piece, Stock, nest};
use crate::quantity::{Length, Ratio};
use crate::watch::Silent;

/// Returns the instances whose names begin so, with their names.
fn instances(start: &str) -> Option<Vec<(String, Instance)>> {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../shared/benchmarks/2d-class/instances.txt");
    #[expect(clippy::disallowed_methods, reason = "a test reads its published instances")]
    let Ok(text) = std::fs::read_to_string(path) else {
        println!("skipped: no published instances beside the tree");
        return None;
    };
    let listed = text.split("instance ").filter(|listed| listed.starts_with(start));
    Some(listed.map(instance).collect())
}

fn instance(listed: &str) -> (String, Instance) {
    let rows: Vec<Vec<i64>> = listed
        .lines()
        .map(|line| line.split_whitespace().filter_map(|word| word.parse().ok()).collect())
        .collect();
    let millimeters = |count: i64| Length::MILLIMETER * count;
    let stock = Stock {
        length: millimeters(rows[0][0]),
        width: millimeters(rows[0][1]),
        cost: Ratio::ONE,
        available: None,
    };
    let pieces = rows[1..].iter().filter(|row| row.len() == 3).map(|row| Piece {
        length: millimeters(row[0]),
        width: millimeters(row[1]),
        count: row[2].cast_unsigned(),
        may_turn: false,
        edges: Edges::None,
    });
    let name = listed.split_whitespace().next().unwrap_or("").to_owned();
    (name, Instance::new(Kind::Guillotine, vec![stock], pieces.collect()))
}

/// Nests at the default effort and checks the nest.
fn checked(instance: &Instance) -> Nest {
    let nest = nest(instance, Options::default(), &Silent);
    assert_eq!(check(instance, &nest), Ok(()));
    nest
}

/// The instances of 20 pieces of classes 1, 5 and 9. Best known sheets: 71, 65 and 143 (Gardeyn and Wauters, table 1 of the
/// goal-driven ruin and recreate paper).
#[test]
fn classes_come_near_the_best_known() {
    for (class, best) in [("CLASS01_020", 71), ("CLASS05_020", 65), ("CLASS09_020", 143)] {
        let Some(instances) = instances(class) else { return };
        let costs = instances.iter().map(|(_, instance)| checked(instance).cost);
        let sheets: Ratio = costs.sum();
        assert!(Ratio::whole(best) <= sheets && sheets <= Ratio::whole(best + 1), "{class}");
    }
}

/// Sheets and bound of every 25th instance: what the default effort finds is the same on every machine.
const FOUND: [(&str, i128, i128); 20] = [
    ("CLASS01_020_01", 8, 8),
    ("CLASS01_060_06", 18, 17),
    ("CLASS02_020_01", 1, 1),
    ("CLASS02_060_06", 2, 2),
    ("CLASS03_020_01", 6, 6),
    ("CLASS03_060_06", 13, 12),
    ("CLASS04_020_01", 1, 1),
    ("CLASS04_060_06", 2, 2),
    ("CLASS05_020_01", 8, 8),
    ("CLASS05_060_06", 16, 15),
    ("CLASS06_020_01", 1, 1),
    ("CLASS06_060_06", 2, 2),
    ("CLASS07_020_01", 5, 5),
    ("CLASS07_060_06", 15, 15),
    ("CLASS08_020_01", 6, 6),
    ("CLASS08_060_06", 15, 15),
    ("CLASS09_020_01", 19, 19),
    ("CLASS09_060_06", 37, 37),
    ("CLASS10_020_01", 6, 6),
    ("CLASS10_060_06", 13, 13),
];

#[test]
fn fixed_effort_finds_the_same_sheets_everywhere() {
    let Some(instances) = instances("CLASS") else { return };
    let found: Vec<(String, Ratio, Ratio)> = instances
        .iter()
        .step_by(25)
        .map(|(name, instance)| {
            let nest = checked(instance);
            assert_eq!(nest.ending == Ending::Proven, nest.cost == nest.bound.cost);
            (name.clone(), nest.cost, nest.bound.cost)
        })
        .collect();
    let expected = FOUND
        .map(|(name, sheets, bound)| (name.to_owned(), Ratio::whole(sheets), Ratio::whole(bound)));
    assert_eq!(found, expected);
}
