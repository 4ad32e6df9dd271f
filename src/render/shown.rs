//! How numbers are printed for people: exact, in the book's units, with thousands parted.

use crate::formula::Value;
use crate::model::Book;
use crate::model::Unit;
use crate::quantity::Length;
use crate::quantity::Ratio;
use crate::quantity::Rounding;
use crate::quantity::text;

/// Returns whole units of the last decimal place as a plain decimal: `12345`, 2 places: `123.45`.
#[must_use]
pub fn plain(amount: i128, places: u32) -> String {
    let sign = if amount < 0 { "-" } else { "" };
    let digits = amount.unsigned_abs().to_string();
    let places = places as usize;
    if places == 0 {
        return format!("{sign}{digits}");
    }
    let digits = format!("{digits:0>width$}", width = places + 1);
    let (whole, part) = digits.split_at(digits.len() - places);
    format!("{sign}{whole}.{part}")
}

/// Tells whether a text is a plain decimal, as [`plain`] and its like write them: digits with at most a minus before
/// and a point between.
#[must_use]
pub fn is_decimal(text: &str) -> bool {
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|sign| sign.is_ascii_digit());
    let text = text.strip_prefix('-').unwrap_or(text);
    text.split_once('.').map_or(digits(text), |(whole, part)| digits(whole) && digits(part))
}

/// Tells whether a spreadsheet might take a text for a formula, on reading or once someone edits its cell: it begins
/// with `=`, `+`, `-`, `@`, their full-width twins, a tab or a line end, and is neither a plain decimal nor the lone `-`
/// that stands for none.
#[must_use]
pub fn is_like_formula(text: &str) -> bool {
    let signs = ['=', '+', '-', '@', '＝', '＋', '－', '＠', '\t', '\r', '\n'];
    text.starts_with(signs) && text != "-" && !is_decimal(text)
}

/// Parts the thousands of a plain decimal: `12345.6789` becomes `12,345.6789`.
#[must_use]
pub fn parted(plain: &str) -> String {
    let (sign, rest) = plain.strip_prefix('-').map_or(("", plain), |rest| ("-", rest));
    let (whole, part) =
        rest.split_once('.').map_or((rest, None), |(whole, part)| (whole, Some(part)));
    let mut text = String::from(sign);
    for (position, digit) in whole.chars().enumerate() {
        if position > 0 && (whole.len() - position) % 3 == 0 {
            text.push(',');
        }
        text.push(digit);
    }
    if let Some(part) = part {
        text.push('.');
        text.push_str(part);
    }
    text
}

/// Returns a ratio rounded to `places`, trailing zeros dropped; ties to even, as for any figure that is only shown.
#[must_use]
pub fn rounded(value: &Ratio, places: u32) -> String {
    match value.scaled(places, Rounding::HalfEven).to_integer() {
        Some(amount) => trimmed(&plain(amount, places)),
        None => value.to_string(),
    }
}

/// Returns a percent with one decimal place.
#[must_use]
pub fn percent(share: &Ratio) -> String {
    let tenths = (share * &Ratio::whole(1000)).scaled(0, Rounding::HalfEven);
    tenths.to_integer().map_or_else(String::new, |tenths| plain(tenths, 1))
}

/// Returns a length in the unit, without its name: whole inches and 64ths where that is exact, else a decimal.
///
/// A length that is no whole number of 64ths but of tenths of a millimeter was written in metric, and is shown so with
/// its unit: `2440 mm`. No inch with finitely many decimals is both, halves apart.
#[must_use]
pub fn length(length: Length, unit: &Unit) -> String {
    let count = length.to_ratio().checked_div(&unit.factor).unwrap_or(Ratio::ZERO);
    if unit.name == "in" {
        if let Some(sixty_fourths) = (&count * &Ratio::whole(64)).to_integer() {
            return fraction(sixty_fourths);
        }
        if is_metric(length) {
            return format!("{} mm", millimeters(length));
        }
    }
    rounded(&count, 4)
}

fn is_metric(length: Length) -> bool {
    length.nanometers() % (Length::MILLIMETER.nanometers() / 10) == 0
}

fn millimeters(length: Length) -> String {
    rounded(&Ratio::decimal(i128::from(length.nanometers()), 6), 1)
}

/// Returns two sides without the unit: `96 x 48`, or `2440 x 1220 mm` where both were written so.
#[must_use]
pub fn sides(long: Length, wide: Length, unit: &Unit) -> String {
    let (one, other) = (length(long, unit), length(wide, unit));
    match (one.strip_suffix(" mm"), other.ends_with(" mm")) {
        (Some(one), true) => format!("{one} x {other}"),
        (Some(_), false) => format!("{one} x {other} {}", unit.name),
        (None, true) => format!("{one} {} x {other}", unit.name),
        (None, false) => format!("{one} x {other}"),
    }
}

