use serde::Serialize;

use crate::compare::{
    Amounts, Bridge, Deviation, Effect, LineChange, PriceChange, Row, Side, Subject, Variance,
    is_labor,
};
use crate::diag::Diagnostic;
use crate::explode::Needs;
use crate::model::Book;
use crate::model::ItemId;
use crate::model::Priced;
use crate::quantity::Ratio;
use crate::quantity::text::exact;
use crate::render::json::{BookLine, Side as SideLine, document, option_names, side};
use crate::render::report::{Alone, Compared, line_names, line_standing, rise};
use crate::render::shown;
use crate::rollup::{Rollup, WEIGHT_DIGITS};

/// Decimal places of percents.
const PLACES: u32 = 8;

#[derive(Serialize)]
struct CompareAnswer {
    old_book: BookLine,
    bridges: Vec<BridgeLine>,
    plans_alone: Vec<AloneLine>,
    prices: Vec<PriceLine>,
    lines: Vec<LineLine>,
}

#[derive(Serialize)]
struct BridgeLine {
    old: BuildLine,
    new: BuildLine,
    units: u32,
    effects: Vec<EffectLine>,
    rows: Vec<RowLine>,
    substitutions: Vec<SubstitutionLine>,
}

#[derive(Serialize)]
struct BuildLine {
    plan: String,
    options: Vec<String>,
    lot: u32,
    cost: String,
    weight: String,
}

#[derive(Serialize)]
struct EffectLine {
    effect: &'static str,
    class: &'static str,
    cost: String,
    weight: String,
}

#[derive(Serialize)]
struct RowLine {
    what: &'static str,
    old: Option<String>,
    new: Option<String>,
    old_cost: String,
    new_cost: String,
    old_weight: String,
    new_weight: String,
    effects: Vec<EffectLine>,
}

#[derive(Serialize)]
struct SubstitutionLine {
    removed: Vec<String>,
    added: Vec<String>,
    evidence: &'static str,
}

#[derive(Serialize)]
struct AloneLine {
    side: &'static str,
    plan: String,
    lot: u32,
    cost: String,
    weight: String,
}

#[derive(Serialize)]
struct PriceLine {
    item: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    length: Option<SideLine>,
    #[serde(skip_serializing_if = "Option::is_none")]
    width: Option<SideLine>,
    old: Option<String>,
    new: Option<String>,
    change_percent: Option<String>,
    old_place: Option<String>,
    new_place: Option<String>,
}

#[derive(Serialize)]
struct LineLine {
    change: &'static str,
    parent: String,
    component: String,
    old_place: Option<String>,
    new_place: Option<String>,
    fields: Vec<FieldLine>,
}

#[derive(Serialize)]
struct FieldLine {
    column: String,
    old: String,
    new: String,
}

/// Returns what `compare` answers.
#[must_use]
pub fn compare(compared: &Compared<'_>, findings: &[Diagnostic]) -> String {
    let Compared { pairs, comparison, alone } = compared;
    let (old, new) = pairs.first().expect("a comparison has a pair of sides");
    let bridges = pairs.iter().zip(&comparison.bridges);
    let answer = CompareAnswer {
        old_book: BookLine::of(old.book, old.needs.on),
        bridges: bridges.map(|((old, new), bridge)| bridge_line(*old, *new, bridge)).collect(),
        plans_alone: alone.iter().map(alone_line).collect(),
        prices: comparison
            .prices
            .iter()
            .map(|change| price_line(old.book, new.book, change))
            .collect(),
        lines: comparison
            .lines
            .iter()
            .map(|change| line_line(old.book, new.book, change))
            .collect(),
    };
    document("compare", new.book, new.needs.on, findings, answer)
}

fn bridge_line(old: Side<'_>, new: Side<'_>, bridge: &Bridge) -> BridgeLine {
    let digits = bridge.basis.cost_digits;
    let build = |side: Side<'_>, amounts: Amounts| BuildLine {
        plan: side.book.plans[side.build().plan.index()].name.clone(),
        options: option_names(side.book, side.build()),
        lot: side.rollup.lot,
        cost: shown::plain(amounts.cost, digits),
        weight: weight(amounts.weight),
    };
    let names = |book: &Book, items: &[ItemId]| -> Vec<String> {
        items.iter().map(|item| book.item(*item).name.clone()).collect()
    };
    BridgeLine {
        old: build(old, bridge.start()),
        new: build(new, bridge.end()),
        units: bridge.basis.units,
        effects: effect_lines(digits, &|effect| bridge.effect(effect)),
        rows: bridge.rows.iter().map(|row| row_line(old.book, new.book, row, digits)).collect(),
        substitutions: bridge
            .substitutions
            .iter()
            .map(|substitution| SubstitutionLine {
                removed: names(old.book, &substitution.removed),
                added: names(new.book, &substitution.added),
                evidence: substitution.evidence.name(),
            })
            .collect(),
    }
}

fn row_line(old: &Book, new: &Book, row: &Row, digits: u32) -> RowLine {
    let (what, old_name, new_name) = match row.subject {
        Subject::Item(pair) => {
            let name = |book: &Book, item: ItemId| book.item(item).name.clone();
            (
                "item",
                pair.on_old().map(|item| name(old, item)),
                pair.on_new().map(|item| name(new, item)),
            )
        }
        Subject::Burden(pair) => {
            let name = |book: &Book, burden: crate::model::BurdenId| {
                book.burdens[burden.index()].name.clone()
            };
            let names =
                (pair.on_old().map(|id| name(old, id)), pair.on_new().map(|id| name(new, id)));
            ("burden", names.0, names.1)
        }
    };
    RowLine {
        what,
        old: old_name,
        new: new_name,
        old_cost: shown::plain(row.old.cost, digits),
        new_cost: shown::plain(row.new.cost, digits),
        old_weight: weight(row.old.weight),
        new_weight: weight(row.new.weight),
        effects: effect_lines(digits, &|effect| row.effect(effect)),
    }
}

