//! In which order records could be made so that the fewest of them close the most open rows before an event.
//!
//! What a record would close is not told by rules of its own: a record that meets everything is put into a copy of the
//! model, and the rows are derived again. What stays open then is not closed by making records.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use jiff::ToSpan;

use crate::model::kinds::{
    Criterion, Expectation, Limit, Method, On, PlanEntry, Record, RecordStatus, Requirement, ResultText, Stage,
    Verifies,
};
use crate::model::{Id, Model, Ref, SerialId};
use crate::parse::{Moment, Scalar};
use crate::state::judge::{Verdict, condition_holds, judge_result};
use crate::state::scope::serials;
use crate::state::standing::{Standing, standing};
use crate::state::{EntryRef, Facts, Row, State, Subject};
use crate::text::Spanned;

use super::Analysis;

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
    /// The rows that it closes, by position.
    pub closes: Vec<usize>,
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
    /// Rows that stay open, by position, as they would be then.
    pub left: Vec<(usize, Row)>,
    /// Whether no shorter list closes the same rows; else there were too many choices to try all.
    pub shortest: bool,
}

/// Things that a row could be shown on are tried one by one up to this many.
const SUBJECTS: usize = 6;
/// Up to this many choices, every combination is tried.
const CHOICES: usize = 14;

/// The order for an event, by position.
pub fn order(analysis: &Analysis, event: usize) -> Order {
    let all = analysis.rows(Some(event));
    let rows: Vec<Row> = all.into_iter().filter(|row| row.event <= event).collect();
    let work = Work { analysis, event, rows: &rows };
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
    Order { look_first, steps, follow, left, shortest, rows }
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
}

