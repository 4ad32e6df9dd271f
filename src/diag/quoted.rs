//! Shows what users wrote so that one line stays one readable line, whatever is in it.

use std::fmt;
use std::fmt::Write as _;

/// Most letters of a text that are shown.
const MOST_LETTERS: usize = 200;

/// Most letters of a formula that are shown, and how many of them stand before its fault.
const MOST_FORMULA: usize = 120;
const BEFORE_FAULT: usize = 80;

/// Writes a message; what stands in backticks is the user's and is shown plain and short.
pub(super) struct Quoted<'a, 'b> {
    inner: &'a mut fmt::Formatter<'b>,
    is_within: bool,
    length: usize,
}

impl<'a, 'b> Quoted<'a, 'b> {
    pub(super) fn new(inner: &'a mut fmt::Formatter<'b>) -> Quoted<'a, 'b> {
        Quoted { inner, is_within: false, length: 0 }
    }
}

impl fmt::Write for Quoted<'_, '_> {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        for letter in text.chars() {
            if letter == '`' {
                self.is_within = !self.is_within;
                self.length = 0;
            } else if self.is_within {
                self.length += 1;
                if self.length == MOST_LETTERS + 1 {
                    self.inner.write_str(" ..")?;
                }
                if self.length > MOST_LETTERS {
                    continue;
                }
                self.inner.write_char(plain(letter))?;
                continue;
            }
            self.inner.write_char(letter)?;
        }
        Ok(())
    }
}

/// A text that is shown plain and short.
pub(super) struct Short<'a>(pub(super) &'a str);

impl fmt::Display for Short<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.chars().take(MOST_LETTERS).map(plain).try_for_each(|letter| f.write_char(letter))?;
        if self.0.chars().nth(MOST_LETTERS).is_some() { f.write_str(" ..") } else { Ok(()) }
    }
}

/// Returns the part of a formula around its fault, and how many letters of that stand before the fault.
pub(super) fn around(text: &str, marker: usize) -> (String, usize) {
    let at = text.get(..marker).map_or(0, |before| before.chars().count());
    let count = text.chars().count();
    let start = if count <= MOST_FORMULA { 0 } else { at.saturating_sub(BEFORE_FAULT) };
    let shown: String = text.chars().skip(start).take(MOST_FORMULA).map(plain).collect();
    let (lead, tail) =
        (if start > 0 { ".. " } else { "" }, if start + MOST_FORMULA < count { " .." } else { "" });
    (format!("{lead}{shown}{tail}"), at - start + lead.len())
}

/// Returns a letter, or what stands for one that would break the line, steer a terminal or turn the text around.
fn plain(letter: char) -> char {
    match letter {
        '\n' | '\r' | '\t' => ' ',
        '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => char::REPLACEMENT_CHARACTER,
        letter if letter.is_control() => char::REPLACEMENT_CHARACTER,
        letter => letter,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_part_around_a_fault_is_shown() {
        assert_eq!(around("2 *\t3 +", 7), ("2 * 3 +".to_owned(), 7));
        let text = format!("{}?{}", "a".repeat(500), "b".repeat(500));
        let expected = format!(".. {}?{} ..", "a".repeat(80), "b".repeat(39));
        assert_eq!(around(&text, 500), (expected, 83));
        // A fault at the very end, as of a text that is too long.
        let (shown, at) = around(&"é".repeat(10_000), 20_000);
        assert_eq!((shown, at), (format!(".. {}", "é".repeat(80)), 83));
    }

    #[test]
    fn long_texts_are_cut_and_signs_do_no_harm() {
        let shown = Short("a\n\x1b[2J\u{202e}b").to_string();
        assert_eq!(shown, "a \u{fffd}[2J\u{fffd}b");
        assert_eq!(Short(&"x".repeat(200)).to_string(), "x".repeat(200));
        assert_eq!(Short(&"x".repeat(201)).to_string(), format!("{} ..", "x".repeat(200)));
    }
}
