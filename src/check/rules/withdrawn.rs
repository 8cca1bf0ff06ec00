//! What was withdrawn, and what was not although it says so.

use crate::check::{Check, Subject};
use crate::diag::{Finding, Findings};
use crate::model::kinds::{RecordStatus, RequirementStatus};
use crate::state::standing::{Standing, standing};

/// The check.
pub const CHECK: Check = Check {
    name: "withdrawn",
    codes: &["draft-on-withdrawn-requirement", "withdrawal-without-effect", "withdrawn-without-reason"],
    run,
};

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let facts = &subject.facts;
    for requirement in &facts.model.requirements {
        if requirement.status == RequirementStatus::Withdrawn && requirement.reason.is_none() {
            let id = &requirement.head.id;
            let text = format!("{} is withdrawn without a reason, and counts as active", id.value);
            findings.push(Finding::at("withdrawn-without-reason", id.span, text));
        }
    }
    for (at, record) in facts.model.records.iter().enumerate() {
        let id = &record.head.id.value;
        match (record.status.value, &record.reason) {
            (RecordStatus::Withdrawn, None) => {
                let text = format!("{id} is withdrawn without a reason, and counts as signed");
                findings.push(Finding::at("withdrawn-without-reason", record.status.span, text));
            }
            (RecordStatus::Withdrawn, Some(_)) if standing(facts, at) == Standing::Signed => {
                let text = format!("{id} failed or cannot be judged, and withdrawing it does not account for that");
                findings.push(Finding::at("withdrawal-without-effect", record.status.span, text));
            }
            (RecordStatus::Draft, _) => {
                for verifies in &record.verifies {
                    let requirement = facts.model.requirement(&verifies.requirement.value);
                    if requirement.is_some_and(|own| own.status == RequirementStatus::Withdrawn) {
                        let text = format!("{id} is a draft for {}, which is withdrawn", verifies.requirement.value);
                        findings.push(Finding::at("draft-on-withdrawn-requirement", verifies.requirement.span, text));
                    }
                }
            }
            _ => {}
        }
    }
}
