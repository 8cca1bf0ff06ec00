//! Whether a record counts, whether it fails, and whether a nonconformance is done with.

use crate::model::kinds::{
    Disposition, Nonconformance, NonconformanceStatus, RecordStatus, Verifies, Waiver, WaiverStatus,
};
use crate::model::{Model, SerialId};
use crate::parse::Moment;
use crate::text::Spanned;

use super::Facts;
use super::accounted::is_accounted_for;
use super::judge::Verdict;
use super::relief::{When, in_force};
use super::rows::when;

/// How a record counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// Somebody stands by it.
    Signed,
    /// Not yet.
    Draft,
    /// No longer.
    Withdrawn,
}

/// How a record counts: a failing or unjudgeable one leaves only through closed nonconformances.
pub fn standing(facts: &Facts<'_>, at: usize) -> Standing {
    let record = &facts.model.records[at];
    match record.status.value {
        RecordStatus::Draft => Standing::Draft,
        RecordStatus::Signed => Standing::Signed,
        RecordStatus::Withdrawn => {
            let settled =
                |which: usize| is_accounted_for(facts, at, &record.verifies[which].requirement.value, |_| true);
            let bad = |which: &usize| is_bad(facts, at, *which);
            if record.reason.is_some() && (0..record.verifies.len()).filter(bad).all(settled) {
                Standing::Withdrawn
            } else {
                Standing::Signed
            }
        }
    }
}

/// Whether any result of a record for one of the requirements that it verifies failed, or cannot be judged.
fn is_bad(facts: &Facts<'_>, at: usize, which: usize) -> bool {
    let verifies = &facts.model.records[at].verifies[which];
    if verifies.outcomes.iter().any(|(_, outcome)| outcome.value == "not met") {
        return true;
    }
    let Some(requirement) = facts.verified(at, which) else { return false };
    requirement.criteria.iter().zip(facts.judgements.get(at, which)).any(|(criterion, judgement)| {
        let silent = verifies.not_judged_because(&criterion.name).is_some();
        judgement.fails() || (!silent && !matches!(judgement.verdict, Verdict::Met))
    })
}

/// Whether the evidence carries the requirement's mark.
pub fn lines_up(mark: &str, verifies: &Verifies) -> bool {
    verifies.marks().any(|carried| carried == mark)
}

/// The criteria of a requirement that a signed record fails: judged outside now with its mark lined up, or when it was signed.
///
/// A record without a seal was signed without the program: nothing shows what it came to then, not even what it says itself, and it
/// is judged by what is asked now. A word changed in the requirement must not undo a failure.
///
/// A criterion that the requirement no longer has is named as it was.
pub fn failures<'a>(facts: &Facts<'a>, requirement: usize, record: usize, which: usize) -> Vec<&'a str> {
    let requirement = &facts.model.requirements[requirement];
    let record_at = record;
    let record = &facts.model.records[record_at];
    let verifies = &record.verifies[which];
    let mut failed: Vec<&str> = Vec::new();
    let said = verifies.outcomes.iter().filter(|(_, outcome)| outcome.value == "not met");
    failed.extend(said.map(|(name, _)| name.value.as_str()));
    if lines_up(&requirement.mark, verifies) || record.seal.is_none() {
        for (criterion, judgement) in requirement.criteria.iter().zip(facts.judgements.get(record_at, which)) {
            if judgement.fails() {
                failed.push(&criterion.name);
            }
        }
    }
    failed.sort_unstable();
    failed.dedup();
    failed
}

/// Whether a nonconformance is against nothing that is left.
pub fn is_moot(facts: &Facts<'_>, nonconformance: &Nonconformance) -> bool {
    !nonconformance.against.is_empty()
        && nonconformance.against.iter().all(|target| match SerialId::parse(&target.value) {
            Some(serial) => is_gone(facts, &serial),
            None => item_dropped(facts, &target.value),
        })
}

/// Whether a piece is scrapped or its item dropped.
fn is_gone(facts: &Facts<'_>, serial: &SerialId) -> bool {
    facts.graph.scrapped.contains(serial) || item_dropped(facts, &serial.item)
}

/// Whether an item, or what it sits in, is dropped.
pub fn item_dropped(facts: &Facts<'_>, item: &str) -> bool {
    match facts.model.find(item) {
        Some(crate::model::Ref::Item(at)) => facts.graph.dropped[at],
        _ => false,
    }
}

/// Whether a nonconformance is closed as the rules ask.
pub fn is_closed(facts: &Facts<'_>, nonconformance: &Nonconformance) -> bool {
    why_not_closed(facts, nonconformance, None).is_none()
}

/// What a nonconformance lacks to be closed; none if it is. With an event, by position: to be closed before that.
pub fn why_not_closed(facts: &Facts<'_>, nonconformance: &Nonconformance, before: Option<usize>) -> Option<String> {
    let it = nonconformance;
    if it.status != NonconformanceStatus::Closed {
        return Some(format!("it is {}", it.status.word()));
    }
    let Some(Spanned { value: disposition, .. }) = it.disposition else {
        return Some("it has no disposition".into());
    };
    let Some(closed) = &it.closed else { return Some("it does not say when it was closed".into()) };
    if closed.date > facts.today {
        return Some(format!("it is said to be closed on {}, which is still to come", closed.text));
    }
    if let Some((what, found)) = found_later(facts, it, closed) {
        return Some(format!("it is said to be closed on {}, before {what} on {}", closed.text, found.text));
    }
    if it.closed_by.is_none() {
        return Some("it does not say who closed it".into());
    }
    match disposition {
        Disposition::UseAsIs | Disposition::Repair if it.voids_nothing.is_none() && !waived(facts, it, before) => {
            Some(format!(
                "{} needs an approved waiver that is in force for each requirement it names, or voids = \"nothing\" with a reason",
                disposition.word()
            ))
        }
        Disposition::Scrap if !all_scrapped(facts, it) => Some("what it is against is not scrapped".into()),
        _ => None,
    }
}

