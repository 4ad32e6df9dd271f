use indexmap::IndexMap;

use crate::loads::{
    BuildLoads, By, Cargo, Condition, ConditionKind, OptionLoad, Rating, Sprung, Support, Tank,
    coupling_class, relabel_limit,
};
use crate::model::Book;
use crate::model::ItemId;
use crate::model::OptionId;
use crate::quantity::Length;
use crate::quantity::Ratio;
use crate::quantity::Rounding;
use crate::quantity::settle;
use crate::render::report::loads::{LoadsDetail, Page};
use crate::render::report::{Cell, Showing, Table, figures, table, words};
use crate::render::shown;
use crate::rollup::WEIGHT_DIGITS;

/// Decimal places of weights and loads.
const PLACES: u32 = 1;
/// Items without a position that a short report names per build.
const MOST_UNPLACED: usize = 6;

/// Returns a weight in tenths of the book's unit.
fn tenths(book: &Book, pounds: &Ratio) -> Ratio {
    let unit = &book.settings.weight_unit;
    pounds.checked_div(&unit.factor).unwrap_or(Ratio::ZERO) * Ratio::whole(10)
}

pub(super) fn weight(book: &Book, pounds: &Ratio) -> Cell {
    Cell::figure(shown::fixed(
        &pounds.checked_div(&book.settings.weight_unit.factor).unwrap_or(Ratio::ZERO),
        PLACES,
    ))
}

/// Returns parts of a weight, rounded so that they add up to its rounded sum.
pub(in crate::render) fn parts(book: &Book, of: &[Ratio]) -> Vec<Cell> {
    let terms: Vec<Ratio> = of.iter().map(|part| tenths(book, part)).collect();
    let total: Ratio = terms.iter().cloned().sum();
    let total = total.scaled(0, Rounding::HalfEven).to_integer().unwrap_or(0);
    settle(total, &terms).into_iter().map(|part| Cell::amount(part, PLACES)).collect()
}

fn part(book: &Book, of: &[Ratio], index: usize) -> Cell {
    parts(book, of).into_iter().nth(index).unwrap_or_default()
}

/// Returns a length in the book's unit with one decimal place.
fn length(book: &Book, value: &Ratio) -> Cell {
    let count = value.checked_div(&book.settings.length_unit.factor).unwrap_or(Ratio::ZERO);
    Cell::figure(shown::fixed(&count, PLACES))
}

fn optional(cell: Option<Cell>) -> Cell {
    cell.unwrap_or_default()
}

/// Says how a hitch share lies to the guide band of 10 to 15 %.
fn guide(share: &Ratio) -> &'static str {
    if *share < Ratio::decimal(10, 2) {
        "below guide"
    } else if *share > Ratio::decimal(15, 2) {
        "above guide"
    } else {
        "in guide"
    }
}

