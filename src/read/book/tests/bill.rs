use super::*;

#[test]
fn uses_must_fit_the_form_and_need_their_sides() {
    check_bill(
        "\
FLOOR,PLY-18,1,4 ft,2 ft,,fill,,,,
FLOOR,GLUE,1,4 ft,2 ft,,cover,,,,
FLOOR,STUD,1,4 ft,2 ft,,cover,,,,
FLOOR,WALL,1,4 ft,2 ft,,piece,,,,
FLOOR,PLY-18,1,4 ft,,,piece,,,,
FLOOR,PLY-18,1,4 ft,,,cover,,,,
FLOOR,STUD,1,,,,run,,,,
FLOOR,STUD,2,,,,,,,,
WALL,STUD,2,,,,glued,,,,
",
        "\
error: bill.csv:3: column `use`: use `fill` does not fit form sheet
error: bill.csv:4: column `use`: use `cover` does not fit form bulk without a `coverage` by area
error: bill.csv:5: column `use`: use `cover` does not fit form linear without `net_width`
error: bill.csv:6: column `use`: use `piece` does not fit an assembly
error: bill.csv:7: column `width`: a piece of `PLY-18` needs a width
error: bill.csv:8: column `width`: use `cover` of `PLY-18` needs a width or height
error: bill.csv:9: column `length`: use `run` of `STUD` needs a length
error: bill.csv:11: column `use`: `glued` is none of `count`, `piece`, `cover`, `run`, `fill` and `opening`
",
    );
}

#[test]
fn constants_must_be_of_the_right_kind_and_size() {
    check_bill(
        "\
FLOOR,SCREW,20 lb,,,,,,,,
FLOOR,SCREW,-20,,,,,,,,
FLOOR,SCREW,1000000000000,,,,,,,,
FLOOR,GLUE,2 ft,,,,,,,,
FLOOR,GLUE,1 qt,,,,,,,,
FLOOR,HOUR,45 min,,,,,,,,
FLOOR,PLY-18,1,4 ft,2 lb,,,,,,
FLOOR,PLY-18,1,4 ft,0,,,,,,
FLOOR,PLY-18,1,2 ft,2 ft,,,5 ft2,,,
FLOOR,PLY-18,1,2 ft,2 ft,,,3,,,
FLOOR,PLY-18,1,2 ft,2 ft,,,,,,100
FLOOR,PLY-18,1,2 ft,2 ft,,,,,,6 %
FLOOR,PLY-18,1,9 ft,2 ft,,,,,,
FLOOR,PLY-18,1,4 ft,8 ft,,,,,,
FLOOR,STUD,1,8-Apr,,,,,,,
FLOOR,STUD,1,15/32,,,,,,,
FLOOR,STUD,1,1 ft - 2,,,,,,,
FLOOR,STUD,12 ft,,,,,,,,
",
        "\
error: bill.csv:3: column `quantity`: `20 lb` is not a number
error: bill.csv:4: column `quantity`: quantity of `SCREW` comes to -20, below zero
  hint: only lines of an option take away
error: bill.csv:5: column `quantity`: quantity of `SCREW` comes to 1000000000000, which cannot be meant
error: bill.csv:6: column `quantity`: `2 ft` is not a number or volume
error: bill.csv:9: column `width`: `2 lb` is not a length
error: bill.csv:10: column `width`: `0` is out of range (above zero)
error: bill.csv:11: column `cutout`: a cutout of 5 ft2 is larger than the 4 ft2 it is cut from
error: bill.csv:12: column `cutout`: `3` is not an area
  hint: write the unit, as in `2 ft2`
error: bill.csv:13: column `scrap_percent`: `100` is out of range (0 to below 100 %)
warning: bill.csv:14: column `scrap_percent`: scrap of 6 % on a nested line; nesting already counts the cutting waste
gap: bill.csv:15: column `length`: piece of 108 in x 24 in is larger than every size of `PLY-18`, the largest being 96 in x 48 in
error: bill.csv:17: column `length`: the date `8-Apr` stands where a measure is expected, perhaps for `4/8`
  hint: format the column as text before typing fractions
error: bill.csv:19: column `length`: a number cannot be taken from a length
    1 ft - 2
         ^
  hint: if the number lacks its unit, write it so: `3 in`
",
    );
}

#[test]
fn scrap_of_an_assembly_is_told_as_unused() {
    check_bill(
        "FLOOR,WALL,1,,,,,,,,10\nWALL,SCREW,1,,,,,,,,10\n",
        "warning: bill.csv:3: column `scrap_percent`: scrap is not used: scrap is of items; give it on the lines of the assembly\n",
    );
}

