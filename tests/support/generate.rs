//! Makes up plants: several levels of shared assemblies, dimensions passed down, every form, use and price unit.
//!
//! What it makes is valid: every formula has a value, no cutout is larger than its piece, negative lines match.

use super::generate_items::items;
use super::generate_terms::{Sight, area, cube, measure, number, studs};
use super::number::{decimal, decimal_text, fraction, whole};
use super::plant::{
    Assembly, Basis, Burden, Choice, Component, Form, Grain, Item, Limit, Line, Parent, Plan,
    Plant, Settings, Usage, constant,
};
use super::random::Random;
use super::reference::{FOOT, INCH, roll_width};
use super::term::{Function, Kind, Operator, Term, Value, binary, call, count, name};

/// Makes the plant of a seed.
pub(crate) fn plant(seed: u64) -> Plant {
    let mut random = Random::new(seed);
    let settings = settings(&mut random);
    let mut maker = Maker { is_metric: settings.is_metric, has_day: settings.has_day, random };
    let plan_count = maker.random.below(2) + 1;
    let plans = (0..plan_count).map(|index| maker.plan(index)).collect();
    let assembly_count = maker.random.below(4) + 2;
    let mut assemblies: Vec<Assembly> = Vec::new();
    for index in 0..assembly_count {
        assemblies.push(Assembly {
            name: format!("assembly {index}"),
            station: (*maker.random.pick(&["", "mill", "Roof"])).to_owned(),
            crew: (*maker.random.pick(&["", "a", "b"])).to_owned(),
        });
    }
    let choices = maker.choices(plan_count);
    let items = items(&mut maker);
    let mut plant = Plant {
        settings,
        plans,
        assemblies,
        choices,
        items,
        lines: Vec::new(),
        burdens: Vec::new(),
    };
    maker.bill(&mut plant);
    maker.burdens(&mut plant);
    plant
}

fn settings(random: &mut Random) -> Settings {
    Settings {
        cost_digits: u32::try_from(*random.pick(&[4, 4, 2, 0, 8])).unwrap(),
        half_up: random.chance(30),
        offcut_percent: *random.pick(&[0, 0, 40]),
        ignores_scrap: random.chance(25),
        is_free_cut: random.chance(25),
        most_stages: random.chance(25).then(|| random.range(2, 4)),
        charges_roll_length: random.chance(30),
        has_day: random.chance(70),
        weighs_in_kilograms: random.chance(20),
        is_metric: random.chance(20),
    }
}

/// Makes the parts of one plant.
pub(crate) struct Maker {
    pub is_metric: bool,
    pub has_day: bool,
    pub random: Random,
}

impl Maker {
    fn plan(&mut self, index: usize) -> Plan {
        let length = self.random.range(8, 26) * 12 * 64 + self.random.range(0, 300);
        let width = self.random.range(80, 102) * 64;
        let height = self.random.range(72, 90) * 64 + self.random.range(0, 63);
        let spacing = *self.random.pick(&[12, 16, 24]) * 64;
        // A column that no table defines needs its unit.
        let tall = measure(height * 15_625, 6, "in", Kind::Length, whole(INCH));
        let mut values = vec![
            ("length".to_owned(), self.length(length)),
            ("width".to_owned(), self.length(width)),
            ("height".to_owned(), tall),
            ("bays".to_owned(), count(self.random.range(1, 4))),
        ];
        values.push(("spacing".to_owned(), self.plain_length(spacing / 64)));
        Plan {
            name: format!("Plan {}", 24 + index),
            series: (*self.random.pick(&["", "north"])).to_owned(),
            values,
        }
    }

    fn choices(&mut self, plan_count: usize) -> Vec<Choice> {
        let mut choices = Vec::new();
        for name in ["solar", "winter", "bunk"] {
            choices.push(Choice {
                name: name.to_owned(),
                plan: self.random.chance(30).then(|| self.random.below(plan_count)),
                is_standard: self.random.chance(50),
                one_of: None,
                includes: Vec::new(),
                excludes: Vec::new(),
            });
        }
        if self.random.chance(40) {
            // Never a circle: only the later ones are included.
            let other = 1 + self.random.below(2);
            choices[0].includes.push(other);
        }
        // Electric heat rules out the bunk, where nothing includes it.
        let excluded = if choices[0].includes.contains(&2) { vec![] } else { vec![2] };
        let excludes = if self.random.chance(40) { excluded } else { vec![] };
        for (name, is_standard) in [("gas", true), ("electric", false)] {
            choices.push(Choice {
                name: name.to_owned(),
                plan: None,
                is_standard,
                one_of: Some("heat".to_owned()),
                includes: Vec::new(),
                excludes: if is_standard { Vec::new() } else { excludes.clone() },
            });
        }
        choices
    }

