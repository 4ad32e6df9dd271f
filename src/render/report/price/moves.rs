//! What moves the cost of a plan: the lot, options, and prices.

use crate::model::BurdenBasis;
use crate::price::{
    Case, CaseCost, OptionPrice, PERCENTILES, PlanSheet, PriceSheet, Range, SectionKind, Swing,
    What,
};
use crate::quantity::Ratio;
use crate::render::report::price::{Context, percent};
use crate::render::report::{Cell, Showing, Table, figures, table, words};
use crate::render::shown;

pub(super) const OPTIONS_NOTE: &str = "An option is exploded and nested anew for the lot, with and without it; its cost is the difference of the two totals, never \
     a proration. A standard option is priced against the plan without it.";
pub(super) const CASES_NOTE: &str = "A case nests what its prices change anew, and holds all else.";
pub(super) const SWINGS_NOTE: &str = "One percent on a price moves one percent of what is paid for the item, and the burdens on money that follow it; exact, with \
     every nest held as it is.";

/// Columns of the longest bar of a chart.
const BAR: i128 = 40;
/// Prices that a ranking tells.
const MOST: usize = 10;

pub(super) fn range_note(ranges: &[Option<Range>]) -> String {
    let drawn = ranges.iter().flatten().next();
    let how = drawn.map_or_else(String::new, |range| {
        format!(" {} draws with seed {};", shown::parted(&range.draws.to_string()), range.seed)
    });
    format!(
        "Every price with a low and a high is drawn from the triangular distribution of low, price and high, each on its own;{how} \
         nests are held. Prices that rise together spread the cost further than this."
    )
}

/// A plan in a lot.
type InLot<'a> = (&'a PriceSheet, &'a PlanSheet);

pub(super) fn lots(context: &Context<'_>, lots: &[PriceSheet]) -> Table {
    let mut lines: Vec<InLot<'_>> = Vec::new();
    for (position, _) in context.sheet.plans.iter().enumerate() {
        lines.extend(lots.iter().filter_map(|sheet| Some((sheet, sheet.plans.get(position)?))));
    }
    let waste = |plan: &PlanSheet| line_sum(plan, &|what| matches!(what, What::Waste));
    let set_up = |plan: &PlanSheet| {
        line_sum(plan, &|what| match what {
            What::Burden(id) => context.book.burdens[id.index()].basis == BurdenBasis::Lot,
            _ => false,
        })
    };
    let total = |plan: &PlanSheet, kinds: &[SectionKind]| -> i128 {
        kinds.iter().map(|kind| plan.total(*kind).unit).sum()
    };
    let fields = [
        words("plan", |(_, plan): &InLot<'_>| context.plan(plan.build)),
        figures("lot", |(sheet, _): &InLot<'_>| Cell::figure(sheet.lot.to_string())),
        figures(&context.money("material"), |(_, plan): &InLot<'_>| {
            context.minor(total(plan, &[SectionKind::Material]) - waste(plan))
        }),
        figures(&context.money("waste"), |(_, plan): &InLot<'_>| context.minor(waste(plan))),
        figures(&context.money("labor"), |(_, plan): &InLot<'_>| {
            context.minor(total(plan, &[SectionKind::Labor, SectionKind::Learning]))
        }),
        figures(&context.money("set-up"), |(_, plan): &InLot<'_>| context.minor(set_up(plan))),
        figures(&context.money("burdens"), |(_, plan): &InLot<'_>| {
            let burdens =
                [SectionKind::Freight, SectionKind::LaborBurdens, SectionKind::OtherBurdens];
            context.minor(total(plan, &burdens) - set_up(plan))
        }),
        figures(&context.money("rounding"), |(_, plan): &InLot<'_>| {
            context.minor(plan.rounding.unit)
        })
        .showing(Showing::IfItFits),
        figures(&context.money("cost/unit"), |(_, plan): &InLot<'_>| {
            context.minor(plan.factory.unit)
        }),
        figures("yield %", |(_, plan): &InLot<'_>| {
            let wasted = plan.waste.checked_div(&plan.material).unwrap_or(Ratio::ZERO);
            Cell::text(shown::percent(&(Ratio::ONE - wasted)))
        }),
    ];
    let mut made = table("Cost of one unit by lot", &fields, &lines);
    made.below = chart(context, &lines);
    made.below.push(
        "Labor holds what the learning curve adds; yield is the money of material that ends up in the units over all that is \
         bought; set-up is what burdens lay on a lot."
            .to_owned(),
    );
    made
}

