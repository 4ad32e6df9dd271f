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
use crate::read::Limits;
use crate::read::Percent;
use crate::read::Table;

use super::*;

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
pub(super) fn table(name: &str, headers: &[&str], cells: &[Cell]) -> Table {
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
    let findings = crate::read::book::book(&tables(percent, length), &Limits::default()).warnings;
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
    let book = crate::read::book::book(&tables(Percent::Yes, number), &Limits::default()).value;
    assert_eq!(Some(book.lines[0].further.scrap.clone()), Ratio::new(1, 20));
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
    let book = crate::read::book::book(&unclear, &Limits::default()).value;
    assert_eq!(Some(book.lines[0].further.scrap.clone()), Ratio::new(1, 20));
}

#[test]
fn the_digest_is_of_the_content_not_of_the_file() {
    let number = Cell::Number { text: "36", percent: Percent::No };
    let workbook = crate::read::book::book(&tables(Percent::Yes, number), &Limits::default()).value;
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
    assert_eq!(book.lines[0].further.attributes[0].value, "D-7");
    assert_eq!(book.lines[0].component, Component::Item(ItemId(2)));
    assert_eq!(book.lines[1].further.attributes, []);
}

#[test]
fn a_price_in_a_foreign_sign_is_refused() {
    let items = "item,form,price,weight\nSCREW,count,€ 4,0.01 lb\n";
    let book = book(&[("items", items), ("bill", "parent,component\nP,SCREW\n"), ("sizes", "")]);
    let errors: Vec<String> = book.unwrap_err().iter().map(ToString::to_string).collect();
    assert_eq!(
        errors,
        ["error: items.csv:2: column `price`: `€ 4`: unit `€` does not fit, USD is expected\n  \
          hint: prices in other currencies stand in table `prices`, with their `currency`"]
    );
}

#[test]
fn wood_without_its_moisture_is_told_and_taken_at_12_percent() {
    let nominal = "form,nominal,specific_gravity,moisture_percent";
    let weight = |cells: &str| item(nominal, cells, "").1.weight;
    assert_eq!(weight("linear,2x4,0.40,"), weight("linear,2x4,0.40,12"));
    assert!(weight("linear,2x4,0.40,19") > weight("linear,2x4,0.40,12"));
}

#[test]
fn what_is_wrong_with_gravity_moisture_section_and_span_is_told_at_its_cell() {
    let items = "item,form,price,nominal,specific_gravity,dry_gravity,moisture_percent,section,span_limit\n\
        A,linear,1,2x4,0.4,,,,\nB,linear,1,2x4,0.4,0.35,12,,\nC,linear,1,2x4,0.4,,-3,,\nD,linear,1,2x4,40,,12,,\n\
        E,linear,1,,0.4,,12,,\nF,linear,1,,0.4,,12,0 in2,0 in\n";
    let expected = "\
warning: items.csv:2: column `moisture_percent`: the moisture of `A` is not said; 12 % is taken
error: items.csv:3: column `dry_gravity`: `specific_gravity` and `dry_gravity` are given, but only one of them is meant to be
error: items.csv:4: column `moisture_percent`: `-3` is out of range (0 to 300 %)
error: items.csv:5: column `specific_gravity`: `40` is out of range (above 0 to 2)
error: items.csv:6: column `specific_gravity`: a density needs a section or nominal size
error: items.csv:7: column `section`: `0 in2` is out of range (above zero)
error: items.csv:7: column `span_limit`: `0 in` is out of range (above zero)
";
    let sizes = "item,length\nA,8 ft\n";
    check(&[("items", items), ("sizes", sizes), ("bill", "parent,component\nP,A\n")], expected);
}

#[test]
fn a_span_below_zero_and_a_travel_that_is_no_length_are_errors() {
    let bill = "parent,component,quantity,span,travel\nP,SCREW,1,-16,\nP,SCREW,1,16 in,3 lb\n";
    let expected = "\
error: bill.csv:2: column `span`: `-16` is out of range (not below zero)
error: bill.csv:3: column `travel`: `3 lb` is not a length
";
    check(&[("bill", bill)], expected);
}
