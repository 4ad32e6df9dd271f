use crate::model::{Learning, LearningForm};
use crate::quantity::Ratio;

/// How the time of a unit falls from the first one on.
///
/// In the unit form, unit n takes n to the power of log2(share) of the time of unit 1 (J. R. Crawford, Learning Curve,
/// Ship Curve, Ratios, Related Data, 1944; from memory, as textbooks cite it). In the cumulative-average form, the average
/// of the first n units does (T. P. Wright, Factors Affecting the Cost of Airplanes, 1936). Powers are rounded to 18
/// places; no float.
#[derive(Clone, Copy, Debug)]
pub struct Curve<'a>(&'a Learning);

impl<'a> Curve<'a> {
    /// Returns the curve of a book.
    #[must_use]
    pub fn new(learning: &'a Learning) -> Curve<'a> {
        Curve(learning)
    }

    /// Returns the time of one unit, counted from 1, in times of unit 1.
    #[must_use]
    pub fn unit(self, number: u32) -> Ratio {
        match self.0.form {
            LearningForm::Unit => self.left(number),
            LearningForm::Average if number == 1 => Ratio::ONE,
            LearningForm::Average => self.total(number) - self.total(number - 1),
        }
    }

    /// Returns the time of the first units together, in times of unit 1.
    #[must_use]
    pub fn total(self, units: u32) -> Ratio {
        match self.0.form {
            LearningForm::Unit => (1..=units).map(|number| self.left(number)).sum(),
            LearningForm::Average if units == 0 => Ratio::ZERO,
            LearningForm::Average => self.left(units) * Ratio::whole(i128::from(units)),
        }
    }

    /// Returns what a lot of units from number `first` on takes, over what it takes at the standard: the curve runs down to
    /// the unit that takes the standard hours, and stays there.
    #[must_use]
    pub fn factor(self, first: u32, lot: u32) -> Ratio {
        let last = first.saturating_add(lot - 1);
        let learned = last.min(self.0.units);
        let above = if first <= learned {
            let time = self.total(learned) - self.total(first - 1);
            let standard = self.unit(self.0.units);
            time.checked_div(&standard).expect("what is left of a unit is above zero")
        } else {
            Ratio::ZERO
        };
        let after = (i64::from(last) - i64::from(learned.max(first - 1))).max(0);
        (above + Ratio::from(after))
            .checked_div(&Ratio::from(i64::from(lot)))
            .expect("a lot has units")
    }

    fn left(self, number: u32) -> Ratio {
        self.0
            .share
            .per_doubling(u64::from(number))
            .expect("shares lie from one half to one, and units are counted from one")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn learning(percent: i128, form: LearningForm, units: u32) -> Learning {
        Learning { share: Ratio::new(percent, 100).unwrap(), form, units }
    }

    // Computed: at 80 % in the unit form, units 1 to 4 take 1, 0.8, 0.7021037.. and 0.64 of unit 1; unit 4 is the standard.
    #[test]
    fn a_lot_beyond_the_curve_takes_the_standard() {
        let learning = learning(80, LearningForm::Unit, 4);
        let curve = Curve::new(&learning);
        assert_eq!(curve.factor(4, 10), Ratio::ONE);
        assert_eq!(curve.factor(9, 3), Ratio::ONE);
        assert_eq!(curve.factor(1, 1), Ratio::new(100, 64).unwrap());
        assert_eq!(curve.factor(2, 1), Ratio::new(5, 4).unwrap());
        let two = Ratio::new(100 + 80, 2 * 64).unwrap();
        assert_eq!(curve.factor(1, 2), two);
        let by_parts = curve.factor(1, 6) * Ratio::whole(6);
        assert_eq!(by_parts, curve.factor(1, 3) * Ratio::whole(3) + Ratio::whole(3));
    }

    #[test]
    fn lots_add_up_in_both_forms() {
        for form in [LearningForm::Unit, LearningForm::Average] {
            let learning = learning(85, form, 12);
            let curve = Curve::new(&learning);
            let whole = curve.factor(1, 20) * Ratio::whole(20);
            let parts = (1..=20).map(|number| curve.factor(number, 1)).sum::<Ratio>();
            assert_eq!(whole, parts, "{form:?}");
            assert_eq!(curve.factor(12, 1), Ratio::ONE);
        }
    }

    #[test]
    fn without_learning_every_lot_takes_the_standard() {
        for form in [LearningForm::Unit, LearningForm::Average] {
            let learning = learning(100, form, 50);
            assert_eq!(Curve::new(&learning).factor(1, 7), Ratio::ONE, "{form:?}");
        }
    }
}
