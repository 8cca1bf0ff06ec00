//! The project file `slipmark.toml`, and the two tables beside it: parameters and instruments.
//!
//! In: TOML text. Out: [`Config`], [`Parameter`]s and [`Instrument`]s, valid by type; what is wrong becomes findings.

mod instrument;
mod keeps;
mod project;
mod tables;

pub use instrument::{AsFound, Calibration, InWords, Instrument, instruments};
pub use keeps::KeepsEvidence;
pub use project::{Config, Event, Level};
pub use tables::{Parameter, parameters};
