//! What others have published, held against what slipmark works out: a module and a data file for each section, every row with
//! its source.
//!
//! `cargo test --test published -- --nocapture` prints all of it: source, quantity, published, ours, difference. A number that was
//! published rounded agrees where ours rounds to it; one that follows exactly from definitions must be met exactly.

mod comparison;
mod conformity;
mod notation;
mod tables;
mod monte_carlo;
mod statistics;
mod units;
