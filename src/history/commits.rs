//! Which commits of a range touched what, and why they say they did.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use foldhash::HashMap;
use rayon::prelude::*;

use crate::analysis::Analysis;
use crate::git::{CommitInfo, FileChange, GitError, Oid, Repo};
use crate::model::Id;
use crate::model::kinds::Entity;
use crate::source::{INSTRUMENTS_FILE, PARAMETERS_FILE, PROJECT_FILE, is_settings};
use crate::text::RepoPath;

use super::alike::holds;
use super::blobs::{Blobs, text_of, worked_out};
use super::changes::CommitRef;
use super::folder::{began, look_back};
use super::keys;
use super::leaf::Leaf;
use super::learnt::Fronts;
use super::own::{Done, Own};

/// A file that could not be read, or not all of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UnreadableFile {
    /// The commit that left it so, or at which it was met so; none: the work tree.
    pub commit: Option<CommitRef>,
    /// The file.
    pub path: String,
    /// Why.
    pub why: String,
}

/// The commits of a range, oldest first, and what each touched.
#[derive(Default)]
pub(super) struct Touched {
    pub(super) commits: Vec<CommitInfo>,
    /// By thing; things of settings files as [`parameter`] and [`instrument`] name them.
    contents: BTreeMap<String, Vec<Touch>>,
    moves: BTreeMap<String, Vec<usize>>,
    pub(super) unreadable: Vec<UnreadableFile>,
    /// Commits whose parents a shallow clone has cut off: what they changed cannot be told.
    pub(super) cut_off: Vec<CommitRef>,
}

/// A commit, by position, and what it made of a thing's file.
#[derive(Clone, Debug)]
struct Touch {
    commit: usize,
    path: RepoPath,
    old: Option<Oid>,
    new: Option<Oid>,
}

/// How a parameter is named among things.
pub(super) fn parameter(name: &str) -> String {
    format!("{PARAMETERS_FILE}:{name}")
}

/// How an instrument is named among things.
pub(super) fn instrument(name: &str) -> String {
    format!("{INSTRUMENTS_FILE}:{name}")
}

/// How many commits, or files, one thread takes on with a repository of its own: to open one costs as much as to read some.
const SHARE: usize = 128;

/// The commits of a range, oldest first, with the files that each changed itself.
pub(super) struct Steps(Vec<(CommitInfo, Done)>);

impl Steps {
    /// Reads what lies between two commits, in whichever direction.
    pub(super) fn between(repo: &Repo, prefix: &str, from: Option<Oid>, to: Option<Oid>) -> Result<Steps, GitError> {
        let steps = Steps::read(repo, prefix, from, to)?;
        if steps.any_begins(repo, prefix)? && look_back(repo, prefix, to.or(from))? {
            return Steps::read(repo, prefix, from, to);
        }
        Ok(steps)
    }

    /// Whether the project begins in its folder anywhere between the two: it may have stood elsewhere before.
    fn any_begins(&self, repo: &Repo, prefix: &str) -> Result<bool, GitError> {
        for (commit, done) in &self.0 {
            for parent in &commit.parents {
                let any = match done.mix {
                    Some(_) => !holds(repo, *parent, prefix)?,
                    None => began(repo, (commit.oid, *parent), &done.changes)?,
                };
                if any {
                    return Ok(true);
                }
            }
        }
        Ok(false)
    }

    fn read(repo: &Repo, prefix: &str, from: Option<Oid>, to: Option<Oid>) -> Result<Steps, GitError> {
        let mut oids = match to {
            Some(to) => repo.walk(to, from, false)?,
            None => Vec::new(),
        };
        oids.reverse();
        // Where a clone is cut off between the two, what lies before the earlier one is no way from the one to the other.
        let is_cut = match (from, to) {
            (Some(from), Some(to)) if repo.is_shallow() => repo.common_ancestor(&[from, to])?.is_none(),
            _ => false,
        };
        if let Some(from) = from.filter(|from| Some(*from) != to && !is_cut) {
            let mut back = repo.walk(from, to, false)?;
            back.reverse();
            oids.splice(0..0, back);
        }
        let steps = shared(repo, &oids, |repo, oids| {
            let mut own = Own::new(repo, prefix);
            let step = |oid: &Oid| {
                let commit = repo.commit(*oid)?;
                let done = if commit.cut_off { Done { changes: Vec::new(), mix: None } } else { own.done(&commit)? };
                Ok((commit, done))
            };
            oids.iter().map(step).collect()
        })?;
        Ok(Steps(steps))
    }
}

impl Touched {
    /// Looks through what the commits of a range changed; the files of what was read in full need not be read again.
    pub(super) fn by(repo: &Repo, Steps(steps): Steps, at_hand: &[&Analysis]) -> Result<Touched, GitError> {
        let leaves = leaves(repo, &steps, at_hand)?;
        let mut touched = Touched { commits: Vec::with_capacity(steps.len()), ..Touched::default() };
        for (commit, done) in steps {
            touched.add(repo, commit, &done, &leaves);
        }
        Ok(touched)
    }

