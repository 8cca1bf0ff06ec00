//! How one thing came to read as it does: its revisions, counted from history.
//!
//! Commits are taken parents first, each compared with its own first parent, so that lines of work that ran side by
//! side are each told as they were done. A merge is told only for what it changed itself.

use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

use crate::git::{CommitInfo, FileChange, FileMode, GitError, Oid, Repo, TreeFile};
use crate::model::Id;
use crate::model::kinds::{Decision, DecisionStatus, Entity, Record, RecordStatus, Requirement};
use crate::source::{PARAMETERS_FILE, is_read};
use crate::text::RepoPath;

use super::blobs::{Blobs, Parameters, Placed, worked_out};
use super::changes::CommitRef;
use super::commits::trailers;
use super::compare::calendar::Calendar;
use super::course::{Course, Did};
use super::folder::look_back;
use super::own;
use super::places::Places;
use super::then::rests_on;
use super::trail::Node;
use super::versions::{Between, ChangeKind, Content, Context, Version, compare};

/// The revisions of one thing.
#[derive(Clone, Debug)]
pub struct Revisions {
    /// Its id.
    pub id: String,
    /// Its kind, as far as it was ever known.
    pub kind: String,
    /// Its title, the last one that it had.
    pub title: String,
    /// Whether it is a requirement that people depend on, as far as it was last known.
    pub safety: bool,
    /// Oldest first.
    pub list: Vec<Revision>,
    /// What it stands in for, each with its own revisions.
    pub replaces: Vec<Revisions>,
    /// What stands in for it.
    pub replaced_by: Vec<String>,
}

/// One revision, or a commit that left the number as it was.
#[derive(Clone, Debug)]
pub struct Revision {
    /// From 1; moves, cosmetic changes and re-affirmations keep the number of before.
    pub number: usize,
    /// The commit.
    pub commit: CommitRef,
    /// What happened.
    pub happened: Happened,
    /// The statement after it, as written.
    pub statement: Option<String>,
    /// The mark after it.
    pub mark: Option<String>,
    /// The decisions that the commit names, or that it records and that name the thing.
    pub decisions: Vec<String>,
    /// Of a signed record: that what was signed was changed, and the reason.
    pub edited: Option<EditedAfter>,
}

/// That a record was changed after it was signed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct EditedAfter {
    /// The seal that it was signed with.
    pub seal: String,
    /// By whom and why it was signed again, as the record says; none: it does not.
    pub reason: Option<String>,
}

/// What a commit did.
#[derive(Clone, Debug)]
pub enum Happened {
    /// The thing differs.
    Changed(Box<Between>),
    /// Its file could not be read any more, with the reason.
    Unreadable(String),
}

impl Happened {
    /// The word.
    pub fn word(&self) -> &'static str {
        match self {
            Happened::Changed(between) if between.only_reaffirmed => "reaffirmed",
            Happened::Changed(between) => between.kind.word(),
            Happened::Unreadable(_) => "unreadable",
        }
    }

    /// Whether this is a revision of its own.
    fn counts(&self) -> bool {
        match self {
            Happened::Changed(between) => {
                !between.only_reaffirmed && !matches!(between.kind, ChangeKind::Moved | ChangeKind::Cosmetic)
            }
            Happened::Unreadable(_) => false,
        }
    }
}

/// The revisions of a thing, up to a commit; none if no commit held it.
///
/// # Errors
/// If git cannot answer.
pub fn revisions(repo: &Repo, prefix: &str, id: &str, end: Oid) -> Result<Option<Revisions>, GitError> {
    let mut blobs = Blobs::new(repo, prefix);
    let places = Places::read(repo, prefix, end)?;
    let held = (repo, prefix, end);
    Teller { held, blobs: &mut blobs, places, read: None, telling: BTreeSet::new() }.tell(id)
}

/// The revisions of several things by id, as [`revisions`] tells each; what no commit held is left out.
///
/// Every file of history is read once, however many things there are.
///
/// # Errors
/// If git cannot answer.
pub fn revisions_of<'i>(
    repo: &Repo,
    prefix: &str,
    ids: impl IntoIterator<Item = &'i str>,
    end: Oid,
) -> Result<BTreeMap<String, Revisions>, GitError> {
    let mut blobs = Blobs::new(repo, prefix);
    let mut places = Places::read(repo, prefix, end)?;
    places.put_in_order(&mut blobs)?;
    let mut read: Vec<Rc<Done>> = Vec::with_capacity(places.commits.len());
    for node in places.commits.iter() {
        read.push(Rc::new(Done::by(&mut blobs, &repo.commit(node.oid)?, |_| true)?));
    }
    let held = (repo, prefix, end);
    let mut teller = Teller { held, blobs: &mut blobs, places, read: Some(read), telling: BTreeSet::new() };
    let mut all = BTreeMap::new();
    for id in ids {
        teller.telling.clear();
        if let Some(told) = teller.tell(id)? {
            all.insert(id.to_string(), told);
        }
    }
    Ok(all)
}

