//! Which of the projects that a commit holds one is like: which it was moved or copied from.

use std::collections::BTreeSet;

use crate::analysis::Analysis;
use crate::git::{GitError, Oid, Repo, TreeFile};
use crate::model::{Id, load};
use crate::source::PROJECT_FILE;
use crate::text::{FileId, RepoPath};

use super::blobs::text_of;
use super::then::blob;

/// Whether a commit holds the project.
///
/// # Errors
/// If git cannot answer.
pub(super) fn holds(repo: &Repo, oid: Oid, prefix: &str) -> Result<bool, GitError> {
    Ok(repo.tree_file(oid, prefix, &RepoPath::new(PROJECT_FILE))?.is_some())
}

/// The folder in which a commit held the project that stands in `prefix` now.
///
/// # Errors
/// If git cannot answer.
pub(super) fn folder_then(
    repo: &Repo,
    prefix: &str,
    oid: Oid,
    now: &Analysis,
    is_here: impl Fn(&RepoPath) -> Result<bool, GitError>,
) -> Result<String, GitError> {
    if holds(repo, oid, prefix)? {
        return Ok(repo.folder_in(oid, prefix).into_owned());
    }
    let blobs: BTreeSet<Oid> = now.snapshot.files.iter().filter_map(blob).collect();
    let here = Here { project: None, blobs, ids: &|| Ok(ids_now(now)) };
    moved_from(repo, prefix, oid, &here, is_here)
}

/// The ids of the present.
pub(super) fn ids_now(now: &Analysis) -> BTreeSet<Id> {
    now.model.ids().map(|(id, _)| id.clone()).collect()
}

/// The same for a commit in which a project begins in a folder, and the one before it.
///
/// # Errors
/// If git cannot answer.
pub(super) fn folder_before(repo: &Repo, new: (Oid, &str), before: Oid) -> Result<String, GitError> {
    let (commit, folder) = new;
    let ids = || ids_of(repo, commit, folder);
    let here = Here::of(repo, commit, folder, &ids)?;
    moved_from(repo, folder, before, &here, |path| Ok(repo.tree_file(commit, Repo::TOP, path)?.is_some()))
}

/// The folders of other projects that stand in a commit in which one begins and in the one before it, and that are like it: it
/// may have been copied from one of them.
///
/// # Errors
/// If git cannot answer.
pub(super) fn copied_from(repo: &Repo, new: (Oid, &str), before: Oid) -> Result<Vec<String>, GitError> {
    let (commit, folder) = new;
    let ids = || ids_of(repo, commit, folder);
    let here = Here::of(repo, commit, folder, &ids)?;
    let listed = repo.tree_files(before, Repo::TOP)?;
    let mut found = Vec::new();
    for file in listed.iter().filter(|file| file.path.file_name() == PROJECT_FILE) {
        let other = file.path.folder();
        if other == folder || repo.tree_file(commit, Repo::TOP, &file.path)?.is_none() {
            continue;
        }
        if here.shared(&listed, other) > 0 || are_alike(&ids_of(repo, before, other)?, &(here.ids)()?) {
            found.push(other.to_string());
        }
    }
    Ok(found)
}

/// What a project is known by.
struct Here<'h> {
    /// Its project file, where all of it is as a commit holds it.
    project: Option<Oid>,
    /// Its files.
    blobs: BTreeSet<Oid>,
    /// The ids in them, for when every file was touched.
    ids: &'h dyn Fn() -> Result<BTreeSet<Id>, GitError>,
}

impl<'h> Here<'h> {
    /// The project in a folder as a commit holds it.
    fn of(
        repo: &Repo,
        commit: Oid,
        folder: &str,
        ids: &'h dyn Fn() -> Result<BTreeSet<Id>, GitError>,
    ) -> Result<Here<'h>, GitError> {
        let files = repo.tree_files(commit, folder)?;
        let project = files.iter().find(|file| file.path.as_str() == PROJECT_FILE).map(|file| file.oid);
        Ok(Here { project, blobs: files.iter().map(|file| file.oid).collect(), ids })
    }

    /// How many of a folder's files are here.
    fn shared(&self, listed: &[TreeFile], folder: &str) -> usize {
        let own = listed.iter().filter(|file| file.path.is_markdown() && is_inside(&file.path, folder));
        own.filter(|file| self.blobs.contains(&file.oid)).count()
    }

    /// The same without the files of projects inside it.
    fn shared_apart(&self, listed: &[TreeFile], folder: &str) -> usize {
        apart(listed, folder).filter(|file| self.blobs.contains(&file.oid)).count()
    }
}

/// The folders of the projects among these files.
pub(super) fn projects(listed: &[TreeFile]) -> impl Iterator<Item = &str> {
    listed.iter().filter(|file| file.path.file_name() == PROJECT_FILE).map(|file| file.path.folder())
}

/// The Markdown files of a project in a folder, without those of projects inside it.
fn apart<'l>(listed: &'l [TreeFile], folder: &'l str) -> impl Iterator<Item = &'l TreeFile> {
    let inner: Vec<&str> = projects(listed).filter(|own| is_around(folder, own)).collect();
    let own = listed.iter().filter(move |file| file.path.is_markdown() && is_inside(&file.path, folder));
    own.filter(move |file| !inner.iter().any(|inner| is_inside(&file.path, inner)))
}

