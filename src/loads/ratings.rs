use crate::diag::Diagnostic;
use crate::diag::Distinct;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::loads::BuildLoads;
use crate::loads::plan::{Geometry, value};
use crate::loads::support::{Condition, ConditionKind};
use crate::model::Book;
use crate::model::Plan;
use crate::model::PlanId;
use crate::quantity::Dimension;
use crate::quantity::Ratio;
use crate::quantity::Rounding;
use crate::quantity::text;

/// A rating that a plan may state.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum RatingKind {
    /// Gross vehicle weight.
    Gross,
    /// Gross weight on the axle group.
    AxleGroup,
    /// Weight on one axle.
    Axle,
    /// Weight of the trailer that the coupling pulls.
    Coupling,
    /// Weight that the coupling carries.
    Hitch,
    /// Weight on one tire.
    Tire,
}

impl RatingKind {
    const ALL: [RatingKind; 6] = [
        RatingKind::Gross,
        RatingKind::AxleGroup,
        RatingKind::Axle,
        RatingKind::Coupling,
        RatingKind::Hitch,
        RatingKind::Tire,
    ];

    /// Returns the named dimension of a plan that holds it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            RatingKind::Gross => "gvwr",
            RatingKind::AxleGroup => "gawr",
            RatingKind::Axle => "axle_rating",
            RatingKind::Coupling => "coupling_rating",
            RatingKind::Hitch => "hitch_rating",
            RatingKind::Tire => "tire_rating",
        }
    }

    /// Returns what falls to it.
    #[must_use]
    pub const fn load_name(self) -> &'static str {
        match self {
            RatingKind::Gross | RatingKind::Coupling => "weight",
            RatingKind::AxleGroup => "load on the axles",
            RatingKind::Axle => "load on each axle",
            RatingKind::Hitch => "hitch load",
            RatingKind::Tire => "load on each tire of the heavier side",
        }
    }
}

/// A rating with the highest load that falls to it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Rating {
    /// Which.
    pub kind: RatingKind,
    /// The maker's limit, in pounds.
    pub limit: Ratio,
    /// The highest load, and the first condition that has it; nothing where loads are not known.
    pub highest: Option<(ConditionKind, Ratio)>,
}

impl Rating {
    /// Returns what the highest load leaves; below zero where it is too much.
    #[must_use]
    pub fn left(&self) -> Option<Ratio> {
        self.highest.as_ref().map(|(_, load)| &self.limit - load)
    }
}

/// Returns the weight that may be added before the first sale without a new label or notice: the lesser of 1.5 % of the gross
/// rating and 100 lb (72 FR 68442, 2007).
#[must_use]
pub fn relabel_limit(gross: &Ratio) -> Ratio {
    (gross * &Ratio::decimal(15, 3)).min(Ratio::whole(100))
}

/// Returns the class of coupling for a gross trailer weight in pounds, 1 to 4; nothing above 10,000 lb.
///
/// Source: light-trailer classes of COMAR 11.13.08.04 B, the same as in summaries of SAE J684.
#[must_use]
pub fn coupling_class(gross: &Ratio) -> Option<u8> {
    let classes = [(1, 2000), (2, 3500), (3, 5000), (4, 10_000)];
    let found = classes.into_iter().find(|(_, most)| *gross <= Ratio::whole(*most));
    found.map(|(class, _)| class)
}

/// Returns the ratings that a plan states.
pub(super) fn limits(
    book: &Book,
    plan: &Plan,
    findings: &mut Distinct,
) -> Vec<(RatingKind, Ratio)> {
    let found = RatingKind::ALL.into_iter().filter_map(|kind| {
        let limit = value(book, plan, kind.name(), Dimension::WEIGHT, findings)?;
        (limit > Ratio::ZERO).then_some((kind, limit))
    });
    found.collect()
}

/// Holds the loads of all conditions against the ratings.
pub(super) fn ratings(
    limits: &[(RatingKind, Ratio)],
    geometry: &Geometry,
    conditions: &[Condition],
) -> Vec<Rating> {
    let rated = limits.iter().map(|(kind, limit)| {
        let mut highest: Option<(ConditionKind, Ratio)> = None;
        for condition in conditions {
            let Some(load) = load(*kind, geometry, condition) else { continue };
            if highest.as_ref().is_none_or(|(_, most)| load > *most) {
                highest = Some((condition.kind, load));
            }
        }
        Rating { kind: *kind, limit: limit.clone(), highest }
    });
    rated.collect()
}

