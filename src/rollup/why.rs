use std::collections::BTreeMap;

use crate::explode::{Build, InstanceId, Needs, Source, Take};
use crate::model::Book;
use crate::model::ItemId;
use crate::model::LineId;
use crate::quantity::Ratio;
use crate::rollup::burden::BurdenCost;
use crate::rollup::cost::Nested;
use crate::rollup::ledger::{Key, Place, Row, burden_text, by_item, rows, shares};
use crate::rollup::{BuildCost, Rollup};

/// Most paths told for one bill line; the rest is counted.
const MOST_PATHS: usize = 12;

/// What stands behind one row of a grouping, for one plan and item.
#[derive(Clone, Debug)]
pub struct Why {
    /// Position in the builds of the roll-up.
    pub build: usize,
    /// What it is about.
    pub what: About,
    /// Quantity, cost, weight and purchased weight that this row holds of the plan's amounts of the item, as in the
    /// ledger.
    pub amounts: [i128; 4],
}

/// An item with its bill lines, or a burden.
#[derive(Clone, Debug)]
pub enum About {
    /// An item.
    Item {
        /// The item.
        item: ItemId,
        /// Its bill lines, in the ledger's order.
        lines: Vec<WhyLine>,
    },
    /// A burden.
    Burden(BurdenCost),
}

/// One bill line behind a row.
#[derive(Clone, Debug)]
pub struct WhyLine {
    /// The line of one evaluated parent.
    pub source: Source,
    /// Quantity, cost, weight and purchased weight of this line, as in the ledger.
    pub amounts: [i128; 4],
    /// Ways from the plan down to the line.
    pub paths: Vec<Path>,
    /// How many further ways there are.
    pub more_paths: u64,
    /// Positions of the layouts that its pieces are cut from.
    pub layouts: Vec<usize>,
}

/// A way from the plan down to a bill line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Path {
    /// From the plan's own line to the line asked about.
    pub steps: Vec<Step>,
}

/// One bill line on a path.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Step {
    /// The line.
    pub line: LineId,
    /// How many its parent takes.
    pub quantity: Ratio,
}

/// Returns what stands behind the row whose keys have these values; nothing if there is no such row.
#[must_use]
pub fn why(
    book: &Book,
    needs: &Needs,
    rollup: &Rollup,
    keys: &[Key],
    values: &[String],
) -> Vec<Why> {
    let mut found = Vec::new();
    let is_match = |place: &Place<'_>| {
        keys.iter()
            .zip(values)
            .all(|(key, value)| place.text(key).eq_ignore_ascii_case(value.trim()))
    };
    for cost in &rollup.builds {
        let build = &needs.builds[cost.build];
        let rows = rows(book, needs, cost.build);
        let parents = parents(needs, build);
        let by_item = by_item(&rows);
        for item in &cost.items {
            let Some(positions) = by_item.get(&item.item) else { continue };
            let mut lines = Vec::new();
            let mut amounts = [0; 4];
            for (position, shares) in positions.iter().zip(shares(item, positions, &rows)) {
                let row = &rows[*position];
                if !is_match(&Place::of(book, needs, cost.build, row)) {
                    continue;
                }
                for (sum, share) in amounts.iter_mut().zip(shares) {
                    *sum += share;
                }
                lines.push(line(needs, build, &parents, row, shares, item.nested.as_deref()));
            }
            if !lines.is_empty() {
                found.push(Why {
                    build: cost.build,
                    what: About::Item { item: item.item, lines },
                    amounts,
                });
            }
        }
        found.extend(burdens(book, needs, cost, keys, values));
    }
    found
}

fn burdens(
    book: &Book,
    needs: &Needs,
    cost: &BuildCost,
    keys: &[Key],
    values: &[String],
) -> Vec<Why> {
    let build = &needs.builds[cost.build];
    let is_match = |burden: &&BurdenCost| {
        keys.iter().zip(values).all(|(key, value)| {
            burden_text(book, build, burden, key).eq_ignore_ascii_case(value.trim())
        })
    };
    let found = cost.burdens.iter().filter(is_match).map(|burden| Why {
        build: cost.build,
        what: About::Burden(burden.clone()),
        amounts: [0, burden.cost, 0, 0],
    });
    found.collect()
}

