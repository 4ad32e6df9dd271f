//! Measures as people write them: `28' 6-1/2"`, `9 1/2 in`, `15/32`, `1.42 lb/ft2`, and how they are printed.
//!
//! In: the text of one cell. Out: an exact [`Measure`](crate::quantity::Measure), or a [`Fault`] with its place. What
//! [`exact`] and [`feet_and_inches`] print reads back as the same value.
//!
//! Not here: formulas and dates.

mod read;
mod show;
#[cfg(test)]
mod tests;

pub use read::{measure, number};
pub use show::{exact, feet_and_inches, rounded, shown, square_feet};

pub(crate) use read::{Part, Thousands, add_part, decimal, fraction_sign, plain, unit_unknown};

/// The signs an amount of money may carry.
pub const CURRENCY_SIGNS: &[char] = &['$', '€', '£', '¥', '₩', '₹', '₱', '฿'];

/// A mistake in a measure or a formula: where and what.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// Byte offset within the text.
    pub marker: usize,
    /// What is wrong, lower case, no full stop.
    pub fault: String,
    /// What can be done, if that can be said.
    pub hint: Option<String>,
}

impl Fault {
    pub(crate) fn new(marker: usize, fault: impl Into<String>) -> Fault {
        Fault { marker, fault: fault.into(), hint: None }
    }

    pub(crate) fn with_hint(self, hint: impl Into<String>) -> Fault {
        Fault { hint: Some(hint.into()), ..self }
    }
}

/// The sign that parts whole and decimal digits; the other of the two parts thousands.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum DecimalSign {
    /// `1,250.5`.
    #[default]
    Point,
    /// `1.250,5`.
    Comma,
}
