use std::collections::BTreeSet;
use std::sync::Arc;

use rayon::iter::{IntoParallelRefIterator, ParallelIterator};

use crate::diag::Checked;
use crate::diag::Diagnostic;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::explode::{Flat, Need, Needs, What};
use crate::model::Book;
use crate::model::Cutting;
use crate::model::Form;
use crate::model::Item;
use crate::model::ItemId;
use crate::model::PlanId;
use crate::model::Priced;
use crate::model::RollCharge;
use crate::model::SizeId;
use crate::nest;
use crate::nest::{Instance, Kind, Nest, Piece, Stock, UnplacedReason};
use crate::quantity::Length;
use crate::quantity::Ratio;
use crate::rollup::burden::{self, BurdenCost};
use crate::rollup::rates::{self, Rates};
use crate::rollup::{QUANTITY_DIGITS, Rollup, WEIGHT_DIGITS};
use crate::watch::Watch;

/// What one plan costs and weighs, for a lot.
#[derive(Clone, Debug)]
pub struct BuildCost {
    /// Position in the builds of the needs.
    pub build: usize,
    /// Items in the book's order.
    pub items: Vec<ItemCost>,
    /// Burdens in the order they are laid on.
    pub burdens: Vec<BurdenCost>,
}

/// What a plan takes of one item, for a lot. What one unit needs is in [`Needs::flat`].
#[derive(Clone, Debug)]
pub struct ItemCost {
    /// The item.
    pub item: ItemId,
    /// What is bought.
    pub purchases: Vec<Purchase>,
    /// How it is cut, where it is.
    pub nested: Option<Box<Nested>>,
    /// Cost times ten to the power of the cost digits; zero where no price is known.
    pub cost: i128,
    /// The same before it was rounded, in whole currency units.
    pub exact: Ratio,
    /// Whether a price is missing.
    pub is_unpriced: bool,
    /// Weight that rides, in the book's weight unit times ten to the power of [`WEIGHT_DIGITS`].
    pub weight: i128,
    /// Weight that is bought, in the same unit.
    pub purchased_weight: i128,
    /// Good quantity in the item's unit times ten to the power of [`QUANTITY_DIGITS`].
    pub quantity: i128,
    /// Measure that ends up in the units, in base units of the form.
    pub used: Ratio,
    /// Measure that is bought, in base units of the form.
    pub bought: Ratio,
    /// Cost credited for offcuts, times ten to the power of the cost digits; already taken off `cost`.
    pub credit: i128,
    /// Cost by the nest less cost by the item's fixed yield, where it has one, times ten to the power of the digits.
    pub yield_variance: i128,
}

/// What is bought of one size, or of the item as a whole.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Purchase {
    /// The size, where the item has sizes.
    pub size: Option<SizeId>,
    /// How many sizes, or the amount in base units of the item's unit.
    pub count: Ratio,
    /// The price that was used.
    pub priced: Option<Arc<Priced>>,
    /// Exact money.
    pub money: Ratio,
}

/// A nest with what was nested.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Nested {
    /// What was to be cut.
    pub instance: Instance,
    /// The book's sizes behind the instance's stocks.
    pub sizes: Vec<SizeId>,
    /// How it is cut.
    pub nest: Nest,
}

impl ItemCost {
    /// Returns the share of what is bought that ends up in the units, if anything is bought.
    #[must_use]
    pub fn yield_share(&self) -> Option<Ratio> {
        self.used.checked_div(&self.bought)
    }
}

impl BuildCost {
    /// Returns the cost of all items and burdens, times ten to the power of the cost digits.
    #[must_use]
    pub fn cost(&self) -> i128 {
        let items: i128 = self.items.iter().map(|item| item.cost).sum();
        items + self.burdens.iter().map(|burden| burden.cost).sum::<i128>()
    }

    /// Returns the weight that rides, times ten to the power of [`WEIGHT_DIGITS`].
    #[must_use]
    pub fn weight(&self) -> i128 {
        self.items.iter().map(|item| item.weight).sum()
    }
}

