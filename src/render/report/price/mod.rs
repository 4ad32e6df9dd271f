mod moves;
mod sources;

use crate::explode::Needs;
use crate::model::Book;
use crate::model::ItemId;
use crate::model::LearningForm;
use crate::model::OptionId;
use crate::price::{
    Amounts, Assumption, Case, Line, OptionPrice, PlanSheet, PriceSheet, Quote, Range, SectionKind,
    Swing, Target, What,
};
use crate::quantity::Ratio;
use crate::render::report::{
    CAUTION_NEST, Cell, Report, Showing, Table, build_name, figures, heading, of_units, table,
    words,
};
use crate::render::shown;
use crate::rollup::Rollup;

/// What a price command found out; what was not asked for is not there.
#[derive(Clone, Copy, Debug)]
pub struct Priced<'a> {
    /// The cost sheets.
    pub sheet: &'a PriceSheet,
    /// The same for other lots.
    pub lots: Option<&'a [PriceSheet]>,
    /// What options add.
    pub options: Option<&'a [OptionPrice]>,
    /// What other prices come to.
    pub cases: Option<&'a [Case]>,
    /// What each price moves, per build.
    pub swings: Option<&'a [Vec<Swing>]>,
    /// Where the cost may come to lie, per build.
    pub ranges: Option<&'a [Option<Range>]>,
    /// The ledger behind the cost sheets, where each amount is to be shown with the rows it comes from.
    pub ledger: Option<&'a Rollup>,
}

/// Returns the cost sheets with their prices, or instead of them what was asked about lots, options and prices.
#[must_use]
pub fn price(book: &Book, needs: &Needs, found: &Priced<'_>) -> Report {
    let context = Context { book, needs, sheet: found.sheet };
    let mut tables = Vec::new();
    let mut notes = Vec::new();
    if let Some(lots) = found.lots {
        tables.push(moves::lots(&context, lots));
    }
    if let Some(options) = found.options {
        tables.push(moves::options(&context, options));
        notes.push(moves::OPTIONS_NOTE.to_owned());
    }
    if let Some(cases) = found.cases {
        tables.push(moves::cases(&context, cases));
        notes.push(moves::CASES_NOTE.to_owned());
    }
    if let Some(swings) = found.swings {
        tables.push(moves::swings(&context, swings));
        notes.push(moves::SWINGS_NOTE.to_owned());
    }
    if let Some(ranges) = found.ranges {
        tables.push(moves::ranges(&context, ranges));
        notes.push(moves::range_note(ranges));
    }
    if tables.is_empty() {
        tables.extend(found.sheet.plans.iter().map(|plan| context.cost_sheet(plan)));
        tables.push(context.prices());
        if found.sheet.plans.len() > 1 {
            tables.push(context.summary());
        }
        tables.push(context.assumptions());
        if let Some(rollup) = found.ledger {
            let builds = rollup.builds.iter();
            tables.extend(builds.map(|build| sources::sources(book, needs, rollup, build)));
        }
        notes.push(context.rounding_note());
        notes.extend(context.learning_note());
    }
    notes.push(CAUTION_NEST.to_owned());
    Report { heading: heading(book, needs.on), tables, notes }
}

/// What every table of a price command is made of.
struct Context<'a> {
    book: &'a Book,
    needs: &'a Needs,
    sheet: &'a PriceSheet,
}

/// One line of a cost sheet as it is printed.
struct Printed<'a> {
    kind: SectionKind,
    is_first: bool,
    subtotal: Option<Amounts>,
    line: &'a Line,
}

