use crate::explode::Needs;
use crate::model::Book;
use crate::model::BurdenBasis;
use crate::quantity::Ratio;
use crate::render::report::nest::layout_line;
use crate::render::report::{Report, Table, WEIGHT_CAUTIONS, build_name, heading};
use crate::render::shown;
use crate::rollup::{
    About, BurdenCost, ItemCost, Path, QUANTITY_DIGITS, Rollup, WEIGHT_DIGITS, Why, WhyLine,
};

/// Returns, for each plan and item behind a row, the bill lines with their paths, the price rows and the layouts.
#[must_use]
pub fn why(book: &Book, needs: &Needs, rollup: &Rollup, found: &[Why]) -> Report {
    let tables = found.iter().map(|why| {
        let plan = build_name(book, &needs.builds[rollup.builds[why.build].build]);
        let below = match &why.what {
            About::Item { item, lines } => {
                let cost = rollup.builds[why.build].items.iter().find(|cost| cost.item == *item);
                cost.map_or_else(Vec::new, |cost| about_item(book, needs, rollup, why, cost, lines))
            }
            About::Burden(burden) => about_burden(book, rollup, burden),
        };
        let title = match &why.what {
            About::Item { item, .. } => {
                let item = book.item(*item);
                if item.description.is_empty() {
                    format!("{plan}: {}", item.name)
                } else {
                    format!("{plan}: {} ({})", item.name, item.description)
                }
            }
            About::Burden(burden) => {
                format!("{plan}: burden {}", book.burdens[burden.burden.index()].name)
            }
        };
        Table { title, below, ..Table::default() }
    });
    let notes = WEIGHT_CAUTIONS.map(str::to_owned).to_vec();
    Report { heading: heading(book, needs.on), tables: tables.collect(), notes }
}

fn about_item(
    book: &Book,
    needs: &Needs,
    rollup: &Rollup,
    why: &Why,
    cost: &ItemCost,
    lines: &[WhyLine],
) -> Vec<String> {
    let item = book.item(cost.item);
    let money = |amount: i128| shown::parted(&shown::plain(amount, rollup.cost_digits));
    let weight = |amount: i128| shown::parted(&shown::plain(amount, WEIGHT_DIGITS));
    let quantity = |amount: i128| shown::parted(&shown::plain(amount, QUANTITY_DIGITS));
    let (currency, weight_unit) = (&book.settings.currency, &book.settings.weight_unit.name);
    let mut out = vec![format!(
        "  this row: {} {}, {} {currency}, {} {weight_unit}, {}",
        quantity(why.amounts[0]),
        item.unit.name,
        money(why.amounts[1]),
        weight(why.amounts[2]),
        for_lot(rollup.lot)
    )];
    if why.amounts != [cost.quantity, cost.cost, cost.weight, cost.purchased_weight] {
        out.push(format!(
            "  of the plan's {} {}, {} {currency}, {} {weight_unit} of this item",
            quantity(cost.quantity),
            item.unit.name,
            money(cost.cost),
            weight(cost.weight)
        ));
    }
    out.push("  price".to_owned());
    for purchase in &cost.purchases {
        let what = match purchase.size {
            Some(size) => {
                let size = &book.sizes[size.index()];
                let size = shown::size(book, size.length, size.width);
                format!("{} of {size}", shown::rounded(&purchase.count, 4))
            }
            None => {
                let amount = purchase.count.checked_div(&item.unit.factor).unwrap_or(Ratio::ZERO);
                format!("{} {}", shown::rounded(&amount, 4), item.unit.name)
            }
        };
        out.push(match &purchase.priced {
            Some(priced) => {
                let vendor = if priced.vendor.is_empty() {
                    String::new()
                } else {
                    format!(", {}", priced.vendor)
                };
                format!(
                    "    {what} at {} ({}{vendor}) = {} {currency}",
                    priced.price.text,
                    book.place(priced.row, None),
                    shown::rounded(&purchase.money, 8)
                )
            }
            None => format!("    {what}: no price"),
        });
    }
    if cost.credit != 0 {
        out.push(format!("    less {} {currency} credited for offcuts", money(cost.credit)));
    }
    if cost.yield_variance != 0 {
        out.push(format!(
            "    costed at a fixed yield; by the nest it is {} {currency} more",
            money(cost.yield_variance)
        ));
    }
    out.push("  bill lines".to_owned());
    for line in lines {
        out.push(format!(
            "    {}: {} {}, {} {currency}, {} {weight_unit}",
            book.place(book.line(needs.taken(line.source).line).row, None),
            quantity(line.amounts[0]),
            item.unit.name,
            money(line.amounts[1]),
            weight(line.amounts[2])
        ));
        for path in &line.paths {
            out.push(format!("      {}", path_text(book, path)));
        }
        if line.more_paths > 0 {
            out.push(format!("      and {} further paths", line.more_paths));
        }
    }
    if let Some(nested) = &cost.nested {
        out.push("  layouts".to_owned());
        let mut layouts: Vec<usize> =
            lines.iter().flat_map(|line| line.layouts.iter().copied()).collect();
        layouts.sort_unstable();
        layouts.dedup();
        out.extend(
            layouts.iter().map(|layout| format!("    {}", layout_line(book, nested, *layout))),
        );
        let pieces = "    the cost of a nest is shared among its pieces by blank area or length";
        out.push(pieces.to_owned());
    }
    out
}

