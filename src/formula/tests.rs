use proptest::prelude::*;

use super::*;
use crate::quantity::text::{exact, shown};
use crate::quantity::{Length, Ratio, unit};

/// What the tests know by name: a wall of 10 ft 6 in by 84 in, two windows, options.
fn lookup(name: &str) -> Option<Value> {
    let measure =
        |text: &str| text::measure(text, None, DecimalSign::Point).map(Value::Measure).ok();
    match name {
        "length" => measure("10 ft 6 in"),
        "width" => measure("84 in"),
        "windows" | "m" => measure("2"),
        "gvwr" => measure("9950 lb"),
        "in" => measure("7"),
        "h" => measure("3 in"),
        "c" => measure("96 in"),
        "solar" => Some(Value::Truth(true)),
        "winter" => Some(Value::Truth(false)),
        _ => None,
    }
}

fn evaluate(text: &str) -> Result<Value, Fault> {
    let inch = unit::find("in").unwrap();
    Expression::parse(text, Some(&inch))?.evaluate(&lookup)
}

/// Checks what a cell comes to: a truth, a number, or a measure in inches, ft2, lb or min, to six places.
#[track_caller]
fn check(text: &str, expected: &str) {
    let found = match evaluate(text) {
        Ok(Value::Truth(truth)) => truth.to_string(),
        Ok(Value::Measure(measure)) => shown(&measure),
        Err(fault) => describe(text, &fault),
    };
    assert_eq!(found, expected, "{text}");
}

/// Checks the exact value of a formula that comes to a number.
#[track_caller]
fn check_exact(text: &str, expected: &str) {
    match evaluate(text) {
        Ok(Value::Measure(measure)) if measure.dimension == Dimension::NUMBER => {
            assert_eq!(exact(&measure.value), expected, "{text}");
        }
        other => panic!("{text}: {other:?}"),
    }
}

/// A fault in whole: the text with a `^` before the place, what is wrong, and the hint.
fn describe(text: &str, fault: &Fault) -> String {
    let (before, after) = text.split_at(fault.marker);
    let hint = fault.hint.as_ref().map(|hint| format!(" / {hint}")).unwrap_or_default();
    format!("{before}^{after}: {}{hint}", fault.fault)
}

// Source: OpenFormula 1.3 (OASIS OpenDocument part 4), 5.5: a sign binds tighter than `^`, and `^` runs left to right.
#[test]
fn precedence_is_that_of_openformula() {
    check("=2+3*4", "14");
    check("=-2^2", "4");
    check("=0-2^2", "-4");
    check("=2^3^2", "64");
    check("=2^-1", "0.5");
    check("=8/4/2", "1");
    check("=10-4-3", "3");
    check("=200*5%", "10");
    check("=5%^2", "0.0025");
    check("=-5%", "-0.05");
    check("=(2+3)*4", "20");
    check("=1+1=2", "true");
    check("=2*3<>6", "false");
    check("=+3", "3");
    check("=--3", "3");
    check("=1 = 1 AND 2 > 3 OR 1 < 2", "true");
    check("=NOT 1 = 2", "true");
    check("=NOT TRUE OR TRUE", "true");
    check("=TRUE OR TRUE AND FALSE", "true");
}

#[test]
fn a_whole_cell_that_reads_as_a_measure_is_one() {
    check("92-5/8", "92.625 in");
    check("28' 6-1/2\"", "342.5 in");
    check("28'-6\"", "342 in");
    check("96", "96 in");
    check("1,250.5", "1250.5 in");
    check("2.7 mm", "0.106299 in");
    check("45 min", "45 min");
    check("=96", "96");
    check("2 * 48", "96");
    check("5 %", "0.05");
}

