//! Puts a model together: limits worked out, marks computed, names resolved.

mod limits;
mod names;

use std::collections::BTreeMap;

use crate::diag::{Finding, Findings};

use super::Model;
use super::kinds::Entity;

pub use limits::resolve_limits;

/// Works out the limits and the marks, and reports every name that does not resolve.
pub fn link(model: &mut Model, findings: &mut Findings) {
    work_out(model, findings);
    names::check(model, findings);
}

/// Works out the limits and the marks only: for parts of a past project, whose names were judged in their own day.
pub fn work_out(model: &mut Model, findings: &mut Findings) {
    limits::resolve_all(model, findings);
    for requirement in &mut model.requirements {
        requirement.mark = super::mark::mark(requirement);
    }
}

/// Reports ids that two things share, and ids that differ only in case.
pub fn clashes(entities: &[&Entity], findings: &mut Findings) {
    let mut seen: BTreeMap<String, &Entity> = BTreeMap::new();
    for entity in entities {
        let head = entity.head();
        let Some(first) = seen.get(&head.id.value.to_lowercase()) else {
            seen.insert(head.id.value.to_lowercase(), entity);
            continue;
        };
        let (first, span) = (first.head(), head.id.span);
        findings.push(if first.id.value == head.id.value {
            Finding::at("duplicate-id", span, format!("two things have the id `{}`", head.id.value))
                .label("this one is not used")
                .also(first.id.span, "first here")
                .help("give one of them another id")
        } else {
            Finding::at(
                "id-case-clash",
                span,
                format!("`{}` and `{}` differ only in case", head.id.value, first.id.value),
            )
            .also(first.id.span, "the other one")
            .help("give one of them another id; some file systems could not tell them apart")
        });
    }
}
