use crate::diag::did_you_mean;
use crate::quantity::text::{DecimalSign, Fault};
use crate::quantity::unit::UnitFactor;
use crate::quantity::{Measure, Ratio, unit};

/// A number holds at most so many digits, which an `i128` always can.
const MOST_DIGITS: usize = 38;
const MOST_EXPONENT: u32 = 60;

/// Reads the text of a cell as a measure; a bare number takes the unit `bare` (no unit: a plain number).
///
/// # Errors
/// The first place that does not fit, and what was expected.
///
/// # Example
/// ```
/// use cutbill::quantity::text::{DecimalSign, measure};
/// let length = measure("28' 6-1/2\"", None, DecimalSign::Point)?;
/// assert_eq!(length, measure("342.5 in", None, DecimalSign::Point)?);
/// assert_eq!(measure("9.5 inn", None, DecimalSign::Point).unwrap_err().fault, "no unit named `inn`");
/// # Ok::<(), cutbill::quantity::text::Fault>(())
/// ```
pub fn measure(text: &str, bare: Option<&UnitFactor>, sign: DecimalSign) -> Result<Measure, Fault> {
    let with_bare_unit = |value: Ratio| match bare {
        Some(unit) => Measure { value: value * &unit.factor, dimension: unit.dimension },
        None => Measure::number(value),
    };
    if let Some(whole) = short_whole(text) {
        return Ok(with_bare_unit(whole));
    }
    let mut reader = Reader { text, at: 0, sign };
    let is_negative = reader.sign();
    let first = reader.amount()?;
    reader.skip_spaces();
    if reader.is_at_end() {
        return Ok(with_bare_unit(if is_negative { -first.value } else { first.value }));
    }
    let mut total = reader.part(first)?;
    while !reader.is_at_end() {
        if total.is_foot_mark
            && reader.peek() == Some('-')
            && reader.begins_number(reader.at + reader.width())
        {
            reader.at += reader.width();
        }
        reader.skip_spaces();
        let next = reader.amount()?;
        let part = reader.part_after(&total, next)?;
        total = add_part(total, part)?;
    }
    let value = if is_negative { -total.value } else { total.value };
    Ok(Measure { value, dimension: total.unit.dimension })
}

/// Reads a cell of nothing but a few digits, as most cells are.
fn short_whole(text: &str) -> Option<Ratio> {
    const MOST_DIGITS: usize = 18;
    let is_short = !text.is_empty() && text.len() <= MOST_DIGITS;
    if !is_short || !text.bytes().all(|byte| byte.is_ascii_digit()) {
        return None;
    }
    Some(Ratio::from(text.bytes().fold(0_i64, |value, byte| value * 10 + i64::from(byte - b'0'))))
}

/// Reads the text of a cell as a plain number: `1,250.5`, `-3`, `1/3`.
///
/// # Errors
/// The first place that does not fit.
pub fn number(text: &str, sign: DecimalSign) -> Result<Ratio, Fault> {
    let mut reader = Reader { text, at: 0, sign };
    let is_negative = reader.sign();
    let amount = reader.amount()?;
    reader.skip_spaces();
    if reader.is_at_end() {
        Ok(if is_negative { -amount.value } else { amount.value })
    } else {
        Err(reader.unexpected())
    }
}

/// A number with its unit, part of a measure such as `6 ft 2 in`.
#[derive(Clone, Debug)]
pub(crate) struct Part {
    /// The value in base units.
    pub(crate) value: Ratio,
    /// The unit the number stands in.
    pub(crate) unit: UnitFactor,
    /// Whether a smaller part may follow: only a whole number is parted further.
    pub(crate) is_whole: bool,
    /// Whether the unit is `'`.
    pub(crate) is_foot_mark: bool,
    /// Where the number begins.
    pub(crate) at: usize,
}

/// Returns the measure with a smaller part added: inches to feet, ounces to pounds, minutes to hours.
pub(crate) fn add_part(total: Part, part: Part) -> Result<Part, Fault> {
    if total.unit.dimension != part.unit.dimension || part.unit.factor >= total.unit.factor {
        return Err(Fault::new(part.at, "a second number needs a smaller unit of the same kind")
            .with_hint("write one number and one unit, or feet and inches: `28' 6\"`"));
    }
    if !total.is_whole {
        return Err(Fault::new(part.at, "only a whole number is followed by a smaller unit"));
    }
    if part.value >= total.unit.factor {
        return Err(Fault::new(part.at, "the smaller unit makes up a whole of the larger one")
            .with_hint("a part of a foot is below 12 in; is a space missing before a fraction?"));
    }
    Ok(Part { value: total.value + part.value, at: total.at, ..part })
}

