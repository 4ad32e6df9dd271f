//! Compares: two books, two days, two plans, a plan with and without options; and standard against actual.
//!
//! In: two sides, each a build with its roll-up. Out: a [`Bridge`] from the old cost and weight to the new, parted into
//! effects; the bill lines and prices that changed, with both places: a [`Comparison`]. From a book and its table of
//! actuals, its [`variances`].
//!
//! Always: the effects of every row are whole units of the last place and add up to its difference, and the rows to the
//! difference of the totals; nothing is left over. `docs/compare.md` says in which order the effects are taken.
//!
//! Not here: choosing the sides, nesting or pricing anything anew.

mod actual;
mod align;
mod basis;
mod burdens;
mod effect;
mod items;
mod lines;
mod pair;
mod pairs;
mod prices;

use std::collections::BTreeSet;

pub use actual::{Deviation, Variance, Verdict, is_labor, variances};
pub use basis::Basis;
pub use effect::{Class, Effect};
pub use lines::{FieldChange, LineChange};
pub use pair::Pair;
pub use pairs::{Evidence, Substitution};
pub use prices::PriceChange;

use basis::View;
use items::{Terms, only};
use pair::pair_up;

use crate::diag::Diagnostic;
use crate::diag::squashed;
use crate::explode::{Build, Needs, Take};
use crate::model::Book;
use crate::model::BurdenId;
use crate::model::Form;
use crate::model::Item;
use crate::model::ItemId;
use crate::model::LineId;
use crate::rollup::{BuildCost, BurdenCost, ItemCost, Rollup};

/// One side of a comparison: a build, with what it takes and costs.
#[derive(Clone, Copy, Debug)]
pub struct Side<'a> {
    /// The book.
    pub book: &'a Book,
    /// What its plans take.
    pub needs: &'a Needs,
    /// What they cost and weigh.
    pub rollup: &'a Rollup,
    /// Position in the builds of the roll-up.
    pub build: usize,
}

impl<'a> Side<'a> {
    /// Returns what is built.
    #[must_use]
    pub fn build(self) -> &'a Build {
        &self.needs.builds[self.cost().build]
    }

    /// Returns what it costs and weighs.
    #[must_use]
    pub fn cost(self) -> &'a BuildCost {
        &self.rollup.builds[self.build]
    }

    /// Returns the bill lines that are taken, each once, in bill order.
    fn lines(self) -> BTreeSet<LineId> {
        let mut lines = BTreeSet::new();
        let mut open = vec![self.build().root];
        let mut seen = BTreeSet::from([self.build().root]);
        while let Some(instance) = open.pop() {
            for taken in &self.needs.instances[instance.index()].lines {
                lines.insert(taken.line);
                if let Take::Assembly(child) = taken.take
                    && seen.insert(child)
                {
                    open.push(child);
                }
            }
        }
        lines
    }
}

/// Which bill lines are held against each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Scope {
    /// Those that the builds take.
    Taken,
    /// All that the plans could take, whatever the options and the day.
    Written,
}

/// What differs between the plans of two sides.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Comparison {
    /// One per pair of sides, in their order.
    pub bridges: Vec<Bridge>,
    /// Bill lines that came, went or changed.
    pub lines: Vec<LineChange>,
    /// Prices that came, went or changed, of items that both sides take.
    pub prices: Vec<PriceChange>,
}

/// The way from the old cost and weight of a plan to the new.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Bridge {
    /// What the amounts are in.
    pub basis: Basis,
    /// Items in the old book's order, then those of the new side alone in its order, then burdens likewise.
    pub rows: Vec<Row>,
    /// Which items took the place of which.
    pub substitutions: Vec<Substitution>,
}

/// One item or burden of a bridge.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Row {
    /// What it is.
    pub subject: Subject,
    /// Cost and weight of the old side; zero where it has none.
    pub old: Amounts,
    /// Cost and weight of the new side; zero where it has none.
    pub new: Amounts,
    /// The substitution it is part of, by its position.
    pub substitution: Option<usize>,
    costs: Terms,
    weights: Terms,
}

