use serde::Serialize;

use crate::diag::Diagnostic;
use crate::explode::Needs;
use crate::model::Book;
use crate::model::ItemId;
use crate::nest::{BoundRule, Ending};
use crate::quantity::Length;
use crate::quantity::Ratio;
use crate::quantity::text::exact;
use crate::render::json::cuts::{CutLine, cut_lines};
use crate::render::json::{Side, document, option_names, side};
use crate::render::shown;
use crate::rollup::{Grouping, ItemCost, Nested, QUANTITY_DIGITS, Rollup, WEIGHT_DIGITS};
use crate::shop;

/// Decimal places of figures that are not exact decimals.
const PLACES: u32 = 8;

#[derive(Serialize)]
struct RollupAnswer {
    lot: u32,
    builds: Vec<BuildLine>,
    #[serde(skip_serializing_if = "Option::is_none")]
    grouping: Option<GroupingLine>,
}

#[derive(Serialize)]
struct BuildLine {
    plan: String,
    options: Vec<String>,
    cost: String,
    weight: String,
    items: Vec<ItemLine>,
    burdens: Vec<BurdenLine>,
}

#[derive(Serialize)]
pub(super) struct ItemLine {
    item: String,
    description: String,
    form: &'static str,
    group: String,
    vendor: String,
    quantity: String,
    unit: String,
    cost: String,
    is_unpriced: bool,
    weight: String,
    purchased_weight: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    yield_percent: Option<String>,
    credit: String,
    yield_variance: String,
    pub(super) purchases: Vec<PurchaseLine>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) nest: Option<NestLine>,
}

#[derive(Serialize)]
pub(super) struct PurchaseLine {
    #[serde(skip_serializing_if = "Option::is_none")]
    length: Option<Side>,
    #[serde(skip_serializing_if = "Option::is_none")]
    width: Option<Side>,
    count: String,
    price: Option<String>,
    price_place: Option<String>,
    vendor: Option<String>,
    money: String,
}

#[derive(Serialize)]
pub(super) struct NestLine {
    cost: String,
    bound: String,
    bound_stocks: u64,
    bound_rule: &'static str,
    bound_method: &'static str,
    gap_percent: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    set_ups: Option<u64>,
    ending: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    layouts: Option<Vec<LayoutLine>>,
    unplaced: u64,
}

#[derive(Serialize)]
struct LayoutLine {
    repeat: u64,
    set_ups: u64,
    length: Side,
    #[serde(skip_serializing_if = "Option::is_none")]
    width: Option<Side>,
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    is_offcut: bool,
    taken: Side,
    pieces: Vec<PlacedLine>,
    splices: Vec<RestLine>,
    offcuts: Vec<RestLine>,
    cuts: Option<Vec<CutLine>>,
}

#[derive(Serialize)]
struct PlacedLine {
    length: Side,
    #[serde(skip_serializing_if = "Option::is_none")]
    width: Option<Side>,
    x: Side,
    y: Side,
    is_turned: bool,
}

#[derive(Serialize)]
struct RestLine {
    x: Side,
    y: Side,
    length: Side,
    width: Side,
}

#[derive(Serialize)]
struct BurdenLine {
    burden: String,
    cost: String,
    place: String,
}

#[derive(Serialize)]
struct GroupingLine {
    keys: Vec<String>,
    groups: Vec<GroupLine>,
}

#[derive(Serialize)]
struct GroupLine {
    values: Vec<String>,
    quantity: Option<String>,
    cost: String,
    weight: String,
    purchased_weight: String,
}

/// How much of the nests a document tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Layouts {
    /// Costs and bounds only.
    Left,
    /// Every layout too.
    Told,
}

/// Returns what `rollup` answers, or `nest` with its layouts told.
#[must_use]
pub fn rollup(
    book: &Book,
    needs: &Needs,
    rollup: &Rollup,
    grouping: Option<&Grouping>,
    layouts: Layouts,
    findings: &[Diagnostic],
) -> String {
    let money = |amount: i128| shown::plain(amount, rollup.cost_digits);
    let weight = |amount: i128| shown::plain(amount, WEIGHT_DIGITS);
    let builds = rollup.builds.iter().map(|cost| {
        let build = &needs.builds[cost.build];
        BuildLine {
            plan: book.plans[build.plan.index()].name.clone(),
            options: option_names(book, build),
            cost: money(cost.cost()),
            weight: weight(cost.weight()),
            items: cost.items.iter().map(|item| item_line(book, rollup, item, layouts)).collect(),
            burdens: cost
                .burdens
                .iter()
                .map(|burden| {
                    let row = &book.burdens[burden.burden.index()];
                    BurdenLine {
                        burden: row.name.clone(),
                        cost: money(burden.cost),
                        place: book.place(row.row, None).to_string(),
                    }
                })
                .collect(),
        }
    });
    let grouping = grouping.map(|grouping| GroupingLine {
        keys: grouping.keys.iter().map(|key| key.name().to_owned()).collect(),
        groups: grouping
            .groups
            .iter()
            .map(|group| GroupLine {
                values: group.values.clone(),
                quantity: grouping
                    .keys
                    .contains(&crate::rollup::Key::Item)
                    .then(|| shown::plain(group.quantity, QUANTITY_DIGITS)),
                cost: money(group.cost),
                weight: weight(group.weight),
                purchased_weight: weight(group.purchased_weight),
            })
            .collect(),
    });
    let verb = if layouts == Layouts::Told { "nest" } else { "rollup" };
    let answer = RollupAnswer { lot: rollup.lot, builds: builds.collect(), grouping };
    document(verb, book, needs.on, findings, answer)
}

