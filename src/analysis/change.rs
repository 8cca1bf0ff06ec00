//! Changes that somebody could make to one thing of a project: what each does to the model, and how it is called.

use std::collections::BTreeSet;
use std::sync::Arc;

use jiff::civil::Date;

use crate::config::{AsFound, Calibration};
use crate::model::kinds::{ItemStatus, KeepsEvidence, RecordStatus, RequirementStatus, Revision, Rework, WaiverStatus};
use crate::model::{Id, Model, Ref, SerialId};
use crate::parse::Moment;
use crate::quantity;
use crate::text::Spanned;

use super::suppose::held;

/// One change. Things are named by their position in the model's list.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Change {
    /// These requirements ask for something else: no evidence carries their mark any more.
    Reworded(Vec<usize>),
    /// A requirement is withdrawn.
    RequirementWithdrawn(usize),
    /// An item is at this revision, which, if it is new, keeps no evidence.
    Revised(usize, String),
    /// An option is dropped.
    Dropped(usize),
    /// A piece is reworked, in a way that touches everything.
    Reworked(SerialId),
    /// A piece is scrapped.
    Scrapped(SerialId),
    /// A procedure is at this revision, and runs of earlier ones do not count.
    ProcedureRevised(usize, String),
    /// An instrument is calibrated today and found out of tolerance.
    FoundOutOfTolerance(Id),
    /// A record is withdrawn.
    RecordWithdrawn(usize),
    /// A waiver is withdrawn.
    WaiverWithdrawn(usize),
    /// An event of the project file is held today and completed, with the pieces that it names.
    EventHeld(usize),
    /// An event that was held was not.
    NotHeld(usize),
}

/// The name of a revision that nothing in a project has.
const NEXT: &str = "the next";

/// The changes to look at for what has this id or name; none if it is no thing that evidence hangs from.
///
/// `revision` names the new revision of an item or a procedure.
pub fn changes(model: &Model, id: &str, revision: Option<&str>) -> Vec<Change> {
    let next = revision.unwrap_or(NEXT).to_string();
    match model.find(id) {
        Some(Ref::Requirement(at)) => vec![Change::Reworded(vec![at]), Change::RequirementWithdrawn(at)],
        Some(Ref::Record(at)) => vec![Change::RecordWithdrawn(at)],
        Some(Ref::Item(at)) => {
            let revised = Change::Revised(at, next);
            let option = model.items[at].fills.is_some() && model.items[at].status == ItemStatus::Current;
            // A revision that is named is all that is asked about.
            if option && revision.is_none() { vec![revised, Change::Dropped(at)] } else { vec![revised] }
        }
        Some(Ref::Procedure(at)) => vec![Change::ProcedureRevised(at, next)],
        Some(Ref::Waiver(at)) => vec![Change::WaiverWithdrawn(at)],
        Some(Ref::Held(at)) => vec![Change::NotHeld(at)],
        Some(Ref::Slot(_) | Ref::Decision(_) | Ref::Nonconformance(_)) => Vec::new(),
        None => unlisted(model, id),
    }
}

/// The changes to a piece, an event, an instrument or a parameter.
fn unlisted(model: &Model, id: &str) -> Vec<Change> {
    if let Some(serial) = SerialId::parse(id).filter(|serial| model.serial(serial).is_some()) {
        return vec![Change::Reworked(serial.clone()), Change::Scrapped(serial)];
    }
    if let Some(event) = model.config.event_index(id) {
        return vec![Change::EventHeld(event)];
    }
    if let Some(instrument) = model.instruments.get(id) {
        return vec![Change::FoundOutOfTolerance(instrument.id.value.clone())];
    }
    match model.parameters.contains_key(id) {
        true => vec![Change::Reworded(users(model, id))],
        false => Vec::new(),
    }
}

/// The requirements with a limit or a condition that a parameter is in.
pub fn users(model: &Model, parameter: &str) -> Vec<usize> {
    let uses = |text: &str| quantity::names(text).iter().any(|name| name == parameter);
    let using =
        model.requirements.iter().enumerate().filter(|(_, requirement)| {
            requirement.criteria.iter().flat_map(|criterion| criterion.limits()).any(|limit| {
                uses(&limit.text.value) || limit.tolerance.as_ref().is_some_and(|(text, _)| uses(&text.value))
            })
        });
    using.map(|(at, _)| at).collect()
}

impl Change {
    /// Makes the change.
    pub fn make(&self, model: &mut Model, today: Date) {
        match self {
            Change::Reworded(requirements) => {
                let mark = unknown_mark(model);
                for at in requirements {
                    Arc::make_mut(&mut model.requirements[*at]).mark.clone_from(&mark);
                }
            }
            Change::RequirementWithdrawn(at) => {
                let requirement = Arc::make_mut(&mut model.requirements[*at]);
                requirement.status = RequirementStatus::Withdrawn;
                requirement.reason = Some("supposed".into());
            }
            Change::Revised(at, revision) => revise(model, *at, revision, today),
            Change::Dropped(at) => model.items[*at].status = ItemStatus::Dropped,
            Change::Reworked(serial) => {
                if let Some(piece) = piece(model, serial) {
                    let span = piece.number.span;
                    let date = Some(Spanned::new(Moment::day(today), span));
                    piece.reworked.push(Rework { span, date, reason: None, affects: None, resets: Vec::new() });
                }
            }
            Change::Scrapped(serial) => {
                if let Some(piece) = piece(model, serial) {
                    piece.scrapped = true;
                }
            }
            Change::ProcedureRevised(at, revision) => {
                let procedure = &mut model.procedures[*at];
                procedure.revision = Some(Spanned::new(revision.clone(), procedure.head.fence));
                procedure.earlier_runs_count = false;
            }
            Change::FoundOutOfTolerance(id) => recall(model, id, today),
            Change::RecordWithdrawn(at) => {
                let record = Arc::make_mut(&mut model.records[*at]);
                record.status.value = RecordStatus::Withdrawn;
                record.reason = Some("supposed".into());
            }
            Change::WaiverWithdrawn(at) => model.waivers[*at].status = WaiverStatus::Withdrawn,
            Change::EventHeld(at) => {
                let event = &model.config.events[*at];
                let held = held(event, event.serials.clone(), today);
                model.held.push(held);
            }
            Change::NotHeld(at) => model.held[*at].event = None,
        }
    }