fn load(kind: RatingKind, geometry: &Geometry, condition: &Condition) -> Option<Ratio> {
    let support = condition.support.as_ref();
    match kind {
        RatingKind::Gross | RatingKind::Coupling => Some(condition.weight.clone()),
        RatingKind::AxleGroup => Some(support?.axle.clone()),
        RatingKind::Axle => Some(support?.each_axle.clone()),
        RatingKind::Hitch => Some(support?.hitch.clone()),
        RatingKind::Tire => {
            let [left, right] = support?.wheels.clone()?;
            left.max(right).checked_div(&Ratio::from(i64::from(geometry.axle_count)))
        }
    }
}

/// Tells the ratings that are exceeded or contradict each other.
pub(super) fn check(
    book: &Book,
    plan: &Plan,
    ratings: &[Rating],
    conditions: &[Condition],
    findings: &mut Distinct,
) {
    let in_unit = |pounds: &Ratio| weight_text(book, pounds);
    let dry = conditions.iter().find(|condition| condition.kind == ConditionKind::Dry);
    for rating in ratings {
        let Some((kind, load)) = rating.highest.as_ref().filter(|(_, load)| *load > rating.limit)
        else {
            continue;
        };
        let plan_name = plan.name.clone();
        let is_loaded = kind.is_loaded();
        let of_condition = || conditions.iter().find(|condition| condition.kind == *kind);
        let support = || of_condition().and_then(|condition| condition.support.as_ref());
        let problem = match (rating.kind, dry, support()) {
            (RatingKind::Gross, Some(dry), _) if dry.weight > rating.limit => {
                Problem::GrossBelowWeight {
                    plan: plan_name,
                    gross: in_unit(&rating.limit),
                    weight: in_unit(&dry.weight),
                }
            }
            (RatingKind::AxleGroup, _, Some(support)) if is_loaded => Problem::RatingsApart {
                plan: plan_name,
                axle: in_unit(&rating.limit),
                hitch: in_unit(&support.hitch),
                sum: in_unit(&(&rating.limit + &support.hitch)),
                gross: in_unit(&(&support.hitch + &support.axle)),
            },
            _ => Problem::RatingExceeded {
                plan: plan_name,
                condition: kind.name().to_owned(),
                load: format!("{} of {}", rating.kind.load_name(), in_unit(load)),
                rating: rating.kind.name().to_owned(),
                limit: in_unit(&rating.limit),
            },
        };
        let place = book.place(plan.row, Some(rating.kind.name()));
        findings.insert(Diagnostic::new(Severity::Warning, place, problem));
    }
}

/// Tells where all options together leave no room for cargo, though the build asked about does.
pub(super) fn check_fullest(
    book: &Book,
    plan: PlanId,
    base: &BuildLoads,
    fullest: &Ratio,
    findings: &mut Distinct,
) {
    let Some(gross) = base.gross_rating().filter(|gross| fullest > *gross) else { return };
    if base.weight > *gross {
        return;
    }
    let plan = &book.plans[plan.index()];
    let rating = RatingKind::Gross;
    let problem = Problem::RatingExceeded {
        plan: plan.name.clone(),
        condition: "fully loaded with options".to_owned(),
        load: format!("{} of {}", rating.load_name(), weight_text(book, fullest)),
        rating: rating.name().to_owned(),
        limit: weight_text(book, gross),
    };
    let place = book.place(plan.row, Some(rating.name()));
    findings.insert(Diagnostic::new(Severity::Warning, place, problem));
}

/// Writes a weight for a finding, in the book's unit: `5200.4 lb`.
fn weight_text(book: &Book, pounds: &Ratio) -> String {
    let unit = &book.settings.weight_unit;
    let count = pounds.checked_div(&unit.factor).unwrap_or(Ratio::ZERO);
    let text = text::rounded(&count, 1, Rounding::HalfEven);
    format!("{} {}", text.strip_suffix(".0").unwrap_or(&text), unit.name)
}
