//! The units a cell may carry, with their exact factors.
//!
//! [`find`] answers for names (`in`, `lb`), areas and volumes by a power (`ft2`, `ft²`), a count in front (`100 ft`)
//! and quotients and products of these (`lb/ft2`, `ft2/gal`, `ft*lb`). Every factor is a definition, none a rounded
//! table value.
//!
//! Not here: money, since a currency belongs to a book; packs (`box`, `reel`), which belong to an item; the day, since
//! a plant's day has no fixed length.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use crate::quantity::{Dimension, Ratio};

/// A unit's dimension and how many base units it holds.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct UnitFactor {
    /// What it measures.
    pub dimension: Dimension,
    /// Base units in one of it; above zero.
    pub factor: Ratio,
}

/// A row of the table: the names of a unit, the one shown first, and its factor in base units as a fraction.
struct Unit {
    names: &'static [&'static str],
    dimension: Dimension,
    numerator: i128,
    denominator: i128,
}

const INCH: i128 = 25_400_000;
const FOOT: i128 = 12 * INCH;
const YARD: i128 = 3 * FOOT;
const METER: i128 = 1_000_000_000;
const SQUARE_FOOT: i128 = FOOT * FOOT;
const BOARD_FOOT: i128 = 144 * INCH * INCH * INCH;
const GALLON: i128 = 231 * INCH * INCH * INCH;
const LITER: i128 = METER * METER * METER / 1000;
/// A pound is 0.453 592 37 kg: so many of 10 µg.
const POUND: i128 = 45_359_237;

/// Definitions: inch, foot, yard and pound by NIST SP 811, appendix B, and UN/ECE Recommendation 20 (INH, FOT, YRD,
/// LBR); gallon of 231 in³, hundredweight of 100 lb and ton of 2000 lb as in the GNU units database and
/// Recommendation 20 (GLL, CWA, STN); roofing square and mil by Recommendation 20 (SQR, 77); board foot of 144 in³.
const UNITS: &[Unit] = &[
    length(&["in", "inch", "inches", "\"", "''"], INCH),
    length(&["ft", "foot", "feet", "'", "lf", "lft"], FOOT),
    length(&["yd", "yds", "yard", "yards"], YARD),
    length(&["mil", "mils"], INCH / 1000),
    length(&["mm", "millimeter", "millimeters", "millimetre", "millimetres"], METER / 1000),
    length(&["cm", "centimeter", "centimeters", "centimetre", "centimetres"], METER / 100),
    length(&["m", "meter", "meters", "metre", "metres"], METER),
    length(&["um", "\u{b5}m", "\u{3bc}m", "micron", "microns"], METER / 1_000_000),
    length(&["nm", "nanometer", "nanometers"], 1),
    length(&["clf"], 100 * FOOT),
    length(&["mlf"], 1000 * FOOT),
    area(&["sf", "sqft"], SQUARE_FOOT),
    area(&["sy", "sqyd"], YARD * YARD),
    area(&["sqin"], INCH * INCH),
    area(&["square", "squares"], 100 * SQUARE_FOOT),
    area(&["csf"], 100 * SQUARE_FOOT),
    area(&["msf"], 1000 * SQUARE_FOOT),
    volume(&["gal", "gals", "gallon", "gallons"], GALLON),
    volume(&["qt", "qts", "quart", "quarts"], GALLON / 4),
    volume(&["pt", "pts", "pint", "pints"], GALLON / 8),
    volume(&["fl oz", "floz", "fluid ounce", "fluid ounces"], GALLON / 128),
    volume(&["l", "liter", "liters", "litre", "litres"], LITER),
    volume(&["ml", "milliliter", "milliliters"], LITER / 1000),
    volume(&["cf", "cuft"], FOOT * FOOT * FOOT),
    volume(&["cy", "cuyd"], YARD * YARD * YARD),
    volume(&["bf", "bdft", "bd ft", "board foot", "board feet"], BOARD_FOOT),
    volume(&["mbf"], 1000 * BOARD_FOOT),
    weight(&["lb", "lbs", "pound", "pounds"], 1, 1),
    weight(&["oz", "ounce", "ounces"], 1, 16),
    weight(&["cwt"], 100, 1),
    weight(&["ton", "tons"], 2000, 1),
    weight(&["kg", "kgs", "kilogram", "kilograms"], 100_000_000, POUND),
    weight(&["g", "gram", "grams"], 100_000, POUND),
    weight(&["t", "tonne", "tonnes"], 100_000_000_000, POUND),
    time(&["min", "mins", "minute", "minutes"], 1, 1),
    time(&["hour", "hours", "hr", "hrs", "h"], 60, 1),
    time(&["s", "sec", "secs", "second", "seconds"], 1, 60),
    number(&["each", "ea", "pc", "pcs", "piece", "pieces", "count"], 1),
    number(&["C", "hundred"], 100),
    number(&["M", "thousand"], 1000),
    number(&["pair", "pairs", "pr"], 2),
    number(&["dozen", "doz", "dz", "dzn"], 12),
    number(&["gross"], 144),
    Unit {
        names: &["plf"],
        dimension: Dimension { length: -1, ..Dimension::WEIGHT },
        numerator: 1,
        denominator: FOOT,
    },
    Unit {
        names: &["psf"],
        dimension: Dimension { length: -2, ..Dimension::WEIGHT },
        numerator: 1,
        denominator: SQUARE_FOOT,
    },
    Unit {
        names: &["pcf"],
        dimension: Dimension { length: -3, ..Dimension::WEIGHT },
        numerator: 1,
        denominator: SQUARE_FOOT * FOOT,
    },
];

