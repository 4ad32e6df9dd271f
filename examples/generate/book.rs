//! Makes books of any size, as a plant's grow: series of plans that share sections, eight levels of assemblies, sizes
//! passed down, formulas on a share of the lines. The same [`Shape`] gives the same bytes on every machine.
//!
//! A plan takes sections from its own stretch of the list, and so does every assembly below, but for a few that the
//! whole plant shares; so a plan reaches some thousands of lines, not the whole book. Where all is shared, it takes any.

use std::fmt::Write;

/// How large a book is made.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Shape {
    /// Bill lines.
    pub lines: usize,
    /// Plans, above zero.
    pub plans: usize,
    /// Items, at least 20.
    pub items: usize,
    /// Seed of all choices.
    pub seed: u64,
    /// Which forms items have.
    pub forms: Forms,
    /// Whether a line may take any assembly of the level below, not only those near it.
    pub is_shared: bool,
}

/// Which forms the items of a book have.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Forms {
    /// Nothing that is cut: count, bulk and labor.
    Measured,
    /// Sticks and sheets as well.
    Nested,
    /// What engines that know no formulas, measures and options can explode as well: whole numbers of counted items, each
    /// with a price and a weight. No burdens; amounts are rounded half up, as those engines round a decimal.
    Plain,
}

/// Assemblies of each level, in percent of all.
const LEVELS: [usize; 7] = [25, 22, 18, 14, 10, 7, 4];
/// Levels from the top whose assemblies may take their size from their parent.
const SIZED_LEVELS: usize = 3;
/// Lines of a plan's own.
const PLAN_LINES: usize = 30;
/// Lines of an assembly, about.
const ASSEMBLY_LINES: usize = 12;
const MILLION: usize = 1_000_000;
const OPTIONS: [&str; 8] =
    ["solar", "winter", "generator", "bunks", "awning", "fireplace", "washer", "lift"];
const GROUPS: [&str; 8] =
    ["framing", "floor", "wall", "roof", "cabinet", "plumbing", "electric", "finish"];

/// Returns the files of a book: names and texts.
pub(crate) fn book(shape: &Shape) -> Vec<(&'static str, String)> {
    let is_plain = shape.forms == Forms::Plain;
    let mut maker = Maker {
        is_plain,
        is_shared: shape.is_shared,
        random: Random(shape.seed),
        items: Vec::new(),
        bill: String::new(),
    };
    let items = if is_plain { maker.plain_items(shape) } else { maker.items(shape) };
    let assembly_count = (shape.lines.saturating_sub(shape.plans * PLAN_LINES) / ASSEMBLY_LINES)
        .max(LEVELS.len() * 2);
    let levels = maker.levels(assembly_count);
    maker.bill(shape, &levels);
    if is_plain {
        return vec![
            ("bill.csv", maker.bill),
            ("items.csv", items),
            ("plans.csv", maker.random.plans(shape.plans)),
            ("settings.csv", PLAIN_SETTINGS.to_owned()),
        ];
    }
    let mut files = vec![
        ("assemblies.csv", assemblies(&levels)),
        ("bill.csv", maker.bill),
        ("burdens.csv", BURDENS.to_owned()),
        ("items.csv", items),
        ("options.csv", options()),
        ("plans.csv", maker.random.plans(shape.plans)),
        ("settings.csv", SETTINGS.to_owned()),
    ];
    if shape.forms == Forms::Nested {
        files.push(("sizes.csv", sizes(&maker.items)));
    }
    files
}

const BURDENS: &str = "\
burden,order,basis,applies_to,percent,amount
labor overhead,1,labor_money,,85,
freight in,2,material,,3.5,
shop supplies,3,unit,,,42.50
";

const SETTINGS: &str = "\
key,value
revision,generated
as_of,2027-03-01
currency,USD
length_unit,in
weight_unit,lb
lot,20
";

const PLAIN_SETTINGS: &str = "\
key,value
revision,generated
as_of,2027-03-01
currency,USD
weight_unit,lb
rounding,half_up
lot,1
";

/// How an item is taken.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Count,
    ByFoot,
    ByArea,
    ByGallon,
    Labor,
    Stick,
    Sheet,
}

