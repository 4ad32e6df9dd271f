//! How trailers hang on hitch and axles, and what federal labels and couplings ask, as published.

use std::collections::BTreeMap;

use cutbill::diag::Diagnostic;
use cutbill::explode;
use cutbill::loads::{
    self, BuildLoads, By, ConditionKind, Loads, Options, Side, Support, TankKind, WeighOptions,
    coupling_class, relabel_limit,
};
use cutbill::quantity::{Length, Ratio};
use cutbill::swap::{self, Base, Figures};
use cutbill::watch::Silent;

use crate::line::read;
use crate::{ratio, run};

/// A book with what its plans weigh.
struct Weighed {
    book: cutbill::model::Book,
    loads: Loads,
    findings: Vec<Diagnostic>,
}

/// Weighs every plan of a book of these tables, with its options if it has any.
#[track_caller]
fn weigh(tables: &[(&str, &str)]) -> Weighed {
    let files: BTreeMap<String, Vec<u8>> = tables
        .iter()
        .map(|(name, text)| (format!("{name}.csv"), text.as_bytes().to_vec()))
        .collect();
    let book = read(&files);
    let asked = explode::Options::default();
    let needs = explode::explode(&book, &asked).unwrap().value;
    let options = Options { options: WeighOptions::Weighed, explode: asked, ..Options::default() };
    let found = loads::loads(&book, &needs, &options).unwrap();
    Weighed { book, loads: found.value, findings: found.warnings }
}

impl Weighed {
    fn build(&self) -> &BuildLoads {
        &self.loads.builds[0]
    }

    #[track_caller]
    fn support(&self, kind: ConditionKind) -> &Support {
        self.build().condition(kind).unwrap().support.as_ref().unwrap()
    }

    fn texts(&self) -> Vec<String> {
        self.findings.iter().map(ToString::to_string).collect()
    }
}

fn inches(value: &Ratio) -> Ratio {
    value.checked_div(&Length::INCH.to_ratio()).unwrap()
}

fn tenths(value: &Ratio) -> String {
    cutbill::render::shown::fixed(value, 1)
}

// Source: a published problem of a university homework site; its answers are computed. A trailer of 220 kg with its
// center of mass at 1.85 m and its axle at 2.15 m presses on the ball with 301.144186.. N, empty. 540 kg at 3.3 m pull it
// up with 2532.348837.. N; at 2.15 m + 220 * 0.30 / 540 the coupling carries nothing.
#[test]
fn a_cart_hangs_as_in_the_textbook() {
    let plans = "plan,axle_position\nP,2.15 m\n";
    let items = "item,form,unit,price,weight\nCART,count,each,0,220 kg\nLOAD,count,each,0,540 kg\n";
    let empty = "parent,component,quantity,x\nP,CART,1,1.85 m\n";
    let newtons = |support: &Support| {
        let kilograms = &support.hitch * &ratio(45_359_237, 100_000_000);
        kilograms * ratio(981, 100)
    };
    let weighed = weigh(&[("plans", plans), ("items", items), ("bill", empty)]);
    let hitch = newtons(weighed.support(ConditionKind::Dry));
    // 220 * 9.81 * (1 - 1.85 / 2.15).
    assert_eq!(hitch, ratio(22_000 * 981, 10_000) * ratio(30, 215));
    assert_eq!(cutbill::render::shown::fixed(&hitch, 6), "301.144186");
    let loaded = |x: &str| {
        let bill = format!("{empty}P,LOAD,1,{x}\n");
        newtons(
            weigh(&[("plans", plans), ("items", items), ("bill", &bill)])
                .support(ConditionKind::Dry),
        )
    };
    assert_eq!(cutbill::render::shown::fixed(&loaded("3.3 m"), 6), "-2532.348837");
    // The balance lies at 2.27222.. m, which is no whole nanometer.
    let nearly = loaded("=2.15 m + 220 * 0.30 m / 540");
    assert!(nearly.abs() < ratio(1, 1000), "{nearly}");
}

