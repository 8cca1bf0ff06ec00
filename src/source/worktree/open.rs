//! Finding a project from the folder that somebody stands in.

use std::collections::VecDeque;
use std::path::{Component, Path, PathBuf};
use std::sync::Arc;

use super::WorkTree;
use crate::git::{GitError, Repo};
use crate::source::{PROJECT_FILE, SourceError};

/// How far below the start is looked for projects to name in a message.
const HINT_DEPTH: usize = 3;
/// How many folders are opened for that.
const HINT_FOLDERS: usize = 500;

impl WorkTree {
    /// The project in exactly this folder.
    ///
    /// # Errors
    /// [`SourceError::NoProject`], [`SourceError::NotInGit`], or what the system or git reports.
    pub fn open(project_dir: &Path) -> Result<WorkTree, SourceError> {
        let root = folder(project_dir)?;
        let repo = discover(&root)?;
        if !has_project(&root) {
            return Err(SourceError::NoProject { nearest: below(&root), start: root });
        }
        WorkTree::at(Arc::new(repo), root.clone(), root)
    }

    /// The project that a folder lies in: the first folder with a project file from there upward, not past the top of
    /// the git work tree.
    ///
    /// # Errors
    /// [`SourceError::NoProject`], [`SourceError::NotInGit`], or what the system or git reports.
    pub fn find(given: &Path) -> Result<WorkTree, SourceError> {
        let start = folder(given)?;
        let repo = discover(&start)?;
        let top = repo.workdir().to_owned();
        let found = start.ancestors().take_while(|folder| folder.starts_with(&top)).find(|folder| has_project(folder));
        match found.map(Path::to_owned) {
            Some(root) => {
                let nearer = from_here(given, &start, &root);
                WorkTree::at(Arc::new(repo), root, nearer)
            }
            None => Err(SourceError::NoProject { nearest: below(&start), start }),
        }
    }

    fn at(repo: Arc<Repo>, root: PathBuf, nearer: PathBuf) -> Result<WorkTree, SourceError> {
        let inside = root.strip_prefix(repo.workdir()).unwrap_or(Path::new(""));
        let parts: Option<Vec<&str>> = inside.components().map(|part| part.as_os_str().to_str()).collect();
        let Some(parts) = parts else { return Err(SourceError::PathNotUtf8 { path: root }) };
        let prefix = parts.join("/");
        Ok(WorkTree { repo, root, nearer, prefix, texts: None })
    }
}

/// The shortest way to the project's folder: opening tens of thousands of files by their whole path costs the system a walk
/// through every folder above the project for each of them.
fn from_here(given: &Path, start: &Path, root: &Path) -> PathBuf {
    let up = start.strip_prefix(root).map(|below| below.components().count());
    match up {
        // A file, or a symlink, was named: what is above it by name is not what is above it.
        Ok(up) if given.is_relative() && given.components().all(|part| part == Component::CurDir) => {
            std::iter::once(Component::CurDir).chain(std::iter::repeat_n(Component::ParentDir, up)).collect()
        }
        _ => root.to_owned(),
    }
}

fn discover(start: &Path) -> Result<Repo, SourceError> {
    Repo::discover(start).map_err(|error| match error {
        GitError::NotARepository { .. } => SourceError::NotInGit { start: start.to_owned() },
        other => SourceError::Git(other),
    })
}

fn folder(path: &Path) -> Result<PathBuf, SourceError> {
    let refused = |error: std::io::Error| SourceError::Folder { path: path.to_owned(), reason: error.to_string() };
    let full = path.canonicalize().map_err(refused)?;
    if full.is_dir() {
        return Ok(full);
    }
    // Somebody named a file: what it lies in is meant.
    Ok(full.parent().map_or(full.clone(), Path::to_owned))
}

/// A project file of any sort counts here; one that cannot be read is said so later.
fn has_project(folder: &Path) -> bool {
    folder.join(PROJECT_FILE).symlink_metadata().is_ok_and(|metadata| !metadata.is_dir())
}

/// At most three projects below `start`, the nearest first, relative to it.
fn below(start: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut waiting = VecDeque::from([(start.to_owned(), 0)]);
    let mut opened = 0;
    while let Some((folder, depth)) = waiting.pop_front() {
        if depth > 0 && has_project(&folder) {
            found.push(folder.strip_prefix(start).unwrap_or(&folder).to_owned());
            continue;
        }
        opened += 1;
        if depth == HINT_DEPTH || opened > HINT_FOLDERS || found.len() >= 3 {
            continue;
        }
        let Ok(entries) = std::fs::read_dir(&folder) else { continue };
        let mut folders: Vec<PathBuf> = entries
            .flatten()
            .filter(|entry| entry.file_type().is_ok_and(|kind| kind.is_dir()) && entry.file_name() != ".git")
            .map(|entry| entry.path())
            .collect();
        folders.sort();
        waiting.extend(folders.into_iter().map(|folder| (folder, depth + 1)));
    }
    found.truncate(3);
    found
}