#[test]
fn a_name_after_a_number_or_a_parenthesis_is_a_unit() {
    check("length / 16 in", "7.875");
    check("(width - 2 * 1.5 in)", "81 in");
    check("(92 + 5/8) in", "92.625 in");
    check("(9 + 1/2)\"", "9.5 in");
    check("2 * 28' 6\"", "684 in");
    check("2 * 28\u{2032} 6\u{2033}", "684 in");
    check("2 * 9\u{bd} in", "19 in");
    check("length + 6 ft 2 in", "200 in");
    check("2 * in", "14");
    check("2 in * in", "14 in");
    check("2 * m", "4");
    check("2 m * m", "157.480315 in");
    check("10 ft2 * 1.42 lb/ft2", "14.2 lb");
    check("10 ft2 * 1.42 lb / 1 ft2", "14.2 lb");
    check("96 in / h", "32");
    check("3 sq ft + 144 in2", "4 ft2");
    check("SUM(1; 2) in", "3 in");
    check("2*length", "252 in");
    check("LENGTH", "126 in");
    check("2 in/length * 63", "1");
    check("2 in * m", "4 in");
    check("2 in / m", "1 in");
    check("2 in/m * 1 m", "2 in");
}

// Source: studs in a wall: 40 ft at 16 in is 31 (published); "192/16 = 12, so 12 studs" is a wrong rule seen in print,
// the answer is 13; 126 in at 16 in is 9, counting the end stud (computed).
#[test]
fn stud_counts_are_exact() {
    check("ROUNDUP(40 ft / 16 in) + 1", "31");
    check("ROUNDUP(192 in / 16 in) + 1", "13");
    check("ROUNDUP(length / 16 in) + 1", "9");
}

// Source: an open carpentry textbook (2022), wall framing: 240 ft of wall, 12 corners, 10 intersections and 20 openings
// take 3/4 of the length in feet and two for each of these, 264 studs; plates 3 x 240 ft and 10 %: 57 pieces of 14 ft.
#[test]
fn the_textbook_framing_takeoff_comes_out() {
    check("240 ft / 1 ft * 3/4 + 2 * (12 + 10 + 20)", "264");
    check("ROUNDUP(3 * 240 ft * 110% / 14 ft)", "57");
}

// Source: computed geometry. The arc over a chord of 96 in with a rise of 3 in: radius 385.5 in, arc 96.2498 in.
#[test]
fn a_bow_is_longer_than_its_chord() {
    check("(c^2/4 + h^2) / (2*h)", "385.5 in");
    let arc = "2 * (c^2/4 + h^2) / (2*h) * ASIN(c / 2 / ((c^2/4 + h^2) / (2*h)))";
    check(arc, "96.249805 in");
    check(&format!("ROUND({arc} / 1 in; 4)"), "96.2498");
    check(&format!("CEILING({arc}; (1/16) in)"), "96.25 in");
}

// Source: a hardwood supplier's how-to: 4/4 stock 8 in wide and 8 ft long is 5.33 board feet; a carpentry textbook (2022): a
// 2x4 has 2/3 board foot per foot; a lumber chart: 1 x 10 in stock, 16 ft long, 13.33 board feet.
#[test]
fn board_feet_are_exact() {
    check_exact("1 in * 8 in * 8 ft / 1 BF", "16/3");
    check_exact("2 in * 4 in * 1 ft / 1 BF", "2/3");
    check("ROUND(1 in * 10 in * 16 ft / 1 BF; 2)", "13.33");
}

// Source: OpenFormula 1.3, 6.16 and 6.17; values computed.
#[test]
fn rounding_goes_where_openformula_says() {
    check("ROUND(2.5)", "3");
    check("ROUND(-2.5)", "-3");
    check("ROUND(2.675; 2)", "2.68");
    check("ROUND(1234; -2)", "1200");
    check("ROUNDUP(2.1)", "3");
    check("ROUNDUP(-2.1)", "-3");
    check("ROUNDUP(0.1 + 0.2 - 0.3)", "0");
    check("ROUNDDOWN(-2.9)", "-2");
    check("TRUNC(-2.99; 1)", "-2.9");
    check("INT(-2.1)", "-3");
    check("CEILING(2.1)", "3");
    check("CEILING(-2.5; 2)", "-2");
    check("CEILING(length; 2 ft)", "144 in");
    check("CEILING(12 ft; 2 ft)", "144 in");
    check("FLOOR(length; 2 ft)", "120 in");
    check("FLOOR(-2.5; 2)", "-4");
    check("MOD(length; 16 in)", "14 in");
    check("MOD(-5; 3)", "1");
    check("MOD(5; -3)", "-1");
    check("QUOTIENT(-7; 2)", "-3");
    check("QUOTIENT(length; 16 in)", "7");
    check("EVEN(3)", "4");
    check("EVEN(-1)", "-2");
    check("EVEN(2)", "2");
    check("EVEN(0)", "0");
    check("ODD(2)", "3");
    check("ODD(-2)", "-3");
    check("ODD(0)", "1");
    check("ODD(3)", "3");
    check("ODD(0.2)", "1");
    check("ABS(-3 in)", "3 in");
    check("SIGN(-3 in)", "-1");
}