const ITEMS_B: &str = "item,form,unit,price,weight\nCHASSIS,count,each,0,1450 lb\nFLOOR,count,each,0,620 lb\n\
    WALLS,count,each,0,780 lb\nROOF,count,each,0,540 lb\nCABINETS,count,each,0,610 lb\nSLIDE,count,each,0,480 lb\n\
    APPLIANCES,count,each,0,420 lb\nCYLINDER,count,each,0,38 lb\nBATTERY,count,each,0,60 lb\n";
const BILL_B: &str = "parent,component,quantity,x\nP,CHASSIS,1,150\nP,FLOOR,1,170\nP,WALLS,1,172\nP,ROOF,1,175\n\
    P,CABINETS,1,150\nP,SLIDE,1,200\nP,APPLIANCES,1,140\nP,CYLINDER,2,30\nP,BATTERY,1,30\n";
const PLANS_B: &str = "plan,gvwr,axle_position,fresh_water,fresh_water_x,tongue,length,width\n\
    P,7000,180,40 gal,190 in,44 in,288,96\n";

// Computed: the statics of a beam on two supports, from the weights and positions in the rows.
#[test]
fn a_trailer_hangs_on_hitch_and_axle_by_its_first_moments() {
    let weighed = weigh(&[("plans", PLANS_B), ("items", ITEMS_B), ("bill", BILL_B)]);
    let build = weighed.build();
    assert_eq!(build.weight, Ratio::whole(5036));
    let dry = weighed.support(ConditionKind::Dry);
    assert_eq!(inches(&dry.center_back), ratio(801_940, 5036));
    assert_eq!(dry.axle, ratio(801_940, 180));
    assert_eq!(dry.hitch, Ratio::whole(5036) - ratio(801_940, 180));
    assert_eq!([tenths(&dry.axle), tenths(&dry.hitch)], ["4455.2", "580.8"]);
    let percent = |support: &Support| {
        cutbill::render::shown::fixed(&(support.hitch_share().unwrap() * Ratio::whole(100)), 6)
    };
    assert_eq!(percent(dry), "11.532521");
    // Water behind the axle takes load off the hitch.
    let fresh = weighed.support(ConditionKind::Fresh);
    assert_eq!(build.condition(ConditionKind::Fresh).unwrap().weight, Ratio::whole(5368));
    assert_eq!(
        [&fresh.axle, &fresh.hitch],
        [&ratio(865_020, 180), &(Ratio::whole(5368) - ratio(865_020, 180))]
    );
    assert_eq!(percent(fresh), "10.475658");
    // Gross rating less unloaded weight is what may be carried, water with it: CCC of the federal label.
    assert_eq!(build.capacity, Some(Ratio::whole(1964)));
    let cargo = build.condition(ConditionKind::Cargo).unwrap();
    assert_eq!([&cargo.weight, &cargo.cargo], [&Ratio::whole(7000), &Ratio::whole(1964)]);
    let loaded = build.condition(ConditionKind::Loaded).unwrap();
    assert_eq!([&loaded.water, &loaded.cargo], [&Ratio::whole(332), &Ratio::whole(1632)]);
    // All of it is placed, so nothing can lie elsewhere.
    let range = dry.hitch_range.as_ref().unwrap();
    assert_eq!([&range[0], &range[1]], [&dry.hitch, &dry.hitch]);
    assert!(weighed.findings.is_empty(), "{:?}", weighed.texts());
}

// Source: rule of 3.0 lb/ft2 per inch of plywood (plywood trade association's design specification); computed: 192 ft2 of
// 15/32 for 19/32 at x = 170 in take 72 lb off, 68 from the axle and 4 from the hitch.
#[test]
fn lighter_decking_is_felt_at_axle_and_hitch() {
    let of = |thickness: &str| {
        let items = format!(
            "{}DECK,sheet,ft2,0,36 lb/ft3,{thickness}\n",
            ITEMS_B
                .replacen("weight\n", "weight,density,thickness\n", 1)
                .replace(" lb\n", " lb,,\n")
        )
        .replace("DECK,sheet,ft2,0,36", "DECK,sheet,ft2,0,,36");
        let bill =
            BILL_B.replacen("quantity,x", "quantity,x,length,width,use", 1).replace('\n', ",,,\n");
        let bill = bill.replacen("use,,,\n", "use\n", 1) + "P,DECK,6,170,96,48,piece\n";
        let sizes = "item,length,width\nDECK,96,48\n";
        let tables = [("plans", PLANS_B), ("items", &items), ("bill", &bill), ("sizes", sizes)];
        weigh(&tables).support(ConditionKind::Dry).clone()
    };
    let (old, new) = (of("19/32"), of("15/32"));
    assert_eq!(&new.axle - &old.axle, Ratio::whole(-68));
    assert_eq!(&new.hitch - &old.hitch, Ratio::whole(-4));
}

