//! Which files differ between two commits.

use std::borrow::Cow;
use std::cmp::Ordering;
use std::sync::Arc;

use super::tree::{RawEntry, RawTree};
use super::{FileMode, GitError, Oid, Repo};
use crate::text::RepoPath;

/// A path whose content, mode or existence differs between two commits.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FileChange {
    /// Relative to the project's folder; with replacement characters where the name is not UTF-8.
    pub path: RepoPath,
    /// Whether `path` is exactly what the trees say.
    pub utf8: bool,
    /// What it was; `None` if it was added.
    pub old: Option<(FileMode, Oid)>,
    /// What it is; `None` if it was removed.
    pub new: Option<(FileMode, Oid)>,
}

impl FileChange {
    /// The blob before; `None` if added, or if it was no blob (a submodule).
    pub fn old_blob(&self) -> Option<Oid> {
        blob(self.old)
    }

    /// The blob after; `None` if removed, or if it is no blob (a submodule).
    pub fn new_blob(&self) -> Option<Oid> {
        blob(self.new)
    }
}

fn blob(side: Option<(FileMode, Oid)>) -> Option<Oid> {
    side.filter(|(mode, _)| *mode != FileMode::Submodule).map(|(_, oid)| oid)
}

impl Repo {
    /// The files under `prefix` that differ from commit `old` (`None`: nothing) to commit `new`, in path order.
    ///
    /// Names are not followed: a renamed file is one removed and one added with the same blob.
    ///
    /// # Errors
    /// If a commit or tree is missing or malformed.
    pub fn changed_files(&self, old: Option<Oid>, new: Oid, prefix: &str) -> Result<Vec<FileChange>, GitError> {
        self.changed_between(old.map(|old| (old, prefix)), (new, prefix))
    }

    /// The same between two folders, each of a commit: what a project is that was somewhere else then.
    ///
    /// # Errors
    /// If a commit or tree is missing or malformed.
    pub fn changed_between(&self, old: Option<(Oid, &str)>, new: (Oid, &str)) -> Result<Vec<FileChange>, GitError> {
        let old = match old {
            Some((commit, folder)) => self.project_tree(commit, folder)?,
            None => None,
        };
        let new = self.project_tree(new.0, new.1)?;
        let mut changes = Vec::new();
        if old != new {
            self.compare_trees(old, new, &mut changes)?;
            changes.sort_by(|a, b| a.path.cmp(&b.path));
        }
        Ok(changes)
    }

    fn compare_trees(&self, old: Option<Oid>, new: Option<Oid>, changes: &mut Vec<FileChange>) -> Result<(), GitError> {
        // Pairs of folders that differ, with their path; not recursive, as a repository may be hostile.
        let mut waiting = vec![(old, new, String::new(), true, 0)];
        while let Some((old, new, path, above, depth)) = waiting.pop() {
            if let Some(oid) = old.or(new) {
                self.check_depth(oid, depth)?;
            }
            let (old, new) = (self.tree_if_any(old)?, self.tree_if_any(new)?);
            for (old, new) in pairs(old.as_deref(), new.as_deref())? {
                if changes.len() + waiting.len() > 1_000_000 {
                    return Err(GitError::TooMany { what: "the difference of two commits".into(), limit: 1_000_000 });
                }
                let Some(name) = old.as_ref().or(new.as_ref()).map(|entry| String::from_utf8_lossy(entry.name)) else {
                    continue;
                };
                let utf8 = above && matches!(name, Cow::Borrowed(_));
                let path = if path.is_empty() { name.into_owned() } else { format!("{path}/{name}") };
                let (old_folder, old_file) = split(old);
                let (new_folder, new_file) = split(new);
                if old_folder != new_folder {
                    waiting.push((old_folder, new_folder, path.clone(), utf8, depth + 1));
                }
                if old_file != new_file {
                    changes.push(FileChange { path: RepoPath::new(path), utf8, old: old_file, new: new_file });
                }
            }
        }
        Ok(())
    }

    fn tree_if_any(&self, oid: Option<Oid>) -> Result<Option<Arc<RawTree>>, GitError> {
        oid.map(|oid| self.tree(oid)).transpose()
    }
}

type Pair<'a> = (Option<RawEntry<'a>>, Option<RawEntry<'a>>);

/// Merges two sorted trees, keeping entries that differ. A file that became a folder is two pairs.
fn pairs<'a>(old: Option<&'a RawTree>, new: Option<&'a RawTree>) -> Result<Vec<Pair<'a>>, GitError> {
    let at = |tree: Option<&'a RawTree>, at| tree.map_or(Ok(None), |tree| tree.entry(at));
    let mut found = Vec::new();
    let (mut left, mut right) = (at(old, 0)?, at(new, 0)?);
    loop {
        let order = match (&left, &right) {
            (None, None) => return Ok(found),
            (Some(_), None) => Ordering::Less,
            (None, Some(_)) => Ordering::Greater,
            (Some(a), Some(b)) => a.key().cmp(b.key()),
        };
        let next_left = if order == Ordering::Greater { None } else { left.take() };
        let next_right = if order == Ordering::Less { None } else { right.take() };
        if let Some(entry) = &next_left {
            left = at(old, entry.end)?;
        }
        if let Some(entry) = &next_right {
            right = at(new, entry.end)?;
        }
        let same = matches!((&next_left, &next_right), (Some(a), Some(b)) if a.oid == b.oid && a.mode == b.mode);
        if !same {
            found.push((next_left, next_right));
        }
    }
}

/// The folder and the file that an entry may be.
fn split(entry: Option<RawEntry<'_>>) -> (Option<Oid>, Option<(FileMode, Oid)>) {
    match entry {
        None => (None, None),
        Some(entry) if entry.is_folder() => (Some(entry.oid), None),
        Some(entry) => (None, Some((entry.mode, entry.oid))),
    }
}
