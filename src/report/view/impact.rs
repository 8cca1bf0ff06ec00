//! What a change to one thing would do: rows before and after, by the derivation that all rows come from.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use crate::analysis::Analysis;
use crate::analysis::again::{Again, shown_again};
use crate::analysis::beside::fresh;
use crate::analysis::change::{Change, changes};
use crate::history::Guard;
use crate::model::kinds::ItemStatus;
use crate::model::{Id, Model};
use crate::state::{EntryRef, Row, State, Subject};

use super::row::state as as_word;
use super::{Heading, HoldingView, Link, ReasonView, RowView, VerdictWord, before_open, holding, show};
use crate::report::text::wrap;

/// What would happen to the project if one thing changed.
#[derive(Clone, Debug, Serialize)]
pub struct ImpactView {
    /// Where it came from.
    #[serde(flatten)]
    pub heading: Heading,
    /// Its id or name.
    pub id: String,
    /// Its kind.
    pub kind: &'static str,
    /// Its title.
    pub title: String,
    /// The file that it stands in.
    pub path: Option<String>,
    /// What names it and what it names.
    pub links: Vec<Link>,
    /// Analyses that name a parameter as where a value is from: in words only, so that nothing is computed from it.
    pub named_by: Vec<NamedView>,
    /// Each change that was looked at.
    pub changes: Vec<SupposedView>,
}

/// An input that says in words that it is from a parameter.
#[derive(Clone, Debug, Serialize)]
pub struct NamedView {
    /// The record.
    pub record: String,
    /// The input.
    pub input: String,
    /// Its source as written.
    pub source: String,
}

/// One change, and what it would do.
#[derive(Clone, Debug, Serialize)]
pub struct SupposedView {
    /// What changes, in a clause.
    pub change: String,
    /// Rows that are closed or waived, and would be open.
    pub reopened: Vec<MovedView>,
    /// Rows that are open already, and would have further reasons.
    pub worse: Vec<MovedView>,
    /// Rows that are open, and would not be.
    pub better: Vec<MovedView>,
    /// Rows that would no longer be asked.
    pub gone: Vec<StillView>,
    /// Rows that would be asked instead or besides.
    pub fresh: Vec<StillView>,
    /// Open rows before each event.
    pub events: Vec<EventView>,
    /// How the reopened rows would be shown again.
    pub again: Vec<AgainView>,
    /// For an event that is held: what it would use of the limited life of the pieces that are there.
    pub life: Vec<HoldingView>,
    /// For a new revision of an item: what to say about the evidence.
    pub keeps_evidence: Option<KeepsView>,
}

/// A row that stands differently after the change.
#[derive(Clone, Debug, Serialize)]
pub struct MovedView {
    /// The row as it is today.
    #[serde(flatten)]
    pub row: StillView,
    /// Its state after the change.
    #[serde(serialize_with = "as_word")]
    pub state_then: State,
    /// The reasons that it has after the change and not today.
    pub reasons: Vec<ReasonView>,
}

/// What a row is about, and its state.
#[derive(Clone, Debug, Serialize)]
pub struct StillView {
    /// The requirement.
    pub requirement: String,
    /// Its title.
    pub title: String,
    /// Whether people depend on it.
    pub safety: bool,
    /// Method, stage and procedure in words.
    pub how: String,
    /// The procedure.
    pub procedure: Option<String>,
    /// On what.
    pub subject: String,
    /// The event before which it is due.
    pub before: Option<String>,
    /// The state.
    #[serde(serialize_with = "as_word")]
    pub state: State,
}

/// How many rows are open before an event.
#[derive(Clone, Debug, Serialize)]
pub struct EventView {
    /// The event.
    pub event: String,
    /// Today.
    pub open_now: usize,
    /// After the change.
    pub open_then: usize,
    /// Whether nothing at all is open before it today, and something would be.
    pub reopens: bool,
}

/// A way in which rows would be shown again.
#[derive(Clone, Debug, Serialize)]
pub struct AgainView {
    /// The procedure, or the kind of record.
    pub how: String,
    /// What is in the way of running it, if something is.
    pub note: Option<String>,
    /// The rows: requirement and subject.
    pub rows: Vec<String>,
}

/// What evidence a new revision would undo, unless it is said to be kept.
#[derive(Clone, Debug, Serialize)]
pub struct KeepsView {
    /// The item's file.
    pub path: String,
    /// The revision.
    pub revision: String,
    /// The evidence.
    pub evidence: Vec<KeptView>,
    /// A `[[revisions]]` table to put into that file and fill in.
    pub toml: String,
}

