//! Nonconformances that are open against what an event is about, and due only before a later one.
//!
//! They change no verdict: each says itself before what it must be closed. Whoever reads that nothing is open is told of them.

use std::collections::BTreeSet;

use serde::Serialize;

use crate::analysis::Analysis;
use crate::model::{Id, SerialId};
use crate::state::applies::{Subject as On, open_against};
use crate::state::life::pieces_of;
use crate::state::standing::{nonconformance_due, open_nonconformances};
use crate::state::{Row, Subject};

/// An open nonconformance that is due later.
#[derive(Clone, Debug, Serialize)]
pub struct LaterView {
    /// Its id.
    pub id: String,
    /// Its title.
    pub title: String,
    /// What it is against.
    pub against: Vec<String>,
    /// The event before which it must be closed.
    pub before: String,
}

/// Those against the pieces and items that these rows are about, what is in them, and of an item the pieces that the event, by
/// position, uses.
pub(super) fn due_later(analysis: &Analysis, rows: &[Row], event: usize) -> Vec<LaterView> {
    let (model, facts) = (&analysis.model, analysis.facts());
    let later = |at: usize| nonconformance_due(model, &model.nonconformances[at]) > event;
    if !open_nonconformances(&facts, None).iter().any(|(at, _)| later(*at)) {
        return Vec::new();
    }
    let used = pieces_of(&facts, &model.config.events[event]);
    let subjects: BTreeSet<&Subject> = rows.iter().map(|row| &row.subject).collect();
    let mut pieces: BTreeSet<&SerialId> = BTreeSet::new();
    let mut others: Vec<Option<&Id>> = Vec::new();
    for subject in subjects {
        match subject {
            Subject::Serial(piece) => _ = pieces.insert(piece),
            Subject::Item(item) => {
                pieces.extend(used.iter().filter(|piece| piece.item == *item));
                others.push(Some(item));
            }
            Subject::Project => others.push(None),
        }
    }
    let on_pieces = (!pieces.is_empty()).then(|| On { serials: pieces.into_iter().collect(), item: None });
    let all = others.into_iter().map(|item| On { serials: Vec::new(), item }).chain(on_pieces);
    let found: BTreeSet<usize> =
        all.flat_map(|on| open_against(&facts, &on)).map(|(at, _)| at).filter(|at| later(*at)).collect();
    let view = |at: usize| {
        let it = &model.nonconformances[at];
        let event = model.config.events.get(nonconformance_due(model, it));
        LaterView {
            id: it.head.id.value.to_string(),
            title: it.head.title.clone(),
            against: it.against.iter().map(|target| target.value.clone()).collect(),
            before: event.map(|event| event.name.value.clone()).unwrap_or_default(),
        }
    };
    found.into_iter().map(view).collect()
}
