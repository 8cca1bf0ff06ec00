//! Commits in the order of their parents.

use std::collections::VecDeque;
use std::sync::{Arc, PoisonError};

use foldhash::{HashSet, HashSetExt};

use super::error::while_;
use super::packed::Sort;
use super::{GitError, Oid, Repo};

/// What a commit says in front of its message.
pub(super) struct Header {
    /// Its parents, without those that a shallow clone has cut off.
    pub(super) parents: Vec<Oid>,
    /// Its top tree, unless it is malformed.
    pub(super) tree: Option<Oid>,
}

/// A commit, with what it says in front of its message.
type Entered = (Oid, Arc<Header>);

impl Repo {
    /// Commits from `from` back to the beginning, children always before their parents.
    ///
    /// Without `hide` and its ancestors. With `first_parent` only the first parent of each is followed. The order
    /// comes from parents alone: where lines of work run side by side, the line merged in comes first.
    ///
    /// # Errors
    /// If a commit cannot be read.
    pub fn walk(&self, from: Oid, hide: Option<Oid>, first_parent: bool) -> Result<Vec<Oid>, GitError> {
        let hidden = match hide {
            Some(hide) => self.ancestors(hide)?,
            None => HashSet::new(),
        };
        let finished = self.parents_first(from, &hidden, first_parent)?;
        Ok(finished.into_iter().rev().map(|(oid, _)| oid).collect())
    }

    /// `from` and every commit that it descends from, each with its parents and after all of them.
    ///
    /// # Errors
    /// If a commit cannot be read.
    pub fn lineage(&self, from: Oid) -> Result<Vec<(Oid, Vec<Oid>)>, GitError> {
        let finished = self.parents_first(from, &HashSet::new(), false)?;
        Ok(finished.into_iter().map(|(oid, header)| (oid, header.parents.clone())).collect())
    }

    /// Whether `ancestor` is `of` or one of its ancestors.
    ///
    /// # Errors
    /// If a commit cannot be read.
    pub fn is_ancestor(&self, ancestor: Oid, of: Oid) -> Result<bool, GitError> {
        Ok(self.nearest(of, |oid| (oid == ancestor).then_some(()))?.is_some())
    }

    /// The latest commit that both have as an ancestor (or are); `None` for histories without one.
    ///
    /// # Errors
    /// If a commit cannot be read.
    pub fn merge_base(&self, one: Oid, other: Oid) -> Result<Option<Oid>, GitError> {
        let others = self.ancestors(other)?;
        // Children come before parents, so the first common one has no common descendant before it in this order.
        Ok(self.walk(one, None, false)?.into_iter().find(|oid| others.contains(oid)))
    }

    /// The nearest commit that all of these descend from; `None` for histories without one, and where a shallow clone
    /// has cut it off.
    ///
    /// Of several as near, one.
    ///
    /// # Errors
    /// If a commit cannot be read.
    pub fn common_ancestor(&self, commits: &[Oid]) -> Result<Option<Oid>, GitError> {
        let Some((first, others)) = commits.split_first() else { return Ok(None) };
        self.whole_back_from(commits)?;
        let mut found = vec![first.0];
        for other in others {
            let mut shared: Vec<git2::Oid> = Vec::new();
            for one in found {
                let bases = self.with(|repo| repo.merge_bases(one, other.0).map(|bases| bases.to_vec()));
                shared.extend(bases.unwrap_or_default());
            }
            found = shared;
        }
        // What all of them share with one of the first two may lie behind what they share with another.
        let is_behind = |one: git2::Oid| {
            found.iter().any(|it| *it != one && self.with(|repo| repo.graph_descendant_of(*it, one)).unwrap_or(false))
        };
        Ok(found.iter().copied().find(|one| !is_behind(*one)).map(Oid))
    }

    /// Looks through these commits and all that they descend from, each once, before the library does.
    fn whole_back_from(&self, commits: &[Oid]) -> Result<(), GitError> {
        let mut whole = self.known.whole.lock().unwrap_or_else(PoisonError::into_inner);
        let mut seen = HashSet::new();
        let mut waiting = commits.to_vec();
        while let Some(oid) = waiting.pop() {
            if !whole.contains(&oid) && seen.insert(oid) {
                self.whole(oid)?;
                waiting.extend(&self.header(oid)?.parents);
            }
        }
        whole.extend(seen);
        Ok(())
    }

