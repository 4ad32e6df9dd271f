use crate::diag::Diagnostic;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::diag::with_article;
use crate::explode::columns::{Sides, Told};
use crate::explode::cover::{self, Area};
use crate::explode::plain;
use crate::explode::scope::Scope;
use crate::explode::{Context, Cut, Placing, Take, Taken, What};
use crate::formula::Expression;
use crate::formula::Value;
use crate::model::AssemblyId;
use crate::model::BillLine;
use crate::model::Component;
use crate::model::Edges;
use crate::model::Form;
use crate::model::Grain;
use crate::model::Item;
use crate::model::ItemId;
use crate::model::LineId;
use crate::model::Size;
use crate::model::Usage;
use crate::model::WantedPiece;
use crate::model::misfit;
use crate::quantity::Dimension;
use crate::quantity::Length;
use crate::quantity::Measure;
use crate::quantity::Ratio;
use crate::quantity::text::square_feet;

/// More than this of one thing in one parent is a slip of the keyboard.
pub(super) const MOST: i128 = 1_000_000_000;

/// What a negative line must share with the line it takes away from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Match {
    component: Component,
    usage: Usage,
    sides: [Option<Ratio>; 3],
}

impl Context<'_> {
    /// Returns the area an opening line adds to its parent's openings; faults are told when the line is taken.
    pub(super) fn opening(&self, line: LineId, scope: &Scope) -> Ratio {
        let row = self.book.line(line);
        let value = |expression: &Option<Expression>| {
            let value = expression.as_ref()?.evaluate(&|name| self.symbols.value(scope, name));
            match value {
                Ok(Value::Measure(measure)) => Some(measure.value),
                _ => None,
            }
        };
        let sides = [
            value(&Some(row.quantity.clone())),
            value(&row.length),
            value(&row.width).or(value(&row.height)),
        ];
        match sides {
            [Some(quantity), Some(length), Some(across)] => quantity * (length * across),
            _ => Ratio::ZERO,
        }
    }

    /// Returns what one parent takes through a line; nothing if it takes none or a mistake was found.
    pub(super) fn take(&mut self, line: LineId, scope: &Scope) -> Option<Taken> {
        let book = self.book;
        let row = book.line(line);
        if let Some(mut taken) = plain::taken(book, &self.symbols, line, row) {
            self.enter(&mut taken);
            return Some(taken);
        }
        let quantity = self.evaluate(line, "quantity", &row.quantity, scope)?;
        if quantity.value.is_zero() {
            return None;
        }
        if quantity.dimension == Dimension::NUMBER && quantity.value.abs() > Ratio::whole(MOST) {
            let component = book.component_name(row.component).to_owned();
            self.error(
                line,
                "quantity",
                Problem::QuantityAbsurd { component, quantity: quantity.value.to_string() },
            );
            return None;
        }
        let sides = self.sides(line, row, scope)?;
        let placing = self.placing(line, row, scope).ok()?;
        let (quantity, take, weight) = match row.component {
            Component::Assembly(child) => {
                self.take_assembly(line, child, &quantity, &sides, scope)?
            }
            Component::Item(item) => self.take_item(line, item, &quantity, &sides, scope)?,
        };
        Some(Taken { line, quantity, take, weight, placing })
    }

    /// Evaluates the assembly that a line takes without values, if it takes one.
    pub(super) fn enter(&mut self, taken: &mut Taken) {
        if let Take::Assembly(entered) = &mut taken.take
            && let Component::Assembly(child) = self.book.line(taken.line).component
        {
            *entered = self.assembly(child, Scope::default());
            taken.weight.clone_from(&self.instances[entered.index()].load.weight);
        }
    }

    /// Returns what a negative line and the line it takes away from have in common; mistakes were told when they were
    /// taken.
    pub(super) fn key(&mut self, line: LineId, scope: &Scope) -> Match {
        let row = self.book.line(line);
        let sides = self.sides(line, row, scope);
        let sides =
            sides.map_or_else(Default::default, |sides| [sides.length, sides.width, sides.height]);
        Match { component: row.component, usage: row.usage, sides }
    }

    /// Returns where a line says that what it takes stands.
    fn placing(
        &mut self,
        line: LineId,
        row: &BillLine,
        scope: &Scope,
    ) -> Result<Option<Box<Placing>>, Told> {
        let offset = self.offset(line, row, scope).ok_or(Told)?;
        let travel = self.optional_length(line, "travel", row.further.travel.as_ref(), scope)?;
        let span = self.optional_length(line, "span", row.further.span.as_ref(), scope)?;
        if let Some(span) = span {
            self.tell_span(line, span);
        }
        let placing = Placing { offset, travel, span };
        Ok((placing != Placing::default()).then(|| Box::new(placing)))
    }

    /// Tells a span beyond what the item's maker states.
    fn tell_span(&mut self, line: LineId, span: Length) {
        let book = self.book;
        let Component::Item(item) = book.line(line).component else { return };
        let item = book.item(item);
        let Some(limit) = item.span_limit.filter(|limit| span > *limit) else { return };
        let [span, limit] = [span, limit].map(|length| book.settings.length_unit.told(length));
        let problem = Problem::SpanExceeded { item: item.name.clone(), span, limit };
        let place = book.place(book.line(line).row, Some("span"));
        self.warnings.insert(Diagnostic::new(Severity::Warning, place, problem));
    }

    fn take_assembly(
        &mut self,
        line: LineId,
        child: AssemblyId,
        quantity: &Measure,
        sides: &Sides,
        scope: &Scope,
    ) -> Option<(Ratio, Take, Ratio)> {
        let row = self.book.line(line);
        if !matches!(row.usage, Usage::Count | Usage::Opening) {
            self.unfit(line, "an assembly");
            return None;
        }
        let quantity = self.number(line, quantity)?;
        let mut bound: Vec<(&str, Value)> = Vec::new();
        for (name, side) in
            [("length", &sides.length), ("width", &sides.width), ("height", &sides.height)]
        {
            if let Some(side) = side {
                let measure = Measure { value: side.clone(), dimension: Dimension::LENGTH };
                bound.push((name, Value::Measure(measure)));
            }
        }
        if let Some(cutout) = &sides.cutout {
            bound.push((
                "cutout",
                Value::Measure(Measure { value: cutout.clone(), dimension: Dimension::AREA }),
            ));
        }
        for (name, expression) in &row.further.with {
            match expression.evaluate(&|name| self.symbols.value(scope, name)) {
                Ok(value) => bound.push((name, value)),
                Err(fault) => {
                    self.fault(line, "with", expression.text().to_owned(), fault);
                    return None;
                }
            }
        }
        let scope = self.symbols.passed(scope, child, &bound);
        let child = self.assembly(child, scope);
        let weight = self.instances[child.index()].load.weight.clone();
        Some((quantity, Take::Assembly(child), weight))
    }

    fn take_item(
        &mut self,
        line: LineId,
        id: ItemId,
        quantity: &Measure,
        sides: &Sides,
        scope: &Scope,
    ) -> Option<(Ratio, Take, Ratio)> {
        let book = self.book;
        let item = book.item(id);
        let is_length = quantity.dimension == Dimension::LENGTH;
        let usage = match book.line(line).usage {
            Usage::Count if item.is_nested() && sides.length.is_some() => Usage::Piece,
            Usage::Count if matches!(item.form, Form::Linear | Form::Roll) && is_length => {
                Usage::Run
            }
            usage => usage,
        };
        match (usage, item.form) {
            (Usage::Piece, Form::Sheet | Form::Roll | Form::Linear) => {
                self.take_pieces(line, id, quantity, sides)
            }
            (Usage::Run, Form::Linear | Form::Roll) => self.take_run(line, id, quantity, sides),
            (Usage::Cover, Form::Sheet | Form::Roll | Form::Linear) => {
                self.take_cover(line, id, quantity, sides)
            }
            (Usage::Fill, Form::Roll) => {
                let area = self.filled_area(line, quantity, sides, scope)?;
                let width = book.run_width(id)?;
                let run = Length::nearest(&area.checked_div(&width.to_ratio())?);
                let run = self.in_range(line, run)?;
                Some((Ratio::ONE, Take::Run(run), weight_of(item, &area)))
            }
            (Usage::Cover | Usage::Run | Usage::Fill, Form::Bulk | Form::Count) => {
                let (quantity, measure) = match usage {
                    Usage::Run => {
                        let length = if is_length {
                            quantity.value.clone()
                        } else {
                            self.need(line, "length", sides.length.as_ref())?
                        };
                        let times =
                            if is_length { Ratio::ONE } else { self.number(line, quantity)? };
                        (times, Measure { value: length, dimension: Dimension::LENGTH })
                    }
                    Usage::Fill => {
                        let value = self.filled_area(line, quantity, sides, scope)?;
                        (Ratio::ONE, Measure { value, dimension: Dimension::AREA })
                    }
                    _ => {
                        let whole = self.area(line, sides)?;
                        let value = self.net_of_cutout(line, whole, sides.cutout.as_ref())?;
                        (
                            self.number(line, quantity)?,
                            Measure { value, dimension: Dimension::AREA },
                        )
                    }
                };
                let amount = self.covered(line, item, &measure)?;
                let weight = weight_of(item, &amount);
                Some((quantity, Take::Amount(amount), weight))
            }
            (Usage::Count | Usage::Opening, Form::Count | Form::Bulk | Form::Labor) => {
                if usage == Usage::Count {
                    self.tell_unused(line, sides);
                }
                self.take_amount(line, item, quantity)
            }
            (Usage::Count, Form::Sheet | Form::Roll | Form::Linear) => {
                let [size] = book.sizes_of(id) else {
                    self.error_with_hint(
                        line,
                        "quantity",
                        Problem::DimensionMissing {
                            what: format!("`{}`", item.name),
                            dimension: "length".to_owned(),
                        },
                        Some(
                            "a count of whole stock sizes needs an item with exactly one size"
                                .to_owned(),
                        ),
                    );
                    return None;
                };
                let measure = What::Whole(*size).measure(book, id);
                let quantity = self.number(line, quantity)?;
                Some((quantity, Take::Whole(*size), weight_of(item, &measure)))
            }
            _ => {
                self.unfit(line, &format!("form {}", item.form.name()));
                None
            }
        }
    }

    fn take_pieces(
        &mut self,
        line: LineId,
        id: ItemId,
        quantity: &Measure,
        sides: &Sides,
    ) -> Option<(Ratio, Take, Ratio)> {
        let item = self.book.item(id);
        let quantity = self.number(line, quantity)?;
        let length = self.need(line, "length", sides.length.as_ref())?;
        let mut cut = Cut {
            length: self.side(line, "length", &length)?,
            width: Length::ZERO,
            may_turn: false,
            edges: Edges::None,
            count: 1,
        };
        if item.form != Form::Linear {
            let width = self.need(line, "width", sides.across())?;
            cut.width = self.side(line, "width", &width)?;
            let grain = self.book.line(line).grain.unwrap_or(item.grain);
            self.tell_misfit(line, id, WantedPiece { length: cut.length, width: cut.width, grain });
            match grain {
                Grain::None => cut.may_turn = true,
                Grain::Length => {}
                Grain::Width => std::mem::swap(&mut cut.length, &mut cut.width),
            }
        } else if sides.cutout.is_some() {
            self.unfit(line, "a linear item with a cutout");
            return None;
        } else {
            let piece = WantedPiece { length: cut.length, width: cut.width, grain: Grain::Length };
            self.tell_misfit(line, id, piece);
        }
        let measure = cut.what().measure(self.book, id);
        let measure = self.net_of_cutout(line, measure, sides.cutout.as_ref())?;
        Some((quantity, Take::Pieces(vec![cut]), weight_of(item, &measure)))
    }

    /// Tells a piece that no size holds, where a formula gives its size; constant ones are told when the book is read.
    fn tell_misfit(&mut self, line: LineId, id: ItemId, piece: WantedPiece) {
        let (book, row) = (self.book, self.book.line(line));
        let is_constant = |side: &Option<Expression>| {
            side.as_ref().is_none_or(|side| side.as_constant().is_some())
        };
        if [&row.length, &row.width, &row.height].into_iter().all(is_constant) {
            return;
        }
        let sizes: Vec<&Size> =
            book.sizes_of(id).iter().map(|size| &book.sizes[size.index()]).collect();
        if let Some(problem) = misfit(book.item(id), &sizes, &book.settings.length_unit, piece) {
            let place = book.place(row.row, Some("length"));
            self.warnings.insert(Diagnostic::new(Severity::Gap, place, problem));
        }
    }

    fn take_run(
        &mut self,
        line: LineId,
        id: ItemId,
        quantity: &Measure,
        sides: &Sides,
    ) -> Option<(Ratio, Take, Ratio)> {
        let (times, length) = if quantity.dimension == Dimension::LENGTH {
            (Ratio::ONE, quantity.value.clone())
        } else {
            (self.number(line, quantity)?, self.need(line, "length", sides.length.as_ref())?)
        };
        let item = self.book.item(id);
        let run = self.side(line, "length", &length)?;
        let mut measure = run.to_ratio();
        if item.form == Form::Roll {
            let width = self.book.run_width(id).unwrap_or(Length::ZERO);
            measure = measure * width.to_ratio();
        }
        Some((times, Take::Run(run), weight_of(item, &measure)))
    }

    fn take_cover(
        &mut self,
        line: LineId,
        id: ItemId,
        quantity: &Measure,
        sides: &Sides,
    ) -> Option<(Ratio, Take, Ratio)> {
        let book = self.book;
        let (item, row) = (book.item(id), book.line(line));
        let quantity = self.number(line, quantity)?;
        let length = self.need(line, "length", sides.length.as_ref())?;
        let across = self.need(line, "width", sides.across())?;
        let area = Area {
            length: self.side(line, "length", &length)?,
            width: self.side(line, "width", &across)?,
        };
        let laid = match cover::lay(book, id, row, area) {
            Ok(laid) => laid,
            Err(problem) => {
                self.error(line, "component", problem);
                return None;
            }
        };
        if laid.was_chosen {
            let place = book.place(row.row, Some("rows"));
            let text =
                format!("rows of `{}` run along the {}, which takes less", item.name, laid.along);
            self.warnings.insert(Diagnostic::new(Severity::Note, place, Problem::Plain { text }));
        }
        let measure = match (&sides.cutout, item.form) {
            (Some(cutout), Form::Linear) => {
                // A row of boards loses as much length as the opening takes from its face.
                let whole = laid.rides * laid.face.to_ratio();
                self.net_of_cutout(line, whole, Some(cutout))?.checked_div(&laid.face.to_ratio())?
            }
            (cutout, _) => self.net_of_cutout(line, laid.rides, cutout.as_ref())?,
        };
        Some((quantity, Take::Pieces(laid.cuts), weight_of(item, &measure)))
    }

    fn take_amount(
        &mut self,
        line: LineId,
        item: &Item,
        quantity: &Measure,
    ) -> Option<(Ratio, Take, Ratio)> {
        let amount = if quantity.dimension == item.unit.dimension
            && quantity.dimension != Dimension::NUMBER
        {
            quantity.value.clone()
        } else {
            self.number(line, quantity)? * &item.unit.factor
        };
        // The sign stays with the quantity, so that a negative line matches the amount it takes away.
        let sign = if amount.is_negative() { Ratio::whole(-1) } else { Ratio::ONE };
        if item.form == Form::Count {
            return Some((amount, Take::Amount(Ratio::ONE), weight_of(item, &Ratio::ONE)));
        }
        let amount = amount.abs();
        let weight = weight_of(item, &amount);
        Some((sign, Take::Amount(amount), weight))
    }

    /// Returns the amount of an item that covers an area or length, in base units of its unit.
    fn covered(&mut self, line: LineId, item: &Item, measure: &Measure) -> Option<Ratio> {
        if let Some(coverage) = &item.coverage {
            if coverage.dimension == measure.dimension {
                return Some(measure.value.checked_div(&coverage.value)? * &item.unit.factor);
            }
        } else if item.unit.dimension == measure.dimension {
            return Some(measure.value.clone());
        }
        let usage = self.book.line(line).usage.name().to_owned();
        let hint = format!(
            "item `{}` needs a `coverage` that is {}",
            item.name,
            with_article(&measure.dimension.to_string())
        );
        let form = format!("form {}", item.form.name());
        self.error_with_hint(line, "use", Problem::UseUnfit { usage, form }, Some(hint));
        None
    }

    fn filled_area(
        &mut self,
        line: LineId,
        quantity: &Measure,
        sides: &Sides,
        scope: &Scope,
    ) -> Option<Ratio> {
        let times = self.number(line, quantity)?;
        let whole = self.area(line, sides)?;
        let whole = self.net_of_cutout(line, whole, sides.cutout.as_ref())?;
        let area = times * whole - scope.openings();
        if area.is_negative() {
            let openings = square_feet(&scope.openings());
            let area = square_feet(&(area + scope.openings()));
            self.error(line, "length", Problem::OpeningsTooLarge { openings, area });
            return None;
        }
        Some(area)
    }

    fn area(&mut self, line: LineId, sides: &Sides) -> Option<Ratio> {
        let length = self.need(line, "length", sides.length.as_ref())?;
        let across = self.need(line, "width", sides.across())?;
        Some(length * across)
    }

    /// Returns an area less what is cut out of it.
    fn net_of_cutout(
        &mut self,
        line: LineId,
        area: Ratio,
        cutout: Option<&Ratio>,
    ) -> Option<Ratio> {
        let Some(cutout) = cutout else { return Some(area) };
        if *cutout > area {
            let (cutout, area) = (square_feet(cutout), square_feet(&area));
            self.error(line, "cutout", Problem::CutoutTooLarge { cutout, area });
            return None;
        }
        Some(area - cutout)
    }

    fn unfit(&mut self, line: LineId, form: &str) {
        let usage = self.book.line(line).usage.name().to_owned();
        self.error(line, "use", Problem::UseUnfit { usage, form: form.to_owned() });
    }

    fn tell_unused(&mut self, line: LineId, sides: &Sides) {
        let given = [
            ("length", &sides.length),
            ("width", &sides.width),
            ("height", &sides.height),
            ("cutout", &sides.cutout),
        ];
        for (name, _) in given.into_iter().filter(|(_, side)| side.is_some()) {
            let place = self.book.place(self.book.line(line).row, Some(name));
            let reason = "the component is counted".to_owned();
            let problem = Problem::DimensionUnused { dimension: name.to_owned(), reason };
            self.warnings.insert(Diagnostic::new(Severity::Warning, place, problem));
        }
    }
}

/// Returns what `measure` of an item weighs as it rides, in pounds.
pub(super) fn weight_of(item: &Item, measure: &Ratio) -> Ratio {
    match &item.weight {
        Some(weight) if !weight.is_zero() => weight * measure * &item.rides,
        _ => Ratio::ZERO,
    }
}
