use serde::Serialize;

use crate::diag::Diagnostic;
use crate::explode::Needs;
use crate::model::Book;
use crate::model::ItemId;
use crate::model::OptionId;
use crate::price::{
    Amounts, Assumption, Case, OptionPrice, PERCENTILES, PlanSheet, PriceSheet, Quote, Range,
    Swing, Target, What,
};
use crate::quantity::Ratio;
use crate::quantity::text::exact;
use crate::render::json::{document, option_names};
use crate::render::report::Priced;
use crate::render::shown;
use crate::rollup::WEIGHT_DIGITS;

/// Decimal places of figures that are not exact decimals.
const PLACES: u32 = 8;

#[derive(Serialize)]
struct PriceAnswer {
    #[serde(flatten)]
    sheet: SheetLine,
    assumptions: Vec<AssumptionLine>,
    #[serde(skip_serializing_if = "Option::is_none")]
    lots: Option<Vec<SheetLine>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    options: Option<Vec<OptionLine>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    cases: Option<Vec<CaseLine>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    sensitivity: Option<Vec<SwingLine>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    ranges: Option<Vec<RangeLine>>,
}

#[derive(Serialize)]
struct SheetLine {
    lot: u32,
    plans: Vec<PlanLine>,
}

#[derive(Serialize)]
struct PlanLine {
    plan: String,
    options: Vec<String>,
    sections: Vec<SectionLine>,
    rounding: AmountLine,
    factory_cost: AmountLine,
    ledger: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    learning: Option<LearningLine>,
    material: String,
    waste: String,
    prices: Vec<QuoteLine>,
}

#[derive(Serialize)]
struct AmountLine {
    lot: String,
    unit: String,
}

#[derive(Serialize)]
struct SectionLine {
    section: &'static str,
    lines: Vec<CostLine>,
    total: AmountLine,
}

#[derive(Serialize)]
struct CostLine {
    kind: &'static str,
    name: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    labor: Option<LaborLine>,
    #[serde(skip_serializing_if = "Option::is_none")]
    place: Option<String>,
    #[serde(flatten)]
    amounts: AmountLine,
}

#[derive(Serialize)]
struct LaborLine {
    station: String,
    hours: String,
    rate: Option<String>,
    crew: String,
}

#[derive(Serialize)]
struct LearningLine {
    first_unit: u32,
    factor: String,
    added: String,
}

#[derive(Serialize)]
struct QuoteLine {
    from: &'static str,
    figure: String,
    exact: String,
    price: String,
    profit: String,
    margin_percent: Option<String>,
    markup_percent: Option<String>,
    other_way: Option<String>,
}

#[derive(Serialize)]
struct AssumptionLine {
    kind: &'static str,
    names: Vec<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    value: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    date: Option<String>,
}

#[derive(Serialize)]
struct OptionLine {
    plan: String,
    option: String,
    is_taken: bool,
    replaces: Vec<String>,
    brings: Vec<String>,
    lot_cost: String,
    cost: String,
    weight: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    price: Option<QuoteLine>,
}

#[derive(Serialize)]
struct CaseLine {
    case: String,
    items: Vec<String>,
    plans: Vec<CaseCostLine>,
}

#[derive(Serialize)]
struct CaseCostLine {
    plan: String,
    before: String,
    after: String,
    lot_change: String,
}

#[derive(Serialize)]
struct SwingLine {
    plan: String,
    item: String,
    money: String,
    burdens: String,
}

#[derive(Serialize)]
struct RangeLine {
    plan: String,
    items: Vec<String>,
    low: String,
    likely: String,
    high: String,
    percentiles: Vec<PercentileLine>,
    draws: u32,
    seed: u64,
}

#[derive(Serialize)]
struct PercentileLine {
    percent: u32,
    cost: String,
}