    /// Post-order over parents: every commit after all of its parents that are not hidden.
    fn parents_first(&self, from: Oid, hidden: &HashSet<Oid>, first_parent: bool) -> Result<Vec<Entered>, GitError> {
        let mut finished = Vec::new();
        let mut seen = HashSet::with_capacity(self.known.headers.count());
        let most = if first_parent { 1 } else { usize::MAX };
        // A commit and how many of its parents have been entered; a stack of our own, as histories are long.
        let mut stack: Vec<(Oid, Arc<Header>, usize)> = Vec::new();
        let mut enter = Some(from);
        loop {
            if let Some(oid) = enter.take()
                && !hidden.contains(&oid)
                && seen.insert(oid)
            {
                stack.push((oid, self.header(oid)?, 0));
            }
            let Some((_, header, next)) = stack.last_mut() else { return Ok(finished) };
            match header.parents.get(*next).filter(|_| *next < most) {
                Some(parent) => {
                    *next += 1;
                    enter = Some(*parent);
                }
                None => finished.extend(stack.pop().map(|(oid, header, _)| (oid, header))),
            }
        }
    }

    /// `from` and everything it descends from.
    fn ancestors(&self, from: Oid) -> Result<HashSet<Oid>, GitError> {
        let mut seen = HashSet::from_iter([from]);
        let mut waiting = vec![from];
        while let Some(oid) = waiting.pop() {
            waiting.extend(self.header(oid)?.parents.iter().filter(|parent| seen.insert(**parent)));
        }
        Ok(seen)
    }

    /// The first commit, by number of steps from `from`, for which `wanted` has an answer; of several as many steps
    /// away, the greatest answer.
    pub(super) fn nearest<T: Ord>(
        &self,
        from: Oid,
        wanted: impl Fn(Oid) -> Option<T>,
    ) -> Result<Option<(T, Oid)>, GitError> {
        let mut seen = HashSet::from_iter([from]);
        let mut level = VecDeque::from([from]);
        while !level.is_empty() {
            if let Some(found) = level.iter().filter_map(|oid| Some((wanted(*oid)?, *oid))).max() {
                return Ok(Some(found));
            }
            let mut next = VecDeque::new();
            for oid in level {
                next.extend(self.parents(oid)?.into_iter().filter(|parent| seen.insert(*parent)));
            }
            level = next;
        }
        Ok(None)
    }

    /// A commit's parents, without those that a shallow clone has cut off.
    ///
    /// # Errors
    /// If the commit cannot be read.
    pub fn parents(&self, oid: Oid) -> Result<Vec<Oid>, GitError> {
        Ok(self.header(oid)?.parents.clone())
    }

    /// The id of a commit's top tree.
    pub(super) fn root_tree(&self, oid: Oid) -> Result<Oid, GitError> {
        self.header(oid)?.tree.ok_or_else(|| GitError::Malformed { oid, detail: "no tree".into() })
    }

    fn header(&self, oid: Oid) -> Result<Arc<Header>, GitError> {
        if let Some(known) = self.known.headers.get(&oid) {
            return Ok(known);
        }
        let object = self.object(oid, Sort::Commit)?;
        let mut parents = header_ids(&object, b"parent ");
        if self.is_cut_off() {
            self.with(|repo| {
                let odb = repo.odb().map_err(while_("open the object store"))?;
                parents.retain(|parent| odb.exists(parent.0));
                Ok(())
            })?;
        }
        let header = Arc::new(Header { parents, tree: header_ids(&object, b"tree ").first().copied() });
        self.known.headers.put(oid, Arc::clone(&header), 0);
        Ok(header)
    }
}

/// Ids in a commit's header lines that start with `key`.
fn header_ids(raw: &[u8], key: &[u8]) -> Vec<Oid> {
    raw.split(|byte| *byte == b'\n')
        .take_while(|line| !line.is_empty())
        .filter_map(|line| line.strip_prefix(key))
        .filter_map(|hex| Oid::from_hex(std::str::from_utf8(hex).ok()?))
        .collect()
}
