//! What changed between two points in history, why, and what evidence it undid.

use std::collections::{BTreeMap, BTreeSet};

use crate::analysis::{Analysis, Request, run};
use crate::diag::Place;
use crate::git::{CommitInfo, GitError, Oid, Repo};
use crate::model::kinds::{Criterion, DecisionStatus, Limit, RecordStatus, Requirement};
use crate::model::{Id, Model, Ref};
use crate::quantity;
use crate::source::{INSTRUMENTS_FILE, PARAMETERS_FILE, PROJECT_FILE, Revision, SourceError};
use crate::text::RepoPath;

use super::blobs::Blobs;
use super::commits::{Touched, UnreadableFile, instrument, parameter, settings_between, trailers};
use super::compare::calendar::Calendar;
use super::keys::{self, Flat};
use super::range::Range;
use super::then::{Then, breaks};
use super::vanished::{replaced_by, withdrawn_by};
use super::versions::{Between, ChangeKind, Content, Context, Version, compare};

/// What changed between two points in history.
#[derive(Clone, Debug)]
pub struct Changes {
    /// The two points.
    pub range: Range,
    /// Every thing that changed: requirements first, each kind by id.
    pub list: Vec<Change>,
    /// The commits in between, oldest first.
    pub commits: Vec<CommitRef>,
    /// Files that either point holds, or a commit in between left, unreadable: what they said is not in the list.
    pub unreadable: Vec<UnreadableFile>,
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
    /// Its file then.
    pub path_from: Option<String>,
    /// Its file now.
    pub path_to: Option<String>,
    /// What differs.
    pub between: Between,
    /// The commits that touched it, oldest first.
    pub commits: Vec<CommitRef>,
    /// Whether the last of it is not committed.
    pub uncommitted: bool,
    /// The decisions that those commits name, or that name it.
    pub decisions: Vec<String>,
    /// What accounts for it if it is gone.
    pub accounted: Option<String>,
    /// Signed evidence whose mark lined up and does not any more.
    pub slipped: Vec<String>,
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
}

impl CommitRef {
    /// From git's facts.
    pub(super) fn of(commit: &CommitInfo) -> CommitRef {
        CommitRef { oid: commit.oid, date: commit.author_date.to_string(), summary: commit.summary.clone() }
    }
}

/// The project as a commit holds it; none if it was no project then.
///
/// # Errors
/// If the commit cannot be read.
pub fn project_at(
    repo: &std::sync::Arc<Repo>,
    prefix: &str,
    oid: Oid,
    request: Request,
) -> Result<Option<Analysis>, SourceError> {
    match Revision::open(repo.clone(), oid, prefix) {
        Ok(revision) => run(&revision, request).map(Some),
        Err(SourceError::NoProjectInCommit { .. }) => Ok(None),
        Err(error) => Err(error),
    }
}

/// Compares two analyses of a project and says which commits in between are behind each difference.
///
/// # Errors
/// If git cannot answer.
pub fn changes(
    repo: &Repo,
    prefix: &str,
    range: Range,
    then: Option<&Analysis>,
    now: Option<&Analysis>,
) -> Result<Changes, GitError> {
    let end = match range.to {
        Some(oid) => Some(oid),
        None => repo.head()?,
    };
    let mut touched = Touched::between(repo, prefix, range.from, end)?;
    note_unreadable(repo, &range, then, now, &mut touched.unreadable)?;
    let uncommitted = match (range.to, end, now) {
        (None, Some(head), Some(now)) => Uncommitted::find(repo, prefix, head, now)?,
        _ => Uncommitted::default(),
    };
    let comparison = Comparison { then, now, touched: &touched, uncommitted };
    let list = comparison.list();
    let commits = touched.commits.iter().map(CommitRef::of).collect();
    Ok(Changes { range, list, commits, unreadable: touched.unreadable })
}

/// Adds the files that the two points themselves hold unreadable.
fn note_unreadable(
    repo: &Repo,
    range: &Range,
    then: Option<&Analysis>,
    now: Option<&Analysis>,
    list: &mut Vec<UnreadableFile>,
) -> Result<(), GitError> {
    let met = |oid: Option<Oid>| oid.map(|oid| repo.commit(oid).map(|commit| CommitRef::of(&commit))).transpose();
    if let Some(now) = now {
        let later = unreadable(now, met(range.to)?);
        let known: BTreeSet<String> = list.iter().map(|file| file.path.clone()).collect();
        list.extend(later.into_iter().filter(|file| !known.contains(&file.path)));
    }
    if let Some(then) = then {
        list.splice(0..0, unreadable(then, met(range.from)?));
    }
    Ok(())
}

