use crate::explode::Load;
use crate::loads::carried::{Cargo, Tank};
use crate::loads::plan::{Geometry, TankKind};
use crate::quantity::Ratio;

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
    /// Cargo at its given places, no water.
    Placed,
    /// Cargo up to the gross rating, that at given places first, no water.
    Cargo,
    /// All tanks full, and cargo up to the gross rating.
    Loaded,
    /// As unloaded, with the slide boxes out.
    Out,
    /// As loaded, with the slide boxes out.
    LoadedOut,
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
            ConditionKind::Placed => "cargo as placed",
            ConditionKind::Cargo => "cargo to gvwr",
            ConditionKind::Loaded => "tanks, cargo to gvwr",
            ConditionKind::Out => "slide boxes out",
            ConditionKind::LoadedOut => "loaded, slide boxes out",
        }
    }

    /// Tells whether a tank is full.
    fn fills(self, tank: TankKind) -> bool {
        match self {
            ConditionKind::Dry
            | ConditionKind::Placed
            | ConditionKind::Cargo
            | ConditionKind::Out => false,
            ConditionKind::Fresh => tank == TankKind::Fresh,
            ConditionKind::Waste => tank != TankKind::Fresh,
            ConditionKind::Tanks | ConditionKind::Loaded | ConditionKind::LoadedOut => true,
        }
    }

    /// Tells whether it is loaded to the gross rating.
    #[must_use]
    pub const fn is_loaded(self) -> bool {
        matches!(self, ConditionKind::Cargo | ConditionKind::Loaded | ConditionKind::LoadedOut)
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
    /// Load on each axle, all alike, as on equalized springs.
    pub each_axle: Ratio,
    /// What each axle would carry on springs of its own; nothing without an axle spacing.
    pub sprung: Option<Sprung>,
    /// Load on the left and on the right wheels of the group; nothing where the track is not known.
    pub wheels: Option<[Ratio; 2]>,
    /// The hitch load if all weight without a position sat at the rear end, and if it sat at the coupler; nothing where the
    /// rear end is not known.
    pub hitch_range: Option<[Ratio; 2]>,
}

/// Loads of axles that share nothing: each on like springs of its own under a stiff frame.
///
/// The frame turns about the ball, so that each spring gives way, and pushes, in proportion to its distance from there: a beam
/// that is hinged at one end and lies on like springs (strength of materials; no single source).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sprung {
    /// Load on each axle, front to rear.
    pub axles: Vec<Ratio>,
    /// Load on the coupling. With the axles it is the weight.
    pub hitch: Ratio,
}

impl Support {
    /// Returns the share of the weight that the hitch carries.
    #[must_use]
    pub fn hitch_share(&self) -> Option<Ratio> {
        self.hitch.checked_div(&(&self.hitch + &self.axle))
    }
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
    /// What the moment to the right grows by when the slide boxes are out, if there are any.
    out: Option<Ratio>,
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
            out: load.out.clone(),
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
        let sprung = self.sprung(geometry, back);
        Some(Support {
            center_back,
            center_right,
            hitch,
            axle,
            each_axle,
            sprung,
            wheels,
            hitch_range,
        })
    }

    fn sprung(&self, geometry: &Geometry, back: &Ratio) -> Option<Sprung> {
        geometry.spacing.as_ref().filter(|_| geometry.axle_count > 1)?;
        let places = geometry.axles();
        let squares: Ratio = places.iter().map(|place| place * place).sum();
        let push = back.checked_div(&squares)?;
        let axles: Vec<Ratio> = places.iter().map(|place| place * &push).collect();
        let carried: Ratio = axles.iter().cloned().sum();
        Some(Sprung { hitch: &self.weight - &carried, axles })
    }

    fn slide_out(&mut self) {
        if let Some(out) = &self.out {
            self.right += out;
        }
    }
}

/// What a build may carry.
pub(super) struct Carried<'a> {
    pub tanks: &'a [Tank],
    pub cargo: &'a [Cargo],
    /// The gross rating.
    pub gross: Option<&'a Ratio>,
}

/// Returns the conditions that tanks, cargo, slide boxes and the gross rating of a build make different.
pub(super) fn conditions(
    load: &Load,
    geometry: &Geometry,
    carried: &Carried<'_>,
) -> Vec<Condition> {
    let has = |kinds: &[TankKind]| carried.tanks.iter().any(|tank| kinds.contains(&tank.kind));
    let (fresh, waste) = (has(&[TankKind::Fresh]), has(&[TankKind::Gray, TankKind::Black]));
    let (has_gross, has_slides) = (carried.gross.is_some(), load.out.is_some());
    let all = [
        (ConditionKind::Dry, true),
        (ConditionKind::Fresh, fresh),
        (ConditionKind::Waste, waste),
        (ConditionKind::Tanks, fresh && waste),
        (ConditionKind::Placed, !carried.cargo.is_empty()),
        (ConditionKind::Cargo, has_gross),
        (ConditionKind::Loaded, has_gross && (fresh || waste)),
        (ConditionKind::Out, has_slides),
        (ConditionKind::LoadedOut, has_slides && has_gross),
    ];
    let dry = Moments::of(load, geometry);
    let kinds = all.into_iter().filter(|(_, is_there)| *is_there).map(|(kind, _)| kind);
    kinds.map(|kind| condition(kind, dry.clone(), geometry, carried)).collect()
}

