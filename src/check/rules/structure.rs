//! Circles, doubled pieces and slots with two options.

use crate::check::{Check, Subject};
use crate::diag::{Finding, Findings};
use crate::model::Ref;

/// The check.
pub const CHECK: Check = Check { codes: &["in-itself", "parents-cycle", "serial-twice", "two-current-options"], run };

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let (model, graph) = (subject.facts.model, subject.facts.graph);
    for at in &graph.parent_cycles {
        let head = &model.requirements[*at].head;
        let text = format!("{} is its own ancestor", head.id.value);
        findings.push(Finding::at("parents-cycle", head.id.span, text));
    }
    for place in &graph.assembly_cycles {
        let head = model.head(*place);
        findings.push(Finding::at(
            "in-itself",
            head.id.span,
            format!("the way up from {} runs in a circle", head.id.value),
        ));
    }
    for serial in &graph.contains_cycles {
        if let Some((_, piece)) = model.serial(serial) {
            findings.push(Finding::at("in-itself", piece.number.span, format!("{serial} contains itself")));
        }
    }
    for (slot, options) in graph.options.iter().enumerate().filter(|(_, options)| options.len() > 1) {
        let slot = &model.slots[slot].head.id;
        let items: Vec<_> = options.iter().map(|at| &model.items[*at].head.id).collect();
        let names: Vec<&str> = items.iter().map(|id| id.as_str()).collect();
        let text = format!("slot {} has {} current options: {}", slot.value, options.len(), names.join(", "));
        findings.push(Finding::at("two-current-options", items[1].span, text).also(items[0].span, "the other"));
    }
    for item in &model.items {
        for (at, piece) in item.serials.iter().enumerate() {
            if let Some(first) = item.serials[..at].iter().find(|own| own.number.value == piece.number.value) {
                let text = format!("{} has two pieces {}", item.head.id.value, piece.number.value);
                findings
                    .push(Finding::at("serial-twice", piece.number.span, text).also(first.number.span, "first here"));
            }
        }
    }
    debug_assert!(graph.assembly_cycles.iter().all(|place| matches!(place, Ref::Item(_) | Ref::Slot(_))));
}
