//! From what is wanted to an order line: which vendor, how many purchase units, at what price, ordered when.
//!
//! A price break is all-units: the whole order gets the price of the highest break it reaches. An order is raised to a
//! break if it then costs less, counting what the extra units save in later weeks of the horizon and what they cost to
//! hold.

use std::collections::BTreeMap;

use jiff::ToSpan;
use jiff::civil::Date;

use crate::model::Book;
use crate::model::ItemId;
use crate::model::LeadTime;
use crate::model::Price;
use crate::model::PriceDay;
use crate::model::PriceRow;
use crate::model::RowRef;
use crate::model::Size;
use crate::model::SizeId;
use crate::orders::demand::Weeks;
use crate::quantity::Ratio;

/// One line of an order, as planned.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OrderLine {
    /// The item.
    pub item: ItemId,
    /// The size, where the item has sizes.
    pub size: Option<SizeId>,
    /// The vendor; empty if nobody is named.
    pub vendor: String,
    /// The vendor's own name for the item; empty if not said.
    pub vendor_item: String,
    /// Purchase units ordered: sizes, packs or the item's own unit; whole.
    pub units: Ratio,
    /// What the weeks need, in purchase units, before lots, multiples and breaks.
    pub needed: Ratio,
    /// How much of what is needed is for the forecast.
    pub of_forecast: Ratio,
    /// Position of the week it is needed in.
    pub week: usize,
    /// The day it must be there.
    pub due: Date,
    /// The day to order: never before `as_of`.
    pub order_day: Date,
    /// The day it can be there when ordered on that day; after `due` if it is late.
    pub arrival: Date,
    /// The price, if there is one.
    pub price: Option<Price>,
    /// The row the price stands in.
    pub price_row: Option<RowRef>,
    /// Currency of the order.
    pub currency: String,
    /// Exact money in that currency.
    pub money: Ratio,
    /// The last day the price held, if that is over.
    pub price_ended: Option<Date>,
    /// What a break saved, if the order was raised to one.
    pub raised: Option<Raised>,
}

impl OrderLine {
    /// Tells whether it cannot be there in time.
    #[must_use]
    pub fn is_late(&self) -> bool {
        self.due < self.arrival
    }
}

/// A price break that was worth taking.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Raised {
    /// Purchase units that would have been ordered without it.
    pub from: Ratio,
    /// Exact money saved over the horizon, in the currency of the order.
    pub saved: Ratio,
}

/// What is to be bought.
pub(super) struct Wish<'a> {
    /// The size, where the item has sizes.
    pub(super) size: Option<SizeId>,
    /// Position of the week.
    pub(super) week: usize,
    /// What is needed, in purchase units.
    pub(super) needed: Ratio,
    /// Least purchase units, by the lot rule; above zero.
    pub(super) units: Ratio,
    /// How much of it is for the forecast.
    pub(super) of_forecast: Ratio,
    /// What further weeks will want, in purchase units, from the next on.
    pub(super) later: &'a dyn Fn() -> Vec<Ratio>,
}

/// Whoever buys one item over the weeks.
pub(super) struct Buyer<'a> {
    book: &'a Book,
    weeks: Weeks,
    as_of: Date,
    item: ItemId,
    /// The size whose price holds for an item that is made to the length ordered.
    made_to: Option<SizeId>,
    /// Purchase units bought of each vendor so far, for shares.
    bought: BTreeMap<String, Ratio>,
    /// Lines planned so far.
    pub(super) lines: Vec<OrderLine>,
}

/// What one vendor offers.
struct Offer<'a> {
    vendor: &'a str,
    rows: Vec<&'a PriceRow>,
    plain: Option<(&'a Price, RowRef)>,
    lead: LeadTime,
    multiple: Option<&'a Ratio>,
    minimum: Option<&'a Ratio>,
}

/// An offer for a wish.
struct Bid<'a> {
    offer: Offer<'a>,
    units: Ratio,
    quote: Option<Quote<'a>>,
    order_day: Date,
    arrival: Date,
    raised: Option<Raised>,
}

/// Money asked for a number of purchase units.
#[derive(Clone)]
struct Quote<'a> {
    price: &'a Price,
    row: RowRef,
    vendor_item: &'a str,
    currency: &'a str,
    money: Ratio,
    ended: Option<Date>,
}

