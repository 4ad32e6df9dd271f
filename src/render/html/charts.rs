//! Charts of figures: bars, a bridge and a scatter of points, drawn by a charting library as SVG.
//!
//! Values are whole numbers; a chart shows whole units of money and weight, and the table below it the rest. Colors are
//! those of the light style; the style sheet changes them where a dark one is asked for. Every bar and point has its
//! name and figure beside it, so that no color is needed to read it.

use std::error::Error;

use plotters::coord::types::{RangedCoordi32, RangedCoordi64};
use plotters::prelude::{
    Cartesian2d, ChartBuilder, ChartContext, Circle, EmptyElement, IntoDrawingArea, IntoFont,
    PathElement, Rectangle, SVGBackend, Text, TextStyle,
};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color, RGBColor};

use crate::render::html::svg::{fitting, text_width};
use crate::render::shown;

/// Colors, each with a rule of its own in the style sheet.
const INK: RGBColor = RGBColor(0x1F, 0x2A, 0x33);
const GRID: RGBColor = RGBColor(0xD5, 0xDB, 0xDF);
const MAIN: RGBColor = RGBColor(0x2F, 0x5D, 0x7C);
const LESS: RGBColor = RGBColor(0x3F, 0x7A, 0x4E);
const MORE: RGBColor = RGBColor(0xA6, 0x4B, 0x2A);

/// Height of the letters of names as they come out, in tenths of a pixel.
const TENTHS: i64 = 121;

const WIDTH: u32 = 820;
const LETTERS: i32 = 15;
/// The library takes a size for that of a box around the letters.
const SMALL: i32 = 14;
/// Height of a bar with its gap.
const BAR: u32 = 22;
/// Most room for the names of bars, and room right of the bars for their figures.
const NAMES: i64 = 240;
const FIGURES: u32 = 90;

/// A named value in whole units.
pub(super) struct Bar {
    pub(super) name: String,
    pub(super) value: i64,
}

/// A labelled point, in hundredths.
pub(super) struct Point {
    pub(super) label: String,
    pub(super) across: i64,
    pub(super) up: i64,
}

/// What the axes of a scatter are called.
pub(super) struct Axes<'a> {
    pub(super) across: &'a str,
    pub(super) up: &'a str,
}

/// Returns level bars from zero, the first on top, as SVG; nothing if there are none.
pub(super) fn bars(title: &str, bars: &[Bar]) -> Option<String> {
    let steps: Vec<Step<'_>> = bars
        .iter()
        .map(|bar| Step {
            name: &bar.name,
            from: 0,
            to: bar.value,
            figure: figure(bar.value),
            fill: MAIN,
        })
        .collect();
    svg(title, &steps)
}

/// Returns a bridge as SVG: the old total, what each step adds or takes, the new total. Its axis begins where the steps can
/// be told apart, not at zero.
pub(super) fn bridge(title: &str, old: &Bar, steps: &[Bar], new: &str) -> Option<String> {
    let totals = || {
        let sums = steps.iter().scan(old.value, |total, step| {
            *total = total.saturating_add(step.value);
            Some(*total)
        });
        std::iter::once(old.value).chain(sums)
    };
    let (least, most) = (totals().min()?, totals().max()?);
    let room = most.saturating_sub(least).max(1);
    let base = if least > 0 { least.saturating_sub(room).max(0) } else { least };
    let whole = |name, to: i64| Step { name, from: base, to, figure: figure(to), fill: MAIN };
    let mut total = old.value;
    let mut all = vec![whole(&old.name, total)];
    for step in steps {
        let next = total.saturating_add(step.value);
        let (sign, fill) = if step.value > 0 { ("+", MORE) } else { ("", LESS) };
        let figure = format!("{sign}{}", figure(step.value));
        all.push(Step { name: &step.name, from: total, to: next, figure, fill });
        total = next;
    }
    all.push(whole(new, total));
    svg(title, &all)
}

/// Returns labelled points around two axes through zero, as SVG; nothing if there are none.
pub(super) fn scatter(title: &str, axes: &Axes<'_>, points: &[Point]) -> Option<String> {
    if points.is_empty() {
        return None;
    }
    let mut text = String::new();
    draw_scatter(&mut text, axes, points).ok()?;
    Some(named(&text, title))
}

/// A bar from one value to another.
struct Step<'a> {
    name: &'a str,
    from: i64,
    to: i64,
    figure: String,
    fill: RGBColor,
}

