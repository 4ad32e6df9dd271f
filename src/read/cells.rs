//! What cells mean: numbers, shares, measures, dates, choices and formulas, with a finding for each that cannot be read.
//!
//! A [`Row`] answers by column. An empty cell gives nothing; a cell that cannot be read gives nothing and a finding.

use std::borrow::Cow;

use jiff::civil::Date;

use crate::diag::Diagnostic;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::diag::did_you_mean;
use crate::diag::nearest;
use crate::diag::squashed;
use crate::formula::Expression;
use crate::model::Effective;
use crate::model::flag;
use crate::quantity::Dimension;
use crate::quantity::Length;
use crate::quantity::Measure;
use crate::quantity::Ratio;
use crate::quantity::text;
use crate::quantity::text::Fault;
use crate::quantity::text::exact;
use crate::quantity::unit::UnitFactor;
use crate::read::Cell;
use crate::read::Percent;
use crate::read::columns::At;
use crate::read::columns::Grid;
use crate::read::numbers::date;
use crate::read::numbers::fraction;
use crate::read::numbers::fraction_in;
use crate::read::numbers::number;
use crate::read::reader::PercentCells;
use crate::read::reader::Reader;
use crate::read::schema::Kind;

/// A row of a grid.
#[derive(Clone, Copy, Debug)]
pub(super) struct Row<'a> {
    /// What cells mean.
    pub(super) reader: &'a Reader,
    /// The table.
    pub(super) grid: &'a Grid<'a>,
    /// The row's position in the table.
    pub(super) index: usize,
}

impl<'a> Row<'a> {
    /// Returns the column of this name.
    pub(super) fn at(&self, name: &str) -> At {
        self.grid.at(name)
    }

    /// Adds a finding about the row, or about a cell of it.
    pub(super) fn tell(&self, severity: Severity, at: Option<At>, problem: Problem) {
        self.tell_with_hint(severity, at, problem, None);
    }

    /// Adds a finding with a hint.
    pub(super) fn tell_with_hint(
        &self,
        severity: Severity,
        at: Option<At>,
        problem: Problem,
        hint: Option<String>,
    ) {
        let place = Some(self.grid.place(self.index, at));
        let finding = Diagnostic { severity, place, problem, hint };
        self.reader.findings.push(self.grid.order(self.index, at), finding);
    }

    /// Adds an error about a cell.
    pub(super) fn error(&self, at: At, problem: Problem) {
        self.tell(Severity::Error, Some(at), problem);
    }

    /// Adds an error about a cell, with a hint.
    pub(super) fn error_with_hint(&self, at: At, problem: Problem, hint: Option<String>) {
        self.tell_with_hint(Severity::Error, Some(at), problem, hint);
    }

    /// Adds the error that a value is out of range.
    pub(super) fn out_of_range(&self, at: At, range: &str) {
        let text = self.shown(at);
        self.error(at, Problem::OutOfRange { text, range: range.to_owned() });
    }

