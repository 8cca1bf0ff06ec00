//! Failures that nobody wrote up.

use crate::check::{Check, Subject, earliest};
use crate::diag::{Due, Finding, Findings};
use crate::model::Id;
use crate::model::kinds::RequirementStatus;
use crate::state::Facts;
use crate::state::accounted::{Account, account};
use crate::state::standing::{Standing, failures, standing};

/// The check.
pub const CHECK: Check = Check { name: "failures", codes: &["failure-without-nonconformance"], run };

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let facts = &subject.facts;
    for (at, requirement) in facts.model.requirements.iter().enumerate() {
        // What stands in for it does not undo its failures.
        let due = match requirement.status {
            RequirementStatus::Withdrawn => replaced_by(facts, &requirement.head.id.value),
            _ => Some(earliest(facts, requirement)),
        };
        let Some(due) = due else { continue };
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
                    .due(due.clone()),
            );
        }
    }
}

/// When the first of the requirements in force that stand in for a withdrawn one is due; none: none does.
fn replaced_by(facts: &Facts<'_>, id: &Id) -> Option<Due> {
    let in_force = facts.model.requirements.iter().filter(|it| it.status != RequirementStatus::Withdrawn);
    in_force.filter(|it| it.replaces.iter().any(|own| own.value == *id)).map(|it| earliest(facts, it)).min()
}
