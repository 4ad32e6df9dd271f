use indexmap::IndexMap;

use crate::compare::{
    Amounts, Bridge, Class, Comparison, Effect, Evidence, FieldChange, LineChange, Pair,
    PriceChange, Row, Side, Subject, Substitution,
};
use crate::model::Book;
use crate::model::ItemId;
use crate::model::Priced;
use crate::quantity::Ratio;
use crate::render::report::waterfall::waterfall;
use crate::render::report::{
    CAUTION_NEST, CAUTION_RULES, CAUTION_WEIGHT, Cell, Report, Showing, Table, build_name,
    build_options, figures, heading, of_units, table, words,
};
use crate::render::shown;
use crate::rollup::WEIGHT_DIGITS;

/// Most rows of items and burdens that are listed one by one; the rest is summed.
const MOST_MOVERS: usize = 20;

/// What was compared, with what differs.
pub struct Compared<'a> {
    /// The sides, one pair per bridge.
    pub pairs: &'a [(Side<'a>, Side<'a>)],
    /// What differs between them.
    pub comparison: &'a Comparison,
    /// Plans that only one side has.
    pub alone: &'a [Alone<'a>],
}

/// A plan that only one side has.
#[derive(Clone, Copy, Debug)]
pub enum Alone<'a> {
    /// Only the old side.
    Old(Side<'a>),
    /// Only the new side.
    New(Side<'a>),
}

impl<'a> Alone<'a> {
    /// Returns the side that has it.
    pub(in crate::render) fn side(&self) -> Side<'a> {
        match self {
            Alone::Old(side) | Alone::New(side) => *side,
        }
    }
}

/// A row of a bridge with the books its names are in.
struct Line<'a> {
    row: &'a Row,
    old: &'a Book,
    new: &'a Book,
}

impl Line<'_> {
    fn name(&self) -> &str {
        match self.row.subject {
            Subject::Item(pair) => match (pair.on_new(), pair.on_old()) {
                (Some(item), _) => &self.new.item(item).name,
                (None, Some(item)) => &self.old.item(item).name,
                (None, None) => "",
            },
            Subject::Burden(pair) => match (pair.on_new(), pair.on_old()) {
                (Some(burden), _) => &self.new.burdens[burden.index()].name,
                (None, Some(burden)) => &self.old.burdens[burden.index()].name,
                (None, None) => "",
            },
        }
    }

    fn group(&self) -> String {
        let Subject::Item(pair) = self.row.subject else { return "burdens".to_owned() };
        let item = match (pair.on_new(), pair.on_old()) {
            (Some(item), _) => self.new.item(item),
            (None, Some(item)) => self.old.item(item),
            (None, None) => return String::new(),
        };
        if item.group.is_empty() { "-".to_owned() } else { item.group.clone() }
    }

    /// Returns which side alone has it, or nothing.
    fn standing(&self) -> &'static str {
        let (has_old, has_new) = match self.row.subject {
            Subject::Item(pair) => (pair.on_old().is_some(), pair.on_new().is_some()),
            Subject::Burden(pair) => (pair.on_old().is_some(), pair.on_new().is_some()),
        };
        match (has_old, has_new) {
            (true, false) => "removed",
            (false, true) => "added",
            _ => "",
        }
    }
}