// The same through a swap: the tool tells it of its own.
#[test]
fn a_swap_of_decking_takes_72_pounds_off_68_of_them_from_the_axle() {
    let items = "item,form,unit,price,price_unit,density,thickness\nOLD,sheet,ft2,1,ft2,36 lb/ft3,19/32\n\
        NEW,sheet,ft2,1,ft2,36 lb/ft3,15/32\n";
    let sizes = "item,length,width\nOLD,96,48\nNEW,96,48\n";
    let bill = "parent,component,quantity,x,length,width,use\nP,OLD,6,170,96,48,piece\n";
    let swaps = "swap,from,to\nlighter decking,OLD,NEW\n";
    let line = run(
        &[("plans", PLANS_B), ("items", items), ("sizes", sizes), ("bill", bill), ("swaps", swaps)],
        1,
    );
    let base = Base { book: &line.book, needs: &line.needs, rollup: &line.rollup, findings: &[] };
    let proposals = swap::of_table(&line.book);
    let found = swap::swap(base, proposals, &swap::Options::default(), &Silent).unwrap();
    let trial = &found.value.singles[0][0];
    assert_eq!(trial.saving().weight, 720_000);
    let change = |of: fn(&Figures) -> &Option<Ratio>| {
        of(&trial.after).clone().unwrap() - of(&trial.before).clone().unwrap()
    };
    let changes = [change(|it| &it.axle), change(|it| &it.hitch), change(|it| &it.capacity)];
    assert_eq!(changes, [-68, -4, 72].map(Ratio::whole));
}

// Source: the federal trailer label (FMVSS 110 and 120) counts water at 8.3 lb/gal and 1 kg/L (public label script).
// Computed: 40 gal are 332 lb and 151.416.. kg, and neither is had from the other.
#[test]
fn label_water_is_counted_from_gallons_both_ways() {
    let weighed = weigh(&[("plans", PLANS_B), ("items", ITEMS_B), ("bill", BILL_B)]);
    let [tank] = &weighed.build().tanks[..] else { panic!("one tank") };
    assert_eq!((tank.kind, tank.gallons()), (TankKind::Fresh, Ratio::whole(40)));
    assert_eq!(tank.weight, Ratio::whole(332));
    assert_eq!(tank.kilograms, ratio(15_141_647_136, 100_000_000));
    assert_eq!(cutbill::render::shown::fixed(&tank.kilograms, 0), "151");
}

// Source: Final Rule 72 FR 68442 (2007), docket NHTSA-2007-0040: the lesser of 1.5 % of the rating and 100 lb.
#[test]
fn added_weight_changes_a_label_above_its_limit() {
    for (gross, limit) in [(6000, 90), (7000, 100), (6600, 99), (20_000, 100)] {
        assert_eq!(relabel_limit(&Ratio::whole(gross)), Ratio::whole(limit), "{gross}");
    }
    // Computed: both are the same at 6666.67 lb.
    assert_eq!(relabel_limit(&ratio(20_000, 3)), Ratio::whole(100));
}

// Source: light-trailer classes of COMAR 11.13.08.04 B.
#[test]
fn couplings_are_classed_by_gross_weight() {
    for (gross, class) in [
        (2000, Some(1)),
        (2001, Some(2)),
        (3500, Some(2)),
        (3501, Some(3)),
        (5000, Some(3)),
        (5001, Some(4)),
        (10_000, Some(4)),
        (10_001, None),
    ] {
        assert_eq!(coupling_class(&Ratio::whole(gross)), class, "{gross}");
    }
}

