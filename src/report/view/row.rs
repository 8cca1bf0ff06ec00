//! A row, for display.

use std::borrow::Cow;
use std::sync::Arc;

use rayon::prelude::*;
use serde::ser::SerializeStruct;
use serde::{Serialize, Serializer};

use crate::analysis::Analysis;
use crate::model::kinds::{Method, Requirement, Stage};
use crate::model::{Id, Model, SerialId};
use crate::quantity::Margin;
use crate::state::{CriterionState, EntryRef, Reason, Row, State};

use super::Heading;

/// One row.
#[derive(Clone, Debug, Serialize)]
pub struct RowView {
    /// The requirement's id.
    pub requirement: String,
    /// Its title.
    pub title: String,
    /// The plan entry.
    #[serde(serialize_with = "entry")]
    pub entry: EntryRef,
    /// Its method.
    pub method: Option<&'static str>,
    /// Its stage.
    pub stage: Option<&'static str>,
    /// Its procedure.
    pub procedure: Option<String>,
    /// The event before which it is due.
    pub before: Option<String>,
    /// What it is about.
    pub subject: String,
    /// Whether people depend on the requirement.
    pub safety: bool,
    /// The state.
    #[serde(serialize_with = "state")]
    pub state: State,
    /// What a waiver covers.
    #[serde(serialize_with = "optional_state")]
    pub covers: Option<State>,
    /// The waiver.
    pub waiver: Option<String>,
    /// Every reason, worst first, each once.
    pub reasons: Vec<ReasonView>,
    /// The criteria.
    pub criteria: Vec<CriterionView>,
    /// The statement as written.
    pub statement: String,
    /// Who answers for the requirement.
    pub owner: Option<String>,
    /// Where it comes from.
    pub parents: Vec<String>,
    /// Where it comes from outside the project.
    pub source: Option<String>,
    /// each, one or design.
    pub on: Option<&'static str>,
    /// Where it is done.
    pub facility: Option<String>,
    /// Who does it.
    pub by: Option<String>,
    /// The records that decide.
    pub records: Vec<String>,
    /// Position of the event, for ordering.
    #[serde(skip)]
    pub event: usize,
    /// Whether a record would close it as things are, if it is open and listed in an answer about an event.
    #[serde(skip)]
    pub closable: bool,
}

/// A reason.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ReasonView {
    /// The code.
    pub code: &'static str,
    /// What was found.
    pub text: String,
    /// What to do next.
    pub help: String,
}

impl ReasonView {
    pub(super) fn of(reason: &Reason) -> ReasonView {
        ReasonView { code: reason.code, text: reason.text.clone(), help: reason.help.clone() }
    }
}

/// Reasons about which the same is to be done.
#[derive(Debug)]
pub struct ToDo<'r> {
    /// The reasons.
    pub reasons: Vec<&'r ReasonView>,
    /// What is to be done.
    pub help: Cow<'r, str>,
}

/// What is to be done about the reasons of a row, that about the worst first. Each step is said once, however many reasons it lifts:
/// a row closes only when all of them are gone. Open children are told by what is open about themselves, and need no line each.
pub fn to_do(reasons: &[ReasonView]) -> Vec<ToDo<'_>> {
    const CHILD: &str = "child-open";
    let mut all: Vec<ToDo<'_>> = Vec::new();
    for reason in reasons {
        let same = |own: &ToDo<'_>| own.help == reason.help || (reason.code == CHILD && own.reasons[0].code == CHILD);
        match all.iter_mut().find(|own| same(own)) {
            Some(own) => own.reasons.push(reason),
            None => all.push(ToDo { reasons: vec![reason], help: Cow::Borrowed(&reason.help) }),
        }
    }
    for own in all.iter_mut().filter(|own| own.reasons.len() > 1 && own.reasons[0].code == CHILD) {
        own.help = Cow::Borrowed("close each of these: slipmark show ID says how");
    }
    all
}

