//! Cost sheets, prices and what moves them, over small books whose figures can be reckoned by hand.

#![expect(clippy::unwrap_used, reason = "what cannot be had ends the test")]

#[path = "support/line.rs"]
mod line;

use std::collections::BTreeMap;

use cutbill::diag::Diagnostic;
use cutbill::explode;
use cutbill::model::CaseRow;
use cutbill::nest;
use cutbill::price::{
    self, Assumption, Case, Options, PERCENTILES, PlanSheet, PriceSheet, SectionKind, Target, What,
};
use cutbill::quantity::Ratio;
use cutbill::read::Memory;
use cutbill::rollup;
use cutbill::watch::Silent;

use line::{Line, read, roll_up};

const PLAN: (&str, &str) = ("plans", "plan,length,width\nP,10 ft,8 ft\n");

/// Runs the line over tables given by name, for lots of so many units.
#[track_caller]
fn run(tables: &[(&str, &str)], lot: u32) -> Line {
    let files: BTreeMap<String, Vec<u8>> = [PLAN]
        .iter()
        .chain(tables)
        .map(|(name, text)| (format!("{name}.csv"), text.as_bytes().to_vec()))
        .collect();
    roll_up(read(&files), &explode::Options::default(), lot, 1)
}

#[track_caller]
fn priced(line: &Line, options: &Options) -> (PriceSheet, Vec<String>) {
    match price::price(&line.book, &line.needs, &line.rollup, options) {
        Ok(checked) => (checked.value, shown(&checked.warnings)),
        Err(errors) => panic!("{:?}", shown(&errors)),
    }
}

fn shown(findings: &[Diagnostic]) -> Vec<String> {
    findings.iter().map(ToString::to_string).collect()
}

fn cutting(lot: u32) -> rollup::Options {
    rollup::Options {
        lot: Some(lot),
        nest: nest::Options { effort: 1, ..nest::Options::default() },
    }
}

/// Returns the findings of a roll-up.
fn findings(line: &Line) -> Vec<String> {
    let rolled = rollup::rollup(&line.book, &line.needs, cutting(line.rollup.lot), &Silent);
    shown(&rolled.unwrap().warnings)
}

/// Returns the cents of one unit that a section comes to.
fn unit(plan: &PlanSheet, kind: SectionKind) -> i128 {
    plan.total(kind).unit
}

fn percent(percent: i128) -> Ratio {
    Ratio::new(percent, 100).unwrap()
}

const ITEMS: &str = "item,form,unit,price,price_unit,weight,group\n\
    PANEL,sheet,ft2,,,1 lb/ft2,sheet goods\n\
    GLUE,bulk,gal,25,gal,9 lb/gal,supplies\n\
    WORK,labor,hour,30,hour,,labor\n";
const SIZES: &str = "item,length,width,price,price_unit\nPANEL,96,48,32,each\n";
const BILL: &str = "parent,component,quantity,length,width,use\n\
    P,PANEL,3,48,48,piece\nP,GLUE,2,,,\nP,WORK,10,,,\n";
const BURDENS: &str = "burden,order,basis,applies_to,percent,amount\n\
    freight,1,material,,10,\npayroll,2,labor_money,,20,\noverhead,3,labor_hours,,,5\n\
    set-up,4,lot,,,100\nwarranty,5,unit,,,7\nselling,6,warranty,,10,\n";

/// One and a half panels of two, two gallons, ten hours.
fn small(lot: u32) -> Line {
    run(&[("items", ITEMS), ("sizes", SIZES), ("bill", BILL), ("burdens", BURDENS)], lot)
}

