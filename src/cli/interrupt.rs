//! Hears an interrupt (Ctrl-C): the first ends searches with the best so far, the second ends the process.

use std::io::{self, Write};
use std::process;
use std::sync::atomic::{AtomicBool, Ordering};

/// Exit code of a process that an interrupt ended, as shells count it.
const INTERRUPTED: i32 = 130;

static IS_ASKED: AtomicBool = AtomicBool::new(false);

/// Begins to hear. Where that cannot be had, an interrupt ends the process at once, as without it.
pub(super) fn listen() {
    let _ = ctrlc::set_handler(|| {
        if IS_ASKED.swap(true, Ordering::Relaxed) {
            process::exit(INTERRUPTED);
        }
        // A terminal that is gone is no reason to go on.
        let _ = writeln!(
            io::stderr(),
            "\rnote: ending with the best cutting found so far; press Ctrl-C again to end at once"
        );
    });
}

/// Tells whether an interrupt has come.
pub(super) fn is_asked() -> bool {
    IS_ASKED.load(Ordering::Relaxed)
}