const fn length(names: &'static [&'static str], nanometers: i128) -> Unit {
    Unit { names, dimension: Dimension::LENGTH, numerator: nanometers, denominator: 1 }
}

const fn area(names: &'static [&'static str], square_nanometers: i128) -> Unit {
    Unit { names, dimension: Dimension::AREA, numerator: square_nanometers, denominator: 1 }
}

const fn volume(names: &'static [&'static str], cubic_nanometers: i128) -> Unit {
    Unit { names, dimension: Dimension::VOLUME, numerator: cubic_nanometers, denominator: 1 }
}

const fn weight(names: &'static [&'static str], numerator: i128, denominator: i128) -> Unit {
    Unit { names, dimension: Dimension::WEIGHT, numerator, denominator }
}

const fn time(names: &'static [&'static str], numerator: i128, denominator: i128) -> Unit {
    Unit { names, dimension: Dimension::TIME, numerator, denominator }
}

const fn number(names: &'static [&'static str], count: i128) -> Unit {
    Unit { names, dimension: Dimension::NUMBER, numerator: count, denominator: 1 }
}

static BY_NAME: LazyLock<BTreeMap<&'static str, UnitFactor>> = LazyLock::new(|| {
    let mut by_name = BTreeMap::new();
    for unit in UNITS {
        let factor = Ratio::new(unit.numerator, unit.denominator)
            .expect("the table has no denominator of zero");
        for name in unit.names {
            by_name.insert(*name, UnitFactor { dimension: unit.dimension, factor: factor.clone() });
        }
    }
    by_name
});

/// Returns the unit of this name (`in`, `ft2`, `lb/ft`, `100 ft`, `gal`, `min`), if there is one.
///
/// Case does not matter but for `M` and `C` (1000 and 100; `m` is the meter) and `t` (1000 kg; `T` might be either ton and
/// is neither). After a `/` only a further `/` may follow, so that no unit can be read in two ways.
#[must_use]
pub fn find(name: &str) -> Option<UnitFactor> {
    let name = name.trim();
    if let Some(unit) = find_word(name) {
        return Some(unit);
    }
    let mut parts = name.split('/');
    let mut result = find_product(parts.next()?)?;
    for part in parts {
        let divisor = find_counted(part)?;
        result = UnitFactor {
            dimension: result.dimension.over(divisor.dimension)?,
            factor: result.factor.checked_div(&divisor.factor)?,
        };
    }
    Some(result)
}

/// Returns the name of the table nearest to `name`, if one is near enough to be meant.
#[must_use]
pub fn suggest(name: &str) -> Option<&'static str> {
    let name = name.trim().to_lowercase();
    let reach = if name.chars().count() < 4 { 1 } else { 2 };
    UNITS
        .iter()
        .flat_map(|unit| unit.names)
        .filter(|known| known.len() > 1)
        .map(|known| (strsim::damerau_levenshtein(&name, known), *known))
        .filter(|(distance, known)| *distance <= reach && *distance < known.chars().count())
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, known)| known)
}

fn find_product(text: &str) -> Option<UnitFactor> {
    let mut factors = text.split(['*', '\u{b7}']);
    let mut result = find_counted(factors.next()?)?;
    for factor in factors {
        let factor = find_counted(factor)?;
        result = UnitFactor {
            dimension: result.dimension.times(factor.dimension)?,
            factor: &result.factor * &factor.factor,
        };
    }
    Some(result)
}