/// A number read from a text.
#[derive(Clone, Debug)]
pub(crate) struct Amount {
    pub(crate) value: Ratio,
    /// Whether it was written as whole digits.
    pub(crate) is_whole: bool,
    pub(crate) start: usize,
    pub(crate) end: usize,
}

/// Returns the plain form of typographic spaces, hyphens, quotes, primes and slashes.
pub(crate) fn plain(c: char) -> char {
    match c {
        _ if c.is_whitespace() => ' ',
        '\u{2010}'..='\u{2013}' | '\u{2212}' => '-',
        '\u{2032}' | '\u{2018}' | '\u{2019}' => '\'',
        '\u{2033}' | '\u{201c}' | '\u{201d}' => '"',
        '\u{2044}' | '\u{2215}' => '/',
        _ => c,
    }
}

/// Reads digits with a decimal sign and an exponent at `start`; with `thousands`, separators between them as well.
///
/// Nothing if no number begins there.
pub(crate) fn decimal(
    text: &str,
    start: usize,
    sign: DecimalSign,
    thousands: Thousands,
) -> Result<Option<Amount>, Fault> {
    let (point, comma) = match sign {
        DecimalSign::Point => (b'.', b','),
        DecimalSign::Comma => (b',', b'.'),
    };
    let bytes = text.as_bytes();
    let digit_at =
        |at: usize| bytes.get(at).filter(|byte| byte.is_ascii_digit()).map(|byte| byte - b'0');
    let is_group =
        |at: usize| (at..at + 3).all(|at| digit_at(at).is_some()) && digit_at(at + 3).is_none();
    let begins = digit_at(start).is_some()
        || (bytes.get(start) == Some(&point) && digit_at(start + 1).is_some());
    if !begins {
        return Ok(None);
    }
    let (mut at, mut digits, mut count, mut places) = (start, 0_i128, 0_usize, 0_u32);
    let (mut is_whole, mut group_start, mut is_grouped) = (true, start, false);
    loop {
        let byte = bytes.get(at).copied().unwrap_or(0);
        if byte.is_ascii_digit() {
            count += 1;
            if count > MOST_DIGITS {
                return Err(Fault::new(
                    start,
                    format!("a number has at most {MOST_DIGITS} digits"),
                ));
            }
            digits = digits * 10 + i128::from(byte - b'0');
            places += u32::from(!is_whole);
            at += 1;
        } else if byte == point && is_whole {
            is_whole = false;
            at += 1;
        } else if byte == comma && thousands == Thousands::Allowed {
            if !is_whole || !is_group(at + 1) || at == group_start || at - group_start > 3 {
                return Err(not_thousands(at, char::from(comma), char::from(point)));
            }
            at += 1;
            (group_start, is_grouped) = (at, true);
        } else if let Some(width) = thin_space(text, at)
            && thousands == Thousands::Allowed
            && is_whole
            && is_group(at + width)
            && 0 < at - group_start
            && at - group_start <= 3
            && !text[at + width + 3..].starts_with(['/', '\u{2044}'])
        {
            at += width;
            (group_start, is_grouped) = (at, true);
        } else {
            break;
        }
    }
    let (exponent, end) = exponent(text, at)?;
    let mut value = Ratio::decimal(digits, places);
    if exponent != 0 {
        value = value * Ratio::ten_to(exponent);
    }
    Ok(Some(Amount { value, is_whole: is_whole && end == at && !is_grouped, start, end }))
}

/// Whether a number may part its thousands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Thousands {
    Allowed,
    Refused,
}

fn not_thousands(at: usize, comma: char, point: char) -> Fault {
    Fault::new(at, format!("`{comma}` parts thousands here, and no three digits follow"))
        .with_hint(format!("the decimal sign is `{point}`"))
}

/// The width of a space that may part thousands.
fn thin_space(text: &str, at: usize) -> Option<usize> {
    let c = text.get(at..)?.chars().next()?;
    matches!(c, '\u{a0}' | '\u{2009}' | '\u{202f}').then(|| c.len_utf8())
}

/// The exponent of `1.5e-3`, if digits follow the letter, and where it ends.
fn exponent(text: &str, at: usize) -> Result<(i32, usize), Fault> {
    let Some(rest) = text[at..].strip_prefix(['e', 'E']) else { return Ok((0, at)) };
    let unsigned = rest.strip_prefix(['+', '-']).unwrap_or(rest);
    let digits = unsigned.len() - unsigned.trim_start_matches(|c: char| c.is_ascii_digit()).len();
    if digits == 0 {
        return Ok((0, at));
    }
    let end = at + 1 + (rest.len() - unsigned.len()) + digits;
    let size = unsigned[..digits].parse::<u32>().ok().filter(|size| *size <= MOST_EXPONENT);
    let Some(size) = size.and_then(|size| i32::try_from(size).ok()) else {
        return Err(Fault::new(at, format!("an exponent is at most {MOST_EXPONENT}")));
    };
    Ok((if rest.starts_with('-') { -size } else { size }, end))
}