// Computed: three pieces of half a panel are 1.5 of 2 panels bought, so 16 of 64 are waste.
#[test]
fn a_sheet_parts_material_waste_labor_and_burdens() {
    let line = small(1);
    let (sheet, warnings) = priced(&line, &Options::default());
    assert_eq!(warnings, Vec::<String>::new());
    let plan = &sheet.plans[0];
    let lines: Vec<(SectionKind, String, i128)> = plan
        .sections
        .iter()
        .flat_map(|section| section.lines.iter().map(|line| (section.kind, line)))
        .map(|(kind, own)| {
            let name = match &own.what {
                What::Group(group) => group.clone(),
                What::Burden(id) => line.book.burdens[id.index()].name.clone(),
                What::Labor { hours, rate, crew, .. } => {
                    format!("{hours} h at {} by {crew}", rate.as_ref().unwrap())
                }
                other => format!("{other:?}"),
            };
            (kind, name, own.amounts.unit)
        })
        .collect();
    let expected = [
        (SectionKind::Material, "sheet goods", 4800),
        (SectionKind::Material, "supplies", 5000),
        (SectionKind::Material, "Waste", 1600),
        (SectionKind::Freight, "freight", 1140),
        (SectionKind::Labor, "10 h at 30 by 1", 30_000),
        (SectionKind::LaborBurdens, "payroll", 6000),
        (SectionKind::LaborBurdens, "overhead", 5000),
        (SectionKind::OtherBurdens, "set-up", 10_000),
        (SectionKind::OtherBurdens, "warranty", 700),
        (SectionKind::OtherBurdens, "selling", 6424),
    ];
    let expected = expected.map(|(kind, name, cents)| (kind, name.to_owned(), cents));
    assert_eq!(lines, expected);
    assert_eq!((plan.factory.unit, plan.rounding.unit), (70_664, 0));
}

#[test]
fn margin_markup_and_given_price_are_quoted() {
    let tables = [
        ("plans", "plan,target_margin,list_price\nP,25 %,1200\n"),
        ("items", ITEMS),
        ("sizes", SIZES),
        ("bill", BILL),
        ("settings", "key,value\nprice_ending,ending 95\n"),
    ];
    // Material 114.00 and labor 300.00 are 414.00; over 0.75 that is 552.00.
    let line = run(&tables, 1);
    let (sheet, _) = priced(&line, &Options::default());
    let quotes: Vec<(i128, i128)> =
        sheet.plans[0].quotes.iter().map(|quote| (quote.price, quote.profit)).collect();
    assert_eq!(quotes, [(59_500, 18_100), (120_000, 78_600)]);
    let markup = Options { target: Some(Target::Markup(percent(50))), ..Options::default() };
    let (sheet, _) = priced(&line, &markup);
    // 621.00 goes up to the next price that ends in 95.
    assert_eq!(sheet.plans[0].quotes[0].price, 69_500);
    assert_eq!(sheet.plans[0].quotes[0].exact, Ratio::whole(621));
    assert_eq!(sheet.plans[0].quotes[0].other_way, Some(89_500));
}

#[test]
fn a_margin_of_the_whole_price_is_an_error_with_its_place() {
    let tables = [
        ("plans", "plan,target_margin\nP,100 %\n"),
        ("items", ITEMS),
        ("sizes", SIZES),
        ("bill", BILL),
    ];
    let line = run(&tables, 1);
    let errors = price::price(&line.book, &line.needs, &line.rollup, &Options::default());
    assert_eq!(
        shown(&errors.unwrap_err()),
        [
            "error: plans.csv:2: column `target_margin`: a margin of 100 % on plan `P` has no price; it lies below 100 %"
        ]
    );
}

#[test]
fn labor_without_a_wage_is_a_gap_with_its_place() {
    let items = ITEMS.replace("WORK,labor,hour,30,hour", "WORK,labor,hour,,");
    let line = run(&[("items", &items), ("sizes", SIZES), ("bill", BILL)], 1);
    assert_eq!(findings(&line), ["gap: items.csv:4: column `price`: item `WORK` has no price"]);
    let (sheet, _) = priced(&line, &Options::default());
    assert!(sheet.assumptions.contains(&Assumption::Unpriced(vec![cutbill::model::ItemId(2)])));
}

#[test]
fn a_burden_on_nothing_is_a_warning_with_its_place() {
    let items = ITEMS.replace("supplies", "steel") + "SPARE,count,each,1,,1 lb,unused\n";
    let burdens = "burden,order,basis,applies_to,percent,amount\n\
        surcharge,1,material,unused,5,\nsteel,2,material,steel,2,\n";
    let line = run(&[("items", &items), ("sizes", SIZES), ("bill", BILL), ("burdens", burdens)], 1);
    let (_, warnings) = priced(&line, &Options::default());
    assert_eq!(
        warnings,
        [
            "warning: burdens.csv:2: column `applies_to`: burden `surcharge` comes to nothing: no plan has `unused` to lay it on"
        ]
    );
}