    fn bill(&mut self, plant: &mut Plant) {
        let assembly_count = plant.assemblies.len();
        let sights: Vec<Sight> = (0..assembly_count)
            .map(|_| Sight {
                has_windows: true,
                has_cutout: self.random.chance(30),
                has_openings: self.random.chance(40),
            })
            .collect();
        for plan in 0..plant.plans.len() {
            let parent = Parent::Plan(plan);
            for _ in 0..self.random.range(1, 3) {
                let child = self.random.below(assembly_count);
                let line = self.assembly_line(parent, Sight::default(), child, sights[child]);
                plant.lines.push(line);
            }
            for _ in 0..self.random.range(1, 4) {
                let line = self.item_line(plant, parent, Sight::default());
                plant.lines.push(line);
            }
        }
        for assembly in 0..assembly_count {
            let (parent, sight) = (Parent::Assembly(assembly), sights[assembly]);
            if sight.has_openings {
                let line = self.opening_line(plant, parent, sight, assembly, &sights);
                plant.lines.push(line);
            }
            for (child, inner) in sights.iter().enumerate().skip(assembly + 1) {
                for _ in 0..2 {
                    if self.random.chance(35) {
                        let line = self.assembly_line(parent, sight, child, *inner);
                        plant.lines.push(line);
                    }
                }
            }
            for _ in 0..self.random.range(1, 4) {
                let line = self.item_line(plant, parent, sight);
                plant.lines.push(line);
            }
        }
        for choice in 0..plant.choices.len() {
            for _ in 0..self.random.range(0, 2) {
                let line = self.item_line(plant, Parent::Choice(choice), Sight::default());
                plant.lines.push(line);
            }
        }
        self.negative_line(plant);
        if self.random.chance(30) {
            self.negative_line_within(plant);
        }
        for line in &mut plant.lines {
            let (from, to) = match self.random.below(12) {
                _ if !plant.settings.has_day => (None, None),
                0 => (Some("2027-01-01"), None),
                1 => (None, Some("2027-06-01")),
                2 => (Some("2027-06-02"), None),
                3 => (Some("2027-02-01"), Some("2027-05-31")),
                _ => (None, None),
            };
            if !matches!(line.parent, Parent::Choice(_)) && line.zone.is_empty() {
                (line.from, line.to) = (from, to);
                match self.random.below(25) {
                    _ if from.is_some() || to.is_some() => {}
                    0 => line.first_unit = Some(412),
                    1 => line.first_unit = Some(413),
                    2 => line.last_unit = Some(412),
                    3 => (line.first_unit, line.last_unit) = (Some(1), Some(411)),
                    _ => {}
                }
            }
        }
    }

    /// Takes a fastener of an assembly's own line away where an option is taken.
    fn negative_line_within(&mut self, plant: &mut Plant) {
        let assembly = self.random.below(plant.assemblies.len());
        let component = self.component(plant, Form::Count);
        let mut line = Line::new(Parent::Assembly(assembly), component, Usage::Count);
        line.quantity = Some(count(self.random.range(2, 5)));
        "exchange".clone_into(&mut line.zone);
        let mut less = line.clone();
        less.quantity =
            Some(Term::Literal("-2".to_owned(), Value::Measure(whole(-2), Kind::Number)));
        less.when = Some(binary(Operator::Or, name("solar"), name("bunk")));
        plant.lines.extend([less, line]);
    }

