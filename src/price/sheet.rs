use crate::diag::Diagnostic;
use crate::explode::Needs;
use crate::model::Book;
use crate::model::BurdenBasis;
use crate::model::BurdenId;
use crate::model::Form;
use crate::model::ItemId;
use crate::price::assumed::crew;
use crate::price::learning::Curve;
use crate::price::quote::Quote;
use crate::price::{Options, Rule};
use crate::quantity::Ratio;
use crate::rollup::{BuildCost, ItemCost, QUANTITY_DIGITS, Rollup, labor_by_station, with_items};

/// What one unit of a plan costs and is sold for.
#[derive(Clone, Debug)]
pub struct PlanSheet {
    /// Position in the builds of the needs.
    pub build: usize,
    /// Sections in the order they are laid on; one without lines is left out.
    pub sections: Vec<Section>,
    /// What the lines leave of the ledger's amount.
    pub rounding: Amounts,
    /// The ledger's amount with what learning adds: all lines and the rounding.
    pub factory: Amounts,
    /// Cost of the lot in the ledger, at the standard hours, times ten to the power of the cost digits.
    pub ledger: i128,
    /// What the learning curve adds, if the lot lies on one.
    pub learned: Option<Learned>,
    /// Cost of material that does not end up in the unit, for the lot, exact.
    pub waste: Ratio,
    /// Cost of all material, for the lot, exact.
    pub material: Ratio,
    /// Prices of one unit; empty where neither margin nor price is known.
    pub quotes: Vec<Quote>,
}

/// An amount in the currency's smallest unit: of the lot, and of one unit, each rounded on its own.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Amounts {
    /// Of the lot.
    pub lot: i128,
    /// Of one unit.
    pub unit: i128,
}

/// What a lot on the learning curve takes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Learned {
    /// Number of its first unit.
    pub first: u32,
    /// Its labor over its labor at the standard.
    pub factor: Ratio,
    /// What that adds to the ledger's amount, burdens on labor included, times ten to the power of the cost digits.
    pub added: i128,
}

/// A part of a cost sheet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Section {
    /// Which.
    pub kind: SectionKind,
    /// Its lines.
    pub lines: Vec<Line>,
}

/// The parts of a cost sheet, in their order.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum SectionKind {
    /// Material by group, and its waste.
    Material,
    /// Burdens on material: freight-in, duty, surcharges.
    Freight,
    /// Labor by station, at the standard hours.
    Labor,
    /// Burdens on labor money and hours.
    LaborBurdens,
    /// Burdens by weight, area, unit or lot, and on what is laid on before.
    OtherBurdens,
    /// What the first units take above the standard.
    Learning,
}

/// A line of a cost sheet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// What it is.
    pub what: What,
    /// What it costs.
    pub amounts: Amounts,
}

/// What a line of a cost sheet is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum What {
    /// Material of a group that ends up in the unit; empty for items without a group.
    Group(String),
    /// Material that does not: cutting waste, scrap and shrinkage.
    Waste,
    /// Labor of one item at a station.
    Labor {
        /// The station; empty if not said.
        station: String,
        /// The item.
        item: ItemId,
        /// Hours for one unit.
        hours: Ratio,
        /// Money for one hour, before any rounding; nothing without hours.
        rate: Option<Ratio>,
        /// How many work at it at once.
        crew: Ratio,
    },
    /// A burden.
    Burden(BurdenId),
    /// Labor above the standard.
    LaborAbove,
    /// What a burden adds to that.
    BurdenAbove(BurdenId),
}

impl SectionKind {
    /// The parts in their order.
    pub const ALL: [SectionKind; 6] = [
        SectionKind::Material,
        SectionKind::Freight,
        SectionKind::Labor,
        SectionKind::LaborBurdens,
        SectionKind::OtherBurdens,
        SectionKind::Learning,
    ];

