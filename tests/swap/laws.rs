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
const ITEMS: &str = "item,form,unit,price,price_unit,weight,weight_unit,kerf,rated,span_limit\n\
    PLY,sheet,ft2,,,2,lb/ft2,1/8 in,fire moisture,2 ft\nPANEL,sheet,ft2,,,1.25,lb/ft2,1/8 in,\"Moisture; Fire\",2 ft\n\
    BARE,sheet,ft2,,,1.25,lb/ft2,1/8 in,Moisture,2 ft\nTHIN,sheet,ft2,,,1,lb/ft2,1/8 in,fire moisture,12 in\n\
    SMALL,sheet,ft2,,,1,lb/ft2,,fire moisture,\nSTUD,linear,ft,,,1.5,lb/ft,1/8 in,,\nSTEEL,linear,ft,,,2.25,lb/ft,1/8 in,,\n\
    BOLT,count,each,0.25,each,0.125,lb,,,\nCLIP,count,each,0.40,each,0.0625,lb,,,\n\
    GLUE,bulk,gal,24,gal,9,lb/gal,,,\nHOURS,labor,h,31,h,,,,,\nFREE,count,each,,,1,lb,,,\nAIR,count,each,1,each,,,,,\n";
const SIZES: &str = "item,length,width,price\nPLY,8 ft,4 ft,40\nPLY,10 ft,4 ft,52\nPANEL,9 ft,4 ft,61\n\
    BARE,9 ft,4 ft,48\nTHIN,8 ft,4 ft,19\n\
    SMALL,2 ft,2 ft,5\nSTUD,8 ft,,6\nSTUD,12 ft,,9.50\nSTEEL,10 ft,,14\n";
/// `box` is taken by both `floor` and `slide`.
const BILL: &str = "parent,component,quantity,length,width,use,with,requires,span\n\
    P,floor,1,length,width,,,,\nP,slide,1,6 ft,3 ft,,,,\nQ,floor,1,length,width,,,,\nQ,slide,2,7 ft,3 ft,,,,\n\
    floor,PLY,1,length,width,cover,,fire; moisture,spacing\nfloor,STUD,ROUNDUP(length/spacing)+1,width,,piece,,,\n\
    floor,box,1,,,,,,\nfloor,HOURS,2 h,,,,,,\nfloor,GLUE,0.75 gal,,,,,,\n\
    slide,PLY,2,length,width,piece,,,\nslide,STUD,3,length,,piece,,,\nslide,box,1,,,,,,\n\
    box,BOLT,12,,,,,,\nbox,PLY,1,30 in,20 in,piece,,,\n";
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
    let base = Base { book: &line.book, needs: &line.needs, rollup: &line.rollup, findings: &[] };
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
    ("from,to\nGLUE,", &[("floor,GLUE,0.75 gal,,,,,,\n", "")]),
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
    let over_plans: Vec<(usize, State)> =
        swaps.ranked_over_plans().into_iter().map(|(swap, _, state)| (swap, state)).collect();
    assert_eq!(over_plans[0], (2, State::Changed));
    let unknown = over_plans[1..].iter().all(|(_, state)| *state > State::Changed);
    assert!(over_plans.len() == 4 && unknown, "{over_plans:?}");
    let told = |text: &str| assert!(findings.iter().any(|it| it.contains(text)), "{findings:#?}");
    told("item `FREE` has no price");
    told("of `SMALL` cannot be cut: 72 x 36 in: it fits no size");
}

#[test]
fn a_rating_that_a_line_requires_and_the_new_item_lacks_is_told() {
    let (_, swaps, findings) = of_table("swap,from,to\ns,PLY,BARE\n");
    let expected =
        ["warning: bill.csv:6: column `requires`: swap `s`: item `BARE` lacks the rating `fire`"];
    assert_eq!(findings, expected);
    assert_eq!([0, 1].map(|build: usize| swaps.singles[0][build].state), [State::Unfit; 2]);
    // Where the line stays as it was, nothing is told.
    let (_, swaps, findings) = of_table("swap,from,to\ns,BOLT,CLIP\n");
    assert_eq!(findings, [""; 0]);
    assert_eq!(swaps.singles[0][0].state, State::Changed);
}

