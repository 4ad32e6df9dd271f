//! The table `burdens`.

use std::collections::BTreeMap;

use jiff::civil::Date;

use crate::diag::Problem;
use crate::diag::did_you_mean;
use crate::diag::nearest;
use crate::diag::squashed;
use crate::model::Burden;
use crate::model::BurdenBasis;
use crate::model::RowRef;
use crate::quantity::Length;
use crate::quantity::Ratio;
use crate::read::book::Build;
use crate::read::book::plans::place;
use crate::read::book::prices::money;
use crate::read::book::taken;
use crate::read::cells::Row;
use crate::read::names::folded;

const BASES: &[&str] = &["labor_money", "labor_hours", "material", "weight", "area", "unit", "lot"];

/// Most names that a misspelled one is compared with.
const MOST_NAMES: usize = 200;

/// Reads the burdens in the order they are laid on.
pub(super) fn burdens(build: &mut Build) {
    let Some(grid) = build.grids.find("burdens") else { return };
    let mut rows: Vec<(Option<Ratio>, Row)> =
        build.reader.rows(grid).map(|row| (row.number(grid.at("order")), row)).collect();
    // Rows without an order come last, as they stand.
    rows.sort_by(|(a, _), (b, _)| (a.is_none(), a).cmp(&(b.is_none(), b)));
    let mut burdens: Vec<Burden> = Vec::new();
    let mut names: BTreeMap<String, String> = BTreeMap::new();
    let mut seen: BTreeMap<(String, Option<Date>, String), RowRef> = BTreeMap::new();
    let scopes = scopes(build);
    for (_, row) in rows {
        let at = grid.at("burden");
        let name = row.needed_text(at);
        let basis = basis(row, &names);
        let applies_to = applies_to(build, row, &scopes);
        let (share, amount) =
            (row.share(grid.at("percent")), money(row, grid.at("amount"), &row.reader.currency));
        let from = row.date(grid.at("from_date"));
        let (Some(name), Some(basis)) = (name, basis) else { continue };
        let has_percent = !row.is_empty(grid.at("percent"));
        if !has_percent && row.is_empty(grid.at("amount")) {
            row.error(grid.at("percent"), Problem::CellMissing);
            continue;
        }
        let divisor = match &basis {
            BurdenBasis::LaborMoney | BurdenBasis::Material | BurdenBasis::Subtotal(_) => None,
            BurdenBasis::LaborTime => Some(Ratio::whole(60)),
            BurdenBasis::Weight => Some(build.reader.weight.factor.clone()),
            BurdenBasis::Area => Some(Length::FOOT.to_ratio().power(2)),
            BurdenBasis::Unit | BurdenBasis::Lot => Some(Ratio::ONE),
        };
        if divisor.is_some() && has_percent {
            let reason =
                format!("basis `{}` is no money; it takes an amount", row.shown(grid.at("basis")));
            let problem = Problem::DimensionUnused { dimension: "percent".to_owned(), reason };
            row.error(grid.at("percent"), problem);
        }
        let amount = amount.map(|amount| match &divisor {
            Some(divisor) => amount.checked_div(divisor).expect("units are above zero"),
            None => amount,
        });
        let row_ref = grid.row_ref(row.index);
        let key = (folded(&name), from, applies_to.clone());
        let first = *seen.entry(key).or_insert(row_ref);
        if first != row_ref {
            taken(row, at, "burden", &name, place(build, first.row, "burdens"));
        }
        names.entry(folded(&name)).or_insert_with(|| name.clone().into_owned());
        burdens.push(Burden {
            name: name.into_owned(),
            basis,
            applies_to,
            share,
            amount,
            from,
            row: row_ref,
        });
    }
    build.book.burdens = burdens;
}

/// Returns the basis of a row; `earlier` are the burdens laid on so far, by their names in lower case.
fn basis(row: Row, earlier: &BTreeMap<String, String>) -> Option<BurdenBasis> {
    let at = row.at("basis");
    let text = row.needed_text(at)?;
    let position = BASES.iter().position(|basis| squashed(basis) == squashed(&text));
    if let Some(position) = position {
        let bases = [
            BurdenBasis::LaborMoney,
            BurdenBasis::LaborTime,
            BurdenBasis::Material,
            BurdenBasis::Weight,
            BurdenBasis::Area,
            BurdenBasis::Unit,
            BurdenBasis::Lot,
        ];
        return bases.into_iter().nth(position);
    }
    if let Some(name) = earlier.get(&folded(&text)) {
        return Some(BurdenBasis::Subtotal(name.clone()));
    }
    let known = BASES.iter().copied().chain(earlier.values().map(String::as_str).take(MOST_NAMES));
    let hint = nearest(&text, known).map(did_you_mean);
    let what = "basis, or burden laid on earlier,".to_owned();
    row.error_with_hint(at, Problem::NameUnknown { what, name: text.into_owned() }, hint);
    None
}

/// Returns the item groups and stations of the book, by their names in lower case.
fn scopes<'a>(build: &'a Build) -> BTreeMap<String, &'a str> {
    let groups = build.book.items.iter().map(|item| item.group.as_str());
    let stations = build.book.assemblies.iter().map(|assembly| assembly.station.as_str());
    let named = groups.chain(stations).filter(|name| !name.is_empty());
    named.map(|name| (folded(name), name)).collect()
}

fn applies_to(build: &Build, row: Row, scopes: &BTreeMap<String, &str>) -> String {
    let at = row.at("applies_to");
    let text = row.text(at).into_owned();
    let is_known = text.is_empty()
        || build.names.plans.find(&text).is_some()
        || build.names.items.find(&text).is_some()
        || scopes.contains_key(&folded(&text));
    if !is_known {
        let hint = nearest(&text, scopes.values().copied().take(MOST_NAMES)).map(did_you_mean);
        let what = "item group, station, plan or item".to_owned();
        row.error_with_hint(at, Problem::NameUnknown { what, name: text.clone() }, hint);
    }
    text
}