    /// Takes part of a plan's own line away under an option of that plan alone.
    fn negative_line(&mut self, plant: &mut Plant) {
        let candidates: Vec<usize> = (0..plant.lines.len())
            .filter(|index| {
                let line = &plant.lines[*index];
                let is_plain = matches!(line.usage, Usage::Count | Usage::Piece)
                    && line.when.is_none()
                    && matches!(line.parent, Parent::Plan(_));
                let is_item = |form: Form| {
                    matches!(line.component, Component::Item(item) if plant.items[item].form == form)
                };
                let quantity = line.quantity.as_ref().map(|term| match term {
                    Term::Literal(_, Value::Measure(value, Kind::Number)) => *value >= whole(2),
                    _ => false,
                });
                is_plain
                    && (is_item(Form::Count) || is_item(Form::Sheet) || is_item(Form::Linear))
                    && quantity.unwrap_or(false)
            })
            .collect();
        if candidates.is_empty() || self.random.chance(40) {
            return;
        }
        let index = *self.random.pick(&candidates);
        let Parent::Plan(plan) = plant.lines[index].parent else { return };
        // The line that is taken from keeps out of dates, by its zone.
        "exchange".clone_into(&mut plant.lines[index].zone);
        let mut line = plant.lines[index].clone();
        plant.choices.push(Choice {
            name: "light".to_owned(),
            plan: Some(plan),
            is_standard: self.random.chance(60),
            one_of: None,
            includes: Vec::new(),
            excludes: Vec::new(),
        });
        line.parent = Parent::Choice(plant.choices.len() - 1);
        line.quantity =
            Some(Term::Literal("-2".to_owned(), Value::Measure(whole(-2), Kind::Number)));
        if self.random.chance(30) {
            line.quantity =
                Some(Term::Literal("-1".to_owned(), Value::Measure(whole(-1), Kind::Number)));
        }
        line.scrap_percent = None;
        line.offset = [None, None, None];
        plant.lines.push(line);
    }

    fn opening_line(
        &mut self,
        plant: &Plant,
        parent: Parent,
        sight: Sight,
        assembly: usize,
        sights: &[Sight],
    ) -> Line {
        let later = assembly + 1..plant.assemblies.len();
        let mut line = if !later.is_empty() && self.random.chance(40) {
            let child = later.start + self.random.below(later.len());
            let mut line = self.assembly_line(parent, sight, child, sights[child]);
            line.when = None;
            line.usage = Usage::Opening;
            line
        } else {
            Line::new(parent, self.component(plant, Form::Count), Usage::Opening)
        };
        line.quantity = Some(count(self.random.range(1, 2)));
        let (length, width) = (self.random.range(10, 30) * 64, self.random.range(10, 30) * 64);
        line.length = Some(self.length(length));
        if self.random.chance(50) {
            (line.width, line.height) = (Some(self.length(width)), None);
        } else {
            (line.width, line.height) = (None, Some(self.length(width)));
        }
        line
    }

    fn assembly_line(&mut self, parent: Parent, sight: Sight, child: usize, inner: Sight) -> Line {
        let mut line = Line::new(parent, Component::Assembly(child), Usage::Count);
        line.quantity = match self.random.below(4) {
            0 => None,
            1 if sight.has_windows => Some(name("windows")),
            _ => Some(count(self.random.range(1, 2))),
        };
        if self.random.chance(60) {
            line.length = Some(self.length_term(sight, 300));
        }
        if self.random.chance(50) {
            line.width = Some(self.length_term(sight, 96));
        }
        if self.random.chance(30) {
            line.height = Some(self.length_term(sight, 90));
        }
        if inner.has_cutout {
            line.cutout = Some(match self.random.below(2) {
                0 => area(self.random.range(10, 60), 1),
                _ => binary(
                    Operator::Quotient,
                    binary(Operator::Product, name("length"), self.plain_length(6)),
                    count(self.random.range(3, 5)),
                ),
            });
        }
        let is_top = !matches!(parent, Parent::Assembly(_));
        if is_top {
            line.with.push(("windows".to_owned(), count(self.random.range(1, 3))));
        } else if self.random.chance(25) {
            let more = binary(Operator::Sum, name("windows"), count(1));
            line.with.push(("windows".to_owned(), call(Function::Min, vec![more, count(3)])));
        }
        if self.random.chance(15) {
            line.with.push(("bays".to_owned(), binary(Operator::Sum, name("bays"), count(1))));
        }
        if self.random.chance(30) {
            let spacing = self.random.pick(&[8, 12, 16, 20]);
            let spacing = self.plain_length(*spacing);
            line.with.push(("spacing".to_owned(), spacing));
        }
        line.when = self.condition(sight);
        self.place(&mut line);
        line
    }

