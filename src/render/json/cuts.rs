use serde::Serialize;

use crate::model::Book;
use crate::nest::{Instance, Layout};
use crate::render::json::{Side, side};
use crate::shop;
use crate::shop::{Cut, Way, sequence};

/// One cut of a layout, in order.
#[derive(Serialize)]
pub(super) struct CutLine {
    number: usize,
    stage: usize,
    direction: &'static str,
    part: usize,
    from: &'static str,
    at: Side,
    set: Side,
    kerf: &'static str,
    begin: Side,
    end: Side,
    frees: Vec<FreedLine>,
}

/// What a cut frees on one side.
#[derive(Serialize)]
struct FreedLine {
    what: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    number: Option<usize>,
    x: Side,
    y: Side,
    length: Side,
    width: Side,
}

/// Returns the cuts of a layout in order; null where its pieces interlock.
pub(super) fn cut_lines(book: &Book, instance: &Instance, layout: &Layout) -> Option<Vec<CutLine>> {
    let lines = (1..).zip(sequence(instance, layout)?.cuts).map(|(number, cut)| CutLine {
        number,
        stage: cut.stage,
        direction: match cut.way {
            Way::Along => "along",
            Way::Across => "across",
        },
        part: cut.part,
        from: cut.way.edge(),
        at: side(book, cut.at),
        set: side(book, cut.from_edge),
        kerf: if cut.is_leading { "before" } else { "behind" },
        begin: side(book, cut.span[0]),
        end: side(book, cut.span[1]),
        frees: freed(book, &cut),
    });
    Some(lines.collect())
}

fn freed(book: &Book, cut: &Cut) -> Vec<FreedLine> {
    let lines = cut.sides.iter().filter_map(|(what, rest)| {
        let (what, number) = match what {
            shop::Side::Rest | shop::Side::Dust => return None,
            shop::Side::Part(part) => ("part", Some(*part)),
            shop::Side::Piece(piece) => ("piece", Some(*piece)),
            shop::Side::Splice(splice) => ("splice", Some(*splice)),
            shop::Side::Offcut(offcut) => ("offcut", Some(*offcut)),
            shop::Side::Waste => ("waste", None),
        };
        Some(FreedLine {
            what,
            number,
            x: side(book, rest.x),
            y: side(book, rest.y),
            length: side(book, rest.length),
            width: side(book, rest.width),
        })
    });
    lines.collect()
}
