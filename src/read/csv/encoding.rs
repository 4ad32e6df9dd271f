//! Turns the bytes of a text file into text.

use std::borrow::Cow;

use encoding_rs::Encoding;
use encoding_rs::UTF_8;
use encoding_rs::WINDOWS_1252;

/// The text of a file, and how sure its encoding is.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Decoded<'a> {
    /// The text, its lines ended by LF or CR LF.
    pub(super) text: Cow<'a, str>,
    /// The first line that is not UTF-8, if the file was therefore read as Windows-1252.
    pub(super) guessed_at: Option<u32>,
}

/// Decodes a file by its byte order mark, else as UTF-8, else as Windows-1252.
///
/// # Errors
/// Why the bytes are no text, in words.
pub(super) fn decode(bytes: &[u8]) -> Result<Decoded<'_>, &'static str> {
    if let Some(reason) = foreign(bytes) {
        return Err(reason);
    }
    let mut guessed_at = None;
    let text = match Encoding::for_bom(bytes) {
        Some((encoding, mark)) if encoding != UTF_8 => encoding
            .decode_without_bom_handling_and_without_replacement(&bytes[mark..])
            .ok_or("it begins as UTF-16, but does not go on so")?,
        mark => {
            let bytes = &bytes[mark.map_or(0, |(_, length)| length)..];
            match std::str::from_utf8(bytes) {
                Ok(text) => Cow::Borrowed(text),
                Err(error) => {
                    guessed_at = Some(line_at(bytes, error.valid_up_to()));
                    WINDOWS_1252.decode_without_bom_handling(bytes).0
                }
            }
        }
    };
    if text.contains('\0') {
        return Err("it holds zero bytes, so it is no text in UTF-8 or Windows-1252");
    }
    Ok(Decoded { text: with_line_feeds(text), guessed_at })
}

/// Says what a file is that is no text though its name says so.
fn foreign(bytes: &[u8]) -> Option<&'static str> {
    if bytes.starts_with(b"PK\x03\x04") {
        Some("it is a workbook or another zip archive, not a CSV file")
    } else if bytes.starts_with(b"\xD0\xCF\x11\xE0") {
        Some("it is a workbook of an old kind (xls), not a CSV file")
    } else {
        None
    }
}

/// Replaces lone CR, as old Macintosh programs wrote them, if there are no other line ends.
fn with_line_feeds(text: Cow<'_, str>) -> Cow<'_, str> {
    if text.contains('\r') && !text.contains('\n') {
        Cow::Owned(text.replace('\r', "\n"))
    } else {
        text
    }
}

fn line_at(bytes: &[u8], offset: usize) -> u32 {
    let end = if bytes.contains(&b'\n') { b'\n' } else { b'\r' };
    let lines = bytes[..offset].split(|&byte| byte == end).count();
    u32::try_from(lines).unwrap_or(u32::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(bytes: &[u8], expected: Result<(&str, Option<u32>), &str>) {
        let decoded = decode(bytes);
        let found = decoded.as_ref().map(|decoded| (&*decoded.text, decoded.guessed_at));
        assert_eq!(found.map_err(|reason| *reason), expected);
    }

    #[test]
    fn marks_decide_before_content() {
        check(b"\xEF\xBB\xBFa,\xC3\xBC", Ok(("a,ü", None)));
        check(b"\xFF\xFEa\0\x1C\x20\n\0", Ok(("a“\n", None)));
        check(b"\xFE\xFF\0a\x20\x1C", Ok(("a“", None)));
        check(b"\xFE\xFF\xD8\0\0a", Err("it begins as UTF-16, but does not go on so"));
    }

    #[test]
    fn bytes_that_are_not_utf_8_are_windows_1252() {
        check(b"size\n4\x94\nx\n", Ok(("size\n4”\nx\n", Some(2))));
        check(b"size\r4\x94", Ok(("size\n4”", Some(2))));
        check("4”".as_bytes(), Ok(("4”", None)));
    }

    #[test]
    fn lone_carriage_returns_end_lines() {
        check(b"a\rb\r", Ok(("a\nb\n", None)));
        check(b"a\r\nb\r", Ok(("a\r\nb\r", None)));
    }

    #[test]
    fn workbooks_and_zero_bytes_are_refused() {
        check(b"PK\x03\x04...", Err("it is a workbook or another zip archive, not a CSV file"));
        check(b"\xD0\xCF\x11\xE0...", Err("it is a workbook of an old kind (xls), not a CSV file"));
        check(b"a\0b\0", Err("it holds zero bytes, so it is no text in UTF-8 or Windows-1252"));
    }
}
