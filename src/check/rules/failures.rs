//! Failures that nobody wrote up.

use crate::check::{Check, Subject, earliest};
use crate::diag::{Finding, Findings};
use crate::model::kinds::RequirementStatus;
use crate::state::standing::{Standing, failures, is_named, standing};

/// The check.
pub const CHECK: Check = Check { name: "failures", codes: &["failure-without-nonconformance"], run };

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let facts = &subject.facts;
    for (at, requirement) in facts.model.requirements.iter().enumerate() {
        if requirement.status == RequirementStatus::Withdrawn {
            continue;
        }
        for (record_at, which) in &facts.graph.evidence[at] {
            let record = &facts.model.records[*record_at];
            let verifies = &record.verifies[*which];
            if is_named(facts, *record_at)
                || standing(facts, *record_at) != Standing::Signed
                || failures(facts, at, *record_at, *which).is_empty()
            {
                continue;
            }
            let (id, failed) = (&record.head.id.value, &requirement.head.id.value);
            let text = format!("{id} shows a failure of {failed}, and no nonconformance names it");
            findings.push(
                Finding::at("failure-without-nonconformance", verifies.requirement.span, text)
                    .also(requirement.head.id.span, "the requirement")
                    .help(format!("run slipmark new nonconformance, with found_by = [\"{id}\"]"))
                    .due(earliest(facts, requirement)),
            );
        }
    }
}
