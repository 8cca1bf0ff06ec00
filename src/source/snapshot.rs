//! What a source hands on.

use std::sync::Arc;

use jiff::civil::Date;

use super::{Seen, SourceProblem};
use crate::git::Oid;
use crate::text::RepoPath;

/// Where a snapshot came from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Origin {
    /// The files as they are on disk.
    WorkTree {
        /// The commit that is checked out; `None` before the first one.
        head: Option<Oid>,
        /// How many of the project's files are not what that commit holds: changed, new, or gone. Files that git
        /// ignores, that other projects hold, or whose names are not UTF-8 are not counted.
        uncommitted: usize,
    },
    /// The files as a commit holds them.
    Commit {
        /// The commit.
        oid: Oid,
        /// The first paragraph of its message.
        summary: String,
        /// Its author's date, in the author's own offset from UTC.
        date: Date,
    },
    /// Files given by the program.
    Memory,
}

impl Origin {
    /// The commit that the files are of, or that is checked out.
    pub fn commit(&self) -> Option<Oid> {
        match self {
            Origin::WorkTree { head, .. } => *head,
            Origin::Commit { oid, .. } => Some(*oid),
            Origin::Memory => None,
        }
    }
}

/// A project's files at one moment.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Snapshot {
    /// Where they came from.
    pub origin: Origin,
    /// Every Markdown file, and the settings files at the top of the project, in path order.
    pub files: Vec<ProjectFile>,
    /// Every other file, in path order: what records may attach.
    pub others: Vec<OtherFile>,
    /// Paths that are in the project but can be neither, in path order.
    pub passed_over: Vec<PassedOver>,
    /// Whatever would go unseen, sorted.
    pub problems: Vec<SourceProblem>,
    /// By what to tell without reading that the files are still the same; none where that cannot be told.
    pub seen: Option<Seen>,
}

impl Snapshot {
    /// The Markdown or settings file at `path`.
    pub fn file(&self, path: &RepoPath) -> Option<&ProjectFile> {
        self.position(path.as_str()).map(|at| &self.files[at])
    }

    /// Where the Markdown or settings file at `path` stands among them.
    pub fn position(&self, path: &str) -> Option<usize> {
        self.files.binary_search_by(|file| file.path.as_str().cmp(path)).ok()
    }

    /// The other file at `path`.
    pub fn other(&self, path: &RepoPath) -> Option<&OtherFile> {
        self.others.binary_search_by(|file| file.path.cmp(path)).ok().map(|at| &self.others[at])
    }

    /// Whether there is any file at `path` that a record could attach.
    pub fn has(&self, path: &RepoPath) -> bool {
        self.file(path).is_some() || self.other(path).is_some()
    }
}

/// A Markdown or settings file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ProjectFile {
    /// Where it is.
    pub path: RepoPath,
    /// What it holds.
    pub content: Content,
    /// The git blob id of these very bytes, where it is known. Where git converts line endings or content on the
    /// way to disk, it is often not.
    pub blob: Option<Oid>,
    /// Whether git tracks the path (in a commit or in memory: always).
    pub tracked: bool,
}

/// What a file holds, or why that cannot be said.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Content {
    /// The whole text as it is on disk: line endings and byte order mark kept.
    Text(Arc<str>),
    /// Not UTF-8.
    NotUtf8 {
        /// The first byte that cannot be read.
        offset: usize,
    },
    /// Larger than [`Limits::text_bytes`](super::Limits::text_bytes).
    TooLarge {
        /// Its size in bytes.
        bytes: u64,
    },
    /// It is there and cannot be read: no permission, a pipe, a symlink.
    Unreadable {
        /// Why.
        reason: String,
    },
}

impl Content {
    /// Reads bytes as text.
    pub(super) fn from_bytes(bytes: &[u8], limit: u64) -> Content {
        if bytes.len() as u64 > limit {
            return Content::TooLarge { bytes: bytes.len() as u64 };
        }
        match std::str::from_utf8(bytes) {
            Ok(text) => Content::Text(text.into()),
            Err(error) => Content::NotUtf8 { offset: error.valid_up_to() },
        }
    }

    /// The text, if it is one.
    pub fn text(&self) -> Option<&Arc<str>> {
        match self {
            Content::Text(text) => Some(text),
            _ => None,
        }
    }
}

/// A file that is not the project's own: an attachment, if some record names it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OtherFile {
    /// Where it is.
    pub path: RepoPath,
    /// Its size in bytes (of a symlink: its target's), where known.
    pub size: Option<u64>,
    /// The git blob id of these very bytes, where known; never of a symlink's.
    pub blob: Option<Oid>,
    /// Whether git tracks the path.
    pub tracked: bool,
}

/// A path that cannot be read as anything.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PassedOver {
    /// Where it is.
    pub path: RepoPath,
    /// What it is, as a noun phrase.
    pub what: &'static str,
}