fn line_sum(plan: &PlanSheet, is: &dyn Fn(&What) -> bool) -> i128 {
    let lines = plan.sections.iter().flat_map(|section| &section.lines);
    lines.filter(|line| is(&line.what)).map(|line| line.amounts.unit).sum()
}

/// Draws the cost of one unit over the lots, plan by plan: a bar begins at zero, so its length is the cost.
fn chart(context: &Context<'_>, lines: &[(&PriceSheet, &PlanSheet)]) -> Vec<String> {
    let mut chart = Vec::new();
    let width = lines.iter().map(|(sheet, _)| sheet.lot.to_string().len()).max().unwrap_or(1);
    for of_plan in lines.chunk_by(|(_, a), (_, b)| a.build == b.build) {
        let most = of_plan.iter().map(|(_, plan)| plan.factory.unit).max().unwrap_or(0).max(1);
        chart.push(format!("{}, cost of one unit", context.plan(of_plan[0].1.build)));
        for (sheet, plan) in of_plan {
            let length = usize::try_from((plan.factory.unit.max(0) * BAR + most / 2) / most);
            let bar = "█".repeat(length.expect("a bar is forty columns at most"));
            let cost = context.minor(plan.factory.unit).shown;
            chart.push(format!("  lot {:>width$} {bar} {cost}", sheet.lot));
        }
    }
    chart
}

pub(super) fn options(context: &Context<'_>, options: &[OptionPrice]) -> Table {
    let book = context.book;
    let currency = &book.settings.currency;
    let price = |option: &OptionPrice, of: &dyn Fn(&crate::price::Quote) -> Option<i128>| {
        let amount = option.quote.as_ref().and_then(of);
        amount.map_or_else(Cell::default, |amount| context.minor(amount))
    };
    let fields = [
        words("plan", |option: &OptionPrice| context.plan(option.build)),
        words("option", |option: &OptionPrice| book.options[option.option.index()].name.clone()),
        words("description", |option: &OptionPrice| {
            book.options[option.option.index()].description.clone()
        })
        .showing(Showing::IfItFits),
        words(
            "is",
            |option: &OptionPrice| {
                if option.is_taken { "in the plan".to_owned() } else { "added".to_owned() }
            },
        ),
        words("replaces", |option: &OptionPrice| context.option_names(&option.replaces)),
        words("brings", |option: &OptionPrice| context.option_names(&option.brings)),
        figures(&context.money("cost"), |option: &OptionPrice| context.minor(option.cost)),
        figures(&format!("weight {}", book.settings.weight_unit.name), |option: &OptionPrice| {
            Cell::amount(option.weight, crate::rollup::WEIGHT_DIGITS)
        })
        .showing(Showing::IfItFits),
        figures(&format!("price {currency}"), |option: &OptionPrice| {
            price(option, &|quote| Some(quote.price))
        }),
        figures("margin %", |option: &OptionPrice| {
            percent(option.quote.as_ref().and_then(|quote| quote.margin.as_ref()))
        }),
        figures("markup %", |option: &OptionPrice| {
            percent(option.quote.as_ref().and_then(|quote| quote.markup.as_ref()))
        }),
        figures(&format!("other way {currency}"), |option: &OptionPrice| {
            price(option, &|quote| quote.other_way)
        })
        .showing(Showing::IfItFits),
        figures(&format!("difference {currency}"), |option: &OptionPrice| {
            price(option, &|quote| quote.other_way.map(|other| quote.price - other))
        })
        .showing(Showing::IfItFits),
    ];
    table(format!("What options add to one unit, {}", context.of_lot_aside()), &fields, options)
}

