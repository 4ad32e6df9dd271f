//! Books of some thousand lines: what is read, summed and costed on all cores and in whole numbers is what the plain way
//! comes to.

#![expect(clippy::unwrap_used, reason = "what cannot be had ends the test")]

#[path = "../examples/generate/book.rs"]
mod book;

use cutbill::diag::Diagnostic;
use cutbill::explode::{Instance, Needs, Options, Sums, What, explode};
use cutbill::model::Book;
use cutbill::read::{Memory, read, tables};
use cutbill::rollup::{self, Key, group, ledger};
use cutbill::watch::Silent;

use book::{Forms, Shape};

const SHAPE: Shape = Shape {
    lines: 30_000,
    plans: 24,
    items: 900,
    seed: 5,
    forms: Forms::Measured,
    is_shared: false,
};

fn made(shape: &Shape) -> Memory {
    book::book(shape).into_iter().collect()
}

fn exploded(files: &Memory) -> (Book, Needs) {
    let book = read(files).unwrap().value;
    let needs = explode(&book, &Options::default()).unwrap().value;
    (book, needs)
}

/// Does something on so many cores, whatever the machine has.
fn on_cores<T: Send>(cores: usize, work: impl FnOnce() -> T + Send) -> T {
    rayon::ThreadPoolBuilder::new().num_threads(cores).build().unwrap().install(work)
}

#[test]
fn whole_numbers_sum_to_the_exact_needs() {
    let sample = exploded(&folder("samples/fenmark"));
    for (book, needs) in [exploded(&made(&SHAPE)), sample, exploded(&clashing())] {
        for cores in [1, 2, 7] {
            let sums = on_cores(cores, || Sums::new(&book, &needs));
            // One scratch for all builds: none may leave anything behind.
            let mut scratch = sums.scratch();
            for build in &needs.builds {
                assert_eq!(sums.flat(build, &mut scratch), needs.flat(&book, build));
            }
        }
    }
}

/// A book whose assemblies take parts of one item that no unit in range measures together.
fn clashing() -> Memory {
    let mut bill =
        "parent,component,quantity\nSedge,A,2\nSedge,B,3\nCarex,A,1\nRush,B,1\n".to_owned();
    for (assembly, part) in [("A", "1/10000001"), ("B", "1/999983")] {
        bill.push_str(&format!("{assembly},GLUE,{part}\n"));
        for _ in 0..3_000 {
            bill.push_str(&format!("{assembly},BOLT,1\n"));
        }
    }
    Memory::from_iter([
        ("plans.csv", "plan\nSedge\nCarex\nRush\n".to_owned()),
        ("bill.csv", bill),
        ("items.csv", "item,form,price,weight\nBOLT,count,1,1 lb\nGLUE,count,1,1 lb\n".to_owned()),
    ])
}

#[test]
fn lines_that_only_count_take_what_they_would_by_themselves() {
    for shape in [SHAPE, Shape { forms: Forms::Plain, is_shared: true, ..SHAPE }] {
        let mut files = made(&shape);
        let (_, counted) = exploded(&files);
        let bill = String::from_utf8(files.0["bill.csv"].clone()).unwrap();
        // A line with a remark is evaluated by itself.
        let remarked = bill.lines().enumerate().map(|(number, line)| match number {
            0 => format!("{line},note"),
            _ => format!("{line},x"),
        });
        let remarked = remarked.collect::<Vec<_>>().join("\n");
        files.0.insert("bill.csv".to_owned(), remarked.into_bytes());
        let (book, evaluated) = exploded(&files);
        assert!(book.lines.iter().all(|line| !line.is_plain()));
        assert_eq!(counted.builds, evaluated.builds);
        assert_eq!(counted.instances.len(), evaluated.instances.len());
        for (one, other) in counted.instances.iter().zip(&evaluated.instances) {
            assert_eq!((one.parent, &one.load), (other.parent, &other.load));
            assert_eq!(one.values, other.values);
            let lines = |instance: &Instance| -> Vec<_> {
                let lines = instance.lines.iter();
                lines
                    .map(|t| (t.line, t.quantity.clone(), t.take.clone(), t.weight.clone()))
                    .collect()
            };
            assert_eq!(lines(one), lines(other));
        }
    }
}

#[test]
fn measured_sums_are_the_needs_in_units() {
    let (book, needs) = exploded(&made(&SHAPE));
    let sums = Sums::new(&book, &needs);
    let mut scratch = sums.scratch();
    for build in &needs.builds {
        let flat = needs.flat(&book, build);
        let mut found = Vec::new();
        let is_summed = sums.each_measured(build, &mut scratch, &mut |position, good, required| {
            found.push((position, good, required));
        });
        assert_eq!(is_summed, Some(()), "nothing of the book is cut");
        assert_eq!(found.len(), flat.needs.len());
        for ((position, good, required), need) in found.into_iter().zip(&flat.needs) {
            let measured = &sums.measured()[position];
            let factor = &book.item(need.item).unit.factor;
            let amount = |sum: i128, units: i64| {
                cutbill::quantity::Ratio::new(sum, i128::from(units)).unwrap() * factor
            };
            assert_eq!((measured.item, need.what), (need.item, What::Amount));
            assert_eq!(amount(good, measured.good_units), need.good);
            assert_eq!(amount(required, measured.required_units), need.required);
        }
    }
}

