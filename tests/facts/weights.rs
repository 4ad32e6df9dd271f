//! Weights of framing, sheets, glass, foam and liquids, as published.

use cutbill::quantity::Ratio;

use crate::line::Line;
use crate::{build, digits, pounds, ratio, run};

/// Weighs one whole size of an item whose row ends with these cells.
fn whole_size(columns: &str, cells: &str, size: &str, settings: &str) -> Line {
    let items = format!("item,form,price,price_unit,{columns}\nX,{cells}\n");
    let (header, size) = match size.split_once(" by ") {
        Some((length, width)) => ("item,length,width", format!("X,{length},{width}")),
        None => ("item,length", format!("X,{size}")),
    };
    let sizes = format!("{header}\n{size}\n");
    let bill = "parent,component,quantity\nP,X,1\n";
    let settings = format!("key,value\n{settings}");
    run(&[("items", &items), ("sizes", &sizes), ("bill", bill), ("settings", &settings)], 1)
}

// Sources: dressed sizes of PS 20 (three independent tables; a softwood inspection bureau confirms 1x6). The weights at
// 28 lb/ft3 are computed from them: section in square inches / 144 x 28.
#[test]
fn framing_weighs_by_its_dressed_section() {
    for (nominal, section) in [
        ("1x2", ratio(1125, 1000)),
        ("1x3", ratio(1875, 1000)),
        ("1x4", ratio(2625, 1000)),
        ("1x6", ratio(4125, 1000)),
        ("2x2", ratio(225, 100)),
        ("2x3", ratio(375, 100)),
        ("2x4", ratio(525, 100)),
        ("2x6", ratio(825, 100)),
        ("2x8", ratio(10_875, 1000)),
        ("2x10", ratio(13_875, 1000)),
        ("2x12", ratio(16_875, 1000)),
    ] {
        let cells = format!("linear,1,ft,{nominal},28 lb/ft3");
        let line = whole_size("nominal,density", &cells, "12 ft", "");
        assert_eq!(pounds(&line), section * ratio(28 * 12, 144), "{nominal}");
    }
    let line = whole_size("nominal,density", "linear,1,ft,2x4,28 lb/ft3", "1 ft", "");
    assert_eq!(build(&line).weight(), digits("1.0208"));
}

// Source: rule of 3.0 lb/ft2 per inch of softwood plywood, attributed to the plywood trade association's design
// specification; pounds per sheet of 4 ft by 8 ft computed from it.
#[test]
fn plywood_weighs_three_pounds_per_square_foot_and_inch() {
    for (thickness, sheet) in [
        ("1/4", 24),
        ("3/8", 36),
        ("15/32", 45),
        ("1/2", 48),
        ("19/32", 57),
        ("5/8", 60),
        ("23/32", 69),
        ("3/4", 72),
    ] {
        let cells = format!("sheet,1,ft2,{thickness},36 lb/ft3");
        let line = whole_size("thickness,density", &cells, "8 ft by 4 ft", "");
        assert_eq!(pounds(&line), Ratio::whole(sheet), "{thickness}");
    }
    // Computed: 19/32 for 15/32 on 192 ft2 of floor takes 72 lb off.
    let floor = |thickness: &str| {
        let items = format!(
            "item,form,thickness,density,price,price_unit\nX,sheet,{thickness},36 lb/ft3,1,ft2\n"
        );
        let bill = "parent,component,quantity,length,width,use\nP,X,6,96,48,piece\n";
        pounds(&run(
            &[("items", &items), ("sizes", "item,length,width\nX,96,48\n"), ("bill", bill)],
            1,
        ))
    };
    assert_eq!([floor("19/32"), floor("15/32")], [Ratio::whole(342), Ratio::whole(270)]);
}