// Source: FMVSS 110 S9.3.2 as quoted in a public notes file: full propane is part of the unloaded weight, water is cargo.
// Propane of 4.2 lb/gal (propane information pages).
#[test]
fn propane_of_the_bill_is_unloaded_weight_and_water_of_tanks_is_not() {
    let items = "item,description,form,unit,price,weight\nLPG,Propane,bulk,gal,0,4.2 lb/gal\nFRAME,Frame,count,each,0,100 lb\n";
    let bill = "parent,component,quantity,x\nP,LPG,10 gal,30\nP,FRAME,1,60\n";
    let plans = "plan,axle_position,gray_water\nP,90,10 gal\n";
    let weighed = weigh(&[("plans", plans), ("items", items), ("bill", bill)]);
    let build = weighed.build();
    assert_eq!([&build.weight, &build.propane], [&Ratio::whole(142), &Ratio::whole(42)]);
    let waste = build.condition(ConditionKind::Waste).unwrap();
    assert_eq!(waste.weight, Ratio::whole(225));
    // The tank has no position, so it is at the axle, which then carries all of its water.
    let (dry, full) = (weighed.support(ConditionKind::Dry), waste.support.as_ref().unwrap());
    assert_eq!([&full.hitch, &(&full.axle - &dry.axle)], [&dry.hitch, &Ratio::whole(83)]);
    assert!(build.tanks[0].is_assumed);
}

// Computed: moments about the center line. 100 lb at 30 in to the right weigh on wheels 60 in apart.
#[test]
fn weight_beside_the_center_line_weighs_on_its_wheels() {
    let plans = "plan,axle_position,track_width,axles,axle_spacing\nP,100,60 in,2,34\n";
    let items = "item,form,unit,price,weight\nW,count,each,0,100 lb\n";
    let bill =
        "parent,component,quantity,x,y\nP,W,1,100,30\nP,W,1,100,0\nP,W,1,100,-15\nP,W,1,100,\n";
    let weighed = weigh(&[("plans", plans), ("items", items), ("bill", bill)]);
    let dry = weighed.support(ConditionKind::Dry);
    assert_eq!(dry.wheels, Some([Ratio::whole(175), Ratio::whole(225)]));
    assert_eq!([&dry.each_axle, &dry.hitch], [&Ratio::whole(200), &Ratio::ZERO]);
    let axles: Vec<Ratio> = weighed.build().geometry.axles().iter().map(inches).collect();
    assert_eq!(axles, [Ratio::whole(83), Ratio::whole(117)]);
    let sides = By::Side.sums(&weighed.book, &weighed.build().cells);
    for side in [Side::Left, Side::Center, Side::Right, Side::Unplaced] {
        assert!(sides.contains(&(side.name().to_owned(), 1_000_000)), "{sides:?}");
    }
}

// Computed: what has no position is taken to lie where the rest does, and bounds its part in the loads.
#[test]
fn weight_without_a_position_is_named_and_bounded() {
    let plans = "plan,axle_position,tongue,length\nP,100,40 in,160\n";
    let items =
        "item,form,unit,price,weight\nPLACED,count,each,0,100 lb\nLOOSE,count,each,0,10 lb\n";
    // The screws of an assembly without a place have none; with its place they lie there.
    let bill = "parent,component,quantity,x\nP,PLACED,3,80\nP,BOX,1,\nP,BOX,1,80\nBOX,LOOSE,2,\n";
    let weighed = weigh(&[("plans", plans), ("items", items), ("bill", bill)]);
    let build = weighed.build();
    assert_eq!(build.weight, Ratio::whole(340));
    let [(item, weight)] = &build.unplaced[..] else { panic!("one item") };
    assert_eq!((weighed.book.item(*item).name.as_str(), weight), ("LOOSE", &Ratio::whole(20)));
    assert_eq!(build.unplaced_lines, 1);
    let dry = weighed.support(ConditionKind::Dry);
    assert_eq!(inches(&dry.center_back), Ratio::whole(80));
    assert_eq!([&dry.axle, &dry.hitch], [&Ratio::whole(272), &Ratio::whole(68)]);
    // 20 lb at the rear end (200 in) or at the coupler: axle (320 * 80 + 20 * 200) / 100 or 320 * 80 / 100.
    assert_eq!(dry.hitch_range, Some([Ratio::whole(340 - 296), Ratio::whole(340 - 256)]));
}

