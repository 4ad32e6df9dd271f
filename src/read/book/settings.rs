//! The table `settings`.

use std::borrow::Cow;

use crate::diag::Problem;
use crate::diag::Severity;
use crate::diag::did_you_mean;
use crate::diag::nearest;
use crate::diag::squashed;
use crate::model::BookHeight;
use crate::model::Cutting;
use crate::model::Learning;
use crate::model::LearningForm;
use crate::model::PriceDay;
use crate::model::PriceEnding;
use crate::model::RollCharge;
use crate::model::Settings;
use crate::model::Unit;
use crate::quantity::Dimension;
use crate::quantity::Length;
use crate::quantity::Ratio;
use crate::quantity::Rounding;
use crate::quantity::text::DecimalSign;
use crate::quantity::text::number;
use crate::quantity::unit;
use crate::quantity::unit::UnitFactor;
use crate::read::book::prices::currency_code;
use crate::read::cells::Row;
use crate::read::columns::At;
use crate::read::columns::Grid;
use crate::read::reader::PercentCells;
use crate::read::reader::Reader;

/// Keys in the order they are read: how cells are understood comes first.
const KEYS: &[&str] = &[
    "percent_cells",
    "length_unit",
    "weight_unit",
    "revision",
    "as_of",
    "currency",
    "rounding",
    "cost_digits",
    "lot",
    "offcut_value_percent",
    "ignore_scrap",
    "cutting",
    "max_stages",
    "book_height",
    "roll_charge",
    "learning_percent",
    "learning_form",
    "learning_units",
    "price_ending",
    "option_price_ending",
    "price_date",
    "service_level",
    "horizon_weeks",
];

/// Most units that labor is learned over.
const MOST_LEARNING: u32 = 10_000;

/// Reads the settings, and lets the reader know how cells are to be understood.
pub(super) fn settings(reader: &mut Reader, grid: &Grid) -> Settings {
    let mut settings = Settings::default();
    let mut rows: Vec<Option<usize>> = vec![None; KEYS.len()];
    for row in reader.rows(grid) {
        let at = grid.at("key");
        let Some(key) = row.needed_text(at) else { continue };
        let position = KEYS.iter().position(|known| squashed(known) == squashed(&key));
        let Some(position) = position else {
            let hint = nearest(&key, KEYS.iter().copied()).map(did_you_mean);
            let problem = Problem::SettingUnknown { key: key.clone().into_owned() };
            row.tell_with_hint(Severity::Warning, Some(at), problem, hint);
            settings.other.push((key.into_owned(), row.text(grid.at("value")).into_owned()));
            continue;
        };
        if let Some(first) = rows[position].replace(row.index) {
            let problem = Problem::DefinedTwice {
                what: "setting".to_owned(),
                name: key.into_owned(),
                first: grid.place(first, None),
            };
            row.error(at, problem);
        }
    }
    for (key, index) in KEYS.iter().zip(rows) {
        if let Some(index) = index {
            let row = Row { reader, grid, index };
            if !row.is_empty(grid.at("value")) {
                settings.given.push(key);
                let change = take(row, key, &mut settings);
                apply(change, reader, &mut settings);
            }
        }
    }
    settings
}

/// What a setting changes in how cells are read.
enum Change {
    None,
    PercentCells(PercentCells),
    LengthUnit(Unit),
    WeightUnit(Unit),
}

fn apply(change: Change, reader: &mut Reader, settings: &mut Settings) {
    let factor =
        |unit: &Unit| UnitFactor { dimension: unit.dimension, factor: unit.factor.clone() };
    match change {
        Change::None => {}
        Change::PercentCells(cells) => reader.percent_cells = Some(cells),
        Change::LengthUnit(unit) => {
            reader.length = factor(&unit);
            settings.length_unit = unit;
        }
        Change::WeightUnit(unit) => {
            reader.weight = factor(&unit);
            settings.weight_unit = unit;
        }
    }
}

