//! Names matched without regard to case, with a hint for those that match nothing.

use std::sync::OnceLock;
use std::sync::atomic::{AtomicU32, Ordering};

use indexmap::IndexMap;

use crate::diag::did_you_mean;
use crate::diag::nearest;

/// Misspelled names beyond this many get no hint: each costs a comparison with every name there is.
const MOST_HINTS: u32 = 200;
/// No more names than this are compared for hints, but for the first.
const MOST_COMPARED: usize = 2_000_000;

/// Returns how many misspelled names get a hint where there are so many to compare them with.
pub(super) fn hints(names: usize) -> u32 {
    let most = u32::try_from(MOST_COMPARED / names.max(1)).unwrap_or(u32::MAX);
    most.clamp(1, MOST_HINTS)
}

/// Named things of one or more kinds.
#[derive(Debug)]
pub(super) struct Names<T> {
    /// By the name as it was given: bills write most names the same way each time.
    spelled: IndexMap<String, T>,
    by_name: IndexMap<String, T>,
    /// Positions in `spelled` in the order of the names without regard to case.
    sorted: OnceLock<Vec<usize>>,
    hints_told: AtomicU32,
}

impl<T: Copy> Names<T> {
    /// Returns a list without names.
    pub(super) fn new() -> Names<T> {
        Names {
            spelled: IndexMap::new(),
            by_name: IndexMap::new(),
            sorted: OnceLock::new(),
            hints_told: AtomicU32::new(0),
        }
    }

    /// Adds a name; if it is there, returns what has it and changes nothing.
    pub(super) fn add(&mut self, name: &str, thing: T) -> Option<T> {
        if let Some(taken) = self.find(name) {
            return Some(taken);
        }
        self.by_name.insert(folded(name), thing);
        self.spelled.insert(name.to_owned(), thing);
        self.sorted.take();
        None
    }

    /// Returns what has the name.
    pub(super) fn find(&self, name: &str) -> Option<T> {
        if self.by_name.is_empty() {
            return None;
        }
        self.spelled.get(name).or_else(|| self.by_name.get(&folded(name))).copied()
    }

    /// Returns the question after the name that was probably meant, if one is near.
    pub(super) fn hint(&self, name: &str) -> Option<String> {
        if self.hints_told.fetch_add(1, Ordering::Relaxed) >= hints(self.by_name.len()) {
            return None;
        }
        let names = self.sorted().iter().map(|position| self.spelled.get_index(*position));
        nearest(name, names.flatten().map(|(name, _)| name.as_str())).map(did_you_mean)
    }

    /// Returns the names in lower case.
    pub(super) fn keys(&self) -> impl Iterator<Item = &str> {
        let names = self.sorted().iter().map(|position| self.by_name.get_index(*position));
        names.flatten().map(|(name, _)| name.as_str())
    }

    /// Both lists have the names in one order.
    fn sorted(&self) -> &[usize] {
        self.sorted.get_or_init(|| {
            let mut positions: Vec<usize> = (0..self.by_name.len()).collect();
            positions
                .sort_by_key(|position| self.by_name.get_index(*position).map(|(name, _)| name));
            positions
        })
    }
}

/// Returns the text without regard to case.
pub(super) fn folded(name: &str) -> String {
    name.trim().to_lowercase()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_found_in_any_case() {
        let mut names = Names::new();
        assert_eq!(names.add("Floor Set", 1), None);
        assert_eq!(names.add("FLOOR set", 2), Some(1));
        assert_eq!(names.find("floor set"), Some(1));
        assert_eq!(names.find("FLOOR SET"), Some(1));
        assert_eq!(names.find("floor"), None);
    }
}
