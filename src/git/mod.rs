//! Reads git repositories: finding one, resolving names, walking commits, reading trees, blobs and the index.
//!
//! In comes a folder or the name of a commit; out come plain values ([`Oid`], [`CommitInfo`], [`TreeFile`],
//! [`FileChange`], bytes). This is the only module that knows the git library, and it never writes to a repository,
//! never runs a program that a repository names, and never contacts the network.
//!
//! Discovery looks at folders only: `GIT_DIR`, `GIT_WORK_TREE`, `GIT_INDEX_FILE` and their like redirect nothing (the
//! library honours them only where it is asked to), so that an answer cannot come from another repository than the
//! one that the user stands in. Git's own check of who owns a repository stays on.
//!
//! Trees and commits are read raw and compared as sorted byte strings, descending only where ids differ: the
//! library's own comparison is many times slower in wide folders. Nothing is ever ordered by date; clocks are wrong
//! more often than parents are.
//!
//! To read something more: a new file with an `impl Repo` block over `Repo::with`, returning plain values.

mod blob;
mod commit;
mod compare;
mod endings;
mod error;
mod index;
mod known;
mod loose;
mod mailmap;
mod object;
mod oid;
mod packed;
mod refs;
mod repo;
mod settings;
mod signs;
mod stood;
mod taught;
mod tree;
mod walk;

#[cfg(test)]
pub(crate) mod fixture;
#[cfg(test)]
mod tests;

pub use blob::{blob_id, blob_id_of_file};
pub use commit::CommitInfo;
pub use compare::FileChange;
pub use error::GitError;
pub use index::{FileStat, IndexEntry, IndexSnapshot};
pub use oid::Oid;
pub use repo::Repo;
pub use settings::Settings;
pub use taught::{Changed, KnownCommit};
pub use tree::{FileMode, Listings, TreeFile, TreeListing};
