//! The binary as a user meets it: exit code, standard output and standard error.

#![expect(clippy::unwrap_used, reason = "what cannot be had ends the test")]

#[path = "cli/interrupt.rs"]
mod interrupt;
#[path = "cli/shop.rs"]
mod shop;

use std::io::Cursor;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::{env, fs};

use calamine::{Reader, Xlsx};

/// Returns the binary with these arguments, in a folder of its own that holds `files`.
fn cutbill(test: &str, files: &[(&str, &str)], arguments: &[&str]) -> (Command, PathBuf) {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(test);
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).unwrap();
    for (name, text) in files {
        let file = folder.join(name);
        fs::create_dir_all(file.parent().unwrap()).unwrap();
        #[expect(clippy::disallowed_methods, reason = "a test makes its own files")]
        fs::write(file, text).unwrap();
    }
    let mut command = Command::new(env!("CARGO_BIN_EXE_cutbill"));
    command.args(arguments).current_dir(&folder).env_remove("COLUMNS").stdin(Stdio::null());
    (command, folder)
}

/// What is said beside rows that tell weights.
const CAUTIONS: &str = "note: Weights are estimates until the unit is on a scale; a cargo or gross-weight label needs weighing \
    and sign-off.\nnote: Ratings are the maker's. Electrical, gas, egress and road rules are outside: follow federal, state and \
    local codes and licensed practice.\n";

/// Runs it and states the exit code, standard output and standard error in one text.
/// [`CAUTIONS`] are written `(cautions)`.
#[track_caller]
fn check(test: &str, files: &[(&str, &str)], arguments: &[&str], expected: &str) {
    let (mut command, _) = cutbill(test, files, arguments);
    let output = command.output().unwrap();
    let shown = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
    let actual = format!(
        "exit {}\n-- out\n{}-- err\n{}",
        output.status.code().unwrap(),
        shown(&output.stdout),
        shown(&output.stderr).replace(CAUTIONS, "(cautions)")
    );
    assert_eq!(actual, expected);
}

#[test]
fn the_version_is_that_of_the_package() {
    let version = env!("CARGO_PKG_VERSION");
    check("version", &[], &["--version"], &format!("exit 0\n-- out\ncutbill {version}\n-- err\n"));
}

#[test]
fn a_book_that_is_not_there_is_not_done() {
    let expected =
        "exit 2\n-- out\n-- err\nerror: fenmark: cannot be read: no such file or folder\n";
    check("no_book", &[], &["check", "fenmark"], expected);
}

#[test]
fn a_folder_without_tables_says_what_it_looked_for() {
    let expected = "exit 2\n-- out\n-- err\n\
        error: fenmark: cannot be read: it holds no table, that is no file that ends in .csv, .tsv or .txt\n  \
        hint: to read the workbook, name it: `fenmark/book.xlsx`\n";
    check("no_tables", &[("fenmark/book.xlsx", "")], &["rollup", "fenmark"], expected);
}

#[test]
fn a_wrong_argument_is_not_done() {
    let expected = "exit 2\n-- out\n-- err\n\
        error: invalid value 'never' for '--on <DATE>': a date is written as `2027-03-15`\n\n\
        For more information, try '--help'.\n";
    check("wrong_argument", &[], &["rollup", "book", "--on", "never"], expected);
}

#[test]
fn an_answer_does_not_replace_a_file_of_its_book() {
    let arguments = ["check", "book", "-o", "book/../book/bill.csv"];
    let (mut command, folder) = cutbill("own_file", &[("book/bill.csv", "parent\n")], &arguments);
    let output = command.output().unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert_eq!(
        String::from_utf8(output.stderr).unwrap(),
        "error: `book/../book/bill.csv` is a file of the book; the answer goes elsewhere\n"
    );
    #[expect(clippy::disallowed_methods, reason = "a test reads its own files")]
    let kept = fs::read_to_string(folder.join("book/bill.csv")).unwrap();
    assert_eq!(kept, "parent\n");
}

#[test]
fn a_reader_that_goes_away_is_no_error() {
    let (mut command, _) = cutbill("closed_pipe", &[], &["rollup", "--help"]);
    let mut child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    drop(child.stdout.take());
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(0));
    assert_eq!(String::from_utf8(output.stderr).unwrap(), "");
}

/// A small book without a fault.
const GOOD: [(&str, &str); 4] = [
    ("book/settings.csv", "key,value\nrevision,7\nas_of,2027-03-01\n"),
    ("book/plans.csv", "plan\nP-1\nP-2\n"),
    (
        "book/items.csv",
        "item,form,unit,price,price_unit,weight\nBOLT,count,each,0.25,each,0.1 lb\nGLUE,bulk,gal,24,gal,9 lb/gal\n",
    ),
    ("book/bill.csv", "parent,component,quantity\nP-1,BOLT,4\nP-1,GLUE,1 gal\nP-2,BOLT,2\n"),
];

const BY_PLAN: &str = "plan,cost USD,share %,weight lb,purchased lb\n\
    P-1,25.0000,98.0,9.4000,9.4000\nP-2,0.5000,2.0,0.2000,0.2000\n";

#[test]
fn a_book_without_a_fault_is_done_and_says_nothing_more() {
    let arguments = ["rollup", "book", "--by", "plan", "--format", "csv"];
    check("good", &GOOD, &arguments, &format!("exit 0\n-- out\n{BY_PLAN}-- err\n(cautions)"));
}

