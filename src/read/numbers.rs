//! Numbers and dates as people and spreadsheets write them.

use std::borrow::Cow;

use jiff::civil::Date;
use jiff::civil::ISOWeekDate;
use jiff::civil::Weekday;

use crate::quantity::Ratio;
use crate::quantity::text::CURRENCY_SIGNS;

/// The currencies a sign stands for (ISO 4217). The dollar sign is left out: some thirty currencies use it.
const SIGNED: [(char, &[&str]); 7] = [
    ('€', &["EUR"]),
    ('£', &["GBP"]),
    ('¥', &["JPY", "CNY"]),
    ('₩', &["KRW"]),
    ('₹', &["INR"]),
    ('₱', &["PHP"]),
    ('฿', &["THB"]),
];
/// More digits than this are no quantity of a shop.
const MOST_DIGITS: usize = 36;
/// A power of ten beyond this is no quantity of a shop either.
const MOST_PLACES: u64 = 60;

/// Returns the sign in a text that cannot stand for a currency: a euro sign in a book of dollars, or a dollar sign in a
/// book of euros.
pub(super) fn foreign_sign(text: &str, currency: &str) -> Option<char> {
    let fits = |sign: char| match SIGNED.iter().find(|(known, _)| *known == sign) {
        Some((_, codes)) => codes.contains(&currency),
        None => sign != '$' || SIGNED.iter().all(|(_, codes)| !codes.contains(&currency)),
    };
    text.chars().find(|sign| CURRENCY_SIGNS.contains(sign) && !fits(*sign))
}

/// Returns the exact value of a number: thousands separators, a currency sign, parentheses for a negative amount and
/// an exponent are understood.
///
/// The decimal sign is a point, or a comma where the file says so. Separators must part groups of three digits, so
/// that `1,5` is not taken for fifteen.
pub(super) fn number(text: &str, has_decimal_comma: bool) -> Option<Ratio> {
    if let Some(whole) = short_whole(text) {
        return Some(Ratio::whole(whole.into()));
    }
    let mut rest = text.trim();
    let mut is_negative = false;
    if let Some(inner) = rest.strip_prefix('(').and_then(|rest| rest.strip_suffix(')')) {
        (rest, is_negative) = (inner.trim(), true);
    }
    rest = rest.trim_matches(CURRENCY_SIGNS).trim();
    if let Some(inner) = rest.strip_prefix(['-', '\u{2212}']) {
        if is_negative {
            return None;
        }
        (rest, is_negative) = (inner, true);
    } else if let Some(inner) = rest.strip_prefix('+') {
        rest = inner;
    }
    rest = rest.trim_start_matches(CURRENCY_SIGNS).trim();
    let (mantissa, exponent) = match rest.split_once(['e', 'E']) {
        None => (rest, 0),
        Some((mantissa, exponent)) => (mantissa, exponent.parse::<i64>().ok()?),
    };
    let point = if has_decimal_comma { ',' } else { '.' };
    let (whole, decimals) = mantissa.split_once(point).unwrap_or((mantissa, ""));
    if whole.is_empty() && decimals.is_empty() {
        return None;
    }
    let whole = ungrouped(whole, has_decimal_comma)?;
    let is_plain = |digits: &str| digits.bytes().all(|byte| byte.is_ascii_digit());
    if !is_plain(&whole) || !is_plain(decimals) {
        return None;
    }
    let decimals = decimals.trim_end_matches('0');
    let digits = format!("{whole}{decimals}");
    let digits = digits.trim_start_matches('0');
    let places = i64::try_from(decimals.len()).ok()?.checked_sub(exponent)?;
    if digits.len() > MOST_DIGITS || places.unsigned_abs() > MOST_PLACES {
        return None;
    }
    let value: i128 = if digits.is_empty() { 0 } else { digits.parse().ok()? };
    let value = if is_negative { -value } else { value };
    Some(match u32::try_from(places) {
        Ok(places) => Ratio::decimal(value, places),
        Err(_) => Ratio::whole(value) * Ratio::whole(10).power(u32::try_from(-places).ok()?),
    })
}

