//! What swaps make of a bill.

use cutbill::explode::{self, Options};
use cutbill::model::{Book, OptionId, PlanId, SwapRow};

use crate::book;

const ITEMS: &str = "item,form,unit,price,weight\n\
    A,count,each,1,1 lb\nB,count,each,2,3 lb\nC,count,each,5,10 lb\nHOURS,labor,h,30,\n";

/// Returns what one unit of each plan takes of each item: `P: A 2, B 1`.
#[track_caller]
fn needs(book: &Book, options: &Options) -> String {
    let needs = explode::explode(book, options).unwrap().value;
    let builds = needs.builds.iter().map(|build| {
        let flat = needs.flat(book, build);
        let items = flat.needs.iter().map(|need| {
            let item = book.item(need.item);
            let count = need.required.checked_div(&item.unit.factor).unwrap();
            format!("{} {count}", item.name)
        });
        let items: Vec<String> = items.collect();
        format!("{}: {}", book.plans[build.plan.index()].name, items.join(", "))
    });
    builds.collect::<Vec<String>>().join("; ")
}

/// Carries out every row of the table and states what the plans take then.
#[track_caller]
fn check(bill: &str, swaps: &str, expected: &str) {
    let book = read(bill, swaps);
    let rows: Vec<&SwapRow> = book.swaps.iter().collect();
    assert_eq!(needs(&book.changed(&rows), &Options::default()), expected, "{swaps}");
}

#[track_caller]
fn read(bill: &str, swaps: &str) -> Book {
    let plans = "plan,length,spacing\nP,20 ft,16 in\nQ,30 ft,16 in\n";
    let (bill, swaps) = (bill.replace(' ', "\n"), swaps.replace(' ', "\n"));
    book(&[
        ("plans", plans),
        ("options", "option,plan\nwinter,\n"),
        ("items", ITEMS),
        ("bill", &format!("parent,component,quantity,with,when\n{}\n", bill.replace('~', " "))),
        ("swaps", &format!("{}\n", swaps.replace('~', " "))),
    ])
}

const PLAIN: &str = "P,A,2 P,B,1 Q,A,4";

#[test]
fn an_item_takes_the_place_of_another_one_for_one_or_by_a_ratio() {
    check(PLAIN, "swap,from,to s,A,C", "P: B 1, C 2; Q: C 4");
    check(PLAIN, "swap,from,to,ratio s,A,C,1.5", "P: B 1, C 3; Q: C 6");
    // What is there of the new item already stays and is added to.
    check(PLAIN, "swap,from,to s,A,B", "P: B 3; Q: B 4");
    check(PLAIN, "swap,from,to,ratio s,A,A,0.5", "P: A 1, B 1; Q: A 2");
}

#[test]
fn a_row_without_a_new_item_removes_and_one_without_an_old_item_adds() {
    check(PLAIN, "swap,from,to s,A,", "P: B 1; Q: ");
    check(
        PLAIN,
        "swap,to,parent,quantity s,C,Q,2 s,HOURS,Q,45~min",
        "P: A 2, B 1; Q: A 4, C 2, HOURS 3/4",
    );
    // Two skins become one panel, with less labor.
    let bill = "P,box,1 box,A,4 box,B,4 box,HOURS,3~h Q,A,1";
    let swaps = "swap,from,to,ratio s,A,C, s,B,, s,HOURS,HOURS,0.5";
    check(bill, swaps, "P: C 4, HOURS 3/2; Q: C 1");
}

#[test]
fn rows_of_one_swap_act_together_and_swaps_one_after_the_other() {
    check(PLAIN, "swap,from,to s,A,B s,B,A", "P: A 1, B 2; Q: B 4");
    check(PLAIN, "swap,from,to one,A,B two,B,C", "P: C 3; Q: C 4");
    check(PLAIN, "swap,from,to two,B,C one,A,B", "P: B 2, C 1; Q: B 4");
    // The first row that names a line has it.
    check(PLAIN, "swap,from,to,parent s,A,B,P s,A,C,", "P: B 3; Q: C 4");
    // A swap's rows need not stand together.
    check(PLAIN, "swap,from,to s,A,B two,C,A S,B,A", "P: A 1, B 2; Q: B 4");
}

const NESTED: &str =
    "P,front,1 P,rear,2 front,wall,1 front,A,1 rear,wall,3 wall,core,1 core,A,1 Q,A,7";

#[test]
fn a_parent_or_an_assembly_limits_what_changes() {
    check(NESTED, "swap,from,to,parent s,A,B,front", "P: A 7, B 1; Q: A 7");
    check(NESTED, "swap,from,to,parent s,A,B,core", "P: A 1, B 7; Q: A 7");
    check(NESTED, "swap,from,to,parent s,A,B,Q", "P: A 8; Q: B 7");
}