fn fraction(sixty_fourths: i128) -> String {
    let sign = if sixty_fourths < 0 { "-" } else { "" };
    let (whole, mut part, mut base) = (sixty_fourths.abs() / 64, sixty_fourths.abs() % 64, 64);
    while part != 0 && part % 2 == 0 {
        part /= 2;
        base /= 2;
    }
    match (whole, part) {
        (whole, 0) => format!("{sign}{whole}"),
        (0, part) => format!("{sign}{part}/{base}"),
        (whole, part) => format!("{sign}{whole}-{part}/{base}"),
    }
}

/// Returns a size in the book's length unit: `48 x 96 in`.
#[must_use]
pub fn size(book: &Book, long: Option<Length>, wide: Option<Length>) -> String {
    let unit = &book.settings.length_unit;
    match (long, wide) {
        (Some(long), Some(wide)) if wide > Length::ZERO => with_unit(sides(long, wide, unit), unit),
        (Some(long), _) => with_unit(length(long, unit), unit),
        (None, _) => "to length".to_owned(),
    }
}

/// Adds the unit's name, unless the text ends in one.
fn with_unit(text: String, unit: &Unit) -> String {
    if text.contains(" mm") { text } else { format!("{text} {}", unit.name) }
}

/// Returns a named value: a measure with its unit, or yes or no.
#[must_use]
pub fn value(value: &Value) -> String {
    match value {
        Value::Measure(measure) => text::shown(measure),
        Value::Truth(true) => "yes".to_owned(),
        Value::Truth(false) => "no".to_owned(),
    }
}

/// Returns a ratio rounded to `places`, all of them shown; ties to even, as for any figure that is only shown.
#[must_use]
pub fn fixed(value: &Ratio, places: u32) -> String {
    match value.scaled(places, Rounding::HalfEven).to_integer() {
        Some(amount) => plain(amount, places),
        None => value.to_string(),
    }
}

/// Returns a plain decimal without the zeros that end it.
#[must_use]
pub fn trimmed(text: &str) -> String {
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decimals_keep_their_places_and_thousands_are_parted() {
        assert_eq!(plain(5, 4), "0.0005");
        assert_eq!(plain(-123_456, 2), "-1234.56");
        assert_eq!(plain(7, 0), "7");
        assert_eq!(parted("-1234567.8900"), "-1,234,567.8900");
        assert_eq!(parted("999"), "999");
    }

    #[test]
    fn decimals_are_no_formulas_and_nothing_else_is_a_decimal() {
        for text in ["0", "-12.5", "123456789012345678901234567890.00"] {
            assert!(is_decimal(text) && !is_like_formula(text), "{text}");
        }
        for text in ["", "-", ".", "5.", ".5", "1e5", "inf", "1,000", "1.2.3", "--1", "٣"] {
            assert!(!is_decimal(text), "{text}");
        }
        for text in ["=1+1", "+5", "-A1", "@SUM(1)", "\t=1", "\n=1", "＝1", "--1", "-1-1", "-1,5"]
        {
            assert!(is_like_formula(text), "{text}");
        }
        for text in ["", "-", "A=1", " =1", "48 x 96"] {
            assert!(!is_like_formula(text), "{text}");
        }
    }

    #[test]
    fn inches_are_shown_as_shop_fractions() {
        let unit = Unit::inch();
        let shown = |numerator, denominator| {
            length(Length::from_inches(numerator, denominator).unwrap(), &unit)
        };
        assert_eq!(shown(741, 8), "92-5/8");
        assert_eq!(shown(15, 32), "15/32");
        assert_eq!(shown(96, 1), "96");
        assert_eq!(length(Length::from_nanometers(1_000_001), &unit), "0.0394");
    }

    #[test]
    fn metric_lengths_are_shown_as_they_were_written() {
        let unit = Unit::inch();
        let metric = |millimeters: i64| Length::from_nanometers(millimeters * 1_000_000);
        assert_eq!(length(Length::from_nanometers(2_700_000), &unit), "2.7 mm");
        assert_eq!(sides(metric(2440), metric(1220), &unit), "2440 x 1220 mm");
        assert_eq!(sides(metric(2440), Length::FOOT, &unit), "2440 mm x 12 in");
        assert_eq!(sides(Length::FOOT, metric(1220), &unit), "12 in x 1220 mm");
        assert_eq!(with_unit(sides(Length::FOOT, Length::INCH, &unit), &unit), "12 x 1 in");
        // 254 mm is 10 in to the last digit.
        assert_eq!(length(metric(254), &unit), "10");
    }
}
