//! Weighs builds and tells how they hang on hitch and axles: unloaded, with water, loaded to their rating.
//!
//! In: a book and its needs. Out: [`Loads`]: per build the weight of one unit by item, assembly and side, its spread, its
//! tanks, and per [`Condition`] the center of gravity with hitch, axle and wheel loads, held against the plan's ratings.
//! Two supports carry the trailer, coupler ball and axle group: the axle load is the first moment over the axle's position,
//! the hitch carries the rest.
//!
//! Always: figures are exact; x is counted back from the coupler ball, y to the right. Weight without a position is told,
//! taken to lie where the rest does, with the loads it would make at either end of the trailer.
//!
//! Not here: prices, nests, how hard an axle bounces, ratings other than those the plan states.

mod carried;
mod options;
mod placed;
mod plan;
mod ratings;
mod support;
mod weights;

use crate::diag::Checked;
use crate::diag::Diagnostic;
use crate::diag::Distinct;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::explode;
use crate::explode::{Build, Needs};
use crate::model::Book;
use crate::model::ItemId;
use crate::quantity::Ratio;

pub use carried::{Cargo, Tank};
pub use options::{OptionLoad, OptionLoads};
pub use plan::{Assumption, Geometry, TankKind};
pub use ratings::{Rating, RatingKind, coupling_class, relabel_limit};
pub use support::{Condition, ConditionKind, Sprung, Support};
pub use weights::{By, Profile, Side, Spread, WeightCell};

/// What is weighed beside the builds.
#[derive(Clone, Debug, Default)]
pub struct Options {
    /// Whether each option is weighed too.
    pub options: WeighOptions,
    /// What the needs were exploded with; read only where options are weighed.
    pub explode: explode::Options,
    /// Cargo that every plan carries beside that which it names itself.
    pub cargo: Vec<Cargo>,
}

/// Whether options are weighed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum WeighOptions {
    /// Only the builds are weighed.
    #[default]
    Left,
    /// Each option a plan can have is weighed, and all of them at their take rates and together.
    Weighed,
}

/// Weights and loads of builds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Loads {
    /// One per build of the needs, in that order.
    pub builds: Vec<BuildLoads>,
}

/// Weight and loads of one unit of a build. Weights and loads are in pounds, lengths in nanometers, unless told otherwise.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BuildLoads {
    /// Position in the builds of the needs.
    pub build: usize,
    /// Unloaded weight: all that the bill takes and that rides, propane with it where the bill has it, no water.
    pub weight: Ratio,
    /// Propane in it: bulk items whose name, description or group says so.
    pub propane: Ratio,
    /// The unloaded weight by item, assembly and side.
    pub cells: Vec<WeightCell>,
    /// How far the unloaded weight may differ by the items' tolerances.
    pub spread: Spread,
    /// What the plan says of its axles and floor.
    pub geometry: Geometry,
    /// The tanks that the plan has, full.
    pub tanks: Vec<Tank>,
    /// The cargo at given places.
    pub cargo: Vec<Cargo>,
    /// Unloaded first, then with water and cargo, then with the slide boxes out.
    pub conditions: Vec<Condition>,
    /// Height of the center of gravity above the bill's origin, unloaded; nothing where no weight has a z.
    pub height: Option<Ratio>,
    /// The plan's ratings, each with the highest load that falls to it.
    pub ratings: Vec<Rating>,
    /// Cargo the gross rating leaves: it less the unloaded weight; below zero where that is too much.
    pub capacity: Option<Ratio>,
    /// Weight without a position along the trailer by item, heaviest first.
    pub unplaced: Vec<(ItemId, Ratio)>,
    /// How many bill lines that weight is of.
    pub unplaced_lines: usize,
    /// Where the placed weight lies along the trailer; nothing where the bill is too wide to tell.
    pub profile: Option<Profile>,
    /// What had to be taken as given.
    pub assumptions: Vec<Assumption>,
    /// The options, where they are weighed.
    pub options: Option<OptionLoads>,
}

impl BuildLoads {
    /// Returns the loads of a condition, where the plan has it.
    #[must_use]
    pub fn condition(&self, kind: ConditionKind) -> Option<&Condition> {
        self.conditions.iter().find(|condition| condition.kind == kind)
    }

    /// Returns the gross weight rating of the plan.
    #[must_use]
    pub fn gross_rating(&self) -> Option<&Ratio> {
        let rating = self.ratings.iter().find(|rating| rating.kind == RatingKind::Gross);
        rating.map(|rating| &rating.limit)
    }
}

