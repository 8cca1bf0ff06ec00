//! The rows: every plan entry of every requirement that counts, on every subject.

use std::collections::BTreeMap;
use std::sync::Arc;

use jiff::civil::Date;
use rayon::prelude::*;

use crate::model::kinds::{Item, Method, On, PlanEntry, Requirement, RequirementStatus, Stage};
use crate::model::{Id, SerialId};
use crate::quantity::Margin;

use super::decide::{Look, failed_serials, unsettled};
use super::relief::{self, Asked, When, Where};
use super::scope::{Target, choices, event_of, serials, targets};
use super::{Facts, Reason, State};

/// Which part of a requirement's plan a row is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum EntryRef {
    /// A plan entry, counted from 0.
    Plan(usize),
    /// The statement that the children suffice.
    Children,
    /// There is no plan.
    None,
}

/// What a row is about.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Subject {
    /// The project as a whole.
    Project,
    /// An item, or a slot without an option.
    Item(Id),
    /// One piece.
    Serial(SerialId),
}

impl std::fmt::Display for Subject {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Subject::Project => f.write_str("project"),
            Subject::Item(id) => id.fmt(f),
            Subject::Serial(serial) => serial.fmt(f),
        }
    }
}

/// The state of one criterion of a row.
#[derive(Clone, Debug)]
pub struct CriterionState {
    /// Its name.
    pub name: String,
    /// Its state.
    pub state: State,
    /// What a waiver covers, if one does.
    pub covers: Option<State>,
    /// The waiver.
    pub waiver: Option<Id>,
    /// The record that decides.
    pub record: Option<Id>,
    /// Its result, as written.
    pub result: Option<String>,
    /// What is expected, in words.
    pub limit: String,
    /// The distance to the limit.
    pub margin: Option<Arc<Margin>>,
    /// Every reason, worst first.
    pub reasons: Vec<Reason>,
}

/// One plan entry on one subject.
#[derive(Clone, Debug)]
pub struct Row {
    /// The requirement, by position.
    pub requirement: usize,
    /// The entry.
    pub entry: EntryRef,
    /// Its method.
    pub method: Option<Method>,
    /// Its stage.
    pub stage: Option<Stage>,
    /// Its procedure.
    pub procedure: Option<Id>,
    /// The event before which it is due, by position.
    pub event: usize,
    /// What it is about.
    pub subject: Subject,
    /// The worst of its criteria.
    pub state: State,
    /// The worst state that a waiver covers, for a waived row.
    pub covers: Option<State>,
    /// The waiver, for a waived row.
    pub waiver: Option<Id>,
    /// Its criteria, by name.
    pub criteria: Vec<CriterionState>,
}

impl Row {
    /// Every reason of every criterion.
    pub fn reasons(&self) -> impl Iterator<Item = &Reason> {
        self.criteria.iter().flat_map(|criterion| &criterion.reasons)
    }
}

/// The states of all rows, in the order of requirements, entries and subjects.
///
/// `asked` is the event asked about; without one every row is asked about at its own event.
pub fn derive(facts: &Facts<'_>, asked: Option<usize>) -> Vec<Row> {
    let derivation = Derivation { facts, asked };
    let every = (0..facts.model.requirements.len()).into_par_iter().with_min_len(32);
    let mut rows: Vec<Row> = every.flat_map_iter(|at| derivation.requirement(at)).collect();
    super::children::add(facts, asked, &mut rows);
    rows.sort_by_key(|row| (row.requirement, row.entry));
    rows
}

/// The later of today and an event's date.
pub(super) fn when(facts: &Facts<'_>, asked: Option<usize>, own: usize) -> When {
    let event = asked.unwrap_or(own);
    let date: Option<Date> =
        facts.model.config.events.get(event).and_then(|event| event.date.as_ref()).map(|date| date.date);
    When { event, deadline: date.map_or(facts.today, |date| date.max(facts.today)) }
}

/// Whether a requirement has rows at all.
pub(super) fn counts(requirement: &Requirement) -> bool {
    requirement.status != RequirementStatus::Withdrawn || requirement.reason.is_none()
}

/// The piece of an item that a plan entry for `one` is judged on, and on which it is best shown: the one that is nearest to
/// closed, of equals the first of [`choices`]. `asked` is the event asked about.
pub fn piece_for(
    facts: &Facts<'_>,
    asked: Option<usize>,
    requirement: usize,
    entry: &PlanEntry,
    item: &Item,
) -> Option<SerialId> {
    Derivation { facts, asked }.chosen(requirement, entry, item)
}

/// Where an entry of a requirement, by position, would stand on a piece, whether it is asked of it or not, before an event.
pub fn on_piece(facts: &Facts<'_>, event: usize, requirement: usize, entry: &PlanEntry, piece: &SerialId) -> State {
    let derivation = Derivation { facts, asked: Some(event) };
    worst(&derivation.look(requirement, entry, Where::Piece(piece)).criteria(None)).0
}

