use indexmap::IndexMap;
use rayon::iter::{IntoParallelIterator, ParallelIterator};
use rayon::slice::ParallelSlice;

use crate::explode::flat::{Flat, Need, What, required_factor};
use crate::explode::line::weight_of;
use crate::explode::plain::FEWEST_LINES;
use crate::explode::{Build, Instance, InstanceId, Needs, Take, Taken};
use crate::model::Book;
use crate::model::Component;
use crate::model::ItemId;
use crate::quantity::Ratio;

/// What every evaluated parent takes, laid out for summing it over many builds.
///
/// Amounts are whole numbers of a unit that all lines of a slot share, so that a line takes one multiplication and one
/// addition. Builds that reach a line beyond that (a part of an assembly, a number out of range) are summed by
/// [`Needs::flat`]; the sums are the same.
#[derive(Debug)]
pub struct Sums<'a> {
    book: &'a Book,
    needs: &'a Needs,
    /// For each evaluated parent, where its entries end in `children` and in `parts`.
    ends: Vec<(u32, u32)>,
    /// Evaluated parents whose lines do not all fit.
    unfit: Vec<bool>,
    /// Evaluated parents, with how many of each one of their parent takes.
    children: Vec<(InstanceId, i64)>,
    /// Slots, with how many units of each one parent takes.
    parts: Vec<(u32, i64)>,
    /// In the order of the flat needs, then weights.
    slots: Vec<Slot>,
    /// Items that are measured out or counted, in the book's order.
    measured: Vec<Measured>,
    /// Whether every slot is one of `measured`.
    is_measured: bool,
}

/// An item whose amounts are summed.
#[derive(Clone, Debug)]
pub struct Measured {
    /// The item.
    pub item: ItemId,
    /// How many of the units that good amounts are summed in make one of the item's unit.
    pub good_units: i64,
    /// The same for required amounts.
    pub required_units: i64,
    /// Its slots, each with how many good and required units one of its own makes.
    slots: Vec<(u32, i64, i64)>,
}

/// What lines are summed in.
#[derive(Debug)]
struct Slot {
    key: Key,
    /// How many of the slot's units make one.
    denominator: i64,
    /// What the good sum is multiplied by for the required one; nothing for one.
    factor: Option<Ratio>,
}

#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
enum Key {
    /// What is needed of an item, and the scrap of the lines; amounts in the item's unit.
    Need(ItemId, What, Ratio),
    /// Pounds of an item that is cut; what is not cut weighs by its amount.
    Weight(ItemId),
}

/// Numbers that a thread keeps from build to build; all zero between them.
#[derive(Debug)]
pub struct Scratch {
    /// For each evaluated parent, how many there are.
    times: Vec<i64>,
    /// A bit for each evaluated parent that is still to be visited.
    waiting: Vec<u64>,
    /// For each slot.
    sums: Vec<i128>,
}

/// What some evaluated parents in a row take, while the units of slots are not known.
struct Stretch {
    slots: IndexMap<Key, Draft>,
    entries: Vec<Entry>,
    laid: Laid,
}

/// What evaluated parents in a row take, as in [`Sums`].
#[derive(Default)]
struct Laid {
    ends: Vec<(u32, u32)>,
    unfit: Vec<bool>,
    children: Vec<(InstanceId, i64)>,
    parts: Vec<(u32, i64)>,
}

/// Slots while they are found.
struct Drafts<'a> {
    book: &'a Book,
    by_key: IndexMap<Key, Draft>,
    /// For each item, its slot for amounts of lines without scrap, which are nearly all.
    plain: Vec<Option<u32>>,
}

struct Draft {
    denominator: i64,
    factor: Option<Ratio>,
}

/// A line's entry while the unit of its slot is not known.
struct Entry {
    slot: u32,
    numerator: i64,
    denominator: i64,
}

