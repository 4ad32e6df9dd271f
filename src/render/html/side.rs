//! Draws a trailer from its left side, to scale: coupler ball, floor, walls, axles, center of gravity, and below it the
//! weight along each foot.

use crate::explode::Needs;
use crate::loads::{BuildLoads, Condition, Support};
use crate::model::Book;
use crate::quantity::{Dimension, Length, Ratio};
use crate::render::html::svg::{Drawing, Figure, Pen, Scale};
use crate::render::report::{build_name, load_parts};
use crate::render::shown;

/// What the trailer takes at most, across and down, in tenths of a pixel.
const ACROSS: i64 = 7_400;
const DOWN: i64 = 3_200;
/// Room beside the trailer, above it, and from the ground to the weights below it.
const SIDE: i64 = 400;
const TOP: i64 = 500;
const BETWEEN: i64 = 1_000;
/// Height of the highest bar, and room below the bars.
const BARS: i64 = 1_100;
const BOTTOM: i64 = 420;
/// Radius of a wheel, where the book does not say: 13 in.
const WHEEL: i64 = 13;
/// Radius of the mark of the center of gravity.
const GRAVITY: i64 = 90;
/// Height of the floor above the ground, where the book does not say: 24 in.
const FLOOR: i64 = 24;

/// Where things are drawn.
struct View<'a> {
    book: &'a Book,
    scale: Scale,
    /// The front of the drawing, in nanometers behind the coupler ball; below zero ahead of it.
    first: i64,
    /// The ground, in tenths.
    ground: i64,
    pen: Pen,
}

/// Returns the drawing of a build; nothing where no weight has a position.
pub(super) fn drawing(book: &Book, needs: &Needs, build: &BuildLoads) -> Option<Drawing> {
    let plan = &book.plans[needs.builds[build.build].plan.index()];
    let dry = build.conditions.first()?;
    let support = dry.support.as_ref()?;
    let profile = build.profile.as_ref()?;
    let named = |name: &str| {
        let (_, measure) = plan.values.iter().find(|(known, _)| known == name)?;
        (measure.dimension == Dimension::LENGTH).then(|| Length::nearest(&measure.value))?
    };
    let geometry = &build.geometry;
    let foot = Length::FOOT.nanometers();
    let feet = i64::try_from(profile.feet.len()).ok()?;
    let nearest = |ratio: &Ratio| Length::nearest(ratio).map(Length::nanometers);
    let axles: Vec<i64> = geometry.axles().iter().filter_map(nearest).collect();
    let rear = geometry.rear.as_ref().and_then(nearest);
    let front = geometry.front.as_ref().and_then(nearest);
    let first = profile.first.checked_mul(foot)?.min(-foot);
    let profile_end = profile.first.checked_add(feet)?.checked_mul(foot)?;
    let last = axles.iter().copied().chain(rear).chain([profile_end]).max()?;
    let floor = named("floor_height").unwrap_or(Length::from_inches(FLOOR, 1)?);
    let wall = named("wall_height").unwrap_or(Length::ZERO);
    let span = Length::from_nanometers(last.checked_sub(first)?);
    let height = floor.checked_add(wall)?;
    let scale = Scale::fitting(span, height, ACROSS, DOWN);
    let mut view = View { book, scale, first, ground: TOP + scale.of(height), pen: Pen::default() };
    view.body([front, rear], floor, wall);
    view.wheels(&axles);
    view.center(build, support, floor);
    view.loads(dry, support, &axles);
    let top = view.ground + BETWEEN;
    view.bars(build, top);
    let title = format!(
        "{}, unloaded, from its left side: coupler ball, floor, axles, center of gravity, and weight along each foot",
        build_name(book, &needs.builds[build.build])
    );
    let width = scale.of(span) + 2 * SIDE;
    let extent = [width, top + BARS + BOTTOM];
    Some(view.pen.finish(title, "side", extent))
}

