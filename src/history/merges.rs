//! What a merge did itself, beyond what the lines of work did that it joins.
//!
//! A merge that was made by rote is nobody's change: what it brings was done on one side or the other, and is told there.
//! It did something itself where the result is not what the sides and the commit that they parted from give: a conflict,
//! however it was settled; words of its own; or one side's change thrown away. This is decided by thing, not by file, so
//! that one that moved on one side and was edited on the other is nobody's either.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use crate::git::{CommitInfo, FileChange, FileMode, GitError, Oid, Repo};
use crate::source::{PROJECT_FILE, is_settings};
use crate::text::RepoPath;

use super::blobs::text_of;
use super::keys::{self, Flat, Told};
use super::leaf::Leaf;
use super::own::is_ours;

/// The things that a merge changed itself.
#[derive(Default)]
pub(super) struct Mix {
    /// Things in files, by id.
    pub(super) things: BTreeMap<String, Made>,
    /// Names in settings files, each with its file's path.
    pub(super) settings: BTreeSet<(RepoPath, String)>,
}

/// What a merge made of a thing, beside the first parent that held it otherwise: with other words, unless it only stands
/// elsewhere.
pub(super) struct Made {
    /// Which parent that is, from 0.
    pub(super) parent: usize,
    /// Where the thing stood there, and the blob; none: it was not there.
    pub(super) old: Option<(RepoPath, Oid)>,
    /// Where it stands after the merge.
    pub(super) new: Option<(RepoPath, Oid)>,
}

/// What stands at a path.
type Entry = Option<(FileMode, Oid)>;

/// The files of things that a merge changed itself, each seen from the first parent that held it otherwise; and what is
/// in them. Files for which `is_foreign` holds are another project's.
///
/// # Errors
/// If a tree is missing or malformed.
pub(super) fn merged(
    repo: &Repo,
    prefix: &str,
    commit: &CommitInfo,
    is_foreign: impl FnMut(&RepoPath) -> Result<bool, GitError>,
) -> Result<(Vec<FileChange>, Mix), GitError> {
    let files = Files::read(repo, prefix, commit, is_foreign)?;
    let doubtful = files.doubtful();
    if doubtful.is_empty() {
        return Ok((Vec::new(), Mix::default()));
    }
    let versions = Versions::read(repo, &files, &doubtful);
    let mut mix = Mix::default();
    let mut wanted: BTreeSet<(usize, &RepoPath)> = BTreeSet::new();
    for id in versions.ids() {
        let Some(made) = versions.thing(id).made() else { continue };
        let places = [&made.old, &made.new].into_iter().flatten();
        wanted.extend(places.filter_map(|(path, _)| files.paths.get(path)).map(|path| (made.parent, path)));
        mix.things.insert(id.clone(), made);
    }
    for path in doubtful {
        let entries = files.at(path);
        let own = if is_settings(path) {
            let names = names_in(repo, path, &entries);
            mix.settings.extend(names.iter().map(|name| (path.clone(), name.clone())));
            !names.is_empty()
        } else {
            // What cannot be read at all is the merge's own if no parent had it.
            versions.is_unread(path) && entries.parents.iter().all(|entry| *entry != entries.result)
        };
        if own {
            let other = entries.parents.iter().position(|entry| *entry != entries.result);
            wanted.extend(other.map(|parent| (parent, path)));
        }
    }
    let mut changes: Vec<FileChange> =
        wanted.into_iter().filter_map(|(parent, path)| find(&files.parents[parent], path)).cloned().collect();
    changes.sort_by(|a, b| a.path.cmp(&b.path));
    changes.dedup_by(|a, b| a.path == b.path);
    Ok((changes, mix))
}

/// What the parents, and the commit that they parted from, have otherwise than the merge.
struct Files {
    base: Vec<FileChange>,
    parents: Vec<Vec<FileChange>>,
    /// The project's files among them.
    paths: BTreeSet<RepoPath>,
}

impl Files {
    fn read(
        repo: &Repo,
        prefix: &str,
        commit: &CommitInfo,
        mut is_foreign: impl FnMut(&RepoPath) -> Result<bool, GitError>,
    ) -> Result<Files, GitError> {
        let from = |parent: Option<Oid>| repo.changed_files(parent, commit.oid, prefix);
        let parents: Result<Vec<_>, _> = commit.parents.iter().map(|parent| from(Some(*parent))).collect();
        let (base, parents) = (from(repo.common_ancestor(&commit.parents)?)?, parents?);
        let mut paths = BTreeSet::new();
        for change in parents.iter().chain([&base]).flatten().filter(|change| is_ours(change)) {
            if !paths.contains(&change.path) && !is_foreign(&change.path)? {
                paths.insert(change.path.clone());
            }
        }
        Ok(Files { base, parents, paths })
    }

