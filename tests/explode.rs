//! What plans take, by small books: options, values passed down, covers, openings, negative lines, days and units, and
//! the ways through an exploded bill.

#![expect(clippy::unwrap_used, reason = "what cannot be had ends the test")]

use cutbill::diag::Checked;
use cutbill::explode::{Build, Needs, Options, Take, What, explode};
use cutbill::model::{Book, Edges, Form, OptionId, Parent};
use cutbill::quantity::{Length, Ratio};
use cutbill::read::{self, Memory};

const PLANS: &str = "plan,length,width\nP,24 ft,8 ft\n";
const ITEMS: &str = "\
item,form,unit,price,weight,coverage,net_width,stagger,overlap
NAIL,count,each,1,1,,,,
GLUE,bulk,gal,1,,,,,
BATT,bulk,ft2,1,,,,,
WIRE,bulk,ft,1,,,,,
PANEL,sheet,ft2,1,,,,,
DECK,sheet,ft2,1,,,47.5 in,,
LAP,sheet,ft2,1,,,,,2 in
STAGGER,sheet,ft2,1,,,,4 ft,
STICK,linear,ft,1,1,,,,
";
const SIZES: &str = "\
item,length,width
PANEL,8 ft,4 ft
DECK,8 ft,4 ft
LAP,8 ft,4 ft
STAGGER,8 ft,4 ft
STICK,16 ft,
";

/// Reads a book of a bill, with other tables beside or instead of the usual ones.
#[track_caller]
fn book(bill: &str, others: &[(&str, &str)]) -> Book {
    let usual = [("plans.csv", PLANS), ("items.csv", ITEMS), ("sizes.csv", SIZES)];
    let mut files: Memory = usual.into_iter().chain([("bill.csv", bill)]).collect();
    for (name, text) in others {
        files.0.insert(format!("{name}.csv"), text.as_bytes().to_vec());
    }
    let read = read::read(&files);
    read.unwrap_or_else(|errors| panic!("{}", texts(&errors).join("\n"))).value
}

fn texts(findings: &[cutbill::diag::Diagnostic]) -> Vec<String> {
    findings.iter().map(ToString::to_string).collect()
}

#[track_caller]
fn needs(book: &Book, options: &Options) -> Needs {
    let exploded = explode(book, options);
    exploded.unwrap_or_else(|errors| panic!("{}", texts(&errors).join("\n"))).value
}

/// Returns an option by its name.
fn option(book: &Book, name: &str) -> OptionId {
    let at = book.options.iter().position(|option| option.name == name).unwrap();
    OptionId(u32::try_from(at).unwrap())
}

/// Returns what one unit of a build needs, in words: pieces in inches, amounts in the item's unit.
fn flat(book: &Book, needs: &Needs, build: &Build) -> String {
    let inches = |length: Length| length.to_ratio().checked_div(&Length::INCH.to_ratio()).unwrap();
    let needs = needs.flat(book, build).needs.into_iter().map(|need| {
        let item = book.item(need.item);
        let amount = need.good;
        let text = match need.what {
            What::Piece { length, width, edges, .. } => {
                let sides = match item.form {
                    Form::Linear => format!("{}", inches(length)),
                    _ => format!("{}x{}", inches(length), inches(width)),
                };
                let edges = match edges {
                    Edges::None => "",
                    Edges::One => " one edge",
                    Edges::Both => " both edges",
                };
                format!("{amount} of {sides}{edges}")
            }
            What::Run => format!("run {}", inches(Length::from_ratio(&amount).unwrap())),
            What::Whole(_) => format!("{amount} whole"),
            What::Amount => amount.checked_div(&item.unit.factor).unwrap().to_string(),
        };
        format!("{} {text}", item.name)
    });
    needs.collect::<Vec<_>>().join(", ")
}

/// Checks what the first plan needs.
#[track_caller]
fn check(bill: &str, others: &[(&str, &str)], expected: &str) {
    let book = book(bill, others);
    let needs = needs(&book, &Options::default());
    assert_eq!(flat(&book, &needs, &needs.builds[0]), expected);
}

/// Checks the errors of exploding.
#[track_caller]
fn check_errors(bill: &str, others: &[(&str, &str)], expected: &[&str]) {
    let book = book(bill, others);
    assert_eq!(texts(&explode(&book, &Options::default()).unwrap_err()), expected);
}

// Options.

