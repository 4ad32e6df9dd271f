//! Comparisons of small books, with every effect reckoned by hand.

#![expect(clippy::unwrap_used, reason = "what cannot be had ends the test")]

#[path = "support/line.rs"]
mod line;

use std::collections::BTreeMap;

use cutbill::compare::{Effect, Evidence, Pair, Row, Scope, Side, Subject, bridge, compare};
use cutbill::explode;
use cutbill::explode::Options;

use line::{Line, read, roll_up};

const PLAN: &str = "plan,length,width\nP,24 ft,8 ft\n";

/// Runs the line over tables given by name, nests by the first good answer.
#[track_caller]
fn run_with(tables: &[(&str, &str)], options: &Options, lot: u32) -> Line {
    let mut files: BTreeMap<String, Vec<u8>> =
        BTreeMap::from([("plans.csv".to_owned(), PLAN.as_bytes().to_vec())]);
    for (name, text) in tables {
        files.insert(format!("{name}.csv"), text.as_bytes().to_vec());
    }
    roll_up(read(&files), options, lot, 10)
}

#[track_caller]
fn run(tables: &[(&str, &str)]) -> Line {
    run_with(tables, &Options::default(), 1)
}

fn side(line: &Line) -> Side<'_> {
    Side { book: &line.book, needs: &line.needs, rollup: &line.rollup, build: 0 }
}