impl Work<'_> {
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

    /// What a row could be shown on.
    fn subjects(&self, row: usize) -> Vec<Subject> {
        let Some((_, entry)) = self.plan(row) else { return Vec::new() };
        let own = &self.rows[row].subject;
        let Subject::Item(id) = own else { return vec![own.clone()] };
        let Some(item) = self.model().item(id) else { return Vec::new() };
        let pieces = serials(&self.analysis.facts(), item, entry.stage, self.rows[row].event);
        let pieces = pieces.into_iter().map(Subject::Serial).take(SUBJECTS);
        match entry.on {
            On::Each => Vec::new(),
            On::One => pieces.collect(),
            On::Design if entry.method == Some(Method::Analysis) => vec![own.clone()],
            // A piece first: a record on it closes what is asked of the piece as well.
            On::Design => pieces.chain([own.clone()]).collect(),
        }
    }

    /// For each row that a record can close, the records that can; for each other one that was tried, how it would stand.
    fn able(&self, wanted: &[usize]) -> (BTreeMap<usize, Vec<Node>>, BTreeMap<usize, Row>) {
        let subjects: BTreeMap<usize, Vec<Subject>> = wanted.iter().map(|row| (*row, self.subjects(*row))).collect();
        let most = subjects.values().map(Vec::len).max().unwrap_or(0);
        let mut own: BTreeMap<usize, Vec<Node>> = BTreeMap::new();
        let mut open: BTreeMap<usize, Row> = BTreeMap::new();
        for choice in 0..most {
            let nodes = subjects
                .iter()
                .filter_map(|(row, subjects)| self.node(*row, subjects.get(choice)?.clone()).map(|node| (*row, node)));
            let tried: BTreeMap<usize, Node> = nodes.collect();
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
            (*row, every.iter().filter(|node| accepts(nodes, node)).map(|node| (*node).clone()).collect())
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
            && self.subjects(row).contains(&node.subject)
    }

    /// Steps in an order in which each comes after what must precede it, with what must precede added, and the name of
    /// each one's record.
    fn scheduled(&self, chosen: &[Node]) -> (Vec<Step>, Vec<Id>) {
        let mut nodes: Vec<Node> = chosen.to_vec();
        let mut first: Vec<(Vec<usize>, Vec<String>)> = Vec::new();
        let mut at = 0;
        while at < nodes.len() {
            let own = self.precede(&mut nodes, at);
            first.push(own);
            at += 1;
        }
        let mut placed: Vec<usize> = Vec::new();
        let mut waiting: Vec<usize> = (0..nodes.len()).collect();
        waiting.sort_by_key(|at| (self.due(&nodes[*at]), nodes[*at].clone()));
        while !waiting.is_empty() {
            // In a circle nothing is ready; then the next one is taken, and what it closes is found out all the same.
            let ready = waiting.iter().position(|at| first[*at].0.iter().all(|before| placed.contains(before)));
            placed.push(waiting.remove(ready.unwrap_or(0)));
        }
        let place = |at: &usize| placed.iter().position(|own| own == at).unwrap_or(0);
        let steps: Vec<Step> = placed
            .iter()
            .map(|at| Step {
                node: nodes[*at].clone(),
                after: first[*at].0.iter().map(place).collect(),
                events: first[*at].1.clone(),
                closes: Vec::new(),
            })
            .collect();
        let known = |name: &str| self.model().find(name).is_some();
        let names = (1..=steps.len()).map(|number| {
            let mut name = format!("step-{number}");
            while known(&name) {
                name.push('-');
            }
            Id::new(&name)
        });
        let names = names.collect();
        (steps, names)
    }

    /// The first event before which something is due that a record would count for.
    fn due(&self, node: &Node) -> usize {
        let rows = (0..self.rows.len()).filter(|row| self.rows[*row].state.is_open() && self.counts(node, *row));
        rows.map(|row| self.rows[row].event).min().unwrap_or(usize::MAX)
    }

    /// What must come before a record: other records, added where they are not there yet, and events.
    fn precede(&self, nodes: &mut Vec<Node>, at: usize) -> (Vec<usize>, Vec<String>) {
        let node = nodes[at].clone();
        let counting = (0..self.rows.len()).filter(|row| self.counts(&node, *row));
        let names: BTreeSet<String> = counting
            .filter_map(|row| Some(self.plan(row)?.1.after.iter().map(|name| name.value.clone())))
            .flatten()
            .collect();
        let (mut before, mut events) = (Vec::new(), Vec::new());
        for name in names {
            if self.model().config.event_index(&name).is_some() {
                events.push(name);
            } else if !self.has_run(&name, &node.subject) {
                let known = nodes
                    .iter()
                    .position(|own| own.procedure.as_deref() == Some(name.as_str()) && own.subject == node.subject);
                before.push(known.unwrap_or_else(|| {
                    nodes.push(self.run_of(&name, &node));
                    nodes.len() - 1
                }));
            }
        }
        before.retain(|own| *own != at);
        (before, events)
    }

    /// A run of a procedure for no other reason than that another must follow it.
    fn run_of(&self, procedure: &str, for_node: &Node) -> Node {
        let entries = self.model().requirements.iter().flat_map(|requirement| &requirement.plan);
        let mut own = entries.filter(|entry| entry.procedure.as_ref().is_some_and(|own| own.as_str() == procedure));
        let method = own.find_map(|entry| entry.method).unwrap_or(Method::Test);
        Node { method, procedure: Some(Id::new(procedure)), stage: for_node.stage, subject: for_node.subject.clone() }
    }

    /// Whether there is a signed record of a procedure on a subject.
    fn has_run(&self, procedure: &str, subject: &Subject) -> bool {
        let facts = self.analysis.facts();
        let runs = facts.graph.runs.get(procedure).into_iter().flatten();
        let mut on = runs.filter(|at| {
            let record = &self.model().records[**at];
            match subject {
                Subject::Serial(serial) => record.serials.iter().any(|own| own.value == *serial),
                Subject::Item(item) => {
                    record.serials.is_empty() && record.item.as_ref().is_some_and(|own| own.value == *item)
                }
                Subject::Project => record.serials.is_empty() && record.item.is_none(),
            }
        });
        on.any(|at| standing(&facts, *at) == Standing::Signed)
    }

    /// The rows after every step has been carried out and met everything, by the position of the row of today.
    fn supposing(&self, steps: &[Step], names: &[Id]) -> BTreeMap<usize, Option<Row>> {
        let facts = self.analysis.facts();
        let records: Vec<Record> =
            steps.iter().zip(names).filter_map(|(step, name)| self.record(&facts, steps, step, name)).collect();
        let after = self.analysis.suppose(|model| model.records.extend(records.into_iter().map(Arc::new)));
        let mut later: BTreeMap<(usize, EntryRef, Subject), Row> = after
            .rows(Some(self.event))
            .into_iter()
            .map(|row| ((row.requirement, row.entry, row.subject.clone()), row))
            .collect();
        let own = self.rows.iter().map(|row| later.remove(&(row.requirement, row.entry, row.subject.clone())));
        own.enumerate().collect()
    }

    /// A signed record that meets what is asked of every row that it counts for, on the day after what it follows.
    fn record(&self, facts: &Facts<'_>, steps: &[Step], step: &Step, name: &Id) -> Option<Record> {
        let model = self.model();
        let span = model.requirements.first()?.head.fence;
        let mut head = model.requirements.first()?.head.clone();
        head.id = Spanned::new(name.clone(), span);
        let node = &step.node;
        let date = facts.today.checked_add(depth(steps, step, 0).days()).ok()?;
        let (serials, item) = match &node.subject {
            Subject::Serial(serial) => (vec![Spanned::new(serial.clone(), span)], None),
            Subject::Item(item) => (Vec::new(), Some(Spanned::new(item.clone(), span))),
            Subject::Project => (Vec::new(), None),
        };
        let procedure = node.procedure.as_ref().and_then(|id| model.procedure(id));
        let counting: Vec<usize> = (0..self.rows.len()).filter(|row| self.counts(node, *row)).collect();
        let asked: BTreeSet<usize> = counting.iter().map(|row| self.rows[*row].requirement).collect();
        let conditions =
            asked.iter().flat_map(|at| &model.requirements[*at].criteria).flat_map(|own| &own.at).filter_map(|own| {
                let texts = candidates(own.min.as_ref(), own.max.as_ref())
                    .into_iter()
                    .map(|text| Spanned::new(Scalar::Text(text), span));
                let good = texts.into_iter().find(|text| condition_holds(facts, own, Some(text)).is_ok())?;
                Some((Spanned::new(own.name.clone(), span), good))
            });
        Some(Record {
            head,
            method: node.method,
            date: Some(Spanned::new(Moment::day(date), span)),
            revision: None,
            revisions: revisions(model, &node.subject),
            serials,
            item,
            stage: node.stage,
            procedure: node.procedure.clone().map(|id| Spanned::new(id, span)),
            procedure_revision: procedure.and_then(|own| own.revision.clone()),
            performed_by: None,
            witnessed_by: Vec::new(),
            signed_by: None,
            instruments: procedure.map(|own| own.instruments.clone()).unwrap_or_default(),
            no_instrument: Some("supposed".into()),
            conditions: conditions.collect(),
            readings: Vec::new(),
            status: Spanned::new(RecordStatus::Signed, span),
            reason: None,
            withdrawn_by: None,
            withdrawn: None,
            seal: Some(Spanned::new("supposed".into(), span)),
            seal_now: "supposed".into(),
            deviations: Vec::new(),
            actions: Vec::new(),
            verifies: asked.iter().map(|at| verifies(facts, &model.requirements[*at])).collect(),
            data: Vec::new(),
            inputs: Vec::new(),
            calculates: false,
        })
    }
}

