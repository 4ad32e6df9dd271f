use crate::model::{Attribute, BookHeight, ItemId, OrderTerms, Price, RowRef};
use crate::quantity::text::exact;
use crate::quantity::{Dimension, Length, Measure, Ratio};

/// The shape an item is bought in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Form {
    /// Panels, cut in two directions.
    Sheet,
    /// Goods on a roll.
    Roll,
    /// Sticks, cut to length.
    Linear,
    /// Whole things.
    Count,
    /// Anything measured out: by length, area, volume or weight.
    Bulk,
    /// Work.
    Labor,
}

impl Form {
    /// Returns the word the book has for it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Form::Sheet => "sheet",
            Form::Roll => "roll",
            Form::Linear => "linear",
            Form::Count => "count",
            Form::Bulk => "bulk",
            Form::Labor => "labor",
        }
    }

    /// Returns the measure of a piece or size: its length for sticks, else its area, in base units.
    #[must_use]
    pub fn measure(self, length: Length, width: Length) -> i128 {
        match self {
            Form::Linear => i128::from(length.nanometers()),
            _ => length.area(width),
        }
    }
}

/// How an item comes to the line.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Supply {
    /// Ordered for builds.
    #[default]
    Build,
    /// Floor stock.
    Bin,
    /// Owned by the vendor until used.
    Consigned,
    /// Given by the customer.
    Furnished,
}

impl Supply {
    /// Returns the word the book has for it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Supply::Build => "build",
            Supply::Bin => "bin",
            Supply::Consigned => "consigned",
            Supply::Furnished => "furnished",
        }
    }
}

/// Which way a face's grain lies.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Grain {
    /// The piece may be turned.
    #[default]
    None,
    /// The grain runs along the length: a piece's length lies along the stock's length.
    Length,
    /// The grain runs along the width: a piece's width lies along the stock's length.
    Width,
}

/// How much of its factory edges a piece needs.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Edges {
    /// None.
    #[default]
    None,
    /// One of the two long edges: it lies at the bottom or the top of the sheet, at full length.
    One,
    /// Both: it is as wide as the sheet.
    Both,
}

/// A unit of measure, or a pack with a name of its own.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Unit {
    /// Name, as the user wrote it.
    pub name: String,
    /// What it measures.
    pub dimension: Dimension,
    /// How many base units (nanometer, pound, minute, currency unit, or each) it holds; above zero.
    pub factor: Ratio,
}

impl Unit {
    /// The inch.
    #[must_use]
    pub fn inch() -> Unit {
        Unit {
            name: "in".to_owned(),
            dimension: Dimension::LENGTH,
            factor: Length::INCH.to_ratio(),
        }
    }

    /// Writes a length as so many of a unit of length: `47.5 in`.
    #[must_use]
    pub fn told(&self, length: Length) -> String {
        let count = length.to_ratio().checked_div(&self.factor).expect("units are above zero");
        format!("{} {}", exact(&count), self.name)
    }

    /// The pound.
    #[must_use]
    pub fn pound() -> Unit {
        Unit { name: "lb".to_owned(), dimension: Dimension::WEIGHT, factor: Ratio::ONE }
    }

    /// One of something.
    #[must_use]
    pub fn each() -> Unit {
        Unit { name: "each".to_owned(), dimension: Dimension::NUMBER, factor: Ratio::ONE }
    }
}

/// The nominal size of lumber, in inches: 2x3.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Nominal {
    /// Nominal thickness in inches.
    pub thickness: Length,
    /// Nominal width in inches.
    pub width: Length,
    /// Dressed thickness (PS 20, dry).
    pub dressed_thickness: Length,
    /// Dressed width (PS 20, dry).
    pub dressed_width: Length,
}

impl Nominal {
    /// Returns board feet per nanometer of length: nominal thickness (an inch at least) times nominal width.
    #[must_use]
    pub fn board_feet_rate(&self) -> Ratio {
        let thickness = self.thickness.max(Length::INCH);
        let board_foot = Ratio::whole(144) * Length::INCH.to_ratio().power(3);
        Ratio::whole(thickness.area(self.width))
            .checked_div(&board_foot)
            .expect("a board foot is not zero")
    }
}

