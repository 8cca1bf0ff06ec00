//! What changed between two points in history, why, and what evidence it undid.
//!
//! A thing is told if it differs between the two points, with every commit in between that touched it, also where one of
//! them took another back. What was touched and differs in nothing at the end is told apart, as put back: evidence that was
//! made in between carries a mark that is gone.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use rayon::prelude::*;

use crate::analysis::{Analysis, Request, run};
use crate::git::{CommitInfo, GitError, Oid, Repo};
use crate::model::kinds::{Criterion, DecisionStatus, Limit, Requirement};
use crate::model::{Id, Model};
use crate::quantity;
use crate::source::{INSTRUMENTS_FILE, Origin, PARAMETERS_FILE, PROJECT_FILE, Revision, SourceError};
use crate::text::RepoPath;

use super::blobs::Blobs;
use super::commits::{Touched, UnreadableFile, instrument, parameter, settings_between, trailers};
use super::compare::calendar::Calendar;
use super::ends::{Compared, Earlier, Ends};
use super::evidence::{Evidence, Redo, evidence, out_of_line, redo};
use super::keys::{self, Flat};
use super::range::Range;
use super::then::Then;
use super::unread::Unread;
use super::vanished::{replaced_by, withdrawn_by};
use super::versions::{Between, ChangeKind, Content, Context, Version, compare};

/// What changed between two points in history.
#[derive(Clone, Debug)]
pub struct Changes {
    /// The two points.
    pub range: Range,
    /// Every thing that changed: requirements first, each kind by id.
    pub list: Vec<Change>,
    /// What was touched in between and is as it was, by id.
    pub put_back: Vec<PutBack>,
    /// What must be done again because evidence slipped, by what would show it.
    pub redo: Vec<Redo>,
    /// The commits in between, oldest first.
    pub commits: Vec<CommitRef>,
    /// Files that either point holds, or a commit in between left, unreadable: what they said is not in the list.
    pub unreadable: Vec<UnreadableFile>,
    /// Commits whose parents a shallow clone has cut off: what they changed cannot be told.
    pub cut_off: Vec<CommitRef>,
    /// What is to be known about the history that was read, in sentences.
    pub cautions: Vec<&'static str>,
    /// Decisions that the changes name, as the later point has them, or else the earlier one.
    pub decided: Vec<DecidedBy>,
}

/// What happened to one thing.
#[derive(Clone, Debug)]
pub struct Change {
    /// Its id; of a settings file, its name.
    pub id: String,
    /// Its kind.
    pub kind: String,
    /// Its title.
    pub title: String,
    /// Whether people depend on it, then or now.
    pub safety: bool,
    /// What a requirement applies to, in words.
    pub applies_to: Option<String>,
    /// Its file then.
    pub path_from: Option<String>,
    /// Its file now.
    pub path_to: Option<String>,
    /// What differs.
    pub between: Between,
    /// Parameters that moved its limits.
    pub parameters: Vec<MovedParameter>,
    /// The commits that touched it, oldest first.
    pub commits: Vec<CommitRef>,
    /// Whether the last of it is not committed.
    pub uncommitted: bool,
    /// The decisions that those commits name, or that name it.
    pub decisions: Vec<String>,
    /// What accounts for it if it is gone.
    pub accounted: Option<String>,
    /// Signed evidence whose mark lined up and does not any more.
    pub evidence: Vec<Evidence>,
}

/// What was touched in between and is as it was.
#[derive(Clone, Debug)]
pub struct PutBack {
    /// Its id; in a settings file, with the file before it.
    pub id: String,
    /// Its kind.
    pub kind: String,
    /// Its title.
    pub title: String,
    /// Whether it is there at neither point: it came and went.
    pub came_and_went: bool,
    /// The commits that touched it, oldest first.
    pub commits: Vec<CommitRef>,
    /// Signed evidence that carries a mark which it only had in between.
    pub evidence: Vec<Evidence>,
}

/// A parameter that moved a limit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MovedParameter {
    /// Its name.
    pub name: String,
    /// Its value then; none: it was not there.
    pub from: Option<String>,
    /// Its value now.
    pub to: Option<String>,
}

/// A decision that changes name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DecidedBy {
    /// Its id.
    pub id: String,
    /// Its title; none: no file of either point has this id.
    pub title: Option<String>,
    /// Its day.
    pub date: Option<String>,
    /// What it says, as written.
    pub body: String,
}

