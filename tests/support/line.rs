//! The whole line, as a user of the library runs it: files in, a roll-up out.

use std::collections::BTreeMap;

use cutbill::diag::Diagnostic;
use cutbill::explode::{self, Needs};
use cutbill::model::Book;
use cutbill::nest;
use cutbill::read;
use cutbill::rollup::{self, Rollup};
use cutbill::watch::Silent;

/// Files in memory.
pub(crate) struct Folder<'a>(pub(crate) &'a BTreeMap<String, Vec<u8>>);

impl read::Files for Folder<'_> {
    fn names(&self) -> Vec<String> {
        self.0.keys().cloned().collect()
    }

    fn bytes(&self, name: &str) -> Result<Vec<u8>, String> {
        self.0.get(name).cloned().ok_or_else(|| "no such file".to_owned())
    }
}

/// A book with what it comes to.
pub(crate) struct Line {
    pub book: Book,
    pub needs: Needs,
    pub rollup: Rollup,
}

/// Reads a book that is known to be sound.
#[track_caller]
pub(crate) fn read(files: &BTreeMap<String, Vec<u8>>) -> Book {
    match read::read(&Folder(files)) {
        Ok(checked) => checked.value,
        Err(findings) => panic!("the book is not read:\n{}", shown(&findings)),
    }
}

/// Explodes and rolls up every plan.
#[track_caller]
pub(crate) fn roll_up(book: Book, options: &explode::Options, lot: u32, effort: u32) -> Line {
    let needs = match explode::explode(&book, options) {
        Ok(checked) => checked.value,
        Err(findings) => panic!("the book is not exploded:\n{}", shown(&findings)),
    };
    let nest = nest::Options { effort, ..nest::Options::default() };
    let options = rollup::Options { lot: Some(lot), nest };
    let rollup = match rollup::rollup(&book, &needs, options, &Silent) {
        Ok(checked) => checked.value,
        Err(findings) => panic!("the book is not rolled up:\n{}", shown(&findings)),
    };
    Line { book, needs, rollup }
}

fn shown(findings: &[Diagnostic]) -> String {
    let lines: Vec<String> = findings.iter().map(ToString::to_string).collect();
    lines.join("\n")
}
