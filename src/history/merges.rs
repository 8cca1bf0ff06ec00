//! What a merge did itself, beyond what the lines of work did that it joins.
//!
//! A merge that was made by rote is nobody's change: what it brings was done on one side or the other, and is told there.
//! It did something itself where the result is not what the sides and the commit that they parted from give: a conflict,
//! however it was settled; words of its own; or one side's change thrown away. This is decided by thing, not by file, so
//! that one that moved on one side and was edited on the other is nobody's either.

use std::collections::{BTreeMap, BTreeSet};

use crate::diag::Findings;
use crate::git::{CommitInfo, FileChange, FileMode, GitError, Oid, Repo};
use crate::parse::{Parsed, document};
use crate::source::{Limits, PROJECT_FILE};
use crate::text::{FileId, RepoPath};

use super::keys::{self, Flat};
use super::own::{is_ours, is_settings};

/// The things that a merge changed itself.
#[derive(Default)]
pub(super) struct Mix {
    /// Ids of things in files.
    pub(super) ids: BTreeSet<String>,
    /// Names in settings files, each with its file's path.
    pub(super) settings: BTreeSet<(RepoPath, String)>,
}

/// What stands at a path.
type Entry = Option<(FileMode, Oid)>;

/// The files of things that a merge changed itself, each seen from the first parent that held it otherwise; and what is
/// in them.
///
/// # Errors
/// If a tree is missing or malformed.
pub(super) fn merged(repo: &Repo, prefix: &str, commit: &CommitInfo) -> Result<(Vec<FileChange>, Mix), GitError> {
    let from = |parent: Option<Oid>| repo.changed_files(parent, commit.oid, prefix);
    let parents: Result<Vec<_>, _> = commit.parents.iter().map(|parent| from(Some(*parent))).collect();
    let parents = parents?;
    let base = from(repo.common_ancestor(&commit.parents))?;
    let paths: BTreeSet<&RepoPath> =
        parents.iter().flatten().filter(|change| is_ours(change)).map(|change| &change.path).collect();
    let unclear: Vec<&RepoPath> = paths.into_iter().filter(|path| !at(path, &base, &parents).is_explained()).collect();
    if unclear.is_empty() {
        return Ok((Vec::new(), Mix::default()));
    }
    let versions = Versions::read(repo, &unclear, &base, &parents);
    let mut mix = Mix::default();
    let mut wanted: BTreeSet<(usize, &RepoPath)> = BTreeSet::new();
    for id in versions.ids() {
        let thing = versions.thing(id);
        if !thing.is_clean() {
            mix.ids.insert(id.clone());
            wanted.extend(thing.seen_from());
        }
    }
    for path in unclear {
        let entries = at(path, &base, &parents);
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
    let find = |(parent, path): (usize, &RepoPath)| parents[parent].iter().find(|change| change.path == *path).cloned();
    let mut changes: Vec<FileChange> = wanted.into_iter().filter_map(find).collect();
    changes.sort_by(|a, b| a.path.cmp(&b.path));
    changes.dedup_by(|a, b| a.path == b.path);
    Ok((changes, mix))
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

/// What stands at a path in every version.
fn at(path: &RepoPath, base: &[FileChange], parents: &[Vec<FileChange>]) -> Mixed<Entry> {
    let find = |list: &'_ [FileChange]| list.binary_search_by(|change| change.path.cmp(path)).ok();
    let result = parents.iter().find_map(|list| find(list).map(|at| list[at].new)).flatten();
    let held = |list: &[FileChange]| find(list).map_or(result, |at| list[at].old);
    Mixed { base: held(base), parents: parents.iter().map(|list| held(list)).collect(), result }
}

/// The text of a version, if it can be read.
fn text(repo: &Repo, entry: &Entry) -> Option<String> {
    let (mode, oid) = (*entry)?;
    if matches!(mode, FileMode::Symlink | FileMode::Submodule) {
        return None;
    }
    String::from_utf8(repo.blob_at_most(oid, Limits::default().text_bytes).ok()?).ok()
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
    text: String,
}

/// The things in the files that are not explained as files.
struct Versions {
    things: Mixed<BTreeMap<String, Held>>,
    /// Paths at which the result has a file without a thing.
    unread: BTreeSet<RepoPath>,
}

impl Versions {
    fn read(repo: &Repo, paths: &[&RepoPath], base: &[FileChange], parents: &[Vec<FileChange>]) -> Versions {
        let none = BTreeMap::new;
        let mut things: Mixed<BTreeMap<String, Held>> =
            Mixed { base: none(), parents: parents.iter().map(|_| none()).collect(), result: none() };
        let mut unread = BTreeSet::new();
        for path in paths.iter().filter(|path| !is_settings(path)) {
            let entries = at(path, base, parents);
            let read = |entry: &Entry, into: &mut BTreeMap<String, Held>| {
                let Some(((_, oid), text)) = entry.zip(text(repo, entry)) else { return false };
                let Some(id) = id_in(&text) else { return false };
                into.entry(id).or_insert(Held { path: (*path).clone(), oid, text });
                true
            };
            read(&entries.base, &mut things.base);
            for (entry, into) in entries.parents.iter().zip(&mut things.parents) {
                read(entry, into);
            }
            if !read(&entries.result, &mut things.result) && entries.result.is_some() {
                unread.insert((*path).clone());
            }
        }
        Versions { things, unread }
    }

    fn ids(&self) -> BTreeSet<&String> {
        let sides = self.things.parents.iter().chain([&self.things.base, &self.things.result]);
        sides.flat_map(BTreeMap::keys).collect()
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

/// The id that a file's front matter says.
fn id_in(text: &str) -> Option<String> {
    match document(FileId(0), text, &mut Findings::new()) {
        Parsed::Document(document) => document.table.get("id")?.get_ref().as_str().map(str::to_string),
        Parsed::Other | Parsed::Broken => None,
    }
}

/// One thing in every version.
struct Thing<'v>(Mixed<Option<&'v Held>>);

impl<'v> Thing<'v> {
    /// Whether a merge by rote gives the same.
    fn is_clean(&self) -> bool {
        let whole = self.0.map(|side| side.map(|held| (held.path.clone(), held.oid)));
        if whole.is_explained() {
            return true;
        }
        let there = |side: &Option<&Held>| side.is_some();
        if !there(&self.0.result) || !self.0.parents.iter().all(there) {
            return false;
        }
        let path = self.0.map(|side| side.map(|held| &held.path));
        let texts = self.0.map(|side| side.map_or("", |held| held.text.as_str()));
        let fields = texts.map(|text| keys::file(text).0);
        path.is_explained() && lines_are_explained(&texts) && fields_are_explained(&fields)
    }

    /// The first parent that held it otherwise, with the paths from there to the result.
    fn seen_from(&self) -> Vec<(usize, &'v RepoPath)> {
        let side = |held: &Option<&'v Held>| held.map(|held| (&held.path, held.oid));
        let result = side(&self.0.result);
        let Some(parent) = self.0.parents.iter().position(|held| side(held) != result) else { return Vec::new() };
        let paths = [side(&self.0.parents[parent]), result];
        paths.into_iter().flatten().map(|(path, _)| (parent, path)).collect()
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