fn line(
    needs: &Needs,
    build: &Build,
    parents: &BTreeMap<InstanceId, Vec<Source>>,
    row: &Row,
    amounts: [i128; 4],
    nested: Option<&Nested>,
) -> WhyLine {
    let source = row.used.source;
    let mut paths = Vec::new();
    let mut counts = BTreeMap::new();
    let all = path_count(build.root, row.used.section, parents, source, &mut counts);
    let mut trail = vec![source];
    collect_paths(needs, build.root, row.used.section, parents, &mut trail, &mut paths);
    let more_paths = all.saturating_sub(paths.len() as u64);
    WhyLine { source, amounts, paths, more_paths, layouts: layouts(needs, source, nested) }
}

/// Returns which layouts hold pieces of a line.
fn layouts(needs: &Needs, source: Source, nested: Option<&Nested>) -> Vec<usize> {
    let Some(nested) = nested else { return Vec::new() };
    let taken = needs.taken(source);
    let is_of_line = |piece: usize| match &taken.take {
        Take::Pieces(cuts) => {
            let piece = &nested.instance.pieces[piece];
            cuts.iter().any(|cut| {
                (cut.length, cut.width, cut.may_turn, cut.edges)
                    == (piece.length, piece.width, piece.may_turn, piece.edges)
            })
        }
        _ => false,
    };
    let is_run = matches!(taken.take, Take::Run(_));
    let layouts = nested.nest.layouts.iter().enumerate().filter(|(_, layout)| {
        layout.placements.iter().any(|placement| is_of_line(placement.piece))
            || (is_run && !layout.splices.is_empty())
    });
    layouts.map(|(index, _)| index).collect()
}

/// Returns, for every evaluated assembly of a build, the lines that take it.
fn parents(needs: &Needs, build: &Build) -> BTreeMap<InstanceId, Vec<Source>> {
    let mut parents: BTreeMap<InstanceId, Vec<Source>> = BTreeMap::new();
    let mut open = vec![build.root];
    let mut seen = std::collections::BTreeSet::from([build.root]);
    while let Some(instance) = open.pop() {
        for (position, taken) in needs.instances[instance.index()].lines.iter().enumerate() {
            if let Take::Assembly(child) = taken.take {
                parents.entry(child).or_default().push(Source { instance, position });
                if seen.insert(child) {
                    open.push(child);
                }
            }
        }
    }
    parents
}

fn path_count(
    root: InstanceId,
    section: usize,
    parents: &BTreeMap<InstanceId, Vec<Source>>,
    source: Source,
    known: &mut BTreeMap<InstanceId, u64>,
) -> u64 {
    if source.instance == root {
        return u64::from(source.position == section);
    }
    if let Some(count) = known.get(&source.instance) {
        return *count;
    }
    let above = parents.get(&source.instance).map_or(&[][..], Vec::as_slice);
    let count = above.iter().fold(0_u64, |sum, parent| {
        sum.saturating_add(path_count(root, section, parents, *parent, known))
    });
    known.insert(source.instance, count);
    count
}

fn collect_paths(
    needs: &Needs,
    root: InstanceId,
    section: usize,
    parents: &BTreeMap<InstanceId, Vec<Source>>,
    trail: &mut Vec<Source>,
    paths: &mut Vec<Path>,
) {
    let top = *trail.last().expect("a trail begins with the line asked about");
    if top.instance == root {
        if top.position == section {
            let steps = trail.iter().rev().map(|source| {
                let taken = needs.taken(*source);
                Step { line: taken.line, quantity: taken.quantity.clone() }
            });
            paths.push(Path { steps: steps.collect() });
        }
        return;
    }
    for parent in parents.get(&top.instance).map_or(&[][..], Vec::as_slice) {
        if paths.len() >= MOST_PATHS {
            return;
        }
        trail.push(*parent);
        collect_paths(needs, root, section, parents, trail, paths);
        trail.pop();
    }
}
