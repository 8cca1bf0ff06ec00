//! The project as it would stand after a change that nobody has made.
//!
//! The change is made to a copy of the model; graph, judgements and states then come from the same code as those of
//! the files, so that what would happen and what does happen cannot be told by two sets of rules.

use std::sync::Arc;

use jiff::civil::Date;

use crate::computed::Computed;
use crate::config::Event;
use crate::graph::TraceGraph;
use crate::model::kinds::{Head, HeldEvent, ItemStatus, Outcome};
use crate::model::{Id, Model, SerialId};
use crate::parse::Moment;
use crate::state::judge::Judgements;
use crate::state::{self, Facts, Row};
use crate::text::Spanned;

use super::Analysis;

/// A project with something in it changed, in memory only.
pub struct Supposed<'a> {
    analysis: &'a Analysis,
    model: Model,
    graph: TraceGraph,
    computed: Arc<Computed>,
    judgements: Judgements,
}

impl Analysis {
    /// The project with a change made to its model. The change may alter things and add records and held events after the last one, but
    /// not remove or reorder anything: positions in the lists, such as those of the attachments' states, stay those of the
    /// files.
    pub fn suppose(&self, change: impl FnOnce(&mut Model)) -> Supposed<'_> {
        let mut model = self.model.clone();
        change(&mut model);
        let graph = TraceGraph::build(&model);
        let computed = match Computed::rests_on_the_same(&self.model, &model) {
            true => Arc::clone(&self.computed),
            false => Arc::new(Computed::of(&model, &self.tables)),
        };
        let none = Judgements::default();
        let facts = Facts { model: &model, graph: &graph, computed: &computed, judgements: &none, ..self.facts() };
        let judgements = Judgements::of(&facts);
        Supposed { analysis: self, model, graph, computed, judgements }
    }

    /// The project with this option current in its slot, and every other one a candidate.
    ///
    /// What evidence there is on an option that is dropped, or not chosen, is judged in this way without counting for anything.
    pub fn with_option(&self, item: usize) -> Supposed<'_> {
        self.suppose(|model| {
            let slot = model.items[item].fills.as_ref().map(|slot| slot.value.clone());
            for (at, other) in model.items.iter_mut().enumerate() {
                if at == item {
                    other.status = ItemStatus::Current;
                } else if slot.is_some()
                    && other.fills.as_ref().map(|own| &own.value) == slot.as_ref()
                    && other.status == ItemStatus::Current
                {
                    other.status = ItemStatus::Candidate;
                }
            }
        })
    }
}

/// An event that is held and completed with these pieces.
pub(super) fn held(event: &Event, serials: Vec<Spanned<SerialId>>, day: Date) -> HeldEvent {
    let span = event.name.span;
    let id = Spanned::new(Id::new("supposed"), span);
    HeldEvent {
        head: Head { id, title: String::new(), file: span.file, fence: span, body: span },
        event: Some(event.name.clone()),
        date: Some(Spanned::new(Moment::day(day), span)),
        serials,
        procedure: None,
        outcome: Some(Spanned::new(Outcome::Completed, span)),
        uses: Vec::new(),
        note: None,
    }
}

impl Supposed<'_> {
    /// What states and checks of it are computed from.
    pub fn facts(&self) -> Facts<'_> {
        let (model, graph, judgements) = (&self.model, &self.graph, &self.judgements);
        Facts { model, graph, computed: &self.computed, judgements, ..self.analysis.facts() }
    }

    /// The states of all rows, as [`Analysis::rows`].
    pub fn rows(&self, asked: Option<usize>) -> Vec<Row> {
        state::derive(&self.facts(), asked)
    }
}
