use proptest::prelude::*;

use super::*;
use crate::quantity::{Dimension, Length, Measure, Ratio, Rounding, unit};

fn parse(text: &str) -> Result<Measure, Fault> {
    let inch = unit::find("in").unwrap();
    measure(text, Some(&inch), DecimalSign::Point)
}

/// Checks the exact value of a cell: `expected` is a number and the unit it is counted in.
#[track_caller]
fn check(text: &str, expected: &str) {
    let found = parse(text).unwrap_or_else(|fault| panic!("`{text}`: {fault:?}"));
    let (number, name) = expected.split_once(' ').unwrap();
    let unit = unit::find(name).unwrap();
    assert_eq!(unit.count(&found).map(|count| exact(&count)).as_deref(), Some(number), "{text}");
}

/// Checks the whole fault of a cell: the text with a `^` before the place, what is wrong, and the hint.
#[track_caller]
fn refuse(text: &str, expected: &str) {
    assert_eq!(describe(text, parse(text)), expected);
}

fn describe(text: &str, result: Result<Measure, Fault>) -> String {
    let fault = result.expect_err(text);
    let (before, after) = text.split_at(fault.marker);
    let hint = fault.hint.map(|hint| format!(" / {hint}")).unwrap_or_default();
    format!("{before}^{after}: {}{hint}", fault.fault)
}

#[test]
fn a_bare_number_takes_the_unit_of_its_column() {
    check("96", "96 in");
    check("9.25", "9.25 in");
    check(".5", "0.5 in");
    check("5.", "5 in");
    check("-3", "-3 in");
    check(" + 3 ", "3 in");
    check("1,250.5", "1250.5 in");
    check("1e3", "1000 in");
    check("2.5E-3", "0.0025 in");
    let number = measure("12", None, DecimalSign::Point).unwrap();
    assert_eq!(number, Measure::number(Ratio::whole(12)));
}

#[test]
fn fractions_are_exact() {
    check("15/32", "0.46875 in");
    check("92-5/8", "92.625 in");
    check("92 5/8", "92.625 in");
    check("9 1/2 in", "9.5 in");
    check("9-1/2 in", "9.5 in");
    check("-9-1/2", "-9.5 in");
    check("1/3 ft", "4 in");
    check("23/32\"", "0.71875 in");
    check("5/4 in", "1.25 in");
}

#[test]
fn feet_and_inches_are_read_in_every_spelling() {
    for text in [
        "28' 6-1/2\"",
        "28'-6 1/2\"",
        "28'6.5\"",
        "28' 6 1/2\"",
        "28' 6 1/2",
        "28 ft 6 1/2 in",
        "28ft 6.5in",
        "28 feet 6-1/2 inches",
        "28\u{2032} 6\u{bd}\u{2033}",
        "28\u{2019}-6 \u{bd}\u{201d}",
        "28\u{2019}\u{a0}6\u{2009}1\u{2044}2\u{201d}",
        "28' 6 1/2''",
        "28'\u{2011}6\u{2011}1/2\"",
    ] {
        check(text, "342.5 in");
    }
    check("-28' 6\"", "-342 in");
    check("28'", "336 in");
    check("6'0\"", "72 in");
    check("1 yd 2 ft 3 in", "63 in");
}

#[test]
fn other_measures_carry_their_units() {
    check("2.7 mm", "2.7 mm");
    check("1.42 lb/ft2", "1.42 lb/ft2");
    check("1.42lb/ft\u{b2}", "1.42 lb/ft2");
    check("45 min", "45 min");
    check("1 hr 30 min", "90 min");
    check("3 lb 4 oz", "3.25 lb");
    check("1,250.5 ft", "1250.5 ft");
    check("60 sq ft", "60 ft2");
    check("10 fl oz", "10 fl oz");
    check("30 lb/100 ft2", "0.3 psf");
    check("2 dozen", "24 each");
    check("5 M", "5000 each");
    check("34 lb/ft^3", "34 pcf");
    check("1\u{a0}250 mm", "1250 mm");
    check("1\u{202f}250\u{202f}000.5 mm", "1250000.5 mm");
    check("9\u{a0}125/128 in", "9.9765625 in");
}

