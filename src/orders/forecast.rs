//! How many units a week the schedule goes on with, by simple exponential smoothing of the builds of past weeks.
//!
//! The level moves towards each week's builds by a share `alpha` of the error (R. G. Brown, "Statistical Forecasting for
//! Inventory Control", 1959); of the alphas 0.05, 0.10, .. 0.95 the one with the least squared one-week error is taken. A
//! forecast past the last level is flat. Levels are rounded to 6 decimal places at each step.

use std::collections::BTreeMap;

use crate::diag::Diagnostic;
use crate::diag::Distinct;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::model::Book;
use crate::model::PlanId;
use crate::model::Week;
use crate::orders::demand::{Due, Origin, Weeks};
use crate::quantity::Ratio;
use crate::quantity::Rounding;

/// Decimal places of a level.
const PLACES: u32 = 6;

/// A plan's builds past the schedule.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Forecast {
    /// The plan.
    pub plan: PlanId,
    /// Weeks of history it rests on.
    pub history: usize,
    /// The share of each error the level moves by.
    pub alpha: Ratio,
    /// Units a week.
    pub level: Ratio,
    /// Mean of the absolute errors of forecasting each past week from those before it, in units.
    pub mean_error: Ratio,
    /// Mean of these errors with their signs, built less forecast, in units.
    pub bias: Ratio,
}

impl Forecast {
    /// Returns what it adds to the schedule: every week past it, due on the Monday.
    pub(super) fn dues(&self, book: &Book, weeks: Weeks, firm_weeks: usize) -> Vec<Due> {
        (firm_weeks..weeks.count)
            .map(|week| {
                let monday = weeks.week(week).monday();
                Due {
                    origin: Origin::Forecast(self.plan),
                    plan: self.plan,
                    day: book.calendar.after(monday, 0).unwrap_or(monday),
                    units: self.level.clone(),
                }
            })
            .collect()
    }
}

/// Forecasts every plan with a history, if the weeks go past the schedule.
pub(super) fn forecasts(
    book: &Book,
    weeks: Weeks,
    firm_weeks: usize,
    warnings: &mut Distinct,
) -> Vec<Forecast> {
    if firm_weeks >= weeks.count {
        return Vec::new();
    }
    let mut by_plan: BTreeMap<PlanId, BTreeMap<Week, Ratio>> = BTreeMap::new();
    for row in book.history.iter().filter(|row| Week::of(row.week) < weeks.first) {
        let built = by_plan.entry(row.plan).or_default().entry(Week::of(row.week)).or_default();
        *built += &Ratio::from(i64::from(row.units));
    }
    let first = by_plan.values().filter_map(|weeks| weeks.keys().next()).min().copied();
    let last = by_plan.values().filter_map(|weeks| weeks.keys().next_back()).max().copied();
    let (Some(first), Some(last)) = (first, last) else {
        let problem = Problem::HistoryMissing { weeks: weeks.count - firm_weeks };
        let severity = Severity::Warning;
        warnings.insert(Diagnostic { severity, ..Diagnostic::placeless(problem) });
        return Vec::new();
    };
    let count = last.since(first) + 1;
    let of_plan = |(plan, built): (PlanId, BTreeMap<Week, Ratio>)| {
        // A week without a row had no builds.
        let series: Vec<Ratio> = (0..count)
            .map(|week| built.get(&first.plus(week)).cloned().unwrap_or_default())
            .collect();
        smooth(plan, &series)
    };
    by_plan.into_iter().map(of_plan).collect()
}

/// Smooths a series of weeks.
fn smooth(plan: PlanId, series: &[Ratio]) -> Forecast {
    let count = Ratio::from(i64::try_from(series.len().saturating_sub(1)).unwrap_or(i64::MAX));
    let run = |alpha: &Ratio| {
        let mut level = series.first().cloned().unwrap_or_default();
        let (mut squares, mut errors, mut bias) = (Ratio::ZERO, Ratio::ZERO, Ratio::ZERO);
        for built in series.iter().skip(1) {
            let error = built - &level;
            squares += &(&error * &error);
            errors += &error.abs();
            bias += &error;
            level = (&level + &(alpha * &error)).rounded(PLACES, Rounding::HalfEven);
        }
        (squares, level, errors, bias)
    };
    let alphas = (1..20).map(|step| Ratio::new(step, 20).expect("twenty is not zero"));
    let (alpha, (_, level, errors, bias)) = alphas
        .map(|alpha| {
            let run = run(&alpha);
            (alpha, run)
        })
        .min_by(|(_, a), (_, b)| a.0.cmp(&b.0))
        .expect("there are nineteen alphas");
    Forecast {
        plan,
        history: series.len(),
        alpha,
        level,
        mean_error: errors.checked_div(&count).unwrap_or_default(),
        bias: bias.checked_div(&count).unwrap_or_default(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_steady_plan_is_forecast_as_it_is() {
        let forecast = smooth(PlanId(0), &vec![Ratio::whole(4); 8]);
        assert_eq!((forecast.level, forecast.mean_error), (Ratio::whole(4), Ratio::ZERO));
    }

    // Worked by hand: with alpha 1/2, levels 10, 11, 10.5.
    #[test]
    fn the_level_moves_by_a_share_of_the_error() {
        let series = [10, 12, 10, 10].map(Ratio::whole);
        let forecast = smooth(PlanId(0), &series);
        // Small alphas have the least squares here: one step up, then down.
        assert_eq!(forecast.alpha, Ratio::new(1, 20).unwrap());
        // 10, then 10.1, then 10.095, then 10.09025.
        assert_eq!(forecast.level, Ratio::decimal(1_009_025, 5));
        // Errors 2, -0.1, -0.095.
        assert_eq!(forecast.mean_error, Ratio::new(2195, 3000).unwrap());
        assert_eq!(forecast.bias, Ratio::new(1805, 3000).unwrap());
    }
}
