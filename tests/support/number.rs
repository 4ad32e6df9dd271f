//! Exact numbers of the reference; nothing here is the library's.

use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::{One, Signed, Zero};

pub(crate) type Number = BigRational;

pub(crate) fn whole(value: i64) -> Number {
    Number::from_integer(BigInt::from(value))
}

pub(crate) fn fraction(above: i64, below: i64) -> Number {
    Number::new(BigInt::from(above), BigInt::from(below))
}

/// `digits` divided by ten to the power of `places`.
pub(crate) fn decimal(digits: i64, places: u32) -> Number {
    Number::new(BigInt::from(digits), BigInt::from(10).pow(places))
}

/// Reads `-7` or `22/7`, the way the library shows an exact fraction.
pub(crate) fn parse(text: &str) -> Number {
    let (above, below) = text.split_once('/').unwrap_or((text, "1"));
    Number::new(above.parse().unwrap(), below.parse().unwrap())
}

pub(crate) fn nearest(value: &Number) -> BigInt {
    let half = fraction(1, 2);
    if value.is_negative() { (value - half).ceil() } else { (value + half).floor() }.to_integer()
}

/// Rounds to so many places and returns the digits without the point.
pub(crate) fn rounded(value: &Number, places: u32, half_up: bool) -> BigInt {
    let scaled = value * Number::from_integer(BigInt::from(10).pow(places));
    let below = scaled.floor().to_integer();
    let rest = &scaled - Number::from_integer(below.clone());
    let goes_up = match rest.cmp(&fraction(1, 2)) {
        std::cmp::Ordering::Less => false,
        std::cmp::Ordering::Greater => true,
        // Half up is away from zero.
        std::cmp::Ordering::Equal if half_up => !below.is_negative(),
        std::cmp::Ordering::Equal => !(&below % BigInt::from(2)).is_zero(),
    };
    if goes_up { below + BigInt::one() } else { below }
}

/// Writes a number whose decimals end.
pub(crate) fn decimal_text(value: &Number) -> String {
    for places in 0..16_u32 {
        let scaled = value * Number::from_integer(BigInt::from(10).pow(places));
        if scaled.is_integer() {
            let digits = scaled.to_integer();
            if places == 0 {
                return digits.to_string();
            }
            let sign = if digits.is_negative() { "-" } else { "" };
            let padded = format!("{:0>width$}", digits.abs(), width = places as usize + 1);
            let (whole, part) = padded.split_at(padded.len() - places as usize);
            return format!("{sign}{whole}.{part}");
        }
    }
    panic!("{value} has no short decimal form");
}
