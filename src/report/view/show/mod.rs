//! One thing of the project: what it says, what hangs from it, where it stands.
//!
//! To add a kind: a function here or beside that fills a [`ShowView`], and its line in [`show`].

mod evidence;
mod hardware;
mod life;
mod planning;
mod requirement;

pub use evidence::tell_edits;
pub(in crate::report) use evidence::{calibrated, touched};

use serde::Serialize;

use crate::analysis::Analysis;
use crate::model::kinds::Head;
use crate::model::{Id, Ref, SerialId};
use crate::state::Row;

use super::{Heading, LifeView, RowView};

/// One thing of the project.
#[derive(Clone, Debug, Serialize)]
pub struct ShowView {
    /// Where it came from.
    #[serde(flatten)]
    pub heading: Heading,
    /// Its id, or the name of an event or a parameter, or a piece as `MOV/SN02`.
    pub id: String,
    /// Its kind; also `serial`, `event`, `parameter`, `instrument`.
    pub kind: &'static str,
    /// Its title.
    pub title: String,
    /// The file that it stands in.
    pub path: Option<String>,
    /// The line, from 1.
    pub line: Option<usize>,
    /// A requirement's statement as written.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub statement: Option<String>,
    /// The body as written, of everything but a requirement.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub body: Option<String>,
    /// What its keys say, each in a few words.
    pub details: Vec<Detail>,
    /// A requirement's criteria.
    pub criteria: Vec<ShownCriterion>,
    /// A requirement's plan.
    pub plan: Vec<ShownEntry>,
    /// For an item or a piece: how the limited life of its pieces stands, and of what is in a piece.
    pub limited_life: Vec<LifeView>,
    /// The rows that it is about, or decides, or is due for.
    pub rows: Vec<RowView>,
    /// Everything that it names or that names it.
    pub links: Vec<Link>,
}

/// One of its keys. Several may have the same name, such as the inputs of an analysis.
#[derive(Clone, Debug, Serialize)]
pub struct Detail {
    /// What it is about.
    pub name: &'static str,
    /// What it says.
    pub text: String,
}

/// A criterion.
#[derive(Clone, Debug, Serialize)]
pub struct ShownCriterion {
    /// Its name.
    pub name: String,
    /// What is expected.
    pub limit: String,
    /// Conditions under which it holds, each with its limits.
    pub conditions: Vec<String>,
    /// A note for people.
    pub text: Option<String>,
}

/// An entry of a plan.
#[derive(Clone, Debug, Serialize)]
pub struct ShownEntry {
    /// Its position, from 0.
    pub entry: usize,
    /// The whole of it in words.
    pub text: String,
}

/// One thing beside another.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Link {
    /// What it is to the thing shown: `parents`, `evidence`, …
    pub relation: &'static str,
    /// Its id.
    pub id: String,
    /// Its kind.
    pub kind: &'static str,
    /// Its title.
    pub title: String,
    /// A few words on how it stands.
    pub note: String,
}

/// The view of what has this id or name; none if nothing has.
pub fn show(analysis: &Analysis, id: &str) -> Option<ShowView> {
    let model = &analysis.model;
    if let Some(place) = model.find(id) {
        let view = ShowView::of(analysis, model.kind(place), model.head(place));
        return Some(match place {
            Ref::Requirement(at) => requirement::fill(view, analysis, at),
            Ref::Record(at) => evidence::record(view, analysis, at),
            Ref::Item(at) => hardware::item(view, analysis, at),
            Ref::Slot(at) => hardware::slot(view, analysis, at),
            Ref::Procedure(at) => evidence::procedure(view, analysis, at),
            Ref::Decision(at) => planning::decision(view, analysis, at),
            Ref::Nonconformance(at) => planning::nonconformance(view, analysis, at),
            Ref::Waiver(at) => planning::waiver(view, analysis, at),
            Ref::Held(at) => planning::held(view, analysis, at),
        });
    }
    if let Some(serial) = SerialId::parse(id).filter(|serial| model.serial(serial).is_some()) {
        return hardware::serial(analysis, &serial);
    }
    if let Some(at) = model.config.event_index(id) {
        return Some(planning::event(analysis, at));
    }
    if let Some(instrument) = model.instruments.get(id) {
        return Some(evidence::instrument(analysis, instrument));
    }
    model.parameters.get(id).map(|parameter| planning::parameter(analysis, parameter))
}

/// Every id and name that can be shown, for what to suggest.
pub fn names(analysis: &Analysis) -> Vec<String> {
    let model = &analysis.model;
    let mut names: Vec<String> = model.ids().map(|(id, _)| id.to_string()).collect();
    for item in &model.items {
        names.extend(item.serials.iter().map(|piece| format!("{}/{}", item.head.id.value, piece.number.value)));
    }
    names.extend(model.config.events.iter().map(|event| event.name.value.clone()));
    names.extend(model.instruments.keys().map(Id::to_string));
    names.extend(model.parameters.keys().cloned());
    names
}

impl ShowView {
    fn of(analysis: &Analysis, kind: &'static str, head: &Head) -> ShowView {
        let body = analysis.sources.slice(head.body).trim().to_string();
        let mut view = ShowView::bare(analysis, kind, head.id.value.to_string(), head.title.clone());
        view.path = Some(analysis.path(head.file).to_string());
        view.line = Some(analysis.sources.locate(head.id.span).line);
        view.body = Some(body).filter(|body| !body.is_empty());
        view
    }

    fn bare(analysis: &Analysis, kind: &'static str, id: String, title: String) -> ShowView {
        ShowView {
            heading: Heading::of(analysis),
            id,
            kind,
            title,
            path: None,
            line: None,
            statement: None,
            body: None,
            details: Vec::new(),
            criteria: Vec::new(),
            plan: Vec::new(),
            limited_life: Vec::new(),
            rows: Vec::new(),
            links: Vec::new(),
        }
    }

    fn say(&mut self, name: &'static str, text: impl Into<String>) {
        let text = text.into();
        if !text.is_empty() {
            self.details.push(Detail { name, text });
        }
    }

    fn say_some(&mut self, name: &'static str, text: Option<impl ToString>) {
        if let Some(text) = text {
            self.say(name, text.to_string());
        }
    }

    /// Adds what an id names; an id that names nothing is listed all the same.
    fn link(&mut self, analysis: &Analysis, relation: &'static str, id: &str, note: impl Into<String>) {
        let (kind, title) = match analysis.model.find(id) {
            Some(place) => (analysis.model.kind(place), analysis.model.head(place).title.clone()),
            None => ("unknown", String::new()),
        };
        let link = Link { relation, id: id.to_string(), kind, title, note: note.into() };
        if !self.links.contains(&link) {
            self.links.push(link);
        }
    }

    fn piece(&mut self, analysis: &Analysis, relation: &'static str, serial: &SerialId) {
        let title = analysis.model.item(&serial.item).map(|item| item.head.title.clone()).unwrap_or_default();
        let note = if analysis.graph.scrapped.contains(serial) { "scrapped" } else { "" };
        self.links.push(Link { relation, id: serial.to_string(), kind: "serial", title, note: note.into() });
    }

    fn add_rows(&mut self, analysis: &Analysis, wanted: impl Fn(&Row) -> bool) {
        let rows = analysis.rows(None);
        self.rows.extend(rows.iter().filter(|row| wanted(row)).map(|row| RowView::of(&analysis.model, row)));
    }
}

/// Values joined by commas.
fn joined<T: ToString>(values: impl IntoIterator<Item = T>) -> String {
    values.into_iter().map(|value| value.to_string()).collect::<Vec<_>>().join(", ")
}
