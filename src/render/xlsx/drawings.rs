//! Layouts drawn to scale as shapes of a spreadsheet, one below the other.

use rust_xlsxwriter::{
    Format, ObjectMovement, Shape, ShapeFont, ShapeFormat, ShapeLine, ShapePatternFill,
    ShapePatternFillType, ShapeSolidFill, ShapeText, ShapeTextHorizontalAlignment,
    ShapeTextVerticalAlignment, Worksheet, XlsxError,
};

use crate::quantity::Length;
use crate::render::report::{Drawing, DrawnKind};
use crate::render::xlsx::{DRAWINGS, sheet, text};

/// Layouts that are drawn at most: a spreadsheet is slow with more shapes.
pub(super) const MOST: usize = 150;

/// Pixels that the longest sheet takes.
const LONG: i64 = 640;
/// Pixels of a row.
const ROW: i64 = 20;
/// Rows of a printed page.
const PAGE: u32 = 54;
/// A sheet has at most so many page breaks.
const MOST_BREAKS: usize = 1000;
/// Smallest part, in pixels, that has room for its size in words.
const WORDS: [i64; 2] = [56, 16];

pub(super) fn write(to: &mut Worksheet, drawings: &[Drawing]) -> Result<(), XlsxError> {
    to.set_name(DRAWINGS)?;
    let longest = drawings.iter().map(|drawing| drawing.sheet[0]).max().unwrap_or(Length::INCH);
    let pixels = |length: Length| {
        let share = i128::from(length.nanometers()) * i128::from(LONG)
            / i128::from(longest.nanometers().max(1));
        i64::try_from(share).unwrap_or(LONG)
    };
    let mut row = 0;
    let mut page = 0;
    let mut breaks = Vec::new();
    for drawing in drawings.iter().take(MOST) {
        let [length, width] = drawing.sheet.map(pixels);
        let rows = 3 + u32::try_from(width / ROW).unwrap_or(0);
        if row > page && row + rows > page + PAGE && breaks.len() < MOST_BREAKS {
            breaks.push(row);
            page = row;
        }
        text::put(to, (row, 0), &drawing.title, &Format::new().set_bold())?;
        let top = row + 1;
        let waste = ShapeSolidFill::new().set_color("#F4F4F0");
        let outline = ShapeFormat::new().set_line(&line(2)).set_solid_fill(&waste);
        // The library keeps one shape for each cell and offset; so the sheet hangs on the row of the title, that its first
        // piece does not take its place.
        let outline = sized(shape(&outline, "sheet"), [length, width]);
        to.insert_shape_with_offset(row, 0, &outline, 0, u32::try_from(ROW).unwrap_or(0))?;
        for part in &drawing.parts {
            let area = [part.at[0], part.at[1], part.size[0], part.size[1]].map(pixels);
            let (format, name) = match part.kind {
                DrawnKind::Piece => {
                    let fill = ShapeSolidFill::new().set_color("#E4ECF4");
                    (ShapeFormat::new().set_line(&line(1)).set_solid_fill(&fill), "piece")
                }
                DrawnKind::Offcut => {
                    let fill = ShapePatternFill::new()
                        .set_pattern(ShapePatternFillType::DiagonalStripesLightUpwards)
                        .set_foreground_color("#909090")
                        .set_background_color("#FFFFFF");
                    (ShapeFormat::new().set_line(&line(1)).set_pattern_fill(&fill), "offcut")
                }
            };
            let drawn = shape(&format, &format!("{name} {}", part.label));
            let has_room = area[2] >= WORDS[0] && area[3] >= WORDS[1];
            let drawn = if has_room { drawn.set_text(part.label.as_str()) } else { drawn };
            place(to, top, area, drawn)?;
        }
        row += rows;
    }
    to.set_page_breaks(&breaks)?;
    sheet::print_set_up(to);
    Ok(())
}

fn line(points: u8) -> ShapeLine {
    ShapeLine::new().set_color("#303840").set_width(points)
}

fn shape(format: &ShapeFormat, alt_text: &str) -> Shape {
    let middle = ShapeText::new()
        .set_horizontal_alignment(ShapeTextHorizontalAlignment::Center)
        .set_vertical_alignment(ShapeTextVerticalAlignment::Middle);
    Shape::textbox()
        .set_format(format)
        .set_text_options(&middle)
        .set_font(&ShapeFont::new().set_size(8))
        .set_alt_text(alt_text)
        .set_object_movement(ObjectMovement::MoveButDontSizeWithCells)
}

fn sized(shape: Shape, [length, width]: [i64; 2]) -> Shape {
    let whole = |pixels: i64| u32::try_from(pixels.max(1)).unwrap_or(1);
    shape.set_width(whole(length)).set_height(whole(width))
}

/// Puts a shape at pixels from the left and from the top of a row.
fn place(
    to: &mut Worksheet,
    top: u32,
    [left, down, length, width]: [i64; 4],
    shape: Shape,
) -> Result<(), XlsxError> {
    let from = |pixels: i64| u32::try_from(pixels.max(0)).unwrap_or(0);
    let shape = sized(shape, [length, width]);
    let row = top + from(down / ROW);
    to.insert_shape_with_offset(row, 0, &shape, from(left), from(down % ROW))?;
    Ok(())
}
