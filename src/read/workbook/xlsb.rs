//! Workbooks of binary parts: xlsb.
//!
//! After the published format [MS-XLSB]: a part is a run of records, each with its type, its length and its bytes. Only
//! the records that hold cells, texts, number formats and the names of sheets are looked at.

use std::collections::BTreeMap;
use std::io::BufRead;

use quick_xml::events::Event;

use crate::diag::Problem;
use crate::read::table::Cell;
use crate::read::workbook::Sheet;
use crate::read::workbook::Workbook;
use crate::read::workbook::error_text;
use crate::read::workbook::number::Dates;
use crate::read::workbook::number::Meaning;
use crate::read::workbook::number::meaning_of_built_in;
use crate::read::workbook::number::meaning_of_code;
use crate::read::workbook::number::packed_number;
use crate::read::workbook::package::Package;
use crate::read::workbook::unreadable;

const ROW: u16 = 0;
const SHARED_TEXT: u16 = 19;
const FORMAT: u16 = 44;
const CELL_FORMAT: u16 = 47;
const RICH_TEXT: u16 = 62;
const SHEET_DATA: u16 = 145;
const SHEET_DATA_END: u16 = 146;
const WORKBOOK_PROPERTIES: u16 = 153;
const SHEET_ENTRY: u16 = 156;
const CELL_FORMATS: u16 = 617;
const CELL_FORMATS_END: u16 = 618;

/// The record types of cells without a column of their own, one to the right of the last: [MS-XLSB] 2.4.777 on.
const SHORT_CELLS: std::ops::RangeInclusive<u16> = 12..=18;

/// Longest record that is believed; texts are the longest and hold 32,767 characters.
const MAX_RECORD_BYTES: usize = 16 << 20;

/// The records of a part.
struct Records<R> {
    source: R,
    bytes: Vec<u8>,
}

/// The rest of a record.
struct Bytes<'a>(&'a [u8]);

/// What cells refer to.
struct Shared {
    texts: Vec<String>,
    meanings: Vec<Meaning>,
}

struct Entry {
    name: String,
    relation: String,
}

/// Reads all worksheets.
pub(super) fn read(
    workbook: &mut Workbook<'_>,
    package: &mut Package<'_>,
) -> Result<(), Box<Problem>> {
    let (entries, dates) = entries(package)?;
    let worksheets = worksheets(package)?;
    let shared = Shared { texts: texts(package)?, meanings: meanings(package)? };
    for entry in entries {
        // Chart and macro sheets have other types of relations.
        if let Some(part) = worksheets.get(&entry.relation) {
            workbook.sheet(&entry.name, dates, |sheet| {
                fill(sheet, Records::new(package.part(part)?), &shared)
            });
        }
    }
    Ok(())
}

fn entries(package: &mut Package<'_>) -> Result<(Vec<Entry>, Dates), Box<Problem>> {
    let mut entries = Vec::new();
    let mut dates = Dates::From1900;
    let mut records = Records::new(package.part("xl/workbook.bin")?);
    while let Some((kind, mut bytes)) = records.next()? {
        match kind {
            WORKBOOK_PROPERTIES if bytes.u32()? & 1 == 1 => dates = Dates::From1904,
            SHEET_ENTRY => {
                bytes.take(8)?;
                let relation = bytes.text()?;
                entries.push(Entry { relation, name: bytes.text()? });
            }
            _ => {}
        }
    }
    Ok((entries, dates))
}

/// Returns the parts of worksheets by the name of their relation.
fn worksheets(package: &mut Package<'_>) -> Result<BTreeMap<String, String>, Box<Problem>> {
    let mut parts = BTreeMap::new();
    let source = package.part("xl/_rels/workbook.bin.rels")?;
    let mut reader = quick_xml::Reader::from_reader(source);
    let mut buffer = Vec::new();
    let damaged = |error: String| unreadable(format!("its list of sheets is damaged: {error}"));
    loop {
        buffer.clear();
        let event =
            reader.read_event_into(&mut buffer).map_err(|error| damaged(error.to_string()))?;
        match event {
            Event::Eof => return Ok(parts),
            Event::Start(element) | Event::Empty(element)
                if element.local_name().as_ref() == "Relationship" =>
            {
                let attribute = |name: &str| {
                    let found = element
                        .try_get_attribute(name)
                        .map_err(|error| damaged(error.to_string()))?;
                    Ok::<_, Box<Problem>>(
                        found.map_or_else(String::new, |found| found.value.into_owned()),
                    )
                };
                if attribute("Type")?.ends_with("/worksheet") {
                    let target = attribute("Target")?;
                    let part = match target.strip_prefix('/') {
                        Some(absolute) => absolute.to_owned(),
                        None => format!("xl/{target}"),
                    };
                    parts.insert(attribute("Id")?, part);
                }
            }
            _ => {}
        }
    }
}

