//! Words that several kinds share.

pub use crate::config::{METHODS, Method, STAGES, Stage};
pub use crate::parse::word_of;