/// A criterion of a row.
#[derive(Clone, Debug, Serialize)]
pub struct CriterionView {
    /// Its name.
    pub name: String,
    /// Its state.
    #[serde(serialize_with = "state")]
    pub state: State,
    /// What a waiver covers.
    #[serde(serialize_with = "optional_state")]
    pub covers: Option<State>,
    /// The record that decides.
    pub record: Option<String>,
    /// Its result as written.
    pub result: Option<String>,
    /// What is expected.
    pub limit: String,
    /// The distance to the limit.
    #[serde(flatten)]
    pub margin: MarginView,
}

/// The distance of a result to its limit, if it has one. Its words take long to find, and most rows are never shown.
#[derive(Clone, Debug, Default)]
pub struct MarginView(pub Option<Arc<Margin>>);

impl MarginView {
    /// In words: in the unit, in percent of the limit, in multiples of U.
    pub fn show(&self) -> Option<String> {
        self.0.as_ref().map(|margin| margin.show())
    }

    /// In SI, for programs.
    pub fn si(&self) -> Option<f64> {
        self.0.as_ref().and_then(|margin| margin.value.to_f64())
    }

    /// The consumer's risk: the probability that the value is outside its limits, as far as this measurement tells.
    pub fn risk(&self) -> Option<f64> {
        self.0.as_ref().and_then(|margin| margin.risk_number())
    }
}

impl Serialize for MarginView {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut own = serializer.serialize_struct("MarginView", 3)?;
        own.serialize_field("margin", &self.show())?;
        own.serialize_field("margin_si", &self.si())?;
        own.serialize_field("risk", &self.risk())?;
        own.end()
    }
}

pub(super) fn state<S: Serializer>(state: &State, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_str(state.word())
}

fn optional_state<S: Serializer>(state: &Option<State>, serializer: S) -> Result<S::Ok, S::Error> {
    match state {
        Some(state) => serializer.serialize_str(state.word()),
        None => serializer.serialize_none(),
    }
}

pub(super) fn entry<S: Serializer>(entry: &EntryRef, serializer: S) -> Result<S::Ok, S::Error> {
    match entry {
        EntryRef::Plan(index) => serializer.serialize_u64(*index as u64),
        EntryRef::Children => serializer.serialize_str("children"),
        EntryRef::None => serializer.serialize_none(),
    }
}

impl RowView {
    /// From a row of this model.
    pub fn of(model: &Model, row: &Row) -> RowView {
        let requirement: &Requirement = &model.requirements[row.requirement];
        let plan = match row.entry {
            EntryRef::Plan(index) => requirement.plan.get(index),
            _ => None,
        };
        let mut records: Vec<String> =
            row.criteria.iter().filter_map(|own| own.record.as_ref()).map(Id::to_string).collect();
        records.sort();
        records.dedup();
        RowView {
            requirement: requirement.head.id.value.to_string(),
            title: requirement.head.title.clone(),
            entry: row.entry,
            method: row.method.map(Method::word),
            stage: row.stage.map(Stage::word),
            procedure: row.procedure.as_ref().map(Id::to_string),
            before: model.config.events.get(row.event).map(|event| event.name.value.clone()),
            subject: row.subject.to_string(),
            safety: requirement.safety,
            state: row.state,
            covers: row.covers,
            waiver: row.waiver.as_ref().map(Id::to_string),
            reasons: reasons(row),
            criteria: row.criteria.iter().map(CriterionView::of).collect(),
            statement: requirement.statement.value.clone(),
            owner: requirement.owner.clone(),
            parents: requirement.parents.iter().map(|parent| parent.value.to_string()).collect(),
            source: requirement.source.clone(),
            on: plan.map(|plan| plan.on.word()),
            facility: plan.and_then(|plan| plan.facility.clone()),
            by: plan.and_then(|plan| plan.by.clone()),
            records,
            event: row.event,
            closable: false,
        }
    }

