use crate::diag::Problem;
use crate::model::Form;
use crate::model::Grain;
use crate::model::Item;
use crate::model::Size;
use crate::model::Unit;
use crate::quantity::Length;

/// A piece as a bill line writes it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct WantedPiece {
    /// Its length.
    pub length: Length,
    /// Its width; zero for sticks.
    pub width: Length,
    /// Which way its grain lies.
    pub grain: Grain,
}

impl Size {
    /// Tells whether a piece can be cut from this size of the item, within the trim.
    ///
    /// A size without a side is made to it. Rolls and sticks are trimmed at their ends only.
    #[must_use]
    pub fn holds(&self, item: &Item, piece: WantedPiece) -> bool {
        let ends = item.trim * 2;
        let edges = if item.form == Form::Sheet { ends } else { Length::ZERO };
        let lies = |along: Length, across: Length| {
            self.length.is_none_or(|length| along + ends <= length)
                && self.width.is_none_or(|width| across + edges <= width)
        };
        let is_straight = lies(piece.length, piece.width);
        let is_turned = self.width.is_some() && lies(piece.width, piece.length);
        match piece.grain {
            Grain::Length => is_straight,
            Grain::Width => is_turned,
            Grain::None => is_straight || is_turned,
        }
    }
}

/// Returns what is wrong with a piece that none of an item's sizes holds; nothing if one does or there are no sizes.
/// Lengths are told in `unit`.
#[must_use]
pub fn misfit(item: &Item, sizes: &[&Size], unit: &Unit, piece: WantedPiece) -> Option<Problem> {
    if sizes.is_empty() || sizes.iter().any(|size| size.holds(item, piece)) {
        return None;
    }
    let shown = |length: Length, width: Length| {
        let sides = [length, width].into_iter().filter(|side| *side != Length::ZERO);
        sides.map(|side| unit.told(side)).collect::<Vec<_>>().join(" x ")
    };
    let sides = |size: &&Size| (size.length.unwrap_or_default(), size.width.unwrap_or_default());
    let largest = sizes.iter().map(sides).max()?;
    Some(Problem::PieceTooLarge {
        item: item.name.clone(),
        piece: shown(piece.length, piece.width),
        largest: shown(largest.0, largest.1),
    })
}
