//! Parquet: the ledger with its decimal columns.

use polars::prelude::{ParquetWriter, PolarsError};

use crate::rollup::Ledger;

/// Returns the ledger as a Parquet file.
///
/// # Errors
/// A failure of the table engine, which a valid ledger does not meet.
pub fn parquet(ledger: &Ledger) -> Result<Vec<u8>, PolarsError> {
    let mut bytes = Vec::new();
    let mut frame = ledger.frame.clone();
    ParquetWriter::new(&mut bytes).finish(&mut frame)?;
    Ok(bytes)
}
