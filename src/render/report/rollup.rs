use std::collections::BTreeMap;

use crate::explode::Needs;
use crate::model::Book;
use crate::model::Form;
use crate::model::Item;
use crate::quantity::Length;
use crate::quantity::Ratio;
use crate::render::report::{
    CAUTION_NEST, CAUTION_RULES, CAUTION_WEIGHT, Cell, Field, Report, Showing, Table, build_name,
    build_options, figures, heading, of_units, table, words,
};
use crate::render::shown;
use crate::rollup::{
    BuildCost, Group, Grouping, ItemCost, Key, Purchase, QUANTITY_DIGITS, Rollup, WEIGHT_DIGITS,
};

/// What stands in a column of amounts: of the whole lot, or of one unit of it.
#[derive(Clone, Copy)]
struct Basis {
    lot: u32,
    digits: u32,
}

/// Returns the whole answer: plans side by side, what each takes from stock, and where the money and weight are.
#[must_use]
pub fn rollup(book: &Book, needs: &Needs, rollup: &Rollup, by_group: &Grouping) -> Report {
    let mut tables = vec![plans(book, needs, rollup)];
    tables.extend(rollup.builds.iter().filter_map(|cost| stock(book, needs, rollup, cost)));
    tables.push(amounts(book, rollup, by_group, "Cost and weight by group"));
    Report { heading: heading(book, needs.on), tables, notes: notes(book, rollup) }
}

/// Returns the amounts summed by keys.
#[must_use]
pub fn grouping(book: &Book, needs: &Needs, rollup: &Rollup, grouping: &Grouping) -> Report {
    let names: Vec<&str> = grouping.keys.iter().map(Key::name).collect();
    let title = format!("Cost and weight by {}", names.join(", "));
    Report {
        heading: heading(book, needs.on),
        tables: vec![amounts(book, rollup, grouping, &title)],
        notes: notes(book, rollup),
    }
}

fn notes(book: &Book, rollup: &Rollup) -> Vec<String> {
    let rounding = match book.settings.rounding {
        crate::quantity::Rounding::HalfEven => "ties to even",
        crate::quantity::Rounding::HalfUp => "ties away from zero",
    };
    vec![
        format!(
            "Amounts are in {} and {}. Each plan's requirement of an item is priced exactly for a lot of {} and rounded \
             once to {} decimal places ({rounding}).",
            book.settings.currency, book.settings.weight_unit.name, rollup.lot, rollup.cost_digits
        ),
        CAUTION_NEST.to_owned(),
        CAUTION_WEIGHT.to_owned(),
        CAUTION_RULES.to_owned(),
    ]
}

