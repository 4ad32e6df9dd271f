//! What the stations have to cut on one day, nested station by station, and which unit each piece is for.
//!
//! A unit of the schedule is on a station on the day that the components of an assembly of that station are needed, as
//! orders reckon it: so many working days before the unit is due as lead times and offsets say. What that takes of pieces
//! and runs is laid out as if the station were a plan of its own, so every answer about a plan's nests holds for it.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;
use std::rc::Rc;

use indexmap::IndexSet;
use jiff::civil::Date;

use crate::diag::Checked;
use crate::diag::Diagnostic;
use crate::diag::Distinct;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::diag::{did_you_mean, nearest};
use crate::explode;
use crate::explode::{Build, Configured, Instance, InstanceId, Load, Needs, Source, Take, Taken};
use crate::model::{
    AssemblyId, BillLine, Book, Component, ItemId, LineId, Parent, Plan, PlanId, ScheduleRow,
    SwapRow,
};
use crate::nest;
use crate::nest::Piece;
use crate::orders::{Changes, Configuration, Steps, each_line, working_day};
use crate::quantity::Ratio;
use crate::rollup;
use crate::rollup::{BuildCost, Rollup};
use crate::shop::hand;
use crate::shop::merge::fewer;
use crate::watch::Watch;

/// What assemblies without a station are headed by.
pub const NO_STATION: &str = "no station";

/// What a shop asks for.
#[derive(Clone, Debug, Default)]
pub struct Asked {
    /// The day; the book's `as_of` if not said.
    pub on: Option<Date>,
    /// The one station asked for; every station if not said.
    pub station: Option<String>,
    /// Units of these plans only; of all if there are none.
    pub plans: Vec<PlanId>,
    /// How many different layouts a nest may have, where that costs nothing.
    pub layouts: Option<u64>,
    /// Whether offcuts on hand are left where they are.
    pub new_stock_only: bool,
    /// How hard nests are searched for.
    pub nest: nest::Options,
}

/// A day of the shop: a plan for each station, rolled up.
#[derive(Clone, Debug)]
pub struct Day {
    /// The day.
    pub day: Date,
    /// The book, with a plan for each station behind its own.
    pub book: Book,
    /// What each station takes, a build each.
    pub needs: Needs,
    /// The nests of each station, in the order of the builds; without burdens.
    pub rollup: Rollup,
    /// Units that have something cut that day, in the order of the schedule.
    pub units: Vec<Unit>,
    /// What pieces are for, for each build and item.
    purposes: BTreeMap<(usize, ItemId), Vec<(PieceKey, Purpose)>>,
}

/// A unit of the schedule.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unit {
    /// Its number, or its build order, or else its plan and day, with its place in the row of the schedule.
    pub name: String,
    /// The plan.
    pub plan: PlanId,
    /// The build order; empty if not said.
    pub order: String,
    /// The day it is due.
    pub due: Date,
}

/// What a placed piece is for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Placed {
    /// Position in the layouts of the nest.
    pub layout: usize,
    /// Which of the stocks that are cut this way; from 0.
    pub copy: u64,
    /// Position in the layout's placements.
    pub placement: usize,
    /// What it is for: the unit, and the assembly; nothing for pieces that are cut in case others are spoiled.
    pub purpose: Option<(usize, String)>,
}

/// How much of one piece one unit needs for one assembly.
#[derive(Clone, Debug)]
struct Purpose {
    unit: usize,
    assembly: String,
    good: Ratio,
}

/// What tells the pieces of an item apart: [`Piece`] without its count.
type PieceKey = Piece;

