//! Tables of changes: swaps, rates, cases, and what was really bought.

use jiff::civil::Date;

use crate::formula::Expression;
use crate::model::{AssemblyId, Component, Item, ItemId, OptionId, Parent, PlanId, RowRef};
use crate::quantity::Ratio;
use crate::quantity::text;
use crate::quantity::text::CURRENCY_SIGNS;
use crate::quantity::text::DecimalSign;

/// A proposed or approved change of material; rows of one swap act together (table `swaps`).
#[derive(Clone, Debug)]
pub struct SwapRow {
    /// The swap it belongs to.
    pub swap: String,
    /// What is taken away; nothing where only something is added or set.
    pub from: Option<Component>,
    /// What takes its place; nothing where it is only removed or something set.
    pub to: Option<Component>,
    /// How many of `to` for one of `from`; 1 unless told otherwise.
    pub ratio: Ratio,
    /// The parent whose lines change; every parent if not said.
    pub parent: Option<Parent>,
    /// How much of `to` is added where nothing is taken away.
    pub quantity: Option<Expression>,
    /// Only builds of this plan.
    pub plan: Option<PlanId>,
    /// Only within this assembly.
    pub assembly: Option<AssemblyId>,
    /// Only with this option.
    pub option: Option<OptionId>,
    /// Named dimensions that are set, names in lower case.
    pub set: Vec<(String, Expression)>,
    /// First day it holds.
    pub from_date: Option<Date>,
    /// First unit it holds.
    pub from_unit: Option<u32>,
    /// Whether it is decided.
    pub is_approved: bool,
    /// Whether what is left of `from` is used up first.
    pub uses_up: bool,
    /// Where it stands.
    pub row: RowRef,
}

/// What one unit of a foreign currency is worth from a day on (table `rates`).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RateRow {
    /// ISO 4217 code.
    pub currency: String,
    /// First day it holds.
    pub date: Date,
    /// Units of the book's currency for one of this; above zero.
    pub rate: Ratio,
    /// Where it stands.
    pub row: RowRef,
}

/// Which items a price case is about.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Match {
    /// Items whose name fits; `*` stands for any text, `?` for one letter; without regard to case.
    Item(String),
    /// Items of this group (`group = lumber`), with the same signs.
    Group(String),
    /// Items of this vendor (`vendor = Marsh Lumber`), with the same signs.
    Vendor(String),
}

/// How a price changes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PriceChange {
    /// By this share: 0.12 for `+12 %`.
    Share(Ratio),
    /// By this much for one of the price's own unit.
    Amount(Ratio),
    /// To this much for one of the price's own unit.
    To(Ratio),
}

impl Match {
    /// Reads `PLY-*`, `group = lumber`, `vendor = Marsh Lumber` or `item = PLY-*`; nothing if no name is there or the word
    /// before the `=` is none of these.
    ///
    /// # Example
    /// ```
    /// use cutbill::model::Match;
    ///
    /// assert_eq!(Match::parse("Group = lumber"), Some(Match::Group("lumber".to_owned())));
    /// assert_eq!(Match::parse("color = red"), None);
    /// ```
    #[must_use]
    pub fn parse(text: &str) -> Option<Match> {
        let (key, name) = text.split_once('=').unwrap_or(("item", text));
        let name = Some(name.trim()).filter(|name| !name.is_empty())?.to_owned();
        match key.trim().to_lowercase().as_str() {
            "item" => Some(Match::Item(name)),
            "group" => Some(Match::Group(name)),
            "vendor" => Some(Match::Vendor(name)),
            _ => None,
        }
    }

    /// Tells whether it is about an item.
    #[must_use]
    pub fn fits(&self, item: &Item) -> bool {
        match self {
            Match::Item(pattern) => is_like(&item.name, pattern),
            Match::Group(pattern) => is_like(&item.group, pattern),
            Match::Vendor(pattern) => is_like(&item.vendor, pattern),
        }
    }
}

/// Tells whether a name fits a pattern, without regard to case: `*` stands for any text, `?` for one letter.
///
/// Of several `*`, only the last may still have to take more, so that one place to go back to is enough: the cost is the
/// product of both lengths at most.
fn is_like(name: &str, pattern: &str) -> bool {
    let letters = |text: &str| text.to_lowercase().chars().collect::<Vec<char>>();
    let (name, pattern) = (letters(name), letters(pattern));
    let (mut at, mut next) = (0, 0);
    let mut star: Option<(usize, usize)> = None;
    while at < name.len() {
        match pattern.get(next) {
            Some('*') => {
                star = Some((next, at));
                next += 1;
            }
            Some(letter) if *letter == '?' || *letter == name[at] => {
                at += 1;
                next += 1;
            }
            _ => {
                let Some((place, taken)) = star else { return false };
                star = Some((place, taken + 1));
                at = taken + 1;
                next = place + 1;
            }
        }
    }
    pattern[next..].iter().all(|letter| *letter == '*')
}

impl PriceChange {
    /// Reads `12 %`, `+12 %` or `-6 %`; `+0.50` or `-0.50`, whose sign must be there; `= 4.20` or `to 4.20`. Nothing for
    /// anything else, such as a bare `4.20`, which could be meant in two ways, or a price that would be below zero.
    ///
    /// # Example
    /// ```
    /// use cutbill::model::PriceChange;
    /// use cutbill::quantity::Ratio;
    ///
    /// let less = PriceChange::Share(Ratio::decimal(-6, 2));
    /// assert_eq!(PriceChange::parse("-6 %"), Some(less));
    /// assert_eq!(PriceChange::parse("4.20"), None);
    /// ```
    #[must_use]
    pub fn parse(text: &str) -> Option<PriceChange> {
        PriceChange::parse_with(text, DecimalSign::Point)
    }

