use crate::quantity::text;
use crate::quantity::text::{DecimalSign, Fault, Thousands};
use crate::quantity::unit::UnitFactor;
use crate::quantity::{Ratio, unit};

/// A word of a formula and where it stands.
#[derive(Clone, Debug)]
pub(super) struct Lexeme {
    pub(super) token: Token,
    pub(super) start: usize,
    pub(super) end: usize,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Token {
    /// A number without its unit; `is_whole` for plain digits, which may be half of a mixed fraction.
    Number {
        value: Ratio,
        is_whole: bool,
    },
    /// The unit after a number or a closing parenthesis.
    Unit {
        unit: UnitFactor,
        mark: Mark,
    },
    /// A value or a function, in lower case.
    Name(String),
    Operator(Operator),
    Percent,
    Open,
    Close,
    Semicolon,
    End,
}

/// How a unit is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Mark {
    Word,
    Foot,
    Inch,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Operator {
    Add,
    Subtract,
    Multiply,
    Divide,
    Power,
    Equal,
    Unequal,
    Less,
    LessOrEqual,
    Greater,
    GreaterOrEqual,
    And,
    Or,
    Not,
}

/// Splits a formula into words; the last one is always the end.
pub(super) fn lex(text: &str, start: usize, sign: DecimalSign) -> Result<Vec<Lexeme>, Fault> {
    let lexemes = Vec::with_capacity(text.len().min(90) / 3 + 2);
    let mut lexer = Lexer { text, at: start, sign, lexemes };
    while lexer.skip_spaces() {
        lexer.next()?;
    }
    lexer.push(Token::End, lexer.text.len());
    Ok(lexer.lexemes)
}

struct Lexer<'a> {
    text: &'a str,
    at: usize,
    sign: DecimalSign,
    lexemes: Vec<Lexeme>,
}

