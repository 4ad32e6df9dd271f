use crate::model::Book;
use crate::model::ItemId;
use crate::orders::{Orders, Origin, Peg, PegSource};
use crate::render::report::{Cell, Report, Showing, figures, heading, table, words};
use crate::render::shown;

/// Returns why an item is ordered: each of its order lines with the builds and bill lines that ask for it.
#[must_use]
pub fn orders_why(book: &Book, orders: &Orders<'_>, item: ItemId) -> Report {
    let row = book.item(item);
    let planned = orders.planned.iter().find(|planned| planned.item == item);
    let mut starts: Vec<usize> = planned
        .map_or_else(Vec::new, |planned| planned.lines.iter().map(|line| line.week).collect());
    starts.push(0);
    starts.sort_unstable();
    starts.dedup();
    let mut tables = Vec::new();
    for (index, from) in starts.iter().enumerate() {
        let to = starts.get(index + 1).copied().unwrap_or(orders.weeks.count);
        let pegs = orders.why(item, *from, to);
        if pegs.is_empty() {
            continue;
        }
        let lines =
            planned.iter().flat_map(|planned| &planned.lines).filter(|line| line.week == *from);
        let bought: Vec<String> = lines
            .map(|line| {
                let size = super::size(book, line.size);
                format!(
                    "{} {}{} from {}, order by {}, due {}",
                    super::units(&line.units).shown,
                    super::unit(book, item, line.size),
                    if size.is_empty() { size } else { format!(" {size}") },
                    if line.vendor.is_empty() { "no vendor" } else { &line.vendor },
                    line.order_day,
                    line.due
                )
            })
            .collect();
        let what = if bought.is_empty() {
            "from stock and open orders".to_owned()
        } else {
            bought.join("; ")
        };
        let title = format!("{}: {what}", row.name);
        let source = |peg: &Peg| match peg.source {
            PegSource::Build(Origin::Scheduled(row)) => {
                let row = &book.schedule[row];
                let plan = &book.plans[row.plan.index()].name;
                format!("{} {} x {plan}, {}", row.order, row.units, row.day).trim_start().to_owned()
            }
            PegSource::Build(Origin::Forecast(plan)) => {
                format!("forecast of {}", book.plans[plan.index()].name)
            }
            PegSource::Ahead(index) => {
                format!(
                    "{} built ahead",
                    book.assemblies[orders.ahead[index].assembly.index()].name
                )
            }
        };
        let fields = [
            words("needed in week of", |peg: &Peg| {
                orders.weeks.week(peg.week).monday().to_string()
            }),
            words("for", source),
            words("parent", |peg: &Peg| {
                book.lines
                    .get(peg.line.index())
                    .map_or("", |line| book.parent_name(line.parent))
                    .to_owned()
            }),
            words("bill line", |peg: &Peg| {
                book.lines
                    .get(peg.line.index())
                    .map_or_else(String::new, |line| book.place(line.row, None).to_string())
            })
            .showing(Showing::IfItFits),
            figures("quantity", |peg: &Peg| {
                let amount = peg.measure.checked_div(&row.unit.factor).unwrap_or_default();
                Cell::figure(shown::rounded(&amount, 3))
            })
            .summed(),
            words("unit", |_: &Peg| row.unit.name.clone()),
        ];
        let mut made = table(title, &fields, &pegs);
        let total: crate::quantity::Ratio = pegs.iter().map(|peg| peg.measure.clone()).sum();
        let total = total.checked_div(&row.unit.factor).unwrap_or_default();
        made.totals.push(vec![
            Cell::text("total"),
            Cell::default(),
            Cell::default(),
            Cell::default(),
            Cell::figure(shown::rounded(&total, 3)),
            Cell::text(row.unit.name.clone()),
        ]);
        tables.push(made);
    }
    Report {
        heading: heading(book, Some(orders.as_of)),
        tables,
        notes: vec!["What options add beyond the expected share, and lots and multiples, are not traced to builds.".to_owned()],
    }
}
