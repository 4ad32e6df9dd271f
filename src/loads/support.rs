use crate::diag::Distinct;
use crate::explode::Load;
use crate::loads::plan::{Assumption, Geometry, TankKind, value};
use crate::model::Book;
use crate::model::Plan;
use crate::quantity::Dimension;
use crate::quantity::Length;
use crate::quantity::Ratio;

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

/// What a trailer carries.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ConditionKind {
    /// Nothing: unloaded, no water.
    Dry,
    /// Fresh water full.
    Fresh,
    /// Gray and black water full.
    Waste,
    /// All tanks full.
    Tanks,
    /// Cargo up to the gross rating, no water.
    Cargo,
    /// All tanks full, and cargo up to the gross rating.
    Loaded,
}

impl ConditionKind {
    /// Returns what people call it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            ConditionKind::Dry => "unloaded",
            ConditionKind::Fresh => "fresh full",
            ConditionKind::Waste => "gray, black full",
            ConditionKind::Tanks => "tanks full",
            ConditionKind::Cargo => "cargo to gvwr",
            ConditionKind::Loaded => "tanks, cargo to gvwr",
        }
    }

    /// Tells whether a tank is full.
    fn fills(self, tank: TankKind) -> bool {
        match self {
            ConditionKind::Dry | ConditionKind::Cargo => false,
            ConditionKind::Fresh => tank == TankKind::Fresh,
            ConditionKind::Waste => tank != TankKind::Fresh,
            ConditionKind::Tanks | ConditionKind::Loaded => true,
        }
    }
}

/// A build with what it carries.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Condition {
    /// Which.
    pub kind: ConditionKind,
    /// All of it, in pounds.
    pub weight: Ratio,
    /// Water in it.
    pub water: Ratio,
    /// Cargo in it.
    pub cargo: Ratio,
    /// How it hangs; nothing where that cannot be told.
    pub support: Option<Support>,
}

/// How a weight hangs on hitch and axles, in pounds; lengths in nanometers.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Support {
    /// Center of gravity, back from the coupler ball.
    pub center_back: Ratio,
    /// Center of gravity, to the right of the center line.
    pub center_right: Ratio,
    /// Load on the coupling; below zero it pulls up.
    pub hitch: Ratio,
    /// Load on the axle group. With the hitch load it is the weight.
    pub axle: Ratio,
    /// Load on each axle, all alike.
    pub each_axle: Ratio,
    /// Load on the left and on the right wheels of the group; nothing where the track is not known.
    pub wheels: Option<[Ratio; 2]>,
    /// The hitch load if all weight without a position sat at the rear end, and if it sat at the coupler; nothing where the
    /// rear end is not known.
    pub hitch_range: Option<[Ratio; 2]>,
}

impl Support {
    /// Returns the share of the weight that the hitch carries.
    #[must_use]
    pub fn hitch_share(&self) -> Option<Ratio> {
        self.hitch.checked_div(&(&self.hitch + &self.axle))
    }
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

/// Weight with its moments about the coupler ball, once where weight without a position lies as the rest does, and at
/// either end.
#[derive(Clone)]
pub(super) struct Moments {
    weight: Ratio,
    back: Option<Ratio>,
    right: Ratio,
    at_coupler: Ratio,
    at_rear: Option<Ratio>,
}

impl Moments {
    pub(super) fn of(load: &Load, geometry: &Geometry) -> Moments {
        let unplaced = &load.unplaced[0];
        let at_coupler = load.moments[0].clone();
        let back = if unplaced.is_zero() {
            Some(at_coupler.clone())
        } else {
            let placed = &load.weight - unplaced;
            (&at_coupler * &load.weight).checked_div(&placed)
        };
        let at_rear = geometry.rear.as_ref().map(|rear| &at_coupler + &(unplaced * rear));
        Moments {
            weight: load.weight.clone(),
            back,
            right: load.moments[1].clone(),
            at_coupler,
            at_rear,
        }
    }

    fn add(&mut self, weight: &Ratio, x: Option<&Ratio>, y: &Ratio) {
        self.weight += weight;
        self.right += &(weight * y);
        let Some(x) = x else {
            // With something that lies nowhere, nothing can be told of where all lies.
            self.back = None;
            return;
        };
        let moment = weight * x;
        self.at_coupler += &moment;
        for sum in [&mut self.back, &mut self.at_rear].into_iter().flatten() {
            *sum += &moment;
        }
    }

    /// Returns how the weight hangs, by the moments about the coupler ball.
    pub(super) fn support(&self, geometry: &Geometry) -> Option<Support> {
        let (axle_back, back) = (geometry.axle.as_ref()?, self.back.as_ref()?);
        let center_back = back.checked_div(&self.weight)?;
        let center_right = self.right.checked_div(&self.weight)?;
        let axle = back.checked_div(axle_back)?;
        let hitch_at = |moment: &Ratio| Some(&self.weight - &moment.checked_div(axle_back)?);
        let hitch = hitch_at(back)?;
        let count = Ratio::from(i64::from(geometry.axle_count));
        let each_axle = axle.checked_div(&count)?;
        let wheels = geometry.track.as_ref().and_then(|track| {
            // The ball carries no roll, so the wheels take all of the moment about the center line.
            let half = &axle * &Ratio::decimal(5, 1);
            let shift = self.right.checked_div(track)?;
            Some([&half - &shift, half + &shift])
        });
        let at_rear = self.at_rear.as_ref().and_then(hitch_at);
        let hitch_range = at_rear.zip(hitch_at(&self.at_coupler)).map(|(low, high)| [low, high]);
        Some(Support { center_back, center_right, hitch, axle, each_axle, wheels, hitch_range })
    }
}

/// Returns what a build may carry: those conditions that its tanks and its gross rating make different.
pub(super) fn conditions(
    load: &Load,
    geometry: &Geometry,
    tanks: &[Tank],
    gross: Option<&Ratio>,
) -> Vec<Condition> {
    let has = |kinds: &[TankKind]| tanks.iter().any(|tank| kinds.contains(&tank.kind));
    let (fresh, waste) = (has(&[TankKind::Fresh]), has(&[TankKind::Gray, TankKind::Black]));
    let all = [
        (ConditionKind::Dry, true),
        (ConditionKind::Fresh, fresh),
        (ConditionKind::Waste, waste),
        (ConditionKind::Tanks, fresh && waste),
        (ConditionKind::Cargo, gross.is_some()),
        (ConditionKind::Loaded, gross.is_some() && (fresh || waste)),
    ];
    let dry = Moments::of(load, geometry);
    let kinds = all.into_iter().filter(|(_, is_there)| *is_there).map(|(kind, _)| kind);
    kinds
        .map(|kind| {
            let mut moments = dry.clone();
            let mut water = Ratio::ZERO;
            for tank in tanks.iter().filter(|tank| kind.fills(tank.kind)) {
                water += &tank.weight;
                moments.add(&tank.weight, tank.x.as_ref(), &tank.y);
            }
            let takes_cargo = matches!(kind, ConditionKind::Cargo | ConditionKind::Loaded);
            let room = gross.map(|gross| gross - &moments.weight);
            let cargo = room.filter(|room| takes_cargo && *room > Ratio::ZERO);
            if let Some(cargo) = &cargo {
                moments.add(cargo, geometry.cargo.as_ref(), &Ratio::ZERO);
            }
            let support = moments.support(geometry);
            let cargo = cargo.unwrap_or(Ratio::ZERO);
            Condition { kind, weight: moments.weight, water, cargo, support }
        })
        .collect()
}
