use rayon::iter::{IntoParallelIterator, ParallelIterator};

use crate::explode::line::{MOST, weight_of};
use crate::explode::scope::Symbols;
use crate::explode::{InstanceId, Take, Taken};
use crate::model::AssemblyId;
use crate::model::BillLine;
use crate::model::Book;
use crate::model::Component;
use crate::model::Form;
use crate::model::LineId;
use crate::model::Parent;
use crate::quantity::Dimension;
use crate::quantity::Ratio;

/// Shorter bills are evaluated without starting a thread.
pub(super) const FEWEST_LINES: usize = 5_000;
/// Stands for an assembly that is not evaluated yet.
const LATER: InstanceId = InstanceId(u32::MAX);

/// What assemblies take whose lines only count, worked out on all cores before any of them is evaluated.
///
/// Such lines give no findings and need no values; what is left for the evaluation is to enter the assemblies among what they
/// take.
#[derive(Debug, Default)]
pub(super) struct Counted(Vec<Option<Vec<Taken>>>);

impl Counted {
    /// Works out what the assemblies that some lines reach take, level by level.
    pub(super) fn below<'a>(
        book: &Book,
        symbols: &Symbols,
        tops: impl Iterator<Item = &'a LineId>,
    ) -> Counted {
        if book.lines.len() < FEWEST_LINES {
            return Counted::default();
        }
        let mut counted: Vec<Option<Vec<Taken>>> = Vec::new();
        counted.resize_with(book.assemblies.len(), || None);
        let mut is_reached = vec![false; book.assemblies.len()];
        let mut reached = |assembly: AssemblyId, level: &mut Vec<AssemblyId>| {
            if !std::mem::replace(&mut is_reached[assembly.index()], true) {
                level.push(assembly);
            }
        };
        let mut level = Vec::new();
        tops.filter_map(|line| child(book.line(*line))).for_each(|top| reached(top, &mut level));
        while !level.is_empty() {
            let done: Vec<(AssemblyId, Known)> =
                level.into_par_iter().map(|one| (one, Known::new(book, symbols, one))).collect();
            level = Vec::new();
            for (assembly, Known { taken, children }) in done {
                counted[assembly.index()] = taken;
                for child in children {
                    reached(child, &mut level);
                }
            }
        }
        Counted(counted)
    }

    /// Returns what an assembly takes, once; nothing if it was not worked out.
    pub(super) fn take(&mut self, assembly: AssemblyId) -> Option<Vec<Taken>> {
        self.0.get_mut(assembly.index())?.take()
    }
}

/// What is known of an assembly.
struct Known {
    /// What it takes, if all its lines only count.
    taken: Option<Vec<Taken>>,
    /// The assemblies among it.
    children: Vec<AssemblyId>,
}

impl Known {
    fn new(book: &Book, symbols: &Symbols, assembly: AssemblyId) -> Known {
        let lines = book.lines_of(Parent::Assembly(assembly));
        let mut all = Some(Vec::with_capacity(lines.len()));
        let mut children = Vec::new();
        for line in lines {
            let row = book.line(*line);
            children.extend(child(row));
            if let Some(known) = &mut all {
                match taken(book, symbols, *line, row) {
                    Some(taken) => known.push(taken),
                    None => all = None,
                }
            }
        }
        Known { taken: all, children }
    }
}

fn child(row: &BillLine) -> Option<AssemblyId> {
    match row.component {
        Component::Assembly(assembly) => Some(assembly),
        Component::Item(_) => None,
    }
}

/// Returns what a line takes that says no more than a number of an assembly without values, or of an item that is counted, as
/// nearly all lines do; nothing for other lines. The assembly is entered later.
pub(super) fn taken(book: &Book, symbols: &Symbols, line: LineId, row: &BillLine) -> Option<Taken> {
    let quantity = row.is_plain().then(|| row.quantity.as_constant()).flatten()?;
    let is_number = quantity.dimension == Dimension::NUMBER;
    if !is_number || quantity.value.is_zero() || quantity.value.abs() > Ratio::whole(MOST) {
        return None;
    }
    let (quantity, take, weight) = match row.component {
        Component::Assembly(child) if symbols.needs_nothing(child) => {
            (quantity.value.clone(), Take::Assembly(LATER), Ratio::ZERO)
        }
        Component::Item(item) if book.item(item).form == Form::Count => {
            let item = book.item(item);
            let weight = weight_of(item, &Ratio::ONE);
            (&quantity.value * &item.unit.factor, Take::Amount(Ratio::ONE), weight)
        }
        _ => return None,
    };
    Some(Taken { line, quantity, take, weight, placing: None })
}
