use std::cmp::Ordering;
use std::fmt;
use std::hash::{Hash, Hasher};
use std::iter::Sum;
use std::num::NonZeroU64;
use std::ops::{Add, AddAssign, Mul, Neg, Sub};

use dashu_int::{IBig, UBig};
use dashu_ratio::RBig;

/// An exact fraction: as a rule 128 bits over 64, beyond that two `i128` or a big rational.
///
/// Sums and products never fail and never round. The form is canonical (lowest terms, positive denominator, the shortest
/// that holds it), so equal values are equal in every sense, hashes included.
#[derive(Clone, PartialEq, Eq)]
pub struct Ratio(Form);

/// A large book holds millions of fractions, and hardly one whose denominator takes more than 64 bits: the others take 24
/// bytes each.
#[derive(Clone, PartialEq, Eq)]
enum Form {
    /// The numerator stands in two halves, the lower first, since an `i128` would widen it all to multiples of 16 bytes.
    Short {
        halves: [u64; 2],
        denominator: NonZeroU64,
    },
    Long(Box<Long>),
}

#[derive(Clone, PartialEq, Eq)]
enum Long {
    Small { numerator: i128, denominator: i128 },
    Big(RBig),
}

impl Ratio {
    /// The number nothing is added by.
    pub const ZERO: Ratio = Ratio(Form::Short { halves: [0, 0], denominator: NonZeroU64::MIN });
    /// The number nothing is scaled by.
    pub const ONE: Ratio = Ratio(Form::Short { halves: [1, 0], denominator: NonZeroU64::MIN });

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
        Ratio(Form::Short { halves: halves(value), denominator: NonZeroU64::MIN })
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
        if let (Some((a, b)), Some((c, d))) = (self.to_parts(), divisor.to_parts())
            && c != i128::MIN
        {
            let (c, d) = if c < 0 { (-d, -c) } else { (d, c) };
            return Some(
                multiply_small(a, b, c, d)
                    .unwrap_or_else(|| Ratio::from_big(self.to_big() / divisor.to_big())),
            );
        }
        Some(Ratio::from_big(self.to_big() / divisor.to_big()))
    }

    /// Returns the largest whole number not above the value.
    #[must_use]
    pub fn floor(&self) -> Ratio {
        match self.parts() {
            Ok((_, 1)) => self.clone(),
            Ok((numerator, denominator)) => Ratio::whole(numerator.div_euclid(denominator)),
            Err(big) => Ratio::from_big(RBig::from(big.floor())),
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
        self.to_parts().filter(|(_, denominator)| *denominator == 1).map(|(whole, _)| whole)
    }

    /// Returns the numerator and denominator in lowest terms, if both fit.
    #[must_use]
    pub fn to_parts(&self) -> Option<(i128, i128)> {
        self.parts().ok()
    }

    /// Returns the numerator and denominator if each fits 64 bits.
    #[inline]
    pub(super) fn to_words(&self) -> Option<(i64, u64)> {
        match self.0 {
            Form::Short { halves, denominator } => {
                Some((i64::try_from(joined(halves)).ok()?, denominator.get()))
            }
            Form::Long(_) => None,
        }
    }

    /// Tells whether the value is zero.
    #[must_use]
    pub fn is_zero(&self) -> bool {
        matches!(self.0, Form::Short { halves: [0, 0], .. })
    }

    /// Tells whether the value is below zero.
    #[must_use]
    pub fn is_negative(&self) -> bool {
        match self.parts() {
            Ok((numerator, _)) => numerator < 0,
            Err(big) => *big < RBig::ZERO,
        }
    }

    /// Tells whether the value is a whole number.
    #[must_use]
    pub fn is_whole(&self) -> bool {
        match self.parts() {
            Ok((_, denominator)) => denominator == 1,
            Err(big) => big.is_int(),
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
        match self.parts() {
            Ok((numerator, denominator)) => {
                let bits =
                    256 - numerator.unsigned_abs().leading_zeros() - denominator.leading_zeros();
                bits as usize
            }
            Err(big) => {
                let words =
                    big.numerator().as_sign_words().1.len() + big.denominator().as_words().len();
                words * dashu_int::Word::BITS as usize
            }
        }
    }

    pub(super) fn to_big(&self) -> RBig {
        match self.parts() {
            Ok((numerator, denominator)) => {
                RBig::from_parts(IBig::from(numerator), UBig::from(denominator.unsigned_abs()))
            }
            Err(big) => big.clone(),
        }
    }

    pub(super) fn from_big(big: RBig) -> Ratio {
        let small =
            i128::try_from(big.numerator()).ok().zip(i128::try_from(big.denominator()).ok());
        match small {
            Some((numerator, denominator)) if numerator != i128::MIN => {
                Ratio::small(numerator, denominator)
            }
            _ => Ratio(Form::Long(Box::new(Long::Big(big)))),
        }
    }

    /// Returns a fraction that is in lowest terms, above a positive denominator.
    #[inline]
    fn small(numerator: i128, denominator: i128) -> Ratio {
        let short = u64::try_from(denominator).ok().and_then(NonZeroU64::new);
        Ratio(match short {
            Some(denominator) => Form::Short { halves: halves(numerator), denominator },
            None => Form::Long(Box::new(Long::Small { numerator, denominator })),
        })
    }

    /// Returns numerator and denominator, or the big form.
    #[inline]
    fn parts(&self) -> Result<(i128, i128), &RBig> {
        match &self.0 {
            Form::Short { halves, denominator } => {
                Ok((joined(*halves), i128::from(denominator.get())))
            }
            Form::Long(long) => match &**long {
                Long::Small { numerator, denominator } => Ok((*numerator, *denominator)),
                Long::Big(big) => Err(big),
            },
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
            return Ratio::small(-numerator, -denominator);
        }
        Ratio::small(numerator, denominator)
    }

    fn added(&self, other: &Ratio) -> Ratio {
        if let (Some((a, 1)), Some((b, 1))) = (self.to_words(), other.to_words()) {
            return Ratio::whole(i128::from(a) + i128::from(b));
        }
        if other.is_zero() {
            return self.clone();
        }
        if self.is_zero() {
            return other.clone();
        }
        if let (Some((a, b)), Some((c, d))) = (self.to_parts(), other.to_parts())
            && let Some(sum) = add_small(a, b, c, d)
        {
            return sum;
        }
        Ratio::from_big(self.to_big() + other.to_big())
    }

    fn multiplied(&self, other: &Ratio) -> Ratio {
        if let (Some((a, 1)), Some((b, 1))) = (self.to_words(), other.to_words()) {
            return Ratio::whole(i128::from(a) * i128::from(b));
        }
        if let (Some((a, b)), Some((c, d))) = (self.to_parts(), other.to_parts())
            && let Some(product) = multiply_small(a, b, c, d)
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
        return Some(Ratio::small(a, b));
    }
    if a == 1 && b == 1 {
        return Some(Ratio::small(c, d));
    }
    let first = signed(greatest_common_divisor(a.unsigned_abs(), d.unsigned_abs()));
    let second = signed(greatest_common_divisor(c.unsigned_abs(), b.unsigned_abs()));
    let numerator = quotient(a, first)
        .checked_mul(quotient(c, second))
        .filter(|product| *product != i128::MIN)?;
    let denominator = quotient(b, second).checked_mul(quotient(d, first))?;
    Some(Ratio::small(numerator, denominator))
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "each half keeps its bits"
)]
const fn halves(value: i128) -> [u64; 2] {
    [value as u64, (value >> 64) as u64]
}

