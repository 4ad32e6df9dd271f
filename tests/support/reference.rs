//! The slow reference: what a plan takes and weighs, by the definitions in `docs/book.md`, every path of the bill
//! walked on its own. It shares no code with the library: numbers, formulas and structures are its own.

use std::collections::BTreeMap;

use num_bigint::BigInt;
use num_traits::{Signed, Zero};

use super::number::{Number, fraction, nearest, whole};
use super::plant::{
    AS_OF, Component, Form, Grain, Item, Line, Parent, Plant, UNIT, Usage, Weight, constant,
};
use super::term::{Kind, Term, Value};

pub(crate) const INCH: i64 = 25_400_000;
pub(crate) const FOOT: i64 = 12 * INCH;

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Edges {
    None,
    One,
    Both,
}

/// What is needed of an item.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum What {
    /// Sides in nanometers, along the stock's length and width.
    Piece { length: BigInt, width: BigInt, may_turn: bool, edges: Edges },
    /// Nanometers.
    Run,
    /// A whole size, by its position.
    Whole(usize),
    /// Base units of the item's unit.
    Amount,
}

/// Good and required.
pub(crate) type Need = (Number, Number);

/// One unit of a plan.
#[derive(Clone, Debug, Default)]
pub(crate) struct Unit {
    pub needs: BTreeMap<usize, BTreeMap<What, Need>>,
    /// Pounds that ride, by item.
    pub pounds: BTreeMap<usize, Number>,
    /// Measure and pounds, by item and station.
    pub stations: BTreeMap<(usize, String), [Number; 2]>,
    /// Pounds times nanometers, by axis.
    pub moments: [Number; 3],
    /// Pounds that no line on their path gives a place, by axis.
    pub unplaced: [Number; 3],
}

/// The values one parent sees.
#[derive(Clone)]
struct Scope<'a> {
    plant: &'a Plant,
    plan: usize,
    taken: &'a [usize],
    /// Length, width, height and cutout as passed.
    passed: [Option<Value>; 4],
    with: BTreeMap<String, Value>,
    openings: Number,
}

const PASSED: [&str; 4] = ["length", "width", "height", "cutout"];

impl Scope<'_> {
    fn look_up(&self, name: &str) -> Value {
        let passed = PASSED.iter().position(|passed| *passed == name);
        if let Some(value) = passed.and_then(|position| self.passed[position].clone()) {
            return value;
        }
        if let Some(value) = self.with.get(name) {
            return value.clone();
        }
        if name == "openings" {
            return Value::Measure(self.openings.clone(), Kind::Area);
        }
        if let Some(choice) = self.plant.choices.iter().position(|choice| choice.name == name) {
            return Value::Truth(self.taken.contains(&choice));
        }
        let values = &self.plant.plans[self.plan].values;
        let found = values.iter().find(|(own, _)| own == name);
        let (_, term) = found.unwrap_or_else(|| panic!("no value named {name}"));
        term.evaluate(&|name| panic!("a plan's {name} is a constant"))
    }

    fn value(&self, term: &Term) -> Value {
        term.evaluate(&|name| self.look_up(name))
    }

    fn measure(&self, term: Option<&Term>, kind: Kind) -> Option<Number> {
        term.map(|term| self.value(term).of(kind))
    }
}

/// What one parent takes through one line.
struct Taken<'a> {
    line: &'a Line,
    /// How often `each` is taken.
    quantity: Number,
    each: Vec<(What, Number)>,
    pounds: Number,
    inner: Option<Scope<'a>>,
    /// What a negative line must share.
    key: (Component, &'static str, [Option<Number>; 3]),
}

/// Returns the options a plan has, given those asked for.
pub(crate) fn options(plant: &Plant, plan: usize, asked: &[usize]) -> Vec<usize> {
    let fits = |choice: usize| plant.choices[choice].plan.is_none_or(|only| only == plan);
    let with_included = |mut taken: Vec<usize>| {
        let mut index = 0;
        while index < taken.len() {
            for other in &plant.choices[taken[index]].includes {
                if fits(*other) && !taken.contains(other) {
                    taken.push(*other);
                }
            }
            index += 1;
        }
        taken
    };
    let mut taken = with_included(asked.iter().copied().filter(|choice| fits(*choice)).collect());
    let first = taken.clone();
    for (index, choice) in plant.choices.iter().enumerate() {
        let yields = choice.one_of.is_some()
            && first.iter().any(|other| plant.choices[*other].one_of == choice.one_of);
        let is_excluded = first.iter().any(|other| plant.choices[*other].excludes.contains(&index));
        let is_asked_anyway = taken.contains(&index);
        if choice.is_standard && fits(index) && !yields && !is_excluded && !is_asked_anyway {
            taken.push(index);
        }
    }
    let mut taken = with_included(taken);
    taken.sort_unstable();
    taken
}