/// Reads `100 ft`, `1,000 ft2`, `in`.
fn find_counted(text: &str) -> Option<UnitFactor> {
    let text = text.trim();
    let word = text.trim_start_matches(|c: char| c.is_ascii_digit() || c == ',');
    let digits = &text[..text.len() - word.len()];
    if digits.is_empty() {
        return find_powered(word);
    }
    let digits = digits.replace(',', "");
    if digits.len() > 9 {
        return None;
    }
    let count = digits.parse::<i64>().ok().filter(|count| *count > 0)?;
    let unit = find_powered(word.trim_start())?;
    Some(UnitFactor { factor: &unit.factor * &Ratio::from(count), ..unit })
}

/// Reads `ft2`, `ft^2`, `ft²`, `sq ft`, `cubic feet`, `lin ft`, `in`.
fn find_powered(text: &str) -> Option<UnitFactor> {
    if let Some(unit) = find_word(text) {
        return Some(unit);
    }
    if let Some((before, word)) = text.split_once(char::is_whitespace) {
        let before = before.trim_end_matches('.');
        let exponent = match before.to_ascii_lowercase().as_str() {
            "lin" | "linear" | "lineal" => 1,
            "sq" | "square" => 2,
            "cu" | "cubic" => 3,
            _ => return None,
        };
        return raised(word.trim_start(), exponent);
    }
    let (last, exponent) = match text.chars().next_back()? {
        '2' => ('2', 2),
        '3' => ('3', 3),
        '\u{b2}' => ('\u{b2}', 2),
        '\u{b3}' => ('\u{b3}', 3),
        _ => return None,
    };
    let word = text.strip_suffix(last)?;
    raised(word.strip_suffix('^').unwrap_or(word), exponent)
}

fn raised(word: &str, exponent: u8) -> Option<UnitFactor> {
    let unit = find_word(word).filter(|unit| unit.dimension == Dimension::LENGTH)?;
    Some(UnitFactor {
        dimension: Dimension { length: i8::try_from(exponent).ok()?, ..Dimension::NUMBER },
        factor: unit.factor.power(u32::from(exponent)),
    })
}

