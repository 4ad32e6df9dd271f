use crate::explode::Needs;
use crate::model::Book;
use crate::nest::{Kind, Layout, Rest};
use crate::quantity::Length;
use crate::render::report::build_name;
use crate::render::report::nest::{rest_text, stock_text, times};
use crate::rollup::{Nested, Rollup};

/// A layout of a sheet, to scale, without any format.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Drawing {
    /// What it is of, and how often it is cut.
    pub title: String,
    /// Length and width of the sheet.
    pub sheet: [Length; 2],
    /// What lies on it.
    pub parts: Vec<DrawnPart>,
}

/// A rectangle of a layout.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DrawnPart {
    /// Along the sheet's length, and along its width.
    pub at: [Length; 2],
    /// Extents the same way.
    pub size: [Length; 2],
    /// Its size in words.
    pub label: String,
    /// What it is.
    pub kind: DrawnKind,
}

/// What a rectangle of a layout is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DrawnKind {
    /// A piece.
    Piece,
    /// A rest that is kept.
    Offcut,
}

/// Returns every distinct layout of every sheet, in the order of plans and items. Rolls and sticks are not drawn: their
/// lists say as much.
#[must_use]
pub fn drawings(book: &Book, needs: &Needs, rollup: &Rollup) -> Vec<Drawing> {
    let mut drawings = Vec::new();
    for cost in &rollup.builds {
        let plan = build_name(book, &needs.builds[cost.build]);
        let sheets = cost.items.iter().filter_map(|item| {
            let nested = item.nested.as_ref()?;
            matches!(nested.instance.kind, Kind::Guillotine | Kind::Free).then_some((item, nested))
        });
        for (item, nested) in sheets {
            let count = nested.nest.layouts.len();
            for (number, layout) in (1..).zip(&nested.nest.layouts) {
                drawings.push(Drawing {
                    title: format!(
                        "{plan}: {}, layout {number} of {count}, {} {}",
                        book.item(item.item).name,
                        times(layout.repeat),
                        stock_name(book, nested, layout)
                    ),
                    sheet: stock_size(nested, layout),
                    parts: parts(book, nested, layout),
                });
            }
        }
    }
    drawings
}

fn stock_name(book: &Book, nested: &Nested, layout: &Layout) -> String {
    let size = &book.sizes[nested.sizes[layout.stock].index()];
    stock_text(book, size)
}

fn stock_size(nested: &Nested, layout: &Layout) -> [Length; 2] {
    let stock = &nested.instance.stocks[layout.stock];
    [stock.length, stock.width]
}

fn parts(book: &Book, nested: &Nested, layout: &Layout) -> Vec<DrawnPart> {
    let unit = &book.settings.length_unit;
    let part = |rest: Rest, kind: DrawnKind| {
        let size = [rest.length, rest.width];
        DrawnPart { at: [rest.x, rest.y], size, label: rest_text(rest, unit), kind }
    };
    let pieces = layout
        .placements
        .iter()
        .map(|placement| part(nested.instance.placed(placement), DrawnKind::Piece));
    let offcuts = layout.offcuts.iter().map(|rest| part(*rest, DrawnKind::Offcut));
    pieces.chain(offcuts).collect()
}