/// Explodes one unit of a plan with these options.
pub(crate) fn explode(plant: &Plant, plan: usize, taken: &[usize]) -> Unit {
    let scope = Scope {
        plant,
        plan,
        taken,
        passed: [None, None, None, None],
        with: BTreeMap::new(),
        openings: whole(0),
    };
    let is_of_plan = |line: &&Line| match line.parent {
        Parent::Plan(own) => own == plan,
        Parent::Choice(choice) => taken.contains(&choice),
        Parent::Assembly(_) => false,
    };
    let lines: Vec<&Line> = plant.lines.iter().filter(is_of_plan).collect();
    let mut unit = Unit::default();
    walk(&lines, scope, &whole(1), &[None, None, None], &mut unit);
    unit
}

fn walk<'a>(
    lines: &[&'a Line],
    mut scope: Scope<'a>,
    times: &Number,
    place: &[Option<Number>; 3],
    unit: &mut Unit,
) {
    let plant = scope.plant;
    let lines: Vec<&Line> = lines.iter().copied().filter(|line| holds(line, &scope)).collect();
    let openings = lines.iter().filter(|line| line.usage == Usage::Opening).map(|line| {
        let quantity = scope.measure(line.quantity.as_ref(), Kind::Number).unwrap_or(whole(1));
        quantity * area(line, &scope)
    });
    scope.openings = openings.sum();
    let mut all: Vec<Taken> = lines.iter().map(|line| take(line, &scope)).collect();
    for negative in 0..all.len() {
        let mut missing = -all[negative].quantity.clone();
        if !missing.is_positive() {
            continue;
        }
        all[negative].quantity = whole(0);
        for positive in 0..all.len() {
            let is_match =
                all[positive].key == all[negative].key && all[positive].each == all[negative].each;
            if is_match && all[positive].quantity.is_positive() {
                let step = missing.clone().min(all[positive].quantity.clone());
                missing -= &step;
                all[positive].quantity -= &step;
            }
        }
        assert!(missing.is_zero(), "a negative line takes away more than there is");
    }
    for taken in all {
        let times = times * &taken.quantity;
        let mut here = place.clone();
        for (axis, term) in taken.line.offset.iter().enumerate() {
            if let Some(offset) = scope.measure(term.as_ref(), Kind::Length) {
                let offset = Number::from_integer(nearest(&offset));
                here[axis] = Some(here[axis].clone().unwrap_or_default() + offset);
            }
        }
        match taken.line.component {
            Component::Assembly(assembly) => {
                let of_assembly = |line: &&Line| line.parent == Parent::Assembly(assembly);
                let inner: Vec<&Line> = plant.lines.iter().filter(of_assembly).collect();
                walk(&inner, taken.inner.unwrap(), &times, &here, unit);
            }
            Component::Item(index) => {
                let item = &plant.items[index];
                let factor = required_factor(plant, item, taken.line);
                let station = match taken.line.parent {
                    Parent::Assembly(assembly) => plant.assemblies[assembly].station.clone(),
                    Parent::Plan(_) | Parent::Choice(_) => String::new(),
                };
                let at_station = unit.stations.entry((index, station)).or_default();
                at_station[1] += &times * &taken.pounds;
                for (what, amount) in taken.each {
                    let good = &times * amount;
                    at_station[0] += &good * measured(item, &what);
                    if good.is_zero() {
                        continue;
                    }
                    let need = unit
                        .needs
                        .entry(index)
                        .or_default()
                        .entry(what)
                        .or_insert_with(|| (whole(0), whole(0)));
                    need.0 += &good;
                    need.1 += good * &factor;
                }
                let pounds = times * taken.pounds;
                for (axis, place) in here.iter().enumerate() {
                    match place {
                        Some(place) => unit.moments[axis] += &pounds * place,
                        None => unit.unplaced[axis] += &pounds,
                    }
                }
                *unit.pounds.entry(index).or_default() += pounds;
            }
        }
    }
}

