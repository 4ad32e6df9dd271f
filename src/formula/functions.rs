use crate::diag::did_you_mean;
use crate::formula::evaluate::{
    Scope, article, clash, condition, divide, evaluate, limited, measure, noun, power,
};
use crate::formula::parser::Node;
use crate::formula::{Fault, Value};
use crate::quantity::{Dimension, Measure, Ratio, unit};

/// ROUND and its kin go so many places left or right of the point.
const MOST_PLACES: i128 = 30;
/// An irrational root that is no length has so many significant digits.
const ROOT_DIGITS: i32 = 18;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Function {
    Abs,
    Acos,
    And,
    Asin,
    Atan,
    Atan2,
    Average,
    Ceiling,
    Choose,
    Cos,
    Degrees,
    Even,
    False,
    Floor,
    Gcd,
    If,
    Int,
    Lcm,
    Max,
    Min,
    Mod,
    Not,
    Odd,
    Or,
    Pi,
    Power,
    Product,
    Quotient,
    Radians,
    Round,
    RoundDown,
    RoundUp,
    Sign,
    Sin,
    Sqrt,
    Sum,
    Tan,
    True,
    Trunc,
    Xor,
}

/// How a function is called: its name, the fewest and most arguments, and the arguments in words.
pub(super) struct Signature {
    pub(super) name: &'static str,
    function: Function,
    fewest: usize,
    most: usize,
    pub(super) arguments: &'static str,
}

const MANY: usize = 255;

/// The functions, by name.
pub(super) const SIGNATURES: &[Signature] = &[
    signature("ABS", Function::Abs, 1, 1, "value"),
    signature("ACOS", Function::Acos, 1, 1, "number"),
    signature("AND", Function::And, 1, MANY, "condition; ..."),
    signature("ASIN", Function::Asin, 1, 1, "number"),
    signature("ATAN", Function::Atan, 1, 1, "number"),
    signature("ATAN2", Function::Atan2, 2, 2, "x; y"),
    signature("AVERAGE", Function::Average, 1, MANY, "value; ..."),
    signature("CEILING", Function::Ceiling, 1, 2, "value; step"),
    signature("CHOOSE", Function::Choose, 2, MANY, "index; value; ..."),
    signature("COS", Function::Cos, 1, 1, "radians"),
    signature("DEGREES", Function::Degrees, 1, 1, "radians"),
    signature("EVEN", Function::Even, 1, 1, "number"),
    signature("FALSE", Function::False, 0, 0, ""),
    signature("FLOOR", Function::Floor, 1, 2, "value; step"),
    signature("GCD", Function::Gcd, 1, MANY, "number; ..."),
    signature("IF", Function::If, 3, 3, "condition; then; else"),
    signature("INT", Function::Int, 1, 1, "number"),
    signature("LCM", Function::Lcm, 1, MANY, "number; ..."),
    signature("MAX", Function::Max, 1, MANY, "value; ..."),
    signature("MIN", Function::Min, 1, MANY, "value; ..."),
    signature("MOD", Function::Mod, 2, 2, "value; divisor"),
    signature("NOT", Function::Not, 1, 1, "condition"),
    signature("ODD", Function::Odd, 1, 1, "number"),
    signature("OR", Function::Or, 1, MANY, "condition; ..."),
    signature("PI", Function::Pi, 0, 0, ""),
    signature("POWER", Function::Power, 2, 2, "value; exponent"),
    signature("PRODUCT", Function::Product, 1, MANY, "value; ..."),
    signature("QUOTIENT", Function::Quotient, 2, 2, "value; divisor"),
    signature("RADIANS", Function::Radians, 1, 1, "degrees"),
    signature("ROUND", Function::Round, 1, 2, "number; places"),
    signature("ROUNDDOWN", Function::RoundDown, 1, 2, "number; places"),
    signature("ROUNDUP", Function::RoundUp, 1, 2, "number; places"),
    signature("SIGN", Function::Sign, 1, 1, "value"),
    signature("SIN", Function::Sin, 1, 1, "radians"),
    signature("SQRT", Function::Sqrt, 1, 1, "value"),
    signature("SUM", Function::Sum, 1, MANY, "value; ..."),
    signature("TAN", Function::Tan, 1, 1, "radians"),
    signature("TRUE", Function::True, 0, 0, ""),
    signature("TRUNC", Function::Trunc, 1, 2, "number; places"),
    signature("XOR", Function::Xor, 1, MANY, "condition; ..."),
];