/// The rows of the plan of one requirement, each asked about at its own event.
pub fn of_requirement(facts: &Facts<'_>, requirement: usize) -> Vec<Row> {
    Derivation { facts, asked: None }.requirement(requirement)
}

struct Derivation<'a> {
    facts: &'a Facts<'a>,
    asked: Option<usize>,
}

impl Derivation<'_> {
    fn requirement(&self, at: usize) -> Vec<Row> {
        let requirement = &self.facts.model.requirements[at];
        if !counts(requirement) {
            return Vec::new();
        }
        let targets = targets(self.facts, requirement);
        if requirement.plan.is_empty() && requirement.by_children_at.is_none() {
            return self.without_plan(at, &targets);
        }
        let entries = requirement.plan.iter().enumerate();
        let each = entries
            .flat_map(|(index, entry)| targets.iter().flat_map(move |target| self.entry(at, index, entry, target)));
        each.collect()
    }

    fn without_plan(&self, at: usize, targets: &[Target<'_>]) -> Vec<Row> {
        let requirement = &self.facts.model.requirements[at];
        let text = format!("{} says nowhere how it will be shown", requirement.head.id.value);
        let mut rows: Vec<Row> = Vec::new();
        for target in targets {
            let event = event_of(self.facts, requirement, None);
            let mut reasons = vec![Reason::new("no-plan", text.clone())];
            reasons.extend(unresolved(target));
            let row = self.bare(at, EntryRef::None, None, event, subject_of(self.facts, target), reasons);
            if !rows.iter().any(|own| own.subject == row.subject) {
                rows.push(row);
            }
        }
        rows
    }

    /// A row that has no evidence for a reason that lies outside the records.
    fn bare(
        &self,
        at: usize,
        entry: EntryRef,
        plan: Option<&PlanEntry>,
        event: usize,
        subject: Subject,
        common: Vec<Reason>,
    ) -> Row {
        let requirement = &self.facts.model.requirements[at];
        let place = match &subject {
            Subject::Project => Where::Project,
            Subject::Item(item) => Where::Design(item),
            Subject::Serial(serial) => Where::Piece(serial),
        };
        let when = when(self.facts, self.asked, event);
        let asked =
            requirement.criteria.iter().filter(|criterion| plan.is_none_or(|plan| plan.asks_for(&criterion.name)));
        let criteria = asked.map(|criterion| {
            let mut reasons = common.clone();
            reasons.extend(unsettled(requirement, criterion));
            reasons.retain(|reason| !self.facts.switch.is_off(reason.code));
            let found = reasons.first().map_or(State::Closed, |reason| reason.state);
            let waiver =
                relief::covering(self.facts, &Asked { requirement, criterion, place, item: None, when }, &reasons);
            CriterionState {
                name: criterion.name.clone(),
                state: if waiver.is_some() { State::Waived } else { found },
                covers: waiver.map(|_| found),
                waiver: waiver.map(|waiver| waiver.head.id.value.clone()),
                record: None,
                result: None,
                limit: criterion.show(),
                margin: None,
                reasons,
            }
        });
        let criteria = criteria.collect();
        self.row(at, entry, plan, event, subject, criteria)
    }

    fn row(
        &self,
        at: usize,
        entry: EntryRef,
        plan: Option<&PlanEntry>,
        event: usize,
        subject: Subject,
        criteria: Vec<CriterionState>,
    ) -> Row {
        let (state, covers, waiver) = worst(&criteria);
        Row {
            requirement: at,
            entry,
            method: plan.and_then(|plan| plan.method),
            stage: plan.and_then(|plan| plan.stage),
            procedure: plan.and_then(|plan| plan.procedure.as_ref()).map(|procedure| procedure.value.clone()),
            event,
            subject,
            state,
            covers,
            waiver,
            criteria,
        }
    }

    fn look<'l>(&'l self, at: usize, entry: &'l PlanEntry, place: Where<'l>) -> Look<'l> {
        let requirement = &self.facts.model.requirements[at];
        let event = event_of(self.facts, requirement, Some(entry));
        Look { facts: self.facts, at, requirement, entry, place, when: when(self.facts, self.asked, event) }
    }

    /// The piece that an entry for `one` is judged on.
    fn chosen(&self, at: usize, entry: &PlanEntry, item: &Item) -> Option<SerialId> {
        let event = event_of(self.facts, &self.facts.model.requirements[at], Some(entry));
        let pieces = choices(self.facts, item, entry.stage, event);
        best_piece(&pieces, |piece| worst(&self.look(at, entry, Where::Piece(piece)).criteria(None)).0).cloned()
    }

    fn entry(&self, at: usize, index: usize, entry: &PlanEntry, target: &Target<'_>) -> Vec<Row> {
        let requirement = &self.facts.model.requirements[at];
        let event = event_of(self.facts, requirement, Some(entry));
        let reference = EntryRef::Plan(index);
        let bare = |subject, reasons| vec![self.bare(at, reference, Some(entry), event, subject, reasons)];
        let look = |place| self.look(at, entry, place);
        let item_at = match target {
            Target::Project => {
                let criteria = look(Where::Project).criteria(None);
                return vec![self.row(at, reference, Some(entry), event, Subject::Project, criteria)];
            }
            Target::Item(item_at) => *item_at,
            _ => return bare(subject_of(self.facts, target), unresolved(target)),
        };
        let item = &self.facts.model.items[item_at];
        let id = &item.head.id.value;
        let whole = Subject::Item(id.clone());
        match entry.on {
            On::Design => {
                let criteria = look(Where::Design(id)).criteria(None);
                vec![self.row(at, reference, Some(entry), event, whole, criteria)]
            }
            On::Each => {
                let mut pieces = serials(self.facts, item, entry.stage, event);
                // A failure keeps its piece in scope, whatever becomes of the piece.
                for failed in failed_serials(self.facts, at, id, entry) {
                    if !pieces.contains(&failed) {
                        pieces.push(failed);
                    }
                }
                if pieces.is_empty() {
                    return bare(whole, vec![no_serial(id)]);
                }
                let rows = pieces.iter().map(|piece| {
                    let criteria = look(Where::Piece(piece)).criteria(None);
                    self.row(at, reference, Some(entry), event, Subject::Serial(piece.clone()), criteria)
                });
                rows.collect()
            }
            On::One => {
                let Some(best) = self.chosen(at, entry, item) else {
                    let criteria = look(Where::Design(id)).without_pieces(no_serial(id), id);
                    return vec![self.row(at, reference, Some(entry), event, whole, criteria)];
                };
                let criteria = look(Where::Piece(&best)).criteria(Some(id));
                vec![self.row(at, reference, Some(entry), event, whole, criteria)]
            }
        }
    }
}