/// What to do so that nonconformances are closed, at least one; the same wherever one is in the way.
pub fn how_to_close(model: &Model, nonconformances: &[usize]) -> String {
    let all: Vec<&Nonconformance> = nonconformances.iter().map(|at| &model.nonconformances[*at]).collect();
    let ids = all.iter().map(|it| it.head.id.as_str()).collect::<Vec<_>>().join(", ");
    let them = if all.len() == 1 { "it" } else { "them" };
    let what = match all.iter().all(|it| it.disposition.is_some()) {
        true => format!("carry out the disposition of {ids}, then close {them}"),
        false => format!("disposition {ids} and close {them}"),
    };
    let show = all.first().map(|it| format!(": slipmark show {}", it.head.id.value)).unwrap_or_default();
    format!("{what}{show}")
}

/// What is of a later day than that on which it was closed, and must have come first: that it was found, or a record that found it.
/// A year that was typed wrongly would let evidence from before a rework count as made after it.
fn found_later<'m>(facts: &Facts<'m>, it: &'m Nonconformance, closed: &Moment) -> Option<(String, &'m Moment)> {
    let found = it.date.iter().map(|date| ("it was found".to_owned(), &date.value));
    let records = it.found_by.iter().filter_map(|id| match facts.model.find(id.value.as_str()) {
        Some(crate::model::Ref::Record(at)) => {
            Some((format!("{} was made", id.value), &facts.model.records[at].date.as_ref()?.value))
        }
        _ => None,
    });
    found.chain(records).find(|(_, date)| closed.on_a_day_before(date))
}

/// Whether everything that it is against is scrapped: of an item every piece, if there is one.
fn all_scrapped(facts: &Facts<'_>, nonconformance: &Nonconformance) -> bool {
    let is_scrapped = |serial: &SerialId| facts.graph.scrapped.contains(serial);
    let of_item = |id: &str| {
        let Some(item) = facts.model.item(id) else { return false };
        !item.serials.is_empty() && item.serials.iter().all(|own| is_scrapped(&item.serial_id(own)))
    };
    let named_a_piece = nonconformance.against.iter().any(|target| SerialId::parse(&target.value).is_some());
    let gone = |target: &str| SerialId::parse(target).map_or_else(|| of_item(target), |serial| is_scrapped(&serial));
    named_a_piece && nonconformance.against.iter().all(|target| gone(&target.value))
}

/// Whether waivers that are in force today, or before an event, cover each requirement that the nonconformance names, on all that it
/// is against.
fn waived(facts: &Facts<'_>, nonconformance: &Nonconformance, before: Option<usize>) -> bool {
    let Some(requirements) = &nonconformance.requirements else { return false };
    let when = match before {
        Some(_) => when(facts, before, 0),
        None => When { event: 0, deadline: facts.today },
    };
    let covers = |waiver: &Waiver, target: &str| match SerialId::parse(target) {
        Some(serial) => {
            waiver.serials.iter().any(|own| own.value == serial)
                || waiver.item.as_ref().is_some_and(|item| item.value == serial.item)
        }
        None if target == "project" => waiver.serials.is_empty() && waiver.item.is_none(),
        None => waiver.item.as_ref().is_some_and(|item| item.as_str() == target),
    };
    !requirements.is_empty()
        && !nonconformance.against.is_empty()
        && requirements.iter().all(|id| {
            let Some(requirement) = facts.model.requirement(&id.value) else { return false };
            nonconformance.against.iter().all(|target| {
                facts.model.waivers.iter().any(|waiver| {
                    waiver.requirement.as_ref().is_some_and(|own| own.value == id.value)
                        && in_force(facts, waiver, requirement, when)
                        && covers(waiver, &target.value)
                })
            })
        })
}

/// Whether a waiver was approved by somebody, by today.
pub fn is_approved(facts: &Facts<'_>, waiver: &Waiver) -> bool {
    waiver.status == WaiverStatus::Approved
        && waiver.approved_by.is_some()
        && waiver.approved.as_ref().is_some_and(|approved| approved.date <= facts.today)
}

/// The nonconformances that count and are not closed, with what each lacks; with an event, by position, before that.
pub fn open_nonconformances(facts: &Facts<'_>, before: Option<usize>) -> Vec<(usize, String)> {
    let all = facts.model.nonconformances.iter().enumerate();
    let open = all.filter(|(_, it)| !is_moot(facts, it));
    open.filter_map(|(at, it)| Some((at, why_not_closed(facts, it, before)?))).collect()
}

/// The event before which a nonconformance must be closed.
pub fn nonconformance_due(model: &Model, nonconformance: &Nonconformance) -> usize {
    nonconformance.before.as_ref().and_then(|name| model.config.event_index(&name.value)).unwrap_or(0)
}