/// Returns the whole answer: a bridge per plan, by effect, group and item, then the prices and bill lines that changed.
#[must_use]
pub fn compare(compared: &Compared<'_>) -> Report {
    let Compared { pairs, comparison, alone } = compared;
    let Some((old, new)) = pairs.first() else { return Report::default() };
    let sides = pairs.iter().zip(&comparison.bridges);
    let mut tables: Vec<Table> =
        sides.clone().map(|(pair, bridge)| effects(*pair, bridge)).collect();
    for (pair, bridge) in sides {
        tables.push(groups(*pair, bridge));
        tables.push(movers(*pair, bridge));
        if !bridge.substitutions.is_empty() {
            tables.push(substitutions(*pair, bridge));
        }
    }
    if !alone.is_empty() {
        tables.push(plans_alone(alone));
    }
    if !comparison.prices.is_empty() {
        tables.push(prices(*old, *new, &comparison.prices));
    }
    if !comparison.lines.is_empty() {
        tables.push(lines(old.book, new.book, &comparison.lines));
    }
    let head = |name: &str, side: &Side<'_>| {
        let lines = heading(side.book, side.needs.on);
        lines.into_iter().map(|line| format!("{name}: {line}")).collect::<Vec<_>>()
    };
    Report {
        heading: [head("old", old), head("new", new)].concat(),
        tables,
        notes: notes(*old, *new, comparison),
    }
}

fn notes(old: Side<'_>, new: Side<'_>, comparison: &Comparison) -> Vec<String> {
    let mut notes = Vec::new();
    if let Some(bridge) = comparison.bridges.first() {
        let basis = &bridge.basis;
        let (currency, weight_unit) = (&basis.currency, &basis.weight_unit.name);
        let [old_lot, new_lot] = basis.lots;
        notes.push(if old_lot == new_lot {
            format!("Amounts are in {currency} and {weight_unit}, for a lot of {new_lot}.")
        } else {
            format!(
                "Amounts are in {currency} and {weight_unit}, for one unit: of a lot of {old_lot} against a lot of {new_lot}, \
                 each item and burden rounded once."
            )
        });
        let units = [old, new].map(|side| &side.book.settings.weight_unit.name);
        if units[0] != units[1] {
            notes.push(format!(
                "Weights of the old side are brought from {} to {} item by item.",
                units[0], units[1]
            ));
        }
    }
    notes.push(
        "Effects of an item are taken in turn: quantity at the old yield and price, yield at the old price, sizes at their \
         old prices, then prices; the effects of each row add up to its difference, and rows to the total, to the last digit."
            .to_owned(),
    );
    notes.extend([CAUTION_NEST, CAUTION_WEIGHT, CAUTION_RULES].map(str::to_owned));
    notes
}

/// Returns a difference, with its sign for people.
fn signed(amount: i128, places: u32) -> Cell {
    let cell = Cell::amount(amount, places);
    if amount > 0 { Cell { shown: format!("+{}", cell.shown), ..cell } } else { cell }
}

/// Returns a difference, or nothing where there is none.
fn unless_zero(amount: i128, places: u32) -> Cell {
    if amount == 0 {
        Cell { shown: String::new(), ..Cell::amount(0, places) }
    } else {
        signed(amount, places)
    }
}

/// Names what the two sides of a bridge are.
fn title((old, new): (Side<'_>, Side<'_>), what: &str, bridge: &Bridge) -> String {
    let [was, is] = [old, new].map(|side| build_name(side.book, side.build()));
    let plans = if was.eq_ignore_ascii_case(&is) { is } else { format!("{was} to {is}") };
    format!("{plans}: {what}, {}", of_units(bridge.basis.units))
}

/// A step of a bridge: its name, and the amounts it begins with or adds.
type Step<'a> = (&'a str, Amounts);

