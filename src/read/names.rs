//! Names matched without regard to case, with a hint for those that match nothing.

use std::hash::{Hash, Hasher};
use std::sync::OnceLock;
use std::sync::atomic::{AtomicU32, Ordering};

use foldhash::fast::RandomState;
use indexmap::{Equivalent, IndexMap};

use crate::diag::did_you_mean;
use crate::diag::nearest;
use crate::read::table::is_trimmed;

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
    by_name: IndexMap<Name, T, RandomState>,
    /// Names in lower case, in order.
    sorted: OnceLock<Vec<(String, usize)>>,
    hints_told: AtomicU32,
}

/// A name as it was given, without spaces around it; equal names differ in case at most.
#[derive(Debug)]
struct Name {
    text: String,
    is_ascii: bool,
}

/// A name that is looked for, without spaces around it.
#[derive(Clone, Copy)]
struct Asked<'a> {
    text: &'a str,
    is_ascii: bool,
}

impl<T: Copy> Names<T> {
    /// Returns a list without names.
    pub(super) fn new() -> Names<T> {
        Names {
            by_name: IndexMap::default(),
            sorted: OnceLock::new(),
            hints_told: AtomicU32::new(0),
        }
    }

    /// Makes room for more names.
    pub(super) fn reserve(&mut self, count: usize) {
        self.by_name.reserve(count);
    }

    /// Adds a name; if it is there, returns what has it and changes nothing.
    pub(super) fn add(&mut self, name: &str, thing: T) -> Option<T> {
        if let Some(taken) = self.find(name) {
            return Some(taken);
        }
        let text = trimmed(name).to_owned();
        self.by_name.insert(Name { is_ascii: text.is_ascii(), text }, thing);
        self.sorted.take();
        None
    }

    /// Returns what has the name.
    pub(super) fn find(&self, name: &str) -> Option<T> {
        self.by_name.get(&Asked::new(name)).copied()
    }

    /// Returns the question after the name that was probably meant, if one is near.
    pub(super) fn hint(&self, name: &str) -> Option<String> {
        if self.hints_told.fetch_add(1, Ordering::Relaxed) >= hints(self.by_name.len()) {
            return None;
        }
        let names = self.sorted().iter();
        let names = names.filter_map(|(_, position)| self.by_name.get_index(*position));
        nearest(name, names.map(|(name, _)| name.text.as_str())).map(did_you_mean)
    }

    /// Returns the names in lower case.
    pub(super) fn keys(&self) -> impl Iterator<Item = &str> {
        self.sorted().iter().map(|(name, _)| name.as_str())
    }

    fn sorted(&self) -> &[(String, usize)] {
        self.sorted.get_or_init(|| {
            let names = self.by_name.keys().map(|name| folded(&name.text));
            let mut names: Vec<(String, usize)> = names.zip(0..).collect();
            names.sort();
            names
        })
    }
}

impl Name {
    fn asked(&self) -> Asked<'_> {
        Asked { text: &self.text, is_ascii: self.is_ascii }
    }
}

impl<'a> Asked<'a> {
    fn new(name: &'a str) -> Asked<'a> {
        let text = trimmed(name);
        Asked { text, is_ascii: text.is_ascii() }
    }
}

fn trimmed(name: &str) -> &str {
    if is_trimmed(name) { name } else { name.trim() }
}

impl Hash for Name {
    fn hash<H: Hasher>(&self, state: &mut H) {
        self.asked().hash(state);
    }
}

impl PartialEq for Name {
    fn eq(&self, other: &Name) -> bool {
        self.asked().equivalent(other)
    }
}

impl Eq for Name {}

impl Hash for Asked<'_> {
    fn hash<H: Hasher>(&self, state: &mut H) {
        let mut letters = [0_u8; 48];
        match letters.get_mut(..self.text.len()) {
            // Nearly all names are short and plain; these take no memory of their own.
            Some(letters) if self.is_ascii => {
                letters.copy_from_slice(self.text.as_bytes());
                letters.make_ascii_lowercase();
                state.write(letters);
            }
            _ => state.write(folded(self.text).as_bytes()),
        }
    }
}

impl Equivalent<Name> for Asked<'_> {
    fn equivalent(&self, name: &Name) -> bool {
        let name = name.asked();
        if self.is_ascii && name.is_ascii {
            self.text.eq_ignore_ascii_case(name.text)
        } else {
            folded(self.text) == folded(name.text)
        }
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
        assert_eq!(names.find(" Floor Set "), Some(1));
        // The sign of the kelvin is a letter k in lower case; a long name is like a short one.
        assert_eq!(names.add("\u{212a}it", 3), None);
        assert_eq!(names.find("kit"), Some(3));
        assert_eq!(names.add("KIT", 4), Some(3));
        let long = "Wall panel, left, ".repeat(9);
        assert_eq!(names.add(&long, 5), None);
        assert_eq!(names.find(&long.to_uppercase()), Some(5));
        let keys: Vec<&str> = names.keys().collect();
        assert_eq!(keys, ["floor set", "kit", folded(&long).as_str()]);
    }
}
