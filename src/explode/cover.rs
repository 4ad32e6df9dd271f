use crate::diag::Problem;
use crate::explode::Cut;
use crate::model::BillLine;
use crate::model::Book;
use crate::model::Edges;
use crate::model::Form;
use crate::model::Grain;
use crate::model::Item;
use crate::model::ItemId;
use crate::model::Rows;
use crate::quantity::Length;
use crate::quantity::Ratio;

/// Most pieces one cover is laid in; a hostile size of a millionth of an inch would take forever.
const MOST_PIECES: i64 = 1_000_000;

/// An area to cover.
#[derive(Clone, Copy, Debug)]
pub(super) struct Area {
    pub length: Length,
    pub width: Length,
}

/// How an area was laid.
#[derive(Debug)]
pub(super) struct Laid {
    pub cuts: Vec<Cut>,
    /// What stays on the trailer, in square nanometers (linear: nanometers).
    pub rides: Ratio,
    /// The side of the area the rows run along.
    pub along: &'static str,
    /// Whether the direction was chosen here, because it takes less.
    pub was_chosen: bool,
    /// Width of the area that a row covers.
    pub face: Length,
    estimate: Ratio,
}

/// The stock one row is made of.
struct Strip {
    length: Length,
    width: Length,
    /// Cost of a whole one; its area where no price is known.
    cost: Ratio,
}

/// Lays an area in rows, taking the stock size and direction with the least estimated cost.
///
/// The estimate counts each piece by its area, but a piece that needs one factory edge by half a sheet's width at
/// least, since a sheet has two.
pub(super) fn lay(book: &Book, id: ItemId, line: &BillLine, area: Area) -> Result<Laid, Problem> {
    let item = book.item(id);
    let strips = strips(book, id, area)?;
    let grain = line.grain.unwrap_or(item.grain);
    let directions: &[Rows] = match (line.rows, grain, item.form) {
        (Rows::Length, ..) | (Rows::Cheaper, Grain::Length, _) => &[Rows::Length],
        (Rows::Width, ..) | (Rows::Cheaper, Grain::Width, _) => &[Rows::Width],
        (Rows::Cheaper, Grain::None, _) => &[Rows::Length, Rows::Width],
    };
    let mut best: Option<Laid> = None;
    let mut estimates: Vec<Ratio> = Vec::new();
    for direction in directions {
        let mut least: Option<Laid> = None;
        for strip in &strips {
            let laid = lay_rows(item, line, area, *direction, strip)?;
            if least.as_ref().is_none_or(|least| laid.estimate < least.estimate) {
                least = Some(laid);
            }
        }
        let Some(least) = least else { continue };
        estimates.push(least.estimate.clone());
        if best.as_ref().is_none_or(|best| least.estimate < best.estimate) {
            best = Some(least);
        }
    }
    let mut best = best.ok_or_else(|| Problem::SizeMissing { item: item.name.clone() })?;
    best.was_chosen = matches!(estimates.as_slice(), [first, second] if first != second);
    Ok(best)
}

fn strips(book: &Book, id: ItemId, area: Area) -> Result<Vec<Strip>, Problem> {
    let item = book.item(id);
    let missing = || Problem::SizeMissing { item: item.name.clone() };
    let sizes = book.sizes_of(id).iter().map(|size| (*size, &book.sizes[size.index()]));
    if item.form == Form::Linear {
        let dressed = item.nominal.map(|nominal| nominal.dressed_width);
        let width = item.net_width.or(dressed).ok_or_else(|| Problem::DimensionMissing {
            what: format!("`{}`, to cover an area,", item.name),
            dimension: "net_width".to_owned(),
        })?;
        // The longest stick makes the fewest joints; one made to length makes none.
        let made_to_length = area.length.max(area.width);
        let length = sizes
            .map(|(_, size)| size.length.map_or(made_to_length, |length| length - item.trim * 2))
            .max()
            .unwrap_or(made_to_length);
        return Ok(vec![Strip { length, width, cost: length.to_ratio() }]);
    }
    let mut strips: Vec<Strip> = sizes
        .filter_map(|(id_of_size, size)| {
            let (length, width) = (size.length?, size.width?);
            let measure = Ratio::whole(length.area(width));
            let priced = book.price(id, Some(id_of_size), book.as_of());
            let money = priced.and_then(|priced| item.money(&priced.price, &measure, &Ratio::ONE));
            let cost = money.filter(|money| !money.is_zero()).unwrap_or(measure);
            // Rolls are trimmed at their ends only, and locking edges are never trimmed away.
            let is_trimmed_across = item.form == Form::Sheet && !item.has_factory_edges;
            let width = if is_trimmed_across { width - item.trim * 2 } else { width };
            Some(Strip { length: length - item.trim * 2, width, cost })
        })
        .collect();
    // The order of the table decides nothing: of strips that cost the same the longest makes the fewest joints.
    strips.sort_by_key(|strip| std::cmp::Reverse((strip.length, strip.width)));
    if strips.is_empty() { Err(missing()) } else { Ok(strips) }
}

