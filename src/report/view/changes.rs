//! What changed between two points in history, for display.

use serde::Serialize;

use crate::history::{Change, ChangeKind, Changes, CommitRef, CriterionChange, KeyChange, UnreadableFile};

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
    /// How the later one was named.
    pub to_name: String,
    /// Commits in between.
    pub commit_count: usize,
    /// What changed: requirements first, each kind by id.
    pub changes: Vec<ChangeView>,
    /// Files that either point holds, or a commit in between left, unreadable.
    pub unreadable: Vec<UnreadableView>,
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
    /// How status, reach, safety and parents differ, in words.
    pub reach: Vec<String>,
    /// How the plan differs, in words.
    pub plan: Vec<String>,
    /// Other keys that differ, in words.
    pub keys: Vec<String>,
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
        CommitView { oid: commit.oid.to_string(), date: commit.date.clone(), summary: commit.summary.clone() }
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
        }
    }
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
            change: between.kind.word(),
            reaffirmed: between.only_reaffirmed,
            path: FromTo { from: path.0, to: path.1 },
            statement: between.statement.clone().map(|(from, to)| FromTo { from, to }),
            criteria: between.criteria.iter().map(CriterionChangeView::of).collect(),
            reach: between.reach.clone(),
            plan: between.plan.clone(),
            keys: between.keys.iter().map(KeyChange::show).collect(),
            commits: change.commits.iter().map(CommitView::of).collect(),
            uncommitted: change.uncommitted,
            decisions: change.decisions.clone(),
            accounted: change.accounted.clone(),
            slipped: change.slipped.clone(),
        }
    }
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
        to_name: range.to_name.clone(),
        commit_count: changes.commits.len(),
        changes: changes.list.iter().map(ChangeView::of).collect(),
        unreadable: changes.unreadable.iter().map(unreadable).collect(),
    }
}
