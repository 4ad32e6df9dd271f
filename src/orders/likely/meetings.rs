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

/// Positions of things that are decided together.
pub(super) type Meeting = BTreeSet<usize>;

/// Returns the largest sets of decisions that meet anywhere in the bill of a plan; `decision_of` tells which decision an
/// option is part of.
pub(super) fn meetings(
    book: &Book,
    plan: PlanId,
    decision_of: &BTreeMap<OptionId, usize>,
) -> Vec<Meeting> {
    let mut lines = book.lines_of(Parent::Plan(plan)).to_vec();
    for index in 0..book.options.len() {
        let option = OptionId(u32::try_from(index).expect("options are counted in a u32"));
        lines.extend(book.lines_of(Parent::Option(option)));
    }
    let names = decision_of
        .iter()
        .map(|(option, decision)| (book.options[option.index()].name.to_lowercase(), *decision));
    let mut context =
        Context { book, decision_of, by_name: names.collect(), below: BTreeMap::new() };
    let found = context.lines(&lines);
    found.into_iter().collect()
}

struct Context<'a> {
    book: &'a Book,
    decision_of: &'a BTreeMap<OptionId, usize>,
    by_name: BTreeMap<String, usize>,
    /// What meets at or below an assembly.
    below: BTreeMap<AssemblyId, BTreeSet<Meeting>>,
}

impl Context<'_> {
    /// Returns the largest sets that meet within the lines of one parent or below them.
    fn lines(&mut self, lines: &[LineId]) -> BTreeSet<Meeting> {
        let mut all: BTreeSet<Meeting> = BTreeSet::new();
        let mut of_openings = Meeting::new();
        let mut of_fills = Meeting::new();
        let mut taking: BTreeMap<Component, Meeting> = BTreeMap::new();
        let mut taken_away: BTreeSet<Component> = BTreeSet::new();
        for id in lines {
            let line = self.book.line(*id);
            let own = self.named_by(*id);
            let below = match line.component {
                Component::Assembly(assembly) => self.assembly(assembly),
                Component::Item(_) => BTreeSet::new(),
            };
            let together: Vec<Meeting> = if below.is_empty() {
                vec![own.clone()]
            } else {
                below.iter().map(|below| own.union(below).copied().collect()).collect()
            };
            let everything = || together.iter().flatten().copied();
            if line.usage == Usage::Opening {
                of_openings.extend(own.iter().copied());
            }
            if line.usage == Usage::Fill || mentions(self.book, *id, "openings") {
                of_fills.extend(everything());
            }
            taking.entry(line.component).or_default().extend(everything());
            if line.quantity.as_constant().is_none_or(|quantity| quantity.value.is_negative()) {
                taken_away.insert(line.component);
            }
            all.extend(together);
        }
        if !of_openings.is_empty() {
            of_openings.extend(of_fills);
            all.insert(of_openings);
        }
        all.extend(taken_away.iter().filter_map(|component| taking.remove(component)));
        largest(all)
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
        let mut named = Meeting::new();
        if let Parent::Option(option) = self.book.line(id).parent {
            named.extend(self.decision_of.get(&option));
        }
        named.extend(formulas(self.book, id).filter_map(|name| self.by_name.get(name)));
        named
    }
}

/// Drops empty sets and those that are part of another.
fn largest(sets: BTreeSet<Meeting>) -> BTreeSet<Meeting> {
    let mut by_size: Vec<Meeting> = sets.into_iter().filter(|set| !set.is_empty()).collect();
    by_size.sort_by_key(|set| std::cmp::Reverse(set.len()));
    let mut kept: Vec<Meeting> = Vec::new();
    for set in by_size {
        if !kept.iter().any(|other| set.is_subset(other)) {
            kept.push(set);
        }
    }
    kept.into_iter().collect()
}

/// Returns every name that bears on what a line takes, in lower case.
fn formulas(book: &Book, id: LineId) -> impl Iterator<Item = &str> {
    let line = book.line(id);
    let sides = [&line.length, &line.width, &line.height, &line.cutout, &line.when];
    let passed = line.with.iter().map(|(_, expression)| expression);
    let all = std::iter::once(&line.quantity).chain(sides.into_iter().flatten()).chain(passed);
    all.flat_map(|expression| expression.names().iter().map(String::as_str))
}

fn mentions(book: &Book, id: LineId, name: &str) -> bool {
    formulas(book, id).any(|used| used == name)
}
