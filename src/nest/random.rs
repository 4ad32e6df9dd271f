//! Random numbers that are the same on every machine.

/// Steele, Lea and Flood's generator ("Fast splittable pseudorandom number generators", 2014).
#[derive(Clone, Debug)]
pub(crate) struct Random(u64);

impl Random {
    pub(crate) fn new(seed: u64) -> Random {
        Random(seed)
    }

    pub(crate) fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    /// Returns a number below `bound`, which is above zero and small.
    pub(crate) fn below(&mut self, bound: u64) -> u64 {
        let wide = (u128::from(self.next()) * u128::from(bound)) >> 64;
        u64::try_from(wide).expect("the high half of a product")
    }

    /// Returns a position in a list of `length` entries, which is not empty.
    pub(crate) fn index(&mut self, length: usize) -> usize {
        usize::try_from(self.below(length as u64)).expect("below a usize")
    }
}