/// A commit, as far as people want to know.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CommitRef {
    /// Its id.
    pub oid: Oid,
    /// Its author's date, where the author was.
    pub date: String,
    /// What it says of itself.
    pub summary: String,
    /// Why, as far as it says so.
    pub reason: Option<String>,
}

impl CommitRef {
    /// From git's facts.
    pub(super) fn of(commit: &CommitInfo) -> CommitRef {
        CommitRef {
            oid: commit.oid,
            date: commit.author_date.to_string(),
            summary: commit.summary.clone(),
            reason: commit.reason.clone(),
        }
    }
}

/// The project as a commit holds it; none if it was no project then.
///
/// # Errors
/// If the commit cannot be read.
pub fn project_at(repo: &Arc<Repo>, prefix: &str, oid: Oid, request: Request) -> Result<Option<Analysis>, SourceError> {
    match Revision::open(repo.clone(), oid, prefix) {
        Ok(revision) => run(&revision, request).map(Some),
        Err(SourceError::NoProjectInCommit { .. }) => Ok(None),
        Err(error) => Err(error),
    }
}

/// Compares the project at the start of a range with an analysis of its end, and says which commits in between are behind
/// each difference; none if neither holds the project.
///
/// # Errors
/// If git cannot answer.
pub fn changes(
    repo: &Arc<Repo>,
    prefix: &str,
    range: Range,
    now: Option<&Analysis>,
    request: Request,
) -> Result<Option<Changes>, SourceError> {
    let end = match range.to {
        Some(oid) => Some(oid),
        None => repo.head()?,
    };
    let (ends, touched) = rayon::join(
        || Ends::read(repo, prefix, range.from, now, request),
        || repo.apart(|repo| Touched::between(repo, prefix, range.from, end))?,
    );
    let ends = ends?;
    if ends.are_nothing() {
        return Ok(None);
    }
    let touched = touched?;
    let met = |oid: Option<Oid>| oid.map(|oid| repo.commit(oid).map(|commit| CommitRef::of(&commit))).transpose();
    let unread = Unread::of(&ends, met(range.from)?, met(range.to)?);
    let uncommitted = match (range.to, end, now) {
        (None, Some(head), Some(now)) => Uncommitted::find(repo, prefix, head, now)?,
        _ => Uncommitted::default(),
    };
    let mut comparison =
        Comparison { ends: &ends, touched: &touched, uncommitted, unread: &unread, blobs: Blobs::new(repo, prefix) };
    let list = comparison.list()?;
    let put_back = comparison.put_back(&list)?;
    let decided = comparison.decided(&list);
    let mut slipped: BTreeMap<&str, Vec<&Evidence>> = BTreeMap::new();
    let undone = list.iter().map(|it| (&it.id, &it.evidence)).chain(put_back.iter().map(|it| (&it.id, &it.evidence)));
    for (id, evidence) in undone.filter(|(_, evidence)| !evidence.is_empty()) {
        slipped.entry(id).or_default().extend(evidence);
    }
    let redo = now.map(|now| redo(now, &slipped)).unwrap_or_default();
    let commits = touched.commits.iter().map(CommitRef::of).collect();
    let cut_off = touched.cut_off.clone();
    let unreadable = unread.listed(touched.unreadable.clone());
    let cautions = cautions(repo, &cut_off);
    Ok(Some(Changes { range, list, put_back, redo, commits, unreadable, cut_off, cautions, decided }))
}

/// What is to be known about the history that was read.
fn cautions(repo: &Repo, cut_off: &[CommitRef]) -> Vec<&'static str> {
    let mut said = Vec::new();
    if !cut_off.is_empty() {
        said.push(
            "History was cut off when the repository was cloned, inside this range: what came before the commits named \
             here is not known, and changes may name too few commits. Fetch the rest: git fetch --unshallow --tags",
        );
    } else if repo.is_shallow() {
        said.push(
            "History was cut off when the repository was cloned: nothing older than that can be compared. Fetch the \
             rest: git fetch --unshallow --tags",
        );
    }
    if repo.is_replaced() {
        said.push(
            "This clone has grafts or replaced commits. They are not followed: changes name the commits as they were \
             made, which git log in this clone may not show.",
        );
    }
    said
}

struct Comparison<'a> {
    ends: &'a Ends<'a>,
    touched: &'a Touched,
    uncommitted: Uncommitted,
    unread: &'a Unread,
    blobs: Blobs<'a>,
}

/// Things that the work tree holds otherwise than the commit that is checked out.
#[derive(Default)]
struct Uncommitted(BTreeSet<String>);