/// Evidence for one requirement, or of one record.
#[derive(Clone, Debug, Serialize)]
pub struct KeptView {
    /// The requirement, or a record that other evidence rests on.
    pub id: String,
    /// Its title.
    pub title: String,
    /// The records concerned.
    pub records: Vec<String>,
    /// What they say today, each result in a few words; for a record, what rests on it.
    pub results: Vec<String>,
}

/// The view for what has this id or name; none if nothing has, or if no evidence can hang from it.
///
/// `revision` names the new revision of an item or a procedure.
pub fn impact(analysis: &Analysis, guard: &Guard, id: &str, revision: Option<&str>) -> Option<ImpactView> {
    let model = &analysis.model;
    let shown = show(analysis, id)?;
    let changes = changes(model, id, revision);
    if changes.is_empty() {
        return None;
    }
    let now = Now {
        rows: analysis.rows(None),
        ready: (0..model.config.events.len())
            .map(|event| before_open(analysis, guard, event).verdict == VerdictWord::NothingOpen)
            .collect(),
        open: open_by_event(model, &|event| analysis.rows(Some(event))),
    };
    Some(ImpactView {
        heading: Heading::of(analysis),
        id: shown.id,
        kind: shown.kind,
        title: shown.title,
        path: shown.path,
        links: shown.links,
        named_by: if shown.kind == "parameter" { named_by(model, id) } else { Vec::new() },
        changes: changes.iter().map(|change| supposed(analysis, &now, change, revision.is_some())).collect(),
    })
}

/// How the project stands today.
struct Now {
    rows: Vec<Row>,
    /// For each event, whether nothing is open before it.
    ready: Vec<bool>,
    /// For each event, how many rows are open before it.
    open: Vec<usize>,
}

fn open_by_event(model: &Model, rows: &dyn Fn(usize) -> Vec<Row>) -> Vec<usize> {
    let count = |event| rows(event).iter().filter(|row| row.event <= event && row.state.is_open()).count();
    (0..model.config.events.len()).map(count).collect()
}

/// Inputs whose source names a parameter as a word.
fn named_by(model: &Model, parameter: &str) -> Vec<NamedView> {
    let named = |source: &str| source.split(|c: char| !c.is_alphanumeric() && c != '_').any(|word| word == parameter);
    let inputs = model.records.iter().flat_map(|record| record.inputs.iter().map(move |input| (record, input)));
    let own = inputs.filter_map(|(record, input)| {
        let source = input.source.as_ref().filter(|source| named(source))?;
        Some(NamedView {
            record: record.head.id.value.to_string(),
            input: input.name.value.clone(),
            source: source.value.clone(),
        })
    });
    own.collect()
}

/// What names a row through a change.
type Key = (usize, EntryRef, Subject);

fn key(row: &Row) -> Key {
    (row.requirement, row.entry, row.subject.clone())
}

fn supposed(analysis: &Analysis, now: &Now, change: &Change, named: bool) -> SupposedView {
    let model = &analysis.model;
    let after = analysis.suppose(|model| change.make(model, analysis.request.today));
    let then = after.rows(None);
    let later: BTreeMap<Key, &Row> = then.iter().map(|row| (key(row), row)).collect();
    let earlier: BTreeSet<Key> = now.rows.iter().map(key).collect();
    let still = |row: &Row| StillView::of(model, row);
    let (mut reopened, mut worse, mut better, mut gone) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for row in &now.rows {
        let Some(moved) = later.get(&key(row)) else {
            gone.push(still(row));
            continue;
        };
        let reasons = new_reasons(row, moved, change);
        let view = |reasons| MovedView { row: still(row), state_then: moved.state, reasons };
        match (row.state.is_open(), moved.state.is_open()) {
            (false, true) => reopened.push((*moved, view(reasons))),
            (true, true) if !reasons.is_empty() => worse.push(view(reasons)),
            (true, false) => better.push(view(reasons)),
            _ => {}
        }
    }
    let opened: Vec<&Row> = reopened.iter().map(|(row, _)| *row).collect();
    let asked_anew = then.iter().filter(|row| !earlier.contains(&key(row)));
    let open = open_by_event(model, &|event| after.rows(Some(event)));
    SupposedView {
        change: change.says(model),
        worse,
        better,
        gone,
        fresh: asked_anew.clone().map(still).collect(),
        events: events(model, now, &open),
        again: again(model, opened.into_iter().chain(asked_anew.filter(|row| row.state.is_open()))),
        life: if let Change::EventHeld(event) = change { holding(analysis, *event) } else { Vec::new() },
        keeps_evidence: named.then(|| keeps(analysis, &now.rows, &then, change)).flatten(),
        reopened: reopened.into_iter().map(|(_, view)| view).collect(),
    }
}