#[test]
fn a_missing_price_leaves_the_answer_incomplete() {
    let mut files = GOOD;
    files[2].1 =
        "item,form,unit,price,weight\nBOLT,count,each,0.25,0.1 lb\nGLUE,bulk,gal,,9 lb/gal\n";
    let expected = "exit 1\n-- out\nplan,cost USD,share %,weight lb,purchased lb\n\
        P-1,1.0000,66.7,9.4000,9.4000\nP-2,0.5000,33.3,0.2000,0.2000\n-- err\n\
        gap: items.csv:3: column `price`: item `GLUE` has no price\n(cautions)";
    check("no_price", &files, &["rollup", "book", "--by", "plan", "--format", "csv"], expected);
}

#[test]
fn a_plan_without_an_axle_position_has_weights_only() {
    let mut files = GOOD;
    files[1].1 = "plan,axle_position,gvwr\nP-1,100,20\nP-2,,\n";
    files[3].1 = "parent,component,quantity,x\nP-1,BOLT,4,80\nP-1,GLUE,1 gal,60\nP-2,BOLT,2,\n";
    let expected = "exit 1\n-- out\n\
        plan,condition,weight,hitch,axles,hitch %,10-15 %,each axle,left wheels,right wheels,cg back in,cg right in,water,cargo,\
        left to gvwr\n\
        P-1,unloaded,9.4,3.7,5.7,39.1,above guide,5.7,,,60.9,0.0,0.0,0.0,10.6\n\
        P-1,cargo to gvwr,20.0,,,,,,,,,,0.0,10.6,0.0\n\
        P-2,unloaded,0.2,,,,,,,,,,0.0,0.0,\n-- err\n\
        gap: plans.csv:3: column `axle_position`: plan `P-2` has no axle position, so its hitch and axle loads are not told\n\
        (cautions)";
    check("loads_no_axle", &files, &["loads", "book", "--format", "csv"], expected);
}

#[test]
fn weight_is_summed_by_what_it_can_be() {
    let expected = "exit 2\n-- out\n-- err\n\
        error: invalid value 'weight' for '--by <KEY>'\n  \
        [possible values: assembly, station, item, side]\n\n\
        For more information, try '--help'.\n";
    check("loads_by_unknown", &GOOD, &["loads", "book", "--by", "weight"], expected);
}

#[test]
fn unknown_names_say_what_was_meant() {
    let known = [
        (
            vec!["explode", "book", "--plan", "P1", "--option", "solar"],
            "error: no plan named `P1`\n  hint: did you mean `P-1`?\nerror: no option named `solar`\n",
        ),
        (
            vec!["explode", "book", "--where-used", "BOLTS"],
            "error: no item named `BOLTS`\n  hint: did you mean `BOLT`?\n",
        ),
        (
            vec!["rollup", "book", "--by", "itme"],
            "error: no column to sum by named `itme`\n  hint: did you mean `item`?\n",
        ),
        (
            vec!["rollup", "book", "--by", "zzz"],
            "error: no column to sum by named `zzz`\n  hint: there are plan, section, assembly, station, line, kind, \
             item, description, form, group, vendor, supply, unit\n",
        ),
        (vec!["rollup", "book", "--why", "NAIL"], "error: no row with item `NAIL`\n"),
    ];
    for (arguments, errors) in known {
        check("unknown", &GOOD, &arguments, &format!("exit 2\n-- out\n-- err\n{errors}"));
    }
}

#[test]
fn no_answer_and_no_finding_ever_drives_a_terminal() {
    for (color, value) in [("NO_COLOR", "1"), ("CLICOLOR_FORCE", "1")] {
        for arguments in [
            ["rollup", "book"].as_slice(),
            &["check", "book"],
            &["rollup", "book", "--plan", "Q"],
            &["explode", "book", "--where-used", "BOLT", "--width", "40"],
        ] {
            let (mut command, _) = cutbill("color", &GOOD, arguments);
            let output = command.env(color, value).output().unwrap();
            for bytes in [&output.stdout, &output.stderr] {
                let text = String::from_utf8(bytes.clone()).unwrap();
                assert!(!text.contains('\u{1b}'), "{text}");
            }
        }
    }
}

#[test]
fn an_answer_is_whole_when_piped_and_no_line_ends_in_spaces() {
    let (mut command, _) = cutbill("piped", &GOOD, &["rollup", "book"]);
    let text = String::from_utf8(command.output().unwrap().stdout).unwrap();
    assert!(text.starts_with("book revision 7, on 2027-03-01, digest "), "{text}");
    assert!(text.ends_with("licensed practice.\n"), "{text}");
    assert!(text.lines().all(|line| line == line.trim_end()), "{text}");
}

#[test]
fn a_reader_that_stops_early_is_no_error() {
    let mut bill = String::from("parent,component,quantity\nP-2,GLUE,1 gal\n");
    for _ in 0..5000 {
        bill.push_str("P-1,BOLT,4\n");
    }
    let mut files = GOOD;
    files[3].1 = &bill;
    let (mut command, _) = cutbill("stops_early", &files, &["explode", "book"]);
    let mut child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    // More than a pipe holds is written, and only its first byte read.
    let mut first = [0];
    std::io::Read::read_exact(child.stdout.as_mut().unwrap(), &mut first).unwrap();
    drop(child.stdout.take());
    let output = child.wait_with_output().unwrap();
    assert_eq!((output.status.code(), first), (Some(0), *b"b"));
    assert_eq!(String::from_utf8(output.stderr).unwrap(), "");
}

