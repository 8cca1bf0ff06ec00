//! What is told of the changes between two points.

use crate::git::{CommitInfo, Oid};
use crate::history::commits::UnreadableFile;
use crate::history::evidence::{Evidence, Redo};
use crate::history::range::Range;
use crate::history::versions::Between;

use super::undone::Undone;

/// What changed between two points in history.
#[derive(Clone, Debug)]
pub struct Changes {
    /// The two points.
    pub range: Range,
    /// Every thing that changed: requirements first, each kind by id.
    pub list: Vec<Change>,
    /// What was touched in between and is as it was, by id.
    pub put_back: Vec<PutBack>,
    /// What must be done again because evidence was undone, by what would show it.
    pub redo: Vec<Redo>,
    /// What does not stand any more, and no one change is behind.
    pub undone: Vec<Undone>,
    /// The commits in between, oldest first.
    pub commits: Vec<CommitRef>,
    /// Files that either point holds, or a commit in between left, unreadable: what they said is not in the list.
    pub unreadable: Vec<UnreadableFile>,
    /// Commits whose parents a shallow clone has cut off: what they changed cannot be told.
    pub cut_off: Vec<CommitRef>,
    /// What is to be known about the history that was read, in sentences.
    pub cautions: Vec<String>,
    /// Decisions that the changes name, as the later point has them, or else the earlier one.
    pub decided: Vec<DecidedBy>,
}

/// What happened to one thing.
#[derive(Clone, Debug)]
pub struct Change {
    /// Its id; of a settings file, its name.
    pub id: String,
    /// Its kind.
    pub kind: String,
    /// Its title.
    pub title: String,
    /// Whether people depend on it, then or now.
    pub safety: bool,
    /// What a requirement applies to, in words.
    pub applies_to: Option<String>,
    /// Its file then.
    pub path_from: Option<String>,
    /// Its file now.
    pub path_to: Option<String>,
    /// What differs.
    pub between: Between,
    /// Parameters that moved its limits.
    pub parameters: Vec<MovedParameter>,
    /// The commits that touched it, oldest first.
    pub commits: Vec<CommitRef>,
    /// Whether the last of it is not committed.
    pub uncommitted: bool,
    /// The decisions that those commits name, or that name it.
    pub decisions: Vec<String>,
    /// What accounts for it if it is gone.
    pub accounted: Option<String>,
    /// Signed evidence whose mark lined up and does not any more.
    pub evidence: Vec<Evidence>,
    /// What else does not stand any more because of it.
    pub undone: Vec<Undone>,
}

/// What was touched in between and is as it was.
#[derive(Clone, Debug)]
pub struct PutBack {
    /// Its id; in a settings file, with the file before it.
    pub id: String,
    /// Its kind.
    pub kind: String,
    /// Its title.
    pub title: String,
    /// Whether it is there at neither point: it came and went.
    pub came_and_went: bool,
    /// The commits that touched it, oldest first.
    pub commits: Vec<CommitRef>,
    /// Signed evidence that carries a mark which it only had in between.
    pub evidence: Vec<Evidence>,
}

/// A parameter that moved a limit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MovedParameter {
    /// Its name.
    pub name: String,
    /// Its value then; none: it was not there.
    pub from: Option<String>,
    /// Its value now.
    pub to: Option<String>,
}

/// A decision that changes name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DecidedBy {
    /// Its id.
    pub id: String,
    /// Its title; none: no file of either point has this id.
    pub title: Option<String>,
    /// Its day.
    pub date: Option<String>,
    /// What it says, as written.
    pub body: String,
}

/// A commit, as far as people want to know.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CommitRef {
    /// Its id.
    pub oid: Oid,
    /// Its author's date, where the author was.
    pub date: String,
    /// What it says of itself.
    pub summary: String,
    /// Why, as far as it says so.
    pub reason: Option<String>,
}

impl CommitRef {
    /// From git's facts.
    pub(in crate::history) fn of(commit: &CommitInfo) -> CommitRef {
        CommitRef {
            oid: commit.oid,
            date: commit.author_date.to_string(),
            summary: commit.summary.clone(),
            reason: commit.reason.clone(),
        }
    }
}
