//! Cuts pieces from stock: an [`Instance`] in, a [`Nest`] out.
//!
//! Every nest is whole: each piece is in a layout or in `unplaced` with the reason; each layout obeys kerf, trim,
//! grain, factory edges and the way of cutting; the bound is valid whatever the search did. The goal is the least
//! purchase cost, then the least waste. The same instance and options give the same nest on every machine.
//!
//! Geometry: a stock's length lies along x, its width along y, the origin at one corner. Sticks have no width.
//!
//! Not here: prices and items. The caller turns them into costs and pieces.

mod bound;
mod budget;
pub mod check;
#[cfg(test)]
mod laws;
mod linear;
mod random;
mod rect;
mod simplex;

pub(crate) use random::Random;

use crate::model::Edges;
use crate::quantity::{Length, Ratio};
use crate::watch::Watch;

/// What the stock is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Kind {
    /// Sticks: one dimension; widths are ignored.
    Linear,
    /// Sheets, cut from edge to edge.
    Guillotine,
    /// Sheets, cut any way without overlap.
    Free,
    /// Rolls: the first cuts go across the roll, parting it into runs; each run is then cut as a sheet. A run never
    /// goes over a roll's end.
    Roll,
    /// Rolls, cut any way without overlap, by a router or a hand knife. No piece goes over a roll's end.
    FreeRoll,
}

impl Kind {
    /// Tells whether it is a roll: charged by length if so wanted, trimmed at its ends alone, with splices of a run.
    #[must_use]
    pub fn is_roll(self) -> bool {
        matches!(self, Kind::Roll | Kind::FreeRoll)
    }

    /// Tells whether pieces may lie so that no cut from edge to edge parts them.
    #[must_use]
    pub fn is_free(self) -> bool {
        matches!(self, Kind::Free | Kind::FreeRoll)
    }
}

/// A stock size.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stock {
    /// Length, above zero.
    pub length: Length,
    /// Width, above zero; zero for sticks.
    pub width: Length,
    /// Cost of one, not below zero.
    pub cost: Ratio,
    /// How many there are, if limited.
    pub available: Option<u64>,
}

/// A piece to be cut, with how many.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Piece {
    /// Length, above zero.
    pub length: Length,
    /// Width, above zero; zero for sticks.
    pub width: Length,
    /// How many, above zero.
    pub count: u64,
    /// Whether it may be turned by 90 degrees.
    pub may_turn: bool,
    /// Factory edges it needs along its length; such a piece is never turned.
    pub edges: Edges,
}

/// What is to be cut from what; never changes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Instance {
    /// What the stock is.
    pub kind: Kind,
    /// Sizes to choose from.
    pub stocks: Vec<Stock>,
    /// Pieces; no two entries alike in size, turning and edges.
    pub pieces: Vec<Piece>,
    /// Total length needed in any splices (sticks and rolls; a roll's whole width): taken from what the pieces leave,
    /// in splices of at least `splice_min`, and from further stock.
    pub run: Length,
    /// Shortest splice of the run, above zero if there is a run.
    pub splice_min: Length,
    /// Width of a cut.
    pub kerf: Length,
    /// Taken off each edge (sheets: all four; sticks and rolls: both ends). Factory edges are not trimmed away: a piece
    /// that needs one lies at the untrimmed edge.
    pub trim: Length,
    /// Shortest side of a rest that is kept as an offcut; nothing is kept without it.
    pub offcut_min: Option<Length>,
    /// Most stages of guillotine cuts, if limited.
    pub max_stages: Option<u32>,
    /// Whether a roll is charged by the length taken (up to the last cut) instead of whole.
    pub charges_length: bool,
}

impl Instance {
    /// Returns what one stock of a layout costs: all of it, or of a roll charged by length what is taken.
    #[must_use]
    pub fn cost(&self, layout: &Layout) -> Ratio {
        let stock = &self.stocks[layout.stock];
        if self.kind.is_roll() && self.charges_length {
            let share = layout.taken.to_ratio().checked_div(&stock.length.to_ratio());
            &stock.cost * &share.expect("a stock's length is above zero")
        } else {
            stock.cost.clone()
        }
    }

    /// Returns the rectangle that a placed piece takes.
    #[must_use]
    pub fn placed(&self, placement: &Placement) -> Rest {
        let Piece { length, width, .. } = self.pieces[placement.piece];
        let (length, width) = if placement.is_turned { (width, length) } else { (length, width) };
        Rest { x: placement.x, y: placement.y, length, width }
    }

    /// Returns the instance without a run, a kerf or a trim, whose rests are not kept, whose stages are not limited and
    /// whose rolls are charged whole; with `..` it begins any other.
    #[must_use]
    pub fn new(kind: Kind, stocks: Vec<Stock>, pieces: Vec<Piece>) -> Instance {
        Instance {
            kind,
            stocks,
            pieces,
            run: Length::ZERO,
            splice_min: Length::ZERO,
            kerf: Length::ZERO,
            trim: Length::ZERO,
            offcut_min: None,
            max_stages: None,
            charges_length: false,
        }
    }
}

