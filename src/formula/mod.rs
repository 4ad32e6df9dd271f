//! Turns the text of a cell into an expression over exact measures, and evaluates it.
//!
//! Operators and functions follow `OpenFormula` (OASIS `OpenDocument` 1.3, part 4); arguments are parted by `;`. Values
//! are exact and carry their dimension; feet are never added to pounds. A cell that reads as a measure is one; anything
//! else is a formula. The rules, with examples, stand in `docs/formulas.md`.
//!
//! A name that follows a number or a closing parenthesis is a unit; anywhere else it is a value or a function. What
//! can be computed without names is computed once, while parsing, and its mistakes are found there.
//!
//! Hostile text costs little: its length, nesting, exponents and the size of every number are limited.
//!
//! Not here: texts, dates, references to cells.

mod evaluate;
mod functions;
mod lexer;
mod parser;
#[cfg(test)]
mod tests;

use std::sync::Arc;

use crate::quantity::text;
use crate::quantity::text::DecimalSign;
use crate::quantity::unit::UnitFactor;
use crate::quantity::{Dimension, Measure, Ratio};

pub use crate::quantity::text::Fault;

use evaluate::Scope;
use lexer::Operator;
use parser::{Kind, Link, Node};

/// A formula is at most so many bytes long.
pub const MOST_TEXT: usize = 10_000;

/// What an expression comes to.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Value {
    /// An exact value with its dimension.
    Measure(Measure),
    /// True or false.
    Truth(bool),
}

/// A parsed formula. Clones share it: bills repeat the same texts over and over.
#[derive(Clone, Debug)]
pub struct Expression(Arc<Parsed>);

#[derive(Debug)]
struct Parsed {
    text: Box<str>,
    form: Form,
}

#[derive(Debug)]
enum Form {
    Constant(Value),
    Tree(Box<Tree>),
}

/// An expression with names in it.
#[derive(Clone, Debug)]
struct Tree {
    root: Node,
    names: Vec<String>,
}

impl Expression {
    /// Parses the text of a cell. A whole cell that reads as a measure is one, a bare number taking the unit `bare`
    /// (no unit: a plain number).
    ///
    /// # Errors
    /// The first mistake, with its place in the text.
    ///
    /// # Example
    /// ```
    /// use cutbill::formula::Expression;
    /// use cutbill::quantity::Ratio;
    /// let studs = Expression::parse("ROUNDUP(10 ft 6 in / 16 in) + 1", None)?;
    /// assert_eq!(studs.as_constant().map(|measure| &measure.value), Some(&Ratio::whole(9)));
    /// let clash = Expression::parse("10 ft + 2", None).unwrap_err();
    /// assert_eq!(clash.fault, "a number cannot be added to a length");
    /// assert_eq!(clash.marker, 6);
    /// # Ok::<(), cutbill::formula::Fault>(())
    /// ```
    pub fn parse(text: &str, bare: Option<&UnitFactor>) -> Result<Expression, Fault> {
        Expression::parse_with(text, bare, DecimalSign::Point)
    }

    /// Parses the text of a cell of a file whose numbers have this decimal sign.
    ///
    /// # Errors
    /// The first mistake, with its place in the text.
    pub fn parse_with(
        text: &str,
        bare: Option<&UnitFactor>,
        sign: DecimalSign,
    ) -> Result<Expression, Fault> {
        if text.len() > MOST_TEXT {
            return Err(Fault::new(
                MOST_TEXT,
                format!("a formula has at most {MOST_TEXT} characters"),
            ));
        }
        let start = text.len() - text.trim_start().len();
        if text[start..].starts_with('=') {
            return parser::parse(text, start + 1, sign).map(|tree| Expression::of(text, tree));
        }
        if text[start..].starts_with(|c: char| c.is_alphabetic() || c == '(') {
            // No measure begins so.
            return parser::parse(text, start, sign).map(|tree| Expression::of(text, tree));
        }
        let measure = text::measure(text, bare, sign);
        if let Ok(measure) = &measure
            && !multiplies(text)
        {
            return Ok(Expression::new(text, Form::Constant(Value::Measure(measure.clone()))));
        }
        match (parser::parse_cell(text, start, sign), measure) {
            (Ok(tree), _) => Ok(Expression::of(text, tree)),
            (Err(_), Ok(measure)) => {
                Ok(Expression::new(text, Form::Constant(Value::Measure(measure))))
            }
            // Of two readings that fail, the one that got further tells more.
            (Err(fault), Err(misread)) => {
                Err(if misread.marker > fault.marker { misread } else { fault })
            }
        }
    }