impl Day {
    /// Returns which unit each placed piece of a nest is for: units in the order of the schedule get theirs in the order of
    /// layouts, of the stocks that are cut so, and of placements.
    #[must_use]
    pub fn placed(&self, build: usize, item: ItemId) -> Vec<Placed> {
        let cost = self.rollup.builds[build].items.iter().find(|cost| cost.item == item);
        let Some(nested) = cost.and_then(|cost| cost.nested.as_ref()) else { return Vec::new() };
        let no_purposes = Vec::new();
        let purposes = self.purposes.get(&(build, item)).unwrap_or(&no_purposes);
        let mut queues: Vec<Queue<'_>> =
            nested.instance.pieces.iter().map(|piece| Queue::new(piece, purposes)).collect();
        let mut placed = Vec::new();
        for (position, layout) in nested.nest.layouts.iter().enumerate() {
            for copy in 0..layout.repeat {
                for (placement, at) in layout.placements.iter().enumerate() {
                    let purpose = queues[at.piece]
                        .next()
                        .map(|purpose| (purpose.unit, purpose.assembly.clone()));
                    placed.push(Placed { layout: position, copy, placement, purpose });
                }
            }
        }
        placed
    }
}

/// The purposes of one piece, handed out one after the other.
struct Queue<'a> {
    purposes: Vec<&'a Purpose>,
    /// Pieces handed out so far.
    given: i64,
    /// What the purposes up to the first one need.
    needed: Ratio,
    first: usize,
}

impl<'a> Queue<'a> {
    fn new(piece: &Piece, purposes: &'a [(PieceKey, Purpose)]) -> Queue<'a> {
        let key = Piece { count: 1, ..piece.clone() };
        let purposes: Vec<&Purpose> = purposes
            .iter()
            .filter(|(known, _)| *known == key)
            .map(|(_, purpose)| purpose)
            .collect();
        let needed = purposes.first().map_or(Ratio::ZERO, |purpose| purpose.good.clone());
        Queue { purposes, given: 0, needed, first: 0 }
    }

    /// Returns what the next piece is for. Shares of pieces add up: the piece that fills one unit's share to the full is
    /// that unit's.
    fn next(&mut self) -> Option<&'a Purpose> {
        while self.needed <= Ratio::from(self.given) {
            self.first += 1;
            let next = self.purposes.get(self.first)?;
            self.needed += &next.good;
        }
        self.given += 1;
        self.purposes.get(self.first).copied()
    }
}

