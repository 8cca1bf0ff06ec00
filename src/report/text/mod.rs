//! Text for a terminal.
//!
//! In: a view and a width. Out: text with the marks of [`style`](super::style). Ids are never broken.

pub mod before;
pub mod calc;
pub mod changes;
pub mod concepts;
pub mod explain;
pub mod findings;
pub mod history;
pub mod impact;
mod layout;
pub mod matrix;
pub mod next;
pub mod row;
pub mod sheet;
pub mod show;
pub mod templates;
pub mod trend;
pub mod verify;
pub mod words;
pub mod worked;

pub use layout::{Lines, pad, wrap};
