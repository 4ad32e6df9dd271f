//! Reads a wrong book and asks what its case asks.

use cutbill::compare::{self, Scope, Side};
use cutbill::diag::{Checked, Diagnostic};
use cutbill::explode::{self, Needs};
use cutbill::model::{Book, CaseRow, OptionId, PlanId};
use cutbill::quantity::Ratio;
use cutbill::read::{self, Memory};
use cutbill::rollup::{self, Rollup};
use cutbill::swap::{self, Proposal};
use cutbill::watch::Silent;
use cutbill::{loads, nest, orders, price};

use crate::case::{Case, File};
use crate::workbook;

type Found = Vec<Diagnostic>;

/// Returns what is said when a case is asked, in the order it is said.
pub(crate) fn ask(base: &Case, case: &Case) -> Found {
    let (verb, rest) = case.ask.split_once(' ').unwrap_or((&case.ask, ""));
    let files = memory(base, case, "");
    let mut found = Vec::new();
    // Whatever keeps a question from its answer is among the findings.
    let _ = match verb {
        "" => check(&files, &mut found),
        "explode" => read_and(&files, rest, &mut found, |_, _, _| Ok(())),
        "rollup" => rolled(&files, rest, &mut found, |_, _, _, _| Ok(())),
        "orders" => ask_orders(&files, rest, &mut found),
        "price" => ask_price(&files, rest, &mut found),
        "loads" => ask_loads(&files, rest, &mut found),
        "swap" => ask_swap(&files, rest, &mut found),
        "compare" => ask_compare(&files, &memory(base, case, "new/"), &mut found),
        "actuals" => rolled(&files, rest, &mut found, |book, needs, rollup, found| {
            found.extend(compare::variances(book, needs, rollup).warnings);
            Ok(())
        }),
        other => panic!("`{}` asks for `{other}`", case.name),
    };
    found
}

/// Returns the files of the base with those of the case in their place; `prefix` picks the files of a second book.
fn memory(base: &Case, case: &Case, prefix: &str) -> Memory {
    let own = case.files.iter().filter_map(|file| {
        let name = file.name.strip_prefix(prefix).filter(|name| !name.contains('/'))?;
        Some(File { name: name.to_owned(), ..file.clone() })
    });
    let own: Vec<File> = own.collect();
    if let [File { name, text: Some(text), encoding: None }] = own.as_slice()
        && workbook::is_workbook(name)
    {
        return [(name.clone(), workbook::bytes(base, text))].into_iter().collect();
    }
    let mut files = Memory::default();
    for file in base.files.iter().chain(&own) {
        match &file.text {
            Some(text) => {
                files.0.insert(file.name.clone(), encoded(text, file.encoding.as_deref()))
            }
            None => files.0.remove(&file.name),
        };
    }
    files
}

fn encoded(text: &str, encoding: Option<&str>) -> Vec<u8> {
    let wide = |bytes: fn(u16) -> [u8; 2]| -> Vec<u8> {
        std::iter::once(0xFEFF).chain(text.encode_utf16()).flat_map(bytes).collect()
    };
    match encoding {
        None => text.as_bytes().to_vec(),
        Some("a text with a mark") => format!("\u{feff}{text}").into_bytes(),
        Some("UTF-16") => wide(u16::to_le_bytes),
        Some("big UTF-16") => wide(u16::to_be_bytes),
        Some("UTF-16 without a mark") => text.encode_utf16().flat_map(u16::to_le_bytes).collect(),
        Some("broken UTF-16") => {
            let mut bytes = wide(u16::to_le_bytes);
            bytes.extend([0x00, 0xD8]);
            bytes
        }
        Some("Windows-1252") => {
            text.chars().map(|letter| u8::try_from(letter).unwrap_or(b'?')).collect()
        }
        Some("lines of CR") => text.replace('\n', "\r").into_bytes(),
        Some("lines of CR LF") => text.replace('\n', "\r\n").into_bytes(),
        Some("no end of line") => text.trim_end_matches('\n').as_bytes().to_vec(),
        Some("nothing") => Vec::new(),
        Some("escapes") => {
            let signs = [
                ("\\0", "\0"),
                ("\\t", "\t"),
                ("\\x03", "\x03"),
                ("\\x04", "\x04"),
                ("\\x1a", "\x1a"),
                ("\\x1b", "\x1b"),
            ];
            let with = |text: String, (from, to): (&str, &str)| text.replace(from, to);
            signs.into_iter().fold(text.to_owned(), with).into_bytes()
        }
        Some(other) => panic!("`{other}` is no encoding"),
    }
}

/// Keeps the warnings of an answer, or the errors that there is none for.
fn keep<T>(answer: Result<Checked<T>, Found>, found: &mut Found) -> Result<T, ()> {
    match answer {
        Ok(Checked { value, warnings }) => {
            add_new(found, warnings);
            Ok(value)
        }
        Err(errors) => {
            add_new(found, errors);
            Err(())
        }
    }
}

/// Adds what was not said before: later stages meet again what reading has met.
fn add_new(found: &mut Found, further: Found) {
    for finding in further {
        if !found.iter().any(|known| known.problem == finding.problem) {
            found.push(finding);
        }
    }
}

fn check(files: &Memory, found: &mut Found) -> Result<(), ()> {
    let book = match read::read(files) {
        Ok(Checked { value, warnings }) => {
            found.extend(warnings);
            value
        }
        Err(errors) => {
            found.extend(errors);
            return Err(());
        }
    };
    found.extend(explode::explode_every(&book));
    Ok(())
}