/// Returns digits of the last of four places as a decimal, as short as it goes.
fn shown(amount: i128) -> String {
    let sign = if amount < 0 { "-" } else { "" };
    let text = format!("{sign}{}.{:04}", amount.abs() / 10_000, amount.abs() % 10_000);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn name(row: &Row, old: &Line, new: &Line) -> String {
    match row.subject {
        Subject::Item(Pair::Old(item)) => old.book.item(item).name.clone(),
        Subject::Item(Pair::New(item) | Pair::Both(_, item)) => new.book.item(item).name.clone(),
        Subject::Burden(Pair::Old(burden)) => old.book.burdens[burden.index()].name.clone(),
        Subject::Burden(Pair::New(burden) | Pair::Both(_, burden)) => {
            new.book.burdens[burden.index()].name.clone()
        }
    }
}

/// States the whole bridge: per row the old cost, its effects on cost and weight, the new cost.
#[track_caller]
fn check(old: &Line, new: &Line, expected: &str) {
    let bridge = bridge(side(old), side(new)).unwrap();
    let mut text = String::new();
    for row in &bridge.rows {
        text.push_str(&format!("{}: {}", name(row, old, new), shown(row.old.cost)));
        for effect in Effect::ALL {
            let amounts = row.effect(effect);
            if amounts.cost != 0 {
                text.push_str(&format!(", {} {}", effect.name(), shown(amounts.cost)));
            }
            if amounts.weight != 0 {
                text.push_str(&format!(", {} {} lb", effect.name(), shown(amounts.weight)));
            }
        }
        text.push_str(&format!(" = {}\n", shown(row.new.cost)));
    }
    assert_eq!(text, expected);
}

#[test]
fn quantity_comes_first_then_the_price_of_what_is_bought_now() {
    let items =
        |price: &str| format!("item,form,unit,price,weight\nGLUE,bulk,gal,{price},9 lb/gal\n");
    let bill = |gallons: &str| format!("parent,component,quantity\nP,GLUE,{gallons} gal\n");
    let old = run(&[("items", &items("20")), ("bill", &bill("2"))]);
    let new = run(&[("items", &items("23")), ("bill", &bill("5"))]);
    // (5 - 2) x 20 and (23 - 20) x 5.
    check(&old, &new, "GLUE: 40, price 15, quantity 60, quantity 27 lb = 115\n");
    // (2 - 5) x 23 and (20 - 23) x 2: the order makes the way back another one.
    check(&new, &old, "GLUE: 115, price -6, quantity -69, quantity -27 lb = 40\n");
    check(&old, &old, "GLUE: 40 = 40\n");
}

#[test]
fn scrap_and_whole_counts_are_yield() {
    let items = "item,form,unit,price\nGLUE,bulk,gal,20\nBOLT,count,each,3\n";
    let bill = |scrap: &str| {
        format!(
            "parent,component,quantity,scrap_percent\nP,GLUE,2 gal,{scrap}\nP,BOLT,10,{scrap}\n"
        )
    };
    let old = run(&[("items", items), ("bill", &bill("0"))]);
    let new = run(&[("items", items), ("bill", &bill("20"))]);
    // 2 / 0.8 gallons; 12.5 bolts, rounded up.
    check(&old, &new, "GLUE: 40, yield 10 = 50\nBOLT: 30, yield 9 = 39\n");
}

#[test]
fn other_sizes_at_their_old_prices_are_mix() {
    let items = "item,form,price_unit\nRAIL,linear,each\n";
    let sizes = |short: &str, long: &str| {
        format!("item,length,price,price_unit\nRAIL,10 ft,{short},each\nRAIL,20 ft,{long},each\n")
    };
    let bill =
        |feet: &str| format!("parent,component,quantity,length,use\nP,RAIL,2,{feet} ft,piece\n");
    let old = run(&[("items", items), ("sizes", &sizes("10", "24")), ("bill", &bill("10"))]);
    let new = run(&[("items", items), ("sizes", &sizes("11", "25")), ("bill", &bill("20"))]);
    // Two of 10 ft at 1.00 a foot; two of 20 ft, at 1.20 a foot on the old list, at 1.25 on the new.
    check(&old, &new, "RAIL: 20, price 2, quantity 20, size mix 8 = 50\n");
}

#[test]
fn a_size_that_the_old_book_does_not_have_counts_at_its_new_price() {
    let items = "item,form,price_unit\nRAIL,linear,each\n";
    let bill = "parent,component,quantity,length,use\nP,RAIL,2,10 ft,piece\n";
    let sizes = |rows: &str| format!("item,length,price,price_unit\n{rows}");
    let old = run(&[("items", items), ("sizes", &sizes("RAIL,10 ft,10,each\n")), ("bill", bill)]);
    let new = run(&[("items", items), ("sizes", &sizes("RAIL,20 ft,18,each\n")), ("bill", bill)]);
    check(&old, &new, "RAIL: 20, size mix -2 = 18\n");
}

#[test]
fn credits_for_offcuts_are_yield() {
    let settings = |percent: &str| format!("key,value\noffcut_value_percent,{percent}\n");
    let items = "item,form,price,price_unit,offcut_min\nRAIL,linear,2,ft,2 ft\n";
    let sizes = "item,length\nRAIL,10 ft\n";
    let bill = "parent,component,quantity,length,use\nP,RAIL,1,6 ft,piece\n";
    let of = |percent: &str, items: &str| {
        run(&[("settings", &settings(percent)), ("items", items), ("sizes", sizes), ("bill", bill)])
    };
    // 4 ft of 10 ft are kept, half of their cost is credited.
    check(&of("0", items), &of("50", items), "RAIL: 20, yield -4 = 16\n");
    // A price that rises by a tenth raises the credit by a tenth too.
    let dearer = items.replace(",2,ft", ",2.20,ft");
    check(&of("50", items), &of("50", &dearer), "RAIL: 16, price 1.6 = 17.6\n");
}

#[test]
fn labor_parts_into_hours_and_rate() {
    let items =
        |rate: &str| format!("item,form,unit,price\nFRAME,labor,hour,{rate}\nWIRE,labor,hour,30\n");
    let old = run(&[("items", &items("20")), ("bill", "parent,component,quantity\nP,FRAME,4\n")]);
    let new = run(&[
        ("items", &items("22")),
        ("bill", "parent,component,quantity\nP,FRAME,3\nP,WIRE,2\n"),
    ]);
    check(
        &old,
        &new,
        "FRAME: 80, labor rate 6, labor hours -20 = 66\nWIRE: 0, labor hours 60 = 60\n",
    );
}

#[test]
fn burdens_part_into_rate_and_base_and_a_fixed_sum_does_not_grow() {
    let items = |price: &str| format!("item,form,unit,price\nBOLT,count,each,{price}\n");
    let bill = "parent,component,quantity\nP,BOLT,100\n";
    let burdens = |rows: &str| format!("burden,basis,percent,amount\n{rows}");
    let old = run(&[
        ("items", &items("1")),
        ("bill", bill),
        ("burdens", &burdens("freight,material,10,5\nduty,material,2,\nlicense,unit,,7\n")),
    ]);
    let new = run(&[
        ("items", &items("2")),
        ("bill", bill),
        ("burdens", &burdens("freight,material,12,5\nduty,material,2,\nrent,unit,,9\n")),
    ]);
    let expected = "BOLT: 100, price 100 = 200\n\
        freight: 15, burden rate 4, burden base 10 = 29\n\
        duty: 2, burden base 2 = 4\n\
        license: 7, burden rate -7 = 0\n\
        rent: 0, burden rate 9 = 9\n";
    check(&old, &new, expected);
}

#[test]
fn weight_parts_into_how_much_and_how_heavy() {
    let items =
        |weight: &str| format!("item,form,unit,price,weight\nPIPE,bulk,ft,1,{weight} lb/ft\n");
    let bill = |feet: &str| format!("parent,component,quantity\nP,PIPE,{feet} ft\n");
    let old = run(&[("items", &items("2")), ("bill", &bill("10"))]);
    let new = run(&[("items", &items("3")), ("bill", &bill("12"))]);
    check(&old, &new, "PIPE: 10, quantity 2, quantity 4 lb, unit weight 12 lb = 12\n");
    let bare = run(&[("items", "item,form,unit,price\nPIPE,bulk,ft,1\n"), ("bill", &bill("10"))]);
    check(&bare, &old, "PIPE: 10, unit weight 20 lb = 10\n");
}

#[test]
fn what_is_there_on_one_side_only_is_substitution_or_structure() {
    let items = "item,form,unit,price,weight,group\nLAMP,count,each,5,1 lb,light\nLED,count,each,8,0.5 lb,light\n\
        FAN,count,each,40,,air\nVENT,count,each,30,,\nHEATER,count,each,90,,heat\nBOLT,count,each,1,,\n";
    let bill = |rows: &str| format!("parent,component,quantity\nP,box,1\nbox,BOLT,4\n{rows}");
    let old = run(&[("items", items), ("bill", &bill("P,LAMP,2\nbox,FAN,1\nbox,BOLT,1\n"))]);
    let new = run(&[
        ("items", items),
        ("bill", &bill("box,VENT,1\nbox,BOLT,1\nbox,LED,2\nP,HEATER,1\n")),
    ]);
    let expected = "LAMP: 10, substitution -10, substitution -2 lb = 0\n\
        FAN: 40, substitution -40 = 0\n\
        BOLT: 5 = 5\n\
        LED: 0, substitution 16, substitution 1 lb = 16\n\
        VENT: 0, substitution 30 = 30\n\
        HEATER: 0, added 90 = 90\n";
    check(&old, &new, expected);
    let found = bridge(side(&old), side(&new)).unwrap().substitutions;
    assert_eq!(
        found.iter().map(|one| one.evidence).collect::<Vec<_>>(),
        [Evidence::Place, Evidence::Group]
    );
}

#[test]
fn a_swap_pairs_what_its_group_would_not() {
    let items = "item,form,unit,price,group\nPLY,count,each,30,wood\nFOAM,count,each,12,foam\nOAK,count,each,50,wood\n";
    let bill = |rows: &str| format!("parent,component,quantity\n{rows}");
    let swaps = "swap,from,to\nlighter,PLY,FOAM\n";
    let tables = |swaps: &'static str, bill: &str| {
        run(&[("items", items), ("swaps", swaps), ("bill", bill)])
    };
    let (old, new) = (bill("P,PLY,1\n"), bill("P,OAK,1\nP,FOAM,2\n"));
    let expected =
        "PLY: 30, substitution -30 = 0\nFOAM: 0, substitution 24 = 24\nOAK: 0, added 50 = 50\n";
    check(&tables(swaps, &old), &tables(swaps, &new), expected);
    // One book that tells it is enough; without it, what stands in the same place takes it.
    check(&tables("swap,from,to\n", &old), &tables(swaps, &new), expected);
    let none = "swap,from,to\n";
    let expected =
        "PLY: 30, substitution -30 = 0\nFOAM: 0, added 24 = 24\nOAK: 0, substitution 50 = 50\n";
    check(&tables(none, &old), &tables(none, &new), expected);
}

