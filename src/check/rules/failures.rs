//! Failures that nobody wrote up, or signed.

use crate::check::{Check, Subject, earliest};
use crate::diag::{Due, Finding, Findings};
use crate::model::Id;
use crate::model::kinds::{Requirement, RequirementStatus};
use crate::state::Facts;
use crate::state::accounted::{Account, account};
use crate::state::standing::{Standing, failures, standing};

/// The check.
pub const CHECK: Check =
    Check { name: "failures", codes: &["failure-not-signed", "failure-without-nonconformance"], run };

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
            not_signed(facts, requirement, (*record_at, *which), &due, findings);
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

/// A failure that was written down, and neither signed nor written up.
fn not_signed(
    facts: &Facts<'_>,
    requirement: &Requirement,
    (record_at, which): (usize, usize),
    due: &Due,
    findings: &mut Findings,
) {
    let (id, record) = (&requirement.head.id.value, &facts.model.records[record_at]);
    if standing(facts, record_at) != Standing::Draft || account(facts, record_at, id, |_| true).is_written_up() {
        return;
    }
    let mut judged = requirement.criteria.iter().zip(facts.judgements.get(record_at, which));
    let Some((failed, _)) = judged.find(|(_, judgement)| judgement.fails()) else { return };
    let own = &record.head.id.value;
    let text = format!("{own} is not signed, and shows a failure of {id}: {} is not met", failed.name);
    findings.push(
        Finding::at("failure-not-signed", record.verifies[which].requirement.span, text)
            .also(requirement.head.id.span, "the requirement")
            .help(format!(
                "slipmark sign {own} --by ROLE, then write the failure up: slipmark new nonconformance --found-by {own}; if nothing was run, take its file away"
            ))
            .due(due.clone()),
    );
}

/// When the first of the requirements in force that stand in for a withdrawn one is due; none: none does.
fn replaced_by(facts: &Facts<'_>, id: &Id) -> Option<Due> {
    let in_force = facts.model.requirements.iter().filter(|it| it.status != RequirementStatus::Withdrawn);
    in_force.filter(|it| it.replaces.iter().any(|own| own.value == *id)).map(|it| earliest(facts, it)).min()
}
