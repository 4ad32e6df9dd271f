//! How a bill line takes its component: whether the use fits the form, and whether constants are of the right kind.

use std::collections::BTreeSet;

use crate::diag::Problem;
use crate::diag::Severity;
use crate::formula::Expression;
use crate::model::Book;
use crate::model::Component;
use crate::model::Form;
use crate::model::Item;
use crate::model::ItemId;
use crate::model::OptionId;
use crate::model::Parent;
use crate::model::Rows;
use crate::model::Size;
use crate::model::Usage;
use crate::model::WantedPiece;
use crate::model::misfit;
use crate::quantity::Dimension;
use crate::quantity::Length;
use crate::quantity::Measure;
use crate::quantity::Ratio;
use crate::quantity::text::exact;
use crate::quantity::text::square_feet;
use crate::read::book::Build;
use crate::read::book::bill::Columns;
use crate::read::book::bill::Draft;
use crate::read::cells::expected;
use crate::read::columns::At;
use crate::read::names::Names;

/// No line of a bill takes more than this of anything.
const MOST: i128 = 100_000_000;
/// Scrap above this share is told on lines that are nested.
const MUCH_SCRAP: (i128, u32) = (5, 2);

/// What lines are checked against.
pub(super) struct Context<'a> {
    book: &'a Book,
    options: &'a Names<OptionId>,
    unclear: &'a BTreeSet<ItemId>,
    columns: &'a Columns,
    sizes: Vec<Vec<&'a Size>>,
    /// Whether an item is cut; items themselves are far apart.
    is_cut: Vec<bool>,
}