#[test]
fn a_file_is_written_whole_or_not_at_all() {
    let arguments = ["rollup", "book", "--by", "plan", "-o", "cost.csv"];
    let (mut command, folder) = cutbill("whole_file", &GOOD, &arguments);
    let output = command.output().unwrap();
    let expected = (Some(0), vec![], CAUTIONS.as_bytes().to_vec());
    assert_eq!((output.status.code(), output.stdout, output.stderr), expected);
    #[expect(clippy::disallowed_methods, reason = "a test reads its own files")]
    let read = || fs::read_to_string(folder.join("cost.csv")).unwrap();
    assert_eq!(read(), BY_PLAN);
    // What fails leaves the old file, and nothing beside it.
    let mut command = Command::new(env!("CARGO_BIN_EXE_cutbill"));
    let output =
        command.args(arguments).args(["--plan", "Q"]).current_dir(&folder).output().unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert_eq!(read(), BY_PLAN);
    let mut names: Vec<String> = fs::read_dir(&folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    assert_eq!(names, ["book", "cost.csv"]);
}

#[test]
fn a_workbook_is_asked_for_by_the_ending_of_its_file() {
    let arguments = ["rollup", "book", "--by", "plan", "-o", "cost.xlsx"];
    let (mut command, folder) = cutbill("workbook", &GOOD, &arguments);
    let output = command.output().unwrap();
    assert_eq!((output.status.code(), output.stdout, output.stderr), (Some(0), vec![], vec![]));
    #[expect(clippy::disallowed_methods, reason = "a test reads its own files")]
    let bytes = fs::read(folder.join("cost.xlsx")).unwrap();
    let mut book: Xlsx<_> = calamine::open_workbook_from_rs(Cursor::new(&bytes)).unwrap();
    assert_eq!(book.sheet_names(), ["About", "Cost and weight by plan", "Notes"]);
    let cells = book.worksheet_range("Cost and weight by plan").unwrap();
    let rows: Vec<String> = cells
        .rows()
        .map(|row| row.iter().map(ToString::to_string).collect::<Vec<_>>().join("|"))
        .collect();
    assert_eq!(
        rows[3..],
        [
            "plan|cost USD|share %|weight lb|purchased lb",
            "P-1|25|98|9.4|9.4",
            "P-2|0.5|2|0.2|0.2",
            "total|25.5|100|9.6|9.6",
        ]
    );
    let formulas = book.worksheet_formula("Cost and weight by plan").unwrap();
    let formulas: Vec<&String> = formulas.used_cells().map(|(_, _, formula)| formula).collect();
    assert_eq!(formulas, ["ROUND(SUM(B5:B6),4)", "ROUND(SUM(D5:D6),4)", "ROUND(SUM(E5:E6),4)"]);
    // A second run, to standard output, gives the same bytes.
    let arguments = ["rollup", "book", "--by", "plan", "--format", "xlsx"];
    let (mut command, _) = cutbill("workbook_again", &GOOD, &arguments);
    assert!(command.output().unwrap().stdout == bytes);
}

#[test]
fn a_report_is_a_document_or_a_workbook() {
    let expected = "exit 2\n-- out\n-- err\nerror: a report is a document or a workbook\n  \
        hint: name a file: `-o report.html` or `-o report.xlsx`\n";
    check("report_table", &GOOD, &["report", "book"], expected);
    let (mut command, folder) =
        cutbill("report_xlsx", &GOOD, &["report", "book", "-o", "report.xlsx"]);
    // The book has no axle position, which is a gap.
    assert_eq!(command.output().unwrap().status.code(), Some(1));
    let book: Xlsx<_> = calamine::open_workbook(folder.join("report.xlsx")).unwrap();
    let names = book.sheet_names();
    for name in ["About", "Plans side by side", "Findings", "Notes"] {
        assert!(names.iter().any(|known| known.starts_with(name)), "{name}: {names:?}");
    }
}

#[test]
fn only_answers_with_drawings_have_the_form_of_a_document() {
    let expected = "exit 2\n-- out\n-- err\nerror: only `report` and `nest` have an HTML form\n";
    check("html_rollup", &GOOD, &["rollup", "book", "--format", "html"], expected);
    let expected = "exit 2\n-- out\n-- err\nerror: only `nest` has an SVG form\n";
    check("svg_rollup", &GOOD, &["rollup", "book", "--format", "svg"], expected);
}

#[test]
fn hostile_names_of_a_book_stay_text_in_a_document() {
    let plans = "plan\n\"<script>alert(1)</script>\"\n";
    let bill =
        "parent,component,quantity\n\"<script>alert(1)</script>\",\"=cmd|' /C calc'!A0 <b>\",2\n";
    let items = "item,form,price,weight\n\"=cmd|' /C calc'!A0 <b>\",count,1.50,2 lb\n";
    let files = [("book/plans.csv", plans), ("book/bill.csv", bill), ("book/items.csv", items)];
    let (mut command, _) = cutbill("hostile", &files, &["report", "book", "--format", "html"]);
    let output = command.output().unwrap();
    assert_eq!(output.status.code(), Some(1), "{}", String::from_utf8_lossy(&output.stderr));
    let text = String::from_utf8(output.stdout).unwrap();
    assert_eq!(text.matches("<script").count(), 1);
    assert!(!text.contains("<b>") && text.contains("&#60;b&#62;"));
}

#[test]
fn hostile_names_of_pieces_stay_text_in_layouts() {
    let name = "</svg><script>alert(1)</script>]]>&'\u{1}\u{202E}x";
    let plans = format!("plan\n{name}\n");
    let bill = format!(
        "parent,component,quantity,length,width,use,note\n{name},{name} sheet,3,40 in,20 in,piece,{name}\n"
    );
    let items = format!(
        "item,description,form,price,price_unit,weight,grain\n{name} sheet,{name},sheet,10,each,30 lb,length\n"
    );
    let sizes = format!("item,length,width\n{name} sheet,96 in,48 in\n");
    let files = [
        ("book/plans.csv", plans.as_str()),
        ("book/bill.csv", bill.as_str()),
        ("book/items.csv", items.as_str()),
        ("book/sizes.csv", sizes.as_str()),
    ];
    let answer = |test: &str, format: &str| {
        let arguments = ["nest", "book", "--lot", "1", "--effort", "1", "--format", format];
        let output = cutbill(test, &files, &arguments).0.output().unwrap();
        assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
        String::from_utf8(output.stdout).unwrap()
    };
    let document = answer("hostile_html", "html");
    assert_eq!(document.matches("<script").count(), 1);
    // The hatch, and the drawing of the one layout.
    assert_eq!(document.matches("</svg>").count(), 2);
    let drawing = answer("hostile_svg", "svg");
    for text in [&document, &drawing] {
        assert!(!text.contains("]]>") && !text.contains(['\u{1}', '\u{202E}']));
    }
    let mut reader = quick_xml::Reader::from_str(&drawing);
    let mut depth = 0;
    loop {
        match reader.read_event().unwrap() {
            quick_xml::events::Event::Start(tag) => {
                assert_ne!(tag.name().as_ref(), "script");
                depth += 1;
            }
            quick_xml::events::Event::End(_) => depth -= 1,
            quick_xml::events::Event::Eof => break,
            _ => {}
        }
    }
    assert_eq!(depth, 0);
}

#[test]
fn all_mistakes_of_a_book_are_told_in_one_run() {
    let files = [
        ("book/settings.csv", "key,value\nas_of,2027-03-01\n"),
        ("book/plans.csv", "plan,length,width\nP-1,20 ft,8 ft\n"),
        (
            "book/items.csv",
            "item,description,form,unit,price,price_unit,weight,thickness\n\
             PLY,Floor plywood,sheet,ft2,840,MSF,1.4 lb/ft2,3/4\n\
             LBR,Stud,linear,ft,,,0.5 lb/ft,\n\
             GLUE,Wood glue,bulk,gal,24,gal,,\n\
             SCREW,Screw,count,each,0.05,,0.01 lb,\n\
             SCREW,Screw again,count,each,0.06,,0.01 lb,\n\
             TRIM,Trim,linear,ft,2,ft,0.2 lb/ft,8-Mar\n\
             SKIN,Skin,sheet,ft2,1,ft2,9 in,\n\
             RAIL,Rail,linear,ft,3,ft,1 lb/ft,\n",
        ),
        (
            "book/sizes.csv",
            "item,length,width,price,price_unit\nPLY,8 ft,4 ft,,\nLBR,8 ft,,,\nTRIM,2027-03-08,,,\nSKIN,8 ft,4 ft,,\n",
        ),
        (
            "book/bill.csv",
            "parent,component,quantity,length,width,use,scrap_percent\n\
             P-1,floor,1,length,width,,\n\
             P-1,PLY,1,9 ft,5 ft,piece,\n\
             P-1,ROOF-VENT,2,,,,\n\
             P-1,RAIL,1,4 ft,,piece,\n\
             floor,wall,1,length,,,\n\
             wall,floor,1,length,,,\n\
             wall,LBR,ROUNDUP(length / 16 in +) + 1,96,,piece,\n\
             floor,GLUE,-2 gal,,,,\n\
             floor,SCREW,12,,,,100\n\
             floor,SCREW,9999999999999999999999999999999999999999,,,,\n",
        ),
    ];
    let expected = "exit 2\n-- out\n-- err\n\
        gap: items.csv:3: column `price`: item `LBR` has no price\n\
        gap: items.csv:4: column `weight`: item `GLUE` has no weight\n\
        error: items.csv:6: column `item`: item `SCREW`, first defined at items.csv:5, is defined again\n\
        error: items.csv:7: column `thickness`: the date `8-Mar` stands where a measure is expected, perhaps for `3/8`\n\
        \x20 hint: format the column as text before typing fractions\n\
        error: items.csv:8: column `weight`: `9 in`: unit `in` does not fit, a weight is expected\n\
        gap: items.csv:9: column `item`: item `RAIL` has no size to be cut from\n\
        error: sizes.csv:4: column `length`: the date `2027-03-08` stands where a measure is expected, perhaps for `3/8`\n\
        \x20 hint: format the column as text before typing fractions\n\
        gap: bill.csv:3: column `length`: piece of 108 in x 60 in is larger than every size of `PLY`, the largest being 96 in x 48 in\n\
        error: bill.csv:4: column `component`: no item or assembly named `ROOF-VENT`\n\
        error: bill.csv:7: column `component`: `floor` contains itself: `floor -> wall -> floor`\n\
        error: bill.csv:8: column `quantity`: `)` is not expected here\n\
        \x20   ROUNDUP(length / 16 in +) + 1\n\
        \x20                           ^\n\
        error: bill.csv:9: column `quantity`: quantity of `GLUE` comes to -2 gal, below zero\n\
        \x20 hint: only lines of an option take away\n\
        error: bill.csv:10: column `scrap_percent`: `100` is out of range (0 to below 100 %)\n\
        error: bill.csv:11: column `quantity`: a number has at most 38 digits\n\
        \x20   9999999999999999999999999999999999999999\n\
        \x20   ^\n";
    check("all_mistakes", &files, &["check", "book"], expected);
}

/// Some mistakes show only in evaluated values; a cycle elsewhere must not hide them.
#[test]
fn a_cycle_does_not_hide_what_formulas_come_to() {
    let files = [
        ("book/plans.csv", "plan,length,width\nP-1,20 ft,8 ft\n"),
        ("book/items.csv", "item,form,price,weight\nSCREW,count,0.05,0.01 lb\n"),
        (
            "book/bill.csv",
            "parent,component,quantity\nP-1,floor,1\nfloor,wall,1\nwall,floor,2\nwall,SCREW,5 - length / 1 ft\n",
        ),
    ];
    let expected = "exit 2\n-- out\n-- err\n\
        error: bill.csv:4: column `component`: `floor` contains itself: `floor -> wall -> floor`\n\
        error: bill.csv:5: column `quantity`: quantity of `SCREW` comes to -15, below zero\n";
    check("cycle-and-formula", &files, &["check", "book"], expected);
}

/// A formula may make a piece that no size holds; `check` tells it as it does for a size written down.
#[test]
fn a_piece_too_large_by_its_formula_is_a_gap() {
    let files = [
        ("book/plans.csv", "plan,length,width\nP-1,20 ft,8 ft\n"),
        ("book/items.csv", "item,form,price,price_unit,weight\nSTUD,linear,1,ft,0.5 lb/ft\n"),
        ("book/sizes.csv", "item,length\nSTUD,16 ft\nSTUD,8 ft\n"),
        ("book/bill.csv", "parent,component,quantity,length,use\nP-1,STUD,2,length - 3 ft,piece\n"),
    ];
    let (mut command, _) = cutbill("too-large", &files, &["check", "book"]);
    let output = command.output().unwrap();
    assert_eq!(output.status.code(), Some(1));
    assert_eq!(
        String::from_utf8(output.stderr).unwrap(),
        "gap: bill.csv:2: column `length`: piece of 204 in is larger than every size of `STUD`, the largest being 192 in\n"
    );
}

#[test]
fn a_plan_is_priced_at_the_margin_asked_for() {
    let (mut command, _) = cutbill("price", &GOOD, &["price", "book", "--margin", "50"]);
    let output = command.output().unwrap();
    assert_eq!(output.status.code(), Some(0));
    let text = String::from_utf8(output.stdout).unwrap();
    let row = "P-1   margin of 50 %     25.00      50.00       25.00     50.00    100.00";
    assert!(text.contains(row), "{text}");
}

#[test]
fn a_margin_that_no_price_has_is_not_done() {
    let expected = "exit 2\n-- out\n-- err\nerror: `100` is out of range (a margin lies below 100 percent of the price)\n";
    check("whole_margin", &GOOD, &["price", "book", "--margin", "100"], expected);
    let expected = "exit 2\n-- out\n-- err\nerror: `--at`: `cheap` is not a number\n";
    check("cheap", &GOOD, &["price", "book", "--at", "cheap"], expected);
}

#[test]
fn a_change_of_prices_must_be_one() {
    let expected = "exit 2\n-- out\n-- err\n\
        error: `--price`: `BOLT` is no change of prices\n  \
        hint: write which items and the change: `PLY-*=+12%`, `group = lumber=-6 %`, \
        `vendor = Marsh Lumber=+0.50`, `PLY-18=to 4.20`\n\
        error: `--price`: `BOLT=4` is no change of prices\n  \
        hint: write which items and the change: `PLY-*=+12%`, `group = lumber=-6 %`, \
        `vendor = Marsh Lumber=+0.50`, `PLY-18=to 4.20`\n";
    check("no_change", &GOOD, &["price", "book", "--price", "BOLT", "--price", "BOLT=4"], expected);
    let expected =
        "exit 2\n-- out\n-- err\nerror: price case `as asked`: no item has the name `NAIL`\n";
    check("no_item", &GOOD, &["price", "book", "--price", "NAIL=+5%"], expected);
    let expected = "exit 2\n-- out\n-- err\nerror: `--cases`: the book has no table `cases`\n";
    check("no_cases", &GOOD, &["price", "book", "--cases"], expected);
}

#[test]
fn a_newcomer_is_led_from_nothing_to_answers() {
    let expected = "exit 0
-- out
A starter book is written to new: two plans that have an answer to every question, so that you
can change one thing at a time and see what comes of it. Each file is a table, to be opened in a
spreadsheet or an editor.

  plans.csv       a row for each floor plan: its sizes, windows, slide boxes, axles
  items.csv       what is bought: form, price, weight, vendor; and what an hour costs
  sizes.csv       the sheets, rolls and sticks that items come in, with their prices
  bill.csv        what each assembly takes, by formulas over the sizes of the plan
  assemblies.csv  what each assembly is, and the station that builds it
  options.csv     what a buyer may choose
  burdens.csv     overhead, freight, set-up and reserves, laid on in order
  schedule.csv    what is to be built, and by when
  stock.csv       what is on hand and on order
  vendors.csv     from whom, and how many days that takes
  cases.csv       other prices to try
  settings.csv    currency, units, rounding, and the day the book speaks of

Begin with plans.csv: give a row the name and the sizes of a plan of yours. Then replace prices and
weights in items.csv and sizes.csv; all of them are made up, and marked as assumed until you clear
the mark.

Ask in this order:
  cutbill check new
      Is anything wrong in the tables, and where? What does the book hold?
  cutbill rollup new
      What does each plan cost and weigh, and what does it take from stock?
  cutbill orders new
      What must be bought for the builds of schedule.csv, from whom, by when? What runs short?

Then `cutbill nest new --draw` shows how stock is cut, `cutbill price new` what to charge, and
`cutbill report new -o report.html` all of it in one document.
-- err
";
    check("init", &[], &["init", "new"], expected);
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("init");
    let run = |arguments: &[&str]| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_cutbill"));
        let output = command.args(arguments).current_dir(&folder).output().unwrap();
        let shown = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
        (output.status.code(), shown(output.stdout), shown(output.stderr))
    };
    // The book is the sample, to the digest, and so is each answer. `tests/golden.rs` holds what they are.
    for command in ["check", "rollup", "nest", "orders", "price"] {
        let (code, answer, findings) = run(&[command, "new"]);
        assert_eq!((code, findings.as_str()), (Some(0), ""), "{command}");
        let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples/starter");
        let (_, of_sample, _) = run(&[command, sample.to_str().unwrap()]);
        assert_eq!(answer, of_sample, "{command}");
        assert!(answer.contains("book revision starter"), "{answer}");
    }
    let (code, _, findings) = run(&["report", "new", "-o", "report.html"]);
    assert_eq!((code, findings.as_str()), (Some(0), ""));
    assert!(fs::metadata(folder.join("report.html")).unwrap().len() > 0);
    // A plan from a row of its own, with two slide boxes and three axles.
    let row =
        "Model 30,,30 ft,8 ft,6 ft 8 in,7,2,12 ft,3 ft,68 in,3,30 %,4 ft,22 ft,34 in,9900 lb\n";
    let mut plans = fs::OpenOptions::new().append(true).open(folder.join("new/plans.csv")).unwrap();
    std::io::Write::write_all(&mut plans, row.as_bytes()).unwrap();
    let asked = ["price", "new", "--plan", "Model 30", "--format", "csv", "--option", "awning"];
    let (code, sheet, findings) = run(&asked);
    assert_eq!((code, findings.as_str()), (Some(0), ""));
    for line in
        ["labor,frame: WELDER,14.5000", "material,slide box,", "material,waste of material,"]
    {
        assert!(sheet.contains(line), "{line}\n{sheet}");
    }
    // What is there is not written over.
    let (code, _, findings) = run(&["init", "new"]);
    let expected = "error: new: the folder is not empty; nothing is written\n";
    assert_eq!((code, findings.as_str()), (Some(2), expected));
}

