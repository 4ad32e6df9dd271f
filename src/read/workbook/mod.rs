//! Reads workbooks.
use crate::diag::Checked;
use crate::diag::Diagnostic;
use crate::read::table::Table;
pub(super) fn tables(file: &str, bytes: Vec<u8>) -> Result<Checked<Vec<Table>>, Vec<Diagnostic>> {
    let _ = (file, bytes);
    Err(vec![])
}