/// Lays out what the stations cut on a day.
///
/// # Errors
/// No day, no schedule, nothing to cut, a station that the book does not know, and what exploding finds wrong.
pub fn day(book: &Book, asked: &Asked, watch: &dyn Watch) -> Result<Checked<Day>, Vec<Diagnostic>> {
    let Some(day) = asked.on.or(book.as_of()) else {
        let error = Diagnostic::placeless(Problem::DayMissing);
        return Err(vec![error.with_hint("name it with `--on`, or give `as_of` in `settings`")]);
    };
    if book.schedule.is_empty() {
        let error = Diagnostic::placeless(Problem::ScheduleMissing);
        let hint = "table `schedule` says how many units of a plan are due when";
        return Err(vec![error.with_hint(hint)]);
    }
    let station = asked.station.as_deref().map(|name| known_station(book, name)).transpose()?;
    let mut findings = Distinct::default();
    let states = evaluated(book, asked, day, &mut findings)?;
    let mut work = Work { book, day, station: station.as_deref(), ..Work::new(book, day) };
    for row in &states {
        work.add(row);
    }
    let Work { lines, units, built_ahead, assumed, others, .. } = work;
    if lines.is_empty() {
        return Err(vec![nothing(day, station, &others)]);
    }
    for row in assumed {
        let row = &book.schedule[row];
        let plan = book.plans[row.plan.index()].name.clone();
        let problem = Problem::OptionsAssumed { plan, units: row.units };
        let place = book.place(row.row, Some("options"));
        findings.insert(Diagnostic::new(Severity::Warning, place, problem));
    }
    if !built_ahead.is_empty() {
        let problem = Problem::BuiltAhead { assemblies: built_ahead.into_iter().collect() };
        findings.insert(Diagnostic { severity: Severity::Note, ..Diagnostic::placeless(problem) });
    }
    let whole = book;
    let (mut book, needs, purposes) = as_plans(whole, day, &lines);
    let items: BTreeSet<ItemId> = lines.iter().map(|line| line.item).collect();
    if !asked.new_stock_only && hand::has_offcuts(&book, &items) {
        if let Some(station) = station {
            // A station by itself leaves the others theirs.
            let everywhere = self::day(whole, &Asked { station: None, ..asked.clone() }, watch)?;
            hand::leave(&mut book, &everywhere.value, &station);
        }
        hand::add(&mut book, &items);
    }
    let mut book = book.index();
    let stations: Vec<String> =
        needs.builds.iter().map(|build| book.plans[build.plan.index()].name.clone()).collect();
    let names: Vec<String> = book.items.iter().map(|item| item.name.clone()).collect();
    let mut after = |cost: &mut BuildCost| {
        cost.burdens.clear();
        let Some(limit) = asked.layouts else { return };
        for item in &mut cost.items {
            let Some(nested) = &mut item.nested else { continue };
            fewer(&nested.instance, &mut nested.nest, limit, asked.nest, watch);
            let layouts = nested.nest.layouts.len();
            if u64::try_from(layouts).is_ok_and(|layouts| layouts > limit) {
                let item = names[item.item.index()].clone();
                let station = stations[cost.build].clone();
                let problem = Problem::LayoutsAbove { station, item, layouts, limit };
                findings.insert(Diagnostic {
                    severity: Severity::Warning,
                    ..Diagnostic::placeless(problem)
                });
            }
        }
    };
    let options = rollup::Options { lot: Some(1), nest: asked.nest };
    let rolled = hand::roll(&mut book, &needs, options, watch, &mut after)?;
    findings.extend(rolled.warnings);
    let found = Day { day, book, needs, rollup: rolled.value, units, purposes };
    Ok(Checked { value: found, warnings: findings.into_vec() })
}

/// Returns the station as the book writes it.
fn known_station(book: &Book, name: &str) -> Result<String, Vec<Diagnostic>> {
    let stations: BTreeSet<&str> = book
        .assemblies
        .iter()
        .map(|assembly| assembly.station.as_str())
        .filter(|station| !station.is_empty())
        .chain([NO_STATION])
        .collect();
    let name = name.trim();
    if let Some(known) = stations.iter().find(|known| known.eq_ignore_ascii_case(name)) {
        return Ok((*known).to_owned());
    }
    let problem = Problem::NameUnknown { what: "station".to_owned(), name: name.to_owned() };
    let hint = nearest(name, stations.iter().copied()).map_or_else(
        || {
            let names: Vec<&str> = stations.iter().copied().collect();
            format!("there are {}", names.join(", "))
        },
        did_you_mean,
    );
    Err(vec![Diagnostic::placeless(problem).with_hint(hint)])
}

fn nothing(day: Date, station: Option<String>, others: &Others) -> Diagnostic {
    let on_day = others.stations.iter().cloned().collect();
    let problem = Problem::NothingToCut { day: day.to_string(), station, others: on_day };
    let error = Diagnostic::placeless(problem);
    let mut near: Vec<String> =
        [others.before, others.after].into_iter().flatten().map(|day| day.to_string()).collect();
    near.dedup();
    match near.as_slice() {
        [] => error,
        [one] => error.with_hint(format!("the nearest day with work is {one}")),
        _ => error.with_hint(format!("the nearest days with work are {}", near.join(" and "))),
    }
}

/// Units of one row of the schedule that are built alike, with what one of them is.
struct Stretch {
    /// Position in the schedule.
    row: usize,
    /// Positions within the row.
    units: Range<u32>,
    due: Date,
    /// The book with the changes that hold for them; the book itself without.
    book: Rc<Option<Book>>,
    needs: Rc<Needs>,
    root: InstanceId,
}

/// A state of the bill, with the number of a unit that stands for the stretch.
type State = (usize, Option<u32>, Vec<usize>);

