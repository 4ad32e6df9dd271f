//! What cells mean in one book: units of bare numbers, formulas read so far, and the findings.

use std::cell::RefCell;
use std::ops::Range;

use foldhash::fast::RandomState;
use indexmap::IndexMap;
use rayon::iter::IntoParallelIterator;
use rayon::iter::ParallelIterator;

use crate::formula::Expression;
use crate::quantity::Dimension;
use crate::quantity::Length;
use crate::quantity::Measure;
use crate::quantity::Ratio;
use crate::quantity::text::DecimalSign;
use crate::quantity::text::Fault;
use crate::quantity::unit::UnitFactor;
use crate::read::cells::Row;
use crate::read::columns::Grid;
use crate::read::findings::Findings;

/// How a number of at most one in a percent column is read, where the file does not say whether it is a percent.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum PercentCells {
    /// As a share: 0.05 is five percent.
    Fraction,
    /// As it stands: 0.05 is a twentieth of a percent.
    Number,
}

/// Formulas by their texts.
type Known = IndexMap<Box<str>, Expression, RandomState>;

/// Fewer rows than this are read on one core.
const FEWEST_ROWS: usize = 5_000;

/// What cells mean in one book, and the findings made so far.
#[derive(Debug)]
pub(super) struct Reader {
    /// The findings.
    pub(super) findings: Findings,
    /// Unit of a bare length.
    pub(super) length: UnitFactor,
    /// Unit of a bare weight.
    pub(super) weight: UnitFactor,
    /// The book's currency, as an ISO 4217 code.
    pub(super) currency: String,
    /// How unclear percents are read.
    pub(super) percent_cells: Option<PercentCells>,
    /// The formula of one, for lines without a quantity.
    pub(super) one: Expression,
    /// Formulas read so far, those with bare lengths apart: bills repeat the same texts over and over.
    numbers: RefCell<Known>,
    lengths: RefCell<Known>,
}

impl Reader {
    /// Returns a reader for inches and pounds.
    pub(super) fn new(findings: Findings) -> Reader {
        Reader {
            findings,
            length: UnitFactor { dimension: Dimension::LENGTH, factor: Length::INCH.to_ratio() },
            weight: UnitFactor { dimension: Dimension::WEIGHT, factor: Ratio::ONE },
            currency: "USD".to_owned(),
            percent_cells: None,
            one: Expression::constant(Measure::number(Ratio::ONE)),
            numbers: RefCell::default(),
            lengths: RefCell::default(),
        }
    }

    /// Does something for stretches of `count` rows on all cores, each with a reader of its own. Results and findings come
    /// together in the order of the rows, as if one stretch had been read after the other.
    pub(super) fn spread<T: Send>(
        &self,
        count: usize,
        work: impl Fn(Range<usize>, &Reader) -> T + Sync,
    ) -> Vec<T> {
        // A small book is read without starting a thread.
        let most = count / FEWEST_ROWS;
        let stretches = if most < 2 { 1 } else { most.min(rayon::current_num_threads()) };
        if stretches == 1 {
            return vec![work(0..count, self)];
        }
        let ends = (0..=stretches).map(|end| end * count / stretches).collect::<Vec<_>>();
        let readers: Vec<(Range<usize>, Reader)> =
            ends.windows(2).map(|ends| (ends[0]..ends[1], self.fork())).collect();
        let done: Vec<(T, Findings)> = readers
            .into_par_iter()
            .map(|(rows, reader)| (work(rows, &reader), reader.findings))
            .collect();
        let (results, findings): (Vec<T>, Vec<Findings>) = done.into_iter().unzip();
        for findings in findings {
            self.findings.absorb(findings);
        }
        results
    }

    /// Returns a reader that reads the same way, without findings.
    fn fork(&self) -> Reader {
        Reader {
            findings: self.findings.fork(),
            length: self.length.clone(),
            weight: self.weight.clone(),
            currency: self.currency.clone(),
            percent_cells: self.percent_cells,
            one: self.one.clone(),
            numbers: RefCell::default(),
            lengths: RefCell::default(),
        }
    }

    /// Returns the unit of a bare number where this dimension is expected, if it has one.
    pub(super) fn bare(&self, dimension: Dimension) -> Option<UnitFactor> {
        match dimension {
            Dimension::LENGTH => Some(self.length.clone()),
            Dimension::WEIGHT => Some(self.weight.clone()),
            Dimension::MONEY => Some(UnitFactor { dimension, factor: Ratio::ONE }),
            _ => None,
        }
    }

    /// Returns the rows of a grid.
    pub(super) fn rows<'a>(&'a self, grid: &'a Grid<'a>) -> impl Iterator<Item = Row<'a>> {
        (0..grid.table.row_count()).map(move |index| Row { reader: self, grid, index })
    }

    /// Returns the formula in a text, which is parsed once.
    pub(super) fn expression(
        &self,
        text: &str,
        dimension: Dimension,
        sign: DecimalSign,
    ) -> Result<Expression, Fault> {
        let cache = match dimension {
            Dimension::NUMBER => &self.numbers,
            Dimension::LENGTH => &self.lengths,
            _ => return Expression::parse_with(text, self.bare(dimension).as_ref(), sign),
        };
        if let Some(expression) = cache.borrow().get(text) {
            return Ok(expression.clone());
        }
        let expression = Expression::parse_with(text, self.bare(dimension).as_ref(), sign)?;
        cache.borrow_mut().insert(text.into(), expression.clone());
        Ok(expression)
    }
}
