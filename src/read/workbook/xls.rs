//! Workbooks of one binary stream: xls, as written since 1997 (BIFF8).
//!
//! After the published format [MS-XLS]: the stream is a run of records, each with its type, its length and its bytes;
//! records longer than 8224 bytes go on in others. First come the records of the workbook, then those of each sheet.

use std::collections::BTreeMap;

use crate::diag::Problem;
use crate::read::table::Cell;
use crate::read::workbook::Sheet;
use crate::read::workbook::Workbook;
use crate::read::workbook::compound::Compound;
use crate::read::workbook::error_text;
use crate::read::workbook::number::Dates;
use crate::read::workbook::number::Meaning;
use crate::read::workbook::number::meaning_of_built_in;
use crate::read::workbook::number::meaning_of_code;
use crate::read::workbook::number::packed_number;
use crate::read::workbook::unreadable;

const FORMULA: u16 = 0x0006;
const END: u16 = 0x000A;
const DATE_SYSTEM: u16 = 0x0022;
const PASSWORD: u16 = 0x002F;
const CONTINUE: u16 = 0x003C;
const SHEET_ENTRY: u16 = 0x0085;
const PACKED_NUMBERS: u16 = 0x00BD;
const RICH_TEXT: u16 = 0x00D6;
const CELL_FORMAT: u16 = 0x00E0;
const SHARED_TEXTS: u16 = 0x00FC;
const SHARED_TEXT: u16 = 0x00FD;
const NUMBER: u16 = 0x0203;
const TEXT: u16 = 0x0204;
const TRUTH_OR_ERROR: u16 = 0x0205;
const FORMULA_TEXT: u16 = 0x0207;
const PACKED_NUMBER: u16 = 0x027E;
const FORMAT: u16 = 0x041E;
const BEGIN: u16 = 0x0809;

/// The version a stream of this format states at its begin.
const BIFF8: u16 = 0x0600;

/// The records of a stream.
struct Records<'a> {
    stream: &'a [u8],
    at: usize,
}

/// The bytes of a record and those it goes on in.
struct Bytes<'a> {
    now: &'a [u8],
    later: std::vec::IntoIter<&'a [u8]>,
}

/// What cells refer to.
struct Shared {
    texts: Vec<String>,
    meanings: Vec<Meaning>,
}

struct Entry {
    name: String,
    at: usize,
}

/// Reads all worksheets.
pub(super) fn read(
    workbook: &mut Workbook<'_>,
    compound: &Compound<'_>,
) -> Result<(), Box<Problem>> {
    let stream = match compound.stream("Workbook") {
        Some(stream) => stream,
        None if compound.stream("Book").is_some() => return Err(too_old()),
        None => return Err(unreadable("it holds no workbook, or a damaged one")),
    };
    let mut records = Records { stream: &stream, at: 0 };
    let mut entries = Vec::new();
    let mut dates = Dates::From1900;
    let mut by_format = BTreeMap::new();
    let mut formats = Vec::new();
    let mut texts = Vec::new();
    match records.next()? {
        Some((BEGIN, bytes)) if bytes.now.starts_with(&BIFF8.to_le_bytes()) => {}
        _ => return Err(too_old()),
    }
    while let Some((kind, mut bytes)) = records.next()? {
        match kind {
            END => break,
            PASSWORD => return Err(unreadable("it is protected by a password")),
            DATE_SYSTEM if bytes.u16()? == 1 => dates = Dates::From1904,
            SHEET_ENTRY => entries.extend(sheet_entry(bytes)?),
            FORMAT => {
                let format = bytes.u16()?;
                let length = usize::from(bytes.u16()?);
                by_format.insert(format, meaning_of_code(&bytes.text(length)?));
            }
            CELL_FORMAT => {
                bytes.u16()?;
                formats.push(bytes.u16()?);
            }
            SHARED_TEXTS => texts = shared_texts(bytes)?,
            _ => {}
        }
    }
    let meanings = formats.iter().map(|format| {
        by_format.get(format).copied().unwrap_or_else(|| meaning_of_built_in(*format))
    });
    let shared = Shared { texts, meanings: meanings.collect() };
    for Entry { name, at } in entries {
        workbook.sheet(&name, dates, |sheet| fill(sheet, Records { stream: &stream, at }, &shared));
    }
    Ok(())
}

/// Returns the entry of a worksheet; charts and macros have none.
fn sheet_entry(mut bytes: Bytes<'_>) -> Result<Option<Entry>, Box<Problem>> {
    let at = bytes.u32()? as usize;
    bytes.u8()?;
    let is_worksheet = bytes.u8()? == 0;
    let length = usize::from(bytes.u8()?);
    let name = bytes.text(length)?;
    Ok(is_worksheet.then_some(Entry { name, at }))
}

