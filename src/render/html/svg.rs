//! Drawings of our own: shapes in tenths of a pixel, written as SVG by a template that escapes every text.
//!
//! All places are whole tenths, reckoned from exact lengths, so a drawing is the same on every machine. Colors and line
//! widths are left to the style sheet: a shape has a class.

use std::fmt;

use askama::Template;
use indexmap::IndexMap;

use crate::quantity::{Length, Ratio};
use crate::render::shown;

/// A coordinate or extent in tenths of a pixel.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Tenths(pub(super) i64);

impl fmt::Display for Tenths {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.0 < 0 { "-" } else { "" };
        let (whole, part) = (self.0.unsigned_abs() / 10, self.0.unsigned_abs() % 10);
        match part {
            0 => write!(f, "{sign}{whole}"),
            _ => write!(f, "{sign}{whole}.{part}"),
        }
    }
}

/// A figure that the unit switch of the document can show in another unit: its value is kept beside the text, however the text is rounded.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Figure {
    /// What is shown, in the book's unit.
    pub(super) text: String,
    /// Millimeters to the third decimal place, more than one parted by spaces; empty if it is no length.
    pub(super) millimeters: String,
    /// Exact pounds as a decimal; empty if it is no weight.
    pub(super) pounds: String,
}

impl Figure {
    /// Returns a text that is no measure.
    pub(super) fn text(text: impl Into<String>) -> Figure {
        Figure { text: text.into(), ..Figure::default() }
    }

    /// Returns lengths as they are shown.
    pub(super) fn lengths(text: impl Into<String>, lengths: &[Length]) -> Figure {
        let exact: Vec<String> = lengths
            .iter()
            .map(|length| shown::rounded(&Ratio::decimal(length.nanometers().into(), 6), 3))
            .collect();
        Figure { text: text.into(), millimeters: exact.join(" "), pounds: String::new() }
    }

    /// Returns a weight as it is shown, with its pounds as a decimal.
    pub(super) fn weight(text: impl Into<String>, pounds: String) -> Figure {
        Figure { text: text.into(), millimeters: String::new(), pounds }
    }
}

/// A text in a drawing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Label {
    pub(super) class: &'static str,
    pub(super) at: [Tenths; 2],
    /// Whether it runs upward.
    pub(super) is_turned: bool,
    pub(super) figure: Figure,
}

/// A finished drawing.
#[derive(Clone, Debug, PartialEq, Eq, Template)]
#[template(path = "drawing.html")]
pub(super) struct Drawing {
    /// What it shows, for those who do not see it.
    pub(super) title: String,
    /// Its class in the style sheet.
    pub(super) class: &'static str,
    /// Width and height in tenths.
    pub(super) extent: [Tenths; 2],
    /// Shapes by class: one path each, the lowest first.
    pub(super) paths: IndexMap<&'static str, String>,
    /// Texts, above all shapes.
    pub(super) labels: Vec<Label>,
}

/// Draws: shapes of one class become one path, so that a drawing stays small. All places are in tenths.
#[derive(Debug, Default)]
pub(super) struct Pen {
    paths: IndexMap<&'static str, String>,
    labels: Vec<Label>,
}

impl Pen {
    /// Returns the drawing.
    pub(super) fn finish(self, title: String, class: &'static str, extent: [i64; 2]) -> Drawing {
        let Pen { paths, labels } = self;
        Drawing { title, class, extent: extent.map(Tenths), paths, labels }
    }

    fn path(&mut self, class: &'static str, text: &str) {
        self.paths.entry(class).or_default().push_str(text);
    }

    /// Draws a rectangle: left, top, width, height.
    pub(super) fn rect(&mut self, class: &'static str, at: [i64; 4]) {
        let [left, top, width, height] = at.map(Tenths);
        self.path(class, &format!("M{left} {top}h{width}v{height}h{}z", Tenths(-at[2])));
    }

    /// Draws a line between two points: left, top, right, bottom.
    pub(super) fn line(&mut self, class: &'static str, at: [i64; 4]) {
        let [left, top, right, bottom] = at.map(Tenths);
        let to = if left == right {
            format!("V{bottom}")
        } else if top == bottom {
            format!("H{right}")
        } else {
            format!("L{right} {bottom}")
        };
        self.path(class, &format!("M{left} {top}{to}"));
    }

    /// Draws a disc of the size that the style sheet gives the class: a line without length and with round ends.
    pub(super) fn disc(&mut self, class: &'static str, at: [i64; 2]) {
        let [x, y] = at.map(Tenths);
        self.path(class, &format!("M{x} {y}h0"));
    }

    /// Draws a circle: its middle and radius.
    pub(super) fn circle(&mut self, class: &'static str, [x, y, radius]: [i64; 3]) {
        let [left, top, r, across] = [x - radius, y, radius, 2 * radius].map(Tenths);
        let back = Tenths(-2 * radius);
        self.path(class, &format!("M{left} {top}a{r} {r} 0 1 0 {across} 0a{r} {r} 0 1 0 {back} 0"));
    }

