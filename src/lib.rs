//! From bills of materials per floor plan: what each build takes, costs and weighs, and what must be bought and cut.
//!
//! A stage is a function named as its module: it takes finished values by reference and returns a new one. The library reads
//! no file, clock or environment; its caller gives it bytes through [`read::Files`] and follows long work through
//! [`watch::Watch`].
//!
//! ```
//! use cutbill::explode::{self, explode};
//! use cutbill::read::{Memory, read};
//! use cutbill::render::{report, text};
//! use cutbill::rollup::{self, Key, group, ledger, rollup};
//! use cutbill::watch::Silent;
//!
//! let files = Memory::from_iter([
//!     ("plans.csv", "plan,length\nSedge,16 ft\n"),
//!     ("bill.csv", "parent,component,quantity\nSedge,BOLT,ROUNDUP(length / 16 in) + 1\n"),
//!     ("items.csv", "item,form,price,weight\nBOLT,count,0.25,0.1 lb\n"),
//! ]);
//! let book = read(&files).unwrap().value;
//! let needs = explode(&book, &explode::Options::default()).unwrap().value;
//! let rolled = rollup(&book, &needs, rollup::Options::default(), &Silent).unwrap().value;
//! let ledger = ledger(&book, &needs, &rolled, &[Key::Item]).unwrap();
//! let grouping = group(&ledger, &[Key::Item]).unwrap();
//! let report = report::grouping(&book, &needs, &rolled, &grouping);
//! // 13 bolts of 0.25 USD and 0.1 lb.
//! assert_eq!((grouping.groups[0].cost, grouping.groups[0].weight), (3_2500, 1_3000));
//! assert!(text::text(&report, None).contains("\nBOLT"));
//! ```

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
