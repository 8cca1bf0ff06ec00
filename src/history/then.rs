//! What a commit held that is not the same now.
//!
//! Files are compared by their blob ids; only those that differ are read and parsed, so that looking back costs little
//! more than one listing. Everything else is, by that comparison, as it is now, and is looked up there.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use crate::analysis::Analysis;
use crate::config::{self, Config};
use crate::diag::{Class, Finding, Findings};
use crate::git::{FileChange, FileMode, GitError, Oid, Repo, TreeFile, blob_id};
use crate::graph;
use crate::model::kinds::{Criterion, Entity, Item, Limit, Relief, Requirement};
use crate::model::{Id, Model, Ref, link, load};
use crate::quantity;
use crate::source::{INSTRUMENTS_FILE, PARAMETERS_FILE, PROJECT_FILE, ProjectFile, is_read};
use crate::text::{FileId, RepoPath};

use super::blobs::text_of;

/// A commit, as far as it differs from the present.
pub(super) struct Then<'n> {
    /// What stood in files that have changed since; and the settings of that day.
    pub(super) part: Model,
    /// The present.
    pub(super) now: &'n Model,
    /// The project's folder in that commit, from the top of the repository.
    pub(super) prefix: String,
    /// Files that could not be read, with the reason.
    pub(super) unreadable: Vec<(RepoPath, String)>,
    /// The files that `part` was read from; a `FileId` there is a position here.
    texts: Vec<(RepoPath, Arc<str>)>,
    /// Files that were only moved: where they stood, and which of the present they are.
    pub(super) moved: Vec<(RepoPath, FileId)>,
    /// For each file of the present, whether that commit held the very same bytes.
    same: Vec<bool>,
}

impl<'n> Then<'n> {
    /// Reads what a commit held differently.
    pub(super) fn read(repo: &Repo, prefix: &str, oid: Oid, now: &'n Analysis) -> Result<Then<'n>, GitError> {
        let (same, changed, moved) = Beside::read(repo, prefix, oid, now)?.settle(&now.snapshot.files);
        let mut elsewhere = Elsewhere { repo, oid, prefix, known: BTreeMap::new() };
        let mut own = Vec::with_capacity(changed.len());
        for file in changed {
            if !elsewhere.holds(&file.path)? {
                own.push(file);
            }
        }
        let mut reading = Reading { repo, unreadable: Vec::new() };
        let texts: Vec<(RepoPath, Arc<str>)> =
            own.iter().filter_map(|file| Some((file.path.clone(), reading.text(file)?))).collect();
        let mut entities = reading.entities(&texts);
        let prefix = &*repo.folder_in(oid, prefix);
        let had = |name: &str| Ok(repo.tree_file(oid, prefix, &RepoPath::new(name))?.is_some());
        let (config, parameters, instruments) = reading.settings(&texts, &had, &now.model)?;
        let unreadable = reading.unreadable;
        let parameters_moved = moved_parameters(&parameters, &now.model.parameters);
        entities.extend(resting_on(&parameters_moved, &now.model, &same));
        let mut part = Model::new(config, parameters, instruments, entities);
        link::work_out(&mut part, &mut Findings::new());
        Ok(Then { part, now: &now.model, prefix: prefix.to_string(), unreadable, texts, moved, same })
    }

    /// Lets go of it on another thread.
    pub(super) fn let_go(self) {
        let Then { part, texts, .. } = self;
        rayon::spawn(move || drop((part, texts)));
    }

    /// Whether a file of the present was the same then.
    pub(super) fn is_same(&self, file: FileId) -> bool {
        self.same.get(file.0 as usize).copied().unwrap_or(false)
    }

    /// The path of a file that `part` was read from.
    pub(super) fn path(&self, file: FileId) -> Option<&RepoPath> {
        self.texts.get(file.0 as usize).map(|(path, _)| path)
    }

    /// The text of a file that `part` was read from.
    pub(super) fn text(&self, file: FileId) -> Option<&str> {
        self.texts.get(file.0 as usize).map(|(_, text)| &**text)
    }

    /// The text of a file at a path, if it is not what it is now.
    pub(super) fn text_at(&self, path: &str) -> Option<&str> {
        self.texts.iter().find(|(own, _)| own.as_str() == path).map(|(_, text)| &**text)
    }

    /// Every item of that day.
    pub(super) fn items(&self) -> impl Iterator<Item = &Item> {
        self.part.items.iter().chain(self.now.items.iter().filter(|item| self.is_same(item.head.file)))
    }

    /// What an id of that day sat in.
    pub(super) fn above(&self, id: &str) -> graph::Above<'_> {
        let same = |place: &Ref| self.is_same(self.now.head(*place).file);
        match self.part.find(id) {
            Some(_) => graph::above(&self.part, id),
            None if self.now.find(id).as_ref().is_some_and(same) => graph::above(self.now, id),
            None => graph::Above::default(),
        }
    }

