//! Plain text for a terminal or a file: tables that fit a width, readable without color.
//!
//! Figures are never broken: they stand on their decimal points, and where a width is too small, words are wrapped and
//! then the columns that may go are left out, by name. No line ends in spaces.

mod layout;

use unicode_width::UnicodeWidthStr;

use crate::render::report::Report;

/// Returns a report as text; tables and lines wider than `width` are fitted to it, where one is given.
///
/// # Example
/// ```
/// # use cutbill::model::summary;
/// # use cutbill::read::{Memory, read};
/// use cutbill::render::{text, report};
///
/// # let files = Memory::from_iter([
/// #     ("plans.csv", "plan\nSedge\n"),
/// #     ("bill.csv", "parent,component,quantity\nSedge,BOLT,4\n"),
/// #     ("items.csv", "item,form,price,weight\nBOLT,count,0.25,0.1 lb\n"),
/// # ]);
/// # let book = read(&files).unwrap().value;
/// let report = report::check(&book, &summary(&book));
/// let text = text::text(&report, Some(80));
/// assert!(text.contains("\nplans                         1\n"), "{text}");
/// ```
#[must_use]
pub fn text(report: &Report, width: Option<usize>) -> String {
    let width = width.unwrap_or(usize::MAX);
    let mut out = String::new();
    for line in &report.heading {
        push(&mut out, line, width);
    }
    for table in &report.tables {
        out.push('\n');
        if !table.title.is_empty() {
            push(&mut out, &table.title, width);
        }
        if !table.columns.is_empty() {
            for line in layout::lines(table, width) {
                out.push_str(line.trim_end());
                out.push('\n');
            }
        }
        for line in &table.below {
            push(&mut out, line, width);
        }
    }
    if !report.notes.is_empty() {
        out.push('\n');
    }
    for note in &report.notes {
        push(&mut out, note, width);
    }
    out
}

/// Adds a line, folded if it is too wide; what follows the fold is set in.
fn push(out: &mut String, line: &str, width: usize) {
    let line = printable(line);
    if line.width() <= width {
        out.push_str(line.trim_end());
        out.push('\n');
        return;
    }
    let indent = line.len() - line.trim_start().len();
    let mut lines = folded(line.trim_start(), width.saturating_sub(indent + 2));
    for (index, folded) in lines.drain(..).enumerate() {
        let indent = if index == 0 { indent } else { indent + 2 };
        out.push_str(&" ".repeat(indent));
        out.push_str(&folded);
        out.push('\n');
    }
}

/// Replaces what would break a line or drive a terminal.
fn printable(text: &str) -> String {
    text.chars().map(|sign| if sign.is_control() { ' ' } else { sign }).collect()
}

/// Folds a text between words into lines of at most `width`; a longer word is broken.
pub(in crate::render) fn folded(text: &str, width: usize) -> Vec<String> {
    let width = width.max(1);
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        let mut word = word.to_owned();
        loop {
            let line = lines.last_mut().expect("there is always a line");
            let gap = usize::from(!line.is_empty());
            if line.width() + gap + word.width() <= width {
                line.push_str(&" "[..gap]);
                line.push_str(&word);
                break;
            }
            if gap == 1 {
                lines.push(String::new());
                continue;
            }
            let rest = word.split_off(fitting(&word, width));
            line.push_str(&word);
            lines.push(String::new());
            word = rest;
        }
    }
    lines
}

/// Returns how many bytes of a word fit a width, one letter at least.
fn fitting(word: &str, width: usize) -> usize {
    let ends = word.char_indices().map(|(start, letter)| start + letter.len_utf8());
    let mut fits = 0;
    for end in ends {
        if fits > 0 && word[..end].width() > width {
            break;
        }
        fits = end;
    }
    fits
}

#[cfg(test)]
mod tests;
