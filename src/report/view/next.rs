//! The shortest order of records to make before an event.

use serde::Serialize;

use crate::analysis::Analysis;
use crate::analysis::order::{Need, Node, Order, Step, order};
use crate::model::kinds::{Procedure, ProcedureStatus};
use crate::model::{Id, SerialId};
use crate::state::{Row, State, Subject};

use super::known::{is_used, limited, nonconformances};
use super::row::state as as_word;
use super::{KnownView, ReasonView, RowView};

/// What the order is, and what it is not.
pub const NOTE: &str = "This is an order of records to make, worked out as if every result met its limit. It is no permission to run anything, and says \
                        nothing of what a procedure needs besides records.";

/// An order of records to make.
#[derive(Clone, Debug, Serialize)]
pub struct NextView {
    /// Rows whose evidence may stand once somebody has looked; they are left out of the steps.
    pub look_first: Vec<LeftView>,
    /// The records, in order.
    pub steps: Vec<StepView>,
    /// Rows that close with those of their children.
    pub follow: Vec<LeftView>,
    /// Rows that a run of their own closes, beside the one that a step stands for, with what would be in the way without it.
    pub apart: Vec<LeftView>,
    /// Rows that no record closes by itself, with what would be in the way then.
    pub left: Vec<LeftView>,
    /// Whether no shorter list closes the same rows; else there were too many choices to try all.
    pub shortest: bool,
    /// What this is not.
    pub note: &'static str,
}

/// A record to make.
#[derive(Clone, Debug, Serialize)]
pub struct StepView {
    /// Its place, from 1.
    pub number: usize,
    /// Its method.
    pub method: &'static str,
    /// Its procedure.
    pub procedure: Option<String>,
    /// The title of that.
    pub title: String,
    /// Its stage.
    pub stage: Option<&'static str>,
    /// On what.
    pub subject: String,
    /// The steps that come first.
    pub after: Vec<usize>,
    /// Events that come first.
    pub after_events: Vec<String>,
    /// What is to be settled before it can be run.
    pub needs: Vec<String>,
    /// What is known of the piece: open nonconformances, and each limited life that the step uses or that does not last.
    pub known: Vec<KnownView>,
    /// What it closes; nothing if it only has to come before another.
    pub closes: Vec<ClosedView>,
}

/// A row that a step closes.
#[derive(Clone, Debug, Serialize)]
pub struct ClosedView {
    /// The requirement.
    pub requirement: String,
    /// Its title.
    pub title: String,
    /// Whether people depend on it.
    pub safety: bool,
    /// On what.
    pub subject: String,
    /// The event before which it is due.
    pub before: Option<String>,
}

/// A row that no step closes.
#[derive(Clone, Debug, Serialize)]
pub struct LeftView {
    /// The requirement.
    pub requirement: String,
    /// Its title.
    pub title: String,
    /// Whether people depend on it.
    pub safety: bool,
    /// On what.
    pub subject: String,
    /// Its state today.
    #[serde(serialize_with = "as_word")]
    pub state: State,
    /// What would be the matter after every step.
    pub reasons: Vec<ReasonView>,
}

/// The order before an event, by position.
pub fn next(analysis: &Analysis, event: usize) -> NextView {
    let order = order(analysis, event);
    let left = |at: usize, then: &Row| {
        let now = RowView::of(&analysis.model, &order.rows[at]);
        LeftView {
            requirement: now.requirement,
            title: now.title,
            safety: now.safety,
            subject: now.subject,
            state: now.state,
            reasons: RowView::of(&analysis.model, then).reasons,
        }
    };
    let steps = order.steps.iter().enumerate();
    NextView {
        look_first: order.look_first.iter().map(|at| left(*at, &order.rows[*at])).collect(),
        steps: steps.map(|(at, own)| step(analysis, &order, at + 1, own)).collect(),
        follow: order.follow.iter().map(|at| left(*at, &order.rows[*at])).collect(),
        apart: order.apart.iter().map(|(at, then)| left(*at, then)).collect(),
        left: order.left.iter().map(|(at, then)| left(*at, then)).collect(),
        shortest: order.shortest,
        note: NOTE,
    }
}

fn step(analysis: &Analysis, order: &Order, number: usize, own: &Step) -> StepView {
    let Node { method, procedure, stage, subject } = &own.node;
    let known = procedure.as_ref().and_then(|id| analysis.model.procedure(id));
    let mut needs = Vec::new();
    if let (Some(id), None) = (procedure, known) {
        needs.push(format!("write {id}: there is no such procedure"));
    }
    if let Some(it) = known.filter(|it| it.status != ProcedureStatus::Released) {
        needs.push(format!("release {}, which is {}", it.head.id.value, it.status.word()));
    }
    needs.extend(own.needs.iter().map(|need| match need {
        Need::Closed(row) => {
            let row = RowView::of(&analysis.model, &order.rows[*row]);
            format!("close {} on {}, which is {}", row.requirement, row.subject, row.state.word())
        }
        Need::Run(procedure) => format!("run {procedure}, which nothing plans here"),
        Need::Before(event) => format!("make it before {event} too: by then it is due, and after that it is used up"),
    }));
    let mut after: Vec<usize> = own.after.iter().map(|at| at + 1).collect();
    after.sort_unstable();
    let closed = |at: &usize| {
        let row = RowView::of(&analysis.model, &order.rows[*at]);
        ClosedView {
            requirement: row.requirement,
            title: row.title,
            safety: row.safety,
            subject: row.subject,
            before: row.before,
        }
    };
    StepView {
        number,
        method: method.word(),
        procedure: procedure.as_ref().map(Id::to_string),
        title: known.map(|it| it.head.title.clone()).unwrap_or_default(),
        stage: stage.map(crate::model::kinds::Stage::word),
        subject: subject.to_string(),
        after,
        after_events: own.events.clone(),
        needs,
        known: known_of(analysis, subject, known),
        closes: own.closes.iter().map(closed).collect(),
    }
}

/// What is known of what a step is made on: of a piece, what is in it and its item; of an item itself, and of the project.
fn known_of(analysis: &Analysis, subject: &Subject, procedure: Option<&Procedure>) -> Vec<KnownView> {
    let (pieces, item): (Vec<SerialId>, _) = match subject {
        Subject::Serial(piece) => (std::iter::once(piece).chain(analysis.graph.inside(piece)).cloned().collect(), None),
        Subject::Item(item) => (Vec::new(), Some(item)),
        Subject::Project => (Vec::new(), None),
    };
    let lives = limited(analysis, &pieces, |life| {
        life.outlook != "lasts" || procedure.is_some_and(|procedure| is_used(procedure, life))
    });
    nonconformances(analysis, &pieces, item).into_iter().chain(lives).collect()
}
