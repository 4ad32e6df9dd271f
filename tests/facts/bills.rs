//! Bills of several levels, exploded; what is spoiled on the way.

use std::collections::BTreeMap;

use cutbill::quantity::Ratio;

use crate::{build, item, ratio, run};

/// Parents with what they take.
type Structure<'a> = &'a [(&'a str, &'a [(&'a str, i64)])];

/// Explodes so many of the first parent. An assembly is counted by a tag that each one bears.
fn requirements(structure: Structure, demand: i64, is_reversed: bool) -> BTreeMap<String, i128> {
    let mut rows = vec![format!("P,{},{demand}", structure[0].0)];
    let mut items: Vec<&str> = Vec::new();
    for (parent, children) in structure {
        rows.push(format!("{parent},tag of {parent},1"));
        for (child, quantity) in *children {
            rows.push(format!("{parent},{child},{quantity}"));
            if structure.iter().all(|(other, _)| other != child) && !items.contains(child) {
                items.push(child);
            }
        }
    }
    if is_reversed {
        rows.reverse();
    }
    let bill = format!("parent,component,quantity\n{}\n", rows.join("\n"));
    let tags = structure.iter().map(|(parent, _)| format!("tag of {parent},count,1"));
    let own = items.iter().map(|item| format!("{item},count,1"));
    let rows: Vec<String> = own.chain(tags).collect();
    let items = format!("item,form,price\n{}\n", rows.join("\n"));
    let line = run(&[("items", &items), ("bill", &bill)], 1);
    let own = build(&line).items.iter().map(|own| {
        let name = &line.book.item(own.item).name;
        (name.trim_start_matches("tag of ").to_owned(), own.used.to_integer().unwrap())
    });
    own.collect()
}

/// Checks requirements of parts, in either order of the bill: an item is summed over all the levels it occurs on, as
/// low-level codes see to in requirements planning.
#[track_caller]
fn check_requirements(structure: Structure, demand: i64, expected: &[(&str, i128)]) {
    let expected: BTreeMap<String, i128> =
        expected.iter().map(|(name, count)| ((*name).to_owned(), *count)).collect();
    assert_eq!(requirements(structure, demand, false), expected);
    assert_eq!(requirements(structure, demand, true), expected);
}

// Source: textbook exercise on low-level coding (structure and demand); the answers are computed. D is on levels 1 and 2.
#[test]
fn a_part_on_several_levels_is_summed() {
    check_requirements(
        &[
            ("A", &[("B", 2), ("C", 3), ("D", 1)]),
            ("B", &[("E", 4), ("F", 3)]),
            ("C", &[("H", 2), ("D", 3)]),
            ("H", &[("E", 5), ("G", 2)]),
        ],
        100,
        &[
            ("A", 100),
            ("B", 200),
            ("C", 300),
            ("D", 1000),
            ("E", 3800),
            ("F", 600),
            ("G", 1200),
            ("H", 600),
        ],
    );
}

// Source: textbook problem on gross requirements (structure and demand); the answers are computed.
#[test]
fn brackets_need_their_clamps_on_two_levels() {
    check_requirements(
        &[
            ("bracket", &[("base", 1), ("spring", 2), ("clamp", 4)]),
            ("base", &[("clamp", 1), ("housing", 2)]),
            ("clamp", &[("handle", 1), ("casting", 1)]),
            ("housing", &[("bearing", 2), ("shaft", 1)]),
        ],
        50,
        &[
            ("base", 50),
            ("bearing", 200),
            ("bracket", 50),
            ("casting", 250),
            ("clamp", 250),
            ("handle", 250),
            ("housing", 100),
            ("shaft", 100),
            ("spring", 100),
        ],
    );
}

// Source: lecture figures of a ladder-back chair; the extension to 150 chairs is computed.
#[test]
fn chairs_need_their_boards() {
    check_requirements(
        &[
            ("chair", &[("back", 1), ("seat", 1), ("front legs", 2), ("leg supports", 4)]),
            ("back", &[("back legs", 2), ("back slats", 4)]),
            ("seat", &[("seat frame", 1), ("seat cushion", 1)]),
            ("seat frame", &[("seat-frame boards", 4)]),
        ],
        150,
        &[
            ("back", 150),
            ("back legs", 300),
            ("back slats", 600),
            ("chair", 150),
            ("front legs", 300),
            ("leg supports", 600),
            ("seat", 150),
            ("seat cushion", 150),
            ("seat frame", 150),
            ("seat-frame boards", 600),
        ],
    );
}

// Source: planning-and-control textbook example in supply-chain lecture slides (bill of the snow shovel); sums computed.
#[test]
fn a_shovel_needs_4_nails_and_10_rivets() {
    check_requirements(
        &[
            ("1605", &[("13122", 1), ("048", 1), ("118", 1), ("314", 1), ("082", 2), ("14127", 4)]),
            ("13122", &[("457", 1), ("082", 2), ("11495", 1)]),
            ("11495", &[("129", 1), ("1118", 1)]),
            ("314", &[("2142", 1), ("019", 1), ("14127", 6)]),
        ],
        1,
        &[
            ("019", 1),
            ("048", 1),
            ("082", 4),
            ("1118", 1),
            ("11495", 1),
            ("118", 1),
            ("129", 1),
            ("13122", 1),
            ("14127", 10),
            ("1605", 1),
            ("2142", 1),
            ("314", 1),
            ("457", 1),
        ],
    );
}

// Source: textbook exercises (structures and demand); the answers are computed.
#[test]
fn textbook_products_explode_to_their_parts() {
    check_requirements(
        &[("Z", &[("A", 2), ("B", 3)]), ("A", &[("C", 4), ("D", 4)]), ("D", &[("E", 2)])],
        59,
        &[("A", 118), ("B", 177), ("C", 472), ("D", 472), ("E", 944), ("Z", 59)],
    );
    check_requirements(
        &[("A", &[("B", 2), ("C", 3)]), ("B", &[("D", 2), ("E", 3)]), ("C", &[("F", 2), ("E", 1)])],
        95,
        &[("A", 95), ("B", 190), ("C", 285), ("D", 380), ("E", 855), ("F", 570)],
    );
}

// Source: two published help texts on requirements planning: required = good / (1 - scrap), so 100 good at 20 % are
// 125; issuing 120 leaves only 96 good. Shrinkage belongs to the item (MRP education firm's glossary).
#[test]
fn scrap_and_shrinkage_divide_by_what_is_kept() {
    let required = |quantity: &str, form: &str, scrap: &str, shrinkage: &str| {
        let items = format!("item,form,unit,price,shrinkage_percent\nX,{form},1,{shrinkage}\n");
        let bill = format!("parent,component,quantity,scrap_percent\nP,X,{quantity},{scrap}\n");
        let line = run(&[("items", &items), ("bill", &bill)], 1);
        item(&line, "X").bought.clone()
    };
    assert_eq!(required("100", "count,each", "20", ""), Ratio::whole(125));
    assert_eq!(required("100", "count,each", "", "20"), Ratio::whole(125));
    // Computed; a help text that prints 81.6 multiplies by 1.02.
    assert_eq!(required("80", "bulk,lb", "2", ""), ratio(4000, 49));
    assert_eq!(required("80", "count,each", "2", ""), Ratio::whole(82));
    // Computed: 100 / 0.8 / 0.9.
    assert_eq!(required("100", "bulk,lb", "20", "10"), ratio(1250, 9));
}

// Computed: spoiled pieces are rounded up once for the lot, not once per unit.
#[test]
fn spoiled_pieces_are_rounded_up_once_per_lot() {
    let items = "item,form,price\nX,count,1\n";
    let bill = "parent,component,quantity,scrap_percent\nP,X,10,1\n";
    let bought =
        |lot: u32| item(&run(&[("items", items), ("bill", bill)], lot), "X").bought.clone();
    assert_eq!([bought(1), bought(20)], [Ratio::whole(11), Ratio::whole(203)]);
}