    /// What the change is, in a clause: `ACT-W goes to revision C, which keeps no evidence`.
    pub fn says(&self, model: &Model) -> String {
        match self {
            Change::Reworded(requirements) => {
                let ids: Vec<&str> =
                    requirements.iter().map(|at| model.requirements[*at].head.id.value.as_str()).collect();
                match ids.as_slice() {
                    [] => "its value changes, which no limit and no condition uses".into(),
                    [one] => format!("what {one} asks for changes: its wording, a limit or a condition"),
                    several => format!("its value changes, and with it what is asked by {}", several.join(", ")),
                }
            }
            Change::RequirementWithdrawn(at) => format!("{} is withdrawn", model.requirements[*at].head.id.value),
            Change::Revised(at, revision) => {
                let item = &model.items[*at];
                let name = if revision == NEXT { "the next revision".into() } else { format!("revision {revision}") };
                match item.revisions.iter().any(|own| own.revision.value == *revision) {
                    true => {
                        format!("{} goes to {name}, with the evidence that its file says is kept", item.head.id.value)
                    }
                    false => format!("{} goes to {name}, which keeps no evidence", item.head.id.value),
                }
            }
            Change::Dropped(at) => {
                format!("{} is dropped, and nothing takes its place yet", model.items[*at].head.id.value)
            }
            Change::Reworked(serial) => format!("{serial} is reworked, in a way that touches everything"),
            Change::Scrapped(serial) => format!("{serial} is scrapped"),
            Change::ProcedureRevised(at, revision) => {
                let id = &model.procedures[*at].head.id.value;
                let name = if revision == NEXT { "the next revision".into() } else { format!("revision {revision}") };
                format!("{id} goes to {name}, and earlier runs do not count")
            }
            Change::FoundOutOfTolerance(id) => format!("a calibration today finds {id} out of tolerance"),
            Change::RecordWithdrawn(at) => format!("{} is withdrawn, with a reason", model.records[*at].head.id.value),
            Change::WaiverWithdrawn(at) => format!("{} is withdrawn", model.waivers[*at].head.id.value),
            Change::EventHeld(at) => {
                let event = &model.config.events[*at];
                let pieces: Vec<String> = event.serials.iter().map(|serial| serial.value.to_string()).collect();
                let with = if pieces.is_empty() { "whatever is there".into() } else { pieces.join(", ") };
                format!("{} is held today with {with}, and completed", event.name.value)
            }
            Change::NotHeld(at) => format!("{} does not count: nothing was held", model.held[*at].head.id.value),
        }
    }
}

fn piece<'m>(model: &'m mut Model, serial: &SerialId) -> Option<&'m mut crate::model::kinds::Serial> {
    let Some(Ref::Item(at)) = model.find(&serial.item) else { return None };
    model.items[at].serials.iter_mut().find(|piece| piece.number.value == serial.number)
}

/// Puts an item, and every piece that follows it, at a revision.
fn revise(model: &mut Model, at: usize, revision: &str, today: Date) {
    let item = &mut model.items[at];
    let span = item.head.fence;
    if !item.revisions.iter().any(|own| own.revision.value == revision) {
        // What a file says of earlier revisions counts only if the one that is left is listed too; where it is not, all
        // evidence before the new one is judged by the new one alone.
        item.revisions.push(Revision {
            revision: Spanned::new(revision.to_string(), span),
            date: Some(Spanned::new(Moment::day(today), span)),
            keeps_evidence: KeepsEvidence::NONE,
            reason: None,
        });
    }
    item.revision = Some(Spanned::new(revision.to_string(), span));
}

/// Adds a calibration of today that found an instrument out of tolerance, and keeps nothing.
fn recall(model: &mut Model, id: &Id, today: Date) {
    let Some(instrument) = model.instruments.get_mut(id) else { return };
    let span = instrument.id.span;
    let day = Some(Spanned::new(Moment::day(today), span));
    instrument.calibrations.push(Calibration {
        span,
        on: day.clone(),
        due: day,
        as_found: Some(Spanned::new(AsFound::OutOfTolerance, span)),
        keeps_evidence: KeepsEvidence::NONE,
        reason: None,
        certificate: None,
        note: None,
    });
}

/// A mark that nothing in the project carries.
fn unknown_mark(model: &Model) -> String {
    let evidence = model.records.iter().flat_map(|record| &record.verifies).flat_map(|verifies| verifies.marks());
    let statements = model.requirements.iter().filter_map(|it| it.by_children.as_ref()?.mark.as_deref());
    let waivers = model.waivers.iter().filter_map(|waiver| waiver.mark.as_deref());
    let carried: BTreeSet<&str> =
        evidence.chain(statements.map(String::as_str)).chain(waivers.map(String::as_str)).collect();
    let mut mark = "m1-changed".to_string();
    while carried.contains(mark.as_str()) {
        mark.push('-');
    }
    mark
}
