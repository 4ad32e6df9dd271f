//! What is fuzzed: one module a target, each with a function `run` that takes any bytes and panics at a fault.
//!
//! `fuzz_targets` hands them the inputs of libFuzzer, `tests/corpora.rs` of the main workspace those of `corpus`. A target
//! reads no file, clock or random source, so an input that failed once fails again.

pub mod book;
pub mod csv;
pub mod formula;
pub mod measure;
pub mod nest;
pub mod workbook;
