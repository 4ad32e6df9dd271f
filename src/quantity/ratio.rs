use std::cmp::Ordering;
use std::fmt;
use std::hash::{Hash, Hasher};
use std::iter::Sum;
use std::ops::{Add, AddAssign, Mul, Neg, Sub};

use dashu_int::{IBig, UBig};
use dashu_ratio::RBig;

/// An exact fraction: two `i128` while it fits, a big rational beyond that.
///
/// Sums and products never fail and never round. The form is canonical (lowest terms, positive denominator, small
/// whenever it fits), so equal values are equal in every sense, hashes included.
#[derive(Clone, Debug)]
pub struct Ratio(Form);

#[derive(Clone, Debug)]
enum Form {
    Small { numerator: i128, denominator: i128 },
    Big(Box<RBig>),
}

impl Ratio {
    /// The number nothing is added by.
    pub const ZERO: Ratio = Ratio(Form::Small { numerator: 0, denominator: 1 });
    /// The number nothing is scaled by.
    pub const ONE: Ratio = Ratio(Form::Small { numerator: 1, denominator: 1 });

    /// Returns the fraction in lowest terms, or nothing for a denominator of zero.
    #[must_use]
    pub fn new(numerator: i128, denominator: i128) -> Option<Ratio> {
        if denominator == 0 {
            return None;
        }
        if numerator == i128::MIN || denominator == i128::MIN {
            let big = RBig::from_parts_signed(IBig::from(numerator), IBig::from(denominator));
            return Some(Ratio::from_big(big));
        }
        Some(Ratio::reduced(numerator, denominator))
    }

    /// Returns the whole number `value`.
    #[must_use]
    pub const fn whole(value: i128) -> Ratio {
        Ratio(Form::Small { numerator: value, denominator: 1 })
    }

    /// Returns `digits` divided by ten to the power of `places`: the exact value of a decimal text.
    #[must_use]
    pub fn decimal(digits: i128, places: u32) -> Ratio {
        match 10_i128.checked_pow(places) {
            Some(power) if digits != i128::MIN => Ratio::reduced(digits, power),
            _ => Ratio::from_big(RBig::from_parts(
                IBig::from(digits),
                UBig::from(10_u8).pow(places as usize),
            )),
        }
    }

    /// Returns the quotient, or nothing if `divisor` is zero.
    #[must_use]
    pub fn checked_div(&self, divisor: &Ratio) -> Option<Ratio> {
        if divisor.is_zero() {
            return None;
        }
        if let (
            Form::Small { numerator: a, denominator: b },
            Form::Small { numerator: c, denominator: d },
        ) = (&self.0, &divisor.0)
            && *c != i128::MIN
        {
            let (c, d) = if *c < 0 { (-d, -c) } else { (*d, *c) };
            return Some(
                multiply_small(*a, *b, c, d)
                    .unwrap_or_else(|| Ratio::from_big(self.to_big() / divisor.to_big())),
            );
        }
        Some(Ratio::from_big(self.to_big() / divisor.to_big()))
    }

    /// Returns the largest whole number not above the value.
    #[must_use]
    pub fn floor(&self) -> Ratio {
        match &self.0 {
            Form::Small { denominator: 1, .. } => self.clone(),
            Form::Small { numerator, denominator } => {
                Ratio::whole(numerator.div_euclid(*denominator))
            }
            Form::Big(big) => Ratio::from_big(RBig::from(big.floor())),
        }
    }

    /// Returns the smallest whole number not below the value.
    #[must_use]
    pub fn ceil(&self) -> Ratio {
        -(-self.clone()).floor()
    }

    /// Returns the value as an integer, if it is whole and fits.
    #[must_use]
    pub fn to_integer(&self) -> Option<i128> {
        match self.0 {
            Form::Small { numerator, denominator: 1 } => Some(numerator),
            _ => None,
        }
    }

    /// Returns the numerator and denominator in lowest terms, if both fit.
    #[must_use]
    pub fn to_parts(&self) -> Option<(i128, i128)> {
        match self.0 {
            Form::Small { numerator, denominator } => Some((numerator, denominator)),
            Form::Big(_) => None,
        }
    }

    /// Tells whether the value is zero.
    #[must_use]
    pub fn is_zero(&self) -> bool {
        matches!(self.0, Form::Small { numerator: 0, .. })
    }