/// How many days after today a step can be taken at the earliest: one after what it follows.
fn depth(steps: &[Step], step: &Step, deep: usize) -> i64 {
    if deep > steps.len() {
        return 1;
    }
    1 + step.after.iter().filter_map(|at| steps.get(*at)).map(|own| depth(steps, own, deep + 1)).max().unwrap_or(0)
}

/// The revisions that a record on a subject would see.
fn revisions(model: &Model, subject: &Subject) -> BTreeMap<Id, Spanned<String>> {
    let seen = match subject {
        Subject::Serial(serial @ SerialId { item, .. }) => model
            .serial(serial)
            .and_then(|(whole, piece)| piece.revision.clone().or(whole.revision.clone()))
            .map(|own| (item, own)),
        Subject::Item(item) => model.item(item).and_then(|own| own.revision.clone()).map(|own| (item, own)),
        Subject::Project => None,
    };
    seen.into_iter().map(|(item, revision)| (item.clone(), revision)).collect()
}

/// Results that meet a requirement as it is.
fn verifies(facts: &Facts<'_>, requirement: &Requirement) -> Verifies {
    let span = requirement.head.fence;
    let result = |criterion: &Criterion| {
        let texts = match &criterion.expects {
            Expectation::Limits { min, max } => candidates(min.as_ref(), max.as_ref()),
            Expectation::Words(words) => words.clone(),
            Expectation::Count(least) => vec![least.to_string()],
        };
        let mut results = texts.into_iter().map(|text| Spanned::new(ResultText::Written(Scalar::Text(text)), span));
        let good =
            results.find(|result| matches!(judge_result(facts, &criterion.expects, result).verdict, Verdict::Met))?;
        Some((Spanned::new(criterion.name.clone(), span), good))
    };
    Verifies {
        requirement: requirement.head.id.clone(),
        mark: Some(Spanned::new(requirement.mark.clone(), span)),
        result: None,
        results: requirement.criteria.iter().filter_map(result).collect(),
        outcomes: Vec::new(),
        not_judged: Vec::new(),
        reaffirmed: Vec::new(),
    }
}