#[test]
fn options_may_take_away() {
    check_bill("FLOOR,SCREW,20,,,,,,,,\nsolar,SCREW,-2,,,,,,,,\nFLOOR,SCREW,-2,,,,,,solar,,\n", "");
}

#[test]
fn names_that_can_never_be_known_are_told_with_a_marker() {
    check_bill(
        "\
FLOOR,SCREW,2 * windws + 1,,,,,,,,
FLOOR,SCREW,1,,,,,,NOT sollar,,
FLOOR,WALL,1,,,,,,,windows = 3; spacing = spacin / 2,
WALL,SCREW,windows + openings / 1 ft2 + cutout / 1 ft2 + height / 1 ft,,,,,,,,
WALL,FRAME,1,,,,,,,length = 3 ft; 3,
FRAME,SCREW,1,,,,,,,,
",
        "\
error: bill.csv:3: column `quantity`: no option, plan dimension or passed value named `windws`
    2 * windws + 1
        ^
  hint: did you mean `windows`?
error: bill.csv:4: column `when`: no option, plan dimension or passed value named `sollar`
    NOT sollar
        ^
  hint: did you mean `solar`?
error: bill.csv:5: column `with`: no option, plan dimension or passed value named `spacin`
    spacin / 2
    ^
  hint: did you mean `spacing`?
error: bill.csv:7: column `with`: `length` has a meaning of its own in formulas, so nothing else is named so
  hint: use the column `length`
error: bill.csv:7: column `with`: `3` is not a named value
  hint: write `name = value`, parted by `;`
",
    );
}

#[test]
fn each_cycle_is_told_once_with_its_path() {
    check(
        &[("bill", "parent,component\nP,A\nA,B\nB,C\nC,A\nC,C\nP,B\nP,P\n")],
        "\
error: bill.csv:5: column `component`: `A` contains itself: `A -> B -> C -> A`
error: bill.csv:6: column `component`: `C` contains itself: `C -> C`
error: bill.csv:8: column `component`: plan `P` cannot be a component
",
    );
}

#[test]
fn assemblies_without_lines_or_use_are_told() {
    check(
        &[
            ("assemblies", "assembly\nDECK\nSPARE\n"),
            ("bill", "parent,component\nP,DECK\nP,WALL\nWALL,SCREW\nWALLL,SCREW\n"),
        ],
        "\
warning: assemblies.csv:3: assembly `SPARE` is on no bill
warning: bill.csv:2: column `component`: assembly `DECK` has no bill lines
warning: bill.csv:5: assembly `WALLL` is on no bill
  hint: did you mean `WALL`?
",
    );
}

const INDENTED: &str = "\
level,component,quantity
0,P,
1,FLOOR,1
2,FRAME,2
3,STUD,4
2,SCREW,20
1,FRAME,1
2,STUD,4
1,SCREW,5
";

#[test]
fn an_indented_bill_is_the_same_book() {
    let flat = "parent,component,quantity\nP,FLOOR,1\nFLOOR,FRAME,2\nFRAME,STUD,4\nFLOOR,SCREW,20\n\
                P,FRAME,1\nP,SCREW,5\n";
    let lines = |bill| {
        let book = valid(&[("bill", bill)]);
        let line = |line: &crate::model::BillLine| {
            let quantity = line.quantity.as_constant().map(|measure| measure.value.to_string());
            let parent = book.parent_name(line.parent).to_owned();
            (parent, book.component_name(line.component).to_owned(), quantity)
        };
        book.lines.iter().map(line).collect::<Vec<_>>()
    };
    assert_eq!(lines(INDENTED), lines(flat));
}

#[test]
fn faults_of_levels_are_told() {
    let bill = INDENTED.replace("2,STUD,4\n1,SCREW", "2,STUD,5\n1,SCREW");
    check(
        &[("bill", &bill)],
        "\
error: bill.csv:7: column `component`: assembly `FRAME`, first defined at bill.csv:4, is defined again
  hint: its lines differ from those it has there
",
    );
    check(
        &[("bill", "level,component\n1,FLOOR\n0,P\n2,SCREW\nx,GLUE\n,GLUE\n")],
        "\
error: bill.csv:2: column `level`: a line of a lower level stands before any plan
error: bill.csv:4: column `level`: level goes from 0 to 2; a level is missing
error: bill.csv:5: column `level`: `x` is out of range (a whole number, not below zero)
error: bill.csv:6: column `level`: empty, but needed
",
    );
}
