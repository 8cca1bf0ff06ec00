//! A project that was copied to where it stands, and whose original was removed later.
//!
//! As long as both stand they are two projects, and what happens to one is nothing to the other. Once the original is gone, the copy
//! is what goes on from it, as far as it is still like it; and what the original held until then must not have left silently.

use std::collections::BTreeSet;

use crate::analysis::Analysis;
use crate::git::{GitError, Oid, Repo};
use crate::kept::Kept;
use crate::source::PROJECT_FILE;
use crate::text::RepoPath;

use super::alike::{are_alike, ids_now, ids_of};
use super::folder::goes_on;
use super::past::{Left, left};
use super::then::Then;

/// An original as a commit held it last.
pub(super) struct Original<'n> {
    /// What it held that is not the same now.
    pub(super) then: Then<'n>,
    /// That commit, in a few letters.
    pub(super) name: String,
    /// What had left it before.
    pub(super) left: Left,
}

/// The originals that are gone, each in every commit after which it was removed.
///
/// # Errors
/// If git cannot answer.
pub(super) fn originals<'n>(
    repo: &Repo,
    from: Oid,
    twins: &BTreeSet<String>,
    (now, kept): (&'n Analysis, &Kept),
    is_here: impl Fn(&RepoPath) -> Result<bool, GitError>,
) -> Result<Vec<Original<'n>>, GitError> {
    let mut found = Vec::new();
    for folder in twins {
        let project = if folder.is_empty() { PROJECT_FILE.to_string() } else { format!("{folder}/{PROJECT_FILE}") };
        let project = RepoPath::new(project);
        if is_here(&project)? {
            continue;
        }
        for oid in last_with(repo, from, &project)? {
            if are_alike(&ids_of(repo, oid, folder)?, &ids_now(now)) && !goes_on(repo, folder, oid, from)? {
                let left = left(repo, folder, oid, kept)?;
                found.push(Original { then: Then::read(repo, folder, oid, now)?, name: oid.short(), left });
            }
        }
    }
    Ok(found)
}

/// The newest of a commit and its ancestors that hold a file, none of them an ancestor of another.
fn last_with(repo: &Repo, from: Oid, path: &RepoPath) -> Result<Vec<Oid>, GitError> {
    let mut seen = BTreeSet::from([from]);
    let mut waiting = vec![from];
    let mut last = BTreeSet::new();
    while let Some(oid) = waiting.pop() {
        if repo.tree_file(oid, Repo::TOP, path)?.is_some() {
            last.insert(oid);
        } else {
            waiting.extend(repo.parents(oid)?.into_iter().filter(|parent| seen.insert(*parent)));
        }
    }
    let mut newest = Vec::new();
    for oid in &last {
        let mut behind = false;
        for other in last.iter().filter(|other| *other != oid) {
            behind = behind || repo.is_ancestor(*oid, *other)?;
        }
        if !behind {
            newest.push(*oid);
        }
    }
    Ok(newest)
}