#[test]
fn a_command_that_is_told_can_be_typed_where_the_folder_has_spaces() {
    let (mut command, _) = cutbill("init_spaces", &[], &["init", "my book"]);
    let told = String::from_utf8(command.output().unwrap().stdout).unwrap();
    assert!(told.contains("\n  cutbill rollup \"my book\"\n"), "{told}");
}

const NEXT_YEAR: [(&str, &str); 4] = [
    ("next/settings.csv", "key,value\nrevision,8\nas_of,2027-09-01\n"),
    ("next/plans.csv", "plan\nP-1\nP-3\n"),
    (
        "next/items.csv",
        "item,form,unit,price,price_unit,weight\nBOLT,count,each,0.30,each,0.1 lb\nGLUE,bulk,gal,24,gal,9 lb/gal\n",
    ),
    ("next/bill.csv", "parent,component,quantity\nP-1,BOLT,6\nP-1,GLUE,1 gal\nP-3,BOLT,2\n"),
];

#[test]
fn two_books_are_bridged_plan_by_plan() {
    let files = [GOOD, NEXT_YEAR].concat();
    let csv = "exit 0\n-- out\nplan,step,cost USD,of old %,weight lb\n\
        P-1,old,25.0000,100.00,9.4000\nP-1,price,0.3000,1.20,0.0000\nP-1,quantity,0.5000,2.00,0.2000\n-- err\n(cautions)";
    check("compare_csv", &files, &["compare", "book", "next", "--format", "csv"], csv);
    let text = "exit 0\n-- out\n\
old: book revision 7, on 2027-03-01, digest OLD
new: book revision 8, on 2027-09-01, digest NEW

P-1: from old to new, one unit
step      cost USD  of old %  weight lb
───────────────────────────────────────
old        25.0000    100.00     9.4000
price      +0.3000      1.20     0.0000
quantity   +0.5000      2.00    +0.2000
───────────────────────────────────────
new        25.8000    103.20     9.6000
  old       ┃
  price     ━━━━━━━━━━━━━━━━━━▶
  quantity                    ━━━━━━━━━━━━━━━━━━━━━━━━━━━━━▶
  new                                                      ┃

P-1: by group, one unit
group  old USD    price  quantity  new USD   change  change lb
──────────────────────────────────────────────────────────────
-      25.0000  +0.3000   +0.5000  25.8000  +0.8000    +0.2000
──────────────────────────────────────────────────────────────
total  25.0000  +0.3000   +0.5000  25.8000  +0.8000    +0.2000
";
    let arguments = ["compare", "book", "next", "--width", "100"];
    let (mut command, _) = cutbill("compare_text", &files, &arguments);
    let output = command.output().unwrap();
    let out = String::from_utf8(output.stdout).unwrap();
    let digests: Vec<&str> = out.split("digest ").skip(1).map(|rest| &rest[..16]).collect();
    let out = out.replace(digests[0], "OLD").replace(digests[1], "NEW");
    let shown = format!("exit {}\n-- out\n{out}", output.status.code().unwrap());
    assert!(shown.starts_with(text), "{shown}");
    assert!(shown.contains("\nPlans of one side alone, left out above\n"), "{shown}");
    let line = "\nchanged  P-1     BOLT       quantity  4    6    bill.csv:2  bill.csv:2\n";
    assert!(shown.contains(line), "{shown}");
}