    /// Tells whether the value is below zero.
    #[must_use]
    pub fn is_negative(&self) -> bool {
        match &self.0 {
            Form::Small { numerator, .. } => *numerator < 0,
            Form::Big(big) => **big < RBig::ZERO,
        }
    }

    /// Tells whether the value is a whole number.
    #[must_use]
    pub fn is_whole(&self) -> bool {
        match &self.0 {
            Form::Small { denominator, .. } => *denominator == 1,
            Form::Big(big) => big.is_int(),
        }
    }

    /// Returns the distance from zero.
    #[must_use]
    pub fn abs(&self) -> Ratio {
        if self.is_negative() { -self.clone() } else { self.clone() }
    }

    /// Returns about how many bits numerator and denominator take together, to limit what hostile input may build.
    #[must_use]
    pub fn bit_count(&self) -> usize {
        match &self.0 {
            Form::Small { numerator, denominator } => {
                let bits =
                    256 - numerator.unsigned_abs().leading_zeros() - denominator.leading_zeros();
                bits as usize
            }
            Form::Big(big) => {
                let words =
                    big.numerator().as_sign_words().1.len() + big.denominator().as_words().len();
                words * dashu_int::Word::BITS as usize
            }
        }
    }

    pub(super) fn to_big(&self) -> RBig {
        match &self.0 {
            Form::Small { numerator, denominator } => {
                RBig::from_parts(IBig::from(*numerator), UBig::from(denominator.unsigned_abs()))
            }
            Form::Big(big) => (**big).clone(),
        }
    }

    pub(super) fn from_big(big: RBig) -> Ratio {
        let small =
            i128::try_from(big.numerator()).ok().zip(i128::try_from(big.denominator()).ok());
        match small {
            Some((numerator, denominator)) if numerator != i128::MIN => {
                Ratio(Form::Small { numerator, denominator })
            }
            _ => Ratio(Form::Big(Box::new(big))),
        }
    }

    fn reduced(numerator: i128, denominator: i128) -> Ratio {
        if denominator == 1 {
            return Ratio::whole(numerator);
        }
        let divisor = greatest_common_divisor(numerator.unsigned_abs(), denominator.unsigned_abs());
        let divisor = i128::try_from(divisor).expect("a divisor of two i128 above i128::MIN fits");
        let numerator = quotient(numerator, divisor);
        let denominator = quotient(denominator, divisor);
        if denominator < 0 {
            return Ratio(Form::Small { numerator: -numerator, denominator: -denominator });
        }
        Ratio(Form::Small { numerator, denominator })
    }

    fn added(&self, other: &Ratio) -> Ratio {
        if other.is_zero() {
            return self.clone();
        }
        if self.is_zero() {
            return other.clone();
        }
        if let (
            Form::Small { numerator: a, denominator: b },
            Form::Small { numerator: c, denominator: d },
        ) = (&self.0, &other.0)
            && let Some(sum) = add_small(*a, *b, *c, *d)
        {
            return sum;
        }
        Ratio::from_big(self.to_big() + other.to_big())
    }

    fn multiplied(&self, other: &Ratio) -> Ratio {
        if let (
            Form::Small { numerator: a, denominator: b },
            Form::Small { numerator: c, denominator: d },
        ) = (&self.0, &other.0)
            && let Some(product) = multiply_small(*a, *b, *c, *d)
        {
            return product;
        }
        Ratio::from_big(self.to_big() * other.to_big())
    }
}

fn add_small(a: i128, b: i128, c: i128, d: i128) -> Option<Ratio> {
    if b == d {
        let numerator = a.checked_add(c).filter(|sum| *sum != i128::MIN)?;
        return Some(Ratio::reduced(numerator, b));
    }
    // Knuth, The Art of Computer Programming, vol. 2, section 4.5.1: dividing by the common divisor first keeps the
    // products small.
    let common = signed(greatest_common_divisor(b.unsigned_abs(), d.unsigned_abs()));
    let left = a.checked_mul(quotient(d, common))?;
    let right = c.checked_mul(quotient(b, common))?;
    let numerator = left.checked_add(right).filter(|sum| *sum != i128::MIN)?;
    let denominator = quotient(b, common).checked_mul(d)?;
    Some(Ratio::reduced(numerator, denominator))
}