/// Weighs every build of the needs.
///
/// An axle position that a plan lacks is a gap: then its weights alone are told. Ratings that are exceeded or contradict each
/// other are warnings.
///
/// # Errors
/// A weight that leaves the range of the ledger's decimals.
///
/// # Example
/// ```
/// # use cutbill::explode::{self, explode};
/// # use cutbill::read::{Memory, read};
/// use cutbill::loads::{ConditionKind, Options, loads};
/// use cutbill::quantity::Ratio;
///
/// # let files = Memory::from_iter([
/// #     ("plans.csv", "plan,length,width,axle_position\nSedge,16 ft,8 ft,200 in\n"),
/// #     ("bill.csv", "parent,component,quantity,x,y\nSedge,STOVE,1,150 in,0 in\n"),
/// #     ("items.csv", "item,form,price,weight\nSTOVE,count,400,100 lb\n"),
/// # ]);
/// # let book = read(&files).unwrap().value;
/// # let needs = explode(&book, &explode::Options::default()).unwrap().value;
/// // 100 lb lie 150 in behind the coupler ball, the axle 200 in.
/// let loads = loads(&book, &needs, &Options::default()).unwrap().value;
/// let unloaded = loads.builds[0].condition(ConditionKind::Dry).unwrap();
/// assert_eq!(unloaded.support.as_ref().unwrap().hitch, Ratio::from(25));
/// ```
pub fn loads(
    book: &Book,
    needs: &Needs,
    options: &Options,
) -> Result<Checked<Loads>, Vec<Diagnostic>> {
    let mut findings = Distinct::default();
    let mut builds = Vec::with_capacity(needs.builds.len());
    for (index, build) in needs.builds.iter().enumerate() {
        let mut weighed = one(book, needs, (index, build), &options.cargo, &mut findings)?;
        if options.options == WeighOptions::Weighed {
            let found = options::options(book, needs, &weighed, &options.explode, &mut findings);
            weighed.options = Some(found);
        }
        builds.push(weighed);
    }
    Ok(Checked { value: Loads { builds }, warnings: findings.into_vec() })
}

fn one(
    book: &Book,
    needs: &Needs,
    (index, build): (usize, &Build),
    further: &[Cargo],
    findings: &mut Distinct,
) -> Result<BuildLoads, Vec<Diagnostic>> {
    let plan = &book.plans[build.plan.index()];
    let load = &needs.instances[build.root.index()].load;
    let placed = placed::placed(book, needs, build, findings);
    let cells = weights::cells(book, &placed).map_err(|error| vec![error])?;
    let (geometry, mut assumptions) = plan::geometry(book, plan, findings);
    let tanks = carried::tanks(book, plan, &geometry, &mut assumptions, findings);
    let mut cargo = carried::cargo(book, plan, &geometry, findings);
    cargo.extend_from_slice(further);
    carried::tell_off_floor(book, plan, &geometry, (&tanks, &cargo), findings);
    let limits = ratings::limits(book, plan, findings);
    let gross = limits.iter().find(|(kind, _)| *kind == RatingKind::Gross).map(|(_, limit)| limit);
    let carried = support::Carried { tanks: &tanks, cargo: &cargo, gross };
    let conditions = support::conditions(load, &geometry, &carried);
    let ratings = ratings::ratings(&limits, &geometry, &conditions);
    ratings::check(book, plan, &ratings, &conditions, findings);
    if geometry.axle.is_some() && !load.weight.is_zero() && load.weight == load.unplaced[0] {
        let problem = Problem::PositionsMissing { plan: plan.name.clone() };
        let place = book.place(plan.row, None);
        let finding = Diagnostic::new(Severity::Gap, place, problem);
        let hint = "give lines of the plan an `x`, back from the coupler ball";
        findings.insert(finding.with_hint(hint));
    } else if !load.unplaced[0].is_zero() {
        assumptions.push(Assumption::UnplacedAtCenter);
    }
    let of_placed =
        |axis: usize| load.moments[axis].checked_div(&(&load.weight - &load.unplaced[axis]));
    Ok(BuildLoads {
        build: index,
        weight: load.weight.clone(),
        propane: weights::propane(book, &placed.lines),
        cells,
        spread: weights::spread(book, &placed.lines),
        capacity: gross.map(|gross| gross - &load.weight),
        profile: weights::profile(&placed, &geometry),
        geometry,
        tanks,
        cargo,
        conditions,
        height: of_placed(2),
        ratings,
        unplaced: weights::unplaced(&placed),
        unplaced_lines: if placed.has_places { placed.unplaced } else { 0 },
        assumptions,
        options: None,
    })
}