/// A small book with swaps.
const SWAPPED: [(&str, &str); 5] = [
    GOOD[0],
    GOOD[1],
    (
        "book/items.csv",
        "item,form,unit,price,price_unit,weight\nBOLT,count,each,0.25,each,0.1 lb\nCLIP,count,each,0.5,each,0.05 lb\n\
         GLUE,bulk,gal,24,gal,9 lb/gal\n",
    ),
    GOOD[3],
    ("book/swaps.csv", "swap,from,to,approved\nclips,BOLT,CLIP,yes\nno glue,GLUE,,\n"),
];

#[test]
fn swaps_are_told_each_alone_the_best_first() {
    let header = "swap,plan,approved,weight before lb,weight after lb,saved lb,saved %,cost before USD,cost after USD,\
        cost change USD,cost %,USD per lb saved,state\n";
    let no_glue = "no glue,P-1,,9.4000,0.4000,9.0000,95.74,25.0000,1.0000,-24.0000,-96.00,-2.67,\n";
    let clips = "clips,P-2,yes,0.2000,0.1000,0.1000,50.00,0.5000,1.0000,0.5000,100.00,5.00,\n\
        clips,P-1,yes,9.4000,9.2000,0.2000,2.13,25.0000,26.0000,1.0000,4.00,5.00,\n";
    let arguments = ["swap", "book", "--format", "csv"];
    let same = "no glue,P-2,,0.2000,0.2000,0.0000,0.00,0.5000,0.5000,0.0000,0.00,,no change\n";
    let expected = format!("exit 0\n-- out\n{header}{no_glue}{clips}{same}-- err\n(cautions)");
    check("swap_csv", &SWAPPED, &arguments, &expected);
    // Of one named swap of the table, and of one that is typed.
    let expected = format!("exit 0\n-- out\n{header}{clips}-- err\n(cautions)");
    check("swap_only", &SWAPPED, &[&arguments[..], &["--only", "CLIPS"]].concat(), &expected);
    let typed = clips.replace("clips", "BOLT=CLIP").replace(",yes,", ",,");
    let expected = format!("exit 0\n-- out\n{header}{typed}-- err\n(cautions)");
    check("swap_typed", &SWAPPED, &[&arguments[..], &["--swap", "BOLT=CLIP"]].concat(), &expected);
}

