use std::cmp::Reverse;

use crate::explode::Needs;
use crate::model::Book;
use crate::model::Form;
use crate::model::ItemId;
use crate::price::Options;
use crate::price::sheet::factor;
use crate::quantity::Ratio;
use crate::rollup::{Rollup, burdens_on};

/// What one percent on an item's price moves.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Swing {
    /// The item.
    pub item: ItemId,
    /// Money of one unit that one percent on its price moves, exact: its cost and the burdens that follow it.
    pub money: Ratio,
    /// How much of that is burdens.
    pub burdens: Ratio,
}

/// Ranks the prices of each build by what one percent on them moves, the most first. Exact, not sampled; every nest is held
/// as it is. Labor is ranked with the rest: its price is the wage.
#[must_use]
pub fn sensitivity(
    book: &Book,
    needs: &Needs,
    rollup: &Rollup,
    options: &Options,
) -> Vec<Vec<Swing>> {
    let learned = factor(book, options.first_unit.unwrap_or(1), rollup.lot);
    let per_unit = Ratio::new(1, 100 * i128::from(rollup.lot)).expect("a lot has units");
    let of_build = rollup.builds.iter().map(|cost| {
        let swings = cost.items.iter().filter(|own| !own.exact.is_zero()).map(|own| {
            let is_labor = book.item(own.item).form == Form::Labor;
            let times = learned.clone().filter(|_| is_labor).unwrap_or(Ratio::ONE);
            let money = &(&own.exact * &times) * &per_unit;
            let burdens = burdens_on(book, needs, cost.build, own) * &money;
            Swing { item: own.item, money: money + &burdens, burdens }
        });
        let mut swings: Vec<Swing> = swings.collect();
        swings.sort_by_key(|swing| (Reverse(swing.money.clone()), swing.item));
        swings
    });
    of_build.collect()
}