/// Texts of values of which one lies between limits: a bound, a limit itself, something well inside.
fn candidates(min: Option<&Limit>, max: Option<&Limit>) -> Vec<String> {
    let quantity = |limit: Option<&Limit>| limit.and_then(|limit| limit.quantity().cloned());
    let (min, max) = (quantity(min), quantity(max));
    let mut texts = Vec::new();
    texts.extend(min.iter().map(|own| format!("> {}", own.show())));
    texts.extend(max.iter().map(|own| format!("< {}", own.show())));
    let exactly = |number: &str, unit: &str| format!("{number} ± 0 {unit}").trim_end().to_string();
    for own in min.iter().chain(&max) {
        let shown = own.show();
        let (number, unit) = shown.split_once(' ').unwrap_or((shown.as_str(), ""));
        texts.extend([exactly(number, unit), shown.clone()]);
    }
    let number = |own: &crate::quantity::Quantity| own.unit.from_si(&own.value).to_f64();
    let inside = match (&min, &max) {
        (Some(min), Some(max)) => {
            number(min).zip(max.unit.from_si(&max.value).to_f64()).map(|(a, b)| ((a + b) / 2.0, min))
        }
        (Some(own), None) => number(own).map(|a| (a + a.abs() / 2.0, own)),
        (None, Some(own)) => number(own).map(|a| (a - a.abs() / 2.0, own)),
        (None, None) => None,
    };
    if let Some((value, own)) = inside {
        texts.extend([exactly(&value.to_string(), &own.unit.symbol), format!("{value} {}", own.unit.symbol)]);
    }
    texts
}

/// The fewest records that count for every row, and whether it is certain that there are no fewer.
fn cover(able: &BTreeMap<usize, Vec<Node>>) -> (Vec<Node>, bool) {
    let mut open: BTreeMap<usize, BTreeSet<&Node>> =
        able.iter().map(|(row, nodes)| (*row, nodes.iter().collect())).collect();
    let mut chosen: BTreeSet<&Node> = BTreeSet::new();
    // A row with one choice leaves none.
    let forced: Vec<&Node> = open.values().filter(|nodes| nodes.len() == 1).flatten().copied().collect();
    chosen.extend(forced);
    open.retain(|_, nodes| nodes.is_disjoint(&chosen));
    let mut shortest = true;
    while let Some((first, _)) = open.first_key_value().map(|(row, nodes)| (*row, nodes.len())) {
        let group = connected(&open, first);
        let rows: Vec<&BTreeSet<&Node>> = group.iter().filter_map(|row| open.get(row)).collect();
        let choices: Vec<&Node> =
            rows.iter().flat_map(|nodes| nodes.iter().copied()).collect::<BTreeSet<_>>().into_iter().collect();
        let best = if choices.len() <= CHOICES { fewest(&rows, &choices) } else { None };
        shortest &= best.is_some();
        chosen.extend(best.unwrap_or_else(|| greedy(&rows)));
        open.retain(|row, _| !group.contains(row));
    }
    (chosen.into_iter().cloned().collect(), shortest)
}

