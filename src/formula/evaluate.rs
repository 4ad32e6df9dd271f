use std::cmp::Ordering;

use crate::formula::functions;
use crate::formula::lexer::Operator;
use crate::formula::parser::{Kind, Link, Node};
use crate::formula::{Fault, Value};
use crate::quantity::{Dimension, Measure, Ratio};

/// Numerator and denominator together take at most so many bits, which is some 600 digits.
const MOST_BITS: usize = 2048;
const MOST_EXPONENT: i128 = 1000;

/// What names mean.
pub(super) struct Scope<'a> {
    pub(super) names: &'a [String],
    pub(super) lookup: &'a dyn Fn(&str) -> Option<Value>,
}

impl Scope<'static> {
    pub(super) const EMPTY: Scope<'static> = Scope { names: &[], lookup: &|_| None };
}

/// Evaluates a node; what is not needed (a branch of IF, the rest of an AND that is false) is not looked at.
pub(super) fn evaluate(node: &Node, scope: &Scope) -> Result<Value, Fault> {
    match &node.kind {
        Kind::Constant(value) => Ok(value.clone()),
        Kind::Name(index) => {
            let name = scope.names.get(*index).map_or("", String::as_str);
            (scope.lookup)(name).ok_or_else(|| functions::value_unknown(node.at, name))
        }
        Kind::Negative(inner) => {
            let inner = measure(inner, scope)?;
            Ok(Value::Measure(Measure { value: -inner.value, ..inner }))
        }
        Kind::Positive(inner) => Ok(Value::Measure(measure(inner, scope)?)),
        Kind::Not(inner) => Ok(Value::Truth(!condition(inner, scope)?)),
        Kind::Percent(inner) => {
            let inner = measure(inner, scope)?;
            Ok(Value::Measure(Measure { value: inner.value * Ratio::ten_to(-2), ..inner }))
        }
        Kind::Chain(first, links) => chain(first, links, scope),
        Kind::Call(function, arguments) => functions::call(*function, arguments, node.at, scope),
    }
}

/// Evaluates a node that must be a measure.
pub(super) fn measure(node: &Node, scope: &Scope) -> Result<Measure, Fault> {
    match evaluate(node, scope)? {
        Value::Measure(measure) => Ok(measure),
        Value::Truth(_) => Err(Fault::new(node.at, "this is a truth, and a number is expected")
            .with_hint("write IF(condition; 1; 0)")),
    }
}

/// Evaluates a node that must be a truth.
pub(super) fn condition(node: &Node, scope: &Scope) -> Result<bool, Fault> {
    truth(&evaluate(node, scope)?, node.at)
}

/// Returns the truth, or the fault of a measure that stands for one.
pub(super) fn truth(value: &Value, at: usize) -> Result<bool, Fault> {
    match value {
        Value::Truth(truth) => Ok(*truth),
        Value::Measure(_) => {
            Err(Fault::new(at, format!("this is {}, and a condition is expected", noun(value)))
                .with_hint("compare it with something, such as `> 0`"))
        }
    }
}

/// Names the kind of a value: `a length`, `a number`, `a truth`.
pub(super) fn noun(value: &Value) -> String {
    match value {
        Value::Truth(_) => "a truth".to_owned(),
        Value::Measure(measure) => article(measure.dimension),
    }
}

/// Names a dimension: `a length`, `an area`, `money`, `a length^-2*weight`.
pub(super) fn article(dimension: Dimension) -> String {
    match dimension {
        Dimension::AREA => "an area".to_owned(),
        Dimension::MONEY => "money".to_owned(),
        _ => format!("a {dimension}"),
    }
}

/// Returns the result, or a fault if it is too large to go on with.
pub(super) fn limited(value: Ratio, dimension: Dimension, at: usize) -> Result<Measure, Fault> {
    if value.bit_count() > MOST_BITS {
        return Err(Fault::new(at, "the result has too many digits"));
    }
    Ok(Measure { value, dimension })
}

/// Returns the fault of two measures that cannot be added, compared or chosen between.
pub(super) fn clash(at: usize, fault: String, left: Dimension, right: Dimension) -> Fault {
    let fault = Fault::new(at, fault);
    let ((Dimension::NUMBER, with_unit) | (with_unit, Dimension::NUMBER)) = (left, right) else {
        return fault;
    };
    let example = match with_unit {
        Dimension::LENGTH => "3 in",
        Dimension::AREA => "3 ft2",
        Dimension::VOLUME => "3 gal",
        Dimension::WEIGHT => "3 lb",
        Dimension::TIME => "3 min",
        _ => return fault,
    };
    fault.with_hint(format!("if the number lacks its unit, write it so: `{example}`"))
}

fn chain(first: &Node, links: &[Link], scope: &Scope) -> Result<Value, Fault> {
    let mut left = evaluate(first, scope)?;
    let mut left_at = first.at;
    for link in links {
        left = match link.operator {
            Operator::And if !truth(&left, left_at)? => return Ok(Value::Truth(false)),
            Operator::Or if truth(&left, left_at)? => return Ok(Value::Truth(true)),
            Operator::And | Operator::Or => Value::Truth(condition(&link.right, scope)?),
            _ => {
                let right = evaluate(&link.right, scope)?;
                apply(link, left, left_at, right)?
            }
        };
        left_at = if matches!(link.operator, Operator::And | Operator::Or) {
            link.right.at
        } else {
            left_at
        };
    }
    Ok(left)
}

