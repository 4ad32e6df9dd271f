use dashu_int::{IBig, UBig};
use dashu_ratio::RBig;

use crate::quantity::Ratio;

impl Ratio {
    /// Returns the square root if it is a fraction; nothing for other values and those below zero.
    #[must_use]
    pub fn exact_root(&self) -> Option<Ratio> {
        let (numerator, denominator) = self.to_big().into_parts();
        let numerator = UBig::try_from(numerator).ok()?;
        let (top, bottom) = (numerator.nth_root(2), denominator.nth_root(2));
        let is_exact = &top * &top == numerator && &bottom * &bottom == denominator;
        is_exact.then(|| Ratio::from_big(RBig::from_parts(IBig::from(top), bottom)))
    }

    /// Returns the square root rounded to the nearest multiple of ten to the power of `-places`; nothing below zero.
    #[must_use]
    pub fn rounded_root(&self, places: i32) -> Option<Ratio> {
        let unit = Ratio::ten_to(places);
        // With t = floor(2y), the nearest whole number to y is floor((t + 1) / 2).
        let doubled = Ratio::whole(4) * (self * &(&unit * &unit));
        let whole = UBig::try_from(doubled.floor().to_big().into_parts().0).ok()?;
        let nearest = (whole.nth_root(2) + UBig::ONE) / UBig::from(2_u8);
        Ratio::from_big(RBig::from(IBig::from(nearest))).checked_div(&unit)
    }

    /// Returns the power of ten of the leading digit: 0 for 1 to below 10; nothing for zero.
    #[must_use]
    pub fn magnitude(&self) -> Option<i32> {
        if self.is_zero() {
            return None;
        }
        let (numerator, denominator) = self.abs().to_big().into_parts();
        let digits = |text: String| i32::try_from(text.len()).ok();
        let guess = digits(numerator.to_string())? - digits(denominator.to_string())?;
        Some(if self.abs() < Ratio::ten_to(guess) { guess - 1 } else { guess })
    }

    /// Returns ten to the power of `exponent`.
    #[must_use]
    pub fn ten_to(exponent: i32) -> Ratio {
        let power = Ratio::whole(10).power(exponent.unsigned_abs());
        if exponent < 0 {
            Ratio::ONE.checked_div(&power).expect("a power of ten is not zero")
        } else {
            power
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ratio(numerator: i128, denominator: i128) -> Ratio {
        Ratio::new(numerator, denominator).unwrap()
    }

    #[test]
    fn squares_of_fractions_have_exact_roots() {
        assert_eq!(ratio(9, 16).exact_root(), Some(ratio(3, 4)));
        assert_eq!(Ratio::ZERO.exact_root(), Some(Ratio::ZERO));
        assert_eq!(ratio(2, 1).exact_root(), None);
        assert_eq!(ratio(4, 3).exact_root(), None);
        assert_eq!(ratio(-4, 1).exact_root(), None);
        let huge = Ratio::whole(10).power(60);
        assert_eq!((&huge * &huge).exact_root(), Some(huge));
    }

    // Source: the square roots of 2 and 3 to 20 places stand in every table of constants (OEIS A002193, A002194).
    #[test]
    fn other_roots_are_rounded_to_the_nearest() {
        let two = ratio(2, 1);
        assert_eq!(two.rounded_root(4), Some(ratio(14_142, 10_000)));
        assert_eq!(two.rounded_root(17), Some(Ratio::decimal(141_421_356_237_309_505, 17)));
        assert_eq!(
            ratio(3, 1).rounded_root(18),
            Some(Ratio::decimal(1_732_050_807_568_877_294, 18))
        );
        assert_eq!(ratio(1_000_000, 1).rounded_root(-2), Some(ratio(1000, 1)));
        assert_eq!(ratio(-1, 1).rounded_root(0), None);
    }

    #[test]
    fn magnitude_is_that_of_the_leading_digit() {
        for (value, expected) in [
            (ratio(1, 1), 0),
            (ratio(999, 100), 0),
            (ratio(10, 1), 1),
            (ratio(1, 10), -1),
            (ratio(1, 3), -1),
            (ratio(99, 1000), -2),
            (ratio(-250, 1), 2),
        ] {
            assert_eq!(value.magnitude(), Some(expected), "{value}");
        }
        assert_eq!(Ratio::ZERO.magnitude(), None);
    }
}
