//! Which paths are in the project: everything on disk that git does not ignore, and everything that git tracks.

use std::collections::{BTreeSet, VecDeque};
use std::fs::FileType;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use rayon::prelude::*;

use super::WorkTree;
use super::ignores::Ignores;
use super::reading::{Kind, begins};
use crate::git::{FileMode, IndexEntry, IndexSnapshot};
use crate::source::rules::{self, Foreign, is_settings};
use crate::source::{Limits, PROJECT_FILE, SourceProblem};
use crate::text::RepoPath;

/// Paths found on disk.
#[derive(Debug, Default)]
pub(super) struct Listing {
    /// In path order.
    pub(super) paths: Vec<(RepoPath, Kind)>,
    /// Nested projects and submodules.
    pub(super) foreign: Foreign,
    pub(super) problems: Vec<SourceProblem>,
    /// Ignored files that would be the project's if they were not.
    ignored: Vec<RepoPath>,
    /// Folders with a repository of their own.
    repositories: Vec<String>,
}

/// A folder to be listed.
struct Pending {
    /// On disk.
    full: PathBuf,
    /// From the project's folder; empty for itself.
    path: String,
    depth: usize,
    ignores: Arc<Ignores>,
}

/// What a folder holds.
#[derive(Default)]
struct Held {
    paths: Vec<(RepoPath, Kind)>,
    folders: Vec<Pending>,
    ignored_folders: Vec<(PathBuf, String)>,
    ignored: Vec<RepoPath>,
    problems: Vec<SourceProblem>,
    nested_project: bool,
    repository: bool,
}

impl Listing {
    /// Lists the project's folder. Breadth first and without recursion: folders can be nested deeper than a stack.
    pub(super) fn make(tree: &WorkTree, limits: &Limits) -> Listing {
        let walk = Walk { prefix: &tree.prefix, limits };
        let mut listing = Listing::default();
        let mut ignored_folders = VecDeque::new();
        let mut level = match walk.start(tree) {
            Some(start) => vec![start],
            // Everything in an ignored folder is ignored.
            None => {
                ignored_folders.push_back((tree.root.clone(), String::new()));
                listing.add_project_file(tree);
                Vec::new()
            }
        };
        while !level.is_empty() && listing.paths.len() <= limits.files {
            let held: Vec<(String, Held)> =
                level.into_par_iter().map(|folder| (folder.path.clone(), walk.list(&folder))).collect();
            level = Vec::new();
            for (path, held) in held {
                level.extend(listing.add(path, held, limits, &mut ignored_folders));
            }
        }
        listing.paths.par_sort_by(|a, b| a.0.cmp(&b.0));
        listing.bound(limits);
        listing.look_through_ignored(ignored_folders, limits);
        listing
    }

    /// Whether it is all there is to the project's files: nothing nested, nothing ignored that counts, nothing amiss.
    pub(super) fn is_plain(&self) -> bool {
        self.problems.is_empty() && self.ignored.is_empty() && self.repositories.is_empty() && self.foreign.is_empty()
    }

    fn add(
        &mut self,
        path: String,
        held: Held,
        limits: &Limits,
        ignored_folders: &mut VecDeque<(PathBuf, String)>,
    ) -> Vec<Pending> {
        self.problems.extend(held.problems);
        if held.nested_project {
            self.foreign.add(&path);
            if !limits.allows_nested(&path) {
                self.problems.push(SourceProblem::NestedProject { path: RepoPath::new(path) });
            }
        } else if held.repository {
            self.repositories.push(path);
        }
        self.paths.extend(held.paths);
        self.ignored.extend(held.ignored);
        ignored_folders.extend(held.ignored_folders);
        held.folders
    }

    /// The project file is what makes the project, so it is read even where all is ignored.
    fn add_project_file(&mut self, tree: &WorkTree) {
        if let Ok(metadata) = tree.root.join(PROJECT_FILE).symlink_metadata() {
            self.paths.push((RepoPath::new(PROJECT_FILE), Kind::of(metadata.file_type())));
            self.ignored.push(RepoPath::new(PROJECT_FILE));
        }
    }

    fn bound(&mut self, limits: &Limits) {
        if self.paths.len() > limits.files {
            self.paths.truncate(limits.files);
            let last = self.paths.last().map_or_else(|| RepoPath::new(""), |(path, _)| path.clone());
            self.problems.push(SourceProblem::TooManyFiles { path: last, limit: limits.files });
        }
    }

