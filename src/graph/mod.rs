//! What hangs from what: children, evidence, assemblies, contained pieces, options.
//!
//! In: a [`Model`]. Out: a [`TraceGraph`] of positions in the model's lists. Names that do not resolve are simply not in
//! it (the model has reported them); cycles are kept as data for the checks and never followed twice.

use std::collections::{BTreeMap, BTreeSet};

use crate::model::kinds::{AppliesTo, Content, ItemStatus, RequirementStatus};
use crate::model::{Id, Model, Ref, SerialId};
use crate::parse::Moment;
use crate::text::Spanned;

/// Edges of the project, by position in the model's lists.
#[derive(Debug, Default)]
pub struct TraceGraph {
    /// For each requirement, its children that are active.
    pub children: Vec<Vec<usize>>,
    /// For each procedure, the records that ran it.
    pub runs: BTreeMap<Id, Vec<usize>>,
    /// For each requirement, the records that name it, and where among what they verify.
    pub evidence: Vec<Vec<(usize, usize)>>,
    /// The same from the other end.
    pub verified: Verified,
    /// For each item, whether it or anything that it sits in was dropped.
    pub dropped: Vec<bool>,
    /// For each slot, its current options.
    pub options: Vec<Vec<usize>>,
    /// For each piece that contains or contained something, every piece in it now, at any depth.
    pub contained: BTreeMap<SerialId, BTreeSet<SerialId>>,
    /// Pieces that are scrapped, or sit in one that is.
    pub scrapped: BTreeSet<SerialId>,
    /// Nonconformances by the item that they, or a piece of which they, are against; `project` for the project.
    pub against: BTreeMap<Id, Vec<usize>>,
    /// Held events by the name of their event.
    pub held: BTreeMap<String, Vec<usize>>,
    /// For each held event, the pieces that it concerns.
    pub held_with: Vec<HeldWith>,
    /// For each nonconformance-naming record: the nonconformances whose `found_by` names it.
    pub found_by: BTreeMap<usize, Vec<usize>>,
    /// Requirements that are their own ancestors.
    pub parent_cycles: Vec<usize>,
    /// Items and slots that sit in themselves.
    pub assembly_cycles: Vec<Ref>,
    /// Pieces that contain themselves.
    pub contains_cycles: Vec<SerialId>,
}

/// For each record, the requirements that it names: found once, since whoever looks at results needs them.
#[derive(Debug, Default)]
pub struct Verified {
    /// For each record, where its own begin in `all`.
    from: Vec<usize>,
    all: Vec<Option<usize>>,
}

impl Verified {
    /// The requirement that a record names at a position of what it verifies, if there is one of that name.
    pub fn get(&self, record: usize, which: usize) -> Option<usize> {
        self.all.get(self.from.get(record)? + which).copied().flatten()
    }
}

/// The pieces of a held event.
#[derive(Debug, Default)]
pub struct HeldWith {
    /// Those that it names, and what was in them when evidence of that day was made.
    pub there: BTreeSet<SerialId>,
    /// Those, and whatever may have been in them at some time of that day: what it did, it may have done to these.
    pub touched: BTreeSet<SerialId>,
}

impl TraceGraph {
    /// Follows every reference of the model: what requirements, records and hardware say, each on its own.
    pub fn build(model: &Model) -> TraceGraph {
        let part = |add: fn(&mut TraceGraph, &Model)| {
            let mut graph = TraceGraph::default();
            add(&mut graph, model);
            graph
        };
        let (evidence, (requirements, hardware)) = rayon::join(
            || part(TraceGraph::add_evidence),
            || rayon::join(|| part(TraceGraph::add_children), || part(TraceGraph::add_hardware)),
        );
        TraceGraph {
            children: requirements.children,
            parent_cycles: requirements.parent_cycles,
            runs: evidence.runs,
            evidence: evidence.evidence,
            verified: evidence.verified,
            against: evidence.against,
            found_by: evidence.found_by,
            ..hardware
        }
    }

    fn add_hardware(&mut self, model: &Model) {
        self.add_assemblies(model);
        self.add_contained(model);
        self.add_held(model);
    }

    /// The requirement's position, by id.
    pub fn requirement_at(model: &Model, id: &str) -> Option<usize> {
        match model.find(id)? {
            Ref::Requirement(at) => Some(at),
            _ => None,
        }
    }