    /// What stands at a path in every version.
    fn at(&self, path: &RepoPath) -> Mixed<Entry> {
        let result = self.parents.iter().chain([&self.base]).find_map(|list| find(list, path)).and_then(|it| it.new);
        let held = |list: &[FileChange]| find(list, path).map_or(result, |change| change.old);
        Mixed { base: held(&self.base), parents: self.parents.iter().map(|list| held(list)).collect(), result }
    }

    /// Paths at which the merge did something itself, or which several sides changed, if in the same way: a thing that was
    /// taken from there may have gone different ways.
    fn doubtful(&self) -> Vec<&RepoPath> {
        let is_doubtful = |path: &&RepoPath| {
            let entries = self.at(path);
            let changed = entries.parents.iter().filter(|entry| **entry != entries.base).count();
            !entries.is_explained() || (changed > 1 && entries.base.is_some() && !is_settings(path))
        };
        self.paths.iter().filter(is_doubtful).collect()
    }
}

/// The change of a path in a list that is in their order.
fn find<'c>(list: &'c [FileChange], path: &RepoPath) -> Option<&'c FileChange> {
    list.binary_search_by(|change| change.path.cmp(path)).ok().map(|at| &list[at])
}

/// One thing, or part of one, in all versions that a merge has to do with.
struct Mixed<T> {
    base: T,
    parents: Vec<T>,
    result: T,
}

impl<T: PartialEq> Mixed<T> {
    /// Whether the result is what the sides give: what one side changed, or several in the same way, else what was there.
    fn is_explained(&self) -> bool {
        let mut moved = self.parents.iter().filter(|side| **side != self.base);
        match moved.next() {
            None => self.result == self.base,
            Some(first) => moved.all(|other| other == first) && self.result == *first,
        }
    }
}

impl<T> Mixed<T> {
    fn map<'s, U>(&'s self, to: impl Fn(&'s T) -> U) -> Mixed<U> {
        Mixed { base: to(&self.base), parents: self.parents.iter().map(&to).collect(), result: to(&self.result) }
    }
}

/// The text of a version, if it can be read.
fn text(repo: &Repo, entry: &Entry) -> Option<Arc<str>> {
    let (mode, oid) = (*entry)?;
    if matches!(mode, FileMode::Symlink | FileMode::Submodule) {
        return None;
    }
    text_of(repo, oid).ok()
}

/// Names in a settings file of what is not explained by the sides.
fn names_in(repo: &Repo, path: &RepoPath, entries: &Mixed<Entry>) -> Vec<String> {
    let texts = entries.map(|entry| text(repo, entry).unwrap_or_default());
    if path.as_str() == PROJECT_FILE {
        let flat = texts.map(|text| keys::settings(text));
        return if fields_are_explained(&flat) { Vec::new() } else { vec![PROJECT_FILE.to_string()] };
    }
    let all = texts.map(|text| keys::entries(text));
    let sides = all.parents.iter().chain([&all.base, &all.result]);
    let names: BTreeSet<&String> = sides.flat_map(BTreeMap::keys).collect();
    let own = names.into_iter().filter(|name| !all.map(|side| side.get(*name).cloned()).is_explained());
    own.filter(|name| !fields_are_explained(&all.map(|side| side.get(*name).cloned().unwrap_or_default())))
        .cloned()
        .collect()
}

/// A thing's file in one version.
#[derive(Clone)]
struct Held {
    path: RepoPath,
    oid: Oid,
    text: Arc<str>,
}

/// The things in the files that are in doubt.
struct Versions {
    things: Mixed<BTreeMap<String, Held>>,
    /// Paths at which the result has a file that cannot be read.
    unread: BTreeSet<RepoPath>,
}

impl Versions {
    fn read(repo: &Repo, files: &Files, doubtful: &[&RepoPath]) -> Versions {
        let none = BTreeMap::new;
        let parents = files.parents.iter().map(|_| none()).collect();
        let mut versions =
            Versions { things: Mixed { base: none(), parents, result: none() }, unread: BTreeSet::new() };
        for path in doubtful.iter().filter(|path| !is_settings(path)) {
            versions.add(repo, path, &files.at(path), |_| true);
        }
        let ids: BTreeSet<String> = versions.ids().into_iter().cloned().collect();
        // What is not there in every version may stand in another file that is as one side left it.
        if versions.sides().any(|side| side.len() < ids.len()) {
            let known: BTreeSet<&RepoPath> = doubtful.iter().copied().collect();
            for path in files.paths.iter().filter(|path| !is_settings(path) && !known.contains(path)) {
                versions.add(repo, path, &files.at(path), |id| ids.contains(id));
            }
        }
        versions
    }

