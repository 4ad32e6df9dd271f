//! Random formulas over numbers, lengths and conditions, for the library's evaluation against the reference's own.

use cutbill::formula::{self, Expression};
use cutbill::quantity::{Dimension, Length, Measure, Ratio};
use proptest::prelude::*;

use super::compare::ratio;
use super::number::{decimal, decimal_text, fraction, whole};
use super::reference::{FOOT, INCH};
use super::term::{Function, Kind, Operator, Term, Value, binary, call, name};

const DEPTH: u32 = 3;
/// What the names are: a number, a length in inches over ten, a truth.
const SHARE: (i64, i64) = (-7, 3);
const LENGTH: i64 = 1265;

/// Returns formulas of every kind.
pub(crate) fn any() -> impl Strategy<Value = Term> {
    prop_oneof![numbers(DEPTH), lengths(DEPTH), conditions(DEPTH)]
}

/// Returns what the library makes of a formula's text, in the reference's terms.
pub(crate) fn by_library(term: &Term) -> Result<Value, String> {
    let text = format!("= {term}");
    let expression = Expression::parse(&text, None).map_err(|fault| fault.fault)?;
    let value = expression.evaluate(&|name| match name {
        "share" => {
            let share = Ratio::new(i128::from(SHARE.0), i128::from(SHARE.1)).unwrap();
            Some(formula::Value::Measure(Measure::number(share)))
        }
        "length" => {
            let length = Length::from_inches(LENGTH, 10).unwrap();
            Some(formula::Value::Measure(Measure::length(length)))
        }
        "solar" => Some(formula::Value::Truth(true)),
        _ => None,
    });
    match value.map_err(|fault| fault.fault)? {
        formula::Value::Truth(truth) => Ok(Value::Truth(truth)),
        formula::Value::Measure(measure) => {
            let kind = match measure.dimension {
                Dimension::NUMBER => Kind::Number,
                Dimension::LENGTH => Kind::Length,
                other => return Err(format!("a {other}")),
            };
            Ok(Value::Measure(ratio(&measure.value), kind))
        }
    }
}

/// Returns what the reference makes of a formula.
pub(crate) fn by_reference(term: &Term) -> Value {
    term.evaluate(&|name| match name {
        "share" => Value::Measure(fraction(SHARE.0, SHARE.1), Kind::Number),
        "length" => Value::Measure(fraction(LENGTH * INCH, 10), Kind::Length),
        _ => Value::Truth(true),
    })
}

fn a_number() -> impl Strategy<Value = Term> {
    (1..10_000_i64, 0..4_u32).prop_map(|(digits, places)| {
        let value = decimal(digits, places);
        Term::Literal(decimal_text(&value), Value::Measure(value, Kind::Number))
    })
}

fn a_length() -> impl Strategy<Value = Term> {
    (1..3000_i64, 0..3_u32, 0..3_usize).prop_map(|(digits, places, unit)| {
        let (unit, factor) = [("in", INCH), ("ft", FOOT), ("mm", 1_000_000)][unit];
        let value = decimal(digits, places);
        let text = format!("{} {unit}", decimal_text(&value));
        Term::Literal(text, Value::Measure(value * whole(factor), Kind::Length))
    })
}

fn numbers(depth: u32) -> BoxedStrategy<Term> {
    let leaf = prop_oneof![3 => a_number(), 1 => Just(name("share"))];
    if depth == 0 {
        return leaf.boxed();
    }
    let inner = move || numbers(depth - 1);
    prop_oneof![
        leaf,
        joined(inner(), inner(), &[Operator::Sum, Operator::Difference, Operator::Product]),
        joined(inner(), a_number().boxed(), &[Operator::Quotient]),
        joined(lengths(depth - 1), a_length().boxed(), &[Operator::Quotient]),
        inner().prop_map(|term| call(Function::RoundUp, vec![term])),
        chosen(depth, inner),
        extreme(inner),
    ]
    .boxed()
}

fn lengths(depth: u32) -> BoxedStrategy<Term> {
    let leaf = prop_oneof![3 => a_length(), 1 => Just(name("length"))];
    if depth == 0 {
        return leaf.boxed();
    }
    let inner = move || lengths(depth - 1);
    prop_oneof![
        leaf,
        joined(inner(), inner(), &[Operator::Sum, Operator::Difference]),
        joined(inner(), numbers(depth - 1), &[Operator::Product]),
        joined(numbers(depth - 1), inner(), &[Operator::Product]),
        joined(inner(), a_number().boxed(), &[Operator::Quotient]),
        (inner(), a_length()).prop_map(|(term, step)| call(Function::Ceiling, vec![term, step])),
        chosen(depth, inner),
        extreme(inner),
    ]
    .boxed()
}

fn conditions(depth: u32) -> BoxedStrategy<Term> {
    let orders = [Operator::Less, Operator::AtMost, Operator::Equal, Operator::Unequal];
    let below = depth.saturating_sub(1);
    let compared = prop_oneof![
        joined(numbers(below), numbers(below), &orders),
        joined(lengths(below), lengths(below), &orders),
    ];
    if depth == 0 {
        return prop_oneof![compared, Just(name("solar"))].boxed();
    }
    let inner = || conditions(depth - 1);
    prop_oneof![
        compared,
        joined(inner(), inner(), &[Operator::And, Operator::Or]),
        inner().prop_map(|term| Term::Not(Box::new(term))),
    ]
    .boxed()
}

fn joined(
    left: BoxedStrategy<Term>,
    right: BoxedStrategy<Term>,
    operators: &[Operator],
) -> BoxedStrategy<Term> {
    let operators = operators.to_vec();
    (left, right, prop::sample::select(operators))
        .prop_map(|(left, right, operator)| binary(operator, left, right))
        .boxed()
}

fn chosen(depth: u32, inner: impl Fn() -> BoxedStrategy<Term>) -> BoxedStrategy<Term> {
    (conditions(depth - 1), inner(), inner())
        .prop_map(|(condition, yes, no)| call(Function::If, vec![condition, yes, no]))
        .boxed()
}

fn extreme(inner: impl Fn() -> BoxedStrategy<Term>) -> BoxedStrategy<Term> {
    let terms = prop::collection::vec(inner(), 1..4);
    (terms, proptest::bool::ANY)
        .prop_map(|(terms, is_most)| {
            call(if is_most { Function::Max } else { Function::Min }, terms)
        })
        .boxed()
}
