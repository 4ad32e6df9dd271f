//! Bytes as a CSV file: no panic, and every cell has a place.

use std::collections::BTreeMap;

use cutbill::read::{self, Cell, Memory, Table};

/// Reads the bytes as the file `bill.csv` of a book.
pub fn run(bytes: &[u8]) {
    tables("bill.csv", bytes);
}

/// Reads a file into tables, and each cell of them.
pub(crate) fn tables(name: &str, bytes: &[u8]) {
    let files = Memory(BTreeMap::from([(name.to_owned(), bytes.to_vec())]));
    match read::tables(&files) {
        Ok(checked) => {
            for finding in &checked.warnings {
                assert!(!finding.to_string().is_empty());
            }
            checked.value.iter().for_each(cells);
        }
        Err(findings) => assert!(!findings.is_empty(), "not read, but no finding says why"),
    }
}

fn cells(table: &Table) {
    let mut last_row = 0;
    for row in 0..table.row_count() {
        let number = table.row_number(row);
        assert!(last_row < number, "row {number} follows row {last_row}");
        last_row = number;
        for (column, cell) in table.cells(row) {
            assert_eq!(cell, table.cell(row, column));
            assert_ne!(cell, Cell::Empty);
            assert!(!table.headers[column].is_empty(), "a cell without a header");
            assert_eq!(table.place(row, Some(column)).row, Some(number));
        }
    }
}
