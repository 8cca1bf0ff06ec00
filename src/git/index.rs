//! The index: which files are tracked, and git's memory of what they looked like on disk.

use std::fs::Metadata;

use super::error::while_;
use super::{FileMode, GitError, Oid, Repo};
use crate::text::RepoPath;

const ASSUME_UNCHANGED: u16 = 1 << 15;
const SKIP_WORKTREE: u16 = 1 << 14;
const STAGE: u16 = 0b11 << 12;

/// What the file system says about a file, as far as git remembers it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FileStat {
    /// Size in bytes, modulo 2³² as in the index.
    pub size: u32,
    /// Last modification: seconds since 1970 (modulo 2³²) and nanoseconds.
    pub modified: (u32, u32),
    /// Last change of content or attributes, likewise; zero where the system has none.
    pub changed: (u32, u32),
    /// Inode, modulo 2³²; zero where the system has none.
    pub inode: u32,
    /// Whether the owner may execute it.
    pub executable: bool,
}

impl FileStat {
    /// From what the system reports.
    #[cfg(unix)]
    pub fn of(metadata: &Metadata) -> FileStat {
        use std::os::unix::fs::MetadataExt;
        FileStat {
            size: metadata.size() as u32,
            modified: (metadata.mtime() as u32, metadata.mtime_nsec() as u32),
            changed: (metadata.ctime() as u32, metadata.ctime_nsec() as u32),
            inode: metadata.ino() as u32,
            executable: metadata.mode() & 0o100 != 0,
        }
    }

    /// From what the system reports.
    #[cfg(not(unix))]
    pub fn of(metadata: &Metadata) -> FileStat {
        let since = metadata.modified().ok().and_then(|time| time.duration_since(std::time::UNIX_EPOCH).ok());
        let since = since.unwrap_or_default();
        FileStat {
            size: metadata.len() as u32,
            modified: (since.as_secs() as u32, since.subsec_nanos()),
            changed: (0, 0),
            inode: 0,
            executable: false,
        }
    }
}

/// One tracked path.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct IndexEntry {
    /// Relative to the project's folder; with replacement characters where the name is not UTF-8.
    pub path: RepoPath,
    /// What it is.
    pub mode: FileMode,
    /// The blob that was added; of an unmerged path, that of the first stage found.
    pub oid: Oid,
    /// Left out of the work tree on purpose (sparse checkout).
    pub skip_worktree: bool,
    /// The blob's id holds for the file on disk as long as its stat is this; `None` where git's memory cannot be
    /// relied on: it was told not to look, the path is unmerged, or the file was written as late as the index.
    pub stat: Option<FileStat>,
}

/// The index under the project's folder.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct IndexSnapshot {
    /// In path order, each path once.
    pub entries: Vec<IndexEntry>,
}

impl Repo {
    /// By what to tell whether the index is what it was, if there is one.
    pub fn index_stat(&self) -> Option<FileStat> {
        self.git_dir().join("index").metadata().ok().map(|metadata| FileStat::of(&metadata))
    }

    /// Reads the index afresh: the paths under the folder `prefix`, relative to it.
    ///
    /// # Errors
    /// If the index cannot be read (a format that the library does not know, for example).
    pub fn index(&self, prefix: &str) -> Result<IndexSnapshot, GitError> {
        let path = self.git_dir().join("index");
        // Taken before the index is read: if it is replaced meanwhile, newer entries count as unreliable, not older.
        let written = path.metadata().map(|metadata| FileStat::of(&metadata).modified).unwrap_or((0, 0));
        let index = git2::Index::open(&path).map_err(while_("read the index"))?;
        let prefix = if prefix.is_empty() { String::new() } else { format!("{prefix}/") };
        let mut entries = Vec::with_capacity(if prefix.is_empty() { index.len() } else { 0 });
        for entry in index.iter() {
            if let Some(rest) = entry.path.strip_prefix(prefix.as_bytes())
                && let Some(mode) = mode(entry.mode)
            {
                entries.push(convert(&entry, rest, mode, written));
            }
        }
        if !entries.is_sorted_by(|a, b| a.path < b.path) {
            entries.sort_by(|a, b| a.path.cmp(&b.path));
            // Stages of an unmerged path.
            entries.dedup_by(|later, earlier| later.path == earlier.path);
        }
        Ok(IndexSnapshot { entries })
    }

    /// Which of these files (relative to `prefix`) still differ from `commit` once line endings and other content
    /// conversions that the repository asks for are undone. Nothing is run for this: filter programs are left out.
    ///
    /// # Errors
    /// If the comparison fails.
    pub fn differing_after_conversion(
        &self,
        commit: Oid,
        prefix: &str,
        paths: &[RepoPath],
    ) -> Result<Vec<RepoPath>, GitError> {
        if paths.is_empty() {
            return Ok(Vec::new());
        }
        let context = "compare files with the commit";
        self.whole(commit)?;
        self.whole(self.root_tree(commit)?)?;
        self.with(|repo| {
            let tree = repo.find_commit(commit.0).and_then(|commit| commit.tree()).map_err(while_(context))?;
            let mut options = git2::DiffOptions::new();
            options.disable_pathspec_match(true).ignore_submodules(true).skip_binary_check(true);
            for path in paths {
                options.pathspec(super::tree::join(prefix, path.as_str()));
            }
            let diff = repo.diff_tree_to_workdir(Some(&tree), Some(&mut options)).map_err(while_(context))?;
            let prefix = if prefix.is_empty() { String::new() } else { format!("{prefix}/") };
            let mut differing: Vec<RepoPath> = diff
                .deltas()
                .filter_map(|delta| {
                    let path = std::str::from_utf8(delta.new_file().path_bytes()?).ok()?;
                    Some(RepoPath::new(path.strip_prefix(&prefix)?))
                })
                .collect();
            differing.sort();
            differing.dedup();
            Ok(differing)
        })
    }
}

fn mode(mode: u32) -> Option<FileMode> {
    match mode & 0o170_000 {
        0o120_000 => Some(FileMode::Symlink),
        0o160_000 => Some(FileMode::Submodule),
        0o100_000 if mode & 0o100 != 0 => Some(FileMode::Executable),
        0o100_000 => Some(FileMode::File),
        _ => None,
    }
}

fn convert(entry: &git2::IndexEntry, path: &[u8], mode: FileMode, written: (u32, u32)) -> IndexEntry {
    let seconds = |time: git2::IndexTime| (time.seconds() as u32, time.nanoseconds());
    let modified = seconds(entry.mtime);
    let skip_worktree = entry.flags_extended & SKIP_WORKTREE != 0;
    // A file written as late as the index may have been written again within the same tick of the clock.
    let unreliable = skip_worktree
        || entry.flags & (ASSUME_UNCHANGED | STAGE) != 0
        || modified >= written
        || entry.mtime.seconds() == 0;
    let stat = FileStat {
        size: entry.file_size,
        modified,
        changed: seconds(entry.ctime),
        inode: entry.ino,
        executable: mode == FileMode::Executable,
    };
    IndexEntry {
        path: RepoPath::new(String::from_utf8_lossy(path)),
        mode,
        oid: Oid(entry.id),
        skip_worktree,
        stat: (!unreliable).then_some(stat),
    }
}