    /// Draws a closed outline.
    pub(super) fn outline(&mut self, class: &'static str, points: &[[i64; 2]]) {
        let points: Vec<String> =
            points.iter().map(|at| format!("{} {}", Tenths(at[0]), Tenths(at[1]))).collect();
        self.path(class, &format!("M{}z", points.join(" ")));
    }

    /// Draws a dimension between two points of one level or upright line, with its arrow heads.
    pub(super) fn dimension(&mut self, at: [i64; 4]) {
        const HEAD: i64 = 60;
        const HALF: i64 = 22;
        let [left, top, right, bottom] = at;
        let heads = if top == bottom {
            let head =
                |tip: i64, to: i64| [[tip, top], [tip + to, top - HALF], [tip + to, top + HALF]];
            [head(left, HEAD), head(right, -HEAD)]
        } else {
            let head =
                |tip: i64, to: i64| [[left, tip], [left - HALF, tip + to], [left + HALF, tip + to]];
            [head(top, HEAD), head(bottom, -HEAD)]
        };
        self.line("dim", at);
        for points in heads {
            self.outline("dim", &points);
        }
    }

    /// Writes a level text.
    pub(super) fn text(&mut self, class: &'static str, at: [i64; 2], figure: Figure) {
        self.labels.push(Label { class, at: at.map(pixels), is_turned: false, figure });
    }

    /// Writes a text that runs upward.
    pub(super) fn turned(&mut self, class: &'static str, at: [i64; 2], figure: Figure) {
        self.labels.push(Label { class, at: at.map(pixels), is_turned: true, figure });
    }
}

/// Returns whole pixels: texts need stand no nearer to their place.
fn pixels(tenths: i64) -> Tenths {
    Tenths((tenths + 5).div_euclid(10) * 10)
}

/// How a length becomes tenths: it is multiplied by the first, in tenths, and divided by the second.
#[derive(Clone, Copy, Debug)]
pub(super) struct Scale {
    tenths: i128,
    nanometers: i128,
}

impl Scale {
    /// Returns the largest scale at which a length and a width fit into extents in tenths.
    pub(super) fn fitting(long: Length, wide: Length, across: i64, down: i64) -> Scale {
        let [long, wide] = [long, wide].map(|length| i128::from(length.nanometers()).max(1));
        let (across, down) = (i128::from(across), i128::from(down));
        if across * wide <= down * long {
            Scale { tenths: across, nanometers: long }
        } else {
            Scale { tenths: down, nanometers: wide }
        }
    }

    /// Returns a length in tenths, to the nearest.
    pub(super) fn of(self, length: Length) -> i64 {
        let doubled = i128::from(length.nanometers()) * self.tenths * 2 + self.nanometers;
        i64::try_from(doubled.div_euclid(self.nanometers * 2)).unwrap_or(i64::MAX)
    }
}

/// Tells how many tenths a text takes at a height of letters: a little more than most fonts need.
pub(super) fn text_width(text: &str, height: i64) -> i64 {
    let letters = unicode_width::UnicodeWidthStr::width(text);
    i64::try_from(letters).unwrap_or(i64::MAX / 1000).saturating_mul(height * 58 / 100)
}

/// Returns what fits of a text at a height of letters, ending in `…` if it is cut; nothing if hardly a letter fits.
pub(super) fn fitting(text: &str, height: i64, room: i64) -> Option<String> {
    if text_width(text, height) <= room {
        return Some(text.to_owned());
    }
    let mut kept = String::new();
    for letter in text.chars() {
        kept.push(letter);
        if text_width(&kept, height) + height > room {
            kept.pop();
            break;
        }
    }
    let kept = kept.trim_end();
    (kept.chars().count() >= 3).then(|| format!("{kept}…"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_drawn_to_the_nearest_tenth() {
        let inches = |count| Length::from_inches(count, 1).unwrap();
        let scale = Scale::fitting(inches(96), inches(48), 7_600, 5_600);
        assert_eq!(scale.of(inches(96)), 7_600);
        assert_eq!(scale.of(inches(48)), 3_800);
        assert_eq!(scale.of(inches(1)), 79);
        let upright = Scale::fitting(inches(10), inches(100), 7_600, 5_600);
        assert_eq!(upright.of(inches(100)), 5_600);
        assert_eq!(
            [Tenths(-5), Tenths(120), Tenths(1)].map(|t| t.to_string()),
            ["-0.5", "12", "0.1"]
        );
    }

    #[test]
    fn texts_are_cut_to_their_room() {
        assert_eq!(fitting("stud", 100, 1_000).as_deref(), Some("stud"));
        assert_eq!(fitting("a very long name of a piece", 100, 600).as_deref(), Some("a very l…"));
        assert_eq!(fitting("stud", 100, 120), None);
    }

    #[test]
    fn every_text_of_a_drawing_is_escaped() {
        let hostile = "</svg><script>alert(1)</script>\"'&]]>";
        let mut pen = Pen::default();
        pen.text("m", [0, 0], Figure::text(hostile));
        let drawing = pen.finish(hostile.to_owned(), "layout", [10, 10]);
        let text = drawing.render().unwrap();
        assert!(
            !text.contains("<script") && !text.contains("]]>") && !text.contains('\''),
            "{text}"
        );
        assert_eq!(text.matches("</svg>").count(), 1);
    }
}
