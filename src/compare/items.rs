use crate::compare::Side;
use crate::compare::basis::{Taking, View};
use crate::compare::effect::{EFFECTS, Effect};
use crate::explode::What;
use crate::model::Form;
use crate::model::ItemId;
use crate::model::PriceBasis;
use crate::model::SizeId;
use crate::quantity::Ratio;
use crate::quantity::settle;
use crate::rollup::{ItemCost, Purchase};

/// What the difference of one row is made of, in whole units of the last place.
pub(super) type Terms = [i128; EFFECTS];

/// Rounds exact terms so that they add up to a difference.
pub(super) fn settled(difference: i128, terms: &[(Effect, Ratio)]) -> Terms {
    let exact: Vec<Ratio> = terms.iter().map(|(_, term)| term.clone()).collect();
    let mut settled = [0; EFFECTS];
    for ((effect, _), term) in terms.iter().zip(settle(difference, &exact)) {
        settled[*effect as usize] += term;
    }
    settled
}

/// Returns terms of which one takes the whole difference.
pub(super) fn only(effect: Effect, difference: i128) -> Terms {
    let mut terms = [0; EFFECTS];
    terms[effect as usize] = difference;
    terms
}

/// Parts the difference in cost of an item that both sides take, by chain substitution: first the quantity changes, at
/// the old yield and price, then the yield, then the sizes, at their old prices, and last the prices.
pub(super) fn cost_terms(old: &View<'_>, new: &View<'_>, was: &ItemCost, is: &ItemCost) -> Terms {
    let difference = new.cost(is.cost) - old.cost(was.cost);
    let (was, is) = (old.taking(was), new.taking(is));
    let old_price = was.price.clone().or_else(|| is.price.clone()).unwrap_or(Ratio::ZERO);
    // What the new quantity would be paid at the old yield; a side that uses nothing has no yield.
    let at_old_yield = match was.paid.checked_div(&was.used) {
        Some(paid) => paid * &is.used,
        None => is.paid.clone(),
    };
    let quantity = (&at_old_yield - &was.paid) * &old_price;
    let waste = (&is.paid - &at_old_yield) * &old_price;
    let rest = &is.money - &was.money - &quantity - &waste;
    let mix = size_mix(old, new, &was, &is, &old_price);
    let price = &rest - &mix;
    if old.side.book.item(was.cost.item).form == Form::Labor {
        let terms = [(Effect::LaborRate, mix + price), (Effect::LaborHours, quantity + waste)];
        return settled(difference, &terms);
    }
    // What only another rounding makes, where the sides have other digits or lots, falls to the first.
    let terms = [
        (Effect::Price, price),
        (Effect::Quantity, quantity),
        (Effect::Yield, waste),
        (Effect::SizeMix, mix),
    ];
    settled(difference, &terms)
}

/// Parts the difference in weight of an item that both sides take: more or less of it, then heavier or lighter.
///
/// Weight is of what rides, so that a cutout counts as less of the item. Where only one side has a weight per measure, the
/// quantity counts by the measure used.
pub(super) fn weight_terms(old: &View<'_>, new: &View<'_>, was: &ItemCost, is: &ItemCost) -> Terms {
    let weights = [old.weight(was.weight), new.weight(is.weight)];
    let difference = weights[1] - weights[0];
    let [was_weight, is_weight] = weights.map(Ratio::whole);
    let rate = |view: &View<'_>, item: ItemId| {
        let item = view.side.book.item(item);
        let weight = item.weight.as_ref().map(|weight| view.pounds(weight) * &item.rides);
        weight.unwrap_or(Ratio::ZERO)
    };
    let (old_rate, new_rate) = (rate(old, was.item), rate(new, is.item));
    if old_rate == new_rate {
        return only(Effect::Quantity, difference);
    }
    let by_weight = was_weight.checked_div(&old_rate).zip(is_weight.checked_div(&new_rate));
    let quantity = match by_weight {
        Some((was_riding, is_riding)) => (is_riding - was_riding) * old_rate,
        None => {
            let (was_used, is_used) = (old.measure(&was.used), new.measure(&is.used));
            let per_used = was_weight.checked_div(&was_used).unwrap_or(Ratio::ZERO);
            (is_used - was_used) * per_used
        }
    };
    let heavier = &is_weight - &was_weight - &quantity;
    settled(difference, &[(Effect::UnitWeight, heavier), (Effect::Quantity, quantity)])
}

