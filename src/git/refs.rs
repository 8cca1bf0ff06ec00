//! Names: tags, branches, and whatever else git resolves to a commit.

use std::collections::{BTreeMap, BTreeSet};

use git2::ObjectType;

use super::error::while_;
use super::{GitError, Oid, Repo};

impl Repo {
    /// The commit that `name` means: a tag (peeled), a branch, a hash or its beginning, `HEAD~2` and the like.
    ///
    /// # Errors
    /// [`GitError::UnknownRevision`] with names near to it, [`GitError::AmbiguousRevision`], [`GitError::NoCommits`].
    pub fn resolve(&self, name: &str) -> Result<Oid, GitError> {
        if name.trim().is_empty() {
            return Err(GitError::UnknownRevision { name: name.to_owned(), near: Vec::new() });
        }
        let base = name.split(['~', '^', '@', ':']).next().unwrap_or(name);
        self.with(|repo| match repo.resolve_reference_from_short_name(base).ok().and_then(|found| found.target()) {
            Some(target) => self.whole_tag(repo, target),
            None => Oid::from_hex(base).map_or(Ok(()), |oid| self.whole(oid)),
        })?;
        let found = self.with(|repo| {
            repo.revparse_single(name).and_then(|object| object.peel_to_commit()).map(|commit| Oid(commit.id()))
        });
        found.map_err(|error| match error.code() {
            git2::ErrorCode::Ambiguous => GitError::AmbiguousRevision { name: name.to_owned() },
            git2::ErrorCode::UnbornBranch => GitError::NoCommits,
            _ if self.has_no_commits() => GitError::NoCommits,
            _ => GitError::UnknownRevision { name: name.to_owned(), near: self.names_near(name) },
        })
    }

    /// Every annotated tag that leads to a commit, with that commit; in name order.
    ///
    /// A lightweight tag is somebody's bookmark; an annotated one is a statement with a date and a name, which is
    /// what a review is.
    ///
    /// # Errors
    /// If a tag cannot be read: with it would go unseen what a review was shown.
    pub fn annotated_tags(&self) -> Result<Vec<(String, Oid)>, GitError> {
        self.with(|repo| {
            let mut tags = Vec::new();
            for reference in repo.references_glob("refs/tags/*").map_err(while_("list the tags"))? {
                let reference = reference.map_err(while_("read a tag"))?;
                // Git names refs in bytes; a name that is not UTF-8 is shown as near as can be.
                let name = String::from_utf8_lossy(reference.shorthand_bytes()).into_owned();
                let unreadable = |error| GitError::other(format!("read the tag {name}"), &error);
                let Some(target) = reference.target() else { continue };
                self.whole_tag(repo, target)?;
                if repo.odb().and_then(|odb| odb.read_header(target)).map_err(unreadable)?.1 != ObjectType::Tag {
                    continue;
                }
                let object = reference.peel(ObjectType::Any).map_err(unreadable)?;
                if let Some(commit) = object.as_commit() {
                    tags.push((name, Oid(commit.id())));
                }
            }
            tags.sort();
            Ok(tags)
        })
    }

    /// Looks through a tag, and what it leads to, before the library does.
    fn whole_tag(&self, repo: &git2::Repository, target: git2::Oid) -> Result<(), GitError> {
        self.whole(Oid(target))?;
        let mut at = target;
        while let Ok(tag) = repo.find_tag(at) {
            at = tag.target_id();
            self.whole(Oid(at))?;
        }
        Ok(())
    }

    /// The last annotated tag on `from` or one of its ancestors.
    ///
    /// Last by descent, never by date: a tag that another such tag descends from does not count, however few steps
    /// away it is (a side branch from an old review, merged later, is a short way back). Of those that are left, the
    /// one the fewest steps away; of several as near, the last in name order (`TRR-2` after `TRR-1`).
    ///
    /// # Errors
    /// If a commit or a tag cannot be read.
    pub fn last_annotated_tag(&self, from: Oid) -> Result<Option<(String, Oid)>, GitError> {
        // Later names overwrite earlier ones on the same commit.
        let tagged: BTreeMap<Oid, String> = self.annotated_tags()?.into_iter().map(|(name, oid)| (oid, name)).collect();
        if tagged.is_empty() {
            return Ok(None);
        }
        let mut last = BTreeSet::new();
        let mut behind_a_tag = BTreeSet::new();
        for oid in self.walk(from, None, false)? {
            let behind = behind_a_tag.contains(&oid);
            let is_tagged = tagged.contains_key(&oid);
            if is_tagged && !behind {
                last.insert(oid);
            }
            if is_tagged || behind {
                behind_a_tag.extend(self.parents(oid)?);
            }
        }
        self.nearest(from, |oid| if last.contains(&oid) { tagged.get(&oid).cloned() } else { None })
    }

    fn has_no_commits(&self) -> bool {
        matches!(self.head(), Ok(None))
            && self.with(|repo| repo.references().map_or(true, |mut all| all.next().is_none()))
    }

    fn names_near(&self, name: &str) -> Vec<String> {
        let wanted = name.to_lowercase();
        let mut names = self.with(|repo| {
            let mut names = Vec::new();
            let Ok(references) = repo.references() else { return names };
            for reference in references.flatten() {
                if reference.is_tag() || reference.is_branch() || reference.is_remote() {
                    names.extend(reference.shorthand().ok().map(str::to_owned));
                }
            }
            names
        });
        names.sort();
        names.dedup();
        let mut scored: Vec<(usize, String)> = names
            .into_iter()
            .map(|candidate| (strsim::damerau_levenshtein(&wanted, &candidate.to_lowercase()), candidate))
            .filter(|(distance, candidate)| *distance <= (candidate.chars().count().max(3)) / 3)
            .collect();
        scored.sort();
        scored.into_iter().take(3).map(|(_, candidate)| candidate).collect()
    }
}
