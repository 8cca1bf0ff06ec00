//! What others have published, held against what slipmark works out: a module and a data file for each section, every row with
//! its source.
//!
//! `cargo test --test published -- --nocapture` prints all of it: source, quantity, published, ours, difference. A number that was
//! published rounded agrees where ours rounds to it; one that follows exactly from definitions must be met exactly.

mod calculations;
mod comparison;
mod conformity;
mod correlated;
mod example;
mod monte_carlo;
mod notation;
mod practice;
mod statistics;
mod tables;
mod units;