    /// Whether nothing at all differs.
    pub(super) fn is_now(&self) -> bool {
        self.same.iter().all(|same| *same) && self.texts.is_empty() && self.unreadable.is_empty()
    }
}

/// For each file of the present, whether a commit holds the very same bytes there.
///
/// # Errors
/// If git cannot answer.
pub(super) fn as_held(repo: &Repo, prefix: &str, oid: Oid, now: &Analysis) -> Result<Vec<bool>, GitError> {
    Ok(Beside::read(repo, prefix, oid, now)?.same)
}

/// What a point in history holds as the present does.
pub(super) struct Alike {
    /// For each file of the present, whether the same bytes were there, or elsewhere.
    now: Vec<bool>,
    /// For each file of the present, whether the same bytes were in its place.
    in_place: Vec<bool>,
    /// For each file of the point, whether the present has the same bytes in the same place.
    then: Vec<bool>,
}

impl Alike {
    /// Lays a point in history that was read in full beside the present.
    pub(super) fn of(then: &Analysis, now: &Analysis) -> Alike {
        let plain = |file: &ProjectFile| {
            let (path, mode) = (file.path.clone(), FileMode::File);
            Some(TreeFile { path, utf8: true, mode, oid: blob(file)? })
        };
        let files: Vec<TreeFile> = then.snapshot.files.iter().filter_map(plain).collect();
        let beside = Beside::merge(&files, &now.snapshot.files);
        // Of a file that could not be read it is not known.
        let same = |file: &ProjectFile| blob(file).is_some() && !beside.changed.contains_key(&file.path);
        let same = then.snapshot.files.iter().map(same).collect();
        let in_place = beside.same.clone();
        let (now, ..) = beside.settle(&now.snapshot.files);
        Alike { now, in_place, then: same }
    }

    /// Whether a file of the point is in its place as it was.
    pub(super) fn stayed(&self, file: FileId) -> bool {
        self.then.get(file.0 as usize).copied().unwrap_or(false)
    }

    /// Whether a file of the present is another one, or stood elsewhere.
    pub(super) fn differs(&self, file: FileId) -> bool {
        !self.in_place.get(file.0 as usize).copied().unwrap_or(false)
    }

    /// The things of the present that are written as they were and come to something else, because a parameter moved.
    pub(super) fn resting_on_moved(&self, then: &Analysis, now: &Analysis) -> Vec<Id> {
        let moved = moved_parameters(&then.model.parameters, &now.model.parameters);
        resting_on(&moved, &now.model, &self.now).iter().map(|entity| entity.head().id.value.clone()).collect()
    }
}

/// The present laid beside a commit.
struct Beside {
    /// For each file of the present, whether the commit held the very same bytes there.
    same: Vec<bool>,
    /// The files of the commit that are not the same now, by path.
    changed: BTreeMap<RepoPath, TreeFile>,
}

/// Which files of the present are as they were, which were not, and which were only moved, with where they stood.
type Settled = (Vec<bool>, Vec<TreeFile>, Vec<(RepoPath, FileId)>);

impl Beside {
    /// The commit that the present came from is listed, which costs nothing as it was listed to read the present; from there
    /// only the trees are opened that differ.
    fn read(repo: &Repo, prefix: &str, oid: Oid, now: &Analysis) -> Result<Beside, GitError> {
        let near = now.origin.commit().unwrap_or(oid);
        let files = &now.snapshot.files;
        let mut beside = Beside::merge(&repo.tree_files(near, prefix)?, files);
        if near != oid {
            for change in repo.changed_files(Some(near), oid, prefix)? {
                beside.replace(change, files);
            }
        }
        Ok(beside)
    }

    fn merge(then: &[TreeFile], now: &[ProjectFile]) -> Beside {
        let mut beside = Beside { same: vec![false; now.len()], changed: BTreeMap::new() };
        let mut at = 0;
        for file in then.iter().filter(|file| file.utf8 && is_read(&file.path)) {
            while now.get(at).is_some_and(|candidate| candidate.path < file.path) {
                at += 1;
            }
            match now.get(at) {
                Some(candidate) if candidate.path == file.path && blob(candidate) == Some(file.oid) => {
                    beside.same[at] = true;
                }
                _ => {
                    beside.changed.insert(file.path.clone(), file.clone());
                }
            }
        }
        beside
    }