#[test]
fn the_other_functions_work() {
    check("MIN(length; width; 7 ft)", "84 in");
    check("max(length; width)", "126 in");
    check("SUM(1 in; 2 in; 3 in)", "6 in");
    check("AVERAGE(1 in; 2 in)", "1.5 in");
    check("PRODUCT(2; 3 ft; 4 ft)", "24 ft2");
    check("GCD(12; 18; 27)", "3");
    check("LCM(4; 6)", "12");
    check("LCM(0; 6)", "0");
    check("POWER(3 ft; 2)", "9 ft2");
    check("POWER(2; -3)", "0.125");
    check("CHOOSE(2; 1 in; 2 in; 1/0)", "2 in");
    check("AND(TRUE; 1 < 2)", "true");
    check("OR(FALSE(); FALSE)", "false");
    check("XOR(TRUE; TRUE; TRUE)", "true");
    check("NOT(solar)", "false");
    check("NOT (solar) OR winter", "false");
    check("solar AND NOT winter", "true");
    check("IF(windows > 1 AND solar; 3 in; 5 in)", "3 in");
    check("IF(winter; 1/0; 2)", "2");
    check("IF(TRUE; 1; length + 1)", "1");
    check("winter AND 1/0 > 1", "false");
    check("solar OR length > 1", "true");
    check("solar <> winter", "true");
}

// Source: a triangle of sides 3, 4 and 5; the square root of 2 is OEIS A002193.
#[test]
fn roots_are_exact_or_rounded_as_said() {
    check_exact("SQRT(9/16)", "0.75");
    check_exact("SQRT(2)", "1.41421356237309505");
    check_exact("SQRT(200)", "14.1421356237309505");
    check_exact("SQRT(0)", "0");
    check("SQRT((3 ft)^2 + (4 ft)^2)", "60 in");
    check("4^0.5", "2");
    check("(9 ft2)^0.5", "36 in");
    let diagonal = evaluate("SQRT((1 in)^2 + (1 in)^2)").unwrap();
    let length = Length::from_nanometers(35_921_024);
    assert_eq!(diagonal, Value::Measure(Measure::length(length)));
}

#[test]
fn angles_are_exact_where_they_can_be() {
    check_exact("SIN(PI() / 6)", "0.5");
    check_exact("COS(RADIANS(60))", "0.5");
    check_exact("ROUNDUP(TAN(PI() / 4))", "1");
    check_exact("DEGREES(PI())", "180");
    check_exact("SIN(1)", "0.841470984807896507");
    check_exact("ATAN(1)", "0.78539816339744831");
    check_exact("ACOS(1)", "0");
    check("ATAN2(3 ft; 36 in) / PI() * 180", "45");
}