fn figure(value: i64) -> String {
    shown::parted(&value.to_string())
}

fn svg(title: &str, steps: &[Step<'_>]) -> Option<String> {
    if steps.is_empty() {
        return None;
    }
    let mut text = String::new();
    draw_steps(&mut text, steps).ok()?;
    Some(named(&text, title))
}

/// Says in the opening tag what the chart shows.
fn named(text: &str, title: &str) -> String {
    let title = askama::filters::escape(title, askama::filters::Html)
        .map_or_else(|never| match never {}, |title| title.to_string());
    let tag = format!("<svg class=\"chart\" role=\"img\" aria-label=\"{title}\"");
    let end = text.find('>').map_or(0, |end| end + 1);
    let (open, rest) = text.split_at(end);
    // What the style sheet says anyway is left out; no text of a book can hold these quotes, being escaped.
    let rest = [
        (" opacity=\"1\"", ""),
        (" font-family=\"sans-serif\"", ""),
        (" font-size=\"11.290322580645162\"", " font-size=\"11.3\""),
        (" font-size=\"12.096774193548388\"", " font-size=\"12.1\""),
    ]
    .into_iter()
    .fold(rest.to_owned(), |rest, (long, short)| rest.replace(long, short));
    format!("{}<title>{title}</title>{rest}", open.replacen("<svg", &tag, 1))
}

fn letters(anchor: HPos) -> TextStyle<'static> {
    ("sans-serif", LETTERS).into_font().color(&INK).pos(Pos::new(anchor, VPos::Center))
}

type Bars<'a, 'b> = ChartContext<'a, SVGBackend<'b>, Cartesian2d<RangedCoordi64, RangedCoordi32>>;

