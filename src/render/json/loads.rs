use serde::Serialize;

use crate::diag::Diagnostic;
use crate::explode::Needs;
use crate::loads::{
    Assumption, BuildLoads, Condition, Loads, OptionLoad, OptionLoads, Rating, Support, Tank,
    coupling_class, relabel_limit,
};
use crate::model::Book;
use crate::model::OptionId;
use crate::quantity::Ratio;
use crate::quantity::Rounding;
use crate::quantity::text::{exact, rounded};
use crate::render::json::{document, option_names};
use crate::render::shown;
use crate::rollup::WEIGHT_DIGITS;

/// Decimal places of figures that are not exact decimals.
const PLACES: u32 = 8;

#[derive(Serialize)]
struct LoadsAnswer {
    builds: Vec<BuildLine>,
}

#[derive(Serialize)]
struct BuildLine {
    plan: String,
    options: Vec<String>,
    weight: String,
    propane: String,
    capacity: Option<String>,
    coupling_class: Option<u8>,
    relabel_limit: Option<String>,
    center_up: Option<String>,
    axles: Vec<String>,
    conditions: Vec<ConditionLine>,
    ratings: Vec<RatingLine>,
    tanks: Vec<TankLine>,
    cargo: Vec<CargoLine>,
    spread: SpreadLine,
    weights: Vec<WeightLine>,
    unplaced: Vec<UnplacedLine>,
    unplaced_lines: usize,
    profile: Option<ProfileLine>,
    assumptions: Vec<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    option_weights: Option<OptionsLine>,
}

#[derive(Serialize)]
struct ConditionLine {
    condition: &'static str,
    weight: String,
    water: String,
    cargo: String,
    loads: Option<SupportLine>,
}

#[derive(Serialize)]
struct SupportLine {
    hitch: String,
    axles: String,
    hitch_percent: Option<String>,
    each_axle: String,
    own_springs: Option<SprungLine>,
    left_wheels: Option<String>,
    right_wheels: Option<String>,
    center_back: String,
    center_right: String,
    hitch_lowest: Option<String>,
    hitch_highest: Option<String>,
}

#[derive(Serialize)]
struct RatingLine {
    rating: &'static str,
    limit: String,
    highest: Option<String>,
    condition: Option<&'static str>,
    left: Option<String>,
}

#[derive(Serialize)]
struct TankLine {
    tank: &'static str,
    gallons: String,
    pounds: String,
    kilograms: String,
    back: Option<String>,
    right: String,
    is_assumed: bool,
}

#[derive(Serialize)]
struct CargoLine {
    cargo: String,
    weight: String,
    back: Option<String>,
    right: String,
    is_assumed: bool,
}

#[derive(Serialize)]
struct SprungLine {
    axles: Vec<String>,
    hitch: String,
}

#[derive(Serialize)]
struct SpreadLine {
    worst: String,
    likely: String,
    told: String,
    items_told: usize,
    items: usize,
}

#[derive(Serialize)]
struct WeightLine {
    item: String,
    assembly: String,
    side: &'static str,
    weight: String,
}

#[derive(Serialize)]
struct UnplacedLine {
    item: String,
    weight: String,
}

#[derive(Serialize)]
struct ProfileLine {
    first_foot: i64,
    weights: Vec<String>,
}

#[derive(Serialize)]
struct OptionsLine {
    lines: Vec<OptionLine>,
    at_take_rates: String,
    without_rate: Vec<String>,
    fullest: Vec<String>,
    fullest_weight: String,
    fullest_loads: Option<SupportLine>,
}

#[derive(Serialize)]
struct OptionLine {
    option: String,
    is_taken: bool,
    brings: Vec<String>,
    weight: String,
    own_weight: String,
    hitch: Option<String>,
    axles: Option<String>,
    take_rate: Option<String>,
}

/// Returns what `loads` answers.
#[must_use]
pub fn loads(book: &Book, needs: &Needs, loads: &Loads, findings: &[Diagnostic]) -> String {
    let writer = Writer { book, needs };
    let answer =
        LoadsAnswer { builds: loads.builds.iter().map(|build| writer.build(build)).collect() };
    document("loads", book, needs.on, findings, answer)
}

struct Writer<'a> {
    book: &'a Book,
    needs: &'a Needs,
}

