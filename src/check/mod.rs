//! (to be written)

pub mod wording;
