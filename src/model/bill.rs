use std::ops::{Deref, DerefMut};

use jiff::civil::Date;

use crate::formula::Expression;
use crate::model::{AssemblyId, Attribute, Grain, ItemId, OptionId, PlanId, RowRef};
use crate::quantity::{Length, Ratio};

/// What a bill line belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Parent {
    /// A plan.
    Plan(PlanId),
    /// An assembly.
    Assembly(AssemblyId),
    /// An option: its lines join the plan's own when it is taken.
    Option(OptionId),
}

/// What a bill line takes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Component {
    /// An assembly.
    Assembly(AssemblyId),
    /// An item.
    Item(ItemId),
}

/// How a component is taken.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Usage {
    /// A count, a whole stock size, or an amount in the item's unit.
    #[default]
    Count,
    /// Pieces of a size.
    Piece,
    /// Enough to cover an area in rows.
    Cover,
    /// Enough for a length, splices allowed.
    Run,
    /// An area less the parent's openings.
    Fill,
    /// A count whose area is added to the parent's openings.
    Opening,
}

impl Usage {
    /// Returns the word the book has for it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Usage::Count => "count",
            Usage::Piece => "piece",
            Usage::Cover => "cover",
            Usage::Run => "run",
            Usage::Fill => "fill",
            Usage::Opening => "opening",
        }
    }
}

/// Which way the rows of a cover run.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Rows {
    /// Whichever takes less; the choice is stated.
    #[default]
    Cheaper,
    /// Rows run along the length of the area.
    Length,
    /// Rows run along the width of the area.
    Width,
}

/// One end of the time a line holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Effective {
    /// A day.
    Date(Date),
    /// The number of a unit, written `#412`.
    Unit(u32),
}

/// One row of a bill.
#[derive(Clone, Debug)]
pub struct BillLine {
    /// What it belongs to.
    pub parent: Parent,
    /// What it takes.
    pub component: Component,
    /// How it is taken.
    pub usage: Usage,
    /// How many, or how much in the item's unit; may be negative under an option.
    pub quantity: Expression,
    /// Length of a piece, area or passed dimension.
    pub length: Option<Expression>,
    /// Width of a piece, area or passed dimension.
    pub width: Option<Expression>,
    /// Height passed to an assembly; the second side of an area where no width is given.
    pub height: Option<Expression>,
    /// Condition for the line to hold.
    pub when: Option<Expression>,
    /// Which way rows of a cover run.
    pub rows: Rows,
    /// Grain that overrides the item's.
    pub grain: Option<Grain>,
    /// What few lines say.
    pub further: Further,
    /// Where it stands.
    pub row: RowRef,
}

/// What few lines say; a line that says none of it has no room for it, since a bill may have millions.
///
/// Reads as [`Details`], those of a plain line where nothing is said.
#[derive(Clone, Debug, Default)]
pub struct Further(Option<Box<Details>>);

/// What a line may say beside what it takes and how much.
#[derive(Clone, Debug)]
pub struct Details {
    /// Area cut out of one component.
    pub cutout: Option<Expression>,
    /// Further named values passed to an assembly, names in lower case.
    pub with: Vec<(String, Expression)>,
    /// Gap between pieces of a cover.
    pub gap: Length,
    /// Share of pieces that are spoiled, from 0 to below 1.
    pub scrap: Ratio,
    /// Days the component is needed before its parent is.
    pub offset_days: Option<Ratio>,
    /// Offset from the parent's origin: back from the coupler ball.
    pub x: Option<Expression>,
    /// Offset from the parent's origin: to the right.
    pub y: Option<Expression>,
    /// Offset from the parent's origin: up.
    pub z: Option<Expression>,
    /// How far the component moves to the right when the slide boxes are out; below zero to the left.
    pub travel: Option<Expression>,
    /// From one support of the material to the next.
    pub span: Option<Expression>,
    /// First day or unit the line holds.
    pub from: Option<Effective>,
    /// Last day or unit the line holds.
    pub to: Option<Effective>,
    /// A remark.
    pub note: String,
    /// Other columns.
    pub attributes: Vec<Attribute>,
}

/// Of a line that says nothing further.
static NO_DETAILS: Details = Details {
    cutout: None,
    with: Vec::new(),
    gap: Length::ZERO,
    scrap: Ratio::ZERO,
    offset_days: None,
    x: None,
    y: None,
    z: None,
    travel: None,
    span: None,
    from: None,
    to: None,
    note: String::new(),
    attributes: Vec::new(),
};

impl Deref for Further {
    type Target = Details;
    fn deref(&self) -> &Details {
        self.0.as_deref().unwrap_or(&NO_DETAILS)
    }
}

impl DerefMut for Further {
    fn deref_mut(&mut self) -> &mut Details {
        self.0.get_or_insert_with(|| Box::new(NO_DETAILS.clone()))
    }
}

impl From<Details> for Further {
    fn from(details: Details) -> Further {
        Further((!details.is_empty()).then(|| Box::new(details)))
    }
}

impl Details {
    /// Tells whether nothing is said.
    fn is_empty(&self) -> bool {
        let expressions = [&self.cutout, &self.x, &self.y, &self.z, &self.travel, &self.span];
        expressions.into_iter().all(Option::is_none)
            && self.with.is_empty()
            && self.gap == Length::ZERO
            && self.scrap.is_zero()
            && self.offset_days.is_none()
            && self.from.is_none()
            && self.to.is_none()
            && self.note.is_empty()
            && self.attributes.is_empty()
    }
}

impl BillLine {
    /// Returns every formula of it.
    pub fn formulas(&self) -> impl Iterator<Item = &Expression> {
        let Details { cutout, with, x, y, z, travel, span, .. } = &*self.further;
        let own = [&self.length, &self.width, &self.height, &self.when];
        let further = [cutout, x, y, z, travel, span];
        let with = with.iter().map(|(_, expression)| expression);
        std::iter::once(&self.quantity).chain(own.into_iter().chain(further).flatten()).chain(with)
    }

    /// Tells whether it says no more than a constant quantity of a component.
    #[must_use]
    pub fn is_plain(&self) -> bool {
        self.further.0.is_none()
            && self.usage == Usage::Count
            && self.length.is_none()
            && self.width.is_none()
            && self.height.is_none()
            && self.when.is_none()
            && self.quantity.as_constant().is_some()
    }

    /// Returns a line that counts a component of a parent, with nothing else said.
    #[must_use]
    pub fn plain(
        parent: Parent,
        component: Component,
        quantity: Expression,
        row: RowRef,
    ) -> BillLine {
        BillLine {
            parent,
            component,
            usage: Usage::Count,
            quantity,
            length: None,
            width: None,
            height: None,
            when: None,
            rows: Rows::Cheaper,
            grain: None,
            further: Further::default(),
            row,
        }
    }
}