#[test]
fn a_comma_may_be_the_decimal_sign() {
    let read = |text: &str| number(text, DecimalSign::Comma).map(|value| exact(&value));
    assert_eq!(read("2,5").as_deref(), Ok("2.5"));
    assert_eq!(read("1.250,5").as_deref(), Ok("1250.5"));
    assert_eq!(read("-1.000").as_deref(), Ok("-1000"));
    let fault = read("1.5").unwrap_err();
    assert_eq!(fault.marker, 1);
    assert_eq!(fault.fault, "`.` parts thousands here, and no three digits follow");
    assert_eq!(fault.hint.as_deref(), Some("the decimal sign is `,`"));
}

#[test]
fn a_plain_number_has_no_unit() {
    let read = |text: &str| number(text, DecimalSign::Point).map(|value| exact(&value));
    assert_eq!(read("1,250").as_deref(), Ok("1250"));
    assert_eq!(read(" -1/3 ").as_deref(), Ok("-1/3"));
    assert_eq!(read("12 in"), Err(Fault::new(3, "`i` is not expected here")));
    assert_eq!(read(""), Err(Fault::new(0, "a number is missing")));
}

#[test]
fn faults_are_told_with_their_place() {
    refuse("", "^: a number is missing");
    refuse("  ", "  ^: a number is missing");
    refuse("oak", "^oak: `o` is not expected here");
    refuse("-", "-^: a number is missing");
    refuse("9.5 inn", "9.5 ^inn: no unit named `inn` / did you mean `in`?");
    refuse("3 days", "3 ^days: no unit named `days` / a day has no fixed length; write hours");
    refuse("3 T", "3 ^T: no unit named `T` / write `ton` for 2000 lb or `t` for 1000 kg");
    refuse("3 xyzzy", "3 ^xyzzy: no unit named `xyzzy`");
    refuse(
        "1,5",
        "1^,5: `,` parts thousands here, and no three digits follow / the decimal sign is `.`",
    );
    refuse(
        "1,2345",
        "1^,2345: `,` parts thousands here, and no three digits follow / the decimal sign is `.`",
    );
    refuse(
        "1.5,000",
        "1.5^,000: `,` parts thousands here, and no three digits follow / the decimal sign is `.`",
    );
    refuse("1.2.3", "1.2^.3: `.` is not expected here");
    refuse("1/0", "1/^0: a fraction over zero has no value");
    refuse("9 3/2 in", "9 ^3/2 in: the fraction after a whole number is below one");
    refuse("9.5 1/2", "^9.5 1/2: only a whole number is followed by a fraction");
    refuse("1.5/2", "^1.5/2: a fraction is made of two whole numbers");
    refuse("1/2.5", "1/^2.5: a fraction is made of two whole numbers");
    refuse(
        "2' 61/2\"",
        "2' ^61/2\": the smaller unit makes up a whole of the larger one / a part of a foot is below 12 in; is a \
         space missing before a fraction?",
    );
    refuse(
        "6 in 2 ft",
        "6 in ^2 ft: a second number needs a smaller unit of the same kind / write one number and one unit, or feet \
         and inches: `28' 6\"`",
    );
    refuse(
        "6 ft 2 lb",
        "6 ft ^2 lb: a second number needs a smaller unit of the same kind / write one number and one unit, or feet \
         and inches: `28' 6\"`",
    );
    refuse("28.5 ft 0 in", "28.5 ft ^0 in: only a whole number is followed by a smaller unit");
    refuse("6 ft 2", "6 ft 2^: a unit is missing after the last number");
    refuse("28' - 6\"", "28' ^- 6\": `-` is not expected here");
    refuse("28 ft-6 in", "28 ft^-6 in: `-` is not expected here");
    refuse("92 - 5/8", "92 ^- 5/8: `-` is not expected here");
    refuse("1e99", "1^e99: an exponent is at most 60");
    refuse(&"1".repeat(39), &format!("^{}: a number has at most 38 digits", "1".repeat(39)));
    refuse("5 %", "5 ^%: `%` is not expected here");
    refuse("16 in * 2", "16 ^in * 2: no unit named `in * 2`");
}

