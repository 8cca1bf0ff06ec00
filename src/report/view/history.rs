//! The revisions of one thing, for display.

use serde::Serialize;

use crate::history::{Change, Happened, KeyChange, Revision, Revisions};

use super::changes::{ChangeView, CriterionChangeView, FromTo};

/// The answer of `history`.
#[derive(Clone, Debug, Serialize)]
pub struct HistoryView {
    /// The program's version.
    pub slipmark: &'static str,
    /// The thing, its revisions, and what it replaces.
    #[serde(flatten)]
    pub thing: RevisionsView,
    /// What the work tree holds otherwise than the newest commit.
    pub uncommitted: Option<ChangeView>,
}

/// The revisions of one thing.
#[derive(Clone, Debug, Serialize)]
pub struct RevisionsView {
    /// Its id.
    pub id: String,
    /// Its kind.
    pub kind: String,
    /// Its title.
    pub title: String,
    /// Oldest first.
    pub revisions: Vec<RevisionView>,
    /// What it stands in for, each with its own revisions.
    pub replaces: Vec<RevisionsView>,
    /// What stands in for it.
    pub replaced_by: Vec<String>,
}

/// One revision, or a commit that left the number as it was.
#[derive(Clone, Debug, Serialize)]
pub struct RevisionView {
    /// From 1; moves, cosmetic changes and re-affirmations keep the number of before.
    pub number: usize,
    /// The commit.
    pub oid: String,
    /// Its author's date.
    pub date: String,
    /// What it says of itself.
    pub summary: String,
    /// As in `changes`; also reaffirmed and unreadable.
    pub change: &'static str,
    /// The statement after it, as written.
    pub statement: Option<String>,
    /// The mark after it.
    pub mark: Option<String>,
    /// The decisions behind it.
    pub decisions: Vec<String>,
    /// The statement before and after it, if it says something else.
    pub reworded: Option<FromTo>,
    /// Criteria that differ.
    pub criteria: Vec<CriterionChangeView>,
    /// Everything else that differs, in words.
    pub details: Vec<String>,
}

/// The view of a thing's revisions.
pub fn history(revisions: &Revisions, uncommitted: Option<&Change>) -> HistoryView {
    HistoryView {
        slipmark: env!("CARGO_PKG_VERSION"),
        thing: thing(revisions),
        uncommitted: uncommitted.map(ChangeView::of),
    }
}

/// The view of a thing that no commit holds yet.
pub fn history_to_be(change: &Change) -> HistoryView {
    let thing = RevisionsView {
        id: change.id.clone(),
        kind: change.kind.clone(),
        title: change.title.clone(),
        revisions: Vec::new(),
        replaces: Vec::new(),
        replaced_by: Vec::new(),
    };
    HistoryView { slipmark: env!("CARGO_PKG_VERSION"), thing, uncommitted: Some(ChangeView::of(change)) }
}

fn thing(revisions: &Revisions) -> RevisionsView {
    RevisionsView {
        id: revisions.id.clone(),
        kind: revisions.kind.clone(),
        title: revisions.title.clone(),
        revisions: revisions.list.iter().map(revision).collect(),
        replaces: revisions.replaces.iter().map(thing).collect(),
        replaced_by: revisions.replaced_by.clone(),
    }
}

fn revision(revision: &Revision) -> RevisionView {
    let (reworded, criteria, details) = match &revision.happened {
        Happened::Changed(between) => {
            let keys = between.keys.iter().map(KeyChange::show);
            let details =
                between.reach.iter().chain(&between.plan).cloned().chain(keys).chain(between.reworded()).collect();
            let reworded = between.statement.clone().map(|(from, to)| FromTo { from, to });
            (reworded, between.criteria.iter().map(CriterionChangeView::of).collect(), details)
        }
        Happened::Unreadable(why) => (None, Vec::new(), vec![why.clone()]),
    };
    RevisionView {
        number: revision.number,
        oid: revision.commit.oid.to_string(),
        date: revision.commit.date.clone(),
        summary: revision.commit.summary.clone(),
        change: revision.happened.word(),
        statement: revision.statement.clone(),
        mark: revision.mark.clone(),
        decisions: revision.decisions.clone(),
        reworded,
        criteria,
        details,
    }
}
