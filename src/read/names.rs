//! Names matched without regard to case, and what was probably meant by one that matches nothing.

use std::cell::Cell;
use std::collections::BTreeMap;

use crate::read::schema::squashed;

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

/// Returns the question after a name that was probably meant.
pub(super) fn did_you_mean(name: &str) -> String {
    format!("did you mean `{name}`?")
}

/// Returns the candidate that is most like the name, if one is like it: the same but for case, spaces, `_` and `-`, or
/// a third of its letters away at most.
pub(super) fn nearest<'a>(
    name: &str,
    candidates: impl Iterator<Item = &'a str>,
) -> Option<&'a str> {
    let wanted = squashed(name);
    let length = wanted.chars().count();
    let mut best: Option<(usize, &str)> = None;
    for candidate in candidates {
        let key = squashed(candidate);
        if key == wanted {
            return Some(candidate);
        }
        let most = length.min(key.chars().count()).div_ceil(3);
        if key.chars().count().abs_diff(length) > most {
            continue;
        }
        let distance = strsim::osa_distance(&wanted, &key);
        if distance <= most && best.is_none_or(|(least, _)| distance < least) {
            best = Some((distance, candidate));
        }
    }
    best.map(|(_, candidate)| candidate)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nearest_name_is_found_and_a_far_one_is_not() {
        let names = ["PLY-18", "PLY-12", "stud 2x3", "screw"];
        let near = |name| nearest(name, names.iter().copied());
        assert_eq!(near("PLY18"), Some("PLY-18"));
        assert_eq!(near("STUD_2X3"), Some("stud 2x3"));
        assert_eq!(near("screws"), Some("screw"));
        assert_eq!(near("membrane"), None);
    }

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
