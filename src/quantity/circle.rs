//! Angles: sine, cosine, tangent and their inverses, by series over whole numbers.
//!
//! Everything is computed in whole multiples of ten to the power of -70 and rounded once, to 18 places, so results are
//! the same on every machine. Series: Taylor's for sine and cosine after reduction by quarter turns; Gregory's for the
//! arc tangent after halving the angle thrice by tan(a/2) = tan a / (1 + sqrt(1 + tan² a)).

use dashu_int::{IBig, UBig};
use dashu_ratio::RBig;

use crate::quantity::Ratio;
use crate::quantity::fixed::{PLACES, fixed, rounded, scale};

/// Pi times ten to the power of 70.
const PI: &str = "31415926535897932384626433832795028841971693993751058209749445923078164";
/// Angles beyond so many quarter turns are refused: they are mistakes, and reduction would lose digits.
const MOST_TURNS: i128 = 1_000_000_000_000;

impl Ratio {
    /// Returns pi to 36 digits, so that rounding a sine of a simple part of it to 18 places gives the exact value.
    #[must_use]
    pub fn pi() -> Ratio {
        Ratio::decimal(314_159_265_358_979_323_846_264_338_327_950_288, 35)
    }

    /// Returns sine and cosine of the angle in radians, to 18 places; nothing for an angle beyond 10^12 quarter turns.
    #[must_use]
    pub fn sine_and_cosine(&self) -> Option<(Ratio, Ratio)> {
        let (sine, cosine) = turned(self)?;
        Some((rounded(sine), rounded(cosine)))
    }

    /// Returns the tangent of the angle in radians, to 18 places; nothing near a pole or for an angle out of range.
    #[must_use]
    pub fn tangent(&self) -> Option<Ratio> {
        let (sine, cosine) = turned(self)?;
        if rounded(cosine.clone()).is_zero() {
            return None;
        }
        Some(rounded(sine * scale() / cosine))
    }

    /// Returns the angle, from -pi to pi, of the point `x` to the right and `y` up, to 18 places; nothing for 0, 0.
    #[must_use]
    pub fn angle(x: &Ratio, y: &Ratio) -> Option<Ratio> {
        let larger = x.abs().max(y.abs());
        Some(rounded(angle(&fixed(&x.checked_div(&larger)?), &fixed(&y.checked_div(&larger)?))))
    }

    /// Returns the angle whose sine this is, from -pi/2 to pi/2, to 18 places; nothing beyond -1 and 1.
    #[must_use]
    pub fn arc_sine(&self) -> Option<Ratio> {
        let sine = fixed(self);
        Some(rounded(angle(&other_leg(&sine)?, &sine)))
    }

    /// Returns the angle whose cosine this is, from 0 to pi, to 18 places; nothing beyond -1 and 1.
    #[must_use]
    pub fn arc_cosine(&self) -> Option<Ratio> {
        let cosine = fixed(self);
        Some(rounded(angle(&cosine, &other_leg(&cosine)?)))
    }
}

fn pi() -> IBig {
    PI.parse().expect("the constant is digits")
}

fn root(square: IBig) -> Option<IBig> {
    Some(IBig::from(UBig::try_from(square).ok()?.nth_root(2)))
}

/// Sine from cosine or cosine from sine; nothing where the leg is longer than the radius.
fn other_leg(leg: &IBig) -> Option<IBig> {
    root(scale() * scale() - leg * leg)
}

/// Sine and cosine of an angle, reduced to an eighth of a turn either way.
fn turned(value: &Ratio) -> Option<(IBig, IBig)> {
    let quarter = Ratio::from_big(RBig::from(pi())) * Ratio::ten_to(-PLACES) * Ratio::new(1, 2)?;
    let turns = (value.checked_div(&quarter)? + Ratio::new(1, 2)?).floor();
    let count = turns.to_integer().filter(|count| count.abs() <= MOST_TURNS)?;
    let rest = fixed(&(value - &(&turns * &quarter)));
    let sine = series(rest.clone(), &rest, 1);
    let cosine = series(scale(), &rest, 0);
    Some(match count.rem_euclid(4) {
        0 => (sine, cosine),
        1 => (cosine, -sine),
        2 => (-sine, -cosine),
        _ => (-cosine, sine),
    })
}

