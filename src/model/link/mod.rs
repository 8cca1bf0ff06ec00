//! Puts a model together: limits worked out, marks computed, names resolved.

mod limits;
mod names;

use std::sync::Arc;

use rayon::prelude::*;

use crate::diag::{Class, Finding, Findings, Place, catalogue};
use crate::text::{SourceMap, same_but_for_case};

use super::Model;
use super::kinds::{Entity, Head, Requirement};

pub use limits::{resolve_limits, resolve_reliefs};

/// Works out the limits and the marks, and reports every name that does not resolve. What the files come to so far says from which
/// of them nothing could be read.
pub fn link(model: &mut Model, sources: &SourceMap, findings: &mut Findings) {
    let hidden = hidden(sources, findings);
    work_out(model, findings);
    names::check(model, &hidden, findings);
}

fn hidden(sources: &SourceMap, findings: &Findings) -> names::Hidden {
    let path = |finding: &Finding| match &finding.place {
        Place::At(span) => Some(sources.file(span.file).path.clone()),
        Place::Path(path) => Some(path.clone()),
        Place::Project => None,
    };
    let files = findings.of(Class::Fault).filter(|finding| catalogue::hides(finding.code)).filter_map(path);
    files.filter_map(|path| Some((path.file_name().rsplit_once('.')?.0.to_string(), path))).collect()
}

/// Works out the limits and the marks only: for parts of a past project, whose names were judged in their own day.
pub fn work_out(model: &mut Model, findings: &mut Findings) {
    let Model { requirements, waivers, parameters, .. } = model;
    let one = |requirement: &mut Arc<Requirement>| {
        let requirement = Arc::make_mut(requirement);
        let mut found = Findings::new();
        resolve_limits(requirement, parameters, &mut found);
        requirement.mark = super::mark::mark(requirement);
        found
    };
    let found: Vec<Findings> = requirements.par_iter_mut().with_min_len(64).map(one).collect();
    found.into_iter().for_each(|some| findings.extend(some));
    resolve_reliefs(waivers, parameters, findings);
}

/// Reports ids that two things share, and ids that differ only in case.
pub fn clashes(entities: &[Entity], findings: &mut Findings) {
    for same in same_but_for_case(entities, |entity| &entity.head().id.value) {
        let first = entities[same[0]].head();
        findings.extend(same[1..].iter().map(|at| clash(first, entities[*at].head())));
    }
}

fn clash(first: &Head, second: &Head) -> Finding {
    let span = second.id.span;
    if first.id.value == second.id.value {
        return Finding::at("duplicate-id", span, format!("two things have the id `{}`", second.id.value))
            .label("this one is not used")
            .also(first.id.span, "first here")
            .help("give one of them another id");
    }
    let text = format!("`{}` and `{}` differ only in case", second.id.value, first.id.value);
    Finding::at("id-case-clash", span, text)
        .also(first.id.span, "the other one")
        .help("give one of them another id; some file systems could not tell them apart")
}
