//! Names matched without regard to case, with a hint for those that match nothing.

use std::cell::Cell;
use std::collections::BTreeMap;

use crate::diag::did_you_mean;
use crate::diag::nearest;

/// Misspelled names beyond this many get no hint: each costs a comparison with every name there is.
pub(super) const MOST_HINTS: u32 = 200;

/// Named things of one or more kinds.
#[derive(Debug)]
pub(super) struct Names<T> {
    by_name: BTreeMap<String, (String, T)>,
    hints_left: Cell<u32>,
}

impl<T: Copy> Names<T> {
    /// Returns a list without names.
    pub(super) fn new() -> Names<T> {
        Names { by_name: BTreeMap::new(), hints_left: Cell::new(MOST_HINTS) }
    }

    /// Adds a name; if it is there, returns what has it and changes nothing.
    pub(super) fn add(&mut self, name: &str, thing: T) -> Option<T> {
        let folded = folded(name);
        if let Some((_, taken)) = self.by_name.get(&folded) {
            return Some(*taken);
        }
        self.by_name.insert(folded, (name.to_owned(), thing));
        None
    }

    /// Returns what has the name.
    pub(super) fn find(&self, name: &str) -> Option<T> {
        // Most names are written the same way each time; those in lower case need no copy.
        if name.bytes().all(|byte| byte.is_ascii() && !byte.is_ascii_uppercase()) {
            return self.by_name.get(name).map(|(_, thing)| *thing);
        }
        self.by_name.get(&folded(name)).map(|(_, thing)| *thing)
    }

    /// Returns the question after the name that was probably meant, if one is near.
    pub(super) fn hint(&self, name: &str) -> Option<String> {
        self.hints_left.set(self.hints_left.get().checked_sub(1)?);
        let names = self.by_name.values().map(|(name, _)| name.as_str());
        nearest(name, names).map(did_you_mean)
    }

    /// Returns the names in lower case.
    pub(super) fn keys(&self) -> impl Iterator<Item = &str> {
        self.by_name.keys().map(String::as_str)
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