fn multiply_small(a: i128, b: i128, c: i128, d: i128) -> Option<Ratio> {
    if b == 1 && d == 1 {
        return a.checked_mul(c).filter(|product| *product != i128::MIN).map(Ratio::whole);
    }
    if a == 0 || c == 0 {
        return Some(Ratio::ZERO);
    }
    if c == 1 && d == 1 {
        return Some(Ratio(Form::Small { numerator: a, denominator: b }));
    }
    if a == 1 && b == 1 {
        return Some(Ratio(Form::Small { numerator: c, denominator: d }));
    }
    let first = signed(greatest_common_divisor(a.unsigned_abs(), d.unsigned_abs()));
    let second = signed(greatest_common_divisor(c.unsigned_abs(), b.unsigned_abs()));
    let numerator = quotient(a, first)
        .checked_mul(quotient(c, second))
        .filter(|product| *product != i128::MIN)?;
    let denominator = quotient(b, second).checked_mul(quotient(d, first))?;
    Some(Ratio(Form::Small { numerator, denominator }))
}

/// Divides where it leaves no rest; a division of 128 bits takes long, and most are by one or of small numbers.
fn quotient(value: i128, divisor: i128) -> i128 {
    if divisor == 1 {
        return value;
    }
    match (i64::try_from(value), i64::try_from(divisor)) {
        (Ok(small), Ok(small_divisor)) if small_divisor > 0 => i128::from(small / small_divisor),
        _ => value / divisor,
    }
}

fn signed(divisor: u128) -> i128 {
    i128::try_from(divisor).expect("one operand is a positive i128, so its divisors fit")
}

/// Stein's binary algorithm; falls to `u64` arithmetic as soon as both fit, which one division mostly brings about.
fn greatest_common_divisor(mut a: u128, mut b: u128) -> u128 {
    if a == 0 || b == 0 {
        return (a | b).max(1);
    }
    if a == 1 || b == 1 {
        return 1;
    }
    if let (Ok(small_a), Ok(small_b)) = (u64::try_from(a), u64::try_from(b)) {
        let (large, small) =
            if small_a > small_b { (small_a, small_b) } else { (small_b, small_a) };
        let rest = large % small;
        if rest == 0 {
            return u128::from(small);
        }
        let shift = (rest | small).trailing_zeros();
        return u128::from(small_common_divisor(rest >> rest.trailing_zeros(), small)) << shift;
    }
    let shift = (a | b).trailing_zeros();
    a >>= a.trailing_zeros();
    while b != 0 {
        b >>= b.trailing_zeros();
        if let (Ok(small_a), Ok(small_b)) = (u64::try_from(a), u64::try_from(b)) {
            return u128::from(small_common_divisor(small_a, small_b)) << shift;
        }
        if a > b {
            std::mem::swap(&mut a, &mut b);
        }
        b -= a;
    }
    a << shift
}

fn small_common_divisor(mut a: u64, mut b: u64) -> u64 {
    while b != 0 {
        b >>= b.trailing_zeros();
        if a > b {
            std::mem::swap(&mut a, &mut b);
        }
        b -= a;
    }
    a
}

impl Default for Ratio {
    fn default() -> Ratio {
        Ratio::ZERO
    }
}

impl PartialEq for Ratio {
    fn eq(&self, other: &Ratio) -> bool {
        match (&self.0, &other.0) {
            (
                Form::Small { numerator: a, denominator: b },
                Form::Small { numerator: c, denominator: d },
            ) => a == c && b == d,
            (Form::Big(a), Form::Big(b)) => a == b,
            _ => false,
        }
    }
}

impl Eq for Ratio {}

impl Hash for Ratio {
    fn hash<H: Hasher>(&self, state: &mut H) {
        match &self.0 {
            Form::Small { numerator, denominator } => (numerator, denominator).hash(state),
            Form::Big(big) => big.hash(state),
        }
    }
}

impl Ord for Ratio {
    fn cmp(&self, other: &Ratio) -> Ordering {
        if let (
            Form::Small { numerator: a, denominator: b },
            Form::Small { numerator: c, denominator: d },
        ) = (&self.0, &other.0)
        {
            if b == d {
                return a.cmp(c);
            }
            if let (Some(left), Some(right)) = (a.checked_mul(*d), c.checked_mul(*b)) {
                return left.cmp(&right);
            }
        }
        self.to_big().cmp(&other.to_big())
    }
}

