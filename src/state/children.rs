//! Rows of requirements that are verified by their children.

use std::collections::BTreeMap;

use crate::model::Id;
use crate::model::kinds::{Criterion, Expectation, Requirement, RequirementStatus};

use super::relief::{self, Asked, Where};
use super::rows::{
    CriterionState, EntryRef, Row, Subject, by_requirement, counts, subject_of, unresolved, when, worst,
};
use super::scope::{event_of, targets};
use super::{Facts, Reason, State};

/// Adds a row for each requirement that is verified by its children.
pub(super) fn add(facts: &Facts<'_>, asked: Option<usize>, rows: &mut Vec<Row>) {
    if facts.model.requirements.iter().all(|own| own.by_children_at.is_none()) {
        return;
    }
    let mut made = Made { facts, asked, plan: by_requirement(rows), rows, done: BTreeMap::new() };
    for (at, requirement) in facts.model.requirements.iter().enumerate() {
        if counts(requirement) && requirement.by_children_at.is_some() {
            made.requirement(at, event_of(facts, requirement, None), 0);
        }
    }
    let new: Vec<Row> = std::mem::take(&mut made.done).into_values().flatten().collect();
    rows.extend(
        new.into_iter().filter(|row| row.event == event_of(facts, &facts.model.requirements[row.requirement], None)),
    );
}

/// How deep children of children are followed; deeper than this is a chain nobody wrote.
const DEEPEST: usize = 200;

struct Made<'a, 'r> {
    facts: &'a Facts<'a>,
    asked: Option<usize>,
    plan: BTreeMap<usize, Vec<usize>>,
    rows: &'r mut Vec<Row>,
    /// By requirement and the event it was asked about.
    done: BTreeMap<(usize, usize), Vec<Row>>,
}

impl Made<'_, '_> {
    /// The rows of one requirement, asked about at `event` unless one event is asked about throughout.
    fn requirement(&mut self, at: usize, event: usize, depth: usize) -> Vec<Row> {
        if let Some(rows) = self.done.get(&(at, event)) {
            return rows.clone();
        }
        let requirement = &self.facts.model.requirements[at];
        let mut reasons = self.own_reasons(at, requirement);
        let looped = self.facts.graph.parent_cycles.contains(&at) || depth > DEEPEST;
        if looped {
            let text = format!("{} is among its own descendants", requirement.head.id.value);
            reasons.push(Reason::new("children-cycle", text));
        } else {
            for child in self.facts.graph.children[at].clone() {
                reasons.extend(self.child(child, self.asked.unwrap_or(event), depth));
            }
        }
        reasons.retain(|reason| !self.facts.switch.is_off(reason.code));
        let rows = self.rows(at, event, reasons);
        self.done.insert((at, event), rows.clone());
        rows
    }

    fn own_reasons(&self, at: usize, requirement: &Requirement) -> Vec<Reason> {
        let id = &requirement.head.id.value;
        let mut reasons = Vec::new();
        if requirement.status == RequirementStatus::Draft {
            reasons.push(Reason::new("requirement-draft", format!("{id} is a draft")));
        }
        let children = &self.facts.graph.children[at];
        if children.is_empty() {
            reasons.push(Reason::new("no-child", format!("{id} has no active children")));
        }
        let Some(statement) = &requirement.by_children else {
            reasons.push(Reason::new("no-sufficiency", format!("nobody has said that the children of {id} suffice")));
            return reasons;
        };
        match &statement.mark {
            None => reasons.push(Reason::new("mark-missing", format!("the statement carries no mark of {id}"))),
            Some(mark) if mark.value != requirement.mark => {
                let help = format!("judge again, then set mark = \"{}\" under [by_children]", requirement.mark);
                reasons.push(
                    Reason::new("mark-slipped", format!("{id} was reworded since its children were judged to suffice"))
                        .help(help),
                );
            }
            Some(_) => {}
        }
        let mut now: Vec<&Id> =
            children.iter().map(|child| &self.facts.model.requirements[*child].head.id.value).collect();
        let mut then: Vec<&Id> = statement.list.iter().map(|child| &child.value).collect();
        for list in [&mut now, &mut then] {
            list.sort();
            list.dedup();
        }
        if now != then {
            let names = now.iter().map(|id| format!("\"{id}\"")).collect::<Vec<_>>().join(", ");
            let help = format!("judge again, then set list = [{names}] under [by_children]");
            reasons.push(
                Reason::new("children-changed", format!("the children of {id} are not those that were judged"))
                    .help(help),
            );
        }
        reasons
    }

