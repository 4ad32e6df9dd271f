//! Tables as a document shows them: which columns, what stands in each cell, and in which unit its figures are.

use askama::Template;

use crate::quantity::text::{DecimalSign, measure};
use crate::quantity::{Dimension, Length};
use crate::render::html::svg::Figure;
use crate::render::report::{Cell, Column, Showing, Table};
use crate::render::shown;

/// Units of figures that the unit switch knows.
const UNITS: [&str; 7] = ["lb", "kg", "in", "ft", "ft2", "mm", "m"];

/// A table ready to be written.
#[derive(Debug, Default, PartialEq, Eq, Template)]
#[template(path = "table.html")]
pub(super) struct TableView {
    /// Its name in the document.
    pub(super) id: String,
    /// What it shows, and after it the unit of all its figures, if they have one.
    pub(super) caption: String,
    pub(super) unit: &'static str,
    pub(super) columns: Vec<ColumnView>,
    pub(super) rows: Vec<RowView>,
    pub(super) totals: Vec<RowView>,
    /// Lines of text below it.
    pub(super) below: Vec<String>,
    /// Whether the shade of a cell shows how much it holds.
    pub(super) is_heat: bool,
    /// Columns of short texts, counted from 1: those are not broken into lines.
    pub(super) kept: Vec<usize>,
}

#[derive(Debug, PartialEq, Eq)]
pub(super) struct ColumnView {
    /// Its title without the unit.
    pub(super) title: String,
    pub(super) is_number: bool,
    /// The unit of its figures; empty if they have none or that of the table.
    pub(super) unit: &'static str,
    /// Whether its title is a day.
    pub(super) is_day: bool,
    /// The unit its figures are in, be it its own or the table's; empty for other columns.
    pub(super) figures: &'static str,
}

#[derive(Debug, Default, PartialEq, Eq)]
pub(super) struct RowView {
    /// The unit of the row's figures, where rows have units of their own.
    pub(super) unit: &'static str,
    pub(super) cells: Vec<CellView>,
}

#[derive(Debug, Default, PartialEq, Eq)]
pub(super) struct CellView {
    pub(super) figure: Figure,
    pub(super) is_number: bool,
    /// Whether it says the same as the cell above.
    pub(super) is_repeated: bool,
    /// How much it holds, from 1 to 5; 0 for nothing and where that is not shown.
    pub(super) heat: usize,
    /// Whether it is below zero.
    pub(super) is_short: bool,
}

impl CellView {
    /// Returns its classes in the style sheet: figure, repeated, how much it holds, below zero.
    fn class(&self) -> String {
        let mut class = String::new();
        for (is_so, name) in
            [(self.is_number, "n"), (self.is_repeated, "r"), (self.is_short, "short")]
        {
            if is_so {
                class.push_str(if class.is_empty() { "" } else { " " });
                class.push_str(name);
            }
        }
        if self.heat > 0 {
            class.push_str(&format!(" h{}", self.heat));
        }
        class
    }
}

/// Returns a table for a document; nothing if it has neither columns nor text.
pub(super) fn view(table: &Table, id: String) -> Option<TableView> {
    let below: Vec<String> = table
        .below
        .iter()
        .filter(|line| !is_drawn(line))
        .map(|line| line.trim().to_owned())
        .collect();
    if table.columns.is_empty() && below.is_empty() {
        return None;
    }
    let (caption, unit) = match table.title.rsplit_once(", ") {
        Some((caption, unit)) => match known(unit) {
            Some(unit) => (format!("{caption}, "), unit),
            None => (table.title.clone(), ""),
        },
        None => (table.title.clone(), ""),
    };
    let shown: Vec<usize> = (0..table.columns.len())
        .filter(|index| table.columns[*index].showing != Showing::Never)
        .collect();
    let columns: Vec<ColumnView> =
        shown.iter().map(|index| column(&table.columns[*index], unit)).collect();
    let of_row = row_unit(&table.columns);
    let rows = |rows: &[Vec<Cell>]| -> Vec<RowView> {
        let mut made: Vec<RowView> = Vec::with_capacity(rows.len());
        for cells in rows {
            let unit = of_row.and_then(|at| known(&cells.get(at)?.plain)).unwrap_or("");
            let cells = shown.iter().map(|index| cell(cells.get(*index), &table.columns[*index]));
            made.push(RowView { unit, cells: cells.collect() });
        }
        made
    };
    Some(TableView {
        id,
        caption,
        unit,
        columns,
        rows: rows(&table.rows),
        totals: rows(&table.totals),
        below,
        is_heat: false,
        kept: kept(table, &shown),
    })
}