/// Something bought, or an hour worked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Item {
    /// Name, as the user wrote it.
    pub name: String,
    /// What it is, in words.
    pub description: String,
    /// The shape it is bought in.
    pub form: Form,
    /// The unit quantities are given and printed in; its dimension fits the form (sheet and roll: area, linear:
    /// length, count: number, labor: time, bulk: any).
    pub unit: Unit,
    /// How it comes to the line.
    pub supply: Supply,
    /// Price on the item's own row.
    pub price: Option<Price>,
    /// Weight per base unit of what the form measures: pounds per square nanometer (sheet, roll), per nanometer
    /// (linear), each (count), or per base unit of `unit` (bulk); none for labor.
    pub weight: Option<Ratio>,
    /// Share of the weight that stays on the trailer, from 0 to 1; 1 unless told otherwise.
    pub rides: Ratio,
    /// Thickness.
    pub thickness: Option<Length>,
    /// Largest distance from one support to the next, as its maker states it; above zero.
    pub span_limit: Option<Length>,
    /// Nominal lumber size.
    pub nominal: Option<Nominal>,
    /// The purchase unit and how many of `unit` it holds (`box` of 5000): factor in base units.
    pub pack: Option<Unit>,
    /// Grain of the stock.
    pub grain: Grain,
    /// Pattern repeat along a roll.
    pub repeat: Length,
    /// Offset of the joints from row to row of a cover.
    pub stagger: Length,
    /// Width of a saw cut.
    pub kerf: Length,
    /// Taken off each edge of a sheet, or each end of a stick, before it is cut.
    pub trim: Length,
    /// How many are sawn together at most, for sheets and sticks; sheets have the book's if not said.
    pub book_height: Option<BookHeight>,
    /// What one row covers, below the full width where edges lock (T&G) or lap.
    pub net_width: Option<Length>,
    /// Whether the long edges lock, so that a ripped row needs a factory edge: `net_width` below every stock width
    /// on a sheet.
    pub has_factory_edges: bool,
    /// Overlap of neighboring rows of a cover.
    pub overlap: Length,
    /// What one unit covers or runs: an area, a length or a count.
    pub coverage: Option<Measure>,
    /// The shortest side (sheet) or length (stick, roll) worth keeping.
    pub offcut_min: Option<Length>,
    /// A fixed yield an item is costed at, above 0 and at most 1.
    pub yield_share: Option<Ratio>,
    /// Share lost in every use, from 0 to below 1.
    pub shrinkage: Ratio,
    /// Group, to sum by.
    pub group: String,
    /// Vendor, to sum by and to prefer.
    pub vendor: String,
    /// How it is ordered.
    pub order: OrderTerms,
    /// Share its weight may differ either way, from 0 to below 1; none if not said.
    pub tolerance: Option<Ratio>,
    /// Other columns.
    pub attributes: Vec<Attribute>,
    /// Where it is defined.
    pub row: RowRef,
}

impl Item {
    /// Returns how many base units of [`Item::unit`] one purchase unit holds, for an item that is not bought in sizes: its
    /// pack, or one of its unit.
    #[must_use]
    pub fn purchase_factor(&self) -> &Ratio {
        &self.pack.as_ref().unwrap_or(&self.unit).factor
    }

    /// Returns the name of the purchase unit of an item that is not bought in sizes.
    #[must_use]
    pub fn purchase_unit(&self) -> &str {
        &self.pack.as_ref().unwrap_or(&self.unit).name
    }
}

/// A size an item is bought in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Size {
    /// The item.
    pub item: ItemId,
    /// Length of a stick, sheet (grain direction) or roll; none where it is made to the length ordered.
    pub length: Option<Length>,
    /// Width of a sheet or roll.
    pub width: Option<Length>,
    /// Price of this size.
    pub price: Option<Price>,
    /// Vendor of this size; empty if not said.
    pub vendor: String,
    /// How many can be had, if limited.
    pub available: Option<u32>,
    /// Whether it is an offcut on hand, which is paid and has no other price than its own.
    pub is_offcut: bool,
    /// Where it is defined.
    pub row: RowRef,
}