#[test]
fn a_question_about_swaps_that_cannot_be_meant_is_refused() {
    let refused = |test: &str, files: &[(&str, &str)], arguments: &[&str], error: &str| {
        let arguments = [&["swap", "book"], arguments].concat();
        check(test, files, &arguments, &format!("exit 2\n-- out\n-- err\n{error}\n"));
    };
    refused(
        "swap_none",
        &GOOD,
        &[],
        "error: the book has no table `swaps`\n  hint: type one: `--swap OLD=NEW`",
    );
    refused(
        "swap_unknown",
        &SWAPPED,
        &["--only", "clip", "--swap", "BOLTS=CLIP"],
        "error: no swap named `clip`\n  hint: did you mean `clips`?\n\
         error: no item or assembly named `BOLTS`\n  hint: did you mean `BOLT`?",
    );
    refused(
        "swap_self",
        &SWAPPED,
        &["--swap", "BOLT=bolt"],
        "error: `BOLT` is swapped for itself, one for one",
    );
    refused(
        "swap_weight",
        &SWAPPED,
        &["--save", "150 ft"],
        "error: `150 ft` is out of range (a weight above zero, such as `150 lb`)",
    );
}

#[test]
fn swaps_go_into_a_workbook_with_every_table() {
    let arguments = ["swap", "book", "--together", "--save", "1", "-o", "swap.xlsx"];
    let (mut command, folder) = cutbill("swap_xlsx", &SWAPPED, &arguments);
    let output = command.output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    let workbook: Xlsx<_> = calamine::open_workbook(folder.join("swap.xlsx")).unwrap();
    assert!(workbook.sheet_names().len() >= 6, "{:?}", workbook.sheet_names());
}

