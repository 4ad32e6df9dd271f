//! JSON: one document per command, `schema` first; money, weights and ratios are decimal texts.
//!
//! Fields may be added; a change of meaning raises the number behind the slash. The format has structs of its own, so
//! that it changes on purpose only; `docs/json.md` says what each field means.

use serde::Serialize;

use crate::diag::Diagnostic;
use crate::explode::{Needs, Take, What};
use crate::model::Book;
use crate::model::Summary;
use crate::nest::{BoundRule, Ending};
use crate::quantity::Length;
use crate::quantity::Ratio;
use crate::quantity::text::exact;
use crate::render::Report;
use crate::render::shown;
use crate::rollup::{
    About, Grouping, ItemCost, Nested, QUANTITY_DIGITS, Rollup, WEIGHT_DIGITS, Why,
};

/// Decimal places of figures that are not exact decimals.
const PLACES: u32 = 8;

#[derive(Serialize)]
struct Document<T: Serialize> {
    schema: String,
    book: BookLine,
    #[serde(flatten)]
    answer: T,
    findings: Vec<Finding>,
}

#[derive(Serialize)]
struct BookLine {
    revision: String,
    on: Option<String>,
    currency: String,
    weight_unit: String,
    digest: String,
}

#[derive(Serialize)]
struct Finding {
    severity: String,
    place: Option<String>,
    text: String,
    hint: Option<String>,
}

fn document<T: Serialize>(
    verb: &str,
    book: &Book,
    on: Option<jiff::civil::Date>,
    findings: &[Diagnostic],
    answer: T,
) -> String {
    let document = Document {
        schema: format!("cutbill.{verb}/1"),
        book: BookLine {
            revision: book.settings.revision.clone(),
            on: on.map(|on| on.to_string()),
            currency: book.settings.currency.clone(),
            weight_unit: book.settings.weight_unit.name.clone(),
            digest: book.digest.clone(),
        },
        answer,
        findings: findings
            .iter()
            .map(|finding| Finding {
                severity: finding.severity.to_string(),
                place: finding.place.as_ref().map(ToString::to_string),
                text: finding.problem.to_string(),
                hint: finding.hint.clone(),
            })
            .collect(),
    };
    let mut text =
        serde_json::to_string_pretty(&document).expect("texts, counts and lists become JSON");
    text.push('\n');
    text
}

#[derive(Serialize)]
struct CheckAnswer {
    plans: usize,
    assemblies: usize,
    options: usize,
    items: usize,
    lines: usize,
    unused_items: Vec<String>,
    items_never_priced: Vec<String>,
}

/// Returns what `check` answers.
#[must_use]
pub fn check(book: &Book, summary: &Summary, findings: &[Diagnostic]) -> String {
    let answer = CheckAnswer {
        plans: summary.plans,
        assemblies: summary.assemblies,
        options: summary.options,
        items: summary.items,
        lines: summary.lines,
        unused_items: summary.unused_items.clone(),
        items_never_priced: summary.unpriced_items.clone(),
    };
    document("check", book, book.as_of(), findings, answer)
}

#[derive(Serialize)]
struct TablesAnswer {
    tables: Vec<TableLine>,
}

#[derive(Serialize)]
struct TableLine {
    title: String,
    rows: Vec<serde_json::Map<String, serde_json::Value>>,
}

/// Returns the tables of a report, each row an object by column titles: the indented bill, or where an item is used.
#[must_use]
pub fn tables(
    verb: &str,
    book: &Book,
    needs: &Needs,
    report: &Report,
    findings: &[Diagnostic],
) -> String {
    let tables = report.tables.iter().map(|table| TableLine {
        title: table.title.clone(),
        rows: table
            .rows
            .iter()
            .map(|row| {
                let cells = table.columns.iter().zip(row);
                cells
                    .map(|(column, cell)| (column.title.clone(), cell.plain.clone().into()))
                    .collect()
            })
            .collect(),
    });
    document(verb, book, needs.on, findings, TablesAnswer { tables: tables.collect() })
}

