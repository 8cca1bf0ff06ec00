//! In which order records could be made so that the fewest of them close the most open rows before an event.
//!
//! What a record would close is not told by rules of its own: a record that meets everything is put into a copy of the
//! model, and the rows are derived again. What stays open then is not closed by making records.
//!
//! Before a record come what the plan's `after` asks for, without which it would not count, and what its procedure has as
//! `prerequisites`, without which nobody should begin: procedures are other records, events are held (in the copy, with the
//! pieces that need it), and rows of requirements are closed, by an earlier record or, as it is said, by somebody.

mod cover;
mod first;
mod made;

use std::collections::{BTreeMap, BTreeSet};

use crate::model::kinds::{Method, On, PlanEntry, Requirement, Stage};
use crate::model::{Id, Model, Ref};
use crate::state::judge::Verdict;
use crate::state::scope::choices;
use crate::state::{EntryRef, Row, State, Subject, piece_for};

use super::Analysis;
use cover::cover;
use first::First;

/// One record to make.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Node {
    /// Its method.
    pub method: Method,
    /// Its procedure.
    pub procedure: Option<Id>,
    /// Its stage.
    pub stage: Option<Stage>,
    /// On what.
    pub subject: Subject,
}

/// A record to make, in its place.
#[derive(Clone, Debug)]
pub struct Step {
    /// What it is.
    pub node: Node,
    /// The steps that come first, by position.
    pub after: Vec<usize>,
    /// Events that come first.
    pub events: Vec<String>,
    /// What must be settled first and no step does.
    pub needs: Vec<Need>,
    /// The rows that it closes, by position.
    pub closes: Vec<usize>,
}

/// Something that must be settled before a record is made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Need {
    /// A row that must be closed, by position.
    Closed(usize),
    /// A procedure that must have been run, and that nothing plans here.
    Run(Id),
    /// An event before which the record is due as well, though it must be made anew once that was held.
    Before(String),
}

/// An order of records.
#[derive(Clone, Debug)]
pub struct Order {
    /// The rows due, as they are today.
    pub rows: Vec<Row>,
    /// Open rows whose evidence may stand as it is once somebody has looked, by position.
    pub look_first: Vec<usize>,
    /// The steps.
    pub steps: Vec<Step>,
    /// Rows that close when those of their children do, by position.
    pub follow: Vec<usize>,
    /// Rows that a run of their own would close, beside the one that a step stands for, by position, as they would be without it.
    pub apart: Vec<(usize, Row)>,
    /// Rows that stay open, by position, as they would be then.
    pub left: Vec<(usize, Row)>,
    /// Whether no shorter list closes the same rows; else there were too many choices to try all.
    pub shortest: bool,
}

/// Things that a row could be shown on are tried one by one up to this many.
const SUBJECTS: usize = 6;

/// The order for an event, by position.
pub fn order(analysis: &Analysis, event: usize) -> Order {
    let all = analysis.rows(Some(event));
    let rows: Vec<Row> = all.into_iter().filter(|row| row.event <= event).collect();
    let work = Work::of(analysis, event, &rows);
    let look_first: Vec<usize> = (0..rows.len()).filter(|at| work.only_to_look_at(*at)).collect();
    let wanted: Vec<usize> =
        (0..rows.len()).filter(|at| rows[*at].state.is_open() && !look_first.contains(at)).collect();
    let (able, tried) = work.able(&wanted);
    let (mut chosen, shortest) = cover(&able);
    // What closes nothing after all, in its place among the others, is left out.
    let (steps, names, then) = loop {
        let (mut steps, names) = work.scheduled(&chosen);
        let then = work.supposing(&steps, &names);
        for at in wanted.iter().filter(|at| then[*at].as_ref().is_some_and(|row| !row.state.is_open())) {
            let by = then[at].as_ref().and_then(|row| row.criteria.first()?.record.clone());
            if let Some(step) = names.iter().position(|name| Some(name) == by.as_ref()) {
                steps[step].closes.push(*at);
            }
        }
        let idle = |node: &Node| steps.iter().any(|step| step.node == *node && step.closes.is_empty());
        let fewer: Vec<Node> = chosen.iter().filter(|node| !idle(node)).cloned().collect();
        if fewer.len() == chosen.len() {
            break (steps, names, then);
        }
        chosen = fewer;
    };
    let steps = work.with_needs(steps);
    let closed: BTreeSet<usize> = steps.iter().flat_map(|step| step.closes.iter().copied()).collect();
    let others = wanted.iter().filter(|at| !closed.contains(at));
    let (mut follow, mut left) = (Vec::new(), Vec::new());
    for at in others {
        match then[at].as_ref() {
            Some(row) if !row.state.is_open() => follow.push(*at),
            Some(row) => left.push((*at, in_the_way(tried.get(at).unwrap_or(row), &rows[*at], &names))),
            None => left.push((*at, rows[*at].clone())),
        }
    }
    let own_run = work.closed_apart(&steps, &left.iter().map(|(at, _)| *at).collect::<Vec<_>>());
    let (apart, left) = left.into_iter().partition(|(at, _)| own_run.contains(at));
    Order { look_first, steps, follow, apart, left, shortest, rows }
}

