//! Results that cannot be read against their criterion.

use crate::check::{Check, Subject};
use crate::diag::{Finding, Findings, Place};
use crate::state::judge::Verdict;
use crate::state::standing::lines_up;

/// The check.
pub const CHECK: Check = Check {
    name: "results",
    codes: &[
        "bad-quantity",
        "units-do-not-match",
        "word-for-quantity",
        "unknown-result-word",
        "count-expected",
        "trials-expected",
        "sample-expected",
    ],
    run,
};

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let facts = &subject.facts;
    for (at, record) in facts.model.records.iter().enumerate() {
        for (which, verifies) in record.verifies.iter().enumerate() {
            let Some(requirement) = facts.verified(at, which) else { continue };
            // A requirement that has moved since may have other units now; the mark says so already.
            if verifies.mark.is_some() && !lines_up(&requirement.mark, verifies) {
                continue;
            }
            for (criterion, judgement) in requirement.criteria.iter().zip(facts.judgements.get(at, which)) {
                let Verdict::CannotTell(trouble) = &judgement.verdict else { continue };
                let Some(code) = trouble.fault else { continue };
                let place = trouble.span.map_or(Place::At(record.head.fence), Place::At);
                let text = format!("{}: {}", record.head.id.value, trouble.message);
                findings.push(
                    Finding::new(code, place, text).also(criterion.span, "the criterion").help(trouble.help.clone()),
                );
            }
        }
    }
}