    /// Reads the same with another decimal sign.
    #[must_use]
    pub fn parse_with(text: &str, sign: DecimalSign) -> Option<PriceChange> {
        let text = text.trim();
        let amount = |text: &str| {
            let digits = text.trim().trim_matches(CURRENCY_SIGNS).trim();
            text::number(digits, sign).ok()
        };
        if let Some(share) = text.strip_suffix('%') {
            let share = text::number(share.trim(), sign).ok()? * Ratio::decimal(1, 2);
            return (share >= Ratio::whole(-1)).then_some(PriceChange::Share(share));
        }
        let is_word = |word: &str| word.eq_ignore_ascii_case("to");
        let price = text.strip_prefix('=').or_else(|| {
            let (word, price) = text.split_once(char::is_whitespace)?;
            is_word(word).then_some(price)
        });
        if let Some(price) = price {
            return amount(price).filter(|price| !price.is_negative()).map(PriceChange::To);
        }
        if let Some(more) = text.strip_prefix('+') {
            let more = more.trim_start();
            let is_signed = more.starts_with(['+', '-', '\u{2212}']);
            return amount(more).filter(|_| !is_signed).map(PriceChange::Amount);
        }
        let less = text.strip_prefix(['-', '\u{2212}'])?.trim_start();
        amount(less).filter(|less| !less.is_negative()).map(|less| PriceChange::Amount(-less))
    }
}

/// One row of a price case; rows of one case act together (table `cases`).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CaseRow {
    /// The case it belongs to.
    pub case: String,
    /// Which items.
    pub items: Match,
    /// How their prices change.
    pub change: PriceChange,
    /// Where it stands; nothing if it came from the command line.
    pub row: Option<RowRef>,
}

/// What was really bought and used (table `actuals`).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ActualRow {
    /// The item.
    pub item: ItemId,
    /// The plan it was used for, if that is known.
    pub plan: Option<PlanId>,
    /// When.
    pub date: Option<Date>,
    /// How much, in base units of the item's unit; not below zero.
    pub quantity: Ratio,
    /// What it cost in the book's currency, if that is known.
    pub amount: Option<Ratio>,
    /// Units built with it, if the row says.
    pub units: Option<u32>,
    /// Where it stands.
    pub row: RowRef,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_match_names_items_groups_or_vendors() {
        let item = |name: &str| Some(Match::Item(name.to_owned()));
        assert_eq!(Match::parse(" PLY-* "), item("PLY-*"));
        assert_eq!(Match::parse("item = A=B"), item("A=B"));
        assert_eq!(Match::parse("GROUP=sheet goods"), Some(Match::Group("sheet goods".to_owned())));
        let vendor = Match::Vendor("Marsh Lumber".to_owned());
        assert_eq!(Match::parse("vendor = Marsh Lumber"), Some(vendor));
        for text in ["", "group =", "size = 4", "="] {
            assert_eq!(Match::parse(text), None, "{text}");
        }
    }

    #[test]
    fn patterns_fit_without_regard_to_case() {
        for (pattern, name, fits) in [
            ("ply-*", "PLY-18", true),
            ("ply-?", "PLY-18", false),
            ("ply-??", "PLY-18", true),
            ("*-1*", "PLY-12-18", true),
            ("*a*b", "aab", true),
            ("*a*b", "aba", false),
            ("*", "", true),
            ("?", "", false),
            ("ply", "PLY-18", false),
            ("PLY-18**", "ply-18", true),
        ] {
            assert_eq!(is_like(name, pattern), fits, "{pattern} on {name}");
        }
    }

    #[track_caller]
    fn check(text: &str, expected: &PriceChange) {
        assert_eq!(PriceChange::parse(text).as_ref(), Some(expected), "{text}");
    }

    #[test]
    fn a_change_is_a_share_an_amount_or_a_price() {
        let share = |digits| PriceChange::Share(Ratio::decimal(digits, 3));
        check("12 %", &share(120));
        check("+12%", &share(120));
        check("-4.5 %", &share(-45));
        check("-100 %", &share(-1000));
        let amount = |digits| PriceChange::Amount(Ratio::decimal(digits, 2));
        check("+0.50", &amount(50));
        check("- 0.50", &amount(-50));
        check("+$1,250", &amount(125_000));
        let to = |digits| PriceChange::To(Ratio::decimal(digits, 2));
        check("= 4.20", &to(420));
        check("=$4.20", &to(420));
        check("To 4.20", &to(420));
        check("to 0", &to(0));
        let comma = PriceChange::parse_with("+0,50", DecimalSign::Comma);
        assert_eq!(comma, Some(amount(50)));
    }

    #[test]
    fn what_could_be_meant_in_two_ways_is_no_change() {
        for text in
            ["4.20", "", "%", "+", "=", "to", "= -1", "to -1", "-120 %", "+-1", "--1", "up 5"]
        {
            assert_eq!(PriceChange::parse(text), None, "{text}");
        }
    }
}
