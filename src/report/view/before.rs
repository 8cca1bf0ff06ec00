//! What is open before an event.

use std::collections::{BTreeMap, BTreeSet};

use rayon::prelude::*;
use serde::Serialize;

use crate::analysis::Analysis;
use crate::diag::{Class, Finding};
use crate::history::Guard;
use crate::model::Id;
use crate::model::kinds::{HeldEvent, ProcedureStatus, RecordStatus, Waiver};
use crate::state::relief::{When, in_force, scope_of};
use crate::state::standing::{nonconformance_due, open_nonconformances};
use crate::state::{Row, State, is_closable};

use super::lapsing::{LapsingView, lapsing};
use super::later::{LaterView, due_later};
use super::{FindingView, GroupView, Heading, NextView, RowView, SinceView};

/// The verdict.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum VerdictWord {
    /// Nothing that the project lists is open.
    NothingOpen,
    /// Something is.
    Open,
    /// Nothing is planned before the event, which counts as open.
    NothingPlanned,
}

/// What is open before an event.
#[derive(Clone, Debug, Serialize)]
pub struct BeforeView {
    /// Where it came from.
    #[serde(flatten)]
    pub heading: Heading,
    /// The event.
    pub event: String,
    /// The day for which it is planned, as written.
    pub event_date: Option<String>,
    /// How many days that is after the day on which the question is asked; negative once it has passed.
    pub event_in_days: Option<i32>,
    /// The events up to this one, in the order in which they happen.
    #[serde(skip)]
    pub events: Vec<String>,
    /// The verdict.
    pub verdict: VerdictWord,
    /// How many things are open: rows, nonconformances, faults, gaps.
    pub open_total: usize,
    /// Rows due, by state.
    pub counts: BTreeMap<&'static str, usize>,
    /// How many rows are due before this event itself, and not before an earlier one already.
    pub own_rows: usize,
    /// Rows due, safety first, worst first.
    pub rows: Vec<RowView>,
    /// Procedures that open rows ask for and that are still drafts.
    pub draft_procedures: Vec<String>,
    /// Every fault in the project.
    pub faults: Vec<FindingView>,
    /// Gaps of what is due.
    pub gaps: Vec<FindingView>,
    /// Open nonconformances due.
    pub nonconformances: Vec<String>,
    /// The same with what each lacks.
    pub nonconformance_details: Vec<NonconformanceView>,
    /// Nonconformances that are open against what is due, and due only before a later event; they do not change the verdict.
    pub due_later: Vec<LaterView>,
    /// Waivers in force for what is due.
    pub waivers: Vec<String>,
    /// The same with what each covers.
    pub waiver_details: Vec<WaiverView>,
    /// Withdrawn evidence of what is due.
    pub withdrawn: Vec<String>,
    /// The same with reasons.
    pub withdrawn_details: Vec<WithdrawnView>,
    /// Evidence that lapses, where the event has no date; it does not change the verdict.
    pub lapsing: Vec<LapsingView>,
    /// What is asked less than at the last annotated tag.
    pub less_asked: Vec<LessAskedView>,
    /// That tag.
    pub less_asked_since: Option<String>,
    /// How the rows stand beside a point in history, if that was asked for.
    pub since: Option<SinceView>,
    /// Hazards of the items concerned.
    pub hazards: Vec<String>,
    /// That it was held, each time in words; the files about it have the rest.
    #[serde(skip)]
    pub held: Vec<String>,
    /// The only state of which rows are listed, if that was asked for. The verdict and the counts are of all.
    pub only: Option<&'static str>,
    /// By what the open rows are put together, if that was asked for.
    pub by: Option<&'static str>,
    /// The open rows that are listed, put together.
    pub groups: Vec<GroupView>,
    /// The shortest order of records to make, if that was asked for.
    pub next: Option<NextView>,
}

impl BeforeView {
    /// When the event is planned, in words that follow its name, and that it was held; none if nobody has said either.
    pub fn planned(&self) -> Option<String> {
        let held = (!self.held.is_empty()).then(|| self.held.join("; "));
        match (self.planned_for(), held) {
            (Some(planned), Some(held)) => Some(format!("{planned}, and was held: {held}")),
            (None, Some(held)) => Some(format!("was held: {held}")),
            (planned, None) => planned,
        }
    }