#[test]
fn dimensions_do_not_mix() {
    check(
        "length + 3",
        "length ^+ 3: a number cannot be added to a length / if the number lacks its unit, write it so: `3 in`",
    );
    check(
        "3 - gvwr",
        "3 ^- gvwr: a weight cannot be taken from a number / if the number lacks its unit, write it so: `3 lb`",
    );
    check("length + gvwr", "length ^+ gvwr: a weight cannot be added to a length");
    check("length * width + 1 in", "length * width ^+ 1 in: a length cannot be added to an area");
    check(
        "length > 3",
        "length ^> 3: a length cannot be compared with a number / if the number lacks its unit, write it so: `3 in`",
    );
    check(
        "MAX(0; length)",
        "MAX(0; ^length): the arguments of MAX are alike, and this is a length after a number / if the number lacks its unit, write it so: `3 in`",
    );
    check(
        "ROUNDUP(length)",
        "ROUNDUP(^length): ROUNDUP takes a number, and this is a length / say to which unit: CEILING(..; 1 in), or ROUNDUP(.. / 1 in)",
    );
    check(
        "INT(gvwr)",
        "INT(^gvwr): INT takes a number, and this is a weight / say to which unit: FLOOR(..; 1 lb), or INT(.. / 1 lb)",
    );
    check(
        "SIN(length)",
        "SIN(^length): SIN takes a number, and this is a length / divide by a unit: `.. / 1 in`",
    );
    check(
        "CEILING(length; 2)",
        "CEILING(length; ^2): the arguments of CEILING are alike, and this is a number after a length / if the number lacks its unit, write it so: `3 in`",
    );
    check("CEILING(length; 0 in)", "CEILING(length; ^0 in): the step is above zero");
    check(
        "SQRT(length)",
        "^SQRT(length): a length has no square root / a number or an area has one",
    );
    check("SQRT(-1)", "^SQRT(-1): a value below zero has no square root");
    check("2 ^ length", "2 ^^ length: an exponent is a number, and this is a length");
    check("length ^ 200", "length ^^ 200: the result has a dimension of too high a power");
    check(
        "2 * solar",
        "2 * ^solar: this is a truth, and a number is expected / write IF(condition; 1; 0)",
    );
    check(
        "solar + 1",
        "^solar + 1: this is a truth, and a number is expected / write IF(condition; 1; 0)",
    );
    check(
        "IF(windows; 1; 2)",
        "IF(^windows; 1; 2): this is a number, and a condition is expected / compare it with something, such as `> 0`",
    );
    check(
        "solar AND windows",
        "solar AND ^windows: this is a number, and a condition is expected / compare it with something, such as `> 0`",
    );
    check(
        "1 < windows < 3",
        "1 < windows ^< 3: a truth cannot be compared with a number / two comparisons are joined by AND",
    );
    check("solar < winter", "solar ^< winter: truths are only equal or not");
}

