//! Failures that nobody has accounted for.

use crate::check::{Check, Subject};
use crate::diag::{Due, Finding, Findings};
use crate::model::kinds::RequirementStatus;
use crate::state::scope::event_of;
use crate::state::standing::{Standing, failures, is_named, standing};

/// The check.
pub const CHECK: Check = Check { codes: &["unaccounted-failure"], run };

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let facts = &subject.facts;
    for (at, requirement) in facts.model.requirements.iter().enumerate() {
        if requirement.status == RequirementStatus::Withdrawn {
            continue;
        }
        let entries = requirement.plan.iter().map(|entry| event_of(facts, requirement, Some(entry)));
        let due = Due::Before(entries.min().unwrap_or_else(|| event_of(facts, requirement, None)));
        for (record_at, which) in &facts.graph.evidence[at] {
            if is_named(facts, *record_at) || standing(facts, *record_at) != Standing::Signed {
                continue;
            }
            let failed = failures(facts, at, *record_at, *which);
            if failed.is_empty() {
                continue;
            }
            let record = &facts.model.records[*record_at];
            let (id, failed) = (&record.head.id.value, failed.join(", "));
            let text = format!("{id} fails {} ({failed}), and no nonconformance names it", requirement.head.id.value);
            let gap = Finding::at("unaccounted-failure", record.verifies[*which].requirement.span, text);
            findings.push(gap.help(format!("slipmark new nonconformance --found-by {id}")).due(due));
        }
    }
}
