use crate::diag::Checked;
use crate::diag::Diagnostic;
use crate::model::Book;
use crate::model::Component;
use crate::model::Item;
use crate::model::ItemId;
use crate::model::PriceBasis;
use crate::model::SizeId;
use crate::model::summary;
use crate::quantity::Length;
use crate::quantity::Ratio;
use crate::quantity::text::exact;
use crate::read::Builder;
use crate::read::Cell;
use crate::read::Memory;
use crate::read::Percent;
use crate::read::Table;
use crate::read::read;

const PLANS: &str = "plan,length,width\nP,20 ft,8 ft\n";
const ITEMS: &str = "\
item,form,unit,price,price_unit,weight,weight_unit,nominal
PLY-18,sheet,,450,MSF,1.42,lb/ft2,
STUD,linear,,700,MBF,1,lb/ft,2x3
SCREW,count,,5,C,0.01,lb,
GLUE,bulk,gal,30,gal,9,lb/gal,
HOUR,labor,,40,hour,,,
";
const SIZES: &str = "item,length,width\nPLY-18,8 ft,4 ft\nSTUD,8 ft,\n";
const BILL: &str = "parent,component,quantity\nP,FLOOR,1\nFLOOR,SCREW,20\n";

/// Reads a book of small tables; those not given are the ones above.
fn book(tables: &[(&str, &str)]) -> Result<Checked<Book>, Vec<Diagnostic>> {
    let given = |name: &str| tables.iter().any(|(table, _)| *table == name);
    let defaults = [("plans", PLANS), ("items", ITEMS), ("sizes", SIZES), ("bill", BILL)];
    let defaults = defaults.into_iter().filter(|(name, _)| !given(name));
    let tables = defaults.chain(tables.iter().copied()).filter(|(_, text)| !text.is_empty());
    let files: Memory = tables.map(|(name, text)| (format!("{name}.csv"), text)).collect();
    read(&files)
}

#[track_caller]
fn valid(tables: &[(&str, &str)]) -> Book {
    match book(tables) {
        Ok(checked) => checked.value,
        Err(findings) => panic!("{}", findings[0]),
    }
}

/// Checks all findings but the notes.
#[track_caller]
fn check(tables: &[(&str, &str)], expected: &str) {
    let findings = match book(tables) {
        Ok(checked) => checked.warnings,
        Err(findings) => findings,
    };
    let shown = findings.iter().map(ToString::to_string).filter(|text| !text.starts_with("note"));
    let shown: String = shown.map(|text| text + "\n").collect();
    assert!(shown == expected, "found:\n{shown}\nexpected:\n{expected}");
}

/// Checks the findings of a bill with these lines under the headers of all its columns that take measures.
#[track_caller]
fn check_bill(lines: &str, expected: &str) {
    let head = "parent,component,quantity,length,width,height,use,cutout,when,with,scrap_percent\n";
    let bill = format!("{head}P,FLOOR,1,,,,,,,,\n{lines}");
    check(&[("bill", &bill), ("options", "option\nsolar\n")], expected);
}

#[test]
fn a_whole_book_has_no_findings() {
    check(&[], "");
}

