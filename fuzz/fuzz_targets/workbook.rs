#![no_main]

use std::panic;

libfuzzer_sys::fuzz_target!(
    init: {
        // The reader catches what the library below it panics at, so only other panics end the run.
        let abort = panic::take_hook();
        panic::set_hook(Box::new(move |panicked| {
            let is_caught = panicked.location().is_some_and(|place| place.file().contains("/calamine-"));
            if !is_caught {
                abort(panicked);
            }
        }));
    },
    |bytes: &[u8]| cutbill_fuzz::workbook::run(bytes)
);
