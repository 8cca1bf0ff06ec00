//! What can be looked up: the project as it is, and any of its things as a commit held it.

use std::collections::{BTreeSet, HashSet};
use std::rc::Rc;
use std::sync::Arc;

use crate::analysis::Analysis;
use crate::git::{CommitInfo, GitError, Oid, Repo, TreeFile};
use crate::history::blobs::{Blobs, Placed, worked_out};
use crate::history::commits::trailers;
use crate::history::compare::calendar::Calendar;
use crate::history::then::as_held;
use crate::history::trail::{Trail, Version};
use crate::history::versions::{self, Between, ChangeKind, Content, Context};
use crate::model::Id;
use crate::model::kinds::{Decision, DecisionStatus, Entity, Head, Requirement};
use crate::source::Origin;
use crate::text::{FileId, RepoPath};

use super::Account;

/// The project as it is, beside its history.
pub(super) struct Book<'a> {
    pub(super) repo: &'a Repo,
    pub(super) now: &'a Analysis,
    pub(super) head: Oid,
    /// For each file of the present, whether the newest commit holds the very same bytes there.
    same: Vec<bool>,
    pub(super) trail: Trail<'a>,
    pub(super) blobs: Blobs<'a>,
    pub(super) account: Account,
    /// Decisions with the requirements whose limits they allow to have been relaxed, though that came first.
    pub(super) allowed: BTreeSet<(Id, Id)>,
}

/// Since when something holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Since {
    /// The commit at this position.
    Commit(usize),
    /// It is not committed yet.
    Uncommitted,
}

impl Since {
    /// The same as a place in the order of the commits.
    pub(super) fn place(self) -> usize {
        match self {
            Since::Commit(at) => at,
            Since::Uncommitted => usize::MAX,
        }
    }
}

/// A requirement as a commit held it.
pub(super) struct RequirementThen {
    pub(super) placed: Placed,
    /// With its limits and its mark worked out.
    pub(super) requirement: Requirement,
    commit: Oid,
}

impl<'a> Book<'a> {
    pub(super) fn open(repo: &'a Repo, prefix: &'a str, head: Oid, now: &'a Analysis) -> Result<Book<'a>, GitError> {
        let mut trail = Trail::read(repo, prefix, Some(head))?;
        let mut blobs = Blobs::new(repo, prefix);
        let same = as_held(repo, prefix, head, now)?;
        for (id, path) in moved(&mut blobs, &repo.tree_files(head, prefix)?, now, &same)? {
            trail.stood_in(id, &path);
        }
        Ok(Book { repo, now, head, same, trail, blobs, account: Account::default(), allowed: BTreeSet::new() })
    }

    /// The file that a thing of the present stands in.
    pub(super) fn path(&self, file: FileId) -> &'a RepoPath {
        self.now.path(file)
    }

    /// Whether a thing's file was never touched after the commit that brought it.
    pub(super) fn is_untouched(&mut self, head: &Head) -> bool {
        let path = self.now.path(head.file);
        self.is_same(head.file) && self.trail.is_untouched(&mut self.blobs, head.id.value.as_str(), path)
    }

    /// Whether a file is as the newest commit holds it.
    pub(super) fn is_same(&self, file: FileId) -> bool {
        self.same.get(file.0 as usize).copied().unwrap_or(false)
    }

    /// What a thing of the present said after each commit that touched it, oldest first.
    pub(super) fn versions(&mut self, id: &Id, file: FileId) -> Result<Vec<Version>, GitError> {
        let path = self.now.path(file);
        self.trail.versions(&mut self.blobs, id.as_str(), Some(path))
    }

    /// The blobs that the files of a thing of the present ever held, some of them twice.
    pub(super) fn held(&mut self, head: &Head) -> Result<Vec<Oid>, GitError> {
        let path = self.now.path(head.file);
        let mut held = Vec::new();
        for path in self.trail.paths(&mut self.blobs, head.id.value.as_str(), Some(path))? {
            held.extend(self.trail.held(&path)?);
        }
        Ok(held)
    }

    /// Positions of the commits that touched a file of a thing of the present, some of them twice.
    pub(super) fn touched(&mut self, head: &Head) -> Result<Vec<usize>, GitError> {
        let path = self.now.path(head.file);
        let mut touched = Vec::new();
        for path in self.trail.paths(&mut self.blobs, head.id.value.as_str(), Some(path))? {
            touched.extend(self.trail.of(&path)?.iter().map(|step| step.commit));
        }
        Ok(touched)
    }

    /// What a thing of the present said in a commit.
    pub(super) fn at(&mut self, id: &Id, file: FileId, commit: Oid) -> Result<Option<Placed>, GitError> {
        let path = self.now.path(file);
        self.trail.at(&mut self.blobs, (id.as_str(), Some(path)), commit)
    }

    /// What a requirement of the present said in a commit.
    pub(super) fn requirement(&mut self, now: &Requirement, commit: Oid) -> Result<Option<RequirementThen>, GitError> {
        let Some(placed) = self.at(&now.head.id.value, now.head.file, commit)? else { return Ok(None) };
        self.worked_out(placed, commit)
    }

    /// A version of a requirement, with what its limits came to in a commit.
    pub(super) fn worked_out(&mut self, placed: Placed, commit: Oid) -> Result<Option<RequirementThen>, GitError> {
        let parameters = self.blobs.parameters(Some(commit))?;
        let requirement = match &placed.file.entity {
            Some(Entity::Requirement(it)) => worked_out(it, &parameters),
            _ => return Ok(None),
        };
        Ok(Some(RequirementThen { placed, requirement, commit }))
    }

