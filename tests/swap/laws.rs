//! Laws of trials, over small books of every form.

use cutbill::explode;
use cutbill::model::Book;
use cutbill::nest;
use cutbill::quantity::Ratio;
use cutbill::rollup;
use cutbill::swap::{self, Base, Options, Proposal, Reason, Saving, State, Swaps};
use cutbill::watch::Silent;

use crate::book;
use crate::line::{Line, roll_up};

const PLANS: &str = "plan,length,width,spacing\nP,20 ft,8 ft,16 in\nQ,27 ft,7 ft 6 in,16 in\n";
const ITEMS: &str = "item,form,unit,price,price_unit,weight,weight_unit,kerf,rated\n\
    PLY,sheet,ft2,,,2,lb/ft2,1/8 in,fire moisture\nPANEL,sheet,ft2,,,1.25,lb/ft2,1/8 in,Moisture\n\
    SMALL,sheet,ft2,,,1,lb/ft2,,\nSTUD,linear,ft,,,1.5,lb/ft,1/8 in,\nSTEEL,linear,ft,,,2.25,lb/ft,1/8 in,\n\
    BOLT,count,each,0.25,each,0.125,lb,,\nCLIP,count,each,0.40,each,0.0625,lb,,\n\
    GLUE,bulk,gal,24,gal,9,lb/gal,,\nHOURS,labor,h,31,h,,,,\nFREE,count,each,,,1,lb,,\nAIR,count,each,1,each,,,,\n";
const SIZES: &str = "item,length,width,price\nPLY,8 ft,4 ft,40\nPLY,10 ft,4 ft,52\nPANEL,9 ft,4 ft,61\n\
    SMALL,2 ft,2 ft,5\nSTUD,8 ft,,6\nSTUD,12 ft,,9.50\nSTEEL,10 ft,,14\n";
/// `box` is taken by both `floor` and `slide`.
const BILL: &str = "parent,component,quantity,length,width,use,with,requires\n\
    P,floor,1,length,width,,,\nP,slide,1,6 ft,3 ft,,,\nQ,floor,1,length,width,,,\nQ,slide,2,7 ft,3 ft,,,\n\
    floor,PLY,1,length,width,cover,,fire; moisture\nfloor,STUD,ROUNDUP(length/spacing)+1,width,,piece,,\n\
    floor,box,1,,,,,\nfloor,HOURS,2 h,,,,,\nfloor,GLUE,0.75 gal,,,,,\n\
    slide,PLY,2,length,width,piece,,\nslide,STUD,3,length,,piece,,\nslide,box,1,,,,,\n\
    box,BOLT,12,,,,,\nbox,PLY,1,30 in,20 in,piece,,\n";
const BURDENS: &str = "burden,basis,percent\noverhead,labor_money,85\nfreight,material,4\n";

fn read(bill: &str, swaps: &str) -> Book {
    book(&[
        ("plans", PLANS),
        ("items", ITEMS),
        ("sizes", SIZES),
        ("bill", bill),
        ("burdens", BURDENS),
        ("swaps", swaps),
    ])
}

const LOT: u32 = 3;

fn rolled(book: Book) -> Line {
    roll_up(book, &explode::Options::default(), LOT, 1)
}

/// Tries the swaps of the table, together too; returns them with the words of the findings.
fn tried(line: &Line, proposals: Vec<Proposal>, save: Option<i128>) -> (Swaps, Vec<String>) {
    let nest = nest::Options { effort: 1, ..nest::Options::default() };
    let options = Options {
        cutting: rollup::Options { lot: Some(LOT), nest },
        is_together: true,
        save: save.map(Ratio::whole),
        ..Options::default()
    };
    let base = Base { book: &line.book, needs: &line.needs, rollup: &line.rollup };
    let swaps = swap::swap(base, proposals, &options, &Silent).unwrap();
    let findings = swaps.warnings.iter().map(ToString::to_string).collect();
    (swaps.value, findings)
}

