//! Placeholder to be written.

use crate::nest::{Bound, BoundRule, Ending, Instance, Nest, Options};
use crate::quantity::Ratio;
use crate::watch::Watch;

pub(super) fn nest(_instance: &Instance, _options: Options, _watch: &dyn Watch) -> Nest {
    Nest {
        layouts: Vec::new(),
        unplaced: Vec::new(),
        cost: Ratio::ZERO,
        bound: Bound { cost: Ratio::ZERO, stocks: 0, rule: BoundRule::Any, method: "none" },
        ending: Ending::Effort,
    }
}