    /// Returns a cell; a spreadsheet error is found and counts as empty.
    pub(super) fn cell(&self, at: At) -> Cell<'a> {
        match self.grid.cell(self.index, at) {
            Cell::Error(text) => {
                self.error(at, Problem::CellError { text: text.to_owned() });
                Cell::Empty
            }
            cell => cell,
        }
    }

    /// Tells whether a cell holds nothing.
    pub(super) fn is_empty(&self, at: At) -> bool {
        self.grid.cell(self.index, at) == Cell::Empty
    }

    /// Returns the text of a cell, for showing it.
    pub(super) fn shown(&self, at: At) -> String {
        let cell = self.grid.cell(self.index, at);
        match cell {
            Cell::Number { text, percent: Percent::Yes } => {
                let percent = number(text, false).map(|share| share * Ratio::whole(100));
                percent.map_or_else(|| text.to_owned(), |percent| format!("{} %", exact(&percent)))
            }
            cell => text_of(cell).into_owned(),
        }
    }

    /// Returns the text of a cell; empty if there is none.
    pub(super) fn text(&self, at: At) -> Cow<'a, str> {
        text_of(self.cell(at))
    }

    /// Returns the text of a cell that must not be empty.
    pub(super) fn needed_text(&self, at: At) -> Option<Cow<'a, str>> {
        if self.is_empty(at) {
            if self.grid.has(at) {
                self.error(at, Problem::CellMissing);
            }
            return None;
        }
        Some(self.text(at)).filter(|text| !text.is_empty())
    }

    /// Returns a day that must be there.
    pub(super) fn needed_date(&self, at: At) -> Option<Date> {
        self.needed_text(at)?;
        self.date(at)
    }

    /// Returns a whole number that must be there, not below zero.
    pub(super) fn needed_whole(&self, at: At) -> Option<u32> {
        self.needed_text(at)?;
        self.whole(at)
    }

    /// Returns an exact number.
    pub(super) fn number(&self, at: At) -> Option<Ratio> {
        let text = match self.cell(at) {
            Cell::Empty => return None,
            Cell::Number { percent: Percent::Yes, .. } => {
                self.error(at, Problem::NotANumber { text: self.shown(at) });
                return None;
            }
            Cell::Number { text, .. } => return self.digits(at, text, false),
            Cell::Text(text) => text,
            cell => {
                self.error(at, Problem::NotANumber { text: text_of(cell).into_owned() });
                return None;
            }
        };
        self.digits(at, text, self.grid.table.has_decimal_comma)
    }

    fn digits(&self, at: At, text: &str, has_decimal_comma: bool) -> Option<Ratio> {
        let value = number(text, has_decimal_comma);
        if value.is_none() {
            let is_other = number(text, !has_decimal_comma).is_some();
            let sign = if has_decimal_comma { "comma" } else { "point" };
            let hint = is_other.then(|| format!("numbers in this file use a {sign}"));
            self.error_with_hint(at, Problem::NotANumber { text: text.to_owned() }, hint);
        }
        value
    }

    /// Returns a number that is not below zero.
    pub(super) fn amount(&self, at: At) -> Option<Ratio> {
        let value = self.number(at)?;
        if value.is_negative() {
            self.out_of_range(at, "not below zero");
            return None;
        }
        Some(value)
    }

    /// Returns a whole number that is not below zero.
    pub(super) fn whole(&self, at: At) -> Option<u32> {
        let value = self.number(at)?;
        let whole = value.to_integer().and_then(|value| u32::try_from(value).ok());
        if whole.is_none() {
            self.out_of_range(at, "a whole number, not below zero");
        }
        whole
    }

    /// Returns a share that is written in percent: 5, `5 %` and a percent cell of 0.05 are all a twentieth.
    pub(super) fn share(&self, at: At) -> Option<Ratio> {
        let hundredth = Ratio::decimal(1, 2);
        let (text, percent) = match self.cell(at) {
            Cell::Number { text, percent } => (text, percent),
            Cell::Text(text) => {
                let digits = text.strip_suffix('%').unwrap_or(text);
                let value = self.digits(at, digits, self.grid.table.has_decimal_comma)?;
                return Some(value * hundredth);
            }
            _ => return self.number(at),
        };
        let value = self.digits(at, text, false)?;
        let is_clear = value.is_zero() || value.abs() > Ratio::ONE;
        let is_share = match (percent, self.reader.percent_cells) {
            (Percent::No, _) | (Percent::Unknown, Some(PercentCells::Number)) => false,
            (Percent::Unknown, _) if is_clear => false,
            (Percent::Yes, _) | (Percent::Unknown, Some(PercentCells::Fraction)) => true,
            (Percent::Unknown, None) => {
                let hint = "set `percent_cells` in table `settings` to `fraction` or `number`";
                let problem = Problem::PercentUnclear { text: text.to_owned() };
                self.error_with_hint(at, problem, Some(hint.to_owned()));
                return None;
            }
        };
        Some(if is_share { value } else { value * hundredth })
    }

    /// Returns a share from 0 to below 1.
    pub(super) fn loss(&self, at: At) -> Option<Ratio> {
        let share = self.share(at)?;
        if share.is_negative() || share >= Ratio::ONE {
            self.out_of_range(at, "0 to below 100 %");
            return None;
        }
        Some(share)
    }

    /// Returns a share from 0 to 1.
    pub(super) fn part(&self, at: At) -> Option<Ratio> {
        let share = self.share(at)?;
        if share.is_negative() || share > Ratio::ONE {
            self.out_of_range(at, "0 to 100 %");
            return None;
        }
        Some(share)
    }

    /// Returns a yes or no.
    pub(super) fn flag(&self, at: At) -> Option<bool> {
        let text = match self.cell(at) {
            Cell::Empty => return None,
            Cell::Truth(truth) => return Some(truth),
            cell => text_of(cell),
        };
        let flag = flag(&text);
        if flag.is_none() {
            let choices = vec!["yes".to_owned(), "no".to_owned()];
            self.error(at, Problem::NotAChoice { text: text.into_owned(), choices });
        }
        flag
    }

    /// Returns the position of a word in the choices of the column.
    pub(super) fn choice(&self, at: At) -> Option<usize> {
        let Kind::Choice(choices) = self.grid.column(at).kind else { return None };
        let text = self.text(at);
        if text.is_empty() {
            return None;
        }
        self.chosen(at, &text, choices)
    }

    /// Returns the position of a word in some choices.
    pub(super) fn chosen(&self, at: At, text: &str, choices: &[&str]) -> Option<usize> {
        if let Some(position) = choices.iter().position(|choice| choice.eq_ignore_ascii_case(text))
        {
            return Some(position);
        }
        let key = squashed(text);
        let position = choices.iter().position(|choice| squashed(choice) == key);
        if position.is_none() {
            let hint = nearest(text, choices.iter().copied()).map(did_you_mean);
            let choices = choices.iter().map(|choice| (*choice).to_owned()).collect();
            self.error_with_hint(at, Problem::NotAChoice { text: text.to_owned(), choices }, hint);
        }
        position
    }

    /// Returns a day.
    pub(super) fn date(&self, at: At) -> Option<Date> {
        let text = match self.cell(at) {
            Cell::Empty => return None,
            Cell::Date { date } => return Some(date),
            cell => text_of(cell),
        };
        let day = date(&text);
        if day.is_none() {
            // A day that is not there, such as February 30, is written well enough.
            let is_well_written = text.len() == 10 && text.matches('-').count() == 2;
            let hint = (!is_well_written && !text.contains("-W"))
                .then(|| "write year, month and day: `2027-03-15`".to_owned());
            self.error_with_hint(at, Problem::NotADate { text: text.into_owned() }, hint);
        }
        day
    }

    /// Returns a day or the number of a unit.
    pub(super) fn effective(&self, at: At) -> Option<Effective> {
        if let Cell::Text(text) = self.grid.cell(self.index, at)
            && let Some(unit) = text.strip_prefix('#')
        {
            let unit = unit.trim().parse().ok();
            if unit.is_none() {
                let expected = "number of a unit, such as `#412`".to_owned();
                self.error(at, Problem::NotAMeasure { text: text.to_owned(), expected });
            }
            return unit.map(Effective::Unit);
        }
        self.date(at).map(Effective::Date)
    }

    /// Returns a measure of this dimension.
    pub(super) fn measure(&self, at: At, dimension: Dimension) -> Option<Measure> {
        let measure = self.any_measure(at, self.reader.bare(dimension).as_ref())?;
        self.fitting(at, measure, dimension)
    }

    /// Returns the measure if it has this dimension; zero fits everywhere.
    pub(super) fn fitting(
        &self,
        at: At,
        measure: Measure,
        dimension: Dimension,
    ) -> Option<Measure> {
        if measure.dimension == dimension {
            return Some(measure);
        }
        if measure.value.is_zero() && measure.dimension == Dimension::NUMBER {
            return Some(Measure { dimension, ..measure });
        }
        let text = self.shown(at);
        let (expected, hint) = expected(measure.dimension, dimension);
        self.error_with_hint(at, Problem::NotAMeasure { text, expected }, hint);
        None
    }

    /// Returns a measure of any dimension; a bare number takes the unit, or none.
    pub(super) fn any_measure(&self, at: At, bare: Option<&UnitFactor>) -> Option<Measure> {
        let dimension = bare.map_or(Dimension::NUMBER, |bare| bare.dimension);
        let factor = bare.map_or(Ratio::ONE, |bare| bare.factor.clone());
        let text = match self.cell(at) {
            Cell::Empty => return None,
            Cell::Truth(_) | Cell::Error(_) | Cell::Number { percent: Percent::Yes, .. } => {
                let (text, expected) = (self.shown(at), dimension.to_string());
                self.error(at, Problem::NotAMeasure { text, expected });
                return None;
            }
            Cell::Number { text, .. } => {
                return Some(Measure { value: self.digits(at, text, false)? * factor, dimension });
            }
            Cell::Date { date } => {
                return self.date_for_measure(at, &date.to_string(), fraction(date));
            }
            Cell::Text(text) => text,
        };
        let has_decimal_comma = self.grid.table.has_decimal_comma;
        if let Some(value) = number(text, has_decimal_comma) {
            return Some(Measure { value: value * factor, dimension });
        }
        if let Some(fraction) = fraction_in(text) {
            return self.date_for_measure(at, text, fraction);
        }
        let parsed = Expression::parse_with(text, bare, self.grid.sign());
        match parsed.as_ref().map(Expression::as_constant) {
            Ok(Some(measure)) => Some(measure.clone()),
            _ => {
                let misread = text::measure(text, bare, self.grid.sign()).err();
                // What a formula would need is no help, but for feet and inches, of which it says how they are meant.
                let of_formula = parsed.err().filter(|_| text.contains(['\'', '"']));
                let hint = misread.and_then(|fault| fault.hint);
                let hint = hint.or_else(|| of_formula.and_then(|fault| fault.hint));
                let problem = Problem::NotAMeasure {
                    text: text.to_owned(),
                    expected: if bare.is_some() {
                        dimension.to_string()
                    } else {
                        "measure".to_owned()
                    },
                };
                self.error_with_hint(at, problem, hint);
                None
            }
        }
    }

    fn date_for_measure<T>(&self, at: At, text: &str, fraction: String) -> Option<T> {
        let hint = "format the column as text before typing fractions".to_owned();
        let problem = Problem::DateForMeasure { text: text.to_owned(), fraction };
        self.error_with_hint(at, problem, Some(hint));
        None
    }

    /// Returns a length that is not below zero.
    pub(super) fn length(&self, at: At) -> Option<Length> {
        if self.is_empty(at) {
            return None;
        }
        let measure = self.measure(at, Dimension::LENGTH)?;
        if measure.value.is_negative() {
            self.out_of_range(at, "not below zero");
            return None;
        }
        let length = measure.to_length();
        if length.is_none() {
            self.error(at, Problem::Overflow { what: format!("`{}`", self.shown(at)) });
        }
        length
    }

    /// Returns a length above zero.
    pub(super) fn positive_length(&self, at: At) -> Option<Length> {
        let length = self.length(at)?;
        if length == Length::ZERO {
            self.out_of_range(at, "above zero");
            return None;
        }
        Some(length)
    }

    /// Returns a formula, in which a bare number that is the whole cell has the unit of this dimension.
    pub(super) fn formula(&self, at: At, dimension: Dimension) -> Option<Expression> {
        let text = match self.cell(at) {
            Cell::Empty => return None,
            Cell::Number { text, .. } | Cell::Text(text) => text,
            Cell::Date { date } => {
                return self.date_for_measure(at, &date.to_string(), fraction(date));
            }
            Cell::Truth(true) => "TRUE",
            Cell::Truth(false) | Cell::Error(_) => "FALSE",
        };
        self.parsed(at, text, dimension)
    }

    /// Returns the formula in a part of a cell's text.
    pub(super) fn parsed(&self, at: At, text: &str, dimension: Dimension) -> Option<Expression> {
        if let Some(fraction) = fraction_in(text) {
            return self.date_for_measure(at, text, fraction);
        }
        match self.reader.expression(text, dimension, self.grid.sign()) {
            Ok(expression) => Some(expression),
            Err(fault) => {
                self.fault(at, text, fault);
                None
            }
        }
    }

    /// Adds the finding for a fault in a formula.
    pub(super) fn fault(&self, at: At, text: &str, fault: Fault) {
        let problem =
            Problem::Formula { text: text.to_owned(), marker: fault.marker, fault: fault.fault };
        self.error_with_hint(at, problem, fault.hint);
    }

    /// Returns the names in a list parted by `;` or `,`.
    pub(super) fn list(&self, at: At) -> Vec<String> {
        let text = self.text(at);
        let names = text.split([';', ',']).map(str::trim).filter(|name| !name.is_empty());
        names.map(str::to_owned).collect()
    }

    /// Checks a cell by the kind of its column.
    pub(super) fn check(&self, at: At) {
        match self.grid.column(at).kind {
            Kind::Text | Kind::Name(_) | Kind::List | Kind::Values | Kind::Unit | Kind::Change => {
                drop(self.text(at));
            }
            Kind::Flag => drop(self.flag(at)),
            Kind::Number => drop(self.number(at)),
            Kind::Money => drop(self.amount(at)),
            Kind::Whole => drop(self.whole(at)),
            Kind::Percent => drop(self.share(at)),
            Kind::Measure(dimension) => drop(self.measure(at, dimension)),
            Kind::AnyMeasure => drop(self.any_measure(at, None)),
            Kind::Choice(_) => drop(self.choice(at)),
            Kind::Date => drop(self.date(at)),
            Kind::DateOrUnit => drop(self.effective(at)),
            Kind::LeadTime => drop(self.lead_time(at)),
            Kind::Formula(dimension) => drop(self.formula(at, dimension)),
            Kind::Quantity | Kind::Condition => drop(self.formula(at, Dimension::NUMBER)),
        }
    }
}

/// Returns the text of a cell as it is shown.
pub(super) fn text_of(cell: Cell<'_>) -> Cow<'_, str> {
    match cell {
        Cell::Empty => Cow::Borrowed(""),
        Cell::Text(text) | Cell::Number { text, .. } | Cell::Error(text) => Cow::Borrowed(text),
        Cell::Date { date } => Cow::Owned(date.to_string()),
        Cell::Truth(true) => Cow::Borrowed("yes"),
        Cell::Truth(false) => Cow::Borrowed("no"),
    }
}

/// Returns what is expected in place of a dimension, in words, with a hint where a unit is missing.
pub(super) fn expected(found: Dimension, expected: Dimension) -> (String, Option<String>) {
    let example = match expected {
        Dimension::AREA => "`2 ft2`",
        Dimension::VOLUME => "`40 gal`",
        Dimension::TIME => "`45 min`",
        _ => "",
    };
    let is_bare = found == Dimension::NUMBER && !example.is_empty();
    (expected.to_string(), is_bare.then(|| format!("write the unit, as in {example}")))
}