fn plans(book: &Book, needs: &Needs, rollup: &Rollup) -> Table {
    let basis = Basis { lot: rollup.lot, digits: rollup.cost_digits };
    let count_of = |cost: &BuildCost, form: Form| -> Cell {
        let items = cost.items.iter().filter(|item| book.item(item.item).form == form);
        let pieces: Ratio = items
            .flat_map(|item| &item.purchases)
            .filter(|bought| bought.size.is_some())
            .map(|bought| bought.count.clone())
            .sum();
        Cell::figure(shown::rounded(&pieces, 2))
    };
    let build = |cost: &BuildCost| &needs.builds[cost.build];
    let currency = &book.settings.currency;
    let weight_unit = &book.settings.weight_unit.name;
    let of_kind = |cost: &BuildCost, is_labor: bool| -> i128 {
        let items =
            cost.items.iter().filter(|item| (book.item(item.item).form == Form::Labor) == is_labor);
        items.map(|item| item.cost).sum()
    };
    // Whole sheets, rolls and sticks, cost and weight are the answer; its parts may go, and what a lot weighs beside what
    // a unit weighs.
    let of_lot = if basis.lot > 1 { Showing::IfItFits } else { Showing::Always };
    let mut fields = vec![
        words("plan", |cost: &BuildCost| build_name(book, build(cost))),
        figures("sheets", |cost: &BuildCost| count_of(cost, Form::Sheet)),
        figures("rolls", |cost: &BuildCost| count_of(cost, Form::Roll)),
        figures("sticks", |cost: &BuildCost| count_of(cost, Form::Linear)),
        figures(&format!("material {currency}"), |cost: &BuildCost| {
            Cell::amount(of_kind(cost, false), basis.digits)
        })
        .showing(Showing::IfItFits),
        figures(&format!("labor {currency}"), |cost: &BuildCost| {
            Cell::amount(of_kind(cost, true), basis.digits)
        })
        .showing(Showing::IfItFits),
        figures(&format!("burdens {currency}"), |cost: &BuildCost| {
            Cell::amount(cost.burdens.iter().map(|burden| burden.cost).sum(), basis.digits)
        })
        .showing(Showing::IfItFits),
        figures(&format!("cost {currency}"), |cost: &BuildCost| {
            Cell::amount(cost.cost(), basis.digits)
        }),
        figures(&format!("weight {weight_unit}"), |cost: &BuildCost| {
            Cell::amount(cost.weight(), WEIGHT_DIGITS)
        })
        .showing(of_lot),
    ];
    if basis.lot > 1 {
        fields.push(figures(&format!("cost/unit {currency}"), |cost: &BuildCost| {
            basis.unit(book, cost.cost(), basis.digits)
        }));
        fields.push(figures(&format!("weight/unit {weight_unit}"), |cost: &BuildCost| {
            basis.unit(book, cost.weight(), WEIGHT_DIGITS)
        }));
    }
    let mut plans = table(lot_title("Plans", rollup.lot), &fields, &rollup.builds);
    for cost in &rollup.builds {
        let build = build(cost);
        plans.below.push(format!("{}: {}", build_name(book, build), build_options(book, build)));
    }
    plans
}

fn lot_title(title: &str, lot: u32) -> String {
    format!("{title}, {} each", of_units(lot))
}

/// One size of one item bought for a plan.
struct Line<'a> {
    item: &'a ItemCost,
    purchase: &'a Purchase,
    is_first: bool,
}

impl Line<'_> {
    /// Returns how much is charged and in what: sheets, sticks, rolls or the length taken from them.
    fn charged(&self, book: &Book) -> (Ratio, String) {
        let item = book.item(self.item.item);
        let feet = |length: Ratio| length.checked_div(&Length::FOOT.to_ratio());
        let Some(size) = self.purchase.size else {
            let amount = self.purchase.count.checked_div(&item.unit.factor);
            return (amount.unwrap_or(Ratio::ZERO), item.unit.name.clone());
        };
        let of_length = self.item.nested.as_ref().filter(|nested| nested.instance.charges_length);
        let taken = of_length.and_then(|nested| {
            let stock = nested.sizes.iter().position(|known| *known == size)?;
            let layouts = nested.nest.layouts.iter().filter(|layout| layout.stock == stock);
            feet(
                layouts
                    .map(|layout| layout.taken.to_ratio() * Ratio::whole(i128::from(layout.repeat)))
                    .sum(),
            )
        });
        match (taken, item.form) {
            (Some(taken), _) => (taken, "ft".to_owned()),
            (None, Form::Sheet) => (self.purchase.count.clone(), "sheet".to_owned()),
            (None, Form::Roll) => (self.purchase.count.clone(), "roll".to_owned()),
            (None, _) => (self.purchase.count.clone(), "stick".to_owned()),
        }
    }
}