impl<'a> Context<'a> {
    pub(super) fn new(build: &'a Build<'_>, columns: &'a Columns) -> Context<'a> {
        let book = &build.book;
        let mut sizes: Vec<Vec<&Size>> = vec![Vec::new(); book.items.len()];
        for size in &book.sizes {
            sizes[size.item.index()].push(size);
        }
        let is_cut = book.items.iter().map(Item::is_nested).collect();
        let (options, unclear) = (&build.names.options, &build.unclear);
        Context { book, options, unclear, columns, sizes, is_cut }
    }

    /// Checks a line.
    pub(super) fn check(&self, draft: &Draft) {
        if self.is_number(draft) {
            return;
        }
        self.sides(draft);
        match draft.component {
            Some(Component::Item(item)) if !self.unclear.contains(&item) => {
                let sizes = &self.sizes[item.index()];
                self.item(draft, &self.book.items[item.index()], sizes);
            }
            Some(Component::Assembly(_)) => self.assembly(draft),
            Some(Component::Item(_)) | None => {}
        }
    }

    /// Tells whether a line says nothing but a number of an assembly or of an item that is not cut: nothing is wrong with it.
    fn is_number(&self, draft: &Draft) -> bool {
        let line = draft.line;
        let is_number = line.is_plain()
            && line.quantity.as_constant().is_some_and(|quantity| {
                quantity.dimension == Dimension::NUMBER
                    && !quantity.value.is_negative()
                    && quantity.value <= Ratio::whole(MOST)
            });
        let is_cut = |component| match component {
            Component::Item(item) => self.is_cut[item.index()],
            Component::Assembly(_) => false,
        };
        is_number && !draft.component.is_some_and(is_cut) && self.columns.is_bare(draft.row)
    }

    /// Checks the constants that mean the same for every component.
    fn sides(&self, draft: &Draft) {
        let (line, columns) = (draft.line, self.columns);
        for (at, side) in [
            (columns.length, &line.length),
            (columns.width, &line.width),
            (columns.height, &line.height),
        ] {
            if let Some(value) = constant(draft, at, side.as_ref(), Dimension::LENGTH)
                && value.is_negative()
            {
                draft.row.out_of_range(at, "not below zero");
            }
        }
        for (at, offset) in [
            (columns.x, &line.further.x),
            (columns.y, &line.further.y),
            (columns.z, &line.further.z),
            (columns.travel, &line.further.travel),
        ] {
            constant(draft, at, offset.as_ref(), Dimension::LENGTH);
        }
        let span = constant(draft, columns.span, line.further.span.as_ref(), Dimension::LENGTH);
        if span.is_some_and(|span| span.is_negative()) {
            draft.row.out_of_range(columns.span, "not below zero");
        }
        let cutout = constant(draft, columns.cutout, line.further.cutout.as_ref(), Dimension::AREA);
        let Some(cutout) = cutout else { return };
        if cutout.is_negative() {
            draft.row.out_of_range(columns.cutout, "not below zero");
        }
        let other = line.width.as_ref().or(line.height.as_ref());
        if let (Some(length), Some(width)) = (length(line.length.as_ref()), length(other))
            && cutout > Ratio::whole(length.area(width))
        {
            let area = square_feet(&Ratio::whole(length.area(width)));
            let problem = Problem::CutoutTooLarge { cutout: square_feet(&cutout), area };
            draft.row.error(columns.cutout, problem);
        }
    }

    fn assembly(&self, draft: &Draft) {
        let (line, columns) = (draft.line, self.columns);
        self.quantity(draft, None);
        if !matches!(line.usage, Usage::Count | Usage::Opening) {
            let usage = line.usage.name().to_owned();
            let problem = Problem::UseUnfit { usage, form: "an assembly".to_owned() };
            draft.row.error(columns.usage, problem);
        }
        unused(draft, columns.grain, "grain", "an assembly has no grain", Severity::Warning);
        let reason = "scrap is of items; give it on the lines of the assembly";
        unused(draft, columns.scrap, "scrap", reason, Severity::Warning);
        self.unused_cover(draft);
        if line.usage == Usage::Opening {
            self.opening(draft);
        }
    }

    fn item(&self, draft: &Draft, item: &Item, sizes: &[&Size]) {
        let (line, columns) = (draft.line, self.columns);
        let quantity = self.quantity(draft, Some(item));
        unused(
            draft,
            columns.with,
            "with",
            "only an assembly takes named values",
            Severity::Warning,
        );
        if !fits(line.usage, item) {
            let usage = line.usage.name().to_owned();
            let form = format!("form {}{}", item.form.name(), lacking(line.usage, item));
            draft.row.error(columns.usage, Problem::UseUnfit { usage, form });
            return;
        }
        let is_run = quantity.is_some_and(|quantity| quantity.dimension == Dimension::LENGTH);
        match line.usage {
            Usage::Count if item.is_nested() && !is_run => self.count(draft, item, sizes),
            // Sides of what is counted are told where the line is evaluated.
            Usage::Count => {}
            Usage::Piece => self.piece(draft, item, sizes),
            Usage::Cover | Usage::Fill => {
                self.needs(draft, columns.length, "length");
                self.needs_width(draft);
            }
            Usage::Run => self.needs(draft, columns.length, "length"),
            Usage::Opening => self.opening(draft),
        }
        if matches!(line.usage, Usage::Count | Usage::Piece | Usage::Run) && item.is_nested() {
            let reason = format!("use `{}` has no height", line.usage.name());
            unused(draft, columns.height, "height", &reason, Severity::Note);
        }
        if line.usage != Usage::Cover {
            self.unused_cover(draft);
        }
        let much = Ratio::decimal(MUCH_SCRAP.0, MUCH_SCRAP.1);
        if item.is_nested() && line.further.scrap > much && !self.book.settings.ignore_scrap {
            let percent = &line.further.scrap * &Ratio::whole(100);
            let problem = Problem::ScrapHigh { percent: exact(&percent) };
            draft.row.tell(Severity::Warning, Some(columns.scrap), problem);
        }
    }

    /// Checks a constant quantity and returns it.
    fn quantity<'b>(&self, draft: &Draft<'b>, item: Option<&Item>) -> Option<&'b Measure> {
        let (row, at) = (draft.row, self.columns.quantity);
        let quantity = draft.line.quantity.as_constant()?;
        let own = item.map_or(Dimension::NUMBER, |item| match item.form {
            Form::Sheet | Form::Count => Dimension::NUMBER,
            Form::Roll | Form::Linear => Dimension::LENGTH,
            Form::Bulk | Form::Labor => item.unit.dimension,
        });
        let takes_measure = matches!(draft.line.usage, Usage::Count);
        let is_number = quantity.dimension == Dimension::NUMBER;
        if !is_number && (quantity.dimension != own || !takes_measure) {
            let words = if own == Dimension::NUMBER || !takes_measure {
                "number".to_owned()
            } else {
                format!("number or {own}")
            };
            row.error(at, Problem::NotAMeasure { text: row.shown(at), expected: words });
            return None;
        }
        let name = || row.shown(self.columns.component);
        let is_under_option = matches!(draft.line.parent, Parent::Option(_))
            || draft
                .line
                .when
                .iter()
                .flat_map(Expression::names)
                .any(|name| self.options.find(name).is_some());
        if quantity.value.is_negative() && !is_under_option {
            let problem = Problem::QuantityNegative { component: name(), quantity: row.shown(at) };
            let hint = "only lines of an option take away";
            row.error_with_hint(at, problem, Some(hint.to_owned()));
        }
        if is_number && quantity.value.abs() > Ratio::whole(MOST) {
            row.error(at, Problem::QuantityAbsurd { component: name(), quantity: row.shown(at) });
        }
        Some(quantity)
    }

    /// Checks a count of an item that is cut from sizes: a piece, or whole stock sizes where there is one.
    fn count(&self, draft: &Draft, item: &Item, sizes: &[&Size]) {
        let (line, columns) = (draft.line, self.columns);
        if line.length.is_some() || line.width.is_some() {
            self.piece(draft, item, sizes);
        } else if line.quantity.as_constant().is_some() && sizes.len() > 1 {
            let what = format!("item `{}` has {} sizes and", item.name, sizes.len());
            let problem = Problem::DimensionMissing { what, dimension: "length".to_owned() };
            draft.row.error(columns.length, problem);
        }
    }

    fn piece(&self, draft: &Draft, item: &Item, sizes: &[&Size]) {
        let (line, columns) = (draft.line, self.columns);
        self.needs(draft, columns.length, "length");
        if item.form == Form::Linear {
            let reason = "a linear item is cut by its length alone";
            unused(draft, columns.width, "width", reason, Severity::Note);
        } else {
            self.needs(draft, columns.width, "width");
        }
        for (at, side) in [(columns.length, &line.length), (columns.width, &line.width)] {
            if length(side.as_ref()) == Some(Length::ZERO) {
                draft.row.out_of_range(at, "above zero");
            }
        }
        let Some(long) = length(line.length.as_ref()) else { return };
        let wide = if item.form == Form::Linear {
            Length::ZERO
        } else {
            let Some(wide) = length(line.width.as_ref()) else { return };
            wide
        };
        let grain = line.grain.unwrap_or(item.grain);
        let piece = WantedPiece { length: long, width: wide, grain };
        let unit = &self.book.settings.length_unit;
        if let Some(problem) = misfit(item, sizes, unit, piece) {
            draft.row.tell(Severity::Gap, Some(columns.length), problem);
        }
    }

    fn opening(&self, draft: &Draft) {
        self.needs(draft, self.columns.length, "length");
        self.needs_width(draft);
    }

    fn needs(&self, draft: &Draft, at: At, dimension: &str) {
        if draft.row.is_empty(at) {
            let problem = Problem::DimensionMissing {
                what: self.what(draft),
                dimension: dimension.to_owned(),
            };
            draft.row.error(at, problem);
        }
    }

    fn needs_width(&self, draft: &Draft) {
        let row = draft.row;
        if row.is_empty(self.columns.width) && row.is_empty(self.columns.height) {
            let problem = Problem::DimensionMissing {
                what: self.what(draft),
                dimension: "width or height".to_owned(),
            };
            row.error(self.columns.width, problem);
        }
    }

    fn what(&self, draft: &Draft) -> String {
        let name = draft.row.shown(self.columns.component);
        match draft.line.usage {
            Usage::Count | Usage::Piece => format!("a piece of `{name}`"),
            usage => format!("use `{}` of `{name}`", usage.name()),
        }
    }

    fn unused_cover(&self, draft: &Draft) {
        if draft.line.rows != Rows::Cheaper {
            unused(
                draft,
                self.columns.rows,
                "rows",
                "only use `cover` lays rows",
                Severity::Warning,
            );
        }
        if draft.line.further.gap != Length::ZERO {
            unused(draft, self.columns.gap, "gap", "only use `cover` lays rows", Severity::Warning);
        }
    }
}

