use std::collections::{BTreeMap, BTreeSet};

use crate::formula::Expression;
use crate::model::{
    AssemblyId, BillLine, Book, Component, LineId, OptionId, Parent, PlanId, SwapRow, id,
};
use crate::quantity::Measure;
use crate::quantity::Ratio;

/// Assemblies that were copied, with those that they are copies of.
type Origins = BTreeMap<AssemblyId, AssemblyId>;

impl SwapRow {
    /// Tells whether it is for builds of a plan with these options.
    #[must_use]
    pub fn is_for(&self, plan: PlanId, options: &[OptionId]) -> bool {
        let is_of_parent = match self.parent {
            Some(Parent::Plan(only)) => only == plan,
            Some(Parent::Option(option)) => options.contains(&option),
            Some(Parent::Assembly(_)) | None => true,
        };
        is_of_parent
            && self.plan.is_none_or(|only| only == plan)
            && self.option.is_none_or(|option| options.contains(&option))
    }
}

impl Book {
    /// Returns the book with some swaps carried out in its bill: lines take the new component, are removed, or pass the
    /// dimensions that are set; rows that take nothing away add a line to their parent.
    ///
    /// Rows of one swap act together, each on the bill as the swap finds it, so that two items can change places; where two
    /// of its rows name one line, the first has it. Swaps act one after the other, in the order of their first rows. What
    /// is meant for one assembly only, but stands in another that is taken elsewhere too, changes in a copy of that one.
    ///
    /// Which plans and options a row is for ([`SwapRow::is_for`]) is the caller's to look at. The lines keep their places;
    /// an added line has the place of its swap row.
    #[must_use]
    pub fn changed(&self, swaps: &[&SwapRow]) -> Book {
        let mut by_swap: Vec<Vec<&SwapRow>> = Vec::new();
        for row in swaps {
            let is_known = |rows: &&mut Vec<&SwapRow>| rows[0].swap.eq_ignore_ascii_case(&row.swap);
            match by_swap.iter_mut().find(is_known) {
                Some(rows) => rows.push(row),
                None => by_swap.push(vec![row]),
            }
        }
        by_swap.iter().fold(self.clone(), |book, rows| book.with_swap(rows))
    }

    /// Returns the lines whose component a row of a swap replaces or removes, in bill order.
    #[must_use]
    pub fn acted_on(&self, swap: &SwapRow) -> Vec<LineId> {
        self.lines_of_swap(swap, &Origins::new())
    }

    fn with_swap(mut self, rows: &[&SwapRow]) -> Book {
        let mut origins = Origins::new();
        for row in rows {
            if let Some(top) = row.assembly {
                self = self.parted(top, row, &mut origins);
            }
        }
        let acts: Vec<Vec<LineId>> =
            rows.iter().map(|row| self.lines_of_swap(row, &origins)).collect();
        let mut done: BTreeSet<LineId> = BTreeSet::new();
        for (row, lines) in rows.iter().zip(acts) {
            for id in lines {
                if !done.insert(id) {
                    continue;
                }
                let line = &mut self.lines[id.index()];
                match row.to {
                    Some(to) => {
                        line.component = to;
                        line.quantity = line.quantity.times(&row.ratio);
                    }
                    // It stays in the list, so that ids keep their meaning, but takes nothing.
                    None => line.quantity = Expression::constant(Measure::number(Ratio::ZERO)),
                }
            }
            if let (None, Some(to), Some(parent), Some(quantity)) =
                (row.from, row.to, row.parent, &row.quantity)
            {
                self.lines.push(BillLine::plain(parent, to, quantity.clone(), row.row));
            }
            self.set(row, &origins);
        }
        self.index()
    }

    fn lines_of_swap(&self, swap: &SwapRow, origins: &Origins) -> Vec<LineId> {
        let Some(from) = swap.from else { return Vec::new() };
        let within = swap.assembly.map(|assembly| self.within(assembly));
        let is_there = |line: &BillLine| {
            swap.parent.is_none_or(|parent| self.is_of(line, parent, origins))
                && within.as_ref().is_none_or(|within| within.contains(&line.parent))
        };
        let found = self
            .lines
            .iter()
            .enumerate()
            .filter(|(_, line)| original(line.component, origins) == from && is_there(line));
        found.map(|(index, _)| LineId(id(index))).collect()
    }

