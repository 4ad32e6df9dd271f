use serde::Serialize;

use crate::diag::Diagnostic;
use crate::explode::{Needs, Take};
use crate::model::Book;
use crate::quantity::text::exact;
use crate::render::json::document;
use crate::render::json::rollup::{Layouts, NestLine, PurchaseLine, item_line};
use crate::render::shown;
use crate::rollup::{About, Rollup, WEIGHT_DIGITS, Why};

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