#[test]
fn mistakes_are_told_with_their_place() {
    check("", "^: the formula ends too early");
    check("=", "=^: the formula ends too early");
    check("2 *", "2 *^: the formula ends too early");
    check("length / (2", "length / ^(2: this `(` is never closed");
    check("length)", "length^): no `(` stands before this `)`");
    check("MAX(1, 2)", "MAX(1^, 2): `,` is not expected here / arguments are parted by `;`");
    check("length; width", "length^; width: `;` parts the arguments of a function only");
    check("(1; 2)", "(1^; 2): `;` parts the arguments of a function only");
    check("length width", "length ^width: an operator is missing before `width`");
    check(
        "roundupp(length / 16 in)",
        "^roundupp(length / 16 in): no function named `roundupp` / did you mean `ROUNDUP`?",
    );
    check("length(2)", "^length(2): no function named `length` / to multiply, write `length * (`");
    check("height / 2", "^height / 2: no value named `height` here");
    check(
        "round + 1",
        "^round + 1: no value named `round` here / the arguments of a function stand in parentheses",
    );
    check("2 * ft", "2 * ^ft: no value named `ft` here / a unit follows a number: `1 ft`");
    check("2 length", "2 ^length: no unit named `length` / to multiply, write `* length`");
    check("2 * 3 inn", "2 * 3 ^inn: no unit named `inn` / did you mean `in`?");
    check(
        "IF(solar; 1)",
        "^IF(solar; 1): IF takes 3 arguments, not 2 / write IF(condition; then; else)",
    );
    check("MOD(1)", "^MOD(1): MOD takes 2 arguments, not 1 / write MOD(value; divisor)");
    check(
        "ROUND(1; 2; 3)",
        "^ROUND(1; 2; 3): ROUND takes 1 or 2 arguments, not 3 / write ROUND(number; places)",
    );
    check("MAX()", "^MAX(): MAX takes 1 to 255 arguments, not 0 / write MAX(value; ...)");
    check("PI(1)", "^PI(1): PI takes no arguments, not 1 / write PI()");
    check("1 / 0 in", "1 ^/ 0 in: a division by zero");
    check("length / (windows - 2)", "length ^/ (windows - 2): a division by zero");
    check("=0^0", "=0^^0: zero to the power of zero has no value");
    check("MOD(length; 0 in)", "MOD(length; ^0 in): a division by zero");
    check("ASIN(2)", "ASIN(^2): this is not from -1 to 1");
    check("TAN(PI() / 2)", "TAN(^PI() / 2): the tangent of this angle has no value");
    check("GCD(4; 1.5)", "GCD(4; ^1.5): the arguments of GCD are whole numbers, not below zero");
    check("CHOOSE(3; 1; 2)", "CHOOSE(^3; 1; 2): the index of CHOOSE is a whole number from 1 to 2");
    check("ROUND(1; 0.5)", "ROUND(1; ^0.5): places are a whole number from -30 to 30");
    check(
        "solar == winter",
        "solar ^== winter: `==` is not expected here / equality is a single `=`",
    );
    check(
        "solar && winter",
        "solar ^&& winter: `&` is not expected here / conditions are joined by AND",
    );
    check("solar != winter", "solar ^!= winter: `!=` is not expected here / inequality is `<>`");
    check(
        "\"oak\"",
        "^\"oak\": `\"` is not expected here / a mark of feet or inches follows a number",
    );
    check("length # 2", "length ^# 2: `#` is not expected here");
    check("AND length", "^AND length: `AND` is not expected here / AND and OR join two conditions");
    check("9 1/2 inn", "9 1/2 ^inn: no unit named `inn` / did you mean `in`?");
    check(
        "= 1 2",
        "= 1 ^2: two numbers stand side by side / an operator or a unit is missing between them",
    );
    check(
        "width * 3 ft^2",
        "width * 3 ft^^2: a power after a unit can be read in two ways / write `ft2` for the unit, or `(..)^2` for the value",
    );
}

#[test]
fn mixed_fractions_within_a_formula_are_refused() {
    check(
        "2 * 92-5/8",
        "2 * ^92-5/8: a mixed fraction within a formula can be read in two ways / write `(92 + 5/8)`, or `92 - 5/8` for a difference",
    );
    check(
        "length - 9 1/2 in",
        "length - ^9 1/2 in: a mixed fraction within a formula can be read in two ways / write `(9 + 1/2) in`",
    );
    check(
        "length - 9-1/2\"",
        "length - ^9-1/2\": a mixed fraction within a formula can be read in two ways / write `(9 + 1/2)\"`",
    );
    check(
        "2 * 28' 6-1/2\"",
        "2 * 28' ^6-1/2\": a mixed fraction within a formula can be read in two ways / write `28' + (6 + 1/2)\"`",
    );
    check(
        "=92-5/8",
        "=^92-5/8: a mixed fraction within a formula can be read in two ways / write `(92 + 5/8)`, or `92 - 5/8` for a difference",
    );
    check(
        "92 - 5/8",
        "92 ^- 5/8: this may be a mixed fraction or a difference / write `92-5/8` for the mixed fraction, `= 92 - 5/8` for the difference",
    );
    check(
        "length - 1/16 in",
        "length - ^1/16 in: a fraction before a unit can be read in two ways / write `(1/16) in`, or `1 / 16 in` for a quotient",
    );
    check(
        "length - 1/16\"",
        "length - ^1/16\": a fraction before a unit can be read in two ways / write `(1/16)\"`, or `1 / 16\"` for a quotient",
    );
    check("240 in / 16 in", "15");
    check("1/16 in", "0.0625 in");
    check("= 92 - 5/8", "91.375");
    check("=10-4/2", "8");
    check("=2-1", "1");
    check("2 * (92 + 5/8) in", "185.25 in");
    check("2 * 28'", "672 in");
    check("2 * 28' 6", "2 * 28' 6^: a unit is missing after `6` / write `6\"` for inches");
}