/// Returns the number of up to 18 digits that a text is, and nothing for any other text.
pub(super) fn short_whole(text: &str) -> Option<i64> {
    let digits = text.as_bytes();
    let is_short = (1..=18).contains(&digits.len());
    (is_short && digits.iter().all(u8::is_ascii_digit))
        .then(|| digits.iter().fold(0, |value, digit| value * 10 + i64::from(digit - b'0')))
}

fn ungrouped(whole: &str, has_decimal_comma: bool) -> Option<Cow<'_, str>> {
    let comma = if has_decimal_comma { '.' } else { ',' };
    let is_separator = |letter: char| {
        letter == comma
            || matches!(letter, ' ' | '\u{a0}' | '\u{2009}' | '\u{202f}' | '\'' | '\u{2019}')
    };
    let Some(separator) = whole.chars().find(|letter| is_separator(*letter)) else {
        return Some(Cow::Borrowed(whole));
    };
    let mut groups = whole.split(separator);
    let first = groups.next().filter(|first| (1..=3).contains(&first.len()))?;
    let mut digits = first.to_owned();
    for group in groups {
        if group.len() != 3 {
            return None;
        }
        digits.push_str(group);
    }
    Some(Cow::Owned(digits))
}

/// Returns the text with decimal commas as points, byte for byte as long.
pub(super) fn with_points(text: &str, has_decimal_comma: bool) -> Cow<'_, str> {
    if !has_decimal_comma || !text.contains(',') {
        return Cow::Borrowed(text);
    }
    let bytes = text.as_bytes();
    let is_digit = |index: Option<usize>| {
        index.and_then(|index| bytes.get(index)).is_some_and(u8::is_ascii_digit)
    };
    let points = text.char_indices().map(|(index, letter)| {
        let parts_digits = is_digit(index.checked_sub(1)) && is_digit(Some(index + 1));
        if letter == ',' && parts_digits { '.' } else { letter }
    });
    Cow::Owned(points.collect())
}

/// Returns the day a text names: `2027-03-15`, `3/15/2027` where only one reading is possible, or `2027-W11` for the
/// Monday of an ISO week.
pub(super) fn date(text: &str) -> Option<Date> {
    let text = text.trim();
    let text = text.split_once([' ', 'T']).map_or(text, |(day, time)| {
        let is_midnight = time.chars().all(|letter| matches!(letter, '0' | ':' | '.' | 'Z'));
        if is_midnight { day } else { text }
    });
    if let Some((year, week)) = text.split_once("-W") {
        let week =
            ISOWeekDate::new(year.parse().ok()?, week.parse().ok()?, Weekday::Monday).ok()?;
        return Some(week.date());
    }
    let parts = |sign| {
        let mut parts = text.split(sign).map(|part: &str| {
            let is_number =
                (1..=4).contains(&part.len()) && part.bytes().all(|b| b.is_ascii_digit());
            is_number.then(|| part.parse::<i16>().ok()).flatten()
        });
        let three = (parts.next()??, parts.next()??, parts.next()??);
        parts.next().is_none().then_some(three)
    };
    let day = |year: i16, month: i16, day: i16| {
        Date::new(year, i8::try_from(month).ok()?, i8::try_from(day).ok()?).ok()
    };
    if let Some((year, month, number)) = parts('-') {
        return (year >= 1000).then(|| day(year, month, number))?;
    }
    let (first, second, year) = parts('/')?;
    let is_clear = first > 12 || second > 12 || first == second;
    if year < 1000 || !is_clear {
        return None;
    }
    if first > 12 { day(year, second, first) } else { day(year, first, second) }
}

/// Returns the fraction a spreadsheet has probably turned into this text, if the text reads as a date: `8-Mar` was
/// `3/8`.
pub(super) fn fraction_in(text: &str) -> Option<String> {
    if !text.contains(['-', '/']) {
        return None;
    }
    if let Some(date) = date(text).filter(|_| text.len() >= 8) {
        return Some(fraction(date));
    }
    let (left, right) = text.split_once('-')?;
    let is_number =
        |part: &str| (1..=2).contains(&part.len()) && part.bytes().all(|b| b.is_ascii_digit());
    match (month(left), month(right)) {
        (None, Some(month)) if is_number(left) => {
            Some(format!("{month}/{}", left.trim_start_matches('0')))
        }
        (Some(month), None) if is_number(right) => Some(format!("{month}/{right}")),
        _ => None,
    }
}

