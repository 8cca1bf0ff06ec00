//! Decisions: dated choices.

use crate::parse::Moment;
use crate::text::Spanned;

use super::shared::word_of;
use super::{Entity, Head, Raw};
use crate::id::Id;

/// A dated choice that selects or drops options and adds, revises, withdraws or keeps requirements.
#[derive(Clone, Debug)]
pub struct Decision {
    /// Id, title and place.
    pub head: Head,
    /// When.
    pub date: Option<Spanned<Moment>>,
    /// Accepted or proposed.
    pub status: DecisionStatus,
    /// Options chosen.
    pub selects: Vec<Spanned<Id>>,
    /// Options given up.
    pub drops: Vec<Spanned<Id>>,
    /// Requirements added.
    pub adds: Vec<Spanned<Id>>,
    /// Requirements changed.
    pub revises: Vec<Spanned<Id>>,
    /// Things no longer in force.
    pub withdraws: Vec<Spanned<Id>>,
    /// Requirements looked at and deliberately left alone.
    pub keeps: Vec<Spanned<Id>>,
}

/// Whether a decision is in force.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DecisionStatus {
    /// In force.
    Accepted,
    /// Under discussion.
    Proposed,
}

const STATUSES: &[(&str, DecisionStatus)] =
    &[("accepted", DecisionStatus::Accepted), ("proposed", DecisionStatus::Proposed)];

impl DecisionStatus {
    /// The word in files.
    pub fn word(self) -> &'static str {
        word_of(STATUSES, self)
    }
}

/// Reads a decision.
pub fn read(raw: Raw<'_>) -> Entity {
    let Raw { reader, head, .. } = raw;
    if !reader.has("date") {
        reader.missing("date");
    }
    let decision = Decision {
        date: reader.date("date"),
        status: reader.choice("status", STATUSES).map_or(DecisionStatus::Accepted, |word| word.value),
        selects: reader.ids("selects"),
        drops: reader.ids("drops"),
        adds: reader.ids("adds"),
        revises: reader.ids("revises"),
        withdraws: reader.ids("withdraws"),
        keeps: reader.ids("keeps"),
        head,
    };
    reader.finish(&[]);
    Entity::Decision(Box::new(decision))
}