// Reckoned by hand: 282 of material and labor; 7 is for another plan, so the running total stays 282, then 310.20.
#[test]
fn a_burden_left_out_does_not_end_the_running_total() {
    let burdens = "burden,order,basis,applies_to,percent,amount,from_date\n\
        warranty,1,unit,Q,,7,\nselling,2,warranty,,10,,\nlater,3,unit,,,9,2030-01-01\ntax,4,later,,50,,\n";
    let plans = "plan,length,width\nP,10 ft,8 ft\nQ,10 ft,8 ft\n";
    let items = "item,form,unit,price\nBOLT,count,each,282\n";
    let bill = "parent,component\nP,BOLT\nQ,BOLT\n";
    let tables = [
        ("plans", plans),
        ("items", items),
        ("bill", bill),
        ("burdens", burdens),
        ("settings", DAY),
    ];
    let line = run(&tables, 1);
    let burdens = |build: usize| -> Vec<i128> {
        line.rollup.builds[build].burdens.iter().map(|burden| burden.cost).collect()
    };
    assert_eq!(burdens(0), [282_000, 1_551_000]);
    assert_eq!(burdens(1), [70_000, 289_000, 1_589_500]);
    // One more for the bolt is 0.10 more for selling, and half of both for tax.
    let more = rollup::burdens_on(&line.book, &line.needs, 0, &line.rollup.builds[0].items[0]);
    assert_eq!(more, percent(65));
}

#[test]
fn what_is_assumed_is_listed() {
    let items = "item,form,unit,price,weight,assumed,crew\n\
        BOLT,count,each,1,,yes,\nNUT,count,each,1,1 lb,no,\nWORK,labor,hour,30,,,two\nHELP,labor,hour,20,,x,3\n";
    let bill = "parent,component,quantity\nP,BOLT,1\nP,NUT,1\nP,WORK,1\nP,HELP,6\n";
    let line = run(
        &[("items", items), ("bill", bill), ("settings", "key,value\nlot,2\ncurrency,USD\n")],
        2,
    );
    let (sheet, warnings) = priced(&line, &Options::default());
    let id = cutbill::model::ItemId;
    assert_eq!(
        sheet.assumptions,
        [
            Assumption::Assumed(vec![id(0), id(3)]),
            Assumption::Unweighed(vec![id(0)]),
            Assumption::WithoutCrew(vec![id(2)]),
            Assumption::Default("rounding", "half_even".to_owned()),
            Assumption::Default("offcut_value_percent", "0".to_owned()),
        ]
    );
    assert_eq!(
        warnings,
        [
            "warning: items.csv:4: column `crew`: crew of `WORK`: `two` is not a number above zero; one is taken"
        ]
    );
}

// Computed: 80 % in the unit form with unit 4 as the standard: unit 1 takes 1 / 0.64 of it, units 1 and 2 together 1.8 / 0.64.
#[test]
fn the_first_units_take_more_labor_and_its_burdens() {
    let settings = "key,value\nlearning_percent,80 %\nlearning_form,unit\nlearning_units,4\n";
    let tables = [
        ("items", ITEMS),
        ("sizes", SIZES),
        ("bill", BILL),
        ("burdens", BURDENS),
        ("settings", settings),
    ];
    let line = run(&tables, 1);
    let (sheet, _) = priced(&line, &Options::default());
    let plan = &sheet.plans[0];
    // The standard stays; 56.25 % of 300.00 comes on top, with 20 % payroll, 5 an hour, and a tenth of all for selling.
    assert_eq!(unit(plan, SectionKind::Labor), 30_000);
    let above = 16_875 + 3375 + 2812 + 2306;
    assert_eq!(unit(plan, SectionKind::Learning), above);
    let learned = plan.learned.as_ref().unwrap();
    assert_eq!((learned.factor.clone(), learned.added), (Ratio::new(25, 16).unwrap(), 2_536_875));
    assert_eq!(plan.ledger, line.rollup.builds[0].cost());
    assert_eq!(plan.factory.unit, 70_664 + 25_369);
    let later = Options { first_unit: Some(4), ..Options::default() };
    let (sheet, _) = priced(&line, &later);
    assert_eq!((sheet.plans[0].learned.clone(), sheet.plans[0].factory.unit), (None, 70_664));
}

