//! Turns bills into needs: how many of each piece, run and amount the plans take, and where they come from.
//!
//! In: a [`Book`] and which plans, options and day. Out: [`Needs`]: every assembly evaluated once per distinct set of the
//! values it uses, and one [`Build`] per plan that points at its evaluated top. Quantities multiply down the levels
//! only when asked for ([`Needs::flat`]), so work grows with bill lines, not with exploded rows.
//!
//! Always: a child stands before its parent in [`Needs::instances`]; every quantity is exact; weights are of what rides,
//! with their first moments about the parent's origin.
//!
//! Not here: stock, prices of nests, rounding.

mod choose;
mod columns;
mod cover;
mod every;
mod flat;
mod line;
mod load;
mod plain;
mod scope;
mod sums;

use std::collections::BTreeSet;

use indexmap::IndexMap;
use jiff::civil::Date;

use crate::diag::Checked;
use crate::diag::Diagnostic;
use crate::diag::Distinct;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::formula::Value;
use crate::model::AssemblyId;
use crate::model::Book;
use crate::model::Component;
use crate::model::Edges;
use crate::model::Effective;
use crate::model::LineId;
use crate::model::OptionId;
use crate::model::Parent;
use crate::model::Plan;
use crate::model::PlanId;
use crate::model::SizeId;
use crate::model::Usage;
use crate::quantity::Length;
use crate::quantity::Ratio;
use crate::quantity::Total;
use crate::quantity::text::exact;

pub(crate) use choose::choose;
pub use every::explode_every;
pub use flat::{Branch, Flat, Need, Source, Use, What, required_factor};
pub use load::Load;
pub use sums::{Measured, Scratch, Sums};

use plain::Counted;
use scope::{Scope, Symbols};

/// What to explode.
#[derive(Clone, Debug, Default)]
pub struct Options {
    /// The plans, each once; empty for all.
    pub plans: Vec<PlanId>,
    /// Options taken beside the standard ones.
    pub chosen: Vec<OptionId>,
    /// Standard options left out.
    pub without: Vec<OptionId>,
    /// The day lines and prices must hold; the book's `as_of` if not said.
    pub on: Option<Date>,
    /// The number of the unit lines must hold for; the latest if not said.
    pub unit: Option<u32>,
}

/// An evaluated assembly, by its position in [`Needs::instances`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct InstanceId(pub u32);

impl InstanceId {
    /// Returns the position in [`Needs::instances`].
    #[must_use]
    pub fn index(self) -> usize {
        self.0 as usize
    }
}

/// Everything the plans take.
#[derive(Clone, Debug, Default)]
pub struct Needs {
    /// Evaluated plans and assemblies, children first.
    pub instances: Vec<Instance>,
    /// One per plan asked for, in that order.
    pub builds: Vec<Build>,
    /// The day that was taken.
    pub on: Option<Date>,
}

/// A plan in one configuration.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Build {
    /// The plan.
    pub plan: PlanId,
    /// The options it has, in the book's order.
    pub options: Vec<OptionId>,
    /// Its evaluated top.
    pub root: InstanceId,
}

/// A plan or assembly with the values it was evaluated for.
#[derive(Clone, Debug)]
pub struct Instance {
    /// What it is.
    pub parent: Parent,
    /// The values its lines use, by name, in the order of the names.
    pub values: Vec<(String, Value)>,
    /// What one of it takes, in bill order; lines that do not hold are not here.
    pub lines: Vec<Taken>,
    /// What one of it weighs, and where.
    pub load: Load,
}

/// What one of a parent takes through one bill line.
#[derive(Clone, Debug)]
pub struct Taken {
    /// The bill line.
    pub line: LineId,
    /// How often `take` is taken for one parent; what was taken away by negative lines is taken off.
    pub quantity: Ratio,
    /// What is taken each time.
    pub take: Take,
    /// What one time weighs, as it rides.
    pub weight: Ratio,
    /// Where it stands; nothing if the line does not say.
    pub placing: Option<Box<Placing>>,
}

