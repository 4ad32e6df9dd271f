//! Shows on a terminal how far work of more than a second has come.

use std::io::{self, IsTerminal, Write};
use std::sync::Mutex;
use std::time::{Duration, Instant};

use cutbill::watch::Watch;

use super::interrupt;

/// Work shorter than this shows nothing.
const PATIENCE: Duration = Duration::from_secs(1);

/// Least time between two lines shown.
const PAUSE: Duration = Duration::from_millis(100);

/// Follows the stages and shows one line on standard error, which the next one overwrites.
///
/// Asks searches to stop once an interrupt has come; see [`interrupt`].
pub(super) struct Progress {
    is_shown: bool,
    start: Instant,
    /// When a line was shown last.
    last: Mutex<Option<Instant>>,
}

impl Progress {
    /// Begins to count time. Nothing is ever shown where standard error is not a terminal.
    #[expect(
        clippy::disallowed_methods,
        reason = "progress is told by the clock; no result depends on it"
    )]
    pub(super) fn start() -> Progress {
        let is_shown = io::stderr().is_terminal();
        Progress { is_shown, start: Instant::now(), last: Mutex::new(None) }
    }

    /// Clears the line, if one was shown.
    pub(super) fn finish(self) {
        if self.last.into_inner().is_ok_and(|last| last.is_some()) {
            show("");
        }
    }
}

impl Watch for Progress {
    fn progress(&self, stage: &str, done: usize, total: usize) {
        if !self.is_shown {
            return;
        }
        // Where another thread shows a line at this moment, this one need not.
        let Ok(mut last) = self.last.try_lock() else { return };
        let elapsed = self.start.elapsed();
        if is_due(elapsed, last.map(|last| last.duration_since(self.start))) {
            *last = Some(self.start + elapsed);
            show(&format!("{stage}: {done} of {total}"));
        }
    }

    fn is_stopped(&self) -> bool {
        interrupt::is_asked()
    }
}

/// Tells whether a line is to be shown, at a time since the start, `last` being that of the line before.
fn is_due(elapsed: Duration, last: Option<Duration>) -> bool {
    elapsed >= last.map_or(PATIENCE, |last| last + PAUSE)
}

fn show(line: &str) {
    // A terminal that is gone is no reason to end the work.
    let _ = write!(io::stderr(), "\r{line}\x1b[K");
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn short_work_shows_nothing_and_long_work_not_too_often() {
        let millis = Duration::from_millis;
        assert!(!is_due(millis(999), None));
        assert!(is_due(millis(1000), None));
        assert!(!is_due(millis(1099), Some(millis(1000))));
        assert!(is_due(millis(1100), Some(millis(1000))));
    }
}
