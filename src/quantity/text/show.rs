use crate::quantity::unit::UnitFactor;
use crate::quantity::{Dimension, Length, Measure, Ratio, Rounding};

/// A decimal with more places than this is printed as a fraction.
const MOST_PLACES: u32 = 30;
/// Places of an inch that tell one nanometer from the next: 1 nm is about 3.9e-8 in.
const INCH_PLACES: u32 = 8;

impl UnitFactor {
    /// Returns how many of this unit a measure holds, if it measures the same.
    #[must_use]
    pub fn count(&self, measure: &Measure) -> Option<Ratio> {
        if self.dimension != measure.dimension {
            return None;
        }
        measure.value.checked_div(&self.factor)
    }
}

/// Prints a number exactly: as a decimal where it has one, else as a fraction. It reads back as the same number.
#[must_use]
pub fn exact(value: &Ratio) -> String {
    match decimal_places(value) {
        Some(places) => rounded(value, places, Rounding::HalfEven),
        None => value.to_string(),
    }
}

/// Prints a number with so many decimal places.
#[must_use]
pub fn rounded(value: &Ratio, places: u32, rounding: Rounding) -> String {
    let digits = value.scaled(places, rounding);
    let places = places as usize;
    let width = places + 1;
    let text = format!("{:0>width$}", digits.abs().to_string());
    let (whole, decimals) = text.split_at(text.len() - places);
    let sign = if digits.is_negative() { "-" } else { "" };
    if places == 0 { format!("{sign}{whole}") } else { format!("{sign}{whole}.{decimals}") }
}

/// Prints an area, in square nanometers, in square feet to four places: `9 ft2`.
#[must_use]
pub fn square_feet(area: &Ratio) -> String {
    let square_foot = Ratio::whole(Length::FOOT.area(Length::FOOT));
    let feet = area.checked_div(&square_foot).and_then(|feet| feet.round(4, Rounding::HalfEven));
    feet.map_or_else(String::new, |feet| format!("{} ft2", feet.normalize()))
}

/// Prints a length in feet, inches and the least fraction of an inch, down to 1/64: `28' 6-1/2"`, `9-1/2"`, `0"`.
///
/// A length that is no 64th has decimal inches, enough of them to tell nanometers apart. Read back and rounded to the
/// nanometer, it is the same length.
#[must_use]
pub fn feet_and_inches(length: Length) -> String {
    let nanometers = length.to_ratio();
    let sign = if nanometers.is_negative() { "-" } else { "" };
    let magnitude = nanometers.abs();
    let feet = in_unit(&magnitude, Length::FOOT).floor();
    let inches = in_unit(&(magnitude - &feet * &Length::FOOT.to_ratio()), Length::INCH);
    let inches_text = match (&inches * &Ratio::whole(64)).to_integer() {
        Some(_) => mixed(&inches),
        None => trimmed(&rounded(&inches, INCH_PLACES, Rounding::HalfEven)),
    };
    if feet.is_zero() {
        format!("{sign}{inches_text}\"")
    } else {
        format!("{sign}{feet}' {inches_text}\"")
    }
}

/// Prints a measure for a reader, rounded to six places, in the unit of its kind: in, ft2, ft3, lb, min.
#[must_use]
pub fn shown(measure: &Measure) -> String {
    let (factor, unit) = match measure.dimension {
        Dimension::NUMBER | Dimension::MONEY => (Ratio::ONE, String::new()),
        Dimension::AREA => (Length::FOOT.to_ratio().power(2), "ft2".to_owned()),
        Dimension::VOLUME => (Length::FOOT.to_ratio().power(3), "ft3".to_owned()),
        other => compound(other),
    };
    let value = measure.value.checked_div(&factor).unwrap_or_default();
    let number = trimmed(&rounded(&value, 6, Rounding::HalfEven));
    if unit.is_empty() { number } else { format!("{number} {unit}") }
}

/// The unit of any dimension in inches, pounds, minutes and money: `lb/in2`, `1/in`.
fn compound(dimension: Dimension) -> (Ratio, String) {
    let bases = [
        ("lb", dimension.weight),
        ("in", dimension.length),
        ("min", dimension.time),
        ("money", dimension.money),
    ];
    let named = |sign: i8| -> Vec<String> {
        bases
            .iter()
            .filter(|(_, exponent)| exponent.signum() == sign)
            .map(|(name, exponent)| match exponent.unsigned_abs() {
                1 => (*name).to_owned(),
                power => format!("{name}{power}"),
            })
            .collect()
    };
    let above = named(1).join("*");
    let below = named(-1).join("/");
    let inches = Length::INCH.to_ratio().power(u32::from(dimension.length.unsigned_abs()));
    let factor = if dimension.length < 0 {
        Ratio::ONE.checked_div(&inches).expect("an inch is not zero")
    } else {
        inches
    };
    (
        factor,
        match (above.is_empty(), below.is_empty()) {
            (_, true) => above,
            (true, false) => format!("1/{below}"),
            (false, false) => format!("{above}/{below}"),
        },
    )
}

fn in_unit(nanometers: &Ratio, unit: Length) -> Ratio {
    nanometers.checked_div(&unit.to_ratio()).expect("a unit is not zero")
}

fn mixed(inches: &Ratio) -> String {
    let whole = inches.floor();
    let fraction = inches - &whole;
    if fraction.is_zero() {
        whole.to_string()
    } else if whole.is_zero() {
        fraction.to_string()
    } else {
        format!("{whole}-{fraction}")
    }
}

/// Takes the zeros off the end of a decimal.
fn trimmed(decimal: &str) -> String {
    if !decimal.contains('.') {
        return decimal.to_owned();
    }
    let short = decimal.trim_end_matches('0').trim_end_matches('.');
    if short == "-0" { "0".to_owned() } else { short.to_owned() }
}

/// The places of the shortest decimal that is exactly the value, if there is one.
fn decimal_places(value: &Ratio) -> Option<u32> {
    let (_, denominator) = value.to_parts()?;
    let (mut rest, mut twos, mut fives) = (denominator, 0, 0);
    while rest % 2 == 0 {
        rest /= 2;
        twos += 1;
    }
    while rest % 5 == 0 {
        rest /= 5;
        fives += 1;
    }
    let places = u32::max(twos, fives);
    (rest == 1 && places <= MOST_PLACES).then_some(places)
}
