use std::collections::BTreeSet;

use crate::model::Book;
use crate::model::OptionId;

/// How options bind each other, through all that they bring along.
#[derive(Debug)]
pub(super) struct Bonds {
    /// For each option, what it brings along, itself apart.
    brought: Vec<BTreeSet<OptionId>>,
    /// For each option, those that it cannot be taken with: one of what they bring, or they themselves, excludes another.
    clashing: Vec<BTreeSet<OptionId>>,
}

impl Bonds {
    /// Returns those of the options of one plan.
    pub(super) fn new(book: &Book, options: &[OptionId]) -> Bonds {
        let all = || options.iter().map(|id| (*id, &book.options[id.index()]));
        let brought = |option: OptionId| {
            let mut brought = BTreeSet::new();
            let mut open = vec![option];
            while let Some(next) = open.pop() {
                let row = &book.options[next.index()];
                let more = all().filter(|(id, other)| row.brings(other) && *id != option);
                open.extend(more.map(|(id, _)| id).filter(|id| brought.insert(*id)));
            }
            brought
        };
        let ids = (0_u32..).map(OptionId).take(book.options.len());
        let brought: Vec<BTreeSet<OptionId>> = ids.map(brought).collect();
        // For each option, those that have it among what they bring, itself before all.
        let mut having: Vec<Vec<OptionId>> = vec![Vec::new(); brought.len()];
        for (id, _) in all() {
            having[id.index()].insert(0, id);
            for other in &brought[id.index()] {
                having[other.index()].push(id);
            }
        }
        let mut clashing = vec![BTreeSet::new(); brought.len()];
        for (a, row) in all() {
            for (b, _) in all().filter(|(_, other)| row.excludes(other)) {
                for left in &having[a.index()] {
                    for right in &having[b.index()] {
                        clashing[left.index()].insert(*right);
                        clashing[right.index()].insert(*left);
                    }
                }
            }
        }
        Bonds { brought, clashing }
    }

    /// Tells whether an option brings another along, by itself or by what it brings.
    pub(super) fn brings(&self, option: OptionId, other: OptionId) -> bool {
        self.brought[option.index()].contains(&other)
    }

    /// Tells whether two options cannot be taken together.
    pub(super) fn clash(&self, option: OptionId, other: OptionId) -> bool {
        self.clashing[option.index()].contains(&other)
    }
}
