//! Lays a table out in lines.

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
    let total = columns.iter().map(|column| column.width + GAP).sum::<usize>().saturating_sub(GAP);
    let rule = "─".repeat(total);
    let titles: Vec<&str> = columns.iter().map(|column| column.title).collect();
    let mut lines = Vec::new();
    push_row(&mut lines, &columns, &titles, Upright::Bottom);
    lines.push(rule.clone());
    for row in 0..rows.len() {
        if row > 0 && row == table.rows.len() {
            lines.push(rule.clone());
        }
        let cells: Vec<&str> = columns.iter().map(|column| column.cells[row].as_str()).collect();
        push_row(&mut lines, &columns, &cells, Upright::Top);
    }
    if !left_out.is_empty() {
        lines.extend(folded(&format!("(no room for: {})", left_out.join(", ")), width));
    }
    lines
}

/// Where the lines of a cell stand that has fewer than its neighbors.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Upright {
    Top,
    Bottom,
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

fn push_row(lines: &mut Vec<String>, columns: &[Column<'_>], cells: &[&str], upright: Upright) {
    let parts: Vec<Vec<String>> = columns
        .iter()
        .zip(cells)
        .map(|(column, cell)| {
            if cell.width() <= column.width {
                vec![(*cell).to_owned()]
            } else {
                let indent = cell.len() - cell.trim_start().len();
                let indent = indent.min(column.width / 2);
                folded(cell, column.width - indent)
                    .into_iter()
                    .map(|line| format!("{:indent$}{line}", ""))
                    .collect()
            }
        })
        .collect();
    let height = parts.iter().map(Vec::len).max().unwrap_or(1);
    for at in 0..height {
        let mut line = String::new();
        for (column, part) in columns.iter().zip(&parts) {
            let skipped = if upright == Upright::Bottom { height - part.len() } else { 0 };
            let text = at.checked_sub(skipped).and_then(|at| part.get(at)).map_or("", |text| text);
            let room = " ".repeat(column.width.saturating_sub(text.width()));
            if column.is_number {
                line.push_str(&room);
                line.push_str(text);
            } else {
                line.push_str(text);
                line.push_str(&room);
            }
            line.push_str(&" ".repeat(GAP));
        }
        lines.push(line.trim_end().to_owned());
    }
}