#[track_caller]
fn of_table(swaps: &str) -> (Line, Swaps, Vec<String>) {
    let line = rolled(read(BILL, swaps));
    let proposals = swap::of_table(&line.book);
    let (swaps, findings) = tried(&line, proposals, None);
    (line, swaps, findings)
}

/// Swaps with the same changes made by hand in the text of the bill.
const BY_HAND: [(&str, &[(&str, &str)]); 6] = [
    ("from,to\nPLY,PANEL", &[(",PLY,", ",PANEL,")]),
    ("from,to,parent\nPLY,PANEL,floor", &[("floor,PLY,", "floor,PANEL,")]),
    ("from,to,ratio\nBOLT,CLIP,1.5", &[("box,BOLT,12", "box,CLIP,18")]),
    ("from,to\nGLUE,", &[("floor,GLUE,0.75 gal,,,,,\n", "")]),
    (
        "from,to,ratio\nSTUD,STEEL,1\nHOURS,HOURS,0.5",
        &[(",STUD,", ",STEEL,"), ("HOURS,2 h", "HOURS,1 h")],
    ),
    ("set\nspacing = 24 in", &[("length/spacing", "length/(24 in)")]),
];

fn table(rows: &str) -> String {
    let mut lines = rows.lines();
    let header = lines.next().unwrap();
    let rows: Vec<String> = lines.map(|row| format!("s,{row}\n")).collect();
    format!("swap,{header}\n{}", rows.concat())
}

#[test]
fn a_swap_alone_is_the_roll_up_of_the_bill_changed_by_hand() {
    for (rows, changes) in BY_HAND {
        let (_, swaps, _) = of_table(&table(rows));
        let changed = changes.iter().fold(BILL.to_owned(), |bill, (was, is)| bill.replace(was, is));
        assert_ne!(changed, BILL, "{rows}");
        let hand = rolled(read(&changed, "swap,from,to\n"));
        for trial in &swaps.singles[0] {
            let cost = &hand.rollup.builds[trial.build];
            let after = (trial.after.cost, trial.after.weight);
            assert_eq!(after, (cost.cost(), cost.weight()), "{rows}, build {}", trial.build);
            assert_ne!(trial.after, trial.before, "{rows}");
            assert_eq!(trial.state, State::Changed, "{rows}");
        }
    }
}

#[test]
fn a_swap_item_for_item_weighs_quantity_times_difference_of_unit_weights() {
    let (line, swaps, _) =
        of_table("swap,from,to\npanel,PLY,PANEL\nclip,BOLT,CLIP\nsteel,STUD,STEEL\n");
    // PLY - PANEL is 3/4 lb/ft2; BOLT - CLIP 1/16 lb; STUD - STEEL -3/4 lb/ft. A box has 12 bolts and 30 in x 20 in.
    let ratio = |above, below| Ratio::new(above, below).unwrap();
    let quantities = [
        // P: floor 20 ft x 8 ft, slide 2 of 6 ft x 3 ft, 2 boxes; studs 16 of 8 ft and 3 of 6 ft.
        [Ratio::whole(160 + 36) + ratio(2 * 600, 144), Ratio::whole(24), Ratio::whole(128 + 18)],
        // Q: floor 27 ft x 7.5 ft, 2 slides with 2 of 7 ft x 3 ft, 3 boxes; studs 22 of 7.5 ft and 6 of 7 ft.
        [
            ratio(405, 2) + Ratio::whole(84) + ratio(3 * 600, 144),
            Ratio::whole(36),
            Ratio::whole(165 + 42),
        ],
    ];
    let differences = [ratio(3, 4), ratio(1, 16), ratio(-3, 4)];
    for (swap, difference) in differences.iter().enumerate() {
        for (build, quantities) in quantities.iter().enumerate() {
            let exact = &quantities[swap] * difference * Ratio::whole(i128::from(LOT) * 10_000);
            let saved = swaps.singles[swap][build].saving().weight;
            // Both weights are rounded once each.
            let off = (exact - Ratio::whole(saved)).abs();
            assert!(off <= Ratio::ONE, "swap {swap}, build {build}: {saved}, off by {off}");
        }
    }
    assert_eq!(line.rollup.lot, LOT);
}

