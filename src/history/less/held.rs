//! Held events: what they did to the hardware, and what they let come after them, told otherwise than it was.
//!
//! No seal covers them, so that an edit shows here or nowhere.

use crate::history::compare::calendar::Calendar;
use crate::history::past::Family;
use crate::model::kinds::{HeldEvent, Outcome};

use super::List;
use super::life::amounts;

/// Compares every held event that differs.
pub(super) fn compare(list: &mut List<'_, '_>) {
    let then = list.then;
    for old in &then.part.held {
        let id = &old.head.id.value;
        match list.now.held_event(id) {
            None => {
                let by = list.why_gone(id, Family::Held);
                list.say(id, format!("the held event is gone: {by}"));
            }
            Some(new) => one(list, old, new),
        }
    }
}

fn one(list: &mut List<'_, '_>, old: &HeldEvent, new: &HeldEvent) {
    let id = &old.head.id.value;
    for text in told_of(old, new, list.calendar()) {
        list.say(id, text);
    }
    amounts(list, id, "used", &old.uses, &new.uses);
}

/// What a held event does not tell any more of which event it was, when, how it ended and with which pieces.
pub(in crate::history) fn told_of(old: &HeldEvent, new: &HeldEvent, calendar: Calendar<'_>) -> Vec<String> {
    let mut said = Vec::new();
    if let Some(was) = &old.event {
        let now = calendar.name_now(&was.value).unwrap_or(&was.value).to_string();
        if !new.is_of(&now) {
            let is = new.event.as_ref().map_or("no event", |event| event.value.as_str());
            said.push(format!("was {} that was held, and is {is} now", was.value));
        }
    }
    said.extend(date(old, new));
    if let (Some(was), Some(Outcome::Completed)) = (&old.outcome, new.outcome.as_ref().map(|outcome| outcome.value))
        && was.value != Outcome::Completed
    {
        said.push(format!("completed instead of {}", was.value.word()));
    }
    for piece in old.serials.iter().filter(|piece| new.serials.iter().all(|other| other.value != piece.value)) {
        said.push(format!("no longer held with {}", piece.value));
    }
    if old.serials.is_empty() && !new.serials.is_empty() {
        said.push("names pieces now: it was held with any".into());
    }
    said
}

/// An earlier day, or one of which that cannot be told, may leave standing what was made after the event that was told first.
fn date(old: &HeldEvent, new: &HeldEvent) -> Option<String> {
    let (was, is) = (old.date.as_ref()?, new.date.as_ref()?);
    if was.text == is.text || was.value.before(&is.value) {
        return None;
    }
    let sure = if is.value.before(&was.value) { ", which is earlier" } else { "; which comes first cannot be told" };
    Some(format!("held on {} instead of {}{sure}", is.text, was.text))
}