fn take(row: Row, key: &str, settings: &mut Settings) -> Change {
    let at = row.at("value");
    match key {
        "percent_cells" => {
            if let Some(choice) = row.chosen(at, &row.text(at), &["fraction", "number"]) {
                return Change::PercentCells(
                    [PercentCells::Fraction, PercentCells::Number][choice],
                );
            }
        }
        "length_unit" => {
            if let Some(unit) = unit(row, Dimension::LENGTH) {
                return Change::LengthUnit(unit);
            }
        }
        "weight_unit" => {
            if let Some(unit) = unit(row, Dimension::WEIGHT) {
                return Change::WeightUnit(unit);
            }
        }
        "revision" => settings.revision = row.text(at).into_owned(),
        "as_of" => settings.as_of = row.date(at),
        "currency" => {
            if let Some(code) = currency_code(row, at) {
                settings.currency = code;
            }
        }
        "rounding" => {
            if let Some(choice) = row.chosen(at, &row.text(at), &["half_even", "half_up"]) {
                settings.rounding = [Rounding::HalfEven, Rounding::HalfUp][choice];
            }
        }
        "cost_digits" => settings.cost_digits = within(row, 0, 8).unwrap_or(settings.cost_digits),
        "lot" => settings.lot = within(row, 1, 1_000_000).unwrap_or(settings.lot),
        "offcut_value_percent" => {
            if let Some(share) = row.part(at) {
                let hundredths = (share * Ratio::whole(10_000)).to_integer();
                match hundredths.and_then(|value| u32::try_from(value).ok()) {
                    Some(value) => settings.offcut_value = value,
                    None => row.out_of_range(at, "whole hundredths of a percent"),
                }
            }
        }
        "ignore_scrap" => settings.ignore_scrap = row.flag(at).unwrap_or(false),
        "cutting" => {
            if let Some(choice) = row.chosen(at, &row.text(at), &["guillotine", "free"]) {
                settings.cutting = [Cutting::Guillotine, Cutting::Free][choice];
            }
        }
        "max_stages" => settings.max_stages = within(row, 1, 100),
        "book_height" => settings.book_height = book_height(row, at),
        "roll_charge" => {
            if let Some(choice) = row.chosen(at, &row.text(at), &["roll", "length"]) {
                settings.roll_charge = [RollCharge::Roll, RollCharge::Length][choice];
            }
        }
        "price_date" => {
            if let Some(choice) = row.chosen(at, &row.text(at), &["order", "due", "build"]) {
                settings.price_day = [PriceDay::Order, PriceDay::Due, PriceDay::Due][choice];
            }
        }
        "service_level" => {
            settings.service_level = row.loss(at);
            if settings.service_level.as_ref().is_some_and(Ratio::is_zero) {
                row.out_of_range(at, "above 0 to below 100 %");
            }
        }
        "horizon_weeks" => settings.horizon_weeks = within(row, 1, 520),
        "learning_percent" => {
            if let Some(share) = row.share(at) {
                if share > Ratio::ONE || Ratio::new(1, 2).is_some_and(|half| half > share) {
                    row.out_of_range(at, "50 to 100 %");
                } else {
                    learning(settings).share = share;
                }
            }
        }
        "learning_form" => {
            if let Some(choice) = row.chosen(at, &row.text(at), &["unit", "average"]) {
                learning(settings).form = [LearningForm::Unit, LearningForm::Average][choice];
            }
        }
        "learning_units" => {
            if let Some(units) = within(row, 1, MOST_LEARNING) {
                learning(settings).units = units;
            }
        }
        "price_ending" | "option_price_ending" => match ending(&row.text(at)) {
            Some(ending) if key == "price_ending" => settings.price_ending = Some(ending),
            Some(ending) => settings.option_price_ending = Some(ending),
            None => {
                let (text, expected) = (row.shown(at), "price ending".to_owned());
                let hint = "write `to 5` for a multiple, or `ending 95` for last digits";
                let problem = Problem::NotAMeasure { text, expected };
                row.error_with_hint(at, problem, Some(hint.to_owned()));
            }
        },
        _ => settings.other.push((key.to_owned(), row.text(at).into_owned())),
    }
    Change::None
}

/// Returns the learning curve; the first of its keys begins it.
fn learning(settings: &mut Settings) -> &mut Learning {
    settings.learning.get_or_insert_with(|| Learning {
        share: Ratio::ONE,
        form: LearningForm::Unit,
        units: 1,
    })
}

