//! Names: tags, branches, and whatever else git resolves to a commit.

use std::collections::{BTreeMap, BTreeSet};

use git2::ObjectType;

use super::error::while_;
use super::{GitError, Oid, Repo};

/// A step back from a commit, as gitrevisions(7) writes it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Step {
    /// `~3`: so often to the first parent.
    Generations(usize),
    /// `^2`: to this parent, counted from 1; to itself for 0.
    Parent(usize),
}

/// Takes `HEAD~2^2` apart; none where anything else stands behind the name.
fn steps_back(name: &str) -> Option<(&str, Vec<Step>)> {
    let (base, mut rest) = name.split_at(name.find(['~', '^'])?);
    let mut steps = Vec::new();
    while !rest.is_empty() {
        let behind = rest.strip_prefix(['~', '^'])?;
        let digits = behind.find(|letter: char| !letter.is_ascii_digit()).unwrap_or(behind.len());
        let number = if digits == 0 { 1 } else { behind[..digits].parse().ok()? };
        steps.push(if rest.starts_with('~') { Step::Generations(number) } else { Step::Parent(number) });
        rest = &behind[digits..];
    }
    (!base.is_empty()).then_some((base, steps))
}

/// Whether a reference is one that git leaves lying, such as `ORIG_HEAD`, and no branch, tag or the commit that is checked out.
fn is_passing(reference: &git2::Reference<'_>) -> bool {
    let name = reference.name_bytes();
    !name.starts_with(b"refs/") && name != b"HEAD"
}

impl Repo {
    /// The commit that `name` means: a tag (peeled), a branch, a hash or its beginning, `HEAD~2` and the like.
    ///
    /// # Errors
    /// [`GitError::UnknownRevision`] with names near to it, [`GitError::AmbiguousRevision`], [`GitError::NoCommits`].
    pub fn resolve(&self, name: &str) -> Result<Oid, GitError> {
        if name.trim().is_empty() {
            return Err(GitError::UnknownRevision { name: name.to_owned(), near: Vec::new() });
        }
        // The library follows `~` and `^` through commits that nobody has looked through yet.
        let (base, steps) = steps_back(name).unwrap_or((name, Vec::new()));
        let named = base.split(['~', '^', '@', ':']).next().filter(|named| !named.is_empty()).unwrap_or("HEAD");
        self.whole_behind(named)?;
        // What branches were is told by git's log of them, where another command was by files of its own (`ORIG_HEAD`).
        let plain = base == named || base == "@";
        if !plain || self.with(|repo| repo.resolve_reference_from_short_name(named).is_ok_and(|it| is_passing(&it))) {
            self.ask_beyond_signs();
        }
        let found = self.with(|repo| {
            repo.revparse_single(base).and_then(|object| object.peel_to_commit()).map(|commit| Oid(commit.id()))
        });
        let unknown = || GitError::UnknownRevision { name: name.to_owned(), near: self.names_near(name) };
        let found = found.map_err(|error| match error.code() {
            git2::ErrorCode::Ambiguous => GitError::AmbiguousRevision { name: name.to_owned() },
            git2::ErrorCode::UnbornBranch => GitError::NoCommits,
            _ if self.has_no_commits() => GitError::NoCommits,
            _ => unknown(),
        })?;
        steps.into_iter().try_fold(found, |at, step| self.back(at, step)?.ok_or_else(unknown))
    }

    /// Looks through what a name stands for (a reference, or an id or its beginning), and all that it leads to, before the
    /// library does.
    fn whole_behind(&self, base: &str) -> Result<(), GitError> {
        self.with(|repo| {
            let named = repo.resolve_reference_from_short_name(base).and_then(|found| found.resolve());
            let begun = || repo.odb()?.exists_prefix(git2::Oid::from_str(base)?, base.len());
            match named.ok().and_then(|found| found.target()).or_else(|| begun().ok()) {
                Some(target) => self.whole_tag(repo, target),
                None => Ok(()),
            }
        })
    }