#[test]
fn a_hyphen_between_feet_and_inches_is_no_minus() {
    let fault = "a hyphen between feet and inches can be read as a minus / write `28' 6\"` for a sum, `28 ft - 6 in` for a difference";
    check("28' - 6\"", &format!("28' ^- 6\": {fault}"));
    check("28' - 6 1/2\"", &format!("28' ^- 6 1/2\": {fault}"));
    check("2 * 28'-6\"", &format!("2 * 28'^-6\": {fault}"));
    check("28 ft-6 in", &format!("28 ft^-6 in: {fault}"));
    check("28 ft - 6 in", "330 in");
    check("28' - 6 in", "330 in");
    check("28' - 6'", "264 in");
    check("28' - 2 * 3\"", "330 in");
}

#[test]
fn names_are_listed_once_in_lower_case() {
    let expression = Expression::parse("Length * width + LENGTH * wall_height.2", None).unwrap();
    assert_eq!(expression.names(), ["length", "width", "wall_height.2"]);
    assert_eq!(expression.text(), "Length * width + LENGTH * wall_height.2");
    assert_eq!(expression.as_constant(), None);
    let constant = Expression::parse("2 * 3 ft", None).unwrap();
    assert_eq!(constant.names(), [] as [&str; 0]);
    assert_eq!(constant.as_constant().and_then(Measure::to_length), Some(Length::FOOT * 6));
    assert_eq!(Expression::parse("TRUE", None).unwrap().as_constant(), None);
}

#[test]
fn mistakes_without_names_are_found_while_parsing() {
    let fault = Expression::parse("IF(solar; length; 1) + (2 ft + 3 lb)", None).unwrap_err();
    assert_eq!((fault.marker, fault.fault.as_str()), (29, "a weight cannot be added to a length"));
    assert!(Expression::parse("IF(solar; 1; 1/0)", None).is_ok());
}

#[test]
fn results_are_held_to_what_is_expected() {
    let parse = |text: &str| Expression::parse(text, None).unwrap();
    let length = parse("length").evaluate_measure(Dimension::LENGTH, &lookup).unwrap();
    assert_eq!(shown(&length), "126 in");
    let fault = parse(" 2 * 3").evaluate_measure(Dimension::AREA, &lookup).unwrap_err();
    assert_eq!(fault, Fault::new(1, "this is a number, and an area is expected"));
    let fault = parse("solar").evaluate_measure(Dimension::LENGTH, &lookup).unwrap_err();
    assert_eq!(fault, Fault::new(0, "this is a truth, and a length is expected"));
    assert_eq!(parse("solar").evaluate_truth(&lookup), Ok(true));
    assert!(parse("3").evaluate_truth(&lookup).is_err());
}

#[test]
fn decimal_commas_are_read_where_the_file_has_them() {
    let parse = |text: &str| Expression::parse_with(text, None, DecimalSign::Comma);
    let value = |text: &str| parse(text).map(|expression| expression.as_constant().map(shown));
    assert_eq!(value("2,5"), Ok(Some("2.5".to_owned())));
    assert_eq!(value("MAX(2,5; 1,5) * 2"), Ok(Some("5".to_owned())));
    let fault = parse("2 * 1.5").unwrap_err();
    assert_eq!((fault.marker, fault.fault.as_str()), (5, "`.` is not expected here"));
}

#[test]
fn hostile_texts_are_refused_at_once() {
    let fault = |text: &str| Expression::parse(text, None).unwrap_err().fault;
    assert_eq!(fault(&"1+".repeat(6000)), "a formula has at most 10000 characters");
    assert_eq!(fault(&"(".repeat(5000)), "a formula nests at most 100 deep");
    assert_eq!(fault(&format!("={}1", "-".repeat(5000))), "a formula nests at most 100 deep");
    assert_eq!(fault(&"NOT ".repeat(2000)), "a formula nests at most 100 deep");
    assert_eq!(fault("9^9^9^9"), "the result has too many digits");
    assert_eq!(fault("=2^100000"), "an exponent is whole or a half, from -1000 to 1000");
    assert_eq!(fault(&format!("1{}", "*9e60".repeat(1900))), "the result has too many digits");
    assert_eq!(fault("SIN(1e30)"), "the angle is too large");
    let long = format!("1{}", "+1".repeat(4900));
    assert_eq!(
        Expression::parse(&long, None).unwrap().as_constant().map(shown),
        Some("4901".to_owned())
    );
}

