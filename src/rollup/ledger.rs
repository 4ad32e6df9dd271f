use std::borrow::Cow;
use std::collections::BTreeMap;

use polars::prelude::{
    Column, DataFrame, DataType, IntoColumn, IntoSeries, NamedFrom, PolarsError, Series,
    StringChunkedBuilder,
};

use crate::explode::{Build, Needs, Source, Use};
use crate::model::Attribute;
use crate::model::Book;
use crate::model::Component;
use crate::model::Form;
use crate::model::ItemId;
use crate::model::Parent;
use crate::model::attribute;
use crate::quantity::Ratio;
use crate::quantity::share;
use crate::rollup::{BuildCost, BurdenCost, ItemCost, QUANTITY_DIGITS, Rollup, WEIGHT_DIGITS};

/// A column to group by.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Key {
    /// The plan.
    Plan,
    /// The plan's own line an amount stands under: an assembly or an item.
    Section,
    /// The assembly, plan or option whose line it is.
    Assembly,
    /// The station that builds that assembly.
    Station,
    /// The bill line, by its place.
    Line,
    /// Material, labor or burden.
    Kind,
    /// The item, or the burden.
    Item,
    /// The item's description.
    Description,
    /// The item's form.
    Form,
    /// The item's group.
    Group,
    /// The item's vendor.
    Vendor,
    /// How the item comes to the line.
    Supply,
    /// The unit of the quantity.
    Unit,
    /// A column of the user's own, by its header.
    Attribute(String),
}

/// The long table of amounts, for lots.
#[derive(Clone, Debug)]
pub struct Ledger {
    /// One column per key in the order asked for, then `quantity`, `cost`, `weight` and `purchased_weight` as decimals.
    pub frame: DataFrame,
    /// The keys.
    pub keys: Vec<Key>,
}

/// Amounts summed by keys.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Grouping {
    /// The keys.
    pub keys: Vec<Key>,
    /// In the order of first appearance in the ledger.
    pub groups: Vec<Group>,
}

/// The amounts of one combination of key values.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Group {
    /// One value per key; empty where there is none.
    pub values: Vec<String>,
    /// Good quantity in the item's unit, times ten to the power of [`QUANTITY_DIGITS`]; it means something only where
    /// the keys part the items.
    pub quantity: i128,
    /// Cost times ten to the power of the cost digits.
    pub cost: i128,
    /// Weight that rides, times ten to the power of [`WEIGHT_DIGITS`].
    pub weight: i128,
    /// Weight that is bought, in the same unit.
    pub purchased_weight: i128,
}

const AMOUNTS: [&str; 4] = ["quantity", "cost", "weight", "purchased_weight"];
/// Digits a ledger's decimals may have; the most polars holds.
const PRECISION: usize = 38;

impl Key {
    /// The keys that every book has, in the order of a full ledger.
    pub const ALL: [Key; 13] = [
        Key::Plan,
        Key::Section,
        Key::Assembly,
        Key::Station,
        Key::Line,
        Key::Kind,
        Key::Item,
        Key::Description,
        Key::Form,
        Key::Group,
        Key::Vendor,
        Key::Supply,
        Key::Unit,
    ];

    /// Returns the name of the column.
    #[must_use]
    pub fn name(&self) -> &str {
        match self {
            Key::Plan => "plan",
            Key::Section => "section",
            Key::Assembly => "assembly",
            Key::Station => "station",
            Key::Line => "line",
            Key::Kind => "kind",
            Key::Item => "item",
            Key::Description => "description",
            Key::Form => "form",
            Key::Group => "group",
            Key::Vendor => "vendor",
            Key::Supply => "supply",
            Key::Unit => "unit",
            Key::Attribute(name) => name,
        }
    }
}

/// Returns every key a book can be grouped by: the fixed ones, then the user's own columns in input order.
#[must_use]
pub fn keys(book: &Book) -> Vec<Key> {
    let mut keys = Key::ALL.to_vec();
    let attributes = book
        .lines
        .iter()
        .map(|line| &line.further.attributes)
        .chain(book.assemblies.iter().map(|assembly| &assembly.attributes))
        .chain(book.items.iter().map(|item| &item.attributes))
        .chain(book.plans.iter().map(|plan| &plan.attributes));
    for attribute in attributes.flatten() {
        if !keys.iter().any(|key| key.name().eq_ignore_ascii_case(&attribute.name)) {
            keys.push(Key::Attribute(attribute.name.clone()));
        }
    }
    keys
}

