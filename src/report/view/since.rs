//! How the rows before an event stand beside a point in history.

use std::collections::BTreeMap;

use serde::{Serialize, Serializer};

use crate::analysis::Analysis;
use crate::analysis::beside::{Known, known, pairs, replaced};
use crate::state::{EntryRef, Row, State};

/// The rows due before an event, then and now.
#[derive(Clone, Debug, Serialize)]
pub struct SinceView {
    /// How the point was named.
    pub name: String,
    /// The commit; null: before the first one.
    pub oid: Option<String>,
    /// The day on which the question was asked there: the commit's.
    pub today: Option<String>,
    /// Whether that commit held the project, with an event of this name.
    pub event_there: bool,
    /// Open then, and not now.
    pub closed: Vec<SinceRow>,
    /// Not open then, and open now.
    pub opened: Vec<SinceRow>,
    /// Open then and now, in another state.
    pub changed: Vec<SinceRow>,
    /// Due now, and not then.
    pub new: Vec<SinceRow>,
    /// Due then, and not now.
    pub gone: Vec<SinceRow>,
    /// The whole of it in one line.
    pub summary: String,
}

/// One row, then and now.
#[derive(Clone, Debug, Serialize)]
pub struct SinceRow {
    /// The requirement.
    pub requirement: String,
    /// Its title.
    pub title: String,
    /// The plan entry.
    #[serde(serialize_with = "super::row::entry")]
    pub entry: EntryRef,
    /// What it is about.
    pub subject: String,
    /// Its state then; null: there was no such row.
    #[serde(serialize_with = "word")]
    pub was: Option<State>,
    /// Its state now; null: there is no such row.
    #[serde(serialize_with = "word")]
    pub state: Option<State>,
    /// Why it stands as it does now, or what became of it.
    pub reason: Option<String>,
}

fn word<S: Serializer>(state: &Option<State>, serializer: S) -> Result<S::Ok, S::Error> {
    match state {
        Some(state) => serializer.serialize_str(state.word()),
        None => serializer.serialize_none(),
    }
}

/// The point that is looked back to.
#[derive(Clone, Debug)]
pub struct Point<'a> {
    /// How it was named.
    pub name: String,
    /// Whether it is the last commit before what was named: a day, or a decision being recorded.
    pub before: bool,
    /// The commit; none: before the first one.
    pub oid: Option<String>,
    /// The project as it was, asked on the commit's day; none: there was none.
    pub then: Option<&'a Analysis>,
}

impl SinceRow {
    fn of(known: &Known, was: Option<State>, state: Option<State>, reason: Option<String>) -> SinceRow {
        SinceRow {
            requirement: known.requirement.clone(),
            title: known.title.clone(),
            entry: known.row.entry,
            subject: known.row.subject.to_string(),
            was,
            state,
            reason,
        }
    }
}

/// Lays the rows before an event (by position) beside those of a point in history.
pub fn since(now: &Analysis, event: usize, point: &Point<'_>) -> SinceView {
    let name = &now.model.config.events[event].name.value;
    let there = point.then.and_then(|then| then.model.config.event_index(name));
    let replaced = replaced(&now.model);
    let old: Vec<Known> = match (point.then, there) {
        (Some(then), Some(event)) => due(then, event, &replaced),
        _ => Vec::new(),
    };
    let new = due(now, event, &BTreeMap::new());
    let mut view = SinceView {
        name: point.name.clone(),
        oid: point.oid.clone(),
        today: point.then.map(|then| then.request.today.to_string()),
        event_there: there.is_some(),
        closed: Vec::new(),
        opened: Vec::new(),
        changed: Vec::new(),
        new: Vec::new(),
        gone: Vec::new(),
        summary: String::new(),
    };
    for (then, now) in pairs(old, &new) {
        view.add(then.as_ref(), now);
    }
    view.explain_gone(now);
    view.summary = view.in_one_line(&super::changes::point(&point.name, point.before && point.oid.is_some()));
    view
}