// Computed: 300 lb in the middle of a floor from 40 to 200 in are 300 * 12 / 160 lb a foot, less where it begins in a foot;
// 60 lb at 100 in stand in the ninth foot.
#[test]
fn weight_is_told_foot_by_foot() {
    let plans = "plan,axle_position,tongue,length\nP,110,40 in,160\n";
    let items = "item,form,unit,price,weight\nLONG,count,each,0,300 lb\nSHORT,count,each,0,60 lb\n";
    let bill = "parent,component,quantity,x\nP,LONG,1,120\nP,SHORT,1,100\n";
    let weighed = weigh(&[("plans", plans), ("items", items), ("bill", bill)]);
    let profile = weighed.build().profile.as_ref().unwrap();
    assert_eq!((profile.first, profile.feet.len()), (3, 14));
    let foot = ratio(300 * 12, 160);
    assert_eq!(profile.feet[0], &foot * &ratio(8, 12));
    assert_eq!(profile.feet[5], &foot + &Ratio::whole(60));
    assert_eq!(profile.feet[13], &foot * &ratio(8, 12));
    assert_eq!(profile.feet.iter().cloned().sum::<Ratio>(), Ratio::whole(360));
}

// Computed: 5 % of 300 lb and 10 % of 200 lb are 15 and 20 lb: 35 at worst, 25 as the root of the sum of squares.
#[test]
fn tolerances_carry_to_the_total() {
    let items = "item,form,unit,price,weight,tolerance_percent\nA,count,each,0,100 lb,5\nB,count,each,0,200 lb,10\n\
        C,count,each,0,50 lb,\n";
    let bill = "parent,component,quantity,x\nP,A,3,80\nP,B,1,80\nP,C,1,80\n";
    let weighed =
        weigh(&[("plans", "plan,axle_position\nP,100\n"), ("items", items), ("bill", bill)]);
    let spread = &weighed.build().spread;
    assert_eq!([&spread.worst, &spread.likely], [&Ratio::whole(35), &Ratio::whole(25)]);
    assert_eq!((&spread.told, spread.items_told, spread.items), (&Ratio::whole(500), 2, 3));
}

// Computed by hand from the take rates: packs count without what they bring, which has a take rate of its own.
#[test]
fn options_weigh_by_take_rate_and_all_together() {
    let items = "item,form,unit,price,weight\nBODY,count,each,0,1000 lb\nW,count,each,0,10 lb\n";
    let options = "option,standard,take_rate,choice,includes,excludes\nawning,yes,90,,,\nrack,,20,,,\npack,,10,,rack,\n\
        small,yes,60,top,,\nlarge,,40,top,,\nbunk,,5,,,large\n";
    let bill = "parent,component,quantity,x\nP,BODY,1,80\nawning,W,5,100\nrack,W,3,200\npack,W,1,50\nsmall,W,2,80\n\
        large,W,6,80\nbunk,W,3,80\n";
    let plans = "plan,axle_position,gvwr\nP,100,1150\n";
    let tables = [("plans", plans), ("items", items), ("options", options), ("bill", bill)];
    let weighed = weigh(&tables);
    let found = weighed.build().options.as_ref().unwrap();
    assert_eq!(weighed.build().weight, Ratio::whole(1070));
    // 1070 - 0.1 * 50 + 0.2 * 30 + 0.1 * 10 + 0.4 * (60 - 20) + 0.05 * 30.
    assert_eq!(found.at_take_rates, ratio(10_895, 10));
    // Heaviest first: large or the pack with its rack (40 lb each, in the book's order the pack), then the other; the
    // bunk cannot meet `large`.
    assert_eq!(found.fullest_weight, Ratio::whole(1150));
    let rack =
        found.lines.iter().find(|line| weighed.book.options[line.option.index()].name == "rack");
    let rack = rack.unwrap();
    assert_eq!([&rack.hitch, &rack.axle], [&Some(Ratio::whole(-30)), &Some(Ratio::whole(60))]);
}