/// Returns the bridge: the old amounts, what each effect makes of the difference, and the new amounts.
fn effects((old, new): (Side<'_>, Side<'_>), bridge: &Bridge) -> Table {
    let digits = bridge.basis.cost_digits;
    let begin = bridge.start();
    let present = Effect::ALL.into_iter().map(|effect| (effect.name(), bridge.effect(effect)));
    let present: Vec<(&str, Amounts)> =
        present.filter(|(_, amounts)| *amounts != Amounts::default()).collect();
    let mut steps = vec![("old", begin)];
    steps.extend(&present);
    let plan = build_name(new.book, new.build());
    let share = |cost: i128| {
        let percent = Ratio::new(cost, begin.cost).map(|share| share * Ratio::whole(100));
        Cell::text(percent.map_or_else(String::new, |percent| shown::fixed(&percent, 2)))
    };
    let cell = |step: &Step<'_>, amount: i128, places| {
        if step.0 == "old" { Cell::amount(amount, places) } else { signed(amount, places) }
    };
    let fields = [
        words("plan", |_: &Step<'_>| plan.clone()).showing(Showing::Never),
        words("step", |step: &Step<'_>| step.0.to_owned()),
        figures(&format!("cost {}", bridge.basis.currency), |step: &Step<'_>| {
            cell(step, step.1.cost, digits)
        })
        .summed(),
        figures("of old %", |step: &Step<'_>| share(step.1.cost)),
        figures(&format!("weight {}", bridge.basis.weight_unit.name), |step: &Step<'_>| {
            cell(step, step.1.weight, WEIGHT_DIGITS)
        })
        .summed(),
    ];
    let mut made = table(title((old, new), "from old to new", bridge), &fields, &steps);
    let end = bridge.end();
    made.totals.push(vec![
        Cell::default(),
        Cell::text("new"),
        Cell::amount(end.cost, digits),
        share(end.cost),
        Cell::amount(end.weight, WEIGHT_DIGITS),
    ]);
    let steps: Vec<(&str, i128)> = present
        .iter()
        .map(|(name, amounts)| (*name, amounts.cost))
        .filter(|(_, cost)| *cost != 0)
        .collect();
    if !steps.is_empty() {
        made.below = waterfall(("old", begin.cost), &steps, "new");
    }
    made.below.extend(options(old, new));
    made
}

/// Tells the options of both sides where they differ.
fn options(old: Side<'_>, new: Side<'_>) -> Vec<String> {
    let [was, is] = [old, new].map(|side| build_options(side.book, side.build()));
    if was.eq_ignore_ascii_case(&is) {
        return Vec::new();
    }
    vec![format!("old: {was}"), format!("new: {is}")]
}

fn book_lines<'a>((old, new): (Side<'a>, Side<'a>), bridge: &'a Bridge) -> Vec<Line<'a>> {
    bridge.rows.iter().map(|row| Line { row, old: old.book, new: new.book }).collect()
}

/// Amounts summed over some rows.
struct Sum {
    name: String,
    old: Amounts,
    new: Amounts,
    classes: Vec<i128>,
}

impl Sum {
    fn of(name: String) -> Sum {
        let classes = vec![0; Class::OF_COST.len()];
        Sum { name, old: Amounts::default(), new: Amounts::default(), classes }
    }

    fn add(&mut self, row: &Row) {
        self.old = self.old + row.old;
        self.new = self.new + row.new;
        for (sum, class) in self.classes.iter_mut().zip(Class::OF_COST) {
            *sum += row.class(class).cost;
        }
    }
}

/// Returns the bridge by item group: kinds of effects side by side.
fn groups(pair: (Side<'_>, Side<'_>), bridge: &Bridge) -> Table {
    let digits = bridge.basis.cost_digits;
    let mut sums: IndexMap<String, Sum> = IndexMap::new();
    let mut total = Sum::of("total".to_owned());
    for line in book_lines(pair, bridge) {
        let group = line.group();
        sums.entry(group.clone()).or_insert_with(|| Sum::of(group)).add(line.row);
        total.add(line.row);
    }
    let sums: Vec<Sum> = sums.into_values().collect();
    let currency = &bridge.basis.currency;
    let mut fields = vec![
        words("group", |sum: &Sum| sum.name.clone()),
        figures(&format!("old {currency}"), move |sum: &Sum| Cell::amount(sum.old.cost, digits)),
    ];
    for (index, class) in Class::OF_COST.into_iter().enumerate() {
        // A kind that changes nothing anywhere is not worth its column, but programs may count on it.
        let showing = if total.classes[index] == 0 { Showing::Never } else { Showing::IfItFits };
        let cell = move |sum: &Sum| unless_zero(sum.classes[index], digits);
        fields.push(figures(class.name(), cell).showing(showing));
    }
    fields.push(figures(&format!("new {currency}"), move |sum: &Sum| {
        Cell::amount(sum.new.cost, digits)
    }));
    fields
        .push(figures("change", move |sum: &Sum| unless_zero(sum.new.cost - sum.old.cost, digits)));
    fields.push(figures(&format!("change {}", bridge.basis.weight_unit.name), |sum: &Sum| {
        unless_zero(sum.new.weight - sum.old.weight, WEIGHT_DIGITS)
    }));
    let fields: Vec<_> = fields
        .into_iter()
        .map(|field| if field.is_number { field.summed() } else { field })
        .collect();
    let mut made = table(title(pair, "by group", bridge), &fields, &sums);
    made.totals.push(fields.iter().map(|field| (field.cell)(&total)).collect());
    made
}

