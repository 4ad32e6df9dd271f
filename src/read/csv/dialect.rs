//! Finds out how a CSV file parts its cells and writes its decimals.

use csv::ReaderBuilder;
use csv::StringRecord;

/// The characters that may part cells, the likeliest first.
const SEPARATORS: [u8; 3] = [b',', b';', b'\t'];

/// How many records below the headers are looked at to tell separators apart.
const SAMPLE: usize = 100;

/// No number with its unit is longer, spaces around it apart.
const MAX_NUMBER_BYTES: usize = 64;

/// What the numbers of a file tell of its decimal sign: the first of each kind, with its row.
#[derive(Debug, Default)]
pub(super) struct Decimals {
    comma: Option<(String, u32)>,
    point: Option<(String, u32)>,
    unclear: Option<(String, u32)>,
}

/// What one number tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Sign {
    Comma,
    Point,
    Unclear,
}

/// Returns the separator that a first line `sep=;` states, as spreadsheets write it, and the length of that line.
pub(super) fn stated_separator(text: &str) -> Option<(u8, usize)> {
    let length = text.find('\n')? + 1;
    let line = text[..length].trim_end_matches(['\n', '\r']);
    let line = line.strip_prefix('"').and_then(|line| line.strip_suffix('"')).unwrap_or(line);
    let (key, sign) = line.split_at_checked(4)?;
    match sign.as_bytes() {
        &[sign] if key.eq_ignore_ascii_case("sep=") => Some((sign, length)),
        _ => None,
    }
}

/// Returns the separator under which the headers part; if several do, the one under which most records below have as
/// many cells as the headers.
pub(super) fn separator(text: &str) -> u8 {
    let candidates = SEPARATORS.into_iter().filter_map(|separator| {
        let mut reader = reader(separator).from_reader(text.as_bytes());
        let mut records = reader.records().map_while(Result::ok).filter(|record| !is_blank(record));
        let width = records.next()?.len();
        let even = records.take(SAMPLE).filter(|record| record.len() == width).count();
        (width > 1).then_some((even, width, separator))
    });
    // The first of the best, so that a tie goes to the likelier.
    let best = candidates.reduce(
        |best, other| {
            if (other.0, other.1) > (best.0, best.1) { other } else { best }
        },
    );
    best.map_or(SEPARATORS[0], |(_, _, separator)| separator)
}

/// Returns how a CSV file is read.
pub(super) fn reader(separator: u8) -> ReaderBuilder {
    let mut builder = ReaderBuilder::new();
    builder.delimiter(separator).has_headers(false).flexible(true).buffer_capacity(1 << 16);
    builder
}

/// Tells whether a record holds nothing but spaces.
pub(super) fn is_blank(record: &StringRecord) -> bool {
    record.iter().all(|cell| cell.trim().is_empty())
}

impl Decimals {
    /// Looks at a cell.
    pub(super) fn look(&mut self, row: u32, text: &str) {
        let kind = match sign(text) {
            None => return,
            Some(Sign::Comma) => &mut self.comma,
            Some(Sign::Point) => &mut self.point,
            Some(Sign::Unclear) => &mut self.unclear,
        };
        if kind.is_none() {
            *kind = Some((text.trim().to_owned(), row));
        }
    }

    /// Looks at what was seen further down.
    pub(super) fn append(&mut self, below: Decimals) {
        self.comma = self.comma.take().or(below.comma);
        self.point = self.point.take().or(below.point);
        self.unclear = self.unclear.take().or(below.unclear);
    }

    /// Returns whether decimals have a comma, and what should be said about that.
    ///
    /// Only files parted by `separator` other than a comma get here. Numbers that may be read both ways follow the
    /// others; if there are no others, a comma beside `;` is a decimal one, since a program parts cells with `;` where
    /// the comma is taken.
    pub(super) fn verdict(&self, separator: u8) -> (bool, Option<String>) {
        match (&self.comma, &self.point, &self.unclear) {
            (Some((comma, comma_row)), Some((point, point_row)), _) => {
                let text = format!(
                    "`{comma}` on row {comma_row} has a decimal comma, `{point}` on row {point_row} a decimal \
                     point; the file is read with a point"
                );
                (false, Some(text))
            }
            (Some(_), None, _) => (true, None),
            (None, None, Some((unclear, row))) => {
                let has_comma = separator == b';' && unclear.contains(',');
                let sign = if has_comma { "comma" } else { "point" };
                let text = format!(
                    "no number tells the decimal sign, and `{unclear}` on row {row} can be read both ways; the file is \
                     read with a {sign}"
                );
                (has_comma, Some(text))
            }
            _ => (false, None),
        }
    }
}

