//! From small books to what is ordered: demand, time, vendors, cutting, money, what runs short, changes.

#![expect(clippy::unwrap_used, reason = "what cannot be had ends the test")]

#[path = "../support/line.rs"]
mod line;
mod look;
#[path = "../support/purchasing.rs"]
mod purchasing;