/// Returns what `to 5` or `ending 95` says: the digits of an ending before the point say how far list prices lie apart.
fn ending(text: &str) -> Option<PriceEnding> {
    let (word, figure) = text.trim().split_once(char::is_whitespace)?;
    let value = number(figure.trim(), DecimalSign::Point).ok()?;
    let is_above_zero = !value.is_negative() && !value.is_zero();
    let text = text.trim().to_owned();
    if word.eq_ignore_ascii_case("to") {
        return is_above_zero.then(|| PriceEnding { step: value, rest: Ratio::ZERO, text });
    }
    if !word.eq_ignore_ascii_case("ending") || value.is_negative() {
        return None;
    }
    let (whole, part) = figure.trim().split_once('.').unwrap_or((figure.trim(), ""));
    let digits = if !part.is_empty() && value < Ratio::ONE { 0 } else { whole.len() };
    let step = Ratio::whole(10).power(u32::try_from(digits).ok().filter(|digits| *digits <= 9)?);
    Some(PriceEnding { step, rest: value, text })
}

/// Most sheets or sticks that a number may say are sawn together.
const MOST_IN_BOOK: u32 = 1000;

/// Reads how many sheets or sticks are sawn together: a number of them, or a height.
pub(super) fn book_height(row: Row, at: At) -> Option<BookHeight> {
    let measure = row.any_measure(at, None)?;
    let count = || measure.value.to_integer().and_then(|count| u32::try_from(count).ok());
    match measure.dimension {
        Dimension::NUMBER => match count().filter(|count| (1..=MOST_IN_BOOK).contains(count)) {
            Some(count) => return Some(BookHeight::Count(count)),
            None => row.out_of_range(at, &format!("a whole number from 1 to {MOST_IN_BOOK}")),
        },
        Dimension::LENGTH => match measure.to_length().filter(|height| *height > Length::ZERO) {
            Some(height) => return Some(BookHeight::Height(height)),
            None => row.out_of_range(at, "above zero"),
        },
        _ => {
            let expected = "number of sheets, or length".to_owned();
            row.error(at, Problem::NotAMeasure { text: row.shown(at), expected });
        }
    }
    None
}

fn within(row: Row, least: u32, most: u32) -> Option<u32> {
    let at = row.at("value");
    let value = row.number(at)?;
    let whole = value.to_integer().and_then(|value| u32::try_from(value).ok());
    let fitting = whole.filter(|whole| (least..=most).contains(whole));
    if fitting.is_none() {
        row.out_of_range(at, &format!("a whole number from {least} to {most}"));
    }
    fitting
}

fn unit(row: Row, dimension: Dimension) -> Option<Unit> {
    let at = row.at("value");
    let name: Cow<str> = row.text(at);
    match unit::find(&name) {
        Some(unit) if unit.dimension == dimension => {
            Some(Unit { name: name.into_owned(), dimension, factor: unit.factor })
        }
        _ => {
            row.error(
                at,
                Problem::NotAMeasure {
                    text: name.into_owned(),
                    expected: format!("{dimension} unit"),
                },
            );
            None
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn endings_of_prices_say_how_far_they_lie_apart() {
        let whole = Ratio::whole;
        let parts = |text| ending(text).map(|ending| (ending.step, ending.rest));
        assert_eq!(parts("to 5"), Some((whole(5), whole(0))));
        assert_eq!(parts("To 0.05"), Some((Ratio::decimal(5, 2), whole(0))));
        assert_eq!(parts("ending 95"), Some((whole(100), whole(95))));
        assert_eq!(parts("ending 995"), Some((whole(1000), whole(995))));
        assert_eq!(parts("ending 05"), Some((whole(100), whole(5))));
        assert_eq!(parts("ending 0"), Some((whole(10), whole(0))));
        assert_eq!(parts("ending 9.95"), Some((whole(10), Ratio::decimal(995, 2))));
        assert_eq!(parts("ending 0.99"), Some((whole(1), Ratio::decimal(99, 2))));
        for text in ["", "95", "to 0", "to -5", "ending -5", "up 5", "ending five"] {
            assert_eq!(parts(text), None, "{text}");
        }
    }
}
