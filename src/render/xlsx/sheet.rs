//! One table on one sheet: title, source, header, rows, and the closing rows as live sums where they are sums.

use std::collections::BTreeSet;

use rust_xlsxwriter::utility::column_number_to_name;
use rust_xlsxwriter::{
    Color, Format, FormatAlign, FormatBorder, Formula, IgnoreError, TableColumn, TableStyle,
    Worksheet, XlsxError,
};
use unicode_width::UnicodeWidthStr;

use crate::render::report::{Cell, Column, Table};
use crate::render::shown;
use crate::render::xlsx::figure;
use crate::render::xlsx::text;

/// The row of the header; above it are the title, the source and an empty row.
pub(super) const HEADER: u32 = 3;

/// The widest a column gets, in letters; longer text is wrapped.
const WIDEST: usize = 60;

/// A title of a column is wrapped rather than make a column of short cells wider than this.
const TITLE: usize = 12;

/// Room for the button of the filter, in letters.
const BUTTON: usize = 3;

/// A sheet with more letters across is printed in landscape.
const PORTRAIT: usize = 90;

/// What could not be written as it stands.
#[derive(Default)]
pub(super) struct Remarks {
    /// Columns with figures written as text, and how many.
    pub(super) as_text: Vec<(String, usize)>,
    /// Columns with texts that were cut, and how many.
    pub(super) cut: Vec<(String, usize)>,
    /// Columns whose total is a figure instead of a formula.
    pub(super) fixed: Vec<String>,
}

/// How one column is written.
struct Layout<'a> {
    column: &'a Column,
    /// In letters.
    width: usize,
    /// Whether its text is wrapped.
    is_wrapped: bool,
    text: Format,
    /// Formats of figures by their decimal places.
    figures: Vec<Format>,
}

impl Layout<'_> {
    /// Returns the number a cell is, if it is one.
    fn number(&self, cell: &Cell) -> Option<f64> {
        figure::number(&cell.plain).filter(|_| self.column.is_number)
    }

    fn format(&self, cell: &Cell) -> &Format {
        let of_figure =
            self.number(cell).and_then(|_| self.figures.get(figure::places(&cell.plain)));
        of_figure.unwrap_or(&self.text)
    }
}

