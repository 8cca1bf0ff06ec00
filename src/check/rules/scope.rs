//! Plan entries that are about nothing.

use std::collections::BTreeMap;

use crate::check::{Check, Subject, due};
use crate::diag::{Due, Finding, Findings};
use crate::model::Id;
use crate::model::kinds::{On, Requirement, RequirementStatus};
use crate::state::Facts;
use crate::state::scope::{Target, event_of, in_scope, targets};
use crate::text::Span;

/// The check.
pub const CHECK: Check =
    Check { name: "scope", codes: &["no-item-with-tag", "no-option-chosen", "no-serial-in-scope"], run };

/// A slot without an option, with the first requirement that needs one.
type Undecided<'m> = BTreeMap<&'m Id, (Span, Due)>;

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let facts = &subject.facts;
    let mut undecided = Undecided::new();
    for requirement in &facts.model.requirements {
        if requirement.status == RequirementStatus::Withdrawn {
            continue;
        }
        let first = crate::check::earliest(facts, requirement);
        for target in targets(facts, requirement) {
            match target {
                Target::EmptySlot(slot) => {
                    let known = undecided.entry(slot).or_insert((requirement.head.id.span, first.clone()));
                    if first < known.1 {
                        *known = (requirement.head.id.span, first.clone());
                    }
                }
                Target::NoItem(tag) => {
                    let text = format!(
                        "{} applies to items with the tag {tag}, and no current item has it",
                        requirement.head.id.value
                    );
                    findings.push(Finding::at("no-item-with-tag", requirement.head.id.span, text).due(first.clone()));
                }
                Target::Item(item) => no_serial(facts, requirement, item, findings),
                Target::Project | Target::Unknown(_) | Target::Nothing => {}
            }
        }
    }
    for (slot, (span, due)) in undecided {
        let Some(own) = facts.model.slot(slot) else { continue };
        let text = format!("no option of {slot} is chosen");
        findings.push(Finding::at("no-option-chosen", own.head.id.span, text).also(span, "needed here first").due(due));
    }
}

fn no_serial(facts: &Facts<'_>, requirement: &Requirement, item: usize, findings: &mut Findings) {
    let item = &facts.model.items[item];
    for entry in requirement.plan.iter().filter(|entry| entry.on != On::Design) {
        let event = event_of(facts, requirement, Some(entry));
        if in_scope(facts, item, entry, event).is_empty() {
            let id = &item.head.id;
            let text = format!("no piece of {} is in scope of this entry of {}", id.value, requirement.head.id.value);
            findings.push(Finding::at("no-serial-in-scope", entry.span, text).also(id.span, "the item").due(due(
                facts,
                requirement,
                Some(entry),
            )));
        }
    }
}
