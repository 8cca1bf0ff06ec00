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

    /// The same from one commit to another, without a copy of what is known.
    ///
    /// # Errors
    /// If a commit or tree is missing or malformed.
    pub fn changes_between(&self, old: Oid, new: Oid, prefix: &str) -> Result<Arc<[FileChange]>, GitError> {
        self.difference(self.folder_tree(old, prefix)?, self.folder_tree(new, prefix)?)
    }

    /// The same between two folders, each of a commit: what a project is that was somewhere else then.
    ///
    /// # Errors
    /// If a commit or tree is missing or malformed.
    pub fn changed_between(&self, old: Option<(Oid, &str)>, new: (Oid, &str)) -> Result<Vec<FileChange>, GitError> {
        let old = match old {
            Some((commit, folder)) => self.folder_tree(commit, folder)?,
            None => None,
        };
        Ok(self.difference(old, self.folder_tree(new.0, new.1)?)?.to_vec())
    }

    /// The files in which two trees differ, in path order.
    fn difference(&self, old: Option<Oid>, new: Option<Oid>) -> Result<Arc<[FileChange]>, GitError> {
        if old == new {
            return Ok(Arc::from([]));
        }
        let both = old.zip(new);
        if let Some(known) = both.and_then(|both| self.known.differences.get(&both)) {
            return Ok(known);
        }
        let mut changes = Vec::new();
        self.compare_trees(old, new, &mut changes)?;
        changes.sort_by(|a, b| a.path.cmp(&b.path));
        let changes: Arc<[FileChange]> = changes.into();
        if let Some(both) = both {
            self.know_difference(both, Arc::clone(&changes));
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
///
/// Neighbouring commits have nearly all of a tree in common: what is the same at the beginning and at the end is not merged.
fn pairs<'a>(old: Option<&'a RawTree>, new: Option<&'a RawTree>) -> Result<Vec<Pair<'a>>, GitError> {
    let at = |tree: Option<&'a RawTree>, at| tree.map_or(Ok(None), |tree| tree.entry(at));
    let ends_alike = |left: usize, right: usize| match (old, new) {
        (Some(old), Some(new)) => old.rest(left) == new.rest(right),
        _ => false,
    };
    let start = match (old, new) {
        (Some(old), Some(new)) => old.alike(new)?,
        _ => 0,
    };
    let mut found = Vec::new();
    let (mut left, mut right) = (at(old, start)?, at(new, start)?);
    loop {
        let order = match (&left, &right) {
            (None, None) => return Ok(found),
            (Some(_), None) => Ordering::Less,
            (None, Some(_)) => Ordering::Greater,
            (Some(a), Some(b)) => a.order(b),
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
            let ends = left.as_ref().zip(right.as_ref()).map(|(left, right)| (left.start, right.start));
            found.push((next_left, next_right));
            if ends.is_some_and(|(left, right)| ends_alike(left, right)) {
                return Ok(found);
            }
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

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use std::collections::BTreeMap;

    use super::*;

    /// A tree of git's: names with what each is, in git's order.
    fn tree(entries: &BTreeMap<String, (bool, u8)>) -> RawTree {
        let mut sorted: Vec<_> = entries.iter().collect();
        sorted.sort_by_key(|(name, (folder, _))| if *folder { format!("{name}/") } else { (*name).clone() });
        let mut bytes = Vec::new();
        for (name, (folder, id)) in sorted {
            bytes.extend_from_slice(if *folder { b"40000 " } else { b"100644 " });
            bytes.extend_from_slice(name.as_bytes());
            bytes.push(0);
            bytes.extend_from_slice(&[*id; 20]);
        }
        RawTree::of(&bytes)
    }

    fn names() -> impl Strategy<Value = BTreeMap<String, (bool, u8)>> {
        prop::collection::btree_map("[a-c][.0a-c-]{0,2}", (any::<bool>(), 0u8..3), 0..14)
    }

    proptest! {
        /// What two trees begin and end with alike is passed over, and nothing else is.
        #[test]
        fn every_entry_that_differs_is_found(old in names(), changed in names(), gone in any::<u16>()) {
            let mut new = old.clone();
            new.retain(|name, _| gone.trailing_zeros() < 2 || !name.ends_with('a'));
            new.extend(changed.into_iter().take(2));
            let (before, after) = (tree(&old), tree(&new));
            let mut wanted: Vec<(String, bool, bool)> = Vec::new();
            for (name, was) in &old {
                match new.get(name) {
                    Some(is) if is == was => {}
                    // A file that became a folder, or the other way about, is two pairs.
                    Some(is) if is.0 == was.0 => wanted.push((name.clone(), true, true)),
                    Some(_) => wanted.extend([(name.clone(), true, false), (name.clone(), false, true)]),
                    None => wanted.push((name.clone(), true, false)),
                }
            }
            wanted.extend(new.keys().filter(|name| !old.contains_key(*name)).map(|name| (name.clone(), false, true)));
            let found = pairs(Some(&before), Some(&after)).expect("trees that can be read");
            let mut found: Vec<(String, bool, bool)> = found
                .iter()
                .map(|(old, new)| {
                    let name = old.as_ref().or(new.as_ref()).map(|entry| String::from_utf8_lossy(entry.name).into_owned());
                    (name.unwrap_or_default(), old.is_some(), new.is_some())
                })
                .collect();
            wanted.sort();
            found.sort();
            prop_assert_eq!(found, wanted);
        }
    }
}
