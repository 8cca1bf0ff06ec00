//! What reading commits has taught, handed out to be kept between runs, and taken back.
//!
//! All of it is named by the ids of commits and trees, which stand for what they hold: it is true for as long as there are such.
//! Where history was cut off a commit's parents may change, when more of it is fetched: whoever keeps this must ask
//! [`Repo::is_cut_off`] first.

use std::any::Any;
use std::sync::{Arc, PoisonError};

use super::compare::FileChange;
use super::walk::Header;
use super::{GitError, Oid, Repo};

/// The files in which two trees differ.
pub type Changed = Arc<[FileChange]>;

/// What is known of a commit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KnownCommit {
    /// Its parents, the first one first.
    pub parents: Vec<Oid>,
    /// Its top tree.
    pub top: Oid,
    /// The tree of the project's folder, if somebody asked for it; none in it: the commit has no such folder.
    pub folder: Option<Option<Oid>>,
}

impl Repo {
    /// The commits of which something is known, in order.
    pub fn known_commits(&self) -> Vec<Oid> {
        let mut all = self.known.headers.keys();
        all.sort_unstable();
        all
    }

    /// How many commits, and how many pairs of trees, something is known of.
    pub fn known_counts(&self) -> (usize, usize) {
        (self.known.headers.count(), self.known.differences.count())
    }

    /// What is known of a commit; none also of one that is malformed.
    pub fn known_commit(&self, oid: Oid, folder: &str) -> Option<KnownCommit> {
        let header = self.known.headers.get(&oid)?;
        let top = header.tree?;
        Some(KnownCommit { parents: header.parents.clone(), top, folder: self.known_folder(top, folder) })
    }

    /// Takes in what an earlier run knew of commits.
    pub fn know_commits(&self, folder: &str, commits: Vec<(Oid, KnownCommit)>) {
        for (_, commit) in &commits {
            if let Some(tree) = commit.folder {
                self.know_folder(commit.top, folder, tree);
            }
        }
        let header = |commit: KnownCommit| Arc::new(Header { parents: commit.parents, tree: Some(commit.top) });
        self.known.headers.put_all(commits.into_iter().map(|(oid, commit)| (oid, header(commit), 0)));
    }

    /// The files under `folder` in which commits differ, for each pair of an earlier and a later one; none where they were not compared.
    pub fn known_changes(&self, folder: &str, pairs: impl Iterator<Item = (Oid, Oid)>) -> Vec<Option<Changed>> {
        let (headers, differences) = (self.known.headers.all(), self.known.differences.all());
        let tree = |commit: Oid| self.known_folder(headers.get(&commit)?.tree?, &self.folder_in(commit, folder));
        let one = |(old, new): (Oid, Oid)| match (tree(old)?, tree(new)?) {
            (old, new) if old == new => Some(Arc::from([])),
            (old, new) => differences.get(&old.zip(new)?).cloned(),
        };
        pairs.map(one).collect()
    }

    /// The files in which two trees differ, if they were compared.
    pub fn known_difference(&self, trees: (Oid, Oid)) -> Option<Changed> {
        self.known.differences.get(&trees)
    }

    /// Takes in the files in which two trees differ, of many pairs of trees.
    pub fn know_differences(&self, all: Vec<((Oid, Oid), Changed)>) {
        let sized = all.into_iter().map(|(trees, changes)| {
            let bytes = size_of_all(&changes);
            (trees, changes, bytes)
        });
        self.known.differences.put_all(sized);
    }

    /// Remembers the files in which two trees differ.
    pub(super) fn know_difference(&self, trees: (Oid, Oid), changes: Changed) {
        let bytes = size_of_all(&changes);
        self.known.differences.put(trees, changes, bytes);
    }

    /// What a reader remembers of this repository, one of each type, shared by all that have it open.
    pub fn aside<T: Any + Send + Sync + Default>(&self) -> Arc<T> {
        self.known.aside()
    }

    /// As [`Repo::project_tree`], and remembered.
    pub(super) fn folder_tree(&self, commit: Oid, folder: &str) -> Result<Option<Oid>, GitError> {
        let (top, folder) = (self.root_tree(commit)?, self.folder_in(commit, folder));
        if let Some(known) = self.known_folder(top, &folder) {
            return Ok(known);
        }
        let found = self.tree_at(commit, &folder)?;
        self.know_folder(top, &folder, found);
        Ok(found)
    }

    fn known_folder(&self, top: Oid, folder: &str) -> Option<Option<Oid>> {
        if folder.is_empty() {
            return Some(Some(top));
        }
        self.known.folders.read().unwrap_or_else(PoisonError::into_inner).get(folder)?.get(&top).copied()
    }

    fn know_folder(&self, top: Oid, folder: &str, tree: Option<Oid>) {
        if folder.is_empty() {
            return;
        }
        let mut folders = self.known.folders.write().unwrap_or_else(PoisonError::into_inner);
        match folders.get_mut(folder) {
            Some(own) => own.insert(top, tree),
            None => folders.entry(folder.to_string()).or_default().insert(top, tree),
        };
    }
}

/// How many bytes these take.
fn size_of_all(changes: &[FileChange]) -> usize {
    changes.iter().map(|change| size_of::<FileChange>() + change.path.as_str().len()).sum()
}
