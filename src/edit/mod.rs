//! Edits of front matter as text: a line here, a value there, and every other byte as it was.
//!
//! In: the text of a file, the path of a key, a value. Out: the whole new text, or why the file is better edited by hand.
//! Nothing is re-printed: comments, order, spacing and line ends stay. Where TOML leaves several places for a key, the
//! one that reads best is tried first, and no edit is handed out before the new text has been read again and shown to
//! differ by exactly the value that was asked for. Writing files is the command line's business.

mod change;
mod outline;
mod places;
#[cfg(test)]
mod tests;
mod value;

pub use change::{Place, add_to_list, append_table, put};
pub use outline::Step;
pub use value::{Toml, key};

/// Why a file cannot be edited safely, and what to type into it instead.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{message}")]
pub struct EditError {
    /// What stands in the way.
    pub message: String,
    /// The lines to type by hand.
    pub type_this: String,
}

/// A path of plain keys.
pub fn path(keys: &[&str]) -> Vec<Step> {
    keys.iter().map(|key| Step::Key((*key).to_string())).collect()
}