pub(super) fn cases(context: &Context<'_>, cases: &[Case]) -> Table {
    type Of<'a> = (&'a Case, &'a CaseCost);
    let lines: Vec<Of<'_>> =
        cases.iter().flat_map(|case| case.builds.iter().map(move |cost| (case, cost))).collect();
    let fields = [
        words("case", |(case, _): &Of<'_>| case.name.clone()),
        words("plan", |(_, cost): &Of<'_>| context.plan(cost.build)),
        figures("items", |(case, _): &Of<'_>| Cell::figure(case.items.len().to_string())),
        figures(&context.money("before"), |(_, cost): &Of<'_>| context.minor(cost.before)),
        figures(&context.money("after"), |(_, cost): &Of<'_>| context.minor(cost.after)),
        figures(&context.money("change"), |(_, cost): &Of<'_>| {
            context.minor(cost.after - cost.before)
        }),
        figures("change %", |(_, cost): &Of<'_>| {
            percent(Ratio::new(cost.after - cost.before, cost.before).as_ref())
        }),
    ];
    table(
        format!("What other prices come to for one unit, {}", context.of_lot_aside()),
        &fields,
        &lines,
    )
}

pub(super) fn swings(context: &Context<'_>, swings: &[Vec<Swing>]) -> Table {
    struct Ranked<'a> {
        build: usize,
        rank: usize,
        swing: &'a Swing,
        cost: Ratio,
    }
    let mut lines = Vec::new();
    for (plan, swings) in context.sheet.plans.iter().zip(swings) {
        let cost = Ratio::decimal(plan.factory.unit, context.sheet.digits);
        let ranked = swings.iter().take(MOST).enumerate().map(|(index, swing)| Ranked {
            build: plan.build,
            rank: index + 1,
            swing,
            cost: cost.clone(),
        });
        lines.extend(ranked);
    }
    let places = context.book.settings.cost_digits;
    let fields = [
        words("plan", |line: &Ranked<'_>| context.plan(line.build)),
        figures("rank", |line: &Ranked<'_>| Cell::figure(line.rank.to_string())),
        words("item", |line: &Ranked<'_>| context.item(line.swing.item)),
        words("description", |line: &Ranked<'_>| {
            context.book.item(line.swing.item).description.clone()
        })
        .showing(Showing::IfItFits),
        figures(&context.money("1 % moves"), move |line: &Ranked<'_>| {
            Cell::figure(shown::fixed(&line.swing.money, places))
        }),
        figures(&context.money("of it burdens"), move |line: &Ranked<'_>| {
            Cell::figure(shown::fixed(&line.swing.burdens, places))
        })
        .showing(Showing::IfItFits),
        figures("% of cost", |line: &Ranked<'_>| {
            let hundred = Ratio::whole(100);
            percent((&line.swing.money * &hundred).checked_div(&line.cost).as_ref())
        }),
    ];
    table("Prices that move the cost of one unit most", &fields, &lines)
}

pub(super) fn ranges(context: &Context<'_>, ranges: &[Option<Range>]) -> Table {
    let lines: Vec<&Range> = ranges.iter().flatten().collect();
    let mut fields = vec![
        words("plan", |range: &&Range| context.plan(range.build)),
        figures("prices", |range: &&Range| Cell::figure(range.items.len().to_string())),
        figures(&context.money("all low"), |range: &&Range| context.minor(range.low)),
    ];
    for (index, percentile) in PERCENTILES.iter().enumerate() {
        fields.push(figures(&format!("{percentile} %"), move |range: &&Range| {
            context.minor(range.percentiles[index])
        }));
    }
    fields.push(figures(&context.money("all high"), |range: &&Range| context.minor(range.high)));
    fields.push(figures(&context.money("as priced"), |range: &&Range| context.minor(range.likely)));
    let mut made = table("Where the cost of one unit comes to lie", &fields, &lines);
    let plans = context.sheet.plans.iter().zip(ranges);
    for (plan, _) in plans.filter(|(_, range)| range.is_none()) {
        made.below.push(format!("{}: no price has a low and a high", context.plan(plan.build)));
    }
    made
}