// Computed: 2 panels for one unit, 3 for two; a set-up of 100 for each lot.
#[test]
fn yield_and_set_up_spread_over_the_lot() {
    let line = small(1);
    let lots =
        price::lots(&line.book, &line.needs, &[1, 2, 10], cutting(1), &Options::default(), &Silent);
    let lots = lots.unwrap().value;
    let waste: Vec<Ratio> = lots.iter().map(|sheet| sheet.plans[0].waste.clone()).collect();
    assert_eq!(waste, [16, 0, 0].map(Ratio::whole));
    let set_up: Vec<i128> = lots
        .iter()
        .map(|sheet| {
            let other = &sheet.plans[0].sections[4];
            assert_eq!(other.kind, SectionKind::OtherBurdens);
            other.lines[0].amounts.unit
        })
        .collect();
    assert_eq!(set_up, [10_000, 5000, 1000]);
    // 98 for material, a tenth of it for freight, 410 for labor and 7 for warranty, and a tenth of all for selling.
    let cost = |set_up: i128| (980_000 + 98_000 + 4_100_000 + 70_000 + 1000 * set_up) * 11 / 1000;
    assert_eq!(lots[2].plans[0].factory.unit, cost(100));
    assert_eq!(lots[1].plans[0].factory.unit, cost(500));
}

const DAY: &str = "key,value\nas_of,2027-03-15\n";

#[test]
fn a_foreign_price_is_converted_at_the_rate_of_the_day() {
    let items = "item,form,unit,price,weight,vendor\nWINDOW,count,each,,10 lb,Glass\n";
    let prices = "item,vendor,price,currency\nWINDOW,Glass,200,CAD\n";
    let rates =
        "currency,date,rate\nCAD,2027-01-01,0.70\nCAD,2027-03-01,0.75\nCAD,2027-04-01,0.80\n";
    let bill = "parent,component,quantity\nP,WINDOW,2\n";
    let tables = [("items", items), ("prices", prices), ("bill", bill), ("settings", DAY)];
    let line = run(&[&tables[..], &[("rates", rates)]].concat(), 1);
    assert_eq!(findings(&line), Vec::<String>::new());
    let (sheet, _) = priced(&line, &Options::default());
    assert_eq!(sheet.plans[0].factory.unit, 30_000);
    let priced_at = line.rollup.builds[0].items[0].purchases[0].priced.as_ref().unwrap();
    assert_eq!(&*priced_at.price.text, "200 CAD at 0.75");
    let rated = priced_at.rated.clone().unwrap();
    assert_eq!(rated.date.to_string(), "2027-03-01");
    assert!(sheet.assumptions.contains(&Assumption::Rated(rated)));
    // All rates are later than the day.
    let later = rates.replace("2027-01", "2027-05").replace("2027-03", "2027-06");
    let line = run(&[&tables[..], &[("rates", &later)]].concat(), 1);
    assert_eq!(
        findings(&line),
        [
            "gap: items.csv:2: column `price`: item `WINDOW` has no price",
            "gap: prices.csv:2: column `currency`: the price of item `WINDOW` is in CAD, which has no rate on 2027-03-15",
        ]
    );
}

#[test]
fn a_price_that_no_rate_is_needed_for_stays() {
    let items = "item,form,unit,price,weight,vendor\nWINDOW,count,each,150,10 lb,Glass\n";
    let prices = "item,vendor,from_date,price,currency\n\
        WINDOW,Glass,2027-01-01,140,\nWINDOW,Sash,2027-02-01,200,CAD\nWINDOW,Glass,2026-01-01,190,CAD\n";
    let bill = "parent,component,quantity\nP,WINDOW,1\n";
    let tables = [("items", items), ("prices", prices), ("bill", bill), ("settings", DAY)];
    let rates = "currency,date,rate\nCAD,2028-01-01,0.70\n";
    let line = run(&[&tables[..], &[("rates", rates)]].concat(), 1);
    // The own vendor's later row in the book's currency comes first, whatever the others would be worth.
    assert_eq!(findings(&line), Vec::<String>::new());
    assert_eq!(line.rollup.builds[0].cost(), 1_400_000);
}