/// One row of the finest ledger of a build, before its amounts are shared out.
#[derive(Clone, Debug)]
pub(super) struct Row {
    pub used: Use,
    pub item: ItemId,
    pub parent: Parent,
    /// Measure taken, with scrap and shrinkage left out: what costs and quantities are shared by.
    pub basis: Ratio,
    /// Weight that rides.
    pub weight: Ratio,
}

impl Row {
    pub(super) fn station<'a>(&self, book: &'a Book) -> &'a str {
        match self.parent {
            Parent::Assembly(assembly) => &book.assemblies[assembly.index()].station,
            Parent::Plan(_) | Parent::Option(_) => "",
        }
    }
}

/// Returns the rows of a build's finest ledger: a bill line of one evaluated assembly under one section of the plan.
pub(super) fn rows(book: &Book, needs: &Needs, build: usize) -> Vec<Row> {
    let uses = needs.uses(&needs.builds[build]);
    let rows = uses.into_iter().filter_map(|used| {
        let taken = needs.taken(used.source);
        let line = book.line(taken.line);
        let Component::Item(item) = line.component else { return None };
        let quantity = &used.times * &taken.quantity;
        let mut basis = Ratio::ZERO;
        taken.take.each(&mut |what, amount| basis += &(what.measure(book, item) * amount));
        let basis = &quantity * &basis;
        let weight = &quantity * &taken.weight;
        Some(Row { used, item, parent: line.parent, basis, weight })
    });
    rows.collect()
}

/// Lays out the amounts of every build at the grain the keys ask for.
///
/// Where the keys part only plans and items, no row is split further; else each item's amounts are shared among its bill
/// lines by the largest-remainder rule, costs and quantities by measure, weights by weight, ties in bill order.
///
/// # Errors
/// A failure of the table engine, which a valid roll-up does not meet.
pub fn ledger(
    book: &Book,
    needs: &Needs,
    rollup: &Rollup,
    keys: &[Key],
) -> Result<Ledger, PolarsError> {
    LedgerLayout::new(book, needs, rollup.cost_digits, keys).of(&rollup.builds)
}

/// How a ledger is laid out, for laying out some builds at a time.
#[derive(Clone, Debug)]
pub struct LedgerLayout<'a> {
    book: &'a Book,
    needs: &'a Needs,
    cost_digits: u32,
    keys: &'a [Key],
    /// Whether the keys part the bill lines of an item.
    is_fine: bool,
}

impl<'a> LedgerLayout<'a> {
    /// Returns the layout of these keys, costs having so many digits.
    #[must_use]
    pub fn new(
        book: &'a Book,
        needs: &'a Needs,
        cost_digits: u32,
        keys: &'a [Key],
    ) -> LedgerLayout<'a> {
        LedgerLayout { book, needs, cost_digits, keys, is_fine: parts_lines(book, keys) }
    }

    /// Lays out the amounts of some builds of a roll-up, as [`ledger`] does of all.
    ///
    /// # Errors
    /// A failure of the table engine, which a valid roll-up does not meet.
    pub fn of(&self, builds: &[BuildCost]) -> Result<Ledger, PolarsError> {
        let LedgerLayout { book, needs, cost_digits, keys, is_fine } = *self;
        let mut table = Table::new(keys);
        for cost in builds {
            if is_fine {
                add_lines(book, needs, cost, keys, &mut table);
            } else {
                for item in &cost.items {
                    let place = Place::of_item(book, needs, cost.build, item.item);
                    table.push(keys.iter().map(|key| place.text(key)), amounts_of(item));
                }
            }
            for burden in &cost.burdens {
                let build = &needs.builds[cost.build];
                let texts = keys.iter().map(|key| burden_text(book, build, burden, key));
                table.push(texts, [0, burden.cost, 0, 0]);
            }
        }
        Ok(Ledger { frame: table.into_frame(cost_digits)?, keys: keys.to_vec() })
    }
}

