//! Runs the sample books and compares every byte with `samples/*/expected`; `UPDATE=1 cargo test --test golden` rewrites
//! the files.
//!
//! The three forms of the sample plant (tidy files, a workbook, the files as plants really have them) must agree, so most
//! of what is expected of one is expected of all.

#![expect(clippy::unwrap_used, reason = "what cannot be had ends the test")]

#[path = "golden/forms.rs"]
mod forms;
#[path = "golden/laws.rs"]
mod laws;
#[path = "golden/office.rs"]
mod office;
#[path = "golden/run.rs"]
mod run;

use std::fmt::Write;

use run::{Ran, answer, expect, run};

/// Compares what a command prints on the tidy sample.
#[track_caller]
fn check(name: &str, arguments: &[&str]) {
    expect(&format!("samples/fenmark/expected/{name}"), &answer("fenmark", arguments));
}

#[test]
fn check_sums_up_what_the_book_holds() {
    check("check.txt", &["check"]);
    let Ran { code, err, .. } = run(&["check", "samples/fenmark"]);
    assert_eq!(code, 0);
    expect("samples/fenmark/expected/findings.txt", &err);
    let Ran { code, err, .. } = run(&["check", "samples/messy"]);
    assert_eq!(code, 0);
    expect("samples/messy/expected/findings.txt", &err);
    expect("samples/messy/expected/check.txt", &answer("messy", &["check"]));
}

#[test]
fn explode_lays_the_bill_out_level_by_level() {
    let indented = answer("fenmark", &["explode", "--plan", "Sedge 18", "--width", "120"]);
    let part: String = indented.split_inclusive('\n').take(90).collect();
    expect("samples/fenmark/expected/explode.txt", &part);
    check("needs.csv", &["explode", "--plan", "Sedge 18", "--flat", "--format", "csv"]);
    check("where-used.txt", &["explode", "--where-used", "PLY-19-32-TG"]);
}

#[test]
fn nest_tells_and_draws_how_stock_is_cut() {
    check("nest.txt", &["nest", "--plan", "Sedge 18", "--width", "100"]);
    let drawn = answer("fenmark", &["nest", "--plan", "Sedge 18", "--draw", "--width", "60"]);
    let start = drawn.find("Sedge 18: LAM-SAND").unwrap();
    let end = drawn.find("Sedge 18: SHT-ALM").unwrap();
    expect("samples/fenmark/expected/draw.txt", &drawn[start..end]);
}

#[test]
fn rollup_sums_as_asked() {
    let small = ["rollup", "--plan", "Sedge 18"];
    let both = ["rollup", "--plan", "Sedge 18", "--plan", "Carex 24"];
    let by = |plans: &[&'static str], rest: &[&'static str]| [plans, rest].concat();
    check("rollup.txt", &by(&both, &["--width", "100"]));
    check("rollup.csv", &by(&both, &["--format", "csv"]));
    check("by-station-group.csv", &by(&small, &["--by", "station,group", "--format", "csv"]));
    check("by-vendor.txt", &by(&small, &["--by", "vendor"]));
    // A column of the plant's own.
    check("by-series-kind.txt", &by(&both, &["--by", "series,kind"]));
    let json = answer("fenmark", &["rollup", "--plan", "Sedge 18", "--format", "json"]);
    expect("samples/fenmark/expected/rollup.json", &shortened(&json));
}

#[test]
fn orders_tell_what_to_buy_from_whom_and_when() {
    check("orders.txt", &["orders", "--width", "140"]);
    check("orders.csv", &["orders", "--format", "csv"]);
    check("orders-why.txt", &["orders", "--why", "WIN-30X22", "--width", "120"]);
    // Past the schedule, with the doubt about options covered, cut month by month.
    let far = ["orders", "--weeks", "17", "--service", "95", "--pool", "month", "--width", "140"];
    check("orders-far.txt", &far);
}

#[test]
fn loads_tell_weight_and_what_carries_it() {
    check("loads.txt", &["loads", "--width", "140"]);
    check("loads.csv", &["loads", "--format", "csv"]);
    let options = ["loads", "--plan", "Carex 24", "--options", "--by", "assembly"];
    check("loads-options.txt", &[&options[..], &["--width", "130"]].concat());
    let json = answer("fenmark", &["loads", "--plan", "Carex 24", "--options", "--format", "json"]);
    expect("samples/fenmark/expected/loads.json", &shortened(&json));
}

#[test]
fn price_lays_out_cost_and_price() {
    let small = ["price", "--plan", "Carex 24"];
    let both = ["price", "--plan", "Sedge 18", "--plan", "Carex 24"];
    let ask = |plans: &[&'static str], rest: &[&'static str]| [plans, rest].concat();
    check("price.txt", &ask(&both, &["--width", "120"]));
    check("price.csv", &ask(&both, &["--format", "csv"]));
    let json = answer("fenmark", &ask(&small, &["--format", "json", "--lots", "1,2", "--options"]));
    expect("samples/fenmark/expected/price.json", &shortened(&json));
    check("price-lots.txt", &ask(&small, &["--lots", "1,4"]));
    check("price-options.txt", &ask(&small, &["--options", "--width", "120"]));
    let changes = ["--cases", "--price", "PLY-*=+12%", "--sensitivity", "--width", "140"];
    check("price-cases.txt", &ask(&both, &changes));
}

