//! What changed between two points in history, for display.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use crate::history::{
    Change, ChangeKind, Changes, CommitRef, CriterionChange, DecidedBy, Direction, Evidence, KeyChange, MovedParameter,
    PutBack, Redo, RedoRow, SideChange, StillOf, Undone, UndoneRow, UnreadableFile,
};
use crate::state::State;
use crate::state::stands::Fares;

/// The answer of `changes`.
#[derive(Clone, Debug, Serialize)]
pub struct ChangesView {
    /// The program's version.
    pub slipmark: &'static str,
    /// The project's name.
    pub project: String,
    /// The earlier commit; none: before the first one.
    pub from: Option<String>,
    /// The later commit; none: the work tree.
    pub to: Option<String>,
    /// How the earlier one was named.
    pub from_name: String,
    /// Whether the earlier commit is the last one before what was named: a day, or a decision being recorded.
    pub from_before: bool,
    /// How the later one was named.
    pub to_name: String,
    /// Commits in between.
    pub commit_count: usize,
    /// What changed: requirements first, each kind by id.
    pub changes: Vec<ChangeView>,
    /// What was touched in between and is as it was.
    pub put_back: Vec<PutBackView>,
    /// What is open because evidence was undone, by what would show it again.
    pub redo: Vec<RedoView>,
    /// What does not stand any more, and no one change is behind.
    pub undone: Vec<UndoneView>,
    /// The decisions that changes name.
    pub decided: Vec<DecidedView>,
    /// Files that either point holds, or a commit in between left, unreadable.
    pub unreadable: Vec<UnreadableView>,
    /// Commits whose parents a shallow clone has cut off.
    pub cut_off: Vec<CommitView>,
    /// What is to be known about the history that was read.
    pub cautions: Vec<String>,
}

/// What happened to one thing.
#[derive(Clone, Debug, Serialize)]
pub struct ChangeView {
    /// Its id.
    pub id: String,
    /// Its kind.
    pub kind: String,
    /// Its title.
    pub title: String,
    /// Whether people depend on it, then or now.
    pub safety: bool,
    /// What a requirement applies to.
    pub applies_to: Option<String>,
    /// added, withdrawn, removed, revised, plan, moved or cosmetic.
    pub change: &'static str,
    /// Whether evidence was looked at again and nothing else happened.
    pub reaffirmed: bool,
    /// The file then and now, where it is another.
    pub path: FromTo,
    /// The statement then and now, if it says something else.
    pub statement: Option<FromTo>,
    /// Criteria that differ.
    pub criteria: Vec<CriterionChangeView>,
    /// Parameters that moved its limits.
    pub parameters: Vec<ParameterView>,
    /// How status, reach, safety and parents differ, in words.
    pub reach: Vec<String>,
    /// How the plan differs, in words.
    pub plan: Vec<String>,
    /// Other keys that differ, in words.
    pub keys: Vec<String>,
    /// The rationale then and now, if it says something else.
    pub rationale: Option<FromTo>,
    /// The text below the front matter then and now, if it says something else and nothing else here tells how.
    pub body: Option<FromTo>,
    /// The commits that touched it, oldest first.
    pub commits: Vec<CommitView>,
    /// Whether the last of it is not committed.
    pub uncommitted: bool,
    /// The decisions behind it.
    pub decisions: Vec<String>,
    /// What accounts for it if it is gone.
    pub accounted: Option<String>,
    /// Signed evidence whose mark lined up and does not any more.
    pub slipped: Vec<String>,
    /// The same, with what it says against what is asked now.
    pub evidence: Vec<EvidenceView>,
    /// What else does not stand any more because of it.
    pub undone: Vec<UndoneView>,
}

/// A reason for which rows do not stand any more.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct UndoneView {
    /// The state that it makes.
    #[serde(serialize_with = "super::row::state")]
    pub state: State,
    /// The evidence, if the reason is about some.
    pub record: Option<String>,
    /// Its code.
    pub code: &'static str,
    /// What was found.
    pub text: String,
    /// What to do next.
    pub help: String,
    /// The rows.
    pub rows: Vec<UndoneRowView>,
}

/// A row that does not stand any more.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct UndoneRowView {
    /// The requirement.
    pub requirement: String,
    /// On what.
    pub subject: String,
}

