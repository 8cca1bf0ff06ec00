//! The project file `slipmark.toml`, and the two tables beside it: parameters and instruments.
//!
//! In: TOML text. Out: [`Config`], [`Parameter`]s and [`Instrument`]s, valid by type; what is wrong becomes findings.

mod instrument;
mod keeps;
mod project;
mod roles;
mod tables;
mod words;

pub use instrument::{AsFound, Calibration, InWords, Instrument, instruments};
pub use keeps::KeepsEvidence;
pub use project::{Config, Event, Level};
pub use roles::{Role, is_same_person};
pub use tables::{Parameter, parameters};
pub use words::{METHODS, Method, STAGES, Stage};
