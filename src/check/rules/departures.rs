//! Nonconformances and waivers that do not do what they seem to do.

use crate::check::{Check, Subject};
use crate::diag::{Finding, Findings};
use crate::model::kinds::{NonconformanceStatus, RequirementStatus, WaiverStatus};
use crate::state::relief::has_end;
use crate::state::standing::{is_moot, why_not_closed};

/// The check.
pub const CHECK: Check =
    Check { name: "departures", codes: &["closed-in-name-only", "waiver-incomplete", "waiver-slipped"], run };

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let facts = &subject.facts;
    for it in facts.model.nonconformances.iter().filter(|it| it.status == NonconformanceStatus::Closed) {
        let id = &it.head.id;
        if let (Some(why), false) = (why_not_closed(facts, it), is_moot(facts, it)) {
            let text = format!("{} is set to closed and counts as open: {why}", id.value);
            findings.push(Finding::at("closed-in-name-only", id.span, text));
        }
    }
    for it in facts.model.waivers.iter().filter(|it| it.status == WaiverStatus::Approved) {
        let id = &it.head.id;
        let missing = [
            ("approved_by", it.approved_by.is_none()),
            ("approved", it.approved.is_none()),
            ("before or expires", !has_end(it)),
        ];
        let missing: Vec<&str> = missing.into_iter().filter_map(|(key, missing)| missing.then_some(key)).collect();
        if !missing.is_empty() {
            let text = format!("{} is set to approved and has no {}", id.value, missing.join(" and no "));
            findings.push(Finding::at("waiver-incomplete", id.span, text));
        }
        let requirement = it.requirement.as_ref().and_then(|id| facts.model.requirement(&id.value));
        let (Some(requirement), Some(mark)) = (requirement, &it.mark) else { continue };
        if requirement.status != RequirementStatus::Withdrawn && mark.value != requirement.mark {
            let own = &requirement.head.id;
            let text = format!("{} was written for another text of {} and covers nothing now", id.value, own.value);
            findings.push(Finding::at("waiver-slipped", mark.span, text).also(own.span, "its mark has moved").help(
                format!(
                    "read both texts; if it still holds, set mark = \"{}\" and approve it again, else withdraw it",
                    requirement.mark
                ),
            ));
        }
    }
}