#[expect(clippy::cast_possible_wrap, reason = "the upper half holds the sign")]
fn joined([lower, upper]: [u64; 2]) -> i128 {
    (i128::from(upper as i64) << 64) | i128::from(lower)
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
        return u128::from(common_divisor(small_a, small_b));
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

/// Returns the greatest common divisor of two numbers above zero.
pub(super) fn common_divisor(a: u64, b: u64) -> u64 {
    let (large, small) = if a > b { (a, b) } else { (b, a) };
    let rest = large % small;
    if rest == 0 {
        return small;
    }
    let shift = (rest | small).trailing_zeros();
    small_common_divisor(rest >> rest.trailing_zeros(), small) << shift
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

impl Hash for Ratio {
    fn hash<H: Hasher>(&self, state: &mut H) {
        match self.parts() {
            Ok(parts) => parts.hash(state),
            Err(big) => big.hash(state),
        }
    }
}

impl Ord for Ratio {
    fn cmp(&self, other: &Ratio) -> Ordering {
        if let (Some((a, b)), Some((c, d))) = (self.to_parts(), other.to_parts()) {
            if b == d {
                return a.cmp(&c);
            }
            if let (Some(left), Some(right)) = (a.checked_mul(d), c.checked_mul(b)) {
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
            Form::Short { halves: value, denominator } => {
                Ratio(Form::Short { halves: halves(-joined(value)), denominator })
            }
            Form::Long(long) => match *long {
                Long::Small { numerator, denominator } => Ratio::small(-numerator, denominator),
                Long::Big(big) => Ratio::from_big(-big),
            },
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
        match self.parts() {
            Ok((numerator, 1)) => write!(f, "{numerator}"),
            Ok((numerator, denominator)) => write!(f, "{numerator}/{denominator}"),
            Err(big) => write!(f, "{big}"),
        }
    }
}

impl fmt::Debug for Ratio {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
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
    fn a_fraction_is_short() {
        assert_eq!(size_of::<Ratio>(), 24);
        let long = i128::from(u64::MAX) + 2;
        for denominator in [1, 3, i128::from(u64::MAX), long, i128::MAX] {
            for numerator in [1, -1, 7, -7, long + 1, -long - 1, i128::MAX - 1, 2 - i128::MAX] {
                let whole = ratio(numerator, denominator) * Ratio::whole(denominator);
                assert_eq!(whole.to_integer(), Some(numerator), "{numerator}/{denominator}");
                assert_eq!(ratio(numerator, denominator), ratio(-numerator, -denominator));
                assert!(
                    ratio(numerator, denominator) - ratio(numerator, denominator) == Ratio::ZERO
                );
            }
        }
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
