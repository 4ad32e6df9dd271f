//! Draws layouts in letters: sheets and rolls to scale, sticks as a bar.
//!
//! A letter is taken to be twice as high as wide. Lines of the drawing stand for cuts, whatever their kerf, so that a
//! drawing shows where pieces lie but is not measured; the list below it says that exactly.

use crate::model::Book;
use crate::model::Size;
use crate::nest::{Layout, Rest};
use crate::quantity::Length;
use crate::render::report::nest::{piece_text, rest_text, stock_text, times};
use crate::render::shown;
use crate::rollup::Nested;

/// A wider drawing shows nothing more.
const MOST_COLUMNS: usize = 100;
/// Least columns, however narrow the terminal.
const LEAST_COLUMNS: usize = 16;
/// What fills waste.
const WASTE: char = '░';
/// What fills an offcut that is kept.
const OFFCUT: char = '·';

/// Ways out of a crossing of lines.
const UP: u8 = 1;
const DOWN: u8 = 2;
const LEFT: u8 = 4;
const RIGHT: u8 = 8;

/// Returns the lines that draw a layout: what it is, the drawing, and what its numbers stand for.
pub(super) fn layout(
    book: &Book,
    nested: &Nested,
    layout: &Layout,
    size: &Size,
    number: usize,
    width: usize,
) -> Vec<String> {
    let unit = &book.settings.length_unit;
    let long = size.length.unwrap_or(layout.taken);
    let mut title = format!("layout {number}, {} {}", times(layout.repeat), stock_text(book, size));
    // Of a long roll only what is taken is drawn.
    let wide = size.width.unwrap_or(Length::ZERO);
    let is_long = nested.instance.charges_length || long > eight(wide);
    let drawn = if wide > Length::ZERO && is_long && layout.taken > Length::ZERO {
        title.push_str(&format!(", {} taken", shown::size(book, Some(layout.taken), None)));
        layout.taken
    } else {
        long
    };
    let mut canvas = Canvas::new(drawn, wide, width);
    let kinds = kinds(layout);
    for rest in &layout.offcuts {
        canvas.fill(canvas.area(*rest), OFFCUT);
    }
    let mut places: Vec<Vec<String>> = vec![Vec::new(); kinds.len()];
    for placement in &layout.placements {
        let kind = kinds.iter().position(|kind| *kind == placement.piece);
        let kind = kind.expect("every piece is among the kinds");
        let area = canvas.area(nested.instance.placed(placement));
        canvas.draw(area, &(kind + 1).to_string());
        let mut place = shown::length(placement.x, unit);
        if wide > Length::ZERO {
            place = format!("({place}, {})", shown::length(placement.y, unit));
        }
        if placement.is_turned {
            place.push_str(" turned");
        }
        places[kind].push(place);
    }
    for rest in &layout.splices {
        canvas.draw(canvas.area(*rest), "run");
    }
    let mut lines = if number > 1 { vec![String::new(), title] } else { vec![title] };
    lines.extend(canvas.lines());
    for (number, (kind, places)) in (1..).zip(kinds.iter().zip(&places)) {
        let piece = piece_text(&nested.instance.pieces[*kind], unit);
        let count = places.len();
        lines.push(format!("  {number}: {count} of {piece} {} at {}", unit.name, places.join(" ")));
    }
    let rests = |what: &str, rests: &[Rest]| {
        let texts: Vec<String> = rests.iter().map(|rest| rest_text(*rest, unit)).collect();
        (!texts.is_empty()).then(|| format!("  {what} {} {}", texts.join(", "), unit.name))
    };
    lines.extend(rests("run:", &layout.splices));
    lines.extend(rests("· kept:", &layout.offcuts));
    lines
}

/// Returns the kinds of piece of a layout in the order that they first come; what is drawn and listed has the number of its
/// kind among them, from 1.
pub(super) fn kinds(layout: &Layout) -> Vec<usize> {
    let mut kinds: Vec<usize> = Vec::new();
    for placement in &layout.placements {
        if !kinds.contains(&placement.piece) {
            kinds.push(placement.piece);
        }
    }
    kinds
}

fn eight(length: Length) -> Length {
    Length::from_nanometers(length.nanometers().saturating_mul(8))
}

/// A part of a canvas by its lines: left, right, top, bottom.
type Area = [usize; 4];

/// A grid of letters; lines run through the letters, so that neighbors share them.
struct Canvas {
    long: Length,
    wide: Length,
    columns: usize,
    rows: usize,
    letters: Vec<Vec<char>>,
    /// The ways out of each letter that is part of a line.
    crossings: Vec<Vec<u8>>,
}

impl Canvas {
    fn new(long: Length, wide: Length, width: usize) -> Canvas {
        let columns = width.saturating_sub(1).clamp(LEAST_COLUMNS, MOST_COLUMNS);
        let rows =
            if wide == Length::ZERO { 2 } else { scaled(wide, long, columns).div_ceil(2).max(2) };
        let mut canvas = Canvas {
            long,
            wide,
            columns,
            rows,
            letters: vec![vec![WASTE; columns + 1]; rows + 1],
            crossings: vec![vec![0; columns + 1]; rows + 1],
        };
        canvas.frame([0, columns, 0, rows]);
        canvas
    }

