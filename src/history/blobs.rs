//! Files of past commits, each read and parsed once.

use std::collections::BTreeMap;
use std::rc::Rc;
use std::sync::Arc;

use crate::config::{self, Config, Parameter};
use crate::diag::Findings;
use crate::git::{CommitInfo, FileChange, FileMode, GitError, Oid, Repo};
use crate::model::kinds::{Entity, Requirement};
use crate::model::{Id, link, load, mark};
use crate::source::{Limits, PARAMETERS_FILE, PROJECT_FILE};
use crate::text::{FileId, RepoPath};

use super::glance::{Glance, names_others};
use super::leaf::legible_id;
use super::learnt::Fronts;
use super::own::{Done, Own};
use super::then::why_unreadable;
use super::trail::side_by_side;

/// A file as it was.
pub(super) struct Parsed {
    /// Its text.
    pub(super) text: Arc<str>,
    /// The thing in it.
    pub(super) entity: Option<Entity>,
    /// Why not all of it could be read.
    pub(super) trouble: Option<String>,
}

impl Parsed {
    fn read(repo: &Repo, oid: Oid) -> Parsed {
        match text_of(repo, oid) {
            Ok(text) => {
                let (entity, findings) = load::load_one(FileId(0), &text);
                let trouble = why_unreadable(entity.is_none(), &findings);
                Parsed { text, entity, trouble }
            }
            Err(why) => Parsed { text: "".into(), entity: None, trouble: Some(why) },
        }
    }

    /// Whether it holds the thing with this id.
    pub(super) fn holds(&self, id: &str) -> bool {
        self.entity.as_ref().is_some_and(|entity| entity.head().id.value.as_str() == id)
    }

    /// Whether it cannot be read, and says that it is this thing.
    pub(super) fn may_hold(&self, id: &str) -> bool {
        self.entity.is_none() && self.trouble.is_some() && legible_id(&self.text) == Some(id)
    }
}

/// A file at a place.
#[derive(Clone)]
pub(super) struct Placed {
    pub(super) path: RepoPath,
    pub(super) file: Rc<Parsed>,
}

/// Both sides of what a commit did to one thing.
pub(super) type Sides = (Option<Placed>, Option<Placed>);

pub(super) type Parameters = BTreeMap<String, Parameter>;

/// Reads files of past commits.
pub(super) struct Blobs<'r> {
    repo: &'r Repo,
    prefix: &'r str,
    parsed: BTreeMap<Oid, Rc<Parsed>>,
    /// What is known of files at a glance, by all readers.
    fronts: Arc<Fronts>,
    configs: BTreeMap<Option<Oid>, Rc<Config>>,
    parameters: BTreeMap<Option<Oid>, Rc<Parameters>>,
    own: Own<'r>,
}