/// Checks which options a plan has when some are chosen and some left out, or why it can have none.
#[track_caller]
fn check_options(options: &str, chosen: &[&str], without: &[&str], expected: &Result<&str, &str>) {
    let options = format!("option,plan,standard,choice,includes,excludes\n{options}");
    let plans = "plan,length,width\nP,24 ft,8 ft\nQ,20 ft,8 ft\n";
    let bill = "parent,component\nP,NAIL\nQ,NAIL\n";
    let book = book(bill, &[("options", &options), ("plans", plans)]);
    let ids = |names: &[&str]| names.iter().map(|name| option(&book, name)).collect();
    let asked = Options { chosen: ids(chosen), without: ids(without), ..Options::default() };
    let taken = explode(&book, &asked).map(|Checked { value, .. }| {
        let names = value.builds.iter().map(|build| {
            let names = build.options.iter().map(|id| book.options[id.index()].name.as_str());
            names.collect::<Vec<_>>().join(" ")
        });
        names.collect::<Vec<_>>().join(" / ")
    });
    let taken = taken.map_err(|errors| texts(&errors).join("\n"));
    assert_eq!(taken.as_deref().map_err(String::as_str), *expected);
}

#[test]
fn standard_options_are_taken_unless_left_out() {
    check_options("a,,yes,,,\nb,,,,,\n", &[], &[], &Ok("a / a"));
    check_options("a,,yes,,,\nb,,,,,\n", &["b"], &["a"], &Ok("b / b"));
    check_options("a,,yes,,,\nb,,,,,\n", &["b"], &[], &Ok("a b / a b"));
}

#[test]
fn an_option_of_one_plan_is_taken_there_only() {
    check_options("a,P,yes,,,\nb,Q,,,,\n", &["b"], &[], &Ok("a / b"));
}

#[test]
fn a_chosen_option_replaces_the_standard_one_of_its_choice() {
    let roof = "a,,yes,roof,,\nb,,,roof,,\n";
    check_options(roof, &[], &[], &Ok("a / a"));
    check_options(roof, &["b"], &[], &Ok("b / b"));
}

#[test]
fn an_option_brings_those_it_includes_and_they_bring_theirs() {
    check_options("a,,,,b,\nb,,,,c,\nc,,,,,\n", &["a"], &[], &Ok("a b c / a b c"));
    check_options("a,,yes,,c,\nb,,yes,,,\nc,,,,,\n", &[], &["b"], &Ok("a c / a c"));
}

#[test]
fn a_chosen_option_sets_aside_the_standard_ones_it_excludes() {
    check_options("a,,yes,,,\nb,,,,,a\n", &["b"], &[], &Ok("b / b"));
}

#[test]
fn two_chosen_options_that_exclude_each_other_are_an_error() {
    let book = book("parent,component\nP,NAIL\n", &[("options", "option,excludes\na,\nb,a\n")]);
    let chosen = vec![option(&book, "a"), option(&book, "b")];
    let errors = explode(&book, &Options { chosen, ..Options::default() }).unwrap_err();
    assert_eq!(
        texts(&errors),
        ["error: options.csv:3: option `b` excludes `a`, but both are chosen"]
    );
}

#[test]
fn a_choice_takes_exactly_one() {
    let roof = "option,choice\na,roof\nb,roof\n";
    let book = book("parent,component\nP,NAIL\n", &[("options", roof)]);
    let none = explode(&book, &Options::default()).unwrap_err();
    let chosen = vec![option(&book, "a"), option(&book, "b")];
    let both = explode(&book, &Options { chosen, ..Options::default() }).unwrap_err();
    assert_eq!(
        texts(&none),
        [
            "error: options.csv:2: column `choice`: choice `roof` needs exactly one option, but none is chosen"
        ]
    );
    assert_eq!(
        texts(&both),
        [
            "error: options.csv:2: column `choice`: choice `roof` needs exactly one option, but `a` and `b` are chosen"
        ]
    );
}

// Values.

#[test]
fn a_length_that_is_not_passed_falls_through_to_the_plan() {
    let bill = "parent,component,quantity,length\nP,WALL,1,10 ft\nP,FLOOR,1,\nWALL,BAY,1,\n\
                WALL,NAIL,length / 1 ft,\nBAY,NAIL,length / 1 ft,\nFLOOR,NAIL,length / 1 ft,\n";
    // The bay is in a wall of 10 ft but gets no length of its own: it sees the plan's 24 ft, as the floor does.
    check(bill, &[], "NAIL 58");
}

