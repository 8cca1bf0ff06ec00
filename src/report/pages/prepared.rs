//! What is worked out once for all pages: rows in order, who names whom, where everything stands.

use std::collections::BTreeMap;
use std::sync::{Arc, OnceLock};

use foldhash::{HashMap, HashMapExt};
use minijinja::Environment;

use super::address::{Addresses, Homes, Leaves, Thing};
use super::engine;
use super::named::Named;
use super::search::Entry;
use crate::analysis::Analysis;
use crate::model::Ref;
use crate::report::ReportError;
use crate::report::packet::cover::in_order;
use crate::report::packet::links::{FILE_LINES, Linker, MATRIX_ROWS};
use crate::report::packet::requirement::worst_states;
use crate::report::packet::{Made, Manifest};
use crate::report::view::{self, BeforeView, RowView};
use crate::state::{EntryRef, State};
use crate::templates::Templates;

/// How many open rows a page holds.
pub(super) const OPEN_ROWS: usize = 100;

/// What pages are made from beside the project itself. It owns all that it holds, so it can be kept beside the project
/// for as long as that stays as it is.
#[derive(Debug)]
pub struct Prepared {
    /// The event asked about, by position.
    pub(super) event: usize,
    pub(super) homes: Arc<Homes>,
    pub(super) addresses: Addresses,
    /// Who names what, once a thing's own page is asked for: it takes following every reference and every text.
    named: OnceLock<Named>,
    /// The answer, its rows in the order of the matrix.
    pub(super) before: BeforeView,
    /// Rows due after the event, each asked about at its own.
    pub(super) later: Vec<RowView>,
    /// Open rows by position, put together by what closes them.
    pub(super) open: Vec<Closer>,
    /// The rows about a requirement, on a subject, by a procedure, decided by a record: by position.
    pub(super) rows: HashMap<(About, String), Vec<usize>>,
    /// The worst state of the rows due of each requirement.
    pub(super) worst: BTreeMap<String, State>,
    pub(super) environment: Arc<Environment<'static>>,
    /// What pages are set with.
    pub(super) templates: Templates,
    /// What is searched, once somebody searches.
    pub(super) entries: OnceLock<Vec<Entry>>,
    /// Hashing every file takes a while, so it waits until somebody looks.
    pub(super) manifest: OnceLock<Manifest>,
}

/// In what way a row has to do with something.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) enum About {
    Requirement,
    Subject,
    Procedure,
    Record,
}

/// What would close some open rows, and which, worst first.
#[derive(Debug)]
pub(super) struct Closer {
    pub(super) what: What,
    pub(super) rows: Vec<usize>,
}

/// A way to close rows.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum What {
    /// Runs of a procedure.
    Procedure(String),
    /// Records made without one.
    Method(&'static str),
    /// The children.
    Children,
    /// A plan, before anything else.
    Plan,
}

impl What {
    fn of(row: &RowView) -> What {
        match (row.entry, &row.procedure, row.method) {
            (EntryRef::Children, ..) => What::Children,
            (_, Some(procedure), _) => What::Procedure(procedure.clone()),
            (_, None, Some(method)) => What::Method(method),
            _ => What::Plan,
        }
    }
}

impl Prepared {
    /// Works it out for an event, by position.
    ///
    /// # Errors
    /// If a template is at fault.
    pub fn of(from: Made<'_>, event: usize, homes: Arc<Homes>) -> Result<Prepared, ReportError> {
        let analysis = from.analysis;
        let (mut before, later) = rayon::join(|| view::before(analysis, from.guard, event), || later(analysis, event));
        let open = sort(&mut before);
        let leaves = Leaves {
            front: pages(open.iter().map(|closer| closer.rows.len()).sum(), OPEN_ROWS),
            matrix: pages(before.rows.len() + later.len(), MATRIX_ROWS),
            files: pages(crate::report::packet::files(analysis).len(), FILE_LINES),
        };
        let (rows, worst) =
            rayon::join(|| index(before.rows.iter().chain(&later)), || worst_states(before.rows.iter()));
        Ok(Prepared {
            event,
            addresses: Addresses::of(Arc::clone(&homes), leaves),
            homes,
            named: OnceLock::new(),
            rows,
            worst,
            environment: engine::environment(&analysis.templates)?,
            templates: analysis.templates.clone(),
            entries: OnceLock::new(),
            manifest: OnceLock::new(),
            before,
            later,
            open,
        })
    }

    /// Who names what.
    pub(super) fn named(&self, analysis: &Analysis) -> &Named {
        self.named.get_or_init(|| Named::of(analysis, &self.homes.things))
    }

    /// Links from a page with this address.
    pub(super) fn linker(&self, address: &str) -> Linker {
        Linker::new(self.homes.scheme, self.homes.places.clone(), address)
    }

    /// The row at a position, counted from 0; what is due comes first.
    pub(super) fn row(&self, at: usize) -> &RowView {
        self.before.rows.get(at).unwrap_or_else(|| &self.later[at - self.before.rows.len()])
    }

    /// How many rows there are.
    pub(super) fn row_count(&self) -> usize {
        self.before.rows.len() + self.later.len()
    }

    /// Whether a row is due before the event.
    pub(super) fn is_due(&self, at: usize) -> bool {
        at < self.before.rows.len()
    }

    /// The rows that have to do with something.
    pub(super) fn rows_about(&self, about: About, name: &str) -> &[usize] {
        self.rows.get(&(about, name.to_string())).map(Vec::as_slice).unwrap_or_default()
    }