impl Uncommitted {
    fn find(repo: &Repo, prefix: &str, head: Oid, now: &Analysis) -> Result<Uncommitted, GitError> {
        if matches!(now.origin, Origin::WorkTree { uncommitted: 0, .. }) {
            return Ok(Uncommitted::default());
        }
        let then = Then::read(repo, prefix, head, now)?;
        let mut names: BTreeSet<String> = then.part.ids().map(|(id, _)| id.to_string()).collect();
        let new = now.model.ids().filter(|(_, place)| !then.is_same(now.model.head(*place).file));
        names.extend(new.map(|(id, _)| id.to_string()));
        let blobs = Blobs::new(repo, prefix);
        for name in [PROJECT_FILE, PARAMETERS_FILE, INSTRUMENTS_FILE] {
            let path = RepoPath::new(name);
            let held = repo.tree_file(head, prefix, &path)?.and_then(|file| blobs.text(file.oid));
            let holds = now.snapshot.file(&path).and_then(|file| file.content.text());
            names.extend(settings_between(name, held.as_deref(), holds.map(|text| &**text)));
        }
        Ok(Uncommitted(names))
    }
}

impl<'a> Comparison<'a> {
    fn list(&mut self) -> Result<Vec<Change>, GitError> {
        let ends = self.ends;
        let (old, new) = ends.configs();
        let context = Context {
            calendar: Calendar { then: &old, now: &new },
            ambient: new.ambient.as_ref().or(old.ambient.as_ref()),
        };
        let ids: Vec<&Id> = ends.ids().into_iter().collect();
        let compared: Vec<Vec<Compared<'_>>> = ids.par_iter().map(|id| Compared::all(ends, id, context)).collect();
        let mut list: Vec<(usize, Change)> = Vec::new();
        for (id, compared) in ids.into_iter().zip(compared) {
            for own in compared {
                let order = own.order;
                list.extend(self.one(id, own)?.map(|change| (order, change)));
            }
        }
        list.extend(self.settings(context).into_iter().map(|change| (usize::MAX, change)));
        list.sort_by(|(a, one), (b, other)| (a, &one.id).cmp(&(b, &other.id)));
        let mut list: Vec<Change> = list.into_iter().map(|(_, change)| change).collect();
        super::compare::criteria::trace(
            list.iter_mut().map(|change| (&*change.id, &mut change.between.criteria)).collect(),
        );
        Ok(list)
    }

    fn one(&mut self, id: &Id, compared: Compared<'_>) -> Result<Option<Change>, GitError> {
        let Compared { then, now, between, .. } = compared;
        let hidden = match (then, now) {
            (Some(then), None) => self.unread.may_be_now(id, then.path),
            (None, Some(now)) => self.unread.may_have_been(id, now.path),
            _ => false,
        };
        let Some(shown) = now.or(then).filter(|_| !hidden) else { return Ok(None) };
        let requirements = (then.and_then(|it| it.requirement), now.and_then(|it| it.requirement));
        let shown_requirement = requirements.1.or(requirements.0);
        let mut names = vec![id.to_string()];
        let parameters: Vec<String> = shown_requirement.map(resting_on).unwrap_or_default();
        names.extend(parameters.iter().map(|name| parameter(name)));
        let commits = self.touched.of(&names, between.kind == ChangeKind::Moved);
        let evidence = self.slipped(id, requirements.0)?;
        Ok(Some(Change {
            id: id.to_string(),
            kind: shown.kind.to_string(),
            title: shown.title.to_string(),
            safety: [requirements.0, requirements.1].into_iter().flatten().any(|it| it.safety),
            applies_to: shown_requirement.map(|it| super::compare::requirement::target(&it.applies_to)),
            path_from: then.map(|it| it.path.to_string()),
            path_to: now.map(|it| it.path.to_string()),
            decisions: self.decisions(id, &commits),
            uncommitted: names.iter().any(|name| self.uncommitted.0.contains(name)),
            commits: commits.into_iter().map(CommitRef::of).collect(),
            accounted: if now.is_none() { self.accounted(id) } else { None },
            parameters: if between.criteria.is_empty() || then.is_none() {
                Vec::new()
            } else {
                self.moved(&parameters)
            },
            evidence,
            between,
        }))
    }

