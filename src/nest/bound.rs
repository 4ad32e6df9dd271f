//! Lower bounds.
