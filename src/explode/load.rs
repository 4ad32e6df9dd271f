use crate::explode::{Placing, Taken};
use crate::quantity::{Length, Ratio};

/// Weight with its first moments about an origin, exact.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Load {
    /// Pounds.
    pub weight: Ratio,
    /// Pounds times nanometers, per axis: back, right, up.
    pub moments: [Ratio; 3],
    /// Pounds without a position, per axis; counted at the origin.
    pub unplaced: [Ratio; 3],
    /// Pounds times nanometers that the moment to the right grows by when the slide boxes are out; nothing where there are
    /// none.
    pub out: Option<Ratio>,
}

impl Load {
    /// Adds an assembly that a line takes.
    pub(super) fn add(&mut self, taken: &Taken, inner: &Load) {
        let quantity = &taken.quantity;
        let weight = quantity * &inner.weight;
        let Placing { offset, travel, .. } = taken.placed();
        for (axis, offset) in offset.into_iter().enumerate() {
            let own = quantity * &inner.moments[axis];
            self.moments[axis] += &own;
            match offset {
                Some(offset) => self.moments[axis] += &(&weight * &offset.to_ratio()),
                None => self.unplaced[axis] += &(quantity * &inner.unplaced[axis]),
            }
        }
        if let Some(out) = &inner.out {
            self.add_out(&(quantity * out));
        }
        self.add_travel(&weight, travel);
        self.weight += &weight;
    }

    /// Tells whether nothing of it has a position.
    pub(super) fn is_unplaced(&self) -> bool {
        self.out.is_none()
            && self.moments.iter().all(Ratio::is_zero)
            && self.unplaced.iter().all(|unplaced| *unplaced == self.weight)
    }

    /// Adds what has no position.
    pub(super) fn add_unplaced(&mut self, weight: &Ratio) {
        for sum in self.unplaced.iter_mut().chain([&mut self.weight]) {
            *sum += weight;
        }
    }

    /// Adds an item that stands somewhere; it has no extent of its own.
    pub(super) fn add_item(&mut self, taken: &Taken, placing: &Placing) {
        let weight = &taken.quantity * &taken.weight;
        for (axis, offset) in placing.offset.into_iter().enumerate() {
            match offset {
                Some(offset) => self.moments[axis] += &(&weight * &offset.to_ratio()),
                None => self.unplaced[axis] += &weight,
            }
        }
        self.add_travel(&weight, placing.travel);
        self.weight += &weight;
    }

    fn add_travel(&mut self, weight: &Ratio, travel: Option<Length>) {
        if let Some(travel) = travel {
            self.add_out(&(weight * &travel.to_ratio()));
        }
    }

    fn add_out(&mut self, moment: &Ratio) {
        *self.out.get_or_insert_default() += moment;
    }
}
