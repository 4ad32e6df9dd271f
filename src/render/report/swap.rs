use crate::quantity::Length;
use crate::quantity::Ratio;
use crate::quantity::Rounding;
use crate::render::report::{
    CAUTION_NEST, CAUTION_RULES, CAUTION_WEIGHT, Cell, Report, Showing, Table, build_name, figures,
    heading, of_units, table, words,
};
use crate::render::shown;
use crate::rollup::WEIGHT_DIGITS;
use crate::swap::{Base, Best, Figures, Reason, Saving, State, Swaps, Trial};

/// Decimal places of percents and of money for a unit of weight.
const PLACES: u32 = 2;
/// Decimal places of areas, lengths and hours, which are shown only.
const MEASURE_PLACES: u32 = 2;
const TOGETHER: &str = "all together";

/// What the tables share.
struct Context<'a> {
    base: Base<'a>,
    swaps: &'a Swaps,
    currency: &'a str,
    unit: &'a str,
    digits: u32,
}

/// Returns the whole answer: every swap alone, best first; over all plans; what changes; all together; the best sets.
#[must_use]
pub fn swap(base: Base<'_>, swaps: &Swaps) -> Report {
    let settings = &base.book.settings;
    let context = Context {
        base,
        swaps,
        currency: &settings.currency,
        unit: &settings.weight_unit.name,
        digits: base.rollup.cost_digits,
    };
    let mut tables = vec![context.singles()];
    if base.rollup.builds.len() > 1 {
        tables.push(context.over_plans());
    }
    tables.push(context.changes());
    if let Some(together) = &swaps.together {
        tables.push(context.interactions(together));
    }
    tables.extend(swaps.best.iter().flatten().map(|best| context.best(best)));
    Report { heading: heading(base.book, base.needs.on), tables, notes: context.notes() }
}

/// A swap by its position, with what it comes to over all plans.
type Ranked = (usize, Saving, State);
/// A swap by its position, with why it is in a set or not.
type Judged = (usize, Reason);

/// Names a trial.
struct Line<'a> {
    swap: &'a str,
    approved: &'static str,
    plan: String,
    trial: &'a Trial,
}

/// A figure that a swap changes.
struct Change<'a> {
    swap: &'a str,
    plan: String,
    name: &'static str,
    unit: String,
    before: Cell,
    after: Cell,
    difference: Cell,
    percent: Cell,
}

