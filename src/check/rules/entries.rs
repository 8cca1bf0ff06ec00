//! Signed evidence that fits no plan entry of a requirement it names.

use crate::check::{Check, Subject};
use crate::diag::{Finding, Findings};
use crate::model::kinds::{
    AppliesTo, Item, Method, On, PlanEntry, Record, RecordStatus, Requirement, RequirementStatus,
};
use crate::state::matches_entry;

/// The check.
pub const CHECK: Check = Check { codes: &["matches-no-entry"], run };

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let model = subject.facts.model;
    let signed = model.records.iter().filter(|record| record.status.value == RecordStatus::Signed);
    for record in signed {
        for verifies in &record.verifies {
            let Some(requirement) = model.requirement(&verifies.requirement.value) else { continue };
            if requirement.status == RequirementStatus::Withdrawn {
                continue;
            }
            let fits =
                |entry: &PlanEntry| matches_entry(record, entry) && is_about(subject, record, requirement, entry);
            if requirement.plan.iter().any(fits) {
                continue;
            }
            let id = &requirement.head.id.value;
            let text = format!("{} is signed and fits no plan entry of {id}", record.head.id.value);
            let planned: Vec<String> = requirement.plan.iter().map(in_words).collect();
            let help = format!("{id} asks for {}; correct the record, or add the entry", planned.join("; or "));
            let help = if planned.is_empty() { format!("add a [[verify]] entry to {id}") } else { help };
            findings.push(
                Finding::at("matches-no-entry", verifies.requirement.span, text)
                    .also(requirement.head.id.span, "the requirement")
                    .help(help),
            );
        }
    }
}

/// Whether what a record is about is what an entry asks for.
fn is_about(subject: &Subject<'_>, record: &Record, requirement: &Requirement, entry: &PlanEntry) -> bool {
    let model = subject.facts.model;
    if requirement.applies_to == AppliesTo::Project {
        return record.serials.is_empty() && record.item.is_none();
    }
    let concerned = |id: &str| model.item(id).is_some_and(|item| applies(&requirement.applies_to, item));
    let pieces = record.serials.iter().any(|serial| concerned(&serial.value.item));
    match entry.on {
        On::Each | On::One => pieces,
        On::Design => {
            (pieces && record.method != Method::Analysis)
                || record.item.as_ref().is_some_and(|item| concerned(&item.value))
        }
    }
}

/// Whether a requirement is, or for an option was, about an item.
fn applies(applies_to: &AppliesTo, item: &Item) -> bool {
    match applies_to {
        AppliesTo::Project => false,
        AppliesTo::Tag(tag) => item.tags.iter().any(|own| own.value == tag.value),
        AppliesTo::Named(ids) => ids
            .iter()
            .any(|id| id.value == item.head.id.value || item.fills.as_ref().is_some_and(|slot| slot.value == id.value)),
    }
}

fn in_words(entry: &PlanEntry) -> String {
    let stage = entry.stage.map(crate::model::kinds::Stage::word);
    let method = entry.method.map(Method::word);
    let by = entry.procedure.as_ref().map(|procedure| format!("by {}", procedure.value));
    let on = match entry.on {
        On::Each => "on each piece",
        On::One => "on one piece",
        On::Design => "on the design",
    };
    let words = [stage.map(str::to_string), method.map(str::to_string), by, Some(on.to_string())];
    words.into_iter().flatten().collect::<Vec<_>>().join(" ")
}
