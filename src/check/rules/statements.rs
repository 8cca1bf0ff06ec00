//! Requirements that say nothing.

use crate::check::{Check, Subject};
use crate::diag::{Finding, Findings};
use crate::model::kinds::RequirementStatus;

/// The check.
pub const CHECK: Check = Check { name: "statements", codes: &["no-statement"], run };

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    for requirement in &subject.facts.model.requirements {
        if requirement.status != RequirementStatus::Withdrawn && requirement.plain.is_empty() {
            let id = &requirement.head.id;
            let text = format!("{} has no statement: nothing stands between `+++` and the first heading", id.value);
            findings.push(Finding::at("no-statement", id.span, text));
        }
    }
}
