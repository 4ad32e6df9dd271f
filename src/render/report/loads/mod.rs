//! What `loads` answers: loads per condition, ratings, weights summed, tanks, options, and the trailer from the side.

mod side;
mod tables;

pub(in crate::render) use tables::parts;

use crate::explode::Needs;
use crate::loads::{Assumption, BuildLoads, By, ConditionKind, Loads, OptionLoads, TankKind};
use crate::model::Book;
use crate::render::report::{CAUTION_RULES, CAUTION_WEIGHT, Report, Table, build_name, heading};

/// How much a report of loads shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LoadsDetail {
    /// What fits a screen, with drawings.
    Short,
    /// Every item, without drawings.
    Full,
}

/// Returns weights and loads of builds, with weights summed as asked.
#[must_use]
pub fn loads(book: &Book, needs: &Needs, loads: &Loads, by: &[By], detail: LoadsDetail) -> Report {
    let page = Page { book, needs, loads };
    let mut tables = vec![tables::conditions(&page), tables::ratings(&page)];
    tables.push(tables::sprung(&page));
    tables.push(tables::spread(&page));
    tables.push(tables::tanks(&page));
    tables.push(tables::cargo(&page));
    tables.extend(by.iter().map(|by| tables::sums(&page, *by)));
    tables.push(tables::options(&page));
    tables.push(tables::option_sums(&page));
    tables.push(tables::unplaced(&page, detail));
    tables.retain(|table| !table.rows.is_empty());
    if detail == LoadsDetail::Short {
        tables.extend(loads.builds.iter().filter_map(|build| drawing(&page, build)));
    }
    Report { heading: heading(book, needs.on), tables, notes: notes(&page) }
}

/// What a page is about.
struct Page<'a> {
    book: &'a Book,
    needs: &'a Needs,
    loads: &'a Loads,
}

impl Page<'_> {
    fn name(&self, build: &BuildLoads) -> String {
        build_name(self.book, &self.needs.builds[build.build])
    }

    fn options(&self) -> impl Iterator<Item = (&BuildLoads, &OptionLoads)> {
        self.loads.builds.iter().filter_map(|build| Some((build, build.options.as_ref()?)))
    }
}

fn drawing(page: &Page<'_>, build: &BuildLoads) -> Option<Table> {
    let below = side::view(page.book, build)?;
    let title = format!("{}: where its weight lies, unloaded", page.name(build));
    Some(Table { title, below, ..Table::default() })
}

fn notes(page: &Page<'_>) -> Vec<String> {
    let mut notes = Vec::new();
    let has = |assumption: Assumption| {
        page.loads.builds.iter().any(|build| build.assumptions.contains(&assumption))
    };
    let at_axles: Vec<&str> = TankKind::ALL
        .into_iter()
        .filter(|kind| has(Assumption::TankAtAxles(*kind)))
        .map(TankKind::name)
        .collect();
    if !at_axles.is_empty() {
        notes.push(format!(
            "Assumed: tanks without a position are at the axles ({}). A column such as `fresh_water_x` in `plans` says better.",
            at_axles.join(", ")
        ));
    }
    let assumed = [
        (
            Assumption::UnplacedAtCenter,
            "Assumed: weight without an `x` lies where the rest of the unloaded weight does; without a `y` it lies on the \
             center line.",
        ),
        (
            Assumption::CargoAtFloorCenter,
            "Assumed: cargo lies in the middle of the floor, `tongue` and half of `length` behind the coupler ball; `cargo_x` \
             in `plans` says better.",
        ),
        (
            Assumption::TrackIsWidth,
            "Assumed: left and right wheels stand as far apart as the plan is wide; `track_width` in `plans` says better.",
        ),
        (
            Assumption::TwoAxles,
            "Assumed: a plan with an axle spacing has two axles; `axles` in `plans` says better.",
        ),
    ];
    notes.extend(
        assumed.into_iter().filter(|(kind, _)| has(*kind)).map(|(_, text)| text.to_owned()),
    );
    let builds = &page.loads.builds;
    if builds.iter().any(|build| build.geometry.axle_count > 1) {
        notes.push(
            "The axles of a group are taken to share its load equally, as on equalized springs. Axles on springs of their \
             own are taken to have like springs and the ball to stand at its height."
                .to_owned(),
        );
    }
    if builds.iter().flat_map(|build| &build.ratings).any(|rating| rating.kind.name() == "gawr") {
        notes.push("`gawr` is taken as the rating of the whole axle group; that of one axle is `axle_rating`.".to_owned());
    }
    if builds.iter().any(|build| build.condition(ConditionKind::Out).is_some()) {
        notes.push(
            "Slide boxes go out when the trailer is parked, on its jacks as its maker says; the wheel loads are those \
             without them."
                .to_owned(),
        );
    }
    let has_propane = builds.iter().any(|build| !build.propane.is_zero());
    notes.push(if has_propane {
        "Water is cargo, at 8.3 lb a gallon as on the federal label; propane in the bill is part of the unloaded weight."
            .to_owned()
    } else {
        "Water is cargo, at 8.3 lb a gallon as on the federal label. Propane is part of the unloaded weight, but the bill has \
         none."
            .to_owned()
    });
    notes.push(
        "The hitch share of 10 to 15 % is guidance, and a share from nominal weights is no measurement.".to_owned(),
    );
    notes.push(
        "A likely spread is an estimate: the root of the sum of squares, for items that differ independently.".to_owned(),
    );
    notes.extend([CAUTION_WEIGHT.to_owned(), CAUTION_RULES.to_owned()]);
    notes
}