#[derive(Serialize)]
struct ExplodeAnswer {
    builds: Vec<BuildNeeds>,
}

#[derive(Serialize)]
struct BuildNeeds {
    plan: String,
    options: Vec<String>,
    needs: Vec<NeedLine>,
}

#[derive(Serialize)]
struct NeedLine {
    item: String,
    form: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    length: Option<Side>,
    #[serde(skip_serializing_if = "Option::is_none")]
    width: Option<Side>,
    good: String,
    required: String,
    unit: String,
}

/// A length: exact in its unit, as a decimal where it is one, else as a fraction.
#[derive(Serialize)]
struct Side {
    value: String,
    unit: String,
}

fn side(book: &Book, length: Length) -> Side {
    let unit = &book.settings.length_unit;
    let count = length.to_ratio().checked_div(&unit.factor).unwrap_or(Ratio::ZERO);
    Side { value: exact(&count), unit: unit.name.clone() }
}

/// Returns what `explode --flat` answers.
#[must_use]
pub fn needs(book: &Book, needs: &Needs, findings: &[Diagnostic]) -> String {
    let builds = needs.builds.iter().map(|build| BuildNeeds {
        plan: book.plans[build.plan.index()].name.clone(),
        options: build
            .options
            .iter()
            .map(|option| book.options[option.index()].name.clone())
            .collect(),
        needs: needs
            .flat(book, build)
            .needs
            .iter()
            .map(|need| {
                let item = book.item(need.item);
                let (factor, unit) = match need.what {
                    What::Piece { .. } => (Ratio::ONE, "piece".to_owned()),
                    What::Whole(_) => (Ratio::ONE, "size".to_owned()),
                    What::Run => (Length::FOOT.to_ratio(), "ft".to_owned()),
                    What::Amount => (item.unit.factor.clone(), item.unit.name.clone()),
                };
                let in_unit =
                    |amount: &Ratio| exact(&amount.checked_div(&factor).unwrap_or(Ratio::ZERO));
                let (long, wide) = match need.what {
                    What::Piece { length, width, .. } => (Some(length), Some(width)),
                    What::Whole(size) => {
                        (book.sizes[size.index()].length, book.sizes[size.index()].width)
                    }
                    What::Run | What::Amount => (None, None),
                };
                NeedLine {
                    item: item.name.clone(),
                    form: item.form.name(),
                    length: long.map(|long| side(book, long)),
                    width: wide.filter(|wide| *wide > Length::ZERO).map(|wide| side(book, wide)),
                    good: in_unit(&need.good),
                    required: in_unit(&need.required),
                    unit,
                }
            })
            .collect(),
    });
    let answer = ExplodeAnswer { builds: builds.collect() };
    document("needs", book, needs.on, findings, answer)
}

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
struct ItemLine {
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
    purchases: Vec<PurchaseLine>,
    #[serde(skip_serializing_if = "Option::is_none")]
    nest: Option<NestLine>,
}

#[derive(Serialize)]
struct PurchaseLine {
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
struct NestLine {
    cost: String,
    bound: String,
    bound_stocks: u64,
    bound_rule: &'static str,
    bound_method: &'static str,
    gap_percent: String,
    ending: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    layouts: Option<Vec<LayoutLine>>,
    unplaced: u64,
}

#[derive(Serialize)]
struct LayoutLine {
    repeat: u64,
    length: Side,
    #[serde(skip_serializing_if = "Option::is_none")]
    width: Option<Side>,
    taken: Side,
    pieces: Vec<PlacedLine>,
    splices: Vec<RestLine>,
    offcuts: Vec<RestLine>,
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
            options: build
                .options
                .iter()
                .map(|option| book.options[option.index()].name.clone())
                .collect(),
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

fn item_line(book: &Book, rollup: &Rollup, cost: &ItemCost, layouts: Layouts) -> ItemLine {
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
        nest: cost.nested.as_ref().map(|nested| nest_line(book, nested, layouts)),
    }
}

fn nest_line(book: &Book, nested: &Nested, layouts: Layouts) -> NestLine {
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
                length: side(book, size.length.unwrap_or(Length::ZERO)),
                width: size.width.map(|width| side(book, width)),
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
        ending: match nest.ending {
            Ending::Proven => "proven",
            Ending::Effort => "effort",
            Ending::Stopped => "stopped",
        },
        layouts: told,
        unplaced: nest.unplaced.iter().map(|unplaced| unplaced.count).sum(),
    }
}

