//! One file for each kind of thing a project can hold: its type, and how it is read from front matter.
//!
//! To add a kind: a file here with a type and a `read`, a line in [`KINDS`], a variant of [`Entity`]. To add a key: a
//! field with its meaning in the kind's type, and one line in its `read`.

pub mod calculation;
pub mod decision;
pub mod departure;
pub mod held;
pub mod item;
pub mod procedure;
pub mod record;
pub mod requirement;
pub mod shared;

pub use crate::config::KeepsEvidence;
pub use calculation::{Calculation, Correlation, Input, ONE_WAY, ReductionText};
pub use decision::{Decision, DecisionStatus};
pub use departure::{Disposition, Nonconformance, NonconformanceStatus, Relief, Waiver, WaiverStatus};
pub use held::{HeldEvent, Outcome};
pub use item::{
    Budget, Content, Counted, Item, ItemStatus, Revision, Rework, Serial, SerialUse, Slot, is_earlier_revision,
};
pub use procedure::{Accuracy, Expected, Feed, Field, Procedure, ProcedureStatus, Step};
pub use record::{Action, Attachment, Deviation, Reaffirmation, Record, RecordStatus, ResultText, Verifies};
pub use requirement::{
    AppliesTo, ByChildren, Condition, Criterion, Expectation, Limit, LimitValue, On, PlanEntry, Requirement,
    RequirementStatus, Share,
};
pub use shared::{Method, Stage};

use std::sync::Arc;

use crate::parse::Reader;
use crate::text::{FileId, Span, Spanned};

use crate::id::Id;

/// What every kind has.
#[derive(Clone, Debug)]
pub struct Head {
    /// Its id.
    pub id: Spanned<Id>,
    /// Its title.
    pub title: String,
    /// The file it stands in.
    pub file: FileId,
    /// The opening fence of its front matter: where to blame what is missing, and where to insert.
    pub fence: Span,
    /// Its body, after the front matter.
    pub body: Span,
}

/// One thing of the project.
#[derive(Clone, Debug)]
pub enum Entity {
    /// A requirement.
    Requirement(Arc<Requirement>),
    /// An analysis, test, inspection or demonstration.
    Record(Arc<Record>),
    /// A product-tree node.
    Item(Box<Item>),
    /// A place that options could fill.
    Slot(Box<Slot>),
    /// A procedure.
    Procedure(Box<Procedure>),
    /// A decision.
    Decision(Box<Decision>),
    /// A nonconformance.
    Nonconformance(Box<Nonconformance>),
    /// A waiver.
    Waiver(Box<Waiver>),
    /// A held event.
    Held(Box<HeldEvent>),
}

impl Entity {
    /// What every kind has.
    pub fn head(&self) -> &Head {
        match self {
            Entity::Requirement(it) => &it.head,
            Entity::Record(it) => &it.head,
            Entity::Item(it) => &it.head,
            Entity::Slot(it) => &it.head,
            Entity::Procedure(it) => &it.head,
            Entity::Decision(it) => &it.head,
            Entity::Nonconformance(it) => &it.head,
            Entity::Waiver(it) => &it.head,
            Entity::Held(it) => &it.head,
        }
    }

    /// The word for its kind, as files write it.
    pub fn kind(&self) -> &'static str {
        match self {
            Entity::Requirement(_) => "requirement",
            Entity::Record(it) => it.method.word(),
            Entity::Item(_) => "item",
            Entity::Slot(_) => "slot",
            Entity::Procedure(_) => "procedure",
            Entity::Decision(_) => "decision",
            Entity::Nonconformance(_) => "nonconformance",
            Entity::Waiver(_) => "waiver",
            Entity::Held(_) => "event",
        }
    }
}

/// What a kind's reader is handed.
pub struct Raw<'r> {
    /// The front matter.
    pub reader: Reader<'r>,
    /// Id, title and place.
    pub head: Head,
    /// The body, read.
    pub body: crate::parse::Body,
    /// The body's text.
    pub text: &'r str,
    /// Where the body starts in the file.
    pub body_at: usize,
    /// For records: the canonical text's digest, computed from the same table.
    pub seal: String,
}

/// One kind: its word in files, and how it is read.
pub struct Kind {
    /// The word after `kind =`.
    pub word: &'static str,
    /// What it is, in one line.
    pub summary: &'static str,
    /// Reads it.
    pub read: fn(Raw<'_>) -> Entity,
}

/// Every kind, in the order in which the guide explains them.
pub const KINDS: &[Kind] = &[
    Kind { word: "requirement", summary: "one thing with its criteria and plan", read: requirement::read },
    Kind { word: "analysis", summary: "evidence: shown by calculation or similarity", read: record::read_analysis },
    Kind { word: "test", summary: "evidence: run under controlled conditions and measured", read: record::read_test },
    Kind {
        word: "inspection",
        summary: "evidence: looked at or gauged without operating",
        read: record::read_inspection,
    },
    Kind { word: "demonstration", summary: "evidence: operated and observed", read: record::read_demonstration },
    Kind { word: "item", summary: "a product-tree node", read: item::read },
    Kind { word: "slot", summary: "a place that competing concepts could fill", read: item::read_slot },
    Kind { word: "procedure", summary: "how evidence is made", read: procedure::read },
    Kind { word: "decision", summary: "a dated choice", read: decision::read },
    Kind { word: "nonconformance", summary: "a departure found on hardware", read: departure::read_nonconformance },
    Kind { word: "waiver", summary: "an approved, limited permission to depart", read: departure::read_waiver },
    Kind { word: "event", summary: "an event that was held: when, with which pieces, how it ended", read: held::read },
];
