use indexmap::IndexSet;

use crate::diag::Diagnostic;
use crate::diag::Problem;
use crate::explode::children_first;
use crate::formula::Expression;
use crate::formula::Value;
use crate::model::AssemblyId;
use crate::model::BillLine;
use crate::model::Book;
use crate::model::Component;
use crate::model::OptionId;
use crate::model::Parent;
use crate::model::PlanId;
use crate::quantity::Dimension;
use crate::quantity::Measure;
use crate::quantity::Ratio;

/// The four names a line passes down by its own columns, and those of the plan they fall through to.
const PASSED: [&str; 4] = ["length", "width", "height", "cutout"];
/// The plan's own; no name of a user can begin with this sign.
const OF_PLAN: [&str; 4] = ["^length", "^width", "^height", "^cutout"];
const OPENINGS: u32 = 8;
/// Deepest nesting of assemblies; a plant's bill has ten levels, and evaluation uses the stack.
const MOST_LEVELS: usize = 100;

/// The values one evaluation of a parent uses, by symbol, and its openings once they are known.
#[derive(Clone, Debug, PartialEq, Eq, Hash, Default)]
pub(super) struct Scope {
    values: Vec<(u32, Value)>,
}

impl Scope {
    /// Tells whether no value is used.
    pub(super) fn is_empty(&self) -> bool {
        self.values.is_empty()
    }

    /// Adds the area of the parent's openings.
    pub(super) fn set_openings(&mut self, area: Ratio) {
        let value = Value::Measure(Measure { value: area, dimension: Dimension::AREA });
        let place = self.values.partition_point(|(symbol, _)| *symbol < OPENINGS);
        self.values.insert(place, (OPENINGS, value));
    }

    fn get(&self, symbol: u32) -> Option<&Value> {
        let place = self.values.binary_search_by_key(&symbol, |(symbol, _)| *symbol).ok()?;
        Some(&self.values[place].1)
    }

    /// Returns the area of the openings.
    pub(super) fn openings(&self) -> Ratio {
        match self.get(OPENINGS) {
            Some(Value::Measure(measure)) => measure.value.clone(),
            _ => Ratio::ZERO,
        }
    }
}

/// The names formulas may use, as small numbers, and which of them each assembly needs.
pub(super) struct Symbols {
    names: IndexSet<String>,
    /// For each assembly, the sorted symbols that it or anything in it uses and does not bind.
    free: Vec<Vec<u32>>,
}

impl Symbols {
    pub(super) fn new(book: &Book) -> Result<Symbols, Vec<Diagnostic>> {
        let mut names: IndexSet<String> =
            PASSED.iter().chain(&OF_PLAN).map(|name| (*name).to_owned()).collect();
        names.insert("openings".to_owned());
        let mut symbols = Symbols { names, free: vec![Vec::new(); book.assemblies.len()] };
        let mut levels = vec![1_usize; book.assemblies.len()];
        for assembly in children_first(book) {
            let mut free = Vec::new();
            for line in book.lines_of(Parent::Assembly(assembly)) {
                let line = book.line(*line);
                symbols.collect_used(line, &mut free);
                if let Component::Assembly(child) = line.component {
                    symbols.collect_passed(line, child, &mut free);
                    levels[assembly.index()] =
                        levels[assembly.index()].max(1 + levels[child.index()]);
                }
            }
            free.sort_unstable();
            free.dedup();
            symbols.free[assembly.index()] = free;
            if levels[assembly.index()] > MOST_LEVELS {
                let row = book.assemblies[assembly.index()].row;
                let problem = Problem::LimitExceeded {
                    what: "nesting of assemblies".to_owned(),
                    limit: format!("{MOST_LEVELS} levels"),
                    name: None,
                };
                return Err(vec![Diagnostic::error(book.place(row, None), problem)]);
            }
        }
        Ok(symbols)
    }