/// Each file of an analysis that could not be read in full, with the first reason.
fn unreadable(analysis: &Analysis, commit: Option<CommitRef>) -> Vec<UnreadableFile> {
    let mut files: BTreeMap<String, String> = BTreeMap::new();
    for finding in analysis.findings.iter().filter(|finding| breaks(finding)) {
        let path = match &finding.place {
            Place::At(span) => analysis.sources.file(span.file).path.to_string(),
            Place::Path(path) => path.to_string(),
            Place::Project => continue,
        };
        files.entry(path).or_insert_with(|| finding.message.clone());
    }
    files.into_iter().map(|(path, why)| UnreadableFile { commit: commit.clone(), path, why }).collect()
}

struct Comparison<'a> {
    then: Option<&'a Analysis>,
    now: Option<&'a Analysis>,
    touched: &'a Touched,
    uncommitted: Uncommitted,
}

/// Things that the work tree holds otherwise than the commit that is checked out.
#[derive(Default)]
struct Uncommitted(BTreeSet<String>);

impl Uncommitted {
    fn find(repo: &Repo, prefix: &str, head: Oid, now: &Analysis) -> Result<Uncommitted, GitError> {
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

impl Comparison<'_> {
    fn list(&self) -> Vec<Change> {
        let Some(known) = self.then.or(self.now) else { return Vec::new() };
        let config = |side: Option<&'_ Analysis>| side.map_or(known.model.config.clone(), |it| it.model.config.clone());
        let (old, new) = (config(self.then), config(self.now));
        let context = Context {
            calendar: Calendar { then: &old, now: &new },
            ambient: new.ambient.as_ref().or(old.ambient.as_ref()),
        };
        let ids: BTreeSet<&Id> =
            [self.then, self.now].into_iter().flatten().flat_map(|it| it.model.ids()).map(|(id, _)| id).collect();
        let mut list: Vec<(usize, Change)> = Vec::new();
        for id in ids {
            list.extend(self.thing(id, context));
        }
        list.extend(self.settings(context).into_iter().map(|change| (usize::MAX, change)));
        list.sort_by(|(a, one), (b, other)| (a, &one.id).cmp(&(b, &other.id)));
        list.into_iter().map(|(_, change)| change).collect()
    }

    /// One thing by id; two changes if it became a thing of another sort.
    fn thing(&self, id: &Id, context: Context<'_>) -> Vec<(usize, Change)> {
        let find = |side: Option<&'_ Analysis>| side.and_then(|it| it.model.find(id));
        let (old, new) = (find(self.then), find(self.now));
        let sort = |place: Option<Ref>| place.map(order);
        let pairs = match (sort(old), sort(new)) {
            (Some(a), Some(b)) if a != b => vec![(old, None), (None, new)],
            _ => vec![(old, new)],
        };
        let changes = pairs.into_iter().filter_map(|(old, new)| {
            let place = sort(new).or(sort(old))?;
            Some((place, self.one(id, old, new, context)?))
        });
        changes.collect()
    }

    fn one(&self, id: &Id, old: Option<Ref>, new: Option<Ref>, context: Context<'_>) -> Option<Change> {
        let then = self.then.zip(old).map(|(it, place)| describe(it, place));
        let now = self.now.zip(new).map(|(it, place)| describe(it, place));
        let between = compare(then.as_ref().map(Described::version), now.as_ref().map(Described::version), context)?;
        let shown = now.as_ref().or(then.as_ref())?;
        let requirements = (then.as_ref().and_then(|it| it.requirement), now.as_ref().and_then(|it| it.requirement));
        let mut names = vec![id.to_string()];
        names.extend(requirements.1.or(requirements.0).into_iter().flat_map(resting_on));
        let commits = self.touched.of(&names, between.kind == ChangeKind::Moved);
        Some(Change {
            id: id.to_string(),
            kind: shown.kind.to_string(),
            title: shown.title.to_string(),
            safety: [requirements.0, requirements.1].into_iter().flatten().any(|it| it.safety),
            path_from: then.as_ref().map(|it| it.path.to_string()),
            path_to: now.as_ref().map(|it| it.path.to_string()),
            decisions: self.decisions(id, &commits),
            uncommitted: names.iter().any(|name| self.uncommitted.0.contains(name)),
            commits: commits.into_iter().map(CommitRef::of).collect(),
            accounted: if now.is_none() { self.accounted(id) } else { None },
            slipped: self.slipped(id, requirements),
            between,
        })
    }

    /// Decisions that the commits name, or that were made or changed in between and name the thing.
    fn decisions(&self, id: &Id, commits: &[&CommitInfo]) -> Vec<String> {
        let mut found: BTreeSet<String> = commits.iter().flat_map(|commit| trailers(commit)).collect();
        for model in [self.then, self.now].into_iter().flatten().map(|it| &it.model) {
            let made = model.decisions.iter().filter(|decision| {
                decision.status == DecisionStatus::Accepted
                    && self.is_new(&decision.head.id.value)
                    && super::less::names(decision, id)
            });
            found.extend(made.map(|decision| decision.head.id.value.to_string()));
        }
        found.remove(id.as_str());
        found.into_iter().collect()
    }

    /// Whether a decision was made or changed in between, or is not committed yet.
    fn is_new(&self, decision: &Id) -> bool {
        let there = |side: Option<&'_ Analysis>| side.is_some_and(|it| it.model.find(decision).is_some());
        self.touched.has(decision) || there(self.then) != there(self.now)
    }

    fn accounted(&self, id: &Id) -> Option<String> {
        let model: &Model = &self.now?.model;
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
    fn slipped(&self, id: &Id, requirements: (Option<&Requirement>, Option<&Requirement>)) -> Vec<String> {
        let ((Some(then), Some(now)), Some(analysis)) = (requirements, self.now) else { return Vec::new() };
        if then.mark == now.mark {
            return Vec::new();
        }
        let had = |mark: &str| {
            mark == then.mark || self.touched.marks.get(id.as_str()).is_some_and(|marks| marks.contains(mark))
        };
        let signed = analysis.model.records.iter().filter(|record| record.status.value == RecordStatus::Signed);
        let slipped = signed.filter(|record| {
            record.verifies.iter().any(|verifies| {
                let lines_up = verifies.marks().any(|mark| mark == now.mark);
                verifies.requirement.value == *id && !lines_up && verifies.marks().any(had)
            })
        });
        slipped.map(|record| record.head.id.value.to_string()).collect()
    }

    /// The settings files: parameters and instruments one by one, the project file as a whole.
    fn settings(&self, context: Context<'_>) -> Vec<Change> {
        let text = |side: Option<&'_ Analysis>, name: &str| {
            let file = side.and_then(|it| it.snapshot.file(&RepoPath::new(name)));
            file.and_then(|file| file.content.text().cloned())
        };
        let mut list = Vec::new();
        for (file, kind) in [(PARAMETERS_FILE, "parameter"), (INSTRUMENTS_FILE, "instrument")] {
            let entries = |side| text(side, file).map(|text| keys::entries(&text)).unwrap_or_default();
            let (old, new): (BTreeMap<String, Flat>, BTreeMap<String, Flat>) = (entries(self.then), entries(self.now));
            let names: BTreeSet<&String> = old.keys().chain(new.keys()).collect();
            for id in names {
                let thing = if kind == "parameter" { parameter(id) } else { instrument(id) };
                list.extend(self.setting(
                    Setting { id, kind, file, thing: &thing },
                    (old.get(id), new.get(id)),
                    context,
                ));
            }
        }
        let whole = |side| text(side, PROJECT_FILE).map(|text| keys::settings(&text));
        let (old, new) = (whole(self.then), whole(self.now));
        let setting = Setting { id: PROJECT_FILE, kind: "project", file: PROJECT_FILE, thing: PROJECT_FILE };
        list.extend(self.setting(setting, (old.as_ref(), new.as_ref()), context));
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
            path_from: sides.0.map(|_| it.file.to_string()),
            path_to: sides.1.map(|_| it.file.to_string()),
            decisions: self.decisions(&Id::new(it.id), &commits),
            uncommitted: self.uncommitted.0.contains(it.thing),
            commits: commits.into_iter().map(CommitRef::of).collect(),
            accounted: None,
            slipped: Vec::new(),
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

/// A thing of an analysis, ready to be compared.
struct Described<'a> {
    kind: &'static str,
    title: &'a str,
    path: &'a str,
    text: &'a str,
    requirement: Option<&'a Requirement>,
}

impl Described<'_> {
    fn version(&self) -> Version<'_> {
        let content = Content::File { text: self.text, requirement: self.requirement };
        Version { kind: self.kind, path: self.path, content }
    }
}

