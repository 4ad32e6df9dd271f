//! Turns results into bytes: a stage's result becomes a [`Report`] without any format, and each format writes it.
//!
//! In: finished results. Out: text, CSV, JSON, HTML, SVG, Parquet or a workbook. Every output names the book's revision, day and digest.
//!
//! Not here: computing anything but the layout of a page.

pub mod csv;
pub mod html;
pub mod json;
pub mod parquet;
pub mod report;
pub mod shown;
pub mod text;
pub mod xlsx;

pub use report::Report;
