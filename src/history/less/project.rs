//! The project file: events, their order and pieces, the decision rule, the ambient pressure.

use crate::config::Event;
use crate::model::kinds::SerialUse;
use crate::quantity::{Quantity, Rule};
use crate::source::PROJECT_FILE;

use super::List;
use super::life::amounts;

/// Compares the project file.
pub(super) fn compare(list: &mut List<'_, '_>) {
    events(list);
    order(list);
    rule(list);
    let (old, new) = (&list.then.part.config.ambient, &list.now.config.ambient);
    let canonical = |ambient: &Option<Quantity>| ambient.as_ref().map(Quantity::canonical);
    if old.is_some() && canonical(old) != canonical(new) {
        let show = |ambient: &Option<Quantity>| ambient.as_ref().map_or("nothing".to_string(), Quantity::show);
        list.say(PROJECT_FILE, format!("ambient is {} instead of {}", show(new), show(old)));
    }
}

fn events(list: &mut List<'_, '_>) {
    let then = list.then;
    for old in &then.part.config.events {
        let name = &old.name.value;
        let place = list.calendar().name_now(name).and_then(|now| list.now.config.event_index(now));
        match place.map(|at| &list.now.config.events[at]) {
            None => list.say(name, "the event is no longer listed"),
            Some(new) => {
                pieces(list, old, new);
                // Without one, nothing lapses on the way to it.
                if let (Some(was), None) = (&old.date, &new.date) {
                    list.say(name, format!("has no date any more (was {})", was.text));
                }
                amounts(list, &new.name.value, "is to use", &old.uses, &new.uses);
            }
        }
    }
}

/// Events that come later than they did, seen from another that still is.
fn order(list: &mut List<'_, '_>) {
    let then = list.then;
    let now_at = |list: &List<'_, '_>, event: &Event| {
        let calendar = list.calendar();
        calendar.name_now(&event.name.value).and_then(|name| list.now.config.event_index(name))
    };
    let old = &then.part.config.events;
    for (at, event) in old.iter().enumerate() {
        let Some(place) = now_at(list, event) else { continue };
        let overtaken = old[at + 1..].iter().filter(|later| now_at(list, later).is_some_and(|other| other < place));
        let names: Vec<&str> = overtaken.map(|later| later.name.value.as_str()).collect();
        if !names.is_empty() {
            list.say(&event.name.value, format!("comes after {} now", names.join(" and ")));
        }
    }
}

/// Pieces that an event asked about, by name or by their use, and does not ask about any more.
fn pieces(list: &mut List<'_, '_>, old: &Event, new: &Event) {
    let name = &new.name.value;
    let names_item = |event: &Event, item: &str| event.serials.iter().any(|it| it.value.item.as_str() == item);
    let names_piece = |event: &Event, piece: &str| event.serials.iter().any(|it| it.value.to_string() == piece);
    let mut items: Vec<&str> = old.serials.iter().chain(&new.serials).map(|it| it.value.item.as_str()).collect();
    items.sort_unstable();
    items.dedup();
    let in_service = |item: &str| -> Vec<String> {
        let Some(item) = list.now.item(item) else { return Vec::new() };
        let pieces = item.serials.iter().filter(|it| it.purpose == SerialUse::Service && !it.scrapped);
        pieces.map(|it| format!("{}/{}", item.head.id.value, it.number.value)).collect()
    };
    let mut gone = Vec::new();
    for item in items {
        let asked = |event: &Event| -> Vec<String> {
            if names_item(event, item) {
                let named = event.serials.iter().filter(|it| it.value.item.as_str() == item);
                named.map(|it| it.value.to_string()).collect()
            } else {
                in_service(item)
            }
        };
        let now = asked(new);
        gone.extend(asked(old).into_iter().filter(|piece| !now.contains(piece)).map(|piece| {
            let named = names_piece(old, &piece);
            if named { format!("no longer names {piece}") } else { format!("names other pieces than {piece} now") }
        }));
    }
    for text in gone {
        list.say(name, text);
    }
}

fn rule(list: &mut List<'_, '_>) {
    let (old, new) = (&list.then.part.config, &list.now.config);
    let strict = |rule: &Rule| match rule {
        Rule::Guarded => 2,
        Rule::Probability(_) => 1,
        Rule::Simple => 0,
    };
    let word = |rule: &Rule| match rule {
        Rule::Guarded => "guarded",
        Rule::Probability(_) => "probability",
        Rule::Simple => "simple",
    };
    if strict(&new.rule) < strict(&old.rule) {
        list.say(PROJECT_FILE, format!("the decision rule is {} instead of {}", word(&new.rule), word(&old.rule)));
    } else if let (Rule::Probability(new), Rule::Probability(old)) = (&new.rule, &old.rule)
        && new < old
    {
        list.say(PROJECT_FILE, "the probability that the decision rule asks for is lower");
    }
}
