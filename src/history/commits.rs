//! Which commits of a range touched what, and why they say they did.

use std::collections::{BTreeMap, BTreeSet};

use crate::git::{CommitInfo, FileChange, GitError, Oid, Repo};
use crate::model::kinds::Entity;
use crate::source::{INSTRUMENTS_FILE, PARAMETERS_FILE, PROJECT_FILE};

use super::blobs::{Blobs, worked_out};
use super::changes::CommitRef;
use super::keys;

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
    /// Positions of commits by thing; things of settings files as [`parameter`] and [`instrument`] name them.
    contents: BTreeMap<String, Vec<usize>>,
    moves: BTreeMap<String, Vec<usize>>,
    /// Every mark that a requirement had within the range.
    pub(super) marks: BTreeMap<String, BTreeSet<String>>,
    pub(super) unreadable: Vec<UnreadableFile>,
}

/// How a parameter is named among things.
pub(super) fn parameter(name: &str) -> String {
    format!("{PARAMETERS_FILE}:{name}")
}

/// How an instrument is named among things.
pub(super) fn instrument(name: &str) -> String {
    format!("{INSTRUMENTS_FILE}:{name}")
}

impl Touched {
    /// Reads what lies between two commits, in whichever direction.
    pub(super) fn between(repo: &Repo, prefix: &str, from: Option<Oid>, to: Option<Oid>) -> Result<Touched, GitError> {
        let mut oids = match to {
            Some(to) => repo.walk(to, from, false)?,
            None => Vec::new(),
        };
        oids.reverse();
        if let Some(from) = from.filter(|from| Some(*from) != to) {
            let mut back = repo.walk(from, to, false)?;
            back.reverse();
            oids.splice(0..0, back);
        }
        let mut touched = Touched::default();
        let mut blobs = Blobs::new(repo, prefix);
        for oid in oids {
            touched.add(&mut blobs, repo.commit(oid)?)?;
        }
        Ok(touched)
    }

    fn add(&mut self, blobs: &mut Blobs<'_>, commit: CommitInfo) -> Result<(), GitError> {
        let changes = blobs.changed(&commit)?;
        let at = self.commits.len();
        let parameters = blobs.parameters(Some(commit.oid))?;
        for (id, (old, new)) in blobs.things(&changes, |_| true) {
            let text = |side: &Option<super::blobs::Placed>| side.as_ref().map(|placed| placed.file.text.clone());
            let map = if text(&old) == text(&new) { &mut self.moves } else { &mut self.contents };
            map.entry(id.to_string()).or_default().push(at);
            for placed in [&old, &new].into_iter().flatten() {
                if let Some(Entity::Requirement(requirement)) = &placed.file.entity {
                    let mark = worked_out(requirement, &parameters).mark;
                    self.marks.entry(id.to_string()).or_default().insert(mark);
                }
            }
        }
        for name in changes.iter().flat_map(|change| settings(blobs, change)) {
            self.contents.entry(name).or_default().push(at);
        }
        self.note_unreadable(blobs, &changes, &commit);
        self.commits.push(commit);
        Ok(())
    }

    fn note_unreadable(&mut self, blobs: &mut Blobs<'_>, changes: &[FileChange], commit: &CommitInfo) {
        for change in changes.iter().filter(|change| change.path.is_markdown()) {
            let Some(why) = change.new_blob().and_then(|blob| blobs.file(blob).trouble.clone()) else { continue };
            self.unreadable.push(UnreadableFile {
                commit: Some(CommitRef::of(commit)),
                path: change.path.to_string(),
                why,
            });
        }
    }

    /// The commits that changed what a thing says; those that only moved its file too, if `moves`.
    pub(super) fn of<'t>(&'t self, names: &[String], moves: bool) -> Vec<&'t CommitInfo> {
        let mut at: Vec<usize> = names.iter().flat_map(|name| self.contents.get(name)).flatten().copied().collect();
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
}

/// The decisions that a commit names.
pub(super) fn trailers(commit: &CommitInfo) -> Vec<String> {
    let words = commit.trailer("Decision").flat_map(|text| text.split([',', ' ']));
    words.map(str::trim).filter(|word| !word.is_empty()).map(str::to_string).collect()
}

/// Names of what a commit changed in a settings file.
fn settings(blobs: &Blobs<'_>, change: &FileChange) -> Vec<String> {
    let text = |blob: Option<Oid>| blob.and_then(|blob| blobs.text(blob));
    let (old, new) = (text(change.old_blob()), text(change.new_blob()));
    settings_between(change.path.as_str(), old.as_deref(), new.as_deref())
}

/// Names of what differs between two texts of a settings file.
pub(super) fn settings_between(file: &str, old: Option<&str>, new: Option<&str>) -> Vec<String> {
    let name = match file {
        _ if old == new => return Vec::new(),
        PROJECT_FILE => return vec![PROJECT_FILE.to_string()],
        PARAMETERS_FILE => parameter,
        INSTRUMENTS_FILE => instrument,
        _ => return Vec::new(),
    };
    let entries = |text: Option<&str>| text.map(keys::entries).unwrap_or_default();
    let (old, new) = (entries(old), entries(new));
    let changed = old.keys().chain(new.keys()).filter(|key| old.get(*key) != new.get(*key));
    let names: BTreeSet<String> = changed.map(|key| name(key)).collect();
    names.into_iter().collect()
}
