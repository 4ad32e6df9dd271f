//! Plain text for a terminal or a file: tables that fit a width, readable without color.

use tabled::builder::Builder;
use tabled::settings::object::Columns;
use tabled::settings::peaker::Priority;
use tabled::settings::style::{HorizontalLine, Style};
use tabled::settings::{Alignment, Modify, Padding, Theme, Width};

use crate::render::report::{Cell, Report, Table};

/// Returns a report as text; tables wider than `width` are wrapped to it, where one is given.
#[must_use]
pub fn text(report: &Report, width: Option<usize>) -> String {
    let mut out = String::new();
    for line in &report.heading {
        out.push_str(line);
        out.push('\n');
    }
    for table in &report.tables {
        out.push('\n');
        if !table.title.is_empty() {
            out.push_str(&table.title);
            out.push('\n');
        }
        if !table.columns.is_empty() {
            out.push_str(&laid(table, width));
            out.push('\n');
        }
        for line in &table.below {
            out.push_str(line);
            out.push('\n');
        }
    }
    if !report.notes.is_empty() {
        out.push('\n');
    }
    for note in &report.notes {
        for line in folded(note, width.unwrap_or(usize::MAX)) {
            out.push_str(&line);
            out.push('\n');
        }
    }
    out
}

fn laid(table: &Table, width: Option<usize>) -> String {
    let mut builder = Builder::default();
    builder.push_record(table.columns.iter().map(|column| column.title.as_str()));
    for row in table.rows.iter().chain(&table.totals) {
        builder.push_record(row.iter().map(|cell: &Cell| printable(&cell.shown)));
    }
    let mut laid = builder.build();
    let mut theme = Theme::from_style(Style::empty());
    theme.insert_horizontal_line(1, HorizontalLine::filled('─'));
    if !table.totals.is_empty() && !table.rows.is_empty() {
        theme.insert_horizontal_line(1 + table.rows.len(), HorizontalLine::filled('─'));
    }
    laid.with(theme);
    laid.with(Padding::new(0, 2, 0, 0));
    for (index, column) in table.columns.iter().enumerate() {
        if column.is_number {
            laid.with(Modify::new(Columns::one(index)).with(Alignment::right()));
        }
    }
    if let Some(width) = width {
        laid.with(Width::wrap(width).priority(Priority::max(true)).keep_words(true));
    }
    laid.to_string()
}

/// Replaces what would break a line or drive a terminal.
fn printable(text: &str) -> String {
    text.chars().map(|sign| if sign.is_control() { ' ' } else { sign }).collect()
}

fn folded(text: &str, width: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        let line = lines.last_mut().expect("there is always a line");
        if !line.is_empty() && line.chars().count() + 1 + word.chars().count() > width {
            lines.push(word.to_owned());
            continue;
        }
        if !line.is_empty() {
            line.push(' ');
        }
        line.push_str(word);
    }
    lines
}
