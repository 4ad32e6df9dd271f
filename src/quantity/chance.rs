use dashu_int::UBig;

use crate::quantity::Ratio;

/// Returns the least count that `trials` independent trials do not exceed with a chance of at least `level`, when each
/// succeeds with a chance of `rate`: the quantile of the binomial distribution, exact.
///
/// All chances are counted in the same parts, `denominator of the rate ^ trials`, so that they stay whole numbers; the cost
/// is the count times the length of such a number.
#[must_use]
pub fn binomial_quantile(trials: u32, rate: &Ratio, level: &Ratio) -> u32 {
    if *rate <= Ratio::ZERO || *level <= Ratio::ZERO {
        return 0;
    }
    if Ratio::ONE <= *rate || Ratio::ONE <= *level {
        return trials;
    }
    let parts = |ratio: &Ratio| {
        let big = ratio.to_big();
        let numerator = UBig::try_from(big.numerator().clone()).expect("it is above zero");
        (numerator, big.denominator().clone())
    };
    let (hits, all) = parts(rate);
    let misses = &all - &hits;
    let (level, of_level) = parts(level);
    let wanted = level * all.pow(trials as usize);
    let mut chance = misses.pow(trials as usize);
    let mut sum = chance.clone();
    let mut count = 0;
    while &sum * &of_level < wanted && count < trials {
        // C(n, k + 1) a^(k + 1) b^(n - k - 1) from C(n, k) a^k b^(n - k); nothing is left over.
        chance = chance * &hits * UBig::from(trials - count) / (&misses * UBig::from(count + 1));
        sum += &chance;
        count += 1;
    }
    count
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Sums up the distribution from its definition.
    fn chance(trials: u32, count: u32, rate: &Ratio) -> Ratio {
        let misses = &Ratio::ONE - rate;
        let one = |count: u32| {
            let ways = (0..count).fold(Ratio::ONE, |ways, step| {
                ways * Ratio::new(i128::from(trials - step), i128::from(step + 1)).unwrap()
            });
            ways * rate.power(count) * misses.power(trials - count)
        };
        (0..=count).map(one).sum()
    }

    #[test]
    fn the_quantile_is_that_of_the_definition() {
        for trials in [0, 1, 2, 7, 31] {
            for (numerator, denominator) in [(1, 2), (1, 3), (37, 100), (99, 100), (1, 1000)] {
                let rate = Ratio::new(numerator, denominator).unwrap();
                for percent in [1, 50, 90, 95, 99] {
                    let level = Ratio::decimal(percent, 2);
                    let expected =
                        (0..=trials).find(|count| chance(trials, *count, &rate) >= level);
                    let found = binomial_quantile(trials, &rate, &level);
                    assert_eq!(Some(found), expected, "{trials} at {rate}, {level}");
                }
            }
        }
    }

    #[test]
    fn what_is_certain_needs_no_reckoning() {
        let half = Ratio::new(1, 2).unwrap();
        assert_eq!(binomial_quantile(9, &Ratio::ZERO, &half), 0);
        assert_eq!(binomial_quantile(9, &Ratio::ONE, &half), 9);
        assert_eq!(binomial_quantile(9, &half, &Ratio::ONE), 9);
        // Exactly half the sequences of one trial have no success.
        assert_eq!(binomial_quantile(1, &half, &half), 0);
    }
}