    /// Tells whether a line is one of a parent. What an option takes away from a plan goes with the plan's own lines.
    fn is_of(&self, line: &BillLine, parent: Parent, origins: &Origins) -> bool {
        match (line.parent, parent) {
            (Parent::Assembly(own), Parent::Assembly(_)) => {
                Parent::Assembly(origins.get(&own).copied().unwrap_or(own)) == parent
            }
            (Parent::Option(option), Parent::Plan(plan)) => {
                let takes_away =
                    line.quantity.as_constant().is_some_and(|it| it.value.is_negative());
                let only = self.options[option.index()].plan;
                takes_away && only.is_none_or(|only| only == plan)
            }
            (own, parent) => own == parent,
        }
    }

    /// Returns the book with copies of the assemblies below `top` that are also taken outside of it, if the row changes
    /// anything in them; what is below `top` takes the copies.
    fn parted(mut self, top: AssemblyId, row: &SwapRow, origins: &mut Origins) -> Book {
        let within = self.within(top);
        let below: BTreeSet<AssemblyId> = within
            .iter()
            .filter_map(|parent| match parent {
                Parent::Assembly(assembly) if *assembly != top => Some(*assembly),
                _ => None,
            })
            .collect();
        let mut shared: BTreeSet<AssemblyId> = BTreeSet::new();
        for line in self.lines.iter().filter(|line| !within.contains(&line.parent)) {
            if let Component::Assembly(taken) = line.component
                && below.contains(&taken)
                && !shared.contains(&taken)
            {
                let inner = self.within(taken);
                shared.extend(below.iter().filter(|one| inner.contains(&Parent::Assembly(**one))));
            }
        }
        let is_shared = |parent: Parent| match parent {
            Parent::Assembly(assembly) => shared.contains(&assembly),
            Parent::Plan(_) | Parent::Option(_) => false,
        };
        let acts = self.lines_of_swap(row, origins);
        if !acts.iter().any(|line| is_shared(self.line(*line).parent)) {
            return self;
        }
        let mut copies: BTreeMap<AssemblyId, AssemblyId> = BTreeMap::new();
        for original in &shared {
            let copy = AssemblyId(id(self.assemblies.len()));
            self.assemblies.push(self.assemblies[original.index()].clone());
            origins.insert(copy, origins.get(original).copied().unwrap_or(*original));
            copies.insert(*original, copy);
        }
        let copied = |component: Component| match component {
            Component::Assembly(taken) => {
                Component::Assembly(copies.get(&taken).copied().unwrap_or(taken))
            }
            Component::Item(item) => Component::Item(item),
        };
        let mut further = Vec::new();
        for line in &mut self.lines {
            match line.parent {
                Parent::Assembly(parent) if copies.contains_key(&parent) => {
                    let parent = Parent::Assembly(copies[&parent]);
                    let component = copied(line.component);
                    further.push(BillLine { parent, component, ..line.clone() });
                }
                parent if within.contains(&parent) => line.component = copied(line.component),
                _ => {}
            }
        }
        self.lines.extend(further);
        self.index()
    }

    /// Sets the dimensions of a swap: passed to its parent assembly, or else to the assembly it is limited to, by every line
    /// that takes it; else of its plan or of every plan.
    fn set(&mut self, swap: &SwapRow, origins: &Origins) {
        let target = match (swap.parent, swap.assembly) {
            (Some(Parent::Assembly(parent)), _) => Some(parent),
            (_, assembly) => assembly,
        };
        let within = match (swap.parent, swap.assembly) {
            (Some(Parent::Assembly(parent)), Some(top)) if parent != top => Some(self.within(top)),
            _ => None,
        };
        for (name, value) in &swap.set {
            if let Some(target) = target {
                let is_target = |line: &&mut BillLine| {
                    original(line.component, origins) == Component::Assembly(target)
                        && within.as_ref().is_none_or(|within| within.contains(&line.parent))
                };
                for line in self.lines.iter_mut().filter(is_target) {
                    pass(line, name, value);
                }
                continue;
            }
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

/// Returns what a component is a copy of, or itself.
fn original(component: Component, origins: &Origins) -> Component {
    match component {
        Component::Assembly(taken) => {
            Component::Assembly(origins.get(&taken).copied().unwrap_or(taken))
        }
        Component::Item(item) => Component::Item(item),
    }
}

/// Lets a line pass a value in place of what it passes now, be it by a column of its own.
fn pass(line: &mut BillLine, name: &str, value: &Expression) {
    let column = match name {
        "length" => &mut line.length,
        "width" => &mut line.width,
        "height" => &mut line.height,
        "cutout" => &mut line.further.cutout,
        _ => {
            line.further.with.retain(|(known, _)| known != name);
            line.further.with.push((name.to_owned(), value.clone()));
            return;
        }
    };
    *column = Some(value.clone());
}
