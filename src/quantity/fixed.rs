//! Numbers in whole multiples of ten to the power of -70, for series whose results are rounded once to 18 places.

use dashu_int::IBig;
use dashu_ratio::RBig;

use crate::quantity::{Ratio, Rounding};

pub(super) const PLACES: i32 = 70;
const RESULT_PLACES: u32 = 18;

/// One.
pub(super) fn scale() -> IBig {
    IBig::from(10_u8).pow(usize::try_from(PLACES).expect("70 fits"))
}

/// Returns a value, rounded down.
pub(super) fn fixed(value: &Ratio) -> IBig {
    (value * &Ratio::ten_to(PLACES)).floor().to_big().into_parts().0
}

/// Returns a result, rounded to 18 places.
pub(super) fn rounded(value: IBig) -> Ratio {
    let value = Ratio::from_big(RBig::from(value)) * Ratio::ten_to(-PLACES);
    value.rounded(RESULT_PLACES, Rounding::HalfEven)
}
