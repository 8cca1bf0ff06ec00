//! Failures that nobody wrote up.

use crate::check::{Check, Subject, earliest};
use crate::diag::{Finding, Findings};
use crate::model::kinds::RequirementStatus;
use crate::state::accounted::{Account, account};
use crate::state::standing::{Standing, failures, standing};

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
            let (id, failed) = (&record.head.id.value, &requirement.head.id.value);
            let account = account(facts, *record_at, failed, |_| true);
            if account.is_written_up()
                || standing(facts, *record_at) != Standing::Signed
                || failures(facts, at, *record_at, *which).is_empty()
            {
                continue;
            }
            let (what, help) = match account {
                Account::OtherRequirement(_) => {
                    (format!("that names it is about {failed}"), account.help(facts, id, failed))
                }
                Account::OtherPiece(_, piece) => {
                    (format!("that names it is against {piece}"), account.help(facts, id, failed))
                }
                Account::Settled | Account::Open(_) | Account::Nothing => {
                    ("names it".to_string(), format!("run slipmark new nonconformance, with found_by = [\"{id}\"]"))
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
