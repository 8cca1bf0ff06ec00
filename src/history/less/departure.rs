//! Nonconformances and waivers: departures that reach less far, permissions that reach further.

use crate::history::compare::calendar::{Calendar, Shift, first};
use crate::history::past::Family;
use crate::model::Id;
use crate::model::kinds::{Disposition, Limit, Nonconformance, NonconformanceStatus, Relief, Waiver, WaiverStatus};
use crate::quantity::Quantity;
use crate::text::Spanned;

use super::List;

/// Compares every nonconformance that differs.
pub(super) fn nonconformances(list: &mut List<'_, '_>) {
    let then = list.then;
    for old in &then.part.nonconformances {
        let id = &old.head.id.value;
        match list.now.nonconformance(id) {
            None => {
                let open = if old.status == NonconformanceStatus::Closed { "closed" } else { "open" };
                let by = list.why_gone(id, Family::Nonconformance);
                list.say(id, format!("the {open} nonconformance is gone: {by}"));
            }
            Some(new) => nonconformance(list, old, new),
        }
    }
}

/// In what a nonconformance reaches less far: when it is due, what it is against, what it concerns.
pub(in crate::history) fn reach(old: &Nonconformance, new: &Nonconformance, calendar: Calendar<'_>) -> Vec<String> {
    let mut said = Vec::new();
    let due = |it: &Nonconformance, config| {
        it.before.as_ref().map_or_else(|| first(config).to_string(), |event| event.value.clone())
    };
    let (was, is) = (due(old, calendar.then), due(new, calendar.now));
    if let shift @ (Shift::Later | Shift::Unknown) = calendar.shift(&was, &is) {
        let sure = if shift == Shift::Later { ", which is later" } else { "; which comes first cannot be told" };
        said.push(format!("due before {is} instead of {was}{sure}"));
    }
    for target in old.against.iter().filter(|target| new.against.iter().all(|other| other.value != target.value)) {
        said.push(format!("no longer against {}", target.value));
    }
    match (&old.requirements, &new.requirements) {
        (None, Some(_)) => said.push("concerns only some requirements, no longer all".into()),
        (Some(old), Some(new)) => {
            for gone in old.iter().filter(|it| new.iter().all(|other| other.value != it.value)) {
                said.push(format!("no longer concerns {}", gone.value));
            }
        }
        (_, None) => {}
    }
    said
}

fn nonconformance(list: &mut List<'_, '_>, old: &Nonconformance, new: &Nonconformance) {
    let id = &old.head.id.value;
    for text in reach(old, new, list.calendar()) {
        list.say(id, text);
    }
    let undoes = |it: &Nonconformance| {
        let disposition = it.disposition.as_ref().map(|own| own.value);
        matches!(disposition, Some(Disposition::Rework | Disposition::Repair))
    };
    if let (Some(was), true, false) = (&old.disposition, undoes(old), undoes(new)) {
        let is = new.disposition.as_ref().map_or("nothing", |own| own.value.word());
        list.say(id, format!("disposed of by {is} instead of {}: earlier evidence is void no more", was.value.word()));
    }
    if let (true, Some(was), Some(is)) = (undoes(old), &old.closed, &new.closed)
        && is.value.before(&was.value)
    {
        list.say(id, format!("closed on {} instead of {}, which is earlier", is.text, was.text));
    }
    if new.voids_nothing.is_some() && old.voids_nothing.is_none() {
        list.say(id, "voids no evidence now");
    }
}

/// Compares every approved waiver that differs; new ones are listed beside every answer.
pub(super) fn waivers(list: &mut List<'_, '_>) {
    let then = list.then;
    for old in then.part.waivers.iter().filter(|it| it.status == WaiverStatus::Approved) {
        let id = &old.head.id.value;
        let new = list.now.waivers.iter().find(|it| it.head.id.value == *id && it.status == WaiverStatus::Approved);
        if let Some(new) = new {
            for text in waiver(old, new, list.calendar(), list.now.config.ambient.as_ref()) {
                list.say(id, text);
            }
        }
    }
}