    /// Returns its heading.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            SectionKind::Material => "material",
            SectionKind::Freight => "freight and surcharges",
            SectionKind::Labor => "labor",
            SectionKind::LaborBurdens => "burdens on labor",
            SectionKind::OtherBurdens => "other burdens",
            SectionKind::Learning => "learning curve",
        }
    }

    const fn of(basis: &BurdenBasis) -> SectionKind {
        match basis {
            BurdenBasis::Material => SectionKind::Freight,
            BurdenBasis::LaborMoney | BurdenBasis::LaborTime => SectionKind::LaborBurdens,
            BurdenBasis::Weight
            | BurdenBasis::Area
            | BurdenBasis::Unit
            | BurdenBasis::Lot
            | BurdenBasis::Subtotal(_) => SectionKind::OtherBurdens,
        }
    }
}

impl Section {
    /// Returns what its lines add up to.
    #[must_use]
    pub fn total(&self) -> Amounts {
        sum(&self.lines)
    }
}

impl PlanSheet {
    /// Returns what a section adds up to; nothing for one that is left out.
    #[must_use]
    pub fn total(&self, kind: SectionKind) -> Amounts {
        let found = self.sections.iter().find(|section| section.kind == kind);
        found.map(Section::total).unwrap_or_default()
    }
}

fn sum<'a>(lines: impl IntoIterator<Item = &'a Line>) -> Amounts {
    lines.into_iter().fold(Amounts::default(), |sum, line| Amounts {
        lot: sum.lot + line.amounts.lot,
        unit: sum.unit + line.amounts.unit,
    })
}

/// Returns the cost sheet of a build, without prices.
pub(super) fn sheet(
    book: &Book,
    needs: &Needs,
    rollup: &Rollup,
    cost: &BuildCost,
    options: &Options,
) -> Result<PlanSheet, Diagnostic> {
    let measure =
        Measure { rule: Rule::of(book), lot: rollup.lot, cost_digits: rollup.cost_digits };
    let after = learned(book, needs, rollup, cost, options)?;
    let mut lines: Vec<(SectionKind, Line)> = Vec::new();
    let (groups, material, waste) = material(book, &measure, cost);
    let mut add = |kind, what, amounts| lines.push((kind, Line { what, amounts }));
    for (group, money) in groups {
        add(SectionKind::Material, What::Group(group), measure.amounts(&money));
    }
    if !waste.is_zero() {
        add(SectionKind::Material, What::Waste, measure.amounts(&waste));
    }
    for share in labor_by_station(book, needs, cost) {
        let item = book.item(share.item);
        let money = measure.money(share.cost);
        let quantity = Ratio::decimal(share.quantity, QUANTITY_DIGITS);
        let hours = quantity * &item.unit.factor * measure.part();
        let hours = hours.checked_div(&Ratio::whole(60)).expect("an hour has minutes");
        let rate = cost
            .items
            .iter()
            .find(|own| own.item == share.item)
            .and_then(|own| (&own.exact * &Ratio::whole(60)).checked_div(&own.used));
        let what = What::Labor {
            station: share.station,
            item: share.item,
            hours,
            rate,
            crew: crew(item).unwrap_or(Ratio::ONE),
        };
        add(SectionKind::Labor, what, measure.amounts(&money));
    }
    for burden in &cost.burdens {
        let kind = SectionKind::of(&book.burdens[burden.burden.index()].basis);
        let money = measure.money(burden.cost);
        add(kind, What::Burden(burden.burden), measure.amounts(&money));
    }
    if let Some((_, after)) = &after {
        let labor = |cost: &BuildCost| -> i128 {
            let items = cost.items.iter();
            items.filter(|item| is_labor(book, item)).map(|item| item.cost).sum()
        };
        let above = measure.money(labor(after) - labor(cost));
        add(SectionKind::Learning, What::LaborAbove, measure.amounts(&above));
        for (standard, learned) in cost.burdens.iter().zip(&after.burdens) {
            let above = learned.cost - standard.cost;
            if above != 0 {
                let what = What::BurdenAbove(standard.burden);
                add(SectionKind::Learning, what, measure.amounts(&measure.money(above)));
            }
        }
    }
    let ledger = cost.cost();
    let learned = after.map(|(learned, after)| Learned { added: after.cost() - ledger, ..learned });
    let added = learned.as_ref().map_or(0, |learned| learned.added);
    let factory = measure.amounts(&measure.money(ledger + added));
    let printed = sum(lines.iter().map(|(_, line)| line));
    let rounding = Amounts { lot: factory.lot - printed.lot, unit: factory.unit - printed.unit };
    let sections = SectionKind::ALL.map(|kind| Section {
        kind,
        lines: lines.iter().filter(|(of, _)| *of == kind).map(|(_, line)| line.clone()).collect(),
    });
    Ok(PlanSheet {
        build: cost.build,
        sections: sections.into_iter().filter(|section| !section.lines.is_empty()).collect(),
        rounding,
        factory,
        ledger,
        learned,
        waste,
        material,
        quotes: Vec::new(),
    })
}