/// Returns what a plan takes from stock; nothing if nothing of it is cut.
fn stock(book: &Book, needs: &Needs, rollup: &Rollup, cost: &BuildCost) -> Option<Table> {
    let nested = cost.items.iter().filter(|item| book.item(item.item).is_nested());
    let lines: Vec<Line<'_>> = nested
        .flat_map(|item| {
            item.purchases.iter().enumerate().map(move |(index, purchase)| Line {
                item,
                purchase,
                is_first: index == 0,
            })
        })
        .collect();
    if lines.is_empty() {
        return None;
    }
    // People see an item once; a filter needs it on each row.
    let item = Field {
        cell: Box::new(|line: &Line<'_>| {
            let name = book.item(line.item.item).name.clone();
            let shown = if line.is_first { name.clone() } else { String::new() };
            Cell { shown, plain: name }
        }),
        ..words("item", |_: &Line<'_>| String::new())
    };
    let currency = &book.settings.currency;
    let fields = [
        item,
        words("size", |line: &Line<'_>| match line.purchase.size {
            Some(size) => {
                let size = &book.sizes[size.index()];
                shown::size(book, size.length, size.width)
            }
            None => "made to length".to_owned(),
        }),
        figures("count", |line: &Line<'_>| Cell::figure(shown::rounded(&line.charged(book).0, 2))),
        words("unit", |line: &Line<'_>| line.charged(book).1),
        figures(&format!("each {currency}"), |line: &Line<'_>| {
            let each = line.purchase.money.checked_div(&line.charged(book).0);
            let each = each.filter(|_| line.purchase.priced.is_some());
            Cell::figure(each.map_or_else(String::new, |each| shown::fixed(&each, 4)))
        }),
        figures(&format!("cost {currency}"), |line: &Line<'_>| {
            let text = match line.purchase.priced {
                Some(_) => shown::fixed(&line.purchase.money, rollup.cost_digits),
                None => "no price".to_owned(),
            };
            Cell::figure(text)
        }),
        figures("yield %", |line: &Line<'_>| {
            let share = line.item.yield_share().filter(|_| line.is_first);
            Cell::text(share.map_or_else(String::new, |share| shown::percent(&share)))
        }),
        figures("waste %", |line: &Line<'_>| {
            let share = line.item.yield_share().filter(|_| line.is_first);
            Cell::text(
                share.map_or_else(String::new, |share| shown::percent(&(&Ratio::ONE - &share))),
            )
        })
        .showing(Showing::IfItFits),
        figures("gap %", |line: &Line<'_>| {
            let gap =
                line.item.nested.as_ref().filter(|_| line.is_first).map(|nested| nested.nest.gap());
            Cell::text(gap.map_or_else(String::new, |gap| shown::percent(&gap)))
        }),
    ];
    let plan = build_name(book, &needs.builds[cost.build]);
    Some(table(lot_title(&format!("{plan}: from stock sizes"), rollup.lot), &fields, &lines))
}

impl Basis {
    fn unit(self, book: &Book, amount: i128, digits: u32) -> Cell {
        let unit = Ratio::new(amount, i128::from(self.lot)).expect("a lot has units");
        let rounded = unit
            .scaled(0, book.settings.rounding)
            .to_integer()
            .expect("a unit's share of an i128 is one");
        Cell::amount(rounded, digits)
    }

    /// Returns what the rounded units of all groups leave of the rounded unit of their sum.
    fn residue(self, book: &Book, amounts: &[i128], digits: u32) -> Cell {
        let unit = |amount: i128| {
            let unit = Ratio::new(amount, i128::from(self.lot)).expect("a lot has units");
            unit.scaled(0, book.settings.rounding)
                .to_integer()
                .expect("a unit's share of an i128 is one")
        };
        let total: i128 = amounts.iter().sum();
        Cell::amount(unit(total) - amounts.iter().map(|amount| unit(*amount)).sum::<i128>(), digits)
    }
}

