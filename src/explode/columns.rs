use crate::diag::Problem;
use crate::explode::Context;
use crate::explode::scope::Scope;
use crate::formula::Expression;
use crate::formula::Value;
use crate::model::BillLine;
use crate::model::LineId;
use crate::quantity::Dimension;
use crate::quantity::Length;
use crate::quantity::Measure;
use crate::quantity::Ratio;

/// The evaluated size columns of a line: length, width, height, in nanometers; the cutout in square nanometers.
pub(super) struct Sides {
    pub length: Option<Ratio>,
    pub width: Option<Ratio>,
    pub height: Option<Ratio>,
    pub cutout: Option<Ratio>,
}

/// A mistake was found, and told.
pub(super) struct Told;

impl Sides {
    /// Returns the second side of an area.
    pub(super) fn across(&self) -> Option<&Ratio> {
        self.width.as_ref().or(self.height.as_ref())
    }
}

/// Evaluates the columns of a line; what is wrong is told, and then there is no value.
impl Context<'_> {
    pub(super) fn sides(&mut self, line: LineId, row: &BillLine, scope: &Scope) -> Option<Sides> {
        let mut is_sound = true;
        let mut side = |name: &str, expression: &Option<Expression>, dimension: Dimension| {
            let expression = expression.as_ref()?;
            let measure = self.evaluate(line, name, expression, scope);
            is_sound &= measure.is_some();
            let measure = measure?;
            if measure.dimension != dimension {
                let text = shown(expression, &measure);
                let problem = Problem::NotAMeasure { text, expected: dimension.to_string() };
                let hint = (measure.dimension == Dimension::NUMBER)
                    .then(|| "a number inside a formula needs its unit, as in `48 in`".to_owned());
                self.error_with_hint(line, name, problem, hint);
                is_sound = false;
            } else if measure.value.is_negative() {
                let text = shown(expression, &measure);
                self.error(
                    line,
                    name,
                    Problem::OutOfRange { text, range: "not below zero".to_owned() },
                );
                is_sound = false;
            }
            Some(measure.value)
        };
        let sides = Sides {
            length: side("length", &row.length, Dimension::LENGTH),
            width: side("width", &row.width, Dimension::LENGTH),
            height: side("height", &row.height, Dimension::LENGTH),
            cutout: side("cutout", &row.further.cutout, Dimension::AREA),
        };
        is_sound.then_some(sides)
    }

    pub(super) fn offset(
        &mut self,
        line: LineId,
        row: &BillLine,
        scope: &Scope,
    ) -> Option<[Option<Length>; 3]> {
        let mut offset = [None; 3];
        for (axis, (name, expression)) in
            [("x", &row.further.x), ("y", &row.further.y), ("z", &row.further.z)]
                .into_iter()
                .enumerate()
        {
            offset[axis] = self.optional_length(line, name, expression.as_ref(), scope).ok()?;
        }
        Some(offset)
    }

    /// Returns a length that may be below zero, if it is given.
    pub(super) fn optional_length(
        &mut self,
        line: LineId,
        name: &str,
        expression: Option<&Expression>,
        scope: &Scope,
    ) -> Result<Option<Length>, Told> {
        let Some(expression) = expression else { return Ok(None) };
        let measure = self.evaluate(line, name, expression, scope).ok_or(Told)?;
        let length = measure.to_length();
        if length.is_none() {
            let text = shown(expression, &measure);
            self.error(line, name, Problem::NotAMeasure { text, expected: "length".to_owned() });
            return Err(Told);
        }
        Ok(length)
    }

    pub(super) fn evaluate(
        &mut self,
        line: LineId,
        column: &str,
        expression: &Expression,
        scope: &Scope,
    ) -> Option<Measure> {
        if let Some(constant) = expression.as_constant() {
            return Some(constant.clone());
        }
        match expression.evaluate(&|name| self.symbols.value(scope, name)) {
            Ok(Value::Measure(measure)) => Some(measure),
            Ok(Value::Truth(_)) => {
                let text = expression.text().to_owned();
                self.error(line, column, Problem::NotANumber { text });
                None
            }
            Err(fault) => {
                self.fault(line, column, expression.text().to_owned(), fault);
                None
            }
        }
    }

    pub(super) fn number(&mut self, line: LineId, quantity: &Measure) -> Option<Ratio> {
        if quantity.dimension == Dimension::NUMBER {
            return Some(quantity.value.clone());
        }
        let text = shown(&self.book.line(line).quantity, quantity);
        let problem = Problem::NotAMeasure { text, expected: "number".to_owned() };
        let hint = format!("it comes to a {}, but the component is counted", quantity.dimension);
        self.error_with_hint(line, "quantity", problem, Some(hint));
        None
    }

    pub(super) fn need(
        &mut self,
        line: LineId,
        dimension: &str,
        side: Option<&Ratio>,
    ) -> Option<Ratio> {
        if side.is_none() {
            let what = format!("`{}`", self.book.component_name(self.book.line(line).component));
            self.error(
                line,
                dimension,
                Problem::DimensionMissing { what, dimension: dimension.to_owned() },
            );
        }
        side.cloned()
    }

    /// Returns a side of a piece to the nanometer; it is above zero.
    pub(super) fn side(&mut self, line: LineId, column: &str, side: &Ratio) -> Option<Length> {
        let length = self.in_range(line, Length::nearest(side))?;
        if length <= Length::ZERO {
            let problem =
                Problem::OutOfRange { text: "0".to_owned(), range: "above zero".to_owned() };
            self.error(line, column, problem);
            return None;
        }
        Some(length)
    }

    pub(super) fn in_range(&mut self, line: LineId, length: Option<Length>) -> Option<Length> {
        // A thousand kilometers: beyond it, areas and lots may leave their range.
        let length = length.filter(|length| length.nanometers() < 1_000_000_000_000_000);
        if length.is_none() {
            self.error(line, "length", Problem::Overflow { what: "the length".to_owned() });
        }
        length
    }
}

fn shown(expression: &Expression, measure: &Measure) -> String {
    if expression.text().is_empty() {
        measure.value.to_string()
    } else {
        expression.text().to_owned()
    }
}