/// Returns what the new purchases would cost more at the old prices of their sizes than at the old average price.
fn size_mix(
    old: &View<'_>,
    new: &View<'_>,
    was: &Taking<'_>,
    is: &Taking<'_>,
    old_price: &Ratio,
) -> Ratio {
    // A fixed yield is costed at one price; what has no price, or is not bought, has no mix.
    let (Some(_), Some(bought)) = (&was.bought, &is.bought) else { return Ratio::ZERO };
    let is_paid = |taking: &Taking<'_>| taking.price.as_ref().is_some_and(|price| !price.is_zero());
    if !is_paid(was) || !is_paid(is) || was.cost.is_unpriced {
        return Ratio::ZERO;
    }
    let at_old_price = |purchase: &Purchase| {
        at_old_price(old.side, new.side, was.cost.item, is.cost, purchase)
            .map_or_else(|| new.measure(&purchase.count) * old_price, |money| new.money(&money))
    };
    let repriced: Ratio = is.cost.purchases.iter().map(at_old_price).sum();
    let kept = is.paid.checked_div(bought).unwrap_or(Ratio::ONE);
    (repriced - bought * old_price) * kept
}

/// Returns what a new purchase would cost at the old price of its size, and at its new price where the old book does not
/// know the size or its price; nothing if the old price is for each piece made to length, and how many there are is not
/// known.
fn at_old_price(
    old: Side<'_>,
    new: Side<'_>,
    old_item: ItemId,
    cost: &ItemCost,
    purchase: &Purchase,
) -> Option<Ratio> {
    let (was, is) = (old.book.item(old_item), new.book.item(cost.item));
    let Some(priced) = &purchase.priced else { return Some(purchase.money.clone()) };
    if let Some(size) = purchase.size {
        let measure = What::Whole(size).measure(new.book, cost.item);
        let one = is.money(&priced.price, &measure, &Ratio::ONE).unwrap_or(Ratio::ZERO);
        // Of a roll that is charged by length, the count is of whole rolls.
        let charged = purchase.money.checked_div(&one).unwrap_or_else(|| purchase.count.clone());
        let old_one = sizes_like(old, old_item, new, size)
            .filter_map(|size| old.book.price(old_item, Some(size), old.needs.on))
            .filter_map(|priced| was.money(&priced.price, &measure, &Ratio::ONE))
            .min();
        return Some(old_one.map_or_else(|| purchase.money.clone(), |one| one * &charged));
    }
    let made_to = old.book.sizes_of(old_item).first().copied().filter(|_| was.is_nested());
    let Some(known) = old.book.price(old_item, made_to, old.needs.on) else {
        return Some(purchase.money.clone());
    };
    let pieces = match (was.is_nested(), priced.price.basis, known.price.basis) {
        (false, ..) => purchase.count.clone(),
        (true, PriceBasis::Each, _) => purchase.money.checked_div(&priced.price.amount)?,
        (true, _, PriceBasis::Each) => return None,
        (true, ..) => Ratio::ONE,
    };
    was.money(&known.price, &purchase.count, &pieces)
}

/// Returns the old side's sizes of an item that measure the same as a size of the new side.
fn sizes_like<'a>(
    old: Side<'a>,
    old_item: ItemId,
    new: Side<'a>,
    size: SizeId,
) -> impl Iterator<Item = SizeId> + 'a {
    let wanted = &new.book.sizes[size.index()];
    let of_item = old.book.sizes_of(old_item).iter().copied();
    of_item.filter(move |known| {
        let known = &old.book.sizes[known.index()];
        (known.length, known.width) == (wanted.length, wanted.width)
    })
}