    fn add(&mut self, repo: &Repo, commit: CommitInfo, done: &Done, leaves: &Leaves) {
        let at = self.commits.len();
        match &done.mix {
            Some(mix) => {
                for (id, made) in &mix.things {
                    self.touch(at, id, made.old.as_ref(), made.new.as_ref());
                }
            }
            None => self.touch_all(at, &done.changes, leaves),
        }
        for change in done.changes.iter().filter(|change| is_settings(&change.path)) {
            let touch = Touch { commit: at, path: change.path.clone(), old: change.old_blob(), new: change.new_blob() };
            for name in settings(repo, change, done) {
                self.contents.entry(name).or_default().push(touch.clone());
            }
        }
        self.note_unreadable(&done.changes, &commit, leaves);
        if commit.cut_off {
            self.cut_off.push(CommitRef::of(&commit));
        }
        self.commits.push(commit);
    }

    /// What a commit with one parent or none did to every thing.
    fn touch_all(&mut self, commit: usize, changes: &[FileChange], leaves: &Leaves) {
        let mut things: BTreeMap<&str, [Option<(RepoPath, Oid)>; 2]> = BTreeMap::new();
        for change in changes.iter().filter(|change| change.path.is_markdown()) {
            for (side, blob) in [change.old_blob(), change.new_blob()].into_iter().enumerate() {
                let Some(blob) = blob else { continue };
                if let Some(id) = leaves.get(&blob).and_then(|leaf| leaf.id.as_deref()) {
                    things.entry(id).or_default()[side].get_or_insert_with(|| (change.path.clone(), blob));
                }
            }
        }
        for (id, [old, new]) in things {
            self.touch(commit, id, old.as_ref(), new.as_ref());
        }
    }

    fn touch(&mut self, commit: usize, id: &str, old: Option<&(RepoPath, Oid)>, new: Option<&(RepoPath, Oid)>) {
        let Some((path, _)) = new.or(old) else { return };
        let blob = |side: Option<&(RepoPath, Oid)>| side.map(|(_, blob)| *blob);
        let (old, new) = (blob(old), blob(new));
        if old == new {
            self.moves.entry(id.to_string()).or_default().push(commit);
        } else {
            self.contents.entry(id.to_string()).or_default().push(Touch { commit, path: path.clone(), old, new });
        }
    }

    fn note_unreadable(&mut self, changes: &[FileChange], commit: &CommitInfo, leaves: &Leaves) {
        for change in changes {
            let trouble = change.new_blob().and_then(|blob| leaves.get(&blob)?.trouble.clone());
            let named = || (!change.utf8 && change.new.is_some()).then(|| "its name is not UTF-8".to_string());
            let Some(why) = trouble.or_else(named) else { continue };
            self.unreadable.push(UnreadableFile {
                commit: Some(CommitRef::of(commit)),
                path: change.path.to_string(),
                why,
            });
        }
    }

    /// The commits that changed what a thing says; those that only moved its file too, if `moves`.
    pub(super) fn of<'t>(&'t self, names: &[String], moves: bool) -> Vec<&'t CommitInfo> {
        let touches = names.iter().flat_map(|name| self.contents.get(name)).flatten();
        let mut at: Vec<usize> = touches.map(|touch| touch.commit).collect();
        if moves {
            at.extend(names.iter().flat_map(|name| self.moves.get(name)).flatten());
        }
        at.sort_unstable();
        at.dedup();
        at.into_iter().map(|at| &self.commits[at]).collect()
    }

    /// Whether a commit of the range touched what this thing says.
    pub(super) fn has(&self, name: &str) -> bool {
        self.contents.contains_key(name)
    }

    /// Every thing that a commit of the range touched.
    pub(super) fn names(&self) -> impl Iterator<Item = &str> {
        self.contents.keys().map(String::as_str)
    }

    /// The path at which a commit of the range touched a thing last.
    pub(super) fn path(&self, name: &str) -> Option<String> {
        Some(self.contents.get(name)?.last()?.path.to_string())
    }

    /// Kind and title of a thing as a commit of the range held it last.
    pub(super) fn seen(&self, blobs: &mut Blobs<'_>, name: &str) -> Option<(String, String)> {
        let touches = self.contents.get(name)?.iter().rev();
        let held = touches.flat_map(|touch| [touch.new, touch.old]).flatten();
        held.into_iter().find_map(|blob| {
            let file = blobs.file(blob);
            let entity = file.entity.as_ref()?;
            Some((entity.kind().to_string(), entity.head().title.clone()))
        })
    }

    /// Every mark that a requirement had within the range, with the parameters of those days.
    ///
    /// # Errors
    /// If git cannot answer.
    pub(super) fn marks(
        &self,
        blobs: &mut Blobs<'_>,
        id: &str,
        using: &[String],
    ) -> Result<BTreeSet<String>, GitError> {
        let mut marks = BTreeSet::new();
        let own = self.contents.get(id).into_iter().flatten();
        let moved: Vec<usize> =
            using.iter().flat_map(|name| self.contents.get(name)).flatten().map(|touch| touch.commit).collect();
        for touch in own {
            let commit = &self.commits[touch.commit];
            for blob in [touch.old, touch.new].into_iter().flatten() {
                let Some(Entity::Requirement(requirement)) = &blobs.file(blob).entity else { continue };
                let moments = [touch.commit].into_iter().chain(moved.iter().copied());
                for moment in moments {
                    let parameters = blobs.parameters(Some(self.commits[moment].oid))?;
                    marks.insert(worked_out(requirement, &parameters).mark);
                }
                let parameters = blobs.parameters(commit.parents.first().copied())?;
                marks.insert(worked_out(requirement, &parameters).mark);
            }
        }
        Ok(marks)
    }
}

