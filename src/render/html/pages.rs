//! What stands on each page of a document: the tables of the report, with charts and drawings before them.

use std::fmt::Write;

use crate::compare::Effect;
use crate::explode::Needs;
use crate::model::Book;
use crate::orders::Orders;
use crate::quantity::minor_digits;
use crate::render::html::charts::{self, Axes, Bar, Point};
use crate::render::html::{Block, Section, layouts as drawn, side, view};
use crate::render::report;
use crate::render::report::{Compared, Page, SHORTAGES, SPENDING, Table, Topic, Whole, build_name};
use crate::rollup::{Group, Grouping, Key, Rollup, WEIGHT_DIGITS};
use crate::swap::{Saving, State, Swaps};

/// Most bars of a chart; what is smaller is summed.
const MOST_BARS: usize = 18;

/// Returns all pages.
pub(super) fn sections(whole: &Whole<'_>) -> Vec<Section> {
    report::pages(whole).iter().map(|page| section(whole, page)).collect()
}

const fn id(topic: Topic) -> &'static str {
    match topic {
        Topic::Summary => "summary",
        Topic::Cost => "cost",
        Topic::Loads => "loads",
        Topic::Layouts => "layouts",
        Topic::Orders => "orders",
        Topic::Swaps => "swaps",
        Topic::Findings => "findings",
        Topic::Method => "method",
    }
}

fn section(whole: &Whole<'_>, page: &Page) -> Section {
    let Whole { book, needs, rollup, .. } = *whole;
    let id = id(page.topic);
    let blocks = match page.topic {
        Topic::Summary => {
            let mut blocks = tables(&page.tables, id);
            blocks.extend(plans(whole));
            blocks
        }
        Topic::Cost => cost(whole, &page.tables, id),
        Topic::Loads => {
            let mut blocks = sides(whole);
            blocks.extend(tables(&page.tables, id));
            blocks
        }
        Topic::Layouts => layouts(book, needs, rollup, page.tables.first(), id),
        Topic::Orders => orders(whole, &page.tables, id),
        Topic::Swaps => {
            let mut blocks: Vec<Block> =
                whole.swaps.and_then(|swaps| scatter(whole, swaps)).into_iter().collect();
            blocks.extend(tables(&page.tables, id));
            blocks
        }
        Topic::Findings => tables(&page.tables, id),
        Topic::Method => vec![Block::List(page.notes.clone())],
    };
    Section { id, title: page.topic.title(), blocks }
}

fn tables(tables: &[Table], id: &str) -> Vec<Block> {
    let views = tables.iter().enumerate();
    views
        .filter_map(|(index, table)| view::view(table, format!("{id}-{}", index + 1)))
        .map(Block::Table)
        .collect()
}

fn chart(title: String, svg: Option<String>) -> Option<Block> {
    svg.map(|svg| Block::Chart { title, svg })
}

/// Returns whole units of an amount, to the nearest; ties away from zero.
fn whole_units(amount: i128, digits: u32) -> i64 {
    let unit = 10_i128.pow(digits);
    let half = if amount < 0 { -unit / 2 } else { unit / 2 };
    i64::try_from((amount + half) / unit).unwrap_or(i64::MAX)
}

/// Returns bars of cost and weight, one per plan.
fn plans(whole: &Whole<'_>) -> Vec<Block> {
    let Whole { book, needs, rollup, .. } = *whole;
    if rollup.builds.len() < 2 {
        return Vec::new();
    }
    let named = |value: &dyn Fn(usize) -> i64| -> Vec<Bar> {
        let builds = rollup.builds.iter().enumerate();
        let bar = |(index, cost): (usize, &crate::rollup::BuildCost)| Bar {
            name: build_name(book, &needs.builds[cost.build]),
            value: value(index),
        };
        builds.map(bar).collect()
    };
    let lot = i128::from(rollup.lot);
    let costs = named(&|index| whole_units(rollup.builds[index].cost() / lot, rollup.cost_digits));
    let weights = named(&|index| whole_units(rollup.builds[index].weight() / lot, WEIGHT_DIGITS));
    let cost = format!("Cost of one unit of each plan, {}", book.settings.currency);
    let weight =
        format!("Unloaded weight of one unit of each plan, {}", book.settings.weight_unit.name);
    let charts = [(cost, costs), (weight, weights)];
    charts
        .into_iter()
        .filter_map(|(title, bars)| chart(title.clone(), charts::bars(&title, &bars)))
        .collect()
}

