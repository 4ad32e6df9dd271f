//! Draws one layout to scale: stock, pieces with names and sizes, cuts in their order, offcuts, grain, outer dimensions.

use crate::model::Grain;
use crate::model::Unit;
use crate::nest::Rest;
use crate::quantity::Length;
use crate::render::html::layouts::{Cutting, with_unit};
use crate::render::html::svg::{Drawing, Figure, Pen, Scale, fitting, text_width};
use crate::render::shown;
use crate::shop::{Cut, Way};

/// What a drawing takes at most, across and down, in tenths of a pixel.
const ACROSS: i64 = 7_400;
const DOWN: i64 = 5_200;
/// Height of a stick in a drawing.
const STICK: i64 = 420;
/// Room around the stock: left, top, right, bottom.
const ROOM: [i64; 4] = [460, 360, 160, 360];
/// A drawing of at most so many pieces names each of them.
const MOST_NAMED: usize = 12;
/// Heights of letters.
const LARGE: i64 = 120;
const SMALL: i64 = 100;
/// Radius of a cut's number.
const RADIUS: i64 = 70;

/// Where things are drawn.
struct Sheet<'a> {
    scale: Scale,
    unit: &'a Unit,
    /// The stock in tenths.
    extent: [i64; 2],
    is_stick: bool,
    pen: Pen,
}

/// Returns the drawing of a layout.
pub(super) fn drawing(cutting: &Cutting<'_>, title: String) -> Drawing {
    let [long, wide] = cutting.stock;
    let scale = Scale::fitting(long, wide, ACROSS, DOWN);
    let is_stick = wide == Length::ZERO;
    let extent = [scale.of(long), if is_stick { STICK } else { scale.of(wide) }];
    let mut sheet = Sheet { scale, unit: cutting.unit, extent, is_stick, pen: Pen::default() };
    sheet.stock(cutting);
    // What is left of a roll lies beyond what is taken of it, and is not drawn.
    for rest in cutting.layout.offcuts.iter().filter(|rest| rest.x < long) {
        sheet.rest("offcut", *rest, "offcut");
    }
    for rest in &cutting.layout.splices {
        sheet.rest("piece", *rest, "run");
    }
    for (index, rest) in cutting.rests.iter().enumerate() {
        sheet.piece(cutting, index, *rest);
    }
    for (number, cut) in (1..).zip(&cutting.sequence.cuts) {
        sheet.cut(cut, number);
    }
    sheet.grain(cutting.item.grain);
    let below = if cutting.item.grain == Grain::None && !is_stick { 200 } else { ROOM[3] };
    let extent = [extent[0] + ROOM[0] + ROOM[2], extent[1] + ROOM[1] + below];
    sheet.pen.finish(title, "layout", extent)
}