/// Every id that a commit up to `end` held, in order.
///
/// # Errors
/// If git cannot answer.
pub fn held_ids(repo: &Repo, prefix: &str, end: Oid) -> Result<BTreeSet<String>, GitError> {
    look_back(repo, prefix, Some(end))?;
    ids_in(repo, prefix, &repo.walk(end, None, false)?)
}

/// Every id that a commit of any branch held: one that is given out once more would make two things one when the branches meet.
///
/// # Errors
/// If git cannot answer about the commits up to `end`.
pub fn taken_ids(repo: &Repo, prefix: &str, end: Option<Oid>) -> Result<BTreeSet<String>, GitError> {
    let mut ids = match end {
        Some(end) => held_ids(repo, prefix, end)?,
        None => BTreeSet::new(),
    };
    for tip in repo.branch_tips()? {
        // What another branch holds and cannot be read is for whoever merges it.
        let others = repo.walk(tip, end, false).and_then(|commits| ids_in(repo, prefix, &commits));
        ids.extend(others.unwrap_or_default());
    }
    Ok(ids)
}

fn ids_in(repo: &Repo, prefix: &str, commits: &[Oid]) -> Result<BTreeSet<String>, GitError> {
    let mut blobs = Blobs::new(repo, prefix);
    let mut ids = BTreeSet::new();
    for oid in commits {
        let changes = blobs.done(&repo.commit(*oid)?)?.changes;
        ids.extend(blobs.things(&changes, |_| true).into_keys().map(|id| id.to_string()));
    }
    Ok(ids)
}

struct Teller<'t, 'r> {
    /// The repository, the project's folder in it, and the newest commit.
    held: (&'r Repo, &'r str, Oid),
    blobs: &'t mut Blobs<'r>,
    places: Places,
    /// What each commit did to everything, where it pays to know; else it is read for one id at a time.
    read: Option<Vec<Rc<Done>>>,
    /// Ids being told, so that two that replace each other end.
    telling: BTreeSet<String>,
}

/// What a commit did to the files.
struct Done {
    /// Whether it changed parameters.
    moved_parameters: bool,
    /// Of a merge, what it changed itself, each with the parent that it is seen from.
    mixed: BTreeMap<String, usize>,
    /// The decisions that it left, and the requirements that replace others.
    naming: Vec<(Id, Placed)>,
}

impl Done {
    /// Reads the files for whose text `wanted` holds.
    fn by(blobs: &mut Blobs<'_>, commit: &CommitInfo, wanted: impl Fn(&str) -> bool) -> Result<Done, GitError> {
        let own::Done { changes, mix } = blobs.done(commit)?;
        let mixed = mix.into_iter().flat_map(|mix| mix.things).map(|(id, made)| (id, made.parent)).collect();
        let moved_parameters = changes.iter().any(|change| change.path.as_str() == PARAMETERS_FILE);
        Ok(Done { moved_parameters, mixed, naming: blobs.naming(&changes, wanted)? })
    }
}

/// What a commit did, with the statement and the mark after it.
type Step = (Happened, Option<String>, Option<String>);

/// What is known while the commits go by.
#[derive(Default)]
struct Known {
    list: Vec<Revision>,
    replaces: BTreeSet<Id>,
    replaced_by: BTreeSet<String>,
    last: Option<Placed>,
}

impl Known {
    /// Takes in who stands in for the thing by what a commit left.
    fn note(&mut self, id: &str, done: &Done) {
        for (other, placed) in done.naming.iter().filter(|(other, _)| other.as_str() != id) {
            if let Some(Entity::Requirement(it)) = &placed.file.entity
                && it.replaces.iter().any(|named| named.value.as_str() == id)
            {
                self.replaced_by.insert(other.to_string());
            }
        }
    }
}