/// A row as it would be after every step, without what only says that no result could be supposed for a limit that is not
/// settled; where nothing else is said, as it is today. A record that is only supposed has no name.
fn in_the_way(then: &Row, now: &Row, names: &[Id]) -> Row {
    let mut then = then.clone();
    for criterion in &mut then.criteria {
        criterion.reasons.retain(|reason| {
            let supposed = reason.record.as_ref().is_some_and(|record| names.contains(record));
            !(supposed && reason.code == "result-missing")
        });
        for reason in &mut criterion.reasons {
            let Some(name) = reason.record.take_if(|record| names.contains(record)) else { continue };
            if let Some(rest) = reason.text.strip_prefix(&format!("{name}: ")) {
                reason.text = format!("a new record: {rest}");
            }
        }
    }
    if then.reasons().next().is_none() { now.clone() } else { then }
}

struct Work<'a> {
    analysis: &'a Analysis,
    event: usize,
    rows: &'a [Row],
    /// What each row could be shown on, what it would best be shown on first.
    subjects: Vec<Vec<Subject>>,
}

impl<'a> Work<'a> {
    fn of(analysis: &'a Analysis, event: usize, rows: &'a [Row]) -> Work<'a> {
        let mut work = Work { analysis, event, rows, subjects: Vec::new() };
        work.subjects = (0..rows.len()).map(|row| work.subjects_of(row)).collect();
        work
    }

    fn model(&self) -> &Model {
        &self.analysis.model
    }

    fn plan(&self, row: usize) -> Option<(&Requirement, &PlanEntry)> {
        let requirement = &self.model().requirements[self.rows[row].requirement];
        match self.rows[row].entry {
            EntryRef::Plan(entry) => Some((requirement, requirement.plan.get(entry)?)),
            EntryRef::Children | EntryRef::None => None,
        }
    }

    /// Whether all that is the matter is that somebody must look: a draft, an open remark, or a mark that no longer lines
    /// up with a result that meets the text of now.
    fn only_to_look_at(&self, row: usize) -> bool {
        let facts = self.analysis.facts();
        let requirement = &self.model().requirements[self.rows[row].requirement];
        let met = |record: Option<&Id>, name: &str| {
            let Some(Ref::Record(at)) = record.and_then(|id| self.model().find(id)) else { return false };
            let named = self.model().records[at]
                .verifies
                .iter()
                .position(|own| own.requirement.value == requirement.head.id.value);
            let place = requirement.criteria.iter().position(|own| own.name == name);
            let judged = named.zip(place).and_then(|(which, place)| facts.judgements.get(at, which).get(place));
            judged.is_some_and(|judged| matches!(judged.verdict, Verdict::Met))
        };
        self.plan(row).is_some()
            && self.rows[row].state.is_open()
            && self.rows[row].criteria.iter().all(|criterion| {
                criterion.reasons.iter().all(|reason| match reason.state {
                    State::Unsigned => true,
                    State::Slipped => met(reason.record.as_ref(), &criterion.name),
                    _ => false,
                })
            })
    }

    fn subjects_of(&self, row: usize) -> Vec<Subject> {
        let Some((_, entry)) = self.plan(row) else { return Vec::new() };
        let own = &self.rows[row].subject;
        let Subject::Item(id) = own else { return vec![own.clone()] };
        let Some(item) = self.model().item(id) else { return Vec::new() };
        let facts = self.analysis.facts();
        let mut pieces = choices(&facts, item, entry.stage, self.rows[row].event);
        if entry.on == On::One {
            // The row speaks of this one, and so must the order.
            let own = piece_for(&facts, Some(self.event), self.rows[row].requirement, entry, item);
            pieces.sort_by_key(|piece| Some(piece) != own.as_ref());
        }
        let pieces = pieces.into_iter().map(Subject::Serial).take(SUBJECTS);
        match entry.on {
            On::Each => Vec::new(),
            On::One => pieces.collect(),
            On::Design if entry.method == Some(Method::Analysis) => vec![own.clone()],
            // A piece first: a record on it closes what is asked of the piece as well.
            On::Design => pieces.chain([own.clone()]).collect(),
        }
    }

    /// For each row that a record can close, the records that can, the best first; for each other one that was tried, how it would stand.
    fn able(&self, wanted: &[usize]) -> (BTreeMap<usize, Vec<Node>>, BTreeMap<usize, Row>) {
        let most = wanted.iter().map(|row| self.subjects[*row].len()).max().unwrap_or(0);
        let mut own: BTreeMap<usize, Vec<Node>> = BTreeMap::new();
        let mut open: BTreeMap<usize, Row> = BTreeMap::new();
        for choice in 0..most {
            let node = |row: &usize| Some((*row, self.node(*row, self.subjects[*row].get(choice)?.clone())?));
            let tried: BTreeMap<usize, Node> = wanted.iter().filter_map(node).collect();
            let all: BTreeSet<Node> = tried.values().cloned().collect();
            let (steps, names) = self.scheduled(&all.into_iter().collect::<Vec<_>>());
            let then = self.supposing(&steps, &names);
            for (row, node) in tried {
                match then[&row].as_ref() {
                    Some(then) if then.state.is_open() => {
                        open.entry(row).or_insert_with(|| in_the_way(then, &self.rows[row], &names));
                    }
                    Some(_) => own.entry(row).or_default().push(node),
                    None => {}
                }
            }
        }
        open.retain(|row, _| !own.contains_key(row));
        // A record for one row may count for another that is less particular about procedure or stage.
        let every: BTreeSet<&Node> = own.values().flatten().collect();
        let accepts = |nodes: &[Node], node: &Node| {
            nodes.iter().any(|wanted| {
                wanted.method == node.method
                    && wanted.subject == node.subject
                    && (wanted.procedure.is_none() || wanted.procedure == node.procedure)
                    && (wanted.stage.is_none() || wanted.stage == node.stage)
            })
        };
        let all = own.iter().map(|(row, nodes)| {
            let mut able: Vec<Node> = every.iter().filter(|node| accepts(nodes, node)).copied().cloned().collect();
            able.sort_by_key(|node| self.subjects[*row].iter().position(|own| *own == node.subject));
            (*row, able)
        });
        (all.collect(), open)
    }

    fn node(&self, row: usize, subject: Subject) -> Option<Node> {
        let (_, entry) = self.plan(row)?;
        let procedure = entry.procedure.as_ref().map(|procedure| procedure.value.clone());
        Some(Node { method: entry.method?, procedure, stage: entry.stage, subject })
    }

    /// Whether a record would count for a row.
    fn counts(&self, node: &Node, row: usize) -> bool {
        let Some((_, entry)) = self.plan(row) else { return false };
        entry.method == Some(node.method)
            && entry.procedure.as_ref().is_none_or(|own| Some(&own.value) == node.procedure.as_ref())
            && (entry.stage.is_none() || entry.stage == node.stage)
            && self.subjects[row].contains(&node.subject)
    }

    /// Steps in an order in which each comes after what must precede it, with what must precede added, and the name of
    /// each one's record.
    fn scheduled(&self, chosen: &[Node]) -> (Vec<Step>, Vec<Id>) {
        let mut nodes: Vec<Node> = chosen.to_vec();
        let mut first: Vec<First> = Vec::new();
        let mut at = 0;
        while at < nodes.len() {
            let own = self.precede(&mut nodes, at);
            first.push(own);
            at += 1;
        }
        self.again_after(&nodes, &mut first);
        let mut placed: Vec<usize> = Vec::new();
        let mut waiting: Vec<usize> = (0..nodes.len()).collect();
        waiting.sort_by_key(|at| (self.due(&nodes[*at]), nodes[*at].clone()));
        while !waiting.is_empty() {
            // In a circle nothing is ready; then the next one is taken, and what it closes is found out all the same.
            let ready = waiting.iter().position(|at| first[*at].steps.iter().all(|before| placed.contains(before)));
            placed.push(waiting.remove(ready.unwrap_or(0)));
        }
        let place = |at: &usize| placed.iter().position(|own| own == at).unwrap_or(0);
        let steps = placed.iter().map(|at| {
            let own = &first[*at];
            let unplanned = own.unplanned.iter().cloned().map(Need::Run);
            Step {
                node: nodes[*at].clone(),
                after: own.steps.iter().map(place).collect(),
                events: own.events.clone(),
                needs: unplanned.chain(own.closed.iter().copied().map(Need::Closed)).collect(),
                closes: Vec::new(),
            }
        });
        let steps: Vec<Step> = steps.collect();
        let names = self.names(steps.len());
        (steps, names)
    }

    /// Names for the records of so many steps, none of which the project has.
    fn names(&self, count: usize) -> Vec<Id> {
        let known = |name: &str| self.model().find(name).is_some();
        let names = (1..=count).map(|number| {
            let mut name = format!("step-{number}");
            while known(&name) {
                name.push('-');
            }
            Id::new(&name)
        });
        names.collect()
    }

    /// Which of these rows a second run of a step would close that is made for their requirement alone: what the others ask of the
    /// run, such as its conditions, may be what keeps it from closing them.
    fn closed_apart(&self, steps: &[Step], rows: &[usize]) -> BTreeSet<usize> {
        let mut all = steps.to_vec();
        let mut only: BTreeMap<usize, usize> = BTreeMap::new();
        for row in rows {
            let Some(at) = steps.iter().position(|step| self.counts(&step.node, *row)) else { continue };
            only.insert(all.len(), self.rows[*row].requirement);
            let mut own = steps[at].clone();
            // Of two records of one day neither is the newest.
            own.after.push(at);
            all.push(own);
        }
        if only.is_empty() {
            return BTreeSet::new();
        }
        let then = self.supposing_for(&all, &self.names(all.len()), &only);
        let closed = |row: &usize| then[row].as_ref().is_some_and(|row| !row.state.is_open());
        rows.iter().copied().filter(closed).collect()
    }

    /// The steps without the needs that an earlier one sees to, and with those that an event in between makes.
    fn with_needs(&self, mut steps: Vec<Step>) -> Vec<Step> {
        let mut closed: BTreeSet<usize> = BTreeSet::new();
        for step in &mut steps {
            step.needs.retain(|need| !matches!(need, Need::Closed(row) if closed.contains(row)));
            let used_up = step.events.iter().filter(|event| step.closes.iter().any(|row| self.is_due_by(*row, event)));
            step.needs.extend(used_up.cloned().map(Need::Before));
            closed.extend(&step.closes);
        }
        steps
    }

    /// Whether a row is due before an event, and must be shown again after it.
    fn is_due_by(&self, row: usize, event: &str) -> bool {
        let again = self.plan(row).is_some_and(|(_, entry)| entry.again_after.iter().any(|own| own.value == event));
        again && self.model().config.event_index(event).is_some_and(|at| self.rows[row].event <= at)
    }

    /// The first event before which something is due that a record would count for.
    fn due(&self, node: &Node) -> usize {
        let rows = (0..self.rows.len()).filter(|row| self.rows[*row].state.is_open() && self.counts(node, *row));
        rows.map(|row| self.rows[row].event).min().unwrap_or(usize::MAX)
    }

    /// The plan entries that a record would count for.
    fn entries<'w>(&'w self, node: &'w Node) -> impl Iterator<Item = &'w PlanEntry> {
        let counting = (0..self.rows.len()).filter(|row| self.counts(node, *row));
        counting.filter_map(|row| Some(self.plan(row)?.1))
    }
}