    fn add_children(&mut self, model: &Model) {
        self.children = vec![Vec::new(); model.requirements.len()];
        for (at, requirement) in model.requirements.iter().enumerate() {
            if requirement.status != RequirementStatus::Active {
                continue;
            }
            for parent in &requirement.parents {
                if let Some(parent) = Self::requirement_at(model, &parent.value) {
                    self.children[parent].push(at);
                }
            }
        }
        self.parent_cycles = (0..model.requirements.len()).filter(|start| self.reaches_itself(*start)).collect();
    }

    fn reaches_itself(&self, start: usize) -> bool {
        if self.children[start].is_empty() {
            return false;
        }
        let mut seen = BTreeSet::new();
        let mut waiting = self.children[start].clone();
        while let Some(next) = waiting.pop() {
            if next == start {
                return true;
            }
            if seen.insert(next) {
                waiting.extend(&self.children[next]);
            }
        }
        false
    }

    fn add_evidence(&mut self, model: &Model) {
        self.evidence = vec![Vec::new(); model.requirements.len()];
        for (at, record) in model.records.iter().enumerate() {
            if let Some(procedure) = &record.procedure {
                self.runs.entry(procedure.value.clone()).or_default().push(at);
            }
            self.verified.from.push(self.verified.all.len());
            for (which, verifies) in record.verifies.iter().enumerate() {
                let requirement = Self::requirement_at(model, &verifies.requirement.value);
                self.verified.all.push(requirement);
                if let Some(requirement) = requirement {
                    self.evidence[requirement].push((at, which));
                }
            }
        }
        for (at, nonconformance) in model.nonconformances.iter().enumerate() {
            for target in &nonconformance.against {
                let item = target.value.split('/').next().unwrap_or("");
                self.against.entry(Id::new(item)).or_default().push(at);
            }
            for record in &nonconformance.found_by {
                if let Some(Ref::Record(record)) = model.find(&record.value) {
                    self.found_by.entry(record).or_default().push(at);
                }
            }
        }
    }

    fn add_assemblies(&mut self, model: &Model) {
        self.options = vec![Vec::new(); model.slots.len()];
        for item in &model.items {
            let (dropped, circle) = is_dropped(&item.head.id.value, |id| above(model, id));
            self.dropped.push(dropped);
            if circle {
                self.assembly_cycles.extend(model.find(&item.head.id.value));
            }
        }
        for slot in &model.slots {
            if is_dropped(&slot.head.id.value, |id| above(model, id)).1 {
                self.assembly_cycles.extend(model.find(&slot.head.id.value));
            }
        }
        for (at, item) in model.items.iter().enumerate() {
            let slot = item.fills.as_ref().and_then(|slot| model.find(&slot.value));
            if let (Some(Ref::Slot(slot)), ItemStatus::Current) = (slot, item.status) {
                self.options[slot].push(at);
            }
        }
    }

    fn add_contained(&mut self, model: &Model) {
        let mut direct: BTreeMap<SerialId, Vec<SerialId>> = BTreeMap::new();
        let mut scrapped: Vec<SerialId> = Vec::new();
        for item in &model.items {
            for piece in &item.serials {
                let id = item.serial_id(piece);
                if piece.scrapped {
                    scrapped.push(id.clone());
                }
                if !piece.contains.is_empty() {
                    let now = piece.contains.iter().filter(|inner| inner.is_in());
                    direct.insert(id, now.map(|inner| inner.serial.value.clone()).collect());
                }
            }
        }
        for outer in direct.keys() {
            let mut inside = BTreeSet::new();
            let mut waiting = direct[outer].clone();
            while let Some(inner) = waiting.pop() {
                if inner == *outer {
                    self.contains_cycles.push(outer.clone());
                } else if inside.insert(inner.clone()) {
                    waiting.extend(direct.get(&inner).into_iter().flatten().cloned());
                }
            }
            self.contained.insert(outer.clone(), inside);
        }
        for outer in scrapped {
            self.scrapped.extend(self.contained.get(&outer).into_iter().flatten().cloned());
            self.scrapped.insert(outer);
        }
        self.contains_cycles.dedup();
    }