fn condition(
    kind: ConditionKind,
    mut moments: Moments,
    geometry: &Geometry,
    carried: &Carried<'_>,
) -> Condition {
    let (mut water, mut cargo) = (Ratio::ZERO, Ratio::ZERO);
    for tank in carried.tanks.iter().filter(|tank| kind.fills(tank.kind)) {
        water += &tank.weight;
        moments.add(&tank.weight, tank.x.as_ref(), &tank.y);
    }
    if kind.is_loaded() || kind == ConditionKind::Placed {
        for placed in carried.cargo {
            cargo += &placed.weight;
            moments.add(&placed.weight, placed.x.as_ref(), &placed.y);
        }
    }
    let room = carried.gross.map(|gross| gross - &moments.weight);
    if let Some(rest) = room.filter(|room| kind.is_loaded() && *room > Ratio::ZERO) {
        moments.add(&rest, geometry.cargo.as_ref(), &Ratio::ZERO);
        cargo += &rest;
    }
    if matches!(kind, ConditionKind::Out | ConditionKind::LoadedOut) {
        moments.slide_out();
    }
    let support = moments.support(geometry);
    Condition { kind, weight: moments.weight, water, cargo, support }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn whole(value: i128) -> Ratio {
        Ratio::whole(value)
    }

    /// A trailer with its floor from 20 to 220 and its axles around 120; lengths are whole numbers of some unit.
    fn geometry() -> Geometry {
        Geometry {
            axle: Some(whole(120)),
            spacing: Some(whole(40)),
            axle_count: 2,
            track: Some(whole(80)),
            front: Some(whole(20)),
            rear: Some(whole(220)),
            cargo: Some(whole(60)),
        }
    }

    /// 1,200 lb at 110 back and 2 to the left.
    fn load() -> Load {
        let moments = [whole(1200 * 110), whole(-2400), Ratio::ZERO];
        Load { weight: whole(1200), moments, ..Load::default() }
    }

    fn cargo(weight: i128, x: i128, y: i128) -> Cargo {
        let name = weight.to_string();
        Cargo { name, weight: whole(weight), x: Some(whole(x)), y: whole(y), is_assumed: false }
    }

    #[track_caller]
    fn hangs(conditions: &[Condition], kind: ConditionKind, expected: [i128; 4]) {
        let condition = conditions.iter().find(|condition| condition.kind == kind).unwrap();
        let support = condition.support.as_ref().unwrap();
        let [left, right] = support.wheels.clone().unwrap();
        assert_eq!([support.hitch.clone(), support.axle.clone(), left, right], expected.map(whole));
    }

    #[test]
    fn cargo_lies_where_it_is_put_and_the_rest_of_the_rating_where_all_cargo_does() {
        let placed = [cargo(120, 30, 20), cargo(60, 180, -20)];
        let gross = whole(1500);
        let carried = Carried { tanks: &[], cargo: &placed, gross: Some(&gross) };
        let found = conditions(&load(), &geometry(), &carried);
        let kinds: Vec<ConditionKind> = found.iter().map(|condition| condition.kind).collect();
        assert_eq!(kinds, [ConditionKind::Dry, ConditionKind::Placed, ConditionKind::Cargo]);
        // By hand: axle load (1200 x 110) / 120; each side half of it, less or more 2400 / 80.
        hangs(&found, ConditionKind::Dry, [100, 1100, 580, 520]);
        // 120 x 30 / 120 and 60 x 180 / 120 more on the axles; 2400 - 1200 to the right leave 1200 to the left.
        hangs(&found, ConditionKind::Placed, [160, 1220, 625, 595]);
        // 120 lb are left to the rating, at 60.
        hangs(&found, ConditionKind::Cargo, [220, 1280, 655, 625]);
        assert_eq!(found[2].cargo, whole(300));
    }

    #[test]
    fn cargo_beyond_the_rating_is_carried_all_the_same() {
        let (placed, gross) = ([cargo(600, 120, 0)], whole(1500));
        let carried = Carried { tanks: &[], cargo: &placed, gross: Some(&gross) };
        let found = conditions(&load(), &geometry(), &carried);
        assert_eq!([&found[2].weight, &found[2].cargo], [&whole(1800), &whole(600)]);
    }

    #[test]
    fn slide_boxes_weigh_on_the_wheels_of_their_side_when_they_are_out() {
        // 200 lb of it go 40 to the left.
        let load = Load { out: Some(whole(-8000)), ..load() };
        let carried = Carried { tanks: &[], cargo: &[], gross: None };
        let found = conditions(&load, &geometry(), &carried);
        assert_eq!(found.len(), 2);
        hangs(&found, ConditionKind::Dry, [100, 1100, 580, 520]);
        hangs(&found, ConditionKind::Out, [100, 1100, 680, 420]);
    }

    #[test]
    fn springs_of_their_own_give_way_by_their_distance_from_the_ball() {
        let support = Moments::of(&load(), &geometry()).support(&geometry()).unwrap();
        let sprung = support.sprung.unwrap();
        // Axles at 100 and 140: 132,000 / (100 x 100 + 140 x 140) for each unit of distance.
        let push = Ratio::new(132_000, 29_600).unwrap();
        assert_eq!(sprung.axles, [&push * &whole(100), &push * &whole(140)]);
        // They balance the moment, and with the ball they carry all of it.
        let moment = &sprung.axles[0] * &whole(100) + &sprung.axles[1] * &whole(140);
        assert_eq!(moment, whole(132_000));
        assert_eq!(sprung.axles.iter().cloned().sum::<Ratio>() + sprung.hitch, whole(1200));
        let one = Geometry { spacing: None, axle_count: 1, ..geometry() };
        let support = Moments::of(&load(), &one).support(&one).unwrap();
        assert_eq!((support.sprung, support.each_axle), (None, whole(1100)));
    }
}
