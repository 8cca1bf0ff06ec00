//! One file for each check.

pub mod dates;
pub mod entries;
pub mod failures;
pub mod plans;
pub mod practice;
pub mod results;
pub mod statements;
pub mod structure;
pub mod wording;