fn shared_texts(mut bytes: Bytes<'_>) -> Result<Vec<String>, Box<Problem>> {
    bytes.u32()?;
    let count = bytes.u32()?;
    let mut texts = Vec::new();
    for _ in 0..count {
        // Some programs count texts that they do not write.
        if bytes.is_at_end() {
            break;
        }
        let length = usize::from(bytes.u16()?);
        let flags = bytes.u8()?;
        let run_count = if flags & 8 != 0 { usize::from(bytes.u16()?) } else { 0 };
        let phonetic_length = if flags & 4 != 0 { bytes.u32()? as usize } else { 0 };
        texts.push(bytes.letters(length, flags)?);
        bytes.skip(run_count * 4 + phonetic_length)?;
    }
    Ok(texts)
}

fn fill(sheet: &mut Sheet, mut records: Records<'_>, shared: &Shared) -> Result<(), Box<Problem>> {
    // Charts within the sheet have records of their own, which may look like cells.
    let mut depth = 0_usize;
    let mut formula_at = None;
    while let Some((kind, mut bytes)) = records.next()? {
        match kind {
            BEGIN => depth += 1,
            END if depth <= 1 => return Ok(()),
            END => depth -= 1,
            _ if depth != 1 => {}
            FORMULA_TEXT => {
                if let Some((row, column)) = formula_at.take() {
                    let length = usize::from(bytes.u16()?);
                    sheet.cell(row, column, Cell::Text(&bytes.text(length)?))?;
                }
            }
            PACKED_NUMBERS => packed_numbers(sheet, bytes, shared)?,
            FORMULA | RICH_TEXT | SHARED_TEXT | NUMBER | TEXT | TRUTH_OR_ERROR | PACKED_NUMBER => {
                let row = u32::from(bytes.u16()?);
                let column = u32::from(bytes.u16()?);
                formula_at = cell(sheet, (row, column), kind, bytes, shared)?;
            }
            _ => {}
        }
    }
    Err(unreadable("the sheet ends in the middle"))
}

/// Reads a cell; if it is a formula whose text follows in a record of its own, returns its place.
fn cell(
    sheet: &mut Sheet,
    (row, column): (u32, u32),
    kind: u16,
    mut bytes: Bytes<'_>,
    shared: &Shared,
) -> Result<Option<(u32, u32)>, Box<Problem>> {
    let format = bytes.u16()?;
    let meaning = shared.meaning(format);
    match kind {
        NUMBER => sheet.number(row, column, f64::from_le_bytes(bytes.array()?), meaning)?,
        PACKED_NUMBER => sheet.number(row, column, packed_number(bytes.u32()?), meaning)?,
        TRUTH_OR_ERROR => {
            let [value, is_error] = bytes.array()?;
            sheet.cell(row, column, truth_or_error(value, is_error != 0))?;
        }
        SHARED_TEXT => {
            let index = bytes.u32()? as usize;
            let text = shared.texts.get(index);
            let text = text.ok_or_else(|| unreadable(format!("it has no shared text {index}")))?;
            sheet.cell(row, column, Cell::Text(text))?;
        }
        FORMULA => match bytes.array()? {
            [0, _, _, _, _, _, 0xFF, 0xFF] => return Ok(Some((row, column))),
            [1, _, value, _, _, _, 0xFF, 0xFF] => {
                sheet.cell(row, column, truth_or_error(value, false))?;
            }
            [2, _, value, _, _, _, 0xFF, 0xFF] => {
                sheet.cell(row, column, truth_or_error(value, true))?;
            }
            [_, _, _, _, _, _, 0xFF, 0xFF] => {}
            number => sheet.number(row, column, f64::from_le_bytes(number), meaning)?,
        },
        _ => {
            let length = usize::from(bytes.u16()?);
            sheet.cell(row, column, Cell::Text(&bytes.text(length)?))?;
        }
    }
    Ok(None)
}

fn packed_numbers(
    sheet: &mut Sheet,
    mut bytes: Bytes<'_>,
    shared: &Shared,
) -> Result<(), Box<Problem>> {
    let row = u32::from(bytes.u16()?);
    let first = u32::from(bytes.u16()?);
    // The last two bytes repeat the last column.
    let count = bytes.now.len().saturating_sub(2) / 6;
    for column in (first..).take(count) {
        let meaning = shared.meaning(bytes.u16()?);
        sheet.number(row, column, packed_number(bytes.u32()?), meaning)?;
    }
    Ok(())
}

fn truth_or_error(value: u8, is_error: bool) -> Cell<'static> {
    if is_error { Cell::Error(error_text(value)) } else { Cell::Truth(value != 0) }
}

fn too_old() -> Box<Problem> {
    unreadable(
        "it was written in the format of 1995 or before; open it in a spreadsheet and save it as xlsx",
    )
}

impl Shared {
    fn meaning(&self, format: u16) -> Meaning {
        self.meanings.get(usize::from(format)).copied().unwrap_or(Meaning::Unknown)
    }
}