fn waiver(old: &Waiver, new: &Waiver, calendar: Calendar<'_>, ambient: Option<&Quantity>) -> Vec<String> {
    let mut found = scope(old, new);
    for (name, relief) in &new.accepts {
        match old.accepts.iter().find(|(other, _)| other.value == name.value) {
            None => found.push(format!("accepts {} too", name.value)),
            Some((_, before)) if widened(before, relief, ambient) => {
                found.push(format!("accepts more of {}", name.value));
            }
            Some(_) => {}
        }
    }
    match (&old.expires, &new.expires) {
        (Some(was), None) => found.push(format!("no longer expires (was {})", was.text)),
        (Some(was), Some(is)) if was.value.before(&is.value) => {
            found.push(format!("expires {} instead of {}, which is later", is.text, was.text));
        }
        _ => {}
    }
    match (&old.before, &new.before) {
        (Some(was), None) => found.push(format!("no longer ends at an event (was {})", was.value)),
        (Some(was), Some(is)) if matches!(calendar.shift(&was.value, &is.value), Shift::Later | Shift::Unknown) => {
            found.push(format!("holds up to {} instead of {}", is.value, was.value));
        }
        _ => {}
    }
    if new.without_evidence.is_some() && old.without_evidence.is_none() {
        found.push("covers what no evidence shows, too".into());
    }
    if old.conditions != new.conditions {
        found.push("its conditions are worded otherwise".into());
    }
    found
}

fn scope(old: &Waiver, new: &Waiver) -> Vec<String> {
    let mut found = Vec::new();
    let name = |id: &Option<Spanned<Id>>| id.as_ref().map(|id| id.value.clone());
    let (was, is) = (name(&old.requirement), name(&new.requirement));
    if was != is {
        let word = |id: Option<Id>| id.map_or_else(|| "nothing".to_string(), |id| id.to_string());
        found.push(format!("is for {} instead of {}", word(is), word(was)));
    }
    for serial in new.serials.iter().filter(|it| old.serials.iter().all(|other| other.value != it.value)) {
        // A piece of the item that it covered as a whole is no more than that.
        if name(&old.item).as_ref() != Some(&serial.value.item) {
            found.push(format!("covers {} too", serial.value));
        }
    }
    match (name(&old.item), name(&new.item)) {
        (was, Some(is)) if was.as_ref() != Some(&is) => found.push(format!("covers all of {is}")),
        (Some(_), None) if new.serials.is_empty() => found.push("covers the project".into()),
        (None, None) if new.serials.is_empty() && !old.serials.is_empty() => found.push("covers the project".into()),
        _ => {}
    }
    found
}

/// Whether a relief accepts what it did not.
pub(in crate::history) fn widened(old: &Relief, new: &Relief, ambient: Option<&Quantity>) -> bool {
    match (old, new) {
        (Relief::Records(old), Relief::Records(new)) => {
            new.iter().any(|id| old.iter().all(|other| other.value != id.value))
        }
        (Relief::Limits { min, max }, Relief::Limits { min: new_min, max: new_max }) => {
            is_wider(min.as_ref(), new_min.as_ref(), true, ambient)
                || is_wider(max.as_ref(), new_max.as_ref(), false, ambient)
        }
        _ => true,
    }
}

/// Whether a bound lies further out, or may.
fn is_wider(old: Option<&Limit>, new: Option<&Limit>, lower: bool, ambient: Option<&Quantity>) -> bool {
    let (old, new) = match (old, new) {
        (None, _) => return false,
        (Some(_), None) => return true,
        (Some(old), Some(new)) => (old, new),
    };
    match (old.quantity(), new.quantity()) {
        (Some(old), Some(new)) => match new.compare(old, ambient) {
            Ok(order) => {
                if lower {
                    order.is_lt()
                } else {
                    order.is_gt()
                }
            }
            Err(_) => true,
        },
        (None, Some(_)) => true,
        _ => false,
    }
}
