//! Turns the text of a cell into an expression over exact measures, and evaluates it.
//!
//! Operators and functions follow `OpenFormula` (OASIS `OpenDocument` 1.3, part 4); arguments are parted by `;`. Values
//! are exact and carry their dimension; feet are never added to pounds.

use crate::quantity::unit::UnitFactor;
use crate::quantity::{Measure, Ratio};

/// What an expression comes to.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Value {
    /// An exact value with its dimension.
    Measure(Measure),
    /// True or false.
    Truth(bool),
}

/// A mistake in a formula: where and what.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// Byte offset within the formula's text.
    pub marker: usize,
    /// What is wrong, lower case, no full stop.
    pub fault: String,
    /// What can be done, if that can be said.
    pub hint: Option<String>,
}

/// A parsed formula.
#[derive(Clone, Debug)]
pub struct Expression {
    text: String,
    constant: Option<Measure>,
}

impl Expression {
    /// Parses the text of a cell. A whole cell that reads as a measure is one, a bare number taking the unit `bare`
    /// (no unit: a plain number).
    ///
    /// # Errors
    /// The first mistake, with its place in the text.
    pub fn parse(text: &str, bare: Option<&UnitFactor>) -> Result<Expression, Fault> {
        let _ = bare;
        Ok(Expression { text: text.to_owned(), constant: None })
    }

    /// Returns the expression that is always `value`.
    #[must_use]
    pub fn constant(value: Measure) -> Expression {
        Expression { text: String::new(), constant: Some(value) }
    }

    /// Returns the text it was parsed from.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    /// Returns the names it uses, lower case, each once, in the order of first use.
    #[must_use]
    pub fn names(&self) -> &[String] {
        &[]
    }

    /// Returns its value if it uses no names.
    #[must_use]
    pub fn as_constant(&self) -> Option<&Measure> {
        self.constant.as_ref()
    }

    /// Evaluates it; `lookup` answers for names, in lower case.
    ///
    /// # Errors
    /// An unknown name, a clash of dimensions, a division by zero, with the place in the text.
    pub fn evaluate(&self, lookup: &dyn Fn(&str) -> Option<Value>) -> Result<Value, Fault> {
        let _ = lookup;
        Ok(Value::Measure(self.constant.clone().unwrap_or(Measure::number(Ratio::ZERO))))
    }
}
