//! Which options meet: whose effects on a bill do not simply add up, since one line's quantity depends on both.
//!
//! Options meet on one path of the bill (a line under one option, in an assembly that another takes), in the openings and
//! fills of one parent, and where lines of one component may take away from each other. Beside that, demand is a sum of
//! parts each of which depends on one set of options only.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use crate::model::AssemblyId;
use crate::model::Book;
use crate::model::Component;
use crate::model::LineId;
use crate::model::OptionId;
use crate::model::Parent;
use crate::model::PlanId;
use crate::model::Usage;

/// Decisions by their positions, as bits: a plan has few.
type Meeting = u128;

/// More sets than this at one assembly are put together into one: that names more than meets, which costs work but no
/// exactness.
const MOST_SETS: usize = 16;

/// What meets at or below assemblies, for one numbering of the decisions.
#[derive(Default)]
pub(super) struct Below(BTreeMap<AssemblyId, BTreeSet<Meeting>>);

/// Returns the largest sets of decisions that meet anywhere in the bill of a plan; `decision_of` tells which decision an
/// option is part of, and `below` keeps what is found out for other plans with the same decisions. More decisions than can
/// be told apart are taken to meet each other all.
pub(super) fn meetings(
    book: &Book,
    plan: PlanId,
    decision_of: &BTreeMap<OptionId, usize>,
    below: &mut Below,
) -> Vec<Vec<usize>> {
    let count = decision_of.values().max().map_or(0, |last| last + 1);
    if count > 128 {
        return vec![(0..count).collect()];
    }
    let mut lines = book.lines_of(Parent::Plan(plan)).to_vec();
    for index in 0..book.options.len() {
        let option = OptionId(u32::try_from(index).expect("options are counted in a u32"));
        lines.extend(book.lines_of(Parent::Option(option)));
    }
    let names = decision_of
        .iter()
        .map(|(option, decision)| (book.options[option.index()].name.to_lowercase(), *decision));
    let mut context = Context { book, decision_of, by_name: names.collect(), below: &mut below.0 };
    let found = context.lines(&lines);
    let positions = |set: Meeting| (0..count).filter(|at| set >> at & 1 == 1).collect();
    found.into_iter().map(positions).collect()
}

struct Context<'a> {
    book: &'a Book,
    decision_of: &'a BTreeMap<OptionId, usize>,
    by_name: BTreeMap<String, usize>,
    below: &'a mut BTreeMap<AssemblyId, BTreeSet<Meeting>>,
}

impl Context<'_> {
    /// Returns the largest sets that meet within the lines of one parent or below them.
    fn lines(&mut self, lines: &[LineId]) -> BTreeSet<Meeting> {
        let mut all: BTreeSet<Meeting> = BTreeSet::new();
        let mut of_openings: Meeting = 0;
        let mut of_fills: Meeting = 0;
        let mut taking: BTreeMap<Component, Meeting> = BTreeMap::new();
        let mut taken_away: BTreeSet<Component> = BTreeSet::new();
        for id in lines {
            let line = self.book.line(*id);
            let own = self.named_by(*id);
            let together: Vec<Meeting> = match line.component {
                Component::Assembly(assembly) => {
                    let below = self.assembly(assembly);
                    if below.is_empty() {
                        vec![own]
                    } else {
                        below.iter().map(|below| own | below).collect()
                    }
                }
                Component::Item(_) => vec![own],
            };
            let everything = together.iter().fold(0, |all, set| all | set);
            if line.usage == Usage::Opening {
                of_openings |= own;
            }
            if line.usage == Usage::Fill || mentions(self.book, *id, "openings") {
                of_fills |= everything;
            }
            *taking.entry(line.component).or_default() |= everything;
            if line.quantity.as_constant().is_none_or(|quantity| quantity.value.is_negative()) {
                taken_away.insert(line.component);
            }
            all.extend(together);
        }
        if of_openings != 0 {
            all.insert(of_openings | of_fills);
        }
        all.extend(taken_away.iter().filter_map(|component| taking.remove(component)));
        largest(&all)
    }

    fn assembly(&mut self, assembly: AssemblyId) -> BTreeSet<Meeting> {
        if let Some(known) = self.below.get(&assembly) {
            return known.clone();
        }
        let lines = self.book.lines_of(Parent::Assembly(assembly)).to_vec();
        let found = self.lines(&lines);
        self.below.insert(assembly, found.clone());
        found
    }

    /// Returns the decisions a line names itself, or stands under.
    fn named_by(&self, id: LineId) -> Meeting {
        let mut named = 0;
        if let Parent::Option(option) = self.book.line(id).parent
            && let Some(decision) = self.decision_of.get(&option)
        {
            named |= 1 << decision;
        }
        for decision in formulas(self.book, id).filter_map(|name| self.by_name.get(name)) {
            named |= 1 << decision;
        }
        named
    }
}

/// Drops empty sets and those that are part of another; puts the rest together if there are many.
fn largest(sets: &BTreeSet<Meeting>) -> BTreeSet<Meeting> {
    let is_part = |set: Meeting| sets.iter().any(|other| *other != set && set & !other == 0);
    let kept: BTreeSet<Meeting> =
        sets.iter().copied().filter(|set| *set != 0 && !is_part(*set)).collect();
    if kept.len() > MOST_SETS {
        return BTreeSet::from([kept.iter().fold(0, |all, set| all | set)]);
    }
    kept
}

/// Returns every name that bears on what a line takes, in lower case.
fn formulas(book: &Book, id: LineId) -> impl Iterator<Item = &str> {
    let line = book.line(id);
    let sides = [&line.length, &line.width, &line.height, &line.further.cutout, &line.when];
    let passed = line.further.with.iter().map(|(_, expression)| expression);
    let all = std::iter::once(&line.quantity).chain(sides.into_iter().flatten()).chain(passed);
    all.flat_map(|expression| expression.names().iter().map(String::as_str))
}

fn mentions(book: &Book, id: LineId, name: &str) -> bool {
    formulas(book, id).any(|used| used == name)
}