    /// The commit a step further back; none if there is none.
    fn back(&self, mut at: Oid, step: Step) -> Result<Option<Oid>, GitError> {
        let (times, parent) = match step {
            Step::Generations(times) => (times, 1),
            Step::Parent(0) => return Ok(Some(at)),
            Step::Parent(parent) => (1, parent),
        };
        for _ in 0..times {
            match self.parents(at)?.get(parent - 1) {
                Some(next) => at = *next,
                None => return Ok(None),
            }
        }
        Ok(Some(at))
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

    /// The commits at the ends of branches, here and as they were fetched from elsewhere, each once. Of a branch that cannot be read
    /// nothing is said.
    ///
    /// # Errors
    /// If the branches cannot be listed.
    pub fn branch_tips(&self) -> Result<Vec<Oid>, GitError> {
        self.with(|repo| {
            let mut tips = BTreeSet::new();
            for glob in ["refs/heads/*", "refs/remotes/*"] {
                let all = repo.references_glob(glob).map_err(while_("list the branches"))?;
                tips.extend(all.filter_map(|branch| Some(Oid(branch.ok()?.peel_to_commit().ok()?.id()))));
            }
            Ok(tips.into_iter().collect())
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
    /// Last by descent, never by date: of [`Repo::last_annotated_tags`] the one the fewest steps away; of several as near,
    /// the last in name order (`TRR-2` after `TRR-1`).
    ///
    /// # Errors
    /// If a commit or a tag cannot be read.
    pub fn last_annotated_tag(&self, from: Oid) -> Result<Option<(String, Oid)>, GitError> {
        let mut last = self.last_annotated_tags(from)?;
        if last.len() < 2 {
            return Ok(last.pop());
        }
        let names: BTreeMap<Oid, String> = last.into_iter().map(|(name, oid)| (oid, name)).collect();
        self.nearest(from, |oid| names.get(&oid).cloned())
    }

    /// The tag without a date and a name of its own that is the fewest steps away from `from`, on it or one of its ancestors; one
    /// that cannot be read is none.
    pub fn last_light_tag(&self, from: Oid) -> Option<String> {
        let names = self.with(|repo| {
            let mut names: BTreeMap<Oid, String> = BTreeMap::new();
            for reference in repo.references_glob("refs/tags/*").ok()?.flatten() {
                let target = reference.target().filter(|target| repo.find_commit(*target).is_ok());
                if let (Some(target), Ok(name)) = (target, reference.shorthand()) {
                    names.insert(Oid(target), name.to_owned());
                }
            }
            Some(names)
        })?;
        let found = if names.is_empty() { None } else { self.nearest(from, |oid| names.get(&oid).cloned()).ok()? };
        found.map(|(name, _)| name)
    }

    /// Every annotated tag on `from` or one of its ancestors that no other such tag descends from, in name order: several,
    /// where lines that were tagged side by side have been merged. A tag that another descends from does not count, however
    /// few steps away it is (a side branch from an old review, merged later, is a short way back). Of several on one commit,
    /// the last in name order.
    ///
    /// # Errors
    /// If a commit or a tag cannot be read.
    pub fn last_annotated_tags(&self, from: Oid) -> Result<Vec<(String, Oid)>, GitError> {
        // Later names overwrite earlier ones on the same commit.
        let tagged: BTreeMap<Oid, String> = self.annotated_tags()?.into_iter().map(|(name, oid)| (oid, name)).collect();
        if tagged.is_empty() {
            return Ok(Vec::new());
        }
        let mut last = Vec::new();
        let mut behind_a_tag = BTreeSet::new();
        for oid in self.walk(from, None, false)? {
            let behind = behind_a_tag.contains(&oid);
            let tag = tagged.get(&oid);
            if let Some(name) = tag.filter(|_| !behind) {
                last.push((name.clone(), oid));
            }
            if tag.is_some() || behind {
                behind_a_tag.extend(self.parents(oid)?);
            }
        }
        last.sort();
        Ok(last)
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