/// Largest unit of a slot, so that sums stay far from the end of an `i128`.
const MOST_UNITS: i64 = 1_000_000_000_000;
/// Largest sum of a slot, so that it can be brought to another unit.
const MOST_SUM: u128 = 1 << 70;

impl<'a> Sums<'a> {
    /// Lays out what the evaluated parents take.
    #[must_use]
    pub fn new(book: &'a Book, needs: &'a Needs) -> Sums<'a> {
        // A small bill is laid out in one stretch.
        let stretches =
            if book.lines.len() < FEWEST_LINES { 1 } else { rayon::current_num_threads() };
        let length = needs.instances.len().div_ceil(stretches).max(1);
        let laid = needs.instances.par_chunks(length).map(|stretch| Stretch::new(book, stretch));
        let laid: Vec<Stretch> = laid.collect();
        let mut by_key: IndexMap<Key, Draft> = IndexMap::new();
        let laid: Vec<(Vec<u32>, Vec<Entry>, Laid)> = laid
            .into_iter()
            .map(|Stretch { slots, entries, laid }| {
                let slots = slots.into_iter().map(|(key, draft)| joined(&mut by_key, key, draft));
                (slots.collect(), entries, laid)
            })
            .collect();
        // Needs in the order of flat ones, so that they need no sorting build by build.
        let mut order: Vec<u32> = (0..count(by_key.len())).collect();
        order.sort_unstable_by(|a, b| {
            let key = |slot: &u32| by_key.get_index(*slot as usize).map(|(key, _)| key);
            key(a).cmp(&key(b))
        });
        let mut places = vec![0; order.len()];
        for (place, slot) in (0_u32..).zip(&order) {
            places[*slot as usize] = place;
        }
        let in_units = |(slots, entries, mut laid): (Vec<u32>, Vec<Entry>, Laid)| {
            laid.enter(&entries, |slot| {
                let slot = slots[slot as usize] as usize;
                (places[slot], by_key[slot].denominator)
            });
            laid
        };
        let laid: Vec<Laid> = laid.into_par_iter().map(in_units).collect();
        let mut all = Laid::default();
        for stretch in laid {
            all.append(stretch);
        }
        let Laid { ends, unfit, children, parts } = all;
        let mut slots: Vec<(u32, Slot)> = places
            .iter()
            .zip(by_key)
            .map(|(place, (key, Draft { denominator, factor }))| {
                (*place, Slot { key, denominator, factor })
            })
            .collect();
        slots.sort_unstable_by_key(|(place, _)| *place);
        let slots: Vec<Slot> = slots.into_iter().map(|(_, slot)| slot).collect();
        let measured = measured(&slots);
        let count_of: usize = measured
            .as_ref()
            .map_or(0, |measured| measured.iter().map(|one| one.slots.len()).sum());
        let is_measured = count_of == slots.len();
        let measured = measured.unwrap_or_default();
        Sums { book, needs, ends, unfit, children, parts, slots, measured, is_measured }
    }

    /// Returns the items that are measured out or counted, in the book's order.
    #[must_use]
    pub fn measured(&self) -> &[Measured] {
        &self.measured
    }

    /// Calls `visit` for each item of a build, in the book's order, with its position in [`Sums::measured`] and what is
    /// good and required of it in its units, none of them zero; nothing if a build takes what is not measured.
    pub fn each_measured(
        &self,
        build: &Build,
        scratch: &mut Scratch,
        visit: &mut dyn FnMut(usize, i128, i128),
    ) -> Option<()> {
        let is_summed = self.is_measured && self.sum(build, scratch).is_some();
        if !is_summed {
            *scratch = self.scratch();
            return None;
        }
        for (position, measured) in self.measured.iter().enumerate() {
            let (mut good, mut required) = (0, 0);
            for (slot, of_good, of_required) in &measured.slots {
                let sum = std::mem::take(&mut scratch.sums[*slot as usize]);
                good += sum * i128::from(*of_good);
                required += sum * i128::from(*of_required);
            }
            if good != 0 {
                visit(position, good, required);
            }
        }
        Some(())
    }

    /// Returns the numbers a thread needs.
    #[must_use]
    pub fn scratch(&self) -> Scratch {
        Scratch {
            times: vec![0; self.ends.len()],
            waiting: vec![0; self.ends.len().div_ceil(64)],
            sums: vec![0; self.slots.len()],
        }
    }

    /// Returns the needs of one unit, as [`Needs::flat`] does.
    #[must_use]
    pub fn flat(&self, build: &Build, scratch: &mut Scratch) -> Flat {
        let flat = self.sum(build, scratch).map(|()| self.summed(scratch));
        flat.unwrap_or_else(|| {
            *scratch = self.scratch();
            self.needs.flat(self.book, build)
        })
    }

    /// Adds up the slots of a build; nothing if it reaches what does not fit.
    fn sum(&self, build: &Build, scratch: &mut Scratch) -> Option<()> {
        let Scratch { times, waiting, sums } = scratch;
        times[build.root.index()] = 1;
        waiting[build.root.index() / 64] |= 1 << (build.root.index() % 64);
        // Parents stand after their children: going down the positions finishes each count before it is used.
        for word in (0..=build.root.index() / 64).rev() {
            while waiting[word] != 0 {
                let bit = 63 - waiting[word].leading_zeros() as usize;
                waiting[word] &= !(1 << bit);
                let instance = word * 64 + bit;
                if self.unfit[instance] {
                    return None;
                }
                let here = std::mem::take(&mut times[instance]);
                let start = instance.checked_sub(1).map_or((0, 0), |before| self.ends[before]);
                let end = self.ends[instance];
                for (child, quantity) in &self.children[start.0 as usize..end.0 as usize] {
                    let more = here.checked_mul(*quantity)?;
                    let child = child.index();
                    times[child] = times[child].checked_add(more)?;
                    waiting[child / 64] |= 1 << (child % 64);
                }
                for (slot, units) in &self.parts[start.1 as usize..end.1 as usize] {
                    let sum = &mut sums[*slot as usize];
                    *sum = sum.checked_add(i128::from(here) * i128::from(*units))?;
                    if sum.unsigned_abs() > MOST_SUM {
                        return None;
                    }
                }
            }
        }
        Some(())
    }

    /// Takes the sums as flat needs.
    fn summed(&self, scratch: &mut Scratch) -> Flat {
        let mut flat = Flat::default();
        for (slot, sum) in self.slots.iter().zip(&mut scratch.sums) {
            let sum = std::mem::take(sum);
            if sum == 0 {
                continue;
            }
            let amount = if slot.denominator == 1 {
                Ratio::whole(sum)
            } else {
                Ratio::new(sum, i128::from(slot.denominator)).expect("units are above zero")
            };
            match &slot.key {
                Key::Weight(item) => flat.weights.push((*item, amount)),
                Key::Need(id, what, _) => {
                    let item = self.book.item(*id);
                    let good = match what {
                        What::Amount if item.unit.factor != Ratio::ONE => {
                            amount * &item.unit.factor
                        }
                        _ => amount,
                    };
                    let required = match &slot.factor {
                        Some(factor) => &good * factor,
                        None => good.clone(),
                    };
                    match flat.needs.last_mut() {
                        Some(need) if need.item == *id && need.what == *what => {
                            need.good += &good;
                            need.required += &required;
                        }
                        _ => flat.needs.push(Need { item: *id, what: *what, good, required }),
                    }
                }
            }
        }
        let measured = flat.needs.iter().filter(|need| need.what == What::Amount);
        let weights = measured.filter_map(|need| {
            let weight = weight_of(self.book.item(need.item), &need.good);
            (!weight.is_zero()).then_some((need.item, weight))
        });
        flat.weights.extend(weights.collect::<Vec<_>>());
        flat.weights.sort_unstable_by_key(|(item, _)| *item);
        flat
    }
}

