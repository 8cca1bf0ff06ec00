//! The project as typed things that refer to one another.
//!
//! In: the texts of a snapshot. Out: a [`Model`]: everything by id, limits worked out, marks computed. Names that do not
//! resolve become findings here; what hangs from what is the graph's business, what is open the state's.

pub mod kinds;
pub mod link;
pub mod load;
pub mod mark;
pub mod seal;
#[cfg(test)]
mod tests;

use std::collections::BTreeMap;
use std::sync::Arc;

pub use crate::id::{Id, SerialId};

use foldhash::{HashMap, HashMapExt};
use rayon::prelude::*;

use crate::config::{Config, Instrument, Parameter};
use crate::text::FileId;
use kinds::{
    Criterion, Decision, Entity, Head, HeldEvent, Item, Nonconformance, Procedure, Record, Requirement, Serial, Slot,
    Waiver,
};

/// Everything in a project.
#[derive(Clone, Debug)]
pub struct Model {
    /// `slipmark.toml`.
    pub config: Config,
    /// `parameters.toml`, by name.
    pub parameters: BTreeMap<String, Parameter>,
    /// `instruments.toml`, by id.
    pub instruments: BTreeMap<Id, Instrument>,
    /// Requirements, by id; so are the rest. They and the records are many and large: shared, a list moves and a model is
    /// copied without touching them.
    pub requirements: Vec<Arc<Requirement>>,
    /// Evidence.
    pub records: Vec<Arc<Record>>,
    /// The product tree's nodes.
    pub items: Vec<Item>,
    /// Places that options could fill.
    pub slots: Vec<Slot>,
    /// Procedures.
    pub procedures: Vec<Procedure>,
    /// Decisions.
    pub decisions: Vec<Decision>,
    /// Nonconformances.
    pub nonconformances: Vec<Nonconformance>,
    /// Waivers.
    pub waivers: Vec<Waiver>,
    /// Held events.
    pub held: Vec<HeldEvent>,
    /// Where each id stands.
    index: HashMap<Id, Ref>,
    /// The ids in order.
    ids: Vec<Id>,
}

/// Where in the model an id stands: its kind, and the position in that kind's list.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Ref {
    /// A requirement.
    Requirement(usize),
    /// A record.
    Record(usize),
    /// An item.
    Item(usize),
    /// A slot.
    Slot(usize),
    /// A procedure.
    Procedure(usize),
    /// A decision.
    Decision(usize),
    /// A nonconformance.
    Nonconformance(usize),
    /// A waiver.
    Waiver(usize),
    /// A held event.
    Held(usize),
}

impl Model {
    /// Sorts entities into their lists and indexes them; of two with one id the first in file order is kept.
    pub fn new(
        config: Config,
        parameters: BTreeMap<String, Parameter>,
        instruments: BTreeMap<Id, Instrument>,
        mut entities: Vec<Entity>,
    ) -> Model {
        fn key(entity: &Entity) -> (&Id, FileId) {
            (&entity.head().id.value, entity.head().file)
        }
        // What each entity says lies far from the others: it is looked at on every thread, and the rest is moving places about.
        entities.par_sort_by(|a, b| key(a).cmp(&key(b)));
        let same = |one: &Entity, other: &Entity| one.head().id.value == other.head().id.value;
        if entities.par_windows(2).any(|pair| same(&pair[0], &pair[1])) {
            entities.dedup_by(|later, kept| same(later, kept));
        }
        let ids: Vec<Id> = entities.par_iter().with_min_len(256).map(|entity| entity.head().id.value.clone()).collect();
        let count = |wanted: fn(&Entity) -> bool| entities.iter().filter(|entity| wanted(entity)).count();
        let mut model = Model {
            config,
            parameters,
            instruments,
            requirements: Vec::with_capacity(count(|entity| matches!(entity, Entity::Requirement(_)))),
            records: Vec::with_capacity(count(|entity| matches!(entity, Entity::Record(_)))),
            items: Vec::new(),
            slots: Vec::new(),
            procedures: Vec::new(),
            decisions: Vec::new(),
            nonconformances: Vec::new(),
            waivers: Vec::new(),
            held: Vec::new(),
            index: HashMap::with_capacity(entities.len()),
            ids: Vec::new(),
        };
        for (id, entity) in ids.iter().zip(entities) {
            let place = model.add(entity);
            model.index.insert(id.clone(), place);
        }
        Model { ids, ..model }
    }

    /// Adds an entity to the list of its kind; where it stands.
    fn add(&mut self, entity: Entity) -> Ref {
        fn push<T>(list: &mut Vec<T>, thing: T) -> usize {
            list.push(thing);
            list.len() - 1
        }
        match entity {
            Entity::Requirement(it) => Ref::Requirement(push(&mut self.requirements, it)),
            Entity::Record(it) => Ref::Record(push(&mut self.records, it)),
            Entity::Item(it) => Ref::Item(push(&mut self.items, *it)),
            Entity::Slot(it) => Ref::Slot(push(&mut self.slots, *it)),
            Entity::Procedure(it) => Ref::Procedure(push(&mut self.procedures, *it)),
            Entity::Decision(it) => Ref::Decision(push(&mut self.decisions, *it)),
            Entity::Nonconformance(it) => Ref::Nonconformance(push(&mut self.nonconformances, *it)),
            Entity::Waiver(it) => Ref::Waiver(push(&mut self.waivers, *it)),
            Entity::Held(it) => Ref::Held(push(&mut self.held, *it)),
        }
    }