    fn planned_for(&self) -> Option<String> {
        let (date, days) = (self.event_date.as_ref()?, self.event_in_days?);
        Some(match days {
            0 => "is planned for today".to_string(),
            1 => format!("is planned for {date}, tomorrow"),
            2.. => format!("is planned for {date}, in {days} days"),
            -1 => format!("was planned for {date}, yesterday"),
            _ => format!("was planned for {date}, {} days ago", days.unsigned_abs()),
        })
    }

    /// What is open against what is due and must be closed only later, in a line beside the verdict; none if there is nothing.
    pub fn later(&self) -> Option<String> {
        let one = |own: &LaterView| format!("{} against {}, due before {}", own.id, own.against.join(", "), own.before);
        let all: Vec<String> = self.due_later.iter().map(one).collect();
        (!all.is_empty()).then(|| format!("Open and due later: {}", all.join("; ")))
    }

    /// That the answer is about earlier events alone, in a line beside the verdict: what is due before the event itself was
    /// perhaps never written down. None where something is, and where nothing is due at all, which the verdict says.
    pub fn earlier_only(&self) -> Option<String> {
        let event = &self.event;
        (self.own_rows == 0 && self.verdict != VerdictWord::NothingPlanned).then(|| {
            format!(
                "Nothing is to be shown before {event} itself, only before earlier events; \
                 write before = \"{event}\" in each requirement that is for {event}"
            )
        })
    }

    /// Lists only rows of one state; the verdict and the counts stay those of all.
    pub fn list_only(&mut self, state: State) {
        self.rows.retain(|row| row.state == state);
        self.only = Some(state.word());
    }

    /// Adds what is asked less than at another point than the last annotated tag; what is listed already stays as it is.
    pub fn add_less_asked(&mut self, guard: &Guard, point: &str) {
        // The guard labels entries where it looks back to two commits at once.
        let plain = |text: &str| text.split(" [since ").next().unwrap_or(text).to_string();
        let listed: BTreeSet<(String, String)> =
            self.less_asked.iter().map(|less| (less.id.clone(), plain(&less.text))).collect();
        for less in &guard.less_asked {
            let text = plain(&less.text);
            if !listed.contains(&(less.id.clone(), text.clone())) {
                self.less_asked.push(LessAskedView { id: less.id.clone(), text: format!("{text} [since {point}]") });
            }
        }
        if self.less_asked_since.is_none() {
            self.less_asked_since = Some(point.to_string());
        }
    }
}

/// What is asked less.
#[derive(Clone, Debug, Serialize)]
pub struct LessAskedView {
    /// The requirement, item or event.
    pub id: String,
    /// What is asked less.
    pub text: String,
}

/// An open nonconformance.
#[derive(Clone, Debug, Serialize)]
pub struct NonconformanceView {
    /// Its id.
    pub id: String,
    /// Its title.
    pub title: String,
    /// What it is against.
    pub against: Vec<String>,
    /// What it lacks to be closed.
    pub lacks: String,
}

/// A waiver in force.
#[derive(Clone, Debug, Serialize)]
pub struct WaiverView {
    /// Its id.
    pub id: String,
    /// Its title.
    pub title: String,
    /// The requirement.
    pub requirement: String,
    /// On what.
    pub scope: String,
    /// What it accepts.
    pub accepts: String,
    /// Until when, in words.
    pub until: String,
    /// Who approved it.
    pub approved_by: String,
    /// What must be kept to while it holds.
    pub conditions: Option<String>,
    /// How many rows due it covers.
    pub rows: usize,
    /// Of those, what has no evidence that stands: on which piece, and why.
    pub void: Vec<String>,
}

/// A withdrawn record.
#[derive(Clone, Debug, Serialize)]
pub struct WithdrawnView {
    /// Its id.
    pub id: String,
    /// Its title.
    pub title: String,
    /// Why.
    pub reason: String,
}