/// Tells which decimal sign a cell has if it is a number, perhaps with a currency sign or a unit.
fn sign(text: &str) -> Option<Sign> {
    // Most cells are out after one pass over their bytes.
    if !text.bytes().any(|byte| matches!(byte, b',' | b'.')) || text.len() > MAX_NUMBER_BYTES {
        return None;
    }
    let text = text.trim().trim_start_matches(['-', '+', '(', '$', '€', '£', ' ']);
    if !text.starts_with(|first: char| first.is_ascii_digit()) {
        return None;
    }
    let end = text.find(|letter: char| !letter.is_ascii_digit() && !matches!(letter, ',' | '.'));
    let (number, unit) = text.split_at(end.unwrap_or(text.len()));
    // More words than one unit make a sentence, whose commas mean something else.
    if unit.trim().len() > 12 || unit.trim().contains(' ') {
        return None;
    }
    match (number.rfind(','), number.rfind('.')) {
        (None, None) => None,
        (Some(_), None) => single(number, ',', Sign::Comma, Sign::Point),
        (None, Some(_)) => single(number, '.', Sign::Point, Sign::Comma),
        (Some(comma), Some(point)) if comma < point => {
            is_grouped(&number[..point], ',').then_some(Sign::Point)
        }
        (Some(comma), Some(_)) => is_grouped(&number[..comma], '.').then_some(Sign::Comma),
    }
}

/// Judges a number with signs of one kind: several part thousands, and so may a single one before three digits.
fn single(number: &str, sign: char, decimal: Sign, other: Sign) -> Option<Sign> {
    let is_grouped = is_grouped(number, sign);
    let (whole, decimals) = number.split_once(sign)?;
    if decimals.contains(sign) {
        is_grouped.then_some(other)
    } else if is_grouped {
        Some(Sign::Unclear)
    } else {
        (!whole.is_empty() && !decimals.is_empty()).then_some(decimal)
    }
}

/// Tells whether `separator` parts a number in groups of thousands: `12,345,678`.
fn is_grouped(number: &str, separator: char) -> bool {
    let mut groups = number.split(separator);
    let first = groups.next().unwrap_or("");
    matches!(first.len(), 1..=3) && !first.starts_with('0') && groups.all(|group| group.len() == 3)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn separator_is_the_one_that_parts_the_headers() {
        #[track_caller]
        fn check(text: &str, expected: char) {
            assert_eq!(char::from(separator(text)), expected, "{text}");
        }
        check("a,b\n1;2,3\n", ',');
        check("a;b\n1,5;2,5\n", ';');
        check("a\tb\n1,5\t2;5\n", '\t');
        check("a\n1;2\n", ',');
        check("", ',');
        check("\n;;\n a ; b \n1,5;2,5\n", ';');
        check("\"length, width\";height\n1;2\n", ';');
        check("length, width;height\n1;2\n3;4\n", ';');
        check("length, width;height\n1,2\n3,4\n", ',');
        check("parent,component; quantity\n\"A;B\",2\n", ',');
    }

    #[test]
    fn a_first_line_may_state_the_separator() {
        assert_eq!(stated_separator("sep=;\na;b"), Some((b';', 6)));
        assert_eq!(stated_separator("\"SEP=\t\"\r\na"), Some((b'\t', 9)));
        assert_eq!(stated_separator("separator;b\n"), None);
        assert_eq!(stated_separator("sep=;"), None);
    }

    #[test]
    fn numbers_tell_their_decimal_sign() {
        #[track_caller]
        fn check(texts: &str, expected: Option<Sign>) {
            for text in texts.split('|') {
                assert_eq!(sign(text), expected, "{text}");
            }
        }
        check(
            "1,5|-12,50 €|$ 0,125|1.234,5|1.234.567|2,7 mm|1,42 lb/ft2|0,5%|1234,567",
            Some(Sign::Comma),
        );
        check("1.5|0.125|1,234.5|1,234,567|$3.50|(4.25)|2.7mm|1234.567", Some(Sign::Point));
        check("1,234|12.345|100,000 ft", Some(Sign::Unclear));
        check("7|PLY-18|1,2,3|3.5.2027|2,3 and 4 holes|1,|.5|1,23,4.5|v1.2|", None);
    }

    #[test]
    fn decimal_sign_is_what_the_numbers_say() {
        #[track_caller]
        fn check(separator: u8, texts: &str, has_comma: bool, said: Option<&str>) {
            let mut decimals = Decimals::default();
            for (row, text) in (2..).zip(texts.split('|')) {
                decimals.look(row, text);
            }
            let (found, text) = decimals.verdict(separator);
            assert_eq!((found, text.as_deref()), (has_comma, said));
        }
        check(b';', "7|1,234|1,5", true, None);
        check(b'\t', "7|1,234|1,5", true, None);
        check(b';', "7|1,234|1.5", false, None);
        check(b';', "7|8", false, None);
        check(
            b';',
            "1,5|2|2.5",
            false,
            Some(
                "`1,5` on row 2 has a decimal comma, `2.5` on row 4 a decimal point; the file is read with a point",
            ),
        );
        check(
            b';',
            "7|1,234",
            true,
            Some(
                "no number tells the decimal sign, and `1,234` on row 3 can be read both ways; the file is read with \
                 a comma",
            ),
        );
        check(
            b'\t',
            "1,234",
            false,
            Some(
                "no number tells the decimal sign, and `1,234` on row 2 can be read both ways; the file is read with \
                 a point",
            ),
        );
    }
}
