use std::collections::{BTreeMap, BTreeSet};

use crate::compare::Side;
use crate::compare::align::align;
use crate::diag::squashed;
use crate::model::Book;
use crate::model::Component;
use crate::model::ItemId;
use crate::model::Parent;
use crate::model::Usage;

/// What says that one item took the place of another.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Evidence {
    /// A row of `swaps` names both.
    Swap,
    /// One stands where the other stood: between the same lines of the same parent, with the same use, and they are not
    /// of different groups.
    Place,
    /// Both are of one group.
    Group,
}

impl Evidence {
    /// Returns the word for it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Evidence::Swap => "swap",
            Evidence::Place => "place",
            Evidence::Group => "group",
        }
    }
}

/// Items that went, with those that took their place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Substitution {
    /// Items of the old side.
    pub removed: Vec<ItemId>,
    /// Items of the new side.
    pub added: Vec<ItemId>,
    /// The strongest evidence for it.
    pub evidence: Evidence,
}

/// Returns which of the items that only one side takes stand for each other, each item in one substitution at most.
///
/// Strong evidence is followed before weak: what a swap or its place pairs is not paired again by its group.
pub(super) fn substitutions(
    old: Side<'_>,
    new: Side<'_>,
    removed: &[ItemId],
    added: &[ItemId],
) -> Vec<Substitution> {
    let mut found = Vec::new();
    let mut free_removed: BTreeSet<ItemId> = removed.iter().copied().collect();
    let mut free_added: BTreeSet<ItemId> = added.iter().copied().collect();
    for evidence in [Evidence::Swap, Evidence::Place, Evidence::Group] {
        if free_removed.is_empty() || free_added.is_empty() {
            break;
        }
        let pairs = match evidence {
            Evidence::Swap => by_swaps(old.book, new.book),
            Evidence::Place => by_place(old, new),
            Evidence::Group => by_group(old.book, new.book, &free_removed, &free_added),
        };
        let pairs = pairs
            .into_iter()
            .filter(|(one, other)| free_removed.contains(one) && free_added.contains(other));
        for (removed, added) in clusters(pairs.collect()) {
            free_removed.retain(|item| !removed.contains(item));
            free_added.retain(|item| !added.contains(item));
            found.push(Substitution {
                removed: removed.into_iter().collect(),
                added: added.into_iter().collect(),
                evidence,
            });
        }
    }
    found
}

type Pairs = BTreeSet<(ItemId, ItemId)>;

/// Joins pairs that share an item.
fn clusters(pairs: Pairs) -> Vec<(BTreeSet<ItemId>, BTreeSet<ItemId>)> {
    let mut clusters: Vec<(BTreeSet<ItemId>, BTreeSet<ItemId>)> = Vec::new();
    for (removed, added) in pairs {
        let mut joined = (BTreeSet::from([removed]), BTreeSet::from([added]));
        clusters.retain(|cluster| {
            let is_joined = cluster.0.contains(&removed) || cluster.1.contains(&added);
            if is_joined {
                joined.0.extend(&cluster.0);
                joined.1.extend(&cluster.1);
            }
            !is_joined
        });
        clusters.push(joined);
    }
    clusters
}

fn by_swaps(old: &Book, new: &Book) -> Pairs {
    let named = |book: &Book, component: Option<Component>| match component {
        Some(Component::Item(item)) => Some(squashed(&book.item(item).name)),
        _ => None,
    };
    let find = |book: &Book, name: &str| -> Option<ItemId> {
        let position = book.items.iter().position(|item| squashed(&item.name) == name)?;
        u32::try_from(position).ok().map(ItemId)
    };
    let mut pairs = Pairs::new();
    for book in [old, new] {
        for swap in &book.swaps {
            let names = named(book, swap.from).zip(named(book, swap.to));
            let ids = names.and_then(|(from, to)| find(old, &from).zip(find(new, &to)));
            pairs.extend(ids);
        }
    }
    pairs
}

fn by_group(old: &Book, new: &Book, removed: &BTreeSet<ItemId>, added: &BTreeSet<ItemId>) -> Pairs {
    let mut pairs = Pairs::new();
    for one in removed {
        let group = &old.item(*one).group;
        let alike = added.iter().filter(|other| {
            !group.is_empty() && new.item(**other).group.eq_ignore_ascii_case(group)
        });
        pairs.extend(alike.map(|other| (*one, *other)));
    }
    pairs
}

/// Items that a parent takes, in the order of its lines.
type Rows = Vec<(String, Usage, Option<ItemId>)>;

/// Pairs items that stand between the same neighbors of the same parent.
fn by_place(old: Side<'_>, new: Side<'_>) -> Pairs {
    let (was, is) = (parents(old), parents(new));
    let mut pairs = Pairs::new();
    for (name, old_rows) in &was {
        let Some(new_rows) = is.get(name) else { continue };
        let keys = |rows: &Rows| -> Vec<String> { rows.iter().map(|row| row.0.clone()).collect() };
        for gap in align(&keys(old_rows), &keys(new_rows)).gaps {
            for (_, usage, one) in &old_rows[gap.old.clone()] {
                for (_, other_usage, other) in &new_rows[gap.new.clone()] {
                    let items = one.zip(*other).filter(|_| usage == other_usage);
                    pairs.extend(items.filter(|(one, other)| {
                        let groups = (&old.book.item(*one).group, &new.book.item(*other).group);
                        groups.0.is_empty()
                            || groups.1.is_empty()
                            || groups.0.eq_ignore_ascii_case(groups.1)
                    }));
                }
            }
        }
    }
    pairs
}

/// Returns what each parent of a build takes, by the parent's name; the plan itself has none.
fn parents(side: Side<'_>) -> BTreeMap<String, Rows> {
    let mut lines = BTreeMap::new();
    for line in side.lines() {
        let row = side.book.line(line);
        let parent = match row.parent {
            Parent::Plan(_) | Parent::Option(_) => String::new(),
            Parent::Assembly(_) => squashed(side.book.parent_name(row.parent)),
        };
        let item = match row.component {
            Component::Item(item) => Some(item),
            Component::Assembly(_) => None,
        };
        let name = squashed(side.book.component_name(row.component));
        lines.entry(parent).or_insert_with(Rows::new).push((name, row.usage, item));
    }
    lines
}
