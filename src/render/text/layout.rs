//! Lays a table out in lines.

use tabled::builder::Builder;
use tabled::settings::formatting::AlignmentStrategy;
use tabled::settings::object::{Columns, Rows};
use tabled::settings::style::{HorizontalLine, Style};
use tabled::settings::{Alignment, Padding};
use unicode_width::UnicodeWidthStr;

use crate::render::report::{Cell, Showing, Table};
use crate::render::text::{folded, printable};

/// Between two columns.
const GAP: usize = 2;
/// A column of words is not wrapped to less than this, if it has words that are longer.
const LEAST: usize = 16;

/// One column as it is laid out.
struct Column<'a> {
    title: &'a str,
    is_number: bool,
    cells: Vec<String>,
    width: usize,
}

/// Returns the lines of a table, none wider than `width` unless even its narrowest form is.
pub(super) fn lines(table: &Table, width: usize) -> Vec<String> {
    let rows: Vec<&Vec<Cell>> = table.rows.iter().chain(&table.totals).collect();
    let mut columns: Vec<(bool, Column<'_>)> = Vec::new();
    for (index, column) in table.columns.iter().enumerate() {
        if column.showing == Showing::Never {
            continue;
        }
        let cells = rows.iter().map(|row| row.get(index).map_or("", |cell| &cell.shown));
        let mut cells: Vec<String> = cells.map(printable).collect();
        if column.is_number {
            align(&mut cells);
        }
        let laid = Column { title: &column.title, is_number: column.is_number, cells, width: 0 };
        columns.push((column.showing == Showing::IfItFits, laid));
    }
    let mut left_out = Vec::new();
    while !fit(&mut columns, width) {
        let Some(last) = columns.iter().rposition(|(may_go, _)| *may_go) else { break };
        left_out.insert(0, columns.remove(last).1.title);
    }
    let columns: Vec<Column<'_>> = columns.into_iter().map(|(_, column)| column).collect();
    let closing = (!table.rows.is_empty() && !table.totals.is_empty()).then_some(table.rows.len());
    let mut lines = drawn(&columns, rows.len(), closing);
    if !left_out.is_empty() {
        lines.extend(folded(&format!("(no room for: {})", left_out.join(", ")), width));
    }
    lines
}

/// Draws columns of settled widths, with a rule under the titles and one above the row where the totals begin.
fn drawn(columns: &[Column<'_>], row_count: usize, closing: Option<usize>) -> Vec<String> {
    let mut builder = Builder::with_capacity(row_count + 1, columns.len());
    builder.push_record(columns.iter().map(|column| wrapped(column.title, column.width)));
    for row in 0..row_count {
        let cells = columns.iter().map(|column| wrapped(&column.cells[row], column.width));
        builder.push_record(cells);
    }
    let rule = || HorizontalLine::empty().horizontal('─');
    let mut table = builder.build();
    match closing {
        Some(closing) => {
            table.with(Style::empty().horizontals([(1, rule()), (1 + closing, rule())]))
        }
        None => table.with(Style::empty().horizontals([(1, rule())])),
    };
    table.with(AlignmentStrategy::PerLine);
    table.modify(Rows::first(), Alignment::bottom());
    for (index, column) in columns.iter().enumerate() {
        if column.is_number {
            table.modify(Columns::one(index), Alignment::right());
        }
        let gap = if index + 1 < columns.len() { GAP } else { 0 };
        table.modify(Columns::one(index), Padding::new(0, gap, 0, 0));
    }
    table.to_string().lines().map(|line| line.trim_end().to_owned()).collect()
}

/// Folds a text to a width; what follows a fold keeps the indent of the first line.
fn wrapped(text: &str, width: usize) -> String {
    if text.width() <= width {
        return text.to_owned();
    }
    let indent = (text.len() - text.trim_start().len()).min(width / 2);
    let lines = folded(text, width - indent);
    lines.iter().map(|line| format!("{:indent$}{line}", "")).collect::<Vec<_>>().join("\n")
}

/// Sets figures on their decimal points.
fn align(cells: &mut [String]) {
    let behind = |cell: &str| cell.find('.').map_or(0, |point| cell.len() - point);
    let is_figure = |cell: &str| {
        cell.chars().all(|sign| sign.is_ascii_digit() || matches!(sign, '.' | ',' | '-'))
    };
    let most = cells.iter().filter(|cell| is_figure(cell)).map(|cell| behind(cell)).max();
    for cell in cells.iter_mut().filter(|cell| !cell.is_empty() && is_figure(cell)) {
        let missing = most.unwrap_or(0) - behind(cell);
        cell.push_str(&" ".repeat(missing));
    }
}

/// Gives each column its width; false if they do not fit together.
fn fit(columns: &mut [(bool, Column<'_>)], width: usize) -> bool {
    let mut least = Vec::new();
    for (_, column) in columns.iter_mut() {
        let cells = column.cells.iter().map(|cell| cell.width()).max().unwrap_or(0);
        column.width = cells.max(column.title.width());
        let word = |text: &str| text.split_whitespace().map(UnicodeWidthStr::width).max();
        let title = word(column.title).unwrap_or(0);
        least.push(if column.is_number {
            cells.max(title)
        } else {
            let words = column.cells.iter().filter_map(|cell| word(cell)).max().unwrap_or(0);
            words.min(LEAST).max(title)
        });
    }
    let gaps = GAP * columns.len().saturating_sub(1);
    let room = width.saturating_sub(gaps);
    if least.iter().sum::<usize>() > room {
        for ((_, column), least) in columns.iter_mut().zip(least) {
            column.width = least;
        }
        return false;
    }
    loop {
        let total: usize = columns.iter().map(|(_, column)| column.width).sum();
        let Some(excess) = total.checked_sub(room).filter(|excess| *excess > 0) else {
            return true;
        };
        // What may go gives way first, then the widest.
        let shrinking = columns
            .iter_mut()
            .zip(&least)
            .filter(|((_, column), least)| column.width > **least)
            .max_by_key(|((may_go, column), _)| (*may_go, column.width));
        let Some(((_, widest), least)) = shrinking else { return true };
        widest.width -= excess.min(widest.width - least).min(1.max(excess / 4));
    }
}