const fn signature(
    name: &'static str,
    function: Function,
    fewest: usize,
    most: usize,
    arguments: &'static str,
) -> Signature {
    Signature { name, function, fewest, most, arguments }
}

impl Function {
    /// Whether arguments after the first may never be evaluated.
    pub(super) fn is_lazy(self) -> bool {
        matches!(self, Function::If | Function::Choose)
    }

    fn signature(self) -> &'static Signature {
        SIGNATURES
            .iter()
            .find(|signature| signature.function == self)
            .expect("every function stands in the table")
    }
}

/// Returns the function of this name, case aside.
pub(super) fn find(name: &str) -> Option<Function> {
    SIGNATURES
        .iter()
        .find(|signature| signature.name.eq_ignore_ascii_case(name))
        .map(|signature| signature.function)
}

/// Returns the fault of a name before a parenthesis that is no function.
pub(super) fn unknown(at: usize, name: &str) -> Fault {
    let fault = Fault::new(at, format!("no function named `{name}`"));
    let upper = name.to_uppercase();
    let nearest = SIGNATURES
        .iter()
        .map(|signature| (strsim::damerau_levenshtein(&upper, signature.name), signature.name))
        .min_by_key(|(distance, _)| *distance)
        .filter(|(distance, known)| *distance <= 2 && *distance < known.len());
    match nearest {
        Some((_, known)) => fault.with_hint(did_you_mean(known)),
        None => fault.with_hint(format!("to multiply, write `{name} * (`")),
    }
}

/// Returns the fault of a name that has no value.
pub(super) fn value_unknown(at: usize, name: &str) -> Fault {
    let fault = Fault::new(at, format!("no value named `{name}` here"));
    if find(name).is_some() {
        return fault.with_hint("the arguments of a function stand in parentheses");
    }
    match unit::find(name) {
        Some(_) => fault.with_hint(format!("a unit follows a number: `1 {name}`")),
        None => fault,
    }
}

/// Refuses a call with too few or too many arguments.
pub(super) fn check_count(function: Function, count: usize, at: usize) -> Result<(), Fault> {
    let signature = function.signature();
    if (signature.fewest..=signature.most).contains(&count) {
        return Ok(());
    }
    let Signature { name, fewest, most, arguments, .. } = signature;
    let takes = match (*fewest, *most) {
        (0, 0) => "no arguments".to_owned(),
        (1, 1) => "1 argument".to_owned(),
        (1, 2) => "1 or 2 arguments".to_owned(),
        (fewest, MANY) => format!("{fewest} to {MANY} arguments"),
        (fewest, _) => format!("{fewest} arguments"),
    };
    Err(Fault::new(at, format!("{name} takes {takes}, not {count}"))
        .with_hint(format!("write {name}({arguments})")))
}

/// Calls a function whose arguments have been counted.
pub(super) fn call(
    function: Function,
    arguments: &[Node],
    at: usize,
    scope: &Scope,
) -> Result<Value, Fault> {
    match function {
        Function::True => return Ok(Value::Truth(true)),
        Function::False => return Ok(Value::Truth(false)),
        Function::And | Function::Or | Function::Not | Function::Xor => {
            return logic(function, arguments, scope).map(Value::Truth);
        }
        Function::If => {
            let [test, then, otherwise] = arguments else { return Err(miscounted(at)) };
            return evaluate(if condition(test, scope)? { then } else { otherwise }, scope);
        }
        Function::Choose => return choose(arguments, at, scope),
        _ => {}
    }
    let values: Vec<Measure> =
        arguments.iter().map(|argument| measure(argument, scope)).collect::<Result<_, _>>()?;
    let places: Vec<usize> = arguments.iter().map(|argument| argument.at).collect();
    computed(&Call { function, at, places: &places }, values).map(Value::Measure)
}

/// A call whose arguments have values.
struct Call<'a> {
    function: Function,
    at: usize,
    /// Where the arguments stand.
    places: &'a [usize],
}

