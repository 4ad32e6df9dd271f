use crate::compare::basis::View;
use crate::compare::effect::Effect;
use crate::compare::items::{Terms, only, settled};
use crate::model::Burden;
use crate::model::BurdenBasis;
use crate::quantity::Ratio;
use crate::rollup::BurdenCost;

/// Parts the difference of a burden that both sides lay on: first what it is laid on changes, at the old rate, then the
/// rate.
pub(super) fn terms(old: &View<'_>, new: &View<'_>, was: &BurdenCost, is: &BurdenCost) -> Terms {
    let row = |view: &View<'_>, cost: &BurdenCost| -> Burden {
        view.side.book.burdens[cost.burden.index()].clone()
    };
    let (old_row, new_row) = (row(old, was), row(new, is));
    let costs = [old.cost(was.cost), new.cost(is.cost)];
    let difference = costs[1] - costs[0];
    if !is_laid_alike(&old_row.basis, &new_row.basis) {
        return only(Effect::BurdenRate, difference);
    }
    let is_same_rate = old_row.share == new_row.share && old_row.amount == new_row.amount;
    if is_same_rate {
        return only(Effect::BurdenBase, difference);
    }
    // A fixed sum beside a percent of money does not grow with the money.
    let is_of_money = matches!(
        old_row.basis,
        BurdenBasis::LaborMoney | BurdenBasis::Material | BurdenBasis::Subtotal(_)
    );
    let mut rate = old_row.share.unwrap_or(Ratio::ZERO);
    if !is_of_money {
        rate += &old_row.amount.unwrap_or(Ratio::ZERO);
    }
    let grown = (new.money(&is.base) - old.money(&was.base)) * rate;
    let dearer = Ratio::whole(difference) - &grown;
    settled(difference, &[(Effect::BurdenRate, dearer), (Effect::BurdenBase, grown)])
}

fn is_laid_alike(old: &BurdenBasis, new: &BurdenBasis) -> bool {
    match (old, new) {
        (BurdenBasis::Subtotal(old), BurdenBasis::Subtotal(new)) => old.eq_ignore_ascii_case(new),
        _ => old == new,
    }
}
