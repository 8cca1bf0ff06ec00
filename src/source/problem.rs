//! What would go unseen if nobody said so.

use std::fmt;

use super::{INSTRUMENTS_FILE, PROJECT_FILE};
use crate::text::RepoPath;

/// A part of the project that is not in the snapshot although it may matter.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum SourceProblem {
    /// An untracked file that git ignores and that begins with `+++`, or an ignored settings file.
    IgnoredProjectFile {
        /// The file.
        path: RepoPath,
    },
    /// A file that begins as one of the project's and whose name does not end in `.md`.
    Misnamed {
        /// The file.
        path: RepoPath,
    },
    /// A list of instruments with their calibrations below the top of the project.
    InstrumentsElsewhere {
        /// The file.
        path: RepoPath,
    },
    /// Ignored folders hold more than is looked through.
    TooManyIgnored {
        /// The ignored folder at which looking ended.
        path: RepoPath,
        /// How many entries were looked at.
        looked_at: usize,
    },
    /// Tracked, but left out of the work tree by sparse checkout.
    SparseMissing {
        /// The file.
        path: RepoPath,
    },
    /// A symlink to a folder.
    SymlinkedFolder {
        /// The symlink.
        path: RepoPath,
    },
    /// A symlink that is named like, or leads to, a Markdown file.
    SymlinkedMarkdown {
        /// The symlink.
        path: RepoPath,
    },
    /// A project inside the project that the project file does not list.
    NestedProject {
        /// The nested project's folder.
        path: RepoPath,
    },
    /// A submodule that the project file does not list.
    Submodule {
        /// The submodule's folder.
        path: RepoPath,
    },
    /// Another repository inside the project, of which git sees nothing.
    NestedRepository {
        /// Its folder.
        path: RepoPath,
    },
    /// A folder that cannot be listed.
    UnreadableFolder {
        /// The folder; empty for the project's own.
        path: RepoPath,
        /// In the system's words.
        reason: String,
    },
    /// A file or folder whose name is not UTF-8.
    PathNotUtf8 {
        /// With replacement characters.
        path: RepoPath,
    },
    /// Two paths that are one on systems that do not tell case apart.
    CaseClash {
        /// The later in path order.
        path: RepoPath,
        /// The earlier.
        other: RepoPath,
    },
    /// More files than are read.
    TooManyFiles {
        /// The last path that was read.
        path: RepoPath,
        /// The bound.
        limit: usize,
    },
    /// Folders deeper than are read.
    TooDeep {
        /// The folder that was not entered.
        path: RepoPath,
        /// The bound.
        limit: usize,
    },
}

impl SourceProblem {
    /// Where it is.
    pub fn path(&self) -> &RepoPath {
        use SourceProblem::*;
        match self {
            IgnoredProjectFile { path }
            | Misnamed { path }
            | InstrumentsElsewhere { path }
            | TooManyIgnored { path, .. }
            | SparseMissing { path }
            | SymlinkedFolder { path }
            | SymlinkedMarkdown { path }
            | NestedProject { path }
            | Submodule { path }
            | NestedRepository { path }
            | UnreadableFolder { path, .. }
            | PathNotUtf8 { path }
            | CaseClash { path, .. }
            | TooManyFiles { path, .. }
            | TooDeep { path, .. } => path,
        }
    }

