use std::collections::VecDeque;
use std::hash::Hash;

use indexmap::IndexMap;

/// What stands on the old side, on the new, or on both.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pair<T> {
    /// On the old side only.
    Old(T),
    /// On the new side only.
    New(T),
    /// On both.
    Both(T, T),
}

impl<T: Copy> Pair<T> {
    /// Returns what stands on the old side.
    #[must_use]
    pub fn on_old(self) -> Option<T> {
        match self {
            Pair::Old(old) | Pair::Both(old, _) => Some(old),
            Pair::New(_) => None,
        }
    }

    /// Returns what stands on the new side.
    #[must_use]
    pub fn on_new(self) -> Option<T> {
        match self {
            Pair::New(new) | Pair::Both(_, new) => Some(new),
            Pair::Old(_) => None,
        }
    }
}

/// Matches the entries of two lists by their keys, every entry once; each has the same number of keys, from the strictest
/// to the loosest, and is matched by the first that finds a partner. Of several with one key, the first goes with the
/// first.
///
/// The result has the old entries in order, then the new ones without a partner.
pub(super) fn pair_up<K: Hash + Eq, const KEYS: usize>(
    old: &[[K; KEYS]],
    new: &[[K; KEYS]],
) -> Vec<Pair<usize>> {
    let mut partners: Vec<Option<usize>> = vec![None; old.len()];
    let mut is_taken = vec![false; new.len()];
    for pass in 0..KEYS {
        let mut free: IndexMap<&K, VecDeque<usize>> = IndexMap::new();
        for (position, keys) in new.iter().enumerate().filter(|(position, _)| !is_taken[*position])
        {
            free.entry(&keys[pass]).or_default().push_back(position);
        }
        for (partner, keys) in partners.iter_mut().zip(old).filter(|(partner, _)| partner.is_none())
        {
            *partner = free.get_mut(&keys[pass]).and_then(VecDeque::pop_front);
        }
        for partner in partners.iter().flatten() {
            is_taken[*partner] = true;
        }
    }
    let olds = partners.iter().enumerate().map(|(position, partner)| match partner {
        Some(partner) => Pair::Both(position, *partner),
        None => Pair::Old(position),
    });
    let alone = (0..new.len()).filter(|position| !is_taken[*position]).map(Pair::New);
    olds.chain(alone).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn strict_keys_match_before_loose_ones_and_nothing_is_lost() {
        let keys = |names: &[&'static str]| -> Vec<[String; 2]> {
            names.iter().map(|name| [(*name).to_owned(), name.replace('-', "")]).collect()
        };
        let paired =
            pair_up(&keys(&["A-1", "A1", "B", "C", "C"]), &keys(&["C", "A1", "b-", "A--1", "C"]));
        assert_eq!(
            paired,
            [
                Pair::Both(0, 3),
                Pair::Both(1, 1),
                Pair::Old(2),
                Pair::Both(3, 0),
                Pair::Both(4, 4),
                Pair::New(2),
            ]
        );
    }
}