/// Returns what `price` answers.
#[must_use]
pub fn price(book: &Book, needs: &Needs, found: &Priced<'_>, findings: &[Diagnostic]) -> String {
    let context = Context { book, needs, digits: found.sheet.digits };
    let answer = PriceAnswer {
        sheet: context.sheet(found.sheet),
        assumptions: found
            .sheet
            .assumptions
            .iter()
            .map(|assumption| context.assumption(assumption))
            .collect(),
        lots: found.lots.map(|lots| lots.iter().map(|lot| context.sheet(lot)).collect()),
        options: found
            .options
            .map(|options| options.iter().map(|option| context.option(option)).collect()),
        cases: found.cases.map(|cases| cases.iter().map(|case| context.case(case)).collect()),
        sensitivity: found.swings.map(|swings| context.swings(found.sheet, swings)),
        ranges: found
            .ranges
            .map(|ranges| ranges.iter().flatten().map(|range| context.range(range)).collect()),
    };
    document("price", book, needs.on, findings, answer)
}

struct Context<'a> {
    book: &'a Book,
    needs: &'a Needs,
    digits: u32,
}

impl Context<'_> {
    fn minor(&self, amount: i128) -> String {
        shown::plain(amount, self.digits)
    }

    fn ledger(&self, amount: i128) -> String {
        shown::plain(amount, self.book.settings.cost_digits)
    }

    fn amounts(&self, amounts: Amounts) -> AmountLine {
        AmountLine { lot: self.minor(amounts.lot), unit: self.minor(amounts.unit) }
    }

    fn plan(&self, build: usize) -> String {
        self.book.plans[self.needs.builds[build].plan.index()].name.clone()
    }

    fn items(&self, items: &[ItemId]) -> Vec<String> {
        items.iter().map(|item| self.book.item(*item).name.clone()).collect()
    }

    fn options(&self, options: &[OptionId]) -> Vec<String> {
        options.iter().map(|option| self.book.options[option.index()].name.clone()).collect()
    }

    fn sheet(&self, sheet: &PriceSheet) -> SheetLine {
        let plans = sheet.plans.iter().map(|plan| self.plan_line(plan)).collect();
        SheetLine { lot: sheet.lot, plans }
    }

    fn plan_line(&self, plan: &PlanSheet) -> PlanLine {
        let sections = plan.sections.iter().map(|section| SectionLine {
            section: section.kind.name(),
            lines: section
                .lines
                .iter()
                .map(|line| self.cost_line(&line.what, line.amounts))
                .collect(),
            total: self.amounts(section.total()),
        });
        PlanLine {
            plan: self.plan(plan.build),
            options: option_names(self.book, &self.needs.builds[plan.build]),
            sections: sections.collect(),
            rounding: self.amounts(plan.rounding),
            factory_cost: self.amounts(plan.factory),
            ledger: self.ledger(plan.ledger),
            learning: plan.learned.as_ref().map(|learned| LearningLine {
                first_unit: learned.first,
                factor: shown::rounded(&learned.factor, PLACES),
                added: self.ledger(learned.added),
            }),
            material: exact(&plan.material),
            waste: shown::rounded(&plan.waste, PLACES),
            prices: plan.quotes.iter().map(|quote| self.quote(quote)).collect(),
        }
    }

    fn cost_line(&self, what: &What, amounts: Amounts) -> CostLine {
        let burden = |id: &crate::model::BurdenId| {
            let row = &self.book.burdens[id.index()];
            (row.name.clone(), Some(self.book.place(row.row, None).to_string()))
        };
        let (kind, (name, place)) = match what {
            What::Group(group) => ("group", (group.clone(), None)),
            What::Waste => ("waste", (String::new(), None)),
            What::Labor { item, .. } => ("labor", (self.book.item(*item).name.clone(), None)),
            What::Burden(id) => ("burden", burden(id)),
            What::LaborAbove => ("labor_above", (String::new(), None)),
            What::BurdenAbove(id) => ("burden_above", burden(id)),
        };
        let labor = match what {
            What::Labor { station, hours, rate, crew, .. } => Some(LaborLine {
                station: station.clone(),
                hours: shown::rounded(hours, PLACES),
                rate: rate.as_ref().map(|rate| shown::rounded(rate, PLACES)),
                crew: exact(crew),
            }),
            _ => None,
        };
        CostLine { kind, name, labor, place, amounts: self.amounts(amounts) }
    }

    fn quote(&self, quote: &Quote) -> QuoteLine {
        let (from, figure) = match &quote.target {
            Target::Margin(share) => ("margin_percent", percent(share)),
            Target::Markup(share) => ("markup_percent", percent(share)),
            Target::At(price) => ("price", exact(price)),
        };
        QuoteLine {
            from,
            figure,
            exact: shown::rounded(&quote.exact, PLACES),
            price: self.minor(quote.price),
            profit: self.minor(quote.profit),
            margin_percent: quote.margin.as_ref().map(percent),
            markup_percent: quote.markup.as_ref().map(percent),
            other_way: quote.other_way.map(|price| self.minor(price)),
        }
    }

    fn assumption(&self, assumption: &Assumption) -> AssumptionLine {
        let line = |kind, names| AssumptionLine { kind, names, value: None, date: None };
        match assumption {
            Assumption::Assumed(items) => line("assumed", self.items(items)),
            Assumption::Unpriced(items) => line("without_price", self.items(items)),
            Assumption::Unweighed(items) => line("without_weight", self.items(items)),
            Assumption::WithoutCrew(items) => line("without_crew", self.items(items)),
            Assumption::Expired(item, last) => AssumptionLine {
                date: Some(last.to_string()),
                ..line("last_price", self.items(&[*item]))
            },
            Assumption::Rated(rated) => AssumptionLine {
                value: Some(exact(&rated.rate)),
                date: Some(rated.date.to_string()),
                ..line("rate", vec![rated.currency.clone()])
            },
            Assumption::Default(key, value) => AssumptionLine {
                value: Some(value.clone()),
                ..line("setting_not_given", vec![(*key).to_owned()])
            },
        }
    }

    fn option(&self, option: &OptionPrice) -> OptionLine {
        OptionLine {
            plan: self.plan(option.build),
            option: self.book.options[option.option.index()].name.clone(),
            is_taken: option.is_taken,
            replaces: self.options(&option.replaces),
            brings: self.options(&option.brings),
            lot_cost: self.ledger(option.lot_cost),
            cost: self.minor(option.cost),
            weight: shown::plain(option.weight, WEIGHT_DIGITS),
            price: option.quote.as_ref().map(|quote| self.quote(quote)),
        }
    }

    fn case(&self, case: &Case) -> CaseLine {
        let plans = case.builds.iter().map(|cost| CaseCostLine {
            plan: self.plan(cost.build),
            before: self.minor(cost.before),
            after: self.minor(cost.after),
            lot_change: self.ledger(cost.lot_change),
        });
        CaseLine { case: case.name.clone(), items: self.items(&case.items), plans: plans.collect() }
    }

    fn swings(&self, sheet: &PriceSheet, swings: &[Vec<Swing>]) -> Vec<SwingLine> {
        let lines = sheet.plans.iter().zip(swings).flat_map(|(plan, swings)| {
            swings.iter().map(|swing| SwingLine {
                plan: self.plan(plan.build),
                item: self.book.item(swing.item).name.clone(),
                money: shown::rounded(&swing.money, PLACES),
                burdens: shown::rounded(&swing.burdens, PLACES),
            })
        });
        lines.collect()
    }

    fn range(&self, range: &Range) -> RangeLine {
        let percentiles = PERCENTILES.iter().zip(range.percentiles);
        RangeLine {
            plan: self.plan(range.build),
            items: self.items(&range.items),
            low: self.minor(range.low),
            likely: self.minor(range.likely),
            high: self.minor(range.high),
            percentiles: percentiles
                .map(|(percent, cost)| PercentileLine { percent: *percent, cost: self.minor(cost) })
                .collect(),
            draws: range.draws,
            seed: range.seed,
        }
    }
}

fn percent(share: &Ratio) -> String {
    shown::rounded(&(share * &Ratio::whole(100)), PLACES)
}