/// A stretch before it is evaluated: row, units, day, state, and its position among the configurations of the state.
type Draft = (usize, Range<u32>, Date, State, usize);

/// Evaluates every row of the schedule that is due on the day or later: nothing is needed after it is due.
fn evaluated(
    book: &Book,
    asked: &Asked,
    day: Date,
    findings: &mut Distinct,
) -> Result<Vec<Stretch>, Vec<Diagnostic>> {
    let changes = Changes::new(book, &|_: &SwapRow| None);
    let steps = Steps::new(book, &changes);
    let mut states: BTreeMap<State, (Date, IndexSet<Configured>)> = BTreeMap::new();
    let mut drafts: Vec<Draft> = Vec::new();
    for (position, row) in book.schedule.iter().enumerate() {
        let due = working_day(book, row.day);
        let is_asked = asked.plans.is_empty() || asked.plans.contains(&row.plan);
        if row.units == 0 || due < day || !is_asked {
            continue;
        }
        let configured = configured(book, row);
        let configuration = Configuration {
            chosen: configured.chosen.clone(),
            without: configured.without.clone(),
        };
        let units = Ratio::from(i64::from(row.units));
        let mut next = 0;
        for (part, count, first) in steps.stretches(row.first_unit, &units) {
            let count = count.to_integer().and_then(|count| u32::try_from(count).ok()).unwrap_or(0);
            let holding = changes.holding(book, row.plan, due, first, &configuration);
            let state = (steps.day(due), part, holding);
            let (_, wanted) = states.entry(state.clone()).or_insert_with(|| (due, IndexSet::new()));
            let (at, _) = wanted.insert_full(configured.clone());
            drafts.push((position, next..next + count, due, state, at));
            next += count;
        }
    }
    let mut done = BTreeMap::new();
    let mut errors = Distinct::default();
    for (state, (due, wanted)) in states {
        let rows: Vec<&SwapRow> = state.2.iter().map(|row| &book.swaps[*row]).collect();
        let changed = (!rows.is_empty()).then(|| book.changed(&rows));
        let wanted: Vec<Configured> = wanted.into_iter().collect();
        let of = changed.as_ref().unwrap_or(book);
        match explode::explode_configured(of, &wanted, Some(due), state.1) {
            Ok(needs) => {
                findings.extend(needs.warnings);
                let needs = Rc::new(needs.value);
                done.insert(state, (Rc::new(changed), needs));
            }
            Err(found) => errors.extend(found),
        }
    }
    if !errors.is_empty() {
        return Err(errors.into_vec());
    }
    let stretch = |(row, units, due, state, at): Draft| {
        let (book, needs) = &done[&state];
        let root = needs.builds[at].root;
        Stretch { row, units, due, book: book.clone(), needs: needs.clone(), root }
    };
    Ok(drafts.into_iter().map(stretch).collect())
}

/// Returns the plan of a row with the options its order names. Where it names any, a standard option that belongs to no
/// choice is there only if it is named; without a word the standard ones are taken.
fn configured(book: &Book, row: &ScheduleRow) -> Configured {
    let chosen = row.chosen.clone().unwrap_or_default();
    let mut taken = BTreeSet::new();
    book.take_options(row.plan, chosen.iter().copied(), &mut taken);
    let options = (0_u32..).map(crate::model::OptionId).zip(&book.options);
    let without = options
        .filter(|(id, option)| {
            row.chosen.is_some()
                && option.is_standard
                && option.choice.is_none()
                && !taken.contains(id)
        })
        .map(|(id, _)| id)
        .collect();
    Configured { plan: row.plan, chosen, without }
}

/// Days and stations that have work where what is asked for has none.
#[derive(Default)]
struct Others {
    /// Stations of the day.
    stations: BTreeSet<String>,
    /// The last day before, and the first day after.
    before: Option<Date>,
    after: Option<Date>,
}