#[test]
fn named_values_are_handed_on_until_passed_anew() {
    let bill = "parent,component,quantity,with\nP,WALL,1,n = 2\nWALL,BAY,1,\nWALL,BAY,1,n = 10\n\
                BAY,NAIL,n,\nWALL,NAIL,100 * n,\n";
    check(bill, &[], "NAIL 212");
}

#[test]
fn options_are_true_or_false_in_conditions_everywhere() {
    let bill = "parent,component,quantity,when\nP,A,1,\nA,NAIL,1,solar\nA,NAIL,2,NOT solar\n\
                A,NAIL,4,winter\n";
    check(bill, &[("options", "option,standard\nsolar,\nwinter,yes\n")], "NAIL 6");
}

// Covers.

#[test]
fn rows_run_the_way_that_is_asked_for() {
    let cover = |rows: &str| {
        format!("parent,component,length,width,use,rows\nP,PANEL,20 ft,6 ft,cover,{rows}\n")
    };
    check(
        &cover("length"),
        &[],
        "PANEL 1 of 48x24, PANEL 1 of 48x48, PANEL 2 of 96x24, PANEL 2 of 96x48",
    );
    check(&cover("width"), &[], "PANEL 5 of 72x48");
}

#[test]
fn gaps_part_rows_and_the_pieces_of_a_row() {
    let bill =
        "parent,component,length,width,use,rows,gap\nP,PANEL,193 in,8 ft,cover,length,1 in\n";
    // 96 + 1 + 96 along the row; 48 + 1 + 47 across.
    check(bill, &[], "PANEL 2 of 96x47, PANEL 2 of 96x48");
}

#[test]
fn joints_of_every_second_row_are_staggered() {
    let bill = "parent,component,length,width,use,rows\nP,STAGGER,16 ft,8 ft,cover,length\n";
    // 96 + 96, then 48 + 96 + 48.
    check(bill, &[], "STAGGER 2 of 48x48, STAGGER 3 of 96x48");
}

#[test]
fn overlapped_rows_cover_less_than_their_width() {
    let bill = "parent,component,length,width,use,rows\nP,LAP,8 ft,94 in,cover,length\n";
    // 48 - 2 + 48.
    check(bill, &[], "LAP 2 of 96x48");
    let wider = "parent,component,length,width,use,rows\nP,LAP,8 ft,95 in,cover,length\n";
    check(wider, &[], "LAP 1 of 96x3, LAP 2 of 96x48");
}

// Common practice, no source: a floor of 24 ft by 8 ft in 4 ft by 8 ft tongue-and-groove panels of 47-1/2 in face; the
// remainders are computed.
#[test]
fn locked_rows_keep_their_factory_edges() {
    let floor = |rows: &str| {
        format!("parent,component,length,width,use,rows\nP,DECK,24 ft,8 ft,cover,{rows}\n")
    };
    // Across: 6 rows of 47-1/2 leave 3 in, ripped with the locked half inch.
    check(&floor("width"), &[], "DECK 1 of 96x7/2 one edge, DECK 6 of 96x48 both edges");
    // Along: 2 rows leave 1 in, three pieces long.
    check(&floor("length"), &[], "DECK 3 of 96x3/2 one edge, DECK 6 of 96x48 both edges");
    // Left to itself, it takes what takes less: one strip, not three.
    check(&floor(""), &[], "DECK 1 of 96x7/2 one edge, DECK 6 of 96x48 both edges");
}

// Openings, cutouts, fills.

#[test]
fn fills_leave_out_the_openings_of_their_parent() {
    let bill = "parent,component,quantity,length,width,use,cutout\nP,WALL,2,10 ft,8 ft,,\n\
                WALL,BATT,1,length,width,fill,3 ft2\nWALL,NAIL,2,3 ft,2 ft,opening,\n\
                WALL,WIRE,openings / 1 ft,,,,\n";
    // 80 - 2 x 6 - 3, twice; the opening counts its own component, and formulas see its area.
    check(bill, &[], "NAIL 4, BATT 130, WIRE 24");
}

#[test]
fn a_skin_with_a_cutout_is_bought_whole() {
    let items = ITEMS.replace("PANEL,sheet,ft2,1,,", "PANEL,sheet,ft2,1,2,");
    let bill = "parent,component,length,width,use,cutout\nP,PANEL,4 ft,3 ft,piece,5 ft2\n";
    let book = book(bill, &[("items", &items)]);
    let needs = needs(&book, &Options::default());
    assert_eq!(flat(&book, &needs, &needs.builds[0]), "PANEL 1 of 48x36");
    // 2 lb/ft2 on 12 - 5 ft2.
    assert_eq!(needs.instances[0].load.weight, Ratio::whole(14));
}

