use crate::explode::Needs;
use crate::model::Book;
use crate::model::RowRef;
use crate::render::report::{Cell, Table, build_name, figures, table, words};
use crate::render::shown;
use crate::rollup::{BuildCost, BurdenCost, ItemCost, QUANTITY_DIGITS, Rollup};

/// One amount of the ledger behind a cost sheet.
enum Line<'a> {
    Item(&'a ItemCost),
    Burden(&'a BurdenCost),
}

/// Returns every amount of the ledger behind a plan's cost sheet, with the rows its price comes from.
pub(super) fn sources(book: &Book, needs: &Needs, rollup: &Rollup, build: &BuildCost) -> Table {
    let lines: Vec<Line<'_>> =
        build.items.iter().map(Line::Item).chain(build.burdens.iter().map(Line::Burden)).collect();
    let of_item = |line: &Line<'_>, text: &dyn Fn(&ItemCost) -> String| match line {
        Line::Item(item) => text(item),
        Line::Burden(_) => String::new(),
    };
    let place = |row: RowRef| book.place(row, None).to_string();
    let distinct = |texts: Vec<String>| {
        let mut kept: Vec<String> = Vec::new();
        for text in texts {
            if !kept.contains(&text) {
                kept.push(text);
            }
        }
        kept.join("; ")
    };
    let priced = |item: &ItemCost| -> Vec<std::sync::Arc<crate::model::Priced>> {
        item.purchases.iter().filter_map(|purchase| purchase.priced.clone()).collect()
    };
    let digits = rollup.cost_digits;
    let fields = [
        words("item or burden", |line: &Line<'_>| match line {
            Line::Item(cost) => book.item(cost.item).name.clone(),
            Line::Burden(cost) => book.burdens[cost.burden.index()].name.clone(),
        }),
        words("description", |line: &Line<'_>| {
            of_item(line, &|cost| book.item(cost.item).description.clone())
        }),
        words("group", |line: &Line<'_>| of_item(line, &|cost| book.item(cost.item).group.clone())),
        figures("quantity", |line: &Line<'_>| match line {
            Line::Item(cost) => Cell::figure(shown::plain(cost.quantity, QUANTITY_DIGITS)),
            Line::Burden(_) => Cell::default(),
        }),
        words("unit", |line: &Line<'_>| {
            of_item(line, &|cost| book.item(cost.item).unit.name.clone())
        }),
        words("price", |line: &Line<'_>| {
            let texts = |cost: &ItemCost| {
                priced(cost).iter().map(|priced| priced.price.text.to_string()).collect()
            };
            of_item(line, &|cost| distinct(texts(cost)))
        }),
        words("source", |line: &Line<'_>| match line {
            Line::Item(cost) => {
                distinct(priced(cost).iter().map(|priced| place(priced.row)).collect())
            }
            Line::Burden(cost) => place(book.burdens[cost.burden.index()].row),
        }),
        figures(&format!("lot {}", book.settings.currency), |line: &Line<'_>| {
            Cell::amount(
                match line {
                    Line::Item(cost) => cost.cost,
                    Line::Burden(cost) => cost.cost,
                },
                digits,
            )
        })
        .summed(),
    ];
    let name = build_name(book, &needs.builds[build.build]);
    let of_lot =
        if rollup.lot == 1 { "one unit".to_owned() } else { format!("a lot of {}", rollup.lot) };
    let mut made = table(format!("{name}: ledger, {of_lot}"), &fields, &lines);
    let mut total = vec![Cell::default(); made.columns.len()];
    total[0] = Cell::text("ledger");
    total[7] = Cell::amount(build.cost(), digits);
    made.totals.push(total);
    made
}
