use std::fmt;
use std::ops::{Add, Mul, Neg, Sub};

use crate::quantity::Ratio;

/// A length in whole nanometers.
///
/// Both 1/64 in (396 875 nm) and 0.001 mm (1000 nm) are whole, so shop and metric sizes are exact. The range is more
/// than nine million kilometers either way.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Length(i64);

impl Length {
    /// No length.
    pub const ZERO: Length = Length(0);
    /// One inch, 25.4 mm by definition (NIST SP 811, appendix B.8).
    pub const INCH: Length = Length(25_400_000);
    /// One foot, 12 inches.
    pub const FOOT: Length = Length(304_800_000);
    /// One millimeter.
    pub const MILLIMETER: Length = Length(1_000_000);

    /// Returns the length of `nanometers`.
    #[must_use]
    pub const fn from_nanometers(nanometers: i64) -> Length {
        Length(nanometers)
    }

    /// Returns the length of `numerator / denominator` inches, if that is a whole number of nanometers in range.
    #[must_use]
    pub fn from_inches(numerator: i64, denominator: i64) -> Option<Length> {
        let inches = Ratio::new(i128::from(numerator), i128::from(denominator))?;
        Length::from_ratio(&(inches * Ratio::from(Length::INCH.0)))
    }

    /// Returns the length of `nanometers`, if they are whole and in range.
    #[must_use]
    pub fn from_ratio(nanometers: &Ratio) -> Option<Length> {
        i64::try_from(nanometers.to_integer()?).ok().map(Length)
    }

    /// Returns the length rounded to the nearest nanometer (ties away from zero), if in range.
    #[must_use]
    pub fn nearest(nanometers: &Ratio) -> Option<Length> {
        let half = Ratio::new(1, 2)?;
        let rounded = if nanometers.is_negative() {
            (nanometers - &half).ceil()
        } else {
            (nanometers + &half).floor()
        };
        Length::from_ratio(&rounded)
    }

    /// Returns the count of nanometers.
    #[must_use]
    pub const fn nanometers(self) -> i64 {
        self.0
    }

    /// Returns the count of nanometers as an exact number.
    #[must_use]
    pub fn to_ratio(self) -> Ratio {
        Ratio::from(self.0)
    }

    /// Returns the area of a rectangle with these sides, in square nanometers.
    #[must_use]
    pub fn area(self, other: Length) -> i128 {
        i128::from(self.0) * i128::from(other.0)
    }

    /// Returns the sum, or nothing if it is out of range.
    #[must_use]
    pub fn checked_add(self, other: Length) -> Option<Length> {
        self.0.checked_add(other.0).map(Length)
    }
}

impl Add for Length {
    type Output = Length;
    fn add(self, other: Length) -> Length {
        Length(self.0 + other.0)
    }
}

impl Sub for Length {
    type Output = Length;
    fn sub(self, other: Length) -> Length {
        Length(self.0 - other.0)
    }
}

impl Mul<i64> for Length {
    type Output = Length;
    fn mul(self, factor: i64) -> Length {
        Length(self.0 * factor)
    }
}

impl Neg for Length {
    type Output = Length;
    fn neg(self) -> Length {
        Length(-self.0)
    }
}

/// The exponents of length, weight, time and money in a measure.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Dimension {
    /// Exponent of length; the base unit is the nanometer.
    pub length: i8,
    /// Exponent of weight; the base unit is the pound.
    pub weight: i8,
    /// Exponent of time; the base unit is the minute.
    pub time: i8,
    /// Exponent of money; the base unit is the book's currency.
    pub money: i8,
}

impl Dimension {
    /// A plain number.
    pub const NUMBER: Dimension = Dimension { length: 0, weight: 0, time: 0, money: 0 };
    /// A length.
    pub const LENGTH: Dimension = Dimension { length: 1, ..Dimension::NUMBER };
    /// An area.
    pub const AREA: Dimension = Dimension { length: 2, ..Dimension::NUMBER };
    /// A volume.
    pub const VOLUME: Dimension = Dimension { length: 3, ..Dimension::NUMBER };
    /// A weight.
    pub const WEIGHT: Dimension = Dimension { weight: 1, ..Dimension::NUMBER };
    /// A time.
    pub const TIME: Dimension = Dimension { time: 1, ..Dimension::NUMBER };
    /// An amount of money.
    pub const MONEY: Dimension = Dimension { money: 1, ..Dimension::NUMBER };

    /// Returns the dimension of a product, or nothing if an exponent leaves the range of `i8`.
    #[must_use]
    pub fn times(self, other: Dimension) -> Option<Dimension> {
        Some(Dimension {
            length: self.length.checked_add(other.length)?,
            weight: self.weight.checked_add(other.weight)?,
            time: self.time.checked_add(other.time)?,
            money: self.money.checked_add(other.money)?,
        })
    }

    /// Returns the dimension of a quotient, or nothing if an exponent leaves the range of `i8`.
    #[must_use]
    pub fn over(self, other: Dimension) -> Option<Dimension> {
        Some(Dimension {
            length: self.length.checked_sub(other.length)?,
            weight: self.weight.checked_sub(other.weight)?,
            time: self.time.checked_sub(other.time)?,
            money: self.money.checked_sub(other.money)?,
        })
    }
}

impl fmt::Display for Dimension {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let name = match *self {
            Dimension::NUMBER => "number",
            Dimension::LENGTH => "length",
            Dimension::AREA => "area",
            Dimension::VOLUME => "volume",
            Dimension::WEIGHT => "weight",
            Dimension::TIME => "time",
            Dimension::MONEY => "money",
            _ => "",
        };
        if !name.is_empty() {
            return f.write_str(name);
        }
        let mut parted = false;
        for (base, exponent) in [
            ("length", self.length),
            ("weight", self.weight),
            ("time", self.time),
            ("money", self.money),
        ] {
            if exponent != 0 {
                if parted {
                    f.write_str("*")?;
                }
                parted = true;
                f.write_str(base)?;
                if exponent != 1 {
                    write!(f, "^{exponent}")?;
                }
            }
        }
        Ok(())
    }
}

/// An exact value with its dimension, in base units (nanometer, pound, minute, currency unit).
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Measure {
    /// The value in base units.
    pub value: Ratio,
    /// What kind of value it is.
    pub dimension: Dimension,
}

impl Measure {
    /// Returns a plain number.
    #[must_use]
    pub fn number(value: Ratio) -> Measure {
        Measure { value, dimension: Dimension::NUMBER }
    }

    /// Returns a length.
    #[must_use]
    pub fn length(length: Length) -> Measure {
        Measure { value: length.to_ratio(), dimension: Dimension::LENGTH }
    }

    /// Returns the value as a whole length rounded to the nearest nanometer, if it is a length in range.
    #[must_use]
    pub fn to_length(&self) -> Option<Length> {
        (self.dimension == Dimension::LENGTH).then(|| Length::nearest(&self.value))?
    }
}
