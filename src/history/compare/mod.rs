//! What differs between two versions of one thing, and in which direction.
//!
//! In: two versions, from files or from a commit. Out: differences in words, each with whether less is asked. The guard
//! shows those that ask less, `changes` and `history` show all; so that the two cannot disagree.

pub(super) mod calendar;
pub(super) mod criteria;
pub(super) mod plan;
pub(super) mod requirement;

/// One difference.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Difference {
    /// In a few words, without the id.
    pub(super) text: String,
    /// Whether less is asked, or may be.
    pub(super) less: bool,
}

impl Difference {
    /// Something that asks less, or may.
    pub(super) fn less(text: impl Into<String>) -> Difference {
        Difference { text: text.into(), less: true }
    }

    /// Something that asks no less.
    pub(super) fn other(text: impl Into<String>) -> Difference {
        Difference { text: text.into(), less: false }
    }
}
