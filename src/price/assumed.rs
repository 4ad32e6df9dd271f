use jiff::civil::Date;

use crate::diag::Diagnostic;
use crate::diag::Distinct;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::model::Book;
use crate::model::Form;
use crate::model::Item;
use crate::model::ItemId;
use crate::model::Rated;
use crate::model::attribute;
use crate::model::flag;
use crate::quantity::Ratio;
use crate::quantity::text::{DecimalSign, number};
use crate::rollup::Rollup;

/// Something a sheet takes for granted.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Assumption {
    /// Items whose column `assumed` says yes.
    Assumed(Vec<ItemId>),
    /// Items without a price: they are left out of the cost.
    Unpriced(Vec<ItemId>),
    /// Items without a weight.
    Unweighed(Vec<ItemId>),
    /// Labor items without a crew: one is taken.
    WithoutCrew(Vec<ItemId>),
    /// An item's price is past.
    Expired(ItemId, Date),
    /// Prices were converted.
    Rated(Rated),
    /// A setting the book does not give, with what is taken.
    Default(&'static str, String),
}

/// Returns the number of people that work at a labor item at once, if its column `crew` says.
pub(super) fn crew(item: &Item) -> Option<Ratio> {
    let text = attribute(&item.attributes, "crew")?;
    number(text, DecimalSign::Point).ok().filter(|crew| *crew > Ratio::ZERO)
}

/// Returns what the sheets of a roll-up take for granted.
pub(super) fn assumptions(
    book: &Book,
    rollup: &Rollup,
    warnings: &mut Distinct,
) -> Vec<Assumption> {
    let mut found = Vec::new();
    let mut used: Vec<ItemId> =
        rollup.builds.iter().flat_map(|cost| &cost.items).map(|item| item.item).collect();
    used.sort_unstable();
    used.dedup();
    let mut list = |make: fn(Vec<ItemId>) -> Assumption, is: &dyn Fn(ItemId, &Item) -> bool| {
        let items: Vec<ItemId> =
            used.iter().copied().filter(|item| is(*item, book.item(*item))).collect();
        if !items.is_empty() {
            found.push(make(items));
        }
    };
    let is_unpriced = |item: ItemId| {
        let mut costs = rollup.builds.iter().flat_map(|cost| &cost.items);
        costs.any(|cost| cost.item == item && cost.is_unpriced)
    };
    list(Assumption::Assumed, &|_, item| {
        let text = attribute(&item.attributes, "assumed").unwrap_or_default();
        flag(text.trim()) == Some(true)
    });
    list(Assumption::Unpriced, &|id, _| is_unpriced(id));
    list(Assumption::Unweighed, &|_, item| item.form != Form::Labor && item.weight.is_none());
    list(Assumption::WithoutCrew, &|_, item| item.form == Form::Labor && crew(item).is_none());
    for item in used.iter().map(|item| book.item(*item)) {
        let text = attribute(&item.attributes, "crew");
        if let Some(text) = text.filter(|_| item.form == Form::Labor && crew(item).is_none()) {
            let problem = Problem::CrewUnclear { item: item.name.clone(), text: text.to_owned() };
            let place = book.place(item.row, Some("crew"));
            warnings.insert(Diagnostic::new(Severity::Warning, place, problem));
        }
    }
    let priced = rollup.builds.iter().flat_map(|cost| &cost.items).flat_map(|item| {
        item.purchases.iter().filter_map(|purchase| Some((item.item, purchase.priced.as_ref()?)))
    });
    for (item, priced) in priced {
        let expired = priced.expired.map(|last| Assumption::Expired(item, last));
        let rated = priced.rated.clone().map(Assumption::Rated);
        for assumption in expired.into_iter().chain(rated) {
            if !found.contains(&assumption) {
                found.push(assumption);
            }
        }
    }
    found.extend(defaults(book, rollup));
    found
}

/// Returns the settings that shape a sheet and that the book does not give.
fn defaults(book: &Book, rollup: &Rollup) -> Vec<Assumption> {
    let settings = &book.settings;
    let shown: [(&'static str, String); 4] = [
        ("lot", rollup.lot.to_string()),
        ("currency", settings.currency.clone()),
        ("rounding", "half_even".to_owned()),
        ("offcut_value_percent", "0".to_owned()),
    ];
    let is_default = |key: &str| !settings.given.contains(&key);
    // A lot that the command line gives is no default.
    let is_lot_given = rollup.lot != settings.lot;
    shown
        .into_iter()
        .filter(|(key, _)| is_default(key) && !(*key == "lot" && is_lot_given))
        .map(|(key, value)| Assumption::Default(key, value))
        .collect()
}
