use crate::explode::Needs;
use crate::model::Book;
use crate::model::Form;
use crate::model::ItemId;
use crate::model::PriceRow;
use crate::model::RowRef;
use crate::nest::Random;
use crate::price::sheet::factor;
use crate::price::{Options, PriceSheet, Rule};
use crate::quantity::{Ratio, Rounding};
use crate::rollup::{BuildCost, Purchase, Rollup, burdens_on};

/// The percentiles that are told.
pub const PERCENTILES: [u32; 7] = [5, 10, 25, 50, 75, 90, 95];

/// Parts that a price may be drawn in between two of its figures.
const PARTS: u64 = 1_000_000_000;
/// Decimal places of the money that a price moves, before it is multiplied by a drawn part.
const PLACES: u32 = 12;

/// Where the cost of one unit may come to lie, in the currency's smallest unit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Range {
    /// Position in the builds of the needs.
    pub build: usize,
    /// Items with a low and a high price.
    pub items: Vec<ItemId>,
    /// Every price at its low.
    pub low: i128,
    /// Every price as it is.
    pub likely: i128,
    /// Every price at its high.
    pub high: i128,
    /// For each of [`PERCENTILES`], the cost that this share of the draws does not exceed (nearest rank).
    pub percentiles: [i128; PERCENTILES.len()],
    /// How many draws were made.
    pub draws: u32,
    /// The seed they were made with.
    pub seed: u64,
}

/// A price that may move: what it moves of a lot's cost.
struct Mover {
    row: RowRef,
    /// Money down to the low price and up to the high one, in units of ten to the power of -[`PLACES`].
    down: i128,
    up: i128,
    /// How many of [`PARTS`] draws lie below the likely price: (likely - low) / (high - low).
    below: u64,
}

/// Draws every price that has a low and a high one, many times, and tells where the cost comes to lie: so often, with that
/// seed.
///
/// Each price follows the triangular distribution of its low, likely and high figures, independently of the others; nests
/// are held as they are, and burdens on money follow. A build whose prices have no low and high has no range.
///
/// How: between low and likely, the density rises in a straight line, so a draw is the larger of two even ones; beyond it
/// falls, and the smaller of two is taken (L. Devroye, Non-Uniform Random Variate Generation, 1986, on the triangular
/// density; from memory). The even draws are whole billionths from a seeded generator, so no float and no root is needed.
#[must_use]
pub fn range(
    book: &Book,
    needs: &Needs,
    rollup: &Rollup,
    sheet: &PriceSheet,
    options: &Options,
    (draws, seed): (u32, u64),
) -> Vec<Option<Range>> {
    let builds = rollup.builds.iter().zip(&sheet.plans);
    let ranges = builds.map(|(cost, plan)| {
        let (movers, items) = movers(book, needs, rollup, cost, options);
        if movers.is_empty() {
            return None;
        }
        let likely = Ratio::decimal(
            plan.ledger + plan.learned.as_ref().map_or(0, |learned| learned.added),
            rollup.cost_digits,
        );
        let unit = |moved: i128| {
            let lot = Ratio::from(i64::from(rollup.lot));
            let money = &likely + &Ratio::decimal(moved, PLACES);
            Rule::of(book).minor(&money.checked_div(&lot).expect("a lot has units"))
        };
        let mut random = Random::new(seed);
        let mut moved: Vec<i128> = (0..draws.max(1))
            .map(|_| movers.iter().map(|mover| mover.draw(&mut random)).sum())
            .collect();
        moved.sort_unstable();
        let percentiles = PERCENTILES.map(|percent| {
            let rank = (moved.len() * percent as usize).div_ceil(100).max(1);
            unit(moved[rank - 1])
        });
        Some(Range {
            build: cost.build,
            items,
            low: unit(movers.iter().map(|mover| mover.down).sum()),
            likely: plan.factory.unit,
            high: unit(movers.iter().map(|mover| mover.up).sum()),
            percentiles,
            draws: draws.max(1),
            seed,
        })
    });
    ranges.collect()
}

impl Mover {
    fn draw(&self, random: &mut Random) -> i128 {
        let branch = random.below(PARTS);
        let (one, other) = (random.below(PARTS), random.below(PARTS));
        // What is left of the way back to the likely price: the larger draw is nearer to it on either side.
        let left = i128::from(PARTS - one.max(other));
        let whole = if branch < self.below { self.down } else { self.up };
        whole * left / i128::from(PARTS)
    }
}

/// Returns the prices of a build that may move, and the items that have them.
fn movers(
    book: &Book,
    needs: &Needs,
    rollup: &Rollup,
    cost: &BuildCost,
    options: &Options,
) -> (Vec<Mover>, Vec<ItemId>) {
    let learned = factor(book, options.first_unit.unwrap_or(1), rollup.lot);
    let mut movers: Vec<Mover> = Vec::new();
    let mut items = Vec::new();
    for own in &cost.items {
        let bought: Ratio = own.purchases.iter().map(|purchase| purchase.money.clone()).sum();
        let mut with_burdens = None;
        for purchase in &own.purchases {
            let Some((row, [low, likely, high])) = figures(book, own.item, purchase) else {
                continue;
            };
            let is_labor = book.item(own.item).form == Form::Labor;
            let times = learned.clone().filter(|_| is_labor).unwrap_or(Ratio::ONE);
            let with_burdens = with_burdens.get_or_insert_with(|| {
                (Ratio::ONE + burdens_on(book, needs, cost.build, own)) * &own.exact * &times
            });
            let part = purchase.money.checked_div(&bought).unwrap_or(Ratio::ZERO);
            let money = |price: &Ratio| {
                let share = (price - &likely).checked_div(&likely).unwrap_or(Ratio::ZERO);
                let moved = &(&*with_burdens * &part) * &share;
                moved.scaled(PLACES, Rounding::HalfEven).to_integer().unwrap_or(0)
            };
            let (down, up) = (money(&low), money(&high));
            if !items.contains(&own.item) {
                items.push(own.item);
            }
            if let Some(known) = movers.iter_mut().find(|known| known.row == row) {
                known.down += down;
                known.up += up;
                continue;
            }
            let below = (&likely - &low).checked_div(&(&high - &low)).unwrap_or(Ratio::ZERO);
            let below = (below * Ratio::from(i64::try_from(PARTS).unwrap_or(i64::MAX))).ceil();
            let below = below.to_integer().and_then(|below| u64::try_from(below).ok()).unwrap_or(0);
            movers.push(Mover { row, down, up, below });
        }
    }
    (movers, items)
}

/// Returns the row of `prices` that a purchase was priced by, with its low, likely and high figures where it has both.
fn figures(book: &Book, item: ItemId, purchase: &Purchase) -> Option<(RowRef, [Ratio; 3])> {
    let priced = purchase.priced.as_ref()?;
    let rows = book.prices_of(item).iter().map(|id| &book.prices[id.index()]);
    let row: &PriceRow = rows.into_iter().find(|row| row.row == priced.row)?;
    let likely = row.price.as_ref()?.amount.clone();
    // A likely price outside of its bounds is a bound itself.
    let low = row.terms.low.clone()?.min(likely.clone());
    let high = row.terms.high.clone()?.max(likely.clone());
    (!likely.is_zero() && low < high).then_some((row.row, [low, likely, high]))
}