fn about_burden(book: &Book, rollup: &Rollup, cost: &BurdenCost) -> Vec<String> {
    let burden = &book.burdens[cost.burden.index()];
    let currency = &book.settings.currency;
    let base = |divisor: i128, places: u32, unit: &str| {
        let divided = cost.base.checked_div(&Ratio::whole(divisor)).unwrap_or(Ratio::ZERO);
        format!("{} {unit}", shown::rounded(&divided, places))
    };
    let square_foot = crate::quantity::Length::FOOT.area(crate::quantity::Length::FOOT);
    let on = match &burden.basis {
        BurdenBasis::LaborMoney => format!("labor money of {}", base(1, 8, currency)),
        BurdenBasis::LaborTime => format!("labor time of {}", base(60, 6, "hours")),
        BurdenBasis::Material => format!("material of {}", base(1, 8, currency)),
        BurdenBasis::Weight => format!("a weight of {}", base(1, 4, "lb")),
        BurdenBasis::Area => format!("a floor area of {}", base(square_foot, 4, "ft2")),
        BurdenBasis::Unit => base(1, 0, "units"),
        BurdenBasis::Lot => "one lot".to_owned(),
        BurdenBasis::Subtotal(name) => {
            format!("the total up to {name} of {}", base(1, 8, currency))
        }
    };
    let limit = if burden.applies_to.is_empty() {
        String::new()
    } else {
        format!(", limited to {}", burden.applies_to)
    };
    let share = burden.share.as_ref().map_or_else(String::new, |share| {
        format!(" {} %", shown::rounded(&(share * &Ratio::whole(100)), 6))
    });
    let (measure, unit) = match &burden.basis {
        BurdenBasis::LaborTime => (60, "hour"),
        BurdenBasis::Weight => (1, "lb"),
        BurdenBasis::Area => (square_foot, "ft2"),
        BurdenBasis::Lot => (1, "lot"),
        _ => (1, "unit"),
    };
    let amount = burden.amount.as_ref().map_or_else(String::new, |amount| {
        format!(" {} {currency} per {unit}", shown::rounded(&(amount * &Ratio::whole(measure)), 6))
    });
    vec![format!(
        "  {}:{share}{amount} on {on}{limit} = {} {currency}, {}",
        book.place(burden.row, None),
        shown::parted(&shown::plain(cost.cost, rollup.cost_digits)),
        for_lot(rollup.lot)
    )]
}

fn for_lot(lot: u32) -> String {
    if lot == 1 { "for one unit".to_owned() } else { format!("for a lot of {lot}") }
}

/// Returns a way down the bill: each step with its quantity and place.
fn path_text(book: &Book, path: &Path) -> String {
    let mut text = path
        .steps
        .first()
        .map_or_else(String::new, |step| book.parent_name(book.line(step.line).parent).to_owned());
    for step in &path.steps {
        let line = book.line(step.line);
        let row = book.place(line.row, None);
        let component = book.component_name(line.component);
        text.push_str(&format!(" > {} x {component} [{row}]", shown::rounded(&step.quantity, 4)));
    }
    text
}