/// Sums the amounts of a ledger by some of its keys.
///
/// # Errors
/// A failure of the table engine, which a valid ledger does not meet.
pub fn group(ledger: &Ledger, keys: &[Key]) -> Result<Grouping, PolarsError> {
    if keys.is_empty() {
        return Ok(Grouping { keys: Vec::new(), groups: vec![grand_total(ledger)?] });
    }
    let by: Vec<&str> = keys.iter().map(Key::name).collect();
    #[expect(
        deprecated,
        reason = "the lazy engine that stands in for it brings a network client into an offline tool"
    )]
    let frame = ledger.frame.group_by_stable(by)?.select(AMOUNTS).sum()?;
    let mut texts: Vec<Vec<String>> = Vec::new();
    for key in keys {
        let column = frame.column(key.name())?.str()?;
        texts.push(column.iter().map(|text| text.unwrap_or_default().to_owned()).collect());
    }
    let mut amounts: Vec<Vec<i128>> = Vec::new();
    for name in AMOUNTS {
        let column = frame.column(&format!("{name}_sum"))?.decimal()?.physical().clone();
        amounts.push(column.iter().map(Option::unwrap_or_default).collect());
    }
    let groups = (0..frame.height()).map(|row| Group {
        values: texts.iter().map(|column| column[row].clone()).collect(),
        quantity: amounts[0][row],
        cost: amounts[1][row],
        weight: amounts[2][row],
        purchased_weight: amounts[3][row],
    });
    Ok(Grouping { keys: keys.to_vec(), groups: gathered(groups.collect()) })
}

/// Brings groups together that share their first keys; else they keep the order in which the ledger has them.
pub(super) fn gathered(mut groups: Vec<Group>) -> Vec<Group> {
    let mut first: BTreeMap<Vec<String>, usize> = BTreeMap::new();
    for (position, group) in groups.iter().enumerate() {
        for length in 1..group.values.len() {
            first.entry(group.values[..length].to_vec()).or_insert(position);
        }
    }
    groups.sort_by_cached_key(|group| {
        (1..group.values.len()).map(|length| first[&group.values[..length]]).collect::<Vec<_>>()
    });
    groups
}

/// Sums all rows; the table engine groups by one key at least.
fn grand_total(ledger: &Ledger) -> Result<Group, PolarsError> {
    let mut sums = [0_i128; 4];
    for (sum, name) in sums.iter_mut().zip(AMOUNTS) {
        let column = ledger.frame.column(name)?.decimal()?.physical().clone();
        *sum = column.iter().map(Option::unwrap_or_default).sum();
    }
    let [quantity, cost, weight, purchased_weight] = sums;
    Ok(Group { values: Vec::new(), quantity, cost, weight, purchased_weight })
}

fn add_lines(book: &Book, needs: &Needs, cost: &BuildCost, keys: &[Key], table: &mut Table) {
    let rows = rows(book, needs, cost.build);
    let by_item = by_item(&rows);
    let mut amounts = vec![[0_i128; 4]; rows.len()];
    for item in &cost.items {
        let Some(positions) = by_item.get(&item.item) else { continue };
        for (position, shares) in positions.iter().zip(shares(item, positions, &rows)) {
            amounts[*position] = shares;
        }
    }
    for (row, amounts) in rows.iter().zip(amounts) {
        let place = Place::of(book, needs, cost.build, row);
        table.push(keys.iter().map(|key| place.text(key)), amounts);
    }
}

/// Returns the positions of each item's rows.
pub(super) fn by_item(rows: &[Row]) -> BTreeMap<ItemId, Vec<usize>> {
    let mut by_item: BTreeMap<ItemId, Vec<usize>> = BTreeMap::new();
    for (position, row) in rows.iter().enumerate() {
        by_item.entry(row.item).or_default().push(position);
    }
    by_item
}

