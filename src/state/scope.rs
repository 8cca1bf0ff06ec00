//! What an entry is about: items, and the pieces of them that are in scope.

use crate::graph;
use crate::model::kinds::{AppliesTo, Item, On, PlanEntry, Requirement, SerialUse, Stage};
use crate::model::{Id, Ref, SerialId};

use super::Facts;

/// One thing that a requirement applies to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Target<'m> {
    /// The project as a whole.
    Project,
    /// An item, by position.
    Item(usize),
    /// A slot for which no option is chosen.
    EmptySlot(&'m Id),
    /// A tag that no current item has.
    NoItem(&'m str),
    /// A name that resolves to nothing of the kind; a fault says so.
    Unknown(&'m Id),
    /// An empty list; a fault says so.
    Nothing,
}

/// What a requirement applies to, slots resolved to their current option.
pub fn targets<'m>(facts: &Facts<'m>, requirement: &'m Requirement) -> Vec<Target<'m>> {
    let mut targets = Vec::new();
    match &requirement.applies_to {
        AppliesTo::Project => targets.push(Target::Project),
        AppliesTo::Named(ids) => {
            for id in ids {
                match facts.model.find(&id.value) {
                    Some(Ref::Item(at)) => targets.push(Target::Item(at)),
                    Some(Ref::Slot(at)) => match facts.graph.options[at].first() {
                        Some(option) => targets.push(Target::Item(*option)),
                        None => targets.push(Target::EmptySlot(&id.value)),
                    },
                    _ => targets.push(Target::Unknown(&id.value)),
                }
            }
        }
        AppliesTo::Tag(tag) => {
            for id in graph::tagged(facts.model, &requirement.applies_to) {
                if let Some(Ref::Item(at)) = facts.model.find(id)
                    && !facts.graph.dropped[at]
                {
                    targets.push(Target::Item(at));
                }
            }
            if targets.is_empty() {
                targets.push(Target::NoItem(&tag.value));
            }
        }
    }
    if targets.is_empty() {
        targets.push(Target::Nothing);
    }
    let mut seen: Vec<Target<'m>> = Vec::new();
    targets.retain(|target| {
        let new = !seen.contains(target);
        if new {
            seen.push(target.clone());
        }
        new
    });
    targets
}

/// The event before which an entry is due: its own, else the requirement's, else the first.
pub fn event_of(facts: &Facts<'_>, requirement: &Requirement, entry: Option<&PlanEntry>) -> usize {
    let own = entry.and_then(|entry| entry.before.as_ref()).or(requirement.before.as_ref());
    own.and_then(|name| facts.model.config.event_index(&name.value)).unwrap_or(0)
}

/// The pieces of an item that an entry is about, in the order of the file.
///
/// Those that the event names, if it names any of this item; else by use. Never spare or scrapped ones.
pub fn serials(facts: &Facts<'_>, item: &Item, stage: Option<Stage>, event: usize) -> Vec<SerialId> {
    let all = item.serials.iter().map(|piece| (piece, item.serial_id(piece)));
    let usable = all.filter(|(piece, _)| !piece.scrapped && piece.purpose != SerialUse::Spare);
    let named: Vec<&SerialId> = match facts.model.config.events.get(event) {
        Some(event) => event
            .serials
            .iter()
            .map(|serial| &serial.value)
            .filter(|serial| serial.item == item.head.id.value)
            .collect(),
        None => Vec::new(),
    };
    let in_scope = usable.filter(|(piece, id)| {
        if !named.is_empty() {
            return named.contains(&id);
        }
        match stage {
            None | Some(Stage::Acceptance) => piece.purpose == SerialUse::Service,
            Some(Stage::Qualification | Stage::Development) => true,
        }
    });
    in_scope.map(|(_, id)| id).collect()
}

/// The pieces of an item that an entry is about, and on any of which it could be shown where one will do.
pub fn in_scope(facts: &Facts<'_>, item: &Item, entry: &PlanEntry, event: usize) -> Vec<SerialId> {
    match entry.on {
        On::One => choices(facts, item, entry.stage, event),
        On::Each | On::Design => serials(facts, item, entry.stage, event),
    }
}

/// The pieces of an item that an entry could be shown on, in the order in which one of them is chosen: where the stage has those that
/// are kept for qualification in scope, they come first, so that what is to serve is not used up for it, and whichever piece the event
/// uses; then in the order of the file.
pub fn choices(facts: &Facts<'_>, item: &Item, stage: Option<Stage>, event: usize) -> Vec<SerialId> {
    let by_use = serials(facts, item, stage, event);
    if !matches!(stage, Some(Stage::Qualification | Stage::Development)) {
        return by_use;
    }
    let kept = item.serials.iter().filter(|own| !own.scrapped && own.purpose == SerialUse::Qualification);
    let mut pieces: Vec<SerialId> = kept.map(|own| item.serial_id(own)).collect();
    let others: Vec<SerialId> = by_use.into_iter().filter(|piece| !pieces.contains(piece)).collect();
    pieces.extend(others);
    pieces
}
