//! Texts of an earlier reading, for whoever reads the same files again and again.
//!
//! A file is taken to be as it was by the signs that [`Seen`](crate::source::Seen) goes by, and only if it was old enough when it was
//! read for a later change to be certain to show.

use std::path::PathBuf;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use crate::git::{FileStat, GitError, IndexSnapshot, Listings, Repo};
use crate::source::Content;
use crate::source::rules::Body;
use crate::source::seen::SETTLED;
use crate::text::RepoPath;

use super::reading::OnDisk;

/// What each file held, and its signs when it was read; in the order of paths.
#[derive(Debug, Default)]
pub(super) struct Known(Vec<(RepoPath, FileStat, Content)>);

impl Known {
    /// What a file held; it is likely to be near a position.
    pub(super) fn get(&self, path: &RepoPath, near: usize) -> Option<(FileStat, &Content)> {
        let guess = self.0.get(near).filter(|(own, ..)| own == path);
        let search = || self.0.get(self.0.binary_search_by(|(own, ..)| own.cmp(path)).ok()?);
        guess.or_else(search).map(|(_, stat, content)| (*stat, content))
    }
}

/// Texts that one reading leaves for the next, and what git told it.
#[derive(Clone, Debug, Default)]
pub struct Texts(Arc<Mutex<Inner>>);

#[derive(Debug, Default)]
struct Inner {
    known: Arc<Known>,
    index: Option<Index>,
    /// By their ids, so that it does not matter when they were made.
    listings: Listings,
    /// When the reading that is under way began, in seconds since 1970.
    begun: u64,
}

/// An index that was read.
#[derive(Debug)]
struct Index {
    git_dir: PathBuf,
    prefix: String,
    stat: FileStat,
    entries: Arc<IndexSnapshot>,
}

impl Texts {
    pub(super) fn begin(&self, now: u64, repo: &Repo) {
        let mut inner = self.lock();
        inner.begun = now;
        repo.recall(inner.listings.clone());
    }

    pub(super) fn known(&self) -> Arc<Known> {
        self.lock().known.clone()
    }

    /// The index as it was read before, if its file is as it was.
    ///
    /// # Errors
    /// If it cannot be read.
    pub(super) fn index(&self, repo: &Repo, prefix: &str) -> Result<Arc<IndexSnapshot>, GitError> {
        let stat = repo.index_stat();
        let (git_dir, begun) = (repo.git_dir(), self.lock().begun);
        let same = |own: &&Index| own.git_dir == git_dir && own.prefix == prefix && Some(own.stat) == stat;
        if let Some(own) = self.lock().index.as_ref().filter(same) {
            return Ok(own.entries.clone());
        }
        let entries = Arc::new(repo.index(prefix)?);
        self.lock().index = stat.filter(|stat| is_settled(*stat, begun)).map(|stat| Index {
            git_dir: git_dir.to_owned(),
            prefix: prefix.to_string(),
            stat,
            entries: entries.clone(),
        });
        Ok(entries)
    }

    /// Keeps what was read, but for what was changed so late that it could change again without a sign.
    pub(super) fn keep(&self, on_disk: &[OnDisk]) {
        let begun = self.lock().begun;
        let own = |file: &OnDisk| match (&file.body, file.stat) {
            (Ok(Body::Read(content @ Content::Text(_))), Some(stat)) if is_settled(stat, begun) => {
                Some((file.path.clone(), stat, content.clone()))
            }
            _ => None,
        };
        let mut own: Vec<_> = on_disk.iter().filter_map(own).collect();
        if !own.is_sorted_by(|(a, ..), (b, ..)| a < b) {
            own.sort_by(|(a, ..), (b, ..)| a.cmp(b));
        }
        self.lock().known = Arc::new(Known(own));
    }

    /// Keeps what git listed.
    pub(super) fn keep_listings(&self, repo: &Repo) {
        self.lock().listings = repo.listings();
    }

    fn lock(&self) -> MutexGuard<'_, Inner> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

fn is_settled(stat: FileStat, begun: u64) -> bool {
    let changed = u64::from(stat.changed.0);
    changed != 0 && changed + SETTLED <= begun
}

#[cfg(test)]
#[allow(clippy::disallowed_methods, reason = "a test writes files")]
mod tests {
    use super::*;
    use crate::source::{Limits, Source, WorkTree};

    fn texts_of(tree: &WorkTree) -> Vec<String> {
        let snapshot = tree.snapshot(&Limits::default()).unwrap();
        snapshot.files.iter().filter_map(|file| file.content.text().map(ToString::to_string)).collect()
    }

    #[test]
    fn a_text_is_taken_over_only_while_nothing_was_written() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("demo");
        crate::example::build(&path).unwrap();
        let (open, texts) = (|| WorkTree::open(&path).unwrap(), Texts::default());
        let later = 1 << 40;
        let first = texts_of(&open().remembering(&texts, later));
        assert_eq!(texts.known().0.len(), first.len());
        assert_eq!(texts_of(&open().remembering(&texts, later)), first);
        // Of the same size; only the system's own signs tell.
        let file = path.join("requirements/actuator/ACT-010.md");
        let text = std::fs::read_to_string(&file).unwrap();
        std::fs::write(&file, text.replace("Cold torque margin", "Cold torque spared")).unwrap();
        let other = texts_of(&open().remembering(&texts, later));
        assert_ne!(other, first);
        assert_eq!(other, texts_of(&open()));
        // What was written as late as it was read is not kept.
        texts_of(&open().remembering(&texts, 0));
        assert!(texts.known().0.is_empty());
    }
}