    /// Returns the expression that is always `value`.
    #[must_use]
    pub fn constant(value: Measure) -> Expression {
        Expression::new("", Form::Constant(Value::Measure(value)))
    }

    /// Returns the expression times a number; its text stays as it was written, for findings.
    #[must_use]
    pub fn times(&self, factor: &Ratio) -> Expression {
        let form = match &self.0.form {
            Form::Constant(Value::Measure(measure)) => {
                let value = &measure.value * factor;
                Form::Constant(Value::Measure(Measure { value, ..measure.clone() }))
            }
            Form::Constant(truth) => Form::Constant(truth.clone()),
            Form::Tree(tree) => {
                let at = tree.root.at;
                let right = Node {
                    kind: Kind::Constant(Value::Measure(Measure::number(factor.clone()))),
                    at,
                };
                let link = Link { operator: Operator::Multiply, at, right };
                let kind = Kind::Chain(Box::new(tree.root.clone()), vec![link]);
                Form::Tree(Box::new(Tree { root: Node { at, kind }, names: tree.names.clone() }))
            }
        };
        Expression::new(&self.0.text, form)
    }

    /// Returns the text it was parsed from.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.0.text
    }

    /// Returns the names it uses, lower case, each once, in the order of first use.
    #[must_use]
    pub fn names(&self) -> &[String] {
        match &self.0.form {
            Form::Constant(_) => &[],
            Form::Tree(tree) => &tree.names,
        }
    }

    /// Returns its value if it uses no names and is no truth.
    #[must_use]
    pub fn as_constant(&self) -> Option<&Measure> {
        match &self.0.form {
            Form::Constant(Value::Measure(measure)) => Some(measure),
            _ => None,
        }
    }

    /// Evaluates it; `lookup` answers for names, in lower case.
    ///
    /// # Errors
    /// An unknown name, a clash of dimensions, a division by zero, with the place in the text.
    pub fn evaluate(&self, lookup: &dyn Fn(&str) -> Option<Value>) -> Result<Value, Fault> {
        match &self.0.form {
            Form::Constant(value) => Ok(value.clone()),
            Form::Tree(tree) => {
                evaluate::evaluate(&tree.root, &Scope { names: &tree.names, lookup })
            }
        }
    }

    /// Evaluates it to a measure of this dimension.
    ///
    /// # Errors
    /// As [`evaluate`](Expression::evaluate), and a result that is a truth or has another dimension.
    pub fn evaluate_measure(
        &self,
        dimension: Dimension,
        lookup: &dyn Fn(&str) -> Option<Value>,
    ) -> Result<Measure, Fault> {
        let start = self.0.text.len() - self.0.text.trim_start().len();
        match self.evaluate(lookup)? {
            Value::Measure(measure) if measure.dimension == dimension => Ok(measure),
            other => Err(Fault::new(
                start,
                format!(
                    "this is {}, and {} is expected",
                    evaluate::noun(&other),
                    evaluate::article(dimension)
                ),
            )),
        }
    }

    /// Evaluates it to a truth.
    ///
    /// # Errors
    /// As [`evaluate`](Expression::evaluate), and a result that is a measure.
    pub fn evaluate_truth(&self, lookup: &dyn Fn(&str) -> Option<Value>) -> Result<bool, Fault> {
        let start = self.0.text.len() - self.0.text.trim_start().len();
        let value = self.evaluate(lookup)?;
        evaluate::truth(&value, start)
    }

    fn new(text: &str, form: Form) -> Expression {
        Expression(Arc::new(Parsed { text: text.into(), form }))
    }

    fn of(text: &str, tree: Tree) -> Expression {
        let form = match tree {
            Tree { root: Node { kind: Kind::Constant(value), .. }, .. } => Form::Constant(value),
            tree => Form::Tree(Box::new(tree)),
        };
        Expression::new(text, form)
    }
}

/// Whether a cell that reads as a measure also reads as a product or quotient with a value: `2 in * m`, `2 in / m`.
fn multiplies(text: &str) -> bool {
    text.contains('*') || text.contains("/ ") || text.contains(" /")
}