#[test]
fn a_cutout_larger_than_its_piece_is_an_error() {
    check_errors(
        "parent,component,length,width,use,cutout\nP,PANEL,1 ft,1 ft,piece,length * 1 in\n",
        &[],
        &[
            "error: bill.csv:2: column `cutout`: a cutout of 2 ft2 is larger than the 1 ft2 it is cut from",
        ],
    );
}

// Negative lines.

#[test]
fn a_negative_line_under_an_option_takes_away() {
    let bill = "parent,component,quantity,when\nP,NAIL,5,\nP,NAIL,-2,bare\nP,GLUE,1 gal,\n\
                bare,GLUE,-1 gal,\n";
    let options = ("options", "option,standard\nbare,yes\n");
    check(bill, &[options], "NAIL 3");
    let book = book(bill, &[options]);
    let notes = explode(&book, &Options::default()).unwrap().warnings;
    assert_eq!(
        texts(&notes),
        [
            "note: bill.csv:3: takes `NAIL` of bill.csv:2 away where it applies",
            "note: bill.csv:5: takes `GLUE` of bill.csv:4 away where it applies"
        ]
    );
}

#[test]
fn a_negative_line_takes_away_from_lines_of_its_own_size_only() {
    let bill = "parent,component,quantity,length,use,when\nP,STICK,3,4 ft,piece,\n\
                P,STICK,3,5 ft,piece,\nP,STICK,-1,5 ft,piece,bare\n";
    check(bill, &[("options", "option,standard\nbare,yes\n")], "STICK 3 of 48, STICK 2 of 60");
}

#[test]
fn a_negative_line_that_takes_too_much_or_stands_under_no_option_is_an_error() {
    let options = ("options", "option,standard\nbare,yes\n");
    check_errors(
        "parent,component,quantity,when\nP,NAIL,1,\nP,NAIL,-2,bare\n",
        &[options],
        &["error: bill.csv:3: column `quantity`: takes away 1 more of `NAIL` than there is"],
    );
    check_errors(
        "parent,component,quantity\nP,NAIL,3\nP,NAIL,0 - length / 12 ft\n",
        &[],
        &["error: bill.csv:3: column `quantity`: quantity of `NAIL` comes to -2, below zero"],
    );
}

// Days and units.

/// Checks how many nails hold on a day for a unit.
#[track_caller]
fn check_effective(from: &str, to: &str, on: Option<&str>, unit: Option<u32>, expected: usize) {
    let bill = format!("parent,component,effective_from,effective_to\nP,NAIL,{from},{to}\n");
    let book = book(&bill, &[]);
    let on = on.map(|day| day.parse().unwrap());
    let needs = needs(&book, &Options { on, unit, ..Options::default() });
    assert_eq!(needs.instances[0].lines.len(), expected);
}

#[test]
fn lines_hold_between_their_days() {
    check_effective("2027-03-01", "", Some("2027-02-28"), None, 0);
    check_effective("2027-03-01", "", Some("2027-03-01"), None, 1);
    check_effective("", "2027-03-01", Some("2027-03-01"), None, 1);
    check_effective("", "2027-03-01", Some("2027-03-02"), None, 0);
    // Without a day the latest state holds.
    check_effective("2027-03-01", "", None, None, 1);
    check_effective("", "2027-03-01", None, None, 0);
}

#[test]
fn lines_hold_between_their_units() {
    check_effective("#412", "", None, Some(411), 0);
    check_effective("#412", "", None, Some(412), 1);
    check_effective("", "#412", None, Some(412), 1);
    check_effective("", "#412", None, Some(413), 0);
    check_effective("", "#412", None, None, 0);
}

// Ways through the bill.

#[test]
fn a_walk_shows_every_path_with_its_level_and_count() {
    let bill = "parent,component,quantity\nP,A,2\nP,NAIL,1\nA,B,3\nA,NAIL,5\nB,NAIL,7\n";
    let book = book(bill, &[]);
    let needs = needs(&book, &Options::default());
    let mut rows = Vec::new();
    needs.walk(&needs.builds[0], &mut |branch| {
        let taken = needs.taken(branch.source);
        let name = book.component_name(book.line(taken.line).component);
        rows.push(format!("{} {name} {} x {}", branch.level, branch.times, taken.quantity));
        true
    });
    assert_eq!(rows, ["1 A 1 x 2", "2 B 2 x 3", "3 NAIL 6 x 7", "2 NAIL 2 x 5", "1 NAIL 1 x 1"]);
    let mut count = 0;
    needs.walk(&needs.builds[0], &mut |_| {
        count += 1;
        count < 2
    });
    assert_eq!(count, 2, "a walk ends when it is told to");
}