pub(super) fn conditions(page: &Page<'_>) -> Table {
    struct Line<'a> {
        build: &'a BuildLoads,
        condition: &'a Condition,
    }
    let book = page.book;
    let builds = page.loads.builds.iter();
    let lines: Vec<Line<'_>> = builds
        .flat_map(|build| build.conditions.iter().map(move |condition| Line { build, condition }))
        .collect();
    let support = |line: &Line<'_>, cell: &dyn Fn(&Support) -> Cell| {
        optional(line.condition.support.as_ref().map(cell))
    };
    let wheels = |line: &Line<'_>, side: usize| {
        support(line, &|support| {
            optional(support.wheels.as_ref().map(|wheels| part(book, wheels, side)))
        })
    };
    let halves = |support: &Support| [support.hitch.clone(), support.axle.clone()];
    let unit = &book.settings.length_unit.name;
    let fields = [
        words("plan", |line: &Line<'_>| page.name(line.build)),
        words("condition", |line: &Line<'_>| line.condition.kind.name().to_owned()),
        figures("weight", |line: &Line<'_>| weight(book, &line.condition.weight)),
        figures("hitch", |line: &Line<'_>| support(line, &|s| part(book, &halves(s), 0))),
        figures("axles", |line: &Line<'_>| support(line, &|s| part(book, &halves(s), 1))),
        figures("hitch %", |line: &Line<'_>| {
            support(line, &|s| optional(s.hitch_share().map(|s| Cell::figure(shown::percent(&s)))))
        }),
        words("10-15 %", |line: &Line<'_>| {
            let share = line.condition.support.as_ref().and_then(Support::hitch_share);
            share.map_or("", |share| guide(&share)).to_owned()
        }),
        figures("each axle", |line: &Line<'_>| {
            let is_one = line.build.geometry.axle_count == 1;
            support(line, &|s| {
                if is_one { part(book, &halves(s), 1) } else { weight(book, &s.each_axle) }
            })
        })
        .showing(Showing::IfItFits),
        figures("left wheels", |line: &Line<'_>| wheels(line, 0)),
        figures("right wheels", |line: &Line<'_>| wheels(line, 1)),
        figures(&format!("cg back {unit}"), |line: &Line<'_>| {
            support(line, &|s| length(book, &s.center_back))
        }),
        figures(&format!("cg right {unit}"), |line: &Line<'_>| {
            support(line, &|s| length(book, &s.center_right))
        }),
        figures("water", |line: &Line<'_>| weight(book, &line.condition.water))
            .showing(Showing::IfItFits),
        figures("cargo", |line: &Line<'_>| weight(book, &line.condition.cargo))
            .showing(Showing::IfItFits),
        figures("left to gvwr", |line: &Line<'_>| {
            let rest = line.build.gross_rating().map(|gross| gross - &line.condition.weight);
            optional(rest.map(|rest| weight(book, &rest)))
        }),
    ];
    let title = format!("Loads of one unit, {}", book.settings.weight_unit.name);
    let mut made = table(title, &fields, &lines);
    made.below = page.loads.builds.iter().filter_map(|build| places(page, build)).collect();
    made
}

/// Says where each axle and the center of gravity are.
fn places(page: &Page<'_>, build: &BuildLoads) -> Option<String> {
    let axles = build.geometry.axles();
    if axles.is_empty() {
        return None;
    }
    let unit = &page.book.settings.length_unit;
    let text = |value: &Ratio| {
        let length = Length::nearest(value);
        length.map_or_else(|| value.to_string(), |length| shown::length(length, unit))
    };
    let axles: Vec<String> = axles.iter().map(text).collect();
    let noun = if axles.len() == 1 { "axle" } else { "axles" };
    let mut line = format!("{}: {noun} at {} {}", page.name(build), axles.join(" and "), unit.name);
    if let Some(height) = &build.height {
        let height = length(page.book, height).shown;
        line.push_str(&format!(", center of gravity {height} {} up, unloaded", unit.name));
    }
    Some(line)
}

pub(super) fn ratings(page: &Page<'_>) -> Table {
    struct Line<'a> {
        build: &'a BuildLoads,
        rating: &'a Rating,
    }
    let book = page.book;
    let builds = page.loads.builds.iter();
    let lines: Vec<Line<'_>> = builds
        .flat_map(|build| build.ratings.iter().map(move |rating| Line { build, rating }))
        .collect();
    let fields = [
        words("plan", |line: &Line<'_>| page.name(line.build)),
        words("rating", |line: &Line<'_>| line.rating.kind.name().to_owned()),
        figures("limit", |line: &Line<'_>| weight(book, &line.rating.limit)),
        figures("highest", |line: &Line<'_>| {
            optional(line.rating.highest.as_ref().map(|(_, load)| weight(book, load)))
        }),
        words("when", |line: &Line<'_>| {
            line.rating.highest.as_ref().map_or("", |(kind, _)| kind.name()).to_owned()
        }),
        figures("left", |line: &Line<'_>| {
            optional(line.rating.left().map(|left| weight(book, &left)))
        }),
        words("", |line: &Line<'_>| {
            let is_over = line.rating.left().is_some_and(|left| left.is_negative());
            if is_over { "OVER".to_owned() } else { String::new() }
        }),
    ];
    let title =
        format!("The maker's ratings and the highest loads, {}", book.settings.weight_unit.name);
    let mut made = table(title, &fields, &lines);
    made.below = page.loads.builds.iter().filter_map(|build| of_gross(page, build)).collect();
    made
}

