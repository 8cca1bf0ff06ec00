//! One file for each check.

pub mod children;
pub mod cycles;
pub mod dates;
pub mod decisions;
pub mod departures;
pub mod events;
pub mod failures;
pub mod fields;
pub mod inputs;
pub mod instruments;
pub mod limits;
pub mod matching;
pub mod options;
pub mod orphans;
pub mod plan;
pub mod readings;
pub mod records;
pub mod results;
pub mod same_day;
pub mod scope;
pub mod serials;
pub mod statements;
pub mod withdrawn;
pub mod wording;
