//! Reads measures of the command line.

use cutbill::quantity::text::{DecimalSign, measure};
use cutbill::quantity::{Dimension, Ratio};

/// Reads a measure in base units; a bare number counts `unit`, in base units. Nothing if it is no measure of the dimension.
pub(super) fn measured(text: &str, dimension: Dimension, unit: &Ratio) -> Option<Ratio> {
    let read = measure(text.trim(), None, DecimalSign::Point).ok()?;
    match read.dimension {
        Dimension::NUMBER => Some(read.value * unit),
        own => (own == dimension).then_some(read.value),
    }
}