#[derive(Clone, Copy)]
struct Assembly {
    /// Whether its lines use the length and width passed to it.
    is_sized: bool,
    /// Whether they use a spacing, too.
    is_spaced: bool,
}

struct Maker {
    /// Whether lines have no more than a whole quantity.
    is_plain: bool,
    /// Whether any assembly of a level may be taken.
    is_shared: bool,
    random: Random,
    items: Vec<Kind>,
    bill: String,
}

impl Maker {
    fn items(&mut self, shape: &Shape) -> String {
        let mut text =
            "item,description,form,unit,price,price_unit,weight,weight_unit,group,vendor,shrinkage_percent\n".to_owned();
        for index in 0..shape.items {
            let roll = self.random.below(100);
            let kind = match (shape.forms, roll) {
                (Forms::Nested, 0..=14) => Kind::Stick,
                (Forms::Nested, 15..=22) => Kind::Sheet,
                (_, 0..=64) => Kind::Count,
                (_, 65..=74) => Kind::ByFoot,
                (_, 75..=82) => Kind::ByArea,
                (_, 83..=87) => Kind::ByGallon,
                _ => Kind::Labor,
            };
            let cents = 5 + self.random.below(9_000) * self.random.below(4);
            let price = format!("{}.{:02}", cents / 100, cents % 100);
            let grams = 1 + self.random.below(5_000);
            let weight = format!("{}.{:03}", grams / 1000, grams % 1000);
            let (form, unit, price_unit, weight_unit) = match kind {
                Kind::Count if self.random.below(12) == 0 => ("count", "each", "C", "lb"),
                Kind::Count => ("count", "each", "each", "lb"),
                Kind::ByFoot => ("bulk", "ft", "100 ft", "lb/ft"),
                Kind::ByArea => ("bulk", "ft2", "ft2", "lb/ft2"),
                Kind::ByGallon => ("bulk", "gal", "gal", "lb/gal"),
                Kind::Labor => ("labor", "hour", "hour", ""),
                Kind::Stick => ("linear", "ft", "ft", "lb/ft"),
                Kind::Sheet => ("sheet", "ft2", "MSF", "lb/ft2"),
            };
            let price = if kind == Kind::Sheet { format!("{price}00") } else { price };
            let weight = if kind == Kind::Labor { "" } else { &weight };
            let group = GROUPS[index * GROUPS.len() / shape.items];
            let vendor = 1 + self.random.below(60);
            let shrinkage = if self.random.below(20) == 0 { "2.5" } else { "" };
            row(
                &mut text,
                format_args!(
                    "P-{index:05},part {index} for the {group},{form},{unit},{price},{price_unit},{weight},\
                     {weight_unit},{group},vendor {vendor},{shrinkage}"
                ),
            );
            self.items.push(kind);
        }
        text
    }

    /// Prices and weights have six decimal places, so that amounts of four have to be rounded.
    fn plain_items(&mut self, shape: &Shape) -> String {
        let mut text = "item,form,price,weight\n".to_owned();
        for index in 0..shape.items {
            let (price, weight) =
                (1 + self.random.below(90_000_000), 1 + self.random.below(5_000_000));
            let decimal =
                |millionths| format!("{}.{:06}", millionths / MILLION, millionths % MILLION);
            row(
                &mut text,
                format_args!("P-{index:05},count,{},{}", decimal(price), decimal(weight)),
            );
            self.items.push(Kind::Count);
        }
        text
    }

    fn levels(&mut self, count: usize) -> Vec<Vec<Assembly>> {
        let level = |(level, percent): (usize, &usize)| {
            (0..(count * percent / 100).max(2))
                .map(|_| {
                    let is_sized = level < SIZED_LEVELS && self.random.below(100) < 45;
                    Assembly { is_sized, is_spaced: is_sized && self.random.below(3) == 0 }
                })
                .collect()
        };
        LEVELS.iter().enumerate().map(level).collect()
    }