/// Says what follows from a gross rating.
fn of_gross(page: &Page<'_>, build: &BuildLoads) -> Option<String> {
    let gross = build.gross_rating()?;
    let with_unit = |pounds: &Ratio| {
        let unit = &page.book.settings.weight_unit;
        let count = pounds.checked_div(&unit.factor).unwrap_or(Ratio::ZERO);
        format!("{} {}", shown::parted(&shown::rounded(&count, PLACES)), unit.name)
    };
    let class = coupling_class(gross).map_or_else(
        || "above the four classes of light couplings".to_owned(),
        |class| format!("coupling class {class} of four"),
    );
    let capacity = gross - &build.weight;
    let capacity = if capacity.is_negative() {
        format!("{} too heavy before any cargo", with_unit(&capacity.abs()))
    } else {
        format!("cargo and water up to {}", with_unit(&capacity))
    };
    Some(format!(
        "{}: {capacity}; {class}; above {} added before the first sale, its label changes",
        page.name(build),
        with_unit(&relabel_limit(gross)),
    ))
}

/// Returns what each axle would carry on springs of its own, where there is a spacing.
pub(super) fn sprung(page: &Page<'_>) -> Table {
    struct Line<'a> {
        build: &'a BuildLoads,
        condition: &'a Condition,
        support: &'a Support,
        sprung: &'a Sprung,
    }
    let book = page.book;
    let mut lines = Vec::new();
    for build in &page.loads.builds {
        // Slide boxes move to the side, which changes no axle.
        let moved = [ConditionKind::Out, ConditionKind::LoadedOut];
        for condition in build.conditions.iter().filter(|one| !moved.contains(&one.kind)) {
            let Some(support) = &condition.support else { continue };
            let Some(sprung) = &support.sprung else { continue };
            lines.push(Line { build, condition, support, sprung });
        }
    }
    let most = lines.iter().map(|line| line.sprung.axles.len()).max().unwrap_or(0);
    let loads = |sprung: &Sprung| {
        let mut loads = sprung.axles.clone();
        loads.push(sprung.hitch.clone());
        loads
    };
    let mut fields = vec![
        words("plan", |line: &Line<'_>| page.name(line.build)),
        words("condition", |line: &Line<'_>| line.condition.kind.name().to_owned()),
        figures("each, equalized", |line: &Line<'_>| weight(book, &line.support.each_axle)),
    ];
    for axle in 0..most {
        let title = match axle {
            0 => "own springs: front axle".to_owned(),
            last if last + 1 == most => "rear axle".to_owned(),
            middle => format!("axle {}", middle + 1),
        };
        fields.push(figures(&title, move |line: &Line<'_>| {
            let is_there = axle < line.sprung.axles.len();
            if is_there { part(book, &loads(line.sprung), axle) } else { Cell::default() }
        }));
    }
    fields.push(figures("hitch", move |line: &Line<'_>| {
        part(book, &loads(line.sprung), line.sprung.axles.len())
    }));
    let unit = &book.settings.weight_unit.name;
    table(format!("Each axle, equalized or on springs of its own, {unit}"), &fields, &lines)
}

