use rust_decimal::Decimal;

use crate::quantity::Ratio;

/// How an amount that lies between two printable ones is rounded.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Rounding {
    /// Ties go to the even digit (the rounding method of ASTM E29 and the default of IEEE 754).
    #[default]
    HalfEven,
    /// Ties go away from zero.
    HalfUp,
}

impl Rounding {
    /// Returns a quotient rounded to a whole number; the divisor is above zero.
    #[must_use]
    pub fn quotient(self, dividend: i128, divisor: i128) -> i128 {
        // A division of 128 bits takes long, and most numbers are small.
        let (floor, above) = match (i64::try_from(dividend), i64::try_from(divisor)) {
            (Ok(dividend), Ok(divisor)) => {
                let floor = dividend.div_euclid(divisor);
                (i128::from(floor), i128::from(dividend - floor * divisor))
            }
            _ => {
                let floor = dividend.div_euclid(divisor);
                (floor, dividend - floor * divisor)
            }
        };
        // Twice what is above the floor against the divisor, without doubling it.
        let up = match above.cmp(&(divisor - above)) {
            std::cmp::Ordering::Less => false,
            std::cmp::Ordering::Greater => true,
            std::cmp::Ordering::Equal => match self {
                Rounding::HalfUp => dividend > 0,
                Rounding::HalfEven => floor % 2 != 0,
            },
        };
        floor + i128::from(up)
    }
}

impl Ratio {
    /// Returns the value times ten to the power of `places`, rounded to a whole number.
    #[must_use]
    pub fn scaled(&self, places: u32, rounding: Rounding) -> Ratio {
        if let Some(rounded) = self.scaled_small(places, rounding) {
            return Ratio::whole(rounded);
        }
        let scaled = self * &Ratio::whole(10).power(places);
        let floor = scaled.floor();
        let above = &scaled - &floor;
        let half = Ratio::new(1, 2).expect("two is not zero");
        let up = match above.cmp(&half) {
            std::cmp::Ordering::Less => false,
            std::cmp::Ordering::Greater => true,
            std::cmp::Ordering::Equal => match rounding {
                Rounding::HalfUp => !self.is_negative(),
                Rounding::HalfEven => !floor.is_even(),
            },
        };
        if up { floor + Ratio::ONE } else { floor }
    }

    /// Returns what [`Ratio::scaled`] does where all of it fits into `i128`, as nearly all amounts do.
    fn scaled_small(&self, places: u32, rounding: Rounding) -> Option<i128> {
        let (numerator, denominator) = self.to_parts()?;
        let scaled = numerator.checked_mul(10_i128.checked_pow(places)?)?;
        if denominator == 1 {
            return Some(scaled);
        }
        Some(rounding.quotient(scaled, denominator))
    }

    /// Returns the value rounded to `places` decimal places, exact after that.
    #[must_use]
    pub fn rounded(&self, places: u32, rounding: Rounding) -> Ratio {
        let power = Ratio::whole(10).power(places);
        self.scaled(places, rounding).checked_div(&power).expect("a power of ten is not zero")
    }

    /// Returns the value rounded to `places` decimal places, or nothing if a `Decimal` cannot hold it (96 bits).
    #[must_use]
    pub fn round(&self, places: u32, rounding: Rounding) -> Option<Decimal> {
        Decimal::try_from_i128_with_scale(self.scaled(places, rounding).to_integer()?, places).ok()
    }

    /// Returns the exact value of a decimal.
    #[must_use]
    pub fn from_decimal(decimal: Decimal) -> Ratio {
        Ratio::decimal(decimal.mantissa(), decimal.scale())
    }

    /// Returns the value raised to a whole power.
    #[must_use]
    pub fn power(&self, exponent: u32) -> Ratio {
        let mut result = Ratio::ONE;
        let mut base = self.clone();
        let mut rest = exponent;
        while rest > 0 {
            if rest & 1 == 1 {
                result = &result * &base;
            }
            rest >>= 1;
            if rest > 0 {
                base = &base * &base;
            }
        }
        result
    }

    fn is_even(&self) -> bool {
        (self * &Ratio::new(1, 2).expect("two is not zero")).is_whole()
    }
}

/// Splits a whole total by weights so that the parts are whole and add up to it: the largest-remainder rule.
///
/// Each part is its exact share rounded down; what is left goes, one each, to the largest remainders, ties in order.
/// Weights must not be negative. With no weight at all, the first part takes everything; with no parts, nothing does.
#[must_use]
pub fn share(total: i128, weights: &[Ratio]) -> Vec<i128> {
    let sum: Ratio = weights.iter().cloned().sum();
    if sum.is_zero() {
        return (0..weights.len()).map(|index| if index == 0 { total } else { 0 }).collect();
    }
    let magnitude = Ratio::whole(total.abs());
    let exact: Vec<Ratio> = weights
        .iter()
        .map(|weight| {
            (&magnitude * weight).checked_div(&sum).expect("the sum of the weights is not zero")
        })
        .collect();
    let mut parts: Vec<i128> = exact
        .iter()
        .map(|part| part.floor().to_integer().expect("a share of an i128 is an i128"))
        .collect();
    let missing = total.abs() - parts.iter().sum::<i128>();
    let mut order: Vec<(Ratio, usize)> = exact
        .iter()
        .zip(&parts)
        .enumerate()
        .map(|(index, (part, floor))| (part - &Ratio::whole(*floor), index))
        .collect();
    order.sort_by(|a, b| b.0.cmp(&a.0).then(a.1.cmp(&b.1)));
    for (_, index) in order.into_iter().take(usize::try_from(missing).unwrap_or(0)) {
        parts[index] += 1;
    }
    if total < 0 {
        for part in &mut parts {
            *part = -*part;
        }
    }
    parts
}

