//! The example project "Marram Point" with its whole history, embedded in the program.
//!
//! `reqs/` holds the files of the newest commit. `history.toml` lists the commits in order and says, for each file that a
//! commit writes, whether its text is the newest one or an earlier one, which is then in `earlier/NN/`. Nothing is stored
//! twice, so nothing can disagree with itself. All of it is invented.

mod build;
mod files;
mod manifest;

#[cfg(test)]
mod tests;

pub use build::build;
pub use manifest::{Step, steps};

/// Every file of the newest commit: its path in the project, with `/`, and its bytes.
pub fn newest() -> &'static [(&'static str, &'static [u8])] {
    files::NEWEST
}

/// Why the example project cannot be told or built.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ExampleError {
    /// `history.toml` is not what this module reads.
    #[error("the example's list of commits cannot be read: {0}")]
    Manifest(#[from] toml::de::Error),
    /// A commit lists a file whose text is not embedded.
    #[error("commit {number} of the example lists `{path}`, which is not embedded")]
    NotEmbedded {
        /// Which commit, counted from 1.
        number: usize,
        /// The file, as listed.
        path: String,
    },
    /// A commit's date is not RFC 3339 with an offset.
    #[error("the example's date `{date}` is not a date, a time and an offset")]
    Date {
        /// The date as listed.
        date: String,
    },
    /// The folder to build in already holds something.
    #[error("`{}` is not empty; name a folder that does not exist yet", .0.display())]
    NotEmpty(std::path::PathBuf),
    /// The folder to build in cannot be looked at.
    #[error("`{}` cannot be read: {source}", path.display())]
    Folder {
        /// The folder.
        path: std::path::PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// The repository cannot be written.
    #[error("the example's repository cannot be written: {0}")]
    Git(#[from] git2::Error),
}