    /// Looks for Markdown that begins with `+++` where git does not look. Shallow folders first, as a forgotten
    /// record lies there and a build's output does not; other repositories are not looked into.
    fn look_through_ignored(&mut self, mut waiting: VecDeque<(PathBuf, String)>, limits: &Limits) {
        let mut looked_at = 0;
        while let Some((full, path)) = waiting.pop_front() {
            let Ok(entries) = std::fs::read_dir(&full) else { continue };
            let room = limits.ignored_entries - looked_at;
            let mut names: Vec<(String, FileType)> = entries
                .flatten()
                .take(room + 1)
                .filter_map(|e| Some((e.file_name().into_string().ok()?, e.file_type().ok()?)))
                .collect();
            if names.len() > room {
                self.problems.push(SourceProblem::TooManyIgnored { path: RepoPath::new(path), looked_at });
                return;
            }
            looked_at += names.len();
            names.sort_by(|a, b| a.0.cmp(&b.0));
            let has =
                |name: &str| names.iter().any(|(found, kind)| found == name && !(kind.is_dir() && name != ".git"));
            if !path.is_empty() && has(PROJECT_FILE) {
                if !limits.allows_nested(&path) && !has(".git") {
                    self.problems.push(SourceProblem::NestedProject { path: RepoPath::new(path.as_str()) });
                }
                self.foreign.add(&path);
                continue;
            }
            if !path.is_empty() && has(".git") {
                continue;
            }
            for (name, kind) in names.into_iter().filter(|(name, _)| name != ".git") {
                let child = if path.is_empty() { name.clone() } else { format!("{path}/{name}") };
                if kind.is_dir() {
                    waiting.push_back((full.join(name), child));
                } else if is_forgotten(&full.join(name), &RepoPath::new(child.as_str()), kind) {
                    self.ignored.push(RepoPath::new(child));
                }
            }
        }
    }

    /// Tells submodules, which git knows of, from other repositories inside the project.
    pub(super) fn sort_out_repositories(&mut self, index: &IndexSnapshot, limits: &Limits) {
        let mut submodules = BTreeSet::new();
        for entry in index.entries.iter().filter(|entry| entry.mode == FileMode::Submodule) {
            let path = entry.path.as_str();
            submodules.insert(path);
            if !self.foreign.holds(path) && !limits.allows_nested(path) {
                self.problems.push(SourceProblem::Submodule { path: entry.path.clone() });
            }
        }
        for path in submodules {
            self.foreign.add(path);
        }
        for path in std::mem::take(&mut self.repositories) {
            if !self.foreign.holds(&path) && !limits.allows_nested(&path) {
                self.problems.push(SourceProblem::NestedRepository { path: RepoPath::new(path) });
            }
        }
    }

    /// Tracked paths that the walk passed by although they are on disk, because they are ignored.
    pub(super) fn tracked_but_unlisted(&self, root: &Path, absent: &[&IndexEntry]) -> Vec<(RepoPath, Kind)> {
        let mut found = Vec::new();
        // Entries come folder by folder, so the last answer nearly always is the next one too.
        let mut last_folder: Option<(&str, bool)> = None;
        for entry in absent.iter().filter(|entry| entry.mode != FileMode::Submodule) {
            let path = &entry.path;
            if self.foreign.holds(path.as_str()) || path.as_str().contains('\u{fffd}') {
                continue;
            }
            let real = match last_folder {
                Some((folder, real)) if folder == path.folder() => real,
                _ => is_real_folder(root, path.folder()),
            };
            last_folder = Some((path.folder(), real));
            if let Ok(metadata) = root.join(path.as_str()).symlink_metadata()
                && real
                && !metadata.is_dir()
            {
                found.push((path.clone(), Kind::of(metadata.file_type())));
            }
        }
        found
    }

    /// Ignored files are a problem only if git does not track them all the same.
    pub(super) fn keep_untracked_ignored(&mut self, index: &IndexSnapshot) {
        for path in std::mem::take(&mut self.ignored) {
            let tracked = index.entries.binary_search_by(|entry| entry.path.cmp(&path)).is_ok();
            if !tracked && !self.foreign.holds(path.as_str()) {
                self.problems.push(SourceProblem::IgnoredProjectFile { path });
            }
        }
    }
}

struct Walk<'a> {
    prefix: &'a str,
    limits: &'a Limits,
}

