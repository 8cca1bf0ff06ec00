//! A requirement.

use crate::analysis::Analysis;
use crate::model::kinds::requirement::show_limits;
use crate::model::kinds::{AppliesTo, Criterion, Limit, PlanEntry, Record, RecordStatus, Requirement, Verifies};
use crate::state::people;
use crate::state::standing::lines_up;

use super::{ShowView, ShownCriterion, ShownEntry, joined};

pub(super) fn fill(mut view: ShowView, analysis: &Analysis, at: usize) -> ShowView {
    let it = &analysis.model.requirements[at];
    view.statement = Some(it.statement.value.clone());
    view.body = None;
    details(&mut view, it);
    // What is shown by its children alone has only the criterion that every requirement without any has.
    if it.by_children_at.is_none() || it.criteria.iter().any(|own| own.name != "met") {
        view.criteria = it.criteria.iter().map(criterion).collect();
    }
    let entries = it.plan.iter().enumerate();
    let facts = analysis.facts();
    let text = |plan| [vec![words(plan, it)], people::asked(&facts, it, plan)].concat().join(", ");
    view.plan = entries.map(|(entry, plan)| ShownEntry { entry, text: text(plan) }).collect();
    view.add_rows(analysis, |row| row.requirement == at);
    links(&mut view, analysis, at);
    view
}

fn details(view: &mut ShowView, it: &Requirement) {
    view.say("status", it.status.word());
    view.say_some("reason", it.reason.as_ref());
    if it.safety {
        view.say("safety", "people depend on it");
    }
    view.say(
        "applies to",
        match &it.applies_to {
            AppliesTo::Project => "the project as a whole".to_string(),
            AppliesTo::Named(ids) => joined(ids.iter().map(|id| &id.value)),
            AppliesTo::Tag(tag) => format!("every current item with the tag {}", tag.value),
        },
    );
    view.say_some("owner", it.owner.as_ref());
    view.say_some("source", it.source.as_ref());
    view.say_some("before", it.before.as_ref().map(|before| &before.value));
    if it.by_children_at.is_some() {
        let by = it.by_children.as_ref().and_then(|statement| statement.judged_by.clone());
        view.say(
            "verified by",
            by.map_or("its children".into(), |by| format!("its children, which {by} judged to suffice")),
        );
    }
    view.say("mark", it.mark.clone());
    view.say_some("rationale", it.rationale.as_ref());
}

fn criterion(criterion: &Criterion) -> ShownCriterion {
    let conditions = criterion.at.iter().map(|condition| {
        let limits = [condition.min.as_ref(), condition.max.as_ref()];
        format!("{} {}{}", condition.name, show_limits(limits[0], limits[1]), amounts(limits.into_iter().flatten()))
    });
    let own = criterion.limits().take(criterion.limits().count() - condition_limits(criterion));
    ShownCriterion {
        name: criterion.name.clone(),
        limit: format!("{}{}", criterion.show(), amounts(own)),
        conditions: conditions.collect(),
        text: criterion.text.clone(),
    }
}

fn condition_limits(criterion: &Criterion) -> usize {
    criterion.at.iter().map(|one| usize::from(one.min.is_some()) + usize::from(one.max.is_some())).sum()
}

/// What limits come to that rest on parameters: ` (1.5 * meop = 6.0 MPa gauge)`.
fn amounts<'l>(limits: impl Iterator<Item = &'l Limit>) -> String {
    let worked_out = limits.filter_map(|limit| {
        let quantity = limit.quantity().filter(|quantity| quantity.text != limit.text.value)?;
        limit.tolerance.is_none().then(|| format!("{} = {}", limit.text.value, quantity.show()))
    });
    let all: Vec<String> = worked_out.collect();
    if all.is_empty() { String::new() } else { format!(" ({})", all.join(", ")) }
}