#[test]
fn a_plan_of_the_starter_is_priced_from_its_dimensions() {
    let Ran { code, err, .. } = run(&["check", "samples/starter"]);
    assert_eq!(
        (code, err.as_str()),
        (0, "note: samples/starter: not read: `README.md` and `expected/`\n")
    );
    let starter = |name: &str, arguments: &[&str]| {
        expect(&format!("samples/starter/expected/{name}"), &answer("starter", arguments));
    };
    starter("price.txt", &["price", "--width", "120"]);
    starter("price-lots.txt", &["price", "--lots", "1,5,20"]);
    starter("price-options.txt", &["price", "--options", "--plan", "Model 22"]);
    starter("price-cases.txt", &["price", "--cases", "--plan", "Model 22"]);
    // What `init` tells a newcomer to ask.
    starter("check.txt", &["check"]);
    starter("rollup.txt", &["rollup"]);
    starter("nest.txt", &["nest"]);
    starter("orders.txt", &["orders"]);
}

#[test]
fn a_report_holds_every_answer_in_one_document() {
    let starter = |name: &str, arguments: &[&str]| {
        let book =
            [arguments[0], "samples/starter", "--plan", "Model 16", "--lot", "1", "--effort", "1"];
        let Ran { code, out, .. } = run(&[&book[..], &arguments[1..]].concat());
        assert_eq!(code, 0);
        expect(&format!("samples/starter/expected/{name}"), &out);
    };
    starter("report.html", &["report", "--format", "html"]);
    starter("layouts.svg", &["nest", "--format", "svg"]);
}

/// Returns the titles of the pages of a document, in order.
fn pages(document: &str) -> Vec<&str> {
    let titles = document.split("<h2 ").skip(1);
    titles.filter_map(|rest| rest.split_once("</span> ")?.1.split("</h2>").next()).collect()
}

#[test]
fn a_report_of_the_sample_plant_has_all_its_pages() {
    let book = ["report", "samples/fenmark", "--plan", "Sedge 18", "--lot", "1", "--effort", "1"];
    let against = ["--against", "samples/messy", "--one-layout-a-page", "--format", "html"];
    let Ran { code, out, err } = run(&[&book[..], &against].concat());
    assert_eq!(code, 0, "{err}");
    let expected = [
        "Summary",
        "Cost and price",
        "Weight and loads",
        "Cut layouts",
        "Orders",
        "Swaps",
        "Findings",
        "Method and cautions",
    ];
    assert_eq!(pages(&out), expected);
    assert!(out.contains("<body class=\"paged\">"));
    for figure in [
        "cost by group",
        "cost by assembly",
        "from the old cost to the new",
        "Money to be paid",
        "Swaps: money",
    ] {
        assert!(out.contains(figure), "{figure}");
    }
    // Every finding of the report is told on standard error too, and the other way round.
    let rows = out.split("<section id=\"findings\"").nth(1).unwrap().matches("<tr>").count() - 1;
    let told =
        |line: &&str| ["note: ", "warning: ", "gap: "].iter().any(|lead| line.starts_with(lead));
    assert_eq!(rows, err.lines().filter(told).count());
    // The same book gives the same bytes.
    assert_eq!(run(&[&book[..], &against].concat()).out, out);
}

#[test]
fn every_figure_says_why() {
    let why = |plan, by, why| ["rollup", "--plan", plan, "--by", by, "--why", why];
    check("why-item.txt", &why("Sedge 18", "item", "LBR-2X4"));
    check("why-burden.txt", &why("Sedge 18", "item", "plant overhead"));
    let slide = why("Carex 24", "assembly,item", "slide_floor,PLY-19-32-TG");
    check("why-assembly-item.txt", &slide);
}

#[test]
fn options_and_days_change_the_bill() {
    let by = ["rollup", "--plan", "Sedge 18", "--by", "kind", "--format", "csv"];
    check("with-winter-pack.csv", &[&by[..], &["--option", "winter_pack"]].concat());
    check("without-shower.csv", &[&by[..], &["--without", "outside_shower"]].concat());
    // The bath changes its toilet on 2027-05-15.
    let mut text = String::new();
    for day in ["2027-05-14", "2027-05-15"] {
        let flat = ["explode", "--flat", "--format", "csv", "--plan", "Sedge 18", "--on", day];
        let needs = answer("fenmark", &flat);
        writeln!(text, "{day}").unwrap();
        for line in needs.lines().filter(|line| line.contains("oilet")) {
            writeln!(text, "{line}").unwrap();
        }
    }
    expect("samples/fenmark/expected/running-change.txt", &text);
}