impl Stretch {
    fn new(book: &Book, instances: &[Instance]) -> Stretch {
        let mut drafts =
            Drafts { book, by_key: IndexMap::new(), plain: vec![None; book.items.len()] };
        let mut entries: Vec<Entry> = Vec::new();
        let mut laid = Laid::default();
        for instance in instances {
            let mut is_unfit = false;
            for taken in &instance.lines {
                let fits = match &taken.take {
                    Take::Assembly(child) => {
                        let quantity = taken.quantity.to_integer();
                        let quantity = quantity.and_then(|quantity| i64::try_from(quantity).ok());
                        quantity.map(|quantity| laid.children.push((*child, quantity)))
                    }
                    _ => drafts.add(taken, &mut entries),
                };
                is_unfit |= fits.is_none();
            }
            laid.unfit.push(is_unfit);
            laid.ends.push((count(laid.children.len()), count(entries.len())));
        }
        Stretch { slots: drafts.by_key, entries, laid }
    }
}

impl Laid {
    /// Adds the entries in units of their slots; `slot` tells the position of one among all, and its unit.
    fn enter(&mut self, entries: &[Entry], slot: impl Fn(u32) -> (u32, i64)) {
        self.parts.reserve_exact(entries.len());
        let mut first = 0;
        for ((_, end), unfit) in self.ends.iter().zip(&mut self.unfit) {
            for entry in &entries[first as usize..*end as usize] {
                let (place, unit) = slot(entry.slot);
                let units = entry.numerator.checked_mul(unit / entry.denominator);
                *unfit |= units.is_none() || unit % entry.denominator != 0;
                self.parts.push((place, units.unwrap_or_default()));
            }
            first = *end;
        }
    }