#[test]
fn a_comparison_needs_two_sides_that_can_be_held_against_each_other() {
    let refused = |test: &str, files: &[(&str, &str)], arguments: &[&str], error: &str| {
        check(test, files, arguments, &format!("exit 2\n-- out\n-- err\n{error}\n"));
    };
    let files = [GOOD, NEXT_YEAR].concat();
    refused(
        "compare_nothing",
        &files,
        &["compare", "book"],
        "error: there is nothing to compare with\n  hint: name a second book, `--from-date` and `--to-date`, \
         `--plan` and `--against`, `--option` or `--without`, or ask for `--actuals`",
    );
    refused(
        "compare_against_all",
        &files,
        &["compare", "book", "--against", "P-1"],
        "error: `--against` needs exactly one `--plan` to be held against it",
    );
    refused(
        "compare_unknown_plan",
        &files,
        &["compare", "book", "next", "--plan", "P-2"],
        "error: next: no plan named `P-2`\n  hint: did you mean `P-1`?",
    );
    refused(
        "compare_no_actuals",
        &files,
        &["compare", "book", "--actuals"],
        "error: the book has no table `actuals`\n  \
         hint: it tells item, quantity and amount of what was bought and used",
    );
    let mut abroad = files.clone();
    abroad[4].1 = "key,value\ncurrency,CAD\n";
    refused(
        "compare_currencies",
        &abroad,
        &["compare", "book", "next"],
        "error: amounts in USD and in CAD cannot be compared",
    );
    let mut renamed = files.clone();
    renamed[5].1 = "plan\nQ-1\nQ-3\n";
    renamed[7].1 = "parent,component,quantity\nQ-1,BOLT,6\nQ-1,GLUE,1 gal\nQ-3,BOLT,2\n";
    refused(
        "compare_no_common_plan",
        &renamed,
        &["compare", "book", "next"],
        "error: the two books have no plan of the same name\n  \
         hint: name one of each by `--plan` and `--against`",
    );
    let across =
        ["compare", "book", "next", "--plan", "Q-3", "--against", "P-2", "--format", "csv"];
    let csv = "exit 0\n-- out\nplan,step,cost USD,of old %,weight lb\n\
        Q-3,old,0.5000,100.00,0.2000\nQ-3,price,0.1000,20.00,0.0000\n-- err\n(cautions)";
    check("compare_across", &renamed, &across, csv);
}

