//! Rolls needs up to money and weight: one rounded amount per plan and item, and a ledger that splits them.
//!
//! In: a book, its needs and a lot size. Out: a [`Rollup`]: per plan the nests, purchases, costs and weights of its items,
//! and its burdens. [`ledger`] lays these amounts out at the grain asked for, [`group`] sums them, [`why`] traces a
//! figure back to bill lines, price rows and layouts.
//!
//! Always: a plan's whole requirement of an item for the lot is priced exactly and rounded once; coarser amounts are
//! sums, finer ones are shares by the largest-remainder rule, so every grouping has the same grand total.
//!
//! Not here: several plans nested together, vendors' order rules, selling prices.

mod burden;
mod cost;
mod ledger;
mod quick;
mod rates;
mod summed;
mod why;

pub use burden::{BurdenCost, burdens_on};
pub(crate) use cost::unplaced_reason;
pub use cost::{BuildCost, ItemCost, Known, Nested, Purchase, to_cut};
pub use ledger::{
    Group, Grouping, Key, Ledger, LedgerLayout, StationShare, group, keys, labor_by_station, ledger,
};
pub use summed::{Summed, summed};
pub use why::{About, Path, Step, Why, WhyLine, why};

use rayon::iter::{IntoParallelIterator, ParallelIterator};

use crate::diag::Checked;
use crate::diag::Diagnostic;
use crate::diag::Distinct;
use crate::explode::{Needs, Scratch, Sums};
use crate::model::Book;
use crate::nest;
use crate::rollup::rates::Rates;
use crate::watch::Watch;

/// How to roll up.
#[derive(Clone, Copy, Debug, Default)]
pub struct Options {
    /// Units nested together; the book's `lot` if not said.
    pub lot: Option<u32>,
    /// How hard nests are searched for.
    pub nest: nest::Options,
}

impl Options {
    fn lot_of(&self, book: &Book) -> u32 {
        self.lot.unwrap_or(book.settings.lot).max(1)
    }
}

/// Costs and weights of every build, for a lot of units.
#[derive(Clone, Debug)]
pub struct Rollup {
    /// Units nested together.
    pub lot: u32,
    /// Decimal places of costs.
    pub cost_digits: u32,
    /// One per build of the needs, in that order.
    pub builds: Vec<BuildCost>,
}

/// Decimal places of weights in the ledger.
pub const WEIGHT_DIGITS: u32 = 4;
/// Decimal places of quantities in the ledger.
pub const QUANTITY_DIGITS: u32 = 4;

/// Prices and weighs every build.
///
/// Gaps (no price, no size, pieces that cannot be cut) are findings; their amounts are left out of the totals.
///
/// # Errors
/// An amount that leaves the range of the ledger's decimals.
///
/// # Example
/// ```
/// # use cutbill::explode::{self, explode};
/// # use cutbill::read::{Memory, read};
/// use cutbill::rollup::{Options, rollup};
/// use cutbill::watch::Silent;
///
/// # let files = Memory::from_iter([
/// #     ("plans.csv", "plan\nSedge\n"),
/// #     ("bill.csv", "parent,component,quantity\nSedge,BOLT,4\n"),
/// #     ("items.csv", "item,form,price,weight\nBOLT,count,0.25,0.1 lb\n"),
/// # ]);
/// # let book = read(&files).unwrap().value;
/// # let needs = explode(&book, &explode::Options::default()).unwrap().value;
/// // Sedge takes 4 bolts of 0.25 USD and 0.1 lb.
/// let rollup = rollup(&book, &needs, Options::default(), &Silent).unwrap().value;
/// assert_eq!((rollup.cost_digits, rollup.builds[0].cost()), (4, 1_0000));
/// assert_eq!(rollup.builds[0].weight(), 4000);
/// ```
pub fn rollup(
    book: &Book,
    needs: &Needs,
    options: Options,
    watch: &dyn Watch,
) -> Result<Checked<Rollup>, Vec<Diagnostic>> {
    roll_up(book, needs, options, None, watch)
}

/// Prices and weighs every build as [`rollup`] does, but nests only what differs from an earlier roll-up.
///
/// The findings of items that are taken over were told then.
///
/// # Errors
/// An amount that leaves the range of the ledger's decimals.
pub fn rollup_again(
    book: &Book,
    needs: &Needs,
    known: Known<'_>,
    options: Options,
    watch: &dyn Watch,
) -> Result<Checked<Rollup>, Vec<Diagnostic>> {
    roll_up(book, needs, options, Some(known), watch)
}

/// Returns a build's cost with other costs of its items: the burdens are laid on anew.
///
/// # Errors
/// A burden that leaves the range of the ledger's decimals.
pub fn with_items(
    book: &Book,
    needs: &Needs,
    build: usize,
    items: Vec<ItemCost>,
    lot: u32,
) -> Result<BuildCost, Diagnostic> {
    let burdens = burden::burdens(book, needs, build, &items, lot)?;
    Ok(BuildCost { build, items, burdens })
}

fn roll_up(
    book: &Book,
    needs: &Needs,
    options: Options,
    known: Option<Known<'_>>,
    watch: &dyn Watch,
) -> Result<Checked<Rollup>, Vec<Diagnostic>> {
    let (lot, cost_digits) = (options.lot_of(book), book.settings.cost_digits);
    let known = known.filter(|known| known.rollup.lot == lot);
    let sums = Sums::new(book, needs);
    let rates = Rates::new(book, needs.on);
    let one = |scratch: &mut Scratch, build: usize| {
        let flat = sums.flat(&needs.builds[build], scratch);
        cost::cost(book, needs, (build, &flat), &rates, (lot, options.nest), known, watch)
    };
    let checked = each_build(needs, &sums, watch, one)?;
    let value = Rollup { lot, cost_digits, builds: checked.value };
    Ok(Checked { value, warnings: checked.warnings })
}

/// Does one thing for every build, and returns the results in the order of the builds.
fn each_build<T: Send>(
    needs: &Needs,
    sums: &Sums<'_>,
    watch: &dyn Watch,
    one: impl Fn(&mut Scratch, usize) -> Result<Checked<T>, Diagnostic> + Sync,
) -> Result<Checked<Vec<T>>, Vec<Diagnostic>> {
    let total = needs.builds.len();
    let one = |scratch: &mut Scratch, build: usize| {
        let done = one(scratch, build);
        watch.progress("rolling up", build + 1, total);
        done
    };
    let costed: Vec<Result<Checked<T>, Diagnostic>> =
        (0..total).into_par_iter().map_init(|| sums.scratch(), one).collect();
    let mut taken = Vec::with_capacity(total);
    let mut warnings = Distinct::default();
    let mut errors = Vec::new();
    for costed in costed {
        match costed {
            Ok(checked) => {
                taken.push(checked.value);
                warnings.extend(checked.warnings);
            }
            Err(error) => errors.push(error),
        }
    }
    if errors.is_empty() {
        Ok(Checked { value: taken, warnings: warnings.into_vec() })
    } else {
        Err(errors)
    }
}