/// Taylor's series from its first term on, whose power is `power`; every term is the last times -x²/((n+1)(n+2)).
fn series(first: IBig, x: &IBig, power: u32) -> IBig {
    let square = x * x / scale();
    let (mut sum, mut term, mut n) = (first.clone(), first, power);
    while !term.is_zero() {
        term = -term * &square / scale() / IBig::from((n + 1) * (n + 2));
        sum += &term;
        n += 2;
    }
    sum
}

fn angle(x: &IBig, y: &IBig) -> IBig {
    let zero = IBig::ZERO;
    let (across, up) =
        (if *x < zero { -x } else { x.clone() }, if *y < zero { -y } else { y.clone() });
    let first_quarter = if up <= across {
        arc_tangent(up * scale() / across)
    } else {
        pi() / IBig::from(2_u8) - arc_tangent(across * scale() / up)
    };
    let upper = if *x < zero { pi() - first_quarter } else { first_quarter };
    if *y < zero { -upper } else { upper }
}

/// The angle of a tangent from 0 to 1.
fn arc_tangent(mut tangent: IBig) -> IBig {
    for _ in 0..3 {
        let hypotenuse = root(scale() * scale() + &tangent * &tangent)
            .expect("a sum of squares is not negative");
        tangent = tangent * scale() / (scale() + hypotenuse);
    }
    let square = &tangent * &tangent / scale();
    let (mut sum, mut power, mut n) = (tangent.clone(), tangent, 1_u32);
    while !power.is_zero() {
        power = -power * &square / scale();
        n += 2;
        sum += &power / IBig::from(n);
    }
    sum * IBig::from(8_u8)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(value: Option<&Ratio>, digits: i128) {
        assert_eq!(value, Some(&Ratio::decimal(digits, 18)));
    }

    fn part_of_pi(numerator: i128, denominator: i128) -> Ratio {
        Ratio::pi() * Ratio::new(numerator, denominator).unwrap()
    }

    #[test]
    fn simple_parts_of_a_turn_are_exact() {
        let half = Ratio::new(1, 2).unwrap();
        assert_eq!(part_of_pi(1, 6).sine_and_cosine().unwrap().0, half);
        assert_eq!(part_of_pi(1, 3).sine_and_cosine().unwrap().1, half);
        assert_eq!(part_of_pi(5, 6).sine_and_cosine().unwrap().0, half);
        assert_eq!(part_of_pi(-7, 6).sine_and_cosine().unwrap().0, half);
        assert_eq!(part_of_pi(1, 1).sine_and_cosine(), Some((Ratio::ZERO, Ratio::whole(-1))));
        assert_eq!(part_of_pi(1, 4).tangent(), Some(Ratio::ONE));
        assert_eq!(part_of_pi(1, 2).tangent(), None);
        assert_eq!(Ratio::ZERO.sine_and_cosine(), Some((Ratio::ZERO, Ratio::ONE)));
    }

    // Source: computed beside with a decimal arithmetic of 50 digits; sine of one radian is OEIS A049469, cosine A049470,
    // pi/4 A003881, pi/6 A019673.
    #[test]
    fn other_angles_are_right_to_the_last_place() {
        let one = Ratio::ONE;
        check(one.sine_and_cosine().map(|pair| pair.0).as_ref(), 841_470_984_807_896_507);
        check(one.sine_and_cosine().map(|pair| pair.1).as_ref(), 540_302_305_868_139_717);
        check(one.tangent().as_ref(), 1_557_407_724_654_902_231);
        check(Ratio::angle(&one, &one).as_ref(), 785_398_163_397_448_310);
        check(Ratio::angle(&-one.clone(), &-one.clone()).as_ref(), -2_356_194_490_192_344_929);
        check(Ratio::new(1, 2).unwrap().arc_sine().as_ref(), 523_598_775_598_298_873);
        check(Ratio::new(-1, 2).unwrap().arc_cosine().as_ref(), 2_094_395_102_393_195_492);
        check(one.arc_sine().as_ref(), 1_570_796_326_794_896_619);
        check((-one).arc_cosine().as_ref(), 3_141_592_653_589_793_238);
    }

    #[test]
    fn angles_out_of_range_have_no_value() {
        assert_eq!(Ratio::new(3, 2).unwrap().arc_sine(), None);
        assert_eq!(Ratio::whole(-2).arc_cosine(), None);
        assert_eq!(Ratio::angle(&Ratio::ZERO, &Ratio::ZERO), None);
        assert_eq!(Ratio::whole(10).power(20).sine_and_cosine(), None);
    }
}