/// What was touched in between and is as it was.
#[derive(Clone, Debug, Serialize)]
pub struct PutBackView {
    /// Its id; in a settings file, with the file before it.
    pub id: String,
    /// Its kind.
    pub kind: String,
    /// Its title.
    pub title: String,
    /// Whether it is there at neither point.
    pub came_and_went: bool,
    /// The commits that touched it, oldest first.
    pub commits: Vec<CommitView>,
    /// Signed evidence that was made for what it said in between.
    pub slipped: Vec<String>,
    /// The same, with what it says against what is asked now.
    pub evidence: Vec<EvidenceView>,
}

/// A parameter that moved a limit.
#[derive(Clone, Debug, Serialize)]
pub struct ParameterView {
    /// Its name.
    pub name: String,
    /// Its value then; none: it was not there.
    pub from: Option<String>,
    /// Its value now; none: it is not there.
    pub to: Option<String>,
}

/// A signed record whose mark lined up and does not any more.
#[derive(Clone, Debug, Serialize)]
pub struct EvidenceView {
    /// The record.
    pub record: String,
    /// What it is about.
    pub subjects: Vec<String>,
    /// The procedure that it was made by.
    pub procedure: Option<String>,
    /// How it would fare against what is asked now: met, inconclusive, cannot tell or not met.
    #[serde(serialize_with = "word")]
    pub verdict: Fares,
    /// Its results against what is asked now.
    pub criteria: Vec<StillView>,
}

/// One result against what is asked now.
#[derive(Clone, Debug, Serialize)]
pub struct StillView {
    /// The criterion.
    pub name: String,
    /// How it would fare.
    #[serde(serialize_with = "word")]
    pub verdict: Fares,
    /// The result as written.
    pub result: Option<String>,
    /// What is asked now.
    pub limit: String,
    /// The distance to the limit.
    pub margin: Option<String>,
    /// Why conditions are not shown to have held.
    pub conditions: Vec<String>,
}

/// What is open because evidence was undone, by what would show it again.
#[derive(Clone, Debug, Serialize)]
pub struct RedoView {
    /// The procedure, or the kind of record.
    pub how: String,
    /// What is in the way of running it, if something is.
    pub note: Option<String>,
    /// What is open.
    pub rows: Vec<RedoRowView>,
}

/// A row that is open because evidence was undone.
#[derive(Clone, Debug, Serialize)]
pub struct RedoRowView {
    /// The requirement.
    pub requirement: String,
    /// On what.
    pub subject: String,
    /// The evidence that slipped.
    pub records: Vec<String>,
    /// How that evidence would fare; null: none slipped.
    #[serde(serialize_with = "word_of")]
    pub verdict: Option<Fares>,
    /// What else does not stand, in words.
    pub undone: Vec<String>,
    /// The things whose changes are behind it, where that is known.
    pub because_of: Vec<String>,
    /// Whether it has to be made anew; else it would still be met, and somebody has to look at it.
    pub anew: bool,
}

/// A decision that changes name.
#[derive(Clone, Debug, Serialize)]
pub struct DecidedView {
    /// Its id.
    pub id: String,
    /// Its title; none: no file has this id.
    pub title: Option<String>,
    /// Its day.
    pub date: Option<String>,
    /// What it says, as written.
    pub body: String,
}

fn word<S: serde::Serializer>(fares: &Fares, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_str(fares.word())
}

fn word_of<S: serde::Serializer>(fares: &Option<Fares>, serializer: S) -> Result<S::Ok, S::Error> {
    match fares {
        Some(fares) => word(fares, serializer),
        None => serializer.serialize_none(),
    }
}

/// A value then and now.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct FromTo {
    /// Then; none: it was not there.
    pub from: Option<String>,
    /// Now; none: it is not there.
    pub to: Option<String>,
}

/// How one criterion differs.
#[derive(Clone, Debug, Serialize)]
pub struct CriterionChangeView {
    /// Its name.
    pub name: String,
    /// tightened, relaxed, restated, changed, added or removed.
    pub direction: &'static str,
    /// What it expected.
    pub from: Option<String>,
    /// What it expects.
    pub to: Option<String>,
    /// What it was called, if it has another name now.
    pub was: Option<String>,
    /// How each of its sides moved.
    pub sides: Vec<SideView>,
    /// The requirement that it came from or went to unchanged.
    pub elsewhere: Option<String>,
}

/// How one side of a criterion differs.
#[derive(Clone, Debug, Serialize)]
pub struct SideView {
    /// min, max, covers, confidence, reliability, count, expect, or `at` with the name of a condition.
    pub side: String,
    /// tightened, relaxed, restated or changed.
    pub direction: &'static str,
    /// What it was.
    pub from: Option<String>,
    /// What it is.
    pub to: Option<String>,
}