/// An item or a burden, on one side or on both.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Subject {
    /// An item.
    Item(Pair<ItemId>),
    /// A burden.
    Burden(Pair<BurdenId>),
}

/// Cost and weight.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Amounts {
    /// Cost times ten to the power of the cost digits.
    pub cost: i128,
    /// Weight that rides, times ten to the power of [`WEIGHT_DIGITS`](crate::rollup::WEIGHT_DIGITS).
    pub weight: i128,
}

impl std::ops::Add for Amounts {
    type Output = Amounts;
    fn add(self, other: Amounts) -> Amounts {
        Amounts { cost: self.cost + other.cost, weight: self.weight + other.weight }
    }
}

impl std::ops::Sub for Amounts {
    type Output = Amounts;
    fn sub(self, other: Amounts) -> Amounts {
        Amounts { cost: self.cost - other.cost, weight: self.weight - other.weight }
    }
}

impl std::iter::Sum for Amounts {
    fn sum<I: Iterator<Item = Amounts>>(amounts: I) -> Amounts {
        amounts.fold(Amounts::default(), |sum, amount| sum + amount)
    }
}

impl Row {
    fn new(subject: Subject, [old, new]: [Amounts; 2], costs: Terms, weights: Terms) -> Row {
        let sums = Amounts { cost: costs.iter().sum(), weight: weights.iter().sum() };
        debug_assert_eq!(old + sums, new, "the effects of {subject:?} add up to its difference");
        Row { subject, old, new, substitution: None, costs, weights }
    }

    /// Returns what an effect makes of the difference.
    #[must_use]
    pub fn effect(&self, effect: Effect) -> Amounts {
        Amounts { cost: self.costs[effect as usize], weight: self.weights[effect as usize] }
    }

    /// Returns what a kind of effects makes of the difference.
    #[must_use]
    pub fn class(&self, class: Class) -> Amounts {
        let of_class = Effect::ALL.into_iter().filter(|effect| effect.class() == class);
        of_class.map(|effect| self.effect(effect)).sum()
    }

    /// Returns by how much it grew.
    #[must_use]
    pub fn difference(&self) -> Amounts {
        self.new - self.old
    }

    /// Takes all that is told of an item on one side as part of a substitution.
    fn substitute(&mut self, position: usize) {
        let Amounts { cost, weight } = self.difference();
        self.costs = only(Effect::Substitution, cost);
        self.weights = only(Effect::Substitution, weight);
        self.substitution = Some(position);
    }
}

impl Bridge {
    /// Returns the cost and weight it begins with.
    #[must_use]
    pub fn start(&self) -> Amounts {
        self.rows.iter().map(|row| row.old).sum()
    }

    /// Returns the cost and weight it leads to.
    #[must_use]
    pub fn end(&self) -> Amounts {
        self.rows.iter().map(|row| row.new).sum()
    }

    /// Returns what an effect makes of the difference.
    #[must_use]
    pub fn effect(&self, effect: Effect) -> Amounts {
        self.rows.iter().map(|row| row.effect(effect)).sum()
    }
}