impl<'a> Records<'a> {
    /// Returns the next record with those it goes on in, or nothing at the end of the stream.
    fn next(&mut self) -> Result<Option<(u16, Bytes<'a>)>, Box<Problem>> {
        let Some((kind, now)) = self.single()? else {
            return Ok(None);
        };
        let mut later = Vec::new();
        while self.stream.get(self.at..self.at + 2) == Some(&CONTINUE.to_le_bytes()) {
            later.extend(self.single()?.map(|(_, bytes)| bytes));
        }
        Ok(Some((kind, Bytes { now, later: later.into_iter() })))
    }

    fn single(&mut self) -> Result<Option<(u16, &'a [u8])>, Box<Problem>> {
        let rest = self.stream.get(self.at..).unwrap_or(&[]);
        let Some((&[kind_low, kind_high, low, high], rest)) = rest.split_first_chunk() else {
            return Ok(None);
        };
        let length = usize::from(u16::from_le_bytes([low, high]));
        let bytes = rest.get(..length).ok_or_else(|| unreadable("a record is cut short"))?;
        self.at += 4 + length;
        Ok(Some((u16::from_le_bytes([kind_low, kind_high]), bytes)))
    }
}

impl Bytes<'_> {
    fn is_at_end(&mut self) -> bool {
        while self.now.is_empty() {
            match self.later.next() {
                Some(next) => self.now = next,
                None => return true,
            }
        }
        false
    }

    fn u8(&mut self) -> Result<u8, Box<Problem>> {
        if self.is_at_end() {
            return Err(unreadable("a record is cut short"));
        }
        let (&first, rest) = self.now.split_first().expect("it is not at the end");
        self.now = rest;
        Ok(first)
    }

    fn array<const N: usize>(&mut self) -> Result<[u8; N], Box<Problem>> {
        let mut array = [0; N];
        for byte in &mut array {
            *byte = self.u8()?;
        }
        Ok(array)
    }

    fn u16(&mut self) -> Result<u16, Box<Problem>> {
        Ok(u16::from_le_bytes(self.array()?))
    }

    fn u32(&mut self) -> Result<u32, Box<Problem>> {
        Ok(u32::from_le_bytes(self.array()?))
    }

    fn skip(&mut self, mut count: usize) -> Result<(), Box<Problem>> {
        while count > 0 {
            if self.is_at_end() {
                return Err(unreadable("a record is cut short"));
            }
            let skipped = count.min(self.now.len());
            self.now = &self.now[skipped..];
            count -= skipped;
        }
        Ok(())
    }

    /// Reads a text of so many units, its flags before it.
    fn text(&mut self, length: usize) -> Result<String, Box<Problem>> {
        if length == 0 {
            return Ok(String::new());
        }
        let flags = self.u8()?;
        self.letters(length, flags)
    }

    /// Reads so many units of one byte or two, as the first flag says. Where they go on in another record, that record
    /// begins with flags of its own.
    fn letters(&mut self, length: usize, flags: u8) -> Result<String, Box<Problem>> {
        let mut is_wide = flags & 1 != 0;
        let mut units = Vec::with_capacity(length);
        while units.len() < length {
            if self.now.is_empty() {
                is_wide = self.u8()? & 1 != 0;
            }
            units.push(if is_wide { self.u16()? } else { u16::from(self.u8()?) });
        }
        let letters = char::decode_utf16(units);
        Ok(letters.map(|letter| letter.unwrap_or(char::REPLACEMENT_CHARACTER)).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_go_on_in_other_records() {
        // A text of five letters, two of them narrow before the break and three wide after it, then a rich one.
        let first: &[u8] = &[2, 0, 0, 0, 2, 0, 0, 0, 5, 0, 0, b'a', b'b'];
        let second: &[u8] =
            &[1, b'c', 0, 0x20, 0x20, b'e', 0, 2, 0, 8, 1, 0, b'x', b'y', 0, 0, 1, 0];
        let bytes = Bytes { now: first, later: vec![second].into_iter() };
        assert_eq!(shared_texts(bytes).unwrap(), ["abc\u{2020}e", "xy"]);
    }

    #[test]
    fn records_cut_short_are_errors() {
        let next = |stream: &[u8]| {
            let record = Records { stream, at: 0 }.next();
            record.map(|record| record.map(|(kind, _)| kind)).map_err(|problem| problem.to_string())
        };
        let cut_short = Err("not a readable workbook: a record is cut short".to_owned());
        assert_eq!(next(&[3, 2, 1, 0, 7]), Ok(Some(0x0203)));
        assert_eq!(next(&[3, 2, 2, 0, 7]), cut_short);
        assert_eq!(next(&[3, 2, 0, 0, 0x3C, 0, 9, 0]), cut_short);
        assert_eq!(next(&[3, 2]), Ok(None));
        let mut bytes = Bytes { now: &[1], later: vec![].into_iter() };
        assert!(bytes.u16().is_err());
    }
}
