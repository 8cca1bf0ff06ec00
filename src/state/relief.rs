//! What approved waivers cover.

use jiff::civil::Date;

use crate::model::kinds::{Criterion, Expectation, Relief, Requirement, Waiver};
use crate::model::{Id, SerialId};

use super::judge::{Verdict, judge_result};
use super::standing::is_approved;
use super::{Facts, Reason, State};

/// Where a row stands, for a waiver's scope.
#[derive(Clone, Copy, Debug)]
pub enum Where<'a> {
    /// The project.
    Project,
    /// A piece.
    Piece(&'a SerialId),
    /// An item's design.
    Design(&'a Id),
}

/// When a row is asked about.
#[derive(Clone, Copy, Debug)]
pub struct When {
    /// The event asked about, or the row's own.
    pub event: usize,
    /// The later of today and the event's date.
    pub deadline: Date,
}

/// The first waiver that covers every reason collected for a criterion.
pub fn covering<'f>(
    facts: &Facts<'f>,
    requirement: &Requirement,
    criterion: &Criterion,
    reasons: &[Reason],
    place: Where<'_>,
    when: When,
) -> Option<&'f Waiver> {
    let named = facts
        .model
        .waivers
        .iter()
        .filter(|waiver| waiver.requirement.as_ref().is_some_and(|own| own.value == requirement.head.id.value));
    named.filter(|waiver| in_force(facts, waiver, requirement, when) && in_scope(waiver, place)).find(|waiver| {
        !reasons.is_empty() && reasons.iter().all(|reason| covers(facts, waiver, requirement, criterion, reason))
    })
}

/// Whether a waiver holds: approved, in date, and written for the requirement as it reads now.
pub fn in_force(facts: &Facts<'_>, waiver: &Waiver, requirement: &Requirement, when: When) -> bool {
    let in_date = waiver.expires.as_ref().is_none_or(|expires| expires.date >= when.deadline);
    let in_campaign = match &waiver.before {
        None => true,
        Some(name) => facts.model.config.event_index(&name.value).is_some_and(|last| last >= when.event),
    };
    let lines_up = waiver.mark.as_ref().is_some_and(|mark| mark.value == requirement.mark);
    is_approved(facts, waiver) && in_date && in_campaign && lines_up
}

fn in_scope(waiver: &Waiver, place: Where<'_>) -> bool {
    let on_item = |item: &Id| waiver.item.as_ref().is_some_and(|own| own.value == *item);
    match place {
        Where::Project => waiver.serials.is_empty() && waiver.item.is_none(),
        Where::Piece(serial) => on_item(&serial.item) || waiver.serials.iter().any(|own| own.value == *serial),
        Where::Design(item) => on_item(item),
    }
}

fn covers(
    facts: &Facts<'_>,
    waiver: &Waiver,
    requirement: &Requirement,
    criterion: &Criterion,
    reason: &Reason,
) -> bool {
    match reason.state {
        State::NotMet | State::Inconclusive | State::Void => {
            let Some(record) = &reason.record else { return false };
            let relief = waiver.accepts.iter().find(|(name, _)| name.value == criterion.name);
            relief.is_some_and(|(_, relief)| accepts(facts, relief, requirement, criterion, record))
        }
        State::Slipped | State::Unsigned | State::NoEvidence => waiver.without_evidence.is_some(),
        State::Waived | State::Closed => true,
    }
}

/// Whether a relief accepts what a record reports.
fn accepts(facts: &Facts<'_>, relief: &Relief, requirement: &Requirement, criterion: &Criterion, record: &Id) -> bool {
    let (min, max) = match relief {
        Relief::Records(ids) => return ids.iter().any(|id| id.value == *record),
        Relief::Limits { min, max } => (min.clone(), max.clone()),
    };
    if min.is_none() && max.is_none() {
        return false;
    }
    let Some(record) = facts.model.record(record) else { return false };
    let verifies = record.verifies.iter().find(|own| own.requirement.value == requirement.head.id.value);
    let only = (requirement.criteria.len() == 1).then_some(criterion.name.as_str());
    let Some(result) = verifies.and_then(|verifies| verifies.result_for(&criterion.name, only)) else { return false };
    matches!(judge_result(facts, &Expectation::Limits { min, max }, result).verdict, Verdict::Met)
}
