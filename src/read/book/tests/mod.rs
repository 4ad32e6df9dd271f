mod bill;
mod changes;
mod measures;
mod schedule;
mod stock;
mod terms;
mod vendors;

use crate::diag::Checked;
use crate::diag::Diagnostic;
use crate::diag::Severity;
use crate::model::Book;
use crate::quantity::Length;
use crate::quantity::Ratio;
use crate::read::Memory;
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
        Err(findings) => {
            let is_error = |finding: &&Diagnostic| finding.severity == Severity::Error;
            panic!("{}", findings.iter().find(is_error).unwrap_or(&findings[0]))
        }
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
fn settings_of_prices_are_checked() {
    let settings = "key,value\nlearning_percent,40 %\nlearning_form,steep\nlearning_units,0\nprice_ending,95\n";
    check(
        &[("settings", settings)],
        "error: settings.csv:2: column `value`: `40 %` is out of range (50 to 100 %)\n\
         error: settings.csv:3: column `value`: `steep` is none of `unit` and `average`\n\
         error: settings.csv:4: column `value`: `0` is out of range (a whole number from 1 to 10000)\n\
         error: settings.csv:5: column `value`: `95` is not a price ending\n  hint: write `to 5` for a multiple, or `ending 95` for last digits\n",
    );
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
error: plans.csv:4: column `plan`: plan `p`, first defined at plans.csv:2, is defined again
error: items.csv:2: column `kerf`: the date `8-Mar` stands where a measure is expected, perhaps for `3/8`
  hint: format the column as text before typing fractions
error: items.csv:4: column `weight`: `x` is not a weight
error: items.csv:5: column `nominal`: `2x7` is not a nominal size of PS 20, from 1x2 to 4x12
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
error: plans.csv: column `Length`: a column `length` stands there already
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
error: options.csv:3: column `option`: `solar panel` is not a word of letters, digits and `_` that begins with a letter
  hint: write `solar_panel`
error: options.csv:5: column `option`: option `WINTER`, first defined at options.csv:4, is defined again
error: options.csv:6: column `option`: `and` has a meaning of its own in formulas, so nothing else is named so
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
warning: options.csv:3: column `take_rate`: the take rates of choice `roof` come to 110 %, more than 100 %
error: options.csv:3: column `includes`: no option named `d`
  hint: did you mean `a`?
error: options.csv:3: column `excludes`: option `b` both includes and excludes `a`
error: options.csv:4: column `plan`: no plan named `Q`
  hint: did you mean `P`?
error: options.csv:4: column `standard`: `maybe` is none of `yes` and `no`
error: options.csv:4: column `take_rate`: `110` is out of range (0 to 100 %)
error: options.csv:4: column `includes`: option `c` can neither include nor exclude itself
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
error: items.csv:2: column `unit`: unit `ft` does not fit, for form sheet a unit of area is expected
error: items.csv:3: column `price_unit`: a rate by MBF needs a nominal size
error: items.csv:4: column `price_unit`: no unit named `box`
error: items.csv:4: column `weight_unit`: no unit named `lbb`
  hint: did you mean `lb`?
error: items.csv:5: column `unit`: empty, but needed
  hint: an item measured out needs its unit, as in `gal`, `lb` or `ft`
error: items.csv:6: column `unit`: unit `ft2` does not fit, for form labor a unit of time is expected
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
warning: prices.csv:3: column `length`: item `STUD` has no size `10 ft`
error: prices.csv:4: column `to_date`: `2027-01-01` is out of range (not before `from_date`)
error: prices.csv:4: column `currency`: `EURO` is not a currency code of three letters (ISO 4217)
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
