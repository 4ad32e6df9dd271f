//! Which sums extents have: one bit each.

/// Longest extent that sums are kept up to.
pub(super) const MOST: u16 = 511;

/// Most extents at once.
pub(super) const COUNT: usize = 30;

/// Sums below 64 times so many.
#[derive(Clone, Copy)]
struct Sums<const WORDS: usize>([u64; WORDS]);

/// Tells whether each of some extents in order is part of a sum that is the whole: a line through a block meets others
/// that fill it.
pub(super) fn are_completed(extents: impl Iterator<Item = u16>, full: u16) -> bool {
    match full / 64 {
        0 => Sums::<1>::are_completed(extents, full),
        1 => Sums::<2>::are_completed(extents, full),
        2 | 3 => Sums::<4>::are_completed(extents, full),
        _ => Sums::<8>::are_completed(extents, full),
    }
}

/// Tells whether a sum of extents comes to a number.
pub(super) fn can_be(extents: impl Iterator<Item = u16>, number: u16) -> bool {
    let sums = extents.fold(Sums::<8>::only(0), |sums, extent| sums.with(sums.raised(extent)));
    sums.meets(Sums::only(number))
}

impl<const WORDS: usize> Sums<WORDS> {
    fn only(number: u16) -> Self {
        let mut words = [0; WORDS];
        words[usize::from(number / 64)] = 1 << (number % 64);
        Sums(words)
    }

    /// Keeps the sums of what comes before an extent, and those of what comes after it counted down from the whole: they
    /// meet where both and the extent come to the whole.
    fn are_completed(extents: impl Iterator<Item = u16>, full: u16) -> bool {
        let mut count = 0;
        let mut list = [0; COUNT];
        let mut after = [Self::only(full); COUNT + 1];
        for extent in extents.take_while(|extent| *extent < full) {
            list[count] = extent;
            count += 1;
        }
        let list = &list[..count];
        for index in (1..count).rev() {
            after[index] = after[index + 1].with(after[index + 1].lowered(list[index]));
        }
        let mut before = Self::only(0);
        for index in 0..count {
            let with = before.raised(list[index]);
            let is_seen = index > 0 && list[index - 1] == list[index];
            if !is_seen && !with.meets(after[index + 1]) {
                return false;
            }
            before = before.with(with);
        }
        true
    }

    fn raised(self, by: u16) -> Self {
        let (words, bits) = (usize::from(by / 64), by % 64);
        let mut moved = [0; WORDS];
        for (index, word) in moved.iter_mut().enumerate().skip(words) {
            *word = self.0[index - words] << bits;
            if bits > 0 && index > words {
                *word |= self.0[index - words - 1] >> (64 - bits);
            }
        }
        Sums(moved)
    }

    fn lowered(self, by: u16) -> Self {
        let (words, bits) = (usize::from(by / 64), by % 64);
        let mut moved = [0; WORDS];
        for index in words..WORDS {
            moved[index - words] = self.0[index] >> bits;
            if bits > 0 && index + 1 < WORDS {
                moved[index - words] |= self.0[index + 1] << (64 - bits);
            }
        }
        Sums(moved)
    }

    fn with(mut self, other: Self) -> Self {
        for (word, other) in self.0.iter_mut().zip(other.0) {
            *word |= other;
        }
        self
    }

    fn meets(self, other: Self) -> bool {
        self.0.iter().zip(other.0).any(|(word, other)| word & other > 0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(extents: &[u16], full: u16, expected: bool) {
        assert_eq!(are_completed(extents.iter().copied(), full), expected, "{extents:?} to {full}");
    }

    #[test]
    fn each_extent_is_completed_by_others_or_is_whole() {
        check(&[], 5, true);
        check(&[5], 5, true);
        check(&[2, 3, 5], 5, true);
        check(&[2, 4], 5, false);
        check(&[1, 2, 2], 5, true);
        check(&[60, 70, 130], 130, true);
        check(&[60, 70, 71], 130, false);
        check(&[1, 63, 64, 128, 255], 511, true);
        check(&[1, 63, 64, 128, 254], 511, false);
    }

    #[test]
    fn sums_are_of_each_extent_once() {
        let can_be = |extents: &[u16], number| can_be(extents.iter().copied(), number);
        assert!(can_be(&[3, 5, 300], 308));
        assert!(can_be(&[3, 5], 0));
        assert!(!can_be(&[3, 5], 6));
    }
}
