use std::collections::BTreeMap;

use crate::explode::{Build, Cut, InstanceId, Needs, Take, Taken};
use crate::model::Book;
use crate::model::Component;
use crate::model::Edges;
use crate::model::Form;
use crate::model::ItemId;
use crate::model::SizeId;
use crate::quantity::Length;
use crate::quantity::Ratio;

/// What is needed of an item.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum What {
    /// Pieces of one size, counted.
    Piece {
        /// Along the stock's length.
        length: Length,
        /// Along the stock's width; zero for sticks.
        width: Length,
        /// Whether it may be turned.
        may_turn: bool,
        /// Factory edges it needs.
        edges: Edges,
    },
    /// A length in any splices, in nanometers.
    Run,
    /// Whole stock sizes, counted.
    Whole(SizeId),
    /// An amount in base units of the item's unit.
    Amount,
}

/// How much of one thing one unit of a plan needs.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Need {
    /// The item.
    pub item: ItemId,
    /// What of it.
    pub what: What,
    /// What ends up in the unit.
    pub good: Ratio,
    /// What has to be taken, with scrap and shrinkage; not rounded.
    pub required: Ratio,
}

/// The needs of one unit of a plan, summed over the whole bill.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Flat {
    /// By item in the book's order, then by what.
    pub needs: Vec<Need>,
    /// Weight that rides per item, in pounds; items in the book's order.
    pub weights: Vec<(ItemId, Ratio)>,
}

/// A bill line of one evaluated parent, by position.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Source {
    /// The evaluated parent.
    pub instance: InstanceId,
    /// Position in its lines.
    pub position: usize,
}

/// A bill line of one evaluated parent under one section, with how often the parent is there.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Use {
    /// Position of the section in the lines of the plan's own.
    pub section: usize,
    /// The line.
    pub source: Source,
    /// How many of its parent one unit of the plan has under this section.
    pub times: Ratio,
}

/// One row of an indented bill.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Branch {
    /// 1 for the plan's own lines.
    pub level: u32,
    /// The line.
    pub source: Source,
    /// How many parents there are on this path.
    pub times: Ratio,
}

impl What {
    /// Returns the measure of one of it, in base units of the item's form: length, area, or one; of a run, what one
    /// nanometer of length measures.
    #[must_use]
    pub fn measure(self, book: &Book, item: ItemId) -> Ratio {
        let form = book.item(item).form;
        match self {
            What::Piece { length, width, .. } => Ratio::whole(form.measure(length, width)),
            What::Whole(size) => {
                let size = &book.sizes[size.index()];
                let side = |side: Option<Length>| side.unwrap_or(Length::ZERO);
                Ratio::whole(form.measure(side(size.length), side(size.width)))
            }
            What::Run if form == Form::Roll => {
                book.run_width(item).map_or(Ratio::ONE, Length::to_ratio)
            }
            What::Run | What::Amount => Ratio::ONE,
        }
    }
}

impl Take {
    /// Calls `visit` with what is taken of an item, and how much of it; with nothing for an assembly.
    pub fn each(&self, visit: &mut dyn FnMut(What, &Ratio)) {
        match self {
            Take::Assembly(_) => {}
            Take::Pieces(cuts) => {
                for cut in cuts {
                    visit(cut.what(), &Ratio::from(i64::from(cut.count)));
                }
            }
            Take::Run(length) => visit(What::Run, &length.to_ratio()),
            Take::Whole(size) => visit(What::Whole(*size), &Ratio::ONE),
            Take::Amount(amount) => visit(What::Amount, amount),
        }
    }
}

impl Flat {
    /// Returns the weight of an item that rides, in pounds.
    #[must_use]
    pub fn weight(&self, item: ItemId) -> &Ratio {
        match self.weights.binary_search_by_key(&item, |(item, _)| *item) {
            Ok(place) => &self.weights[place].1,
            Err(_) => &Ratio::ZERO,
        }
    }
}

impl Needs {
    /// Returns what a source takes.
    #[must_use]
    pub fn taken(&self, source: Source) -> &Taken {
        &self.instances[source.instance.index()].lines[source.position]
    }

    /// Returns the needs of one unit, summed per item and size.
    #[must_use]
    pub fn flat(&self, book: &Book, build: &Build) -> Flat {
        let mut sums = Sums::new(book);
        self.each_use(build.root, Ratio::ONE, &mut |source, times| {
            let taken = self.taken(source);
            let Component::Item(item) = book.line(taken.line).component else { return };
            let quantity = times * &taken.quantity;
            let factor = required_factor(book, item, taken);
            let mut add = |what: What, amount: &Ratio| {
                let good = &quantity * amount;
                let (good_sum, required_sum) = sums.of(item, what);
                *required_sum += &match &factor {
                    Some(factor) => &good * factor,
                    None => good.clone(),
                };
                *good_sum += &good;
            };
            taken.take.each(&mut add);
            if !taken.weight.is_zero() {
                sums.add_weight(item, &(&quantity * &taken.weight));
            }
        });
        sums.into_flat(book)
    }

    /// Returns every item line of a build, per section of the plan, with how often its parent is there; in the order of
    /// sections, then of bill lines.
    #[must_use]
    pub fn uses(&self, build: &Build) -> Vec<Use> {
        let mut uses = Vec::new();
        for (section, taken) in self.instances[build.root.index()].lines.iter().enumerate() {
            let Take::Assembly(child) = taken.take else {
                let source = Source { instance: build.root, position: section };
                uses.push(Use { section, source, times: Ratio::ONE });
                continue;
            };
            let first = uses.len();
            self.each_use(child, taken.quantity.clone(), &mut |source, times| {
                uses.push(Use { section, source, times: times.clone() });
            });
            uses[first..].sort_by_key(|used| (self.taken(used.source).line, used.source));
        }
        uses
    }

