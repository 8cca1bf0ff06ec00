//! The whole life of one piece: built, filled, reworked, tested, at an event, found wanting; and what was in it when.

use std::collections::BTreeSet;

use crate::analysis::Analysis;
use crate::model::SerialId;
use crate::model::kinds::{Content, Rework, Serial};
use crate::parse::Moment;
use crate::text::Spanned;

use super::{ShowView, joined};

/// Something that happened to a piece, or was found on it.
struct Step {
    date: Option<Moment>,
    text: String,
}

/// Adds the life of a piece, oldest first, and its as-built lists.
pub(super) fn tell(view: &mut ShowView, analysis: &Analysis, id: &SerialId, piece: &Serial) {
    let mut steps = hardware(piece);
    steps.extend(held_by(analysis, id));
    steps.extend(papers(analysis, id));
    steps.extend(events(analysis, id));
    // What the file gives no day for stands first; of one day, in the order of this list.
    steps.sort_by_key(|step| step.date.as_ref().map(Moment::in_lists));
    for step in steps {
        let date = step.date.map_or("no date".to_string(), |date| date.text);
        view.say("life", format!("{date}: {}", step.text));
    }
    as_built(view, analysis, id);
}

fn step(date: Option<&Spanned<Moment>>, text: impl Into<String>) -> Step {
    Step { date: date.map(|date| date.value.clone()), text: text.into() }
}

fn hardware(piece: &Serial) -> Vec<Step> {
    let mut steps: Vec<Step> = piece.built.iter().map(|date| step(Some(date), "built")).collect();
    for inner in &piece.contains {
        let name = &inner.serial.value;
        let dated = inner.from.iter().map(|date| step(Some(date), format!("{name} put in{}", kept(inner))));
        steps.extend(dated);
        steps.extend(inner.to.iter().map(|date| step(Some(date), format!("{name} taken out{}", kept(inner)))));
    }
    steps.extend(piece.reworked.iter().map(|rework| step(rework.date.as_ref(), reworked(rework))));
    steps
}

fn reworked(rework: &Rework) -> String {
    let reason = rework.reason.as_deref().unwrap_or_default();
    let affects = match &rework.affects {
        None => "undoes all earlier evidence".to_string(),
        Some(ids) => format!("undoes earlier evidence of {}", joined(ids.iter().map(|id| &id.value))),
    };
    let renews = match rework.resets.is_empty() {
        true => String::new(),
        false => format!("; begins anew: {}", joined(rework.resets.iter().map(|name| &name.value))),
    };
    format!("reworked: {reason} ({affects}{renews})")
}

fn kept(inner: &Content) -> String {
    let keeps = inner.keeps_evidence.says();
    match &inner.reason {
        Some(reason) => format!(": {reason} ({keeps})"),
        None => format!(" ({keeps})"),
    }
}

/// When it was put into other pieces and taken out of them.
fn held_by(analysis: &Analysis, id: &SerialId) -> Vec<Step> {
    let mut steps = Vec::new();
    for item in &analysis.model.items {
        for outer in &item.serials {
            let name = format!("{}/{}", item.head.id.value, outer.number.value);
            for own in outer.contains.iter().filter(|own| own.serial.value == *id) {
                steps.extend(own.from.iter().map(|date| step(Some(date), format!("put into {name}"))));
                steps.extend(own.to.iter().map(|date| step(Some(date), format!("taken out of {name}"))));
            }
        }
    }
    steps
}

/// Its records and the departures found on it.
fn papers(analysis: &Analysis, id: &SerialId) -> Vec<Step> {
    let model = &analysis.model;
    let on = model.records.iter().filter(|record| record.serials.iter().any(|own| own.value == *id));
    let mut steps: Vec<Step> = on
        .map(|record| {
            let head = &record.head;
            let text = format!("{} {}, {}: {}", record.method.word(), head.id.value, record.status.word(), head.title);
            step(record.date.as_ref(), text)
        })
        .collect();
    let name = id.to_string();
    for it in model.nonconformances.iter().filter(|it| it.against.iter().any(|target| target.value == name)) {
        let number = &it.head.id.value;
        steps.push(step(it.date.as_ref(), format!("nonconformance {number}: {}", it.head.title)));
        steps.extend(it.closed.iter().map(|date| step(Some(date), format!("{number} closed"))));
    }
    steps
}

/// The events that were held with it, or with what it was in.
fn events(analysis: &Analysis, id: &SerialId) -> Vec<Step> {
    let all = analysis.model.held.iter().zip(&analysis.graph.held_with);
    let with_it = all.filter(|(_, with)| with.touched.contains(id));
    let told = with_it.map(|(held, _)| {
        let event = held.event.as_ref().map_or("an event", |event| event.value.as_str());
        let outer: Vec<&SerialId> = match held.serials.iter().any(|own| own.value == *id) {
            true => Vec::new(),
            false => held.serials.iter().map(|own| &own.value).collect(),
        };
        let inside = if outer.is_empty() { String::new() } else { format!(", in {}", joined(outer)) };
        let text =
            format!("{event} held ({}), {}{inside}: {}", held.head.id.value, held.outcome_word(), held.head.title);
        step(held.date.as_ref(), text)
    });
    told.collect()
}

/// What was in it from each day on which that changed, at any depth.
fn as_built(view: &mut ShowView, analysis: &Analysis, id: &SerialId) {
    let mut days: Vec<&Moment> = changes(analysis, id);
    days.sort_by_key(|day| day.in_lists());
    days.dedup_by_key(|day| day.date);
    let list = |inside: BTreeSet<SerialId>| match inside.is_empty() {
        true => "nothing in it".to_string(),
        false => joined(inside.iter()),
    };
    let Some(first) = days.first() else {
        let inside: BTreeSet<SerialId> = analysis.graph.inside(id).cloned().collect();
        if !inside.is_empty() {
            view.say("as built", list(inside));
        }
        return;
    };
    let before = analysis.graph.inside_then(&analysis.model, id, Some(first));
    view.say("as built", format!("before {}: {}", first.date, list(before)));
    for (at, day) in days.iter().enumerate() {
        // On the day of the next change that change had not been made.
        let inside = match days.get(at + 1) {
            Some(next) => analysis.graph.inside_then(&analysis.model, id, Some(next)),
            None => analysis.graph.inside(id).cloned().collect(),
        };
        view.say("as built", format!("from {}: {}", day.date, list(inside)));
    }
}

/// The days on which something was put into a piece, or into what is or was in it, or taken out.
fn changes<'m>(analysis: &'m Analysis, id: &SerialId) -> Vec<&'m Moment> {
    let mut days = Vec::new();
    let mut seen = BTreeSet::new();
    let mut waiting = vec![id.clone()];
    while let Some(outer) = waiting.pop() {
        if !seen.insert(outer.clone()) {
            continue;
        }
        let Some((_, piece)) = analysis.model.serial(&outer) else { continue };
        for inner in &piece.contains {
            days.extend(inner.from.iter().chain(&inner.to).map(|day| &day.value));
            waiting.push(inner.serial.value.clone());
        }
    }
    days
}