    /// Adds evaluated parents that stand behind these.
    fn append(&mut self, mut behind: Laid) {
        if self.ends.is_empty() {
            *self = behind;
            return;
        }
        let (children, parts) = (count(self.children.len()), count(self.parts.len()));
        let ends = behind.ends.iter().map(|end| (end.0 + children, end.1 + parts));
        self.ends.extend(ends);
        self.unfit.append(&mut behind.unfit);
        self.children.append(&mut behind.children);
        self.parts.append(&mut behind.parts);
    }
}

/// Enters a slot of a stretch among all, with a unit that both are whole numbers of; returns its position. Where there is no
/// such unit, parents that would need it do not fit.
fn joined(by_key: &mut IndexMap<Key, Draft>, key: Key, draft: Draft) -> u32 {
    let entry = by_key.entry(key);
    let slot = count(entry.index());
    let known = entry.or_insert(Draft { denominator: 1, factor: draft.factor });
    known.denominator = common(known.denominator, draft.denominator).unwrap_or(known.denominator);
    slot
}

impl Drafts<'_> {
    /// Adds an item line; nothing if it does not fit.
    fn add(&mut self, taken: &Taken, entries: &mut Vec<Entry>) -> Option<()> {
        let row = self.book.line(taken.line);
        let Component::Item(id) = row.component else { return None };
        let item = self.book.item(id);
        if let Take::Amount(amount) = &taken.take {
            let mut units = if *amount == Ratio::ONE {
                taken.quantity.clone()
            } else {
                &taken.quantity * amount
            };
            if item.unit.factor != Ratio::ONE {
                units = units.checked_div(&item.unit.factor)?;
            }
            return self.enter(id, What::Amount, taken, &units, entries);
        }
        let mut fits = Some(());
        taken.take.each(&mut |what, amount| {
            let units = &taken.quantity * amount;
            fits = fits.and(self.enter(id, what, taken, &units, entries));
        });
        if !taken.weight.is_zero() {
            let slot = self.slot(Key::Weight(id), None);
            fits = fits.and(self.put(slot, &(&taken.quantity * &taken.weight), entries));
        }
        fits
    }

    fn enter(
        &mut self,
        id: ItemId,
        what: What,
        taken: &Taken,
        units: &Ratio,
        entries: &mut Vec<Entry>,
    ) -> Option<()> {
        let scrap = &self.book.line(taken.line).further.scrap;
        let is_plain = what == What::Amount && scrap.is_zero();
        let slot = match self.plain[id.index()].filter(|_| is_plain) {
            Some(slot) => slot,
            None => {
                let factor = required_factor(self.book, id, taken);
                let slot = self.slot(Key::Need(id, what, scrap.clone()), factor);
                if is_plain {
                    self.plain[id.index()] = Some(slot);
                }
                slot
            }
        };
        self.put(slot, units, entries)
    }

    fn slot(&mut self, key: Key, factor: Option<Ratio>) -> u32 {
        let entry = self.by_key.entry(key);
        let slot = count(entry.index());
        entry.or_insert(Draft { denominator: 1, factor });
        slot
    }

    /// Enters a line, and makes the slot's unit one that the line is a whole number of.
    fn put(&mut self, slot: u32, units: &Ratio, entries: &mut Vec<Entry>) -> Option<()> {
        // A sum of nothing would look as if no line had been there.
        let (numerator, denominator) = small(units).filter(|(numerator, _)| *numerator != 0)?;
        let draft = &mut self.by_key[slot as usize];
        draft.denominator = common(draft.denominator, denominator)?;
        entries.push(Entry { slot, numerator, denominator });
        Some(())
    }
}