#[derive(Serialize)]
struct WhyAnswer {
    lot: u32,
    rows: Vec<WhyRow>,
}

#[derive(Serialize)]
struct WhyRow {
    plan: String,
    what: String,
    cost: String,
    weight: String,
    prices: Vec<PurchaseLine>,
    lines: Vec<WhyLineLine>,
    #[serde(skip_serializing_if = "Option::is_none")]
    nest: Option<NestLine>,
}

#[derive(Serialize)]
struct WhyLineLine {
    place: String,
    takes: &'static str,
    cost: String,
    weight: String,
    paths: Vec<Vec<StepLine>>,
    more_paths: u64,
    layouts: Vec<usize>,
}

#[derive(Serialize)]
struct StepLine {
    place: String,
    component: String,
    quantity: String,
}

/// Returns what `rollup --why` answers.
#[must_use]
pub fn why(
    book: &Book,
    needs: &Needs,
    rollup: &Rollup,
    found: &[Why],
    findings: &[Diagnostic],
) -> String {
    let money = |amount: i128| shown::plain(amount, rollup.cost_digits);
    let weight = |amount: i128| shown::plain(amount, WEIGHT_DIGITS);
    let rows = found.iter().map(|why| {
        let build = &needs.builds[rollup.builds[why.build].build];
        let plan = book.plans[build.plan.index()].name.clone();
        match &why.what {
            About::Burden(burden) => WhyRow {
                plan,
                what: book.burdens[burden.burden.index()].name.clone(),
                cost: money(why.amounts[1]),
                weight: weight(0),
                prices: Vec::new(),
                lines: Vec::new(),
                nest: None,
            },
            About::Item { item, lines } => {
                let cost = rollup.builds[why.build].items.iter().find(|cost| cost.item == *item);
                let line = cost.map(|cost| item_line(book, rollup, cost, Layouts::Told));
                let (prices, nest) =
                    line.map_or((Vec::new(), None), |line| (line.purchases, line.nest));
                WhyRow {
                    plan,
                    what: book.item(*item).name.clone(),
                    cost: money(why.amounts[1]),
                    weight: weight(why.amounts[2]),
                    prices,
                    lines: lines
                        .iter()
                        .map(|line| WhyLineLine {
                            place: book
                                .place(book.line(needs.taken(line.source).line).row, None)
                                .to_string(),
                            takes: match needs.taken(line.source).take {
                                Take::Assembly(_) => "assembly",
                                Take::Pieces(_) => "pieces",
                                Take::Run(_) => "run",
                                Take::Whole(_) => "size",
                                Take::Amount(_) => "amount",
                            },
                            cost: money(line.amounts[1]),
                            weight: weight(line.amounts[2]),
                            paths: line
                                .paths
                                .iter()
                                .map(|path| {
                                    path.steps
                                        .iter()
                                        .map(|step| {
                                            let row = book.line(step.line);
                                            StepLine {
                                                place: book.place(row.row, None).to_string(),
                                                component: book
                                                    .component_name(row.component)
                                                    .to_owned(),
                                                quantity: exact(&step.quantity),
                                            }
                                        })
                                        .collect()
                                })
                                .collect(),
                            more_paths: line.more_paths,
                            layouts: line.layouts.clone(),
                        })
                        .collect(),
                    nest,
                }
            }
        }
    });
    let answer = WhyAnswer { lot: rollup.lot, rows: rows.collect() };
    document("why", book, needs.on, findings, answer)
}