/// Makes the view for an event, by position.
pub fn before(analysis: &Analysis, guard: &Guard, event: usize) -> BeforeView {
    with_rows(analysis, guard, event, |_| true)
}

/// The same with only the open rows listed, for answers that show no others; the verdict and the counts are of all.
pub fn before_open(analysis: &Analysis, guard: &Guard, event: usize) -> BeforeView {
    with_rows(analysis, guard, event, |row| row.state.is_open())
}

/// The same without any row, for whoever asks about how many there are.
pub fn before_counts(analysis: &Analysis, guard: &Guard, event: usize) -> BeforeView {
    with_rows(analysis, guard, event, |_| false)
}

fn with_rows(analysis: &Analysis, guard: &Guard, event: usize, listed: fn(&Row) -> bool) -> BeforeView {
    let rows = due_before(analysis, event);
    let listed = ordered(analysis, rows.iter().filter(|row| listed(row)).collect());
    with_due(analysis, guard, event, Due { rows, listed })
}

/// What is due before an event, without anything that history says.
pub struct Due {
    rows: Vec<Row>,
    listed: Vec<RowView>,
}

impl Due {
    /// Every row in the order of the matrix; and the positions of the open ones, safety first, worst first.
    pub fn in_matrix_order(analysis: &Analysis, event: usize) -> (Due, Vec<usize>) {
        let rows = due_before(analysis, event);
        let views: Vec<RowView> = rows.par_iter().with_min_len(64).map(|row| listed(analysis, row)).collect();
        // Nearly all are in order already, and what is compared first is numbers.
        let mut order: Vec<usize> = (0..rows.len()).collect();
        order.sort_by_key(|at| (rows[*at].requirement, rows[*at].entry, &views[*at].subject));
        let mut open: Vec<usize> = (0..order.len()).filter(|to| rows[order[*to]].state.is_open()).collect();
        open.sort_by_cached_key(|to| urgency(analysis, &rows[order[*to]]));
        (Due { listed: put_in(order, views), rows }, open)
    }
}

/// The same things in another order.
fn put_in<T>(order: Vec<usize>, things: Vec<T>) -> Vec<T> {
    if order.is_sorted() {
        return things;
    }
    let mut taken: Vec<Option<T>> = things.into_iter().map(Some).collect();
    let mut put = Vec::with_capacity(taken.len());
    put.extend(order.into_iter().filter_map(|from| taken[from].take()));
    put
}

fn due_before(analysis: &Analysis, event: usize) -> Vec<Row> {
    let mut rows = analysis.rows(Some(event));
    rows.retain(|row| row.event <= event);
    rows
}