#[test]
fn many_mistakes_come_back_at_once_in_file_order() {
    check(
        &[
            ("settings", "key,value\nlot,0\nlott,3\nas_of,3/4/2027\nlength_unit,lb\n"),
            ("plans", "plan,length,width\nP,20 ft,8 lb\nQ,,8 ft\np,1,1\n"),
            (
                "items",
                "item,form,unit,price,price_unit,weight,weight_unit,kerf,nominal\n\
                 PLY-18,sheet,,45,MSF,1.42,lb/ft2,8-Mar,\n\
                 STUD,linear,,700,MBF,1,lb/ft,,2x3\n\
                 SCREW,count,,5,,x,lb,,\n\
                 GLUE,bulk,gallon,30,gal,9,lb/gal,,2x7\n\
                 HOUR,labour,,40,hour,,,,\n\
                 screw,count,,1,,1,lb,,\n",
            ),
            ("sizes", "item,length,width\nPLY-18,8 ft,\nSTUD,8 ft,\nSTUDD,8 ft,\n"),
            (
                "bill",
                "parent,component,quantity\nP,FLOOR,1\nFLOOR,PLY18,20\nFLOOR,STUD,(2\nWALL,FLOOR,1\n\
                 FLOOR,WALL,spacng * 2\n",
            ),
        ],
        "\
error: settings.csv:2: column `value`: `0` is out of range (a whole number from 1 to 1000000)
warning: settings.csv:3: column `key`: no setting named `lott`
  hint: did you mean `lot`?
error: settings.csv:4: column `value`: `3/4/2027` is not a date
  hint: write year, month and day: `2027-03-15`
error: settings.csv:5: column `value`: `lb` is not a length unit
error: plans.csv:2: column `width`: `8 lb` is not a length
warning: plans.csv:3: plan `Q` has no bill lines
error: plans.csv:4: column `plan`: plan `p`, first defined at plans.csv:2, is defined again
error: items.csv:2: column `kerf`: the date `8-Mar` stands where a measure is expected, perhaps for `3/8`
  hint: format the column as text before typing fractions
error: items.csv:4: column `weight`: `x` is not a weight
error: items.csv:5: column `nominal`: `2x7` is out of range (a size of PS 20, from 1x2 to 4x12)
error: items.csv:6: column `form`: `labour` is none of `sheet`, `roll`, `linear`, `count`, `bulk` and `labor`
  hint: did you mean `labor`?
error: items.csv:7: column `item`: item `screw`, first defined at items.csv:4, is defined again
error: sizes.csv:2: column `width`: a size of item `PLY-18`, form sheet, needs a width
error: sizes.csv:4: column `item`: no item named `STUDD`
  hint: did you mean `STUD`?
error: bill.csv:3: column `component`: no item or assembly named `PLY18`
  hint: did you mean `PLY-18`?
error: bill.csv:4: column `quantity`: this `(` is never closed
    (2
    ^
error: bill.csv:5: column `component`: `FLOOR` contains itself: `FLOOR -> WALL -> FLOOR`
error: bill.csv:6: column `quantity`: no option, plan dimension or passed value named `spacng`
    spacng * 2
    ^
",
    );
}

#[test]
fn tables_and_columns_that_are_missing_or_unknown_are_named() {
    check(&[("plans", "")], "error: no table `plans`\n");
    check(
        &[("optoins", "option\nsolar\n"), ("note", "x\n1\n")],
        "\
warning: note.csv: `note` is no table of a book; it is not read
warning: optoins.csv: `optoins` is no table of a book; it is not read
  hint: did you mean `options`?
",
    );
    check(
        &[("plans", "plan,length,Length \nP,20 ft,1\n"), ("items", "itm,form\nSCREW,count\n")],
        "\
error: plans.csv: column `Length`: stands for `length`, as does column `length`
error: items.csv: table `items` has no column `item`
  hint: if that is column `itm`, rename it or map it in table `columns`
error: sizes.csv:2: column `item`: no item named `PLY-18`
error: sizes.csv:3: column `item`: no item named `STUD`
error: bill.csv:3: column `component`: no item or assembly named `SCREW`
",
    );
    check(
        &[("bill", "component\nSCREW\n")],
        "\
error: bill.csv: table `bill` has no column `parent`
  hint: an indented bill has a column `level` instead
",
    );
}

#[test]
fn headers_of_a_plant_are_mapped() {
    let plans = "Model,Overall Length,WIDTH,Secret\nP,20 ft,8 ft,x\n";
    let columns = "table,header,column\nplans,model,plan\n,overall_length,length\nplans,Secret,-\n";
    let book = valid(&[("plans", plans), ("columns", columns)]);
    let values: Vec<&str> = book.plans[0].values.iter().map(|(name, _)| name.as_str()).collect();
    assert_eq!((book.plans[0].name.as_str(), values), ("P", vec!["length", "width"]));
    assert_eq!(book.plans[0].attributes, []);
    let place = book.place(book.plans[0].row, Some("length"));
    assert_eq!(place.to_string(), "plans.csv:2: column `Overall Length`");
    check(
        &[(
            "columns",
            "table,header,column\nplans,Model,plan\nplan,x,y\nplans,Long,\nbill,Qty,quantty\n",
        )],
        "\
warning: columns.csv:2: column `header`: no header named `Model`
error: columns.csv:3: column `table`: no table named `plan`
  hint: did you mean `plans`?
error: columns.csv:4: column `column`: empty, but needed
error: columns.csv:5: column `column`: no column named `quantty`
  hint: did you mean `quantity`?
",
    );
}

#[test]
fn other_columns_of_plans_are_dimensions_or_attributes() {
    let plans = "plan,length,Slide Depth,Model-Year,Series\nP,20 ft,36 in,2027,meadow\n";
    let bill = "parent,component,quantity,when\nP,SCREW,slidedepth / 1 in,model_year >= 2027\n";
    let book = valid(&[("plans", plans), ("bill", bill)]);
    let values: Vec<&str> = book.plans[0].values.iter().map(|(name, _)| name.as_str()).collect();
    assert_eq!(values, ["length", "slidedepth", "model_year"]);
    assert_eq!(book.plans[0].values[1].1.to_length(), Some(Length::INCH * 36));
    assert_eq!(book.plans[0].attributes[0].name, "Series");
}

#[test]
fn names_of_one_kind_of_thing_are_not_given_to_another() {
    check(
        &[
            ("assemblies", "assembly\nFLOOR\np\nfloor\n"),
            ("options", "option\nfloor\nsolar panel\nwinter\nWINTER\nand\n"),
            ("bill", "parent,component\nP,FLOOR\nFLOOR,SCREW\nSCREW,GLUE\n"),
        ],
        "\
error: assemblies.csv:3: column `assembly`: name `p`, first defined at plans.csv:2, is defined again
error: assemblies.csv:4: column `assembly`: assembly `floor`, first defined at assemblies.csv:2, is defined again
error: options.csv:2: column `option`: name `floor`, first defined at assemblies.csv:2, is defined again
error: options.csv:3: column `option`: `solar panel` is out of range (a word of letters, digits and `_` that formulas do not use)
  hint: write `solar_panel`
error: options.csv:5: column `option`: option `WINTER`, first defined at options.csv:4, is defined again
error: options.csv:6: column `option`: `and` is out of range (a word of letters, digits and `_` that formulas do not use)
warning: bill.csv:4: assembly `SCREW` is on no bill
error: bill.csv:4: column `parent`: name `SCREW`, first defined at items.csv:4, is defined again
",
    );
}

#[test]
fn options_name_others_and_choices_hold() {
    check(
        &[(
            "options",
            "option,plan,standard,take_rate,choice,includes,excludes\n\
             a,,yes,70 %,roof,,c\nb,,x,40,roof,a; d,a\nc,Q,maybe,110,,c,\n",
        )],
        "\
error: options.csv:3: column `standard`: choice `roof` needs exactly one option, but `a` and `b` are chosen
warning: options.csv:3: column `take_rate`: `40` is out of range (the take rates of choice `roof` come to more than 100 %)
error: options.csv:3: column `includes`: no option named `d`
  hint: did you mean `a`?
error: options.csv:3: column `excludes`: option `b` excludes `a`, but both are chosen
error: options.csv:4: column `plan`: no plan named `Q`
  hint: did you mean `P`?
error: options.csv:4: column `standard`: `maybe` is none of `yes` and `no`
error: options.csv:4: column `take_rate`: `110` is out of range (0 to 100 %)
error: options.csv:4: column `includes`: `c` is out of range (other options)
",
    );
}

#[test]
fn units_must_fit_the_form() {
    check(
        &[(
            "items",
            "item,form,unit,price,price_unit,weight,weight_unit\n\
             PLY-18,sheet,ft,45,gal,1.42,lb/gal\n\
             STUD,linear,,700,MBF,9,lb\n\
             SCREW,count,,5,box,1,lbb\n\
             GLUE,bulk,,30,gal,9,lb/gal\n\
             HOUR,labor,ft2,40,each,1,lb\n\
             PLY-19,sheet,,45,gal,1.42,lb/gal\n\
             DAY,labor,,40,each,1,lb\n",
        )],
        "\
error: items.csv:2: column `unit`: `form sheet`: unit `ft` does not fit, a unit of area is expected
error: items.csv:3: column `price_unit`: a rate by MBF needs a nominal size
error: items.csv:4: column `price_unit`: no unit named `box`
error: items.csv:4: column `weight_unit`: no unit named `lbb`
  hint: did you mean `lb`?
error: items.csv:5: column `unit`: empty, but needed
  hint: an item measured out needs its unit, as in `gal`, `lb` or `ft`
error: items.csv:6: column `unit`: `form labor`: unit `ft2` does not fit, a unit of time is expected
error: items.csv:7: column `price_unit`: `45`: unit `gal` does not fit, each, an area or a weight is expected
error: items.csv:7: column `weight`: a weight by the gal needs a thickness
error: items.csv:8: column `price_unit`: `40`: unit `each` does not fit, a time is expected
warning: items.csv:8: column `weight`: weight is not used: labor weighs nothing
",
    );
}

#[test]
fn sizes_need_their_sides_once_each() {
    check(
        &[(
            "sizes",
            "item,length,width,available\nPLY-18,8 ft,4 ft,-1\nPLY-18,96,48,\nSTUD,8 ft,3 in,\nSTUD,0,,\n\
             SCREW,1 in,,\nSTUD,,,\n",
        )],
        "\
error: sizes.csv:2: column `available`: `-1` is out of range (a whole number, not below zero)
error: sizes.csv:3: size of item `PLY-18` `96 x 48`, first defined at sizes.csv:2, is defined again
warning: sizes.csv:4: column `width`: width is not used: a linear item is cut by its length alone
error: sizes.csv:5: column `length`: `0` is out of range (above zero)
warning: sizes.csv:6: row is not read: item `SCREW` is of form count, which has no sizes
",
    );
}

#[test]
fn prices_of_unknown_items_and_sizes_are_told() {
    check(
        &[(
            "prices",
            "item,length,price,price_unit,from_date,to_date,currency\n\
             SCREWS,,5,C,,,\nSTUD,10 ft,5,each,,,\nSTUD,8 ft,5,each,2027-02-01,2027-01-01,EURO\n",
        )],
        "\
warning: prices.csv:2: column `item`: no item named `SCREWS`
  hint: did you mean `SCREW`?
warning: prices.csv:3: column `length`: no size of item `STUD` named `10 ft`
error: prices.csv:4: column `to_date`: `2027-01-01` is out of range (not before `from_date`)
error: prices.csv:4: column `currency`: `EURO` is out of range (an ISO 4217 code of three letters)
",
    );
}

#[test]
fn what_is_missing_for_a_whole_answer_is_a_gap() {
    check(
        &[
            (
                "items",
                "item,form,price,price_unit,weight,weight_unit\nPLY-18,sheet,,,,\nSTUD,linear,0,ft,1,lb/ft\n\
                 SCREW,count,,,0,lb\nHOUR,labor,,,,\nFREE,count,0,,0,lb\nNAIL,count,,,,\n",
            ),
            ("sizes", "item,length,width,price\nPLY-18,8 ft,4 ft,40\nPLY-18,10 ft,4 ft,\n"),
            (
                "bill",
                "parent,component,quantity,length,width\nP,PLY-18,1,8 ft,2 ft\nP,STUD,1,3 ft,\nP,SCREW,1,,\n\
                 P,HOUR,1,,\nP,FREE,1,,\n",
            ),
        ],
        "\
gap: items.csv:2: column `weight`: item `PLY-18` has no weight
gap: items.csv:3: column `item`: item `STUD` has no size to be cut from
gap: items.csv:4: column `price`: item `SCREW` has no price
gap: items.csv:5: column `price`: item `HOUR` has no price
gap: sizes.csv:3: column `price`: item `PLY-18` has no price
",
    );
}

#[test]
fn burdens_are_laid_on_what_is_there() {
    check(
        &[(
            "burdens",
            "burden,order,basis,applies_to,percent,amount\nfreight,1,materials,,5,\nshop,2,labor_hours,,10,\n\
             late,3,shop,walls,5,\nduty,4,material,,,\n",
        )],
        "\
error: burdens.csv:2: column `basis`: no basis, or burden laid on earlier, named `materials`
  hint: did you mean `material`?
error: burdens.csv:3: column `percent`: percent is not used: basis `labor_hours` is no money; it takes an amount
error: burdens.csv:4: column `applies_to`: no item group, station, plan or item named `walls`
error: burdens.csv:5: column `percent`: empty, but needed
",
    );
    let burdens = "burden,order,basis,percent,amount\nlate,2,shop,10 %,\nshop,1,labor_hours,,30\n";
    let book = valid(&[("burdens", burdens)]);
    let shown = book.burdens.iter().map(|burden| (burden.name.as_str(), burden.amount.clone()));
    let half = Ratio::new(1, 2);
    assert_eq!(shown.collect::<Vec<_>>(), [("shop", half), ("late", None)]);
    assert_eq!(book.burdens[1].share, Ratio::new(1, 10));
}

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
error: bill.csv:11: column `cutout`: `5 ft2` is out of range (no more than length times width)
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
error: bill.csv:7: column `with`: `length = 3 ft` is out of range (names of your own)
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

#[test]
fn tables_for_later_questions_are_checked() {
    check(
        &[
            ("schedule", "plan,week,units\nP,2027-W11,3\nQ,2027-03-15,x\n"),
            ("stock", "item,quantity,kind\nSCREWS,500,on hand\nSCREW,,\n"),
        ],
        "\
warning: schedule.csv:3: column `plan`: no plan named `Q`
  hint: did you mean `P`?
error: schedule.csv:3: column `units`: `x` is not a number
warning: stock.csv:2: column `item`: no item named `SCREWS`
  hint: did you mean `SCREW`?
error: stock.csv:3: column `quantity`: empty, but needed
",
    );
}

/// Returns an item of a book with this one row of `items`, and these rows of `sizes`.
#[track_caller]
fn item(headers: &str, cells: &str, sizes: &str) -> (Book, Item) {
    let items = format!(
        "item,{headers}\nX,{cells}\nSCREW,count{}\n",
        ",".repeat(headers.matches(',').count())
    );
    let sizes = format!("item,length,width,price,price_unit\n{sizes}");
    let book = valid(&[("items", &items), ("sizes", &sizes)]);
    let item = book.items[0].clone();
    (book, item)
}

fn square_foot() -> Ratio {
    Length::FOOT.to_ratio().power(2)
}

/// Checks the weight of an item in pounds per `base` base units.
#[track_caller]
fn check_weight(headers: &str, cells: &str, sizes: &str, base: &Ratio, pounds: &str) {
    let (_, item) = item(headers, cells, sizes);
    assert_eq!(
        item.weight.map(|weight| exact(&(weight * base))).as_deref(),
        Some(pounds),
        "{cells}"
    );
}

#[test]
fn weights_are_brought_to_base_units() {
    let foot = Length::FOOT.to_ratio();
    let gallon = (Length::INCH.to_ratio().power(3)) * Ratio::whole(231);
    // Source: rule of 3 lb/ft2 for each inch of plywood, attributed to the plywood trade association: 36 lb/ft3.
    let by_density = "form,thickness,density";
    check_weight(by_density, "sheet,15/32,36 lb/ft3", "", &square_foot(), "1.40625");
    check_weight(by_density, "sheet,3/4,36 lb/ft3", "", &square_foot(), "2.25");
    // Source: computed from 2.70 g/cm3 and the pound of 0.45359237 kg: 0.024 in is 1.64592 kg/m2.
    let (_, aluminum) = item(by_density, "sheet,0.024 in,2.70 g/cm3", "");
    let square_meter = Ratio::whole(10).power(18);
    let kilogram = Ratio::decimal(45_359_237, 8);
    assert_eq!(
        aluminum.weight.map(|weight| exact(&(weight * square_meter * kilogram))).as_deref(),
        Some("1.64592")
    );
    // Source: framing lumber at 28 lb/ft3, computed from the dressed sizes of PS 20.
    let by_nominal = "form,nominal,density";
    check_weight(by_nominal, "linear,2x2,28 lb/ft3", "", &foot, "0.4375");
    check_weight(by_nominal, "linear,1x2,28 lb/ft3", "", &foot, "0.21875");
    // Source: stockist chart, aluminum of 0.101 lb/in3: 0.063 x 48 x 144 in weighs 43.981056 lb.
    let whole = Ratio::whole(4 * 12);
    check_weight(
        by_density,
        "sheet,0.063,174.528 lb/ft3",
        "",
        &(square_foot() * whole),
        "43.981056",
    );
    let given = "form,unit,weight,weight_unit";
    check_weight(given, "sheet,,48,lb/each", "X,8 ft,4 ft,,\n", &square_foot(), "1.5");
    check_weight(given, "sheet,,1.5,lb", "", &square_foot(), "1.5");
    check_weight(given, "sheet,,150,lb/square", "", &square_foot(), "1.5");
    check_weight(given, "linear,,1 lb/ft,", "", &foot, "1");
    check_weight(given, "count,,6,lb/M", "", &Ratio::ONE, "0.006");
    check_weight(given, "bulk,gal,9,lb/gal", "", &gallon, "9");
    check_weight(given, "bulk,lb,,", "", &Ratio::ONE, "1");
    check_weight(
        "form,unit,weight,weight_unit,pack",
        "count,,10,lb/box,5000/box",
        "",
        &Ratio::ONE,
        "0.002",
    );
}

/// Checks the price of an item: money for each, or for `base` base units.
#[track_caller]
fn check_price(cells: &str, sizes: &str, base: &Ratio, basis: PriceBasis, money: &str) {
    let (book, _) = item("form,unit,nominal,pack,price,price_unit", cells, sizes);
    let size = (!sizes.is_empty()).then_some(SizeId(0));
    let price = book.price(ItemId(0), size, None).expect("it has a price").price;
    assert_eq!((price.basis, exact(&(price.amount * base)).as_str()), (basis, money), "{cells}");
}

#[test]
fn prices_are_brought_to_their_basis() {
    let foot = Length::FOOT.to_ratio();
    let one = Ratio::ONE;
    check_price("sheet,,,,450,MSF", "", &square_foot(), PriceBasis::Measure, "0.45");
    check_price("sheet,,,,45,square", "", &square_foot(), PriceBasis::Measure, "0.45");
    check_price("sheet,,,,,", "X,8 ft,4 ft,38.40,\n", &one, PriceBasis::Each, "38.4");
    check_price("sheet,,,66/bunk,990,bunk", "", &one, PriceBasis::Each, "15");
    // Source: board feet are nominal thickness times nominal width times length over twelve: 2x3 is half of one a foot.
    check_price("linear,,2x3,,700,MBF", "", &foot, PriceBasis::Measure, "0.35");
    check_price("linear,,2x4,,0.75,BF", "", &foot, PriceBasis::Measure, "0.5");
    check_price("linear,,,,25,100 ft", "", &foot, PriceBasis::Measure, "0.25");
    check_price("linear,,,,120,cwt", "", &one, PriceBasis::Weight, "1.2");
    check_price("roll,,,,,", "X,100 ft,10 ft,6,ft\n", &square_foot(), PriceBasis::Measure, "0.6");
    check_price("count,,,,5,C", "", &one, PriceBasis::Each, "0.05");
    check_price("count,,,5000/box,75,box", "", &one, PriceBasis::Each, "0.015");
    check_price("count,,,,\"$1,250.50\",", "", &one, PriceBasis::Each, "1250.5");
    check_price("bulk,ft,,500 ft/reel,60,reel", "", &foot, PriceBasis::Measure, "0.12");
    check_price("labor,,,,36,", "", &Ratio::whole(60), PriceBasis::Measure, "36");
}

#[test]
fn edges_lock_where_the_net_width_is_below_every_width() {
    let edges = |sizes| item("form,net_width", "sheet,47-1/2 in", sizes).1.has_factory_edges;
    assert!(edges("X,8 ft,4 ft,,\nX,10 ft,4 ft,,\n"));
    assert!(!edges("X,8 ft,4 ft,,\nX,10 ft,47-1/2 in,,\n"));
    assert!(!edges(""));
}

/// Returns a workbook-like table of one row.
fn table(name: &str, headers: &[&str], cells: &[Cell]) -> Table {
    let mut builder = Builder::new(name, "book.xlsx", Some(name));
    for (column, header) in headers.iter().enumerate() {
        builder.push(1, column, Cell::Text(header)).unwrap();
    }
    for (column, cell) in cells.iter().enumerate() {
        builder.push(2, column, *cell).unwrap();
    }
    builder.finish().unwrap().value
}

fn tables(percent: Percent, length: Cell) -> Vec<Table> {
    let number = |text| Cell::Number { text, percent: Percent::No };
    vec![
        table("Plans", &["Plan", "Length"], &[Cell::Text("P"), number("240")]),
        table(
            "Items",
            &["Item", "Form", "Price", "Weight"],
            &[Cell::Text("STUD"), Cell::Text("linear"), number("2.5"), number("1")],
        ),
        table("Sizes", &["Item", "Length"], &[Cell::Text("STUD"), number("96")]),
        table(
            "Bill",
            &["Parent", "Component", "Quantity", "Length", "Scrap %"],
            &[
                Cell::Text("P"),
                Cell::Text("STUD"),
                number("4"),
                length,
                Cell::Number { text: "0.05", percent },
            ],
        ),
        table(
            "Columns",
            &["table", "header", "column"],
            &[Cell::Text("bill"), Cell::Text("Scrap %"), Cell::Text("scrap_percent")],
        ),
    ]
}

#[track_caller]
fn check_cells(percent: Percent, length: Cell, expected: &str) {
    let findings = super::book(&tables(percent, length)).warnings;
    let shown: String = findings.iter().map(|finding| finding.to_string() + "\n").collect();
    assert!(shown == expected, "found:\n{shown}\nexpected:\n{expected}");
}

#[test]
fn cells_of_a_workbook_are_read_by_their_kind() {
    let number = Cell::Number { text: "36", percent: Percent::No };
    check_cells(Percent::Yes, number, "");
    check_cells(
        Percent::Unknown,
        number,
        "\
error: book.xlsx[Bill]:2: column `Scrap %`: `0.05` may be 0.05 % or a hundred times that; the file does not say
  hint: set `percent_cells` in table `settings` to `fraction` or `number`
",
    );
    check_cells(
        Percent::Yes,
        Cell::Date { date: jiff::civil::date(1932, 3, 1) },
        "\
error: book.xlsx[Bill]:2: column `Length`: the date `1932-03-01` stands where a measure is expected, perhaps for `3/32`
  hint: format the column as text before typing fractions
",
    );
    check_cells(
        Percent::Yes,
        Cell::Error("#REF!"),
        "error: book.xlsx[Bill]:2: column `Length`: the spreadsheet holds the error `#REF!`\n",
    );
}

#[test]
fn percents_mean_the_same_however_they_are_written() {
    let number = Cell::Number { text: "36", percent: Percent::No };
    let book = super::book(&tables(Percent::Yes, number)).value;
    assert_eq!(Some(book.lines[0].scrap.clone()), Ratio::new(1, 20));
    assert_eq!(
        book.lines[0].length.as_ref().and_then(|side| side.as_constant()?.to_length()),
        Some(Length::INCH * 36)
    );
    let settings = table(
        "settings",
        &["key", "value"],
        &[Cell::Text("percent_cells"), Cell::Text("fraction")],
    );
    let mut unclear = tables(Percent::Unknown, number);
    unclear.push(settings);
    let book = super::book(&unclear).value;
    assert_eq!(Some(book.lines[0].scrap.clone()), Ratio::new(1, 20));
}

#[test]
fn the_digest_is_of_the_content_not_of_the_file() {
    let number = Cell::Number { text: "36", percent: Percent::No };
    let workbook = super::book(&tables(Percent::Yes, number)).value;
    let csv = |bill| {
        valid(&[
            ("plans", "length;plan\n240;P\n"),
            ("items", "item,form,price,weight\nSTUD,linear,$2.50,1\n"),
            ("sizes", "item,length\nSTUD,96\n"),
            ("bill", bill),
        ])
        .digest
    };
    let bill = "parent,component,quantity,length,scrap percent\nP,STUD,4,36.0,5 %\n";
    assert_eq!(csv(bill), workbook.digest);
    assert_eq!(workbook.digest.len(), 64);
    let more = "parent,component,quantity,length,scrap percent\nP,STUD,5,36.0,5 %\n";
    assert_ne!(csv(more), workbook.digest);
    let two = "parent,component\nP,STUD\nP,SCREW\n";
    let swapped = "parent,component\nP,SCREW\nP,STUD\n";
    let digest = |bill| valid(&[("bill", bill)]).digest;
    assert_ne!(digest(two), digest(swapped));
}

#[test]
fn a_file_with_decimal_commas_is_the_same_book() {
    let plain = valid(&[]);
    let items = ITEMS.replace("0.01", "0,01").replace("1.42", "1,42").replace(',', ";");
    let items = items.replace("0;01", "0,01").replace("1;42", "1,42");
    let commas = valid(&[("items", &items)]);
    assert_eq!(commas.items[0].weight, plain.items[0].weight);
    assert_eq!(commas.digest, plain.digest);
    check(
        &[("items", "item,form,weight\nSCREW,count,\"1,5\"\n"), ("sizes", "item\n")],
        "\
error: items.csv:2: column `weight`: `1,5` is not a number
  hint: numbers in this file use a point
",
    );
}

#[test]
fn a_summary_counts_what_is_there() {
    let summary = summary(&valid(&[]));
    let counts = (summary.plans, summary.assemblies, summary.items, summary.options, summary.lines);
    assert_eq!(counts, (1, 1, 5, 0, 2));
    assert_eq!(summary.unused_items, ["PLY-18", "STUD", "GLUE", "HOUR"]);
    assert_eq!(summary.unpriced_items, Vec::<String>::new());
}

#[test]
fn attributes_and_settings_are_kept() {
    let book = valid(&[
        (
            "settings",
            "key,value\nRevision,B\nas-of,2027-03-15\nlength_unit,mm\noffcut_value_percent,12.5 %\n",
        ),
        ("plans", "plan,length\nP,6000\n"),
        ("bill", "parent,component,quantity,drawing\nP,SCREW,,D-7\nP,GLUE,1,\n"),
    ]);
    assert_eq!(book.settings.revision, "B");
    assert_eq!(book.settings.as_of, Some(jiff::civil::date(2027, 3, 15)));
    assert_eq!(book.settings.offcut_value, 1250);
    assert_eq!(book.plans[0].values[0].1.to_length(), Some(Length::MILLIMETER * 6000));
    assert_eq!(book.lines[0].attributes[0].value, "D-7");
    assert_eq!(book.lines[0].component, Component::Item(ItemId(2)));
    assert_eq!(book.lines[1].attributes, []);
}