impl Walk<'_> {
    /// The project's folder with the rules around it; `None` if git ignores it.
    fn start(&self, tree: &WorkTree) -> Option<Pending> {
        let mut ignores = Ignores::of_repository(&tree.repo);
        let mut folder = tree.repo.workdir().to_owned();
        let mut path = String::new();
        for name in self.prefix.split('/').filter(|name| !name.is_empty()) {
            ignores = ignores.enter(&folder, if path.is_empty() { 0 } else { path.len() + 1 });
            folder.push(name);
            path = if path.is_empty() { name.to_owned() } else { format!("{path}/{name}") };
            if ignores.ignore(&path, true) {
                return None;
            }
        }
        Some(Pending { full: tree.root.clone(), path: String::new(), depth: 0, ignores })
    }

    fn list(&self, folder: &Pending) -> Held {
        let mut held = Held::default();
        let names = match names(&folder.full) {
            Ok(names) => names,
            Err(error) => {
                let path = RepoPath::new(folder.path.as_str());
                held.problems.push(SourceProblem::UnreadableFolder { path, reason: error.to_string() });
                return held;
            }
        };
        let is_top = folder.path.is_empty();
        let has = |name: &str, kind: fn(&FileType) -> bool| names.iter().any(|(found, k)| found == name && kind(k));
        held.nested_project = !is_top && has(PROJECT_FILE, |kind| !kind.is_dir());
        held.repository = !is_top && has(".git", |_| true);
        if held.nested_project || held.repository {
            return held;
        }
        // Paths from the top of the work tree are needed for the ignore rules only.
        let mut from_top = String::from(self.prefix);
        for part in [if self.prefix.is_empty() { "" } else { "/" }, &folder.path, if is_top { "" } else { "/" }] {
            from_top.push_str(part);
        }
        let base = from_top.len();
        let ignores = if has(".gitignore", FileType::is_file) {
            folder.ignores.enter(&folder.full, base)
        } else {
            Arc::clone(&folder.ignores)
        };
        for (name, kind) in &names {
            from_top.truncate(base);
            from_top.push_str(&name.to_string_lossy());
            let ignored = ignores.ignore(&from_top, kind.is_dir());
            self.file(folder, &ignores, name, *kind, ignored, &mut held);
        }
        held
    }

    /// Puts one entry of a folder where it belongs.
    fn file(
        &self,
        folder: &Pending,
        ignores: &Arc<Ignores>,
        name: &std::ffi::OsString,
        kind: FileType,
        ignored: bool,
        held: &mut Held,
    ) {
        let Some(utf8) = name.to_str() else {
            if !ignored {
                let path = child(&folder.path, &name.to_string_lossy());
                held.problems.push(SourceProblem::PathNotUtf8 { path: RepoPath::new(path) });
            }
            return;
        };
        if utf8 == ".git" {
            return;
        }
        let path = child(&folder.path, utf8);
        if kind.is_dir() {
            let full = folder.full.join(name);
            let depth = folder.depth + 1;
            if ignored {
                held.ignored_folders.push((full, path));
            } else if depth > self.limits.depth {
                held.problems.push(SourceProblem::TooDeep { path: RepoPath::new(path), limit: self.limits.depth });
            } else {
                held.folders.push(Pending { full, path, depth, ignores: Arc::clone(ignores) });
            }
            return;
        }
        let path = RepoPath::new(path);
        if !ignored {
            held.paths.push((path, Kind::of(kind)));
            return;
        }
        if is_forgotten(&folder.full.join(name), &path, kind) {
            held.ignored.push(path.clone());
        }
        if is_settings(&path) {
            held.paths.push((path, Kind::of(kind)));
        }
    }
}

fn child(folder: &str, name: &str) -> String {
    if folder.is_empty() { name.to_owned() } else { format!("{folder}/{name}") }
}

/// What a folder holds, in order: few at a time are sorted in less than all together.
fn names(folder: &Path) -> std::io::Result<Vec<(std::ffi::OsString, FileType)>> {
    let names = std::fs::read_dir(folder)?.map(|entry| {
        let entry = entry?;
        Ok((entry.file_name(), entry.file_type()?))
    });
    let mut names = names.collect::<std::io::Result<Vec<_>>>()?;
    names.sort_unstable_by(|a, b| a.0.cmp(&b.0));
    Ok(names)
}

/// Whether an ignored file is one that somebody will look for in vain.
fn is_forgotten(full: &Path, path: &RepoPath, kind: FileType) -> bool {
    is_settings(path)
        || (kind.is_file() && path.is_markdown() && begins(full, rules::is_fenced))
        || (kind.is_file() && rules::misplaced(path, |asked| begins(full, asked)).is_some())
}

/// Whether every part of `folder` (relative to `root`) is a folder itself and no symlink.
pub(super) fn is_real_folder(root: &Path, folder: &str) -> bool {
    let mut full = root.to_owned();
    folder.split('/').filter(|part| !part.is_empty()).all(|part| {
        full.push(part);
        full.symlink_metadata().is_ok_and(|metadata| metadata.is_dir())
    })
}
