use crate::quantity::Ratio;
use crate::quantity::ratio::common_divisor;

/// A sum of products that is brought to lowest terms only once it is asked for, which saves most of the work of adding
/// fractions.
#[derive(Clone, Debug)]
pub(crate) struct Total {
    numerator: i128,
    denominator: u64,
    /// What does not fit.
    rest: Ratio,
}

impl Default for Total {
    fn default() -> Total {
        Total { numerator: 0, denominator: 1, rest: Ratio::ZERO }
    }
}

impl Total {
    /// Adds a product.
    pub(crate) fn add(&mut self, left: &Ratio, right: &Ratio) {
        if self.add_short(left, right).is_none() {
            self.rest += &(left * right);
        }
    }

    /// Returns the sum.
    pub(crate) fn sum(&self) -> Ratio {
        let sum = Ratio::new(self.numerator, i128::from(self.denominator));
        sum.expect("denominators are above zero") + &self.rest
    }

    fn add_short(&mut self, left: &Ratio, right: &Ratio) -> Option<()> {
        let ((a, b), (c, d)) = (left.to_words()?, right.to_words()?);
        let more = i128::from(a) * i128::from(c);
        let denominator = b.checked_mul(d)?;
        if denominator == self.denominator {
            self.numerator = self.numerator.checked_add(more)?;
            return Some(());
        }
        let lacking = denominator / common_divisor(self.denominator, denominator);
        let wider = self.denominator.checked_mul(lacking)?;
        let own = self.numerator.checked_mul(i128::from(lacking))?;
        let more = more.checked_mul(i128::from(wider / denominator))?;
        self.numerator = own.checked_add(more)?;
        self.denominator = wider;
        Some(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_total_is_the_sum_of_its_products() {
        let ratio = |numerator, denominator| Ratio::new(numerator, denominator).unwrap();
        let (most, least) = (i128::from(i64::MAX), i128::from(i64::MIN));
        let products = [
            (ratio(1, 3), ratio(2, 5)),
            (ratio(7, 6), ratio(-3, 1)),
            (ratio(most, 1), ratio(most, 1)),
            (ratio(least, 7), ratio(least, 11)),
            (ratio(1, most), ratio(1, 13)),
            (ratio(i128::MAX, 17), ratio(i128::MAX, 19)),
            (ratio(-7, 6), ratio(-3, 1)),
            (ratio(5, 1 << 63), ratio(3, 8)),
            (Ratio::ZERO, ratio(3, 29)),
            (ratio(-most, 1), ratio(most, 1)),
        ];
        let (mut total, mut sum) = (Total::default(), Ratio::ZERO);
        for (left, right) in products.iter().cycle().take(35) {
            total.add(left, right);
            sum += &(left * right);
            assert_eq!(total.sum(), sum, "{left} * {right}");
        }
    }
}
