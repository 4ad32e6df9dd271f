//! Bytes as a workbook: no panic, and no more memory than a workbook of that size can ask for.
//!
//! A zip archive defends its parts by checksums and compression, which hides them from mutation. So an input may also be
//! the parts themselves, which are packed here.

use std::io::{Cursor, Write};

use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

use super::csv::tables;

/// The names of workbooks, by the first byte of an input.
const NAMES: [&str; 5] = ["book.xlsx", "book.xlsm", "book.xlsb", "book.ods", "book.xls"];

/// Parts the parts of an input, each a line with its name and its content.
const SEPARATOR: u8 = 0x1e;

/// Reads what follows the first byte as a workbook, or as its parts if that byte is a letter: `x`, `b` or `o`.
pub fn run(bytes: &[u8]) {
    let Some((first, rest)) = bytes.split_first() else { return };
    match first {
        b'x' => tables("book.xlsx", &packed(rest)),
        b'b' => tables("book.xlsb", &packed(rest)),
        b'o' => tables("book.ods", &packed(rest)),
        kind => tables(NAMES[usize::from(*kind) % NAMES.len()], rest),
    }
}

/// Packs parts into an archive, as they are; a part that cannot be packed is left out.
fn packed(parts: &[u8]) -> Vec<u8> {
    let mut archive = ZipWriter::new(Cursor::new(Vec::new()));
    let options = SimpleFileOptions::default().compression_method(CompressionMethod::Stored);
    for part in parts.split(|byte| *byte == SEPARATOR) {
        let end = part.iter().position(|byte| *byte == b'\n').unwrap_or(part.len());
        let (name, content) = part.split_at(end);
        let Ok(name) = std::str::from_utf8(name) else { continue };
        if archive.start_file(name, options).is_ok() {
            let _ = archive.write_all(content.get(1..).unwrap_or_default());
        }
    }
    archive.finish().map_or_else(|_| Vec::new(), Cursor::into_inner)
}
