//! Where things stood in the course of history, and which commits touched those places.
//!
//! A file that holds a thing at some commit either holds it at the newest one, or some commit has it otherwise than one of
//! its parents. So the files of a thing are those whose content was lost on the way from a parent to a commit, merges from
//! each of theirs, and the one that it has now.

use std::collections::BTreeSet;
use std::rc::Rc;

use foldhash::{HashMap, HashMapExt};

use crate::git::{GitError, Oid, Repo};
use crate::text::RepoPath;

use super::blobs::Blobs;
use super::own::is_ours;
use super::trail::{Node, side_by_side};

/// Every commit up to one, parents first, with the files in which it differs from any of its parents.
pub(super) struct Places {
    /// The commits.
    pub(super) commits: Rc<[Node]>,
    /// Commits by position, for each file.
    touched: HashMap<RepoPath, Vec<usize>>,
    /// What stood in a file before a commit had it otherwise.
    lost: Vec<(RepoPath, Oid)>,
    /// The same files by the ids of what they held, where many are asked about.
    by_id: Option<HashMap<String, Vec<RepoPath>>>,
}

impl Places {
    /// Reads in which files the commits up to `end` differ from their parents.
    ///
    /// # Errors
    /// If git cannot answer.
    pub(super) fn read(repo: &Repo, prefix: &str, end: Oid) -> Result<Places, GitError> {
        let commits = Node::up_to(repo, end)?.into();
        let mut places = Places { commits, touched: HashMap::new(), lost: Vec::new(), by_id: None };
        let one = |repo: &Repo, node: &Node| differing(repo, prefix, node);
        for (commit, files) in side_by_side(repo, &places.commits, one)?.into_iter().enumerate() {
            for (path, old) in files? {
                places.lost.extend(old.filter(|_| path.is_markdown()).map(|old| (path.clone(), old)));
                let commits = places.touched.entry(path).or_default();
                if commits.last() != Some(&commit) {
                    commits.push(commit);
                }
            }
        }
        Ok(places)
    }

    /// Every file that held a thing and lost it.
    ///
    /// # Errors
    /// If git cannot answer.
    pub(super) fn left(&self, blobs: &mut Blobs<'_>, id: &str) -> Result<BTreeSet<RepoPath>, GitError> {
        if let Some(by_id) = &self.by_id {
            return Ok(by_id.get(id).into_iter().flatten().cloned().collect());
        }
        let glances = blobs.glances(self.lost.iter().map(|(_, blob)| *blob))?;
        let of_it = self.lost.iter().zip(glances).filter(|(_, glance)| glance.id.as_deref() == Some(id));
        Ok(of_it.map(|((path, _), _)| path.clone()).collect())
    }

    /// Puts what was lost in order by ids, for whoever asks about many of them.
    ///
    /// # Errors
    /// If git cannot answer.
    pub(super) fn put_in_order(&mut self, blobs: &mut Blobs<'_>) -> Result<(), GitError> {
        let glances = blobs.glances(self.lost.iter().map(|(_, blob)| *blob))?;
        let mut by_id: HashMap<String, Vec<RepoPath>> = HashMap::new();
        for ((path, _), glance) in self.lost.drain(..).zip(glances) {
            let Some(id) = glance.id.as_deref() else { continue };
            match by_id.get_mut(id) {
                Some(paths) if paths.last() == Some(&path) => {}
                Some(paths) => paths.push(path),
                None => drop(by_id.insert(id.to_string(), vec![path])),
            }
        }
        self.by_id = Some(by_id);
        Ok(())
    }

    /// Commits that have one of some files otherwise than one of their parents, and those without parents, by position.
    pub(super) fn touching<'p>(&self, paths: impl IntoIterator<Item = &'p RepoPath>) -> BTreeSet<usize> {
        let first = (0..self.commits.len()).filter(|at| self.commits[*at].parents.is_empty());
        first.chain(paths.into_iter().filter_map(|path| self.touched.get(path)).flatten().copied()).collect()
    }
}

/// The project's files in which a commit differs from any of its parents, with what each held there.
fn differing(repo: &Repo, prefix: &str, node: &Node) -> Result<Vec<(RepoPath, Option<Oid>)>, GitError> {
    let mut files = Vec::new();
    for parent in &node.parents {
        let changes = repo.changes_between(*parent, node.oid, prefix)?;
        let own = changes.iter().filter(|change| change.utf8 && is_ours(change));
        files.extend(own.map(|change| (change.path.clone(), change.old_blob())));
    }
    Ok(files)
}
