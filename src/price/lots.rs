use crate::diag::Checked;
use crate::diag::Diagnostic;
use crate::diag::Distinct;
use crate::explode::Needs;
use crate::model::Book;
use crate::price::{Options, PriceSheet, price};
use crate::rollup;
use crate::watch::Watch;

/// Returns the cost sheets for several lots, each nested for its own: how yield and set-up change with quantity.
///
/// # Errors
/// Those of [`rollup`](rollup::rollup()) and [`price`].
pub fn lots(
    book: &Book,
    needs: &Needs,
    lots: &[u32],
    cutting: rollup::Options,
    options: &Options,
    watch: &dyn Watch,
) -> Result<Checked<Vec<PriceSheet>>, Vec<Diagnostic>> {
    let mut sheets = Vec::with_capacity(lots.len());
    let mut warnings = Distinct::default();
    for lot in lots {
        let cutting = rollup::Options { lot: Some(*lot), ..cutting };
        let rolled = rollup::rollup(book, needs, cutting, watch)?;
        warnings.extend(rolled.warnings);
        let sheet = price(book, needs, &rolled.value, options)?;
        warnings.extend(sheet.warnings);
        sheets.push(sheet.value);
    }
    Ok(Checked { value: sheets, warnings: warnings.into_vec() })
}