/// A commit.
#[derive(Clone, Debug, Serialize)]
pub struct CommitView {
    /// Its id.
    pub oid: String,
    /// Its author's date.
    pub date: String,
    /// What it says of itself.
    pub summary: String,
    /// Why, as far as it says so.
    pub reason: Option<String>,
    /// Who wrote it, only where that was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub who: Option<String>,
}

/// A file that could not be read, or not all of it.
#[derive(Clone, Debug, Serialize)]
pub struct UnreadableView {
    /// The file.
    pub path: String,
    /// Why.
    pub why: String,
    /// The commit that left it so, or at which it was met so; none: the work tree.
    pub commit: Option<CommitView>,
}

impl CommitView {
    /// From git's facts.
    pub fn of(commit: &CommitRef) -> CommitView {
        CommitView {
            oid: commit.oid.to_string(),
            date: commit.date.clone(),
            summary: commit.summary.clone(),
            reason: commit.reason.clone(),
            who: None,
        }
    }
}

impl CriterionChangeView {
    /// From a comparison.
    pub fn of(change: &CriterionChange) -> CriterionChangeView {
        CriterionChangeView {
            name: change.name.clone(),
            direction: change.direction.word(),
            from: change.from.clone(),
            to: change.to.clone(),
            was: change.was.clone(),
            sides: change.sides.iter().map(SideView::of).collect(),
            elsewhere: change.elsewhere.clone(),
        }
    }
}

impl SideView {
    fn of(side: &SideChange) -> SideView {
        SideView {
            side: side.side.clone(),
            direction: side.direction.word(),
            from: side.from.clone(),
            to: side.to.clone(),
        }
    }
}

impl EvidenceView {
    fn of(evidence: &Evidence) -> EvidenceView {
        let still = |it: &StillOf| StillView {
            name: it.name.clone(),
            verdict: it.fares,
            result: it.result.clone(),
            limit: it.limit.clone(),
            margin: it.margin.clone(),
            conditions: it.conditions.clone(),
        };
        EvidenceView {
            record: evidence.record.clone(),
            subjects: evidence.subjects.clone(),
            procedure: evidence.procedure.clone(),
            verdict: evidence.fares,
            criteria: evidence.criteria.iter().map(still).collect(),
        }
    }
}

impl RedoView {
    fn of(redo: &Redo) -> RedoView {
        let row = |row: &RedoRow| RedoRowView {
            requirement: row.requirement.clone(),
            subject: row.subject.clone(),
            records: row.records.clone(),
            verdict: row.fares,
            undone: row.undone.clone(),
            because_of: row.because_of.clone(),
            anew: row.fares != Some(Fares::Met) || !row.undone.is_empty(),
        };
        RedoView { how: redo.how.clone(), note: redo.note.clone(), rows: redo.rows.iter().map(row).collect() }
    }
}

impl UndoneView {
    fn of(it: &Undone) -> UndoneView {
        let row =
            |row: &UndoneRow| UndoneRowView { requirement: row.requirement.clone(), subject: row.subject.clone() };
        UndoneView {
            state: it.state,
            record: it.record.clone(),
            code: it.code,
            text: it.text.clone(),
            help: it.help.clone(),
            rows: it.rows.iter().map(row).collect(),
        }
    }
}

impl PutBackView {
    fn of(it: &PutBack) -> PutBackView {
        PutBackView {
            id: it.id.clone(),
            kind: it.kind.clone(),
            title: it.title.clone(),
            came_and_went: it.came_and_went,
            commits: it.commits.iter().map(CommitView::of).collect(),
            slipped: records(&it.evidence),
            evidence: it.evidence.iter().map(EvidenceView::of).collect(),
        }
    }
}

fn records(evidence: &[Evidence]) -> Vec<String> {
    evidence.iter().map(|it| it.record.clone()).collect()
}

fn from_to(pair: &(Option<String>, Option<String>)) -> FromTo {
    FromTo { from: pair.0.clone(), to: pair.1.clone() }
}