/// Returns the items and burdens that changed, those first that moved the most money.
fn movers(pair: (Side<'_>, Side<'_>), bridge: &Bridge) -> Table {
    let digits = bridge.basis.cost_digits;
    let mut moved = book_lines(pair, bridge);
    moved.retain(|line| has_moved(line.row));
    moved.sort_by_key(|line| {
        let Amounts { cost, weight } = line.row.difference();
        (-cost.abs(), -weight.abs())
    });
    let rest = moved.split_off(moved.len().min(MOST_MOVERS));
    let currency = &bridge.basis.currency;
    let fields = [
        words("item or burden", |line: &Line<'_>| line.name().to_owned()),
        words("state", |line: &Line<'_>| line.standing().to_owned()),
        figures(&format!("old {currency}"), |line: &Line<'_>| {
            Cell::amount(line.row.old.cost, digits)
        })
        .summed()
        .showing(Showing::IfItFits),
        figures(&format!("new {currency}"), |line: &Line<'_>| {
            Cell::amount(line.row.new.cost, digits)
        })
        .summed()
        .showing(Showing::IfItFits),
        figures("change", |line: &Line<'_>| unless_zero(line.row.difference().cost, digits))
            .summed(),
        figures(&format!("change {}", bridge.basis.weight_unit.name), |line: &Line<'_>| {
            unless_zero(line.row.difference().weight, WEIGHT_DIGITS)
        })
        .summed(),
        words("by", |line: &Line<'_>| effects_text(line.row, digits)),
    ];
    let mut made = table(title(pair, "what moved most", bridge), &fields, &moved);
    let sum = |side: fn(&Row) -> Amounts, lines: &[Line<'_>]| -> Amounts {
        lines.iter().map(|line| side(line.row)).sum()
    };
    let mut closing = |label: String, [old, new]: [Amounts; 2]| {
        made.totals.push(vec![
            Cell::text(label),
            Cell::default(),
            Cell::amount(old.cost, digits),
            Cell::amount(new.cost, digits),
            unless_zero(new.cost - old.cost, digits),
            unless_zero(new.weight - old.weight, WEIGHT_DIGITS),
            Cell::default(),
        ]);
    };
    if !rest.is_empty() {
        let label = format!("{} that moved less", rest.len());
        closing(label, [sum(|row| row.old, &rest), sum(|row| row.new, &rest)]);
    }
    let still: Vec<&Row> = bridge.rows.iter().filter(|row| !has_moved(row)).collect();
    if !still.is_empty() {
        let label = format!("{} unchanged", still.len());
        let both = [
            still.iter().map(|row| row.old).sum::<Amounts>(),
            still.iter().map(|row| row.new).sum(),
        ];
        closing(label, both);
    }
    closing("total".to_owned(), [bridge.start(), bridge.end()]);
    made
}

/// Tells whether an effect touches a row, even if all of them together come to nothing.
fn has_moved(row: &Row) -> bool {
    Effect::ALL.into_iter().any(|effect| row.effect(effect) != Amounts::default())
}

/// Returns what the effects of a row make of its cost: `price +12.50, yield -3.00`.
fn effects_text(row: &Row, digits: u32) -> String {
    let parts = Effect::ALL.into_iter().filter_map(|effect| {
        let cost = row.effect(effect).cost;
        (cost != 0).then(|| format!("{} {}", effect.name(), signed(cost, digits).shown))
    });
    parts.collect::<Vec<_>>().join(", ")
}

/// A substitution with its position in the bridge.
type Numbered<'a> = (usize, &'a Substitution);

