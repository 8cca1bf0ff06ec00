//! Items, pieces and slots.

use crate::analysis::Analysis;
use crate::model::kinds::{AppliesTo, Item, Record, Serial};
use crate::model::{Id, SerialId};
use crate::state::Subject;

use super::evidence::short;
use super::planning::held_note;
use super::{ShowView, joined, life};
use crate::report::view::lives;

pub(super) fn item(mut view: ShowView, analysis: &Analysis, at: usize) -> ShowView {
    let model = &analysis.model;
    let it = &model.items[at];
    let id = it.head.id.value.clone();
    view.say("status", it.status.word());
    if analysis.graph.dropped[at] && it.status.word() != "dropped" {
        view.say("dropped", "it sits in something that was dropped");
    }
    view.say_some("revision", it.revision.as_ref().map(|revision| &revision.value));
    for revision in &it.revisions {
        let keeps = revision.keeps_evidence.says();
        let date = revision.date.as_ref().map(|date| format!(", {}", date.text)).unwrap_or_default();
        let reason = revision.reason.as_ref().map(|reason| format!(": {reason}")).unwrap_or_default();
        view.say("history", format!("{}{date}, {keeps}{reason}", revision.revision.value));
    }
    view.say("tags", joined(it.tags.iter().map(|tag| &tag.value)));
    view.say("hazards", joined(it.hazards.iter().map(|hazard| &hazard.value)));
    for budget in &it.life {
        let limit = budget.limit.as_ref().map_or("no limit", |limit| &limit.value.text);
        let note = budget.note.as_ref().map(|note| format!(": {note}")).unwrap_or_default();
        view.say("limited life", format!("{} {limit}, counted by {}{note}", budget.name.value, budget.counted.word()));
    }
    view.limited_life = lives(analysis, |piece| piece.item == id);
    if let Some(above) = &it.assembly {
        view.link(analysis, "in", &above.value, "");
    }
    if let Some(slot) = &it.fills {
        view.link(analysis, "fills", &slot.value, it.status.word());
    }
    inside(&mut view, analysis, &id);
    for piece in &it.serials {
        let serial = SerialId { item: id.clone(), number: piece.number.value.clone() };
        view.piece(analysis, "pieces", &serial);
        if let Some(last) = view.links.last_mut() {
            last.note = piece_note(piece);
        }
    }
    asked_of(&mut view, analysis, it);
    evidence(&mut view, analysis, |record| {
        record.item.as_ref().is_some_and(|own| own.value == id)
            || record.serials.iter().any(|serial| serial.value.item == id)
    });
    held_events(&mut view, analysis, |piece| piece.item == id);
    departures(&mut view, analysis, |against| {
        against == id.as_str() || SerialId::parse(against).is_some_and(|serial| serial.item == id)
    });
    view.add_rows(analysis, |row| match &row.subject {
        Subject::Item(own) => *own == id,
        Subject::Serial(serial) => serial.item == id,
        Subject::Project => false,
    });
    view
}

fn piece_note(piece: &Serial) -> String {
    let mut parts = vec![piece.purpose.word().to_string()];
    if piece.scrapped {
        parts.push("scrapped".into());
    }
    parts.extend(piece.revision.as_ref().map(|revision| format!("revision {}", revision.value)));
    parts.extend(piece.built.as_ref().map(|date| format!("built {}", date.text)));
    if !piece.reworked.is_empty() {
        parts.push(format!(
            "reworked {}",
            joined(piece.reworked.iter().filter_map(|one| one.date.as_ref()).map(|date| &date.text))
        ));
    }
    parts.join(", ")
}

/// Items and slots whose next higher thing this is, and options of a slot.
fn inside(view: &mut ShowView, analysis: &Analysis, id: &Id) {
    let model = &analysis.model;
    for item in &model.items {
        if item.assembly.as_ref().is_some_and(|above| above.value == *id) {
            view.link(analysis, "holds", &item.head.id.value, item.status.word());
        }
    }
    for slot in &model.slots {
        if slot.assembly.as_ref().is_some_and(|above| above.value == *id) {
            view.link(analysis, "holds", &slot.head.id.value, "");
        }
    }
}

/// Requirements that apply to an item, by name, through its slot, or by a tag.
fn asked_of(view: &mut ShowView, analysis: &Analysis, item: &Item) {
    for requirement in &analysis.model.requirements {
        let note = match &requirement.applies_to {
            AppliesTo::Named(ids) if ids.iter().any(|id| id.value == item.head.id.value) => String::new(),
            AppliesTo::Named(ids) => {
                let slot = item.fills.as_ref().filter(|slot| ids.iter().any(|id| id.value == slot.value));
                let Some(slot) = slot else { continue };
                format!("through slot {}", slot.value)
            }
            AppliesTo::Tag(tag) if item.tags.iter().any(|own| own.value == tag.value) => {
                format!("by tag {}", tag.value)
            }
            _ => continue,
        };
        view.link(analysis, "requirements", &requirement.head.id.value, note);
    }
}