    /// Whether a requirement asks something else now than it did, in words, limits, reach or plan.
    pub(super) fn differs(&mut self, then: &RequirementThen, now: &Requirement) -> Result<bool, GitError> {
        Ok(self.between_now(then, now)?.is_some_and(|between| is_other(&between)))
    }

    /// The same of two versions that commits held.
    pub(super) fn differ(&mut self, then: &RequirementThen, now: &RequirementThen) -> Result<bool, GitError> {
        Ok(self.between(then, now)?.is_some_and(|between| is_other(&between)))
    }

    /// What lies between a requirement as it was and as it is now; none: nothing.
    pub(super) fn between_now(
        &mut self,
        then: &RequirementThen,
        now: &Requirement,
    ) -> Result<Option<Between>, GitError> {
        let old = self.blobs.config(Some(then.commit))?;
        let config = Rc::new(self.now.model.config.clone());
        let text = &self.now.sources.file(now.head.file).text;
        let new = (self.path(now.head.file).as_str(), &**text, now);
        Ok(compare(then, new, Calendar { then: &old, now: &config }))
    }

    /// The same of two versions that commits held.
    pub(super) fn between(
        &mut self,
        then: &RequirementThen,
        now: &RequirementThen,
    ) -> Result<Option<Between>, GitError> {
        let (old, config) = (self.blobs.config(Some(then.commit))?, self.blobs.config(Some(now.commit))?);
        let new = (now.placed.path.as_str(), &*now.placed.file.text, &now.requirement);
        Ok(compare(then, new, Calendar { then: &old, now: &config }))
    }

    /// The commit that made a decision accepted, the last time if it was taken back in between.
    pub(super) fn accepted(&mut self, decision: &Decision) -> Result<Since, GitError> {
        let mut since = Since::Uncommitted;
        let mut was = false;
        for version in self.versions(&decision.head.id.value, decision.head.file)? {
            let is = version.new.as_ref().is_some_and(|placed| {
                matches!(&placed.file.entity, Some(Entity::Decision(it)) if it.status == DecisionStatus::Accepted)
            });
            if is && !was {
                since = Since::Commit(version.commit);
            }
            was = is;
        }
        Ok(if was { since } else { Since::Uncommitted })
    }

    /// The commit just before something began to hold; none: there was none.
    pub(super) fn before(&self, since: Since) -> Option<Oid> {
        match since {
            Since::Commit(at) => self.trail.before(at),
            Since::Uncommitted => Some(self.head),
        }
    }

    /// `6217eb7bd2 of 2026-03-02`, or that it is not committed yet.
    pub(super) fn show(&self, since: Since) -> Result<String, GitError> {
        match since {
            Since::Commit(at) => Ok(show(&self.commit(at)?)),
            Since::Uncommitted => Ok("not committed yet".into()),
        }
    }

    /// The facts of a commit, by position.
    pub(super) fn commit(&self, at: usize) -> Result<CommitInfo, GitError> {
        self.repo.commit(self.trail.commits[at].oid)
    }

    /// Whether the commit at this position names a decision.
    pub(super) fn names(&self, at: usize, decision: &Id) -> Result<bool, GitError> {
        Ok(trailers(&self.commit(at)?).iter().any(|own| own == decision.as_str()))
    }
}

/// Things that the newest commit holds in another file than the one they stand in now, with that file: a move that is not committed
/// yet takes the past along.
fn moved(
    blobs: &mut Blobs<'_>,
    committed: &[TreeFile],
    now: &Analysis,
    same: &[bool],
) -> Result<Vec<(Arc<str>, RepoPath)>, GitError> {
    if !matches!(now.origin, Origin::WorkTree { uncommitted: 1.., .. }) {
        return Ok(Vec::new());
    }
    let stayed = now.sources.files().zip(same).filter(|(_, same)| **same).map(|((_, file), _)| &file.path);
    let stayed: HashSet<&RepoPath> = stayed.collect();
    let others = committed.iter().filter(|file| file.utf8 && file.path.is_markdown() && !stayed.contains(&file.path));
    let others: Vec<&TreeFile> = others.collect();
    blobs.glance_at(others.iter().map(|file| file.oid))?;
    let mut moved = Vec::new();
    for file in others {
        let Some(id) = blobs.glance(file.oid).id else { continue };
        let place = now.model.find(&id).map(|place| now.path(now.model.head(place).file));
        if place.is_some_and(|path| *path != file.path) {
            moved.push((id, file.path.clone()));
        }
    }
    Ok(moved)
}

/// A commit in a few words.
pub(super) fn show(commit: &CommitInfo) -> String {
    format!("{} of {}", commit.oid.short(), commit.author_date)
}

fn is_other(between: &Between) -> bool {
    !matches!(between.kind, ChangeKind::Moved | ChangeKind::Cosmetic)
}

fn compare(then: &RequirementThen, new: (&str, &str, &Requirement), calendar: Calendar<'_>) -> Option<Between> {
    let version = |path, text, requirement| versions::Version {
        kind: "requirement",
        path,
        content: Content::File { text, requirement: Some(requirement) },
    };
    let old = version(then.placed.path.as_str(), &then.placed.file.text, &then.requirement);
    let ambient = calendar.now.ambient.as_ref().or(calendar.then.ambient.as_ref());
    versions::compare(Some(old), Some(version(new.0, new.1, new.2)), Context { calendar, ambient })
}
