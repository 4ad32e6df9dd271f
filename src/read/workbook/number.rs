//! What a number format makes of a number: a plain number, a percent, a date, a time.

use std::fmt::Write;

use jiff::ToSpan;
use jiff::civil::Date;
use jiff::civil::date;
use rust_decimal::Decimal;

use crate::read::table::Cell;
use crate::read::table::Percent;

/// What a number format says of the numbers it shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Meaning {
    Plain,
    Percent,
    Date,
    /// Hours that go on past 24.
    Duration,
    /// The format is not in the file.
    Unknown,
}

/// The day a workbook counts its dates from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Dates {
    /// 1 is 1900-01-01, and 60 is a 29 February that never was.
    From1900,
    /// 0 is 1904-01-01.
    From1904,
}

impl Meaning {
    /// Returns whether the format shows percents.
    pub(super) fn percent(self) -> Percent {
        match self {
            Meaning::Percent => Percent::Yes,
            Meaning::Unknown => Percent::Unknown,
            Meaning::Plain | Meaning::Date | Meaning::Duration => Percent::No,
        }
    }
}

/// Returns what a format code says, by its first section. ECMA-376 part 1, 18.8.31.
pub(super) fn meaning_of_code(code: &str) -> Meaning {
    if code.eq_ignore_ascii_case("general") || code.eq_ignore_ascii_case("standard") {
        return Meaning::Plain;
    }
    let mut meaning = Meaning::Plain;
    let mut letters = code.chars();
    while let Some(letter) = letters.next() {
        match letter.to_ascii_lowercase() {
            ';' => break,
            '%' => return Meaning::Percent,
            // The next letter stands for itself, for its width, or fills the cell.
            '\\' | '_' | '*' => drop(letters.next()),
            '"' => letters.by_ref().take_while(|&letter| letter != '"').for_each(drop),
            '[' => {
                let inside: String = letters.by_ref().take_while(|&letter| letter != ']').collect();
                let inside = inside.to_ascii_lowercase();
                if ["h", "m", "s"]
                    .iter()
                    .any(|unit| !inside.is_empty() && inside.replace(unit, "").is_empty())
                {
                    meaning = Meaning::Duration;
                }
            }
            'd' | 'm' | 'y' | 'h' | 's' if meaning == Meaning::Plain => meaning = Meaning::Date,
            _ => {}
        }
    }
    meaning
}

/// Returns what a format built into spreadsheets says. ECMA-376 part 1, 18.8.30; the numbers of other languages there
/// are all dates and times.
pub(super) fn meaning_of_built_in(format: u16) -> Meaning {
    match format {
        9 | 10 => Meaning::Percent,
        14..=22 | 27..=36 | 45 | 47 | 50..=58 => Meaning::Date,
        46 => Meaning::Duration,
        _ => Meaning::Plain,
    }
}

/// Digits of a number that spreadsheets show. What lies beyond is a trace of arithmetic in floats, as in
/// `0.30000000000000004`, which shows as 0.3.
const SHOWN_DIGITS: usize = 15;

/// Returns the cell of a number, rounded to 15 significant digits; `scratch` holds its text.
///
/// A date keeps its day and drops its time. A time alone becomes a text such as `0:45`.
pub(super) fn cell(scratch: &mut String, value: f64, meaning: Meaning, dates: Dates) -> Cell<'_> {
    scratch.clear();
    if !value.is_finite() {
        return Cell::Error("#NUM!");
    }
    write!(scratch, "{value}").expect("a String takes all that is written");
    if scratch.bytes().filter(u8::is_ascii_digit).count() > SHOWN_DIGITS {
        let rounded: f64 = format!("{value:.*e}", SHOWN_DIGITS - 1)
            .parse()
            .expect("what is written as a number reads as one");
        scratch.clear();
        write!(scratch, "{rounded}").expect("a String takes all that is written");
    }
    if scratch == "-0" {
        scratch.remove(0);
    }
    if matches!(meaning, Meaning::Date | Meaning::Duration)
        && let Ok(serial) = scratch.parse::<Decimal>()
        && let Some(seconds) = seconds_of(serial)
    {
        return moment(scratch, seconds, meaning, dates);
    }
    Cell::Number { text: scratch, percent: meaning.percent() }
}