/// The view of what is due, with what history says of the project.
pub fn with_due(analysis: &Analysis, guard: &Guard, event: usize, due: Due) -> BeforeView {
    let Due { rows, listed } = due;
    let facts = analysis.facts();
    let model = &analysis.model;
    let findings: Vec<&Finding> = analysis.findings.iter().chain(&guard.findings).collect();
    let of = |class: Class, keep: &dyn Fn(&Finding) -> bool| -> Vec<FindingView> {
        let some = findings.iter().filter(|finding| finding.class() == class && keep(finding));
        some.map(|finding| FindingView::of(finding, &analysis.sources)).collect()
    };
    let faults = of(Class::Fault, &|_| true);
    let gaps = of(Class::Gap, &|gap| gap.due.counts_before(event));
    let open = open_nonconformances(&facts, Some(event));
    let open: Vec<NonconformanceView> = open
        .into_iter()
        .filter(|(at, _)| nonconformance_due(model, &model.nonconformances[*at]) <= event)
        .map(|(at, lacks)| nonconformance(analysis, at, lacks))
        .collect();
    let open_rows = rows.iter().filter(|row| row.state.is_open()).count();
    let open_total = open_rows + open.len() + faults.len() + gaps.len();
    let verdict = match (rows.is_empty(), open_total) {
        (true, _) => VerdictWord::NothingPlanned,
        (false, 0) => VerdictWord::NothingOpen,
        (false, _) => VerdictWord::Open,
    };
    let withdrawn = withdrawn(analysis, &rows);
    let waivers = waivers(analysis, &rows, event);
    let own = &model.config.events[event];
    let planned = own.date.as_ref().map(|date| &date.value);
    let view = BeforeView {
        heading: Heading::of(analysis),
        event: own.name.value.clone(),
        event_date: planned.map(|date| date.text.clone()),
        event_in_days: planned.and_then(|date| Some(facts.today.until(date.date).ok()?.get_days())),
        held: held(analysis, &own.name.value),
        events: model.config.events[..=event].iter().map(|one| one.name.value.clone()).collect(),
        verdict,
        open_total,
        counts: counts(&rows),
        own_rows: rows.iter().filter(|row| row.event == event).count(),
        rows: listed,
        draft_procedures: draft_procedures(analysis, &rows),
        faults,
        gaps,
        nonconformances: open.iter().map(|view| view.id.clone()).collect(),
        nonconformance_details: open,
        due_later: due_later(analysis, &rows, event),
        waivers: waivers.iter().map(|view| view.id.clone()).collect(),
        waiver_details: waivers,
        withdrawn: withdrawn.iter().map(|view| view.id.clone()).collect(),
        withdrawn_details: withdrawn,
        lapsing: lapsing(analysis, &rows, event),
        less_asked: guard
            .less_asked
            .iter()
            .map(|less| LessAskedView { id: less.id.clone(), text: less.text.clone() })
            .collect(),
        less_asked_since: guard.since.clone(),
        since: None,
        hazards: hazards(analysis),
        only: None,
        by: None,
        groups: Vec::new(),
        next: None,
    };
    // Tens of thousands of rows take a while to be taken apart, and nobody waits for that.
    rayon::spawn(move || drop(rows));
    view
}

/// When an event was held and how it ended, each time.
fn held(analysis: &Analysis, event: &str) -> Vec<String> {
    let times = analysis.model.held.iter().filter(|it| it.event.as_ref().is_some_and(|own| own.value == event));
    let one = |it: &HeldEvent| {
        let date = it.date.as_ref().map_or("on a day not stated", |date| date.text.as_str());
        format!("{}, {date}, {}", it.head.id.value, it.outcome_word())
    };
    times.map(one).collect()
}

/// Procedures of open rows that are not released, by id. One that is no procedure is a fault of its own.
fn draft_procedures(analysis: &Analysis, rows: &[Row]) -> Vec<String> {
    let asked: BTreeSet<&str> =
        rows.iter().filter(|row| row.state.is_open()).filter_map(|row| row.procedure.as_deref()).collect();
    let procedures = asked.into_iter().filter_map(|id| analysis.model.procedure(id));
    let drafts = procedures.filter(|procedure| procedure.status == ProcedureStatus::Draft);
    drafts.map(|procedure| procedure.head.id.value.to_string()).collect()
}

fn listed(analysis: &Analysis, row: &Row) -> RowView {
    let closable = row.state.is_open() && is_closable(&analysis.facts(), row);
    RowView { closable, ..RowView::of(&analysis.model, row) }
}

fn counts(rows: &[Row]) -> BTreeMap<&'static str, usize> {
    let mut counts: BTreeMap<&'static str, usize> = State::ALL.iter().map(|state| (state.word(), 0)).collect();
    for row in rows {
        *counts.entry(row.state.word()).or_default() += 1;
    }
    counts
}

/// By urgency.
fn ordered(analysis: &Analysis, mut rows: Vec<&Row>) -> Vec<RowView> {
    rows.sort_by_cached_key(|row| urgency(analysis, row));
    rows.into_par_iter().with_min_len(64).map(|row| listed(analysis, row)).collect()
}

/// Safety first, worst first, then by id, entry and subject.
fn urgency(analysis: &Analysis, row: &Row) -> impl Ord + use<> {
    let requirement = &analysis.model.requirements[row.requirement];
    (!row.state.is_open(), !requirement.safety, row.state, row.requirement, row.entry, row.subject.clone())
}

fn nonconformance(analysis: &Analysis, at: usize, lacks: String) -> NonconformanceView {
    let it = &analysis.model.nonconformances[at];
    NonconformanceView {
        id: it.head.id.value.to_string(),
        title: it.head.title.clone(),
        against: it.against.iter().map(|target| target.value.clone()).collect(),
        lacks,
    }
}