    /// What stood at a path in another commit takes the place of what was there.
    fn replace(&mut self, change: FileChange, now: &[ProjectFile]) {
        if !change.utf8 || !is_read(&change.path) {
            return;
        }
        self.changed.remove(&change.path);
        let present = now.binary_search_by(|file| file.path.cmp(&change.path)).ok();
        let same = present.is_some_and(|at| change.new.is_some_and(|(_, oid)| blob(&now[at]) == Some(oid)));
        if let Some(at) = present {
            self.same[at] = same;
        }
        if let Some((mode, oid)) = change.new.filter(|_| !same) {
            let file = TreeFile { path: change.path.clone(), utf8: true, mode, oid };
            self.changed.insert(change.path, file);
        }
    }

    /// What is left when files that were only moved are taken for the same: they hold what they held.
    fn settle(self, now: &[ProjectFile]) -> Settled {
        let Beside { mut same, changed } = self;
        let mut moved = Vec::new();
        let mut arrived: BTreeMap<Oid, Vec<usize>> = BTreeMap::new();
        if !changed.is_empty() {
            for (at, file) in now.iter().enumerate().filter(|(at, file)| !same[*at] && file.path.is_markdown()) {
                if let Some(oid) = blob(file) {
                    arrived.entry(oid).or_default().push(at);
                }
            }
        }
        let mut changed: Vec<TreeFile> = changed.into_values().collect();
        changed.retain(|file| {
            let place = arrived.get_mut(&file.oid).filter(|_| file.path.is_markdown()).and_then(Vec::pop);
            if let Some(at) = place {
                same[at] = true;
                moved.push((file.path.clone(), FileId(at as u32)));
            }
            place.is_none()
        });
        (same, changed, moved)
    }
}

/// The blob id of a file of the present, hashed where it is not known.
pub(super) fn blob(file: &ProjectFile) -> Option<Oid> {
    file.blob.or_else(|| blob_id(file.content.text()?.as_bytes()))
}

/// Folders that were projects of their own in a commit.
struct Elsewhere<'r> {
    repo: &'r Repo,
    oid: Oid,
    prefix: &'r str,
    /// What was found of folders that were asked about.
    known: BTreeMap<String, bool>,
}

impl Elsewhere<'_> {
    /// Whether a folder above this path was one.
    fn holds(&mut self, path: &RepoPath) -> Result<bool, GitError> {
        for (end, _) in path.as_str().match_indices('/') {
            if self.is_one(&path.as_str()[..end])? {
                return Ok(true);
            }
        }
        Ok(false)
    }

    fn is_one(&mut self, folder: &str) -> Result<bool, GitError> {
        if let Some(known) = self.known.get(folder) {
            return Ok(*known);
        }
        let project = RepoPath::new(format!("{folder}/{PROJECT_FILE}"));
        let found = self.repo.tree_file(self.oid, self.prefix, &project)?.is_some();
        self.known.insert(folder.to_string(), found);
        Ok(found)
    }
}

struct Reading<'r> {
    repo: &'r Repo,
    unreadable: Vec<(RepoPath, String)>,
}

type Settings = (Config, BTreeMap<String, config::Parameter>, BTreeMap<crate::model::Id, config::Instrument>);