impl ChangeView {
    /// From a comparison.
    pub fn of(change: &Change) -> ChangeView {
        let between = &change.between;
        let elsewhere = between.kind == ChangeKind::Moved || change.path_from != change.path_to;
        let path = if elsewhere { (change.path_from.clone(), change.path_to.clone()) } else { (None, None) };
        ChangeView {
            id: change.id.clone(),
            kind: change.kind.clone(),
            title: change.title.clone(),
            safety: change.safety,
            applies_to: change.applies_to.clone(),
            change: between.kind.word(),
            reaffirmed: between.only_reaffirmed,
            path: FromTo { from: path.0, to: path.1 },
            statement: between.statement.as_ref().map(from_to),
            criteria: between.criteria.iter().map(CriterionChangeView::of).collect(),
            parameters: change.parameters.iter().map(moved).collect(),
            reach: between.reach.clone(),
            plan: between.plan.clone(),
            keys: between.keys.iter().map(KeyChange::show).collect(),
            rationale: between.rationale.as_ref().map(from_to),
            body: between.body.clone().map(|(from, to)| FromTo { from: Some(from), to: Some(to) }),
            commits: change.commits.iter().map(CommitView::of).collect(),
            uncommitted: change.uncommitted,
            decisions: change.decisions.clone(),
            accounted: change.accounted.clone(),
            slipped: records(&change.evidence),
            evidence: change.evidence.iter().map(EvidenceView::of).collect(),
            undone: change.undone.iter().map(UndoneView::of).collect(),
        }
    }

    /// Whether nothing that evidence or plans hang from differs: a file that only moved, or looks.
    pub fn is_small(&self) -> bool {
        self.change == ChangeKind::Moved.word() || self.change == ChangeKind::Cosmetic.word()
    }

    /// The word for what happened.
    pub fn word(&self) -> &'static str {
        if self.reaffirmed { "reaffirmed" } else { self.change }
    }
}

impl CriterionChangeView {
    /// Whether its sides say more than its direction: they moved in different ways, or more than one did.
    pub fn tells_sides(&self) -> bool {
        self.sides.len() > 1 || (self.sides.len() == 1 && self.direction == Direction::Changed.word())
    }
}

/// What a point in history is, in words: of a day or a decision, the commit before it.
pub(super) fn point(name: &str, before: bool) -> String {
    if before { format!("the commit before {name}") } else { name.to_string() }
}

impl ChangesView {
    /// What is compared, in words.
    pub fn from_words(&self) -> String {
        point(&self.from_name, self.from_before)
    }

    /// Names the author of every commit, by the commit's id.
    pub fn name_authors(&mut self, authors: &BTreeMap<String, String>) {
        let changes = self.changes.iter_mut().flat_map(|change| &mut change.commits);
        let put_back = self.put_back.iter_mut().flat_map(|it| &mut it.commits);
        let unreadable = self.unreadable.iter_mut().filter_map(|it| it.commit.as_mut());
        for commit in changes.chain(put_back).chain(unreadable).chain(&mut self.cut_off) {
            commit.who = authors.get(&commit.oid).cloned();
        }
    }

    /// Every commit that it names, each once.
    pub fn commits(&self) -> BTreeSet<&str> {
        let changes = self.changes.iter().flat_map(|change| &change.commits);
        let put_back = self.put_back.iter().flat_map(|it| &it.commits);
        let unreadable = self.unreadable.iter().filter_map(|it| it.commit.as_ref());
        changes.chain(put_back).chain(unreadable).chain(&self.cut_off).map(|commit| commit.oid.as_str()).collect()
    }
}

fn moved(parameter: &MovedParameter) -> ParameterView {
    ParameterView { name: parameter.name.clone(), from: parameter.from.clone(), to: parameter.to.clone() }
}

fn decided(it: &DecidedBy) -> DecidedView {
    DecidedView { id: it.id.clone(), title: it.title.clone(), date: it.date.clone(), body: it.body.clone() }
}

fn unreadable(file: &UnreadableFile) -> UnreadableView {
    UnreadableView { path: file.path.clone(), why: file.why.clone(), commit: file.commit.as_ref().map(CommitView::of) }
}

/// The view of what changed.
pub fn changes(project: &str, changes: &Changes) -> ChangesView {
    let range = &changes.range;
    ChangesView {
        slipmark: env!("CARGO_PKG_VERSION"),
        project: project.to_string(),
        from: range.from.map(|oid| oid.to_string()),
        to: range.to.map(|oid| oid.to_string()),
        from_name: range.from_name.clone(),
        from_before: range.from_before,
        to_name: range.to_name.clone(),
        commit_count: changes.commits.len(),
        changes: changes.list.iter().map(ChangeView::of).collect(),
        put_back: changes.put_back.iter().map(PutBackView::of).collect(),
        redo: changes.redo.iter().map(RedoView::of).collect(),
        undone: changes.undone.iter().map(UndoneView::of).collect(),
        decided: changes.decided.iter().map(decided).collect(),
        unreadable: changes.unreadable.iter().map(unreadable).collect(),
        cut_off: changes.cut_off.iter().map(CommitView::of).collect(),
        cautions: changes.cautions.clone(),
    }
}