impl View<'_> {
    /// Returns where a distance behind the coupler ball is drawn.
    fn x(&self, back: i64) -> i64 {
        SIDE + self.scale.of(Length::from_nanometers(back - self.first))
    }

    fn length(&self, back: Length) -> Figure {
        let text = shown::size(self.book, Some(back), None);
        // Positions that were reckoned have no shop fraction; a tenth is as near as they are known.
        let unit = &self.book.settings.length_unit;
        let count = back.to_ratio().checked_div(&unit.factor).unwrap_or(Ratio::ZERO);
        let text = if text.contains('.') {
            format!("{} {}", shown::fixed(&count, 1), unit.name)
        } else {
            text
        };
        Figure::lengths(text, &[back])
    }

    /// Returns a part of a weight, rounded as the tables do, so that the parts add up to their rounded sum.
    fn weight(&self, name: &str, parts: &[&Ratio], index: usize) -> Figure {
        let parts: Vec<Ratio> = parts.iter().map(|part| (*part).clone()).collect();
        let cell = load_parts(self.book, &parts).into_iter().nth(index).unwrap_or_default();
        let unit = &self.book.settings.weight_unit.name;
        Figure::weight(format!("{name} {} {unit}", cell.shown), shown::fixed(&parts[index], 4))
    }

    fn body(&mut self, [front, rear]: [Option<i64>; 2], floor: Length, wall: Length) {
        let level = self.ground - self.scale.of(floor);
        let ball = self.x(0);
        let right = self.x(rear.unwrap_or(0));
        let end = self.x(rear.unwrap_or(0)) + SIDE / 2;
        self.pen.line("ground", [SIDE / 2, self.ground, end, self.ground]);
        if let (Some(front), Some(_)) = (front, rear) {
            let left = self.x(front);
            let height = self.scale.of(wall);
            if height > 0 {
                self.pen.rect("body", [left, level - height, right - left, height]);
            }
            self.pen.line("floor", [left, level, right, level]);
            self.pen.line("tongue", [ball, level, left, level]);
            let middle = [i64::midpoint(left, right), level - 60];
            let length = Length::from_nanometers(rear.unwrap_or(0) - front);
            let figure = self.length(length);
            let figure = Figure { text: format!("floor {}", figure.text), ..figure };
            self.pen.text("", middle, figure);
        }
        self.pen.circle("coupler", [ball, level, 60]);
        self.pen.text("s", [ball, level - 110], Figure::text("ball"));
    }

    fn wheels(&mut self, axles: &[i64]) {
        let radius = Length::from_inches(WHEEL, 1).map_or(0, |radius| self.scale.of(radius));
        for axle in axles {
            let x = self.x(*axle);
            self.pen.circle("wheel", [x, self.ground - radius, radius]);
            self.pen.circle("hub", [x, self.ground - radius, 25]);
        }
    }

    /// Marks the center of gravity, with its distance behind the ball.
    fn center(&mut self, build: &BuildLoads, support: &Support, floor: Length) {
        let Some(back) = Length::nearest(&support.center_back) else { return };
        let height = build.height.as_ref().and_then(Length::nearest);
        let (x, y) =
            (self.x(back.nanometers()), self.ground - self.scale.of(height.unwrap_or(floor)));
        self.pen.line("center", [x, TOP - 200, x, self.ground]);
        self.pen.circle("gravity", [x, y, GRAVITY]);
        self.pen.line("gravity", [x - GRAVITY, y, x + GRAVITY, y]);
        self.pen.line("gravity", [x, y - GRAVITY, x, y + GRAVITY]);
        self.pen.dimension([self.x(0), TOP - 200, x, TOP - 200]);
        let middle = [i64::midpoint(self.x(0), x), TOP - 250];
        let figure = self.length(back);
        let text = format!("center of gravity {}", figure.text);
        self.pen.text("", middle, Figure { text, ..figure });
    }

    /// Marks the loads on hitch and axles below the ground.
    fn loads(&mut self, dry: &Condition, support: &Support, axles: &[i64]) {
        let top = self.ground + 60;
        let ball = self.x(0);
        self.arrow(ball, top);
        let hitch = self.weight("hitch", &[&support.hitch, &support.axle], 0);
        self.pen.text("left", [SIDE / 3, top + 430], hitch);
        for axle in axles {
            let x = self.x(*axle);
            self.arrow(x, top);
        }
        if let (Some(first), Some(last)) = (axles.first(), axles.last()) {
            let middle = [i64::midpoint(self.x(*first), self.x(*last)), top + 430];
            let word = if axles.len() > 1 { "axles" } else { "axle" };
            let figure = self.weight(word, &[&support.hitch, &support.axle], 1);
            self.pen.text("", middle, figure);
        }
        let weight = self.weight("unloaded", &[&dry.weight], 0);
        self.pen.text("left", [SIDE / 3, 160], weight);
    }

    fn arrow(&mut self, x: i64, top: i64) {
        self.pen.line("load", [x, top + 60, x, top + 300]);
        self.pen.outline("load", &[[x, top], [x - 35, top + 90], [x + 35, top + 90]]);
    }

    /// Draws the weight along each foot, below the trailer and to its scale across.
    fn bars(&mut self, build: &BuildLoads, top: i64) {
        let Some(profile) = &build.profile else { return };
        let Some(highest) = profile.feet.iter().max().filter(|most| **most > Ratio::ZERO) else {
            return;
        };
        let base = top + BARS;
        let foot = Length::FOOT.nanometers();
        for (position, weight) in (0_i64..).zip(&profile.feet) {
            let share = weight.checked_div(highest).unwrap_or(Ratio::ZERO);
            let tenths = (share * Ratio::from(BARS)).scaled(0, crate::quantity::Rounding::HalfEven);
            let Some(height) = tenths.to_integer().and_then(|tall| i64::try_from(tall).ok()) else {
                continue;
            };
            if height <= 0 {
                continue;
            }
            let [left, right] =
                [0, 1].map(|end| self.x((profile.first + position + end).saturating_mul(foot)));
            self.pen.rect("bar", [left + 8, base - height, right - left - 16, height]);
            if weight == highest {
                let figure = self.weight("most in a foot", &[weight], 0);
                let middle = [i64::midpoint(left, right), base - height - 50];
                self.pen.text("", middle, figure);
            }
        }
        let count = i64::try_from(profile.feet.len()).unwrap_or(0);
        let (from, to) = (profile.first, profile.first + count);
        self.pen.line(
            "axis",
            [self.x(from.saturating_mul(foot)), base, self.x(to.saturating_mul(foot)), base],
        );
        let step = if count > 24 { 4 } else { 2 };
        for mark in (from..=to).filter(|mark| mark.rem_euclid(step) == 0) {
            let x = self.x(mark.saturating_mul(foot));
            self.pen.line("axis", [x, base, x, base + 40]);
            let figure = Figure::lengths(
                format!("{mark} ft"),
                &[Length::from_nanometers(mark.saturating_mul(foot))],
            );
            self.pen.text("s", [x, base + 150], figure);
        }
        let middle = [self.x(0), base + 320];
        let caption =
            Figure::text("behind the coupler ball; each bar is the weight along one foot");
        self.pen.text("left", middle, caption);
    }
}