impl<'r> Blobs<'r> {
    pub(super) fn new(repo: &'r Repo, prefix: &'r str) -> Blobs<'r> {
        Blobs {
            repo,
            prefix,
            parsed: BTreeMap::new(),
            fronts: repo.aside(),
            configs: BTreeMap::new(),
            parameters: BTreeMap::new(),
            own: Own::new(repo, prefix),
        }
    }

    /// The file with this blob; one that cannot be read is empty and says why.
    pub(super) fn file(&mut self, oid: Oid) -> Rc<Parsed> {
        let repo = self.repo;
        self.parsed.entry(oid).or_insert_with(|| Rc::new(Parsed::read(repo, oid))).clone()
    }

    /// Reads many files at once, so that they are known when they are asked for.
    ///
    /// # Errors
    /// If the repository cannot be opened again.
    pub(super) fn read_all(&mut self, oids: Vec<Oid>) -> Result<(), GitError> {
        let mut oids = oids;
        oids.retain(|oid| !self.parsed.contains_key(oid));
        oids.sort_unstable();
        oids.dedup();
        let read = side_by_side(self.repo, &oids, |repo, oid| Parsed::read(repo, *oid))?;
        self.parsed.extend(oids.into_iter().zip(read.into_iter().map(Rc::new)));
        Ok(())
    }

    /// What the file with this blob is, without reading more of it than that takes.
    pub(super) fn glance(&mut self, oid: Oid) -> Glance {
        self.fronts.glance(oid).unwrap_or_else(|| self.look_at(oid))
    }

    fn look_at(&mut self, oid: Oid) -> Glance {
        let Some(text) = self.text(oid) else { return Glance::default() };
        let glance = Glance::at(&text).unwrap_or_else(|| Glance::of(&self.file(oid)));
        self.fronts.note_glance(oid, &glance);
        glance
    }

    /// What each of many files is, in their order.
    ///
    /// # Errors
    /// If the repository cannot be opened again.
    pub(super) fn glances(&mut self, oids: impl Iterator<Item = Oid> + Clone) -> Result<Vec<Glance>, GitError> {
        self.glance_at(oids.clone())?;
        let known = self.fronts.glances(oids.clone());
        Ok(oids.zip(known).map(|(oid, known)| known.unwrap_or_else(|| self.look_at(oid))).collect())
    }

    /// Looks at many files at once, so that they are known when they are asked for.
    ///
    /// # Errors
    /// If the repository cannot be opened again.
    pub(super) fn glance_at(&mut self, oids: impl IntoIterator<Item = Oid>) -> Result<(), GitError> {
        let mut oids = self.fronts.without_glance(oids);
        oids.sort_unstable();
        oids.dedup();
        let one = |repo: &Repo, oid: &Oid| Glance::at(&text_of(repo, *oid).ok()?);
        let found = side_by_side(self.repo, &oids, one)?;
        // What a glance does not tell is read in full by whoever asks for it.
        for (oid, glance) in oids.into_iter().zip(found) {
            if let Some(glance) = glance {
                self.fronts.note_glance(oid, &glance);
            }
        }
        Ok(())
    }

    /// The raw text of a blob, if it is one.
    pub(super) fn text(&self, oid: Oid) -> Option<Arc<str>> {
        text_of(self.repo, oid).ok()
    }

    /// The project file of a commit.
    pub(super) fn config(&mut self, commit: Option<Oid>) -> Result<Rc<Config>, GitError> {
        let oid = self.settings(commit, PROJECT_FILE)?;
        let text = oid.and_then(|oid| self.text(oid)).unwrap_or_default();
        let read = || Rc::new(Config::read(FileId(0), &text, &mut Findings::new()));
        Ok(self.configs.entry(oid).or_insert_with(read).clone())
    }

    /// The parameters of a commit.
    pub(super) fn parameters(&mut self, commit: Option<Oid>) -> Result<Rc<Parameters>, GitError> {
        let oid = self.settings(commit, PARAMETERS_FILE)?;
        let text = oid.and_then(|oid| self.text(oid)).unwrap_or_default();
        let read = || Rc::new(config::parameters(FileId(0), &text, &mut Findings::new()));
        Ok(self.parameters.entry(oid).or_insert_with(read).clone())
    }

    fn settings(&self, commit: Option<Oid>, name: &str) -> Result<Option<Oid>, GitError> {
        let Some(commit) = commit else { return Ok(None) };
        Ok(self.repo.tree_file(commit, self.prefix, &RepoPath::new(name))?.map(|file| file.oid))
    }

    /// What a commit did to the project's files, seen from its first parent; of a merge only what it did itself.
    pub(super) fn done(&mut self, commit: &CommitInfo) -> Result<Done, GitError> {
        self.own.done(commit)
    }

    /// The blob of the project's file at a path of a commit; none: there is none, or it is another project's.
    ///
    /// # Errors
    /// If git cannot answer.
    pub(super) fn standing(&mut self, commit: Oid, path: &RepoPath) -> Result<Option<Oid>, GitError> {
        let Some(found) = self.repo.tree_file(commit, self.prefix, path)? else { return Ok(None) };
        let is_file = matches!(found.mode, FileMode::File | FileMode::Executable);
        Ok((is_file && !self.own.is_foreign(commit, path)?).then_some(found.oid))
    }

    /// The things that these changes left, that name others and for whose text `wanted` holds.
    ///
    /// # Errors
    /// If the repository cannot be opened again.
    pub(super) fn naming(
        &mut self,
        changes: &[FileChange],
        wanted: impl Fn(&str) -> bool,
    ) -> Result<Vec<(Id, Placed)>, GitError> {
        let left = changes.iter().filter(|change| change.path.is_markdown());
        let left: Vec<(&RepoPath, Oid)> = left.filter_map(|change| Some((&change.path, change.new_blob()?))).collect();
        self.glance_at(left.iter().map(|(_, blob)| *blob))?;
        let mut things: BTreeMap<Id, Placed> = BTreeMap::new();
        for (path, blob) in left {
            if !self.glance(blob).names || !self.text(blob).is_some_and(|text| wanted(&text)) {
                continue;
            }
            let file = self.file(blob);
            if let Some(entity) = file.entity.as_ref().filter(|entity| names_others(entity)) {
                let id = entity.head().id.value.clone();
                things.entry(id).or_insert(Placed { path: path.clone(), file });
            }
        }
        Ok(things.into_iter().collect())
    }

    /// Both sides of every thing in these files for which `wanted` holds of a text.
    pub(super) fn things(&mut self, changes: &[FileChange], wanted: impl Fn(&str) -> bool) -> BTreeMap<Id, Sides> {
        let mut things: BTreeMap<Id, Sides> = BTreeMap::new();
        for change in changes.iter().filter(|change| change.path.is_markdown()) {
            for (blob, new) in [(change.old_blob(), false), (change.new_blob(), true)] {
                let Some(blob) = blob else { continue };
                if !self.parsed.contains_key(&blob) && !self.text(blob).is_some_and(|text| wanted(&text)) {
                    continue;
                }
                let file = self.file(blob);
                let Some(id) = file.entity.as_ref().map(|entity| entity.head().id.value.clone()) else { continue };
                let placed = Placed { path: change.path.clone(), file };
                let sides = things.entry(id).or_default();
                if new {
                    sides.1.get_or_insert(placed)
                } else {
                    sides.0.get_or_insert(placed)
                };
            }
        }
        things
    }
}

/// The text of a blob, or why there is none.
pub(super) fn text_of(repo: &Repo, oid: Oid) -> Result<Arc<str>, String> {
    let text = repo.text_at_most(oid, Limits::default().text_bytes).map_err(|error| error.to_string())?;
    text.ok_or_else(|| "it is not UTF-8".to_string())
}

/// A requirement with its limits and its mark worked out.
pub(super) fn worked_out(requirement: &Requirement, parameters: &Parameters) -> Requirement {
    let mut requirement = requirement.clone();
    link::resolve_limits(&mut requirement, parameters, &mut Findings::new());
    requirement.mark = mark::mark(&requirement);
    requirement
}
