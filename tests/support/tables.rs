//! The CSV tables that say a plant.

use std::collections::BTreeMap;

use super::number::{decimal, decimal_text};
use super::plant::{AS_OF, Basis, Component, Grain, Limit, Line, Parent, Plant, Price, Weight};
use super::term::Term;

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
            let rate = decimal_text(&decimal(burden.rate, 2));
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
