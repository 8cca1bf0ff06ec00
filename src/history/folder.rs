//! Where the project stood before its folder was moved.
//!
//! A project whose whole folder was moved takes its past along: it is the one that is not where it was any more, and whose
//! files are here. A project that is new, or that was copied from one that still stands, has no past before itself.
//!
//! [`look_back`] finds that out for every commit up to one and tells the repository ([`Repo::stood_in`]), so that all who ask for
//! the project in a commit are answered from where it stood then. It costs nothing where the project file was never moved: what
//! shows that it was are the differences that looking back needs in any case.

use std::collections::BTreeSet;
use std::sync::{Arc, Mutex, PoisonError};

use foldhash::{HashMap, HashMapExt, HashSet};

use crate::analysis::Analysis;
use crate::git::{FileChange, GitError, Oid, Repo};
use crate::source::{PROJECT_FILE, Revision, SourceError};

use super::alike::{are_alike, copied_from, folder_before, folder_then, holds, ids_of, is_around};
use super::trail::{Node, side_by_side};

/// A commit in which a project begins in its folder, and the parent that does not have it there.
pub(super) type Begin = (Oid, Oid);

/// Whether a project begins with these changes of its folder, or may have come in the place of another.
pub(super) fn may_begin(changes: &[FileChange]) -> bool {
    changes.iter().any(|change| change.new.is_some() && change.path.as_str() == PROJECT_FILE)
}

/// Whether a project began with what a commit did to its folder, or came in the place of another.
///
/// # Errors
/// If git cannot answer.
pub(super) fn began(repo: &Repo, (commit, parent): Begin, changes: &[FileChange]) -> Result<bool, GitError> {
    let is_new = |change: &FileChange| change.old.is_none() && change.path.as_str() == PROJECT_FILE;
    Ok(changes.iter().any(is_new) || (may_begin(changes) && any_went(repo, commit, parent, "")?))
}

/// The project as a commit holds it, wherever it stood then.
///
/// # Errors
/// [`SourceError::NoProjectInCommit`] if it held none that this one goes on from, or what git reports.
pub fn revision(repo: &Arc<Repo>, oid: Oid, prefix: &str) -> Result<Revision, SourceError> {
    match Revision::open(repo.clone(), oid, prefix) {
        Err(SourceError::NoProjectInCommit { .. }) if look_back(repo, prefix, repo.head()?)? => {
            Revision::open(repo.clone(), oid, prefix)
        }
        other => other,
    }
}

/// Compares every commit up to `end` with its parents, so that all who look back find that done, and follows the project to where
/// it stood; whether it stood elsewhere in commits of which that was not known.
///
/// # Errors
/// If git cannot answer about the commits themselves.
pub fn look_back(repo: &Repo, prefix: &str, end: Option<Oid>) -> Result<bool, GitError> {
    let ends: Arc<Ends> = repo.aside();
    let Some(end) = end.filter(|end| !ends.has(*end, prefix)) else { return Ok(false) };
    let begun = begun(repo, prefix, end)?;
    let any = follow(repo, prefix, end, &begun)?;
    ends.add(end, prefix);
    Ok(any)
}

/// Where the project begins in its folder, in a commit or one before it.
fn begun(repo: &Repo, prefix: &str, end: Oid) -> Result<Vec<Begin>, GitError> {
    let compare = |repo: &Repo, node: &Node| {
        let begins = |parent: &&Oid| -> bool {
            // What cannot be compared is told by whoever asks for it.
            repo.changes_between(**parent, node.oid, prefix).is_ok_and(|changes| may_begin(&changes))
        };
        node.parents.iter().filter(begins).map(|parent| (node.oid, *parent)).collect::<Vec<Begin>>()
    };
    Ok(side_by_side(repo, &Node::up_to(repo, end)?, compare)?.into_iter().flatten().collect())
}

/// Commits up to which a project was looked back to, each with the project's folder.
#[derive(Default)]
struct Ends(Mutex<HashSet<(Oid, String)>>);

impl Ends {
    fn has(&self, end: Oid, prefix: &str) -> bool {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).contains(&(end, prefix.to_string()))
    }

    fn add(&self, end: Oid, prefix: &str) {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).insert((end, prefix.to_string()));
    }
}

/// Copies that were followed to what they were made of: by folder, with the commit and the folder of the original.
#[derive(Default)]
pub(super) struct Copies(Mutex<BTreeSet<(String, Oid, String)>>);

impl Copies {
    fn add(&self, prefix: &str, commit: Oid, original: &str) {
        let copy = (prefix.to_string(), commit, original.to_string());
        self.0.lock().unwrap_or_else(PoisonError::into_inner).insert(copy);
    }

    /// Those of one project, as a word: what is known of its past hangs on them, and they hang on which commit is asked about.
    pub(super) fn of(&self, prefix: &str) -> String {
        let all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let own = all.iter().filter(|(folder, ..)| folder == prefix);
        own.map(|(_, commit, original)| format!("{commit}:{original}\n")).collect()
    }
}

