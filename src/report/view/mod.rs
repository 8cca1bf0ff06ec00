//! Views: what reports show, as plain data in its final order.
//!
//! Field names are the JSON's: scripts are written against them. More may be added, none renamed.

mod before;
mod calc;
mod carried;
pub mod changelog;
mod changes;
mod closers;
mod concepts;
mod explain;
mod finding;
mod groups;
mod history;
mod impact;
mod known;
mod lapsing;
mod later;
mod life;
mod next;
mod prerequisites;
mod product;
mod row;
mod sheet;
mod show;
mod since;
mod summary;
mod templates;
mod trace;
mod trend;
mod verify;
mod words;
mod worked;

pub use before::{
    BeforeView, Due, NonconformanceView, VerdictWord, WaiverView, WithdrawnView, before, before_counts, before_open,
    with_due,
};
pub use calc::{
    Answer, CalcView, ContributionView, HistogramView, MistakeView, ResultView, TrialsView, WorkingView, mistakes,
    typed,
};
pub use carried::Carried;
pub use changelog::Said;
pub use changes::{
    ChangeView, ChangesView, CommitView, CriterionChangeView, DecidedView, EvidenceView, FromTo, PutBackView,
    RedoRowView, RedoView, UndoneRowView, UndoneView, UnreadableView, changes,
};
pub use closers::{ClosedBy, Closer, DRAFT, closers, procedures};
pub use concepts::{
    AskedView, CellView, ChoiceView, ComparedView, ConceptsView, DiscoveredView, FailedView, OptionView, ShownView,
    ToShowView, concepts, slots,
};
pub use explain::{SORTS, TopicView, explain, topics};
pub use finding::{CheckView, Excerpt, FindingView, PlaceView, class_shown};
pub(in crate::report) use groups::name as group_name;
pub use groups::{GroupBy, GroupView};
pub use history::{
    EditedView, EventStateView, HistoryView, RevisionEvidence, RevisionSlipped, RevisionView, RevisionsView,
    event_states, history, history_to_be,
};
pub use impact::{
    AgainView, EventView, ImpactView, KeepsView, KeptView, MovedView, NamedView, StillView, SupposedView, impact,
};
pub use known::KnownView;
pub use lapsing::LapsingView;
pub use later::LaterView;
pub use life::{HoldingView, LifeUse, LifeView, holding, lives};
pub use next::{ClosedView, LeftView, NextView, StepView, next};
pub use product::{PartView, ProductView, product};
pub use row::{BriefRow, CriterionView, MatrixView, ReasonView, RowView, ToDo, matrix, matrix_by_requirement, to_do};
pub use sheet::{LOCAL, SheetField, SheetView, sheet};
pub use show::{Detail, Link, ShowView, ShownCriterion, ShownEntry, names, show, tell_edits};
pub(in crate::report) use show::{calibrated, touched};
pub use since::{Point, SinceRow, SinceView, since};
pub use templates::{TemplateView, TemplatesView, templates};
pub use trace::{RowsOf, TraceLine, TraceNode, TraceView, trace};
pub use trend::{TrendPoint, TrendView, trend};
pub use verify::{AgainMadeView, FilesView, MadeFromView, VerifyView};
pub use worked::{Beside, SolvedView, WorkedInput, WorkedReduction, WorkedVerdict, WorkedView, worked};

use serde::Serialize;

use crate::analysis::Analysis;
use crate::source::Origin;

/// What every view says of where it came from.
#[derive(Clone, Debug, Serialize)]
pub struct Heading {
    /// The program's version.
    pub slipmark: &'static str,
    /// The project's name.
    pub project: String,
    /// The commit that is checked out or asked about.
    pub commit: Option<String>,
    /// Whether every file is as that commit holds it.
    pub clean: bool,
    /// How many are not.
    pub uncommitted: usize,
    /// The day on which the question is asked.
    pub today: String,
}

impl Heading {
    /// From an analysis.
    pub fn of(analysis: &Analysis) -> Heading {
        let (commit, uncommitted) = match &analysis.origin {
            Origin::WorkTree { head, uncommitted } => (head.as_ref().map(ToString::to_string), *uncommitted),
            Origin::Commit { oid, .. } => (Some(oid.to_string()), 0),
            Origin::Memory => (None, 0),
        };
        Heading {
            slipmark: env!("CARGO_PKG_VERSION"),
            project: analysis.model.config.name.clone(),
            clean: uncommitted == 0 && commit.is_some(),
            commit,
            uncommitted,
            today: analysis.request.today.to_string(),
        }
    }
}
