//! What the plan leaves out.

use std::collections::BTreeMap;

use crate::check::{Check, Subject, due};
use crate::diag::{Due, Finding, Findings};
use crate::model::Id;
use crate::model::kinds::{Method, PlanEntry, ProcedureStatus, RequirementStatus};
use crate::state::Facts;

/// The check.
pub const CHECK: Check = Check {
    name: "plan",
    codes: &["criterion-in-no-entry", "no-plan-entry", "no-procedure", "procedure-not-released"],
    run,
};

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let facts = &subject.facts;
    let mut unreleased: BTreeMap<&Id, Vec<(&PlanEntry, Due)>> = BTreeMap::new();
    for requirement in &facts.model.requirements {
        if requirement.status == RequirementStatus::Withdrawn {
            continue;
        }
        let id = &requirement.head.id;
        if requirement.plan.is_empty() && requirement.by_children_at.is_none() {
            let text = format!("{} says nowhere how it will be shown", id.value);
            findings.push(Finding::at("no-plan-entry", id.span, text).due(due(facts, requirement, None)));
        }
        for criterion in &requirement.criteria {
            let asked = requirement.plan.iter().any(|entry| entry.asks_for(&criterion.name));
            if !asked && !requirement.plan.is_empty() {
                let text = format!("no plan entry of {} asks for {}", id.value, criterion.name);
                findings.push(Finding::at("criterion-in-no-entry", criterion.span, text).due(due(
                    facts,
                    requirement,
                    None,
                )));
            }
        }
        for entry in &requirement.plan {
            let due = due(facts, requirement, Some(entry));
            match &entry.procedure {
                Some(procedure) => unreleased.entry(&procedure.value).or_default().push((entry, due)),
                None => no_procedure(&id.value, entry, due, findings),
            }
        }
    }
    not_released(facts, unreleased, findings);
}

fn no_procedure(id: &Id, entry: &PlanEntry, due: Due, findings: &mut Findings) {
    let Some(method @ (Method::Test | Method::Demonstration)) = entry.method else { return };
    let text = format!("{id} plans a {} and names no procedure", method.word());
    findings.push(Finding::at("no-procedure", entry.span, text).due(due));
}

/// One gap for each procedure that is planned and not released, due with the first entry that needs it.
fn not_released(facts: &Facts<'_>, planned: BTreeMap<&Id, Vec<(&PlanEntry, Due)>>, findings: &mut Findings) {
    for (id, entries) in planned {
        let Some(procedure) = facts.model.procedure(id) else { continue };
        let Some((first, due)) = entries.into_iter().min_by(|(_, one), (_, other)| one.cmp(other)) else { continue };
        if procedure.status == ProcedureStatus::Draft {
            let text = format!("{id} is planned and not released");
            findings.push(
                Finding::at("procedure-not-released", procedure.head.id.span, text)
                    .also(first.span, "needed here first")
                    .due(due),
            );
        }
    }
}
