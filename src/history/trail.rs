//! Which commit changed which of the project's files, and the versions of one thing along its files.
//!
//! Only trees are read to know what changed, and of the files only those of things that are asked about. A thing is followed
//! by its id: where its file comes up in a commit, what else that commit took away is looked through for it.

use std::cell::OnceCell;
use std::collections::BTreeSet;
use std::sync::Arc;

use foldhash::{HashMap, HashMapExt};
use rayon::prelude::*;

use crate::git::{FileChange, FileMode, GitError, Oid, Repo, TreeFile};
use crate::source::is_read;
use crate::text::RepoPath;

use super::blobs::{Blobs, Placed};
use super::own::is_ours;

/// Fewer than so many on each processor are done one after the other: to open a repository once more takes time too.
const LEAST: usize = 64;

/// What a commit did to a file.
#[derive(Clone, Debug)]
pub(super) struct Step {
    /// Position of the commit.
    pub(super) commit: usize,
    /// The file.
    pub(super) path: RepoPath,
    /// What it held; none: it was not there.
    pub(super) old: Option<Oid>,
    /// What it holds; none: it is gone.
    pub(super) new: Option<Oid>,
}

/// A commit and its parents.
#[derive(Clone, Debug)]
pub(super) struct Node {
    /// The commit.
    pub(super) oid: Oid,
    /// Its parents, the first one first.
    pub(super) parents: Vec<Oid>,
}

impl Node {
    /// Every commit up to one, parents first.
    ///
    /// # Errors
    /// If git cannot answer.
    pub(super) fn up_to(repo: &Repo, end: Oid) -> Result<Vec<Node>, GitError> {
        Ok(repo.lineage(end)?.into_iter().map(|(oid, parents)| Node { oid, parents }).collect())
    }
}

/// Every commit up to one, parents first, with what each did.
///
/// What a commit without parents brought is listed only once somebody asks for a file that may have come with it: most files of a
/// project are as its first commit brought them, and nobody asks.
pub(super) struct Trail<'r> {
    repo: &'r Repo,
    prefix: &'r str,
    /// The commits.
    pub(super) commits: Vec<Node>,
    /// Commits without parents, by position, each with the files that it brought once they were asked for.
    roots: Vec<(usize, OnceCell<Arc<[TreeFile]>>)>,
    /// What commits with parents did.
    steps: Vec<Step>,
    /// Where the steps of each commit begin.
    starts: Vec<usize>,
    /// Whether a commit touched nothing that was there before.
    only_added: Vec<bool>,
    by_path: HashMap<RepoPath, Vec<usize>>,
    /// Files by what a commit took away from them, for commits that were asked about.
    taken: HashMap<usize, HashMap<Oid, RepoPath>>,
    /// What merges left out that one side had and the others had not: nothing that a merge does itself.
    left_out: Vec<(RepoPath, Oid)>,
    /// Files that held an id once and were taken away, once they were asked for.
    gone: Option<HashMap<Arc<str>, BTreeSet<RepoPath>>>,
    /// Files that held an id and hold another now, or that are committed and not where the thing is on disk.
    elsewhere: HashMap<Arc<str>, BTreeSet<RepoPath>>,
}

/// What a thing said after a commit that touched its file.
#[derive(Clone)]
pub(super) struct Version {
    /// Position of the commit.
    pub(super) commit: usize,
    /// What stood there before; none: not this thing.
    pub(super) old: Option<Placed>,
    /// What it says; none: it is not there.
    pub(super) new: Option<Placed>,
}

impl Version {
    /// Whether the text is another than before.
    pub(super) fn is_edit(&self) -> bool {
        let text = |side: &Option<Placed>| side.as_ref().map(|placed| placed.file.text.clone());
        text(&self.old) != text(&self.new)
    }
}

