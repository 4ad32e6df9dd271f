//! Reads a book: bytes of CSV files or of a workbook in, a valid [`Book`](crate::model::Book) out.
//!
//! [`tables`](fn@tables) turns bytes into [`Table`]s of cells with places; what the cells mean is decided after that, by
//! the schema. All mistakes are collected and come back in file order.

pub mod table;

pub use table::{Builder, Cell, Percent, Table};

/// Answers with the bytes of files, so that the library itself does no I/O.
pub trait Files {
    /// Returns the names of the files of the book, in a fixed order; for a workbook its one name.
    fn names(&self) -> Vec<String>;

    /// Returns the content of a file.
    ///
    /// # Errors
    /// The reason in words, such as `permission denied`.
    fn bytes(&self, name: &str) -> Result<Vec<u8>, String>;
}
