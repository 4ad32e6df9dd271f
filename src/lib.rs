//! From bills of materials per floor plan: what each build takes, costs and weighs, and what must be bought and cut.

pub mod diag;
pub mod formula;
pub mod model;
pub mod nest;

pub mod explode;

pub mod rollup;

pub mod loads;
pub mod orders;
pub mod price;

pub mod shop;

pub mod compare;

pub mod swap;

pub mod quantity;
pub mod read;
pub mod watch;

pub mod render;