#[test]
fn what_several_assemblies_share_changes_only_within_the_one_that_is_named() {
    // `front` holds one core, `rear` three, twice.
    check(NESTED, "swap,from,to,assembly s,A,B,front", "P: A 6, B 2; Q: A 7");
    check(NESTED, "swap,from,to,assembly s,A,B,rear", "P: A 2, B 6; Q: A 7");
    check(NESTED, "swap,from,to,assembly s,A,B,wall", "P: A 1, B 7; Q: A 7");
    check(NESTED, "swap,from,to,parent,assembly s,A,B,core,front", "P: A 7, B 1; Q: A 7");
    check(NESTED, "swap,from,to,assembly one,A,B,front two,A,C,rear", "P: B 2, C 6; Q: A 7");
    // An assembly itself is replaced within one only.
    check(NESTED, "swap,from,to,assembly s,core,B,rear", "P: A 2, B 6; Q: A 7");
    check(NESTED, "swap,from,to s,wall,C", "P: A 1, C 7; Q: A 7");
}

const SPACED: &str = "P,wall,1 Q,wall,2 wall,A,ROUNDUP(length/spacing)+1";

#[test]
fn a_dimension_that_is_set_goes_through_the_formulas() {
    // 20 ft at 16 in: 15 + 1; 30 ft: 22.5, so 23 + 1, twice.
    check(SPACED, "swap,set s,x=1", "P: A 16; Q: A 48");
    check(SPACED, "swap,set,parent s,spacing~=~24~in,wall", "P: A 11; Q: A 32");
    check(SPACED, "swap,set,assembly s,spacing~=~24~in,wall", "P: A 11; Q: A 32");
    check(SPACED, "swap,set s,spacing~=~24~in", "P: A 11; Q: A 32");
    check(SPACED, "swap,set,plan s,spacing~=~24~in,Q", "P: A 16; Q: A 32");
    check(SPACED, "swap,set,parent s,spacing~=~24~in,P", "P: A 11; Q: A 48");
    check(SPACED, "swap,set,parent s,length~=~10~ft,wall", "P: A 9; Q: A 18");
    check(SPACED, "swap,set s,length~=~10~ft", "P: A 9; Q: A 18");
    // A value in the terms of whoever takes the assembly, and one in place of what a line passes.
    check(SPACED, "swap,set,parent s,spacing~=~length/10,wall", "P: A 11; Q: A 22");
    let passed = "P,wall,1,spacing=10~in Q,wall,2,spacing=12~in wall,A,ROUNDUP(length/spacing)+1";
    check(passed, "swap,set,parent s,x~=~1;spacing~=~24~in,wall", "P: A 11; Q: A 32");
}

#[test]
fn what_an_option_takes_away_is_still_found() {
    let bill = "P,A,4 Q,A,4 winter,A,-1";
    let winter = Options { chosen: vec![OptionId(0)], ..Options::default() };
    for (swaps, plan, expected) in [
        ("swap,from,to s,A,B", 0, "P: B 3"),
        ("swap,from,to s,A,B", 1, "Q: B 3"),
        ("swap,from,to,parent s,A,B,P", 0, "P: B 3"),
        ("swap,from,to,ratio s,A,B,2", 0, "P: B 6"),
        ("swap,from,to s,A,", 0, "P: "),
    ] {
        let book = read(bill, swaps);
        let rows: Vec<&SwapRow> = book.swaps.iter().collect();
        let options = Options { plans: vec![PlanId(plan)], ..winter.clone() };
        assert_eq!(needs(&book.changed(&rows), &options), expected, "{swaps}");
    }
}

#[test]
fn a_row_says_which_builds_it_is_for() {
    let book = read(
        "P,A,4 Q,A,4 winter,B,1",
        "swap,from,to,parent,plan,option s,A,B,P,, s,A,B,,Q, s,A,B,,,winter s,B,C,winter,,",
    );
    let for_builds = |row: &SwapRow| {
        let winter = [OptionId(0)];
        [(0, &[][..]), (0, &winter), (1, &[]), (1, &winter)]
            .map(|(plan, options)| row.is_for(PlanId(plan), options))
    };
    let told: Vec<[bool; 4]> = book.swaps.iter().map(for_builds).collect();
    assert_eq!(
        told,
        [
            [true, true, false, false],
            [false, false, true, true],
            [false, true, false, true],
            [false, true, false, true],
        ]
    );
}

#[test]
fn lines_that_a_row_acts_on_are_told_by_their_places() {
    let book = read(NESTED, "swap,from,to,assembly s,A,B,front");
    let rows: Vec<u32> =
        book.acted_on(&book.swaps[0]).iter().map(|line| book.line(*line).row.row).collect();
    assert_eq!(rows, [5, 8]);
}

#[test]
fn two_items_that_change_places_and_change_back_leave_the_bill_as_it_was() {
    for bill in [PLAIN, NESTED, "P,A,2 P,B,1,,winter Q,B,3"] {
        let book = read(bill, "swap,from,to s,A,B s,B,A");
        let rows: Vec<&SwapRow> = book.swaps.iter().collect();
        let (there, options) = (book.changed(&rows), Options::default());
        assert_ne!(needs(&there, &options), needs(&book, &options));
        assert_eq!(needs(&there.changed(&rows), &options), needs(&book, &options));
    }
}
