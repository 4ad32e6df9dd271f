//! Texts as formulas: no panic, places within the text, and the same value each time.

use cutbill::formula::{Expression, Value};
use cutbill::quantity::text::DecimalSign;
use cutbill::quantity::unit;
use cutbill::quantity::{Length, Measure, Ratio};

/// Parses the bytes as a cell with both decimal signs and evaluates what comes of it.
pub fn run(bytes: &[u8]) {
    let Ok(cell) = std::str::from_utf8(bytes) else { return };
    let inch = unit::find("in");
    for sign in [DecimalSign::Point, DecimalSign::Comma] {
        match Expression::parse_with(cell, inch.as_ref(), sign) {
            Ok(expression) => evaluated(&expression, cell),
            Err(fault) => assert!(fault.marker <= cell.len(), "{fault:?} lies outside"),
        }
    }
}

fn evaluated(expression: &Expression, cell: &str) {
    let value = expression.evaluate(&lookup);
    assert_eq!(value, expression.clone().evaluate(&lookup), "two evaluations of `{cell}` differ");
    if let Err(fault) = &value {
        assert!(fault.marker <= cell.len(), "{fault:?} lies outside of `{cell}`");
    }
    if let Some(constant) = expression.as_constant() {
        assert_eq!(value, Ok(Value::Measure(constant.clone())));
    }
    if let Ok(Value::Measure(measure)) = &value {
        let doubled = expression.times(&Ratio::whole(2)).evaluate(&lookup);
        if let Ok(doubled) = doubled {
            let value = &measure.value + &measure.value;
            assert_eq!(doubled, Value::Measure(Measure { value, ..measure.clone() }));
        }
    }
}

/// A few names of each kind; all others are unknown.
fn lookup(name: &str) -> Option<Value> {
    let inches = |count| Length::from_inches(count, 1).map(|l| Value::Measure(Measure::length(l)));
    match name {
        "length" | "l" => inches(126),
        "width" | "w" => inches(84),
        "height" | "m" => inches(78),
        "windows" | "n" => Some(Value::Measure(Measure::number(Ratio::whole(3)))),
        "x" => Ratio::whole(7)
            .checked_div(&Ratio::whole(-3))
            .map(|r| Value::Measure(Measure::number(r))),
        "zero" => Some(Value::Measure(Measure::number(Ratio::ZERO))),
        "solar" => Some(Value::Truth(true)),
        "winter" => Some(Value::Truth(false)),
        _ => None,
    }
}