/// A plan entry in words.
pub(super) fn words(entry: &PlanEntry, requirement: &Requirement) -> String {
    let mut parts = vec![entry.method.map_or("no method", |method| method.word()).to_string()];
    parts.extend(entry.stage.map(|stage| stage.word().to_string()));
    parts.extend(entry.procedure.as_ref().map(|procedure| procedure.value.to_string()));
    parts.push(format!(
        "on {}",
        match entry.on.word() {
            "each" => "each piece",
            "one" => "one piece",
            _ => "the design",
        }
    ));
    let before = entry.before.as_ref().or(requirement.before.as_ref());
    parts.extend(before.map(|before| format!("before {}", before.value)));
    parts.extend(entry.criteria.as_ref().map(|names| format!("for {}", joined(names.iter().map(|name| &name.value)))));
    if !entry.after.is_empty() {
        parts.push(format!("after {}", joined(entry.after.iter().map(|first| &first.value))));
    }
    if !entry.again_after.is_empty() {
        parts.push(format!("again after each {}", joined(entry.again_after.iter().map(|event| &event.value))));
    }
    parts.extend(entry.valid_for.as_ref().map(|valid| format!("good for {}", valid.value)));
    parts.extend(entry.facility.as_ref().map(|place| format!("at {place}")));
    parts.extend(entry.by.as_ref().map(|by| format!("by {by}")));
    parts.join(", ")
}

fn links(view: &mut ShowView, analysis: &Analysis, at: usize) {
    let model = &analysis.model;
    let it = &model.requirements[at];
    for parent in &it.parents {
        view.link(analysis, "parents", &parent.value, "");
    }
    for child in &analysis.graph.children[at] {
        view.link(analysis, "children", &model.requirements[*child].head.id.value, "");
    }
    if let AppliesTo::Named(ids) = &it.applies_to {
        for id in ids {
            view.link(analysis, "applies to", &id.value, "");
        }
    }
    for (record, which) in &analysis.graph.evidence[at] {
        let record = &model.records[*record];
        let note = note(analysis, it, record, &record.verifies[*which]);
        view.link(analysis, "evidence", &record.head.id.value, note);
    }
    let id = it.head.id.as_str();
    for decision in &model.decisions {
        let acts = [
            ("adds", &decision.adds),
            ("revises", &decision.revises),
            ("withdraws", &decision.withdraws),
            ("keeps", &decision.keeps),
        ];
        for (verb, ids) in acts {
            if ids.iter().any(|own| own.as_str() == id) {
                view.link(analysis, "decisions", &decision.head.id.value, format!("{verb} it"));
            }
        }
    }
    for nonconformance in &model.nonconformances {
        if nonconformance.requirements.iter().flatten().any(|own| own.as_str() == id) {
            view.link(analysis, "nonconformances", &nonconformance.head.id.value, nonconformance.status.word());
        }
    }
    for waiver in model.waivers.iter().filter(|own| own.requirement.as_ref().is_some_and(|own| own.as_str() == id)) {
        view.link(analysis, "waivers", &waiver.head.id.value, waiver.status.word());
    }
    for replaced in &it.replaces {
        view.link(analysis, "replaces", &replaced.value, "");
    }
}

/// A record in a few words: status, day, pieces, results, whether its mark lines up.
pub(super) fn note(analysis: &Analysis, requirement: &Requirement, record: &Record, verifies: &Verifies) -> String {
    let mut parts = vec![record.status.value.word().to_string()];
    parts.extend(record.date.as_ref().map(|date| date.text.clone()));
    let on = joined(record.serials.iter().map(|serial| &serial.value));
    if !on.is_empty() {
        parts.push(format!("on {on}"));
    } else if let Some(item) = &record.item {
        parts.push(format!("on {}", item.value));
    }
    parts.extend(results(analysis, verifies));
    if !lines_up(&requirement.mark, verifies) && record.status.value != RecordStatus::Withdrawn {
        parts.push(if verifies.mark.is_none() { "carries no mark" } else { "its mark does not line up" }.to_string());
    } else if !verifies.reaffirmed.is_empty() {
        parts.push("re-affirmed".to_string());
    }
    parts.join("; ")
}

/// Results as written, with the outcome when they were signed.
pub(super) fn results(analysis: &Analysis, verifies: &Verifies) -> Vec<String> {
    let named = verifies.results.iter().map(|(name, result)| (name.value.as_str(), result));
    let only = verifies.result.iter().map(|result| ("result", result));
    named
        .chain(only)
        .map(|(name, result)| {
            let outcome = match name {
                "result" => verifies.outcomes.first().map(|(_, outcome)| outcome.value.as_str()),
                _ => verifies.outcome(name),
            };
            let outcome = outcome.map(|outcome| format!(", {outcome} when signed")).unwrap_or_default();
            format!("{name} {}{outcome}", analysis.computed.shown(result))
        })
        .collect()
}
