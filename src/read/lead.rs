//! Times that goods take to arrive, as people write them.

use crate::diag::Problem;
use crate::model::LeadTime;
use crate::quantity::Ratio;
use crate::read::Cell;
use crate::read::cells::Row;
use crate::read::cells::text_of;
use crate::read::columns::At;
use crate::read::numbers::number;

impl Row<'_> {
    /// Returns a lead time: a number of working days, `10 days` or `3 weeks`, fractions rounded up.
    pub(super) fn lead_time(&self, at: At) -> Option<LeadTime> {
        let text = match self.cell(at) {
            Cell::Empty => return None,
            Cell::Number { text, .. } => return self.lead_time_of(at, text, false),
            cell => text_of(cell),
        };
        self.lead_time_of(at, &text, self.grid.table.has_decimal_comma)
    }

    fn lead_time_of(&self, at: At, text: &str, has_decimal_comma: bool) -> Option<LeadTime> {
        if is_below_zero(text, has_decimal_comma) {
            self.out_of_range(at, "not below zero");
            return None;
        }
        let time = lead_time(text, has_decimal_comma);
        if time.is_none() {
            let problem =
                Problem::NotAMeasure { text: text.to_owned(), expected: "lead time".to_owned() };
            let hint = "write working days, as in `10`, or weeks, as in `3 weeks`";
            self.error_with_hint(at, problem, Some(hint.to_owned()));
        }
        time
    }
}

/// Returns the lead time a text names; nothing if it names none.
pub(super) fn lead_time(text: &str, has_decimal_comma: bool) -> Option<LeadTime> {
    let start = text.find(|letter: char| letter.is_alphabetic()).unwrap_or(text.len());
    let (count, word) = text.split_at(start);
    let count = number(count, has_decimal_comma)?;
    let count = whole(&count.ceil())?;
    match word.trim().trim_end_matches('.').to_lowercase().as_str() {
        "" | "d" | "day" | "days" | "working day" | "working days" | "workdays" => {
            Some(LeadTime::Days(count))
        }
        "w" | "wk" | "wks" | "week" | "weeks" => Some(LeadTime::Weeks(count)),
        _ => None,
    }
}

/// Tells whether a text names a time below zero.
pub(super) fn is_below_zero(text: &str, has_decimal_comma: bool) -> bool {
    let rest = text.trim().strip_prefix(['-', '\u{2212}']);
    rest.is_some_and(|rest| lead_time(rest, has_decimal_comma).is_some())
}

fn whole(count: &Ratio) -> Option<u32> {
    count.to_integer().and_then(|count| u32::try_from(count).ok())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(text: &str, expected: Option<LeadTime>) {
        assert_eq!(lead_time(text, false), expected, "{text}");
    }

    #[test]
    fn a_number_is_working_days_and_a_word_may_say_weeks() {
        check("10", Some(LeadTime::Days(10)));
        check("10 days", Some(LeadTime::Days(10)));
        check("1 Day", Some(LeadTime::Days(1)));
        check("3 weeks", Some(LeadTime::Weeks(3)));
        check("2 wk.", Some(LeadTime::Weeks(2)));
        check("0", Some(LeadTime::Days(0)));
    }

    #[test]
    fn parts_of_a_day_or_week_are_rounded_up() {
        check("1.2", Some(LeadTime::Days(2)));
        check("1.5 weeks", Some(LeadTime::Weeks(2)));
        assert_eq!(lead_time("1,5", true), Some(LeadTime::Days(2)));
    }

    #[test]
    fn times_below_zero_are_seen() {
        assert!(is_below_zero("-1", false));
        assert!(is_below_zero("-5 days", false));
        assert!(!is_below_zero("- soon", false));
        assert!(!is_below_zero("5 days", false));
    }

    #[test]
    fn what_is_no_lead_time_is_none() {
        for text in ["", "weeks", "-1", "2-3 weeks", "1 month", "1e20", "10 ft"] {
            check(text, None);
        }
    }
}