fn texts(package: &mut Package<'_>) -> Result<Vec<String>, Box<Problem>> {
    let mut texts = Vec::new();
    if !package.has("xl/sharedStrings.bin") {
        return Ok(texts);
    }
    let mut records = Records::new(package.part("xl/sharedStrings.bin")?);
    while let Some((kind, mut bytes)) = records.next()? {
        if kind == SHARED_TEXT {
            bytes.take(1)?;
            texts.push(bytes.text()?);
        }
    }
    Ok(texts)
}

fn meanings(package: &mut Package<'_>) -> Result<Vec<Meaning>, Box<Problem>> {
    let mut by_format = BTreeMap::new();
    let mut meanings = Vec::new();
    if !package.has("xl/styles.bin") {
        return Ok(meanings);
    }
    let mut is_within = false;
    let mut records = Records::new(package.part("xl/styles.bin")?);
    while let Some((kind, mut bytes)) = records.next()? {
        match kind {
            FORMAT => {
                let format = bytes.u16()?;
                by_format.insert(format, meaning_of_code(&bytes.text()?));
            }
            CELL_FORMATS => is_within = true,
            CELL_FORMATS_END => is_within = false,
            CELL_FORMAT if is_within => {
                bytes.take(2)?;
                let format = bytes.u16()?;
                let meaning = by_format.get(&format).copied();
                meanings.push(meaning.unwrap_or_else(|| meaning_of_built_in(format)));
            }
            _ => {}
        }
    }
    Ok(meanings)
}

fn fill(
    sheet: &mut Sheet,
    mut records: Records<impl BufRead>,
    shared: &Shared,
) -> Result<(), Box<Problem>> {
    let mut is_within = false;
    let mut row = 0;
    let mut next_column = 0;
    while let Some((kind, mut bytes)) = records.next()? {
        match kind {
            SHEET_DATA => is_within = true,
            SHEET_DATA_END => return Ok(()),
            ROW if is_within => {
                row = bytes.u32()?;
                next_column = 0;
            }
            1..=18 | RICH_TEXT if is_within => {
                let is_short = SHORT_CELLS.contains(&kind);
                let column = if is_short { next_column } else { bytes.u32()? };
                next_column = column.saturating_add(1);
                let kind = if is_short { kind - 11 } else { kind };
                cell(sheet, (row, column), kind, bytes, shared)?;
            }
            _ => {}
        }
    }
    Err(unreadable("the sheet ends in the middle"))
}

fn cell(
    sheet: &mut Sheet,
    (row, column): (u32, u32),
    kind: u16,
    mut bytes: Bytes<'_>,
    shared: &Shared,
) -> Result<(), Box<Problem>> {
    // The upper byte holds flags.
    let format = (bytes.u32()? & 0x00FF_FFFF) as usize;
    let meaning = || shared.meanings.get(format).copied().unwrap_or(Meaning::Unknown);
    match kind {
        2 => sheet.number(row, column, packed_number(bytes.u32()?), meaning()),
        3 | 11 => sheet.cell(row, column, Cell::Error(error_text(bytes.u8()?))),
        4 | 10 => sheet.cell(row, column, Cell::Truth(bytes.u8()? != 0)),
        5 | 9 => sheet.number(row, column, bytes.f64()?, meaning()),
        6 | 8 => sheet.cell(row, column, Cell::Text(&bytes.text()?)),
        7 => {
            let index = bytes.u32()? as usize;
            let text = shared
                .texts
                .get(index)
                .ok_or_else(|| unreadable(format!("it has no shared text {index}")))?;
            sheet.cell(row, column, Cell::Text(text))
        }
        RICH_TEXT => {
            bytes.take(1)?;
            sheet.cell(row, column, Cell::Text(&bytes.text()?))
        }
        _ => Ok(()),
    }
}

