//! Slots with more than one choice.

use crate::check::{Check, Subject};
use crate::diag::{Finding, Findings};

/// The check.
pub const CHECK: Check = Check { name: "options", codes: &["two-current-options"], run };

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let model = subject.facts.model;
    for (slot, options) in model.slots.iter().zip(&subject.facts.graph.options) {
        let [first, rest @ ..] = options.as_slice() else { continue };
        let first = &model.items[*first].head.id;
        for other in rest {
            let other = &model.items[*other].head.id;
            let text =
                format!("{} and {} are both current options of {}", first.value, other.value, slot.head.id.value);
            findings.push(Finding::at("two-current-options", other.span, text).also(first.span, "the first"));
        }
    }
}
