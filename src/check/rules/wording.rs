//! The wording of statements, as notes.

use std::sync::Arc;

use rayon::prelude::*;

use crate::check::wording::{Context, Glossary, Hit, examine, near_duplicates};
use crate::check::{Check, Subject};
use crate::diag::{Finding, Findings, catalogue};
use crate::model::kinds::{AppliesTo, Expectation, Limit, LimitValue, Requirement, RequirementStatus};
use crate::model::{Model, SerialId};
use crate::text::Span;

/// The check; its codes are those of [`catalogue::NOTES`].
pub const CHECK: Check = Check { name: "wording", codes: &["near-duplicate"], run };

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    if !subject.wording {
        return;
    }
    let facts = &subject.facts;
    let model = facts.model;
    let words = Words { glossary: glossary(model), parameters: parameters(model) };
    let in_force =
        |requirement: &Requirement| requirement.status != RequirementStatus::Withdrawn && !requirement.plain.is_empty();
    let one = |(at, requirement): (usize, &Arc<Requirement>)| -> Vec<Finding> {
        let has_children = !facts.graph.children[at].is_empty();
        if in_force(requirement) { statement(model, requirement, has_children, &words) } else { Vec::new() }
    };
    let each = || -> Vec<Vec<Finding>> { model.requirements.par_iter().enumerate().with_min_len(8).map(one).collect() };
    let alike = || {
        let statements = model.requirements.iter().enumerate().filter(|(_, requirement)| in_force(requirement));
        near_duplicates(&statements.map(|(at, requirement)| (at, requirement.plain.as_str())).collect::<Vec<_>>())
    };
    let (alike, each) = rayon::join(alike, each);
    findings.extend_from_lists(each);
    for (first, second) in alike {
        let (first, second) = (&model.requirements[first], &model.requirements[second]);
        let text = format!("{} says nearly the same as {}", second.head.id.value, first.head.id.value);
        let finding = Finding::at("near-duplicate", second.statement.span, text);
        findings.push(finding.also(first.statement.span, "the other one"));
    }
}

/// What the project says of itself, for all statements.
struct Words {
    glossary: Glossary,
    /// Values of parameters as written.
    parameters: Vec<String>,
}

fn parameters(model: &Model) -> Vec<String> {
    let parameters = model.parameters.values().map(|parameter| parameter.text.value.clone());
    parameters.chain(model.config.ambient.iter().map(|ambient| ambient.text.clone())).collect()
}

/// The project's own words: what its items, slots and procedures are called.
fn glossary(model: &Model) -> Glossary {
    let mut glossary = Glossary::new();
    let items = model.items.iter().map(|item| &item.head);
    let slots = model.slots.iter().map(|slot| &slot.head);
    for head in items.chain(slots) {
        glossary.add_term(&head.title);
    }
    glossary
}

fn statement(model: &Model, requirement: &Requirement, has_children: bool, words: &Words) -> Vec<Finding> {
    let (limits, conditions) = values(requirement);
    let context = Context {
        glossary: &words.glossary,
        ids: &|text| is_name(model, text),
        // A requirement that others hang from is about the whole of what they are about.
        has_target: requirement.applies_to != AppliesTo::Project || has_children,
        rationale: requirement.rationale.as_deref(),
        limits: &limits,
        conditions: &conditions,
        parameters: &words.parameters,
    };
    let hits = examine(&requirement.statement.value, &context);
    hits.into_iter().map(|hit| finding(requirement, hit)).collect()
}

/// Whether a text is the name of anything in the project.
fn is_name(model: &Model, text: &str) -> bool {
    model.find(text).is_some()
        || model.instruments.contains_key(text)
        || model.parameters.contains_key(text)
        || model.config.event_index(text).is_some()
        || SerialId::parse(text).is_some_and(|serial| model.serial(&serial).is_some())
}

/// Limits as written; and what else in the front matter holds a value: tolerances, conditions, durations.
fn values(requirement: &Requirement) -> (Vec<String>, Vec<String>) {
    let (mut limits, mut conditions) = (Vec::new(), Vec::new());
    for criterion in &requirement.criteria {
        match &criterion.expects {
            Expectation::Limits { min, max } | Expectation::Sample { min, max, .. } => {
                for limit in [min, max].into_iter().flatten() {
                    if !matches!(limit.value, LimitValue::Placeholder) {
                        limits.push(limit.text.value.clone());
                    }
                    // What an expression over parameters comes to may be what the sentence says.
                    conditions.extend(limit.quantity().map(|quantity| quantity.show()));
                    conditions.extend(limit.tolerance.as_ref().map(|(tolerance, _)| tolerance.value.clone()));
                }
            }
            Expectation::Count(count) => limits.push(count.to_string()),
            Expectation::Words(_) | Expectation::Trials { .. } => {}
        }
        let ends = criterion.at.iter().flat_map(|condition| [&condition.min, &condition.max]);
        conditions.extend(ends.flatten().map(|limit: &Limit| limit.text.value.clone()));
    }
    conditions.extend(requirement.plan.iter().filter_map(|entry| Some(entry.valid_for.as_ref()?.value.clone())));
    limits.dedup();
    (limits, conditions)
}

fn finding(requirement: &Requirement, hit: Hit) -> Finding {
    let start = requirement.statement.span.start as usize;
    let span = Span::new(requirement.statement.span.file, start + hit.range.start..start + hit.range.end);
    let entry = catalogue::entry(hit.code);
    let summary = entry.map_or(hit.code, |entry| entry.summary);
    let why = entry.map_or_else(String::new, |entry| first_sentence(entry.why));
    let id = &requirement.head.id.value;
    let text =
        if hit.found.is_empty() { format!("{id}: {summary}") } else { format!("{id}: \"{}\": {why}", hit.found) };
    let finding = Finding::at(hit.code, span, text);
    match hit.suggestion {
        Some(instead) => finding.help(format!("write \"{instead}\" in place of \"{}\"", hit.found)),
        None => finding,
    }
}

/// The first sentence of a text, to go on after a colon.
fn first_sentence(text: &str) -> String {
    let sentence = text.split(". ").next().unwrap_or(text).trim_end_matches('.');
    let mut letters = sentence.chars();
    match (letters.next(), letters.next()) {
        (Some(first), Some(second)) if !second.is_uppercase() => {
            let mut lowered = String::with_capacity(sentence.len());
            lowered.extend(first.to_lowercase());
            lowered.push_str(&sentence[first.len_utf8()..]);
            lowered
        }
        _ => sentence.to_string(),
    }
}
