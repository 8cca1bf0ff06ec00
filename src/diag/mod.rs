//! Findings: what is wrong with the files, as data.
//!
//! In: facts stated by the parse, model, state and check stages. Out: an ordered list for the renderers.
//! A finding is built where the fault is seen and says three things: what was found, where, and what to type next.
//! Its class comes from the [`catalogue`], never from the place that raises it. To add one: an entry in the catalogue,
//! one `Finding::new` where it is seen, and a case in `tests/checks`.

pub mod catalogue;
mod finding;
mod findings;
mod switch;

pub use catalogue::{Class, CodeEntry, Example};
pub use finding::{Due, Finding, Place};
pub use findings::Findings;
pub use switch::Switch;
