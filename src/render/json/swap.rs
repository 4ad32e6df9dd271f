use serde::Serialize;

use crate::diag::Diagnostic;
use crate::model::Book;
use crate::quantity::Length;
use crate::quantity::Ratio;
use crate::quantity::text::exact;
use crate::render::json::{document, option_names};
use crate::render::report::swap_reason;
use crate::render::shown;
use crate::rollup::WEIGHT_DIGITS;
use crate::swap::{Base, Best, Figures, Saving, Swaps, Trial};

/// Decimal places of money for a unit of weight.
const PLACES: u32 = 8;
/// Decimal places of loads, as `loads` writes them.
const LOAD_PLACES: u32 = 4;

#[derive(Serialize)]
struct SwapAnswer {
    lot: u32,
    swaps: Vec<SwapLine>,
    ranking: Vec<RankLine>,
    together: Option<Vec<TrialLine>>,
    best: Option<Vec<BestLine>>,
}

#[derive(Serialize)]
struct SwapLine {
    swap: String,
    is_approved: bool,
    is_typed: bool,
    place: Option<String>,
    from_date: Option<String>,
    from_unit: Option<u32>,
    plans: Vec<TrialLine>,
}

#[derive(Serialize)]
struct RankLine {
    swap: String,
    plan: String,
    per_weight: Option<String>,
}

#[derive(Serialize)]
struct TrialLine {
    plan: String,
    options: Vec<String>,
    state: &'static str,
    before: FiguresLine,
    after: FiguresLine,
    cost_change: String,
    weight_saved: String,
    per_weight: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    interaction: Option<SavingLine>,
}

#[derive(Serialize)]
struct FiguresLine {
    cost: String,
    weight: String,
    sheets: String,
    rolls: String,
    sticks: String,
    waste_ft2: String,
    waste_ft: String,
    labor_hours: String,
    labor_cost: String,
    hitch_load: Option<String>,
    axle_load: Option<String>,
    cargo_capacity: Option<String>,
}

#[derive(Serialize)]
struct SavingLine {
    cost_change: String,
    weight_saved: String,
}

#[derive(Serialize)]
struct BestLine {
    plan: String,
    target: String,
    is_met: bool,
    is_proven: bool,
    swaps: Vec<ReasonLine>,
    singles: SavingLine,
    together: SavingLine,
    interaction: SavingLine,
}

#[derive(Serialize)]
struct ReasonLine {
    swap: String,
    is_chosen: bool,
    reason: String,
}

/// Returns what `swap` answers.
#[must_use]
pub fn swap(base: Base<'_>, swaps: &Swaps, findings: &[Diagnostic]) -> String {
    let Base { book, needs, rollup, .. } = base;
    let digits = rollup.cost_digits;
    let trials = |trials: &[Trial]| -> Vec<TrialLine> {
        trials.iter().map(|trial| trial_line(base, trial, None)).collect()
    };
    let lines = swaps.proposals.iter().zip(&swaps.singles).map(|(proposal, singles)| {
        let row = proposal.rows.first().filter(|_| !proposal.is_typed);
        SwapLine {
            swap: proposal.name.clone(),
            is_approved: proposal.is_approved,
            is_typed: proposal.is_typed,
            place: row.map(|row| book.place(row.row, None).to_string()),
            from_date: proposal
                .rows
                .iter()
                .filter_map(|row| row.from_date)
                .max()
                .map(|day| day.to_string()),
            from_unit: proposal.rows.iter().filter_map(|row| row.from_unit).max(),
            plans: trials(singles),
        }
    });
    let ranking = swaps.ranked().into_iter().filter_map(|(swap, build)| {
        let trial = &swaps.singles[swap][build];
        trial.is_known().then(|| RankLine {
            swap: swaps.proposals[swap].name.clone(),
            plan: plan(base, build),
            per_weight: rate(trial.saving(), digits),
        })
    });
    let together = swaps.together.as_ref().map(|together| {
        let with_interaction = |trial: &Trial| {
            let interaction = trial.saving() - swaps.sum_of_singles(trial.build);
            trial_line(base, trial, Some(interaction))
        };
        together.iter().map(with_interaction).collect()
    });
    let best = swaps
        .best
        .as_ref()
        .map(|best| best.iter().map(|best| best_line(base, swaps, best)).collect());
    let answer = SwapAnswer {
        lot: rollup.lot,
        swaps: lines.collect(),
        ranking: ranking.collect(),
        together,
        best,
    };
    document("swap", book, needs.on, findings, answer)
}