/// Does something for each of a list, shared among threads, in order.
fn shared<I: Sync, T: Send>(
    repo: &Repo,
    list: &[I],
    each: impl Fn(&Repo, &[I]) -> Result<Vec<T>, GitError> + Sync,
) -> Result<Vec<T>, GitError> {
    if list.len() <= SHARE {
        return each(repo, list);
    }
    // Small parts: whoever has done with something else meanwhile takes on the rest.
    let parts: Result<Vec<Vec<T>>, GitError> =
        list.par_chunks(SHARE).map(|part| repo.apart(|repo| each(repo, part))?).collect();
    let mut all = Vec::with_capacity(list.len());
    parts?.into_iter().for_each(|part| all.extend(part));
    Ok(all)
}

/// Files by their blobs.
type Leaves = HashMap<Oid, Leaf>;

/// Every file that the commits touched, each read once.
fn leaves(repo: &Repo, steps: &[(CommitInfo, Done)], at_hand: &[&Analysis]) -> Result<Leaves, GitError> {
    let changes = steps.iter().flat_map(|(_, done)| &done.changes).filter(|change| change.path.is_markdown());
    let mut blobs: Vec<Oid> = changes.flat_map(|change| [change.old_blob(), change.new_blob()]).flatten().collect();
    blobs.sort_unstable();
    blobs.dedup();
    let fronts: Arc<Fronts> = repo.aside();
    let mut leaves = fronts.leaves(&blobs);
    blobs.retain(|blob| !leaves.contains_key(blob));
    if !blobs.is_empty() {
        let wanted = |blob: Oid| blobs.binary_search(&blob).is_ok();
        for (blob, leaf) in at_hand.iter().flat_map(|analysis| Leaf::all_of(analysis, wanted)) {
            fronts.note_leaf(blob, &leaf);
            leaves.insert(blob, leaf);
        }
    }
    blobs.retain(|blob| !leaves.contains_key(blob));
    let read = shared(repo, &blobs, |repo, blobs| Ok(blobs.iter().map(|oid| Leaf::read(repo, *oid)).collect()))?;
    for (oid, leaf) in blobs.into_iter().zip(read) {
        // What cannot be read now may be fetched, and is told with its reason.
        if leaf.trouble.is_none() {
            fronts.note_leaf(oid, &leaf);
        }
        leaves.insert(oid, leaf);
    }
    Ok(leaves)
}

/// The decisions that a commit names, without what is said about them: `D-002, D-003`, `D-002 (torque)`, `D-002: torque`.
pub(super) fn trailers(commit: &CommitInfo) -> Vec<String> {
    let mut found = Vec::new();
    for part in commit.trailer("Decision").flat_map(|text| text.split([',', ';'])) {
        for (at, word) in part.split_whitespace().enumerate() {
            let id = word.trim_end_matches(['.', ':']);
            let is_id = Id::is_valid(id) && (at == 0 || id.contains(|c: char| c.is_ascii_digit()));
            if !is_id {
                break;
            }
            found.push(id.to_string());
            if id != word {
                break;
            }
        }
    }
    found
}

/// Names of what a commit changed in a settings file.
fn settings(repo: &Repo, change: &FileChange, done: &Done) -> Vec<String> {
    let text = |blob: Option<Oid>| text_of(repo, blob?).ok();
    let path = change.path.as_str();
    if let Some(mix) = &done.mix {
        let own = mix.settings.iter().filter(|(own, _)| *own == change.path);
        return own.map(|(_, name)| named(path, name)).collect();
    }
    let (old, new) = (text(change.old_blob()), text(change.new_blob()));
    settings_between(path, old.as_deref(), new.as_deref())
}

/// How what has a name in a settings file is named among things.
fn named(file: &str, name: &str) -> String {
    match file {
        PARAMETERS_FILE => parameter(name),
        INSTRUMENTS_FILE => instrument(name),
        _ => PROJECT_FILE.to_string(),
    }
}

/// Names of what differs between two texts of a settings file.
pub(super) fn settings_between(file: &str, old: Option<&str>, new: Option<&str>) -> Vec<String> {
    if old == new {
        return Vec::new();
    }
    if file == PROJECT_FILE {
        return vec![PROJECT_FILE.to_string()];
    }
    let entries = |text: Option<&str>| text.map(keys::entries).unwrap_or_default();
    let (old, new) = (entries(old), entries(new));
    let changed = old.keys().chain(new.keys()).filter(|key| old.get(*key) != new.get(*key));
    let names: BTreeSet<String> = changed.map(|key| named(file, key)).collect();
    names.into_iter().collect()
}