/// Returns which items took the place of which.
fn substitutions((old, new): (Side<'_>, Side<'_>), bridge: &Bridge) -> Table {
    let digits = bridge.basis.cost_digits;
    let names = |book: &Book, items: &[ItemId]| -> String {
        items.iter().map(|item| book.item(*item).name.as_str()).collect::<Vec<_>>().join(", ")
    };
    let amounts = |numbered: &Numbered<'_>| -> Amounts {
        let rows = bridge.rows.iter().filter(|row| row.substitution == Some(numbered.0));
        rows.map(Row::difference).sum()
    };
    let fields = [
        words("went", |numbered: &Numbered<'_>| names(old.book, &numbered.1.removed)),
        words("came", |numbered: &Numbered<'_>| names(new.book, &numbered.1.added)),
        figures("change", |numbered: &Numbered<'_>| signed(amounts(numbered).cost, digits)),
        figures(&format!("change {}", bridge.basis.weight_unit.name), |numbered: &Numbered<'_>| {
            signed(amounts(numbered).weight, WEIGHT_DIGITS)
        }),
        words("since they are", |numbered: &Numbered<'_>| {
            evidence_words(numbered.1.evidence).to_owned()
        }),
    ];
    let numbered: Vec<Numbered<'_>> = bridge.substitutions.iter().enumerate().collect();
    table(title((old, new), "substitutions", bridge), &fields, &numbered)
}

fn evidence_words(evidence: Evidence) -> &'static str {
    match evidence {
        Evidence::Swap => "named in `swaps`",
        Evidence::Place => "in the same place of the bill",
        Evidence::Group => "of the same group",
    }
}

/// Returns the plans that only one side has, with what they cost and weigh there.
fn plans_alone(alone: &[Alone<'_>]) -> Table {
    let fields = [
        words("plan", |alone: &Alone<'_>| build_name(alone.side().book, alone.side().build())),
        words("state", |alone: &Alone<'_>| match alone {
            Alone::Old(_) => "removed".to_owned(),
            Alone::New(_) => "added".to_owned(),
        }),
        figures("lot", |alone: &Alone<'_>| Cell::figure(alone.side().rollup.lot.to_string())),
        figures("cost", |alone: &Alone<'_>| {
            Cell::amount(alone.side().cost().cost(), alone.side().rollup.cost_digits)
        }),
        words("currency", |alone: &Alone<'_>| alone.side().book.settings.currency.clone()),
        figures("weight", |alone: &Alone<'_>| {
            Cell::amount(alone.side().cost().weight(), WEIGHT_DIGITS)
        }),
        words("weight unit", |alone: &Alone<'_>| {
            alone.side().book.settings.weight_unit.name.clone()
        }),
    ];
    table("Plans of one side alone, left out above", &fields, alone)
}

