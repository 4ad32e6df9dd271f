use indexmap::IndexMap;

use crate::diag::Checked;
use crate::diag::Diagnostic;
use crate::explode::{Needs, Scratch, Sums};
use crate::model::Book;
use crate::model::ItemId;
use crate::rollup::burden::{BurdenCost, Costed};
use crate::rollup::cost;
use crate::rollup::ledger::{self, Group, Grouping, Key, Place, burden_text, gathered};
use crate::rollup::quick::{Costs, Quick};
use crate::rollup::rates::Rates;
use crate::rollup::{Options, Rollup, each_build};
use crate::watch::Watch;

/// What a roll-up comes to by keys.
#[derive(Clone, Debug)]
pub struct Summed {
    /// A roll-up of the same terms, without its builds.
    pub terms: Rollup,
    /// The sums.
    pub grouping: Grouping,
}

/// Sums what [`rollup`](crate::rollup::rollup) would cost by keys, build by build, so that no more than a build's amounts are held at once.
///
/// The sums are those of [`group`](crate::rollup::group) over the [`ledger`](crate::rollup::ledger()). Nothing where a key parts the bill lines of an item, or where there are no keys: that takes the ledger.
///
/// # Errors
/// As [`rollup`](crate::rollup::rollup).
pub fn summed(
    book: &Book,
    needs: &Needs,
    options: Options,
    keys: &[Key],
    watch: &dyn Watch,
) -> Result<Option<Checked<Summed>>, Vec<Diagnostic>> {
    if keys.is_empty() || ledger::parts_lines(book, keys) {
        return Ok(None);
    }
    let lot = options.lot_of(book);
    let sums = Sums::new(book, needs);
    let rates = Rates::new(book, needs.on);
    let quick = Quick::new((book, needs), &sums, &rates, lot);
    let one = |scratch: &mut Scratch, build: usize| {
        if let Some(costed) = quick.as_ref().and_then(|quick| quick.cost(build, scratch)) {
            let Checked { value: Costs { items, burdens }, warnings } = costed?;
            let items = items.iter().map(|item| (item.item(), item.figures));
            let value = groups_of((book, needs), build, items, &burdens, keys);
            return Ok(Checked { value, warnings });
        }
        let flat = sums.flat(&needs.builds[build], scratch);
        let terms = (lot, options.nest);
        let costed = cost::cost(book, needs, (build, &flat), &rates, terms, None, watch)?;
        let items = costed.value.items.iter().map(|item| (item.item, ledger::amounts_of(item)));
        let value = groups_of((book, needs), build, items, &costed.value.burdens, keys);
        Ok(Checked { value, warnings: costed.warnings })
    };
    let checked = each_build(needs, &sums, watch, one)?;
    let grouping = joined(keys, checked.value.into_iter().flatten());
    let terms = Rollup { lot, cost_digits: book.settings.cost_digits, builds: Vec::new() };
    Ok(Some(Checked { value: Summed { terms, grouping }, warnings: checked.warnings }))
}

/// Returns a build's amounts summed by keys that part no bill lines.
fn groups_of(
    (book, needs): (&Book, &Needs),
    build: usize,
    items: impl Iterator<Item = (ItemId, [i128; 4])>,
    burdens: &[BurdenCost],
    keys: &[Key],
) -> Vec<Group> {
    let mut groups = Groups::default();
    let of_item = |item: ItemId| -> Vec<String> {
        let place = Place::of_item(book, needs, build, item);
        keys.iter().map(|key| place.text(key).into_owned()).collect()
    };
    let mut items = items.peekable();
    let is_of_plan = keys.iter().all(|key| *key == Key::Plan);
    if is_of_plan && let Some((first, _)) = items.peek() {
        let values = of_item(*first);
        let sum = items.fold([0; 4], |sum, (_, amounts)| {
            std::array::from_fn(|index| sum[index] + amounts[index])
        });
        groups.add(values, sum);
    } else {
        for (item, amounts) in items {
            groups.add(of_item(item), amounts);
        }
    }
    for burden in burdens {
        let texts = keys.iter().map(|key| burden_text(book, &needs.builds[build], burden, key));
        groups.add(texts.map(str::to_owned).collect(), [0, burden.cost, 0, 0]);
    }
    groups.into_list()
}

/// Joins the groups of several builds.
fn joined(keys: &[Key], of_builds: impl Iterator<Item = Group>) -> Grouping {
    let mut groups = Groups::default();
    for group in of_builds {
        let amounts = [group.quantity, group.cost, group.weight, group.purchased_weight];
        groups.add(group.values, amounts);
    }
    Grouping { keys: keys.to_vec(), groups: gathered(groups.into_list()) }
}

/// Sums by key values, in the order of first appearance.
#[derive(Default)]
struct Groups(IndexMap<Vec<String>, [i128; 4]>);

impl Groups {
    fn add(&mut self, values: Vec<String>, amounts: [i128; 4]) {
        let sums = self.0.entry(values).or_default();
        for (sum, amount) in sums.iter_mut().zip(amounts) {
            *sum += amount;
        }
    }

    fn into_list(self) -> Vec<Group> {
        let group = |(values, amounts): (Vec<String>, [i128; 4])| {
            let [quantity, cost, weight, purchased_weight] = amounts;
            Group { values, quantity, cost, weight, purchased_weight }
        };
        self.0.into_iter().map(group).collect()
    }
}