    fn bill(&mut self, shape: &Shape, levels: &[Vec<Assembly>]) {
        self.bill.push_str(if self.is_plain {
            "parent,component,quantity\n"
        } else {
            "parent,component,quantity,length,width,use,with,when,scrap_percent\n"
        });
        let mut left = shape.lines;
        for plan in 0..shape.plans {
            let name = format!("PLAN-{plan:04}");
            for line in 0..PLAN_LINES.min(left) {
                let at = (plan * PLAN_LINES + line, shape.plans * PLAN_LINES);
                if line % 5 < 4 {
                    self.take_assembly(&name, &levels[0], 0, at, true);
                } else {
                    self.take_item(&name, at, false, false);
                }
            }
            left -= PLAN_LINES.min(left);
        }
        for (index, option) in OPTIONS.iter().enumerate() {
            if left > 0 && !self.is_plain {
                self.take_item(option, (index, OPTIONS.len()), false, false);
                left -= 1;
            }
        }
        let total: usize = levels.iter().map(Vec::len).sum();
        for (level, assemblies) in levels.iter().enumerate() {
            for (index, assembly) in assemblies.iter().enumerate() {
                let place = levels[..level].iter().map(Vec::len).sum::<usize>() + index;
                // Shares what is left evenly among those that are left, so that the count of lines comes out.
                let lines = left / (total - place);
                let name = name(level, index);
                for line in 0..lines {
                    let at = (index * lines + line, assemblies.len() * lines);
                    match levels.get(level + 1) {
                        Some(below) if line < 3 => {
                            self.take_assembly(&name, below, level + 1, at, assembly.is_sized);
                        }
                        _ => self.take_item(&name, at, assembly.is_sized, assembly.is_spaced),
                    }
                }
                left -= lines;
            }
        }
    }

    /// Writes a line that takes an assembly of a level from about the stretch `at` is in.
    fn take_assembly(
        &mut self,
        parent: &str,
        level: &[Assembly],
        depth: usize,
        at: (usize, usize),
        is_sized: bool,
    ) {
        let child = if self.is_shared {
            self.random.below(level.len())
        } else {
            self.near(at, level.len())
        };
        let assembly = level[child];
        let quantity = [1, 1, 1, 2][self.random.below(4)];
        if self.is_plain {
            let child = name(depth, child);
            row(&mut self.bill, format_args!("{parent},{child},{quantity}"));
            return;
        }
        let (mut length, mut width, mut with) = ("", "", "");
        if assembly.is_sized {
            length = match (is_sized, self.random.below(4)) {
                (true, 0..=2) => "length",
                (true, _) => "length - 3 in",
                _ => "96",
            };
            width = if is_sized && self.random.below(2) == 0 { "width" } else { "7' 6\"\"" };
        }
        if assembly.is_spaced {
            with = if self.random.below(3) == 0 { "spacing = 24 in" } else { "spacing = 16 in" };
        }
        let when = self.condition(depth);
        let child = name(depth, child);
        row(
            &mut self.bill,
            format_args!("{parent},{child},{quantity},{length},\"{width}\",,{with},{when},"),
        );
    }

    fn take_item(&mut self, parent: &str, at: (usize, usize), is_sized: bool, is_spaced: bool) {
        let item = if self.random.below(3) == 0 {
            self.random.below(self.items.len())
        } else {
            self.near(at, self.items.len())
        };
        let few = 1 + self.random.below(12);
        if self.is_plain {
            row(&mut self.bill, format_args!("{parent},P-{item:05},{few}"));
            return;
        }
        let has_formula = is_sized && self.random.below(2) == 0;
        let spacing = if is_spaced { "spacing" } else { "16 in" };
        let sixteenths = self.random.below(16 * 40) + 16 * 8;
        let length = format!("{} {}/16", sixteenths / 16, sixteenths % 16 / 2 * 2 + 1);
        let (mut quantity, mut sides, mut usage) = (few.to_string(), String::from(","), "");
        match self.items[item] {
            Kind::Count if has_formula => quantity = format!("ROUNDUP(length / {spacing}) + 1"),
            Kind::Count => {}
            Kind::ByFoot if has_formula => quantity = String::from("2 * length + 2 * width"),
            Kind::ByFoot => quantity = format!("{length} in"),
            Kind::ByArea if has_formula => quantity = String::from("length * width"),
            Kind::ByArea => quantity = format!("{few}.5 ft2"),
            Kind::ByGallon => quantity = format!("0.{few:02} gal"),
            Kind::Labor if has_formula => quantity = format!("{few} min * length / 1 ft"),
            Kind::Labor => quantity = format!("{few} min"),
            Kind::Stick if has_formula => (sides, usage) = ("length,".to_owned(), "piece"),
            Kind::Stick => (sides, usage) = (format!("{length},"), "piece"),
            Kind::Sheet => (sides, usage) = (format!("{length},{few}"), "piece"),
        }
        let scrap = if self.random.below(25) == 0 { "3" } else { "" };
        let when = self.condition(usize::from(!is_sized));
        row(
            &mut self.bill,
            format_args!("{parent},P-{item:05},{quantity},{sides},{usage},,{when},{scrap}"),
        );
    }