fn holds(line: &Line, scope: &Scope) -> bool {
    let in_time = !scope.plant.settings.has_day
        || (line.from.is_none_or(|from| from <= AS_OF) && line.to.is_none_or(|to| AS_OF <= to));
    let is_for_unit = line.first_unit.is_none_or(|first| first <= UNIT)
        && line.last_unit.is_none_or(|last| UNIT <= last);
    in_time && is_for_unit && line.when.as_ref().is_none_or(|when| scope.value(when).truth())
}

/// required = good / (1 - scrap) / (1 - shrinkage)
fn required_factor(plant: &Plant, item: &Item, line: &Line) -> Number {
    let kept = |percent: Option<i64>| fraction(100 - percent.unwrap_or(0), 100);
    let drops_scrap = plant.settings.ignores_scrap && item.form.is_cut();
    let scrap = if drops_scrap { None } else { line.scrap_percent };
    whole(1) / kept(scrap) / kept(item.shrinkage_percent)
}

fn sides(line: &Line, scope: &Scope) -> [Option<Number>; 3] {
    [&line.length, &line.width, &line.height].map(|side| scope.measure(side.as_ref(), Kind::Length))
}

fn area(line: &Line, scope: &Scope) -> Number {
    let [length, width, height] = sides(line, scope);
    length.unwrap() * width.or(height).unwrap()
}

fn take<'a>(line: &'a Line, scope: &Scope<'a>) -> Taken<'a> {
    let sides = sides(line, scope);
    let key = |usage| (line.component, usage, sides.clone());
    let quantity = line.quantity.as_ref().map(|term| scope.value(term));
    match line.component {
        Component::Assembly(_) => {
            let quantity = quantity.map_or(whole(1), |value| value.of(Kind::Number));
            let length = |side: &Option<Number>| {
                side.as_ref().map(|side| Value::Measure(side.clone(), Kind::Length))
            };
            let cutout = line.cutout.as_ref().map(|term| scope.value(term));
            let mut with = scope.with.clone();
            with.extend(line.with.iter().map(|(name, term)| (name.clone(), scope.value(term))));
            let inner = Scope {
                passed: [length(&sides[0]), length(&sides[1]), length(&sides[2]), cutout],
                with,
                openings: whole(0),
                ..scope.clone()
            };
            let each = Vec::new();
            let key = key("assembly");
            Taken { line, quantity, each, pounds: whole(0), inner: Some(inner), key }
        }
        Component::Item(index) => {
            let item = &scope.plant.items[index];
            let (quantity, each, measure) = take_item(item, line, quantity.as_ref(), scope);
            let pounds = pound_rate(item) * measure * percent_or_all(item.rides_percent);
            Taken { line, quantity, each, pounds, inner: None, key: key(usage_of(item, line)) }
        }
    }
}

fn percent_or_all(percent: Option<i64>) -> Number {
    fraction(percent.unwrap_or(100), 100)
}

fn usage_of(item: &Item, line: &Line) -> &'static str {
    match line.usage {
        Usage::Count if item.form.is_cut() && line.length.is_some() => "count of pieces",
        Usage::Count => "count",
        Usage::Piece => "piece",
        Usage::Cover => "cover",
        Usage::Run => "run",
        Usage::Fill => "fill",
        Usage::Opening => "opening",
    }
}

