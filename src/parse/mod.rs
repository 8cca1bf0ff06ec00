//! From a file's text to a document: front matter with the place of every key, and the Markdown body.
//!
//! In: one file. Out: a [`Document`], always; what is wrong with the file becomes findings and the rest is still used.
//! Pure: no disk, no clock, no knowledge of kinds.

mod amount;
mod body;
mod front_matter;
mod moment;
mod reader;
pub mod tree;

pub use crate::text::nearest;
pub use amount::Amount;
pub use body::{Body, CalcBlock, plain_spaces, plain_text};
pub use front_matter::{Document, Parsed, document, settings, toml_table};
pub use moment::{Hour, Moment};
pub use reader::{Reader, Scalar, Value, word_of};