/// Returns the prices that changed, each with both rows.
fn prices(old: Side<'_>, new: Side<'_>, changes: &[PriceChange]) -> Table {
    let text = |priced: Option<&Priced>| {
        priced.map_or_else(|| "no price".to_owned(), |priced| priced.price.text.to_string())
    };
    let place = |book: &Book, priced: Option<&Priced>| {
        priced.map_or_else(String::new, |priced| book.place(priced.row, None).to_string())
    };
    let fields = [
        words("item", |change: &PriceChange| new.book.item(change.items.1).name.clone()),
        words("size", |change: &PriceChange| match change.size {
            Some((long, wide)) => shown::size(new.book, long, wide),
            None => String::new(),
        }),
        words("old", |change: &PriceChange| text(change.old.as_ref())),
        words("new", |change: &PriceChange| text(change.new.as_ref())),
        figures("change %", |change: &PriceChange| {
            Cell::text(rise(change).map_or_else(String::new, |rise| shown::percent(&rise)))
        }),
        words("old row", |change: &PriceChange| place(old.book, change.old.as_ref())),
        words("new row", |change: &PriceChange| place(new.book, change.new.as_ref())),
    ];
    table("Prices that changed", &fields, changes)
}

/// Returns by what share a price rose, if both prices are for the same and the old one is not zero.
pub(in crate::render) fn rise(change: &PriceChange) -> Option<Ratio> {
    let (old, new) = change.old.as_ref().zip(change.new.as_ref())?;
    if old.price.basis != new.price.basis {
        return None;
    }
    Some(new.price.amount.checked_div(&old.price.amount)? - Ratio::ONE)
}

/// One changed cell of a bill line, or a line that came or went.
struct Change<'a> {
    line: &'a LineChange,
    field: Option<usize>,
}

impl Change<'_> {
    fn field(&self) -> Option<&FieldChange> {
        self.field.map(|field| &self.line.fields[field])
    }
}

/// Returns the bill lines that came, went or changed, cell by cell, each with both places.
fn lines(old: &Book, new: &Book, changes: &[LineChange]) -> Table {
    let cells: Vec<Change<'_>> = changes
        .iter()
        .flat_map(|line| {
            let fields: Vec<Option<usize>> = match line.line {
                Pair::Both(..) => (0..line.fields.len()).map(Some).collect(),
                Pair::Old(_) | Pair::New(_) => vec![None],
            };
            fields.into_iter().map(move |field| Change { line, field })
        })
        .collect();
    let place = |book: &Book, line: Option<crate::model::LineId>| {
        line.map_or_else(String::new, |line| book.place(book.line(line).row, None).to_string())
    };
    let fields = [
        words("state", |change: &Change<'_>| line_standing(change.line).to_owned()),
        words("parent", |change: &Change<'_>| line_names(old, new, change.line).0),
        words("component", |change: &Change<'_>| line_names(old, new, change.line).1),
        words("column", |change: &Change<'_>| {
            change.field().map_or_else(String::new, |field| field.column.clone())
        }),
        words("old", |change: &Change<'_>| {
            change.field().map_or_else(String::new, |field| field.old.clone())
        }),
        words("new", |change: &Change<'_>| {
            change.field().map_or_else(String::new, |field| field.new.clone())
        }),
        words("old row", |change: &Change<'_>| place(old, change.line.line.on_old())),
        words("new row", |change: &Change<'_>| place(new, change.line.line.on_new())),
    ];
    table("Bill lines that came, went or changed", &fields, &cells)
}

/// Returns whether a line was added, removed or changed.
pub(in crate::render) fn line_standing(change: &LineChange) -> &'static str {
    match change.line {
        Pair::Old(_) => "removed",
        Pair::New(_) => "added",
        Pair::Both(..) => "changed",
    }
}

/// Returns the parent and the component of a line, by the new side's names where it has it.
pub(in crate::render) fn line_names(
    old: &Book,
    new: &Book,
    change: &LineChange,
) -> (String, String) {
    let names = |book: &Book, line| {
        let row = book.line(line);
        let (parent, component) =
            (book.parent_name(row.parent), book.component_name(row.component));
        (parent.to_owned(), component.to_owned())
    };
    match change.line {
        Pair::Old(line) => names(old, line),
        Pair::New(line) | Pair::Both(_, line) => names(new, line),
    }
}