/// Splice that is too short to be worth a joint, where an item does not say.
const SHORTEST_SPLICE: Length = Length::FOOT;

/// An earlier roll-up of the same lot, with the same effort, whose items are taken over where nothing about them differs.
#[derive(Clone, Copy, Debug)]
pub struct Known<'a> {
    /// The book it was made of; its items and sizes are those of the book now.
    pub book: &'a Book,
    /// The needs it was made of.
    pub needs: &'a Needs,
    /// The roll-up.
    pub rollup: &'a Rollup,
    /// Items whose prices differ between then and now.
    pub changed: &'a BTreeSet<ItemId>,
}

impl<'a> Known<'a> {
    /// Returns what is known of a build: the earlier needs of its plan and the costs of their items.
    fn of(self, plan: PlanId) -> Option<(Flat, &'a BuildCost)> {
        let cost =
            self.rollup.builds.iter().find(|cost| self.needs.builds[cost.build].plan == plan)?;
        Some((self.needs.flat(self.book, &self.needs.builds[cost.build]), cost))
    }
}

pub(super) fn cost(
    book: &Book,
    needs: &Needs,
    (build, flat): (usize, &Flat),
    rates: &Rates<'_>,
    (lot, options): (u32, nest::Options),
    known: Option<Known<'_>>,
    watch: &dyn Watch,
) -> Result<Checked<BuildCost>, Diagnostic> {
    let earlier = known.and_then(|known| {
        let (flat, cost) = known.of(needs.builds[build].plan)?;
        Some((flat, cost, known.changed))
    });
    let same = |needs: &[Need]| {
        let (then, cost, changed) = earlier.as_ref()?;
        let item = needs[0].item;
        let is_same = !changed.contains(&item)
            && then.needs.iter().filter(|need| need.item == item).eq(needs)
            && then.weight(item) == flat.weight(item);
        cost.items.iter().find(|cost| is_same && cost.item == item).cloned()
    };
    let context =
        Context { book, rates, on: needs.on, lot: Ratio::from(i64::from(lot)), options, watch };
    let one = |needs: &[Need]| match same(needs) {
        Some(value) => Ok(Checked { value, warnings: Vec::new() }),
        None => context.item(needs[0].item, needs, flat.weight(needs[0].item)),
    };
    let by_item = || flat.needs.chunk_by(|a, b| a.item == b.item);
    let mut items = Vec::with_capacity(by_item().count());
    let mut warnings = Vec::new();
    let mut add = |costed: Result<Checked<ItemCost>, Diagnostic>| {
        let checked = costed?;
        items.push(checked.value);
        warnings.extend(checked.warnings);
        Ok(())
    };
    // Nests take long, all else next to nothing: without them, spreading the items costs more than it gains.
    if flat.needs.iter().any(|need| book.item(need.item).is_nested()) {
        let by_item: Vec<&[Need]> = by_item().collect();
        let costed: Vec<_> = by_item.par_iter().map(|needs| one(needs)).collect();
        costed.into_iter().try_for_each(&mut add)?;
    } else {
        by_item().map(one).try_for_each(&mut add)?;
    }
    let burdens = burden::burdens(book, needs, build, &items, lot)?;
    Ok(Checked { value: BuildCost { build, items, burdens }, warnings })
}

struct Context<'a> {
    book: &'a Book,
    rates: &'a Rates<'a>,
    on: Option<jiff::civil::Date>,
    lot: Ratio,
    options: nest::Options,
    watch: &'a dyn Watch,
}

/// What is bought, before it is rounded.
#[derive(Default)]
struct Bought {
    purchases: Vec<Purchase>,
    nested: Option<Box<Nested>>,
    /// Measure bought, in base units of the form.
    measure: Ratio,
    credit: Ratio,
    findings: Vec<Diagnostic>,
    /// A nest that its check refused: nothing may be costed by it.
    fault: Option<Diagnostic>,
    is_unpriced: bool,
}

