//! What must come before a record: by the plan, without which it would not count, and by its procedure, without which nobody
//! should begin.

use std::collections::BTreeSet;

use jiff::ToSpan;

use crate::model::kinds::procedure::names_a_thing;
use crate::model::kinds::{Method, Record};
use crate::model::{Id, Ref, SerialId};
use crate::parse::Moment;
use crate::state::standing::{Standing, standing};
use crate::state::{Subject, applies, held};

use super::{Node, Work};

/// What must come before a record.
#[derive(Clone, Debug, Default)]
pub(super) struct First {
    /// Other records, by position.
    pub(super) steps: Vec<usize>,
    /// Events.
    pub(super) events: Vec<String>,
    /// Rows that must be closed, by position.
    pub(super) closed: Vec<usize>,
    /// Procedures that must have been run, and that nothing plans here.
    pub(super) unplanned: Vec<Id>,
}

impl Work<'_> {
    /// Puts records that must be made again after an event behind it, where the order has it held.
    pub(super) fn again_after(&self, nodes: &[Node], first: &mut [First]) {
        let held: BTreeSet<String> = first.iter().flat_map(|own| own.events.iter().cloned()).collect();
        for (node, own) in nodes.iter().zip(first) {
            let again = self.entries(node).flat_map(|entry| &entry.again_after).map(|event| &event.value);
            own.events.extend(again.filter(|event| held.contains(*event)).cloned());
            own.events.sort_by_key(|event| self.model().config.event_index(event));
            own.events.dedup();
        }
    }

    /// What must come before a record: other records, added where they are not there yet, events, and rows to be closed.
    pub(super) fn precede(&self, nodes: &mut Vec<Node>, at: usize) -> First {
        let node = nodes[at].clone();
        let mut first = First::default();
        let after: BTreeSet<String> =
            self.entries(&node).flat_map(|entry| &entry.after).map(|name| name.value.clone()).collect();
        for name in &after {
            let is_event = self.model().config.event_index(name).is_some();
            if is_event && !self.was_held(name, &node.subject) {
                first.events.push(name.clone());
            }
            // Of an event and a procedure with one name both are asked for.
            let is_run = !is_event || self.model().procedure(name).is_some();
            if is_run && !self.has_run(name, &|record| is_on(record, &node.subject)) {
                first.steps.push(run_among(nodes, self.run_of(name, &node, node.subject.clone())));
            }
        }
        let procedure = node.procedure.as_ref().and_then(|id| self.model().procedure(id));
        for name in procedure.iter().flat_map(|own| &own.prerequisites).map(|own| &own.value) {
            if names_a_thing(name) && !after.contains(name) {
                self.prerequisite(nodes, &node, name, &mut first);
            }
        }
        first.steps.sort_unstable();
        first.steps.dedup();
        first.steps.retain(|own| *own != at);
        first
    }

    /// What a prerequisite of a record's procedure puts before it.
    fn prerequisite(&self, nodes: &mut Vec<Node>, node: &Node, name: &str, first: &mut First) {
        if self.model().config.event_index(name).is_some() && !self.was_held(name, &node.subject) {
            first.events.push(name.to_string());
        }
        match self.model().find(name) {
            Some(Ref::Procedure(_)) => self.prerequisite_run(nodes, node, name, first),
            Some(Ref::Requirement(at)) => {
                let open = self.to_be_closed(at, &node.subject);
                let closing = nodes.iter().enumerate().filter(|(_, own)| open.iter().any(|row| self.counts(own, *row)));
                first.steps.extend(closing.map(|(at, _)| at));
                first.closed.extend(open);
            }
            _ => {}
        }
    }

    /// Unlike what the plan asks for, a prerequisite may be met on what the piece is in, or on what is in it.
    fn prerequisite_run(&self, nodes: &mut Vec<Node>, node: &Node, name: &str, first: &mut First) {
        let related = |subject: &Subject| self.related(subject, &node.subject);
        if self.has_run(name, &|record| subjects_of(record).iter().any(related)) {
            return;
        }
        let is_run = |own: &Node| own.procedure.as_ref().is_some_and(|own| own.as_str() == name);
        let known = nodes.iter().enumerate().filter(|(_, own)| is_run(own) && related(&own.subject));
        let known: Vec<usize> = known.map(|(at, _)| at).collect();
        if !known.is_empty() {
            first.steps.extend(known);
            return;
        }
        let planned = (0..self.rows.len()).filter(|row| {
            self.plan(*row).and_then(|(_, entry)| entry.procedure.as_ref()).is_some_and(|own| own.as_str() == name)
        });
        match planned.flat_map(|row| &self.subjects[row]).find(|subject| related(subject)) {
            Some(subject) => first.steps.push(run_among(nodes, self.run_of(name, node, subject.clone()))),
            None => first.unplanned.push(Id::new(name)),
        }
    }

    /// The open rows of a requirement that must be closed before something is done to a subject: those about it, what is in it
    /// and what it is in; else all.
    fn to_be_closed(&self, requirement: usize, subject: &Subject) -> Vec<usize> {
        let all = (0..self.rows.len()).filter(|row| self.rows[*row].requirement == requirement);
        let (here, elsewhere): (Vec<usize>, Vec<usize>) =
            all.partition(|row| self.related(&self.rows[*row].subject, subject));
        let asked = if here.is_empty() { elsewhere } else { here };
        asked.into_iter().filter(|row| self.rows[*row].state.is_open()).collect()
    }

    /// Whether two subjects are one, are of one another, or one piece is in the other; the project is about everything.
    fn related(&self, one: &Subject, other: &Subject) -> bool {
        let inside = |outer: &SerialId, inner: &SerialId| self.analysis.graph.inside(outer).any(|own| own == inner);
        match (one, other) {
            (Subject::Project, _) | (_, Subject::Project) => true,
            (Subject::Item(one), Subject::Item(other)) => one == other,
            (Subject::Item(item), Subject::Serial(serial)) | (Subject::Serial(serial), Subject::Item(item)) => {
                serial.item == *item
            }
            (Subject::Serial(one), Subject::Serial(other)) => one == other || inside(one, other) || inside(other, one),
        }
    }

    /// Whether an event was held and completed with a subject, up to today.
    fn was_held(&self, event: &str, subject: &Subject) -> bool {
        let facts = self.analysis.facts();
        let tomorrow = Moment::day(facts.today.checked_add(1.day()).unwrap_or(facts.today));
        let (serials, item) = match subject {
            Subject::Serial(serial) => (vec![serial], None),
            Subject::Item(item) => (Vec::new(), Some(item)),
            Subject::Project => (Vec::new(), None),
        };
        held::came_first(&facts, event, &tomorrow, &applies::Subject { serials, item })
    }

    /// A run of a procedure for no other reason than that another must follow it.
    fn run_of(&self, procedure: &str, for_node: &Node, subject: Subject) -> Node {
        let entries = self.model().requirements.iter().flat_map(|requirement| &requirement.plan);
        let mut own = entries.filter(|entry| entry.procedure.as_ref().is_some_and(|own| own.as_str() == procedure));
        let method = own.find_map(|entry| entry.method).unwrap_or(Method::Test);
        Node { method, procedure: Some(Id::new(procedure)), stage: for_node.stage, subject }
    }

    /// Whether there is a signed record of a procedure that fits.
    fn has_run(&self, procedure: &str, fits: &dyn Fn(&Record) -> bool) -> bool {
        let facts = self.analysis.facts();
        let mut runs = facts.graph.runs.get(procedure).into_iter().flatten();
        runs.any(|at| fits(&self.model().records[*at]) && standing(&facts, *at) == Standing::Signed)
    }
}

/// Whether a record is on a subject, as `after` asks for it.
fn is_on(record: &Record, subject: &Subject) -> bool {
    subjects_of(record).contains(subject)
}

/// What a record is about.
fn subjects_of(record: &Record) -> Vec<Subject> {
    match (record.serials.is_empty(), &record.item) {
        (false, _) => record.serials.iter().map(|own| Subject::Serial(own.value.clone())).collect(),
        (true, Some(item)) => vec![Subject::Item(item.value.clone())],
        (true, None) => vec![Subject::Project],
    }
}

/// The place of a run among records to make, where it is added if no run of that procedure on that subject is there yet.
fn run_among(nodes: &mut Vec<Node>, run: Node) -> usize {
    let known = nodes.iter().position(|own| own.procedure == run.procedure && own.subject == run.subject);
    known.unwrap_or_else(|| {
        nodes.push(run);
        nodes.len() - 1
    })
}
