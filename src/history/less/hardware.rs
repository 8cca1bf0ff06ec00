//! Items, their pieces, and which option fills a slot.

use std::collections::BTreeSet;

use crate::graph;
use crate::model::kinds::{Item, ItemStatus, Serial, SerialUse, is_earlier_revision};
use crate::model::{Id, SerialId};
use crate::parse::Moment;
use crate::text::Spanned;

use super::{List, life};

/// Compares every item that differs, and the slots that they fill.
pub(super) fn compare(list: &mut List<'_, '_>) {
    let then = list.then;
    for old in &then.part.items {
        let id = &old.head.id.value;
        let Some(new) = list.now.item(id) else {
            list.say(id, format!("the item is gone{}", list.decided(id)));
            continue;
        };
        status(list, old, new);
        tags(list, old, new);
        serials(list, old, new);
        let id = &old.head.id.value;
        for text in revisions(old, new).into_iter().chain(revision_back((old, &old.revision), (new, &new.revision))) {
            list.say(id, text);
        }
        life::budgets(list, old, new);
    }
    dropped_with(list);
    slots(list);
}

fn status(list: &mut List<'_, '_>, old: &Item, new: &Item) {
    let id = &old.head.id.value;
    if old.status == ItemStatus::Current && new.status != ItemStatus::Current {
        list.say(id, format!("{} instead of current{}", new.status.word(), list.decided(id)));
    }
}

/// Items that sit in something dropped and did not: they are asked nothing by their tags any more, and what stands against
/// them does not count.
fn dropped_with(list: &mut List<'_, '_>) {
    let (then, now) = (list.then, list.now);
    let dropped = |id: &Id| graph::is_dropped(id, |id| graph::above(now, id)).0;
    let was_dropped = |id: &Id| graph::is_dropped(id, |id| then.above(id)).0;
    for id in then.items().map(|item| &item.head.id.value) {
        let Some(item) = now.item(id).filter(|item| item.status != ItemStatus::Dropped) else { continue };
        if dropped(id) && !was_dropped(id) {
            let into = item.assembly.as_ref().or(item.fills.as_ref()).map_or("something", |above| above.as_str());
            list.say(id, format!("sits in {into}, which is dropped or sits in what is{}", list.decided(id)));
        }
    }
}

fn tags(list: &mut List<'_, '_>, old: &Item, new: &Item) {
    for tag in old.tags.iter().filter(|tag| new.tags.iter().all(|other| other.value != tag.value)) {
        list.say(&old.head.id.value, format!("no longer tagged {}", tag.value));
    }
}

/// Which option fills each slot that an item which differs could fill, then or now.
fn slots(list: &mut List<'_, '_>) {
    let then = list.then;
    let fills = |item: &Item| item.fills.as_ref().map(|slot| slot.value.clone());
    let ids = then.part.items.iter().map(|item| &item.head.id.value);
    let slots: BTreeSet<Id> = then.part.items.iter().filter_map(fills).collect();
    let now = ids.filter_map(|id| list.now.item(id)).filter_map(fills);
    let slots: BTreeSet<Id> = slots.into_iter().chain(now).collect();
    for slot in slots {
        let option = |item: &&Item| item.status == ItemStatus::Current && fills(item).as_ref() == Some(&slot);
        let was: Vec<&Id> = then.items().filter(option).map(|item| &item.head.id.value).collect();
        let is: Vec<&Id> = list.now.items.iter().filter(option).map(|item| &item.head.id.value).collect();
        let (Some(was), true) = (was.first(), was != is) else { continue };
        let is = is.first().map_or("no option", |id| id.as_str()).to_string();
        list.say(&slot, format!("filled by {is} instead of {was}{}", list.decided(was)));
    }
}

fn serials(list: &mut List<'_, '_>, old: &Item, new: &Item) {
    for piece in &old.serials {
        let name = format!("{}/{}", old.head.id.value, piece.number.value);
        match new.serials.iter().find(|other| other.number.value == piece.number.value) {
            None => list.say(&name, "the piece is no longer listed"),
            Some(other) => {
                one_serial(list, &name, piece, other);
                for text in of_piece((old, piece), (new, other)) {
                    list.say(&name, text);
                }
                life::piece(list, &name, old, piece, other);
            }
        }
    }
}

fn one_serial(list: &mut List<'_, '_>, name: &str, old: &Serial, new: &Serial) {
    if new.scrapped && !old.scrapped {
        list.say(name, "scrapped");
    }
    let reach = |purpose: SerialUse| match purpose {
        SerialUse::Service => 2,
        SerialUse::Qualification => 1,
        SerialUse::Spare => 0,
    };
    if reach(new.purpose) < reach(old.purpose) {
        list.say(name, format!("{} instead of {} use", new.purpose.word(), old.purpose.word()));
    }
    contents(list, name, old, new);
}

/// What an item and its pieces went through and is not listed any more, each with the item or the piece.
pub(in crate::history) fn facts(old: &Item, new: &Item) -> Vec<(String, String)> {
    let id = &old.head.id.value;
    let own = revisions(old, new).into_iter().chain(revision_back((old, &old.revision), (new, &new.revision)));
    let mut found: Vec<(String, String)> = own.map(|text| (id.to_string(), text)).collect();
    for piece in &old.serials {
        let name = format!("{id}/{}", piece.number.value);
        let Some(other) = new.serials.iter().find(|other| other.number.value == piece.number.value) else { continue };
        let mut said = of_piece((old, piece), (new, other));
        said.extend(life::less_used("had used", &piece.used, &other.used));
        said.extend(swapped(piece, other));
        found.extend(said.into_iter().map(|text| (name.clone(), text)));
    }
    found
}