impl Teller<'_, '_> {
    fn tell(&mut self, id: &str) -> Result<Option<Revisions>, GitError> {
        if !self.telling.insert(id.to_string()) {
            return Ok(None);
        }
        let mut known = Known::default();
        let mut course = Course::new(id, self.paths(id)?);
        let parameters = RepoPath::new(PARAMETERS_FILE);
        let wanted = self.places.touching(course.paths().iter().chain([&parameters]));
        let commits = Rc::clone(&self.places.commits);
        for (at, Node { oid, parents }) in commits.iter().enumerate() {
            let oid = *oid;
            let read = self.read.as_ref().and_then(|read| read.get(at)).cloned();
            if let Some(done) = &read {
                known.note(id, done);
            }
            if !wanted.contains(&at) {
                course.pass(oid, parents);
                continue;
            }
            let commit = self.held.0.commit(oid)?;
            let begun = if read.is_none() && parents.is_empty() { self.begun(id, oid)? } else { None };
            let done = match read.or(begun.map(Rc::new)) {
                Some(done) => done,
                None => Rc::new(Done::by(self.blobs, &commit, |text| text.contains(id))?),
            };
            known.note(id, &done);
            let did = course.take(self.blobs, &commit, done.mixed.get(id).copied())?;
            self.commit(id, &commit, &done, did, &mut known)?;
        }
        let Some(last) = &known.last else { return Ok(None) };
        let entity = last.file.entity.as_ref();
        let (kind, title) = entity.map_or(("", String::new()), |it| (it.kind(), it.head().title.clone()));
        let (kind, title) = (kind.to_string(), title);
        let safety = matches!(entity, Some(Entity::Requirement(it)) if it.safety);
        let mut replaces = Vec::new();
        for earlier in &known.replaces {
            replaces.extend(self.tell(earlier)?);
        }
        let replaced_by = known.replaced_by.into_iter().collect();
        Ok(Some(Revisions { id: id.to_string(), kind, title, safety, list: known.list, replaces, replaced_by }))
    }

    /// What a commit without parents did, as far as it bears on a thing; none where that takes a listing.
    ///
    /// It brought a whole project as a rule. A file that it brought is there still or was lost, so that of those which name others only
    /// the few that name this thing need be looked for in it.
    fn begun(&mut self, id: &str, commit: Oid) -> Result<Option<Done>, GitError> {
        let (repo, prefix, end) = self.held;
        let files = repo.tree_files(end, prefix)?;
        if self.places.lost_more || files.iter().any(|file| !file.utf8) {
            return Ok(None);
        }
        let is_file = |file: &&TreeFile| matches!(file.mode, FileMode::File | FileMode::Executable);
        let now = files.iter().filter(is_file).map(|file| (&file.path, file.oid));
        let lost = self.places.lost.iter().map(|(path, blob)| (path, *blob));
        let all: Vec<(&RepoPath, Oid)> =
            now.chain(lost).filter(|(path, _)| path.is_markdown() && is_read(path)).collect();
        let glances = self.blobs.glances(all.iter().map(|(_, blob)| *blob))?;
        let naming = all.into_iter().zip(glances).filter(|(_, glance)| glance.names).map(|(file, _)| file);
        let naming: BTreeSet<(&RepoPath, Oid)> = naming.collect();
        let mut brought = Vec::new();
        for (path, blob) in naming {
            let names_it = self.blobs.text(blob).is_some_and(|text| text.contains(id));
            if names_it && self.blobs.standing(commit, path)? == Some(blob) {
                let new = Some((FileMode::File, blob));
                brought.push(FileChange { path: path.clone(), utf8: true, old: None, new });
            }
        }
        let parameters = repo.tree_file(commit, prefix, &RepoPath::new(PARAMETERS_FILE))?;
        let moved_parameters = parameters.is_some_and(|file| file.mode != FileMode::Symlink);
        Ok(Some(Done { moved_parameters, mixed: BTreeMap::new(), naming: self.blobs.naming(&brought, |_| true)? }))
    }

    /// Every file that ever held a thing.
    fn paths(&mut self, id: &str) -> Result<BTreeSet<RepoPath>, GitError> {
        let (repo, prefix, end) = self.held;
        let files = repo.tree_files(end, prefix)?;
        let name = id.to_lowercase();
        let own = || files.iter().filter(|file| file.utf8 && file.path.is_markdown());
        let is_likely = |file: &&TreeFile| file.path.as_str().to_lowercase().contains(&name);
        let mut paths = self.places.left(self.blobs, id)?;
        // Most files are called as what is in them.
        let mut in_order = own().filter(is_likely).chain(own().filter(|file| !is_likely(file)));
        let now = in_order.find(|file| self.blobs.glance(file.oid).id.as_deref() == Some(id));
        paths.extend(now.map(|file| file.path.clone()));
        Ok(paths)
    }