fn withdrawn(analysis: &Analysis, rows: &[Row]) -> Vec<WithdrawnView> {
    let mut due: Vec<usize> = rows.iter().map(|row| row.requirement).collect();
    due.dedup();
    let mut at: Vec<usize> =
        due.iter().flat_map(|requirement| &analysis.graph.evidence[*requirement]).map(|(at, _)| *at).collect();
    at.sort_unstable();
    at.dedup();
    let records = at.into_iter().map(|at| &analysis.model.records[at]);
    let gone = records.filter(|record| record.status.value == RecordStatus::Withdrawn);
    gone.map(|record| WithdrawnView {
        id: record.head.id.value.to_string(),
        title: record.head.title.clone(),
        reason: record.reason.clone().unwrap_or_else(|| "no reason given".into()),
    })
    .collect()
}

fn waivers(analysis: &Analysis, rows: &[Row], event: usize) -> Vec<WaiverView> {
    let facts = analysis.facts();
    let date = analysis.model.config.events[event].date.as_ref().map(|date| date.date);
    let when = When { event, deadline: date.map_or(facts.today, |date| date.max(facts.today)) };
    let due = |waiver: &&Waiver| {
        let Some(requirement) = waiver.requirement.as_ref().and_then(|id| analysis.model.requirement(&id.value)) else {
            return false;
        };
        let listed = rows
            .iter()
            .any(|row| analysis.model.requirements[row.requirement].head.id.value == requirement.head.id.value);
        listed && in_force(&facts, waiver, requirement, when)
    };
    analysis.model.waivers.iter().filter(due).map(|waiver| waiver_view(waiver, rows)).collect()
}

fn waiver_view(waiver: &Waiver, rows: &[Row]) -> WaiverView {
    let id = &waiver.head.id.value;
    let accepts = waiver.accepts.iter().map(|(name, relief)| format!("{} {}", name.value, relief.show_whole()));
    let mut until = Vec::new();
    until.extend(waiver.before.as_ref().map(|event| format!("up to {}", event.value)));
    until.extend(waiver.expires.as_ref().map(|date| format!("until {}", date.text)));
    let covers = |row: &&Row| row.criteria.iter().any(|criterion| criterion.waiver.as_ref() == Some(id));
    WaiverView {
        id: id.to_string(),
        title: waiver.head.title.clone(),
        requirement: waiver.requirement.as_ref().map(|id| id.value.to_string()).unwrap_or_default(),
        scope: scope_of(waiver),
        accepts: accepts.collect::<Vec<_>>().join("; "),
        until: if until.is_empty() { "no end given".into() } else { until.join(", ") },
        approved_by: waiver.approved_by.clone().unwrap_or_default(),
        conditions: waiver.conditions.clone(),
        rows: rows.iter().filter(covers).count(),
        void: rows.iter().flat_map(|row| void_under(row, id)).collect(),
    }
}

/// What a waiver covers in a row although its evidence does not stand: it was granted on what that evidence showed.
fn void_under(row: &Row, waiver: &Id) -> Option<String> {
    let covered = row.criteria.iter().filter(|own| own.waiver.as_ref() == Some(waiver));
    let void = covered.flat_map(|own| &own.reasons).filter(|reason| reason.state == State::Void);
    let reasons: BTreeSet<&str> = void.map(|reason| reason.text.as_str()).collect();
    let reasons: Vec<&str> = reasons.into_iter().collect();
    (!reasons.is_empty()).then(|| format!("{}: {}", row.subject, reasons.join("; ")))
}

/// The hazards of every item that is not dropped.
fn hazards(analysis: &Analysis) -> Vec<String> {
    let items = analysis.model.items.iter().zip(&analysis.graph.dropped).filter(|(_, dropped)| !**dropped);
    let mut hazards: Vec<String> =
        items.flat_map(|(item, _)| &item.hazards).map(|hazard| hazard.value.clone()).collect();
    hazards.sort();
    hazards.dedup();
    hazards
}