/// Reads `plan A; option b; without c; on 2027-03-15; unit 3` as what to explode.
fn scope(book: &Book, words: &str) -> explode::Options {
    let mut options = explode::Options::default();
    let option = |name: &str| {
        let position = book.options.iter().position(|option| option.name == name).unwrap();
        OptionId(u32::try_from(position).unwrap())
    };
    for part in parts(words) {
        match part {
            ("plan", name) => {
                let position = book.plans.iter().position(|plan| plan.name == name).unwrap();
                options.plans.push(PlanId(u32::try_from(position).unwrap()));
            }
            ("option", name) => options.chosen.push(option(name)),
            ("without", name) => options.without.push(option(name)),
            ("on", day) => options.on = Some(day.parse().unwrap()),
            ("unit", number) => options.unit = Some(number.parse().unwrap()),
            _ => {}
        }
    }
    options
}

fn parts(words: &str) -> impl Iterator<Item = (&str, &str)> {
    words.split(';').map(|part| part.trim().split_once(' ').unwrap_or((part.trim(), "")))
}

fn values<'a>(words: &'a str, name: &'a str) -> impl Iterator<Item = &'a str> {
    parts(words).filter(move |(word, _)| *word == name).map(|(_, value)| value)
}

fn value<'a>(words: &'a str, name: &'a str) -> Option<&'a str> {
    values(words, name).next()
}

fn read_and(
    files: &Memory,
    words: &str,
    found: &mut Found,
    then: impl FnOnce(&Book, &Needs, &mut Found) -> Result<(), ()>,
) -> Result<(), ()> {
    let book = keep(read::read(files), found)?;
    let needs = keep(explode::explode(&book, &scope(&book, words)), found)?;
    then(&book, &needs, found)
}

fn cutting() -> rollup::Options {
    rollup::Options { lot: None, nest: nest::Options { effort: 1, ..nest::Options::default() } }
}

fn rolled(
    files: &Memory,
    words: &str,
    found: &mut Found,
    then: impl FnOnce(&Book, &Needs, &Rollup, &mut Found) -> Result<(), ()>,
) -> Result<(), ()> {
    read_and(files, words, found, |book, needs, found| {
        let rollup = keep(rollup::rollup(book, needs, cutting(), &Silent), found)?;
        then(book, needs, &rollup, found)
    })
}

fn ask_orders(files: &Memory, words: &str, found: &mut Found) -> Result<(), ()> {
    let book = keep(read::read(files), found)?;
    let options = orders::Options {
        as_of: value(words, "on").map(|day| day.parse().unwrap()),
        pool: orders::Pool::Week,
        weeks: value(words, "weeks").map(|weeks| weeks.parse().unwrap()),
        service_level: value(words, "service")
            .map(|level| Ratio::decimal(level.parse().unwrap(), 2)),
        skips_comparison: false,
        nest: cutting().nest,
    };
    keep(orders::orders(&book, &options, &Silent), found).map(drop)
}

fn ask_price(files: &Memory, words: &str, found: &mut Found) -> Result<(), ()> {
    rolled(files, words, found, |book, needs, rollup, found| {
        let options = price::Options { target: None, first_unit: None };
        keep(price::price(book, needs, rollup, &options), found)?;
        let typed = values(words, "try").filter_map(|text| price::parse_case("as asked", text));
        let rows: Vec<CaseRow> = book.cases.iter().cloned().chain(typed).collect();
        if !rows.is_empty() {
            let rows = &rows;
            let asked = (cutting(), &options);
            if let Err(errors) = price::cases(book, needs, rollup, rows, asked, &Silent) {
                add_new(found, errors);
            }
        }
        Ok(())
    })
}

fn ask_loads(files: &Memory, words: &str, found: &mut Found) -> Result<(), ()> {
    read_and(files, words, found, |book, needs, found| {
        let options = loads::Options {
            options: loads::WeighOptions::Left,
            explode: scope(book, words),
            cargo: Vec::new(),
        };
        keep(loads::loads(book, needs, &options), found).map(drop)
    })
}

/// Tries the swaps of the table, or those typed behind `try`.
fn ask_swap(files: &Memory, words: &str, found: &mut Found) -> Result<(), ()> {
    rolled(files, words, found, |book, needs, rollup, found| {
        let typed: Vec<&str> = values(words, "try").collect();
        let mut proposals: Vec<Proposal> = Vec::new();
        for text in &typed {
            match swap::typed(book, text) {
                Ok(proposal) => proposals.push(proposal),
                Err(error) => found.push(error),
            }
        }
        if typed.is_empty() {
            proposals = swap::of_table(book);
        } else if proposals.len() < typed.len() {
            return Err(());
        }
        let options = swap::Options {
            explode: scope(book, words),
            cutting: cutting(),
            ..swap::Options::default()
        };
        let findings = found.clone();
        let base = swap::Base { book, needs, rollup, findings: &findings };
        keep(swap::swap(base, proposals, &options, &Silent), found).map(drop)
    })
}

fn ask_compare(old: &Memory, new: &Memory, found: &mut Found) -> Result<(), ()> {
    let mut further = Vec::new();
    rolled(old, "", found, |old_book, old_needs, old_rollup, found| {
        rolled(new, "", &mut further, |book, needs, rollup, _| {
            let was = Side { book: old_book, needs: old_needs, rollup: old_rollup, build: 0 };
            let is = Side { book, needs, rollup, build: 0 };
            match compare::compare(&[(was, is)], Scope::Written) {
                Ok(_) => {}
                Err(errors) => add_new(found, errors),
            }
            Ok(())
        })
    })?;
    add_new(found, further);
    Ok(())
}