    fn commit(
        &mut self,
        id: &str,
        commit: &CommitInfo,
        done: &Done,
        did: Did,
        known: &mut Known,
    ) -> Result<(), GitError> {
        let Did { parent, old, new: after, unreadable, itself } = did;
        if !itself && !done.moved_parameters {
            return Ok(());
        }
        if let Some(placed) = &after {
            known.last = Some(placed.clone());
            if let Some(Entity::Requirement(it)) = &placed.file.entity {
                known.replaces.extend(it.replaces.iter().map(|named| named.value.clone()));
            }
        }
        let others = || done.naming.iter().filter(|(other, _)| other.as_str() != id);
        let decisions = decided(id, commit, others().map(|(_, placed)| placed));
        let revision = match unreadable.filter(|_| itself) {
            Some(why) => Some((Happened::Unreadable(why), None, None)),
            None => self.revision((parent, commit), (old.as_ref(), after.as_ref()))?,
        };
        if let Some((happened, statement, mark)) = revision {
            let number = known.list.last().map_or(0, |last| last.number) + usize::from(happened.counts());
            let commit = CommitRef::of(commit);
            let edited = edited(old.as_ref(), after.as_ref());
            known.list.push(Revision { number: number.max(1), commit, happened, statement, mark, decisions, edited });
        }
        Ok(())
    }

    /// What lies between the two sides of a commit, and what the requirement says after it.
    fn revision(
        &mut self,
        (parent, commit): (Option<Oid>, &CommitInfo),
        (old, new): (Option<&Placed>, Option<&Placed>),
    ) -> Result<Option<Step>, GitError> {
        let (then, now) = (self.blobs.config(parent)?, self.blobs.config(Some(commit.oid))?);
        let parameters = (self.blobs.parameters(parent)?, self.blobs.parameters(Some(commit.oid))?);
        let requirement = |side: Option<&Placed>, parameters: &Parameters| match &side?.file.entity {
            Some(Entity::Requirement(it)) => Some(worked_out(it, parameters)),
            _ => None,
        };
        let same_file = old.zip(new).is_some_and(|(a, b)| a.file.text == b.file.text && a.path == b.path);
        if same_file && !is_touched_by(new, &parameters) {
            return Ok(None);
        }
        let (before, after) = (requirement(old, &parameters.0), requirement(new, &parameters.1));
        let context = Context { calendar: Calendar { then: &then, now: &now }, ambient: now.ambient.as_ref() };
        let between = compare(
            old.and_then(|placed| version(placed, before.as_ref())),
            new.and_then(|placed| version(placed, after.as_ref())),
            context,
        );
        let statement = after.as_ref().map(|it| it.statement.value.clone());
        let mark = after.as_ref().map(|it| it.mark.clone());
        Ok(between.map(|between| (Happened::Changed(Box::new(between)), statement, mark)))
    }
}

/// Whether what somebody had signed is another now, and what the record says of that.
fn edited(old: Option<&Placed>, new: Option<&Placed>) -> Option<EditedAfter> {
    let record = |side: Option<&Placed>| match &side?.file.entity {
        Some(Entity::Record(it)) => Some(it.clone()),
        _ => None,
    };
    let (then, now): (_, std::sync::Arc<Record>) = (record(old)?, record(new)?);
    let seal = then.seal.as_ref().filter(|_| then.status.value == RecordStatus::Signed)?.value.clone();
    let whole = then.seal_now == seal;
    if !whole || then.seal_now == now.seal_now {
        return None;
    }
    let again = now.signed_again.iter().find(|again| again.stands_for(&seal));
    let reason = again.map(|again| {
        format!("{}: {}", again.by.as_deref().unwrap_or_default(), again.reason.as_deref().unwrap_or_default())
    });
    Some(EditedAfter { seal, reason })
}

fn version<'p>(placed: &'p Placed, requirement: Option<&'p Requirement>) -> Option<Version<'p>> {
    let kind = placed.file.entity.as_ref()?.kind();
    let content = Content::File { text: &placed.file.text, requirement };
    Some(Version { kind, path: placed.path.as_str(), content })
}

/// Whether a requirement rests on parameters that a commit changed.
fn is_touched_by(placed: Option<&Placed>, (then, now): &(Rc<Parameters>, Rc<Parameters>)) -> bool {
    let Some(Entity::Requirement(it)) = placed.and_then(|placed| placed.file.entity.as_ref()) else { return false };
    let names: BTreeSet<String> = then.keys().chain(now.keys()).cloned().collect();
    let text = |parameters: &Parameters, name: &str| parameters.get(name).map(|it| it.text.value.clone());
    let moved = names.into_iter().filter(|name| text(then, name) != text(now, name)).collect();
    rests_on(it, &moved)
}

/// The decisions that a commit names, or records and that name the thing.
fn decided<'p>(id: &str, commit: &CommitInfo, things: impl Iterator<Item = &'p Placed>) -> Vec<String> {
    let mut found: BTreeSet<String> = trailers(commit).into_iter().collect();
    let names =
        |decision: &Decision| decision.status == DecisionStatus::Accepted && super::less::names(decision, &Id::new(id));
    found.extend(things.filter_map(|placed| match &placed.file.entity {
        Some(Entity::Decision(decision)) if names(decision) => Some(decision.head.id.value.to_string()),
        _ => None,
    }));
    found.remove(id);
    found.into_iter().collect()
}