#[test]
fn a_swap_and_its_reverse_cancel_out() {
    for (there, back) in
        [("BOLT,CLIP", "CLIP,BOLT"), ("STUD,STEEL", "STEEL,STUD"), ("PLY,PANEL", "PANEL,PLY")]
    {
        let (_, swaps, findings) = of_table(&format!("swap,from,to\nthere,{there}\nback,{back}\n"));
        for build in 0..2 {
            assert_eq!(swaps.singles[0][build].state, State::Changed);
            assert_eq!(swaps.singles[1][build].state, State::Same, "nothing to take back yet");
            let together = &swaps.together.as_ref().unwrap()[build];
            assert_eq!(together.after, together.before, "{there}");
            assert_eq!(together.saving(), Saving::default());
        }
        assert!(
            findings
                .iter()
                .any(|it| it.ends_with("swap `back` changes nothing that the plans take"))
        );
    }
}

#[test]
fn what_two_assemblies_share_changes_in_the_one_that_is_named() {
    let (_, swaps, _) = of_table("swap,from,to,assembly\ns,BOLT,CLIP,slide\n");
    // One slide with a box of 12 in P, two in Q; 1/16 lb each, three units.
    let saved: Vec<i128> = swaps.singles[0].iter().map(|trial| trial.saving().weight).collect();
    assert_eq!(saved, [3 * 12 * 625, 3 * 24 * 625]);
}

#[test]
fn what_is_not_known_is_told_and_not_ranked() {
    let (_, swaps, findings) = of_table(
        "swap,from,to\nunpriced,BOLT,FREE\nunweighed,BOLT,AIR\nuncut,STUD,STEEL\nsmall,PLY,SMALL\n",
    );
    let states: Vec<State> = swaps.singles.iter().map(|trials| trials[0].state).collect();
    let expected = [State::Unpriced, State::Unweighed, State::Changed, State::Uncut];
    assert_eq!(states, expected, "{findings:#?}");
    assert_eq!(swaps.ranked()[..2], [(2, 0), (2, 1)]);
    assert_eq!(swaps.ranked_over_plans().len(), 1);
    let told = |text: &str| assert!(findings.iter().any(|it| it.contains(text)), "{findings:#?}");
    told("item `FREE` has no price");
    told("of `SMALL` cannot be cut: 72 x 36 in: it fits no size");
}

#[test]
fn a_rating_that_a_line_requires_and_the_new_item_lacks_is_told() {
    let (_, _, findings) = of_table("swap,from,to\ns,PLY,PANEL\n");
    let expected =
        "warning: bill.csv:6: column `requires`: swap `s`: item `PANEL` lacks the rating `fire`";
    assert!(findings.iter().any(|it| it == expected), "{findings:#?}");
    // Where the line stays as it was, nothing is told.
    let (_, _, findings) = of_table("swap,from,to\ns,BOLT,CLIP\n");
    assert!(findings.iter().all(|it| !it.contains("rating")), "{findings:#?}");
}

#[test]
fn a_swap_that_cannot_be_meant_is_a_gap_at_its_cell() {
    let (_, swaps, findings) = of_table(
        "swap,from,to,ratio,parent,quantity,set\nself,PLY,PLY,,,,\nwork,HOURS,BOLT,,,,\nform,PLY,STUD,,,,\n\
         unit,GLUE,BOLT,,,,\nadd,,CLIP,,,,\nformula,,,,P,,spacing = length / 20\ngood,BOLT,CLIP,,,,\n",
    );
    assert_eq!(swaps.proposals.len(), 1);
    let expected = [
        "gap: swaps.csv:2: column `to`: `PLY` is swapped for itself, one for one",
        "gap: swaps.csv:3: column `to`: count `BOLT` cannot take the place of labor `HOURS` by the h at bill.csv:9",
        "gap: swaps.csv:4: column `to`: linear `STUD` cannot take the place of sheet `PLY` at bill.csv:11",
        "gap: swaps.csv:5: column `to`: count `BOLT` cannot take the place of bulk `GLUE` by the gal at bill.csv:10",
        "gap: swaps.csv:6: column `parent`: `CLIP` is added without a parent",
        "gap: swaps.csv:6: column `quantity`: `CLIP` is added without a quantity",
        "gap: swaps.csv:7: column `set`: a dimension of a plan is set to `length / 20`, which is no measure\n  \
         hint: name the assembly that it is passed to as `parent`",
    ];
    assert_eq!(findings, expected);
}