impl<R: BufRead> Records<R> {
    fn new(source: R) -> Records<R> {
        Records { source, bytes: Vec::new() }
    }

    /// Returns the next record, or nothing at the end of the part.
    fn next(&mut self) -> Result<Option<(u16, Bytes<'_>)>, Box<Problem>> {
        let is_at_end =
            self.source.fill_buf().map_err(|error| unreadable(error.to_string()))?.is_empty();
        if is_at_end {
            return Ok(None);
        }
        let kind = self.number(2)?;
        let kind = u16::try_from(kind).expect("two groups of seven bits");
        let length = self.number(4)?;
        if length > MAX_RECORD_BYTES {
            return Err(unreadable("a record is too long"));
        }
        self.bytes.resize(length, 0);
        self.source.read_exact(&mut self.bytes).map_err(|error| unreadable(error.to_string()))?;
        Ok(Some((kind, Bytes(&self.bytes))))
    }

    /// Reads a number of groups of seven bits, the lowest first; all but the last have the eighth bit set.
    fn number(&mut self, groups: u32) -> Result<usize, Box<Problem>> {
        let mut number = 0;
        for group in 0..groups {
            let mut byte = [0];
            self.source.read_exact(&mut byte).map_err(|error| unreadable(error.to_string()))?;
            number |= usize::from(byte[0] & 0x7F) << (7 * group);
            if byte[0] & 0x80 == 0 {
                break;
            }
        }
        Ok(number)
    }
}

impl<'a> Bytes<'a> {
    fn take(&mut self, count: usize) -> Result<&'a [u8], Box<Problem>> {
        let (taken, rest) =
            self.0.split_at_checked(count).ok_or_else(|| unreadable("a record is cut short"))?;
        self.0 = rest;
        Ok(taken)
    }

    fn array<const N: usize>(&mut self) -> Result<[u8; N], Box<Problem>> {
        Ok(self.take(N)?.try_into().expect("as many bytes were taken"))
    }

    fn u8(&mut self) -> Result<u8, Box<Problem>> {
        Ok(u8::from_le_bytes(self.array()?))
    }

    fn u16(&mut self) -> Result<u16, Box<Problem>> {
        Ok(u16::from_le_bytes(self.array()?))
    }

    fn u32(&mut self) -> Result<u32, Box<Problem>> {
        Ok(u32::from_le_bytes(self.array()?))
    }

    fn f64(&mut self) -> Result<f64, Box<Problem>> {
        Ok(f64::from_le_bytes(self.array()?))
    }

    /// Reads a text in UTF-16 with its length before it; the length of none is all ones.
    fn text(&mut self) -> Result<String, Box<Problem>> {
        let length = self.u32()?;
        if length == u32::MAX {
            return Ok(String::new());
        }
        let bytes = self.take((length as usize).saturating_mul(2))?;
        let units = bytes.chunks_exact(2).map(|pair| u16::from_le_bytes([pair[0], pair[1]]));
        Ok(char::decode_utf16(units)
            .map(|letter| letter.unwrap_or(char::REPLACEMENT_CHARACTER))
            .collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn records_cut_short_are_errors() {
        let next = |bytes: &[u8]| {
            Records::new(bytes)
                .next()
                .map(|record| record.map(|(kind, bytes)| (kind, bytes.0.len())))
        };
        assert_eq!(next(&[0x91, 0x01, 0x02, 7, 7]).unwrap(), Some((145, 2)));
        assert_eq!(next(&[]).unwrap(), None);
        assert!(next(&[0x91, 0x01, 0x03, 7, 7]).is_err());
        assert!(next(&[0x91]).is_err());
        assert_eq!(
            next(&[0, 0xFF, 0xFF, 0xFF, 0x7F]).unwrap_err().to_string(),
            "not a readable workbook: a record is too long"
        );
    }
}
