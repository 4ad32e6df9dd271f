//! Makes up the formulas of a plant: counts, lengths above zero, conditions.

use super::generate::Maker;
use super::number::{Number, decimal, decimal_text, fraction, whole};
use super::reference::INCH;
use super::term::{Function, Kind, Operator, Term, Value, binary, call, count, name};

/// What the lines of a parent may name beside length, width, height and spacing.
#[derive(Clone, Copy, Default)]
pub(crate) struct Sight {
    pub has_windows: bool,
    pub has_cutout: bool,
    pub has_openings: bool,
}

impl Maker {
    /// Writes a length of so many 64ths of an inch as a whole cell, in one of the ways people do.
    pub(crate) fn length(&mut self, sixty_fourths: i64) -> Term {
        let value = fraction(sixty_fourths * INCH, 64);
        let millimeters = decimal_text(&(&value / whole(1_000_000)));
        let (inches, part) = (sixty_fourths / 64, sixty_fourths % 64);
        let mixed = |inches: i64| match part {
            0 => inches.to_string(),
            _ => {
                let shared = 1 << part.trailing_zeros();
                let part = format!("{}/{}", part / shared, 64 / shared);
                if inches == 0 { part } else { format!("{inches}-{part}") }
            }
        };
        let text = match self.random.below(6) {
            0 if self.is_metric => millimeters,
            0 => mixed(inches),
            1 => format!("{millimeters} mm"),
            2 => format!("{} in", mixed(inches)),
            3 => format!("{}\"", decimal_text(&(&value / whole(INCH)))),
            4 if inches >= 12 => format!("{}' {}\"", inches / 12, mixed(inches % 12)),
            _ => format!("{} in", decimal_text(&(&value / whole(INCH)))),
        };
        Term::Literal(text, Value::Measure(value, Kind::Length))
    }

    /// Writes a length of so many whole inches, so that it may stand inside a formula.
    pub(crate) fn plain_length(&mut self, inches: i64) -> Term {
        let value = whole(inches * INCH);
        let text = match self.random.below(3) {
            0 if inches % 12 == 0 => format!("{} ft", inches / 12),
            1 => format!("{} mm", decimal_text(&(&value / whole(1_000_000)))),
            _ => format!("{inches} in"),
        };
        Term::Literal(text, Value::Measure(value, Kind::Length))
    }

    /// Returns a count of one to some `most`.
    pub(crate) fn quantity(&mut self, sight: Sight, most: i64) -> Term {
        let constant = count(self.random.range(1, most));
        match self.random.below(8) {
            0 if sight.has_windows => binary(Operator::Product, name("windows"), count(2)),
            1 => {
                let condition = self.some_condition(sight);
                call(Function::If, vec![condition, constant, count(1)])
            }
            2 => call(Function::Max, vec![constant, count(2)]),
            6 => call(Function::Min, vec![name("bays"), constant]),
            3 => call(Function::Min, vec![studs(), count(most)]),
            5 if sight.has_cutout => {
                let share = binary(Operator::Quotient, name("cutout"), area(20, 1));
                call(Function::Min, vec![call(Function::RoundUp, vec![share]), count(most)])
            }
            4 if sight.has_openings => {
                let share = binary(Operator::Quotient, name("openings"), area(4, 144));
                call(Function::Min, vec![call(Function::RoundUp, vec![share]), count(most)])
            }
            _ => constant,
        }
    }

    /// Returns a length above zero and at most so many inches.
    pub(crate) fn length_term(&mut self, sight: Sight, most: i64) -> Term {
        if self.random.chance(50) {
            let size = self.random.range(most / 4 * 64, most * 64);
            return self.length(size);
        }
        self.formula_length(sight, most)
    }

    pub(crate) fn formula_length(&mut self, sight: Sight, most: i64) -> Term {
        let side = name(self.random.pick::<&str>(&["length", "width", "height"]));
        let least = self.plain_length(6);
        let limit = self.plain_length(most);
        let inner = match self.random.below(6) {
            0 => side,
            1 => {
                let gap = self.random.range(1, 20);
                let gap = self.plain_length(gap);
                binary(Operator::Difference, side, gap)
            }
            2 => binary(Operator::Quotient, side, count(self.random.range(2, 7))),
            3 => {
                let condition = self.some_condition(sight);
                call(Function::If, vec![condition, side, name("spacing")])
            }
            4 => {
                let third = binary(Operator::Quotient, side, count(3));
                let step = self.plain_length(4);
                call(Function::Ceiling, vec![third, step])
            }
            _ => {
                let twice = binary(Operator::Product, count(2), name("spacing"));
                let thickness = Term::Literal(
                    "1.5 in".to_owned(),
                    Value::Measure(whole(INCH) * fraction(3, 2), Kind::Length),
                );
                binary(Operator::Difference, twice, thickness)
            }
        };
        call(Function::Max, vec![least, call(Function::Min, vec![inner, limit])])
    }

    pub(crate) fn condition(&mut self, sight: Sight) -> Option<Term> {
        self.random.chance(20).then(|| self.some_condition(sight))
    }

    pub(crate) fn some_condition(&mut self, sight: Sight) -> Term {
        match self.random.below(7) {
            0 => name("solar"),
            1 => Term::Not(Box::new(name("winter"))),
            2 => {
                let either = binary(Operator::Or, name("solar"), name("gas"));
                binary(Operator::And, either, Term::Not(Box::new(name("bunk"))))
            }
            3 if sight.has_windows => binary(Operator::Less, count(1), name("windows")),
            4 => {
                let limit = self.plain_length(16);
                binary(Operator::AtMost, name("spacing"), limit)
            }
            5 => {
                let limit = self.plain_length(144);
                let is_long = binary(Operator::Less, limit, name("length"));
                binary(Operator::Or, is_long, name("electric"))
            }
            _ => {
                let other = self.plain_length(12);
                let operator = *self.random.pick(&[Operator::Equal, Operator::Unequal]);
                binary(operator, name("spacing"), other)
            }
        }
    }
}

/// ROUNDUP(length / spacing) + 1
pub(crate) fn studs() -> Term {
    let gaps = binary(Operator::Quotient, name("length"), name("spacing"));
    binary(Operator::Sum, call(Function::RoundUp, vec![gaps]), count(1))
}

/// So many square inches or square feet, by how many square inches one has.
pub(crate) fn area(value: i64, square_inches: i64) -> Term {
    let unit = if square_inches == 144 { "ft2" } else { "in2" };
    measure(value, 0, unit, Kind::Area, whole(square_inches) * whole(INCH) * whole(INCH))
}

pub(crate) fn measure(digits: i64, places: u32, unit: &str, kind: Kind, factor: Number) -> Term {
    let value = decimal(digits, places);
    let text = format!("{} {unit}", decimal_text(&value));
    Term::Literal(text, Value::Measure(value * factor, kind))
}

pub(crate) fn number(digits: i64, places: u32) -> Term {
    let value = decimal(digits, places);
    Term::Literal(decimal_text(&value), Value::Measure(value, Kind::Number))
}

pub(crate) fn cube(length: i64) -> Number {
    whole(length) * whole(length) * whole(length)
}