/// How hard to search. Effort counts work, not seconds, so an answer does not depend on the machine.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Options {
    /// Work allowed; 1 is the first good answer, 10 looks ten times as hard.
    pub effort: u32,
    /// Seed of the random choices.
    pub seed: u64,
}

impl Default for Options {
    fn default() -> Options {
        Options { effort: 10, seed: 1 }
    }
}

/// Where a piece lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Placement {
    /// Position in [`Instance::pieces`].
    pub piece: usize,
    /// Distance of its low corner from the stock's origin, along the length.
    pub x: Length,
    /// The same along the width; zero for sticks.
    pub y: Length,
    /// Whether it is turned by 90 degrees.
    pub is_turned: bool,
}

/// A rectangle (or length) of stock.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Rest {
    /// Low corner along the length.
    pub x: Length,
    /// Low corner along the width.
    pub y: Length,
    /// Extent along the length.
    pub length: Length,
    /// Extent along the width; zero for sticks.
    pub width: Length,
}

/// How one stock is cut, and how often the same is done.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Layout {
    /// Position in [`Instance::stocks`].
    pub stock: usize,
    /// How many stocks are cut this way, above zero.
    pub repeat: u64,
    /// Pieces, in order of x, then y.
    pub placements: Vec<Placement>,
    /// Splices of the run, in order of x.
    pub splices: Vec<Rest>,
    /// Rests worth keeping.
    pub offcuts: Vec<Rest>,
    /// Length taken from the stock, to the end of the last piece or splice and its cut; a roll charged by length is
    /// charged this much.
    pub taken: Length,
}

impl Layout {
    /// Adds a layout to others: once more where it is cut as one of them, whatever of its waste is called an offcut.
    pub(crate) fn join(self, layouts: &mut Vec<Layout>) {
        let is_same = |other: &&mut Layout| {
            other.stock == self.stock
                && other.placements == self.placements
                && other.splices == self.splices
        };
        match layouts.iter_mut().find(is_same) {
            Some(other) => other.repeat += self.repeat,
            None => layouts.push(self),
        }
    }
}

/// Pieces that no layout holds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unplaced {
    /// Position in [`Instance::pieces`]; none for the run.
    pub piece: Option<usize>,
    /// How many, or 1 for the run.
    pub count: u64,
    /// Why.
    pub reason: UnplacedReason,
}

/// Why a piece is not placed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum UnplacedReason {
    /// It fits no stock size.
    TooLarge,
    /// All stock that is available is used up.
    NoStock,
}

/// Which nests a bound holds for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BoundRule {
    /// Any cutting at all.
    Any,
    /// Guillotine cuts only.
    Guillotine,
    /// Staged guillotine cuts only.
    Staged,
}

/// A cost no nest of the instance can go below.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Bound {
    /// The cost, exact.
    pub cost: Ratio,
    /// Least number of stocks, whatever their cost; what cannot be placed is not counted.
    pub stocks: u64,
    /// Which nests it holds for.
    pub rule: BoundRule,
    /// How it was found, in words for the reader: `column generation`, `dual feasible functions`, `area`.
    pub method: &'static str,
}

/// How a search ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ending {
    /// The cost equals the bound: no nest is cheaper.
    Proven,
    /// The effort allowed was spent.
    Effort,
    /// The watcher stopped it.
    Stopped,
}

impl Ending {
    /// Returns how a search ended that left this out; what lacks stock is not proven.
    fn of(cost: &Ratio, bound: &Ratio, unplaced: &[Unplaced], is_stopped: bool) -> Ending {
        let lacks_stock =
            unplaced.iter().any(|unplaced| unplaced.reason == UnplacedReason::NoStock);
        if cost == bound && !lacks_stock {
            Ending::Proven
        } else if is_stopped {
            Ending::Stopped
        } else {
            Ending::Effort
        }
    }
}

/// The pieces laid out on stock; finished, plain data.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Nest {
    /// Distinct layouts; most repeated first, then by stock and placements.
    pub layouts: Vec<Layout>,
    /// What is not placed.
    pub unplaced: Vec<Unplaced>,
    /// Cost of all stock taken, exact.
    pub cost: Ratio,
    /// What the cost cannot go below.
    pub bound: Bound,
    /// How the search ended.
    pub ending: Ending,
}

impl Nest {
    /// Returns how many of each stock are taken, by position in [`Instance::stocks`].
    #[must_use]
    pub fn stock_counts(&self, instance: &Instance) -> Vec<u64> {
        let mut counts = vec![0; instance.stocks.len()];
        for layout in &self.layouts {
            counts[layout.stock] += layout.repeat;
        }
        counts
    }

