//! Things that hang from themselves.

use crate::check::{Check, Subject};
use crate::diag::{Finding, Findings};
use crate::model::Ref;

/// The check.
pub const CHECK: Check = Check { name: "cycles", codes: &["assembly-cycle", "contains-cycle", "parent-cycle"], run };

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let (model, graph) = (subject.facts.model, subject.facts.graph);
    for at in &graph.parent_cycles {
        let requirement = &model.requirements[*at];
        let id = &requirement.head.id;
        // The parent that leads back is the line to change.
        let back = requirement.parents.iter().find(|parent| {
            matches!(model.find(&parent.value), Some(Ref::Requirement(parent)) if graph.parent_cycles.contains(&parent))
        });
        let text = match back {
            Some(parent) if parent.value == id.value => format!("{} is its own parent", id.value),
            Some(parent) => format!("{} hangs from itself, by way of its parent {}", id.value, parent.value),
            None => format!("{} hangs from itself", id.value),
        };
        findings.push(Finding::at("parent-cycle", back.map_or(id.span, |parent| parent.span), text));
    }
    for place in &graph.assembly_cycles {
        let head = model.head(*place);
        let up = match place {
            Ref::Item(at) => model.items[*at].assembly.as_ref().or(model.items[*at].fills.as_ref()),
            Ref::Slot(at) => model.slots[*at].assembly.as_ref(),
            _ => None,
        };
        let text = format!("the assemblies above {} run in a circle", head.id.value);
        findings.push(Finding::at("assembly-cycle", up.map_or(head.id.span, |up| up.span), text));
    }
    for serial in &graph.contains_cycles {
        let Some((item, piece)) = model.serial(serial) else { continue };
        let span =
            piece.contains.iter().find(|inner| inner.is_in()).map_or(item.head.id.span, |inner| inner.serial.span);
        findings.push(Finding::at("contains-cycle", span, format!("{serial} contains itself")));
    }
}