fn cost(whole: &Whole<'_>, all: &[Table], id: &str) -> Vec<Block> {
    let is_sum =
        |table: &Table, by: &str| table.title.starts_with(&format!("Cost and weight by {by}"));
    let mut blocks = Vec::new();
    let mut has_bridge = false;
    for (index, table) in all.iter().enumerate() {
        if is_sum(table, "group") {
            blocks.extend(breakdown(whole, whole.by_group, "group"));
        } else if is_sum(table, "plan, assembly") {
            blocks.extend(breakdown(whole, whole.by_assembly, "assembly"));
        } else if table.title.contains(": from old to new") && !has_bridge {
            has_bridge = true;
            blocks.push(Block::Heading("What changed from the other book".to_owned()));
            blocks.extend(whole.compared.into_iter().flat_map(bridges));
        }
        blocks.extend(view::view(table, format!("{id}-{}", index + 1)).map(Block::Table));
    }
    blocks
}

/// Returns the cost of each plan by the finest key of a grouping, the largest first.
fn breakdown(whole: &Whole<'_>, grouping: &Grouping, by: &str) -> Vec<Block> {
    let Whole { book, needs, rollup, .. } = *whole;
    let at = |key: &Key| grouping.keys.iter().position(|known| known == key);
    let (Some(plan_at), Some(last)) = (at(&Key::Plan), grouping.keys.len().checked_sub(1)) else {
        return Vec::new();
    };
    let kind_at = at(&Key::Kind);
    let name = |group: &Group| match group.values[last].as_str() {
        "" => kind_at.map_or("no name", |at| group.values[at].as_str()).to_owned(),
        name => name.to_owned(),
    };
    let mut blocks = Vec::new();
    for cost in &rollup.builds {
        let plan = build_name(book, &needs.builds[cost.build]);
        let mut bars: Vec<(String, i128)> = Vec::new();
        for group in grouping.groups.iter().filter(|group| group.values[plan_at] == plan) {
            let name = name(group);
            match bars.iter_mut().find(|(known, _)| *known == name) {
                Some((_, sum)) => *sum += group.cost,
                None => bars.push((name, group.cost)),
            }
        }
        bars.sort_by_key(|(_, cost)| std::cmp::Reverse(*cost));
        bars.retain(|(_, cost)| *cost != 0);
        if bars.len() > MOST_BARS {
            let rest = bars.split_off(MOST_BARS - 1);
            let name = format!("{} smaller ones", rest.len());
            bars.push((name, rest.iter().map(|(_, cost)| cost).sum()));
        }
        let bars: Vec<Bar> = bars
            .into_iter()
            .map(|(name, cost)| Bar { name, value: whole_units(cost, rollup.cost_digits) })
            .collect();
        let mut title = format!("{plan}: cost by {by}, {}", book.settings.currency);
        if rollup.lot > 1 {
            let _ = write!(title, ", lot of {}", rollup.lot);
        }
        blocks.extend(chart(title.clone(), charts::bars(&title, &bars)));
    }
    blocks
}

/// Returns the bridge of each pair of plans.
fn bridges(compared: &Compared<'_>) -> Vec<Block> {
    let pairs = compared.pairs.iter().zip(&compared.comparison.bridges);
    let blocks = pairs.filter_map(|((_, new), bridge)| {
        let digits = bridge.basis.cost_digits;
        let bar = |name: &str, cost: i128| Bar {
            name: name.to_owned(),
            value: whole_units(cost, digits),
        };
        let steps =
            Effect::ALL.into_iter().map(|effect| (effect.name(), bridge.effect(effect).cost));
        let steps: Vec<Bar> =
            steps.map(|(name, cost)| bar(name, cost)).filter(|bar| bar.value != 0).collect();
        let title = format!(
            "{}: from the old cost to the new, {}; the axis does not begin at zero",
            build_name(new.book, new.build()),
            bridge.basis.currency
        );
        let svg = charts::bridge(&title, &bar("old", bridge.start().cost), &steps, "new");
        chart(title, svg)
    });
    blocks.collect()
}