#[test]
fn a_span_beyond_the_limit_of_an_item_is_told_and_never_taken() {
    let check = |rows: &str, state: State, expected: &[&str]| {
        let (_, swaps, findings) = of_table(&format!("swap,from,to,set\n{rows}\n"));
        assert_eq!(swaps.singles[0][0].state, state, "{rows}");
        assert_eq!(findings, expected);
        let is_known = state == State::Changed;
        assert_eq!(swaps.ranked_over_plans()[0].2 == State::Changed, is_known, "{rows}");
    };
    // The new item, the old one further apart, and one whose maker states nothing.
    let thin = "warning: bill.csv:6: column `span`: with swap `s`: `THIN` spans 16 in here, beyond its limit of 12 in";
    check("s,PLY,THIN,", State::Unfit, &[thin]);
    let wide = "warning: bill.csv:6: column `span`: with swap `s`: `PLY` spans 30 in here, beyond its limit of 24 in";
    check("s,,,spacing = 30 in", State::Unfit, &[wide]);
    check("s,,,spacing = 24 in", State::Changed, &[]);
    check("s,PLY,PANEL,spacing = 24 in", State::Changed, &[]);
    let (line, swaps, findings) = of_table("swap,from,to\ns,PLY,SMALL\n");
    let unknown = "warning: bill.csv:6: column `span`: swap `s`: no span limit of item `SMALL` is known, and it spans 16 in here";
    assert!(findings.iter().any(|it| it == unknown), "{findings:#?}");
    assert_eq!(swaps.singles[0][0].state, State::Uncut);
    // A set never has it, though it saves most for least.
    let proposals =
        swap::of_table(&rolled(read(BILL, "swap,from,to\nthin,PLY,THIN\nclip,BOLT,CLIP\n")).book);
    let (swaps, _) = tried(&line, proposals, Some(1));
    let best = &swaps.best.as_ref().unwrap()[0];
    assert_eq!(best.reasons, [Reason::Unknown(State::Unfit), Reason::SavesWeight]);
}

/// The same trailer with its axle 10 ft behind the coupler ball.
#[test]
fn a_swap_is_felt_at_hitch_and_axle_and_in_what_may_be_carried() {
    let plans = "plan,axle_position,gvwr,tongue,length\nP,120 in,900 lb,0 in,200 in\n";
    let items = "item,form,unit,price,weight\nHEAVY,count,each,5,300 lb\nLIGHT,count,each,9,200 lb\nREST,count,each,0,500 lb\n\
        DEAR,count,each,30,700 lb\n";
    let bill = "parent,component,quantity,x\nP,HEAVY,1,150 in\nP,REST,1,100 in\n";
    let swaps = "swap,from,to\nlight,HEAVY,LIGHT\ndear,HEAVY,DEAR\n";
    let line =
        rolled(book(&[("plans", plans), ("items", items), ("bill", bill), ("swaps", swaps)]));
    let (swaps, findings) = tried(&line, swap::of_table(&line.book), None);
    let trial = &swaps.singles[0][0];
    let loads = |figures: &swap::Figures| {
        [&figures.hitch, &figures.axle, &figures.capacity].map(|load| load.clone().unwrap())
    };
    // The ball carries 300 (1 - 150/120) + 500 (1 - 100/120), the axle the rest of 800 lb.
    let ratio = |top: i128, bottom: i128| Ratio::new(top, bottom).unwrap();
    assert_eq!(loads(&trial.before), [ratio(100, 12), ratio(9500, 12), Ratio::whole(100)]);
    // 100 lb less behind the axle: 125 off the axle, 25 back on the ball.
    assert_eq!(loads(&trial.after), [ratio(400, 12), ratio(8000, 12), Ratio::whole(200)]);
    // 1,200 lb is more than the rating, which is told with the swap that brings it.
    let expected = [
        "warning: plans.csv:2: column `gvwr`: with swap `dear`: the gvwr of plan `P`, 900 lb, is below its unloaded weight of 1200 lb",
    ];
    assert_eq!(findings, expected);
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
    // Parts act together, and a dimension of the plan goes through its formulas: 16 studs of 8 ft become 11, 1.5 lb/ft.
    assert_eq!(trial("BOLT=CLIP; GLUE="), 3 * (24 * 625 + 67_500));
    assert_eq!(trial("spacing=24 in"), 3 * 5 * 8 * 15_000);
    assert_eq!(trial("Spacing = 24 in; BOLT="), 3 * (5 * 8 * 15_000 + 24 * 1250));
    for (text, error) in [
        ("BOLTS=CLIP", "error: no item or assembly named `BOLTS`\n  hint: did you mean `BOLT`?"),
        ("BOLT=CLIPP", "error: no item or assembly named `CLIPP`\n  hint: did you mean `CLIP`?"),
        ("BOLT=CLIP@slides", "error: no assembly named `slides`\n  hint: did you mean `slide`?"),
        ("BOLT=CLIP; GLU=", "error: no item or assembly named `GLU`\n  hint: did you mean `GLUE`?"),
        (
            "spacing=24 in@slides",
            "error: no assembly named `slides`\n  hint: did you mean `slide`?",
        ),
        ("BOLT=CLIP*0", "error: `0` is out of range (a number above zero)"),
        (
            "BOLT",
            "error: `BOLT` is no swap\n  hint: write `OLD=NEW`, `OLD=NEW*1.5`, `OLD=` to remove it, or `spacing=24 in` to set a \
             dimension; `@ASSEMBLY` at the end is within that assembly only, and `;` parts what acts together",
        ),
    ] {
        assert_eq!(read(text).map(|it| it.name), Err(error.to_owned()));
    }
    let base = Base { book: &line.book, needs: &line.needs, rollup: &line.rollup, findings: &[] };
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