#[test]
fn an_item_of_another_form_is_another_item() {
    let old = run(&[
        ("items", "item,form,unit,price,group\nSEAL,bulk,ft,1,trim\n"),
        ("bill", "parent,component,quantity\nP,SEAL,10 ft\n"),
    ]);
    let new = run(&[
        ("items", "item,form,unit,price,group\nseal,count,each,4,trim\n"),
        ("bill", "parent,component,quantity\nP,seal,3\n"),
    ]);
    check(&old, &new, "SEAL: 10, substitution -10 = 0\nseal: 0, substitution 12 = 12\n");
}

#[test]
fn different_lots_are_compared_by_the_unit() {
    let items = "item,form,unit,price,pack\nBOLT,count,each,3,\nGLUE,bulk,gal,20,\n";
    let bill = "parent,component,quantity\nP,BOLT,2.5\nP,GLUE,0.1 gal\n";
    let tables = [("items", items), ("bill", bill)];
    let one = run_with(&tables, &Options::default(), 1);
    let two = run_with(&tables, &Options::default(), 2);
    // Three for one unit, five for two.
    check(&one, &two, "BOLT: 9, yield -1.5 = 7.5\nGLUE: 2 = 2\n");
}

#[test]
fn amounts_of_fewer_digits_and_other_units_of_weight_are_brought_to_the_new_side() {
    let items = "item,form,unit,price,weight\nGLUE,bulk,gal,1.2345,9 lb/gal\n";
    let bill = "parent,component,quantity\nP,GLUE,3 gal\n";
    let of = |settings: &str| run(&[("settings", settings), ("items", items), ("bill", bill)]);
    let old = of("key,value\ncost_digits,2\nweight_unit,kg\n");
    let new = of("key,value\n");
    // 3.7035 was rounded to 3.70; 12.2470 kg are 27.0000 lb, rounded once more.
    check(&old, &new, "GLUE: 3.7, price 0.0035 = 3.7035\n");
    let other = of("key,value\ncurrency,EUR\n");
    let error = bridge(side(&other), side(&new)).unwrap_err();
    assert_eq!(error.to_string(), "error: amounts in EUR and in USD cannot be compared");
}

