use crate::diag::Diagnostic;
use crate::diag::Distinct;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::model::Book;
use crate::model::Plan;
use crate::quantity::Dimension;
use crate::quantity::Length;
use crate::quantity::Measure;
use crate::quantity::Ratio;
use crate::quantity::text;

/// What a tank holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum TankKind {
    /// Fresh water.
    Fresh,
    /// Gray water.
    Gray,
    /// Black water.
    Black,
}

impl TankKind {
    /// All of them.
    pub const ALL: [TankKind; 3] = [TankKind::Fresh, TankKind::Gray, TankKind::Black];

    /// Returns the named dimension of a plan that holds its volume.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            TankKind::Fresh => "fresh_water",
            TankKind::Gray => "gray_water",
            TankKind::Black => "black_water",
        }
    }
}

/// What is taken as given where the book does not say.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Assumption {
    /// A tank without a position is at the axles.
    TankAtAxles(TankKind),
    /// The wheels stand as far apart as the plan is wide.
    TrackIsWidth,
    /// Cargo lies in the middle of the floor.
    CargoAtFloorCenter,
    /// Weight without a position lies where the rest does.
    UnplacedAtCenter,
    /// Two axles, since the plan has an axle spacing.
    TwoAxles,
}

/// Where the supports and the floor of a plan are, in nanometers.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Geometry {
    /// Middle of the axle group, back from the coupler ball; above zero.
    pub axle: Option<Ratio>,
    /// From one axle to the next.
    pub spacing: Option<Ratio>,
    /// How many axles there are, 1 at least.
    pub axle_count: u32,
    /// From the middle of the left wheels to the middle of the right ones; above zero.
    pub track: Option<Ratio>,
    /// Front end of the floor: the length of the tongue.
    pub front: Option<Ratio>,
    /// Rear end of the floor.
    pub rear: Option<Ratio>,
    /// Where cargo lies.
    pub cargo: Option<Ratio>,
}

impl Geometry {
    /// Returns where each axle is, front to rear; the middle of the group for all where the spacing is not known.
    #[must_use]
    pub fn axles(&self) -> Vec<Ratio> {
        let Some(middle) = &self.axle else { return Vec::new() };
        let spacing = self.spacing.clone().unwrap_or(Ratio::ZERO);
        let half = Ratio::decimal(5, 1);
        let last = i64::from(self.axle_count) - 1;
        (0..=last)
            .map(|index| middle + &(&spacing * &(Ratio::from(2 * index - last) * &half)))
            .collect()
    }
}

/// Reads what a plan says of its supports, and tells what it lacks.
pub(super) fn geometry(
    book: &Book,
    plan: &Plan,
    findings: &mut Distinct,
) -> (Geometry, Vec<Assumption>) {
    let mut assumptions = Vec::new();
    let mut length = |name: &str| value(book, plan, name, Dimension::LENGTH, findings);
    let front = length("tongue");
    let floor = length("length");
    let rear = front.as_ref().zip(floor.as_ref()).map(|(front, floor)| front + floor);
    let spacing = length("axle_spacing").filter(|spacing| *spacing > Ratio::ZERO);
    let is_above_zero = |value: &Ratio| *value > Ratio::ZERO;
    let track = length("track_width").filter(is_above_zero).or_else(|| {
        let width = length("width").filter(is_above_zero)?;
        assumptions.push(Assumption::TrackIsWidth);
        Some(width)
    });
    let cargo = length("cargo_x").or_else(|| {
        let (front, rear) = (front.as_ref()?, rear.as_ref()?);
        assumptions.push(Assumption::CargoAtFloorCenter);
        Some((front + rear) * Ratio::decimal(5, 1))
    });
    let axle = length("axle_position");
    let axles = value(book, plan, "axles", Dimension::NUMBER, findings);
    let axle_count = match axles.and_then(|axles| axles.to_integer()) {
        Some(count @ 1..=6) => u32::try_from(count).expect("it is one to six"),
        _ if spacing.is_some() => {
            assumptions.push(Assumption::TwoAxles);
            2
        }
        _ => 1,
    };
    let axle = checked_axle(book, plan, axle, rear.as_ref(), findings);
    (Geometry { axle, spacing, axle_count, track, front, rear, cargo }, assumptions)
}

/// Tells where an axle cannot be, and returns it if loads can be had from it.
fn checked_axle(
    book: &Book,
    plan: &Plan,
    axle: Option<Ratio>,
    rear: Option<&Ratio>,
    findings: &mut Distinct,
) -> Option<Ratio> {
    let place = book.place(plan.row, Some("axle_position"));
    let name = plan.name.clone();
    let Some(axle) = axle else {
        let problem = Problem::AxleMissing { plan: name };
        findings.insert(Diagnostic::new(Severity::Gap, place, problem));
        return None;
    };
    if axle <= Ratio::ZERO {
        let problem = Problem::AxleNotBehind { plan: name, axle: length_text(&axle) };
        findings.insert(
            Diagnostic::new(Severity::Gap, place, problem)
                .with_hint("`axle_position` is counted back from the coupler ball"),
        );
        return None;
    }
    if let Some(rear) = rear.filter(|rear| axle > **rear) {
        let (axle, rear) = (length_text(&axle), length_text(rear));
        let problem = Problem::AxlePastRear { plan: name, axle, rear };
        findings.insert(Diagnostic::new(Severity::Warning, place, problem));
    }
    Some(axle)
}

/// Returns a named dimension of a plan; one that measures something else is told and left out.
pub(super) fn value(
    book: &Book,
    plan: &Plan,
    name: &str,
    dimension: Dimension,
    findings: &mut Distinct,
) -> Option<Ratio> {
    let (_, measure) = plan.values.iter().find(|(known, _)| known == name)?;
    if measure.dimension == dimension {
        return Some(measure.value.clone());
    }
    let problem =
        Problem::NotAMeasure { text: text::shown(measure), expected: dimension.to_string() };
    let finding = Diagnostic::new(Severity::Warning, book.place(plan.row, Some(name)), problem);
    findings.insert(if measure.dimension == Dimension::NUMBER {
        finding.with_hint("it is left out; write its unit, as in `42 in` or `7000 lb`")
    } else {
        finding
    });
    None
}

/// Writes a length for a finding: `17' 4"`.
pub(super) fn length_text(value: &Ratio) -> String {
    match Length::nearest(value) {
        Some(length) => text::feet_and_inches(length),
        None => text::shown(&Measure { value: value.clone(), dimension: Dimension::LENGTH }),
    }
}
