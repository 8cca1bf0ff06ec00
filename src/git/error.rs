//! What can go wrong with a repository, in words that say what to type.

use std::path::{Path, PathBuf};

use super::Oid;
use crate::text::shell_word;

/// Why a repository could not answer.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum GitError {
    /// No repository at `start` or above it.
    #[error("{} is not in a git repository", start.display())]
    NotARepository {
        /// Where the search began.
        start: PathBuf,
    },
    /// Another user owns the repository.
    #[error("{} belongs to another user, so git does not trust it", path.display())]
    Ownership {
        /// The folder to trust.
        path: PathBuf,
    },
    /// The repository has no work tree.
    #[error("{} is a bare repository, without files to read", path.display())]
    Bare {
        /// The repository's folder.
        path: PathBuf,
    },
    /// It stores its objects by another hash.
    #[error("the repository {} stores its objects by {hash}, and slipmark reads those stored by sha1", path.display())]
    ObjectFormat {
        /// The repository's folder.
        path: PathBuf,
        /// The hash, by git's name.
        hash: String,
    },
    /// It is laid out in a way that git calls an extension.
    #[error(
        "the repository {} {} (extensions.{extension}), which slipmark does not read",
        path.display(),
        if extension == "refstorage" { "keeps its branches and tags in another form than files" } else { "is laid out in a way of its own" }
    )]
    Extension {
        /// The repository's folder.
        path: PathBuf,
        /// The extension, by git's name.
        extension: String,
    },
    /// Nothing has this name.
    #[error("git knows no commit `{name}`")]
    UnknownRevision {
        /// What was asked for.
        name: String,
        /// Tags and branches with a name near to it, nearest first.
        near: Vec<String>,
    },
    /// The name fits more than one object.
    #[error("`{name}` fits more than one commit")]
    AmbiguousRevision {
        /// What was asked for.
        name: String,
    },
    /// The branch has no commit yet.
    #[error("the repository has no commit yet")]
    NoCommits,
    /// A tree or commit that git itself would not have written.
    #[error("git object {oid} is malformed ({detail})")]
    Malformed {
        /// The object.
        oid: Oid,
        /// What is wrong with it.
        detail: String,
    },
    /// More than is reasonable to read.
    #[error("{what} holds more than {limit} files")]
    TooMany {
        /// Where.
        what: String,
        /// The bound.
        limit: usize,
    },
    /// A blob larger than was allowed for.
    #[error("git blob {oid} has {bytes} bytes; at most {limit} are read")]
    TooLarge {
        /// The blob.
        oid: Oid,
        /// Its size in bytes.
        bytes: u64,
        /// The bound in bytes.
        limit: u64,
    },
    /// Anything else that the library reports.
    #[error("git could not {context}: {detail}")]
    Other {
        /// What was being done, as a verb phrase.
        context: String,
        /// The library's own words.
        detail: String,
    },
}

impl GitError {
    /// What to type.
    pub fn help(&self) -> String {
        match self {
            GitError::NotARepository { .. } => "git init".into(),
            GitError::Ownership { path } => {
                format!("if you trust it, type: git config --global --add safe.directory {}", shell_word(path))
            }
            GitError::Bare { .. } => "go to a clone of it that has a work tree: git clone".into(),
            // Commands that git itself offers: none turns such a repository into another in its place.
            GitError::ObjectFormat { path, .. } => format!(
                "copy it with its history, in which commits have other ids: git init --object-format=sha1 COPY && \
                 git -C {} fast-export --all --signed-tags=strip | git -C COPY fast-import && git -C COPY reset --hard",
                shell_word(path)
            ),
            GitError::Extension { path, extension } => {
                let files = if extension == "refstorage" { " --ref-format=files" } else { "" };
                format!("work in a clone without it: git clone{files} {} COPY", shell_word(path))
            }
            GitError::UnknownRevision { near, .. } => meant(near),
            GitError::AmbiguousRevision { .. } => "type more of it".into(),
            GitError::NoCommits => "git add --all && git commit".into(),
            GitError::TooMany { .. } | GitError::TooLarge { .. } => "keep large data in another repository".into(),
            // Forms of git's index that the library does not read, by the names that git gives them (gitformat-index(5)).
            GitError::Other { detail, .. } if detail.contains("'sdir'") => "git sparse-checkout disable".into(),
            GitError::Other { detail, .. } if detail.contains("'link'") => "git update-index --no-split-index".into(),
            GitError::Malformed { .. } | GitError::Other { .. } => "look at git status and git fsck".into(),
        }
    }

    /// Why the library cannot open a repository, in words that say what to do where that is known.
    pub(super) fn opening(git_dir: &Path, error: &git2::Error) -> GitError {
        // The library has one class for these, and tells which it was in its message alone.
        let path = git_dir.parent().filter(|_| git_dir.ends_with(".git")).unwrap_or(git_dir).to_path_buf();
        let message = error.message();
        let named = |start: &str| Some(message.strip_prefix(start)?.trim_matches('\'').to_string());
        if let Some(hash) = named("unknown object format ") {
            return GitError::ObjectFormat { path, hash };
        }
        if let Some(extension) = named("unsupported extension name extensions.") {
            return GitError::Extension { path, extension };
        }
        GitError::other(format!("open {}", git_dir.display()), error)
    }

    /// Wraps an error of the library; `context` completes "git could not ...".
    pub(super) fn other(context: impl Into<String>, error: &git2::Error) -> GitError {
        GitError::Other { context: context.into(), detail: error.message().to_owned() }
    }
}

/// For `map_err`.
pub(super) fn while_(context: &str) -> impl Fn(git2::Error) -> GitError + '_ {
    move |error| GitError::other(context, &error)
}

fn meant(near: &[String]) -> String {
    match near {
        [] => "git log --oneline and git tag list what there is".to_owned(),
        [one] => format!("did you mean `{one}`?"),
        several => {
            format!("did you mean one of {}?", several.iter().map(|n| format!("`{n}`")).collect::<Vec<_>>().join(", "))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn messages_say_what_to_type() {
        let error = GitError::Ownership { path: "/srv/our stand".into() };
        assert!(error.help().ends_with("git config --global --add safe.directory \"/srv/our stand\""), "{error}");
        let error = GitError::UnknownRevision { name: "TRR1".into(), near: vec!["TRR-1".into()] };
        assert_eq!(error.to_string(), "git knows no commit `TRR1`");
        assert_eq!(error.help(), "did you mean `TRR-1`?");
    }
}
