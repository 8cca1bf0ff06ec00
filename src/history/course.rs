//! What one thing was after each commit, and what each commit did to it.
//!
//! Where it stands is looked up in the commit itself, in every file that ever held it: a merge may have it from either line
//! of work, or elsewhere.

use std::collections::BTreeSet;

use foldhash::{HashMap, HashMapExt};

use crate::git::{CommitInfo, GitError, Oid};
use crate::text::RepoPath;

use super::blobs::{Blobs, Placed};

/// One thing, from commit to commit.
pub(super) struct Course<'i> {
    id: &'i str,
    /// Every file that ever held it.
    paths: BTreeSet<RepoPath>,
    /// What it was after each commit, as a position in `states`: most commits leave it as it was.
    after: HashMap<Oid, usize>,
    /// The first is that it was never there.
    states: Vec<After>,
}

/// What the thing was after a commit.
#[derive(Clone, Default)]
struct After {
    /// The last version that could be read; none: it was not there.
    last: Option<Placed>,
    /// Where it stood.
    stood: Stood,
}

/// Where a thing stood.
#[derive(Clone, Default, PartialEq, Eq)]
enum Stood {
    #[default]
    Nowhere,
    /// In a file with this blob.
    In(RepoPath, Oid),
    /// As far as can be told in this file, which cannot be read.
    Hidden(RepoPath, Oid),
}

/// What a commit did to a thing.
pub(super) struct Did {
    /// The parent that the thing is compared with.
    pub(super) parent: Option<Oid>,
    /// The last version before the commit that could be read.
    pub(super) old: Option<Placed>,
    /// What it is after the commit.
    pub(super) new: Option<Placed>,
    /// Why not all of it can be read after the commit.
    pub(super) unreadable: Option<String>,
    /// Whether the commit touched it itself.
    pub(super) itself: bool,
}

impl<'i> Course<'i> {
    /// A thing that these files held.
    pub(super) fn new(id: &'i str, paths: BTreeSet<RepoPath>) -> Course<'i> {
        Course { id, paths, after: HashMap::new(), states: vec![After::default()] }
    }

    /// The files.
    pub(super) fn paths(&self) -> &BTreeSet<RepoPath> {
        &self.paths
    }

    /// Passes a commit that has none of the files otherwise than any of its parents.
    pub(super) fn pass(&mut self, commit: Oid, parents: &[Oid]) {
        let after = self.position(parents.first());
        self.after.insert(commit, after);
    }

    /// Takes in what a commit did; of a merge `from` is the parent that the thing is seen from, if it changed it itself.
    ///
    /// # Errors
    /// If git cannot answer.
    pub(super) fn take(
        &mut self,
        blobs: &mut Blobs<'_>,
        commit: &CommitInfo,
        from: Option<usize>,
    ) -> Result<Did, GitError> {
        let sides: Vec<After> = commit.parents.iter().map(|parent| self.before(Some(parent))).collect();
        let (stood, new, unreadable) = self.look(blobs, commit.oid, &sides)?;
        let is_merge = sides.len() > 1;
        let seen = sides.get(from.unwrap_or(0)).cloned().unwrap_or_default();
        let itself = match (is_merge, from) {
            (true, None) => false,
            (true, Some(_)) => sides.iter().all(|side| side.stood != stood) || !matches!(stood, Stood::Hidden(..)),
            (false, _) => seen.stood != stood,
        };
        let last = match (&stood, &new) {
            (Stood::Nowhere, _) => None,
            (Stood::In(..), Some(placed)) if placed.file.trouble.is_none() => new.clone(),
            // What comes after an unreadable version is compared with the last one that could be read.
            _ => sides.iter().find(|side| side.stood == stood).unwrap_or(&seen).last.clone(),
        };
        self.after.insert(commit.oid, self.states.len());
        self.states.push(After { last, stood });
        // Only parameters can make anything else of what a commit did not touch.
        let old = if itself { seen.last } else { new.clone() };
        Ok(Did { parent: commit.parents.get(from.unwrap_or(0)).copied(), old, new, unreadable, itself })
    }

    fn before(&self, parent: Option<&Oid>) -> After {
        self.states.get(self.position(parent)).cloned().unwrap_or_default()
    }

    fn position(&self, parent: Option<&Oid>) -> usize {
        parent.and_then(|parent| self.after.get(parent)).copied().unwrap_or_default()
    }

    /// Where it stands after a commit, what it is, and why not all of that can be read.
    fn look(
        &self,
        blobs: &mut Blobs<'_>,
        commit: Oid,
        sides: &[After],
    ) -> Result<(Stood, Option<Placed>, Option<String>), GitError> {
        let mut hidden = None;
        for path in &self.paths {
            let Some(blob) = blobs.standing(commit, path)? else { continue };
            let file = blobs.file(blob);
            if file.holds(self.id) {
                let trouble = file.trouble.clone();
                return Ok((Stood::In(path.clone(), blob), Some(Placed { path: path.clone(), file }), trouble));
            }
            let was_here = sides.iter().filter_map(|side| side.last.as_ref()).any(|last| last.path == *path);
            if hidden.is_none() && (was_here || file.may_hold(self.id)) {
                hidden = file.trouble.clone().map(|why| (Stood::Hidden(path.clone(), blob), why));
            }
        }
        Ok(match hidden {
            Some((stood, why)) => (stood, None, Some(why)),
            None => (Stood::Nowhere, None, None),
        })
    }
}