#[test]
fn compare_leads_from_the_old_cost_and_weight_to_the_new() {
    let days = ["--from-date", "2027-03-01", "--to-date", "2027-04-01"];
    let days = [&["compare", "--plan", "Sedge 18"], &days[..]].concat();
    check("compare-days.txt", &[&days[..], &["--width", "110"]].concat());
    check("compare-days.csv", &[&days[..], &["--format", "csv"]].concat());
    let winter = ["compare", "--plan", "Carex 24", "--option", "winter_pack"];
    check("compare-winter-pack.txt", &[&winter[..], &["--width", "120"]].concat());
    let json = answer("fenmark", &[&winter[..], &["--format", "json"]].concat());
    expect("samples/fenmark/expected/compare-winter-pack.json", &shortened(&json));
    let plans = ["compare", "--plan", "Carex 24", "--against", "Sedge 18", "--format", "csv"];
    check("compare-plans.csv", &plans);
    check("actuals.txt", &["compare", "--actuals", "--width", "140"]);
}

#[test]
fn swap_tells_what_other_material_saves_and_costs() {
    let both = ["swap", "--plan", "Sedge 18", "--plan", "Carex 24"];
    let ask = |rest: &[&'static str]| [&both[..], rest].concat();
    check("swap.txt", &ask(&["--together", "--save", "100 lb", "--width", "140"]));
    check("swap.csv", &ask(&["--format", "csv"]));
    let typed = ["--swap", "PLY-19-32-TG=PLY-15-32-CDX@slide_floor", "--only", "wide studs"];
    let json = answer("fenmark", &ask(&[&typed[..], &["--together", "--format", "json"]].concat()));
    expect("samples/fenmark/expected/swap.json", &shortened(&json));
}

#[test]
fn the_effects_of_a_bridge_add_up_as_they_are_printed() {
    for question in [
        "compare --plan Sedge~18 --from-date 2027-03-01 --to-date 2027-04-01",
        "compare --plan Carex~24 --option winter_pack --without outside_shower",
        "compare --plan Carex~24 --against Juncus~30",
    ] {
        let words: Vec<String> = question.split(' ').map(|word| word.replace('~', " ")).collect();
        let mut arguments: Vec<&str> = words.iter().map(String::as_str).collect();
        arguments.extend(["--format", "json"]);
        let json: serde_json::Value = serde_json::from_str(&answer("fenmark", &arguments)).unwrap();
        let bridge = &json["bridges"][0];
        for amount in ["cost", "weight"] {
            let of = |value: &serde_json::Value, name: &str| -> rust_decimal::Decimal {
                value[name].as_str().unwrap().parse().unwrap()
            };
            let steps = |value: &serde_json::Value| -> rust_decimal::Decimal {
                value["effects"].as_array().unwrap().iter().map(|effect| of(effect, amount)).sum()
            };
            let (old, new) = (of(&bridge["old"], amount), of(&bridge["new"], amount));
            assert_eq!(old + steps(bridge), new, "{question}");
            let rows = bridge["rows"].as_array().unwrap();
            assert!(rows.len() > 100, "{question}: {} rows", rows.len());
            for row in rows {
                let ends = [format!("old_{amount}"), format!("new_{amount}")];
                assert_eq!(of(row, &ends[0]) + steps(row), of(row, &ends[1]), "{row}");
            }
            let sum: rust_decimal::Decimal = rows.iter().map(steps).sum();
            assert_eq!(old + sum, new, "{question}");
        }
    }
}

/// Questions whose answers hold no digest and no place: what is printed must be the same for the messy twin, byte for
/// byte.
const TWINS: [&str; 6] = [
    "loads",
    "compare --plan Sedge~18 --from-date 2027-03-01 --to-date 2027-06-01",
    "rollup --by plan,item",
    "rollup --plan Sedge~18 --by group,vendor --option summer_pack",
    "rollup --plan Sedge~18 --by plan --on 2027-06-01",
    "nest --plan Carex~24",
];

#[test]
fn the_messy_twin_costs_and_weighs_the_same() {
    for question in TWINS {
        let words: Vec<String> = question.split(' ').map(|word| word.replace('~', " ")).collect();
        let mut arguments: Vec<&str> = words.iter().map(String::as_str).collect();
        arguments.extend(["--format", "csv"]);
        assert_eq!(answer("messy", &arguments), answer("fenmark", &arguments), "{question}");
    }
}

/// Cuts every list to its first two entries.
fn shortened(json: &str) -> String {
    fn shorten(value: &mut serde_json::Value) {
        match value {
            serde_json::Value::Array(list) => {
                list.truncate(2);
                list.iter_mut().for_each(shorten);
            }
            serde_json::Value::Object(map) => map.values_mut().for_each(shorten),
            _ => {}
        }
    }
    let mut value = serde_json::from_str(json).unwrap();
    shorten(&mut value);
    let mut text = serde_json::to_string_pretty(&value).unwrap();
    text.push('\n');
    text
}