// Source: charts of metal stockists (0.101 lb/in3 for alloy 2014; 0.0975 for pure aluminum; 2.80 g/cm3); 0.098 lb/in3
// is their common value, and the siding weights are computed with it.
#[test]
fn aluminum_sheets_weigh_what_stockists_print() {
    let sheet = |thickness: &str, density: &str, size: &str| {
        let cells = format!("sheet,1,ft2,{thickness},{density}");
        whole_size("thickness,density", &cells, size, "")
    };
    let weight = |line: &Line| build(line).weight();
    assert_eq!(
        pounds(&sheet("0.063 in", "0.101 lb/in3", "12 ft by 4 ft")),
        ratio(43_981_056, 1_000_000)
    );
    for (thickness, printed) in
        [("0.020", 1396), ("0.025", 1745), ("0.032", 2234), ("0.040", 2792), ("0.050", 3491)]
    {
        let line = sheet(&format!("{thickness} in"), "0.101 lb/in3", "144 by 48");
        assert_eq!((weight(&line) + 50) / 100, printed, "{thickness}");
    }
    assert_eq!(weight(&sheet("1/8", "0.0975 lb/in3", "96 by 48")), digits("56.16"));
    // A page that mixes cubic feet with pounds per cubic inch prints 0.049 lb.
    assert_eq!(weight(&sheet("3/16", "0.098 lb/in3", "96 by 48")), digits("84.672"));
    for (thickness, printed) in [
        ("0.019", "0.2681"),
        ("0.024", "0.3387"),
        ("0.030", "0.4234"),
        ("0.032", "0.4516"),
        ("0.040", "0.5645"),
    ] {
        let line = sheet(&format!("{thickness} in"), "0.098 lb/in3", "12 by 12");
        assert_eq!(weight(&line), digits(printed), "{thickness}");
    }
    let cells = "sheet,1,ft2,0.8 mm,2.80 g/cm3";
    let line = whole_size("thickness,density", cells, "2.5 m by 1.25 m", "weight_unit,kg\n");
    assert_eq!(build(&line).weight(), digits("7"), "kilograms");
    // Source: sheet-metal gauge pages, 16 gauge steel is defined as 40 oz/ft2.
    let line = whole_size("weight,weight_unit", "sheet,1,ft2,40,oz/ft2", "96 by 48", "");
    assert_eq!(pounds(&line), Ratio::whole(80));
}

// Sources in the rows.
#[test]
fn glass_foam_membrane_and_panels_weigh_as_published() {
    let weight = |cells: &str, size: &str| {
        build(&whole_size("thickness,density,weight,weight_unit", cells, size, "")).weight()
    };
    // Glass weight table that states its density.
    assert_eq!(weight("sheet,1,ft2,1/4,156.1 lb/ft3,,", "48 by 36"), digits("39.025"));
    // EPS type I of 0.90 lb/ft3 (ASTM C578, from two property sheets); pounds computed.
    assert_eq!(weight("sheet,1,ft2,1-1/2,0.90 lb/ft3,,", "96 by 48"), digits("3.6"));
    // TPO of 0.23 lb/ft2 for 45 mil (materials page), roll of 10 ft by 100 ft (product sheet); pounds computed.
    assert_eq!(weight("roll,1,ft2,,,0.23,lb/ft2", "100 ft by 10 ft"), digits("230"));
    // Computed, the density of 34 lb/ft3 is chosen: with 0.106 in for 2.7 mm it would be 9.6107.
    assert_eq!(weight("sheet,1,ft2,2.7 mm,34 lb/ft3,,", "96 by 48"), digits("9.6378"));
}

// Sources: the federal trailer label takes 8.3 lb/gal and 1 kg/L for water (public label script); propane 4.2 lb/gal
// (propane information pages), 4.7 gal in a 20-lb cylinder.
#[test]
fn water_and_propane_weigh_by_the_gallon() {
    let tank = |quantity: &str, weight: &str, settings: &str| {
        let items = format!("item,form,unit,price,weight,weight_unit\nX,bulk,gal,0,{weight}\n");
        let bill = format!("parent,component,quantity\nP,X,{quantity}\n");
        let settings = format!("key,value\n{settings}");
        let line = run(&[("items", &items), ("bill", &bill), ("settings", &settings)], 1);
        build(&line).weight()
    };
    assert_eq!(tank("40", "8.3,lb", ""), digits("332"));
    // Computed: 40 gal are 151.41647136 L. Neither is had from the other: 332 lb are 150.593 kg.
    assert_eq!(tank("40 gal", "1,kg/L", "weight_unit,kg\n"), digits("151.4165"));
    assert_eq!(tank("2 * 4.7 gal", "4.2,lb/gal", ""), digits("39.48"));
}