    /// Returns a position of a list about where `at` is in its own, seldom a shared one from the list's end.
    fn near(&mut self, at: (usize, usize), count: usize) -> usize {
        if self.random.below(20) == 0 {
            return count - 1 - self.random.below((count / 60).max(1));
        }
        let reach = (count / 250).max(3);
        let middle = at.0 * count / at.1.max(1);
        (middle + self.random.below(2 * reach + 1)).saturating_sub(reach).min(count - 1)
    }

    fn condition(&mut self, depth: usize) -> String {
        if depth > 1 || self.random.below(30) > 0 {
            return String::new();
        }
        let option = OPTIONS[self.random.below(OPTIONS.len())];
        match self.random.below(3) {
            0 => option.to_owned(),
            1 => format!("NOT {option}"),
            _ => format!("{option} OR model_year >= 2027"),
        }
    }
}

fn name(level: usize, index: usize) -> String {
    format!("A{}-{index:05}", level + 1)
}

fn assemblies(levels: &[Vec<Assembly>]) -> String {
    let mut text = "assembly,description,station\n".to_owned();
    for (level, assemblies) in levels.iter().enumerate() {
        for index in 0..assemblies.len() {
            let station = 1 + index % 14;
            let name = name(level, index);
            row(&mut text, format_args!("{name},{name} of level {},station {station}", level + 1));
        }
    }
    text
}

fn options() -> String {
    let mut text = "option,description,standard,take_rate\n".to_owned();
    for (index, option) in OPTIONS.iter().enumerate() {
        let standard = if index % 4 == 0 { "yes" } else { "" };
        row(&mut text, format_args!("{option},{option} package,{standard},{}", 10 + 10 * index));
    }
    text
}

fn sizes(items: &[Kind]) -> String {
    let mut text = "item,length,width\n".to_owned();
    for (item, kind) in items.iter().enumerate() {
        let sizes: &[&str] = match kind {
            Kind::Stick => &["8 ft,", "12 ft,", "16 ft,"],
            Kind::Sheet => &["8 ft,4 ft", "10 ft,4 ft"],
            _ => &[],
        };
        for size in sizes {
            row(&mut text, format_args!("P-{item:05},{size}"));
        }
    }
    text
}

fn row(text: &mut String, row: std::fmt::Arguments<'_>) {
    writeln!(text, "{row}").expect("a string takes any text");
}

/// A stream of numbers: `SplitMix64` (Steele, Lea and Flood 2014).
pub(crate) struct Random(pub u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        mixed ^ (mixed >> 31)
    }

    /// Returns a number below `limit`, which is above zero.
    pub(crate) fn below(&mut self, limit: usize) -> usize {
        let limit = u64::try_from(limit).expect("a limit fits");
        usize::try_from(self.next() % limit).expect("a number below a usize fits")
    }

    fn plans(&mut self, count: usize) -> String {
        let mut text = "plan,description,length,width,wall_height,gvwr,model_year\n".to_owned();
        for plan in 0..count {
            // Plans of one series have their width and height in common, and few lengths.
            let series = plan / 12;
            let length = 22 + (series + plan % 12 / 4) % 14;
            let height = 78 + series % 3 * 6;
            let weight = 7000 + 100 * self.below(60);
            row(
                &mut text,
                format_args!(
                    "PLAN-{plan:04},series {series},\"{length}' 6\"\"\",\"8' 0\"\"\",{height},{weight},2027"
                ),
            );
        }
        text
    }
}