#[test]
fn what_a_plan_says_wrongly_of_axles_and_ratings_is_told_where_it_stands() {
    let items = "item,form,unit,price,weight\nW,count,each,0,1000 lb\n";
    let bill = "parent,component,quantity,x\nP,W,1,80\n";
    let told = |header: &str, cells: &str| {
        let plans = format!("plan,{header}\nP,{cells}\n");
        weigh(&[("plans", &plans), ("items", items), ("bill", bill)]).texts()
    };
    for (header, cells, expected) in [
        (
            "gvwr",
            "2000",
            "gap: plans.csv:2: column `axle_position`: plan `P` has no axle position, so its hitch and axle loads are not told",
        ),
        (
            "axle_position",
            "-4",
            "gap: plans.csv:2: column `axle_position`: the axle of plan `P` at -4\" is not behind the coupler, so its hitch and \
             axle loads are not told\n  hint: `axle_position` is counted back from the coupler ball",
        ),
        (
            "axle_position,tongue,length",
            "300,40 in,20'",
            "warning: plans.csv:2: column `axle_position`: the axle of plan `P` at 25' 0\" lies past the rear end at 23' 4\"",
        ),
        (
            "axle_position,gvwr",
            "100,900",
            "warning: plans.csv:2: column `gvwr`: the gvwr of plan `P`, 900 lb, is below its unloaded weight of 1000 lb",
        ),
        (
            "axle_position,gvwr,gawr,cargo_x",
            "100,2000,1500,80 in",
            "warning: plans.csv:2: column `gawr`: gawr and hitch load of plan `P`, 1500 lb and 400 lb, come to 1900 lb where it \
             weighs 2000 lb",
        ),
        (
            "axle_position,gawr",
            "100,790",
            "warning: plans.csv:2: column `gawr`: plan `P`, unloaded: a load on the axles of 800 lb is above its gawr of 790 lb",
        ),
        (
            "axle_position,hitch_rating",
            "100,150 lb",
            "warning: plans.csv:2: column `hitch_rating`: plan `P`, unloaded: a hitch load of 200 lb is above its hitch_rating of \
             150 lb",
        ),
        (
            "axle_position,galley_cargo",
            "100,40",
            "warning: plans.csv:2: column `galley_cargo`: `40` is not a weight\n  hint: it is left out; write its unit, as in \
             `42 in` or `7000 lb`",
        ),
        (
            "axle_position,tongue,length,cargo_x,galley_cargo,galley_cargo_x",
            "100,40,200,90,12 lb,20 in",
            "warning: plans.csv:2: column `galley_cargo_x`: cargo `galley` of plan `P` at 1' 8\" is off its floor, which goes \
             from 3' 4\" to 20' 0\"",
        ),
        (
            "axle_position,tongue,length,fresh_water,fresh_water_x",
            "100,40,200,10 gal,241",
            "warning: plans.csv:2: column `fresh_water_x`: tank `fresh_water` of plan `P` at 20' 1\" is off its floor, which \
             goes from 3' 4\" to 20' 0\"",
        ),
    ] {
        assert_eq!(told(header, cells), [expected], "{header}");
    }
    let nowhere = "parent,component,quantity,x\nP,W,1,\n";
    let plans = "plan,axle_position\nP,100\n";
    let weighed = weigh(&[("plans", plans), ("items", items), ("bill", nowhere)]);
    assert_eq!(
        weighed.texts(),
        [
            "gap: plans.csv:2: nothing in plan `P` has an `x`, so its hitch and axle loads are not told\n  \
          hint: give lines of the plan an `x`, back from the coupler ball"
        ]
    );
    assert_eq!(weighed.build().conditions[0].support, None);
}
