//! The zip archive that holds a workbook's parts, with a limit on what comes out of it.

use std::io;
use std::io::BufReader;
use std::io::Cursor;
use std::io::Read;

use zip::ZipArchive;

use crate::diag::Problem;
use crate::read::workbook::unreadable;

/// Most bytes that one part of a workbook, or all of an xlsx one, may unpack to. A worksheet of a million rows by 25
/// columns takes about 1 GB.
pub(super) const MAX_UNPACKED_BYTES: u64 = 4 << 30;

/// Deflate packs no more than 1032 bytes in one, so a small archive needs no measuring.
const MAX_DEFLATE_RATIO: u64 = 1032;

/// A zip archive in memory.
pub(super) struct Package<'a> {
    archive: ZipArchive<Cursor<&'a [u8]>>,
    length: u64,
}

/// Reads a part and fails once more comes out than the limit allows.
struct Bounded<R> {
    inner: R,
    left: u64,
}

impl<'a> Package<'a> {
    /// Opens an archive.
    ///
    /// # Errors
    /// Bytes that are no zip archive.
    pub(super) fn open(bytes: &'a [u8]) -> Result<Package<'a>, Box<Problem>> {
        let archive = ZipArchive::new(Cursor::new(bytes))
            .map_err(|error| unreadable(format!("its zip archive is damaged: {error}")))?;
        Ok(Package { archive, length: bytes.len() as u64 })
    }

    /// Tells whether there is a part.
    pub(super) fn has(&self, name: &str) -> bool {
        self.archive.index_for_name(name).is_some()
    }

    /// Returns a part, to be read piece by piece.
    ///
    /// # Errors
    /// A part that is missing or damaged.
    pub(super) fn part(&mut self, name: &str) -> Result<impl io::BufRead, Box<Problem>> {
        let file = self
            .archive
            .by_name(name)
            .map_err(|error| unreadable(format!("its part `{name}` cannot be read: {error}")))?;
        Ok(BufReader::with_capacity(1 << 16, Bounded { inner: file, left: MAX_UNPACKED_BYTES }))
    }

    /// Returns the whole of a part, or nothing if there is none.
    ///
    /// # Errors
    /// A part that is damaged or too large.
    pub(super) fn bytes(&mut self, name: &str) -> Result<Option<Vec<u8>>, Box<Problem>> {
        if !self.has(name) {
            return Ok(None);
        }
        let mut bytes = Vec::new();
        self.part(name)?.read_to_end(&mut bytes).map_err(|error| unreadable(error.to_string()))?;
        Ok(Some(bytes))
    }

    /// Checks that all parts together unpack to no more than [`MAX_UNPACKED_BYTES`], by unpacking them if need be:
    /// the sizes an archive states may be lies.
    ///
    /// # Errors
    /// A part that is damaged, or the limit.
    pub(super) fn check_size(&mut self) -> Result<(), Box<Problem>> {
        if self.length <= MAX_UNPACKED_BYTES / MAX_DEFLATE_RATIO {
            return Ok(());
        }
        let mut left = MAX_UNPACKED_BYTES;
        for index in 0..self.archive.len() {
            let file =
                self.archive.by_index(index).map_err(|error| unreadable(error.to_string()))?;
            let mut bounded = Bounded { inner: file, left };
            io::copy(&mut bounded, &mut io::sink())
                .map_err(|error| unreadable(error.to_string()))?;
            left = bounded.left;
        }
        Ok(())
    }
}

impl<R: Read> Read for Bounded<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let count = self.inner.read(buffer)?;
        let left = self.left.checked_sub(count as u64);
        self.left = left.ok_or_else(|| {
            io::Error::other(format!("it unpacks to more than {} GiB", MAX_UNPACKED_BYTES >> 30))
        })?;
        Ok(count)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reading_ends_at_the_limit() {
        let mut within = Bounded { inner: io::repeat(7).take(1000), left: 1000 };
        assert_eq!(io::copy(&mut within, &mut io::sink()).unwrap(), 1000);
        let mut beyond = Bounded { inner: io::repeat(7), left: 1_000_000 };
        assert_eq!(
            io::copy(&mut beyond, &mut io::sink()).unwrap_err().to_string(),
            "it unpacks to more than 4 GiB"
        );
    }
}
