use serde::Serialize;

use crate::diag::Diagnostic;
use crate::render::json::document;
use crate::render::json::rollup::{ItemLine, Layouts, item_line};
use crate::render::json::{Side, side};
use crate::shop;
use crate::shop::Day;

#[derive(Serialize)]
struct ShopAnswer {
    day: String,
    units: Vec<UnitLine>,
    stations: Vec<StationLine>,
    offcuts: Vec<OffcutLine>,
}

#[derive(Serialize)]
struct UnitLine {
    unit: String,
    plan: String,
    order: String,
    due: String,
}

#[derive(Serialize)]
struct StationLine {
    station: String,
    items: Vec<CutItemLine>,
}

#[derive(Serialize)]
struct CutItemLine {
    #[serde(flatten)]
    item: ItemLine,
    placed: Vec<PlacedLine>,
}

/// Which unit one placed piece is for.
#[derive(Serialize)]
struct PlacedLine {
    layout: usize,
    copy: u64,
    piece: usize,
    unit: Option<String>,
    #[serde(rename = "for")]
    purpose: Option<String>,
}

#[derive(Serialize)]
struct OffcutLine {
    item: String,
    length: Side,
    width: Side,
    quantity: u64,
}

/// Returns what `nest --for shop` answers.
#[must_use]
pub fn shop(day: &Day, findings: &[Diagnostic]) -> String {
    let book = &day.book;
    let stations = day.rollup.builds.iter().enumerate().map(|(build, cost)| StationLine {
        station: book.plans[day.needs.builds[cost.build].plan.index()].name.clone(),
        items: cost
            .items
            .iter()
            .map(|item| CutItemLine {
                item: item_line(book, &day.rollup, item, Layouts::Told),
                placed: placed(day, build, item.item),
            })
            .collect(),
    });
    let answer = ShopAnswer {
        day: day.day.to_string(),
        units: day
            .units
            .iter()
            .map(|unit| UnitLine {
                unit: unit.name.clone(),
                plan: book.plans[unit.plan.index()].name.clone(),
                order: unit.order.clone(),
                due: unit.due.to_string(),
            })
            .collect(),
        stations: stations.collect(),
        offcuts: shop::offcuts(&day.rollup)
            .into_iter()
            .map(|kept| OffcutLine {
                item: book.item(kept.item).name.clone(),
                length: side(book, kept.length),
                width: side(book, kept.width),
                quantity: kept.count,
            })
            .collect(),
    };
    document("nest_shop", book, Some(day.day), findings, answer)
}

fn placed(day: &Day, build: usize, item: crate::model::ItemId) -> Vec<PlacedLine> {
    let lines = day.placed(build, item).into_iter().map(|placed| {
        let (unit, purpose) = placed.purpose.unzip();
        PlacedLine {
            layout: placed.layout,
            copy: placed.copy,
            piece: placed.placement,
            unit: unit.map(|unit| day.units[unit].name.clone()),
            purpose,
        }
    });
    lines.collect()
}
