//! Made-up plants, the slow reference, and the line they are both held against.

pub(crate) mod compare;
pub(crate) mod cost;
pub(crate) mod formulas;
pub(crate) mod generate;
pub(crate) mod generate_items;
pub(crate) mod generate_orders;
pub(crate) mod generate_terms;
pub(crate) mod line;
pub(crate) mod number;
pub(crate) mod plant;
pub(crate) mod random;
pub(crate) mod reference;
pub(crate) mod tables;
pub(crate) mod term;