impl PartialOrd for Ratio {
    fn partial_cmp(&self, other: &Ratio) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Neg for Ratio {
    type Output = Ratio;
    fn neg(self) -> Ratio {
        match self.0 {
            Form::Small { numerator, denominator } => {
                Ratio(Form::Small { numerator: -numerator, denominator })
            }
            Form::Big(big) => Ratio::from_big(-*big),
        }
    }
}

macro_rules! operators {
    ($trait:ident, $method:ident, $body:expr) => {
        impl $trait<&Ratio> for &Ratio {
            type Output = Ratio;
            fn $method(self, other: &Ratio) -> Ratio {
                let body: fn(&Ratio, &Ratio) -> Ratio = $body;
                body(self, other)
            }
        }
        impl $trait<Ratio> for Ratio {
            type Output = Ratio;
            fn $method(self, other: Ratio) -> Ratio {
                (&self).$method(&other)
            }
        }
        impl $trait<&Ratio> for Ratio {
            type Output = Ratio;
            fn $method(self, other: &Ratio) -> Ratio {
                (&self).$method(other)
            }
        }
    };
}

operators!(Add, add, |left, right| left.added(right));
operators!(Sub, sub, |left, right| left.added(&-right.clone()));
operators!(Mul, mul, |left, right| left.multiplied(right));

impl AddAssign<&Ratio> for Ratio {
    fn add_assign(&mut self, other: &Ratio) {
        *self = self.added(other);
    }
}

impl Sum for Ratio {
    fn sum<I: Iterator<Item = Ratio>>(terms: I) -> Ratio {
        terms.fold(Ratio::ZERO, |total, term| total.added(&term))
    }
}

impl From<i64> for Ratio {
    fn from(value: i64) -> Ratio {
        Ratio::whole(i128::from(value))
    }
}

impl fmt::Display for Ratio {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.0 {
            Form::Small { numerator, denominator: 1 } => write!(f, "{numerator}"),
            Form::Small { numerator, denominator } => write!(f, "{numerator}/{denominator}"),
            Form::Big(big) => write!(f, "{big}"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ratio(numerator: i128, denominator: i128) -> Ratio {
        Ratio::new(numerator, denominator).expect("denominator is not zero")
    }

    #[test]
    fn results_are_in_lowest_terms() {
        assert_eq!(ratio(6, -8).to_string(), "-3/4");
        assert_eq!((ratio(1, 3) + ratio(1, 6)).to_string(), "1/2");
        assert_eq!((ratio(2, 3) * ratio(3, 4)).to_string(), "1/2");
        assert_eq!((ratio(1, 2) - ratio(1, 2)), Ratio::ZERO);
        assert_eq!(
            ratio(1, 2).checked_div(&ratio(-1, 4)).map(|q| q.to_string()),
            Some("-2".into())
        );
        assert_eq!(ratio(1, 2).checked_div(&Ratio::ZERO), None);
    }

    #[test]
    fn overflow_goes_to_the_big_form_and_back() {
        let huge = Ratio::whole(i128::MAX);
        let square = &huge * &huge;
        assert_eq!(square.to_parts(), None);
        assert_eq!(square.checked_div(&huge), Some(huge.clone()));
        assert_eq!((&huge + &Ratio::ONE) - Ratio::ONE, huge);
        assert!(square > huge);
        assert!(-square < huge);
    }

    #[test]
    fn floor_and_ceil_follow_the_sign() {
        assert_eq!(ratio(-7, 2).floor(), Ratio::whole(-4));
        assert_eq!(ratio(-7, 2).ceil(), Ratio::whole(-3));
        assert_eq!(ratio(7, 2).ceil(), Ratio::whole(4));
        assert_eq!(Ratio::whole(5).ceil(), Ratio::whole(5));
    }

    #[test]
    fn order_agrees_with_subtraction() {
        let values = [
            ratio(1, 3),
            ratio(-2, 7),
            ratio(5, 9),
            Ratio::ZERO,
            ratio(i128::MAX, 3),
            ratio(1, i128::MAX),
        ];
        for a in &values {
            for b in &values {
                assert_eq!(a < b, (a - b).is_negative(), "{a} {b}");
            }
        }
    }
}