/// One bill line of one assembly, for units that are built alike.
struct WorkLine {
    station: String,
    line: BillLine,
    item: ItemId,
    assembly: String,
    taken: Taken,
    /// How often one unit takes it.
    times: Ratio,
    units: Vec<usize>,
}

/// What is gathered of a day.
struct Work<'a> {
    book: &'a Book,
    day: Date,
    station: Option<&'a str>,
    lines: Vec<WorkLine>,
    units: Vec<Unit>,
    built_ahead: BTreeSet<String>,
    /// Rows of the schedule whose options are not said.
    assumed: BTreeSet<usize>,
    others: Others,
}

impl<'a> Work<'a> {
    fn new(book: &'a Book, day: Date) -> Work<'a> {
        Work {
            book,
            day,
            station: None,
            lines: Vec::new(),
            units: Vec::new(),
            built_ahead: BTreeSet::new(),
            assumed: BTreeSet::new(),
            others: Others::default(),
        }
    }

    /// Adds what units that are built alike have cut on the day.
    fn add(&mut self, stretch: &Stretch) {
        let book = stretch.book.as_ref().as_ref().unwrap_or(self.book);
        let needs = stretch.needs.as_ref();
        let mut found: Vec<(Source, Ratio)> = Vec::new();
        each_line(book, needs, &[(stretch.root, Ratio::ONE)], &mut |source, days, times| {
            let taken = needs.taken(source);
            let on = book.calendar.before(stretch.due, days).unwrap_or(stretch.due);
            let line = book.line(taken.line);
            match (&taken.take, line.component) {
                (Take::Assembly(_), Component::Assembly(assembly)) => {
                    let station = station_of(book, Parent::Assembly(assembly));
                    if on == self.day && self.is_asked(station) {
                        let name = book.assemblies[assembly.index()].name.clone();
                        self.built_ahead.insert(name);
                    }
                }
                (Take::Pieces(_) | Take::Run(_), Component::Item(item))
                    if book.item(item).is_nested() =>
                {
                    let station = station_of(book, needs.instances[source.instance.index()].parent);
                    let is_asked = self.is_asked(station);
                    if on == self.day && is_asked {
                        found.push((source, times * &taken.quantity));
                    } else {
                        self.others.see(self.day, on, station, is_asked);
                    }
                }
                _ => {}
            }
        });
        if found.is_empty() {
            return;
        }
        let row = &self.book.schedule[stretch.row];
        if row.chosen.is_none() && !self.book.options.is_empty() {
            self.assumed.insert(stretch.row);
        }
        let first = self.units.len();
        self.units.extend(stretch.units.clone().map(|index| unit(self.book, row, index)));
        let units: Vec<usize> = (first..self.units.len()).collect();
        found.sort_by_key(|(source, _)| (needs.taken(*source).line, *source));
        for (source, times) in found {
            let taken = needs.taken(source);
            let line = book.line(taken.line);
            let Component::Item(item) = line.component else { continue };
            let parent = needs.instances[source.instance.index()].parent;
            self.lines.push(WorkLine {
                station: station_of(book, parent).to_owned(),
                line: line.clone(),
                item,
                assembly: book.parent_name(parent).to_owned(),
                taken: taken.clone(),
                times,
                units: units.clone(),
            });
        }
    }

    fn is_asked(&self, station: &str) -> bool {
        self.station.is_none_or(|asked| asked.eq_ignore_ascii_case(station))
    }
}

impl Others {
    fn see(&mut self, day: Date, on: Date, station: &str, is_asked: bool) {
        if on == day {
            self.stations.insert(station.to_owned());
        }
        if is_asked && on < day {
            self.before = self.before.max(Some(on));
        }
        if is_asked && on > day {
            self.after = Some(self.after.map_or(on, |after| after.min(on)));
        }
    }
}

fn station_of(book: &Book, parent: Parent) -> &str {
    match parent {
        Parent::Assembly(assembly) => match book.assemblies[assembly.index()].station.trim() {
            "" => NO_STATION,
            station => station,
        },
        Parent::Plan(_) | Parent::Option(_) => NO_STATION,
    }
}

fn unit(book: &Book, row: &ScheduleRow, index: u32) -> Unit {
    let plan = &book.plans[row.plan.index()].name;
    let name = match row.first_unit {
        Some(first) => format!("#{}", first.saturating_add(index)),
        None if row.order.is_empty() => format!("{plan} {}/{}", row.day, index + 1),
        None => format!("{}/{}", row.order, index + 1),
    };
    Unit { name, plan: row.plan, order: row.order.clone(), due: row.day }
}

type Purposes = BTreeMap<(usize, ItemId), Vec<(PieceKey, Purpose)>>;

/// Returns the book with a plan for each station, to be indexed, what each takes, and what that is for. Stations stand in
/// the order of their first assembly.
fn as_plans(book: &Book, day: Date, lines: &[WorkLine]) -> (Book, Needs, Purposes) {
    let order = |station: &str| {
        let is_its = |assembly: &AssemblyId| {
            station_of(book, Parent::Assembly(*assembly)).eq_ignore_ascii_case(station)
        };
        (0_u32..)
            .map(AssemblyId)
            .take(book.assemblies.len())
            .find(is_its)
            .filter(|_| station != NO_STATION)
    };
    let mut stations: Vec<String> = Vec::new();
    for line in lines {
        if !stations.iter().any(|known| known.eq_ignore_ascii_case(&line.station)) {
            stations.push(line.station.clone());
        }
    }
    stations.sort_by_key(|station| order(station).map_or(usize::MAX, AssemblyId::index));
    let mut shop = book.clone();
    let mut needs = Needs { on: Some(day), ..Needs::default() };
    let mut purposes = Purposes::new();
    for (build, station) in stations.iter().enumerate() {
        let plan = PlanId(position(shop.plans.len()));
        shop.plans.push(Plan {
            name: station.clone(),
            description: String::new(),
            values: Vec::new(),
            attributes: Vec::new(),
            row: book.schedule[0].row,
        });
        let mut taken = Vec::new();
        for work in lines.iter().filter(|work| work.station.eq_ignore_ascii_case(station)) {
            let line = LineId(position(shop.lines.len()));
            // A changed book may have assemblies of its own; they have the names of those they are copies of.
            let parent = book
                .assemblies
                .iter()
                .position(|assembly| assembly.name == work.assembly)
                .map_or(Parent::Plan(plan), |index| Parent::Assembly(AssemblyId(position(index))));
            shop.lines.push(BillLine { parent, ..work.line.clone() });
            let count = i64::try_from(work.units.len()).unwrap_or(i64::MAX);
            taken.push(Taken {
                line,
                quantity: &work.times * &Ratio::from(count),
                ..work.taken.clone()
            });
            let Take::Pieces(cuts) = &work.taken.take else { continue };
            let known = purposes.entry((build, work.item)).or_default();
            for cut in cuts {
                let key = Piece {
                    length: cut.length,
                    width: cut.width,
                    count: 1,
                    may_turn: cut.may_turn,
                    edges: cut.edges,
                };
                let good = &work.times * &Ratio::from(i64::from(cut.count));
                for unit in &work.units {
                    let assembly = work.assembly.clone();
                    let purpose = Purpose { unit: *unit, assembly, good: good.clone() };
                    known.push((key.clone(), purpose));
                }
            }
        }
        let root = InstanceId(position(needs.instances.len()));
        needs.instances.push(Instance {
            parent: Parent::Plan(plan),
            values: Vec::new(),
            lines: taken,
            load: Load::default(),
        });
        needs.builds.push(Build { plan, options: Vec::new(), root });
    }
    for known in purposes.values_mut() {
        known.sort_by_key(|(_, purpose)| purpose.unit);
    }
    (shop, needs, purposes)
}

fn position(index: usize) -> u32 {
    u32::try_from(index).expect("lines and plans are counted in a u32")
}