/// Returns how often, what of the item each time, and the measure that rides each time.
fn take_item(
    item: &Item,
    line: &Line,
    quantity: Option<&Value>,
    scope: &Scope,
) -> (Number, Vec<(What, Number)>, Number) {
    let one = || whole(1);
    let number = || quantity.map_or(one(), |value| value.of(Kind::Number));
    let length = scope.measure(line.length.as_ref(), Kind::Length);
    let cutout = scope.measure(line.cutout.as_ref(), Kind::Area).unwrap_or_default();
    let is_measured = matches!(quantity, Some(Value::Measure(_, kind)) if *kind != Kind::Number);
    match (line.usage, item.form) {
        (Usage::Piece, _) | (Usage::Count, Form::Sheet | Form::Roll | Form::Linear)
            if length.is_some() =>
        {
            let long = nearest(&length.unwrap());
            if item.form == Form::Linear {
                let measure = Number::from_integer(long.clone());
                return (
                    number(),
                    vec![(piece(long, BigInt::zero(), false, Edges::None), one())],
                    measure,
                );
            }
            let wide = line.width.as_ref().or(line.height.as_ref());
            let wide = nearest(&scope.measure(wide, Kind::Length).unwrap());
            let measure = Number::from_integer(&long * &wide) - cutout;
            let what = match line.grain.or(item.grain).unwrap_or(Grain::None) {
                Grain::None => piece(long, wide, true, Edges::None),
                Grain::Length => piece(long, wide, false, Edges::None),
                // The width lies along the stock's length.
                Grain::Width => piece(wide, long, false, Edges::None),
            };
            (number(), vec![(what, one())], measure)
        }
        (Usage::Run | Usage::Count, Form::Linear | Form::Roll)
            if line.usage == Usage::Run || is_measured =>
        {
            let (times, run) = if is_measured {
                (one(), quantity.unwrap().of(Kind::Length))
            } else {
                (number(), length.unwrap())
            };
            let run = Number::from_integer(nearest(&run));
            let measure =
                if item.form == Form::Roll { &run * roll_width(item) } else { run.clone() };
            (times, vec![(What::Run, run)], measure)
        }
        (Usage::Count, form) if form.is_cut() => {
            let size = size_measure(item, 0);
            (number(), vec![(What::Whole(0), one())], size)
        }
        (Usage::Cover, form) if form.is_cut() => {
            let (each, mut measure) = cover(item, line, scope);
            if form == Form::Linear {
                measure -= cutout / face(item);
            } else {
                measure -= cutout;
            }
            (number(), each, measure)
        }
        (Usage::Fill, Form::Roll) => {
            let area = number() * (area(line, scope) - cutout) - &scope.openings;
            let run = Number::from_integer(nearest(&(&area / roll_width(item))));
            (one(), vec![(What::Run, run)], area)
        }
        (Usage::Cover, _) => {
            let amount = covered(item, area(line, scope) - cutout, Kind::Area);
            (number(), vec![(What::Amount, amount.clone())], amount)
        }
        (Usage::Fill, _) => {
            let area = number() * (area(line, scope) - cutout) - &scope.openings;
            let amount = covered(item, area, Kind::Area);
            (one(), vec![(What::Amount, amount.clone())], amount)
        }
        (Usage::Run, _) => {
            let amount = covered(item, length.unwrap(), Kind::Length);
            (number(), vec![(What::Amount, amount.clone())], amount)
        }
        (Usage::Count | Usage::Opening, _) => {
            let amount = match quantity {
                Some(Value::Measure(value, kind)) if *kind != Kind::Number => value.clone(),
                _ => number() * &item.unit.1,
            };
            // The amount is one thing, taken as often as it says; so a negative line matches.
            (amount, vec![(What::Amount, one())], one())
        }
        other => panic!("no such use: {other:?}"),
    }
}

fn piece(length: BigInt, width: BigInt, may_turn: bool, edges: Edges) -> What {
    What::Piece { length, width, may_turn, edges }
}

/// Returns the amount, in base units of the item's unit, that covers an area or length.
fn covered(item: &Item, measure: Number, kind: Kind) -> Number {
    match &item.coverage {
        Some(Term::Literal(_, Value::Measure(coverage, own))) if *own == kind => {
            measure / coverage * &item.unit.1
        }
        None => measure,
        other => panic!("{other:?} covers no {kind:?}"),
    }
}

/// Runs are reckoned with the narrowest roll there is.
pub(crate) fn roll_width(item: &Item) -> Number {
    item.sizes.iter().map(|size| constant(size.width.as_ref().unwrap())).min().unwrap()
}

/// Returns the width of area one row covers.
fn face(item: &Item) -> Number {
    let dressed = item.nominal.as_ref().map(|(_, _, width)| fraction(*width * INCH, 64));
    match &item.net_width {
        Some(net) => constant(net),
        None if item.form == Form::Linear => dressed.unwrap(),
        None => constant(item.sizes[0].width.as_ref().unwrap()),
    }
}