    /// What one child's rows due at or before `event` give reason for.
    fn child(&mut self, child: usize, event: usize, depth: usize) -> Vec<Reason> {
        let requirement = &self.facts.model.requirements[child];
        let id = &requirement.head.id.value;
        let mut states: Vec<(State, Subject)> = Vec::new();
        for index in self.plan.get(&child).into_iter().flatten() {
            let row = &self.rows[*index];
            if row.event <= event {
                states.push((row.state, row.subject.clone()));
            }
        }
        let own = event_of(self.facts, requirement, None);
        if requirement.by_children_at.is_some() && own <= event {
            states.extend(self.requirement(child, own, depth + 1).into_iter().map(|row| (row.state, row.subject)));
        }
        if states.is_empty() {
            let text = format!("{id} has nothing due by then");
            return vec![Reason::new("child-not-due", text).because_of(id)];
        }
        let worst = states.into_iter().filter(|(state, _)| state.is_open()).min_by_key(|(state, _)| *state);
        let open = worst.map(|(state, subject)| {
            let text = format!("{id} is {} ({subject})", state.word());
            let help = format!("close {id}: slipmark show {id}");
            Reason::new("child-open", text).state(state).because_of(id).help(help)
        });
        open.into_iter().collect()
    }

    fn rows(&self, at: usize, event: usize, reasons: Vec<Reason>) -> Vec<Row> {
        let requirement = &self.facts.model.requirements[at];
        let mut rows: Vec<Row> = Vec::new();
        for target in targets(self.facts, requirement) {
            let subject = subject_of(self.facts, &target);
            if rows.iter().any(|row| row.subject == subject) {
                continue;
            }
            let mut reasons = reasons.clone();
            reasons.extend(unresolved(&target).into_iter().filter(|reason| !self.facts.switch.is_off(reason.code)));
            let criteria = vec![self.criterion(requirement, event, &subject, &reasons)];
            let (state, covers, waiver) = worst(&criteria);
            rows.push(Row {
                requirement: at,
                entry: EntryRef::Children,
                method: None,
                stage: None,
                procedure: None,
                event,
                subject,
                state,
                covers,
                waiver,
                criteria,
            });
        }
        rows
    }

    fn criterion(
        &self,
        requirement: &Requirement,
        event: usize,
        subject: &Subject,
        reasons: &[Reason],
    ) -> CriterionState {
        let expects = Expectation::Words(vec!["closed".into()]);
        let criterion =
            Criterion { name: "children".into(), span: requirement.head.fence, text: None, expects, at: Vec::new() };
        let place = match subject {
            Subject::Project => Where::Project,
            Subject::Item(item) => Where::Design(item),
            Subject::Serial(serial) => Where::Piece(serial),
        };
        let mut reasons = reasons.to_vec();
        reasons.sort_by_key(|reason| reason.state);
        let found = reasons.first().map_or(State::Closed, |reason| reason.state);
        let when = when(self.facts, self.asked, event);
        let asked = Asked { requirement, criterion: &criterion, place, item: None, when };
        let waiver = relief::covering(self.facts, &asked, &reasons);
        CriterionState {
            name: criterion.name,
            state: if waiver.is_some() { State::Waived } else { found },
            covers: waiver.map(|_| found),
            waiver: waiver.map(|waiver| waiver.head.id.value.clone()),
            record: None,
            result: None,
            limit: "each child closed".into(),
            margin: None,
            reasons,
        }
    }
}