    /// Those of some parameters that come to something else.
    fn moved(&self, names: &[String]) -> Vec<MovedParameter> {
        let moved = names.iter().filter_map(|name| {
            let (from, to) = self.ends.parameters(name);
            let text = |it: Option<&crate::config::Parameter>| it.map(|it| it.text.value.clone());
            let (from, to) = (text(from), text(to));
            (from != to).then(|| MovedParameter { name: name.clone(), from, to })
        });
        moved.collect()
    }

    /// Decisions that the commits name, or that were made or changed in between and name the thing.
    fn decisions(&self, id: &Id, commits: &[&CommitInfo]) -> Vec<String> {
        let mut found: BTreeSet<String> = commits.iter().flat_map(|commit| trailers(commit)).collect();
        for model in self.models() {
            let made = model.decisions.iter().filter(|decision| {
                decision.status == DecisionStatus::Accepted
                    && super::less::names(decision, id)
                    && self.is_new(&decision.head.id.value)
            });
            found.extend(made.map(|decision| decision.head.id.value.to_string()));
        }
        found.remove(id.as_str());
        found.into_iter().collect()
    }

    /// The later point's model, then what the earlier one had otherwise.
    fn models(&self) -> impl Iterator<Item = &'a Model> {
        let then = match &self.ends.then {
            Earlier::Nothing => None,
            Earlier::Part(then) => Some(&then.part),
            Earlier::Whole(then) => Some(&then.model),
        };
        self.ends.now.map(|now| &now.model).into_iter().chain(then)
    }

    /// Whether a decision was made or changed in between, or is not committed yet.
    fn is_new(&self, decision: &Id) -> bool {
        self.touched.has(decision) || self.ends.before(decision).is_some() != self.ends.after(decision).is_some()
    }

    /// The decisions that changes name.
    fn decided(&self, list: &[Change]) -> Vec<DecidedBy> {
        let ids: BTreeSet<&String> = list.iter().flat_map(|change| &change.decisions).collect();
        let one = |id: &String| {
            let told = self.ends.after(id).or_else(|| self.ends.before(id)).filter(|it| it.kind == "decision");
            let decision =
                self.models().find_map(|model| model.decisions.iter().find(|it| it.head.id.value.as_str() == id));
            DecidedBy {
                id: id.clone(),
                title: told.map(|it| it.title.to_string()),
                date: decision.and_then(|it| it.date.as_ref()).map(|date| date.text.clone()),
                body: told.map(|it| it.body().to_string()).unwrap_or_default(),
            }
        };
        ids.into_iter().map(one).collect()
    }

    fn accounted(&self, id: &Id) -> Option<String> {
        let model: &Model = &self.ends.now?.model;
        let list = |ids: Vec<&Id>| ids.iter().map(|id| id.as_str()).collect::<Vec<_>>().join(", ");
        let (replaced, withdrawn): (Vec<&Id>, Vec<&Id>) =
            (replaced_by(model, id).collect(), withdrawn_by(model, id).collect());
        match (replaced.is_empty(), withdrawn.is_empty()) {
            (false, _) => Some(format!("replaced by {}", list(replaced))),
            (true, false) => Some(format!("withdrawn by {}", list(withdrawn))),
            (true, true) => None,
        }
    }

    /// Signed evidence that carries a mark which the requirement had then or in between, and not the one of now.
    fn slipped(&mut self, id: &Id, then: Option<&Requirement>) -> Result<Vec<Evidence>, GitError> {
        let Some(now) = self.ends.now else { return Ok(Vec::new()) };
        let mut between: Option<BTreeSet<String>> = None;
        let mut slipped = Vec::new();
        for (record, which) in out_of_line(now, id) {
            let verifies = &now.model.records[record].verifies[which];
            let then_had = then.is_some_and(|then| verifies.marks().any(|mark| mark == then.mark));
            let had = then_had || {
                let known = match &between {
                    Some(known) => known,
                    None => {
                        let using = now.model.requirement(id).map(resting_on).unwrap_or_default();
                        let using: Vec<String> = using.iter().map(|name| parameter(name)).collect();
                        between.insert(self.touched.marks(&mut self.blobs, id, &using)?)
                    }
                };
                verifies.marks().any(|mark| known.contains(mark))
            };
            if had {
                slipped.extend(evidence(now, id, (record, which)));
            }
        }
        Ok(slipped)
    }

    /// What a commit in between touched, and what is not in the list.
    fn put_back(&mut self, list: &[Change]) -> Result<Vec<PutBack>, GitError> {
        let listed: BTreeSet<String> = list
            .iter()
            .map(|change| match change.kind.as_str() {
                "parameter" => parameter(&change.id),
                "instrument" => instrument(&change.id),
                _ => change.id.clone(),
            })
            .collect();
        let mut found = Vec::new();
        for name in self.touched.names().filter(|name| !listed.contains(*name)) {
            let id = Id::new(name);
            let there = self.ends.after(name).or_else(|| self.ends.before(name));
            let seen = self.touched.seen(&mut self.blobs, name);
            let (kind, title) = match (there, seen) {
                (Some(it), _) => (it.kind.to_string(), it.title.to_string()),
                (None, Some((kind, title))) => (kind, title),
                (None, None) => (if name.contains(':') { "setting" } else { "file" }.to_string(), String::new()),
            };
            // One that cannot be read at an end is told as that.
            let path = self.touched.path(name).unwrap_or_default();
            let hidden = self.unread.may_have_been(name, &path) || self.unread.may_be_now(name, &path);
            if hidden && there.is_none() {
                continue;
            }
            let evidence = self.slipped(&id, None)?;
            let commits = self.touched.of(&[name.to_string()], false).into_iter().map(CommitRef::of).collect();
            let came_and_went = there.is_none() && kind != "setting" && kind != "file";
            found.push(PutBack { id: name.to_string(), kind, title, came_and_went, commits, evidence });
        }
        Ok(found)
    }

    /// The settings files: parameters and instruments one by one, the project file as a whole.
    fn settings(&self, context: Context<'_>) -> Vec<Change> {
        let mut list = Vec::new();
        for (file, kind) in [(PARAMETERS_FILE, "parameter"), (INSTRUMENTS_FILE, "instrument")] {
            let Some((old, new)) = self.ends.settings(file) else { continue };
            let entries = |text: Option<&str>| text.map(keys::entries).unwrap_or_default();
            let (old, new): (BTreeMap<String, Flat>, BTreeMap<String, Flat>) = (entries(old), entries(new));
            let names: BTreeSet<&String> = old.keys().chain(new.keys()).collect();
            for id in names {
                let thing = if kind == "parameter" { parameter(id) } else { instrument(id) };
                let setting = Setting { id, kind, file, thing: &thing };
                list.extend(self.setting(setting, (old.get(id), new.get(id)), context));
            }
        }
        if let Some((old, new)) = self.ends.settings(PROJECT_FILE) {
            let (old, new) = (old.map(keys::settings), new.map(keys::settings));
            let setting = Setting { id: PROJECT_FILE, kind: "project", file: PROJECT_FILE, thing: PROJECT_FILE };
            list.extend(self.setting(setting, (old.as_ref(), new.as_ref()), context));
        }
        list
    }

    fn setting(&self, it: Setting<'_>, sides: (Option<&Flat>, Option<&Flat>), context: Context<'_>) -> Option<Change> {
        let version = |flat| Version { kind: it.kind, path: it.file, content: Content::Settings(flat) };
        let between = compare(sides.0.map(version), sides.1.map(version), context)?;
        let commits = self.touched.of(&[it.thing.to_string()], false);
        let title = sides.1.or(sides.0).and_then(|flat| flat.get("note").or(flat.get("what"))).cloned();
        Some(Change {
            id: it.id.to_string(),
            kind: it.kind.to_string(),
            title: title.unwrap_or_default(),
            safety: false,
            applies_to: None,
            path_from: sides.0.map(|_| it.file.to_string()),
            path_to: sides.1.map(|_| it.file.to_string()),
            decisions: self.decisions(&Id::new(it.id), &commits),
            uncommitted: self.uncommitted.0.contains(it.thing),
            commits: commits.into_iter().map(CommitRef::of).collect(),
            accounted: None,
            parameters: Vec::new(),
            evidence: Vec::new(),
            between,
        })
    }
}

/// A part of a settings file.
#[derive(Clone, Copy)]
struct Setting<'s> {
    id: &'s str,
    kind: &'static str,
    file: &'static str,
    thing: &'s str,
}

/// The parameters that a requirement's limits use.
fn resting_on(requirement: &Requirement) -> Vec<String> {
    let texts = |limit: &Limit| {
        let tolerance = limit.tolerance.as_ref().map(|(text, _)| text.value.clone());
        [Some(limit.text.value.clone()), tolerance]
    };
    let limits = requirement.criteria.iter().flat_map(Criterion::limits).flat_map(texts).flatten();
    let names: BTreeSet<String> = limits.flat_map(|text| quantity::names(&text)).collect();
    names.into_iter().collect()
}
