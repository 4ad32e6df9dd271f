//! A made-up plant: its plans, bills, items and prices as plain structures, and the CSV tables that say them.

use std::collections::BTreeMap;

use super::number::{Number, decimal_text};
use super::term::{Term, Value};

/// The day every book with dates speaks of.
pub(crate) const AS_OF: &str = "2027-06-01";
/// The unit that is asked for.
pub(crate) const UNIT: u32 = 412;

#[derive(Clone, Debug)]
pub(crate) struct Plant {
    pub settings: Settings,
    pub plans: Vec<Plan>,
    pub assemblies: Vec<Assembly>,
    pub choices: Vec<Choice>,
    pub items: Vec<Item>,
    pub lines: Vec<Line>,
    pub burdens: Vec<Burden>,
}

#[derive(Clone, Debug)]
#[expect(clippy::struct_excessive_bools, reason = "each is a row of its own in the settings")]
pub(crate) struct Settings {
    pub cost_digits: u32,
    pub half_up: bool,
    pub offcut_percent: i64,
    pub ignores_scrap: bool,
    pub is_free_cut: bool,
    pub most_stages: Option<i64>,
    pub charges_roll_length: bool,
    pub has_day: bool,
    pub weighs_in_kilograms: bool,
    pub is_metric: bool,
}

#[derive(Clone, Debug)]
pub(crate) struct Plan {
    pub name: String,
    pub series: String,
    /// Named dimensions with their cell and value.
    pub values: Vec<(String, Term)>,
}

#[derive(Clone, Debug)]
pub(crate) struct Assembly {
    pub name: String,
    pub station: String,
    pub crew: String,
}

/// An option.
#[derive(Clone, Debug)]
pub(crate) struct Choice {
    pub name: String,
    pub plan: Option<usize>,
    pub is_standard: bool,
    /// The name of the group of which exactly one is taken.
    pub one_of: Option<String>,
    pub includes: Vec<usize>,
    pub excludes: Vec<usize>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Form {
    Sheet,
    Roll,
    Linear,
    Count,
    Bulk,
    Labor,
}

impl Form {
    pub(crate) fn is_cut(self) -> bool {
        matches!(self, Form::Sheet | Form::Roll | Form::Linear)
    }

