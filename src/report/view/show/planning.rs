//! Decisions, departures, events, held events and parameters.

use crate::analysis::Analysis;
use crate::config::Parameter;
use crate::model::SerialId;
use crate::model::kinds::{HeldEvent, Requirement};
use crate::quantity;
use crate::state::held::holdings;
use crate::state::standing::{is_approved, is_moot, why_not_closed};

use super::{ShowView, joined};

pub(super) fn decision(mut view: ShowView, analysis: &Analysis, at: usize) -> ShowView {
    let it = &analysis.model.decisions[at];
    view.say_some("date", it.date.as_ref().map(|date| &date.text));
    view.say("status", it.status.word());
    let acts = [
        ("selects", &it.selects),
        ("drops", &it.drops),
        ("adds", &it.adds),
        ("revises", &it.revises),
        ("withdraws", &it.withdraws),
        ("keeps", &it.keeps),
    ];
    for (relation, ids) in acts {
        for id in ids {
            view.link(analysis, relation, &id.value, "");
        }
    }
    view
}

/// What something is against: a piece, an item, or the project.
fn against(view: &mut ShowView, analysis: &Analysis, relation: &'static str, target: &str) {
    match SerialId::parse(target) {
        Some(serial) => view.piece(analysis, relation, &serial),
        None if target == "project" => view.say(relation, "the project as a whole"),
        None => view.link(analysis, relation, target, ""),
    }
}

pub(super) fn nonconformance(mut view: ShowView, analysis: &Analysis, at: usize) -> ShowView {
    let it = &analysis.model.nonconformances[at];
    let facts = analysis.facts();
    view.say_some("date", it.date.as_ref().map(|date| &date.text));
    view.say("status", it.status.word());
    view.say_some("disposition", it.disposition.as_ref().map(|word| word.value.word()));
    view.say_some("closed", it.closed.as_ref().map(|date| &date.text));
    view.say_some("closed by", it.closed_by.as_ref());
    if it.voids_nothing.is_some() {
        view.say("voids", "nothing");
    }
    view.say_some("reason", it.reason.as_ref());
    view.say_some("before", it.before.as_ref().map(|event| &event.value));
    if is_moot(&facts, it) {
        view.say("counts", "no: everything that it is against is scrapped or dropped");
    } else {
        let lacks = why_not_closed(&facts, it, None);
        view.say("counts", lacks.map_or("as closed".to_string(), |lacks| format!("as open: {lacks}")));
    }
    for target in &it.against {
        against(&mut view, analysis, "against", &target.value);
    }
    for id in it.requirements.iter().flatten() {
        view.link(analysis, "requirements", &id.value, "");
    }
    for id in &it.found_by {
        view.link(analysis, "found by", &id.value, "");
    }
    view.add_rows(analysis, |row| {
        row.reasons().any(|reason| {
            reason.record.as_ref().is_some_and(|record| it.found_by.iter().any(|own| own.value == *record))
                && row.state.is_open()
        })
    });
    view
}

pub(super) fn waiver(mut view: ShowView, analysis: &Analysis, at: usize) -> ShowView {
    let it = &analysis.model.waivers[at];
    view.say("status", it.status.word());
    view.say_some("approved by", it.approved_by.as_ref());
    view.say_some("approved", it.approved.as_ref().map(|date| &date.text));
    view.say_some("before", it.before.as_ref().map(|event| format!("holds up to {}", event.value)));
    view.say_some("expires", it.expires.as_ref().map(|date| &date.text));
    for (name, relief) in &it.accepts {
        view.say("accepts", format!("{} {}", name.value, relief.show_whole()));
    }
    view.say_some("without evidence", it.without_evidence.as_ref());
    view.say_some("conditions", it.conditions.as_ref());
    view.say_some("reason", it.reason.as_ref());
    let asked = it.requirement.as_ref().and_then(|id| analysis.model.requirement(&id.value));
    let lines_up = asked.is_some_and(|asked| it.mark.as_ref().is_some_and(|mark| mark.value == asked.mark));
    view.say("mark", if lines_up { "lines up" } else { "does not line up: the requirement has been reworded since" });
    view.say("counts", if is_approved(&analysis.facts(), it) && lines_up { "while it is in date" } else { "no" });
    if let Some(id) = &it.requirement {
        view.link(analysis, "departs from", &id.value, "");
    }
    for serial in &it.serials {
        view.piece(analysis, "on", &serial.value);
    }
    if let Some(item) = &it.item {
        view.link(analysis, "on", &item.value, "");
    }
    let id = &it.head.id.value;
    view.add_rows(analysis, |row| row.criteria.iter().any(|own| own.waiver.as_ref() == Some(id)));
    view
}

