use crate::diag::Diagnostic;
use crate::diag::Distinct;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::loads::plan::{Assumption, Geometry, TankKind, length_text, value};
use crate::model::Book;
use crate::model::Plan;
use crate::quantity::Dimension;
use crate::quantity::Length;
use crate::quantity::Ratio;

/// What a named dimension ends in that gives the weight of cargo at a place.
const CARGO: &str = "_cargo";

/// A tank, full of water.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Tank {
    /// What it holds.
    pub kind: TankKind,
    /// Volume in cubic nanometers; above zero.
    pub volume: Ratio,
    /// Its water in pounds, 8.3 of them a gallon.
    pub weight: Ratio,
    /// Its water in kilograms, one a liter.
    pub kilograms: Ratio,
    /// Back from the coupler ball; nothing where neither the tank nor the axle has a position.
    pub x: Option<Ratio>,
    /// To the right of the center line.
    pub y: Ratio,
    /// Whether its x was taken as that of the axles.
    pub is_assumed: bool,
}

impl Tank {
    /// Returns its volume in gallons.
    #[must_use]
    pub fn gallons(&self) -> Ratio {
        self.volume.checked_div(&gallon()).expect("a gallon is not zero")
    }
}

/// Cargo that lies at a place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cargo {
    /// What it is called.
    pub name: String,
    /// Pounds; above zero.
    pub weight: Ratio,
    /// Back from the coupler ball; nothing where neither it nor the floor has a position.
    pub x: Option<Ratio>,
    /// To the right of the center line.
    pub y: Ratio,
    /// Whether its x was taken as that of all other cargo.
    pub is_assumed: bool,
}

/// Pounds of water in a gallon, as the federal trailer label counts it (FMVSS 110 and 120): 8.3.
fn water_rate() -> Ratio {
    Ratio::decimal(83, 1)
}

/// A gallon of 231 cubic inches.
fn gallon() -> Ratio {
    Ratio::whole(231) * Length::INCH.to_ratio().power(3)
}

/// A liter is a cube of 100 mm.
fn liter() -> Ratio {
    (Length::MILLIMETER.to_ratio() * Ratio::whole(100)).power(3)
}

/// Returns the tanks of a plan that have a volume.
pub(super) fn tanks(
    book: &Book,
    plan: &Plan,
    geometry: &Geometry,
    assumptions: &mut Vec<Assumption>,
    findings: &mut Distinct,
) -> Vec<Tank> {
    let mut tanks = Vec::new();
    for kind in TankKind::ALL {
        let mut dimension = |name: &str, dimension| value(book, plan, name, dimension, findings);
        let Some(volume) = dimension(kind.name(), Dimension::VOLUME) else { continue };
        if volume <= Ratio::ZERO {
            continue;
        }
        let own = dimension(&format!("{}_x", kind.name()), Dimension::LENGTH);
        let y = dimension(&format!("{}_y", kind.name()), Dimension::LENGTH);
        let is_assumed = own.is_none();
        let x = own.or_else(|| geometry.axle.clone());
        if is_assumed && x.is_some() {
            assumptions.push(Assumption::TankAtAxles(kind));
        }
        let per = |unit: &Ratio| volume.checked_div(unit).expect("a unit of volume is not zero");
        let weight = per(&gallon()) * water_rate();
        let kilograms = per(&liter());
        let y = y.unwrap_or(Ratio::ZERO);
        tanks.push(Tank { kind, volume, weight, kilograms, x, y, is_assumed });
    }
    tanks
}

/// Tells tanks and cargo that lie ahead of the floor or past its rear end.
pub(super) fn tell_off_floor(
    book: &Book,
    plan: &Plan,
    geometry: &Geometry,
    (tanks, cargo): (&[Tank], &[Cargo]),
    findings: &mut Distinct,
) {
    let Some((front, rear)) = geometry.front.as_ref().zip(geometry.rear.as_ref()) else { return };
    let tanks = tanks.iter().filter(|tank| !tank.is_assumed).map(|tank| {
        let name = tank.kind.name();
        (format!("tank `{name}`"), Some(format!("{name}_x")), &tank.x)
    });
    let cargo = cargo.iter().filter(|cargo| !cargo.is_assumed).map(|cargo| {
        let column = format!("{}{CARGO}", cargo.name.replace(' ', "_"));
        let is_own = plan.values.iter().any(|(known, _)| *known == column);
        (format!("cargo `{}`", cargo.name), is_own.then(|| format!("{column}_x")), &cargo.x)
    });
    for (what, column, x) in tanks.chain(cargo) {
        let Some(x) = x.as_ref().filter(|x| *x < front || *x > rear) else { continue };
        let problem = Problem::OffTheFloor {
            plan: plan.name.clone(),
            what,
            at: length_text(x),
            front: length_text(front),
            rear: length_text(rear),
        };
        let place = book.place(plan.row, column.as_deref());
        findings.insert(Diagnostic::new(Severity::Warning, place, problem));
    }
}

/// Returns the cargo that a plan puts at places: a weight in a column such as `galley_cargo`, with `galley_cargo_x` and
/// `galley_cargo_y`.
pub(super) fn cargo(
    book: &Book,
    plan: &Plan,
    geometry: &Geometry,
    findings: &mut Distinct,
) -> Vec<Cargo> {
    let mut found = Vec::new();
    for (column, measure) in &plan.values {
        let name = column.strip_suffix(CARGO).filter(|name| !name.is_empty());
        let Some(name) = name.filter(|_| !measure.value.is_zero()) else { continue };
        let mut dimension = |name: &str, dimension| value(book, plan, name, dimension, findings);
        let Some(weight) = dimension(column, Dimension::WEIGHT) else { continue };
        if weight < Ratio::ZERO {
            continue;
        }
        let own = dimension(&format!("{column}_x"), Dimension::LENGTH);
        let y = dimension(&format!("{column}_y"), Dimension::LENGTH).unwrap_or(Ratio::ZERO);
        let is_assumed = own.is_none();
        let x = own.or_else(|| geometry.cargo.clone());
        found.push(Cargo { name: name.replace('_', " "), weight, x, y, is_assumed });
    }
    found
}