impl StillView {
    fn of(model: &Model, row: &Row) -> StillView {
        let view = RowView::of(model, row);
        StillView {
            how: view.how(),
            requirement: view.requirement,
            title: view.title,
            safety: view.safety,
            procedure: view.procedure,
            subject: view.subject,
            before: view.before,
            state: view.state,
        }
    }
}

/// The reasons that a row has after the change, and does not have today, each once.
fn new_reasons(now: &Row, then: &Row, change: &Change) -> Vec<ReasonView> {
    let mut views: Vec<ReasonView> = Vec::new();
    for reason in fresh(now, then) {
        let mut view = ReasonView::of(reason);
        // What the new text will say is not known, so whether a result would meet it is not either.
        if let (Change::Reworded(_), "mark-slipped") = (change, reason.code) {
            let what = reason.record.as_ref().map_or("the statement about its children", Id::as_str);
            view.text = format!("{what} was judged against what it says today");
        }
        if !views.contains(&view) {
            views.push(view);
        }
    }
    views
}

fn events(model: &Model, now: &Now, then: &[usize]) -> Vec<EventView> {
    let each = model.config.events.iter().zip(&now.open).zip(then).zip(&now.ready);
    let view = each.map(|(((event, open_now), open_then), ready)| EventView {
        event: event.name.value.clone(),
        open_now: *open_now,
        open_then: *open_then,
        reopens: *ready && *open_then > 0,
    });
    view.collect()
}

/// How rows would be shown again.
fn again<'r>(model: &Model, rows: impl Iterator<Item = &'r Row>) -> Vec<AgainView> {
    let view = shown_again(model, rows).into_iter().map(|own| AgainView {
        rows: own.rows.iter().map(|row| Again::label(model, row)).collect(),
        how: own.how,
        note: own.note,
    });
    view.collect()
}

/// The evidence that a revision would undo: what has `other-revision` as a reason then, and not today.
fn keeps(analysis: &Analysis, now: &[Row], then: &[Row], change: &Change) -> Option<KeepsView> {
    let Change::Revised(at, revision) = change else { return None };
    let model = &analysis.model;
    let item = &model.items[*at];
    if item.revisions.iter().any(|own| own.revision.value == *revision) || item.status == ItemStatus::Dropped {
        return None;
    }
    let undone = |rows: &[Row], code: &str| -> BTreeSet<(usize, Id)> {
        let each = rows.iter().flat_map(|row| row.reasons().map(move |reason| (row.requirement, reason)));
        let own = each.filter(|(_, reason)| reason.code == code);
        own.filter_map(|(at, reason)| Some((at, reason.record.clone()?))).collect()
    };
    let newly =
        |code: &str| -> Vec<(usize, Id)> { undone(then, code).difference(&undone(now, code)).cloned().collect() };
    let mut by_requirement: BTreeMap<usize, Vec<Id>> = BTreeMap::new();
    for (requirement, record) in newly("other-revision") {
        by_requirement.entry(requirement).or_default().push(record);
    }
    let mut evidence: Vec<KeptView> =
        by_requirement.into_iter().map(|(requirement, records)| kept(model, now, requirement, &records)).collect();
    evidence.extend(rested_on(
        model,
        &item.head.id.value,
        newly("rests-on-void").into_iter().map(|(_, record)| record),
    ));
    Some(KeepsView {
        path: analysis.path(item.head.file).to_string(),
        revision: revision.clone(),
        toml: table(revision, &analysis.request.today.to_string(), &evidence),
        evidence,
    })
}

