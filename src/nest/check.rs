//! Checks a nest.