/// Splits an item's amounts among its rows: quantity, cost, weight, purchased weight.
pub(super) fn shares(item: &ItemCost, positions: &[usize], rows: &[Row]) -> Vec<[i128; 4]> {
    let bases: Vec<Ratio> =
        positions.iter().map(|position| rows[*position].basis.clone()).collect();
    let weights: Vec<Ratio> =
        positions.iter().map(|position| rows[*position].weight.clone()).collect();
    let quantity = share(item.quantity, &bases);
    let cost = share(item.cost, &bases);
    let weight = share(item.weight, &weights);
    let purchased = share(item.purchased_weight, &bases);
    (0..positions.len())
        .map(|index| [quantity[index], cost[index], weight[index], purchased[index]])
        .collect()
}

/// What a station has of one item, for a lot.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StationShare {
    /// The station; empty for lines of plans, options and assemblies without one.
    pub station: String,
    /// The item.
    pub item: ItemId,
    /// Good quantity in the item's unit, times ten to the power of [`QUANTITY_DIGITS`].
    pub quantity: i128,
    /// Cost times ten to the power of the cost digits.
    pub cost: i128,
}

/// Returns the labor of a build by station and item, in the order of the bill, as the ledger shares it.
#[must_use]
pub fn labor_by_station(book: &Book, needs: &Needs, cost: &BuildCost) -> Vec<StationShare> {
    let rows = rows(book, needs, cost.build);
    let by_item = by_item(&rows);
    let mut first_of = BTreeMap::new();
    let mut found: Vec<StationShare> = Vec::new();
    let labor = cost.items.iter().filter(|item| book.item(item.item).form == Form::Labor);
    for item in labor {
        let Some(positions) = by_item.get(&item.item) else { continue };
        for (position, shares) in positions.iter().zip(shares(item, positions, &rows)) {
            let station = rows[*position].station(book);
            let known =
                found.iter_mut().find(|known| known.item == item.item && known.station == station);
            match known {
                Some(known) => {
                    known.quantity += shares[0];
                    known.cost += shares[1];
                }
                None => found.push(StationShare {
                    station: station.to_owned(),
                    item: item.item,
                    quantity: shares[0],
                    cost: shares[1],
                }),
            }
            let first = first_of.entry(station.to_owned()).or_insert(*position);
            *first = (*first).min(*position);
        }
    }
    found.sort_by_key(|share| first_of[&share.station]);
    found
}

/// Returns quantity, cost, weight and purchased weight.
pub(super) fn amounts_of(item: &ItemCost) -> [i128; 4] {
    [item.quantity, item.cost, item.weight, item.purchased_weight]
}

/// Tells whether one of the keys parts the bill lines of one item.
pub(super) fn parts_lines(book: &Book, keys: &[Key]) -> bool {
    keys.iter().any(|key| is_of_line(book, key))
}

/// Tells whether a key parts the bill lines of one item.
fn is_of_line(book: &Book, key: &Key) -> bool {
    match key {
        Key::Section | Key::Assembly | Key::Station | Key::Line => true,
        Key::Attribute(name) => {
            let has = |attributes: &[Attribute]| attribute(attributes, name).is_some();
            book.lines.iter().any(|line| has(&line.further.attributes))
                || book.assemblies.iter().any(|assembly| has(&assembly.attributes))
        }
        _ => false,
    }
}

/// Returns what a key says of a burden: it belongs to a plan, and to nothing below.
pub(super) fn burden_text<'a>(
    book: &'a Book,
    build: &Build,
    burden: &BurdenCost,
    key: &Key,
) -> &'a str {
    let plan = &book.plans[build.plan.index()];
    match key {
        Key::Plan => &plan.name,
        Key::Kind => "burden",
        Key::Item => &book.burdens[burden.burden.index()].name,
        Key::Attribute(name) => attribute(&plan.attributes, name).unwrap_or_default(),
        _ => "",
    }
}

/// Where an amount stands, for the texts of its keys.
pub(super) struct Place<'a> {
    pub book: &'a Book,
    pub needs: &'a Needs,
    pub build: usize,
    pub item: Option<ItemId>,
    pub source: Option<Source>,
    pub section: Option<usize>,
}