    fn place(&mut self, line: &mut Line) {
        for axis in 0..3 {
            if self.random.chance(35) {
                let size = self.random.range(1, 200);
                line.offset[axis] = Some(match self.random.below(3) {
                    0 => self.length(size * 64 + 8),
                    1 => binary(Operator::Quotient, name("length"), count(3)),
                    _ => {
                        let size = self.plain_length(size);
                        binary(Operator::Difference, name("width"), size)
                    }
                });
            }
        }
    }

    fn component(&mut self, plant: &Plant, form: Form) -> Component {
        let fitting: Vec<usize> =
            (0..plant.items.len()).filter(|item| plant.items[*item].form == form).collect();
        Component::Item(*self.random.pick(&fitting))
    }

    fn item_line(&mut self, plant: &Plant, parent: Parent, sight: Sight) -> Line {
        let form = *self.random.pick(&[
            Form::Sheet,
            Form::Sheet,
            Form::Roll,
            Form::Linear,
            Form::Linear,
            Form::Count,
            Form::Count,
            Form::Bulk,
            Form::Bulk,
            Form::Labor,
        ]);
        let component = self.component(plant, form);
        let Component::Item(index) = component else { unreachable!() };
        let item = &plant.items[index];
        let mut line = Line::new(parent, component, Usage::Count);
        match form {
            Form::Sheet => self.sheet_line(item, sight, &mut line),
            Form::Roll => self.roll_line(item, sight, &mut line),
            Form::Linear => self.linear_line(item, sight, &mut line),
            Form::Count => self.count_line(item, sight, &mut line),
            Form::Bulk => self.bulk_line(item, sight, &mut line),
            Form::Labor => {
                line.quantity = Some(match self.random.below(3) {
                    0 => measure(self.random.range(5, 90), 0, "min", Kind::Time, whole(1)),
                    1 => measure(self.random.range(1, 60), 1, "hour", Kind::Time, whole(60)),
                    _ => number(self.random.range(1, 400), 2),
                });
            }
        }
        let is_covered_by_sheets = line.usage == Usage::Cover && item.form.is_cut();
        if self.random.chance(25) && form != Form::Labor && !is_covered_by_sheets {
            line.scrap_percent = Some(self.random.range(1, 5));
        }
        if self.random.chance(15) {
            line.zone = (*self.random.pick(&["front", "rear"])).to_owned();
        }
        line.when = self.condition(sight);
        self.place(&mut line);
        line
    }

    fn sheet_line(&mut self, item: &Item, sight: Sight, line: &mut Line) {
        match self.random.below(6) {
            0 if item.sizes.len() == 1 => {
                line.usage = Usage::Cover;
                let length = self.random.range(90, 220) * 64 + self.random.range(0, 63);
                let width = self.random.range(40, 100) * 64;
                line.length = Some(self.length(length));
                if self.random.chance(40) {
                    line.height = Some(self.length_term(sight, 100));
                } else {
                    line.width = Some(self.length(width));
                }
                line.runs_along_length = Some(self.random.chance(50));
                if self.random.chance(25) {
                    line.gap = Some(self.length(8));
                }
                if self.random.chance(40) {
                    line.cutout = Some(area(self.random.range(1, 6), 144));
                }
            }
            1 if item.sizes.len() == 1 => line.quantity = Some(count(self.random.range(1, 2))),
            _ => {
                line.usage = *self.random.pick(&[Usage::Piece, Usage::Piece, Usage::Count]);
                let least = 44;
                line.quantity = Some(self.quantity(sight, 3));
                line.length = Some(self.length_term(sight, least));
                line.width = Some(self.length_term(sight, least));
                if self.random.chance(25) {
                    line.grain =
                        Some(*self.random.pick(&[Grain::None, Grain::Length, Grain::Width]));
                }
                if self.random.chance(35) {
                    line.cutout = Some(self.part_of_area(line));
                }
            }
        }
    }