    /// A short name in kebab case, after the fault.
    pub fn code(&self) -> &'static str {
        use SourceProblem::*;
        match self {
            IgnoredProjectFile { .. } => "ignored-project-file",
            Misnamed { .. } => "not-named-md",
            InstrumentsElsewhere { .. } => "instruments-elsewhere",
            TooManyIgnored { .. } => "too-many-ignored",
            SparseMissing { .. } => "sparse-missing",
            SymlinkedFolder { .. } => "symlinked-folder",
            SymlinkedMarkdown { .. } => "symlinked-markdown",
            NestedProject { .. } => "nested-project",
            Submodule { .. } => "submodule",
            NestedRepository { .. } => "nested-repository",
            UnreadableFolder { .. } => "unreadable-folder",
            PathNotUtf8 { .. } => "path-not-utf8",
            CaseClash { .. } => "case-clash",
            TooManyFiles { .. } => "too-many-files",
            TooDeep { .. } => "too-deep",
        }
    }

    /// What to do about it.
    pub fn help(&self) -> String {
        use SourceProblem::*;
        match self {
            IgnoredProjectFile { path } => {
                format!("if it belongs to the project, type: git add --force {path}; if not, remove it")
            }
            Misnamed { .. } => {
                "rename it so that its name ends in .md; or, if it is none of the project's, take its `kind` line out"
                    .into()
            }
            InstrumentsElsewhere { .. } => {
                format!("put what it lists into {INSTRUMENTS_FILE} at the top of the project, and remove it")
            }
            TooManyIgnored { .. } => {
                "move the folder out of the project, or look through it yourself for forgotten records".into()
            }
            SparseMissing { .. } => "bring the files back; type: git sparse-checkout disable".into(),
            SymlinkedFolder { .. } => "put the files themselves there: symlinks are not followed".into(),
            SymlinkedMarkdown { .. } => "put the file itself there: symlinks are not followed".into(),
            NestedProject { path } | Submodule { path } | NestedRepository { path } => {
                format!(
                    "if it is meant to be there and its files are not this project's, list it in {PROJECT_FILE}: projects = [\"{path}\"]"
                )
            }
            UnreadableFolder { .. } => "give yourself permission to read it".into(),
            PathNotUtf8 { .. } => "rename it in UTF-8".into(),
            CaseClash { .. } => "rename one of them".into(),
            TooManyFiles { .. } => "make the project's folder smaller; large data can lie beside it".into(),
            TooDeep { .. } => "make the folders flatter".into(),
        }
    }
}

impl fmt::Display for SourceProblem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        use SourceProblem::*;
        match self {
            IgnoredProjectFile { path } => {
                write!(f, "{path} looks like one of the project's files, but git ignores it")
            }
            Misnamed { path } => {
                write!(
                    f,
                    "{path} begins as a file of the project does, but its name does not end in .md: nothing in it was read"
                )
            }
            InstrumentsElsewhere { path } => {
                write!(f, "{path} lists calibrations, and only {INSTRUMENTS_FILE} at the top of the project is read")
            }
            TooManyIgnored { path, looked_at } => {
                write!(
                    f,
                    "ignored folders hold more than the {looked_at} entries that were looked through, up to {path}"
                )
            }
            SparseMissing { path } => write!(f, "{path} is tracked, but left out by sparse checkout"),
            SymlinkedFolder { path } => write!(f, "{path} is a symlink to a folder, whose files are not read"),
            SymlinkedMarkdown { path } => write!(f, "{path} is a symlink to a Markdown file, which is not read"),
            NestedProject { path } => write!(f, "{path} is a project of its own, whose files are not read"),
            Submodule { path } => write!(f, "{path} is a submodule, whose files are not read"),
            NestedRepository { path } => write!(f, "{path} is a repository of its own, whose files git does not see"),
            UnreadableFolder { path, reason } if path.as_str().is_empty() => {
                write!(f, "the project's folder cannot be listed: {reason}")
            }
            UnreadableFolder { path, reason } => write!(f, "{path} cannot be listed: {reason}"),
            PathNotUtf8 { path } => write!(f, "the name {path} is not UTF-8, and is not read"),
            CaseClash { path, other } => {
                write!(f, "{path} and {other} differ only in case, and are one file on some systems")
            }
            TooManyFiles { path, limit } => write!(f, "more than {limit} files; those after {path} are not read"),
            TooDeep { path, limit } => write!(f, "{path} lies more than {limit} folders deep, and is not read"),
        }
    }
}