/// What a piece went through and is not listed any more.
fn of_piece((was_in, old): (&Item, &Serial), (is_in, new): (&Item, &Serial)) -> Vec<String> {
    let mut said = undone(old, new);
    if old.scrapped && !new.scrapped {
        said.push("no longer scrapped: what was found on it counts again".into());
    }
    // A piece without a revision of its own has its item's.
    let own = |serial: &Serial, item: &Item| serial.revision.clone().or(item.revision.clone());
    if old.revision.is_some() || new.revision.is_some() {
        said.extend(revision_back((was_in, &own(old, was_in)), (is_in, &own(new, is_in))));
    }
    said
}

/// What was in a piece and is not listed any more, so that it seems never to have been there.
fn swapped(old: &Serial, new: &Serial) -> Vec<String> {
    let listed = |inner: &SerialId| new.contains.iter().any(|other| other.serial.value == *inner);
    let gone = old.contains.iter().map(|part| &part.serial.value).filter(|inner| !listed(inner));
    gone.map(|inner| format!("{inner} is no longer listed as what was in it")).collect()
}

/// Work on a piece that is not listed any more or touches less.
fn undone(old: &Serial, new: &Serial) -> Vec<String> {
    let mut said = Vec::new();
    for work in &old.reworked {
        let day = work.date.as_ref().map(|date| date.text.clone());
        let same = |other: &&crate::model::kinds::Rework| other.date.as_ref().map(|date| date.text.clone()) == day;
        let day = day.clone().unwrap_or_else(|| "no date".into());
        let others: Vec<_> = new.reworked.iter().filter(same).collect();
        if others.is_empty() {
            said.push(format!("the rework of {day} is no longer listed"));
        } else if !others.iter().any(|other| affects_as_much(work.affects.as_deref(), other.affects.as_deref())) {
            said.push(format!("the rework of {day} affects less than it did"));
        }
    }
    said
}

/// What was in a piece and is not listed any more, or with other days, or keeps more of the evidence.
fn contents(list: &mut List<'_, '_>, name: &str, old: &Serial, new: &Serial) {
    let day = |day: &Option<Spanned<Moment>>| day.as_ref().map(|day| day.text.clone());
    for part in &old.contains {
        let inner = &part.serial.value;
        let others: Vec<_> = new.contains.iter().filter(|other| other.serial.value == *inner).collect();
        if part.is_in() && !others.iter().any(|other| other.is_in()) {
            list.say(name, format!("no longer contains {inner}"));
        }
        let same = others.iter().filter(|other| day(&other.from) == day(&part.from));
        let same: Vec<_> = same.filter(|other| part.is_in() || day(&other.to) == day(&part.to)).collect();
        if same.is_empty() && (part.from.is_some() || part.to.is_some()) {
            list.say(name, format!("{inner} is no longer listed as put in or taken out on the days that were given"));
        } else if !same.is_empty()
            && same.iter().all(|other| other.keeps_evidence.keeps_more_than(&part.keeps_evidence))
        {
            list.say(name, format!("the coming and going of {inner} keep more of the earlier evidence than they did"));
        }
    }
}

/// Whether what was affected still is; none means all.
fn affects_as_much(old: Option<&[Spanned<Id>]>, new: Option<&[Spanned<Id>]>) -> bool {
    match (old, new) {
        (_, None) => true,
        (None, Some(_)) => false,
        (Some(old), Some(new)) => old.iter().all(|id| new.iter().any(|other| other.value == id.value)),
    }
}

/// A revision that is the one of before again: what was found on it counts once more.
fn revision_back(
    (was_in, was): (&Item, &Option<Spanned<String>>),
    (is_in, is): (&Item, &Option<Spanned<String>>),
) -> Option<String> {
    let was = was.as_ref()?;
    let Some(is) = is else { return Some(format!("has no revision any more (was {})", was.value)) };
    let (was, is) = (was.value.as_str(), is.value.as_str());
    if was == is {
        return None;
    }
    let place = |item: &Item, of: &str| item.revisions.iter().position(|step| step.revision.value == of);
    let (earlier, later) = (is_earlier_revision(is, was), is_earlier_revision(was, is));
    let back = match (place(is_in, is), place(is_in, was)) {
        (Some(is), Some(was)) => is < was,
        // A step that is listed as it is made leads on. One that had been listed may have been there before.
        (Some(_), None) => earlier || (!later && place(was_in, is).is_some()),
        (None, Some(_)) => earlier || !later,
        (None, None) => earlier,
    };
    let sure = if earlier || place(is_in, is).is_some() && place(is_in, was).is_some() {
        ", which is earlier: what was found on it counts again"
    } else {
        "; which comes first cannot be told: what was found on it may count again"
    };
    back.then(|| format!("revision {is} instead of {was}{sure}"))
}

/// Revisions that voided earlier evidence and void less of it now.
fn revisions(old: &Item, new: &Item) -> Vec<String> {
    let mut said = Vec::new();
    for step in &old.revisions {
        let name = &step.revision.value;
        match new.revisions.iter().find(|other| other.revision.value == *name) {
            None => said.push(format!("revision {name} is no longer listed")),
            Some(other) if other.keeps_evidence.keeps_more_than(&step.keeps_evidence) => {
                said.push(format!("revision {name} keeps more of the earlier evidence than it did"));
            }
            Some(_) => {}
        }
    }
    said
}