/// Returns what a lot on the learning curve costs, with its labor and the burdens that follow; nothing off the curve.
pub(super) fn learned(
    book: &Book,
    needs: &Needs,
    rollup: &Rollup,
    cost: &BuildCost,
    options: &Options,
) -> Result<Option<(Learned, BuildCost)>, Diagnostic> {
    let first = options.first_unit.unwrap_or(1);
    let Some(factor) = factor(book, first, rollup.lot) else { return Ok(None) };
    let items = cost
        .items
        .iter()
        .map(|item| if is_labor(book, item) { scaled(book, item, &factor) } else { item.clone() });
    let after = with_items(book, needs, cost.build, items.collect(), rollup.lot)?;
    Ok(Some((Learned { first, factor, added: 0 }, after)))
}

/// Returns what labor is multiplied by for a lot on the learning curve; nothing off it.
pub(super) fn factor(book: &Book, first: u32, lot: u32) -> Option<Ratio> {
    let learning = book.settings.learning.as_ref()?;
    let factor = Curve::new(learning).factor(first, lot);
    (factor != Ratio::ONE).then_some(factor)
}

fn is_labor(book: &Book, item: &ItemCost) -> bool {
    book.item(item.item).form == Form::Labor
}

/// Returns labor that takes `factor` times as long.
fn scaled(book: &Book, item: &ItemCost, factor: &Ratio) -> ItemCost {
    let settings = &book.settings;
    let exact = &item.exact * factor;
    let rounded = exact.scaled(settings.cost_digits, settings.rounding).to_integer();
    ItemCost {
        cost: rounded.expect("labor takes some hundred times the standard at most"),
        used: &item.used * factor,
        bought: &item.bought * factor,
        exact,
        ..item.clone()
    }
}

/// Returns the material that ends up in the units by group, in the book's order; all material; and what is wasted of it.
fn material(
    book: &Book,
    measure: &Measure,
    cost: &BuildCost,
) -> (Vec<(String, Ratio)>, Ratio, Ratio) {
    let mut groups: Vec<(String, Ratio)> = Vec::new();
    let (mut all, mut wasted) = (Ratio::ZERO, Ratio::ZERO);
    for own in cost.items.iter().filter(|own| !is_labor(book, own)) {
        let item = book.item(own.item);
        let money = measure.money(own.cost);
        let kept =
            item.yield_share.clone().filter(|_| item.is_nested()).or_else(|| own.yield_share());
        // Pieces that no stock holds are used but not bought.
        let waste = kept.map_or(Ratio::ZERO, |kept| &money * &(Ratio::ONE - kept.min(Ratio::ONE)));
        let good = &money - &waste;
        all += &money;
        wasted += &waste;
        match groups.iter_mut().find(|(group, _)| group.eq_ignore_ascii_case(&item.group)) {
            Some((_, sum)) => *sum += &good,
            None => groups.push((item.group.clone(), good)),
        }
    }
    (groups, all, wasted)
}

/// How ledger amounts of a lot become amounts of a sheet.
struct Measure {
    rule: Rule,
    lot: u32,
    cost_digits: u32,
}

impl Measure {
    /// One unit's part of the lot.
    fn part(&self) -> Ratio {
        Ratio::new(1, i128::from(self.lot)).expect("a lot has units")
    }

    fn money(&self, amount: i128) -> Ratio {
        Ratio::decimal(amount, self.cost_digits)
    }

    fn amounts(&self, money: &Ratio) -> Amounts {
        Amounts { lot: self.rule.minor(money), unit: self.rule.minor(&(money * &self.part())) }
    }
}