/// Writes a table that has columns; a spreadsheet knows its rows by the name.
pub(super) fn write(
    sheet: &mut Worksheet,
    table: &Table,
    source: &str,
    name: &str,
) -> Result<Remarks, XlsxError> {
    let mut remarks = Remarks::default();
    text::put(sheet, (0, 0), &table.title, &Format::new().set_bold().set_font_size(14))?;
    text::put(sheet, (1, 0), source, &Format::new().set_font_color(Color::Gray))?;
    let layouts: Vec<Layout<'_>> =
        (0..table.columns.len()).map(|index| layout(table, index)).collect();
    for (index, layout) in layouts.iter().enumerate() {
        write_column(sheet, table, index, layout, &mut remarks)?;
    }
    let titles =
        layouts.iter().map(|layout| text::lines(&layout.column.title, layout.width - BUTTON));
    text::heighten(sheet, HEADER, titles.max().unwrap_or(1))?;
    let wrapped: Vec<(usize, &Layout<'_>)> =
        layouts.iter().enumerate().filter(|(_, layout)| layout.is_wrapped).collect();
    for (row, cells) in (HEADER + 1..).zip(table.rows.iter().chain(&table.totals)) {
        let lines = wrapped.iter().filter_map(|(index, layout)| {
            cells.get(*index).map(|cell| text::lines(&cell.plain, layout.width))
        });
        text::heighten(sheet, row, lines.max().unwrap_or(1))?;
    }
    set_up(sheet, &layouts, rows(table.rows.len()), name)?;
    Ok(remarks)
}

fn write_column(
    sheet: &mut Worksheet,
    table: &Table,
    index: usize,
    layout: &Layout<'_>,
    remarks: &mut Remarks,
) -> Result<(), XlsxError> {
    let at = u16::try_from(index).expect("the columns are counted before");
    let title = &layout.column.title;
    text::put(sheet, (HEADER, at), title, &header(layout.column.is_number))?;
    sheet.set_column_width(at, u16::try_from(layout.width).expect("a width is limited"))?;
    let first = HEADER + 1;
    let mut written = Written::default();
    for (row, cells) in (first..).zip(&table.rows) {
        if let Some(cell) = cells.get(index) {
            written.cell(sheet, (row, at), cell, layout, layout.format(cell))?;
        }
    }
    for (number, cells) in table.totals.iter().enumerate() {
        let row = first + rows(table.rows.len() + number);
        let empty = Cell::default();
        let cell = cells.get(index).unwrap_or(&empty);
        let mut format = layout.format(cell).clone().set_bold();
        if number == 0 {
            format = format.set_border_top(FormatBorder::Thin);
        }
        sheet.write_blank(row, at, &format)?;
        let is_last = number + 1 == table.totals.len();
        if layout.column.is_summed && is_last && row > first && shown::is_decimal(&cell.plain) {
            let above = table.rows.iter().chain(&table.totals[..number]);
            let above = above.filter_map(|cells| cells.get(index)).map(|cell| cell.plain.as_str());
            if figure::is_sum(above, &cell.plain) {
                let formula = sum(at, (first, row - 1), &cell.plain);
                sheet.write_formula_with_format(row, at, formula, &format)?;
                continue;
            }
            remarks.fixed.push(title.clone());
        }
        written.cell(sheet, (row, at), cell, layout, &format)?;
    }
    remarks.as_text.extend((written.as_text > 0).then(|| (title.clone(), written.as_text)));
    remarks.cut.extend((written.cut > 0).then(|| (title.clone(), written.cut)));
    Ok(())
}

/// Counts what of a column could not be written as it stands.
#[derive(Default)]
struct Written {
    as_text: usize,
    cut: usize,
}

impl Written {
    fn cell(
        &mut self,
        sheet: &mut Worksheet,
        at: (u32, u16),
        cell: &Cell,
        layout: &Layout<'_>,
        format: &Format,
    ) -> Result<(), XlsxError> {
        if cell.plain.is_empty() {
            return Ok(());
        }
        if let Some(number) = layout.number(cell) {
            sheet.write_number_with_format(at.0, at.1, number, format)?;
            return Ok(());
        }
        self.as_text += usize::from(layout.column.is_number && shown::is_decimal(&cell.plain));
        self.cut += usize::from(text::put(sheet, at, &cell.plain, format)?);
        Ok(())
    }
}

/// Returns the live sum of the rows from first to last of a column, with its result.
fn sum(column: u16, (first, last): (u32, u32), total: &str) -> Formula {
    let column = column_number_to_name(column);
    let places = figure::places(total);
    Formula::new(format!("ROUND(SUM({column}{}:{column}{}),{places})", first + 1, last + 1))
        .set_result(shown::trimmed(total))
}

fn rows(count: usize) -> u32 {
    u32::try_from(count).expect("the rows are counted before")
}

/// Sets what is seen and printed around the cells.
fn set_up(
    sheet: &mut Worksheet,
    layouts: &[Layout<'_>],
    row_count: u32,
    name: &str,
) -> Result<(), XlsxError> {
    let last_column = u16::try_from(layouts.len()).expect("the columns are counted before") - 1;
    sheet.set_freeze_panes(HEADER + 1, 0)?;
    if row_count > 0 {
        if can_be_named(layouts) {
            let columns: Vec<TableColumn> = layouts
                .iter()
                .map(|layout| {
                    TableColumn::new()
                        .set_header(&layout.column.title)
                        .set_header_format(header(layout.column.is_number))
                })
                .collect();
            let table = rust_xlsxwriter::Table::new()
                .set_name(name)
                .set_columns(&columns)
                .set_style(TableStyle::None);
            sheet.add_table(HEADER, 0, HEADER + row_count, last_column, &table)?;
        } else {
            sheet.autofilter(HEADER, 0, HEADER + row_count, last_column)?;
        }
        let as_text = IgnoreError::NumberStoredAsText;
        sheet.ignore_error_range(HEADER + 1, 0, HEADER + row_count, last_column, as_text)?;
    }
    sheet.set_repeat_rows(HEADER, HEADER)?;
    if layouts.iter().map(|layout| layout.width).sum::<usize>() > PORTRAIT {
        sheet.set_landscape();
    }
    print_set_up(sheet);
    Ok(())
}

/// Tells whether the titles can be those of a table of the spreadsheet: texts of one line that are all different.
fn can_be_named(layouts: &[Layout<'_>]) -> bool {
    const LONGEST: usize = 255;
    let mut known = BTreeSet::new();
    layouts.iter().all(|layout| {
        let title = &layout.column.title;
        let is_plain = !title.trim().is_empty()
            && title.chars().count() <= LONGEST
            && !title.contains(|sign: char| sign.is_control() || "<>_".contains(sign))
            && !shown::is_like_formula(title);
        is_plain && known.insert(title.to_lowercase())
    })
}

/// Fits the print to the width of a letter page, with the sheet's name and page numbers below.
pub(super) fn print_set_up(sheet: &mut Worksheet) {
    const LETTER: u8 = 1;
    sheet.set_paper_size(LETTER).set_print_fit_to_pages(1, 0).set_footer("&L&A&RPage &P of &N");
}

/// Returns the format of a header cell.
pub(super) fn header(is_number: bool) -> Format {
    let format = Format::new()
        .set_bold()
        .set_text_wrap()
        .set_background_color(Color::RGB(0x00E7_E9EC))
        .set_border_bottom(FormatBorder::Thin)
        .set_align(FormatAlign::Bottom);
    // The indent keeps the text clear of the filter's button.
    if is_number { format.set_align(FormatAlign::Right).set_indent(2) } else { format }
}

fn layout(table: &Table, index: usize) -> Layout<'_> {
    let column = &table.columns[index];
    let cells = || {
        let rows = table.rows.iter().chain(&table.totals);
        rows.filter_map(move |row| row.get(index)).map(|cell| cell.plain.as_str())
    };
    let is_figure = |cell: &str| column.is_number && figure::number(cell).is_some();
    let figures = cells().filter(|cell| is_figure(cell));
    let places = figures.map(figure::places).max().unwrap_or(0);
    let mut width = 0;
    let mut is_wrapped = false;
    for cell in cells() {
        let letters = if is_figure(cell) {
            let missing = places - figure::places(cell);
            let point = usize::from(figure::places(cell) == 0 && places > 0);
            shown::parted(cell).len() + point + missing
        } else {
            is_wrapped |= cell.contains('\n');
            cell.lines().map(UnicodeWidthStr::width).max().unwrap_or(0)
        };
        is_wrapped |= letters > WIDEST;
        width = width.max(letters);
    }
    let words = column.title.split_whitespace().map(UnicodeWidthStr::width).max().unwrap_or(0);
    let title = words.max(column.title.width().min(TITLE));
    let width = width.max(title + BUTTON).min(WIDEST) + 2;
    let mut text = Format::new().set_align(FormatAlign::Top);
    if column.is_number {
        text = text.set_align(FormatAlign::Right);
    }
    let figures = (0..=places).map(|shown| text.clone().set_num_format(pattern(shown, places)));
    let figures = figures.collect();
    if is_wrapped {
        text = text.set_text_wrap();
    }
    Layout { column, width, is_wrapped, text, figures }
}

/// Returns the number format that shows so many decimal places, and leaves room for those that other cells of the column
/// have, so that all stand on their points, and for a parenthesis behind, so that text beside it stands clear.
fn pattern(places: usize, most: usize) -> String {
    let point = match (places, most) {
        (0, 0) => "",
        (0, _) => "_.",
        _ => ".",
    };
    format!("#,##0{point}{}{}_)", "0".repeat(places), "_0".repeat(most - places))
}
