//! The revisions of one thing, for display.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::analysis::Analysis;
use crate::graph::TraceGraph;
use crate::history::{Change, Happened, KeyChange, Revision, Revisions};
use crate::state::State;

use super::carried::Carried;
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
    /// Where a requirement stands now, if its states were asked for.
    pub states: Option<Vec<EventStateView>>,
}

/// The worst state of a requirement's rows before one event.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct EventStateView {
    /// The event.
    pub before: String,
    /// The worst state.
    #[serde(serialize_with = "super::row::state")]
    pub state: State,
    /// How many rows there are.
    pub rows: usize,
}

/// Evidence that was good for a revision: it carries that revision's mark.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct RevisionEvidence {
    /// The record.
    pub record: String,
    /// signed; reaffirmed: it was made for another text, and somebody looked at it again; withdrawn: it was signed once.
    pub how: &'static str,
    /// The day of the record, or of the re-affirmation.
    pub date: Option<String>,
    /// Who signed it, or looked at it again.
    pub by: Option<String>,
}

/// Evidence that stopped counting at a revision.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct RevisionSlipped {
    /// The records.
    pub records: Vec<String>,
    /// The revision whose text they were judged against.
    pub judged_against: usize,
}

/// That a record was changed after it was signed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct EditedView {
    /// The seal that it was signed with.
    pub seal: String,
    /// By whom and why it was signed again; null: nobody says.
    pub reason: Option<String>,
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
    /// Whether people depend on it.
    pub safety: bool,
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
    /// Evidence with the mark of this revision, where that is another than the revision's before.
    pub evidence: Vec<RevisionEvidence>,
    /// Evidence that was good for the text before this one, and that nobody has looked at again for this one.
    pub slipped: Option<RevisionSlipped>,
    /// Of a record: that what had been signed was changed here.
    pub edited: Option<EditedView>,
    /// Where the requirement stood at the commit, if its states were asked for.
    pub states: Option<Vec<EventStateView>>,
}

/// The view of a thing's revisions.
pub fn history(revisions: &Revisions, uncommitted: Option<&Change>) -> HistoryView {
    HistoryView {
        slipmark: env!("CARGO_PKG_VERSION"),
        thing: thing(revisions),
        uncommitted: uncommitted.map(ChangeView::of),
        states: None,
    }
}

/// The view of a thing that no commit holds yet.
pub fn history_to_be(change: &Change) -> HistoryView {
    let thing = RevisionsView {
        id: change.id.clone(),
        kind: change.kind.clone(),
        title: change.title.clone(),
        safety: change.safety,
        revisions: Vec::new(),
        replaces: Vec::new(),
        replaced_by: Vec::new(),
    };
    HistoryView { slipmark: env!("CARGO_PKG_VERSION"), thing, uncommitted: Some(ChangeView::of(change)), states: None }
}

fn thing(revisions: &Revisions) -> RevisionsView {
    RevisionsView {
        id: revisions.id.clone(),
        kind: revisions.kind.clone(),
        title: revisions.title.clone(),
        safety: revisions.safety,
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
        evidence: Vec::new(),
        slipped: None,
        edited: revision.edited.as_ref().map(|it| EditedView { seal: it.seal.clone(), reason: it.reason.clone() }),
        states: None,
    }
}

impl HistoryView {
    /// Adds to each revision of a requirement the evidence that carries its mark.
    pub fn add_evidence(&mut self, carried: &Carried) {
        self.thing.add_evidence(carried);
    }

    /// Says where the requirement stood at each of these commits, and where it stands now.
    pub fn add_states(&mut self, then: &BTreeMap<String, Vec<EventStateView>>, now: Vec<EventStateView>) {
        for revision in &mut self.thing.revisions {
            revision.states = then.get(&revision.oid).cloned();
        }
        self.states = Some(now);
    }
}

impl RevisionsView {
    fn add_evidence(&mut self, carried: &Carried) {
        let mut last: Option<String> = None;
        let mut before: (usize, Vec<RevisionEvidence>) = (0, Vec::new());
        for revision in self.revisions.iter_mut().filter(|revision| revision.mark.is_some()) {
            if revision.mark != last {
                last = revision.mark.clone();
                revision.evidence = carried.with(&self.id, last.as_deref().unwrap_or_default());
                revision.slipped = slipped(&before, &revision.evidence);
                before = (revision.number, revision.evidence.clone());
            }
        }
        self.replaces.iter_mut().for_each(|earlier| earlier.add_evidence(carried));
    }
}

/// What was good for the text before and does not carry the mark of this one. What was withdrawn since says nothing of when it stopped counting.
fn slipped(
    (judged_against, before): &(usize, Vec<RevisionEvidence>),
    now: &[RevisionEvidence],
) -> Option<RevisionSlipped> {
    let gone = before.iter().filter(|it| it.how != "withdrawn" && !now.iter().any(|own| own.record == it.record));
    let mut records: Vec<String> = gone.map(|it| it.record.clone()).collect();
    records.dedup();
    (!records.is_empty()).then_some(RevisionSlipped { records, judged_against: *judged_against })
}

/// Where a requirement stands before each event that something of it is due before: the worst of its rows; nothing if it has none.
pub fn event_states(analysis: &Analysis, id: &str) -> Vec<EventStateView> {
    let Some(at) = TraceGraph::requirement_at(&analysis.model, id) else { return Vec::new() };
    let mut by_event: BTreeMap<usize, (State, usize)> = BTreeMap::new();
    for row in analysis.rows(None).into_iter().filter(|row| row.requirement == at) {
        let own = by_event.entry(row.event).or_insert((row.state, 0));
        *own = (own.0.min(row.state), own.1 + 1);
    }
    let events = &analysis.model.config.events;
    let shown = by_event.into_iter().map(|(event, (state, rows))| EventStateView {
        before: events.get(event).map(|event| event.name.value.clone()).unwrap_or_default(),
        state,
        rows,
    });
    shown.collect()
}
