//! Requirements that say nothing, withdrawals that do not say why, limits that nothing can meet.

use crate::check::{Check, Subject};
use crate::diag::{Finding, Findings};
use crate::model::kinds::{Condition, Expectation, Limit, RecordStatus, Requirement, RequirementStatus};
use crate::quantity::Limits;

/// The check.
pub const CHECK: Check = Check { codes: &["limits-contradict", "no-statement", "withdrawn-without-reason"], run };

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let model = subject.facts.model;
    for requirement in &model.requirements {
        let head = &requirement.head;
        if requirement.plain.is_empty() {
            findings.push(Finding::at("no-statement", head.fence, format!("{} has no statement", head.id.value)));
        }
        if requirement.status == RequirementStatus::Withdrawn && requirement.reason.is_none() {
            let text = format!("{} is withdrawn without a reason, and counts as active", head.id.value);
            findings.push(Finding::at("withdrawn-without-reason", head.id.span, text));
        }
        limits(subject, requirement, findings);
    }
    let withdrawn = model.records.iter().filter(|record| record.status.value == RecordStatus::Withdrawn);
    for record in withdrawn.filter(|record| record.reason.is_none()) {
        let text = format!("{} is withdrawn without a reason, and counts as signed", record.head.id.value);
        findings.push(Finding::at("withdrawn-without-reason", record.status.span, text));
    }
}

fn limits(subject: &Subject<'_>, requirement: &Requirement, findings: &mut Findings) {
    for criterion in &requirement.criteria {
        if let Expectation::Limits { min, max } = &criterion.expects {
            pair(subject, min.as_ref(), max.as_ref(), findings);
        }
        for Condition { min, max, .. } in &criterion.at {
            pair(subject, min.as_ref(), max.as_ref(), findings);
        }
    }
}

fn pair(subject: &Subject<'_>, min: Option<&Limit>, max: Option<&Limit>, findings: &mut Findings) {
    let (Some(min), Some(max)) = (min, max) else { return };
    let (Some(low), Some(high)) = (min.quantity(), max.quantity()) else { return };
    let limits = Limits { min: Some(low.clone()), max: Some(high.clone()) };
    if let Err(error) = limits.check(subject.facts.model.config.ambient.as_ref()) {
        findings.push(
            Finding::at("limits-contradict", max.text.span, error.message)
                .also(min.text.span, "the other limit")
                .help(error.help),
        );
    }
}
