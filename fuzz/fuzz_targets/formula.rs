#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| cutbill_fuzz::formula::run(bytes));
