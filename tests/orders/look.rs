//! What is found and what is ordered, as texts.

use cutbill::diag::Diagnostic;
use cutbill::model::Book;
use cutbill::orders::{self, Options, OrderLine, Orders};
use cutbill::quantity::Length;
use cutbill::read;
use cutbill::watch::Silent;

use crate::line::Folder;
use crate::purchasing::{files, quick};

/// Reads a book and returns what is found in it.
pub(crate) fn read_findings(tables: &[(&str, &str)]) -> Vec<String> {
    let files = files(tables);
    let findings = match read::read(&Folder(&files)) {
        Ok(checked) => checked.warnings,
        Err(errors) => errors,
    };
    texts(&findings)
}

/// Plans the purchases of a book and returns what is found on the way.
pub(crate) fn findings(book: &Book) -> Vec<String> {
    findings_with(book, &quick())
}

pub(crate) fn findings_with(book: &Book, options: &Options) -> Vec<String> {
    match orders::orders(book, options, &Silent) {
        Ok(checked) => texts(&checked.warnings),
        Err(findings) => texts(&findings),
    }
}

fn texts(findings: &[Diagnostic]) -> Vec<String> {
    findings.iter().map(ToString::to_string).collect()
}

/// Returns order lines as texts: how many, of what, from whom, when, due when, for how much, and what else there is to say.
pub(crate) fn lines(book: &Book, orders: &Orders<'_>) -> Vec<String> {
    orders.planned.iter().flat_map(|planned| &planned.lines).map(|line| shown(book, line)).collect()
}

fn shown(book: &Book, line: &OrderLine) -> String {
    let mut text = format!("{} {}", line.units, book.item(line.item).name);
    if let Some(size) = line.size {
        let size = &book.sizes[size.index()];
        for side in [size.length, size.width].into_iter().flatten() {
            let inches = side.to_ratio().checked_div(&Length::INCH.to_ratio()).unwrap();
            text += &format!(" {inches}");
        }
    }
    if !line.vendor.is_empty() {
        text += &format!(" of {}", line.vendor);
    }
    text += &format!(": {} to {}", line.order_day, line.due);
    if line.is_late() {
        text += &format!(", late {}", line.arrival);
    }
    if line.price.is_some() {
        text += &format!(", {} {}", line.money, line.currency);
    }
    if let Some(raised) = &line.raised {
        text += &format!(", raised from {} saving {}", raised.from, raised.saved);
    }
    text
}
