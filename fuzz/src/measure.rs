//! Texts as measures and numbers: no panic, and what is printed reads back as the same value.

use cutbill::quantity::text::{self, DecimalSign};
use cutbill::quantity::unit;
use cutbill::quantity::{Length, Measure};

/// What [`text::number`] reads back: numbers have at most so many digits.
const MOST_DIGITS: usize = 38;

/// Reads the bytes as a measure with a bare unit and without, as a number, and as the name of a unit.
pub fn run(bytes: &[u8]) {
    let Ok(cell) = std::str::from_utf8(bytes) else { return };
    let inch = unit::find("in");
    for sign in [DecimalSign::Point, DecimalSign::Comma] {
        for bare in [inch.as_ref(), None] {
            match text::measure(cell, bare, sign) {
                Ok(measure) => reads_back(&measure),
                Err(fault) => assert!(fault.marker <= cell.len(), "{fault:?} lies outside"),
            }
        }
        match text::number(cell, sign) {
            Ok(number) => {
                let shown = text::exact(&number);
                if shown.chars().filter(char::is_ascii_digit).count() <= MOST_DIGITS {
                    assert_eq!(text::number(&shown, DecimalSign::Point).as_ref(), Ok(&number));
                }
            }
            Err(fault) => assert!(fault.marker <= cell.len(), "{fault:?} lies outside"),
        }
    }
    if unit::find(cell).is_none() {
        let _ = unit::suggest(cell);
    }
}

/// Checks that what a length is printed as reads back as the same length, to the nanometer.
fn reads_back(measure: &Measure) {
    let _ = text::shown(measure);
    if let Some(length) = measure.to_length().filter(|length| *length >= Length::ZERO) {
        let shown = text::feet_and_inches(length);
        let again = text::measure(&shown, None, DecimalSign::Point).map(|again| again.to_length());
        assert_eq!(again, Ok(Some(length)), "read from `{shown}`");
    }
}