fn sides(whole: &Whole<'_>) -> Vec<Block> {
    let Whole { book, needs, .. } = *whole;
    let mut blocks = Vec::new();
    for build in &whole.loads.builds {
        let name = build_name(book, &needs.builds[build.build]);
        blocks.push(Block::Heading(format!("{name}: where its weight lies, unloaded")));
        match side::drawing(book, needs, build) {
            Some(drawing) => blocks.push(Block::Drawing(drawing)),
            None => blocks.push(Block::Text(
                "There is no drawing: the book gives the weight or the axles no position."
                    .to_owned(),
            )),
        }
    }
    blocks
}

/// Returns every layout, below the table of nests.
pub(super) fn layouts(
    book: &Book,
    needs: &Needs,
    rollup: &Rollup,
    nests: Option<&Table>,
    id: &str,
) -> Vec<Block> {
    let mut blocks: Vec<Block> = nests
        .and_then(|table| view::view(table, format!("{id}-1")))
        .map(Block::Table)
        .into_iter()
        .collect();
    let mut plan = String::new();
    for card in drawn::cards(book, needs, rollup, drawn::Alike::Once) {
        if card.plan != plan {
            plan.clone_from(&card.plan);
            blocks.push(Block::Heading(format!("{plan}: layouts")));
        }
        blocks.push(Block::Card(Box::new(card)));
    }
    blocks
}

fn orders(whole: &Whole<'_>, all: &[Table], id: &str) -> Vec<Block> {
    let mut blocks = Vec::new();
    let is_short = all.iter().any(|table| table.title == SHORTAGES);
    if !is_short {
        blocks.push(Block::Text("Nothing runs short.".to_owned()));
    }
    for (index, table) in all.iter().enumerate() {
        let Some(view) = view::view(table, format!("{id}-{}", index + 1)) else { continue };
        let is_calendar = table.title == SPENDING || table.title.starts_with("Stock by week");
        blocks.push(Block::Table(if is_calendar { view.heated() } else { view }));
        if table.title == SPENDING {
            blocks.extend(whole.orders.and_then(|orders| cash(whole.book, orders)));
        }
    }
    blocks
}

/// Returns the money to be paid each week.
fn cash(book: &Book, orders: &Orders<'_>) -> Option<Block> {
    let digits = minor_digits(&book.settings.currency);
    let bars: Vec<Bar> = orders
        .cash
        .iter()
        .map(|week| Bar {
            name: format!("week of {}", week.week.monday()),
            value: whole_units(week.amount, digits),
        })
        .collect();
    let title = format!("Money to be paid, by week, {}", book.settings.currency);
    chart(title.clone(), charts::bars(&title, &bars))
}

/// Returns each swap as a point: what one unit of every plan saves and costs.
fn scatter(whole: &Whole<'_>, swaps: &Swaps) -> Option<Block> {
    let Whole { book, rollup, .. } = *whole;
    let hundredths =
        |amount: i128, digits: u32| whole_units(amount * 100 / i128::from(rollup.lot), digits);
    let label = |swap: usize, state: State| {
        let name = &swaps.proposals[swap].name;
        if state == State::Changed { name.clone() } else { format!("! {name}") }
    };
    let point = |(swap, saving, state): &(usize, Saving, State)| Point {
        label: label(*swap, *state),
        across: hundredths(saving.weight, WEIGHT_DIGITS),
        up: hundredths(saving.cost, rollup.cost_digits),
    };
    let points: Vec<Point> = swaps.ranked_over_plans().iter().map(point).collect();
    let across = format!("weight saved, {}", book.settings.weight_unit.name);
    let up = format!("cost added, {}", book.settings.currency);
    let mut title = "Swaps: money against weight, one unit of each plan; right of the upright line weight is saved, below the level line money".to_owned();
    if points.iter().any(|point| point.label.starts_with("! ")) {
        title.push_str("; what is marked ! breaks a limit or is not known");
    }
    let svg = charts::scatter(&title, &Axes { across: &across, up: &up }, &points);
    chart(title, svg)
}