/// Returns the seconds of a serial number of days, if it is one that shows as a date: up to the end of the year 9999.
fn seconds_of(serial: Decimal) -> Option<i64> {
    let is_shown = Decimal::ZERO <= serial && serial < Decimal::from(2_958_466);
    let seconds = is_shown.then(|| serial.checked_mul(Decimal::from(86_400)))??;
    i64::try_from(seconds.round()).ok()
}

fn moment(scratch: &mut String, seconds: i64, meaning: Meaning, dates: Dates) -> Cell<'_> {
    let days = seconds / 86_400;
    let base = match (dates, days) {
        (_, 0) => None,
        (Dates::From1900, 60) => {
            "1900-02-29".clone_into(scratch);
            return Cell::Text(scratch);
        }
        (Dates::From1900, 1..60) => Some(date(1899, 12, 31)),
        (Dates::From1900, _) => Some(date(1899, 12, 30)),
        (Dates::From1904, _) => Some(date(1904, 1, 1)),
    };
    let day: Option<Date> = base
        .filter(|_| meaning == Meaning::Date)
        .and_then(|base| base.checked_add(days.days()).ok());
    if let Some(date) = day {
        return Cell::Date { date };
    }
    write_time(scratch, seconds);
    Cell::Text(scratch)
}

/// Writes a time as `0:45`, or `0:45:30` if it has seconds.
pub(super) fn write_time(text: &mut String, seconds: i64) {
    text.clear();
    let (hours, minutes, rest) = (seconds / 3600, seconds / 60 % 60, seconds % 60);
    write!(text, "{hours}:{minutes:02}").expect("a String takes all that is written");
    if rest > 0 {
        write!(text, ":{rest:02}").expect("a String takes all that is written");
    }
}

