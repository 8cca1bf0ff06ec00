//! What is worked out once for all pages: rows in order, who names whom, where everything stands.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::hash::BuildHasher;
use std::sync::{Arc, OnceLock};

use foldhash::fast::FixedState;
use minijinja::Environment;
use rayon::prelude::*;

use super::address::{Addresses, Homes, Leaves, Thing};
use super::engine;
use super::named::{Named, Naming};
use super::search::Entry;
use crate::analysis::Analysis;
use crate::model::Ref;
use crate::report::ReportError;
use crate::report::packet::cover::in_order;
use crate::report::packet::links::{FILE_LINES, Linker, MATRIX_ROWS};
use crate::report::packet::requirement::worst_states;
use crate::report::packet::{Made, Manifest, Scheme, file_count};
use crate::report::view::{self, BeforeView, Closer, RowView, closers};
use crate::state::State;
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
    /// Who names what, once a thing's own page is asked for in a folder of them: it takes following every reference and every text.
    pub(super) named: OnceLock<Named>,
    /// The answer, its rows in the order of the matrix.
    pub(super) before: BeforeView,
    /// Rows due after the event, each asked about at its own.
    pub(super) later: Vec<RowView>,
    /// Open rows by position, put together by what closes them.
    pub(super) open: Vec<Closer>,
    /// The rows about a requirement, on a subject, by a procedure, decided by a record: by position.
    rows: Index,
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

impl Prepared {
    /// Works it out for an event, by position.
    ///
    /// # Errors
    /// If a template is at fault.
    pub fn of(from: Made<'_>, event: usize, homes: Arc<Homes>) -> Result<Prepared, ReportError> {
        Prepared::with(from, event, homes, Ahead::of(from.analysis, event))
    }

    /// The same, of rows that were worked out ahead.
    ///
    /// # Errors
    /// If a template is at fault.
    pub fn with(from: Made<'_>, event: usize, homes: Arc<Homes>, ahead: Ahead) -> Result<Prepared, ReportError> {
        let analysis = from.analysis;
        let Ahead { due, open, later } = ahead;
        let before = view::with_due(analysis, from.guard, event, due);
        let leaves = Leaves {
            front: pages(open.len(), OPEN_ROWS),
            matrix: pages(before.rows.len() + later.len(), MATRIX_ROWS),
            files: pages(file_count(analysis), FILE_LINES),
        };
        let ((rows, worst), (open, addresses)) = rayon::join(
            || rayon::join(|| Index::of(&before.rows, &later), || worst_states(before.rows.iter())),
            || (closers(&before.rows, open, &before.draft_procedures), Addresses::of(Arc::clone(&homes), leaves)),
        );
        Ok(Prepared {
            event,
            addresses,
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

    /// Who names something. A folder of pages asks it of everything, a live page of one thing before all may be different.
    pub(super) fn naming(&self, analysis: &Analysis, name: &str) -> Cow<'_, [Naming]> {
        if self.homes.scheme == Scheme::Live {
            return Cow::Owned(Named::to_one(analysis, &self.homes, name));
        }
        Cow::Borrowed(self.everyone(analysis).to(name))
    }

    /// Who names what, of everything.
    pub(super) fn everyone(&self, analysis: &Analysis) -> &Named {
        self.named.get_or_init(|| Named::of(analysis, &self.homes))
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
    pub(super) fn rows_about(&self, about: About, name: &str) -> Vec<usize> {
        self.rows.of_hash(hash(about, name)).filter(|at| about.is_of(self.row(*at), name)).collect()
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

/// The rows of an event, which take the longest and hang on nothing that history says.
pub struct Ahead {
    due: view::Due,
    /// Positions of open rows, most urgent first.
    open: Vec<usize>,
    later: Vec<RowView>,
}

impl Ahead {
    /// Works them out for an event, by position.
    pub fn of(analysis: &Analysis, event: usize) -> Ahead {
        let ((due, open), later) =
            rayon::join(|| view::Due::in_matrix_order(analysis, event), || later(analysis, event));
        Ahead { due, open, later }
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

/// Rows by what they have to do with: the hash of that, and the position, in this order. No name is copied for it; whoever looks
/// something up compares the names of the rows that it finds.
#[derive(Debug)]
struct Index(Vec<(u64, usize)>);

impl Index {
    fn of(before: &[RowView], later: &[RowView]) -> Index {
        let of_row = |(at, row): (usize, &RowView)| {
            let mut keys = vec![hash(About::Requirement, &row.requirement), hash(About::Subject, &row.subject)];
            keys.extend(row.procedure.iter().map(|procedure| hash(About::Procedure, procedure)));
            keys.extend(row.records.iter().map(|record| hash(About::Record, record)));
            keys.into_iter().map(move |key| (key, at))
        };
        let mut all: Vec<(u64, usize)> =
            before.par_iter().chain(later).enumerate().with_min_len(256).flat_map_iter(of_row).collect();
        all.par_sort_unstable();
        all.dedup();
        Index(all)
    }

    fn of_hash(&self, hash: u64) -> impl Iterator<Item = usize> {
        let from = self.0.partition_point(|(own, _)| *own < hash);
        self.0[from..].iter().take_while(move |(own, _)| *own == hash).map(|(_, at)| *at)
    }
}

fn hash(about: About, name: &str) -> u64 {
    FixedState::default().hash_one((about, name))
}

impl About {
    /// Whether a row has to do with this name in this way.
    fn is_of(self, row: &RowView, name: &str) -> bool {
        match self {
            About::Requirement => row.requirement == name,
            About::Subject => row.subject == name,
            About::Procedure => row.procedure.as_deref() == Some(name),
            About::Record => row.records.iter().any(|record| record == name),
        }
    }
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