/// States the changed lines and prices: what, old and new place, then the cells.
fn changes(old: &Line, new: &Line, scope: Scope) -> String {
    let compared = compare(&[(side(old), side(new))], scope).unwrap();
    let mut text = String::new();
    let place = |line: &Line, row: cutbill::model::RowRef| line.book.place(row, None).to_string();
    for change in &compared.lines {
        let was = change.line.on_old().map(|id| place(old, old.book.line(id).row));
        let is = change.line.on_new().map(|id| place(new, new.book.line(id).row));
        text.push_str(&format!("{} > {}", was.unwrap_or_default(), is.unwrap_or_default()));
        for field in &change.fields {
            text.push_str(&format!(", {}: `{}` to `{}`", field.column, field.old, field.new));
        }
        text.push('\n');
    }
    for change in &compared.prices {
        let told = |line: &Line, priced: &Option<cutbill::model::Priced>| match priced {
            Some(priced) => format!("{} at {}", priced.price.text, place(line, priced.row)),
            None => "none".to_owned(),
        };
        text.push_str(&format!("{} to {}\n", told(old, &change.old), told(new, &change.new)));
    }
    text
}

const PARTS: &str = "item,form,unit,price\nBOLT,count,each,1\nNUT,count,each,2\nGLUE,bulk,gal,20\n";

#[test]
fn bill_lines_tell_what_came_went_and_changed_with_both_places() {
    let header = "parent,component,quantity,length,with,when,note,crew";
    let old = format!(
        "{header}\nP,box,1,28',doors = 1; sill = 3 in,,,A\nP,BOLT,4,,,,,\nP,NUT,4,,,,,\nbox,BOLT,2,,,length > 3 ft,,\n"
    );
    let new = format!(
        "{header}\nP,NUT,4,,,,,\nP,box,2,336 in,doors = 2; sill = 3 in,,checked,B\nbox,GLUE,1 gal,,,,,\nbox,BOLT,2,,,length > 4 ft,,\n"
    );
    let old = run(&[("items", PARTS), ("bill", &old)]);
    let new = run(&[("items", PARTS), ("bill", &new)]);
    let expected = "bill.csv:2 > bill.csv:3, quantity: `1` to `2`, with doors: `1` to `2`, crew: `A` to `B`, note: `` to `checked`\n\
        bill.csv:3 > \n \
        > bill.csv:4\n\
        bill.csv:5 > bill.csv:5, when: `length > 3 ft` to `length > 4 ft`\n";
    assert_eq!(changes(&old, &new, Scope::Written), expected);
    assert_eq!(changes(&old, &old, Scope::Written), "");
}

#[test]
fn two_days_differ_by_dated_lines_and_prices() {
    let bill = "parent,component,quantity,effective_from,effective_to\n\
        P,BOLT,4,,2027-03-31\nP,NUT,4,2027-04-01,\nP,GLUE,1 gal,,\n";
    let prices =
        "item,from_date,to_date,price\nGLUE,2027-01-01,2027-03-31,18\nGLUE,2027-04-01,,19\n";
    let tables = [("items", PARTS), ("bill", bill), ("prices", prices)];
    let on = |day: i8, month: i8| Options {
        on: Some(jiff::civil::Date::constant(2027, month, day)),
        ..explode::Options::default()
    };
    let (old, new) = (run_with(&tables, &on(1, 3), 1), run_with(&tables, &on(1, 4), 1));
    let expected = "bill.csv:2 > \n > bill.csv:3\n18 at prices.csv:2 to 19 at prices.csv:3\n";
    assert_eq!(changes(&old, &new, Scope::Taken), expected);
    // In writing, the lines of one book are the same on any day.
    let prices_only = "18 at prices.csv:2 to 19 at prices.csv:3\n";
    assert_eq!(changes(&old, &new, Scope::Written), prices_only);
    check(
        &old,
        &new,
        "BOLT: 4, substitution -4 = 0\nGLUE: 18, price 1 = 19\nNUT: 0, substitution 8 = 8\n",
    );
}
