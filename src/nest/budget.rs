//! Work counted in steps instead of seconds.

/// Work that may still be done, in steps, so that a search ends at the same place on every machine.
pub(in crate::nest) struct Budget {
    left: u64,
    given: u64,
}

impl Budget {
    /// Returns a budget of so many steps.
    pub(in crate::nest) fn new(steps: u64) -> Budget {
        Budget { left: steps, given: steps }
    }

    /// Takes off steps.
    pub(in crate::nest) fn spend(&mut self, steps: u64) {
        self.left = self.left.saturating_sub(steps);
    }

    /// Returns the steps left.
    pub(in crate::nest) fn left(&self) -> u64 {
        self.left
    }

    /// Tells whether no step is left.
    pub(in crate::nest) fn is_spent(&self) -> bool {
        self.left == 0
    }

    /// Returns a budget of a share of what is left, without taking it off.
    pub(in crate::nest) fn part(&self, share: u64) -> Budget {
        Budget::new(self.left / share)
    }

    /// Takes off what a part has spent.
    pub(in crate::nest) fn merge(&mut self, part: &Budget) {
        self.spend(part.given - part.left);
    }
}