    /// What an id names.
    pub fn find(&self, id: &str) -> Option<Ref> {
        self.index.get(id).copied()
    }

    /// Every id with what it names, in order.
    pub fn ids(&self) -> impl Iterator<Item = (&Id, Ref)> {
        self.ids.iter().filter_map(|id| Some((id, self.find(id)?)))
    }

    /// Id, title and place of what a reference names.
    pub fn head(&self, place: Ref) -> &Head {
        match place {
            Ref::Requirement(at) => &self.requirements[at].head,
            Ref::Record(at) => &self.records[at].head,
            Ref::Item(at) => &self.items[at].head,
            Ref::Slot(at) => &self.slots[at].head,
            Ref::Procedure(at) => &self.procedures[at].head,
            Ref::Decision(at) => &self.decisions[at].head,
            Ref::Nonconformance(at) => &self.nonconformances[at].head,
            Ref::Waiver(at) => &self.waivers[at].head,
            Ref::Held(at) => &self.held[at].head,
        }
    }

    /// The word for the kind of what a reference names.
    pub fn kind(&self, place: Ref) -> &'static str {
        match place {
            Ref::Requirement(_) => "requirement",
            Ref::Record(at) => self.records[at].method.word(),
            Ref::Item(_) => "item",
            Ref::Slot(_) => "slot",
            Ref::Procedure(_) => "procedure",
            Ref::Decision(_) => "decision",
            Ref::Nonconformance(_) => "nonconformance",
            Ref::Waiver(_) => "waiver",
            Ref::Held(_) => "event",
        }
    }

    /// The requirement with this id.
    pub fn requirement(&self, id: &str) -> Option<&Requirement> {
        match self.find(id)? {
            Ref::Requirement(at) => Some(&self.requirements[at]),
            _ => None,
        }
    }

    /// The record with this id.
    pub fn record(&self, id: &str) -> Option<&Record> {
        match self.find(id)? {
            Ref::Record(at) => Some(&self.records[at]),
            _ => None,
        }
    }

    /// The item with this id.
    pub fn item(&self, id: &str) -> Option<&Item> {
        match self.find(id)? {
            Ref::Item(at) => Some(&self.items[at]),
            _ => None,
        }
    }

    /// The slot with this id.
    pub fn slot(&self, id: &str) -> Option<&Slot> {
        match self.find(id)? {
            Ref::Slot(at) => Some(&self.slots[at]),
            _ => None,
        }
    }

    /// The procedure with this id.
    pub fn procedure(&self, id: &str) -> Option<&Procedure> {
        match self.find(id)? {
            Ref::Procedure(at) => Some(&self.procedures[at]),
            _ => None,
        }
    }

    /// The nonconformance with this id.
    pub fn nonconformance(&self, id: &str) -> Option<&Nonconformance> {
        match self.find(id)? {
            Ref::Nonconformance(at) => Some(&self.nonconformances[at]),
            _ => None,
        }
    }

    /// The held event with this id.
    pub fn held_event(&self, id: &str) -> Option<&HeldEvent> {
        match self.find(id)? {
            Ref::Held(at) => Some(&self.held[at]),
            _ => None,
        }
    }

    /// The item and the piece that a serial names.
    pub fn serial(&self, serial: &SerialId) -> Option<(&Item, &Serial)> {
        let item = self.item(&serial.item)?;
        let piece = item.serials.iter().find(|piece| piece.number.value == serial.number)?;
        Some((item, piece))
    }
}

/// The record that a text such as `TR-007.stem_torque` names, and what is wanted of it: a criterion, a reading, a line of its
/// calculation. Ids may hold dots, and so may names: the longest id that there is is taken, else all up to the last dot.
pub fn wanted_of<'t>(model: &Model, text: &'t str) -> (&'t str, &'t str) {
    let at_a_dot = text.rmatch_indices('.').map(|(at, _)| (&text[..at], &text[at + 1..]));
    let mut all = std::iter::once((text, "")).chain(at_a_dot.clone());
    let last = at_a_dot.into_iter().next().unwrap_or((text, ""));
    all.find(|(id, _)| matches!(model.find(id), Some(Ref::Record(_)))).unwrap_or(last)
}

/// The criterion that a field names as `ACT-010.torque_margin`, or as `ACT-010` where that has only one. Ids may hold
/// dots, and so may names: the longest id that fits is taken.
pub fn fed<'m>(model: &'m Model, name: &str) -> Option<(&'m Requirement, &'m Criterion)> {
    if let Some(requirement) = model.requirement(name)
        && let [only] = requirement.criteria.as_slice()
    {
        return Some((requirement, only));
    }
    let at_a_dot = name.rmatch_indices('.').map(|(at, _)| (&name[..at], &name[at + 1..]));
    let mut fits = at_a_dot.filter_map(|(id, wanted)| {
        let requirement = model.requirement(id)?;
        Some((requirement, requirement.criteria.iter().find(|criterion| criterion.name == wanted)?))
    });
    fits.next()
}