#[test]
fn actuals_are_held_against_the_standard() {
    let mut files = GOOD.to_vec();
    files.push((
        "book/actuals.csv",
        "item,plan,quantity,amount,units\nBOLT,P-1,50,13,10\nGLUE,,9 gal,207,\n",
    ));
    let csv = "exit 0\n-- out\n\
        item,plan,date,row,actual,standard,unit,paid each,standard each,price,price is,quantity,quantity is,total,total is\n\
        BOLT,P-1,,actuals.csv:2,50,40,each,0.26,0.25,0.5000,unfavorable,2.5000,unfavorable,3.0000,unfavorable\n\
        GLUE,,,actuals.csv:3,9,,gal,23,24,9.0000,favorable,,,9.0000,favorable\n-- err\n";
    check("actuals", &files, &["compare", "book", "--actuals", "--format", "csv"], csv);
}

const SCHEDULED: [(&str, &str); 6] = [
    ("book/settings.csv", "key,value\nrevision,7\nas_of,2027-03-01\n"),
    ("book/plans.csv", "plan\nP-1\n"),
    (
        "book/items.csv",
        "item,form,unit,price,price_unit,weight,vendor,lead_days\n\
         BOLT,count,each,0.25,each,0.1 lb,Alder,5\nGLUE,bulk,gal,24,gal,9 lb/gal,Birch / Sons,0\n",
    ),
    ("book/bill.csv", "parent,component,quantity\nP-1,BOLT,4\nP-1,GLUE,0.5 gal\n"),
    ("book/schedule.csv", "plan,week,units,order\nP-1,2027-03-01,3,B-1\nP-1,2027-03-15,5,B-2\n"),
    (
        "book/stock.csv",
        "item,quantity,kind,due,order\nBOLT,10,,,\nGLUE,8,on order,2027-03-15,O-1\n",
    ),
];

#[test]
fn orders_are_lines_in_csv_and_a_summary_in_tables() {
    let lines = "exit 0\n-- out\n\
        vendor,order by,item,description,vendor's item,size,count,unit,that is,price,amount,currency,due,there by,needed\n\
        Alder,2027-03-01,BOLT,,,,2,each,,0.25/each,0.50,USD,2027-03-01,2027-03-08 LATE,2\n\
        Alder,2027-03-08,BOLT,,,,20,each,,0.25/each,5.00,USD,2027-03-15,,20\n-- err\n";
    check("orders_csv", &SCHEDULED, &["orders", "book", "--format", "csv"], lines);
    let (mut command, _) =
        cutbill("orders_text", &SCHEDULED, &["orders", "book", "--width", "120"]);
    let output = command.output().unwrap();
    assert_eq!(output.status.code(), Some(0));
    let text = String::from_utf8(output.stdout).unwrap();
    for row in [
        "2027-03-01   BOLT          2    each  ordered now, the rest is there 2027-03-08  B-1",
        "2027-03-01   GLUE          1.5  gal   O-1 is due 2027-03-15: pull in             B-1",
        "O-1            GLUE      8  2027-03-15  pull in to the week of 2027-03-01",
    ] {
        assert!(text.contains(row), "{row}\n{text}");
    }
}

#[test]
fn each_vendor_gets_a_file_of_its_own() {
    let files = [&SCHEDULED[..5], &[("book/stock.csv", "item,quantity\nBOLT,1\n")]].concat();
    let arguments = ["orders", "book", "--per-vendor", "out"];
    let (mut command, folder) = cutbill("per_vendor", &files, &arguments);
    let output = command.output().unwrap();
    assert_eq!(output.status.code(), Some(0));
    let told = String::from_utf8(output.stdout).unwrap();
    assert_eq!(told, "out/Alder.csv\nout/Birch _ Sons.csv\n");
    #[expect(clippy::disallowed_methods, reason = "a test reads what was written")]
    let text = fs::read_to_string(folder.join("out/Birch _ Sons.csv")).unwrap();
    assert_eq!(text.lines().filter(|line| line.starts_with("Birch / Sons,")).count(), 2, "{text}");
    // A folder that holds something is left as it is.
    let output = command.output().unwrap();
    assert_eq!(output.status.code(), Some(2));
    let errors = String::from_utf8(output.stderr).unwrap();
    assert_eq!(errors, "error: out cannot be written: the folder is not empty\n");
}

#[test]
fn orders_need_a_day_a_schedule_and_known_names() {
    let refused = |test: &str, files: &[(&str, &str)], arguments: &[&str], error: &str| {
        check(test, files, arguments, &format!("exit 2\n-- out\n-- err\n{error}\n"));
    };
    let without_day =
        [&[("book/settings.csv", "key,value\nrevision,7\n")], &SCHEDULED[1..]].concat();
    let error = "error: the book does not say which day it speaks of, `as_of`";
    refused("no_day", &without_day, &["orders", "book"], error);
    refused("no_schedule", &GOOD, &["orders", "book"], "error: no table `schedule`");
    let error = "error: no vendor named `Aldr`\n  hint: did you mean `Alder`?";
    refused("no_vendor", &SCHEDULED, &["orders", "book", "--vendor", "Aldr"], error);
    let error = "error: no item named `BOLTS`\n  hint: did you mean `BOLT`?";
    refused("no_such_item", &SCHEDULED, &["orders", "book", "--why", "BOLTS"], error);
}
