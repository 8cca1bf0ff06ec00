//! What git knows: what has left, what is asked less, what changed and why.
//!
//! In: a repository and analyses of commits. Out: the [`Guard`] (what must not leave silently), [`Changes`] between two
//! points, and the [`Revisions`] of one thing. Things are matched by id, never by file; nothing is ordered by date.

mod blobs;
mod changes;
mod commits;
mod compare;
mod guard;
mod keys;
mod less;
mod past;
mod range;
mod recall;
mod revisions;
mod then;
mod vanished;
mod versions;
mod words;

#[cfg(test)]
mod tests;

pub use changes::{Change, Changes, CommitRef, changes, project_at};
pub use commits::UnreadableFile;
pub use compare::criteria::{CriterionChange, Direction};
pub use guard::{Baseline, Guard, LessAsked, Look, guard};
pub use keys::{KeyChange, Presence};
pub use range::{Range, RangeError, WORK_TREE, range};
pub use recall::{Recalled, recall};
pub use revisions::{Happened, Revision, Revisions, held_ids, revisions, revisions_of};
pub use versions::{Between, ChangeKind};
pub use words::{Piece, compare as word_by_word};