fn lay_rows(
    item: &Item,
    line: &BillLine,
    area: Area,
    direction: Rows,
    strip: &Strip,
) -> Result<Laid, Problem> {
    let (along, across, side) = match direction {
        Rows::Width => (area.width, area.length, "width"),
        Rows::Length | Rows::Cheaper => (area.length, area.width, "length"),
    };
    let has_edges = item.has_factory_edges;
    let net = match item.form {
        Form::Linear => strip.width,
        _ => item.net_width.unwrap_or(strip.width).min(strip.width),
    };
    let locked = strip.width - net;
    // A net width says what a row covers, laps and all.
    let pitch = if item.net_width.is_some() { net } else { net - item.overlap } + line.further.gap;
    if pitch <= Length::ZERO || strip.length <= Length::ZERO {
        return Err(Problem::OutOfRange {
            text: item.name.clone(),
            range: "its rows have no width".to_owned(),
        });
    }
    let rows = 1 + quotient_up(across - net, pitch).max(0);
    // Where the gap after a row reaches the end of the area, no further row begins.
    let row_count = if across > pitch * (rows - 1) { rows } else { rows - 1 };
    let piece_estimate =
        row_count.saturating_mul(1 + along.nanometers() / strip.length.nanometers());
    if piece_estimate > MOST_PIECES {
        return Err(Problem::Overflow { what: format!("the number of pieces of `{}`", item.name) });
    }
    let last_width = across - pitch * (row_count - 1);
    let mut laid = Laid {
        cuts: Vec::new(),
        rides: Ratio::ZERO,
        along: side,
        was_chosen: false,
        face: net,
        estimate: Ratio::ZERO,
    };
    let is_linear = item.form == Form::Linear;
    let first_rows = lengths_of_row(along, strip.length, Length::ZERO, line.further.gap);
    let shifted_rows = lengths_of_row(along, strip.length, item.stagger, line.further.gap);
    for row in 0..row_count {
        let is_ripped = row + 1 == row_count && last_width < net;
        let (width, edges) = match (is_ripped, has_edges) {
            // A single row has no neighbor to lock into.
            (true, true) if row_count > 1 => ((last_width + locked).min(strip.width), Edges::One),
            (true, _) => (last_width, Edges::None),
            (false, true) => (strip.width, Edges::Both),
            (false, false) => (strip.width, Edges::None),
        };
        let lengths = if row % 2 == 0 { &first_rows } else { &shifted_rows };
        for length in lengths {
            let cut = Cut {
                length: *length,
                width: if is_linear { Length::ZERO } else { width },
                may_turn: false,
                edges: if is_linear { Edges::None } else { edges },
                count: 1,
            };
            match laid.cuts.iter_mut().find(|known| Cut { count: 1, ..**known } == cut) {
                Some(known) => known.count += 1,
                None => laid.cuts.push(cut),
            }
            let measure =
                if is_linear { length.to_ratio() } else { Ratio::whole(length.area(width)) };
            laid.rides += &measure;
            let counted = match edges {
                Edges::One => Ratio::whole(length.area(width)).max(half(length.area(strip.width))),
                _ => Ratio::whole(length.area(width)),
            };
            laid.estimate += &counted;
        }
    }
    let whole = Ratio::whole(strip.length.area(strip.width));
    laid.estimate = (&laid.estimate * &strip.cost).checked_div(&whole).unwrap_or(Ratio::ZERO);
    Ok(laid)
}

/// Returns the lengths of the pieces of one row; `shift` is the length of its first piece where joints are staggered.
fn lengths_of_row(along: Length, stock: Length, shift: Length, gap: Length) -> Vec<Length> {
    let mut lengths = Vec::new();
    let mut rest = along;
    if Length::ZERO < shift && shift < stock && shift < rest {
        lengths.push(shift);
        rest = rest - shift - gap;
    }
    while rest > Length::ZERO {
        let length = rest.min(stock);
        lengths.push(length);
        rest = rest - length - gap;
    }
    lengths
}

fn quotient_up(dividend: Length, divisor: Length) -> i64 {
    let (dividend, divisor) = (dividend.nanometers(), divisor.nanometers());
    dividend.div_euclid(divisor) + i64::from(dividend.rem_euclid(divisor) != 0)
}

fn half(area: i128) -> Ratio {
    Ratio::new(area, 2).expect("two is not zero")
}