fn computed(call: &Call, values: Vec<Measure>) -> Result<Measure, Fault> {
    match call.function {
        Function::Sum | Function::Average | Function::Max | Function::Min => alike(call, values),
        Function::Product => product(call, values),
        Function::Gcd | Function::Lcm => divisors(call, &values),
        Function::Round | Function::RoundUp | Function::RoundDown | Function::Trunc => {
            rounded(call, &values)
        }
        Function::Ceiling | Function::Floor | Function::Mod | Function::Quotient => {
            stepped(call, values)
        }
        Function::Pi => Ok(Measure::number(Ratio::pi())),
        Function::Atan2 => {
            let [x, y] = values.as_slice() else { return Err(miscounted(call.at)) };
            same_dimension(call, &values)?;
            angle_of(Ratio::angle(&x.value, &y.value), call, "the point 0; 0 has no angle")
        }
        Function::Power => match <[Measure; 2]>::try_from(values) {
            Ok([base, exponent]) => power(base, &exponent, call.at),
            Err(_) => Err(miscounted(call.at)),
        },
        _ => match <[Measure; 1]>::try_from(values) {
            Ok([value]) => of_one(call, value),
            Err(_) => Err(miscounted(call.at)),
        },
    }
}

/// The parser counts arguments, so this fault is never seen.
fn miscounted(at: usize) -> Fault {
    Fault::new(at, "the number of arguments does not fit")
}

fn logic(function: Function, arguments: &[Node], scope: &Scope) -> Result<bool, Fault> {
    let truths: Vec<bool> =
        arguments.iter().map(|argument| condition(argument, scope)).collect::<Result<_, _>>()?;
    let count = truths.iter().filter(|truth| **truth).count();
    Ok(match function {
        Function::And => count == truths.len(),
        Function::Or => count > 0,
        Function::Not => count == 0,
        _ => count % 2 == 1,
    })
}

fn choose(arguments: &[Node], at: usize, scope: &Scope) -> Result<Value, Fault> {
    let Some((index, choices)) = arguments.split_first() else { return Err(miscounted(at)) };
    let value = measure(index, scope)?;
    let chosen = (value.dimension == Dimension::NUMBER)
        .then(|| value.value.to_integer())
        .flatten()
        .and_then(|index| usize::try_from(index).ok())
        .filter(|index| *index > 0)
        .and_then(|index| choices.get(index - 1));
    match chosen {
        Some(choice) => evaluate(choice, scope),
        None => Err(Fault::new(
            index.at,
            format!("the index of CHOOSE is a whole number from 1 to {}", choices.len()),
        )),
    }
}

/// SUM, AVERAGE, MAX, MIN: arguments of one dimension, which the result has as well.
fn alike(call: &Call, values: Vec<Measure>) -> Result<Measure, Fault> {
    let dimension = same_dimension(call, &values)?;
    let count = Ratio::whole(i128::try_from(values.len()).map_err(|_| miscounted(call.at))?);
    let ratios = values.into_iter().map(|value| value.value);
    let result = match call.function {
        Function::Max => ratios.max(),
        Function::Min => ratios.min(),
        Function::Sum => Some(ratios.sum()),
        _ => ratios.sum::<Ratio>().checked_div(&count),
    };
    limited(result.ok_or_else(|| miscounted(call.at))?, dimension, call.at)
}

fn same_dimension(call: &Call, values: &[Measure]) -> Result<Dimension, Fault> {
    let Some((first, others)) = values.split_first() else { return Err(miscounted(call.at)) };
    for (index, other) in others.iter().enumerate() {
        if other.dimension != first.dimension {
            let fault = format!(
                "the arguments of {} are alike, and this is {} after {}",
                call.function.signature().name,
                article(other.dimension),
                article(first.dimension)
            );
            let at = call.places.get(index + 1).copied().unwrap_or(call.at);
            return Err(clash(at, fault, first.dimension, other.dimension));
        }
    }
    Ok(first.dimension)
}

fn product(call: &Call, values: Vec<Measure>) -> Result<Measure, Fault> {
    let mut result = Measure::number(Ratio::ONE);
    for value in values {
        let dimension = result
            .dimension
            .times(value.dimension)
            .ok_or_else(|| Fault::new(call.at, "the result has a dimension of too high a power"))?;
        result = limited(result.value * value.value, dimension, call.at)?;
    }
    Ok(result)
}