pub(super) fn item_line(
    book: &Book,
    rollup: &Rollup,
    cost: &ItemCost,
    layouts: Layouts,
) -> ItemLine {
    let item = book.item(cost.item);
    let money = |amount: i128| shown::plain(amount, rollup.cost_digits);
    let purchases = cost.purchases.iter().map(|purchase| {
        let size = purchase.size.map(|size| &book.sizes[size.index()]);
        let count = match size {
            Some(_) => purchase.count.clone(),
            None => purchase.count.checked_div(&item.unit.factor).unwrap_or(Ratio::ZERO),
        };
        PurchaseLine {
            length: size.and_then(|size| size.length).map(|length| side(book, length)),
            width: size.and_then(|size| size.width).map(|width| side(book, width)),
            count: exact(&count),
            price: purchase.priced.as_ref().map(|priced| priced.price.text.to_string()),
            price_place: purchase
                .priced
                .as_ref()
                .map(|priced| book.place(priced.row, None).to_string()),
            vendor: purchase.priced.as_ref().map(|priced| priced.vendor.clone()),
            money: exact(&purchase.money),
        }
    });
    ItemLine {
        item: item.name.clone(),
        description: item.description.clone(),
        form: item.form.name(),
        group: item.group.clone(),
        vendor: item.vendor.clone(),
        quantity: shown::plain(cost.quantity, QUANTITY_DIGITS),
        unit: item.unit.name.clone(),
        cost: money(cost.cost),
        is_unpriced: cost.is_unpriced,
        weight: shown::plain(cost.weight, WEIGHT_DIGITS),
        purchased_weight: shown::plain(cost.purchased_weight, WEIGHT_DIGITS),
        yield_percent: cost
            .yield_share()
            .map(|share| shown::rounded(&(share * Ratio::whole(100)), PLACES)),
        credit: money(cost.credit),
        yield_variance: money(cost.yield_variance),
        purchases: purchases.collect(),
        nest: cost.nested.as_ref().map(|nested| nest_line(book, cost.item, nested, layouts)),
    }
}

fn nest_line(book: &Book, item: ItemId, nested: &Nested, layouts: Layouts) -> NestLine {
    let nest = &nested.nest;
    let rest = |rest: &crate::nest::Rest| RestLine {
        x: side(book, rest.x),
        y: side(book, rest.y),
        length: side(book, rest.length),
        width: side(book, rest.width),
    };
    let told = (layouts == Layouts::Told).then(|| {
        let lines = nest.layouts.iter().map(|layout| {
            let size = &book.sizes[nested.sizes[layout.stock].index()];
            LayoutLine {
                repeat: layout.repeat,
                set_ups: shop::books(book, item, layout).set_ups(),
                length: side(book, size.length.unwrap_or(Length::ZERO)),
                width: size.width.map(|width| side(book, width)),
                is_offcut: size.is_offcut,
                taken: side(book, layout.taken),
                pieces: layout
                    .placements
                    .iter()
                    .map(|placement| {
                        let piece = &nested.instance.pieces[placement.piece];
                        PlacedLine {
                            length: side(book, piece.length),
                            width: (piece.width > Length::ZERO).then(|| side(book, piece.width)),
                            x: side(book, placement.x),
                            y: side(book, placement.y),
                            is_turned: placement.is_turned,
                        }
                    })
                    .collect(),
                splices: layout.splices.iter().map(rest).collect(),
                offcuts: layout.offcuts.iter().map(rest).collect(),
                cuts: cut_lines(book, &nested.instance, layout),
            }
        });
        lines.collect()
    });
    NestLine {
        cost: exact(&nest.cost),
        bound: exact(&nest.bound.cost),
        bound_stocks: nest.bound.stocks,
        bound_rule: match nest.bound.rule {
            BoundRule::Any => "any",
            BoundRule::Guillotine => "guillotine",
            BoundRule::Staged => "staged",
        },
        bound_method: nest.bound.method,
        gap_percent: shown::rounded(&(nest.gap() * Ratio::whole(100)), PLACES),
        set_ups: (layouts == Layouts::Told).then(|| shop::set_ups(book, item, nested)),
        ending: match nest.ending {
            Ending::Proven => "proven",
            Ending::Effort => "effort",
            Ending::Stopped => "stopped",
        },
        layouts: told,
        unplaced: nest.unplaced.iter().map(|unplaced| unplaced.count).sum(),
    }
}