impl<'a> Buyer<'a> {
    pub(super) fn new(book: &'a Book, item: ItemId, weeks: Weeks, as_of: Date) -> Buyer<'a> {
        let sizes = book.sizes_of(item);
        let made_to = sizes.iter().copied().find(|size| book.sizes[size.index()].length.is_none());
        let bought = BTreeMap::new();
        Buyer { book, weeks, as_of, item, made_to, bought, lines: Vec::new() }
    }

    /// Plans a line for a wish and returns how many purchase units come with it. A wish for what a line of the week is for
    /// already makes that line longer: it comes on top of what the line brings, which is used up.
    pub(super) fn buy(&mut self, wish: &Wish<'_>) -> Ratio {
        let same = |line: &OrderLine| line.size == wish.size && line.week == wish.week;
        let Some(at) = self.lines.iter().position(same) else { return self.add(wish) };
        let known = self.lines.remove(at);
        let bought = self.bought.entry(known.vendor.to_lowercase()).or_default();
        *bought = &*bought - &known.units;
        let units = self.add(&Wish {
            needed: &wish.needed + &known.needed,
            units: &wish.units + &known.units,
            of_forecast: &wish.of_forecast + &known.of_forecast,
            later: wish.later,
            ..*wish
        });
        units - known.units
    }

    fn add(&mut self, wish: &Wish<'_>) -> Ratio {
        let due = self.weeks.ready(&self.book.calendar, wish.week, self.as_of);
        let mut bid = self.best(wish.size, &wish.units, due);
        self.raise(&mut bid, wish, due);
        let units = bid.units.clone();
        *self.bought.entry(bid.offer.vendor.to_lowercase()).or_default() += &units;
        let own = &self.book.settings.currency;
        self.lines.push(OrderLine {
            item: self.item,
            size: wish.size,
            vendor: bid.offer.vendor.to_owned(),
            vendor_item: bid.quote.as_ref().map_or("", |quote| quote.vendor_item).to_owned(),
            units: bid.units,
            needed: wish.needed.clone(),
            of_forecast: wish.of_forecast.clone(),
            week: wish.week,
            due,
            order_day: bid.order_day,
            arrival: bid.arrival,
            price: bid.quote.as_ref().map(|quote| quote.price.clone()),
            price_row: bid.quote.as_ref().map(|quote| quote.row),
            price_ended: bid.quote.as_ref().and_then(|quote| quote.ended),
            currency: bid.quote.as_ref().map_or(own.as_str(), |quote| quote.currency).to_owned(),
            money: bid.quote.map_or(Ratio::ZERO, |quote| quote.money),
            raised: bid.raised,
        });
        units
    }

    /// Returns the best bid for a number of purchase units.
    fn best(&self, size: Option<SizeId>, units: &Ratio, due: Date) -> Bid<'a> {
        let offers = self.offers(size.or(self.made_to)).into_iter();
        let mut bids: Vec<Bid<'_>> =
            offers.map(|offer| self.bid(offer, size, units, due)).collect();
        let chosen = self.choose(&bids, units, due);
        bids.swap_remove(chosen)
    }

    /// Returns what one of a size costs where a week needs it, in the book's currency; nothing without a price or rate.
    pub(super) fn cost_of_one(&self, size: SizeId, week: usize) -> Option<Ratio> {
        let due = self.weeks.ready(&self.book.calendar, week, self.as_of);
        let bid = self.best(Some(size), &Ratio::ONE, due);
        let (is_missing, cost) = self.cost(&bid);
        (!is_missing).then_some(cost)
    }

    /// Returns the measure of one purchase unit in base units of the item's form.
    pub(super) fn unit_measure(&self, size: Option<SizeId>) -> Ratio {
        unit_measure(self.book, self.item, size)
    }