fn evidence(view: &mut ShowView, analysis: &Analysis, wanted: impl Fn(&Record) -> bool) {
    for record in analysis.model.records.iter().filter(|record| wanted(record)) {
        view.link(analysis, "records", &record.head.id.value, short(analysis, record));
    }
}

/// The events that were held with pieces, or with what they were in.
fn held_events(view: &mut ShowView, analysis: &Analysis, concerned: impl Fn(&SerialId) -> bool) {
    for (held, with) in analysis.model.held.iter().zip(&analysis.graph.held_with) {
        if with.touched.iter().any(&concerned) {
            view.link(analysis, "held events", &held.head.id.value, held_note(held));
        }
    }
}

fn departures(view: &mut ShowView, analysis: &Analysis, concerned: impl Fn(&str) -> bool) {
    for it in &analysis.model.nonconformances {
        if it.against.iter().any(|target| concerned(&target.value)) {
            view.link(analysis, "nonconformances", &it.head.id.value, it.status.word());
        }
    }
    for it in &analysis.model.waivers {
        let item = it.item.as_ref().is_some_and(|item| concerned(&item.value));
        if item || it.serials.iter().any(|serial| concerned(&serial.value.to_string())) {
            view.link(analysis, "waivers", &it.head.id.value, it.status.word());
        }
    }
}

pub(super) fn serial(analysis: &Analysis, id: &SerialId) -> Option<ShowView> {
    let (item, piece) = analysis.model.serial(id)?;
    let title = format!("{}, {}", item.head.title, piece.number.value);
    let mut view = ShowView::bare(analysis, "serial", id.to_string(), title);
    view.path = Some(analysis.path(item.head.file).to_string());
    view.line = Some(analysis.sources.locate(piece.number.span).line);
    view.say("use", piece.purpose.word());
    view.say("status", if analysis.graph.scrapped.contains(id) { "scrapped" } else { "in use" });
    view.say_some("revision", piece.revision.as_ref().or(item.revision.as_ref()).map(|revision| &revision.value));
    life::tell(&mut view, analysis, id, piece);
    let inside: Vec<&SerialId> = analysis.graph.inside(id).collect();
    view.limited_life = lives(analysis, |own| own == id || inside.contains(&own));
    view.link(analysis, "piece of", &id.item, "");
    for inner in piece.contains.iter().filter(|inner| inner.is_in()) {
        view.piece(analysis, "contains", &inner.serial.value);
    }
    for (outer, inner) in &analysis.graph.contained {
        if inner.contains(id) {
            view.piece(analysis, "contained in", outer);
        }
    }
    for event in analysis.model.config.events.iter().filter(|event| event.serials.iter().any(|own| own.value == *id)) {
        view.say("event", event.name.value.clone());
    }
    evidence(&mut view, analysis, |record| record.serials.iter().any(|own| own.value == *id));
    held_events(&mut view, analysis, |piece| piece == id);
    let name = id.to_string();
    departures(&mut view, analysis, |against| against == name);
    view.add_rows(analysis, |row| row.subject == Subject::Serial(id.clone()));
    Some(view)
}

pub(super) fn slot(mut view: ShowView, analysis: &Analysis, at: usize) -> ShowView {
    let model = &analysis.model;
    let it = &model.slots[at];
    let id = &it.head.id.value;
    let current = &analysis.graph.options[at];
    view.say(
        "current",
        match current.as_slice() {
            [] => "no option is chosen".to_string(),
            options => joined(options.iter().map(|option| &model.items[*option].head.id.value)),
        },
    );
    if let Some(above) = &it.assembly {
        view.link(analysis, "in", &above.value, "");
    }
    for item in model.items.iter().filter(|item| item.fills.as_ref().is_some_and(|slot| slot.value == *id)) {
        view.link(analysis, "options", &item.head.id.value, item.status.word());
    }
    inside(&mut view, analysis, id);
    for requirement in &model.requirements {
        if matches!(&requirement.applies_to, AppliesTo::Named(ids) if ids.iter().any(|own| own.value == *id)) {
            view.link(analysis, "requirements", &requirement.head.id.value, "");
        }
    }
    for decision in &model.decisions {
        for (verb, ids) in [("selects", &decision.selects), ("drops", &decision.drops)] {
            for option in ids.iter().filter(|option| {
                model.item(&option.value).is_some_and(|item| item.fills.as_ref().is_some_and(|slot| slot.value == *id))
            }) {
                view.link(analysis, "decisions", &decision.head.id.value, format!("{verb} {}", option.value));
            }
        }
    }
    view
}