impl TableView {
    /// Shades each figure of a week by its share of the largest one of its row, and marks those below zero.
    pub(super) fn heated(mut self) -> TableView {
        let amount = |cell: &CellView| -> Option<i128> {
            let text = cell.figure.text.replace(',', "");
            if !cell.is_number || !shown::is_decimal(&text) {
                return None;
            }
            let (whole, part) = text.split_once('.').unwrap_or((&text, ""));
            format!("{whole}{part:0<4.4}").parse().ok()
        };
        let weeks: Vec<bool> = self.columns.iter().map(|column| column.is_day).collect();
        for row in &mut self.rows {
            let of_weeks = row.cells.iter().zip(&weeks).filter(|(_, is_week)| **is_week);
            let most = of_weeks.filter_map(|(cell, _)| amount(cell)).max().unwrap_or(0).max(1);
            for (cell, _) in row.cells.iter_mut().zip(&weeks).filter(|(_, is_week)| **is_week) {
                let Some(amount) = amount(cell) else { continue };
                cell.is_short = amount < 0;
                let fifth = (amount.saturating_mul(5) + most - 1) / most;
                cell.heat = usize::try_from(fifth.clamp(0, 5)).unwrap_or(0);
            }
        }
        self.is_heat = true;
        self
    }
}

/// Most columns whose texts are kept whole, and most letters of such a text.
const KEPT: usize = 8;
const SHORT: usize = 24;

/// Returns the positions from 1 of columns that hold short texts only.
fn kept(table: &Table, shown: &[usize]) -> Vec<usize> {
    let is_short = |index: usize| {
        let mut cells = table.rows.iter().filter_map(|row| row.get(index));
        cells.all(|cell| cell.plain.chars().count() <= SHORT)
    };
    let words = shown.iter().take(KEPT).enumerate();
    words
        .filter(|(_, index)| !table.columns[**index].is_number && is_short(**index))
        .map(|(position, _)| position + 1)
        .collect()
}

/// Tells whether a title is a day, with or without its year.
fn is_day(title: &str) -> bool {
    !title.is_empty() && title.bytes().all(|sign| sign.is_ascii_digit() || sign == b'-')
}

fn known(text: &str) -> Option<&'static str> {
    UNITS.into_iter().find(|unit| *unit == text)
}

/// Tells whether a line belongs to a drawing in letters, which a document has a better one for.
fn is_drawn(line: &str) -> bool {
    line.contains(|letter| ('\u{2500}'..='\u{25FF}').contains(&letter))
}

/// Returns the column that names the unit of its row's figures, in tables that name what each row is a figure of.
fn row_unit(columns: &[Column]) -> Option<usize> {
    columns.iter().find(|column| column.title == "figure")?;
    columns.iter().position(|column| column.title == "unit")
}

fn column(column: &Column, of_table: &'static str) -> ColumnView {
    let own = column.title.rsplit_once(' ').and_then(|(title, unit)| Some((title, known(unit)?)));
    // A title that is a unit itself, as `gal`, has figures in it; a share has none.
    let is_plain = !column.title.ends_with(['%', '²'])
        && !ENDINGS.iter().any(|end| column.title.ends_with(end));
    let (title, unit) = match own.filter(|_| column.is_number) {
        Some((title, unit)) => (format!("{title} "), unit),
        None => (column.title.clone(), ""),
    };
    let figures = match unit {
        "" if column.is_number && is_plain => of_table,
        unit => unit,
    };
    let is_day = is_day(&column.title);
    ColumnView { title, is_number: column.is_number, is_day, unit, figures }
}