/// Looks a name up as it stands in the table, case aside; a point after an abbreviation is passed over.
fn find_word(word: &str) -> Option<UnitFactor> {
    const LONGEST: usize = 16;
    let word = match word {
        "\u{2032}" | "\u{2018}" | "\u{2019}" => "'",
        "\u{2033}" | "\u{201c}" | "\u{201d}" => "\"",
        "c" | "T" => return None,
        _ if word.len() > 1 => word.strip_suffix('.').unwrap_or(word),
        _ => word,
    };
    let mut lower = [0_u8; LONGEST];
    let lower = lower.get_mut(..word.len())?;
    lower.copy_from_slice(word.as_bytes());
    if !matches!(word, "M" | "C") {
        lower.make_ascii_lowercase();
    }
    BY_NAME.get(std::str::from_utf8(lower).ok()?).cloned()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Checks that one of `name` is `count` of `of`; both are looked up, `count` is a decimal or a fraction.
    #[track_caller]
    fn check(name: &str, count: &str, of: &str) {
        let unit = find(name).expect("the unit is known");
        let other = find(of).expect("the other unit is known");
        assert_eq!(unit.dimension, other.dimension, "{name} and {of}");
        let (numerator, denominator) = count.split_once('/').unwrap_or((count, "1"));
        let (whole, places) = numerator.split_once('.').unwrap_or((numerator, ""));
        let digits: i128 = format!("{whole}{places}").parse().unwrap();
        let count = Ratio::decimal(digits, u32::try_from(places.len()).unwrap())
            .checked_div(&Ratio::whole(denominator.parse().unwrap()))
            .unwrap();
        assert_eq!(unit.factor, &other.factor * &count, "{name} in {of}");
    }

    #[track_caller]
    fn unknown(name: &str) {
        assert_eq!(find(name), None, "{name}");
    }

    // Source: UN/ECE Recommendation 20, Annex I (INH, FOT, YRD, 77); NIST SP 811, appendix B.8.
    #[test]
    fn lengths_are_as_published() {
        check("in", "25.4", "mm");
        check("ft", "0.3048", "m");
        check("yd", "0.9144", "m");
        check("mil", "25.4", "um");
        check("mil", "0.001", "in");
        check("cm", "10", "mm");
        check("m", "1000000000", "nm");
    }

    // Source: UN/ECE Recommendation 20, Annex I (FTK, SQR); the rest follows from the foot and the inch.
    #[test]
    fn areas_are_as_published() {
        check("ft2", "0.09290304", "m2");
        check("square", "100", "ft2");
        check("MSF", "1000", "ft2");
        check("yd2", "9", "ft2");
        check("in2", "1/144", "ft2");
    }

    // Source: GNU units database (gallon of 231 in3, board foot); computed from the inch. Recommendation 20 prints
    // GLL and FTQ rounded (3.785 412e-3 and 2.831 685e-2 m3), which must not be used.
    #[test]
    fn volumes_are_as_defined_and_not_as_rounded_in_tables() {
        check("gal", "231", "in3");
        check("gal", "3.785411784", "L");
        check("ft3", "0.028316846592", "m3");
        check("BF", "144", "in3");
        check("BF", "1/12", "ft3");
        check("BF", "0.002359737216", "m3");
        check("MBF", "1000", "BF");
        check("qt", "57.75", "in3");
        check("pt", "1/8", "gal");
        check("fl oz", "1/128", "gal");
        check("ml", "0.001", "L");
        check("m3", "1000", "L");
    }

    // Source: UN/ECE Recommendation 20 (LBR, STN); GNU units database (ounce, hundredweight).
    #[test]
    fn weights_are_as_published() {
        check("lb", "0.45359237", "kg");
        check("oz", "28.349523125", "g");
        check("cwt", "100", "lb");
        check("ton", "2000", "lb");
        check("t", "1000", "kg");
    }

    // Computed from the definitions; Recommendation 20 prints P2 as 1.488 164 kg/m and FP as 4.882 428 kg/m2.
    #[test]
    fn compound_units_follow_from_their_parts() {
        check("lb/ft", "0.45359237", "kg/ft");
        check("kg/ft", "10000/3048", "kg/m");
        check("psf", "1", "lb/ft2");
        check("pcf", "1", "lb/ft3");
        check("plf", "1", "lb/ft");
        check("g/cm3", "1000", "kg/m3");
        check("lb/in2", "144", "lb/ft\u{b2}");
        check("lb/MSF", "1/1000", "lb/ft2");
        check("ft2/gal", "144", "in2/gal");
        check("100 ft", "1200", "in");
        check("lb/100 ft2", "1/100", "psf");
        check("1,000 ft2", "1", "msf");
        check("min/ft2", "60", "s/ft2");
    }

    #[test]
    fn counts_and_times_have_their_multiples() {
        check("M", "1000", "each");
        check("C", "100", "ea");
        check("dozen", "12", "pcs");
        check("gross", "12", "dozen");
        check("pair", "2", "pc");
        check("hr", "60", "min");
        check("hour", "3600", "s");
    }

    #[test]
    fn spellings_mean_the_same() {
        for name in
            ["sq ft", "Sq. Ft.", "square feet", "ft2", "FT2", "ft\u{b2}", "ft^2", "SF", "sqft"]
        {
            check(name, "144", "in2");
        }
        for name in ["'", "\u{2032}", "\u{2019}", "ft.", "Feet", "LF", "lin ft", "linear feet"] {
            check(name, "12", "in");
        }
        for name in ["\"", "\u{2033}", "\u{201d}", "''", "IN", "in.", "Inches"] {
            check(name, "1", "in");
        }
        check("\u{b5}m", "1", "\u{3bc}m");
        check("cubic inches", "1", "in\u{b3}");
        check("board feet", "1", "bd ft");
        check("ft*lb", "1", "lb\u{b7}ft");
    }

    #[test]
    fn case_matters_where_a_letter_means_two_units() {
        check("m", "1", "meter");
        check("M", "1000", "each");
        unknown("c");
        unknown("T");
        check("L", "1", "l");
    }

    #[test]
    fn what_is_no_unit_is_refused() {
        for name in [
            "",
            " ",
            "day",
            "box",
            "ft4",
            "lb2",
            "gal3",
            "/",
            "lb/",
            "/ft",
            "lb//ft",
            "ft**lb",
            "lb/ft*min",
            "0 ft",
            "100",
            "f t",
            "sq lb",
            "sq",
            "ft2 ft",
            "2.5 ft",
            "in2x",
            "inchesinchesinches",
            "9999999999 ft",
        ] {
            unknown(name);
        }
    }

    #[test]
    fn every_name_stands_once_in_the_table() {
        let names: Vec<&str> = UNITS.iter().flat_map(|unit| unit.names).copied().collect();
        assert_eq!(names.len(), BY_NAME.len());
        for name in names {
            assert!(find(name).is_some(), "{name}");
        }
    }

    #[test]
    fn a_misspelt_unit_finds_its_neighbor() {
        assert_eq!(suggest("inchs"), Some("inch"));
        assert_eq!(suggest("galons"), Some("gallons"));
        assert_eq!(suggest("fet"), Some("ft"));
        assert_eq!(suggest("xyzzy"), None);
    }
}
