//! Text in cells: always text, never a formula or a markup, and never longer than a cell holds.

use rust_xlsxwriter::{Format, Worksheet, XlsxError};

use crate::render::shown;
use crate::render::text;

/// A cell holds at most so many UTF-16 units.
const LONGEST: usize = 32_767;

/// Height of a line, in points.
const LINE: usize = 15;

/// A row is at most so many lines high.
const HIGHEST: usize = 27;

/// Writes a text. Returns whether it was too long, and so was cut and ends in `…`.
pub(super) fn put(
    sheet: &mut Worksheet,
    (row, column): (u32, u16),
    text: &str,
    format: &Format,
) -> Result<bool, XlsxError> {
    let kept = fitting(text);
    let kept = kept.as_deref().unwrap_or(text);
    if kept.starts_with("<r>") && kept.ends_with("</r>") {
        // The library takes such a text for the markup it makes itself, and would write it as it stands. In two parts
        // it is text; their escapes are not told from text, so that each underscore before an `x` is one.
        let rest = kept[1..].replace("_x", "_x005F_x");
        let plain = Format::new();
        sheet.write_rich_string_with_format(
            row,
            column,
            &[(&plain, "<"), (&plain, &rest)],
            format,
        )?;
    } else if shown::is_like_formula(kept) {
        // Stays text even when someone edits the cell.
        sheet.write_string_with_format(row, column, kept, &format.clone().set_quote_prefix())?;
    } else {
        sheet.write_string_with_format(row, column, kept, format)?;
    }
    Ok(kept.len() < text.len())
}

/// Returns how many lines a text takes in a column that wraps it, `width` digits wide: letters are a little narrower.
pub(super) fn lines(text: &str, width: usize) -> usize {
    let width = width + width / 20;
    text.lines().map(|line| text::folded(line, width).len()).sum::<usize>().max(1)
}

/// Makes a row so many lines high. Not every spreadsheet does so itself.
pub(super) fn heighten(sheet: &mut Worksheet, row: u32, lines: usize) -> Result<(), XlsxError> {
    if lines > 1 {
        let height = u16::try_from(lines.min(HIGHEST) * LINE).expect("it is limited");
        sheet.set_row_height(row, height)?;
    }
    Ok(())
}

/// Returns what fits of a text that is too long.
fn fitting(text: &str) -> Option<String> {
    if text.len() <= LONGEST {
        return None;
    }
    let (mut length, mut last) = (0, 0);
    for (start, sign) in text.char_indices() {
        length += sign.len_utf16();
        if length < LONGEST {
            last = start + sign.len_utf8();
        }
    }
    (length > LONGEST).then(|| format!("{}…", &text[..last]))
}