impl Context<'_> {
    fn plan(&self, build: usize) -> String {
        let Base { book, needs, rollup, .. } = self.base;
        build_name(book, &needs.builds[rollup.builds[build].build])
    }

    fn lot(&self) -> String {
        of_units(self.base.rollup.lot)
    }

    fn rate(&self, saving: Saving) -> Cell {
        let rate = saving.rate(self.digits);
        rate.map_or_else(Cell::default, |rate| Cell::figure(shown::fixed(&rate, PLACES)))
    }

    fn name(&self, swap: usize) -> &str {
        &self.swaps.proposals[swap].name
    }

    fn approved(&self, swap: usize) -> &'static str {
        if self.swaps.proposals[swap].is_approved { "yes" } else { "" }
    }

    fn singles(&self) -> Table {
        let lines: Vec<Line<'_>> = self
            .swaps
            .ranked()
            .into_iter()
            .map(|(swap, build)| Line {
                swap: self.name(swap),
                approved: self.approved(swap),
                plan: self.plan(build),
                trial: &self.swaps.singles[swap][build],
            })
            .collect();
        let (digits, unit, currency) = (self.digits, self.unit, self.currency);
        let weight = |amount: i128| Cell::amount(amount, WEIGHT_DIGITS);
        let before_after = Showing::IfItFits;
        let fields = [
            words("swap", |line: &Line<'_>| line.swap.to_owned()),
            words("plan", |line: &Line<'_>| line.plan.clone()),
            words("approved", |line: &Line<'_>| line.approved.to_owned()).showing(before_after),
            figures(&format!("weight before {unit}"), |line: &Line<'_>| {
                weight(line.trial.before.weight)
            })
            .showing(before_after),
            figures(&format!("weight after {unit}"), |line: &Line<'_>| {
                weight(line.trial.after.weight)
            })
            .showing(before_after),
            figures(&format!("saved {unit}"), |line: &Line<'_>| weight(line.trial.saving().weight)),
            figures("saved %", |line: &Line<'_>| {
                percent(line.trial.saving().weight, line.trial.before.weight)
            })
            .showing(before_after),
            figures(&format!("cost before {currency}"), move |line: &Line<'_>| {
                Cell::amount(line.trial.before.cost, digits)
            })
            .showing(before_after),
            figures(&format!("cost after {currency}"), move |line: &Line<'_>| {
                Cell::amount(line.trial.after.cost, digits)
            })
            .showing(before_after),
            figures(&format!("cost change {currency}"), move |line: &Line<'_>| {
                Cell::amount(line.trial.saving().cost, digits)
            }),
            figures("cost %", |line: &Line<'_>| {
                percent(line.trial.saving().cost, line.trial.before.cost)
            })
            .showing(before_after),
            figures(&format!("{currency} per {unit} saved"), |line: &Line<'_>| {
                if line.trial.is_known() { self.rate(line.trial.saving()) } else { Cell::default() }
            }),
            words("state", |line: &Line<'_>| line.trial.state.name().to_owned()),
        ];
        table(format!("Each swap alone, the best first, {}", self.lot()), &fields, &lines)
    }

    fn over_plans(&self) -> Table {
        let lines = self.swaps.ranked_over_plans();
        let digits = self.digits;
        let fields = [
            words("swap", |line: &Ranked| self.name(line.0).to_owned()),
            words("approved", |line: &Ranked| self.approved(line.0).to_owned()),
            figures(&format!("saved {}", self.unit), |line: &Ranked| {
                Cell::amount(line.1.weight, WEIGHT_DIGITS)
            }),
            figures(&format!("cost change {}", self.currency), move |line: &Ranked| {
                Cell::amount(line.1.cost, digits)
            }),
            figures(&format!("{} per {} saved", self.currency, self.unit), |line: &Ranked| {
                if line.2 == State::Changed { self.rate(line.1) } else { Cell::default() }
            }),
            words("state", |line: &Ranked| line.2.name().to_owned()),
        ];
        let title = format!("Each swap over all plans, the best first, {} of each", self.lot());
        table(title, &fields, &lines)
    }

    fn changes(&self) -> Table {
        let mut lines = Vec::new();
        for (swap, trials) in self.swaps.singles.iter().enumerate() {
            for trial in trials {
                lines.extend(self.changes_of(self.name(swap), trial));
            }
        }
        for trial in self.swaps.together.iter().flatten() {
            lines.extend(self.changes_of(TOGETHER, trial));
        }
        let fields = [
            words("swap", |line: &Change<'_>| line.swap.to_owned()),
            words("plan", |line: &Change<'_>| line.plan.clone()),
            words("figure", |line: &Change<'_>| line.name.to_owned()),
            words("unit", |line: &Change<'_>| line.unit.clone()),
            figures("before", |line: &Change<'_>| line.before.clone()),
            figures("after", |line: &Change<'_>| line.after.clone()),
            figures("change", |line: &Change<'_>| line.difference.clone()),
            figures("change %", |line: &Change<'_>| line.percent.clone()),
        ];
        table(format!("What changes, {}", self.lot()), &fields, &lines)
    }

    /// Returns the figures of a trial that change.
    fn changes_of<'s>(&self, swap: &'s str, trial: &Trial) -> Vec<Change<'s>> {
        let plan = self.plan(trial.build);
        let (before, after) = (&trial.before, &trial.after);
        let mut found = Vec::new();
        let mut add =
            |name, unit: &str, was: Cell, is: Cell, difference: Cell, ratios: [Ratio; 2]| {
                let [was_ratio, is_ratio] = ratios;
                if was_ratio == is_ratio {
                    return;
                }
                let share = (&is_ratio - &was_ratio).checked_div(&was_ratio);
                let percent = share.map(|share| shown::fixed(&(share * Ratio::whole(100)), PLACES));
                found.push(Change {
                    swap,
                    plan: plan.clone(),
                    name,
                    unit: unit.to_owned(),
                    before: was,
                    after: is,
                    difference,
                    percent: percent.map_or_else(Cell::default, Cell::figure),
                });
            };
        let mut amounts = |name, unit: &str, [was, is]: [i128; 2], places: u32| {
            let cells = [was, is, is - was].map(|amount| Cell::amount(amount, places));
            let [was_cell, is_cell, change] = cells;
            add(name, unit, was_cell, is_cell, change, [was, is].map(Ratio::whole));
        };
        amounts("weight", self.unit, [before.weight, after.weight], WEIGHT_DIGITS);
        amounts("cost", self.currency, [before.cost, after.cost], self.digits);
        amounts("sheets", "sheet", [before.sheets, after.sheets], 0);
        amounts("rolls", "roll", [before.rolls, after.rolls], 0);
        amounts("sticks", "stick", [before.sticks, after.sticks], 0);
        let mut measures = |name, unit: &str, of: fn(&Figures) -> &Ratio, factor: &Ratio| {
            let [was, is] = [of(before), of(after)]
                .map(|value| value.checked_div(factor).unwrap_or(Ratio::ZERO));
            let cells = footed(&was, &is);
            add(name, unit, cells.0, cells.1, cells.2, [was, is]);
        };
        let (foot, hour) = (Length::FOOT, Ratio::whole(60));
        let area = Ratio::whole(foot.area(foot));
        measures("waste of sheets and rolls", "ft2", |it| &it.waste_area, &area);
        measures("waste of sticks", "ft", |it| &it.waste_length, &foot.to_ratio());
        measures("labor time", "h", |it| &it.labor_time, &hour);
        let labor = [before.labor_cost, after.labor_cost];
        let cells = [labor[0], labor[1], labor[1] - labor[0]]
            .map(|amount| Cell::amount(amount, self.digits));
        let [was, is, change] = cells;
        add("labor", self.currency, was, is, change, labor.map(Ratio::whole));
        let pound = &self.base.book.settings.weight_unit.factor;
        let mut loads = |name, of: fn(&Figures) -> &Option<Ratio>| {
            let (Some(was), Some(is)) = (of(before), of(after)) else { return };
            let [was, is] = [was, is].map(|load| load.checked_div(pound).unwrap_or(Ratio::ZERO));
            let cells = footed(&was, &is);
            add(name, self.unit, cells.0, cells.1, cells.2, [was, is]);
        };
        loads("hitch load of one unit", |it| &it.hitch);
        loads("load on the axles of one unit", |it| &it.axle);
        loads("cargo capacity of one unit", |it| &it.capacity);
        found
    }

    fn interactions(&self, together: &[Trial]) -> Table {
        let digits = self.digits;
        let sum = |trial: &&Trial| self.swaps.sum_of_singles(trial.build);
        let lines: Vec<&Trial> = together.iter().collect();
        let weight = |amount: i128| Cell::amount(amount, WEIGHT_DIGITS);
        let (unit, currency) = (self.unit, self.currency);
        let fields = [
            words("plan", |trial: &&Trial| self.plan(trial.build)),
            figures(&format!("saved {unit}: singles"), |trial: &&Trial| weight(sum(trial).weight)),
            figures("together", |trial: &&Trial| weight(trial.saving().weight)),
            figures("interaction", |trial: &&Trial| weight((trial.saving() - sum(trial)).weight)),
            figures(&format!("cost change {currency}: singles"), move |trial: &&Trial| {
                Cell::amount(sum(trial).cost, digits)
            }),
            figures("cost together", move |trial: &&Trial| {
                Cell::amount(trial.saving().cost, digits)
            }),
            figures("cost interaction", move |trial: &&Trial| {
                Cell::amount((trial.saving() - sum(trial)).cost, digits)
            }),
            figures(&format!("{currency} per {unit} saved"), |trial: &&Trial| {
                if trial.is_known() { self.rate(trial.saving()) } else { Cell::default() }
            }),
            words("state", |trial: &&Trial| trial.state.name().to_owned()),
        ];
        let title = format!("All together against the sum of singles, {}", self.lot());
        table(title, &fields, &lines)
    }

    fn best(&self, best: &Best) -> Table {
        let digits = self.digits;
        let saving = |swap: usize| self.swaps.singles[swap][best.build].saving();
        let mut lines: Vec<Judged> = best.reasons.iter().copied().enumerate().collect();
        lines.sort_by(|one, other| {
            let by_choice = other.1.is_chosen().cmp(&one.1.is_chosen());
            by_choice.then(saving(one.0).order(saving(other.0)))
        });
        let plan = self.plan(best.build);
        let fields = [
            words("plan", |_: &Judged| plan.clone()).showing(Showing::Never),
            words("swap", |line: &Judged| self.name(line.0).to_owned()),
            words("in the set", |line: &Judged| {
                if line.1.is_chosen() { "yes" } else { "no" }.to_owned()
            }),
            figures(&format!("saved {}", self.unit), |line: &Judged| {
                Cell::amount(saving(line.0).weight, WEIGHT_DIGITS)
            }),
            figures(&format!("cost change {}", self.currency), move |line: &Judged| {
                Cell::amount(saving(line.0).cost, digits)
            }),
            figures(&format!("{} per {} saved", self.currency, self.unit), |line: &Judged| {
                self.rate(saving(line.0))
            }),
            words("since", |line: &Judged| reason(self.swaps, line.1)),
        ];
        let target = Cell::amount(best.target, WEIGHT_DIGITS).shown;
        let title = format!("{plan}: best set to save {target} {}, {}", self.unit, self.lot());
        let mut made = table(title, &fields, &lines);
        let total = |label: &str, saving: Saving| {
            vec![
                Cell::default(),
                Cell::text(label),
                Cell::default(),
                Cell::amount(saving.weight, WEIGHT_DIGITS),
                Cell::amount(saving.cost, digits),
                self.rate(saving),
                Cell::default(),
            ]
        };
        let together = best.together.saving();
        made.totals.push(total("set, sum of singles", best.singles));
        made.totals.push(total("interaction", together - best.singles));
        made.totals.push(total("set together", together));
        made.below.push(ending(best, self.unit));
        made
    }

    fn notes(&self) -> Vec<String> {
        let (currency, unit) = (self.currency, self.unit);
        let mut notes = vec![
            format!(
                "Amounts are in {currency} and {unit}, for {}. Every swap is a roll-up of the changed bill, in which what \
                 changes is cut anew from the new item's own sizes.",
                self.lot()
            ),
            format!(
                "First come swaps that save {unit} and cost nothing more, then those whose {unit} saved costs least. \
                 Dates and units from which swaps hold are left aside."
            ),
            "Waste is what is bought less what ends up in the units, offcuts that are kept included.".to_owned(),
            "Hitch and axle loads are unloaded; the hitch share of 10 to 15 % is guidance. `loads` tells more.".to_owned(),
        ];
        notes.extend([CAUTION_NEST, CAUTION_WEIGHT, CAUTION_RULES].map(str::to_owned));
        notes
    }
}

/// Returns two measures and their difference as they are shown, so that the shown ones add up.
fn footed(was: &Ratio, is: &Ratio) -> (Cell, Cell, Cell) {
    let rounded = |value: &Ratio| {
        let scaled = value.scaled(MEASURE_PLACES, Rounding::HalfEven);
        scaled.to_integer().unwrap_or_default()
    };
    let (was, is) = (rounded(was), rounded(is));
    let [was_cell, is_cell, change] =
        [was, is, is - was].map(|it| Cell::amount(it, MEASURE_PLACES));
    (was_cell, is_cell, change)
}

/// Tells how the search for a set ended.
fn ending(best: &Best, unit: &str) -> String {
    let mut text = if best.is_met() {
        "Tried together, the set saves what it shall".to_owned()
    } else {
        let missing = best.target - best.together.saving().weight;
        format!("The set falls {} {unit} short", Cell::amount(missing, WEIGHT_DIGITS).shown)
    };
    if best.retries > 0 {
        text.push_str("; a cheaper set saved less together than its swaps alone");
    }
    text.push_str(if best.is_proven {
        "; by the sum of singles, none is better."
    } else {
        "; not every set was looked at."
    });
    text
}

/// Returns why a swap is in a set or not, in words.
pub(in crate::render) fn reason(swaps: &Swaps, reason: Reason) -> String {
    match reason {
        Reason::SavesWeight => "saves weight".to_owned(),
        Reason::SavesMoney => "saves money".to_owned(),
        Reason::NotNeeded => "not needed".to_owned(),
        Reason::Excluded(other) => format!("excluded by {}", swaps.proposals[other].name),
        Reason::SavesNothing => "saves nothing".to_owned(),
        Reason::Unknown(state) => state.name().to_owned(),
    }
}

fn percent(amount: i128, of: i128) -> Cell {
    let share = Ratio::new(amount, of).map(|share| share * Ratio::whole(100));
    share.map_or_else(Cell::default, |share| Cell::figure(shown::fixed(&share, PLACES)))
}