/// Records on an item that analyses take values from. They are kept by their own name: what they show of other
/// requirements counts too when another record rests on them.
fn rested_on(model: &Model, item: &Id, analyses: impl Iterator<Item = Id>) -> Vec<KeptView> {
    let mut resting: BTreeMap<Id, BTreeSet<Id>> = BTreeMap::new();
    let mut waiting: Vec<Id> = analyses.collect();
    let mut seen: BTreeSet<Id> = waiting.iter().cloned().collect();
    while let Some(id) = waiting.pop() {
        let inputs = model.record(&id).into_iter().flat_map(|record| &record.inputs);
        for below in inputs.filter_map(|input| model.record(input.record(model)?)) {
            let own = &below.head.id.value;
            let here = below.item.as_ref().is_some_and(|it| it.value == *item)
                || below.serials.iter().any(|serial| serial.value.item == *item);
            if here {
                resting.entry(own.clone()).or_default().insert(id.clone());
            }
            if seen.insert(own.clone()) {
                waiting.push(own.clone());
            }
        }
    }
    let view = resting.into_iter().map(|(id, by)| {
        let by: Vec<&str> = by.iter().map(Id::as_str).collect();
        KeptView {
            title: model.record(&id).map(|record| record.head.title.clone()).unwrap_or_default(),
            records: vec![id.to_string()],
            results: vec![format!("{} {} on it", by.join(", "), if by.len() == 1 { "rests" } else { "rest" })],
            id: id.to_string(),
        }
    });
    view.collect()
}

fn kept(model: &Model, now: &[Row], at: usize, records: &[Id]) -> KeptView {
    let requirement = &model.requirements[at];
    let criteria = now.iter().filter(|row| row.requirement == at).flat_map(|row| &row.criteria);
    let own = criteria.filter(|own| own.record.as_ref().is_some_and(|record| records.contains(record)));
    let mut results: Vec<String> = Vec::new();
    for criterion in own {
        let record = criterion.record.as_ref().map_or("", Id::as_str);
        let result = criterion.result.as_deref().unwrap_or("no result");
        let text = format!("{record}: {} {result}, {}", criterion.name, criterion.state.word());
        if !results.contains(&text) {
            results.push(text);
        }
    }
    KeptView {
        id: requirement.head.id.value.to_string(),
        title: requirement.head.title.clone(),
        records: records.iter().map(Id::to_string).collect(),
        results,
    }
}

/// The table, with every requirement in it as a comment: what still stands is for somebody to say.
fn table(revision: &str, today: &str, evidence: &[KeptView]) -> String {
    let mut text = format!("[[revisions]]\nrevision = {}\ndate = {today}\n", quoted(revision));
    text.push_str("reason = \"\"    # what changed, and why\n");
    if evidence.is_empty() {
        text.push_str("keeps_evidence = []\n");
        return text;
    }
    text.push_str("# Take away the # before each one whose evidence still stands.\nkeeps_evidence = [\n");
    for own in evidence {
        text.push_str(&format!("    # {},\n", quoted(&own.id)));
        for note in std::iter::once(&own.title).chain(&own.results) {
            for line in wrap(&one_line(note), NOTES, 0, 2).lines() {
                text.push_str(&format!("    #     {line}\n"));
            }
        }
    }
    text.push_str("]\n");
    text
}

/// The columns that notes in the table take up.
const NOTES: usize = 68;

/// A basic string of TOML.
fn quoted(text: &str) -> String {
    let mut out = String::from("\"");
    for character in text.chars() {
        match character {
            '"' | '\\' => out.extend(['\\', character]),
            c if c.is_control() => out.push_str(&format!("\\u{:04X}", u32::from(c))),
            other => out.push(other),
        }
    }
    out.push('"');
    out
}

/// A text that can stand in a comment.
fn one_line(text: &str) -> String {
    let plain: String = text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    plain.trim().to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_files_say_stays_inside_its_string_and_its_comment() {
        let evidence = KeptView {
            id: "A\"\n]".into(),
            title: "line\n[[revisions]]\u{85}x".into(),
            records: Vec::new(),
            results: Vec::new(),
        };
        let text = table("C\\\"\n", "2026-06-16", &[evidence]);
        let read: toml::Table = text.parse().unwrap();
        let own = &read["revisions"].as_array().unwrap()[0];
        assert_eq!(own["revision"].as_str(), Some("C\\\"\n"));
        assert_eq!(own["keeps_evidence"].as_array().unwrap().len(), 0);
        let taken: toml::Table = text.replace("    # \"", "    \"").parse().unwrap();
        assert_eq!(text.lines().filter(|line| line.starts_with("    #     ")).count(), 1, "{text}");
        let kept = &taken["revisions"].as_array().unwrap()[0]["keeps_evidence"];
        assert_eq!(kept.as_array().unwrap()[0].as_str(), Some("A\"\n]"));
    }
}