impl Writer<'_> {
    /// Writes a weight in the book's unit.
    fn weight(&self, pounds: &Ratio) -> String {
        figure(&pounds.checked_div(&self.book.settings.weight_unit.factor).unwrap_or(Ratio::ZERO))
    }

    /// Writes a length in the book's unit.
    fn length(&self, nanometers: &Ratio) -> String {
        let unit = &self.book.settings.length_unit;
        figure(&nanometers.checked_div(&unit.factor).unwrap_or(Ratio::ZERO))
    }

    fn names(&self, options: &[OptionId]) -> Vec<String> {
        options.iter().map(|option| self.book.options[option.index()].name.clone()).collect()
    }

    fn build(&self, of: &BuildLoads) -> BuildLine {
        let book = self.book;
        let build = &self.needs.builds[of.build];
        let gross = of.gross_rating();
        BuildLine {
            plan: book.plans[build.plan.index()].name.clone(),
            options: option_names(book, build),
            weight: self.weight(&of.weight),
            propane: self.weight(&of.propane),
            capacity: of.capacity.as_ref().map(|capacity| self.weight(capacity)),
            coupling_class: gross.and_then(coupling_class),
            relabel_limit: gross.map(|gross| self.weight(&relabel_limit(gross))),
            center_up: of.height.as_ref().map(|height| self.length(height)),
            axles: of.geometry.axles().iter().map(|axle| self.length(axle)).collect(),
            conditions: of.conditions.iter().map(|condition| self.condition(condition)).collect(),
            ratings: of.ratings.iter().map(|rating| self.rating(rating)).collect(),
            tanks: of.tanks.iter().map(|tank| self.tank(tank)).collect(),
            cargo: of
                .cargo
                .iter()
                .map(|cargo| CargoLine {
                    cargo: cargo.name.clone(),
                    weight: self.weight(&cargo.weight),
                    back: cargo.x.as_ref().map(|x| self.length(x)),
                    right: self.length(&cargo.y),
                    is_assumed: cargo.is_assumed,
                })
                .collect(),
            spread: SpreadLine {
                worst: self.weight(&of.spread.worst),
                likely: self.weight(&of.spread.likely),
                told: self.weight(&of.spread.told),
                items_told: of.spread.items_told,
                items: of.spread.items,
            },
            weights: of
                .cells
                .iter()
                .map(|cell| WeightLine {
                    item: book.item(cell.item).name.clone(),
                    assembly: book.parent_name(cell.parent).to_owned(),
                    side: cell.side.name(),
                    weight: shown::plain(cell.weight, WEIGHT_DIGITS),
                })
                .collect(),
            unplaced: of
                .unplaced
                .iter()
                .map(|(item, weight)| UnplacedLine {
                    item: book.item(*item).name.clone(),
                    weight: self.weight(weight),
                })
                .collect(),
            unplaced_lines: of.unplaced_lines,
            profile: of.profile.as_ref().map(|profile| ProfileLine {
                first_foot: profile.first,
                weights: profile.feet.iter().map(|weight| self.weight(weight)).collect(),
            }),
            assumptions: of.assumptions.iter().map(|taken| assumption(*taken)).collect(),
            option_weights: of.options.as_ref().map(|options| self.options(options)),
        }
    }

    fn condition(&self, of: &Condition) -> ConditionLine {
        ConditionLine {
            condition: of.kind.name(),
            weight: self.weight(&of.weight),
            water: self.weight(&of.water),
            cargo: self.weight(&of.cargo),
            loads: of.support.as_ref().map(|support| self.support(support)),
        }
    }

    fn support(&self, of: &Support) -> SupportLine {
        let wheel = |side: usize| of.wheels.as_ref().map(|wheels| self.weight(&wheels[side]));
        let range = |end: usize| of.hitch_range.as_ref().map(|range| self.weight(&range[end]));
        let percent = |share: Ratio| figure(&(share * Ratio::whole(100)));
        SupportLine {
            hitch: self.weight(&of.hitch),
            axles: self.weight(&of.axle),
            hitch_percent: of.hitch_share().map(percent),
            each_axle: self.weight(&of.each_axle),
            own_springs: of.sprung.as_ref().map(|sprung| SprungLine {
                axles: sprung.axles.iter().map(|axle| self.weight(axle)).collect(),
                hitch: self.weight(&sprung.hitch),
            }),
            left_wheels: wheel(0),
            right_wheels: wheel(1),
            center_back: self.length(&of.center_back),
            center_right: self.length(&of.center_right),
            hitch_lowest: range(0),
            hitch_highest: range(1),
        }
    }

    fn rating(&self, of: &Rating) -> RatingLine {
        RatingLine {
            rating: of.kind.name(),
            limit: self.weight(&of.limit),
            highest: of.highest.as_ref().map(|(_, load)| self.weight(load)),
            condition: of.highest.as_ref().map(|(kind, _)| kind.name()),
            left: of.left().map(|left| self.weight(&left)),
        }
    }

    fn tank(&self, of: &Tank) -> TankLine {
        TankLine {
            tank: of.kind.name(),
            gallons: figure(&of.gallons()),
            pounds: figure(&of.weight),
            kilograms: figure(&of.kilograms),
            back: of.x.as_ref().map(|x| self.length(x)),
            right: self.length(&of.y),
            is_assumed: of.is_assumed,
        }
    }

    fn options(&self, of: &OptionLoads) -> OptionsLine {
        OptionsLine {
            lines: of.lines.iter().map(|line| self.option(line)).collect(),
            at_take_rates: self.weight(&of.at_take_rates),
            without_rate: self.names(&of.without_rate),
            fullest: self.names(&of.fullest),
            fullest_weight: self.weight(&of.fullest_weight),
            fullest_loads: of.fullest_support.as_ref().map(|support| self.support(support)),
        }
    }

    fn option(&self, of: &OptionLoad) -> OptionLine {
        OptionLine {
            option: self.book.options[of.option.index()].name.clone(),
            is_taken: of.is_taken,
            brings: self.names(&of.brings),
            weight: self.weight(&of.weight),
            own_weight: self.weight(&of.own_weight),
            hitch: of.hitch.as_ref().map(|hitch| self.weight(hitch)),
            axles: of.axle.as_ref().map(|axle| self.weight(axle)),
            take_rate: of.take_rate.as_ref().map(exact),
        }
    }
}

/// Writes a figure as a decimal of at most eight places.
fn figure(value: &Ratio) -> String {
    shown::trimmed(&rounded(value, PLACES, Rounding::HalfEven))
}

fn assumption(taken: Assumption) -> String {
    match taken {
        Assumption::TankAtAxles(kind) => format!("{}_at_axles", kind.name()),
        Assumption::TrackIsWidth => "track_is_width".to_owned(),
        Assumption::CargoAtFloorCenter => "cargo_at_floor_center".to_owned(),
        Assumption::UnplacedAtCenter => "unplaced_at_center".to_owned(),
        Assumption::TwoAxles => "two_axles".to_owned(),
    }
}
