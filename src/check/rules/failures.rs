//! Failures that nobody wrote up.

use crate::check::{Check, Subject, earliest};
use crate::diag::{Finding, Findings};
use crate::model::Id;
use crate::model::kinds::{Nonconformance, RequirementStatus};
use crate::state::Facts;
use crate::state::standing::{Standing, failures, naming, standing};

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
            if is_written_up(facts, *record_at, &requirement.head.id.value)
                || standing(facts, *record_at) != Standing::Signed
                || failures(facts, at, *record_at, *which).is_empty()
            {
                continue;
            }
            let (id, failed) = (&record.head.id.value, &requirement.head.id.value);
            let (what, help) = match naming(facts, *record_at).next() {
                None => {
                    ("names it".to_string(), format!("run slipmark new nonconformance, with found_by = [\"{id}\"]"))
                }
                Some(other) => {
                    let other = &other.head.id.value;
                    (
                        format!("that names it is about {failed}"),
                        format!(
                            "add \"{failed}\" to `requirements` of {other}; or write another: slipmark new nonconformance --found-by {id}"
                        ),
                    )
                }
            };
            let text = format!("{id} shows a failure of {failed}, and no nonconformance {what}");
            findings.push(
                Finding::at("failure-without-nonconformance", verifies.requirement.span, text)
                    .also(requirement.head.id.span, "the requirement")
                    .help(help)
                    .due(earliest(facts, requirement)),
            );
        }
    }
}

/// Whether a nonconformance names the record and is about the requirement: one that lists no requirements is about all.
fn is_written_up(facts: &Facts<'_>, record: usize, requirement: &Id) -> bool {
    let is_about =
        |it: &Nonconformance| it.requirements.as_ref().is_none_or(|ids| ids.iter().any(|id| id.value == *requirement));
    naming(facts, record).any(is_about)
}
