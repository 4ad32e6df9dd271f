//! Numbers with a unit: exact ratios, whole lengths, and the decimals that money and weight are printed in.
//!
//! A [`Ratio`] is exact and grows as it must; a [`Length`] is a whole count of nanometers; a [`Measure`] is a ratio
//! with a [`Dimension`], in the base units nanometer, pound, minute and currency unit. A `Decimal` appears only where
//! an amount has been rounded, once, by a named [`Rounding`].
//!
//! [`text`] reads and prints measures as people write them, [`mod@unit`] knows the units.
//!
//! Not here: formulas and any float.

mod chance;
mod circle;
mod currency;
mod decimal;
mod fixed;
mod growth;
mod measure;
mod ratio;
mod root;
pub mod text;
mod total;
pub mod unit;

pub use chance::binomial_quantile;
pub use currency::minor_digits;
pub use decimal::{Rounding, settle, share};
pub use measure::{Dimension, Length, Measure};
pub use ratio::Ratio;
pub(crate) use total::Total;
