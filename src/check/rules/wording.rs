//! Wording of statements, by published rules.

use rayon::prelude::*;

use crate::check::wording::{Context, Glossary, examine, near_duplicates};
use crate::check::{Check, Subject};
use crate::diag::{Finding, Findings};
use crate::model::kinds::{AppliesTo, Requirement, RequirementStatus};
use crate::text::Span;

/// The check. Its codes are those of the wording rules, which have their own list.
pub const CHECK: Check = Check { codes: &["near-duplicate"], run };

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    if !subject.wording {
        return;
    }
    let model = subject.facts.model;
    let all = model.requirements.iter().filter(|requirement| requirement.status != RequirementStatus::Withdrawn);
    let all: Vec<&Requirement> = all.collect();
    let glossary = Glossary::default();
    let notes: Vec<Vec<Finding>> =
        all.par_iter().with_min_len(16).map(|requirement| one(subject, &glossary, requirement)).collect();
    findings.extend(notes.into_iter().flatten());
    let statements: Vec<(usize, &str)> =
        all.iter().enumerate().map(|(at, requirement)| (at, requirement.plain.as_str())).collect();
    for (first, second) in near_duplicates(&statements) {
        let (first, second) = (all[first], all[second]);
        let text = format!("{} says nearly what {} says", second.head.id.value, first.head.id.value);
        findings.push(Finding::at("near-duplicate", second.statement.span, text).also(first.head.id.span, "the other"));
    }
}

fn one(subject: &Subject<'_>, glossary: &Glossary, requirement: &Requirement) -> Vec<Finding> {
    let model = subject.facts.model;
    let ids = |word: &str| model.find(word).is_some() || model.instruments.contains_key(word) || word.contains('/');
    let limits: Vec<String> = requirement.criteria.iter().flat_map(limit_texts).collect();
    let conditions: Vec<String> = requirement
        .criteria
        .iter()
        .flat_map(|criterion| &criterion.at)
        .flat_map(|condition| [&condition.min, &condition.max])
        .flatten()
        .map(|limit| limit.text.value.clone())
        .collect();
    let parameters: Vec<String> = model.parameters.values().map(|parameter| parameter.text.value.clone()).collect();
    let context = Context {
        glossary,
        ids: &ids,
        has_target: requirement.applies_to != AppliesTo::Project,
        has_plan: !requirement.plan.is_empty() || requirement.by_children_at.is_some(),
        rationale: requirement.rationale.as_deref(),
        limits: &limits,
        conditions: &conditions,
        parameters: &parameters,
    };
    let at = requirement.statement.span;
    let hits = examine(&requirement.statement.value, &context).into_iter();
    let notes = hits.map(|hit| {
        let start = at.start as usize;
        let span = Span::new(at.file, start + hit.range.start..start + hit.range.end);
        let found = if hit.found.is_empty() { String::new() } else { format!(": \u{201c}{}\u{201d}", hit.found) };
        let note = Finding::at(hit.code, span, format!("{}{found}", requirement.head.id.value));
        match hit.suggestion {
            Some(suggestion) => note.help(format!("write {suggestion}")),
            None => note,
        }
    });
    notes.collect()
}

fn limit_texts(criterion: &crate::model::kinds::Criterion) -> Vec<String> {
    match &criterion.expects {
        crate::model::kinds::Expectation::Limits { min, max } => {
            [min, max].into_iter().flatten().map(|limit| limit.text.value.clone()).collect()
        }
        _ => Vec::new(),
    }
}
