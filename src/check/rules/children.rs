//! Requirements that are verified by their children.

use crate::check::{Check, Subject, due};
use crate::diag::{Finding, Findings};
use crate::model::kinds::RequirementStatus;

/// The check.
pub const CHECK: Check =
    Check { name: "children", codes: &["by-children-unused", "no-children", "no-sufficiency-statement"], run };

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let facts = &subject.facts;
    for (at, requirement) in facts.model.requirements.iter().enumerate() {
        if requirement.status == RequirementStatus::Withdrawn {
            continue;
        }
        let id = &requirement.head.id.value;
        match (requirement.by_children_at, &requirement.by_children) {
            (None, Some(statement)) => {
                let text = format!("the children of {id} are said to suffice, but {id} is not verified by them");
                findings.push(Finding::at("by-children-unused", statement.span, text));
            }
            (Some(span), None) => {
                let children: Vec<String> = facts.graph.children[at]
                    .iter()
                    .map(|child| format!("\"{}\"", facts.model.requirements[*child].head.id.value))
                    .collect();
                let help = format!(
                    "if they suffice, add [by_children] with mark = \"{}\", list = [{}], judged_by and date",
                    requirement.mark,
                    children.join(", ")
                );
                let text = format!("nobody has said that the children of {id} suffice for it");
                findings.push(Finding::at("no-sufficiency-statement", span, text).help(help).due(due(
                    facts,
                    requirement,
                    None,
                )));
            }
            _ => {}
        }
        if let (Some(span), true) = (requirement.by_children_at, facts.graph.children[at].is_empty()) {
            let text = format!("{id} is verified by its children, and no active requirement names it as parent");
            findings.push(Finding::at("no-children", span, text).due(due(facts, requirement, None)));
        }
    }
}
