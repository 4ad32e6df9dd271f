use crate::compare::{Deviation, Variance, is_labor};
use crate::explode::Needs;
use crate::model::ActualRow;
use crate::model::Book;
use crate::quantity::Ratio;
use crate::render::report::{
    CAUTION_NEST, Cell, Report, Showing, Table, figures, heading, table, words,
};
use crate::render::shown;
use crate::rollup::Rollup;

/// Decimal places of standard prices and quantities, which are shown only.
const PLACES: u32 = 4;

/// Returns actuals beside the standard: material by price and quantity, labor by rate and efficiency.
#[must_use]
pub fn variances(book: &Book, needs: &Needs, rollup: &Rollup, found: &[Variance]) -> Report {
    let (labor, material): (Vec<&Variance>, Vec<&Variance>) =
        found.iter().partition(|variance| is_labor(book, variance));
    let mut tables = Vec::new();
    if !material.is_empty() || labor.is_empty() {
        let title = "Material: actual against standard";
        tables.push(variance_table(book, rollup, title, ["price", "quantity"], &material));
    }
    if !labor.is_empty() {
        let title = "Labor: actual against standard";
        tables.push(variance_table(book, rollup, title, ["rate", "efficiency"], &labor));
    }
    Report { heading: heading(book, needs.on), tables, notes: notes(book, rollup) }
}

fn notes(book: &Book, rollup: &Rollup) -> Vec<String> {
    vec![
        format!(
            "Amounts are in {}; favorable is less money than the standard, unfavorable more. The standard is that of a lot of \
             {}, with its waste.",
            book.settings.currency, rollup.lot
        ),
        "Price variance: the actual amount less the actual quantity at the standard price. Quantity variance: the actual \
         less the standard quantity, at the standard price; it needs the units built."
            .to_owned(),
        CAUTION_NEST.to_owned(),
    ]
}

fn variance_table(
    book: &Book,
    rollup: &Rollup,
    title: &str,
    [price, quantity]: [&str; 2],
    found: &[&Variance],
) -> Table {
    type Line<'a> = &'a Variance;
    let row = |line: &Line<'_>| -> &ActualRow { &book.actuals[line.row] };
    let in_unit = |line: &Line<'_>, measure: &Ratio| {
        let factor = &book.item(row(line).item).unit.factor;
        Cell::figure(shown::rounded(&measure.checked_div(factor).unwrap_or(Ratio::ZERO), PLACES))
    };
    let digits = rollup.cost_digits;
    let deviation = |of: fn(&Variance) -> Option<Deviation>| {
        move |line: &Line<'_>| {
            of(line).map_or_else(Cell::default, |of| Cell::amount(of.amount(), digits))
        }
    };
    let verdict = |of: fn(&Variance) -> Option<Deviation>| {
        move |line: &Line<'_>| {
            of(line).map_or_else(String::new, |of| of.verdict().name().to_owned())
        }
    };
    let fields = [
        words("item", |line: &Line<'_>| book.item(row(line).item).name.clone()),
        words("plan", |line: &Line<'_>| {
            row(line).plan.map_or_else(String::new, |plan| book.plans[plan.index()].name.clone())
        }),
        words("date", |line: &Line<'_>| {
            row(line).date.map_or_else(String::new, |date| date.to_string())
        })
        .showing(Showing::IfItFits),
        words("row", |line: &Line<'_>| book.place(row(line).row, None).to_string())
            .showing(Showing::IfItFits),
        figures("actual", |line: &Line<'_>| in_unit(line, &row(line).quantity)),
        figures("standard", |line: &Line<'_>| {
            line.standard_quantity
                .as_ref()
                .map_or_else(Cell::default, |standard| in_unit(line, standard))
        }),
        words("unit", |line: &Line<'_>| book.item(row(line).item).unit.name.clone()),
        figures("paid each", |line: &Line<'_>| {
            let each = row(line)
                .amount
                .as_ref()
                .and_then(|amount| amount.checked_div(&row(line).quantity));
            each.map_or_else(Cell::default, |each| price_cell(book, row(line), &each))
        })
        .showing(Showing::IfItFits),
        figures("standard each", |line: &Line<'_>| {
            price_cell(book, row(line), &line.standard_price)
        })
        .showing(Showing::IfItFits),
        figures(price, deviation(|variance| variance.price)),
        words(&format!("{price} is"), verdict(|variance| variance.price)),
        figures(quantity, deviation(|variance| variance.quantity)),
        words(&format!("{quantity} is"), verdict(|variance| variance.quantity)),
        figures("total", deviation(|variance| variance.total)),
        words("total is", verdict(|variance| variance.total)),
    ];
    let mut made = table(title, &fields, found);
    let sums: [fn(&Variance) -> Option<Deviation>; 3] =
        [|variance| variance.price, |variance| variance.quantity, |variance| variance.total];
    let mut total = vec![Cell::default(); fields.len() - 2 * sums.len()];
    total[0] = Cell::text("total");
    for of in sums {
        let known: Vec<Deviation> = found.iter().filter_map(|variance| of(variance)).collect();
        if known.is_empty() {
            total.extend([Cell::default(), Cell::default()]);
            continue;
        }
        let sum: Deviation = known.into_iter().sum();
        total.push(Cell::amount(sum.amount(), digits));
        total.push(Cell::text(sum.verdict().name()));
    }
    made.totals.push(total);
    made
}

fn price_cell(book: &Book, row: &ActualRow, price: &Ratio) -> Cell {
    let per_unit = price * &book.item(row.item).unit.factor;
    Cell::figure(shown::rounded(&per_unit, PLACES))
}