/// Rounds signed terms to whole numbers that add up to `total`, the rounded sum of the exact terms or a number near it:
/// the largest-remainder rule for terms of either sign.
///
/// Each term is rounded down; what is left goes, one each, to the largest remainders, ties in order. What is too much
/// (the total lies below the rounded-down terms) is taken from the smallest remainders. Terms of zero stay zero, unless
/// all are zero: then the first takes everything.
#[must_use]
pub fn settle(total: i128, terms: &[Ratio]) -> Vec<i128> {
    let floors: Vec<Ratio> = terms.iter().map(Ratio::floor).collect();
    let mut parts: Vec<i128> =
        floors.iter().map(|floor| floor.to_integer().unwrap_or_default()).collect();
    let mut order: Vec<usize> = (0..terms.len()).filter(|index| !terms[*index].is_zero()).collect();
    if order.is_empty() {
        order.extend((!terms.is_empty()).then_some(0));
    }
    order.sort_by_cached_key(|index| std::cmp::Reverse(&terms[*index] - &floors[*index]));
    let count = i128::try_from(order.len()).expect("terms are counted in an i128");
    let missing = total - parts.iter().sum::<i128>();
    if count == 0 {
        return parts;
    }
    // Each term takes the whole rounds, the first in the order one more.
    let (rounds, extra) = (missing.div_euclid(count), missing.rem_euclid(count));
    for (place, index) in (0..).zip(order) {
        parts[index] += rounds + i128::from(place < extra);
    }
    parts
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(digits: i128, scale: u32, places: u32, even: &str, up: &str) {
        let value = Ratio::decimal(digits, scale);
        assert_eq!(
            value.round(places, Rounding::HalfEven).map(|d| d.to_string()),
            Some(even.into())
        );
        assert_eq!(value.round(places, Rounding::HalfUp).map(|d| d.to_string()), Some(up.into()));
    }

    // Source: worked examples of a college chemistry rounding sheet, the ASTM E29 rounding method (ties to even).
    #[test]
    fn rounding_is_to_the_nearest_and_ties_go_as_said() {
        let half = Ratio::new(1, 2).unwrap();
        // Beyond i128, the way of big numbers is taken; it must round alike.
        let far = Ratio::whole(10).power(40);
        for (numerator, denominator) in (-60..=60).flat_map(|n| (1..=12).map(move |d| (n, d))) {
            for places in 0..=2 {
                let value = Ratio::new(numerator, denominator).unwrap();
                let exact = &value * &Ratio::whole(10).power(places);
                let [even, up] = [Rounding::HalfEven, Rounding::HalfUp].map(|rounding| {
                    let rounded = value.scaled(places, rounding);
                    let big = (&value + &far).scaled(places, rounding);
                    if !value.is_negative() {
                        assert_eq!(big, &rounded + &(&far * &Ratio::whole(10).power(places)));
                    }
                    assert!(rounded.is_whole());
                    (&rounded - &exact, rounded)
                });
                assert!(even.0.abs() <= half && up.0.abs() <= half, "{value} to {places}");
                if even.0.abs() == half {
                    assert!(even.1.is_even(), "{value} to {places}");
                    assert_eq!(up.0.is_negative(), value.is_negative(), "{value} to {places}");
                }
            }
        }
    }

    #[test]
    fn ties_go_to_the_even_digit_or_up() {
        check(56_748, 3, 1, "56.7", "56.7");
        check(2146, 3, 2, "2.15", "2.15");
        check(214_501, 4, 1, "21.5", "21.5");
        check(21_350, 3, 1, "21.4", "21.4");
        check(2145, 2, 1, "21.4", "21.5");
    }

    // In binary floats 2.675 rounds to 2.67, since it is stored a little low.
    #[test]
    fn decimal_ties_are_seen_as_ties() {
        check(2675, 3, 2, "2.68", "2.68");
        check(-2675, 3, 2, "-2.68", "-2.68");
        check(-2665, 3, 2, "-2.66", "-2.67");
        check(1005, 3, 2, "1.00", "1.01");
    }

    #[test]
    fn shares_add_up_and_the_largest_remainders_win() {
        let thirds = [Ratio::ONE, Ratio::ONE, Ratio::ONE];
        assert_eq!(share(100, &thirds), [34, 33, 33]);
        assert_eq!(share(-100, &thirds), [-34, -33, -33]);
        assert_eq!(share(10, &[Ratio::whole(1), Ratio::whole(2)]), [3, 7]);
        assert_eq!(share(7, &[Ratio::ZERO, Ratio::ZERO]), [7, 0]);
        assert_eq!(share(7, &[]), Vec::<i128>::new());
    }

    #[test]
    fn signed_terms_settle_on_their_total_and_zeros_stay() {
        let tenths = |values: &[i128]| -> Vec<Ratio> {
            values.iter().map(|value| Ratio::decimal(*value, 1)).collect()
        };
        assert_eq!(settle(2, &tenths(&[15, -4, 0, 9])), [1, 0, 0, 1]);
        assert_eq!(settle(-3, &tenths(&[-15, -15, 0])), [-1, -2, 0]);
        // One below and one above what the exact terms come to.
        assert_eq!(settle(1, &tenths(&[15, 5])), [1, 0]);
        assert_eq!(settle(3, &tenths(&[15, 5])), [2, 1]);
        assert_eq!(settle(0, &tenths(&[11, 3])), [0, 0]);
        assert_eq!(settle(5, &tenths(&[0, 0])), [5, 0]);
        assert_eq!(settle(0, &[]), Vec::<i128>::new());
    }
}
