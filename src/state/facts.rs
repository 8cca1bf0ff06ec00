//! What the state of a project rests on.

use jiff::civil::Date;

use crate::computed::Computed;
use crate::diag::Switch;
use crate::graph::TraceGraph;
use crate::model::Model;
use crate::model::kinds::Requirement;

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
    /// What calculations and reductions come to.
    pub computed: &'a Computed,
    /// Every result held against its criterion.
    pub judgements: &'a Judgements,
    /// The day on which the question is asked.
    pub today: Date,
    /// For tests only.
    pub switch: Switch,
}

impl<'a> Facts<'a> {
    /// The requirement that a record names at a position of what it verifies, if there is one of that name.
    pub fn verified(&self, record: usize, which: usize) -> Option<&'a Requirement> {
        self.graph.verified.get(record, which).map(|at| &*self.model.requirements[at])
    }
}

/// What became of a file beside a record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum AttachmentState {
    /// Its bytes are those that were signed for, but perhaps for the ends of its lines.
    Unchanged,
    /// It is not there, or cannot be read; why.
    Missing(String),
    /// It is not there, but a pointer of Git LFS to a file of so many bytes.
    Pointer(u64),
    /// Its bytes have another hash, given in hex.
    Altered(String),
}

/// What to type for the file that a pointer stands for.
pub const FETCH: &str = "fetch it: git lfs install, then git lfs pull";

/// That a pointer of Git LFS is there and no file.
pub fn pointer_words(bytes: u64) -> String {
    format!("a pointer of Git LFS is there, and not the file of {bytes} bytes that it stands for")
}