    /// Returns the scope of a plan: its named dimensions, its options and every other option as false.
    pub(super) fn root(&mut self, book: &Book, plan: PlanId, chosen: &[OptionId]) -> Scope {
        let mut values = Vec::new();
        for (index, option) in (0_u32..).zip(&book.options) {
            let symbol = self.symbol(&option.name.to_ascii_lowercase());
            values.push((symbol, Value::Truth(chosen.contains(&OptionId(index)))));
        }
        for (name, measure) in &book.plans[plan.index()].values {
            let symbol = self.symbol(name);
            values.push((symbol, Value::Measure(measure.clone())));
            if let Some(passed) = PASSED.iter().position(|passed| passed == name) {
                values.push((self.symbol(OF_PLAN[passed]), Value::Measure(measure.clone())));
            }
        }
        // An option comes before a dimension of the same name, as it was pushed first.
        values.sort_by_key(|(symbol, _)| *symbol);
        values.dedup_by_key(|(symbol, _)| *symbol);
        values.retain(|(symbol, _)| *symbol != OPENINGS);
        Scope { values }
    }

    /// Tells whether an assembly and all in it use no value.
    pub(super) fn needs_nothing(&self, assembly: AssemblyId) -> bool {
        self.free[assembly.index()].is_empty()
    }

    /// Returns the scope an assembly is evaluated in: what the line passes, else what its parent has.
    pub(super) fn passed(
        &self,
        outer: &Scope,
        child: AssemblyId,
        bound: &[(&str, Value)],
    ) -> Scope {
        if self.free[child.index()].is_empty() {
            return Scope::default();
        }
        let values = self.free[child.index()].iter().filter_map(|symbol| {
            let name = self.names.get_index(*symbol as usize)?;
            let value = match bound.iter().find(|(bound, _)| bound == name) {
                Some((_, value)) => Some(value),
                None => outer.get(of_plan(*symbol).unwrap_or(*symbol)),
            };
            Some((*symbol, value?.clone()))
        });
        Scope { values: values.collect() }
    }

    /// Returns the value of a name, in lower case.
    pub(super) fn value(&self, scope: &Scope, name: &str) -> Option<Value> {
        let symbol = u32::try_from(self.names.get_index_of(name)?).ok()?;
        scope.get(symbol).cloned()
    }

    /// Returns the values of a scope by name, the plan's own and the openings left out.
    pub(super) fn named(&self, scope: &Scope) -> Vec<(String, Value)> {
        let named = scope.values.iter().filter_map(|(symbol, value)| {
            let name = self.names.get_index(*symbol as usize)?;
            (!name.starts_with('^') && *symbol != OPENINGS).then(|| (name.clone(), value.clone()))
        });
        named.collect()
    }

    fn symbol(&mut self, name: &str) -> u32 {
        let index = match self.names.get_index_of(name) {
            Some(index) => index,
            None => self.names.insert_full(name.to_owned()).0,
        };
        u32::try_from(index).expect("names are counted in a u32")
    }

    fn collect_used(&mut self, line: &BillLine, free: &mut Vec<u32>) {
        if line.is_plain() {
            return;
        }
        for name in line.formulas().flat_map(Expression::names) {
            let symbol = self.symbol(name);
            if symbol != OPENINGS {
                free.push(symbol);
            }
        }
    }

    /// Adds what the child needs and the line does not bind.
    fn collect_passed(&mut self, line: &BillLine, child: AssemblyId, free: &mut Vec<u32>) {
        for symbol in &self.free[child.index()] {
            let name = &self.names[*symbol as usize];
            let is_bound = line.further.with.iter().any(|(bound, _)| bound == name)
                || match name.as_str() {
                    "length" => line.length.is_some(),
                    "width" => line.width.is_some(),
                    "height" => line.height.is_some(),
                    "cutout" => line.further.cutout.is_some(),
                    _ => false,
                };
            if !is_bound {
                free.push(of_plan(*symbol).unwrap_or(*symbol));
            }
        }
    }
}

/// Returns the plan's own symbol for one that a line passes down by a column.
fn of_plan(symbol: u32) -> Option<u32> {
    (symbol < 4).then_some(symbol + 4)
}