/// Compares plans pair by pair; every pair is of the same two books.
///
/// # Errors
/// Different currencies.
///
/// # Example
/// ```
/// # use cutbill::explode::{self, explode};
/// # use cutbill::read::{Memory, read};
/// # use cutbill::rollup::{self, rollup};
/// # use cutbill::watch::Silent;
/// use cutbill::compare::{Effect, Scope, Side, compare};
///
/// # let files = |price: &str| Memory::from_iter([
/// #     ("plans.csv", "plan\nSedge\n".to_owned()),
/// #     ("bill.csv", "parent,component,quantity\nSedge,BOLT,4\n".to_owned()),
/// #     ("items.csv", format!("item,form,price,weight\nBOLT,count,{price},0.1 lb\n")),
/// # ]);
/// # let taken = |price: &str| {
/// #     let book = read(&files(price)).unwrap().value;
/// #     let needs = explode(&book, &explode::Options::default()).unwrap().value;
/// #     let rollup = rollup(&book, &needs, rollup::Options::default(), &Silent).unwrap().value;
/// #     (book, needs, rollup)
/// # };
/// # let (old, new) = (taken("0.25"), taken("0.30"));
/// # let [old, new] =
/// #     [&old, &new].map(|(book, needs, rollup)| Side { book, needs, rollup, build: 0 });
/// // The price of the 4 bolts went from 0.25 to 0.30 USD.
/// let bridge = &compare(&[(old, new)], Scope::Taken).unwrap().bridges[0];
/// assert_eq!(bridge.effect(Effect::Price).cost, 2000);
/// assert_eq!(bridge.start() + bridge.effect(Effect::Price), bridge.end());
/// ```
pub fn compare(
    pairs: &[(Side<'_>, Side<'_>)],
    scope: Scope,
) -> Result<Comparison, Vec<Diagnostic>> {
    let bridges: Result<Vec<Bridge>, Diagnostic> =
        pairs.iter().map(|(old, new)| bridge(*old, *new)).collect();
    let bridges = bridges.map_err(|error| vec![error])?;
    let items =
        bridges.iter().flat_map(|bridge| &bridge.rows).filter_map(|row| match row.subject {
            Subject::Item(Pair::Both(old, new)) => Some((old, new)),
            _ => None,
        });
    let items: BTreeSet<(ItemId, ItemId)> = items.collect();
    let prices =
        pairs.first().map_or_else(Vec::new, |(old, new)| prices::price_changes(*old, *new, &items));
    Ok(Comparison { bridges, lines: lines::line_changes(pairs, scope), prices })
}

/// Returns the way from the old cost and weight to the new.
///
/// Items and burdens are matched by name, without regard to case, spaces, `_` and `-`; an item whose form or kind of unit
/// changed is another item. Where the lots differ, amounts are for one unit, each rounded once.
///
/// # Errors
/// Different currencies.
pub fn bridge(old: Side<'_>, new: Side<'_>) -> Result<Bridge, Diagnostic> {
    let basis = Basis::of(old, new)?;
    let (old, new) = (basis.view(old), basis.view(new));
    let mut rows = item_rows(&old, &new);
    let one_sided = |rows: &[Row], side: fn(Pair<ItemId>) -> Option<ItemId>| -> Vec<ItemId> {
        let alone = rows.iter().filter_map(|row| match row.subject {
            Subject::Item(Pair::Both(..)) | Subject::Burden(_) => None,
            Subject::Item(pair) => side(pair),
        });
        alone.collect()
    };
    let is_material = |book: &Book, item: &ItemId| book.item(*item).form != Form::Labor;
    let mut removed = one_sided(&rows, Pair::on_old);
    removed.retain(|item| is_material(old.side.book, item));
    let mut added = one_sided(&rows, Pair::on_new);
    added.retain(|item| is_material(new.side.book, item));
    let substitutions = pairs::substitutions(old.side, new.side, &removed, &added);
    for row in &mut rows {
        let position = substitutions.iter().position(|substitution| match row.subject {
            Subject::Item(Pair::Old(item)) => substitution.removed.contains(&item),
            Subject::Item(Pair::New(item)) => substitution.added.contains(&item),
            _ => false,
        });
        if let Some(position) = position {
            row.substitute(position);
        }
    }
    rows.extend(burden_rows(&old, &new));
    Ok(Bridge { basis, rows, substitutions })
}

