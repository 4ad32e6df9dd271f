use std::collections::BTreeMap;

use jiff::ToSpan;
use jiff::civil::{Date, Weekday};

/// The days the plant and its vendors work: Monday to Friday, unless table `calendar` says otherwise.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Calendar {
    /// Days that differ from their weekday's rule, with whether they are worked.
    pub exceptions: BTreeMap<Date, bool>,
}

impl Calendar {
    /// Tells whether a day is worked.
    #[must_use]
    pub fn is_working(&self, day: Date) -> bool {
        self.exceptions
            .get(&day)
            .copied()
            .unwrap_or_else(|| !matches!(day.weekday(), Weekday::Saturday | Weekday::Sunday))
    }

    /// Returns the day `count` working days before a day; with zero, the day itself or the last working day before it.
    /// Nothing if that lies outside the years a date can have.
    #[must_use]
    pub fn before(&self, day: Date, count: u32) -> Option<Date> {
        self.step(day, count, Date::yesterday)
    }

    /// Returns the day `count` working days after a day; with zero, the day itself or the first working day after it.
    /// Nothing if that lies outside the years a date can have.
    #[must_use]
    pub fn after(&self, day: Date, count: u32) -> Option<Date> {
        self.step(day, count, Date::tomorrow)
    }

    /// Returns how many working days lie from one day (counted) to another (not counted); zero if it is not later.
    #[must_use]
    pub fn working_days(&self, from: Date, to: Date) -> u32 {
        let mut day = from;
        let mut count = 0;
        while day < to {
            count += u32::from(self.is_working(day));
            let Ok(next) = day.tomorrow() else { break };
            day = next;
        }
        count
    }

    fn step(
        &self,
        mut day: Date,
        count: u32,
        next: impl Fn(Date) -> Result<Date, jiff::Error>,
    ) -> Option<Date> {
        let mut left = count;
        loop {
            if self.is_working(day) {
                if left == 0 {
                    return Some(day);
                }
                left -= 1;
            }
            day = next(day).ok()?;
        }
    }
}

/// A week, named by its Monday (ISO 8601).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Week(Date);

impl Week {
    /// Returns the week a day lies in.
    #[must_use]
    pub fn of(day: Date) -> Week {
        let back = i64::from(day.weekday().to_monday_zero_offset());
        Week(day.saturating_sub(back.days()))
    }

    /// Returns its first day.
    #[must_use]
    pub fn monday(self) -> Date {
        self.0
    }

    /// Returns the week `count` weeks later, or earlier if below zero.
    #[must_use]
    pub fn plus(self, count: i64) -> Week {
        Week(self.0.saturating_add(count.saturating_mul(7).days()))
    }

    /// Returns how many weeks it lies after another; below zero if before.
    #[must_use]
    pub fn since(self, other: Week) -> i64 {
        let days = (self.0 - other.0).get_days();
        i64::from(days) / 7
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const fn day(month: i8, day: i8) -> Date {
        Date::constant(2027, month, day)
    }

    #[test]
    fn working_days_leave_out_weekends_and_days_off() {
        let calendar =
            Calendar { exceptions: BTreeMap::from([(day(3, 26), false), (day(3, 27), true)]) };
        // Thursday, then Saturday as a working day, then Monday.
        assert_eq!(calendar.after(day(3, 25), 1), Some(day(3, 27)));
        assert_eq!(calendar.after(day(3, 25), 2), Some(day(3, 29)));
        assert_eq!(calendar.after(day(3, 26), 0), Some(day(3, 27)));
        assert_eq!(calendar.before(day(3, 29), 2), Some(day(3, 25)));
        assert_eq!(calendar.before(day(3, 28), 0), Some(day(3, 27)));
        assert_eq!(calendar.working_days(day(3, 25), day(3, 30)), 3);
        assert_eq!(calendar.working_days(day(3, 30), day(3, 25)), 0);
    }

    #[test]
    fn a_week_begins_on_monday() {
        // 2027-W09 begins on March 1 (ISO 8601).
        assert_eq!(Week::of(day(3, 7)).monday(), day(3, 1));
        assert_eq!(Week::of(day(3, 8)).since(Week::of(day(3, 1))), 1);
        assert_eq!(Week::of(day(3, 1)).plus(-1).monday(), day(2, 22));
    }
}
