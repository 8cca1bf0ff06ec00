//! Poor practice: what does not make an answer wrong, and will be asked about in a review.

use crate::check::{Check, Subject};
use crate::diag::{Finding, Findings};
use crate::model::kinds::{Expectation, Record, RecordStatus, RequirementStatus};
use crate::parse::Scalar;
use crate::quantity::{Limits, Measured, parse_measured};

/// The check.
pub const CHECK: Check = Check {
    codes: &[
        "instrument-without-calibration",
        "newer-result-not-used",
        "orphan-requirement",
        "same-day-evidence",
        "tolerance-too-narrow",
        "unsealed-record",
    ],
    run,
};

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    orphans(subject, findings);
    let signed = subject.facts.model.records.iter().filter(|record| record.status.value == RecordStatus::Signed);
    for record in signed {
        unsealed(record, findings);
        stale_inputs(subject, record, findings);
        narrow(subject, record, findings);
    }
    same_day(subject, findings);
    for instrument in subject.facts.model.instruments.values().filter(|it| it.calibrations.is_empty()) {
        let text = format!("{} has no calibration", instrument.id.value);
        findings.push(Finding::at("instrument-without-calibration", instrument.id.span, text));
    }
}

fn orphans(subject: &Subject<'_>, findings: &mut Findings) {
    for requirement in &subject.facts.model.requirements {
        let counted = requirement.status != RequirementStatus::Withdrawn;
        if counted && requirement.parents.is_empty() && requirement.source.is_none() {
            let text = format!("{} has neither parent nor source", requirement.head.id.value);
            findings.push(Finding::at("orphan-requirement", requirement.head.id.span, text));
        }
    }
}

fn unsealed(record: &Record, findings: &mut Findings) {
    if record.seal.is_none() {
        let id = &record.head.id.value;
        let text = format!("{id} is signed without a seal, so a later edit cannot be seen");
        let help = format!("slipmark sign {id} --by ROLE");
        findings.push(Finding::at("unsealed-record", record.status.span, text).help(help));
    }
}

/// An analysis that takes a result although a newer signed record reports the same one on the same thing.
fn stale_inputs(subject: &Subject<'_>, record: &Record, findings: &mut Findings) {
    let model = subject.facts.model;
    for input in &record.inputs {
        let (Some(from), Some(source)) = (&input.from, input.record().and_then(|id| model.record(id))) else {
            continue;
        };
        let name = from.value.rsplit_once('.').map_or("", |(_, name)| name);
        let reports = |other: &Record| {
            other.verifies.iter().any(|verifies| verifies.results.iter().any(|(own, _)| own.value == name))
        };
        let newer = model.records.iter().find(|other| {
            other.status.value == RecordStatus::Signed
                && other.item.as_ref().map(|item| &item.value) == source.item.as_ref().map(|item| &item.value)
                && other.serials.iter().map(|own| &own.value).eq(source.serials.iter().map(|own| &own.value))
                && matches!((&source.date, &other.date), (Some(used), Some(own)) if used.before(own))
                && reports(other)
        });
        if let Some(newer) = newer {
            let text = format!("{} takes {}, and {} is newer", record.head.id.value, from.value, newer.head.id.value);
            findings
                .push(Finding::at("newer-result-not-used", from.span, text).also(newer.head.id.span, "the newer one"));
        }
    }
}

/// Limits that no result of this uncertainty could be shown to meet.
fn narrow(subject: &Subject<'_>, record: &Record, findings: &mut Findings) {
    let model = subject.facts.model;
    for verifies in &record.verifies {
        let Some(requirement) = model.requirement(&verifies.requirement.value) else { continue };
        let only = (requirement.criteria.len() == 1).then(|| requirement.criteria[0].name.as_str());
        for criterion in &requirement.criteria {
            let Expectation::Limits { min: Some(min), max: Some(max) } = &criterion.expects else { continue };
            let (Some(low), Some(high)) = (min.quantity(), max.quantity()) else { continue };
            let Some(result) = verifies.result_for(&criterion.name, only) else { continue };
            let crate::model::kinds::ResultText::Written(Scalar::Text(text)) = &result.value else { continue };
            let Ok(Measured::Value(value)) = parse_measured(text) else { continue };
            let Some(uncertainty) = &value.uncertainty else { continue };
            let limits = Limits { min: Some(low.clone()), max: Some(high.clone()) };
            if matches!(limits.leave_room_for(&uncertainty.expanded, model.config.ambient.as_ref()), Ok(false)) {
                let text = format!(
                    "{text} cannot decide {}: the limits are closer than twice the uncertainty",
                    criterion.show()
                );
                findings
                    .push(Finding::at("tolerance-too-narrow", result.span, text).also(criterion.span, "the criterion"));
            }
        }
    }
}

/// Two signed records of one requirement, method and thing on one day without hours.
fn same_day(subject: &Subject<'_>, findings: &mut Findings) {
    let (model, graph) = (subject.facts.model, subject.facts.graph);
    for evidence in graph.evidence.iter().filter(|evidence| evidence.len() > 1) {
        let records: Vec<&Record> = evidence.iter().map(|(at, _)| &model.records[*at]).collect();
        for (at, one) in records.iter().enumerate() {
            let twin = records[..at].iter().find(|other| is_twin(one, other));
            if let (Some(twin), Some(date)) = (twin, &one.date) {
                let text = format!(
                    "{} and {} are of one day, and which came last is not known",
                    twin.head.id.value, one.head.id.value
                );
                findings.push(Finding::at("same-day-evidence", date.span, text).also(twin.head.id.span, "the other"));
            }
        }
    }
}

fn is_twin(one: &Record, other: &Record) -> bool {
    let signed = |record: &Record| record.status.value == RecordStatus::Signed;
    let undecided = match (&one.date, &other.date) {
        (Some(mine), Some(theirs)) => mine.date == theirs.date && !mine.before(theirs) && !theirs.before(mine),
        _ => false,
    };
    undecided
        && signed(one)
        && signed(other)
        && (one.method, one.stage) == (other.method, other.stage)
        && one.procedure.as_ref().map(|it| &it.value) == other.procedure.as_ref().map(|it| &it.value)
        && one.item.as_ref().map(|it| &it.value) == other.item.as_ref().map(|it| &it.value)
        && one.serials.iter().map(|it| &it.value).eq(other.serials.iter().map(|it| &it.value))
}