/// Returns the fraction a spreadsheet has probably turned into this day: `3/8` becomes March 8 of the current year,
/// `3/32` the first of March 1932.
pub(super) fn fraction(date: Date) -> String {
    let year = date.year() % 100;
    let is_denominator = |number: i16| matches!(number, 2 | 4 | 8 | 16 | 32 | 64);
    let (month, day) = (i16::from(date.month()), i16::from(date.day()));
    if day == 1 && is_denominator(year) && year > 31 {
        format!("{month}/{year}")
    } else if !is_denominator(day) && is_denominator(month) && day < month {
        format!("{day}/{month}")
    } else {
        format!("{month}/{day}")
    }
}

fn month(name: &str) -> Option<usize> {
    const MONTHS: [&str; 12] =
        ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"];
    let name = name.to_lowercase();
    MONTHS.iter().position(|month| *month == name).map(|position| position + 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(text: &str, value: &str) {
        assert_eq!(
            number(text, false).map_or("none".to_owned(), |v| v.to_string()),
            value,
            "{text}"
        );
    }

    #[test]
    fn a_currency_sign_must_be_able_to_stand_for_the_currency() {
        for (text, currency, sign) in [
            ("$5", "USD", None),
            ("$5", "CAD", None),
            ("$5", "EUR", Some('$')),
            ("5 €", "USD", Some('€')),
            ("5 €", "EUR", None),
            ("¥5", "CNY", None),
            ("5", "EUR", None),
        ] {
            assert_eq!(foreign_sign(text, currency), sign, "{text} in {currency}");
        }
    }

    #[test]
    fn numbers_may_carry_separators_signs_and_exponents() {
        check("1,250.50", "2501/2");
        check("$ 1,250", "1250");
        check("-$5", "-5");
        check("$-5", "-5");
        check("(5.00)", "-5");
        check("1 000 000", "1000000");
        check("1E-05", "1/100000");
        check("2.5e3", "2500");
        check(".5", "1/2");
        check("5.", "5");
        check("0", "0");
    }

    #[test]
    fn what_only_looks_like_a_number_is_none() {
        for text in ["1,5", "12,34,567", "1.2.3", "", "-", "$", "5 ft", "1,0000", "--5", "1e99"] {
            check(text, "none");
        }
    }

    #[test]
    fn a_file_with_decimal_commas_reads_them() {
        assert_eq!(number("1,5", true), Ratio::new(3, 2));
        assert_eq!(number("1.250,5", true), Ratio::new(2501, 2));
        assert_eq!(number("1.5", true), None);
        assert_eq!(with_points("ROUNDUP(1,5 m; 2)", true), "ROUNDUP(1.5 m; 2)");
        assert_eq!(with_points("a, b", true), "a, b");
    }

    #[test]
    fn dates_are_read_where_only_one_day_can_be_meant() {
        let day = |text| date(text).map_or("none".to_owned(), |date| date.to_string());
        assert_eq!(day("2027-03-15"), "2027-03-15");
        assert_eq!(day("2027-03-15 00:00:00"), "2027-03-15");
        assert_eq!(day("3/15/2027"), "2027-03-15");
        assert_eq!(day("15/3/2027"), "2027-03-15");
        assert_eq!(day("5/5/2027"), "2027-05-05");
        assert_eq!(day("3/4/2027"), "none");
        assert_eq!(day("3/15/27"), "none");
        assert_eq!(day("2027-02-30"), "none");
        // Source: ISO 8601, the first week of a year holds its first Thursday.
        assert_eq!(day("2027-W01"), "2027-01-04");
    }

    #[test]
    fn dates_that_were_fractions_are_seen() {
        let was = |text| fraction_in(text).unwrap_or_default();
        assert_eq!(was("8-Mar"), "3/8");
        assert_eq!(was("Mar-32"), "3/32");
        assert_eq!(was("2027-03-08"), "3/8");
        assert_eq!(was("1932-11-01"), "11/32");
        assert_eq!(was("1964-01-01"), "1/64");
        assert_eq!(was("2027-08-03"), "3/8");
        assert_eq!(was("15/32"), "");
        assert_eq!(was("3/8"), "");
        assert_eq!(was("92-5/8"), "");
    }
}