/// Brings the slots of each measured item to common units; nothing if one would be too small.
fn measured(slots: &[Slot]) -> Option<Vec<Measured>> {
    let mut all: Vec<Measured> = Vec::new();
    let of_amounts = slots.iter().zip(0_u32..).filter_map(|(slot, place)| match slot.key {
        Key::Need(item, What::Amount, _) => Some((item, place)),
        _ => None,
    });
    for (item, slot) in of_amounts {
        match all.last_mut().filter(|last| last.item == item) {
            Some(last) => last.slots.push((slot, 0, 0)),
            None => all.push(Measured {
                item,
                good_units: 1,
                required_units: 1,
                slots: vec![(slot, 0, 0)],
            }),
        }
    }
    for one in &mut all {
        // What one unit of a slot is, good and required, in the item's unit.
        let parts: Vec<[(i64, i64); 2]> = one
            .slots
            .iter()
            .map(|(slot, _, _)| {
                let slot = &slots[*slot as usize];
                let good = Ratio::new(1, i128::from(slot.denominator))?;
                let required = match &slot.factor {
                    Some(factor) => &good * factor,
                    None => good.clone(),
                };
                Some([small(&good)?, small(&required)?])
            })
            .collect::<Option<_>>()?;
        for [good, required] in &parts {
            one.good_units = common(one.good_units, good.1)?;
            one.required_units = common(one.required_units, required.1)?;
        }
        for ((_, of_good, of_required), [good, required]) in one.slots.iter_mut().zip(parts) {
            *of_good = good.0.checked_mul(one.good_units / good.1)?;
            *of_required = required.0.checked_mul(one.required_units / required.1)?;
            if (*of_good).max(*of_required) > MOST_UNITS {
                return None;
            }
        }
    }
    Some(all)
}

/// Returns numerator and denominator.
fn small(ratio: &Ratio) -> Option<(i64, i64)> {
    let (numerator, denominator) = ratio.to_parts()?;
    Some((i64::try_from(numerator).ok()?, i64::try_from(denominator).ok()?))
}

/// Returns the least common multiple, if it is in range.
fn common(known: i64, denominator: i64) -> Option<i64> {
    if known % denominator == 0 {
        return Some(known);
    }
    // In lowest terms, the denominator is what the other lacks.
    let (_, lacks) = small(&Ratio::new(i128::from(known), i128::from(denominator))?)?;
    known.checked_mul(lacks).filter(|wider| *wider <= MOST_UNITS)
}

fn count(length: usize) -> u32 {
    u32::try_from(length).expect("entries are counted in a u32")
}