    /// Returns how far the cost may be above the best possible: `(cost - bound) / bound`, or zero without a cost.
    #[must_use]
    pub fn gap(&self) -> Ratio {
        (&self.cost - &self.bound.cost).checked_div(&self.bound.cost).unwrap_or(Ratio::ZERO)
    }
}

/// Cuts the pieces of an instance from its stocks.
///
/// # Example
/// ```
/// use cutbill::model::Edges;
/// use cutbill::nest::{Ending, Instance, Kind, Options, Piece, Stock, nest};
/// use cutbill::quantity::{Length, Ratio};
/// use cutbill::watch::Silent;
///
/// let inches = |inches: i64| Length::from_nanometers(inches * 25_400_000);
/// let none = Length::from_nanometers(0);
/// let instance = Instance {
///     kind: Kind::Linear,
///     stocks: vec![Stock { length: inches(96), width: none, cost: Ratio::from(5), available: None }],
///     pieces: vec![Piece {
///         length: inches(40), width: none, count: 3, may_turn: false, edges: Edges::None,
///     }],
///     run: none,
///     splice_min: none,
///     kerf: inches(1),
///     trim: none,
///     offcut_min: None,
///     max_stages: None,
///     charges_length: false,
/// };
/// // Two of 40 in come from a stick of 96 in, the third needs another one.
/// let nest = nest(&instance, Options::default(), &Silent);
/// assert_eq!(nest.cost, Ratio::from(10));
/// assert_eq!(nest.ending, Ending::Proven);
/// ```
#[must_use]
pub fn nest(instance: &Instance, options: Options, watch: &dyn Watch) -> Nest {
    let kept = worth_cutting(&instance.stocks);
    if kept.len() == instance.stocks.len() {
        return search(instance, options, watch);
    }
    let stocks = kept.iter().map(|stock| instance.stocks[*stock].clone()).collect();
    let mut nest = search(&Instance { stocks, ..instance.clone() }, options, watch);
    for layout in &mut nest.layouts {
        layout.stock = kept[layout.stock];
    }
    nest
}

/// Returns the positions of the stocks without those of a size that is to be had at no more cost, both without limit, as
/// where several vendors sell it: no nest needs them, and a search would have to find that out.
fn worth_cutting(stocks: &[Stock]) -> Vec<usize> {
    let alike = |stock: &Stock| (stock.length, stock.width, stock.available);
    let is_beaten = |index: usize, stock: &Stock| {
        // What is limited may be there already, and is the caller's to weigh.
        stock.available.is_none()
            && stocks.iter().enumerate().any(|(other_index, other)| {
                alike(other) == alike(stock) && (&other.cost, other_index) < (&stock.cost, index)
            })
    };
    (0..stocks.len()).filter(|index| !is_beaten(*index, &stocks[*index])).collect()
}

fn search(instance: &Instance, options: Options, watch: &dyn Watch) -> Nest {
    match instance.kind {
        Kind::Linear => linear::nest(instance, options, watch),
        Kind::Guillotine | Kind::Free | Kind::Roll | Kind::FreeRoll => {
            rect::nest(instance, options, watch)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::Silent;

    #[test]
    fn of_one_size_only_what_is_cheapest_or_limited_is_cut() {
        let inches = |count| Length::from_inches(count, 1).expect("inches are in range");
        let stock = |length, cost, available| Stock {
            length: inches(length),
            width: inches(48),
            cost: Ratio::whole(cost),
            available,
        };
        let kept = |stocks: &[Stock]| worth_cutting(stocks);
        let (dear, cheap) = (stock(96, 30, None), stock(96, 20, None));
        assert_eq!(kept(&[dear.clone(), cheap.clone()]), [1]);
        assert_eq!(kept(&[cheap.clone(), cheap.clone(), stock(120, 30, None)]), [0, 2]);
        // What is cheap may run out, and what is there already is cut first.
        assert_eq!(kept(&[dear.clone(), stock(96, 20, Some(3))]), [0, 1]);
        assert_eq!(kept(&[stock(96, 30, Some(3)), cheap.clone()]), [0, 1]);

        let piece = Piece {
            length: inches(90),
            width: inches(40),
            count: 7,
            may_turn: false,
            edges: Edges::None,
        };
        let instance =
            Instance::new(Kind::Guillotine, vec![dear, stock(60, 1, None), cheap], vec![piece]);
        let nest = nest(&instance, Options { effort: 1, seed: 1 }, &Silent);
        assert_eq!(check::check(&instance, &nest), Ok(()));
        assert_eq!((nest.stock_counts(&instance), nest.cost), (vec![0, 0, 7], Ratio::whole(140)));
    }
}
