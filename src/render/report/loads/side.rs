//! Draws a trailer from its left side in letters: bars of the weight along each foot, the coupler, the body, the axles and
//! the center of gravity below them.

use crate::loads::BuildLoads;
use crate::model::Book;
use crate::quantity::Length;
use crate::quantity::Ratio;
use crate::render::shown;

/// Lines of letters that the highest bar takes.
const ROWS: i128 = 8;
/// Letters per foot.
const LETTERS: i128 = 2;
/// Eighths of a letter, from nothing to a full one.
const EIGHTHS: [char; 9] = [' ', '▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];

/// Returns the lines of a drawing; nothing where no weight has a position.
pub(super) fn view(book: &Book, build: &BuildLoads) -> Option<Vec<String>> {
    let profile = build.profile.as_ref()?;
    let highest = profile.feet.iter().max().filter(|highest| **highest > Ratio::ZERO)?;
    let support = build.conditions.first().and_then(|dry| dry.support.as_ref());
    let geometry = &build.geometry;
    let axles = geometry.axles();
    let center = support.map(|support| &support.center_back);
    let foot_of = |back: &Ratio| {
        let feet = back.checked_div(&Length::FOOT.to_ratio())?;
        feet.floor().to_integer()
    };
    let marks = || axles.iter().chain(center).chain(&geometry.rear).filter_map(foot_of);
    let first = marks().chain([0, i128::from(profile.first)]).min()?;
    let length = i128::try_from(profile.feet.len()).ok()?;
    let last = marks().chain([i128::from(profile.first) + length - 1]).max()?;
    // An axle or rear end that lies far off would stretch the drawing beyond any page.
    if last - first > 2 * length.max(60) {
        return None;
    }
    let weight_at = |foot: i128| {
        let index = usize::try_from(foot - i128::from(profile.first)).ok()?;
        profile.feet.get(index)
    };
    let heights: Vec<i128> = (first..=last)
        .map(|foot| weight_at(foot).map_or(0, |weight| eighths(weight, highest)))
        .collect();
    let mut lines = Vec::new();
    for row in (0..ROWS).rev() {
        let letters = heights.iter().map(|height| {
            let filled = usize::try_from((height - row * 8).clamp(0, 8)).unwrap_or(0);
            EIGHTHS[filled].to_string().repeat(usize::try_from(LETTERS).unwrap_or(1))
        });
        lines.push(format!("  {}", letters.collect::<String>()).trim_end().to_owned());
    }
    let columns = usize::try_from((last - first + 1) * LETTERS).ok()?;
    let column = |back: &Ratio| {
        let per = Length::FOOT.to_ratio();
        let from = back - &(Ratio::whole(first) * &per);
        let letters = (from * Ratio::whole(LETTERS)).checked_div(&per)?.floor().to_integer()?;
        usize::try_from(letters).ok().map(|column| column.min(columns - 1))
    };
    let mut frame = vec![' '; columns];
    let coupler = column(&Ratio::ZERO)?;
    let front = geometry.front.as_ref().and_then(column);
    let rear = geometry.rear.as_ref().and_then(column);
    let end = rear.unwrap_or(columns - 1);
    for (at, letter) in frame.iter_mut().enumerate() {
        *letter = match front {
            _ if at < coupler || at > end => ' ',
            Some(front) if at < front => '─',
            _ => '▀',
        };
    }
    frame[coupler] = '●';
    let mut below = vec![' '; columns];
    for axle in axles.iter().filter_map(column) {
        below[axle] = '◯';
    }
    if let Some(center) = center.and_then(column) {
        // An axle right below the center of gravity gives way: the legend tells both.
        below[center] = '▲';
    }
    for drawn in [frame, below] {
        let line: String = drawn.into_iter().collect();
        lines.push(format!("  {line}").trim_end().to_owned());
    }
    let unit = &book.settings.weight_unit;
    let most = highest.checked_div(&unit.factor).unwrap_or(Ratio::ZERO);
    lines.push(format!(
        "  ● coupler  ◯ axle  ▲ center of gravity; {LETTERS} letters a foot, the highest bar {} {}",
        shown::parted(&shown::fixed(&most, 0)),
        unit.name
    ));
    lines.push(
        "  Weight stands where the bill puts it, however long its parts are; what is put in the middle of the floor is spread over it."
            .to_owned(),
    );
    Some(lines)
}

/// Returns the height of a bar in eighths of a letter, one at least for any weight.
fn eighths(weight: &Ratio, highest: &Ratio) -> i128 {
    if *weight <= Ratio::ZERO {
        return 0;
    }
    let share = weight.checked_div(highest).unwrap_or(Ratio::ZERO);
    let half = Ratio::decimal(5, 1);
    (share * Ratio::whole(ROWS * 8) + half).floor().to_integer().unwrap_or(0).max(1)
}
