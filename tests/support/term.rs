//! Formulas of the reference: a tree that is written as text for the book and evaluated here by the definitions.
//!
//! Base units: nanometer, minute, pound, cubic nanometer for gallons.

use std::fmt;

use num_traits::{Signed, Zero};

use super::number::{Number, whole};

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    Number,
    Length,
    Area,
    Volume,
    Weight,
    Time,
}

#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Value {
    Measure(Number, Kind),
    Truth(bool),
}

impl Value {
    pub(crate) fn of(&self, kind: Kind) -> Number {
        match self {
            Value::Measure(value, own) if *own == kind => value.clone(),
            other => panic!("{other:?} is no {kind:?}"),
        }
    }

    pub(crate) fn truth(&self) -> bool {
        match self {
            Value::Truth(truth) => *truth,
            Value::Measure(..) => panic!("{self:?} is no truth"),
        }
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Operator {
    Or,
    And,
    Less,
    AtMost,
    Equal,
    Unequal,
    Sum,
    Difference,
    Product,
    Quotient,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Function {
    RoundUp,
    Ceiling,
    Min,
    Max,
    If,
}

#[derive(Clone, Debug)]
pub(crate) enum Term {
    /// A number or measure with the text that says it; a mixed fraction only stands as a whole cell.
    Literal(String, Value),
    Name(String),
    Not(Box<Term>),
    Binary(Operator, Box<Term>, Box<Term>),
    Call(Function, Vec<Term>),
}

pub(crate) fn name(text: &str) -> Term {
    Term::Name(text.to_owned())
}

pub(crate) fn binary(operator: Operator, left: Term, right: Term) -> Term {
    Term::Binary(operator, Box::new(left), Box::new(right))
}

pub(crate) fn call(function: Function, arguments: Vec<Term>) -> Term {
    Term::Call(function, arguments)
}

pub(crate) fn count(value: i64) -> Term {
    Term::Literal(value.to_string(), Value::Measure(whole(value), Kind::Number))
}

impl Term {
    pub(crate) fn evaluate(&self, look_up: &dyn Fn(&str) -> Value) -> Value {
        match self {
            Term::Literal(_, value) => value.clone(),
            Term::Name(name) => look_up(name),
            Term::Not(inner) => Value::Truth(!inner.evaluate(look_up).truth()),
            Term::Binary(operator, left, right) => {
                combine(*operator, &left.evaluate(look_up), &right.evaluate(look_up))
            }
            Term::Call(function, arguments) => apply(*function, arguments, look_up),
        }
    }

    fn strength(&self) -> u8 {
        match self {
            Term::Binary(Operator::Or, ..) => 1,
            Term::Binary(Operator::And, ..) => 2,
            Term::Not(_) => 3,
            Term::Binary(
                Operator::Less | Operator::AtMost | Operator::Equal | Operator::Unequal,
                ..,
            ) => 4,
            Term::Binary(Operator::Sum | Operator::Difference, ..) => 5,
            Term::Binary(Operator::Product | Operator::Quotient, ..) => 6,
            Term::Literal(..) | Term::Name(_) | Term::Call(..) => 7,
        }
    }
}

fn combine(operator: Operator, left: &Value, right: &Value) -> Value {
    if let (Value::Truth(left), Value::Truth(right)) = (left, right) {
        return Value::Truth(match operator {
            Operator::And => *left && *right,
            Operator::Or => *left || *right,
            other => panic!("{other:?} of truths"),
        });
    }
    let (Value::Measure(a, kind_a), Value::Measure(b, kind_b)) = (left, right) else {
        panic!("{operator:?} of {left:?} and {right:?}");
    };
    match operator {
        Operator::Product => Value::Measure(a * b, product(*kind_a, *kind_b)),
        Operator::Quotient => {
            assert!(!b.is_zero(), "division by zero");
            Value::Measure(a / b, quotient(*kind_a, *kind_b))
        }
        _ => {
            assert_eq!(kind_a, kind_b, "{operator:?} of unlike values");
            match operator {
                Operator::Sum => Value::Measure(a + b, *kind_a),
                Operator::Difference => Value::Measure(a - b, *kind_a),
                Operator::Less => Value::Truth(a < b),
                Operator::AtMost => Value::Truth(a <= b),
                Operator::Equal => Value::Truth(a == b),
                Operator::Unequal => Value::Truth(a != b),
                other => panic!("{other:?} of measures"),
            }
        }
    }
}

fn product(a: Kind, b: Kind) -> Kind {
    match (a, b) {
        (Kind::Number, other) | (other, Kind::Number) => other,
        (Kind::Length, Kind::Length) => Kind::Area,
        other => panic!("product of {other:?}"),
    }
}

fn quotient(a: Kind, b: Kind) -> Kind {
    match (a, b) {
        (other, Kind::Number) => other,
        (Kind::Area, Kind::Length) => Kind::Length,
        (a, b) if a == b => Kind::Number,
        other => panic!("quotient of {other:?}"),
    }
}

fn apply(function: Function, arguments: &[Term], look_up: &dyn Fn(&str) -> Value) -> Value {
    let value = |index: usize| match arguments[index].evaluate(look_up) {
        Value::Measure(value, kind) => (value, kind),
        Value::Truth(_) => panic!("a truth in {function:?}"),
    };
    match function {
        Function::If if arguments[0].evaluate(look_up).truth() => arguments[1].evaluate(look_up),
        Function::If => arguments[2].evaluate(look_up),
        Function::RoundUp => {
            let (number, kind) = value(0);
            assert_eq!(kind, Kind::Number, "ROUNDUP of a measure");
            // Away from zero.
            Value::Measure(if number.is_negative() { number.floor() } else { number.ceil() }, kind)
        }
        Function::Ceiling => {
            let ((number, kind), (step, step_kind)) = (value(0), value(1));
            assert_eq!(kind, step_kind, "CEILING of unlike values");
            Value::Measure((number / &step).ceil() * step, kind)
        }
        Function::Min | Function::Max => {
            let (mut best, kind) = value(0);
            for index in 1..arguments.len() {
                let (other, other_kind) = value(index);
                assert_eq!(kind, other_kind, "{function:?} of unlike values");
                if (other < best) == (function == Function::Min) {
                    best = other;
                }
            }
            Value::Measure(best, kind)
        }
    }
}

impl fmt::Display for Term {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let inner = |f: &mut fmt::Formatter<'_>, term: &Term, least: u8| {
            if term.strength() < least { write!(f, "({term})") } else { write!(f, "{term}") }
        };
        match self {
            Term::Literal(text, _) => f.write_str(text),
            Term::Name(name) => f.write_str(name),
            Term::Not(term) => {
                f.write_str("NOT ")?;
                inner(f, term, 7)
            }
            Term::Binary(operator, left, right) => {
                // Operators of one rank group from the left; comparisons are not chained.
                let rank = self.strength();
                inner(f, left, if rank == 4 { 5 } else { rank })?;
                f.write_str(match operator {
                    Operator::Or => " OR ",
                    Operator::And => " AND ",
                    Operator::Less => " < ",
                    Operator::AtMost => " <= ",
                    Operator::Equal => " = ",
                    Operator::Unequal => " <> ",
                    Operator::Sum => " + ",
                    Operator::Difference => " - ",
                    Operator::Product => " * ",
                    Operator::Quotient => " / ",
                })?;
                inner(f, right, rank + 1)
            }
            Term::Call(function, arguments) => {
                f.write_str(match function {
                    Function::RoundUp => "ROUNDUP(",
                    Function::Ceiling => "CEILING(",
                    Function::Min => "MIN(",
                    Function::Max => "MAX(",
                    Function::If => "IF(",
                })?;
                for (index, argument) in arguments.iter().enumerate() {
                    if index > 0 {
                        f.write_str("; ")?;
                    }
                    write!(f, "{argument}")?;
                }
                f.write_str(")")
            }
        }
    }
}
