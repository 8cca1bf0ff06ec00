//! Where things stood in the course of history, and which commits touched those places.
//!
//! A file that holds a thing at some commit either holds it at the newest one, or some commit has it otherwise than one of
//! its parents. So the files of a thing are those whose content was lost on the way from a parent to a commit, merges from
//! each of theirs, and the one that it has now.

use std::collections::BTreeSet;
use std::rc::Rc;
use std::sync::Arc;

use foldhash::{HashMap, HashMapExt};

use crate::git::{Changed, GitError, Oid, Repo};
use crate::text::RepoPath;

use super::blobs::Blobs;
use super::folder::{Begin, follow, may_begin};
use super::own::is_ours;
use super::trail::{Node, side_by_side};

/// Every commit up to one, parents first, with the files in which it differs from any of its parents.
pub(super) struct Places {
    /// The commits.
    pub(super) commits: Rc<[Node]>,
    /// Commits by position, for each file.
    touched: HashMap<RepoPath, Vec<usize>>,
    /// What stood in a file before a commit had it otherwise.
    pub(super) lost: Vec<(RepoPath, Oid)>,
    /// Whether something else was lost too, that the project may have read: as another sort of file came in its place.
    pub(super) lost_more: bool,
    /// The same files by the ids of what they held, where many are asked about.
    by_id: Option<HashMap<Arc<str>, Vec<RepoPath>>>,
}

impl Places {
    /// Reads in which files the commits up to `end` differ from their parents.
    ///
    /// # Errors
    /// If git cannot answer.
    pub(super) fn read(repo: &Repo, prefix: &str, end: Oid) -> Result<Places, GitError> {
        let commits: Rc<[Node]> = Node::up_to(repo, end)?.into();
        let mut all = differing(repo, prefix, &commits)?;
        let begun = all.iter().filter(|(_, _, changes)| may_begin(changes));
        let begun: Vec<Begin> = begun.map(|(commit, parent, _)| (commits[*commit].oid, *parent)).collect();
        if follow(repo, prefix, end, &begun)? {
            all = differing(repo, prefix, &commits)?;
        }
        let mut places = Places { commits, touched: HashMap::new(), lost: Vec::new(), lost_more: false, by_id: None };
        for (commit, _, changes) in all {
            for change in changes.iter() {
                if !change.utf8 || !is_ours(change) {
                    places.lost_more |= change.old_blob().is_some() && change.path.is_markdown();
                    continue;
                }
                let lost = change.old_blob().filter(|_| change.path.is_markdown());
                places.lost.extend(lost.map(|old| (change.path.clone(), old)));
                let commits = places.touched.entry(change.path.clone()).or_default();
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
        let mut by_id: HashMap<Arc<str>, Vec<RepoPath>> = HashMap::new();
        for ((path, _), glance) in self.lost.drain(..).zip(glances) {
            let Some(id) = glance.id else { continue };
            let paths = by_id.entry(id).or_default();
            if paths.last() != Some(&path) {
                paths.push(path);
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

/// What a commit, by position, has otherwise than one of its parents.
type Differing = (usize, Oid, Changed);

/// The files in which commits differ from each of their parents: what is known of them, and the rest worked out on every thread.
fn differing(repo: &Repo, prefix: &str, commits: &[Node]) -> Result<Vec<Differing>, GitError> {
    let parents = |(at, node): (usize, &Node)| node.parents.iter().map(move |parent| (at, *parent)).collect::<Vec<_>>();
    let pairs: Vec<(usize, Oid)> = commits.iter().enumerate().flat_map(parents).collect();
    let known = repo.known_changes(prefix, pairs.iter().map(|(at, parent)| (*parent, commits[*at].oid)));
    let unknown: Vec<(usize, Oid)> =
        pairs.iter().zip(&known).filter(|(_, known)| known.is_none()).map(|(pair, _)| *pair).collect();
    let one = |repo: &Repo, (at, parent): &(usize, Oid)| repo.changes_between(*parent, commits[*at].oid, prefix);
    let mut worked_out = side_by_side(repo, &unknown, one)?.into_iter();
    let mut all = Vec::with_capacity(pairs.len());
    for ((at, parent), known) in pairs.into_iter().zip(known) {
        match known {
            Some(changes) => all.push((at, parent, changes)),
            None => all.push((at, parent, worked_out.next().transpose()?.unwrap_or_else(|| Arc::from([])))),
        }
    }
    Ok(all)
}