/// Why a target is no item.
pub(super) fn unresolved(target: &Target<'_>) -> Vec<Reason> {
    let reason = match target {
        Target::Project | Target::Item(_) => None,
        Target::EmptySlot(slot) => Some(Reason::new("no-option", format!("no option of {slot} is current"))),
        Target::NoItem(tag) => Some(Reason::new("no-item", format!("no current item has the tag {tag}"))),
        Target::Unknown(id) => Some(Reason::new("no-item", format!("there is no item {id}"))),
        Target::Nothing => Some(Reason::new("no-item", "it applies to an empty list")),
    };
    reason.into_iter().collect()
}

fn no_serial(item: &Id) -> Reason {
    Reason::new("no-serial", format!("no piece of {item} is in scope"))
}

/// The piece that is nearest to closed: one with evidence, however open, before one without any.
fn best_piece<'p>(pieces: &'p [SerialId], state: impl Fn(&'p SerialId) -> State) -> Option<&'p SerialId> {
    let rank = |state: State| match state {
        State::Closed => 0,
        State::Waived => 1,
        State::NoEvidence => 99,
        open => 2 + State::ALL.iter().rev().position(|own| *own == open).unwrap_or(0),
    };
    pieces.iter().min_by_key(|piece| rank(state(piece)))
}

/// The worst state of some criteria, and what a waiver covers where that is all there is.
pub(super) fn worst(criteria: &[CriterionState]) -> (State, Option<State>, Option<Id>) {
    let state = criteria.iter().map(|criterion| criterion.state).min().unwrap_or(State::NoEvidence);
    if state != State::Waived {
        return (state, None, None);
    }
    let waived = criteria.iter().filter(|criterion| criterion.state == State::Waived);
    let covered = waived.min_by_key(|criterion| criterion.covers);
    (state, covered.and_then(|criterion| criterion.covers), covered.and_then(|criterion| criterion.waiver.clone()))
}

/// The subject of a row about a target as a whole.
pub(super) fn subject_of(facts: &Facts<'_>, target: &Target<'_>) -> Subject {
    match target {
        Target::Project | Target::NoItem(_) | Target::Nothing => Subject::Project,
        Target::Item(at) => Subject::Item(facts.model.items[*at].head.id.value.clone()),
        Target::EmptySlot(id) | Target::Unknown(id) => Subject::Item((*id).clone()),
    }
}

/// Rows by requirement.
pub(super) fn by_requirement(rows: &[Row]) -> BTreeMap<usize, Vec<usize>> {
    let mut map: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (index, row) in rows.iter().enumerate() {
        map.entry(row.requirement).or_default().push(index);
    }
    map
}