#[test]
fn uses_are_summed_per_section_whatever_the_paths() {
    let bill = "parent,component,quantity\nP,A,2\nP,B,10\nA,B,3\nA,B,1\nB,NAIL,7\n";
    let book = book(bill, &[]);
    let needs = needs(&book, &Options::default());
    let uses: Vec<(usize, String)> = needs
        .uses(&needs.builds[0])
        .into_iter()
        .map(|used| (used.section, used.times.to_string()))
        .collect();
    // B is there 2 x (3 + 1) times under the first section and 10 times under the second.
    assert_eq!(uses, [(0, "8".to_owned()), (1, "10".to_owned())]);
    assert_eq!(flat(&book, &needs, &needs.builds[0]), "NAIL 126");
}

// Sharing.

#[test]
fn an_assembly_is_evaluated_once_per_set_of_the_values_it_uses() {
    let mut plans = "plan,length,width\n".to_owned();
    let mut bill = "parent,component,quantity,length\nWALL,NAIL,length / 1 ft,\nWALL,BAY,1,\n\
                    BAY,NAIL,3,\n"
        .to_owned();
    for plan in 0..40 {
        // Plans have three lengths, but every one passes one of two to its wall, and none to the bay.
        plans.push_str(&format!("P{plan},{} ft,{} in\n", 20 + plan % 3, 90 + plan));
        bill.push_str(&format!("P{plan},WALL,1,{} ft\n", 10 + plan % 2));
    }
    let book = book(&bill, &[("plans", &plans)]);
    let needs = needs(&book, &Options::default());
    let evaluated = |name: &str| {
        let of_name = |parent: Parent| book.parent_name(parent) == name;
        needs.instances.iter().filter(|instance| of_name(instance.parent)).count()
    };
    assert_eq!((evaluated("WALL"), evaluated("BAY")), (2, 1));
    assert_eq!(needs.instances.len(), 40 + 2 + 1);
    assert_eq!(flat(&book, &needs, &needs.builds[1]), "NAIL 14");
    let is_child_first = needs.instances.iter().enumerate().all(|(place, instance)| {
        instance.lines.iter().all(|taken| match taken.take {
            Take::Assembly(child) => child.index() < place,
            _ => true,
        })
    });
    assert!(is_child_first);
}

// Dimensions of plans.

#[test]
fn a_dimension_that_one_plan_lacks_is_told_with_the_plan() {
    let plans = "plan,length,width,bow\nP,24 ft,8 ft,5 in\nQ,20 ft,8 ft,\n";
    let bill = "parent,component,quantity,length\nP,ROOF,1,\nQ,ROOF,1,\nROOF,STICK,1,bow * 3\n";
    let expected = "error: bill.csv:4: column `length`: no value named `bow` here\n    bow * 3\n    ^\n  \
        hint: plan `Q` has no `bow`, though others do";
    check_errors(bill, &[("plans", plans)], &[expected]);
}

#[test]
fn a_span_beyond_the_limit_of_its_item_is_a_warning() {
    let items = "item,form,price,span_limit\nPANEL,sheet,1,16 in\nNAIL,count,1,\n";
    let bill = "parent,component,quantity,length,width,span,travel\nP,PANEL,1,4 ft,2 ft,16 in,\n\
        P,PANEL,1,4 ft,2 ft,length / 12,\nP,NAIL,1,,,24 in,-2 ft\n";
    let book = book(bill, &[("items", items), ("sizes", "item,length,width\nPANEL,8 ft,4 ft\n")]);
    let found = explode(&book, &Options::default()).unwrap();
    let expected =
        ["warning: bill.csv:3: column `span`: `PANEL` spans 24 in here, beyond its limit of 16 in"];
    assert_eq!(texts(&found.warnings), expected);
    let lines = &found.value.instances[0].lines;
    assert_eq!(lines[2].placed().travel, Length::from_inches(-24, 1));
    // What weighs nothing moves no load.
    assert_eq!(found.value.instances[0].load.out, None);
}