impl Context<'_> {
    fn plan(&self, build: usize) -> String {
        build_name(self.book, &self.needs.builds[build])
    }

    fn minor(&self, amount: i128) -> Cell {
        Cell::amount(amount, self.sheet.digits)
    }

    fn money(&self, title: &str) -> String {
        format!("{title} {}", self.book.settings.currency)
    }

    fn item(&self, item: ItemId) -> String {
        self.book.item(item).name.clone()
    }

    fn option_names(&self, options: &[OptionId]) -> String {
        let names: Vec<&str> =
            options.iter().map(|option| self.book.options[option.index()].name.as_str()).collect();
        names.join(", ")
    }

    fn of_lot(&self) -> String {
        of_units(self.sheet.lot)
    }

    fn of_lot_aside(&self) -> String {
        format!("in lots of {}", self.sheet.lot)
    }

    fn cost_sheet(&self, plan: &PlanSheet) -> Table {
        let name = self.plan(plan.build);
        let lines: Vec<Printed<'_>> = plan
            .sections
            .iter()
            .flat_map(|section| {
                let last = section.lines.len() - 1;
                section.lines.iter().enumerate().map(move |(index, line)| Printed {
                    kind: section.kind,
                    is_first: index == 0,
                    subtotal: (index == last).then(|| section.total()),
                    line,
                })
            })
            .collect();
        let blank = Cell::default;
        let labor =
            |line: &Printed<'_>, cell: &dyn Fn(&Ratio, Option<&Ratio>, &Ratio) -> Cell| match &line
                .line
                .what
            {
                What::Labor { hours, rate, crew, .. } => cell(hours, rate.as_ref(), crew),
                _ => blank(),
            };
        let total = plan.factory.unit;
        let mut fields = vec![
            words("plan", |_: &Printed<'_>| name.clone()).showing(Showing::Never),
            words("section", |line: &Printed<'_>| line.kind.name().to_owned()),
            words("line", |line: &Printed<'_>| self.line_name(&line.line.what)),
            figures("hours", |line: &Printed<'_>| {
                labor(line, &|hours, _, _| Cell::figure(shown::fixed(hours, 4)))
            }),
            figures(&self.money("rate"), |line: &Printed<'_>| {
                labor(line, &|_, rate, _| {
                    Cell::figure(rate.map_or_else(String::new, |rate| shown::fixed(rate, 4)))
                })
            }),
            figures("crew", |line: &Printed<'_>| {
                labor(line, &|_, _, crew| Cell::figure(shown::rounded(crew, 2)))
            })
            .showing(Showing::IfItFits),
            figures("elapsed h", |line: &Printed<'_>| {
                labor(line, &|hours, _, crew| {
                    let elapsed = hours.checked_div(crew).unwrap_or(Ratio::ZERO);
                    Cell::figure(shown::fixed(&elapsed, 4))
                })
            })
            .showing(Showing::IfItFits),
        ];
        let is_lot = self.sheet.lot > 1;
        if is_lot {
            let of_lot = |line: &Printed<'_>| self.minor(line.line.amounts.lot);
            fields.push(figures(&self.money("lot"), of_lot).summed());
        }
        let of_unit = |line: &Printed<'_>| self.minor(line.line.amounts.unit);
        fields.push(figures(&self.money("unit"), of_unit).summed());
        let subtotal = |line: &Printed<'_>| {
            line.subtotal.map_or_else(blank, |subtotal| self.minor(subtotal.unit))
        };
        fields.push(figures(&self.money("subtotal"), subtotal).summed());
        fields.push(
            figures("share %", |line: &Printed<'_>| {
                let share = Ratio::new(line.line.amounts.unit, total).unwrap_or(Ratio::ZERO);
                Cell::text(shown::percent(&share))
            })
            .showing(Showing::IfItFits),
        );
        let mut made = table(format!("{name}: cost sheet, {}", self.of_lot()), &fields, &lines);
        // People read a heading once; programs find it in each row.
        for (row, line) in made.rows.iter_mut().zip(&lines) {
            if !line.is_first {
                row[1].shown.clear();
            }
        }
        for (label, amounts) in [("rounding", plan.rounding), ("factory cost", plan.factory)] {
            let mut row = vec![blank(); made.columns.len()];
            row[1] = Cell::text(label);
            let unit = row.len() - 3;
            if is_lot {
                row[unit - 1] = self.minor(amounts.lot);
            }
            row[unit] = self.minor(amounts.unit);
            row[unit + 1] = self.minor(amounts.unit);
            made.totals.push(row);
        }
        made.below.push(self.ledger_line(plan));
        made
    }

    /// Says which amount of the ledger the sheet comes to.
    fn ledger_line(&self, plan: &PlanSheet) -> String {
        let digits = self.book.settings.cost_digits;
        let currency = &self.book.settings.currency;
        let shown = |amount| shown::parted(&shown::plain(amount, digits));
        let mut text = format!("ledger: {} {currency} for {}", shown(plan.ledger), self.of_lot());
        if let Some(learned) = &plan.learned {
            let last = learned.first + self.sheet.lot - 1;
            text.push_str(&format!(
                "; the learning curve takes the labor of units {} to {last} times {} and adds {} {currency}",
                learned.first,
                shown::fixed(&learned.factor, 6),
                shown(learned.added)
            ));
        }
        text
    }

    fn line_name(&self, what: &What) -> String {
        let burden =
            |burden: &crate::model::BurdenId| self.book.burdens[burden.index()].name.clone();
        match what {
            What::Group(group) if group.is_empty() => "(no group)".to_owned(),
            What::Group(group) => group.clone(),
            What::Waste => "waste of material".to_owned(),
            What::Labor { station, item, .. } if station.is_empty() => self.item(*item),
            What::Labor { station, item, .. } => format!("{station}: {}", self.item(*item)),
            What::Burden(id) => burden(id),
            What::LaborAbove => "labor above the standard".to_owned(),
            What::BurdenAbove(id) => format!("{} on it", burden(id)),
        }
    }

    fn prices(&self) -> Table {
        let lines: Vec<(&PlanSheet, &Quote)> = self
            .sheet
            .plans
            .iter()
            .flat_map(|plan| plan.quotes.iter().map(move |quote| (plan, quote)))
            .collect();
        let fields = [
            words("plan", |(plan, _): &(&PlanSheet, &Quote)| self.plan(plan.build)),
            words("from", |(_, quote): &(&PlanSheet, &Quote)| from(&quote.target)),
            figures(&self.money("cost"), |(plan, _): &(&PlanSheet, &Quote)| {
                self.minor(plan.factory.unit)
            }),
            figures(&self.money("price"), |(_, quote): &(&PlanSheet, &Quote)| {
                self.minor(quote.price)
            }),
            figures(&self.money("profit"), |(_, quote): &(&PlanSheet, &Quote)| {
                self.minor(quote.profit)
            }),
            figures("margin %", |(_, quote): &(&PlanSheet, &Quote)| percent(quote.margin.as_ref())),
            figures("markup %", |(_, quote): &(&PlanSheet, &Quote)| percent(quote.markup.as_ref())),
            figures(&self.money("other way"), |(_, quote): &(&PlanSheet, &Quote)| {
                quote.other_way.map_or_else(Cell::default, |price| self.minor(price))
            })
            .showing(Showing::IfItFits),
            figures(&self.money("difference"), |(_, quote): &(&PlanSheet, &Quote)| {
                let difference = quote.other_way.map(|other| quote.price - other);
                difference.map_or_else(Cell::default, |difference| self.minor(difference))
            })
            .showing(Showing::IfItFits),
        ];
        let mut made = table("Prices of one unit", &fields, &lines);
        if lines.is_empty() {
            made.below.push(
                "no price: give `--margin`, `--markup` or `--at`, or the plan a `target_margin`"
                    .to_owned(),
            );
        } else {
            made.below.push(
                "A margin is a share of the price, a markup a share of the cost; `other way` is the price if the same \
                 percentage were the other of the two."
                    .to_owned(),
            );
        }
        if let Some(ending) = &self.book.settings.price_ending {
            made.below
                .push(format!("List prices are rounded up by `price_ending`: {}.", ending.text));
        }
        made
    }

    /// Plans side by side: what stands in a row adds up to its cost, and so does each column.
    fn summary(&self) -> Table {
        let plans = &self.sheet.plans;
        let kinds: Vec<SectionKind> = SectionKind::ALL
            .into_iter()
            .filter(|kind| {
                plans.iter().any(|plan| plan.sections.iter().any(|own| own.kind == *kind))
            })
            .collect();
        let mut fields = vec![words("plan", |plan: &PlanSheet| self.plan(plan.build))];
        for kind in &kinds {
            let of_kind = move |plan: &PlanSheet| self.minor(plan.total(*kind).unit);
            fields.push(figures(&self.money(kind.name()), of_kind).summed());
        }
        let rounding = |plan: &PlanSheet| self.minor(plan.rounding.unit);
        fields.push(figures(&self.money("rounding"), rounding).summed());
        let factory = |plan: &PlanSheet| self.minor(plan.factory.unit);
        fields.push(figures(&self.money("factory cost"), factory).summed());
        let mut made = table("Cost of one unit of each plan", &fields, plans);
        let mut row = vec![Cell::text("total")];
        let of_all = |amount: &dyn Fn(&PlanSheet) -> i128| plans.iter().map(amount).sum::<i128>();
        row.extend(kinds.iter().map(|kind| self.minor(of_all(&|plan| plan.total(*kind).unit))));
        row.push(self.minor(of_all(&|plan| plan.rounding.unit)));
        row.push(self.minor(of_all(&|plan| plan.factory.unit)));
        made.totals.push(row);
        made
    }

    fn assumptions(&self) -> Table {
        let fields = [
            words("what", |(what, _): &(String, String)| what.clone()),
            words("which", |(_, which): &(String, String)| which.clone()),
        ];
        let lines: Vec<(String, String)> =
            self.sheet.assumptions.iter().map(|assumption| self.assumption(assumption)).collect();
        let mut made = table("Assumed", &fields, &lines);
        if lines.is_empty() {
            made = Table {
                title: made.title,
                below: vec!["nothing beside what the book says".to_owned()],
                ..Table::default()
            };
        }
        made
    }

    pub(super) fn assumption(&self, assumption: &Assumption) -> (String, String) {
        let names = |items: &[ItemId]| {
            let names: Vec<String> = items.iter().map(|item| self.item(*item)).collect();
            names.join(", ")
        };
        let (what, which) = match assumption {
            Assumption::Assumed(items) => ("marked as assumed", names(items)),
            Assumption::Unpriced(items) => ("without a price, left out", names(items)),
            Assumption::Unweighed(items) => ("without a weight, left out", names(items)),
            Assumption::WithoutCrew(items) => ("labor without a crew, one taken", names(items)),
            Assumption::Expired(item, last) => {
                ("last price used", format!("{}, held until {last}", self.item(*item)))
            }
            Assumption::Rated(rated) => (
                "rate of currency",
                format!(
                    "{} at {} {} of {}",
                    rated.currency,
                    crate::quantity::text::exact(&rated.rate),
                    self.book.settings.currency,
                    rated.date
                ),
            ),
            Assumption::Default(key, value) => ("setting not given", format!("{key}: {value}")),
        };
        (what.to_owned(), which)
    }

    fn rounding_note(&self) -> String {
        let settings = &self.book.settings;
        format!(
            "Each line is the ledger's amount of the lot, rounded to {} decimal places of {}, for the lot and for one unit on \
             its own; the line `rounding` is what the lines leave of the ledger's total rounded once.",
            self.sheet.digits, settings.currency
        )
    }

    fn learning_note(&self) -> Option<String> {
        let learning = self.book.settings.learning.as_ref()?;
        let percent = shown::rounded(&(&learning.share * &Ratio::whole(100)), 4);
        let form = match learning.form {
            LearningForm::Unit => "unit form (Crawford): the time of the unit itself",
            LearningForm::Average => {
                "cumulative-average form (Wright 1936): the average time of all units so far"
            }
        };
        Some(format!(
            "Learning curve of {percent} %, {form} falls to {percent} % with each doubling, until unit {} takes the standard hours.",
            learning.units
        ))
    }
}

/// Says what a price was reckoned from.
fn from(target: &Target) -> String {
    let share = |share: &Ratio| shown::rounded(&(share * &Ratio::whole(100)), 4);
    match target {
        Target::Margin(margin) => format!("margin of {} %", share(margin)),
        Target::Markup(markup) => format!("markup of {} %", share(markup)),
        Target::At(_) => "given price".to_owned(),
    }
}

fn percent(share: Option<&Ratio>) -> Cell {
    let shown = share.map(|share| shown::fixed(&(share * &Ratio::whole(100)), 2));
    Cell::figure(shown.unwrap_or_default())
}
