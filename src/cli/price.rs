//! The subcommand `price`.

use std::num::NonZeroU32;

use cutbill::diag::{Diagnostic, Problem};
use cutbill::model::CaseRow;
use cutbill::price::{self, Asked, Options, Target};
use cutbill::quantity::Ratio;
use cutbill::quantity::text::{DecimalSign, number};
use cutbill::render::json;
use cutbill::render::report::{self, Priced};
use cutbill::watch::Watch;

use crate::cli::arguments::{Format, Price};
use crate::cli::{
    Answer, add_new, cutting_options, exploded, names, plain_error, rolled_up, tables,
};

/// What the changes of the command line are called together.
const TYPED_CASE: &str = "as asked";

/// Lays out cost and price, or what moves them.
pub(super) fn price(arguments: &Price, watch: &dyn Watch) -> Result<Answer, Vec<Diagnostic>> {
    let output = &arguments.output;
    let options = Options {
        target: target(arguments)?,
        first_unit: arguments.scope.unit.map(NonZeroU32::get),
    };
    let typed = typed_cases(&arguments.changes)?;
    let (book, needs, mut findings) = exploded(&arguments.scope, output, watch)?;
    let asked_explode = names::explode_options(&book, &arguments.scope)?;
    let named = match &arguments.option_prices {
        Some(named) => {
            let named: Vec<String> =
                named.iter().filter(|name| !name.trim().is_empty()).cloned().collect();
            Some(names::options(&book, &named)?)
        }
        None => None,
    };
    let cutting = cutting_options(&arguments.cutting);
    let rolled = rolled_up(&book, &needs, &arguments.cutting, watch, &mut findings)?;
    let sheet = price::price(&book, &needs, &rolled, &options)?;
    add_new(&mut findings, sheet.warnings);
    let sheet = sheet.value;
    let lots = if arguments.lots.is_empty() {
        None
    } else {
        let lots: Vec<u32> = arguments.lots.iter().map(|lot| lot.get()).collect();
        let found = price::lots(&book, &needs, &lots, cutting, &options, watch)?;
        add_new(&mut findings, found.warnings);
        Some(found.value)
    };
    let options_found = match &named {
        Some(named) => {
            let asked = Asked { named, explode: &asked_explode, cutting, options: &options };
            let found = price::option_prices(&book, &needs, &rolled, &sheet, &asked, watch)?;
            add_new(&mut findings, found.warnings);
            Some(found.value)
        }
        None => None,
    };
    if arguments.cases && book.cases.is_empty() {
        return Err(vec![plain_error("`--cases`: the book has no table `cases`".to_owned())]);
    }
    let mut rows = if arguments.cases { book.cases.clone() } else { Vec::new() };
    rows.extend(typed);
    let cases = if arguments.cases || !rows.is_empty() {
        Some(price::cases(&book, &needs, &rolled, &rows, (cutting, &options), watch)?)
    } else {
        None
    };
    let is_ranked = arguments.sensitivity || cases.is_some();
    let swings = is_ranked.then(|| price::sensitivity(&book, &needs, &rolled, &options));
    let ranges = arguments.sensitivity.then(|| {
        let draws = (arguments.draws, arguments.seed);
        price::range(&book, &needs, &rolled, &sheet, &options, draws)
    });
    let found = Priced {
        sheet: &sheet,
        lots: lots.as_deref(),
        options: options_found.as_deref(),
        cases: cases.as_deref(),
        swings: swings.as_deref(),
        ranges: ranges.as_deref(),
        ledger: (output.format() == Format::Xlsx).then_some(&rolled),
    };
    let bytes = match output.format() {
        Format::Json => json::price(&book, &needs, &found, &findings).into_bytes(),
        _ => tables(&report::price(&book, &needs, &found), output)?,
    };
    Ok(Answer { value: bytes, warnings: findings })
}

/// Returns what the price is to be reckoned from.
fn target(arguments: &Price) -> Result<Option<Target>, Vec<Diagnostic>> {
    let hundred = Ratio::whole(100);
    let share = |name: &str, text: &str| {
        let digits = text.trim().trim_end_matches('%').trim();
        let share = figure(name, digits)?.checked_div(&hundred);
        Ok::<Ratio, Vec<Diagnostic>>(share.expect("a hundred is not zero"))
    };
    if let Some(text) = &arguments.margin {
        let margin = share("--margin", text)?;
        if margin >= Ratio::ONE || margin <= Ratio::whole(-1) {
            return Err(vec![out_of_range(text, "a margin lies below 100 percent of the price")]);
        }
        return Ok(Some(Target::Margin(margin)));
    }
    if let Some(text) = &arguments.markup {
        let markup = share("--markup", text)?;
        if markup <= Ratio::whole(-1) {
            return Err(vec![out_of_range(text, "a markup lies above -100 percent of the cost")]);
        }
        return Ok(Some(Target::Markup(markup)));
    }
    let Some(text) = &arguments.at else { return Ok(None) };
    let price = figure("--at", text)?;
    if price <= Ratio::ZERO {
        return Err(vec![out_of_range(text, "a price lies above zero")]);
    }
    Ok(Some(Target::At(price)))
}

fn figure(name: &str, text: &str) -> Result<Ratio, Vec<Diagnostic>> {
    number(text, DecimalSign::Point)
        .map_err(|_| vec![plain_error(format!("`{name}`: `{text}` is not a number"))])
}

fn out_of_range(text: &str, range: &str) -> Diagnostic {
    let problem = Problem::OutOfRange { text: text.to_owned(), range: range.to_owned() };
    Diagnostic::placeless(problem)
}

/// Returns the case that the changes of the command line make together.
fn typed_cases(changes: &[String]) -> Result<Vec<CaseRow>, Vec<Diagnostic>> {
    let mut rows = Vec::new();
    let mut errors = Vec::new();
    for text in changes {
        match price::parse_case(TYPED_CASE, text) {
            Some(row) => rows.push(row),
            None => errors.push(Diagnostic {
                hint: Some(
                    "write which items and the change: `PLY-*=+12%`, `group = lumber=-6 %`, `vendor = Marsh Lumber=+0.50`, \
                     `PLY-18=to 4.20`"
                        .to_owned(),
                ),
                ..plain_error(format!("`--price`: `{text}` is no change of prices"))
            }),
        }
    }
    if errors.is_empty() { Ok(rows) } else { Err(errors) }
}
