//! The bill as a whole: assemblies that contain themselves, that have no lines, or that no bill takes.

use std::collections::BTreeSet;

use crate::diag::Diagnostic;
use crate::diag::Place;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::diag::did_you_mean;
use crate::diag::nearest;
use crate::model::Component;
use crate::model::ItemId;
use crate::model::OptionId;
use crate::model::Parent;
use crate::model::PlanId;
use crate::model::RowRef;
use crate::model::cycles;
use crate::read::book::Build;
use crate::read::book::bill::Columns;
use crate::read::book::bill::Drafts;
use crate::read::book::known::Used;
use crate::read::findings::Order;
use crate::read::names::folded;
use crate::read::names::hints;

pub(super) fn check(build: &Build, columns: &Columns, drafts: &Drafts, used: &[Used]) {
    let count = build.book.assemblies.len();
    let mut uses: Vec<Vec<(usize, usize)>> = vec![Vec::new(); count];
    let mut has_lines = vec![false; count];
    let mut first_use: Vec<Option<usize>> = vec![None; count];
    for (position, (parent, component)) in drafts.ends.iter().enumerate() {
        let Some(parent) = parent else { continue };
        if let Parent::Assembly(parent) = parent {
            has_lines[parent.index()] = true;
            if let Some(Component::Assembly(component)) = component {
                uses[parent.index()].push((component.index(), position));
            }
        }
        if let Some(Component::Assembly(component)) = component {
            first_use[component.index()].get_or_insert(position);
        }
    }
    for (line, path) in cycles(&uses) {
        let name = |assembly: usize| build.book.assemblies[assembly].name.clone();
        let problem = Problem::Cycle { path: path.into_iter().map(name).collect() };
        drafts.get(line).row.error(columns.component, problem);
    }
    // A line that could not be read may be the one that takes an item or makes up a plan.
    let rank = build.grids.find("bill").map(|grid| grid.rank);
    if rank.is_some_and(|rank| build.reader.findings.has_error_in(rank)) {
        return;
    }
    let mut hints_left = hints(build.book.assemblies.len());
    for (assembly, first) in first_use.iter().enumerate() {
        match first {
            Some(first) if !has_lines[assembly] => {
                let problem = Problem::LinesMissing {
                    what: "assembly".to_owned(),
                    name: build.book.assemblies[assembly].name.clone(),
                };
                drafts.get(*first).row.tell(Severity::Warning, Some(columns.component), problem);
            }
            None if build.book.plans.is_empty() => {}
            None => unused_assembly(build, assembly, &mut hints_left),
            Some(_) => {}
        }
    }
    without_lines(build, drafts, used);
    unused_items(build, drafts);
}

/// Adds a finding about a row that was read before.
fn about(build: &Build, row: RowRef, severity: Severity, problem: Problem, hint: Option<String>) {
    let grid = &build.grids.list[row.source.index()];
    let place = Place { row: Some(row.row), ..grid.table.whole() };
    let order = Order { table: grid.rank, row: row.row, column: 0 };
    build.reader.findings.push(order, Diagnostic { severity, place: Some(place), problem, hint });
}

/// An assembly no bill takes may be a parent misspelled. Numbers in names are seldom misspelled: they tell apart.
fn unused_assembly(build: &Build, assembly: usize, hints_left: &mut u32) {
    let unused = &build.book.assemblies[assembly];
    let grid = &build.grids.list[unused.row.source.index()];
    let mut hint = None;
    if grid.schema.name == "bill" && *hints_left > 0 {
        *hints_left -= 1;
        let others = build.book.assemblies.iter().filter(|other| other.name != unused.name);
        let others = others.map(|other| other.name.as_str());
        let plans = build.book.plans.iter().map(|plan| plan.name.as_str());
        let options = build.book.options.iter().map(|option| option.name.as_str());
        let names = others.chain(plans).chain(options);
        hint = nearest(&unused.name, names.filter(|name| digits(name).eq(digits(&unused.name))));
    }
    let problem = Problem::AssemblyUnused { assembly: unused.name.clone() };
    about(build, unused.row, Severity::Warning, problem, hint.map(did_you_mean));
}

fn digits(name: &str) -> impl Iterator<Item = char> {
    name.chars().filter(char::is_ascii_digit)
}

/// Finds plans and options that nothing hangs on.
fn without_lines(build: &Build, drafts: &Drafts, used: &[Used]) {
    let mut parents: BTreeSet<Parent> = BTreeSet::new();
    let mut last = None;
    for (parent, _) in drafts.ends.iter() {
        // Lines of one parent mostly stand together.
        if last != parent {
            last = parent;
            parents.extend(parent);
        }
    }
    let is_named = |name: &str| used.iter().any(|used| used.in_conditions.contains(name));
    let options = || (0..).map(OptionId).zip(&build.book.options);
    for (position, plan) in (0..).map(PlanId).zip(&build.book.plans) {
        // The lines of a standard option make up the plans it is for.
        let is_made_of_options = options().any(|(id, option)| {
            option.is_standard && option.is_for(position) && parents.contains(&Parent::Option(id))
        });
        if !is_made_of_options && !parents.contains(&Parent::Plan(position)) {
            let problem =
                Problem::LinesMissing { what: "plan".to_owned(), name: plan.name.clone() };
            about(build, plan.row, Severity::Warning, problem, None);
        }
    }
    for (position, option) in (0..).zip(&build.book.options) {
        let has_lines = parents.contains(&Parent::Option(OptionId(position)));
        if !has_lines && !is_named(&folded(&option.name)) && option.includes.is_empty() {
            let problem =
                Problem::LinesMissing { what: "option".to_owned(), name: option.name.clone() };
            about(build, option.row, Severity::Note, problem, None);
        }
    }
}

fn unused_items(build: &Build, drafts: &Drafts) {
    let mut is_used = vec![false; build.book.items.len()];
    for (_, component) in drafts.ends.iter() {
        if let Some(Component::Item(ItemId(item))) = component {
            is_used[item as usize] = true;
        }
    }
    // What a swap would bring is there for a purpose.
    if let Some(grid) = build.grids.find("swaps") {
        for row in build.reader.rows(grid) {
            for name in ["from", "to"].map(|column| row.text(grid.at(column))) {
                if let Some(ItemId(item)) = build.names.items.find(&name) {
                    is_used[item as usize] = true;
                }
            }
        }
    }
    for (item, is_used) in build.book.items.iter().zip(is_used) {
        if !is_used {
            let problem = Problem::ItemUnused { item: item.name.clone() };
            about(build, item.row, Severity::Note, problem, None);
        }
    }
}