/// Where what a line takes stands in its parent.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Placing {
    /// Offset from the parent's origin, where given: back, right, up.
    pub offset: [Option<Length>; 3],
    /// How far it moves to the right when the slide boxes are out, where given.
    pub travel: Option<Length>,
    /// From one support of its material to the next, where given.
    pub span: Option<Length>,
}

impl Taken {
    /// Returns where it stands.
    #[must_use]
    pub fn placed(&self) -> Placing {
        self.placing.as_deref().copied().unwrap_or_default()
    }
}

/// What a line takes, once.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Take {
    /// An evaluated assembly.
    Assembly(InstanceId),
    /// Pieces to cut.
    Pieces(Vec<Cut>),
    /// A length in any splices.
    Run(Length),
    /// A whole stock size.
    Whole(SizeId),
    /// An amount in base units of the item's unit.
    Amount(Ratio),
}

/// A piece to cut, with how many at once.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Cut {
    /// Along the stock's length.
    pub length: Length,
    /// Along the stock's width; zero for sticks.
    pub width: Length,
    /// Whether it may be turned.
    pub may_turn: bool,
    /// Factory edges it needs.
    pub edges: Edges,
    /// How many.
    pub count: u32,
}

/// A plan with the options it is asked for in.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Configured {
    /// The plan.
    pub plan: PlanId,
    /// Options taken beside the standard ones.
    pub chosen: Vec<OptionId>,
    /// Standard options left out.
    pub without: Vec<OptionId>,
}

/// Most evaluations of assemblies, and how many more for each line of the bill: work and memory grow with the bill, not with
/// values that double from level to level.
const MOST_INSTANCES: usize = 200_000;
const INSTANCES_OF_LINE: usize = 20;

/// Evaluates the bills of the plans asked for.
///
/// # Errors
/// Every mistake that shows only once values are known: faults of formulas, negative quantities, negative lines that
/// match nothing, options that exclude each other.
///
/// # Example
/// ```
/// # use cutbill::read::{Memory, read};
/// use cutbill::explode::{Options, explode};
/// use cutbill::quantity::Ratio;
///
/// # let files = Memory::from_iter([
/// #     ("plans.csv", "plan\nSedge\n"),
/// #     ("bill.csv", "parent,component,quantity\nSedge,door,2\ndoor,HINGE,3\n"),
/// #     ("items.csv", "item,form,price,weight\nHINGE,count,2,0.5 lb\n"),
/// # ]);
/// # let book = read(&files).unwrap().value;
/// // Sedge takes 2 doors, a door 3 hinges.
/// let needs = explode(&book, &Options::default()).unwrap().value;
/// let flat = needs.flat(&book, &needs.builds[0]);
/// assert_eq!(flat.needs[0].required, Ratio::from(6));
/// assert_eq!(flat.weights[0].1, Ratio::from(3));
/// ```
pub fn explode(book: &Book, options: &Options) -> Result<Checked<Needs>, Vec<Diagnostic>> {
    let plans: Vec<PlanId> = if options.plans.is_empty() {
        (0..book.plans.len())
            .map(|index| PlanId(u32::try_from(index).expect("plans are counted in a u32")))
            .collect()
    } else {
        options.plans.clone()
    };
    let configured = |plan: PlanId| Configured {
        plan,
        chosen: options.chosen.clone(),
        without: options.without.clone(),
    };
    let builds: Vec<Configured> = plans.into_iter().map(configured).collect();
    explode_configured(book, &builds, options.on, options.unit)
}

