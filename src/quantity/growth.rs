//! Powers with exponents that are no whole numbers, by series over whole numbers.
//!
//! As for [angles](super::circle), everything is computed in whole multiples of ten to the power of -70 and rounded once,
//! to 18 places, so results are the same on every machine. Series: ln x = 2 artanh((x - 1) / (x + 1)) after taking out
//! powers of two; Taylor's for the exponential function, after the same.

use dashu_int::IBig;

use crate::quantity::Ratio;
use crate::quantity::fixed::{fixed, rounded, scale};

impl Ratio {
    /// Returns this number, above zero, to the power of the binary logarithm of `count`: what is left after `count` units
    /// of something that is multiplied by this number with each doubling. Rounded to 18 places.
    ///
    /// Nothing for numbers that are not from 0.01 to 1, and for no unit.
    #[must_use]
    pub fn per_doubling(&self, count: u64) -> Option<Ratio> {
        if count == 0 || *self > Ratio::ONE || *self < Ratio::new(1, 100)? {
            return None;
        }
        let doublings = count.trailing_zeros();
        let odd = count >> doublings;
        let whole = self.power(doublings);
        let rest = if odd == 1 { scale() } else { power_of_log(self, odd) };
        Some(rounded(fixed(&whole) * rest / scale()))
    }
}

/// Returns `base` to the power of log2 `count`: e to the power of ln base times ln count over ln 2.
fn power_of_log(base: &Ratio, count: u64) -> IBig {
    let two = logarithm_of_two();
    let exponent = logarithm(base) * logarithm(&Ratio::whole(i128::from(count))) / &two;
    exponential(&exponent, &two)
}

fn logarithm_of_two() -> IBig {
    let third = scale() / IBig::from(3_u8);
    area_tangent(&third) * IBig::from(2_u8)
}

/// The natural logarithm of a number above zero.
fn logarithm(value: &Ratio) -> IBig {
    let two = Ratio::whole(2);
    let half = Ratio::new(1, 2).expect("two is not zero");
    let (mut value, mut halvings) = (value.clone(), 0_i32);
    while value > Ratio::ONE {
        value = &value * &half;
        halvings += 1;
    }
    while value < half {
        value = &value * &two;
        halvings -= 1;
    }
    let quotient = (&value - &Ratio::ONE)
        .checked_div(&(&value + &Ratio::ONE))
        .expect("one more than what is above zero is not zero");
    area_tangent(&fixed(&quotient)) * IBig::from(2_u8) + logarithm_of_two() * IBig::from(halvings)
}

/// The series x + x³/3 + x⁵/5 ..: the inverse of the hyperbolic tangent, for x up to 1/3 either way.
fn area_tangent(x: &IBig) -> IBig {
    let square = x * x / scale();
    let (mut sum, mut power, mut n) = (x.clone(), x.clone(), 1_u32);
    while !power.is_zero() {
        power = power * &square / scale();
        n += 2;
        sum += &power / IBig::from(n);
    }
    sum
}

/// e to the power of `exponent`; `two` is the logarithm of two.
fn exponential(exponent: &IBig, two: &IBig) -> IBig {
    let doublings = exponent / two;
    let rest = exponent - &doublings * two;
    let (mut sum, mut term, mut n) = (scale(), scale(), 0_u32);
    while !term.is_zero() {
        n += 1;
        term = term * &rest / scale() / IBig::from(n);
        sum += &term;
    }
    let doublings = i64::try_from(&doublings).expect("exponents are some hundreds at most");
    let factor = IBig::from(2_u8).pow(usize::try_from(doublings.unsigned_abs()).unwrap_or(0));
    if doublings < 0 { sum / factor } else { sum * factor }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(percent: i128, count: u64, digits: i128) {
        let base = Ratio::new(percent, 100).unwrap();
        assert_eq!(base.per_doubling(count), Some(Ratio::decimal(digits, 18)), "{percent} {count}");
    }

    #[test]
    fn doublings_are_exact() {
        check(80, 1, 1_000_000_000_000_000_000);
        check(80, 2, 800_000_000_000_000_000);
        check(80, 16, 409_600_000_000_000_000);
        check(100, 7, 1_000_000_000_000_000_000);
    }

    // Computed beside with a decimal arithmetic of 60 digits: exp(ln(r) ln(n) / ln 2).
    #[test]
    fn other_counts_are_right_to_the_last_place() {
        check(80, 3, 702_103_702_778_560_141);
        check(85, 100, 339_679_621_368_370_745);
        check(90, 7, 743_947_833_982_242_031);
        check(50, 1000, 1_000_000_000_000_000);
        check(1, 5, 22_706_166_086_790);
    }

    #[test]
    fn what_does_not_fall_has_no_value() {
        assert_eq!(Ratio::new(3, 2).unwrap().per_doubling(3), None);
        assert_eq!(Ratio::ZERO.per_doubling(3), None);
        assert_eq!(Ratio::ONE.per_doubling(0), None);
    }
}
