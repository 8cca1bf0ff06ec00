//! What a plan needs and does not have.

use crate::check::{Check, Subject};
use crate::diag::{Due, Finding, Findings};
use crate::model::kinds::{Method, On, PlanEntry, ProcedureStatus, Requirement, RequirementStatus};
use crate::state::scope::{Target, event_of, serials, targets};

/// The check.
pub const CHECK: Check = Check {
    codes: &[
        "childless-parent",
        "entry-without-procedure",
        "no-current-option",
        "no-piece-in-scope",
        "no-sufficiency-statement",
        "no-tagged-item",
        "procedure-not-released",
        "unasked-criterion",
        "unplanned-requirement",
    ],
    run,
};

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let counted = subject.facts.model.requirements.iter().enumerate();
    for (at, requirement) in counted.filter(|(_, it)| it.status != RequirementStatus::Withdrawn) {
        plan(subject, requirement, findings);
        children(subject, at, requirement, findings);
        subjects(subject, requirement, findings);
        for entry in &requirement.plan {
            procedure(subject, requirement, entry, findings);
            pieces(subject, requirement, entry, findings);
        }
    }
}

fn due(subject: &Subject<'_>, requirement: &Requirement, entry: Option<&PlanEntry>) -> Due {
    Due::Before(event_of(&subject.facts, requirement, entry))
}

/// The earliest event before which anything of a requirement is due.
fn first_due(subject: &Subject<'_>, requirement: &Requirement) -> Due {
    let entries = requirement.plan.iter().map(|entry| due(subject, requirement, Some(entry)));
    entries.min().unwrap_or_else(|| due(subject, requirement, None))
}

fn plan(subject: &Subject<'_>, requirement: &Requirement, findings: &mut Findings) {
    let head = &requirement.head;
    if requirement.plan.is_empty() && requirement.by_children_at.is_none() {
        let text = format!("{} says nowhere how it will be shown", head.id.value);
        let gap = Finding::at("unplanned-requirement", head.id.span, text);
        findings.push(gap.due(due(subject, requirement, None)));
        return;
    }
    if requirement.plan.is_empty() {
        return;
    }
    for criterion in &requirement.criteria {
        if !requirement.plan.iter().any(|entry| entry.asks_for(&criterion.name)) {
            let text = format!("no plan entry of {} asks for its criterion {}", head.id.value, criterion.name);
            findings.push(Finding::at("unasked-criterion", criterion.span, text).due(first_due(subject, requirement)));
        }
    }
}

fn children(subject: &Subject<'_>, at: usize, requirement: &Requirement, findings: &mut Findings) {
    let Some(span) = requirement.by_children_at else { return };
    let due = due(subject, requirement, None);
    let id = &requirement.head.id.value;
    if subject.facts.graph.children[at].is_empty() {
        let text = format!("{id} is verified by its children and has none that are active");
        findings.push(Finding::at("childless-parent", span, text).due(due));
    }
    if requirement.by_children.is_none() {
        let text = format!("nobody has said that the children of {id} suffice");
        findings.push(Finding::at("no-sufficiency-statement", span, text).due(due));
    }
}

fn subjects(subject: &Subject<'_>, requirement: &Requirement, findings: &mut Findings) {
    let (head, due) = (&requirement.head, first_due(subject, requirement));
    for target in targets(&subject.facts, requirement) {
        match target {
            Target::EmptySlot(slot) => {
                let text = format!("{} is about slot {slot}, for which no option is chosen", head.id.value);
                findings.push(Finding::at("no-current-option", head.id.span, text).due(due));
            }
            Target::NoItem(tag) => {
                let text = format!("{} is about items with the tag {tag}, and no current item has it", head.id.value);
                findings.push(Finding::at("no-tagged-item", head.id.span, text).due(due));
            }
            _ => {}
        }
    }
}

fn procedure(subject: &Subject<'_>, requirement: &Requirement, entry: &PlanEntry, findings: &mut Findings) {
    let due = due(subject, requirement, Some(entry));
    let id = &requirement.head.id.value;
    let Some(named) = &entry.procedure else {
        if let Some(method @ (Method::Test | Method::Demonstration)) = entry.method {
            let text = format!("{id} asks for a {} without a procedure", method.word());
            findings.push(Finding::at("entry-without-procedure", entry.span, text).due(due));
        }
        return;
    };
    let Some(procedure) = subject.facts.model.procedure(&named.value) else { return };
    if procedure.status != ProcedureStatus::Released {
        let text = format!("{} is a draft, and {id} asks for it", named.value);
        let gap = Finding::at("procedure-not-released", named.span, text).also(procedure.head.id.span, "the procedure");
        findings.push(gap.due(due));
    }
}

fn pieces(subject: &Subject<'_>, requirement: &Requirement, entry: &PlanEntry, findings: &mut Findings) {
    if entry.on == On::Design {
        return;
    }
    let event = event_of(&subject.facts, requirement, Some(entry));
    for target in targets(&subject.facts, requirement) {
        let Target::Item(at) = target else { continue };
        let item = &subject.facts.model.items[at];
        if serials(&subject.facts, item, entry.stage, event).is_empty() {
            let text = format!("no piece of {} is in scope for {}", item.head.id.value, requirement.head.id.value);
            let gap = Finding::at("no-piece-in-scope", entry.span, text).also(item.head.id.span, "the item");
            findings.push(gap.due(Due::Before(event)));
        }
    }
}