fn divisors(call: &Call, values: &[Measure]) -> Result<Measure, Fault> {
    let name = call.function.signature().name;
    let mut result: Option<i128> = None;
    for (value, at) in values.iter().zip(call.places) {
        let whole =
            (value.dimension == Dimension::NUMBER).then(|| value.value.to_integer()).flatten();
        let whole = whole.filter(|whole| *whole >= 0).ok_or_else(|| {
            Fault::new(*at, format!("the arguments of {name} are whole numbers, not below zero"))
        })?;
        result = Some(match result {
            None => whole,
            Some(before) => {
                let divisor = common_divisor(before, whole);
                if call.function == Function::Gcd {
                    divisor
                } else if divisor == 0 {
                    0
                } else {
                    (before / divisor)
                        .checked_mul(whole)
                        .ok_or_else(|| Fault::new(call.at, "the result has too many digits"))?
                }
            }
        });
    }
    Ok(Measure::number(Ratio::whole(result.unwrap_or(0))))
}

fn common_divisor(a: i128, b: i128) -> i128 {
    if b == 0 { a } else { common_divisor(b, a % b) }
}

/// ROUND, ROUNDUP, ROUNDDOWN, TRUNC: plain numbers, at a number of places.
fn rounded(call: &Call, values: &[Measure]) -> Result<Measure, Fault> {
    let Some(value) = values.first() else { return Err(miscounted(call.at)) };
    plain_number(call, value)?;
    let places = match values.get(1) {
        None => 0,
        Some(places) => {
            let whole = (places.dimension == Dimension::NUMBER)
                .then(|| places.value.to_integer())
                .flatten();
            let whole = whole.filter(|whole| whole.abs() <= MOST_PLACES);
            whole.and_then(|whole| i32::try_from(whole).ok()).ok_or_else(|| {
                let at = call.places.get(1).copied().unwrap_or(call.at);
                Fault::new(
                    at,
                    format!("places are a whole number from -{MOST_PLACES} to {MOST_PLACES}"),
                )
            })?
        }
    };
    let scaled = value.value.abs() * Ratio::ten_to(places);
    let whole = match call.function {
        Function::Round => (scaled + half()).floor(),
        Function::RoundUp => scaled.ceil(),
        _ => scaled.floor(),
    };
    let magnitude = whole * Ratio::ten_to(-places);
    let result = if value.value.is_negative() { -magnitude } else { magnitude };
    limited(result, Dimension::NUMBER, call.at)
}

fn half() -> Ratio {
    Ratio::new(1, 2).expect("two is not zero")
}

/// Refuses a measure where only a number can be rounded: 3.2 ft is also 38.4 in, and either could be meant.
fn plain_number(call: &Call, value: &Measure) -> Result<(), Fault> {
    if value.dimension == Dimension::NUMBER {
        return Ok(());
    }
    let name = call.function.signature().name;
    let at = call.places.first().copied().unwrap_or(call.at);
    let fault =
        Fault::new(at, format!("{name} takes a number, and this is {}", article(value.dimension)));
    let unit = match value.dimension {
        Dimension::LENGTH => "in",
        Dimension::AREA => "ft2",
        Dimension::VOLUME => "gal",
        Dimension::WEIGHT => "lb",
        Dimension::TIME => "min",
        _ => return Err(fault),
    };
    let step = match call.function {
        Function::RoundDown | Function::Trunc | Function::Int => format!("FLOOR(..; 1 {unit})"),
        Function::Round | Function::RoundUp | Function::Even | Function::Odd => {
            format!("CEILING(..; 1 {unit})")
        }
        _ => return Err(fault.with_hint(format!("divide by a unit: `.. / 1 {unit}`"))),
    };
    Err(fault.with_hint(format!("say to which unit: {step}, or {name}(.. / 1 {unit})")))
}

/// CEILING, FLOOR, MOD, QUOTIENT: a value against a step of its own dimension.
fn stepped(call: &Call, mut values: Vec<Measure>) -> Result<Measure, Fault> {
    if values.len() == 1 {
        if let Some(value) = values.first() {
            plain_number(call, value)?;
        }
        values.push(Measure::number(Ratio::ONE));
    }
    let dimension = same_dimension(call, &values)?;
    let [value, step] = values.as_slice() else { return Err(miscounted(call.at)) };
    let step_at = call.places.get(1).copied().unwrap_or(call.at);
    let is_rounding = matches!(call.function, Function::Ceiling | Function::Floor);
    if is_rounding && (step.value.is_negative() || step.value.is_zero()) {
        return Err(Fault::new(step_at, "the step is above zero"));
    }
    let quotient = divide(value, step, step_at)?.value;
    match call.function {
        Function::Ceiling => limited(quotient.ceil() * &step.value, dimension, call.at),
        Function::Floor => limited(quotient.floor() * &step.value, dimension, call.at),
        Function::Mod => {
            limited(&value.value - &(quotient.floor() * &step.value), dimension, call.at)
        }
        _ => {
            let whole = if quotient.is_negative() { quotient.ceil() } else { quotient.floor() };
            limited(whole, Dimension::NUMBER, call.at)
        }
    }
}

