//! Which decimals a spreadsheet keeps to the last digit, and which totals it adds up to the last digit.

use crate::render::shown;

/// A spreadsheet keeps this many significant digits of a number, in binary floating point of 64 bits (IEEE 754).
const DIGITS: usize = 15;

/// A formula adds up figures only while their number times the sum of their sizes, in units of the last decimal place,
/// stays below this: 2 to the power of 51.
///
/// Each of `n` additions errs by at most 2^-53 of the sum of sizes, and so does reading a figure; four more steps are
/// left to `ROUND`. Below this limit all errors together stay under a quarter of a unit, whatever the order of adding,
/// and rounding takes them away (Nicholas J. Higham, Accuracy and Stability of Numerical Algorithms, section 4.2).
const SUM_LIMIT: i128 = 1 << 51;

/// Returns the number a plain decimal is in a spreadsheet, if it comes back from there digit by digit.
pub(super) fn number(plain: &str) -> Option<f64> {
    if !shown::is_decimal(plain) {
        return None;
    }
    let digits: String = plain.chars().filter(char::is_ascii_digit).collect();
    if digits.trim_matches('0').len() > DIGITS {
        return None;
    }
    let number: f64 = plain.parse().ok()?;
    (number.to_string() == shown::trimmed(plain)).then_some(number)
}

/// Returns how many decimal places a plain decimal shows.
pub(super) fn places(plain: &str) -> usize {
    plain.split_once('.').map_or(0, |(_, part)| part.len())
}

/// Tells whether a spreadsheet that adds up these cells, and rounds to the places of the total, gets the total to the
/// last digit. Cells that are no decimals are text there, and count nothing.
pub(super) fn is_sum<'a>(cells: impl Iterator<Item = &'a str>, total: &str) -> bool {
    let places = places(total);
    let known = number(total).and_then(|_| units(total, places));
    let (mut sum, mut sizes, mut count) = (Some(0_i128), Some(0_i128), 4_i128);
    for cell in cells.filter(|cell| shown::is_decimal(cell)) {
        let units = number(cell).and_then(|_| units(cell, places));
        sum = sum.and_then(|sum| sum.checked_add(units?));
        sizes = sizes.and_then(|sizes| sizes.checked_add(units?.checked_abs()?));
        count += 1;
    }
    let is_near = sizes.and_then(|sizes| sizes.checked_mul(count)).is_some_and(|n| n < SUM_LIMIT);
    is_near && known.is_some() && sum == known
}

/// Returns a plain decimal in units of the last of `places`; none if it has more places or is too large.
fn units(plain: &str, places: usize) -> Option<i128> {
    let (whole, part) = plain.split_once('.').unwrap_or((plain, ""));
    let missing = places.checked_sub(part.len())?;
    format!("{whole}{part}{}", "0".repeat(missing)).parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decimals_of_fifteen_digits_are_kept_and_longer_ones_are_not() {
        for text in [
            "0",
            "-0.10",
            "0.1",
            "123456789012.345",
            "99999999999.9999",
            "1000000000000000000",
            "0.000000000000001",
        ] {
            assert!(number(text).is_some(), "{text}");
        }
        for text in [
            "9999999999999999",
            "100000000000.00001",
            "1234567890123456.0",
            "no price",
            "",
            "1e3",
            "inf",
        ] {
            assert_eq!(number(text), None, "{text}");
        }
    }

    #[test]
    fn a_sum_must_be_right_and_within_reach() {
        let sum = |cells: &[&str], total: &str| is_sum(cells.iter().copied(), total);
        assert!(sum(&["0.1", "0.20", "-0.3000", "no price", ""], "0.0000"));
        assert!(sum(&[], "0"));
        assert!(!sum(&["0.1", "0.2"], "0.4"), "a wrong total");
        assert!(!sum(&["0.125", "0.125"], "0.3"), "places that the total does not show");
        assert!(!sum(&["9999999999999999.0", "-9999999999999999.0"], "0.0"), "cells that are text");
        // All figures and totals here have at most 15 digits; together they decide.
        let large = "204709482.4319";
        let total = |count: i128| shown::plain(2_047_094_824_319 * count, 4);
        assert!(sum(&[large; 9], &total(9)));
        assert!(!sum(&[large; 40], &total(40)));
    }
}