#[test]
fn the_lowest_of_prices_in_several_units_is_that_of_one_whole_size() {
    let items = "item,form,nominal,weight,weight_unit\nSTICK,linear,2x3,1,lb/ft\n";
    let sizes = "item,length\nSTICK,8 ft\n";
    let bill = "parent,component,quantity,length\nP,STICK,1,8 ft\n";
    // 4 feet board measure and 8 lb a stick: 8.00, 7.20, 7.00, 6.80 and 6.40 for one.
    let rows = ["8,each", "0.90,ft", "700,C", "1700,MBF", "80,cwt"];
    for count in 1..=rows.len() {
        let least = [80_000, 72_000, 70_000, 68_000, 64_000][count - 1];
        for turned in 0..count {
            let mut rows: Vec<String> =
                rows[..count].iter().map(|row| format!("STICK,{row}\n")).collect();
            rows.rotate_left(turned);
            let prices = format!("item,price,price_unit\n{}", rows.concat());
            let tables = [("items", items), ("sizes", sizes), ("bill", bill), ("prices", &prices)];
            assert_eq!(run(&tables, 1).rollup.builds[0].cost(), least, "{prices}");
        }
    }
}

#[test]
fn a_price_by_weight_comes_last_for_an_item_without_weight() {
    let items = "item,form,unit\nBOLT,count,each\n";
    let bill = "parent,component,quantity\nP,BOLT,1\n";
    let prices = "item,price,price_unit\nBOLT,0.01,lb\nBOLT,3,dozen\n";
    let line = run(&[("items", items), ("bill", bill), ("prices", prices)], 1);
    assert_eq!(line.rollup.builds[0].cost(), 2_500);
}

#[test]
fn the_last_price_is_used_where_all_are_past() {
    let items = "item,form,unit,price,weight\nBOLT,count,each,,1 lb\nNUT,count,each,3,1 lb\n";
    let prices = "item,from_date,to_date,price\n\
        BOLT,2026-01-01,2026-06-30,1.00\nBOLT,2026-07-01,2026-12-31,1.25\nBOLT,2027-06-01,,9\nNUT,,2026-12-31,2\n";
    let bill = "parent,component,quantity\nP,BOLT,4\nP,NUT,1\n";
    let tables = [("items", items), ("prices", prices), ("bill", bill), ("settings", DAY)];
    let line = run(&tables, 1);
    assert_eq!(line.rollup.builds[0].cost(), 50_000 + 30_000);
    let expired = "warning: prices.csv:3: column `to_date`: the last price of item `BOLT`, 1.25, held until 2026-12-31; it is used";
    assert_eq!(findings(&line), [expired]);
    let (sheet, _) = priced(&line, &Options::default());
    let last = jiff::civil::date(2026, 12, 31);
    assert!(sheet.assumptions.contains(&Assumption::Expired(cutbill::model::ItemId(0), last)));
    // Reading tells the same, once.
    let mut files = Memory::default();
    for (name, text) in [PLAN].iter().chain(&tables) {
        files.0.insert(format!("{name}.csv"), text.as_bytes().to_vec());
    }
    let checked = cutbill::read::read(&files).unwrap();
    assert_eq!(shown(&checked.warnings), [expired]);
}

#[track_caller]
fn cases(line: &Line, rows: &[CaseRow]) -> Result<Vec<Case>, Vec<String>> {
    let how = (cutting(line.rollup.lot), &Options::default());
    price::cases(&line.book, &line.needs, &line.rollup, rows, how, &Silent)
        .map_err(|errors| shown(&errors))
}

fn case(text: &str) -> CaseRow {
    price::parse_case("asked", text).unwrap()
}