#[test]
fn lengths_print_in_feet_inches_and_the_least_fraction() {
    for (numerator, denominator, expected) in [
        (0, 1, "0\""),
        (685, 2, "28' 6-1/2\""),
        (9, 1, "9\""),
        (19, 2, "9-1/2\""),
        (15, 32, "15/32\""),
        (12, 1, "1' 0\""),
        (-685, 2, "-28' 6-1/2\""),
        (741, 64, "11-37/64\""),
        (2305, 64, "3' 1/64\""),
    ] {
        let length = Length::from_inches(numerator, denominator).unwrap();
        assert_eq!(feet_and_inches(length), expected);
    }
    assert_eq!(feet_and_inches(Length::from_nanometers(2_700_000)), "0.10629921\"");
    assert_eq!(feet_and_inches(Length::from_nanometers(-1)), "-0.00000004\"");
    assert_eq!(feet_and_inches(Length::from_nanometers(304_799_999)), "11.99999996\"");
}

#[test]
fn numbers_print_exactly_or_rounded() {
    let third = Ratio::new(1, 3).unwrap();
    assert_eq!(exact(&third), "1/3");
    assert_eq!(exact(&Ratio::decimal(-1250, 3)), "-1.25");
    assert_eq!(exact(&Ratio::whole(7)), "7");
    assert_eq!(rounded(&third, 4, Rounding::HalfEven), "0.3333");
    assert_eq!(rounded(&Ratio::decimal(-5, 3), 2, Rounding::HalfUp), "-0.01");
    assert_eq!(rounded(&Ratio::decimal(-5, 3), 2, Rounding::HalfEven), "0.00");
    assert_eq!(rounded(&Ratio::decimal(25, 1), 0, Rounding::HalfEven), "2");
    assert_eq!(rounded(&Ratio::whole(12), 2, Rounding::HalfEven), "12.00");
}

#[test]
fn measures_are_shown_in_the_unit_of_their_kind() {
    for (text, expected) in [
        ("8 ft", "96 in"),
        ("1/3 in", "0.333333 in"),
        ("288 in2", "2 ft2"),
        ("1 yd3", "27 ft3"),
        ("24 oz", "1.5 lb"),
        ("2 h", "120 min"),
        ("7 each", "7"),
        ("144 lb/ft2", "1 lb/in2"),
        ("3 min/ft", "0.25 min/in"),
        ("-0.0000001 in", "0 in"),
    ] {
        assert_eq!(shown(&parse(text).unwrap()), expected);
    }
    let inverse = Measure {
        value: Ratio::ONE.checked_div(&Length::INCH.to_ratio()).unwrap(),
        dimension: Dimension { length: -1, ..Dimension::NUMBER },
    };
    assert_eq!(shown(&inverse), "1 1/in");
}

proptest! {
    #[test]
    fn a_printed_length_reads_back(nanometers in any::<i64>()) {
        let length = Length::from_nanometers(nanometers);
        let back = parse(&feet_and_inches(length)).unwrap();
        prop_assert_eq!(back.to_length(), Some(length));
    }

    #[test]
    fn a_printed_shop_length_reads_back_exactly(sixty_fourths in -1_000_000_i64..1_000_000) {
        let length = Length::from_inches(sixty_fourths, 64).unwrap();
        let back = parse(&feet_and_inches(length)).unwrap();
        prop_assert_eq!(back, Measure::length(length));
    }

    #[test]
    fn an_exact_number_reads_back(
        numerator in -1_000_000_000_000_000_000_i128..1_000_000_000_000_000_000,
        denominator in 1_i128..1_000_000_000,
        name in prop::sample::select(vec!["in", "ft2", "gal", "kg", "lb/ft2", "h", "each"]),
    ) {
        let unit = unit::find(name).unwrap();
        let value = Ratio::new(numerator, denominator).unwrap();
        let printed = format!("{} {name}", exact(&value));
        let back = parse(&printed).unwrap();
        prop_assert_eq!(unit.count(&back), Some(value));
    }

    #[test]
    fn any_text_is_read_or_refused_within_itself(text in "\\PC{0,24}|[0-9 ./'\"\u{bd}\u{2032}\u{a0}a-z,e^*-]{0,16}") {
        if let Err(fault) = parse(&text) {
            prop_assert!(text.is_char_boundary(fault.marker));
        }
        let _ = measure(&text, None, DecimalSign::Comma);
    }
}