/// Ends of titles whose figures are not in the unit of the table.
const ENDINGS: [&str; 3] = ["gal", "kg", "with one"];

fn cell(cell: Option<&Cell>, column: &Column) -> CellView {
    let Some(cell) = cell else { return CellView::default() };
    // A figure that people are not shown is zero, and better left out here too.
    let is_repeated = cell.shown.is_empty() && !cell.plain.is_empty() && !column.is_number;
    let text = if is_repeated { cell.plain.clone() } else { cell.shown.clone() };
    let figure = match lengths(&text).filter(|_| !column.is_number) {
        Some(lengths) => Figure::lengths(text, &lengths),
        None => Figure::text(text),
    };
    CellView { figure, is_number: column.is_number, is_repeated, ..CellView::default() }
}

/// Returns the lengths of a text that is a size and nothing else: `96 x 48 in`, `8 ft`.
fn lengths(text: &str) -> Option<Vec<Length>> {
    let (sides, unit) = text.rsplit_once(' ')?;
    known(unit).filter(|unit| ["in", "ft", "mm"].contains(unit))?;
    let read = |side: &str| {
        let side = side.trim();
        side.starts_with(|sign: char| sign.is_ascii_digit()).then_some(())?;
        let read = measure(&format!("{side} {unit}"), None, DecimalSign::Point).ok()?;
        read.to_length().filter(|_| read.dimension == Dimension::LENGTH)
    };
    sides.split(" x ").map(read).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn column_of(title: &str, is_number: bool) -> Column {
        Column { title: title.to_owned(), is_number, showing: Showing::Always, is_summed: false }
    }

    #[test]
    fn units_of_columns_come_from_their_titles_or_the_table() {
        let figures = |title: &str, of_table| column(&column_of(title, true), of_table).figures;
        assert_eq!(figures("weight lb", ""), "lb");
        assert_eq!(figures("cg back in", "lb"), "in");
        assert_eq!(figures("hitch", "lb"), "lb");
        assert_eq!(figures("hitch %", "lb"), "");
        assert_eq!(figures("gal", "lb"), "");
        assert_eq!(figures("cost USD", ""), "");
        assert_eq!(column(&column_of("pieces, in", false), "lb").figures, "");
    }

    #[test]
    fn sizes_keep_their_exact_lengths() {
        let nanometers = |text: &str| {
            lengths(text).map(|all| all.iter().map(|l| l.nanometers()).collect::<Vec<_>>())
        };
        assert_eq!(nanometers("96 x 48-1/2 in"), Some(vec![2_438_400_000, 1_231_900_000]));
        assert_eq!(nanometers("2440 x 1220 mm"), Some(vec![2_440_000_000, 1_220_000_000]));
        assert_eq!(nanometers("8 ft"), Some(vec![2_438_400_000]));
        for text in ["made to length", "3 of 48 in", "drop in", "96 x 48", "in"] {
            assert_eq!(nanometers(text), None, "{text}");
        }
    }

    #[test]
    fn cells_that_repeat_the_one_above_say_so_and_drawings_in_letters_are_left_out() {
        let cell =
            |shown: &str, plain: &str| Cell { shown: shown.to_owned(), plain: plain.to_owned() };
        let table = Table {
            title: "Loads of one unit, lb".to_owned(),
            columns: vec![column_of("plan", false), column_of("03-01", true)],
            rows: vec![
                vec![cell("A", "A"), cell("1,000", "1000")],
                vec![cell("", "A"), cell("-5", "-5")],
            ],
            below: vec!["  ▂▂██".to_owned(), " a line".to_owned()],
            ..Table::default()
        };
        let made = view(&table, "t1".to_owned()).unwrap().heated();
        assert_eq!((made.caption.as_str(), made.unit), ("Loads of one unit, ", "lb"));
        assert_eq!(made.below, ["a line"]);
        let second = &made.rows[1].cells;
        assert!(second[0].is_repeated && second[0].figure.text == "A" && second[1].is_short);
        assert_eq!(made.rows[0].cells[1].heat, 5);
    }
}
