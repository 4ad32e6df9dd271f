//! Down the levels with time: how long before a build is done each line's component is needed.
//!
//! A component is needed `offset_days` before its parent is, or as long as its own assembly says; the components of an
//! assembly are needed a further `lead_days` before it. Stocked assemblies are not gone through: they are netted first.

use std::collections::BTreeMap;

use crate::explode::InstanceId;
use crate::explode::Needs;
use crate::explode::Source;
use crate::explode::Take;
use crate::explode::What;
use crate::explode::required_factor;
use crate::model::Book;
use crate::model::Component;
use crate::model::Form;
use crate::model::ItemId;
use crate::model::Parent;
use crate::quantity::Ratio;

/// What one of an evaluated parent takes, and how many working days before it is due.
#[derive(Clone, Debug, Default)]
pub(super) struct Phased {
    /// Items: how much is required of each, without rounding; labor is left out.
    pub(super) needs: Vec<(ItemId, What, u32, Ratio)>,
    /// Stocked assemblies.
    pub(super) stocked: Vec<(InstanceId, u32, Ratio)>,
}

/// Returns what evaluated parents take, each with its weight, down to items and stocked assemblies.
pub(super) fn phased(book: &Book, needs: &Needs, tops: &[(InstanceId, Ratio)]) -> Phased {
    let mut items: BTreeMap<(ItemId, What, u32), Ratio> = BTreeMap::new();
    let mut stocked: BTreeMap<(InstanceId, u32), Ratio> = BTreeMap::new();
    each_line(book, needs, tops, &mut |source, days, times| {
        let taken = needs.taken(source);
        match (&taken.take, book.line(taken.line).component) {
            (Take::Assembly(child), _) => {
                *stocked.entry((*child, days)).or_default() += &(times * &taken.quantity);
            }
            (_, Component::Item(item)) if book.item(item).form != Form::Labor => {
                each_need(book, item, needs, source, times, &mut |what, required| {
                    *items.entry((item, what, days)).or_default() += &required;
                });
            }
            _ => {}
        }
    });
    Phased {
        needs: items
            .into_iter()
            .filter(|(_, required)| !required.is_zero())
            .map(|((item, what, days), required)| (item, what, days, required))
            .collect(),
        stocked: stocked
            .into_iter()
            .filter(|(_, count)| !count.is_zero())
            .map(|((instance, days), count)| (instance, days, count))
            .collect(),
    }
}

/// Calls `visit` with what a line of an item requires for `times` of its parent.
pub(super) fn each_need(
    book: &Book,
    item: ItemId,
    needs: &Needs,
    source: Source,
    times: &Ratio,
    visit: &mut dyn FnMut(What, Ratio),
) {
    let taken = needs.taken(source);
    let quantity = times * &taken.quantity;
    let factor = required_factor(book, item, taken);
    taken.take.each(&mut |what, amount| {
        let good = &quantity * amount;
        let required = match &factor {
            Some(factor) => good * factor,
            None => good,
        };
        if !required.is_zero() {
            visit(what, required);
        }
    });
}

/// Calls `visit` once for each line of an item or a stocked assembly, per number of days before the tops are due, with how
/// many of the line's parent there are. Where weights of tops cancel out, what they share is not gone through.
pub(crate) fn each_line(
    book: &Book,
    needs: &Needs,
    tops: &[(InstanceId, Ratio)],
    visit: &mut dyn FnMut(Source, u32, &Ratio),
) {
    let mut counts: BTreeMap<(InstanceId, u32), Ratio> = BTreeMap::new();
    for (top, weight) in tops {
        *counts.entry((*top, 0)).or_default() += weight;
    }
    while let Some(((instance, days), times)) = counts.pop_last() {
        if times.is_zero() {
            continue;
        }
        let parent = &needs.instances[instance.index()];
        let below = days.saturating_add(match parent.parent {
            Parent::Assembly(assembly) => {
                whole_days(&book.assemblies[assembly.index()].terms.lead_days)
            }
            Parent::Plan(_) | Parent::Option(_) => 0,
        });
        for (position, taken) in parent.lines.iter().enumerate() {
            let line = book.line(taken.line);
            let own = match (&line.further.offset_days, line.component) {
                (Some(offset), _) => whole_days(offset),
                (None, Component::Assembly(assembly)) => {
                    whole_days(&book.assemblies[assembly.index()].terms.offset_days)
                }
                (None, Component::Item(_)) => 0,
            };
            let days = below.saturating_add(own);
            match (&taken.take, line.component) {
                (Take::Assembly(child), Component::Assembly(assembly))
                    if !book.assemblies[assembly.index()].terms.is_stocked =>
                {
                    *counts.entry((*child, days)).or_default() += &(&times * &taken.quantity);
                }
                _ => visit(Source { instance, position }, days, &times),
            }
        }
    }
}

fn whole_days(days: &Ratio) -> u32 {
    days.ceil().to_integer().and_then(|days| u32::try_from(days).ok()).unwrap_or(0)
}
