//! The project file `slipmark.toml`, and the two tables beside it: parameters and instruments.
//!
//! In: TOML text. Out: [`Config`], [`Parameter`]s and [`Instrument`]s, valid by type; what is wrong becomes findings.

mod project;
mod tables;

pub use project::{Config, Event, Level};
pub use tables::{Calibration, Instrument, Parameter, instruments, parameters};