fn describe(analysis: &Analysis, place: Ref) -> Described<'_> {
    let head = analysis.model.head(place);
    let file = analysis.sources.file(head.file);
    Described {
        kind: analysis.model.kind(place),
        title: &head.title,
        path: file.path.as_str(),
        text: &file.text,
        requirement: match place {
            Ref::Requirement(at) => Some(&analysis.model.requirements[at]),
            _ => None,
        },
    }
}

/// Kinds in the order in which changes are told.
fn order(place: Ref) -> usize {
    match place {
        Ref::Requirement(_) => 0,
        Ref::Decision(_) => 1,
        Ref::Item(_) | Ref::Slot(_) => 2,
        Ref::Procedure(_) => 3,
        Ref::Record(_) => 4,
        Ref::Nonconformance(_) => 5,
        Ref::Waiver(_) => 6,
        Ref::Held(_) => 7,
    }
}

/// The parameters that a requirement's limits use, as things.
fn resting_on(requirement: &Requirement) -> Vec<String> {
    let texts = |limit: &Limit| {
        let tolerance = limit.tolerance.as_ref().map(|(text, _)| text.value.clone());
        [Some(limit.text.value.clone()), tolerance]
    };
    let limits = requirement.criteria.iter().flat_map(Criterion::limits).flat_map(texts).flatten();
    let names: BTreeSet<String> = limits.flat_map(|text| quantity::names(&text)).collect();
    names.iter().map(|name| parameter(name)).collect()
}