fn plan(base: Base<'_>, build: usize) -> String {
    let build = &base.needs.builds[base.rollup.builds[build].build];
    base.book.plans[build.plan.index()].name.clone()
}

fn trial_line(base: Base<'_>, trial: &Trial, interaction: Option<Saving>) -> TrialLine {
    let Base { book, needs, rollup, .. } = base;
    let digits = rollup.cost_digits;
    let saving = trial.saving();
    TrialLine {
        plan: plan(base, trial.build),
        options: option_names(book, &needs.builds[rollup.builds[trial.build].build]),
        state: if trial.is_known() { "changed" } else { trial.state.name() },
        before: figures_line(book, &trial.before, digits),
        after: figures_line(book, &trial.after, digits),
        cost_change: shown::plain(saving.cost, digits),
        weight_saved: shown::plain(saving.weight, WEIGHT_DIGITS),
        per_weight: rate(saving, digits).filter(|_| trial.is_known()),
        interaction: interaction.map(|saving| saving_line(saving, digits)),
    }
}

fn figures_line(book: &Book, figures: &Figures, digits: u32) -> FiguresLine {
    let foot = Length::FOOT;
    let load = |pounds: &Option<Ratio>| {
        let count = pounds.as_ref()?.checked_div(&book.settings.weight_unit.factor)?;
        Some(shown::rounded(&count, LOAD_PLACES))
    };
    let part = |value: &Ratio, unit: &Ratio| exact(&value.checked_div(unit).unwrap_or(Ratio::ZERO));
    FiguresLine {
        cost: shown::plain(figures.cost, digits),
        weight: shown::plain(figures.weight, WEIGHT_DIGITS),
        sheets: figures.sheets.to_string(),
        rolls: figures.rolls.to_string(),
        sticks: figures.sticks.to_string(),
        waste_ft2: part(&figures.waste_area, &Ratio::whole(foot.area(foot))),
        waste_ft: part(&figures.waste_length, &foot.to_ratio()),
        labor_hours: part(&figures.labor_time, &Ratio::whole(60)),
        labor_cost: shown::plain(figures.labor_cost, digits),
        hitch_load: load(&figures.hitch),
        axle_load: load(&figures.axle),
        cargo_capacity: load(&figures.capacity),
    }
}

fn best_line(base: Base<'_>, swaps: &Swaps, best: &Best) -> BestLine {
    let digits = base.rollup.cost_digits;
    let reasons = swaps.proposals.iter().zip(&best.reasons).map(|(proposal, reason)| ReasonLine {
        swap: proposal.name.clone(),
        is_chosen: reason.is_chosen(),
        reason: swap_reason(swaps, *reason),
    });
    let together = best.together.saving();
    BestLine {
        plan: plan(base, best.build),
        target: shown::plain(best.target, WEIGHT_DIGITS),
        is_met: best.is_met(),
        is_proven: best.is_proven,
        swaps: reasons.collect(),
        singles: saving_line(best.singles, digits),
        together: saving_line(together, digits),
        interaction: saving_line(together - best.singles, digits),
    }
}

fn saving_line(saving: Saving, digits: u32) -> SavingLine {
    SavingLine {
        cost_change: shown::plain(saving.cost, digits),
        weight_saved: shown::plain(saving.weight, WEIGHT_DIGITS),
    }
}

fn rate(saving: Saving, digits: u32) -> Option<String> {
    saving.rate(digits).map(|rate| shown::rounded(&rate, PLACES))
}