/// Evaluates the bills of plans, each in a configuration of its own; what they share is evaluated once.
///
/// # Errors
/// As [`explode`]; and assemblies that contain themselves, as swaps may have made them.
pub fn explode_configured(
    book: &Book,
    builds: &[Configured],
    on: Option<Date>,
    unit: Option<u32>,
) -> Result<Checked<Needs>, Vec<Diagnostic>> {
    let cycles = book.cycles();
    if !cycles.is_empty() {
        let error = |(line, path): (LineId, Vec<String>)| {
            let place = book.place(book.line(line).row, Some("component"));
            Diagnostic::error(place, Problem::Cycle { path })
        };
        return Err(cycles.into_iter().map(error).collect());
    }
    let most_instances = MOST_INSTANCES.saturating_add(INSTANCES_OF_LINE * book.lines.len());
    let symbols = Symbols::new(book)?;
    let options: Vec<Result<Vec<OptionId>, Vec<Diagnostic>>> = builds
        .iter()
        .map(|build| choose::choose(book, build.plan, &build.chosen, &build.without))
        .collect();
    let plans = builds.iter().map(|build| Parent::Plan(build.plan));
    let chosen = options.iter().flatten().flatten().map(|option| Parent::Option(*option));
    let tops: BTreeSet<Parent> = plans.chain(chosen).collect();
    let tops = tops.iter().flat_map(|parent| book.lines_of(*parent));
    let mut context = Context {
        book,
        most_instances,
        counted: Counted::below(book, &symbols, tops),
        symbols,
        plan: None,
        on: on.or(book.as_of()),
        unit,
        instances: Vec::new(),
        known: IndexMap::new(),
        plain: vec![None; book.assemblies.len()],
        errors: Distinct::default(),
        warnings: Distinct::default(),
    };
    let mut evaluated = Vec::with_capacity(builds.len());
    for (Configured { plan, .. }, options) in builds.iter().zip(options) {
        match options {
            Ok(options) => {
                let root = context.root(*plan, &options);
                evaluated.push(Build { plan: *plan, options, root });
            }
            Err(errors) => context.errors.extend(errors),
        }
    }
    if context.errors.is_empty() {
        let warnings = context.warnings.into_vec();
        let needs = Needs { instances: context.instances, builds: evaluated, on: context.on };
        return Ok(Checked { value: needs, warnings });
    }
    let mut errors = context.errors.into_vec();
    errors.sort_by(|a, b| a.place.cmp(&b.place));
    Err(errors)
}

struct Context<'a> {
    book: &'a Book,
    /// How many evaluations there may be.
    most_instances: usize,
    symbols: Symbols,
    /// The plan that is evaluated.
    plan: Option<PlanId>,
    on: Option<Date>,
    unit: Option<u32>,
    instances: Vec<Instance>,
    known: IndexMap<(AssemblyId, Scope), InstanceId>,
    counted: Counted,
    /// For each assembly that uses no values, its one evaluation.
    plain: Vec<Option<InstanceId>>,
    errors: Distinct,
    warnings: Distinct,
}