#[test]
fn a_typed_swap_is_read_and_its_mistakes_say_what_was_meant() {
    let line = rolled(read(BILL, "swap,from,to\n"));
    let read = |text: &str| swap::typed(&line.book, text).map_err(|error| error.to_string());
    let trial = |text: &str| {
        let (swaps, _) = tried(&line, vec![read(text).unwrap()], None);
        swaps.singles[0][0].saving().weight
    };
    // 24 bolts of 1/8 lb and clips of 1/16 lb in each of three units.
    assert_eq!(trial("BOLT=CLIP"), 3 * 24 * 625);
    assert_eq!(trial("bolt = clip * 2"), 0);
    assert_eq!(trial("BOLT="), 3 * 24 * 1250);
    assert_eq!(trial("BOLT=CLIP@slide"), 3 * 12 * 625);
    assert_eq!(trial("BOLT=@slide"), 3 * 12 * 1250);
    assert_eq!(trial("BOLT=CLIP*1.5@floor"), 3 * 12 * (1250 - 937) - 18);
    for (text, error) in [
        ("BOLTS=CLIP", "error: no item or assembly named `BOLTS`\n  hint: did you mean `BOLT`?"),
        ("BOLT=CLIPP", "error: no item or assembly named `CLIPP`\n  hint: did you mean `CLIP`?"),
        ("BOLT=CLIP@slides", "error: no assembly named `slides`\n  hint: did you mean `slide`?"),
        ("BOLT=CLIP*0", "error: `0` is out of range (a number above zero)"),
        (
            "BOLT",
            "error: `BOLT` is no swap\n  hint: write `OLD=NEW`, `OLD=NEW*1.5`, or `OLD=` to remove it; `OLD=NEW@ASSEMBLY` is within that assembly only",
        ),
    ] {
        assert_eq!(read(text).map(|it| it.name), Err(error.to_owned()));
    }
    let base = Base { book: &line.book, needs: &line.needs, rollup: &line.rollup };
    let unfit = vec![read("PLY=HOURS").unwrap()];
    let errors = swap::swap(base, unfit, &Options::default(), &Silent).unwrap_err();
    let expected =
        "error: labor `HOURS` by the h cannot take the place of sheet `PLY` at bill.csv:6";
    assert_eq!(errors.iter().map(ToString::to_string).collect::<Vec<_>>(), [expected]);
}

#[test]
fn the_best_set_saves_the_weight_and_says_why() {
    let line = rolled(read(
        BILL,
        "swap,from,to\nclip,BOLT,CLIP\npanel,PLY,PANEL\nsmaller,PLY,PANEL\nsteel,STUD,STEEL\nno glue,GLUE,\n",
    ));
    let (swaps, _) = tried(&line, swap::of_table(&line.book), Some(100));
    let best = &swaps.best.as_ref().unwrap()[0];
    // 100 lb of each of three units.
    assert_eq!(best.target, 3_000_000);
    assert!(best.is_met() && best.is_proven);
    // Leaving the glue out saves money; one of the two panels is needed, and it excludes the other.
    assert_eq!(best.reasons[1], Reason::SavesWeight, "{best:#?}");
    assert_eq!(best.reasons[2], Reason::Excluded(1));
    assert_eq!(best.reasons[3], Reason::SavesNothing);
    assert_eq!(best.reasons[4], Reason::SavesMoney);
    let chosen = best.reasons.iter().enumerate().filter(|(_, reason)| reason.is_chosen());
    let sum: Saving = chosen.map(|(swap, _)| swaps.singles[swap][0].saving()).sum();
    assert_eq!(best.singles, sum);
    assert_eq!(best.together.saving().weight, sum.weight);
}