/// The rows due before an event; a requirement that another replaces now goes by that one's id.
fn due(analysis: &Analysis, event: usize, replaced: &BTreeMap<&str, &str>) -> Vec<Known> {
    let rows = analysis.rows(Some(event)).into_iter().filter(|row| row.event <= event);
    known(&analysis.model, rows, replaced)
}

/// Why a row stands as it does: what is open, what closed it, or what covers it.
fn why(row: &Row) -> Option<String> {
    if row.state.is_open() {
        return row.reasons().next().map(|reason| reason.text.clone());
    }
    let mut by: Vec<&str> = row.criteria.iter().filter_map(|own| own.record.as_ref()).map(|id| id.as_str()).collect();
    by.extend(row.waiver.iter().map(|id| id.as_str()));
    if row.entry == EntryRef::Children {
        by.push("its children");
    }
    by.sort_unstable();
    by.dedup();
    (!by.is_empty()).then(|| format!("by {}", by.join(", ")))
}

impl SinceView {
    fn add(&mut self, then: Option<&Known>, now: Option<&Known>) {
        let reason = |known: &Known| why(&known.row);
        match (then, now) {
            (Some(then), Some(now)) => {
                let (was, state) = (then.row.state, now.row.state);
                let list = match (was.is_open(), state.is_open()) {
                    (true, false) => &mut self.closed,
                    (false, true) => &mut self.opened,
                    (true, true) if was != state => &mut self.changed,
                    _ => return,
                };
                list.push(SinceRow::of(now, Some(was), Some(state), reason(now)));
            }
            (None, Some(now)) => self.new.push(SinceRow::of(now, None, Some(now.row.state), reason(now))),
            (Some(then), None) => self.gone.push(SinceRow::of(then, Some(then.row.state), None, None)),
            (None, None) => {}
        }
    }

    /// Says what became of the rows that are not due any more.
    fn explain_gone(&mut self, now: &Analysis) {
        if self.gone.is_empty() {
            return;
        }
        let later = known_later(now);
        for row in &mut self.gone {
            let due = later.get(&(row.requirement.clone(), row.subject.clone()));
            let status = now.model.requirement(&row.requirement).map(|it| it.status.word());
            row.reason = Some(match (due, status) {
                (_, None) => "the requirement is not there any more".into(),
                (_, Some("withdrawn")) => "the requirement was withdrawn".into(),
                (Some(event), _) => format!("due before {event} now"),
                (None, _) => "nothing asks for it any more".into(),
            });
        }
    }

    fn in_one_line(&self, point: &str) -> String {
        if self.today.is_none() {
            return format!("since {point}: there was no project yet");
        }
        let mut parts: Vec<String> = Vec::new();
        let mut say = |count: usize, word: &str| {
            if count > 0 {
                parts.push(format!("{count} {word}"));
            }
        };
        say(self.closed.len(), "closed");
        for state in State::ALL {
            let count = self.opened.iter().filter(|row| row.state == Some(state)).count();
            say(count, state.word());
        }
        say(self.changed.len(), "still open in another state");
        let open = self.new.iter().filter(|row| row.state.is_some_and(State::is_open)).count();
        match (self.new.len(), open) {
            (0, _) => {}
            (all, open) if all == open => say(all, "new"),
            (all, 0) => say(all, "new and not open"),
            (all, open) => say(all, &format!("new, of which {open} open")),
        }
        say(self.gone.len(), "not due any more");
        if parts.is_empty() {
            parts.push("no row has moved".into());
        }
        let unknown = if self.event_there { "" } else { " (the event was not listed then)" };
        format!("since {point}: {}{unknown}", parts.join(", "))
    }
}

/// Events by requirement and subject of every row, the earliest.
fn known_later(now: &Analysis) -> BTreeMap<(String, String), String> {
    let mut rows = now.rows(None);
    rows.sort_by_key(|row| std::cmp::Reverse(row.event));
    let named = rows.into_iter().filter_map(|row| {
        let requirement = now.model.requirements[row.requirement].head.id.value.to_string();
        let event = now.model.config.events.get(row.event)?.name.value.clone();
        Some(((requirement, row.subject.to_string()), event))
    });
    named.collect()
}
