//! What must hold before a run begins, and how it stands today.

use std::collections::BTreeSet;

use serde::Serialize;

use crate::analysis::Analysis;
use crate::model::kinds::procedure::names_a_thing;
use crate::model::kinds::{HeldEvent, Record};
use crate::model::{Ref, SerialId};
use crate::state::held::holdings;
use crate::state::run::Run;
use crate::state::standing::{Standing, standing};
use crate::state::{Row, State, Subject};

/// A prerequisite and how it stands.
#[derive(Clone, Debug, Serialize)]
pub struct SheetPrerequisite {
    /// As written, or the id.
    pub name: String,
    /// Title and who asks for it.
    pub what: String,
    /// How it stands today, from the records; none where people have to look.
    pub today: Option<String>,
    /// Whether it stands as it should.
    pub holds: Option<bool>,
}

/// What the procedure has as prerequisites and the plan asks to come first.
pub(super) fn prerequisites(analysis: &Analysis, run: &Run<'_>, rows: &[Row]) -> Vec<SheetPrerequisite> {
    let mut asked: Vec<(String, Vec<String>)> =
        run.procedure.prerequisites.iter().map(|own| (own.value.clone(), Vec::new())).collect();
    for one in &run.wanted {
        for after in &one.entry.after {
            let by = one.requirement.head.id.value.to_string();
            match asked.iter_mut().find(|(name, _)| *name == after.value) {
                Some((_, ids)) if ids.contains(&by) => {}
                Some((_, ids)) => ids.push(by),
                None => asked.push((after.value.clone(), vec![by])),
            }
        }
    }
    asked.into_iter().map(|(name, by)| prerequisite(analysis, run, rows, name, &by)).collect()
}

fn prerequisite(analysis: &Analysis, run: &Run<'_>, rows: &[Row], name: String, by: &[String]) -> SheetPrerequisite {
    let model = &analysis.model;
    let (title, state) = match (names_a_thing(&name), model.config.event_index(&name), model.find(&name)) {
        (false, ..) => (String::new(), None),
        (true, Some(event), _) => ("event".to_string(), Some(event_held(analysis, run, rows, event))),
        (true, None, Some(Ref::Procedure(at))) => {
            (model.procedures[at].head.title.clone(), Some(run_of(analysis, run, rows, &name)))
        }
        (true, None, Some(Ref::Requirement(at))) => (
            model.requirements[at].head.title.clone(),
            Some(rows_of(rows, |row| row.requirement == at && concerns(run, row))),
        ),
        (true, None, _) => ("nothing has this id".to_string(), Some(("cannot be told".to_string(), false))),
    };
    let by = if by.is_empty() { String::new() } else { format!("asked by {}", by.join(", ")) };
    let what = [title, by].into_iter().filter(|text| !text.is_empty()).collect::<Vec<_>>().join("; ");
    let holds = state.as_ref().map(|(_, holds)| *holds);
    SheetPrerequisite { name, what, today: state.map(|(text, _)| text), holds }
}

/// Whether a row is about the pieces of a run, or the design of one.
fn concerns(run: &Run<'_>, row: &Row) -> bool {
    match &row.subject {
        Subject::Project => true,
        Subject::Item(item) => run.pieces.iter().any(|piece| piece.item == *item),
        Subject::Serial(serial) => run.pieces.contains(serial),
    }
}

/// The state of some rows in words, and whether none of them is open; none at all holds nothing.
fn rows_of(rows: &[Row], fits: impl Fn(&Row) -> bool) -> (String, bool) {
    let states: Vec<State> = rows.iter().filter(|row| fits(row)).map(|row| row.state).collect();
    match states.iter().min() {
        Some(worst) => (worst.word().to_string(), !states.iter().any(|state| state.is_open())),
        None => ("nothing is planned for it here".to_string(), false),
    }
}

/// Whether an event was held and completed with what the run is about; where it was not, what is open before it.
fn event_held(analysis: &Analysis, run: &Run<'_>, rows: &[Row], event: usize) -> (String, bool) {
    let name = &analysis.model.config.events[event].name.value;
    let facts = analysis.facts();
    let pieces: BTreeSet<&SerialId> =
        run.pieces.first().into_iter().chain(run.wanted.iter().filter_map(|one| one.piece.as_ref())).collect();
    let newest = holdings(&facts, name)
        .filter(|(_, with)| pieces.iter().all(|piece| with.there.contains(*piece)))
        .map(|(held, _)| held)
        .max_by_key(|held| (held.is_completed(), held.date.as_ref().map(|date| date.value.in_lists())));
    match newest {
        Some(held) if held.is_completed() => (format!("held: {}", when(held)), true),
        Some(held) => (format!("not completed: {}; {}", when(held), before_event(rows, event)), false),
        None => {
            let with = pieces.first().map_or_else(String::new, |piece| format!(" with {piece}"));
            (format!("not held{with}; {}", before_event(rows, event)), false)
        }
    }
}

/// A held event and its day.
fn when(held: &HeldEvent) -> String {
    let date = held.date.as_ref().map_or("no date", |date| date.text.as_str());
    format!("{}, {date}", held.head.id.value)
}

fn before_event(rows: &[Row], event: usize) -> String {
    let due: Vec<&Row> = rows.iter().filter(|row| row.event <= event).collect();
    match (due.len(), due.iter().filter(|row| row.state.is_open()).count()) {
        (0, _) => "nothing is planned before it".to_string(),
        (_, 0) => "none of its rows is open; look at slipmark before".to_string(),
        (_, 1) => "1 row is open before it".to_string(),
        (_, open) => format!("{open} rows are open before it"),
    }
}

/// The newest signed run of a procedure on each piece that its rows are about, and what it left open.
fn run_of(analysis: &Analysis, run: &Run<'_>, rows: &[Row], procedure: &str) -> (String, bool) {
    let facts = analysis.facts();
    let runs = facts.graph.runs.get(procedure).into_iter().flatten().map(|at| (*at, &facts.model.records[*at]));
    let own = runs.filter(|(at, record)| standing(&facts, *at) == Standing::Signed && on_pieces(run, record));
    let newest = own.map(|(_, record)| record).max_by_key(|record| record.date.as_ref().map(|date| date.date));
    let Some(newest) = newest else {
        let on = run.pieces.first().map_or_else(|| "the project".to_string(), SerialId::to_string);
        return (format!("no signed run on {on}"), false);
    };
    let date = newest.date.as_ref().map_or_else(String::new, |date| format!(", {}", date.text));
    let open = rows.iter().filter(|row| {
        row.state.is_open() && row.procedure.as_ref().is_some_and(|own| own.as_str() == procedure) && concerns(run, row)
    });
    let open: Vec<String> = open
        .map(|row| format!("{} {}", analysis.model.requirements[row.requirement].head.id.value, row.state.word()))
        .collect();
    let left = if open.is_empty() { String::new() } else { format!("; open: {}", open.join(", ")) };
    (format!("{}{date}{left}", newest.head.id.value), open.is_empty())
}

fn on_pieces(run: &Run<'_>, record: &Record) -> bool {
    match run.pieces.is_empty() {
        true => record.serials.is_empty() && record.item.is_none(),
        false => record.serials.iter().any(|serial| run.pieces.contains(&serial.value)),
    }
}
