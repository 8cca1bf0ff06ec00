//! Held events: what they did to the hardware, and what they let come after them, told otherwise than it was.
//!
//! No seal covers them, so that an edit shows here or nowhere.

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
    if let Some(was) = &old.event {
        let now = list.calendar().name_now(&was.value).unwrap_or(&was.value).to_string();
        if !new.is_of(&now) {
            let is = new.event.as_ref().map_or("no event", |event| event.value.as_str());
            list.say(id, format!("was {} that was held, and is {is} now", was.value));
        }
    }
    date(list, old, new);
    if let (Some(was), Some(Outcome::Completed)) = (&old.outcome, new.outcome.as_ref().map(|outcome| outcome.value))
        && was.value != Outcome::Completed
    {
        list.say(id, format!("completed instead of {}", was.value.word()));
    }
    for piece in old.serials.iter().filter(|piece| new.serials.iter().all(|other| other.value != piece.value)) {
        list.say(id, format!("no longer held with {}", piece.value));
    }
    if old.serials.is_empty() && !new.serials.is_empty() {
        list.say(id, "names pieces now: it was held with any");
    }
    amounts(list, id, "used", &old.uses, &new.uses);
}

/// An earlier day, or one of which that cannot be told, may leave standing what was made after the event that was told first.
fn date(list: &mut List<'_, '_>, old: &HeldEvent, new: &HeldEvent) {
    let (Some(was), Some(is)) = (&old.date, &new.date) else { return };
    if was.text == is.text || was.value.before(&is.value) {
        return;
    }
    let sure = if is.value.before(&was.value) { ", which is earlier" } else { "; which comes first cannot be told" };
    list.say(&old.head.id.value, format!("held on {} instead of {}{sure}", is.text, was.text));
}
