//! What approved waivers cover.

use jiff::civil::Date;

use crate::model::kinds::{Criterion, Expectation, Relief, Requirement, Waiver};
use crate::model::{Id, SerialId};
use crate::quantity::Rule;

use super::judge::{Verdict, judge_by};
use super::kept::otherwise;
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

/// What a waiver is asked to cover: one criterion of a row.
#[derive(Clone, Copy)]
pub struct Asked<'a> {
    /// The requirement.
    pub requirement: &'a Requirement,
    /// The criterion.
    pub criterion: &'a Criterion,
    /// Where the row stands; for one that asks for one piece of an item, that piece.
    pub place: Where<'a>,
    /// The item, for a row that asks for one piece of it: failures of its other pieces stand against the row too.
    pub item: Option<&'a Id>,
    /// When it is asked about.
    pub when: When,
}

/// The first waiver that covers every reason collected for a criterion.
pub fn covering<'f>(facts: &Facts<'f>, asked: &Asked<'_>, reasons: &[Reason]) -> Option<&'f Waiver> {
    if reasons.is_empty() {
        return None;
    }
    let id = &asked.requirement.head.id.value;
    let named = facts.model.waivers.iter().filter(|it| it.requirement.as_ref().is_some_and(|own| own.value == *id));
    let holds = |it: &&Waiver| in_force(facts, it, asked.requirement, asked.when) && in_scope(it, asked.place);
    named.filter(holds).find(|waiver| {
        let covered = |reason: &Reason| reaches(facts, waiver, asked, reason) && covers(facts, waiver, asked, reason);
        reasons.iter().all(covered)
    })
}

/// Whether a waiver holds: approved, with an end that has not come, and written for the requirement as it reads now.
pub fn in_force(facts: &Facts<'_>, waiver: &Waiver, requirement: &Requirement, when: When) -> bool {
    let in_date = waiver.expires.as_ref().is_none_or(|expires| expires.date >= when.deadline);
    let in_campaign = match &waiver.before {
        None => true,
        Some(name) => facts.model.config.event_index(&name.value).is_some_and(|last| last >= when.event),
    };
    let lines_up = waiver.mark.as_ref().is_some_and(|mark| mark.value == requirement.mark);
    is_approved(facts, waiver) && has_end(waiver) && in_date && in_campaign && lines_up
}

/// Whether a waiver says until when it holds: a permission without an end is none.
pub fn has_end(waiver: &Waiver) -> bool {
    waiver.before.is_some() || waiver.expires.is_some()
}

fn in_scope(waiver: &Waiver, place: Where<'_>) -> bool {
    let on_item = |item: &Id| waiver.item.as_ref().is_some_and(|own| own.value == *item);
    match place {
        Where::Project => waiver.serials.is_empty() && waiver.item.is_none(),
        Where::Piece(serial) => on_item(&serial.item) || waiver.serials.iter().any(|own| own.value == *serial),
        Where::Design(item) => on_item(item),
    }
}

/// Whether a failure of another piece than the one that the row is judged on is within a waiver's scope.
fn reaches(facts: &Facts<'_>, waiver: &Waiver, asked: &Asked<'_>, reason: &Reason) -> bool {
    let (Some(item), "failure-stands") = (asked.item, reason.code) else { return true };
    let Some(record) = reason.record.as_ref().and_then(|id| facts.model.record(id)) else { return false };
    let mut failed = record.serials.iter().map(|serial| &serial.value).filter(|serial| serial.item == *item).peekable();
    let on_pieces = failed.peek().is_some() && record.item.as_ref().is_none_or(|own| own.value != *item);
    in_scope(waiver, Where::Design(item)) || (on_pieces && failed.all(|serial| in_scope(waiver, Where::Piece(serial))))
}

fn covers(facts: &Facts<'_>, waiver: &Waiver, asked: &Asked<'_>, reason: &Reason) -> bool {
    // What was accepted is what the record said then, and it can be put back; what it computes, signed again.
    if matches!(reason.code, "seal-broken" | "attachment-altered" | "recomputed") {
        return false;
    }
    match reason.state {
        State::NotMet | State::Inconclusive | State::Void => {
            let Some(record) = &reason.record else { return false };
            let relief = waiver.accepts.iter().find(|(name, _)| name.value == asked.criterion.name);
            relief.is_some_and(|(_, relief)| accepts(facts, relief, asked, record))
        }
        State::Slipped | State::Unsigned | State::NoEvidence => waiver.without_evidence.is_some(),
        State::Waived | State::Closed => true,
    }
}

/// Whether a relief accepts what a record reports.
///
/// A relief stands in for the limit on the side that it names; on the other side the criterion's own still holds.
fn accepts(facts: &Facts<'_>, relief: &Relief, asked: &Asked<'_>, record: &Id) -> bool {
    let Asked { requirement, criterion, .. } = asked;
    let (min, max) = match relief {
        Relief::Records(ids) => return ids.iter().any(|id| id.value == *record),
        Relief::Limits { min, max } => (min.as_ref(), max.as_ref()),
    };
    if min.is_none() && max.is_none() {
        return false;
    }
    let Some(record) = facts.model.record(record) else { return false };
    let verifies = record.verifies.iter().find(|own| own.requirement.value == requirement.head.id.value);
    let only = requirement.only_criterion();
    let Some(verifies) = verifies else { return false };
    let Some(result) = verifies.result_for(&criterion.name, only) else { return false };
    if otherwise(facts, record, verifies, &criterion.name, only).is_some() {
        return false;
    }
    let meets =
        |rule: &Rule, expects: Expectation| matches!(judge_by(facts, rule, &expects, result).verdict, Verdict::Met);
    let rule = &facts.model.config.rule;
    match &criterion.expects {
        Expectation::Limits { min: own_min, max: own_max } => {
            let (min, max) = (min.or(own_min.as_ref()).cloned(), max.or(own_max.as_ref()).cloned());
            meets(rule, Expectation::Limits { min, max })
        }
        // A count needs no uncertainty.
        Expectation::Count(least) => {
            let own = if min.is_some() { 0 } else { *least };
            let relieved = Expectation::Limits { min: min.cloned(), max: max.cloned() };
            meets(&Rule::Simple, Expectation::Count(own)) && meets(&Rule::Simple, relieved)
        }
        Expectation::Sample { min: own_min, max: own_max, covers, confidence } => {
            let (min, max) = (min.or(own_min.as_ref()).cloned(), max.or(own_max.as_ref()).cloned());
            let (covers, confidence) = (covers.clone(), confidence.clone());
            meets(rule, Expectation::Sample { min, max, covers, confidence })
        }
        Expectation::Words(_) | Expectation::Trials { .. } => false,
    }
}