    /// Returns a fifth to a half of length times width.
    fn part_of_area(&mut self, line: &Line) -> Term {
        // A mixed fraction stands alone only, so sides that are cells are said in millimeters.
        let side = |term: &Option<Term>| match term.as_ref().unwrap() {
            Term::Literal(_, Value::Measure(value, Kind::Length)) => {
                let text = format!("{} mm", decimal_text(&(value / whole(1_000_000))));
                Term::Literal(text, Value::Measure(value.clone(), Kind::Length))
            }
            term => term.clone(),
        };
        let whole = binary(Operator::Product, side(&line.length), side(&line.width));
        binary(Operator::Quotient, whole, count(self.random.range(2, 5)))
    }

    fn roll_line(&mut self, item: &Item, sight: Sight, line: &mut Line) {
        let is_in_one_width = item
            .sizes
            .iter()
            .all(|size| constant(size.width.as_ref().unwrap()) == roll_width(item));
        match self.random.below(5) {
            0 if is_in_one_width => {
                line.usage = Usage::Cover;
                let (length, width) = (self.random.range(90, 260), self.random.range(60, 130));
                line.length = Some(self.length(length * 64 + 1));
                line.width = Some(self.length(width * 64));
                line.runs_along_length = Some(self.random.chance(50));
            }
            1 => {
                line.usage = Usage::Run;
                line.quantity = Some(count(self.random.range(1, 2)));
                line.length = Some(self.length_term(sight, 200));
            }
            2 if sight.has_openings => self.fill(sight, line),
            3 => {
                line.quantity =
                    Some(measure(self.random.range(20, 90), 1, "ft", Kind::Length, whole(FOOT)));
            }
            _ => {
                line.usage = Usage::Piece;
                line.quantity = Some(self.quantity(sight, 2));
                line.length = Some(self.length_term(sight, 200));
                line.width = Some(self.length_term(sight, 58));
                if self.random.chance(30) {
                    line.grain = Some(Grain::Length);
                }
            }
        }
    }

    fn linear_line(&mut self, item: &Item, sight: Sight, line: &mut Line) {
        let is_made_to_length = item.sizes[0].length.is_none();
        match self.random.below(6) {
            0 if item.net_width.is_some() => {
                line.usage = Usage::Cover;
                let (length, width) = (self.random.range(50, 150), self.random.range(10, 40));
                line.length = Some(self.length(length * 64 + 3));
                line.height = Some(self.length(width * 64 + 5));
                line.runs_along_length = Some(self.random.chance(50));
                if self.random.chance(40) {
                    line.cutout = Some(area(self.random.range(1, 2), 144));
                }
            }
            1 => {
                line.usage = Usage::Run;
                line.quantity = self.random.chance(50).then(|| count(self.random.range(1, 3)));
                line.length = Some(self.length_term(sight, 300));
            }
            2 => {
                line.quantity =
                    Some(measure(self.random.range(20, 200), 1, "ft", Kind::Length, whole(FOOT)));
            }
            3 if item.sizes.len() == 1 && !is_made_to_length => {
                line.quantity = Some(count(self.random.range(1, 3)));
            }
            _ => {
                line.usage = *self.random.pick(&[Usage::Piece, Usage::Piece, Usage::Count]);
                line.quantity = Some(match self.random.below(3) {
                    0 => studs(),
                    _ => self.quantity(sight, 5),
                });
                line.length = Some(self.length_term(sight, 92));
            }
        }
    }

    fn count_line(&mut self, item: &Item, sight: Sight, line: &mut Line) {
        let covers = match &item.coverage {
            Some(Term::Literal(_, Value::Measure(_, kind))) => Some(*kind),
            _ => None,
        };
        match (covers, self.random.below(3)) {
            (Some(Kind::Length), 0 | 1) => {
                line.usage = Usage::Run;
                line.quantity = Some(count(self.random.range(1, 3)));
                line.length = Some(self.length_term(sight, 300));
            }
            (Some(Kind::Area), 0) => self.cover_by_area(sight, line),
            (Some(Kind::Area), 1) if sight.has_openings => self.fill(sight, line),
            (_, 2) => line.quantity = Some(studs()),
            _ => line.quantity = Some(self.quantity(sight, 40)),
        }
    }