    fn word(self) -> &'static str {
        match self {
            Form::Sheet => "sheet",
            Form::Roll => "roll",
            Form::Linear => "linear",
            Form::Count => "count",
            Form::Bulk => "bulk",
            Form::Labor => "labor",
        }
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Grain {
    None,
    Length,
    Width,
}

impl Grain {
    fn word(self) -> &'static str {
        match self {
            Grain::None => "none",
            Grain::Length => "length",
            Grain::Width => "width",
        }
    }
}

/// What an amount of money is for.
#[derive(Clone, Debug)]
pub(crate) enum Per {
    /// So many things.
    Things(Number),
    /// So many base units of what the form measures.
    Measure(Number),
    /// So many pounds.
    Pounds(Number),
}

#[derive(Clone, Debug)]
pub(crate) struct Price {
    pub amount: Number,
    pub unit: String,
    pub per: Per,
}

#[derive(Clone, Debug)]
pub(crate) enum Weight {
    None,
    /// Pounds for so many base units of what the form measures, and the unit as it is written.
    Per {
        pounds: Number,
        measure: Number,
        unit: String,
    },
    /// Pounds of the one size there is.
    WholeSize(Number),
    /// Pounds per cubic foot.
    Density(Number),
}

#[derive(Clone, Debug)]
pub(crate) struct Item {
    pub name: String,
    pub form: Form,
    /// Name and base units.
    pub unit: (String, Number),
    pub price: Option<Price>,
    pub weight: Weight,
    pub rides_percent: Option<i64>,
    pub thickness: Option<Term>,
    /// Nominal size with the dressed section it has by PS 20, in 64ths of an inch.
    pub nominal: Option<(String, i64, i64)>,
    pub pack: Option<String>,
    pub grain: Option<Grain>,
    pub kerf: Option<Term>,
    pub trim: Option<Term>,
    pub offcut_min: Option<Term>,
    pub net_width: Option<Term>,
    pub overlap: Option<Term>,
    pub stagger: Option<Term>,
    pub coverage: Option<Term>,
    pub yield_percent: Option<i64>,
    pub shrinkage_percent: Option<i64>,
    pub group: String,
    pub vendor: String,
    pub color: String,
    pub sizes: Vec<Size>,
    pub dated: Vec<DatedPrice>,
}

#[derive(Clone, Debug)]
pub(crate) struct Size {
    pub length: Option<Term>,
    pub width: Option<Term>,
    pub price: Option<Price>,
    /// How many there are.
    pub available: Option<i64>,
}

/// A row of `prices`.
#[derive(Clone, Debug)]
pub(crate) struct DatedPrice {
    /// The size it is for, by position; every size if not said.
    pub size: Option<usize>,
    pub from: Option<&'static str>,
    pub to: Option<&'static str>,
    pub price: Price,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Parent {
    Plan(usize),
    Assembly(usize),
    Choice(usize),
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Component {
    Assembly(usize),
    Item(usize),
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Usage {
    Count,
    Piece,
    Cover,
    Run,
    Fill,
    Opening,
}

impl Usage {
    fn word(self) -> &'static str {
        match self {
            Usage::Count => "",
            Usage::Piece => "piece",
            Usage::Cover => "cover",
            Usage::Run => "run",
            Usage::Fill => "fill",
            Usage::Opening => "opening",
        }
    }
}

#[derive(Clone, Debug)]
pub(crate) struct Line {
    pub parent: Parent,
    pub component: Component,
    pub usage: Usage,
    pub quantity: Option<Term>,
    pub length: Option<Term>,
    pub width: Option<Term>,
    pub height: Option<Term>,
    pub cutout: Option<Term>,
    /// Whether rows of a cover run along the length of the area.
    pub runs_along_length: Option<bool>,
    pub gap: Option<Term>,
    pub grain: Option<Grain>,
    pub with: Vec<(String, Term)>,
    pub when: Option<Term>,
    pub scrap_percent: Option<i64>,
    pub offset: [Option<Term>; 3],
    pub from: Option<&'static str>,
    pub to: Option<&'static str>,
    /// Instead of days.
    pub first_unit: Option<u32>,
    pub last_unit: Option<u32>,
    pub zone: String,
}

impl Line {
    pub(crate) fn new(parent: Parent, component: Component, usage: Usage) -> Line {
        Line {
            parent,
            component,
            usage,
            quantity: None,
            length: None,
            width: None,
            height: None,
            cutout: None,
            runs_along_length: None,
            gap: None,
            grain: None,
            with: Vec::new(),
            when: None,
            scrap_percent: None,
            offset: [None, None, None],
            from: None,
            to: None,
            first_unit: None,
            last_unit: None,
            zone: String::new(),
        }
    }
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Basis {
    LaborMoney,
    LaborHours,
    Material,
    Weight,
    Area,
    Unit,
    /// The running total up to and with an earlier burden.
    Subtotal(String),
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Limit {
    Nothing,
    Plan(usize),
    Group(String),
    Station(String),
    Item(usize),
}

#[derive(Clone, Debug)]
pub(crate) struct Burden {
    pub name: String,
    pub basis: Basis,
    pub limit: Limit,
    /// Percent for bases of money, else money per hour, pound, square foot or unit; in hundredths.
    pub rate: i64,
    pub from: Option<&'static str>,
}

/// How tables are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Bill {
    /// Rows with their parent.
    Parents,
    /// Rows with their level.
    Indented,
}

/// A table: a header row and the rest.
pub(crate) type Rows = Vec<Vec<String>>;

impl Plant {
    /// Returns the tables by name.
    pub(crate) fn tables(&self, bill: Bill) -> BTreeMap<&'static str, Rows> {
        let mut tables = BTreeMap::from([
            ("settings", self.settings_rows()),
            ("plans", self.plan_rows()),
            ("items", self.item_rows()),
            ("sizes", self.size_rows()),
            ("bill", if bill == Bill::Parents { self.bill_rows() } else { self.indented_rows() }),
        ]);
        let optional = [
            ("assemblies", self.assembly_rows()),
            ("options", self.option_rows()),
            ("prices", self.price_rows()),
            ("burdens", self.burden_rows()),
        ];
        tables.extend(optional.into_iter().filter(|(_, rows)| rows.len() > 1));
        tables
    }

    fn settings_rows(&self) -> Rows {
        let settings = &self.settings;
        let mut rows = table(&["key", "value"]);
        let mut set = |key: &str, value: &str| rows.push(vec![key.to_owned(), value.to_owned()]);
        set("cost_digits", &settings.cost_digits.to_string());
        set("rounding", if settings.half_up { "half_up" } else { "half_even" });
        set("length_unit", if settings.is_metric { "mm" } else { "in" });
        set("weight_unit", if settings.weighs_in_kilograms { "kg" } else { "lb" });
        set("offcut_value_percent", &settings.offcut_percent.to_string());
        set("ignore_scrap", if settings.ignores_scrap { "yes" } else { "no" });
        set("cutting", if settings.is_free_cut { "free" } else { "guillotine" });
        if let Some(stages) = settings.most_stages {
            set("max_stages", &stages.to_string());
        }
        set("roll_charge", if settings.charges_roll_length { "length" } else { "roll" });
        if settings.has_day {
            set("as_of", AS_OF);
        }
        rows
    }

    fn plan_rows(&self) -> Rows {
        let mut header = vec!["plan".to_owned(), "series".to_owned()];
        header.extend(self.plans[0].values.iter().map(|(name, _)| name.clone()));
        let mut rows = vec![header];
        for plan in &self.plans {
            let mut row = vec![plan.name.clone(), plan.series.clone()];
            row.extend(plan.values.iter().map(|(_, term)| term.to_string()));
            rows.push(row);
        }
        rows
    }

    fn assembly_rows(&self) -> Rows {
        let mut rows = table(&["assembly", "station", "crew"]);
        for assembly in &self.assemblies {
            rows.push(vec![assembly.name.clone(), assembly.station.clone(), assembly.crew.clone()]);
        }
        rows
    }

    fn option_rows(&self) -> Rows {
        let mut rows = table(&["option", "plan", "standard", "choice", "includes", "excludes"]);
        for choice in &self.choices {
            let names = |others: &[usize]| {
                let names: Vec<&str> =
                    others.iter().map(|other| self.choices[*other].name.as_str()).collect();
                names.join("; ")
            };
            rows.push(vec![
                choice.name.clone(),
                choice.plan.map_or(String::new(), |plan| self.plans[plan].name.clone()),
                if choice.is_standard { "yes".to_owned() } else { String::new() },
                choice.one_of.clone().unwrap_or_default(),
                names(&choice.includes),
                names(&choice.excludes),
            ]);
        }
        rows
    }

    fn item_rows(&self) -> Rows {
        let mut rows = table(&[
            "item",
            "form",
            "unit",
            "price",
            "price_unit",
            "weight",
            "weight_unit",
            "density",
            "rides_percent",
            "thickness",
            "nominal",
            "pack",
            "grain",
            "kerf",
            "trim",
            "offcut_min",
            "net_width",
            "overlap",
            "stagger",
            "coverage",
            "yield_percent",
            "shrinkage_percent",
            "group",
            "vendor",
            "color",
        ]);
        let percent = |value: Option<i64>| value.map_or(String::new(), |value| value.to_string());
        for item in &self.items {
            let [price, price_unit] = price_cells(item.price.as_ref());
            let (weight, weight_unit, density) = match &item.weight {
                Weight::None => (String::new(), String::new(), String::new()),
                Weight::Per { pounds, unit, .. } => {
                    (decimal_text(pounds), unit.clone(), String::new())
                }
                Weight::WholeSize(pounds) => {
                    (decimal_text(pounds), "lb/each".to_owned(), String::new())
                }
                Weight::Density(pounds) => {
                    (String::new(), String::new(), format!("{} lb/ft3", decimal_text(pounds)))
                }
            };
            rows.push(vec![
                item.name.clone(),
                item.form.word().to_owned(),
                item.unit.0.clone(),
                price,
                price_unit,
                weight,
                weight_unit,
                density,
                percent(item.rides_percent),
                cell(item.thickness.as_ref()),
                item.nominal.as_ref().map_or(String::new(), |(text, ..)| text.clone()),
                item.pack.clone().unwrap_or_default(),
                item.grain.map_or("", Grain::word).to_owned(),
                cell(item.kerf.as_ref()),
                cell(item.trim.as_ref()),
                cell(item.offcut_min.as_ref()),
                cell(item.net_width.as_ref()),
                cell(item.overlap.as_ref()),
                cell(item.stagger.as_ref()),
                cell(item.coverage.as_ref()),
                percent(item.yield_percent),
                percent(item.shrinkage_percent),
                item.group.clone(),
                item.vendor.clone(),
                item.color.clone(),
            ]);
        }
        rows
    }

    fn size_rows(&self) -> Rows {
        let mut rows = table(&["item", "length", "width", "price", "price_unit", "available"]);
        for item in &self.items {
            for size in &item.sizes {
                let [price, price_unit] = price_cells(size.price.as_ref());
                rows.push(vec![
                    item.name.clone(),
                    cell(size.length.as_ref()),
                    cell(size.width.as_ref()),
                    price,
                    price_unit,
                    size.available.map_or(String::new(), |count| count.to_string()),
                ]);
            }
        }
        rows
    }

    fn price_rows(&self) -> Rows {
        let mut rows =
            table(&["item", "length", "width", "from_date", "to_date", "price", "price_unit"]);
        for item in &self.items {
            for dated in &item.dated {
                let [price, price_unit] = price_cells(Some(&dated.price));
                let size = dated.size.map(|size| &item.sizes[size]);
                rows.push(vec![
                    item.name.clone(),
                    cell(size.and_then(|size| size.length.as_ref())),
                    cell(size.and_then(|size| size.width.as_ref())),
                    dated.from.unwrap_or_default().to_owned(),
                    dated.to.unwrap_or_default().to_owned(),
                    price,
                    price_unit,
                ]);
            }
        }
        rows
    }

    fn burden_rows(&self) -> Rows {
        let mut rows = table(&["burden", "basis", "applies_to", "percent", "amount", "from_date"]);
        for burden in &self.burdens {
            let rate = decimal_text(&super::number::decimal(burden.rate, 2));
            let is_money =
                matches!(burden.basis, Basis::LaborMoney | Basis::Material | Basis::Subtotal(_));
            rows.push(vec![
                burden.name.clone(),
                match &burden.basis {
                    Basis::LaborMoney => "labor_money".to_owned(),
                    Basis::LaborHours => "labor_hours".to_owned(),
                    Basis::Material => "material".to_owned(),
                    Basis::Weight => "weight".to_owned(),
                    Basis::Area => "area".to_owned(),
                    Basis::Unit => "unit".to_owned(),
                    Basis::Subtotal(name) => name.clone(),
                },
                match &burden.limit {
                    Limit::Nothing => String::new(),
                    Limit::Plan(plan) => self.plans[*plan].name.clone(),
                    Limit::Group(name) | Limit::Station(name) => name.clone(),
                    Limit::Item(item) => self.items[*item].name.clone(),
                },
                if is_money { rate.clone() } else { String::new() },
                if is_money { String::new() } else { rate },
                burden.from.unwrap_or_default().to_owned(),
            ]);
        }
        rows
    }

    fn bill_rows(&self) -> Rows {
        let mut rows = table(&[&["parent"], LINE_COLUMNS].concat());
        for line in &self.lines {
            let mut row = vec![self.parent_name(line.parent)];
            row.extend(self.line_cells(line));
            rows.push(row);
        }
        rows
    }

    /// Indents every assembly each time it is taken, with all that is in it.
    fn indented_rows(&self) -> Rows {
        let mut rows = table(&[&["level"], LINE_COLUMNS].concat());
        let tops = (0..self.plans.len())
            .map(Parent::Plan)
            .chain((0..self.choices.len()).map(Parent::Choice))
            .chain((0..self.assemblies.len()).map(Parent::Assembly));
        for top in tops {
            // An assembly that no line takes stands on its own; one that a line takes has been indented there.
            if let Parent::Assembly(assembly) = top
                && self.lines.iter().any(|line| line.component == Component::Assembly(assembly))
            {
                continue;
            }
            if self.lines.iter().all(|line| line.parent != top) {
                continue;
            }
            let mut row = vec!["0".to_owned(), self.parent_name(top)];
            row.resize(1 + LINE_COLUMNS.len(), String::new());
            rows.push(row);
            self.indent(top, 1, &mut rows);
        }
        rows
    }

    fn indent(&self, parent: Parent, level: usize, rows: &mut Rows) {
        for line in self.lines.iter().filter(|line| line.parent == parent) {
            let mut row = vec![level.to_string()];
            row.extend(self.line_cells(line));
            rows.push(row);
            if let Component::Assembly(assembly) = line.component {
                self.indent(Parent::Assembly(assembly), level + 1, rows);
            }
        }
    }

    fn line_cells(&self, line: &Line) -> Vec<String> {
        let with: Vec<String> =
            line.with.iter().map(|(name, term)| format!("{name} = {term}")).collect();
        vec![
            match line.component {
                Component::Assembly(assembly) => self.assemblies[assembly].name.clone(),
                Component::Item(item) => self.items[item].name.clone(),
            },
            cell(line.quantity.as_ref()),
            cell(line.length.as_ref()),
            cell(line.width.as_ref()),
            cell(line.height.as_ref()),
            line.usage.word().to_owned(),
            match line.runs_along_length {
                None => "",
                Some(true) => "length",
                Some(false) => "width",
            }
            .to_owned(),
            cell(line.gap.as_ref()),
            line.grain.map_or("", Grain::word).to_owned(),
            cell(line.cutout.as_ref()),
            with.join("; "),
            cell(line.when.as_ref()),
            line.scrap_percent.map_or(String::new(), |percent| percent.to_string()),
            cell(line.offset[0].as_ref()),
            cell(line.offset[1].as_ref()),
            cell(line.offset[2].as_ref()),
            end(line.from, line.first_unit),
            end(line.to, line.last_unit),
            line.zone.clone(),
        ]
    }

    fn parent_name(&self, parent: Parent) -> String {
        match parent {
            Parent::Plan(plan) => self.plans[plan].name.clone(),
            Parent::Assembly(assembly) => self.assemblies[assembly].name.clone(),
            Parent::Choice(choice) => self.choices[choice].name.clone(),
        }
    }
}

const LINE_COLUMNS: &[&str] = &[
    "component",
    "quantity",
    "length",
    "width",
    "height",
    "use",
    "rows",
    "gap",
    "grain",
    "cutout",
    "with",
    "when",
    "scrap_percent",
    "x",
    "y",
    "z",
    "effective_from",
    "effective_to",
    "zone",
];

fn table(header: &[&str]) -> Rows {
    vec![header.iter().map(|name| (*name).to_owned()).collect()]
}

fn cell(term: Option<&Term>) -> String {
    term.map_or(String::new(), Term::to_string)
}

fn end(day: Option<&str>, unit: Option<u32>) -> String {
    let unit = unit.map_or(String::new(), |unit| format!("#{unit}"));
    day.map_or(unit, str::to_owned)
}

fn price_cells(price: Option<&Price>) -> [String; 2] {
    match price {
        Some(price) => [decimal_text(&price.amount), price.unit.clone()],
        None => [String::new(), String::new()],
    }
}

/// Returns the constant a cell holds, in base units.
pub(crate) fn constant(term: &Term) -> Number {
    match term {
        Term::Literal(_, Value::Measure(value, _)) => value.clone(),
        other => panic!("{other} is no constant"),
    }
}

/// Writes tables as CSV files, cells parted by `separator`.
pub(crate) fn files(
    tables: &BTreeMap<&'static str, Rows>,
    separator: char,
) -> BTreeMap<String, Vec<u8>> {
    let file = |(name, rows): (&&'static str, &Rows)| {
        (format!("{name}.csv"), csv(rows, separator).into_bytes())
    };
    tables.iter().map(file).collect()
}

pub(crate) fn csv(rows: &Rows, separator: char) -> String {
    let mut text = String::new();
    for row in rows {
        for (index, cell) in row.iter().enumerate() {
            if index > 0 {
                text.push(separator);
            }
            if cell.contains([separator, '"', '\n', '\r']) {
                text.push('"');
                text.push_str(&cell.replace('"', "\"\""));
                text.push('"');
            } else {
                text.push_str(cell);
            }
        }
        text.push('\n');
    }
    text
}