/// Lays rows one after another until the area is covered. Returns the pieces and the measure that rides.
fn cover(item: &Item, line: &Line, scope: &Scope) -> (Vec<(What, Number)>, Number) {
    let side = |term: Option<&Term>| {
        Number::from_integer(nearest(&scope.measure(term, Kind::Length).unwrap()))
    };
    let (length, width) =
        (side(line.length.as_ref()), side(line.width.as_ref().or(line.height.as_ref())));
    let (along, across) =
        if line.runs_along_length.unwrap() { (length, width) } else { (width, length) };
    let optional = |term: &Option<Term>| term.as_ref().map_or(whole(0), constant);
    let gap = optional(&line.gap);
    let is_linear = item.form == Form::Linear;
    let stock_length = item
        .sizes
        .iter()
        .map(|size| match &size.length {
            Some(length) => constant(length) - optional(&item.trim) * whole(2),
            None => along.clone().max(across.clone()),
        })
        .max()
        .unwrap();
    let full_width =
        if is_linear { face(item) } else { constant(item.sizes[0].width.as_ref().unwrap()) };
    let locks = item.form == Form::Sheet && face(item) < full_width;
    // Sheets are trimmed on all four edges, but for edges that lock; rolls and sticks at their ends.
    let is_trimmed_across = item.form == Form::Sheet && !locks;
    let stock_width =
        if is_trimmed_across { full_width - optional(&item.trim) * whole(2) } else { full_width };
    let face = face(item).min(stock_width.clone());
    let tongue = &stock_width - &face;
    let lap = if item.net_width.is_some() { whole(0) } else { optional(&item.overlap) };
    let mut rows = Vec::new();
    let mut start = whole(0);
    loop {
        // What is left across, seen from where this row begins.
        let left = &across - &start;
        if !left.is_positive() {
            // The gap ends the area.
            break;
        }
        if left <= face {
            rows.push((left.clone(), left < face));
            break;
        }
        rows.push((face.clone(), false));
        start += &face - &lap + &gap;
    }
    let row_count = rows.len();
    let mut pieces: BTreeMap<What, Number> = BTreeMap::new();
    let mut measure = whole(0);
    for (index, (row_face, is_ripped)) in rows.into_iter().enumerate() {
        let (row_width, edges) = match (is_ripped, locks) {
            // A row on its own locks into nothing.
            (true, true) if row_count == 1 => (row_face, Edges::None),
            (true, true) => ((row_face + &tongue).min(stock_width.clone()), Edges::One),
            (true, false) => (row_face, Edges::None),
            (false, true) => (stock_width.clone(), Edges::Both),
            (false, false) => (stock_width.clone(), Edges::None),
        };
        let mut left = along.clone();
        let stagger = optional(&item.stagger);
        let is_shifted = index % 2 == 1 && stagger.is_positive() && stagger < stock_length;
        let mut next = if is_shifted { stagger } else { stock_length.clone() };
        while left.is_positive() {
            let long = next.min(left.clone());
            let wide = if is_linear { whole(0) } else { row_width.clone() };
            measure += if is_linear { long.clone() } else { &long * &row_width };
            let edges = if is_linear { Edges::None } else { edges };
            let what = piece(long.to_integer(), wide.to_integer(), false, edges);
            *pieces.entry(what).or_default() += whole(1);
            left -= long + &gap;
            next = stock_length.clone();
        }
    }
    (pieces.into_iter().collect(), measure)
}

pub(crate) fn size_measure(item: &Item, size: usize) -> Number {
    let size = &item.sizes[size];
    let length = size.length.as_ref().map_or(whole(0), constant);
    match item.form {
        Form::Linear => length,
        _ => length * constant(size.width.as_ref().unwrap()),
    }
}

/// Returns the measure of one of what is needed.
pub(crate) fn measured(item: &Item, what: &What) -> Number {
    match what {
        What::Piece { length, .. } if item.form == Form::Linear => {
            Number::from_integer(length.clone())
        }
        What::Piece { length, width, .. } => Number::from_integer(length * width),
        What::Run if item.form == Form::Roll => roll_width(item),
        What::Whole(size) => size_measure(item, *size),
        What::Run | What::Amount => whole(1),
    }
}

/// Returns pounds per base unit of what the form measures.
pub(crate) fn pound_rate(item: &Item) -> Number {
    match &item.weight {
        Weight::None => whole(0),
        Weight::Per { pounds, measure, .. } => pounds / measure,
        Weight::WholeSize(pounds) => pounds / size_measure(item, 0),
        Weight::Density(pounds) => {
            let per_volume = pounds / (whole(FOOT) * whole(FOOT) * whole(FOOT));
            match item.form {
                Form::Bulk => per_volume,
                Form::Linear => {
                    let (_, thickness, width) = item.nominal.as_ref().unwrap();
                    per_volume * fraction(thickness * INCH, 64) * fraction(width * INCH, 64)
                }
                _ => per_volume * constant(item.thickness.as_ref().unwrap()),
            }
        }
    }
}
