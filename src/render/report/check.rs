use crate::model::Book;
use crate::model::Summary;
use crate::render::report::{Cell, Report, Table, figures, heading, table, words};

/// One count of the summary.
struct Line {
    what: &'static str,
    count: usize,
    names: Vec<String>,
}

/// Most names a line of the summary spells out.
const MOST_NAMES: usize = 20;

/// Returns what a book holds: counts, and the items that no bill uses or that have no price.
#[must_use]
pub fn check(book: &Book, summary: &Summary) -> Report {
    let line = |what, count| Line { what, count, names: Vec::new() };
    let lines = [
        line("plans", book.plans.len()),
        line("assemblies", book.assemblies.len()),
        line("options", book.options.len()),
        line("items", book.items.len()),
        line("bill lines", book.lines.len()),
        line("sizes", book.sizes.len()),
        line("dated prices", book.prices.len()),
        Line {
            what: "items on no bill or swap",
            count: summary.unused_items.len(),
            names: summary.unused_items.clone(),
        },
        Line {
            what: "items never priced",
            count: summary.unpriced_items.len(),
            names: summary.unpriced_items.clone(),
        },
    ];
    let fields = [
        words("what", |line: &Line| line.what.to_owned()),
        figures("count", |line: &Line| Cell::figure(line.count.to_string())),
        words("names", |line: &Line| {
            let mut text =
                line.names.iter().take(MOST_NAMES).cloned().collect::<Vec<_>>().join(", ");
            if line.names.len() > MOST_NAMES {
                text.push_str(&format!(" and {} more", line.names.len() - MOST_NAMES));
            }
            text
        }),
    ];
    let summary: Table = table("The book", &fields, &lines);
    Report { heading: heading(book, book.as_of()), tables: vec![summary], notes: Vec::new() }
}