#[test]
fn the_deepest_nesting_fits_a_small_stack() {
    let nested = |open: &str, close: &str, count: usize| {
        format!("x + {}1{}", open.repeat(count), close.repeat(count))
    };
    let texts = [
        nested("(", ")", 100),
        nested("MAX(x OR NOT x = 1 + 2 * 3 ^ IF(TRUE; ", "; 1))", 33),
        nested("1 + 2 * x ^ (", ")", 100),
        format!("{}x", "-".repeat(100)),
    ];
    let worker = std::thread::Builder::new().stack_size(1 << 20).spawn(move || {
        let number = |_: &str| Some(Value::Measure(Measure::number(Ratio::ONE)));
        let mut parsed = 0;
        for text in texts {
            let expression = Expression::parse(&text, None).unwrap();
            let _ = expression.evaluate(&number);
            parsed += 1;
        }
        parsed
    });
    assert_eq!(worker.unwrap().join().unwrap(), 4);
}

#[test]
fn the_documentation_lists_every_function_and_no_other() {
    let documentation = include_str!("../../docs/formulas.md");
    let (_, table) = documentation.split_once("| function | gives |\n").unwrap();
    let listed: Vec<&str> = table
        .lines()
        .take_while(|line| line.starts_with('|'))
        .filter_map(|line| line.strip_prefix("| `")?.split_once('('))
        .map(|(name, _)| name)
        .collect();
    let known: Vec<&str> = functions::SIGNATURES.iter().map(|signature| signature.name).collect();
    assert_eq!(listed, known);
    for signature in functions::SIGNATURES {
        let call = format!("`{}({})`", signature.name, signature.arguments);
        assert!(documentation.contains(&call), "{call}");
    }
}

/// Runs the examples of the documentation: `formula` | result in the tables whose head says so.
#[test]
fn the_examples_of_the_documentation_come_out() {
    let documentation = include_str!("../../docs/formulas.md");
    let (_, examples) = documentation.split_once("| cell | comes to |").unwrap();
    let rows = examples.lines().skip(2).take_while(|line| line.starts_with('|'));
    let mut count = 0;
    for row in rows {
        let cells: Vec<&str> = row.trim_matches(['|', ' ']).split(" | ").collect();
        check(cells[0].trim_matches('`'), cells[1].trim());
        count += 1;
    }
    assert!(count >= 8, "{count} examples");
}

proptest! {
    #[test]
    fn any_text_is_parsed_or_refused_within_itself(text in "\\PC{0,20}|[0-9 ./'\"a-e;()*+^%<>=-]{0,24}") {
        if let Err(fault) = Expression::parse(&text, None) {
            prop_assert!(text.is_char_boundary(fault.marker));
        }
    }

    #[test]
    fn sums_and_products_agree_with_ratios(a in -999_i64..999, b in -999_i64..999, c in 1_i64..999) {
        let text = format!("=({a}) * ({b}) + ({a}) / {c} - ({b})");
        let (x, y, z) = (Ratio::from(a), Ratio::from(b), Ratio::from(c));
        let expected = &(&x * &y) + &(&x.checked_div(&z).unwrap() - &y);
        prop_assert_eq!(evaluate(&text), Ok(Value::Measure(Measure::number(expected))));
    }

    #[test]
    fn studs_are_never_off_by_one(intervals in 1_i64..500, sixty_fourths in 1_i64..4096) {
        let spacing = format!("({sixty_fourths} / 64) in");
        let text = format!("ROUNDUP({intervals} * {spacing} / {spacing}) + 1");
        check(&text, &(intervals + 1).to_string());
    }
}