/// Tells that a cell is not used, if it holds something.
fn unused(draft: &Draft, at: At, dimension: &str, reason: &str, severity: Severity) {
    if !draft.row.is_empty(at) {
        let problem =
            Problem::DimensionUnused { dimension: dimension.to_owned(), reason: reason.to_owned() };
        draft.row.tell(severity, Some(at), problem);
    }
}

/// Tells whether items of this form can be taken so (docs/book.md, how a line is taken).
fn fits(usage: Usage, item: &Item) -> bool {
    let covers =
        |dimension| item.coverage.as_ref().is_some_and(|coverage| coverage.dimension == dimension);
    let is_bulk_of = |dimension| item.form == Form::Bulk && item.unit.dimension == dimension;
    let is_measured = matches!(item.form, Form::Bulk | Form::Count);
    match usage {
        Usage::Count => true,
        Usage::Opening => item.form != Form::Labor,
        Usage::Piece => item.is_nested(),
        Usage::Cover => match item.form {
            Form::Sheet | Form::Roll => true,
            Form::Linear => item.net_width.is_some(),
            Form::Bulk | Form::Count => covers(Dimension::AREA),
            Form::Labor => false,
        },
        Usage::Run => {
            matches!(item.form, Form::Linear | Form::Roll)
                || is_bulk_of(Dimension::LENGTH)
                || (is_measured && covers(Dimension::LENGTH))
        }
        Usage::Fill => {
            item.form == Form::Roll
                || is_bulk_of(Dimension::AREA)
                || (item.form != Form::Labor && covers(Dimension::AREA))
        }
    }
}

/// Returns what an item lacks for a use that its form could have.
fn lacking(usage: Usage, item: &Item) -> &'static str {
    match (usage, item.form) {
        (Usage::Cover, Form::Linear) => " without `net_width`",
        (Usage::Cover | Usage::Fill, Form::Bulk | Form::Count) => " without a `coverage` by area",
        (Usage::Run, Form::Bulk | Form::Count) => " without a `coverage` by length",
        _ => "",
    }
}

/// Returns a constant, or tells that it has not this dimension.
fn constant(
    draft: &Draft,
    at: At,
    expression: Option<&Expression>,
    dimension: Dimension,
) -> Option<Ratio> {
    let measure = expression?.as_constant()?;
    if measure.dimension == dimension || measure.value.is_zero() {
        return Some(measure.value.clone());
    }
    let (expected, hint) = expected(measure.dimension, dimension);
    let problem = Problem::NotAMeasure { text: draft.row.shown(at), expected };
    draft.row.error_with_hint(at, problem, hint);
    None
}

/// Returns a constant length.
fn length(expression: Option<&Expression>) -> Option<Length> {
    expression?.as_constant()?.to_length()
}
