//! Text in cells: always text, never a formula or a markup, and never longer than a cell holds.

use rust_xlsxwriter::{Format, Worksheet, XlsxError};

use crate::render::shown;

/// A cell holds at most so many UTF-16 units.
const LONGEST: usize = 32_767;

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