impl Lexer<'_> {
    /// Passes over spaces and tells whether anything follows.
    fn skip_spaces(&mut self) -> bool {
        while let Some(c) = self.text[self.at..].chars().next() {
            if text::plain(c) != ' ' {
                return true;
            }
            self.at += c.len_utf8();
        }
        false
    }

    fn push(&mut self, token: Token, end: usize) {
        self.lexemes.push(Lexeme { token, start: self.at, end });
        self.at = end;
    }

    fn next(&mut self) -> Result<(), Fault> {
        let rest = &self.text[self.at..];
        let c = rest.chars().next().map_or(' ', text::plain);
        if c.is_alphabetic() || c == '_' || c == '\u{b5}' {
            return self.word();
        }
        if self.number()? {
            return Ok(());
        }
        if matches!(c, '\'' | '"') && self.takes_unit() {
            return self.mark(c);
        }
        let (token, width) = match c {
            '+' => (Token::Operator(Operator::Add), 1),
            '-' => {
                (Token::Operator(Operator::Subtract), rest.chars().next().map_or(1, char::len_utf8))
            }
            '*' => (Token::Operator(Operator::Multiply), 1),
            '/' => {
                (Token::Operator(Operator::Divide), rest.chars().next().map_or(1, char::len_utf8))
            }
            '^' => (Token::Operator(Operator::Power), 1),
            '%' => (Token::Percent, 1),
            '(' => (Token::Open, 1),
            ')' => (Token::Close, 1),
            ';' => (Token::Semicolon, 1),
            '=' if rest.starts_with("==") => {
                return Err(self.unexpected("==", "equality is a single `=`"));
            }
            '=' => (Token::Operator(Operator::Equal), 1),
            '<' if rest.starts_with("<>") => (Token::Operator(Operator::Unequal), 2),
            '<' if rest.starts_with("<=") => (Token::Operator(Operator::LessOrEqual), 2),
            '<' => (Token::Operator(Operator::Less), 1),
            '>' if rest.starts_with(">=") => (Token::Operator(Operator::GreaterOrEqual), 2),
            '>' => (Token::Operator(Operator::Greater), 1),
            _ => return Err(self.stranger(rest)),
        };
        self.push(token, self.at + width);
        Ok(())
    }

    fn unexpected(&self, what: &str, hint: &str) -> Fault {
        Fault::new(self.at, format!("`{what}` is not expected here")).with_hint(hint)
    }

    /// Tells whether digits stand on both sides of the sign that the rest begins with.
    fn parts_digits(&self, rest: &str) -> bool {
        let is_digit = |letter: char| letter.is_ascii_digit();
        self.text[..self.at].ends_with(is_digit) && rest[1..].starts_with(is_digit)
    }

    /// The fault of a character that no formula holds, or not here.
    fn stranger(&self, rest: &str) -> Fault {
        let c = rest.chars().next().unwrap_or(' ');
        match text::plain(c) {
            // `1,5` may be meant for a number, `MAX(1,5)` for two.
            ',' if self.parts_digits(rest) => {
                self.unexpected(",", "decimals have a point, and arguments are parted by `;`")
            }
            ',' => self.unexpected(",", "arguments are parted by `;`"),
            '.' => self.unexpected(".", "the decimal sign is `,` in this file"),
            '&' => self.unexpected("&", "conditions are joined by AND"),
            '|' => self.unexpected("|", "conditions are joined by OR"),
            '!' if rest.starts_with("!=") => self.unexpected("!=", "inequality is `<>`"),
            '!' => self.unexpected("!", "a condition is reversed by NOT"),
            '\'' | '"' => {
                self.unexpected(&c.to_string(), "a mark of feet or inches follows a number")
            }
            '[' | ']' | '{' | '}' => self.unexpected(&c.to_string(), "only `(` and `)` group"),
            _ => Fault::new(self.at, format!("`{c}` is not expected here")),
        }
    }

    /// Whether what was read last can be followed by a unit.
    fn takes_unit(&self) -> bool {
        matches!(
            self.lexemes.last().map(|lexeme| &lexeme.token),
            Some(Token::Number { .. } | Token::Close)
        )
    }

    fn number(&mut self) -> Result<bool, Fault> {
        let start = self.at;
        let number = text::decimal(self.text, start, self.sign, Thousands::Refused)?;
        let end = number.as_ref().map_or(start, |number| number.end);
        let sign = self.text[end..].chars().next();
        let fraction = sign.and_then(text::fraction_sign);
        let token = match (number, fraction) {
            (None, None) => return Ok(false),
            (Some(number), None) => {
                Token::Number { value: number.value, is_whole: number.is_whole }
            }
            (number, Some((numerator, denominator))) => {
                if number.as_ref().is_some_and(|number| !number.is_whole) {
                    return Err(Fault::new(end, "only a whole number is followed by a fraction"));
                }
                let fraction = Ratio::new(numerator, denominator).unwrap_or_default();
                let whole = number.map(|number| number.value).unwrap_or_default();
                Token::Number { value: whole + fraction, is_whole: false }
            }
        };
        let width = fraction.and(sign).map_or(0, char::len_utf8);
        self.push(token, end + width);
        Ok(true)
    }

    fn mark(&mut self, c: char) -> Result<(), Fault> {
        let is_doubled = self.text[self.at..].starts_with("''");
        let (name, mark) =
            if c == '"' || is_doubled { ("in", Mark::Inch) } else { ("ft", Mark::Foot) };
        let unit = unit::find(name).ok_or_else(|| text::unit_unknown(self.at, name))?;
        let width = if is_doubled {
            2
        } else {
            self.text[self.at..].chars().next().map_or(1, char::len_utf8)
        };
        self.push(Token::Unit { unit, mark }, self.at + width);
        Ok(())
    }

    fn word(&mut self) -> Result<(), Fault> {
        let end = self.word_end(self.at);
        let name = &self.text[self.at..end];
        let lower = name.to_lowercase();
        let operator = match lower.as_str() {
            "and" => Some(Operator::And),
            "or" => Some(Operator::Or),
            "not" => Some(Operator::Not),
            _ => None,
        };
        if let Some(operator) = operator {
            self.push(Token::Operator(operator), end);
            return Ok(());
        }
        if self.takes_unit() {
            return self.unit(end);
        }
        self.push(Token::Name(lower), end);
        Ok(())
    }

    fn word_end(&self, start: usize) -> usize {
        let is_inside = |c: char| {
            c.is_alphanumeric() || matches!(c, '_' | '.' | '\u{b5}' | '\u{b2}' | '\u{b3}')
        };
        let rest = &self.text[start..];
        start + rest.find(|c| !is_inside(c)).unwrap_or(rest.len())
    }

    /// Reads a unit whose first word ends at `end`; two words (`sq ft`) and `/` without spaces belong to it.
    fn unit(&mut self, end: usize) -> Result<(), Fault> {
        let start = self.at;
        let mut known = unit::find(&self.text[start..end]).map(|unit| (unit, end));
        let rest = &self.text[end..];
        let spaces = rest.len() - rest.trim_start().len();
        if spaces > 0 {
            let second_end = self.word_end(end + spaces);
            if second_end > end + spaces
                && let Some(unit) = unit::find(&self.text[start..second_end])
            {
                known = Some((unit, second_end));
            }
        }
        let Some((mut unit, mut end)) = known else {
            let name = &self.text[start..end];
            let fault = text::unit_unknown(start, name);
            return Err(match fault.hint {
                Some(_) => fault,
                None => fault.with_hint(format!("to multiply, write `* {name}`")),
            });
        };
        while self.text[end..].starts_with('/') {
            let longer = self.word_end(end + 1);
            if longer == end + 1 {
                break;
            }
            let Some(compound) = unit::find(&self.text[start..longer]) else { break };
            (unit, end) = (compound, longer);
        }
        if self.text[end..].starts_with('^') {
            return Err(Fault::new(end, "a power after a unit can be read in two ways").with_hint(
                format!(
                    "write `{name}2` for the unit, or `(..)^2` for the value",
                    name = &self.text[start..end]
                ),
            ));
        }
        self.push(Token::Unit { unit, mark: Mark::Word }, end);
        Ok(())
    }
}
