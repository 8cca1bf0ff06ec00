//! What the state of a project rests on.

use jiff::civil::Date;

use crate::diag::Switch;
use crate::graph::TraceGraph;
use crate::model::Model;

use super::judge::Judgements;

/// Everything that states and checks are computed from.
#[derive(Clone, Copy)]
pub struct Facts<'a> {
    /// The project.
    pub model: &'a Model,
    /// What hangs from what.
    pub graph: &'a TraceGraph,
    /// For each record, each of its attachments.
    pub attachments: &'a [Vec<AttachmentState>],
    /// Every result held against its criterion.
    pub judgements: &'a Judgements,
    /// The day on which the question is asked.
    pub today: Date,
    /// For tests only.
    pub switch: Switch,
}

/// What became of a file beside a record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum AttachmentState {
    /// Its bytes are those that were signed for.
    Unchanged,
    /// It is not there, or cannot be read; why.
    Missing(String),
    /// Its bytes have another hash, given in hex.
    Altered(String),
}