fn draw_steps(text: &mut String, steps: &[Step<'_>]) -> Result<(), Box<dyn Error>> {
    let count = u32::try_from(steps.len())?;
    let area = SVGBackend::with_string(text, (WIDTH, count * BAR + 40)).into_drawing_area();
    let ends = || steps.iter().flat_map(|step| [step.from, step.to]);
    let least = ends().min().unwrap_or(0);
    let most = ends().max().unwrap_or(0).max(least.saturating_add(1));
    let rows = i32::try_from(count)? * 10;
    let widths = steps.iter().map(|step| text_width(step.name, TENTHS) / 10 + 16);
    let names = widths.max().unwrap_or(0).clamp(60, NAMES);
    let mut chart = ChartBuilder::on(&area)
        .margin_left(u32::try_from(names)?)
        .margin_right(FIGURES)
        .margin_top(6)
        .x_label_area_size(26)
        .build_cartesian_2d(least..most, rows..0)?;
    chart
        .configure_mesh()
        .disable_y_mesh()
        .disable_y_axis()
        .x_labels(6)
        .x_label_formatter(&|value| figure(*value))
        .x_label_style(("sans-serif", SMALL).into_font().color(&INK))
        .axis_style(GRID)
        .bold_line_style(GRID)
        .light_line_style(RGBColor(0, 0, 0).mix(0.0))
        .draw()?;
    for (row, step) in (0_i32..).zip(steps) {
        let name = fitting(step.name, TENTHS, (names - 12) * 10).unwrap_or_default();
        draw_step(&mut chart, row * 10, step, (least, name))?;
    }
    area.present()?;
    Ok(())
}

fn draw_step(
    chart: &mut Bars<'_, '_>,
    top: i32,
    step: &Step<'_>,
    (least, name): (i64, String),
) -> Result<(), Box<dyn Error>> {
    let bar = Rectangle::new([(step.from, top + 1), (step.to, top + 9)], step.fill.filled());
    let name = Text::new(name, (-8, 0), letters(HPos::Right));
    let value = Text::new(step.figure.clone(), (6, 0), letters(HPos::Left));
    chart.draw_series([bar])?;
    chart.draw_series([EmptyElement::at((least, top + 5)) + name])?;
    chart.draw_series([EmptyElement::at((step.from.max(step.to), top + 5)) + value])?;
    Ok(())
}

const HEIGHT: u32 = 440;

fn draw_scatter(
    text: &mut String,
    axes: &Axes<'_>,
    points: &[Point],
) -> Result<(), Box<dyn Error>> {
    let area = SVGBackend::with_string(text, (WIDTH, HEIGHT)).into_drawing_area();
    let across = around_zero(points.iter().map(|point| point.across));
    let up = around_zero(points.iter().map(|point| point.up));
    let mut chart = ChartBuilder::on(&area)
        .margin(10)
        .margin_right(170)
        .x_label_area_size(44)
        .y_label_area_size(84)
        .build_cartesian_2d(across.0..across.1, up.0..up.1)?;
    let hundredths =
        |value: &i64| shown::parted(&shown::trimmed(&shown::plain(i128::from(*value), 2)));
    chart
        .configure_mesh()
        .x_labels(8)
        .y_labels(8)
        .x_label_formatter(&hundredths)
        .y_label_formatter(&hundredths)
        .label_style(("sans-serif", SMALL).into_font().color(&INK))
        .axis_desc_style(("sans-serif", LETTERS).into_font().color(&INK))
        .x_desc(axes.across)
        .y_desc(axes.up)
        .axis_style(GRID)
        .bold_line_style(GRID)
        .light_line_style(RGBColor(0, 0, 0).mix(0.0))
        .draw()?;
    chart.draw_series([
        PathElement::new([(across.0, 0), (across.1, 0)], INK),
        PathElement::new([(0, up.0), (0, up.1)], INK),
    ])?;
    let mut taken: Vec<(i64, i64)> = Vec::new();
    for point in points {
        let at = (point.across, point.up);
        let (x, y) = chart.backend_coord(&at);
        let y = free(&mut taken, i64::from(x), i64::from(y)) - i64::from(y);
        let label = fitting(&point.label, TENTHS, 1_600).unwrap_or_default();
        let label = Text::new(label, (9, i32::try_from(y)?), letters(HPos::Left));
        let fill = if point.across > 0 && point.up <= 0 { LESS } else { MORE };
        chart
            .draw_series([EmptyElement::at(at) + Circle::new((0, 0), 5, fill.filled()) + label])?;
    }
    drop(chart);
    area.present()?;
    Ok(())
}

/// Returns a range with zero in it and room around the values.
fn around_zero(values: impl Iterator<Item = i64>) -> (i64, i64) {
    let (mut least, mut most) = (0, 0);
    for value in values {
        least = value.min(least);
        most = value.max(most);
    }
    let room = (most.saturating_sub(least) / 10).max(1);
    (least.saturating_sub(room), most.saturating_add(room))
}

/// Returns the height nearest to that of a point at which its label covers no other, and takes it.
fn free(taken: &mut Vec<(i64, i64)>, x: i64, y: i64) -> i64 {
    const ACROSS: i64 = 170;
    const DOWN: i64 = 15;
    let is_free = |at: i64| {
        taken.iter().all(|(other, line)| (x - other).abs() >= ACROSS || (at - line).abs() >= DOWN)
    };
    let tries = (0..40).flat_map(|step| [y + step * 4, y - step * 4]);
    let found = tries.into_iter().find(|at| is_free(*at)).unwrap_or(y);
    taken.push((x, found));
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_in_charts_are_escaped() {
        let hostile = "<script>alert('x')</script>";
        let bar = Bar { name: hostile.to_owned(), value: 5 };
        let chart = bars(hostile, &[bar]).unwrap();
        assert!(!chart.contains("<script"), "{chart}");
        let point = Point { label: "a<b>&\"c\"".to_owned(), across: 5, up: -3 };
        let axes = Axes { across: "saved", up: "cost" };
        let chart = scatter("swaps", &axes, &[point]).unwrap();
        assert!(chart.contains("a&lt;b&gt;&amp;"), "{chart}");
    }

    #[test]
    fn a_bridge_leads_from_total_to_total_with_signed_steps() {
        let bar = |name: &str, value| Bar { name: name.to_owned(), value };
        let chart =
            bridge("bridge", &bar("old", 100), &[bar("price", 20), bar("yield", -5)], "new")
                .unwrap();
        for text in ["+20", "-5", "115", "old", "new"] {
            assert!(chart.contains(&format!("{text}\n")), "{text} is missing in {chart}");
        }
    }

    #[test]
    fn nothing_makes_no_chart() {
        assert_eq!(bars("empty", &[]), None);
        assert_eq!(scatter("empty", &Axes { across: "", up: "" }, &[]), None);
    }

    #[test]
    fn labels_of_points_at_one_place_stand_apart() {
        let mut taken = Vec::new();
        assert_eq!(
            [free(&mut taken, 10, 10), free(&mut taken, 12, 10), free(&mut taken, 300, 10)],
            [10, 26, 10]
        );
    }
}