/// Returns the effects that there are.
fn effect_lines(digits: u32, amounts: &dyn Fn(Effect) -> Amounts) -> Vec<EffectLine> {
    let present = Effect::ALL.into_iter().map(|effect| (effect, amounts(effect)));
    present
        .filter(|(_, amounts)| *amounts != Amounts::default())
        .map(|(effect, amounts)| EffectLine {
            effect: effect.name(),
            class: effect.class().name(),
            cost: shown::plain(amounts.cost, digits),
            weight: weight(amounts.weight),
        })
        .collect()
}

fn alone_line(alone: &Alone<'_>) -> AloneLine {
    let (name, side) = match alone {
        Alone::Old(side) => ("old", side),
        Alone::New(side) => ("new", side),
    };
    AloneLine {
        side: name,
        plan: side.book.plans[side.build().plan.index()].name.clone(),
        lot: side.rollup.lot,
        cost: shown::plain(side.cost().cost(), side.rollup.cost_digits),
        weight: weight(side.cost().weight()),
    }
}

fn price_line(old: &Book, new: &Book, change: &PriceChange) -> PriceLine {
    let text = |priced: &Priced| priced.price.text.to_string();
    let place = |book: &Book, priced: &Priced| book.place(priced.row, None).to_string();
    let (long, wide) = change.size.unwrap_or_default();
    PriceLine {
        item: new.item(change.items.1).name.clone(),
        length: long.map(|long| side(new, long)),
        width: wide.map(|wide| side(new, wide)),
        old: change.old.as_ref().map(text),
        new: change.new.as_ref().map(text),
        change_percent: rise(change)
            .map(|rise| shown::rounded(&(rise * Ratio::whole(100)), PLACES)),
        old_place: change.old.as_ref().map(|priced| place(old, priced)),
        new_place: change.new.as_ref().map(|priced| place(new, priced)),
    }
}

fn line_line(old: &Book, new: &Book, change: &LineChange) -> LineLine {
    let place = |book: &Book, line| book.place(book.line(line).row, None).to_string();
    let (parent, component) = line_names(old, new, change);
    let fields = change.fields.iter().map(|field| FieldLine {
        column: field.column.clone(),
        old: field.old.clone(),
        new: field.new.clone(),
    });
    LineLine {
        change: line_standing(change),
        parent,
        component,
        old_place: change.line.on_old().map(|line| place(old, line)),
        new_place: change.line.on_new().map(|line| place(new, line)),
        fields: fields.collect(),
    }
}

fn weight(weight: i128) -> String {
    shown::plain(weight, WEIGHT_DIGITS)
}

#[derive(Serialize)]
struct VariancesAnswer {
    lot: u32,
    rows: Vec<VarianceLine>,
}

#[derive(Serialize)]
struct VarianceLine {
    item: String,
    kind: &'static str,
    plan: Option<String>,
    date: Option<String>,
    place: String,
    unit: String,
    actual_quantity: String,
    actual_amount: Option<String>,
    units: Option<u32>,
    standard_quantity: Option<String>,
    standard_price: String,
    price_variance: Option<DeviationLine>,
    quantity_variance: Option<DeviationLine>,
    total_variance: Option<DeviationLine>,
}

#[derive(Serialize)]
struct DeviationLine {
    amount: String,
    verdict: &'static str,
}

/// Returns what `compare --actuals` answers.
#[must_use]
pub fn variances(
    book: &Book,
    needs: &Needs,
    rollup: &Rollup,
    found: &[Variance],
    findings: &[Diagnostic],
) -> String {
    let deviation = |deviation: Deviation| DeviationLine {
        amount: shown::plain(deviation.amount(), rollup.cost_digits),
        verdict: deviation.verdict().name(),
    };
    let rows = found.iter().map(|variance| {
        let row = &book.actuals[variance.row];
        let item = book.item(row.item);
        let in_unit =
            |measure: &Ratio| exact(&measure.checked_div(&item.unit.factor).unwrap_or(Ratio::ZERO));
        VarianceLine {
            item: item.name.clone(),
            kind: if is_labor(book, variance) { "labor" } else { "material" },
            plan: row.plan.map(|plan| book.plans[plan.index()].name.clone()),
            date: row.date.map(|date| date.to_string()),
            place: book.place(row.row, None).to_string(),
            unit: item.unit.name.clone(),
            actual_quantity: in_unit(&row.quantity),
            actual_amount: row.amount.as_ref().map(exact),
            units: row.units,
            standard_quantity: variance.standard_quantity.as_ref().map(in_unit),
            standard_price: exact(&(&variance.standard_price * &item.unit.factor)),
            price_variance: variance.price.map(deviation),
            quantity_variance: variance.quantity.map(deviation),
            total_variance: variance.total.map(deviation),
        }
    });
    let answer = VariancesAnswer { lot: rollup.lot, rows: rows.collect() };
    document("variances", book, needs.on, findings, answer)
}
