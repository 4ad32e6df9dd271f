//! The table `burdens`.

use crate::diag::Problem;
use crate::diag::did_you_mean;
use crate::diag::nearest;
use crate::diag::squashed;
use crate::model::Burden;
use crate::model::BurdenBasis;
use crate::quantity::Length;
use crate::quantity::Ratio;
use crate::read::book::Build;
use crate::read::book::plans::place;
use crate::read::book::taken;
use crate::read::cells::Row;
use crate::read::names::folded;

const BASES: &[&str] = &["labor_money", "labor_hours", "material", "weight", "area", "unit", "lot"];

/// Reads the burdens in the order they are laid on.
pub(super) fn burdens(build: &mut Build) {
    let Some(grid) = build.grids.find("burdens") else { return };
    let mut rows: Vec<(Option<Ratio>, Row)> =
        build.reader.rows(grid).map(|row| (row.number(grid.at("order")), row)).collect();
    // Rows without an order come last, as they stand.
    rows.sort_by(|(a, _), (b, _)| (a.is_none(), a).cmp(&(b.is_none(), b)));
    let mut burdens: Vec<Burden> = Vec::new();
    for (_, row) in rows {
        let at = grid.at("burden");
        let name = row.needed_text(at);
        let basis = basis(row, &burdens);
        let applies_to = applies_to(build, row);
        let (share, amount) = (row.share(grid.at("percent")), row.amount(grid.at("amount")));
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
        if let Some(first) = burdens.iter().find(|other| {
            folded(&other.name) == folded(&name)
                && other.from == from
                && other.applies_to == applies_to
        }) {
            let first = place(build, first.row.row, "burdens");
            taken(row, at, "burden", &name, first);
        }
        burdens.push(Burden {
            name: name.into_owned(),
            basis,
            applies_to,
            share,
            amount,
            from,
            row: grid.row_ref(row.index),
        });
    }
    build.book.burdens = burdens;
}

fn basis(row: Row, earlier: &[Burden]) -> Option<BurdenBasis> {
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
    if let Some(burden) = earlier.iter().find(|burden| folded(&burden.name) == folded(&text)) {
        return Some(BurdenBasis::Subtotal(burden.name.clone()));
    }
    let known = BASES.iter().copied().chain(earlier.iter().map(|burden| burden.name.as_str()));
    let hint = nearest(&text, known).map(did_you_mean);
    let what = "basis, or burden laid on earlier,".to_owned();
    row.error_with_hint(at, Problem::NameUnknown { what, name: text.into_owned() }, hint);
    None
}

fn applies_to(build: &Build, row: Row) -> String {
    let at = row.at("applies_to");
    let text = row.text(at).into_owned();
    let key = folded(&text);
    let groups = build.book.items.iter().map(|item| item.group.as_str());
    let stations = build.book.assemblies.iter().map(|assembly| assembly.station.as_str());
    let mut known = groups.clone().chain(stations.clone());
    let is_known = text.is_empty()
        || build.names.plans.find(&text).is_some()
        || build.names.items.find(&text).is_some()
        || known.any(|name| folded(name) == key);
    if !is_known {
        let hint = nearest(&text, groups.chain(stations).filter(|name| !name.is_empty()))
            .map(did_you_mean);
        let what = "item group, station, plan or item".to_owned();
        row.error_with_hint(at, Problem::NameUnknown { what, name: text.clone() }, hint);
    }
    text
}