    /// How it is shown, in words: method, stage and procedure.
    pub fn how(&self) -> String {
        let how: Vec<&str> = [self.method, self.stage, self.procedure.as_deref()].into_iter().flatten().collect();
        match self.entry {
            EntryRef::Children => "by its children".to_string(),
            EntryRef::None => "no plan".to_string(),
            EntryRef::Plan(_) => how.join(" "),
        }
    }

    /// The piece it is about, if it is about one.
    pub fn serial(&self) -> Option<SerialId> {
        SerialId::parse(&self.subject)
    }
}

/// The reasons of a row, worst first, each text once.
fn reasons(row: &Row) -> Vec<ReasonView> {
    let mut all: Vec<&Reason> = row.reasons().collect();
    all.sort_by_key(|reason| reason.state);
    let mut views: Vec<ReasonView> = Vec::new();
    for reason in all {
        let view = ReasonView::of(reason);
        if !views.contains(&view) {
            views.push(view);
        }
    }
    views
}

impl CriterionView {
    fn of(criterion: &CriterionState) -> CriterionView {
        CriterionView {
            name: criterion.name.clone(),
            state: criterion.state,
            covers: criterion.covers,
            record: criterion.record.as_ref().map(Id::to_string),
            result: criterion.result.clone(),
            limit: criterion.limit.clone(),
            margin: MarginView(criterion.margin.clone()),
        }
    }
}

/// The verification matrix: every row, each at its own event.
#[derive(Clone, Debug, Serialize)]
pub struct MatrixView {
    /// Where it came from.
    #[serde(flatten)]
    pub heading: Heading,
    /// The rows, by requirement, entry and subject.
    pub rows: Vec<RowView>,
}

/// What a list of all rows says of each, nothing of it copied: there are as many as the project is large.
#[derive(Debug)]
pub struct BriefRow<'r> {
    /// The requirement.
    pub requirement: &'r Requirement,
    /// The row.
    pub row: &'r Row,
    /// What it is about.
    pub subject: String,
}

impl<'r> BriefRow<'r> {
    fn of(model: &'r Model, row: &'r Row) -> BriefRow<'r> {
        BriefRow { requirement: &model.requirements[row.requirement], row, subject: row.subject.to_string() }
    }

    /// Method, stage and procedure, as far as there are any.
    pub fn how(&self) -> impl Iterator<Item = &'r str> {
        let (method, stage) = (self.row.method.map(Method::word), self.row.stage.map(Stage::word));
        [method, stage, self.row.procedure.as_ref().map(Id::as_str)].into_iter().flatten()
    }
}

/// How many rows are made by one thread in one go.
const TOGETHER: usize = 64;

/// Makes the matrix.
pub fn matrix(analysis: &Analysis) -> MatrixView {
    let rows = analysis.rows(None);
    MatrixView {
        heading: Heading::of(analysis),
        rows: rows.into_par_iter().with_min_len(TOGETHER).map(|row| RowView::of(&analysis.model, &row)).collect(),
    }
}

/// What `write` makes of the matrix, piece by piece: the rows of a requirement come together. No more of them are there at a time than
/// are being written.
pub fn matrix_by_requirement(analysis: &Analysis, write: impl Fn(&[BriefRow<'_>], &mut String) + Sync) -> Vec<String> {
    // They are as many as the project is large, and like it live until the process ends.
    let rows: &[Row] = analysis.rows(None).leak();
    let same: Vec<&[Row]> = rows.chunk_by(|a, b| a.requirement == b.requirement).collect();
    let piece = |same: &[&[Row]]| {
        let mut text = String::with_capacity(1 << 15);
        for rows in same {
            let brief: Vec<BriefRow<'_>> = rows.iter().map(|row| BriefRow::of(&analysis.model, row)).collect();
            write(&brief, &mut text);
        }
        text
    };
    same.par_chunks(TOGETHER).map(piece).collect()
}