/// The same where the whole folder was moved on disk, and the commit that is checked out does not have that yet.
///
/// # Errors
/// If git cannot answer.
pub fn look_back_from_disk(repo: &Repo, prefix: &str, head: Oid, now: &Analysis) -> Result<(), GitError> {
    if !holds(repo, head, prefix)? {
        let folder = folder_then(repo, prefix, head, now, |path| Ok(repo.is_on_disk(path)))?;
        if folder != prefix {
            spread(repo, prefix, head, folder)?;
        }
    }
    Ok(())
}

/// Follows the project, from where it begins up to a commit, to where it stood before; whether it stood elsewhere in commits of
/// which that was not known.
///
/// # Errors
/// If git cannot answer.
pub(super) fn follow(repo: &Repo, prefix: &str, end: Oid, begun: &[Begin]) -> Result<bool, GitError> {
    let moved = follow_moves(repo, prefix, begun)?;
    Ok(follow_copies(repo, prefix, end, begun)? || moved)
}

/// Follows it to where it was moved from.
fn follow_moves(repo: &Repo, prefix: &str, begun: &[Begin]) -> Result<bool, GitError> {
    let mut any = false;
    for (commit, parent) in begun {
        if repo.folder_in(*parent, prefix) == prefix {
            let before = stood_before(repo, (*commit, prefix), *parent)?;
            any |= before != prefix && spread(repo, prefix, *parent, before)?;
        }
    }
    Ok(any)
}

/// Follows it to what it was copied from, where that is gone by the commit that is asked about: until then that was its past.
fn follow_copies(repo: &Repo, prefix: &str, end: Oid, begun: &[Begin]) -> Result<bool, GitError> {
    let mut any = false;
    for (commit, parent) in begun {
        // What an original takes to be found is looked at only where a project is gone since.
        let begins_here = repo.folder_in(*parent, prefix) == prefix && !holds(repo, *parent, prefix)?;
        if !begins_here || !any_went(repo, end, *commit, "")? {
            continue;
        }
        for twin in copied_from(repo, (*commit, prefix), *parent)? {
            let alike = || Ok(are_alike(&ids_of(repo, *parent, &twin)?, &ids_of(repo, end, prefix)?));
            if !holds(repo, end, &twin)? && alike()? && !goes_on(repo, &twin, *parent, end)? {
                let copies: Arc<Copies> = repo.aside();
                copies.add(prefix, *commit, &twin);
                any |= spread(repo, prefix, *parent, twin)?;
                break;
            }
        }
    }
    Ok(any)
}

/// Whether a project that an earlier commit held in a folder was moved since, and stands elsewhere in a commit: then it is not gone.
///
/// # Errors
/// If git cannot answer.
pub(super) fn goes_on(repo: &Repo, folder: &str, then: Oid, commit: Oid) -> Result<bool, GitError> {
    let listed = repo.tree_files(commit, Repo::TOP)?;
    for file in listed.iter().filter(|file| file.path.file_name() == PROJECT_FILE) {
        let other = file.path.folder();
        if repo.tree_file(then, Repo::TOP, &file.path)?.is_none() {
            follow_moves(repo, other, &begun(repo, other, commit)?)?;
            if repo.folder_in(then, other) == folder {
                return Ok(true);
            }
        }
    }
    Ok(false)
}

/// Notes that the project stood in a folder in a commit and in those before it, and where it stood before it began there; whether
/// that was not known of any.
fn spread(repo: &Repo, prefix: &str, from: Oid, folder: String) -> Result<bool, GitError> {
    let mut stood: HashMap<Oid, Arc<str>> = HashMap::new();
    let mut waiting: Vec<(Oid, Arc<str>)> = vec![(from, folder.into())];
    while let Some((oid, folder)) = waiting.pop() {
        let known = stood.contains_key(&oid) || repo.folder_in(oid, prefix) != prefix;
        // Where it is not there, what stands where it does now may be what it came from; else that is another project.
        if known || *folder == *prefix || (!holds(repo, oid, &folder)? && holds(repo, oid, prefix)?) {
            continue;
        }
        for parent in repo.parents(oid)? {
            let begins = may_begin(&repo.changes_between(parent, oid, &folder)?);
            let before = if begins { stood_before(repo, (oid, &folder), parent)?.into() } else { Arc::clone(&folder) };
            waiting.push((parent, before));
        }
        stood.insert(oid, folder);
    }
    let any = !stood.is_empty();
    repo.stood_in(prefix, stood);
    Ok(any)
}

/// As [`folder_before`]; the files of a commit are listed only if a project may be gone from where it was before.
fn stood_before(repo: &Repo, new: (Oid, &str), before: Oid) -> Result<String, GitError> {
    if any_went(repo, new.0, before, new.1)? {
        return folder_before(repo, new, before);
    }
    Ok(new.1.to_string())
}

/// Whether a commit took a project from where an earlier one has it, or may have left no more than its file there: that of a project
/// around the folder must name what stands in it. Around the top, `""`, there is none.
fn any_went(repo: &Repo, commit: Oid, parent: Oid, folder: &str) -> Result<bool, GitError> {
    let went = |change: &FileChange| {
        let is_project = change.old.is_some() && change.path.file_name() == PROJECT_FILE;
        is_project && (change.new.is_none() || is_around(change.path.folder(), folder))
    };
    Ok(repo.changes_between(parent, commit, Repo::TOP)?.iter().any(went))
}