/// Whether another folder is around one.
pub(super) fn is_around(outer: &str, folder: &str) -> bool {
    outer != folder && (outer.is_empty() || folder.strip_prefix(outer).is_some_and(|rest| rest.starts_with('/')))
}

fn is_inside(path: &RepoPath, folder: &str) -> bool {
    folder.is_empty() || path.as_str().strip_prefix(folder).is_some_and(|rest| rest.starts_with('/'))
}

/// Whether two projects have many of their ids in common: half of the smaller one's.
pub(super) fn are_alike(one: &BTreeSet<Id>, other: &BTreeSet<Id>) -> bool {
    let common = one.intersection(other).count();
    common > 0 && 2 * common >= one.len().min(other.len())
}

/// The ids in the files of a project as a commit holds it, without those of projects inside it.
///
/// # Errors
/// If git cannot answer.
pub(super) fn ids_of(repo: &Repo, oid: Oid, folder: &str) -> Result<BTreeSet<Id>, GitError> {
    let files = repo.tree_files(oid, folder)?;
    let texts = apart(&files, "").filter(|file| file.utf8).filter_map(|file| text_of(repo, file.oid).ok());
    let entities = texts.filter_map(|text| load::load_one(FileId(0), &text).0);
    Ok(entities.map(|entity| entity.head().id.value.clone()).collect())
}

/// Whether more of the project's files went from a folder to here than stayed there: only its project file did, to name projects
/// inside.
fn is_left(
    repo: &Repo,
    listed: &[TreeFile],
    folder: &str,
    here: &Here<'_>,
    (prefix, is_here): (&str, impl Fn(&RepoPath) -> Result<bool, GitError>),
) -> Result<bool, GitError> {
    let (mut stayed, mut went) = (0, 0);
    for file in apart(listed, folder) {
        // What is in the new folder already has no way to go.
        let within = is_inside(&file.path, prefix);
        let stays = !within && is_here(&file.path)?;
        went += usize::from(!stays && here.blobs.contains(&file.oid));
        // What is no file of a project counts for nothing.
        stayed += usize::from(stays && text_of(repo, file.oid).is_ok_and(|text| text.starts_with("+++")));
    }
    Ok(went > stayed)
}

/// The folder of a project that a commit holds, that is gone from there now, and whose files are here, or else its ids; or
/// `prefix`.
fn moved_from(
    repo: &Repo,
    prefix: &str,
    oid: Oid,
    here: &Here<'_>,
    is_here: impl Fn(&RepoPath) -> Result<bool, GitError>,
) -> Result<String, GitError> {
    let listed = repo.tree_files(oid, Repo::TOP)?;
    let stands = projects(&listed).any(|folder| folder == prefix);
    let mut folders: Vec<&str> = Vec::new();
    for file in listed.iter().filter(|file| file.path.file_name() == PROJECT_FILE) {
        let folder = file.path.folder();
        let only_file_stays = || -> Result<bool, GitError> {
            Ok(!stands && is_around(folder, prefix) && is_left(repo, &listed, folder, here, (prefix, &is_here))?)
        };
        if !is_here(&file.path)? || only_file_stays()? {
            folders.push(folder);
        }
    }
    if folders.is_empty() {
        return Ok(prefix.to_string());
    }
    // What stood in its place is another project only if there is one that it is more like.
    let stayed = if stands { here.shared_apart(&listed, prefix) } else { 0 };
    let counted =
        folders.iter().map(|folder| (here.shared(&listed, folder), *folder)).filter(|(shared, _)| *shared > stayed);
    // Of a project and another inside it, the outer one shares as many; of others the most.
    let best = counted.max_by_key(|(shared, folder)| (*shared, std::cmp::Reverse(folder.len()), *folder));
    if let Some((_, folder)) = best {
        return Ok(folder.to_string());
    }
    let ids = (here.ids)()?;
    if stands && (stayed > 0 || are_alike(&ids_of(repo, oid, prefix)?, &ids)) {
        return Ok(prefix.to_string());
    }
    for folder in &folders {
        if are_alike(&ids_of(repo, oid, folder)?, &ids) {
            return Ok((*folder).to_string());
        }
    }
    let ahead = if stands { None } else { went_ahead(&listed, &folders, here, is_here)? };
    Ok(ahead.unwrap_or(prefix).to_string())
}

/// The one of these folders whose project file went ahead, and whose other files stand there still and will follow; of several the
/// one that has the same project file.
fn went_ahead<'l>(
    listed: &'l [TreeFile],
    folders: &[&'l str],
    here: &Here<'_>,
    is_here: impl Fn(&RepoPath) -> Result<bool, GitError>,
) -> Result<Option<&'l str>, GitError> {
    let mut left = Vec::new();
    for folder in folders {
        let own: Vec<bool> = apart(listed, folder).map(|file| is_here(&file.path)).collect::<Result<_, _>>()?;
        let stay = own.iter().filter(|stays| **stays).count();
        if 2 * stay > own.len() {
            left.push(*folder);
        }
    }
    if left.len() > 1 {
        let same = |file: &&TreeFile| file.path.file_name() == PROJECT_FILE && Some(file.oid) == here.project;
        let same: BTreeSet<&str> = listed.iter().filter(same).map(|file| file.path.folder()).collect();
        left.retain(|folder| same.contains(folder));
    }
    Ok(if let [one] = left[..] { Some(one) } else { None })
}