impl Context<'_> {
    fn item(
        &self,
        id: ItemId,
        needs: &[Need],
        weight: &Ratio,
    ) -> Result<Checked<ItemCost>, Diagnostic> {
        let item = self.book.item(id);
        let mut bought = Bought::default();
        if item.is_nested() {
            self.buy_sizes(id, item, needs, &mut bought);
            if let Some(fault) = bought.fault {
                return Err(fault);
            }
            if bought.is_unpriced {
                bought.findings.push(rates::missing(self.book, id));
            }
            self.tell_prices(id, &mut bought);
        } else {
            self.buy_amount(id, item, needs, &mut bought);
        }
        let digits = self.book.settings.cost_digits;
        let by_nest: Ratio =
            bought.purchases.iter().map(|purchase| purchase.money.clone()).sum::<Ratio>()
                - &bought.credit;
        let by_yield = self.by_yield(id, item, needs);
        let variance = by_yield.as_ref().map_or(Ratio::ZERO, |by_yield| &by_nest - by_yield);
        let exact = by_yield.unwrap_or(by_nest);
        let used = &self.lot
            * &needs
                .iter()
                .map(|need| need.what.measure(self.book, id) * &need.good)
                .sum::<Ratio>();
        let weight_unit = &self.book.settings.weight_unit.factor;
        let pounds = &self.lot * weight;
        let purchased = item.weight.as_ref().map_or(Ratio::ZERO, |weight| weight * &bought.measure);
        let in_unit =
            |weight: &Ratio| weight.checked_div(weight_unit).expect("units are above zero");
        let quantity = used.checked_div(&item.unit.factor).expect("units are above zero");
        let value = ItemCost {
            item: id,
            cost: self.rounded(item, &exact, digits)?,
            exact,
            is_unpriced: bought.is_unpriced,
            weight: self.rounded(item, &in_unit(&pounds), WEIGHT_DIGITS)?,
            purchased_weight: self.rounded(item, &in_unit(&purchased), WEIGHT_DIGITS)?,
            quantity: self.rounded(item, &quantity, QUANTITY_DIGITS)?,
            credit: self.rounded(item, &bought.credit, digits)?,
            yield_variance: self.rounded(item, &variance, digits)?,
            used,
            bought: bought.measure,
            purchases: bought.purchases,
            nested: bought.nested,
        };
        Ok(Checked { value, warnings: bought.findings })
    }

    /// Tells prices that are past, and rows that would give the price if their currency had a rate.
    fn tell_prices(&self, id: ItemId, bought: &mut Bought) {
        for purchase in &bought.purchases {
            let priced = purchase.priced.as_deref();
            bought.findings.extend(rates::told(self.book, id, purchase.size, priced, self.on));
        }
    }

    /// Buys an item that is measured out or counted: the exact requirement, counts rounded up once for the lot.
    fn buy_amount(&self, id: ItemId, item: &Item, needs: &[Need], bought: &mut Bought) {
        let mut required =
            &self.lot * &needs.iter().map(|need| need.required.clone()).sum::<Ratio>();
        if item.form == Form::Count {
            required = required.ceil();
        }
        let rate = self.rates.of(id);
        let money = rate.money.as_ref().map_or(Ratio::ZERO, |money| money * &required);
        bought.is_unpriced = rate.money.is_none();
        bought.findings.extend_from_slice(&rate.findings);
        bought.measure = required.clone();
        let priced = rate.priced.clone();
        bought.purchases = vec![Purchase { size: None, count: required, priced, money }];
    }

    /// Buys an item by its sizes: whole ones as asked for, the rest nested.
    fn buy_sizes(&self, id: ItemId, item: &Item, needs: &[Need], bought: &mut Bought) {
        let sizes = self.book.sizes_of(id);
        let is_made_to_length = item.form == Form::Linear
            && sizes.iter().any(|size| self.book.sizes[size.index()].length.is_none());
        if is_made_to_length || sizes.is_empty() {
            if sizes.is_empty() {
                let place = self.book.place(item.row, None);
                let problem = Problem::SizeMissing { item: item.name.clone() };
                bought.findings.push(Diagnostic::new(Severity::Gap, place, problem));
            }
            self.buy_to_length(id, item, needs, sizes.first().copied(), bought);
            return;
        }
        for need in needs {
            if let What::Whole(size) = need.what {
                let count = (&self.lot * &need.required).ceil();
                self.add_size(id, item, size, &count, &count, bought);
            }
        }
        let instance = self.instance(id, item, needs, bought);
        let Some((instance, sizes)) = instance else { return };
        let nest = nest::nest(&instance, self.options, self.watch);
        if let Err(faults) = nest::check::check(&instance, &nest) {
            let problem = Problem::NestWrong { item: item.name.clone(), faults };
            bought.fault = Some(Diagnostic::error(self.book.place(item.row, None), problem));
            return;
        }
        for unplaced in &nest.unplaced {
            self.tell_unplaced(item, &instance, unplaced, bought);
        }
        for (stock, size) in sizes.iter().enumerate() {
            let layouts = || nest.layouts.iter().filter(|layout| layout.stock == stock);
            let count: i128 = layouts().map(|layout| i128::from(layout.repeat)).sum();
            if count == 0 {
                continue;
            }
            let charged = if instance.charges_length {
                let taken: i128 = layouts()
                    .map(|layout| i128::from(layout.repeat) * i128::from(layout.taken.nanometers()))
                    .sum();
                Ratio::whole(taken)
                    .checked_div(&instance.stocks[stock].length.to_ratio())
                    .expect("stock lengths are above zero")
            } else {
                Ratio::whole(count)
            };
            self.add_size(id, item, *size, &charged, &Ratio::whole(count), bought);
        }
        // What has no price is worth nothing: its stocks cost their measure only to be nested.
        if !bought.is_unpriced {
            bought.credit = self.credit(item.form, &instance, &nest);
        }
        bought.nested = Some(Box::new(Nested { instance, sizes, nest }));
    }

    fn buy_to_length(
        &self,
        id: ItemId,
        item: &Item,
        needs: &[Need],
        size: Option<SizeId>,
        bought: &mut Bought,
    ) {
        let mut measure = Ratio::ZERO;
        let mut pieces = Ratio::ZERO;
        for need in needs {
            let count = {
                let required = &self.lot * &need.required;
                if need.what == What::Run { required } else { required.ceil() }
            };
            measure += &(need.what.measure(self.book, id) * &count);
            pieces += &count;
        }
        let priced = self.book.price(id, size, self.on);
        let money = priced.as_ref().and_then(|priced| item.money(&priced.price, &measure, &pieces));
        bought.is_unpriced = money.is_none();
        bought.measure = measure.clone();
        let money = money.unwrap_or(Ratio::ZERO);
        let priced = priced.map(Arc::new);
        bought.purchases = vec![Purchase { size: None, count: measure, priced, money }];
    }

    /// Adds `count` of a size, of which `charged` are paid.
    fn add_size(
        &self,
        id: ItemId,
        item: &Item,
        size: SizeId,
        charged: &Ratio,
        count: &Ratio,
        bought: &mut Bought,
    ) {
        let measure = What::Whole(size).measure(self.book, id);
        let priced = self.book.price(id, Some(size), self.on);
        let one =
            priced.as_ref().and_then(|priced| item.money(&priced.price, &measure, &Ratio::ONE));
        bought.is_unpriced |= one.is_none();
        bought.measure += &(&measure * charged);
        let money = one.map_or(Ratio::ZERO, |one| one * charged);
        match bought.purchases.iter_mut().find(|purchase| purchase.size == Some(size)) {
            Some(known) => {
                known.count += count;
                known.money += &money;
            }
            None => bought.purchases.push(Purchase {
                size: Some(size),
                count: count.clone(),
                priced: priced.map(Arc::new),
                money,
            }),
        }
    }

    /// Returns what is to be cut, with the sizes behind its stocks; nothing if nothing is.
    fn instance(
        &self,
        id: ItemId,
        item: &Item,
        needs: &[Need],
        bought: &mut Bought,
    ) -> Option<(Instance, Vec<SizeId>)> {
        let mut pieces = Vec::new();
        let mut run = Ratio::ZERO;
        for need in needs {
            let required = &self.lot * &need.required;
            match need.what {
                What::Piece { length, width, may_turn, edges } => {
                    let count =
                        required.ceil().to_integer().and_then(|count| u64::try_from(count).ok());
                    let Some(count) = count else {
                        let what = format!("the number of pieces of `{}`", item.name);
                        let place = self.book.place(item.row, None);
                        bought.findings.push(Diagnostic::new(
                            Severity::Gap,
                            place,
                            Problem::Overflow { what },
                        ));
                        continue;
                    };
                    if count > 0 {
                        pieces.push(Piece { length, width, count, may_turn, edges });
                    }
                }
                What::Run => run += &required,
                What::Whole(_) | What::Amount => {}
            }
        }
        if pieces.is_empty() && run.is_zero() {
            return None;
        }
        // A run is rounded up to the nanometer; no purchase depends on less.
        let run = Length::from_ratio(&run.ceil()).unwrap_or(Length::ZERO);
        let (stocks, sizes) = self.stocks(id, item);
        let instance = to_cut(self.book, item, stocks, pieces, run);
        Some((instance, sizes))
    }

    /// Returns the sizes that can be bought. Where none has a price they cost their measure, so that a nest is found
    /// all the same; where some have, the others are left out.
    fn stocks(&self, id: ItemId, item: &Item) -> (Vec<Stock>, Vec<SizeId>) {
        let sizes = self.book.sizes_of(id);
        let cost_of = |size: &SizeId| {
            let measure = What::Whole(*size).measure(self.book, id);
            let priced = self.book.price(id, Some(*size), self.on)?;
            item.money(&priced.price, &measure, &Ratio::ONE)
        };
        let is_offcut = |size: &&SizeId| self.book.sizes[size.index()].is_offcut;
        let is_any_priced =
            sizes.iter().filter(|size| !is_offcut(size)).any(|size| cost_of(size).is_some());
        let mut stocks = Vec::new();
        let mut kept = Vec::new();
        for id_of_size in sizes {
            let size = &self.book.sizes[id_of_size.index()];
            let cost = match cost_of(id_of_size) {
                Some(cost) => cost,
                None if is_any_priced => continue,
                None => What::Whole(*id_of_size).measure(self.book, id),
            };
            let (Some(length), width) = (size.length, size.width.unwrap_or(Length::ZERO)) else {
                continue;
            };
            let width = if item.form == Form::Linear { Length::ZERO } else { width };
            stocks.push(Stock { length, width, cost, available: size.available.map(u64::from) });
            kept.push(*id_of_size);
        }
        (stocks, kept)
    }

    /// Returns the cost at the item's fixed yield, at the least price per measure of its sizes.
    fn by_yield(&self, id: ItemId, item: &Item, needs: &[Need]) -> Option<Ratio> {
        let share = item.yield_share.as_ref()?;
        let required: Ratio =
            needs.iter().map(|need| need.what.measure(self.book, id) * &need.required).sum();
        let rate = self
            .book
            .sizes_of(id)
            .iter()
            .filter(|size| !self.book.sizes[size.index()].is_offcut)
            .filter_map(|size| {
                let measure = What::Whole(*size).measure(self.book, id);
                let priced = self.book.price(id, Some(*size), self.on)?;
                item.money(&priced.price, &measure, &Ratio::ONE)?.checked_div(&measure)
            })
            .min()?;
        (&self.lot * &required * &rate).checked_div(share)
    }

    /// Returns what the offcuts are worth: their share of the stock's measure, at the share of its cost that is credited.
    fn credit(&self, form: Form, instance: &Instance, nest: &Nest) -> Ratio {
        let share = Ratio::decimal(i128::from(self.book.settings.offcut_value), 4);
        if share.is_zero() || instance.charges_length {
            return Ratio::ZERO;
        }
        let mut credit = Ratio::ZERO;
        for layout in &nest.layouts {
            let stock = &instance.stocks[layout.stock];
            let kept: i128 =
                layout.offcuts.iter().map(|rest| form.measure(rest.length, rest.width)).sum();
            let part = Ratio::new(kept, form.measure(stock.length, stock.width))
                .expect("stocks have a measure");
            credit += &(part * &stock.cost * &share * Ratio::whole(i128::from(layout.repeat)));
        }
        credit
    }

    fn tell_unplaced(
        &self,
        item: &Item,
        instance: &Instance,
        unplaced: &nest::Unplaced,
        bought: &mut Bought,
    ) {
        let reason = unplaced_reason(unplaced.reason);
        let piece = unplaced.piece.map(|piece| {
            let piece = &instance.pieces[piece];
            let unit = &self.book.settings.length_unit;
            let shown = |length: Length| {
                let value = length
                    .to_ratio()
                    .checked_div(&unit.factor)
                    .and_then(|value| value.round(4, self.book.settings.rounding));
                value.map_or_else(String::new, |value| value.normalize().to_string())
            };
            match instance.kind {
                Kind::Linear => format!("{} {}", shown(piece.length), unit.name),
                _ => format!("{} x {} {}", shown(piece.length), shown(piece.width), unit.name),
            }
        });
        let reason = piece
            .map_or_else(|| format!("the run: {reason}"), |piece| format!("{piece}: {reason}"));
        let count = usize::try_from(unplaced.count).unwrap_or(usize::MAX);
        let problem = Problem::Unplaced { item: item.name.clone(), pieces: count, reason };
        bought.findings.push(Diagnostic::new(
            Severity::Gap,
            self.book.place(item.row, None),
            problem,
        ));
    }

    fn rounded(&self, item: &Item, value: &Ratio, digits: u32) -> Result<i128, Diagnostic> {
        amount(self.book, value, digits).ok_or_else(|| {
            let what = format!("an amount of `{}`", item.name);
            Diagnostic::error(self.book.place(item.row, None), Problem::Overflow { what })
        })
    }
}

