use std::collections::{BTreeMap, BTreeSet};

use crate::diag::Diagnostic;
use crate::diag::Distinct;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::explode::{Build, InstanceId, Needs, Take};
use crate::model::Book;
use crate::model::Component;
use crate::model::ItemId;
use crate::model::LineId;
use crate::model::Parent;
use crate::quantity::Length;
use crate::quantity::Ratio;

/// Most positions of assemblies in one build; a trailer has some hundreds.
const MOST_POSITIONS: usize = 200_000;

/// Weight of an item at one place.
pub(super) struct PlacedLine {
    pub item: ItemId,
    /// What the bill line belongs to.
    pub parent: Parent,
    /// Back from the coupler ball, and to the right of the center line, where the bill says so.
    pub at: At,
    /// Pounds in one unit.
    pub weight: Ratio,
}

/// The weight of one unit of a build, line by line and place by place.
#[derive(Default)]
pub(super) struct Placed {
    pub lines: Vec<PlacedLine>,
    /// Bill lines of weight that have no position along the trailer somewhere.
    pub unplaced: usize,
    /// Whether places are told: not where there are too many.
    pub has_places: bool,
}

type At = [Option<Length>; 2];

/// Returns where each item line of a build lies, offsets added up down the levels.
pub(super) fn placed(book: &Book, needs: &Needs, build: &Build, findings: &mut Distinct) -> Placed {
    if let Some(placed) = walked(book, needs, build, Steps::Followed) {
        return placed;
    }
    let plan = &book.plans[build.plan.index()];
    let problem = Problem::LimitExceeded {
        what: format!("places of assemblies in plan `{}`", plan.name),
        limit: format!("{MOST_POSITIONS}, so weight by side and along the trailer is not told"),
        name: None,
    };
    findings.insert(Diagnostic::new(Severity::Warning, book.place(plan.row, None), problem));
    walked(book, needs, build, Steps::Dropped).unwrap_or_default()
}

/// Whether offsets are followed.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Steps {
    Followed,
    Dropped,
}

/// Goes down the levels in low-level-code order, so that each assembly is visited once per distinct place.
fn walked(book: &Book, needs: &Needs, build: &Build, steps: Steps) -> Option<Placed> {
    let mut unplaced: BTreeSet<LineId> = BTreeSet::new();
    let mut lines: BTreeMap<(ItemId, Parent, At), Ratio> = BTreeMap::new();
    let mut counts: BTreeMap<(InstanceId, At), Ratio> =
        BTreeMap::from([((build.root, [None, None]), Ratio::ONE)]);
    let mut visited = 0;
    while let Some(((instance, at), times)) = counts.pop_last() {
        visited += 1;
        if visited + counts.len() > MOST_POSITIONS {
            return None;
        }
        for taken in &needs.instances[instance.index()].lines {
            let own = match steps {
                Steps::Followed => [0, 1].map(|axis| moved(at[axis], taken.placed().offset[axis])),
                Steps::Dropped => [None, None],
            };
            let quantity = &times * &taken.quantity;
            let line = book.line(taken.line);
            match (&taken.take, line.component) {
                (Take::Assembly(child), _) => {
                    *counts.entry((*child, own)).or_default() += &quantity;
                }
                (_, Component::Item(item)) if !taken.weight.is_zero() => {
                    if own[0].is_none() {
                        unplaced.insert(taken.line);
                    }
                    let sum = lines.entry((item, line.parent, own)).or_default();
                    *sum += &(&quantity * &taken.weight);
                }
                _ => {}
            }
        }
    }
    let lines = lines.into_iter();
    let lines = lines.map(|((item, parent, at), weight)| PlacedLine { item, parent, at, weight });
    let has_places = steps == Steps::Followed;
    Some(Placed { lines: lines.collect(), unplaced: unplaced.len(), has_places })
}

/// Returns a place moved by an offset; what has neither has no place.
fn moved(at: Option<Length>, offset: Option<Length>) -> Option<Length> {
    match (at, offset) {
        (Some(at), Some(offset)) => at.checked_add(offset),
        (at, None) => at,
        (None, offset) => offset,
    }
}