impl<'r> Trail<'r> {
    /// Reads what every commit up to `end` did under a folder.
    ///
    /// # Errors
    /// If git cannot answer.
    pub(super) fn read(repo: &'r Repo, prefix: &'r str, end: Option<Oid>) -> Result<Trail<'r>, GitError> {
        let mut trail = Trail {
            repo,
            prefix,
            commits: Vec::new(),
            roots: Vec::new(),
            steps: Vec::new(),
            starts: vec![0],
            only_added: Vec::new(),
            by_path: HashMap::new(),
            taken: HashMap::new(),
            left_out: Vec::new(),
            gone: None,
            elsewhere: HashMap::new(),
        };
        let Some(end) = end else { return Ok(trail) };
        trail.commits = Node::up_to(repo, end)?;
        let first = trail.commits.iter().enumerate().filter(|(_, node)| node.parents.is_empty());
        trail.roots = first.map(|(at, _)| (at, OnceCell::new())).collect();
        let one = |repo: &Repo, node: &Node| changed(repo, prefix, node.oid, &node.parents);
        for (commit, changes) in side_by_side(repo, &trail.commits, one)?.into_iter().enumerate() {
            let (changes, left_out) = changes?;
            trail.left_out.extend(left_out);
            trail.only_added.push(changes.iter().all(|change| change.old.is_none()));
            for change in changes {
                trail.by_path.entry(change.path.clone()).or_default().push(trail.steps.len());
                let (old, new) = (change.old_blob(), change.new_blob());
                trail.steps.push(Step { commit, path: change.path, old, new });
            }
            trail.starts.push(trail.steps.len());
        }
        Ok(trail)
    }

    /// The blobs that a file ever held, some of them twice.
    pub(super) fn held(&self, path: &RepoPath) -> Result<Vec<Oid>, GitError> {
        Ok(self.of(path)?.iter().flat_map(|step| [step.old, step.new]).flatten().collect())
    }

    /// Notes that a thing stood in a file, for when its own file does not lead there.
    pub(super) fn stood_in(&mut self, id: Arc<str>, path: &RepoPath) {
        self.elsewhere.entry(id).or_default().insert(path.clone());
    }

    /// Whether a thing stood in a file to which its own does not lead.
    pub(super) fn stood_elsewhere(&self, id: &str) -> bool {
        self.elsewhere.contains_key(id)
    }

    /// The steps of a file, oldest first.
    ///
    /// # Errors
    /// If what the first commits brought cannot be listed.
    pub(super) fn of(&self, path: &RepoPath) -> Result<Vec<Step>, GitError> {
        let mut steps = Vec::new();
        for (commit, brought) in &self.roots {
            let files = match brought.get() {
                Some(files) => files,
                None => {
                    let files = self.repo.tree_files(self.commits[*commit].oid, self.prefix)?;
                    brought.get_or_init(|| files)
                }
            };
            // A name that is not UTF-8 may look like another one.
            let from = files.partition_point(|file| file.path < *path);
            let mut named = files[from..].iter().take_while(|file| file.path == *path);
            if let Some(file) = named.find(|file| is_plain(file) && is_read(path)) {
                steps.push(Step { commit: *commit, path: path.clone(), old: None, new: Some(file.oid) });
            }
        }
        steps.extend(self.later(path).cloned());
        steps.sort_by_key(|step| step.commit);
        Ok(steps)
    }

    /// What commits with parents did to a file, oldest first.
    fn later(&self, path: &RepoPath) -> impl ExactSizeIterator<Item = &Step> {
        let at: &[usize] = self.by_path.get(path).map_or(&[], Vec::as_slice);
        at.iter().map(|at| &self.steps[*at])
    }

    /// Whether a file was added once and never touched again, and its thing came from nowhere else.
    ///
    /// The file must be as the last commit holds it; that is for the caller to know. `false` where it would take a listing
    /// to tell.
    pub(super) fn is_untouched(&mut self, blobs: &mut Blobs<'_>, id: &str, path: &RepoPath) -> bool {
        let mut steps = self.later(path);
        let only_added = match (steps.next(), steps.len()) {
            (None, _) => true,
            // A commit that only added files took nothing from where it was.
            (Some(only), 0) => self.only_added[only.commit],
            _ => false,
        };
        drop(steps);
        // Of several first commits each may have brought another.
        only_added && self.roots.len() == 1 && !self.gone(blobs).contains_key(id) && !self.stood_elsewhere(id)
    }

    /// The first parent of a commit, by position.
    pub(super) fn before(&self, commit: usize) -> Option<Oid> {
        self.commits.get(commit).and_then(|node| node.parents.first().copied())
    }

    /// The steps of one commit.
    fn by(&self, commit: usize) -> &[Step] {
        &self.steps[self.starts[commit]..self.starts[commit + 1]]
    }

    /// Every file that ever held a thing, as far as it can be followed from the one it has now.
    ///
    /// # Errors
    /// If git cannot answer.
    pub(super) fn paths(
        &mut self,
        blobs: &mut Blobs<'_>,
        id: &str,
        now: Option<&RepoPath>,
    ) -> Result<BTreeSet<RepoPath>, GitError> {
        let mut found: BTreeSet<RepoPath> = now.cloned().into_iter().collect();
        found.extend(self.gone(blobs).get(id).cloned().into_iter().flatten());
        found.extend(self.elsewhere.get(id).cloned().into_iter().flatten());
        let mut waiting: Vec<RepoPath> = found.iter().cloned().collect();
        while let Some(path) = waiting.pop() {
            for step in self.of(&path)? {
                let came = match step.old {
                    None => true,
                    Some(old) => !holds(blobs, old, id),
                };
                // Where everything began there is nothing that it could have come from.
                if came && !self.commits[step.commit].parents.is_empty() {
                    let from = self.came_from(blobs, id, &step);
                    waiting.extend(from.into_iter().filter(|from| found.insert(from.clone())));
                }
            }
        }
        Ok(found)
    }

    /// The steps of every file that ever held a thing, oldest first.
    fn steps(&mut self, blobs: &mut Blobs<'_>, id: &str, now: Option<&RepoPath>) -> Result<Vec<Step>, GitError> {
        let mut steps = Vec::new();
        for path in self.paths(blobs, id, now)? {
            steps.extend(self.of(&path)?);
        }
        steps.sort_by_key(|step| step.commit);
        Ok(steps)
    }

    /// The file that held the thing before a commit put it where it is.
    fn came_from(&mut self, blobs: &mut Blobs<'_>, id: &str, step: &Step) -> Option<RepoPath> {
        let new = step.new?;
        let range = self.starts[step.commit]..self.starts[step.commit + 1];
        let steps = &self.steps[range];
        let taken = self.taken.entry(step.commit).or_insert_with(|| {
            let taken = steps.iter().filter(|own| own.new.is_none());
            taken.filter_map(|own| Some((own.old?, own.path.clone()))).collect()
        });
        if let Some(path) = taken.get(&new) {
            return Some(path.clone());
        }
        let mut others = steps.iter().filter(|own| own.path != step.path);
        others.find(|own| own.old.is_some_and(|old| holds(blobs, old, id))).map(|own| own.path.clone())
    }

    /// Files that were taken away for good, by what they held; of one that could not be read at the end, by what it held before.
    fn gone(&mut self, blobs: &mut Blobs<'_>) -> &HashMap<Arc<str>, BTreeSet<RepoPath>> {
        if self.gone.is_none() {
            let mut gone: HashMap<Arc<str>, BTreeSet<RepoPath>> = HashMap::new();
            for commit in 0..self.commits.len() {
                let steps = self.by(commit);
                let arrived = |blob: Oid| steps.iter().any(|own| own.new == Some(blob));
                for step in steps.iter().filter(|own| own.new.is_none() && own.path.is_markdown()) {
                    let Some(old) = step.old.filter(|old| !arrived(*old)) else { continue };
                    let mut held = vec![old];
                    if blobs.glance(old).id.is_none() {
                        held.extend(self.later(&step.path).filter_map(|own| own.old));
                    }
                    for id in held.into_iter().filter_map(|blob| blobs.glance(blob).id) {
                        gone.entry(id).or_default().insert(step.path.clone());
                    }
                }
            }
            for (path, blob) in &self.left_out {
                if let Some(id) = blobs.glance(*blob).id {
                    gone.entry(id).or_default().insert(path.clone());
                }
            }
            self.gone = Some(gone);
        }
        self.gone.get_or_insert_with(HashMap::new)
    }

    /// Every blob that held a thing, with the commit that put it there, oldest first.
    ///
    /// # Errors
    /// If git cannot answer.
    pub(super) fn blobs(
        &mut self,
        blobs: &mut Blobs<'_>,
        id: &str,
        now: Option<&RepoPath>,
    ) -> Result<Vec<(usize, Oid)>, GitError> {
        let steps = self.steps(blobs, id, now)?;
        let found = steps.into_iter().filter_map(|step| Some((step.commit, step.new?)));
        Ok(found.filter(|(_, blob)| holds(blobs, *blob, id)).collect())
    }

    /// What a thing said after each commit that touched its file, oldest first.
    ///
    /// # Errors
    /// If git cannot answer.
    pub(super) fn versions(
        &mut self,
        blobs: &mut Blobs<'_>,
        id: &str,
        now: Option<&RepoPath>,
    ) -> Result<Vec<Version>, GitError> {
        let mut versions: Vec<Version> = Vec::new();
        for step in self.steps(blobs, id, now)? {
            let mut side = |blob: Option<Oid>| {
                let blob = blob?;
                holds(blobs, blob, id).then(|| Placed { path: step.path.clone(), file: blobs.file(blob) })
            };
            let (old, new) = (side(step.old), side(step.new));
            if old.is_none() && new.is_none() {
                continue;
            }
            match versions.last_mut().filter(|last| last.commit == step.commit) {
                Some(last) => {
                    last.old = last.old.take().or(old);
                    last.new = last.new.take().or(new);
                }
                None => versions.push(Version { commit: step.commit, old, new }),
            }
        }
        Ok(versions)
    }

    /// What a thing said in a commit, whatever touched it last.
    ///
    /// # Errors
    /// If git cannot answer.
    pub(super) fn at(
        &mut self,
        blobs: &mut Blobs<'_>,
        (id, now): (&str, Option<&RepoPath>),
        commit: Oid,
    ) -> Result<Option<Placed>, GitError> {
        for path in self.paths(blobs, id, now)? {
            let Some(file) = self.repo.tree_file(commit, self.prefix, &path)? else { continue };
            if holds(blobs, file.oid, id) {
                return Ok(Some(Placed { path, file: blobs.file(file.oid) }));
            }
        }
        Ok(None)
    }
}

