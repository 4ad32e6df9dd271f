#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| cutbill_fuzz::csv::run(bytes));