/// The value of a fraction that is one character, as numerator and denominator.
pub(crate) fn fraction_sign(c: char) -> Option<(i128, i128)> {
    Some(match c {
        '\u{bc}' => (1, 4),
        '\u{bd}' => (1, 2),
        '\u{be}' => (3, 4),
        '\u{2150}' => (1, 7),
        '\u{2151}' => (1, 9),
        '\u{2152}' => (1, 10),
        '\u{2153}' => (1, 3),
        '\u{2154}' => (2, 3),
        '\u{2155}' => (1, 5),
        '\u{2156}' => (2, 5),
        '\u{2157}' => (3, 5),
        '\u{2158}' => (4, 5),
        '\u{2159}' => (1, 6),
        '\u{215a}' => (5, 6),
        '\u{215b}' => (1, 8),
        '\u{215c}' => (3, 8),
        '\u{215d}' => (5, 8),
        '\u{215e}' => (7, 8),
        _ => return None,
    })
}

struct Reader<'a> {
    text: &'a str,
    at: usize,
    sign: DecimalSign,
}

impl Reader<'_> {
    fn peek(&self) -> Option<char> {
        self.peek_at(self.at)
    }

    fn peek_at(&self, at: usize) -> Option<char> {
        self.text[at..].chars().next().map(plain)
    }

    /// The width of the next character in bytes.
    fn width(&self) -> usize {
        self.text[self.at..].chars().next().map_or(0, char::len_utf8)
    }

    fn is_at_end(&self) -> bool {
        self.text[self.at..].chars().all(|c| plain(c) == ' ')
    }

    fn skip_spaces(&mut self) {
        while self.peek() == Some(' ') {
            self.at += self.width();
        }
    }

    fn begins_number(&self, at: usize) -> bool {
        match self.peek_at(at) {
            Some('.') => self.sign == DecimalSign::Point,
            Some(c) => c.is_ascii_digit() || fraction_sign(c).is_some(),
            None => false,
        }
    }

    fn unexpected(&self) -> Fault {
        match self.text[self.at..].chars().next() {
            Some(c) => Fault::new(self.at, format!("`{c}` is not expected here")),
            None => Fault::new(self.at, "a number is missing"),
        }
    }

    /// Passes over a leading sign and tells whether it is a minus.
    fn sign(&mut self) -> bool {
        self.skip_spaces();
        let sign = self.peek().filter(|c| matches!(c, '+' | '-'));
        if sign.is_some() {
            self.at += self.width();
            self.skip_spaces();
        }
        sign == Some('-')
    }

    /// Reads `9`, `9.5`, `15/32`, `9 1/2`, `9-1/2`, `9½` and `½`.
    fn amount(&mut self) -> Result<Amount, Fault> {
        let start = self.at;
        let Some(mut amount) = decimal(self.text, start, self.sign, Thousands::Allowed)? else {
            let Some(fraction) = self.fraction_sign() else { return Err(self.unexpected()) };
            return Ok(Amount { value: fraction, is_whole: false, start, end: self.at });
        };
        self.at = amount.end;
        if let Some(denominator) = self.denominator()? {
            if !amount.is_whole {
                return Err(Fault::new(start, "a fraction is made of two whole numbers"));
            }
            let value = over(&amount.value, &denominator)?;
            return Ok(Amount { value, is_whole: false, start, end: self.at });
        }
        if let Some(fraction) = self.fraction_after_number()? {
            if !amount.is_whole {
                return Err(Fault::new(start, "only a whole number is followed by a fraction"));
            }
            amount =
                Amount { value: amount.value + fraction, is_whole: false, start, end: self.at };
        }
        Ok(amount)
    }

    fn fraction_sign(&mut self) -> Option<Ratio> {
        let c = self.text[self.at..].chars().next()?;
        let (numerator, denominator) = fraction_sign(c)?;
        self.at += c.len_utf8();
        Ratio::new(numerator, denominator)
    }

    /// Reads `/32`, if a slash and a digit follow at once.
    fn denominator(&mut self) -> Result<Option<Amount>, Fault> {
        if self.peek() != Some('/') {
            return Ok(None);
        }
        let start = self.at + self.width();
        if !self.peek_at(start).is_some_and(|c| c.is_ascii_digit()) {
            return Ok(None);
        }
        let amount = decimal(self.text, start, self.sign, Thousands::Refused)?;
        if let Some(amount) = &amount {
            self.at = amount.end;
        }
        Ok(amount)
    }

    /// Reads the fraction of a mixed number: ` 1/2`, `-1/2`, `½`, ` ½`.
    fn fraction_after_number(&mut self) -> Result<Option<Ratio>, Fault> {
        let before = self.at;
        if self.peek() == Some('-') {
            self.at += self.width();
        } else {
            self.skip_spaces();
        }
        if let Some(fraction) = self.fraction_sign() {
            return Ok(Some(fraction));
        }
        let start = self.at;
        if self.peek().is_some_and(|c| c.is_ascii_digit())
            && let Some(numerator) = decimal(self.text, start, self.sign, Thousands::Refused)?
        {
            self.at = numerator.end;
            if let Some(denominator) = self.denominator()? {
                let value = over(&numerator.value, &denominator)?;
                if !numerator.is_whole || value >= Ratio::ONE {
                    return Err(Fault::new(
                        start,
                        "the fraction after a whole number is below one",
                    ));
                }
                return Ok(Some(value));
            }
        }
        self.at = before;
        Ok(None)
    }

    /// Reads the unit after a number.
    fn part(&mut self, amount: Amount) -> Result<Part, Fault> {
        self.skip_spaces();
        let start = self.at;
        let end = self.unit_end()?;
        let name = &self.text[start..end];
        let unit = unit::find(name).ok_or_else(|| unit_unknown(start, name))?;
        let is_foot_mark = name.chars().map(plain).eq(['\'']);
        self.at = end;
        Ok(Part {
            value: amount.value * &unit.factor,
            unit,
            is_whole: amount.is_whole,
            is_foot_mark,
            at: amount.start,
        })
    }

    /// Reads the unit of a later part; after a foot mark, inches may go without.
    fn part_after(&mut self, total: &Part, amount: Amount) -> Result<Part, Fault> {
        self.skip_spaces();
        if !self.is_at_end() {
            return self.part(amount);
        }
        if !total.is_foot_mark {
            return Err(Fault::new(self.text.len(), "a unit is missing after the last number"));
        }
        let inch = unit::find("in").expect("the inch is in the table");
        Ok(Part {
            value: amount.value * &inch.factor,
            unit: inch,
            is_whole: amount.is_whole,
            is_foot_mark: false,
            at: amount.start,
        })
    }

    /// Finds where the unit that begins here ends: at the end, after a mark, or where a number begins after a space.
    fn unit_end(&self) -> Result<usize, Fault> {
        let rest = &self.text[self.at..];
        let first = rest.chars().next().map_or(' ', plain);
        if rest.starts_with("''") {
            return Ok(self.at + 2);
        }
        if matches!(first, '\'' | '"') {
            return Ok(self.at + self.width());
        }
        if !first.is_alphabetic() && !first.is_ascii_digit() {
            return Err(self.unexpected());
        }
        let mut last = ' ';
        for (offset, c) in rest.char_indices() {
            let at = self.at + offset;
            let c = plain(c);
            if (c == ' ' && self.number_follows(at) && !matches!(last, '/' | '*' | '\u{b7}'))
                || matches!(c, '-' | '(' | ')' | ';' | '+' | '=' | '<' | '>' | '%' | '"' | '\'')
            {
                return Ok(at);
            }
            if c != ' ' {
                last = c;
            }
        }
        Ok(self.text.trim_end().len())
    }

    fn number_follows(&self, at: usize) -> bool {
        let spaces = self.text[at..]
            .chars()
            .take_while(|c| plain(*c) == ' ')
            .map(char::len_utf8)
            .sum::<usize>();
        self.begins_number(at + spaces)
    }
}

fn over(numerator: &Ratio, denominator: &Amount) -> Result<Ratio, Fault> {
    if !denominator.is_whole {
        return Err(Fault::new(denominator.start, "a fraction is made of two whole numbers"));
    }
    numerator
        .checked_div(&denominator.value)
        .ok_or_else(|| Fault::new(denominator.start, "a fraction over zero has no value"))
}

/// Returns the fault of a unit that is not in the table.
pub(crate) fn unit_unknown(at: usize, name: &str) -> Fault {
    let fault = Fault::new(at, format!("no unit named `{name}`"));
    match name.to_lowercase().as_str() {
        "day" | "days" | "d" => fault.with_hint("a day has no fixed length; write hours"),
        "c" => fault.with_hint("write `C` for a hundred"),
        "t" => fault.with_hint("write `ton` for 2000 lb or `t` for 1000 kg"),
        _ => match unit::suggest(name) {
            Some(known) => fault.with_hint(did_you_mean(known)),
            None => fault,
        },
    }
}
