//! What a long stage tells its caller, and how the caller stops it.
//!
//! The library keeps no clock and prints nothing; the binary implements [`Watch`], tests use [`Silent`].

/// Follows a long stage.
pub trait Watch: Sync {
    /// Hears that `done` of `total` steps of a stage are finished.
    fn progress(&self, stage: &str, done: usize, total: usize);

    /// Tells whether the work should end at the next good place. A result ended so says so.
    fn is_stopped(&self) -> bool;
}

/// Hears nothing and never stops.
pub struct Silent;

impl Watch for Silent {
    fn progress(&self, _stage: &str, _done: usize, _total: usize) {}

    fn is_stopped(&self) -> bool {
        false
    }
}