/// Returns a row for each item, in the order of the old side, then of the new.
fn item_rows(old: &View<'_>, new: &View<'_>) -> Vec<Row> {
    let [was, is] = [old, new].map(|view| &view.side.cost().items);
    let keys = |view: &View<'_>| -> Vec<_> {
        let items = view.side.cost().items.iter().map(|cost| view.side.book.item(cost.item));
        let kind = |item: &Item| (item.form, item.unit.dimension);
        let named = |item: &Item| [item.name.to_lowercase(), squashed(&item.name)];
        items.map(|item| named(item).map(|name| (name, kind(item)))).collect()
    };
    let rows = pair_up(&keys(old), &keys(new)).into_iter().map(|pair| {
        let amounts = |view: &View<'_>, cost: &ItemCost| Amounts {
            cost: view.cost(cost.cost),
            weight: view.weight(cost.weight),
        };
        let nothing = Amounts::default();
        let alone = |view: &View<'_>, item: ItemId, effect: Effect| {
            let is_labor = view.side.book.item(item).form == Form::Labor;
            if is_labor { Effect::LaborHours } else { effect }
        };
        let (pair, amounts, costs, weights) = match pair {
            Pair::Both(one, other) => {
                let (was, is) = (&was[one], &is[other]);
                let both = [amounts(old, was), amounts(new, is)];
                let costs = items::cost_terms(old, new, was, is);
                let weights = items::weight_terms(old, new, was, is);
                (Pair::Both(was.item, is.item), both, costs, weights)
            }
            Pair::Old(one) => {
                let (item, gone) = (was[one].item, amounts(old, &was[one]));
                let costs = only(alone(old, item, Effect::Removed), -gone.cost);
                (Pair::Old(item), [gone, nothing], costs, only(Effect::Removed, -gone.weight))
            }
            Pair::New(other) => {
                let (item, come) = (is[other].item, amounts(new, &is[other]));
                let costs = only(alone(new, item, Effect::Added), come.cost);
                (Pair::New(item), [nothing, come], costs, only(Effect::Added, come.weight))
            }
        };
        Row::new(Subject::Item(pair), amounts, costs, weights)
    });
    rows.collect()
}

/// Returns a row for each burden, in the order of the old side, then of the new.
fn burden_rows(old: &View<'_>, new: &View<'_>) -> Vec<Row> {
    let [was, is] = [old, new].map(|view| &view.side.cost().burdens);
    let keys = |view: &View<'_>| -> Vec<_> {
        let Side { book, .. } = view.side;
        // A limit to the plan itself is none once two plans are compared.
        let plan = squashed(&book.plans[view.side.build().plan.index()].name);
        let burdens = view.side.cost().burdens.iter();
        let key = |cost: &BurdenCost| {
            let burden = &book.burdens[cost.burden.index()];
            let limit = squashed(&burden.applies_to);
            [(squashed(&burden.name), if limit == plan { String::new() } else { limit })]
        };
        burdens.map(key).collect()
    };
    let rows = pair_up(&keys(old), &keys(new)).into_iter().map(|pair| {
        let amounts =
            |view: &View<'_>, cost: &BurdenCost| Amounts { cost: view.cost(cost.cost), weight: 0 };
        let nothing = Amounts::default();
        let (pair, amounts, terms) = match pair {
            Pair::Both(one, other) => {
                let (was, is) = (&was[one], &is[other]);
                let both = [amounts(old, was), amounts(new, is)];
                (Pair::Both(was.burden, is.burden), both, burdens::terms(old, new, was, is))
            }
            Pair::Old(one) => {
                let gone = amounts(old, &was[one]);
                (Pair::Old(was[one].burden), [gone, nothing], only(Effect::BurdenRate, -gone.cost))
            }
            Pair::New(other) => {
                let come = amounts(new, &is[other]);
                (Pair::New(is[other].burden), [nothing, come], only(Effect::BurdenRate, come.cost))
            }
        };
        Row::new(Subject::Burden(pair), amounts, terms, [0; effect::EFFECTS])
    });
    rows.collect()
}