/// Returns the cargo at given places.
pub(super) fn cargo(page: &Page<'_>) -> Table {
    struct Line<'a> {
        build: &'a BuildLoads,
        cargo: &'a Cargo,
    }
    let book = page.book;
    let builds = page.loads.builds.iter();
    let lines: Vec<Line<'_>> = builds
        .flat_map(|build| build.cargo.iter().map(move |cargo| Line { build, cargo }))
        .collect();
    let unit = &book.settings.length_unit.name;
    let fields = [
        words("plan", |line: &Line<'_>| page.name(line.build)),
        words("cargo", |line: &Line<'_>| line.cargo.name.clone()),
        figures("weight", |line: &Line<'_>| weight(book, &line.cargo.weight)),
        figures(&format!("back {unit}"), |line: &Line<'_>| {
            optional(line.cargo.x.as_ref().map(|x| length(book, x)))
        }),
        figures(&format!("right {unit}"), |line: &Line<'_>| length(book, &line.cargo.y)),
        words("position", |line: &Line<'_>| {
            if line.cargo.is_assumed { "assumed: that of all other cargo" } else { "" }.to_owned()
        }),
    ];
    table(format!("Cargo at its places, {}", book.settings.weight_unit.name), &fields, &lines)
}

pub(super) fn spread(page: &Page<'_>) -> Table {
    type Line<'a> = &'a BuildLoads;
    let book = page.book;
    let lines: Vec<Line<'_>> =
        page.loads.builds.iter().filter(|build| build.spread.items_told > 0).collect();
    let fields = [
        words("plan", |line: &Line<'_>| page.name(line)),
        figures("unloaded", |line: &Line<'_>| weight(book, &line.weight)),
        figures("worst case ±", |line: &Line<'_>| weight(book, &line.spread.worst)),
        figures("likely ± (estimate)", |line: &Line<'_>| weight(book, &line.spread.likely)),
        figures("with a tolerance", |line: &Line<'_>| weight(book, &line.spread.told)),
        words("items with one", |line: &Line<'_>| {
            format!("{} of {}", line.spread.items_told, line.spread.items)
        }),
    ];
    let unit = &book.settings.weight_unit.name;
    table(format!("Spread by the tolerances of items, {unit}"), &fields, &lines)
}

pub(super) fn tanks(page: &Page<'_>) -> Table {
    struct Line<'a> {
        build: &'a BuildLoads,
        tank: &'a Tank,
    }
    let builds = page.loads.builds.iter();
    let lines: Vec<Line<'_>> =
        builds.flat_map(|build| build.tanks.iter().map(move |tank| Line { build, tank })).collect();
    let unit = &page.book.settings.length_unit.name;
    let fields = [
        words("plan", |line: &Line<'_>| page.name(line.build)),
        words("tank", |line: &Line<'_>| line.tank.kind.name().to_owned()),
        figures("gal", |line: &Line<'_>| Cell::figure(shown::rounded(&line.tank.gallons(), 2))),
        figures("water lb", |line: &Line<'_>| Cell::figure(shown::fixed(&line.tank.weight, 0))),
        figures("water kg", |line: &Line<'_>| Cell::figure(shown::fixed(&line.tank.kilograms, 0))),
        figures(&format!("back {unit}"), |line: &Line<'_>| {
            optional(line.tank.x.as_ref().map(|x| length(page.book, x)))
        }),
        words("position", |line: &Line<'_>| {
            let text = match (line.tank.is_assumed, line.tank.x.is_some()) {
                (false, _) => "given",
                (true, true) => "assumed: the axles'",
                (true, false) => "not known",
            };
            text.to_owned()
        }),
    ];
    table("Tanks, full: 8.3 lb a gallon, 1 kg a liter", &fields, &lines)
}

pub(super) fn sums(page: &Page<'_>, by: By) -> Table {
    type Line = (String, Vec<i128>);
    let book = page.book;
    let builds = &page.loads.builds;
    let mut sums: IndexMap<String, Vec<i128>> = IndexMap::new();
    for (index, build) in builds.iter().enumerate() {
        for (name, weight) in by.sums(book, &build.cells) {
            sums.entry(name).or_insert_with(|| vec![0; builds.len()])[index] = weight;
        }
    }
    let mut lines: Vec<Line> = sums.into_iter().collect();
    lines.sort_by_key(|(_, weights)| std::cmp::Reverse(weights.iter().sum::<i128>()));
    let (noun, none) = match by {
        By::Assembly => ("assembly", ""),
        By::Station => ("station", "no station"),
        By::Item => ("item", ""),
        By::Side => ("side", ""),
    };
    let mut fields =
        vec![words(
            noun,
            move |line: &Line| {
                if line.0.is_empty() { none.to_owned() } else { line.0.clone() }
            },
        )];
    for (index, build) in builds.iter().enumerate() {
        let cell = move |line: &Line| Cell::amount(line.1[index], WEIGHT_DIGITS);
        fields.push(figures(&page.name(build), cell).summed());
    }
    let unit = &book.settings.weight_unit.name;
    let mut made = table(format!("Unloaded weight by {noun}, {unit}"), &fields, &lines);
    let mut total = vec![Cell::text("total")];
    total.extend((0..builds.len()).map(|index| {
        Cell::amount(lines.iter().map(|(_, weights)| weights[index]).sum(), WEIGHT_DIGITS)
    }));
    made.totals.push(total);
    made
}

fn option_names(book: &Book, options: &[OptionId]) -> String {
    let names: Vec<&str> =
        options.iter().map(|option| book.options[option.index()].name.as_str()).collect();
    names.join(", ")
}

pub(super) fn options(page: &Page<'_>) -> Table {
    struct Line<'a> {
        build: &'a BuildLoads,
        option: &'a OptionLoad,
    }
    let book = page.book;
    let lines: Vec<Line<'_>> = page
        .options()
        .flat_map(|(build, options)| options.lines.iter().map(move |option| Line { build, option }))
        .collect();
    let optional_weight =
        |value: &Option<Ratio>| optional(value.as_ref().map(|value| weight(book, value)));
    let fields = [
        words("plan", |line: &Line<'_>| page.name(line.build)),
        words("option", |line: &Line<'_>| book.options[line.option.option.index()].name.clone()),
        words(
            "in it",
            |line: &Line<'_>| {
                if line.option.is_taken { "yes".to_owned() } else { String::new() }
            },
        ),
        figures("adds", |line: &Line<'_>| weight(book, &line.option.weight)),
        figures("hitch", |line: &Line<'_>| optional_weight(&line.option.hitch)),
        figures("axles", |line: &Line<'_>| optional_weight(&line.option.axle)),
        figures("take rate %", |line: &Line<'_>| {
            let rate = line.option.take_rate.as_ref();
            optional(rate.map(|rate| Cell::figure(shown::percent(rate))))
        }),
        words("brings", |line: &Line<'_>| option_names(book, &line.option.brings)),
        figures("its own", |line: &Line<'_>| weight(book, &line.option.own_weight))
            .showing(Showing::IfItFits),
    ];
    let unit = &book.settings.weight_unit.name;
    table(format!("What options add to one unit, unloaded, {unit}"), &fields, &lines)
}

pub(super) fn option_sums(page: &Page<'_>) -> Table {
    struct Line<'a> {
        build: &'a BuildLoads,
        what: &'static str,
        weight: &'a Ratio,
        support: Option<&'a Support>,
        options: String,
    }
    let book = page.book;
    let mut lines = Vec::new();
    for (build, options) in page.options() {
        let dry = build.conditions.first().and_then(|dry| dry.support.as_ref());
        let own = &page.needs.builds[build.build].options;
        let all = option_names(book, &options.fullest);
        for (what, weight, support, options) in [
            ("as asked", &build.weight, dry, option_names(book, own)),
            ("average at take rates", &options.at_take_rates, None, String::new()),
            ("fully loaded", &options.fullest_weight, options.fullest_support.as_ref(), all),
        ] {
            lines.push(Line { build, what, weight, support, options });
        }
    }
    let capacity = |line: &Line<'_>| Some(line.build.gross_rating()? - line.weight);
    let halves = |support: &Support| [support.hitch.clone(), support.axle.clone()];
    let fields = [
        words("plan", |line: &Line<'_>| page.name(line.build)),
        words("options", |line: &Line<'_>| line.what.to_owned()),
        figures("unloaded", |line: &Line<'_>| weight(book, line.weight)),
        figures("left for cargo", |line: &Line<'_>| {
            optional(capacity(line).map(|rest| weight(book, &rest)))
        }),
        figures("hitch", |line: &Line<'_>| {
            optional(line.support.map(|support| part(book, &halves(support), 0)))
        }),
        figures("axles", |line: &Line<'_>| {
            optional(line.support.map(|support| part(book, &halves(support), 1)))
        }),
        words("with", |line: &Line<'_>| line.options.clone()).showing(Showing::IfItFits),
    ];
    let unit = &book.settings.weight_unit.name;
    let mut made =
        table(format!("Weight with options, {unit}; water and cargo come on top"), &fields, &lines);
    made.below = page
        .options()
        .filter_map(|(build, options)| {
            let names = option_names(book, &options.without_rate);
            let name = page.name(build);
            (!names.is_empty())
                .then(|| format!("{name}: not in the average, without a take rate: {names}"))
        })
        .collect();
    made
}

pub(super) fn unplaced(page: &Page<'_>, detail: LoadsDetail) -> Table {
    struct Line<'a> {
        build: &'a BuildLoads,
        item: Option<ItemId>,
        more: usize,
        weight: Ratio,
    }
    let book = page.book;
    let mut lines = Vec::new();
    for build in &page.loads.builds {
        let shown = match detail {
            LoadsDetail::Short => build.unplaced.len().min(MOST_UNPLACED),
            LoadsDetail::Full => build.unplaced.len(),
        };
        let (named, rest) = build.unplaced.split_at(shown);
        lines.extend(named.iter().map(|(item, weight)| Line {
            build,
            item: Some(*item),
            more: 0,
            weight: weight.clone(),
        }));
        if !rest.is_empty() {
            let weight = rest.iter().map(|(_, weight)| weight.clone()).sum();
            lines.push(Line { build, item: None, more: rest.len(), weight });
        }
    }
    let fields = [
        words("plan", |line: &Line<'_>| page.name(line.build)),
        words("item", |line: &Line<'_>| match line.item {
            Some(item) => book.item(item).name.clone(),
            None => format!("{} more", line.more),
        }),
        words("description", |line: &Line<'_>| {
            line.item.map_or_else(String::new, |item| book.item(item).description.clone())
        })
        .showing(Showing::IfItFits),
        figures("weight", |line: &Line<'_>| weight(book, &line.weight)),
    ];
    let unit = &book.settings.weight_unit.name;
    let mut made =
        table(format!("Weight without a position along the trailer, {unit}"), &fields, &lines);
    made.below = page.loads.builds.iter().filter_map(|build| bounds(page, build)).collect();
    made
}

/// Says how far weight without a position could move the loads.
fn bounds(page: &Page<'_>, build: &BuildLoads) -> Option<String> {
    if build.unplaced.is_empty() {
        return None;
    }
    let total: Ratio = build.unplaced.iter().map(|(_, weight)| weight.clone()).sum();
    let share = total.checked_div(&build.weight).unwrap_or(Ratio::ZERO);
    let text = |pounds: &Ratio| weight(page.book, pounds).shown;
    let unit = &page.book.settings.weight_unit.name;
    let count = build.unplaced_lines;
    let lines = if count == 1 { "1 bill line".to_owned() } else { format!("{count} bill lines") };
    let mut line = format!(
        "{}: {lines} of {} {unit}, {} % of the weight",
        page.name(build),
        text(&total),
        shown::percent(&share)
    );
    let support = build.conditions.first().and_then(|dry| dry.support.as_ref());
    if let Some([low, high]) = support.and_then(|support| support.hitch_range.as_ref()) {
        line.push_str(&format!(
            "; unloaded hitch {} {unit} if all of it sat at the rear end, {} {unit} at the coupler (axles {} and {} {unit})",
            text(low),
            text(high),
            text(&(&build.weight - low)),
            text(&(&build.weight - high)),
        ));
    }
    Some(line)
}
