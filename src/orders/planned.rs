//! What is planned for one item, before it is gathered into orders.

use crate::diag::Diagnostic;
use crate::model::Book;
use crate::model::ItemId;
use crate::model::PlanId;
use crate::model::ScheduleRow;
use crate::model::SizeId;
use crate::model::StockRow;
use crate::model::Week;
use crate::nest::{Instance, Nest};
use crate::orders::buying::OrderLine;
use crate::orders::demand::Weeks;
use crate::orders::record::Move;
use crate::quantity::Ratio;

/// What is planned for one item.
#[derive(Clone, Debug)]
pub struct Planned {
    /// The item.
    pub item: ItemId,
    /// Stock over the weeks, one per size that is used or there.
    pub balances: Vec<Balance>,
    /// Open orders, in the order they are due.
    pub open: Vec<OpenOrder>,
    /// What is to be ordered, by week.
    pub lines: Vec<OrderLine>,
    /// How it is cut, pool by pool.
    pub cuts: Vec<PoolCut>,
    /// What pooling saves, if several plans share a pool.
    pub gain: Option<Gain>,
    /// Gaps met on the way.
    pub findings: Vec<Diagnostic>,
}

impl Planned {
    pub(super) fn new(item: ItemId) -> Planned {
        Planned {
            item,
            balances: Vec::new(),
            open: Vec::new(),
            lines: Vec::new(),
            cuts: Vec::new(),
            gain: None,
            findings: Vec::new(),
        }
    }
}

/// Stock of an item or one of its sizes over the weeks, in purchase units.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Balance {
    /// The size, where the item has sizes.
    pub size: Option<SizeId>,
    /// There at the beginning, without what is promised elsewhere.
    pub on_hand: Ratio,
    /// Needed per week; of sizes, as the nests take them.
    pub gross: Vec<Ratio>,
    /// Open orders due per week.
    pub due: Vec<Ratio>,
    /// Planned to arrive per week.
    pub planned: Vec<Ratio>,
    /// There at the end of each week, with open orders pulled in where they are needed; not below zero for items that are
    /// ordered for builds.
    pub balance: Vec<Ratio>,
}

impl Balance {
    /// Works out the balance of an item that nothing is planned for; it may fall below zero.
    pub(super) fn follow(&mut self) {
        let mut balance = self.on_hand.clone();
        self.balance = (0..self.gross.len())
            .map(|week| {
                balance = &balance + &self.due[week] + &self.planned[week] - &self.gross[week];
                balance.clone()
            })
            .collect();
    }
}

/// An open order and what should become of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OpenOrder {
    /// Position in the book's stock.
    pub row: usize,
    /// Position of the week it is due in; the number of weeks if that is after the last.
    pub due: usize,
    /// What should become of it.
    pub change: Move,
}

impl OpenOrder {
    pub(super) fn new(row: usize, due: usize) -> OpenOrder {
        OpenOrder { row, due, change: Move::Keep }
    }
}

/// The nest of what one pool of weeks needs, over what is there and what can be bought.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PoolCut {
    /// Position of its first week.
    pub week: usize,
    /// How many weeks it covers.
    pub weeks: usize,
    /// What is cut from what.
    pub instance: Instance,
    /// What each of the instance's stocks is.
    pub stocks: Vec<Taken>,
    /// How it is cut.
    pub nest: Nest,
}

/// Where a stock of a nest comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Taken {
    /// An offcut that is there.
    Offcut,
    /// A whole size that is there.
    Shelf(SizeId),
    /// A whole size on order, by its position in [`Planned::open`].
    Open(SizeId, usize),
    /// A whole size to be bought.
    Bought(SizeId),
}

/// What nesting several plans together saves, from new stock alone.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Gain {
    /// Sheets, rolls or sticks when each plan is cut alone.
    pub alone: u64,
    /// The same when plans of a pool are cut together.
    pub together: u64,
    /// Exact cost of each, in the book's currency; zero without prices.
    pub cost: [Ratio; 2],
    /// Plans that share it.
    pub plans: Vec<PlanId>,
}

/// Tells whether a promise takes from what the schedule can use: one to a build order that is planned for does not, since
/// the schedule asks for the same.
pub(super) fn is_promised(book: &Book, weeks: Weeks, row: &StockRow) -> bool {
    let is_planned_for = |scheduled: &ScheduleRow| {
        let position = usize::try_from(Week::of(scheduled.day).since(weeks.first));
        !row.order.is_empty()
            && scheduled.order.eq_ignore_ascii_case(&row.order)
            && position.is_ok_and(|position| position < weeks.count)
    };
    !book.schedule.iter().any(is_planned_for)
}