/// Returns what a change of prices adds to the lot, in ten-thousandths.
#[track_caller]
fn change(line: &Line, texts: &[&str]) -> i128 {
    let rows: Vec<CaseRow> = texts.iter().map(|text| case(text)).collect();
    cases(line, &rows).unwrap()[0].builds[0].lot_change
}

// Computed: 64 for panels and 50 for glue, a tenth more for freight, and a tenth more of all for selling.
#[test]
fn a_case_moves_what_it_says_and_its_burdens() {
    let line = small(1);
    assert_eq!(change(&line, &["PAN*=+12%"]), 64 * 1200 * 121 / 100);
    assert_eq!(change(&line, &["group = sheet goods=+12 %", "GLUE=-10%"]), (768 - 500) * 121);
    assert_eq!(change(&line, &["PANEL=to 30"]), -4 * 10_000 * 121 / 100);
    assert_eq!(change(&line, &["GLUE=+0.50"]), 10_000 * 121 / 100);
    // Wages carry payroll and selling.
    assert_eq!(change(&line, &["WORK=+10%"]), 300 * 1000 * 120 / 100 * 110 / 100);
    let two = [
        CaseRow { case: "up".to_owned(), ..case("PANEL=+10%") },
        CaseRow { case: "down".to_owned(), ..case("GLUE=-10%") },
        CaseRow { case: "UP".to_owned(), ..case("GLUE=+10%") },
    ];
    let found = cases(&line, &two).unwrap();
    let changes: Vec<(&str, i128)> =
        found.iter().map(|case| (case.name.as_str(), case.builds[0].lot_change)).collect();
    assert_eq!(changes, [("up", 114 * 1210), ("down", -50 * 1210)]);
}

#[test]
fn a_price_is_changed_in_its_own_unit() {
    let items = "item,form,unit,price,price_unit,weight\nPANEL,sheet,ft2,800,MSF,1 lb/ft2\n";
    let bill = "parent,component,quantity,length,width,use\nP,PANEL,1,96,48,piece\n";
    let sizes = "item,length,width\nPANEL,96,48\n";
    let line = run(&[("items", items), ("sizes", sizes), ("bill", bill)], 1);
    assert_eq!(line.rollup.builds[0].cost(), 256_000);
    assert_eq!(change(&line, &["PANEL=+100"]), 32_000);
    assert_eq!(change(&line, &["PANEL=to 1000"]), 64_000);
    assert_eq!(change(&line, &["PANEL==1000"]), 64_000);
    // Changes of one case follow each other.
    assert_eq!(change(&line, &["PANEL=+50%", "PANEL=+100"]), 128_000 + 32_000);
}

#[test]
fn a_typed_case_that_no_item_fits_is_an_error() {
    let line = small(1);
    assert_eq!(
        cases(&line, &[case("PLY-*=+12%")]).unwrap_err(),
        ["error: price case `asked`: no item has the name `PLY-*`"]
    );
    let table = "case,match,change\nup,group = steel,5 %\nup,GLUE,5 %\n";
    let tables = [("items", ITEMS), ("sizes", SIZES), ("bill", BILL), ("cases", table)];
    let line = run(&tables, 1);
    let found = cases(&line, &line.book.cases).unwrap();
    assert_eq!(found[0].builds[0].lot_change, 25_000);
    assert_eq!(
        cases(&line, &[case("GLUE=-26")]).unwrap_err(),
        ["error: price case `asked` takes a price below zero"]
    );
}

#[test]
fn the_ranking_is_what_one_percent_does() {
    let line = small(3);
    let ranked = price::sensitivity(&line.book, &line.needs, &line.rollup, &Options::default());
    let names: Vec<&str> =
        ranked[0].iter().map(|swing| line.book.item(swing.item).name.as_str()).collect();
    assert_eq!(names, ["WORK", "PANEL", "GLUE"]);
    for swing in &ranked[0] {
        let name = &line.book.item(swing.item).name;
        let moved = change(&line, &[&format!("{name}=+1%")]);
        let lot = &swing.money * &Ratio::whole(3 * 10_000);
        // The item and each burden that follows it are rounded once.
        assert!((lot - Ratio::whole(moved)).abs() <= Ratio::whole(2), "{name}");
    }
}