fn apply(link: &Link, left: Value, left_at: usize, right: Value) -> Result<Value, Fault> {
    let compares = matches!(
        link.operator,
        Operator::Equal
            | Operator::Unequal
            | Operator::Less
            | Operator::LessOrEqual
            | Operator::Greater
            | Operator::GreaterOrEqual
    );
    let (left, right) = match (left, right) {
        (Value::Measure(left), Value::Measure(right)) => (left, right),
        (left, right) if compares => return compare_truths(link, &left, &right),
        (Value::Truth(_), _) => return Err(truth_in_sum(left_at)),
        _ => return Err(truth_in_sum(link.right.at)),
    };
    let at = link.at;
    if compares {
        return compare(link, &left, &right);
    }
    let result = match link.operator {
        Operator::Add | Operator::Subtract => add(link, left, right)?,
        Operator::Multiply => {
            let dimension = left.dimension.times(right.dimension).ok_or_else(|| too_high(at))?;
            limited(left.value * right.value, dimension, at)?
        }
        Operator::Divide => divide(&left, &right, at)?,
        _ => power(left, &right, at)?,
    };
    Ok(Value::Measure(result))
}

fn truth_in_sum(at: usize) -> Fault {
    Fault::new(at, "this is a truth, and a number is expected")
        .with_hint("write IF(condition; 1; 0)")
}

fn too_high(at: usize) -> Fault {
    Fault::new(at, "the result has a dimension of too high a power")
}

fn add(link: &Link, left: Measure, right: Measure) -> Result<Measure, Fault> {
    if left.dimension != right.dimension {
        let (what, to) = (article(right.dimension), article(left.dimension));
        let fault = if link.operator == Operator::Add {
            format!("{what} cannot be added to {to}")
        } else {
            format!("{what} cannot be taken from {to}")
        };
        return Err(clash(link.at, fault, left.dimension, right.dimension));
    }
    let value = if link.operator == Operator::Add {
        left.value + right.value
    } else {
        left.value - right.value
    };
    limited(value, left.dimension, link.at)
}

/// Divides, as `/` and QUOTIENT do.
pub(super) fn divide(left: &Measure, right: &Measure, at: usize) -> Result<Measure, Fault> {
    let dimension = left.dimension.over(right.dimension).ok_or_else(|| too_high(at))?;
    let value =
        left.value.checked_div(&right.value).ok_or_else(|| Fault::new(at, "a division by zero"))?;
    limited(value, dimension, at)
}

/// Raises to a power, as `^` and POWER do: a whole exponent, or a half one for a root.
pub(super) fn power(base: Measure, exponent: &Measure, at: usize) -> Result<Measure, Fault> {
    if exponent.dimension != Dimension::NUMBER {
        let fault = format!("an exponent is a number, and this is {}", article(exponent.dimension));
        return Err(Fault::new(at, fault));
    }
    let doubled = (&exponent.value * &Ratio::whole(2)).to_integer();
    let Some(doubled) = doubled.filter(|doubled| doubled.abs() <= 2 * MOST_EXPONENT) else {
        let fault =
            format!("an exponent is whole or a half, from -{MOST_EXPONENT} to {MOST_EXPONENT}");
        return Err(Fault::new(at, fault));
    };
    let base = if doubled % 2 == 0 { base } else { functions::square_root(base, at)? };
    let count = if doubled % 2 == 0 { doubled / 2 } else { doubled };
    if base.value.is_zero() && count <= 0 {
        let fault = if count == 0 {
            "zero to the power of zero has no value"
        } else {
            "a division by zero"
        };
        return Err(Fault::new(at, fault));
    }
    let size = u32::try_from(count.unsigned_abs()).map_err(|_| too_high(at))?;
    let raised =
        |exponent: i8| i8::try_from(i128::from(exponent) * count).map_err(|_| too_high(at));
    let dimension = Dimension {
        length: raised(base.dimension.length)?,
        weight: raised(base.dimension.weight)?,
        time: raised(base.dimension.time)?,
        money: raised(base.dimension.money)?,
    };
    let is_unit = base.value.abs() == Ratio::ONE;
    if !is_unit && base.value.bit_count().saturating_mul(size as usize) > 2 * MOST_BITS {
        return Err(Fault::new(at, "the result has too many digits"));
    }
    let value = base.value.power(size);
    let value = if count < 0 { Ratio::ONE.checked_div(&value).unwrap_or_default() } else { value };
    limited(value, dimension, at)
}

fn compare(link: &Link, left: &Measure, right: &Measure) -> Result<Value, Fault> {
    if left.dimension != right.dimension {
        let fault = format!(
            "{} cannot be compared with {}",
            article(left.dimension),
            article(right.dimension)
        );
        return Err(clash(link.at, fault, left.dimension, right.dimension));
    }
    Ok(Value::Truth(holds(link.operator, left.value.cmp(&right.value))))
}

fn compare_truths(link: &Link, left: &Value, right: &Value) -> Result<Value, Fault> {
    let (Value::Truth(left), Value::Truth(right)) = (left, right) else {
        let fault = format!("{} cannot be compared with {}", noun(left), noun(right));
        return Err(Fault::new(link.at, fault).with_hint("two comparisons are joined by AND"));
    };
    if !matches!(link.operator, Operator::Equal | Operator::Unequal) {
        return Err(Fault::new(link.at, "truths are only equal or not"));
    }
    Ok(Value::Truth(holds(link.operator, left.cmp(right))))
}

fn holds(operator: Operator, order: Ordering) -> bool {
    match operator {
        Operator::Equal => order.is_eq(),
        Operator::Unequal => order.is_ne(),
        Operator::Less => order.is_lt(),
        Operator::LessOrEqual => order.is_le(),
        Operator::Greater => order.is_gt(),
        _ => order.is_ge(),
    }
}