impl Sheet<'_> {
    /// Returns where a rectangle is drawn: left, top, width, height.
    fn place(&self, rest: Rest) -> [i64; 4] {
        let end = |start: Length, extent: Length| {
            self.scale.of(Length::from_nanometers(start.nanometers() + extent.nanometers()))
        };
        let (left, top) = (self.scale.of(rest.x), self.scale.of(rest.y));
        let width = end(rest.x, rest.length) - left;
        let height = if self.is_stick { self.extent[1] } else { end(rest.y, rest.width) - top };
        [left + ROOM[0], top + ROOM[1], width, height]
    }

    fn size(&self, length: Length, width: Length) -> Figure {
        if width == Length::ZERO || self.is_stick {
            Figure::lengths(shown::length(length, self.unit), &[length])
        } else {
            Figure::lengths(shown::sides(length, width, self.unit), &[length, width])
        }
    }

    /// Draws the stock as waste, with its outer dimensions.
    fn stock(&mut self, cutting: &Cutting<'_>) {
        let [long, wide] = cutting.stock;
        let [width, height] = self.extent;
        self.pen.rect("waste", [ROOM[0], ROOM[1], width, height]);
        let above = ROOM[1] - 120;
        self.pen.dimension([ROOM[0], above, ROOM[0] + width, above]);
        let middle = [ROOM[0] + width / 2, above - 50];
        let text = with_unit(shown::length(long, self.unit), self.unit);
        self.pen.text("", middle, Figure::lengths(text, &[long]));
        if !self.is_stick {
            let beside = ROOM[0] - 140;
            self.pen.dimension([beside, ROOM[1], beside, ROOM[1] + height]);
            let middle = [beside - 60, ROOM[1] + height / 2];
            let text = with_unit(shown::length(wide, self.unit), self.unit);
            self.pen.turned("", middle, Figure::lengths(text, &[wide]));
        }
    }

    fn rest(&mut self, class: &'static str, rest: Rest, word: &str) {
        let at = self.place(rest);
        self.pen.rect(class, at);
        let size = self.size(rest.length, rest.width);
        self.label(at, &[Figure::text(word), size]);
    }

    fn piece(&mut self, cutting: &Cutting<'_>, index: usize, rest: Rest) {
        let at = self.place(rest);
        self.pen.rect("piece", at);
        let row = &cutting.rows[cutting.row_of[index]];
        let size = self.size(rest.length, rest.width);
        // Of many pieces the first of each size is named; the others have its letter.
        let is_named = cutting.rests.len() <= MOST_NAMED
            || cutting.row_of.iter().position(|other| *other == cutting.row_of[index])
                == Some(index);
        let name = row.names.first().filter(|_| is_named).cloned().unwrap_or_default();
        let name = Figure::text(name);
        self.label(at, &[Figure::text(row.mark.clone()), size, name]);
    }

    /// Writes as much as there is room for: the first line before the second, the second before the third.
    fn label(&mut self, [left, top, width, height]: [i64; 4], lines: &[Figure]) {
        let is_turned = height > width && width < 700;
        let (along, across) = if is_turned { (height, width) } else { (width, height) };
        let room = along - 60;
        let line_height = LARGE + 30;
        let most = usize::try_from((across - 20) / line_height).unwrap_or(0);
        let mut kept: Vec<Figure> = Vec::new();
        let fits = |text: &str| text_width(text, LARGE) <= room;
        let [first, rest @ ..] = lines else { return };
        if most == 0 || !fits(&first.text) {
            // A sliver still shows its mark, in smaller letters, if that fits.
            if across >= SMALL && text_width(&first.text, SMALL) <= along {
                let middle = [left + width / 2, top + height / 2 + if is_turned { 0 } else { 35 }];
                self.write("s", middle, is_turned, first.clone());
            }
            return;
        }
        let joined = rest.first().map(|size| format!("{}  {}", first.text, size.text));
        match (most, joined) {
            (1, Some(joined)) if fits(&joined) => {
                let mark_width = text_width(&joined, LARGE);
                let size_width = text_width(&rest[0].text, LARGE);
                let shift = (mark_width - size_width) / 2;
                let mut place = |shift: i64, class, figure: Figure| {
                    let (x, y) = (left + width / 2, top + height / 2);
                    let at = if is_turned { [x + 40, y - shift] } else { [x + shift, y + 40] };
                    self.write(class, at, is_turned, figure);
                };
                place(-(size_width + 70) / 2, "m", first.clone());
                place(shift, "", rest[0].clone());
                return;
            }
            (1, _) => kept.push(first.clone()),
            _ => {
                kept.push(first.clone());
                kept.extend(rest.iter().take(1).filter(|size| fits(&size.text)).cloned());
                let name = rest.get(1).and_then(|name| fitting(&name.text, LARGE, room));
                let name = name.filter(|name| most > 2 && !name.is_empty());
                kept.extend(name.map(Figure::text));
            }
        }
        let count = i64::try_from(kept.len()).expect("there are three lines at most");
        let first_line = -(count - 1) * line_height / 2;
        for (position, figure) in (0_i64..).zip(kept) {
            let class = if position == 0 { "m" } else { "" };
            let shift = first_line + position * line_height + 40;
            let (x, y) = (left + width / 2, top + height / 2);
            let at = if is_turned { [x + shift, y] } else { [x, y + shift] };
            self.write(class, at, is_turned, figure);
        }
    }

    /// Draws a cut along its kerf, its number where it begins: outside of the stock if it goes from edge to edge.
    fn cut(&mut self, cut: &Cut, number: usize) {
        let edge = self.scale.of(cut.at);
        let [from, to] = cut.span.map(|at| self.scale.of(at));
        let number = Figure::text(number.to_string());
        let (line, at) = match cut.way {
            Way::Across => {
                let x = ROOM[0] + edge;
                let to = if self.is_stick { self.extent[1] } else { to };
                let is_through = from == 0 && to == self.extent[1];
                let start =
                    if is_through { ROOM[1] + to + RADIUS } else { ROOM[1] + from + RADIUS + 10 };
                ([x, ROOM[1] + from, x, ROOM[1] + to], [x, start])
            }
            Way::Along => {
                let y = ROOM[1] + edge;
                let is_through = from == 0 && to == self.extent[0];
                let start =
                    if is_through { ROOM[0] + to + RADIUS } else { ROOM[0] + from + RADIUS + 10 };
                ([ROOM[0] + from, y, ROOM[0] + to, y], [start, y])
            }
        };
        self.pen.line("cut", line);
        if to - from >= 4 * RADIUS || self.is_stick {
            self.pen.disc("ball", at);
            self.pen.text("n", [at[0], at[1] + 32], number);
        }
    }

    /// Draws an arrow along the grain, below the stock.
    fn grain(&mut self, grain: Grain) {
        let y = ROOM[1] + self.extent[1] + 230;
        let x = ROOM[0] + 350;
        match grain {
            Grain::None => {}
            Grain::Length => {
                self.pen.dimension([x + 330, y, x + 1_130, y]);
                self.pen.text("", [x, y + 40], Figure::text("grain"));
            }
            Grain::Width => {
                self.pen.dimension([x + 330, y - 110, x + 330, y + 110]);
                self.pen.text("", [x, y + 40], Figure::text("grain"));
            }
        }
    }

    fn write(&mut self, class: &'static str, at: [i64; 2], is_turned: bool, figure: Figure) {
        if is_turned {
            self.pen.turned(class, at, figure);
        } else {
            self.pen.text(class, at, figure);
        }
    }
}