// Computed: a quarter of the bolts is used at the frame, where 8 % come on top; all of it carries 10 % for selling, and
// bolts 5 % more by their group.
#[test]
fn burdens_of_a_station_follow_its_share_of_an_item() {
    let tables = [
        (
            "items",
            "item,form,unit,price,weight,group\nBOLT,count,each,2,1 lb,fasteners\nNUT,count,each,1,1 lb,\n",
        ),
        ("bill", "parent,component,quantity\nP,chassis,1\nP,BOLT,75\nP,NUT,50\nchassis,BOLT,25\n"),
        ("assemblies", "assembly,station\nchassis,frame\n"),
        (
            "burdens",
            "burden,order,basis,applies_to,percent\nframe,1,material,frame,8\ngroup,2,material,fasteners,5\n\
             selling,3,group,,10\n",
        ),
    ];
    let line = run(&tables, 1);
    let ranked = price::sensitivity(&line.book, &line.needs, &line.rollup, &Options::default());
    let money: Vec<Ratio> = ranked[0].iter().map(|swing| swing.money.clone()).collect();
    assert_eq!(money, [Ratio::decimal(2 * 107 * 11, 3), Ratio::decimal(55, 2)]);
    assert_eq!(change(&line, &["BOLT=+1%"]), 23_540);
}

// Computed: the triangular distribution of 80, 100, 120 has the percentile p at 80 + sqrt(p x 800) up to the middle, and at
// 120 - sqrt((1 - p) x 800) beyond.
#[test]
fn drawn_prices_follow_the_triangle() {
    let items = "item,form,unit,price,weight\nBOLT,count,each,,1 lb\n";
    let prices = "item,price,low,high\nBOLT,100,80,120\n";
    let bill = "parent,component,quantity\nP,BOLT,1\n";
    let line = run(&[("items", items), ("prices", prices), ("bill", bill)], 1);
    let (sheet, _) = priced(&line, &Options::default());
    let range = |seed| {
        let options = Options::default();
        let how = (10_000, seed);
        price::range(&line.book, &line.needs, &line.rollup, &sheet, &options, how)[0]
            .clone()
            .unwrap()
    };
    let drawn = range(1);
    assert_eq!((drawn.low, drawn.likely, drawn.high), (8000, 10_000, 12_000));
    let expected = [8632, 8894, 9414, 10_000, 10_586, 11_106, 11_368];
    assert_eq!(PERCENTILES, [5, 10, 25, 50, 75, 90, 95]);
    for (found, expected) in drawn.percentiles.iter().zip(expected) {
        assert!((found - expected).abs() < 60, "{:?}", drawn.percentiles);
    }
    assert_eq!(range(1), drawn);
    assert_ne!(range(2).percentiles, drawn.percentiles);
}

#[test]
fn a_likely_price_at_its_low_is_only_drawn_upward() {
    let items = "item,form,unit,price,weight\nBOLT,count,each,,1 lb\nNUT,count,each,7,1 lb\n";
    let prices = "item,price,low,high\nBOLT,100,100,130\n";
    let bill = "parent,component,quantity\nP,BOLT,2\nP,NUT,1\n";
    let burdens = "burden,order,basis,percent\nfreight,1,material,10\n";
    let tables = [("items", items), ("prices", prices), ("bill", bill), ("burdens", burdens)];
    let line = run(&tables, 1);
    let (sheet, _) = priced(&line, &Options::default());
    let options = Options::default();
    let ranges = price::range(&line.book, &line.needs, &line.rollup, &sheet, &options, (2000, 5));
    let range = ranges[0].as_ref().unwrap();
    assert_eq!((range.low, range.likely, range.high), (22_770, 22_770, 29_370));
    assert!(range.percentiles.is_sorted() && range.percentiles[0] >= range.low);
    assert!(range.percentiles[6] <= range.high);
}