#[test]
fn sums_by_key_are_those_of_the_ledger() {
    let nested = Shape { lines: 3_000, plans: 3, items: 200, forms: Forms::Nested, ..SHAPE };
    for (files, lot) in
        [(made(&SHAPE), 1), (made(&SHAPE), 7), (folder("samples/fenmark"), 1), (made(&nested), 2)]
    {
        let (book, needs) = exploded(&files);
        let mut options = rollup::Options { lot: Some(lot), ..rollup::Options::default() };
        options.nest.effort = 1;
        let rolled = rollup::rollup(&book, &needs, options, &Silent).unwrap();
        for keys in [
            vec![Key::Plan],
            vec![Key::Item],
            vec![Key::Vendor, Key::Plan],
            vec![Key::Plan, Key::Kind, Key::Group],
        ] {
            let summed = rollup::summed(&book, &needs, options, &keys, &Silent).unwrap().unwrap();
            let ledger = ledger(&book, &needs, &rolled.value, &keys).unwrap();
            assert_eq!(summed.value.grouping, group(&ledger, &keys).unwrap());
            assert_eq!((summed.value.terms.lot, summed.value.terms.builds.len()), (lot, 0));
            assert_eq!(summed.warnings, rolled.warnings);
        }
        for keys in [vec![], vec![Key::Plan, Key::Line]] {
            let summed = rollup::summed(&book, &needs, options, &keys, &Silent).unwrap();
            assert!(summed.is_none());
        }
    }
}

/// Texts of all findings, in order.
fn told(findings: &[Diagnostic]) -> Vec<String> {
    findings.iter().map(ToString::to_string).collect()
}

#[test]
fn mistakes_are_told_alike_on_any_number_of_cores() {
    let mut files = made(&SHAPE);
    let bill = String::from_utf8(files.0["bill.csv"].clone()).unwrap();
    let spoiled = |(number, line): (usize, &str)| -> String {
        let mut cells: Vec<&str> = line.splitn(4, ',').collect();
        match number % 997 {
            11 => cells[1] = "P-0000x",
            205 => cells[2] = "length +",
            396 => cells[2] = "no_such_name * 2",
            580 => cells[2] = "-4",
            771 => cells[0] = "",
            _ => {}
        }
        cells.join(",")
    };
    let lines: Vec<String> = bill.lines().enumerate().map(spoiled).collect();
    files.0.insert("bill.csv".to_owned(), lines.join("\n").into_bytes());
    let alone = on_cores(1, || read(&files).unwrap_err());
    assert!(alone.len() > 140, "only {} mistakes", alone.len());
    for cores in [2, 3, 8] {
        assert_eq!(told(&on_cores(cores, || read(&files).unwrap_err())), told(&alone));
    }
}

#[test]
fn a_book_is_read_alike_on_any_number_of_cores() {
    let files = made(&SHAPE);
    let shown = |cores: usize| on_cores(cores, || format!("{:?}", read(&files).unwrap().value));
    let alone = shown(1);
    for cores in [2, 5] {
        assert!(shown(cores) == alone, "the book differs on {cores} cores");
    }
}

#[test]
fn long_texts_are_parted_alike_on_any_number_of_cores() {
    let text = |line: &dyn Fn(usize) -> String| -> String {
        let head = ["parent,component,note".to_owned()];
        head.into_iter().chain((0..130_000).map(line)).collect::<Vec<_>>().join("\n")
    };
    let texts = [
        text(&|row| format!("A{row},\"P \"\"{row}\"\"\",x")),
        // Each cell in quotes goes over many lines, so that a stretch is likely to begin inside one.
        text(&|row| {
            if row % 500 == 0 {
                format!("A,\"{}\",x", "line\n".repeat(9_000))
            } else {
                String::new()
            }
        }),
        text(&|row| {
            if row == 40_000 { "A,\"never closed".to_owned() } else { format!("A,{row},y") }
        }),
        text(&|row| if row % 20_000 == 7 { "A,b,c,d".to_owned() } else { format!("A,{row},z") }),
        // Semicolons, decimal signs, a column without a header, and line ends of two signs.
        text(&|row| format!("A{row};{row},5;;stray"))
            .replacen("parent,component,note", "parent;component;note;", 1)
            .replace('\n', "\r\n"),
        format!("\r\n \r\nparent,component\r\n{}", "\r\nA,B\r\n".repeat(150_000)),
    ];
    for text in texts {
        assert!(text.len() > 1_000_000, "too short to be parted");
        let files = Memory::from_iter([("bill.csv", text)]);
        let shown = |cores| on_cores(cores, || format!("{:?}", tables(&files)));
        let alone = shown(1);
        for cores in [2, 3, 7] {
            assert!(shown(cores) == alone, "{cores} cores read otherwise");
        }
    }
}

#[expect(clippy::disallowed_methods, reason = "a test reads the sample")]
fn folder(path: &str) -> Memory {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join(path);
    let files = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let tables = files.filter(|path| path.extension().is_some_and(|extension| extension == "csv"));
    tables
        .map(|path| {
            let name = path.file_name().unwrap().to_str().unwrap().to_owned();
            (name, std::fs::read(&path).unwrap())
        })
        .collect()
}