    fn bulk_line(&mut self, item: &Item, sight: Sight, line: &mut Line) {
        let covers = match &item.coverage {
            Some(Term::Literal(_, Value::Measure(_, kind))) => Some(*kind),
            _ => None,
        };
        let unit = item.unit.0.as_str();
        match (covers, unit, self.random.below(3)) {
            (Some(Kind::Area), _, 0) => self.cover_by_area(sight, line),
            (Some(Kind::Area), _, 1) | (_, "ft2", 0 | 1) if sight.has_openings => {
                self.fill(sight, line);
            }
            (_, "ft", 0 | 1) => {
                line.usage = Usage::Run;
                line.length = Some(self.length_term(sight, 300));
            }
            (_, "gal", 1) => {
                let quart = decimal(231, 0) * cube(INCH) / whole(4);
                line.quantity =
                    Some(measure(self.random.range(1, 9), 0, "qt", Kind::Volume, quart));
            }
            (_, "lb", 1) => {
                let ounce = fraction(1, 16);
                line.quantity =
                    Some(measure(self.random.range(1, 60), 0, "oz", Kind::Weight, ounce));
            }
            _ => line.quantity = Some(number(self.random.range(1, 900), 2)),
        }
    }

    fn cover_by_area(&mut self, sight: Sight, line: &mut Line) {
        line.usage = Usage::Cover;
        line.quantity = self.random.chance(50).then(|| count(self.random.range(1, 3)));
        line.length = Some(self.length_term(sight, 300));
        line.width = Some(self.length_term(sight, 90));
        if self.random.chance(50) {
            line.cutout = Some(self.part_of_area(line));
        }
    }

    /// Fills an area that is larger than any openings.
    fn fill(&mut self, sight: Sight, line: &mut Line) {
        line.usage = Usage::Fill;
        let foot = self.plain_length(48);
        let beside = binary(Operator::Quotient, name("openings"), foot);
        line.length = Some(binary(Operator::Sum, self.formula_length(sight, 120), beside));
        line.width = Some(self.length(96 * 64));
        line.cutout = match self.random.below(3) {
            0 => Some(area(self.random.range(1, 3), 1)),
            1 if sight.has_cutout => Some(call(Function::Min, vec![name("cutout"), area(3, 1)])),
            _ => None,
        };
    }

    fn burdens(&mut self, plant: &mut Plant) {
        let mut burdens: Vec<Burden> = Vec::new();
        let names = ["benefits", "shop", "freight", "warranty", "margin", "duty"];
        for name in names.iter().take(self.random.below(7)) {
            let mut basis = match self.random.below(7) {
                0 => Basis::LaborMoney,
                1 => Basis::LaborHours,
                3 => Basis::Weight,
                4 => Basis::Area,
                5 => Basis::Unit,
                _ => Basis::Material,
            };
            if !burdens.is_empty() && self.random.chance(30) {
                let earlier = self.random.below(burdens.len());
                basis = Basis::Subtotal(burdens[earlier].name.clone());
            }
            let is_of_items = matches!(
                basis,
                Basis::LaborMoney | Basis::LaborHours | Basis::Material | Basis::Weight
            );
            let limit = match self.random.below(7) {
                0 => Limit::Plan(self.random.below(plant.plans.len())),
                1 if is_of_items => Limit::Group("wood".to_owned()),
                3 if is_of_items
                    && plant.assemblies.iter().any(|assembly| assembly.station == "mill") =>
                {
                    Limit::Station("mill".to_owned())
                }
                2 if is_of_items => Limit::Item(self.random.below(plant.items.len())),
                _ => Limit::Nothing,
            };
            let rate = self.random.range(1, 2500);
            let from = self.random.chance(20).then_some("2027-03-01");
            burdens.push(Burden { name: (*name).to_owned(), basis, limit, rate, from });
        }
        if let Some(first) = burdens.first().cloned()
            && self.random.chance(40)
        {
            let from = Some(*self.random.pick(&["2027-05-01", "2027-07-01"]));
            burdens.push(Burden { rate: first.rate + 7, from, ..first });
        }
        plant.burdens = burdens;
    }
}
