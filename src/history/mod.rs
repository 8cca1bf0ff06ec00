//! What git knows: what has left, what is asked less, what changed and why.
//!
//! In: a repository and analyses of commits. Out: the [`Guard`] (what must not leave silently), [`Changes`] between two
//! points, the [`Revisions`] of one thing, and
//! the [`Trend`] before an event. Things are matched by id, never by file; nothing is ordered by date.

mod account;
mod alike;
mod blobs;
mod changes;
mod commits;
mod compare;
mod copied;
mod course;
mod drafts;
mod ends;
mod evidence;
mod folder;
mod glance;
mod guard;
mod keys;
mod leaf;
mod learnt;
mod less;
mod merges;
mod own;
mod past;
mod places;
mod progress;
mod range;
mod recall;
mod revisions;
mod then;
mod trail;
mod trend;
mod unread;
mod vanished;
mod versions;
mod words;

#[cfg(test)]
mod tests;

pub use account::{Account, Edited, LostFailure, Replaced, TakenBack, account};
pub use changes::{
    Change, Changes, CommitRef, DecidedBy, MovedParameter, PutBack, Undone, UndoneRow, changes, differences, project_at,
};
pub use commits::UnreadableFile;
pub use compare::criteria::{CriterionChange, Direction, SideChange};
pub use evidence::{Evidence, Redo, RedoRow, StillOf};
pub use folder::{look_back, look_back_from_disk, revision};
pub use guard::{Baseline, Guard, LessAsked, Look, guard};
pub use keys::{KeyChange, Presence};
pub use learnt::{keep, take_up};
pub use progress::Progress;
pub use range::{Range, RangeError, WORK_TREE, range};
pub use recall::{Recalled, recall};
pub use revisions::{EditedAfter, Happened, Revision, Revisions, held_ids, revisions, revisions_of, taken_ids};
pub use trend::{Asked, Counts, MOST_POINTS, Pace, Point, Stood, Trend, trend};
pub use versions::{Between, ChangeKind};
pub use words::{Piece, compare as word_by_word, compare_around as around_changes};