    fn add_held(&mut self, model: &Model) {
        for (at, held) in model.held.iter().enumerate() {
            if let Some(event) = &held.event {
                self.held.entry(event.value.clone()).or_default().push(at);
            }
            let mut with = HeldWith::default();
            for serial in held.serials.iter().map(|serial| &serial.value) {
                with.there.extend(self.inside_then(model, serial, held.date.as_deref()));
                with.touched.extend(self.inside_that_day(model, serial, held.date.as_deref()));
                with.there.insert(serial.clone());
                with.touched.insert(serial.clone());
            }
            self.held_with.push(with);
        }
    }

    /// Every piece that was in `serial` when evidence of a day was made, at any depth.
    pub fn inside_then(&self, model: &Model, serial: &SerialId, made: Option<&Moment>) -> BTreeSet<SerialId> {
        self.inside_where(model, serial, |inner| inner.was_in(made))
    }

    /// Every piece that may have been in `serial` at some time of a day, at any depth; of a day that is not known, all that
    /// ever was.
    pub fn inside_that_day(&self, model: &Model, serial: &SerialId, day: Option<&Moment>) -> BTreeSet<SerialId> {
        self.inside_where(model, serial, |inner| inner.may_have_been_in(day))
    }

    fn inside_where(&self, model: &Model, serial: &SerialId, is_in: impl Fn(&Content) -> bool) -> BTreeSet<SerialId> {
        let mut inside = BTreeSet::new();
        let mut waiting = vec![serial.clone()];
        while let Some(outer) = waiting.pop() {
            if !self.contained.contains_key(&outer) {
                continue;
            }
            let Some((_, piece)) = model.serial(&outer) else { continue };
            let then = piece.contains.iter().filter(|inner| is_in(inner)).map(|inner| &inner.serial.value);
            waiting.extend(then.filter(|inner| inside.insert((*inner).clone())).cloned());
        }
        inside
    }

    /// Every piece in `serial` now, at any depth.
    pub fn inside(&self, serial: &SerialId) -> impl Iterator<Item = &SerialId> {
        self.contained.get(serial).into_iter().flatten()
    }
}

/// One step on the way up from an item or a slot.
#[derive(Clone, Copy, Debug, Default)]
pub struct Above<'m> {
    /// Whether the thing itself was dropped.
    pub dropped: bool,
    /// What it sits in: an assembly, and for an option its slot.
    pub sits_in: [Option<&'m Id>; 2],
}

/// What an id of a model sits in.
pub fn above<'m>(model: &'m Model, of: &str) -> Above<'m> {
    let id = |id: &'m Spanned<Id>| &id.value;
    match model.find(of) {
        Some(Ref::Item(at)) => {
            let item = &model.items[at];
            let sits_in = [item.assembly.as_ref().map(id), item.fills.as_ref().map(id)];
            Above { dropped: item.status == ItemStatus::Dropped, sits_in }
        }
        Some(Ref::Slot(at)) => Above { dropped: false, sits_in: [model.slots[at].assembly.as_ref().map(id), None] },
        _ => Above::default(),
    }
}

/// Whether an item or anything that it sits in was dropped; and whether it sits in itself.
pub fn is_dropped<'m>(item: &'m Id, above: impl Fn(&'m Id) -> Above<'m>) -> (bool, bool) {
    let mut seen: BTreeSet<&Id> = BTreeSet::new();
    let (mut dropped, mut circle) = (false, false);
    let mut waiting: Vec<&Id> = vec![item];
    while let Some(id) = waiting.pop() {
        let step = above(id);
        dropped |= step.dropped;
        for next in step.sits_in.into_iter().flatten() {
            circle |= next == item;
            if seen.insert(next) {
                waiting.push(next);
            }
        }
    }
    (dropped, circle)
}

/// The items that a requirement names or that its tag matches, without slots resolved.
pub fn tagged<'m>(model: &'m Model, applies_to: &AppliesTo) -> Vec<&'m Id> {
    let AppliesTo::Tag(tag) = applies_to else { return Vec::new() };
    let with_tag = model
        .items
        .iter()
        .filter(|item| item.status == ItemStatus::Current && item.tags.iter().any(|own| own.value == tag.value));
    with_tag.map(|item| &item.head.id.value).collect()
}
