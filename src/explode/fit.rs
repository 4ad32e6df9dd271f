use crate::diag::Problem;
use crate::explode::Cut;
use crate::model::Book;
use crate::model::Form;
use crate::model::ItemId;
use crate::quantity::Length;
use crate::quantity::text::exact;

/// Returns what is wrong with a piece that no size of its item holds within the trim; nothing if one does, or if the
/// item has no sizes or is made to length.
pub(super) fn misfit(book: &Book, id: ItemId, cut: &Cut) -> Option<Problem> {
    let item = book.item(id);
    let sizes = || book.sizes_of(id).iter().map(|size| &book.sizes[size.index()]);
    let inner = |side: Option<Length>| side.map(|side| side - item.trim * 2);
    let holds = |long: Option<Length>, wide: Option<Length>| match (inner(long), item.form) {
        (None, _) => true,
        (Some(long), Form::Linear) => cut.length <= long,
        (Some(long), form) => {
            // A roll is trimmed at its ends only.
            let wide = if form == Form::Roll { wide } else { inner(wide) }.unwrap_or_default();
            (cut.length <= long && cut.width <= wide)
                || (cut.may_turn && cut.width <= long && cut.length <= wide)
        }
    };
    if sizes().next().is_none() || sizes().any(|size| holds(size.length, size.width)) {
        return None;
    }
    let unit = &book.settings.length_unit;
    let shown = |long: Length, wide: Length| {
        let side = |side: Length| {
            exact(&side.to_ratio().checked_div(&unit.factor).expect("units are above zero"))
        };
        match wide {
            Length::ZERO => format!("{} {}", side(long), unit.name),
            _ => format!("{} x {} {}", side(long), side(wide), unit.name),
        }
    };
    let largest = sizes()
        .map(|size| (size.length.unwrap_or_default(), size.width.unwrap_or_default()))
        .max()?;
    Some(Problem::PieceTooLarge {
        item: item.name.clone(),
        piece: shown(cut.length, cut.width),
        largest: shown(largest.0, largest.1),
    })
}
