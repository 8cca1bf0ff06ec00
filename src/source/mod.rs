//! Gathers a project's files: from the work tree, from a commit, or from memory.
//!
//! In comes a folder, or a repository and a commit; out comes a [`Snapshot`]: every Markdown file and the three
//! settings files with their text, every other path by name, and a [`SourceProblem`] for whatever would otherwise go
//! unseen. Nothing after this stage touches the disk or git for content, so that the work tree and an old commit
//! cannot be judged by different code.
//!
//! No rule about what a file says is applied here, except one: an ignored Markdown file that begins with `+++`
//! counts as a project file that nobody else will ever see.
//!
//! A repository may be hostile. Symlinks are followed only to a plain file inside the project, pipes and devices are
//! never opened, and sizes, depths and counts are bounded by [`Limits`].
//!
//! To add a source: a file with a type that implements [`Source`], which lists its paths and hands them to
//! `rules::assemble`; and a line in `tests.rs`, where the same fixture must give the same snapshot from every source.

mod attached;
mod error;
mod limits;
mod memory;
mod problem;
mod revision;
mod rules;
mod seen;
mod snapshot;
mod watched;
mod worktree;

#[cfg(test)]
mod tests;

pub use attached::{Held, Pieces, hash_to_be, hold};
pub use error::{ReadError, SourceError};
pub use limits::Limits;
pub use memory::Memory;
pub use problem::SourceProblem;
pub use revision::Revision;
pub(crate) use rules::{is_read, is_settings};
pub use seen::Seen;
pub use snapshot::{Content, Origin, OtherFile, PassedOver, ProjectFile, Snapshot};
pub use watched::Watched;
pub use worktree::{Texts, WorkTree, in_pieces};

use sha2::{Digest, Sha256};

use crate::git::Oid;
use crate::text::RepoPath;

/// The file that makes a folder a project.
pub const PROJECT_FILE: &str = "slipmark.toml";
/// The project's named values.
pub const PARAMETERS_FILE: &str = "parameters.toml";
/// The project's instruments and their calibrations.
pub const INSTRUMENTS_FILE: &str = "instruments.toml";

/// A place that a project's files come from.
pub trait Source: Send + Sync {
    /// Reads only the project file, which says what [`Limits::nested_allowed`] has to be.
    ///
    /// # Errors
    /// If the source itself cannot be read; a project file that cannot be is [`Content`] that says so.
    fn project_file(&self, limits: &Limits) -> Result<Content, SourceError>;

    /// Reads the whole project.
    ///
    /// # Errors
    /// If the source itself cannot be read, or holds more text than [`Limits::total_text_bytes`].
    fn snapshot(&self, limits: &Limits) -> Result<Snapshot, SourceError>;

    /// An attachment's bytes, at most [`Limits::ATTACHMENT_BYTES`].
    ///
    /// # Errors
    /// If the path leads out of the project, is not a file, is too large, or cannot be read.
    fn read(&self, path: &RepoPath) -> Result<Vec<u8>, ReadError>;

    /// Hands on an attachment's bytes in pieces, whatever its size.
    ///
    /// # Errors
    /// If the path leads out of the project, is not a file, or cannot be read.
    fn pieces(&self, path: &RepoPath, take: &mut dyn FnMut(&[u8])) -> Result<(), ReadError>;

    /// The blob id that git gives to these very bytes, read in pieces; none if they cannot be read.
    fn blob_id(&self, path: &RepoPath) -> Option<Oid>;

    /// Whether bytes are handed on as git stores them.
    fn is_stored(&self) -> bool {
        false
    }

    /// Whether git would store a text at this path with LF where it has CRLF.
    fn stores_lf(&self, _path: &RepoPath) -> bool {
        false
    }

    /// An attachment's SHA-256, whatever its size: of the bytes as they are.
    ///
    /// # Errors
    /// As [`Source::pieces`].
    fn sha256(&self, path: &RepoPath) -> Result<[u8; 32], ReadError> {
        let mut digest = Sha256::new();
        self.pieces(path, &mut |piece| digest.update(piece))?;
        Ok(digest.finalize().into())
    }
}