/// Returns why a piece is not placed, in words.
pub(crate) fn unplaced_reason(reason: UnplacedReason) -> &'static str {
    match reason {
        UnplacedReason::TooLarge => "it fits no size",
        UnplacedReason::NoStock => "all that is available is used",
    }
}

/// Returns what is to be cut of an item, by its kerf, trim and offcuts and the book's way of cutting.
#[must_use]
pub fn to_cut(
    book: &Book,
    item: &Item,
    stocks: Vec<Stock>,
    pieces: Vec<Piece>,
    run: Length,
) -> Instance {
    let settings = &book.settings;
    let kind = match (item.form, settings.cutting) {
        (Form::Linear, _) => Kind::Linear,
        (Form::Roll, Cutting::Free) => Kind::FreeRoll,
        (Form::Roll, Cutting::Guillotine) => Kind::Roll,
        (_, Cutting::Free) => Kind::Free,
        (_, Cutting::Guillotine) => Kind::Guillotine,
    };
    Instance {
        run,
        splice_min: item.offcut_min.unwrap_or(SHORTEST_SPLICE),
        kerf: item.kerf,
        trim: item.trim,
        offcut_min: item.offcut_min,
        max_stages: settings.max_stages.filter(|_| kind == Kind::Guillotine),
        charges_length: kind.is_roll() && settings.roll_charge == RollCharge::Length,
        ..Instance::new(kind, stocks, pieces)
    }
}

/// Returns a value rounded to whole units of its last decimal place, if a decimal of 28 digits holds it.
pub(super) fn amount(book: &Book, value: &Ratio, digits: u32) -> Option<i128> {
    let rounded = value.scaled(digits, book.settings.rounding).to_integer()?;
    (rounded.abs() < most()).then_some(rounded)
}

/// Returns the least amount that a decimal of 28 digits does not hold.
pub(super) const fn most() -> i128 {
    10_i128.pow(28)
}
