//! The compound file that holds the streams of an xls workbook.
//!
//! After the published format [MS-CFB]: a file is cut into sectors, which a table chains into streams; streams below
//! 4096 bytes are cut into smaller sectors within a stream of their own.

use crate::diag::Problem;
use crate::read::workbook::unreadable;

/// How a compound file begins.
pub(super) const MAGIC: &[u8] = b"\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1";

/// A sector number that ends a chain or means none; all above are reserved as well.
const LAST_SECTOR: u32 = 0xFFFF_FFF9;

const MINI_SECTOR_BYTES: usize = 64;
const ENTRY_BYTES: usize = 128;

/// A compound file with all its small streams.
pub(super) struct Compound<'a> {
    sectors: Sectors<'a>,
    next_sector: Vec<u32>,
    next_mini_sector: Vec<u32>,
    mini: Vec<u8>,
    mini_limit: u64,
    entries: Vec<Entry>,
}

struct Sectors<'a> {
    bytes: &'a [u8],
    size: usize,
}

struct Entry {
    name: String,
    start: u32,
    length: u64,
}

impl<'a> Compound<'a> {
    /// Opens a compound file.
    ///
    /// # Errors
    /// A file that is damaged or cut short.
    pub(super) fn open(bytes: &'a [u8]) -> Result<Compound<'a>, Box<Problem>> {
        let number = |at| u32_at(bytes, at).ok_or_else(|| damaged("it is cut short"));
        let size = match number(30)? & 0xFFFF {
            9 => 512,
            12 => 4096,
            _ => return Err(damaged("its sectors have an unknown size")),
        };
        let sectors = Sectors { bytes, size };
        let next_sector = sector_table(&sectors, number(44)? as usize, number(68)?)?;
        let directory = sectors.chain(&next_sector, number(48)?)?;
        let entries: Vec<Entry> =
            directory.chunks_exact(ENTRY_BYTES).filter_map(|bytes| entry(bytes, size)).collect();
        let next_mini_sector = numbers(&sectors.chain(&next_sector, number(60)?)?);
        // The first entry is the root, whose stream holds the small sectors.
        let mini = match entries.first() {
            Some(root) => sectors.chain(&next_sector, root.start)?,
            None => return Err(damaged("it has no directory")),
        };
        let mini_limit = u64::from(number(56)?);
        Ok(Compound { sectors, next_sector, next_mini_sector, mini, mini_limit, entries })
    }

    /// Returns a stream by its name, or nothing if there is none or it is damaged.
    pub(super) fn stream(&self, name: &str) -> Option<Vec<u8>> {
        let entry = self.entries.iter().skip(1).find(|entry| entry.name == name)?;
        let mut bytes = if entry.length < self.mini_limit {
            let sectors = Sectors { bytes: &self.mini, size: MINI_SECTOR_BYTES };
            follow(&self.next_mini_sector, entry.start, |sector| {
                let start = (sector as usize).checked_mul(MINI_SECTOR_BYTES)?;
                sectors.bytes.get(start..start + MINI_SECTOR_BYTES)
            })
        } else {
            self.sectors.chain(&self.next_sector, entry.start)
        }
        .ok()?;
        let length = usize::try_from(entry.length).ok()?;
        if bytes.len() < length {
            return None;
        }
        bytes.truncate(length);
        Some(bytes)
    }
}

impl<'a> Sectors<'a> {
    /// Returns a sector; the last one of a file may be cut short.
    fn sector(&self, index: u32) -> Option<&'a [u8]> {
        let start = (index as usize).checked_add(1)?.checked_mul(self.size)?;
        let end = self.bytes.len().min(start.checked_add(self.size)?);
        self.bytes.get(start..end)
    }

    fn chain(&self, next: &[u32], start: u32) -> Result<Vec<u8>, Box<Problem>> {
        follow(next, start, |index| self.sector(index))
    }
}

/// Follows a chain of sectors; one that is longer than the table goes in circles.
fn follow<'b>(
    next: &[u32],
    start: u32,
    sector: impl Fn(u32) -> Option<&'b [u8]>,
) -> Result<Vec<u8>, Box<Problem>> {
    let mut bytes = Vec::new();
    let mut index = start;
    for _ in 0..=next.len() {
        if index >= LAST_SECTOR {
            return Ok(bytes);
        }
        let missing = || damaged("it is cut short");
        bytes.extend_from_slice(sector(index).ok_or_else(missing)?);
        index = *next.get(index as usize).ok_or_else(missing)?;
    }
    Err(damaged("its sectors go in circles"))
}

/// Returns the table that chains sectors. The header lists the first 109 sectors it lies in, further sectors the rest.
fn sector_table(
    sectors: &Sectors<'_>,
    count: usize,
    first_list: u32,
) -> Result<Vec<u32>, Box<Problem>> {
    let cut_short = || damaged("it is cut short");
    if count > sectors.bytes.len() / sectors.size {
        return Err(cut_short());
    }
    let mut places = numbers(sectors.bytes.get(76..512).ok_or_else(cut_short)?);
    let mut list = first_list;
    while list < LAST_SECTOR && places.len() < count {
        let mut further = numbers(sectors.sector(list).ok_or_else(cut_short)?);
        list = further.pop().ok_or_else(cut_short)?;
        places.extend(further);
    }
    let mut table = Vec::new();
    for &place in places.iter().take(count).filter(|&&place| place < LAST_SECTOR) {
        table.extend(numbers(sectors.sector(place).ok_or_else(cut_short)?));
    }
    Ok(table)
}

fn entry(bytes: &[u8], sector_size: usize) -> Option<Entry> {
    // The length counts bytes, with a zero at the end.
    let name_length = usize::from(u16::from_le_bytes([bytes[64], bytes[65]])).clamp(2, 64) - 2;
    let units =
        bytes[..name_length].chunks_exact(2).map(|pair| u16::from_le_bytes([pair[0], pair[1]]));
    let name = char::decode_utf16(units).map(|letter| letter.unwrap_or('?')).collect();
    let low = u64::from(u32_at(bytes, 120)?);
    let high = u64::from(u32_at(bytes, 124)?);
    // Files with small sectors may hold rubbish in the upper half.
    let length = if sector_size == 512 { low } else { high << 32 | low };
    Some(Entry { name, start: u32_at(bytes, 116)?, length })
}

fn numbers(bytes: &[u8]) -> Vec<u32> {
    bytes
        .chunks_exact(4)
        .map(|four| u32::from_le_bytes([four[0], four[1], four[2], four[3]]))
        .collect()
}

fn u32_at(bytes: &[u8], at: usize) -> Option<u32> {
    Some(u32::from_le_bytes(bytes.get(at..at + 4)?.try_into().ok()?))
}

fn damaged(reason: &str) -> Box<Problem> {
    unreadable(format!("its container is damaged: {reason}"))
}
