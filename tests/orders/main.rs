//! From small books to what is ordered: demand, time, vendors, cutting, money, what runs short, changes.

#![expect(clippy::unwrap_used, reason = "what cannot be had ends the test")]

mod buying;
mod changes;
mod cutting;
mod faults;
mod likely;
#[expect(dead_code, reason = "other tests roll up as well")]
#[path = "../support/line.rs"]
mod line;
mod look;
mod money;
#[path = "../support/purchasing.rs"]
mod purchasing;
#[expect(dead_code, reason = "other tests shuffle as well")]
#[path = "../support/random.rs"]
mod random;
mod short;
mod time;