impl<'a> Place<'a> {
    /// Returns the place of an item of a build as a whole.
    pub(super) fn of_item(
        book: &'a Book,
        needs: &'a Needs,
        build: usize,
        item: ItemId,
    ) -> Place<'a> {
        Place { book, needs, build, item: Some(item), source: None, section: None }
    }

    /// Returns the place of a row of the finest ledger.
    pub(super) fn of(book: &'a Book, needs: &'a Needs, build: usize, row: &Row) -> Place<'a> {
        let Use { section, source, .. } = row.used;
        Place {
            book,
            needs,
            build,
            item: Some(row.item),
            source: Some(source),
            section: Some(section),
        }
    }

    pub(super) fn text(&self, key: &Key) -> Cow<'a, str> {
        let book = self.book;
        let build = &self.needs.builds[self.build];
        let item = self.item.map(|item| book.item(item));
        let line = self.source.map(|source| book.line(self.needs.taken(source).line));
        let text = match key {
            Key::Plan => Some(&*book.plans[build.plan.index()].name),
            Key::Section => self.section.map(|section| {
                let line = self.needs.instances[build.root.index()].lines[section].line;
                book.component_name(book.line(line).component)
            }),
            Key::Assembly => line.map(|line| book.parent_name(line.parent)),
            Key::Station => match line.map(|line| line.parent) {
                Some(Parent::Assembly(assembly)) => {
                    Some(&*book.assemblies[assembly.index()].station)
                }
                _ => None,
            },
            Key::Line => {
                let place = line.map(|line| book.place(line.row, None).to_string());
                return place.unwrap_or_default().into();
            }
            Key::Kind => {
                item.map(|item| if item.form == Form::Labor { "labor" } else { "material" })
            }
            Key::Item => item.map(|item| &*item.name),
            Key::Description => item.map(|item| &*item.description),
            Key::Form => item.map(|item| item.form.name()),
            Key::Group => item.map(|item| &*item.group),
            Key::Vendor => item.map(|item| &*item.vendor),
            Key::Supply => item.map(|item| item.supply.name()),
            Key::Unit => item.map(|item| &*item.unit.name),
            Key::Attribute(name) => {
                let of_assembly = || match line?.parent {
                    Parent::Assembly(assembly) => {
                        attribute(&book.assemblies[assembly.index()].attributes, name)
                    }
                    Parent::Plan(_) | Parent::Option(_) => None,
                };
                line.and_then(|line| attribute(&line.further.attributes, name))
                    .or_else(of_assembly)
                    .or_else(|| attribute(&item?.attributes, name))
                    .or_else(|| attribute(&book.plans[build.plan.index()].attributes, name))
            }
        };
        text.unwrap_or_default().into()
    }
}

/// The columns of a ledger while it is filled.
struct Table {
    texts: Vec<StringChunkedBuilder>,
    amounts: [Vec<i128>; 4],
}

impl Table {
    fn new(keys: &[Key]) -> Table {
        let texts = keys.iter().map(|key| StringChunkedBuilder::new(key.name().into(), 0));
        Table { texts: texts.collect(), amounts: Default::default() }
    }

    fn push<T: AsRef<str>>(&mut self, texts: impl Iterator<Item = T>, amounts: [i128; 4]) {
        for (column, text) in self.texts.iter_mut().zip(texts) {
            column.append_value(text);
        }
        for (column, amount) in self.amounts.iter_mut().zip(amounts) {
            column.push(amount);
        }
    }

    fn into_frame(self, cost_digits: u32) -> Result<DataFrame, PolarsError> {
        let height = self.amounts[0].len();
        let mut columns: Vec<Column> = Vec::new();
        for texts in self.texts {
            columns.push(texts.finish().into_series().into_column());
        }
        let digits = [QUANTITY_DIGITS, cost_digits, WEIGHT_DIGITS, WEIGHT_DIGITS];
        for ((name, amounts), digits) in AMOUNTS.iter().zip(self.amounts).zip(digits) {
            let series = Series::new((*name).into(), amounts);
            debug_assert_eq!(series.dtype(), &DataType::Int128, "amounts are whole");
            columns.push(series.into_decimal(PRECISION, digits as usize)?.into_column());
        }
        DataFrame::new(height, columns)
    }
}
