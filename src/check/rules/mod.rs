//! One file for each check.

pub mod results;