/// What `one` makes of each of many, a part of them on each processor, in their order.
///
/// # Errors
/// If the repository cannot be opened again.
pub(super) fn side_by_side<T: Sync, U: Send>(
    repo: &Repo,
    all: &[T],
    one: impl Fn(&Repo, &T) -> U + Sync,
) -> Result<Vec<U>, GitError> {
    let size = all.len().div_ceil(rayon::current_num_threads().max(1));
    if size < LEAST {
        return Ok(all.iter().map(|it| one(repo, it)).collect());
    }
    let part = |part: &[T]| repo.apart(|repo| part.iter().map(|it| one(repo, it)).collect::<Vec<U>>());
    let parts: Result<Vec<Vec<U>>, GitError> = all.par_chunks(size).map(part).collect();
    Ok(parts?.into_iter().flatten().collect())
}

fn is_plain(file: &TreeFile) -> bool {
    file.utf8 && matches!(file.mode, FileMode::File | FileMode::Executable)
}

fn holds(blobs: &mut Blobs<'_>, blob: Oid, id: &str) -> bool {
    blobs.glance(blob).id.as_deref() == Some(id)
}

/// What a commit did to the project's files, and of a merge what it left out.
type Did = (Vec<FileChange>, Vec<(RepoPath, Oid)>);

/// What a commit did to the project's files, seen from its first parent; of a merge only what it did itself, and apart from that
/// the Markdown that it has from none of its parents though one had it. Without parents it brought everything, which is not told here.
fn changed(repo: &Repo, prefix: &str, commit: Oid, parents: &[Oid]) -> Result<Did, GitError> {
    let Some((first, others)) = parents.split_first() else { return Ok(Did::default()) };
    let mut changes = repo.changed_files(Some(*first), commit, prefix)?;
    let mut left_out: Vec<(RepoPath, Oid)> = Vec::new();
    let absent = |change: &FileChange| {
        let old = change.old_blob().filter(|_| change.new.is_none() && change.utf8 && change.path.is_markdown());
        old.map(|old| (change.path.clone(), old))
    };
    if !others.is_empty() {
        left_out.extend(changes.iter().filter_map(absent));
    }
    for parent in others {
        let others = repo.changed_files(Some(*parent), commit, prefix)?;
        left_out.extend(others.iter().filter_map(absent));
        changes.retain(|change| others.binary_search_by(|other| other.path.cmp(&change.path)).is_ok());
    }
    changes.retain(|change| change.utf8 && is_ours(change));
    Ok((changes, left_out))
}
