//! The subcommand `report`: every answer about a book, in one document or workbook.

use cutbill::compare::{self, Scope, Side};
use cutbill::diag::{Checked, Diagnostic, squashed};
use cutbill::explode::{self, Needs};
use cutbill::loads;
use cutbill::model::Book;
use cutbill::orders;
use cutbill::price;
use cutbill::render::html::{self, LayoutPages};
use cutbill::render::report::{self, Alone, Compared, Whole};
use cutbill::render::xlsx;
use cutbill::rollup::{self, Grouping, Key, Rollup};
use cutbill::swap;
use cutbill::watch::Watch;

use crate::cli::arguments::{Format, Report};
use crate::cli::{
    Answer, add_new, cutting_options, engine_error, exploded, names, plain_error, read, rolled_up,
};

/// Effort of the nests of orders where the user names none: one per week and item has to do.
const ORDERS_EFFORT: u32 = 2;

/// Another book with its builds, rolled up.
struct Other {
    book: Book,
    needs: Needs,
    rollup: Rollup,
}

/// Lays out every answer about a book.
pub(super) fn report(arguments: &Report, watch: &dyn Watch) -> Result<Answer, Vec<Diagnostic>> {
    let output = &arguments.output;
    let format = output.format();
    if !matches!(format, Format::Html | Format::Xlsx) {
        let mut error = plain_error("a report is a document or a workbook".to_owned());
        error.hint = Some("name a file: `-o report.html` or `-o report.xlsx`".to_owned());
        return Err(vec![error]);
    }
    let (book, needs, mut findings) = exploded(&arguments.scope, output, watch)?;
    let asked = names::explode_options(&book, &arguments.scope)?;
    let rollup = rolled_up(&book, &needs, &arguments.cutting, watch, &mut findings)?;
    let by_group = grouped(&book, &needs, &rollup, &[Key::Plan, Key::Kind, Key::Group])?;
    let by_assembly = grouped(&book, &needs, &rollup, &[Key::Plan, Key::Assembly])?;
    let priced = price::price(&book, &needs, &rollup, &price::Options::default())?;
    add_new(&mut findings, priced.warnings);
    let weighed = loads::loads(
        &book,
        &needs,
        &loads::Options { explode: asked.clone(), ..loads::Options::default() },
    )?;
    add_new(&mut findings, weighed.warnings);
    let ordered = ordered(arguments, &book, watch, &mut findings)?;
    let told = findings.clone();
    let base = swap::Base { book: &book, needs: &needs, rollup: &rollup, findings: &told };
    let proposals = swap::of_table(&book);
    let swaps = if proposals.is_empty() {
        None
    } else {
        let options = swap::Options {
            explode: asked,
            cutting: cutting_options(&arguments.cutting),
            is_together: true,
            save: None,
        };
        let swaps = swap::swap(base, proposals, &options, watch)?;
        add_new(&mut findings, swaps.warnings);
        Some(swaps.value)
    };
    let other = match &arguments.against {
        Some(_) => Some(other(arguments, watch, &mut findings)?),
        None => None,
    };
    let (pairs, alone) = other.as_ref().map(|other| paired(other, base)).unwrap_or_default();
    let comparison = match &other {
        Some(_) if pairs.is_empty() => {
            return Err(vec![plain_error(
                "`--against`: the two books have no plan of the same name".to_owned(),
            )]);
        }
        Some(_) => Some(compare::compare(&pairs, Scope::Written)?),
        None => None,
    };
    let compared =
        comparison.as_ref().map(|comparison| Compared { pairs: &pairs, comparison, alone: &alone });
    let whole = Whole {
        book: &book,
        needs: &needs,
        rollup: &rollup,
        by_group: &by_group,
        by_assembly: &by_assembly,
        price: &priced.value,
        loads: &weighed.value,
        orders: ordered.as_ref(),
        swaps: swaps.as_ref(),
        compared: compared.as_ref(),
        findings: &findings,
    };
    watch.progress("writing", 0, 1);
    let value = match format {
        Format::Html => html::html(&whole, layout_pages(arguments)).into_bytes(),
        _ => {
            let drawings = report::drawings(&book, &needs, &rollup);
            xlsx::xlsx_drawn(&report::whole(&whole), &drawings).map_err(|error| vec![error])?
        }
    };
    Ok(Checked { value, warnings: findings })
}

fn layout_pages(arguments: &Report) -> LayoutPages {
    if arguments.one_layout_a_page { LayoutPages::One } else { LayoutPages::Several }
}

fn grouped(
    book: &Book,
    needs: &Needs,
    rollup: &Rollup,
    keys: &[Key],
) -> Result<Grouping, Vec<Diagnostic>> {
    let ledger = rollup::ledger(book, needs, rollup, keys).map_err(engine_error)?;
    rollup::group(&ledger, keys).map_err(engine_error)
}

/// Plans the purchases, if the book has a schedule and a day that its stock is of.
fn ordered<'a>(
    arguments: &Report,
    book: &'a Book,
    watch: &dyn Watch,
    findings: &mut Vec<Diagnostic>,
) -> Result<Option<orders::Orders<'a>>, Vec<Diagnostic>> {
    if book.schedule.is_empty() || (arguments.scope.on.is_none() && book.as_of().is_none()) {
        return Ok(None);
    }
    let nest = cutbill::nest::Options {
        effort: arguments.cutting.effort.unwrap_or(ORDERS_EFFORT),
        ..cutbill::nest::Options::default()
    };
    let options = orders::Options { as_of: arguments.scope.on, nest, ..orders::Options::default() };
    let planned = orders::orders(book, &options, watch)?;
    add_new(findings, planned.warnings);
    Ok(Some(planned.value))
}

/// Reads the book to compare with and rolls up its plans of the same names.
fn other(
    arguments: &Report,
    watch: &dyn Watch,
    findings: &mut Vec<Diagnostic>,
) -> Result<Other, Vec<Diagnostic>> {
    let path = arguments.against.as_deref().expect("it is asked for");
    let read = read(path, &arguments.output, watch)?;
    findings.extend(read.warnings);
    let book = read.value;
    let asked = names::explode_options(&book, &arguments.scope)?;
    let needs = explode::explode(&book, &asked)?;
    add_new(findings, needs.warnings);
    let needs = needs.value;
    let rollup = rolled_up(&book, &needs, &arguments.cutting, watch, findings)?;
    Ok(Other { book, needs, rollup })
}

type Pairs<'a> = Vec<(Side<'a>, Side<'a>)>;

/// Matches the plans of the other book with those of this one, and returns with them those that only one has.
fn paired<'a>(other: &'a Other, base: swap::Base<'a>) -> (Pairs<'a>, Vec<Alone<'a>>) {
    let sides = |book: &'a Book, needs: &'a Needs, rollup: &'a Rollup| -> Vec<Side<'a>> {
        (0..rollup.builds.len()).map(|build| Side { book, needs, rollup, build }).collect()
    };
    let was = sides(&other.book, &other.needs, &other.rollup);
    let is = sides(base.book, base.needs, base.rollup);
    let name = |side: &Side<'_>| squashed(&side.book.plans[side.build().plan.index()].name);
    let mut pairs = Vec::new();
    let mut alone = Vec::new();
    for old in &was {
        match is.iter().find(|new| name(new) == name(old)) {
            Some(new) => pairs.push((*old, *new)),
            None => alone.push(Alone::Old(*old)),
        }
    }
    let is_new = |new: &&Side<'_>| was.iter().all(|old| name(old) != name(new));
    alone.extend(is.iter().filter(is_new).copied().map(Alone::New));
    (pairs, alone)
}