    /// The kind and the title of what has this name.
    pub(super) fn title(&self, analysis: &Analysis, name: &str) -> Option<String> {
        let model = &analysis.model;
        match model.find(name) {
            Some(place) => Some(model.head(place).title.clone()),
            None => {
                let serial = crate::model::SerialId::parse(name)?;
                model.item(&serial.item).map(|item| item.head.title.clone())
            }
        }
    }
}

/// How many pages hold so many lines: at least one.
fn pages(lines: usize, each: usize) -> usize {
    lines.div_ceil(each).max(1)
}

/// The rows due after an event.
fn later(analysis: &Analysis, event: usize) -> Vec<RowView> {
    if event + 1 >= analysis.model.config.events.len() {
        return Vec::new();
    }
    let rows: Vec<RowView> = analysis
        .rows(None)
        .iter()
        .filter(|row| row.event > event)
        .map(|row| RowView::of(&analysis.model, row))
        .collect();
    in_order(&rows).into_iter().cloned().collect()
}

/// Puts the rows of an answer into the order of the matrix. Open ones are put together by what closes them, in the order
/// in which the answer first needs it: safety first, worst first.
fn sort(before: &mut BeforeView) -> Vec<Closer> {
    let rows = std::mem::take(&mut before.rows);
    let mut order: Vec<usize> = (0..rows.len()).collect();
    order.sort_by(|a, b| {
        let key = |at: usize| (&rows[at].requirement, rows[at].entry, &rows[at].subject);
        key(*a).cmp(&key(*b))
    });
    let mut now = vec![0; rows.len()];
    for (to, from) in order.iter().enumerate() {
        now[*from] = to;
    }
    let mut open: Vec<Closer> = Vec::new();
    for (from, row) in rows.iter().enumerate().filter(|(_, row)| row.state.is_open()) {
        let what = What::of(row);
        match open.iter_mut().find(|closer| closer.what == what) {
            Some(closer) => closer.rows.push(now[from]),
            None => open.push(Closer { what, rows: vec![now[from]] }),
        }
    }
    let mut taken: Vec<Option<RowView>> = rows.into_iter().map(Some).collect();
    before.rows = order.into_iter().filter_map(|from| taken[from].take()).collect();
    open
}

fn index<'v>(rows: impl Iterator<Item = &'v RowView>) -> HashMap<(About, String), Vec<usize>> {
    let mut index: HashMap<(About, String), Vec<usize>> = HashMap::new();
    for (at, row) in rows.enumerate() {
        let mut add = |about: About, name: &String| {
            let list = index.entry((about, name.clone())).or_default();
            if list.last() != Some(&at) {
                list.push(at);
            }
        };
        add(About::Requirement, &row.requirement);
        add(About::Subject, &row.subject);
        row.procedure.iter().for_each(|procedure| add(About::Procedure, procedure));
        row.records.iter().for_each(|record| add(About::Record, record));
    }
    index
}

/// The state in a few words of what has one: of a requirement the worst of its rows due.
pub(super) fn standing(analysis: &Analysis, prepared: &Prepared, thing: &Thing) -> (Option<&'static str>, String) {
    let model = &analysis.model;
    let Thing::Of(place) = thing else {
        let said = match thing {
            Thing::Serial(item, at) => {
                let piece = &model.items[*item].serials[*at];
                if piece.scrapped { "scrapped" } else { piece.purpose.word() }
            }
            _ => "",
        };
        return (None, said.to_string());
    };
    let dated = |date: Option<&str>, status: &str| match date {
        Some(date) => format!("{status}, {date}"),
        None => status.to_string(),
    };
    match place {
        Ref::Requirement(at) => {
            let it = &model.requirements[*at];
            let worst = prepared.worst.get(it.head.id.as_str()).map(|state| state.word());
            let due = if it.status.word() == "active" { "not due before this event" } else { it.status.word() };
            (worst, if worst.is_some() { String::new() } else { due.to_string() })
        }
        Ref::Record(at) => {
            let it = &model.records[*at];
            (
                None,
                dated(
                    it.date.as_ref().map(|date| date.text.as_str()),
                    &format!("{}, {}", it.method.word(), it.status.value.word()),
                ),
            )
        }
        Ref::Item(at) => {
            (None, if analysis.graph.dropped[*at] { "dropped" } else { model.items[*at].status.word() }.to_string())
        }
        Ref::Slot(_) => (None, String::new()),
        Ref::Procedure(at) => {
            let it = &model.procedures[*at];
            let revision = it.revision.as_ref().map(|text| format!(", revision {}", text.value)).unwrap_or_default();
            (None, format!("{}{revision}", it.status.word()))
        }
        Ref::Decision(at) => {
            let it = &model.decisions[*at];
            (None, dated(it.date.as_ref().map(|date| date.value.text.as_str()), it.status.word()))
        }
        Ref::Nonconformance(at) => {
            let open =
                prepared.before.nonconformances.iter().any(|id| *id == *model.nonconformances[*at].head.id.as_str());
            (None, if open { "open" } else { model.nonconformances[*at].status.word() }.to_string())
        }
        Ref::Waiver(at) => (None, model.waivers[*at].status.word().to_string()),
        Ref::Held(at) => {
            let it = &model.held[*at];
            (None, dated(it.date.as_ref().map(|date| date.text.as_str()), it.outcome_word()))
        }
    }
}