    fn offers(&self, size: Option<SizeId>) -> Vec<Offer<'a>> {
        let book = self.book;
        let item = book.item(self.item);
        let size_row = size.map(|size| &book.sizes[size.index()]);
        let mut offers: Vec<Offer<'a>> = Vec::new();
        let mut of_vendor = |vendor: &'a str| -> usize {
            let known = offers.iter().position(|offer| offer.vendor.eq_ignore_ascii_case(vendor));
            known.unwrap_or_else(|| {
                offers.push(Offer {
                    vendor,
                    rows: Vec::new(),
                    plain: None,
                    lead: LeadTime::Days(0),
                    multiple: None,
                    minimum: None,
                });
                offers.len() - 1
            })
        };
        let mut places: Vec<(usize, &PriceRow)> = Vec::new();
        for id in book.prices_of(self.item) {
            let row = &book.prices[id.index()];
            let fits = match size_row {
                Some(size) => {
                    (row.length.is_none() || row.length == size.length)
                        && (row.width.is_none() || row.width == size.width)
                }
                None => row.length.is_none() && row.width.is_none(),
            };
            if fits && row.price.is_some() {
                let vendor = if row.vendor.is_empty() { &item.vendor } else { &row.vendor };
                places.push((of_vendor(vendor), row));
            }
        }
        let plain = size_row
            .and_then(|size| size.price.as_ref().map(|price| (price, size.row, &size.vendor)))
            .or_else(|| item.price.as_ref().map(|price| (price, item.row, &item.vendor)));
        // The same size may stand once per vendor; one that is limited stands for itself.
        let is_unlimited = |size: &Size| size.available.is_none();
        let others = size_row.filter(|size| is_unlimited(size)).into_iter().flat_map(|own| {
            let all = book.sizes_of(self.item).iter().map(|size| &book.sizes[size.index()]);
            all.filter(move |size| {
                is_unlimited(size) && (size.length, size.width) == (own.length, own.width)
            })
            .filter_map(|size| Some((size.price.as_ref()?, size.row, &size.vendor)))
        });
        let plain: Vec<(usize, &Price, RowRef)> = plain
            .into_iter()
            .chain(others)
            .map(|(price, row, vendor)| {
                let vendor = if vendor.is_empty() { &item.vendor } else { vendor };
                (of_vendor(vendor), price, row)
            })
            .collect();
        if places.is_empty() && plain.is_empty() {
            of_vendor(&item.vendor);
        }
        for (place, row) in places {
            offers[place].rows.push(row);
        }
        for (place, price, row) in plain {
            offers[place].plain.get_or_insert((price, row));
        }
        for offer in &mut offers {
            let terms = |pick: &dyn Fn(&'a PriceRow) -> bool| {
                offer.rows.iter().copied().find(|row| pick(row))
            };
            let lead =
                terms(&|row| row.terms.lead_time.is_some()).and_then(|row| row.terms.lead_time);
            let lead = lead.or(item.order.lead_time);
            let lead =
                lead.or_else(|| book.vendor(offer.vendor).and_then(|vendor| vendor.lead_time));
            offer.lead = lead.unwrap_or(LeadTime::Days(0));
            offer.multiple = terms(&|row| row.terms.multiple.is_some())
                .and_then(|row| row.terms.multiple.as_ref())
                .or(item.order.multiple.as_ref());
            offer.minimum = terms(&|row| row.terms.minimum.is_some())
                .and_then(|row| row.terms.minimum.as_ref())
                .or(item.order.minimum.as_ref());
        }
        offers
    }

    fn bid(&self, offer: Offer<'a>, size: Option<SizeId>, wanted: &Ratio, due: Date) -> Bid<'a> {
        let ideal = self.before(due, offer.lead);
        let order_day = ideal.max(self.as_of);
        let arrival = if ideal < self.as_of { self.after(self.as_of, offer.lead) } else { due };
        let mut units = offer.rounded(wanted);
        let mut quote = self.quote(&offer, size, &units, order_day, due);
        // Who has a price only from so many on sells no fewer.
        if quote.is_none()
            && let Some(least) = self.breaks(&offer, size, &units).first()
        {
            quote = self.quote(&offer, size, least, order_day, due);
            units = if quote.is_some() { least.clone() } else { units };
        }
        Bid { offer, units, quote, order_day, arrival, raised: None }
    }

    fn before(&self, day: Date, lead: LeadTime) -> Date {
        let calendar = &self.book.calendar;
        match lead {
            LeadTime::Days(days) => calendar.before(day, days).unwrap_or(day),
            LeadTime::Weeks(weeks) => {
                let back = day.saturating_sub((i64::from(weeks) * 7).days());
                calendar.before(back, 0).unwrap_or(back)
            }
        }
    }

    fn after(&self, day: Date, lead: LeadTime) -> Date {
        let calendar = &self.book.calendar;
        match lead {
            LeadTime::Days(days) => calendar.after(day, days).unwrap_or(day),
            LeadTime::Weeks(weeks) => {
                let ahead = day.saturating_add((i64::from(weeks) * 7).days());
                calendar.after(ahead, 0).unwrap_or(ahead)
            }
        }
    }

    /// Returns what a vendor asks for a number of purchase units.
    fn quote(
        &self,
        offer: &Offer<'a>,
        size: Option<SizeId>,
        units: &Ratio,
        order_day: Date,
        due: Date,
    ) -> Option<Quote<'a>> {
        let book = self.book;
        let measure_of_one = self.unit_measure(size);
        let on = match book.settings.price_day {
            PriceDay::Order => order_day,
            PriceDay::Due => due,
        };
        let holds = |row: &&&'a PriceRow| {
            row.from.is_none_or(|from| from <= on) && row.to.is_none_or(|to| on <= to)
        };
        let least = |row: &PriceRow| {
            row.from_quantity.as_ref().map_or(Ratio::ZERO, |least| least.units(&measure_of_one))
        };
        let dated =
            offer.rows.iter().filter(holds).filter(|row| least(row) <= *units).max_by(|a, b| {
                let sized = |row: &PriceRow| row.length.is_some() || row.width.is_some();
                let key = |row: &PriceRow| (sized(row), least(row), row.from);
                key(a).cmp(&key(b))
            });
        // Where nothing holds on the day, the last price that held is taken, and the line says so.
        let expired = || {
            let ended = offer.rows.iter().filter(|row| row.to.is_some_and(|to| to < on));
            ended.filter(|row| least(row) <= *units).max_by_key(|row| (row.to, row.from))
        };
        let dated = dated.or_else(|| if offer.plain.is_none() { expired() } else { None });
        let (price, row, vendor_item, currency) = match (dated, offer.plain) {
            (Some(row), _) => {
                let currency = row.currency.as_ref().unwrap_or(&book.settings.currency);
                (row.price.as_ref()?, row.row, row.terms.vendor_item.as_str(), currency.as_str())
            }
            (None, Some((price, row))) => (price, row, "", book.settings.currency.as_str()),
            (None, None) => return None,
        };
        let money = money(book, self.item, size, units, price)?;
        let ended = dated.and_then(|row| row.to).filter(|to| *to < on);
        Some(Quote { price, row, vendor_item, currency, money, ended })
    }

    /// Returns the position of the bid to take. Those that can be there in time come first, else those that are there
    /// soonest. Of several the shares of table `vendors` decide, else the item's own vendor, else the lowest price.
    fn choose(&self, bids: &[Bid<'a>], units: &Ratio, due: Date) -> usize {
        let priced = |bid: &Bid<'_>| bid.quote.is_some();
        let any_priced = bids.iter().any(priced);
        let able: Vec<usize> =
            (0..bids.len()).filter(|index| !any_priced || priced(&bids[*index])).collect();
        let soonest = able.iter().map(|index| bids[*index].arrival).min().unwrap_or(due);
        let able: Vec<usize> =
            able.into_iter().filter(|index| bids[*index].arrival <= soonest.max(due)).collect();
        let share = |index: usize| {
            self.book.vendor(bids[index].offer.vendor).and_then(|vendor| vendor.share.clone())
        };
        let has_shares = able.len() > 1
            && able.iter().any(|index| share(*index).is_some_and(|share| share < Ratio::ONE));
        if has_shares {
            let total: Ratio = self.bought.values().cloned().sum::<Ratio>() + units;
            let behind = |index: usize| {
                let name = bids[index].offer.vendor.to_lowercase();
                let had = self.bought.get(&name).cloned().unwrap_or_default();
                share(index).unwrap_or_default() * &total - &had
            };
            return able
                .iter()
                .copied()
                .rev()
                .max_by(|a, b| behind(*a).cmp(&behind(*b)))
                .unwrap_or(0);
        }
        let own = &self.book.item(self.item).vendor;
        if let Some(index) = able
            .iter()
            .find(|index| !own.is_empty() && bids[**index].offer.vendor.eq_ignore_ascii_case(own))
        {
            return *index;
        }
        able.iter().copied().min_by_key(|index| self.cost(&bids[*index])).unwrap_or(0)
    }

    /// Returns the money of one purchase unit in the book's currency, for comparing; what has no price or rate comes last.
    fn cost(&self, bid: &Bid<'_>) -> (bool, Ratio) {
        let cost = bid.quote.as_ref().and_then(|quote| {
            let rate = self.book.rate(quote.currency, Some(bid.order_day))?;
            (&quote.money * &rate).checked_div(&bid.units)
        });
        (cost.is_none(), cost.unwrap_or_default())
    }

    /// Returns the price breaks above a number of purchase units, as they can be ordered.
    fn breaks(&self, offer: &Offer<'a>, size: Option<SizeId>, units: &Ratio) -> Vec<Ratio> {
        let measure = self.unit_measure(size);
        let mut breaks: Vec<Ratio> = offer
            .rows
            .iter()
            .filter_map(|row| row.from_quantity.as_ref())
            .map(|least| offer.rounded(&least.units(&measure)))
            .filter(|least| units < least)
            .collect();
        breaks.sort();
        breaks.dedup();
        breaks
    }

    /// Raises a bid to the price break that saves most, if any does.
    fn raise(&self, bid: &mut Bid<'a>, wish: &Wish<'_>, due: Date) {
        let Some(quote) = bid.quote.clone() else { return };
        let breaks = self.breaks(&bid.offer, wish.size, &bid.units);
        if breaks.is_empty() {
            return;
        }
        let each = quote.money.checked_div(&bid.units).unwrap_or_default();
        let holding = self.book.item(self.item).order.holding_cost.clone().unwrap_or_default();
        // Holding is in the book's currency, the quote in its own.
        let Some(rate) = self.book.rate(quote.currency, Some(bid.order_day)) else { return };
        let weekly = (holding * Ratio::new(1, 52).expect("a year has weeks")).checked_div(&rate);
        let weekly = weekly.unwrap_or_default();
        let later = (wish.later)();
        let mut best: Option<(Ratio, Ratio, Quote<'a>)> = None;
        for units in breaks {
            let Some(raised) = self.quote(&bid.offer, wish.size, &units, bid.order_day, due) else {
                continue;
            };
            if raised.currency != quote.currency {
                continue;
            }
            let mut left = &units - &bid.units;
            let mut used = Ratio::ZERO;
            let mut held = Ratio::ZERO;
            for need in &later {
                held += &left;
                let step = need.clone().min(left.clone());
                used += &step;
                left = left - &step;
            }
            let saved = &quote.money + &(&used * &each) - &raised.money - &(&held * &weekly);
            if saved > Ratio::ZERO && best.as_ref().is_none_or(|(most, _, _)| saved > *most) {
                best = Some((saved, units, raised));
            }
        }
        if let Some((saved, units, raised)) = best {
            bid.raised = Some(Raised { from: bid.units.clone(), saved });
            bid.units = units;
            bid.quote = Some(raised);
        }
    }
}

impl Offer<'_> {
    /// Returns a number of purchase units raised to whole ones, the minimum and the multiple.
    fn rounded(&self, units: &Ratio) -> Ratio {
        let least = self
            .minimum
            .map_or_else(|| units.clone(), |minimum| units.clone().max(minimum.clone()))
            .ceil();
        match self.multiple {
            Some(multiple) => {
                let lots = least.checked_div(multiple).map_or(Ratio::ONE, |lots| lots.ceil());
                (lots * multiple).ceil()
            }
            None => least,
        }
    }
}

/// Returns the measure of one purchase unit in base units of the item's form.
pub(super) fn unit_measure(book: &Book, item: ItemId, size: Option<SizeId>) -> Ratio {
    match size {
        Some(size) => crate::explode::What::Whole(size).measure(book, item),
        None => book.item(item).purchase_factor().clone(),
    }
}

/// Returns the exact money for purchase units of an item or one of its sizes; nothing if the price is by weight and the
/// item has none.
#[must_use]
pub fn money(
    book: &Book,
    item: ItemId,
    size: Option<SizeId>,
    units: &Ratio,
    price: &Price,
) -> Option<Ratio> {
    let measure = units * &unit_measure(book, item, size);
    let pieces = if size.is_some() { units.clone() } else { measure.clone() };
    book.item(item).money(price, &measure, &pieces)
}