/// Returns the columns of what a group costs and weighs.
fn measures(book: &Book, basis: Basis, total_cost: i128) -> Vec<Field<'_, Group>> {
    let currency = &book.settings.currency;
    let weight_unit = &book.settings.weight_unit.name;
    let mut fields = vec![
        figures(&format!("cost {currency}"), move |group: &Group| {
            Cell::amount(group.cost, basis.digits)
        })
        .summed(),
        figures("share %", move |group: &Group| {
            let share = Ratio::new(group.cost, total_cost).unwrap_or(Ratio::ZERO);
            Cell::text(shown::percent(&share))
        }),
        figures(&format!("weight {weight_unit}"), |group: &Group| {
            Cell::amount(group.weight, WEIGHT_DIGITS)
        })
        .summed(),
        figures(&format!("purchased {weight_unit}"), |group: &Group| {
            Cell::amount(group.purchased_weight, WEIGHT_DIGITS)
        })
        .showing(Showing::IfItFits)
        .summed(),
    ];
    if basis.lot > 1 {
        fields.push(
            figures(&format!("cost/unit {currency}"), move |group: &Group| {
                basis.unit(book, group.cost, basis.digits)
            })
            .summed(),
        );
        fields.push(
            figures(&format!("weight/unit {weight_unit}"), move |group: &Group| {
                basis.unit(book, group.weight, WEIGHT_DIGITS)
            })
            .summed(),
        );
    }
    fields
}

fn amounts(book: &Book, rollup: &Rollup, grouping: &Grouping, title: &str) -> Table {
    let basis = Basis { lot: rollup.lot, digits: rollup.cost_digits };
    let total_cost: i128 = grouping.groups.iter().map(|group| group.cost).sum();
    let by_name: BTreeMap<&str, &Item> =
        book.items.iter().rev().map(|item| (item.name.as_str(), item)).collect();
    let by_name = &by_name;
    let mut fields = Vec::new();
    for (index, key) in grouping.keys.iter().enumerate() {
        fields.push(words(key.name(), move |group: &Group| {
            let value = &group.values[index];
            if value.is_empty() { "-".to_owned() } else { value.clone() }
        }));
    }
    if let Some(index) = grouping.keys.iter().position(|key| *key == Key::Item) {
        let item = move |group: &Group| by_name.get(group.values[index].as_str()).copied();
        let describe =
            move |group: &Group| item(group).map_or("", |item| &item.description).to_owned();
        if !grouping.keys.contains(&Key::Description) {
            fields.push(words("description", describe).showing(Showing::IfItFits));
        }
        fields.push(figures("quantity", move |group: &Group| match item(group) {
            Some(_) => Cell::figure(shown::plain(group.quantity, QUANTITY_DIGITS)),
            None => Cell::text(""),
        }));
        if !grouping.keys.contains(&Key::Unit) {
            fields.push(words("unit", move |group: &Group| {
                item(group).map_or("", |item| &item.unit.name).to_owned()
            }));
        }
    }
    fields.extend(measures(book, basis, total_cost));
    let mut made = table(lot_title(title, rollup.lot), &fields, &grouping.groups);
    let sum =
        |amount: &dyn Fn(&Group) -> i128| -> i128 { grouping.groups.iter().map(amount).sum() };
    let sums = [
        sum(&|group| group.cost),
        sum(&|group| group.weight),
        sum(&|group| group.purchased_weight),
    ];
    let mut closing = |label: &str, figures: Vec<Cell>| {
        let mut row = vec![Cell::default(); made.columns.len() - figures.len()];
        if let Some(first) = row.first_mut() {
            *first = Cell::text(label);
        }
        row.extend(figures);
        made.totals.push(row);
    };
    let share = Cell::text(if total_cost == 0 { "" } else { "100.0" });
    let mut total = vec![
        Cell::amount(sums[0], basis.digits),
        share,
        Cell::amount(sums[1], WEIGHT_DIGITS),
        Cell::amount(sums[2], WEIGHT_DIGITS),
    ];
    if basis.lot > 1 {
        let costs: Vec<i128> = grouping.groups.iter().map(|group| group.cost).collect();
        let weights: Vec<i128> = grouping.groups.iter().map(|group| group.weight).collect();
        let blank = || Cell::default();
        closing(
            "rounding",
            vec![
                blank(),
                blank(),
                blank(),
                blank(),
                basis.residue(book, &costs, basis.digits),
                basis.residue(book, &weights, WEIGHT_DIGITS),
            ],
        );
        total.push(basis.unit(book, sums[0], basis.digits));
        total.push(basis.unit(book, sums[1], WEIGHT_DIGITS));
    }
    closing("total", total);
    made
}