impl Reading<'_> {
    fn text(&mut self, file: &TreeFile) -> Option<Arc<str>> {
        if matches!(file.mode, FileMode::Symlink | FileMode::Submodule) {
            return None;
        }
        match text_of(self.repo, file.oid) {
            Ok(text) => Some(text),
            Err(why) => {
                self.unreadable.push((file.path.clone(), why));
                None
            }
        }
    }

    fn entities(&mut self, texts: &[(RepoPath, Arc<str>)]) -> Vec<Entity> {
        use rayon::prelude::*;
        let numbered: Vec<(usize, &(RepoPath, Arc<str>))> =
            texts.iter().enumerate().filter(|(_, (path, _))| path.is_markdown()).collect();
        let loaded: Vec<load::Loaded> = numbered
            .par_iter()
            .with_min_len(32)
            .map(|(at, (_, text))| load::load_one(FileId(*at as u32), text))
            .collect();
        let mut entities = Vec::with_capacity(loaded.len());
        for ((_, (path, _)), (entity, findings)) in numbered.into_iter().zip(loaded) {
            if let Some(why) = why_unreadable(entity.is_none(), &findings) {
                self.unreadable.push((path.clone(), why));
            }
            entities.extend(entity);
        }
        entities
    }

    fn settings(
        &mut self,
        texts: &[(RepoPath, Arc<str>)],
        had: &dyn Fn(&str) -> Result<bool, GitError>,
        now: &Model,
    ) -> Result<Settings, GitError> {
        let changed = |name: &str| texts.iter().position(|(path, _)| path.as_str() == name);
        let mut findings = Findings::new();
        let file = |at: usize| FileId(at as u32);
        let config = match changed(PROJECT_FILE) {
            Some(at) => Config::read(file(at), &texts[at].1, &mut findings),
            None => now.config.clone(),
        };
        self.note(PROJECT_FILE, &mut findings);
        let parameters = match changed(PARAMETERS_FILE) {
            Some(at) => config::parameters(file(at), &texts[at].1, &mut findings),
            None if had(PARAMETERS_FILE)? => now.parameters.clone(),
            None => BTreeMap::new(),
        };
        self.note(PARAMETERS_FILE, &mut findings);
        let instruments = match changed(INSTRUMENTS_FILE) {
            Some(at) => config::instruments(file(at), &texts[at].1, &mut findings),
            None if had(INSTRUMENTS_FILE)? => now.instruments.clone(),
            None => BTreeMap::new(),
        };
        self.note(INSTRUMENTS_FILE, &mut findings);
        Ok((config, parameters, instruments))
    }

    fn note(&mut self, name: &str, findings: &mut Findings) {
        if let Some(why) = why_unreadable(false, findings) {
            self.unreadable.push((RepoPath::new(name), why));
        }
        *findings = Findings::new();
    }
}

/// Whether a finding says that a part of a file could not be read.
pub(super) fn breaks(finding: &Finding) -> bool {
    matches!(finding.code, "bad-toml" | "duplicate-key" | "conflict-markers")
}

/// Why a file did not give all that it holds: half of a file may hide the other half.
pub(super) fn why_unreadable(nothing: bool, findings: &Findings) -> Option<String> {
    let any = |finding: &&Finding| finding.class() == Class::Fault;
    let found =
        findings.iter().find(|finding| breaks(finding)).or_else(|| findings.iter().find(any).filter(|_| nothing));
    found.map(|finding| finding.message.clone())
}

/// Names of parameters that come to something else now, or to nothing.
fn moved_parameters(
    then: &BTreeMap<String, config::Parameter>,
    now: &BTreeMap<String, config::Parameter>,
) -> BTreeSet<String> {
    let value = |parameter: Option<&config::Parameter>| {
        parameter.and_then(|parameter| parameter.value.as_ref()).map(quantity::Quantity::canonical)
    };
    then.keys().chain(now.keys()).filter(|name| value(then.get(*name)) != value(now.get(*name))).cloned().collect()
}

/// What is written as it was and yet comes to something else, because a parameter moved.
fn resting_on(moved: &BTreeSet<String>, now: &Model, same: &[bool]) -> Vec<Entity> {
    if moved.is_empty() {
        return Vec::new();
    }
    let was_same = |file: FileId| same.get(file.0 as usize).copied().unwrap_or(false);
    let requirements = now.requirements.iter().filter(|it| was_same(it.head.file) && rests_on(it, moved));
    let waivers = now.waivers.iter().filter(|it| {
        let limits = it.accepts.iter().flat_map(|(_, relief)| match relief {
            Relief::Limits { min, max } => [min.as_ref(), max.as_ref()],
            Relief::Records(_) => [None, None],
        });
        was_same(it.head.file) && limits.flatten().any(|limit| uses(limit, moved))
    });
    let requirements = requirements.map(|it| Entity::Requirement(it.clone()));
    requirements.chain(waivers.map(|it| Entity::Waiver(Box::new(it.clone())))).collect()
}

/// Whether a requirement's limits use one of these parameters.
pub(super) fn rests_on(requirement: &Requirement, names: &BTreeSet<String>) -> bool {
    requirement.criteria.iter().flat_map(Criterion::limits).any(|limit| uses(limit, names))
}

fn uses(limit: &Limit, names: &BTreeSet<String>) -> bool {
    let texts = [Some(&limit.text), limit.tolerance.as_ref().map(|(text, _)| text)];
    texts.into_iter().flatten().any(|text| {
        // Cheap first: most limits are plain numbers.
        names.iter().any(|name| text.value.contains(name.as_str()))
            && quantity::names(&text.value).iter().any(|name| names.contains(name))
    })
}