/// Weighs 1 ft of an item whose section is a square foot: its pounds per cubic foot.
fn per_cubic_foot(columns: &str, cells: &str) -> Ratio {
    let columns = format!("section,{columns}");
    pounds(&whole_size(&columns, &format!("linear,1,ft,1 ft2,{cells}"), "1 ft", ""))
}

// Source: density of wood = water x G x (1 + moisture), G by the volume at that moisture: USDA Wood Handbook chapter 4
// (FPL-GTR-190), restated by a university forestry page with the worked case of 0.40 at 12 %: 27.968 lb/ft3, 448 kg/m3.
#[test]
fn wood_weighs_by_specific_gravity_and_moisture() {
    let columns = "specific_gravity,moisture_percent";
    let density = per_cubic_foot(columns, "0.40,12");
    assert_eq!(cutbill::render::shown::fixed(&density, 3), "27.968");
    // A cubic foot is 0.028316846592 m3 and a pound 0.45359237 kg, exactly.
    let metric = density * ratio(45_359_237, 100_000_000);
    assert_eq!(metric, Ratio::whole(448) * ratio(28_316_846_592, 1_000_000_000_000));
    // Source: wood properties table of a state university, from the same handbook: Douglas-fir 0.48, western larch 0.52 and
    // western hemlock 0.45 weigh 34, 36 and 31 lb/ft3 air-dry. (Its firs and Engelmann spruce do not follow the formula.)
    for (gravity, printed) in [("0.48", "34"), ("0.52", "36"), ("0.45", "31")] {
        let density = per_cubic_foot(columns, &format!("{gravity},12"));
        assert_eq!(cutbill::render::shown::fixed(&density, 0), printed, "{gravity}");
    }
}

// Source: National Design Specification form on engineering reference pages, G by the dry volume:
// 62.4 x G / (1 + 0.009 G m) x (1 + m / 100); 0.42 at 12 % is 28.079 lb/ft3, computed. Water is 62.428 lb/ft3 here.
#[test]
fn wood_weighs_by_its_dry_gravity_too() {
    let water = per_cubic_foot("specific_gravity,moisture_percent", "1,0");
    assert_eq!(cutbill::render::shown::fixed(&water, 3), "62.428");
    let density = per_cubic_foot("dry_gravity,moisture_percent", "0.42,12");
    let solid = ratio(42, 100).checked_div(&ratio(104_536, 100_000)).unwrap() * ratio(112, 100);
    assert_eq!(density, &water * &solid);
    assert_eq!(cutbill::render::shown::fixed(&(solid * ratio(624, 10)), 3), "28.079");
}

// Sources: 490 lb/ft3 for steel (AISC practice, from memory); areas of W shapes (AISC dimension tables), pounds per foot
// computed; an angle of 2 x 2 x 1/8 with sharp corners, computed, at 0.2836 lb/in3 (tables are 1 to 2 % lower).
#[test]
fn steel_weighs_by_its_section() {
    let foot = |section: &str, density: &str| {
        let cells = format!("linear,1,ft,{section},{density}");
        cutbill::render::shown::fixed(
            &pounds(&whole_size("section,density", &cells, "1 ft", "")),
            3,
        )
    };
    for (section, printed) in [("2.68", "9.119"), ("3.83", "13.033"), ("2.96", "10.072")] {
        assert_eq!(foot(&format!("{section} in2"), "490 lb/ft3"), printed);
    }
    assert_eq!(foot("0.484375 in2", "0.2836 lb/in3"), "1.648");
}
