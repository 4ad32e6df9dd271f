//! The zip archive that holds a workbook's parts, with a limit on what comes out of it.

use std::io;
use std::io::BufReader;
use std::io::Cursor;
use std::io::Read;

use zip::ZipArchive;

use crate::diag::Problem;
use crate::read::limits;
use crate::read::workbook::unreadable;

/// Deflate packs no more than 1032 bytes in one, so a small archive needs no measuring.
const MAX_DEFLATE_RATIO: u64 = 1032;

/// A zip archive in memory.
pub(super) struct Package<'a> {
    archive: ZipArchive<Cursor<&'a [u8]>>,
    length: u64,
    /// Most bytes that the parts may unpack to.
    limit: u64,
}

/// Reads a part and fails once more comes out than the limit allows.
struct Bounded<R> {
    inner: R,
    left: u64,
    limit: u64,
}

impl<'a> Package<'a> {
    /// Opens an archive.
    ///
    /// # Errors
    /// Bytes that are no zip archive.
    pub(super) fn open(bytes: &'a [u8], limit: u64) -> Result<Package<'a>, Box<Problem>> {
        let mut archive = ZipArchive::new(Cursor::new(bytes))
            .map_err(|error| unreadable(format!("its zip archive is damaged: {error}")))?;
        // What it states may be a lie, but an archive that states too much need not be unpacked to be told so.
        let mut stated = 0_u64;
        for index in 0..archive.len() {
            let file =
                archive.by_index_raw(index).map_err(|error| unreadable(error.to_string()))?;
            stated = stated.saturating_add(file.size());
        }
        if stated > limit {
            return Err(too_large(limit));
        }
        Ok(Package { archive, length: bytes.len() as u64, limit })
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
        Ok(BufReader::with_capacity(
            1 << 16,
            Bounded { inner: file, left: self.limit, limit: self.limit },
        ))
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

    /// Checks that all parts together unpack to no more than the limit, by unpacking them if need be:
    /// the sizes an archive states may be lies.
    ///
    /// # Errors
    /// A part that is damaged, or the limit.
    pub(super) fn check_size(&mut self) -> Result<(), Box<Problem>> {
        if self.length <= self.limit / MAX_DEFLATE_RATIO {
            return Ok(());
        }
        let limit = self.limit;
        let mut left = limit;
        for index in 0..self.archive.len() {
            let file =
                self.archive.by_index(index).map_err(|error| unreadable(error.to_string()))?;
            let mut bounded = Bounded { inner: file, left, limit };
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
            io::Error::other(format!(
                "it unpacks to more than {} bytes (`unpacked_bytes`)",
                self.limit
            ))
        })?;
        Ok(count)
    }
}

fn too_large(limit: u64) -> Box<Problem> {
    Box::new(limits::passed("the size of its parts in bytes, unpacked,", "unpacked_bytes", limit))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reading_ends_at_the_limit() {
        let mut within = Bounded { inner: io::repeat(7).take(1000), left: 1000, limit: 1000 };
        assert_eq!(io::copy(&mut within, &mut io::sink()).unwrap(), 1000);
        let mut beyond = Bounded { inner: io::repeat(7), left: 1_000_000, limit: 1_000_000 };
        assert_eq!(
            io::copy(&mut beyond, &mut io::sink()).unwrap_err().to_string(),
            "it unpacks to more than 1000000 bytes (`unpacked_bytes`)"
        );
    }
}