/// The rows that share choices with one, or with one that does.
fn connected(open: &BTreeMap<usize, BTreeSet<&Node>>, first: usize) -> BTreeSet<usize> {
    let mut group = BTreeSet::from([first]);
    let mut waiting = vec![first];
    while let Some(at) = waiting.pop() {
        for (row, nodes) in open {
            if open.get(&at).is_some_and(|own| !own.is_disjoint(nodes)) && group.insert(*row) {
                waiting.push(*row);
            }
        }
    }
    group
}

/// The smallest set of choices that has one of every row, of equals one with pieces rather than items.
fn fewest<'n>(rows: &[&BTreeSet<&'n Node>], choices: &[&'n Node]) -> Option<Vec<&'n Node>> {
    let masks: Vec<u32> = rows
        .iter()
        .map(|nodes| {
            choices.iter().enumerate().filter(|(_, own)| nodes.contains(*own)).fold(0, |mask, (at, _)| mask | 1 << at)
        })
        .collect();
    let sets = (0..1u32 << choices.len()).filter(|set| masks.iter().all(|mask| mask & set != 0));
    let best = sets.min_by_key(|set| (set.count_ones(), std::cmp::Reverse(*set)))?;
    Some(choices.iter().enumerate().filter(|(at, _)| best & (1 << at) != 0).map(|(_, own)| *own).collect())
}

/// Choices that count for the most rows first.
fn greedy<'n>(rows: &[&BTreeSet<&'n Node>]) -> Vec<&'n Node> {
    let mut open: Vec<&BTreeSet<&'n Node>> = rows.to_vec();
    let mut chosen = Vec::new();
    while !open.is_empty() {
        let mut counts: BTreeMap<&Node, usize> = BTreeMap::new();
        open.iter().flat_map(|nodes| nodes.iter()).for_each(|node| *counts.entry(node).or_default() += 1);
        let Some((best, _)) = counts.into_iter().max_by_key(|(node, count)| (*count, std::cmp::Reverse(*node))) else {
            break;
        };
        open.retain(|nodes| !nodes.contains(best));
        chosen.push(best);
    }
    chosen
}

#[cfg(test)]
mod tests {
    use super::*;

    fn node(number: u8) -> Node {
        let item = Id::new(&format!("I-{number}"));
        Node { method: Method::Test, procedure: None, stage: None, subject: Subject::Item(item) }
    }

    /// The smallest number of choices that has one of every row, by trying every set of all nine.
    fn by_hand(rows: &[Vec<u8>]) -> u32 {
        let sets = 0..1u32 << 9;
        let good = sets.filter(|set| rows.iter().all(|row| row.iter().any(|own| set & (1 << own) != 0)));
        good.map(u32::count_ones).min().unwrap_or(0)
    }

    proptest::proptest! {
        #[test]
        fn no_shorter_list_counts_for_every_row(
            rows in proptest::collection::vec(proptest::collection::btree_set(0u8..9, 1..4), 0..9)
        ) {
            let rows: Vec<Vec<u8>> = rows.into_iter().map(|row| row.into_iter().collect()).collect();
            let able: BTreeMap<usize, Vec<Node>> =
                rows.iter().enumerate().map(|(at, row)| (at, row.iter().map(|own| node(*own)).collect())).collect();
            let (chosen, shortest) = cover(&able);
            proptest::prop_assert!(shortest);
            proptest::prop_assert_eq!(chosen.len() as u32, by_hand(&rows));
            proptest::prop_assert!(able.values().all(|nodes| nodes.iter().any(|own| chosen.contains(own))));
        }
    }

    #[test]
    fn too_many_choices_are_covered_all_the_same_and_it_is_said() {
        let all: Vec<Node> = (0..20).map(node).collect();
        let able: BTreeMap<usize, Vec<Node>> =
            (0..19).map(|at| (at, vec![all[at].clone(), all[at + 1].clone()])).collect();
        let (chosen, shortest) = cover(&able);
        assert!(!shortest && able.values().all(|nodes| nodes.iter().any(|own| chosen.contains(own))));
    }
}