/// Returns the number that both binary formats pack in 30 bits, perhaps to be divided by 100. [MS-XLSB] 2.5.122 `RkNumber`.
#[expect(
    clippy::float_arithmetic,
    reason = "the format defines the number so; its text is taken at once"
)]
pub(super) fn packed_number(packed: u32) -> f64 {
    let is_whole = packed & 2 != 0;
    let number = if is_whole {
        f64::from(packed.cast_signed() >> 2)
    } else {
        f64::from_bits(u64::from(packed & !3) << 32)
    };
    if packed & 1 != 0 { number / 100.0 } else { number }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn format_codes_are_understood() {
        #[track_caller]
        fn check(codes: &[&str], expected: Meaning) {
            for code in codes {
                assert_eq!(meaning_of_code(code), expected, "{code}");
            }
        }
        check(
            &[
                "General",
                "Standard",
                "0.00",
                "#,##0.00\\ \"m\"",
                "# ?/?",
                "0.00E+00",
                "_(* #,##0_);_(* (#,##0)",
                "0 \"%\"",
                "0\\%",
                "[Red]0.0;[h]",
                "0_m*d",
                "@",
                "[$-409]0",
                "",
            ],
            Meaning::Plain,
        );
        check(&["0%", "0.00 %", "[Red]0.0%;-0.0%", "\"d\"0%"], Meaning::Percent);
        check(
            &[
                "yyyy-mm-dd",
                "m/d/yy h:mm",
                "[$-409]d-mmm-yy;@",
                "h:mm AM/PM",
                "DD.MM.YYYY",
                "mm:ss.0",
            ],
            Meaning::Date,
        );
        check(&["[h]:mm:ss", "[mm]:ss", "[s]"], Meaning::Duration);
    }

    #[test]
    fn numbers_have_the_digits_that_a_spreadsheet_shows() {
        let text = |value: f64| {
            let mut scratch = String::new();
            match cell(&mut scratch, value, Meaning::Plain, Dates::From1900) {
                Cell::Number { text, .. } => text.to_owned(),
                other => panic!("not a number: {other:?}"),
            }
        };
        assert_eq!(text(0.1 + 0.2), "0.3");
        assert_eq!(text(-(0.1 + 0.2)), "-0.3");
        assert_eq!(text(1.1 * 1.1), "1.21");
        assert_eq!(text(0.035), "0.035");
        assert_eq!(text(1.0 / 3.0), "0.333333333333333");
        assert_eq!(text(123_456_789_012_345.0), "123456789012345");
        assert_eq!(text(0.000_000_123_456_789_012_345), "0.000000123456789012345");
        assert_eq!(text(1e20), "100000000000000000000");
        assert_eq!(text(1_234_567.890_123_456_7), "1234567.89012346");
    }

    #[test]
    fn built_in_formats_are_known() {
        let found = [0, 4, 9, 10, 11, 14, 22, 27, 36, 37, 44, 45, 46, 47, 49, 58, 164]
            .map(meaning_of_built_in);
        let (plain, percent, date) = (Meaning::Plain, Meaning::Percent, Meaning::Date);
        let expected = [
            plain,
            plain,
            percent,
            percent,
            plain,
            date,
            date,
            date,
            date,
            plain,
            plain,
            date,
            Meaning::Duration,
            date,
            plain,
            date,
            plain,
        ];
        assert_eq!(found, expected);
    }

    #[track_caller]
    fn check(value: f64, meaning: Meaning, dates: Dates, expected: Cell<'_>) {
        assert_eq!(cell(&mut String::new(), value, meaning, dates), expected);
    }

    #[test]
    fn numbers_have_their_shortest_text() {
        for (value, text) in [
            (0.1, "0.1"),
            (100.0, "100"),
            (1e-7, "0.0000001"),
            (1e21, "1000000000000000000000"),
            (-0.0, "0"),
            (-1234.5, "-1234.5"),
        ] {
            for (meaning, percent) in [
                (Meaning::Plain, Percent::No),
                (Meaning::Percent, Percent::Yes),
                (Meaning::Unknown, Percent::Unknown),
            ] {
                check(value, meaning, Dates::From1900, Cell::Number { text, percent });
            }
        }
        check(f64::NAN, Meaning::Plain, Dates::From1900, Cell::Error("#NUM!"));
    }

    #[test]
    fn dates_count_from_1900_or_1904() {
        // Serial numbers of the 1900 system: ECMA-376 part 1, 18.17.4.1: 1 is 1900-01-01, 60 the false leap day, and
        // 2958465 is 9999-12-31. Of the 1904 system: 0 is 1904-01-01, 1462 days later than in the other.
        for (value, expected) in [
            (1.0, date(1900, 1, 1)),
            (59.0, date(1900, 2, 28)),
            (61.0, date(1900, 3, 1)),
            (46_461.0, date(2027, 3, 15)),
            (46_461.75, date(2027, 3, 15)),
            (46_460.999_999_999, date(2027, 3, 15)),
            (2_958_465.0, date(9999, 12, 31)),
        ] {
            check(value, Meaning::Date, Dates::From1900, Cell::Date { date: expected });
        }
        check(60.0, Meaning::Date, Dates::From1900, Cell::Text("1900-02-29"));
        let expected = Cell::Date { date: date(2027, 3, 15) };
        check(44_999.0, Meaning::Date, Dates::From1904, expected);
        let text = "-1";
        check(-1.0, Meaning::Date, Dates::From1900, Cell::Number { text, percent: Percent::No });
    }

    #[test]
    fn packed_numbers_are_unpacked() {
        for (packed, expected) in [
            (42 << 2 | 2, 42.0),
            (1234 << 2 | 3, 12.34),
            (0x3FF0_0000, 1.0),
            (0x4059_0001, 1.0),
            (0xFFFF_FFFE, -1.0),
        ] {
            assert_eq!(packed_number(packed).to_bits(), f64::to_bits(expected), "{packed:x}");
        }
    }

    #[test]
    fn times_alone_become_texts() {
        check(0.03125, Meaning::Date, Dates::From1900, Cell::Text("0:45"));
        check(0.5 + 1.0 / 86_400.0, Meaning::Date, Dates::From1904, Cell::Text("12:00:01"));
        check(1.5, Meaning::Duration, Dates::From1900, Cell::Text("36:00"));
    }
}