#[test]
fn options_replace_their_choice_and_are_priced_at_the_margin_of_the_plan() {
    let tables = [
        ("plans", "plan,target_margin\nP,20 %\n"),
        (
            "items",
            "item,form,unit,price,weight\nPINE,count,each,40,4 lb\nOAK,count,each,100,6 lb\nLAMP,count,each,8,1 lb\n",
        ),
        (
            "bill",
            "parent,component,quantity\nP,PINE,0\npine,PINE,1\noak,OAK,1\nlamp,LAMP,1\npack,LAMP,2\n",
        ),
        (
            "options",
            "option,standard,choice,includes,excludes\npine,yes,top,,\noak,,top,,\nlamp,yes,,,\npack,,,oak,\ndark,,,,lamp\n",
        ),
        ("settings", "key,value\noption_price_ending,to 5\n"),
    ];
    let line = run(&tables, 4);
    let (sheet, _) = priced(&line, &Options::default());
    let explode_options = explode::Options::default();
    let asked = price::Asked {
        named: &[],
        explode: &explode_options,
        cutting: cutting(4),
        options: &Options::default(),
    };
    let found =
        price::option_prices(&line.book, &line.needs, &line.rollup, &sheet, &asked, &Silent)
            .unwrap();
    let names = |ids: &[cutbill::model::OptionId]| {
        let names: Vec<&str> =
            ids.iter().map(|id| line.book.options[id.index()].name.as_str()).collect();
        names.join(" ")
    };
    let rows: Vec<String> = found
        .value
        .iter()
        .map(|own| {
            format!(
                "{} {} replaces [{}] brings [{}] cost {} price {} weight {}",
                names(&[own.option]),
                if own.is_taken { "taken" } else { "added" },
                names(&own.replaces),
                names(&own.brings),
                own.cost,
                own.quote.as_ref().unwrap().price,
                own.weight
            )
        })
        .collect();
    assert_eq!(
        rows,
        [
            "oak added replaces [pine] brings [] cost 6000 price 7500 weight 20000",
            "lamp taken replaces [] brings [] cost 800 price 1000 weight 10000",
            "pack added replaces [pine] brings [oak] cost 7600 price 9500 weight 40000",
            "dark added replaces [lamp] brings [] cost -800 price -1000 weight -10000",
        ]
    );
}

#[test]
fn an_option_without_a_price_is_a_gap() {
    let tables = [
        ("items", "item,form,unit,price,weight\nPINE,count,each,40,4 lb\nOAK,count,each,,6 lb\n"),
        ("bill", "parent,component,quantity\nP,PINE,1\noak,OAK,1\nlamp,PINE,1\n"),
        ("options", "option,standard,excludes\noak,,\nlamp,,\nlight,,lamp\n"),
    ];
    let line = run(&tables, 1);
    let (sheet, _) = priced(&line, &Options::default());
    let explode_options = explode::Options {
        chosen: vec![cutbill::model::OptionId(1)],
        ..explode::Options::default()
    };
    let asked = price::Asked {
        named: &[],
        explode: &explode_options,
        cutting: cutting(1),
        options: &Options::default(),
    };
    let found =
        price::option_prices(&line.book, &line.needs, &line.rollup, &sheet, &asked, &Silent);
    assert_eq!(
        shown(&found.unwrap().warnings),
        [
            "gap: items.csv:3: column `price`: item `OAK` has no price",
            "warning: options.csv:4: option `light` excludes `lamp`, but both are chosen",
        ]
    );
}

#[test]
fn a_currency_without_small_change_is_rounded_to_whole_units() {
    let settings = "key,value\ncurrency,JPY\n";
    let items =
        "item,form,unit,price,weight\nBOLT,count,each,33.4,1 lb\nNUT,count,each,33.4,1 lb\n";
    let bill = "parent,component,quantity\nP,BOLT,1\nP,NUT,1\n";
    let items = items.replace("1 lb\n", "1 lb,a\n").replace("weight\n", "weight,group\n").replacen(
        "lb,a\nNUT",
        "lb,b\nNUT",
        1,
    );
    let line = run(&[("items", &items), ("bill", bill), ("settings", settings)], 1);
    let (sheet, _) = priced(&line, &Options::default());
    let plan = &sheet.plans[0];
    assert_eq!(sheet.digits, 0);
    // Twice 33, and one yen to the ledger's 66.8.
    assert_eq!(
        (unit(plan, SectionKind::Material), plan.rounding.unit, plan.factory.unit),
        (66, 1, 67)
    );
}