    /// Calls `visit` for every line of the exploded bill, top down, until it returns false.
    pub fn walk(&self, build: &Build, visit: &mut dyn FnMut(&Branch) -> bool) {
        let mut stack = vec![(build.root, 0_usize, Ratio::ONE)];
        while let Some((instance, position, times)) = stack.pop() {
            let Some(taken) = self.instances[instance.index()].lines.get(position) else {
                continue;
            };
            let level = u32::try_from(stack.len() + 1).expect("levels are limited");
            let branch =
                Branch { level, source: Source { instance, position }, times: times.clone() };
            if !visit(&branch) {
                return;
            }
            let below = &times * &taken.quantity;
            stack.push((instance, position + 1, times));
            if let Take::Assembly(child) = taken.take {
                stack.push((child, 0, below));
            }
        }
    }

    /// Calls `visit` once for each item line of each evaluated parent below `top`, with how many of the parent there are.
    ///
    /// Parents stand after their children, so going down the positions finishes each count before it is used: the
    /// low-level-code order of requirements planning, at the cost of the distinct lines, not of the exploded rows.
    fn each_use(&self, top: InstanceId, times: Ratio, visit: &mut dyn FnMut(Source, &Ratio)) {
        let mut counts: BTreeMap<InstanceId, Ratio> = BTreeMap::from([(top, times)]);
        while let Some((instance, times)) = counts.pop_last() {
            for (position, taken) in self.instances[instance.index()].lines.iter().enumerate() {
                match taken.take {
                    Take::Assembly(child) => {
                        *counts.entry(child).or_default() += &(&times * &taken.quantity);
                    }
                    _ => visit(Source { instance, position }, &times),
                }
            }
        }
    }
}

/// The sums of one build while they are taken.
///
/// An item that is not cut has one sum only, found by its position; the others are looked up by what is needed.
struct Sums {
    /// For each item of the book, the position of its sum in `amounts`, if it has one.
    places: Vec<Option<u32>>,
    /// Good, required, weight.
    amounts: Vec<(ItemId, [Ratio; 3])>,
    cuts: BTreeMap<(ItemId, What), (Ratio, Ratio)>,
}

impl Sums {
    fn new(book: &Book) -> Sums {
        Sums { places: vec![None; book.items.len()], amounts: Vec::new(), cuts: BTreeMap::new() }
    }

    fn amounts(&mut self, item: ItemId) -> &mut [Ratio; 3] {
        let place = *self.places[item.index()].get_or_insert_with(|| {
            self.amounts.push((item, Default::default()));
            u32::try_from(self.amounts.len() - 1).expect("items are counted in a u32")
        });
        &mut self.amounts[place as usize].1
    }

    /// Returns the good and the required sum.
    fn of(&mut self, item: ItemId, what: What) -> (&mut Ratio, &mut Ratio) {
        if what == What::Amount {
            let [good, required, _] = self.amounts(item);
            return (good, required);
        }
        let (good, required) = self.cuts.entry((item, what)).or_default();
        (good, required)
    }

    fn add_weight(&mut self, item: ItemId, weight: &Ratio) {
        let [_, _, sum] = self.amounts(item);
        *sum += weight;
    }

    fn into_flat(mut self, book: &Book) -> Flat {
        self.amounts.sort_unstable_by_key(|(item, _)| *item);
        let mut flat = Flat::default();
        flat.needs.reserve_exact(self.amounts.len() + self.cuts.len());
        for (item, [good, required, weight]) in self.amounts {
            if !weight.is_zero() {
                flat.weights.push((item, weight));
            }
            // What is cut has its weight here and its needs below.
            if !book.item(item).is_nested() {
                flat.needs.push(Need { item, what: What::Amount, good, required });
            }
        }
        if !self.cuts.is_empty() {
            let cuts = self.cuts.into_iter();
            flat.needs.extend(cuts.map(|((item, what), (good, required))| Need {
                item,
                what,
                good,
                required,
            }));
            flat.needs.sort_by_key(|need| (need.item, need.what));
        }
        flat
    }
}

impl Cut {
    /// Returns what a cut counts as.
    #[must_use]
    pub fn what(&self) -> What {
        What::Piece {
            length: self.length,
            width: self.width,
            may_turn: self.may_turn,
            edges: self.edges,
        }
    }
}

/// Returns what good quantities are multiplied by: 1 / (1 - scrap) / (1 - shrinkage); nothing for 1.
#[must_use]
pub fn required_factor(book: &Book, item: ItemId, taken: &Taken) -> Option<Ratio> {
    let row = book.line(taken.line);
    let item = book.item(item);
    let drops_scrap = book.settings.ignore_scrap && item.is_nested();
    let scrap = if drops_scrap { &Ratio::ZERO } else { &row.further.scrap };
    if scrap.is_zero() && item.shrinkage.is_zero() {
        return None;
    }
    let kept = (&Ratio::ONE - scrap) * (&Ratio::ONE - &item.shrinkage);
    Some(Ratio::ONE.checked_div(&kept).expect("scrap and shrinkage are below one"))
}