/// The functions of one argument.
fn of_one(call: &Call, value: Measure) -> Result<Measure, Fault> {
    match call.function {
        Function::Abs => return Ok(Measure { value: value.value.abs(), ..value }),
        Function::Sign => {
            let sign = match (value.value.is_zero(), value.value.is_negative()) {
                (true, _) => 0,
                (_, true) => -1,
                _ => 1,
            };
            return Ok(Measure::number(Ratio::whole(sign)));
        }
        Function::Sqrt => return square_root(value, call.at),
        _ => plain_number(call, &value)?,
    }
    let value = value.value;
    let out_of_range = "this is not from -1 to 1";
    match call.function {
        Function::Int => Ok(Measure::number(value.floor())),
        Function::Even => Ok(Measure::number(away_from_zero(&value, &Ratio::ZERO))),
        Function::Odd => Ok(Measure::number(away_from_zero(&value, &Ratio::ONE))),
        Function::Radians => {
            limited(value * Ratio::pi() * degrees_share(), Dimension::NUMBER, call.at)
        }
        Function::Degrees => {
            let turns = value.checked_div(&(Ratio::pi() * degrees_share())).unwrap_or_default();
            limited(turns, Dimension::NUMBER, call.at)
        }
        Function::Sin => {
            angle_of(value.sine_and_cosine().map(|pair| pair.0), call, "the angle is too large")
        }
        Function::Cos => {
            angle_of(value.sine_and_cosine().map(|pair| pair.1), call, "the angle is too large")
        }
        Function::Tan => angle_of(value.tangent(), call, "the tangent of this angle has no value"),
        Function::Asin => angle_of(value.arc_sine(), call, out_of_range),
        Function::Acos => angle_of(value.arc_cosine(), call, out_of_range),
        _ => angle_of(Ratio::angle(&Ratio::ONE, &value), call, out_of_range),
    }
}

fn angle_of(result: Option<Ratio>, call: &Call, otherwise: &str) -> Result<Measure, Fault> {
    let at = call.places.first().copied().unwrap_or(call.at);
    result.map(Measure::number).ok_or_else(|| Fault::new(at, otherwise))
}

fn degrees_share() -> Ratio {
    Ratio::new(1, 180).expect("180 is not zero")
}

/// Rounds away from zero to an even number, or with `offset` one to an odd one; zero becomes the offset.
fn away_from_zero(value: &Ratio, offset: &Ratio) -> Ratio {
    let pairs = ((value.abs() - offset.clone()) * half()).ceil();
    let pairs = if pairs.is_negative() { Ratio::ZERO } else { pairs };
    let magnitude = pairs * Ratio::whole(2) + offset.clone();
    if value.is_negative() { -magnitude } else { magnitude }
}

/// The square root: exact where it is a fraction, else a length to the nanometer, anything else to 18 digits.
pub(super) fn square_root(measure: Measure, at: usize) -> Result<Measure, Fault> {
    let Dimension { length, weight, time, money } = measure.dimension;
    if [length, weight, time, money].iter().any(|exponent| exponent % 2 != 0) {
        let kind = noun(&Value::Measure(measure));
        return Err(Fault::new(at, format!("{kind} has no square root"))
            .with_hint("a number or an area has one"));
    }
    if measure.value.is_negative() {
        return Err(Fault::new(at, "a value below zero has no square root"));
    }
    let dimension =
        Dimension { length: length / 2, weight: weight / 2, time: time / 2, money: money / 2 };
    let value = match measure.value.exact_root() {
        Some(root) => Some(root),
        None if dimension == Dimension::LENGTH => measure.value.rounded_root(0),
        None => {
            let magnitude = measure.value.magnitude().unwrap_or(0).div_euclid(2);
            measure.value.rounded_root(ROOT_DIGITS - 1 - magnitude)
        }
    };
    limited(value.unwrap_or_default(), dimension, at)
}
