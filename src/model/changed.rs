use std::collections::BTreeSet;

use crate::formula::Expression;
use crate::model::{AssemblyId, BillLine, Book, Component, LineId, Parent, SwapRow};
use crate::quantity::Measure;
use crate::quantity::Ratio;

impl Book {
    /// Returns the book with some swaps carried out in its bill: lines take the new component, are removed, or pass the
    /// dimensions that are set; rows that take nothing away add a line to their parent.
    ///
    /// Which plans and options a row is for is the caller's to look at. The lines keep their places; an added line has the
    /// place of its swap row.
    #[must_use]
    pub fn changed(&self, swaps: &[&SwapRow]) -> Book {
        let mut book = self.clone();
        let mut removed: BTreeSet<usize> = BTreeSet::new();
        for swap in swaps {
            let within = swap.assembly.map(|assembly| self.within(assembly));
            for (index, line) in book.lines.iter_mut().enumerate() {
                let is_there = swap.parent.is_none_or(|parent| parent == line.parent)
                    && within.as_ref().is_none_or(|within| within.contains(&line.parent));
                match (swap.from, swap.to) {
                    (Some(from), Some(to)) if is_there && line.component == from => {
                        line.component = to;
                        line.quantity = line.quantity.times(&swap.ratio);
                    }
                    (Some(from), None) if is_there && line.component == from => {
                        removed.insert(index);
                    }
                    _ => {}
                }
            }
            if let (None, Some(to), Some(parent), Some(quantity)) =
                (swap.from, swap.to, swap.parent, &swap.quantity)
            {
                book.lines.push(BillLine::plain(parent, to, quantity.clone(), swap.row));
            }
            book.set(swap);
        }
        // A removed line stays in the list, so that ids keep their meaning, but it takes nothing.
        for index in removed {
            book.lines[index].quantity = Expression::constant(Measure::number(Ratio::ZERO));
        }
        book.index()
    }

    /// Sets the dimensions of a swap: of its parent where that is a plan, else passed to the parent assembly by every line
    /// that takes it; without a parent, of its plan or of every plan.
    fn set(&mut self, swap: &SwapRow) {
        for (name, value) in &swap.set {
            match swap.parent {
                Some(Parent::Assembly(assembly)) => {
                    for line in &mut self.lines {
                        if line.component == Component::Assembly(assembly) {
                            line.with.retain(|(known, _)| known != name);
                            line.with.push((name.clone(), value.clone()));
                        }
                    }
                }
                Some(Parent::Plan(_) | Parent::Option(_)) | None => {
                    let only = match swap.parent {
                        Some(Parent::Plan(plan)) => Some(plan),
                        _ => swap.plan,
                    };
                    let Some(value) = value.as_constant() else { continue };
                    for (index, plan) in self.plans.iter_mut().enumerate() {
                        if only.is_some_and(|only| only.index() != index) {
                            continue;
                        }
                        match plan.values.iter_mut().find(|(known, _)| known == name) {
                            Some((_, known)) => *known = value.clone(),
                            None => plan.values.push((name.clone(), value.clone())),
                        }
                    }
                }
            }
        }
    }

    /// Returns an assembly and every assembly below it.
    fn within(&self, top: AssemblyId) -> BTreeSet<Parent> {
        let mut found = BTreeSet::new();
        let mut open = vec![top];
        while let Some(assembly) = open.pop() {
            if !found.insert(Parent::Assembly(assembly)) {
                continue;
            }
            let lines: &[LineId] = self.lines_of(Parent::Assembly(assembly));
            open.extend(lines.iter().filter_map(|line| match self.line(*line).component {
                Component::Assembly(child) => Some(child),
                Component::Item(_) => None,
            }));
        }
        found
    }
}