pub(super) fn event(analysis: &Analysis, at: usize) -> ShowView {
    let config = &analysis.model.config;
    let it = &config.events[at];
    let title = format!("event {} of {}", at + 1, config.events.len());
    let mut view = ShowView::bare(analysis, "event", it.name.value.clone(), title);
    view.path = Some(analysis.path(it.name.span.file).to_string());
    view.line = Some(analysis.sources.locate(it.name.span).line);
    view.say_some("date", it.date.as_ref().map(|date| &date.text));
    if at > 0 {
        view.say("comes after", config.events[at - 1].name.value.clone());
    }
    for (name, amount) in &it.uses {
        view.say("uses", format!("{} {}", name.value, amount.value.text));
    }
    for serial in &it.serials {
        view.piece(analysis, "pieces", &serial.value);
    }
    for (held, _) in holdings(&analysis.facts(), &it.name.value) {
        view.link(analysis, "held events", &held.head.id.value, held_note(held));
    }
    view.add_rows(analysis, |row| row.event == at);
    view
}

/// A held event beside its event or a piece.
pub(super) fn held_note(held: &HeldEvent) -> String {
    let event = held.event.as_ref().map_or("of no event", |event| event.value.as_str());
    let mut parts = vec![format!("{event}, {}", held.outcome_word())];
    parts.extend(held.date.as_ref().map(|date| date.text.clone()));
    if !held.serials.is_empty() {
        parts.push(format!("with {}", joined(held.serials.iter().map(|serial| &serial.value))));
    }
    parts.join("; ")
}

pub(super) fn held(mut view: ShowView, analysis: &Analysis, at: usize) -> ShowView {
    let it = &analysis.model.held[at];
    view.say_some("event", it.event.as_ref().map(|event| &event.value));
    view.say_some("date", it.date.as_ref().map(|date| &date.text));
    view.say("outcome", it.outcome_word());
    for (name, amount) in &it.uses {
        view.say("uses", format!("{} {}", name.value, amount.value.text));
    }
    view.say_some("note", it.note.as_ref());
    if let Some(procedure) = &it.procedure {
        view.link(analysis, "procedure", &procedure.value, "");
    }
    for serial in &it.serials {
        view.piece(analysis, "pieces", &serial.value);
    }
    let named = |piece: &SerialId| it.serials.iter().any(|own| own.value == *piece);
    for inner in analysis.graph.held_with[at].touched.iter().filter(|piece| !named(piece)) {
        view.piece(analysis, "in them", inner);
    }
    view
}

pub(super) fn parameter(analysis: &Analysis, it: &Parameter) -> ShowView {
    let title = it.text.value.clone();
    let mut view = ShowView::bare(analysis, "parameter", it.name.value.clone(), title);
    view.path = Some(analysis.path(it.name.span.file).to_string());
    view.line = Some(analysis.sources.locate(it.name.span).line);
    view.say("value", it.text.value.clone());
    view.say_some("source", it.source.as_ref());
    view.say_some("note", it.note.as_ref());
    for requirement in &analysis.model.requirements {
        for (name, text) in uses(requirement, &it.name.value) {
            view.link(analysis, "used in", &requirement.head.id.value, format!("{name}: {text}"));
        }
    }
    view
}

/// The limits of a requirement that a parameter is in.
fn uses(requirement: &Requirement, parameter: &str) -> Vec<(String, String)> {
    let mut found = Vec::new();
    for criterion in &requirement.criteria {
        for limit in criterion.limits() {
            let texts = [Some(&limit.text), limit.tolerance.as_ref().map(|(text, _)| text)];
            for text in texts.into_iter().flatten() {
                if quantity::names(&text.value).iter().any(|name| name == parameter) {
                    found.push((criterion.name.clone(), text.value.clone()));
                }
            }
        }
    }
    found
}