    fn area(&self, rest: Rest) -> Area {
        let end = |start: Length, extent: Length| start.checked_add(extent).unwrap_or(start);
        let across = |at: Length| scaled(at, self.long, self.columns).min(self.columns);
        let down = |at: Length| scaled(at, self.wide, self.rows).min(self.rows);
        let (top, bottom) = if self.wide == Length::ZERO {
            (0, self.rows)
        } else {
            (down(rest.y), down(end(rest.y, rest.width)))
        };
        [across(rest.x), across(end(rest.x, rest.length)), top, bottom]
    }

    fn fill(&mut self, [left, right, top, bottom]: Area, letter: char) {
        for row in &mut self.letters[top..=bottom] {
            row[left..=right].fill(letter);
        }
    }

    /// Adds the lines around an area to those that are there.
    fn frame(&mut self, [left, right, top, bottom]: Area) {
        for column in left..=right {
            let ways =
                if column > left { LEFT } else { 0 } | if column < right { RIGHT } else { 0 };
            self.crossings[top][column] |= ways;
            self.crossings[bottom][column] |= ways;
        }
        for row in top..=bottom {
            let ways = if row > top { UP } else { 0 } | if row < bottom { DOWN } else { 0 };
            self.crossings[row][left] |= ways;
            self.crossings[row][right] |= ways;
        }
    }

    /// Draws a piece with its label in the middle, if there is room for it.
    fn draw(&mut self, area: Area, label: &str) {
        let [left, right, top, bottom] = area;
        self.fill(area, ' ');
        self.frame(area);
        let room = right.saturating_sub(left + 1);
        if room < label.len() || bottom.saturating_sub(top) < 2 {
            return;
        }
        let start = left + 1 + (room - label.len()) / 2;
        let row = &mut self.letters[usize::midpoint(top, bottom)];
        for (letter, sign) in row[start..].iter_mut().zip(label.chars()) {
            *letter = sign;
        }
    }

    fn lines(&self) -> impl Iterator<Item = String> {
        self.letters.iter().zip(&self.crossings).map(|(letters, crossings)| {
            let signs =
                letters.iter().zip(crossings).map(|(letter, ways)| line(*ways).unwrap_or(*letter));
            signs.collect()
        })
    }
}

/// Returns the place of a length on an axis of so many steps, to the nearest.
fn scaled(length: Length, axis: Length, steps: usize) -> usize {
    let (length, axis) = (i128::from(length.nanometers()), i128::from(axis.nanometers()).max(1));
    let steps = i128::try_from(steps).expect("a terminal's width is small");
    usize::try_from((length * steps * 2 + axis) / (axis * 2)).unwrap_or(0)
}

/// Returns the letter of a crossing of lines.
fn line(ways: u8) -> Option<char> {
    const VERTICAL: u8 = UP | DOWN;
    const HORIZONTAL: u8 = LEFT | RIGHT;
    Some(match ways {
        0 => return None,
        UP | DOWN | VERTICAL => '│',
        LEFT | RIGHT | HORIZONTAL => '─',
        5 => '┘',
        6 => '┐',
        9 => '└',
        10 => '┌',
        7 => '┤',
        11 => '├',
        13 => '┴',
        14 => '┬',
        _ => '┼',
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn inches(count: i64) -> Length {
        Length::from_inches(count, 1).unwrap()
    }

    fn rest(sides: [i64; 4]) -> Rest {
        let [x, y, length, width] = sides.map(inches);
        Rest { x, y, length, width }
    }

    #[track_caller]
    fn check(canvas: &Canvas, expected: &[&str]) {
        assert_eq!(canvas.lines().collect::<Vec<_>>(), expected);
    }

    #[test]
    fn a_sheet_is_drawn_to_scale_and_neighbors_share_their_line() {
        let mut canvas = Canvas::new(inches(96), inches(48), 33);
        canvas.fill(canvas.area(rest([72, 0, 24, 48])), OFFCUT);
        canvas.draw(canvas.area(rest([0, 0, 48, 24])), "1");
        canvas.draw(canvas.area(rest([48, 0, 24, 48])), "2");
        check(
            &canvas,
            &[
                "┌───────────────┬───────┬───────┐",
                "│               │       │·······│",
                "│       1       │       │·······│",
                "│               │       │·······│",
                "├───────────────┤   2   │·······│",
                "│░░░░░░░░░░░░░░░│       │·······│",
                "│░░░░░░░░░░░░░░░│       │·······│",
                "│░░░░░░░░░░░░░░░│       │·······│",
                "└───────────────┴───────┴───────┘",
            ],
        );
    }

    #[test]
    fn a_stick_is_a_bar() {
        let mut canvas = Canvas::new(inches(96), Length::ZERO, 25);
        canvas.draw(canvas.area(rest([0, 0, 48, 0])), "1");
        canvas.draw(canvas.area(rest([48, 0, 4, 0])), "12");
        check(
            &canvas,
            &[
                "┌───────────┬┬──────────┐",
                "│     1     ││░░░░░░░░░░│",
                "└───────────┴┴──────────┘",
            ],
        );
    }
}
