use serde::Serialize;

use crate::diag::Diagnostic;
use crate::explode::{Needs, What};
use crate::model::Book;
use crate::quantity::Length;
use crate::quantity::Ratio;
use crate::quantity::text::exact;
use crate::render::json::{Side, document, option_names, side};

#[derive(Serialize)]
struct ExplodeAnswer {
    builds: Vec<BuildNeeds>,
}

#[derive(Serialize)]
struct BuildNeeds {
    plan: String,
    options: Vec<String>,
    needs: Vec<NeedLine>,
}

#[derive(Serialize)]
struct NeedLine {
    item: String,
    form: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    length: Option<Side>,
    #[serde(skip_serializing_if = "Option::is_none")]
    width: Option<Side>,
    good: String,
    required: String,
    unit: String,
}

/// Returns what `explode --flat` answers.
#[must_use]
pub fn needs(book: &Book, needs: &Needs, findings: &[Diagnostic]) -> String {
    let builds = needs.builds.iter().map(|build| BuildNeeds {
        plan: book.plans[build.plan.index()].name.clone(),
        options: option_names(book, build),
        needs: needs
            .flat(book, build)
            .needs
            .iter()
            .map(|need| {
                let item = book.item(need.item);
                let (factor, unit) = match need.what {
                    What::Piece { .. } => (Ratio::ONE, "piece".to_owned()),
                    What::Whole(_) => (Ratio::ONE, "size".to_owned()),
                    What::Run => (Length::FOOT.to_ratio(), "ft".to_owned()),
                    What::Amount => (item.unit.factor.clone(), item.unit.name.clone()),
                };
                let in_unit =
                    |amount: &Ratio| exact(&amount.checked_div(&factor).unwrap_or(Ratio::ZERO));
                let (long, wide) = match need.what {
                    What::Piece { length, width, .. } => (Some(length), Some(width)),
                    What::Whole(size) => {
                        (book.sizes[size.index()].length, book.sizes[size.index()].width)
                    }
                    What::Run | What::Amount => (None, None),
                };
                NeedLine {
                    item: item.name.clone(),
                    form: item.form.name(),
                    length: long.map(|long| side(book, long)),
                    width: wide.filter(|wide| *wide > Length::ZERO).map(|wide| side(book, wide)),
                    good: in_unit(&need.good),
                    required: in_unit(&need.required),
                    unit,
                }
            })
            .collect(),
    });
    let answer = ExplodeAnswer { builds: builds.collect() };
    document("needs", book, needs.on, findings, answer)
}