impl Context<'_> {
    fn root(&mut self, plan: PlanId, chosen: &[OptionId]) -> InstanceId {
        self.plan = Some(plan);
        let scope = self.symbols.root(self.book, plan, chosen);
        let mut lines = self.book.lines_of(Parent::Plan(plan)).to_vec();
        for option in chosen {
            lines.extend(self.book.lines_of(Parent::Option(*option)));
        }
        lines.sort_unstable();
        self.instance(Parent::Plan(plan), &lines, scope)
    }

    fn assembly(&mut self, assembly: AssemblyId, scope: Scope) -> InstanceId {
        if scope.is_empty()
            && let Some(known) = self.plain[assembly.index()]
        {
            return known;
        }
        let key = (assembly, scope);
        if let Some(known) = self.known.get(&key) {
            return *known;
        }
        if self.instances.len() >= self.most_instances {
            return self.too_many(assembly);
        }
        let book = self.book;
        let parent = Parent::Assembly(assembly);
        let counted = if key.1.is_empty() { self.counted.take(assembly) } else { None };
        let instance = match counted {
            Some(mut taken) => {
                for taken in &mut taken {
                    self.enter(taken);
                }
                self.evaluated(parent, taken, &Scope::default())
            }
            None => self.instance(parent, book.lines_of(parent), key.1.clone()),
        };
        if key.1.is_empty() {
            self.plain[assembly.index()] = Some(instance);
        } else {
            self.known.insert(key, instance);
        }
        instance
    }

    /// Tells that assemblies are evaluated for more sets of values than any plant has. What it returns is never looked at,
    /// since there is an error.
    fn too_many(&mut self, assembly: AssemblyId) -> InstanceId {
        let is_told = |error: &Diagnostic| matches!(error.problem, Problem::LimitExceeded { .. });
        if !self.errors.iter().any(is_told) {
            let problem = Problem::LimitExceeded {
                what: "the number of sets of values that assemblies are evaluated for".to_owned(),
                limit: self.most_instances.to_string(),
                name: None,
            };
            let row = self.book.assemblies[assembly.index()].row;
            self.errors.insert(Diagnostic::error(self.book.place(row, None), problem));
        }
        InstanceId(0)
    }

    fn instance(&mut self, parent: Parent, lines: &[LineId], mut scope: Scope) -> InstanceId {
        let lines: Vec<LineId> =
            lines.iter().copied().filter(|line| self.holds(*line, &scope)).collect();
        let mut openings = Ratio::ZERO;
        for line in lines.iter().filter(|line| self.book.line(**line).usage == Usage::Opening) {
            openings += &self.opening(*line, &scope);
        }
        scope.set_openings(openings);
        let mut taken: Vec<Taken> = Vec::with_capacity(lines.len());
        taken.extend(lines.iter().filter_map(|line| self.take(*line, &scope)));
        self.evaluated(parent, taken, &scope)
    }

    /// Adds a plan or an assembly with what its lines take.
    fn evaluated(&mut self, parent: Parent, mut taken: Vec<Taken>, scope: &Scope) -> InstanceId {
        if taken.iter().any(|taken| taken.quantity.is_negative()) {
            self.take_away(&mut taken, scope);
            taken.retain(|taken| !taken.quantity.is_zero());
        }
        let load = self.load(&taken);
        let id = InstanceId(
            u32::try_from(self.instances.len()).expect("instances are counted in a u32"),
        );
        let values = self.symbols.named(scope);
        self.instances.push(Instance { parent, values, lines: taken, load });
        id
    }

    /// Returns what lines weigh together, and where.
    fn load(&self, taken: &[Taken]) -> Load {
        let mut load = Load::default();
        // Most lines have no position: only their sum matters.
        let mut unplaced = Total::default();
        for taken in taken {
            match (&taken.take, taken.placing.as_deref()) {
                (Take::Assembly(child), placing) => {
                    let inner = &self.instances[child.index()].load;
                    if placing.is_none() && inner.is_unplaced() {
                        unplaced.add(&taken.quantity, &inner.weight);
                    } else {
                        load.add(taken, inner);
                    }
                }
                _ if taken.weight.is_zero() => {}
                (_, None) => unplaced.add(&taken.quantity, &taken.weight),
                (_, Some(placing)) => load.add_item(taken, placing),
            }
        }
        load.add_unplaced(&unplaced.sum());
        load
    }

    /// Tells whether a line holds on the day, for the unit and under the options.
    fn holds(&mut self, line: LineId, scope: &Scope) -> bool {
        let row = self.book.line(line);
        let begun = row.further.from.is_none_or(|from| match from {
            Effective::Date(date) => self.on.is_none_or(|on| date <= on),
            Effective::Unit(unit) => self.unit.is_none_or(|this| unit <= this),
        });
        // Without a day or unit the latest state holds, so that a running change is never counted twice.
        let ended = row.further.to.is_some_and(|to| match to {
            Effective::Date(date) => self.on.is_none_or(|on| date < on),
            Effective::Unit(unit) => self.unit.is_none_or(|this| unit < this),
        });
        if !begun || ended {
            return false;
        }
        let Some(condition) = &row.when else { return true };
        match condition.evaluate(&|name| self.symbols.value(scope, name)) {
            Ok(Value::Truth(holds)) => holds,
            Ok(Value::Measure(_)) => {
                let text = condition.text().to_owned();
                self.error(
                    line,
                    "when",
                    Problem::NotAMeasure { text, expected: "condition".to_owned() },
                );
                false
            }
            Err(fault) => {
                self.fault(line, "when", condition.text().to_owned(), fault);
                false
            }
        }
    }

    /// Lets negative lines take away from the lines they match.
    fn take_away(&mut self, taken: &mut [Taken], scope: &Scope) {
        let keys: Vec<line::Match> =
            taken.iter().map(|taken| self.key(taken.line, scope)).collect();
        for negative in 0..taken.len() {
            if !taken[negative].quantity.is_negative() {
                continue;
            }
            let line = taken[negative].line;
            let component = self.book.component_name(self.book.line(line).component).to_owned();
            if !self.is_optional(line) {
                let quantity = taken[negative].quantity.to_string();
                self.error(line, "quantity", Problem::QuantityNegative { component, quantity });
                continue;
            }
            let mut missing = taken[negative].quantity.abs();
            for positive in 0..taken.len() {
                let is_match = keys[positive] == keys[negative]
                    && taken[positive].take == taken[negative].take;
                if missing.is_zero() || !is_match || taken[positive].quantity <= Ratio::ZERO {
                    continue;
                }
                let step = missing.clone().min(taken[positive].quantity.clone());
                missing = missing - &step;
                taken[positive].quantity = &taken[positive].quantity - &step;
                let excluded = self.book.place(self.book.line(taken[positive].line).row, None);
                let place = self.book.place(self.book.line(line).row, None);
                let problem = Problem::ExclusionApplied { component: component.clone(), excluded };
                self.warnings.insert(Diagnostic::new(Severity::Note, place, problem));
            }
            if missing == taken[negative].quantity.abs() {
                self.error(line, "quantity", Problem::ExclusionUnmatched { component });
            } else if !missing.is_zero() {
                let missing = exact(&missing);
                self.error(line, "quantity", Problem::ExclusionTooLarge { component, missing });
            }
            taken[negative].quantity = Ratio::ZERO;
        }
    }

    /// Tells whether a line stands under an option: its parent is one, or its condition names one.
    fn is_optional(&self, line: LineId) -> bool {
        let row = self.book.line(line);
        let names_option = |name: &String| {
            self.book.options.iter().any(|option| option.name.eq_ignore_ascii_case(name))
        };
        matches!(row.parent, Parent::Option(_))
            || row.when.as_ref().is_some_and(|when| when.names().iter().any(names_option))
    }

    fn error(&mut self, line: LineId, column: &str, problem: Problem) {
        self.error_with_hint(line, column, problem, None);
    }

    fn error_with_hint(
        &mut self,
        line: LineId,
        column: &str,
        problem: Problem,
        hint: Option<String>,
    ) {
        let place = self.book.place(self.book.line(line).row, Some(column));
        let diagnostic = Diagnostic { hint, ..Diagnostic::error(place, problem) };
        self.errors.insert(diagnostic);
    }

    fn fault(&mut self, line: LineId, column: &str, text: String, fault: crate::formula::Fault) {
        let hint = fault.hint.or_else(|| self.lacking(&fault.fault));
        let problem = Problem::Formula { text, marker: fault.marker, fault: fault.fault };
        self.error_with_hint(line, column, problem, hint);
    }

    /// Says that the plan lacks the dimension a fault is about, where another plan has it.
    fn lacking(&self, fault: &str) -> Option<String> {
        let plan = &self.book.plans[self.plan?.index()];
        let name = fault.strip_prefix("no value named `")?.split('`').next()?;
        let has = |plan: &Plan| plan.values.iter().any(|(known, _)| known == name);
        (!has(plan) && self.book.plans.iter().any(has))
            .then(|| format!("plan `{}` has no `{name}`, though others do", plan.name))
    }
}

/// Returns the assemblies of a book so that every one stands after those it contains.
fn children_first(book: &Book) -> Vec<AssemblyId> {
    let mut order = Vec::with_capacity(book.assemblies.len());
    let mut state = vec![0_u8; book.assemblies.len()];
    for start in 0..book.assemblies.len() {
        let mut stack = vec![(start, false)];
        while let Some((assembly, is_done)) = stack.pop() {
            let id = AssemblyId(u32::try_from(assembly).expect("assemblies are counted in a u32"));
            if is_done {
                order.push(id);
                continue;
            }
            if state[assembly] == 1 {
                continue;
            }
            state[assembly] = 1;
            stack.push((assembly, true));
            for line in book.lines_of(Parent::Assembly(id)) {
                if let Component::Assembly(child) = book.line(*line).component
                    && state[child.index()] == 0
                {
                    stack.push((child.index(), false));
                }
            }
        }
    }
    order
}
