//! Why a source could not be read at all, or one attachment of it.

use std::path::PathBuf;

use super::PROJECT_FILE;
use crate::git::{GitError, Oid};
use crate::text::{RepoPath, shell_word};

/// Why there is no snapshot.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum SourceError {
    /// No project file in the folder or above it, up to the top of the git work tree.
    #[error("no {PROJECT_FILE} in {} or above it", start.display())]
    NoProject {
        /// Where the search began.
        start: PathBuf,
        /// Folders below it that are projects, at most three.
        nearest: Vec<PathBuf>,
    },
    /// The folder is in no git work tree.
    #[error("{} is not in a git work tree, which a project needs", start.display())]
    NotInGit {
        /// Where the search began.
        start: PathBuf,
    },
    /// The folder cannot be opened.
    #[error("cannot open {}: {reason}", path.display())]
    Folder {
        /// The folder.
        path: PathBuf,
        /// In the system's words.
        reason: String,
    },
    /// The way from the top of the work tree to the project has a name that is not UTF-8.
    #[error("the path of the project, {}, is not UTF-8", path.display())]
    PathNotUtf8 {
        /// The project's folder.
        path: PathBuf,
    },
    /// The commit has no project here.
    #[error("commit {} has no {PROJECT_FILE} in {}", oid.short(), if prefix.is_empty() { "its top folder" } else { prefix })]
    NoProjectInCommit {
        /// The commit.
        oid: Oid,
        /// The folder that was looked in, from the top of the repository.
        prefix: String,
    },
    /// More text than is reasonable to read.
    #[error("the project has more than {limit} bytes of Markdown; nothing was judged")]
    TooMuchText {
        /// The bound in bytes.
        limit: u64,
    },
    /// Git could not answer.
    #[error(transparent)]
    Git(#[from] GitError),
}

/// Why an attachment cannot be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ReadError {
    /// There is no such file.
    #[error("{path} does not exist")]
    NotFound {
        /// The attachment.
        path: RepoPath,
    },
    /// The path, or the symlink that is there, leads out of the project.
    #[error("{path} leads out of the project, and is not followed")]
    Outside {
        /// The attachment.
        path: RepoPath,
    },
    /// A folder, pipe, device or other repository.
    #[error("{path} is not a file")]
    NotAFile {
        /// The attachment.
        path: RepoPath,
    },
    /// Too large to load.
    #[error("{path} has {bytes} bytes; at most {limit} are read")]
    TooLarge {
        /// The attachment.
        path: RepoPath,
        /// Its size in bytes.
        bytes: u64,
        /// The bound in bytes.
        limit: u64,
    },
    /// The system or git refuses.
    #[error("cannot read {path}: {reason}")]
    Unreadable {
        /// The attachment.
        path: RepoPath,
        /// In its own words.
        reason: String,
    },
}

impl SourceError {
    /// What to type, as far as can be told from here.
    pub fn help(&self) -> Option<String> {
        match self {
            SourceError::NoProject { nearest, .. } if !nearest.is_empty() => {
                let each: Vec<String> = nearest.iter().map(|folder| format!("cd {}", shell_word(folder))).collect();
                Some(each.join(", or "))
            }
            SourceError::NoProject { .. } | SourceError::NotInGit { .. } => None,
            SourceError::Folder { .. } => Some("name a folder that is there and that you may read".into()),
            SourceError::PathNotUtf8 { .. } => Some("rename the folder".into()),
            SourceError::NoProjectInCommit { .. } => {
                Some("name a later commit, or the folder that it was in then: --project DIR".into())
            }
            SourceError::TooMuchText { .. } => Some("move what is no project file out of the project's folder".into()),
            SourceError::Git(error) => Some(error.help()),
        }
    }
}

impl ReadError {
    pub(super) fn io(path: &RepoPath, error: &std::io::Error) -> ReadError {
        match error.kind() {
            std::io::ErrorKind::NotFound | std::io::ErrorKind::NotADirectory => {
                ReadError::NotFound { path: path.clone() }
            }
            _ => ReadError::Unreadable { path: path.clone(), reason: error.to_string() },
        }
    }

    pub(super) fn git(path: &RepoPath, error: GitError) -> ReadError {
        match error {
            GitError::TooLarge { bytes, limit, .. } => ReadError::TooLarge { path: path.clone(), bytes, limit },
            other => ReadError::Unreadable { path: path.clone(), reason: other.to_string() },
        }
    }
}