    /// Takes up what stands at a path, if it is wanted.
    fn add(&mut self, repo: &Repo, path: &RepoPath, entries: &Mixed<Entry>, wanted: impl Fn(&str) -> bool) {
        let read = |entry: &Entry, into: &mut BTreeMap<String, Held>| {
            let Some(((_, oid), text)) = entry.zip(text(repo, entry)) else { return false };
            let leaf = Leaf::of(&text);
            let whole = leaf.trouble.is_none();
            let Some(id) = leaf.likely_id(&text).filter(|id| wanted(id)) else { return whole };
            into.entry(id.to_string()).or_insert(Held { path: path.clone(), oid, text });
            whole
        };
        read(&entries.base, &mut self.things.base);
        for (entry, into) in entries.parents.iter().zip(&mut self.things.parents) {
            read(entry, into);
        }
        if !read(&entries.result, &mut self.things.result) && entries.result.is_some() {
            self.unread.insert(path.clone());
        }
    }

    fn sides(&self) -> impl Iterator<Item = &BTreeMap<String, Held>> {
        self.things.parents.iter().chain([&self.things.base, &self.things.result])
    }

    fn ids(&self) -> BTreeSet<&String> {
        self.sides().flat_map(BTreeMap::keys).collect()
    }

    fn thing(&self, id: &str) -> Thing<'_> {
        Thing(Mixed {
            base: self.things.base.get(id),
            parents: self.things.parents.iter().map(|side| side.get(id)).collect(),
            result: self.things.result.get(id),
        })
    }

    fn is_unread(&self, path: &RepoPath) -> bool {
        self.unread.contains(path)
    }
}

/// One thing in every version.
struct Thing<'v>(Mixed<Option<&'v Held>>);

impl<'v> Thing<'v> {
    /// What the merge did to it itself; none if a merge by rote gives the same.
    fn made(&self) -> Option<Made> {
        let place = |held: &Option<&'v Held>| held.map(|held| (held.path.clone(), held.oid));
        let text = |held: &Option<&'v Held>| held.map(|held| held.oid);
        let Mixed { parents, result, .. } = &self.0;
        let parent = if !self.is_text_explained() {
            parents.iter().position(|held| text(held) != text(result))?
        } else if !self.0.map(|held| held.map(|held| &held.path)).is_explained() {
            parents.iter().position(|held| place(held) != place(result))?
        } else {
            return None;
        };
        Some(Made { parent, old: place(&parents[parent]), new: place(result) })
    }

    /// Whether what it says, wherever it stands, is what a merge by rote gives.
    ///
    /// What one side took away and another changed or moved, and what several brought differently, is a conflict as a whole.
    fn is_text_explained(&self) -> bool {
        if self.0.map(|held| held.map(|held| (&held.path, held.oid))).is_explained() {
            return true;
        }
        let Mixed { base, parents, result } = &self.0;
        if ![base, result].into_iter().chain(parents).all(Option::is_some) {
            return false;
        }
        let texts = self.0.map(|held| held.map_or("", |held| &*held.text));
        let fields = texts.map(|text| Told::of(text).flat());
        texts.is_explained() || (lines_are_explained(&texts) && fields_are_explained(&fields))
    }
}

/// Whether each key is what the sides give. Keys in a list that is counted are left to the comparison of lines: one that
/// comes before it changes its number.
fn fields_are_explained(flat: &Mixed<Flat>) -> bool {
    let sides = flat.parents.iter().chain([&flat.base, &flat.result]);
    let names: BTreeSet<&String> = sides.flat_map(BTreeMap::keys).filter(|name| !keys::is_counted(name)).collect();
    names.into_iter().all(|name| flat.map(|side| side.get(name)).is_explained())
}

/// Whether the lines, each counted, are those of the base with what each side added and took away.
fn lines_are_explained(texts: &Mixed<&str>) -> bool {
    let counted = texts.map(|text| {
        let mut lines: BTreeMap<&str, isize> = BTreeMap::new();
        for line in text.lines().map(str::trim).filter(|line| !line.is_empty()) {
            *lines.entry(line).or_default() += 1;
        }
        lines
    });
    let sides = counted.parents.iter().chain([&counted.base, &counted.result]);
    let lines: BTreeSet<&&str> = sides.flat_map(BTreeMap::keys).collect();
    lines.into_iter().all(|line| {
        let count = counted.map(|side| side.get(*line).copied().unwrap_or(0));
        let moves: BTreeSet<isize> = count.parents.iter().map(|side| side - count.base).filter(|it| *it != 0).collect();
        count.result == count.base + moves.iter().sum::<isize>()
    })
}
