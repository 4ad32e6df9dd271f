//! Parquet: the ledger with its decimal columns.

use polars::prelude::{ParquetWriter, PolarsError};

use crate::rollup::Ledger;

/// Returns the ledger as a Parquet file.
///
/// # Errors
/// A failure of the table engine, which a valid ledger does not meet.
///
/// # Example
/// ```
/// # use cutbill::explode::{self, explode};
/// # use cutbill::read::{Memory, read};
/// # use cutbill::watch::Silent;
/// use cutbill::render::parquet;
/// use cutbill::rollup::{self, Key};
///
/// # let files = Memory::from_iter([
/// #     ("plans.csv", "plan\nSedge\n"),
/// #     ("bill.csv", "parent,component,quantity\nSedge,BOLT,4\n"),
/// #     ("items.csv", "item,form,price,weight\nBOLT,count,0.25,0.1 lb\n"),
/// # ]);
/// # let book = read(&files).unwrap().value;
/// # let needs = explode(&book, &explode::Options::default()).unwrap().value;
/// # let rolled = rollup::rollup(&book, &needs, rollup::Options::default(), &Silent).unwrap().value;
/// let ledger = rollup::ledger(&book, &needs, &rolled, &[Key::Plan, Key::Item]).unwrap();
/// let file = parquet::parquet(&ledger).unwrap();
/// assert_eq!(file[..4], *b"PAR1");
/// ```
pub fn parquet(ledger: &Ledger) -> Result<Vec<u8>, PolarsError> {
    let mut bytes = Vec::new();
    let mut frame = ledger.frame.clone();
    ParquetWriter::new(&mut bytes).finish(&mut frame)?;
    Ok(bytes)
}
